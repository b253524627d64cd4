"""A quick first look at what signs could show, to choose which looks to weigh exactly.

Each column supposes one fault in one stage (the first column supposes nothing); everything else keeps its own
posterior as if independent. It orders candidates; no number from it is shown as exact.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from diagnose.network.nodes import Array, Net, steps


def expect_signs(net: Net, marginal: Mapping[int, Array], suppose: Sequence[tuple[int, int]],
                 signs: Sequence[int]) -> dict[int, Array]:
    """Cumulative chances of each sign's grades, by column.

    Args:
        marginal: posterior over the states of faults, and of the conditions that have evidence.
        suppose: (fault, state) of each column after the first.
        signs: the signs asked about.

    Returns:
        For each sign an array (1 + len(suppose), grades).
    """
    rows: dict[int, list[int]] = {}
    for column, (node, _) in enumerate(suppose):
        rows.setdefault(node, []).append(column)
    known: dict[int, Array] = {}

    def forward(node: int) -> Array:
        """Cumulative chances of a node from its causes alone."""
        shared = net.background[node]
        assert shared is not None
        shared = shared.copy()
        uneven: list[Array] = []
        fixes: list[tuple[list[int], Array]] = []
        for link in net.parents[node]:
            if net.kinds[link.parent] in ("fault", "unknown"):
                mean = marginal[link.parent] @ link.table
                shared *= mean
                columns = rows.get(link.parent)
                if columns:
                    stated = link.table[[suppose[c][1] for c in columns]]
                    fixes.append((columns, stated / mean))
            else:
                uneven.append(condition(link.parent) @ link.table)
        out = np.tile(shared, (len(suppose) + 1, 1))
        for columns, ratio in fixes:
            out[[c + 1 for c in columns]] *= ratio
        for part in uneven:
            out *= part
        return out

    def condition(node: int) -> Array:
        """Chances of a condition's grades by column; its own evidence is laid on as a likelihood."""
        if node not in known:
            chances = steps(forward(node))
            if node in marginal:
                chances = chances * (marginal[node] / np.maximum(chances[0], 1e-12))
                chances = chances / chances.sum(axis=1, keepdims=True)
            known[node] = chances
        return known[node]

    return {sign: forward(sign) for sign in signs}
