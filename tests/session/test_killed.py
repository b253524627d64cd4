"""Killed at any moment: every answer that was followed by another question is in the record, and the session goes on from there."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
import traceback
import warnings
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from talk import ROOT, Talk, command, healthy, talk

from diagnose.commands.session import fingerprint
from diagnose.knowledge.book import Book
from diagnose.record.entries import BoatEntry, EngineStateEntry, Entry, MovedOn, Note, Observed
from diagnose.record.store import Record
from diagnose.session.questions import Question
from diagnose.session.sitting import Sitting

KILLS = 300
WORDS = "brown crust below the pulley, no steam"


@dataclass
class Told(Talk):
    """A screen that tells the parent what is typed, before it is typed: the question after it says that it was taken."""

    to: int = -1
    dice: random.Random = field(default_factory=random.Random)
    count: int = 0

    def ask(self) -> str | None:
        """The next answer, or a note of its own now and then."""
        assert self.sitting is not None
        question = self.sitting.question
        assert question is not None
        self.count += 1
        typed = self.answer(question)
        os.write(self.to, (json.dumps([question.kind, question.about, typed]) + "\n").encode())
        return typed

    def answer(self, question: Question) -> str | None:
        """Healthy or not by the dice; a note with a text of its own between the answers."""
        if self.dice.random() < 0.3 and question.kind not in ("opening", "also"):
            return f"n note {os.getpid()} {self.count}"
        if question.kind == "opening":
            return WORDS
        if question.kind == "symptom" and question.free != "number":
            return self.dice.choice([c.key for c in question.choices])
        if question.kind == "end":
            return "change 5" if self.dice.random() < 0.5 else None
        return healthy(question)


def child(book: Book, path: Path, to: int, seed: int) -> None:
    """A session, begun or gone on with, until its end."""
    screen = Told(healthy, to=to, dice=random.Random(seed))
    with Record.open(path) as record:
        cases = record.cases()
        screen.sitting = Sitting(book, record, "Tern", screen, fingerprint)
        if cases:
            screen.sitting.go_on(cases[-1])
        else:
            screen.sitting.run("")


def start(book: Book, path: Path, seed: int) -> tuple[int, int]:
    """A child with a session, and the pipe it tells its answers through."""
    read, write = os.pipe()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # threads of the numerics library are idle here
        pid = os.fork()
    if pid == 0:
        os.close(read)
        status = 1
        try:
            child(book, path, write, seed)
            status = 0
        except BaseException:
            traceback.print_exc()
            raise
        finally:
            os._exit(status)
    os.close(write)
    return pid, read


def heard(pipe: int, until: int) -> list[list[str]]:
    """What the child typed, up to so many answers or to its end."""
    text = b""
    while text.count(b"\n") < until:
        more = os.read(pipe, 4096)
        if not more:
            break
        text += more
    return [json.loads(line) for line in text.decode().splitlines() if line.endswith("]")]


def is_there(entries: list[Entry], kind: str, about: str, typed: str | None, book: Book) -> bool:
    """Whether an answer that was taken is in the log."""
    if typed is None or typed.startswith("change"):
        return True
    if typed.startswith("n "):
        return any(isinstance(e, Note) and e.text == typed[2:] for e in entries)
    if kind == "symptom":
        name, _, state = about.partition("@")
        seen = [e.observation for e in entries if isinstance(e, Observed)]
        return list(book.symptoms[name].grades)[int(typed)] in [o.grade for o in seen if (o.symptom, o.state) == (name, state)]
    if kind == "fact":
        return any(isinstance(e, BoatEntry) and about in e.arrangement for e in entries)
    if kind in ("engine", "gate"):
        return any(isinstance(e, EngineStateEntry) for e in entries)
    if kind == "cool":
        return any(isinstance(e, EngineStateEntry) and e.state == "cold-stopped" for e in entries)
    if kind == "trip":
        return any(isinstance(e, MovedOn) and e.to == "past trip" for e in entries)
    return {"opening": "words", "reading": "words", "since": "moved-on", "settled": "moved-on"}[kind] in [e.kind for e in entries]  # type: ignore[attr-defined]


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork to kill many sessions quickly")
def test_killed_at_random_points_nothing_taken_is_lost(tiny_book: Book, tmp_path: Path) -> None:
    """Some hundreds of kills, at random moments of a few whole sessions that are gone on with after each: all that was taken is
    there, in a record that is sound, and the session comes to its end."""
    dice, kills, ended, whole = random.Random(20260501), 0, 0, 0
    talk(tiny_book, tmp_path / "warm.sqlite3", healthy, words=WORDS)  # what is made once from a book is made before the forks
    path, taken = tmp_path / "0.sqlite3", list[list[str]]()
    while kills < KILLS:
        pid, pipe = start(tiny_book, path, dice.randrange(1 << 30))
        given = heard(pipe, dice.randint(1, 6))
        time.sleep(dice.random() * 0.012)
        os.kill(pid, signal.SIGKILL)
        given += heard(pipe, 1 << 30)
        os.close(pipe)
        status = os.waitpid(pid, 0)[1]
        assert os.WIFSIGNALED(status) or os.WEXITSTATUS(status) == 0
        kills += os.WIFSIGNALED(status)
        taken += given[:-1]  # the last one may have been on its way
        with Record.open(path) as record:
            entries = [s.entry for s in record.entries()]
            for kind, about, typed in taken:
                assert is_there(entries, kind, about, typed, tiny_book), (kind, about, typed)  # type: ignore[arg-type]
            ended += any(e.kind == "assessed" for e in entries)
        if not os.WIFSIGNALED(status) or len(taken) > 60:
            whole += 1
            with Record.open(path) as record:
                assert record.verify() == len(entries)
            path, taken = tmp_path / f"{whole}.sqlite3", []
    assert ended > 0
    assert whole > 3


@pytest.mark.slow
@pytest.mark.parametrize("after", [1, 3, 5])
def test_the_command_itself_killed_goes_on(after: int, tiny_rules: Path, tmp_path: Path) -> None:
    """The real program, killed while it waits for an answer: resume tells the question it stood at, with every answer before it."""
    path = tmp_path / "record.sqlite3"
    answers = ["brown crust below the pulley", "1", "1", "1", "l"]
    running = subprocess.Popen([sys.executable, "-m", "diagnose", "look", "--record", str(path), "--rules", str(tiny_rules)], cwd=ROOT,
                               stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, encoding="utf-8", env={**os.environ})
    assert running.stdin is not None
    assert running.stdout is not None
    for answer in answers[:after]:
        running.stdin.write(f"{answer}\n")
        running.stdin.flush()
    shown = ""
    while f"-- {after + 1} " not in shown:
        shown += running.stdout.read(1)
    running.kill()
    running.wait()
    running.stdin.close()
    running.stdout.close()
    done = command(["resume", "--record", path, "--rules", tiny_rules], "0\nanswers\nq\n")
    assert done.returncode == 0
    assert f"You were at question {after + 1}, " in done.stdout
    assert "ended without a word" in done.stdout
    assert "'brown crust below the pulley'" in done.stdout
