"""The case that a command is told of, wherever it lies, and the book read with what was learned on its boat."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from diagnose.commands.common import case_path, judged
from diagnose.commands.recordfile import opened, say
from diagnose.errors import InputError

if TYPE_CHECKING:
    from diagnose.assessment import Assessment
    from diagnose.case import Case
    from diagnose.knowledge.book import Book
    from diagnose.record.store import CaseHead, Record, Stored

UNNAMED = "unnamed"
"""What a case calls a boat whose name it does not tell."""
own_option = click.option("--own", type=click.Path(path_type=Path), default=None,
                          help="The boat's own file; of a case in the record the one beside it, where there is one.")


@dataclass(frozen=True)
class Recorded:
    """A case in the record: the file, the case, its entries, and those of the boat that belong to no case or to this one."""

    path: Path
    head: CaseHead
    own: Sequence[Stored]
    hers: Sequence[Stored]


@dataclass(frozen=True)
class Told:
    """A case as it was read and judged, what it is called, and, of one in the record, where it lies there."""

    name: str
    case: Case
    assessment: Assessment
    record: Recorded | None = None

    @property
    def boat(self) -> str | None:
        """The boat's name, if it is told."""
        if self.record is not None:
            return self.record.head.boat
        return None if self.case.boat.name == UNNAMED else self.case.boat.name


def told_case(name: str, book: Book, path: Path | None, **how: Any) -> Told:
    """The case of a file, the shipped one, or the one of the record.

    Args:
        name: what it is called.
        book: that it is judged with.
        path: the record; if given, it is looked for there only.
        how: what else the assessment is told; with anything it is no whole assessment.

    Raises:
        InputError: there is none of that name.
        RecordError: the record cannot be read, or does not hold it.
    """
    from diagnose.record.store import default_path
    from diagnose.record.trouble import RecordError

    if path is None:
        try:
            return Told(case_path(name).stem, *judged(name, book, **how))
        except InputError as error:
            if error.where != name or Path(name).suffix or not default_path().is_file():
                raise
            try:
                return _on_record(name, book, None, how)
            except RecordError as other:
                raise InputError("is neither a file, nor a shipped case, nor a case of the record", where=name,
                                 right=other.right or error.right) from None
    return _on_record(name, book, path, how)


def _on_record(name: str, book: Book, path: Path | None, how: dict[str, Any]) -> Told:
    """A case of the record as it was last judged; as it stands now where nobody judged it, or answers came since."""
    from diagnose.record.entries import Assessed, EventEntry, Observed, PassedOver, TakenBack, TripEntry, digest
    from diagnose.record.learn import learned_case
    from diagnose.show.entrywords import clock
    from diagnose.show.words import literal
    from diagnose.triage import assess

    with opened(path, reading=True) as record:
        lies = _lies(record, name)
        stored = next((s for s in reversed(lies.own) if isinstance(s.entry, Assessed) and not s.taken_back), None)
        since = [s for s in lies.own if stored is not None and s.id > stored.id
                 and isinstance(s.entry, Observed | PassedOver | EventEntry | TripEntry | TakenBack)]
        last = stored.entry if stored is not None and not since else None
        case = last.case if isinstance(last, Assessed) else learned_case(record, lies.head.id, book)
    made = assess(case, book, **how)
    if isinstance(last, Assessed):
        moved = last.rules.digest != book.digest if how else digest(made.result_json()) != last.sha256
        if moved:
            was, now = (f"{r.version} ({r.digest[:8]})" for r in (last.rules, made.rules))
            click.echo(literal(f"diagnose: {lies.head.id} was judged on {clock(last.at)} with rules {was}; the page says "
                               f"what rules {now} say of the same case"), err=True)
    return Told(lies.head.id, case, made, lies)


def _lies(record: Record, name: str) -> Recorded:
    head = record.case_named(name)
    hers = [s for s in record.entries(boat=head.boat) if s.case in (None, head.id)]
    return Recorded(record.path, head, record.entries(case=head.id), hers)


def book_for(boat: str | None, own: Path | None, record_path: Path | None, book: Book) -> tuple[Book, Path | None]:
    """The book that work on a boat is planned with.

    Args:
        boat: her name; None where it is not told.
        own: her own file, if one is named.
        record_path: the record that her case lies in; her own file beside it is taken where there is one and none is named.
        book: the rules as they are for every boat.

    Returns:
        The book with what was learned on her, and the file that says it; the book itself and None where there is none.

    Raises:
        InputError: the file cannot be read, is another boat's, or does not fit the book; with file and line.
    """
    from diagnose.knowledge.own import load_own, with_own
    from diagnose.record.ownfile import check_boat, own_path

    if own is None and boat is not None and record_path is not None:
        beside = own_path(record_path, boat)
        own = beside if os.path.lexists(beside) else None
    if own is None:
        return book, None
    try:
        told = load_own(own, book)
    except InputError as error:
        aside = "or move it away, to go on without what was learned on her"
        raise InputError(error.what, where=error.where, right=f"{error.right}; {aside}" if error.right else f"mend it, {aside}") from None
    if boat is not None:
        check_boat(told, boat, own)
    return with_own(book, told), own


def planning_book(told: Told, own: Path | None, book: Book, *, on_page: bool) -> Book:
    """The book that the work of a case is planned with; where something was learned on her, it is said where that stands.

    Args:
        told: the case.
        own: the boat's own file, if one is named.
        book: the rules that the case was judged with.
        on_page: whether a page follows on stdout; if not, the line goes to stderr.

    Raises:
        InputError: see `book_for`.
    """
    planned, file = book_for(told.boat, own, told.record.path if told.record is not None else None, book)
    say_learned(told.boat, file, on_page=on_page)
    return planned


def say_learned(boat: str | None, file: Path | None, *, on_page: bool) -> None:
    """Say which boat's own file was read, if one was."""
    from diagnose.show.words import literal

    if file is not None:
        line = f"with what was learned on {boat or 'this boat'}: {file}"
        say(line) if on_page else click.echo(literal(line), err=True)
