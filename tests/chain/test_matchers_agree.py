"""Random rule bases: both matchers and the naive evaluator give the same facts and the same firings."""

from __future__ import annotations

import random
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from chain_naive import naive
from chain_random import fact_lists, rule_bases
from hypothesis import given, settings

from diagnose.chain import durable
from diagnose.chain.form import Compiled, Fact, Outcome, refuse_unsafe
from diagnose.chain.plain import PlainMatcher

needs_durable = pytest.mark.skipif(not durable.available(), reason="durable-rules cannot be loaded here")


@contextmanager
def durable_matcher(rules: tuple[Compiled, ...]) -> Iterator[durable.DurableMatcher]:
    """A matcher whose compiled rules are freed at the end."""
    matcher = durable.DurableMatcher("random", rules)
    try:
        yield matcher
    finally:
        matcher.close()


def assert_naive(outcome: Outcome, rules: tuple[Compiled, ...], facts: list[Fact]) -> None:
    """The outcome is what trying all combinations gives."""
    known, firings = naive(rules, facts)
    assert outcome.facts == known
    assert set(outcome.firings) == firings
    assert len(outcome.firings) == len(firings)


@given(rule_bases, fact_lists)
@settings(max_examples=300)
def test_plain_equals_naive(rules: tuple[Compiled, ...], facts: list[Fact]) -> None:
    """The plain matcher finds what trying all combinations finds, and nothing else."""
    refuse_unsafe(rules)
    assert_naive(PlainMatcher("random", rules).run(facts), rules, facts)


@needs_durable
@given(rule_bases, fact_lists)
@settings(max_examples=300)
def test_durable_equals_naive(rules: tuple[Compiled, ...], facts: list[Fact]) -> None:
    """durable-rules finds what trying all combinations finds, and nothing else."""
    with durable_matcher(rules) as matcher:
        assert_naive(matcher.run(facts), rules, facts)


@needs_durable
@given(rule_bases, fact_lists)
@settings(max_examples=300)
def test_both_engines_give_equal_outcomes(rules: tuple[Compiled, ...], facts: list[Fact]) -> None:
    """Both engines give equal outcomes, the order of the firings included."""
    with durable_matcher(rules) as matcher:
        assert matcher.run(facts) == PlainMatcher("random", rules).run(facts)


@needs_durable
@given(rule_bases, fact_lists)
@settings(max_examples=40)
def test_order_of_facts_and_rules_is_irrelevant(rules: tuple[Compiled, ...], facts: list[Fact]) -> None:
    """Shuffled facts and shuffled rules leave the outcome of both engines as it was, to the order of firings."""
    expected = PlainMatcher("random", rules).run(facts)
    shuffler = random.Random(7)
    for _ in range(3):
        shuffled_rules = tuple(shuffler.sample(rules, len(rules)))
        shuffled_facts = shuffler.sample(facts, len(facts))
        with durable_matcher(shuffled_rules) as matcher:
            assert matcher.run(shuffled_facts) == expected
        assert PlainMatcher("random", shuffled_rules).run(shuffled_facts) == expected


@given(rule_bases, fact_lists)
def test_every_firing_rests_on_what_came_before(rules: tuple[Compiled, ...], facts: list[Fact]) -> None:
    """In the record each firing uses only facts given, or made by a firing above it."""
    outcome = PlainMatcher("random", rules).run(facts)
    there = set(PlainMatcher("none", ()).run(facts).facts)
    for firing in outcome.firings:
        assert set(firing.used) <= there
        there |= set(firing.made)
    assert there == set(outcome.facts)


@needs_durable
@given(rule_bases, fact_lists)
@settings(max_examples=30)
def test_a_run_leaves_nothing_behind(rules: tuple[Compiled, ...], facts: list[Fact]) -> None:
    """A second run of the same matcher gives the same, though another case ran in between."""
    with durable_matcher(rules) as matcher:
        first = matcher.run(facts)
        matcher.run([{"n": "a0", "v": 1, "s": "idle"}, {"n": "a1", "v": 2, "s": "cold"}])
        assert matcher.run(facts) == first
