"""A backup is one file, whole or refused; restoring it asks before anything gives way, and throws nothing away."""

from __future__ import annotations

import io
import json
import sqlite3
import zipfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import logkit as kit
import pytest

from diagnose.errors import InputError
from diagnose.record import entries as e
from diagnose.record.backup import back_up, check, restore
from diagnose.record.store import Record
from diagnose.record.trouble import RecordError


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A record with an entry of every kind."""
    with Record.open(tmp_path / "r.sqlite3") as record:
        kit.filled(record)
    return tmp_path / "r.sqlite3"


def said_in(path: Path) -> list[object]:
    """What a sound record says."""
    with Record.open(path, create=False) as record:
        record.verify()
        return list(kit.said(record.entries()))


def test_a_backup_brings_everything_back(path: Path, tmp_path: Path) -> None:
    """Restored elsewhere, the record says what it said, and can be added to."""
    made = back_up(path, tmp_path / "b.zip")
    assert [made] == [check(tmp_path / "b.zip")]
    assert made.entries == len(said_in(path))
    done = restore(tmp_path / "b.zip", tmp_path / "elsewhere" / "r.sqlite3")
    assert done.aside is None
    assert said_in(done.path) == said_in(path)
    with Record.open(done.path) as record:
        record.append(e.Note(text="on"), boat=kit.BOAT)


def test_a_backup_is_one_file_that_other_programs_open(path: Path, tmp_path: Path) -> None:
    """It is a plain ZIP file; its database opens alone, holds no session, and has the checksum that stands beside it."""
    import hashlib

    with Record.open(path) as record, record.hold_case(record.cases()[0].id):
        back_up(path, tmp_path / "b.zip")
    with zipfile.ZipFile(tmp_path / "b.zip") as packed:
        assert packed.testzip() is None
        data, about = packed.read("record.sqlite3"), json.loads(packed.read("about.json"))
    assert hashlib.sha256(data).hexdigest() == about["sha256"]
    (tmp_path / "alone.sqlite3").write_bytes(data)
    database = sqlite3.connect(tmp_path / "alone.sqlite3")
    assert database.execute("SELECT count(*) FROM log").fetchone() == (about["entries"],)
    assert database.execute("SELECT count(*) FROM hold").fetchone() == (0,)
    database.close()


def test_a_backup_is_made_while_somebody_writes(path: Path, tmp_path: Path) -> None:
    """What was appended before it began is in it, also what lies beside the file; the writer is not disturbed."""
    with Record.open(path) as record:
        last = record.append(e.Note(text="just now"), boat=kit.BOAT).id
        assert back_up(path, tmp_path / "b.zip").entries == last
        record.append(e.Note(text="and on"), boat=kit.BOAT)


def test_nothing_is_written_over_unasked(path: Path, tmp_path: Path) -> None:
    """A backup does not write over a file, and a restored record not over a record, unless that is said."""
    back_up(path, tmp_path / "b.zip")
    before = (tmp_path / "b.zip").read_bytes(), path.read_bytes()
    with pytest.raises(InputError, match="is there already"):
        back_up(path, tmp_path / "b.zip")
    with pytest.raises(InputError, match="a record lies here already") as caught:
        restore(tmp_path / "b.zip", path)
    assert "--replace" in caught.value.right
    assert before == ((tmp_path / "b.zip").read_bytes(), path.read_bytes())
    assert back_up(path, tmp_path / "b.zip", replace=True).entries == len(said_in(path))


def test_what_gives_way_is_kept_aside(path: Path, tmp_path: Path) -> None:
    """The record that was there is kept whole under another name, each time under a new one."""
    back_up(path, tmp_path / "b.zip")
    with Record.open(path) as record:
        record.append(e.Note(text="after the backup"), boat=kit.BOAT)
    after = said_in(path)
    first = restore(tmp_path / "b.zip", path, replace=True)
    assert said_in(path) == after[:-1]
    assert first.aside is not None
    assert said_in(first.aside) == after
    second = restore(tmp_path / "b.zip", path, replace=True)
    assert (first.aside.name, second.aside.name if second.aside else "") == ("r.sqlite3.before-1", "r.sqlite3.before-2")


def test_a_damaged_record_gives_way_too(path: Path, tmp_path: Path) -> None:
    """A backup takes the place of a record that cannot be opened any more, which is kept as it is."""
    back_up(path, tmp_path / "b.zip")
    path.write_bytes(b"\xff" * 5000)
    done = restore(tmp_path / "b.zip", path, replace=True)
    assert len(said_in(path)) == done.backup.entries
    assert done.aside is not None
    assert done.aside.read_bytes() == b"\xff" * 5000


def test_a_record_in_use_does_not_give_way(path: Path, tmp_path: Path) -> None:
    """While a session holds a case, or another program has the record open, it stays where it is."""
    back_up(path, tmp_path / "b.zip")
    with Record.open(path) as record:
        with record.hold_case(record.cases()[0].id), pytest.raises(RecordError, match="open in another session: process"):
            restore(tmp_path / "b.zip", path, replace=True)
        with pytest.raises(RecordError, match="another program has this record open"):
            restore(tmp_path / "b.zip", path, replace=True)
        record.append(e.Note(text="still here"), boat=kit.BOAT)
    assert [p.name for p in sorted(tmp_path.iterdir()) if not p.name.startswith(".")] == ["b.zip", "r.sqlite3"]


def repacked(change: Callable[[dict[str, bytes]], None]) -> Callable[[bytes], bytes]:
    """A backup whose parts were changed, packed again as a sound ZIP file."""

    def again(data: bytes) -> bytes:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            parts = {name: packed.read(name) for name in packed.namelist()}
        change(parts)
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w") as packed:
            for name, part in parts.items():
                packed.writestr(name, part)
        return out.getvalue()

    return again


def _other_record(parts: dict[str, bytes]) -> None:
    parts["record.sqlite3"] = parts["record.sqlite3"].replace(b"plain words", b"other words")


def _counted_wrong(parts: dict[str, bytes]) -> None:
    parts["about.json"] = parts["about.json"].replace(b'"entries": ', b'"entries": 9')


def _tampered(parts: dict[str, bytes]) -> None:
    import hashlib

    _other_record(parts)
    about = json.loads(parts["about.json"])
    parts["about.json"] = json.dumps({**about, "sha256": hashlib.sha256(parts["record.sqlite3"]).hexdigest()}).encode()


SPOILT: dict[str, tuple[Callable[[bytes], bytes], str]] = {
    "cut short": (lambda data: data[: len(data) // 2], "is no backup of a record, or is damaged"),
    "a byte turned": (lambda data: data[:3000] + bytes([data[3000] ^ 1]) + data[3001:], "damaged"),
    "no ZIP": (lambda _: b"hello", "is no backup"),
    "empty": (lambda _: b"", "is no backup"),
    "without the record": (repacked(lambda parts: parts.pop("record.sqlite3")), "is no backup"),  # type: ignore[arg-type,return-value]
    "without the note": (repacked(lambda parts: parts.pop("about.json")), "is no backup"),  # type: ignore[arg-type,return-value]
    "another record": (repacked(_other_record), "not the one its checksum was taken of"),
    "another count": (repacked(_counted_wrong), "does not hold as many entries"),
    "tampered with, its checksum too": (repacked(_tampered), r"entry \d+ is not what was written"),
}


@pytest.mark.parametrize("what", SPOILT)
def test_a_spoilt_backup_is_refused_before_anything_gives_way(what: str, path: Path, tmp_path: Path) -> None:
    """A backup that is not whole is named and not put in place, however it was spoilt, even where it may replace."""
    spoil, part = SPOILT[what]
    back_up(path, tmp_path / "b.zip")
    (tmp_path / "b.zip").write_bytes(spoil((tmp_path / "b.zip").read_bytes()))
    before = path.read_bytes()
    for refuse in (lambda: check(tmp_path / "b.zip"), lambda: restore(tmp_path / "b.zip", path, replace=True)):
        with pytest.raises(RecordError, match=part):
            refuse()
    assert path.read_bytes() == before
    assert len(list(tmp_path.iterdir())) == 2


def test_a_damaged_record_is_not_backed_up(path: Path, tmp_path: Path) -> None:
    """What is not whole makes no backup that says it is; nor does a record that is not there."""
    with Record.open(path) as record:
        record.database.execute("DROP TRIGGER log_is_kept")
        record.database.execute("UPDATE log SET body = 'x' WHERE id = 3")
    with pytest.raises(RecordError, match="entry 3 is not what was written"):
        back_up(path, tmp_path / "b.zip")
    with pytest.raises(RecordError, match="there is no record"):
        back_up(tmp_path / "ghost.sqlite3", tmp_path / "b.zip")
    with pytest.raises(RecordError, match="no such file"):
        restore(tmp_path / "ghost.zip", tmp_path / "new.sqlite3")
    assert not (tmp_path / "b.zip").exists()


# ------------------------------------------------------------------ what lies beside a record


def test_a_log_of_changes_without_its_record_is_not_read_into_the_restored_one(path: Path, tmp_path: Path) -> None:
    """Where the record is gone and its log of changes still lies there, the log is moved aside and the backup is put in place whole."""
    back_up(path, tmp_path / "b.zip")
    target = tmp_path / "boat" / "r.sqlite3"
    with Record.open(target) as other:
        for _ in range(30):
            other.append(e.Note(text="of another record " * 200), boat="Wren")
        stray = Path(f"{target}-wal").read_bytes()
    assert len(stray) > 100_000
    kit.emptied(target.parent, target.name)
    Path(f"{target}-wal").write_bytes(stray)
    done = restore(tmp_path / "b.zip", target)
    assert said_in(target) == said_in(path)
    assert done.aside is None
    assert Path(f"{target}.before-1-wal").read_bytes() == stray


def test_what_was_put_in_place_is_read_again(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that keeps something else than it was given is found out before success is told."""
    import os

    back_up(path, tmp_path / "b.zip")
    moved = os.replace

    def spoilt(source: Path, target: Path) -> None:
        moved(source, target)
        data = bytearray(target.read_bytes())
        at = data.rindex(b"plain words")
        data[at : at + 5] = b"other"
        target.write_bytes(data)

    monkeypatch.setattr(os, "replace", spoilt)
    with pytest.raises(RecordError, match=r"new\.sqlite3.*entry \d+ is not what was written"):
        restore(tmp_path / "b.zip", tmp_path / "new.sqlite3")


# ------------------------------------------------------------------ hostile and damaged backups


def test_a_byte_turned_anywhere_is_refused_in_words(path: Path, tmp_path: Path) -> None:
    """Whichever byte of a backup is turned, it is read as whole or refused as a backup is refused, and never with a trace."""
    made = back_up(path, tmp_path / "b.zip")
    data = (tmp_path / "b.zip").read_bytes()
    refused = 0
    for place in range(0, len(data), max(len(data) // 120, 1)):
        turned = bytearray(data)
        turned[place] ^= 0x55
        (tmp_path / "t.zip").write_bytes(turned)
        with suppress(RecordError):
            assert check(tmp_path / "t.zip").sha256 == made.sha256
            refused -= 1
        refused += 1
    assert refused > 60


def test_a_note_without_end_is_not_read(path: Path, tmp_path: Path) -> None:
    """A note that unpacks to many megabytes is refused by its length, and so is one nested without end."""
    back_up(path, tmp_path / "b.zip")
    whole = (tmp_path / "b.zip").read_bytes()
    for note, part in ((b" " * 20_000_000, "too long"), (b"[" * 9_000, "is no backup"), (b'{"entries": Infinity}', "is no backup")):

        def put(parts: dict[str, bytes], note: bytes = note) -> None:
            parts["about.json"] = note

        (tmp_path / "n.zip").write_bytes(repacked(put)(whole))
        with pytest.raises(RecordError, match=part):
            check(tmp_path / "n.zip")


def test_a_backup_under_a_password_is_refused(path: Path, tmp_path: Path) -> None:
    """A ZIP file that says its parts are encrypted is no backup."""
    back_up(path, tmp_path / "b.zip")
    data = bytearray((tmp_path / "b.zip").read_bytes())
    for sign, flags in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):  # bit 0 of the flags: encrypted (ZIP, APPNOTE 4.4.4)
        place = data.find(sign)
        while place >= 0:
            data[place + flags] |= 1
            place = data.find(sign, place + 4)
    (tmp_path / "p.zip").write_bytes(data)
    with pytest.raises(RecordError, match="is no backup"):
        check(tmp_path / "p.zip")


@pytest.mark.skipif(not hasattr(__import__("os"), "fork"), reason="this system has no such permissions")
def test_a_backup_and_an_export_have_the_permissions_of_any_new_file(path: Path, tmp_path: Path) -> None:
    """What this person lets others read is theirs to say: the mask for new files holds for backups and exports."""
    import os

    from diagnose.record.exchange import export

    before = os.umask(0o077)
    try:
        back_up(path, tmp_path / "b.zip")
        with Record.open(path) as record:
            (file,) = export(record, tmp_path / "out")
    finally:
        os.umask(before)
    assert ((tmp_path / "b.zip").stat().st_mode & 0o777, file.stat().st_mode & 0o777) == (0o600, 0o600)


@pytest.mark.skipif(not hasattr(__import__("os"), "fork"), reason="folders are synced on POSIX systems")
def test_every_new_folder_and_the_file_in_it_are_remembered(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a backup in folders that are new, the disk is asked to keep each name: of the folders and of the file."""
    import os

    synced: list[str] = []
    sync = os.fsync

    def noted(handle: int) -> None:
        synced.append(os.readlink(f"/proc/self/fd/{handle}"))
        sync(handle)

    if not Path("/proc/self/fd").is_dir():
        pytest.skip("open files cannot be named here")
    monkeypatch.setattr(os, "fsync", noted)
    back_up(path, tmp_path / "one" / "two" / "b.zip")
    assert {str(tmp_path), str(tmp_path / "one"), str(tmp_path / "one" / "two")} <= set(synced)
    synced.clear()
    Record.open(tmp_path / "three" / "four" / "r.sqlite3").close()
    assert {str(tmp_path), str(tmp_path / "three"), str(tmp_path / "three" / "four")} <= set(synced)
