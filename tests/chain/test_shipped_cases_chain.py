"""Every shipped case chains alike in both engines: the same facts, the same firings, the same bytes of result."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.case import load_case
from diagnose.chain import durable
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules, shipped
from diagnose.triage import assess

CASES = sorted(shipped("cases").glob("**/*.yaml"))


@pytest.fixture(scope="module")
def book() -> Book:
    """The shipped rules."""
    return load_rules()


@pytest.mark.skipif(not durable.available(), reason="durable-rules cannot be loaded here")
@pytest.mark.parametrize("path", CASES, ids=lambda p: p.stem)
def test_a_shipped_case_is_the_same_in_both_engines(path: Path, book: Book) -> None:
    """The result of a shipped case, firings and all, is the same to the byte whichever engine chained it."""
    case = load_case(path)
    one, other = (assess(case, book, engine=engine, next_check=False) for engine in ("durable-rules", "plain"))
    assert one.trace == other.trace
    assert one.result_json() == other.result_json()
