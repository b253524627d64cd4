"""Damage is found and named, and what lies before it is still read: files cut short, single bits turned, rows tampered with."""

from __future__ import annotations

import random
from collections import Counter
from pathlib import Path

import logkit as kit
import pytest

from diagnose.record import entries as e
from diagnose.record.exchange import export, import_into, read
from diagnose.record.store import Record
from diagnose.record.trouble import RecordError

Said = list[tuple[int, str, str | None, e.Entry, bool]]


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, Said]:
    """The bytes of a sound record of some pages, and what is said in it."""
    path = tmp_path_factory.mktemp("sound") / "r.sqlite3"
    with Record.open(path) as record:
        case = str(record.append(kit.opened(), boat=kit.BOAT).case)
        for i in range(8):
            record.append(kit.seen(minutes=i, note="x" * (1 + 300 * i)), boat=kit.BOAT, case=case)
        record.append(e.TakenBack(entry=3), boat=kit.BOAT, case=case)
        record.append(e.Note(text="é" * 6000), boat=kit.BOAT)
        record.append(e.Note(text="last"), boat=kit.BOAT)
        said = kit.said(record.entries())
    return path.read_bytes(), said


def opened_and_verified(path: Path) -> Said:
    """What a record says once it was found whole.

    Raises:
        RecordError: it was not.
    """
    with Record.open(path, create=False) as record:
        record.verify()
        return kit.said(record.entries())


def part_of(path: Path, said: Said) -> int:
    """How many entries are saved out of a damaged record; they are the first ones, as they were."""
    with Record.salvage(path) as record:
        saved = record.entries()
        assert [(s.id, s.boat, s.case, s.entry) for s in saved] == [line[:4] for line in said[: len(saved)]]
        assert record.damage == f"read up to entry {len(saved)}"
    return len(saved)


def turned(sound: tuple[bytes, Said], folder: Path, count: int, seed: int) -> Counter[str]:
    """Turn one bit of the file, many times: either nothing said has changed, or the damage is found; and what is saved is true."""
    data, said = sound
    rng = random.Random(seed)
    outcomes: Counter[str] = Counter()
    path = folder / "turned.sqlite3"
    for _ in range(count):
        damaged = bytearray(data)
        damaged[rng.randrange(len(damaged))] ^= 1 << rng.randrange(8)
        kit.emptied(folder, path.name)
        path.write_bytes(damaged)
        try:
            assert opened_and_verified(path) == said
            outcomes["harmless"] += 1
        except RecordError as error:
            outcomes["found" if path.name in str(error) and error.right else "found, and not said well"] += 1
        kit.emptied(folder, path.name)
        path.write_bytes(damaged)
        outcomes[f"saved {part_of(path, said)}"] += 1
    return outcomes


def test_a_bit_turned_is_found(sound: tuple[bytes, Said], tmp_path: Path) -> None:
    """Of bits turned at random each is found, or lies where nothing is said; the entries before it are saved."""
    outcomes = turned(sound, tmp_path, 80, seed=1)
    assert outcomes["found"] > 20
    assert outcomes["found"] + outcomes["harmless"] == 80


@pytest.mark.slow
def test_many_bits_turned_are_found(sound: tuple[bytes, Said], tmp_path: Path) -> None:
    """The same seven hundred times: every number of saved entries from the first to the last occurs."""
    outcomes = turned(sound, tmp_path, 700, seed=2)
    assert outcomes["found"] + outcomes["harmless"] == 700
    assert {f"saved {n}" for n in range(1, len(sound[1]))} <= set(outcomes)


def test_a_file_cut_short_is_found(sound: tuple[bytes, Said], tmp_path: Path) -> None:
    """Cut anywhere, the file is refused; what is saved are its first entries, and more of them the later the cut."""
    data, said = sound
    path = tmp_path / "cut.sqlite3"
    saved = []
    for cut in range(0, len(data), 4000):
        kit.emptied(tmp_path, path.name)
        path.write_bytes(data[:cut])
        with pytest.raises(RecordError, match=r"is damaged|is empty"):
            opened_and_verified(path)
        kit.emptied(tmp_path, path.name)
        path.write_bytes(data[:cut])
        saved.append(part_of(path, said))
    assert (saved[0], saved[-1]) == (0, max(saved))
    assert max(saved) >= len(said) - 2


def test_the_first_page_gone_loses_no_entry(sound: tuple[bytes, Said], tmp_path: Path) -> None:
    """With its first page overwritten the file is no record any more, and yet every entry is saved out of it."""
    data, said = sound
    path = tmp_path / "r.sqlite3"
    path.write_bytes(b"\xff" * 4096 + data[4096:])
    with pytest.raises(RecordError, match="is damaged, or is no record"):
        Record.open(path)
    assert part_of(path, said) == len(said)


@pytest.mark.parametrize(
    "change",
    ["body = replace(body, 'drip', 'none')", "boat = 'Other'", "case_id = 'other-1'", "kind = 'note'", "hash = upper(hash)",
     "body = x'00ff'"],
)
def test_a_row_tampered_with_is_named(change: str, tmp_path: Path) -> None:
    """Any change of a row, made with another program, is found at once by the number of the entry."""
    path = tmp_path / "r.sqlite3"
    with Record.open(path) as record:
        kit.filled(record)
        record.database.execute("DROP TRIGGER log_is_kept")
        record.database.execute(f"UPDATE log SET {change} WHERE id = 6")
    with Record.open(path) as record:
        for reading in (record.entries, lambda: record.entries(kinds=("found",)), record.cases, record.verify,
                        lambda: record.append(e.Note(text="x"), boat=kit.BOAT)):
            with pytest.raises(RecordError, match="entry 6 is not what was written") as caught:
                reading()  # type: ignore[operator]
            assert caught.value.sound_until == 5


def test_a_row_left_out_is_named(tmp_path: Path) -> None:
    """A row taken out from between others is missed."""
    with Record.open(tmp_path / "r.sqlite3") as record:
        kit.filled(record)
        record.database.execute("DROP TRIGGER log_stays")
        record.database.execute("DELETE FROM log WHERE id = 9")
    with Record.open(tmp_path / "r.sqlite3") as record, pytest.raises(RecordError, match="entry 9 is not what was written"):
        record.verify()


def test_what_lies_before_the_damage_can_be_carried_over(tmp_path: Path) -> None:
    """The entries saved from a damaged record are exported and imported into a new one."""
    with Record.open(tmp_path / "r.sqlite3") as record:
        kit.filled(record)
        before = kit.said(record.entries())
        record.database.execute("DROP TRIGGER log_is_kept")
        record.database.execute("UPDATE log SET body = 'x' WHERE id = 12")
    with Record.salvage(tmp_path / "r.sqlite3") as record:
        export(record, tmp_path / "out")
        assert record.cases()[0].title == "plain words"
        with pytest.raises(RecordError, match="reading only"):
            record.append(e.Note(text="x"), boat=kit.BOAT)
    with Record.open(tmp_path / "new.sqlite3") as new:
        assert import_into(new, read([tmp_path / "out"])).added == 11
        assert [line[:4] for line in kit.said(new.entries())] == [line[:4] for line in before[:11]]


def test_nothing_to_save_is_said(tmp_path: Path) -> None:
    """Where there is no file, saving says so; of a file of noise nothing is saved."""
    with pytest.raises(RecordError, match="there is no record"):
        Record.salvage(tmp_path / "ghost.sqlite3")
    (tmp_path / "noise.sqlite3").write_bytes(random.Random(3).randbytes(20_000))
    assert part_of(tmp_path / "noise.sqlite3", []) == 0
