"""The forward chainer on durable-rules: the only module that touches that package.

It drives the package's C module directly, in the one way that was measured to be safe: a sentinel rule
last, a primed session slot, explicit fact ids, facts and never retractions, a gate fact before any
negation, and the session deleted after every case. DEVELOPERS.md gives the reason for each part.
"""

from __future__ import annotations

import contextlib
import json
import zlib
from collections.abc import Iterable
from typing import Any

from diagnose.chain.form import (
    GATES,
    MAX_FIRINGS,
    Compiled,
    Fact,
    Firing,
    Outcome,
    Pattern,
    clean,
    fact_key,
    in_order,
    shard,
)
from diagnose.errors import RuleError

_ORDERED = {">=": "$gte", "<": "$lt", ">": "$gt"}
_SENTINEL = {"~end": {"all": [{"z": {"$and": [{"~e0": 1}, {"~e1": 1}]}}]}}
_SESSION = "s"


def available() -> bool:
    """Whether the engine can be loaded here (it needs a compiler to build, and Python before 3.13)."""
    try:
        _engine()
    except Exception:  # the package fails in several ways where it does not fit: any of them means no
        return False
    return True


def _engine() -> Any:
    import durable_rules_engine  # type: ignore[import-untyped, unused-ignore]

    return durable_rules_engine


class DurableMatcher:
    """See `diagnose.chain.form.Matcher`."""

    name = "durable-rules"

    def __init__(self, label: str, rules: tuple[Compiled, ...]) -> None:
        self._c = _engine()
        self._rules = {rule.key: rule for rule in rules}
        self._strata = sorted({rule.stratum for rule in rules if rule.stratum > 0})
        form = {rule.key: {"all": _conditions(rule)} for rule in rules}
        text = json.dumps({**form, **_SENTINEL}, ensure_ascii=False, allow_nan=False)
        try:
            self._handle = self._c.create_ruleset(label, text)
        except self._c.error as error:
            raise RuleError(f"the rule engine refuses these rules ({error})", where=self._culprit(form)) from None
        self._makes = {rule.key: [(fact_key(f), f) for f in rule.makes] for rule in rules}
        # a session slot that never fired holds garbage that deleting it would free: fire it once
        self._session([{"~e0": 1, "~e1": 1}])

    def close(self) -> None:
        """Free the compiled rules."""
        self._c.delete_ruleset(self._handle)

    def run(self, facts: Iterable[Fact]) -> Outcome:
        """See `diagnose.chain.form.Matcher.run`."""
        return self._session(facts)

    def _session(self, facts: Iterable[Fact]) -> Outcome:
        run = _Run(self._c, self._handle, self._makes, self._rules)
        try:
            run.settle([(fact_key(fact), fact) for fact in facts], given=True)
            for stratum in self._strata:
                run.settle([("", {"gate": stratum, "b": k}) for k in range(GATES)])
            return Outcome(dict(sorted(run.known.items())), in_order(run.given, run.firings))
        finally:
            with contextlib.suppress(self._c.error):  # nothing was asserted, so there is no session to delete
                self._c.delete_state(self._handle, _SESSION)

    def _culprit(self, form: dict[str, Any]) -> str:
        """The engine never names the rule it refuses: compile each alone to find it."""
        for key, rule in form.items():
            try:
                handle = self._c.create_ruleset("alone", json.dumps({key: rule, **_SENTINEL}, ensure_ascii=False))
                self._c.delete_ruleset(handle)
            except self._c.error:
                return self._rules[key].rule
        return ""


class _Run:
    """One session: what is known, what fired."""

    def __init__(self, c: Any, handle: int, makes: dict[str, list[tuple[str, Fact]]], rules: dict[str, Compiled]) -> None:
        self._c, self._handle, self._makes, self._rules = c, handle, makes, rules
        self.known: dict[str, Fact] = {}
        self.given: set[str] = set()
        self.firings: list[Firing] = []
        self._keys: list[str] = []
        self._fired: set[tuple[str, ...]] = set()

    def settle(self, batch: list[tuple[str, Fact]], *, given: bool = False) -> None:
        """Assert a batch and fire until nothing new follows."""
        offset = self._put(batch)
        if given:
            self.given = set(self.known)
        if not offset:
            return
        step = self._c.start_action_for_state(self._handle, offset)
        message = step and step[1]
        while message is not None:
            ((key, match),) = json.loads(message).items()
            self._fire(key, match)
            message = self._c.complete_and_start_action(self._handle, offset)

    def _put(self, batch: list[tuple[str, Fact]]) -> int | None:
        new = []
        for key, fact in batch:
            if key and key in self.known:
                continue
            if key:
                self.known[key] = fact
            number = f"f{len(self._keys)}"
            self._keys.append(key)
            form = {prop: clean(value) for prop, value in fact.items()}
            if "n" in fact:
                form["b"] = shard(str(fact["n"]))
            new.append({**form, "id": number, "sid": _SESSION})
        if not new:
            return None
        result: tuple[int, int] = self._c.assert_facts(self._handle, json.dumps(new, ensure_ascii=False))
        return result[1]

    def _fire(self, key: str, match: dict[str, Any]) -> None:
        rule = self._rules.get(key)
        if rule is None:
            return  # the sentinel, fired once to prime the session
        present = sum(not pattern.absent for pattern in rule.patterns)
        used = tuple(self._keys[int(match[f"p{i}"]["id"][1:])] for i in range(present))
        if (key, *used) in self._fired:
            return
        self._fired.add((key, *used))
        if len(self._fired) > MAX_FIRINGS:
            raise RuleError("the rules feed one another without end", where=rule.rule)
        made = self._makes[key]
        self.firings.append(Firing(rule.rule, used, tuple(k for k, _ in made)))
        self._put(made)


def _conditions(rule: Compiled) -> list[dict[str, Any]]:
    conditions: list[dict[str, Any]] = []
    if rule.stratum > 0:
        gate = zlib.crc32(rule.key.encode()) % GATES
        conditions.append({"g": {"$and": [{"gate": rule.stratum}, {"b": gate}]}})
    for i, pattern in enumerate(rule.patterns):
        alias = f"p{i}$not" if pattern.absent else f"p{i}"
        needed = {j.other for later in rule.patterns for j in later.joins if j.pattern == i}
        conditions.append({alias: {"$and": _tests(pattern, needed)}})
    return conditions


def _tests(pattern: Pattern, needed: set[str]) -> list[dict[str, Any]]:
    tests: list[dict[str, Any]] = [{"b": shard(pattern.name)}, {"n": pattern.name}]
    for prop, op, value in pattern.tests:
        tests.append({prop: value} if op == "==" else {_ORDERED[op]: {prop: value}})
    # a join to a property that a fact may lack is an error in the engine: ask for it here
    tests.extend({"$ex": {prop: 1}} for prop in sorted(needed))
    tests.extend({join.prop: {f"p{join.pattern}": join.other}} for join in pattern.joins)
    return tests
