"""From structured conditions to compiled rules: what each condition means, what is refused, strata, chains, switches."""

from __future__ import annotations

import itertools
from typing import Any

import pytest
import tiny
from tiny import finding, rule

from diagnose.case import Case
from diagnose.chain import durable
from diagnose.chain.compile import compile_rules, live_name
from diagnose.chain.engine import Chainer, best_engine, build
from diagnose.chain.form import Fact, Outcome
from diagnose.errors import InputError, RuleError
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules
from diagnose.situation import resolve
from diagnose.triage import assess

ENGINES = [
    "plain",
    pytest.param("durable-rules", marks=pytest.mark.skipif(not durable.available(), reason="durable-rules cannot be loaded here")),
]
both = pytest.mark.parametrize("engine", ENGINES)


def case(*observations: dict[str, Any], **changes: Any) -> Case:
    """A case of some observations."""
    return Case.model_validate(tiny.case(observations=list(observations), **changes))


def chained(book: Book, the_case: Case, engine: Any = "plain") -> Outcome:
    """What follows from the boat and the readings."""
    situation, chainer = resolve(the_case, book), Chainer.of(book, engine)
    boat = chainer.arrangement(situation.facts_for_chain())
    return chainer.findings([*boat.facts.values(), *situation.readings_for_chain()])


def finds(when: dict[str, Any], the_case: Case, engine: Any = "plain", **more: Any) -> bool:
    """Whether a rule of this condition fires in a case."""
    return chained(tiny.unchecked(tiny.with_rules(rule("the-rule", when, finding("it"), **more))), the_case, engine).has("finding:it")


DRIP, DAMP, DRY = (tiny.observation("pump-weep", grade) for grade in ("drip", "damp", "none"))
IDLE_DRIP = tiny.observation("pump-weep", "drip", "idle")
RANGE = {"symptom": "pump-weep", "at_least": "damp", "state": "cold-stopped"}
HOT = {"symptom": "pump-gauge-high", "value": "99 degC", "state": "idle"}

MEANT = [
    ("this grade or worse: worse", {"symptom": "pump-weep", "at_least": "damp"}, [DRIP], True),
    ("this grade or worse: better", {"symptom": "pump-weep", "at_least": "drip"}, [DAMP], False),
    ("a range that may be less is not surely this grade", {"symptom": "pump-weep", "at_least": "drip"}, [RANGE], False),
    ("a range is surely its lower end", {"symptom": "pump-weep", "at_least": "damp"}, [RANGE], True),
    ("exactly this grade", {"symptom": "pump-weep", "is": "damp"}, [DAMP], True),
    ("exactly this grade: worse", {"symptom": "pump-weep", "is": "damp"}, [DRIP], False),
    ("exactly this grade: a range", {"symptom": "pump-weep", "is": "damp"}, [RANGE], False),
    ("one of some grades", {"symptom": "pump-weep", "one_of": ["none", "drip"]}, [DRIP], True),
    ("none of those grades", {"symptom": "pump-weep", "one_of": ["none", "drip"]}, [DAMP], False),
    ("looked, and nothing there", {"symptom": "pump-weep", "is": "none"}, [DRY], True),
    ("in the state asked for", {"symptom": "pump-weep", "at_least": "damp", "states": ["idle"]}, [IDLE_DRIP], True),
    ("in another state", {"symptom": "pump-weep", "at_least": "damp", "states": ["idle"]}, [DRIP], False),
    ("a number by its band", {"symptom": "pump-gauge-high", "at_least": "high"}, [HOT], True),
    ("before the work", {"symptom": "pump-weep", "at_least": "damp", "epoch": "before"}, [{**DRIP, "epoch": "before"}], True),
    ("now, and not before the work", {"symptom": "pump-weep", "at_least": "damp"}, [{**DRIP, "epoch": "before"}], False),
    ("any of two: the second", {"any": [{"symptom": "pump-play", "is": "moves"}, {"symptom": "pump-weep", "is": "drip"}]}, [DRIP], True),
    ("any of two: neither", {"any": [{"symptom": "pump-play", "is": "moves"}, {"symptom": "pump-weep", "is": "drip"}]}, [DAMP], False),
    (
        "all of two: one is missing",
        {"all": [{"symptom": "pump-play", "is": "moves"}, {"symptom": "pump-weep", "is": "drip"}]},
        [DRIP],
        False,
    ),
    (
        "not what is seen",
        {"all": [{"symptom": "pump-weep", "is": "drip"}, {"not": {"symptom": "pump-gauge-high", "is": "high"}}]},
        [DRIP, HOT],
        False,
    ),
    (
        "not, and it is better",
        {"all": [{"symptom": "pump-weep", "is": "drip"}, {"not": {"symptom": "pump-gauge-high", "is": "raised"}}]},
        [DRIP, HOT],
        True,
    ),
    ("a choice of the boat", {"all": [{"symptom": "pump-weep", "is": "drip"}, {"fact": "cooling", "is": "sealed"}]}, [DRIP], True),
    (
        "another choice of the boat",
        {"all": [{"symptom": "pump-weep", "is": "drip"}, {"fact": "cooling", "one_of": ["raw"]}]},
        [DRIP],
        False,
    ),
    ("a flag of the boat", {"all": [{"symptom": "pump-weep", "is": "drip"}, {"fact": "expansion-bottle", "is": True}]}, [DRIP], True),
    ("a number of the boat", {"all": [{"symptom": "pump-weep", "is": "drip"}, {"fact": "hours-a-year", "at_least": 100}]}, [DRIP], True),
    (
        "a number of the boat that is not below",
        {"all": [{"symptom": "pump-weep", "is": "drip"}, {"fact": "hours-a-year", "below": 100}]},
        [DRIP],
        False,
    ),
    (
        "a number of the boat between two",
        {"all": [{"symptom": "pump-weep", "is": "drip"}, {"fact": "hours-a-year", "at_least": 50}, {"fact": "hours-a-year", "below": 101}]},
        [DRIP],
        True,
    ),
]


@both
@pytest.mark.parametrize(("when", "seen", "fires"), [m[1:] for m in MEANT], ids=[m[0] for m in MEANT])
def test_what_a_condition_means(when: dict[str, Any], seen: list[dict[str, Any]], fires: bool, engine: str) -> None:
    """Each kind of condition fires when it is met and not when it is just missed, in both engines."""
    assert finds(when, case(*seen), engine) is fires


@both
@pytest.mark.parametrize("asked", [{"is": "none"}, {"at_least": "damp"}, {"one_of": ["none", "damp", "drip"]}])
@pytest.mark.parametrize(
    "given", [[], [HOT], [{"symptom": "pump-weep", "sure": "cannot-see"}], [{"symptom": "pump-weep", "sure": "not-sure"}]]
)
def test_not_looked_never_matches(asked: dict[str, Any], given: list[dict[str, Any]], engine: str) -> None:
    """What nobody looked at, or could not see, is no grade at all: not even none."""
    assert not finds({"symptom": "pump-weep", **asked}, case(*given), engine)


def test_a_guess_that_all_is_well_fires_nothing() -> None:
    """A guess at a finding fires a rule; a guess at health does not, and a sure look does."""
    assert finds({"symptom": "pump-weep", "is": "drip"}, case({**DRIP, "sure": "guess"}))
    assert not finds({"symptom": "pump-weep", "is": "none"}, case({**DRY, "sure": "guess"}))
    assert finds({"symptom": "pump-weep", "is": "none"}, case({**DRY, "sure": "think-so"}))


@both
def test_one_and_the_same_state(engine: str) -> None:
    """With same_state the two signs must have been seen in one engine state; without it any will do."""
    when = {"all": [{"symptom": "pump-weep", "at_least": "damp"}, {"symptom": "pump-gauge-high", "at_least": "raised"}]}
    apart, together = case(DRIP, HOT), case(IDLE_DRIP, HOT)
    assert finds(when, apart, engine)
    assert not finds(when, apart, engine, same_state=True)
    assert finds(when, together, engine, same_state=True)


def test_events_fire_within_their_hours() -> None:
    """An event counts until the hours asked for are over, that hour included; without hours it always counts."""
    for hours, fires in ((0, True), (20, True), (20.5, False)):
        happened = case(DRIP, events=[{"event": "pump-work", "hours_ago": hours}])
        assert finds({"event": "pump-work", "within_hours": 20}, happened) is fires
        assert finds({"event": "pump-work"}, happened)
    assert not finds({"event": "pump-work"}, case(DRIP))


@both
def test_three_steps_and_a_hold(engine: Any, tiny_book: Book) -> None:
    """Two readings give a finding, that and a third give the next, and that gives the hold, in this order in the record."""
    seen = case(DRIP, tiny.observation("pump-level-low", "low"), HOT)
    outcome = chained(tiny_book, seen, engine)
    assert [f.rule for f in outcome.firings] == ["weep-and-low", "loss-and-heat", "running-dry-hold"]
    for first, then in itertools.pairwise(outcome.firings):
        assert first.made[0] in then.used
    assessment = assess(seen, tiny_book, engine=engine)
    assert [h.id for h in assessment.holds] == ["pump-dry"]
    assert [set(f.observations) for f in assessment.trace if f.chain == "findings"] == [
        {"o2", "o3"},
        {"o1", "o2", "o3"},
        {"o1", "o2", "o3"},
    ]


@both
def test_each_link_of_the_chain_is_needed(engine: Any, tiny_book: Book) -> None:
    """Without any one of the three readings the chain of three stops short of its hold."""
    seen = [DRIP, tiny.observation("pump-level-low", "low"), HOT]
    for i in range(3):
        assert not chained(tiny_book, case(*seen[:i], *seen[i + 1 :]), engine).has("hold:pump-dry")


@both
def test_firings_stand_in_an_order_of_their_content(engine: Any) -> None:
    """The record is the same whichever rule stands first in the file and whichever observation in the case."""
    rules = [rule(f"{name}-rule", {"symptom": "pump-weep", "at_least": "damp"}, finding(name)) for name in ("c", "a", "b")]
    rules.append(rule("z-rule", {"all": [{"finding": "b"}, {"finding": "a"}]}, finding("z")))
    seen = [IDLE_DRIP, DAMP, HOT]
    records = {
        chained(tiny.unchecked(tiny.with_rules(*order)), case(*facts), engine).firings
        for order in (rules, rules[::-1], rules[2:] + rules[:2])
        for facts in (seen, seen[::-1])
    }
    assert len(records) == 1
    assert [f.rule for f in records.pop()] == ["a-rule"] * 2 + ["b-rule"] * 2 + ["c-rule"] * 2 + ["z-rule"]


# ------------------------------------------------------------------ strata


def test_negation_waits_until_its_finding_is_settled() -> None:
    """A rule on the absence of a finding runs after the rules that make it, and so on upward, wherever they stand."""
    weep = {"symptom": "pump-weep", "at_least": "damp"}
    rules = [
        rule("third", {"all": [weep, {"not": {"finding": "two"}}]}, finding("three")),
        rule("second", {"all": [weep, {"not": {"finding": "one"}}]}, finding("two")),
        rule("first", {"symptom": "pump-weep", "is": "drip"}, finding("one")),
    ]
    book = tiny.unchecked(tiny.with_rules(*rules))
    assert {r.rule: r.stratum for r in compile_rules(book).findings} == {"first": 0, "second": 1, "third": 2}
    assert [f.rule for f in chained(book, case(DRIP)).firings] == ["first", "third"]
    assert [f.rule for f in chained(book, case(DAMP)).firings] == ["second"]


def test_a_rule_that_only_builds_on_a_higher_stratum_rises_with_it() -> None:
    """What builds on a finding of stratum 1 without negating it stands in stratum 1 too."""
    weep = {"symptom": "pump-weep", "at_least": "damp"}
    rules = [
        rule("builds", {"finding": "quiet"}, finding("more")),
        rule("quiet-rule", {"all": [weep, {"not": {"symptom": "pump-play", "is": "moves"}}]}, finding("quiet")),
    ]
    book = tiny.unchecked(tiny.with_rules(*rules))
    assert {r.rule: r.stratum for r in compile_rules(book).findings} == {"builds": 1, "quiet-rule": 1}


# ------------------------------------------------------------------ refusals

WEEP = {"symptom": "pump-weep", "at_least": "damp"}
GRADES = [{"symptom": "pump-weep", "is": grade} for grade in ("none", "damp", "drip")]
REFUSED = {
    "a finding nobody makes": (rule("r", {"finding": "ghost"}, finding("it")), "finding 'ghost', which no rule makes"),
    "a hold nobody makes": (rule("r", {"all": [WEEP, {"not": {"hold": "ghost"}}]}, finding("it")), "hold 'ghost', which no rule makes"),
    "a boat fact from a sign": (rule("r", WEEP, {"fact": "cooling", "is": "raw"}), "boat fact from something other than boat facts"),
    "a not over two things": (
        rule("r", {"all": [WEEP, {"not": {"all": [WEEP, {"fact": "cooling", "is": "raw"}]}}]}, finding("it")),
        "negates more than one thing",
    ),
    "a not over a not": (rule("r", {"all": [WEEP, {"not": {"not": WEEP}}]}, finding("it")), "negates more than one thing"),
    "only a not": (rule("r", {"not": WEEP}, finding("it")), "only for what is absent"),
    "too many alternatives": (
        rule("r", {"all": [{"any": GRADES}, {"any": GRADES}, {"any": GRADES}, {"any": GRADES}]}, finding("it")),
        "more than 48 alternatives",
    ),
    "a word compared as a number": (
        rule("r", {"all": [WEEP, {"fact": "hours-a-year", "at_least": "many"}]}, finding("it")),
        "'many' is compared as a number",
    ),
    "a number beyond the engine": (
        rule("r", {"all": [WEEP, {"fact": "hours-a-year", "at_least": 10**20}]}, finding("it")),
        "value of a fact",
    ),
    "one state without a sign": (rule("r", {"fact": "cooling", "is": "raw"}, finding("it"), same_state=True), "without naming a symptom"),
    "its own absence": (rule("r", {"all": [WEEP, {"not": {"finding": "it"}}]}, finding("it")), "absence of what it leads to"),
    "one reading for and against": (
        rule("r", {"all": [WEEP, {"not": {"symptom": "pump-weep", "is": "drip"}}]}, finding("it")),
        "asks twice",
    ),
}


@pytest.mark.parametrize("what", REFUSED)
def test_a_refused_rule_is_named(what: str) -> None:
    """Each rule the compiler refuses is named by its id, with what is wrong; a sound rule beside it is not blamed."""
    broken, message = REFUSED[what]
    book = tiny.unchecked(tiny.with_rules(rule("sound", WEEP, finding("sound")), broken))
    with pytest.raises(RuleError, match=message) as caught:
        compile_rules(book)
    assert caught.value.where == "r"


@pytest.mark.parametrize("what", REFUSED)
def test_a_refused_rule_is_found_in_its_file(what: str, write_rules: Any) -> None:
    """Loading the book names the file and the line of the refused rule."""
    parts = tiny.with_rules(rule("sound", WEEP, finding("sound")), REFUSED[what][0])
    line = tiny.text_of(parts["coolant/pump.yaml"]).splitlines().index("- id: r") + 1
    with pytest.raises(RuleError) as caught:
        load_rules(write_rules(parts))
    assert caught.value.where == f"coolant/pump.yaml, line {line}"


def test_a_circle_through_a_negation_is_refused() -> None:
    """Two rules, each on the absence of what the other leads to, have no order; one of them is named."""
    rules = [
        rule("one", {"all": [WEEP, {"not": {"finding": "b"}}]}, finding("a")),
        rule("two", {"all": [WEEP, {"not": {"finding": "a"}}]}, finding("b")),
    ]
    with pytest.raises(RuleError, match="absence of what it leads to") as caught:
        compile_rules(tiny.unchecked(tiny.with_rules(*rules)))
    assert caught.value.where in ("one", "two")


@both
def test_a_circle_without_negation_comes_to_rest(engine: str) -> None:
    """Two findings that follow from each other are found once each."""
    rules = [rule("start", WEEP, finding("a")), rule("on", {"finding": "a"}, finding("b")), rule("back", {"finding": "b"}, finding("a"))]
    firings = chained(tiny.unchecked(tiny.with_rules(*rules)), case(DRIP), engine).firings
    assert [f.rule for f in firings] == ["start", "on", "back"]


# ------------------------------------------------------------------ the three chains and the switches


def test_rules_fall_into_three_chains() -> None:
    """Boat facts come first, signs next; what asks for a chance, or builds on what does, comes last."""
    rules = [
        rule("of-the-boat", {"fact": "cooling", "is": "raw"}, {"fact": "expansion-bottle", "is": "none"}),
        rule("of-signs", WEEP, finding("seen")),
        rule("of-chances", {"chance": "pump-seal-worn", "over": 0.5}, finding("likely")),
        rule("after-chances", {"all": [{"finding": "likely"}, {"finding": "seen"}]}, finding("both")),
    ]
    chains = compile_rules(tiny.unchecked(tiny.with_rules(*rules)))
    assert {c.rule for c in chains.arrangement if not c.rule.startswith("live:")} == {"of-the-boat"}
    assert {c.rule for c in chains.findings} == {"of-signs"}
    assert {c.rule for c in chains.conclusions} == {"of-chances", "after-chances"}
    assert chains.asked_chances == ("pump-seal-worn",)


def live(book: Book, **arrangement: Any) -> set[str]:
    """Names of the switches that are live on a boat."""
    the_case = case(boat={"arrangement": arrangement})
    outcome = Chainer.of(book, "plain").arrangement(resolve(the_case, book).facts_for_chain())
    return {str(f["n"]) for f in outcome.facts.values() if str(f["n"]).startswith("live:")}


def test_switches_are_live_by_facts_of_the_boat(tiny_book: Book) -> None:
    """The bearing's switch is live on a boat with a belt and dead on one with gears; equal switches are one."""
    fault, check = tiny_book.faults["pump-bearing-worn"], tiny_book.checks["rock-pump"]
    assert fault.live_when is not None
    assert check.live_when is not None
    belt = live_name(fault.live_when)
    assert live_name(check.live_when) == belt
    assert belt in live(tiny_book, **{"pump-drive": "belt"})
    assert belt not in live(tiny_book, **{"pump-drive": "gear"})


def test_a_dead_switch_takes_the_fault_away(tiny_book: Book) -> None:
    """A boat without a belt can have no worn belt-driven bearing, whatever is seen; a boat with one can."""
    for drive, there in (("belt", True), ("gear", False)):
        seen = case(tiny.observation("pump-play", "moves"), boat={"arrangement": {"pump-drive": drive}})
        assert ("pump-bearing-worn" in assess(seen, tiny_book).all_probabilities) is there


def test_a_fact_worked_out_from_another_works_a_switch() -> None:
    """A rule that sets a boat fact from another reaches the switches that read it."""
    parts = tiny.with_rules(rule("raw-means-gear", {"fact": "cooling", "is": "raw"}, {"fact": "drive-found", "is": "by-gear"}))
    parts["shared/boat.yaml"]["facts"].append(
        {
            "id": "drive-found",
            "title": "Drive",
            "ask": "?",
            "values": {"by-gear": "g", "unknown": "u"},
            "default": "unknown",
            "why": tiny.WHY,
        }
    )
    parts["coolant/pump.yaml"]["faults"][1]["live_when"] = {"fact": "drive-found", "is": "by-gear"}
    book = tiny.unchecked(parts)
    switch = live_name(book.faults["pump-bearing-worn"].live_when)  # type: ignore[arg-type]
    assert switch in live(book, cooling="raw")
    assert switch not in live(book, cooling="sealed")


def test_what_follows_from_the_boat_is_worked_out_once(tiny_book: Book) -> None:
    """The same boat gives the same outcome, a different boat a different one, and thousands of boats do not pile up."""
    chainer = Chainer.of(tiny_book, "plain")
    belt: list[Fact] = [{"n": "fact:pump-drive", "s": "belt"}]
    first = chainer.arrangement(belt)
    assert chainer.arrangement(belt) is first
    assert chainer.arrangement([{"n": "fact:pump-drive", "s": "gear"}]) != first
    for i in range(600):
        chainer.arrangement([{"n": "fact:hours-a-year", "v": i}])
    assert len(chainer._arrangements) < 300


# ------------------------------------------------------------------ which engine


def test_durable_rules_is_used_where_it_can_be_loaded() -> None:
    """durable-rules chains wherever it can be loaded, and the plain matcher stands in everywhere else."""
    assert best_engine() == ("durable-rules" if durable.available() else "plain")


def test_without_the_engine_the_plain_matcher_stands_in(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the engine's module cannot be imported, plain is chosen, and asking for durable-rules by name is refused."""
    import sys

    monkeypatch.setitem(sys.modules, "durable_rules_engine", None)
    assert not durable.available()
    assert best_engine() == "plain"
    with pytest.raises(InputError, match="cannot be loaded"):
        build("durable-rules", ())


def test_both_engines_give_the_same_bytes(tiny_book: Book) -> None:
    """The assessment is the same to the byte in both engines, but for the name of the engine."""
    if not durable.available():
        pytest.skip("durable-rules cannot be loaded here")
    for seen in ([], [DRIP], [DRIP, tiny.observation("pump-level-low", "low"), HOT], [DRY, tiny.observation("pump-play", "moves")]):
        for order in (seen, seen[::-1]):
            one, other = (assess(case(*order), tiny_book, engine=engine) for engine in ("durable-rules", "plain"))
            assert one.result_json() == other.result_json() == assess(case(*seen), tiny_book).result_json()
            assert (one.engine, other.engine) == ("durable-rules", "plain")
