"""Fresh and sea water: ranges, limits, directions over the whole range, turning round."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.measure import water
from diagnose.measure.valid import OutOfRangeError

SEA = [(t, s) for t in range(-2, 81, 2) for s in range(0, 43, 6)]
WARMTH = st.floats(-2.0, 80.0)
SALT = st.floats(0.0, 42.0)


@pytest.mark.parametrize("function", [water.density, water.specific_heat, water.properties])
@pytest.mark.parametrize(("temperature", "salinity"), [(-2.1, 35.0), (80.1, 35.0), (20.0, -0.1), (20.0, 42.1), (math.nan, 35.0)])
def test_sea_water_outside_its_range_is_refused(function: object, temperature: float, salinity: float) -> None:
    """Ice, steam, brine and what is no number are no sea water."""
    assert callable(function)
    with pytest.raises(OutOfRangeError):
        function(temperature, salinity)


@pytest.mark.parametrize("function", [water.fresh_density, water.fresh_specific_heat])
@pytest.mark.parametrize("temperature", [-2.1, 110.1])
def test_fresh_water_outside_its_range_is_refused(function: object, temperature: float) -> None:
    """The formula at 0.1 MPa ends at 110 degrees."""
    assert callable(function)
    with pytest.raises(OutOfRangeError, match="from -2 to 110"):
        function(temperature)


def test_both_ends_of_each_range_are_allowed() -> None:
    """What the docstring promises is given."""
    for temperature in (-2.0, 80.0):
        for salinity in (0.0, 42.0):
            assert water.density(temperature, salinity) > 960
    assert water.fresh_density(110.0) < water.fresh_density(-2.0)
    assert water.vapour_pressure(0.0) < water.vapour_pressure(water.CRITICAL)


def test_sea_water_stays_within_bounds_over_its_whole_range() -> None:
    """Density 960 to 1040, specific heat 3900 to 4250, and their product within 1.5 % of 4.1 MJ wherever there is salt of the sea."""
    for temperature, salinity in SEA:
        found = water.properties(temperature, salinity)
        assert 960 < found.density < 1040
        assert 3900 < found.specific_heat < 4250
        assert found.volume_heat == pytest.approx(found.density * found.specific_heat)
        if salinity >= 30 and temperature <= 40:
            assert found.volume_heat == pytest.approx(4.1e6, rel=0.015)


@pytest.mark.parametrize("salinity", [0.0, 20.0, 35.0, 42.0])
def test_warm_water_is_lighter(salinity: float) -> None:
    """Above 5 degrees density falls all the way."""
    found = [water.density(t, salinity) for t in range(5, 81)]
    assert found == sorted(found, reverse=True)


@given(WARMTH, st.floats(0.0, 41.0))
def test_salt_makes_heavier_and_takes_off_heat(temperature: float, salinity: float) -> None:
    """One part more of salt adds 0.6 to 1.05 kg/m^3 and takes off 4 to 9 J/(kg K), everywhere."""
    heavier = water.density(temperature, salinity + 1.0) - water.density(temperature, salinity)
    less = water.specific_heat(temperature, salinity) - water.specific_heat(temperature, salinity + 1.0)
    assert 0.6 < heavier < 1.05
    assert 4.0 < less < 9.0


@given(WARMTH)
def test_water_without_salt_is_fresh_water(temperature: float) -> None:
    """Both sets of formulas meet at salinity nought."""
    assert water.density(temperature, 0.0) == pytest.approx(water.fresh_density(temperature), rel=1e-12)
    assert water.specific_heat(temperature, 0.0) == pytest.approx(water.fresh_specific_heat(temperature), rel=1e-12)


def test_fresh_water_is_heaviest_near_four_degrees() -> None:
    """The one turn in the curve of fresh water lies between 3.9 and 4.1 degrees."""
    heaviest = max(range(1000), key=lambda step: water.fresh_density(step / 100))
    assert 390 <= heaviest <= 410


@given(st.floats(0.0, 41.9))
def test_salt_lowers_the_freezing_point(salinity: float) -> None:
    """Always downwards with salt, from nought to under -2.3."""
    assert water.freezing_point(salinity + 0.1) < water.freezing_point(salinity) <= 0.0
    assert water.freezing_point(42.0) > -2.4


@given(st.floats(0.0, 373.9))
def test_vapour_pressure_and_boiling_point_turn_each_other_round(temperature: float) -> None:
    """Boiling at the pressure of a temperature is that temperature, to a ten thousandth of a kelvin."""
    assert water.saturation_temperature(water.vapour_pressure(temperature)) == pytest.approx(temperature, abs=1e-4)


def test_vapour_pressure_climbs_all_the_way() -> None:
    """Hotter water always presses harder."""
    found = [water.vapour_pressure(t) for t in range(374)]
    assert found == sorted(found)
    assert len(set(found)) == len(found)


@pytest.mark.parametrize("pressure", [600.0, 2.3e7])
def test_a_pressure_without_a_boiling_point_is_refused(pressure: float) -> None:
    """Below freezing water and above the critical point there is none."""
    with pytest.raises(OutOfRangeError):
        water.saturation_temperature(pressure)


def test_salinity_of_nothing_freezes_at_nought() -> None:
    """Fresh water freezes at 0, and is not told as minus nought."""
    assert str(water.freezing_point(0.0)) == "0.0"
