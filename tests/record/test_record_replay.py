"""Stored assessments made again: the same bytes with the same rules, and with others what moved and which entry moved it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import tiny

from diagnose import assess
from diagnose.case import Case
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules
from diagnose.record.entries import digest
from diagnose.record.keep import keep_case
from diagnose.record.replay import Replayed, replay, stored_assessments
from diagnose.record.store import Record, Stored
from diagnose.show.replaypage import replay_page

DRIP = {"observations": [tiny.observation("pump-weep", "damp"), tiny.observation("pump-level-low")], "opened_because": "noticed-something",
        "trip": {"engine_hours": 4, "aboard": {"coolant": "5 L"}}}


@pytest.fixture
def stored(tmp_path: Path, tiny_book: Book) -> Iterator[Stored]:
    """A case of a damp pump, judged by the tiny book and kept."""
    case = Case.model_validate(tiny.case(**DRIP))
    with Record.open(tmp_path / "r.sqlite3") as record:
        keep_case(record, case, assess(case, tiny_book))
        yield stored_assessments(record)[0]


def changed(write_rules: Any, **fields: Any) -> Book:
    """The tiny book with some fields of the seal's fault changed."""
    parts = tiny.parts()
    parts["coolant/pump.yaml"]["faults"][0].update(fields)
    return load_rules(write_rules(parts))


def shown(replayed: Replayed, width: int = 80) -> str:
    """The page of one replay, its white space made even."""
    return " ".join(replay_page([replayed], {}, width).text().split())


@pytest.mark.parametrize("lean", [{}, {"next_check": False}, {"ledger": False}])
def test_the_same_rules_give_the_same_bytes(lean: dict[str, bool], tmp_path: Path, tiny_book: Book) -> None:
    """With the rules of then every stored result comes out the same to the byte, also one made without looks or ledgers."""
    case = Case.model_validate(tiny.case(**DRIP))
    with Record.open(tmp_path / "r.sqlite3") as record:
        keep_case(record, case, assess(case, tiny_book, **lean), **lean)
        (one,) = stored_assessments(record)
    done = replay(one, tiny_book)
    assert (done.outcome, done.grave, done.lines) == ("same", False, ())
    assert "the same rules, the same bytes" in shown(done)


def test_another_result_of_the_same_rules_is_told(stored: Stored, tiny_book: Book) -> None:
    """A stored result that the same rules do not give again is told as such, with the part that differs."""
    entry = stored.entry
    assert entry.kind == "assessed"
    result = entry.result.replace('"title":"A quiet morning"', '"title":"A loud morning"')
    assert result != entry.result
    other = Stored(stored.id, stored.boat, stored.case, entry.model_copy(update={"result": result, "sha256": digest(result)}), False, "")
    done = replay(other, tiny_book)
    assert (done.outcome, done.grave, done.why) == ("differs", True, "differs in title")


def test_other_rules_that_change_nothing(stored: Stored, write_rules: Any) -> None:
    """Rules that differ in words only move no line, and the version of then and now is told."""
    book = changed(write_rules, why="Other words.")
    done = replay(stored, book)
    assert (done.outcome, done.grave, done.because) == ("unmoved", False, None)
    assert done.digests[0] != done.digests[1]
    assert "every line stand where they stood" in shown(done)


def test_what_moved_and_the_entry_that_moved_it(stored: Stored, tiny_book: Book, write_rules: Any) -> None:
    """A rate a hundred times lower moves the seal's line, and the seal's entry is named as what moved it, where the old rules are given."""
    rate = {**tiny.parts()["coolant/pump.yaml"]["faults"][0]["rate"], "per_year": 0.0005}
    book = changed(write_rules, rate=rate)
    done = replay(stored, book, then=tiny_book)
    assert done.outcome == "moved"
    moved = {line.fault: line for line in done.lines}
    assert moved["pump-seal-worn"].chances[1] < moved["pump-seal-worn"].chances[0] - 0.05
    assert done.because is not None
    assert done.because[0][0] == "pump-seal-worn"
    assert "pump-seal-worn (" in shown(done)
    without = replay(stored, book)
    assert without.because is None
    assert "--then" in shown(without)
    assert replay(stored, book, then=book).because is None


def test_a_decision_that_moves_is_grave(stored: Stored, write_rules: Any) -> None:
    """Where the decision is another, both are told and the page marks it."""
    stops = {"id": "any-weep", "when": {"symptom": "pump-weep", "at_least": "damp"}, "then": tiny.hold("weep-stop"), **tiny.SAID}
    parts = tiny.parts()
    parts["coolant/pump.yaml"]["rules"].append(stops)
    done = replay(stored, load_rules(write_rules(parts)))
    assert done.grave
    assert done.holds_new == ("weep-stop",)
    assert done.decisions[0] != done.decisions[1] == "stay"
    assert f"{done.decisions[0]} -> stay" in shown(done)


def test_a_case_that_cannot_be_judged_any_more(stored: Stored, write_rules: Any) -> None:
    """Rules that no longer hold the symptom break the case, and say why."""
    parts = tiny.parts()
    text = tiny.text_of(parts["coolant/pump.yaml"]).replace("pump-weep", "pump-drool")
    parts["coolant/pump.yaml"] = text
    parts["shared/look-over.yaml"] = tiny.text_of(parts["shared/look-over.yaml"]).replace("pump-weep", "pump-drool")
    done = replay(stored, load_rules(write_rules(parts)))
    assert (done.outcome, done.grave) == ("broken", True)
    assert "symptom 'pump-weep' is not in the book" in done.why


def test_only_assessments_are_replayed(stored: Stored, tiny_book: Book, tmp_path: Path) -> None:
    """Another kind of entry is refused; of several assessments of a case the last can be asked for."""
    with Record.open(tmp_path / "r.sqlite3") as record:
        with pytest.raises(TypeError, match="is no assessment"):
            replay(record.entries()[0], tiny_book)
        record.append(stored.entry, boat=stored.boat, case=stored.case)
        assert len(stored_assessments(record)) == 2
        assert [s.id for s in stored_assessments(record, latest=True)] == [stored.id + 1]


@pytest.mark.parametrize("width", [60, 120])
def test_the_page_fits(width: int, stored: Stored, tiny_book: Book, write_rules: Any) -> None:
    """Every line of the page fits its width."""
    rate = {**tiny.parts()["coolant/pump.yaml"]["faults"][0]["rate"], "per_year": 0.0005}
    page = replay_page([replay(stored, tiny_book), replay(stored, changed(write_rules, rate=rate), then=tiny_book)], {}, width).text()
    assert max(map(len, page.splitlines())) <= width
