"""One session at a time on a case: who holds it, whether that process still lives, and how it is taken over."""

from __future__ import annotations

import os
import socket
import sqlite3
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from diagnose.record.entries import moment
from diagnose.record.trouble import RecordError, translated


@dataclass(frozen=True)
class Holder:
    """A process that holds a case: its number, when it began as its system counts it, its computer, and since when."""

    pid: int
    began: str
    host: str
    since: datetime

    @property
    def lives(self) -> bool:
        """Whether it may still run. Of a process on another computer nothing can be known, so it counts as living."""
        return self.host != socket.gethostname() or (_runs(self.pid) and self.began == began(self.pid))

    def __str__(self) -> str:
        here = "" if self.host == socket.gethostname() else f" on {self.host}"
        return f"process {self.pid}{here}, since {self.since.astimezone():%d %B %Y %H:%M}"


@dataclass(frozen=True)
class Held:
    """A case held by this process; `taken_over` is the holder before it, where that one had died or was set aside."""

    case: str
    taken_over: Holder | None


@contextmanager
def held(database: sqlite3.Connection, path: Path, case: str, *, take_over: bool) -> Iterator[Held]:
    """Hold a case while the block runs. See `Record.hold_case`."""
    mine = Holder(os.getpid(), began(os.getpid()), socket.gethostname(), moment())
    try:
        before = _taken(database, case, mine, take_over, path)
    except sqlite3.Error as error:
        raise translated(error, str(path)) from error
    try:
        yield Held(case, before)
    finally:
        _let_go(database, case, mine)


def holders(database: sqlite3.Connection, case: str | None = None) -> list[Holder]:
    """Who holds cases, or this one.

    Raises:
        sqlite3.Error: the file cannot be read.
    """
    rows = database.execute("SELECT pid, began, host, since FROM hold WHERE ? IS NULL OR case_id = ?", (case, case)).fetchall()
    return [Holder(row[0], row[1], row[2], datetime.fromisoformat(row[3])) for row in rows]


def _taken(database: sqlite3.Connection, case: str, mine: Holder, take_over: bool, path: Path) -> Holder | None:
    database.execute("BEGIN IMMEDIATE")
    try:
        holder = next(iter(holders(database, case)), None)
        if holder is not None and holder.lives and not take_over:
            raise RecordError(f"case '{case}' is open in another session: {holder}", where=str(path),
                              right="that session ended; until then the case can be read. If it runs no more: "
                                    f"diagnose resume {case} --take-over")
        database.execute("INSERT OR REPLACE INTO hold (case_id, pid, began, host, since) VALUES (?, ?, ?, ?, ?)",
                         (case, mine.pid, mine.began, mine.host, mine.since.isoformat()))
        database.execute("COMMIT")
    except BaseException:
        if database.in_transaction:
            database.execute("ROLLBACK")
        raise
    return holder


def _let_go(database: sqlite3.Connection, case: str, mine: Holder) -> None:
    """Give the case back, if it was not taken over meanwhile. A disk that refuses leaves a dead holder, which is no harm."""
    try:
        database.execute("DELETE FROM hold WHERE case_id = ? AND pid = ? AND host = ? AND since = ?",
                         (case, mine.pid, mine.host, mine.since.isoformat()))
    except sqlite3.Error:
        return


def began(pid: int) -> str:
    """When a process began, as its system counts it; empty where that cannot be read. Tells a new process from an old one
    of the same number."""
    try:
        return Path(f"/proc/{pid}/stat").read_text(encoding="utf-8", errors="replace").rpartition(")")[2].split()[19]
    except (OSError, IndexError):
        return ""


def _runs(pid: int) -> bool:
    if sys.platform == "win32":
        import ctypes

        handle = ctypes.windll.kernel32.OpenProcess(0x1000, False, pid)
        if handle:
            ctypes.windll.kernel32.CloseHandle(handle)
        return bool(handle)
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True  # it is there, and belongs to somebody else
    return True
