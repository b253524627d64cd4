"""What was learned, as people tell it and as the next plan takes it up: a file, a shipped case, a case of the record."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from diagnose import assess
from diagnose.case import Case, load_case
from diagnose.cli import main
from diagnose.commands.common import case_path
from diagnose.commands.told import book_for, told_case
from diagnose.errors import InputError
from diagnose.knowledge.load import load_rules
from diagnose.knowledge.own import load_own
from diagnose.record.keep import keep_case
from diagnose.record.store import Record
from diagnose.work.results import OrderList, Plan

CASE, BOAT = "two-faults", "Ashling Grey"
STEP = "renew-impeller/draw"


@pytest.fixture
def record(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The place of a record of one's own, empty as yet."""
    path = tmp_path / "mine" / "r.sqlite3"
    monkeypatch.setenv("DIAGNOSE_RECORD", str(path))
    return path


@pytest.fixture
def kept(record: Path) -> str:  # noqa: ARG001
    """The shipped case kept in the record; its id there."""
    case = load_case(case_path(CASE))
    with Record.open() as log:
        return keep_case(log, case, assess(case, load_rules(), next_check=False)).case


def run(*arguments: str | Path) -> Result:
    """One command, its output caught; no trace is borne."""
    done = CliRunner().invoke(main, list(map(str, arguments)))
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done


def well(*arguments: str | Path) -> str:
    """What a command printed that ended well, in one line."""
    done = run(*arguments)
    assert (done.exit_code, done.stderr) == (0, "")
    return " ".join(done.stdout.split())


def refused(*arguments: str | Path) -> str:
    """What a command said that was refused, in one line."""
    done = run(*arguments)
    assert (done.exit_code, done.stdout) == (2, "")
    return " ".join(done.stderr.split())


def planned(*arguments: str | Path) -> Plan:
    """The plan that a command gives as JSON."""
    done = run("plan", *arguments, "--json")
    assert done.exit_code == 0, done.stderr
    return Plan.model_validate_json(done.stdout)


def step_of() -> Any:
    """The step as the shipped book has it."""
    job, _, name = STEP.partition("/")
    return next(s for s in load_rules().jobs[job].steps if s.id == name)


# ------------------------------------------------------------------ round trip


def test_what_was_learned_is_in_the_next_plan(kept: str, record: Path) -> None:
    """Told once by the command, it is taken up by the next plan of the boat's case, which says so, and by no plan of the shipped case."""
    before = planned(kept)
    told = well("learned", "ashling grey", STEP, "--first-time", f"{step_of().minutes.first_time + 25:g}", "--access", "by the locker",
                "--by", "Mia Thorn")
    assert "access: by the locker" in told
    assert "Mia Thorn" in told
    file = record.parent / "own" / "ashling-grey.yaml"
    assert load_own(file).boat == BOAT  # as the record spells her
    done = run("plan", kept, "--json")
    assert done.stderr.strip() == f"with what was learned on {BOAT}: {file}"
    after = Plan.model_validate_json(done.stdout)
    assert sum(t.first_time for t in after.tasks) - sum(t.first_time for t in before.tasks) == pytest.approx(25)
    assert "on this boat: access: by the locker" in next(str(t.own) for t in after.tasks if t.id == STEP)
    assert well("plan", kept).startswith(f"with what was learned on {BOAT}: {file} PLAN")
    assert planned(CASE) == before.model_copy(update={"title": planned(CASE).title})


@pytest.mark.parametrize("arguments", [("plan", CASE), ("parts", CASE), ("also", CASE), ("ways", CASE), ("ways", "impeller-vanes-torn"),
                                       ("ways", "impeller-vanes-torn", "--case", CASE), ("wait", CASE, "impeller-vanes-torn")])
def test_every_command_takes_the_file_that_is_named(arguments: tuple[str, ...], tmp_path: Path, record: Path) -> None:  # noqa: ARG001
    """With --own the answer is of this boat: it says so, on the page above it and beside JSON on stderr, and it differs."""
    file = tmp_path / "own.yaml"
    well("learned", BOAT, "raw-pump-cover-off", "--minutes", "400", "--own", file)
    well("learned", BOAT, "seacock-shut", "--minutes", "30", "--own", file)
    well("learned", BOAT, "impeller", "--is", "the long one", "--own", file)
    page = run(*arguments, "--own", file)
    assert page.exit_code == 0, page.stderr
    assert page.stdout.startswith("with what was learned on ")
    assert str(file) in page.stdout.splitlines()[0]
    made = run(*arguments, "--own", file, "--json")
    assert str(file) in made.stderr
    assert json.loads(made.stdout) != json.loads(run(*arguments, "--json").stdout)


def test_a_variant_is_no_longer_asked(tmp_path: Path, record: Path) -> None:  # noqa: ARG001
    """The order of the boat names the one it takes."""
    file = tmp_path / "own.yaml"
    plain = {x.part: x for x in OrderList.model_validate_json(run("parts", CASE, "--json").stdout).lines}
    well("learned", BOAT, "impeller", "--is", "the one with ten vanes", "--own", file)
    mine = {x.part: x for x in OrderList.model_validate_json(run("parts", CASE, "--own", file, "--json").stdout).lines}
    assert plain["impeller"].variants
    assert mine["impeller"].variants == ()
    assert "on this boat: the one with ten vanes" in mine["impeller"].notes


def test_the_case_is_judged_as_on_any_boat(kept: str) -> None:
    """Chances are those of the plain book, whatever the work takes here."""
    before = {c.job: c.needed for c in planned(kept).choice.chosen}
    well("learned", BOAT, STEP, "--minutes", str(step_of().minutes.skilled + 5))
    assert {c.job: c.needed for c in planned(kept).choice.chosen} == before


# ------------------------------------------------------------------ the command itself


def test_it_shows_what_the_file_holds(tmp_path: Path, record: Path) -> None:  # noqa: ARG001
    """Nothing yet; all that counts, the later over the earlier; one thing alone; as JSON every item."""
    file = tmp_path / "own.yaml"
    assert "Nothing was learned on Ashling Grey yet" in well("learned", BOAT, "--own", file)
    assert run("learned", BOAT, "--own", file, "--json").stdout.strip() == "{}"
    assert not file.exists()
    well("learned", BOAT, STEP, "--note", "old words", "--tool", "mirror", "--tool", "crowfoot", "--own", file)
    well("learned", BOAT, STEP, "--note", "new words", "--hands", "2", "--holds", "the stay", "--own", file)
    well("learned", BOAT, "seacock-shut", "--restore-minutes", "3", "--own", file)
    shown = well("learned", BOAT, "--own", file)
    for text in ("3 items", "note: new words", "wanted too: mirror, crowfoot", "2 pairs of hands", "holds more than one thing: the stay",
                 "putting it back takes 3 min (the book says 1 min)"):
        assert text in shown, text
    assert "old words" not in shown
    assert "new words" not in well("learned", BOAT, "seacock-shut", "--own", file)
    listed = json.loads(run("learned", BOAT, "--own", file, "--json").stdout)
    assert [i.get("note") for i in listed["learned"]] == ["old words", "new words", None]


def test_remarks_in_the_file_are_kept(tmp_path: Path, record: Path) -> None:  # noqa: ARG001
    """What people wrote into it stands there as before, to the byte."""
    file = tmp_path / "own.yaml"
    text = f"# our boat\nschema: 1\nboat: {BOAT}   # as painted\nlearned:\n  # the pump\n  - part: impeller\n    is: 'ten  vanes'\n# end\n"
    file.write_text(text, encoding="utf-8")
    well("learned", BOAT, STEP, "--note", "x", "--own", file)
    assert file.read_text(encoding="utf-8").startswith(text)


def test_hostile_text_is_shown_and_kept_as_it_was_typed(kept: str, record: Path) -> None:
    """On the command's page and on the plan no control character gets out; the file holds what was typed."""
    text = "[/b] \x1b[31mred\x1b[0m {braces} %s \u202e=1+1 no: 'x' \"y\" # z"
    for arguments in (("learned", BOAT, STEP, "--note", text, "--access", text, "--holds", text, "--tool", text, "--by", text),
                      ("learned", BOAT, "impeller", "--is", text), ("plan", kept)):
        done = run(*arguments)
        assert done.exit_code == 0, done.stderr
        assert "[/b]" in done.stdout
        assert [c for c in done.stdout if not c.isprintable() and c != "\n"] == []
    first, second = load_own(record.parent / "own" / "ashling-grey.yaml").learned
    assert set(map(str, first.said.values())) == {text, str((text,))}
    assert second.said == {"is_": text}


@pytest.mark.parametrize(("arguments", "says"), [
    (("renew-impelle/draw", "--note", "x"), "is no job of the book right would be: renew-impeller"),
    (("renew-impeller/look-insde", "--note", "x"), "right would be: renew-impeller/look-inside"),
    (("renew-impeller", "--note", "x"), "names no step of 'renew-impeller'"),
    (("seacock-shu", "--note", "x"), "seacock-shut"),
    (("impellers", "--is", "x"), "right would be: impeller"),
    (("impeller", "--minutes", "3"), "--minutes is not told of a part right would be: --is, --note"),
    (("seacock-shut", "--first-time", "3"), "--first-time is not told of a set-up"),
    ((STEP, "--is", "x"), "--is is not told of a step"),
    ((STEP, "--minutes", "9", "--first-time", "8"), "the first time takes no less than a practised hand"),
    ((STEP, "--minutes", "nan"), "minutes"), ((STEP, "--minutes", "0"), "greater than 0"), ((STEP, "--hands", "3"), "--hands"),
    ((STEP, "--note", " "), "at least 1 character"), ((STEP, "--by", "Mia"), "nothing is said"), (("--note", "x"), "a step as job/step"),
])
def test_what_is_wrong_is_said_and_nothing_is_kept(arguments: tuple[str, ...], says: str, tmp_path: Path, record: Path) -> None:  # noqa: ARG001
    """With the nearest name, or the options that go with it; no file is made."""
    file = tmp_path / "own.yaml"
    assert says in refused("learned", BOAT, *arguments, "--own", file)
    assert not file.exists()


def test_a_name_that_the_record_does_not_know_is_refused(kept: str, record: Path) -> None:  # noqa: ARG001
    """A boat mistyped would have a file that no plan reads: the nearest is named. Without a record the file is made where one would be."""
    assert f"right would be: {BOAT}" in refused("learned", "Ashling Gray", STEP, "--note", "x")
    assert not (record.parent / "own").exists()


def test_without_a_record_the_file_is_made_where_one_would_be(record: Path) -> None:
    """The record may come later; one that is named must be there."""
    well("learned", "Brindle", STEP, "--note", "x")
    assert (record.parent / "own" / "brindle.yaml").is_file()
    assert "there is no record here" in refused("learned", "Brindle", STEP, "--note", "x", "--record", record)


def test_another_boats_file_is_refused(tmp_path: Path, record: Path) -> None:  # noqa: ARG001
    """By the command that adds, by the one that shows, and by the plan of another boat's case."""
    file = tmp_path / "own.yaml"
    well("learned", "Brindle", STEP, "--note", "x", "--own", file)
    before = file.read_bytes()
    for arguments in (("learned", BOAT, STEP, "--note", "x"), ("learned", BOAT), ("plan", CASE)):
        assert f"is the file of 'Brindle', not of '{BOAT}'" in refused(*arguments, "--own", file)
    assert file.read_bytes() == before


def test_a_broken_file_is_named_with_its_line(kept: str, record: Path) -> None:
    """By the plan that would take it up, and by the command that would add to it; what is not well-formed, and what the book does not
    know, with the nearest name."""
    file = record.parent / "own" / "ashling-grey.yaml"
    file.parent.mkdir()
    for text, line, says in (("learned: [\n", 4, "is not well-formed YAML"),
                             ("learned:\n  - job: renew-impeller\n    step: look-insde\n    note: x\n", 5, "look-inside")):
        file.write_text(f"schema: 1\nboat: {BOAT}\n{text}", encoding="utf-8")
        for arguments in (("plan", kept), ("learned", BOAT, STEP, "--note", "x"), ("learned", BOAT)):
            said = refused(*arguments)
            assert f"{file}, line {line}" in said
            assert says in said
    assert "no such file" in refused("plan", CASE, "--own", record.parent / "none.yaml")


# ------------------------------------------------------------------ which case, which book


def test_a_case_of_the_record_is_told_by_its_name_there(kept: str, record: Path, tmp_path: Path) -> None:
    """By its id, by the beginning of it, and in a record that is named only there; what is nowhere is said."""
    book = load_rules()
    told = told_case(kept, book, None, next_check=False)
    assert (told.name, told.boat) == (kept, BOAT)
    assert told.record is not None
    assert told.record.path == record
    assert told_case(kept, book, record, next_check=False).assessment == told.assessment
    assert told_case(CASE, book, None, next_check=False).record is None
    assert "no case 'slow-weep' is in the record" in refused("plan", "slow-weep", "--record", record)
    assert "nor a case of the record" in refused("ways", "nothing-of-the-kind")
    assert "there is no record here" in refused("wait", kept, "impeller-vanes-torn", "--record", tmp_path / "none.sqlite3")


def test_the_book_for_a_boat(kept: str, record: Path, tmp_path: Path) -> None:  # noqa: ARG001
    """The plain book itself where nothing was learned; her own beside the record; the one that is named before that; of a boat whose
    name is not told, any."""
    book = load_rules()
    assert book_for(BOAT, None, record, book) == (book, None)
    well("learned", BOAT, "seacock-shut", "--minutes", "7")
    well("learned", BOAT, "seacock-shut", "--minutes", "9", "--own", tmp_path / "o.yaml")
    beside, named = record.parent / "own" / "ashling-grey.yaml", tmp_path / "o.yaml"
    assert book_for(BOAT, None, None, book) == (book, None)
    assert book_for("Brindle", None, record, book) == (book, None)
    for own, file, minutes in ((None, beside, 7), (named, named, 9)):
        made, found = book_for("ashling  GREY", own, record, book)
        assert (found, made.words.setups["seacock-shut"].minutes) == (file, minutes)
    assert book_for(None, named, None, book)[1] == named
    with pytest.raises(InputError, match="not of 'Brindle'"):
        book_for("Brindle", named, record, book)
    named.write_text("boat: [", encoding="utf-8")
    with pytest.raises(InputError) as broken:
        book_for(BOAT, named, None, book)
    assert "o.yaml" in broken.value.where
    assert broken.value.right.endswith("or move it away, to go on without what was learned on her")
    assert book.words.setups["seacock-shut"].minutes == 1


def test_a_boat_without_a_name_takes_the_file_that_is_named(tmp_path: Path, record: Path) -> None:  # noqa: ARG001
    """A case that does not tell the boat's name is no other boat's."""
    case = tmp_path / "case.yaml"
    text = case_path(CASE).read_text(encoding="utf-8").replace("  name: Ashling Grey\n", "").partition("expect:")[0]
    case.write_text(text, encoding="utf-8")
    assert load_case(case).boat.name == Case(opened_because="routine-look").boat.name
    well("learned", BOAT, "seacock-shut", "--minutes", "9", "--own", tmp_path / "o.yaml")
    assert well("plan", case, "--own", tmp_path / "o.yaml").startswith("with what was learned on this boat: ")


def test_the_schema_of_the_file_is_printed() -> None:
    """For editors, with the book's names as choices."""
    schema = json.loads(run("schema", "own").stdout)
    assert "renew-impeller" in schema["$defs"]["OwnStep"]["properties"]["job"]["enum"]


def test_the_help_gives_a_line_that_can_be_typed() -> None:
    """With an example."""
    done = run("learned", "--help")
    assert "Example:" in done.stdout
    assert 'diagnose learned "Ashling Grey"' in done.stdout
