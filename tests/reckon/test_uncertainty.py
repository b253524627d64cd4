"""Propagation of uncertainty: exact for straight lines, against published budgets, the package uncertainties and Monte Carlo."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.measure import cooling, exchanger, flow
from diagnose.reckon.uncertainty import Spread, propagate

finite = st.floats(-50.0, 50.0)


def through(function: Callable[..., Any], values: Sequence[float], sigmas: Sequence[float]) -> Spread:
    """The spread of a function of several arguments that gives one figure."""
    return propagate(lambda vector: [function(*vector)], values, sigmas)


# ------------------------------------------------------------------ straight lines


@given(slopes=st.lists(finite, min_size=1, max_size=6), data=st.data())
def test_straight_lines_are_exact(slopes: list[float], data: st.DataObject) -> None:
    """Of a sum of multiples the standard deviation is the root of the sum of squares, either side, and the shares are its parts."""
    values = data.draw(st.lists(finite, min_size=len(slopes), max_size=len(slopes)))
    sigmas = data.draw(st.lists(st.floats(0.0, 10.0), min_size=len(slopes), max_size=len(slopes)))
    spread = through(lambda *x: 3.0 + float(np.dot(slopes, x)), values, sigmas)
    exact = math.sqrt(sum((a * s) ** 2 for a, s in zip(slopes, sigmas, strict=True)))
    assert spread.figures[0] == pytest.approx(3.0 + float(np.dot(slopes, values)), abs=1e-9)
    for found in (spread.sigmas, spread.above, spread.below):
        assert found[0] == pytest.approx(exact, rel=1e-6, abs=1e-9)
    if exact > 1e-3:
        parts = [(a * s / exact) ** 2 for a, s in zip(slopes, sigmas, strict=True)]
        assert spread.shares[:, 0] == pytest.approx(parts, abs=1e-6)


def test_several_figures_are_kept_apart() -> None:
    """A row an input, a column a figure: each figure has its own standard deviation and its own shares."""
    spread = propagate(lambda v: [v[0] + v[1], 2.0 * v[0], 7.0], [1.0, 2.0], [0.3, 0.4])
    assert spread.figures == pytest.approx([3.0, 2.0, 7.0])
    assert spread.sigmas == pytest.approx([0.5, 0.6, 0.0])
    assert spread.shares[:, 0] == pytest.approx([0.36, 0.64])
    assert spread.shares[:, 1] == pytest.approx([1.0, 0.0])
    assert spread.shares[:, 2] == pytest.approx([0.0, 0.0])


@given(sigmas=st.lists(st.floats(0.01, 5.0), min_size=3, max_size=3), at=st.lists(st.floats(0.5, 20.0), min_size=3, max_size=3))
def test_shares_sum_to_one(sigmas: list[float], at: list[float]) -> None:
    """Of a figure that is uncertain at all the shares of all inputs sum to one."""
    spread = through(lambda a, b, c: a * b / (c + 30.0), at, sigmas)
    assert spread.shares[:, 0].sum() == pytest.approx(1.0, rel=1e-12)
    assert spread.shares.min() >= 0.0


def test_what_is_exact_is_not_tried() -> None:
    """An input without uncertainty is not moved, and brings nothing; with none at all the function is worked once."""
    tried: list[tuple[float, ...]] = []

    def watched(vector: Sequence[float]) -> list[float]:
        tried.append(tuple(vector))
        return [sum(vector)]

    assert propagate(watched, [1.0, 2.0], [0.0, 0.0]).sigmas == pytest.approx([0.0])
    assert tried == [(1.0, 2.0)]
    propagate(watched, [1.0, 2.0], [0.0, 0.5])
    assert {vector[0] for vector in tried} == {1.0}


# ------------------------------------------------------------------ published budgets


def test_calibration_standard_of_eurachem() -> None:
    """EURACHEM/CITAC CG 4, example A1: 100.28 +- 0.05 mg of purity 0.9999 +- 0.000058 in 100.0 +- 0.07 mL: 1002.7 mg/L, u 0.9 mg/L.

    To the digit printed. Kragten's way is the one of the guide's own spreadsheets.
    """
    spread = through(lambda mass, purity, volume: 1000.0 * mass * purity / volume, [100.28, 0.9999, 100.0], [0.05, 0.000058, 0.07])
    assert round(float(spread.figures[0]), 1) == 1002.7
    assert round(float(spread.sigmas[0]), 1) == 0.9
    assert spread.shares[:, 0].argmax() == 2


END_GAUGE = ([50.000623e6, 215.0, 0.0, -0.1, 11.5e-6, 0.0], [25.0, 9.7, 0.58e-6, 0.41, 1.2e-6, 0.029])
"""JCGM 100 (the GUM), example H.1, in nanometres: length of the standard, difference, of the expansions, deviation from 20 degC, expansion,
difference of the temperatures, each with its standard uncertainty. From memory; the two results below follow from them by hand."""


def end_gauge(standard: float, difference: float, unlike: float, over: float, expansion: float, apart: float) -> float:
    """Length of the gauge calibrated."""
    return standard + difference - standard * (unlike * over + expansion * apart)


def test_end_gauge_of_the_gum() -> None:
    """JCGM 100, H.1: first order gives 32 nm, and that is what this is; terms of second order would make it 34 nm (H.1.7).

    They come from products of two inputs whose estimates are nought, which no one-at-a-time method sees.
    """
    spread = through(end_gauge, *END_GAUGE)
    assert round(float(spread.sigmas[0])) == 32
    rng = np.random.default_rng(1)
    draws = rng.normal(END_GAUGE[0], END_GAUGE[1], (200_000, 6))
    assert round(float(end_gauge(*draws.T).std())) == 34  # type: ignore[attr-defined]


def test_additive_model_of_jcgm_101() -> None:
    """JCGM 101, clause 9.2.2: four standard normal inputs added: standard uncertainty 2.0 and 95 % from -3.92 to 3.92.

    The package takes 2 for 1.96 (JCGM 100, 6.3.3): 4.0, two per cent more.
    """
    spread = through(lambda *x: sum(x), [0.0] * 4, [1.0] * 4)
    assert spread.sigmas[0] == pytest.approx(2.0, rel=1e-12)
    assert 2.0 * spread.above[0] == pytest.approx(3.92, rel=0.021)


# ------------------------------------------------------------------ real functions

HEAT = (40.0, 20e3, 50.0, 0.85, 0.25, 2.8)
HEAT_SIGMAS = (0.8, 0.0, 0.0, 0.153, 0.0625, 0.224)
CASES: dict[str, tuple[Callable[..., float], Sequence[float], Sequence[float], float]] = {
    # name: function, values, one standard deviation with ordinary tools and the figures the book takes, how far first order may be out
    "a bucket and a watch": (flow.flow_by_bucket, (0.010, 24.0), (2e-4, 0.5), 0.01),
    "share of the rated flow": (flow.share_of_rated, (2.5e-4, 1.5e-5, 20e3, 50.0, 41.7), (1.25e-5, 2.7e-6, 0.0, 0.0, 0.8), 0.12),
    "heat of the propeller curve": (cooling.expected_heat, HEAT, HEAT_SIGMAS, 0.02),
    "heat in the sea water": (cooling.heat_share, (24.0, 34.3, 2.5e-4, *HEAT), (0.4, 1.5, 1.25e-5, *HEAT_SIGMAS), 0.12),
    "rise of the sea water": (cooling.raw_rise_share, (24.0, 34.3, *HEAT, 1.5e-5 / 1e3), (0.4, 1.5, *HEAT_SIGMAS, 2.7e-9), 0.12),
    "mean difference": (lambda a, b, c, d: exchanger.log_mean_difference(a, b, c, d, "counterflow"), (84.0, 73.0, 31.0, 43.0),
                        (1.5, 1.5, 0.4, 1.2), 0.01),
    "hose behind the thermostat": (cooling.difference, (95.0, 62.0), (1.5, 1.5), 0.01),
    "conductance of the exchanger": (cooling.conductance_share, (94.1, 82.0, 24.0, 40.0, 2.5e-4, 20e3, 1.5e-8, 3.5e-8, 0.025),
                                     (1.5, 1.5, 0.4, 1.2, 1.25e-5, 0.0, 2.7e-9, 1.05e-8, 0.0075), 0.15),
}
"""First order leaves out the bend of one over a figure known to 18 %: the standard deviation of its inverse is larger by about
1 + 4 x 0.18 ^ 2, 13 %, and Kragten's half way meets 3 % of it. Straight or nearly straight functions are held to 1 %."""


@pytest.mark.parametrize("name", CASES)
def test_real_functions_against_the_package_uncertainties(name: str) -> None:
    """At a hundredth of the doubt, where every function is straight, it agrees with the package's derivatives to 0.1 %."""
    wrap = pytest.importorskip("uncertainties")
    function, values, sigmas, _ = CASES[name]
    small = [s / 100.0 for s in sigmas]
    packed = wrap.wrap(function)(*(wrap.ufloat(v, s) if s else v for v, s in zip(values, small, strict=True)))
    spread = through(function, values, small)
    assert spread.figures[0] == pytest.approx(packed.nominal_value, rel=1e-12)
    assert spread.sigmas[0] == pytest.approx(packed.std_dev, rel=1e-3)


def drawn(function: Callable[..., float], values: Sequence[float], sigmas: Sequence[float], count: int) -> np.ndarray[Any, Any]:
    """The figure of many draws of the inputs, each normal round its value; what the function refuses is left out."""
    rng = np.random.default_rng(7)
    found = []
    for draw in rng.normal(values, sigmas, (count, len(values))).tolist():
        try:
            found.append(function(*draw))
        except ValueError:
            continue
    return np.array(found)


@pytest.mark.parametrize("name", CASES)
def test_real_functions_against_monte_carlo(name: str) -> None:
    """With ordinary tools the standard deviation is that of 10 000 draws (JCGM 101), to what the bend of the function accounts for.

    Draws add their own 1 / sqrt(2 x 10 000), 0.7 %, of which three are allowed. The draws' middle 68 in 100 are compared, so that a few
    far draws of a quotient do not decide; for a normal figure that is the same.
    """
    function, values, sigmas, bend = CASES[name]
    draws = drawn(function, values, sigmas, 10_000)
    assert len(draws) > 9_900
    low, high = np.quantile(draws, [0.15866, 0.84134])
    assert through(function, values, sigmas).sigmas[0] == pytest.approx((high - low) / 2.0, rel=bend + 0.03)


@pytest.mark.parametrize("name", CASES)
def test_intervals_hold_what_they_say(name: str) -> None:
    """Two standard deviations either side hold 95 of 100 draws, from 93 to 98, with the two sides taken apart where they differ."""
    function, values, sigmas, _ = CASES[name]
    spread = through(function, values, [2.0 * s for s in sigmas])
    draws = drawn(function, values, sigmas, 5_000)
    held = np.mean((draws >= spread.figures[0] - spread.below[0]) & (draws <= spread.figures[0] + spread.above[0]))
    assert 0.93 < held < 0.98


# ------------------------------------------------------------------ bends and edges


def test_a_bend_is_met_half_way() -> None:
    """Where a function bends within one standard deviation the two sides differ, and the slope taken is that between its ends."""
    spread = through(lambda x: max(x, 0.0), [0.0], [2.0])
    assert (spread.above[0], spread.below[0]) == (2.0, 0.0)
    assert spread.sigmas[0] == pytest.approx(1.0)


def test_the_top_of_a_hill_reaches_down_only() -> None:
    """At an extreme both moves go one way: nothing above, the larger below."""
    spread = through(lambda x: -x * x, [0.0], [3.0])
    assert (spread.above[0], spread.below[0]) == (0.0, 9.0)


@pytest.mark.parametrize("at", [1.0, -1.0])
def test_at_the_edge_of_a_range_the_other_side_stands_for_both(at: float) -> None:
    """A step that the function refuses is that of the other side turned round, for a rising and a falling figure alike."""

    def inside(vector: Sequence[float]) -> list[float]:
        if abs(vector[0]) > 1.0:
            raise ValueError("outside")
        return [5.0 * vector[0], -2.0 * vector[0]]

    spread = propagate(inside, [at], [0.1])
    assert spread.up[0] == pytest.approx([0.5, -0.2])
    assert spread.down[0] == pytest.approx([-0.5, 0.2])
    assert spread.sigmas == pytest.approx([0.5, 0.2])


def test_what_cannot_be_worked_is_refused() -> None:
    """Refused on both sides it cannot be said how sure the figure is; refused at the values themselves there is none. Both are said."""

    def only_at_one(vector: Sequence[float]) -> list[float]:
        if vector[0] != 1.0:
            raise ValueError("only at one")
        return [1.0]

    with pytest.raises(ValueError, match="edge of what the formula can say"):
        propagate(only_at_one, [1.0], [0.1])
    with pytest.raises(ValueError, match="only at one"):
        propagate(only_at_one, [2.0], [0.1])


def test_other_errors_are_not_swallowed() -> None:
    """A mistake in the function is no edge of its range."""
    with pytest.raises(ZeroDivisionError):
        propagate(lambda v: [1.0 / (v[0] - 1.0)], [1.5], [0.5])
