"""What can go wrong with a record, each told as where it is, what is wrong, and what would be right."""

from __future__ import annotations

import sqlite3

from diagnose.errors import DiagnoseError

_FULL = (13,)  # SQLITE_FULL
_READ_ONLY = (8,)  # SQLITE_READONLY
_BUSY = (5, 6)  # SQLITE_BUSY, SQLITE_LOCKED
_DAMAGED = (11, 26)  # SQLITE_CORRUPT, SQLITE_NOTADB
_CANNOT_OPEN = (14,)  # SQLITE_CANTOPEN


FAILURES = (sqlite3.Error, OSError, UnicodeDecodeError)
"""What the database, the disk, or a damaged name in the database's own messages raises."""


class RecordError(DiagnoseError):
    """A record that cannot be read, written or understood; `sound_until` is the last entry before damage, where known."""

    def __init__(self, what: str, *, where: str = "", right: str = "", sound_until: int | None = None) -> None:
        super().__init__(what, where=where, right=right)
        self.sound_until = sound_until


def translated(error: Exception, where: str) -> RecordError:
    """What a failure of the database or the disk means for the person, and what to do about it.

    Args:
        error: what was raised.
        where: the file of the record.
    """
    if isinstance(error, UnicodeDecodeError):
        return _damaged(where)
    if not isinstance(error, sqlite3.Error):
        return RecordError(str(getattr(error, "strerror", None) or error).lower(), where=where, right="a folder one may write in")
    code = _code(error)
    if code in _FULL:
        return RecordError("nothing was written: the disk is full", where=where, right="room on the disk, then the same again")
    if code in _READ_ONLY:
        return RecordError("nothing was written: the record, or the folder it lies in, may only be read", where=where,
                           right="permission to write there, or --record with another file")
    if code in _BUSY:
        return RecordError("nothing was written: another program has kept the record locked", where=where,
                           right="the other program closed, then the same again")
    if code in _DAMAGED:
        return _damaged(where)
    if code in _CANNOT_OPEN:
        return RecordError("cannot be opened", where=where, right="a file one may read, in a folder one may write in")
    return RecordError(f"nothing was written: {str(error).lower()}", where=where,
                       right="a disk that works and has room, then the same again")


def _damaged(where: str) -> RecordError:
    return RecordError("is damaged, or is no record", where=where,
                       right="a backup restored; what lies before the damage can still be exported with --before-damage")


def is_busy(error: sqlite3.Error) -> bool:
    """Whether another program holds the file just now."""
    return _code(error) in _BUSY


def is_damage(error: Exception) -> bool:
    """Whether the database says that its file is malformed."""
    return not isinstance(error, sqlite3.Error | OSError) or (isinstance(error, sqlite3.Error) and _code(error) in _DAMAGED)


def _code(error: sqlite3.Error) -> int:
    """The primary result code; Python 3.10 gives only the words of it."""
    code = getattr(error, "sqlite_errorcode", None)
    if code is not None:
        return int(code) & 0xFF
    text = str(error)
    words = {"full": 13, "readonly": 8, "locked": 5, "malformed": 11, "not a database": 26, "unable to open": 14}
    return next((number for word, number in words.items() if word in text), 1)
