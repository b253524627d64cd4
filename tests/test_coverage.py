"""What the looks find and part: the fractions on a matrix worked by hand, and on the tiny book."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import tiny

from diagnose.coverage import DMatrix, ambiguity_groups, coverage_of, d_matrix, figures
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules

HAND = DMatrix(("a", "b", "c", "d", "e"), ("t1", "t2", "t3"),
               np.array([[1, 0, 0], [1, 1, 0], [0, 1, 1], [0, 1, 1], [0, 0, 0]]), np.array([5.0, 3.0, 2.0, 1.0, 1.0]))


def test_fractions_on_a_matrix_worked_by_hand() -> None:
    """Four of five found (11 of 12 by rate); of those, a and b alone (8 of 11), c and d together.

    Hand sum; the fractions are those of IEEE Std 1522, definitions from memory.
    """
    found = figures(HAND, range(5))
    assert (found.faults, found.detected) == (5, pytest.approx(0.8))
    assert found.detected_by_rate == pytest.approx(11 / 12)
    assert found.isolated == {1: pytest.approx(0.5), 2: pytest.approx(1.0), 3: pytest.approx(1.0)}
    assert found.isolated_by_rate[1] == pytest.approx(8 / 11)
    assert ambiguity_groups(HAND) == [("a",), ("b",), ("c", "d")]


def test_part_of_the_faults_is_judged_by_the_groups_of_all() -> None:
    """c alone still stands in a group of two, for d answers alike."""
    found = figures(HAND, [2, 4])
    assert (found.detected, found.isolated[1], found.isolated[2]) == (0.5, 0.0, 1.0)


def test_a_fault_is_seen_where_its_likeliest_grade_is_not_none(tiny_book: Book) -> None:
    """The seal at its last stage drips and empties the tank; at its first it only wets the finger."""
    late, early = d_matrix(tiny_book), d_matrix(tiny_book, "first")
    at = [list(m.faults).index("pump-seal-worn") for m in (late, early)]
    tests = list(late.tests)
    level, weep = tests.index("pump-level-low@cold-stopped"), tests.index("pump-weep@cold-stopped")
    assert (late.outcome[at[0], weep], late.outcome[at[0], level]) == (2, 1)
    assert (early.outcome[at[1], weep], early.outcome[at[1], level]) == (2, 0)


def changed(write_rules: Any, change: Any) -> Book:
    """The tiny book with its one component changed."""
    parts = tiny.parts()
    change(parts["coolant/pump.yaml"])
    return load_rules(write_rules(parts))


def test_what_no_check_tells_is_found_by_none(write_rules: Any) -> None:
    """Without a look at the play of the pulley, a worn bearing is shown by nothing."""
    def no_look_at_play(pump: dict[str, Any]) -> None:
        pump["checks"][1]["tells"] = ["pump-weep"]
        pump["checks"][1]["reading"] = [{"seen": {"pump-weep": "none"}, "means": "It is dry."}]

    found = coverage_of(changed(write_rules, no_look_at_play))
    assert found.undetected == ("pump-bearing-worn",)
    assert found.whole.detected == pytest.approx(0.5)


def test_two_faults_that_show_alike_are_a_group_with_the_job_that_cures_both(write_rules: Any) -> None:
    """A second bearing that shows the same is told from the first by no look; one job cures both."""
    def second(pump: dict[str, Any]) -> None:
        pump["faults"].append({**tiny.copied(pump["faults"][1]), "id": "pump-bearing-dry"})
        pump["jobs"][0]["cures"].append("pump-bearing-dry")

    found = coverage_of(changed(write_rules, second))
    assert [g.faults for g in found.groups] == [("pump-bearing-dry", "pump-bearing-worn")]
    assert found.groups[0].jobs == ("renew-pump",)
    assert found.whole.isolated[1] == pytest.approx(1 / 3)


def test_a_long_look_is_not_a_quick_one(write_rules: Any) -> None:
    """Twenty minutes of rocking the pump leave the bearing to the long looks."""
    def slow(pump: dict[str, Any]) -> None:
        for check in pump["checks"]:
            if "pump-play" in check["tells"]:
                check["cost"]["first_time"] = 20

    book = changed(write_rules, slow)
    assert "pump-bearing-worn" in coverage_of(book, looks="quick").undetected
    assert "pump-bearing-worn" not in coverage_of(book).undetected


def test_statements_are_counted_by_kind_of_source(tiny_book: Book) -> None:
    """Two faults of common practice; their two rates and one life from memory."""
    assert coverage_of(tiny_book).sources == {"coolant": {"common-practice": 2, "memory": 3}}
