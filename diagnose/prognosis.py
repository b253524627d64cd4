"""From what is believed to what would happen on this trip: the chance of each consequence before arrival.

The chance that nothing of a kind happens is one more weighting of the fault stages, so it is exact over the
joint of all faults: P(worst at least k) = 1 - Z(stages weighted by 1-q) / Z. Onset during the trip is kept
apart, as what the same boat would risk if she were sound today.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np

from diagnose import lives
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import Consequence, Fault
from diagnose.network.belief import Belief, Query
from diagnose.network.nodes import UNKNOWN_PROFILES, Array
from diagnose.situation import Situation

_SOUND = np.ones(1)
LEFT_OF_TRIP = (1 / 6, 1 / 2, 5 / 6)
"""Shares of the trip that may be left when a fault begins on the way."""
UNKNOWN_ENDS = 0.1
"""Chance that a fault this book does not know ends, within the trip, in the worst its signs can mean."""


@dataclass(frozen=True)
class Risks:
    """Chance of each consequence or worse, and the expected loss [h of delay]."""

    at_least: dict[Consequence, float]
    expected: float


@dataclass(frozen=True)
class Course:
    """A way to go: which faults count, with working limits or without, with some of them cured first."""

    faults: frozenset[str]
    limited: bool = False
    cured: frozenset[str] = frozenset()


class Prognosis:
    """Ends of the faults on one trip, and what a belief makes of them."""

    def __init__(self, book: Book, situation: Situation, losses: Mapping[Consequence, float],
                 worst_of_unknown: Mapping[str, Consequence], kept: dict[tuple[object, ...], Array]) -> None:
        self._book, self._situation = book, situation
        self.losses = dict(losses)
        # consequences that cost the same are one level
        self._levels: list[Consequence] = list({losses[k]: k for k in sorted(losses, reverse=True) if losses[k] > 0}.values())
        self._levels.sort(key=lambda k: losses[k])
        self._worst_of_unknown = dict(worst_of_unknown)
        self._kept = kept
        self._surviving: dict[tuple[Consequence, bool], dict[str, Array]] = {}

    def ends(self, fault: Fault) -> Array:
        """P(the last stage ends before arrival) for each stage the fault may be in now."""
        key = (fault.id, self._situation.trip_hours, self._situation.hours_away)
        if key not in self._kept:
            self._kept[key] = self._ends(fault)
        return self._kept[key]

    def _ends(self, fault: Fault) -> Array:
        spans = [s.lasts for s in fault.stages]
        hours = [self._situation.hours_away if s.clock == "always" else self._situation.trip_hours for s in fault.stages]
        return np.array([lives.chance_of_end(spans[i:], hours[i:]) for i in range(len(spans))])

    def outcome_share(self, fault: Fault, level: Consequence) -> float:
        """Of the ends of this fault, the share that is at least this bad."""
        bar = self.losses[level]
        return min(1.0, sum(o.chance for o in fault.outcomes if self.losses.get(o.kind, 0.0) >= bar))

    def stage_losses(self, fault: Fault, *, limited: bool = False) -> Array:
        """Expected loss [h] of leaving each stage of a fault alone for the trip."""
        worst = sum(o.chance * self.losses.get(o.kind, 0.0) for o in fault.outcomes)
        return self.ends(fault) * worst * (fault.limits_leave if limited and fault.limits else 1.0)

    def risks(self, belief: Belief, courses: Sequence[Course], beside: Sequence[Query] = ()) -> tuple[list[Risks], list[float]]:
        """Exact risks of each course, and the evidence of the queries `beside`, all in one pass."""
        queries = [Query()]
        for course in courses:
            queries += [Query(states=self._survival(belief, level, course)) for level in self._levels]
        first_beside = len(queries)
        answers = belief.ask([*queries, *beside], backward=False)
        found = []
        for i in range(len(courses)):
            chances = [max(0.0, -math.expm1(answers.log_evidence[1 + i * len(self._levels) + k] - answers.scale))
                       for k in range(len(self._levels))]
            found.append(self._risks(chances))
        return found, [answers.total(first_beside + i) for i in range(len(beside))]

    def _risks(self, chances: Sequence[float]) -> Risks:
        expected, below = 0.0, 0.0
        for level, chance in zip(self._levels, chances, strict=True):
            expected += (self.losses[level] - below) * chance
            below = self.losses[level]
        by_loss = {self.losses[level]: chance for level, chance in zip(self._levels, chances, strict=True)}
        return Risks({k: by_loss[loss] for k, loss in self.losses.items() if loss > 0}, expected)

    def _survival(self, belief: Belief, level: Consequence, course: Course) -> dict[str, Array]:
        """Per fault, the chance by stage that it does nothing this bad."""
        key = (level, course.limited)
        if key not in self._surviving:
            self._surviving[key] = dict(self._weights(belief, level, course.limited))
        counted = course.faults - course.cured
        return {n: w for n, w in self._surviving[key].items() if n in counted}

    def _weights(self, belief: Belief, level: Consequence, limited: bool) -> Iterator[tuple[str, Array]]:
        known = self._book_weights(level, limited)
        for name in belief.names:
            if name in known:
                yield name, known[name]
            kind = self._worst_of_unknown.get(name)
            if kind is not None and self.losses.get(kind, 0.0) >= self.losses[level]:
                yield name, np.array([1.0] + [1.0 - UNKNOWN_ENDS] * len(UNKNOWN_PROFILES))

    def _book_weights(self, level: Consequence, limited: bool) -> dict[str, Array]:
        """Weights of all faults of the book, kept for trips of the same length and losses."""
        key = ("weights", level, limited, self._trip_key())
        kept = cast("dict[tuple[object, ...], dict[str, Array]]", self._kept)
        if key not in kept:
            kept[key] = {}
            for name, ends in self._all_ends().items():
                fault = self._book.faults[name]
                share = self.outcome_share(fault, level) * (fault.limits_leave if limited and fault.limits else 1.0)
                if share > 0:
                    kept[key][name] = np.concatenate([_SOUND, 1.0 - ends * share])
        return kept[key]

    def _all_ends(self) -> dict[str, Array]:
        """The ends of all faults of the book that cost something, kept for trips of the same length."""
        key = ("ends", self._situation.trip_hours, self._situation.hours_away)
        kept = cast("dict[tuple[object, ...], dict[str, Array]]", self._kept)
        if key not in kept:
            kept[key] = {name: self.ends(fault) for name, fault in self._book.faults.items()}
        return kept[key]

    def _trip_key(self) -> tuple[object, ...]:
        situation = self._situation
        return (tuple(sorted(self.losses.items())), situation.trip_hours, situation.hours_away, situation.hours_a_year,
                tuple(sorted(situation.own_rates.items())))

    def onset(self, faults: Collection[str]) -> Risks:
        """Faults that begin on the way and end before arrival."""
        key = ("onset", tuple(sorted(faults)), self._trip_key())
        if key not in self._kept:
            self._kept[key] = np.array(self._onsets(sorted(faults)))
        return self._risks([float(c) for c in self._kept[key]])

    def _onsets(self, faults: Sequence[str]) -> list[float]:
        situation = self._situation
        chances = []
        for level in self._levels:
            sound = 0.0
            for name in faults:
                fault = self._book.faults[name]
                share = self.outcome_share(fault, level)
                if share > 0:
                    rate = situation.own_rates.get(name, 1.0) * fault.rate.per_year / situation.hours_a_year * situation.trip_hours
                    sound += rate * share * self._fresh(fault)
            chances.append(-math.expm1(-sound))
        return chances

    def _fresh(self, fault: Fault) -> float:
        """P(a fault that begins at a random moment of the trip ends before arrival)."""
        key = ("fresh", fault.id, self._situation.trip_hours, self._situation.hours_away)
        if key not in self._kept:
            spans = [s.lasts for s in fault.stages]
            total = 0.0
            for left in LEFT_OF_TRIP:
                hours = [left * (self._situation.hours_away if s.clock == "always" else self._situation.trip_hours)
                         for s in fault.stages]
                total += lives.chance_of_end(spans, hours, residual=False) / len(LEFT_OF_TRIP)
            self._kept[key] = np.array([total])
        return float(self._kept[key][0])


def losses_of(book: Book, situation: Situation) -> dict[Consequence, float]:
    """Loss of each consequence on this trip [h]: the book's for the exposure, the sail's share, the case's own."""
    losses: dict[Consequence, float] = dict(book.words.exposures[situation.exposure].loses)
    if situation.can_sail:
        losses["engine-lost"] *= book.words.can_sail_factor
    losses.update(situation.case.trip.losses.by_consequence)
    return losses


def stay_hours(book: Book, situation: Situation) -> float:
    """What staying costs on this trip [h]: the case's own figure, or the book's."""
    return situation.case.trip.losses.stay or book.words.stay_hours


def short_end(fault: Fault, stage: int) -> float:
    """Hours until the consequence that one boat in twenty does not reach, summed by the short ends (a rule of
    thumb for words, not for the decision); infinite when it does not move on."""
    spans = [s.lasts for s in fault.stages[stage:]]
    if any(s is None for s in spans):
        return math.inf
    # the current stage is met part-way: half its short end is left
    return sum(s[0] for s in spans if s is not None) - (spans[0][0] * 0.5 if spans[0] else 0.0)
