"""What a case needs of its network, and in which order it is summed out.

Nodes that carry evidence, and the conditions above them, get an axis. Faults are taken in by bunches: all that
show on the same few axes form one factor. A fault that shows on more (an unknown fault shows on everything in
its system) becomes an axis of its own states, so that its effects need not be held open together.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from diagnose.errors import TooWideError
from diagnose.network.evidence import Evidence, merged
from diagnose.network.nodes import Array, Link, Net, steps

MAX_CELLS = 2**16
MOST_IN_BUNCH = 2
"""A fault with more axes below it than this becomes an axis itself."""


@dataclass(frozen=True, slots=True)
class Effect:
    """What a source does to one axis: cumulative and exact chance, by source state and level of the axis."""

    below: Array
    exact: Array


@dataclass
class Plan:
    """Axes with their levels, faults by bunch, effects between axes, the order, and the faults that stand alone.

    `ends` holds the likelihood of signs; `wide` are faults that became axes; `order` sums axes out, causes first.
    `trailing` are faults with one cause and nothing seen below them: they follow their cause and need no axis.
    """

    evidence: Evidence
    levels: dict[int, list[int]] = field(default_factory=dict)
    ends: dict[int, Array] = field(default_factory=dict)
    bunches: dict[tuple[int, ...], list[int]] = field(default_factory=dict)
    effects: dict[tuple[int, int], Effect] = field(default_factory=dict)
    wide: set[int] = field(default_factory=set)
    order: list[int] = field(default_factory=list)
    trailing: list[int] = field(default_factory=list)
    alone: list[int] = field(default_factory=list)
    cells: int = 1


def make_plan(evidence: Evidence, touched: Iterable[int], dropped: Iterable[int] = ()) -> Plan:
    """The plan for this evidence.

    Conditions in `touched` are weighed by some variant and keep an axis; signs in `dropped` are left out by some
    variant and keep their whole scale.

    Raises:
        TooWideError: some factor would need more than the allowed cells; nothing is approximated.
    """
    plan = Plan(evidence)
    _find_axes(plan, set(touched) | {n for f in evidence.folded for n, _ in f.factors}, set(dropped))
    _sort_faults(plan)
    _find_order(plan)
    return plan


def _find_axes(plan: Plan, touched: set[int], dropped: set[int]) -> None:
    net = plan.evidence.net
    for folded in plan.evidence.folded:
        if folded.axis is not None:
            plan.levels[folded.sign], plan.ends[folded.sign] = merged(folded.axis, whole=folded.sign in dropped)
    for node in reversed(net.of_kind("condition")):
        if node in touched or any(link.child in plan.levels for link in net.children[node]):
            plan.levels[node] = list(range(net.sizes[node]))
    for node in reversed(net.of_kind("fault")):
        if net.parents[node]:
            below = node in touched or any(link.child in plan.levels for link in net.children[node])
            if below or len(net.parents[node]) > 1:
                plan.levels[node] = list(range(net.sizes[node]))
            else:
                plan.trailing.insert(0, node)


def _sort_faults(plan: Plan) -> None:
    """Put each fault without a cause into its bunch, make it an axis, or leave it alone."""
    net = plan.evidence.net
    trailing = set(plan.trailing)
    roots = [n for n in net.of_kind("fault", "unknown") if n not in plan.levels and n not in trailing]
    below = {n: tuple(sorted({link.child for link in net.children[n]} & plan.levels.keys())) for n in roots}
    for node in roots:
        if not below[node]:
            plan.alone.append(node)
        elif len(below[node]) <= MOST_IN_BUNCH:
            plan.bunches.setdefault(below[node], []).append(node)
        else:
            plan.levels[node] = list(range(net.sizes[node]))
            plan.wide.add(node)
    for source in sorted({*roots, *plan.levels}):
        for link in net.children[source]:
            if link.child in plan.levels:
                _add_effect(plan, net, source, link)


def _add_effect(plan: Plan, net: Net, source: int, link: Link) -> None:
    axis, levels = link.child, plan.levels[link.child]
    whole = len(levels) == net.sizes[axis]
    below = link.table if whole else link.table[:, levels]
    if (source, axis) in plan.effects:
        below = below * plan.effects[source, axis].below  # two links to one sign are two independent contributions
        whole = False
    plan.effects[source, axis] = Effect(below, link.exact if whole else steps(below))


def _find_order(plan: Plan) -> None:
    """Greedy: next the axis whose factor is smallest, among those whose causes are summed out; ties by index."""
    size = {axis: len(levels) for axis, levels in plan.levels.items()}
    near: dict[int, set[int]] = {axis: {axis} for axis in plan.levels}
    causes: dict[int, set[int]] = {axis: set() for axis in plan.levels}

    def join(axes: Iterable[int]) -> None:
        group = set(axes)
        for axis in group:
            near[axis] |= group

    for axes in plan.bunches:
        join(axes)
    for source, axis in plan.effects:
        if source in plan.levels:
            join((source, axis))
            if source not in plan.wide:
                causes[axis].add(source)
    left = sorted(plan.levels)
    weight = {axis: math.prod(size[a] for a in near[axis]) for axis in left}
    while left:
        best = min((axis for axis in left if not causes[axis]), key=lambda axis: (weight[axis], axis))
        if weight[best] > MAX_CELLS:
            raise TooWideError(
                f"{len(plan.ends)} of the signs seen hang together too closely to rank exactly ({weight[best]} cells)",
                right="leave out signs that say the same thing twice",
            )
        plan.cells = max(plan.cells, weight[best])
        plan.order.append(best)
        left.remove(best)
        neighbours = near.pop(best) - {best}
        for axis in neighbours:
            near[axis] = (near[axis] | neighbours) - {best}
            weight[axis] = math.prod(size[a] for a in near[axis])
        for axis in left:
            causes[axis].discard(best)
