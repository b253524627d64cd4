"""Two versions of the tiny book side by side: what differs, what moves, by which entry, and which version that asks for."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import tiny
from tiny import observation

from diagnose.case import Case
from diagnose.compare import Change, compare, put_back
from diagnose.errors import InputError
from diagnose.knowledge import revision
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules
from diagnose.show.comparepage import compare_page
from diagnose.triage import assess

Parts = dict[str, Any]
WET = Case.model_validate(tiny.case(observations=[observation("pump-weep", "damp"), observation("pump-level-low")]))
DRY = Case.model_validate(tiny.case())
CASES = {"wet": WET, "dry": DRY}


@pytest.fixture
def book(write_rules: Any) -> Callable[[Callable[[Parts], None]], Book]:
    """Makes the tiny book with its files changed."""
    def made(change: Callable[[Parts], None]) -> Book:
        parts = tiny.parts()
        change(parts)
        return load_rules(write_rules(parts))

    return made


def pump(parts: Parts) -> Parts:
    """The one component."""
    part: Parts = parts["coolant/pump.yaml"]
    return part


def seal_hardly_ever_wears(parts: Parts) -> None:
    """The seal's rate and age law cut to almost nothing."""
    seal = pump(parts)["faults"][0]
    seal["rate"]["per_year"] = 0.0005
    del seal["ages_with"]


def test_the_same_rules_differ_in_nothing(tiny_book: Book) -> None:
    """No change, no move, no new version."""
    found = compare(tiny_book, tiny_book, CASES)
    assert (found.changes, found.shared, found.moves, found.bump, found.needed) == ((), (), (), "none", "1.2.3")


def test_a_changed_rate_moves_the_case_and_is_named(tiny_book: Book, book: Any) -> None:
    """The wet pump is no longer put down to its seal, and all of that is the seal's doing."""
    new = book(seal_hardly_ever_wears)
    found = compare(tiny_book, new, CASES)
    assert found.changes == (Change("faults", "pump-seal-worn", "changed", ("rate", "ages_with")),)
    (move,) = [m for m in found.moves if m.case == "wet"]
    shift = next(s for s in move.shifts if s.fault == "pump-seal-worn")
    assert shift.old == assess(WET, tiny_book).all_probabilities["pump-seal-worn"]
    assert shift.new == assess(WET, new).all_probabilities["pump-seal-worn"] < shift.old - 0.05
    assert move.because == (("pump-seal-worn", 1.0),)


def test_of_two_changes_the_one_behind_the_move_comes_first(tiny_book: Book, book: Any) -> None:
    """A word changed elsewhere undoes nothing when it is put back, and is not named."""
    def both(parts: Parts) -> None:
        seal_hardly_ever_wears(parts)
        pump(parts)["faults"][1]["why"] = "Said in other words."

    found = compare(tiny_book, book(both), CASES)
    assert {c.id for c in found.changes} == {"pump-seal-worn", "pump-bearing-worn"}
    assert [n for m in found.moves for n, _ in m.because] == ["pump-seal-worn"] * len(found.moves)


def test_what_is_put_back_gives_the_old_bytes(tiny_book: Book, book: Any) -> None:
    """The new book with its one change put back says what the old one said, but for the digest."""
    new = book(seal_hardly_ever_wears)
    hybrid = put_back(tiny_book, new, Change("faults", "pump-seal-worn", "changed"))
    assert assess(WET, hybrid).all_probabilities == assess(WET, tiny_book).all_probabilities
    assert assess(WET, new).all_probabilities != assess(WET, tiny_book).all_probabilities


def said_otherwise(parts: Parts) -> None:
    """Another title."""
    pump(parts)["symptoms"][0]["title"] = "Wet under the pump"


def a_new_event(parts: Parts) -> None:
    """One more thing that can happen."""
    pump(parts)["events"].append({"id": "pump-knocked", "title": "Pump knocked", **tiny.SAID})


def bearing_retired(parts: Parts) -> None:
    """The bearing is kept for old records only."""
    part = pump(parts)
    part["faults"][1]["status"] = "retired"
    part["faults"][0].update(told_from=[], leads_to=[], known_gap="no rival is left")
    part["jobs"][0]["cures"] = ["pump-seal-worn"]
    part["examples"] = [e for e in part["examples"] if "pump-bearing-worn" not in str(e)]


def event_gone(parts: Parts) -> None:
    """An id that old cases may hold is simply not there any more."""
    part = pump(parts)
    part["events"] = []
    part["faults"][0]["after"] = []
    part["rules"] = [r for r in part["rules"] if "pump-work" not in str(r)]
    part["examples"] = [e for e in part["examples"] if "pump-work" not in str(e)]


def state_gone(parts: Parts) -> None:
    """A sign that can no longer be told in an engine state."""
    pump(parts)["symptoms"][2]["states"] = ["cold-stopped"]


def value_gone(parts: Parts) -> None:
    """A value of a boat fact that old cases may hold."""
    fact = parts["shared/boat.yaml"]["facts"][1]
    fact["values"] = {"belt": "by a belt"}
    del fact["chances"]


@pytest.mark.parametrize(("change", "bump", "needed"), [
    (said_otherwise, "patch", "1.2.4"),
    (a_new_event, "minor", "1.3.0"),
    (bearing_retired, "minor", "1.3.0"),
    (event_gone, "major", "2.0.0"),
    (state_gone, "major", "2.0.0"),
    (value_gone, "major", "2.0.0"),
])
def test_the_version_asked_for(change: Callable[[Parts], None], bump: str, needed: str, tiny_book: Book, book: Any) -> None:
    """Words patch; anything new, retired or told otherwise is minor; what old cases can no longer say is major."""
    found = compare(tiny_book, book(change), CASES)
    assert (found.bump, found.needed, found.too_low) == (bump, needed, True)
    assert "too low" in compare_page(found, 80).text()


def test_a_version_raised_far_enough_is_not_too_low(tiny_book: Book, book: Any) -> None:
    """The version itself is not a change."""
    def raised(parts: Parts) -> None:
        said_otherwise(parts)
        parts["shared/words.yaml"]["version"] = "1.2.4"

    found = compare(tiny_book, book(raised), CASES)
    assert (found.bump, found.shared, found.too_low) == ("patch", (), False)


def test_a_case_that_can_no_longer_be_read_is_broken(tiny_book: Book, book: Any) -> None:
    """It is said why, and it asks for a major version."""
    case = Case.model_validate(tiny.case(events=[{"event": "pump-work", "hours_ago": 3}]))
    found = compare(tiny_book, book(event_gone), {"after work": case})
    assert [m.case for m in found.moves] == ["after work"]
    assert "pump-work" in found.moves[0].broken
    assert found.bump == "major"


def test_rules_of_a_revision(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, tiny_book: Book) -> None:
    """What is not a folder is looked up in git; what git does not know is refused with what would be right."""
    def git(*words: str) -> None:
        subprocess.run(["git", "-C", str(tmp_path), "-c", "user.name=x", "-c", "user.email=x@example.org", *words], check=True,
                       capture_output=True)

    tiny.write(tmp_path / "rules", tiny.parts())
    git("init", "-q")
    git("add", ".")
    git("commit", "-q", "-m", "Keep the rules")
    (tmp_path / "rules" / "coolant" / "pump.yaml").unlink()
    monkeypatch.setattr(revision, "shipped", lambda _: tmp_path / "rules")
    assert revision.rules_named("HEAD").digest == tiny_book.digest
    with pytest.raises(InputError, match="neither a folder"):
        revision.rules_named("no-such-revision")
    with pytest.raises(InputError, match="neither a folder"):
        revision.rules_named("--output=x")
