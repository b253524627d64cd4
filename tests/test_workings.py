"""Symptoms worked out of readings: what goes in, what comes out, what a good day does, and that no reading counts for more than it is."""

from __future__ import annotations

import json
import math
import re
import zlib
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import smallbook as sb
import warmengine as we
from hypothesis import given
from hypothesis import strategies as st

from diagnose.assessment import Assessment, Working
from diagnose.case import Case, Observation
from diagnose.knowledge.book import Book
from diagnose.knowledge.integrity import problems
from diagnose.knowledge.lists import BoatWords
from diagnose.knowledge.load import load_rules
from diagnose.machinery import Machinery
from diagnose.network.belief import Query
from diagnose.readings import figures_of
from diagnose.seen import Seen, band_of, number_likelihood
from diagnose.show.layout import Page
from diagnose.show.workingwords import measured, sums
from diagnose.situation import Situation, resolve
from diagnose.triage import Assessing, assess
from diagnose.workings import SAME, Bench, _correlation, _Made


@pytest.fixture(scope="module")
def book() -> Book:
    """The shipped rules."""
    return load_rules()


def resolved(book: Book, observations: Sequence[dict[str, Any]], **boat: Any) -> Situation:
    """The case of the invented engine, resolved."""
    return resolve(we.case_of(observations, **boat), book)


def worked(situation: Situation) -> dict[str, Working]:
    """Workings under load by symptom."""
    return {w.symptom: w for w in situation.workings if w.state == "under-load"}


def seen(situation: Situation) -> dict[str, Seen]:
    """What was made of signs under load, by symptom."""
    return {s.symptom: s for s in situation.seen if s.state == "under-load"}


def without(readings: Sequence[dict[str, Any]], *names: str) -> list[dict[str, Any]]:
    return [r for r in readings if r["reading"] not in names]


def judged(symptom: str, **answer: Any) -> dict[str, Any]:
    return {"symptom": symptom, "state": "under-load", **answer}


BUCKET = "raw-water-caught"
OUT_OF_READINGS = {
    "gauge-temperature-high", "gauge-temperature-low", "housing-temperature-high", "housing-stays-cold", "gauge-over-housing",
    "gauge-under-housing", "raw-water-flow-measured", "heat-made-much", "exchanger-conductance-low",
}


# ------------------------------------------------------------------ an invented book with one reading and two symptoms


def small_book(first: str = "a-share", second: str = "b-share", **changed: Any) -> Book:
    """A share of the expected flow under two names, worked out of a bucket and a figure; the second not beside the first."""
    bands = {"none": {"at_least": 70, "says": "enough"}, "low": {"below": 70, "says": "too little"}}
    takes = {"flow": {"reading": "bucket"}, "per_kw": {"figure": "per-kw", "takes": "m^3/s/kW"}, "power": {"number": 20000},
             "rated_speed": {"number": 50}, "speed": {"number": 40}}
    way = {"by": "flow.share_of_rated", "takes": takes, "gives": "1", "against": "ratio", "formula": "caught over expected", **changed}
    symptoms = [sb.measured(name, bands, (0.02,), unit="%", possible=(0, 200), sigma=5, worked_out=ways)
                for name, ways in ((first, [way]), (second, [{**way, "unless": [first]}]))]
    reading = {"id": "bucket", "title": "Bucket", "ask": "How much?", "states": ["idle"], "unit": "L/min", "takes": "m^3/s",
               "possible": [0.1, 400], "sigma_percent": 5, **sb.SAID}
    fault = sb.fault("worn", [{**sb.shows(name, ()), "at_least": {"low": 0.9}} for name in (first, second)])
    figure = {"id": "per-kw", "title": "Flow", "ask": "How much?", "unit": "L/min/kW", "takes": "m^3/J", "possible": [0.1, 5], "default": 1,
              "sigma_percent": 20, **sb.SAID}
    empty = sb.book_of(sb.component())
    boat = BoatWords.model_validate({"schema": 1, "facts": sb.FACTS, "figures": [figure]})
    component = type(empty.components[0]).model_validate(sb.component(readings=[reading], symptoms=symptoms, faults=[fault]))
    made = replace(empty, boat=boat, components=(component,))
    assert list(problems(made)) == []
    return made


def bucket(litres: float, **more: Any) -> dict[str, Any]:
    return {"reading": "bucket", "value": f"{litres:.9f} L/min", "state": "idle", **more}


def small(book: Book, *observations: dict[str, Any], healthy: Sequence[dict[str, Any]] = (), **figures: str) -> Situation:
    """A case on the invented book."""
    boat = {"healthy": list(healthy), "figures": {k.replace("_", "-"): v for k, v in figures.items()}}
    return resolve(sb.case_of(*observations, boat=boat), book)


def made_of(situation: Situation) -> dict[str, Working]:
    return {w.symptom: w for w in situation.workings}


# ------------------------------------------------------------------ what is worked out


def test_readings_are_put_together(book: Book) -> None:
    """Five temperatures, a bucket and the revs of a healthy engine give these symptoms, and every one of them healthy."""
    situation = resolved(book, we.readings("healthy", 2500, 24))
    found = worked(situation)
    assert {n for n, w in found.items() if w.result is not None} == OUT_OF_READINGS
    assert {n for n, w in found.items() if w.result is not None and w.grade != "none"} == set()
    assert {n: s.value for n, s in seen(situation).items()} == pytest.approx({n: found[n].result for n in OUT_OF_READINGS}, rel=1e-6)


@pytest.mark.parametrize("left_out", [(), (BUCKET,), ("hose-to-exchanger-temperature",)])
@pytest.mark.parametrize(("rpm", "sea"), [(1900, 8), (2500, 24), (2700, 29)])
def test_a_healthy_engine_reads_healthy(book: Book, rpm: float, sea: float, left_out: tuple[str, ...]) -> None:
    """An engine with just the figures the book takes, read without error, shows no symptom in any sea, with or without a bucket."""
    found = worked(resolved(book, without(we.readings("healthy", rpm, sea), *left_out)))
    assert {n: (w.result, w.grade) for n, w in found.items() if w.grade not in ("none", None)} == {}


EXPECTED: dict[tuple[str, float, float], set[str]] = {
    # trouble, revs, sea: what is told of it, above none
    ("fouled-exchanger", 2500, 24): {"exchanger-conductance-low"},
    ("low-raw-water", 2500, 24): {"raw-water-flow-measured"},
    ("low-coolant-flow", 2500, 24): {"exchanger-coolant-flow-low"},
    ("thermostat-shut", 2500, 24): {"thermostat-hose-cold", "exchanger-coolant-flow-low", "gauge-temperature-high",
                                    "housing-temperature-high"},
    ("gauge-false", 2500, 24): {"gauge-over-housing", "gauge-temperature-high"},
    ("overload", 2800, 24): {"heat-made-much"},
}


@pytest.mark.parametrize(("trouble", "rpm", "sea"), EXPECTED)
def test_each_trouble_is_told_by_its_own_symptom(book: Book, trouble: str, rpm: float, sea: float) -> None:
    """Of readings without error each trouble, well developed, shows what it should, beside a housing that may be hot, and nothing else."""
    found = worked(resolved(book, we.readings(trouble, rpm, sea)))
    told = {n for n, w in found.items() if w.grade not in ("none", None)}
    assert EXPECTED[trouble, rpm, sea] <= told
    assert told <= EXPECTED[trouble, rpm, sea] | {"housing-temperature-high", "gauge-temperature-high"}


def test_values_by_hand(book: Book) -> None:
    """Sums done by hand: 15 L/min of sea water from 20 to 30 degrees at 3000 revs of a 20 kW engine, gauge 88, housing 84, figure 80.

    Flow: 15 of 18 L/min. Heat: 1025 x 3993 x 2.5e-4 x 10 = 10.23 kW of 19 kW, to the 0.1 % by which the one heat capacity is rounded.
    """
    taken = we.written({BUCKET: 15.0, "sea-temperature": 20.0, "raw-water-out-temperature": 30.0, "gauge-temperature": 88.0,
                        "housing-temperature": 84.0}, 3000)
    found = {n: w.result for n, w in worked(resolved(book, taken)).items()}
    assert found["raw-water-flow-measured"] == pytest.approx(100 * 15 / 18, rel=1e-6)
    assert found["heat-made-much"] == pytest.approx(100 * 10.232 / 19.0, rel=2e-3)
    assert found["gauge-over-housing"] == pytest.approx(4.0)
    assert found["gauge-under-housing"] == pytest.approx(-4.0)
    assert found["housing-temperature-high"] == pytest.approx(84.0)


def test_another_thermostat_moves_the_scale(book: Book) -> None:
    """With 71 on the thermostat a housing of 84 stands where 93 would with 80."""
    taken = we.written({"housing-temperature": 84.0}, 3000)
    found = worked(resolved(book, taken, arrangement={"thermostat-opens": "71 degC"}))
    assert found["housing-temperature-high"].result == pytest.approx(93.0)
    assert found["housing-temperature-high"].grade == "raised"


def test_what_was_judged_directly_is_not_worked_out(book: Book) -> None:
    """A symptom judged by itself in the same state, now, keeps that answer alone; not sure, or before the work, is no answer."""
    readings = we.readings("fouled-exchanger", 2500, 24)
    said = resolved(book, [*readings, judged("exchanger-conductance-low", grade="none")])
    assert "exchanger-conductance-low" not in worked(said)
    assert [s.value for s in said.seen if s.symptom == "exchanger-conductance-low"] == [None]
    for no_answer in ({"sure": "not-sure"}, {"grade": "none", "epoch": "before"}):
        assert worked(resolved(book, [*readings, judged("exchanger-conductance-low", **no_answer)]))["exchanger-conductance-low"].result


def test_a_sign_is_told_once(book: Book) -> None:
    """However readings and answers are mixed, each sign has one likelihood."""
    readings = [*we.readings("healthy", 2500, 24), *we.written({"gauge-temperature": 81.0, "housing-temperature": 80.5}, None, "idle")]
    answers = [judged("gauge-temperature-high", value="83 degC"), judged("raw-water-flow-measured", grade="none"),
               judged("exhaust-water-weak", grade="none")]
    situation = resolved(book, [*readings, *answers])
    signs = [(s.symptom, s.state, s.epoch) for s in situation.seen]
    assert len(signs) == len(set(signs))
    assert len({s.id for s in situation.seen}) == len(situation.seen)


def test_better_readings_stand_in_for_worse(book: Book) -> None:
    """With a bucket heat is told and the rise is not; without one it is the other way round."""
    readings = we.readings("healthy", 2500, 24)
    better, worse = {"heat-made-much"}, {"raw-water-rise-large"}
    assert set(worked(resolved(book, readings))) & (better | worse) == better
    assert set(worked(resolved(book, without(readings, BUCKET)))) & (better | worse) == worse


@pytest.mark.parametrize("names", [("a-share", "b-share"), ("b-share", "a-share")])
def test_better_readings_stand_in_whatever_their_name(names: tuple[str, str]) -> None:
    """What is not used beside another symptom is not used beside it, whichever comes first in the alphabet."""
    assert set(made_of(small(small_book(*names), bucket(15)))) == {names[0]}


def test_better_answers_stand_in_for_worse_readings(book: Book) -> None:
    """What is not used beside a symptom worked out is not used beside that symptom judged directly either."""
    readings = without(we.readings("healthy", 2500, 24), BUCKET)
    told = resolved(book, [*readings, judged("heat-made-much", grade="none")])
    assert "raw-water-rise-large" not in worked(told)


def test_without_a_bucket_the_exchanger_is_told_less_surely(book: Book) -> None:
    """Where nobody caught the flow, that of these revs is taken: the same figure on a sound pump, and less sure."""
    readings = we.readings("fouled-exchanger", 2500, 24)
    caught, taken = (worked(resolved(book, r))["exchanger-conductance-low"] for r in (readings, without(readings, BUCKET)))
    assert taken.result == pytest.approx(float(caught.result or 0), rel=0.02)
    assert float(taken.plus_minus or 0) > float(caught.plus_minus or 0)
    starved = we.readings("low-raw-water", 2500, 24)
    assert float(worked(resolved(book, without(starved, BUCKET)))["exchanger-conductance-low"].result or 0) > 100.0


def test_states_are_kept_apart(book: Book) -> None:
    """A gauge read idling and a housing read under load are two readings that nothing is worked out of together."""
    apart = [*we.written({"gauge-temperature": 95.0}, None, "idle"), *we.written({"housing-temperature": 82.0}, None)]
    found = {(w.symptom, w.state) for w in resolved(book, apart).workings}
    assert not {s for s, _ in found} & {"gauge-over-housing", "gauge-under-housing"}
    assert {("gauge-temperature-high", "idle"), ("housing-temperature-high", "under-load")} <= found


@pytest.mark.parametrize(("cooling", "circuit"), [("heat-exchanger", True), ("keel-cooler", True), ("raw-water", False)])
def test_only_what_the_boat_has_is_worked_out(book: Book, cooling: str, circuit: bool) -> None:
    """Cooled by the sea itself she has no circuit to work anything out of; through her keel she has a circuit and no exchanger."""
    found = set(worked(resolved(book, we.readings("healthy", 2500, 24), arrangement={"cooling": cooling})))
    of_circuit = {"gauge-temperature-high", "housing-temperature-high"}
    of_exchanger = {"exchanger-conductance-low", "heat-made-much", "exchanger-coolant-flow-low", "exchanger-gap-wide", "gauge-over-housing"}
    assert found & of_circuit == (of_circuit if circuit else set())
    assert bool(found & of_exchanger) == (cooling == "heat-exchanger")


def test_a_reading_of_a_symptom_counts_as_that_symptom(book: Book) -> None:
    """A measured symptom told as a reading is not silently lost: it is weighed as the symptom it is."""
    as_reading = resolved(book, [{"reading": "exchanger-gap-wide", "value": "45 K", "state": "under-load"}])
    as_symptom = resolved(book, [judged("exchanger-gap-wide", value="45 K")])
    assert [s.likelihood.tolist() for s in as_reading.seen] == [s.likelihood.tolist() for s in as_symptom.seen]


# ------------------------------------------------------------------ what cannot be worked out

SAID: list[tuple[str, list[dict[str, Any]], str, str]] = [
    ("a thermostat not yet open", we.readings("healthy", 2500, 24), "thermostat-hose-cold", "need not be far open"),
    ("no revs", we.written(we.exact("healthy", 2500, 24), None), "heat-made-much", "at which revs"),
    ("revs far apart", [*we.written({BUCKET: 15.0, "sea-temperature": 20.0}, 2000), *we.written({"raw-water-out-temperature": 30.0}, 2500)],
     "heat-made-much", "from 2000 to 2500"),
    ("sea water that cools", we.written({**we.exact("healthy", 2500, 24), "raw-water-out-temperature": 22.0}, 2500), "heat-made-much",
     "no warmer than it came"),
    ("coolant that warms", we.written({**we.exact("healthy", 2500, 24), "coolant-from-exchanger-temperature": 90.0}, 2500),
     "exchanger-conductance-low", "warmer than it came in"),
    ("revs beyond the engine's", we.written(we.exact("healthy", 2500, 24), 4000), "heat-made-much", "outside the range"),
    ("more heat than can be", we.written({**we.exact("healthy", 2500, 24), "raw-water-out-temperature": 80.0, BUCKET: 60.0}, 2500),
     "heat-made-much", "cannot be"),
]


@pytest.mark.parametrize(("readings", "symptom", "reason"), [s[1:] for s in SAID], ids=[s[0] for s in SAID])
def test_what_cannot_be_worked_out_is_said(book: Book, readings: list[dict[str, Any]], symptom: str, reason: str) -> None:
    """The readings are there and do not go together: no result, a reason in words, and no likelihood."""
    situation = resolved(book, readings)
    found = worked(situation)[symptom]
    assert found.result is None
    assert found.grade is None
    assert reason in str(found.why_not)
    assert symptom not in seen(situation)


def test_what_was_not_read_is_passed_over(book: Book) -> None:
    """Where a reading is missing nothing is said: nobody is told of all that could have been measured."""
    assert set(worked(resolved(book, we.written({"gauge-temperature": 85.0}, 2500)))) == {"gauge-temperature-high", "gauge-temperature-low"}
    assert resolved(book, []).workings == ()


def test_a_second_way_is_tried_when_the_first_is_refused() -> None:
    """Of two ways to one symptom the one that the readings allow is used."""
    narrow = {"by": "cooling.thermostat_share", "takes": {"temperature": {"number": 90}, "opens": {"reading": "bucket", "takes": "L/min"},
                                                          "travel": {"number": 10}}, "gives": "1", "formula": "refused under 30"}
    one = small_book()
    component = one.components[0]
    symptom = component.symptoms[0]
    ways = (type(symptom.worked_out[0]).model_validate(narrow), *symptom.worked_out)
    both = component.model_copy(update={"symptoms": (symptom.model_copy(update={"worked_out": ways}), component.symptoms[1])})
    assert made_of(small(replace(one, components=(both,)), bucket(15)))["a-share"].result == pytest.approx(100 * 15 / 16)


# ------------------------------------------------------------------ doubt


def test_doubt_is_that_of_readings_figures_and_formula(book: Book) -> None:
    """Flow share by hand: 7 % of the bucket, one over 0.82 to one over 1.18 of the figure, 2 % of the revs, in a row, twice."""
    found = worked(resolved(book, we.readings("healthy", 2500, 24)))["raw-water-flow-measured"]
    assert found.result == pytest.approx(100.0, rel=1e-6)
    assert found.plus_minus == pytest.approx(200.0 * math.hypot(0.07, (1 / 0.82 - 1 / 1.18) / 2, 0.02), rel=1e-3)


@pytest.mark.parametrize("change", [{"plus_minus": 8.0}, {"sure": "think-so"}, {"sure": "guess"}])
def test_a_doubtful_reading_makes_a_doubtful_figure(book: Book, change: dict[str, Any]) -> None:
    """A wider or unsure housing temperature widens what is worked out of it, and nothing else; the likelihood flattens."""
    plain = we.readings("healthy", 2500, 24)
    vague = [{**r, **change} if r["reading"] == "housing-temperature" else r for r in plain]
    a, b = resolved(book, plain), resolved(book, vague)
    for name, before in worked(a).items():
        after = worked(b)[name]
        if before.result is None:
            continue
        if "housing-temperature" in before.observations:
            assert float(after.plus_minus or 0) > float(before.plus_minus or 0)
        else:
            assert after.plus_minus == before.plus_minus
    assert seen(b)["housing-temperature-high"].likelihood[1] > seen(a)["housing-temperature-high"].likelihood[1]


def test_own_figures_are_surer_than_those_taken(book: Book) -> None:
    """An owner who gives the pump's flow gets a surer share of it."""
    readings = we.readings("healthy", 2500, 24)
    own = worked(resolved(book, readings, figures={"raw-water-per-power": "0.9 L/min/kW"}))["raw-water-flow-measured"]
    assert own.result == pytest.approx(100.0, rel=1e-6)
    assert float(own.plus_minus or 0) < 0.5 * float(worked(resolved(book, readings))["raw-water-flow-measured"].plus_minus or 0)


def test_the_likelihood_is_that_of_the_widened_number(book: Book) -> None:
    """What is weighed is the figure with its doubt times what it was widened by, and the grade shown is the band it falls in."""
    situation = resolved(book, we.readings("fouled-exchanger", 2500, 24))
    for name, made in worked(situation).items():
        if made.result is None:
            continue
        symptom, sign = book.symptoms[name], seen(situation)[name]
        sigma = float(made.plus_minus or 0) / 2.0 * made.widened
        assert sign.likelihood == pytest.approx(number_likelihood(symptom, float(made.result), sigma), rel=1e-6, abs=1e-9)
        assert list(symptom.grades)[band_of(symptom, float(made.result))] == made.grade


# ------------------------------------------------------------------ one observation counts once

moves = st.dictionaries(st.sampled_from("abcdef"), st.floats(-3.0, 3.0).filter(lambda x: abs(x) > 0.01), min_size=1, max_size=6)


def widened(rows: Sequence[dict[str, float]]) -> list[_Made]:
    """Figures moved so by shared sources, widened as the bench does."""
    return widened_beside(rows, ())[0]


def widened_beside(rows: Sequence[dict[str, float]], direct: Sequence[Seen]) -> tuple[list[_Made], list[float]]:
    """The same beside numbers weighed by themselves, and how far those are widened."""
    way: Any = None
    made = [_Made(way, 0.0, dict(row)) for row in rows]
    return made, Bench._widen(made, direct)


def least(made: Sequence[_Made], numbers: Sequence[tuple[str, float, float]] = ()) -> float:
    """Smallest eigenvalue of what is granted less what is true, each figure over its own standard deviation.

    What is granted is independent errors, that of a figure and that of a number weighed by itself each as it was widened.
    """
    rows = [(m.moves, m.sigma) for m in made] + [({key: sigma}, sigma) for key, sigma, _ in numbers]
    true = np.array([[_correlation(a, b) for b in rows] for a in rows])
    granted = np.diag([m.widened**2 for m in made] + [by**2 for _, _, by in numbers])
    return float(np.linalg.eigvalsh(granted - true).min())


def distinct(made: Sequence[_Made]) -> list[_Made]:
    """Without those that are another one on a second scale."""
    kept: list[_Made] = []
    for m in made:
        if not any(abs(_correlation((m.moves, m.sigma), (k.moves, k.sigma))) > SAME for k in kept):
            kept.append(m)
    return kept


@given(rows=st.lists(moves, min_size=1, max_size=7))
def test_widening_grants_no_more_than_the_readings_say(rows: list[dict[str, float]]) -> None:
    """For any figures of shared readings, independent errors as wide as granted are nowhere narrower than the true joint error.

    The matrix of what is granted less what is true has no negative eigenvalue (Gershgorin); numpy's eigenvalues are the judge.
    """
    made = widened(rows)
    assert least(distinct(made)) >= -1e-9
    assert all(m.widened >= 1.0 for m in made)


@given(row=moves)
def test_a_figure_alone_is_not_widened(row: dict[str, float]) -> None:
    """One figure, or figures that share nothing, keep their errors."""
    other = {f"other {key}": value for key, value in row.items()}
    assert [m.widened for m in widened([row, other])] == pytest.approx([1.0, 1.0])


@given(row=moves, factor=st.floats(0.1, 5.0), sign=st.sampled_from([-1.0, 1.0]))
def test_one_number_on_two_scales_counts_once(row: dict[str, float], factor: float, sign: float) -> None:
    """A figure and its double, or its opposite, do not widen each other: too high and too low are one number."""
    assert [m.widened for m in widened([row, {k: sign * factor * v for k, v in row.items()}])] == pytest.approx([1.0, 1.0])


@given(rows=st.lists(moves, min_size=1, max_size=4), sigma=st.floats(0.1, 3.0))
def test_widening_holds_beside_a_number_weighed_by_itself(rows: list[dict[str, float]], sigma: float) -> None:
    """A number that is weighed as a symptom of its own, and also went into figures, does not count for more than it is."""
    number = Seen("", "a", "idle", np.ones(2), 0, 0, 1.0, "now", "", Observation(symptom="a", value="1 K"), 1.0, sigma)
    tied = [{**{k: v for k, v in row.items() if k != "a"}, "a idle": row.get("a", 1.0)} for row in rows]
    made, (by,) = widened_beside(tied, [number])
    apart = [m for m in distinct(made) if abs(_correlation((m.moves, m.sigma), ({"a idle": 1.0}, 1.0))) <= SAME]
    assert least(apart, [("a idle", sigma, by)]) >= -1e-9


@pytest.mark.parametrize("trouble", ["healthy", "fouled-exchanger", "low-coolant-flow", "thermostat-shut"])
@pytest.mark.parametrize("good", [False, True])
def test_shipped_figures_grant_no_more_than_the_readings_say(book: Book, trouble: str, good: bool,
                                                             monkeypatch: pytest.MonkeyPatch) -> None:
    """The same of all that the shipped book works out of a full set of readings, with and without a good day."""
    kept: list[_Made] = []
    widen = Bench._widen

    def watched(made: Sequence[_Made], direct: Sequence[Seen]) -> list[float]:
        factors = widen(made, direct)
        kept.extend(made)
        return factors

    monkeypatch.setattr(Bench, "_widen", staticmethod(watched))
    resolved(book, we.readings(trouble, 2500, 24), healthy=we.readings("healthy", 2400, 15) if good else [])
    assert len(kept) >= 9
    assert least(distinct(kept)) >= -1e-9
    assert max(m.widened for m in kept) < 2.0  # and not so wide that nothing could be told


def test_a_reading_told_again_changes_nothing(book: Book) -> None:
    """The same readings twice over are one set: same likelihoods."""
    readings = we.readings("fouled-exchanger", 2500, 24)
    once, twice = resolved(book, readings), resolved(book, [*readings, *readings])
    assert [(s.symptom, s.likelihood.tolist()) for s in once.seen] == [(s.symptom, s.likelihood.tolist()) for s in twice.seen]


def conditions(case: Case, book: Book) -> tuple[float, dict[str, float]]:
    """Log evidence and the unrounded chance of every condition and fault."""
    _, _, belief, _ = Assessing(case, book, Machinery.of(book)).believe()
    answers = belief.ask([Query()])
    names = [*belief.names, *book.conditions]
    return answers.scale, {n: answers.chance(n) for n in names if n in answers.mass}


def test_expected_evidence_is_conserved(book: Book) -> None:
    """Over the grades of a sign not looked at, the chances after each look average to the present ones, with readings in the case.

    To 1e-9, through reading, working out and ranking anew; for three signs under load, chosen by nothing but their names.
    """
    readings = we.readings("low-coolant-flow", 2500, 24)
    looked = {s.symptom for s in resolved(book, readings).seen}
    before, now = conditions(we.case_of(readings), book)
    told = {s for c in book.checks.values() if c.needs.engine_state == "under-load" for s in c.tells}
    open_ = [s for s in sorted(told - looked, key=lambda s: zlib.crc32(s.encode())) if not book.symptoms[s].would_be_mentioned][:3]
    for symptom in open_:
        total, average = 0.0, dict.fromkeys(now, 0.0)
        for grade in book.symptoms[symptom].grades:
            after, then = conditions(we.case_of([*readings, judged(symptom, grade=grade)]), book)
            total += math.exp(after - before)
            for name in now:
                average[name] += math.exp(after - before) * then[name]
        assert total == pytest.approx(1.0, abs=1e-9), symptom
        assert average == pytest.approx(now, abs=1e-9), symptom
    assert len(open_) == 3


def test_the_order_of_readings_does_not_matter(book: Book) -> None:
    """Same readings, same good day, in any order: the same bytes."""
    today, good = we.readings("fouled-exchanger", 2500, 24), we.readings("healthy", 2400, 15)
    results = {assess(we.case_of(a, healthy=b), book, next_check=False, ledger=False).result_json()
               for a, b in ((today, good), (today[::-1], good), (sorted(today, key=str), good[::-1]))}
    assert len(results) == 1


# ------------------------------------------------------------------ a good day


def perfect(readings: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Readings whose error is next to nothing."""
    return [{**r, "plus_minus": 1e-9} for r in readings]


@pytest.mark.parametrize("figure", ["0.4 L/min/kW", "1 L/min/kW", "2.7 L/min/kW"])
def test_against_a_good_day_the_figures_cancel(figure: str) -> None:
    """A third of the flow of a perfect good day is a third, whatever is taken for the pump: 5 of 15 L/min."""
    found = made_of(small(small_book(), bucket(5), healthy=perfect([bucket(15)]), per_kw=figure))["a-share"]
    assert found.result == pytest.approx(100.0 / 3.0, rel=1e-6)
    assert found.plus_minus == pytest.approx(2.0 * 0.05 * 100.0 / 3.0, rel=1e-4)  # what is left is today's bucket


@pytest.mark.parametrize("figure", ["12 W/K/kW", "25 W/K/kW", "60 W/K/kW"])
def test_an_exchanger_is_set_against_itself(book: Book, figure: str) -> None:
    """However large it is, an exchanger that shows today what it showed on a perfect good day at the same flows passes 100 %."""
    day = we.readings("healthy", 2500, 24)
    found = worked(resolved(book, day, healthy=perfect(day), figures={"exchanger-per-power": figure}))["exchanger-conductance-low"]
    assert found.result == pytest.approx(100.0, rel=1e-3)


def test_a_gauge_is_set_against_itself(book: Book) -> None:
    """A gauge that always reads eight over is followed by as much as its good day is surer than the book's allowance."""
    off = we.written({"gauge-temperature": 91.0, "housing-temperature": 83.0}, 2500)
    alone = worked(resolved(book, off))["gauge-over-housing"].result
    beside = worked(resolved(book, off, healthy=perfect(off)))["gauge-over-housing"].result
    assert alone == pytest.approx(8.0)
    assert beside == pytest.approx(0.0, abs=1e-6)


def test_a_good_day_is_followed_by_how_sure_it_is() -> None:
    """Good day and figure weigh by the inverse of their variances: with 20 % on the figure and s on the bucket, 0.04 / (0.04 + s^2).

    Today 12 of the 16 L/min that the figure says, on the good day 20: the usual is 1 + trust x 0.25, and today 75 % of the whole over that.
    The share of the figure's variance is taken between one standard deviation up and down, which makes its 20 % 20.8 %.
    """
    for sigma in (0.002, 0.05, 0.2, 0.6):
        good = bucket(20, plus_minus=40.0 * sigma)
        figure = (1 / 0.8 - 1 / 1.2) / 2.0
        trust = figure**2 / (figure**2 + sigma**2)
        found = made_of(small(small_book(), bucket(12), healthy=[good]))["a-share"]
        assert found.result == pytest.approx(75.0 / (1.0 + trust * 0.25), rel=2e-3)


def test_a_useless_good_day_is_not_followed() -> None:
    """A good day that may be off by ten times itself leaves today's figure as it was without one."""
    alone = made_of(small(small_book(), bucket(12)))["a-share"]
    beside = made_of(small(small_book(), bucket(12), healthy=[bucket(20, plus_minus=38.0)]))["a-share"]
    assert beside.result == pytest.approx(alone.result, rel=0.02)


@pytest.mark.parametrize("noise", [1e-9, 1.0, 2.0])
def test_a_good_day_never_makes_a_figure_less_sure(book: Book, noise: float) -> None:
    """What is also known of the healthy engine cannot take away from what was known: no figure gets wider by a good day."""
    today = we.readings("healthy", 2500, 24)
    good = [{**r, "plus_minus": 2.0 * noise * we.NOISE.get(r["reading"], 1.0)} for r in today]
    before, after = worked(resolved(book, today)), worked(resolved(book, today, healthy=good))
    wider = {n: (w.plus_minus, after[n].plus_minus) for n, w in before.items()
             if w.result is not None and float(after[n].plus_minus or 0) > 1.001 * float(w.plus_minus or 0)}
    assert wider == {}


def test_half_a_good_day_is_no_good_day(book: Book) -> None:
    """Where a reading of it is missing, today is set against the figures, as without one."""
    today = we.readings("low-raw-water", 2500, 24)
    half = worked(resolved(book, today, healthy=without(we.readings("healthy", 2400, 15), BUCKET)))
    assert half["raw-water-flow-measured"] == worked(resolved(book, today))["raw-water-flow-measured"].model_copy(
        update={"widened": half["raw-water-flow-measured"].widened})


def test_a_spoilt_good_day_does_not_spoil_today(book: Book) -> None:
    """A good day whose revs nobody wrote down cannot be used; today is still worked out against the figures."""
    today = we.readings("low-raw-water", 2500, 24)
    found = worked(resolved(book, today, healthy=we.written(we.exact("healthy", 2400, 15), None)))
    assert found["raw-water-flow-measured"].result == pytest.approx(35.0, abs=1.0)


def test_the_good_day_is_no_evidence_by_itself(book: Book) -> None:
    """Readings of a good day alone say nothing of today."""
    assert resolved(book, [], healthy=we.readings("fouled-exchanger", 2500, 24)).seen == ()


# ------------------------------------------------------------------ what is shown


@pytest.fixture(scope="module")
def shown(book: Book) -> Assessment:
    """A fouled exchanger beside a good day, assessed."""
    return assess(we.case_of(we.readings("fouled-exchanger", 2500, 24), healthy=we.readings("healthy", 2400, 15)), book, next_check=False,
                  ledger=False)


def test_the_trace_holds_the_numbers_put_in(shown: Assessment, book: Book) -> None:
    """Each working names its readings and shows every number that went in, with its doubt and what it is; so the sum can be done again."""
    found = next(w for w in shown.workings if w.symptom == "heat-made-much")
    assert found.observations == ("raw-water-caught", "raw-water-out-temperature", "sea-temperature")
    text = " ; ".join(found.numbers)
    for part in ("raw in 24 ± 1.4 degC (sea temperature)", "raw flow 15 ± 2.1 L/min (sea water caught in a bucket)",
                 "speed 2500 ± ", "power 20 kW (rated power)", "on the good day: raw in 15 ± 1.4 degC"):
        assert part in text, text
    assert f"heat per power {book.figures['heat-per-power'].default:g} ± 0.25" in text
    assert found.formula == book.symptoms["heat-made-much"].worked_out[0].formula


def test_numbers_are_shown_without_powers_of_ten(shown: Assessment) -> None:
    """An owner reads 2500 ± 100 rpm, and no 1e+02."""
    assert [n for w in shown.workings for n in w.numbers if re.search(r"[0-9]e[+-][0-9]", n)] == []


@pytest.mark.parametrize("width", [40, 60, 100])
def test_the_page_says_what_was_read_and_what_came_of_it(shown: Assessment, width: int) -> None:
    """Readings with their revs, what is not as it should be, what is sound, what could not be told and why; in the width of the page."""
    page = Page(width)
    measured(page, shown)
    text = " ".join(page.text().split())
    assert max(map(len, page.text().splitlines())) <= width
    for label in ("READ ", "WORKED OUT ", "and not "):
        assert label in text
    found = {w.symptom: w for w in shown.workings}
    assert re.search(r"sea water caught in a bucket 15 L/min at 2500 rpm", text)
    fouled = found["exchanger-conductance-low"]
    assert re.search(rf"{fouled.title}: 38 ± {round(float(fouled.plus_minus or 0))} %, a third or less", text)
    cold = assess(we.case_of(we.readings("healthy", 2500, 24)), load_rules(), next_check=False, ledger=False)
    page = Page(width)
    measured(page, cold)
    assert "need not be far open" in " ".join(page.text().split()).partition("NOT TOLD ")[2]


def test_a_sum_is_shown_in_full(shown: Assessment) -> None:
    """Formula, each number put in, the result with two standard deviations, and that it was weighed less for sharing readings."""
    page = Page(100)
    made = next(w for w in shown.workings if w.symptom == "raw-water-flow-measured")
    sums(page, made)
    text = " ".join(page.text().split())
    assert made.formula in text
    assert all(number in text for number in made.numbers)
    assert "gives 100 ± 20 %" in text
    assert f"{made.widened:.2g} times less certain" in text


def test_the_result_holds_its_workings(shown: Assessment) -> None:
    """The JSON of an assessment has readings and workings, and goes through a reader and back unchanged."""
    data = json.loads(shown.model_dump_json())
    assert {w["symptom"] for w in data["workings"]} >= OUT_OF_READINGS
    assert set(data["workings"][0]) == {"symptom", "title", "state", "formula", "numbers", "result", "plus_minus", "unit", "grade", "says",
                                        "tells", "widened", "observations", "why_not"}
    assert {r["reading"] for r in data["readings"]} == set(we.exact("healthy", 2500, 24))
    assert Assessment.model_validate_json(shown.model_dump_json()) == shown


def test_every_working_has_a_result_or_a_reason(shown: Assessment) -> None:
    """Never both, never neither."""
    for made in shown.workings:
        assert (made.result is None) == (made.why_not is not None)
        assert (made.result is None) == (made.plus_minus is None) == (made.grade is None)


def test_what_is_worked_out_is_listed_as_seen(shown: Assessment) -> None:
    """Signs worked out stand among the observations, told as worked out, so that the ledger can name them."""
    lines = {o.symptom: o for o in shown.observations}
    assert lines["exchanger-conductance-low"].seen.endswith("%, worked out")
    assert lines["exchanger-conductance-low"].grade == "very-low"


def test_measured_rules_fire(shown: Assessment, book: Book) -> None:
    """Flow in plenty and an exchanger that passes little, both worked out, make the finding that names the exchanger."""
    assert "measured-fouled-exchanger" in {f.rule for f in shown.trace}
    healthy = assess(we.case_of(we.readings("healthy", 2500, 24)), book, next_check=False, ledger=False)
    assert not {f.rule for f in healthy.trace if f.rule.startswith("measured-")}


def test_figures_of_every_case_are_those_of_the_book(book: Book) -> None:
    """What no owner gives is taken for each figure that a working asks for."""
    wanted = {i.figure for s in book.symptoms.values() for w in s.worked_out for i in w.takes.values() if i.figure}
    assert wanted <= set(figures_of({}, book))


def test_no_reading_is_asked_for_in_vain(book: Book) -> None:
    """Every reading that the shipped book asks a person for goes into something."""
    used = {i.reading for s in book.symptoms.values() for w in s.worked_out for i in w.takes.values()}
    assert set(book.readings) <= used
