"""Potentials read against a silver/silver-chloride cell, anodes and how they waste, metal lost to a stray current.

Potentials are in volts against a silver/silver-chloride cell in sea water, the reference lead in the meter's minus
socket, so a protected hull reads negative. Published tables disagree; every one is kept, and where they part the answer
says so instead of choosing.
"""

from __future__ import annotations

import math
from typing import Final, Literal, NamedTuple

from diagnose.measure.constants import FARADAY, GAS_CONSTANT, ZERO_CELSIUS
from diagnose.measure.electrolysis import metal_mass
from diagnose.measure.valid import check

__all__ = [
    "SERIES",
    "AnodeWear",
    "Band",
    "Converted",
    "Couple",
    "Fitting",
    "Hull",
    "HullReading",
    "MetalLost",
    "MetalReading",
    "Reference",
    "Shift",
    "anode_current",
    "anode_life",
    "anode_wear",
    "couple",
    "hull_bands",
    "hull_reading",
    "lost_to_current",
    "metal_reading",
    "protection_shift",
    "shunt_current",
    "to_silver_chloride",
]

Fitting = Literal[
    "magnesium", "zinc", "aluminium", "steel", "stainless-active", "stainless-passive", "aluminium-bronze",
    "nickel-aluminium-bronze", "brass",
    "copper", "manganese-bronze", "silicon-bronze", "tin-bronze", "copper-nickel", "nickel-copper", "titanium", "graphite",
]
Hull = Literal["grp", "grp-leg", "aluminium", "steel", "wood"]
Reference = Literal["silver-chloride", "silver-chloride-kcl", "calomel", "copper-sulphate", "zinc"]
Dissolving = Literal["iron", "copper", "zinc", "aluminium"]


class Band(NamedTuple):
    """A range of potentials [V], `low` the more negative end."""

    low: float
    high: float


class MetalReading(NamedTuple):
    """A fitting's reading beside what its metal shows alone."""

    low: float
    """Most negative figure any table gives for the metal alone [V]."""
    high: float
    """Least negative [V]."""
    shift: float
    """Reading less the nearer end, 0 within the range [V]; negative: pulled down by an anode."""
    verdict: str


class HullReading(NamedTuple):
    """A hull's reading beside the bands of its kind."""

    verdict: str
    least: float
    """Where both tables agree that she is protected [V]."""
    most: float
    """Where both agree that it is not yet too much [V]."""
    to_go: float
    """How much more negative she must read to be protected for certain [V]; 0 when she is, negative when it is too much."""


class Shift(NamedTuple):
    """What connecting the anodes did."""

    shift: float
    """Towards the negative [V]."""
    spare: float
    """Beyond what is needed [V]."""
    verdict: str


class Converted(NamedTuple):
    """A reading against another cell, told against silver/silver-chloride in sea water."""

    potential: float
    low: float
    high: float
    """With the lowest and the highest published offset [V]."""


class Couple(NamedTuple):
    """Two metals joined in sea water."""

    driving: float
    """Middle of one less middle of the other [V], 0 or more."""
    least: float
    most: float
    """The range over all published tables [V]."""
    wastes: str
    """Which of the two is eaten."""


class AnodeWear(NamedTuple):
    """How fast an anode wastes and when it is due."""

    rate: float
    """In the unit of the readings, a second."""
    left: float
    """Share of the new anode that is left."""
    time_left: float
    """From the second reading until it is due [s]; 0 when it is."""
    earliest: float
    """Nineteen times in twenty not before this [s]."""
    latest: float | None
    """Nor after this [s]; None when the wear is too small beside the readings to say."""
    whole_life: float
    """A new one, fitted to due, at this rate [s]."""


class MetalLost(NamedTuple):
    """Metal lost to a current."""

    mass: float
    """[kg]"""
    depth: float
    """Spread evenly over the area [m]."""


# V against silver/silver-chloride. Within a metal: range of Professional BoatBuilder 100 (printed for silver chloride, no
# passive stainless seen), range of the Australasian Corrosion Association (printed for calomel, moved by -9 mV), and the
# single values of the chart in The Masthead 16, widened by its own 40 mV for alloys of iron and by 20 mV for the rest
# (it says so for copper alloys only). A table that lacks the metal is left out.
_CALOMEL_HERE: Final = -0.009
SERIES: Final[dict[str, tuple[Band, ...]]] = {
    "magnesium": (Band(-1.65, -1.60), Band(-1.639, -1.609), Band(-1.75, -1.56)),
    "zinc": (Band(-1.03, -0.98), Band(-1.039, -0.989), Band(-1.07, -1.03)),
    "aluminium": (Band(-1.00, -0.76), Band(-1.009, -0.769), Band(-0.84, -0.80)),
    "steel": (Band(-0.71, -0.60), Band(-0.729, -0.609), Band(-0.83, -0.75)),
    "stainless-active": (Band(-0.58, -0.43), Band(-0.589, -0.339), Band(-0.59, -0.51)),
    "stainless-passive": (Band(-0.109, -0.009),),
    "aluminium-bronze": (Band(-0.42, -0.31), Band(-0.409, -0.319)),
    "nickel-aluminium-bronze": (Band(-0.229, -0.149),),
    "brass": (Band(-0.40, -0.28), Band(-0.409, -0.269), Band(-0.47, -0.43)),
    "copper": (Band(-0.57, -0.30), Band(-0.379, -0.309)),
    "manganese-bronze": (Band(-0.34, -0.27), Band(-0.349, -0.269), Band(-0.47, -0.43)),
    "silicon-bronze": (Band(-0.29, -0.26), Band(-0.299, -0.259), Band(-0.28, -0.24)),
    "tin-bronze": (Band(-0.31, -0.24), Band(-0.329, -0.249)),
    "copper-nickel": (Band(-0.289, -0.179),),
    "nickel-copper": (Band(-0.149, -0.039),),
    "titanium": (Band(0.031, 0.051),),
    "graphite": (Band(0.191, 0.291),),
}
"""What each metal shows alone in sea water, table by table [V against silver/silver-chloride]."""

# First a trade page on cathodic protection, then the ABYC E-2 range as an owners' association quotes it.
_HULLS: Final[dict[str, tuple[Band, Band]]] = {
    "grp": (Band(-1.000, -0.750), Band(-1.100, -0.550)),
    "grp-leg": (Band(-1.050, -0.900), Band(-1.100, -0.950)),
    "aluminium": (Band(-1.100, -0.900), Band(-1.100, -0.950)),
    "steel": (Band(-1.050, -0.800), Band(-1.100, -0.850)),
    "wood": (Band(-0.600, -0.550), Band(-0.600, -0.550)),
}

# Cell against silver/silver-chloride in sea water: best, lowest, highest published [V].
_CELLS: Final[dict[str, tuple[float, float, float]]] = {
    "silver-chloride": (0.0, 0.0, 0.0),
    "silver-chloride-kcl": (-0.053, -0.053, -0.051),
    "calomel": (_CALOMEL_HERE, -0.010, 0.0),
    "copper-sulphate": (0.066, 0.050, 0.100),
    "zinc": (-1.030, -1.050, -0.980),
}
_DENSITY: Final[dict[str, float]] = {"iron": 7870.0, "copper": 8960.0, "zinc": 7140.0, "aluminium": 2700.0}
_TWO_SIGMA: Final = 2.0
_SEA: Final = 35.0


def _potential(name: str, value: float) -> float:
    return check(name, value, -2.0, 1.5, "V")


def _hull(metal: Fitting) -> Band:
    if metal not in SERIES:
        raise ValueError(f"{metal} is not one of {', '.join(SERIES)}")
    return Band(min(b.low for b in SERIES[metal]), max(b.high for b in SERIES[metal]))


def metal_reading(metal: Fitting, potential: float) -> MetalReading:
    """Whether a fitting reads as its metal does alone, or is pulled down by an anode, or pushed up.

    Args:
        metal: of the fitting.
        potential: against silver/silver-chloride in sea water [V], -2 to 1.5.

    Returns:
        MetalReading: range over the published tables, shift from its nearer end, verdict `protected` (0.2 V or more
        below the range), `pulled down a little`, `as the metal alone`, `pushed up`.

    Raises:
        OutOfRangeError: a potential outside its range.
        ValueError: another metal.

    Source: Professional BoatBuilder 100; Australasian Corrosion Association; The Masthead 16. They part by up to 0.2 V.
    Pushed up means joined to a nobler metal or fed by a stray current, either of which eats it.
    """
    band = _hull(metal)
    reading = _potential("potential", potential)
    shift = reading - band.high if reading > band.high else min(0.0, reading - band.low)
    if shift > 0:
        verdict = "pushed up"
    elif shift == 0:
        verdict = "as the metal alone"
    else:
        verdict = "protected" if shift <= -0.2 else "pulled down a little"
    return MetalReading(band.low, band.high, shift, verdict)


def couple(one: Fitting, other: Fitting) -> Couple:
    """The voltage that drives corrosion between two metals joined in sea water.

    Args:
        one: a metal.
        other: the metal it is joined to.

    Returns:
        Couple: difference of the middles, least and most over the published tables, and which of the two wastes:
        `either` where the ranges overlap.

    Raises:
        ValueError: another metal.

    Source: as `metal_reading`. Which wastes is sure, how fast is not: that goes by areas, paint and flow. Above 0.2 V
    the less noble one needs an anode (The Masthead 16).
    """
    first, second = _hull(one), _hull(other)
    lower, upper = (first, second) if sum(first) <= sum(second) else (second, first)
    wastes = (one if lower is first else other) if lower.high < upper.low else "either"
    driving = (sum(upper) - sum(lower)) / 2.0
    return Couple(driving, max(0.0, upper.low - lower.high), upper.high - lower.low, wastes)


def hull_bands(hull: Hull) -> tuple[Band, Band]:
    """The protected band of a hull in the two published tables [V]: the trade page's, then ABYC E-2's as quoted.

    Args:
        hull: grp (inboard shaft), grp-leg (aluminium leg or saildrive), aluminium, steel, wood.

    Raises:
        ValueError: another hull.
    """
    if hull not in _HULLS:
        raise ValueError(f"{hull} is not one of {', '.join(_HULLS)}")
    return _HULLS[hull]


def hull_reading(hull: Hull, potential: float) -> HullReading:
    """Whether a hull and what is bonded to it is protected.

    Args:
        hull: grp (inboard shaft), grp-leg (aluminium leg or saildrive), aluminium, steel, wood.
        potential: against silver/silver-chloride in sea water [V], -2 to 1.5.

    Returns:
        HullReading: verdict `under-protected`, `perhaps under-protected` (one table says so), `protected`,
        `perhaps over-protected`, `over-protected`; the band both tables agree on; what is missing.

    Raises:
        OutOfRangeError: a potential outside its range.
        ValueError: another hull.

    Source: a trade page on protection voltages, and ABYC E-2 as quoted. They differ by 50 mV at the top for steel and
    aluminium and by 200 mV for GRP. EN 12473 as quoted has -0.80 V for steel. Over-protected aluminium and wood are hurt.
    """
    first, second = hull_bands(hull)
    reading = _potential("potential", potential)
    least, most = min(first.high, second.high), max(first.low, second.low)
    if reading > max(first.high, second.high):
        verdict = "under-protected"
    elif reading > least:
        verdict = "perhaps under-protected"
    elif reading >= most:
        verdict = "protected"
    elif reading >= min(first.low, second.low):
        verdict = "perhaps over-protected"
    else:
        verdict = "over-protected"
    to_go = reading - least if reading > least else min(0.0, reading - most)
    return HullReading(verdict, least, most, to_go)


def protection_shift(before: float, after: float, needed: float) -> Shift:
    """The shift test: anodes disconnected, then connected: shift = before - after.

    Args:
        before: without the anodes, after it has settled [V], -2 to 1.5.
        after: with them [V], -2 to 1.5.
        needed: shift that counts as protected [V], 0.05 to 0.5; 0.2 as published.

    Returns:
        Shift: towards the negative, what is to spare, verdict `protected`, `not enough`, or `the wrong way`.

    Raises:
        OutOfRangeError: a value outside its range.

    Source: 200 mV in two sources, one quoting ABYC E-2. It needs no table of metals, so it is the surer test.
    """
    shift = _potential("before", before) - _potential("after", after)
    spare = shift - check("needed", needed, 0.05, 0.5, "V")
    return Shift(shift, spare, "protected" if spare >= 0 else "not enough" if shift >= 0 else "the wrong way")


def to_silver_chloride(reading: float, reference: Reference, salinity: float, temperature: float) -> Converted:
    """A reading against another cell told against silver/silver-chloride in sea water: E = reading + cell.

    Args:
        reading: of the metal against the cell used [V], -2 to 2.
        reference: silver-chloride (bare, in the water), silver-chloride-kcl (filled with saturated KCl), calomel,
            copper-sulphate, zinc.
        salinity: of the water [g/kg], 1 to 45. It moves the bare silver-chloride cell only.
        temperature: of the water [degC], -2 to 40.

    Returns:
        Converted: the potential, and with the lowest and the highest published offset.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: another cell.

    Source: standard potentials 0.241 (calomel), 0.316 (copper sulphate), 0.197 V (silver chloride in saturated KCl), International
    Journal of Corrosion 2010; 0.250 V for sea water (memory). A cathodic-protection firm prints 50 mV for copper sulphate, a manual 100.
    Zinc is a metal near -1.03 V: adding 100 mV, as one chart says, is wrong. In brackish water Nernst's law, chloride as salinity.
    """
    if reference not in _CELLS:
        raise ValueError(f"{reference} is not one of {', '.join(_CELLS)}")
    measured = check("reading", reading, -2.0, 2.0, "V")
    check("salinity", salinity, 1.0, 45.0, "g/kg")
    kelvin = check("temperature", temperature, -2.0, 40.0, "degC") + ZERO_CELSIUS
    best, low, high = _CELLS[reference]
    bare = GAS_CONSTANT * kelvin / FARADAY * math.log(_SEA / salinity) if reference == "silver-chloride" else 0.0
    return Converted(measured + best + bare, measured + low + bare, measured + high + bare)


def anode_life(mass: float, capacity: float, utilisation: float, current: float) -> float:
    """How long an anode lasts: t = m u c / I.

    Args:
        mass: of anode metal, without the insert [kg], 0.001 to 500.
        capacity: charge a kilogram gives [C/kg], 1e6 to 2e7; zinc 780 A h/kg, aluminium 2000 to 2650.
        utilisation: share that can be used before the rest falls off, 0.1 to 1.
        current: mean [A], 1e-6 to 100.

    Returns:
        Life [s].

    Raises:
        OutOfRangeError: a value outside its range.

    Source: BS 7361 figures for zinc (780 A h/kg, 11.25 kg an ampere-year); a kilogram at 0.85 and 50 mA lasts 1.51 years.
    """
    check("mass", mass, 1e-3, 500.0, "kg")
    check("capacity", capacity, 1e6, 2e7, "C/kg")
    check("utilisation", utilisation, 0.1, 1.0)
    check("current", current, 1e-6, 100.0, "A")
    return mass * utilisation * capacity / current


def anode_current(lost: float, time: float, capacity: float) -> float:
    """The mean current an anode has given, from the mass it lost: I = m c / t.

    Args:
        lost: [kg], 0 to 500.
        time: [s], 3600 to 1e9.
        capacity: [C/kg], 1e6 to 2e7.

    Returns:
        Current [A].

    Raises:
        OutOfRangeError: a value outside its range.

    Source: as `anode_life`.
    """
    check("capacity", capacity, 1e6, 2e7, "C/kg")
    return check("lost", lost, 0.0, 500.0, "kg") * capacity / check("time", time, 3600.0, 1e9, "s")


def anode_wear(new: float, first: float, second: float, between: float, keep: float, reading_error: float) -> AnodeWear:
    """When an anode is due, from two readings of its mass, length or thickness: time left = (second - keep new) / rate.

    The readings may be in any one unit. `between` may be calendar time or engine hours: what comes out is of that kind.

    Args:
        new: the anode when new, above 0.
        first: earlier reading, not above `new`.
        second: later reading, below `first`.
        between: time from the first to the second [s], 3600 to 1e9.
        keep: share of the new anode at which it is renewed, 0.05 to 0.95; half is common practice.
        reading_error: one standard deviation of a reading, in its unit, 0 or more.

    Returns:
        AnodeWear: rate, share left, time left with the earliest and latest that the two readings allow, life of a new one.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: readings that grow, or no wear at all. An anode that does not waste in sea water is not connected, painted or crusted.

    Source: straight line through two points; the limits are those of Fieller for a ratio, with two standard deviations. Half is
    printed in several engine makers' books.
    """
    check("between", between, 3600.0, 1e9, "s")
    check("keep", keep, 0.05, 0.95)
    check("reading_error", reading_error, 0.0, new if new > 0 else 0.0)
    if not 0 <= second <= first <= new or new <= 0:
        raise ValueError("an anode only gets smaller: new, then the first reading, then the second")
    if second == first:
        raise ValueError("no wear between the readings; an anode that does not waste in the sea is not connected, painted or crusted over")
    loss, spare = first - second, second - keep * new
    rate = loss / between
    whole = (1.0 - keep) * new / rate
    if spare <= 0:
        return AnodeWear(rate, second / new, 0.0, 0.0, 0.0, whole)
    noise = (_TWO_SIGMA * reading_error) ** 2
    a, half_b, c = loss**2 - 2.0 * noise, spare * loss + noise, spare**2 - noise
    root = math.sqrt(max(0.0, half_b**2 - a * c))
    earliest = max(0.0, c / (half_b + root)) * between
    latest = (half_b + root) / a * between if a > 0 else None
    return AnodeWear(rate, second / new, spare / rate, earliest, latest, whole)


def shunt_current(reading: float, rated_voltage: float, rated_current: float) -> float:
    """Current through a shunt from the voltage across it: I = U I_rated / U_rated.

    Args:
        reading: across the shunt [V], -1 to 1.
        rated_voltage: stamped on the shunt [V], 0.001 to 1.
        rated_current: stamped on the shunt [A], 0.001 to 2000.

    Returns:
        Current [A], with the sign of the reading.

    Raises:
        OutOfRangeError: a value outside its range.

    Source: law of Ohm.
    """
    check("reading", reading, -1.0, 1.0, "V")
    check("rated_voltage", rated_voltage, 1e-3, 1.0, "V")
    return reading * check("rated_current", rated_current, 1e-3, 2000.0, "A") / rated_voltage


def lost_to_current(metal: Dissolving, current: float, time: float, area: float) -> MetalLost:
    """Metal that a stray current takes off where it leaves into the water: m = I t M / (z F), depth = m / (density area).

    Args:
        metal: iron (and steel), copper (and its bronzes, near enough), zinc, aluminium.
        current: leaving the metal [A], 1e-6 to 100.
        time: [s], 60 to 1e9.
        area: of bare metal it leaves from [m^2], 1e-6 to 100.

    Returns:
        MetalLost: mass, and depth if spread evenly. Pits go several times as deep.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: another metal.

    Source: law of Faraday; an ampere takes 9.13 kg of iron or 10.39 kg of copper a year. Densities from memory of handbook tables.
    """
    if metal not in _DENSITY:
        raise ValueError(f"{metal} is not one of {', '.join(_DENSITY)}")
    check("current", current, 1e-6, 100.0, "A")
    check("time", time, 60.0, 1e9, "s")
    mass = metal_mass(metal, current * time)
    return MetalLost(mass, mass / (_DENSITY[metal] * check("area", area, 1e-6, 100.0, "m^2")))
