"""Older forms of the file are brought up to the present one, newer ones are refused, and neither loses a word."""

from __future__ import annotations

import hashlib
import sqlite3
from pathlib import Path

import logkit as kit
import pytest

from diagnose.record import entries as e
from diagnose.record import schema
from diagnose.record.store import Record
from diagnose.record.trouble import RecordError


def first_form(path: Path, bodies: list[tuple[str, str | None, str, str]]) -> Path:
    """A record of form 1: boat, case, kind and body of each row.

    The form was drawn up before any release. No program in the history of this project wrote it, and no file of it was kept,
    so this one is made by hand to the description in `schema`: it shows that such a file would be read, and not that there was one.
    """
    database = sqlite3.connect(path)
    database.execute("CREATE TABLE log (id INTEGER PRIMARY KEY, boat TEXT NOT NULL, case_id TEXT, kind TEXT NOT NULL, body TEXT NOT NULL, "
                     "sha256 TEXT NOT NULL)")
    for number, (boat, case, kind, body) in enumerate(bodies, start=1):
        sha = hashlib.sha256(body.encode()).hexdigest()
        database.execute("INSERT INTO log VALUES (?, ?, ?, ?, ?, ?)", (number, boat, case, kind, body, sha))
    database.execute("PRAGMA application_id = 1684500083")
    database.execute("PRAGMA user_version = 1")
    database.commit()
    database.close()
    return path


OLD = [
    ("Brindle", None, "boat", '{"arrangement":{"cooling":"sealed"},"at":"2026-05-03T17:30:00+00:00","kind":"boat","name":"Brindle"}'),
    ("Brindle", "crust-1", "case-opened",
     '{"at":"2026-05-03T17:31:00+00:00","kind":"case-opened","opened_because":"routine-look","title":"Crust"}'),
    ("Brindle", "crust-1", "observed",
     '{"at":"2026-05-03T17:32:00+00:00","kind":"observed","observation":{"grade":"drip","note":"b\\u001b[31mrown","symptom":"pump-weep"}}'),
    ("Brindle", "crust-1", "taken-back", '{"at":"2026-05-03T17:33:00+00:00","entry":3,"kind":"taken-back"}'),
]


def test_the_first_form_is_brought_up(tmp_path: Path) -> None:
    """All rows of a record of the first form are there, chained and sound, and it can be added to; the old file is kept beside it."""
    path = first_form(tmp_path / "r.sqlite3", OLD)
    with Record.open(path) as record:
        assert record.verify() == 4
        back = record.entries()
        assert [(s.boat, s.case, s.entry.kind, s.taken_back) for s in back] == [
            ("Brindle", None, "boat", False), ("Brindle", "crust-1", "case-opened", False), ("Brindle", "crust-1", "observed", True),
            ("Brindle", "crust-1", "taken-back", False)]
        assert isinstance(back[2].entry, e.Observed)
        assert back[2].entry.observation.note == "b\x1b[31mrown"
        record.append(kit.seen(), boat="Brindle", case="crust-1")
        with record.hold_case("crust-1") as holding:
            assert holding.taken_over is None
    with Record.open(path) as record:
        assert record.verify() == 5
    aside = sqlite3.connect(tmp_path / "r.sqlite3.form-1")
    assert aside.execute("SELECT count(*), min(sha256) IS NOT NULL FROM log").fetchone() == (4, 1)
    aside.close()


def test_the_first_form_is_read_without_being_changed(tmp_path: Path) -> None:
    """Opened for reading, a record of the first form is understood and left as it was."""
    path = first_form(tmp_path / "r.sqlite3", OLD)
    before = path.read_bytes()
    with Record.open(path, read_only=True) as record:
        assert record.verify() == 4
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]


def test_a_damaged_first_form_is_not_brought_up(tmp_path: Path) -> None:
    """Where a row of the first form is not what was written, it is named and the file is left in its own form."""
    path = first_form(tmp_path / "r.sqlite3", OLD)
    database = sqlite3.connect(path)
    database.execute("UPDATE log SET body = replace(body, 'drip', 'none') WHERE id = 3")
    database.commit()
    database.close()
    with pytest.raises(RecordError, match="entry 3 is damaged") as caught:
        Record.open(path)
    assert caught.value.sound_until == 2
    database = sqlite3.connect(path)
    assert database.execute("PRAGMA user_version").fetchone() == (1,)
    assert database.execute("SELECT count(*) FROM log").fetchone() == (4,)
    database.close()


@pytest.mark.parametrize("read_only", [True, False])
def test_a_newer_form_is_refused(read_only: bool, tmp_path: Path) -> None:
    """A record of a newer program is refused by both its form and ours, and is not touched."""
    path = tmp_path / "r.sqlite3"
    with Record.open(path) as record:
        record.append(e.Note(text="x"), boat="A")
        record.database.execute(f"PRAGMA user_version = {schema.VERSION + 1}")
    before = path.read_bytes()
    with pytest.raises(RecordError, match=rf"newer version of this program \(form {schema.VERSION + 1}; this one reads up to "):
        Record.open(path, read_only=read_only)
    assert path.read_bytes() == before


def test_an_entry_of_a_later_program_is_not_taken_for_damage(tmp_path: Path) -> None:
    """A sound row that says something this version does not know is told apart from a damaged one."""
    path = tmp_path / "r.sqlite3"
    with Record.open(path) as record:
        body = '{"at":"2026-05-03T17:30:00+00:00","kind":"dream","text":"x"}'
        made = schema.chained(schema.START, 1, "A", None, "dream", body)
        record.database.execute(schema.ADD, (1, "A", None, "dream", made, body))
        with pytest.raises(RecordError, match="entry 1 says something that this version does not understand"):
            record.entries()
        assert record.verify() == 1


def test_an_empty_file_is_not_taken_for_the_copy_of_the_older_form(tmp_path: Path) -> None:
    """Where a file of the copy's name is there already, the copy is written whole beside it, and nothing half-made is left."""
    path = first_form(tmp_path / "r.sqlite3", OLD)
    (tmp_path / "r.sqlite3.form-1").touch()
    Record.open(path).close()
    aside = sqlite3.connect(tmp_path / "r.sqlite3.form-1-2")
    assert aside.execute("PRAGMA user_version").fetchone() == (1,)
    assert aside.execute("SELECT count(*) FROM log").fetchone() == (4,)
    aside.close()
    assert not list(tmp_path.glob(".*"))


# ------------------------------------------------------------------ the form as it stands

KEPT = Path(__file__).parent / "golden" / "form-2.sqlite3"
"""A record of five entries as it was written on the day the form was settled. An invented boat."""


def test_the_chain_is_the_one_that_is_described() -> None:
    """Each hash of a kept record is SHA-256 (FIPS 180-4) of the JSON text (RFC 8259) of an array, worked out here without the
    program: the hash before it, number, boat, case, kind and body, no spaces between, letters beyond ASCII as they are."""

    def quoted(text: str) -> str:
        short = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\r": "\\r", "\t": "\\t", "\b": "\\b", "\f": "\\f"}
        return '"' + "".join(short.get(c, f"\\u{ord(c):04x}" if c < " " else c) for c in text) + '"'

    database = sqlite3.connect(f"file:{KEPT}?mode=ro&immutable=1", uri=True)
    rows = database.execute("SELECT id, boat, case_id, kind, body, hash FROM log ORDER BY id").fetchall()
    database.close()
    assert [row[3] for row in rows] == ["boat", "case-opened", "observed", "taken-back", "closed"]
    before = "0" * 64
    for number, boat, case, kind, body, kept in rows:
        text = ",".join([quoted(before), str(number), quoted(boat), quoted(case) if case else "null", quoted(kind), quoted(body)])
        before = hashlib.sha256(f"[{text}]".encode()).hexdigest()
        assert kept == before
        assert schema.chained(*_link(rows, number)) == kept
    assert before == "5c54479df4083a147dbc217cb6130c32be68100abe92e971016f5b0a2894ca3a"


def _link(rows: list[tuple[int, str, str | None, str, str, str]], number: int) -> tuple[str, int, str, str | None, str, str]:
    """What a row of the kept record is chained from, with the hash before it as it stands in the file."""
    row = rows[number - 1]
    return rows[number - 2][5] if number > 1 else "0" * 64, row[0], row[1], row[2], row[3], row[4]


def test_a_kept_record_is_read_and_added_to(tmp_path: Path) -> None:
    """A record written once is whole, says what it said, and can be gone on with."""
    path = tmp_path / "r.sqlite3"
    path.write_bytes(KEPT.read_bytes())
    with Record.open(path) as record:
        assert record.verify() == 5
        boat, _, answer, _, closed = record.entries()
        assert isinstance(boat.entry, e.BoatEntry)
        assert boat.entry.note == "Möwe 鴎 😀 \"quoted\" \\ and\nbroken"
        assert isinstance(answer.entry, e.Observed)
        assert (answer.entry.observation.note, answer.taken_back) == ("b\x1b[31mrown \u2028 /", True)
        assert (record.cases()[0].closed, closed.entry.at) == (True, kit.at(3))
        record.append(e.Reopened(), boat="Brindle", case=closed.case)
        assert record.verify() == 6
