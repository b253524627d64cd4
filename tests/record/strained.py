"""Programs that the tests of the record start, to be killed, starved of room or locked out. The first argument says which.

They import everything first, so that what is strained is the record and not the start of the interpreter.
"""

from __future__ import annotations

import json
import os
import random
import resource
import signal
import sys
import time
from pathlib import Path

from diagnose.record import entries as e
from diagnose.record.fold import case_of
from diagnose.record.store import Record
from diagnose.record.trouble import RecordError

BOAT = "Brindle"


def answer(number: int, size: int = 20) -> e.Observed:
    """An answer that tells its number."""
    return e.Observed.model_validate(
        {"observation": {"symptom": "pump-weep", "grade": "drip", "note": f"{number} " + "x" * size, "state": "idle"}})


def case_in(record: Record) -> str:
    """The case of the record, opened if there is none."""
    heads = record.cases()
    if heads:
        return heads[0].id
    return str(record.append(e.CaseOpened(title="Drip", opened_because="routine-look"), boat=BOAT).case)


def killed(folder: str, rounds: str, seed: str) -> None:
    """Start a child that answers until it is killed, again and again; say what was acknowledged and is not there."""
    rng = random.Random(int(seed))
    lost = answers = 0
    states: set[str] = set()
    taken_over = 0
    for number in range(int(rounds)):
        path = Path(folder) / f"r{number // 40}.sqlite3"
        here, there = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(here)
            _answers_for_ever(path, there)
        os.close(there)
        heard = b""
        if rng.random() < 0.3:
            time.sleep(rng.random() * 0.06)  # while the record is opened and the case taken, mostly
        else:
            wanted = rng.randrange(1, 8)
            while heard.count(b"\n") < wanted:
                heard += os.read(here, 4096)
            time.sleep(rng.random() * 0.012)  # in the midst of an answer, mostly
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        with open(here, "rb") as pipe:
            acknowledged = [int(line) for line in (heard + pipe.read()).split(b"\n")[:-1]]
        answers += len(acknowledged)
        states.add("before the first answer" if not acknowledged else "between answers")
        if not path.exists():
            continue
        with Record.open(path) as record:
            kept = {s.id: s.entry for s in record.entries()}
            lost += sum(not isinstance(kept.get(n), e.Observed) for n in acknowledged)
            if number % 40 == 39:
                record.verify()
            if record.cases():
                case = case_in(record)
                assert not acknowledged or case_of(record, case).observations[0].note == kept[max(kept)].observation.note  # type: ignore[union-attr]
                with record.hold_case(case) as holding:
                    taken_over += holding.taken_over is not None
    say(lost=lost, answers=answers, states=sorted(states), taken_over=taken_over)


def _answers_for_ever(path: Path, out: int) -> None:
    with Record.open(path) as record:
        case = case_in(record)
        with record.hold_case(case):
            for number in range(10**9):
                stored = record.append(answer(number), boat=BOAT, case=case)
                os.write(out, f"{stored.id}\n".encode())


def starved(path: str, limit: str) -> None:
    """Answer until no file may grow over a limit any more; say what was acknowledged, and what was said then."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (int(limit), int(limit)))
    until_refused(Path(path))


def until_refused(path: Path, size: int = 2000) -> None:
    """Answer until the record refuses, at most a thousand times."""
    acknowledged: list[int] = []
    said = ""
    try:
        with Record.open(path) as record:
            case = case_in(record)
            for number in range(1000):
                acknowledged.append(record.append(answer(number, size), boat=BOAT, case=case).id)
    except RecordError as error:
        said = str(error)
    say(acknowledged=acknowledged, said=said)


def filled(path: str) -> None:
    """Answer until the disk is full, then see what is there, and make room and answer once more."""
    until_refused(Path(path), 4000)
    with Record.open(Path(path), read_only=True) as record:
        say(there=record.verify())
    (Path(path).parent / "ballast").unlink()
    with Record.open(Path(path)) as record:
        record.append(answer(0), boat=BOAT, case=case_in(record))
        say(there=record.verify())


def locked_out(*paths: str) -> None:
    """As somebody who may not write there: try to write, then read."""
    if os.geteuid() == 0:
        os.setgroups([])
        os.setgid(65534)
        os.setuid(65534)
    for path in paths:
        said = ""
        try:
            with Record.open(Path(path)) as record:
                record.append(e.Note(text="x"), boat=BOAT)
        except RecordError as error:
            said = str(error)
        with Record.open(Path(path), read_only=True) as record:
            say(**{path: [said, record.verify(), record.cases()[0].id]})


def appends(path: str, count: str, name: str) -> None:
    """Append notes as fast as can be."""
    with Record.open(Path(path)) as record:
        say(ids=[record.append(e.Note(text=f"{name} {i}"), boat=BOAT).id for i in range(int(count))])


def holds(path: str, case: str) -> None:
    """Hold a case until told to go on or killed."""
    with Record.open(Path(path)) as record, record.hold_case(case):
        say(pid=os.getpid())
        sys.stdin.readline()


def say(**what: object) -> None:
    """One line of JSON."""
    sys.stdout.write(json.dumps(what) + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    {f.__name__: f for f in (killed, starved, filled, locked_out, appends, holds)}[sys.argv[1]](*sys.argv[2:])  # type: ignore[operator]
