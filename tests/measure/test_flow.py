"""Raw-water flow: ranges, directions, limits and round trips."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.measure import flow
from diagnose.measure.valid import OutOfRangeError

SPEEDS = st.floats(4.0, 90.0)
FLOWS = st.floats(1e-6, 0.01)

PUMP: dict[str, float] = {"flow": 5e-4, "displacement": 4e-5, "ratio": 1.0, "speed": 20.0, "efficiency": 0.85}
RATED: dict[str, float] = {"flow": 5e-4, "per_kw": 1.5e-5, "power": 3e4, "rated_speed": 50.0, "speed": 20.0}


@pytest.mark.parametrize(("name", "values"), [
    ("flow", (0.0, 0.03)), ("displacement", (1e-6, 2e-3)), ("ratio", (0.1, 5.0)), ("speed", (2.0, 101.0)), ("efficiency", (0.1, 1.2)),
])
@pytest.mark.parametrize("function", [flow.share_of_expected, flow.against_pump])
def test_pump_figures_outside_their_range_are_refused(function: Any, name: str, values: tuple[float, float]) -> None:
    """Just past each end."""
    for value in values:
        with pytest.raises(OutOfRangeError, match=name):
            function(**PUMP | {name: value})


@pytest.mark.parametrize(("name", "values"), [
    ("flow", (0.0, 0.03)), ("per_kw", (1e-7, 2e-4)), ("power", (1e3, 3e5)), ("rated_speed", (2.0, 101.0)), ("speed", (2.0, 101.0)),
])
@pytest.mark.parametrize("function", [flow.share_of_rated, flow.against_rating])
def test_rated_figures_outside_their_range_are_refused(function: Any, name: str, values: tuple[float, float]) -> None:
    """Just past each end."""
    for value in values:
        with pytest.raises(OutOfRangeError, match=name.replace("_", " ")):
            function(**RATED | {name: value})


@pytest.mark.parametrize(("volume", "time"), [(0.0, 10.0), (0.3, 10.0), (0.01, 0.5), (0.01, 3e6), (math.nan, 10.0)])
def test_bucket_figures_outside_their_range_are_refused(volume: float, time: float) -> None:
    """Nothing caught is no flow, a bucket is not a bath, and half a second is no time."""
    with pytest.raises(OutOfRangeError):
        flow.flow_by_bucket(volume, time)


@pytest.mark.parametrize(("inlet", "rise", "share"), [(-3.0, 10.0, 1.0), (41.0, 10.0, 1.0), (15.0, 0.1, 1.0), (15.0, 70.0, 1.0),
    (15.0, 10.0, 0.01)])
def test_rise_figures_outside_their_range_are_refused(inlet: float, rise: float, share: float) -> None:
    """Frozen sea, no rise, no flow."""
    with pytest.raises(OutOfRangeError):
        flow.rise_at_share(inlet, rise, share)


@given(share=st.floats(0.05, 1.2), speed=SPEEDS, ratio=st.floats(0.3, 3.0), displacement=st.floats(5e-6, 1e-4), efficiency=st.floats(0.5,
    1.0))
def test_share_of_a_share_comes_back(share: float, speed: float, ratio: float, displacement: float, efficiency: float) -> None:
    """A pump that gives a share of what is expected is found to give that share."""
    found = share * flow.expected_flow(displacement, ratio, speed, efficiency)
    assert flow.share_of_expected(found, displacement, ratio, speed, efficiency) == pytest.approx(share, rel=1e-12)


@given(amount=FLOWS, speed=SPEEDS, other=SPEEDS)
def test_flow_at_other_revs_and_back(amount: float, speed: float, other: float) -> None:
    """There and back is where it began, if the flow between is one that can be."""
    there = amount * other / speed
    if 1e-7 <= there <= 0.02:
        assert flow.flow_at_speed(flow.flow_at_speed(amount, speed, other), other, speed) == pytest.approx(amount, rel=1e-12)


@given(amount=st.floats(1e-5, 5e-3), factor=st.floats(0.5, 2.0))
def test_share_of_rated_follows_flow(amount: float, factor: float) -> None:
    """Twice the flow, twice the share; twice the revs, half the share."""
    given_ = RATED | {"flow": amount}
    base = flow.share_of_rated(**given_)
    assert flow.share_of_rated(**given_ | {"flow": amount * factor}) == pytest.approx(base * factor, rel=1e-12)
    assert flow.share_of_rated(**given_ | {"speed": RATED["speed"] * factor}) == pytest.approx(base / factor, rel=1e-12)


def test_direction_over_the_whole_range() -> None:
    """More revs, ratio, size or efficiency: more expected, so a smaller share."""
    for name, low, high in (("speed", 3.0, 100.0), ("ratio", 0.2, 4.0), ("displacement", 2e-6, 1e-3), ("efficiency", 0.2, 1.1)):
        values = [low + (high - low) * i / 50 for i in range(51)]
        shares = [flow.share_of_expected(**PUMP | {name: v}) for v in values]
        assert shares == sorted(set(shares), reverse=True), name


@pytest.mark.parametrize(("share", "word"), [
    (0.3, "very low"), (0.549, "very low"), (0.551, "low"), (0.799, "low"), (0.801, "enough"), (1.24, "enough"), (1.26, "more than can be"),
])
def test_words_against_a_pump(share: float, word: str) -> None:
    """The limits stand at 55, 80 and 125 per cent, as in the book's own grades."""
    found = flow.against_pump(share * 4e-5 * 20.0, 4e-5, 1.0, 20.0, 1.0)
    assert (found.word, found.expected) == (word, pytest.approx(8e-4))
    assert flow.against_usual(share * 8e-4, 20.0, 4e-4, 10.0).word == word


def test_no_share_of_the_rating_is_too_much() -> None:
    """The published figure is a need, and pumps may be larger."""
    assert flow.against_rating(**RATED | {"flow": 5e-3}).word == "enough"
    assert flow.against_rating(**RATED | {"flow": 5e-5}).word == "very low"


@pytest.mark.parametrize("slip", [2e-5, 5e-5, 1e-4])
def test_slip_shows_at_low_revs(slip: float) -> None:
    """A pump that loses the same at any speed falls off at low revs."""
    found = flow.two_speeds(4e-5 * 12.0 - slip, 12.0, 4e-5 * 50.0 - slip, 50.0, 0.03)
    assert (found.word, found.ratio > 1) == ("falls off at low revs", True)


@pytest.mark.parametrize("most", [0.5e-3, 1.0e-3, 1.5e-3])
def test_choked_suction_shows_at_high_revs(most: float) -> None:
    """A suction that lets no more than so much through falls off at high revs."""
    found = flow.two_speeds(min(4e-5 * 12.0, most), 12.0, min(4e-5 * 50.0, most), 50.0, 0.1)
    assert (found.word, found.ratio < 1) == ("falls off at high revs", True)


def test_even_pump_is_even_and_close_speeds_are_refused() -> None:
    """Within the allowance it is even; two speeds too close tell nothing."""
    assert flow.two_speeds(4e-4, 10.0, 1.9e-3, 50.0, 0.15).word == "even"
    with pytest.raises(ValueError, match="too close"):
        flow.two_speeds(4e-4, 10.0, 4.5e-4, 11.0, 0.15)
    with pytest.raises(OutOfRangeError):
        flow.two_speeds(4e-4, 10.0, 1.9e-3, 50.0, 0.6)


@given(slow=st.floats(1e-4, 1e-3), fast=st.floats(1e-4, 5e-3), scale=st.floats(0.5, 2.0))
def test_two_speeds_do_not_hang_on_the_bucket(slow: float, fast: float, scale: float) -> None:
    """A bucket that reads a tenth too much changes neither ratio nor word."""
    one, other = flow.two_speeds(slow, 15.0, fast, 45.0, 0.15), flow.two_speeds(slow * scale, 15.0, fast * scale, 45.0, 0.15)
    assert other.ratio == pytest.approx(one.ratio, rel=1e-12)
    assert other.word == one.word or abs(one.ratio - 0.85) < 1e-9 or abs(one.ratio - 1 / 0.85) < 1e-9


@given(inlet=st.floats(0.0, 35.0), rise=st.floats(1.0, 30.0), share=st.floats(0.1, 1.0))
def test_rise_times_flow_is_kept(inlet: float, rise: float, share: float) -> None:
    """The heat stays: rise x share is what it was, and less flow is never cooler."""
    found = flow.rise_at_share(inlet, rise, share)
    assert found.rise * share == pytest.approx(rise, rel=1e-12)
    assert found.outlet == pytest.approx(inlet + found.rise)
    assert found.rise >= rise


def test_all_is_what_can_be_used() -> None:
    """Every public name exists."""
    assert [name for name in flow.__all__ if not hasattr(flow, name)] == []
