"""A plain indexed forward chainer: the second method in tests, and the engine where durable-rules is missing.

Facts are indexed by name. A new fact is tried in every pattern slot of its name, joined with what the
other slots hold; rules of a higher stratum wait until everything below has settled.
"""

from __future__ import annotations

import operator
from collections import defaultdict, deque
from collections.abc import Callable, Iterable, Iterator

from diagnose.chain.form import MAX_FIRINGS, Compiled, Fact, Firing, Outcome, Pattern, fact_key, in_order
from diagnose.errors import RuleError

_OPS: dict[str, Callable[[object, object], bool]] = {
    "==": operator.eq, ">=": operator.ge, "<": operator.lt, ">": operator.gt,  # type: ignore[dict-item]
}


class PlainMatcher:
    """See `diagnose.chain.form.Matcher`."""

    name = "plain"

    def __init__(self, label: str, rules: tuple[Compiled, ...]) -> None:
        self.label = label
        self._rules = rules
        self._strata = sorted({rule.stratum for rule in rules})
        self._slots: dict[str, list[tuple[Compiled, int]]] = defaultdict(list)
        for rule in rules:
            for i, pattern in enumerate(rule.patterns):
                if not pattern.absent:
                    self._slots[pattern.name].append((rule, i))
        self._makes = {rule.key: [(fact_key(fact), fact) for fact in rule.makes] for rule in rules}

    def run(self, facts: Iterable[Fact]) -> Outcome:
        """See `diagnose.chain.form.Matcher.run`."""
        known: dict[str, Fact] = {}
        held: dict[tuple[str, int], list[str]] = defaultdict(list)
        fired: set[tuple[str, tuple[str, ...]]] = set()
        firings: list[Firing] = []
        todo: deque[tuple[str, Fact]] = deque()

        def add(key: str, fact: Fact) -> None:
            if key not in known:
                known[key] = fact
                todo.append((key, fact))

        for fact in facts:
            add(fact_key(fact), fact)
        given = set(known)

        def fire(rule: Compiled, used: tuple[str, ...]) -> None:
            if (rule.key, used) in fired or not self._absences_hold(rule, used, known):
                return
            fired.add((rule.key, used))
            if len(fired) > MAX_FIRINGS:
                raise RuleError("the rules feed one another without end", where=rule.rule)
            made = self._makes[rule.key]
            firings.append(Firing(rule.rule, used, tuple(key for key, _ in made)))
            for key, fact in made:
                add(key, fact)

        def settle(stratum: int) -> None:
            while todo:
                key, fact = todo.popleft()
                for rule, i in self._slots.get(str(fact["n"]), ()):
                    if not _fits(rule.patterns[i], fact):
                        continue
                    held[rule.key, i].append(key)
                    if rule.stratum <= stratum:
                        for used in self._matches(rule, held, known, i, key):
                            fire(rule, used)

        settle(0)
        for stratum in self._strata:
            if stratum > 0:
                for rule in self._rules:
                    if rule.stratum == stratum:
                        for used in self._matches(rule, held, known):
                            fire(rule, used)
                settle(stratum)
        return Outcome(dict(sorted(known.items())), in_order(given, firings))

    def _matches(self, rule: Compiled, held: dict[tuple[str, int], list[str]], known: dict[str, Fact],
                 fixed: int = -1, fixed_key: str = "") -> Iterator[tuple[str, ...]]:
        """All combinations of held facts that satisfy the joins; slot `fixed`, if any, is `fixed_key`."""
        present = [i for i, pattern in enumerate(rule.patterns) if not pattern.absent]

        def extend(used: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
            at = len(used)
            if at == len(present):
                yield used
                return
            i = present[at]
            for key in [fixed_key] if i == fixed else list(held.get((rule.key, i), ())):
                if all(_joined(known, key, j.prop, used[j.pattern], j.other) for j in rule.patterns[i].joins):
                    yield from extend((*used, key))

        yield from extend(())

    def _absences_hold(self, rule: Compiled, used: tuple[str, ...], known: dict[str, Fact]) -> bool:
        for pattern in rule.patterns:
            if pattern.absent and any(
                fact["n"] == pattern.name and _fits(pattern, fact)
                and all(_joined(known, key, j.prop, used[j.pattern], j.other) for j in pattern.joins)
                for key, fact in known.items()
            ):
                return False
        return True


def _joined(known: dict[str, Fact], key: str, prop: str, other_key: str, other_prop: str) -> bool:
    one, other = known[key].get(prop), known[other_key].get(other_prop)
    return one is not None and one == other


def _fits(pattern: Pattern, fact: Fact) -> bool:
    for prop, op, value in pattern.tests:
        have = fact.get(prop)
        if have is None or isinstance(have, str) != isinstance(value, str) or not _OPS[op](have, value):
            return False
    return all(join.prop in fact for join in pattern.joins)
