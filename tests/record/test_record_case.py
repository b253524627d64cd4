"""Cases closed and taken up again, checks set to be due, what a wrong clock does, and the printed page of a case on record."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest
import tiny
from click.testing import CliRunner, Result

from diagnose import assess, cli
from diagnose.case import Case
from diagnose.knowledge.book import Book
from diagnose.record import entries as e
from diagnose.record.keep import keep_case
from diagnose.record.store import Record

COMMANDS = {"close": "recordcase:close", "reopen": "recordcase:reopen", "set-due": "recordcase:set_due"}
TAKES_RULES = {"boat", "service", "found", "set-due", "due", "print", "record"}
Run = Callable[..., Result]


@pytest.fixture
def run(tmp_path: Path, tiny_rules: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Runs a command on a record of its own with the tiny book, in an empty folder, and refuses a trace."""
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    monkeypatch.setenv("DIAGNOSE_RECORD", str(tmp_path / "mine" / "r.sqlite3"))
    for name, place in COMMANDS.items():
        monkeypatch.setitem(cli.COMMANDS, name, place)

    def ran(name: str, *arguments: str | Path) -> Result:
        rules = ["--rules", str(tiny_rules)] if name in TAKES_RULES else []
        done = CliRunner().invoke(cli.main, [name, *map(str, arguments), *rules])
        assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
        return done

    return ran


@pytest.fixture
def case(run: Run, tiny_book: Book) -> str:  # noqa: ARG001
    """A case of the tiny book, judged and kept; its id."""
    judged = Case.model_validate(tiny.case(title="It drips", observations=[tiny.observation("pump-weep", "drip", by="Ana Brock")]))
    with Record.open() as record:
        return keep_case(record, judged, assess(judged, tiny_book)).case


def well(done: Result) -> str:
    """What a command printed that ended well, in one line."""
    assert (done.exit_code, done.stderr) == (0, "")
    return " ".join(done.stdout.split())


def refused(done: Result) -> str:
    """What a command said that was refused."""
    assert (done.exit_code, done.stdout) == (2, "")
    return " ".join(done.stderr.split())


def ahead(days: float) -> datetime:
    """A moment so many days ahead, as a clock that was wrong has it."""
    return datetime.now(timezone.utc) + timedelta(days=days)


def test_a_case_is_closed_and_taken_up_again(run: Run, case: str) -> None:
    """Closing and reopening are kept with their words, change the state that is shown, and are refused where they change nothing."""
    assert "is open already" in refused(run("reopen", case))
    assert "--note: says nothing" in refused(run("close", case, "--note", " "))
    with Record.open() as record, record.hold_case(case):
        assert "open in another session" in refused(run("close", case, "--note", "done"))
    assert "cannot be closed or reopened before" in refused(run("close", case, "--at", "2001-01-01"))
    assert well(run("close", case, "--note", "seal renewed", "--by", "Jon Brock")) == f"{case}: closed"
    with Record.open() as record:
        assert record.cases()[0].closed
        (closed,) = record.entries(kinds=("closed",))
        assert (closed.entry.how, closed.entry.by) == ("seal renewed", "Jon Brock")  # type: ignore[union-attr]
    assert "is closed already" in refused(run("close", case))
    assert well(run("reopen", case, "--note", "damp again")) == f"{case}: reopened"
    assert "no case 'ghost'" in refused(run("close", "ghost"))
    assert [entry["kind"] for entry in json.loads(run("record", case, "--json").stdout)["entries"]][-2:] == ["closed", "reopened"]


def test_a_check_is_set_to_be_due_and_taken_back(run: Run) -> None:
    """A check set by hours or days stands in the list of what is due; taken back, it does not; what is no setting is refused."""
    run("boat", "Tern", "--hours", "1200")
    done = run("set-due", "tern", "rock-pump", "--every-hours", "25", "--every-days", "30")
    assert "every 25 engine hours, every 30 days" in well(done)
    items = [item["id"] for item in json.loads(run("due", "Tern", "--json").stdout)["due"]]
    assert "rock-pump" in items
    assert "check 'rok-pump' is not in the book" in refused(run("set-due", "Tern", "rok-pump", "--every-hours", "5"))
    for wrong in ((), ("--off", "--every-hours", "5")):
        assert "a setting is either made or taken back" in refused(run("set-due", "Tern", "rock-pump", *wrong))
    assert refused(run("set-due", "Tern", "rock-pump", "--every-hours", "0"))
    assert "no longer set" in well(run("set-due", "Tern", "rock-pump", "--off"))
    items = [item["id"] for item in json.loads(run("due", "Tern", "--json").stdout)["due"]]
    assert "rock-pump" not in items
    assert "nothing was set" in refused(run("set-due", "Tern", "rock-pump", "--off"))


def test_an_entry_that_changes_nothing_is_told(run: Run, case: str) -> None:
    """Where entries were made with a clock set ahead, later ones that they outlast are kept with a warning; others without one."""
    with Record.open() as record:
        record.append(e.BoatEntry(at=ahead(40), name="Tern", arrangement={"cooling": "raw"}), boat="Tern")
        record.append(e.HoursEntry(at=ahead(40), engine_hours=1210), boat="Tern")
        record.append(e.ServiceEntry(at=ahead(40), item="drive-belt", hours=1205), boat="Tern")
        record.append(e.Found(at=ahead(40), nothing_wrong=True), boat="Tern", case=case)
        record.append(e.Closed(at=ahead(40), how="x"), boat="Tern", case=case)
    told = (("boat", "Tern", "cooling=sealed"), ("boat", "Tern", "--hours", "1300"), ("hours", "Tern", "1301"),
            ("service", "Tern", "drive-belt", "--hours", "1200"), ("found", case, "pump-seal-worn"), ("reopen", case))
    for command in told:
        done = run(*command)
        assert done.exit_code == 0, done.output
        assert "which is later, and still counts" in done.stderr, command
    for command in (("boat", "Tern", "header-reserve=0.4 L"), ("hours", "Tern", "1100", "--at", "2025-05-03"),
                    ("service", "Tern", "a hose")):
        assert "still counts" not in run(*command).stderr, command


# ------------------------------------------------------------------ on paper


def filled(case: str, picture: Path) -> None:
    """What goes on after a look: an answer taken back and given anew, a belt, a hose, photos, a finding, the end."""
    with Record.open() as record:
        (answer,) = record.entries(kinds=("observed",))
        assert isinstance(answer.entry, e.Observed)
        record.append(e.TakenBack(entry=answer.id, reason="looked again"), boat="Tern", case=case)
        again = answer.entry.observation.model_copy(update={"grade": "damp", "by": None, "when": None})
        record.append(e.Observed(observation=again, by="Ana Brock"), boat="Tern", case=case)
        today = datetime.now().astimezone().date()
        record.append(e.ServiceEntry(item="drive-belt", on=today, cost="18.90 EUR", by="Jon Brock", note="old one glazed"), boat="Tern")
        record.append(e.ServiceEntry(part="hose clip", on=today, cost="1.15 EUR"), boat="Tern")
        record.append(e.ServiceEntry(part="an old lamp", on=today - timedelta(days=400)), boat="Tern")
        sha = hashlib.sha256(picture.read_bytes()).hexdigest()
        record.append(e.Photo(path=str(picture), sha256=sha, caption="brown crust", about="pump-weep"), boat="Tern", case=case)
        record.append(e.Photo(path=str(picture), sha256="0" * 64, caption="another"), boat="Tern", case=case)
        record.append(e.Found(faults=("pump-seal-worn",), cost="160 EUR", note="grooved"), boat="Tern", case=case)
        record.append(e.Closed(how="dry after ten hours"), boat="Tern", case=case)
        record.append(e.ServiceEntry(part="a new flag", on=today), boat="Tern")


def page(run: Run, case: str, *more: str) -> tuple[str, str]:
    """The printed page of a case on record as Markdown without its escapes and in one line, and what was said on stderr."""
    done = run("print", case, "--markdown", "--force", "-o", "p.md", *more)
    assert done.exit_code == 0, done.output
    return " ".join(Path("p.md").read_text(encoding="utf-8").replace("\\", "").split()), done.stderr


def test_a_case_on_record_is_printed_with_what_came_of_it(run: Run, case: str, tmp_path: Path) -> None:
    """The page of a case on record says what was done in its time and by whom, what it was, which answers were changed, who looked,
    and shows its photos; what it cost only where that is asked; one whose photo was exchanged says so and leaves it out."""
    from show.test_report_photos import png

    (tmp_path / "c.png").write_bytes(png())
    assert "Nothing is on record yet" in page(run, case)[0]
    filled(case, tmp_path / "c.png")
    text, said = page(run, case, "--witness", "Mia Thorn")
    for part in ("Drive belt renewed: old one glazed", "hose clip", "Case closed: dry after ten hours", "Done by Jon Brock",
                 "What it was in the end: Pump seal worn (certain): grooved", "drip (cold); taken back on", "looked again", "brown crust",
                 "Ana Brock", "Mia Thorn"):
        assert part in text, part
    for part in ("Nothing is on record yet", "an old lamp", "a new flag", "18.90", "160 EUR"):
        assert part not in text, part
    assert said.count("photo left out") == 1
    assert "is not the photo that the record took note of" in said
    dear, _ = page(run, case, "--costs")
    for part in ("Cost: 18.90 EUR", "20.05 EUR", "160 EUR"):  # 18.90 + 1.15
        assert part in dear, part
    assert page(run, case, "--record", str(tmp_path / "mine" / "r.sqlite3"))[0].partition("printed")[0] == text.partition("printed")[0]


def test_a_name_that_is_nowhere_is_refused(run: Run, case: str, tmp_path: Path) -> None:
    """What is neither a file, nor shipped, nor on record is named; in a record that is named, only that is looked in."""
    assert "is neither a file, nor a shipped case, nor a case of the record" in refused(run("print", "ghost"))
    assert "no case 'slow-weep' is in the record" in refused(run("print", "slow-weep", "--record", tmp_path / "mine" / "r.sqlite3"))
    assert list(Path().iterdir()) == []
    assert run("print", case).exit_code == 0
    assert [p.name for p in Path().iterdir()] == [f"{case}.html"]
