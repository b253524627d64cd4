"""The one way through: a case and the rules go in, an Assessment comes out. A pure function."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Sequence
from typing import Literal

from diagnose import underway
from diagnose.assessment import (
    Assessment,
    Firing,
    Hold,
    KeptLimit,
    Ledger,
    Ranked,
    ReadingLine,
    Relation,
    RulesUsed,
    Scope,
    SeenLine,
    Unexplained,
    Urgency,
    rounded,
)
from diagnose.before import past_of
from diagnose.case import Case
from diagnose.chain.engine import EngineName
from diagnose.chain.form import Fact, Outcome, clean
from diagnose.decide import Decider, look_over
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import Consequence, EngineState, Fault
from diagnose.leakage import budgets
from diagnose.looks import Looks
from diagnose.machinery import Machinery
from diagnose.network.belief import Answers, Belief
from diagnose.network.nodes import Array, Net, sign_id, unknown_id
from diagnose.network.past import beside
from diagnose.prior import priors
from diagnose.prognosis import Prognosis, losses_of, short_end
from diagnose.rank import (
    LEAST_SHOWN,
    NOT_IN_BOOK,
    SHOWN,
    Weighed,
    chances,
    neither,
    ordered,
    relations,
)
from diagnose.seen import silence_likelihood
from diagnose.situation import resolve
from diagnose.wording import mid_sentence
from diagnose.worlds import Kind, kinds_of

_LEFT_OUT = "what was seen before the work is left out: it hangs together too closely with what is seen now"
UNEXPLAINED = 0.5
UNEXPLAINED_SIGN = 0.7


def assess(case: Case, rules: Book, *, engine: EngineName | None = None, next_check: bool = True,
           ledger: bool = True, also: tuple[str, ...] = (), looks_in: Collection[EngineState] | None = None,
           without: Collection[str] = ()) -> Assessment:
    """Triage one case.

    Args:
        case: see `load_case`.
        rules: see `load_rules`.
        engine: which forward chainer; by default durable-rules where it can be loaded. Results are the same.
        next_check: False leaves out the looks worth making, for large batches.
        ledger: False leaves the ledgers empty, for large batches.
        also: faults to put into the ranking however unlikely they are.
        looks_in: the engine states in which looks are offered; all if left out.
        without: checks that are not offered.

    Raises:
        InputError: the case names something the book does not know, or says the impossible.
        TooWideError: its signs hang together too closely for an exact ranking.
    """
    return Assessing(case, rules, Machinery.of(rules, engine), looks_in, without).run(next_check, ledger, also)


class Assessing:
    """The steps of one assessment, in the order of the module's name."""

    def __init__(self, case: Case, book: Book, machinery: Machinery, looks_in: Collection[EngineState] | None = None,
                 without: Collection[str] = ()) -> None:
        self._looks_in, self._without = looks_in, without
        self._case, self._book, self._machinery = case, book, machinery
        self._situation = resolve(case, book)

    def run(self, next_check: bool, ledger: bool, also: tuple[str, ...]) -> Assessment:
        """The whole assessment."""
        situation, book = self._situation, self._book
        kinds, mixed, belief, unmentioned = self.believe()
        kind = kinds[0]
        found = self._machinery.chainer.findings([*kind.arrangement.facts.values(), *situation.readings_for_chain()])
        worst = self._worst_of_unknown()
        weighed = Weighed.of(book, belief, situation.seen, sorted(worst), ledger=ledger)
        concern = weighed.concern(belief, book, worst)
        concluded = self._conclude(found, weighed.answers)
        holds = self._holds(found, concluded)
        prognosis = Prognosis(book, situation, losses_of(book, situation), worst, self._machinery.ends)
        looks = look_over(book, situation, kind.live)
        leaks = budgets(book, situation)
        decider = Decider(book, situation, belief, weighed.answers, prognosis, concern)
        probabilities = chances(belief, weighed.answers)
        order = ordered(book, weighed, probabilities)
        shown = self._shown(order, probabilities, also)
        beside = neither(shown[0], shown[1:], belief) if shown else []
        verdict = decider.decide(holds, leaks, looks, self._said_limits(found, concluded), beside)
        checks = Looks(book, situation, belief, weighed.answers, prognosis, kind.live, holds, concern,
                       self._looks_in, self._without).plan() if next_check else ()
        at_sea = underway.answer(book, situation, belief, concern, prognosis.losses, worst, holds, leaks,
                                 self._machinery.ends) if self._case.trip.under_way else None
        related = relations(shown[0], shown[1:], probabilities, verdict.asked) if shown else {}
        return Assessment(
            title=self._case.title, boat=self._case.boat.name, engine_hours=self._case.boat.engine_hours,
            trip_hours=situation.trip_hours, exposure=situation.exposure, decision=verdict.word, departure=verdict.departure,
            under_way=at_sea, holds=holds, fixes=verdict.fixes, limits=verdict.limits, advice=self._advice(found, concluded), leaks=leaks,
            look_over=looks, ranking=self._ranking(shown, related, weighed, probabilities, prognosis, worst),
            all_probabilities={n: probabilities[n] for n in order},
            conditions={n: rounded(weighed.answers.chance(n)) for n in sorted(weighed.answers.mass) if n in book.conditions},
            unexplained=self._unexplained(weighed), checks=checks, observations=self._seen_lines(),
            readings=self._reading_lines(), workings=situation.workings,
            not_seen=self._not_seen(), trace=self._trace(kind.arrangement, found, concluded),
            assumed=(*self._assumed(mixed), *unmentioned), scope=self._scope(),
            rules=RulesUsed(version=book.version, digest=book.digest), engine=self._machinery.chainer.engine,
        )

    # -------------------------------------------------------------- evidence

    def believe(self) -> tuple[list[Kind], tuple[str, ...], Belief, tuple[str, ...]]:
        """The kinds of boat weighed, the facts they differ in, what is believed, and what was taken as not there."""
        situation, kept = self._situation, self._machinery.priors
        looked = frozenset(sign_id(s.symptom, s.state) for s in situation.seen)
        kinds, mixed = kinds_of(self._machinery, situation, looked)
        likelihoods, unmentioned = self._likelihoods(kinds[0])
        past = past_of(situation, self._book)
        # what was found and left hangs on one fault each, and is tried alone where all of it together does not fit
        for known, without in () if past is None else ((past, ()), (past.left(), (_LEFT_OUT,))):
            nets = [beside(k.net, known) for k in kinds]
            worlds = [(k.chance, net, priors(self._book, net, situation, past=known)) for k, net in zip(kinds, nets, strict=True)]
            whole = Belief.of(worlds, {**likelihoods, **known.told})
            if whole.fits:
                return kinds, mixed, whole, (*unmentioned, *without)
        unmentioned = unmentioned if past is None else (*unmentioned, _LEFT_OUT)
        worlds = [(k.chance, k.net, priors(self._book, k.net, situation, kept)) for k in kinds]
        return kinds, mixed, Belief.of(worlds, likelihoods), unmentioned

    def _likelihoods(self, kind: Kind) -> tuple[dict[str, Array], tuple[str, ...]]:
        """By sign; striking signs that nobody mentioned are soft absences, and are listed as assumed.

        A soft absence is weighed only where it folds into one cause that no condition feeds: elsewhere it would bring
        half the network into every case for next to nothing. It does not depend on what else was looked at, so that
        evidence stays conserved.
        """
        likelihoods = {sign_id(s.symptom, s.state): s.likelihood for s in self._situation.seen if s.epoch == "now"}
        asked = {o.symptom for o in self._situation.not_seen}
        net, quiet = kind.net, []
        for symptom in self._book.symptoms.values():
            sign = sign_id(symptom.id, symptom.states[-1])
            silent = symptom.would_be_mentioned > 0 and symptom.id not in asked and sign not in likelihoods
            if silent and sign in net.index and _folds_cheaply(net, net.index[sign]):
                likelihoods[sign] = silence_likelihood(len(symptom.grades), symptom.would_be_mentioned)
                quiet.append(mid_sentence(symptom.title))
        return likelihoods, (f"not mentioned, so thought absent: {'; '.join(quiet)}",) if quiet else ()

    def _worst_of_unknown(self) -> dict[str, Consequence]:
        """An unknown fault may do the worst that the signs of its system can mean; a sign at its mildest grade means
        no more than a repair."""
        worst: dict[str, Consequence] = {}
        for seen in self._situation.seen:
            if seen.present and seen.epoch == "now":
                symptom = self._book.symptoms[seen.symptom]
                name = unknown_id(self._book.component_of[symptom.id].system)
                mild = seen.high == 1 and len(symptom.grades) > 2
                meant: Consequence = min(symptom.worst, "repair-bill", key=self._book.rank) if mild else symptom.worst
                worst[name] = max(meant, worst.get(name, meant), key=self._book.rank)
        return worst

    # -------------------------------------------------------------- chaining

    def _conclude(self, found: Outcome, answers: Answers) -> Outcome:
        asked = self._machinery.chainer.chains.asked_chances
        if not asked:
            return Outcome({}, ())
        facts: list[Fact] = list(found.facts.values())
        for name in asked:
            if name in answers.mass:  # a condition of which nothing was seen has no chance to speak of
                facts.append({"n": f"chance:{name}", "v": clean(max(rounded(answers.chance(name)), 1e-12))})
        return self._machinery.chainer.conclusions(facts)

    def _fired(self, *outcomes: Outcome) -> list[str]:
        return list(dict.fromkeys(f.rule for o in outcomes for f in o.firings))

    def _holds(self, *outcomes: Outcome) -> tuple[Hold, ...]:
        holds: dict[str, Hold] = {}
        for name in self._fired(*outcomes):
            rule = self._book.rules.get(name)
            if rule is not None and rule.then.hold is not None and rule.then.hold not in holds:
                then = rule.then
                holds[rule.then.hold] = Hold.model_validate({
                    "id": then.hold, "stops": then.stops, "kind": then.kind, "say": then.say, "cleared_by": then.cleared_by,
                    "allowed": then.allowed, "overridden_by": then.overridden_by, "rule": name, "under_way": underway.asked_by(then),
                    "say_under_way": then.say_under_way, "first_look": then.first_look})
        order = {"run": 0, "start": 1, "leave": 2, "open": 3}
        return tuple(sorted(holds.values(), key=lambda h: (-self._book.rank(h.kind), order[h.stops], h.id)))

    def _said_limits(self, *outcomes: Outcome) -> tuple[KeptLimit, ...]:
        return tuple(KeptLimit(limit=self._book.rules[n].then.limit, of=n) for n in self._fired(*outcomes)  # type: ignore[arg-type]
                     if n in self._book.rules and self._book.rules[n].then.limit is not None)

    def _advice(self, *outcomes: Outcome) -> tuple[str, ...]:
        rules = [self._book.rules[n] for n in self._fired(*outcomes) if n in self._book.rules]
        return tuple(str(r.then.say) for r in rules if r.then.advice is not None)

    def _trace(self, arrangement: Outcome, found: Outcome, concluded: Outcome) -> tuple[Firing, ...]:
        lines: list[Firing] = []
        origin: dict[str, tuple[str, ...]] = {}
        chains: tuple[tuple[Literal["arrangement", "findings", "conclusions"], Outcome], ...] = (
            ("arrangement", arrangement), ("findings", found), ("conclusions", concluded))
        for chain, outcome in chains:
            for key, fact in outcome.facts.items():
                if "o" in fact:
                    origin[key] = (str(fact["o"]),)
            for firing in outcome.firings:
                observations = tuple(sorted({o for key in firing.used for o in origin.get(key, ())}, key=_number))
                for key in firing.made:
                    origin.setdefault(key, observations)
                rule = self._book.rules.get(firing.rule)
                if rule is None:
                    continue  # a switch on facts of the boat: it says which evidence is live, and nothing more
                lines.append(Firing(
                    chain=chain, rule=firing.rule, used=tuple(self._fact_text(k) for k in firing.used),
                    made=tuple(self._fact_text(k) for k in firing.made), observations=observations, say=rule.then.say, why=rule.why))
        return tuple(lines)

    def _fact_text(self, key: str) -> str:
        fact = json.loads(key)
        kind, _, name = str(fact["n"]).partition(":")
        if kind == "symptom":
            grades = list(self._book.symptoms[name].grades)
            low, high = grades[fact["g"]], grades[fact["h"]]
            before = ", before the work" if fact["e"] == "before" else ""
            return f"{name}: {low if low == high else f'{low} to {high}'} ({fact['st']}{before}) [{fact['o']}]"
        value = fact.get("s", fact.get("v"))
        return f"{kind} {name}" if value is None else f"{kind} {name} = {value}"

    # -------------------------------------------------------------- the ranking

    def _shown(self, names: Sequence[str], probabilities: dict[str, float], also: tuple[str, ...]) -> list[str]:
        """The faults that get a line, in order."""
        shown = [n for i, n in enumerate(names) if i < SHOWN or probabilities[n] >= LEAST_SHOWN][: SHOWN * 2]
        return shown + [n for n in names if n in also and n not in shown]

    def _ranking(self, shown: Sequence[str], related: dict[str, Relation], weighed: Weighed, probabilities: dict[str, float],
                 prognosis: Prognosis, worst: dict[str, Consequence]) -> tuple[Ranked, ...]:
        lines = [self._line(n, weighed, probabilities[n], related[n], prognosis) for n in shown]
        unknown = self._unknown_line(weighed.unknown, worst)
        likelier = weighed.unknown >= UNEXPLAINED and all(weighed.unknown > line.probability for line in lines)
        lines.insert(0 if likelier else len(lines), unknown)
        return tuple(line.model_copy(update={"place": i + 1}) for i, line in enumerate(lines))

    def _line(self, name: str, weighed: Weighed, probability: float, relation: Relation, prognosis: Prognosis) -> Ranked:
        fault = self._book.faults[name]
        states = weighed.answers.states(name)
        return Ranked(
            place=0, fault=name, title=fault.title, system=self._book.component_of[name].system, probability=probability,
            stages={s.id: rounded(float(p)) for s, p in zip(fault.stages, states[1:], strict=True)},
            relation=relation, urgency=self._urgency(fault, states, prognosis), ledger=weighed.ledger(name),
            jobs=tuple(j.id for j in self._book.jobs_for.get(name, ())),
        )

    def _unknown_line(self, probability: float, meant: dict[str, Consequence]) -> Ranked:
        worst: Consequence = max((*meant.values(), "nuisance"), key=self._book.rank)
        return Ranked(
            place=0, fault=NOT_IN_BOOK, title="Something not in this book", system="", probability=probability, stages={},
            relation="none of these", ledger=Ledger(prior=0.0, lines=(), shared=0.0, posterior=0.0), jobs=(),
            urgency=Urgency(within="before you leave" if probability >= 0.5 else "soon", hours=None, consequence=worst,
                            say=f"not known; its signs can mean: {self._book.words.consequences[worst].lower()}"),
        )

    def _urgency(self, fault: Fault, states: Array, prognosis: Prognosis) -> Urgency:
        stages = states[1:] / max(states[1:].sum(), 1e-300)
        stage = int(stages.round(9).argmax())
        ends = float(stages @ prognosis.ends(fault))
        kind = max(fault.outcomes, key=lambda o: (o.chance >= 0.25, self._book.rank(o.kind), o.chance)).kind
        hours = short_end(fault, stage)
        grave = prognosis.losses.get(kind, 0.0) >= prognosis.losses["engine-lost"]
        what = self._book.words.consequences[kind]
        what = mid_sentence(what)
        if hours == float("inf"):
            return Urgency(within="at lay-up", hours=None, consequence=kind, say=f"at lay-up: {what}")
        if grave and hours < 1.0:
            return Urgency(within="now", hours=rounded(hours), consequence=kind, say=f"now: {what}")
        if grave and ends >= 0.1:
            return Urgency(within="before you leave", hours=rounded(hours), consequence=kind, say=f"before you leave: {what}")
        if hours <= 100:
            within: Literal["within hours", "soon"] = "within hours" if hours <= 25 else "soon"
            return Urgency(within=within, hours=rounded(hours), consequence=kind, say=f"within {_round_hours(hours)} engine hours: {what}")
        return Urgency(within="at lay-up", hours=rounded(hours), consequence=kind, say=f"at lay-up: {what}")

    def _unexplained(self, weighed: Weighed) -> tuple[Unexplained, ...]:
        by_sign = {sign_id(s.symptom, s.state): s for s in self._situation.seen if s.epoch == "now"}
        return tuple(Unexplained(observation=by_sign[sign].id, symptom=by_sign[sign].symptom, chance=rounded(chance))
                     for sign, chance in sorted(weighed.unexplained.items()) if chance > UNEXPLAINED_SIGN)

    # -------------------------------------------------------------- what was seen and not

    def _seen_lines(self) -> tuple[SeenLine, ...]:
        lines = []
        for seen in self._situation.seen:
            symptom = self._book.symptoms[seen.symptom]
            grades = list(symptom.grades)
            lines.append(SeenLine(id=seen.id, symptom=seen.symptom, title=symptom.title, state=seen.state, seen=seen.text,
                                  grade=grades[seen.low], sure=seen.sure, epoch=seen.epoch, clear=not seen.present and seen.value is None,
                                  note=seen.given.note, by=seen.given.by))
        return tuple(lines)

    def _reading_lines(self) -> tuple[ReadingLine, ...]:
        titles = {**self._book.symptoms, **self._book.readings}
        return tuple(ReadingLine(reading=r.reading, title=titles[r.reading].title, state=r.state, seen=r.text, at_rpm=r.rpm,
                                 note=r.given.note, by=r.given.by) for r in self._situation.readings)

    def _not_seen(self) -> tuple[str, ...]:
        """What was asked and could not be seen, or nobody was sure of."""
        return tuple(f"{self._book.symptoms[self._book.now_called(o.symptom)].title} ({o.sure.replace('-', ' ')})"
                     for o in self._situation.not_seen)

    def _assumed(self, mixed: Sequence[str]) -> Iterable[str]:
        titles = {self._book.facts[name].title.lower(): name for name in mixed}
        for line in self._situation.assumed:
            title = line.partition(":")[0]
            yield f"{title}: not known, weighed both ways" if title in titles else line

    def _scope(self) -> Scope:
        judged = {c.system for c in self._book.components if c.faults}
        systems = self._book.words.systems
        return Scope(judged=tuple(s.title for s in systems if s.id in judged),
                     not_judged=tuple(s.title for s in systems if s.id not in judged))


def _folds_cheaply(net: Net, sign: int) -> bool:
    """Whether a sign has one cause, and that cause is a condition no other condition feeds."""
    causes = [link.parent for link in net.parents[sign]]
    return len(causes) == 1 and net.kinds[causes[0]] == "condition" and all(
        net.kinds[link.parent] != "condition" for link in net.parents[causes[0]])


def _number(observation: str) -> int:
    return int(observation[1:])


def _round_hours(hours: float) -> str:
    for step in (1, 2, 5, 10, 20, 30, 50, 100):
        if hours <= step * 1.3:
            return str(step)
    return "100"


__all__ = ["assess"]
