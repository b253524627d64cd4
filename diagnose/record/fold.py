"""The record folded into what the rest of the program knows: a boat, a case. What was taken back is left out."""

from __future__ import annotations

import bisect
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timezone

from diagnose.case import SURE, Boat, Case, EventSeen, Observation, Service, WorkTold
from diagnose.record.entries import (
    BoatEntry,
    CaseOpened,
    Closed,
    EventEntry,
    Found,
    HoursEntry,
    Observed,
    PassedOver,
    Reopened,
    ServiceEntry,
    TripEntry,
    WorkDone,
    WorkPlanned,
)
from diagnose.record.store import Record, Stored
from diagnose.situation import on_one_clock

_NOON = time(12)
_LATER = ("note", "photo", "assessed", "closed", "reopened", "found", "taken-back", "due-set", "work-planned", "task-ticked", "work-done",
          "proof-made")
"""Kinds of a case that may come long after the boat was looked at: they do not move its moment."""


def boat_of(record: Record, boat: str) -> Boat:
    """A boat as the record has her now: facts, engine hours, services.

    Raises:
        RecordError: the record cannot be read, or holds no such boat.
    """
    name = record.boat_named(boat)
    return _boat(name, _standing(record.entries(boat=name, kinds=("boat", "hours", "service"))))


def case_of(record: Record, case: str, *, now: datetime | None = None) -> Case:
    """A case as its entries tell it. Of several answers to one question the latest counts.

    The boat is as she is known now, or as she was known when the case was closed.

    Args:
        case: its id.
        now: the moment to judge it at; by default that of the last entry that says anything of the engine.

    Raises:
        RecordError: the record cannot be read, or holds no such case.
    """
    head = record.case_named(case)
    own = _standing(record.entries(case=head.id))
    last = next(s.entry.at for s in reversed(own) if isinstance(s.entry, Closed)) if head.closed else None
    hers = [s for s in _standing(record.entries(boat=head.boat, kinds=("boat", "hours", "service", "event")))
            if last is None or s.entry.at <= last]
    opened = next(s.entry for s in own if isinstance(s.entry, CaseOpened))
    trips = [s.entry.trip for s in own if isinstance(s.entry, TripEntry)]
    meter = Meter(hers)
    planned = min((s.entry.at for s in own if isinstance(s.entry, WorkPlanned)), default=None)
    told = opened.now
    now = now or (told if planned is None else None) or max((s.entry.at for s in own if s.entry.kind not in _LATER), default=opened.at)
    return Case(
        title=opened.title, invented=opened.invented, note=opened.note, opened_because=opened.opened_because, now=now,
        since_last_look_hours=opened.since_last_look_hours, noticed_hours=opened.noticed_hours, boat=_boat(head.boat, hers),
        trip=trips[-1] if trips else opened.trip, events=tuple(_events(own, hers, meter)), work=_work(opened, own, hers, head.boat, meter),
        observations=tuple(_observations(own, meter, told, planned)),
    )


@dataclass(frozen=True)
class Reading:
    """A reading of the engine hours: how many, when, and the entry that says so."""

    hours: float
    at: datetime
    entry: int
    case: str | None

    def refuses(self, hours: float, at: datetime) -> bool:
        """Whether a later reading cannot be: the meter does not run backwards."""
        return hours < self.hours and self.at <= at

    def outruns(self, hours: float, at: datetime) -> bool:
        """Whether more hours were run since than the clock has."""
        return hours - self.hours > max((at - self.at).total_seconds() / 3600.0, 1.0)


def latest_reading(record: Record, boat: str) -> Reading | None:
    """The last reading of a boat's engine hours, of those entered as such, or None.

    Raises:
        RecordError: the record cannot be read.
    """
    read = [s for s in _standing(record.entries(boat=boat, kinds=("hours",))) if isinstance(s.entry, HoursEntry)]
    last = read[-1] if read else None
    return Reading(last.entry.engine_hours, last.entry.at, last.id, last.case) if last and isinstance(last.entry, HoursEntry) else None


def overtaken_by(record: Record, stored: Stored) -> Stored | None:
    """The entry that counts in place of one just added, because its moment is the later of the two: a clock that was set back,
    or an earlier day that was meant. None where the one added counts.

    Args:
        record: where both are.
        stored: the one just added.

    Raises:
        RecordError: the record cannot be read.
    """
    kinds = ("closed", "reopened") if stored.entry.kind in ("closed", "reopened") else (stored.entry.kind,)
    later = [s for s in _standing(record.entries(boat=stored.boat, kinds=kinds))
             if s.id < stored.id and s.entry.at > stored.entry.at and _speaks_of_the_same(s, stored)]
    return later[-1] if later else None


def _speaks_of_the_same(other: Stored, stored: Stored) -> bool:
    was, entry = other.entry, stored.entry
    if isinstance(was, BoatEntry) and isinstance(entry, BoatEntry):
        return bool({*was.arrangement, *was.figures, *was.forget} & {*entry.arrangement, *entry.figures, *entry.forget})
    if isinstance(was, ServiceEntry) and isinstance(entry, ServiceEntry):
        return was.item is not None and was.item == entry.item
    if isinstance(was, HoursEntry) and isinstance(entry, HoursEntry):
        return was.engine_hours < entry.engine_hours  # more hours at an earlier moment do not go together
    return stored.case is not None and other.case == stored.case and isinstance(was, Found | Closed | Reopened)


def _standing(entries: Iterable[Stored]) -> list[Stored]:
    """Entries that count, in the order of their moments: what was imported later may be older."""
    return sorted((s for s in entries if not s.taken_back), key=lambda s: (s.entry.at, s.id))


class Meter:
    """Engine hours over time, as readings and services tell them."""

    def __init__(self, entries: Sequence[Stored]) -> None:
        said = [(*reading, s.id, isinstance(s.entry, HoursEntry)) for s in entries if (reading := _reading(s)) is not None]
        self._moments: list[datetime] = []
        self._hours: list[float] = []
        for then, hours, _, read in sorted(said, key=lambda r: (r[0], r[2])):
            if read or not self._hours or hours >= self._hours[-1]:  # a service at fewer hours was done earlier, and only told now
                self._moments.append(then)
                self._hours.append(hours)

    @property
    def latest(self) -> float | None:
        """The latest reading, or None where there is none."""
        return self._hours[-1] if self._hours else None

    @property
    def covered(self) -> float:
        """Engine hours between the first reading and the last [h]."""
        return max(self._hours[-1] - self._hours[0], 0.0) if self._hours else 0.0

    def at(self, moment: datetime) -> float | None:
        """The last reading at or before a moment, or None."""
        place = bisect.bisect_right(self._moments, moment)
        return self._hours[place - 1] if place else None

    def run_since(self, moment: datetime) -> float:
        """Engine hours run since a moment, as far as the readings tell [h]; 0 where they do not."""
        then = self.at(moment)
        return max((self.latest or 0.0) - then, 0.0) if then is not None else 0.0


def _reading(stored: Stored) -> tuple[datetime, float] | None:
    """When the engine had run how many hours, if an entry says so."""
    entry = stored.entry
    if isinstance(entry, HoursEntry):
        return entry.at, entry.engine_hours
    if isinstance(entry, ServiceEntry) and entry.hours is not None:
        then = entry.at if entry.on is None or entry.on >= entry.at.date() else datetime.combine(entry.on, _NOON, timezone.utc)
        return then, entry.hours
    return None


def _boat(name: str, entries: Sequence[Stored]) -> Boat:
    meter = Meter(entries)
    arrangement: dict[str, str | float | bool] = {}
    figures: dict[str, str] = {}
    serviced: dict[str, Service] = {}
    healthy: dict[tuple[object, ...], Observation] = {}
    for stored in entries:
        entry = stored.entry
        if isinstance(entry, BoatEntry):
            arrangement.update(entry.arrangement)
            figures.update(entry.figures)
            serviced.update((item, _aged(service, meter.run_since(entry.at))) for item, service in entry.serviced.items())
            healthy.update(((o.symptom, o.reading, o.state, o.at_rpm), o) for o in entry.healthy)
            for gone in entry.forget:
                for known in (arrangement, figures, serviced):
                    known.pop(gone, None)
        elif isinstance(entry, ServiceEntry) and entry.item is not None:
            serviced[entry.item] = Service(at_hours=entry.hours, on=entry.on)
    hours = meter.latest
    return Boat(name=name, engine_hours=hours, arrangement=arrangement, figures=figures, healthy=tuple(healthy.values()),
                serviced={item: kept for item, s in serviced.items() if (kept := _believable(s, hours)) is not None})


def _aged(service: Service, hours: float) -> Service:
    """A service told as so many hours ago, some hours later."""
    if service.hours_ago is None:
        return service
    return service.model_copy(update={"hours_ago": round(service.hours_ago + hours, 6)})


def _believable(service: Service, hours: float | None) -> Service | None:
    """A service that the engine hours allow: one beyond them is told by its date, if it has one."""
    if service.at_hours is None or (hours is not None and service.at_hours <= hours):
        return service
    if service.hours_ago is None and service.on is None:
        return None
    return service.model_copy(update={"at_hours": None})


def _events(own: Sequence[Stored], hers: Sequence[Stored], meter: Meter) -> Iterable[EventSeen]:
    """Events of the boat and of the case, each so many engine hours ago now."""
    every = [*own, *(s for s in hers if s.case is None)]
    for entry in (s.entry for s in every):
        if isinstance(entry, EventEntry):
            yield entry.event.model_copy(update={"hours_ago": round(entry.event.hours_ago + meter.run_since(entry.at), 6)})


def _work(opened: CaseOpened, own: Sequence[Stored], hers: Sequence[Stored], boat: str, meter: Meter) -> WorkTold | None:
    """The jobs that are through in a case, what was found in each and what besides, and what is new on the boat since the first of them.

    A closing puts an end to what was found before it: how it was mended is said there in words.
    """
    was = opened.work or WorkTold.model_construct()  # nothing told: what a file may not say
    done = {s.entry.job: s.entry for s in own if isinstance(s.entry, WorkDone)}
    said = [s.entry for s in own if isinstance(s.entry, Closed) or (isinstance(s.entry, Found) and s.entry.sure == "certain")]
    cured = {f for work in done.values() for f in work.cures}
    last = said[-1] if said else None
    closed = any(isinstance(entry, Closed) for entry in said)
    left = (*(() if closed else was.not_cured), *(last.faults if isinstance(last, Found) else ()))
    named = [entry for entry in said if isinstance(entry, Found)]
    found = {job: what for job, work in done.items() if named and (what := _found_in(work, named[-1])) is not None}
    renewed = _renewed(hers, boat, min(work.at for work in done.values())) if done else {}
    run = meter.run_since(opened.at)
    began = [was.hours_ago + round(run, 6)] if opened.work else [round(meter.run_since(work.at), 6) for work in done.values()]
    jobs, left = tuple(dict.fromkeys((*was.jobs, *done))), tuple(f for f in dict.fromkeys(left) if f not in cured)
    if not jobs and not left:
        return None
    return WorkTold(jobs=jobs, hours_ago=max(began, default=0.0), found={**was.found, **found}, not_cured=left,
                    renewed={**renewed, **was.renewed})


def _renewed(hers: Sequence[Stored], boat: str, since: datetime) -> dict[str, Service | None]:
    """Service items that are new since a moment, each with what was known of it before."""
    before, now = _boat(boat, [s for s in hers if s.entry.at < since]).serviced, _boat(boat, hers).serviced
    return {item: before.get(item) for item, service in now.items() if service != before.get(item)}


def _found_in(work: WorkDone, told: Found) -> tuple[str, ...] | None:
    """Which of the faults that a job cures were found; None where that is not told."""
    was = tuple(f for f in told.faults if f in work.cures)
    return was if was or not told.faults else None


def _observations(own: Sequence[Stored], meter: Meter, told: datetime | None, planned: datetime | None) -> Iterable[Observation]:
    """The latest answer to each question, in the order first answered; what could not be seen only where nothing was.

    What is answered once work was `planned` is of its own moment, also in a case told afterwards.
    """
    latest: dict[tuple[object, ...], tuple[datetime, int, Observation]] = {}
    through = [s for s in own if isinstance(s.entry, WorkDone)]
    for stored in own:
        given = _answer(stored, meter, told if planned is None or stored.entry.at < planned else None)
        if given is None or given.when is None:
            continue
        when = on_one_clock(given.when)
        if any(_is_history(given, stored, work) for work in through):
            given = given.model_copy(update={"epoch": "before"})
        key = (given.symptom, given.reading, given.state, given.epoch, given.at_rpm if given.reading else None)
        if key not in latest or latest[key][:2] <= (when, stored.id):
            latest[key] = (when, stored.id, given)
    answers = [given for _, _, given in latest.values()]
    seen = {(given.symptom, given.reading, given.epoch) for given in answers if SURE[given.sure] > 0}
    yield from (given for given in answers if SURE[given.sure] > 0 or (given.symptom, given.reading, given.epoch) not in seen)


def _is_history(given: Observation, stored: Stored, work: Stored) -> bool:
    """Whether an answer tells how things were before some work that was to change just this."""
    return (isinstance(work.entry, WorkDone) and (stored.entry.at, stored.id) < (work.entry.at, work.id)
            and (given.symptom or given.reading) in work.entry.signs)


def _answer(stored: Stored, meter: Meter, told: datetime | None) -> Observation | None:
    """The answer an entry gives, with its moment: that of the entry, or of the day a case told afterwards is about."""
    entry = stored.entry
    if isinstance(entry, PassedOver) and entry.symptom is not None and entry.why != "later":
        return Observation(symptom=entry.symptom, state=entry.state, sure=entry.why, when=told or entry.at, by=entry.by)
    if not isinstance(entry, Observed):
        return None
    given = entry.observation
    aged = {"hours_ago": round(run, 6)} if (run := (given.hours_ago or 0.0) + meter.run_since(entry.at)) > 0 else {}
    return given.model_copy(update={"when": given.when or told or entry.at, "by": given.by or entry.by, **aged})
