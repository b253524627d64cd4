"""The log on disk: one SQLite file that only grows. An entry is there when `append` has returned, whatever happens next.

Every row carries a SHA-256 over itself and the row before it, so that a row changed, put in, or taken out from between
others is found and named, and all that lies before it can still be read. Two things it does not find: rows taken off the
end, for what is left is a whole chain, and a chain made anew from some row on. The count and checksum of a backup tell both.
"""

from __future__ import annotations

import os
import re
import sqlite3
import unicodedata
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any

from diagnose.record import schema
from diagnose.record.entries import KINDS, OF_THE_BOAT, AnyEntry, BoatEntry, CaseOpened, Closed, Entry, TakenBack, as_json, from_json
from diagnose.record.holding import Held, held
from diagnose.record.trouble import FAILURES, RecordError, is_damage, translated

ENV = "DIAGNOSE_RECORD"
_CASE_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*-[0-9]{1,9}\Z")
_SLUG_WORDS = 5


@dataclass(frozen=True)
class Stored:
    """An entry as it lies in the record: its number, whose it is, and whether it was taken back later."""

    id: int
    boat: str
    case: str | None
    entry: AnyEntry
    taken_back: bool
    hash: str


@dataclass(frozen=True)
class CaseHead:
    """A case in one line; `ended` is how it was closed, `unproved` why it is not proved, where it was closed so."""

    id: str
    boat: str
    title: str
    opened: datetime
    closed: bool
    entries: int
    ended: str | None = None
    unproved: str | None = None


def default_path() -> Path:
    """Where the record lies if nothing else is said: DIAGNOSE_RECORD, or the user's data folder."""
    chosen = os.environ.get(ENV)
    if chosen:
        return Path(chosen)
    from platformdirs import user_data_path

    return user_data_path("diagnose") / "record.sqlite3"


class Record:
    """An open record. Made by `Record.open`; a context manager that closes it.

    `damage` is None, or, of a record opened by `Record.salvage`, where the sound part ends.
    """

    def __init__(self, path: Path, opened: schema.Opened, *, read_only: bool, damage: str | None = None) -> None:
        self.path, self.read_only, self.damage = path, read_only, damage
        self._opened, self._db = opened, opened.database
        self._verified = (0, schema.START)
        self._names: dict[str, str] = {}
        self._owners: dict[str, str] = {}

    @classmethod
    def open(cls, path: Path | None = None, *, create: bool = True, read_only: bool = False) -> Record:
        """Open a record, bringing an older form up to the present one.

        Args:
            path: the file; `default_path()` if left out.
            create: make it, and its folder, where there is none.
            read_only: never write to it. Where nothing can be written beside it, and of an older form, a copy is read.

        Raises:
            RecordError: there is none, it cannot be read or written, it is no record, it is damaged, or a newer
                program made it.
        """
        path = default_path() if path is None else Path(path)
        return cls(path, schema.connected(path, create=create and not read_only, read_only=read_only), read_only=read_only)

    @classmethod
    def salvage(cls, path: Path | None = None) -> Record:
        """What lies before the damage in a record, to be read and exported.

        Raises:
            RecordError: there is no file, or it cannot be read at all.
        """
        path = default_path() if path is None else Path(path)
        if not path.is_file():
            raise RecordError("there is no record here", where=str(path), right="--record with the file")
        memory, count = schema.salvaged(path)
        return cls(path, schema.Opened(memory), read_only=True, damage=f"read up to entry {count}")

    @property
    def database(self) -> sqlite3.Connection:
        """The connection, for copying."""
        return self._db

    def close(self) -> None:
        """Close the file. Nothing is written by it that was not already safe."""
        self._opened.close()

    def __enter__(self) -> Record:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()

    # -------------------------------------------------------------- writing

    def append(self, entry: Entry, *, boat: str, case: str | None = None, as_case: str | None = None) -> Stored:
        """Add one entry. When this returns, it is on the disk.

        Args:
            entry: what is said.
            boat: whose record it belongs to, by name; a new name is a new boat.
            case: the case it belongs to. A `case-opened` entry is given none, and its new case is in what is returned.
            as_case: the id wanted for a new case, if it is still free.

        Raises:
            RecordError: it could not be written, or does not fit what is there (no such case, nothing to take back).
        """
        with self.writing():
            return self._add(entry, boat, case, as_case)

    def append_all(self, entries: Sequence[Entry], *, boat: str, case: str | None = None) -> tuple[Stored, ...]:
        """Add several entries, all of them or none; those after a `case-opened` belong to the case it opens.

        Raises:
            RecordError: see `append`.
        """
        with self.writing():
            done: list[Stored] = []
            for entry in entries:
                done.append(self._add(entry, boat, case))
                case = done[-1].case
            return tuple(done)

    @contextmanager
    def writing(self) -> Iterator[None]:
        """A stretch in which everything appended is written together or not at all; may stand inside another.

        Raises:
            RecordError: it could not be written; then nothing was.
        """
        if self.read_only:
            raise RecordError("was opened for reading only", where=str(self.path))
        if self._db.in_transaction:
            yield
            return
        verified = self._verified
        try:
            self._db.execute("BEGIN IMMEDIATE")
            yield
            self._db.execute("COMMIT")
        except BaseException as error:
            self._verified = verified
            self._names.clear()
            self._owners.clear()
            self._give_up()
            if isinstance(error, FAILURES):
                raise translated(error, str(self.path)) from error
            raise

    def _give_up(self) -> None:
        """Undo a stretch of writing. Where the disk refuses even that, the next opening does it."""
        with suppress(sqlite3.Error):
            if self._db.in_transaction:
                self._db.execute("ROLLBACK")

    def _add(self, entry: Entry, boat: str, case: str | None, as_case: str | None = None) -> Stored:
        self._check()
        before, number = self._verified[1], self._verified[0] + 1
        boat, case = self._place(entry, boat, case, as_case)
        kind, body = str(entry.kind), as_json(entry)  # type: ignore[attr-defined]
        made = schema.chained(before, number, boat, case, kind, body)
        self._db.execute(schema.ADD, (number, boat, case, kind, made, body))
        self._verified = (number, made)
        return Stored(number, boat, case, from_json(body), False, made)

    def _place(self, entry: Entry, boat: str, case: str | None, as_case: str | None) -> tuple[str, str | None]:
        """The boat by its name as first written, and the case; a new one for a case that opens."""
        boat = self._spelt(boat)
        kind = str(entry.kind)  # type: ignore[attr-defined]
        if isinstance(entry, BoatEntry) and not same_name(entry.name, boat):
            raise RecordError(f"an entry that names '{entry.name}' does not belong to '{boat}'", where=str(self.path))
        if isinstance(entry, CaseOpened):
            if case is not None:
                raise RecordError(f"a case cannot open inside case '{case}'", where=str(self.path))
            return boat, self._new_case(entry.title, as_case)
        if isinstance(entry, TakenBack):
            self._can_be_taken_back(entry, boat, case)
        if case is None:
            if kind not in OF_THE_BOAT:
                raise RecordError(f"an entry of kind {kind} needs a case", where=str(self.path))
            return boat, None
        if case not in self._owners:
            self._owners.update(self._db.execute("SELECT case_id, boat FROM log WHERE kind = 'case-opened'").fetchall())
        if self._owners.get(case) != boat:
            raise RecordError(f"'{boat}' has no case '{case}'", where=str(self.path))
        return boat, case

    def _new_case(self, title: str, wanted: str | None) -> str:
        taken = {row[0] for row in self._db.execute("SELECT case_id FROM log WHERE kind = 'case-opened'")}
        if wanted is not None and wanted not in taken and _CASE_ID.match(wanted):
            return wanted
        numbers = [int(tail) for name in taken if (tail := name.rpartition("-")[2]).isdigit()]
        return case_id(title, max(numbers, default=0) + 1)

    def _can_be_taken_back(self, entry: TakenBack, boat: str, case: str | None) -> None:
        row = self._db.execute("SELECT boat, case_id, kind FROM log WHERE id = ?", (entry.entry,)).fetchone()
        if row is None or tuple(row[:2]) != (boat, case):
            raise RecordError(f"there is no entry {entry.entry} of {case or boat} to take back", where=str(self.path))
        if row[2] == "case-opened":
            raise RecordError("a case that was opened cannot be taken back", where=str(self.path), right="the case closed")

    # -------------------------------------------------------------- reading

    def entries(self, boat: str | None = None, case: str | None = None, kinds: Sequence[str] = ()) -> tuple[Stored, ...]:
        """Entries in the order they were added, those taken back marked.

        Args:
            boat: only hers.
            case: only of this case.
            kinds: only of these kinds.

        Raises:
            RecordError: the record is damaged; the first entry that is not what was written is named.
            ValueError: a kind that there is not.
        """
        if not set(kinds) <= set(KINDS):
            raise ValueError(f"no such kind: {', '.join(sorted(set(kinds) - set(KINDS)))}")
        wanted: list[str] = []
        values: list[str] = []
        if boat is not None:
            wanted.append("boat = ?")
            values.append(self._spelt(boat))
        if case is not None:
            wanted.append("case_id = ?")
            values.append(case)
        if kinds:
            wanted.append(f"kind IN ({', '.join('?' * len(kinds))})")
            values.extend(kinds)
        where = f" WHERE {' AND '.join(wanted)}" if wanted else ""
        with self._one_moment():
            self._check()
            struck, rows = self._struck(), self._rows(f"{schema.ROWS}{where} ORDER BY id", values)
        return tuple(Stored(row[0], row[1], row[2], self._read(row), row[0] in struck, row[4]) for row in rows)

    @contextmanager
    def _one_moment(self) -> Iterator[None]:
        """A stretch in which all that is read is as it was when the first was; what others write meanwhile is not seen."""
        if self._db.in_transaction:
            yield
            return
        try:
            self._db.execute("BEGIN")
            yield
        except FAILURES as error:
            raise translated(error, str(self.path)) from error
        finally:
            self._give_up()

    def _check(self) -> None:
        """See that all rows since the last look are what was written.

        Raises:
            RecordError: one is not.
        """
        number = self._verified[0]
        try:
            for row in schema.sound_rows(self._db, *self._verified):
                number = row[0]
                self._verified = (number, row[4])
        except schema.RowError:
            raise self._damaged(number) from None
        except FAILURES as error:
            raise self._damaged(number) if is_damage(error) else translated(error, str(self.path)) from error

    def _damaged(self, sound: int) -> RecordError:
        return RecordError(f"is damaged: entry {sound + 1} is not what was written", where=str(self.path), sound_until=sound,
                           right=f"a backup restored; what lies before it ({sound}) can be exported with --before-damage")

    def _read(self, row: schema.Row) -> AnyEntry:
        try:
            return from_json(row[5])
        except ValueError:
            raise RecordError(f"entry {row[0]} says something that this version does not understand", where=str(self.path),
                              right="the version of the program that wrote it") from None

    def _struck(self) -> frozenset[int]:
        """Numbers of the entries that are taken back. One that takes back counts only if it was not itself taken back."""
        struck: set[int] = set()
        for row in self._rows(f"{schema.ROWS} WHERE kind = 'taken-back' ORDER BY id DESC"):
            entry = self._read(row)
            if row[0] not in struck and isinstance(entry, TakenBack):
                struck.add(entry.entry)
        return frozenset(struck)

    def verify(self) -> int:
        """Go over the whole file anew: its pages, its form, and every row's place in the chain.

        Returns:
            How many entries there are.

        Raises:
            RecordError: what is damaged, and where the sound part ends.
        """
        self._verified = (0, schema.START)
        self._check()
        sound = self._verified[0]
        said = str(self._rows("PRAGMA integrity_check(1)")[0][0])
        form = {row[0] for row in self._rows("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL")}
        if said != "ok" or form != set(schema.TABLES):
            what = " ".join(said.split()) if said != "ok" else "its form is not that of a record"
            raise RecordError(f"is damaged: {what}", where=str(self.path), sound_until=sound,
                              right=f"a backup restored; its {sound} entries are sound and can be exported with --before-damage")
        return sound

    def boats(self) -> tuple[str, ...]:
        """Names of all boats, in the order they came in."""
        return tuple(row[0] for row in self._rows("SELECT boat FROM log GROUP BY boat ORDER BY min(id)"))

    def _spelt(self, boat: str) -> str:
        """The name as it was first written, or tidied if it is new."""
        key = _folded(boat)
        if key not in self._names:
            self._names.update((_folded(name), name) for name in reversed(self.boats()))
        return self._names.get(key, " ".join(boat.split()) or "unnamed")

    def boat_named(self, name: str) -> str:
        """The boat of that name as it is spelt here; capitals and spaces do not matter.

        Raises:
            RecordError: there is none, with the nearest.
        """
        known = self.boats()
        found = next((boat for boat in known if same_name(boat, name)), None)
        if found is None:
            from diagnose.knowledge.text import did_you_mean

            right = did_you_mean(name, list(known)) or ", ".join(known) or "'diagnose boat NAME --hours HOURS' first: it holds no boat yet"
            raise RecordError(f"no boat '{name}' is in the record", where=str(self.path), right=right)
        return found

    def cases(self, boat: str | None = None) -> tuple[CaseHead, ...]:
        """All cases, or those of one boat, in the order they were opened."""
        with self._one_moment():
            counts = dict(self._rows("SELECT case_id, count(*) FROM log WHERE case_id IS NOT NULL GROUP BY case_id"))
            told = self.entries(boat=boat, kinds=("case-opened", "closed", "reopened"))
        heads: dict[str, CaseHead] = {}
        for stored in sorted(told, key=lambda s: (s.entry.kind != "case-opened", s.entry.at, s.id)):
            entry, name = stored.entry, str(stored.case)
            if isinstance(entry, CaseOpened):
                heads[name] = CaseHead(name, stored.boat, entry.title, entry.at, False, counts[name])
            elif not stored.taken_back:
                ended, unproved = (entry.how, entry.unproved) if isinstance(entry, Closed) else (None, None)
                heads[name] = replace(heads[name], closed=isinstance(entry, Closed), ended=ended, unproved=unproved)
        return tuple(heads[str(s.case)] for s in told if s.entry.kind == "case-opened")

    def case_named(self, name: str, boat: str | None = None) -> CaseHead:
        """The case of that id, of that number, the only open one of the boat of that name, or the only one whose id begins so.

        Raises:
            RecordError: there is none, or there are several.
        """
        heads = self.cases(boat)
        exact = [h for h in heads if h.id == name or (name.isdigit() and h.id.rpartition("-")[2] == name)]
        hers = [h for h in heads if not h.closed and same_name(h.boat, name)]
        begins = exact or (hers if len(hers) == 1 else []) or [h for h in heads if name and h.id.startswith(name)] or hers
        if len(begins) != 1:
            from diagnose.knowledge.text import did_you_mean

            known = [h.id for h in begins or heads]
            what = f"'{name}' may be any of several cases" if begins else f"no case '{name}' is in the record"
            near = did_you_mean(name, known) if not begins else ""
            raise RecordError(what, where=str(self.path), right=near or ", ".join(known[-5:]) or "a case opened first")
        return begins[0]

    def _rows(self, query: str, values: Sequence[str] = ()) -> list[Any]:
        try:
            return self._db.execute(query, values).fetchall()
        except FAILURES as error:
            raise translated(error, str(self.path)) from error

    # -------------------------------------------------------------- holding a case

    @contextmanager
    def hold_case(self, case: str, *, take_over: bool = False) -> Iterator[Held]:
        """Keep a case to one session at a time. A holder that has died is taken over, and `Held.taken_over` says who it was.

        Raises:
            RecordError: another session holds it: who, where and since when.
        """
        if self.read_only:
            raise RecordError("was opened for reading only", where=str(self.path))
        with held(self._db, self.path, case, take_over=take_over) as holding:
            yield holding


def same_name(one: str, other: str) -> bool:
    """Whether two names of boats are the same but for capitals and spaces."""
    return _folded(one) == _folded(other)


def _folded(name: str) -> str:
    return " ".join(name.split()).casefold()


def case_id(title: str, number: int) -> str:
    """A short id made of a title and a number, such as `brown-crust-7`."""
    return f"{slug(title) or 'case'}-{number}"


def slug(text: str) -> str:
    """The first words of a text in small plain letters joined by hyphens; empty where it has no such letters."""
    letters = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    words = re.findall(r"[a-z0-9]+", letters.lower())[:_SLUG_WORDS]
    return "-".join(word[:20] for word in words)[:40].strip("-")
