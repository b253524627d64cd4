"""Trends against scipy and worked examples."""

from __future__ import annotations

import random
from typing import Any

import pytest

from diagnose.measure import trend

HOURS = [0.0, 50.0, 100.0, 150.0, 200.0, 250.0]
SPIKED = [82.0, 83.0, 83.5, 85.0, 99.0, 86.0]


@pytest.fixture(scope="module")
def stats() -> Any:
    """scipy.stats, where it is installed."""
    return pytest.importorskip("scipy.stats")


def test_one_bad_reading_of_ten() -> None:
    """y = 2x + 1 with the last reading 100: slope 2, intercept 1 (scipy.stats.theilslopes); least squares would say 6.418 and -10.78."""
    found = trend.theil_sen([float(x) for x in range(10)], [2.0 * x + 1.0 for x in range(9)] + [100.0])
    assert (found.slope, found.intercept) == pytest.approx((2.0, 1.0))


def test_temperature_with_a_spike() -> None:
    """Six readings with a spike: 0.02 K an hour, intercept 81.75, 95 degrees at 662.5 h (scipy.stats.theilslopes, and by hand the
    middle of 15 slopes and (95 - 81.75) / 0.02)."""
    found = trend.theil_sen(HOURS, SPIKED)
    assert (found.slope, found.intercept) == pytest.approx((0.02, 81.75))
    assert trend.crossing(HOURS, SPIKED, 95.0, "over").at == pytest.approx(662.5)


def test_example_of_hollander_and_wolfe() -> None:
    """Nonparametric Statistical Methods, example 9.1, data as in its companion library: years 1 to 5, ratios 1.26 1.27 1.12 1.16 1.03.

    By hand the ten slopes are -.15 -.13 -.08 -.07 -.0575 -.055 -.045 -.0333 .01 .04, their middle -.05625; C is -6, and its chance to
    one side is .117 (memory of the book), 14 orders of 120: 1 with no pair the wrong way round, 4 with one, 9 with two.
    """
    years, ratios = [1.0, 2.0, 3.0, 4.0, 5.0], [1.26, 1.27, 1.12, 1.16, 1.03]
    assert trend.theil_sen(years, ratios).slope == pytest.approx(-0.05625, abs=1e-9)
    found = trend.mann_kendall(years, ratios)
    assert found.s == -6
    assert found.p / 2 == pytest.approx(0.117, abs=0.0005)


def test_example_of_a_statistical_library() -> None:
    """R package statpsych, ci.theil (after Hollander and Wolfe): 15 pairs with ties, 95 %: 0.5, from 0.3243243 to 0.75."""
    y = [21, 4, 9, 12, 35, 18, 10, 22, 24, 1, 6, 8, 13, 16, 19]
    x = [67, 28, 30, 28, 52, 40, 25, 37, 44, 10, 14, 20, 28, 40, 51]
    found = trend.theil_sen([float(v) for v in x], [float(v) for v in y], 0.95)
    assert (found.slope, found.low, found.high) == pytest.approx((0.5, 0.3243243, 0.75), abs=1e-6)


def test_example_by_hand_of_a_college() -> None:
    """J. Little, College of the Holy Cross: 14 values with one tie, S = 54, Z = 2.9058 and a chance to one side of about .0018.

    That is the normal distribution's, ours is counted out, and in the tail the normal one is known to be the larger.
    """
    values = [12.9, 14.8, 13.2, 15.7, 13.8, 15.6, 12.9, 11.0, 17.3, 15.9, 19.0, 18.3, 20.1, 21.7]
    found = trend.mann_kendall([float(i) for i in range(14)], values)
    assert found.s == 54
    assert 0.6 * 0.0018 < found.p / 2 < 0.0018


# Kendall's table of the chance of S or more without a trend, as printed in books on environmental statistics (memory), to one unit
KENDALL = [(4, 6, 0.042), (5, 8, 0.042), (5, 10, 0.0083), (6, 9, 0.068), (6, 11, 0.028), (7, 11, 0.068), (7, 13, 0.035), (8, 16, 0.031),
           (9, 18, 0.038), (10, 21, 0.036)]


@pytest.mark.parametrize(("n", "s", "chance"), KENDALL)
def test_kendall_s_table(n: int, s: int, chance: float) -> None:
    """Any order with that S does: readings that rise, of which the first and then the next are moved back until enough pairs stand
    the wrong way round. Printed to two figures."""
    values = [float(i) for i in range(n)]
    wrong = (n * (n - 1) // 2 - s) // 2
    values.insert(min(wrong, n - 1), values.pop(0))
    values.insert(max(0, wrong - (n - 1)), values.pop(0))
    found = trend.mann_kendall([float(i) for i in range(n)], values)
    assert found.s == s
    assert found.p / 2 == pytest.approx(chance, rel=0.03)


def _series(n: int, seed: int, step: float) -> tuple[list[float], list[float]]:
    generator = random.Random(1000 * n + seed)
    hours = [float(h) for h in sorted(generator.sample(range(10 * n), n))]
    return hours, [round((80.0 + 0.05 * h + generator.gauss(0.0, 2.0)) / step) * step for h in hours]


@pytest.mark.parametrize("n", [2, 3, 4, 5, 7, 10, 20, 45, 61, 120])
def test_slope_and_intercept_against_scipy(stats: Any, n: int) -> None:
    """scipy.stats.theilslopes, ten series a size, with readings rounded to 1 and so full of ties. To rounding."""
    for seed in range(10):
        hours, values = _series(n, seed, 1.0)
        theirs = stats.theilslopes(values, hours)
        ours = trend.theil_sen(hours, values)
        assert (ours.slope, ours.intercept) == pytest.approx((theirs.slope, theirs.intercept), abs=1e-9)


@pytest.mark.parametrize("confidence", [0.8, 0.9, 0.95])
@pytest.mark.parametrize("n", [8, 12, 20, 35, 60, 61, 100])
def test_interval_against_scipy(stats: Any, n: int, confidence: float) -> None:
    """scipy takes Sen's normal approximation and the nearest whole rank; ours counts ranks out, and rounds outwards beyond 60.

    So the bounds lie on scipy's rank or a neighbouring one: between its bounds for a confidence a little lower and a little higher.
    """
    for seed in range(5):
        hours, values = _series(n, seed, 1e-6)
        ours = trend.theil_sen(hours, values, confidence)
        narrow, wide = (stats.theilslopes(values, hours, level) for level in (confidence - 0.06, confidence + 0.04))
        assert ours.low is not None
        assert ours.high is not None
        assert wide.low_slope <= ours.low <= narrow.low_slope
        assert narrow.high_slope <= ours.high <= wide.high_slope


@pytest.mark.parametrize("n", [2, 3, 4, 5, 6, 8, 12, 25, 40, 60])
def test_chance_without_ties_against_scipy(stats: Any, n: int) -> None:
    """scipy.stats.kendalltau, exact, whole range of sizes; tau and chance to rounding."""
    for seed in range(8):
        hours, values = _series(n, seed, 1e-6)
        theirs = stats.kendalltau(hours, values, method="exact")
        ours = trend.mann_kendall(hours, values)
        assert (ours.tau, ours.p) == pytest.approx((theirs.statistic, theirs.pvalue), rel=1e-9)


@pytest.mark.parametrize("n", [12, 30, 80, 150])
def test_chance_with_ties_in_both_against_scipy(stats: Any, n: int) -> None:
    """Ties in hours and values: tau b to rounding. scipy's chance has no step of one taken off S: ours is that for S one nearer nought,
    so it is a little larger, and no more than scipy's for a tau less by two pairs."""
    for seed in range(6):
        hours, values = _series(n, seed, 1.0)
        hours = [float(int(h) // 4) for h in hours]
        if len(set(hours)) == len(hours) or len(set(values)) == len(values):
            continue
        theirs, ours = stats.kendalltau(hours, values, method="asymptotic"), trend.mann_kendall(hours, values)
        assert ours.tau == pytest.approx(theirs.statistic, rel=1e-9)
        if ours.s == 0:
            assert ours.p == 1.0
            continue
        z = stats.norm.isf(theirs.pvalue / 2)
        assert ours.p == pytest.approx(2 * stats.norm.sf(z * (abs(ours.s) - 1) / abs(ours.s)), rel=1e-9)


@pytest.mark.parametrize("values", [[1.0, 1.0, 2.0, 3.0, 3.0, 4.0], [5.0, 5.0, 5.0, 6.0, 7.0, 6.0], [2.0, 1.0, 2.0, 4.0, 3.0, 4.0]])
def test_chance_with_ties_in_the_readings_against_all_orders(stats: Any, values: list[float]) -> None:
    """scipy.stats.permutation_test of Kendall's tau over all 720 orders of six readings. To rounding."""
    hours = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0]
    theirs = stats.permutation_test((values,), lambda series: stats.kendalltau(hours, series).statistic, permutation_type="pairings",
                                    n_resamples=100_000, alternative="greater")
    ours = trend.mann_kendall(hours, values)
    both = [abs(t) >= abs(theirs.statistic) - 1e-9 for t in theirs.null_distribution]
    assert ours.p == pytest.approx(sum(both) / len(both), rel=1e-9)
