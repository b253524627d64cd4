"""A third chainer, slow and plain: all combinations of all facts, tried again until nothing is new.

Written from the meaning of the form and not from either matcher. It keeps no index and no queue.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from typing import Any

from diagnose.chain.form import Compiled, Fact, Firing, Pattern, fact_key


def naive(rules: tuple[Compiled, ...], facts: Iterable[Fact]) -> tuple[dict[str, Fact], set[Firing]]:
    """All facts by key, and all firings."""
    known = {fact_key(fact): fact for fact in facts}
    firings: set[Firing] = set()
    for stratum in sorted({0, *(rule.stratum for rule in rules)}):
        growing = True
        while growing:
            growing = False
            for rule in rules:
                if rule.stratum <= stratum:
                    growing = _apply(rule, known, firings) or growing
    return known, firings


def _apply(rule: Compiled, known: dict[str, Fact], firings: set[Firing]) -> bool:
    before = len(known), len(firings)
    present = [p for p in rule.patterns if not p.absent]
    absent = [p for p in rule.patterns if p.absent]
    for keys in itertools.product(list(known), repeat=len(present)):
        chosen = [known[key] for key in keys]
        if not all(_meets(pattern, fact, chosen) for pattern, fact in zip(present, chosen, strict=True)):
            continue
        if any(_meets(pattern, fact, chosen) for pattern in absent for fact in known.values()):
            continue
        firings.add(Firing(rule.rule, keys, tuple(fact_key(made) for made in rule.makes)))
        for made in rule.makes:
            known.setdefault(fact_key(made), made)
    return before != (len(known), len(firings))


def _meets(pattern: Pattern, fact: Fact, chosen: list[Fact]) -> bool:
    if fact["n"] != pattern.name:
        return False
    if not all(prop in fact and _compares(fact[prop], op, value) for prop, op, value in pattern.tests):
        return False
    return all(
        join.prop in fact and join.other in chosen[join.pattern] and fact[join.prop] == chosen[join.pattern][join.other]
        for join in pattern.joins
    )


def _compares(have: Any, op: str, value: Any) -> bool:
    if op == "==":
        return bool(have == value)
    if op == ">=":
        return bool(have >= value)
    return bool(have < value) if op == "<" else bool(have > value)
