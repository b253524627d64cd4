"""Which jobs belong in the plan: curing a fault now against leaving it, in hours of delay, over every set of jobs.

The cost of a set is the work of its jobs, their set-ups paid once, and what must be bought; the expected loss of each fault left;
and the same work later for what is there and was left. A fault below `likely` is looked for first. The least cost wins.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from diagnose.errors import InputError
from diagnose.knowledge.jobs import Job
from diagnose.knowledge.model import RUNNING, Check
from diagnose.knowledge.text import did_you_mean
from diagnose.knowledge.worksteps import setups_of
from diagnose.network.nodes import Array
from diagnose.rank import speaks_for
from diagnose.wording import mid_sentence
from diagnose.work.ground import Ground, Hand, Moment, full_minutes, own_minutes, setup_minutes
from diagnose.work.results import Choice, Chosen, Leaving, Left, LeftWhy, Tries
from diagnose.work.saying import hours, hundred
from diagnose.work.tries import best_order, cost_if_one

MOST_JOBS = 14
"""Jobs of which every set is weighed; of more, those that save least by themselves are left out, and that is said."""


@dataclass(frozen=True)
class Sums:
    """The cost of every set of some jobs [h of delay]. Row i of `sets` is the set whose members are true.

    `loss` is of each fault left, chance and all; `cured` the share of a fault that each job takes away; `own` each job's work and
    buying; `setups` what each set-up takes, `uses` which job needs it; `later` of each group of faults one job cures: which faults,
    the chance that any is there, and the hours of that job later.
    """

    own: Array
    uses: Array
    setups: Array
    chance: Array
    loss: Array
    cured: Array
    later: tuple[tuple[Array, float, float], ...]

    @cached_property
    def sets(self) -> Array:
        """All sets, the empty one first."""
        count = len(self.own)
        return np.asarray((np.arange(2**count)[:, None] >> np.arange(count)) % 2 == 1)

    @cached_property
    def costs(self) -> Array:
        """The cost of each set."""
        sets = self.sets.astype(float)
        work = sets @ self.own + ((sets @ self.uses) > 0) @ self.setups
        rest = np.ones((len(sets), len(self.loss)))
        for j in range(len(self.own)):
            rest = np.minimum(rest, np.where(self.sets[:, j, None], 1.0 - self.cured[j], 1.0))
        total = work + rest @ self.loss
        for members, chance, takes in self.later:
            total += takes * np.minimum(chance, rest @ (members * self.chance))
        return np.asarray(total)

    def best(self, wanted: Sequence[bool]) -> int:
        """The row of least cost that holds all jobs wanted; of equal ones that with fewest jobs, then the first."""
        allowed = self.sets[:, np.array(wanted, dtype=bool)].all(axis=1)
        costs = np.where(allowed, np.round(self.costs, 9), np.inf)
        rows = np.flatnonzero(costs == costs.min())
        return int(min(rows, key=lambda row: (int(self.sets[row].sum()), int(row))))


class Choosing:
    """Weighs the jobs of one case, looking ahead to one moment."""

    def __init__(self, ground: Ground, until: Moment = "season", hand: Hand = "first_time", jobs: Iterable[str] = (), *,
                 only: bool = False) -> None:
        self._g, self._until, self._hand, self._only = ground, until, hand, only
        self._work = ground.book.words.work
        self._asked = self._named(jobs)
        self._likely = [n for n in sorted(ground.assessment.all_probabilities) if n in ground.book.faults
                        and ground.chance(n) >= self._work.likely]
        cures = [f for j in self._asked for f in ground.book.jobs[j].cures if ground.chance(f) > 0]
        self._faults = sorted({*self._likely, *cures})
        self.candidates, self.exact = self._find_candidates()

    def _named(self, jobs: Iterable[str]) -> tuple[str, ...]:
        book, a = self._g.book, self._g.assessment
        asked = [book.now_called(j) for j in jobs]
        for name in asked:
            if name not in book.jobs:
                raise InputError(f"job '{name}' is not in the book", right=did_you_mean(name, list(book.jobs)))
        fixes = [fix.job for fix in a.fixes] if a.decision == "fix, then go" and not self._only else []
        if self._only and len({*asked}) > MOST_JOBS:
            raise InputError(f"{len({*asked})} jobs in one plan", right=f"{MOST_JOBS} at most, and the others after them")
        return tuple(sorted({*asked, *fixes}))

    # -------------------------------------------------------------- candidates

    def _find_candidates(self) -> tuple[tuple[Job, ...], bool]:
        """Jobs that could pay in some set: one whose own work is more than all it can spare pays in none."""
        book = self._g.book
        jobs = sorted({j.id: j for f in self._faults for j in book.jobs_for.get(f, ())}.items())
        spares = {name: self._most_spared(job) - self._own_hours(job) for name, job in jobs}
        kept = [name for name in spares if (spares[name] > 0 and not self._only) or name in self._asked]
        kept += [name for name in self._asked if name not in kept]
        exact = len(kept) <= MOST_JOBS
        kept = sorted(sorted(kept, key=lambda n: (n not in self._asked, -spares.get(n, 0.0), n))[:MOST_JOBS])
        return tuple(book.jobs[n] for n in kept), exact

    def _own_hours(self, job: Job) -> float:
        return self._work.hour_now * own_minutes(job, self._g.book, self._hand) / 60.0 + self._g.buying(job)

    def _most_spared(self, job: Job) -> float:
        return sum(self._g.loss(self._g.book.faults[f], self._until) + self._g.chance(f) * self._later_hours(f)
                   for f in job.cures if f in self._faults)

    def _later_hours(self, fault: str) -> float:
        job = self._g.quickest(fault, self._hand)
        return 0.0 if job is None else self._hours_later(job)

    def _counted(self, takes: float, job: Job) -> str:
        """Hours that a job counts, in words: where parts are to be bought, they are among them."""
        return f"{hours(takes)}{', its parts among it' if self._g.buying(job) > 0 else ''}"

    def _hours_later(self, job: Job) -> float:
        """What the whole job counts at leisure: its minutes with all its set-ups, and its parts."""
        return self._work.hour_at_leisure * full_minutes(job, self._g.book, self._hand) / 60.0 + self._g.buying(job)

    # -------------------------------------------------------------- the sums

    @cached_property
    def sums(self) -> Sums:
        """The cost of every set of candidates."""
        g, book, jobs = self._g, self._g.book, self.candidates
        setups = sorted({s for j in jobs for s in setups_of(book, j.setups)})
        chance = np.array([g.chance(f) for f in self._faults])
        groups: dict[str, list[str]] = {}
        for fault in self._faults:
            quickest = g.quickest(fault, self._hand)
            if quickest is not None:
                groups.setdefault(quickest.id, []).append(fault)
        anys = g.any_of(list(groups.values()))
        later = tuple((np.array([float(f in members) for f in self._faults]), chance_of_any, self._hours_later(book.jobs[name]))
                      for (name, members), chance_of_any in zip(groups.items(), anys, strict=True))
        return Sums(
            own=np.array([self._own_hours(j) for j in jobs]),
            uses=np.array([[float(s in setups_of(book, j.setups)) for s in setups] for j in jobs]).reshape(len(jobs), len(setups)),
            setups=np.array([self._work.hour_now * setup_minutes([s], book, self._hand) / 60.0 for s in setups]),
            chance=chance,
            loss=np.array([g.loss(book.faults[f], self._until) for f in self._faults]),
            cured=np.array([[enough(j) * float(f in j.cures) for f in self._faults] for j in jobs]).reshape(len(jobs), len(self._faults)),
            later=later,
        )

    def choose(self) -> Choice:
        """The set of jobs of least cost, with what it leaves and why."""
        jobs, sums = self.candidates, self.sums
        row = sums.best([j.id in self._asked for j in jobs])
        chosen = [j for j, member in zip(jobs, sums.sets[row], strict=True) if member]
        lines = [self._chosen(j) for j in chosen]
        return Choice(
            until=self._g.untils[self._until].title,
            chosen=tuple(sorted(lines, key=lambda c: (-c.needed, c.job))),
            left=tuple(self._left(chosen)),
            tries=self._tries(chosen),
            cost=float(sums.costs[row]), cost_of_nothing=float(sums.costs[0]), cost_of_all=float(sums.costs[-1]), exact=self.exact,
        )

    # -------------------------------------------------------------- words

    def leaving(self, fault: str) -> Leaving:
        """What leaving a fault costs until each moment."""
        entry = self._g.book.faults[fault]
        return Leaving(fault=fault, title=entry.title, chance=self._g.chance(fault), trip=self._g.loss(entry, "trip"),
                       port=self._g.loss(entry, "port"), season=self._g.loss(entry, "season"))

    def _chosen(self, job: Job) -> Chosen:
        g, book = self._g, self._g.book
        faults = [f for f in job.cures if g.chance(f) > 0 and f in self._faults]
        takes = self._work.hour_now * full_minutes(job, book, self._hand) / 60.0 + g.buying(job)
        leaving = enough(job) * sum(g.loss(book.faults[f], self._until) for f in faults)
        needed = g.any_of([faults])[0]
        later = enough(job) * needed * self._hours_later(job)
        asked = job.id in self._asked
        counted = self._counted(takes, job)
        if leaving + later >= takes:
            say = (f"leaving it until {g.untils[self._until].title}, costs {hours(leaving)} of delay on average, and the work then "
                   f"{hours(later)}; now it takes {counted}")
        elif asked:
            say = f"asked for; it takes {counted}, and leaving it costs {hours(leaving + later)} on average"
        else:
            say = f"pays with the set-ups of the other jobs; alone it would take {counted} against {hours(leaving + later)}"
        return Chosen(job=job.id, title=job.title, cures=tuple(self.leaving(f) for f in faults), needed=needed,
                      minutes=full_minutes(job, book, self._hand), takes=takes, leaving=leaving, later=later, asked_for=asked,
                      afloat=job.afloat, missing=g.missing(job), look_first=self._look_first(faults, needed, takes), say=say)

    def _look_first(self, faults: Sequence[str], needed: float, takes: float) -> str | None:
        """A look before the work, where even a look that settles it costs less than the work for nothing that it would spare."""
        check = next((c for f in sorted(faults, key=lambda f: (-self._g.chance(f), f)) for c in self._looks_for(f)), None)
        if check is None or self._look_hours(check) >= (1.0 - needed) * takes:
            return None
        return (f"before anything is ordered: {mid_sentence(check.title)} ({hours(self._look_hours(check))}), "
                f"for on {hundred(1.0 - needed)} of 100 boats with these signs the job would be for nothing")

    def _look_hours(self, check: Check) -> float:
        setups = setup_minutes(setups_of(self._g.book, check.needs.setups), self._g.book, self._hand)
        minutes = check.cost.first_time if self._hand == "first_time" else check.cost.minutes
        return self._work.hour_now * (minutes + setups) / 60.0

    def _left(self, chosen: Sequence[Job]) -> Iterable[Left]:
        """Every fault of the ranking, or likely, that no job of the plan cures."""
        g, cured = self._g, {f for j in chosen for f in j.cures}
        spoken = [r.fault for r in g.assessment.ranking if r.stages and speaks_for(r.ledger.posterior, r.ledger.prior)]
        for fault in dict.fromkeys((*spoken, *sorted(self._likely, key=lambda n: (-g.chance(n), n)))):
            if fault not in cured:
                yield self._left_line(fault)

    def _left_line(self, fault: str) -> Left:
        g, job = self._g, self._g.quickest(fault, self._hand)
        line, chance = self.leaving(fault), g.chance(fault)
        until = g.untils[self._until]
        loss = g.loss(g.book.faults[fault], self._until)
        why: LeftWhy
        if job is None:
            why, say = "no job", "the book has no job that cures it"
        else:
            later = chance * self._hours_later(job)
            takes = self._work.hour_now * full_minutes(job, g.book, self._hand) / 60.0 + g.buying(job)
            looks = self._looks_for(fault)
            settles = loss + later - chance * takes - self._look_hours(looks[0]) > 0 if looks else False
            why = "look first" if chance < self._work.likely or settles else "can wait"
            say = (f"leaving it until {until.title}, costs {hours(loss)} on average, and the work then {hours(later)}; "
                   f"now it takes {self._counted(takes, job)}")
            if why == "look first":
                say = f"there on {hundred(chance)} of 100 boats with these signs, and for nothing on the others; {say}"
                say += f". Look first: {mid_sentence(looks[0].title)} ({hours(self._look_hours(looks[0]))})" if looks else ""
            elif any(h.keeps_in for h in g.assessment.holds):
                say += ". A stop stands: what lifts it comes first"
        return Left(fault=fault, title=line.title, chance=chance, why=why, leaving=line, job=None if job is None else job.id, say=say)

    def _looks_for(self, fault: str) -> list[Check]:
        """Looks not yet made that show a fault, none that turns her under a stop: those that part it from its rivals first."""
        book, entry = self._g.book, self._g.book.faults[fault]
        seen = {o.symptom for o in self._g.assessment.observations if o.epoch == "now"}
        named = [t.by for t in entry.told_from if t.by in book.checks]
        shown = {c.id for s in entry.shows if s.symptom is not None for c in book.checks_for.get(s.symptom, ())}
        names = dict.fromkeys((*named, *sorted(shown, key=lambda n: (self._look_hours(book.checks[n]), n))))
        stopped = any(h.keeps_stopped for h in self._g.assessment.holds)
        return [c for c in map(book.checks.__getitem__, names) if not set(c.tells) <= seen
                and not (stopped and (c.turns_her or c.needs.engine_state in RUNNING))]

    def _tries(self, chosen: Sequence[Job]) -> Tries | None:
        """An order for jobs whose faults are rivals, if there are two or more."""
        relation = {r.fault: r.relation for r in self._g.assessment.ranking}
        rivals = [j for j in chosen if any(relation.get(f) == "instead" for f in j.cures)]
        first = [j for j in chosen if any(relation.get(f) == "most likely" for f in j.cures) and j not in rivals]
        jobs = [*first, *rivals] if rivals else []
        if len(jobs) < 2:
            return None
        chances = self._g.any_of([j.cures for j in jobs])
        whole = sum(chances)
        shares = [c / whole for c in chances]
        takes = [full_minutes(j, self._g.book, self._hand) / 60.0 for j in jobs]
        order = best_order(shares, takes)
        return Tries(jobs=tuple(jobs[i].id for i in order), expected_hours=cost_if_one(order, shares, takes), all_hours=sum(takes))


def enough(job: Job) -> float:
    """How often a job cures what it is for: as told where it is one of several ways, else always."""
    return job.way.enough if job.way is not None else 1.0


def choose(ground: Ground, until: Moment = "season", hand: Hand = "first_time", jobs: Iterable[str] = (), *,
           only: bool = False) -> Choice:
    """Which jobs to do.

    Args:
        ground: the case.
        until: how far the loss of leaving a fault is counted.
        hand: whose minutes are counted.
        jobs: to be done in any case.
        only: these jobs and no others, though others would pay.

    Raises:
        InputError: a job that is not in the book, or more than can be weighed at once.
    """
    return Choosing(ground, until, hand, jobs, only=only).choose()

