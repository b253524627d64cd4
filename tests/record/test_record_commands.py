"""The commands of the record as people type them: what they enter, what they print, what they refuse, and text nobody obeys."""

from __future__ import annotations

import json
import re
import shlex
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click
import logkit as kit
import pytest
import tiny
from click.testing import CliRunner, Result

from diagnose import assess, cli
from diagnose.case import Case, load_case
from diagnose.commands import record as commands
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules, shipped
from diagnose.record import entries as e
from diagnose.record.keep import keep_case
from diagnose.record.store import Record
from diagnose.record.trouble import RecordError

NAMES = {
    "boat": "boat", "hours": "hours", "service": "service", "record": "record_", "found": "found", "tally": "tally", "replay": "replay",
    "export": "export_", "import": "import_", "backup": "backup", "restore": "restore", "photo": "photo", "note": "note",
}
TAKES_RULES = {"boat", "service", "record", "found", "tally", "replay"}
Run = Callable[..., Result]


@pytest.fixture
def run(tmp_path: Path, tiny_rules: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Runs a command on a record of its own with the tiny book, and refuses a trace."""
    monkeypatch.setenv("DIAGNOSE_RECORD", str(tmp_path / "mine" / "r.sqlite3"))
    for name, function in NAMES.items():
        monkeypatch.setitem(cli.COMMANDS, name, f"record:{function}")

    def ran(name: str, *arguments: str | Path, own_rules: bool = False) -> Result:
        rules = ["--rules", str(tiny_rules)] if name in TAKES_RULES and not own_rules else []
        done = CliRunner().invoke(cli.main, [name, *map(str, arguments), *rules])
        assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
        return done

    return ran


def sees(done: Result, *parts: str) -> None:
    """The command ended well and printed these."""
    assert (done.exit_code, done.stderr) == (0, "")
    for part in parts:
        assert part in " ".join(done.stdout.split())


def refused(done: Result, *parts: str) -> None:
    """The command ended with 2, said these on stderr, and nothing else."""
    assert (done.exit_code, done.stdout) == (2, "")
    assert len(re.findall("^(diagnose|Error): ", done.stderr, re.MULTILINE)) == 1
    for part in parts:
        assert part in done.stderr


def kept(book: Book, **changes: Any) -> str:
    """A case of the tiny book, judged and kept in the record; its id."""
    case = Case.model_validate(tiny.case(**changes))
    with Record.open() as record:
        return keep_case(record, case, assess(case, book)).case


# ------------------------------------------------------------------ boats, hours, services


def test_a_boat_is_entered_shown_and_corrected(run: Run) -> None:
    """Facts are entered as in a case file and shown with the book's words; a later entry corrects, and one can be forgotten."""
    sees(run("boat", "Tern", "cooling=sealed", "expansion-bottle=no", "header-reserve=0.4 L", "--hours", "1200"),
         "Tern, 1200 engine hours", "Cooling: coolant", "Bottle: no", "0.4 L", "not said pump-drive, hours-a-year")
    sees(run("boat", "tern", "cooling=raw", "--forget", "header-reserve"), "Cooling: sea water", "header-reserve, hours-a-year")
    data = json.loads(run("boat", "TERN", "--json").stdout)
    assert (data["arrangement"], data["engine_hours"]) == ({"cooling": "raw", "expansion-bottle": False}, 1200)
    sees(run("boat"), "boat Tern: 1200 engine hours; 0 cases, 0 open")


def test_facts_that_do_not_fit_are_refused(run: Run) -> None:
    """An unknown fact, a wrong choice, a number without its unit, no value and a mistyped boat are refused, and nothing is kept."""
    refused(run("boat", "Tern", "coling=raw"), "'coling' is not a fact of the boat", "cooling")
    refused(run("boat", "Tern", "cooling=air"), "'air' is not a choice", "sealed or raw")
    refused(run("boat", "Tern", "header-reserve=1"), "has no unit")
    refused(run("boat", "Tern", "cooling="), "'cooling=' is no fact", "FACT=VALUE")
    refused(run("boat", "Tern", "--hours", "12,5"), "comma")
    refused(run("boat", "Tern"), "there is no record here")
    run("boat", "Tern", "cooling=raw")
    refused(run("boat", "Tren"), "no boat 'Tren' is in the record", "Tern")
    refused(run("hours", "Tren", "5"), "no boat 'Tren'", "Tern")


def test_hours_go_up_unless_corrected(run: Run) -> None:
    """A reading lower than the last is refused; corrected, the last one is taken back; one of an earlier day is taken as such."""
    run("boat", "Tern", "--hours", "1200")
    sees(run("hours", "Tern", "1206.5 h"), "Tern: 1206.5 engine hours, 6.5 since the last reading")
    refused(run("hours", "Tern", "1190"), "1190 engine hours are fewer than the 1206.5 read before", "--correct")
    sees(run("hours", "Tern", "1203", "--correct"), "Tern: 1203 engine hours")
    sees(run("hours", "Tern", "1100", "--at", "2025-05-03"), "Tern: 1100 engine hours")
    for wrong, part in (("lots", "not a number"), ("5 L", "does not measure"), ("999999", "cannot be")):
        refused(run("hours", "Tern", wrong), part)
    refused(run("hours", "Tern", "1300", "--at", "yesterday"), "is not a moment")
    refused(run("hours", "Tern", "1300", "--at", "2199-01-01"), "lies ahead")
    assert json.loads(run("boat", "Tern", "--json").stdout)["engine_hours"] == 1203
    with Record.open() as record:
        assert [s.taken_back for s in record.entries(kinds=("hours",))] == [False, True, False, False]


def test_services_are_entered(run: Run) -> None:
    """A service item of the book tells the age of its part; a part in one's own words is kept so, with the nearest item."""
    run("boat", "Tern", "--hours", "1200")
    belt = run("service", "Tern", "drive-belt", "--hours", "1150", "--cost", "18.90 EUR", "--note", "old one glazed")
    sees(belt, "Tern: Drive belt renewed")
    sees(run("service", "Tern", "drive belts", "--on", "2026-01-05"), "kept in your words", "did you mean drive-belt?")
    refused(run("service", "Tern", "drive-belt", "--cost", "much"), "cost")
    sees(run("boat", "Tern"), "Drive belt renewed: at 1150 h, 50 engine hours ago")
    data = json.loads(run("boat", "Tern", "--json").stdout)
    assert data["serviced"]["drive-belt"]["at_hours"] == 1150
    assert list(data["serviced"]) == ["drive-belt"]


def test_notes_and_photos(run: Run, tmp_path: Path) -> None:
    """A note or a photo goes to a case, to a boat, or to the only boat; a photo is known by its checksum and not copied."""
    run("boat", "Tern", "cooling=raw")
    picture = tmp_path / "crust [b].jpg"
    picture.write_bytes(b"not really a picture")
    sees(run("note", "smells of rubber"), "noted, entry 2")
    sees(run("photo", picture, "--caption", "crust"), "noted (SHA-256 ")
    run("boat", "Wren", "cooling=raw")
    refused(run("note", "which?"), "does not say which boat", "Tern, Wren")
    sees(run("note", "that one", "--boat", "wren"), "noted")
    refused(run("note", "x", "--case", "9"), "no case '9'")
    refused(run("photo", tmp_path, "--boat", "Wren"), "is a folder")
    refused(run("photo", tmp_path / "ghost.jpg", "--boat", "Wren"), "no such file")
    with Record.open() as record:
        (photo,) = (s.entry for s in record.entries(kinds=("photo",)))
    assert isinstance(photo, e.Photo)
    # SHA-256 of those twenty bytes, by the coreutils program sha256sum
    assert (photo.path, photo.sha256[:16]) == (str(picture), "fe1a4ab1fb634703")


# ------------------------------------------------------------------ cases and findings


def test_the_record_is_read(run: Run, tiny_book: Book) -> None:
    """All boats and cases in lines, one case in full by its id or number, and both as JSON; what was taken back is marked."""
    case = kept(tiny_book, title="It drips", observations=[tiny.observation("pump-weep", "drip", note="brown")])
    with Record.open() as record:
        answer = record.entries(kinds=("observed",))[0]
        record.append(e.TakenBack(entry=answer.id, reason="looked again"), boat="Tern", case=case)
    sees(run("record"), "boat Tern: 1200 engine hours; 1 case, 1 open", "it-drips-1 It drips; open, from", "; stay")
    page = run("record", "1")
    sees(page, "case it-drips-1: It drips", "Drip under the pump: drip (cold) [taken back]", "note: brown", "taken back: looked again",
         "first: Pump seal worn")
    assert run("record", "it-dr").stdout == page.stdout
    data = json.loads(run("record", "it-drips-1", "--json").stdout)
    assert [line["kind"] for line in data["entries"]] == ["case-opened", "observed", "assessed", "taken-back"]
    assert data["entries"][1]["taken_back"] is True
    listed = json.loads(run("record", "--boat", "tern", "--json").stdout)
    assert [(c["case"], c["decision"], c["closed"]) for c in listed["cases"]] == [("it-drips-1", "stay", False)]
    refused(run("record", "ghost"), "no case 'ghost' is in the record", "it-drips-1")


def test_a_finding_moves_the_rates_and_undone_moves_them_back(run: Run, tiny_book: Book) -> None:
    """What it was is kept and its effect on this boat's rates shown in numbers; undone, the numbers are what they were."""
    case = kept(tiny_book, title="It drips")
    refused(run("found", case, "pump-seal-wron"), "fault 'pump-seal-wron' is not in the book", "pump-seal-worn", "--not-in-book")
    refused(run("found", case), "nothing is said of what it was")
    refused(run("found", case, "--undo"), "nothing was found in it yet")
    told = run("found", "1", "pump-seal-worn", "--cost", "160 EUR", "--note", "grooved")
    sees(told, "found it-drips-1: Pump seal worn (certain, 160 EUR)", "found 1 time, so here", "from now on; 1 before")
    assert float(re.findall(r"([\d.]+) times the base rate", told.stdout)[0]) > 1
    rates = json.loads(run("boat", "Tern", "--json").stdout)["own_rates"]
    assert rates["pump-seal-worn"] > 1
    refused(run("found", "1", "pump-seal-worn", "--undo"), "--undo takes back a finding, and says nothing new")
    sees(run("found", "1", "--undo", "--note", "it was the hose"), "taken back: Pump seal worn", "found 0 times", "1 times the base rate")
    assert json.loads(run("boat", "Tern", "--json").stdout)["own_rates"] == {}
    sees(run("found", "1", "--not-in-book", "a rag in the hose"), "not in the book: a rag in the hose")
    sees(run("found", "1", "pump-seal-worn", "--likely"), "(likely)", "not counted pump-seal-worn (it-drips-1): likely, not certain")
    refused(run("found", "1", "pump-seal-worn", "--nothing-wrong"), "say faults, not_in_book, or nothing_wrong")


def other_book(write_rules: Any) -> Path:
    """The tiny book with its first symptom under another name, and nobody told."""
    parts = {name: tiny.text_of(part).replace("pump-weep", "pump-drool") for name, part in tiny.parts().items()}
    folder: Path = write_rules(parts)
    return folder


def test_the_tally_and_the_replay(run: Run, tiny_book: Book, write_rules: Any) -> None:
    """The tally counts the finding, as a page and as JSON; the replay says that the bytes are the same, or exits 3 when they move."""
    case = kept(tiny_book, title="It drips", observations=[tiny.observation("pump-weep", "drip")])
    run("found", case, "pump-seal-worn")
    sees(run("tally"), "1 case in which it is known for certain", "1 of 1 (21 to 100 in 100) had it on the first line", "said")
    data = json.loads(run("tally", "--json", "--boat", "tern").stdout)
    assert (data["cases"], data["first_right"], data["few_right"]) == (1, 1, 1)
    assert sum(b["lines"] for b in data["bands"]) == data["lines"]
    sees(run("replay"), "1 assessment made again", "the same rules, the same bytes")
    (one,) = json.loads(run("replay", case, "--every", "--json").stdout)
    assert (one["outcome"], one["case"]) == ("same", case)
    other = run("replay", "--rules", other_book(write_rules), own_rules=True)
    assert other.exit_code == 3
    assert "cannot be judged any more" in other.stdout


# ------------------------------------------------------------------ files


def test_the_record_as_files_and_back(run: Run, tiny_book: Book, tmp_path: Path) -> None:
    """Exported, imported elsewhere, backed up, checked and restored, the record says the same; nothing gives way unasked."""
    kept(tiny_book, title="It drips")
    with Record.open() as record:
        said = kit.said(record.entries())
    for form in ("yaml", "csv"):
        sees(run("export", tmp_path / form, "--form", form), str(tmp_path / form))
        other = tmp_path / f"{form}.sqlite3"
        sees(run("import", tmp_path / form, "--record", other), f"{len(said)} added, 0 there already")
        sees(run("import", tmp_path / form, "--record", other), f"0 added, {len(said)} there already")
        with Record.open(other) as record:
            assert kit.said(record.entries()) == said
    refused(run("export", tmp_path / "yaml"), "is there already")
    sees(run("export", tmp_path / "yaml", "--replace", "--boat", "tern"), "tern.yaml")
    sees(run("backup", tmp_path / "b.zip"), f"{len(said)} entries, read back and whole")
    sees(run("restore", tmp_path / "b.zip", "--only-check"), f"whole, {len(said)} entries")
    refused(run("restore", tmp_path / "b.zip"), "a record lies here already", "--replace")
    sees(run("restore", tmp_path / "b.zip", "--replace"), "is kept as", "r.sqlite3.before-1")


def test_a_damaged_record_is_told_and_what_is_sound_exported(run: Run, tiny_book: Book, tmp_path: Path) -> None:
    """Every command names the damage and the way out, and the way out works."""
    kept(tiny_book, title="It drips")
    with Record.open() as record:
        record.database.execute("DROP TRIGGER log_is_kept")
        record.database.execute("UPDATE log SET body = 'x' WHERE id = 4")
    for command in (("record",), ("tally",), ("note", "x", "--boat", "Tern"), ("export", tmp_path / "out"), ("backup", tmp_path / "b.zip")):
        refused(run(*command), "entry 4 is not what was written", "--before-damage")
    sees(run("export", tmp_path / "out", "--before-damage"), "tern.yaml", "the record is damaged: read up to entry 3")
    sees(run("import", tmp_path / "out", "--record", tmp_path / "new.sqlite3"), "3 added")


# ------------------------------------------------------------------ text of people

SHOWN = ["markup", "an escape sequence", "line breaks", "reversed text", "a file name", "letters of everywhere"]


@pytest.mark.parametrize("what", SHOWN)
def test_text_of_people_is_printed_literally(what: str, run: Run, tmp_path: Path, tiny_book: Book) -> None:
    """Names, notes, titles, captions and reasons are shown as they are on every page: no markup, no control character is obeyed."""
    text = kit.HOSTILE[what]
    picture = tmp_path / "pictures" / (text.replace("/", "_")[:60] + ".jpg")
    picture.parent.mkdir()
    picture.write_bytes(b"x")
    outputs = [run("boat", text, "cooling=raw", "--hours", "5", "--note", text, "--by", text),
               run("service", text, f"part {text}", "--note", text, "--hours", "5"),
               run("note", text, "--boat", text, "--about", text), run("photo", picture, "--boat", text, "--caption", text)]
    with Record.open() as record:
        case = Case.model_validate(tiny.case(title=text, boat={"name": text}))
        keep_case(record, case, assess(case, tiny_book, next_check=False), next_check=False)
    outputs += [run("found", "1", "--not-in-book", text, "--note", text), run("record"), run("record", "1"), run("boat", text),
                run("tally"), run("replay"), run("record", text), run("hours", text, text), run("boat", text, f"{text}=x"),
                run("found", "1", text), run("export", tmp_path / "out"), run("import", tmp_path / text.replace("/", "_")[:60])]
    for done in outputs:
        assert [c for c in done.output if not c.isprintable() and c != "\n"] == []
    shown = "".join(c for c in text if c.isprintable() and not c.isspace())
    for done in (outputs[5], outputs[6]):
        assert shown in re.sub(r"\s|\N{REPLACEMENT CHARACTER}", "", done.stdout)


@pytest.mark.parametrize("width", ["60", "80", "120"])
def test_pages_fit_their_width(width: str, run: Run, tiny_book: Book) -> None:
    """At 60, 80 and 120 columns every line of every page fits, whatever was written into the record."""
    with Record.open() as record:
        kit.filled(record, kit.HOSTILE["very long"], boat="Tern")
        kit.filled(record, "x" * 500, boat="Wren" * 50)
    kept(tiny_book, title="It drips")
    run("found", "3", "pump-seal-worn")
    for command in (("record",), ("record", "1"), ("record", "2"), ("boat", "Wren" * 50), ("boat", "Tern"), ("tally",),
                    ("replay", "it-drips-3")):
        done = run(*command, "--width", width)
        assert done.exit_code == 0, done.output
        assert max(map(len, done.stdout.splitlines())) <= int(width), command
        assert all(line == line.rstrip() for line in done.stdout.splitlines())


# ------------------------------------------------------------------ help


def examples(name: str) -> list[list[str]]:
    """The lines a command's help gives as examples, as words."""
    command: click.Command = getattr(commands, NAMES[name])
    lines = str(command.help).partition("Example:")[2].splitlines()
    return [shlex.split(line)[1:] for line in lines if line.strip().startswith("diagnose ")]


@pytest.mark.usefixtures("run")
@pytest.mark.parametrize("name", NAMES)
def test_help_is_a_sentence_and_a_line_that_can_be_typed(name: str) -> None:
    """Every command says in a sentence what it does and shows an example of itself."""
    done = CliRunner().invoke(cli.main, [name, "--help"])
    assert done.exit_code == 0
    assert re.search(r"^  [A-Z][^\n]+", done.stdout, re.MULTILINE)
    assert [line[0] for line in examples(name)] == [name]


@pytest.mark.slow
def test_every_example_runs(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The examples of the help, one after another in an empty folder, all do what they say, with the shipped rules."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "crust.jpg").write_bytes(b"x")
    case = load_case(shipped("cases") / "slow-weep.yaml")
    for name in ("boat", "hours", "service", "photo", "note"):
        assert run(*examples(name)[0], own_rules=True).exit_code == 0, name
    with Record.open() as record:
        keep_case(record, case, assess(case, load_rules()))
    for name in ("record", "found", "tally", "replay", "export", "import", "backup", "restore"):
        done = run(*examples(name)[0], own_rules=True)
        assert done.exit_code == 0, (name, done.output)
    shutil.rmtree(tmp_path / "the-record")


def test_how_a_case_ended_is_in_the_list(run: Run, tiny_book: Book) -> None:
    """Closed, it says how, and why it is not proved where it is not; opened again, what it was judged to be stands there as before."""
    case = kept(tiny_book, title="It drips", observations=[tiny.observation("pump-weep", "drip")])
    with Record.open() as record:
        record.append(e.Closed(how="left as it is", unproved="no tester aboard"), boat="Tern", case=case)
    for page in (run("record"), run("record", case)):
        sees(page, "left as it is; not proved: no tester aboard")
    assert "stay" not in run("record").stdout
    with Record.open() as record:
        record.append(e.Reopened(why="It drips again."), boat="Tern", case=case)
    sees(run("record"), "It drips; open, from", "; stay")


def test_the_page_of_a_case_tells_each_end_and_what_came_after(run: Run, tiny_book: Book, tiny_rules: Path, tmp_path: Path) -> None:
    """Closed without proof, opened again, closed proved: each stands on the printed page, with its reason."""
    case = kept(tiny_book, title="It drips", observations=[tiny.observation("pump-weep", "drip")])
    with Record.open() as record:
        for entry in (e.Closed(how="left as it is", unproved="no tester aboard"), e.Reopened(why="a test failed: ten minutes cold"),
                      e.Closed(how="proved: all 3 tests passed")):
            record.append(entry, boat="Tern", case=case)
    run("print", case, "--markdown", "-o", tmp_path / "page.md", "--rules", tiny_rules)
    page = " ".join((tmp_path / "page.md").read_text(encoding="utf-8").split())
    ends = ["Case closed: left as it is. Not proved: no tester aboard", "Case opened again: a test failed: ten minutes cold",
            "Case closed: proved: all 3 tests passed"]
    assert [page.index(end) for end in ends] == sorted(page.index(end) for end in ends)
    assert page.index("CLOSED") < page.index("Proved: all 3 tests passed, ") < page.index("Before she leaves next:")
    with Record.open() as record:
        record.append(e.Reopened(), boat="Tern", case=case)
    run("print", case, "--markdown", "-o", tmp_path / "again.md", "--rules", tiny_rules)
    assert "CLOSED" not in (tmp_path / "again.md").read_text(encoding="utf-8")


def test_a_case_of_the_record_is_judged_by_its_name_or_her_boats(run: Run, tiny_book: Book, tiny_rules: Path) -> None:
    """Its id does, and the name of a boat with one open case; what is on record already is not saved once more."""
    case = kept(tiny_book, title="It drips", observations=[tiny.observation("pump-weep", "drip")])
    pages = {name: run("triage", name, "--rules", tiny_rules).stdout for name in (case, "tern", "1")}
    assert len(set(pages.values())) == 1
    assert "It drips" in pages[case]
    refused(run("triage", case, "--save", "--rules", tiny_rules), "is a case of the record already", f"diagnose resume {case}")
    with Record.open() as record:
        assert record.case_named("TERN").id == case
        other = record.append(e.CaseOpened(title="Tern rumbles", opened_because="routine-look"), boat="Merle").case
        assert record.case_named("tern").id == case  # her one open case, before a case whose id begins so
        assert record.case_named("tern-").id == other
        record.append(e.Closed(how="new seal"), boat="Tern", case=case)
        assert record.case_named("tern").id == other  # she has no open case any more
        with pytest.raises(RecordError, match="no case 'turn' is in the record"):
            record.case_named("turn")
