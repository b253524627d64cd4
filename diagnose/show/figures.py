"""A measured or reckoned figure with its interval, to the digits that the interval allows."""

from __future__ import annotations

import math

COVERAGE = 2.0
"""Standard deviations either side in what is printed: about 95 in 100 (JCGM 100, 6.3.3)."""


LOPSIDED = 1.5
"""From this ratio of the two sides on, an interval is told by its ends."""


def value_words(value: float, below: float, above: float, unit: str) -> str:
    """A value with what it may be off by, to the digits that this allows.

    Args:
        value: the value.
        below, above: how far below and above it the true one may lie, 95 times in 100.
        unit: as rule files name it.
    """
    named = "" if unit == "1" else f" {unit.replace('^2', '²').replace('^3', '³').replace('degC', '°C').replace('*', ' ')}"
    half = max(below, above)
    if not half > 0:
        return f"{value:.4g}{named}"
    if half > LOPSIDED * min(below, above):
        return f"{digits(value, half)}{named} ({digits(value - below, half)} to {digits(value + above, half)})"
    return f"{digits(value, half)} ± {digits(half, half)}{named}"


def digits(value: float, half: float) -> str:
    """A number to the second digit of the half width that goes with it."""
    if not half > 0:
        return f"{value:.4g}"
    power = math.floor(math.log10(half)) - 1
    if power < -6:
        return f"{value:.3g}"
    return f"{round(value / 10.0**power) * 10.0**power:.{max(0, -power)}f}"
