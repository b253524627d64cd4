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
    """A record of the first form, as the first version of this program wrote it: boat, case, kind and body of each row.

    Written out here by hand and not taken from the program, which no longer knows how to make one.
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
