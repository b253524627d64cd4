"""The one way a measured quantity is refused when it lies outside the range in which its formula holds."""

from __future__ import annotations

import math


class OutOfRangeError(ValueError):
    """A number outside the range in which a formula holds. `name` is the parameter."""

    def __init__(self, name: str, value: float, low: float, high: float, unit: str) -> None:
        self.name, self.value, self.low, self.high, self.unit = name, value, low, high, unit
        self.what = f"{name.replace('_', ' ')} {value:g} {unit}".strip() + " is outside the range of this formula"
        self.right = f"from {low:g} to {high:g} {unit}".strip()
        super().__init__(f"{self.what}; {self.right}")


def check(name: str, value: float, low: float, high: float, unit: str = "") -> float:
    """The value, where it lies between `low` and `high`, both allowed.

    Raises:
        OutOfRangeError: it does not, or is no number.
    """
    if not (math.isfinite(value) and low <= value <= high):
        raise OutOfRangeError(name, value, low, high, unit)
    return value
