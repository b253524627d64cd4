"""The frontier pass against enumeration, exact fractions and small hand-made chains."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from network.brute import Joint, joint
from network.nets import random_likelihood, random_net

from diagnose.errors import TooWideError
from diagnose.network import eliminate, plan
from diagnose.network.belief import Belief, Query
from diagnose.network.eliminate import Solved, solve
from diagnose.network.evidence import PLAIN, Evidence, Variant, gather
from diagnose.network.nodes import Array, Net, cumulative, make_net

CLOSE = 1e-12


@dataclass(frozen=True)
class Drawn:
    """A random network with priors and a likelihood on every sign."""

    net: Net
    prior: dict[int, Array]
    likelihoods: dict[int, Array]

    @property
    def evidence(self) -> Evidence:
        return gather(self.net, self.prior, self.likelihoods)


def numeric_likelihood(rng: np.random.Generator, size: int) -> Array:
    """As a measured number gives it: different for each grade, and zero far off."""
    middle, sigma = rng.uniform(-0.5, size - 0.5), rng.uniform(0.1, 0.8)
    out = np.exp(-0.5 * ((np.arange(size) - middle) / sigma) ** 2)
    out /= out.max()
    return np.where(out < 1e-4, 0.0, out)


def draw(seed: int, faults: int, conditions: int, signs: int) -> Drawn:
    rng = np.random.default_rng(seed)
    net, prior = random_net(rng, faults, conditions, signs)
    likelihoods = {s: (numeric_likelihood if rng.random() < 0.3 else random_likelihood)(rng, net.sizes[s]) for s in net.of_kind("sign")}
    return Drawn(net, prior, likelihoods)


cases = st.builds(draw, st.integers(0, 10**6), st.integers(1, 4), st.integers(0, 2), st.integers(1, 3))


def assert_same(solved: Solved, variant: int, drawn: Drawn, table: Joint, factors: dict[int, Array], constant: float = 1.0) -> None:
    """Evidence and every fault's and condition's posterior equal the enumeration's, relative to 1e-12."""
    weight = table.weigh(factors) * constant
    assert math.exp(solved.log_evidence[variant] - math.log(weight.sum())) == pytest.approx(1.0, rel=CLOSE)
    for node in solved.mass:
        expected = table.mass(node, drawn.net.sizes[node], weight) / weight.sum()
        if len(solved.mass[node][variant]) == len(expected):  # a sign's own axis may have merged grades
            assert solved.posterior(node, variant) == pytest.approx(expected, rel=CLOSE, abs=1e-300)


# ------------------------------------------------------------------ against enumeration


@settings(max_examples=150)
@given(cases)
def test_posterior_equals_enumeration(drawn: Drawn) -> None:
    """On staged faults, caused faults, conditions on conditions and mixed parents the pass is exact."""
    solved = solve(drawn.evidence, [PLAIN])
    assert set(drawn.net.of_kind("fault")) <= set(solved.mass)
    assert_same(solved, 0, drawn, joint(drawn.net, drawn.prior), drawn.likelihoods)


@settings(max_examples=80)
@given(cases, st.integers(0, 10**6))
def test_variants_equal_enumeration(drawn: Drawn, seed: int) -> None:
    """Signs left out, states weighed and a constant, all in one sweep, each give what enumeration gives."""
    rng = np.random.default_rng(seed)
    net, table = drawn.net, joint(drawn.net, drawn.prior)
    signs = net.of_kind("sign")
    weighed = [int(n) for n in rng.choice(net.of_kind("fault", "condition"), size=2)]
    factors = [(n, rng.uniform(0.0, 1.0, net.sizes[n])) for n in dict.fromkeys(weighed)]
    some = frozenset(int(s) for s in rng.choice(signs, size=rng.integers(1, len(signs) + 1)))
    variants = [PLAIN, Variant(drop=frozenset(signs)), Variant(drop=some), Variant(drop=some, factors=tuple(factors), constant=0.25)]
    solved = solve(drawn.evidence, variants)
    kept = {s: l for s, l in drawn.likelihoods.items() if s not in some}
    assert_same(solved, 0, drawn, table, drawn.likelihoods)
    assert_same(solved, 1, drawn, table, {})
    assert_same(solved, 2, drawn, table, kept)
    assert_same(solved, 3, drawn, table, {**kept, **dict(factors)}, 0.25)


@given(cases)
def test_evidence_alone_is_the_same(drawn: Drawn) -> None:
    """Without the backward sweep the evidence is the same number, and no masses are made."""
    forward = solve(drawn.evidence, [PLAIN], backward=False)
    assert forward.log_evidence[0] == solve(drawn.evidence, [PLAIN]).log_evidence[0]
    assert forward.mass.keys() <= set(drawn.net.of_kind("fault", "unknown"))


@settings(max_examples=80)
@given(cases, st.integers(0, 10**6))
def test_order_of_nodes_is_irrelevant(drawn: Drawn, seed: int) -> None:
    """Faults, conditions and signs listed in any causal order give the same evidence and posteriors."""
    rng = np.random.default_rng(seed)
    net = drawn.net
    order = causal_shuffle(net, rng)
    place = {old: new for new, old in enumerate(order)}
    nodes = [(net.ids[i], net.kinds[i], net.sizes[i], net.background[i]) for i in order]
    links = [(net.ids[l.parent], net.ids[l.child], l.table) for i in rng.permutation(len(net.ids)) for l in net.children[i]]
    moved = make_net(nodes, links)
    one = solve(drawn.evidence, [PLAIN])
    two = solve(gather(moved, {place[i]: p for i, p in drawn.prior.items()}, {place[s]: l for s, l in drawn.likelihoods.items()}), [PLAIN])
    assert two.log_evidence[0] == pytest.approx(one.log_evidence[0], rel=CLOSE, abs=CLOSE)
    for node in net.of_kind("fault"):
        assert two.posterior(place[node]) == pytest.approx(one.posterior(node), rel=CLOSE)


def causal_shuffle(net: Net, rng: np.random.Generator) -> list[int]:
    """A random order in which kinds stay together and causes come before their effects."""
    order: list[int] = []
    for kind in ("fault", "condition", "sign"):
        left = [int(i) for i in rng.permutation(net.of_kind(kind))]  # type: ignore[arg-type]
        while left:
            ready = next(i for i in left if not any(link.parent in left for link in net.parents[i]))
            order.append(ready)
            left.remove(ready)
    return order


# ------------------------------------------------------------------ digits


def exact_log_odds(net: Net, prior: dict[int, Array], present: list[int], fault: int) -> float:
    """Decibans for a fault by summing over all fault states in exact fractions of the very floats given."""
    faults = net.of_kind("fault")
    mass = [Fraction(0), Fraction(0)]
    for states in itertools.product((0, 1), repeat=len(faults)):
        weight = Fraction(1)
        for node, state in zip(faults, states, strict=True):
            weight *= Fraction(float(prior[node][state]))
        for sign in present:
            background = net.background[sign]
            assert background is not None
            none = Fraction(float(background[0]))
            for link in net.parents[sign]:
                none *= Fraction(float(link.table[states[link.parent], 0]))
            weight *= 1 - none
        mass[states[fault]] += weight
    return 10.0 * (log10(mass[1]) - log10(mass[0]))


def log10(x: Fraction) -> float:
    return math.log10(x.numerator) - math.log10(x.denominator)


def test_digits_are_kept_at_two_hundred_decibans() -> None:
    """Ten signs at about 100:1 each: log odds equal exact fractions to 1e-9 decibans, far beyond 1 - p in floats."""
    nodes = [("a", "fault", 2, None), ("b", "fault", 2, None)]
    nodes += [(f"s{i}", "sign", 2, cumulative([0.005])) for i in range(10)]
    links = [(f, f"s{i}", np.array([[1.0, 1.0], [1.0 - s, 1.0]])) for i in range(10) for f, s in (("a", 0.5), ("b", 0.001))]
    net = make_net(nodes, links)  # type: ignore[arg-type]
    prior = {0: np.array([0.875, 0.125]), 1: np.array([0.75, 0.25])}
    seen = np.array([0.0, 1.0])
    belief = Belief.of([(1.0, net, prior)], {f"s{i}": seen for i in range(10)})
    answers = belief.ask([Query()])
    expected = exact_log_odds(net, prior, net.of_kind("sign"), 0)
    assert expected > 185
    assert answers.log_odds("a") == pytest.approx(expected, abs=1e-9)
    assert answers.log_odds("b") == pytest.approx(exact_log_odds(net, prior, net.of_kind("sign"), 1), abs=1e-9)
    naive = answers.chance("a")
    assert naive == 1.0 or abs(10 * math.log10(naive / (1 - naive)) - expected) > 1


def test_digits_are_kept_when_a_fault_is_ruled_out() -> None:
    """Ten decisive signs found absent: log odds near -300 decibans equal exact fractions."""
    nodes = [("a", "fault", 2, None), *((f"s{i}", "sign", 2, cumulative([0.005])) for i in range(10))]
    net = make_net(nodes, [("a", f"s{i}", np.array([[1.0, 1.0], [0.001, 1.0]])) for i in range(10)])  # type: ignore[arg-type]
    belief = Belief.of([(1.0, net, {0: np.array([0.875, 0.125])})], {f"s{i}": np.array([1.0, 0.0]) for i in range(10)})
    # absent signs: the background's share cancels, so the odds are the prior's times 0.001^10
    expected = 10 * log10(Fraction(1, 7) * Fraction(0.001) ** 10)
    assert belief.ask([Query()]).log_odds("a") == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("chance", [1e-4, 1e-7, 1e-12, 1e-18])
def test_digits_are_kept_for_rare_faults(chance: float) -> None:
    """Three rare faults that show on the same two present signs: log odds equal exact fractions to 1e-8 decibans."""
    nodes = [(f"f{i}", "fault", 2, None) for i in range(3)] + [(f"s{j}", "sign", 2, cumulative([0.001])) for j in range(2)]
    links = [(f"f{i}", f"s{j}", np.array([[1.0, 1.0], [0.1 + 0.01 * i, 1.0]])) for i in range(3) for j in range(2)]
    net = make_net(nodes, links)  # type: ignore[arg-type]
    prior = {i: np.array([1 - chance, chance]) for i in range(3)}
    answers = Belief.of([(1.0, net, prior)], {f"s{j}": np.array([0.0, 1.0]) for j in range(2)}).ask([Query()])
    for i in range(3):
        assert answers.log_odds(f"f{i}") == pytest.approx(exact_log_odds(net, prior, net.of_kind("sign"), i), abs=1e-8)


def chain(length: int, strength: float, background: float) -> tuple[Net, dict[int, Array]]:
    """Faults in a row, each sign shown by two neighbours."""
    nodes = [(f"f{i:03}", "fault", 2, None) for i in range(length + 1)]
    nodes += [(f"s{i:03}", "sign", 2, cumulative([background])) for i in range(length)]
    table = np.array([[1.0, 1.0], [1.0 - strength, 1.0]])
    links = [(f"f{i + k:03}", f"s{i:03}", table) for i in range(length) for k in (0, 1)]
    return make_net(nodes, links), {i: np.array([0.99, 0.01]) for i in range(length + 1)}  # type: ignore[arg-type]


def chain_fractions(length: int, strength: float, background: float, present: int) -> list[Fraction]:
    """Evidence, and evidence with the first fault present, by passing exact fractions along the chain."""
    prior = (Fraction(0.99), Fraction(0.01))
    quiet = (Fraction(1), Fraction(float(1.0 - strength)))
    none = Fraction(float(1.0 - background))
    found = []
    for first in ((0, 1), (1,)):
        row = [prior[s] if s in first else Fraction(0) for s in (0, 1)]
        for i in range(length):
            likelihood = [[none * quiet[a] * quiet[b] for b in (0, 1)] for a in (0, 1)]
            if i < present:
                likelihood = [[1 - x for x in line] for line in likelihood]
            row = [sum((row[a] * likelihood[a][b] for a in (0, 1)), Fraction(0)) * prior[b] for b in (0, 1)]
        found.append(sum(row, Fraction(0)))
    return found


def test_evidence_under_the_smallest_float_is_exact() -> None:
    """220 unlikely findings, evidence about 1e-438: its logarithm and the posterior still have all their digits."""
    net, prior = chain(220, 0.002, 0.01)
    likelihoods = {s: np.array([0.0, 1.0]) for s in net.of_kind("sign")}
    solved = solve(gather(net, prior, likelihoods), [PLAIN])
    evidence, with_first = chain_fractions(220, 0.002, 0.01, 220)
    assert log10(evidence) < -400
    assert solved.log_evidence[0] / math.log(10) == pytest.approx(log10(evidence), rel=CLOSE)
    assert solved.posterior(0)[1] == pytest.approx(float(with_first / evidence), rel=1e-11)


# ------------------------------------------------------------------ width


def parts_net(parts: int, signs: int, faults: int, rng: np.random.Generator) -> tuple[Net, dict[int, Array]]:
    """Separate parts in one network, each dense inside."""
    nodes = [(f"f{p}-{i}", "fault", 2, None) for p in range(parts) for i in range(faults)]
    nodes += [(f"s{p}-{j}", "sign", 2, cumulative([0.02])) for p in range(parts) for j in range(signs)]
    links = [(f"f{p}-{i}", f"s{p}-{j}", np.array([[1.0, 1.0], [1.0 - rng.uniform(0.1, 0.9), 1.0]]))
             for p in range(parts) for i in range(faults) for j in range(signs)]
    net = make_net(nodes, links)  # type: ignore[arg-type]
    return net, {n: np.array([1 - q, q]) for n in net.of_kind("fault") for q in [rng.uniform(0.01, 0.2)]}


def two_layers(net: Net, prior: dict[int, Array], present: list[int], faults: list[int]) -> tuple[float, Array]:
    """Evidence of present signs and posteriors of their faults, by summing over the faults' states only."""
    states = np.array(list(itertools.product((0, 1), repeat=len(faults))))
    weight = np.ones(len(states))
    for k, node in enumerate(faults):
        weight *= prior[node][states[:, k]]
    for sign in present:
        background = net.background[sign]
        assert background is not None
        none = np.full(len(states), background[0])
        for link in net.parents[sign]:
            none = none * link.table[states[:, faults.index(link.parent)], 0]
        weight *= 1 - none
    return float(weight.sum()), (weight[:, None] * states).sum(axis=0) / weight.sum()


def test_separate_parts_need_a_small_frontier(monkeypatch: pytest.MonkeyPatch) -> None:
    """24 present signs in six parts are solved with room for 64 cells only, not 2^24, and equal the parts solved alone."""
    net, prior = parts_net(6, 4, 5, np.random.default_rng(3))
    seen = {s: np.array([0.0, 1.0]) for s in net.of_kind("sign")}
    monkeypatch.setattr(plan, "MAX_CELLS", 64)
    solved = solve(gather(net, prior, seen), [PLAIN])
    logs = 0.0
    for part in range(6):
        faults = [net.index[f"f{part}-{i}"] for i in range(5)]
        total, posterior = two_layers(net, prior, [net.index[f"s{part}-{j}"] for j in range(4)], faults)
        logs += math.log(total)
        assert [solved.posterior(f)[1] for f in faults] == pytest.approx(posterior, rel=CLOSE)
    assert solved.log_evidence[0] == pytest.approx(logs, rel=CLOSE)


@pytest.mark.parametrize(("signs", "faults"), [(7, 12), (30, 4)])
def test_dense_signs_are_exact(signs: int, faults: int) -> None:
    """Present signs that share all their causes equal the sum over all fault states, few signs or few faults."""
    net, prior = parts_net(1, signs, faults, np.random.default_rng(5))
    seen = {s: np.array([0.0, 1.0]) for s in net.of_kind("sign")}
    solved = solve(gather(net, prior, seen), [PLAIN])
    total, posterior = two_layers(net, prior, net.of_kind("sign"), net.of_kind("fault"))
    assert solved.log_evidence[0] == pytest.approx(math.log(total), rel=CLOSE)
    assert [solved.posterior(f)[1] for f in net.of_kind("fault")] == pytest.approx(posterior, rel=1e-11)


def test_too_wide_a_case_is_refused_with_the_count() -> None:
    """Thirty present signs with the same thirty causes are refused, with their number, and not approximated."""
    net, prior = parts_net(1, 30, 30, np.random.default_rng(7))
    seen = {s: np.array([0.0, 1.0]) for s in net.of_kind("sign")}
    with pytest.raises(TooWideError, match=r"\b30\b"):
        solve(gather(net, prior, seen), [PLAIN])


def test_absent_signs_never_make_a_case_too_wide() -> None:
    """Thirty signs found absent cost nothing, however many causes they share."""
    net, prior = parts_net(1, 30, 4, np.random.default_rng(7))
    absent = {s: np.array([1.0, 0.0]) for s in net.of_kind("sign")}
    solved = solve(gather(net, prior, absent), [PLAIN])
    for fault in net.of_kind("fault"):
        clear = math.prod(float(link.table[1, 0]) for link in net.children[fault])
        p = prior[fault][1]
        assert solved.posterior(fault)[1] == pytest.approx(p * clear / (p * clear + 1 - p), rel=CLOSE)


@given(cases, st.integers(0, 10**6))
@settings(max_examples=30)
def test_big_batches_are_cut_without_a_trace(drawn: Drawn, seed: int) -> None:
    """A batch solved in chunks of a few variants gives the numbers of the batch solved at once."""
    rng = np.random.default_rng(seed)
    fault = drawn.net.of_kind("fault")[0]
    variants = [Variant(factors=((fault, rng.uniform(0.1, 1.0, drawn.net.sizes[fault])),)) for _ in range(23)]
    whole = solve(drawn.evidence, variants)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(eliminate, "MAX_BATCH", 1)
        cut = solve(drawn.evidence, variants)
    assert cut.log_evidence == pytest.approx(whole.log_evidence, rel=1e-14, abs=1e-14)
    assert cut.mass.keys() == whole.mass.keys()
    for node in whole.mass:
        assert cut.mass[node] / cut.mass[node].sum(axis=1)[:, None] == pytest.approx(
            whole.mass[node] / whole.mass[node].sum(axis=1)[:, None], rel=1e-13)


@settings(max_examples=60)
@given(cases, st.integers(2, 4))
def test_asking_for_some_masses_gives_the_same_bytes(drawn: Drawn, step: int) -> None:
    """The way back leaves out what nobody asks for, and changes nothing of the rest."""
    signs = drawn.net.of_kind("sign")
    variants = [PLAIN, *(Variant(drop=frozenset({s})) for s in signs[:2])]
    whole = solve(drawn.evidence, variants)
    wanted = sorted(whole.mass)[::step]
    part = solve(drawn.evidence, variants, wanted=wanted)
    assert set(wanted) <= set(part.mass)
    assert part.log_evidence.tobytes() == whole.log_evidence.tobytes()
    for node in wanted:
        assert part.mass[node].tobytes() == whole.mass[node].tobytes()
