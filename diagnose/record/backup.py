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
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from diagnose.errors import InputError
from diagnose.record import schema
from diagnose.record.entries import moment
from diagnose.record.exchange import write_whole
from diagnose.record.holding import holders
from diagnose.record.store import Record
from diagnose.record.trouble import RecordError, is_busy, translated

DATABASE = "record.sqlite3"
ABOUT = "about.json"
MOST_BYTES = 4_000_000_000
"""No record is larger than this when unpacked."""


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
            target.parent.mkdir(parents=True, exist_ok=True)
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
                if packed.getinfo(DATABASE).file_size > MOST_BYTES:
                    raise RecordError("is larger than any record", where=str(path))
                about, data = json.loads(packed.read(ABOUT)), packed.read(DATABASE)
            database.write_bytes(data)
            backup = Backup(path, int(about["entries"]), int(about["form"]), datetime.fromisoformat(about["made"]), str(about["sha256"]))
        except OSError as error:
            raise translated(error, str(path)) from error
        except (zipfile.BadZipFile, KeyError, ValueError, TypeError, NotImplementedError, EOFError) as error:
            raise RecordError("is no backup of a record, or is damaged", where=str(path), right="another backup") from error
        if _sha(data) != backup.sha256:
            raise RecordError("is damaged: the record in it is not the one its checksum was taken of", where=str(path),
                              right="another backup")
        with Record.open(database, create=False, read_only=True) as record:
            if record.verify() != backup.entries:
                raise RecordError("is damaged: it does not hold as many entries as it says", where=str(path), right="another backup")
        yield backup, database


def restore(path: Path, target: Path, *, replace: bool = False) -> Restored:
    """Put the record of a backup in its place, once it was found whole. What lies there is kept aside, not thrown away.

    Args:
        path: the backup.
        target: where the record is to lie.
        replace: put it in the place of a record that is there.

    Raises:
        InputError: a record lies there, and nobody said that it may be replaced.
        RecordError: the backup is no backup or is damaged; the record there is in use; the disk refuses.
    """
    if target.exists() and not replace:
        raise InputError("a record lies here already", where=str(target),
                         right="--replace to put the backup in its place (this one is kept aside), or --record with another file")
    with _unpacked(path) as (backup, database):
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
            part = target.with_name(f".{target.name}.part")
            shutil.copyfile(database, part)
            _to_disk(part)
            aside = _set_aside(target) if target.exists() else None
            os.replace(part, target)
            schema.keep_name(target)
        except OSError as error:
            raise translated(error, str(target)) from error
    return Restored(backup, target, aside)


def _to_disk(path: Path) -> None:
    with open(path, "rb+") as part:
        os.fsync(part.fileno())


def _set_aside(target: Path) -> Path:
    """Move a record, with the files beside it, to a name that is free.

    Raises:
        RecordError: a living session has a case of it open, or another program has it open.
    """
    _not_in_use(target)
    number = next(n for n in range(1, 10_000) if not target.with_name(f"{target.name}.before-{n}").exists())
    aside = target.with_name(f"{target.name}.before-{number}")
    os.replace(target, aside)
    for suffix in ("-wal", "-shm"):
        beside = target.with_name(target.name + suffix)
        if beside.exists():
            os.replace(beside, aside.with_name(aside.name + suffix))
    return aside


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
