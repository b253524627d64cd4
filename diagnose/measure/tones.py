"""Tones an engine and what it drives can make, and which of them a measured tone is.

An order is how often something happens in one turn of a named shaft: order 1 is the turn itself. Tones are in turns or
knocks a second (Hz), speeds in turns a second, angles in degrees.
"""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from diagnose.measure.valid import check

__all__ = ["BearingTones", "BeltTones", "FiringTones", "PropellerTones", "ToneFound", "bearing_orders", "bearing_tones",
           "bearing_tones_by_count", "belt_tones", "find_tone", "firing_tones", "gear_mesh_tone", "order_of", "propeller_tones"]

Ring = Literal["inner", "outer"]

CLOSE, NEAR = 0.03, 0.08
"""Within three parts in a hundred a tone fits, within eight it may: a tachometer and a phone together are no better."""

_SAME = 0.005
"""Orders that lie closer than this are one tone with two names."""


class BearingTones(NamedTuple):
    """Tones, or orders, of a flaw in a rolling bearing.

    `spin` is one turn of a ball or roller, `spin_twice` the knock of a flaw on it, which meets both rings in each turn.
    """

    outer: float
    inner: float
    cage: float
    spin: float
    spin_twice: float


class BeltTones(NamedTuple):
    """Passes of one spot of a belt: once, twice (a flaw meets two pulleys) and three times a round [Hz]."""

    once: float
    twice: float
    thrice: float


class FiringTones(NamedTuple):
    """Firing tone and the tone of one cylinder that is weak or missing [Hz], and the order of the first."""

    firing: float
    one_missing: float
    order: float


class PropellerTones(NamedTuple):
    """Propeller shaft, blades passing, and twice that [Hz]."""

    shaft: float
    blades: float
    blades_twice: float


class ToneFound(NamedTuple):
    """A measured tone as an order of the crankshaft, and the two sources nearest to it.

    `above` is how far the measured tone lies above (or, under nought, below) the source's, as a share of one.
    """

    order: float
    fit: str
    nearest: str
    nearest_tone: float
    above: float
    second: str
    second_tone: float
    second_above: float


def _whole(name: str, value: float, low: int, high: int) -> float:
    check(name, value, low, high)
    if value != int(value):
        raise ValueError(f"{name.replace('_', ' ')} is a count: a whole number")
    return value


def _speed(name: str, value: float) -> float:
    return check(name, value, 0.1, 1000.0, "1/s")


def bearing_orders(elements: float, element_diameter: float, pitch_diameter: float, contact_angle: float,
                   turning: Ring) -> BearingTones:
    """Orders of a flaw in a rolling bearing, for one turn of the ring that turns; the other ring stands.

    With k = d/D cos(angle): outer n/2 (1 - k), inner n/2 (1 + k), cage (1 - k)/2 with the inner ring turning and (1 + k)/2
    with the outer, spin D/2d (1 - k^2).

    Args:
        elements: number of balls or rollers in one row, 4 to 40.
        element_diameter: diameter of one [m], 0.001 to 0.1.
        pitch_diameter: diameter of the circle their middles run on [m], over twice that of an element, to 1.
        contact_angle: 0 for a deep-groove ball bearing [degree], 0 to 60.
        turning: the ring that turns; on an idler it is the outer one.

    Returns:
        Orders of the turning ring's speed. Rolling bearings slide a little: true tones lie up to two parts in a hundred off.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: a count that is not whole.

    Source: Randall and Antoni, Rolling element bearing diagnostics, a tutorial (2011), equations 1 to 4.
    """
    _whole("elements", elements, 4, 40)
    check("element_diameter", element_diameter, 0.001, 0.1, "m")
    check("pitch_diameter", pitch_diameter, 2.0 * element_diameter, 1.0, "m")
    check("contact_angle", contact_angle, 0.0, 60.0, "degree")
    lean = element_diameter / pitch_diameter * math.cos(math.radians(contact_angle))
    outer, inner = elements / 2.0 * (1.0 - lean), elements / 2.0 * (1.0 + lean)
    spin = pitch_diameter / (2.0 * element_diameter) * (1.0 - lean**2)
    return BearingTones(outer, inner, (outer if turning == "inner" else inner) / elements, spin, 2.0 * spin)


def bearing_tones(speed: float, elements: float, element_diameter: float, pitch_diameter: float, contact_angle: float,
                  turning: Ring) -> BearingTones:
    """Tones of a flaw in a rolling bearing: speed x order.

    Args:
        speed: turns of the turning ring [1/s], 0.1 to 1000.
        elements: number of balls or rollers in one row, 4 to 40.
        element_diameter: diameter of one [m], 0.001 to 0.1.
        pitch_diameter: diameter of the circle their middles run on [m].
        contact_angle: [degree], 0 to 60.
        turning: the ring that turns.

    Returns:
        Tones [Hz].

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: a count that is not whole.

    Source: as `bearing_orders`.
    """
    _speed("speed", speed)
    return BearingTones(*(speed * order for order in
                          bearing_orders(elements, element_diameter, pitch_diameter, contact_angle, turning)))


def bearing_tones_by_count(speed: float, elements: float, cage_order: float, turning: Ring) -> BearingTones:
    """Tones of a flaw from the number of balls alone, by the rule that a cage makes about four tenths of a turn.

    With c the cage's order (inner ring turning): outer n c, inner n (1 - c), spin (1 - k^2)/2k with k = 1 - 2c.

    Args:
        speed: turns of the turning ring [1/s], 0.1 to 1000.
        elements: number of balls or rollers in one row, 4 to 40.
        cage_order: turns of the cage for one of the inner ring, 0.3 to 0.46; about 0.4, and 0.38 to 0.42 in most ball bearings.
        turning: the ring that turns.

    Returns:
        Tones [Hz], good to about five parts in a hundred.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: a count that is not whole.

    Source: common practice (0.4 and 0.6 of the count); the forms follow from `bearing_orders` at a contact angle of nought.
    """
    _speed("speed", speed)
    _whole("elements", elements, 4, 40)
    check("cage_order", cage_order, 0.3, 0.46)
    lean = 1.0 - 2.0 * cage_order
    spin = (1.0 - lean**2) / (2.0 * lean)
    cage = cage_order if turning == "inner" else 1.0 - cage_order
    return BearingTones(speed * elements * cage_order, speed * elements * (1.0 - cage_order), speed * cage,
                        speed * spin, 2.0 * speed * spin)


def belt_tones(pulley_speed: float, pulley_diameter: float, belt_length: float) -> BeltTones:
    """Rounds of a belt a second: pi d n / L, and two and three times that.

    Args:
        pulley_speed: turns of one pulley [1/s], 0.1 to 1000.
        pulley_diameter: its pitch diameter [m], 0.02 to 1.5.
        belt_length: length of the belt [m], over three times the diameter, to 15.

    Returns:
        Tones [Hz]. A worn or damaged belt mostly shows at twice its rounds.

    Raises:
        OutOfRangeError: a value outside its range.

    Source: geometry; published with its multiples in notes on vibration analysis (belt frequency).
    """
    _speed("pulley_speed", pulley_speed)
    check("pulley_diameter", pulley_diameter, 0.02, 1.5, "m")
    check("belt_length", belt_length, 3.0 * pulley_diameter, 15.0, "m")
    once = math.pi * pulley_diameter * pulley_speed / belt_length
    return BeltTones(once, 2.0 * once, 3.0 * once)


def firing_tones(speed: float, cylinders: float) -> FiringTones:
    """Firing tone of a four-stroke engine: n x cylinders / 2. One weak or missing cylinder adds n / 2.

    Args:
        speed: turns of the crankshaft [1/s], 0.1 to 1000.
        cylinders: 1 to 12, firing at even distances.

    Returns:
        Tones [Hz] and the order of the firing.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: a count that is not whole.

    Source: a four-stroke cylinder fires once in two turns.
    """
    _speed("speed", speed)
    order = _whole("cylinders", cylinders, 1, 12) / 2.0
    return FiringTones(speed * order, speed / 2.0, order)


def propeller_tones(engine_speed: float, gear_ratio: float, blades: float) -> PropellerTones:
    """Shaft tone n / ratio, blades passing, and twice that.

    Args:
        engine_speed: turns of the crankshaft [1/s], 0.1 to 1000.
        gear_ratio: engine turns for one of the propeller, 0.5 to 6.
        blades: 1 to 8.

    Returns:
        Tones [Hz].

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: a count that is not whole.

    Source: geometry.
    """
    shaft = _speed("engine_speed", engine_speed) / check("gear_ratio", gear_ratio, 0.5, 6.0)
    passing = shaft * _whole("blades", blades, 1, 8)
    return PropellerTones(shaft, passing, 2.0 * passing)


def gear_mesh_tone(speed: float, teeth: float) -> float:
    """Tone of meshing teeth: speed of a wheel x its teeth, the same for both wheels.

    Args:
        speed: turns of one wheel [1/s], 0.1 to 1000.
        teeth: teeth of that wheel, 5 to 300.

    Returns:
        Tone [Hz].

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: a count that is not whole.

    Source: geometry.
    """
    return _speed("speed", speed) * _whole("teeth", teeth, 5, 300)


def order_of(tone: float, speed: float) -> float:
    """Which order of a shaft a tone is: tone / speed.

    Args:
        tone: [Hz], 0.1 to 20000.
        speed: turns of the shaft [1/s], 0.1 to 1000.

    Returns:
        Order.

    Raises:
        OutOfRangeError: a value outside its range.

    Source: the meaning of the word.
    """
    return check("tone", tone, 0.1, 20000.0, "Hz") / _speed("speed", speed)


def _at_crank(cylinders: float) -> list[tuple[str, float]]:
    found = [("firing", cylinders / 2.0), ("twice the firing", cylinders),
             ("the turn of the crankshaft or its pulley", 1.0), ("twice the crankshaft", 2.0)]
    return found + ([("one cylinder weak, or the camshaft", 0.5)] if cylinders > 1 else [("the camshaft", 0.5)])


def _at_belt(crank_pulley: float | None, alternator_pulley: float | None, pump_pulley: float | None,
             belt_length: float | None) -> list[tuple[str, float]]:
    driven = (("the alternator's shaft", alternator_pulley), ("the pump's shaft", pump_pulley))
    if crank_pulley is None:
        if alternator_pulley is not None or pump_pulley is not None or belt_length is not None:
            raise ValueError("the speeds of the belt and of what it drives follow from the crankshaft's pulley: give it too")
        return []
    check("crank_pulley", crank_pulley, 0.02, 1.5, "m")
    found = [(name, crank_pulley / check("pulley", size, 0.02, 1.5, "m")) for name, size in driven if size is not None]
    if belt_length is not None:
        rounds = belt_tones(1.0, crank_pulley, belt_length)
        found += [("the belt, once a round", rounds.once), ("the belt, twice a round", rounds.twice)]
    return found


def _at_propeller(gear_ratio: float | None, blades: float | None) -> list[tuple[str, float]]:
    if gear_ratio is None:
        if blades is not None:
            raise ValueError("the blades pass at the speed of the propeller shaft: give the gear ratio too")
        return []
    tones = propeller_tones(1.0, gear_ratio, 1.0 if blades is None else blades)
    return [("the propeller shaft", tones.shaft)] + ([] if blades is None else [("the propeller's blades", tones.blades)])


def _together(sources: list[tuple[str, float]]) -> list[tuple[str, float]]:
    """Sources of one and the same order under one name."""
    merged: list[tuple[str, float]] = []
    for name, order in sorted(sources, key=lambda source: source[1]):
        if merged and order < merged[-1][1] * (1.0 + _SAME):
            merged[-1] = (f"{merged[-1][0]}; or {name}", merged[-1][1])
        else:
            merged.append((name, order))
    return merged


def find_tone(tone: float, engine_speed: float, cylinders: float, crank_pulley: float | None, alternator_pulley: float | None,
              pump_pulley: float | None, belt_length: float | None, gear_ratio: float | None, blades: float | None) -> ToneFound:
    """The sources whose tone lies nearest to a measured one, by ratio. What is left out (None) is not considered.

    Args:
        tone: measured [Hz], 0.5 to 2000.
        engine_speed: turns of the crankshaft [1/s], 3 to 100.
        cylinders: of a four-stroke engine, 1 to 12.
        crank_pulley: pitch diameter of the crankshaft's pulley [m], or None.
        alternator_pulley: pitch diameter of the alternator's [m], or None.
        pump_pulley: pitch diameter of the pump's on the same belt [m], or None.
        belt_length: length of that belt [m], or None.
        gear_ratio: engine turns for one of the propeller, or None.
        blades: of the propeller, or None.

    Returns:
        Order of the crankshaft; how well the nearest source fits in words; the two nearest with their tones and distances.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: a count that is not whole, or something given whose speed follows from what was left out.

    Source: the orders of this module; the bounds of the words are common practice.
    """
    check("tone", tone, 0.5, 2000.0, "Hz")
    check("engine_speed", engine_speed, 3.0, 100.0, "1/s")
    sources = _together(_at_crank(_whole("cylinders", cylinders, 1, 12))
                        + _at_belt(crank_pulley, alternator_pulley, pump_pulley, belt_length) + _at_propeller(gear_ratio, blades))
    order = tone / engine_speed
    (name, first), (other, second) = sorted(sources, key=lambda source: abs(math.log(order / source[1])))[:2]
    off = order / first - 1.0
    fit = "fits" if abs(off) <= CLOSE else "may be" if abs(off) <= NEAR else "none of these"
    return ToneFound(order, fit, name, first * engine_speed, off, other, second * engine_speed, order / second - 1.0)
