"""A lumped model of a small diesel's cooling: the engine's heat, the coolant loop with its thermostat, the exchanger, the sea water,
the injection into the exhaust.

It says which temperatures a healthy engine shows at given revs and sea temperature, what each main fault does to them, and what
readings say against what was to be expected. One node a body of liquid, steady or warming up; good for the size and the
direction of an effect, and for an engine's own good day. It does not know boiling: at the boiling point it stops and says so.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from diagnose.measure.exchanger import clean_at_flows, conductance, effectiveness
from diagnose.measure.valid import check

__all__ = [
    "Healthy", "Loop", "WarmUp", "as_of_thermostat", "conductance_share", "conductance_share_unmeasured",
    "coolant_flow_share", "difference", "exhaust_hose",
    "expected_heat", "healthy",
    "heat_share", "raw_rise_share", "thermostat_drop", "thermostat_share", "warm_up", "with_fault",
]

Trouble = Literal["healthy", "low-raw-water", "fouled-exchanger", "low-coolant-flow", "thermostat-shut", "thermostat-open",
                  "air-in-circuit", "overload", "poor-injection", "gauge-false"]

SEA = 4.09e6
"""Heat capacity of sea water by volume [J/(m^3 K)], 1025 kg/m^3 x 3993 J/(kg K) (TEOS-10, 15 deg C); within 1 % from 0 to 40."""
COOLANT = 3.66e6
"""The same of half water, half ethylene glycol at 80 deg C, 1026 x 3570 (CoolProp's mixture); plain water has 4.07e6."""
LATENT = 2.26e6
"""Heat of evaporation of water [J/kg] (IAPWS-IF97, 100 deg C)."""
HOTTEST = 400.0
LEAST_RATIO = 0.1
"""Flow over rated below which the law of conductance over flow is not followed further; so little flow is used up anyway."""


class Loop(NamedTuple):
    """A cooling system in numbers. Flows and conductance are those at rated revs, with the thermostat open and the exchanger clean.

    power [W], speed [1/s], heat to the coolant at rated power [W], no_load: the share of that heat which rated revs make without
    load, exponent of power over revs, raw_flow and coolant_flow [m^3/s], conductance [W/K], opens [deg C], travel [K] from
    first opening to fully open, air [W/K] what the engine gives to the air of its space, mass [J/K] its heat capacity, leak:
    the share of the coolant that passes a shut thermostat.
    """

    power: float
    speed: float
    heat: float
    no_load: float
    exponent: float
    raw_flow: float
    coolant_flow: float
    conductance: float
    opens: float
    travel: float
    air: float
    mass: float
    leak: float


class Upset(NamedTuple):
    """What is not as it should be, as shares of the healthy value; `stuck` is a thermostat's opening that no longer moves."""

    raw_flow: float = 1.0
    coolant_flow: float = 1.0
    conductance: float = 1.0
    load: float = 1.0
    injected: float = 1.0
    gauge: float = 0.0
    stuck: float | None = None


class Healthy(NamedTuple):
    """What a cooling system shows: temperatures [deg C], flows [m^3/s], heat [W], the thermostat's opening, and whether it would boil."""

    engine_out: float
    to_exchanger: float
    from_exchanger: float
    raw_out: float
    exhaust_hose: float
    gauge: float
    raw_flow: float
    heat: float
    opening: float
    boils: str


class WarmUp(NamedTuple):
    """Minutes until the thermostat begins to open and until 95 % of the way to the plateau, and the plateau [deg C]."""

    opens_after: float | None
    settled_after: float
    plateau: float


# ------------------------------------------------------------------ parts of it


def expected_heat(speed: float, power: float, rated_speed: float, heat_per_power: float, no_load: float, exponent: float,
                  load: float = 1.0) -> float:
    """Heat to the coolant at some revs on a propeller curve [W].

    heat = heat_per_power x power x ((1 - no_load) x load x (revs / rated revs) ^ exponent + no_load x revs / rated revs)

    Args:
        speed, rated_speed: engine revs [1/s].
        power: rated power [W].
        heat_per_power: heat to the coolant over brake power at rated power, 0.3 to 2.
        no_load: share of that heat which rated revs make without load, 0 to 0.8.
        exponent: of power over revs, 1.5 to 3.5.
        load: power taken over that of the curve, 0 to 5.

    Raises:
        OutOfRangeError: outside these ranges, or revs more than a fifth over rated.

    Source: the straight line of fuel over power at constant revs (Willans' line) in every text on engines; the shares are those of
    trials in Rajput, Internal Combustion Engines, and Joel, Basic Engineering Thermodynamics.
    """
    check("power", power, 1e3, 2e5, "W")
    check("rated_speed", rated_speed, 10.0, 100.0, "1/s")
    check("speed", speed, 0.0, 1.2 * rated_speed, "1/s")
    check("heat_per_power", heat_per_power, 0.3, 2.0)
    check("no_load", no_load, 0.0, 0.8)
    check("exponent", exponent, 1.5, 3.5)
    check("load", load, 0.0, 5.0)
    share = speed / rated_speed
    loaded: float = share**exponent
    return heat_per_power * power * ((1.0 - no_load) * load * loaded + no_load * share)


def thermostat_share(temperature: float, opens: float, travel: float) -> float:
    """How far a thermostat is open, 0 to 1: straight from where it begins to where it is fully open.

    Args:
        temperature: of the coolant round it [deg C], -20 to 400.
        opens: where it begins to open [deg C], 30 to 110.
        travel: from there to fully open [K], 1 to 30.

    Raises:
        OutOfRangeError: outside these ranges.

    Source: common practice; fully open some 8 to 12 K over the figure stamped on it.
    """
    check("temperature", temperature, -20.0, HOTTEST, "deg C")
    check("opens", opens, 30.0, 110.0, "deg C")
    check("travel", travel, 1.0, 30.0, "K")
    return min(1.0, max(0.0, (temperature - opens) / travel))


def exhaust_hose(raw_out: float, raw_flow: float, exhaust_heat: float, injected: float, gas: float) -> float:
    """Temperature of gas and water together after the injection [deg C].

    The water that reaches the gas takes the gas's heat: up to boiling it warms, then it evaporates, and only what is left over heats
    the mixture beyond.

    Args:
        raw_out: sea water where it goes in [deg C], -2 to 100.
        raw_flow: sea water [m^3/s], 0 to 0.01.
        exhaust_heat: of the gas over the air's temperature [W], 0 to 1e6.
        injected: share of the water that meets the gas, 0 to 1.
        gas: temperature of the dry gas [deg C], 100 to 800.

    Raises:
        OutOfRangeError: outside these ranges.

    Source: energy balance; heat capacity of sea water from TEOS-10, heat of evaporation from IAPWS-IF97.
    """
    check("raw_out", raw_out, -2.0, 100.0, "deg C")
    check("raw_flow", raw_flow, 0.0, 0.01, "m^3/s")
    check("exhaust_heat", exhaust_heat, 0.0, 1e6, "W")
    check("injected", injected, 0.0, 1.0)
    check("gas", gas, 100.0, 800.0, "deg C")
    capacity = SEA * raw_flow * injected
    to_boil = capacity * (100.0 - raw_out)
    if exhaust_heat <= to_boil:
        return raw_out + exhaust_heat / capacity if capacity else raw_out
    to_dry = to_boil + 1025.0 * raw_flow * injected * LATENT
    if exhaust_heat <= to_dry:
        return 100.0
    return 100.0 + (gas - 100.0) * (exhaust_heat - to_dry) / exhaust_heat


# ------------------------------------------------------------------ the whole, steady and warming up


def _shed(loop: Loop, upset: Upset, speed: float, sea: float, air: float, engine: float) -> tuple[float, float, float, float]:
    """Heat that goes when the coolant leaves the engine at some temperature: all of it and to the sea [W]; coolant and sea flows."""
    turns = speed / loop.speed
    opening = thermostat_share(engine, loop.opens, loop.travel) if upset.stuck is None else upset.stuck
    through = loop.coolant_flow * turns * upset.coolant_flow * max(opening, loop.leak)
    raw = loop.raw_flow * turns * upset.raw_flow
    hot, cold = COOLANT * through, SEA * raw
    clean = clean_at_flows(loop.conductance, max(raw / loop.raw_flow, LEAST_RATIO), max(through / loop.coolant_flow, LEAST_RATIO))
    dirt = (1.0 / upset.conductance - 1.0) / loop.conductance
    across = 1.0 / (1.0 / clean + dirt)
    least, most = min(hot, cold), max(hot, cold)
    to_sea = effectiveness(min(across / least, 1e3), least / most, "two-pass") * least * (engine - sea)
    return to_sea + loop.air * (engine - air), to_sea, through, raw


def _steady(loop: Loop, upset: Upset, speed: float, sea: float, air: float, boiling: float) -> tuple[float, bool]:
    """Temperature of the coolant leaving the engine where as much heat goes as is made; capped at boiling."""
    made = expected_heat(speed, loop.power, loop.speed, loop.heat / loop.power, loop.no_load, loop.exponent, upset.load)
    low, high = min(sea, air), HOTTEST
    if _shed(loop, upset, speed, sea, air, boiling)[0] < made:
        return boiling, True
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (low, middle) if _shed(loop, upset, speed, sea, air, middle)[0] >= made else (middle, high)
    return (low + high) / 2.0, False


def _shown(loop: Loop, upset: Upset, speed: float, sea: float, air: float, boiling: float, exhaust_per_heat: float, gas: float) -> Healthy:
    engine, boils = _steady(loop, upset, speed, sea, air, boiling)
    _, to_sea, through, raw = _shed(loop, upset, speed, sea, air, engine)
    made = expected_heat(speed, loop.power, loop.speed, loop.heat / loop.power, loop.no_load, loop.exponent, upset.load)
    opening = thermostat_share(engine, loop.opens, loop.travel) if upset.stuck is None else upset.stuck
    shut = max(0.0, 1.0 - max(opening, loop.leak) / 0.05)
    hose = engine - shut * 0.8 * (engine - air)  # next to no flow: the hose behind a shut thermostat takes the air's temperature
    back = hose - to_sea / (COOLANT * through)
    raw_out = sea + to_sea / (SEA * raw)
    mixed = exhaust_hose(min(raw_out, 100.0), raw, exhaust_per_heat * made, upset.injected, gas)
    return Healthy(engine, hose, max(back, sea), raw_out, mixed, engine + upset.gauge, raw, made, opening, "yes" if boils else "no")


def _loop(power: float, rated_speed: float, heat_per_power: float, no_load: float, exponent: float, raw_per_power: float,
          coolant_per_power: float, conductance_per_power: float, opens: float, travel: float) -> Loop:
    check("raw_per_power", raw_per_power, 1e-9, 1e-7, "m^3/J")
    check("coolant_per_power", coolant_per_power, 1e-9, 3e-7, "m^3/J")
    check("conductance_per_power", conductance_per_power, 1e-3, 0.3, "1/K")
    return Loop(power, rated_speed, heat_per_power * power, no_load, exponent, raw_per_power * power, coolant_per_power * power,
                conductance_per_power * power, opens, travel, 0.0006 * power, 3.5 * power, 0.01)


UPSETS: dict[str, Upset] = {
    "healthy": Upset(),
    "low-raw-water": Upset(raw_flow=0.35),
    "fouled-exchanger": Upset(conductance=0.35),
    "low-coolant-flow": Upset(coolant_flow=0.25),
    "thermostat-shut": Upset(stuck=0.0),
    "thermostat-open": Upset(stuck=1.0),
    "air-in-circuit": Upset(coolant_flow=0.4, conductance=0.7),
    "overload": Upset(load=1.5),
    "poor-injection": Upset(injected=0.25),
    "gauge-false": Upset(gauge=12.0),
}
"""What each main trouble does, well developed: shares of the healthy value (memory; size and direction, not measurements)."""


def healthy(speed: float, sea: float, power: float, rated_speed: float, opens: float, travel: float, heat_per_power: float, no_load: float,
            exponent: float, raw_per_power: float, coolant_per_power: float, conductance_per_power: float, air: float = 30.0,
            boiling: float = 118.0) -> Healthy:
    """What a healthy engine shows at these revs in this sea, once everything stands still.

    Args:
        speed, rated_speed: engine revs [1/s], at least a tenth of rated.
        sea: sea temperature [deg C], -2 to 36.
        power: rated power [W].
        opens, travel: of the thermostat, see `thermostat_share`.
        heat_per_power, no_load, exponent: see `expected_heat`.
        raw_per_power, coolant_per_power: flow at rated revs over rated power [m^3/J].
        conductance_per_power: of the clean exchanger at these flows [1/K].
        air: of the engine space [deg C], -20 to 70.
        boiling: of the coolant under its cap [deg C], 95 to 140.

    Raises:
        OutOfRangeError: outside these ranges.

    Source: energy balances; effectiveness of one shell with an even number of tube passes (Kays and London), conductance over flow
    as in Dittus-Boelter and Kern. The values taken for an engine not measured are common practice and say so.
    """
    return with_fault("healthy", speed, sea, power, rated_speed, opens, travel, heat_per_power, no_load, exponent, raw_per_power,
                      coolant_per_power, conductance_per_power, air, boiling)


def with_fault(trouble: Trouble, speed: float, sea: float, power: float, rated_speed: float, opens: float, travel: float,
               heat_per_power: float, no_load: float, exponent: float, raw_per_power: float, coolant_per_power: float,
               conductance_per_power: float, air: float = 30.0, boiling: float = 118.0) -> Healthy:
    """What the engine shows with one main trouble, well developed: see `healthy` for the arguments, and `UPSETS` for how far each goes.

    Raises:
        OutOfRangeError: see `healthy`.
    """
    check("sea", sea, -2.0, 36.0, "deg C")
    check("air", air, -20.0, 70.0, "deg C")
    check("boiling", boiling, 95.0, 140.0, "deg C")
    check("speed", speed, 0.1 * rated_speed, 1.2 * rated_speed, "1/s")
    loop = _loop(power, rated_speed, heat_per_power, no_load, exponent, raw_per_power, coolant_per_power, conductance_per_power, opens,
                 travel)
    return _shown(loop, UPSETS[trouble], speed, sea, air, boiling, exhaust_per_heat=0.9, gas=420.0)


def warm_up(trouble: Trouble, speed: float, sea: float, power: float, rated_speed: float, opens: float, travel: float,
            heat_per_power: float, no_load: float, exponent: float, raw_per_power: float, coolant_per_power: float,
            conductance_per_power: float, start: float = 15.0, air: float = 20.0, boiling: float = 118.0) -> WarmUp:
    """How long a cold engine takes to warm up at steady revs; arguments as for `with_fault`.

    Args:
        start: temperature of the engine when started [deg C], -20 to 60.

    Raises:
        OutOfRangeError: outside the ranges.

    Source: energy balance of one lump, heat capacity 3.5 kJ/K a kilowatt (memory: some 6 kg of metal and a quarter of a litre of coolant).
    """
    check("start", start, -20.0, 60.0, "deg C")
    check("air", air, -20.0, 70.0, "deg C")
    check("boiling", boiling, 95.0, 140.0, "deg C")
    check("sea", sea, -2.0, 36.0, "deg C")
    check("speed", speed, 0.1 * rated_speed, 1.2 * rated_speed, "1/s")
    loop = _loop(power, rated_speed, heat_per_power, no_load, exponent, raw_per_power, coolant_per_power, conductance_per_power, opens,
                 travel)
    upset = UPSETS[trouble]
    plateau, _ = _steady(loop, upset, speed, sea, air, boiling)
    made = expected_heat(speed, power, rated_speed, heat_per_power, no_load, exponent, upset.load)
    step, engine, minutes, opened = 2.0, start, 0.0, None
    while minutes < 600.0 and (engine < start + 0.95 * (plateau - start) or (opened is None and plateau > opens + 0.1)):
        slope = (made - _shed(loop, upset, speed, sea, air, engine)[0]) / loop.mass
        half = engine + slope * step / 2.0
        engine += (made - _shed(loop, upset, speed, sea, air, half)[0]) / loop.mass * step
        minutes += step / 60.0
        if opened is None and engine >= opens:
            opened = minutes
    return WarmUp(opened, minutes, plateau)


# ------------------------------------------------------------------ readings against what was to be expected


def _turning(speed: float, rated_speed: float) -> float:
    return check("speed", speed, 0.05 * rated_speed, 1.2 * rated_speed, "1/s")


def _rise(raw_in: float, raw_out: float) -> float:
    rise = check("raw_out", raw_out, -2.0, 100.0, "deg C") - check("raw_in", raw_in, -2.0, 40.0, "deg C")
    if rise <= 0.0:
        raise ValueError("the sea water leaves the exchanger no warmer than it came in")
    return rise


def heat_share(raw_in: float, raw_out: float, raw_flow: float, speed: float, power: float, rated_speed: float, heat_per_power: float,
               no_load: float, exponent: float) -> float:
    """Heat found in the raw water over that of the propeller curve at these revs: about one, more under overload.

    Args:
        raw_in, raw_out: sea water before and after the exchanger [deg C].
        raw_flow: [m^3/s], over 0.
        others: see `expected_heat`.

    Raises:
        OutOfRangeError: outside the ranges.
        ValueError: the sea water leaves no warmer than it came.
    """
    check("raw_flow", raw_flow, 1e-6, 0.01, "m^3/s")
    _turning(speed, rated_speed)
    return SEA * raw_flow * _rise(raw_in, raw_out) / expected_heat(speed, power, rated_speed, heat_per_power, no_load, exponent)


def raw_rise_share(raw_in: float, raw_out: float, speed: float, power: float, rated_speed: float, heat_per_power: float, no_load: float,
                   exponent: float, raw_per_power: float) -> float:
    """Rise of the raw water over that expected at these revs with the full flow: more where the flow is less, or the load more.

    Raises:
        OutOfRangeError: outside the ranges of `expected_heat`.
        ValueError: the sea water leaves no warmer than it came.
    """
    made = expected_heat(_turning(speed, rated_speed), power, rated_speed, heat_per_power, no_load, exponent)
    return _rise(raw_in, raw_out) * SEA * raw_per_power * power * speed / rated_speed / made


def coolant_flow_share(engine_out: float, coolant_in: float, coolant_out: float, raw_in: float, raw_out: float, raw_flow: float,
                       speed: float, power: float, rated_speed: float, coolant_per_power: float, opens: float, travel: float) -> float:
    """Coolant that goes through the exchanger over what should at these revs with the thermostat as far open as it ought to be.

    flow = heat to the raw water / (heat capacity of coolant x fall of its temperature in the exchanger)

    Args:
        engine_out: coolant at the thermostat housing [deg C].
        coolant_in, coolant_out: coolant before and after the exchanger [deg C].
        raw_in, raw_out, raw_flow: as in `heat_share`.
        coolant_per_power: flow at rated revs over rated power [m^3/J].
        opens, travel: see `thermostat_share`.

    Raises:
        ValueError: the thermostat is not wide open at this temperature, so that less flow is right; or a stream does not change.
        OutOfRangeError: see `exchanger.conductance`.
    """
    opening = thermostat_share(engine_out, opens, travel)
    if opening < 0.6:
        raise ValueError("at this temperature the thermostat is not wide open, so less than the full flow through the exchanger is right")
    _turning(speed, rated_speed)
    return _coolant_flow(coolant_in, coolant_out, raw_in, raw_out, raw_flow) / (opening * coolant_per_power * power * speed / rated_speed)


def conductance_share(coolant_in: float, coolant_out: float, raw_in: float, raw_out: float, raw_flow: float, power: float,
                      raw_per_power: float, coolant_per_power: float, conductance_per_power: float) -> float:
    """Conductance of the exchanger found from four temperatures and a flow, over that of a clean one at the flows found.

    Args:
        coolant_in, coolant_out, raw_in, raw_out: [deg C].
        raw_flow: [m^3/s].
        power: rated [W].
        raw_per_power, coolant_per_power, conductance_per_power: of the clean system at rated revs, see `healthy`.

    Raises:
        ValueError, OutOfRangeError: see `exchanger.conductance`.
    """
    found = conductance(coolant_in, coolant_out, raw_in, raw_out, raw_flow, layout="two-pass")
    raw = min(max(raw_flow / (raw_per_power * power), LEAST_RATIO), 5.0)
    through = _coolant_flow(coolant_in, coolant_out, raw_in, raw_out, raw_flow)
    return found / clean_at_flows(conductance_per_power * power, raw, min(max(through / (coolant_per_power * power), LEAST_RATIO), 5.0))


def conductance_share_unmeasured(coolant_in: float, coolant_out: float, raw_in: float, raw_out: float, speed: float, power: float,
                                 rated_speed: float, raw_per_power: float, coolant_per_power: float, conductance_per_power: float) -> float:
    """`conductance_share` with the flow of sea water that these revs should give, where nobody could catch it.

    With less water than that it comes out too high, and so never blames the exchanger for a starved pump.

    Args:
        speed, rated_speed: engine revs [1/s].
        others: as `conductance_share`.

    Raises:
        ValueError, OutOfRangeError: see `exchanger.conductance`.
    """
    flow = raw_per_power * power * _turning(speed, rated_speed) / rated_speed
    return conductance_share(coolant_in, coolant_out, raw_in, raw_out, flow, power, raw_per_power, coolant_per_power, conductance_per_power)


def _coolant_flow(coolant_in: float, coolant_out: float, raw_in: float, raw_out: float, raw_flow: float) -> float:
    """Coolant that goes through the exchanger, from the heat that the sea water takes and the fall of the coolant [m^3/s].

    A fall under 1 K is lost in the noise of two thermometers, and counts as 1 K.
    """
    return SEA * check("raw_flow", raw_flow, 1e-6, 0.01, "m^3/s") * _rise(raw_in, raw_out) / (COOLANT * max(coolant_in - coolant_out, 1.0))


def thermostat_drop(engine_out: float, to_exchanger: float, opens: float, travel: float) -> float:
    """How much colder the hose behind the thermostat is than the housing, when the thermostat ought to be well open [K].

    Raises:
        ValueError: it need not be open yet.
        OutOfRangeError: see `thermostat_share`.
    """
    if thermostat_share(engine_out, opens, travel) < 0.6:
        raise ValueError("at this temperature the thermostat need not be far open, so a cool hose behind it says nothing")
    return engine_out - check("to_exchanger", to_exchanger, -10.0, 150.0, "deg C")


def as_of_thermostat(temperature: float, opens: float, usual: float) -> float:
    """A coolant temperature as it would be with a thermostat of the usual figure: temperature - opens + usual [deg C].

    Args:
        temperature: found [deg C], -20 to 200.
        opens: where this engine's thermostat begins to open [deg C], 30 to 110.
        usual: the figure that the scale is made for [deg C], 30 to 110.

    Raises:
        OutOfRangeError: outside these ranges.

    Source: common practice: the healthy plateau sits at or a little over the figure stamped on the thermostat.
    """
    check("opens", opens, 30.0, 110.0, "deg C")
    check("usual", usual, 30.0, 110.0, "deg C")
    return check("temperature", temperature, -20.0, 200.0, "deg C") - opens + usual


def difference(one: float, other: float) -> float:
    """One temperature less another [K].

    Args:
        one, other: [deg C], -20 to 200.

    Raises:
        OutOfRangeError: outside that range.
    """
    return check("one", one, -20.0, 200.0, "deg C") - check("other", other, -20.0, 200.0, "deg C")
