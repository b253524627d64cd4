"""A judged case put into the record comes out as the same case, and its assessment as the same bytes."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import tiny

from diagnose import assess
from diagnose.case import Case, load_case
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules, shipped
from diagnose.record.fold import case_of
from diagnose.record.keep import keep_case
from diagnose.record.replay import replay, stored_assessments
from diagnose.record.store import Record


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    """An empty record."""
    with Record.open(tmp_path / "r.sqlite3") as made:
        yield made


def judged(**changes: Any) -> Case:
    """A case of the tiny book."""
    return Case.model_validate(tiny.case(**changes))


def test_a_kept_case_is_judged_the_same(record: Record, tiny_book: Book) -> None:
    """The case folded out of the record is judged as the file was, and the stored assessment is replayed to the byte."""
    case = judged(observations=[tiny.observation("pump-weep", "drip"), tiny.observation("pump-level-low", "low")], note="n",
                  events=[{"event": "pump-work", "hours_ago": 3}])
    assessment = assess(case, tiny_book)
    kept = keep_case(record, case, assessment)
    assert (kept.case, kept.boat, kept.new) == ("a-quiet-morning-1", "Tern", True)
    again = assess(case_of(record, kept.case), tiny_book)
    assert again.result_json() == assessment.result_json()
    assert [replay(s, tiny_book).outcome for s in stored_assessments(record)] == ["same"]


def test_a_case_is_kept_once(record: Record, tiny_book: Book, write_rules: Any) -> None:
    """Kept again it is not doubled; judged with other rules, only the new assessment is added."""
    case = judged()
    for _ in range(2):
        kept = keep_case(record, case, assess(case, tiny_book))
    assert not kept.new
    count = len(record.entries())
    parts = tiny.parts()
    parts["shared/words.yaml"]["version"] = "1.2.4"
    keep_case(record, case, assess(case, load_rules(write_rules(parts))))
    assert [s.entry.kind for s in record.entries()[count:]] == ["assessed"]
    other = judged(title="Another morning")
    assert keep_case(record, other, assess(other, tiny_book)).case == "another-morning-2"


def test_what_is_known_of_the_boat_is_not_said_again(record: Record, tiny_book: Book) -> None:
    """A second case of a boat adds to her record only the facts and hours that are new."""
    first = judged()
    keep_case(record, first, assess(first, tiny_book))
    boat = {**tiny.case()["boat"], "engine_hours": 1210, "arrangement": {"cooling": "sealed", "pump-drive": "gear"}}
    second = judged(title="Later", boat=boat)
    keep_case(record, second, assess(second, tiny_book))
    facts = [s.entry.arrangement for s in record.entries(kinds=("boat",))]  # type: ignore[union-attr]
    assert facts == [{"cooling": "sealed", "pump-drive": "belt"}, {"pump-drive": "gear"}]
    assert [s.entry.engine_hours for s in record.entries(kinds=("hours",))] == [1200, 1210]  # type: ignore[union-attr]


@pytest.mark.slow
def test_shipped_cases_are_kept_and_replayed(record: Record) -> None:
    """Of the shipped cases every ninth is kept, and each that tells of work done; folded out again it gives the same decision and
    chances, and its assessment the same bytes."""
    book = load_rules()
    every = sorted(shipped("cases").glob("*.yaml"))
    paths = [path for i, path in enumerate(every) if i % 9 == 0 or load_case(path).work is not None]
    assert len(paths) > len(every) // 9
    for path in paths:
        case = load_case(path)
        alone = case.model_copy(update={"boat": case.boat.model_copy(update={"name": f"boat of {path.stem}"})})
        assessment = assess(alone, book)
        kept = keep_case(record, alone, assessment)
        folded = case_of(record, kept.case)
        assert (path.stem, folded.work) == (path.stem, case.work)
        again = assess(folded, book, next_check=False, ledger=False)
        assert (path.stem, again.decision) == (path.stem, assessment.decision)
        assert again.all_probabilities == assessment.all_probabilities
    assert {replay(s, book).outcome for s in stored_assessments(record)} == {"same"}
    assert record.verify() == len(list(record.entries())) > len(paths)
