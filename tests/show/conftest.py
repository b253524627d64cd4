"""Shared by the tests of reports: every shipped case, judged once, and its pages."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import pytest
import tiny
from pagereader import Page

from diagnose.assessment import Assessment
from diagnose.case import Case, load_case
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules
from diagnose.show.report import Particulars, particulars_of, report_html, report_markdown
from diagnose.triage import assess

CASES = {path.stem: path for path in sorted((Path(__file__).parents[2] / "cases").glob("*.yaml"))}
SOME = ("slow-weep", "gas-aboard", "healthy-boat", "two-faults", "too-little-looked-at", "first-start-of-the-year")
"""Cases that differ in what a report has to say: limits, stops at sea, nothing found, work, looks owed, a look that a stop asks for."""


@dataclass
class Report:
    """One case with all that a report is made from, and the report in both forms."""

    name: str
    case: Case
    book: Book
    assessment: Assessment
    about: Particulars

    @cached_property
    def html(self) -> str:
        return report_html(self.assessment, self.book, self.about)

    @cached_property
    def page(self) -> Page:
        return Page(self.html)

    @cached_property
    def markdown(self) -> str:
        return report_markdown(self.assessment, self.book, self.about)


def made(name: str, case: Case, book: Book, **more: Any) -> Report:
    """A case judged and ready to be put on paper."""
    return Report(name, case, book, assess(case, book), particulars_of(case, book, **more))


@pytest.fixture(scope="session", params=["some", pytest.param("all", marks=pytest.mark.slow)])
def shipped(request: pytest.FixtureRequest) -> tuple[Report, ...]:
    """Shipped cases: some of each kind, and in the long tests all of them."""
    book = load_rules()
    return tuple(made(name, load_case(CASES[name]), book) for name in (SOME if request.param == "some" else CASES))


@pytest.fixture
def tiny_report(tiny_book: Book) -> Callable[..., Report]:
    """Judges a case on the tiny book: the keys of the case to change, and under `about` what is given beside it."""

    def report(about: dict[str, Any] | None = None, **changes: Any) -> Report:
        return made("tiny", Case.model_validate(tiny.case(**changes)), tiny_book, **(about or {}))

    return report
