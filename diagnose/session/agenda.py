"""What to ask next: the order of a guided session, as a pure function of its log, the case and the assessment.

Words first, then the state she is in, what the words mean, the trip, a few facts of the boat. Then the looks: all that can be
made in the state she is in before she is asked to change it, cold before the first start. Nothing that a stop forbids.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

from diagnose.assessment import Assessment, LookState, SuggestedCheck
from diagnose.case import Case
from diagnose.chain.compile import is_live
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import RUNNING, Check, EngineState, When
from diagnose.knowledge.worksteps import put_back
from diagnose.machinery import Machinery
from diagnose.rank import speaks_for
from diagnose.session import asking, instruments
from diagnose.session.arrangement import barred, deciding, weighed_both_ways
from diagnose.session.match import NEAR, Index
from diagnose.session.progress import ENOUGH, LOOK_ON, PAST, TRIP, Progress, cheapest, minutes_of
from diagnose.session.questions import Look, Question, Undone
from diagnose.session.words import piece
from diagnose.situation import resolve
from diagnose.wording import mid_sentence

ORDER: tuple[EngineState, ...] = ("cold-stopped", "idle", "warm-stopped", "under-load")
"""The order in which states are worked through: all that is cold before the first start."""
FACTS_FIRST, FACTS_MOST = 3, 6
"""Facts of the boat asked before the first look, and in all."""
STOPPED: tuple[EngineState, ...] = ("cold-stopped", "warm-stopped")
LIKELY_FAULTS = 3
MOST_APART = 10.0
"""Minutes of taking apart that a look on a warm engine may need."""
WORTH_PARTING, QUICK_MINUTES = 0.2, 12.0
"""Before a start the quick looks are made that part faults this likely, and spoken for, from their rivals."""


REACHED: dict[EngineState, tuple[EngineState, ...]] = {
    "cold-stopped": ("cold-stopped",),
    "warm-stopped": ("warm-stopped", "cold-stopped"),
    "idle": ("idle",),
    "under-load": ("under-load", "idle"),
}
"""The states of the engine in which a look can be made as she stands, without a start or a stop."""


@dataclass(frozen=True)
class Step:
    """One symptom to ask in one state, the look that shows it, and the name it is put off under."""

    symptom: str
    state: EngineState
    look: Look
    name: str


class Agenda:
    """The next question of one session at one moment.

    `at` is the check being made, so that its further questions come before anything else.
    """

    def __init__(self, book: Book, index: Index, progress: Progress, case: Case, assessment: Assessment | None,
                 at: str | None = None) -> None:
        self._book, self._index, self._done, self._case = book, index, progress, case
        self._maybe, self._at = assessment, at if at is not None else progress.check

    @property
    def _found(self) -> Assessment:
        assert self._maybe is not None
        return self._maybe

    # -------------------------------------------------------------- the order

    def before_judging(self) -> Question | None:
        """What is asked before there is anything to judge: words, engine state, meaning of the words, trip."""
        done, number = self._done, self._done.number
        if not done.said:
            return asking.opening(number)
        if done.engine is None:
            return asking.engine_now(number, None)
        if done.open_pieces:
            said = done.open_pieces[0]
            off = barred(self._book, self._case.boat.arrangement)
            found = self._index.readings(said, beside=done.pieces, barred=off)
            return asking.reading(self._book, number, done.engine, said, found, instruments.meant(self._book, said, off))
        if done.unanswered:
            said, meant = done.unanswered[0]
            symptom = self._book.symptoms[meant.symptom]
            state = told_state(symptom.states, said.state, done.engine, 1)
            return asking.symptom(symptom, number, state, engine=done.engine, words=said.text)
        if done.trip is None and f"{PAST}{TRIP}" not in done.past:
            return asking.trip(self._book, number, done.engine)
        return None

    def next(self) -> Question:
        """The next question. Needs an assessment once `before_judging` has nothing left."""
        done = self._done
        stop = self._must_stop() if self._maybe is not None else None
        early = self.before_judging()
        if stop is not None or early is not None:
            return stop or early  # type: ignore[return-value]
        assert done.engine is not None
        step = self._first(done.engine, 0)
        between = step is None or (step.look.suggested is not None and step.name != self._at)
        fact = self._fact() if done.engine not in RUNNING and (between or not self._has_looked) else None
        if fact is not None:
            return asking.fact(self._book.facts[fact], done.number, done.engine)
        word = self._found.decision
        if done.chosen.get(ENOUGH) == word:
            return asking.end(done.number, done.engine)
        step = step or self._first(done.engine, 1)
        gate = self._gate() if step is None else None
        if gate is not None and gate.about in RUNNING and done.engine not in RUNNING:
            step = self._before_start(done.engine)
        if self._is_settled() and done.chosen.get(LOOK_ON) != word and (step or gate):
            return asking.settled(done.number, done.engine, word, [mid_sentence(c.title) for c in self._checks()])
        if step is not None:
            return self.put(step)
        return gate if gate is not None else asking.end(done.number, done.engine)

    def put(self, step: Step) -> Question:
        """A step as a question."""
        look = replace(step.look, goes_on=bool(step.look.check) and step.look.check == self._at)
        asked = asking.symptom(self._book.symptoms[step.symptom], self._done.number, step.state, engine=self._done.engine, look=look)
        if self._done.put_off(step.symptom, step.name):
            asked = replace(asked, lines=(*asked.lines, asking.PUT_OFF))
        return asked

    def _is_settled(self) -> bool:
        """Whether the decision lets her go in some way and waits for nothing."""
        return self._found.departure.settled and self._found.decision != "stay" and not self._done.under_way

    @property
    def _has_looked(self) -> bool:
        """Whether a look was made at all; before it a few facts are asked."""
        return any(a.observed is not None and a.observed.check is not None for a in self._done.answers)

    # -------------------------------------------------------------- facts of the boat

    def _fact(self) -> str | None:
        """The fact to ask: one weighed both ways, or one that the next look or a likely fault hangs on."""
        done = self._done
        past = {name.removeprefix(PAST) for name in done.past}
        asked = len(set(done.facts) | (past & set(self._book.facts)))
        fresh = not self._has_looked
        if asked >= (FACTS_FIRST if fresh else FACTS_MOST):
            return None
        mixed = weighed_both_ways(self._book, self._found.assumed)
        whens: list[When | None] = []
        for check in self._checks()[:1]:
            whens += [self._book.checks[check.check].live_when, self._book.component_of[check.check].applies]
        if fresh:
            for name in [r.fault for r in self._found.ranking[:LIKELY_FAULTS] if r.fault in self._book.faults]:
                whens += [self._book.faults[name].live_when, self._book.component_of[name].applies]
        answered = past | set(done.facts)  # also one that the boat does not show: a clock set back makes it older than what it corrects
        known = {**dict.fromkeys(answered, ""), **self._case.boat.arrangement}
        hanging = deciding(self._book, tuple(whens), known)
        return next((name for name in (*mixed, *hanging) if name not in known), None)

    # -------------------------------------------------------------- looks

    @cached_property
    def _live(self) -> frozenset[str]:
        facts = resolve(self._case, self._book).facts
        return frozenset(str(f["n"]) for f in Machinery.of(self._book).arrangement(facts).facts.values())

    def _first(self, state: EngineState, times: int) -> Step | None:
        """The first step in a state that was put off so many times."""
        return next((s for s in self._steps(state) if self._done.put_off(s.symptom, s.name) == times and self._is_open(s)), None)

    def _is_open(self, step: Step) -> bool:
        symptom = self._book.symptoms[step.symptom]
        return (step.state in symptom.states and not self._told(step.symptom, step.state)
                and is_live(self._book.component_of[step.symptom].applies, self._live))

    def _told(self, symptom: str, state: EngineState) -> bool:
        """Whether a symptom was answered, or could not be; of a stopped engine, warm or cold."""
        states = (state,) if state in RUNNING else STOPPED
        if any(w.symptom == symptom and w.state in states and w.why_not is None
               for w in (self._maybe.workings if self._maybe is not None else ())):
            return True
        return any(self._done.was_seen(symptom, s) for s in states)

    def _steps(self, state: EngineState) -> Iterator[Step]:
        """All steps of a state, in order; what was answered is among them."""
        checks = [c for c in self._checks() if c.needs == state]
        yield from self._going_on(state)
        if state in RUNNING:
            yield from self._look_over(state, self._owed())
        for check in checks:
            look = asking.look_of(self._book, self._found, check, self._checks(), self._done.opened)
            for symptom in self._book.checks[check.check].tells:
                yield Step(symptom, state, look, check.check)
        if state not in RUNNING:
            yield from self._look_over(state, self._owed())
        if state == "warm-stopped":
            yield from self._while_warm()
        yield from self._promised(state)

    def _while_warm(self) -> Iterator[Step]:
        """Looks meant for a cold engine that can be made on a warm one as well: nothing hot is opened, little is taken apart, and
        what they show can be judged warm."""
        for found in self._checks():
            check = self._book.checks[found.check]
            apart = sum(self._book.words.setups[s].minutes for s in check.needs.setups)
            if found.needs == "cold-stopped" and apart <= MOST_APART and not self._opens_hot(check):
                look = asking.look_of(self._book, self._found, found, self._checks(), self._done.opened)
                for symptom in check.tells:
                    yield Step(symptom, "warm-stopped", replace(look, first=(asking.STILL_WARM, *look.first)), check.id)

    def _opens_hot(self, check: Check) -> bool:
        """Whether a caution of a check speaks of opening something hot."""
        titles = [set(self._book.cautions[c].title.lower().split()) for c in check.cautions]
        return any({"open", "hot"} <= words for words in titles)

    def _before_start(self, state: EngineState) -> Step | None:
        """What is looked at before any start though the looks worth most need her running: the look-over's lines, and the quick
        looks by which the book parts the likeliest faults."""
        made = self._look_over(state, [line for line in self._found.look_over if line.owed])
        return next((s for s in (*made, *self._parting(state)) if not self._done.put_off(s.symptom, s.name) and self._is_open(s)), None)

    def _parting(self, state: EngineState) -> Iterator[Step]:
        """Looks of this state that part a likely fault from its rivals, quick ones that open and spoil nothing."""
        likely = [r for r in self._found.ranking if r.fault in self._book.faults and r.probability >= WORTH_PARTING
                  and speaks_for(r.ledger.posterior, r.ledger.prior)][:LIKELY_FAULTS]
        for line in likely:
            fault = self._book.faults[line.fault]
            for told in fault.told_from:
                check, rival = self._book.checks[told.by], self._book.faults[told.fault]
                spoils = check.destroys or check.strands or check.uses_up or check.turns_her
                quick = minutes_of(self._book, check) <= QUICK_MINUTES and not spoils
                if check.needs.engine_state == state and quick and is_live(check.live_when, self._live):
                    why = (f"it is quick, and she is still {asking.SHORT_OF[state]}: it parts {mid_sentence(fault.title)} "
                           f"from {mid_sentence(rival.title)}.")
                    for symptom in check.tells:
                        look = asking.asked_of(self._book, symptom, state, self._done.opened, check)
                        if look is not None:
                            yield Step(symptom, state, replace(look, why=why, whole=True), check.id)

    def _checks(self) -> list[SuggestedCheck]:
        """The looks worth making that were not all answered or passed over."""
        return [c for c in self._found.checks
                if not all(self._told(s, c.needs) for s in self._book.checks[c.check].tells)]

    def _going_on(self, state: EngineState) -> Iterator[Step]:
        """What the check being made can still tell."""
        check = self._book.checks.get(self._at) if self._at else None
        warm = state == "warm-stopped" and self._at is not None  # begun on a warm engine though meant for a cold one
        if check is None or (check.needs.engine_state != state and not (warm and check.needs.engine_state == "cold-stopped")):
            return
        suggested = next((c for c in self._found.checks if c.check == check.id), None)
        look = asking.look_of(self._book, self._found, suggested, self._checks(), self._done.opened) if suggested else None
        for symptom in check.tells:
            made = look or asking.asked_of(self._book, symptom, state, self._done.opened, check)
            if made is not None:
                yield Step(symptom, state, replace(made, check=check.id, whole=True), check.id)

    def _look_over(self, state: EngineState, owed: list[LookState]) -> Iterator[Step]:
        """What the look-over still owes in this state."""
        count = sum(line.owed for line in self._found.look_over)
        for line in owed:
            if line.needs != state:
                continue
            told = next(look for look in self._book.look_over.looks if look.id == line.id)
            steps = []
            for symptom in told.tells:
                check = cheapest(self._book, symptom, state, others=told.tells)
                look = asking.look_over_of(self._book, line, check, self._done.opened, count)
                steps.append((minutes_of(self._book, check) if check else line.minutes, Step(symptom, state, look, line.id)))
            if told.any_of:
                steps = [pair for pair in sorted(steps, key=lambda pair: pair[0]) if self._is_open(pair[1])][:1]
            yield from (step for _, step in steps)

    def _owed(self) -> list[LookState]:
        if self._done.under_way or self._found.departure.settled:
            return []
        return [line for line in self._found.look_over if line.owed]

    def _promised(self, state: EngineState) -> Iterator[Step]:
        """What the person said was not so, asked where it can be judged."""
        off = barred(self._book, self._case.boat.arrangement)
        for words in self._done.promises:
            bare = piece(" ".join(piece(words).telling)) if piece(words).telling else None
            found = next((r for r in self._index.readings(bare, beside=self._done.pieces, barred=off, most=4)
                          if r.kind == "symptom" and r.score >= NEAR), None) if bare is not None else None
            if found is not None and not self._done.was_asked(found.id) and state in self._book.symptoms[found.id].states:
                yield Step(found.id, state, asking.promised_of(self._book, words, found.id, state, self._done.opened), found.id)

    # -------------------------------------------------------------- changes of state

    def _must_stop(self) -> Question | None:
        """When she is to be stopped now: nothing is asked before that is done, or refused."""
        at_sea, now = self._found.under_way, self._done.engine
        runs = any(hold.stops == "run" for hold in self._found.holds)
        if now not in RUNNING or f"{PAST}warm-stopped" in self._done.past:
            return None
        if at_sea is not None and at_sea.word == "stop now":
            return asking.gate(self._done.number, now, "warm-stopped", (), (), ask=f"Stop her now. {at_sea.headline}")
        return asking.gate(self._done.number, now, "warm-stopped", (), (), ask="Stop her now.") if at_sea is None and runs else None

    def _gate(self) -> Question | None:
        """The change of state that the work left asks for."""
        now = self._done.engine
        assert now is not None
        for wanted in ORDER:
            if wanted == now or self._is_shut(wanted) or self._first(wanted, 0) is None:
                continue
            to = _way(now, wanted)
            if f"{PAST}{to}" in self._done.past or self._is_shut(to):
                continue
            waiting = list(dict.fromkeys(mid_sentence(s.look.title) for s in self._steps(wanted)
                                         if self._done.put_off(s.symptom, s.name) == 0 and self._is_open(s)))[:4]
            back = put_back(self._book, self._done.opened)
            return asking.gate(self._done.number, now, to, back, waiting, at_sea=self._done.under_way)
        return None

    def _is_shut(self, state: EngineState) -> bool:
        """Whether a state is not to be asked for: a stop forbids it, or she is at sea and needs her engine as it is."""
        if state in RUNNING and any(hold.keeps_stopped for hold in self._found.holds):
            return True
        return self._done.under_way and state in ("cold-stopped", "warm-stopped")

    # -------------------------------------------------------------- the end

    def undone(self) -> tuple[Undone, ...]:
        """What was not looked at, what kept it, and whether it could still move the decision."""
        if self._maybe is None:
            return ()
        found: dict[str, Undone] = {}
        for check in self._checks():
            found[check.check] = Undone(check.title, self._why_not(check.needs, check.check, self._book.checks[check.check].tells), True)
        for line in (x for x in self._found.look_over if x.owed and not self._done.under_way):
            told = next(look for look in self._book.look_over.looks if look.id == line.id)
            found[line.id] = Undone(line.title, self._why_not(line.needs, line.id, told.tells), not self._found.departure.settled)
        for name in self._done.later:
            told_of = {s for check in self._checks() for s in self._book.checks[check.check].tells}
            told_of |= {s for look in self._book.look_over.looks if look.id in found for s in look.tells}
            if name in self._book.symptoms and name not in told_of:
                found.setdefault(name, Undone(self._book.symptoms[name].title, "put off", False))
        return tuple(found.values())

    def _why_not(self, needs: EngineState, name: str, tells: tuple[str, ...]) -> str:
        if self._done.put_off(name, *tells):
            return "put off"
        if any(self._done.was_seen(s, needs) for s in tells):
            return "could not be seen, or not for sure"
        if self._is_shut(needs):
            return "a stop forbids it" if needs in RUNNING else "not at sea"
        if needs != self._done.engine:
            return {"cold-stopped": "waits until she is cold", "warm-stopped": "waits until she has run and is stopped",
                    "idle": "waits until she runs", "under-load": "waits until she is in gear"}[needs]
        return "not made"


def _way(now: EngineState, wanted: EngineState) -> EngineState:
    """The next state on the way to the one wanted."""
    if now not in RUNNING:
        return "cold-stopped" if wanted == "cold-stopped" else "idle"
    if wanted in RUNNING:
        return wanted
    return "warm-stopped"


def told_state(states: tuple[EngineState, ...], said: EngineState | None, now: EngineState | None, grade: int) -> EngineState:
    """The state that something told in words was seen in: as said, else as she is now, else the mildest it can be judged in
    for what is healthy and the hardest for a finding."""
    if said in states:
        return said
    if now in states:
        return now
    return states[0] if grade == 0 else states[-1]
