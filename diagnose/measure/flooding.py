"""Water coming in: through a hole or a parted hose, how fast it rises, whether a pump holds it, and whether a siphon runs.

Flow is the discharge coefficient times that of a loss-free hole. The coefficient is asked for: a sharp hole passes about 0.61, a
short stub about 0.8, and published boat tables are worked out with anything from 0.6 to 1.
"""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from diagnose.measure.constants import GRAVITY
from diagnose.measure.pressure import head_pressure
from diagnose.measure.valid import check
from diagnose.measure.water import vapour_pressure

__all__ = [
    "AgainstPump",
    "Hole",
    "Rising",
    "Siphon",
    "against_pump",
    "effective_area",
    "falling_head_time",
    "hole",
    "hole_flow",
    "hose_coefficient",
    "hose_flow",
    "plug_force",
    "pump_output",
    "siphon_check",
    "time_to_level",
]

RESERVE = 0.25
"""A quarter of what the pump lifts: what a leak may be planned at, as in the budget of a leak over a trip."""


class Hole(NamedTuple):
    """Flow through a hole [m^3/s], pressure of the water there [Pa] and force on a plug in it [N]."""

    flow: float
    pressure: float
    force: float


class Rising(NamedTuple):
    """Time until the water stands at a level [s], volume by then [m^3], and the level at which it would stop by itself [m]."""

    time: float
    volume: float
    stops_at: float


class AgainstPump(NamedTuple):
    """What the pump lifts and what the water gains on it [m^3/s], inflow as a share of the pump, time until full [s], a word."""

    pumped: float
    gains: float
    share: float
    time: float | None
    word: str


class Siphon(NamedTuple):
    """Flow if the siphon runs [m^3/s], pressure in the crest, absolute [Pa], and a word."""

    flow: float
    crest: float
    word: str


def _bore(name: str, value: float) -> float:
    return check(name, value, 5e-4, 0.3, "m")


def _area(diameter: float) -> float:
    return math.pi / 4.0 * _bore("diameter", diameter) ** 2


def _coefficient(value: float) -> float:
    return check("coefficient", value, 0.05, 1.0)


def hole_flow(diameter: float, depth: float, coefficient: float) -> float:
    """Flow through a hole below the water: coefficient x area x sqrt(2 g depth).

    Args:
        diameter: diameter of the hole [m], 0.0005 to 0.3.
        depth: depth of its middle below the water outside, or difference of the two levels [m], 0 to 10.
        coefficient: discharge coefficient, 0.05 to 1.

    Returns:
        Flow [m^3/s].

    Raises:
        OutOfRangeError: outside those ranges.

    Source: Torricelli's law with a discharge coefficient, Schaschke example 6.1 page 143.
    """
    return _coefficient(coefficient) * _area(diameter) * math.sqrt(2.0 * GRAVITY * check("depth", depth, 0.0, 10.0, "m"))


def plug_force(diameter: float, depth: float, density: float) -> float:
    """Force of the water on a plug: density x g x depth x area.

    Args:
        diameter: diameter of the hole [m], 0.0005 to 0.3.
        depth: depth of its middle below the water outside [m], 0 to 10.
        density: density of the water [kg/m^3], 990 to 1035.

    Returns:
        Force [N].

    Raises:
        OutOfRangeError: outside those ranges.

    Source: hydrostatics; worked in TM 55-1915-200-SDC, sections 8-1 and 8-8.
    """
    check("density", density, 990.0, 1035.0, "kg/m^3")
    return head_pressure(check("depth", depth, 0.0, 10.0, "m"), density) * _area(diameter)


def hole(diameter: float, depth: float, coefficient: float, density: float) -> Hole:
    """Flow through a hole below the water, and what a plug in it has to bear.

    Args:
        diameter: diameter of the hole [m], 0.0005 to 0.3.
        depth: depth of its middle below the water outside [m], 0 to 10.
        coefficient: discharge coefficient, 0.05 to 1.
        density: density of the water [kg/m^3], 990 to 1035.

    Returns:
        Flow [m^3/s], pressure [Pa] and force [N].

    Raises:
        OutOfRangeError: outside those ranges.

    Source: `hole_flow` and `plug_force`.
    """
    force = plug_force(diameter, depth, density)
    return Hole(hole_flow(diameter, depth, coefficient), force / _area(diameter), force)


def hose_coefficient(diameter: float, length: float, friction: float, entry: float, other: float) -> float:
    """Discharge coefficient of a hose or pipe: 1 / sqrt(1 + entry + friction x length / diameter + other).

    Args:
        diameter: bore [m], 0.0005 to 0.3.
        length: length of hose still in the way [m], 0 to 20.
        friction: friction factor (Darcy), 0 to 0.2; about 0.03 for a small smooth hose.
        entry: loss of the way in, in velocity heads, 0 to 2; 0.5 to 0.6 for a sharp edge.
        other: losses of bends and fittings, in velocity heads, 0 to 200.

    Returns:
        Coefficient.

    Raises:
        OutOfRangeError: outside those ranges.

    Source: Darcy-Weisbach with minor losses, in any textbook of fluid mechanics; the 1 is the velocity that is thrown away.
    """
    bore = _bore("diameter", diameter)
    run = check("friction", friction, 0.0, 0.2) * check("length", length, 0.0, 20.0, "m") / bore
    return 1.0 / math.sqrt(1.0 + check("entry", entry, 0.0, 2.0) + run + check("other", other, 0.0, 200.0))


def hose_flow(diameter: float, depth: float, length: float, friction: float, entry: float, other: float) -> float:
    """Flow out of a hose that has parted or come off below the water outside.

    Args:
        diameter: bore of hose and fitting [m], 0.0005 to 0.3.
        depth: depth of the open end below the water outside [m], 0 to 10.
        length: length of hose still in the way [m], 0 to 20.
        friction: friction factor (Darcy), 0 to 0.2.
        entry: loss of the way in, in velocity heads, 0 to 2.
        other: losses of bends, strainer and fittings, in velocity heads, 0 to 200.

    Returns:
        Flow [m^3/s].

    Raises:
        OutOfRangeError: outside those ranges.

    Source: `hole_flow` with `hose_coefficient`.
    """
    return hole_flow(diameter, depth, hose_coefficient(diameter, length, friction, entry, other))


def effective_area(first: float, second: float) -> float:
    """Area that stands for two tanks that level out into each other: 1 / (1 / first + 1 / second).

    Args:
        first: surface of one [m^2], 0.0001 to 200.
        second: surface of the other [m^2], 0.0001 to 200.

    Returns:
        Area [m^2] to use in `falling_head_time`.

    Raises:
        OutOfRangeError: outside those ranges.

    Source: Schaschke example 6.6 page 153.
    """
    return 1.0 / (1.0 / check("first", first, 1e-4, 200.0, "m^2") + 1.0 / check("second", second, 1e-4, 200.0, "m^2"))


def falling_head_time(area: float, diameter: float, coefficient: float, head_start: float, head_end: float) -> float:
    """Time in which a head falls through a hole: 2 x area x (sqrt(start) - sqrt(end)) / (coefficient x hole x sqrt(2 g)).

    Args:
        area: surface that rises or falls [m^2], 0.0001 to 200.
        diameter: diameter of the hole [m], 0.0005 to 0.3.
        coefficient: discharge coefficient, 0.05 to 1.
        head_start: head at the start [m], 0 to 10.
        head_end: head at the end [m], 0 to head_start.

    Returns:
        Time [s].

    Raises:
        OutOfRangeError: outside those ranges.

    Source: Schaschke example 6.3 page 147; the same form in UFC 4-213-10 page 6-6.
    """
    start = check("head_start", head_start, 0.0, 10.0, "m")
    end = check("head_end", head_end, 0.0, start, "m")
    rate = _coefficient(coefficient) * _area(diameter) * math.sqrt(2.0 * GRAVITY) / check("area", area, 1e-4, 200.0, "m^2")
    return 2.0 * (math.sqrt(start) - math.sqrt(end)) / rate


def time_to_level(diameter: float, depth: float, coefficient: float, floor_area: float, hole_height: float, sinkage: float,
                  level: float) -> Rising:
    """Time until the water inside stands at a level, with the head growing as she sinks and falling once the hole is covered.

    While the level is below the hole the head is depth + sinkage x level. Above it the water inside pushes back, and
    head = depth + sinkage x level - (level - hole height). Each part takes 2 x rise / (k x (sqrt(head before) + sqrt(head after)))
    with k = coefficient x hole x sqrt(2 g) / floor area.

    Args:
        diameter: diameter of the hole [m], 0.0005 to 0.3.
        depth: depth of the hole below the water outside at the start [m], 0.01 to 5.
        coefficient: discharge coefficient, 0.05 to 1.
        floor_area: surface of the water inside, taken as the same at all levels [m^2], 0.05 to 100.
        hole_height: height of the hole above the lowest place the water lies [m], 0 to 3.
        sinkage: how far she sinks for each metre the water rises inside, 0 to 0.95; the share of the waterplane that is flooded.
        level: level of interest above the lowest place [m], 0.005 to 5.

    Returns:
        Time [s], volume by then [m^3], level at which it stops by itself [m].

    Raises:
        OutOfRangeError: outside those ranges.
        ValueError: the water stops rising before it reaches that level.

    Source: Torricelli's law integrated, in steps as Schaschke example 6.3 page 147; a boat that neither heels nor trims is assumed.
    """
    outside = check("depth", depth, 0.01, 5.0, "m")
    sinks = check("sinkage", sinkage, 0.0, 0.95)
    height = check("hole_height", hole_height, 0.0, 3.0, "m")
    wanted = check("level", level, 0.005, 5.0, "m")
    surface = check("floor_area", floor_area, 0.05, 100.0, "m^2")
    rate = _coefficient(coefficient) * _area(diameter) * math.sqrt(2.0 * GRAVITY) / surface
    stops_at = height + (outside + sinks * height) / (1.0 - sinks)
    if wanted > stops_at:
        raise ValueError(f"the water stops at {stops_at:.2f} m, level with the water outside, and never gets that high")
    below = min(wanted, height)
    covered = outside + sinks * below
    time = _rise_time(below, outside, covered, rate)
    if wanted > height:
        time += _rise_time(wanted - height, covered, max(covered - (1.0 - sinks) * (wanted - height), 0.0), rate)
    return Rising(time, surface * wanted, stops_at)


def _rise_time(rise: float, head_before: float, head_after: float, rate: float) -> float:
    return 2.0 * rise / (rate * (math.sqrt(head_before) + math.sqrt(head_after)))


def pump_output(open_flow: float, known_flow: float, known_height: float, height: float) -> float:
    """Flow of a centrifugal pump at a height, from two printed flows: sqrt(open^2 - (open^2 - known^2) x height / known height).

    The parabola head = a - b x flow^2 is laid through both, and read between them only. It says nothing of hose, bends and volts.

    Args:
        open_flow: printed flow at no height [m^3/s], 1e-6 to 0.02.
        known_flow: printed flow at the known height [m^3/s], 0 to just under open_flow.
        known_height: that height [m], 0.1 to 20.
        height: height from the water to the outlet [m], 0 to the known height.

    Returns:
        Flow [m^3/s].

    Raises:
        OutOfRangeError: outside those ranges.
        ValueError: the known flow is not less than the open flow.

    Source: usual form of a centrifugal pump's curve, from memory of any textbook on pumps.
    """
    most = check("open_flow", open_flow, 1e-6, 0.02, "m^3/s")
    known = check("known_flow", known_flow, 0.0, 0.02, "m^3/s")
    if known >= most:
        raise ValueError("a pump lifts less with height; the flow at the known height must be below the open flow")
    known_at = check("known_height", known_height, 0.1, 20.0, "m")
    share = check("height", height, 0.0, known_at, "m") / known_at
    return math.sqrt(most**2 * (1.0 - share) + known**2 * share)


def against_pump(inflow: float, pump: float, share: float, volume: float | None) -> AgainstPump:
    """Water coming in against what a bilge pump really lifts: pump x share.

    Args:
        inflow: water coming in [m^3/s], 0 to 0.2.
        pump: what is printed on the pump, or its flow at the height [m^3/s], 1e-6 to 0.02.
        share: share of that which it lifts as fitted, 0.05 to 1; 1 when the outlet was measured with a bucket.
        volume: how much may come in before it matters [m^3], 0.0001 to 100; None when not asked for.

    Returns:
        What it lifts, what the water gains (negative: the pump wins) [m^3/s], inflow as a share of it, time until the volume is in
        [s] or None when the pump holds or no volume is given, and one of "pump holds easily", "pump holds but only just", "water gains".

    Raises:
        OutOfRangeError: outside those ranges.

    Source: Ocean Navigator, June 2021, about half of what is printed; a boating safety foundation's tests found 15 to 33 per cent
    less with nothing but the open outlet. That a quarter of the pump is the most to plan on is common practice.
    """
    coming = check("inflow", inflow, 0.0, 0.2, "m^3/s")
    pumped = check("pump", pump, 1e-6, 0.02, "m^3/s") * check("share", share, 0.05, 1.0)
    gains, used = coming - pumped, coming / pumped
    if volume is not None:
        check("volume", volume, 1e-4, 100.0, "m^3")
    time = volume / gains if volume is not None and gains > 0 else None
    word = "water gains" if gains > 0 else "pump holds easily" if used <= RESERVE else "pump holds but only just"
    return AgainstPump(pumped, gains, used, time, word)


def siphon_check(outlet: float, crest: float, diameter: float, coefficient: float, vent: Literal["works", "none"], temperature: float,
                 density: float, barometer: float) -> Siphon:
    """Whether sea water can run by itself through a hose that rises over a crest and ends inside the boat.

    Flow = coefficient x area x sqrt(2 g x depth of the outlet). Pressure in the crest, at the least, is
    barometer - density x g x (crest - outlet): what a hose of even bore without loss would have.

    Args:
        outlet: height of the inner end above the water outside [m], -3 to 3; negative below it.
        crest: height of the highest point of the hose above the water outside [m], -3 to 12.
        diameter: bore [m], 0.0005 to 0.3.
        coefficient: discharge coefficient of the whole hose, 0.05 to 1.
        vent: "works" when a vent in the crest lets air in, "none" when there is none or it is stuck.
        temperature: temperature of the water [degC], 0 to 40.
        density: density of the water [kg/m^3], 600 to 1035.
        barometer: pressure of the air outside [Pa], 60e3 to 110e3.

    Returns:
        Flow if it runs, 0 where it cannot [m^3/s]; pressure in the crest [Pa absolute]; one of "cannot run", "vent breaks it",
        "can run", "no siphon needed". The last is a crest below the water outside: it runs in by itself, and a vent there lets
        water out.

    Raises:
        OutOfRangeError: outside those ranges.
        ValueError: the outlet lies above the crest.

    Source: Cengel and Cimbala example 5-7 page 207.
    """
    check("outlet", outlet, -3.0, 3.0, "m")
    check("crest", crest, -3.0, 12.0, "m")
    if outlet > crest:
        raise ValueError("the outlet cannot lie above the crest, which is the highest point of the hose")
    check("density", density, 600.0, 1035.0, "kg/m^3")
    lowest = vapour_pressure(check("temperature", temperature, 0.0, 40.0, "degC"))
    crest_pressure = check("barometer", barometer, 60e3, 110e3, "Pa") - head_pressure(crest - outlet, density)
    flow = hole_flow(diameter, max(-outlet, 0.0), coefficient)
    if outlet >= 0:
        word = "cannot run"
    elif crest <= 0:
        word = "no siphon needed"
    elif crest_pressure <= lowest:
        word, flow = "cannot run", 0.0
    else:
        word = "vent breaks it" if vent == "works" else "can run"
    return Siphon(flow, crest_pressure, word)
