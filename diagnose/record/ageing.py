"""Parts that age: the chance that one begins to fail in the hours ahead, by the lives in the book and what is on record."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timezone

from diagnose import lives
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import Ageing, Consequence, Fault
from diagnose.record.entries import BoatEntry, ServiceEntry
from diagnose.record.hourlog import DAYS_A_YEAR, HourLog, Pace
from diagnose.record.series import Look
from diagnose.record.store import Record

AHEAD_HOURS = 100.0
"""How far ahead is looked, in engine hours; on a boat that runs less in a year, a year."""
LINE, GRAVE_LINE = 0.10, 0.05
"""Chances of beginning in the time ahead from which a look is due: of any fault, and of one that may flood, burn, gas or injure."""
GRAVE: frozenset[Consequence] = frozenset({"flooding", "fire", "gas", "injury"})
OFTEN = 0.1
"""An end this frequent counts for the line."""
_HALVINGS = 40


@dataclass(frozen=True)
class Ahead:
    """The time looked ahead: so many engine hours, which take so many years on this boat."""

    hours: float
    years: float

    @classmethod
    def at(cls, pace: Pace) -> Ahead:
        """A hundred engine hours or a year, whichever is sooner at a pace."""
        if pace.hours_a_year <= 0:
            return cls(0.0, 1.0)
        return cls(min(AHEAD_HOURS, pace.hours_a_year), min(1.0, AHEAD_HOURS / pace.hours_a_year))


@dataclass(frozen=True)
class Risk:
    """One fault's chance of beginning in the time ahead, and the line it is held to."""

    fault: str
    title: str
    chance: float
    line: float


@dataclass(frozen=True)
class Aged:
    """A service item whose time has come: its risks, when the first passes its line, and the checks that would tell.

    `in_years` is nought where it has passed; `sound` is a look that found nothing, which puts it off.
    """

    item: str
    title: str
    done_hours: float | None
    done_at: datetime | None
    risks: tuple[Risk, ...]
    in_hours: float
    in_years: float
    checks: tuple[str, ...]
    sound: Look | None


@dataclass(frozen=True)
class _Done:
    """When a service was done, in hours or by the day, whichever was said."""

    hours: float | None
    at: datetime | None


Sound = Callable[[str, datetime], Look | None]
Looks = Callable[[str], Sequence[str]]


def aged_items(record: Record, boat: str, book: Book, log: HourLog, now: datetime, possible: Iterable[str], sound: Sound,
               looks: Looks) -> tuple[tuple[Aged, ...], int]:
    """Service items of which something passes its line now or within the time ahead.

    Args:
        record, boat, book, log, now: see `due.due`.
        possible: faults that this boat can have.
        sound: the last look at a symptom after a moment, if it found nothing.
        looks: checks that tell a symptom on this boat, the quickest first.

    Returns:
        The items, and how many of the book's service items have no service on record.
    """
    done = services(record, boat, book, log)
    ahead = Ahead.at(log.pace)
    able = set(possible)
    found = []
    for item, last in sorted(done.items()):
        faults = [f for f in book.faults.values() if f.ages_with is not None and f.ages_with.since == item and f.id in able]
        aged = _aged(item, last, faults, book, log, now, ahead, sound, looks)
        if aged is not None:
            found.append(aged)
    items = {f.ages_with.since for f in book.faults.values() if f.ages_with is not None and f.id in able}
    return tuple(found), len(items - set(done))


def services(record: Record, boat: str, book: Book, log: HourLog) -> dict[str, _Done]:
    """When each service item was last done, by hours and day, each made of the other where only one was said."""
    found: dict[str, _Done] = {}
    for stored in sorted(record.entries(boat=boat, kinds=("boat", "service")), key=lambda s: (s.entry.at, s.id)):
        entry = stored.entry
        if stored.taken_back:
            continue
        if isinstance(entry, BoatEntry):
            for item, service in entry.serviced.items():
                then = log.at(entry.at)
                ago = then.hours - service.hours_ago if service.hours_ago is not None and then is not None else None
                found[item] = _Done(service.at_hours if service.at_hours is not None else ago, _noon(service.on))
            for gone in entry.forget:
                found.pop(gone, None)
        elif isinstance(entry, ServiceEntry) and entry.item is not None:
            found[entry.item] = _Done(entry.hours, _noon(entry.on))
    return {item: _both(done, log) for item, done in found.items() if item in book.words.service_items}


def _noon(on: date | None) -> datetime | None:
    return datetime.combine(on, time(12), timezone.utc) if on is not None else None


def _both(done: _Done, log: HourLog) -> _Done:
    then = log.at(done.at) if done.at is not None else None
    hours = done.hours if done.hours is not None else then.hours if then is not None else None
    return _Done(hours, done.at or (log.moment_of(done.hours) if done.hours is not None else None))


def chance_ahead(ageing: Ageing, age: float, ahead: float) -> float:
    """The chance that a wear-out that had not begun at an age begins within the time ahead, all in the unit of its life."""
    if ahead <= 0:
        return 0.0
    return lives.worn_between(age + ahead, ahead, ageing.shape, ageing.life.value, ageing.life.spread)


def line_of(fault: Fault) -> float:
    """The chance from which a look at a fault is due."""
    return GRAVE_LINE if sum(o.chance for o in fault.outcomes if o.kind in GRAVE) >= OFTEN else LINE


def _aged(item: str, done: _Done, faults: Sequence[Fault], book: Book, log: HourLog, now: datetime, ahead: Ahead, sound: Sound,
          looks: Looks) -> Aged | None:
    """One item, or None where nothing of it is due in the time ahead."""
    here = log.at(now)
    risks: list[tuple[float, Risk, Look | None, tuple[str, ...]]] = []
    for fault in faults:
        ageing = fault.ages_with
        assert ageing is not None
        by_hours = ageing.life.unit == "hour"
        age = _age(done, here.hours if here is not None else None, now, by_hours=by_hours)
        span = ahead.hours if by_hours else ahead.years
        share = _passes(ageing, age, span, line_of(fault)) if age is not None else None
        if share is None or age is None:
            continue
        sign = _telling(fault, book, looks)
        look = sound(sign, done.at) if sign is not None and done.at is not None else None
        if look is not None:
            share = max(share, 1.0 - _since(look, here.hours if here is not None else None, now, ahead))
        risk = Risk(fault.id, fault.title, chance_ahead(ageing, age + share * span, span), line_of(fault))
        risks.append((share, risk, look, tuple(looks(sign)[:1]) if sign is not None else ()))
    if not risks:
        return None
    risks.sort(key=lambda r: (r[0], -r[1].chance, r[1].fault))
    soonest = risks[0]
    checks = tuple(dict.fromkeys(name for r in risks for name in r[3]))[:2]
    return Aged(item, book.words.service_items[item], done.hours, done.at, tuple(r[1] for r in risks), soonest[0] * ahead.hours,
                soonest[0] * ahead.years, checks, soonest[2])


def _age(done: _Done, hours_now: float | None, now: datetime, *, by_hours: bool) -> float | None:
    """Age since a service in engine hours or in years, or None where it cannot be told."""
    if by_hours:
        return max(hours_now - done.hours, 0.0) if hours_now is not None and done.hours is not None else None
    return max((now - done.at).total_seconds() / 86400.0 / DAYS_A_YEAR, 0.0) if done.at is not None else None


def _since(look: Look, hours_now: float | None, now: datetime, ahead: Ahead) -> float:
    """How much of the time ahead has gone since a look: the larger share of hours and of years."""
    years = (now - look.at).total_seconds() / 86400.0 / DAYS_A_YEAR / ahead.years
    hours = (hours_now - look.hours) / ahead.hours if hours_now is not None and look.hours is not None and ahead.hours > 0 else 0.0
    return min(1.0, max(years, hours, 0.0))


def _passes(ageing: Ageing, age: float, span: float, line: float) -> float | None:
    """After which share of the time ahead the chance passes the line, nought if it has; None if it does not."""
    if chance_ahead(ageing, age, span) >= line:
        return 0.0
    if chance_ahead(ageing, age + span, span) < line:
        return None
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        low, high = (low, middle) if chance_ahead(ageing, age + middle * span, span) >= line else (middle, high)
    return high


def _telling(fault: Fault, book: Book, looks: Looks) -> str | None:
    """The symptom on which a fault that has just begun shows most, of those that a check tells on this boat."""
    strength: dict[str, float] = {}
    for link in fault.shows:
        if link.symptom is None:
            continue
        table = link.at_least if link.at_least is not None else (link.by or {}).get(fault.stages[0].id)
        if table and looks(link.symptom):
            strength[link.symptom] = max(strength.get(link.symptom, 0.0), max(book.strength(word) for word in table.values()))
    return max(strength, key=lambda name: (strength[name], name), default=None)
