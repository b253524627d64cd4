"""Shared by all tests: the hypothesis profile, the cache switched off, and a tiny book in a folder of its own."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import tiny
from hypothesis import HealthCheck, settings

from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules
from diagnose.record.store import Record

os.environ["DIAGNOSE_CACHE"] = "off"  # subprocesses inherit it; the cache's own tests set it back

settings.register_profile(
    "suite",
    deadline=None,
    derandomize=True,
    max_examples=60,
    database=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
settings.load_profile("suite")


@pytest.fixture(autouse=True)
def close_records(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Closes every record a test opened and left open: from Python 3.13 on, a connection left to the collector is an error here."""
    opened: list[Record] = []
    first = Record.__init__

    def noted(self: Record, *args: Any, **how: Any) -> None:
        first(self, *args, **how)
        opened.append(self)

    monkeypatch.setattr(Record, "__init__", noted)
    yield
    for record in opened:
        record.close()


Write = Callable[[dict[str, Any]], Path]


@pytest.fixture
def write_rules(tmp_path: Path) -> Write:
    """Writes the parts of a book (file name to content) below a fresh folder and returns the folder."""
    count = iter(range(1000))

    def write(parts: dict[str, Any]) -> Path:
        return tiny.write(tmp_path / f"rules{next(count)}", parts)

    return write


@pytest.fixture(scope="session")
def tiny_rules(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the tiny book as it stands in `tiny.py`."""
    return tiny.write(tmp_path_factory.mktemp("tiny") / "rules", tiny.parts())


@pytest.fixture(scope="session")
def tiny_book(tiny_rules: Path) -> Book:
    """The tiny book, loaded and checked."""
    return load_rules(tiny_rules)
