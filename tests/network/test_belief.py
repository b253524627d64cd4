"""Beliefs asked by name: kinds of boat mixed, and what no fault of the book explains."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from network.brute import enumerate_net
from network.nets import random_likelihood, random_net

from diagnose.network.belief import Belief, Query
from diagnose.network.nodes import Array, Net, cumulative, make_net

SEEDS = st.integers(0, 10**6)


def named(net: Net, values: dict[int, Array]) -> dict[str, Array]:
    return {net.ids[i]: v for i, v in values.items()}


@settings(max_examples=40)
@given(SEEDS, st.floats(0.05, 0.95))
def test_kinds_of_boat_are_mixed_by_chance_and_fit(seed: int, chance: float) -> None:
    """Two kinds of boat weigh by how common they are times how well they explain what was seen."""
    rng = np.random.default_rng(seed)
    one, prior = random_net(rng, 3, 1, 2)
    nodes = list(zip(one.ids, one.kinds, one.sizes, one.background, strict=True))
    links = [(one.ids[l.parent], one.ids[l.child], l.table) for c in one.children for l in c if one.kinds[l.child] != "sign"]
    other = make_net(nodes, links)
    likelihoods = {s: random_likelihood(rng, one.sizes[s]) for s in one.of_kind("sign")}
    belief = Belief.of([(chance, one, prior), (1 - chance, other, prior)], named(one, likelihoods))
    answers = belief.ask([Query()])
    (z1, m1), (z2, m2) = enumerate_net(one, prior, likelihoods), enumerate_net(other, prior, likelihoods)
    evidence = chance * z1 + (1 - chance) * z2
    assert answers.log_evidence[0] == pytest.approx(np.log(evidence), rel=1e-12, abs=1e-12)
    for node in one.of_kind("fault"):
        expected = (chance * m1[node] + (1 - chance) * m2[node]) / evidence
        assert answers.states(one.ids[node]) == pytest.approx(expected, rel=1e-11)


def test_a_fault_is_absent_on_boats_that_cannot_have_it() -> None:
    """Where only one of two kinds of boat has the part, the chance of its fault is that kind's share of it."""
    sign = ("s", "sign", 2, cumulative([0.1]))
    table = np.array([[1.0, 1.0], [0.2, 1.0]])
    has = make_net([("a", "fault", 2, None), ("b", "fault", 2, None), sign], [("a", "s", table), ("b", "s", table)])
    has_not = make_net([("a", "fault", 2, None), sign], [("a", "s", table)])
    prior = np.array([0.9, 0.1])
    belief = Belief.of([(0.3, has, {0: prior, 1: prior}), (0.7, has_not, {0: prior})], {"s": np.array([0.0, 1.0])})
    # by hand: P(seen, b) on the first kind is 0.1 * (1 - 0.9 * 0.2 * (0.9 + 0.1 * 0.2)); on the second there is no b
    with_b = 0.3 * 0.1 * (1 - 0.9 * 0.2 * (0.9 + 0.1 * 0.2))
    seen = 0.3 * (1 - 0.9 * (0.9 + 0.1 * 0.2) ** 2) + 0.7 * (1 - 0.9 * (0.9 + 0.1 * 0.2))
    assert belief.ask([Query()]).chance("b") == pytest.approx(with_b / seen, rel=1e-12)


@settings(max_examples=40)
@given(SEEDS)
def test_at_most_adds_one_more_sign(seed: int) -> None:
    """Asking what a further sign may show gives the chance that it is at most at each grade, and the faults with it."""
    rng = np.random.default_rng(seed)
    net, prior = random_net(rng, 3, 1, 3)
    *known, asked = net.of_kind("sign")
    likelihoods = {s: random_likelihood(rng, net.sizes[s]) for s in known}
    belief = Belief.of([(1.0, net, prior)], named(net, likelihoods))
    answers = belief.ask([Query(), *(Query(at_most={net.ids[asked]: g}) for g in range(net.sizes[asked]))])
    total, _ = enumerate_net(net, prior, likelihoods)
    for g in range(net.sizes[asked]):
        z, mass = enumerate_net(net, prior, {**likelihoods, asked: (np.arange(net.sizes[asked]) <= g).astype(float)})
        assert answers.total(1 + g) == pytest.approx(z / total, rel=1e-11)
        assert answers.states(net.ids[0], 1 + g) == pytest.approx(mass[0] / z, rel=1e-11)


def contributions(net: Net, prior: dict[int, Array], sign: int, others: dict[int, Array], low: int, high: int) -> float:
    """P(others, the background alone brings the sign to low..high while each fault contributes less than low), faults enumerated."""
    faults = net.of_kind("fault")
    background = net.background[sign]
    assert background is not None
    alone = background[high] - background[low - 1]
    total = 0.0
    for states in itertools.product(*(range(net.sizes[f]) for f in faults)):
        weight = float(np.prod([prior[f][s] for f, s in zip(faults, states, strict=True)]))
        for other, likelihood in others.items():
            below = net.background[other]
            assert below is not None
            for link in net.parents[other]:
                below = below * link.table[states[link.parent]]
            weight *= float(np.diff(below, prepend=0.0) @ likelihood)
        for link in net.parents[sign]:
            weight *= float(link.table[states[link.parent], low - 1])
        total += weight * alone
    return total


@settings(max_examples=40)
@given(SEEDS)
def test_unexplained_is_the_share_of_the_background(seed: int) -> None:
    """The chance that no fault of the book brought a sign to its grade equals a sum over what each cause contributes."""
    rng = np.random.default_rng(seed)
    net, prior = random_net(rng, 2, 0, 3, density=1.6)
    sign = net.of_kind("sign")[0]
    grade = int(rng.integers(1, net.sizes[sign]))
    likelihoods = {s: random_likelihood(rng, net.sizes[s]) for s in net.of_kind("sign")[1:]}
    likelihoods[sign] = (np.arange(net.sizes[sign]) == grade).astype(float)
    belief = Belief.of([(1.0, net, prior)], named(net, likelihoods))
    answers = belief.ask([Query(), Query(unexplained=net.ids[sign])])
    others = {s: l for s, l in likelihoods.items() if s != sign}
    total, _ = enumerate_net(net, prior, likelihoods)
    assert answers.total(1) == pytest.approx(contributions(net, prior, sign, others, grade, grade) / total, rel=1e-10)
