"""Each lint has a book that it passes, and one broken in one way that it alone finds, with its place."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import tiny

from diagnose.knowledge import lint
from diagnose.knowledge.book import Book
from diagnose.knowledge.check import check_rules
from diagnose.knowledge.integrity import Problem, problems
from diagnose.knowledge.lint import LINTS, lints

PUMP = "coolant/pump.yaml"
Change = Callable[[dict[str, Any]], Any]
PLAY, WEEP = {"symptom": "pump-play", "is": "moves"}, {"symptom": "pump-weep", "at_least": "damp"}


def renamed(kind: str, i: int, name: str) -> Change:
    """One entry of the component under another id, wherever it is named."""

    def change(parts: dict[str, Any]) -> None:
        old = parts[PUMP][kind][i]["id"]
        parts.update({n: tiny.text_of(part).replace(old, name) for n, part in parts.items()})

    return change


def pump(change: Callable[[dict[str, Any]], Any]) -> Change:
    """A change of the component."""
    return lambda parts: change(parts[PUMP])


def sign(name: str) -> dict[str, Any]:
    """One more symptom of two grades."""
    return tiny.symptom(name, name, ["cold-stopped"], {"none": "nothing", "some": "something"}, {"some": "rare"})


def lookalikes(causes: int, shared: int, *, on_condition: bool = False) -> Change:
    """Two more signs, told by the check; `causes` faults show the first, `shared` of them the second."""

    def change(parts: dict[str, Any]) -> None:
        component = parts[PUMP]
        component["symptoms"] += [sign("twin-one"), sign("twin-two")]
        component["checks"][0]["tells"] += ["twin-one", "twin-two"]
        for i in range(causes):
            links = [
                {"symptom": name, "at_least": {"some": "often"}, "why": "w"} for name in ("twin-one", "twin-two")[: 2 if i < shared else 1]
            ]
            component["faults"].append(
                {**tiny.copied(component["faults"][1]), "id": f"cause-{i}", "shows": links, "told_from": [], "known_gap": "w"}
            )
            component["jobs"][0]["cures"].append(f"cause-{i}")
            component["examples"] += [
                {"name": "x", key: f"cause-{i}", "given": {}, "expect": {}, "why": "w"} for key in ("shown", "near_miss")
            ]
        if on_condition:
            component["conditions"][0]["shows"] += [{"symptom": "twin-two", "at_least": {"some": "often"}, "why": "w"}]

    return change


def crowded(backgrounds: int) -> Change:
    """A look-over of so many signs that are common on sound boats."""

    def change(parts: dict[str, Any]) -> None:
        parts["shared/words.yaml"]["backgrounds"]["usual"] = 0.4
        component = parts[PUMP]
        for i in range(backgrounds):
            component["symptoms"].append({**sign(f"usual-{i}"), "background": {"some": "usual"}})
            component["checks"][0]["tells"].append(f"usual-{i}")
            component["faults"][0]["shows"].append({"symptom": f"usual-{i}", "at_least": {"some": "almost-always"}, "why": "w"})
            parts["shared/look-over.yaml"]["looks"][0]["tells"].append(f"usual-{i}")

    return change


def same_signs(parts: dict[str, Any]) -> None:
    """The bearing shows just what the seal shows, and the check that parts them tells only that."""
    component = parts[PUMP]
    component["faults"][1]["shows"] = tiny.copied(component["faults"][0]["shows"])
    for link in component["faults"][1]["shows"]:
        link["by"] = {"loose": {next(iter(link["by"]["weeping"])): "often"}}
    component["faults"][0]["shows"] = [{**link, "by": {"weeping": link["by"]["loose"]}} for link in component["faults"][1]["shows"]]
    component["faults"][1]["stages"][0]["id"] = "weeping"
    component["faults"][1]["shows"] = tiny.copied(component["faults"][0]["shows"])
    component["checks"][1]["tells"] = ["pump-weep"]
    component["checks"][1]["reading"] = [{"seen": {"pump-weep": "none"}, "means": "m"}]
    component["checks"][0]["tells"].append("pump-play")
    component["conditions"][0]["shows"].append({"symptom": "pump-play", "by": {"hot": {"moves": "often"}}, "why": "w"})


def two_holds(other: str) -> Change:
    """One hold made by two rules, the second of which stops `other`."""
    return pump(lambda p: p["rules"].append(tiny.rule("again", {"symptom": "pump-play", "is": "moves"}, tiny.hold("pump-dry", other))))


FOUND: dict[str, tuple[str, Change, str, tuple[Any, ...]]] = {
    "a fault named for its cure": (
        "named_for_the_condition",
        renamed("faults", 0, "renew-seal"),
        "'renew-seal' is named for the cure",
        ("faults", 0),
    ),
    "a symptom named for its cure": (
        "named_for_the_condition",
        renamed("symptoms", 1, "check-play"),
        "'check-play' is named for the cure",
        ("symptoms", 1),
    ),
    "a reason that is none": ("nothing_left_blank", pump(lambda p: p["jobs"][0].update(why="TBD.")), "'TBD.' says nothing", ("jobs", 0)),
    "a question that is none": (
        "nothing_left_blank",
        pump(lambda p: p["symptoms"][2].update(ask="unknown")),
        "'unknown' says nothing",
        ("symptoms", 2),
    ),
    "a symptom no check tells": (
        "every_symptom_is_told",
        pump(lambda p: p["checks"][2]["tells"].pop()),
        "no check tells 'pump-steam'",
        ("symptoms", 4),
    ),
    "a symptom nothing shows": (
        "every_symptom_is_shown",
        pump(lambda p: p["conditions"][0]["shows"].pop()),
        "nothing shows 'pump-steam'",
        ("symptoms", 4),
    ),
    "a fault no job cures": (
        "every_fault_has_a_job",
        pump(lambda p: p["jobs"][0]["cures"].pop()),
        "no job cures 'pump-bearing-worn'",
        ("faults", 1),
    ),
    "a fault no example shows": (
        "examples_both_ways",
        pump(lambda p: p["examples"].pop(0)),
        "no example shows 'pump-seal-worn'",
        ("faults", 0),
    ),
    "a fault without a near miss": (
        "examples_both_ways",
        pump(lambda p: p["examples"].pop(3)),
        "no example nearly shows 'pump-bearing-worn'",
        ("faults", 1),
    ),
    "rivals that no check parts": (
        "rivals_are_parted",
        same_signs,
        "'rock-pump' tells nothing on which 'pump-bearing-worn' and 'pump-seal-worn' differ",
        ("faults", 1, "told_from", 0),
    ),
    "a look-over full of false alarms": ("healthy_boats_are_quiet", crowded(4), "a healthy boat would show 1.6 findings", ()),
    "two signs of the same causes": (
        "one_sign_one_state",
        lookalikes(4, 3),
        "'twin-one' and 'twin-two' have mostly the same causes (3)",
        ("symptoms", 5),
    ),
    "a hold of two meanings": (
        "holds_have_one_meaning",
        two_holds("start"),
        "hold 'pump-dry' stops something else in 'again'",
        ("rules", 2),
    ),
    "a condition three levels deep": (
        "conditions_stay_shallow",
        pump(lambda p: p["rules"].append(tiny.rule("deep", {"all": [PLAY, {"any": [PLAY, {"all": [PLAY, WEEP]}]}]}, tiny.finding("deep")))),
        "'deep' asks for conditions inside conditions inside conditions",
        ("rules", 4),
    ),
    "a checked fault on a rate from memory": (
        "checked_rests_on_evidence",
        pump(lambda p: p["faults"][1].update(status="checked")),
        "'pump-bearing-worn' is called checked, but its rate is from memory",
        ("faults", 1),
    ),
    "a step that a comma parted": (
        "sentences_are_whole",
        pump(lambda p: p["checks"][0].update(steps=["Wipe it dry", "look with a mirror."])),
        "'Wipe it dry' is no whole sentence",
        ("checks", 0),
    ),
}

PASSED: dict[str, tuple[str, Change]] = {
    "a cure word inside a name": ("named_for_the_condition", renamed("faults", 0, "no-renew-seal")),
    "a short reason": ("nothing_left_blank", pump(lambda p: p["jobs"][0].update(why="Unknown parts wear too."))),
    "a sign told by another check too": ("every_symptom_is_told", pump(lambda p: p["checks"][1]["tells"].append("pump-level-low"))),
    "a sign shown by a condition only": ("every_symptom_is_shown", pump(lambda p: p["conditions"][0]["shows"].reverse())),
    "a second job": (
        "every_fault_has_a_job",
        pump(lambda p: p["jobs"].append({**p["jobs"][0], "id": "mend-pump", "cures": ["pump-seal-worn"]})),
    ),
    "one example for both": (
        "examples_both_ways",
        pump(lambda p: p["examples"].append({**p["examples"][0], "near_miss": "pump-bearing-worn"})),
    ),
    "rivals that differ in strength": (
        "rivals_are_parted",
        pump(lambda p: p["faults"][1]["shows"].append({"symptom": "pump-weep", "at_least": {"damp": "seldom"}, "why": "w"})),
    ),
    "a look-over at the limit": ("healthy_boats_are_quiet", crowded(3)),
    "two signs with two causes in common": ("one_sign_one_state", lookalikes(4, 2)),
    "two signs with half their causes in common": ("one_sign_one_state", lookalikes(6, 3)),
    "two signs on a condition": ("one_sign_one_state", lookalikes(4, 4, on_condition=True)),
    "a hold of one meaning": ("holds_have_one_meaning", two_holds("leave")),
    "a condition two levels deep": (
        "conditions_stay_shallow",
        pump(lambda p: p["rules"].append(tiny.rule("deep", {"all": [PLAY, {"any": [PLAY, {"not": WEEP}]}]}, tiny.finding("deep")))),
    ),
    "a checked fault on common practice": (
        "checked_rests_on_evidence",
        pump(lambda p: (p["faults"][1].update(status="checked"), p["faults"][1]["rate"].update(source="common-practice"))),
    ),
    "a sentence in brackets": ("sentences_are_whole", pump(lambda p: p["checks"][0].update(steps=["Look, and feel. (Twice.)"]))),
}


def found_by(name: str, book: Book) -> list[Problem]:
    """What one lint finds."""
    return list(getattr(lint, name)(book))


@pytest.mark.parametrize("what", FOUND)
def test_a_lint_finds_its_fault(what: str) -> None:
    """The lint finds what is wrong, says it and names the place; no other lint speaks."""
    name, change, message, path = FOUND[what]
    parts = tiny.parts()
    change(parts)
    book = tiny.unchecked(parts)
    assert list(problems(book)) == []
    (problem, *others) = found_by(name, book)
    assert message in problem.what
    assert problem.path == path
    assert all(message.split("'")[0] in other.what for other in others)
    assert list(lints(book)) == [problem, *others]


@pytest.mark.parametrize("what", PASSED)
def test_a_lint_passes_what_only_looks_wrong(what: str) -> None:
    """What stands just inside the limit of a lint is left alone."""
    name, change = PASSED[what]
    parts = tiny.parts()
    change(parts)
    book = tiny.unchecked(parts)
    assert list(problems(book)) == []
    assert found_by(name, book) == []


def test_the_tiny_book_passes_every_lint(tiny_book: Book) -> None:
    """The book that is broken here in one way each has nothing to mend."""
    assert list(lints(tiny_book)) == []


def test_every_lint_has_a_failing_and_a_passing_book() -> None:
    """A lint without a book of its own on either side would be trusted for nothing."""
    names = {one.__name__ for one in LINTS}
    assert {name for name, *_ in FOUND.values()} == names
    assert {name for name, _ in PASSED.values()} == names
    assert names == {
        n for n, f in vars(lint).items() if callable(f) and getattr(f, "__module__", "") == lint.__name__ and not n.startswith("_")
    } - {"lints"}


# ------------------------------------------------------------------ rules check


def test_checking_reports_lints_and_examples_with_their_lines(write_rules: Any) -> None:
    """What is to be mended is listed with file and line and counted, and the book is not in order."""
    parts = tiny.parts()
    parts[PUMP]["jobs"][0]["cures"].pop()
    parts[PUMP]["examples"][0]["expect"] = {"first": "pump-bearing-worn"}
    report = check_rules(write_rules(parts))
    text = tiny.text_of(parts[PUMP]).splitlines()
    fault, example = (
        1 + next(i for i, line in enumerate(text) if part in line) for part in ("- id: pump-bearing-worn", "- name: It drips")
    )
    assert f"{PUMP}, line {fault}: no job cures" in report.lines[0]
    assert report.lines[1].startswith(f"{PUMP}, line {example}: example 'It drips': first is not pump-bearing-worn")
    assert report.broken
    assert report.summary.endswith("2 to mend")


def test_checking_a_sound_book_counts_it(tiny_rules: Any) -> None:
    """A book with nothing to mend is counted, kind by kind: the numbers are those of `tiny.py`."""
    report = check_rules(tiny_rules)
    assert report.lines == ()
    assert not report.broken
    assert report.summary == "2 faults, 5 symptoms, 1 conditions, 3 checks, 1 jobs, 4 rules, 4 examples: all in order"


WRONG_EXAMPLES = {
    "another first": ({"first": "pump-bearing-worn"}, "first is not pump-bearing-worn"),
    "too far down": ({"in_first": {"pump-bearing-worn": 1}}, "pump-bearing-worn is in place 2, not in the first 1"),
    "not so likely": ({"above": {"pump-seal-worn": 0.999}}, "not above 0.999"),
    "too likely": ({"below": {"pump-seal-worn": 0.001}}, "not below 0.001"),
    "a rule that does not fire": ({"fires": ["running-dry-hold"]}, "rule running-dry-hold does not fire"),
    "a rule that fires": ({"not_fires": ["seal-likely"]}, "rule seal-likely fires"),
    "a hold that is not there": ({"holds": ["pump-dry"]}, "holds are [], not ['pump-dry']"),
    "another decision": ({"decision": "go"}, "decision is stay, not go"),
    "a decision that must not be": ({"not_decision": ["stay", "go"]}, "decision is stay"),
    "another next look": ({"next_check": "read-gauge"}, "not read-gauge"),
    "no quiet": ({"quiet": True}, "is not quiet"),
}


@pytest.mark.parametrize("what", WRONG_EXAMPLES)
def test_an_expectation_that_is_not_met_is_said(what: str, write_rules: Any) -> None:
    """Each kind of expectation fails with what came instead, for a drip on a boat whose look-over is not made."""
    expect, message = WRONG_EXAMPLES[what]
    parts = tiny.parts()
    parts[PUMP]["examples"][0]["expect"] = expect
    (line,) = check_rules(write_rules(parts)).lines
    assert "example 'It drips'" in line
    assert message in line


def test_a_known_gap_must_fail(write_rules: Any) -> None:
    """An example with a known gap is silent while it fails, and is reported when it passes."""
    gap = {"since": "2026-01-02", "why": "w"}
    for expect, lines in (({"first": "pump-bearing-worn"}, 0), ({"first": "pump-seal-worn"}, 1)):
        parts = tiny.parts()
        parts[PUMP]["examples"][0].update(expect=expect, known_gap=gap)
        report = check_rules(write_rules(parts))
        assert len(report.lines) == lines
        assert all("a known gap now passes" in line for line in report.lines)


@pytest.mark.parametrize(
    "change",
    [
        {"trip": {"exposre": "coastal"}},
        {"trip": {"exposure": "lunar"}},
        {"serviced": {"pump": 3}},
        {"events": {"pump-wrok": 3}},
        {"given": {"pump-gauge-high": {"value": 99}}},
        {"boat": {"cooling": "steam"}},
    ],
)
def test_an_example_that_cannot_be_run_is_said(change: dict[str, Any], write_rules: Any) -> None:
    """An example that is no possible case is reported with its place, and the others are run all the same."""
    parts = tiny.parts()
    parts[PUMP]["examples"][0].update(change)
    parts[PUMP]["examples"][2]["expect"] = {"first": "pump-seal-worn"}
    lines = check_rules(write_rules(parts)).lines
    assert len(lines) == 2
    assert "example 'It drips': cannot be run:" in lines[0]
    assert "example 'It moves'" in lines[1]
