"""The chance that a fault is present before anything was looked at: windows, wear, events, the unknown fault."""

from __future__ import annotations

import math

import numpy as np
import pytest
import smallbook as sb
from hypothesis import given
from hypothesis import strategies as st

from diagnose import assess
from diagnose.knowledge.book import Book
from diagnose.machinery import Machinery
from diagnose.network.nodes import Array, unknown_id
from diagnose.prior import LEAST, MOST, prior_of, priors
from diagnose.situation import resolve


def prior_under(fault: sb.Map, *, opened: str = "noticed-something", **case: object) -> Array:
    """Prior over absent and the stages of one fault in a case without observations."""
    book = sb.book_of(sb.component(symptoms=[sb.symptom("sign")], faults=[fault], events=[{"id": "work-done", "title": "work", **sb.SAID}]))
    return prior_of(book.faults[fault["id"]], resolve(sb.case_of(opened=opened, **case), book))


def on_sign(name: str = "f", **more: object) -> sb.Map:
    return sb.fault(name, [sb.shows("sign", (0.8,))], **more)  # type: ignore[arg-type]


# ------------------------------------------------------------------ windows


def test_noticed_counts_onsets_in_the_hours_since_all_was_well() -> None:
    """Noticed 20 h ago at .5 onsets a year of 100 h: 1 - exp(-.1), however short the fault lives."""
    assert prior_under(on_sign(rate=0.5, lasts=((1, 3),)), noticed_hours=20)[1] == pytest.approx(1 - math.exp(-0.1), rel=1e-12)


def test_noticed_without_hours_means_a_season() -> None:
    """Without a word of when, the window is the boat's usual year."""
    season = prior_under(on_sign(rate=0.5), boat={"arrangement": {"hours-a-year": "250 hour"}})
    assert season[1] == pytest.approx(1 - math.exp(-0.5), rel=1e-12)


def test_routine_look_counts_the_hours_since_the_last_look() -> None:
    """A slow fault may have begun at any time since the last look, 40 h ago."""
    slow = on_sign(rate=0.5, lasts=((200, 2000),))
    assert prior_under(slow, opened="routine-look", since_last_look_hours=40)[1] == pytest.approx(1 - math.exp(-0.2), rel=1e-12)


def test_routine_look_counts_no_longer_than_the_fault_can_live_unseen() -> None:
    """A fault that forces a stop within an hour or two cannot have begun 40 h ago and still be there."""
    quick = on_sign(rate=0.5, lasts=((1, 2),))
    mean = math.exp(0.5 * math.log(2) + 0.5 * (math.log(2) / (2 * 1.6448536)) ** 2)
    assert prior_under(quick, opened="routine-look", since_last_look_hours=40)[1] == pytest.approx(-math.expm1(-0.005 * mean), rel=1e-6)


def test_a_stage_that_stays_lives_for_ever() -> None:
    """A fault whose last stage does not move on is counted over the whole window."""
    stays = on_sign(rate=0.5, lasts=((1, 2), None))
    assert prior_under(stays, opened="routine-look", since_last_look_hours=40)[1:].sum() == pytest.approx(1 - math.exp(-0.2), rel=1e-12)


def looked_over(count: int) -> dict[str, float]:
    """Boats that ran 200 h since their last look: which fault is there, if the sign is?

    The acute fault is there only if it began in the last two hours (begun before, it was mended and she went on); the
    slow one if it began at any time since the look.
    """
    rng = np.random.default_rng(8)
    there = {"acute": rng.exponential(100 / 0.05, count) < 2, "slow": rng.exponential(100 / 0.05, count) < 200}
    sign = rng.random(count) < 0.025
    for present in there.values():
        sign |= present & (rng.random(count) < 0.8)
    return {name: float(present[sign].mean()) for name, present in there.items()}


def test_same_rate_different_lives() -> None:
    """Two faults of one rate: at a routine look the sign points at the slow one, at a complaint at both alike.

    .05 a year each, .8 on the sign; one forces a stop within 2 h, the other lives till the look 200 h on; the sign also
    comes by itself on .025 of looks. Against a simulation of 2e6 boats between two looks.
    """
    links = [sb.shows("sign", (0.8,))]
    faults = [sb.fault("acute", links, lasts=((1.9999, 2.0001),)), sb.fault("slow", links, lasts=((300, 500),))]
    book = sb.book_of(sb.component(symptoms=[sb.symptom("sign", (0.025,))], faults=faults))
    routine = assess(sb.case_of(sb.seen("sign", "some"), opened="routine-look", since_last_look_hours=200), book, next_check=False)
    simulated = looked_over(2_000_000)
    assert routine.all_probabilities["acute"] == pytest.approx(simulated["acute"], abs=0.0007)  # three standard errors
    assert routine.all_probabilities["slow"] == pytest.approx(simulated["slow"], abs=0.003)
    noticed = assess(sb.case_of(sb.seen("sign", "some"), noticed_hours=30), book, next_check=False)
    assert noticed.all_probabilities["acute"] == pytest.approx(noticed.all_probabilities["slow"], rel=1e-9)


def test_stages_share_the_window() -> None:
    """Stages of mean 30 h and 30 h, and one that stays and may have stood unseen for three windows of 100 h (hand sum)."""
    span = (30 * 0.9999, 30 * 1.0001)
    prior = prior_under(on_sign(rate=0.5, lasts=(span, span, None)))
    assert prior == pytest.approx(np.array([1.0, 0, 0, 0]) + (1 - math.exp(-1.8)) * np.array([-1, 1 / 12, 1 / 12, 10 / 12]), rel=1e-5)


OPENED = st.sampled_from(["routine-look", "noticed-something", "after-work"])


@given(st.floats(0.001, 4.9), st.floats(0.5, 5000), st.floats(0.5, 5000), OPENED)
def test_prior_is_a_distribution(rate: float, since: float, noticed: float, opened: str) -> None:
    """Whatever the rate and the hours, the states are chances that sum to one, none too small or too large to weigh."""
    prior = prior_under(on_sign(rate=rate, lasts=((5, 50), (1, 10))), opened=opened, since_last_look_hours=since, noticed_hours=noticed)
    assert prior.sum() == pytest.approx(1.0, abs=1e-12)
    assert prior[1:].min() >= LEAST
    assert prior[1:].sum() <= MOST + 2 * LEAST


def test_longer_windows_never_lower_the_prior() -> None:
    """The longer ago all was well, the likelier the fault."""
    found = [prior_under(on_sign(rate=0.3), noticed_hours=hours)[1:].sum() for hours in (1, 10, 50, 100, 1000)]
    assert found == sorted(found)
    assert found[0] < found[-1]


# ------------------------------------------------------------------ wear


WORN = {"since": "pump", "shape": 2, "life": {"value": 1000, "unit": "hour", "spread": 1.1, "source": "common-practice"}}


def test_wear_takes_the_place_of_the_rate_where_the_age_is_known() -> None:
    """A part 600 h old, life 1000 h, shape 2: 1 - .895834 for the last 100 h, to the spread of the life.

    Weibull conditional as at ReliaWiki, value by scipy.stats.weibull_min.
    """
    prior = prior_under(on_sign(rate=0.001, ages_with=WORN), boat={"serviced": {"pump": {"hours_ago": 600}}}, noticed_hours=100)
    assert prior[1] == pytest.approx(1 - 0.895834, rel=0.01)


def test_without_an_age_the_rate_counts() -> None:
    """The same part of unknown age goes by its rate."""
    assert prior_under(on_sign(rate=0.5, ages_with=WORN), noticed_hours=100)[1] == pytest.approx(1 - math.exp(-0.5), rel=1e-12)


def test_life_in_years_is_counted_in_the_boats_own_hours() -> None:
    """Ten years' life on a boat of 60 h a year is 600 h."""
    years = {**WORN, "life": {**WORN["life"], "value": 10, "unit": "year"}}  # type: ignore[dict-item]
    hours = {**WORN, "life": {**WORN["life"], "value": 600}}  # type: ignore[dict-item]
    boat = {"serviced": {"pump": {"hours_ago": 500}}, "arrangement": {"hours-a-year": "60 hour"}}
    found = [prior_under(on_sign(ages_with=ageing), boat=boat, noticed_hours=50)[1] for ageing in (years, hours)]
    assert found[0] == pytest.approx(found[1], rel=1e-12)


# ------------------------------------------------------------------ events


AFTER = [{"event": "work-done", "chance": 0.2, "fades_over_hours": 20, "why": "invented"}]


@pytest.mark.parametrize(("hours", "caused"), [(0, 0.2), (5, 0.15), (10, 0.1), (19, 0.01), (20, 0.0), (200, 0.0)])
def test_events_fade(hours: float, caused: float) -> None:
    """What work leaves behind fades in a straight line over its hours, beside the fault's own rate (hand sums)."""
    own = 1 - math.exp(-0.01)
    prior = prior_under(on_sign(rate=0.01, after=AFTER), events=[{"event": "work-done", "hours_ago": hours}])
    assert prior[1] == pytest.approx(own * (1 - caused) + caused, rel=1e-9)


def test_an_event_of_some_hours_ago_has_moved_on() -> None:
    """Caused 15 h ago, with a first stage of ten hours, the fault is in its second stage."""
    span = (9.999, 10.001)
    after = [{**AFTER[0], "fades_over_hours": 1000}]
    prior = prior_under(on_sign(rate=0.001, lasts=(span, (50, 500)), after=after), events=[{"event": "work-done", "hours_ago": 15}])
    assert prior[2] == pytest.approx(0.2 * (1 - 15 / 1000), rel=0.01)
    assert prior[1] < 0.01


def test_of_two_events_of_a_kind_the_latest_counts() -> None:
    """The same work done 30 h and 5 h ago counts as done 5 h ago."""
    twice = prior_under(on_sign(after=AFTER), events=[{"event": "work-done", "hours_ago": h} for h in (30, 5)])
    once = prior_under(on_sign(after=AFTER), events=[{"event": "work-done", "hours_ago": 5}])
    assert twice == pytest.approx(once, rel=1e-12)


# ------------------------------------------------------------------ the unknown fault


def unknown_of(book: Book) -> dict[str, Array]:
    machinery = Machinery.of(book)
    net = machinery.net(frozenset())
    found = priors(book, net, resolve(sb.case_of(), book))
    return {net.ids[n]: p for n, p in found.items()}


def test_the_unknown_fault_takes_its_share_of_each_system() -> None:
    """If the book misses a tenth of faults, the unknown one is a ninth as likely as all known ones of its system together."""
    book = sb.book_of(
        sb.component("engine", "cooling", symptoms=[sb.symptom("sign")], faults=[on_sign("a", rate=0.2), on_sign("b", rate=0.1)]),
        sb.component("dials", "gauges", symptoms=[sb.symptom("mark")], faults=[sb.fault("c", [sb.shows("mark", (0.8,))], rate=0.4)]),
        unknown_share=0.1,
    )
    found = unknown_of(book)
    assert 1 - found[unknown_id("cooling")][0] == pytest.approx((1 - math.exp(-0.3)) / 9, rel=1e-9)
    assert 1 - found[unknown_id("gauges")][0] == pytest.approx((1 - math.exp(-0.4)) / 9, rel=1e-9)
    assert found[unknown_id("cooling")].sum() == pytest.approx(1.0, abs=1e-12)
