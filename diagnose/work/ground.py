"""What a decision about work rests on: chances of the faults, what leaving them costs until some moment, what curing them takes.

Losses are in hours of delay one would accept, as in the departure decision: those of this trip's exposure, whatever the moment looked
to. Expected losses of several faults add up, so a consequence that two of them could bring counts twice. Work is turned into the
same hours by `work` of rules/shared/words.yaml.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np

from diagnose import lives
from diagnose.assessment import Assessment
from diagnose.case import Case
from diagnose.knowledge.book import Book
from diagnose.knowledge.jobs import Job, Part
from diagnose.knowledge.model import Consequence, Fault
from diagnose.knowledge.worksteps import FIRST_TIME, setups_of
from diagnose.machinery import Machinery
from diagnose.network.belief import Query
from diagnose.network.nodes import Array
from diagnose.prior import HOURS_A_YEAR, prior_of
from diagnose.prognosis import LEFT_OF_TRIP, Prognosis, losses_of
from diagnose.situation import Situation, resolve
from diagnose.triage import Assessing

Moment = Literal["trip", "port", "season", "opened-again"]
MOMENTS: tuple[Moment, ...] = ("trip", "port", "season", "opened-again")
Hand = Literal["skilled", "first_time"]
SURE = 1.0 - 1e-12
"""A fault this likely leaves no room for another beginning of it."""


@dataclass(frozen=True)
class Until:
    """A moment until which something is left as it is: engine hours and hours by the clock from now."""

    moment: Moment
    title: str
    run_hours: float
    away_hours: float


@dataclass(frozen=True)
class Ground:
    """One case with its assessment, ready to be asked what leaving and curing cost."""

    assessment: Assessment
    case: Case
    book: Book
    situation: Situation
    losses: Mapping[Consequence, float]

    @classmethod
    def of(cls, assessment: Assessment, case: Case, book: Book) -> Ground:
        """The ground of one case.

        Raises:
            InputError: the case does not fit the book.
        """
        situation = resolve(case, book)
        return cls(assessment, case, book, situation, losses_of(book, situation))

    # -------------------------------------------------------------- moments

    @cached_property
    def untils(self) -> dict[Moment, Until]:
        """The moments until which something can be left."""
        s, work = self.situation, self.book.words.work
        season, again = work.season_share, work.open_again_years
        return {
            "trip": Until("trip", f"this trip, {s.trip_hours:g} engine hours", s.trip_hours, s.hours_away),
            "port": Until("port", f"the next port, {work.port_hours:g} engine hours on", work.port_hours,
                          max(24.0 * work.port_days, work.port_hours)),
            "season": Until("season", f"the season's end, {season * s.hours_a_year:g} engine hours on", season * s.hours_a_year,
                            season * HOURS_A_YEAR),
            "opened-again": Until("opened-again", f"it is opened again, {again * s.hours_a_year:g} engine hours on",
                                  again * s.hours_a_year, again * HOURS_A_YEAR),
        }

    @cached_property
    def _prognoses(self) -> dict[Moment, Prognosis]:
        kept = Machinery.of(self.book).ends
        return {m: Prognosis(self.book, replace(self.situation, trip_hours=u.run_hours, hours_away=u.away_hours), self.losses, {}, kept)
                for m, u in self.untils.items()}

    # -------------------------------------------------------------- chances

    def chance(self, fault: str) -> float:
        """P(it is there now), from the assessment."""
        return self.assessment.all_probabilities.get(fault, 0.0)

    def stages(self, fault: Fault) -> Array:
        """How its stages share the chance, if it is there: as assessed, or, where it has no line of its own, as at any look."""
        line = next((r for r in self.assessment.ranking if r.fault == fault.id and r.stages), None)
        if line is None or sum(line.stages.values()) <= 0:
            shares = prior_of(fault, self.situation, self.situation.own_rates.get(fault.id, 1.0))[1:]
        else:
            shares = np.array([line.stages.get(s.id, 0.0) for s in fault.stages])
        return np.asarray(shares / shares.sum())

    def any_of(self, groups: Sequence[Iterable[str]]) -> list[float]:
        """P(at least one of these faults is there), of each group, exactly: rivals and companions are not taken as independent."""
        named = [[f for f in dict.fromkeys(group) if self.chance(f) > 0] for group in groups]
        joint = [g for g in named if len(g) > 1]
        found: dict[tuple[str, ...], float] = {(g[0],): self.chance(g[0]) for g in named if len(g) == 1}
        if joint:
            _, _, belief, _ = Assessing(self.case, self.book, Machinery.of(self.book)).believe()
            absent = [{f: np.array([1.0] + [0.0] * len(self.book.faults[f].stages)) for f in g} for g in joint]
            answers = belief.ask([Query(), *(Query(states=states) for states in absent)], backward=False)
            found.update({tuple(g): min(1.0, max(0.0, 1.0 - answers.total(1 + i))) for i, g in enumerate(joint)})
        return [found.get(tuple(g), 0.0) for g in named]

    def begins(self, fault: Fault, until: Moment, *, new: bool = False) -> float:
        """P(it begins before that moment | it is not there now): by the part's age where known, else at the book's rate.

        Args:
            fault: of the book.
            until: the moment.
            new: as if the part had just been renewed. A fault that does not age begins on a new part as often as on an old one.
        """
        hours, ageing, s = self.untils[until].run_hours, fault.ages_with, self.situation
        own = s.own_rates.get(fault.id, 1.0)
        if ageing is not None and (new or ageing.since in s.ages):
            life = ageing.life.value * (s.hours_a_year if ageing.life.unit == "year" else 1.0)
            age = 0.0 if new else s.ages[ageing.since]
            worn = lives.worn_between(age + hours, hours, ageing.shape, life, ageing.life.spread)
            return -math.expm1(own * math.log1p(-min(worn, SURE)))
        return -math.expm1(-own * fault.rate.per_year / s.hours_a_year * hours)

    # -------------------------------------------------------------- losses

    def worst(self, fault: Fault) -> float:
        """What its end costs on average [h of delay]."""
        return sum(o.chance * self.losses.get(o.kind, 0.0) for o in fault.outcomes)

    def ends(self, fault: Fault, until: Moment) -> float:
        """P(it has ended in its consequence before that moment | it is there now)."""
        return float(self.stages(fault) @ self._prognoses[until].ends(fault))

    def ends_by_stage(self, fault: Fault, until: Moment) -> Array:
        """The same for each stage it may be in."""
        return self._prognoses[until].ends(fault)

    def ends_fresh(self, fault: Fault, until: Moment) -> float:
        """P(it has ended before that moment | it begins before it, at a moment not known)."""
        u = self.untils[until]
        spans = [stage.lasts for stage in fault.stages]
        chances = [lives.chance_of_end(spans, [left * (u.away_hours if s.clock == "always" else u.run_hours) for s in fault.stages],
                                       residual=False) for left in LEFT_OF_TRIP]
        return sum(chances) / len(chances)

    def loss(self, fault: Fault, until: Moment) -> float:
        """Expected loss [h of delay] of leaving it until that moment, with the chance that it is there."""
        return self.chance(fault.id) * self.ends(fault, until) * self.worst(fault)

    # -------------------------------------------------------------- work

    def parts_of(self, job: Job) -> tuple[Part, ...]:
        """The parts of a job that this boat may take: those of other boats left out, where it is known that she is none of them."""
        s = self.situation
        return tuple(p for p in job.order if all(s.facts.get(f) == v or f not in s.known_facts for f, v in p.only_on.items()))

    def missing(self, job: Job) -> tuple[str, ...]:
        """Parts that must be there before the first bolt and are not aboard."""
        return tuple(dict.fromkeys(p.part for p in job.order if p.need == "must" and not p.only_when_apart
                                   and p.part not in self.situation.parts))

    def buying(self, job: Job) -> float:
        """What buying its missing parts counts [h of delay]."""
        ordering, each = self.book.words.ordering, self.book.words.work.part_hours
        counts = [ordering[p].counts_hours if p in ordering else None for p in self.missing(job)]
        return sum(each if c is None else c for c in counts)

    def lead_days(self, parts: Iterable[str]) -> float:
        """Days until the last of these parts is there."""
        ordering, otherwise = self.book.words.ordering, self.book.words.work.lead_days
        return max((ordering[p].lead_days if p in ordering else otherwise for p in parts), default=0.0)

    def quickest(self, fault: str, hand: Hand = "first_time") -> Job | None:
        """The job that cures a fault with the least work and buying."""
        jobs = self.book.jobs_for.get(fault, ())
        work = self.book.words.work.hour_now
        return min(jobs, key=lambda j: (work * full_minutes(j, self.book, hand) / 60.0 + self.buying(j), j.id), default=None)


def setup_minutes(setups: Iterable[str], book: Book, hand: Hand) -> float:
    """Minutes of these set-ups, there and back."""
    slower = FIRST_TIME if hand == "first_time" else 1.0
    return sum(slower * (s.minutes + s.restore_minutes) for s in (book.words.setups[n] for n in setups))


def own_minutes(job: Job, book: Book, hand: Hand) -> float:
    """Minutes of a job's own steps, its set-ups left out; of a job without steps, what its whole time leaves for them."""
    if job.steps:
        return sum(float(getattr(step.minutes, hand)) for step in job.steps)
    whole: float = getattr(job.minutes, hand)
    return max(1.0, whole - setup_minutes(setups_of(book, job.setups), book, hand))


def full_minutes(job: Job, book: Book, hand: Hand) -> float:
    """Minutes of a job done by itself, with all its set-ups, there and back."""
    return own_minutes(job, book, hand) + setup_minutes(setups_of(book, job.setups), book, hand)
