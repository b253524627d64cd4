"""What the work is shown on and read from: it is passed in, and knows how things look."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Protocol

from diagnose.assessment import Assessment, Hold
from diagnose.doing.proving import Owed
from diagnose.doing.standing import Standing
from diagnose.errors import DiagnoseError
from diagnose.knowledge.book import Book
from diagnose.record.entries import AnyEntry
from diagnose.session.questions import Question
from diagnose.work.results import Chosen, Plan, Task


class Bench(Protocol):
    """Where the work is shown and lines are read: it is handed what there is to show, and knows how it looks."""

    def ask(self) -> str | None:
        """One line as typed, or None at the end of what there is to read."""

    def fault(self, error: DiagnoseError) -> None:
        """Tell an error apart from what is asked."""

    def say(self, lines: Sequence[str]) -> None:
        """Show sentences."""

    def question(self, question: Question, terms: Iterable[tuple[str, str]], told: frozenset[str]) -> None:
        """Show a question."""

    def brief(self, question: Question) -> None:
        """Show again what is asked and its answers."""

    def whole_plan(self, made: Plan, book: Book) -> None:
        """Show a plan."""

    def task(self, standing: Standing, task: Task, waits: Sequence[tuple[str, datetime]], book: Book, told: frozenset[str]) -> None:
        """Show a task: its place, its cautions, how it is done, what it waits for; of cautions in `told` only the titles."""

    def listing(self, standing: Standing) -> None:
        """Show all tasks, done and to do."""

    def keys(self) -> None:
        """Show what may be typed."""

    def offer(self, found: Chosen) -> None:
        """Show a job that pays now and is not in the plan."""

    def now(self, found: Assessment, before: Assessment | None) -> None:
        """Show the decision as it is now, and what moved."""

    def holds(self, holds: Sequence[Hold], at_sea: bool, running: bool) -> None:
        """Show stops."""

    def next_looks(self, found: Assessment, running: bool) -> None:
        """Show the looks that are worth making next: where she is not running, those at rest before those for which she is started."""

    def crossed_out(self, entries: Sequence[AnyEntry], standing: Standing, book: Book) -> None:
        """Show what the last answer was, that is taken back now."""

    def standing(self, standing: Standing, owed: Sequence[Owed]) -> None:
        """Show what is done, what was left out, what it took, and which tests are owed."""
