"""The wet exhaust in figures: back pressure, riser and heel, fall, water that runs back, and carbon monoxide.

Published figures disagree. Where they do, both ends are kept and the answer says on which side of them she lies; the engine's
own book decides between.
"""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from diagnose.measure.electrolysis import molar_volume
from diagnose.measure.flow import expected_flow
from diagnose.measure.pressure import head_pressure
from diagnose.measure.valid import check

__all__ = [
    "BackPressure",
    "CarbonMonoxide",
    "Fall",
    "LiftBox",
    "Riser",
    "back_pressure",
    "carbon_monoxide",
    "column_back_pressure",
    "concentration_of_share",
    "cranking_time",
    "fall_of_run",
    "height_heeled",
    "lift_box",
    "riser_check",
    "share_of_concentration",
    "standing_water",
    "wet_bore",
]

BACK_PRESSURE_LIMITS: dict[str, tuple[float, float]] = {"natural": (8.466e3, 15e3), "turbo": (5.171e3, 15e3)}
"""Strictest and loosest published limit [Pa]: 2.5 inHg (Gerr) and 0.75 psi (a maker); 15 kPa (another maker, for some of his)."""

RISER_LEAST, RISER_MOST = 0.200, 0.305
"""Height of the injection point over the water outside [m]: a maker's figure, and that of Professional BoatBuilder."""

FALL_LEAST, FALL_MOST = 2.0, 5.0
"""Fall of the run [degrees]: Professional BoatBuilder, and a maker."""

BOX_TIMES_RISER = 3.0
"""Volume of the lift box in volumes of water in the riser, a maker's figure."""

WET_TO_DRY = 1.4
"""Bore of a wet exhaust in bores of a dry one (Gerr)."""

MOLAR_MASS_CO = 28.010e-3
"""Of carbon monoxide [kg/mol], IUPAC atomic weights."""

AT_ONCE, CEILING, ANY = 1200e-6, 200e-6, 9e-6
"""Shares of the air: danger to life at once and ceiling (NIOSH), and the ambient limit over eight hours (US EPA)."""

AVERAGED = ((10e-6, 28800.0), (25e-6, 3600.0), (50e-6, 1800.0), (90e-6, 900.0))
"""Share of the air, and how long it may last [s]: WHO Air Quality Guidelines for Europe, second edition."""


class BackPressure(NamedTuple):
    """Strictest and loosest limit that applies [Pa], the pressure as a share of the strictest, and a word."""

    strictest: float
    loosest: float
    share: float
    word: str


class Riser(NamedTuple):
    """Height of the injection point above the water, heeled [m], what it lost by heeling [m], and a word for upright and heeled."""

    heeled: float
    lost: float
    upright_word: str
    heeled_word: str


class Fall(NamedTuple):
    """Fall of a run as an angle [degrees] and as a share of its length, and a word."""

    angle: float
    slope: float
    word: str


class LiftBox(NamedTuple):
    """Water that runs back from the riser [m^3], the box it asks for [m^3], the box in volumes of that water, and a word."""

    water: float
    needed: float
    times: float
    word: str


class CarbonMonoxide(NamedTuple):
    """How long so much may be breathed [s], 0 where not at all, mass in the air [kg/m^3], and a word."""

    allowed: float
    concentration: float
    word: str


def column_back_pressure(height: float, density: float) -> float:
    """Back pressure from a clear tube bent to a U and part filled: density x g x difference of the two levels.

    Args:
        height: difference of the two levels [m], 0 to 3.
        density: fluid in the tube [kg/m^3], 780 to 13600; water 998 at 20 degC.

    Returns:
        Pressure [Pa].

    Raises:
        OutOfRangeError: outside those ranges.

    Source: hydrostatics.
    """
    check("density", density, 780.0, 13600.0, "kg/m^3")
    return head_pressure(check("height", height, 0.0, 3.0, "m"), density)


def back_pressure(pressure: float, engine: Literal["natural", "turbo"], book_limit: float | None) -> BackPressure:
    """Back pressure against the published limits, or against that of the engine's own book where it is known.

    Args:
        pressure: measured at full load close to the exhaust outlet of the engine [Pa], 0 to 50e3.
        engine: "natural" without a turbocharger, "turbo" with one.
        book_limit: limit in the engine's own book [Pa], 1000 to 30e3; None when not known.

    Returns:
        Strictest and loosest limit [Pa], pressure as a share of the strictest, and one of "within all limits",
        "the engine's book decides", "over all limits".

    Raises:
        OutOfRangeError: outside those ranges.
        ValueError: an engine that is neither.

    Source: natural 2.5 inHg, turbo 2.0 inHg (Gerr chapter 7); natural 1.5 psi, turbo 0.75 psi (a maker's technical data, page 11);
    10 kPa, and 15 kPa for some (another maker's installation manuals). They disagree by a factor of up to three.
    """
    check("pressure", pressure, 0.0, 50e3, "Pa")
    if engine not in BACK_PRESSURE_LIMITS:
        raise ValueError(f"'{engine}' is neither natural nor turbo")
    strictest, loosest = BACK_PRESSURE_LIMITS[engine]
    if book_limit is not None:
        strictest = loosest = check("book_limit", book_limit, 1e3, 30e3, "Pa")
    word = "within all limits" if pressure <= strictest else "over all limits" if pressure > loosest else "the engine's book decides"
    return BackPressure(strictest, loosest, pressure / strictest, word)


def height_heeled(height: float, offset: float, heel: float) -> float:
    """Height above the water of a point off the centreline, on the low side: height x cos(heel) - offset x sin(heel).

    She is taken to turn about the centreline at the waterline, neither rising nor trimming.

    Args:
        height: height above the water when upright [m], -1 to 5.
        offset: distance from the centreline [m], 0 to 3.
        heel: angle of heel [degrees], 0 to 60.

    Returns:
        Height [m]; negative under water.

    Raises:
        OutOfRangeError: outside those ranges.

    Source: plane geometry.
    """
    angle = math.radians(check("heel", heel, 0.0, 60.0, "degrees"))
    return check("height", height, -1.0, 5.0, "m") * math.cos(angle) - check("offset", offset, 0.0, 3.0, "m") * math.sin(angle)


def riser_check(height: float, offset: float, heel: float) -> Riser:
    """Height of the injection point, upright and heeled, against the published figures.

    Args:
        height: lowest point the water must climb over to reach the engine, above the loaded waterline [m], -1 to 2.
        offset: its distance from the centreline [m], 0 to 3.
        heel: heel to be looked at [degrees], 0 to 60.

    Returns:
        Height heeled [m], what was lost by heeling [m], and for upright and for heeled one of "under water", "too low by both",
        "enough for one source, too low for the other", "high enough by both"; both are the published heights.

    Raises:
        OutOfRangeError: outside those ranges.

    Source: 305 mm in Professional BoatBuilder, December 2017 and January 2018; 200 mm in a maker's installation manual. Both are
    given upright; holding the heeled height against them is stricter than either asks.
    """
    check("height", height, -1.0, 2.0, "m")
    heeled = height_heeled(height, offset, heel)
    return Riser(heeled, height - heeled, _riser_word(height), _riser_word(heeled))


def _riser_word(height: float) -> str:
    if height <= 0:
        return "under water"
    if height < RISER_LEAST:
        return "too low by both"
    return "high enough by both" if height >= RISER_MOST else "enough for one source, too low for the other"


def fall_of_run(drop: float, length: float) -> Fall:
    """Fall of a run of exhaust hose: arctan(drop / length).

    Args:
        drop: how far it falls towards the outlet [m], -2 to 3; negative when it climbs.
        length: level distance it covers [m], 0.05 to 20.

    Returns:
        Angle [degrees], slope as a share, and one of "climbs", "too flat by both", "enough for one source, too flat for the other",
        "steep enough by both"; both are the published falls.

    Raises:
        OutOfRangeError: outside those ranges.

    Source: 2 degrees or half an inch a foot in Professional BoatBuilder (half an inch a foot is really 2.4 degrees); 5 degrees on
    average in a maker's installation manual.
    """
    slope = check("drop", drop, -2.0, 3.0, "m") / check("length", length, 0.05, 20.0, "m")
    angle = math.degrees(math.atan(slope))
    if angle <= 0:
        word = "climbs"
    elif angle < FALL_LEAST:
        word = "too flat by both"
    else:
        word = "steep enough by both" if angle >= FALL_MOST else "enough for one source, too flat for the other"
    return Fall(angle, slope, word)


def standing_water(bore: float, length: float) -> float:
    """Water in a full length of hose: pi/4 x bore^2 x length.

    Args:
        bore: inside diameter [m], 0.01 to 0.3.
        length: length that drains back [m], 0 to 20.

    Returns:
        Volume [m^3].

    Raises:
        OutOfRangeError: outside those ranges.

    Source: geometry.
    """
    return math.pi / 4.0 * check("bore", bore, 0.01, 0.3, "m") ** 2 * check("length", length, 0.0, 20.0, "m")


def lift_box(bore: float, length: float, box: float) -> LiftBox:
    """Lift box against the water that runs back into it when she stops.

    Args:
        bore: inside diameter of the hose from the box to the top of its rise [m], 0.01 to 0.3.
        length: length of that hose [m], 0.05 to 20.
        box: volume of the box up to its inlet [m^3], 0.0005 to 0.3.

    Returns:
        Water that runs back [m^3], box asked for [m^3], box in volumes of that water, and one of "enough", "small", "too small": the
        last cannot hold even the water of the riser once.

    Raises:
        OutOfRangeError: outside those ranges.

    Source: three times the water in the riser, a maker's installation manuals.
    """
    water = standing_water(bore, check("length", length, 0.05, 20.0, "m"))
    times = check("box", box, 5e-4, 0.3, "m^3") / water
    word = "enough" if times >= BOX_TIMES_RISER else "small" if times >= 1.0 else "too small"
    return LiftBox(water, BOX_TIMES_RISER * water, times, word)


def cranking_time(room: float, displacement: float, ratio: float, speed: float, efficiency: float) -> float:
    """How long the starter may turn her before the lift box is full: room / flow of the raw-water pump at cranking speed.

    Args:
        room: room left in the box and the pipe up to the engine's exhaust [m^3], 0.0001 to 0.2.
        displacement: volume of one turn of the pump [m^3], 2e-6 to 1e-3.
        ratio: turns of the pump for one of the engine, 0.2 to 4.
        speed: cranking speed [turns/s], 3 to 8.
        efficiency: volumetric efficiency, 0.2 to 1.1.

    Returns:
        Time of turning in all, added up over all tries [s].

    Raises:
        OutOfRangeError: outside those ranges.

    Source: arithmetic. A maker's installation manual shuts the seacock before a minute of cranking.
    """
    check("speed", speed, 3.0, 8.0, "turns/s")
    return check("room", room, 1e-4, 0.2, "m^3") / expected_flow(displacement, ratio, speed, efficiency)


def wet_bore(dry_bore: float) -> float:
    """Bore of a wet exhaust for the same back pressure as a dry one: 1.4 x dry bore.

    Args:
        dry_bore: bore of the dry exhaust [m], 0.01 to 0.2.

    Returns:
        Bore [m].

    Raises:
        OutOfRangeError: outside that range.

    Source: Gerr chapter 7, a rule of thumb.
    """
    return WET_TO_DRY * check("dry_bore", dry_bore, 0.01, 0.2, "m")


def _molar_volume(temperature: float, barometer: float) -> float:
    return molar_volume(check("temperature", temperature, -20.0, 60.0, "degC"), check("barometer", barometer, 60e3, 110e3, "Pa"))


def share_of_concentration(concentration: float, temperature: float, barometer: float) -> float:
    """Carbon monoxide as a share of the air by volume: concentration x R x T / (M x barometer).

    Args:
        concentration: mass in the air [kg/m^3], 0 to 0.02.
        temperature: temperature of the air [degC], -20 to 60; published conversions use 25, some 20.
        barometer: pressure of the air [Pa], 60e3 to 110e3.

    Returns:
        Share of one (1e-6 is 1 ppm).

    Raises:
        OutOfRangeError: outside those ranges.

    Source: ideal gas; molar mass 28.010 g/mol.
    """
    return check("concentration", concentration, 0.0, 0.02, "kg/m^3") / MOLAR_MASS_CO * _molar_volume(temperature, barometer)


def concentration_of_share(share: float, temperature: float, barometer: float) -> float:
    """Mass of carbon monoxide in the air: share x M x barometer / (R x T).

    Args:
        share: share of the air by volume, 0 to 0.01.
        temperature: temperature of the air [degC], -20 to 60.
        barometer: pressure of the air [Pa], 60e3 to 110e3.

    Returns:
        Mass in the air [kg/m^3].

    Raises:
        OutOfRangeError: outside those ranges.

    Source: as `share_of_concentration`.
    """
    return check("share", share, 0.0, 0.01) * MOLAR_MASS_CO / _molar_volume(temperature, barometer)


def carbon_monoxide(share: float, time: float, temperature: float, barometer: float) -> CarbonMonoxide:
    """Carbon monoxide breathed for a time, against published limits.

    Args:
        share: share of the air by volume, 0 to 0.01.
        time: how long people were or will be in it [s], 0 to 172800.
        temperature: temperature of the air [degC], -20 to 60.
        barometer: pressure of the air [Pa], 60e3 to 110e3.

    Returns:
        How long so much may last [s] by the next stricter row of the WHO's table, eight hours at most, 0 above the last; mass in the
        air [kg/m^3]; and one of "low, but there should be none", "within the limits, find where it comes from", "too long, out into
        fresh air", "out at once", "danger to life, out at once". Eight hours is the longest row: a night aboard is longer.

    Raises:
        OutOfRangeError: outside those ranges.

    Source: WHO Air Quality Guidelines for Europe, second edition (10, 25, 50, 90 ppm over 8 h, 1 h, 30 min, 15 min); ceiling 200 ppm
    and danger at once 1200 ppm NIOSH; 9 ppm over 8 h US EPA. Workplace limits (50 ppm OSHA, 35 ppm NIOSH over a shift) are looser
    and are not made for sleepers, children or the sick.
    """
    check("time", time, 0.0, 172800.0, "s")
    mass = concentration_of_share(share, temperature, barometer)
    allowed = next((lasts for limit, lasts in AVERAGED if share <= limit), 0.0)
    if share >= AT_ONCE:
        word = "danger to life, out at once"
    elif allowed == 0.0 or share >= CEILING:
        word = "out at once"
    elif time > allowed:
        word = "too long, out into fresh air"
    elif share > ANY:
        word = "within the limits, find where it comes from"
    else:
        word = "low, but there should be none"
    return CarbonMonoxide(allowed, mass, word)
