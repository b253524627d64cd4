"""What is believed after the evidence, asked by name: over one network, or over several kinds of boat mixed.

Where a fact of the boat is unknown and would change the ranking, the evidence is weighed on each kind of
boat and mixed by how common the kind is and how well it explains what was seen.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from diagnose.errors import TooWideError
from diagnose.network.eliminate import Solved, solve
from diagnose.network.evidence import Evidence, Variant, gather
from diagnose.network.nodes import Array, Net, steps
from diagnose.network.past import is_of_then
from diagnose.network.plan import make_plan


@dataclass(frozen=True)
class World:
    """One kind of boat: how common it is, its network, the evidence on it."""

    chance: float
    net: Net
    evidence: Evidence


@dataclass(frozen=True)
class Query:
    """A question beside the evidence: leave out signs, add 'this sign is at most at this grade', weigh states.

    `states` multiplies the states of faults or conditions (by id); `unexplained` names a sign as reported to which
    the book's causes contributed at most the grade below the one reported.
    """

    drop: frozenset[str] = frozenset()
    at_most: Mapping[str, int] = field(default_factory=dict)
    states: Mapping[str, Array] = field(default_factory=dict)
    unexplained: str | None = None


@dataclass(frozen=True)
class Answers:
    """By query: log evidence, and for each fault or condition the chance of each of its states times that
    evidence, all divided by the evidence of the first query. `scale` is that evidence's logarithm."""

    log_evidence: Array
    mass: dict[str, Array]
    scale: float

    def chance(self, name: str, query: int = 0) -> float:
        """P(present) of a fault, or P(any grade above none) of a condition, under one query."""
        row = self.mass[name][query]
        return float(row[1:].sum() / row.sum())

    def states(self, name: str, query: int = 0) -> Array:
        """Chance of each state of a fault or condition under one query."""
        row = self.mass[name][query]
        return np.asarray(row / row.sum())

    def log_odds(self, name: str, query: int = 0) -> float:
        """Decibans for the fault, from both masses, so that no digits are lost near certainty."""
        absent, *present = self.mass[name][query].tolist()
        return 10.0 * (math.log10(sum(present)) - math.log10(absent))

    def total(self, query: int) -> float:
        """Evidence of a query relative to the first."""
        return float(np.exp(self.log_evidence[query] - self.scale))


class Belief:
    """The worlds and the questions that can be asked of them."""

    def __init__(self, worlds: Sequence[World], likelihoods: Mapping[str, Array]) -> None:
        self.worlds = tuple(worlds)
        self.likelihoods = dict(likelihoods)
        self.names = sorted({net_id for w in self.worlds for net_id, kind in zip(w.net.ids, w.net.kinds, strict=True)
                             if kind in ("fault", "unknown") and not is_of_then(net_id)})

    @classmethod
    def of(cls, worlds: Sequence[tuple[float, Net, Mapping[int, Array]]], likelihoods: Mapping[str, Array]) -> Belief:
        """Lay the likelihoods (by sign id) on each world's network."""
        made = []
        for chance, net, prior in worlds:
            own = {net.index[s]: l for s, l in likelihoods.items() if s in net.index}
            made.append(World(chance, net, gather(net, prior, own)))
        return cls(made, likelihoods)

    @property
    def fits(self) -> bool:
        """Whether the evidence hangs together loosely enough to be weighed exactly, with each sign told left out too."""
        try:
            for world in self.worlds:
                make_plan(world.evidence, (), world.evidence.by_sign)
        except TooWideError:
            return False
        return True

    def ask(self, queries: Sequence[Query], *, backward: bool = True, wanted: Collection[str] | None = None) -> Answers:
        """Answer all queries; the first is the yardstick. `wanted` names the faults and conditions whose masses are
        needed, if not all are.

        Raises:
            TooWideError: see `diagnose.network.eliminate.solve`.
        """
        solved = [solve(w.evidence, [self._variant(w, q) for q in queries], backward=backward,
                        wanted=None if wanted is None else [w.net.index[n] for n in wanted if n in w.net.index])
                  for w in self.worlds]
        logs = np.array([s.log_evidence + np.log(w.chance) for s, w in zip(solved, self.worlds, strict=True)])
        top = logs.max(axis=0)
        log_evidence = top + np.log(np.exp(logs - top).sum(axis=0))
        scale = float(log_evidence[0])
        mass = self._mix(solved, np.exp(logs - scale)) if backward else {}
        return Answers(log_evidence, mass, scale)

    def _mix(self, solved: Sequence[Solved], weights: Array) -> dict[str, Array]:
        mass: dict[str, Array] = {}
        for world, result, weight in zip(self.worlds, solved, weights, strict=True):
            for node, rows in result.mass.items():
                name = world.net.ids[node]
                if world.net.kinds[node] == "sign" or is_of_then(name):
                    continue
                part = rows * (weight / rows.sum(axis=1))[:, None]
                mass[name] = mass[name] + part if name in mass else part
        if len(self.worlds) > 1:
            self._add_absent(mass, weights)
        return mass

    def _add_absent(self, mass: dict[str, Array], weights: Array) -> None:
        """In a world that lacks a fault it is absent with all that world's weight."""
        for name, rows in mass.items():
            for world, weight in zip(self.worlds, weights, strict=True):
                if name not in world.net.index:
                    rows[:, 0] += weight

    def _variant(self, world: World, query: Query) -> Variant:
        net = world.net
        factors: dict[int, Array] = {}
        constant = 1.0

        def times(node: int, factor: Array) -> None:
            factors[node] = factors[node] * factor if node in factors else factor

        for name, grade in query.at_most.items():
            sign = net.index.get(name)
            if sign is None:
                continue
            background = net.background[sign]
            assert background is not None
            constant *= float(background[grade])
            for link in net.parents[sign]:
                times(link.parent, link.table[:, grade])
        for name, weights in query.states.items():
            if name in net.index:
                times(net.index[name], weights)
        drop = {net.index[s] for s in query.drop if s in net.index}
        if query.unexplained is not None and query.unexplained in net.index:
            sign = net.index[query.unexplained]
            drop.add(sign)
            constant *= self._unexplained(net, sign, times)
        return Variant(frozenset(drop), tuple(sorted(factors.items(), key=lambda f: f[0])), constant)

    def _unexplained(self, net: Net, sign: int, times) -> float:  # type: ignore[no-untyped-def]
        """The sign as reported, with the book's causes contributing less than its mildest possible grade."""
        likelihood = self.likelihoods[net.ids[sign]]
        background = net.background[sign]
        assert background is not None
        low = int(np.argmax(likelihood > 0.5 * likelihood.max()))
        unknown = [link for link in net.parents[sign] if net.kinds[link.parent] == "unknown"]
        for link in net.parents[sign]:
            if net.kinds[link.parent] != "unknown" and low > 0:
                times(link.parent, link.table[:, low - 1])
        if unknown:
            mixed = steps(background * unknown[0].table) @ likelihood
            times(unknown[0].parent, mixed)
            return 1.0
        return float(steps(background) @ likelihood)
