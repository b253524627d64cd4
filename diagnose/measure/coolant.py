"""Antifreeze and water: freezing, boiling, heat capacity, and how to bring a circuit to the mix that is wanted.

Shares are by volume of the concentrate as bought, as on its label. Concentrate is not pure glycol: it holds a few percent
of water and inhibitors. `strength` is the share of glycol in it, by volume; the rest is counted as water. Tables of pure
glycol are read with a strength of 1. Every formula here goes by the mass of glycol, which is worked out at 20 deg C.
"""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from diagnose.measure.constants import ATMOSPHERE
from diagnose.measure.valid import check
from diagnose.measure.water import saturation_temperature

__all__ = [
    "Cap",
    "FreezeBoil",
    "Glycol",
    "Mix",
    "Replacement",
    "boiling_point",
    "boiling_under_cap",
    "cap",
    "density",
    "expansion",
    "freeze_and_boil",
    "freeze_point",
    "mass_share",
    "mix_of_freeze_point",
    "replace",
    "share_of_freeze_point",
    "share_of_mass",
    "specific_heat",
]

Glycol = Literal["ethylene", "propylene"]

WATER_20 = 998.2
"""Density of pure water at 20 deg C [kg/m^3]."""
GLYCOL_20: dict[Glycol, float] = {"ethylene": 1113.2, "propylene": 1036.1}
"""Density of the pure glycols at 20 deg C [kg/m^3]."""
GLYCOL_MOLE: dict[Glycol, float] = {"ethylene": 62.07, "propylene": 76.09}
"""Molar mass of the glycols [g/mol]."""
WATER_MOLE = 18.015
MASS_HIGH = 0.60
"""Share of mass up to which the formulas for freezing, density and specific heat hold."""
BOIL_MASS_HIGH = 0.70
"""Share of mass up to which the boiling point agrees with the published table within about a kelvin."""
STRENGTH_LOW = 0.8
WARM_HIGH = 100.0
"""Upper end of the formulas for density and specific heat [deg C]."""
_STEPS = 60
"""Halvings that bring a share to the last digit of a float."""


class _Fit(NamedTuple):
    """Melinder's polynomials: in mass share less `share_base`, and in temperature less `kelvin_base` (a row a power)."""

    share_base: float
    kelvin_base: float
    freeze: tuple[float, ...]
    density: tuple[tuple[float, ...], ...]
    specific_heat: tuple[tuple[float, ...], ...]


_FITS: dict[Glycol, _Fit] = {
    "ethylene": _Fit(
        0.308462, 304.878, (257.9, -80.8, -133.4, -72.93, 100.6, 11.4),
        ((1034.0, 131.1, 0.749, -106.2, -96.23, 489.1), (-0.4781, -0.6876, 0.7855, 1.229, -7.211),
         (-2.692e-3, 4.805e-3, -3.995e-3, -1.153e-2), (4.725e-6, 1.69e-6, 4.982e-5)),
        ((3737.0, -1799.0, -993.3, 2610.0, 1537.0, -16180.0), (2.93, 10.46, 3.516, -1.189, -42.72),
         (-4.675e-3, -4.147e-2, 5.109e-2, -0.1643), (-1.389e-5, 1.847e-5, -7.138e-4)),
    ),
    "propylene": _Fit(
        0.307031, 305.8583, (259.9, -66.31, -109.4, -228.3, -340.9, 146.5),
        ((1018.0, 76.04, -24.98, -155.0, -113.1, 234.2), (-0.5406, -0.945, 0.27, 2.829, -2.221),
         (-2.666e-3, 5.541e-3, -4.018e-3, -7.175e-3), (1.347e-5, -1.343e-5, 3.376e-5)),
        ((3882.0, -1304.0, -1598.0, 353.9, 5000.0, -4959.0), (2.699, 5.07, 0.9534, 31.02, -71.35),
         (-1.659e-3, -4.752e-3, 0.1167, -0.295), (-1.032e-5, 1.522e-4, -4.87e-4)),
    ),
}


class FreezeBoil(NamedTuple):
    """Freezing point and open boiling point [deg C], and the glycol in the mix as a share of its mass."""

    freezes: float
    boils: float
    by_mass: float


class Cap(NamedTuple):
    """Boiling point under the cap and with the cap failed [deg C], and how far the coolant stays below each [K]."""

    boils: float
    boils_open: float
    margin: float
    margin_open: float


class Mix(NamedTuple):
    """Share of concentrate by volume, and where that mix boils in the open [deg C]."""

    share: float
    boils: float


class Replacement(NamedTuple):
    """How to bring a circuit to another mix.

    `drain` and `fill` are what to let out and put in at the first go [m^3], `reach` the share after it, `rounds` how many goes it
    takes in all, `last` what to let out and put in at the last of them [m^3].
    """

    drain: float
    fill: float
    reach: float
    rounds: float
    last: float


def mass_share(kind: Glycol, share: float, strength: float) -> float:
    """Glycol as a share of the mass of the mix: g rho_g / (g rho_g + (1 - g) rho_w), with g = share x strength.

    Args:
        kind: ethylene or propylene.
        share: concentrate by volume before mixing, 0 to 1.
        strength: glycol in the concentrate by volume, 0.8 to 1.

    Raises:
        OutOfRangeError: outside these ranges.

    Source: volumes before mixing, with the densities of the pure liquids at 20 deg C from handbooks.
    """
    check("share", share, 0.0, 1.0)
    glycol = share * check("strength", strength, STRENGTH_LOW, 1.0)
    heavy = glycol * GLYCOL_20[kind]
    return heavy / (heavy + (1.0 - glycol) * WATER_20)


def share_of_mass(kind: Glycol, by_mass: float, strength: float) -> float:
    """Concentrate as a share of volume, from glycol as a share of mass: `mass_share` turned round.

    Args:
        kind: ethylene or propylene.
        by_mass: glycol by mass, 0 to what the undiluted concentrate holds.
        strength: glycol in the concentrate by volume, 0.8 to 1.

    Raises:
        OutOfRangeError: outside these ranges.

    Source: as `mass_share`.
    """
    check("by_mass", by_mass, 0.0, mass_share(kind, 1.0, strength) * (1.0 + 1e-12))
    light = by_mass / GLYCOL_20[kind]
    return min(1.0, light / (light + (1.0 - by_mass) / WATER_20) / strength)


def freeze_point(kind: Glycol, share: float, strength: float) -> float:
    """Temperature at which the first ice forms [deg C], a polynomial in the share of mass.

    Args:
        kind: ethylene or propylene.
        share: concentrate by volume, 0 to about 0.6: the formula ends at 60 % of glycol by mass.
        strength: glycol in the concentrate by volume, 0.8 to 1.

    Raises:
        OutOfRangeError: outside these ranges. More concentrate than that protects less again.

    Source: Melinder, Properties of Secondary Working Fluids for Indirect Systems (2010), as published with CoolProp.
    """
    return _freeze_of_mass(kind, _checked_mass(kind, share, strength, MASS_HIGH))


def share_of_freeze_point(kind: Glycol, freezes: float, strength: float) -> float:
    """Concentrate by volume in a mix whose freezing point was measured: `freeze_point` turned round.

    Args:
        kind: ethylene or propylene. A tester made for the one reads the other wrong.
        freezes: 0 down to that of 60 % glycol by mass, about -51 for ethylene and -50 for propylene [deg C].
        strength: glycol in the concentrate by volume, 0.8 to 1.

    Raises:
        OutOfRangeError: outside these ranges.

    Source: as `freeze_point`.
    """
    check("freezes", freezes, _freeze_of_mass(kind, MASS_HIGH), 0.0, "degC")
    low, high = 0.0, MASS_HIGH
    for _ in range(_STEPS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if _freeze_of_mass(kind, middle) > freezes else (low, middle)
    return share_of_mass(kind, (low + high) / 2.0, strength)


def boiling_point(kind: Glycol, share: float, strength: float, pressure: float) -> float:
    """Temperature at which the mix boils [deg C]: where pure water has the pressure p / x, x the share of molecules that are water.

    Raoult's law, with the vapour of the glycol itself left out. It agrees with SAE J814 within half a kelvin up to 60 % and
    reads 1 to 2.5 K high at 70 %.

    Args:
        kind: ethylene or propylene.
        share: concentrate by volume, 0 to about 0.7 (70 % glycol by mass).
        strength: glycol in the concentrate by volume, 0.8 to 1.
        pressure: absolute, 50 to 400 kPa [Pa].

    Raises:
        OutOfRangeError: outside these ranges.

    Source: Raoult's law over the IAPWS IF97 saturation line; checked against SAE J814_202305.
    """
    check("pressure", pressure, 5e4, 4e5, "Pa")
    by_mass = _checked_mass(kind, share, strength, BOIL_MASS_HIGH)
    water = (1.0 - by_mass) / WATER_MOLE
    return saturation_temperature(pressure * (water + by_mass / GLYCOL_MOLE[kind]) / water)


def boiling_under_cap(kind: Glycol, share: float, strength: float, cap_pressure: float, atmosphere: float = ATMOSPHERE) -> float:
    """Temperature at which the mix boils in a closed circuit [deg C]: `boiling_point` at air pressure plus that of the cap.

    Args:
        kind: ethylene or propylene.
        share: concentrate by volume, 0 to about 0.7.
        strength: glycol in the concentrate by volume, 0.8 to 1.
        cap_pressure: what the cap holds over the air round it, 0 (open, or a cap that leaks) to 200 kPa [Pa].
        atmosphere: air pressure, 50 to 110 kPa [Pa].

    Raises:
        OutOfRangeError: outside these ranges.

    Source: as `boiling_point`.
    """
    check("cap_pressure", cap_pressure, 0.0, 2e5, "Pa")
    check("atmosphere", atmosphere, 5e4, 1.1e5, "Pa")
    return boiling_point(kind, share, strength, atmosphere + cap_pressure)


def freeze_and_boil(kind: Glycol, share: float, strength: float, atmosphere: float = ATMOSPHERE) -> FreezeBoil:
    """Freezing point and open boiling point of a mix.

    Args:
        kind: ethylene or propylene.
        share: concentrate by volume, 0 to about 0.6.
        strength: glycol in the concentrate by volume, 0.8 to 1.
        atmosphere: air pressure, 50 to 110 kPa [Pa].

    Raises:
        OutOfRangeError: outside these ranges.

    Source: as `freeze_point` and `boiling_point`.
    """
    boils = boiling_under_cap(kind, share, strength, 0.0, atmosphere)
    return FreezeBoil(freeze_point(kind, share, strength), boils, mass_share(kind, share, strength))


def cap(kind: Glycol, share: float, strength: float, cap_pressure: float, hottest: float, atmosphere: float = ATMOSPHERE) -> Cap:
    """What a pressure cap is worth: boiling with it and without, and how far the coolant stays below.

    Args:
        kind: ethylene or propylene.
        share: concentrate by volume, 0 to about 0.7.
        strength: glycol in the concentrate by volume, 0.8 to 1.
        cap_pressure: what the cap holds over the air round it, 0 to 200 kPa [Pa].
        hottest: the coolant where it is hottest, 0 to 150 [deg C].
        atmosphere: air pressure, 50 to 110 kPa [Pa].

    Raises:
        OutOfRangeError: outside these ranges.

    Source: as `boiling_point`.
    """
    check("hottest", hottest, 0.0, 150.0, "degC")
    shut = boiling_under_cap(kind, share, strength, cap_pressure, atmosphere)
    failed = boiling_under_cap(kind, share, strength, 0.0, atmosphere)
    return Cap(shut, failed, shut - hottest, failed - hottest)


def mix_of_freeze_point(kind: Glycol, freezes: float, strength: float) -> Mix:
    """What is in the circuit, from the reading of a freeze tester.

    Args:
        kind: ethylene or propylene.
        freezes: 0 down to about -50 [deg C].
        strength: glycol in the concentrate by volume, 0.8 to 1.

    Raises:
        OutOfRangeError: outside these ranges.

    Source: as `freeze_point` and `boiling_point`.
    """
    share = share_of_freeze_point(kind, freezes, strength)
    return Mix(share, boiling_point(kind, share, strength, ATMOSPHERE))


def density(kind: Glycol, share: float, strength: float, temperature: float) -> float:
    """Density of the mix [kg/m^3], a polynomial in share of mass and temperature.

    Args:
        kind: ethylene or propylene.
        share: concentrate by volume, 0 to about 0.6.
        strength: glycol in the concentrate by volume, 0.8 to 1.
        temperature: from the freezing point to 100 [deg C].

    Raises:
        OutOfRangeError: outside these ranges.

    Source: Melinder (2010), as published with CoolProp; without glycol it is within 0.1 % of water.
    """
    by_mass = _checked_warmth(kind, share, strength, temperature)
    return _surface(_FITS[kind], _FITS[kind].density, by_mass, temperature)


def specific_heat(kind: Glycol, share: float, strength: float, temperature: float) -> float:
    """Specific heat of the mix [J/(kg K)], a polynomial in share of mass and temperature.

    Args:
        kind: ethylene or propylene.
        share: concentrate by volume, 0 to about 0.6.
        strength: glycol in the concentrate by volume, 0.8 to 1.
        temperature: from the freezing point to 100 [deg C].

    Raises:
        OutOfRangeError: outside these ranges.

    Source: Melinder (2010), as published with CoolProp.
    """
    by_mass = _checked_warmth(kind, share, strength, temperature)
    return _surface(_FITS[kind], _FITS[kind].specific_heat, by_mass, temperature)


def expansion(kind: Glycol, share: float, strength: float, volume: float, cold: float, hot: float) -> float:
    """How much a circuit's coolant grows between cold and hot [m^3]: V (rho_cold / rho_hot - 1). The metal round it is left out.

    Args:
        kind: ethylene or propylene.
        share: concentrate by volume, 0 (plain water) to about 0.6.
        strength: glycol in the concentrate by volume, 0.8 to 1.
        volume: coolant in the whole circuit when cold, 0.1 L to 1 m^3 [m^3].
        cold: from its freezing point [deg C].
        hot: up to 100 and not under `cold` [deg C].

    Raises:
        OutOfRangeError: outside these ranges.
        ValueError: hot is colder than cold.

    Source: conservation of mass; densities as `density`. Copper, iron and aluminium grow by about a tenth as much.
    """
    check("volume", volume, 1e-4, 1.0, "m^3")
    if hot < cold:
        raise ValueError("the hot temperature is under the cold one")
    return volume * (density(kind, share, strength, cold) / density(kind, share, strength, hot) - 1.0)


def replace(volume: float, drains: float, share_now: float, share_wanted: float, share_added: float) -> Replacement:
    """How much coolant to let out, and to replace, to come to another mix: V (wanted - now) / (added - now) of a well mixed circuit.

    Where not enough runs out, everything that runs out is replaced, the engine is run warm to mix it, and it is done again.
    Volumes are taken to add up; antifreeze and water shrink by about a hundredth when they mix.

    Args:
        volume: coolant in the whole circuit, with heater and bottle, 0.1 L to 1 m^3 [m^3].
        drains: what runs out at the drains, more than 1 % of it and no more than all of it [m^3].
        share_now: concentrate by volume in the circuit, 0 to 1.
        share_wanted: what it should be, 0 to 1.
        share_added: what is filled in: 1 concentrate, 0 plain water, between them a ready mix.

    Raises:
        OutOfRangeError: outside these ranges.
        ValueError: what is filled in cannot bring the circuit to what is wanted.

    Source: conservation of the antifreeze.
    """
    check("volume", volume, 1e-4, 1.0, "m^3")
    check("drains", drains, 0.01 * volume, volume, "m^3")
    for name, share in (("share_now", share_now), ("share_wanted", share_wanted), ("share_added", share_added)):
        check(name, share, 0.0, 1.0)
    if share_now == share_wanted:
        return Replacement(0.0, 0.0, share_now, 0.0, 0.0)
    left = (share_wanted - share_added) / (share_now - share_added) if share_now != share_added else math.inf
    if not 0.0 <= left < 1.0:
        raise ValueError("what is filled in cannot bring the circuit to the mix that is wanted")
    stays = 1.0 - drains / volume
    if left == 0.0 and stays > 0.0:
        raise ValueError("what is filled in is only just the mix that is wanted, and what stays in the circuit keeps it from getting there")
    once = min(volume * (1.0 - left), drains)
    rounds = 1 if left >= stays else math.ceil(math.log(left) / math.log(stays) - 1e-9)
    last = volume * (1.0 - left / stays ** (rounds - 1)) if rounds > 1 else once
    reached = share_wanted if rounds == 1 else share_now + (share_added - share_now) * once / volume
    return Replacement(once, once, reached, float(rounds), last)


def _freeze_of_mass(kind: Glycol, by_mass: float) -> float:
    fit = _FITS[kind]
    return _polynomial(fit.freeze, by_mass - fit.share_base) - 273.15


def _checked_mass(kind: Glycol, share: float, strength: float, mass_high: float) -> float:
    """Share of mass, refused above `mass_high` in terms of what the person gave: the share of concentrate."""
    check("strength", strength, STRENGTH_LOW, 1.0)
    check("share", share, 0.0, share_of_mass(kind, mass_high, strength))
    return mass_share(kind, share, strength)


def _checked_warmth(kind: Glycol, share: float, strength: float, temperature: float) -> float:
    by_mass = _checked_mass(kind, share, strength, MASS_HIGH)
    check("temperature", temperature, min(0.0, _freeze_of_mass(kind, by_mass)), WARM_HIGH, "degC")
    return by_mass


def _surface(fit: _Fit, rows: tuple[tuple[float, ...], ...], by_mass: float, temperature: float) -> float:
    return _polynomial(tuple(_polynomial(row, by_mass - fit.share_base) for row in rows), temperature + 273.15 - fit.kelvin_base)


def _polynomial(factors: tuple[float, ...], x: float) -> float:
    value = 0.0
    for factor in reversed(factors):
        value = value * x + factor
    return value
