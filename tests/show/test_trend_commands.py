"""The commands as people run them: on the tiny book, with a record of their own, into files."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import click
import pytest
from click.testing import CliRunner, Result

from diagnose.case import Observation
from diagnose.commands.trend import due, trend
from diagnose.errors import InputError
from diagnose.record import entries as e
from diagnose.record.store import Record
from diagnose.record.trouble import RecordError

Run = Callable[..., Result]
LATELY = datetime.now(timezone.utc).replace(microsecond=0) - timedelta(days=100)


@pytest.fixture
def record(tmp_path: Path) -> Path:
    """A boat with five temperatures and three looks at a weep, the last of them twenty days ago, and a check set every ten days."""
    path = tmp_path / "record.sqlite3"
    with Record.open(path) as made, made.writing():
        made.append(e.DueSet(at=LATELY, check="rock-pump", every_days=10), boat="Tern")
        case = made.append(e.CaseOpened(at=LATELY, title="Looks", opened_because="routine-look"), boat="Tern").case
        for i in range(5):
            at = LATELY + timedelta(days=20 * i)
            made.append(e.HoursEntry(at=at, engine_hours=1000 + 20 * i), boat="Tern")
            seen = [Observation(symptom="pump-gauge-high", value=f"{80 + 2 * i} degC", state="under-load"),
                    Observation(symptom="pump-weep", grade=("none", "damp", "drip")[min(i, 2)], state="cold-stopped")]
            for one in seen:
                made.append(e.Observed(at=at, observation=one), boat="Tern", case=case)
    return path


@pytest.fixture
def run(record: Path, tiny_rules: Path) -> Run:
    """Runs a command on that record with the tiny book."""

    def made(command: click.Command, *arguments: str | Path, at: Path | None = None) -> Result:
        where = ["--record", str(at or record), "--rules", str(tiny_rules)]
        return CliRunner().invoke(command, [*map(str, arguments), *where], catch_exceptions=True)

    return made


def data(result: Result) -> Any:
    """The JSON that was printed."""
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def test_trend_tells_and_draws(run: Run) -> None:
    """Ten degrees in 100 h from 80 °C: 91 °C at 1110 h, and 'raised' is where it begins (by hand)."""
    result = run(trend, "tern", "pump-gauge-high", "--width", "60")
    assert result.exit_code == 0
    assert "rises 10 °C in 100 engine hours, and" in result.output
    assert "at about 1110 h" in " ".join(result.output.split())
    assert max(len(line) for line in result.output.splitlines()) <= 60
    assert sum(line.count("o") for line in result.output.splitlines() if " |" in line) >= 5


def test_trend_as_data(run: Run) -> None:
    """The same as JSON: the looks with value, hours and case, the slope an hour, the limit and when it is met."""
    (view,) = data(run(trend, "Tern", "pump-gauge-high", "--json"))
    assert [look["value"] for look in view["looks"]] == [80, 82, 84, 86, 88]
    assert [look["hours"] for look in view["looks"]] == [1000, 1020, 1040, 1060, 1080]
    assert view["slope"]["value"] == pytest.approx(0.1)
    assert view["limit"] == {"value": 91.0, "grade": "raised", "side": "over"}
    assert view["meets"]["at"]["hours"] == pytest.approx(1110)
    assert view["looks"][0]["case"] == "looks-1"
    assert view["hours_a_year_is"] == "own"


def test_trend_by_date(run: Run) -> None:
    """Against the date the slope is a day's: 0.1 °C."""
    (view,) = data(run(trend, "Tern", "pump-gauge-high", "--by", "date", "--json"))
    assert (view["by"], view["slope"]["value"]) == ("date", pytest.approx(0.1))


def test_trend_without_a_symptom_lists(run: Run) -> None:
    """What was looked at is listed, as words and as data."""
    assert "pump-weep: 5 looks" in run(trend, "Tern").output
    assert {s["symptom"]: s["looks"] for s in data(run(trend, "Tern", "--json"))} == {"pump-weep": 5, "pump-gauge-high": 5}


def test_trend_into_a_file(run: Run, tmp_path: Path) -> None:
    """The drawing is written whole, is not written over another unless that is said, and its writing is said."""
    svg = tmp_path / "gauge ü.svg"
    assert "written: " in run(trend, "Tern", "pump-gauge-high", "--svg", svg).output
    assert ElementTree.fromstring(svg.read_text(encoding="utf-8")).tag.endswith("svg")
    refused = run(trend, "Tern", "pump-gauge-high", "--svg", svg)
    assert isinstance(refused.exception, InputError)
    assert "--replace" in refused.exception.right
    assert run(trend, "Tern", "pump-gauge-high", "--svg", svg, "--replace").exit_code == 0
    assert [p.name for p in tmp_path.glob("*.part")] == []


@pytest.mark.parametrize("where", ["missing/file.svg", "."])
def test_a_file_that_cannot_be_written_is_named(where: str, run: Run, tmp_path: Path) -> None:
    """A folder that is not there, or the name of a folder, is said and nothing is printed as if it were done."""
    result = run(trend, "Tern", "pump-gauge-high", "--svg", tmp_path / where)
    assert isinstance(result.exception, InputError)
    assert "written" not in result.output


@pytest.mark.parametrize(("arguments", "words"), [
    (["Turn", "pump-weep"], "Tern"), (["Tern", "pump-weap"], "pump-weep"), (["Tern", "pump-play"], "pump-gauge-high or pump-weep"),
    (["Tern", "pump-weep", "--state", "idle"], "cold-stopped"),
])
def test_a_wrong_name_is_answered_with_the_nearest(arguments: list[str], words: str, run: Run) -> None:
    """A boat, a symptom or a state that is not there is refused with what is."""
    error = run(trend, *arguments).exception
    assert isinstance(error, InputError | RecordError)
    assert words in error.right


def test_due_tells_with_reasons(run: Run) -> None:
    """The check set is past, the look-over is owed, the limit is near: each is told with its why."""
    text = " ".join(run(due, "Tern", "--width", "80").output.split())
    for words in ("now due since", "for every 10 days; not made since.", "to leave before she leaves", "meets 91 °C at about 1110 h",
                  "not told"):
        assert words in text


def test_due_as_data_and_as_calendar(run: Run, tmp_path: Path) -> None:
    """JSON holds the list in order: the check set for every ten days is past, the look-over is owed, and at an hour a day the limit at
    1110 h is ten days off. The calendar file holds as many entries, and its lines end as RFC 5545 asks."""
    items = data(run(due, "Tern", "--json"))["due"]
    assert [(item["kind"], item["overdue"]) for item in items] == [("set", True), ("look-over", False), ("trend", False)]
    ics = tmp_path / "tern.ics"
    assert "written: " in run(due, "Tern", "--calendar", ics).output
    raw = ics.read_bytes()
    assert raw.startswith(b"BEGIN:VCALENDAR\r\n")
    assert raw.count(b"\n") == raw.count(b"\r\n")
    assert raw.count(b"BEGIN:V") - 1 == len(items)


def test_reading_leaves_the_record_as_it_is(run: Run, record: Path) -> None:
    """Neither command writes into the record."""
    before = record.read_bytes()
    run(trend, "Tern", "pump-weep")
    run(due, "Tern")
    assert record.read_bytes() == before


def test_no_record_is_said(run: Run, tmp_path: Path) -> None:
    """Without a record the commands say so."""
    for command, arguments in ((trend, ["Tern", "pump-weep"]), (due, ["Tern"])):
        assert isinstance(run(command, *arguments, at=tmp_path / "none.sqlite3").exception, RecordError)


@pytest.mark.parametrize("command", [trend, due])
def test_help_has_an_example(command: click.Command) -> None:
    """Each command shows a line that can be typed."""
    assert "Example:" in str(command.help)
