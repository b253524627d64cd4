"""The commands of the job as people run them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from diagnose.cli import main
from diagnose.work.orders import from_csv


@pytest.fixture(autouse=True)
def no_record(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """There is no record in which a case could lie."""
    monkeypatch.setenv("DIAGNOSE_RECORD", str(tmp_path / "none.sqlite3"))


def run(*arguments: str) -> Result:
    """One command, its output caught."""
    return CliRunner().invoke(main, list(arguments))


CASE = "two-faults"


@pytest.mark.parametrize("arguments", [("plan", CASE), ("plan", CASE, "--hands", "2", "--practised", "--extras", "--until", "port"),
                                       ("parts", CASE), ("ways", CASE), ("also", CASE), ("wait", CASE, "impeller-vanes-torn"),
                                       ("ways", "impeller-vanes-torn"), ("ways", "impeller-vanes-torn", "--case", CASE)])
def test_each_command_prints_a_page(arguments: tuple[str, ...]) -> None:
    """A page in the width asked for."""
    page = run(*arguments, "--width", "70")
    assert page.exit_code == 0, page.output
    assert max(map(len, page.output.splitlines())) <= 70


@pytest.mark.parametrize("arguments", [("plan", CASE), ("ways", CASE), ("wait", CASE, "impeller-vanes-torn")])
def test_each_kind_of_result_is_told_to_a_machine(arguments: tuple[str, ...]) -> None:
    """JSON that reads back."""
    found = run(*arguments, "--json")
    assert found.exit_code == 0
    assert json.loads(found.output) is not None


def test_the_table_is_written_and_reads_back(tmp_path: Path) -> None:
    """--csv writes what --json says; a folder in its place is an error with a message."""
    table = tmp_path / "parts.csv"
    told = json.loads(run("parts", CASE, "--csv", str(table), "--json").output)
    rows = from_csv(table.read_bytes().decode("utf-8"))
    assert [r.model_dump(mode="json") for r in rows] == told["lines"]
    assert rows
    assert run("parts", CASE, "--csv", str(tmp_path / "none" / "parts.csv")).exit_code == 2


@pytest.mark.parametrize(("arguments", "says"), [
    (("plan", "two-fault"), "two-faults"), (("wait", CASE, "impeller-vanes-tornn"), "impeller-vanes-torn"),
    (("plan", CASE, "--job", "renew-impellers"), "renew-impeller"), (("ways", "nothing-of-the-kind"), "neither a file nor a shipped case"),
    (("plan", CASE, "--hands", "3"), "3"), (("plan", CASE, "--until", "never"), "season")])
def test_what_is_wrong_is_said_with_what_would_be_right(arguments: tuple[str, ...], says: str) -> None:
    """A mistyped case, fault or job names the nearest; options out of range are refused; the status is 2."""
    found = run(*arguments)
    assert found.exit_code == 2
    assert says in found.output + found.stderr


@pytest.mark.parametrize("name", ["plan", "parts", "ways", "also", "wait"])
def test_help_holds_an_example(name: str) -> None:
    """Each help text gives a line that can be typed."""
    found = run(name, "--help")
    assert "Example:" in found.output
    assert f"diagnose {name}" in found.output
