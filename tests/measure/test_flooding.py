"""Water coming in: ranges, directions, limits and round trips."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.measure import flooding
from diagnose.measure.valid import OutOfRangeError

RISE: dict[str, float] = {"diameter": 0.025, "depth": 0.5, "coefficient": 0.75, "floor_area": 3.0, "hole_height": 0.2, "sinkage": 0.3,
    "level": 0.5}
SIPHON: dict[str, Any] = {"outlet": -0.1, "crest": 0.4, "diameter": 0.025, "coefficient": 0.4, "vent": "none", "temperature": 15.0,
    "density": 1025.0,
                          "barometer": 101325.0}


@pytest.mark.parametrize(("call", "values"), [
    (flooding.hole_flow, (1e-4, 0.5, 0.6)), (flooding.hole_flow, (0.4, 0.5, 0.6)), (flooding.hole_flow, (0.02, -0.1, 0.6)),
    (flooding.hole_flow, (0.02, 11.0, 0.6)), (flooding.hole_flow, (0.02, 0.5, 0.0)), (flooding.hole_flow, (0.02, 0.5, 1.1)),
    (flooding.plug_force, (0.02, 0.5, 800.0)), (flooding.plug_force, (0.02, 12.0, 1025.0)), (flooding.hole, (0.02, 0.5, 0.6, 1100.0)),
    (flooding.hose_coefficient, (0.02, -1.0, 0.03, 0.5, 0.0)), (flooding.hose_coefficient, (0.02, 1.0, 0.3, 0.5, 0.0)),
    (flooding.hose_coefficient, (0.02, 1.0, 0.03, 3.0, 0.0)), (flooding.hose_coefficient, (0.02, 1.0, 0.03, 0.5, -1.0)),
    (flooding.effective_area, (0.0, 1.0)), (flooding.effective_area, (1.0, 300.0)),
    (flooding.falling_head_time, (0.0, 0.02, 0.6, 1.0, 0.5)),
    (flooding.falling_head_time, (1.0, 0.02, 0.6, 0.5, 1.0)), (flooding.falling_head_time, (1.0, 0.02, 0.6, 11.0, 1.0)),
    (flooding.pump_output, (0.0, 0.0, 2.0, 1.0)), (flooding.pump_output, (1e-3, 5e-4, 2.0, 2.1)),
    (flooding.pump_output, (1e-3, 5e-4, 0.05, 0.01)),
    (flooding.against_pump, (-1e-4, 1e-3, 0.5, None)), (flooding.against_pump, (1e-4, 0.0, 0.5, None)),
    (flooding.against_pump, (1e-4, 1e-3, 1.1, None)),
    (flooding.against_pump, (1e-4, 1e-3, 0.5, 0.0)),
])
def test_what_lies_outside_is_refused(call: Any, values: tuple[Any, ...]) -> None:
    """Just past an end of each."""
    with pytest.raises(OutOfRangeError):
        call(*values)


@pytest.mark.parametrize(("name", "value"), [("diameter", 0.4), ("depth", 0.0), ("depth", 6.0), ("coefficient", 1.1), ("floor_area", 0.01),
                                             ("hole_height", -0.1), ("hole_height", 4.0), ("sinkage", -0.1), ("sinkage", 1.0),
                                             ("level", 0.0)])
def test_rising_water_outside_its_range_is_refused(name: str, value: float) -> None:
    """A boat that sinks faster than it fills never stops."""
    with pytest.raises(OutOfRangeError, match=name.replace("_", " ")):
        flooding.time_to_level(**RISE | {name: value})


@pytest.mark.parametrize(("name", "value"), [("outlet", -4.0), ("crest", 13.0), ("diameter", 0.4), ("coefficient", 0.0),
    ("temperature", 50.0),
                                             ("density", 1100.0), ("barometer", 50e3)])
def test_siphon_outside_its_range_is_refused(name: str, value: float) -> None:
    """Just past an end of each."""
    with pytest.raises(OutOfRangeError, match=name):
        flooding.siphon_check(**SIPHON | {name: value})


@given(diameter=st.floats(0.001, 0.1), depth=st.floats(0.01, 3.0), coefficient=st.floats(0.4, 1.0))
def test_hole_laws(diameter: float, depth: float, coefficient: float) -> None:
    """Twice as wide lets in four times as much, four times as deep twice as much; the force goes with width squared and depth."""
    one = flooding.hole(diameter, depth, coefficient, 1025.0)
    wide, deep = flooding.hole(2 * diameter, depth, coefficient, 1025.0), flooding.hole(diameter, 3 * depth, coefficient, 1025.0)
    assert (wide.flow / one.flow, deep.flow / one.flow) == (pytest.approx(4.0), pytest.approx(math.sqrt(3.0)))
    assert (wide.force / one.force, deep.force / one.force) == (pytest.approx(4.0), pytest.approx(3.0))
    assert one.force == pytest.approx(one.pressure * math.pi / 4 * diameter**2)


def test_hole_at_the_waterline_lets_nothing_in() -> None:
    """No depth, no flow."""
    assert flooding.hole(0.05, 0.0, 0.75, 1025.0) == (0.0, 0.0, 0.0)


@given(length=st.floats(0.0, 10.0), more=st.floats(0.01, 5.0), other=st.floats(0.0, 20.0))
def test_longer_hose_never_passes_more(length: float, more: float, other: float) -> None:
    """Length and fittings only take away, and a coefficient stays between nothing and one."""
    short = flooding.hose_coefficient(0.025, length, 0.03, 0.5, other)
    assert 0.0 < flooding.hose_coefficient(0.025, length + more, 0.03, 0.5, other) < short <= 1.0
    assert flooding.hose_coefficient(0.025, length, 0.03, 0.5, other + more) < short


@given(start=st.floats(0.1, 2.0), parts=st.floats(0.05, 0.95))
def test_falling_head_adds_up(start: float, parts: float) -> None:
    """Two parts of the way take as long as the whole."""
    between, end = start * parts, start * parts / 2
    whole = flooding.falling_head_time(2.0, 0.03, 0.6, start, end)
    halves = flooding.falling_head_time(2.0, 0.03, 0.6, start, between) + flooding.falling_head_time(2.0, 0.03, 0.6, between, end)
    assert halves == pytest.approx(whole, rel=1e-9)


def test_one_huge_tank_is_the_other_alone() -> None:
    """Levelling into a wide basin is emptying; two equal ones stand for half of one."""
    assert flooding.effective_area(1.0, 200.0) == pytest.approx(1.0, rel=0.01)
    assert flooding.effective_area(4.0, 4.0) == pytest.approx(2.0)


@given(level=st.floats(0.02, 0.8), sinkage=st.floats(0.0, 0.9), hole_height=st.floats(0.0, 1.0))
def test_rising_water_lies_between_its_bounds(level: float, sinkage: float, hole_height: float) -> None:
    """Never faster than with the largest head all the way, never slower than with the least."""
    given_ = RISE | {"level": level, "sinkage": sinkage, "hole_height": hole_height}
    stops_at = hole_height + (0.5 + sinkage * hole_height) / (1.0 - sinkage)
    if level > stops_at:
        with pytest.raises(ValueError, match="never gets that high"):
            flooding.time_to_level(**given_)
        return
    found = flooding.time_to_level(**given_)
    heads = [0.5 + sinkage * z - max(z - hole_height, 0.0) for z in (0.0, min(level, hole_height), level)]
    assert found.volume == pytest.approx(3.0 * level)
    assert found.stops_at == pytest.approx(stops_at)
    assert found.time >= found.volume / flooding.hole_flow(0.025, max(heads), 0.75) * (1 - 1e-9)
    if min(heads) > 1e-6:
        assert found.time <= found.volume / flooding.hole_flow(0.025, min(heads), 0.75) * (1 + 1e-9)


def test_rising_water_in_its_directions() -> None:
    """Larger, deeper, rounder holes and smaller bilges fill sooner; a boat that sinks fills sooner; higher levels come later."""
    base = flooding.time_to_level(**RISE).time
    for name, value in (("diameter", 0.03), ("depth", 0.7), ("coefficient", 0.9), ("floor_area", 2.0), ("sinkage", 0.5), ("hole_height",
        0.4),
                        ("level", 0.4)):
        assert flooding.time_to_level(**RISE | {name: value}).time < base, name


@given(low=st.floats(0.05, 0.95), height=st.floats(0.0, 2.0))
def test_pump_lies_between_its_two_printed_flows(low: float, height: float) -> None:
    """At no height the open flow, at the known height the known flow, between them between, and never rising with height."""
    found = flooding.pump_output(1e-3, low * 1e-3, 2.0, height)
    assert low * 1e-3 * (1 - 1e-9) <= found <= 1e-3 * (1 + 1e-9)
    assert found <= flooding.pump_output(1e-3, low * 1e-3, 2.0, height / 2) * (1 + 1e-12)


def test_pump_that_lifts_more_with_height_is_refused() -> None:
    """The two flows were swapped."""
    with pytest.raises(ValueError, match="below the open flow"):
        flooding.pump_output(1e-3, 1.2e-3, 2.0, 1.0)
    assert flooding.pump_output(1e-3, 6e-4, 2.0, 0.0) == pytest.approx(1e-3)
    assert flooding.pump_output(1e-3, 6e-4, 2.0, 2.0) == pytest.approx(6e-4)


@pytest.mark.parametrize(("inflow", "word", "time"), [(1e-4, "pump holds easily", None), (1.3e-4, "pump holds but only just", None),
                                                      (5e-4, "pump holds but only just", None), (6e-4, "water gains", 1000.0)])
def test_inflow_against_a_pump(inflow: float, word: str, time: float | None) -> None:
    """Half of what is printed, a quarter of that to plan on, and time only when the water gains."""
    found = flooding.against_pump(inflow, 1e-3, 0.5, 0.1)
    assert found.word == word
    assert found.time == (None if time is None else pytest.approx(time))
    assert found.gains == pytest.approx(inflow - 5e-4)
    assert flooding.against_pump(inflow, 1e-3, 0.5, None).time is None


@pytest.mark.parametrize(("changed", "word"), [
    ({}, "can run"), ({"vent": "works"}, "vent breaks it"), ({"outlet": 0.0}, "cannot run"), ({"outlet": 0.1}, "cannot run"),
    ({"crest": -0.05}, "no siphon needed"), ({"crest": 11.0}, "cannot run"), ({"crest": 9.0}, "can run"),
])
def test_siphon_words(changed: dict[str, Any], word: str) -> None:
    """An inner end over the water cannot draw, ten metres of loop break the column, and a loop under water needs no siphon."""
    found = flooding.siphon_check(**SIPHON | changed)
    assert found.word == word
    assert (found.flow > 0) == (word != "cannot run")


@given(outlet=st.floats(-2.0, 1.0), rise=st.floats(0.0, 3.0))
def test_crest_pressure_falls_with_the_loop(outlet: float, rise: float) -> None:
    """The higher the loop over the inner end, the less is left in it; the flow does not care."""
    one = flooding.siphon_check(**SIPHON | {"outlet": outlet, "crest": outlet + rise})
    more = flooding.siphon_check(**SIPHON | {"outlet": outlet, "crest": outlet + rise + 0.5})
    assert more.crest < one.crest <= SIPHON["barometer"]
    assert more.flow == one.flow


def test_inner_end_over_the_crest_is_refused() -> None:
    """The crest is the highest point."""
    with pytest.raises(ValueError, match="above the crest"):
        flooding.siphon_check(**SIPHON | {"outlet": 0.5})


def test_all_is_what_can_be_used() -> None:
    """Every public name exists."""
    assert [name for name in flooding.__all__ if not hasattr(flooding, name)] == []
