"""A guided session without a terminal: answers come from a list or a rule, and what is shown is kept as text."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta, timezone
from pathlib import Path

from diagnose.commands.common import say
from diagnose.commands.session import fingerprint
from diagnose.errors import DiagnoseError
from diagnose.knowledge.book import Book
from diagnose.record.store import Record, Stored
from diagnose.session.questions import Question
from diagnose.session.sitting import Sitting
from diagnose.show.layout import Page
from diagnose.show.questionpage import Paged

ROOT = Path(__file__).parents[2]
START = datetime(2026, 5, 1, 8, 0, tzinfo=timezone.utc)

Policy = Callable[[Question], str | None]


@dataclass
class Talk(Paged):
    """A screen that answers by a policy; `shown` is all that was printed, `asked` every question in order."""

    policy: Policy
    width: int = 60
    shown: list[str] = field(default_factory=list)
    asked: list[Question] = field(default_factory=list)
    sitting: Sitting | None = None

    def show(self, page: Page) -> None:
        """Keep a page."""
        self.shown.append(page.text())

    def fault(self, error: DiagnoseError) -> None:
        """An error goes to stderr."""
        say(error)

    def ask(self) -> str | None:
        """The next answer."""
        assert self.sitting is not None
        question = self.sitting.question
        assert question is not None
        self.asked.append(question)
        return self.policy(question)

    @property
    def text(self) -> str:
        """Everything shown."""
        return "".join(self.shown)


class Clock:
    """A clock that goes on by a minute at every look."""

    def __init__(self, start: datetime = START, step: timedelta = timedelta(minutes=1)) -> None:
        self.now, self.step = start, step

    def __call__(self) -> datetime:
        """The moment, one step later than the last."""
        self.now += self.step
        return self.now


def healthy(question: Question) -> str | None:
    """An answer to any question by which the session goes on to its end, and all that is looked at is healthy."""
    by_kind = {"opening": "nothing", "also": "nothing", "engine": "1", "since": "0", "reading": "1", "trip": "l", "symptom": "0",
               "unit": "1", "cool": "1", "when": "1", "revs": "2500", "which": "1", "measurand": "l",
               "between": "not at all", "settled": "1", "ago": "u", "end": None}
    if question.kind == "fact":
        return "1" if question.choices else "u"
    return question.choices[0].key if question.kind == "gate" else by_kind[question.kind]


def leaving(_: Question) -> str | None:
    """Leaves at any question."""
    return "q"


def first(*answers: str, then: Policy = healthy) -> Policy:
    """These answers in order, then by another rule."""
    left = list(answers)
    return lambda question: left.pop(0) if left else then(question)


def at(question: str, *answers: str, then: Policy = healthy) -> Policy:
    """By the rule, until a question of this kind or about this comes; then these answers, and by the rule again."""
    left = list(answers)
    begun = False

    def policy(asked: Question) -> str | None:
        nonlocal begun
        begun = begun or question in (asked.kind, asked.about, asked.about.partition("@")[0])
        return left.pop(0) if begun and left else then(asked)

    return policy


def talk(book: Book, path: Path, policy: Policy, *, boat: str = "Brindle", width: int = 60, words: str = "",
         clock: Callable[[], datetime] | None = None) -> Talk:
    """A whole new session on a record."""
    screen = Talk(policy, width)
    with Record.open(path) as record:
        screen.sitting = Sitting(book, record, boat, screen, fingerprint, clock=clock or Clock())
        screen.sitting.run(words)
    return screen


def go_on(book: Book, path: Path, policy: Policy, *, width: int = 60, clock: Callable[[], datetime] | None = None) -> Talk:
    """Go on with the last session of a record."""
    screen = Talk(policy, width)
    with Record.open(path) as record:
        head = record.cases()[-1]
        screen.sitting = Sitting(book, record, head.boat, screen, fingerprint, clock=clock or Clock(START + timedelta(hours=1)))
        screen.sitting.go_on(head)
    return screen


def log(path: Path) -> tuple[Stored, ...]:
    """All entries of a record."""
    with Record.open(path, read_only=True) as record:
        return record.entries()


def kinds(path: Path) -> list[str]:
    """The kinds of all entries that stand."""
    return [s.entry.kind for s in log(path) if not s.taken_back]


def command(arguments: Sequence[str | Path], typed: str = "", **environment: str) -> subprocess.CompletedProcess[str]:
    """`diagnose` with these arguments and a pipe to type into."""
    return subprocess.run([sys.executable, "-m", "diagnose", *map(str, arguments)], input=typed, capture_output=True, text=True,
                          encoding="utf-8", cwd=ROOT, timeout=120, env={**os.environ, "PYTHONIOENCODING": "utf-8", **environment})
