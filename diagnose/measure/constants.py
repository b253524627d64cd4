"""Constants of nature and of convention that more than one module of measures needs."""

from __future__ import annotations

from typing import Final

__all__ = ["ATMOSPHERE", "FARADAY", "GAS_CONSTANT", "GRAVITY", "ZERO_CELSIUS"]

GRAVITY: Final = 9.80665
"""Standard acceleration of free fall [m/s^2], by convention exact."""
ATMOSPHERE: Final = 101_325.0
"""Standard atmosphere [Pa], by convention exact."""
ZERO_CELSIUS: Final = 273.15
"""Nought degrees Celsius [K], by definition exact."""
GAS_CONSTANT: Final = 8.314462618
"""Molar gas constant [J/(mol K)], CODATA 2018."""
FARADAY: Final = 96485.33212
"""Charge of a mole of electrons [C/mol], CODATA 2018."""
