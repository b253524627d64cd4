"""What the benchmarks print: one short line a figure, in one table. A figure never fails a run; a wrong result does."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

WIDTHS = (9, 50, 18, 18, 7, 7)
HEAD = ("part", "what", "this", "against", "ratio", "target")


@dataclass(frozen=True)
class Setting:
    """What the command line chose: which rules and cases, and how long to measure."""

    quick: bool = False
    rules: Path | None = None
    cases: Path | None = None
    seed: int = 1

    def pick(self, quick: int, full: int) -> int:
        """A size of the measurement: the small one with --quick."""
        return quick if self.quick else full


@dataclass(frozen=True)
class Line:
    """One row of the table. `note` is printed below it."""

    what: str
    this: str = ""
    against: str = ""
    ratio: float | None = None
    target: str = ""
    note: str = ""


class WrongResultError(Exception):
    """Two methods that must agree do not: the times would compare different work."""


def head() -> str:
    return _row(HEAD)


def text_of(part: str, line: Line) -> str:
    """The row as printed, with its note."""
    ratio = "" if line.ratio is None else f"{line.ratio:.2f}"
    row = _row((part, line.what, line.this, line.against, ratio, line.target))
    return f"{row}\n{'':{WIDTHS[0]}} ({line.note})" if line.note else row


def _row(cells: Iterable[str]) -> str:
    left = [f"{cell:<{width}}" if i < 2 else f"{cell:>{width}}" for i, (cell, width) in enumerate(zip(cells, WIDTHS, strict=True))]
    return " ".join(left).rstrip()
