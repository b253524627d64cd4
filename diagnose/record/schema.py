"""The form of the file: opening it, making it, bringing an older one up to the present form, and reading a damaged one."""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from diagnose.record.trouble import FAILURES, RecordError, is_busy, translated
from diagnose.record.wholefile import keep_name, make_folder, to_disk

VERSION = 2
"""Version of the form, in PRAGMA user_version."""
MARK = 0x64676E73
"""PRAGMA application_id of a record."""
WAIT_SECONDS = 20.0
"""How long one program waits for another that writes."""
_TRIES = 20
"""How often a copy is begun anew because somebody writes meanwhile."""
START = "0" * 64
"""What the first row is chained to."""
Row = tuple[int, str, str | None, str, str, str]
"""Number, boat, case, kind, hash and body of an entry."""
ROWS = "SELECT id, boat, case_id, kind, hash, body FROM log"
ADD = "INSERT INTO log (id, boat, case_id, kind, hash, body) VALUES (?, ?, ?, ?, ?, ?)"
PAGE = 4096
"""Bytes of a page of the file."""
TABLES = (
    "CREATE TABLE log (id INTEGER PRIMARY KEY, boat TEXT NOT NULL, case_id TEXT, kind TEXT NOT NULL, hash TEXT NOT NULL, "
    "body TEXT NOT NULL)",
    "CREATE TABLE hold (case_id TEXT PRIMARY KEY, pid INTEGER NOT NULL, began TEXT NOT NULL, host TEXT NOT NULL, since TEXT NOT NULL) "
    "WITHOUT ROWID",
    "CREATE TRIGGER log_is_kept BEFORE UPDATE ON log BEGIN SELECT RAISE(ABORT, 'the record is not overwritten'); END",
    "CREATE TRIGGER log_stays BEFORE DELETE ON log BEGIN SELECT RAISE(ABORT, 'the record is not overwritten'); END",
)
"""No index: one that is damaged would hide rows without a word, and a record is small."""


@dataclass(frozen=True)
class Opened:
    """A connection, and the folder of the copy it reads where the file itself cannot be used."""

    database: sqlite3.Connection
    copy: tempfile.TemporaryDirectory[str] | None = None

    def close(self) -> None:
        """Close the connection, and throw the copy away."""
        self.database.close()
        if self.copy is not None:
            self.copy.cleanup()


def chained(before: str, row: int, boat: str, case: str | None, kind: str, body: str) -> str:
    """SHA-256 of a row and of the hash of the row before it, in hexadecimal."""
    text = json.dumps([before, row, boat, case, kind, body], ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


class RowError(Exception):
    """A row is not what was written."""


def connected(path: Path, *, create: bool, read_only: bool) -> Opened:
    """A connection to the record at a path, in the present form.

    Raises:
        RecordError: see `Record.open`.
    """
    try:
        if not path.is_file():
            if path.exists():
                raise RecordError("is a folder, not a file", where=str(path), right="the name of a file")
            if not create:
                raise RecordError("there is no record here", where=str(path), right="--record with the file, or a boat entered first")
            make_folder(path.parent)
        opened = _reading(path) if read_only else Opened(_writing(path, made=create))
    except FAILURES as error:
        raise translated(error, str(path)) from error
    return opened


def salvaged(path: Path) -> tuple[sqlite3.Connection, int]:
    """What can still be read of a damaged file, in memory: all rows before the first that is not what was written.

    A file that was cut short is read as far as it goes. Where the first page is gone, that of a new record takes its
    place: it holds nothing but the form.

    Returns:
        A connection, and how many rows it holds.

    Raises:
        RecordError: not even a copy of the file can be read.
    """
    memory = sqlite3.connect(":memory:", isolation_level=None)
    _form(memory)
    try:
        with _folder() as folder:
            there = Path(folder) / "record.sqlite3"
            _copied(path, there)
            count = _saved(there, memory)
            if count == 0:
                _new_first_page(there)
                count = _saved(there, memory)
    except OSError as error:
        memory.close()
        raise translated(error, str(path)) from error
    memory.execute("PRAGMA query_only = ON")
    return memory, count


def _saved(there: Path, memory: sqlite3.Connection) -> int:
    """Copy sound rows from a damaged file until one is not."""
    database = sqlite3.connect(there, isolation_level=None)
    number = 0
    try:
        database.execute("PRAGMA writable_schema = ON")  # a file shorter than it says is read all the same
        for row in sound_rows(database, 0, START):
            memory.execute(ADD, row)
            number = row[0]
    except (sqlite3.Error, RowError):
        pass  # here the damage begins
    finally:
        database.close()
    return number


def sound_rows(database: sqlite3.Connection, after: int, before: str) -> Iterator[Row]:
    """Rows from a number on, each checked against the one before it.

    Args:
        after: the last row known to be sound, 0 for none.
        before: its hash.

    Raises:
        RowError: the row after the last one given is missing or is not what was written.
        sqlite3.Error: the file cannot be read any further.
    """
    try:
        for row in database.execute(f"{ROWS} WHERE id > ? ORDER BY id", (after,)):
            number, boat, case, kind, kept, body = row
            if number != after + 1 or chained(before, number, boat, case, kind, body) != kept:
                raise RowError
            after, before = number, kept
            yield row
    except (TypeError, ValueError, OverflowError, MemoryError, sqlite3.DataError):
        raise RowError from None  # a value is of another type than was written
    except sqlite3.OperationalError as error:
        raise RowError from None if "decode" in str(error) else error


def copied_whole(path: Path) -> Opened:
    """A connection to a copy of a file, brought up to the present form there.

    Raises:
        RecordError, sqlite3.Error, OSError: it cannot be read.
    """
    folder = _folder()
    try:
        there = Path(folder.name) / "record.sqlite3"
        _copied(path, there)
        database = _writing(there, shown=path)
        database.execute("PRAGMA query_only = ON")
        return Opened(database, folder)
    except BaseException:
        folder.cleanup()
        raise


def _folder() -> tempfile.TemporaryDirectory[str]:
    return tempfile.TemporaryDirectory(prefix="record-", ignore_cleanup_errors=True)


def _copied(path: Path, there: Path) -> None:
    """The file, and the log of changes beside it that are not in the file yet, as they stand at one moment.

    Raises:
        RecordError: another program wrote again and again, so that there was no such moment.
    """
    parts = [(path.with_name(path.name + suffix), there.with_name(there.name + suffix)) for suffix in ("", "-wal")]
    for _ in range(_TRIES):
        before = [_state(part) for part, _ in parts]
        for part, copy in parts:
            copy.unlink(missing_ok=True)
            if part.is_file():
                copy.write_bytes(part.read_bytes())
        if before == [_state(part) for part, _ in parts]:
            return
        time.sleep(0.05)  # somebody wrote meanwhile
    raise RecordError("another program writes to it without a pause, so that no copy could be read", where=str(path),
                      right="the other program closed, then the same again")


def _state(path: Path) -> tuple[int, int]:
    """What changes of a file when it is written."""
    try:
        found = path.stat()
    except FileNotFoundError:
        return 0, 0
    return found.st_size, found.st_mtime_ns


def _new_first_page(there: Path) -> None:
    with tempfile.TemporaryDirectory(prefix="record-") as folder:
        fresh = Path(folder) / "fresh.sqlite3"
        database = sqlite3.connect(fresh, isolation_level=None)
        _form(database)
        database.close()
        page = bytearray(fresh.read_bytes()[:PAGE])
    damaged = there.read_bytes()
    pages = -(-len(damaged) // PAGE)
    page[28:32] = pages.to_bytes(4, "big")
    there.write_bytes(bytes(page) + damaged[PAGE:].ljust((pages - 1) * PAGE, b"\0"))
    there.with_name(there.name + "-wal").unlink(missing_ok=True)


def _writing(path: Path, *, made: bool = False, shown: Path | None = None) -> sqlite3.Connection:
    database = sqlite3.connect(path, isolation_level=None, timeout=WAIT_SECONDS)
    try:
        _checked(database, shown or path, made=made)
        _switched(database, shown or path)
        database.execute("PRAGMA synchronous = FULL")
        database.execute("PRAGMA fullfsync = ON")
        database.execute("PRAGMA checkpoint_fullfsync = ON")
        if _version(database) != VERSION:
            _brought_up(database, path)
            database.execute("PRAGMA wal_checkpoint")
            keep_name(path)
    except BaseException:
        database.close()
        raise
    return database


def _switched(database: sqlite3.Connection, path: Path) -> None:
    """Write-ahead logging, once; two programs that make a new record together do not wait for each other by themselves.

    Raises:
        RecordError: the disk does not allow it, so that what is written would not be as safe as it is said to be.
        sqlite3.Error: another program does not let go of the file.
    """
    until = time.monotonic() + WAIT_SECONDS
    while True:
        try:
            mode = str(database.execute("PRAGMA journal_mode = WAL").fetchone()[0])
            if mode != "wal":
                raise RecordError("cannot be written safely on this disk, which does not allow a log of changes beside the file",
                                  where=str(path), right="--record with a file on a disk of this computer, not of a network")
            return
        except sqlite3.OperationalError as error:
            if not is_busy(error) or time.monotonic() > until:
                raise
            time.sleep(0.02)


def _reading(path: Path) -> Opened:
    """A connection that does not write. In a folder one may not write in, and of an older form, a copy is read."""
    if os.access(path, os.W_OK) and os.access(path.parent, os.W_OK):
        database = sqlite3.connect(path, isolation_level=None, timeout=WAIT_SECONDS)
        try:
            _checked(database, path)
            database.execute("PRAGMA query_only = ON")
            if _version(database) == VERSION:
                return Opened(database)
        except sqlite3.OperationalError:
            pass  # the files beside it that reading needs cannot be made here
        except BaseException:
            database.close()
            raise
        database.close()
    return copied_whole(path)


def _version(database: sqlite3.Connection) -> int:
    return int(database.execute("PRAGMA user_version").fetchone()[0])


def _checked(database: sqlite3.Connection, path: Path, *, made: bool = False) -> None:
    """Refuse what is no record, one of a newer form, and, unless it is to be made, an empty one.

    Raises:
        RecordError: it is.
    """
    version, mark = _version(database), int(database.execute("PRAGMA application_id").fetchone()[0])
    if version == 0 and mark == 0 and database.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0:
        if made:
            return
        raise RecordError("is empty: it was cut short, or its making was", where=str(path), right="a backup restored, or a boat entered")
    if mark != MARK:
        raise RecordError("is a database, but no record of this program", where=str(path), right="--record with another file")
    if version > VERSION:
        raise RecordError(f"was written by a newer version of this program (form {version}; this one reads up to {VERSION})",
                          where=str(path), right="the newer version installed, or a record of its own with --record")


def _form(database: sqlite3.Connection) -> None:
    """Make the tables of an empty file."""
    for statement in TABLES:
        database.execute(statement)
    database.execute(f"PRAGMA application_id = {MARK}")
    database.execute(f"PRAGMA user_version = {VERSION}")


def _brought_up(database: sqlite3.Connection, path: Path) -> None:
    """Bring an empty file or an older form to the present one, in one piece: all of it or nothing."""
    if _version(database) != 0:
        _kept_aside(database, path)
    database.execute("BEGIN IMMEDIATE")
    try:
        version = _version(database)
        if version == 0:
            _form(database)
        elif version == 1:
            _one_to_two(database, path)
        database.execute("COMMIT")
    except BaseException:
        if database.in_transaction:
            database.execute("ROLLBACK")
        raise


def _one_to_two(database: sqlite3.Connection, path: Path) -> None:
    """In form 1 each row had a hash of its own body only, nobody held a case, and rows could be changed. It was drawn up before
    any release; a file of it is still read.

    Raises:
        RecordError: a row is not what was written; nothing is changed then.
    """
    rows = database.execute("SELECT id, boat, case_id, kind, body, sha256 FROM log ORDER BY id").fetchall()
    database.execute("ALTER TABLE log RENAME TO log_1")
    _form(database)
    before = START
    for place, (number, boat, case, kind, body, kept) in enumerate(rows, start=1):
        if number != place or hashlib.sha256(body.encode("utf-8")).hexdigest() != kept:
            raise RecordError(f"entry {place} is damaged: it is not what was written", where=str(path), right="a backup restored",
                              sound_until=place - 1)
        before = chained(before, number, boat, case, kind, body)
        database.execute(ADD, (number, boat, case, kind, before, body))
    database.execute("DROP TABLE log_1")


def _kept_aside(database: sqlite3.Connection, path: Path) -> None:
    """A copy of the older form beside the file, whole or not at all, in case the older program is wanted again.

    Raises:
        sqlite3.Error, OSError: it cannot be written; then nothing is brought up.
    """
    name = f"{path.name}.form-{_version(database)}"
    free = next(each for n in range(1, 10_000) if not (each := path.with_name(name if n == 1 else f"{name}-{n}")).exists())
    part = path.with_name(f".{name}.{os.getpid()}.part")
    part.unlink(missing_ok=True)
    try:
        with copy_into(database, part) as copy:
            copy.execute("PRAGMA journal_mode = DELETE")  # all in one file
        to_disk(part)
        os.replace(part, free)
        keep_name(free)
    finally:
        part.unlink(missing_ok=True)


@contextmanager
def copy_into(database: sqlite3.Connection, path: Path) -> Iterator[sqlite3.Connection]:
    """A copy of an open database, as it is at one moment, made in a new file and open while the block runs.

    Raises:
        sqlite3.Error: it cannot be read or written.
    """
    copy = sqlite3.connect(path, isolation_level=None)
    try:
        database.backup(copy)
        yield copy
    finally:
        copy.close()
