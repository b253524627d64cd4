"""What commands on the record share: which file, how it is opened, hours and moments as people type them."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime, time, timezone
from pathlib import Path
from typing import TYPE_CHECKING

import click

from diagnose.errors import InputError

if TYPE_CHECKING:
    from diagnose.record.store import Record, Stored

record_option = click.option("--record", "path", type=click.Path(path_type=Path), default=None,
                             help="The file of the record; else DIAGNOSE_RECORD, or one in your data folder.")
by_option = click.option("--by", default=None, help="Who says so.")
MOST_PHOTO = 500_000_000
"""Bytes of a photo, at most."""


@contextmanager
def opened(path: Path | None, *, create: bool = False, reading: bool = False, salvage: bool = False) -> Iterator[Record]:
    """The record while the block runs.

    Args:
        path: the file; the default one if left out.
        create: make it where there is none.
        reading: nothing is written.
        salvage: read what lies before the damage.

    Raises:
        RecordError: it cannot be opened.
    """
    from diagnose.record.store import Record

    record = Record.salvage(path) if salvage else Record.open(path, create=create, read_only=reading)
    with record:
        yield record


def only_boat(boats: Sequence[str]) -> str:
    """The one boat of a record.

    Raises:
        InputError: there is none, or more than one.
    """
    if len(boats) == 1:
        return boats[0]
    what = "which boat is not said" if boats else "there is no boat in the record"
    raise InputError(what, right=" or ".join(boats) or "a boat entered first")


def parse_hours(text: str) -> float:
    """Engine hours as typed: a number, with or without its unit [h].

    Raises:
        InputError: it is no number of hours.
    """
    from diagnose.units import parse_quantity

    bare = text.strip().replace(".", "", 1).isdigit()
    return parse_quantity(f"{text.strip()} hour" if bare else text, "hour", what="engine hours", possible=(0, 200_000))


def parse_when(text: str | None) -> datetime:
    """A moment as typed, on the clock of this place where no zone is written; noon for a day; now for nothing.

    Raises:
        InputError: it is no moment, or lies ahead.
    """
    now = datetime.now(timezone.utc)
    if text is None:
        return now
    try:
        when = datetime.fromisoformat(text.strip())
    except ValueError:
        raise InputError(f"'{text}' is not a moment", right="such as 2026-05-03, or '2026-05-03 17:30'") from None
    if len(text.strip()) == len("2026-05-03"):
        when = datetime.combine(when.date(), time(12))
    when = when.astimezone(timezone.utc)
    if when > now and when.date() != now.date():
        raise InputError(f"'{text}' lies ahead", right="a day that has been")
    return min(when, now)


def say(text: str) -> None:
    """A line on stdout; what it quotes is shown, not obeyed."""
    from diagnose.show.words import literal

    click.echo(literal(text))


def say_overtaken(record: Record, stored: Stored) -> None:
    """Warn on stderr where what was just entered changes nothing, because an entry of a later moment still counts.

    Raises:
        RecordError: the record cannot be read.
    """
    from diagnose.record.fold import overtaken_by
    from diagnose.show.entrywords import clock
    from diagnose.show.words import literal

    other = overtaken_by(record, stored)
    if other is not None:
        kept = f"kept as of {clock(stored.entry.at)}, but entry {other.id} is of {clock(other.entry.at)}, which is later, and still counts."
        click.echo(literal(f"diagnose: {kept} If the clock of this computer was wrong, set it right and enter this again."), err=True)


def sha_of(path: Path) -> str:
    """SHA-256 of a file, in hexadecimal.

    Raises:
        InputError: it cannot be read, or is too large for a photo.
    """
    try:
        if path.is_dir():
            raise InputError("is a folder, not a file", where=str(path), right="the name of a photo")
        if path.stat().st_size > MOST_PHOTO:
            raise InputError(f"is larger than {MOST_PHOTO / 1e6:.0f} MB", where=str(path), right="a photo")
        with open(path, "rb") as file:
            made = hashlib.sha256()
            while chunk := file.read(1 << 20):
                made.update(chunk)
            return made.hexdigest()
    except OSError as error:
        raise InputError((error.strerror or str(error)).lower(), where=str(path), right="a file that can be read") from None
