"""Rates that are not known for certain, as gamma distributions, and what counting does to them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

_LOW, _HIGH = 0.05, 0.95
_TINY = 1e-300
_STEPS = 200


@dataclass(frozen=True)
class Gamma:
    """A rate a year: gamma with a shape and a rate parameter [years], so that shape onsets in `years` years is its mean."""

    shape: float
    years: float

    @property
    def mean(self) -> float:
        """The mean rate [1/year]."""
        return self.shape / self.years

    def quantile(self, share: float) -> float:
        """The rate [1/year] below which the true one lies with this chance, 0 < share < 1."""
        return standard_quantile(self.shape, share) / self.years

    @property
    def interval(self) -> tuple[float, float]:
        """The 5 and 95 % points [1/year]."""
        return self.quantile(_LOW), self.quantile(_HIGH)

    def after(self, count: int, years: float) -> Gamma:
        """The rate once `count` onsets were met in so many years: the conjugate update of a Poisson count.

        Source: conjugacy of gamma and Poisson with exposure; Gelman and others, Bayesian Data Analysis, 3rd edition, 2.6 (memory).
        """
        return Gamma(self.shape + count, self.years + years)


def rate_within(value: float, spread: float) -> Gamma:
    """The gamma whose 5 and 95 % points are value/spread and value*spread.

    Args:
        value: a rate [1/year], over 0.
        spread: 1.05 to 30.
    """
    shape, low = _shape_of(spread)
    return Gamma(shape, low * spread / value)


@lru_cache(maxsize=256)
def _shape_of(spread: float) -> tuple[float, float]:
    """The shape whose 95 % point is spread squared times its 5 % point, and that point of the standard gamma."""
    low, high = math.log(0.02), math.log(1e5)
    for _ in range(_STEPS):
        middle = 0.5 * (low + high)
        shape = math.exp(middle)
        wide = standard_quantile(shape, _HIGH) / max(standard_quantile(shape, _LOW), _TINY)
        low, high = (middle, high) if wide > spread * spread else (low, middle)
        if high - low < 1e-12:
            break
    shape = math.exp(0.5 * (low + high))
    return shape, standard_quantile(shape, _LOW)


def lower_share(shape: float, x: float) -> float:
    """P(a standard gamma of this shape lies below x): the regularised lower incomplete gamma function.

    By its power series below shape + 1, and by its continued fraction above (Abramowitz and Stegun 6.5.29 and 6.5.31, memory).
    """
    if x <= 0.0:
        return 0.0
    scale = math.exp(shape * math.log(x) - x - math.lgamma(shape))
    if x < shape + 1.0:
        term = total = 1.0 / shape
        n = shape
        while term > total * 1e-16:
            n += 1.0
            term *= x / n
            total += term
        return min(total * scale, 1.0)
    b = x + 1.0 - shape
    c, d = 1.0 / _TINY, 1.0 / b
    fraction = d
    for i in range(1, 10_000):
        a = -i * (i - shape)
        b += 2.0
        d = 1.0 / _away(a * d + b)
        c = _away(b + a / c)
        fraction *= c * d
        if abs(c * d - 1.0) < 1e-15:
            break
    return max(1.0 - scale * fraction, 0.0)


def _away(value: float) -> float:
    return value if abs(value) > _TINY else _TINY


def standard_quantile(shape: float, share: float) -> float:
    """The point of a standard gamma below which `share` of it lies, 0 < share < 1."""
    low, high = math.log(_TINY), math.log(shape + 60.0 * math.sqrt(shape) + 60.0)
    for _ in range(_STEPS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if lower_share(shape, math.exp(middle)) < share else (low, middle)
        if high - low < 1e-13:
            break
    return math.exp(0.5 * (low + high))
