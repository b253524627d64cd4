"""What a trend is told on: the unit of a symptom or reading, its grades in order, and the limits between them, from the book."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from diagnose.knowledge.book import Book
from diagnose.knowledge.model import Band, EngineState, Fault, Measurand, Symptom
from diagnose.seen import leak_grade
from diagnose.situation import LEAK_UNIT

Side = Literal["over", "under"]
HALF = 0.5
"""A service item is a symptom's own where at least this share of what shows on the symptom ages with it."""
_HALVINGS = 60


@dataclass(frozen=True)
class Limit:
    """The edge at which a worse grade begins: its value, that grade and what it says, and the side that is worse."""

    value: float
    place: int
    grade: str
    says: str
    side: Side


@dataclass(frozen=True)
class Scale:
    """How one symptom or reading of the book is told over time.

    `unit` is empty where it is told by grades alone; `grades` are empty for a reading, which says nothing by itself.
    """

    id: str
    title: str
    states: tuple[EngineState, ...]
    unit: str
    possible: tuple[float, float] | None
    sigma: float
    grades: tuple[str, ...]
    says: tuple[str, ...]
    limits: tuple[Limit, ...]
    leak: bool

    def next_limit(self, value: float) -> Limit | None:
        """The first limit beyond a value, on the side that is worse; None in the worst grade, or where there are none."""
        return next((edge for edge in self.limits if (value < edge.value if edge.side == "over" else value > edge.value)), None)


def scale_of(book: Book, name: str) -> Scale | None:
    """The scale of a symptom or reading by its present or an old id, or None where the book does not know it."""
    current = book.now_called(name)
    kept: dict[str, Scale] = book.__dict__.setdefault("_scales", {})  # made once and kept on the book
    if current not in kept:
        if current in book.readings:
            kept[current] = _of_reading(book.readings[current])
        elif current in book.symptoms:
            kept[current] = _of_symptom(book.symptoms[current])
    return kept.get(current)


def _of_reading(kind: Measurand) -> Scale:
    return Scale(kind.id, kind.title, kind.states, kind.unit, kind.possible, kind.sigma, (), (), (), False)


def _of_symptom(symptom: Symptom) -> Scale:
    says = tuple((g.says or "") if isinstance(g, Band) else g for g in symptom.grades.values())
    unit, possible, sigma = "", None, 0.0
    if symptom.measure is not None:
        unit, possible, sigma = symptom.measure.unit, symptom.measure.possible, symptom.measure.sigma
    elif symptom.leak is not None:
        unit, possible = LEAK_UNIT, (0.01, 1e6)
    limits = _edges(symptom, says) if symptom.measure is not None else _leak_edges(symptom, says) if symptom.leak is not None else ()
    return Scale(symptom.id, symptom.title, symptom.states, unit, possible, sigma, tuple(symptom.grades), says, limits,
                 symptom.measure is None and symptom.leak is not None)


def _edges(symptom: Symptom, says: tuple[str, ...]) -> tuple[Limit, ...]:
    """Where each worse band begins: at its lower end if the bands climb, at its upper end if they fall."""
    found = []
    bands = [(grade, band) for grade, band in symptom.grades.items() if isinstance(band, Band)]
    for place, ((_, milder), (grade, band)) in enumerate(pairwise(bands), start=1):
        if band.at_least is not None and band.at_least == milder.below:
            found.append(Limit(band.at_least, place, grade, says[place], "over"))
        elif band.below is not None:
            found.append(Limit(band.below, place, grade, says[place], "under"))
    return tuple(found)


def _leak_edges(symptom: Symptom, says: tuple[str, ...]) -> tuple[Limit, ...]:
    """The rates at which a measured leak is taken for the next grade [mL/h]; the first begins at the least of its range."""
    assert symptom.leak is not None
    rates = [(grade, *ends) for grade, ends in symptom.leak.rates.items()]
    found = [Limit(rates[0][1], 1, rates[0][0], says[1], "over")]
    for place, ((_, low, _high), (grade, _low, high)) in enumerate(pairwise(rates), start=2):
        below, above = math.log(low), math.log(high)
        for _ in range(_HALVINGS):
            middle = (below + above) / 2.0
            below, above = (below, middle) if leak_grade(symptom, math.exp(middle)) >= place else (middle, above)
        found.append(Limit(math.exp(above), place, grade, says[place], "over"))
    return tuple(found)


def own_items(book: Book, name: str) -> frozenset[str]:
    """Service items of parts whose ageing is most of what shows on a symptom."""
    owners = [o for o in book.owners if any(s.symptom == name for s in o.shows)]
    items = [o.ages_with.since for o in owners if isinstance(o, Fault) and o.ages_with is not None]
    return frozenset(item for item in items if items.count(item) >= HALF * len(owners))


def near_items(book: Book, name: str) -> frozenset[str]:
    """Service items of parts whose ageing can move a symptom or a reading, directly or through a hidden condition."""
    told = {s.id for s in book.symptoms.values() for w in s.worked_out if any(i.reading == name for i in w.takes.values())} | {name}
    hidden = _conditions_above(book, told)
    return frozenset(f.ages_with.since for f in book.faults.values() if f.ages_with is not None
                     and any(s.symptom in told or s.condition in hidden for s in f.shows))


def _conditions_above(book: Book, symptoms: Iterable[str]) -> set[str]:
    """Conditions that show on one of these symptoms, and those that show on such a condition."""
    told, hidden = set(symptoms), set[str]()
    while True:
        more = {c.id for c in book.conditions.values() if any(s.symptom in told or s.condition in hidden for s in c.shows)}
        if more <= hidden:
            return hidden
        hidden |= more
