"""Small leaks: ranges, directions, limits and round trips."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.measure import drips, flow
from diagnose.measure.valid import OutOfRangeError

HOUR, DAY = 3600.0, 86400.0


@pytest.mark.parametrize(("drops", "time", "size"), [(-1.0, 60.0, 5e-8), (6000.0, 60.0, 5e-8), (10.0, 0.5, 5e-8), (10.0, 1e5, 5e-8),
    (10.0, 60.0, 1e-9),
                                                     (10.0, 60.0, 5e-7)])
def test_drops_outside_their_range_are_refused(drops: float, time: float, size: float) -> None:
    """A drop of half a millilitre is a stream."""
    with pytest.raises(OutOfRangeError):
        drips.drop_rate(drops, time, size)


@pytest.mark.parametrize(("radius", "tension", "density", "share"), [(1e-5, 0.07, 1000.0, 1.0), (1e-3, 0.1, 1000.0, 1.0),
    (1e-3, 0.07, 500.0, 1.0),
                                                                     (1e-3, 0.07, 1000.0, 0.4)])
def test_largest_drop_outside_its_range_is_refused(radius: float, tension: float, density: float, share: float) -> None:
    """Mercury and honey are not asked for."""
    with pytest.raises(OutOfRangeError):
        drips.largest_drop(radius, tension, density, share)


@pytest.mark.parametrize(("reserve", "rate", "growth", "share"), [(0.0, 1e-8, 3.0, 0.3), (0.01, 0.0, 3.0, 0.3), (0.01, 1e-8, 0.5, 0.3),
                                                                  (0.01, 1e-8, 3.0, 1.1)])
def test_reserve_outside_its_range_is_refused(reserve: float, rate: float, growth: float, share: float) -> None:
    """A leak that shrinks by itself is not planned on."""
    with pytest.raises(OutOfRangeError):
        drips.reserve_lasts(reserve, rate, growth, share)


@given(drops=st.floats(1, 4000), time=st.floats(5, 8e4), size=st.floats(2e-8, 3e-7))
def test_counting_and_catching_agree(drops: float, time: float, size: float) -> None:
    """What drips into a cup is what was counted."""
    assert drips.drop_rate(drops, time, size) == pytest.approx(flow.flow_by_bucket(drops * size, time), rel=1e-12)


@given(radius=st.floats(2e-4, 4e-3), factor=st.floats(1.01, 1.2))
def test_larger_edge_makes_larger_drop(radius: float, factor: float) -> None:
    """In proportion to the edge, and a heavier fluid makes a smaller one."""
    one = drips.largest_drop(radius, 0.07, 1000.0, 0.65)
    assert drips.largest_drop(radius * factor, 0.07, 1000.0, 0.65) == pytest.approx(one * factor, rel=1e-9)
    assert drips.largest_drop(radius, 0.07, 1000.0 * factor, 0.65) < one


def test_shapes_in_their_order() -> None:
    """Round in oval in box; a round one needs no width, the others do."""
    assert drips.section_area("round", 0.2, None) == pytest.approx(math.pi * 0.01)
    assert drips.section_area("oval", 0.2, 0.2) == pytest.approx(drips.section_area("round", 0.2, None))
    assert drips.section_area("oval", 0.3, 0.2) < drips.section_area("box", 0.3, 0.2)
    for shape in ("oval", "box"):
        with pytest.raises(ValueError, match="width"):
            drips.section_area(shape, 0.2, None)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="none of"):
        drips.section_area("cone", 0.2, 0.2)  # type: ignore[arg-type]
    with pytest.raises(OutOfRangeError):
        drips.section_area("round", 4.0, None)


@given(fall=st.floats(0.001, 0.9), length=st.floats(0.05, 2.0), width=st.floats(0.05, 2.0), time=st.floats(60.0, 1e6))
def test_level_that_falls_twice_as_far_loses_twice(fall: float, length: float, width: float, time: float) -> None:
    """Volume follows the fall, the rate follows the time."""
    one = drips.level_fall(fall, time, "box", length, width)
    assert drips.level_fall(fall / 2, time, "box", length, width).volume == pytest.approx(one.volume / 2, rel=1e-12)
    assert drips.level_fall(fall, time * 2, "box", length, width).rate == pytest.approx(one.rate / 2, rel=1e-12)


def test_no_fall_is_no_leak_and_falls_outside_the_range_are_refused() -> None:
    """Nothing comes of nothing."""
    assert drips.level_fall(0.0, HOUR, "round", 0.2, None) == (0.0, 0.0)
    for fall, time in ((-0.01, HOUR), (1.1, HOUR), (0.1, 0.0)):
        with pytest.raises(OutOfRangeError):
            drips.level_fall(fall, time, "round", 0.2, None)


@given(reserve=st.floats(1e-4, 0.1), rate=st.floats(1e-10, 1e-5), growth=st.floats(1.0, 9.0), share=st.floats(0.1, 0.9))
def test_reserve_is_used_up_at_its_time(reserve: float, rate: float, growth: float, share: float) -> None:
    """Rate by time is what is counted on, and all of it at the measured rate; more growth never lasts longer."""
    found = drips.reserve_lasts(reserve, rate, growth, share)
    assert found.planned * found.time == pytest.approx(reserve * share, rel=1e-9)
    assert rate * found.all_of_it == pytest.approx(reserve, rel=1e-9)
    assert found.time <= found.all_of_it * (1 + 1e-12)
    assert drips.reserve_lasts(reserve, rate, growth * 1.1, share).time < found.time


@given(running=st.floats(0, 500), rest=st.floats(0, 500), hours=st.floats(0, DAY))
def test_gland_day_lies_between_both_rates(running: float, rest: float, hours: float) -> None:
    """A day is never more than the worse rate all day, nor less than the better one."""
    found = drips.gland_day(running, rest, 60.0, hours, 8e-8)
    low, high = sorted((found.running * DAY, found.rest * DAY))
    assert low * (1 - 1e-12) <= found.day <= high * (1 + 1e-12) + 1e-30


def test_gland_day_at_both_ends() -> None:
    """Never turning and always turning; more than a day in a day is refused."""
    assert drips.gland_day(10, 2, 60.0, 0.0, 1e-7).day == pytest.approx(2 * 1440 * 1e-7)
    assert drips.gland_day(10, 2, 60.0, DAY, 1e-7).day == pytest.approx(10 * 1440 * 1e-7)
    with pytest.raises(OutOfRangeError, match="hours running"):
        drips.gland_day(10, 2, 60.0, DAY + 1, 1e-7)


def test_all_is_what_can_be_used() -> None:
    """Every public name exists."""
    assert [name for name in drips.__all__ if not hasattr(drips, name)] == []
