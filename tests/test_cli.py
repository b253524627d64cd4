"""The command as people run it: what is wrong is said once and clearly, what is right is printed the same everywhere."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import tiny
from tiny import observation

from diagnose.chain import durable
from diagnose.record.store import Record

ROOT = Path(__file__).parents[1]
KIT = {"spares": ["pump-kit"], "coolant": "5 L"}
LOOKED = observation("pump-level-low")
HOT = {"symptom": "pump-gauge-high", "value": "99 degC", "state": "idle"}


def run(*arguments: str | Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """`python -m diagnose` with these arguments, its output caught."""
    return subprocess.run(
        [sys.executable, "-m", "diagnose", *map(str, arguments)],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        encoding="utf-8",
        cwd=ROOT,
        timeout=120,
        env={**os.environ, "PYTHONIOENCODING": "utf-8", **environment},
    )


@pytest.fixture
def drip(tmp_path: Path) -> Path:
    """A case of a pump that drips."""
    return tiny.write_case(tmp_path / "drip.yaml", title="It drips", observations=[observation("pump-weep", "drip"), LOOKED])


@pytest.fixture
def sound(tmp_path: Path) -> Path:
    """A case in which nothing is found."""
    return tiny.write_case(tmp_path / "sound.yaml")


# ------------------------------------------------------------------ wrong input


def broken_case(text: str) -> Any:
    """Arguments for a case file of this text."""

    def arguments(folder: Path, rules: Path) -> list[str | Path]:
        (folder / "case.yaml").write_text(text, encoding="utf-8")
        return ["triage", folder / "case.yaml", "--rules", rules]

    return arguments


def given(**changes: Any) -> Any:
    """Arguments for the sound case with some keys changed."""
    return broken_case(tiny.text_of(tiny.case(**changes)))


def command(*words: str) -> Any:
    """Arguments as they stand; {rules} and {case} are filled in."""

    def arguments(folder: Path, rules: Path) -> list[str | Path]:
        case = tiny.write_case(folder / "case.yaml", boat={"arrangement": {"pump-drive": "gear"}})
        (folder / "empty").mkdir()
        return [word.format(rules=rules, case=case, folder=folder) for word in words]

    return arguments


WRONG: dict[str, tuple[Any, list[str]]] = {
    # what: the arguments, and what the message must hold: where, what, what would be right
    "a mistyped command": (command("triag", "{case}"), ["no command 'triag'", "did you mean triage?"]),
    "no case": (command("triage"), ["Missing argument 'CASES...'"]),
    "an unknown option": (command("triage", "{case}", "--jsno"), ["No such option", "--json"]),
    "a width nobody has": (command("triage", "{case}", "--width", "5"), ["--width", "40<=x<=200"]),
    "an unknown engine": (command("triage", "{case}", "--engine", "magic"), ["'magic'", "durable-rules", "plain"]),
    "a file that is not there": (
        command("triage", "{folder}/ghost.yaml", "--rules", "{rules}"),
        ["ghost.yaml: no such file", "a file that can be read"],
    ),
    "a folder": (command("triage", "{folder}", "--rules", "{rules}"), ["is a folder, not a file", "the name of a file"]),
    "no shipped case of that name": (
        command("triage", "slow-wep", "--rules", "{rules}"),
        ["slow-wep: is neither a file nor a shipped case", "slow-weep"],
    ),
    "an empty file": (broken_case(""), ["case.yaml: is empty"]),
    "broken YAML": (broken_case("a: [1\n"), ["case.yaml, line 2: is not well-formed YAML"]),
    "a surprise": (broken_case("title: no\n"), ["case.yaml, line 1: 'no' is read as true or false", "the word in quotes"]),
    "a misspelt key": (given(titel="x"), ["case.yaml, line", "key 'titel' is not known here", "title"]),
    "an unknown symptom": (
        given(observations=[observation("pump-wep")]),
        ["observations[0]: symptom 'pump-wep' is not in the book", "pump-weep"],
    ),
    "an unknown grade": (given(observations=[observation("pump-weep", "wet")]), ["grade 'wet' is not on its scale", "none, damp, drip"]),
    "a number without unit": (given(observations=[{**HOT, "value": 99}]), ["has no unit", "degC"]),
    "an impossible number": (given(observations=[{**HOT, "value": "900 degC"}]), ["900 degC cannot be", "between -10 and 130 degC"]),
    "two answers": (
        given(observations=[observation("pump-weep"), observation("pump-weep", "drip")]),
        ["answered twice", "a time ('when') on each"],
    ),
    "no such rules": (command("triage", "{case}", "--rules", "{folder}/ghost"), ["ghost: is not a folder of rules", "shared/words.yaml"]),
    "rules without rules": (command("triage", "{case}", "--rules", "{folder}/empty"), ["empty: holds no rule files"]),
    "an unknown fault": (
        command("explain", "{case}", "pump-seal-wron", "--rules", "{rules}"),
        ["fault 'pump-seal-wron' is not in the book", "pump-seal-worn"],
    ),
    "a fault this boat cannot have": (command("explain", "{case}", "pump-bearing-worn", "--rules", "{rules}"), ["cannot be on this boat"]),
    "an unknown entry": (command("rules", "show", "pump-wep", "--rules", "{rules}"), ["'pump-wep' is not in the book", "pump-weep"]),
    "rules to check that are none": (command("rules", "check", "--rules", "{folder}/ghost"), ["is not a folder of rules"]),
    "a schema of nothing": (command("schema", "boat"), ["'boat'", "case", "assessment"]),
}


@pytest.mark.parametrize("what", WRONG)
def test_what_is_wrong_is_said_once(what: str, tmp_path: Path, tiny_rules: Path) -> None:
    """Wrong input exits 2 with one message on stderr: where it is, what is wrong, what would be right; nothing on stdout."""
    arguments, parts = WRONG[what]
    done = run(*arguments(tmp_path, tiny_rules))
    assert done.returncode == 2
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    for part in parts:
        assert part in done.stderr
    assert len(re.findall("^(diagnose|Error): ", done.stderr, re.MULTILINE)) == 1


def test_broken_rules_are_named_with_file_and_line(sound: Path, write_rules: Any) -> None:
    """Rules that do not fit are refused before any case is judged."""
    parts = tiny.parts()
    parts["coolant/pump.yaml"]["faults"][0]["shows"][0]["symptom"] = "pump-wep"
    folder = write_rules(parts)
    done = run("triage", sound, "--rules", folder)
    assert (done.returncode, done.stdout) == (2, "")
    assert re.match(
        r"diagnose: coolant/pump\.yaml, line \d+: symptom 'pump-wep' is not in the book\n  right would be: pump-weep", done.stderr
    )
    checked = run("rules", "check", "--rules", folder)
    assert checked.returncode == 2
    assert "symptom 'pump-wep' is not in the book" in checked.stdout
    assert checked.stdout.endswith("1 broken\n")


# ------------------------------------------------------------------ the decision as exit status

STATUS = {
    "go": (0, {}),
    "go with limits": (
        3,
        {
            "observations": [observation("pump-weep", "damp"), LOOKED],
            "opened_because": "noticed-something",
            "trip": {"engine_hours": 4, "aboard": {"coolant": "5 L"}},
        },
    ),
    "fix, then go": (4, {"observations": [observation("pump-play", "moves"), observation("pump-weep"), LOOKED], "trip": {"aboard": KIT}}),
    "stay": (5, {"observations": [observation("pump-weep", "drip"), observation("pump-level-low", "low"), HOT]}),
}


@pytest.mark.parametrize("decision", STATUS)
def test_the_gate_gives_the_decision_as_status(decision: str, tmp_path: Path, tiny_rules: Path) -> None:
    """--gate exits 0 for go, 3 go with limits, 4 fix, then go, 5 stay; without it every assessment exits 0."""
    status, changes = STATUS[decision]
    case = tiny.write_case(tmp_path / "case.yaml", **changes)
    gated, plain = run("triage", case, "--gate", "--json", "--rules", tiny_rules), run("triage", case, "--json", "--rules", tiny_rules)
    assert json.loads(plain.stdout)["decision"] == decision
    assert (gated.returncode, plain.returncode) == (status, 0)
    assert gated.stdout == plain.stdout


def test_the_look_over_is_listed_for_the_boat_of_a_case(sound: Path, tmp_path: Path, tiny_rules: Path) -> None:
    """Looks made are marked, those a go waits for have an asterisk, and what the boat does not have is not asked for."""
    made = run("look-over", sound, "--rules", tiny_rules)
    assert made.returncode == 0
    assert [line[:4] for line in made.stdout.splitlines() if line.startswith("[")] == ["[x]*", "[x]*"]
    raw = tiny.write_case(tmp_path / "raw.yaml", boat={"arrangement": {"cooling": "raw"}}, observations=[])
    asked = run("look-over", raw, "--rules", tiny_rules).stdout
    assert "Under the pump" in asked
    assert "Level in the tank" not in asked
    assert "[ ]*" in asked


def test_a_look_over_that_is_not_made_stops_the_gate(tmp_path: Path, tiny_rules: Path) -> None:
    """Not knowing is not safe: with nothing looked at the gate says stay, and the page says what is still to be looked at."""
    case = tiny.write_case(tmp_path / "case.yaml", observations=[])
    done = run("triage", case, "--gate", "--rules", tiny_rules)
    assert done.returncode == 5
    assert "NOT YET" in done.stdout
    assert "level in the tank" in done.stdout


# ------------------------------------------------------------------ JSON


def test_the_json_holds_everything(drip: Path, tiny_rules: Path, tiny_book: Any) -> None:
    """--json prints one object with all that any page needs, and nothing else on either stream."""
    done = run("triage", drip, "--json", "--rules", tiny_rules)
    assert (done.returncode, done.stderr) == (0, "")
    result = json.loads(done.stdout)
    assert {"decision", "ranking", "checks", "holds", "limits", "trace", "assumed", "rules"} <= set(result)
    assert result["rules"] == {"version": "1.2.3", "digest": tiny_book.digest}
    assert {"fault", "title", "probability", "urgency", "ledger"} <= set(result["ranking"][0])
    assert result["ranking"][0]["fault"] == "pump-seal-worn"
    assert [line["place"] for line in result["ranking"]] == list(range(1, len(result["ranking"]) + 1))
    assert result["ranking"][-1]["fault"] == "not-in-this-book" or "not-in-this-book" in {line["fault"] for line in result["ranking"]}
    for line in result["ranking"]:
        ledger = line["ledger"]
        total = ledger["prior"] + sum(entry["given_rest"] for entry in ledger["lines"]) + ledger["shared"]
        assert total == pytest.approx(ledger["posterior"], abs=1e-6)
        assert 0 <= line["probability"] <= 1


def test_the_json_fits_its_schema(drip: Path, tiny_rules: Path) -> None:
    """`diagnose schema assessment` describes what --json prints."""
    import jsonschema

    schema = json.loads(run("schema", "assessment").stdout)
    result = json.loads(run("triage", drip, "--json", "--rules", tiny_rules).stdout)
    jsonschema.Draft202012Validator(schema).validate(result)
    del result["decision"]
    assert list(jsonschema.Draft202012Validator(schema).iter_errors(result))


def test_the_schema_of_a_case_is_printed(tiny_rules: Path) -> None:
    """`diagnose schema case` lists the symptoms of the rules given."""
    schema = json.loads(run("schema", "case", "--rules", tiny_rules).stdout)
    assert "pump-weep" in schema["$defs"]["Observation"]["properties"]["symptom"]["enum"]


def test_both_engines_print_the_same(tmp_path: Path, tiny_rules: Path) -> None:
    """The JSON of both engines differs in the engine's name only, and the page not at all."""
    if not durable.available():
        pytest.skip("durable-rules cannot be loaded here")
    case = tiny.write_case(tmp_path / "case.yaml", **STATUS["stay"][1])
    arguments = ("triage", case, "--rules", tiny_rules, "--engine")
    one, other = (json.loads(run(*arguments, engine, "--json").stdout) for engine in ("durable-rules", "plain"))
    assert [f["rule"] for f in one["trace"]] == ["weep-and-low", "loss-and-heat", "running-dry-hold", "seal-likely"]
    assert (one.pop("engine"), other.pop("engine")) == ("durable-rules", "plain")
    assert one == other
    assert run(*arguments, "durable-rules").stdout == run(*arguments, "plain").stdout


# ------------------------------------------------------------------ several cases


def test_several_cases_get_a_line_each(sound: Path, drip: Path, tiny_rules: Path) -> None:
    """Two cases give two lines, each with the case's name and its first fault."""
    done = run("triage", sound, drip, "--rules", tiny_rules)
    assert (done.returncode, done.stderr) == (0, "")
    first, second = done.stdout.splitlines()
    assert first.startswith("sound ")
    assert second.startswith("drip ")
    assert "Pump seal worn" in second


def test_several_cases_as_json_are_a_line_each(sound: Path, drip: Path, tiny_rules: Path) -> None:
    """With --json each line is one whole assessment, the same as when the case is judged alone."""
    lines = run("triage", sound, drip, "--json", "--rules", tiny_rules).stdout.splitlines()
    assert [json.loads(line)["title"] for line in lines] == ["A quiet morning", "It drips"]
    assert json.loads(lines[1]) == json.loads(run("triage", drip, "--json", "--rules", tiny_rules).stdout)


def test_the_gate_of_several_cases_is_the_worst(tmp_path: Path, sound: Path, tiny_rules: Path) -> None:
    """Among several cases the worst decision is the status, in any order."""
    stays = tiny.write_case(tmp_path / "stays.yaml", **STATUS["stay"][1])
    for order in ((sound, stays), (stays, sound)):
        assert run("triage", *order, "--gate", "--rules", tiny_rules).returncode == 5
    assert run("triage", sound, sound, "--gate", "--rules", tiny_rules).returncode == 0


def test_a_wrong_case_among_several_stops_only_itself(tmp_path: Path, sound: Path, drip: Path, tiny_rules: Path) -> None:
    """The sound ones are judged, the wrong one is said on stderr, and the status is 2 whatever the gate says."""
    wrong = tiny.write_case(tmp_path / "wrong.yaml", observations=[observation("pump-wep")])
    for gate in ([], ["--gate"]):
        done = run("triage", sound, wrong, drip, *gate, "--rules", tiny_rules)
        assert done.returncode == 2
        assert [line.split()[0] for line in done.stdout.splitlines()] == ["sound", "drip"]
        assert done.stderr.count("diagnose: ") == 1
        assert "pump-wep" in done.stderr


def test_an_error_among_several_cases_names_its_case(tmp_path: Path, sound: Path, tiny_rules: Path) -> None:
    """Among several cases a message says which case it is about."""
    wrong = tiny.write_case(tmp_path / "wrong.yaml", observations=[observation("pump-wep")])
    assert "wrong.yaml" in run("triage", sound, wrong, "--rules", tiny_rules).stderr


# ------------------------------------------------------------------ the page

PAGES = {
    "a hold": STATUS["stay"][1],
    "limits": STATUS["go with limits"][1],
    "a fix": STATUS["fix, then go"][1],
    "nothing looked at": {"observations": []},
    "long words": {
        "title": "A " + "very " * 40 + "long title",
        "boat": {"name": "Donaudampfschiff" * 12},
        "observations": [observation("pump-weep", "drip", note="x" * 300), observation("pump-play", "moves", note="word " * 60)],
    },
}


WIDTHS = (60, 80, 120)


@pytest.mark.parametrize("what", PAGES)
def test_pages_of_three_widths(what: str, tmp_path: Path, tiny_rules: Path) -> None:
    """At 60, 80 and 120 columns every line fits and nothing is cut off with dots; the words are the same at every width."""
    case = tiny.write_case(tmp_path / "case.yaml", **PAGES[what])
    pages = {width: run("triage", case, "--width", str(width), "--rules", tiny_rules).stdout for width in WIDTHS}
    for width, page in pages.items():
        assert max(map(len, page.splitlines())) <= width
        assert "…" not in page
        assert all(line == line.rstrip() for line in page.splitlines())
    assert len({re.sub(r"[\s#]", "", page) for page in pages.values()}) == 1


@pytest.mark.parametrize("numbers", [[], ["--numbers"]])
def test_the_page_of_a_fault_fits_too(numbers: list[str], drip: Path, tiny_rules: Path) -> None:
    """Why a fault stands where it stands fits its width, with and without decibans, and says the same in each."""
    pages = {
        width: run("explain", drip, "pump-seal-worn", *numbers, "--width", str(width), "--rules", tiny_rules).stdout for width in WIDTHS
    }
    for width, page in pages.items():
        assert page.startswith("PUMP SEAL WORN\n")
        assert max(map(len, page.splitlines())) <= width
        assert (" db" in page) is bool(numbers)
    assert len({re.sub(r"\s", "", page) for page in pages.values()}) == 1


ENTRIES = ["pump-weep", "pump-gauge-high", "pump-hot", "pump-seal-worn", "rock-pump", "renew-pump", "running-dry-hold", "pump-work"]


@pytest.mark.parametrize("name", ENTRIES)
def test_the_page_of_an_entry_fits_too(name: str, tiny_book: Any) -> None:
    """The page of each kind of entry fits its width and names its id, its file, its reason and its source."""
    from diagnose.show.rulepage import rule_page

    for width in WIDTHS:
        page = rule_page(tiny_book, name, width).text()
        assert max(map(len, page.splitlines())) <= width
        assert {name, "coolant/pump.yaml"} <= set(re.findall(r"[\w./-]+", page))
        assert tiny.WHY in re.sub(r"\s+", " ", page)
        assert "common practice" in page


def test_an_entry_is_shown(tiny_rules: Path) -> None:
    """`rules show` prints the page of an entry."""
    done = run("rules", "show", "pump-weep", "--rules", tiny_rules)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("Drip under the pump\n")


def through_a_terminal(arguments: list[str], columns: int, typed: str = "") -> str:
    """What a terminal of so many columns is sent, with these lines typed at it."""
    import fcntl
    import pty
    import struct
    import termios

    here, there = pty.openpty()
    fcntl.ioctl(there, termios.TIOCSWINSZ, struct.pack("HHHH", 50, columns, 0, 0))
    process = subprocess.Popen(
        [sys.executable, "-m", "diagnose", *arguments],
        stdout=there,
        stderr=there,
        stdin=there,
        cwd=ROOT,
        env={**{k: v for k, v in os.environ.items() if k not in ("COLUMNS", "NO_COLOR")}, "TERM": "xterm-256color"},
    )
    os.close(there)
    os.write(here, typed.encode())
    sent = b""
    while True:
        try:
            chunk = os.read(here, 65536)
        except OSError:  # Linux says so when the other end is closed
            break
        if not chunk:
            break
        sent += chunk
    process.wait(timeout=60)
    os.close(here)
    return sent.decode("utf-8").replace("\r\n", "\n")


def test_a_pipe_gets_the_text_of_the_terminal(tmp_path: Path, tiny_rules: Path) -> None:
    """Apart from colour a terminal and a pipe get the same text, and a pipe gets no colour."""
    pytest.importorskip("pty", reason="no terminal to be had on this system")
    case = tiny.write_case(tmp_path / "case.yaml", **PAGES["a hold"])
    arguments = ["triage", str(case), "--width", "80", "--rules", str(tiny_rules)]
    shown, piped = through_a_terminal(arguments, 80), run(*arguments).stdout
    assert "\x1b[" in shown
    assert "\x1b" not in piped
    assert re.sub(r"\x1b\[[0-9;]*m", "", shown) == piped


def test_a_terminal_without_a_width_given_is_filled(tmp_path: Path, tiny_rules: Path) -> None:
    """Without --width a page is as wide as the terminal, but not under 60 nor over 120 columns."""
    pytest.importorskip("pty", reason="no terminal to be had on this system")
    case = tiny.write_case(tmp_path / "case.yaml", **PAGES["a hold"])
    for columns, width in ((30, 60), (72, 72), (300, 120)):
        shown = through_a_terminal(["triage", str(case), "--rules", str(tiny_rules)], columns)
        text = re.sub(r"\x1b\[[0-9;]*m", "", shown).splitlines()
        assert "#" * width in text
        assert max(map(len, text)) <= width


def test_the_first_look_asks_what_she_is_called(tmp_path: Path, tiny_rules: Path) -> None:
    """At a terminal, and only while no boat is on record; a name given is not asked for, nor is one in a pipe."""
    pytest.importorskip("pty", reason="no terminal to be had on this system")
    ask, arguments = "What is the boat called?", ["look", "--rules", str(tiny_rules), "--record", str(tmp_path / "r.sqlite3")]
    assert ask not in through_a_terminal([*arguments[:-1], str(tmp_path / "given.sqlite3"), "--boat", "Tern"], 80, "q\n")
    assert ask not in run(*arguments[:-1], tmp_path / "piped.sqlite3").stdout
    assert ask in through_a_terminal([*arguments[:-1], str(tmp_path / "left.sqlite3")], 80, "q\n")
    with Record.open(tmp_path / "left.sqlite3") as record:
        assert record.boats() == ()
    assert ask in through_a_terminal(arguments, 80, " Little   Tern \ndrip under the pump\nq\n")
    with Record.open(tmp_path / "r.sqlite3") as record:
        assert record.boats() == ("Little Tern",)
    assert ask not in through_a_terminal(arguments, 80, "drip under the pump\nq\n")


# ------------------------------------------------------------------ text of people

HOSTILE = {
    "markup": "[/b] [bold]loud[/bold] [link=x]y[/link] {braces} %s",
    "an escape sequence": "\x1b[31mred\x1b[0m \x1b]0;title\x07",
    "one-byte controls": "a\x07b\x08c\x7fd\x9b31m",
    "line breaks": "one\rtwo\nthree\x0bfour\x85five",
    "reversed text": "safe‮evil⁦x",
}


def shown_of(text: str) -> str:
    """The characters of a text that a page may show."""
    return "".join(c for c in text if c.isprintable() and not c.isspace())


@pytest.mark.parametrize("what", HOSTILE)
def test_text_of_people_is_printed_literally(what: str, tmp_path: Path, tiny_rules: Path) -> None:
    """Notes, titles and names are shown as they are: no markup is obeyed, no control character reaches the terminal."""
    text = HOSTILE[what]
    case = tiny.case(title=text, boat={"name": text}, observations=[observation("pump-weep", "drip", note=text, by=text), LOOKED])
    path = tmp_path / "case.yaml"
    path.write_text(json.dumps(case), encoding="utf-8")
    done = run("triage", path, "--rules", tiny_rules)
    assert (done.returncode, done.stderr) == (0, "")
    assert [c for c in done.stdout if not c.isprintable() and c != "\n"] == []
    assert shown_of(text) in re.sub(r"\s|\N{REPLACEMENT CHARACTER}", "", done.stdout)


@pytest.mark.parametrize("what", ["markup", "an escape sequence", "line breaks"])
def test_hostile_text_in_several_cases_and_json(what: str, tmp_path: Path, tiny_rules: Path) -> None:
    """A line for each case holds no control character, and JSON gives the text back as it was."""
    text = HOSTILE[what]
    path = tmp_path / "case.yaml"
    path.write_text(json.dumps(tiny.case(title=text)), encoding="utf-8")
    lines = run("triage", path, path, "--rules", tiny_rules).stdout
    assert [c for c in lines if not c.isprintable() and c != "\n"] == []
    assert len(lines.splitlines()) == 2
    assert json.loads(run("triage", path, "--json", "--rules", tiny_rules).stdout)["title"] == text


@pytest.mark.parametrize(
    "change",
    [
        {"observations": [{**HOT, "value": "\x1b[31m9\x9b9"}]},
        {"ti\x1b[31mtle\x9b": "x"},
        {"boat": {"arrangement": {"cooling": "\x1b[31m\x9b\x07"}}},
    ],
)
def test_hostile_text_in_an_error_is_not_obeyed(change: dict[str, Any], tmp_path: Path, tiny_rules: Path) -> None:
    """An error that quotes the file shows its control characters instead of sending them."""
    path = tmp_path / "case.yaml"
    path.write_text(json.dumps(tiny.case(**change)), encoding="utf-8")
    done = run("triage", path, "--rules", tiny_rules)
    assert done.returncode == 2
    assert [c for c in done.stderr if not c.isprintable() and c != "\n"] == []


@pytest.mark.parametrize(("encoding", "shown"), [("ascii", "M?we ??d? ?"), ("cp1252", "Möwe ?ód? ?"), ("utf-8", "Möwe Łódź 鴎")])
def test_a_terminal_of_few_letters(encoding: str, shown: str, tmp_path: Path, tiny_rules: Path) -> None:
    """Where the terminal cannot show a letter a mark stands for it, and the page is printed all the same."""
    case = tiny.write_case(tmp_path / "case.yaml", boat={"name": "Möwe Łódź 鴎"})
    done = subprocess.run(
        [sys.executable, "-m", "diagnose", "triage", str(case), "--rules", str(tiny_rules)],
        capture_output=True,
        cwd=ROOT,
        timeout=120,
        env={**os.environ, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"},
    )
    assert (done.returncode, done.stderr) == (0, b"")
    assert shown in done.stdout.decode(encoding)


def test_a_reader_that_leaves_early() -> None:
    """When the reader of a pipe stops reading, the command ends quietly."""
    process = subprocess.Popen(
        [sys.executable, "-m", "diagnose", "schema", "case"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.readline()
    process.stdout.close()
    assert b"Traceback" not in process.stderr.read()
    process.stderr.close()
    assert process.wait(timeout=60) in (0, -13)


# ------------------------------------------------------------------ help and start

COMMANDS = ([], ["triage"], ["explain"], ["rules"], ["rules", "check"], ["rules", "show"], ["schema"], ["reckon"], ["print"], ["look-over"])


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_help_is_a_sentence_and_a_line_that_runs(words: list[str]) -> None:
    """Every command says in one sentence what it does, and all but the group show an example."""
    done = run(*words, "--help")
    assert done.returncode == 0
    assert re.search(r"^  [A-Z][^\n]+", done.stdout, re.MULTILINE)
    assert words == ["rules"] or "Example:" in done.stdout


def test_the_version_is_that_of_the_package() -> None:
    """--version prints the version that the package declares."""
    import diagnose

    assert run("--version").stdout.split()[-1] == diagnose.__version__


def loaded_by(statement: str) -> set[str]:
    """Top-level names of the modules loaded after a statement in a fresh interpreter."""
    script = f"{statement}\nimport sys\nprint(*sorted(m.partition('.')[0] for m in sys.modules))"
    return set(
        subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT, check=True, timeout=60).stdout.split()
    )


HEAVY = {"numpy", "rich", "pydantic", "durable", "durable_rules_engine", "pint", "yaml", "rapidfuzz", "click"}


def test_importing_the_package_loads_nothing_heavy() -> None:
    """`import diagnose` loads no number library, no renderer, no models and no engine, and sets up no logging."""
    assert not loaded_by("import diagnose") & (HEAVY | {"logging"})


def test_the_command_loads_only_what_help_needs() -> None:
    """For its help the command needs click, and neither the engine, the models, numpy nor rich."""
    assert not loaded_by("import diagnose.cli") & (HEAVY - {"click"})


def test_reading_rules_needs_no_numbers_and_no_renderer() -> None:
    """Checking the entries of a book loads neither numpy nor rich nor the engine."""
    assert not loaded_by("import diagnose.knowledge.load, diagnose.knowledge.integrity, diagnose.chain.compile") & {
        "numpy",
        "rich",
        "durable_rules_engine",
    }


def test_all_that_is_offered_can_be_had() -> None:
    """Every name the package lists can be taken from it, and a name it does not list is refused like any other."""
    import diagnose

    assert {name for name in diagnose.__all__ if callable(getattr(diagnose, name))} == {"assess", "load_case", "load_rules"}
    with pytest.raises(AttributeError, match="no attribute 'ghost'"):
        diagnose.ghost  # noqa: B018
