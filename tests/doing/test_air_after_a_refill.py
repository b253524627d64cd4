"""The shipped weep, worked to a test that fails: what the work disturbed is likelier after it, and what it cured is not."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, cast

import doingkit as dk
import pytest

from diagnose.assessment import Assessment
from diagnose.case import Act, Case
from diagnose.doing.bench import Bench
from diagnose.doing.follow import Story
from diagnose.doing.standing import standing_of
from diagnose.knowledge.book import Book
from diagnose.record.entries import Assessed, Observed
from diagnose.record.fold import case_of
from diagnose.record.store import Record, Stored
from diagnose.triage import assess

AIR, SEAL = "air-left-after-refill", "coolant-pump-seal-worn"
WORKED = {"do": "work", "at": "2026-05-02T09:00:00+02:00", "says": "The pump is renewed; in gear the gauge climbs.",
          "tested": {"gauge-temperature-high": "raised"}, "typed": {"under-load": ["done", "q"]}, "was": [SEAL]}


@pytest.fixture(scope="module")
def played(weep: tuple[Case, Assessment], shipped_book: Book,
           tmp_path_factory: pytest.TempPathFactory) -> tuple[Case, tuple[Stored, ...], dk.FakeBench]:
    """The case as it is after the failed test, its log, and what was shown."""
    path: Path = tmp_path_factory.mktemp("air") / "r.db"
    screen = dk.FakeBench([])
    with Record.open(path) as record:
        story = Story(weep[0].model_copy(update={"then": (Act.model_validate(WORKED),)}), shipped_book, record, cast(Bench, screen))
        ((_, case),) = story.play()
        return case_of(record, case), record.entries(case=case), screen


def chances(log: tuple[Stored, ...]) -> list[dict[str, Any]]:
    """Of each judgement kept, all chances."""
    return [json.loads(s.entry.result)["all_probabilities"] for s in log if isinstance(s.entry, Assessed)]


def test_air_is_likelier_than_before_the_work(played: tuple[Case, tuple[Stored, ...], dk.FakeBench]) -> None:
    """The refill is on record as an event, and a gauge that climbs after it speaks for air; the seal, which is new, is behind."""
    _, log, screen = played
    before, *_, after = chances(log)
    assert after[AIR] > 20 * before[AIR]
    assert after[SEAL] < 0.05 < before[SEAL]
    standing = standing_of(log)
    assert standing is not None
    assert [t.moment for t in standing.failed] == ["under-load"]
    assert "the case stays open" in screen.text.lower()


def test_the_same_gauge_without_the_work_says_less_of_air(played: tuple[Case, tuple[Stored, ...], dk.FakeBench],
                                                          shipped_book: Book) -> None:
    """The events struck out and all else as it is: air is less likely, so that it is the work that made it so."""
    case, log, _ = played
    without = assess(case.model_copy(update={"events": ()}), shipped_book, next_check=False, ledger=False).all_probabilities[AIR]
    assert chances(log)[-1][AIR] > 3 * without


def test_earlier_answers_to_cured_signs_are_history_and_others_stay(played: tuple[Case, tuple[Stored, ...], dk.FakeBench]) -> None:
    """The weep of before is of before the work, the strainer and the oil looked at then are of now."""
    case, log, _ = played
    epoch = {(o.symptom, o.grade): o.epoch for o in case.observations}
    assert epoch["coolant-pump-weep", "damp"] == "before"
    assert epoch["bottle-level-falls", "slow"] == "before"
    assert epoch["strainer-basket-loaded", "none"] == epoch["oil-level-low", "none"] == "now"
    assert epoch["gauge-temperature-high", "raised"] == "now"
    kept = [s.entry.observation for s in log if isinstance(s.entry, Observed)]
    assert all(o.epoch == "now" for o in kept), "the log keeps what was said; only the view of it changes"
