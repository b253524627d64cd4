"""One observation made ready: what was reported of a sign, as a likelihood over its grades."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from diagnose.case import Observation
from diagnose.errors import InputError
from diagnose.knowledge.model import Band, EngineState, Symptom
from diagnose.network.nodes import Array

DROP_SIGMA = math.log(2.0) / 1.645
"""One standard deviation of the logarithm of a rate that is good to a factor of two nine times in ten."""


@dataclass(frozen=True)
class Seen:
    """One observation made ready: its sign, its likelihood over the grades, and the grades it may mean."""

    id: str
    symptom: str
    state: EngineState
    likelihood: Array
    low: int
    high: int
    sure: float
    epoch: str
    text: str
    given: Observation
    value: float | None = None
    sigma: float = 0.0
    """One standard deviation of the value; nought where it was told by a grade."""

    @property
    def present(self) -> bool:
        """Whether a grade above none was reported."""
        return self.high > 0


def silence_likelihood(size: int, mentioned: float) -> Array:
    """Likelihood of nothing being said of a striking sign that would have been mentioned with this chance."""
    likelihood = np.full(size, 1.0 - mentioned)
    likelihood[0] = 1.0
    return likelihood


def graded_likelihood(size: int, low: int, high: int, sure: float) -> Array:
    """Likelihood of a report of grades low..high, the largest 1: what a sure person says is so.

    An unsure one errs in three ways. What is there is missed now and then (two thirds of the doubt); it is taken for
    the grade next to it (half the doubt); and what is not there is seldom seen (the doubt squared, milder grades
    rather): people who say "I think there were pieces in it" are hardly ever wrong about the pieces, and often about
    how many.
    """
    if sure >= 1.0:
        likelihood = np.zeros(size)
        likelihood[low : high + 1] = 1.0
        return likelihood
    said = _reports(size, 1.0 - sure)[:, low : high + 1].sum(axis=1)
    return np.asarray(said / said.max())


def _reports(size: int, doubt: float) -> Array:
    """P(grade reported | true grade), a row for each true grade; every row sums to one."""
    said = np.zeros((size, size))
    seldom = 0.5 ** np.arange(size - 1)
    said[0, 0] = 1.0 - doubt * doubt
    said[0, 1:] = doubt * doubt * seldom / seldom.sum()
    for grade in range(1, size):
        beside = [g for g in (grade - 1, grade + 1) if 1 <= g < size]
        said[grade, 0] = doubt * 2.0 / 3.0
        for other in beside:
            said[grade, other] = 0.5 * doubt / len(beside)
        said[grade, grade] = 1.0 - said[grade].sum()
    return said


def number_likelihood(symptom: Symptom, value: float, sigma: float) -> Array:
    """Likelihood of a measured number for each grade: the normal error averaged over the grade's band.

    It is a likelihood and not the chance of the band, so the band's width is divided out. Largest is 1.
    """
    assert symptom.measure is not None
    low, high = symptom.measure.met or symptom.measure.possible
    value = min(max(value, low), high)
    out = []
    for band in symptom.grades.values():
        assert isinstance(band, Band)
        a = low if band.at_least is None else band.at_least
        b = high if band.below is None else band.below
        out.append((_phi((b - value) / sigma) - _phi((a - value) / sigma)) / (b - a))
    likelihood = np.array(out) / max(out)
    return np.where(likelihood < 1e-4, 0.0, likelihood)  # grades that far off need not be told apart


def leak_likelihood(symptom: Symptom, rate: float, sure: float = 1.0) -> Array:
    """Likelihood of a measured leak [mL/h] for each grade: the error of a counted rate, averaged over the grade's range in logarithms.

    A rate counted in drops is good to a factor of two, for drops differ by as much; more where the observer is unsure. A rate
    beyond all ranges counts as the end of the nearest. Largest is 1.
    """
    assert symptom.leak is not None
    ranges = list(symptom.leak.rates.values())
    sound = symptom.leak.healthy
    spans = [(math.log(low), math.log(high)) for low, high in ([sound] if sound is not None else []) + ranges]
    at, sigma = min(max(math.log(rate), spans[0][0]), spans[-1][1]), DROP_SIGMA / sure
    likelihood = np.array([(_phi((b - at) / sigma) - _phi((a - at) / sigma)) / (b - a) for a, b in spans])
    likelihood /= likelihood.max()
    told = np.where(likelihood < 1e-4, 0.0, likelihood)
    return told if sound is not None else np.concatenate([[0.0], told])


def leak_grade(symptom: Symptom, rate: float) -> int:
    """Place of the grade whose range of rates lies nearest a measured one; none only where a sound one loses something too."""
    return int(np.argmax(leak_likelihood(symptom, rate)))


def _phi(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def band_of(symptom: Symptom, value: float) -> int:
    """Place of the grade whose band a number falls in.

    Raises:
        InputError: it falls in none.
    """
    for i, band in enumerate(symptom.grades.values()):
        assert isinstance(band, Band)
        if (band.at_least is None or value >= band.at_least) and (band.below is None or value < band.below):
            return i
    raise InputError(f"{value:g} falls in no band of '{symptom.id}'")
