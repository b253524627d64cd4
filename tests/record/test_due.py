"""What is due: checks set, parts near their time, trends near their limit, the look-over; each with why and by when, nothing blanket."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import trendkit as kit

from diagnose.knowledge.model import Ageing, Life
from diagnose.record import entries as e
from diagnose.record.ageing import Ahead, chance_ahead, line_of
from diagnose.record.due import Due, DueList, due
from diagnose.record.hourlog import Pace
from diagnose.record.store import Record


def now(record: Record, days: float, **how: Any) -> DueList:
    """What is due so many days after the start."""
    return due(record, kit.BOAT, kit.book(), now=kit.day(days), **how)


def only(found: DueList, kind: str) -> Due:
    """The one thing of a kind."""
    (item,) = [item for item in found.items if item.kind == kind]
    return item


def kinds(found: DueList) -> list[str]:
    """The kinds of what is due, in order, the look-over aside: it is always owed where nobody looked."""
    return [item.kind for item in found.items if item.kind != "look-over"]


def local(days: float) -> date:
    """The day on the clock of this place."""
    return kit.day(days).astimezone().date()


# ------------------------------------------------------------------ nothing blanket


def test_a_boat_of_which_nothing_is_known_owes_the_look_over_alone(tmp_path: Path) -> None:
    """Nothing is due by a calendar: without services, looks or settings only the look-over before leaving is owed, and how many
    services nobody told is counted (pump and hose; the jacket is of raw-water-cooled boats)."""
    found = now(kit.record_of(tmp_path), 10)
    assert [item.kind for item in found.items] == ["look-over"]
    assert found.items[0].at_departure
    assert found.untold == 2


# ------------------------------------------------------------------ checks set


def set_(days: float = 0, check: str = "look-at-weep", **how: Any) -> e.DueSet:
    """A check set to come again."""
    return e.DueSet.model_validate({"at": kit.day(days), "check": check, **how})


def test_a_check_set_by_hours(tmp_path: Path) -> None:
    """Set at 100 h for every 50: due at 150 h, which at 1 h a day is on day 50; on day 60 it is past."""
    record = kit.record_of(tmp_path, kit.hours(0, 100), kit.hours(100, 200), set_(every_hours=50))
    item = only(now(record, 20), "set")
    assert (item.by_hours, item.by_date, item.overdue) == (150.0, local(50), False)
    assert item.checks == ("look-at-weep",)
    assert only(now(record, 60), "set").overdue


@pytest.mark.parametrize(("every", "hours", "days"), [({"every_days": 30}, 130.0, 30), ({"every_days": 30, "every_hours": 20}, 120.0, 20),
                                                       ({"every_days": 30, "every_hours": 80}, 130.0, 30)])
def test_hours_or_days_whichever_is_sooner(every: dict[str, float], hours: float, days: float, tmp_path: Path) -> None:
    """Of hours and days the sooner counts, and each is told as the other at 1 h a day."""
    record = kit.record_of(tmp_path, kit.hours(0, 100), kit.hours(100, 200), set_(**every))
    item = only(now(record, 5), "set")
    assert item.by_hours == pytest.approx(hours)
    assert item.by_date == local(days)


def test_it_counts_from_when_it_was_last_made(tmp_path: Path) -> None:
    """Made on day 40, by its name or by a look at all it tells, it is due again 50 h after that; a look at half of it is not it."""
    base = [kit.hours(0, 100), kit.hours(100, 200), set_(every_hours=50), set_(check="walk-round", every_hours=50)]
    record = kit.record_of(tmp_path, *base, kit.seen(40, "weep", "none", check="look-at-weep"))
    due_ = {item.id: item.by_hours for item in now(record, 45).items if item.kind == "set"}
    assert due_ == {"look-at-weep": pytest.approx(190.0), "walk-round": 150.0}
    record.append(kit.seen(60, "drip", "none"), boat=kit.BOAT, case=record.cases()[0].id)
    due_ = {item.id: item.by_hours for item in now(record, 65).items if item.kind == "set"}
    assert due_["walk-round"] == pytest.approx(190.0)  # all it tells was last known at once on day 40


def test_a_check_passed_over_was_not_made(tmp_path: Path) -> None:
    """Asked and not seen is not made."""
    record = kit.record_of(tmp_path, kit.hours(0, 100), kit.hours(100, 200), set_(every_hours=50),
                           e.PassedOver(at=kit.day(40), check="look-at-weep", why="later"))
    assert only(now(record, 60), "set").by_hours == 150.0


def test_a_setting_can_end_be_changed_and_be_taken_back(tmp_path: Path) -> None:
    """After its end it is gone, a later setting stands in place of the earlier, and taken back the earlier counts again."""
    record = kit.record_of(tmp_path, kit.hours(0, 100), kit.hours(100, 200), set_(every_hours=50, until=local(30)))
    assert kinds(now(record, 10)) == []
    record.append(set_(1, every_days=20), boat=kit.BOAT)
    assert only(now(record, 10), "set").by_date == local(21)
    last = record.append(set_(2, every_days=300), boat=kit.BOAT)
    assert only(now(record, 10), "set").by_date == local(302)
    record.append(e.TakenBack(at=kit.day(3), entry=last.id), boat=kit.BOAT)
    assert only(now(record, 10), "set").by_date == local(21)


def test_once_until_a_day(tmp_path: Path) -> None:
    """Set without a rhythm it is due once, by its day, and is over when made."""
    record = kit.record_of(tmp_path, set_(until=local(30)))
    item = only(now(record, 10), "set")
    assert (item.by_date, item.overdue) == (local(30), False)
    assert only(now(record, 40), "set").overdue
    record.append(kit.seen(12, "weep", "some"), boat=kit.BOAT, case=record.cases()[0].id)
    assert kinds(now(record, 15)) == []


def test_hours_nobody_read_give_no_day(tmp_path: Path) -> None:
    """Set by hours on a boat whose meter nobody reads it is listed, without a day, and the reason says so."""
    item = only(now(kit.record_of(tmp_path, set_(every_hours=50)), 10), "set")
    assert (item.by_hours, item.by_date, item.overdue) == (None, None, False)
    assert "engine hours are not on record" in item.why


@pytest.mark.parametrize("text", kit.HOSTILE[:-1])
def test_a_check_the_book_does_not_know_is_kept(text: str, tmp_path: Path) -> None:
    """A check by a name that is not in the book is due as it was set, its note as it was written."""
    item = only(now(kit.record_of(tmp_path, set_(check="wave-at-it", every_days=3, note=text)), 1), "set")
    assert (item.title, item.checks) == ("wave-at-it", ())
    assert text.strip() in item.why


def test_a_rhythm_of_ages_is_no_crash(tmp_path: Path) -> None:
    """A rhythm longer than any calendar has no day and is listed last."""
    item = only(now(kit.record_of(tmp_path, kit.hours(0, 100), set_(every_days=1e12, every_hours=1e12)), 1), "set")
    assert item.by_date is None
    assert not item.overdue


# ------------------------------------------------------------------ parts that age


def wear(shape: float, life: float, spread: float = 1.0 + 1e-7) -> Ageing:
    """A wear-out with as good as no doubt about its life, which the rules themselves would not allow."""
    known = Life.model_construct(value=life, unit="hour", spread=spread, source=None)
    return Ageing.model_construct(since="pump", shape=shape, life=known)


@pytest.mark.parametrize(("shape", "life", "age", "ahead", "lasts"), [(2, 1000, 500, 100, 0.895834), (3, 4000, 3000, 500, 0.780323)])
def test_the_chance_ahead_is_that_of_the_weibull_law(shape: float, life: float, age: float, ahead: float, lasts: float) -> None:
    """Conditional reliability R(t|T) = exp{(T/eta)^beta - ((T+t)/eta)^beta} as ReliaWiki gives it, figures by
    scipy.stats.weibull_min."""
    assert 1 - chance_ahead(wear(shape, life), age, ahead) == pytest.approx(lasts, abs=1e-5)


def service(item: str, hours: float | None = None, days: float | None = None, entered: float = 0) -> e.ServiceEntry:
    """A service told by its hours, by its day, or both."""
    return e.ServiceEntry(at=kit.day(entered), item=item, hours=hours, on=local(days) if days is not None else None)


def test_a_part_is_due_when_its_chance_passes_the_line(tmp_path: Path) -> None:
    """Shape 2 and life 1000 h: by hand 10 in 100 begin within 100 h from 476.8 h on, so a pump of 450 h is due 26.8 h from now,
    one of 300 h is not yet, and one of 500 h is now."""
    def at(run: float) -> DueList:
        folder = tmp_path / str(run)
        folder.mkdir()
        return now(kit.record_of(folder, kit.hours(0, 1000 + run), service("pump", 1000)), 0)

    soon = only(at(450), "age")
    assert soon.by_hours == pytest.approx(1476.8, abs=2.5)
    assert not soon.overdue
    assert "Pump worn: 10 in 100, where 10 is the line".lower() in soon.why.lower()
    assert only(at(500), "age").overdue
    assert kinds(at(300)) == []
    assert soon.checks == ("look-at-weep",)


def test_what_may_flood_has_a_lower_line(tmp_path: Path) -> None:
    """Shape 3 and life 10 years: by hand 5 in 100 begin within a year from 3.62 years on; a hose of three years is due in 0.62."""
    record = kit.record_of(tmp_path, kit.hours(-2000, 0), kit.hours(-1, 500), service("hose", days=-3 * 365.25))
    item = only(now(record, 0), "age")
    assert item.by_date is not None
    assert (item.by_date - local(0)).days == pytest.approx(0.62 * 365, abs=12)
    assert "where 5 is the line" in item.why
    assert line_of(kit.book().faults["hose-perished"]) == 0.05
    assert line_of(kit.book().faults["pump-worn"]) == 0.10


@pytest.mark.parametrize(("pace", "hours", "years"), [(250.0, 100.0, 0.4), (40.0, 40.0, 1.0), (0.0, 0.0, 1.0)])
def test_a_hundred_hours_or_a_year(pace: float, hours: float, years: float) -> None:
    """What is looked ahead is a hundred engine hours or a year, whichever is sooner."""
    assert Ahead.at(Pace(pace, "own")) == Ahead(hours, years)


def test_a_sound_look_puts_it_off(tmp_path: Path) -> None:
    """A pump past its line that was looked at 30 h ago and found dry is due 70 h from now; found weeping it stays due."""
    base = [kit.hours(-100, 1500), kit.hours(0, 1600), service("pump", 1000, -700, entered=-650)]
    (tmp_path / "b").mkdir()
    record = kit.record_of(tmp_path, *base, kit.seen(-30, "weep", "none"))
    item = only(now(record, 0), "age")
    assert item.by_hours == pytest.approx(1670.0, abs=0.5)
    assert not item.overdue
    assert "found sound at 1570 h" in item.why
    assert only(now(kit.record_of(tmp_path / "b", *base, kit.seen(-30, "weep", "some")), 0), "age").overdue


def test_a_look_from_before_the_service_is_none(tmp_path: Path) -> None:
    """A sound look at the old pump says nothing of the new one."""
    record = kit.record_of(tmp_path, kit.hours(-700, 1000), kit.hours(0, 1700), service("pump", 1000, -699, entered=-650),
                           kit.seen(-700, "weep", "none"))
    assert only(now(record, 0), "age").overdue


def test_a_part_she_has_not_is_never_due(tmp_path: Path) -> None:
    """What only raw-water-cooled boats have is due on such a boat and on no other."""
    record = kit.record_of(tmp_path, kit.hours(0, 1000), service("jacket", days=-900))
    assert kinds(now(record, 0)) == []
    record.append(e.BoatEntry(at=kit.day(0), name=kit.BOAT, arrangement={"cooling": "raw"}), boat=kit.BOAT)
    assert kinds(now(record, 0)) == ["age"]


def test_a_service_told_with_the_boat_counts_and_can_be_forgotten(tmp_path: Path) -> None:
    """A service told among the facts of the boat, as hours ago, counts from when it was told, until it is not known after all."""
    told = e.BoatEntry.model_validate({"at": kit.day(0), "name": kit.BOAT, "serviced": {"pump": {"hours_ago": 600}}})
    record = kit.record_of(tmp_path, kit.hours(0, 1000), told)
    assert "pump renewed, 400 h" in only(now(record, 0), "age").why
    record.append(e.BoatEntry(at=kit.day(1), name=kit.BOAT, forget=("pump",)), boat=kit.BOAT)
    assert kinds(now(record, 1)) == []


def test_a_new_part_is_not_due(tmp_path: Path) -> None:
    """A later service sets the clock back; taken back, the earlier counts again."""
    record = kit.record_of(tmp_path, kit.hours(0, 1600), service("pump", 1000))
    assert kinds(now(record, 0)) == ["age"]
    last = record.append(service("pump", 1590, entered=1), boat=kit.BOAT)
    assert kinds(now(record, 2)) == []
    record.append(e.TakenBack(at=kit.day(3), entry=last.id), boat=kit.BOAT)
    assert kinds(now(record, 3)) == ["age"]


# ------------------------------------------------------------------ trends


def rising(slope: float, start: float = 80.0, size: int = 6) -> list[e.Entry]:
    """A heat that rises so much an hour, looked at every ten hours in ten days."""
    return kit.along([f"{start + slope * 10 * i:.3f} degC" for i in range(size)], [10.0 * i for i in range(size)], "heat", "idle")


def test_a_trend_that_meets_its_limit_soon_is_due(tmp_path: Path) -> None:
    """From 80 °C at 0.12 an hour the limit of 95 is met at 125 h, 75 h from the last look: due, by then (by hand).
    At the 100 h a year taken for her, 75 h are 274 days."""
    item = only(now(kit.record_of(tmp_path, *rising(0.12)), 50), "trend")
    assert item.by_hours == pytest.approx(125.0)
    assert item.by_date == local(50 + 75 * 3.6525)
    assert item.checks == ("take-heat",)
    assert "meets 95 °C at about 125 h" in item.why


def test_a_limit_far_off_is_not_due(tmp_path: Path) -> None:
    """At 0.05 an hour it is met at 300 h: nothing is due of it yet."""
    assert kinds(now(kit.record_of(tmp_path, *rising(0.05)), 50)) == []


def test_a_limit_that_time_has_passed_is_overdue(tmp_path: Path) -> None:
    """On day 130 she has run past the hours at which the line met its limit, and nobody has looked."""
    record = kit.record_of(tmp_path, *rising(0.12), kit.hours(130, 130))
    assert only(now(record, 130), "trend").overdue


def test_scatter_and_few_looks_are_not_due(tmp_path: Path) -> None:
    """Readings that only scatter, and three that rise, raise nothing."""
    (tmp_path / "b").mkdir()
    scatter = kit.along([f"{v} degC" for v in (93, 80, 92, 79, 94)], [10.0 * i for i in range(5)], "heat", "idle")
    assert kinds(now(kit.record_of(tmp_path, *scatter), 50)) == []
    assert kinds(now(kit.record_of(tmp_path / "b", *rising(0.2, size=3)), 50)) == []


def test_what_got_worse_is_looked_at_again(tmp_path: Path) -> None:
    """Worse at 30 h than at 10 h, twenty days apart: due again as long after, in twenty days or at 50 h, the sooner; a look that is no
    worse ends it."""
    record = kit.record_of(tmp_path, *kit.along(["some", "much"], [10.0, 30.0], "weep", every=20.0))
    item = only(now(record, 25), "worse")
    assert item.by_date == local(40)
    assert item.by_hours == pytest.approx(30 + 20 / 3.6525)  # at the 100 h a year taken for her
    assert "from some to much" in item.why
    record.append(kit.hours(30, 90), boat=kit.BOAT)
    item = only(now(record, 31), "worse")
    assert (item.by_hours, item.overdue) == (pytest.approx(50.0), True)
    record.append(kit.seen(31, "weep", "much"), boat=kit.BOAT, case=record.cases()[0].id)
    assert kinds(now(record, 32)) == []


def test_a_trend_of_the_old_part_is_not_due(tmp_path: Path) -> None:
    """Where the pump was renewed after it got worse, nothing is due of the old one."""
    record = kit.record_of(tmp_path, *kit.along(["some", "much"], [10.0, 30.0], "weep", every=20.0), service("pump", 31, 21, entered=21))
    assert kinds(now(record, 25)) == []


# ------------------------------------------------------------------ the look-over


def test_a_fresh_look_over_goes_stale_on_its_day(tmp_path: Path) -> None:
    """Looked at on day 10: fresh for 10 h or seven days; at 1 h a day that is day 17, and before that nothing is owed."""
    record = kit.record_of(tmp_path, kit.hours(0, 100), kit.hours(100, 200), kit.seen(10, "weep", "none"))
    item = only(now(record, 12), "look-over")
    assert (item.by_date, item.at_departure) == (local(17), False)
    assert item.by_hours == pytest.approx(117.0)


def test_a_stale_look_over_is_owed_before_she_leaves(tmp_path: Path) -> None:
    """Ten days later it is stale, has no day of its own, and the line is named; a guess is no look."""
    record = kit.record_of(tmp_path, kit.hours(0, 100), kit.seen(10, "weep", "none"))
    item = only(now(record, 20), "look-over")
    assert (item.by_date, item.at_departure, item.overdue) == (None, True, False)
    assert "1 gone stale: weep" in item.why
    record.append(kit.seen(19.9, "weep", "none", sure="guess"), boat=kit.BOAT, case=record.cases()[0].id)
    assert only(now(record, 20), "look-over").at_departure
    record.append(kit.seen(19.99, "weep", "some"), boat=kit.BOAT, case=record.cases()[0].id)
    assert not only(now(record, 20), "look-over").at_departure


def test_hours_run_make_it_stale_too(tmp_path: Path) -> None:
    """Eleven engine hours in two days make it stale."""
    record = kit.record_of(tmp_path, kit.hours(0, 100), kit.seen(0, "weep", "none"), kit.hours(2, 111))
    assert only(now(record, 2), "look-over").at_departure


def test_work_makes_the_looks_at_its_signs_owed_anew(tmp_path: Path) -> None:
    """What was seen of a sign before the work that changed it says nothing of how it is now; of other signs it still does."""
    record = kit.record_of(tmp_path, kit.hours(0, 100), kit.seen(10, "weep", "none"))
    case = record.cases()[0].id
    for signs, owed in ((("rattle",), False), (("weep",), True)):
        record.append(e.WorkDone(at=kit.day(10.5), job="renew-pump", signs=signs), boat=kit.BOAT, case=case)
        assert only(now(record, 11), "look-over").at_departure is owed
    record.append(kit.seen(10.9, "weep", "none"), boat=kit.BOAT, case=case)
    assert not only(now(record, 11), "look-over").at_departure


# ------------------------------------------------------------------ the list


def test_order(tmp_path: Path) -> None:
    """What is overdue comes first, the older before the newer, then what is owed before leaving, then what comes, by day."""
    record = kit.record_of(tmp_path, kit.hours(0, 100), set_(check="take-heat", every_days=30), set_(check="read-pressure", every_days=20),
                           set_(check="feel-hose", every_days=400), set_(check="hear-rattle", every_days=90))
    found = now(record, 40)
    assert [item.id for item in found.items] == ["read-pressure", "take-heat", "look-over", "hear-rattle", "feel-hose"]


def test_the_list_says_what_it_stands_on(tmp_path: Path) -> None:
    """Engine hours at the moment with whether they were reckoned, her pace, and readings that did not fit."""
    record = kit.record_of(tmp_path, kit.hours(0, 100), kit.hours(50, 1150), kit.hours(100, 200), kit.hours(101, 202))
    found = now(record, 111)
    assert found.hours is not None
    assert found.hours.hours == pytest.approx(202 + 10 * 102 / 101)
    assert found.hours.reckoned
    assert (found.pace.kind, found.misread) == ("own", 1)
    record.append(kit.hours(102, 150), boat=kit.BOAT)
    assert now(record, 111).misread == 2


def test_now_is_now_where_nothing_else_is_said(tmp_path: Path) -> None:
    """Without a moment given it is judged at the present one."""
    before = datetime.now().astimezone()
    found = due(kit.record_of(tmp_path), kit.BOAT, kit.book())
    assert before - timedelta(seconds=1) <= found.now <= datetime.now().astimezone() + timedelta(seconds=1)
