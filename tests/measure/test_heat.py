"""Heat from fuel to water: ranges, proportions, turning round, the two sides of an exchanger."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.measure import heat, water
from diagnose.measure.coolant import Glycol
from diagnose.measure.valid import OutOfRangeError

FUEL = st.floats(1e-8, 9e-6)
DENSITY = st.floats(760.0, 940.0)
VALUE = st.floats(4.0e7, 4.5e7)
POWER = st.floats(500.0, 1.4e5)
CONSUMPTION = st.floats(200 / 3.6e9, 400 / 3.6e9)
SHARE = st.floats(0.1, 0.5)
FLOW = st.floats(5e-5, 2e-3)
SEA = st.floats(-1.0, 35.0)
SALT = st.floats(0.0, 42.0)
MIX: tuple[Glycol, float, float] = ("ethylene", 0.5, 0.95)


# ------------------------------------------------------------------ fuel and power


@given(FUEL, DENSITY, VALUE, SHARE, CONSUMPTION)
def test_fuel_and_power_agree_both_ways(flow: float, density: float, value: float, share: float, consumption: float) -> None:
    """The power that a fuel flow makes burns just that fuel, and both ways tell the same heat."""
    of_fuel = heat.fuel_to_heat(flow, density, value, share, consumption)
    if of_fuel.brake_power > 1.4e5:
        return
    of_power = heat.power_to_heat(of_fuel.brake_power, consumption, value, density, share)
    assert of_power.fuel_flow == pytest.approx(flow)
    assert of_power.fuel_heat == pytest.approx(of_fuel.fuel_heat)
    assert of_power.coolant_heat == pytest.approx(of_fuel.coolant_heat)
    assert of_power.efficiency == pytest.approx(of_fuel.brake_power / of_fuel.fuel_heat)


@given(FUEL, DENSITY, POWER)
def test_consumption_and_flow_turn_each_other_round(flow: float, density: float, power: float) -> None:
    """What was burnt at a power gives the consumption that gives what was burnt."""
    found = heat.specific_consumption(flow, density, power)
    if 150 / 3.6e9 <= found <= 600 / 3.6e9:
        assert heat.fuel_flow(power, found, density) == pytest.approx(flow)


@given(st.floats(0.0, 500.0), st.floats(0.0, 50.0))
def test_power_goes_with_torque_and_with_revs(torque: float, speed: float) -> None:
    """Twice the torque or twice the revs, twice the power; none of either, none."""
    once = heat.brake_power(torque, speed)
    assert heat.brake_power(2 * torque, speed) == pytest.approx(2 * once)
    assert heat.brake_power(torque, 2 * speed) == pytest.approx(2 * once)
    assert heat.brake_power(torque, 0.0) == 0.0


@given(POWER, st.floats(10.0, 90.0), st.floats(0.05, 1.1), st.floats(2.0, 3.5))
def test_a_propeller_takes_its_rated_power_at_rated_revs(power: float, rated: float, part: float, exponent: float) -> None:
    """Less below, more above, all of it there; a steeper law asks less at part revs."""
    found = heat.propeller_power(power, rated, part * rated, exponent)
    assert heat.propeller_power(power, rated, rated, exponent) == pytest.approx(power)
    assert (found < power) == (part < 1.0) or found == pytest.approx(power)
    if part < 0.99 and exponent < 3.4:
        assert heat.propeller_power(power, rated, part * rated, exponent + 0.1) < found


def test_the_cube_law_by_hand() -> None:
    """Half the revs an eighth, four fifths of them about half (0.512)."""
    assert heat.propeller_power(40e3, 50.0, 25.0) == pytest.approx(5e3)
    assert heat.propeller_power(40e3, 50.0, 40.0) == pytest.approx(20.48e3)


# ------------------------------------------------------------------ streams


@given(FLOW, st.floats(0.5, 40.0), SEA, SALT)
def test_heat_flow_and_rise_turn_each_other_round(flow: float, rise: float, sea: float, salinity: float) -> None:
    """From rise to heat, to flow, and back to the rise."""
    carried = heat.raw_water_heat(flow, sea, sea + rise, salinity)
    assert heat.rise_of_flow(carried, flow, sea, salinity) == pytest.approx(rise, rel=1e-9)
    assert heat.flow_for_rise(carried, rise, sea, salinity) == pytest.approx(flow, rel=1e-9)


@given(POWER, CONSUMPTION, VALUE, SHARE, st.floats(5.0, 30.0), SEA, SALT)
def test_the_water_needed_warms_by_what_was_allowed(power: float, consumption: float, value: float, share: float, rise: float, sea: float,
                                                    salinity: float) -> None:
    """With the flow that `raw_water_needed` asks for, `raw_water_rise` finds the rise again."""
    needed = heat.raw_water_needed(power, consumption, value, share, rise, sea, salinity)
    found = heat.raw_water_rise(power, consumption, value, share, needed.flow, sea, salinity)
    assert found == pytest.approx(needed, rel=1e-9)
    assert needed.leaves == pytest.approx(sea + rise)


@given(st.floats(1e3, 1e5), FLOW, SEA, SALT)
def test_less_water_warms_more(carried: float, flow: float, sea: float, salinity: float) -> None:
    """Half the flow about twice the rise, where it does not come near boiling."""
    if carried / flow > 8e7:
        return
    whole, half = (heat.rise_of_flow(carried, part * flow, sea, salinity) for part in (1.0, 0.5))
    assert half == pytest.approx(2 * whole, rel=0.02)


def test_water_that_would_boil_is_refused() -> None:
    """Twenty kilowatts do not go into a trickle."""
    with pytest.raises(OutOfRangeError, match="temperature of the water that leaves"):
        heat.rise_of_flow(2e4, 2e-5, 20.0, 35.0)


@pytest.mark.parametrize("fluid", ["sea-water", "fresh-water", "ethylene", "propylene"])
def test_any_stream_carries_by_flow_and_difference(fluid: heat.Fluid) -> None:
    """Twice the flow twice the heat; none without a difference; water carries most, antifreeze least."""
    once = heat.stream(5e-4, 60.0, 40.0, fluid, 35.0, 0.5, 0.95)
    assert heat.stream(1e-3, 60.0, 40.0, fluid, 35.0, 0.5, 0.95) == pytest.approx(2 * once)
    assert heat.stream(5e-4, 60.0, 60.0, fluid, 35.0, 0.5, 0.95) == 0.0
    assert 34e3 < once < 42e3
    with pytest.raises(ValueError, match="warmer place"):
        heat.stream(5e-4, 40.0, 60.0, fluid, 35.0, 0.5, 0.95)


def test_streams_by_their_kind() -> None:
    """A litre of sea water and one of fresh carry nearly the same; half antifreeze carries about a tenth less."""
    sea, fresh, mixed = (heat.stream(5e-4, 50.0, 40.0, fluid, 35.0, 0.5, 0.95) for fluid in ("sea-water", "fresh-water", "ethylene"))
    assert sea == pytest.approx(fresh, rel=0.02)
    assert 0.85 < mixed / fresh < 0.95


# ------------------------------------------------------------------ both sides


@given(FLOW, st.floats(2.0, 15.0), st.floats(70.0, 95.0), st.floats(2.0, 25.0), SEA)
def test_two_sides_made_to_agree_close(raw_flow: float, drop: float, hot: float, rise: float, sea: float) -> None:
    """A coolant flow worked out from the raw side's heat closes to nought, and one tenth more misses by a tenth."""
    taken = heat.raw_water_heat(raw_flow, sea, sea + rise, 35.0)
    flow = taken / heat.coolant_heat(1.0 / 16, hot, hot - drop, *MIX) / 16
    if flow > 0.09:
        return
    found = heat.balance(flow, hot, hot - drop, raw_flow, sea, sea + rise, *MIX, 35.0)
    assert found.closing == pytest.approx(0.0, abs=1e-9)
    more = heat.balance(1.1 * flow, hot, hot - drop, raw_flow, sea, sea + rise, *MIX, 35.0)
    assert more.closing == pytest.approx(0.1 / 1.05)


@pytest.mark.parametrize(("temperatures", "words"), [
    ((80.0, 81.0, 20.0, 30.0), "leaves the exchanger warmer"), ((80.0, 75.0, 20.0, 19.0), "leaves colder"),
    ((80.0, 80.0, 20.0, 20.0), "nothing to compare")])
def test_readings_the_wrong_way_round_are_refused(temperatures: tuple[float, float, float, float], words: str) -> None:
    """Coolant that warms, raw water that cools, or nothing that changes."""
    coolant_in, coolant_out, raw_in, raw_out = temperatures
    with pytest.raises(ValueError, match=words):
        heat.balance(5e-4, coolant_in, coolant_out, 4e-4, raw_in, raw_out, *MIX, 35.0)


# ------------------------------------------------------------------ ranges


def test_each_quantity_outside_its_range_is_refused_by_name() -> None:
    """One wrong value in each place."""
    good = {"flow": 2e-6, "density": 840.0, "heating_value": 42.7e6}
    for name, wrong in (("flow", -1e-9), ("flow", 2e-5), ("density", 1000.0), ("heating_value", 48e6), ("density", math.nan)):
        with pytest.raises(OutOfRangeError, match=name.replace("_", " ")):
            heat.fuel_heat(**{**good, name: wrong})
    fine = (30e3, 250 / 3.6e9, 42.7e6, 840.0, 0.28)
    for place, wrong, name in ((0, 2e5, "power"), (1, 700 / 3.6e9, "consumption"), (4, 0.7, "coolant share")):
        values = list(fine)
        values[place] = wrong
        with pytest.raises(OutOfRangeError, match=name):
            heat.power_to_heat(*values)
    with pytest.raises(OutOfRangeError, match="torque"):
        heat.brake_power(-1.0, 30.0)
    with pytest.raises(OutOfRangeError, match="speed"):
        heat.propeller_power(30e3, 50.0, 61.0)
    with pytest.raises(OutOfRangeError, match="exponent"):
        heat.propeller_power(30e3, 50.0, 40.0, 4.0)
    with pytest.raises(OutOfRangeError, match="rise"):
        heat.flow_for_rise(2e4, 0.1, 20.0, 35.0)
    with pytest.raises(OutOfRangeError, match="specific heat"):
        heat.stream_heat(1e-3, 1000.0, 100.0, 10.0)
    with pytest.raises(OutOfRangeError, match="temperature"):
        heat.flow_for_rise(2e4, 50.0, 40.0, 35.0)


def test_the_heat_of_a_rise_is_by_hand() -> None:
    """A litre a second of water at 1000 kg/m^3 and 4000 J/(kg K), warmed by 5 K, takes 20 kW."""
    assert heat.stream_heat(1e-3, 1000.0, 4000.0, 5.0) == pytest.approx(20e3)
    assert heat.raw_water_heat(1e-3, 20.0, 20.0, 35.0) == 0.0
    assert heat.raw_water_heat(1e-3, 20.0, 21.0, 35.0) == pytest.approx(water.density(21.0, 35.0) * water.specific_heat(20.5, 35.0) * 1e-3)
