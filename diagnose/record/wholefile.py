"""Files written so that they are there whole or not at all, with the permissions of any new file, and remembered by their folder."""

from __future__ import annotations

import errno
import os
import secrets
from pathlib import Path

_NO_SUCH_WISH = (errno.EINVAL, errno.ENOTSUP, errno.EACCES, errno.EPERM)
"""What a system answers that cannot sync a folder, or may not open it for that."""


def write_whole(path: Path, data: bytes, *, replace: bool = True) -> None:
    """Write a file so that at no moment half of it is there, and have the disk keep it and its name.

    Args:
        path: the file.
        data: what it holds.
        replace: whether a file of that name is written over.

    Raises:
        FileExistsError: it is there and may not be written over.
        OSError: it cannot be written; the file that was there is as it was.
    """
    part = path.with_name(f".{path.name[:40]}-{secrets.token_hex(6)}.part")
    try:
        with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666), "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if not replace and (path.exists() or path.is_symlink()):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path))
        os.replace(part, path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    keep_name(path)


def make_folder(folder: Path) -> None:
    """Make a folder and all above it that are missing, and have each be remembered by the one it lies in.

    Raises:
        OSError: it cannot be made.
    """
    missing = [each for each in (folder, *folder.parents) if not each.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    for made in reversed(missing):
        keep_name(made)


def to_disk(path: Path) -> None:
    """Have the disk keep what a file holds.

    Raises:
        OSError: it cannot.
    """
    with open(path, "rb+") as file:
        os.fsync(file.fileno())


def keep_name(path: Path) -> None:
    """Have the folder remember a new file or folder, where the system can be asked to.

    Raises:
        OSError: the disk refuses.
    """
    if os.name != "posix":
        return
    folder = None
    try:
        folder = os.open(path.parent, os.O_RDONLY)
        os.fsync(folder)
    except OSError as error:
        if error.errno not in _NO_SUCH_WISH:
            raise
    finally:
        if folder is not None:
            os.close(folder)
