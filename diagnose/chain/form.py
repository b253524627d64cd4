"""The small form both matchers understand: facts, patterns, compiled rules, firings, and what is refused.

A fact is a flat map with a name `n`. A rule is a list of patterns over names; the first match of each makes
new facts. The static checks here are the limits measured on the rule engine (see DEVELOPERS.md); a rule
base outside them is refused before it is compiled, with the rule named.
"""

from __future__ import annotations

import json
import math
import zlib
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal, NamedTuple, Protocol

from diagnose.errors import RuleError

Value = str | int | float
Fact = dict[str, Value]
Op = Literal["==", ">=", "<", ">"]

MAX_PATTERNS = 12
MAX_TESTS = 20
MAX_SHARED = 200
MAX_BELOW_NODE = 400
MAX_UNEQUAL_BELOW_NODE = 40
MAX_RULES = 3500
MAX_FIRINGS = 20_000
SHARDS = 64
GATES = 8


class Test(NamedTuple):
    """A property compared with a constant."""

    prop: str
    op: Op
    value: Value


class Join(NamedTuple):
    """A property equal to a property of an earlier pattern of the same rule."""

    prop: str
    pattern: int
    other: str


@dataclass(frozen=True, slots=True)
class Pattern:
    """What a fact must be: its name, tests, joins; `absent` asks that no such fact exists."""

    name: str
    tests: tuple[Test, ...] = ()
    joins: tuple[Join, ...] = ()
    absent: bool = False


@dataclass(frozen=True, slots=True)
class Compiled:
    """A rule ready to run. `stratum` 0 runs at once; a higher one after all lower ones have settled."""

    key: str
    rule: str
    patterns: tuple[Pattern, ...]
    makes: tuple[Fact, ...]
    stratum: int = 0


class Firing(NamedTuple):
    """One firing: the rule, the keys of the facts it used, the keys of those it made."""

    rule: str
    used: tuple[str, ...]
    made: tuple[str, ...]


@dataclass(frozen=True)
class Outcome:
    """All facts by key, and all firings in an order that depends on their content only."""

    facts: dict[str, Fact]
    firings: tuple[Firing, ...]

    def named(self, name: str) -> list[Fact]:
        """All facts of a name."""
        return [fact for fact in self.facts.values() if fact["n"] == name]

    def has(self, name: str) -> bool:
        """Whether there is a fact of this name."""
        return any(fact["n"] == name for fact in self.facts.values())


class Matcher(Protocol):
    """The one interface of both engines."""

    name: str

    def run(self, facts: Iterable[Fact]) -> Outcome:
        """Chain from the given facts until nothing new follows.

        Raises:
            RuleError: the rules feed one another without end.
        """


Build = Callable[[str, tuple[Compiled, ...]], Matcher]


def fact_key(fact: Fact) -> str:
    """The identity of a fact: its content."""
    return json.dumps(fact, sort_keys=True, ensure_ascii=False)


def clean(value: object) -> Value:
    """The value as both engines compare it: text, integer, or a float that JSON writes with a point.

    Raises:
        RuleError: empty or oversized text, a number that is not finite or beyond 63 bits, any other type.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str) and 2 < len(json.dumps(value, ensure_ascii=False).encode()) < 60_000:
        return value
    if isinstance(value, float) and math.isfinite(value):
        if not value.is_integer():
            # the engine's parser takes 1e-07 for text: nudge to the next float that is written with a point
            while "e" in repr(value) and "." not in repr(value):
                value = math.nextafter(value, math.inf)
            return value
        value = int(value)
    if isinstance(value, int) and abs(value) < 2**63:
        return value
    raise RuleError(f"cannot be used as the value of a fact: {str(value)[:60]!r}")


def shard(name: str) -> int:
    """A small number from a name: spreads the patterns, for tests side by side are limited."""
    return zlib.crc32(name.encode()) % SHARDS


def in_order(given: set[str], fired: Iterable[Firing]) -> tuple[Firing, ...]:
    """The firings sorted by how many steps they stand from the given facts, then by content."""
    firings = sorted(set(fired))
    level = dict.fromkeys(given, 0)
    waiting, depth = firings, 0
    steps: dict[Firing, int] = {}
    while waiting:
        depth += 1
        ready = [f for f in waiting if all(key in level for key in f.used)]
        if not ready:
            break
        for firing in ready:
            steps[firing] = depth
        for firing in ready:
            for key in firing.made:
                level.setdefault(key, depth)
        waiting = [f for f in waiting if f not in steps]
    return tuple(sorted(firings, key=lambda f: (steps.get(f, depth), f)))


# ------------------------------------------------------------------ static checks


def refuse_unsafe(rules: tuple[Compiled, ...]) -> None:
    """Refuse any rule base outside the form that was measured to be safe.

    Raises:
        RuleError: names the rule and the limit.
    """
    if len(rules) > MAX_RULES:
        raise RuleError(f"{len(rules)} compiled rules are more than {MAX_RULES}")
    if len({r.key for r in rules}) != len(rules):
        raise RuleError("two compiled rules share a key")
    for rule in rules:
        _refuse_rule(rule)
    _refuse_crowding(rules)
    _refuse_hash_twins(rules)


def _refuse_rule(rule: Compiled) -> None:
    where = rule.rule
    if not 0 < len(rule.patterns) <= MAX_PATTERNS:
        raise RuleError(f"has {len(rule.patterns)} conditions; 1 to {MAX_PATTERNS} can be matched", where=where)
    if all(p.absent for p in rule.patterns):
        raise RuleError("asks only for what is absent", where=where, right="a condition on something seen")
    seen_absent = False
    for i, pattern in enumerate(rule.patterns):
        if pattern.absent:
            seen_absent = True
        elif seen_absent:
            raise RuleError("has a condition after a 'not'", where=where, right="the 'not' last")
        if len(pattern.tests) + len(pattern.joins) > MAX_TESTS:
            raise RuleError(f"tests a fact more than {MAX_TESTS} times", where=where)
        for test in pattern.tests:
            try:
                changed = clean(test.value) != test.value
            except RuleError as error:
                raise RuleError(error.what, where=where) from None
            if changed:
                raise RuleError(f"compares with {test.value!r}, which the engine would change", where=where)
            if test.op != "==" and isinstance(test.value, str):
                raise RuleError("orders text", where=where, right="a number")
        if pattern.absent and pattern.joins:
            raise RuleError("joins within a 'not'", where=where, right="a finding of its own, then not that finding")
        for join in pattern.joins:
            if not 0 <= join.pattern < i or rule.patterns[join.pattern].absent:
                raise RuleError("joins to a condition that is not matched before it", where=where)
    if any(p.absent for p in rule.patterns) and rule.stratum < 1:
        raise RuleError("negates within its own stratum", where=where)
    _refuse_one_fact_twice(rule)


def _refuse_one_fact_twice(rule: Compiled) -> None:
    """The engine never puts one fact in two places of a rule, not even in a 'not': no rule may depend on it."""
    for i, other in enumerate(rule.patterns):
        for one in rule.patterns[:i]:
            apart = any(_apart(a, b) for a in one.tests for b in other.tests if a.prop == b.prop)
            if one.name == other.name and not one.absent and not apart:
                raise RuleError(f"asks twice for '{one.name}', and one fact could answer both", where=rule.rule,
                                right="one condition, or two that no one fact can meet")


def _apart(one: Test, other: Test) -> bool:
    """Whether no value meets both tests. Where that cannot be told, they are taken not to be apart."""
    if one.op == "==":
        return not _meets(one.value, other)
    if other.op == "==":
        return not _meets(other.value, one)
    if isinstance(one.value, str) or isinstance(other.value, str) or "<" not in (one.op, other.op) or one.op == other.op:
        return False
    below, above = (one, other) if one.op == "<" else (other, one)
    return bool(below.value <= above.value)  # type: ignore[operator]


def _meets(value: Value, test: Test) -> bool:
    if isinstance(value, str) or isinstance(test.value, str):
        return value == test.value and test.op == "=="
    return {"==": value == test.value, ">=": value >= test.value, "<": value < test.value, ">": value > test.value}[test.op]


def _refuse_crowding(rules: tuple[Compiled, ...]) -> None:
    whole: Counter[Pattern] = Counter()
    names: dict[int, set[str]] = defaultdict(set)
    below: dict[str, set[object]] = defaultdict(set)
    unequal: dict[str, set[object]] = defaultdict(set)
    for rule in rules:
        for i, pattern in enumerate(rule.patterns):
            whole[pattern] += 1
            if whole[pattern] > MAX_SHARED:
                raise RuleError(f"more than {MAX_SHARED} rules share a condition on '{pattern.name}'", where=rule.rule)
            names[shard(pattern.name)].add(pattern.name)
            for test in pattern.tests:
                below[pattern.name].add(test)
                if test.op != "==":
                    unequal[pattern.name].add(test)
            for join in pattern.joins:
                unequal[pattern.name].add((rule.key, i, join))
            if len(below[pattern.name]) > MAX_BELOW_NODE or len(unequal[pattern.name]) > MAX_UNEQUAL_BELOW_NODE:
                raise RuleError(f"too many different tests of '{pattern.name}'", where=rule.rule,
                                right="a finding of its own that the rules build on")
    if any(len(n) > MAX_BELOW_NODE for n in names.values()):
        raise RuleError("too many fact names fall together")


def _refuse_hash_twins(rules: tuple[Compiled, ...]) -> None:
    props = {"n", "b", "id", "sid", "gate"}
    for rule in rules:
        for pattern in rule.patterns:
            props |= {t.prop for t in pattern.tests} | {j.prop for j in pattern.joins} | {j.other for j in pattern.joins}
    seen: dict[int, str] = {}
    for prop in sorted(props):
        if not prop.isidentifier() or not prop.isascii():
            raise RuleError(f"'{prop}' is not a plain property name")
        code = _fnv1a(prop)
        if code in seen:
            raise RuleError(f"the engine cannot tell the properties '{prop}' and '{seen[code]}' apart")
        seen[code] = prop


def _fnv1a(text: str) -> int:
    code = 2166136261
    for byte in text.encode():
        code = ((code ^ byte) * 16777619) & 0xFFFFFFFF
    return code
