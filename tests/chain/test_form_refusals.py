"""Every limit of the small form refuses the rule that goes past it, and names that rule; one step inside, it is taken."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from diagnose.chain import form
from diagnose.chain.form import Compiled, Join, Pattern, refuse_unsafe, shard
from diagnose.errors import RuleError

SEEN = Pattern("seen")
MADE = ({"n": "made"},)


def rule(*patterns: Pattern, stratum: int = 0, name: str = "the-rule", key: str = "") -> Compiled:
    """A rule of some patterns."""
    return Compiled(key or name, name, patterns, MADE, stratum)


def at_v(op: form.Op, value: object, name: str = "seen", *, absent: bool = False) -> Pattern:
    """A pattern of one test of `v`."""
    return Pattern(name, (form.Test("v", op, value),), (), absent)  # type: ignore[arg-type]


def many(count: int) -> Iterable[Pattern]:
    """Patterns of different names."""
    return (Pattern(f"seen{i}") for i in range(count))


REFUSED = {
    "no conditions": (rule(), "0 conditions"),
    "too many conditions": (rule(*many(13)), "13 conditions; 1 to 12"),
    "only absence": (rule(Pattern("seen", absent=True), stratum=1), "only for what is absent"),
    "a condition after a not": (rule(SEEN, Pattern("other", absent=True), Pattern("third"), stratum=1), "after a 'not'"),
    "too many tests": (rule(Pattern("seen", tuple(form.Test("v", "<", i) for i in range(21)))), "more than 20 times"),
    "a value the engine changes": (rule(at_v("==", 1e-7)), "would change"),
    "a flag as a value": (rule(at_v("==", True)), "would change"),
    "an order of texts": (rule(at_v("<", "idle")), "orders text"),
    "a join to itself": (rule(Pattern("seen", (), (Join("v", 0, "v"),))), "not matched before it"),
    "a join to a later one": (rule(Pattern("seen", (), (Join("v", 1, "v"),)), Pattern("other")), "not matched before it"),
    "a join within a not": (rule(SEEN, Pattern("other", (), (Join("v", 0, "v"),), True), stratum=1), "joins within a 'not'"),
    "a not in the first stratum": (rule(SEEN, Pattern("other", absent=True)), "within its own stratum"),
    "one thing asked twice": (rule(at_v(">=", 1), at_v("<", 5)), "asks twice for 'seen'"),
    "one thing asked for and against": (rule(at_v(">=", 1), at_v(">=", 3, absent=True), stratum=1), "asks twice for 'seen'"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_a_rule_outside_the_form_is_refused_by_name(case: str) -> None:
    """Each refusal names the rule and says what is wrong with it; the sound rule beside it is not blamed."""
    broken, message = REFUSED[case]
    with pytest.raises(RuleError, match=message) as caught:
        refuse_unsafe((rule(SEEN, name="sound"), broken))
    assert caught.value.where == "the-rule"


TAKEN = {
    "one condition": rule(SEEN),
    "twelve conditions": rule(*many(12)),
    "twenty tests": rule(Pattern("seen", tuple(form.Test("v", "<", i) for i in range(20)))),
    "a join to an earlier one": rule(SEEN, Pattern("other", (), (Join("v", 0, "v"),))),
    "a not above the first stratum": rule(SEEN, Pattern("other", absent=True), stratum=1),
    "two grades no reading can be at once": rule(at_v("==", 0), at_v(">=", 1)),
    "two ranges that do not meet": rule(at_v("<", 3), at_v(">=", 3)),
    "above and at a value": rule(at_v(">", 3), at_v("==", 3)),
    "two words": rule(at_v("==", "idle"), at_v("==", "cold")),
    "a grade and not a higher one": rule(at_v("==", 1), at_v(">=", 2, absent=True), stratum=1),
}


@pytest.mark.parametrize("case", TAKEN)
def test_a_rule_just_inside_the_form_is_taken(case: str) -> None:
    """What stands at a limit, or only looks like what is refused, is taken."""
    refuse_unsafe((TAKEN[case],))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (at_v("==", 3), at_v(">=", 3)),
        (at_v("<", 4), at_v(">=", 3)),
        (at_v(">", 1), at_v(">=", 5)),
        (at_v("==", 2), at_v("==", 2.0)),
        (SEEN, at_v("<", 1)),
    ],
)
def test_conditions_that_one_fact_meets_are_refused_in_any_order(one: Pattern, other: Pattern) -> None:
    """Two conditions of a rule that one fact could meet are refused whichever comes first."""
    for patterns in ((one, other), (other, one)):
        with pytest.raises(RuleError, match="asks twice"):
            refuse_unsafe((rule(*patterns),))


def test_two_rules_of_one_key_are_refused() -> None:
    """The engine would keep one of two rules that share a key."""
    with pytest.raises(RuleError, match="share a key"):
        refuse_unsafe((rule(SEEN), rule(Pattern("other"))))


def test_too_many_rules_are_refused_with_the_count() -> None:
    """3,501 rules are refused, and the message says how many they are."""
    with pytest.raises(RuleError, match="3501 compiled rules are more than 3500"):
        refuse_unsafe(tuple(rule(SEEN, key=str(i)) for i in range(3501)))


def test_a_condition_shared_by_too_many_rules_is_refused() -> None:
    """200 rules may share one condition; the 201st is named."""
    shared = [rule(SEEN, name=f"rule{i}") for i in range(201)]
    refuse_unsafe(tuple(shared[:200]))
    with pytest.raises(RuleError, match="more than 200 rules share a condition on 'seen'") as caught:
        refuse_unsafe(tuple(shared))
    assert caught.value.where == "rule200"


@pytest.mark.parametrize(("op", "most"), [("==", 400), ("<", 40)])
def test_too_many_different_tests_of_one_name_are_refused(op: form.Op, most: int) -> None:
    """400 values of one thing may be told apart, or 40 thresholds set on it; the rule with one more is named."""
    tests = [rule(at_v(op, i), name=f"rule{i}") for i in range(most + 1)]
    refuse_unsafe(tuple(tests[:most]))
    with pytest.raises(RuleError, match="too many different tests of 'seen'") as caught:
        refuse_unsafe(tuple(tests))
    assert caught.value.where == f"rule{most}"


def test_too_many_joins_on_one_name_are_refused() -> None:
    """Joins are never shared in the engine: the 41st on one name is refused with its rule."""
    joined = Pattern("other", (), (Join("v", 0, "v"),))
    with pytest.raises(RuleError, match="too many different tests of 'other'") as caught:
        refuse_unsafe(tuple(rule(SEEN, joined, name=f"rule{i}") for i in range(41)))
    assert caught.value.where == "rule40"


def test_too_many_names_that_fall_together_are_refused() -> None:
    """401 names of one shard would hang the engine's compiler."""
    together = (Pattern(name) for name in (f"name{i}" for i in range(60_000)) if shard(name) == 0)
    crowded = [Pattern(p.name) for _, p in zip(range(401), together, strict=False)]
    rules = tuple(rule(*crowded[i : i + 12], name=f"rule{i}") for i in range(0, 401, 12))
    with pytest.raises(RuleError, match="too many fact names fall together"):
        refuse_unsafe(rules)


@pytest.mark.parametrize("prop", ["a.b", "a b", "é", "", "1a"])
def test_property_names_are_plain_words(prop: str) -> None:
    """A property name of anything but letters, digits and underscore is refused."""
    with pytest.raises(RuleError, match="not a plain property name"):
        refuse_unsafe((rule(Pattern("seen", (form.Test(prop, "==", 1),))),))


def test_property_names_of_one_hash_are_refused() -> None:
    """`liquid` and `costarring` have the same 32-bit FNV-1a hash (a pair published with the hash), and the engine compares hashes only."""
    with pytest.raises(RuleError, match="cannot tell the properties"):
        refuse_unsafe((rule(Pattern("seen", (form.Test("liquid", "==", 1), form.Test("costarring", "==", 1)))),))


def test_an_empty_value_is_refused_with_the_rule() -> None:
    """A value that no engine can be given names the rule it stands in."""
    with pytest.raises(RuleError, match="value of a fact") as caught:
        refuse_unsafe((rule(at_v("==", "")),))
    assert caught.value.where == "the-rule"
