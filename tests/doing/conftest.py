"""The books that the tests of this folder share, and a case of the small one on a record of its own."""

from __future__ import annotations

from pathlib import Path

import doingkit as dk
import pytest

from diagnose.assessment import Assessment
from diagnose.case import Case, load_case
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules, shipped
from diagnose.triage import assess

Judged = tuple[Case, Assessment]


@pytest.fixture(scope="session")
def shipped_book() -> Book:
    """The shipped rules."""
    return load_rules()


@pytest.fixture(scope="session")
def weep(shipped_book: Book) -> Judged:
    """The shipped case of a slow weep, judged."""
    case = load_case(shipped("cases") / "slow-weep.yaml")
    return case, assess(case, shipped_book)


@pytest.fixture(scope="session")
def small() -> Book:
    """The small invented book."""
    return dk.book()


@pytest.fixture
def desk(tmp_path: Path, small: Book) -> dk.Desk:
    """A worn pump on a record of its own, judged and not yet planned."""
    path = tmp_path / "r.db"
    return dk.Desk(path, dk.kept(path, small, dk.case()), small)
