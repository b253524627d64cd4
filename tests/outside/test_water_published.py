"""Water against the published formulations, through the libraries gsw, iapws and CoolProp, and against printed check values."""

from __future__ import annotations

import warnings
from typing import Any

import pytest

from diagnose.measure import water
from diagnose.measure.constants import ATMOSPHERE

REFERENCE = 35.16504 / 35.0
"""Grammes of salt in a kilogramme for each unit of practical salinity (Millero and others 2008, the reference composition)."""


@pytest.fixture(scope="module")
def gsw() -> Any:
    """TEOS-10, where it is installed."""
    return pytest.importorskip("gsw")


@pytest.fixture(scope="module")
def iapws() -> Any:
    """The IAPWS formulations, where the library is installed."""
    return pytest.importorskip("iapws")


@pytest.mark.parametrize(("temperature", "mass", "heat"), [
    (0, 1028.107, 3986.5), (5, 1027.676, 3987.6), (10, 1026.954, 3990.1), (15, 1025.976, 3993.1), (20, 1024.766, 3996.1),
    (25, 1023.344, 3999.0), (30, 1021.726, 4001.5)])
def test_ocean_water_of_teos_10(temperature: float, mass: float, heat: float) -> None:
    """TEOS-10 at the surface, practical salinity 35 (computed with gsw 3.6.23).

    Ours is for 0.1 MPa and theirs for 0.101325, which makes 0.0007 kg/m^3; the short equation for pure water is within 0.15 J/(kg K)
    of the long one. Rounding adds half a last digit.
    """
    assert water.density(temperature, 35.0) == pytest.approx(mass, abs=0.0015)
    assert water.specific_heat(temperature, 35.0) == pytest.approx(heat, abs=0.25)


@pytest.mark.parametrize(("salinity", "mass", "heat"), [(0, 998.207, 4184.1), (10, 1005.794, 4127.1), (20, 1013.364, 4073.1)])
def test_fresh_and_brackish_water_of_teos_10(salinity: float, mass: float, heat: float) -> None:
    """TEOS-10 at the surface and 20 deg C (computed with gsw 3.6.23); tolerance as above."""
    assert water.density(20.0, salinity) == pytest.approx(mass, abs=0.0015)
    assert water.specific_heat(20.0, salinity) == pytest.approx(heat, abs=0.25)


def test_the_check_value_of_the_sea_water_release() -> None:
    """IAPWS R13-08 check table: salinity 0.03516504, 273.15 K, 0.101325 MPa has 3986.486 J/(kg K)."""
    assert water.specific_heat(0.0, 35.0) == pytest.approx(3986.486, abs=0.15)


def test_sea_water_over_its_whole_range_against_iapws(iapws: Any) -> None:
    """IAPWS R13-08 through the library iapws, all of -2 to 80 deg C and 0 to 42: 0.001 kg/m^3 and 0.2 J/(kg K)."""
    for temperature in (0.5, 4, 10, 18, 25, 33, 41, 50, 60, 70, 79):
        for salinity in (0, 5, 12, 20, 28, 35, 42):
            theirs = iapws.SeaWater(T=temperature + 273.15, P=0.101325, S=salinity * REFERENCE / 1000)
            assert water.density(temperature, salinity) == pytest.approx(theirs.rho, abs=0.001)
            assert water.specific_heat(temperature, salinity) == pytest.approx(1000 * theirs.cp, abs=0.2)


def test_sea_water_over_the_sea_range_against_gsw(gsw: Any) -> None:
    """TEOS-10 by its own polynomial, -2 to 40 deg C where that holds: 0.0015 kg/m^3 and 0.25 J/(kg K)."""
    for temperature in range(-1, 41, 3):
        for salinity in range(2, 43, 4):
            absolute = salinity * REFERENCE
            assert water.density(temperature, salinity) == pytest.approx(float(gsw.rho_t_exact(absolute, temperature, 0)), abs=0.0015)
            assert water.specific_heat(temperature, salinity) == pytest.approx(float(gsw.cp_t_exact(absolute, temperature, 0)), abs=0.25)


@pytest.mark.parametrize(("temperature", "mass", "heat"), [(80, 971.79, 4196.8), (85, 968.61, 4200.7), (90, 965.31, 4205.2)])
def test_hot_fresh_water(temperature: float, mass: float, heat: float) -> None:
    """Plain water in a cooling circuit (computed with CoolProp 8): half a last digit and the 0.2 J/(kg K) of the short equation."""
    assert water.fresh_density(temperature) == pytest.approx(mass, abs=0.006)
    assert water.fresh_specific_heat(temperature) == pytest.approx(heat, abs=0.25)


def test_fresh_water_over_its_whole_range_against_coolprop() -> None:
    """IAPWS-95 through CoolProp, 1 to 99 deg C at one atmosphere, and 101 to 110 just under enough pressure not to boil.

    A bar more makes 0.05 kg/m^3.
    """
    cool = pytest.importorskip("CoolProp.CoolProp")
    for temperature in [*range(1, 100, 7), 103, 110]:
        pressure = 101325.0 if temperature < 100 else 2e5
        at = ("T", temperature + 273.15, "P", pressure, "Water")
        assert water.fresh_density(temperature) == pytest.approx(cool.PropsSI("D", *at), abs=0.01 if temperature < 100 else 0.06)
        assert water.fresh_specific_heat(temperature) == pytest.approx(cool.PropsSI("C", *at), abs=0.3 if temperature < 100 else 0.6)


def test_supercooled_water_is_the_release_itself(iapws: Any) -> None:
    """IAPWS SR6-08 holds below freezing; sea water at -2 rests on it. Same equation, so to the last digits."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = iapws._iapws._Liquid(271.15, 0.1)
    assert water.fresh_density(-2.0) == pytest.approx(theirs["rho"], rel=1e-9)
    assert water.fresh_specific_heat(-2.0) == pytest.approx(1000 * theirs["cp"], rel=1e-7)


@pytest.mark.parametrize(("salinity", "freezes"), [(10, -0.542), (30, -1.638)])
def test_freezing_points_of_unesco(salinity: float, freezes: float) -> None:
    """UNESCO 44 (1983), check values at the surface as printed with the R package marelac: last digit."""
    assert water.freezing_point(salinity) == pytest.approx(freezes, abs=0.0006)


def test_freezing_point_of_ocean_water() -> None:
    """TEOS-10, salinity 35 with air in it: -1.9210 deg C. The older formula is within 0.002 K of it."""
    assert water.freezing_point(35.0) == pytest.approx(-1.9210, abs=0.002)


def test_freezing_points_over_the_range_against_gsw(gsw: Any) -> None:
    """TEOS-10 with air, 0 to 42: UNESCO claims 0.003 K from 4 to 40, and nothing beyond is out by more than 0.006."""
    for salinity in range(43):
        theirs = float(gsw.t_freezing(salinity * REFERENCE, 0, 1))
        assert water.freezing_point(salinity) == pytest.approx(theirs, abs=0.003 if 4 <= salinity <= 40 else 0.006)


@pytest.mark.parametrize(("kelvin", "pressure"), [(300, 3.53658941e3), (500, 2.63889776e6), (600, 12.3443146e6)])
def test_saturation_pressure_of_if97(kelvin: float, pressure: float) -> None:
    """IAPWS IF97, table 35: nine digits, less what the shift to degrees and back costs."""
    assert water.vapour_pressure(kelvin - 273.15) == pytest.approx(pressure, rel=3e-9)


@pytest.mark.parametrize(("pressure", "kelvin"), [(1e5, 372.755919), (1e6, 453.035632), (1e7, 584.149488)])
def test_saturation_temperature_of_if97(pressure: float, kelvin: float) -> None:
    """IAPWS IF97, table 36: all nine digits."""
    assert water.saturation_temperature(pressure) + 273.15 == pytest.approx(kelvin, abs=6e-7)


@pytest.mark.parametrize(("temperature", "kilopascal"), [
    (20, 2.339), (50, 12.35), (80, 47.41), (85, 57.87), (90, 70.18), (95, 84.61), (100, 101.42), (110, 143.4), (120, 198.7)])
def test_vapour_pressure_of_warm_water(temperature: float, kilopascal: float) -> None:
    """Steam tables (IF97, with CoolProp within 5e-5): the last printed digit."""
    assert water.vapour_pressure(temperature) == pytest.approx(1000 * kilopascal, rel=5e-4)


@pytest.mark.parametrize(("gauge_psi", "boils"), [(4, 106.9), (7, 111.3), (10, 115.2), (13, 118.8), (14, 119.9), (15, 121.0), (16, 122.0)])
def test_plain_water_under_a_cap(gauge_psi: float, boils: float) -> None:
    """Saturation at one atmosphere plus the cap, by iapws: the last printed digit."""
    assert water.saturation_temperature(ATMOSPHERE + gauge_psi * 6894.757) == pytest.approx(boils, abs=0.06)


def test_saturation_over_the_whole_line_against_iapws(iapws: Any) -> None:
    """Region 4 of IF97 by the library: the same equations, so to rounding."""
    for temperature in range(1, 373, 6):
        theirs = 1e6 * iapws.iapws97._PSat_T(temperature + 273.15)
        assert water.vapour_pressure(temperature) == pytest.approx(theirs, rel=1e-9)
        assert water.saturation_temperature(theirs) == pytest.approx(iapws.iapws97._TSat_P(theirs / 1e6) - 273.15, abs=1e-7)
