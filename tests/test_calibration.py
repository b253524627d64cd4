"""Whether chances come true: cases are drawn from a small network like a book's, and what is stated is held to what is so."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest

from diagnose.network.eliminate import solve
from diagnose.network.evidence import PLAIN, gather
from diagnose.network.nodes import Array, Net, cumulative, make_net

CASES = 1500
MENTIONED = 0.5
"""How often a striking sign that is there is told unasked."""


def book_like(rng: np.random.Generator) -> tuple[Net, dict[int, Array]]:
    """Ten staged faults, one of them caused by another, three graded conditions, sixteen graded signs."""
    def falling(count: int, low: float, high: float) -> Array:
        return cumulative(sorted(rng.uniform(low, high, count), reverse=True))

    nodes: list[tuple[str, str, int, Array | None]] = [(f"f{i}", "fault", int(rng.integers(2, 4)), None) for i in range(10)]
    nodes += [(f"c{i}", "condition", 3, falling(2, 0.005, 0.06)) for i in range(3)]
    nodes += [(f"s{i:02}", "sign", int(rng.integers(2, 4)), None) for i in range(16)]
    nodes = [(n, k, size, falling(size - 1, 0.005, 0.08) if k == "sign" else b) for n, k, size, b in nodes]
    size = {name: size for name, _, size, _ in nodes}
    pairs = [(f"f{i}", f"c{rng.integers(3)}") for i in range(8)]
    pairs += [(f"f{i}", f"s{j:02}") for i in range(10) for j in rng.choice(16, 3, replace=False)]
    pairs += [(f"c{i}", f"s{j:02}") for i in range(3) for j in rng.choice(16, 4, replace=False)]
    links = [(a, b, np.array([np.ones(size[b]), *(falling(size[b] - 1, 0.05, 0.95) for _ in range(size[a] - 1))])) for a, b in pairs]
    links.append(("f0", "f9", np.array([np.ones(size["f9"]), *([[0.6, *np.ones(size["f9"] - 1)]] * (size["f0"] - 1))])))
    prior = {}
    for i in range(10):
        stages = rng.uniform(0.2, 1.0, size[f"f{i}"] - 1)
        stages *= rng.uniform(0.02, 0.25) / stages.sum()
        prior[i] = np.array([1 - stages.sum(), *stages])
    return make_net(nodes, links), prior  # type: ignore[arg-type]


def drawn(rng: np.random.Generator, net: Net, prior: dict[int, Array]) -> list[int]:
    """One boat: the state of every node is the worst of what its background and each of its causes bring."""
    states: list[int] = []
    for node in range(len(net.ids)):
        background = net.background[node]
        laws = [np.cumsum(prior[node]) if background is None else background]
        laws += [link.table[states[link.parent]] for link in net.parents[node]]
        states.append(max(int(np.searchsorted(law, rng.random(), side="right")) for law in laws))
    return states


def reported(rng: np.random.Generator, net: Net, states: list[int]) -> dict[int, Array]:
    """What is told: some signs are looked at; of the rest the striking ones are told unasked, when there, half the time."""
    likelihoods = {}
    for sign in net.of_kind("sign"):
        size = net.sizes[sign]
        hard = (np.arange(size) == states[sign]).astype(float)
        if rng.random() < 0.4:
            likelihoods[sign] = hard
        elif sign % 2:  # a striking one
            told = states[sign] > 0 and rng.random() < MENTIONED
            likelihoods[sign] = hard if told else np.array([1.0] + [1.0 - MENTIONED] * (size - 1))
    return likelihoods


@cache
def outcome() -> tuple[Array, Array, Array]:
    """Stated chance of each fault, whether it was there, and the chance stated of the stage it was in, case by case."""
    rng = np.random.default_rng(2024)
    net, prior = book_like(rng)
    stated, there, staged = np.zeros((CASES, 10)), np.zeros((CASES, 10)), np.zeros((CASES, 10))
    for case in range(CASES):
        states = drawn(rng, net, prior)
        solved = solve(gather(net, prior, reported(rng, net, states)), [PLAIN])
        for fault in range(10):
            posterior = solved.posterior(fault)
            stated[case, fault] = 1 - posterior[0]
            there[case, fault] = states[fault] > 0
            staged[case, fault] = posterior[-1] - (states[fault] == net.sizes[fault] - 1)
    return stated, there, staged


@pytest.mark.parametrize("fault", range(10))
def test_stated_chances_come_true(fault: int) -> None:
    """Over 1500 cases the number of times each fault is there lies within three standard errors of the chances stated."""
    stated, there, _ = outcome()
    z = (there[:, fault] - stated[:, fault]).sum() / math.sqrt((stated[:, fault] * (1 - stated[:, fault])).sum())
    assert abs(z) < 3


def test_chances_are_neither_too_bold_nor_too_timid() -> None:
    """Spiegelhalter's z over one fault a case: chances near 0 and 1 come true as often as they say."""
    stated, there, _ = outcome()
    pick = np.arange(CASES), np.arange(CASES) % 10  # faults of one case are not independent
    p, x = stated[pick], there[pick]
    z = ((x - p) * (1 - 2 * p)).sum() / math.sqrt(((1 - 2 * p) ** 2 * p * (1 - p)).sum())
    assert abs(z) < 3


def test_bold_chances_come_true() -> None:
    """Among chances stated above a half, and among those below one in fifty, the count is right within three errors."""
    stated, there, _ = outcome()
    pick = np.arange(CASES), (np.arange(CASES) * 7) % 10
    p, x = stated[pick], there[pick]
    for some in (p > 0.5, p < 0.02):
        assert some.sum() > 30
        assert abs((x - p)[some].sum()) < 3 * math.sqrt((p * (1 - p))[some].sum())


def test_chances_of_the_last_stage_come_true() -> None:
    """The chance of the worst stage is right on average, over one fault a case."""
    *_, staged = outcome()
    gaps = staged[np.arange(CASES), np.arange(CASES) % 10]
    assert abs(gaps.mean()) < 3 * gaps.std() / math.sqrt(CASES)


def test_the_test_would_notice() -> None:
    """Stating twice the odds of what was found would be found out over as many cases."""
    stated, there, _ = outcome()
    bold = 2 * stated / (1 + stated)
    z = (there - bold).sum(axis=0) / np.sqrt((bold * (1 - bold)).sum(axis=0))
    assert (np.abs(z) > 3).sum() >= 8
