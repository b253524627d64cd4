"""The shipped cases that are told to their end, played through the real tool: each act comes to what it is expected to."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, cast

import pytest

from diagnose.case import Act, Came, Case, load_case
from diagnose.doing.bench import Bench
from diagnose.doing.follow import Story
from diagnose.doing.standing import standing_of
from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules, shipped
from diagnose.record.entries import Assessed, ProofMade
from diagnose.record.store import Record

TOLD = [path for path in sorted(shipped("cases").glob("*.yaml")) if load_case(path).then]


@dataclass
class Quiet:
    """A screen that keeps the sentences and shows nothing."""

    said: list[str] = field(default_factory=list)

    def say(self, lines: Sequence[str]) -> None:
        """Keep sentences."""
        self.said += lines

    def __getattr__(self, name: str) -> Any:
        return lambda *_, **__: None


def came_of(record: Record, case: str, came: Came) -> dict[str, object]:
    """What an act came to, in the same fields as it was expected."""
    log = record.entries(case=case)
    standing = standing_of(log)
    judged = [json.loads(s.entry.result) for s in log if isinstance(s.entry, Assessed) and not s.taken_back]
    found: dict[str, object] = {
        "decision": judged[-1]["decision"],
        "first": judged[-1]["ranking"][0]["fault"],
        "planned": tuple(sorted(standing.plan.jobs)) if standing is not None else (),
        "closed": record.case_named(case).closed,
    }
    return {name: found[name] for name in found if getattr(came, name) not in (None, ())}


def expected(came: Came) -> dict[str, object]:
    """The fields that an act says something of."""
    fields = {"decision": came.decision, "first": came.first, "planned": tuple(sorted(came.planned)), "closed": came.closed}
    return {name: value for name, value in fields.items() if value not in (None, ())}


@pytest.fixture(scope="module")
def book() -> Book:
    """The shipped rules."""
    return load_rules()


def test_three_cases_are_told_to_their_end() -> None:
    """At least three, all invented and closed in the end; one at least fails a test, and one takes a job it did not set out with."""
    cases = [load_case(path) for path in TOLD]
    assert len(cases) >= 3
    assert all(case.invented and case.then[-1].do == "close" for case in cases)
    assert any(act.came is not None and act.came.failed for case in cases for act in case.then)
    assert any(act.add for case in cases for act in case.then)


@pytest.mark.parametrize("path", TOLD, ids=lambda p: p.stem)
def test_every_act_comes_to_what_is_expected(path: Path, book: Book, tmp_path: Path) -> None:
    """Played from the first stain to the closed case; every act says what it comes to, and comes to it."""
    with Record.open(tmp_path / "told.db") as record:
        tests = 0
        for act, case in Story(load_case(path), book, record, cast(Bench, Quiet())).play():
            assert act.came is not None, act.says
            assert came_of(record, case, act.came) == expected(act.came), act.says
            made = [s.entry for s in record.entries(case=case) if isinstance(s.entry, ProofMade) and not s.taken_back]
            if act.came.failed is not None:
                assert sum(p.outcome == "failed" for p in made[tests:]) == act.came.failed, act.says
            tests = len(made)
        assert record.verify() == len(record.entries())


def told(*acts: Act) -> Case:
    """A healthy boat's case with these acts."""
    return Case(title="told", opened_because="routine-look", then=acts)


def act_of(**what: Any) -> Act:
    """An act of some day."""
    return Act.model_validate({"do": "work", "at": "2026-05-01T10:00:00+02:00", "says": "something", **what})


@pytest.mark.parametrize(("what", "wrong"), [
    ({"seen": {"no-such-sign": "none"}}, "'no-such-sign' is not in the book"),
    ({"tested": {"no-such-sign": "none"}}, "'no-such-sign' is not in the book"),
    ({"new": ["no-such-item"]}, "'no-such-item' is not in the book"),
    ({"was": ["no-such-fault"]}, "'no-such-fault' is not in the book"),
    ({"add": ["no-such-job"]}, "'no-such-job' is not in the book"),
    ({"typed": {"no-such/step": ["done"]}}, "'no-such/step' is not in the book"),
])
def test_what_the_book_does_not_know_is_refused(what: dict[str, Any], wrong: str, book: Book, tmp_path: Path) -> None:
    """An id that is not in the book is named, before anything is played."""
    with Record.open(tmp_path / "told.db") as record:
        with pytest.raises(InputError, match=wrong):
            list(Story(told(act_of(**what)), book, record, cast(Bench, Quiet())).play())
        assert record.entries() == ()


def test_a_case_that_tells_no_more_is_refused(book: Book, tmp_path: Path) -> None:
    """There is nothing to follow where nothing was done."""
    with Record.open(tmp_path / "told.db") as record, pytest.raises(InputError, match="tells nothing that was done then"):
        list(Story(told(), book, record, cast(Bench, Quiet())).play())


def test_a_story_without_an_end_is_named(book: Book, tmp_path: Path) -> None:
    """A test that fails for ever ends with an error and not with a hung program."""
    path = next(p for p in TOLD if any(act.tested for act in load_case(p).then))
    case = load_case(path)
    acts = tuple(act.model_copy(update={"typed": {}}) if act.tested else act for act in case.then)
    with Record.open(tmp_path / "told.db") as record, pytest.raises(InputError, match="does not come to an end"):
        list(Story(case.model_copy(update={"then": acts}), book, record, cast(Bench, Quiet())).play())
