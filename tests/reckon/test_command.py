"""`diagnose reckon` as people use it: listed, explained, asked for what it lacks, printed in any width, read by a machine."""

from __future__ import annotations

import json
import os
import re
import select
import shlex
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
import tiny
from click.testing import CliRunner, Result

from diagnose.cli import main
from diagnose.knowledge.load import load_rules
from diagnose.reckon.run import Reckoned, reckon
from diagnose.show.figures import value_words
from diagnose.show.reckonpage import about_page, list_page, reckon_page

ROOT = Path(__file__).parents[2]
BOOK = load_rules()
DRIPS = ("drip-rate", "drops=20", "time=1 minute", "drop_volume=0.05 mL")


def run(*arguments: str) -> Result:
    """The command with no terminal: what it is given is all there is."""
    return CliRunner().invoke(main, ["reckon", *arguments])


def whole(text: str) -> str:
    """Text with its line breaks and indents taken out, also where a line was broken at a hyphen."""
    return re.sub(r"(?<=\w)-\s+(?=\w)", "-", " ".join(text.split()))


# ------------------------------------------------------------------ what there is


def test_without_a_name_all_are_listed() -> None:
    """Every calculation stands in the list once, under the title of its family, with what it is."""
    done = run("--width", "120")
    assert done.exit_code == 0
    for family in BOOK.calculation_lists:
        assert done.output.count(family.title.upper() + "\n") == 1
    for calculation in BOOK.calculations.values():
        assert len(re.findall(rf"^  {calculation.id} +\S", done.output, flags=re.MULTILINE)) == 1
        assert calculation.title in whole(done.output)


@pytest.mark.parametrize("name", ["drip-rate", "cooling-shows", "trend-line", "level-fall", "exhaust-hose-heat"])
def test_about_says_what_is_asked_and_given(name: str) -> None:
    """What it is for, every input with its question, bounds, choices and default, the formula, the figures, an example that works."""
    calculation = BOOK.calculations[name]
    said = whole(run(name, "--about", "--width", "200").output)
    assert calculation.use in said
    assert calculation.formula in said
    for key, asked in calculation.asks.items():
        assert f"{key} {asked.ask}" in said
        for choice, words in (asked.choices or {}).items():
            assert f"{choice} = {words}" in said
        if asked.why:
            assert asked.why in said
    for gives in calculation.gives:
        assert gives.title in said
    for note in calculation.notes:
        assert note in said
    assert f"diagnose reckon {name} " in said


def test_the_example_shown_can_be_typed() -> None:
    """The line that --about shows as an example, put through a shell's splitting, gives figures."""
    for calculation in list(BOOK.calculations.values())[::9]:
        page = about_page(calculation, BOOK, 5000).text()
        line = next(text for text in page.splitlines() if "diagnose reckon" in text)
        done = run(*shlex.split(line.partition("diagnose reckon ")[2]))
        assert done.exit_code == 0, done.output


def test_about_needs_no_numbers() -> None:
    """Asked what it is for, it does not ask back, whatever else is given."""
    assert run("drip-rate", "drops=20", "--about").exit_code == 0


# ------------------------------------------------------------------ the result


def test_page_of_a_result() -> None:
    """Twenty drops of 0.05 mL a minute are 60 mL an hour and 1.44 L a day; inputs, formula, doubt, notes, cautions and source are there."""
    done = run(*DRIPS, "--width", "100")
    said = whole(done.output)
    assert done.exit_code == 0
    assert re.search(r"Leak rate: 60 .*mL/hour, or 1\.44? .*L/day", said)
    for part in ("How many drops did you count? 20", "In what time? 60 s", "leak rate = drops x size of a drop / time",
                 "How large is a drop?", BOOK.cautions["belts-turning"].text, "common practice"):
        assert part in said


def test_what_was_taken_is_said_with_its_reason() -> None:
    """Left out, the size of a drop is taken and printed with why; given, it is not."""
    why = BOOK.calculations["drip-rate"].asks["drop_volume"].why
    assert str(why) in whole(run(*DRIPS[:3]).output)
    assert str(why) not in whole(run(*DRIPS).output)


def test_names_may_be_typed_with_either_dash() -> None:
    """drop-volume and drop_volume are the same input."""
    assert run(*DRIPS[:3], "drop-volume=0.05 mL").output == run(*DRIPS).output


RESULT = {"calculation": str, "title": str, "inputs": list, "figures": list}
INPUT = {"name": str, "ask": str, "text": str, "value": (float, str, list, type(None)), "unit": str, "sigma": float,
         "taken": (str, type(None)), "share": float}
FIGURE = {"name": str, "title": str, "values": list, "word": (str, type(None)), "or_else": list}
TOLD = {"value": float, "below": float, "above": float, "unit": str}


def fits(part: dict[str, Any], schema: dict[str, Any]) -> bool:
    """Whether an object has exactly these keys, each of its type."""
    return list(part) == list(schema) and all(isinstance(part[key], kind) for key, kind in schema.items())


@pytest.mark.parametrize("name", list(BOOK.calculations)[::2])
def test_json_keeps_its_form(name: str) -> None:
    """For every second calculation the same keys in the same order with the same types, and nothing but strict JSON."""
    given = [f"{key}={value}" for key, value in BOOK.calculations[name].examples[0].given.items()]
    done = run(name, *given, "--json")
    assert done.exit_code == 0

    def no_such_number(text: str) -> float:
        raise AssertionError(f"{text} is not JSON")

    result = json.loads(done.output, parse_constant=no_such_number)
    assert fits(result, RESULT)
    assert [given_in["name"] for given_in in result["inputs"]] == list(BOOK.calculations[name].asks)
    assert all(fits(given_in, INPUT) for given_in in result["inputs"])
    assert [figure["name"] for figure in result["figures"]] == [g.name for g in BOOK.calculations[name].gives]
    for figure in result["figures"]:
        assert fits(figure, FIGURE)
        assert all(fits(told, TOLD) for told in figure["values"])
        assert bool(figure["values"]) != (figure["word"] is not None)


def test_json_holds_what_the_page_shows() -> None:
    """The machine gets unrounded what the person reads rounded."""
    result = json.loads(run(*DRIPS, "--json").output)
    values = {told["unit"]: told["value"] for told in result["figures"][0]["values"]}
    assert values == pytest.approx({"mL/hour": 60.0, "L/day": 1.44}, rel=1e-12)


@pytest.mark.parametrize(("value", "below", "above", "unit", "words"), [
    (25.0, 1.16, 1.16, "L/min", "25.0 ± 1.2 L/min"), (103.2, 27.0, 26.0, "degC", "103 ± 27 °C"),
    (0.08321, 0.02, 0.02, "mL", "0.083 ± 0.020 mL"), (18234.0, 1234.0, 1234.0, "1", "18200 ± 1200"),
    (-0.85, 0.05, 0.05, "V", "-0.850 ± 0.050 V"), (3.14159, 0.0, 0.0, "m^2", "3.142 m²"),
    (33.0, 16.0, 40.0, "minute", "33 minute (17 to 73)"), (5.0, 0.0, 2.0, "N*m", "5.0 N m (5.0 to 7.0)"),
])
def test_figures_are_told_to_the_digits_they_have(value: float, below: float, above: float, unit: str, words: str) -> None:
    """Two digits of the doubt and the figure to the same place (JCGM 100, 7.2.6); by its ends where one side is half as long again."""
    assert value_words(value, below, above, unit) == words


# ------------------------------------------------------------------ what is wrong

WRONG: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    # what: the arguments; what the message must hold
    "an unknown calculation": (("drip-rat",), ("no calculation 'drip-rat'", "drip-rate")),
    "an unknown name": ((*DRIPS, "colour=3"), ("drip-rate", "'colour' is not asked for here")),
    "a mistyped name": ((*DRIPS[:3], "drop_volum=0.05 mL"), ("'drop_volum' is not asked for here", "drop_volume")),
    "something missing": (("drip-rate", "drops=20"), ("drip-rate", "still wanted: time", "time=")),
    "no equals sign": (("drip-rate", "drops"), ("'drops' has no equals sign", 'name="number unit"')),
    "twice": (("drip-rate", "drops=20", "drops=30"), ("'drops' is given twice",)),
    "twice under both spellings": ((*DRIPS, "drop-volume=0.06 mL"), ("'drop-volume' is given twice",)),
    "no unit": (("drip-rate", "drops=20", "time=60"), ("time", "'60' has no unit", "such as '60 s'")),
    "a wrong unit": (("drip-rate", "drops=20", "time=60 L"), ("'L' does not measure this", "a unit like s")),
    "an impossible number": (("drip-rate", "drops=-3", "time=60 s"), ("-3 1 cannot be", "between 0 and 5000")),
    "a comma": (("drip-rate", "drops=20", "time=1,5 minute"), ("comma", "a point for the decimals")),
    "a word for a choice": (("warm-up-time", "trouble=sick"), ("still wanted",)),
}


@pytest.mark.parametrize("what", WRONG)
def test_what_is_wrong_is_said_once(what: str) -> None:
    """Exit status 2, a message of what is wrong and what would be right, nothing on stdout, no traceback."""
    arguments, said = WRONG[what]
    done = run(*arguments)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert done.stderr.count("diagnose:") == 1
    for part in said:
        assert part in done.stderr, done.stderr


def test_what_is_wanted_can_be_typed_as_it_is_proposed() -> None:
    """With no terminal nothing is asked; what the message proposes, typed as it stands, gives a result."""
    done = run("drip-rate")
    proposed = shlex.split(done.stderr.partition("right would be: ")[2].strip())
    assert done.exit_code == 2
    assert run("drip-rate", *proposed).exit_code == 0


HOSTILE = (
    "\x1b[2J\x1b[31mred", "[bold]x[/bold]", "{0}%s%n", "\u202eright to left", "a\nb", "9" * 400, "-" * 300, "💧 L", "nan", "inf", "1e999",
    "\u200b", "10 L; rm -rf /", "__import__('os')", "60 s ± " + "9" * 400, "60 s ± nan", "60 ** 9 s", "60 s" + "/s" * 50,
)


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
@pytest.mark.parametrize("place", ["name", "key", "value"])
def test_hostile_text_is_printed_and_not_obeyed(place: str, text: str) -> None:
    """Control signs, markup, formats, code and endless numbers, as name, key or value: refused in words or reckoned, printed as text."""
    arguments = {"name": (text,), "key": ("drip-rate", f"{text}=3"), "value": ("drip-rate", "drops=20", f"time={text}")}[place]
    done = run("--", *arguments)
    assert done.exit_code in (0, 2)
    assert done.exception is None or isinstance(done.exception, SystemExit)
    assert "Traceback" not in done.output
    assert all(c.isprintable() or c == "\n" for c in done.output)


# ------------------------------------------------------------------ widths

WIDTHS = (40, 41, 60, 80, 120)


def widest(text: str, width: int) -> list[str]:
    """Lines that do not fit."""
    return [line for line in text.splitlines() if len(line) > width]


@pytest.fixture(scope="module")
def made() -> dict[str, Reckoned]:
    """The first example of every calculation, worked."""
    return {c.id: reckon(c, c.examples[0].given) for c in BOOK.calculations.values()}


@pytest.mark.parametrize("width", WIDTHS)
def test_no_page_is_wider_than_asked(width: int, made: dict[str, Reckoned]) -> None:
    """From 40 columns to 120 no line of the list, of an explanation or of a result is longer, for any calculation of the book."""
    over = widest(list_page(BOOK, width).text(), width)
    for calculation in BOOK.calculations.values():
        over += widest(about_page(calculation, BOOK, width).text(), width)
        over += widest(reckon_page(made[calculation.id], calculation, BOOK, width).text(), width)
    assert over == []


def test_the_width_asked_for_is_the_width_printed() -> None:
    """--width reaches the page, and a narrower page says the same words."""
    narrow, wide = (run(*DRIPS, "--width", str(width)).output for width in (60, 120))
    assert widest(wide, 60)
    assert widest(narrow, 60) == []
    assert whole(narrow) == whole(wide)


# ------------------------------------------------------------------ on a terminal


@pytest.fixture(scope="module")
def drips(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small book, quick to read, with one calculation."""
    one = {
        "id": "drip-rate", "title": "From drops to a rate", "use": "A slow leak over a day.", "by": "drips.drop_rate",
        "asks": {
            "drops": {"ask": "How many drops?", "unit": "1", "possible": [0, 5000], "sigma": 1},
            "time": {"ask": "In what time?", "unit": "s", "possible": [5, 86400], "sigma": 1},
            "drop_volume": {"ask": "How large is a drop?", "unit": "mL", "takes": "m^3", "possible": [0.01, 0.4], "default": 0.05,
                            "why": "By convention.", "source": "common-practice"},
        },
        "gives": [{"name": "rate", "title": "Leak rate", "unit": "mL/hour", "takes": "m^3/s"}],
        "formula": "drops x size of a drop / time", "source": "common-practice",
        "examples": [{"given": {"drops": "60", "time": "60 s"}, "gives": {"rate": "180 mL/hour"}, "within": 0.01,
                      "source": "common-practice"}],
    }
    family = {"schema": 1, "family": "drips", "title": "Drips", "calculations": [one]}
    return tiny.write(tmp_path_factory.mktemp("drips"), {**tiny.parts(), "calculations/drips.yaml": family})


def on_a_terminal(arguments: list[str], answers: list[str], until: float = 60.0) -> tuple[int, str]:
    """The command on a pseudo-terminal, an answer for each prompt; exit status and all that the screen showed."""
    pty = pytest.importorskip("pty")
    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "diagnose", "reckon", *arguments], stdin=theirs, stdout=theirs, stderr=theirs, cwd=ROOT,
        env={**os.environ, "PYTHONIOENCODING": "utf-8", "TERM": "dumb"})
    os.close(theirs)
    shown, waiting, end = "", list(answers), time.monotonic() + until
    try:
        while time.monotonic() < end:
            if not select.select([ours], [], [], 0.2)[0]:
                if process.poll() is not None:
                    break
                continue
            try:
                piece = os.read(ours, 4096)
            except OSError:  # the other end is shut
                break
            if not piece:
                break
            shown += piece.decode("utf-8", errors="replace")
            if waiting and re.search(r"\n  \w+: \Z", shown.replace("\r", "")):
                os.write(ours, waiting.pop(0).encode())
        return process.wait(timeout=10), shown.replace("\r", "")
    finally:
        process.kill()
        process.wait()
        os.close(ours)


def test_a_person_is_asked_for_what_is_missing(drips: Path) -> None:
    """On a terminal each missing number is asked for once in words; where it cannot be used its prompt comes again; then the page."""
    status, shown = on_a_terminal(["drip-rate", "drop_volume=0.05 mL", "--rules", str(drips)], ["20\n", "60\n", "1 minute\n"])
    assert status == 0
    assert shown.count("How many drops? (from 0 to 5000)") == 1
    assert shown.count("In what time? (from 5 to 86400 s)") == 1
    assert shown.count("\n  drops: ") == 1
    assert shown.count("\n  time: ") == 2
    assert "'60' has no unit" in shown
    assert "How large is a drop? (" not in shown
    assert "Leak rate: 60" in shown


def test_a_person_may_leave(drips: Path) -> None:
    """An end of input at a prompt ends the command, without a traceback and without a page."""
    status, shown = on_a_terminal(["drip-rate", "--rules", str(drips)], ["\x04"])
    assert status == 130
    assert "Traceback" not in shown
    assert "Leak rate" not in shown


def test_a_machine_is_not_asked(drips: Path) -> None:
    """With --json nothing is asked even on a terminal: what is missing is an error."""
    status, shown = on_a_terminal(["drip-rate", "--json", "--rules", str(drips)], [])
    assert status == 2
    assert "still wanted: drops, time" in shown
