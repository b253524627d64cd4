"""From the record to a series of looks: which count, in what unit, at how many engine hours, and what is left out and said."""

from __future__ import annotations

import itertools
from datetime import date, timedelta
from pathlib import Path

import pytest
import trendkit as kit
from hypothesis import given
from hypothesis import strategies as st

from diagnose.case import Case, Observation, load_case
from diagnose.errors import InputError
from diagnose.knowledge.load import load_rules, shipped
from diagnose.record import entries as e
from diagnose.record.hourlog import MeterReading, fitting, hour_log
from diagnose.record.keep import keep_case
from diagnose.record.series import Series, all_series, series_of, since_service
from diagnose.record.store import Record
from diagnose.triage import assess


def told(record: Record, symptom: str) -> tuple[Series, ...]:
    """The series of a symptom on the boat of these tests."""
    return series_of(record, kit.BOAT, symptom, kit.book(), hour_log(record, kit.BOAT, kit.book()))


def one(record: Record, symptom: str) -> Series:
    """The only series of a symptom."""
    (series,) = told(record, symptom)
    return series


# ------------------------------------------------------------------ engine hours


def test_hours_lie_on_a_line_between_readings(tmp_path: Path) -> None:
    """The meter read 100 h and ten days later 200 h: a look on the fourth day was at 140 h (by hand)."""
    record = kit.record_of(tmp_path, kit.hours(0, 100), kit.hours(10, 200), kit.seen(4, "heat", "90 degC", "idle"))
    look = one(record, "heat").looks[0]
    assert look.hours == pytest.approx(140.0)
    assert not look.reckoned


def test_hours_beyond_the_readings_go_by_the_pace(tmp_path: Path) -> None:
    """Her readings make 100 h in 100 days: fifty days after the last she is taken to have run 50 h more, and that is marked."""
    record = kit.record_of(tmp_path, kit.hours(0, 100), kit.hours(100, 200), kit.seen(150, "heat", "90 degC", "idle"))
    look = one(record, "heat").looks[0]
    assert look.hours == pytest.approx(250.0)
    assert look.reckoned


def test_few_days_of_readings_are_no_pace(tmp_path: Path) -> None:
    """Readings over ten days say nothing of a year: what her owner said of the hours a year is taken, and else the book's figure."""
    record = kit.record_of(tmp_path, kit.hours(0, 100), kit.hours(10, 200))
    assert hour_log(record, kit.BOAT, kit.book()).pace.kind == "taken"
    record.append(e.BoatEntry(at=kit.day(1), name=kit.BOAT, arrangement={"hours-a-year": "250 hour"}), boat=kit.BOAT)
    pace = hour_log(record, kit.BOAT, kit.book()).pace
    assert (pace.kind, pace.hours_a_year) == ("said", 250.0)


def test_a_fact_the_book_has_lost_does_not_matter(tmp_path: Path) -> None:
    """A boat described by a fact that is no longer in the book has her hours and looks told all the same."""
    record = kit.record_of(tmp_path, kit.hours(0, 100), kit.seen(0, "weep", "some"))
    record.append(e.BoatEntry(at=kit.day(1), name=kit.BOAT, arrangement={"old-fact": "yes"}), boat=kit.BOAT)
    assert one(record, "weep").looks[0].hours == 100.0


def test_old_readings_do_not_set_the_pace() -> None:
    """After five idle years she runs 100 h in 365.25 days: her pace is that of the last two years, 100 h a year."""
    log = kit.log_of((0, 1000), (1826, 1000), (1826 + 365.25, 1050), (1826 + 730.5 - 1, 1200))
    assert log.pace.hours_a_year == pytest.approx(200 / 729.5 * 365.25)


def test_without_readings_no_hours(tmp_path: Path) -> None:
    """Where nobody read the meter a look has a day and no engine hours."""
    record = kit.record_of(tmp_path, kit.seen(4, "heat", "90 degC", "idle"))
    look = one(record, "heat").looks[0]
    assert look.hours is None
    assert look.at == kit.day(4)


def test_a_mistyped_reading_is_left_out() -> None:
    """A nought too many between two sound readings, and a service told at hours she has not run, do not bend the log."""
    log = kit.log_of((0, 1412), (7, 14120), (14, 1418), (15, 900), (20, 1420))
    assert [r.hours for r in log.readings] == [1412, 1418, 1420]
    assert [r.hours for r in log.left_out] == [14120, 900]


@given(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 60)), max_size=8))
def test_no_more_readings_could_be_kept(said: list[tuple[int, int]]) -> None:
    """Of all choices of readings that never fall and never outrun the clock by a day, none is larger than the one made (all tried)."""
    readings = [MeterReading(kit.day(d / 24), float(h), i) for i, (d, h) in enumerate(sorted(said, key=lambda p: p[0]))]

    def sound(chosen: tuple[MeterReading, ...]) -> bool:
        return all(0 <= b.hours - a.hours <= (b.at - a.at) / timedelta(hours=1) + 24 for a, b in itertools.pairwise(chosen))

    kept = fitting(readings)
    assert sound(kept)
    assert len(kept) == max(n for n in range(len(readings) + 1) for c in itertools.combinations(readings, n) if sound(c))


@given(st.floats(0, 4000), st.lists(st.tuples(st.floats(0, 3000), st.floats(0.01, 9)), min_size=2, max_size=6))
def test_hours_into_days_and_back(target: float, said: list[tuple[float, float]]) -> None:
    """Where the meter turns at all, the moment of so many hours has so many hours."""
    run, readings = 0.0, []
    for days in sorted({round(d, 3) for d, _ in said}):
        run += 1.0 + said[0][1]
        readings.append((days * 10, run))
    log = kit.log_of(*readings)
    moment = log.moment_of(target)
    if moment is not None and target >= 1.0:
        then = log.at(moment)
        assert then is not None
        assert then.hours == pytest.approx(target, abs=1e-3)


def test_services_read_the_meter_on_their_day(tmp_path: Path) -> None:
    """A service told by day and hours is a reading of that day; told by its hours alone it says nothing of when the meter stood so."""
    record = kit.record_of(tmp_path, kit.hours(0, 100), e.ServiceEntry(at=kit.day(30), item="pump", hours=110, on=date(2026, 1, 25)),
                           e.ServiceEntry(at=kit.day(40), item="hose", hours=60), kit.hours(50, 130))
    assert [r.hours for r in hour_log(record, kit.BOAT, kit.book()).readings] == [100, 110, 130]


# ------------------------------------------------------------------ which looks count


def test_engine_states_are_kept_apart(tmp_path: Path) -> None:
    """A heat at idle, one under load and one of which nobody said are three series; what has one state needs none said."""
    record = kit.record_of(tmp_path, kit.seen(1, "heat", "80 degC", "idle"), kit.seen(2, "heat", "90 degC", "under-load"),
                           kit.seen(3, "heat", "85 degC"), kit.seen(4, "heat", "91 degC", "under-load"), kit.seen(4, "weep", "some"))
    assert [(s.state, len(s.looks)) for s in told(record, "heat")] == [("under-load", 2), (None, 1), ("idle", 1)]
    assert one(record, "weep").state == "cold-stopped"


def test_what_was_taken_back_is_left_out(tmp_path: Path) -> None:
    """A look taken back is not there, and is again when the taking back is itself taken back."""
    record = kit.record_of(tmp_path, kit.seen(1, "heat", "80 degC", "idle"), kit.seen(2, "heat", "180 degF", "idle"))
    last = record.entries(kinds=("observed",))[-1]
    undo = record.append(e.TakenBack(at=kit.day(3), entry=last.id), boat=kit.BOAT, case=last.case)
    assert [look.value for look in one(record, "heat").looks] == [80.0]
    record.append(e.TakenBack(at=kit.day(4), entry=undo.id), boat=kit.BOAT, case=last.case)
    assert [look.value for look in one(record, "heat").looks] == pytest.approx([80.0, (180 - 32) / 1.8])


@pytest.mark.parametrize(("symptom", "given", "state", "value"), [
    ("heat", "203 degF", "idle", 95.0), ("oil-pressure", "29.0075 psi", "idle", 2.0), ("oil-pressure", "150 kPa", "idle", 1.5),
    ("drip", "0.12 L/hour", None, 120.0),
])
def test_numbers_are_told_in_the_unit_of_the_book(symptom: str, given: str, state: str | None, value: float, tmp_path: Path) -> None:
    """Fahrenheit, pounds a square inch, kilopascals and litres come out in the book's units (SI Brochure, NIST SP 811)."""
    assert one(kit.record_of(tmp_path, kit.seen(1, symptom, given, state)), symptom).looks[0].value == pytest.approx(value, abs=1e-4)


@pytest.mark.parametrize(("given", "word"), [
    ("86", "no unit"), ("900 degC", "cannot be"), ("86 wigs", "not known"), ("5 bar", "does not measure"), ("1,200 degC", "comma"),
])
def test_a_number_that_cannot_be_read_is_named_and_left_out(given: str, word: str, tmp_path: Path) -> None:
    """What the book cannot read is left out with the reason and its entry, and the rest is told."""
    record = kit.record_of(tmp_path, kit.seen(1, "heat", given, "idle"), kit.seen(2, "heat", "90 degC", "idle"))
    series = one(record, "heat")
    assert [look.value for look in series.looks] == [90.0]
    assert word in series.left_out[0]
    assert "entry 3" in series.left_out[0]


def test_a_grade_that_is_gone_is_named_and_left_out(tmp_path: Path) -> None:
    """A grade that is not on the scale any more is left out with a word."""
    series = one(kit.record_of(tmp_path, kit.seen(1, "weep", "gushing"), kit.seen(2, "weep", "some")), "weep")
    assert len(series.looks) == 1
    assert "'gushing' is not on its scale" in series.left_out[0]


def test_a_look_given_again_within_the_hour_counts_once(tmp_path: Path) -> None:
    """Of three answers within an hour the last counts, and one two hours later is another look; however often they follow each other."""
    minutes = (0, 20, 50, 130, 170, 200)
    record = kit.record_of(tmp_path, *(kit.seen(1 + m / 1440, "heat", f"{80 + i} degC", "idle") for i, m in enumerate(minutes)))
    series = one(record, "heat")
    assert [look.value for look in series.looks] == [82.0, 84.0, 85.0]
    assert series.given_again == 3


@pytest.mark.parametrize("sure", ["not-sure", "cannot-see"])
def test_no_look_is_no_look(sure: str, tmp_path: Path) -> None:
    """What was asked and not seen is no point of a series."""
    record = kit.record_of(tmp_path, e.Observed(at=kit.day(1), observation=Observation.model_validate({"symptom": "weep", "sure": sure})),
                           kit.seen(2, "weep", "some"))
    assert len(one(record, "weep").looks) == 1


def test_what_was_before_the_work_counts_only_with_its_day(tmp_path: Path) -> None:
    """A look told of the time before the work has no day of its own unless one was said."""
    record = kit.record_of(tmp_path, kit.seen(5, "weep", "much", epoch="before"), kit.seen(6, "weep", "none"),
                           kit.seen(7, "weep", "some", epoch="before", when=kit.day(2)))
    assert [(look.at, look.low) for look in one(record, "weep").looks] == [(kit.day(2), 1), (kit.day(6), 0)]


def test_engine_hours_ago_are_taken_off(tmp_path: Path) -> None:
    """A look told as 20 engine hours ago stands at 180 h where the meter shows 200 h, and on the day of those hours."""
    record = kit.record_of(tmp_path, kit.hours(0, 100), kit.hours(100, 200), kit.seen(100, "weep", "some", hours_ago=20.0))
    look = one(record, "weep").looks[0]
    assert look.hours == pytest.approx(180.0)
    assert look.at == kit.day(80)


def test_a_case_told_afterwards_has_its_own_day(tmp_path: Path) -> None:
    """Looks of a case told afterwards stand on the day that it is about."""
    record = kit.record_of(tmp_path, kit.hours(0, 100))
    record.append_all([e.CaseOpened(at=kit.day(50), title="Long ago", opened_because="routine-look", now=kit.day(3)),
                       kit.seen(50, "weep", "some")], boat=kit.BOAT)
    assert one(record, "weep").looks[0].at == kit.day(3)


def test_old_names_lead_to_the_new(tmp_path: Path) -> None:
    """Looks under an id the book has since changed are of the same series, and it is found by either name."""
    record = kit.record_of(tmp_path, kit.seen(1, "old-heat", "80 degC", "idle"), kit.seen(2, "heat", "81 degC", "idle"))
    assert len(one(record, "old-heat").looks) == len(one(record, "heat").looks) == 2


def test_other_boats_are_not_mixed_in(tmp_path: Path) -> None:
    """Looks at another boat are not hers."""
    record = kit.record_of(tmp_path, kit.seen(1, "weep", "some"))
    record.append_all([e.CaseOpened(at=kit.day(1), title="T", opened_because="routine-look"), kit.seen(2, "weep", "utter")], boat="Other")
    assert len(one(record, "weep").looks) == 1


def test_a_name_that_is_not_there_is_refused_with_the_nearest(tmp_path: Path) -> None:
    """A symptom the book does not know, and one nobody looked at, are refused with what was meant or is there."""
    record = kit.record_of(tmp_path, kit.seen(1, "weep", "some"))
    with pytest.raises(InputError, match="neither a symptom nor a reading") as unknown:
        told(record, "weap")
    assert "weep" in unknown.value.right
    with pytest.raises(InputError, match="nobody has looked at 'heat'"):
        told(record, "heat")


# ------------------------------------------------------------------ grades, leaks, readings


def test_grades_are_ordered_numbers(tmp_path: Path) -> None:
    """A grade is its place on the scale; between two grades it is half way, and 'or worse' is its milder end."""
    record = kit.record_of(
        tmp_path, kit.seen(1, "weep", "utter"),
        *(e.Observed(at=kit.day(2 + i), observation=Observation.model_validate({"symptom": "weep", **how}))
          for i, how in enumerate([{"one_of": ["some", "much"]}, {"at_least": "much"}])))
    assert [look.place for look in one(record, "weep").looks] == [3.0, 1.5, 2.0]


def test_a_leak_is_told_in_millilitres_where_it_was_measured(tmp_path: Path) -> None:
    """No leak is nought; a rate is itself, and belongs to the grade in whose range it lies."""
    record = kit.record_of(tmp_path, kit.seen(1, "drip", "none"), kit.seen(2, "drip", "2 mL/hour"), kit.seen(3, "drip", "200 mL/hour"),
                           kit.seen(4, "drip", "some"))
    series = one(record, "drip")
    assert [(look.value, look.low) for look in series.looks] == [(0.0, 0), (2.0, 1), (200.0, 2), (None, 1)]
    assert series.by_value


def test_a_reading_is_a_series_without_grades(tmp_path: Path) -> None:
    """A temperature read off has a value and no grade."""
    series = one(kit.record_of(tmp_path, kit.read(1, "59 degF"), kit.read(2, "16 degC")), "sea")
    assert [look.value for look in series.looks] == pytest.approx([15.0, 16.0])
    assert [look.low for look in series.looks] == [-1, -1]


def test_a_symptom_worked_out_of_readings_is_a_look_too(tmp_path: Path) -> None:
    """A heat of 90 °C over a sea of 15 °C in one case is a gap of 75 K at the moment of the later reading, told by no one directly."""
    record = kit.record_of(tmp_path, kit.hours(0, 100), kit.read(1, "15 degC"), kit.seen(1.01, "heat", "90 degC", "under-load"))
    series = one(record, "gap")
    (look,) = series.looks
    assert (look.value, look.at, series.state, series.worked) == (pytest.approx(75.0), kit.day(1.01), "under-load", True)
    record.append(kit.seen(2, "gap", "60 delta_degC", "under-load"), boat=kit.BOAT, case=record.cases()[0].id)
    assert [look.value for look in one(record, "gap").looks] == pytest.approx([60.0])


@pytest.mark.slow
def test_worked_out_symptoms_are_those_of_the_assessment(tmp_path: Path) -> None:
    """A case of readings on record gives the same figures, in the same state, as the assessment of that case prints."""
    book = load_rules()
    case = load_case(shipped("cases") / "bucket-and-tape.yaml")
    dated = Case.model_validate({**case.model_dump(by_alias=True, exclude_defaults=True), "now": kit.day(10)})
    assessment = assess(dated, book, next_check=False, ledger=False)
    with Record.open(tmp_path / "r.sqlite3") as record:
        keep_case(record, dated, assessment, at=kit.day(10))
        name = record.boats()[0]
        log = hour_log(record, name, book)
        found = {(s.scale.id, s.state): s for s in all_series(record, name, book, log) if s.worked}
        assert not any(s.worked for s in all_series(record, name, book, log, worked=False))
    printed = {(w.symptom, w.state): w.result for w in assessment.workings if w.result is not None}
    assert printed
    assert {key: s.looks[-1].value for key, s in found.items()} == {key: pytest.approx(value, rel=1e-6) for key, value in printed.items()}


# ------------------------------------------------------------------ services


def test_a_line_begins_anew_at_a_service_that_helped(tmp_path: Path) -> None:
    """The weep got worse, the pump was renewed, it was dry: the looks before are another pump's."""
    record = kit.record_of(tmp_path, *kit.along(["some", "much", "utter", "none", "some"], [10, 20, 30, 40, 50], "weep"),
                           e.ServiceEntry(at=kit.day(25), item="pump", on=date(2026, 1, 30)))
    part, mark = since_service(one(record, "weep"))
    assert [look.low for look in part.looks] == [0, 1]
    assert mark is not None
    assert mark.hours == pytest.approx(35.1, abs=0.2)


def test_a_service_that_did_not_help_begins_nothing(tmp_path: Path) -> None:
    """The pump was renewed and it weeps as before: all looks are one series, and the service is a mark in it."""
    record = kit.record_of(tmp_path, *kit.along(["some", "much", "much", "utter"], [10, 20, 30, 40], "weep"),
                           e.ServiceEntry(at=kit.day(15), item="pump", on=date(2026, 1, 20)))
    part, mark = since_service(one(record, "weep"))
    assert len(part.looks) == 4
    assert mark is None
    assert [m.title for m in part.marks] == ["Pump renewed"]


def test_a_service_of_something_else_is_not_there(tmp_path: Path) -> None:
    """A service of a part that never shows on the symptom is no mark; nor is one that was taken back."""
    record = kit.record_of(tmp_path, kit.seen(1, "weep", "some"), e.ServiceEntry(at=kit.day(15), item="hose", on=date(2026, 1, 20)),
                           e.ServiceEntry(at=kit.day(15), item="pump", on=date(2026, 1, 20)))
    assert len(one(record, "weep").marks) == 1
    record.append(e.TakenBack(at=kit.day(20), entry=record.entries(kinds=("service",))[-1].id), boat=kit.BOAT)
    assert one(record, "weep").marks == ()
