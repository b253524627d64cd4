"""Small leaks in figures: drops counted, water caught, a level that falls, and how long a reserve lasts.

The size of a drop is the weak point: it moves by a factor of two and more with the fluid and the edge it falls from, so
it is asked for and never assumed.
"""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from diagnose.measure.constants import GRAVITY
from diagnose.measure.valid import check

__all__ = ["Fall", "Gland", "Lasts", "drop_rate", "gland_day", "largest_drop", "level_fall", "reserve_lasts", "section_area"]

DAY = 86400.0

Shape = Literal["round", "oval", "box"]


class Fall(NamedTuple):
    """What a fall of level comes to: volume lost [m^3] and rate [m^3/s]."""

    volume: float
    rate: float


class Gland(NamedTuple):
    """What a gland lets in: rate with the shaft turning and at rest [m^3/s], and volume in a day [m^3]."""

    running: float
    rest: float
    day: float


class Lasts(NamedTuple):
    """Rate planned on [m^3/s], volume that is counted on [m^3], how long it lasts [s], and how long all of it would at the rate
    that was measured [s]."""

    planned: float
    counted: float
    time: float
    all_of_it: float


def drop_rate(drops: float, time: float, drop_volume: float) -> float:
    """Rate of a leak from counted drops: drops x drop volume / time.

    Args:
        drops: how many were counted, 0 to 5000.
        time: in what time [s], 1 to 86400.
        drop_volume: volume of one drop [m^3], 1e-8 to 4e-7 (0.01 to 0.4 mL).

    Returns:
        Rate [m^3/s].

    Raises:
        OutOfRangeError: outside those ranges.

    Source: arithmetic. The convention of 20 drops to a millilitre is from memory (medical drop factor); drops off a tap were
    measured at 0.078 and 0.099 mL (a university page), and the US Geological Survey counts 0.25 mL.
    """
    return (check("drops", drops, 0.0, 5000.0) * check("drop_volume", drop_volume, 1e-8, 4e-7, "m^3")
            / check("time", time, 1.0, DAY, "s"))


def largest_drop(radius: float, tension: float, density: float, share: float) -> float:
    """Largest drop that hangs from a round edge: share x 2 pi x radius x tension / (density x g).

    Args:
        radius: radius of the wetted edge [m], 0.0001 to 0.005.
        tension: surface tension [N/m], 0.01 to 0.08.
        density: density of the fluid [kg/m^3], 600 to 1300.
        share: share of the hanging drop that falls, 0.5 to 1; 1 is Tate's law itself, 0.6 to 0.7 is usual.

    Returns:
        Volume [m^3].

    Raises:
        OutOfRangeError: outside those ranges.

    Source: Tate's law; the share that falls is from memory (Harkins and Brown).
    """
    return (check("share", share, 0.5, 1.0) * 2.0 * math.pi * check("radius", radius, 1e-4, 5e-3, "m")
            * check("tension", tension, 0.01, 0.08, "N/m") / (check("density", density, 600.0, 1300.0, "kg/m^3") * GRAVITY))


def section_area(shape: Shape, length: float, width: float | None) -> float:
    """Area of the surface in a tank, header or bottle from its inside measures.

    Args:
        shape: "round" (pi/4 x length^2), "oval" (pi/4 x length x width) or "box" (length x width).
        length: length, or diameter of a round one [m], 0.01 to 3.
        width: width [m], 0.01 to 3; None for a round one.

    Returns:
        Area [m^2].

    Raises:
        OutOfRangeError: outside those ranges.
        ValueError: an oval or box without its width, or a shape not known.

    Source: plane geometry.
    """
    check("length", length, 0.01, 3.0, "m")
    if shape == "round":
        return math.pi / 4.0 * length**2
    if width is None:
        raise ValueError("an oval or a box needs its width too")
    check("width", width, 0.01, 3.0, "m")
    if shape == "oval":
        return math.pi / 4.0 * length * width
    if shape == "box":
        return length * width
    raise ValueError(f"'{shape}' is none of round, oval, box")


def level_fall(fall: float, time: float, shape: Shape, length: float, width: float | None) -> Fall:
    """What a fall of level comes to: fall x area, and that by time.

    Both levels are read at one temperature and with the boat lying the same way: hot coolant stands higher by itself.

    Args:
        fall: how far the level fell [m], 0 to 1.
        time: in what time [s], 1 to 3.2e7 (a year).
        shape: "round", "oval" or "box".
        length: inside length, or diameter of a round one [m], 0.01 to 3.
        width: inside width [m], 0.01 to 3; None for a round one.

    Returns:
        Volume lost [m^3] and rate [m^3/s].

    Raises:
        OutOfRangeError: outside those ranges.
        ValueError: as `section_area`.

    Source: common practice.
    """
    volume = check("fall", fall, 0.0, 1.0, "m") * section_area(shape, length, width)
    return Fall(volume, volume / check("time", time, 1.0, 3.2e7, "s"))


def reserve_lasts(reserve: float, rate: float, growth: float, counted_share: float) -> Lasts:
    """How long a reserve lasts: reserve x counted share / (rate x growth).

    Args:
        reserve: what may be lost before it matters [m^3], 1e-6 to 0.5.
        rate: rate of the leak as measured [m^3/s], 1e-13 to 1e-3.
        growth: how many times the measured rate is planned on, 1 to 10.
        counted_share: share of the reserve that is counted on, 0.05 to 1.

    Returns:
        Rate planned on [m^3/s], volume counted on [m^3], time [s]; and the time of the whole reserve at the measured rate [s].

    Raises:
        OutOfRangeError: outside those ranges.

    Source: common practice: a leak grows with revs, heat and hours, so it is planned at three times, and a third of the
    reserve is counted.
    """
    planned = check("rate", rate, 1e-13, 1e-3, "m^3/s") * check("growth", growth, 1.0, 10.0)
    counted = check("reserve", reserve, 1e-6, 0.5, "m^3") * check("counted_share", counted_share, 0.05, 1.0)
    return Lasts(planned, counted, counted / planned, reserve / rate)


def gland_day(drops_running: float, drops_rest: float, time: float, hours_running: float, drop_volume: float) -> Gland:
    """What drips from a shaft gland come to in a day: both rates, each for its part of the day.

    Args:
        drops_running: drops counted with the shaft turning, 0 to 5000.
        drops_rest: drops counted in the same time at rest, 0 to 5000.
        time: that time [s], 1 to 86400.
        hours_running: how long the shaft turns in a day [s], 0 to 86400.
        drop_volume: volume of one drop [m^3], 1e-8 to 4e-7.

    Returns:
        Rate turning, rate at rest [m^3/s] and volume in a day [m^3].

    Raises:
        OutOfRangeError: outside those ranges.

    Source: arithmetic. That a packed gland should drip two or three times a minute is Practical Boat Owner's figure; many say
    none at rest (common practice).
    """
    check("hours_running", hours_running, 0.0, DAY, "s")
    running, rest = drop_rate(drops_running, time, drop_volume), drop_rate(drops_rest, time, drop_volume)
    return Gland(running, rest, running * hours_running + rest * (DAY - hours_running))
