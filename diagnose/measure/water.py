"""Fresh and sea water: density, specific heat, freezing point, vapour pressure and boiling point.

Pure water and sea water follow the formulations of the International Association for the Properties of Water and
Steam (IAPWS), in the form for the surface: at one atmosphere pressure hardly matters, and the formulas are short.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from diagnose.measure.constants import ZERO_CELSIUS
from diagnose.measure.valid import check

__all__ = [
    "SALINITY_HIGH",
    "SEA_HIGH",
    "SEA_LOW",
    "SeaWater",
    "density",
    "freezing_point",
    "fresh_density",
    "fresh_specific_heat",
    "properties",
    "saturation_temperature",
    "specific_heat",
    "vapour_pressure",
]

SEA_LOW, SEA_HIGH = -2.0, 80.0
"""Range of the sea-water formulas [deg C]."""
SALINITY_HIGH = 42.0
"""Upper end of the practical salinity scale of 1978."""
FRESH_LOW, FRESH_HIGH = -2.0, 110.0
CRITICAL = 647.096 - ZERO_CELSIUS
CRITICAL_PRESSURE = 22.064e6
ZERO_PRESSURE = 611.2126
"""Vapour pressure at 0 deg C, the cold end of the line, and at the critical point [Pa]."""

# IAPWS SR6-08(2011), liquid water at 0.1 MPa: powers and factors of alpha = 10/(593 - T) and of beta = 10/(T - 232)
_GAS = 461.51805
_SCALE = 10.0
_HEAT_C = -8.983025854
_HEAT_ALPHA = ((4, -1.661470539e5), (5, 2.708781640e6), (7, -1.557191544e8))
_HEAT_BETA = ((2, -8.237426256e-1), (3, 1.908956353), (4, -2.017597384), (5, 8.546361348e-1))
_VOLUME_C = 1.93763157e-2
_VOLUME_ALPHA = ((4, 6.74458446e3), (5, -2.22521604e5), (7, 1.00231247e8), (8, -1.63552118e9), (9, 8.32299658e9))
_VOLUME_BETA = ((1, 5.78545292e-3), (2, -1.53195665e-2), (3, 3.11337859e-2), (4, -4.23546241e-2), (5, 3.38713507e-2),
                (6, -1.19946761e-2))

# IAPWS R13-08, saline part: (power of the root of salinity, power of temperature, factor), the terms that are left at the surface
_SALT_VOLUME = (
    (2, 0, -3310.49154044839), (3, 0, 199.459603073901), (4, 0, -54.7919133532887), (5, 0, 36.0284195611086),
    (2, 1, 729.116529735046), (3, 1, -175.292041186547), (4, 1, -22.6683558512829), (2, 2, -860.764303783977),
    (3, 2, 383.058066002476), (2, 3, 694.244814133268), (3, 3, -460.319931801257), (2, 4, -297.728741987187),
    (3, 4, 234.565187611355),
)
_SALT_HEAT = (
    (2, 2, 880.031352997204), (3, 2, -43.0664675978042), (4, 2, -68.5572509204491), (2, 3, -225.267649263401),
    (3, 3, -10.0227370861875), (4, 3, 49.3667694856254), (2, 4, 91.4260447751259), (3, 4, 0.875600661808945),
    (4, 4, -17.1397577419788), (2, 5, -21.6603240875311), (4, 5, 2.49697009569508), (2, 6, 2.13016970847183),
)
_SALT_UNIT = 35.16504e-3 / 35.0
"""Kilogrammes of salt in a kilogramme of water of practical salinity 1: the reference composition."""

# IAPWS IF97, region 4
_SATURATION = (1167.0521452767, -724213.16703206, -17.073846940092, 12020.82470247, -3232555.0322333, 14.91510861353,
               -4823.2657361591, 405113.40542057, -0.23855557567849, 650.17534844798)


class SeaWater(NamedTuple):
    """Density [kg/m^3], specific heat [J/(kg K)], heat to warm a cubic metre by a kelvin [J/(m^3 K)], freezing point [deg C]."""

    density: float
    specific_heat: float
    volume_heat: float
    freezing_point: float


def fresh_density(temperature: float) -> float:
    """Density of pure water at one atmosphere [kg/m^3], one over the specific volume of the IAPWS equation at 0.1 MPa.

    Args:
        temperature: -2 to 110 [deg C]; over 100 it holds for water kept from boiling by a little pressure.

    Raises:
        OutOfRangeError: outside that range.

    Source: IAPWS SR6-08(2011), Supplementary Release on Properties of Liquid Water at 0.1 MPa; its own uncertainty is
    under 0.01 kg/m^3.
    """
    return 1.0 / _fresh_volume(check("temperature", temperature, FRESH_LOW, FRESH_HIGH, "degC"))


def fresh_specific_heat(temperature: float) -> float:
    """Specific heat of pure water at one atmosphere [J/(kg K)], from the IAPWS equation at 0.1 MPa.

    Args:
        temperature: -2 to 110 [deg C].

    Raises:
        OutOfRangeError: outside that range.

    Source: IAPWS SR6-08(2011).
    """
    check("temperature", temperature, FRESH_LOW, FRESH_HIGH, "degC")
    kelvin = temperature + ZERO_CELSIUS
    return -kelvin * _fresh_curvature(kelvin)


def density(temperature: float, salinity: float) -> float:
    """Density of sea water at the surface [kg/m^3]: one over the volume of pure water plus what the salt changes of it.

    Args:
        temperature: -2 to 80 [deg C].
        salinity: practical salinity, 0 (fresh) to 42; the open sea has 35.

    Raises:
        OutOfRangeError: outside these ranges.

    Source: IAPWS R13-08, Thermodynamic Properties of Seawater (the base of TEOS-10), over IAPWS SR6-08(2011).
    """
    root, warmth = _reduced(temperature, salinity)
    salt = float(sum(factor * root**i * warmth**j for i, j, factor in _SALT_VOLUME)) / 1e8
    return 1.0 / (_fresh_volume(temperature) + salt)


def specific_heat(temperature: float, salinity: float) -> float:
    """Specific heat of sea water at the surface [J/(kg K)]: that of pure water less what the salt takes off.

    Args:
        temperature: -2 to 80 [deg C].
        salinity: practical salinity, 0 (fresh) to 42.

    Raises:
        OutOfRangeError: outside these ranges.

    Source: IAPWS R13-08 over IAPWS SR6-08(2011).
    """
    root, warmth = _reduced(temperature, salinity)
    kelvin = temperature + ZERO_CELSIUS
    salt = float(sum(factor * j * (j - 1) * root**i * warmth ** (j - 2) for i, j, factor in _SALT_HEAT)) / 1600.0
    return -kelvin * (_fresh_curvature(kelvin) + salt)


def freezing_point(salinity: float) -> float:
    """Freezing point of sea water at the surface [deg C]: -0.0575 S + 0.0017105 S^1.5 - 0.0002155 S^2.

    Args:
        salinity: practical salinity, 0 to 42. The source gives 4 to 40; down to 0 the formula ends at 0 deg C as it must.

    Raises:
        OutOfRangeError: outside that range.

    Source: Millero and Leung, in UNESCO Technical Papers in Marine Science 44 (1983), for water that holds air.
    """
    check("salinity", salinity, 0.0, SALINITY_HIGH)
    return 0.0 - salinity * (0.0575 - 1.710523e-3 * math.sqrt(salinity) + 2.154996e-4 * salinity)


def vapour_pressure(temperature: float) -> float:
    """Pressure at which pure water boils [Pa absolute], the saturation line of IAPWS IF97.

    Args:
        temperature: 0 to 373.9 [deg C].

    Raises:
        OutOfRangeError: outside that range.

    Source: IAPWS Industrial Formulation 1997, region 4, equation 30.
    """
    check("temperature", temperature, 0.0, CRITICAL, "degC")
    n = _SATURATION
    kelvin = temperature + ZERO_CELSIUS
    theta = kelvin + n[8] / (kelvin - n[9])
    a = theta**2 + n[0] * theta + n[1]
    b = n[2] * theta**2 + n[3] * theta + n[4]
    c = n[5] * theta**2 + n[6] * theta + n[7]
    return 1e6 * float((2.0 * c / (-b + math.sqrt(b * b - 4.0 * a * c))) ** 4)


def saturation_temperature(pressure: float) -> float:
    """Boiling point of pure water [deg C] at a pressure, the saturation line of IAPWS IF97 turned round.

    Args:
        pressure: absolute, 611.213 Pa to 22.064 MPa [Pa].

    Raises:
        OutOfRangeError: outside that range.

    Source: IAPWS Industrial Formulation 1997, region 4, equation 31.
    """
    check("pressure", pressure, ZERO_PRESSURE, CRITICAL_PRESSURE, "Pa")
    n = _SATURATION
    beta = math.sqrt(math.sqrt(pressure / 1e6))
    e = beta**2 + n[2] * beta + n[5]
    f = n[0] * beta**2 + n[3] * beta + n[6]
    g = n[1] * beta**2 + n[4] * beta + n[7]
    d = 2.0 * g / (-f - math.sqrt(f * f - 4.0 * e * g))
    total = n[9] + d
    return (total - math.sqrt(total * total - 4.0 * (n[8] + n[9] * d))) / 2.0 - ZERO_CELSIUS


def properties(temperature: float, salinity: float) -> SeaWater:
    """What a heat sum needs to know of the water outside.

    Args:
        temperature: -2 to 80 [deg C].
        salinity: practical salinity, 0 (fresh) to 42.

    Raises:
        OutOfRangeError: outside these ranges.

    Source: as `density`, `specific_heat` and `freezing_point`.
    """
    mass, heat = density(temperature, salinity), specific_heat(temperature, salinity)
    return SeaWater(mass, heat, mass * heat, freezing_point(salinity))


def _fresh_volume(temperature: float) -> float:
    kelvin = temperature + ZERO_CELSIUS
    alpha, beta = _SCALE / (593.0 - kelvin), _SCALE / (kelvin - 232.0)
    terms = sum(factor * alpha**n for n, factor in _VOLUME_ALPHA) + sum(factor * beta**m for m, factor in _VOLUME_BETA)
    return _GAS * _SCALE / 1e5 * (_VOLUME_C + terms)


def _fresh_curvature(kelvin: float) -> float:
    """Second derivative of the Gibbs energy by temperature [J/(kg K^2)]; specific heat is minus temperature times it."""
    alpha, beta = _SCALE / (593.0 - kelvin), _SCALE / (kelvin - 232.0)
    terms = sum(n * (n + 1) * factor * alpha ** (n + 2) for n, factor in _HEAT_ALPHA)
    terms += sum(m * (m + 1) * factor * beta ** (m + 2) for m, factor in _HEAT_BETA)
    return _GAS / _SCALE * (_HEAT_C * _SCALE / kelvin + terms)


def _reduced(temperature: float, salinity: float) -> tuple[float, float]:
    """Root of salinity and temperature as the saline part wants them."""
    check("temperature", temperature, SEA_LOW, SEA_HIGH, "degC")
    check("salinity", salinity, 0.0, SALINITY_HIGH)
    return math.sqrt(salinity / 40.0), temperature / 40.0
