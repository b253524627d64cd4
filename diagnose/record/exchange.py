"""The record as files that people and other programs read: YAML, one file a boat; CSV, one file a kind of entry.

What was exported comes back as equal entries. An import only adds: what is there already is counted and left alone.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import re
import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from diagnose.errors import InputError
from diagnose.knowledge.text import did_you_mean, dump, parse, read_text
from diagnose.record.entries import KINDS, AnyEntry, CaseOpened, TakenBack, as_json, from_plain, plain
from diagnose.record.store import Record, Stored, slug
from diagnose.record.trouble import translated
from diagnose.record.wholefile import make_folder
from diagnose.record.wholefile import write_whole as write_whole

Form = Literal["yaml", "csv"]
MOST_BYTES = 1_000_000_000
"""No file of a record is larger than this."""
_OPENED_UP = ("observation", "event", "trip", "rules")
"""Parts of an entry whose own fields get a column each."""
_HEAD = ("id", "boat", "of_case", "at", "by")
"""Columns that every table begins with; `of_case` is the id of the case an entry belongs to."""
_NUMBER = re.compile(r"-?(0|[1-9][0-9]*)(\.[0-9]+)?([eE][-+]?[0-9]+)?\Z")


@dataclass(frozen=True)
class Line:
    """One entry of a file: its number there, whose it is, the file (all tables count as one), and where it stands there."""

    id: int
    boat: str
    case: str | None
    entry: AnyEntry
    file: str = ""
    where: str = ""


@dataclass(frozen=True)
class Imported:
    """What an import did: entries added, entries that were there already, and cases whose id had to be another."""

    added: int
    known: int
    renamed: dict[str, str]


# ------------------------------------------------------------------ out


def export(record: Record, folder: Path, form: Form = "yaml", *, boats: Sequence[str] = (), replace: bool = False) -> tuple[Path, ...]:
    """Write the record, or some boats of it, into a folder.

    Args:
        record: what is written; of one opened by `Record.salvage`, what could be saved.
        folder: where to; it is made if it is not there.
        form: `yaml`, one file a boat, or `csv`, one file a kind of entry.
        boats: only these, as `Record.boats` spells them; all if left out.
        replace: write over files of the same names.

    Returns:
        The files written.

    Raises:
        InputError: a file of that name is there already.
        RecordError: the record cannot be read, or the files cannot be written.
    """
    entries = [s for s in record.entries() if not boats or s.boat in boats]
    texts = _as_yaml(entries) if form == "yaml" else _as_csv(entries)
    paths = {folder / name: text for name, text in texts.items()}
    for path in paths:
        if path.exists() and not replace:
            raise InputError("is there already, and is not written over", where=str(path), right="another folder, or --replace")
    try:
        make_folder(folder)
        for path, text in paths.items():
            write_whole(path, text.encode("utf-8"))
    except OSError as error:
        raise translated(error, str(folder)) from error
    return tuple(paths)


def file_names(boats: Iterable[str]) -> dict[str, str]:
    """A file name for each boat, of plain letters, no two alike."""
    named: dict[str, str] = {}
    for boat in boats:
        stem, taken = slug(boat) or "boat", set(named.values())
        named[boat] = stem if stem not in taken else next(n for i in range(2, len(taken) + 3) if (n := f"{stem}-{i}") not in taken)
    return named


def _as_yaml(entries: Sequence[Stored]) -> dict[str, str]:
    names = file_names(dict.fromkeys(s.boat for s in entries))
    texts = {}
    for boat, name in names.items():
        lines = []
        for stored in entries:
            if stored.boat == boat:
                case = {"of_case": stored.case} if stored.case is not None else {}
                lines.append({"id": stored.id, **case, **plain(stored.entry)})
        texts[f"{name}.yaml"] = dump({"schema": 1, "boat": boat, "entries": lines})
    return texts


def _as_csv(entries: Sequence[Stored]) -> dict[str, str]:
    rows: dict[str, list[dict[str, str]]] = {}
    for stored in entries:
        data = plain(stored.entry)
        kind = str(data.pop("kind"))
        cells: dict[str, Any] = {"id": stored.id, "boat": stored.boat}
        if stored.case is not None:
            cells["of_case"] = stored.case
        for key, value in data.items():
            if key in _OPENED_UP and isinstance(value, dict) and value:
                cells.update((f"{key}.{inner}", v) for inner, v in value.items())
            else:
                cells[key] = value
        rows.setdefault(kind, []).append({key: _cell(value) for key, value in cells.items()})
    return {f"{kind}.csv": _table(kept) for kind, kept in rows.items()}


def _table(rows: Sequence[dict[str, str]]) -> str:
    columns = [*_HEAD, *sorted({key for row in rows for key in row} - set(_HEAD))]
    out = io.StringIO()
    writer = csv.DictWriter(out, columns, restval="", lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def _cell(value: Any) -> str:
    """A value as a cell: text as it stands where nothing can take it for anything else, all the rest as JSON."""
    if isinstance(value, str) and value.isprintable() and value.strip() == value and not _is_json(value) and value[:1] not in "=+-@":
        return value
    written = json.dumps(value, ensure_ascii=False, separators=(", ", ": "))
    return written if written.isprintable() else json.dumps(value, ensure_ascii=True, separators=(", ", ": "))


def _is_json(cell: str) -> bool:
    return cell[:1] in '{["' or cell in ("true", "false", "null", "") or bool(_NUMBER.match(cell))


# ------------------------------------------------------------------ in


def read(paths: Sequence[Path]) -> tuple[Line, ...]:
    """The entries of exported files: YAML files, CSV files, or folders of them. CSV files given together belong together.

    Raises:
        InputError: a file cannot be read, or an entry does not fit, with its place.
    """
    files: list[Path] = []
    for path in paths:
        files += sorted(p for p in path.iterdir() if p.suffix in (".yaml", ".csv")) if path.is_dir() else [path]
    if not files:
        raise InputError("holds no exported files", where=", ".join(map(str, paths)), right="files ending in .yaml or .csv")
    lines: list[Line] = []
    for path in files:
        lines += _read_csv(path) if path.suffix == ".csv" else _read_yaml(path)
    numbers = Counter((line.file, line.id) for line in lines)
    twice = next((line for line in lines if numbers[line.file, line.id] > 1), None)
    if twice is not None:
        raise InputError(f"id {twice.id} is given twice", where=twice.where, right="each number once in the files of one export")
    alone = len({line.id for line in lines}) == len(lines)  # the files of one export: in the order in which all was said
    return tuple(sorted(lines, key=lambda line: ("" if alone else line.file, line.id)))


def _read_yaml(path: Path) -> Iterator[Line]:
    document = parse(read_text(path, MOST_BYTES), str(path))
    data = document.data
    if not isinstance(data, dict) or not isinstance(data.get("boat"), str) or not isinstance(data.get("entries"), list):
        raise InputError("is no exported record", where=str(path), right="schema, boat and entries")
    if data.get("schema") != 1:
        raise InputError(f"schema {data.get('schema')} is not known", where=document.where(("schema",)), right="1")
    for i, given in enumerate(data["entries"]):
        where = document.where(("entries", i))
        if not isinstance(given, dict):
            raise InputError("is no entry", where=where, right="a map with id, kind and at")
        fields = dict(given)
        number, case = fields.pop("id", None), fields.pop("of_case", None)
        yield _line(number, data["boat"], case, fields, str(path), where)


def _read_csv(path: Path) -> Iterator[Line]:
    kind = path.stem
    if kind not in KINDS:
        raise InputError(f"'{kind}' is no kind of entry", where=str(path), right=did_you_mean(kind, list(KINDS)))
    text = read_text(path, MOST_BYTES)
    for number, row in _table_rows(text, str(path)):
        where = f"{path}, row {number}"
        fields: dict[str, Any] = {"kind": kind}
        for key, cell in row.items():
            if cell == "" or cell is None:
                continue
            value = _value(cell, f"{where}, {key}")
            _put(fields, str(key), value, where)
        boat = fields.pop("boat", None)
        if not isinstance(boat, str):
            raise InputError("has no boat", where=where, right="her name in the column 'boat'")
        yield _line(fields.pop("id", None), boat, fields.pop("of_case", None), fields, "", where)


def _put(fields: dict[str, Any], key: str, value: Any, where: str) -> None:
    """Give a field its value; one of several columns, such as `trip.engine_hours`, a part of its value.

    Raises:
        InputError: the field has a column of its own and columns for its parts, and both are filled.
    """
    outer, dot, inner = key.partition(".")
    kept = fields.setdefault(outer, {}) if dot else fields
    if not isinstance(kept, dict) or (inner if dot else outer) in kept:
        raise InputError(f"'{outer}' is given twice, whole and in parts", where=where, right=f"the column '{outer}' or those of its parts")
    kept[inner if dot else outer] = value


def _table_rows(text: str, name: str) -> list[tuple[int, dict[str | None, Any]]]:
    most = csv.field_size_limit(sys.maxsize)  # a result is longer than the module expects a cell to be
    try:
        table = csv.DictReader(io.StringIO(text, newline=""), strict=True)
        names = Counter(table.fieldnames or ())
        rows = list(enumerate(table, start=1))
    except csv.Error as error:
        raise InputError(f"is not a table: {error}", where=name, right="commas between cells, quotes round those that hold one") from None
    finally:
        csv.field_size_limit(most)
    twice = next((column for column, count in names.items() if count > 1), None)
    if twice is not None:
        raise InputError(f"has two columns '{twice}'", where=name, right="each name once in the head")
    for number, row in rows:
        if None in row:
            raise InputError("has more cells than the head has names", where=f"{name}, row {number}")
    return rows


def _value(cell: str, where: str) -> Any:
    if not _is_json(cell):
        return cell
    try:
        return json.loads(cell)
    except (ValueError, RecursionError):
        raise InputError("is neither text nor JSON", where=where, right="text that begins with a letter, or JSON") from None


def _line(number: Any, boat: str, case: Any, fields: dict[str, Any], file: str, where: str) -> Line:
    if not isinstance(number, int) or isinstance(number, bool) or number < 1:
        raise InputError("has no id", where=where, right="its number, 1 or more")
    if case is not None and not isinstance(case, str):
        raise InputError("of_case is not the id of a case", where=where)
    if "at" not in fields:
        raise InputError("does not say when", where=where, right="at: its moment, with the zone")
    return Line(number, boat, case, from_plain(fields, where), file, where)


def import_into(record: Record, lines: Sequence[Line]) -> Imported:
    """Add what the record does not hold yet; all of it, or nothing if anything does not fit.

    An entry is known if one of the same boat and case says the same at the same moment.

    Raises:
        InputError: an entry refers to one that is not in the files.
        RecordError: the record cannot be read or written.
    """
    there = _Contents()
    files: dict[str, _File] = {}
    added = known = 0
    with record.writing():
        for stored in record.entries():  # asked here, where nobody else can add to it meanwhile
            there.take(Line(stored.id, stored.boat, stored.case, stored.entry), stored.id, stored.case)
        for line in lines:
            file = files.setdefault(line.file, _File())
            key = file.contents.key(line)
            place = file.contents.count(key)
            file.contents.take(line, line.id, line.case)
            if place < there.count(key):
                number, case = there.found[key][place]
                known += 1
            else:
                stored = _added(record, line, file)
                number, case = stored.id, stored.case
                there.take(Line(number, stored.boat, case, stored.entry), number, case)
                added += 1
            file.numbers[line.id] = number
            if isinstance(line.entry, CaseOpened) and line.case is not None and case is not None:
                file.cases[line.case] = case
    return Imported(added, known, {old: new for file in files.values() for old, new in file.cases.items() if old != new})


def _added(record: Record, line: Line, file: _File) -> Stored:
    entry = line.entry
    if isinstance(entry, TakenBack):
        if entry.entry not in file.numbers:
            raise InputError(f"takes back entry {entry.entry}, which does not stand before it", where=line.where)
        entry = entry.model_copy(update={"entry": file.numbers[entry.entry]})
    if isinstance(entry, CaseOpened):
        return record.append(entry, boat=line.boat, as_case=line.case)
    if line.case is not None and line.case not in file.cases:
        raise InputError(f"belongs to case '{line.case}', which is not opened before it", where=line.where)
    return record.append(entry, boat=line.boat, case=None if line.case is None else file.cases[line.case])


class _Contents:
    """What entries say, apart from their numbers and the ids of their cases, and where each stands."""

    def __init__(self) -> None:
        self.found: dict[str, list[tuple[int, str | None]]] = {}
        self._of: dict[int, str] = {}
        self._opened: dict[str, str] = {}

    def count(self, key: str) -> int:
        """How many say this."""
        return len(self.found.get(key, ()))

    def key(self, line: Line) -> str:
        """SHA-256 of the boat, of what opened the case, and of the entry; what it takes back is told by its own."""
        body = as_json(line.entry)
        if isinstance(line.entry, TakenBack):
            body = as_json(line.entry.model_copy(update={"entry": 1})) + self._of.get(line.entry.entry, "")
        opened = "" if line.case is None or isinstance(line.entry, CaseOpened) else self._opened.get(line.case, line.case)
        boat = " ".join(line.boat.split()).casefold()
        return hashlib.sha256(json.dumps([boat, opened, body], ensure_ascii=True).encode()).hexdigest()

    def take(self, line: Line, number: int, case: str | None) -> None:
        """Remember a line, and where it stands."""
        key = self.key(line)
        self.found.setdefault(key, []).append((number, case))
        self._of[line.id] = key
        if isinstance(line.entry, CaseOpened) and line.case is not None:
            self._opened[line.case] = key


@dataclass
class _File:
    """A file being imported: what it said so far, and where its entries and cases came to lie."""

    contents: _Contents = field(default_factory=_Contents)
    numbers: dict[int, int] = field(default_factory=dict)
    cases: dict[str, str] = field(default_factory=dict)
