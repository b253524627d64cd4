"""Belts: ranges, directions, bounds and round trips."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from diagnose.measure import belts
from diagnose.measure.valid import OutOfRangeError

DIAMETERS = st.floats(0.03, 1.0)
SPEEDS = st.floats(1.0, 250.0)
SLIPS = st.floats(0.0, 1.0)
DRIVE: dict[str, float] = {"driver_speed": 25.0, "driven_speed": 50.0, "driver_diameter": 0.13, "driven_diameter": 0.065}
GRIP: dict[str, float] = {"friction": 0.25, "wrap": 160.0, "groove_angle": 34.0, "unit_mass": 0.1, "pulley_diameter": 0.065,
                          "pulley_speed": 60.0}


@pytest.mark.parametrize(("function", "good", "name", "wrong"), [
    (belts.deflection, {"span": 0.3}, "span", (0.02, 3.1)),
    (belts.tension_of_push, {"push": 25.0, "span": 0.3, "pushed_in": 0.005}, "push", (0.5, 501.0)),
    (belts.tension_of_push, {"push": 25.0, "span": 0.3, "pushed_in": 0.005}, "pushed_in", (0.0, 0.0376)),
    (belts.span_tension, {"unit_mass": 0.1, "span": 0.2, "tone": 150.0}, "unit_mass", (0.0, 2.1)),
    (belts.span_tension, {"unit_mass": 0.1, "span": 0.2, "tone": 150.0}, "tone", (1.0, 1001.0)),
    (belts.span_tone, {"unit_mass": 0.1, "span": 0.2, "tension": 400.0}, "tension", (4.0, 5001.0)),
    (belts.pitch_diameter, {"outside_diameter": 0.07, "cord_depth": 0.0008}, "cord_depth", (-0.006, 0.016)),
    (belts.belt_speed, {"diameter": 0.07, "speed": 50.0}, "speed", (-0.1, 301.0)),
    (belts.driven_speed, {"driver_speed": 25.0, "driver_diameter": 0.1, "driven_diameter": 0.1, "slipped": 0.0}, "slipped", (-0.01, 1.01)),
    (belts.slip, DRIVE, "driver_speed", (0.05, 301.0)),
    (belts.slip, DRIVE, "driven_diameter", (0.019, 1.6)),
    (belts.tension_ratio, {"friction": 0.25, "wrap": 160.0, "groove_angle": 34.0}, "groove_angle", (19.0, 181.0)),
    (belts.tension_ratio, {"friction": 0.25, "wrap": 160.0, "groove_angle": 34.0}, "wrap", (4.0, 361.0)),
    (belts.tension_ratio, {"friction": 0.25, "wrap": 160.0, "groove_angle": 34.0}, "friction", (0.01, 1.6)),
    (belts.power_before_slip, GRIP | {"set_tension": 400.0}, "set_tension", (0.5, 20001.0)),
    (belts.belt_power, GRIP | {"tight_tension": 400.0}, "tight_tension", (0.5, 20001.0)),
    (belts.belt_run, {"centres": 0.3, "large_diameter": 0.13, "small_diameter": 0.07}, "centres", (0.09, 5.1)),
    (belts.belt_run, {"centres": 0.3, "large_diameter": 0.13, "small_diameter": 0.07}, "large_diameter", (0.06, 1.6)),
    (belts.centre_distance, {"length": 0.9, "large_diameter": 0.13, "small_diameter": 0.07}, "length", (0.5, 15.1)),
])
def test_what_lies_outside_its_range_is_refused(function: Any, good: dict[str, float], name: str, wrong: tuple[float, float]) -> None:
    """Just past each end; and the same call within its range is answered."""
    function(**good)
    for value in (*wrong, math.nan):
        with pytest.raises(OutOfRangeError, match=name.replace("_", " ")):
            function(**good | {name: value})


@pytest.mark.parametrize(("section", "millimetres"), [("a", 76.0), ("a", 178.0), ("ax", 76.0), ("b", 100.0), ("b", 219.0), ("bx", 86.0)])
def test_a_pulley_outside_the_table_is_refused(section: Any, millimetres: float) -> None:
    """The table ends at 3.0, 4.4 or 3.4 inches below, and 7.0 or 8.6 above."""
    with pytest.raises(OutOfRangeError, match="small diameter"):
        belts.push_force(section, millimetres / 1000.0, 25.0)


@pytest.mark.parametrize(("section", "turns"), [("a", 990.0), ("bx", 850.0), ("a", 4010.0)])
def test_a_speed_outside_the_table_is_refused(section: Any, turns: float) -> None:
    """A from 1000, B from 860, both to 4000 turns a minute."""
    with pytest.raises(OutOfRangeError, match="speed"):
        belts.push_force(section, 0.13, turns / 60.0)


@given(st.sampled_from(["a", "ax", "b", "bx"]), st.floats(0.1118, 0.1778), st.floats(1000.0, 4000.0))
def test_a_new_belt_is_pushed_harder_than_a_used_one(section: Any, diameter: float, turns: float) -> None:
    """Everywhere in the table, and a faster or smaller pulley never asks for more."""
    force = belts.push_force(section, diameter, turns / 60.0)
    assert force.new > force.used > 0
    assert belts.push_force(section, diameter, 4000.0 / 60.0).new <= force.new
    assert belts.push_force(section, 0.1778, turns / 60.0).new >= force.new


@given(st.floats(0.05, 2.5), st.floats(1.0, 400.0))
def test_tension_of_a_push_goes_with_the_push_and_against_the_give(span: float, push: float) -> None:
    """Twice the push is twice the tension; more give is less tension, never under half the push."""
    gives = [span / 8.0 * share for share in (0.02, 0.1, 0.5, 1.0)]
    tensions = [belts.tension_of_push(push, span, give) for give in gives if give >= 1e-4]
    assert tensions == sorted(tensions, reverse=True)
    assert tensions[-1] > push / 2.0
    if push < 200:
        assert belts.tension_of_push(2 * push, span, gives[-1]) == pytest.approx(2 * tensions[-1])


@given(st.floats(0.02, 1.0), st.floats(0.05, 2.0), st.floats(10.0, 4000.0))
def test_tone_and_tension_are_each_other_s_inverse(unit_mass: float, span: float, tension: float) -> None:
    """Within rounding, wherever the tone itself is in range."""
    tone = belts.span_tone(unit_mass, span, tension)
    assume(2.0 <= tone <= 1000.0)
    assert belts.span_tension(unit_mass, span, tone) == pytest.approx(tension, rel=1e-12)


@given(SPEEDS, DIAMETERS, DIAMETERS, SLIPS)
def test_slip_gives_back_what_slowed_the_driven_pulley(speed: float, driver: float, driven: float, slipped: float) -> None:
    """`driven_speed` and `slip` are inverse; slip does not depend on the unit of speed or of diameter."""
    turns = belts.driven_speed(speed, driver, driven, slipped)
    assume(turns <= 300.0)
    found = belts.slip(speed, turns, driver, driven)
    assert found == pytest.approx(slipped, abs=1e-12)
    assert belts.slip(speed / 2, turns / 2, driver, driven) == pytest.approx(found, abs=1e-12)


@given(DIAMETERS, DIAMETERS, st.floats(0.0, 0.3), st.floats(0.0, 0.5))
def test_extra_slip_needs_no_diameter(driver: float, driven: float, light: float, more: float) -> None:
    """One less the two grips' ratio, whatever the pulleys are."""
    assume(0.2 <= driver / driven <= 5 and (1.0 - more) / (1.0 - light) < 1.24)
    slow, fast = belts.driven_speed(20.0, driver, driven, light), belts.driven_speed(30.0, driver, driven, more)
    assert belts.extra_slip(20.0, slow, 30.0, fast) == pytest.approx(1.0 - (1.0 - more) / (1.0 - light), abs=1e-12)


def test_speeds_that_cannot_belong_together_are_refused() -> None:
    """A driven pulley a quarter too fast is a wrong reading; one a little too fast is a wrong diameter and is answered."""
    with pytest.raises(ValueError, match="faster than its belt"):
        belts.slip(**DRIVE | {"driven_speed": 63.0})
    assert -0.03 < belts.slip(**DRIVE | {"driven_speed": 51.0}) < 0
    with pytest.raises(ValueError, match="which pair"):
        belts.extra_slip(20.0, 30.0, 20.0, 40.0)
    assert belts.slip(**DRIVE | {"driven_speed": 0.0}) == 1.0


@given(st.floats(0.05, 1.0), st.floats(10.0, 350.0), st.floats(25.0, 179.0))
def test_grip_grows_with_friction_and_wrap_and_is_least_flat(friction: float, wrap: float, groove: float) -> None:
    """The ratio is over one, greater in a groove than on the flat, and that of two wraps is the product of each."""
    ratio = belts.tension_ratio(friction, wrap, groove)
    assert ratio > belts.tension_ratio(friction, wrap, 180.0) > 1.0
    assert belts.tension_ratio(friction, wrap + 10.0, groove) > ratio
    assert belts.tension_ratio(friction, wrap / 2.0, groove) ** 2 == pytest.approx(ratio, rel=1e-9)


@given(st.floats(100.0, 2000.0), st.floats(0.1, 0.6), st.floats(90.0, 220.0), st.floats(30.0, 180.0), st.floats(5.0, 90.0))
def test_power_from_the_set_tension_agrees_with_that_of_the_tight_side(set_tension: float, friction: float, wrap: float, groove: float,
                                                                       turns: float) -> None:
    """A belt at the point of slip whose two sides make twice the tension set at rest: two ways to one power."""
    rest = GRIP | {"friction": friction, "wrap": wrap, "groove_angle": groove, "pulley_speed": turns, "unit_mass": 0.05}
    grip = belts.power_before_slip(set_tension, **rest)
    throw = 0.05 * belts.belt_speed(0.065, turns) ** 2
    ratio = belts.tension_ratio(friction, wrap, groove)
    tight = throw + (set_tension - throw) * 2.0 * ratio / (ratio + 1.0)
    assert belts.belt_power(tight, **rest).power == pytest.approx(grip.power, rel=1e-9)
    assert grip.power == pytest.approx(grip.pull * belts.belt_speed(0.065, turns), rel=1e-12)
    assert grip.pull < 2.0 * set_tension


def test_a_belt_thrown_off_its_pulley_carries_nothing() -> None:
    """At 50 m/s a belt of 1 kg/m needs 2500 N for its own curve alone."""
    fast = GRIP | {"unit_mass": 1.0, "pulley_diameter": 0.3, "pulley_speed": 53.0}
    for function in (belts.power_before_slip, belts.belt_power):
        with pytest.raises(ValueError, match="own throw"):
            function(400.0, **fast)


@given(st.floats(0.03, 0.6), st.floats(0.03, 0.6), st.floats(0.05, 3.0))
def test_length_and_distance_are_each_other_s_inverse(first: float, second: float, gap: float) -> None:
    """From pulleys that nearly touch to a long drive, of any two sizes."""
    large, small = max(first, second), min(first, second)
    centres = (large + small) / 2.0 + gap
    run = belts.belt_run(centres, large, small)
    assert belts.centre_distance(run.length, large, small) == pytest.approx(centres, rel=1e-9)
    assert 0 < run.span <= centres
    assert 0 < run.wrap <= 180.0
    assert math.pi * (large + small) / 2.0 + 2.0 * run.span <= run.length


def test_two_equal_pulleys_are_half_wrapped() -> None:
    """The limit: wrap 180 degrees, span the distance, length two spans and one round."""
    run = belts.belt_run(0.4, 0.1, 0.1)
    assert run == pytest.approx((0.8 + math.pi * 0.1, 0.4, 180.0))


def test_a_belt_too_short_is_refused() -> None:
    """Shorter than round two pulleys that touch."""
    shortest = belts.belt_run(0.1, 0.13, 0.07).length
    assert belts.centre_distance(shortest, 0.13, 0.07) == pytest.approx(0.1)
    with pytest.raises(OutOfRangeError, match="length"):
        belts.centre_distance(shortest - 1e-6, 0.13, 0.07)


def test_cords_under_the_rim_make_the_pulley_smaller() -> None:
    """By twice the depth; a belt that stands proud makes it larger."""
    assert belts.pitch_diameter(0.07, 0.0008) == pytest.approx(0.0684)
    assert belts.pitch_diameter(0.07, -0.001) == pytest.approx(0.072)
