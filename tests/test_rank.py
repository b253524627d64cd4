"""The ranking of shipped cases: ledgers add up, evidence is conserved through the whole chain, order is irrelevant."""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import cast

import numpy as np
import pytest
import smallbook as sb

from diagnose.assessment import Result, SeenLine
from diagnose.case import Case, Observation, load_case
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules, shipped
from diagnose.knowledge.model import EngineState
from diagnose.machinery import Machinery
from diagnose.network.belief import Query
from diagnose.network.nodes import Array, sign_id
from diagnose.network.past import is_of_then
from diagnose.rank import owed, speaks_for
from diagnose.situation import resolve
from diagnose.triage import Assessing, assess

pytestmark = pytest.mark.slow
CASES = sorted(shipped("cases").glob("*.yaml"))
LOOKS_A_CASE = 10


@pytest.fixture(scope="module")
def book() -> Book:
    """The shipped rules."""
    return load_rules()


def of_one_kind(case: Case, book: Book) -> Case:
    """The case with the facts that kinds of boat differ in filled in, so that one kind is weighed throughout."""
    usual = {f.id: f.default for f in book.boat.facts if f.chances}
    boat = case.boat.model_copy(update={"arrangement": {**usual, **case.boat.arrangement}})
    return case.model_copy(update={"boat": boat})


@dataclass(frozen=True)
class Held:
    """What is held of a case: log evidence, the unrounded chance of each fault, the signs, and what was made of them."""

    evidence: float
    chances: dict[str, float]
    signs: frozenset[str]
    likelihoods: dict[str, Array]


def believed(case: Case, book: Book) -> Held:
    """The belief of a case; the signs are those that every kind of boat weighed has."""
    _, _, belief, _ = Assessing(case, book, Machinery.of(book)).believe()
    answers = belief.ask([Query()])
    signs = frozenset.intersection(*(frozenset(w.net.index) for w in belief.worlds))
    return Held(answers.scale, {n: answers.chance(n) for n in belief.names if n in answers.mass}, signs, belief.likelihoods)


def with_more(case: Case, *more: Observation) -> Case:
    return case.model_copy(update={"observations": (*case.observations, *more)})


def open_signs(case: Case, book: Book, signs: frozenset[str], salt: str) -> list[tuple[str, EngineState]]:
    """Signs that some check tells and nobody looked at, in an order that depends on nothing but their names."""
    answered = {s.symptom for s in resolve(case, book).seen}
    found = {(s, c.needs.engine_state) for c in book.checks.values() for s in c.tells
             if s not in answered and sign_id(s, c.needs.engine_state) in signs}
    return sorted(found, key=lambda pair: zlib.crc32(f"{salt}{pair}".encode()))


def silent_signs(case: Case, now: Held, book: Book) -> list[tuple[str, EngineState]]:
    """Signs that were weighed though nobody told of them: striking ones, thought absent."""
    answered = {s.symptom for s in resolve(case, book).seen}
    signs = [name.split("@") for name in sorted(now.likelihoods) if not is_of_then(name)]
    return [(symptom, cast(EngineState, state)) for symptom, state in signs if symptom not in answered]


@pytest.mark.parametrize("path", CASES, ids=lambda p: p.stem)
def test_expected_evidence_is_conserved(path: Path, book: Book) -> None:
    """Over the grades of a sign not yet looked at, chances sum to one and posteriors average to the present one, to 1e-10.

    Each posterior is that of the case assessed anew with the observation added, through reading, chaining and ranking. A
    sign whose silence was weighed is as likely as the silence lets it be.
    """
    case = of_one_kind(load_case(path), book)
    now = believed(case, book)
    tried = open_signs(case, book, now.signs, path.stem)[:LOOKS_A_CASE]
    for symptom, state in dict.fromkeys([*silent_signs(case, now, book), *tried]):
        grades = list(book.symptoms[symptom].grades)
        silence = now.likelihoods.get(sign_id(symptom, state), np.ones(len(grades)))
        total, average = 0.0, dict.fromkeys(now.chances, 0.0)
        for grade, unsaid in zip(grades, silence, strict=True):
            then = believed(with_more(case, Observation(symptom=symptom, grade=grade, state=state)), book)
            chance = float(np.exp(then.evidence - now.evidence) * unsaid)
            total += chance
            for name, p in then.chances.items():
                average[name] = average.get(name, 0.0) + chance * p
        assert total == pytest.approx(1.0, abs=1e-10), symptom
        for name, p in now.chances.items():
            assert average[name] == pytest.approx(p, abs=1e-10), (symptom, name)


def test_silence_is_weighed_in_some_case(book: Book) -> None:
    """Among the shipped cases are striking signs whose silence counts, so that conservation is tried on them too."""
    silent = {sign for path in CASES for sign in silent_signs(load_case(path), believed(of_one_kind(load_case(path), book), book), book)}
    assert silent


def as_seen(result: Result, state: EngineState) -> list[Observation]:
    """The observations that one shown result of a look stands for."""
    return [Observation(symptom=s, state=state, at_least=g.removesuffix(" or worse")) if g.endswith(" or worse")
            else Observation(symptom=s, state=state, grade=g) for s, g in result.seen.items()]


@pytest.mark.parametrize("path", CASES, ids=lambda p: p.stem)
def test_results_of_looks_come_true(path: Path, book: Book) -> None:
    """What a proposed look says of a result is what the case says when that result is added, to 1e-6."""
    case = of_one_kind(load_case(path), book)
    now = believed(case, book)
    for check in assess(case, book).checks:
        for result in check.results:
            then = believed(with_more(case, *as_seen(result, check.needs)), book)
            assert result.chance == pytest.approx(float(np.exp(then.evidence - now.evidence)), abs=2e-6), check.check
            assert result.first_probability == pytest.approx(then.chances[result.first], abs=2e-6), check.check


@pytest.mark.parametrize("path", CASES, ids=lambda p: p.stem)
def test_ledger_adds_up(path: Path, book: Book) -> None:
    """Prior, lines and what counts only together add up to the posterior, to a twentieth of a deciban."""
    assessment = assess(load_case(path), book, next_check=False)
    for line in assessment.ranking:
        ledger = line.ledger
        assert ledger.prior + sum(entry.given_rest for entry in ledger.lines) + ledger.shared == pytest.approx(ledger.posterior, abs=0.05)


def decibans(p: float) -> float:
    return 10.0 * float(np.log10(p) - np.log1p(-p) / np.log(10.0))


def without(case: Case, seen: list[SeenLine]) -> Case:
    """The case without some of its observations."""
    gone = {(s.symptom, s.state) for s in seen}
    kept = tuple(o for o in case.observations if not any(o.symptom == n and o.state in (None, st) for n, st in gone))
    assert len(kept) < len(case.observations)
    return case.model_copy(update={"observations": kept})


@pytest.mark.parametrize("path", CASES[::2], ids=lambda p: p.stem)
def test_ledger_lines_are_what_leaving_out_changes(path: Path, book: Book) -> None:
    """Posterior and each line agree with the chances of this case and of the case assessed without the line's observations."""
    case = of_one_kind(load_case(path), book)
    whole = assess(case, book, next_check=False)
    seen = {s.id: s for s in whole.observations}
    worked = {(w.symptom, w.state) for w in whole.workings}
    striking = {s.id for s in book.symptoms.values() if s.would_be_mentioned > 0}
    for observations in sorted({entry.observations for line in whole.ranking for entry in line.ledger.lines}):
        group = [seen[o] for o in observations]
        if any(s.symptom in striking or (s.symptom, s.state) in worked for s in group):
            continue  # without it the silence about it would be weighed instead, or its readings are still there
        rest = believed(without(case, group), book).chances
        for line in whole.ranking:
            if line.fault in rest and min(rest[line.fault], 1 - rest[line.fault], line.probability, 1 - line.probability) > 1e-6:
                given_rest = sum(e.given_rest for e in line.ledger.lines if e.observations == observations)
                assert line.ledger.posterior == pytest.approx(decibans(line.probability), abs=0.05)
                assert given_rest == pytest.approx(line.ledger.posterior - decibans(rest[line.fault]), abs=0.06), (line.fault, observations)


@pytest.mark.parametrize("path", CASES[::4], ids=lambda p: p.stem)
def test_order_of_observations_is_irrelevant(path: Path, book: Book) -> None:
    """The same observations in another order give the same bytes."""
    case = load_case(path)
    turned = case.model_copy(update={"observations": case.observations[::-1]})
    assert assess(turned, book).result_json() == assess(case, book).result_json()


@pytest.mark.parametrize("path", CASES[::6], ids=lambda p: p.stem)
def test_the_same_case_gives_the_same_bytes(path: Path, book: Book) -> None:
    """Nothing is left over from one assessment to the next."""
    case = load_case(path)
    first = assess(case, book).result_json()
    assess(load_case(CASES[0]), book)
    assert assess(case, book).result_json() == first


# ------------------------------------------------------------------ the order


def test_a_chance_owed_to_the_signs_goes_before_a_common_one() -> None:
    """A rare fault made likelier by its sign stands before a common one the sign leaves alone, though that is likelier still."""
    symptoms = [sb.symptom("sign", (0.05,)), sb.symptom("mark", (0.05,))]
    faults = [sb.fault("common", [sb.shows("mark", (0.9,))], rate=0.3, lasts=((1000, 3000),)),
              sb.fault("rare", [sb.shows("sign", (0.95,))], rate=0.008)]
    book = sb.book_of(sb.component(symptoms=symptoms, faults=faults))
    found = assess(sb.case_of(sb.seen("sign", "some")), book)
    assert found.all_probabilities["common"] > found.all_probabilities["rare"] > 0.05
    assert list(found.all_probabilities) == ["rare", "common"]


def test_what_is_owed() -> None:
    """From one in ten to one in four: a sixth is there that would not have been; hand sum (.25 - .1) / .9."""
    assert owed(0.25, 0.1) == pytest.approx(1 / 6)
    assert owed(0.05, 0.1) == 0.0
    assert speaks_for(-4.8, -9.5)  # by more than a deciban
    assert speaks_for(-1.0, -1.4)  # by less, but from .42 to .44
    assert not speaks_for(-20.0, -20.5)
