"""Looks at one thing over time: what the record of a boat holds of one symptom or reading in one engine state.

What was taken back is left out. A look given again within the hour counts once, as it was given last: a correction, or
a reading that says no more than the one before.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, time, timedelta, timezone

from diagnose.case import SURE, Observation
from diagnose.errors import DiagnoseError, InputError
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import RESERVED_GRADE, EngineState
from diagnose.record.entries import CaseOpened, Observed, ServiceEntry, WorkPlanned
from diagnose.record.fold import case_of
from diagnose.record.hourlog import HourLog
from diagnose.record.scale import Scale, near_items, own_items, scale_of
from diagnose.record.store import Record, Stored
from diagnose.seen import band_of, leak_grade
from diagnose.situation import resolve
from diagnose.units import parse_quantity

ONE_LOOK = timedelta(hours=1)
"""Looks at one thing within this count as one."""
BEYOND_SIGMA = 2.0
"""Standard deviations of a reading that are more than its error."""


@dataclass(frozen=True)
class Look:
    """One look: when, at how many engine hours, and what it gave.

    `value` is in the scale's unit, or None; `low` and `high` are places of grades, -1 where the scale has none. `at_least`
    says that only the milder end was told. `reckoned` says that the hours lie beyond the readings of the meter.
    """

    at: datetime
    hours: float | None
    reckoned: bool
    value: float | None
    low: int
    high: int
    case: str | None
    entry: int
    given: Observation
    at_least: bool = False

    @property
    def place(self) -> float:
        """The grade as an ordered number: between two grades, half way."""
        return float(self.low) if self.at_least else (self.low + self.high) / 2.0

    @property
    def sure(self) -> bool:
        """Whether the observer was sure."""
        return SURE[self.given.sure] >= 1.0

    def worse_than(self, other: Look) -> bool:
        """Whether the grade is surely worse than that of another look."""
        return self.low > other.high


@dataclass(frozen=True)
class ServiceMark:
    """A service that may have moved what is looked at; `own` is of the part that the symptom is mostly a sign of."""

    item: str
    title: str
    at: datetime
    hours: float | None
    own: bool


@dataclass(frozen=True)
class Series:
    """All looks at one thing in one engine state, in the order of time; `state` is None where nobody said it.

    `left_out` says in words what could not be used, and `given_again` counts looks that a later one within the hour replaced.
    """

    boat: str
    scale: Scale
    state: EngineState | None
    looks: tuple[Look, ...]
    marks: tuple[ServiceMark, ...] = ()
    left_out: tuple[str, ...] = ()
    given_again: int = 0
    worked: bool = False

    @property
    def by_value(self) -> bool:
        """Whether it is told by numbers: some look is, and no fewer have one than are told by a grade alone."""
        measured = any(look.given.value is not None for look in self.looks)
        return measured and 2 * sum(look.value is not None for look in self.looks) >= len(self.looks)


@dataclass
class _Gathered:
    """What is found of one thing in one state, as it is gathered."""

    scale: Scale
    looks: list[Look] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)


_Key = tuple[str, EngineState | None]


def all_series(record: Record, boat: str, book: Book, log: HourLog, *, worked: bool = True) -> tuple[Series, ...]:
    """Everything that was looked at on a boat, a series for each thing in each engine state, by id and state.

    Args:
        record: where the looks are.
        boat: whose.
        book: what the symptoms and readings are; looks at things it does not know are left out.
        log: her engine hours.
        worked: also symptoms worked out of several readings of a case.

    Raises:
        RecordError: there is no such boat, or the record cannot be read.
    """
    name = record.boat_named(boat)
    found: dict[_Key, _Gathered] = {}
    told: dict[str, datetime | None] = {}
    with_readings: dict[str, None] = {}
    for stored in record.entries(boat=name, kinds=("observed", "case-opened", "work-planned")):
        entry = stored.entry
        if isinstance(entry, CaseOpened):
            told[str(stored.case)] = entry.now
        elif isinstance(entry, WorkPlanned) and not stored.taken_back:
            told[str(stored.case)] = None  # what is seen at the work is of its own moment
        elif isinstance(entry, Observed) and not stored.taken_back:
            if entry.observation.value is not None:
                with_readings[str(stored.case)] = None
            _take(stored, entry, told.get(str(stored.case)), book, log, found)
    if worked:
        direct = {(look.case, key) for key, gathered in found.items() for look in gathered.looks}
        for key, look in _worked_out(record, with_readings, book, log):
            scale = scale_of(book, key[0])
            if (look.case, key) not in direct and scale is not None:
                found.setdefault(key, _Gathered(scale)).looks.append(look)
    services = [s for s in record.entries(boat=name, kinds=("service",)) if not s.taken_back]
    order = sorted(found, key=lambda key: (key[0], key[1] or ""))
    return tuple(_series(name, key, found[key], book, log, services) for key in order)


def series_of(record: Record, boat: str, name: str, book: Book, log: HourLog) -> tuple[Series, ...]:
    """The looks at one symptom or reading, a series for each engine state, the longest first.

    Raises:
        InputError: the book does not know it, or nobody has looked at it on this boat, with the nearest that was.
        RecordError: there is no such boat, or the record cannot be read.
    """
    scale = scale_of(book, name)
    every = [s for s in all_series(record, boat, book, log) if s.looks]
    known = sorted({s.scale.id for s in every})
    if scale is None:
        raise InputError(f"'{name}' is neither a symptom nor a reading of the book", right=_nearest(name, known, book))
    found = [s for s in every if s.scale.id == scale.id]
    if not found:
        hers = record.boat_named(boat)
        raise InputError(f"nobody has looked at '{scale.id}' on this boat", where=hers, right=_nearest(name, known, book))
    return tuple(sorted(found, key=lambda s: (-len(s.looks), s.state or "")))


def _nearest(name: str, known: Sequence[str], book: Book) -> str:
    from diagnose.knowledge.text import did_you_mean

    near = did_you_mean(name, list(known)) or did_you_mean(name, [*book.symptoms, *book.readings])
    return near or ", ".join(known[:6]) or "a look put on record first"


# ------------------------------------------------------------------ one look


def _take(stored: Stored, entry: Observed, told: datetime | None, book: Book, log: HourLog, found: dict[_Key, _Gathered]) -> None:
    """Put one observation where it belongs, or say why it cannot be used."""
    given = entry.observation
    scale = scale_of(book, given.reading or given.symptom)
    if scale is None or SURE[given.sure] == 0 or (given.epoch == "before" and given.when is None):
        return
    key = (scale.id, given.state or (scale.states[0] if len(scale.states) == 1 else None))
    gathered = found.setdefault(key, _Gathered(scale))
    moment, hours, reckoned = _when(given, told or entry.at, log)
    try:
        value, low, high = _answer(given, scale, book)
    except DiagnoseError as error:
        gathered.left_out.append(f"entry {stored.id}, {moment.astimezone():%Y-%m-%d}: {error.what}")
        return
    gathered.looks.append(Look(moment, hours, reckoned, value, low, high, stored.case, stored.id, given, given.at_least is not None))


def _when(given: Observation, said: datetime, log: HourLog) -> tuple[datetime, float | None, bool]:
    """The moment of an observation, and the engine hours then. A time without a zone is taken as universal."""
    said = _universal(given.when or said)
    then = log.at(said)
    if then is None:
        return said, None, False
    hours = max(then.hours - (given.hours_ago or 0.0), 0.0)
    if given.hours_ago and given.when is None:
        earlier = log.moment_of(hours)
        said = min(said, earlier) if earlier is not None else said
    return said, hours, then.reckoned


def _universal(moment: datetime) -> datetime:
    return moment.astimezone(timezone.utc) if moment.tzinfo else moment.replace(tzinfo=timezone.utc)


def _answer(given: Observation, scale: Scale, book: Book) -> tuple[float | None, int, int]:
    """The value in the scale's unit, and the places of the grades it may mean.

    Raises:
        InputError: the book cannot read it, or no longer.
    """
    if given.value is not None:
        if not scale.unit:
            raise InputError(f"'{given.value}' is a number, and this is told by a grade")
        value = parse_quantity(given.value, scale.unit, what=scale.id, possible=scale.possible)
        if not scale.grades:
            return value, -1, -1
        symptom = book.symptoms[scale.id]
        place = leak_grade(symptom, value) if scale.leak else band_of(symptom, value)
        return value, place, place
    wanted = given.one_of if given.one_of is not None else (str(given.grade or given.at_least),)
    for grade in wanted:
        if grade not in scale.grades:
            raise InputError(f"'{grade}' is not on its scale")
    places = [scale.grades.index(grade) for grade in wanted]
    high = len(scale.grades) - 1 if given.at_least is not None else max(places)
    # a leak that is not there is a number too
    return (0.0 if scale.leak and given.grade == RESERVED_GRADE else None), min(places), high


def _worked_out(record: Record, cases: Iterable[str], book: Book, log: HourLog) -> Iterator[tuple[_Key, Look]]:
    """Symptoms worked out of the readings of each case; one that cannot be put together gives nothing."""
    if not any(symptom.worked_out for symptom in book.symptoms.values()):
        return
    for name in cases:
        try:
            case = case_of(record, name)
            situation = resolve(case.model_copy(update={"observations": tuple(o for o in case.observations if o.value is not None)}), book)
        except DiagnoseError:
            continue
        used = {w.symptom: w.observations for w in situation.workings if w.result is not None}
        for seen in situation.seen:
            if seen.symptom not in used or seen.given.when is not None or seen.value is None:
                continue
            taken = [o for o in case.observations if (o.reading or o.symptom) in used[seen.symptom] and o.when is not None]
            moment = max((_universal(o.when) for o in taken if o.when is not None), default=None)
            if moment is None:
                continue
            then = log.at(moment)
            hours, reckoned = (then.hours, then.reckoned) if then is not None else (None, False)
            yield (seen.symptom, seen.state), Look(moment, hours, reckoned, seen.value, seen.low, seen.high, name, 0, seen.given)


# ------------------------------------------------------------------ one series


def _series(boat: str, key: _Key, gathered: _Gathered, book: Book, log: HourLog, services: Sequence[Stored]) -> Series:
    looks = once_an_hour(gathered.looks)
    own, near = own_items(book, key[0]), near_items(book, key[0])
    marks = sorted((_mark(s, s.entry, book, log, own) for s in services
                    if isinstance(s.entry, ServiceEntry) and s.entry.item is not None and s.entry.item in own | near),
                   key=lambda mark: (mark.at, mark.item))
    return Series(boat, gathered.scale, key[1], looks, tuple(marks), tuple(gathered.left_out), len(gathered.looks) - len(looks),
                  any(look.entry == 0 for look in looks))


def once_an_hour(looks: Iterable[Look]) -> tuple[Look, ...]:
    """Looks in the order of time; of those within an hour of the first of them the last counts."""
    kept: list[Look] = []
    begun: datetime | None = None
    for look in sorted(looks, key=lambda look: (look.at, look.entry)):
        if begun is not None and look.at - begun < ONE_LOOK:
            kept[-1] = look
        else:
            kept.append(look)
            begun = look.at
    return tuple(kept)


def _mark(stored: Stored, entry: ServiceEntry, book: Book, log: HourLog, own: frozenset[str]) -> ServiceMark:
    noon = None if entry.on is None or entry.on >= entry.at.date() else datetime.combine(entry.on, time(12), timezone.utc)
    moment = noon or (log.moment_of(entry.hours) if entry.hours is not None and entry.on is None else None) or entry.at
    then = log.at(moment)
    hours = entry.hours if entry.hours is not None else then.hours if then is not None else None
    return ServiceMark(str(entry.item), book.words.service_items.get(str(entry.item), str(entry.item)), min(moment, stored.entry.at), hours,
                       entry.item in own)


def since_service(series: Series) -> tuple[Series, ServiceMark | None]:
    """The looks since the part was last renewed, where the first of them was better than the last before; else all of them.

    Returns:
        The series to be told, and the service it begins with.
    """
    for mark in reversed([m for m in series.marks if m.own]):
        earlier = [look for look in series.looks if look.at < mark.at]
        later = [look for look in series.looks if look.at >= mark.at]
        if earlier and later and _better(later[0], earlier[-1], series.scale):
            return replace(series, looks=tuple(later)), mark
    return series, None


def _better(look: Look, before: Look, scale: Scale) -> bool:
    """Whether a look is better than one before, by a grade or by more than the error of a reading."""
    if before.worse_than(look):
        return True
    if look.value is None or before.value is None or not scale.limits:
        return False
    fell = before.value - look.value if scale.limits[0].side == "over" else look.value - before.value
    return fell > BEYOND_SIGMA * scale.sigma > 0.0
