"""Export and import: what was written comes back as equal entries, what is there already is left alone, what does not fit is named."""

from __future__ import annotations

from pathlib import Path
from typing import Any, get_args

import logkit as kit
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from diagnose.errors import DiagnoseError, InputError
from diagnose.knowledge.text import dump, parse
from diagnose.record import entries as e
from diagnose.record.exchange import Form, export, file_names, import_into, read
from diagnose.record.store import Record
from diagnose.record.trouble import RecordError

FORMS = get_args(Form)
every_form = pytest.mark.parametrize("form", FORMS)


@every_form
def test_what_was_exported_comes_back(form: Form, tmp_path: Path) -> None:
    """Every kind of entry with any text in it, of two boats, comes back equal, number for number; a second import adds nothing."""
    with Record.open(tmp_path / "one.sqlite3") as one, Record.open(tmp_path / "two.sqlite3") as two:
        for i, text in enumerate(kit.HOSTILE.values()):
            kit.filled(one, text, boat="Sable Wren [b]" if i % 2 else kit.BOAT)
        files = export(one, tmp_path / "out", form)
        assert {path.suffix for path in files} == {f".{form}"}
        done = import_into(two, read([tmp_path / "out"]))
        assert (done.added, done.known, done.renamed) == (len(one.entries()), 0, {})
        assert kit.said(two.entries()) == kit.said(one.entries())
        again = import_into(two, read(files))
        assert (again.added, again.known) == (0, done.added)
        assert two.verify() == done.added


@every_form
def test_exported_files_hold_nothing_that_acts(form: Form, tmp_path: Path) -> None:
    """No control character, no mark that turns text round and no cell that a table would calculate is in the files."""
    with Record.open(tmp_path / "r.sqlite3") as record:
        for text in kit.HOSTILE.values():
            kit.filled(record, text)
        for path in export(record, tmp_path / "out", form):
            raw = path.read_bytes().decode("utf-8")
            assert [c for c in raw if not c.isprintable() and c not in "\r\n"] == []
            if form == "csv":
                import csv

                cells = [cell for row in csv.reader(raw.splitlines()) for cell in row]
                assert [cell for cell in cells if cell[:1] in ("=", "+", "@")] == []


def test_a_part_of_an_export_is_known_again(tmp_path: Path) -> None:
    """Importing an old export and then a newer one of the same record adds only what is new, and undoes what the newer one undid."""
    with Record.open(tmp_path / "one.sqlite3") as one, Record.open(tmp_path / "two.sqlite3") as two:
        case = str(one.append(kit.opened(), boat=kit.BOAT).case)
        answer = one.append(kit.seen(), boat=kit.BOAT, case=case)
        export(one, tmp_path / "old")
        one.append(e.TakenBack(at=kit.at(5), entry=answer.id), boat=kit.BOAT, case=case)
        export(one, tmp_path / "new")
        assert import_into(two, read([tmp_path / "old"])).added == 2
        assert import_into(two, read([tmp_path / "new"])).added == 1
        assert kit.said(two.entries()) == kit.said(one.entries())


def test_the_same_said_twice_stays_twice(tmp_path: Path) -> None:
    """Two equal entries of one moment are two, there and back; the same file given twice is one."""
    with Record.open(tmp_path / "one.sqlite3") as one, Record.open(tmp_path / "two.sqlite3") as two:
        for _ in range(2):
            one.append(e.Note(at=kit.at(0), text="bang"), boat=kit.BOAT)
        (file,) = export(one, tmp_path / "out")
        (tmp_path / "copy.yaml").write_bytes(file.read_bytes())
        done = import_into(two, read([file, tmp_path / "copy.yaml"]))
        assert (done.added, done.known) == (2, 2)


def test_cases_of_two_records_that_share_an_id_stay_apart(tmp_path: Path) -> None:
    """A case whose id is taken by another case gets an id of its own, with everything that belongs to it, and that is told."""
    with Record.open(tmp_path / "one.sqlite3") as one, Record.open(tmp_path / "two.sqlite3") as two:
        for record, minutes in ((one, 0), (two, 1)):
            case = str(record.append(kit.opened("Drip", minutes), boat=kit.BOAT).case)
            answer = record.append(kit.seen(minutes=minutes), boat=kit.BOAT, case=case)
            record.append(e.TakenBack(at=kit.at(9), entry=answer.id), boat=kit.BOAT, case=case)
        export(one, tmp_path / "out")
        done = import_into(two, read([tmp_path / "out"]))
        assert (done.added, done.renamed) == (3, {"drip-1": "drip-2"})
        assert [(s.case, s.taken_back) for s in two.entries(kinds=("observed",))] == [("drip-1", True), ("drip-2", True)]


def test_an_import_of_which_a_part_does_not_fit_adds_nothing(tmp_path: Path) -> None:
    """Where one entry cannot be added, none is, and it is named."""
    with Record.open(tmp_path / "one.sqlite3") as one, Record.open(tmp_path / "two.sqlite3") as two:
        kit.filled(one)
        (file,) = export(one, tmp_path / "out")
        text = file.read_text(encoding="utf-8")
        assert "entry: 6" in text
        file.write_text(text.replace("entry: 6", "entry: 600"), encoding="utf-8")
        with pytest.raises(InputError, match=r"brindle\.yaml, line \d+: takes back entry 600"):
            import_into(two, read([file]))
        assert two.entries() == ()


def test_files_are_not_written_over(tmp_path: Path) -> None:
    """A second export into the same folder is refused, unless it is said that files may be replaced."""
    with Record.open(tmp_path / "r.sqlite3") as record:
        kit.filled(record)
        (file,) = export(record, tmp_path / "out")
        file.write_text("mine", encoding="utf-8")
        with pytest.raises(InputError, match="is there already, and is not written over"):
            export(record, tmp_path / "out")
        assert file.read_text(encoding="utf-8") == "mine"
        assert export(record, tmp_path / "out", replace=True) == (file,)
        assert len(read([file])) == len(record.entries())
        assert export(record, tmp_path / "none", boats=("Ghost",)) == ()
        with pytest.raises(RecordError, match=r"file exists|not a directory"):
            export(record, file)


def test_each_boat_has_a_file_name_of_plain_letters() -> None:
    """Whatever her name, a boat's file stays in its folder, and no two boats share one."""
    names = file_names(["Möwe", "../Mowe", "MOWE!", "鴎", "\x1b[31m", "...", "a" * 400])
    assert list(names.values())[:3] == ["mowe", "mowe-2", "mowe-3"]
    assert len(set(names.values())) == len(names)
    assert all(name.replace("-", "").isalnum() and name.isascii() and len(name) < 60 for name in names.values())


NOTE = 'id: 1, kind: note, at: "2026-05-03T17:30:00+00:00", text: x'
WRONG = {
    # what: file name, its text, what the message holds
    "no YAML": ("a.yaml", "a: [", "not well-formed"),
    "another YAML": ("a.yaml", "title: x\n", "is no exported record"),
    "another schema": ("a.yaml", "schema: 2\nboat: A\nentries: []\n", "schema 2 is not known"),
    "no id": ("a.yaml", "schema: 1\nboat: A\nentries:\n  - {kind: note, text: x}\n", "line 4: has no id"),
    "no moment": ("a.yaml", "schema: 1\nboat: A\nentries:\n  - {id: 1, kind: note, text: x}\n", "does not say when"),
    "no zone": ("a.yaml", 'schema: 1\nboat: A\nentries:\n  - {id: 1, kind: note, text: x, at: "2026-05-03T17:30:00"}\n', "timezone"),
    "no such kind": ("a.yaml", f"schema: 1\nboat: A\nentries:\n  - {{{NOTE.replace('note', 'not')}}}\n", "line 4: 'not' is no kind"),
    "no text": ("a.yaml", f"schema: 1\nboat: A\nentries:\n  - {{{NOTE.removesuffix(', text: x')}}}\n", "line 4: Field required"),
    "a field too many": ("a.yaml", f"schema: 1\nboat: A\nentries:\n  - {{{NOTE}, colour: red}}\n", "line 4.*colour"),
    "an id twice": ("a.yaml", f"schema: 1\nboat: A\nentries:\n  - {{{NOTE}}}\n  - {{{NOTE}}}\n", "line [45]: id 1 is given twice"),
    "no such case": ("a.yaml", f"schema: 1\nboat: A\nentries:\n  - {{{NOTE}, of_case: x-1}}\n", "case 'x-1', which is not opened"),
    "a table of nothing": ("notes.csv", "id,boat\n", "'notes' is no kind of entry"),
    "a table without boat": ("note.csv", "id,at,text\n1,2026-05-03T17:30:00+00:00,x\n", "row 1: has no boat"),
    "a table of odd rows": ("note.csv", "id,boat\n1,A,B,C\n", "more cells than the head"),
    "a table with open quotes": ("note.csv", 'id,boat\n1,"A\n', "is not a table"),
    "a table with broken JSON": ("note.csv", 'id,boat,at,text\n1,A,2026-05-03T17:30:00+00:00,"[1"\n', "row 1, text: is neither text nor"),
    "a part in two columns": ("case-opened.csv", "id,boat,of_case,at,title,opened_because,trip,trip.engine_hours\n"
                              "1,A,x-1,2026-05-03T17:30:00+00:00,x,routine-look,long,6\n", "row 1: 'trip' is given twice, whole and in"),
    "a part in two columns, the other way": (
        "case-opened.csv", "id,boat,of_case,at,title,opened_because,trip.engine_hours,trip\n"
        "1,A,x-1,2026-05-03T17:30:00+00:00,x,routine-look,6,{}\n", "row 1: 'trip' is given twice, whole and in"),
    "two columns of one name": ("note.csv", "id,boat,at,text,text\n1,A,2026-05-03T17:30:00+00:00,x,y\n", "has two columns 'text'"),
    "JSON without end": ("note.csv", f"id,boat,at,text\n1,A,2026-05-03T17:30:00+00:00,{'[' * 100_000}\n", "row 1, text: is neither"),
    "a moment before all days": (
        "a.yaml", f"schema: 1\nboat: A\nentries:\n  - {{{NOTE.replace('2026-05-03T17:30:00+00:00', '0001-01-01T00:00:00+14:00')}}}\n",
        "years 1900 to 2999"),
    "a moment after all days": ("note.csv", "id,boat,at,text\n1,A,9999-12-31T23:59:59-12:00,x\n", "years 1900 to 2999"),
    "a case about no day": ("a.yaml", 'schema: 1\nboat: A\nentries:\n  - {id: 1, kind: case-opened, at: "2026-05-03T17:30:00+00:00", '
                            'title: x, opened_because: routine-look, now: "0001-01-01T00:00:00+14:00"}\n', "years 1900 to 2999"),
    "bytes": ("note.csv", "\x00", "is a binary file"),
    "another file": ("a.txt", "hello", "is no exported record|not well-formed"),
}


@pytest.mark.parametrize("what", WRONG)
def test_what_cannot_be_imported_is_named(what: str, tmp_path: Path) -> None:
    """A file that does not fit is refused with its name, its line or row, and what is wrong."""
    name, text, part = WRONG[what]
    (tmp_path / name).write_text(text, encoding="utf-8")
    with Record.open(tmp_path / "r.sqlite3") as record:
        with pytest.raises(DiagnoseError, match=f"(?s){name.replace('.', '[.]')}.*({part})"):
            import_into(record, read([tmp_path / name]))
        assert record.entries() == ()


def test_a_folder_without_files_is_said(tmp_path: Path) -> None:
    """An empty folder and a file that is not there are told apart from an empty export."""
    with pytest.raises(InputError, match="holds no exported files"):
        read([tmp_path])
    with pytest.raises(InputError, match="no such file"):
        read([tmp_path / "ghost.yaml"])


# ------------------------------------------------------------------ YAML as it is written

SCALARS = st.one_of(
    st.text(), st.booleans(), st.integers(-(10**15), 10**15), st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from(["yes", "y", "~", "010", "1e3", "0x1f", "12:30", "2026-05-03", "a: b", "a #b", "- x", "<<", "=", "x\n\n y",
                     "it's \"so\" " * 30]),
)
KEYS = st.text(min_size=1)
VALUES = st.recursive(SCALARS, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(KEYS, inner, max_size=4), max_leaves=12)


@given(VALUES)
@example({"a": [[{}], [], {"b": [{"c": 1e-7, "d": [True, "true", 1, 1.0, "1"]}]}]})
def test_what_is_dumped_is_parsed(value: Any) -> None:
    """Whatever stands in it, written YAML is read back as the same values of the same types."""
    back = parse(dump({"k": value}), "written").data["k"]
    assert repr(back) == repr(value)


@pytest.mark.parametrize("value", [None, float("nan"), float("inf"), object()])
def test_what_has_no_form_is_not_dumped(value: Any) -> None:
    """Nothing, and numbers that are none, are refused instead of being written as something else."""
    with pytest.raises(ValueError, match="cannot be written"):
        dump({"k": value})


def test_two_imports_of_one_file_at_once_add_it_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where another program imports the same file just before this one may write, it is known and not added again."""
    with Record.open(tmp_path / "one.sqlite3") as one:
        kit.filled(one)
        (file,) = export(one, tmp_path / "out")
    lines = read([file])
    with Record.open(tmp_path / "two.sqlite3") as two, Record.open(tmp_path / "two.sqlite3") as other:
        writing = two.writing

        def late() -> Any:
            monkeypatch.undo()
            import_into(other, lines)
            return writing()

        monkeypatch.setattr(two, "writing", late)
        done = import_into(two, lines)
        assert (done.added, done.known) == (0, len(lines))
        assert len(two.entries()) == len(lines)
