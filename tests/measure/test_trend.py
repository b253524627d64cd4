"""Trends: exactness, invariances, few readings, and how often the intervals hold the truth."""

from __future__ import annotations

import itertools
import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.measure import trend
from diagnose.measure.valid import OutOfRangeError

HOURS = [0.0, 50.0, 100.0, 150.0, 200.0, 250.0]
SPIKED = [82.0, 83.0, 83.5, 85.0, 99.0, 86.0]
WHOLE = st.integers(-50, 50).map(float)
ROWS = st.lists(st.tuples(st.integers(0, 40).map(float), WHOLE), min_size=4, max_size=14)
SERIES = ROWS.filter(lambda rows: len({hour for hour, _ in rows}) > 1)


@pytest.mark.parametrize(("hours", "values", "message"), [
    ([], [], "two readings"), ([5.0], [80.0], "two readings"), ([1.0, 2.0], [80.0], "not as many"),
    ([3.0, 3.0, 3.0], [1.0, 2.0, 3.0], "same hour"),
])
def test_what_is_no_series_is_refused(hours: list[float], values: list[float], message: str) -> None:
    """By every function, in a plain sentence."""
    for refused in (lambda: trend.theil_sen(hours, values), lambda: trend.mann_kendall(hours, values),
                    lambda: trend.crossing(hours, values, 90.0, "over")):
        with pytest.raises(ValueError, match=message):
            refused()


@pytest.mark.parametrize(("hours", "values", "confidence", "message"), [
    ([0.0, 2e6], [1.0, 2.0], 0.9, "hours"), ([0.0, 1.0], [1.0, math.nan], 0.9, "value"), ([0.0, 1.0], [1.0, 2.0], 0.49, "confidence"),
    ([0.0, 1.0], [1.0, 2.0], 0.9991, "confidence"), (list(map(float, range(501))), [0.0] * 501, 0.9, "number of readings"),
])
def test_what_lies_outside_its_range_is_refused(hours: list[float], values: list[float], confidence: float, message: str) -> None:
    """Just past each end."""
    with pytest.raises(OutOfRangeError, match=message):
        trend.theil_sen(hours, values, confidence)


def test_few_readings_are_not_taken_for_more() -> None:
    """Two and three give a slope and no interval; four give one at nine in ten, and none at nineteen in twenty."""
    for n in (2, 3):
        found = trend.theil_sen(HOURS[:n], SPIKED[:n])
        assert found.slope > 0
        assert (found.low, found.high, found.covers) == (None, None, None)
    four = trend.theil_sen(HOURS[:4], SPIKED[:4])
    assert four.low is not None
    assert four.covers == pytest.approx(22 / 24)  # only the two orders of 24 that lie wholly one way are left out
    assert trend.theil_sen(HOURS[:4], SPIKED[:4], 0.95).low is None


def test_a_spike_does_not_pull_the_line() -> None:
    """The same slope and interval limits below the spike, whether it is 99 or 999."""
    mild, wild = (trend.theil_sen(HOURS, [*SPIKED[:4], spike, SPIKED[5]]) for spike in (99.0, 999.0))
    assert mild.slope == wild.slope
    assert mild.low == wild.low
    assert mild.intercept == wild.intercept


@given(SERIES)
def test_order_shift_scale_and_sign(rows: list[tuple[float, float]]) -> None:
    """Readings in any order; other units; an added constant; turned upside down."""
    hours, values = zip(*rows, strict=True)
    found = trend.theil_sen(hours, values)
    back = trend.theil_sen(hours[::-1], values[::-1])
    assert (back.slope, back.low, back.high) == (found.slope, found.low, found.high)
    scaled = trend.theil_sen(hours, [2.0 * v + 7.0 for v in values])
    assert scaled.slope == pytest.approx(2.0 * found.slope)
    assert scaled.intercept == pytest.approx(2.0 * found.intercept + 7.0)
    upside = trend.theil_sen(hours, [-v for v in values])
    assert upside.slope == pytest.approx(-found.slope)
    if found.low is not None and found.high is not None and upside.low is not None:
        assert found.low <= found.slope <= found.high
        assert upside.low == pytest.approx(-found.high)


@given(SERIES, st.floats(-5.0, 5.0))
def test_a_slope_added_is_a_slope_found(rows: list[tuple[float, float]], more: float) -> None:
    """Theil and Sen's estimate moves with the readings, and so does its interval."""
    hours, values = zip(*rows, strict=True)
    found, steeper = trend.theil_sen(hours, values), trend.theil_sen(hours, [v + more * h for h, v in rows])
    assert steeper.slope == pytest.approx(found.slope + more, abs=1e-9)
    if found.low is not None and steeper.low is not None:
        assert steeper.low == pytest.approx(found.low + more, abs=1e-9)


@given(SERIES)
def test_more_confidence_is_a_wider_interval(rows: list[tuple[float, float]]) -> None:
    """And what it covers is never less than what was asked."""
    hours, values = zip(*rows, strict=True)
    last = None
    for confidence in (0.5, 0.8, 0.9, 0.95, 0.99):
        found = trend.theil_sen(hours, values, confidence)
        if found.low is None or found.high is None or found.covers is None:
            break
        assert found.covers >= confidence - 1e-12
        if last is not None:
            assert found.low <= last.low
            assert found.high >= last.high
        last = found


@pytest.mark.parametrize("values", [
    [3.0, 1.0, 4.0, 5.0, 9.0], [2.0, 2.0, 7.0, 1.0, 8.0], [1.0, 1.0, 2.0, 2.0, 2.0], [1.0, 2.0, 3.0, 4.0, 5.0]])
def test_the_chance_is_that_of_all_orders(values: list[float]) -> None:
    """Counted out over the 120 orders of five readings, ties and all."""
    hours = [1.0, 2.0, 3.0, 4.0, 5.0]

    def score(series: tuple[float, ...]) -> int:
        return sum((b > a) - (b < a) for a, b in itertools.combinations(series, 2))

    found = trend.mann_kendall(hours, values)
    assert found.s == score(tuple(values))
    as_much = [abs(score(order)) >= abs(found.s) for order in itertools.permutations(values)]
    assert found.p == pytest.approx(sum(as_much) / len(as_much))


def test_readings_that_are_all_equal_show_nothing() -> None:
    """Chance one, slope nought; and a limit above them is not on the line."""
    flat = [80.0] * 6
    assert trend.mann_kendall(HOURS, flat) == (0.0, 0.0, 1.0)
    assert trend.theil_sen(HOURS, flat).slope == 0.0
    assert trend.crossing(HOURS, flat, 95.0, "over").at is None


def test_many_readings_fall_back_on_the_normal_distribution_without_a_step() -> None:
    """At 60 the counted distribution, at 61 the normal one: chance and rank of the limits hardly move."""
    generator = random.Random(3)
    values = [0.2 * i + generator.gauss(0.0, 8.0) for i in range(61)]
    hours = [float(i) for i in range(61)]
    exact, normal = trend.mann_kendall(hours[:60], values[:60]), trend.mann_kendall(hours, values)
    assert 0.001 < exact.p < 0.9
    assert normal.p == pytest.approx(exact.p, rel=0.5)
    first, second = trend.theil_sen(hours[:60], values[:60]), trend.theil_sen(hours, values)
    assert first.low is not None
    assert first.high is not None
    assert second.low == pytest.approx(first.low, abs=0.1 * (first.high - first.low))


@given(st.floats(0.005, 0.2), st.floats(60.0, 90.0), st.floats(0.5, 40.0))
def test_a_clean_line_meets_its_limit_where_it_must(slope: float, start: float, gap: float) -> None:
    """No scatter: one crossing, and both bounds on it; from above as from below."""
    hours = [10.0, 60.0, 110.0, 160.0, 210.0]
    limit = start + slope * 210.0 + gap
    for sign, side in ((1.0, "over"), (-1.0, "under")):
        found = trend.crossing(hours, [sign * (start + slope * h) for h in hours], sign * limit, side)  # type: ignore[arg-type]
        wanted = (limit - start) / slope
        assert (found.at, found.earliest, found.latest) == pytest.approx((wanted, wanted, wanted), rel=1e-6)
        assert found.left == pytest.approx(wanted - 210.0, rel=1e-6)
        assert found.word == "it gets there if this goes on"


@given(SERIES, st.floats(-80.0, 80.0), st.sampled_from(["over", "under"]))
def test_a_crossing_lies_within_its_bounds(rows: list[tuple[float, float]], limit: float, side: str) -> None:
    """Earliest, most likely, latest in that order, none before the last reading unless it is there already."""
    hours, values = zip(*rows, strict=True)
    found = trend.crossing(hours, values, limit, side)  # type: ignore[arg-type]
    last = max(hours)
    if found.word == "it is there already":
        assert found.left == 0.0
        assert found.at is None or found.at <= last
        return
    assert found.at is None or found.at >= last - 1e-9
    assert (found.left is None) == (found.at is None)
    bounds = [b for b in (found.earliest, found.at, found.latest) if b is not None]
    assert all(a <= b + 1e-6 * (1 + abs(b)) for a, b in itertools.pairwise(bounds))
    if found.latest is not None:
        assert found.at is not None
        assert found.earliest is not None


def test_no_rise_shown_is_said() -> None:
    """Scatter without a trend may get there or never; a fall moves the other way; three readings are too few."""
    scatter = trend.crossing(HOURS, [80.0, 83.0, 79.0, 84.0, 80.0, 83.5], 95.0, "over")
    assert scatter.word == "it may get there, or never: no trend is shown"
    assert scatter.latest is None
    assert trend.crossing(HOURS, [90.0, 88.0, 86.0, 84.0, 82.0, 80.0], 95.0, "over").word == "it moves the other way"
    assert "too few" in trend.crossing(HOURS[:3], SPIKED[:3], 95.0, "over").word
    assert trend.crossing(HOURS, [80.0, 83.0, 86.0, 89.0, 92.0, 96.0], 95.0, "over").word == "it is there already"


@pytest.mark.parametrize(("n", "reach"), [(5, 1.2), (6, 2.0), (12, 1.5)])
def test_nine_in_ten_is_about_nine_in_ten(n: int, reach: float) -> None:
    """Invented readings with a known slope: the slope's interval holds it nine times in ten or more, the crossing's nearly as often.

    Of 400 runs nine in ten is 360 with a standard deviation of 6. The slope must not fall under 342, three of those; the crossing,
    whose level is only roughly known, not under 330.
    """
    generator = random.Random(20)
    hours = [200.0 * i / (n - 1) for i in range(n)]
    held = crossed = 0
    for _ in range(400):
        values = [80.0 + 0.02 * h + generator.gauss(0.0, 0.7) for h in hours]
        line = trend.theil_sen(hours, values)
        assert line.low is not None
        assert line.high is not None
        held += line.low <= 0.02 <= line.high
        found = trend.crossing(hours, values, 80.0 + 0.02 * 200.0 * reach, "over")
        early = found.earliest if found.earliest is not None else (0.0 if found.left == 0.0 else math.inf)
        crossed += early <= 200.0 * reach <= (found.latest if found.latest is not None else math.inf)
    assert held >= 342
    assert crossed >= 330


def test_a_steep_scatter_is_met_at_once_at_the_earliest() -> None:
    """Never before the last reading."""
    found = trend.crossing(HOURS, SPIKED, 95.0, "over")
    assert found.earliest == 250.0
    assert found.latest is not None
    assert found.latest > 662.5
