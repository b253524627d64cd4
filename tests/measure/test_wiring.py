"""Wires, joints, batteries: ranges, direction, limits, 12 against 24 V."""

from __future__ import annotations

import math
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.measure import wiring as w
from diagnose.measure.valid import OutOfRangeError

MM2 = 1e-6
HOUR = 3600.0


@pytest.mark.parametrize(("call", "name"), [
    (lambda: w.copper_resistivity(250.0), "temperature"),
    (lambda: w.wire_resistance(0.0, MM2, 20.0, 0.0), "length"),
    (lambda: w.wire_resistance(1.0, 2.5, 20.0, 0.0), "area"),
    (lambda: w.wire_resistance(1.0, MM2, 20.0, 0.5), "extra"),
    (lambda: w.wire_drop(-1.0, 1.0, MM2, 20.0, 0.0, 12.0), "current"),
    (lambda: w.wire_size(10.0, 5.0, 0.0, 20.0, 0.1, "cool", "steady"), "allowed"),
    (lambda: w.gauge_size(41.0), "gauge"),
    (lambda: w.joint(0.1, 0.0, 100.0), "current"),
    (lambda: w.circuit_drop("joint", -0.1, 12.0), "lost"),
    (lambda: w.circuit_drop("joint", 0.1, 230.0), "nominal"),
    (lambda: w.starting_circuit(1.0, 0.1, 0.1, 0.8, 12.0), "battery"),
    (lambda: w.cranking_voltage(10.0, -30.0, 12.0), "temperature"),
    (lambda: w.rest_charge(12.6, 20.0, 0.2, "wet", 12.0), "cell_coefficient"),
    (lambda: w.rest_charge(12.6, 20.0, 0.0, "wet", 12.0, 0.4), "table_off"),
    (lambda: w.battery_hours(3.6e5, 20 * HOUR, 5.0, 1.6, 0.5, 20.0), "exponent"),
    (lambda: w.battery_hours(100.0, 20 * HOUR, 5.0, 1.2, 0.5, 20.0), "capacity"),
    (lambda: w.at_other_voltage(1.0, "current", 12.0, 110.0), "want"),
    (lambda: w.at_other_voltage(math.inf, "current", 12.0, 24.0), "value"),
])
def test_what_is_out_of_range_is_refused_by_name(call: object, name: str) -> None:
    """A wire, a current or a voltage that cannot be is refused, and the refusal names the very figure."""
    with pytest.raises(OutOfRangeError) as caught:
        call()  # type: ignore[operator]
    assert caught.value.name == name


@pytest.mark.parametrize("call", [
    lambda: w.circuit_drop("horn", 0.1, 12.0),  # type: ignore[arg-type]
    lambda: w.rest_charge(12.6, 20.0, 0.0, "lithium", 12.0),  # type: ignore[arg-type]
    lambda: w.at_other_voltage(1.0, "torque", 12.0, 24.0),  # type: ignore[arg-type]
])
def test_unknown_words_are_answered_with_the_known_ones(call: object) -> None:
    """A part of a circuit, a battery or a figure that no table has is refused with those that one has."""
    with pytest.raises(ValueError, match=r"is not one of \w"):
        call()  # type: ignore[operator]


def test_a_wire_cannot_lose_more_than_there_is() -> None:
    """A wire that would lose more volts than the battery has is refused."""
    with pytest.raises(ValueError, match="such a current cannot flow"):
        w.wire_drop(200.0, 20.0, MM2, 20.0, 0.1, 12.0)


@given(current=st.floats(0.1, 20.0), length=st.floats(0.1, 10.0), area=st.floats(2.0, 100.0))
def test_a_drop_adds_up(current: float, length: float, area: float) -> None:
    """Lost and left make the whole, heat is drop times current, and twice the copper halves the drop."""
    found = w.wire_drop(current, length, area * MM2, 30.0, 0.1, 12.0)
    assert found.lost + found.left == pytest.approx(12.0)
    assert found.heat == pytest.approx(found.lost * current)
    assert found.share == pytest.approx(found.lost / 12.0)
    assert w.wire_drop(current, length, 2.0 * area * MM2, 30.0, 0.1, 12.0).lost == pytest.approx(found.lost / 2.0)


@given(low=st.floats(-50.0, 190.0))
def test_warm_copper_resists_more(low: float) -> None:
    """Copper's resistivity rises with warmth over the whole range, and is never nought."""
    assert w.copper_resistivity(low + 10.0) > w.copper_resistivity(low) > 0


@given(current=st.floats(0.05, 200.0), length=st.floats(0.2, 20.0), allowed=st.floats(0.1, 2.0),
       place=st.sampled_from(get_args(w.Place)), duty=st.sampled_from(get_args(w.Duty)))
def test_the_size_found_does_and_the_one_below_not(current: float, length: float, allowed: float, place: w.Place, duty: w.Duty) -> None:
    """The standard size meets both the drop and the heat, and the next smaller one fails one of them."""
    try:
        found = w.wire_size(current, length, allowed, 40.0, 0.1, place, duty)
    except ValueError:
        assert current * length / allowed > 300.0 or current > 200.0
        return
    sizes = [s * MM2 for s in w.STANDARD_SIZES]
    assert found.standard in sizes
    assert found.standard >= max(found.for_drop, found.for_heat)
    smaller = [s for s in sizes if s < found.standard]
    assert not smaller or smaller[-1] < max(found.for_drop, found.for_heat)
    assert found.lost == pytest.approx(w.wire_drop(current, length, found.standard, 40.0, 0.1, 12.0).lost)
    assert found.lost <= allowed * (1 + 1e-9)


def test_a_short_run_is_sized_by_heat_and_a_long_one_by_drop() -> None:
    """What decides is said: heat when short, volts when long, strength when there is hardly any current."""
    assert w.wire_size(30.0, 0.5, 1.2, 30.0, 0.1, "engine-space", "steady").decided_by == "heat"
    assert w.wire_size(30.0, 20.0, 0.36, 30.0, 0.1, "engine-space", "steady").decided_by == "volts lost"
    assert w.wire_size(0.5, 1.0, 0.36, 30.0, 0.1, "cool", "steady").decided_by.startswith("strength")


def test_an_engine_space_never_takes_a_thinner_wire_and_a_starter_never_a_thicker() -> None:
    """A hot place asks for as much copper or more, and a current of seconds for as much or less, at every current."""
    for amperes in range(1, 200, 3):
        cool, hot = (w.wire_size(amperes, 1.0, 1.0, 40.0, 0.1, place, "steady") for place in get_args(w.Place))
        assert hot.standard >= cool.standard >= w.wire_size(amperes, 1.0, 1.0, 40.0, 0.1, "cool", "starter").standard


def test_too_much_for_one_wire() -> None:
    """A current that no size of the table carries is refused, and so is a place that the table lacks."""
    with pytest.raises(ValueError, match="no single wire"):
        w.wire_size(800.0, 10.0, 0.2, 40.0, 0.1, "cool", "starter")
    with pytest.raises(ValueError, match="the place is"):
        w.wire_size(8.0, 10.0, 0.2, 40.0, 0.1, "attic", "starter")  # type: ignore[arg-type]


@given(gauge=st.floats(-3.0, 33.0))
def test_gauges_fall_in_equal_steps(gauge: float) -> None:
    """Six gauges on, the diameter falls by the sixth power of one step, and the area is that of the circle."""
    here, six_on = w.gauge_size(gauge), w.gauge_size(gauge + 6.0)
    assert here.diameter / six_on.diameter == pytest.approx(92.0 ** (6.0 / 39.0))
    assert here.area == pytest.approx(math.pi / 4.0 * here.diameter**2)


@given(lost=st.floats(0.001, 5.0), current=st.floats(1.0, 500.0), working=st.floats(1.0, 500.0))
def test_heat_of_a_joint_goes_with_the_square(lost: float, current: float, working: float) -> None:
    """Twice the working current makes four times the heat; at the test current the drop is the one measured."""
    found = w.joint(lost, current, working)
    assert found.heat == pytest.approx(found.lost * working)
    assert w.joint(lost, current, 2.0 * working).heat == pytest.approx(4.0 * found.heat)
    assert w.joint(lost, current, current).lost == pytest.approx(lost)


@pytest.mark.parametrize("part", get_args(w.CircuitPart))
def test_a_drop_swept_upwards_goes_good_watch_too_much(part: w.CircuitPart) -> None:
    """From no drop up, every part of a circuit is good, then to be watched, then too much, each once."""
    seen = [w.circuit_drop(part, i * 0.001, 12.0).verdict for i in range(1000)]
    assert [word for i, word in enumerate(seen) if i == 0 or word != seen[i - 1]] == ["good", "watch", "too much"]


@given(part=st.sampled_from(get_args(w.CircuitPart)), lost=st.floats(0.0, 5.0))
def test_twice_the_volts_on_twice_the_voltage_is_the_same_share(part: w.CircuitPart, lost: float) -> None:
    """A 24 volt boat with twice the drop is judged as the 12 volt boat is."""
    one, other = w.circuit_drop(part, lost, 12.0), w.circuit_drop(part, 2.0 * lost, 24.0)
    assert one.share == pytest.approx(other.share)
    assert one.verdict == other.verdict


@pytest.mark.parametrize(("plus", "minus", "starter", "verdict"), [
    (0.2, 0.2, 10.0, "cables good"), (0.9, 0.2, 9.3, "plus side"), (0.2, 0.6, 9.6, "minus side"), (0.9, 0.6, 8.9, "both sides"),
    (0.2, 0.2, 8.0, "readings do not add up"),
])
def test_where_the_volts_go(plus: float, minus: float, starter: float, verdict: str) -> None:
    """The side that loses too much is named, shares add up to all, and 24 volts with twice the readings says the same."""
    found = w.starting_circuit(10.4, plus, minus, starter, 12.0)
    assert found.verdict == verdict
    assert found.plus_share + found.minus_share + found.starter_share + found.unexplained / 10.4 == pytest.approx(1.0)
    assert w.starting_circuit(20.8, 2 * plus, 2 * minus, 2 * starter, 24.0).verdict == verdict


@given(temperature=st.floats(-18.0, 49.0))
def test_a_warm_battery_has_to_hold_more(temperature: float) -> None:
    """The least voltage while cranking never falls with warmth, over the whole table."""
    assert w.cranking_voltage(9.5, temperature + 1.0, 12.0).lowest >= w.cranking_voltage(9.5, temperature, 12.0).lowest


def test_cranking_swept_downwards() -> None:
    """From eleven volts down the battery holds, then is near the limit, then too low, each once."""
    seen = [w.cranking_voltage(11.0 - i * 0.01, 10.0, 12.0).verdict for i in range(300)]
    assert [word for i, word in enumerate(seen) if i == 0 or word != seen[i - 1]] == ["holds", "near the limit", "too low"]


@given(volts=st.floats(10.5, 13.9), kind=st.sampled_from(get_args(w.Battery)))
def test_charge_rises_with_voltage_and_stays_a_share(volts: float, kind: w.Battery) -> None:
    """More volts are never less charge, charge is a share, 24 volts read as 12 do, and a table that is off only moves."""
    low, high = (w.rest_charge(v, 26.7, 0.0002, kind, 12.0).share for v in (volts, volts + 0.1))
    assert 0.0 <= low <= high <= 1.0
    assert w.rest_charge(2.0 * volts, 26.7, 0.0002, kind, 24.0).share == pytest.approx(low)
    assert w.rest_charge(volts + 0.1, 26.7, 0.0002, kind, 12.0, 0.1).share == pytest.approx(low)


def test_the_temperature_correction_has_the_sign_of_its_coefficient() -> None:
    """A cold battery's reading is moved up by a positive coefficient and down by a negative one, and it matters."""
    cold_up = w.rest_charge(12.4, 0.0, 0.0002, "wet", 12.0)
    cold_down = w.rest_charge(12.4, 0.0, -0.00072, "wet", 12.0)
    assert cold_up.at_reference > 12.4 > cold_down.at_reference
    assert cold_up.share - cold_down.share > 0.15, "the two published corrections differ by a sixth of the charge at freezing"


def test_charge_words_run_from_flat_to_full() -> None:
    """As the volts rise the words are flat, low, fair and full, each once."""
    seen = [w.rest_charge(11.5 + i * 0.005, 26.7, 0.0, "wet", 12.0).verdict for i in range(300)]
    assert [word for i, word in enumerate(seen) if i == 0 or word != seen[i - 1]] == ["flat", "low", "fair", "full"]


@given(current=st.floats(5.0, 200.0), exponent=st.floats(1.0, 1.5))
def test_more_amperes_draw_less_charge(current: float, exponent: float) -> None:
    """A larger load is carried for less time and never takes more out, whatever the exponent."""
    found = w.battery_hours(360000.0, 20 * HOUR, current, exponent, 1.0, 25.0)
    harder = w.battery_hours(360000.0, 20 * HOUR, 1.5 * current, exponent, 1.0, 25.0)
    assert harder.time < found.time
    assert harder.drawn <= found.drawn * (1 + 1e-12)
    assert found.drawn == pytest.approx(found.time * current)


def test_at_its_rated_current_a_battery_lasts_its_rated_time_whatever_the_exponent() -> None:
    """At the rated current the exponent has no say: the battery lasts the hours it is rated for."""
    for exponent in (1.0, 1.2, 1.5):
        assert w.battery_hours(360000.0, 20 * HOUR, 5.0, exponent, 1.0, 25.0).time == pytest.approx(20 * HOUR)


@given(value=st.floats(0.0, 1e6), figure=st.sampled_from(get_args(w.Figure)), volts=st.floats(6.0, 48.0))
def test_there_and_back_to_the_other_voltage(value: float, figure: w.Figure, volts: float) -> None:
    """A figure taken to another voltage and back is the one it was."""
    there = w.at_other_voltage(value, figure, 12.0, volts)
    assert w.at_other_voltage(there, figure, volts, 12.0) == pytest.approx(value)
