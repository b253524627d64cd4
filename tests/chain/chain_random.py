"""Random rule bases in several strata, with joins, negation, alternatives and repeated facts, and facts for them."""

from __future__ import annotations

import random

from hypothesis import strategies as st

from diagnose.chain.form import Compiled, Fact, Join, Op, Pattern, Test

NAMES = (("a0", "a1", "a2"), ("b0", "b1"), ("c0", "c1"), ("d0", "d1"))
"""Names of layer 0 are only given; those of layer k are made by rules of stratum k - 1, or given."""
NUMBERS = (-1, 0, 1, 2, 2.5)
WORDS = ("idle", "cold", "é-warm")
ORDERS: tuple[Op, ...] = ("==", ">=", "<", ">")


def random_fact(rng: random.Random, layer: int) -> Fact:
    """A fact of a layer; a property may be missing, so that joins and tests meet the gap."""
    fact: Fact = {"n": rng.choice(NAMES[layer])}
    if rng.random() < 0.85:
        fact["v"] = rng.choice(NUMBERS)
    if rng.random() < 0.85:
        fact["s"] = rng.choice(WORDS)
    return fact


def random_pattern(rng: random.Random, names: tuple[str, ...], before: int, *, absent: bool = False) -> Pattern:
    """A pattern over some names, tested now and then, and joined now and then to a pattern in front of it."""
    tests, joins = [], []
    if rng.random() < 0.4:
        tests.append(Test("v", rng.choice(ORDERS), rng.choice(NUMBERS)))
    if rng.random() < 0.2:
        tests.append(Test("s", "==", rng.choice(WORDS)))
    if before and rng.random() < 0.4:
        prop = rng.choice("vs")
        joins.append(Join(prop, rng.randrange(before), prop))
    return Pattern(rng.choice(names), tuple(tests), tuple(joins), absent)


def random_rule(rng: random.Random, number: int) -> Compiled:
    """One rule. At stratum 0 it negates nothing; above, it may negate what is settled below its stratum.

    It builds on given facts, on what lower strata make, and on what its own stratum makes: cycles come up.
    Rules of one name stand for the alternatives of an `any`.
    """
    stratum = rng.randrange(3)
    usable = [name for layer in range(stratum + 2) for name in NAMES[layer]]
    settled = [name for layer in range(stratum + 1) for name in NAMES[layer]]
    patterns = _apart([random_pattern(rng, tuple(usable), i) for i in range(rng.choice((1, 1, 2, 3)))])
    free = tuple(name for name in settled if name not in {p.name for p in patterns})
    if stratum > 0 and rng.random() < 0.7:
        patterns.append(random_pattern(rng, free, 0, absent=True))
    makes = {str(fact): fact for fact in (random_fact(rng, stratum + 1) for _ in range(rng.choice((1, 2))))}
    rule = f"r{rng.randrange(5)}"
    return Compiled(f"{rule}/{number}", rule, tuple(patterns), tuple(makes.values()), stratum)


def _apart(patterns: list[Pattern]) -> list[Pattern]:
    """Where a name comes twice, no fact can be both: what is asked of one fact is asked in one pattern."""
    if len({p.name for p in patterns}) == len(patterns):
        return patterns
    return [Pattern(p.name, (*(t for t in p.tests if t.prop != "s"), Test("s", "==", WORDS[i])), p.joins) for i, p in enumerate(patterns)]


def rule_base(seed: int) -> tuple[Compiled, ...]:
    """Three to ten rules."""
    rng = random.Random(seed)
    return tuple(random_rule(rng, number) for number in range(rng.randint(3, 10)))


def fact_list(seed: int) -> list[Fact]:
    """Up to eight facts, some of them twice, in any order."""
    rng = random.Random(seed)
    facts = [random_fact(rng, rng.choice((0, 0, 0, 1))) for _ in range(rng.randint(0, 8))]
    facts += facts[:2]
    rng.shuffle(facts)
    return facts


rule_bases = st.integers(0, 2**32 - 1).map(rule_base)
fact_lists = st.integers(0, 2**32 - 1).map(fact_list)
