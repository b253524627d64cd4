"""Engine hours against time: between readings of the meter by a straight line, beyond them by the boat's pace."""

from __future__ import annotations

import bisect
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta, timezone
from itertools import pairwise
from typing import Literal

from diagnose.case import Boat, Case
from diagnose.knowledge.book import Book
from diagnose.record.entries import HoursEntry, ServiceEntry
from diagnose.record.fold import boat_of
from diagnose.record.store import Record
from diagnose.situation import resolve

DAYS_A_YEAR = 365.25
FEWEST_DAYS = 60.0
"""Readings over fewer days say nothing of a year."""
LATELY_DAYS = 730.0
"""How far back readings count for the pace."""
SLACK_HOURS = 24.0
"""What the meter may seem to run ahead of the clock, for readings told by the day only."""
FARTHEST_DAYS = 50 * DAYS_A_YEAR
"""Beyond this no day is told."""


@dataclass(frozen=True)
class MeterReading:
    """So many engine hours at a moment, and the entry that says so."""

    at: datetime
    hours: float
    entry: int = 0


@dataclass(frozen=True)
class Pace:
    """Engine hours a year: her own over `days` of readings, as her owner said, or as the book takes them."""

    hours_a_year: float
    kind: Literal["own", "said", "taken"]
    days: float = 0.0


@dataclass(frozen=True)
class HoursThen:
    """Engine hours at a moment, and how many of them lie beyond the readings of the meter, where her pace had to say."""

    hours: float
    beyond: float = 0.0

    @property
    def reckoned(self) -> bool:
        """Whether an hour or more was not read."""
        return self.beyond >= 1.0


class HourLog:
    """The engine hours of one boat over time.

    Readings that do not fit the others (falling, or rising faster than the clock) are in `left_out`.
    """

    def __init__(self, readings: Sequence[MeterReading], otherwise: Pace) -> None:
        ordered = sorted(readings, key=lambda r: (r.at, r.entry))
        self.readings = fitting(ordered)
        self.left_out = tuple(r for r in ordered if r not in self.readings)
        self._moments = [r.at for r in self.readings]
        self._hours = [r.hours for r in self.readings]
        self.pace = _own_pace(self.readings) or otherwise

    @property
    def latest(self) -> MeterReading | None:
        """The last reading that fits, or None."""
        return self.readings[-1] if self.readings else None

    def at(self, moment: datetime) -> HoursThen | None:
        """Engine hours at a moment, or None where no reading says anything."""
        if not self.readings:
            return None
        place = bisect.bisect_right(self._moments, moment)
        if place == 0 or place == len(self.readings):
            end = self.readings[0 if place == 0 else -1]
            run = _days(moment - end.at) * self.pace.hours_a_year / DAYS_A_YEAR
            return HoursThen(max(end.hours + run, 0.0), abs(run))
        before, after = self.readings[place - 1], self.readings[place]
        share = (moment - before.at) / (after.at - before.at)
        return HoursThen(before.hours + share * (after.hours - before.hours))

    def moment_of(self, hours: float) -> datetime | None:
        """When the engine had, or will have, run so many hours; None where that cannot be told, or lies too far off."""
        if not self.readings:
            return None
        place = bisect.bisect_left(self._hours, hours)
        if place == len(self.readings) or (place == 0 and hours < self._hours[0]):
            end = self.readings[0 if place == 0 else -1]
            if self.pace.hours_a_year <= 0:
                return None
            days = (hours - end.hours) * DAYS_A_YEAR / self.pace.hours_a_year
            return end.at + timedelta(days=days) if abs(days) <= FARTHEST_DAYS else None
        if self._hours[place] == hours:
            return self._moments[place]
        before, after = self.readings[place - 1], self.readings[place]
        return before.at + (after.at - before.at) * ((hours - before.hours) / (after.hours - before.hours))


def hour_log(record: Record, boat: str, book: Book) -> HourLog:
    """The engine hours of a boat, as her hours and her services on record tell them.

    Args:
        record: where they are.
        boat: whose.
        book: which says what is taken for the hours a year where nobody knows.

    Raises:
        RecordError: there is no such boat, or the record cannot be read.
        InputError: her hours a year are told in a way that the book cannot read.
    """
    hers = boat_of(record, boat)
    found = []
    for stored in record.entries(boat=hers.name, kinds=("hours", "service")):
        entry = stored.entry
        if stored.taken_back:
            continue
        if isinstance(entry, HoursEntry):
            found.append(MeterReading(entry.at, entry.engine_hours, stored.id))
        elif isinstance(entry, ServiceEntry) and entry.hours is not None and entry.on is not None:
            # a service told by its hours alone does not say when the meter stood so
            then = entry.at if entry.on >= entry.at.date() else datetime.combine(entry.on, time(12), timezone.utc)
            found.append(MeterReading(then, entry.hours, stored.id))
    # no other fact bears on it, and one that the book has since renamed is no reason to tell nothing of her hours
    said = {name: value for name, value in hers.arrangement.items() if name == book.words.meant.hours_a_year}
    otherwise = resolve(Case(opened_because="routine-look", boat=Boat(name=hers.name, arrangement=said)), book).hours_a_year
    return HourLog(found, Pace(otherwise, "said" if said else "taken"))


def fitting(readings: Sequence[MeterReading]) -> tuple[MeterReading, ...]:
    """The most readings, in the order of time, that never fall and never outrun the clock; of two such choices the later.

    Args:
        readings: in the order of time.
    """
    if all(_follows(one, other) for one, other in pairwise(readings)):
        return tuple(readings)
    length: list[int] = []
    before: list[int | None] = []
    for i, reading in enumerate(readings):
        best, where = 0, None
        for j in range(i):
            if length[j] >= best and _follows(readings[j], reading):
                best, where = length[j], j
        length.append(best + 1)
        before.append(where)
    chain: list[MeterReading] = []
    place = max(range(len(readings)), key=lambda i: (length[i], i), default=None)
    while place is not None:
        chain.append(readings[place])
        place = before[place]
    return tuple(reversed(chain))


def _follows(one: MeterReading, other: MeterReading) -> bool:
    run = other.hours - one.hours
    return 0.0 <= run <= _days(other.at - one.at) * 24.0 + SLACK_HOURS


def _own_pace(readings: Sequence[MeterReading]) -> Pace | None:
    """Her own pace over the last two years of readings, or None where they say too little."""
    if not readings:
        return None
    last = readings[-1]
    first = next(r for r in readings if _days(last.at - r.at) <= LATELY_DAYS)
    days = _days(last.at - first.at)
    return Pace((last.hours - first.hours) / days * DAYS_A_YEAR, "own", days) if days >= FEWEST_DAYS else None


def _days(span: timedelta) -> float:
    return span.total_seconds() / 86400.0
