"""What work that is through makes of earlier answers: those of the cured signs are of before it, all others stay."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import logkit as kit
import pytest

from diagnose.case import Observation, Service, WorkTold
from diagnose.record import entries as e
from diagnose.record.fold import case_of
from diagnose.record.store import Record


def seen(symptom: str, grade: str, minutes: float, **more: object) -> e.Observed:
    """A sign seen some minutes on."""
    return e.Observed(at=kit.at(minutes), observation=Observation.model_validate({"symptom": symptom, "grade": grade, **more}))


def through(minutes: float, *signs: str) -> e.WorkDone:
    """A job through some minutes on."""
    return e.WorkDone(at=kit.at(minutes), job="renew-pump", signs=signs)


def epochs(record: Record, case: str) -> list[tuple[str | None, str | None, str]]:
    """What the case says of each sign, and of when."""
    return [(o.symptom or o.reading, o.grade, o.epoch) for o in case_of(record, case).observations]


@pytest.fixture
def opened(tmp_path: Path) -> tuple[Record, str]:
    """A record with one case."""
    record = Record.open(tmp_path / "r.db")
    return record, str(record.append(kit.opened(), boat=kit.BOAT).case)


def test_only_the_signs_of_the_cure_become_history(opened: tuple[Record, str]) -> None:
    """An earlier answer to a cured sign is of before the work; one to another sign, and a later one, is of now."""
    record, case = opened
    entries = [seen("pump-weep", "drip", 1), seen("bilge-salt", "more", 2), through(5, "pump-weep"), seen("pump-weep", "none", 9)]
    record.append_all(entries, boat=kit.BOAT, case=case)
    assert epochs(record, case) == [("pump-weep", "drip", "before"), ("bilge-salt", "more", "now"), ("pump-weep", "none", "now")]


def test_readings_become_history_too(opened: tuple[Record, str]) -> None:
    """A number read off an instrument is of before the work, if a cured sign is worked out of it."""
    record, case = opened
    reading = e.Observed(at=kit.at(1), observation=Observation(reading="gauge", value="92 degC", state="idle"))
    record.append_all([reading, through(5, "gauge")], boat=kit.BOAT, case=case)
    assert [o.epoch for o in case_of(record, case).observations] == ["before"]


def test_work_taken_back_makes_no_history(opened: tuple[Record, str]) -> None:
    """A job that was not through after all leaves the answers as they were."""
    record, case = opened
    *_, work = record.append_all([seen("pump-weep", "drip", 1), through(5, "pump-weep")], boat=kit.BOAT, case=case)
    record.append(e.TakenBack(at=kit.at(6), entry=work.id), boat=kit.BOAT, case=case)
    assert epochs(record, case) == [("pump-weep", "drip", "now")]


def test_what_could_not_be_seen_after_the_work_does_not_hide_what_was_before(opened: tuple[Record, str]) -> None:
    """Seen before and not to be seen now: both are told, each of its time."""
    record, case = opened
    passed = e.PassedOver(at=kit.at(9), symptom="pump-weep", why="cannot-see")
    record.append_all([seen("pump-weep", "drip", 1), through(5, "pump-weep"), passed], boat=kit.BOAT, case=case)
    found = [(o.grade, o.sure, o.epoch) for o in case_of(record, case).observations]
    assert found == [("drip", "sure", "before"), (None, "cannot-see", "now")]


def test_what_is_seen_at_the_work_is_of_its_own_moment(tmp_path: Path) -> None:
    """In a case told afterwards answers are of the day it tells of; those given once work was planned are of their own."""
    with Record.open(tmp_path / "r.db") as record:
        told = kit.at(0) - timedelta(days=3)
        case = str(record.append(kit.opened().model_copy(update={"now": told}), boat=kit.BOAT).case)
        record.append_all([seen("pump-weep", "drip", 1), kit.planned().model_copy(update={"at": kit.at(5)}), seen("bilge-salt", "more", 9)],
                          boat=kit.BOAT, case=case)
        made = case_of(record, case)
        assert [o.when for o in made.observations] == [told, kit.at(9)]
        assert made.now == kit.at(9)


def test_ticks_alone_do_not_move_the_moment_of_a_case(opened: tuple[Record, str]) -> None:
    """A plan made and tasks ticked say nothing of the engine: the case is of the last look."""
    record, case = opened
    tick = e.TaskTicked(at=kit.at(90), task="renew-pump/pump-off")
    record.append_all([seen("pump-weep", "drip", 1), kit.planned().model_copy(update={"at": kit.at(60)}), tick], boat=kit.BOAT, case=case)
    assert case_of(record, case).now == kit.at(1)


# ------------------------------------------------------------------ the work a case tells of


def done(minutes: float, job: str = "renew-pump", *cures: str) -> e.WorkDone:
    """A job through some minutes on, with what it cures."""
    return e.WorkDone(at=kit.at(minutes), job=job, cures=cures or ("seal",))


def found(minutes: float, *faults: str, **more: object) -> e.Found:
    """What it was, told some minutes on; without faults that nothing was wrong."""
    return e.Found.model_validate({"at": kit.at(minutes), "faults": faults, "nothing_wrong": not faults, **more})


def told_of(opened: tuple[Record, str], *entries: e.Entry) -> WorkTold | None:
    """The work of a case with these entries."""
    record, case = opened
    record.append_all(entries, boat=kit.BOAT, case=case)
    return case_of(record, case).work


def test_without_work_none_is_told(opened: tuple[Record, str]) -> None:
    """Nothing done and nothing found: nothing is told."""
    assert told_of(opened, seen("pump-weep", "drip", 1)) is None


def test_jobs_and_what_each_found(opened: tuple[Record, str]) -> None:
    """The last finding counts, for each job by what it cures; of a job of which it names nothing it is not told."""
    work = told_of(opened, done(1, "renew-pump", "seal", "bearing"), done(2, "renew-hose", "hose"), found(3, "hose"), found(4, "seal"))
    assert work is not None
    assert (work.jobs, work.found, work.not_cured) == (("renew-pump", "renew-hose"), {"renew-pump": ("seal",)}, ())


def test_nothing_wrong_is_told_of_every_job(opened: tuple[Record, str]) -> None:
    """Nothing was wrong after all: of each job that it found nothing."""
    work = told_of(opened, done(1), done(2, "renew-hose", "hose"), found(3))
    assert work is not None
    assert work.found == {"renew-pump": (), "renew-hose": ()}


def test_a_likely_finding_is_no_finding(opened: tuple[Record, str]) -> None:
    """Only what was found for certain is weighed."""
    work = told_of(opened, done(1), found(2, "seal", sure="likely"))
    assert work is not None
    assert work.found == {}


def test_found_and_not_cured_is_there_still(opened: tuple[Record, str]) -> None:
    """A fault found that no job was for is told as there, with work and without it; once its job is through it is not."""
    assert told_of(opened, found(1, "bearing")) == WorkTold(not_cured=("bearing",))
    work = told_of(opened, done(2), found(3, "seal", "bearing"))
    assert work is not None
    assert (work.found, work.not_cured) == ({"renew-pump": ("seal",)}, ("bearing",))
    work = told_of(opened, done(4, "renew-bearing", "bearing"))
    assert work is not None
    assert work.not_cured == ()


def test_a_closing_ends_what_was_found_before_it(opened: tuple[Record, str]) -> None:
    """Closed, it was mended as the closing says, and opened anew it is not taken to be there; what is found then is."""
    assert told_of(opened, found(1, "bearing"), e.Closed(at=kit.at(2), how="new bearing")) is None
    assert told_of(opened, e.Reopened(at=kit.at(3), why="It rumbles again.")) is None
    assert told_of(opened, found(4, "bearing")) == WorkTold(not_cured=("bearing",))


def test_hours_since_the_work_and_what_is_new_since(opened: tuple[Record, str]) -> None:
    """Engine hours are counted from the first job; a service entered since tells what was known of the item before."""
    record, _ = opened
    fitted = Service(at_hours=700, on=date(2024, 5, 1))
    record.append_all([
        e.HoursEntry(at=kit.at(0), engine_hours=1000),
        e.ServiceEntry(at=kit.at(1), item="pump", hours=fitted.at_hours, on=fitted.on),
        e.ServiceEntry(at=kit.at(2), item="belt", hours=990),
    ], boat=kit.BOAT)
    record.append_all([
        e.ServiceEntry(at=kit.at(21), item="pump", hours=1000),
        e.ServiceEntry(at=kit.at(22), item="hose", hours=1000),
        e.HoursEntry(at=kit.at(90), engine_hours=1003.5),
    ], boat=kit.BOAT)
    work = told_of(opened, done(20), done(60, "renew-hose", "hose"), seen("pump-weep", "none", 90))
    assert work is not None
    assert work.hours_ago == pytest.approx(3.5)
    assert work.renewed == {"pump": fitted, "hose": None}


def test_work_told_at_the_opening_is_kept_and_grows(tmp_path: Path) -> None:
    """What a case file tells of work stands in its opening; hours run on since, and jobs done in the case join it."""
    fitted = Service(at_hours=300)
    before = WorkTold(jobs=("renew-hose",), hours_ago=2, found={"renew-hose": ()}, not_cured=("seal", "bearing"), renewed={"hose": fitted})
    with Record.open(tmp_path / "r.db") as record:
        record.append(e.HoursEntry(at=kit.at(-9), engine_hours=1000), boat=kit.BOAT)
        case = str(record.append(kit.opened(work=before), boat=kit.BOAT).case)
        assert case_of(record, case).work == before
        record.append(e.HoursEntry(at=kit.at(50), engine_hours=1001.5), boat=kit.BOAT)
        record.append_all([done(20), seen("pump-weep", "none", 50)], boat=kit.BOAT, case=case)
        record.append(e.ServiceEntry(at=kit.at(21), item="pump", hours=1000), boat=kit.BOAT)
        grown = WorkTold(jobs=("renew-hose", "renew-pump"), hours_ago=3.5, found={"renew-hose": ()}, not_cured=("bearing",),
                         renewed={"hose": fitted, "pump": None})
        assert case_of(record, case).work == grown
        record.append(found(55, "seal"), boat=kit.BOAT, case=case)  # a finding since does not strike what was left before
        assert case_of(record, case).work == grown.model_copy(update={"found": {**grown.found, "renew-pump": ("seal",)}})
        record.append(e.Closed(at=kit.at(60), how="new bearing"), boat=kit.BOAT, case=case)
        closed = case_of(record, case).work
        assert closed is not None
        assert closed.not_cured == ()


def test_hours_of_what_was_found_and_left_are_kept(tmp_path: Path) -> None:
    """With no job done they stand as the file has them, to the last digit."""
    left = WorkTold(not_cured=("seal",), hours_ago=5.12345678)
    with Record.open(tmp_path / "r.db") as record:
        assert case_of(record, str(record.append(kit.opened(work=left), boat=kit.BOAT).case)).work == left
