"""Lifetimes: what a range of hours means, how long a stage still has, what a wear-out law says of today.

A range [short, long] is the 5 and 95 % point of a lognormal. Someone who looks at a random moment of a
stage meets its residual life, whose distribution function is the integral of survival over the mean (renewal
theory; Cox 1962, memory), and not a fresh clock: a fresh one understates a long stage many times over.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from diagnose.network.nodes import Array

_Z95 = 1.6448536269514722
_GRID = 25
_LIFE_POINTS = ((-2.02018, 0.01126), (-0.95857, 0.22208), (0.0, 0.53333), (0.95857, 0.22208), (2.02018, 0.01126))
"""Five-point Gauss-Hermite rule for a standard normal: places (times sqrt 2) and weights."""


def _phi(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


@lru_cache(maxsize=4096)
def lognormal(short: float, long: float) -> tuple[float, float]:
    """Mean and standard deviation of the logarithm, from the 5 and 95 % points [hours]."""
    return 0.5 * (math.log(short) + math.log(long)), math.log(long / short) / (2.0 * _Z95)


def mean_life(lasts: tuple[float, float] | None) -> float:
    """Mean length of a stage [h]; infinite when it does not move on by itself."""
    if lasts is None:
        return math.inf
    mu, sigma = lognormal(*lasts)
    return math.exp(mu + 0.5 * sigma * sigma)


def fresh_chance(t: float, lasts: tuple[float, float]) -> float:
    """P(a stage that begins now is over within t hours)."""
    if t <= 0:
        return 0.0
    mu, sigma = lognormal(*lasts)
    return _phi((math.log(t) - mu) / sigma)


def residual_chance(t: float, lasts: tuple[float, float]) -> float:
    """P(a stage met at a random moment is over within t hours) = (1/mean) * integral of survival to t."""
    if t <= 0:
        return 0.0
    mu, sigma = lognormal(*lasts)
    mean = math.exp(mu + 0.5 * sigma * sigma)
    survived = t * (1.0 - fresh_chance(t, lasts))
    lived = mean * _phi((math.log(t) - mu - sigma * sigma) / sigma)
    return min(1.0, (survived + lived) / mean)


def chance_of_end(stages: Sequence[tuple[float, float] | None], hours: Sequence[float], *, residual: bool = True) -> float:
    """P(all the stages are over before arrival): the first met at a random moment, later ones fresh.

    Args:
        stages: [short, long] of each stage still to come, this one first; None never ends.
        hours: hours of the trip on each stage's clock.
        residual: False when the first stage begins now.
    """
    if any(lasts is None for lasts in stages) or min(hours) <= 0:
        return 0.0
    spans = [lasts for lasts in stages if lasts is not None]
    if len(spans) == 1:
        return (residual_chance if residual else fresh_chance)(hours[0], spans[0])
    done = _course(hours[0], spans[0], residual)
    for lasts, span in zip(spans[1:], hours[1:], strict=True):
        here = _course(span, lasts, False)
        steps = np.diff(done)
        middle = 0.5 * (here[1:] + here[:-1])
        done = np.concatenate([[0.0], np.convolve(steps, middle)[: _GRID - 1]])
    return float(done[-1])


@lru_cache(maxsize=4096)
def _course(hours: float, lasts: tuple[float, float], residual: bool) -> Array:
    """P(the stage is over) at even steps of the trip. Many stages of a book last alike: each course is worked out once."""
    law = residual_chance if residual else fresh_chance
    course = np.array([law(i / (_GRID - 1) * hours, lasts) for i in range(_GRID)])
    course.flags.writeable = False
    return course


def worn_between(age: float, window: float, shape: float, life: float, spread: float) -> float:
    """P(a wear-out began in the last `window` hours | the part was sound before), age since renewal [h].

    Weibull with shape and characteristic life; the life itself is lognormal, 90 % within life/spread ..
    life*spread, at five points reweighted by survival to the start of the window (ranking: a part that has
    lasted is likelier one of the long-lived).
    """
    start = max(age - window, 0.0)
    sigma = math.log(spread) / _Z95
    weights, gone = 0.0, 0.0
    for z, weight in _LIFE_POINTS:
        eta = life * math.exp(sigma * z * math.sqrt(2.0))
        survived = math.exp(-((start / eta) ** shape))
        weights += weight * survived
        gone += weight * survived * -math.expm1((start / eta) ** shape - (age / eta) ** shape)
    return gone / weights if weights > 1e-300 else 1.0


def stage_at(means: Sequence[float], age: float) -> int:
    """The stage a fault has reached `age` hours after it began, by mean lengths."""
    passed = 0.0
    for i, mean in enumerate(means):
        passed += mean
        if age < passed:
            return i
    return len(means) - 1
