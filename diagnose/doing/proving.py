"""How a test of the proof came out: by the signs that were looked at, and by what the person saw of the rest."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from diagnose.doing.standing import Standing
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import EngineState
from diagnose.record.hourlog import HourLog
from diagnose.seen import Seen
from diagnose.situation import on_one_clock
from diagnose.work.results import Task


@dataclass(frozen=True)
class Sighted:
    """One sign of a test: the worst grade that passes, what was seen, and whether that is worse; None where it cannot be told."""

    symptom: str
    allowed: str
    seen: Seen | None
    worse: bool | None


def to_ask(task: Task, book: Book) -> tuple[tuple[str, EngineState], ...]:
    """The signs that a test looks at, each with the engine state in which it is judged."""
    found = []
    for name in task.worst:
        states = book.symptoms[name].states
        found.append((name, task.state if task.state in states else states[0]))
    return tuple(found)


def sighted(task: Task, seen: Iterable[Seen], since: datetime, book: Book) -> tuple[Sighted, ...]:
    """What was seen of each sign of a test.

    Args:
        task: the test.
        seen: observations made ready; only those of now, and not of before `since`, count.
        since: when the test began.
        book: that it stands in.
    """
    fresh = [s for s in seen if s.epoch == "now" and s.given.when is not None and on_one_clock(s.given.when) >= on_one_clock(since)]
    return tuple(_sighted(name, task, state, fresh, book) for name, state in to_ask(task, book))


def _sighted(name: str, task: Task, state: EngineState, fresh: Iterable[Seen], book: Book) -> Sighted:
    allowed = task.worst[name]
    most = list(book.symptoms[name].grades).index(allowed)
    last = max((s for s in fresh if s.symptom == name and s.state == state), key=lambda s: s.id, default=None)
    worse = None if last is None else True if last.low > most else False if last.high <= most else None
    return Sighted(name, allowed, last, worse)


def in_words(found: Iterable[Sighted], book: Book) -> str:
    """The signs that were worse than they may be, in words; empty where none was."""
    return "; ".join(f"{book.symptoms[s.symptom].title.lower()}: {s.seen.text}" for s in found if s.worse and s.seen is not None)


@dataclass(frozen=True)
class Owed:
    """A test that is owed: from when in engine hours and as a day, where that can be told; `ripe` whether it can be made now."""

    task: Task
    from_hours: float | None
    from_day: datetime | None
    ripe: bool


def owed(standing: Standing, log: HourLog, now: datetime) -> tuple[Owed, ...]:
    """The tests still to be made or passed, in their order.

    Args:
        standing: of the work.
        log: the boat's engine hours over time.
        now: the moment.
    """
    if standing.before_tests:
        return tuple(Owed(t, None, None, ripe=False) for t in standing.unproved)
    done = max((s.entry.at for job, s in standing.through.items() if job in standing.plan.jobs), default=standing.planned.entry.at)
    return tuple(_owed(task, done, log, now) for task in standing.unproved)


def _owed(task: Task, done: datetime, log: HourLog, now: datetime) -> Owed:
    if not task.hours:
        return Owed(task, None, None, ripe=True)
    then, today = log.at(done), log.at(now)
    if then is None or today is None:
        from_day = done + timedelta(hours=float(task.hours))  # nobody reads her hours: she cannot have run more than the clock
        return Owed(task, None, from_day, ripe=now >= from_day)
    due = then.hours + float(task.hours)
    at = log.moment_of(due)
    return Owed(task, due, at if at is not None and at < now + timedelta(days=3650) else None, ripe=today.hours >= due)
