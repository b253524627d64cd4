"""Scores of forecasts against what was found: intervals, log score, calibration. Small, and each held to hand sums."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np

Z95 = 1.959963984540054


def wilson(hits: int, count: int, z: float = Z95) -> tuple[float, float]:
    """The Wilson score interval of a share (Wilson 1927)."""
    if count == 0:
        return 0.0, 1.0
    share = hits / count
    middle = (share + z * z / (2 * count)) / (1 + z * z / count)
    half = z * math.sqrt(share * (1 - share) / count + z * z / (4 * count * count)) / (1 + z * z / count)
    return max(0.0, middle - half), min(1.0, middle + half)


def log_score(chances: Sequence[float]) -> float:
    """Mean natural log of the chance given to what was found; 0 is perfect, less is worse."""
    return sum(math.log(max(p, 1e-9)) for p in chances) / len(chances)


def spiegelhalter(chances: Sequence[float], came: Sequence[bool]) -> float:
    """Spiegelhalter's z for calibration (1986): beyond 2 either way speaks against the forecasts."""
    over = sum((x - p) * (1 - 2 * p) for p, x in zip(chances, came, strict=True))
    spread = sum((1 - 2 * p) ** 2 * p * (1 - p) for p in chances)
    return over / math.sqrt(spread) if spread > 0 else 0.0


def slope(chances: Sequence[float], came: Sequence[bool]) -> float:
    """Calibration slope: that of a logistic regression of the outcome on the log odds stated. 1 is right; under 1 says
    that the forecasts go too far."""
    x = np.array([math.log(p / (1 - p)) for p in np.clip(chances, 1e-6, 1 - 1e-6)])
    y = np.array(came, dtype=float)
    design = np.column_stack([np.ones_like(x), x])
    beta = np.zeros(2)
    for _ in range(50):
        fitted = 1 / (1 + np.exp(-np.clip(design @ beta, -30, 30)))
        weight = np.maximum(fitted * (1 - fitted), 1e-9)
        step = np.linalg.solve(design.T @ (design * weight[:, None]) + 1e-9 * np.eye(2), design.T @ (y - fitted))
        beta = beta + np.clip(step, -2, 2)
        if float(np.abs(step).max()) < 1e-10:
            break
    return float(beta[1])


def slope_interval(chances: Sequence[float], came: Sequence[bool], draws: int = 400, seed: int = 1) -> tuple[float, float]:
    """A bootstrap interval of the slope, 90 in 100."""
    rng = np.random.default_rng(seed)
    p, y = np.array(chances), np.array(came)
    found = []
    for _ in range(draws):
        pick = rng.integers(len(p), size=len(p))
        if 0 < y[pick].sum() < len(p):
            found.append(slope(p[pick].tolist(), y[pick].tolist()))
    low, high = np.quantile(found, [0.05, 0.95])
    return float(low), float(high)


def reliability(chances: Sequence[float], came: Sequence[bool], edges: Sequence[float] = (0, 0.2, 0.4, 0.6, 0.8, 1.0001)) \
        -> list[tuple[float, float, int, float, int]]:
    """By band of stated chance: from, to, how many, mean stated, how many came true."""
    rows = []
    for low, high in itertools.pairwise(edges):
        inside = [(p, x) for p, x in zip(chances, came, strict=True) if low <= p < high]
        if inside:
            rows.append((low, min(high, 1.0), len(inside), sum(p for p, _ in inside) / len(inside), sum(x for _, x in inside)))
    return rows
