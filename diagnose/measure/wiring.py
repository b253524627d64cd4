"""Wires, joints and lead-acid batteries: volts lost, heat made, the size needed, what a voltage says about a battery.

Figures for 12 V hold for 24 V at the same share of the voltage: twice the volts, half the current, a quarter of the copper.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Final, Literal, NamedTuple

from diagnose.measure.valid import check

__all__ = [
    "COPPER_RESISTIVITY",
    "COPPER_TEMPERATURE_COEFFICIENT",
    "STANDARD_SIZES",
    "Battery",
    "BatteryTime",
    "Charge",
    "CircuitDrop",
    "Cranking",
    "Drop",
    "Duty",
    "Figure",
    "Gauge",
    "Joint",
    "Place",
    "Size",
    "Starting",
    "at_other_voltage",
    "battery_hours",
    "circuit_drop",
    "cold_capacity",
    "copper_resistivity",
    "cranking_voltage",
    "gauge_size",
    "joint",
    "rest_charge",
    "starting_circuit",
    "wire_drop",
    "wire_resistance",
    "wire_size",
]

COPPER_RESISTIVITY: Final = 1.0 / 58.0e6
"""Annealed copper at 20 degC [ohm m], International Annealed Copper Standard: 1.7241e-8."""
COPPER_TEMPERATURE_COEFFICIENT: Final = 0.00393
"""A kelvin, of the value at 20 degC, same standard."""

# mm^2: amperes of single PVC wires (70 degC) clipped to a wall in 30 degC, IEC 60364-5-52 method C, three loaded. To 35 mm^2
# as printed in an industrial manual, 1 mm^2 and above 35 from memory.
_RATINGS: Final[dict[float, float]] = {
    1.0: 12.0, 1.5: 17.0, 2.5: 24.0, 4.0: 32.0, 6.0: 41.0, 10.0: 57.0, 16.0: 76.0, 25.0: 96.0, 35.0: 119.0, 50.0: 144.0,
    70.0: 184.0, 95.0: 223.0, 120.0: 259.0, 150.0: 299.0,
}
STANDARD_SIZES: Final[tuple[float, ...]] = tuple(_RATINGS)
"""Cross-sections of IEC 60228 from the least that ISO 10133 allows for a wire by itself to 150 [mm^2]."""
_HOT_FACTOR: Final = 0.71
"""Of the rating at 50 degC round the wire, as in an engine space; same source."""
_MM2: Final = 1e-6

Place = Literal["cool", "engine-space"]
Duty = Literal["steady", "starter"]
CircuitPart = Literal["starting-plus", "starting-minus", "charging-plus", "charging-minus", "switch", "joint"]
Figure = Literal["voltage", "current", "resistance", "cross-section", "capacity", "power"]
Battery = Literal["wet", "agm"]

# (good, too much) at 12 V [V]. Sources part: 0.2 V each side in one workshop page, 0.5 and 0.3 in a tester's manual,
# 0.5 in a truck manual. Good is the stricter, too much the looser.
_DROPS: Final[dict[str, tuple[float, float]]] = {
    "starting-plus": (0.2, 0.5), "starting-minus": (0.2, 0.3), "charging-plus": (0.2, 0.5), "charging-minus": (0.2, 0.3),
    "switch": (0.1, 0.2), "joint": (0.05, 0.1),
}

# degC and V after 15 s of half the cold cranking current, 12 V battery; the table printed alike in several workshop manuals.
_LOAD_TEST: Final = ((-18.0, 8.5), (-12.0, 8.7), (-7.0, 8.9), (-1.0, 9.1), (4.0, 9.3), (10.0, 9.4), (16.0, 9.5), (20.0, 9.6))
# share and V at rest, 12 V. Wet: a battery maker's table at 26.7 degC (1.265 when full). AGM: two owners' texts that agree.
_REST: Final[dict[str, tuple[tuple[float, float], ...]]] = {
    "wet": ((11.89, 0.0), (12.06, 0.25), (12.24, 0.50), (12.45, 0.75), (12.65, 1.0)),
    "agm": ((11.80, 0.0), (12.00, 0.25), (12.30, 0.50), (12.60, 0.75), (12.80, 1.0)),
}
_REST_TEMPERATURE: Final = 26.7
# degC and share of the capacity: TM 10-6140-200-14 paragraph 1-8 (32 and 0 degF against 77).
_COLD: Final = ((-17.8, 0.40), (0.0, 0.75), (25.0, 1.0))


class Drop(NamedTuple):
    """What a circuit loses in its wires."""

    lost: float
    """[V]"""
    share: float
    """Of the supply."""
    left: float
    """At the load [V]."""
    heat: float
    """In the wires [W]."""


class Size(NamedTuple):
    """The wire a circuit needs."""

    for_drop: float
    """Copper that loses just what is allowed [m^2]."""
    for_heat: float
    """Standard size that carries the current without getting hot [m^2]; the least size for a starter, whose heat is not judged."""
    standard: float
    """Next standard size that does both [m^2]."""
    lost: float
    """With the standard size [V]."""
    decided_by: str


class Joint(NamedTuple):
    """A joint, a switch, a cable: from the volts across it and the current through it."""

    resistance: float
    """[ohm]"""
    heat: float
    """At the working current [W]."""
    lost: float
    """At the working current [V]."""


class CircuitDrop(NamedTuple):
    """One part's drop against common practice."""

    share: float
    """Of the nominal voltage."""
    good: float
    """Good up to this [V]."""
    too_much: float
    """Too much above this [V]."""
    verdict: str


class Starting(NamedTuple):
    """Where the battery's volts go while she cranks."""

    plus_share: float
    minus_share: float
    starter_share: float
    unexplained: float
    """Battery less starter, plus side and minus side [V]; far from 0 means a reading at the wrong place."""
    verdict: str


class Cranking(NamedTuple):
    """A voltage while cranking against the load-test table."""

    lowest: float
    """A sound battery holds this or more [V]."""
    spare: float
    """[V]"""
    verdict: str


class Charge(NamedTuple):
    """State of charge from the rest voltage."""

    share: float
    """0 to 1."""
    at_reference: float
    """Voltage told at 26.7 degC [V]."""
    verdict: str


class BatteryTime(NamedTuple):
    """How long a battery carries a load."""

    time: float
    """[s]"""
    drawn: float
    """Charge drawn in that time [C]."""
    cold_share: float
    """Of the capacity at this temperature."""


class Gauge(NamedTuple):
    """A gauge number as metric."""

    area: float
    """[m^2]"""
    diameter: float
    """Of a solid wire [m]."""


def _between(table: Sequence[tuple[float, float]], x: float) -> float:
    """Straight lines through the table, its ends held."""
    if x <= table[0][0]:
        return table[0][1]
    for (x0, y0), (x1, y1) in pairwise(table):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return table[-1][1]


def _nominal(volts: float) -> float:
    return check("nominal", volts, 6.0, 48.0, "V")


def copper_resistivity(temperature: float) -> float:
    """Resistivity of annealed copper: rho = rho20 (1 + a (T - 20)).

    Args:
        temperature: [degC], -50 to 200.

    Returns:
        [ohm m].

    Raises:
        OutOfRangeError: a temperature outside its range.

    Source: International Annealed Copper Standard, 58 MS/m and 0.393 % a kelvin.
    """
    return COPPER_RESISTIVITY * (1.0 + COPPER_TEMPERATURE_COEFFICIENT * (check("temperature", temperature, -50.0, 200.0, "degC") - 20.0))


def wire_resistance(length: float, area: float, temperature: float, extra: float) -> float:
    """Resistance of a copper wire: R = rho L (1 + extra) / A.

    Args:
        length: of conductor, there and back [m], 0.001 to 1000.
        area: nominal cross-section [m^2], 1e-8 to 1e-3.
        temperature: of the copper [degC], -50 to 200.
        extra: share above solid copper that a stranded wire of this nominal size may have, 0 to 0.3.

    Returns:
        [ohm].

    Raises:
        OutOfRangeError: a value outside its range.

    Source: resistivity as `copper_resistivity`. The most that IEC 60228 allows a flexible (class 5) wire is 10 to 16 % above it.
    """
    check("length", length, 1e-3, 1000.0, "m")
    check("area", area, 1e-8, 1e-3, "m^2")
    return copper_resistivity(temperature) * length * (1.0 + check("extra", extra, 0.0, 0.3)) / area


def wire_drop(current: float, length: float, area: float, temperature: float, extra: float, supply: float) -> Drop:
    """Volts lost in a circuit's wires: U = I rho L (1 + extra) / A.

    Args:
        current: [A], 0 to 2000.
        length: of conductor, there and back [m], 0.001 to 1000.
        area: nominal cross-section [m^2], 1e-8 to 1e-3.
        temperature: of the copper [degC], -50 to 200.
        extra: share above solid copper, 0 to 0.3.
        supply: voltage at the source [V], 1 to 60.

    Returns:
        Drop: lost, share, left at the load, heat.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: the wire would lose more than the supply gives: that current cannot flow.

    Source: law of Ohm. The boat formula with 10.75 ohm circular-mil/foot is copper at 29 degC; the one with 0.0164 ohm mm^2/m is copper
    at 8 degC and flatters by 5 %. 3 % is asked for navigation lights, pumps and main feeders, 10 % for the rest (ISO 10133, ABYC).
    """
    check("current", current, 0.0, 2000.0, "A")
    check("supply", supply, 1.0, 60.0, "V")
    lost = current * wire_resistance(length, area, temperature, extra)
    if lost > supply:
        raise ValueError("the wire would lose more than the supply gives; such a current cannot flow through it")
    return Drop(lost, lost / supply, supply - lost, lost * current)


def wire_size(current: float, length: float, allowed: float, temperature: float, extra: float, place: Place, duty: Duty) -> Size:
    """The standard size that neither loses too many volts nor gets hot: A = I rho L (1 + extra) / U allowed.

    Args:
        current: the most that flows for long, or of the starter [A], 0.01 to 2000.
        length: of conductor, there and back [m], 0.1 to 1000.
        allowed: volts that may be lost [V], 0.01 to 5.
        temperature: of the copper [degC], -50 to 200.
        extra: share above solid copper, 0 to 0.3.
        place: cool (30 degC round it) or engine-space (50 degC).
        duty: steady, or starter: a starter's seconds do not heat a cable, its volts alone decide.

    Returns:
        Size: copper for the drop, standard size for the heat, standard size for both, volts lost with it, what decided.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: more than 150 mm^2 is needed.

    Source: law of Ohm; sizes of IEC 60228; heat by IEC 60364-5-52 for PVC wire, cautious for boat cable; least 1 mm^2, ISO 10133. The
    fuse must be smaller than what the wire carries; the boat's standard and the maker's table come first.
    """
    check("current", current, 0.01, 2000.0, "A")
    check("length", length, 0.1, 1000.0, "m")
    check("allowed", allowed, 0.01, 5.0, "V")
    if place not in ("cool", "engine-space") or duty not in ("steady", "starter"):
        raise ValueError("the place is cool or engine-space, the duty steady or starter")
    specific = copper_resistivity(temperature) * (1.0 + check("extra", extra, 0.0, 0.3)) * length * current
    exact = specific / allowed
    factor = _HOT_FACTOR if place == "engine-space" else 1.0
    carries = [s for s, rated in _RATINGS.items() if duty == "starter" or rated * factor >= current]
    fits = [s for s in carries if s * _MM2 >= exact]
    if not fits:
        raise ValueError("no single wire up to 150 mm^2 does; shorten the run, or use two in parallel or a higher voltage")
    decided = "volts lost" if fits[0] > carries[0] else "heat" if carries[0] > STANDARD_SIZES[0] else "strength, the least size"
    return Size(exact, carries[0] * _MM2, fits[0] * _MM2, specific / (fits[0] * _MM2), decided)


def gauge_size(gauge: float) -> Gauge:
    """Cross-section of an American wire gauge: d = 0.127 mm 92^((36 - n) / 39).

    Args:
        gauge: number; 0 for 1/0, -1 for 2/0, -2 for 3/0, -3 for 4/0; -3 to 40.

    Returns:
        Gauge: cross-section and diameter.

    Raises:
        OutOfRangeError: a number outside its range.

    Source: ASTM B258, exact rule: 36 is 0.005 inch, 4/0 is 0.46 inch, 39 equal steps.
    """
    diameter = 0.127e-3 * 92.0 ** ((36.0 - check("gauge", gauge, -3.0, 40.0)) / 39.0)
    return Gauge(math.pi / 4.0 * diameter**2, diameter)


def joint(lost: float, current: float, working_current: float) -> Joint:
    """A joint's resistance from a drop, and what it does at the working current: R = U / I, P = R I^2.

    Args:
        lost: volts across it, measured while the current flows [V], 0 to 30.
        current: measured with it [A], 0.05 to 2000.
        working_current: at which heat and drop are wanted [A], 0 to 2000.

    Returns:
        Joint: resistance, heat, drop.

    Raises:
        OutOfRangeError: a value outside its range.

    Source: laws of Ohm and Joule. A bad joint often worsens as it warms, so the heat is a least figure.
    """
    check("lost", lost, 0.0, 30.0, "V")
    check("working_current", working_current, 0.0, 2000.0, "A")
    resistance = lost / check("current", current, 0.05, 2000.0, "A")
    return Joint(resistance, resistance * working_current**2, resistance * working_current)


def circuit_drop(part: CircuitPart, lost: float, nominal: float) -> CircuitDrop:
    """A part's drop against common practice, scaled with the voltage of the system.

    Args:
        part: starting-plus (battery post to starter stud), starting-minus (starter case to battery post), charging-plus
            (alternator stud to battery post), charging-minus, switch, joint (one clamp or lug).
        lost: across the part, in use [V], 0 to 30.
        nominal: voltage of the system [V], 6 to 48.

    Returns:
        CircuitDrop: share, limits, verdict `good`, `watch`, `too much`.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: another part.

    Source: workshop practice; sources part between 0.2 and 0.5 V a side at 12 V, so `watch` lies between. Scaled by the voltage, a part
    may lose the same share and so the same watts. Measured while cranking, or charging hard: with little current it says nothing.
    """
    if part not in _DROPS:
        raise ValueError(f"{part} is not one of {', '.join(_DROPS)}")
    check("lost", lost, 0.0, 30.0, "V")
    scale = _nominal(nominal) / 12.0
    good, too_much = (limit * scale for limit in _DROPS[part])
    return CircuitDrop(lost / nominal, good, too_much, "good" if lost <= good else "watch" if lost <= too_much else "too much")


def starting_circuit(battery: float, plus_lost: float, minus_lost: float, starter: float, nominal: float) -> Starting:
    """The four readings of a cranking circuit: battery = plus side + starter + minus side.

    Args:
        battery: at the posts, cranking [V], 2 to 30.
        plus_lost: battery plus post to the starter's stud [V], 0 to 15.
        minus_lost: starter case to battery minus post [V], 0 to 15.
        starter: starter's stud to its case [V], 0 to 30.
        nominal: voltage of the system [V], 6 to 48.

    Returns:
        Starting: shares, what is unexplained, and the verdict `plus side`, `minus side`, `both sides`, `cables good`, or
        `readings do not add up` where more than 0.3 V at 12 V is unexplained.

    Raises:
        OutOfRangeError: a value outside its range.

    Source: law of Kirchhoff; limits 0.5 V on the plus and 0.3 V on the minus side at 12 V, a tester's manual. With good cables and
    low volts at the starter look to the battery, with good volts and a slow starter to the starter or the engine.
    """
    check("battery", battery, 2.0, 30.0, "V")
    check("plus_lost", plus_lost, 0.0, 15.0, "V")
    check("minus_lost", minus_lost, 0.0, 15.0, "V")
    check("starter", starter, 0.0, 30.0, "V")
    scale = _nominal(nominal) / 12.0
    rest = battery - plus_lost - minus_lost - starter
    plus = plus_lost > _DROPS["starting-plus"][1] * scale
    minus = minus_lost > _DROPS["starting-minus"][1] * scale
    if abs(rest) > 0.3 * scale:
        verdict = "readings do not add up"
    else:
        verdict = "both sides" if plus and minus else "plus side" if plus else "minus side" if minus else "cables good"
    return Starting(plus_lost / battery, minus_lost / battery, starter / battery, rest, verdict)


def cranking_voltage(voltage: float, temperature: float, nominal: float) -> Cranking:
    """A battery's voltage after some seconds of cranking against the load-test table for its temperature.

    Args:
        voltage: at the posts after 10 to 15 s of cranking, or of half the cold cranking current [V], 2 to 60.
        temperature: of the battery [degC], -18 to 50.
        nominal: voltage of the system [V], 6 to 48.

    Returns:
        Cranking: what a sound battery holds, spare, verdict `holds`, `near the limit` (within 0.3 V at 12 V above it), `too low`.

    Raises:
        OutOfRangeError: a value outside its range.

    Source: table of several workshop manuals, 9.6 V at 20 degC and over to 8.5 V at -18 degC; one prints 8.0 V there. It is for half
    the cold cranking current: a small starter draws less, so a sound battery holds more. Too low: flat, worn, or a starter that binds.
    """
    check("voltage", voltage, 2.0, 60.0, "V")
    scale = _nominal(nominal) / 12.0
    lowest = _between(_LOAD_TEST, check("temperature", temperature, -18.0, 50.0, "degC")) * scale
    spare = voltage - lowest
    return Cranking(lowest, spare, "too low" if spare < 0 else "near the limit" if spare < 0.3 * scale else "holds")


def rest_charge(voltage: float, temperature: float, cell_coefficient: float, battery: Battery, nominal: float,
                table_off: float = 0.0) -> Charge:
    """State of charge of a lead-acid battery from its voltage at rest, by straight lines through a published table.

    Args:
        voltage: nothing drawn or charged for hours [V], 5 to 60.
        temperature: of the battery [degC], -30 to 60.
        cell_coefficient: change of a cell's rest voltage [V/K], -0.001 to 0.001; +0.0002 by electrochemistry.
        battery: wet (flooded) or agm (glass mat).
        nominal: voltage of the system [V], 6 to 48.
        table_off: by how much the table, which is for 12 V, reads too low for this battery [V], -0.3 to 0.3.

    Returns:
        Charge: share, voltage at 26.7 degC, verdict `full`, `fair` (half and more), `low`, `flat` (a tenth or less).

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: another battery.

    Source: wet: 12.65 full, 12.45, 12.24, 12.06, 11.89 V flat, a battery maker's table. AGM: 12.8 full, 12.6, 12.3, 12.0, two texts;
    a third has 13.0 for full and 12.05 for half. The first table also corrects temperature by -0.72 mV/K a cell, which is its hydrometer
    correction in volts; the cell itself goes by about +0.2 mV/K (memory), so the correction is small and of the other sign.
    """
    if battery not in _REST:
        raise ValueError(f"{battery} is not one of {', '.join(_REST)}")
    check("voltage", voltage, 5.0, 60.0, "V")
    check("cell_coefficient", cell_coefficient, -1e-3, 1e-3, "V/K")
    scale = _nominal(nominal) / 12.0
    away = check("temperature", temperature, -30.0, 60.0, "degC") - _REST_TEMPERATURE
    at_reference = voltage - cell_coefficient * 6.0 * scale * away
    share = _between(_REST[battery], at_reference / scale - check("table_off", table_off, -0.3, 0.3, "V"))
    return Charge(share, at_reference, "full" if share >= 0.95 else "fair" if share >= 0.5 else "low" if share > 0.1 else "flat")


def cold_capacity(temperature: float) -> float:
    """Share of a lead-acid battery's capacity that is there when cold.

    Args:
        temperature: of the battery [degC], -17.8 to 60.

    Returns:
        Share, 0.4 to 1.

    Raises:
        OutOfRangeError: a temperature outside its range.

    Source: TM 10-6140-200-14 paragraph 1-8: 75 % at 32 degF, 40 % at 0 degF, of a full battery; straight lines between.
    """
    return _between(_COLD, check("temperature", temperature, -17.8, 60.0, "degC"))


def battery_hours(capacity: float, rated_time: float, current: float, exponent: float, share: float, temperature: float) -> BatteryTime:
    """How long a battery carries a steady load: t = H (C / (I H))^k x share x cold share (Peukert).

    Args:
        capacity: printed on the battery [C], 3600 to 3.6e7.
        rated_time: time the capacity is rated over [s], 3600 to 1e6; 20 h where nothing is said.
        current: drawn [A], 0.01 to 2000.
        exponent: of Peukert, 1 to 1.5; 1 leaves it out.
        share: of the charge that may be drawn, 0.01 to 1.
        temperature: of the battery [degC], -17.8 to 60.

    Returns:
        BatteryTime: time, charge drawn, share the cold leaves.

    Raises:
        OutOfRangeError: a value outside its range.

    Source: law of Peukert, 1897, in the form for a capacity rated over H hours; cold as `cold_capacity`. A battery of unknown age
    has less than is printed on it. Below the rated current the law flatters.
    """
    check("capacity", capacity, 3600.0, 3.6e7, "C")
    check("rated_time", rated_time, 3600.0, 1e6, "s")
    check("current", current, 0.01, 2000.0, "A")
    check("exponent", exponent, 1.0, 1.5)
    cold = cold_capacity(temperature)
    time = rated_time * (capacity / (current * rated_time)) ** exponent * check("share", share, 0.01, 1.0) * cold
    return BatteryTime(time, time * current, cold)


def at_other_voltage(value: float, figure: Figure, have: float, want: float) -> float:
    """A figure of one system's voltage for the same power and the same share lost at another's.

    Args:
        value: the figure, in any unit, 0 or more.
        figure: voltage (and volts lost), current (and fuse), resistance, cross-section, capacity (of a battery), power.
        have: voltage the figure is for [V], 6 to 48.
        want: voltage it is wanted for [V], 6 to 48.

    Returns:
        The figure at the other voltage: voltage x r, current / r, resistance x r^2, cross-section / r^2, capacity / r, power as it is.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: another figure.

    Source: laws of Ohm and Joule.
    """
    powers = {"voltage": 1, "current": -1, "resistance": 2, "cross-section": -2, "capacity": -1, "power": 0}
    if figure not in powers:
        raise ValueError(f"{figure} is not one of {', '.join(powers)}")
    ratio = check("want", want, 6.0, 48.0, "V") / check("have", have, 6.0, 48.0, "V")
    return check("value", value, 0.0, 1e9) * ratio ** powers[figure]
