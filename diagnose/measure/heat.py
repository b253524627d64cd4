"""Heat from the fuel to the water: fuel, power, what goes into the coolant, what a stream carries away.

Everything is for an engine that runs steadily and is warm through. Heat values are lower heating values.
"""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from diagnose.measure import coolant, water
from diagnose.measure.coolant import Glycol
from diagnose.measure.valid import check

__all__ = [
    "Balance",
    "Fluid",
    "FuelHeat",
    "PowerHeat",
    "RawWater",
    "balance",
    "brake_power",
    "coolant_heat",
    "flow_for_rise",
    "fuel_flow",
    "fuel_heat",
    "fuel_to_heat",
    "power_to_heat",
    "propeller_power",
    "raw_water_heat",
    "raw_water_needed",
    "raw_water_rise",
    "rise_of_flow",
    "specific_consumption",
    "stream",
    "stream_heat",
]

Fluid = Literal["sea-water", "fresh-water", "ethylene", "propylene"]

_ROUNDS = 8
"""Passes that settle a flow whose density and specific heat hang on its own rise; each gains two digits or more."""


class FuelHeat(NamedTuple):
    """Heat in the fuel, heat to the coolant and power at the flywheel [W]."""

    fuel_heat: float
    coolant_heat: float
    brake_power: float


class PowerHeat(NamedTuple):
    """Fuel burnt [m^3/s], heat in it and heat to the coolant [W], and the share of the heat that becomes power."""

    fuel_flow: float
    fuel_heat: float
    coolant_heat: float
    efficiency: float


class RawWater(NamedTuple):
    """Heat to carry away [W], raw water for it [m^3/s], how much it warms [K] and how warm it leaves [deg C]."""

    heat: float
    flow: float
    rise: float
    leaves: float


class Balance(NamedTuple):
    """Heat by the coolant side and by the raw-water side [W], and how far they miss each other as a share of their mean."""

    coolant_heat: float
    raw_heat: float
    closing: float


def fuel_heat(flow: float, density: float, heating_value: float) -> float:
    """Heat in the fuel burnt [W]: flow x density x lower heating value.

    Args:
        flow: fuel burnt (delivery less return), 0 to 1e-5, which is 36 L an hour [m^3/s].
        density: 750 to 950 [kg/m^3].
        heating_value: lower heating value, 30 to 46 MJ/kg [J/kg].

    Raises:
        OutOfRangeError: outside these ranges.

    Source: definition of the lower heating value.
    """
    check("flow", flow, 0.0, 1e-5, "m^3/s")
    return flow * _fuel_density(density) * _heating_value(heating_value)


def fuel_flow(power: float, consumption: float, density: float) -> float:
    """Fuel burnt at a power [m^3/s]: power x specific consumption / density.

    Args:
        power: at the flywheel, 0 to 150 kW [W].
        consumption: brake specific fuel consumption, 150 to 600 g/kWh [kg/J].
        density: of the fuel, 750 to 950 [kg/m^3].

    Raises:
        OutOfRangeError: outside these ranges.

    Source: definition of specific consumption.
    """
    return _power("power", power) * _consumption(consumption) / _fuel_density(density)


def specific_consumption(flow: float, density: float, power: float) -> float:
    """Brake specific fuel consumption [kg/J]: flow x density / power.

    Args:
        flow: fuel burnt, 0 to 1e-5 [m^3/s].
        density: 750 to 950 [kg/m^3].
        power: at the flywheel, 100 W to 150 kW [W].

    Raises:
        OutOfRangeError: outside these ranges.

    Source: definition.
    """
    check("flow", flow, 0.0, 1e-5, "m^3/s")
    return flow * _fuel_density(density) / check("power", power, 100.0, 1.5e5, "W")


def brake_power(torque: float, speed: float) -> float:
    """Power at the flywheel [W]: 2 pi x turns a second x torque.

    Args:
        torque: 0 to 1000 [N m].
        speed: 0 to 100 turns a second [1/s].

    Raises:
        OutOfRangeError: outside these ranges.

    Source: definition of power.
    """
    check("torque", torque, 0.0, 1000.0, "N m")
    return 2.0 * math.pi * check("speed", speed, 0.0, 100.0, "1/s") * torque


def propeller_power(rated_power: float, rated_speed: float, speed: float, exponent: float = 3.0) -> float:
    """Power that a propeller takes at part revs [W]: rated power x (speed / rated speed)^exponent.

    It holds for a propeller that loads the engine fully at its rated speed. One that is too coarse or foul takes more.

    Args:
        rated_power: at rated speed, 0 to 150 kW [W].
        rated_speed: 5 to 100 [1/s].
        speed: 0 to 1.2 times the rated speed [1/s].
        exponent: 1.5 to 3.5; 3 for a displacement boat, less while she begins to plane.

    Raises:
        OutOfRangeError: outside these ranges.

    Source: common practice (the propeller law); exponent 3 follows from constant slip.
    """
    _power("rated_power", rated_power)
    check("rated_speed", rated_speed, 5.0, 100.0, "1/s")
    check("speed", speed, 0.0, 1.2 * rated_speed, "1/s")
    return float(rated_power * (speed / rated_speed) ** check("exponent", exponent, 1.5, 3.5))


def fuel_to_heat(flow: float, density: float, heating_value: float, coolant_share: float, consumption: float) -> FuelHeat:
    """Where the heat of the fuel goes: to the coolant, and to the flywheel.

    Args:
        flow: fuel burnt, 0 to 1e-5 [m^3/s].
        density: 750 to 950 [kg/m^3].
        heating_value: lower, 30 to 46 MJ/kg [J/kg].
        coolant_share: share of the fuel's heat that the coolant takes, 0.05 to 0.6.
        consumption: brake specific fuel consumption, 150 to 600 g/kWh [kg/J].

    Raises:
        OutOfRangeError: outside these ranges.

    Source: definitions; the share by engine trials in textbooks.
    """
    heat = fuel_heat(flow, density, heating_value)
    return FuelHeat(heat, _coolant_share(coolant_share) * heat, flow * density / _consumption(consumption))


def power_to_heat(power: float, consumption: float, heating_value: float, density: float, coolant_share: float) -> PowerHeat:
    """Fuel and heat behind a power at the flywheel.

    Args:
        power: at the flywheel, 0 to 150 kW [W].
        consumption: brake specific fuel consumption, 150 to 600 g/kWh [kg/J].
        heating_value: lower, 30 to 46 MJ/kg [J/kg].
        density: of the fuel, 750 to 950 [kg/m^3].
        coolant_share: share of the fuel's heat that the coolant takes, 0.05 to 0.6.

    Raises:
        OutOfRangeError: outside these ranges.

    Source: definitions; the share by engine trials in textbooks.
    """
    flow = fuel_flow(power, consumption, density)
    heat = power * consumption * _heating_value(heating_value)
    return PowerHeat(flow, heat, _coolant_share(coolant_share) * heat, 1.0 / (consumption * heating_value))


def stream_heat(flow: float, density: float, specific_heat: float, change: float) -> float:
    """Heat that a stream takes up or gives off [W]: flow x density x specific heat x change of temperature.

    Args:
        flow: 0 to 0.1 [m^3/s].
        density: 500 to 2000, where the flow was measured [kg/m^3].
        specific_heat: 500 to 5000, mean [J/(kg K)].
        change: 0 to 150, from one end to the other [K].

    Raises:
        OutOfRangeError: outside these ranges.

    Source: definition of specific heat.
    """
    check("flow", flow, 0.0, 0.1, "m^3/s")
    check("density", density, 500.0, 2000.0, "kg/m^3")
    check("specific_heat", specific_heat, 500.0, 5000.0, "J/(kg K)")
    return flow * density * specific_heat * check("change", change, 0.0, 150.0, "K")


def raw_water_heat(flow: float, raw_in: float, raw_out: float, salinity: float) -> float:
    """Heat that the raw water carries away [W], the flow caught where it leaves.

    Args:
        flow: caught at the outlet, 0 to 0.1 [m^3/s].
        raw_in: where it enters, -2 to 80 [deg C].
        raw_out: where it leaves, not colder, up to 80 [deg C].
        salinity: practical salinity, 0 (fresh) to 42.

    Raises:
        OutOfRangeError: outside these ranges.
        ValueError: the water leaves colder than it came.

    Source: definition of specific heat; properties by IAPWS.
    """
    if raw_out < raw_in:
        raise ValueError("the raw water leaves colder than it came")
    mass, heat = water.density(raw_out, salinity), water.specific_heat((raw_in + raw_out) / 2.0, salinity)
    return stream_heat(flow, mass, heat, raw_out - raw_in)


def coolant_heat(flow: float, coolant_in: float, coolant_out: float, kind: Glycol, share: float, strength: float) -> float:
    """Heat that the coolant gives off [W], its flow known where it enters.

    Args:
        flow: 0 to 0.1 [m^3/s].
        coolant_in: where it enters the exchanger, up to 100 [deg C].
        coolant_out: where it leaves, not warmer [deg C].
        kind: ethylene or propylene.
        share: concentrate by volume, 0 (plain water) to about 0.6.
        strength: glycol in the concentrate by volume, 0.8 to 1.

    Raises:
        OutOfRangeError: outside these ranges.
        ValueError: the coolant leaves warmer than it came.

    Source: definition of specific heat; properties by Melinder.
    """
    if coolant_out > coolant_in:
        raise ValueError("the coolant leaves the exchanger warmer than it came")
    heat = coolant.specific_heat(kind, share, strength, (coolant_in + coolant_out) / 2.0)
    return stream_heat(flow, coolant.density(kind, share, strength, coolant_in), heat, coolant_in - coolant_out)


def stream(flow: float, warm: float, cool: float, fluid: Fluid, salinity: float, share: float, strength: float) -> float:
    """Heat between two places on one stream [W], of any of the fluids aboard; the flow is taken at the mean temperature.

    Args:
        flow: 0 to 0.1 [m^3/s].
        warm: the warmer place, up to 80 sea water, 100 the others [deg C].
        cool: the cooler place [deg C].
        fluid: sea water, fresh water, or a mix with ethylene or propylene glycol.
        salinity: practical salinity, 0 to 42; only sea water looks at it.
        share: concentrate by volume, 0 to about 0.6; only the mixes look at it.
        strength: glycol in the concentrate by volume; only the mixes look at it.

    Raises:
        OutOfRangeError: outside these ranges.
        ValueError: the warmer place is the cooler one.

    Source: definition of specific heat; properties by IAPWS and Melinder.
    """
    if warm < cool:
        raise ValueError("the warmer place reads colder than the cooler one")
    mean = (warm + cool) / 2.0
    if fluid == "sea-water":
        mass, heat = water.density(mean, salinity), water.specific_heat(mean, salinity)
    elif fluid == "fresh-water":
        mass, heat = water.fresh_density(mean), water.fresh_specific_heat(mean)
    else:
        mass, heat = coolant.density(fluid, share, strength, mean), coolant.specific_heat(fluid, share, strength, mean)
    return stream_heat(flow, mass, heat, warm - cool)


def flow_for_rise(heat: float, rise: float, raw_in: float, salinity: float) -> float:
    """Raw water that carries a heat away with a given rise [m^3/s], as caught at the outlet: `raw_water_heat` turned round.

    Args:
        heat: 0 to 500 kW [W].
        rise: 0.5 to 60 [K].
        raw_in: where it enters; it may leave at 80 at the most [deg C].
        salinity: practical salinity, 0 to 42.

    Raises:
        OutOfRangeError: outside these ranges.

    Source: as `raw_water_heat`.
    """
    check("heat", heat, 0.0, 5e5, "W")
    check("rise", rise, 0.5, 60.0, "K")
    return heat / (water.density(raw_in + rise, salinity) * water.specific_heat(raw_in + rise / 2.0, salinity) * rise)


def rise_of_flow(heat: float, flow: float, raw_in: float, salinity: float) -> float:
    """How much the raw water warms [K] when it takes up a heat: `raw_water_heat` turned round.

    Args:
        heat: 0 to 500 kW [W].
        flow: as caught at the outlet, over 0 to 0.1 [m^3/s].
        raw_in: where it enters [deg C].
        salinity: practical salinity, 0 to 42.

    Raises:
        OutOfRangeError: outside these ranges, or the water would leave above 80 deg C, where the formulas end.

    Source: as `raw_water_heat`.
    """
    check("heat", heat, 0.0, 5e5, "W")
    check("flow", flow, 1e-7, 0.1, "m^3/s")
    rise = 0.0
    for _ in range(_ROUNDS):
        leaves = check("temperature of the water that leaves", raw_in + rise, water.SEA_LOW, water.SEA_HIGH, "degC")
        rise = heat / (flow * water.density(leaves, salinity) * water.specific_heat(raw_in + rise / 2.0, salinity))
    check("temperature of the water that leaves", raw_in + rise, water.SEA_LOW, water.SEA_HIGH, "degC")
    return rise


def raw_water_needed(power: float, consumption: float, heating_value: float, coolant_share: float, rise: float, raw_in: float,
                     salinity: float) -> RawWater:
    """Raw water that an engine needs at a power, for a rise that is allowed across the exchanger.

    Args:
        power: at the flywheel, 0 to 150 kW [W].
        consumption: brake specific fuel consumption, 150 to 600 g/kWh [kg/J].
        heating_value: lower, 30 to 46 MJ/kg [J/kg].
        coolant_share: share of the fuel's heat that the coolant takes, 0.05 to 0.6.
        rise: 0.5 to 60 [K].
        raw_in: where it enters, from -2 [deg C].
        salinity: practical salinity, 0 to 42.

    Raises:
        OutOfRangeError: outside these ranges.

    Source: as `power_to_heat` and `raw_water_heat`.
    """
    heat = _heat_of_power(power, consumption, heating_value, coolant_share)
    return RawWater(heat, flow_for_rise(heat, rise, raw_in, salinity), rise, raw_in + rise)


def raw_water_rise(power: float, consumption: float, heating_value: float, coolant_share: float, flow: float, raw_in: float,
                   salinity: float) -> RawWater:
    """How much the raw water of a healthy engine should warm across its exchanger at a power and a flow.

    Args:
        power: at the flywheel, 0 to 150 kW [W].
        consumption: brake specific fuel consumption, 150 to 600 g/kWh [kg/J].
        heating_value: lower, 30 to 46 MJ/kg [J/kg].
        coolant_share: share of the fuel's heat that the coolant takes, 0.05 to 0.6.
        flow: as caught at the outlet, over 0 to 0.1 [m^3/s].
        raw_in: where it enters, from -2 [deg C].
        salinity: practical salinity, 0 to 42.

    Raises:
        OutOfRangeError: outside these ranges, or the water would leave above 80 deg C, where the formulas end.

    Source: as `power_to_heat` and `raw_water_heat`.
    """
    heat = _heat_of_power(power, consumption, heating_value, coolant_share)
    rise = rise_of_flow(heat, flow, raw_in, salinity)
    return RawWater(heat, flow, rise, raw_in + rise)


def balance(coolant_flow: float, coolant_in: float, coolant_out: float, raw_flow: float, raw_in: float, raw_out: float,
            kind: Glycol, share: float, strength: float, salinity: float) -> Balance:
    """Heat across an exchanger from both sides; they should agree within the errors of the readings.

    The error of closing is (coolant - raw) / mean. A miss larger than twice its own uncertainty says that a reading or a flow is
    wrong, or that one of the streams takes up heat elsewhere too.

    Args:
        coolant_flow: through the exchanger, over 0 to 0.1 [m^3/s].
        coolant_in: where it enters, up to 100 [deg C].
        coolant_out: where it leaves [deg C].
        raw_flow: as caught at the outlet, over 0 to 0.1 [m^3/s].
        raw_in: where it enters, -2 to 80 [deg C].
        raw_out: where it leaves [deg C].
        kind: ethylene or propylene.
        share: concentrate by volume, 0 (plain water) to about 0.6.
        strength: glycol in the concentrate by volume, 0.8 to 1.
        salinity: practical salinity, 0 to 42.

    Raises:
        OutOfRangeError: outside these ranges.
        ValueError: a stream does not change its temperature, or the wrong way.

    Source: conservation of energy.
    """
    if coolant_in == coolant_out and raw_in == raw_out:
        raise ValueError("neither stream changes its temperature, so there is nothing to compare")
    given = coolant_heat(check("coolant_flow", coolant_flow, 1e-7, 0.1, "m^3/s"), coolant_in, coolant_out, kind, share, strength)
    taken = raw_water_heat(check("raw_flow", raw_flow, 1e-7, 0.1, "m^3/s"), raw_in, raw_out, salinity)
    return Balance(given, taken, 2.0 * (given - taken) / (given + taken))


def _heat_of_power(power: float, consumption: float, heating_value: float, coolant_share: float) -> float:
    return _power("power", power) * _consumption(consumption) * _heating_value(heating_value) * _coolant_share(coolant_share)


def _power(name: str, power: float) -> float:
    return check(name, power, 0.0, 1.5e5, "W")


def _consumption(consumption: float) -> float:
    return check("consumption", consumption, 150.0 / 3.6e9, 600.0 / 3.6e9, "kg/J")


def _fuel_density(density: float) -> float:
    return check("density", density, 750.0, 950.0, "kg/m^3")


def _heating_value(heating_value: float) -> float:
    return check("heating_value", heating_value, 3e7, 4.6e7, "J/kg")


def _coolant_share(share: float) -> float:
    return check("coolant_share", share, 0.05, 0.6)
