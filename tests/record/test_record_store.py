"""The log: what is appended is there, in order, as it was; nothing is overwritten; what is taken back is marked."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import logkit as kit
import pytest

from diagnose.errors import InputError
from diagnose.record import entries as e
from diagnose.record.schema import TABLES
from diagnose.record.store import Record, case_id, default_path
from diagnose.record.trouble import RecordError


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    """An empty record."""
    with Record.open(tmp_path / "record.sqlite3") as made:
        yield made


def test_every_kind_has_a_sample() -> None:
    """The entries these tests are made of cover every kind there is."""
    kinds = {entry.kind for entry in kit.of_every_kind()}  # type: ignore[attr-defined]
    assert kinds | {"case-opened", "taken-back"} == set(e.KINDS)


@pytest.mark.parametrize("what", kit.HOSTILE)
def test_what_was_said_is_there_as_it_was_said(what: str, tmp_path: Path) -> None:
    """An entry of every kind with any text in it comes back equal from the closed and opened file, at the moment it was made."""
    text = kit.HOSTILE[what]
    with Record.open(tmp_path / "r.sqlite3") as record:
        case = kit.filled(record, text)
    with Record.open(tmp_path / "r.sqlite3", create=False) as record:
        back = record.entries()
        assert [s.entry for s in back[1:-4]] == kit.of_every_kind(text)
        assert {s.entry.at.utcoffset() for s in back} == {timedelta(0)}
        assert [s.case for s in back] == [case] * (len(back) - 1) + [None]
        assert record.verify() == len(back)


def test_moments_are_kept_in_universal_time(record: Record) -> None:
    """A moment on the clock of another zone is the same moment, and one without a zone is refused."""
    there = datetime(2026, 5, 3, 19, 30, tzinfo=timezone(timedelta(hours=2)))
    assert record.append(e.Note(at=there, text="x"), boat="A").entry.at == kit.START
    with pytest.raises(ValueError, match="timezone"):
        e.Note(at=datetime(2026, 5, 3), text="x")


def test_taken_back_and_taken_back_again(record: Record) -> None:
    """An entry taken back is marked and stays; when the taking back is itself taken back, it counts again."""
    one = record.append(e.Note(text="one"), boat="A")
    undo = record.append(e.TakenBack(entry=one.id), boat="A")
    assert [s.taken_back for s in record.entries()] == [True, False]
    redo = record.append(e.TakenBack(entry=undo.id), boat="A")
    assert [s.taken_back for s in record.entries()] == [False, True, False]
    record.append(e.TakenBack(entry=redo.id), boat="A")
    assert [s.taken_back for s in record.entries()] == [True, False, True, False]


def test_only_what_is_there_can_be_taken_back(record: Record) -> None:
    """Nothing of another boat or case, nothing that is not there, and no opening of a case can be taken back."""
    note = record.append(e.Note(text="one"), boat="A")
    case = record.append(kit.opened(), boat="A")
    for entry, boat, of in ((99, "A", None), (note.id, "B", None), (note.id, "A", case.case), (case.id, "A", case.case)):
        with pytest.raises(RecordError, match=r"taken? back"):
            record.append(e.TakenBack(entry=entry), boat=boat, case=of)
    assert len(record.entries()) == 2


def test_rows_cannot_be_changed_or_removed(record: Record) -> None:
    """The file itself refuses to change or remove a row."""
    record.append(e.Note(text="one"), boat="A")
    for statement in ("UPDATE log SET body = ''", "DELETE FROM log"):
        with pytest.raises(sqlite3.IntegrityError, match="not overwritten"):
            record.database.execute(statement)


def test_an_entry_is_on_the_disk_before_append_returns(record: Record) -> None:
    """Writing waits for the disk: full synchronisation on a write-ahead log, with the stronger flush where there is one."""
    asked = {p: record.database.execute(f"PRAGMA {p}").fetchone()[0] for p in ("journal_mode", "synchronous", "fullfsync")}
    assert asked == {"journal_mode": "wal", "synchronous": 2, "fullfsync": 1}
    record.append(e.Note(text="one"), boat="A")
    assert not record.database.in_transaction


def test_several_entries_are_written_together_or_not_at_all(record: Record) -> None:
    """When one of several does not fit, none is written, and what is appended next takes its place."""
    with pytest.raises(RecordError, match="needs a case"):
        record.append_all([e.Note(text="one"), kit.seen()], boat="New")
    assert (record.entries(), record.boats()) == ((), ())
    assert record.append(e.Note(text="two"), boat="Other").id == 1
    record.verify()


def test_a_boat_is_one_boat_however_she_is_spelt(record: Record) -> None:
    """Capitals and spaces make no other boat; she keeps the name she was first given."""
    for name in ("Sable Wren", "sable  wren", " SABLE WREN "):
        record.append(e.Note(text="x"), boat=name)
    assert record.boats() == ("Sable Wren",)
    assert len(record.entries(boat="sable wren")) == 3
    assert record.boat_named("SABLE WREN") == "Sable Wren"
    with pytest.raises(RecordError, match="Sable Wren") as caught:
        record.boat_named("Sabel Wren")
    assert caught.value.right == "Sable Wren"


def test_an_entry_that_names_another_boat_is_refused(record: Record) -> None:
    """Facts of one boat are not filed under another."""
    with pytest.raises(RecordError, match="does not belong"):
        record.append(e.BoatEntry(name="A"), boat="B")


def test_entries_are_chosen_by_boat_case_and_kind(record: Record) -> None:
    """Choosing leaves out the rest and keeps the order; a kind that there is not is an error, not an empty answer."""
    one = kit.filled(record, boat="A")
    two = kit.filled(record, boat="B")
    assert {s.boat for s in record.entries(boat="B")} == {"B"}
    assert {s.case for s in record.entries(case=one)} == {one}
    assert [s.entry.kind for s in record.entries(boat="A", kinds=("found", "hours"))] == ["hours", "found", "found"]
    assert {s.case for s in record.entries(kinds=("found",))} == {one, two}
    with pytest.raises(ValueError, match="fuond"):
        record.entries(kinds=("fuond",))


@pytest.mark.parametrize(
    ("title", "number", "made"),
    [("Brown crust under the front pump, belt side", 7, "brown-crust-under-the-front-7"), ("Été: ça  goutte!", 1, "ete-ca-goutte-1"),
     ("鴎", 3, "case-3"), ("[/b]\x1b", 2, "b-2"), ("x" * 200, 4, "x" * 20 + "-4")],
)
def test_a_case_gets_a_short_id(title: str, number: int, made: str) -> None:
    """The id is made of small plain letters whatever the title, and ends in the number of the case."""
    assert case_id(title, number) == made


def test_cases_are_listed_found_and_told_closed(record: Record) -> None:
    """Two cases of one title have two ids; each is found by id, by number and by how it begins; closing and reopening show."""
    first, second = (str(record.append(kit.opened("Drip", m), boat="A").case) for m in (0, 1))
    third = str(record.append(kit.opened("Rumble", 2), boat="B").case)
    assert (first, second, third) == ("drip-1", "drip-2", "rumble-3")
    assert [record.case_named(n).id for n in ("drip-2", "3", "rum")] == [second, third, third]
    with pytest.raises(RecordError, match="any of several"):
        record.case_named("drip")
    with pytest.raises(RecordError, match="no case 'rumbel'"):
        record.case_named("rumbel")
    closed = record.append(e.Closed(at=kit.at(3), how="mended"), boat="A", case=first)
    assert [h.closed for h in record.cases()] == [True, False, False]
    record.append(e.TakenBack(entry=closed.id), boat="A", case=first)
    assert [h.closed for h in record.cases("A")] == [False, False]
    record.append_all([e.Closed(at=kit.at(4), how="x"), e.Reopened(at=kit.at(5))], boat="A", case=first)
    assert not record.case_named(first).closed


def test_a_case_belongs_to_one_boat(record: Record) -> None:
    """An entry for a case that another boat has, or nobody, is refused."""
    case = str(record.append(kit.opened(), boat="A").case)
    for boat, name in (("B", case), ("A", "ghost-9")):
        with pytest.raises(RecordError, match="has no case"):
            record.append(kit.seen(), boat=boat, case=name)
    with pytest.raises(RecordError, match="cannot open inside"):
        record.append(kit.opened(), boat="A", case=case)


def test_two_open_records_see_each_others_entries(tmp_path: Path) -> None:
    """What one program appends the other reads at once, and their entries make one chain."""
    with Record.open(tmp_path / "r.sqlite3") as one, Record.open(tmp_path / "r.sqlite3") as two:
        for i in range(3):
            one.append(e.Note(text=f"one {i}"), boat="A")
            two.append(e.Note(text=f"two {i}"), boat="a")
        assert [s.entry.text for s in one.entries()] == [f"{w} {i}" for i in range(3) for w in ("one", "two")]  # type: ignore[union-attr]
        assert one.verify() == two.verify() == 6


def test_nothing_can_be_said_that_cannot_be_kept() -> None:
    """Half a surrogate, an hour that is no number, a sum without a currency and a finding of nothing are refused with the field."""
    for data, part in (
        ({"kind": "note", "text": "\udc80"}, "text"),
        ({"kind": "note", "text": "   "}, "text"),
        ({"kind": "hours", "engine_hours": float("nan")}, "engine_hours"),
        ({"kind": "hours", "engine_hours": -1}, "engine_hours"),
        ({"kind": "service", "part": "x", "hours": 1, "cost": "a lot"}, "cost"),
        ({"kind": "service", "part": "x"}, "hours or on"),
        ({"kind": "found"}, "say faults"),
        ({"kind": "found", "faults": ("a-b",), "nothing_wrong": True}, "say faults"),
        ({"kind": "passed-over", "why": "later"}, "exactly one"),
        ({"kind": "note", "text": "x", "colour": "y"}, "colour"),
        ({"kind": "assessed", **kit.assessed().model_dump(exclude={"kind", "sha256"}), "sha256": "0" * 64}, "sha256"),
        *(({"kind": "assessed", **kit.assessed().model_dump(exclude={"kind", "sha256", "result"}), "result": result,
            "sha256": e.digest(result)}, "no assessment")
          for result in ("x", "[]", "{}", kit.judgement().replace("0.8", '"much"'), kit.judgement().replace("holds", "held"))),
    ):
        with pytest.raises(InputError, match=part):
            e.from_plain(data, "a file")
    with pytest.raises(InputError, match="no kind of entry") as caught:
        e.from_plain({"kind": "note-"})
    assert caught.value.right == "note"


def test_where_the_record_lies(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """DIAGNOSE_RECORD says where it lies; without it, it is a file of the user's data folder."""
    monkeypatch.setenv("DIAGNOSE_RECORD", str(tmp_path / "mine.sqlite3"))
    with Record.open() as record:
        assert record.path == tmp_path / "mine.sqlite3"
    monkeypatch.delenv("DIAGNOSE_RECORD")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    assert default_path().name == "record.sqlite3"


def test_what_cannot_be_opened_is_said(tmp_path: Path) -> None:
    """No file, a folder, an empty file, text, another database and a folder that is a file each get their own sentence."""
    other = tmp_path / "other.sqlite3"
    sqlite3.connect(other).execute("CREATE TABLE t (x)").connection.close()
    (tmp_path / "text.sqlite3").write_text("dear diary, " * 1000, encoding="utf-8")
    (tmp_path / "empty.sqlite3").touch()
    for name, create, part in (("ghost.sqlite3", False, "there is no record"), ("", True, "is a folder"),
                               ("empty.sqlite3", False, "is empty"),
                               ("text.sqlite3", True, "is damaged, or is no record"), ("other.sqlite3", True, "no record of this program"),
                               ("text.sqlite3/r.sqlite3", True, "exists|not a directory")):
        with pytest.raises(RecordError, match=part) as caught:
            Record.open(tmp_path / name, create=create)
        assert str(tmp_path) in str(caught.value)
    assert other.read_bytes()[:6] == b"SQLite"


def test_a_name_that_is_not_plain(tmp_path: Path) -> None:
    """A record in a folder with spaces, quotes, question marks and other letters is opened, for writing and for reading."""
    path = tmp_path / "a b?c#d%20 '\"鴎" / "r [x].sqlite3"
    with Record.open(path) as record:
        record.append(e.Note(text="x"), boat="A")
    with Record.open(path, read_only=True) as record:
        assert record.verify() == 1
    assert path.is_file()


def test_a_reader_writes_nothing(tmp_path: Path) -> None:
    """A record opened for reading refuses to append and to hold a case, and leaves the file and its folder as they were."""
    path = tmp_path / "r.sqlite3"
    with Record.open(path) as record:
        case = str(record.append(kit.opened(), boat="A").case)
    before = path.read_bytes()
    with Record.open(path, read_only=True) as record:
        assert record.case_named(case).title == "Brown crust"
        with pytest.raises(RecordError, match="reading only"):
            record.append(e.Note(text="x"), boat="A")
        with pytest.raises(RecordError, match="reading only"), record.hold_case(case):
            raise AssertionError("held")
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]


def test_the_form_is_that_of_the_file(record: Record) -> None:
    """The statements that make a record are the ones its file holds, so that verifying can compare them."""
    held = [row[0] for row in record.database.execute("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL")]
    assert sorted(held) == sorted(TABLES)


def test_cases_and_entries_are_read_at_one_moment(record: Record, monkeypatch: pytest.MonkeyPatch) -> None:
    """A case that another program opens, and an entry that it adds, while the cases are read are not there yet."""
    case = record.append(kit.opened(), boat="A").case
    rows = record._rows
    with Record.open(record.path) as other:

        def slow(query: str, values: Any = ()) -> list[Any]:
            found = rows(query, values)
            other.append(kit.opened("another"), boat="A")
            return found

        monkeypatch.setattr(record, "_rows", slow)
        assert [(head.id, head.entries) for head in record.cases()] == [(case, 1)]
        before = len(other.entries())
        assert len(record.entries()) == before
        monkeypatch.undo()
        assert len(record.cases()) == len(other.entries()) > before
    record.append(e.Note(text="on"), boat="A")


def test_a_record_that_never_stands_still_is_not_copied(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the file changes at every look, no copy is passed off as one of a moment: that is said."""
    from itertools import count

    from diagnose.record import schema

    path = tmp_path / "r.sqlite3"
    Record.open(path).close()
    tick = count()
    monkeypatch.setattr(schema, "_state", lambda _: (next(tick), 0))
    monkeypatch.setattr("time.sleep", lambda _: None)
    with pytest.raises(RecordError, match="another program writes to it without a pause"):
        schema.copied_whole(path)
    assert not list(tmp_path.glob(".*"))


def test_a_disk_without_a_log_of_changes_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the file cannot be switched to a log of changes beside it, nothing is said to be safe: the record is not opened."""
    monkeypatch.setattr(sqlite3, "connect", _without_wal(sqlite3.connect))
    with pytest.raises(RecordError, match="cannot be written safely on this disk"):
        Record.open(tmp_path / "r.sqlite3")


def _without_wal(connect: Any) -> Any:
    """Connections as on a disk where memory cannot be shared: the switch is answered with the mode that stays (SQLite, PRAGMA
    journal_mode: 'If the journal mode could not be changed, the original journal mode is returned')."""

    class Connection(sqlite3.Connection):
        def execute(self, sql: str, *values: Any) -> sqlite3.Cursor:
            return super().execute("PRAGMA journal_mode" if sql == "PRAGMA journal_mode = WAL" else sql, *values)

    return lambda *arguments, **how: connect(*arguments, **how, factory=Connection)


def test_what_the_chain_cannot_find_is_not_promised(record: Record) -> None:
    """Rows taken off the end leave a whole chain: the module says so, and the count of a backup tells."""
    from diagnose.record import store

    for text in ("one", "two", "three"):
        record.append(e.Note(text=text), boat="A")
    record.database.execute("DROP TRIGGER log_stays")
    record.database.execute("DELETE FROM log WHERE id = 3")
    with Record.open(record.path) as again:
        assert len(again.entries()) == 2
    assert "rows taken off the\nend" in str(store.__doc__)
