"""Exact enumeration of small noisy-MAX networks: slow, plain, and written without looking at the solver."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from diagnose.network.nodes import Array, Net


@dataclass(frozen=True)
class Joint:
    """Every possible joint state of all nodes, one a row, with its chance."""

    states: np.ndarray
    chance: Array

    def weigh(self, factors: Mapping[int, Array]) -> Array:
        """Chance of each row times the factor of each node's state (likelihoods, or any other weights)."""
        weight = self.chance.copy()
        for node, factor in factors.items():
            weight *= factor[self.states[:, node]]
        return weight

    def mass(self, node: int, size: int, weight: Array) -> Array:
        """The weight of each state of a node."""
        return np.bincount(self.states[:, node], weights=weight, minlength=size)


def joint(net: Net, prior: Mapping[int, Array]) -> Joint:
    """The joint distribution, node by node in causal order."""
    rows: list[tuple[tuple[int, ...], float]] = [((), 1.0)]
    for i in range(len(net.ids)):
        rows = [((*states, g), p * q) for states, p in rows for g in range(net.sizes[i]) if (q := _chance(net, prior, i, states, g)) > 0.0]
    return Joint(np.array([s for s, _ in rows]), np.array([p for _, p in rows]))


def _chance(net: Net, prior: Mapping[int, Array], i: int, states: tuple[int, ...], grade: int) -> float:
    """P(node i is exactly at a grade | its parents)."""
    def at_most(g: int) -> float:
        if g < 0:
            return 0.0
        background = net.background[i]
        own = float(prior[i][: g + 1].sum()) if background is None else float(background[g])
        for link in net.parents[i]:
            own *= float(link.table[states[link.parent], g])
        return own

    return at_most(grade) - at_most(grade - 1)


def enumerate_net(net: Net, prior: Mapping[int, Array], likelihoods: Mapping[int, Array]) -> tuple[float, dict[int, Array]]:
    """Evidence and unnormalised posterior masses by summing over every joint state of all nodes."""
    table = joint(net, prior)
    weight = table.weigh(likelihoods)
    return float(weight.sum()), {i: table.mass(i, net.sizes[i], weight) for i in range(len(net.ids))}
