"""What is taken back while the work goes on: the last answer, or a task with all that was said of it; and since when a test runs."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from diagnose.doing.standing import WORKING, standing_of
from diagnose.record.entries import MovedOn, ProofMade, TaskTicked, WorkDone, WorkPlanned
from diagnose.record.store import Stored
from diagnose.work.results import Task

SEEN, TEST = f"{WORKING}seen ", f"{WORKING}test "
"""What the work went on to, where that was no answer: all that lay open is looked at, a test is begun."""
_OF_WORK = ("work-planned", "task-ticked", "work-done", "event", "proof-made", "moved-on", "service", "found", "observed", "passed-over")
"""Kinds of entry since the work was planned that `b` takes back, with all that was kept in the same answer."""


def last_answer(log: Sequence[Stored]) -> tuple[Stored, ...]:
    """The entries of the last answer that stands, the later first: all that carries its moment, and what was only marked since.

    Empty where nothing was answered since the first plan that can be read.

    Args:
        log: the entries of the case in the order they were added.
    """
    entries = [s for s in log if not s.taken_back]
    begun = next((i for i, s in enumerate(entries) if isinstance(s.entry, WorkPlanned) and standing_of([s]) is not None), len(entries))
    left = [s for s in entries[begun + 1 :] if s.entry.kind in _OF_WORK]
    found: list[Stored] = []
    while left:
        at = left[-1].entry.at
        group = [s for s in left if s.entry.at == at]
        left = [s for s in left if s.entry.at != at]
        found += reversed(group)
        if not all(_is_mark(s) for s in group):
            return tuple(found)
    return ()


def _is_mark(stored: Stored) -> bool:
    return isinstance(stored.entry, MovedOn) and stored.entry.to.startswith((SEEN, TEST))


def of_task(log: Sequence[Stored], task: Task) -> tuple[Stored, ...]:
    """The entries that say that a task was done or a test made, or begun: its signs are looked at anew.

    Args:
        log: the entries of the case in the order they were added.
        task: of the plan.
    """
    return tuple(s for s in log if not s.taken_back and _speaks_of(s, task))


def _speaks_of(stored: Stored, task: Task) -> bool:
    entry = stored.entry
    if isinstance(entry, TaskTicked):
        return bool({entry.task, *entry.steps} & {task.id, *task.steps})
    if isinstance(entry, ProofMade):
        return task.kind == "proof" and entry.test == task.do
    return isinstance(entry, MovedOn) and task.kind == "proof" and entry.to == f"{TEST}{task.do}"


def begun_at(log: Sequence[Stored], task: Task) -> datetime | None:
    """When a test that goes on was begun; None where it was not, or was made since, or work was done since.

    Args:
        log: the entries of the case in the order they were added.
        task: the test.
    """
    entries = [s.entry for s in log if not s.taken_back]
    begun = [e.at for e in entries if isinstance(e, MovedOn) and e.to == f"{TEST}{task.do}"]
    over = [e.at for e in entries if isinstance(e, WorkDone) or (isinstance(e, ProofMade) and e.test == task.do)]
    return begun[-1] if begun and all(begun[-1] > at for at in over) else None
