"""What a report says of a case that lies in the record: what was done, what it was, what it cost, which answers were changed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal

from diagnose.record.entries import Assessed, Closed, Found, HoursEntry, Observed, Photo, Reopened, ServiceEntry, TakenBack
from diagnose.record.store import CaseHead, Stored
from diagnose.show.entrywords import clock, found_of, said_of
from diagnose.show.report.particulars import Deed, Pairs, Particulars, moment
from diagnose.show.report.telling import opened

TOGETHER = "Services and parts together"
IN_THE_END = "What it cost in the end, as it was told"


@dataclass(frozen=True)
class Told:
    """All that is on record around one case.

    Attributes:
        head: the case.
        own: its entries, those taken back among them, in the order they were added.
        hers: entries of the boat that belong to no case, and those of this one.
        titles: of ids of the book.
    """

    head: CaseHead
    own: Sequence[Stored]
    hers: Sequence[Stored]
    titles: Mapping[str, str]

    @property
    def until(self) -> datetime | None:
        """When the case was closed, or None if it is open."""
        closings = sorted((s.entry.at, s.id) for s in self.own if isinstance(s.entry, Closed) and not s.taken_back)
        return closings[-1][0] if self.head.closed and closings else None

    def within(self, at: datetime) -> bool:
        """Whether a moment lies between the opening of the case and its end."""
        return self.head.opened <= at and (self.until is None or at <= self.until)

    @property
    def photos(self) -> tuple[Photo, ...]:
        """Photos of the case, and those of the boat taken note of in its time."""
        return tuple(s.entry for s in self.hers if isinstance(s.entry, Photo) and not s.taken_back
                     and (s.case == self.head.id or self.within(s.entry.at)))


def with_record(about: Particulars, told: Told, *, costs: bool = False) -> Particulars:
    """The particulars of a case with what the record adds to them; what was given beside it stands.

    Args:
        about: what the case itself tells, and what was given.
        told: the entries.
        costs: whether what it cost is to be shown.
    """
    services = [*_services(told)]
    deeds = [_deed(entry, told.titles, costs) for entry in services]
    deeds += [Deed(_turn(s.entry), when=s.entry.at.astimezone(), by=s.entry.by)
              for s in told.own if isinstance(s.entry, Closed | Reopened) and not s.taken_back]
    findings = sorted((s for s in told.own if isinstance(s.entry, Found) and not s.taken_back), key=lambda s: (s.entry.at, s.id))
    found = findings[-1].entry if findings else None
    looked = _names(s.entry.by for s in told.own if isinstance(s.entry, Observed) and not s.taken_back)
    judged = [s.entry for s in told.own if isinstance(s.entry, Assessed) and not s.taken_back]
    return replace(
        about,
        seen_by=about.seen_by or looked, decided_by=about.decided_by or (judged[-1].by if judged else None),
        done_by=about.done_by or _names(entry.by for entry in services), done=(*about.done, *deeds),
        found=found_of(found, told.titles) if isinstance(found, Found) else about.found,
        ended=_ended(told) or about.ended, changed=(*about.changed, *_changed(told)),
        costs=(*about.costs, *_costs(services, found)) if costs else about.costs,
    )


def _names(given: Iterator[str | None]) -> str | None:
    return ", ".join(dict.fromkeys(name for name in given if name)) or None


def _services(told: Told) -> Iterator[ServiceEntry]:
    """Services and parts of the time of the case; what was done earlier and only told then is none."""
    read = [s.entry.engine_hours for s in told.hers if isinstance(s.entry, HoursEntry) and not s.taken_back
            and s.entry.at <= told.head.opened]
    for stored in told.hers:
        entry = stored.entry
        if not isinstance(entry, ServiceEntry) or stored.taken_back:
            continue
        before = entry.on < told.head.opened.astimezone().date() if entry.on is not None else bool(read) and (entry.hours or 0.0) < read[-1]
        if not before and (stored.case == told.head.id or told.within(entry.at)):
            yield entry


def _ended(told: Told) -> str | None:
    """How a case that is closed was closed last, and when."""
    head, until = told.head, told.until
    if until is None or head.ended is None:
        return None
    return f"{opened(head.ended)}, {moment(until.astimezone())}.{_unproved(head.unproved, ' ')}"


def _turn(entry: Closed | Reopened) -> str:
    """The end of a case, with why it is not proved, or that it was opened again."""
    if isinstance(entry, Reopened):
        return f"Case opened again: {entry.why}" if entry.why else "Case opened again"
    return f"Case closed: {entry.how}{_unproved(entry.unproved, '. ')}"


def _unproved(why: str | None, after: str) -> str:
    return f"{after}Not proved: {why}" if why else ""


def _deed(entry: ServiceEntry, titles: Mapping[str, str], costs: bool) -> Deed:
    what = entry.part or titles.get(str(entry.item), str(entry.item))
    return Deed(f"{what}: {entry.note}" if entry.note else what, when=entry.on or entry.at.astimezone(), by=entry.by,
                engine_hours=entry.hours, cost=entry.cost if costs else None)


def _costs(services: Sequence[ServiceEntry], found: object) -> Pairs:
    """What the services of the case come to in each currency, and what was told with the finding."""
    sums: dict[str, Decimal] = {}
    for entry in services:
        if entry.cost is not None:
            amount, currency = entry.cost.split(" ")
            sums[currency] = sums.get(currency, Decimal(0)) + Decimal(amount)
    told: Pairs = ((TOGETHER, "; ".join(f"{amount} {currency}" for currency, amount in sums.items())),) if sums else ()
    return (*told, (IN_THE_END, found.cost)) if isinstance(found, Found) and found.cost is not None else told


def _changed(told: Told) -> Iterator[str]:
    """Each answer that was taken back, and each that another to the same question took the place of."""
    reasons = {s.entry.entry: s.entry for s in told.own if isinstance(s.entry, TakenBack) and not s.taken_back}
    standing: dict[tuple[object, ...], Observed] = {}
    for stored in sorted(told.own, key=lambda s: (s.entry.at, s.id)):
        entry = stored.entry
        if not isinstance(entry, Observed):
            continue
        said = said_of(entry, told.titles)
        if stored.taken_back:
            undone = reasons.get(stored.id)
            when = f" on {clock(undone.at)}" if undone is not None else ""
            why = f": {undone.reason}" if undone is not None and undone.reason else ""
            yield f"{said}; taken back{when}{why}"
            continue
        seen = entry.observation
        key = (seen.symptom, seen.reading, seen.state, seen.epoch, seen.at_rpm if seen.reading else None)
        before = standing.get(key)
        standing[key] = entry
        if before is not None and said != (was := said_of(before, told.titles)):
            yield f"{was}; on {clock(entry.at)} instead: {said}"
