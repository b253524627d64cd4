"""What a current does in water: metal dissolved or set free, gas made, air needed to carry the gas away, rust taken off.

All of it is the law of Faraday: so many coulombs, so many moles. Molar masses are the standard atomic weights of IUPAC,
the constants those of CODATA 2018.
"""

from __future__ import annotations

from typing import Final, Literal, NamedTuple

from diagnose.measure.constants import FARADAY, GAS_CONSTANT, ZERO_CELSIUS
from diagnose.measure.valid import check

__all__ = [
    "ATOMIC_WEIGHT",
    "HYDROGEN_LIMIT",
    "Derusting",
    "Gas",
    "GasMade",
    "Metal",
    "air_for_hydrogen",
    "charge_passed",
    "charging_gas",
    "derusting",
    "gas_volume",
    "metal_charge",
    "metal_mass",
    "molar_volume",
    "time_to_share",
]

HYDROGEN_LIMIT: Final = 0.04
"""Least share of hydrogen in air, by volume, that burns; the classical closed-vessel figure of 4 % by volume."""

ATOMIC_WEIGHT: Final[dict[str, float]] = {
    "H": 1.008, "C": 12.011, "O": 15.999, "Na": 22.990, "Mg": 24.305, "Al": 26.982, "P": 30.974, "Cl": 35.45,
    "Ca": 40.078, "Fe": 55.845, "Cu": 63.546, "Zn": 65.38,
}
"""Standard atomic weights [g/mol], IUPAC 2021, abridged to five figures."""

Metal = Literal["iron", "copper", "zinc", "aluminium", "magnesium"]
Gas = Literal["hydrogen", "oxygen"]

# symbol and electrons an atom gives up. Copper counts two, as in the textbooks; in sea water it goes as copper(I) in
# part, one electron an atom, and then up to twice the mass is lost (memory).
_METALS: Final[dict[str, tuple[str, int]]] = {
    "iron": ("Fe", 2), "copper": ("Cu", 2), "zinc": ("Zn", 2), "aluminium": ("Al", 3), "magnesium": ("Mg", 2),
}
_GASES: Final[dict[str, int]] = {"hydrogen": 2, "oxygen": 4}


class GasMade(NamedTuple):
    """Hydrogen made by a charging current, and the air it needs."""

    hydrogen_rate: float
    """[m^3/s]"""
    air: float
    """[m^3/s]"""
    closed_time: float
    """Until the closed space holds the share allowed [s]."""


class Derusting(NamedTuple):
    """A bath that takes rust off with a current."""

    current: float
    """[A]"""
    charge: float
    """[C]"""
    hydrogen: float
    """Over the whole time [m^3]."""
    hydrogen_rate: float
    """[m^3/s]"""
    air: float
    """Fresh air needed [m^3/s]."""
    soda: float
    """Washing soda, free of water, for the bath [kg]."""


def _electrons(metal: Metal) -> tuple[float, int]:
    if metal not in _METALS:
        raise ValueError(f"{metal} is not one of {', '.join(_METALS)}")
    symbol, electrons = _METALS[metal]
    return ATOMIC_WEIGHT[symbol] / 1000.0, electrons


def charge_passed(current: float, time: float) -> float:
    """Charge of a steady current: Q = I t.

    Args:
        current: [A], 0 to 10000.
        time: [s], 0 to 3e9.

    Returns:
        Charge [C].

    Raises:
        OutOfRangeError: a value outside its range.

    Source: definition of the coulomb.
    """
    return check("current", current, 0.0, 1e4, "A") * check("time", time, 0.0, 3e9, "s")


def metal_mass(metal: Metal, charge: float) -> float:
    """Metal dissolved (or set free) by a charge: m = Q M / (z F).

    Args:
        metal: iron, copper, zinc, aluminium, magnesium.
        charge: [C], 0 to 1e13.

    Returns:
        Mass [kg].

    Raises:
        OutOfRangeError: a charge outside its range.
        ValueError: another metal.

    Source: law of Faraday; checked on iron 9.13 and copper 10.39 kg for an ampere-year. Copper is counted with two
    electrons; in sea water up to twice as much is lost (memory).
    """
    molar, electrons = _electrons(metal)
    return check("charge", charge, 0.0, 1e13, "C") * molar / (electrons * FARADAY)


def metal_charge(metal: Metal) -> float:
    """Charge a kilogram of metal can give at most: z F / M.

    Args:
        metal: iron, copper, zinc, aluminium, magnesium.

    Returns:
        Capacity [C/kg]; zinc 819.9 and aluminium 2980 A h/kg.

    Raises:
        ValueError: another metal.

    Source: law of Faraday. Real anodes give less: zinc about 95 %, aluminium 67 to 90 %.
    """
    molar, electrons = _electrons(metal)
    return electrons * FARADAY / molar


def molar_volume(temperature: float, pressure: float) -> float:
    """Volume of a mole of an ideal gas: V = R T / p.

    Args:
        temperature: [degC], -20 to 100.
        pressure: absolute [Pa], 50000 to 200000.

    Returns:
        [m^3/mol]; 0.022414 at 0 degC and 101325 Pa.

    Raises:
        OutOfRangeError: a value outside its range.

    Source: ideal gas.
    """
    kelvin = check("temperature", temperature, -20.0, 100.0, "degC") + ZERO_CELSIUS
    return GAS_CONSTANT * kelvin / check("pressure", pressure, 5e4, 2e5, "Pa")


def gas_volume(gas: Gas, charge: float, temperature: float, pressure: float) -> float:
    """Gas set free by a charge: V = Q R T / (z F p), dry.

    Args:
        gas: hydrogen (two electrons a molecule) or oxygen (four).
        charge: [C], 0 to 1e13.
        temperature: [degC], -20 to 100.
        pressure: absolute [Pa], 50000 to 200000.

    Returns:
        Volume [m^3].

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: another gas.

    Source: law of Faraday and ideal gas; Chang, Chemistry, example 19.9: 1.26 A for 7.44 h give 3.92 L of hydrogen.
    """
    if gas not in _GASES:
        raise ValueError(f"{gas} is not one of {', '.join(_GASES)}")
    moles = check("charge", charge, 0.0, 1e13, "C") / (_GASES[gas] * FARADAY)
    return moles * molar_volume(temperature, pressure)


def air_for_hydrogen(hydrogen_rate: float, highest_share: float) -> float:
    """Fresh air that keeps well mixed hydrogen at a share: air = hydrogen (1 - x) / x.

    Args:
        hydrogen_rate: [m^3/s], 0 to 1.
        highest_share: share of hydrogen allowed, by volume, 0.001 to 0.04. A quarter of what burns is 0.01.

    Returns:
        Air [m^3/s].

    Raises:
        OutOfRangeError: a value outside its range.

    Source: dilution; the factor 24 of EN 50272 is the same at x = 0.04. Gas under a lid or a deck head is not mixed.
    """
    share = check("highest_share", highest_share, 0.001, HYDROGEN_LIMIT)
    return check("hydrogen_rate", hydrogen_rate, 0.0, 1.0, "m^3/s") * (1.0 - share) / share


def time_to_share(space: float, hydrogen_rate: float, share: float) -> float:
    """Time until a closed space holds a share of hydrogen: t = x V / rate.

    Args:
        space: air in the space [m^3], 0.001 to 1000.
        hydrogen_rate: [m^3/s], 1e-12 to 1.
        share: by volume, 0.001 to 0.04.

    Returns:
        Time [s]. The first pockets burn much earlier: hydrogen gathers at the top.

    Raises:
        OutOfRangeError: a value outside its range.

    Source: dilution.
    """
    check("space", space, 1e-3, 1e3, "m^3")
    check("hydrogen_rate", hydrogen_rate, 1e-12, 1.0, "m^3/s")
    return check("share", share, 0.001, HYDROGEN_LIMIT) * space / hydrogen_rate


def charging_gas(current: float, cells: float, temperature: float, pressure: float, highest_share: float, space: float) -> GasMade:
    """Hydrogen of a full battery on charge, when all the current makes gas: rate = n I R T / (2 F p).

    Args:
        current: still taken by the full battery [A], 0.001 to 500.
        cells: in series: 3 for 6 V, 6 for 12 V, 12 for 24 V; 1 to 30.
        temperature: of the gas [degC], -20 to 100.
        pressure: absolute [Pa], 50000 to 200000.
        highest_share: share of hydrogen allowed, 0.001 to 0.04.
        space: air in the battery's space [m^3], 0.001 to 1000.

    Returns:
        GasMade: hydrogen a second, air needed, time until the closed space holds that share.

    Raises:
        OutOfRangeError: a value outside its range.

    Source: law of Faraday. EN 50272-3 counts 0.42 L an ampere-hour and cell (0 degC), 24 times as much air and a safety
    factor of 5 against 4 %: 0.05 m^3/h of air an ampere and cell.
    """
    check("current", current, 1e-3, 500.0, "A")
    check("cells", cells, 1.0, 30.0)
    rate = gas_volume("hydrogen", current, temperature, pressure) * cells
    return GasMade(rate, air_for_hydrogen(rate, highest_share), time_to_share(space, rate, highest_share))


def derusting(area: float, current_density: float, time: float, bath: float, soda_strength: float, temperature: float,
              pressure: float, highest_share: float) -> Derusting:
    """A washing-soda bath with the rusty part as the minus pole: I = j A, Q = I t, hydrogen = Q R T / (2 F p).

    Args:
        area: rusty surface, all sides [m^2], 0.0001 to 5.
        current_density: [A/m^2], 1 to 200. Common practice 10 to 100.
        time: [s], 60 to 2e6.
        bath: water in the bath [m^3], 0.0005 to 2.
        soda_strength: washing soda without its water [kg/m^3, which is g/L], 1 to 60.
        temperature: of the bath [degC], 0 to 60.
        pressure: absolute [Pa], 50000 to 200000.
        highest_share: share of hydrogen allowed in the room, 0.001 to 0.04.

    Returns:
        Derusting: current, charge, hydrogen, its rate, fresh air needed, washing soda.

    Raises:
        OutOfRangeError: a value outside its range.

    Source: law of Faraday; current density and soda common practice. Counts all the current as hydrogen, which is the
    safe side: some of it reduces rust.
    """
    check("area", area, 1e-4, 5.0, "m^2")
    check("current_density", current_density, 1.0, 200.0, "A/m^2")
    check("time", time, 60.0, 2e6, "s")
    check("bath", bath, 5e-4, 2.0, "m^3")
    check("soda_strength", soda_strength, 1.0, 60.0, "kg/m^3")
    check("temperature", temperature, 0.0, 60.0, "degC")
    current = current_density * area
    charge = charge_passed(current, time)
    hydrogen = gas_volume("hydrogen", charge, temperature, pressure)
    rate = hydrogen / time
    return Derusting(current, charge, hydrogen, rate, air_for_hydrogen(rate, highest_share), bath * soda_strength)
