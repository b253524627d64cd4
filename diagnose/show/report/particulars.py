"""What a report says beyond the assessment: who, when, the boat as described, photos, what was done, what it was, what it cost.

All of it may be missing: an assessment alone makes a whole report, with the gaps said.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from types import MappingProxyType
from typing import TYPE_CHECKING

from diagnose.show.report.photos import Photo
from diagnose.wording import mid_sentence

if TYPE_CHECKING:
    from diagnose.case import Case, EventSeen, Service, Trip
    from diagnose.doing.standing import Standing
    from diagnose.knowledge.book import Book
    from diagnose.knowledge.lists import BoatFact
    from diagnose.work.results import Plan

Pairs = tuple[tuple[str, str], ...]
_NOTHING: Mapping[str, datetime] = MappingProxyType({})

OPENED = {"routine-look": "a routine look", "noticed-something": "something that was noticed", "after-work": "work just done"}
"""Why a case was opened, in words."""


@dataclass(frozen=True)
class Deed:
    """Something done about it.

    Attributes:
        what: in the words of whoever did it.
        when: the moment, if known.
        by: who did it.
        engine_hours: the hour meter then [h], not negative.
        cost: as it was written down; None where it is not to be shown.
    """

    what: str
    when: datetime | date | None = None
    by: str | None = None
    engine_hours: float | None = None
    cost: str | None = None


@dataclass(frozen=True)
class Particulars:
    """What is known around one assessment. Every text is shown literally.

    Attributes:
        decided_at: when the decision was made.
        printed_at: when the report was made.
        seen_by: who looked.
        decided_by: who decided.
        done_by: who did the work.
        witness: who watched.
        opened_because: why the case was opened, in words.
        note: what the case says of itself.
        invented: whether the case is made up; a report says so.
        boat: facts of the boat and engine as they were given: title, value.
        own_rates: faults this boat has more or less often than any boat, as the case says: title, how often.
        services: what was renewed or serviced, and when.
        trip: the trip in question: what, value.
        hours_away: hours from leaving to being back [h], positive; what goes on at rest counts through them.
        happened: events and work before: what, when and what was found in it; and what was found and is there still.
        seen_at: id of an observation in the assessment to the moment it was made.
        changed: answers that were changed, each in a sentence.
        photos: cleaned by `read_photo`.
        done: what was done about it.
        found: what it was in the end, in a sentence.
        ended: how the case was closed, where it is, and why it is not proved, where it is not.
        costs: what it cost: for what, how much. Leave empty what is not to be shown.
        plan: the job that the case is mended by, where one is shown.
        standing: how far that job is done, where it was begun.
    """

    decided_at: datetime | None = None
    printed_at: datetime | None = None
    seen_by: str | None = None
    decided_by: str | None = None
    done_by: str | None = None
    witness: str | None = None
    opened_because: str | None = None
    note: str | None = None
    invented: bool = False
    boat: Pairs = ()
    services: Pairs = ()
    own_rates: Pairs = ()
    trip: Pairs = ()
    hours_away: float | None = None
    happened: Pairs = ()
    seen_at: Mapping[str, datetime] = field(default_factory=lambda: _NOTHING)
    changed: tuple[str, ...] = ()
    photos: tuple[Photo, ...] = ()
    done: tuple[Deed, ...] = ()
    found: str | None = None
    ended: str | None = None
    costs: Pairs = ()
    plan: Plan | None = None
    standing: Standing | None = None


def particulars_of(case: Case, book: Book, *, seen_by: str | None = None, decided_by: str | None = None,
                   done_by: str | None = None, witness: str | None = None, photos: Sequence[Photo] = (),
                   printed_at: datetime | None = None) -> Particulars:
    """The particulars that a case file holds, and those given beside it.

    Args:
        case: the case that was judged.
        book: the book it was judged with.
        seen_by: who looked, where the observations do not say.
        decided_by: who decided.
        done_by: who did the work.
        witness: who watched.
        photos: to be shown with it.
        printed_at: when the report is made.

    Raises:
        InputError: the case names something the book does not know.
    """
    from diagnose.situation import resolve

    situation = resolve(case, book)
    return Particulars(
        decided_at=case.now, printed_at=printed_at, seen_by=seen_by, decided_by=decided_by, done_by=done_by, witness=witness,
        opened_because=OPENED[case.opened_because], note=case.note, invented=case.invented,
        boat=_boat(case, book),
        own_rates=tuple((book.faults[name].title if name in book.faults else name, f"{times:g} times as often as on any boat")
                        for name, times in case.boat.own_rates.items()),
        services=tuple((book.words.service_items.get(item, item), _service(service)) for item, service in case.boat.serviced.items()),
        trip=_trip(case.trip, book, situation.hours_away), hours_away=situation.hours_away,
        happened=(*dict.fromkeys(_happened(seen, book) for seen in case.events), *_work(case, book)),
        seen_at={seen.id: seen.given.when for seen in situation.seen if seen.given.when is not None},
        photos=tuple(photos),
    )


def _boat(case: Case, book: Book) -> Pairs:
    """The facts and figures of the boat that were given, in the order of the book."""
    facts = [(fact.title, _given(fact, case.boat.arrangement[fact.id])) for fact in book.boat.facts if fact.id in case.boat.arrangement]
    return (*facts, *((figure.title, case.boat.figures[figure.id]) for figure in book.boat.figures if figure.id in case.boat.figures))


def _happened(seen: EventSeen, book: Book) -> tuple[str, str]:
    event = book.events.get(book.now_called(seen.event))
    return (event.title if event is not None else seen.event,
            f"{seen.hours_ago:g} engine hours ago" + (f": {seen.note}" if seen.note else ""))


def _work(case: Case, book: Book) -> Iterator[tuple[str, str]]:
    """The work that the case tells of, job by job with what was found in it, and what was found and is there still."""
    if case.work is None:
        return
    for name in case.work.jobs:
        faults = case.work.found.get(name)
        was = "" if faults is None else f"; found in it: {'; '.join(_fault(f, book) for f in faults) or 'nothing wrong'}"
        job = book.jobs.get(book.now_called(name))
        yield name if job is None else job.title, f"done, {case.work.hours_ago:g} engine hours ago at most{was}"
    for name in case.work.not_cured:
        yield _fault(name, book), "found for certain, and not cured yet"


def _fault(name: str, book: Book) -> str:
    fault = book.faults.get(book.now_called(name))
    return name if fault is None else mid_sentence(fault.title)


def _given(fact: BoatFact, value: str | float | bool) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return fact.values.get(str(value), str(value)) if fact.values is not None else str(value)


def _service(service: Service) -> str:
    if service.at_hours is not None:
        return f"at {service.at_hours:g} engine hours"
    if service.hours_ago is not None:
        return f"{service.hours_ago:g} engine hours ago"
    return f"on {day(service.on)}" if service.on is not None else "not known"


def _trip(trip: Trip, book: Book, hours_away: float) -> Pairs:
    aboard = trip.aboard
    spares = "; ".join(book.words.parts.get(part, part) for part in aboard.spares)
    told = (
        ("Engine hours", f"{trip.engine_hours:g}" if trip.engine_hours is not None else None),
        ("Hours away", f"{hours_away:g}"),
        ("How far from help", book.words.exposures[trip.exposure].title if trip.exposure in book.words.exposures else None),
        ("Can sail home", None if trip.can_sail is None else "yes" if trip.can_sail else "no"),
        ("People aboard", str(trip.crew) if trip.crew is not None else None),
        ("At night", "yes" if trip.night else None),
        ("A bar or a gate on the way", "yes" if trip.bar_or_gate else None),
        ("Under way now", "yes" if trip.under_way else None),
        ("Leaving", moment(trip.leaving) if trip.leaving is not None else None),
        ("Spares aboard", spares or None),
        ("Coolant aboard", aboard.coolant),
        ("Fresh water aboard", aboard.water),
        ("Bilge pump", aboard.bilge_pump),
    )
    return tuple((name, value) for name, value in told if value is not None)


# ------------------------------------------------------------------ moments in words

_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December")


def day(of: date) -> str:
    """A date with its month in letters, which nobody reads the wrong way round."""
    return f"{of.day} {_MONTHS[of.month - 1]} {of.year}"


def moment(of: datetime | date) -> str:
    """A moment in words: the day of the week, the date, the time of day, and the time zone where one is known."""
    words = f"{_DAYS[of.weekday()]} {day(of)}"
    if not isinstance(of, datetime):
        return words
    shift = of.strftime("%z")
    return f"{words}, {of:%H:%M}" + (f" (UTC{shift[:3]}:{shift[3:5]})" if shift else "")
