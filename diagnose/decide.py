"""The departure decision: stay; fix, then go; go with limits; go.

Expected losses, in hours of delay, are compared with what staying costs. Holds and leaks that do not fit
decide before any arithmetic; a go of any kind also needs the look-over, and says which looks are missing.
Knowledge of what to fear and what a limit is comes from the book; this module only weighs it.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from diagnose.assessment import (
    DecisionWord,
    Departure,
    Fix,
    Hold,
    KeptLimit,
    LeakBudget,
    LookState,
    Risk,
)
from diagnose.chain.compile import is_live
from diagnose.knowledge.book import Book
from diagnose.knowledge.integrity import atoms
from diagnose.knowledge.jobs import Job
from diagnose.knowledge.model import Limit
from diagnose.network.belief import Answers, Belief, Query
from diagnose.prognosis import Course, Prognosis, Risks, stay_hours
from diagnose.seen import Seen
from diagnose.situation import GATE_SURENESS, Situation, on_one_clock
from diagnose.wording import mid_sentence

RATIO = 3.0
"""Staying must cost this many times the expected loss of going before the answer is go: numbers of the
book's own spread flip the side in one case of eleven at 3, and in one of five at 2 (measured)."""
LIKELY = 0.5
WORTH_CURING = 0.25
EXPLAINED = 0.7
QUICK_MINUTES = 30.0


@dataclass(frozen=True)
class Verdict:
    """The decision with everything it rests on."""

    word: DecisionWord
    departure: Departure
    fixes: tuple[Fix, ...]
    asked: tuple[float, ...]
    limits: tuple[KeptLimit, ...]


@dataclass(frozen=True)
class _Plan:
    """Jobs done first, and what remains at risk after them."""

    jobs: tuple[Job, ...]
    cured: frozenset[str]
    going: Risks
    limited: Risks


def look_over(book: Book, situation: Situation, live: frozenset[str]) -> tuple[LookState, ...]:
    """The state of each look of this boat, in the order in which they are walked."""
    by_symptom: dict[str, list[Seen]] = {}
    for seen in situation.seen:
        by_symptom.setdefault(seen.symptom, []).append(seen)
    found = []
    for look in book.look_over.looks:
        if not is_live(look.live_when, live):
            continue
        parts = [_made(by_symptom.get(s, ()), situation, look.fresh.hours, look.fresh.days) for s in look.tells]
        made = any(p in ("made", "found something") for p in parts) if look.any_of else "not made" not in parts
        state = "found something" if "found something" in parts and made else "made" if made else "not made"
        if "stale" in parts and not look.any_of:
            state = "stale"
        found.append(LookState(id=look.id, title=look.title, state=state, gates=look.gates, needs=look.state,  # type: ignore[arg-type]
                               minutes=look.minutes, covers=look.covers))
    return tuple(found)


def _made(seen: Sequence[Seen], situation: Situation, hours: float, days: float) -> str:
    sure = [s for s in seen if s.sure >= GATE_SURENESS and s.epoch == "now"]
    if not sure:
        return "not made"
    fresh = [s for s in sure if _age_hours(s, situation.case.now) <= days * 24 and (s.given.hours_ago or 0.0) <= hours]
    if not fresh:
        return "stale"
    return "found something" if any(s.present for s in fresh) else "made"


def _age_hours(seen: Seen, now: datetime | None) -> float:
    if now is None or seen.given.when is None:
        return 0.0
    return (on_one_clock(now) - on_one_clock(seen.given.when)).total_seconds() / 3600.0


class Decider:
    """Weighs one belief for one trip.

    `concern` are the faults that what was seen speaks for: they decide. The rest is what any boat like this carries
    unseen; the look-over guards against it, and it is shown apart.
    """

    def __init__(self, book: Book, situation: Situation, belief: Belief, answers: Answers, prognosis: Prognosis,
                 concern: frozenset[str]) -> None:
        self._book, self._situation, self._belief = book, situation, belief
        self._answers, self._prognosis = answers, prognosis
        self._concern = concern
        self._stay = stay_hours(book, situation)

    def decide(self, holds: Sequence[Hold], leaks: Sequence[LeakBudget], looks: Sequence[LookState],
               said_limits: Sequence[KeptLimit], beside: Sequence[Query] = ()) -> Verdict:
        """The decision and its reasons; the evidence of the queries `beside` is asked in the same pass."""
        jobs = self._jobs()
        here = [job for job in jobs if self._feasible(job)]
        sets = [(), *[(j,) for j in here], *itertools.combinations(here, 2)]
        courses = [Course(self._concern, limited, self._cured(s)) for s in sets for limited in (False, True)]
        courses.append(Course(frozenset(self._belief.names) - self._concern))
        risks, asked = self._prognosis.risks(self._belief, courses, beside)
        plans = [_Plan(s, self._cured(s), risks[2 * i], risks[2 * i + 1]) for i, s in enumerate(sets)]
        bare, fixing = plans[0], plans[1:]
        limits = self._limits(said_limits, leaks)
        blocked = [h for h in holds if h.keeps_in]
        leaking = [leak for leak in leaks if leak.verdict == "does not fit"]
        if blocked or leaking:
            fixing = [p for p in fixing if self._lifts(p, blocked, leaking)]
        word, plan = self._word(bare, fixing, limits, bool(blocked or leaking), leaks)
        missing = [look for look in looks if look.owed]
        so_far = word
        settled = word == "stay" or not missing  # a go of any kind, after a mend too, owes the look-over
        if word in ("go", "go with limits") and missing:
            word = "stay"
        departure = self._departure(word, so_far, settled, plan or bare, bare, risks[-1], limits, blocked, leaking, missing)
        fixes = tuple(self._fix(job) for job in (plan.jobs if plan else jobs[:2]))
        return Verdict(word, departure, fixes, tuple(asked), limits if word != "fix, then go" or plan is None else self._left(limits, plan))

    # -------------------------------------------------------------- choosing

    def _word(self, bare: _Plan, fixing: list[_Plan], limits: tuple[KeptLimit, ...], blocked: bool,
              leaks: Sequence[LeakBudget]) -> tuple[DecisionWord, _Plan | None]:
        cure = self._best_cure(fixing)
        if blocked:
            return ("fix, then go", cure) if cure is not None and self._explains(cure) else ("stay", None)
        amber = self._amber()
        pressing = bool(amber) or not self._fine(bare.going)
        if cure is not None and pressing and set(amber) <= cure.cured and self._minutes(cure) <= QUICK_MINUTES:
            return "fix, then go", cure
        if self._red_chain(amber):
            return ("fix, then go", cure) if cure is not None and self._explains(cure) else ("stay", None)
        topping = any(leak.verdict == "needs topping up" for leak in leaks)
        if self._fine(bare.going):
            return ("go with limits", None) if limits or topping else ("go", None)
        if limits and self._fine(bare.limited):
            return "go with limits", None
        if cure is not None:
            return "fix, then go", cure
        return "stay", None

    def _fine(self, risks: Risks) -> bool:
        return round(RATIO * risks.expected, 9) <= self._stay

    def _best_cure(self, fixing: list[_Plan]) -> _Plan | None:
        """The quickest set of jobs after which she may go, with limits or without; one that leaves no likely grave fault
        behind, where its parts are aboard too, comes first."""
        good, amber = [p for p in fixing if self._fine(p.limited)], frozenset(self._amber())
        return min(good, key=lambda p: (not self._explains(p), len(amber - p.cured), self._minutes(p), [j.id for j in p.jobs]),
                   default=None)

    def _explains(self, plan: _Plan) -> bool:
        sound = 1.0
        for name in plan.cured:
            if name in self._answers.mass:
                sound *= 1.0 - self._answers.chance(name)
        return 1.0 - sound >= EXPLAINED

    def _lifts(self, plan: _Plan, holds: Sequence[Hold], leaking: Sequence[LeakBudget]) -> bool:
        """Whether what is cured stands behind every hold and every leak that does not fit: all they rest on lies below it."""
        below = self._below(plan.cured)
        bases = [self._rests_on(hold.rule, set()) for hold in holds] + [{leak.symptom} for leak in leaking]
        return all(base and base <= below for base in bases)

    def _below(self, cured: frozenset[str]) -> set[str]:
        """The faults cured, and every condition and symptom that they can bring about."""
        net = self._belief.worlds[0].net
        todo = [net.index[name] for name in cured if name in net.index]
        found = set(todo)
        while todo:
            new = {link.child for link in net.children[todo.pop()]} - found
            found |= new
            todo += new
        return {net.ids[node].partition("@")[0] for node in found}

    def _rests_on(self, rule: str, done: set[str]) -> set[str]:
        """The signs seen, and the chances, from which a rule follows by way of the findings and holds it asks for."""
        done.add(rule)
        present = {s.symptom for s in self._situation.seen if s.present}
        base: set[str] = set()
        for atom in atoms(self._book.rules[rule].when):
            if atom.symptom in present:
                base.add(str(atom.symptom))
            elif atom.chance is not None:
                base.add(atom.chance)
            for maker in self._book.rules.values():
                asked = (atom.finding is not None and maker.then.finding == atom.finding) or (
                    atom.hold is not None and maker.then.hold == atom.hold)
                if asked and maker.id not in done:
                    base |= self._rests_on(maker.id, done)
        return base

    def _amber(self) -> list[str]:
        """Likely faults that end in losing the engine or worse."""
        bar = self._prognosis.losses["engine-lost"]
        return [name for name in sorted(self._concern)
                if name in self._book.faults and self._answers.chance(name) >= LIKELY
                and sum(o.chance for o in self._book.faults[name].outcomes if self._prognosis.losses.get(o.kind, 0) >= bar) >= 0.3]

    def _red_chain(self, amber: list[str]) -> bool:
        """Two likely dangerous faults in one vital chain, neither the cause of the other."""
        vital = {s.id: s.vital for s in self._book.words.systems}
        for one, two in itertools.combinations(amber, 2):
            chain = vital.get(self._book.component_of[one].system)
            linked = any(l.fault in (one, two) for f in (one, two) for l in self._book.faults[f].leads_to)
            if chain is not None and chain == vital.get(self._book.component_of[two].system) and not linked:
                return True
        return False

    # -------------------------------------------------------------- jobs and limits

    def _jobs(self) -> list[Job]:
        """Jobs that cure what is likely enough, most likely first; at most three."""
        worth = [(-self._answers.chance(n), n) for n in sorted(self._concern)
                 if n in self._book.jobs_for and self._answers.chance(n) >= WORTH_CURING]
        jobs: dict[str, Job] = {}
        for _, name in sorted(worth):
            job = min(self._book.jobs_for[name], key=lambda j: (bool(self._missing(j)), not j.afloat, j.minutes.first_time, j.id))
            jobs.setdefault(job.id, job)
        return list(jobs.values())[:3]

    def _cured(self, jobs: Sequence[Job]) -> frozenset[str]:
        return frozenset(fault for job in jobs for fault in job.cures)

    def _missing(self, job: Job) -> tuple[str, ...]:
        return tuple(p.part for p in job.order if p.need == "must" and p.part not in self._situation.parts)

    def _feasible(self, job: Job) -> bool:
        return job.afloat and not self._missing(job)

    def _minutes(self, plan: _Plan) -> float:
        return sum(job.minutes.first_time for job in plan.jobs)

    def _fix(self, job: Job) -> Fix:
        chance = max((self._answers.chance(f) for f in job.cures if f in self._answers.mass), default=0.0)
        return Fix(
            job=job.id, title=job.title, cures=job.cures, chance=chance, minutes=job.minutes.first_time,
            parts_needed=tuple(p.part for p in job.order if p.need == "must"), parts_missing=self._missing(job), afloat=job.afloat,
            proof=job.proof.do, proof_passes=job.proof.passes, cautions=job.cautions,
        )

    def _limits(self, said: Sequence[KeptLimit], leaks: Sequence[LeakBudget]) -> tuple[KeptLimit, ...]:
        """The limits of the faults that matter most, then those of rules and leaks; three faults at most."""
        weight = [(-self._answers.chance(n), n) for n in sorted(self._concern)
                  if n in self._book.faults and self._book.faults[n].limits and self._answers.chance(n) >= WORTH_CURING]
        kept = [KeptLimit(limit=limit, of=name) for _, name in sorted(weight)[:2] for limit in self._book.faults[name].limits]
        for leak in leaks:
            if leak.verdict == "needs topping up" and leak.top_up_litres and leak.top_up_every_hours:
                kept.append(KeptLimit(of=leak.symptom, limit=Limit(
                    verb="look", say="Top up the expansion bottle; the hot cap stays shut.",
                    number=f"{leak.top_up_litres * 1000:.0f} mL", every_minutes=max(5, int(leak.top_up_every_hours * 60)),
                    then="Turn back when it takes more.")))
        unique = {(k.limit.verb, k.limit.say): k for k in (*kept, *said)}
        return tuple(unique.values())

    def _left(self, limits: tuple[KeptLimit, ...], plan: _Plan) -> tuple[KeptLimit, ...]:
        return tuple(k for k in limits if k.of not in plan.cured)

    # -------------------------------------------------------------- words

    def _departure(self, word: DecisionWord, so_far: DecisionWord, settled: bool, plan: _Plan, bare: _Plan,
                   any_boat: Risks, limits: Sequence[KeptLimit], holds: Sequence[Hold], leaking: Sequence[LeakBudget],
                   missing: Sequence[LookState]) -> Departure:
        losses = self._prognosis.losses
        lost = bare.going.at_least.get("engine-lost", 0.0)
        even = self._stay / lost if lost > 1e-6 else float("inf")
        break_even = (f"go only if losing the engine there costs you under {even / 24:.0f} days" if even >= 48
                      else f"go only if losing the engine there costs you under {even:.0f} hours") if even < 24 * 365 else \
            "what was seen adds next to nothing to the chance of losing the engine"
        return Departure(
            settled=settled,
            so_far=so_far,
            headline=self._headline(word, settled, missing, plan),
            because=self._because(holds, leaking, missing),
            would_change=tuple(f"{look.title} ({look.minutes:g} min)" for look in missing) or tuple(h.cleared_by for h in holds),
            stay_hours=self._stay,
            ratio=RATIO,
            going=_risk(bare.going),
            with_limits=_risk(bare.limited) if limits else None,
            after_fix=_risk(plan.going) if plan.jobs else None,
            any_boat=_risk(any_boat),
            on_the_way=_risk(self._prognosis.onset([n for n in self._belief.names if n in self._book.faults])),
            line={k: min(1.0, self._stay / RATIO / loss) for k, loss in losses.items() if loss > 0},
            break_even=break_even,
            holds_until="10 engine hours or a day from these looks, any work done, or the first new sound, smell or leak",
            losses=losses,
        )

    def _headline(self, word: DecisionWord, settled: bool, missing: Sequence[LookState], plan: _Plan) -> str:
        if word == "stay" and not settled:
            minutes = sum(look.minutes for look in missing)
            return f"{len(missing)} look{'s' if len(missing) > 1 else ''}, {minutes:g} minutes, and it can be decided."
        if word == "stay":
            return "Until what is below is cleared."
        if word == "fix, then go":
            jobs = " and ".join(mid_sentence(j.title) for j in plan.jobs)
            owed = "" if settled else f" and make the {len(missing)} look{'s' if len(missing) > 1 else ''} still owed"
            return f"First {jobs} (about {self._minutes(plan):.0f} min, parts aboard), prove it{owed}, then go."
        if word == "go with limits":
            return "Keep them all: where one cannot be kept, the answer is another."
        return "Nothing found that stops this trip."

    def _because(self, holds: Sequence[Hold], leaking: Sequence[LeakBudget], missing: Sequence[LookState]) -> tuple[str, ...]:
        reasons = [hold.say for hold in holds]
        reasons += [f"the leak does not fit the trip: {leak.arithmetic}" for leak in leaking]
        if missing:
            reasons.append(f"not looked at: {', '.join(mid_sentence(look.title) for look in missing[:4])}"
                           + (f" and {len(missing) - 4} more" if len(missing) > 4 else ""))
        drivers = []
        for name in sorted(self._concern):
            fault = self._book.faults.get(name)
            if fault is not None:
                mass = self._answers.states(name)[1:]
                drivers.append((-float(mass @ self._prognosis.stage_losses(fault)), fault.title, float(mass.sum())))
        for loss, title, chance in sorted(drivers)[:2]:
            if -loss >= 0.05 * self._stay / RATIO and chance >= 0.05:
                reasons.append(f"{mid_sentence(title)} ({chance * 100:.0f} in 100) costs {-loss:.1f} h of the "
                               f"{self._stay / RATIO:.0f} h one may risk")
        return tuple(reasons[:4])


def _risk(risks: Risks) -> Risk:
    return Risk(worst_at_least=dict(risks.at_least), expected_hours=risks.expected)
