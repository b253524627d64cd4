"""Pressure and vacuum tests: ranges, signs, directions, verdicts and round trips."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.measure import pressure
from diagnose.measure.valid import OutOfRangeError

AIR = 101325.0
TEST: dict[str, float] = {
    "start": 90e3, "end": 90e3, "time": 600.0, "temperature": 20.0, "temperature_after": 20.0, "cap": 90e3, "gas_volume": 3e-4,
    "coolant_volume": 5e-3, "expansion": 4.5e-4, "moisture": 0.8, "allowance": 2e3, "barometer": AIR,
}
SUCTION: dict[str, float] = {
    "start": 40e3, "end": 40e3, "time": 120.0, "temperature": 15.0, "temperature_after": 15.0, "gas_volume": 1e-3, "allowance": 2e3,
    "barometer": AIR,
}


@pytest.mark.parametrize(("name", "value"), [
    ("start", 500.0), ("start", 210e3), ("end", -30e3), ("end", 260e3), ("time", 20.0), ("time", 2e5), ("temperature", -1.0),
    ("temperature", 51.0),
    ("temperature_after", 51.0), ("cap", 10e3), ("cap", 210e3), ("gas_volume", 0.0), ("gas_volume", 0.2), ("coolant_volume", -1e-3),
    ("coolant_volume", 0.2), ("expansion", -1e-4), ("expansion", 2e-3), ("moisture", -0.1), ("moisture", 1.1), ("allowance", -1.0),
    ("allowance", 60e3), ("barometer", 50e3), ("barometer", 120e3),
])
def test_pressure_test_refuses_what_lies_outside(name: str, value: float) -> None:
    """Just past each end; a hot engine is outside."""
    with pytest.raises(OutOfRangeError, match=name.replace("_", " ")):
        pressure.pressure_test(**TEST | {name: value})


@pytest.mark.parametrize(("name", "value"), [
    ("start", 500.0), ("start", 91e3), ("end", -1.0), ("end", 96e3), ("time", 5.0), ("temperature", -1.0), ("temperature_after", 51.0),
    ("gas_volume", 0.0), ("allowance", 40e3), ("barometer", 50e3),
])
def test_suction_test_refuses_what_lies_outside(name: str, value: float) -> None:
    """Just past each end."""
    with pytest.raises(OutOfRangeError, match=name.replace("_", " ")):
        pressure.suction_test(**SUCTION | {name: value})


@pytest.mark.parametrize(("call", "values"), [
    (pressure.head_pressure, (101.0, 1000.0)),
    (pressure.head_pressure, (1.0, 500.0)), (pressure.head_height, (3e6, 1000.0)), (pressure.head_height, (1e3, 15000.0)),
    (pressure.lowest_point_pressure, (10e3, 1.0, 1000.0)), (pressure.lowest_point_pressure, (90e3, 11.0, 1000.0)),
    (pressure.lowest_point_pressure, (90e3, 1.0, 800.0)), (pressure.suction_loss, (90e3, 1.0, 1025.0)),
    (pressure.suction_loss, (2e4, 5.0, 1025.0)),
    (pressure.suction_loss, (2e4, 1.0, 1100.0)), (pressure.leak_rate, (0.0, 1e3, 60.0)), (pressure.leak_rate, (1e-3, 3e6, 60.0)),
    (pressure.leak_rate, (1e-3, 1e3, 0.5)), (pressure.at_atmosphere, (1e5, AIR)), (pressure.at_atmosphere, (1.0, 50e3)),
])
def test_the_others_refuse_what_lies_outside(call: Any, values: tuple[float, ...]) -> None:
    """Just past an end of each."""
    with pytest.raises(OutOfRangeError):
        call(*values)


@given(start=st.floats(0, 150e3), one=st.floats(5, 90), other=st.floats(5, 90), moisture=st.floats(0, 1))
def test_there_and_back_is_where_it_began(start: float, one: float, other: float, moisture: float) -> None:
    """Without a liquid that shrinks, cooling and warming again cancel."""
    there = pressure.expected_pressure(start, one, other, 3e-4, 0.0, 0.0, moisture, AIR)
    if -90e3 < there < 1.9e6:
        assert pressure.expected_pressure(there, other, one, 3e-4, 0.0, 0.0, moisture, AIR) == pytest.approx(start, abs=1e-3)


@given(start=st.floats(1e3, 150e3), temperature=st.floats(0, 50), moisture=st.floats(0, 1), room=st.floats(1e-5, 1e-2))
def test_one_temperature_changes_nothing(start: float, temperature: float, moisture: float, room: float) -> None:
    """No change of temperature, no change of pressure, whatever the rest is."""
    assert pressure.expected_pressure(start, temperature, temperature, room, 5e-3, 4.5e-4, moisture, AIR) == pytest.approx(start, abs=1e-6)


def test_every_part_lets_the_needle_fall_on_cooling() -> None:
    """Gas alone, then vapour, then the coolant that shrinks: each takes more, over the whole range, and warming does the reverse."""
    for end in range(20):
        gas = pressure.expected_pressure(90e3, 20.0, end, 3e-4, 0.0, 0.0, 0.0, AIR)
        moist = pressure.expected_pressure(90e3, 20.0, end, 3e-4, 0.0, 0.0, 0.8, AIR)
        all_three = pressure.expected_pressure(90e3, 20.0, end, 3e-4, 5e-3, 4.5e-4, 0.8, AIR)
        assert all_three < moist < gas < 90e3
    assert 90e3 < pressure.expected_pressure(90e3, 20.0, 25.0, 3e-4, 0.0, 0.0, 0.0, AIR) < pressure.expected_pressure(
        90e3, 20.0, 25.0, 3e-4, 5e-3, 4.5e-4, 0.8, AIR)


def test_smaller_air_space_moves_the_needle_more() -> None:
    """The coolant's shrinking counts the more the less air there is."""
    found = [pressure.expected_pressure(90e3, 20.0, 15.0, room, 5e-3, 4.5e-4, 0.8, AIR) for room in (1e-4, 3e-4, 1e-3, 1e-2)]
    assert found == sorted(found)


def test_what_would_burst_or_boil_is_refused() -> None:
    """A little air over much coolant that warms, and water that boils under vacuum."""
    with pytest.raises(ValueError, match="fills the whole gas space"):
        pressure.expected_pressure(90e3, 10.0, 40.0, 5e-5, 5e-3, 4.5e-4, 0.8, AIR)
    with pytest.raises(ValueError, match="boil"):
        pressure.expected_pressure(-95e3, 60.0, 60.0, 3e-4, 0.0, 0.0, 1.0, AIR)


@pytest.mark.parametrize(("changed", "word"), [
    ({}, "holds"),
    ({"end": 88.1e3}, "holds"),
    ({"end": 87.9e3}, "leaks"),
    ({"start": 80e3, "end": 82.5e3}, "rises"),
    ({"start": 91e3, "end": 91e3}, "holds"),
    ({"start": 92.5e3, "end": 91e3}, "over the cap"),
    ({"start": 89e3, "end": 92.5e3}, "over the cap"),
    ({"end": 84e3, "temperature_after": 17.0}, "holds"),
    ({"end": 84e3}, "leaks"),
])
def test_verdict_of_a_pressure_test(changed: dict[str, float], word: str) -> None:
    """The cap comes first, a needle's width over it still allowed; then the allowance decides, cooling taken out before."""
    assert pressure.pressure_test(**TEST | changed).word == word


@given(share=st.floats(0.0, 0.2), room=st.floats(1e-4, 2e-3))
def test_liquid_that_went_is_found_again(share: float, room: float) -> None:
    """Gas that grew by a share of its space, by Boyle's law, gives back that volume of coolant."""
    end = (90e3 + AIR) / (1.0 + share) - AIR
    found = pressure.pressure_test(**TEST | {"end": end, "gas_volume": room})
    assert found.liquid * TEST["time"] == pytest.approx(share * room, rel=1e-6, abs=1e-15)
    assert found.missing == pytest.approx(90e3 - end, abs=1e-6)
    assert found.gas * AIR == pytest.approx(room * (90e3 - end) / 600.0, rel=1e-9, abs=1e-15)


def test_longer_test_finds_smaller_leak() -> None:
    """The same fall in twice the time is half the leak."""
    one, other = (pressure.pressure_test(**TEST | {"end": 80e3, "time": t}) for t in (600.0, 1200.0))
    assert (one.liquid / other.liquid, one.gas / other.gas) == (pytest.approx(2.0), pytest.approx(2.0))


@pytest.mark.parametrize(("changed", "word"), [({}, "holds"), ({"end": 37e3}, "draws air"), ({"end": 43e3}, "rises"),
    ({"end": 0.0}, "draws air"),
                                               ({"end": 43e3, "temperature_after": 0.0}, "holds")])
def test_verdict_of_a_suction_test(changed: dict[str, float], word: str) -> None:
    """Air that comes in, nothing, or a hose that cooled."""
    assert pressure.suction_test(**SUCTION | changed).word == word


@given(end=st.floats(0, 40e3), room=st.floats(1e-4, 1e-2))
def test_air_let_in_follows_the_lost_vacuum(end: float, room: float) -> None:
    """Nothing lost, nothing in; and never more than the space would take up to the air outside."""
    found = pressure.suction_test(**SUCTION | {"end": end, "gas_volume": room})
    assert 0.0 <= found.air * SUCTION["time"] <= room * 40e3 / AIR * (1 + 1e-9)
    assert found.expected == pytest.approx(40e3, abs=1e-6)


@given(height=st.floats(0.0, 20.0), density=st.floats(700.0, 1100.0))
def test_head_and_height_are_each_other_turned_round(height: float, density: float) -> None:
    """There and back."""
    assert pressure.head_height(pressure.head_pressure(height, density), density) == pytest.approx(height, abs=1e-12)


def test_lowest_point_bears_more_than_the_cap() -> None:
    """By the weight of what stands above it, and by nothing when it lies level with the filler."""
    assert pressure.lowest_point_pressure(90e3, 0.0, 1050.0) == 90e3
    assert pressure.lowest_point_pressure(90e3, 1.0, 1000.0) == pytest.approx(90e3 + 9806.65)


def test_suction_loss_adds_up() -> None:
    """Lift and loss are the vacuum; below the waterline the lift helps."""
    for vacuum, height in ((20e3, 1.0), (5e3, -0.5), (-1e3, -1.0)):
        found = pressure.suction_loss(vacuum, height, 1025.0)
        assert found.lift + found.loss == pytest.approx(vacuum)
        assert (found.lift > 0) == (height > 0)


def test_all_is_what_can_be_used() -> None:
    """Every public name exists."""
    assert [name for name in pressure.__all__ if not hasattr(pressure, name)] == []
