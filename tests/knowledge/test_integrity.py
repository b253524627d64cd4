"""Each thing that must hold over a whole book has one broken book: it gives that problem, in that file, on that line."""

from __future__ import annotations

import ast
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import tiny
import yaml

from diagnose.errors import RuleError
from diagnose.knowledge.book import Book
from diagnose.knowledge.check import check_rules
from diagnose.knowledge.integrity import problems
from diagnose.knowledge.load import load_rules

PUMP, WORDS, BOAT, LOOKS = "coolant/pump.yaml", "shared/words.yaml", "shared/boat.yaml", "shared/look-over.yaml"
WEEP = {"symptom": "pump-weep", "is": "drip"}
BY_SIGN = {"symptom": "pump-weep", "is": "drip"}

Broken = tuple[Path, str, str]
Break = Callable[[dict[str, Any]], Any]


def pump(change: Callable[[dict[str, Any]], Any]) -> Break:
    """A change of the component."""
    return lambda parts: change(parts[PUMP])


def symptom(i: int, **keys: Any) -> Break:
    """Some keys of a symptom changed."""
    return pump(lambda p: p["symptoms"][i].update(keys))


def condition(**keys: Any) -> Break:
    """Some keys of the condition changed."""
    return pump(lambda p: p["conditions"][0].update(keys))


def fault(i: int, **keys: Any) -> Break:
    """Some keys of a fault changed."""
    return pump(lambda p: p["faults"][i].update(keys))


def check(i: int, **keys: Any) -> Break:
    """Some keys of a check changed."""
    return pump(lambda p: p["checks"][i].update(keys))


def shows(**link: Any) -> Break:
    """One more link of the seal."""
    return pump(lambda p: p["faults"][0]["shows"].append({"why": "w", **link}))


def only_shows(at_least: dict[str, str | float]) -> Break:
    """The bearing shows on the weep, and on nothing else."""
    return fault(1, shows=[{"symptom": "pump-weep", "at_least": at_least, "why": "w"}])


def rule(when: dict[str, Any], then: dict[str, Any] | None = None) -> Break:
    """One more chained rule."""
    return pump(lambda p: p["rules"].append(tiny.rule("new-rule", when, then or tiny.finding("new-finding"))))


def example(**keys: Any) -> Break:
    """One more example, of a drip unless it says otherwise."""
    return pump(lambda p: p["examples"].append({"name": "New", "given": {"pump-weep": "drip"}, "expect": {}, "why": "w", **keys}))


def bands(*edges: tuple[float | None, float | None]) -> Break:
    """The bands of the gauge, from and to."""
    grades = {
        g: {k: v for k, v in (("at_least", a), ("below", b)) if v is not None}
        for g, (a, b) in zip(("none", "raised", "high"), edges, strict=True)
    }
    return symptom(3, grades=grades)


P, W, B, L = PUMP, WORDS, BOAT, LOOKS
SEAL, BEARING, NEW_RULE = ("faults", 0), ("faults", 1), ("rules", 4)
NEW_LINK, NEW_EXAMPLE = (*SEAL, "shows", 3), ("examples", 4)
NOT_A_FACT = "switched by facts of the boat only"

BROKEN: dict[str, tuple[Break, str, str, tuple[str | int, ...]]] = {
    # what: the change, the message, the file, the place in it
    "an id used twice": (check(1, id="pump-weep"), "id 'pump-weep' is already used in pump", P, ("checks", 1, "id")),
    "an old id used again": (fault(1, was=["pump-hot"]), "id 'pump-hot' is already used in pump", P, (*BEARING, "id")),
    "a strength under the floor": (lambda p: p[W]["strengths"].update(faint=0.0005), "a strength is under the floor", W, ("strengths",)),
    "no engine states": (lambda p: p[W].update(states={}), "no engine states", W, ("states",)),
    "a consequence without a name": (lambda p: p[W]["consequences"].pop("gas"), "no words for the consequence 'gas'", W, ("consequences",)),
    "a range that ends within a band": (
        symptom(3, measure={"unit": "degC", "possible": [-10, 150], "met": [70, 95], "sigma": 3}),
        "'met' of 'pump-gauge-high' must lie within what is possible, and beyond every edge of a band",
        P,
        ("symptoms", 3, "grades"),
    ),
    "an exposure without a loss": (
        lambda p: p[W]["exposures"]["offshore"]["loses"].pop("fire"),
        "'offshore' does not say what 'fire' loses",
        W,
        ("exposures", "offshore"),
    ),
    "a default that is no value": (
        lambda p: p[B]["facts"][0].update(default="ice"),
        "default of 'cooling' is not one of its",
        B,
        ("facts", 0),
    ),
    "a default that is no flag": (
        lambda p: p[B]["facts"][2].update(default=1),
        "default of 'expansion-bottle' is not true",
        B,
        ("facts", 2),
    ),
    "a default that cannot be": (
        lambda p: p[B]["facts"][3].update(default=11),
        "default of 'header-reserve' is not a number between 0 and 10",
        B,
        ("facts", 3),
    ),
    "a default that is no number": (
        lambda p: p[B]["facts"][3].update(default=True),
        "default of 'header-reserve' is not a number",
        B,
        ("facts", 3),
    ),
    "chances of other values": (
        lambda p: p[B]["facts"][1].update(chances={"chain": 0.5}),
        "value of 'pump-drive' 'chain'",
        B,
        ("facts", 1),
    ),
    "a look of an unknown symptom": (lambda p: p[L]["looks"][0].update(tells=["pump-wep"]), "symptom 'pump-wep'", L, ("looks", 0, "tells")),
    "a look in a wrong state": (
        lambda p: p[L]["looks"][0].update(state="under-load"),
        "'pump-weep' cannot be judged under-load",
        L,
        ("looks", 0),
    ),
    "a look switched by a sign": (lambda p: p[L]["looks"][1].update(live_when=BY_SIGN), NOT_A_FACT, L, ("looks", 1, "live_when")),
    "an unknown system": (pump(lambda p: p.update(system="coolnt")), "system 'coolnt'", P, ("system",)),
    "a file switched by a sign": (pump(lambda p: p.update(applies=BY_SIGN)), NOT_A_FACT, P, ("applies",)),
    "grades that do not begin with none": (
        symptom(1, grades={"tight": "x", "moves": "z"}),
        "must begin with 'none'",
        P,
        ("symptoms", 1, "grades"),
    ),
    "only one grade": (symptom(1, grades={"none": "x"}, background={}), "must begin with 'none' and go on", P, ("symptoms", 1, "grades")),
    "a grade without background": (
        symptom(0, background={"damp": "rare"}),
        "background for each of damp, drip",
        P,
        ("symptoms", 0, "background"),
    ),
    "an unknown background": (symptom(1, background={"moves": "rarely"}), "background 'rarely'", P, ("symptoms", 1, "background", "moves")),
    "a background that does not fall": (
        symptom(0, background={"damp": "rare", "drip": "rare"}),
        "background of 'pump-weep' must fall",
        P,
        ("symptoms", 0, "background"),
    ),
    "a background under the floor": (
        symptom(1, background={"moves": 0.0004}),
        "must fall by at least 0.001",
        P,
        ("symptoms", 1, "background"),
    ),
    "a condition whose grades are broken": (
        condition(grades={"hot": "x", "none": "z"}),
        "must begin with 'none'",
        P,
        ("conditions", 0, "grades"),
    ),
    "no states to judge in": (symptom(1, states=[]), "needs the engine states", P, ("symptoms", 1)),
    "a measure without bands": (
        symptom(1, measure={"unit": "mm", "possible": [0, 9], "sigma": 1}),
        "bands and 'measure' go together",
        P,
        ("symptoms", 1, "grades"),
    ),
    "bands without a measure": (
        pump(lambda p: p["symptoms"][3].pop("measure")),
        "bands and 'measure' go together",
        P,
        ("symptoms", 3, "grades"),
    ),
    "bands with a gap": (bands((None, 91), (92, 98), (98, None)), "must meet, in order", P, ("symptoms", 3, "grades")),
    "bands that overlap": (bands((None, 91), (90, 98), (98, None)), "must meet, in order", P, ("symptoms", 3, "grades")),
    "bands without an end": (bands((None, None), (91, 98), (98, None)), "must meet, in order", P, ("symptoms", 3, "grades")),
    "bands that stop short": (bands((None, 91), (91, 98), (98, 120)), "must cover every possible", P, ("symptoms", 3, "grades")),
    "falling bands that stop short": (bands((98, 120), (91, 98), (None, 91)), "must cover every possible", P, ("symptoms", 3, "grades")),
    "a leak without a rate": (
        symptom(0, leak={"fluid": "coolant", "rates": {"drip": [1, 2]}}),
        "needs a leak rate for each grade",
        P,
        ("symptoms", 0, "leak"),
    ),
    "a link to an unknown symptom": (shows(symptom="pump-wep", at_least={"damp": "often"}), "symptom 'pump-wep'", P, NEW_LINK),
    "a link to an unknown condition": (shows(condition="pump-hto", at_least={"hot": "often"}), "condition 'pump-hto'", P, NEW_LINK),
    "a link switched by a sign": (
        shows(symptom="pump-play", at_least={"moves": "often"}, live_when=BY_SIGN),
        NOT_A_FACT,
        P,
        (*NEW_LINK, "live_when"),
    ),
    "a link in a wrong state": (
        shows(symptom="pump-play", at_least={"moves": "often"}, states=["idle"]),
        "'pump-play' cannot be judged idle",
        P,
        NEW_LINK,
    ),
    "a condition in a state": (
        shows(condition="pump-hot", at_least={"hot": "often"}, states=["idle"]),
        "not tied to an engine state",
        P,
        NEW_LINK,
    ),
    "a table of an unknown stage": (
        shows(symptom="pump-play", by={"wepping": {"moves": "often"}}),
        "'wepping' is not one of weeping",
        P,
        NEW_LINK,
    ),
    "a table of an unknown grade": (
        shows(symptom="pump-play", at_least={"moves": "often", "wobbles": "seldom"}),
        "grade of 'pump-play' 'wobbles'",
        P,
        NEW_LINK,
    ),
    "an unknown strength": (shows(symptom="pump-play", at_least={"moves": "oftn"}), "strength 'oftn'", P, NEW_LINK),
    "strengths with a gap": (
        only_shows({"drip": "often"}),
        "strengths for 'pump-weep' must start at 'damp' without a gap",
        P,
        (*BEARING, "shows", 0),
    ),
    "strengths that do not fall": (
        only_shows({"damp": "often", "drip": "often"}),
        "strength for 'pump-weep' must fall",
        P,
        (*BEARING, "shows", 0),
    ),
    "a strength near its background": (only_shows({"damp": 0.03}), "is under twice its background 0.02", P, (*BEARING, "shows", 0)),
    "a later stage that shows less": (
        shows(symptom="pump-play", by={"weeping": {"moves": "often"}, "streaming": {"moves": "seldom"}}),
        "a later stage shows less of 'pump-play'",
        P,
        NEW_LINK,
    ),
    "two stages of one name": (
        fault(0, stages=[{"id": "weeping", "title": "x", "lasts": [1, 2]}] * 2),
        "has two stages of one name",
        P,
        (*SEAL, "stages"),
    ),
    "a stage without an end before the last": (
        pump(lambda p: p["faults"][0]["stages"][0].pop("lasts")),
        "only the last stage",
        P,
        (*SEAL, "stages"),
    ),
    "an unknown service item": (
        pump(lambda p: p["faults"][0]["ages_with"].update(since="pmp")),
        "service item 'pmp'",
        P,
        (*SEAL, "ages_with"),
    ),
    "an unknown event": (
        fault(1, after=[{"event": "pump-wrok", "chance": 0.1, "why": "w"}]),
        "event 'pump-wrok'",
        P,
        (*BEARING, "after", 0),
    ),
    "an unknown rival": (
        fault(1, told_from=[{"fault": "pump-sael", "by": "rock-pump"}]),
        "fault 'pump-sael'",
        P,
        (*BEARING, "told_from", 0),
    ),
    "an unknown parting check": (
        fault(1, told_from=[{"fault": "pump-seal-worn", "by": "rok-pump"}]),
        "check 'rok-pump'",
        P,
        (*BEARING, "told_from", 0),
    ),
    "no rival at all": (fault(1, told_from=[]), "names no rival and no check that parts it", P, BEARING),
    "an unknown effect": (
        fault(1, leads_to=[{"fault": "pump-hot", "chance": 0.1, "why": "w"}]),
        "fault 'pump-hot'",
        P,
        (*BEARING, "leads_to", 0),
    ),
    "an effect from an unknown stage": (
        pump(lambda p: p["faults"][0]["leads_to"][0].update(stage="drips")),
        "'drips' is not a stage",
        P,
        (*SEAL, "leads_to", 0),
    ),
    "a fault switched by a sign": (fault(1, live_when=BY_SIGN), NOT_A_FACT, P, (*BEARING, "live_when")),
    "a fault switched by a finding": (fault(1, live_when={"finding": "pump-loses"}), NOT_A_FACT, P, (*BEARING, "live_when")),
    "a check of an unknown symptom": (check(0, tells=["pump-weep", "pump-wep"]), "symptom 'pump-wep'", P, ("checks", 0)),
    "a check that destroys the unknown": (check(0, destroys=["pump-wep"]), "symptom 'pump-wep'", P, ("checks", 0)),
    "a check in a wrong state": (check(2, tells=["pump-gauge-high", "pump-play"]), "'pump-play' cannot be judged idle", P, ("checks", 2)),
    "an unknown set-up": (
        pump(lambda p: p["checks"][0]["needs"].update(setups=["box-opn"])),
        "set-up 'box-opn'",
        P,
        ("checks", 0, "needs"),
    ),
    "an unknown caution of a check": (check(0, cautions=["key-uot"]), "caution 'key-uot'", P, ("checks", 0, "cautions")),
    "a check switched by a sign": (check(0, live_when=BY_SIGN), NOT_A_FACT, P, ("checks", 0, "live_when")),
    "a reading of another symptom": (
        check(0, reading=[{"seen": {"pump-play": "none"}, "means": "m"}]),
        "told by this check 'pump-play'",
        P,
        ("checks", 0, "reading", 0),
    ),
    "a reading of an unknown grade": (
        check(0, reading=[{"seen": {"pump-weep": "wet"}, "means": "m"}]),
        "grade 'wet'",
        P,
        ("checks", 0, "reading", 0),
    ),
    "a job for an unknown fault": (pump(lambda p: p["jobs"][0]["cures"].append("pump-sael")), "fault 'pump-sael'", P, ("jobs", 0, "cures")),
    "a job with an unknown part": (
        pump(lambda p: p["jobs"][0].update(order=[{"part": "pump-kti"}])),
        "part 'pump-kti'",
        P,
        ("jobs", 0, "order"),
    ),
    "a job with an unknown caution": (
        pump(lambda p: p["jobs"][0].update(cautions=["key-uot"])),
        "caution 'key-uot'",
        P,
        ("jobs", 0, "cautions"),
    ),
    "a rule on an unknown symptom": (rule({"symptom": "pump-wep", "is": "drip"}), "symptom 'pump-wep'", P, (*NEW_RULE, "when")),
    "a rule on an unknown grade": (rule({"symptom": "pump-weep", "is": "wet"}), "grade of 'pump-weep' 'wet'", P, (*NEW_RULE, "when")),
    "a rule in a wrong state": (rule({**WEEP, "states": ["under-load"]}), "cannot be judged under-load", P, (*NEW_RULE, "when")),
    "a rule on an unknown fact": (rule({"all": [WEEP, {"fact": "coling", "is": "raw"}]}), "boat fact 'coling'", P, (*NEW_RULE, "when")),
    "a rule on an unknown value": (
        rule({"all": [WEEP, {"not": {"fact": "cooling", "is": "rwa"}}]}),
        "value of 'cooling' 'rwa'",
        P,
        (*NEW_RULE, "when"),
    ),
    "a rule on an unknown event": (rule({"event": "pump-wrok"}), "event 'pump-wrok'", P, (*NEW_RULE, "when")),
    "a rule on the chance of the unknown": (
        rule({"chance": "pump-sael", "over": 0.5}),
        "fault or condition 'pump-sael'",
        P,
        (*NEW_RULE, "when"),
    ),
    "a rule that sets an unknown fact": (
        rule({"fact": "cooling", "is": "raw"}, {"fact": "coling", "is": "raw"}),
        "boat fact 'coling'",
        P,
        (*NEW_RULE, "then"),
    ),
    "a rule that sets an unknown value": (
        rule({"fact": "pump-drive", "is": "gear"}, {"fact": "cooling", "is": "rwa"}),
        "value of 'cooling' 'rwa'",
        P,
        (*NEW_RULE, "then"),
    ),
    "an example of an unknown symptom": (example(given={"pump-wep": "drip"}), "symptom 'pump-wep'", P, (*NEW_EXAMPLE, "given", "pump-wep")),
    "an example of an unknown grade": (example(given={"pump-weep": "wet"}), "grade 'wet'", P, (*NEW_EXAMPLE, "given", "pump-weep")),
    "an example of an unknown fault": (example(shown="pump-sael"), "fault 'pump-sael'", P, NEW_EXAMPLE),
    "an example that expects the unknown": (example(expect={"above": {"pump-sael": 0.5}}), "fault 'pump-sael'", P, NEW_EXAMPLE),
    "an example on an unknown boat": (example(boat={"coling": "raw"}), "boat fact 'coling'", P, (*NEW_EXAMPLE, "boat")),
    "an example that fires the unknown": (example(expect={"fires": ["ghost"]}), "rule 'ghost'", P, NEW_EXAMPLE),
    "an example that holds the unknown": (example(expect={"holds": ["pump-dyr"]}), "hold 'pump-dyr'", P, NEW_EXAMPLE),
    "an unknown source": (
        symptom(1, source={"kind": "published", "ref": "a-standrad"}),
        "source 'a-standrad'",
        P,
        ("symptoms", 1, "source"),
    ),
    "causes in a circle": (
        fault(1, leads_to=[{"fault": "pump-seal-worn", "chance": 0.1, "why": "w"}]),
        "cause one another in a circle",
        P,
        (),
    ),
    "a finding nobody makes": (rule({"finding": "ghost"}), "finding 'ghost', which no rule makes", P, NEW_RULE),
    "a switch that is only a not": (
        check(2, live_when={"not": {"fact": "cooling", "is": "raw"}}),
        "asks only for what is absent",
        P,
        ("checks", 2),
    ),
    "a file's switch that negates two things": (
        pump(lambda p: p.update(applies={"not": {"all": [{"fact": "cooling", "is": "raw"}] * 2}})),
        "negates more than one thing",
        P,
        ("applies",),
    ),
    "a look's switch that compares a word": (
        lambda p: p[L]["looks"][1].update(live_when={"fact": "hours-a-year", "at_least": "many"}),
        "'many' is compared as a number",
        L,
        ("looks", 1),
    ),
}


@pytest.fixture(params=BROKEN)
def broken(request: pytest.FixtureRequest, write_rules: Any) -> Broken:
    """A broken book in a folder: the folder, the message and the place it should give."""
    change, message, name, path = BROKEN[request.param]
    parts = tiny.parts()
    change(parts)
    return write_rules(parts), message, place(parts, name, path)


def place(parts: dict[str, Any], name: str, path: tuple[str | int, ...]) -> str:
    """`file, line n` of a path in one of the parts, by the marks of the YAML library."""
    node = yaml.compose(tiny.text_of(parts[name]), Loader=yaml.SafeLoader)
    line = node.start_mark.line
    for step in path:
        if isinstance(step, int):
            node = node.value[step]
            line = node.start_mark.line
        else:
            key, node = next(pair for pair in node.value if pair[0].value == step)
            line = key.start_mark.line
    return f"{name}, line {line + 1}"


def test_a_broken_book_is_refused_with_its_place(broken: Broken) -> None:
    """Loading refuses the book, and the error names what is wrong, the file and the line."""
    folder, message, where = broken
    with pytest.raises(RuleError) as caught:
        load_rules(folder)
    assert message in caught.value.what
    assert caught.value.where == where


def test_checking_a_broken_book_lists_the_problem(broken: Broken) -> None:
    """`rules check` goes on past the problem to the end, and lists it with its place."""
    folder, message, where = broken
    report = check_rules(folder)
    assert report.broken
    assert report.summary == f"{len(report.lines)} broken"
    assert [line for line in report.lines if message in line and line.startswith(f"{where}: ")]


def test_an_unknown_name_gets_the_nearest(write_rules: Any) -> None:
    """A name that is not in the book gets the one it is most like."""
    parts = tiny.parts()
    BROKEN["a link to an unknown symptom"][0](parts)
    with pytest.raises(RuleError) as caught:
        load_rules(write_rules(parts))
    assert caught.value.right.split(" or ")[0] == "pump-weep"


def test_the_tiny_book_has_no_problems(tiny_book: Book) -> None:
    """The book that all others here are broken copies of is whole."""
    assert list(problems(tiny_book)) == []


WHOLE: dict[str, Break] = {
    "a known gap in place of a rival": fault(1, told_from=[], known_gap="There is no other way to tell."),
    "falling bands": bands((98, None), (91, 98), (None, 91)),
    "a last stage that stays": fault(0, stages=[{"id": "weeping", "title": "w", "lasts": [1, 2]}, {"id": "streaming", "title": "s"}]),
    "a number in place of a word": shows(symptom="pump-play", at_least={"moves": 0.4}),
    "an early stage near the background": shows(symptom="pump-play", by={"weeping": {"moves": 0.006}, "streaming": {"moves": "often"}}),
    "a switch with two facts": check(
        0, live_when={"all": [{"fact": "cooling", "is": "raw"}, {"not": {"fact": "pump-drive", "is": "gear"}}]}
    ),
    "a published source": symptom(1, source={"kind": "published", "ref": "a-standard"}),
}


@pytest.mark.parametrize("what", WHOLE)
def test_what_only_looks_broken_is_taken(what: str, write_rules: Any) -> None:
    """What is allowed beside each of these rules is taken."""
    parts = tiny.parts()
    parts[PUMP]["examples"] = []
    WHOLE[what](parts)
    assert load_rules(write_rules(parts)).faults


def test_every_problem_of_the_module_has_its_broken_book() -> None:
    """Every message that the module can make is made by some broken book here."""
    import diagnose.knowledge.integrity as module

    made = set()
    for change, _, _, _ in BROKEN.values():
        parts = tiny.parts()
        change(parts)
        made |= {problem.what for problem in problems(tiny.unchecked(parts))}
    fixed_parts = [max(_literals(call.args[2]), key=len) for call in _problem_calls(Path(str(module.__file__)))]
    assert len(fixed_parts) > 25
    assert [part for part in fixed_parts if not any(part in what for what in made)] == []


def _problem_calls(path: Path) -> list[ast.Call]:
    """All places where a Problem is made with a message written there."""
    calls = [
        n
        for n in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(n, ast.Call) and getattr(n.func, "id", "") == "Problem"
    ]
    return [call for call in calls if len(call.args) > 2 and isinstance(call.args[2], ast.Constant | ast.JoinedStr)]


def _literals(message: ast.expr) -> list[str]:
    """The fixed parts of a message."""
    parts = message.values if isinstance(message, ast.JoinedStr) else [message]
    return [str(part.value) for part in parts if isinstance(part, ast.Constant)]
