"""Tasks ticked off in one answer: which are meant, their ticks, and the jobs that are through by them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from diagnose.doing.asked import numbered
from diagnose.doing.standing import Standing, standing_of
from diagnose.errors import InputError
from diagnose.record.entries import TaskTicked
from diagnose.record.store import Stored
from diagnose.work.results import Plan, Task

LEAST_MINUTES = 0.01
"""What a task took at least, where the time of several was told."""


def listed(standing: Standing, first: int, last: int | None) -> tuple[Task, ...]:
    """The tasks of some numbers that are still to do.

    Args:
        standing: of the work.
        first: number of the first.
        last: of the last, both included; None for one task only.

    Raises:
        InputError: there are none, all are ticked off, one is a test, or what comes before one is neither done nor among them.
    """
    if last is not None and last < first:
        raise InputError(f"{first}-{last} runs backwards", right=f"{last}-{first}")
    numbers = {t.id: n for n, t in numbered(standing).items()}
    chosen = [standing.tasks[name] for name, n in numbers.items() if first <= n <= (first if last is None else last)]
    if not chosen:
        raise InputError(f"there is no task {first}", right="a number that list shows")
    if any(t.kind == "proof" for t in chosen):
        raise InputError("a test is made, not ticked", right="each at its turn")
    names = {t.id for t in chosen}
    before = next((b for t in chosen for b in standing.first_before(t) if b.id not in names), None)
    if before is not None:
        raise InputError(f"{numbers[before.id]}, {before.do} comes before that", right="what comes first done, or left out with x")
    left = tuple(t for t in chosen if t.id not in standing.ticked)
    if not left:
        raise InputError("that is ticked off already", right=f"redo {first}, if it is to be done again")
    return left


def ticks_of(tasks: Sequence[Task], plan: Plan, at: datetime, minutes: float | None, why: str | None) -> tuple[TaskTicked, ...]:
    """The ticks of some tasks.

    Args:
        tasks: done, or left out.
        plan: that they stand in.
        at: the moment.
        minutes: told of all of them: shared out as the plan has them.
        why: they are left out, or None where they are done.
    """
    planned = [float(getattr(t, plan.hand)) for t in tasks]
    whole = sum(planned)
    shares = [p / whole if whole else 1.0 / len(planned) for p in planned]
    return tuple(
        TaskTicked(at=at, task=t.id, steps=t.steps, how="left-out" if why else "done", why=why,
                   minutes=max(round(minutes * share, 2), LEAST_MINUTES) if minutes else None)
        for t, share in zip(tasks, shares, strict=True))


def through_by(ticks: Sequence[TaskTicked], log: Sequence[Stored]) -> tuple[str, ...]:
    """The jobs that some ticks bring to their end.

    Args:
        ticks: not in the log yet.
        log: the entries of the case; where they hold no plan there are none.
    """
    before = standing_of(log)
    after = standing_of([*log, *(Stored(0, log[-1].boat, log[-1].case, tick, False, "") for tick in ticks)])
    if before is None or after is None:
        return ()
    return tuple(j for j in after.plan.jobs if after.is_through(j) and not before.is_through(j))
