"""Trends in readings that a single wrong one does not pull: slope with its interval, test for a trend, when a limit is met.

Kendall's S counts pairs of readings that rise less pairs that fall. Up to `EXACT` readings its distribution is counted out, so
few readings are not taken for more than they are; beyond that the normal distribution stands for it.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import lru_cache
from statistics import NormalDist, median
from typing import Literal, NamedTuple

from diagnose.measure.valid import check

__all__ = ["Crossing", "MannKendall", "Trend", "crossing", "mann_kendall", "theil_sen"]

EXACT = 60
"""Readings up to which the distribution of S is counted out."""

FEWEST, MOST = 2, 500
FEWEST_FOR_AN_INTERVAL = 4

SIGMA_OF_SCATTER, MEDIAN_OVER_MEAN = 1.4826, 1.2533
"""Standard deviation over the median of the distances from the middle, and error of a median over that of a mean, both of the
normal distribution."""


class Trend(NamedTuple):
    """A line through readings: slope an hour with the interval it lies in, value at hour nought, and how sure the interval is.

    `low`, `high` and `covers` are None where the readings are too few for an interval at the confidence asked for; `covers`
    is the confidence really reached, which is never less.
    """

    slope: float
    low: float | None
    high: float | None
    intercept: float
    covers: float | None


class MannKendall(NamedTuple):
    """Kendall's S, his tau (ties allowed for), and the chance of so much of a trend, up or down, if there were none."""

    s: float
    tau: float
    p: float


class Crossing(NamedTuple):
    """When the line meets a limit, in engine hours on the meter, with the earliest and latest that the slope's interval allows.

    None means never on this slope, or not to be told; where the limit is passed already, `latest` is by when that is sure.
    `left` is the hours from the last reading to `at`.
    """

    word: str
    at: float | None
    earliest: float | None
    latest: float | None
    left: float | None


def _readings(hours: Sequence[float], values: Sequence[float]) -> tuple[list[float], list[float]]:
    if len(hours) != len(values):
        raise ValueError("each reading needs its hours: there are not as many of the one as of the other")
    if len(hours) < FEWEST:
        raise ValueError("a trend needs two readings or more")
    check("number of readings", len(hours), FEWEST, MOST)
    for hour in hours:
        check("hours", hour, -1e6, 1e6, "hours")
    for value in values:
        check("value", value, -1e9, 1e9)
    if min(hours) == max(hours):
        raise ValueError("all readings are of the same hour, and a trend needs time between them")
    return list(hours), list(values)


def _ties(series: Sequence[float]) -> tuple[int, ...]:
    """Sizes of the groups of equal numbers, those of one left out."""
    return tuple(sorted(size for size in Counter(series).values() if size > 1))


def _pairs(size: int) -> int:
    return size * (size - 1) // 2


@lru_cache(maxsize=64)
def _orders(n: int, ties: tuple[int, ...]) -> tuple[int, ...]:
    """In how many orders of n readings, some of them equal, 0, 1, 2 ... pairs stand the wrong way round.

    The counts are the coefficients of [n]! / ([t1]! [t2]! ...) in q, where [k]! is the product of 1 + q + ... + q^(i-1), i to k.
    """
    counts = [1] + [0] * (_pairs(n) - sum(_pairs(size) for size in ties))
    for step in range(2, n + 1):
        counts = _sums(_times_one_less(counts, step))
    for size in ties:
        for step in range(2, size + 1):
            counts = _over_one_less(_differences(counts), step)
    return tuple(counts)


def _times_one_less(counts: list[int], step: int) -> list[int]:
    """Times 1 - q^step, cut at the length needed in the end."""
    return [count - (counts[i - step] if i >= step else 0) for i, count in enumerate(counts)]


def _sums(counts: list[int]) -> list[int]:
    """Over 1 - q."""
    total, sums = 0, []
    for count in counts:
        total += count
        sums.append(total)
    return sums


def _differences(counts: list[int]) -> list[int]:
    """Times 1 - q."""
    return _times_one_less(counts, 1)


def _over_one_less(counts: list[int], step: int) -> list[int]:
    """Over 1 - q^step."""
    found: list[int] = []
    for i, count in enumerate(counts):
        found.append(count + (found[i - step] if i >= step else 0))
    return found


def _variance(n: int, ties: tuple[int, ...], others: tuple[int, ...]) -> float:
    """Variance of S with ties in either series (Kendall, Rank Correlation Methods, 4th edition, chapter 4)."""
    def fives(sizes: Sequence[int]) -> int:
        return sum(t * (t - 1) * (2 * t + 5) for t in sizes)

    def triples(sizes: Sequence[int]) -> int:
        return sum(t * (t - 1) * (t - 2) for t in sizes)

    found = (fives((n,)) - fives(ties) - fives(others)) / 18.0
    if n > 2:
        found += triples(ties) * triples(others) / (9.0 * n * (n - 1) * (n - 2))
    return found + sum(map(_pairs, ties)) * sum(map(_pairs, others)) * 2.0 / (n * (n - 1))


def _slopes(hours: Sequence[float], values: Sequence[float]) -> Iterator[float]:
    for i, (first, low) in enumerate(zip(hours, values, strict=True)):
        for second, high in zip(hours[i + 1:], values[i + 1:], strict=True):
            if first != second:
                yield (high - low) / (second - first)


def _bounding_rank(n: int, ties: tuple[int, ...], pairs: int, confidence: float) -> tuple[int, float]:
    """Rank, from either end, of the slopes that bound the interval, and what the interval then covers.

    A rank of nought means that no interval is that sure.
    """
    spare = 1.0 - confidence
    if n > EXACT:
        sigma = math.sqrt(_variance(n, ties, ()))
        rank = math.floor((pairs - NormalDist().inv_cdf(1.0 - spare / 2.0) * sigma) / 2.0)
        return max(0, rank), confidence
    counts = _orders(n, ties)
    total, below, rank = sum(counts), 0, 0
    while rank < len(counts) // 2 and 2.0 * (below + counts[rank]) / total <= spare * (1.0 + 1e-12):
        below += counts[rank]
        rank += 1
    return rank, 1.0 - 2.0 * below / total


def theil_sen(hours: Sequence[float], values: Sequence[float], confidence: float = 0.9) -> Trend:
    """Slope of readings against engine hours: the middle one of the slopes of all pairs, with Sen's interval.

    The interval holds the slopes that Kendall's test would not refuse. Equal readings count as they would unrounded, which
    errs to the wide side. The line goes through the medians of hours and values.

    Args:
        hours: engine hours of each reading, 2 to 500 of them, not all the same.
        values: the readings, in any one unit.
        confidence: of the interval, 0.5 to 0.999.

    Returns:
        Slope an hour, interval, value at hour nought, and the confidence reached. With three readings or fewer there is no
        interval, and none where even the widest would not be as sure as asked.

    Raises:
        OutOfRangeError: a value outside its range, too many readings.
        ValueError: one reading, or none; all at one hour; as many hours as values are wanted.

    Source: Theil (1950); Sen, Journal of the American Statistical Association 63 (1968) 1379; exact limits as in Hollander and
    Wolfe, Nonparametric Statistical Methods, chapter 9.
    """
    check("confidence", confidence, 0.5, 0.999)
    hours, values = _readings(hours, values)
    slopes = sorted(_slopes(hours, values))
    slope = median(slopes)
    intercept = median(values) - slope * median(hours)
    rank, covers = _bounding_rank(len(hours), _ties(hours), len(slopes), confidence)
    if len(hours) < FEWEST_FOR_AN_INTERVAL or rank < 1:
        return Trend(slope, None, None, intercept, None)
    return Trend(slope, slopes[rank - 1], slopes[-rank], intercept, covers)


def mann_kendall(hours: Sequence[float], values: Sequence[float]) -> MannKendall:
    """Whether readings rise or fall at all, by how often a later one is higher: Kendall's S, tau and the chance.

    Exact up to 60 readings unless hours and values both hold equal ones; else the normal distribution with S one nearer nought.

    Args:
        hours: engine hours of each reading, 2 to 500 of them, not all the same.
        values: the readings.

    Returns:
        S, tau (b), and the two-sided chance of such an S without a trend. One where all readings are equal.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: as `theil_sen`.

    Source: Mann, Econometrica 13 (1945) 245; Kendall, Rank Correlation Methods.
    """
    hours, values = _readings(hours, values)
    n, ties, others = len(hours), _ties(hours), _ties(values)
    s = sum((slope > 0) - (slope < 0) for slope in _slopes(hours, values))
    free = (_pairs(n) - sum(map(_pairs, ties))) * (_pairs(n) - sum(map(_pairs, others)))
    if free == 0:
        return MannKendall(0.0, 0.0, 1.0)
    return MannKendall(float(s), s / math.sqrt(free), _chance(abs(s), n, ties, others))


def _chance(s: int, n: int, ties: tuple[int, ...], others: tuple[int, ...]) -> float:
    if n <= EXACT and not (ties and others):
        counts = _orders(n, ties or others)
        wrong = (len(counts) - 1 - s) // 2
        return min(1.0, 2.0 * sum(counts[: wrong + 1]) / sum(counts))
    z = max(0, s - 1) / math.sqrt(_variance(n, ties, others))
    return 2.0 * NormalDist().cdf(-z)


def crossing(hours: Sequence[float], values: Sequence[float], limit: float, side: Literal["over", "under"],
             confidence: float = 0.9) -> Crossing:
    """When the trend meets a limit, in engine hours on the meter, if it goes on as it did.

    The line turns about the medians of hours and values within the slope's interval, and moves up and down by what the middle
    scatter of the readings leaves its level unsure; the two are added as roots of squares.

    Args:
        hours: engine hours of each reading, 2 to 500 of them, not all the same.
        values: the readings.
        limit: that they should not pass, in their unit.
        side: "over" when they must not rise over it, "under" when they must not fall under it.
        confidence: of the interval, 0.5 to 0.999.

    Returns:
        In words what the trend says; the hours; and hours left from the last reading.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: as `theil_sen`.

    Source: the line of `theil_sen` carried on. The bounds are put together as Fieller did for a straight line (memory).
    """
    check("limit", limit, -1e9, 1e9)
    trend = theil_sen(hours, values, confidence)
    sign = 1.0 if side == "over" else -1.0
    middle, last = median(hours), max(hours)
    slope, gap = sign * trend.slope, sign * (limit - median(values))
    at = middle + gap / slope if slope > 0 else None
    there = gap - slope * (last - middle) <= 0
    if trend.low is None or trend.high is None:
        earliest = latest = None
    else:
        level = _level_unsure(hours, values, trend, confidence)
        fast, slow = sorted((sign * trend.low, sign * trend.high), reverse=True)
        earliest = _first_met(gap, slope, fast - slope, level, last - middle)
        latest = _last_met(gap, slope, slope - slow, level, last - middle)
        earliest, latest = (None if there or earliest is None else middle + earliest), (None if latest is None else middle + latest)
    word = "it is there already" if there else _says(trend.low is not None, at, earliest, latest)
    return Crossing(word, at if not there or (at is not None and at <= last) else None, earliest, latest,
                    0.0 if there else None if at is None else at - last)


def _level_unsure(hours: Sequence[float], values: Sequence[float], trend: Trend, confidence: float) -> float:
    """Half width of the interval of the line's level at the middle of the readings, from their middle scatter about it."""
    rests = [value - trend.intercept - trend.slope * hour for hour, value in zip(hours, values, strict=True)]
    centre = median(rests)
    sigma = SIGMA_OF_SCATTER * median(abs(rest - centre) for rest in rests)
    return NormalDist().inv_cdf(0.5 + confidence / 2.0) * MEDIAN_OVER_MEAN * sigma / math.sqrt(len(rests) - 2)


def _first_met(gap: float, slope: float, apart: float, level: float, least: float) -> float | None:
    """Hours from the middle at which the upper bound of the line, slope u + root(level^2 + (apart u)^2), reaches the gap."""
    if gap <= level:
        return least
    if slope + apart <= 0:
        return None
    free = gap**2 - level**2
    return max(least, free / (gap * slope + math.sqrt(apart**2 * free + (slope * level) ** 2)))


def _last_met(gap: float, slope: float, apart: float, level: float, least: float) -> float | None:
    """Hours from the middle at which the lower bound of the line, slope u - root(level^2 + (apart u)^2), reaches the gap."""
    if slope - apart <= 0:
        return None
    steep = slope**2 - apart**2
    return max(least, (gap * slope + math.sqrt((apart * gap) ** 2 + steep * level**2)) / steep)


def _says(sure: bool, at: float | None, earliest: float | None, latest: float | None) -> str:
    if not sure:
        return "it may, but too few readings to say how surely" if at is not None else "not on this line, but too few readings to be sure"
    if latest is not None:
        return "it gets there if this goes on"
    if at is not None:
        return "it may get there, or never: no trend is shown"
    return "not on this line" if earliest is not None else "it moves the other way"
