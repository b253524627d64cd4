"""A counted loss weighed by the rates of a leak's grades: the nearest grade, and healthy only where a sound one loses something too."""

from __future__ import annotations

import math

import numpy as np
import pytest
import smallbook as sb

from diagnose import assess
from diagnose.knowledge.load import load_rules
from diagnose.knowledge.model import Symptom
from diagnose.seen import leak_grade, leak_likelihood

RATES = {"some": (0.5, 5.0), "much": (3.0, 200.0)}


def leaking(**leak: object) -> Symptom:
    """A sign that is a loss."""
    return Symptom.model_validate(sb.symptom("weep", (0.02, 0.005), leak={"fluid": "coolant", "rates": RATES, **leak}))


@pytest.mark.parametrize("rate", [0.01, 0.07, 0.5, 4.0, 50.0, 1e6])
def test_what_was_counted_is_a_leak(rate: float) -> None:
    """Where a sound one is dry no loss is healthy, and one below all grades is weighed as the least of the mildest."""
    told = leak_likelihood(leaking(), rate)
    assert told[0] == 0.0
    assert told.max() == 1.0
    assert leak_grade(leaking(), rate) == 1 + int(rate > 5)
    if rate < RATES["some"][0]:
        assert told == pytest.approx(leak_likelihood(leaking(), RATES["some"][0]))


def test_a_sound_one_may_lose_something() -> None:
    """A packed gland drips: what it may lose is none, and what lies between is both."""
    gland = leaking(healthy=(0.05, 0.6))
    assert leak_grade(gland, 0.1) == 0
    assert leak_grade(gland, 3.0) == 1
    between = leak_likelihood(gland, 0.55)
    assert min(between[:2]) > 0.3


def test_the_error_of_a_count_is_a_factor_of_two() -> None:
    """Counted out: the loss is the true one times a lognormal error of which nine in ten lie within a factor of two."""
    rng = np.random.default_rng(5)
    spans = [(math.log(low), math.log(high)) for low, high in RATES.values()]
    true = np.array([rng.uniform(low, high, 400_000) for low, high in spans])
    seen = true + rng.normal(0.0, math.log(2.0) / 1.645, true.shape)
    near = (np.abs(seen - math.log(4.0)) < 0.02).mean(axis=1)
    assert leak_likelihood(leaking(), 4.0)[1:] == pytest.approx(near / near.max(), rel=0.05)


def test_a_small_counted_leak_speaks_for_its_fault() -> None:
    """One drop an hour at a joint that should be dry: as a number it points where its grade points."""
    book = load_rules()
    told = {"grade": {"grade": "damp"}, "number": {"value": "0.07 mL/hour"}}
    chances = {name: assess(sb.case_of({"symptom": "fuel-joint-wet", "state": "idle", **how}), book).all_probabilities
               for name, how in told.items()}
    first = max(chances["grade"], key=lambda fault: chances["grade"][fault])
    assert chances["number"][first] == pytest.approx(chances["grade"][first], abs=0.05)
