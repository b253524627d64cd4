"""The scores themselves, held to hand sums and published values."""

from __future__ import annotations

import math

import numpy as np
import pytest
from outside.scoring import log_score, reliability, slope, slope_interval, spiegelhalter, wilson


def test_wilson_interval() -> None:
    """81 of 263: .255 to .366 without continuity correction (Newcombe, Statistics in Medicine 1998, method 3; from memory)."""
    assert wilson(81, 263) == (pytest.approx(0.2553, abs=5e-4), pytest.approx(0.3662, abs=5e-4))
    assert wilson(0, 0) == (0.0, 1.0)
    assert wilson(0, 10)[0] == 0.0
    assert wilson(10, 10)[1] == pytest.approx(1.0)


def test_log_score() -> None:
    """Hand sum: ln .5 and ln .25, halved."""
    assert log_score([0.5, 0.25]) == pytest.approx((math.log(0.5) + math.log(0.25)) / 2)


def test_spiegelhalter_z() -> None:
    """Hand sum: .8 came, .3 did not: (.2*-.6 + -.3*.4) / sqrt(.36*.16 + .16*.21)."""
    assert spiegelhalter([0.8, 0.3], [True, False]) == pytest.approx((0.2 * -0.6 + -0.3 * 0.4) / math.sqrt(0.36 * 0.16 + 0.16 * 0.21))


def test_slope_finds_what_was_put_in() -> None:
    """Outcomes drawn with half the stated log odds give a slope of about one half, with an interval round it."""
    rng = np.random.default_rng(3)
    stated = rng.uniform(-3, 3, 4000)
    came = rng.random(4000) < 1 / (1 + np.exp(-0.5 * stated))
    chances = (1 / (1 + np.exp(-stated))).tolist()
    assert slope(chances, came.tolist()) == pytest.approx(0.5, abs=0.06)
    low, high = slope_interval(chances[:400], came.tolist()[:400], draws=100)
    assert low < 0.5 < high


def test_reliability_rows() -> None:
    """Two in the lowest band, one in the highest."""
    assert reliability([0.1, 0.1, 0.9], [False, True, True]) == [
        (0, 0.2, 2, pytest.approx(0.1), 1), (0.8, 1.0, 1, pytest.approx(0.9), 1)]
