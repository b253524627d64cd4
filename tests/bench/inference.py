"""Exact inference: the same noisy-MAX networks in diagnose.network and, as plain tables, in pyAgrum.

A noisy-MAX child is written for pyAgrum as one contribution a parent and a chain of maxima over them, so that no
table has more than three variables. All posteriors of all faults must agree to 1e-9.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from statistics import median
from typing import Any

import numpy as np
from bench.clock import cpu_ms
from bench.lines import Line, Setting, WrongResultError
from network.nets import falling

from diagnose.errors import TooWideError
from diagnose.network.eliminate import solve
from diagnose.network.evidence import PLAIN, gather
from diagnose.network.nodes import Array, Net, make_net

PRESENT, CLEAR = 6, 6
CLOSE = 1e-9
MOST_CELLS = 3**13
"""A network that needs a larger table than this in pyAgrum is left out: it may ask for more memory than there is."""


@dataclass(frozen=True)
class Problem:
    """A network with its priors, and the grade reported for each sign looked at."""

    net: Net
    prior: Mapping[int, Array]
    seen: dict[int, int]


def run(setting: Setting) -> Iterator[Line]:
    """Median ratio over random networks, each with six signs present and six clear."""
    try:
        import pyagrum
    except ImportError:
        yield Line("pyagrum cannot be loaded here: part left out")
        return
    pyagrum.setNumberOfThreads(1)
    for faults in (20, 40):
        yield _line(pyagrum, faults, setting)


def _line(gum: Any, faults: int, setting: Setting) -> Line:
    found: list[tuple[float, float]] = []
    apart, refused, beyond, seed = 0.0, 0, 0, setting.seed
    while len(found) < setting.pick(4, 20):
        seed += 1
        problem = make_problem(np.random.default_rng(1000 * faults + seed), faults)
        try:
            ours = _ours(problem)
        except TooWideError:
            refused += 1
            continue
        other = Agrum(gum, problem)
        if other.largest_clique() > MOST_CELLS:
            beyond += 1
            continue
        apart = max(apart, _apart(ours, other.posteriors()))
        found.append((_fastest(lambda p=problem: _ours(p)), _fastest(other.posteriors)))  # type: ignore[misc]
    mine, theirs = (median(f[i] for f in found) for i in (0, 1))
    note = f"against pyAgrum, one thread, {len(found)} networks, farthest apart {apart:.0e}; left out: {refused} too wide for this, " \
           f"{beyond} for pyAgrum"
    return Line(f"all posteriors, {faults} faults, {PRESENT} present", f"{mine:.2f} ms", f"{theirs:.2f} ms",
                median(a / b for a, b in found), note=note)


def _fastest(work: Callable[[], object]) -> float:
    return min(cpu_ms(work) for _ in range(5))


def _apart(ours: dict[str, Array], theirs: dict[str, Array]) -> float:
    """The largest difference of any posterior.

    Raises:
        WrongResultError: it is more than rounding.
    """
    worst = max(float(np.abs(ours[name] - theirs[name]).max()) for name in ours)
    if worst > CLOSE or not np.isfinite(worst):
        raise WrongResultError(f"posteriors differ by {worst:.1e}")
    return worst


def _ours(problem: Problem) -> dict[str, Array]:
    """Posteriors of all faults, evidence folded afresh."""
    net = problem.net
    likelihoods = {sign: np.eye(net.sizes[sign])[grade] for sign, grade in problem.seen.items()}
    solved = solve(gather(net, problem.prior, likelihoods), [PLAIN])
    return {net.ids[n]: solved.posterior(n) for n in net.of_kind("fault")}


# ------------------------------------------------------------------ the networks


def make_problem(rng: np.random.Generator, faults: int) -> Problem:
    """Two-stage faults; a fifth as many conditions; half again as many signs of three grades. A fault shows on one
    or two conditions and two signs of its own choice, a condition on three signs and now and then on a later one."""
    conditions, signs = faults // 5, faults * 3 // 2
    nodes: list[tuple[str, Any, int, Array | None]] = [(f"f{i}", "fault", 3, None) for i in range(faults)]
    nodes += [(f"c{i}", "condition", 3, falling(rng, 2, 0.003, 0.05)) for i in range(conditions)]
    nodes += [(f"s{i}", "sign", 3, falling(rng, 2, 0.003, 0.05)) for i in range(signs)]
    pairs = set()
    for i in range(faults):
        pairs |= {(f"f{i}", f"c{j}") for j in rng.choice(conditions, rng.integers(1, 3), replace=False)}
        pairs |= {(f"f{i}", f"s{j}") for j in rng.choice(signs, 2, replace=False)}
    for i in range(conditions):
        pairs |= {(f"c{i}", f"s{j}") for j in rng.choice(signs, 3, replace=False)}
        if i + 1 < conditions and rng.random() < 0.3:
            pairs.add((f"c{i}", f"c{i + 1}"))
    links = [(p, c, np.array([np.ones(3), falling(rng, 2), falling(rng, 2)])) for p, c in sorted(pairs)]
    net = make_net(nodes, links)
    prior = {i: np.array([0.97, 0.02, 0.01]) for i in range(faults)}
    looked = rng.choice(net.of_kind("sign"), PRESENT + CLEAR, replace=False)
    seen = {int(s): int(rng.integers(1, 3)) if k < PRESENT else 0 for k, s in enumerate(looked)}
    return Problem(net, prior, seen)


# ------------------------------------------------------------------ pyAgrum


class Agrum:
    """The network as a plain Bayesian network, with its engine made once."""

    def __init__(self, gum: Any, problem: Problem) -> None:
        self._gum, self._problem, self._bn = gum, problem, gum.BayesNet("bench")
        net = problem.net
        for node, (name, background) in enumerate(zip(net.ids, net.background, strict=True)):
            if background is None:
                self._add(name, net.sizes[node], (), problem.prior[node])
            else:
                self._add_child(node, background)
        self._engine = gum.LazyPropagation(self._bn)
        self._faults = [net.ids[n] for n in net.of_kind("fault")]
        self._engine.setTargets(set(self._faults))
        self._evidence = {net.ids[s]: g for s, g in problem.seen.items()}

    def largest_clique(self) -> int:
        """Cells of the largest clique of its junction tree under this evidence."""
        self._engine.setEvidence(self._evidence)
        tree = self._engine.junctionTree()
        return max(math.prod(self._bn.variable(n).domainSize() for n in tree.clique(c)) for c in tree.nodes())

    def posteriors(self) -> dict[str, Array]:
        """Posteriors of all faults, evidence set afresh."""
        self._engine.eraseAllEvidence()
        self._engine.setEvidence(self._evidence)
        self._engine.makeInference()
        return {name: self._engine.posterior(name).toarray() for name in self._faults}

    def _add(self, name: str, size: int, parents: tuple[str, ...], table: Array) -> None:
        """A variable; `table` runs over the parents, then over the variable itself."""
        self._bn.add(self._gum.RangeVariable(name, name, 0, size - 1))
        for parent in parents:
            self._bn.addArc(parent, name)
        order = (*reversed(range(len(parents))), len(parents))
        self._bn.cpt(name).fillWith(list(table.transpose(order).ravel()))  # the variable runs fastest, then its first parent

    def _add_child(self, node: int, background: Array) -> None:
        """Background first, then each parent's contribution; the last maximum is the child itself."""
        net = self._problem.net
        name, size, links = net.ids[node], net.sizes[node], net.parents[node]
        grades = np.arange(size)
        larger = (np.maximum(grades[:, None], grades[None, :])[..., None] == grades).astype(float)
        so_far = name if not links else f"{name}_0"
        self._add(so_far, size, (), np.diff(background, prepend=0.0))
        for k, link in enumerate(links, 1):
            part = f"{name}_by_{net.ids[link.parent]}"
            self._add(part, size, (net.ids[link.parent],), np.diff(link.table, prepend=0.0, axis=1))
            now = name if k == len(links) else f"{name}_{k}"
            self._add(now, size, (so_far, part), larger)
            so_far = now
