"""A judged case put into the record: the boat's facts where they are new, the case with its observations, the assessment."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from diagnose.assessment import Assessment
from diagnose.case import Boat, Case
from diagnose.record.entries import (
    Assessed,
    BoatEntry,
    CaseOpened,
    Entry,
    EventEntry,
    HoursEntry,
    Observed,
    digest,
    moment,
)
from diagnose.record.fold import boat_of
from diagnose.record.store import Record, same_name


@dataclass(frozen=True)
class Kept:
    """Where a case lies in the record, and whether it was put there now."""

    case: str
    boat: str
    new: bool


def assessed_entry(case: Case, assessment: Assessment, *, at: datetime | None = None, by: str | None = None,
                   next_check: bool = True, ledger: bool = True) -> Assessed:
    """The entry that keeps an assessment.

    Args:
        case: what was judged.
        assessment: what `assess(case, rules)` returned.
        at: when; now if left out.
        by: who.
        next_check: what `assess` was given; without it, replaying would give other bytes.
        ledger: likewise.
    """
    result = assessment.result_json()
    return Assessed(at=at or moment(), by=by, case=case, rules=assessment.rules, engine=assessment.engine, result=result,
                    sha256=digest(result), next_check=next_check, ledger=ledger)


def keep_case(record: Record, case: Case, assessment: Assessment, *, at: datetime | None = None, by: str | None = None,
              next_check: bool = True, ledger: bool = True) -> Kept:
    """Put a judged case into the record; all of it or nothing. The same case kept again is not doubled.

    Args:
        record: where to.
        case: the case file as it was judged.
        assessment: what `assess(case, rules)` returned.
        at: when; now if left out.
        by: who.
        next_check: what `assess` was given.
        ledger: likewise.

    Raises:
        RecordError: the record cannot be read or written.
    """
    at = at or moment()
    entry = assessed_entry(case, assessment, at=at, by=by, next_check=next_check, ledger=ledger)
    name = case.boat.name
    with record.writing():
        for stored in record.entries(boat=name, kinds=("assessed",)):
            before = stored.entry
            if isinstance(before, Assessed) and before.case == case and not stored.taken_back and stored.case is not None:
                if before.sha256 != entry.sha256:  # judged again, with other rules
                    record.append(entry, boat=name, case=stored.case)
                return Kept(stored.case, stored.boat, False)
        known = boat_of(record, name) if any(same_name(name, boat) for boat in record.boats()) else None
        record.append_all([*_of_the_boat(case.boat, known, at, by)], boat=name)
        kept = record.append_all([*_of_the_case(case, at, by), entry], boat=name)
    return Kept(str(kept[0].case), kept[0].boat, True)


def _of_the_boat(boat: Boat, known: Boat | None, at: datetime, by: str | None) -> Iterator[Entry]:
    """What the case says of the boat and the record does not say yet."""
    was = known or Boat(name=boat.name)
    news = {
        "arrangement": {k: v for k, v in boat.arrangement.items() if was.arrangement.get(k) != v},
        "serviced": {k: v for k, v in boat.serviced.items() if was.serviced.get(k) != v},
        "figures": {k: v for k, v in boat.figures.items() if was.figures.get(k) != v},
        "healthy": tuple(o for o in boat.healthy if o not in was.healthy),
    }
    if known is None or any(news.values()):
        yield BoatEntry.model_validate({"at": at, "by": by, "name": boat.name, **news})
    if boat.engine_hours is not None and was.engine_hours != boat.engine_hours:
        yield HoursEntry(at=at, by=by, engine_hours=boat.engine_hours)


def _of_the_case(case: Case, at: datetime, by: str | None) -> Iterator[Entry]:
    yield CaseOpened(at=at, by=by, title=case.title, opened_because=case.opened_because, trip=case.trip,
                     since_last_look_hours=case.since_last_look_hours, noticed_hours=case.noticed_hours, now=case.now,
                     work=case.work, invented=case.invented, note=case.note)
    for event in case.events:
        yield EventEntry(at=at, by=by, event=event)
    for observation in case.observations:
        yield Observed(at=at, by=by, observation=observation)
