"""The cache of compiled rules: the same book with it and without it, whatever is wrong with the file or the folder."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
import tiny

from diagnose.case import Case
from diagnose.errors import RuleError
from diagnose.knowledge import load as load_module
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import cache_folder, load_rules
from diagnose.triage import assess


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A cache folder of its own, empty, and nothing kept in memory."""
    folder = tmp_path / "cache"
    monkeypatch.setenv("DIAGNOSE_CACHE", str(folder))
    load_module._book.cache_clear()
    yield folder
    load_module._book.cache_clear()


def again(folder: Path) -> Book:
    """The book read as by a new process."""
    load_module._book.cache_clear()
    return load_rules(folder)


def the_file(cache: Path) -> Path:
    """The one file in the cache."""
    (path,) = cache.iterdir()
    return path


def no_parsing(monkeypatch: pytest.MonkeyPatch) -> None:
    """From here on the text of a rule file may not be parsed."""

    def refuse(*_: object) -> None:
        raise AssertionError("a rule file was parsed")

    monkeypatch.setattr(load_module, "build", refuse)


def test_the_cached_book_is_the_book(cache: Path, tiny_rules: Path, tiny_book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second start reads the cache, parses nothing, and has the same book, entry by entry."""
    load_rules(tiny_rules)
    assert the_file(cache).name.endswith(".json")
    no_parsing(monkeypatch)
    assert again(tiny_rules) == tiny_book


def test_results_from_the_cache_are_the_same_bytes(cache: Path, tiny_rules: Path, tiny_book: Book) -> None:
    """An assessment with the cached book is the same to the byte."""
    case = Case.model_validate(
        tiny.case(observations=[tiny.observation("pump-weep", "drip"), {"symptom": "pump-gauge-high", "value": "95 degC"}])
    )
    load_rules(tiny_rules)
    assert assess(case, again(tiny_rules)).result_json() == assess(case, tiny_book).result_json()
    assert the_file(cache).is_file()


@pytest.mark.parametrize("raw", [b"", b"{", b"not json", b"[]", b"null", b'{"digest": "x"}', b"\xff\xfe\x00", b"{}" * 1000])
def test_a_damaged_cache_is_read_past(cache: Path, tiny_rules: Path, tiny_book: Book, raw: bytes) -> None:
    """A damaged file in the cache is no error: the text is read again, and the file is mended."""
    load_rules(tiny_rules)
    path = the_file(cache)
    whole = path.read_bytes()
    path.write_bytes(raw)
    assert again(tiny_rules) == tiny_book
    assert path.read_bytes() == whole


@pytest.mark.parametrize("change", ["digest", "components", "words", "files"])
def test_a_cache_that_lacks_a_part_is_read_past(cache: Path, tiny_rules: Path, tiny_book: Book, change: str) -> None:
    """A file from which a part is missing is read past and mended."""
    load_rules(tiny_rules)
    path = the_file(cache)
    stored = json.loads(path.read_bytes())
    del stored[change]
    path.write_text(json.dumps(stored), encoding="utf-8")
    assert again(tiny_rules) == tiny_book
    assert change in json.loads(path.read_bytes())


def test_a_cache_of_a_foreign_form_is_read_past(cache: Path, tiny_rules: Path, tiny_book: Book) -> None:
    """A file whose entries have keys this program does not know is read past."""
    load_rules(tiny_rules)
    path = the_file(cache)
    stored = json.loads(path.read_bytes())
    stored["components"][0]["faults"][0]["colour"] = "red"
    path.write_text(json.dumps(stored), encoding="utf-8")
    assert again(tiny_rules) == tiny_book


def test_a_folder_in_place_of_the_file(cache: Path, tiny_rules: Path, tiny_book: Book) -> None:
    """A folder of the file's name is read past, and left alone."""
    load_rules(tiny_rules)
    path = the_file(cache)
    path.unlink()
    path.mkdir()
    assert again(tiny_rules) == tiny_book
    assert the_file(cache).is_dir()


def test_a_file_in_place_of_the_cache_folder(cache: Path, tiny_rules: Path, tiny_book: Book) -> None:
    """Where no cache can be written the book is read all the same."""
    cache.write_text("in the way", encoding="utf-8")
    assert again(tiny_rules) == tiny_book
    assert cache.read_text(encoding="utf-8") == "in the way"


def test_a_read_only_cache_folder(cache: Path, tiny_rules: Path, tiny_book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder that cannot be written costs time, not the answer, and no half file stays behind."""
    cache.mkdir()

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "read-only")

    monkeypatch.setattr(load_module.tempfile, "mkstemp", refuse)
    cache.chmod(0o500)
    assert again(tiny_rules) == tiny_book
    cache.chmod(0o700)
    assert list(cache.iterdir()) == []


def test_a_disk_that_fills_up_leaves_no_half_file(cache: Path, tiny_rules: Path, tiny_book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    """When writing fails half-way the book is read all the same, and nothing of the attempt is left in the cache."""

    def full(_form: object, file: object, **__: object) -> None:
        file.write("{half")  # type: ignore[attr-defined]
        raise OSError(28, "no space left on device")

    monkeypatch.setattr(load_module.json, "dump", full)
    assert again(tiny_rules) == tiny_book
    assert list(cache.iterdir()) == []


def test_each_text_has_its_own_file(cache: Path, tiny_rules: Path, write_rules: object) -> None:
    """Another text of the rules is another file in the cache, and neither stands in for the other."""
    changed = write_rules({**tiny.parts(), "shared/words.yaml": {**tiny.words(), "version": "9.9.9"}})  # type: ignore[operator]
    assert [again(folder).version for folder in (tiny_rules, changed, tiny_rules, changed)] == ["1.2.3", "9.9.9", "1.2.3", "9.9.9"]
    assert len(list(cache.iterdir())) == 2


def test_a_broken_book_is_not_cached(cache: Path, write_rules: object) -> None:
    """What is refused is refused again at the next start, and leaves nothing in the cache."""
    parts = tiny.parts()
    parts["coolant/pump.yaml"]["system"] = "lunar"
    folder = write_rules(parts)  # type: ignore[operator]
    for _ in range(2):
        with pytest.raises(RuleError, match="system 'lunar'"):
            again(folder)
    assert not cache.exists()


def test_moved_files_are_shown_where_they_are(cache: Path, tiny_rules: Path, write_rules: object) -> None:
    """The digest does not know file names: a book moved to other files still says which file an entry stands in."""
    parts = tiny.parts()
    moved = write_rules({("new/name.yaml" if n == "coolant/pump.yaml" else n): part for n, part in parts.items()})  # type: ignore[operator]
    assert again(tiny_rules).files == {"pump": "coolant/pump.yaml"}
    assert again(moved).files == {"pump": "new/name.yaml"}
    assert cache.is_dir()


def test_the_cache_can_be_switched_off(monkeypatch: pytest.MonkeyPatch) -> None:
    """DIAGNOSE_CACHE=off means no folder at all; a path means that path; without it the user's own cache folder."""
    monkeypatch.setenv("DIAGNOSE_CACHE", "off")
    assert cache_folder() is None
    monkeypatch.setenv("DIAGNOSE_CACHE", "/somewhere/else")
    assert cache_folder() == Path("/somewhere/else")
    monkeypatch.delenv("DIAGNOSE_CACHE")
    assert cache_folder().name == "diagnose"  # type: ignore[union-attr]


START = """
import hashlib, sys
from pathlib import Path
from diagnose.knowledge.load import load_rules
gate = Path(sys.argv[2])
while not gate.exists(): pass
print(hashlib.sha256(repr(load_rules(sys.argv[1])).encode()).hexdigest())
"""


def test_two_processes_may_start_together(cache: Path, tiny_rules: Path, tmp_path: Path) -> None:
    """Four processes started at one moment on an empty cache have the same book, and leave one whole file."""
    gate = tmp_path / "gate"
    command = [sys.executable, "-c", START, str(tiny_rules), str(gate)]
    started = [subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env={**os.environ}) for _ in range(4)]
    gate.touch()
    results = [process.communicate(timeout=60) for process in started]
    assert [errors for _, errors in results] == [""] * 4
    assert len({out for out, _ in results}) == 1
    assert json.loads(the_file(cache).read_bytes())["components"]
