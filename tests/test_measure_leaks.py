"""Budgets of a leak over a trip against hand sums."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.measure.leaks import GROWTH, RESERVE_SHARE, coolant_budget, inflow_budget, planned_rate

RATES = st.floats(0.1, 5000.0)
LITRES = st.floats(0.0, 50.0)
HOURS = st.floats(0.1, 200.0)


# ------------------------------------------------------------------ what is planned on


def test_a_measured_leak_is_planned_at_three_times() -> None:
    """Counted at 30 to 40 mL/h it is planned at 120, three times the larger."""
    assert planned_rate(30, 40, measured=True) == 120


def test_a_graded_leak_is_planned_at_three_times_its_middle() -> None:
    """A grade of 3 to 300 mL/h has its middle, by ratio, at 30: planned at 90 (hand sum)."""
    assert planned_rate(3, 300, measured=False) == pytest.approx(90)


@given(RATES, st.floats(1.0, 100.0), st.booleans())
def test_the_plan_is_never_under_the_range(low: float, ratio: float, measured: bool) -> None:
    """Whatever the range, three times its lower end at least and three times its upper end at most is planned."""
    planned = planned_rate(low, low * ratio, measured=measured)
    assert GROWTH * low * (1 - 1e-12) <= planned <= GROWTH * low * ratio * (1 + 1e-12)


@pytest.mark.parametrize(("low", "high"), [(0.0, 10.0), (-1.0, 10.0), (10.0, 5.0)])
def test_a_rate_that_cannot_be_is_refused(low: float, high: float) -> None:
    """No leak, a negative one, or a range upside down is no rate."""
    with pytest.raises(ValueError, match="low before high"):
        planned_rate(low, high, measured=False)


# ------------------------------------------------------------------ coolant


@pytest.mark.parametrize(("planned", "hours", "aboard", "fill_hot", "cool_downs", "verdict", "lasts"), [
    (19, 10, 0, True, 0, "fits", 0.2 / 0.019),  # .19 L of .2 L
    (21, 10, 0, True, 0, "does not fit", 0.2 / 0.021),
    (60, 10, 3, True, 0, "needs topping up", 20),  # .6 L of .2 + 1
    (120, 10, 3, True, 0, "needs topping up", 10),  # 1.2 L of .2 + 1
    (121, 10, 3, True, 0, "does not fit", 1.2 / 0.121),
    (60, 10, 3, False, 0, "does not fit", 0.2 / 0.06),  # carried for nothing
    (60, 10, 3, False, 1, "does not fit", 0.4 / 0.06),  # one stop fills one header's worth
    (60, 10, 3, False, 2, "needs topping up", 10),
    (60, 10, 0.3, False, 9, "does not fit", 0.3 / 0.06),  # stops enough, but only .1 L of what is carried counts
])
def test_coolant_against_header_and_what_is_carried(planned: float, hours: float, aboard: float, fill_hot: bool, cool_downs: int,
                                                    verdict: str, lasts: float) -> None:
    """A header of .6 L gives .2 L, and a third of what is carried counts if it can be filled in (hand sums)."""
    budget = coolant_budget(planned, hours, 0.6, aboard, fill_hot=fill_hot, cool_downs=cool_downs)
    assert budget.verdict == verdict
    assert budget.lost_litres == pytest.approx(planned * hours / 1000)
    assert budget.lasts_hours == pytest.approx(lasts)


def test_topping_up_says_how_much_and_how_often() -> None:
    """At 60 mL/h a header that may lose .2 L takes .2 L every 3 h 20 min."""
    budget = coolant_budget(60, 10, 0.6, 3, fill_hot=True, cool_downs=0)
    assert (budget.top_up_litres, budget.top_up_every_hours) == pytest.approx((0.2, 10 / 3))


def test_a_header_that_stays_shut_is_said() -> None:
    """Where only the hot cap stands between leak and reserve the sum says so."""
    shut, open_ = (coolant_budget(60, 10, 0.6, 3, fill_hot=hot, cool_downs=0).arithmetic for hot in (False, True))
    assert "cannot be opened hot" in shut
    assert "cannot be opened hot" not in open_


@given(RATES, HOURS, LITRES, LITRES, st.integers(0, 5))
def test_an_expansion_bottle_never_makes_it_worse(planned: float, hours: float, header: float, aboard: float, stops: int) -> None:
    """What can be filled hot lasts at least as long as what needs cool-downs, and one stop more never shortens it."""
    def lasts(hot: bool, count: int) -> float:
        return coolant_budget(planned, hours, header, aboard, fill_hot=hot, cool_downs=count).lasts_hours

    assert lasts(False, stops) <= lasts(False, stops + 1) + 1e-9
    assert lasts(False, stops + 1) <= lasts(True, 0) + 1e-9


@given(RATES, HOURS, LITRES, LITRES, st.booleans(), st.integers(0, 5))
def test_the_verdict_is_whether_it_lasts(planned: float, hours: float, header: float, aboard: float, hot: bool, stops: int) -> None:
    """A leak fits or can be topped up exactly when it lasts the trip, and never counts more than a third of all there is."""
    budget = coolant_budget(planned, hours, header, aboard, fill_hot=hot, cool_downs=stops)
    if budget.lasts_hours < hours * (1 - 1e-9):
        assert budget.verdict == "does not fit"
    elif budget.lasts_hours > hours * (1 + 1e-9):
        assert budget.verdict != "does not fit"
    assert budget.lasts_hours * planned / 1000 <= RESERVE_SHARE * (header + aboard) * (1 + 1e-9)


def test_no_leak_lasts_for_ever() -> None:
    """A planned rate of nothing fits any trip."""
    budget = coolant_budget(0, 1000, 0, 0, fill_hot=False, cool_downs=0)
    assert (budget.verdict, budget.lasts_hours) == ("fits", math.inf)


# ------------------------------------------------------------------ sea water


@pytest.mark.parametrize(("planned", "pump", "verdict"), [(49_000, 200, "fits"), (50_000, 200, "fits"), (51_000, 200, "does not fit")])
def test_sea_water_against_a_quarter_of_the_pump(planned: float, pump: float, verdict: str) -> None:
    """A pump that lifts 200 L/h is trusted with 50 (hand sum); what comes in over the hours is said."""
    budget = inflow_budget(planned, 12, pump)
    assert budget.verdict == verdict
    assert budget.lost_litres == pytest.approx(planned / 1000 * 12)


# ------------------------------------------------------------------ refusals


@pytest.mark.parametrize("wrong", range(4))
def test_negative_quantities_are_refused(wrong: int) -> None:
    """A negative rate, time, header or reserve is an error and no budget."""
    given_ = [60.0, 10.0, 0.6, 3.0]
    given_[wrong] = -0.1
    with pytest.raises(ValueError, match="not negative"):
        coolant_budget(*given_, fill_hot=True, cool_downs=0)


def test_negative_inflow_is_refused() -> None:
    """The same for sea water, and for cool-downs."""
    with pytest.raises(ValueError, match="not negative"):
        inflow_budget(1000, -1, 100)
    with pytest.raises(ValueError, match="not negative"):
        coolant_budget(60, 10, 0.6, 3, fill_hot=False, cool_downs=-1)
