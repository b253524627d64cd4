"""What this boat's own history says of how often each fault begins on her.

The book gives a rate and its spread; that is a gamma. What was found for certain in the engine hours on record moves
it, as a count does, and what was not found in them moves it too. It is a view of the log: take a finding back, and the
rate is as it was. Other boats count only if that is asked for.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from diagnose.case import Boat, Case
from diagnose.chain.compile import LIVE
from diagnose.knowledge.book import Book
from diagnose.machinery import Machinery
from diagnose.record.entries import Found
from diagnose.record.fold import Meter, boat_of, case_of
from diagnose.record.gamma import Gamma, rate_within
from diagnose.record.store import Record, Stored
from diagnose.situation import Situation, resolve

LEAST, MOST = 0.05, 20.0
"""Bounds of the factor on a base rate."""
WORTH_TELLING = 0.05
"""A factor that differs from one by less is left at one."""


@dataclass(frozen=True)
class Learned:
    """One fault's rate before and after this boat's history, and the factor between their means."""

    fault: str
    title: str
    found: int
    prior: Gamma
    posterior: Gamma
    factor: float


@dataclass(frozen=True)
class Learning:
    """What was learned of one boat: over how many engine hours and of which boats, fault by fault, the largest moves first.

    `left_out` are findings that do not count: not certain, or of faults the book does not know.
    """

    boat: str
    boats: tuple[str, ...]
    hours: float
    years: float
    lines: tuple[Learned, ...]
    left_out: tuple[str, ...]

    @property
    def own_rates(self) -> dict[str, float]:
        """Factors for `Boat.own_rates`: of the faults whose rate moved enough to be worth telling."""
        return {line.fault: line.factor for line in self.lines if abs(line.factor - 1.0) >= WORTH_TELLING}


def learn(record: Record, boat: str, book: Book, *, across: bool = False, before: datetime | None = None,
          without: str | None = None) -> Learning:
    """What the record says of the rates of one boat.

    Args:
        record: where the findings are.
        boat: whose rates.
        book: the base rates and their spreads.
        across: count the findings and hours of all boats in the record.
        before: leave out what was found or run at or after this moment.
        without: a case whose own finding is left out.

    Raises:
        RecordError: there is no such boat, or the record cannot be read.
        InputError: the boat is described by facts that the book does not know.
    """
    name = record.boat_named(boat)
    boats = record.boats() if across else (name,)
    counts: Counter[str] = Counter()
    left_out: list[str] = []
    hours = years = 0.0
    for each in boats:
        for stored in findings(record, each):
            if stored.case != without and (before is None or stored.entry.at < before):
                _count(stored, book, counts, left_out)
        run = _run(record, each, before)
        hours += run
        years += run / _situation(boat_of(record, each), book).hours_a_year
    possible = _possible(boat_of(record, name), book)
    lines = [_line(book, fault, counts[fault], years) for fault in book.faults if fault in possible or counts[fault]]
    lines.sort(key=lambda line: (-max(line.factor, 1.0 / line.factor), line.fault))
    return Learning(name, boats, hours, years, tuple(lines), tuple(left_out))


def findings(record: Record, boat: str | None = None) -> list[Stored]:
    """The last word on what it was, of each case that has one."""
    latest: dict[str, Stored] = {}
    for stored in record.entries(boat=boat, kinds=("found",)):
        name = str(stored.case)
        if not stored.taken_back and (name not in latest or latest[name].entry.at <= stored.entry.at):
            latest[name] = stored
    return sorted(latest.values(), key=lambda s: s.id)


def learned_case(record: Record, case: str, book: Book, *, across: bool = False, now: datetime | None = None) -> Case:
    """A case of the record as it is to be judged: with this boat's own rates, as they were when it was opened.

    What was found in the case itself, or after it was opened, does not count: it is what is to be told.

    Raises:
        RecordError, InputError: see `fold.case_of` and `learn`.
    """
    head = record.case_named(case)
    folded = case_of(record, head.id, now=now)
    rates = learn(record, head.boat, book, across=across, before=head.opened, without=head.id).own_rates
    return folded.model_copy(update={"boat": folded.boat.model_copy(update={"own_rates": rates})})


def _count(stored: Stored, book: Book, counts: Counter[str], left_out: list[str]) -> None:
    entry = stored.entry
    if not isinstance(entry, Found):
        return
    for fault in entry.faults:
        known = book.now_called(fault)
        if entry.sure != "certain":
            left_out.append(f"{fault} ({stored.case}): likely, not certain")
        elif known not in book.faults:
            left_out.append(f"{fault} ({stored.case}): not in this book")
        else:
            counts[known] += 1


def _run(record: Record, boat: str, before: datetime | None) -> float:
    """Engine hours between the first and the last reading on record [h]."""
    standing: Sequence[Stored] = [s for s in record.entries(boat=boat, kinds=("hours", "service"))
                                  if not s.taken_back and (before is None or s.entry.at < before)]
    return Meter(standing).covered


def _situation(boat: Boat, book: Book) -> Situation:
    """What the facts of a boat come to; her services do not matter here."""
    return resolve(Case(opened_because="routine-look", boat=Boat(name=boat.name, arrangement=boat.arrangement)), book)


def _possible(boat: Boat, book: Book) -> frozenset[str]:
    """Faults that a boat arranged like this can have: hours without any other say nothing."""
    machinery = Machinery.of(book)
    arrangement = machinery.arrangement(_situation(boat, book).facts)
    net = machinery.net(frozenset(str(f["n"]) for f in arrangement.facts.values() if str(f["n"]).startswith(LIVE)))
    return frozenset(net.ids[node] for node in net.of_kind("fault"))


def _line(book: Book, fault: str, found: int, years: float) -> Learned:
    known = book.faults[fault]
    prior = rate_within(known.rate.per_year, known.rate.spread)
    posterior = prior.after(found, years)
    factor = min(max(posterior.mean / prior.mean, LEAST), MOST)
    return Learned(fault, known.title, found, prior, posterior, float(f"{factor:.3g}"))
