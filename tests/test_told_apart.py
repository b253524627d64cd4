"""Are troubles of the cooling told apart by readings of ordinary tools? Sets made by the model, seeded, put through the shipped rules.

Each set is five temperatures, a gauge and a bucket with the errors of a panel gauge (2 K), infrared on tape (1.5 K), a thermometer in a
bucket (0.4 K) and a bucket and a watch (5 %). The model that makes them and the formulas that read them lean on the same physics, so
this shows what the noise and what is not known of an engine leave of it, and not that an engine behaves so.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator
from functools import cache

import numpy as np
import pytest
import warmengine as we

from diagnose.case import Case
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules
from diagnose.machinery import Machinery
from diagnose.network.belief import Query
from diagnose.triage import Assessing

pytestmark = pytest.mark.slow

CONDITION = {
    "low-raw-water": "raw-water-flow-low", "fouled-exchanger": "heat-exchange-poor", "low-coolant-flow": "circulation-low",
    "thermostat-shut": "thermostat-opens-late", "overload": "engine-overloaded", "gauge-false": "gauge-held-high",
}
"""Trouble of the model to condition of the book."""
PRESENT = {c: {t for t, of in CONDITION.items() if of == c} for c in CONDITION.values()}
PRESENT["circulation-low"].add("thermostat-shut")  # nothing goes round behind a shut thermostat either
RPM, SEA = 2500.0, 24.0
QUIET = 0.3
FIGURES = {"heat_per_power": 0.13, "no_load": 0.25, "exponent": 0.08, "raw_per_power": 0.18, "coolant_per_power": 0.30,
           "conductance_per_power": 0.30, "travel": 0.25}
"""How far engines differ from what the book takes for them, one standard deviation as a share: as the book says."""

Chances = dict[str, float]
Sets = dict[str, list[Chances]]


@cache
def book() -> Book:
    """The shipped rules."""
    return load_rules()


def chances(case: Case) -> Chances:
    """Unrounded chance of each condition."""
    _, _, belief, _ = Assessing(case, book(), Machinery.of(book())).believe()
    answers = belief.ask([Query()])
    return {c: answers.chance(c) for c in CONDITION.values()}


def drawn_engine(rng: random.Random) -> dict[str, float]:
    """An engine with figures of its own, up to two standard deviations from those taken."""
    figures = {k: we.ENGINE[k] * (1.0 + s * max(-2.0, min(2.0, rng.gauss(0.0, 1.0)))) for k, s in FIGURES.items()}
    return {**figures, "exponent": min(3.5, figures["exponent"])}


def simulated(count: int, seed: int, *, scale: float = 1.0, good_day: bool = False,
              engine: Callable[[random.Random], dict[str, float]] | None = None) -> Sets:
    """Chances of the conditions for `count` sets of readings of each trouble and of a healthy engine."""
    rng = random.Random(seed)
    sets: Sets = {}
    for trouble in (*CONDITION, "healthy"):
        sets[trouble] = []
        for _ in range(count):
            own = engine(rng) if engine is not None else {}
            boat = {"healthy": we.noisy("healthy", 2400.0, 15.0, rng, scale, **own)} if good_day else {}
            sets[trouble].append(chances(we.case_of(we.noisy(trouble, RPM, SEA, rng, scale, **own), **boat)))
    return sets


@pytest.fixture(scope="module")
def usual() -> Chances:
    """Chances when everything reads as on a healthy engine, without error: what each is held against."""
    return chances(we.case_of(we.readings("healthy", RPM, SEA)))


@pytest.fixture(scope="module")
def ordinary() -> Sets:
    """Ordinary tools, on an engine that is as the book takes it."""
    return simulated(15, 1)


@pytest.fixture(scope="module")
def careful() -> Sets:
    """Tools two and a half times as good."""
    return simulated(12, 2, scale=0.4)


@pytest.fixture(scope="module")
def unlike() -> Sets:
    """Ordinary tools on engines that each differ from what the book takes, with a good day of each on record."""
    return simulated(12, 3, good_day=True, engine=drawn_engine)


def odds(chance: float) -> float:
    return min(chance, 1.0 - 1e-9) / (1.0 - min(chance, 1.0 - 1e-9))


def risen(found: Chances, usual: Chances) -> str:
    """The condition whose odds have risen most over the usual; circulation is not held against a thermostat that explains it."""
    lift = {c: odds(found[c]) / odds(usual[c]) for c in found}
    if found["thermostat-opens-late"] > 0.9:
        lift["circulation-low"] = 0.0
    return max(lift, key=lambda c: lift[c])


def least(count: int, share: float) -> int:
    """How many of `count` are found at least, three standard deviations of the binomial under its mean."""
    return math.floor(count * share - 3.0 * math.sqrt(count * share * (1.0 - share)))


# ------------------------------------------------------------------ the right one rises

ORDINARY = {"low-raw-water": 0.98, "fouled-exchanger": 0.98, "low-coolant-flow": 0.85, "thermostat-shut": 0.98, "overload": 0.57,
            "gauge-false": 0.98}
UNLIKE = {"low-raw-water": 0.98, "fouled-exchanger": 0.93, "low-coolant-flow": 0.75, "thermostat-shut": 0.98, "overload": 0.55,
          "gauge-false": 0.98}
"""Share of sets in which the right condition rose most, as found in sixty sets of each with another seed; all of sixty is put down as
0.98, for nought of sixty lost still allows one in fifty. A guess among six would be 0.17."""


@pytest.mark.parametrize("trouble", CONDITION)
def test_ordinary_tools_tell_troubles_apart(trouble: str, ordinary: Sets, usual: Chances) -> None:
    """Of fifteen sets the right condition rises most in as many as the share found with another seed, less three standard deviations.

    Half as much load again is the hard one: it moves the heat by a third, and heat of an engine not known is known to a quarter.
    """
    found = sum(risen(c, usual) == CONDITION[trouble] for c in ordinary[trouble])
    assert found >= least(len(ordinary[trouble]), ORDINARY[trouble])


@pytest.mark.parametrize("trouble", CONDITION)
def test_engines_that_differ_are_told_apart_by_their_good_day(trouble: str, unlike: Sets, usual: Chances) -> None:
    """The same on engines whose heat, flows and exchanger differ by up to 60 % from what is taken, each with a good day on record."""
    found = sum(risen(c, usual) == CONDITION[trouble] for c in unlike[trouble])
    assert found >= least(len(unlike[trouble]), UNLIKE[trouble])


def test_careful_tools_tell_nearly_all_apart(careful: Sets, usual: Chances) -> None:
    """With tools two and a half times as good one set of sixty is told wrongly at most, and of twelve of overload six are told rightly.

    Found with another seed: 125 of 125, and 21 of 25 for overload; of twelve at 0.84 less three standard deviations are six.
    """
    wrong = {t: sum(risen(c, usual) != CONDITION[t] for c in careful[t]) for t in CONDITION}
    assert len(careful["overload"]) - wrong.pop("overload") >= least(len(careful["overload"]), 0.84)
    assert sum(wrong.values()) <= 1


def test_what_is_there_is_likelier_than_where_it_is_not(ordinary: Sets, unlike: Sets) -> None:
    """For every condition the mean chance over the sets that have it is half as much again, or more, as over those that do not."""
    for sets in (ordinary, unlike):
        for condition, troubles in PRESENT.items():
            there = np.mean([c[condition] for t in troubles for c in sets[t]])
            not_there = np.mean([c[condition] for t, found in sets.items() if t not in troubles for c in found])
            assert there > 1.5 * not_there, condition


# ------------------------------------------------------------------ healthy sets stay quiet


def test_healthy_sets_stay_quiet(ordinary: Sets, careful: Sets, unlike: Sets) -> None:
    """Readings of healthy engines lift no condition over 0.3 in most sets, on an engine as taken in nearly all.

    Found with another seed: 60 of 60 as taken, 25 of 25 with careful tools, 56 of 60 on engines that differ.
    """
    quiet = {name: sum(max(c.values()) < QUIET for c in sets["healthy"])
             for name, sets in (("ordinary", ordinary), ("careful", careful), ("unlike", unlike))}
    assert quiet["ordinary"] >= least(15, 0.98)
    assert quiet["careful"] >= least(12, 0.98)
    assert quiet["unlike"] >= least(12, 0.93)
    assert all(max(c.values()) < 0.6 for sets in (ordinary, careful, unlike) for c in sets["healthy"])


# ------------------------------------------------------------------ calibration in the large

HEALTHY_SHARE = 0.4
"""Of the cases drawn; each trouble has a sixth of the rest."""


def weighted(sets: Sets) -> Iterator[tuple[str, float, bool, float]]:
    """Condition, stated chance, whether it is there, and weight, of every set in a mix of four healthy in ten."""
    for trouble, found in sets.items():
        share = HEALTHY_SHARE if trouble == "healthy" else (1.0 - HEALTHY_SHARE) / len(CONDITION)
        for c in found:
            yield from ((condition, c[condition], trouble in PRESENT[condition], share / len(found)) for condition in c)


@pytest.mark.parametrize("which", ["ordinary", "unlike"])
def test_stated_chances_are_about_as_high_as_true(which: str, request: pytest.FixtureRequest) -> None:
    """In a fixed mix, one of ten each trouble and four of ten healthy, the mean stated chance is near the share that have it.

    All six together to 0.07, each alone to 0.2 over and 0.08 under. Found with another seed: 0.16 stated and 0.12 true; of raw water 0.24
    and 0.1. The book holds little water for commoner than this mix does, and on a hot engine it stays a suspect beside a bucket known
    to a fifth.
    """
    rows = list(weighted(request.getfixturevalue(which)))
    stated, true = (sum(weight * (p if i == 0 else there) for _, p, there, weight in rows) / len(CONDITION) for i in (0, 1))
    assert true - 0.03 < stated < true + 0.07
    for condition in PRESENT:
        of_it = [row for row in rows if row[0] == condition]
        mean, share = sum(p * w for _, p, _, w in of_it), sum(there * w for _, _, there, w in of_it)
        assert share - 0.08 < mean < share + 0.2, condition


@pytest.mark.parametrize("which", ["ordinary", "unlike"])
def test_stated_chances_beat_the_share(which: str, request: pytest.FixtureRequest) -> None:
    """The mean squared error of the chances stated is under half of that of always stating the share of the mix (Brier 1950).

    Found with another seed: 0.032 and 0.034 against 0.103.
    """
    rows = list(weighted(request.getfixturevalue(which)))
    total = sum(w for *_, w in rows)
    share = sum(there * w for _, _, there, w in rows) / total
    brier = sum(w * (p - there) ** 2 for _, p, there, w in rows) / total
    assert brier < 0.5 * share * (1.0 - share)


@pytest.mark.parametrize("which", ["ordinary", "unlike"])
def test_what_is_held_for_likely_is_likely(which: str, request: pytest.FixtureRequest) -> None:
    """Of conditions stated over 0.5 at least two in three are there, over 0.8 nine in ten; of those under 0.05 one in fifty at most.

    Found with another seed: 0.9, 0.98 and none.
    """
    rows = list(weighted(request.getfixturevalue(which)))

    def share(low: float, high: float) -> float:
        band = [(there, w) for _, p, there, w in rows if low <= p < high]
        return sum(there * w for there, w in band) / sum(w for _, w in band)

    assert share(0.5, 1.01) > 2 / 3
    assert share(0.8, 1.01) > 0.9
    assert share(0.0, 0.05) < 0.02
