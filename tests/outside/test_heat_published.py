"""Fuel, power and cooling water against worked examples of textbooks on engines.

The examples were read through open companions to the books and worked again. The books take water at 1 kg/L and 4.18 or
4.187 kJ/(kg K) whatever its temperature; where their kilogrammes are turned to litres here the density of the steam tables is used.
"""

from __future__ import annotations

from typing import Any

import pytest

from diagnose.measure import heat

GRAMMES_A_KILOWATT_HOUR = 1 / 3.6e9
DENSITY = 840.0
"""Any density does, for it drops out again: the books tell kilogrammes."""
LITRES_A_MINUTE = 1 / 60e3


def flow(kilogrammes_an_hour: float) -> float:
    """Fuel in cubic metres a second."""
    return kilogrammes_an_hour / 3600 / DENSITY


def test_diesel_trial_of_joel() -> None:
    """Joel, Basic Engineering Thermodynamics, example 17.3: 330 N m at 1750 rpm, 18.7 kg/h of 42.3 MJ/kg.

    60.5 kW, 0.309 kg/kWh, fuel 13184, brake 3629, water 4038 kJ/min: rounded to three or four digits, so 0.2 %.
    """
    power = heat.brake_power(330.0, 1750 / 60)
    assert power == pytest.approx(60.5e3, rel=2e-3)
    assert heat.specific_consumption(flow(18.7), DENSITY, power) == pytest.approx(309 * GRAMMES_A_KILOWATT_HOUR, rel=2e-3)
    found = heat.fuel_to_heat(flow(18.7), DENSITY, 42.3e6, 4038 / 13184, 309 * GRAMMES_A_KILOWATT_HOUR)
    assert found == pytest.approx((13184e3 / 60, 4038e3 / 60, 3629e3 / 60), rel=2e-3)


def test_cooling_water_of_joel() -> None:
    """The same trial: 483 kg of water in 30 min from 17 to 77 deg C carry 4038 kJ/min.

    The book's 4.18 kJ/(kg K) against 4.181 of the tables, and its rounding: 0.3 %. Litres at the mean, 47 deg C: 989.4 kg/m^3.
    """
    carried = heat.stream(483 / 1800 / 989.4, 77.0, 17.0, "fresh-water", 0.0, 0.0, 1.0)
    assert carried == pytest.approx(4038e3 / 60, rel=3e-3)


def test_diesel_trial_of_rajput() -> None:
    """Rajput, Internal Combustion Engines, example 17.38: 186 N m at 1900 rpm, 10.2 kg/h of 43.89 MJ/kg, 15.5 kg/min water, rise 36 K.

    37.0 kW, 0.276 kg/kWh, brake 29.8 %, water 31.3 % (taken at 4.187 kJ/(kg K), the tables have 4.179: 0.4 %).
    """
    power = heat.brake_power(186.0, 1900 / 60)
    assert power == pytest.approx(37.0e3, rel=2e-3)
    consumption = heat.specific_consumption(flow(10.2), DENSITY, power)
    assert consumption == pytest.approx(276 * GRAMMES_A_KILOWATT_HOUR, rel=2e-3)
    found = heat.power_to_heat(power, consumption, 43.89e6, DENSITY, 0.313)
    assert found.efficiency == pytest.approx(0.298, abs=5e-4)
    assert found.fuel_flow == pytest.approx(flow(10.2))
    water = heat.stream(15.5 / 60 / 993.3, 55.0, 19.0, "fresh-water", 0.0, 0.0, 1.0)
    assert water / found.fuel_heat == pytest.approx(0.313, rel=5e-3)


def test_balance_of_nag() -> None:
    """Nag, Power Plant Engineering, example 11.3: of 140.9 kW in the fuel 37.7 % at the brake and 32 % in the jacket.

    By hand: 53.1 and 45.1 kW.
    """
    consumption = 1 / (0.377 * 42e6)
    found = heat.fuel_to_heat(140.9e3 / 42e6 / DENSITY, DENSITY, 42e6, 0.32, consumption)
    assert found == pytest.approx((140.9e3, 45.1e3, 53.1e3), rel=2e-3)


@pytest.mark.parametrize(("kilowatts", "efficiency", "share", "rise", "kilogrammes"), [
    (90, 0.30, 0.28, 27.0, 2675), (100, 0.31, 0.26, 30.0, 2404)])
def test_cooling_water_of_rajput_and_of_mathur_and_sharma(kilowatts: float, efficiency: float, share: float, rise: float,
                                                          kilogrammes: float) -> None:
    """Rajput example 15.1 and Mathur and Sharma example 15.1: kilogrammes of water an hour for an engine.

    They take 4.187 kJ/(kg K); the tables have 4.18 at this warmth, which makes 0.2 %. From 20 deg C, where it leaves: 989.4, 988.0 kg/m^3.
    """
    found = heat.raw_water_needed(kilowatts * 1e3, 1 / (efficiency * 42.7e6), 42.7e6, share, rise, 20.0, 0.0)
    mass = found.flow * {27.0: 989.4, 30.0: 988.0}[rise] * 3600
    assert mass == pytest.approx(kilogrammes, rel=3e-3)


@pytest.mark.parametrize(("litres", "rise"), [(70, 14.6), (65, 15.7)])
def test_raw_water_rise_of_the_trade_rule(litres: float, rise: float) -> None:
    """A pump dealer's 65 to 70 L/min for 100 bhp with a heat exchanger, 28 % of the fuel's heat at 30 % efficiency.

    By hand with sea water of 3.993 kJ/(kg K) and 1.025 kg/L: 14.6 and 15.7 K. Water at 35 deg C is 0.4 % lighter.
    """
    found = heat.raw_water_rise(74.6e3, 1 / (0.30 * 42.7e6), 42.7e6, 0.28, litres * LITRES_A_MINUTE, 20.0, 35.0)
    assert found.rise == pytest.approx(rise, rel=7e-3)


def test_direct_cooling_of_the_trade_rule_warms_twice_as_much() -> None:
    """The same dealer's 36 to 39 L/min where sea water goes through the block: by hand 26 to 28 K."""
    for litres in (36, 39):
        found = heat.raw_water_rise(74.6e3, 1 / (0.30 * 42.7e6), 42.7e6, 0.28, litres * LITRES_A_MINUTE, 20.0, 35.0)
        assert 25.9 < found.rise < 28.6


@pytest.mark.parametrize(("rated", "speed"), [(3000, 1500), (3600, 1200), (2800, 2240)])
def test_the_propeller_law(rated: float, speed: float) -> None:
    """Power as the cube of the revs, torque as their square (common practice, the propeller law).

    So torque times turns, each by its own law, must be the power.
    """
    full = 30e3 / (2 * 3.141592653589793 * rated / 60)
    torque = full * (speed / rated) ** 2
    assert heat.propeller_power(30e3, rated / 60, speed / 60) == pytest.approx(heat.brake_power(torque, speed / 60))


def test_streams_over_their_range_against_coolprop() -> None:
    """Heat between two temperatures of plain water is the difference of its enthalpy (IAPWS-95 through CoolProp).

    One specific heat at the mean, where the curve of cold water sags: 0.15 % for spans of up to 60 K, 0.02 % for 15 K.
    """
    cool: Any = pytest.importorskip("CoolProp.CoolProp")
    for low, high in ((2, 12), (5, 60), (20, 35), (20, 80), (60, 95), (88, 92)):
        warm, cold = (cool.PropsSI("H", "T", t + 273.15, "P", 101325, "Water") for t in (high, low))
        mass = cool.PropsSI("D", "T", (low + high) / 2 + 273.15, "P", 101325, "Water")
        found = heat.stream(1e-3, high, low, "fresh-water", 0.0, 0.0, 1.0)
        assert found == pytest.approx(1e-3 * mass * (warm - cold), rel=1.5e-3 if high - low > 15 else 2e-4)


def test_sea_water_streams_against_gsw() -> None:
    """Heat taken up by sea water is the difference of its enthalpy (TEOS-10, gsw), 5 to 40 deg C: 0.02 %."""
    gsw: Any = pytest.importorskip("gsw")
    for salinity in (7, 20, 35, 40):
        absolute = salinity * 35.16504 / 35
        for low, high in ((5, 15), (18, 33), (25, 40)):
            warm, cold = (float(gsw.enthalpy_t_exact(absolute, t, 0)) for t in (high, low))
            mass = float(gsw.rho_t_exact(absolute, high, 0))
            found = heat.raw_water_heat(5e-4, low, high, salinity)
            assert found == pytest.approx(5e-4 * mass * (warm - cold), rel=2e-4)
