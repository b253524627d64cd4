"""Lifetimes against published figures, quadrature and simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose import lives

Z95 = 1.6448536269514722
SPANS = st.tuples(st.floats(0.1, 500.0), st.floats(1.5, 40.0)).map(lambda s: (s[0], s[0] * s[1]))


def lognormal(rng: np.random.Generator, span: tuple[float, float], count: int) -> np.ndarray:
    """Lengths of stages whose 5 and 95 % points are the span."""
    short, long = span
    return np.exp(rng.normal(0.5 * math.log(short * long), math.log(long / short) / (2 * Z95), count))


# ------------------------------------------------------------------ what a range means


@given(SPANS)
def test_a_range_is_its_5_and_95_percent_points(span: tuple[float, float]) -> None:
    """One stage in twenty is over by the short end, and nineteen in twenty by the long end."""
    assert lives.fresh_chance(span[0], span) == pytest.approx(0.05, abs=1e-9)
    assert lives.fresh_chance(span[1], span) == pytest.approx(0.95, abs=1e-9)


def test_mean_life_is_the_mean_of_the_lognormal() -> None:
    """The mean of 20 to 200 h is that of a million drawn lengths; a stage without a range never ends."""
    drawn = lognormal(np.random.default_rng(1), (20, 200), 1_000_000)
    assert lives.mean_life((20, 200)) == pytest.approx(drawn.mean(), rel=0.003)
    assert lives.mean_life(None) == math.inf


# ------------------------------------------------------------------ residual life


@pytest.mark.parametrize(("span", "hours", "expected", "fresh"), [
    ((20, 200), 10, 0.124, 0.004),
    ((20, 300), 10, 0.092, 0.006),
])
def test_residual_life_from_notes(span: tuple[float, float], hours: float, expected: float, fresh: float) -> None:
    """A stage of 20-200 h met at a random moment is over within 10 h in .124 of cases; a fresh clock would say .004.

    Values of a hand-made simulation of length-biased lives, 4e5 draws.
    """
    assert lives.residual_chance(hours, span) == pytest.approx(expected, abs=0.0016)
    assert lives.fresh_chance(hours, span) == pytest.approx(fresh, abs=0.0006)


@pytest.mark.parametrize(("trip", "expected"), [(10, 0.0823), (40, 0.4073)])
def test_two_stages_from_notes(trip: float, expected: float) -> None:
    """Stages of 20-200 h and .2-20 h, the first met at a random moment: both over within 10 h .0823, within 40 h .4073.

    Values of a hand-made simulation of 4e5 cases, here within three of its standard errors.
    """
    error = math.sqrt(expected * (1 - expected) / 4e5)
    assert lives.chance_of_end([(20, 200), (0.2, 20)], [trip, trip]) == pytest.approx(expected, abs=3 * error + 5e-4)


def met_at_random(rng: np.random.Generator, span: tuple[float, float], visits: int) -> np.ndarray:
    """Lay stages end to end, walk in at random moments, and note how long the stage met still lasts."""
    ends = np.cumsum(lognormal(rng, span, 400_000))
    moments = rng.uniform(0.0, ends[-1], visits)
    return ends[np.searchsorted(ends, moments)] - moments


@pytest.mark.parametrize("span", [(20, 200), (5, 60), (0.5, 30)])
def test_residual_life_is_what_a_visitor_meets(span: tuple[float, float]) -> None:
    """Stages laid end to end and visited at random moments have the residual life that is computed."""
    left = met_at_random(np.random.default_rng(11), span, 200_000)
    for hours in (0.2 * span[0], span[0], 3 * span[0]):
        chance = lives.residual_chance(hours, span)
        assert (left <= hours).mean() == pytest.approx(chance, abs=4 * math.sqrt(chance * (1 - chance) / 200_000) + 1e-4)


@pytest.mark.parametrize(("spans", "hours"), [
    ([(20, 200), (2, 20)], [30, 30]),
    ([(30, 300), (10, 100), (1, 10)], [80, 80, 80]),
    ([(20, 200), (50, 400)], [24, 240]),
])
def test_stages_in_a_row_follow_simulation(spans: list[tuple[float, float]], hours: list[float]) -> None:
    """The first stage met at random, later ones fresh, each on its own clock (hours of the trip or hours away)."""
    rng = np.random.default_rng(12)
    share = met_at_random(rng, spans[0], 200_000) / hours[0]  # of the trip, by the first stage's clock
    for span, clock in zip(spans[1:], hours[1:], strict=True):
        share = share + lognormal(rng, span, 200_000) / clock
    assert lives.chance_of_end(spans, hours) == pytest.approx((share <= 1.0).mean(), abs=0.004)


def test_a_stage_that_begins_now_runs_on_a_fresh_clock() -> None:
    """Two fresh stages of 2-20 h each are over within 10 h as often as in simulation."""
    rng = np.random.default_rng(13)
    both = lognormal(rng, (2, 20), 400_000) + lognormal(rng, (2, 20), 400_000)
    assert lives.chance_of_end([(2, 20), (2, 20)], [10, 10], residual=False) == pytest.approx((both <= 10).mean(), abs=0.003)


def test_a_stage_without_an_end_never_ends() -> None:
    """A stage that does not move on by itself, first or last, makes the chance of the end zero."""
    assert lives.chance_of_end([None], [1000]) == 0.0
    assert lives.chance_of_end([(0.1, 1), None], [1000, 1000]) == 0.0
    assert lives.chance_of_end([(0.1, 1)], [0]) == 0.0


@given(SPANS, st.floats(0.01, 5000.0), st.floats(1.01, 4.0))
def test_longer_trips_are_never_safer(span: tuple[float, float], hours: float, more: float) -> None:
    """The chance that a stage ends lies between 0 and 1 and rises with the hours."""
    short, long = lives.residual_chance(hours, span), lives.residual_chance(hours * more, span)
    assert 0.0 <= short <= long <= 1.0


@given(SPANS, SPANS, st.floats(0.1, 500.0))
def test_a_stage_more_to_come_is_never_more_dangerous(first: tuple[float, float], last: tuple[float, float], trip: float) -> None:
    """Two stages cannot be over sooner than the first of them."""
    assert lives.chance_of_end([first, last], [trip, trip]) <= lives.residual_chance(trip, first) + 1e-12


# ------------------------------------------------------------------ wear


@pytest.mark.parametrize(("age", "window", "shape", "life", "survival"), [
    (500, 500, 2, 1000, 0.778801),
    (600, 100, 2, 1000, 0.895834),
    (3500, 500, 3, 4000, 0.780323),
    (500, 500, 3, 4000, 0.998049),
])
def test_weibull_conditional_survival(age: float, window: float, shape: float, life: float, survival: float) -> None:
    """With a known life, wear in the last hours is one minus the Weibull's conditional survival.

    Formula as at ReliaWiki, R(t|T) = exp{(T/eta)^beta - ((T+t)/eta)^beta}; values by scipy.stats.weibull_min.
    """
    assert 1 - lives.worn_between(age, window, shape, life, 1.0) == pytest.approx(survival, abs=5e-7)


def by_quadrature(age: float, window: float, shape: float, life: float, spread: float) -> float:
    """The same with a fine grid over the lognormal life, weighed by survival to the start of the window."""
    z = np.linspace(-8, 8, 40_001)
    eta = life * np.exp(z * math.log(spread) / Z95)
    before = np.exp(-((max(age - window, 0.0) / eta) ** shape))
    after = np.exp(-((age / eta) ** shape))
    density = np.exp(-0.5 * z * z)
    return float((density * (before - after)).sum() / (density * before).sum())


@pytest.mark.parametrize(("age", "window", "shape", "life", "spread"), [
    (500, 100, 2.5, 400, 2), (100, 100, 2.5, 400, 2), (1500, 100, 2.5, 3000, 2), (3500, 500, 3, 4000, 1.5), (800, 200, 1, 600, 3),
])
def test_uncertain_life_against_quadrature(age: float, window: float, shape: float, life: float, spread: float) -> None:
    """Five points over the life agree with a fine grid to five hundredths of the chance."""
    fine = by_quadrature(age, window, shape, life, spread)
    assert lives.worn_between(age, window, shape, life, spread) == pytest.approx(fine, rel=0.05)


def test_uncertain_life_follows_simulation() -> None:
    """Of parts of uncertain life that were sound at 400 h, the share worn out by 500 h is that of a simulation."""
    rng = np.random.default_rng(21)
    life = 400 * np.exp(rng.normal(0, math.log(2) / Z95, 1_000_000))
    worn_at = life * rng.weibull(2.5, 1_000_000)
    sound = worn_at > 400
    assert lives.worn_between(500, 100, 2.5, 400, 2) == pytest.approx((worn_at[sound] <= 500).mean(), rel=0.05)


def test_survivors_are_the_long_lived() -> None:
    """A part twice its expected life is judged by the long lives that can explain it: .35 and not .53.

    Weibull shape 2.5, life 400 h, 500 h old, last 100 h; .53 with the life known, .35 with it known to a factor of 2
    (hand-made simulation, 2e5 lives).
    """
    assert lives.worn_between(500, 100, 2.5, 400, 1.0) == pytest.approx(0.53, abs=0.005)
    assert lives.worn_between(500, 100, 2.5, 400, 2.0) == pytest.approx(0.35, abs=0.012)


@given(st.floats(1, 5000), st.floats(0.1, 1.0), st.floats(0.5, 8), st.floats(50, 5000), st.floats(1.1, 10))
def test_wear_is_a_chance(age: float, share: float, shape: float, life: float, spread: float) -> None:
    """Wear in a part of the age is a chance, and never more than wear in all of it is at that survival."""
    part = lives.worn_between(age, share * age, shape, life, spread)
    assert 0.0 <= part <= 1.0
    # the whole life without the window before it holds at least as much wear as the window, once survival is counted
    whole, before = lives.worn_between(age, age, shape, life, spread), lives.worn_between(age * (1 - share), age, shape, life, spread)
    assert whole == pytest.approx(before + (1 - before) * part, abs=1e-9)


# ------------------------------------------------------------------ stages


@pytest.mark.parametrize(("age", "stage"), [(0, 0), (99, 0), (101, 1), (149, 1), (151, 2), (1e6, 2)])
def test_stage_reached(age: float, stage: int) -> None:
    """With stages of 100, 50 and 10 h the stage reached follows the hours since it began; the last one stays."""
    assert lives.stage_at((100, 50, 10), age) == stage
