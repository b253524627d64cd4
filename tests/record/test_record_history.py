"""What work that is through makes of earlier answers: those of the cured signs are of before it, all others stay."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import logkit as kit
import pytest

from diagnose.case import Observation
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
