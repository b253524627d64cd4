"""A boat's own file on the disk: where it lies, what stands there kept to the byte, whole or not at all, and never another boat's."""

from __future__ import annotations

import errno
import os
import sys
from pathlib import Path
from typing import Any

import pytest
from logkit import HOSTILE

from diagnose.errors import InputError
from diagnose.knowledge.own import Item, item_of, load_own
from diagnose.knowledge.text import MAX_BYTES
from diagnose.record.ownfile import add_learned, own_path

HEAD = "schema: 1\nboat: Brindle\n"
ITEM = item_of({"setup": "cover-off", "minutes": 12.5, "access": "by the locker", "on": "2026-05-03", "by": "Mia Thorn"})
OTHER = item_of({"job": "swap", "step": "off", "tools": ["a", "b"], "minutes": {"first_time": 30}})


def added(text: str, folder: Path, item: Item = ITEM) -> str:
    """A file with one item more, as text; what it says then is what it said and the item."""
    path = folder / "own.yaml"
    path.write_bytes(text.encode())
    before = load_own(path)
    after = add_learned(path, "Brindle", item)
    assert load_own(path) == after
    assert after == before.model_copy(update={"learned": (*before.learned, item)})
    return path.read_bytes().decode()


# ------------------------------------------------------------------ where it lies


def test_it_lies_beside_the_record() -> None:
    """In a folder `own`, under the boat's name in plain letters; capitals and spaces do not matter."""
    assert own_path(Path("/data/r.sqlite3"), "Ashling  Grey") == Path("/data/own/ashling-grey.yaml")
    assert own_path(Path("/data/r.sqlite3"), "ASHLING GREY") == Path("/data/own/ashling-grey.yaml")


def test_no_two_boats_come_by_one_file() -> None:
    """Names that plain letters say alike, not at all, or cut short each have a file of their own, inside the folder."""
    names = ["Mowe", "Möwe", "Mo we", "鴎", "鳥", "../../etc/x", "etc x", "a b c d e f", "a b c d e g", "a b c d e", "-mowe", "x" * 200]
    paths = {own_path(Path("r.sqlite3"), name) for name in names}
    assert len(paths) == len(names)
    assert {p.parent for p in paths} == {Path("own")}
    assert own_path(Path("r.sqlite3"), "MÖWE") == own_path(Path("r.sqlite3"), "möwe")


# ------------------------------------------------------------------ adding


def test_the_file_and_its_folder_are_made(tmp_path: Path) -> None:
    """Where there is none; the second item comes after the first, in the words of the format."""
    path = tmp_path / "new" / "own" / "brindle.yaml"
    add_learned(path, "Brindle ", ITEM)
    add_learned(path, "brindle", OTHER)
    assert path.read_text(encoding="utf-8") == (
        HEAD + "learned:\n  - setup: cover-off\n    minutes: 12.5\n    access: by the locker\n    \"on\": \"2026-05-03\"\n"
        '    by: Mia Thorn\n  - job: swap\n    step: "off"\n'
        '    minutes:\n      first_time: 30\n    tools:\n      - "a"\n      - "b"\n')
    assert [p.name for p in path.parent.iterdir()] == ["brindle.yaml"]


@pytest.mark.parametrize("text", [
    HEAD + "# nothing yet\n",
    HEAD.rstrip("\n"),
    "# ours\n" + HEAD + "learned:   # since spring\n- part: pump   # the new one\n  note: 'a  b'\n# last remark",
    HEAD + "learned:\n      - {part: pump, note: a}\n\n\n",
    HEAD + "learned:\n  - part: pump\n    note: |\n      two\n      lines",
    (HEAD + "learned:\n  - part: pump\n    note: a\n").replace("\n", "\r\n"),
    "\ufeff" + HEAD,
], ids=["a remark", "no last line end", "remarks in the list", "far in", "a block of text", "line ends of another system", "a mark"])
def test_what_stands_there_is_kept_to_the_byte(text: str, tmp_path: Path) -> None:
    """What is added comes after all that was there."""
    assert added(text, tmp_path).startswith(text)
    assert added(added(text, tmp_path), tmp_path, OTHER).startswith(text)


def test_a_key_after_the_list_stays_after_it(tmp_path: Path) -> None:
    """The item goes in before the key that follows and the remarks above that, and nothing else moves."""
    first, last = "schema: 1\nlearned:\n  - part: pump\n    note: a   # why\n", "\n# the boat\nboat: Brindle\n"
    found = added(first + last, tmp_path)
    assert found.startswith(first)
    assert found.endswith(last)
    assert len(found) > len(first + last)


@pytest.mark.parametrize("text", [HEAD + "learned: []\n", HEAD + "learned: [{part: pump, note: a}]\n", "{schema: 1, boat: Brindle}\n",
                                  HEAD + "learned:\n  - {part: pump, note: a}\n...\n"])
def test_a_form_that_cannot_be_added_to_is_left_alone(text: str, tmp_path: Path) -> None:
    """The place is named, and what would be right; the file is as it was."""
    path = tmp_path / "own.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match="cannot be added to as it stands") as error:
        add_learned(path, "Brindle", ITEM)
    assert str(path) in error.value.where
    assert error.value.right
    assert path.read_text(encoding="utf-8") == text


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE)
def test_texts_of_people_read_back_as_they_were(text: str, tmp_path: Path) -> None:
    """Whatever is typed, in every place for a text, into a new file and into one that is there."""
    told = {"job": "swap", "step": "take", "holds_two": text, "access": text, "tools": [text], "note": text, "by": text}
    item = item_of(told)
    path = tmp_path / "own.yaml"
    add_learned(path, "Brindle", item)
    add_learned(path, "Brindle", item)
    assert load_own(path).learned == (item, item)
    assert item.note == text.strip()


def test_what_no_file_can_hold_is_refused(tmp_path: Path) -> None:
    """Half a letter, as a terminal of another alphabet may give it, is refused, and nothing is made."""
    with pytest.raises(InputError):
        add_learned(tmp_path / "own.yaml", "Brindle", item_of({"part": "pump", "note": "a\udcff"}))
    assert list(tmp_path.iterdir()) == []


def test_another_boats_file_is_left_alone(tmp_path: Path) -> None:
    """It is named, with whose it is; capitals and spaces are no other boat."""
    path = tmp_path / "own.yaml"
    path.write_text(HEAD, encoding="utf-8")
    with pytest.raises(InputError, match="is the file of 'Brindle', not of 'Tern'"):
        add_learned(path, "Tern", ITEM)
    assert path.read_text(encoding="utf-8") == HEAD
    add_learned(path, " BRINDLE", ITEM)
    assert len(load_own(path).learned) == 1


def test_a_broken_file_is_left_alone(tmp_path: Path) -> None:
    """Its line is named, and it is not written over."""
    path = tmp_path / "own.yaml"
    path.write_text(HEAD + "learned:\n  - part: [\n", encoding="utf-8")
    with pytest.raises(InputError, match="well-formed") as error:
        add_learned(path, "Brindle", ITEM)
    assert "line 5" in error.value.where
    assert path.read_text(encoding="utf-8").endswith("[\n")


def test_a_file_does_not_grow_beyond_what_is_read(tmp_path: Path) -> None:
    """Where one item more would make it too large to be read, it is not added."""
    path = tmp_path / "own.yaml"
    path.write_text(HEAD + "#" * (MAX_BYTES - len(HEAD) - 1), encoding="utf-8")
    with pytest.raises(InputError, match="would be over 2 MB"):
        add_learned(path, "Brindle", ITEM)
    assert load_own(path).learned == ()


@pytest.mark.parametrize("call", ["replace", "fsync"])
def test_a_full_disk_leaves_the_old_file(call: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When writing fails the old file is as it was, nothing half-written stays, and the person is told why."""
    path = tmp_path / "own.yaml"
    path.write_text(HEAD, encoding="utf-8")

    def full(*_: Any) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, call, full)
    with pytest.raises(InputError, match="no space left"):
        add_learned(path, "Brindle", ITEM)
    monkeypatch.undo()
    assert path.read_text(encoding="utf-8") == HEAD
    assert [p.name for p in tmp_path.iterdir()] == ["own.yaml"]


@pytest.mark.skipif(sys.platform == "win32", reason="links need a right of their own there")
def test_a_link_is_followed(tmp_path: Path) -> None:
    """A file that is kept elsewhere and linked here is added to where it lies, and the link stays one."""
    (tmp_path / "kept.yaml").write_text(HEAD, encoding="utf-8")
    (tmp_path / "own.yaml").symlink_to(tmp_path / "kept.yaml")
    add_learned(tmp_path / "own.yaml", "Brindle", ITEM)
    assert (tmp_path / "own.yaml").is_symlink()
    assert len(load_own(tmp_path / "kept.yaml").learned) == 1


def test_a_folder_in_its_place_is_named(tmp_path: Path) -> None:
    """And a file where the folder should be."""
    (tmp_path / "own.yaml").mkdir()
    with pytest.raises(InputError, match="is a folder"):
        add_learned(tmp_path / "own.yaml", "Brindle", ITEM)
    (tmp_path / "own").write_text("", encoding="utf-8")
    with pytest.raises(InputError) as error:
        add_learned(tmp_path / "own" / "b.yaml", "Brindle", ITEM)
    assert error.value.where == str(tmp_path / "own" / "b.yaml")
