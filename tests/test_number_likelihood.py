"""A measured number as evidence, against quadrature of a model in which the true value is continuous.

Healthy engines stand at 82 +- 3 degrees and sick ones at 94 +- 4; a reading adds its own error. The strengths of the
book's bands are the chances of the bands under the two.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import smallbook as sb

from diagnose.knowledge.model import Symptom
from diagnose.network.nodes import Array
from diagnose.seen import number_likelihood

CUTS = (91.0, 98.0)
PRIOR = 0.2
HEALTHY, SICK = (82.0, 3.0), (94.0, 4.0)
READINGS = np.linspace(50.0, 128.0, 1561)


def gauge() -> Symptom:
    bands = {"none": {"below": 91}, "raised": {"at_least": 91, "below": 98}, "high": {"at_least": 98}}
    raw = sb.measured("gauge", bands, (0.015, 0.002), possible=(-10, 130))
    book = sb.book_of(sb.component(symptoms=[raw], faults=[
        sb.fault("f", [{**sb.shows("gauge", ()), "at_least": {"raised": 0.8, "high": 0.2}}])]))
    return book.symptoms["gauge"]


def density(x: Array, mean: float, deviation: float) -> Array:
    return np.exp(-0.5 * ((x - mean) / deviation) ** 2) / (deviation * math.sqrt(2 * math.pi))


def band_chances(mean: float, deviation: float) -> Array:
    """Chance of each band, by summing the density of the true value in small steps."""
    x = np.linspace(mean - 10 * deviation, mean + 10 * deviation, 40_001)
    p = density(x, mean, deviation)
    below = [p[x < cut].sum() / p.sum() for cut in CUTS]
    return np.diff([0.0, *below, 1.0])


def exact(error: float) -> tuple[Array, Array]:
    """Density of each reading on healthy and on sick engines, the true value summed out in small steps."""
    found = []
    for mean, deviation in (HEALTHY, SICK):
        x = np.linspace(mean - 8 * deviation, mean + 8 * deviation, 801)
        weight = density(x, mean, deviation) * (x[1] - x[0])
        found.append(density(READINGS[:, None], x[None], error) @ weight)
    return found[0], found[1]


def posterior(healthy: Array, sick: Array) -> Array:
    return PRIOR * sick / (PRIOR * sick + (1 - PRIOR) * healthy)


def by_bands(likelihoods: Array) -> Array:
    """What the bands make of the likelihood of each reading."""
    return posterior(likelihoods @ band_chances(*HEALTHY), likelihoods @ band_chances(*SICK))


def log_loss(stated: Array, error: float) -> float:
    """Expected log loss of stated chances over all readings."""
    healthy, sick = exact(error)
    stated = np.clip(stated, 1e-12, 1 - 1e-12)
    loss = -PRIOR * sick * np.log(stated) - (1 - PRIOR) * healthy * np.log(1 - stated)
    return float(loss.sum() * (READINGS[1] - READINGS[0]))


@pytest.mark.parametrize("error", [1.0, 3.0, 5.0])
def test_numbers_lose_less_than_a_hard_cut(error: float) -> None:
    """The likelihood loses at most six tenths of what cutting at the bands' ends loses against the exact answer."""
    symptom = gauge()
    ours = by_bands(np.array([number_likelihood(symptom, float(y), error) for y in READINGS]))
    cut = by_bands(np.eye(3)[np.searchsorted(CUTS, READINGS, side="right")])
    best = log_loss(posterior(*exact(error)), error)
    assert best < log_loss(ours, error)
    assert log_loss(ours, error) - best <= 0.6 * (log_loss(cut, error) - best)


def test_a_reading_at_the_edge_is_no_proof() -> None:
    """At 91 with an error of 5 a hard cut says sick with .94; ours and the exact answer stay far below."""
    at = int(np.argmin(np.abs(READINGS - 91.0)))
    cut = by_bands(np.eye(3)[np.searchsorted(CUTS, READINGS, side="right")])[at]
    ours = by_bands(np.array([number_likelihood(gauge(), 91.0, 5.0)]))[0]
    true = posterior(*exact(5.0))[at]
    assert cut > 0.9
    assert abs(ours - true) < 0.5 * abs(cut - true)


def test_a_worse_reading_never_speaks_less() -> None:
    """The hotter the reading, the likelier sick, from what the lowest band says (.054) to what the highest says."""
    stated = by_bands(np.array([number_likelihood(gauge(), float(y), 3.0) for y in READINGS]))
    assert (np.diff(stated) >= -1e-12).all()
    assert stated[0] == pytest.approx(posterior(*(band_chances(*who)[0] for who in (HEALTHY, SICK))), rel=1e-9)
    assert stated[-1] > 0.99


def test_a_likelihood_is_not_the_chance_of_the_band() -> None:
    """On the border of two bands of different width the narrow one is the likelier place of the number, width for width.

    Hand sum at 98 with a small error: half of the error falls in each band; raised is 7 degrees wide and high 32.
    """
    likelihood = number_likelihood(gauge(), 98.0, 0.5)
    assert likelihood[1] == 1.0
    assert likelihood[2] == pytest.approx(7 / 32, rel=1e-6)
    assert likelihood[0] == 0.0
