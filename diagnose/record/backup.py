"""The whole record as one file to put elsewhere, and back: checked when it is made, and again before it takes a place.

A backup is a ZIP file that holds the database and a note with its SHA-256, the number of entries and the day.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import shutil
import sqlite3
import struct
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from diagnose.errors import InputError
from diagnose.record import schema
from diagnose.record.entries import moment
from diagnose.record.holding import holders
from diagnose.record.store import Record
from diagnose.record.trouble import RecordError, is_busy, translated
from diagnose.record.wholefile import keep_name, make_folder, to_disk, write_whole

DATABASE = "record.sqlite3"
ABOUT = "about.json"
MOST_BYTES = 4_000_000_000
"""No record is larger than this when unpacked."""
MOST_ABOUT = 10_000
"""Bytes of the note in a backup, at most."""
_NO_BACKUP = (zipfile.BadZipFile, zlib.error, struct.error, KeyError, ValueError, TypeError, ArithmeticError, RuntimeError, EOFError)
"""What reading a file raises that is no backup, or is damaged, or is kept under a password."""
_BESIDE = ("", "-wal", "-shm", "-journal")
"""Ends of the names of all files that make up a record."""


@dataclass(frozen=True)
class Backup:
    """What a backup holds: how many entries, of which form, made when, and the SHA-256 of the database in it."""

    path: Path
    entries: int
    form: int
    made: datetime
    sha256: str


@dataclass(frozen=True)
class Restored:
    """A backup put in place; `aside` is where the record that lay there before is kept."""

    backup: Backup
    path: Path
    aside: Path | None


def back_up(record: Path, target: Path, *, replace: bool = False) -> Backup:
    """Copy a record, as it is at this moment, into one file, and read that file back to see that it is whole.

    Other programs may go on writing meanwhile; the backup holds the record as it was at one moment.

    Args:
        record: the file of the record.
        target: the backup to make.
        replace: write over a file that is there.

    Raises:
        InputError: `target` is there already.
        RecordError: the record is damaged or cannot be read, or the backup cannot be written.
    """
    if target.exists() and not replace:
        raise InputError("is there already, and is not written over", where=str(target), right="another name, or --replace")
    try:
        with tempfile.TemporaryDirectory(prefix="backup-") as folder:
            copy = Path(folder) / DATABASE
            entries = _copied(record, copy)
            data = copy.read_bytes()
            about = {"entries": entries, "form": schema.VERSION, "made": moment().isoformat(), "sha256": _sha(data)}
            make_folder(target.parent)
            write_whole(target, _packed(data, about))
    except (OSError, sqlite3.Error) as error:
        raise translated(error, str(target)) from error
    return check(target)


def _copied(record: Path, copy: Path) -> int:
    with Record.open(record, create=False, read_only=True) as source:
        source.verify()
        with schema.copy_into(source.database, copy) as made:
            made.execute("PRAGMA journal_mode = DELETE")  # all in one file
            made.execute("DELETE FROM hold")
    with Record.open(copy, create=False, read_only=True) as made_record:
        return made_record.verify()


def _packed(data: bytes, about: dict[str, object]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr(ABOUT, json.dumps(about, indent=2))
        packed.writestr(DATABASE, data)
    return out.getvalue()


def check(path: Path) -> Backup:
    """Read a backup and see that it is whole: the checksum, the pages, every entry's place in the chain.

    Raises:
        RecordError: it is no backup, or damaged; which part is said.
    """
    with _unpacked(path) as (backup, _):
        return backup


@contextmanager
def _unpacked(path: Path) -> Iterator[tuple[Backup, Path]]:
    """A backup that was found whole, and its database in a folder of its own."""
    with tempfile.TemporaryDirectory(prefix="backup-", ignore_cleanup_errors=True) as folder:
        database = Path(folder) / DATABASE
        try:
            with zipfile.ZipFile(path) as packed:
                about = json.loads(_told(packed, path))
                sha = _unpacked_into(database, packed, path)
            backup = Backup(path, int(about["entries"]), int(about["form"]), datetime.fromisoformat(about["made"]), str(about["sha256"]))
        except OSError as error:
            raise translated(error, str(path)) from error
        except _NO_BACKUP as error:
            raise RecordError("is no backup of a record, or is damaged", where=str(path), right="another backup") from error
        if sha != backup.sha256:
            raise RecordError("is damaged: the record in it is not the one its checksum was taken of", where=str(path),
                              right="another backup")
        with Record.open(database, create=False, read_only=True) as record:
            if record.verify() != backup.entries:
                raise RecordError("is damaged: it does not hold as many entries as it says", where=str(path), right="another backup")
        yield backup, database


def _told(packed: zipfile.ZipFile, path: Path) -> bytes:
    """The note in a backup, read no further than a note is long."""
    with packed.open(ABOUT) as note:
        told = note.read(MOST_ABOUT + 1)
    if len(told) > MOST_ABOUT:
        raise RecordError("is no backup of a record: the note in it is too long", where=str(path), right="another backup")
    return told


def _unpacked_into(database: Path, packed: zipfile.ZipFile, path: Path) -> str:
    """Unpack the database of a backup, piece by piece.

    Returns:
        Its SHA-256.
    """
    made, size = hashlib.sha256(), 0
    with packed.open(DATABASE) as source, open(database, "wb") as target:
        while piece := source.read(1 << 20):
            size += len(piece)
            if size > MOST_BYTES:
                raise RecordError("is larger than any record", where=str(path))
            made.update(piece)
            target.write(piece)
    return made.hexdigest()


def restore(path: Path, target: Path, *, replace: bool = False) -> Restored:
    """Put the record of a backup in its place, once it was found whole. What lies there is kept aside, not thrown away.

    Args:
        path: the backup.
        target: where the record is to lie.
        replace: put it in the place of a record that is there.

    Raises:
        InputError: a record lies there, and nobody said that it may be replaced.
        RecordError: the backup is no backup or is damaged; the record there is in use; the disk refuses; what was put in place
            is not what the backup holds.
    """
    if target.exists() and not replace:
        raise InputError("a record lies here already", where=str(target),
                         right="--replace to put the backup in its place (this one is kept aside), or --record with another file")
    with _unpacked(path) as (backup, database):
        try:
            make_folder(target.parent)
            part = target.with_name(f".{target.name}.part")
            shutil.copyfile(database, part)
            to_disk(part)
            aside = _set_aside(target)
            os.replace(part, target)
            keep_name(target)
        except OSError as error:
            raise translated(error, str(target)) from error
        _seen_in_place(target, backup, aside)
    return Restored(backup, target, aside)


def _seen_in_place(target: Path, backup: Backup, aside: Path | None) -> None:
    """Read what was put in place as a record is read.

    Raises:
        RecordError: it is not what the backup holds.
    """
    with Record.open(target, create=False, read_only=True) as record:
        count = record.verify()
    if count < backup.entries:
        kept = f"; the record that was there is kept as {aside}" if aside is not None else ""
        raise RecordError(f"holds {count} entries and not the {backup.entries} of the backup{kept}", where=str(target),
                          right="a disk that works, then the same again with --replace")


def _set_aside(target: Path) -> Path | None:
    """Move a record, and all files beside it, to a name that is free. What lies beside a record that is not there moves too:
    it would be read into the one that is put in its place.

    Returns:
        Where the record lies now, or None if there was none.

    Raises:
        RecordError: a living session has a case of it open, or another program has it open.
    """
    there = target.exists()
    if there:
        _not_in_use(target)
    names = (f"{target.name}.before-{n}" for n in range(1, 10_000))
    free = next(name for name in names if not any(target.with_name(name + end).exists() for end in _BESIDE))
    for end in _BESIDE:
        part = target.with_name(target.name + end)
        if part.exists():
            os.replace(part, target.with_name(free + end))
    return target.with_name(free) if there else None


def _not_in_use(target: Path) -> None:
    """Bring what is written beside the file into it, and refuse where somebody works with it. A damaged one is let be."""
    database = sqlite3.connect(target, isolation_level=None, timeout=1.0)
    try:
        living = [str(h) for h in holders(database) if h.lives]
        if living:
            raise RecordError(f"a case of this record is open in another session: {living[0]}", where=str(target),
                              right="that session ended first")
        database.execute("PRAGMA journal_mode = DELETE")  # only one who is alone can have this
    except sqlite3.Error as error:
        if is_busy(error):
            raise RecordError("another program has this record open", where=str(target), right="the other program closed first") from None
    finally:
        database.close()


def _sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
