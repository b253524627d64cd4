"""Pressure and vacuum tests: what the gauge should show with no leak, what is left over, and what that leaks.

Pressures are gauge unless said otherwise. Between the coolant and the gauge there is a little gas. As everything cools, the
gas shrinks, its water vapour condenses and the coolant itself shrinks and gives it room: all three let the needle fall with
no leak at all. How large that gas space is nobody knows well, and hoses give; both limit what the test can say.
"""

from __future__ import annotations

from typing import NamedTuple

from diagnose.measure.constants import GRAVITY, ZERO_CELSIUS
from diagnose.measure.valid import check
from diagnose.measure.water import vapour_pressure

__all__ = [
    "PressureTest",
    "SuctionLoss",
    "VacuumTest",
    "at_atmosphere",
    "expected_pressure",
    "fall_in_ten_minutes",
    "head_height",
    "head_pressure",
    "leak_rate",
    "lowest_point_pressure",
    "pressure_test",
    "suction_loss",
    "suction_test",
]


class PressureTest(NamedTuple):
    """Pressure to be expected with no leak [Pa gauge], what is missing from it [Pa], what that leaks and a word.

    `liquid` is the leak if coolant went, `gas` if air went, measured at the pressure outside [m^3/s].
    """

    expected: float
    missing: float
    liquid: float
    gas: float
    word: str


class VacuumTest(NamedTuple):
    """Vacuum to be expected with no leak [Pa below the air outside], what is missing from it [Pa], air let in and a word.

    `air` is measured at the pressure outside [m^3/s].
    """

    expected: float
    missing: float
    air: float
    word: str


class SuctionLoss(NamedTuple):
    """Pressure spent on lifting the water, and what is left over for inlet, strainer and hose [Pa]."""

    lift: float
    loss: float


def _barometer(value: float) -> float:
    return check("barometer", value, 60e3, 110e3, "Pa")


def expected_pressure(pressure: float, temperature: float, temperature_after: float, gas_volume: float, coolant_volume: float,
                      expansion: float, moisture: float, barometer: float) -> float:
    """Gauge pressure of a closed circuit with no leak after its temperature has changed.

    Ideal gas over a liquid that shrinks and expands: (p + barometer - vapour) x T2/T1 x Vg/(Vg + Vc x expansion x (T1 - T2)) + vapour at
    T2 - barometer. Without liquid and moisture it is the plain gas law.

    Args:
        pressure: gauge pressure at the start [Pa], -95e3 to 2e6.
        temperature: temperature at the start [degC], 0 to 120.
        temperature_after: temperature at the end [degC], 0 to 120.
        gas_volume: gas above the coolant and in the tester's hose [m^3], 1e-6 to 0.1.
        coolant_volume: coolant in the circuit [m^3], 0 to 0.1.
        expansion: expansion of the coolant for each kelvin [1/K], 0 to 0.001.
        moisture: vapour pressure over the coolant as a share of that over pure water, 0 to 1; about 0.8 over half glycol.
        barometer: pressure of the air outside [Pa], 60e3 to 110e3.

    Returns:
        Gauge pressure [Pa].

    Raises:
        OutOfRangeError: outside those ranges.
        ValueError: the coolant would fill the whole gas space, or vapour alone would give more than the pressure at the start.

    Source: ideal gas law, as in the worked example A.6.5 of the 2015 Michigan Residential Code and in Kates chapter 5; vapour by
    Dalton's and Raoult's laws over the IAPWS IF97 saturation line.
    """
    check("pressure", pressure, -95e3, 2e6, "Pa")
    start = check("temperature", temperature, 0.0, 120.0, "degC")
    end = check("temperature_after", temperature_after, 0.0, 120.0, "degC")
    check("moisture", moisture, 0.0, 1.0)
    dry = pressure + _barometer(barometer) - moisture * vapour_pressure(start)
    if dry <= 0:
        raise ValueError("water at this temperature would boil at this pressure; let it cool first")
    room = check("gas_volume", gas_volume, 1e-6, 0.1, "m^3")
    shrinks = check("coolant_volume", coolant_volume, 0.0, 0.1, "m^3") * check("expansion", expansion, 0.0, 1e-3, "1/K") * (start - end)
    grown = room + shrinks
    if grown <= 0:
        raise ValueError("warming by so much, the coolant fills the whole gas space and bursts something; let the pressure down first")
    after = dry * (end + ZERO_CELSIUS) / (start + ZERO_CELSIUS) * room / grown
    return after + moisture * vapour_pressure(end) - barometer


def leak_rate(volume: float, fall: float, time: float) -> float:
    """Gas leak from the decay of pressure at constant temperature: volume x fall / time.

    Args:
        volume: gas volume [m^3], 1e-7 to 0.1.
        fall: how far the pressure fell [Pa], -2e6 to 2e6; negative for a vacuum that is lost, or a rise.
        time: in what time [s], 1 to 3e5.

    Returns:
        Leak [Pa m^3/s].

    Raises:
        OutOfRangeError: outside those ranges.

    Source: ideal gas; the same form as the vacuum-decay equation of 40 CFR 1065.644.
    """
    return check("volume", volume, 1e-7, 0.1, "m^3") * check("fall", fall, -2e6, 2e6, "Pa") / check("time", time, 1.0, 3e5, "s")


def at_atmosphere(leak: float, barometer: float) -> float:
    """Gas leak as volume at the pressure outside: leak / barometer.

    Args:
        leak: leak [Pa m^3/s], -1e4 to 1e4.
        barometer: pressure of the air outside [Pa], 60e3 to 110e3.

    Returns:
        Volume in a second [m^3/s].

    Raises:
        OutOfRangeError: outside those ranges.

    Source: ideal gas at constant temperature.
    """
    return check("leak", leak, -1e4, 1e4, "Pa m^3/s") / _barometer(barometer)


def pressure_test(start: float, end: float, time: float, temperature: float, temperature_after: float, cap: float, gas_volume: float,
                  coolant_volume: float, expansion: float, moisture: float, allowance: float, barometer: float) -> PressureTest:
    """A pressure test of the closed circuit, with the temperature taken out.

    Missing = expected - end. If coolant went, the gas grew into its place: liquid = gas volume x (expected / end, absolute, - 1) / time.
    If air went: gas = gas volume x missing / time / barometer.

    Args:
        start: gauge pressure at the start [Pa], 1000 to 200e3.
        end: gauge pressure at the end [Pa], -20e3 to 250e3.
        time: how long it stood [s], 30 to 1e5.
        temperature: temperature of the coolant at the start [degC], 0 to 50: the test is made cold.
        temperature_after: at the end [degC], 0 to 50.
        cap: figure on the pressure cap [Pa], 20e3 to 200e3.
        gas_volume: gas above the coolant and in the tester's hose [m^3], 1e-6 to 0.1.
        coolant_volume: coolant in the circuit [m^3], 0 to 0.1.
        expansion: expansion of the coolant for each kelvin [1/K], 0 to 0.001.
        moisture: vapour pressure as a share of that over pure water, 0 to 1.
        allowance: what may be missing and still count as holding [Pa], 0 to 50e3.
        barometer: pressure of the air outside [Pa], 60e3 to 110e3.

    Returns:
        Expected pressure, what is missing, the leak as liquid and as gas, and one of "over the cap" (by more than the
        allowance), "holds", "leaks", "rises".

    Raises:
        OutOfRangeError: outside those ranges.
        ValueError: as `expected_pressure`.

    Source: `expected_pressure` and `leak_rate`; that the cap is the ceiling and the engine is cold is common practice.
    """
    check("start", start, 1e3, 200e3, "Pa")
    check("end", end, -20e3, 250e3, "Pa")
    check("time", time, 30.0, 1e5, "s")
    check("temperature", temperature, 0.0, 50.0, "degC")
    check("temperature_after", temperature_after, 0.0, 50.0, "degC")
    ceiling = check("cap", cap, 20e3, 200e3, "Pa")
    allowed = check("allowance", allowance, 0.0, 50e3, "Pa")
    expected = expected_pressure(start, temperature, temperature_after, gas_volume, coolant_volume, expansion, moisture, barometer)
    missing = expected - end
    liquid = gas_volume * ((expected + barometer) / (end + barometer) - 1.0) / time
    if max(start, end) > ceiling + allowed:
        word = "over the cap"
    elif missing > allowed:
        word = "leaks"
    else:
        word = "rises" if missing < -allowed else "holds"
    return PressureTest(expected, missing, liquid, at_atmosphere(leak_rate(gas_volume, missing, time), barometer), word)


def fall_in_ten_minutes(start: float, end: float, time: float, temperature: float, temperature_after: float, cap: float,
                        gas_volume: float, coolant_volume: float, expansion: float, moisture: float, barometer: float) -> float:
    """What a pressure test loses to a leak in ten minutes [Pa]: what is missing with the temperature taken out x 600 s / time.

    Args: as `pressure_test`.

    Raises:
        OutOfRangeError, ValueError: as `pressure_test`.

    Source: as `pressure_test`.
    """
    found = pressure_test(start, end, time, temperature, temperature_after, cap, gas_volume, coolant_volume, expansion, moisture, 0.0,
                          barometer)
    return found.missing * 600.0 / time


def suction_test(start: float, end: float, time: float, temperature: float, temperature_after: float, gas_volume: float,
                 allowance: float, barometer: float) -> VacuumTest:
    """A vacuum test of the raw-water suction, seacock shut, with the temperature taken out.

    Vacuum is counted upwards from the air outside. Missing = expected - end; air = gas volume x missing / time / barometer.

    Args:
        start: vacuum at the start [Pa], 1000 to 90e3; a soft hose flattens long before that.
        end: vacuum at the end [Pa], 0 to 95e3.
        time: how long it stood [s], 10 to 1e5.
        temperature: temperature at the start [degC], 0 to 50.
        temperature_after: at the end [degC], 0 to 50.
        gas_volume: air in hose, strainer and tester [m^3], 1e-6 to 0.1.
        allowance: what may be missing and still count as holding [Pa], 0 to 30e3.
        barometer: pressure of the air outside [Pa], 60e3 to 110e3.

    Returns:
        Expected vacuum, what is missing, the air let in, and one of "holds", "draws air", "rises".

    Raises:
        OutOfRangeError: outside those ranges.

    Source: gas law as `expected_pressure`; vacuum decay as 40 CFR 1065.644.
    """
    check("start", start, 1e3, 90e3, "Pa")
    check("end", end, 0.0, 95e3, "Pa")
    check("time", time, 10.0, 1e5, "s")
    check("temperature", temperature, 0.0, 50.0, "degC")
    check("temperature_after", temperature_after, 0.0, 50.0, "degC")
    allowed = check("allowance", allowance, 0.0, 30e3, "Pa")
    expected = -expected_pressure(-start, temperature, temperature_after, gas_volume, 0.0, 0.0, 0.0, barometer)
    missing = expected - end
    word = "draws air" if missing > allowed else "rises" if missing < -allowed else "holds"
    return VacuumTest(expected, missing, at_atmosphere(leak_rate(gas_volume, missing, time), barometer), word)


def head_pressure(height: float, density: float) -> float:
    """Pressure of a standing column: density x g x height.

    Args:
        height: height of the column [m], -20 to 100.
        density: density of the fluid [kg/m^3], 600 to 14000.

    Returns:
        Pressure [Pa].

    Raises:
        OutOfRangeError: outside those ranges.

    Source: hydrostatics.
    """
    return check("height", height, -20.0, 100.0, "m") * check("density", density, 600.0, 14000.0, "kg/m^3") * GRAVITY


def head_height(pressure: float, density: float) -> float:
    """Height of the column that a pressure holds up: pressure / (density x g).

    Args:
        pressure: pressure [Pa], -110e3 to 2e6.
        density: density of the fluid [kg/m^3], 600 to 14000.

    Returns:
        Height [m].

    Raises:
        OutOfRangeError: outside those ranges.

    Source: hydrostatics.
    """
    return check("pressure", pressure, -110e3, 2e6, "Pa") / (check("density", density, 600.0, 14000.0, "kg/m^3") * GRAVITY)


def lowest_point_pressure(cap: float, height: float, density: float) -> float:
    """Pressure at the lowest point of the circuit when the gauge at the filler shows what stands on the cap: cap + head.

    The cap's figure is the ceiling of the test; this is what a low hose, a drain or a water heater bears meanwhile.

    Args:
        cap: figure on the pressure cap [Pa], 20e3 to 200e3.
        height: height of the filler above the lowest point [m], 0 to 10.
        density: density of the coolant [kg/m^3], 900 to 1150.

    Returns:
        Gauge pressure at the lowest point [Pa].

    Raises:
        OutOfRangeError: outside those ranges.

    Source: hydrostatics; that the cap is the ceiling is common practice.
    """
    check("density", density, 900.0, 1150.0, "kg/m^3")
    return check("cap", cap, 20e3, 200e3, "Pa") + head_pressure(check("height", height, 0.0, 10.0, "m"), density)


def suction_loss(vacuum: float, height: float, density: float) -> SuctionLoss:
    """What inlet, strainer and hose take from the suction: vacuum at the pump - density x g x height of the pump.

    Args:
        vacuum: vacuum read at the pump's inlet while she runs [Pa], -20e3 to 80e3; negative is pressure.
        height: height of that gauge above the water outside [m], -2 to 4; negative when it lies below.
        density: density of the water [kg/m^3], 990 to 1035.

    Returns:
        Share of lift and of loss [Pa]. A loss below zero says that the gauge, the height or a moving boat misleads.

    Raises:
        OutOfRangeError: outside those ranges.

    Source: hydrostatics; comparing the loss with her usual one is common practice.
    """
    check("density", density, 990.0, 1035.0, "kg/m^3")
    lift = head_pressure(check("height", height, -2.0, 4.0, "m"), density)
    return SuctionLoss(lift, check("vacuum", vacuum, -20e3, 80e3, "Pa") - lift)
