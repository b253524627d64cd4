"""The shipped rule base: nothing broken, no lint, every example met, and as large as it says."""

from __future__ import annotations

import pytest

from diagnose.knowledge.book import Book
from diagnose.knowledge.check import check_rules
from diagnose.knowledge.load import load_rules


@pytest.fixture(scope="module")
def book() -> Book:
    """The shipped rules."""
    return load_rules()


@pytest.mark.slow
def test_rules_check_finds_nothing() -> None:
    """All that must hold and should hold does, and every example in the files comes out as it says."""
    report = check_rules()
    assert list(report.lines) == []


def test_the_first_part_of_the_book_is_there(book: Book) -> None:
    """At least 70 faults, 110 symptoms and 70 checks."""
    assert len(book.faults) >= 70
    assert len(book.symptoms) >= 110
    assert len(book.checks) >= 70


def test_chains_are_three_steps_deep(book: Book) -> None:
    """Some hold rests on a finding that rests on a finding of its own."""
    made = {r.then.finding: r for r in book.rules.values() if r.then.finding}

    def depth(rule_id: str, above: frozenset[str] = frozenset()) -> int:
        rule = book.rules[rule_id]
        asked = [made[f].id for f in findings(rule.when) if f in made and made[f].id not in above]
        return 1 + max((depth(r, above | {rule_id}) for r in asked), default=0)

    holds = [r.id for r in book.rules.values() if r.then.hold]
    assert max(depth(r) for r in holds) >= 3


def findings(when):  # type: ignore[no-untyped-def]
    """Findings a condition asks for."""
    if when.finding is not None:
        yield when.finding
    for part in (*(when.all or ()), *(when.any or ()), *([when.not_] if when.not_ else [])):
        yield from findings(part)
