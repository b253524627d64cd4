"""The ranking of shipped cases: ledgers add up, evidence is conserved through the whole chain, order is irrelevant."""

from __future__ import annotations

import zlib
from pathlib import Path

import numpy as np
import pytest

from diagnose.case import Case, Observation, load_case
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules, shipped
from diagnose.machinery import Machinery
from diagnose.network.belief import Query
from diagnose.network.nodes import sign_id
from diagnose.triage import Assessing, assess

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


def believed(case: Case, book: Book) -> tuple[float, dict[str, float], frozenset[str]]:
    """Log evidence, the unrounded chance of each fault, and the signs every kind of boat weighed has."""
    _, _, belief, _ = Assessing(case, book, Machinery.of(book)).believe()
    answers = belief.ask([Query()])
    signs = frozenset.intersection(*(frozenset(w.net.index) for w in belief.worlds))
    return answers.scale, {n: answers.chance(n) for n in belief.names if n in answers.mass}, signs


@pytest.mark.parametrize("path", CASES, ids=lambda p: p.stem)
def test_expected_evidence_is_conserved(path: Path, book: Book) -> None:
    """Over the grades of a sign not yet looked at, chances sum to one and posteriors average to the present one, to 1e-10.

    Each posterior is that of the case assessed anew with the observation added, through reading, chaining and ranking.
    """
    case = of_one_kind(load_case(path), book)
    before, now, signs = believed(case, book)
    seen = {(o.symptom, o.state) for o in case.observations}
    open_signs = sorted(
        ((s, c.needs.engine_state) for c in book.checks.values() for s in c.tells
         if sign_id(s, c.needs.engine_state) in signs and (s, c.needs.engine_state) not in seen
         and not any(o.symptom == s for o in case.observations)),
        key=lambda pair: zlib.crc32(f"{path.stem}{pair}".encode()),
    )
    for symptom, state in list(dict.fromkeys(open_signs))[:LOOKS_A_CASE]:
        total, average = 0.0, dict.fromkeys(now, 0.0)
        for grade in book.symptoms[symptom].grades:
            more = Observation(symptom=symptom, grade=grade, state=state)
            after, then, _ = believed(case.model_copy(update={"observations": (*case.observations, more)}), book)
            chance = float(np.exp(after - before))
            total += chance
            for name, p in then.items():
                average[name] = average.get(name, 0.0) + chance * p
        if symptom_is_soft(book, symptom) and total != pytest.approx(1.0, abs=1e-10):
            assert total == pytest.approx(average_scale(case, book, symptom, state), abs=1e-10)
            continue
        assert total == pytest.approx(1.0, abs=1e-10), symptom
        for name, p in now.items():
            assert average[name] == pytest.approx(p, abs=1e-10), (symptom, name)


def symptom_is_soft(book: Book, symptom: str) -> bool:
    """Whether silence about a symptom is weighed, so that asking replaces a soft absence."""
    return book.symptoms[symptom].would_be_mentioned > 0


def average_scale(case: Case, book: Book, symptom: str, state: str) -> float:
    """Evidence without the silence about a sign, relative to the evidence with it."""
    _, _, belief, _ = Assessing(case, book, Machinery.of(book)).believe()
    answers = belief.ask([Query(), Query(drop=frozenset({sign_id(symptom, state)}))], backward=False)
    return answers.total(1)


@pytest.mark.parametrize("path", CASES, ids=lambda p: p.stem)
def test_ledger_adds_up(path: Path, book: Book) -> None:
    """Prior, lines and what counts only together add up to the posterior, to a twentieth of a deciban."""
    assessment = assess(load_case(path), book, next_check=False)
    for line in assessment.ranking:
        ledger = line.ledger
        assert ledger.prior + sum(entry.given_rest for entry in ledger.lines) + ledger.shared == pytest.approx(ledger.posterior, abs=0.05)


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
