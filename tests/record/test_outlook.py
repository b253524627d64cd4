"""Where a series is going, from the record to the numbers and the words: published values, simulated truth, honesty with few looks."""

from __future__ import annotations

import itertools
import random
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
import smallbook as small
import trendkit as kit

from diagnose.record import entries as e
from diagnose.record.outlook import Outlook, outlook
from diagnose.record.outlookwords import about, amount, count, in_short, number, sentences, where
from diagnose.record.scale import own_items, scale_of

TWO_X = [f"{2 * x + 1} degC" for x in range(9)] + ["100 degC"]
SPIKED = ["82 degC", "83 degC", "83.5 degC", "85 degC", "99 degC", "86 degC"]
EVERY_FIFTY = [0.0, 50.0, 100.0, 150.0, 200.0, 250.0]
LOG = kit.log_of((0, 0), (365.25, 100))


def of(values: Sequence[float], at_hours: Sequence[float], symptom: str = "heat", **how: Any) -> Outlook:
    """The outlook of numbers at engine hours, without a record."""
    return outlook(kit.series(values, at_hours, symptom), LOG, **how)


def text(view: Outlook) -> str:
    """All that an outlook says."""
    return " ".join(sentences(view))


# ------------------------------------------------------------------ published values, the whole way


def test_one_bad_reading_of_ten(tmp_path: Path) -> None:
    """y = 2x + 1 at 0 to 9 h with the last reading 100, from entries of the record: slope 2 an hour, intercept 1, as
    scipy.stats.theilslopes gives; least squares would say 6.418 and -10.78."""
    view = kit.view(kit.record_of(tmp_path, *kit.along(TWO_X, [float(x) for x in range(10)], "sea")), "sea")
    assert view.trend is not None
    assert (view.trend.slope, view.trend.intercept) == pytest.approx((2.0, 1.0))
    assert "rises 200 °C in 100 engine hours" in text(view)


def test_temperature_with_a_spike(tmp_path: Path) -> None:
    """Six temperatures with a spike, from entries of the record: 0.02 K an hour, 81.75 at hour nought, 95 degrees at 662.5 h
    (scipy.stats.theilslopes; by hand the middle of 15 slopes and (95 - 81.75) / 0.02). At 250 h in 250 days that is day 662.5."""
    view = kit.view(kit.record_of(tmp_path, *kit.along(SPIKED, EVERY_FIFTY, "heat", "idle", every=50.0)), "heat")
    assert view.trend is not None
    assert view.meeting is not None
    assert (view.trend.slope, view.trend.intercept) == pytest.approx((0.02, 81.75))
    assert view.limit is not None
    assert (view.limit.value, view.limit.grade) == (95.0, "some")
    assert view.meeting.at is not None
    assert view.meeting.at.hours == pytest.approx(662.5)
    assert view.meeting.at.on is not None
    assert (view.meeting.at.on - kit.START).total_seconds() / 86400 == pytest.approx(662.5)
    assert "rises 2 °C in 100 engine hours, and stands at 86.8 °C" in text(view)
    local = kit.day(662.5).astimezone()
    assert f"at about 662 h ({local.day} {local:%B %Y})" in text(view)


def test_the_spike_against_the_date(tmp_path: Path) -> None:
    """The same six, fifty days apart, against the date: 0.02 K a day, the same limit on the same day, and the hours of that day."""
    view = kit.view(kit.record_of(tmp_path, *kit.along(SPIKED, EVERY_FIFTY, "heat", "idle", every=50.0)), "heat", by="date")
    assert view.trend is not None
    assert view.trend.slope == pytest.approx(0.02)
    assert view.meeting is not None
    assert view.meeting.at is not None
    assert view.meeting.at.on == pytest.approx(kit.day(662.5), abs=timedelta(seconds=1))
    assert view.meeting.at.hours == pytest.approx(662.5)
    assert "rises 0.6 °C in 30 days" in text(view)


@pytest.mark.parametrize("seed", range(5))
def test_the_line_is_that_of_a_reference_library(seed: int, tmp_path: Path) -> None:
    """Noisy readings put on record give the slope and intercept of scipy.stats.theilslopes and the chance of scipy.stats.kendalltau."""
    stats = pytest.importorskip("scipy.stats")
    draw = random.Random(seed)
    run = sorted(draw.sample(range(0, 300, 5), 9))
    values = [round(60 + 0.05 * h + draw.gauss(0, 3), 3) for h in run]
    view = kit.view(kit.record_of(tmp_path, *kit.along([f"{v} degC" for v in values], run, "heat", "idle", every=13.0)), "heat")
    slope, intercept, *_ = stats.theilslopes(values, run)
    assert view.trend is not None
    assert (view.trend.slope, view.trend.intercept) == pytest.approx((slope, intercept))
    assert view.test is not None
    assert view.test.p == pytest.approx(stats.kendalltau(run, values, method="exact").pvalue)


# ------------------------------------------------------------------ simulated truth


@pytest.mark.parametrize("count_", [5, 8])
def test_the_interval_holds_the_true_slope_as_often_as_it_says(count_: int) -> None:
    """Of 400 simulated boats with a known slope at least 90 in 100, less twice the error of counting, have it in the interval."""
    draw, held = random.Random(7 * count_), 0
    for _ in range(400):
        run = sorted(draw.uniform(0, 200) for _ in range(count_))
        trend = of([70 + 0.04 * h + draw.gauss(0, 2) for h in run], run).trend
        assert trend is not None
        assert trend.low is not None
        assert trend.high is not None
        held += trend.low <= 0.04 <= trend.high
    assert held / 400 >= 0.9 - 2 * (0.9 * 0.1 / 400) ** 0.5


def test_the_limit_is_met_within_the_interval() -> None:
    """Of 300 simulated boats whose true line meets 95 °C at 625 h at least 90 in 100, less twice the error of counting, have
    that between the earliest and the latest told; a latest of never counts as later."""
    draw, held = random.Random(11), 0
    for _ in range(300):
        run = sorted(draw.uniform(0, 400) for _ in range(9))
        meeting = of([70 + 0.04 * h + draw.gauss(0, 1.5) for h in run], run).meeting
        assert meeting is not None
        early = meeting.earliest.hours if meeting.earliest is not None else None
        late = meeting.latest.hours if meeting.latest is not None else None
        held += early is not None and early <= 625 and (late is None or late >= 625)
    assert held / 300 >= 0.9 - 2 * (0.9 * 0.1 / 300) ** 0.5


def test_scatter_is_seldom_taken_for_a_trend() -> None:
    """Of 400 simulated boats on which nothing moves a worsening is shown at most 5 in 100 times: one side of an interval of 90."""
    draw, shown = random.Random(3), 0
    for _ in range(400):
        shown += of([80 + draw.gauss(0, 2) for _ in range(8)], [10.0 * i for i in range(8)]).shown
    assert shown / 400 <= 0.05 + 2 * (0.05 * 0.95 / 400) ** 0.5


# ------------------------------------------------------------------ few looks


@pytest.mark.parametrize("size", [2, 3])
def test_three_looks_or_fewer_have_no_interval(size: int) -> None:
    """Two or three looks give a line, no interval, no test and no range of when, and the words say so."""
    view = of([80.0, 84.0, 88.0][:size], [0.0, 10.0, 20.0][:size])
    assert view.trend is not None
    assert (view.trend.low, view.trend.high, view.test) == (None, None, None)
    assert view.meeting is not None
    assert (view.meeting.earliest, view.meeting.latest) == (None, None)
    assert "With three looks or fewer there is no interval: how sure this is cannot be told." in text(view)
    assert "with looks so few how surely cannot be told" in text(view)
    assert not view.shown


def test_four_looks_have_an_interval() -> None:
    """From four looks on the extreme slopes are an interval of 92 in 100 (two orders of 24 lie outside; by hand)."""
    view = of([80.0, 81.0, 83.0, 84.0], [0.0, 10.0, 20.0, 30.0])
    assert view.trend is not None
    assert view.trend.covers == pytest.approx(1 - 2 / 24)
    assert "92 times in 100" in text(view)


def test_one_look_is_no_trend() -> None:
    """One look is told, with its next limit, and no line."""
    view = of([80.0], [10.0])
    assert view.trend is None
    assert sentences(view)[0].startswith("One look, at 10 h")
    assert "There is no line to draw: one look is no trend." in text(view)
    assert "The next limit is 95 °C" in text(view)


def test_looks_at_one_hour_have_no_line_against_hours() -> None:
    """Looks on several days at the same engine hours are told against the date, or, against hours, that there is no line."""
    assert of([80.0, 81.0, 82.0], [10.0, 10.0, 10.0]).by == "date"
    view = of([80.0, 81.0, 82.0], [10.0, 10.0, 10.0], by="hours")
    assert view.trend is None
    assert "all looks were made at the same engine hours" in text(view)


def test_looks_without_hours(tmp_path: Path) -> None:
    """Where nobody read the meter the date is the axis; asked for by hours, that they are not known is said."""
    record = kit.record_of(tmp_path, *(kit.seen(i * 10, "heat", f"{80 + i} degC", "idle") for i in range(4)))
    assert kit.view(record, "heat").by == "date"
    view = kit.view(record, "heat", by="hours")
    assert view.looks == ()
    assert "the engine hours of these looks are not known" in text(view)


def test_a_series_of_nothing_is_refused() -> None:
    """An outlook needs a look."""
    with pytest.raises(ValueError, match="no look"):
        outlook(replace(kit.series([80.0], [1.0]), looks=()), LOG)


# ------------------------------------------------------------------ limits


@pytest.mark.parametrize(("symptom", "value", "limit", "grade"), [
    ("heat", 94.0, 95.0, "some"), ("heat", 95.0, 105.0, "much"), ("heat", 106.0, None, None),
    ("oil-pressure", 2.5, 2.0, "some"), ("oil-pressure", 1.5, 1.0, "much"), ("oil-pressure", 0.9, None, None), ("sea", 20.0, None, None),
])
def test_the_next_limit_is_the_next_edge_on_the_worse_side(symptom: str, value: float, limit: float | None, grade: str | None) -> None:
    """Bands that climb are worse upwards and bands that fall downwards; in the worst band, and for a bare reading, there is no limit."""
    scale = scale_of(kit.book(), symptom)
    assert scale is not None
    found = scale.next_limit(value)
    assert (found.value if found else None, found.grade if found else None) == (limit, grade)


def test_a_pressure_falls_to_its_limit() -> None:
    """From 3 bar falling 0.1 bar in ten hours, 2 bar is met at 100 h (by hand)."""
    view = of([3.0, 2.9, 2.8, 2.7, 2.6], [0.0, 10.0, 20.0, 30.0, 40.0], "oil-pressure")
    assert view.meeting is not None
    assert view.meeting.at is not None
    assert view.meeting.at.hours == pytest.approx(100.0)
    assert view.shown
    assert "falls 1 bar in 100 engine hours" in text(view)


def test_moving_the_other_way_meets_nothing() -> None:
    """A heat that falls has no meeting, is not shown as worse, and the words say that it does not get there."""
    view = of([90.0, 88.0, 86.0, 84.0, 82.0], [0.0, 10.0, 20.0, 30.0, 40.0])
    assert view.meeting is not None
    assert view.meeting.at is None
    assert not view.shown
    assert "On this line it does not get there." in text(view)


def test_a_last_reading_beyond_the_limit_is_named() -> None:
    """Where the line is below the limit and the last reading beyond it, that is said and not smoothed away."""
    view = of([82.0, 83.0, 82.0, 83.0, 99.0], [0.0, 10.0, 20.0, 30.0, 40.0])
    assert view.limit is not None
    assert view.limit.value == 95.0
    assert "The last reading, 99 °C, lies beyond it by itself." in text(view)


def test_the_worst_grade_has_no_further_limit() -> None:
    """Within the worst band nothing is foretold, and that is said."""
    view = of([106.0, 107.0, 108.0, 109.0], [0.0, 10.0, 20.0, 30.0])
    assert view.limit is None
    assert "there is no further limit" in text(view)


def test_edges_of_a_leak_part_its_grades() -> None:
    """A rate a little under an edge is taken for the milder grade and a little over it for the worse; the edge of ranges that
    leave a gap, 5 and 50 mL/h, lies in the gap."""
    from diagnose.seen import leak_grade

    scale = scale_of(kit.book(), "drip")
    assert scale is not None
    first, second = scale.limits
    assert first.value == 0.5
    assert 5 < second.value < 50
    symptom = kit.book().symptoms["drip"]
    assert [leak_grade(symptom, second.value * f) for f in (0.999, 1.001)] == [1, 2]


def test_a_leak_creeps_to_its_next_grade(tmp_path: Path) -> None:
    """A leak measured five times rises to its next grade at the hours that the line through it says."""
    record = kit.record_of(tmp_path, *kit.along(["none", "1 mL/hour", "2 mL/hour", "3 mL/hour", "4 mL/hour"], EVERY_FIFTY[:5], "drip"))
    view = kit.view(record, "drip")
    assert view.trend is not None
    assert view.trend.slope == pytest.approx(0.02)
    assert view.limit is not None
    assert view.meeting is not None
    assert view.meeting.at is not None
    assert view.meeting.at.hours == pytest.approx(view.limit.value / 0.02)


# ------------------------------------------------------------------ grades


def test_got_worse_twice_in_five_looks(tmp_path: Path) -> None:
    """Grades have no slope: how often they changed is told, when last, and what the next grade would be."""
    record = kit.record_of(tmp_path, *kit.along(["none", "some", "some", "some", "much"], EVERY_FIFTY[:5], "weep"))
    view = kit.view(record, "weep")
    assert (view.trend, view.limit, view.meeting) == (None, None, None)
    assert "It got worse twice in five looks." in text(view)
    assert "for the worse: from some at 150 h (4 February 2026) to much at 200 h (14 February 2026)." in text(view)
    assert "The next grade would be utter" in text(view)


@pytest.mark.parametrize("grades", [(0, 1, 1, 2, 3), (0, 0, 1, 0, 2, 1), (1, 1, 1, 1), (3, 2, 2, 0)])
def test_the_rank_test_is_that_of_all_orders(grades: tuple[int, ...], tmp_path: Path) -> None:
    """The chance told is the share of all orders of the same grades whose pairs speak as much in one direction (all counted)."""
    def s(order: Sequence[int]) -> int:
        return sum((b > a) - (b < a) for a, b in itertools.combinations(order, 2))

    orders = list(itertools.permutations(grades))
    share = sum(abs(s(o)) >= abs(s(grades)) for o in orders) / len(orders)
    record = kit.record_of(tmp_path, *kit.along([small.GRADES[g] for g in grades], [10.0 * i for i in range(len(grades))], "weep"))
    test = kit.view(record, "weep").test
    assert test is not None
    assert (test.s, test.p) == (s(grades), pytest.approx(share))


def test_few_grades_are_not_tested(tmp_path: Path) -> None:
    """Three looks that each got worse say so, and that they are too few to tell a trend from accident."""
    view = kit.view(kit.record_of(tmp_path, *kit.along(["none", "some", "much"], [0.0, 10.0, 20.0], "weep")), "weep")
    assert view.test is None
    assert not view.shown
    assert "Too few looks to tell a trend from accident." in text(view)


def test_grades_told_between_two_change_only_where_it_is_sure(tmp_path: Path) -> None:
    """From 'some or much' to 'much' is no change that is sure; from there to 'utter' is one."""
    between = e.Observed.model_validate({"at": kit.day(0), "observation": {"symptom": "weep", "one_of": ["some", "much"]}})
    view = kit.view(kit.record_of(tmp_path, between, kit.seen(10, "weep", "much"), kit.seen(20, "weep", "utter")), "weep")
    assert view.worse == len(view.changes) == 1


def test_better_and_worse_are_both_told(tmp_path: Path) -> None:
    """What got worse and then better is told as both, and a symptom that never changed as no change."""
    record = kit.record_of(tmp_path, *kit.along(["none", "some", "none", "none"], EVERY_FIFTY[:4], "weep"),
                           *(kit.seen(i, "rattle", "none", "idle") for i in range(5)))
    assert "It got worse once and got better once in four looks." in text(kit.view(record, "weep"))
    assert "No change in five looks." in text(kit.view(record, "rattle"))


# ------------------------------------------------------------------ what to bear in mind


def test_guesses_and_revs_apart_are_named(tmp_path: Path) -> None:
    """A guess among the looks, and readings at revs far apart, are said beside the line."""
    looks = [kit.seen(i * 10, "heat", f"{80 + i} degC", "idle", at_rpm=1500.0 + 300 * i, sure="guess" if i == 1 else "sure")
             for i in range(4)]
    said = text(kit.view(kit.record_of(tmp_path, kit.hours(0, 0), kit.hours(100, 100), *looks), "heat"))
    assert "One look of these was not sure." in said
    assert "They were taken at 1500 to 2400 revs a minute" in said


def test_less_than_the_error_of_a_reading_is_said() -> None:
    """A rise of 2 °C in all, where a careful reading is good to 3, is called that."""
    assert "In all that is less than a careful reading may be off (3 °C)." in text(of([80.0, 80.5, 81.0, 82.0], [0.0, 10.0, 20.0, 30.0]))


def test_the_pace_is_named_where_days_hang_on_it(tmp_path: Path) -> None:
    """Days made of hours name the pace: her own where there are readings enough, else what is taken for her."""
    record = kit.record_of(tmp_path, *kit.along(SPIKED, EVERY_FIFTY, "heat", "idle", every=50.0))
    assert "at her own pace, 365 engine hours a year over eight months of readings" in text(kit.view(record, "heat"))
    assert "at 100 engine hours a year, which is taken where too few readings tell" in text(
        outlook(kit.series([80.0, 84.0, 88.0, 92.0], [0.0, 1.0, 2.0, 3.0]), kit.log_of((0, 0))))


def test_a_service_after_the_last_look_comes_first(tmp_path: Path) -> None:
    """Where the pump was renewed and nobody looked since, that is said before anything is drawn from looks at the old one."""
    record = kit.record_of(tmp_path, *kit.along(["some", "much"], [10.0, 20.0], "weep"),
                           e.ServiceEntry(at=kit.day(25), item="pump", on=date(2026, 1, 30)))
    assert sentences(kit.view(record, "weep"))[1].startswith("Nobody has looked since this service")


def test_a_service_in_between_is_named(tmp_path: Path) -> None:
    """A service that may have moved the reading and did not begin it anew is named; asked for the whole, no look is left off."""
    record = kit.record_of(tmp_path, *kit.along(["utter", "none", "some", "some"], EVERY_FIFTY[:4], "weep"),
                           e.ServiceEntry(at=kit.day(5), item="pump", on=date(2026, 1, 10)))
    view = kit.view(record, "weep")
    assert "Three looks from 50 h" in text(view)
    assert "One look left off the line: from before a service (pump renewed) that made it better." in text(view)
    whole = kit.view(record, "weep", whole=True)
    assert len(whole.looks) == 4
    assert "In between, at" in text(whole)


def test_own_items_are_those_that_mostly_show() -> None:
    """The pump is most of what weeps; of what heats, the jacket is half and the rest is not served."""
    assert own_items(kit.book(), "weep") == {"pump"}
    assert own_items(kit.book(), "heat") == {"jacket"}
    assert own_items(kit.book(), "rattle") == frozenset()


# ------------------------------------------------------------------ words


@pytest.mark.parametrize(("value", "words"), [
    (0.0, "0"), (2.0, "2"), (81.75, "81.8"), (0.000123456, "0.000123"), (123456.0, "123456"), (-0.5, "-0.5"), (100.0, "100"),
    (0.1 + 0.2, "0.3"),
])
def test_numbers_have_no_powers_and_no_false_digits(value: float, words: str) -> None:
    """Three figures, no power of ten, no noughts at the end of decimals."""
    assert number(value) == words


def test_small_words() -> None:
    """Units as people write them, counts in words, a place in time with or without hours, a time that is far off."""
    from diagnose.record.outlook import Then

    assert (amount(5.0, "degC"), amount(0.9, "1"), amount(3.0, "mL/hour")) == ("5 °C", "0.9", "3 mL an hour")
    assert (count(1, "look"), count(3, "look"), count(11, "look")) == ("one look", "three looks", "11 looks")
    assert where(None, kit.day(0)) == "5 January 2026"
    assert where(12.5, None) == "12.5 h"
    assert about(Then(None, None), "date") == "more than fifty years off"
    assert about(Then(120.0, kit.day(1)), "date") == "6 January 2026 (120 h)"


def test_in_short_needs_a_meeting() -> None:
    """The short word of a crossing is refused where there is none."""
    with pytest.raises(ValueError, match="meets no limit"):
        in_short(of([80.0], [1.0]))


def test_far_off_is_not_a_day() -> None:
    """A line that creeps so slowly that it takes centuries is told in hours, and no day is made of it."""
    view = outlook(kit.series([80.0, 80.001, 80.002, 80.003], [0.0, 10.0, 20.0, 30.0]), LOG)
    assert view.meeting is not None
    assert view.meeting.at is not None
    assert view.meeting.at.hours == pytest.approx(150_000, rel=1e-3)
    assert view.meeting.at.on is None
