"""A boat's own file on the disk: where it lies, and adding to it without touching what stands there."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path
from typing import Any

from diagnose.errors import InputError
from diagnose.knowledge.own import Item, Own, own_of
from diagnose.knowledge.text import MAX_BYTES, Document, dump, parse, read_text
from diagnose.record.store import same_name, slug
from diagnose.record.wholefile import make_folder, write_whole

FOLDER = "own"
_BOM = b"\xef\xbb\xbf"
_INDENT = 2


def own_path(record_path: Path, boat: str) -> Path:
    """Where a boat's own file lies if nothing else is said: in a folder `own` beside the record, under her name in plain letters.

    Where plain letters do not say the whole name, so that two boats could come by one file, a few signs of its checksum follow.
    """
    name, plain = "-".join(boat.casefold().split()), slug(boat)
    if plain != name:
        plain = "-".join(part for part in (plain, hashlib.sha256(name.encode()).hexdigest()[:8]) if part)
    return record_path.parent / FOLDER / f"{plain}.yaml"


def check_boat(own: Own, boat: str, path: Path) -> None:
    """See that a file is this boat's; capitals and spaces do not matter.

    Raises:
        InputError: it is another's.
    """
    if not same_name(own.boat, boat):
        raise InputError(f"is the file of '{own.boat}', not of '{boat}'", where=str(path), right=f"--own with the file of '{boat}'")


def add_learned(path: Path, boat: str, item: Item) -> Own:
    """Add one item at the end of a boat's own file; every byte that stands there stays, and at no moment half of it is there.

    Args:
        path: the file; it and its folder are made where there is none.
        boat: whose it is.
        item: what was learned. That the book knows it is for the caller to see.

    Returns:
        The whole file as it is then.

    Raises:
        InputError: it is another boat's file, it cannot be read, added to as it stands, or written.
    """
    path = path.resolve() if path.is_symlink() else path
    text = dump({"schema": 1, "boat": " ".join(boat.split()), "learned": [_plain(item)]})
    own = own_of(parse(text, f"what is to be added to {path}"))
    try:
        if os.path.lexists(path):
            data, own = _added(path, boat, item)
            write_whole(path, data)
        else:
            make_folder(path.parent)
            write_whole(path, text.encode(), replace=False)
    except OSError as error:
        raise InputError((error.strerror or str(error)).lower(), where=str(path), right="a folder that can be written to") from None
    return own


def _plain(item: Item) -> dict[str, Any]:
    """An item as it is written: what it is of, what it says, when and who."""
    told = item.model_dump(mode="json", by_alias=True, exclude_none=True, exclude_defaults=True)
    last = ("on", "by")
    heads = ("job", "step", "setup", "part")
    told = {k: _whole(v) for k, v in told.items()}
    return {k: told[k] for k in (*heads, *(k for k in told if k not in (*heads, *last)), *last) if k in told}


def _whole(value: Any) -> Any:
    """A number without a part as people write it."""
    if isinstance(value, dict):
        return {k: _whole(v) for k, v in value.items()}
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _added(path: Path, boat: str, item: Item) -> tuple[bytes, Own]:
    """The bytes of a file with one item more, read back to see that it says just that beside what it said."""
    text = read_text(path)
    document = parse(text, str(path))
    before = own_of(document)
    check_boat(before, boat, path)
    place = _place(text, document)
    end = "\r\n" if "\r\n" in text else "\n"
    lead = end if place and not text[:place].endswith(("\n", "\r")) else ""
    new = text[:place] + lead + _lines(document, item).replace("\n", end) + text[place:]
    raw = path.read_bytes()
    data = (_BOM if raw.startswith(_BOM) else b"") + new.encode()
    try:
        after: Own | None = own_of(parse(new, str(path)))
    except InputError:
        after = None
    if after is None or after != before.model_copy(update={"learned": (*before.learned, item)}):
        raise InputError("cannot be added to as it stands", where=document.where(("learned",)),
                         right="learned as the last key, an item a dash, one below the other")
    if len(data) > MAX_BYTES:
        raise InputError(f"would be over {MAX_BYTES / 1e6:.0f} MB", where=str(path), right="what no longer counts taken out of it")
    return data, after


def _place(text: str, document: Document) -> int:
    """Where an item is put in: at the end, or before the key that follows the list, and before the remarks above that."""
    keys = [key for key, _ in document.node.value]
    at = next((i for i, key in enumerate(keys) if key.value == "learned"), len(keys))
    if at + 1 >= len(keys):
        return len(text)
    lines = text.splitlines(keepends=True)
    line = int(keys[at + 1].start_mark.line)
    while line and (not lines[line - 1].strip() or lines[line - 1].startswith("#")):
        line -= 1
    return sum(map(len, lines[:line]))


def _lines(document: Document, item: Item) -> str:
    """The item as lines, as far in as those of the list; under a key of its own where there is no list yet."""
    listed = next((value for key, value in document.node.value if key.value == "learned"), None)
    lines = dump([_plain(item)]).splitlines()
    pad = " " * (_INDENT if listed is None else int(listed.start_mark.column))
    return "".join(f"{line}\n" for line in ([] if listed is not None else ["learned:"]) + [pad + line for line in lines])
