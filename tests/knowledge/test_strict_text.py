"""Strict YAML: whatever one writer means and another reads otherwise is refused with its line; the rest reads as it looks."""

from __future__ import annotations

import string
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from diagnose.errors import InputError
from diagnose.knowledge.text import MAX_BYTES, did_you_mean, load, nearest, parse, read_text


def refused(text: str) -> InputError:
    """The error that a text gives."""
    with pytest.raises(InputError) as caught:
        parse(text, "book.yaml")
    return caught.value


SURPRISES = {
    # what YAML 1.1 reads: its own type pages, bool, null, int, float, timestamp
    "on": "true or false",
    "off": "true or false",
    "yes": "true or false",
    "no": "true or false",
    "No": "true or false",
    "ON": "true or false",
    "y": "true or false",
    "n": "true or false",
    "True": "not written as we write it",
    "FALSE": "not written as we write it",
    "null": "is empty",
    "Null": "is empty",
    "~": "is empty",
    "12:30": "base sixty",
    "1:00:00": "base sixty",
    "-12:30": "base sixty",
    "12:30.5": "base sixty",
    "010": "octal",
    "0x1F": "octal or hexadecimal",
    "0b11": "octal or hexadecimal",
    "0o17": "octal or hexadecimal",
    "007": "octal",
    "1e-3": "text by some and a number by others",
    "1E5": "a number by others",
    "2.5e3": "a number by others",
    "-1e-3": "a number by others",
    ".5": "not a plain number",
    "5.": "not a plain number",
    "+5": "not a plain number",
    "1_000": "not a plain number",
    ".inf": "not a plain number",
    "-.INF": "not a plain number",
    ".NaN": "not a plain number",
}


@pytest.mark.parametrize("written", SURPRISES)
@pytest.mark.parametrize("frame", ["a: 1\nkey: {}\n", "a: 1\nkey: [x, {}]\n", "a: 1\nkey:\n  - {}\n", "a: 1\nkey: {{in: {}}}\n"])
def test_a_surprising_word_is_refused_with_its_line(written: str, frame: str) -> None:
    """A word that YAML reads as something else is refused as a value, in a list and in a map, and the line is named."""
    error = refused(frame.format(written))
    assert SURPRISES[written] in error.what
    assert repr(written)[1:-1] in error.what
    assert error.where == f"book.yaml, line {3 if '  -' in frame else 2}"
    assert error.right


@pytest.mark.parametrize("written", SURPRISES)
@pytest.mark.parametrize("quote", ["'", '"'])
def test_the_same_word_in_quotes_is_text(written: str, quote: str) -> None:
    """In quotes every one of them is the text it looks like."""
    assert parse(f"key: {quote}{written}{quote}\n", "book.yaml").data == {"key": written}


@pytest.mark.parametrize("written", ["on", "12:30", "010", "null", "true", "5", ".5"])
def test_a_surprising_word_is_refused_as_a_key(written: str) -> None:
    """Keys are words: what would be read as a number, a flag or nothing is refused as a key too."""
    assert refused(f"a: 1\n{written}: 2\n").where == "book.yaml, line 2"


PLAIN = {
    "true": True,
    "false": False,
    "0": 0,
    "-7": -7,
    "42": 42,
    "0.5": 0.5,
    "-2.25": -2.25,
    "none": "none",
    "2026-01-02": "2026-01-02",
    "one-half": "one-half",
    "5 mm": "5 mm",
    "1.2.3": "1.2.3",
    "nothing": "nothing",
    "yes-sir": "yes-sir",
    "12h": "12h",
    "e5": "e5",
}


@pytest.mark.parametrize("written", PLAIN)
def test_plain_words_and_numbers_read_as_they_look(written: str) -> None:
    """Numbers with digits on both sides of the point are numbers, true and false are flags, all other words are texts."""
    value = parse(f"key: {written}\n", "book.yaml").data["key"]
    assert value == PLAIN[written]
    assert type(value) is type(PLAIN[written])


@given(st.floats(allow_nan=False, allow_infinity=False, width=32).map(lambda x: f"{x:.6f}"))
def test_every_decimal_number_is_that_number(written: str) -> None:
    """Any number written out in decimals is read as that number."""
    assert parse(f"key: {written}\n", "book.yaml").data["key"] == float(written)


@given(st.text(string.printable, min_size=1, max_size=12))
def test_a_plain_scalar_is_never_read_as_something_it_does_not_look_like(written: str) -> None:
    """Whatever is written, it is refused, or read as its own text, as a plain number, or as true or false."""
    try:
        value = parse(f"key: {written}\n", "book.yaml").data["key"]
    except InputError:
        return
    if isinstance(value, bool):
        assert written.split("#")[0].strip() in ("true", "false")
    elif isinstance(value, int | float):
        assert set(written.split("#")[0].strip()) <= set("-0123456789.")
        assert float(written.split("#")[0]) == value
    else:
        assert value is not None


REFUSED = {
    "a repeated key": ("a: 1\nb: 2\na: 3\n", "key 'a' is repeated", 3),
    "a repeated key in a flow map": ("x: {a: 1, a: 2}\n", "key 'a' is repeated", 1),
    "a repeated key, quoted once": ("a: 1\n'a': 2\n", "key 'a' is repeated", 2),
    "a key without a value": ("a: 1\nb:\n", "key 'b' has no value", 2),
    "an unquoted comma": ("a: {what: oil, water}\n", "key 'water' has no value", 1),
    "a list item without a value": ("a:\n  - x\n  -\n", "is empty", 3),
    "an anchor used twice": ("a: &x [1]\nb: *x\n", "anchors and aliases", 1),
    "an alias of a word": ("a: &x word\nb: *x\n", "anchors and aliases", 1),
    "a merge key": ("a: &x {k: v}\nb: {<<: *x}\n", "tag tag:yaml.org,2002:merge", 2),
    "an unknown alias": ("a: *nowhere\n", "not well-formed", 1),
    "a tag of one's own": ("a: !mine 5\n", "tag !mine", 1),
    "a python tag": ("a: !!python/object/apply:os.system [ls]\n", "tag tag:yaml.org,2002:python/object/apply:os.system", 1),
    "a python name": ("a: !!python/name:os.system x\n", "tag tag:yaml.org,2002:python/name:os.system", 1),
    "a number tagged as text": ("a: !!str 5\n", "tag tag:yaml.org,2002:str", 1),
    "a text tagged as a number": ("a: !!int '5'\n", "tag tag:yaml.org,2002:int", 1),
    "a whole number tagged as a fraction": ("a: !!float 5\n", "tag tag:yaml.org,2002:float", 1),
    "a flag tagged as text": ("a: !!str true\n", "tag tag:yaml.org,2002:str", 1),
    "bytes": ("a: !!binary aGk=\n", "tag tag:yaml.org,2002:binary", 1),
    "a set": ("a: !!set {x, y}\n", "tag tag:yaml.org,2002:set", 1),
    "an ordered map": ("a: !!omap [x: 1]\n", "tag tag:yaml.org,2002:omap", 1),
    "a map as a key": ("? {a: 1}\n: 2\n", "a key must be a word", 1),
    "a list as a key": ("[a, b]: 2\n", "a key must be a word", 1),
    "two documents": ("a: 1\n---\nb: 2\n", "not well-formed", 2),
    "a tab for indentation": ("a:\n\tb: 1\n", "not well-formed", 2),
    "an open bracket": ("a: [1, 2\nb: 3\n", "not well-formed", 2),
    "a stray colon": ("a: b: c\n", "not well-formed", 1),
}


@pytest.mark.parametrize("what", REFUSED)
def test_what_is_refused(what: str) -> None:
    """Everything ambiguous, repeated, anchored, tagged or broken is refused, and its line named."""
    text, message, line = REFUSED[what]
    error = refused(text)
    assert message in error.what
    assert error.where.startswith(f"book.yaml, line {line}")


@pytest.mark.parametrize("text", ["", "\n\n", "# only a remark\n", "---\n", "---\n...\n"])
def test_an_empty_document_is_refused(text: str) -> None:
    """A file without anything in it is refused as empty."""
    assert "is empty" in refused(text).what


@pytest.mark.parametrize("text", ["[" * 60 + "1" + "]" * 60, "{a: " * 60 + "1" + "}" * 60])
def test_deep_nesting_is_refused(text: str) -> None:
    """Sixty brackets in each other are refused before they cost anything."""
    assert "nested too deeply" in refused(f"k: {text}\n").what


def test_very_deep_nesting_is_refused_and_not_a_crash() -> None:
    """A hundred thousand brackets are refused like sixty."""
    assert refused("[" * 100_000).what


def test_an_alias_bomb_is_refused_at_once() -> None:
    """Nine lists, each of nine of the one before, would be 387 million words; the first alias is refused."""
    bomb = "a0: &a0 [x, x, x, x, x, x, x, x, x]\n"
    bomb += "".join(f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 9)}]\n" for i in range(1, 9))
    assert "anchors and aliases" in refused(bomb).what


@pytest.mark.parametrize("style", ["|", ">"])
def test_block_texts_are_texts(style: str) -> None:
    """A block text is a text whatever stands in it."""
    assert parse(f"key: {style}\n  on\n", "book.yaml").data == {"key": "on\n"}


# ------------------------------------------------------------------ files


def written(path: Path, raw: bytes) -> Path:
    """A file of these bytes."""
    path.write_bytes(raw)
    return path


@pytest.mark.parametrize(
    "raw",
    [
        b"a: 1\r\nb: two\r\n",
        b"\xef\xbb\xbfa: 1\nb: two\n",
        b"\xef\xbb\xbfa: 1\r\nb: two",
        b"--- \na: 1\nb: two\n",
        b"a: 1 # remark\nb: two\n",
        b'{"a": 1, "b": "two"}',
    ],
)
def test_line_ends_marks_and_json_are_accepted(tmp_path: Path, raw: bytes) -> None:
    """Windows line ends, a byte order mark, a document start, remarks and JSON make no difference."""
    assert load(written(tmp_path / "x.yaml", raw)).data == {"a": 1, "b": "two"}


@pytest.mark.parametrize("raw", [b"a: caf\xe9\n", b"a: \xff\xfe\n", "a: b\n".encode("utf-16"), b"a: \xc0\xaf\n", b"a: \xed\xa0\x80\n"])
def test_text_that_is_not_utf8_is_refused(tmp_path: Path, raw: bytes) -> None:
    """Latin-1, UTF-16, overlong and surrogate bytes are refused, and the byte is named."""
    path = written(tmp_path / "x.yaml", raw)
    with pytest.raises(InputError, match=r"not text in UTF-8 \(byte \d+\)") as caught:
        load(path)
    assert caught.value.where == str(path)


@pytest.mark.parametrize("raw", [b"a: b\x00c\n", b"\x00\x00\x00\x00"])
def test_a_binary_file_is_refused(tmp_path: Path, raw: bytes) -> None:
    """A file with zero bytes in it is no text."""
    with pytest.raises(InputError, match="binary file"):
        load(written(tmp_path / "x.yaml", raw))


@pytest.mark.parametrize("raw", [b"a: \x1b[31mred\n", b"a: \x07\n", b'a: "\\ud800"\n'])
def test_control_characters_are_refused(tmp_path: Path, raw: bytes) -> None:
    """Bare control characters and lone surrogates are no YAML."""
    with pytest.raises(InputError, match="YAML"):
        load(written(tmp_path / "x.yaml", raw))


def test_a_huge_file_is_refused_unread(tmp_path: Path) -> None:
    """Fifty megabytes are refused by their size; the largest file allowed is two."""
    path = tmp_path / "x.yaml"
    with path.open("wb") as file:
        file.truncate(50_000_000)
    with pytest.raises(InputError, match="is 50 MB; a file here is never over 2 MB"):
        read_text(path)
    assert len(read_text(written(path, b"#" * MAX_BYTES))) == 2_000_000


def test_an_empty_file_is_refused(tmp_path: Path) -> None:
    """A file of no bytes is refused as empty."""
    with pytest.raises(InputError, match="is empty"):
        load(written(tmp_path / "x.yaml", b""))


def test_a_folder_is_refused(tmp_path: Path) -> None:
    """A folder where a file is wanted is refused, and told what would be right."""
    with pytest.raises(InputError, match="is a folder") as caught:
        load(tmp_path)
    assert caught.value.right == "the name of a file"


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    """A file that is not there is named."""
    with pytest.raises(InputError, match="no such file") as caught:
        load(tmp_path / "ghost.yaml")
    assert caught.value.where.endswith("ghost.yaml")


@pytest.mark.parametrize("name", ["x" * 300, "ghost/x.yaml"])
def test_a_name_no_file_can_have_is_refused(tmp_path: Path, name: str) -> None:
    """A name too long for the disk, or in a folder that is not there, is refused like a missing file."""
    with pytest.raises(InputError):
        load(tmp_path / name)


# ------------------------------------------------------------------ lines and names


def test_every_path_has_its_line() -> None:
    """The line of an entry is that of its key, deep in lists and maps; a path that ends early gives the last line that exists."""
    text = "a: 1\nlist:\n  - id: x\n    deep:\n      key: v\n  - id: z\n"
    document = parse(text, "book.yaml")
    wanted: dict[tuple[Any, ...], int] = {
        (): 1,
        ("a",): 1,
        ("list",): 2,
        ("list", 0): 3,
        ("list", 0, "deep"): 4,
        ("list", 0, "deep", "key"): 5,
        ("list", 1): 6,
        ("list", 1, "ghost"): 6,
        ("list", 9): 2,
        ("ghost",): 1,
    }
    assert {path: document.line_of(path) for path in wanted} == wanted
    assert document.where(("list", 1)) == "book.yaml, line 6"


def test_both_parsers_of_the_library_read_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the fast parser is missing the plain one gives the same values and the same refusals."""
    import diagnose.knowledge.text as text_module

    monkeypatch.setattr(text_module, "_Loader", yaml.SafeLoader)
    assert parse("a: {b: [1, 0.5, x, true]}\n", "book.yaml").data == {"a": {"b": [1, 0.5, "x", True]}}
    for text, message, _ in REFUSED.values():
        assert message in refused(text).what
    for written_word, message in SURPRISES.items():
        assert message in refused(f"key: {written_word}\n").what


def test_the_nearest_names() -> None:
    """A slip of the pen finds its word, the best first; a word like none finds nothing."""
    known = ["pump-weep", "pump-play", "gauge-high"]
    assert nearest("pump-wep", known)[0] == "pump-weep"
    assert did_you_mean("gauge-hgih", known).startswith("gauge-high")
    assert nearest("zzzzzz", known) == []
    assert did_you_mean("zzzzzz", known) == ""
