"""The order of elimination: which axes a case needs, and in which order they open, act and close.

Three ways in: a fault with one axis below it joins the group of that axis and is taken in with it; a fault
with two is mixed over its states; one with more (an unknown fault shows on everything in its system) becomes an
axis of its own states, so that it can act on its signs one after another instead of holding all of them open.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from diagnose.errors import TooWideError
from diagnose.network.evidence import Evidence, merged
from diagnose.network.nodes import Array, Net

MAX_TENSOR = 2**18
MOST_MIXED = 2
"""A fault with more axes below it than this becomes an axis itself."""


@dataclass(frozen=True, slots=True)
class Effect:
    """What a source does to one axis: cumulative and exact chance, by source state and level of the axis."""

    axis: int
    below: Array
    exact: Array


@dataclass(frozen=True, slots=True)
class Step:
    """One step: open an axis (with its group), mix a fault in, let an axis act on another, or close an axis."""

    do: Literal["open", "mix", "act", "close"]
    node: int
    effects: tuple[Effect, ...] = ()


@dataclass
class Plan:
    """Axes with their levels, groups of faults by their only axis, the steps, and the faults that stand alone."""

    evidence: Evidence
    levels: dict[int, list[int]] = field(default_factory=dict)
    ends: dict[int, Array] = field(default_factory=dict)
    groups: dict[int, list[int]] = field(default_factory=dict)
    effects: dict[tuple[int, int], Effect] = field(default_factory=dict)
    steps: list[Step] = field(default_factory=list)
    alone: list[int] = field(default_factory=list)
    width: int = 1


def make_plan(evidence: Evidence, touched: Iterable[int], dropped: Iterable[int] = ()) -> Plan:
    """The plan for this evidence.

    Conditions in `touched` are weighed by some variant and keep an axis; signs in `dropped` are left out by some
    variant and keep their whole scale.

    Raises:
        TooWideError: some step would need more than the allowed cells; nothing is approximated.
    """
    plan = Plan(evidence)
    _find_axes(plan, set(touched) | {n for f in evidence.folded for n, _ in f.factors}, set(dropped))
    mixed = _sort_roots(plan)
    _Orderer(plan, mixed).run()
    return plan


def _find_axes(plan: Plan, touched: set[int], dropped: set[int]) -> None:
    net = plan.evidence.net
    for folded in plan.evidence.folded:
        if folded.axis is not None:
            plan.levels[folded.sign], plan.ends[folded.sign] = merged(folded.axis, whole=folded.sign in dropped)
    for node in reversed(net.of_kind("condition")):
        if node in touched or any(link.child in plan.levels for link in net.children[node]):
            plan.levels[node] = list(range(net.sizes[node]))
    for node in net.of_kind("fault"):
        if net.parents[node]:  # a caused fault: it follows its cause even without evidence of its own
            plan.levels[node] = list(range(net.sizes[node]))


def _sort_roots(plan: Plan) -> list[int]:
    """Put each fault without a cause where it belongs; returns those to be mixed in."""
    net = plan.evidence.net
    mixed = []
    roots = [n for n in net.of_kind("fault", "unknown") if n not in plan.levels]
    below = {n: sorted({link.child for link in net.children[n]} & plan.levels.keys()) for n in roots}
    for node in roots:
        axes = below[node]
        if not axes:
            plan.alone.append(node)
        elif len(axes) == 1:
            plan.groups.setdefault(axes[0], []).append(node)
        elif len(axes) <= MOST_MIXED:
            mixed.append(node)
        else:
            plan.levels[node] = list(range(net.sizes[node]))
    for source in sorted({*roots, *plan.levels}):
        for link in net.children[source]:
            if link.child in plan.levels:
                _add_effect(plan, net, source, link.child, link.table)
    return mixed


def _add_effect(plan: Plan, net: Net, source: int, axis: int, table: Array) -> None:
    below = table[:, plan.levels[axis]]
    if (source, axis) in plan.effects:
        below = below * plan.effects[source, axis].below  # two links to one sign are two independent contributions
    plan.effects[source, axis] = Effect(axis, below, np.diff(below, prepend=0.0, axis=1))


class _Orderer:
    """Greedy ordering: next the step that leaves the smallest tensor; ties by the peak on the way, then by index."""

    def __init__(self, plan: Plan, mixed: list[int]) -> None:
        self._plan = plan
        self._size = {axis: len(levels) for axis, levels in plan.levels.items()}
        self._open: set[int] = set()
        self._cells = 1
        self._members: dict[tuple[int, ...], list[int]] = {}
        for node in mixed:
            self._members.setdefault(self._axes_of(node), []).append(node)
        self._acts = sorted((s, a) for s, a in plan.effects if s in plan.levels)
        self._incoming = dict.fromkeys(plan.levels, 0)
        self._outgoing = dict.fromkeys(plan.levels, 0)
        for axes in self._members:
            for axis in axes:
                self._incoming[axis] += 1
        for source, axis in self._acts:
            self._incoming[axis] += 1
            self._outgoing[source] += 1

    def _axes_of(self, node: int) -> tuple[int, ...]:
        net = self._plan.evidence.net
        return tuple(sorted({link.child for link in net.children[node]} & self._plan.levels.keys()))

    def run(self) -> None:
        """Lay down all steps."""
        for axis in sorted(self._plan.levels):
            if not self._incoming[axis] and not self._outgoing[axis]:
                self._open_axis(axis)
                self._close_done([axis])
        bunches = list(self._members)
        acts = list(self._acts)
        while bunches or acts:
            is_act, best = self._best(bunches, acts)
            if is_act:
                source, axis = best
                acts.remove((source, axis))
                self._act(source, axis)
            else:
                bunches.remove(best)
                self._mix(best)

    def _best(self, bunches: list[tuple[int, ...]], acts: list[tuple[int, int]]) -> tuple[bool, tuple[int, ...]]:
        ranked: list[tuple[int, int, int, tuple[int, ...]]] = []
        for axes in bunches:
            ranked.append((*self._after(axes, axes, ()), 0, axes))
        for source, axis in acts:
            if self._incoming[source] == 0:
                ranked.append((*self._after((source, axis), (axis,), (source,)), 1, (source, axis)))
        _, peak, is_act, best = min(ranked)
        if peak > MAX_TENSOR:
            raise TooWideError(
                f"{len(self._plan.ends)} of the signs seen hang together too closely to rank exactly ({peak} cells)",
                right="leave out signs that say the same thing twice",
            )
        self._plan.width = max(self._plan.width, peak)
        return bool(is_act), best

    def _after(self, needs: tuple[int, ...], served: tuple[int, ...], acted: tuple[int, ...]) -> tuple[int, int]:
        peak = self._cells
        for axis in needs:
            if axis not in self._open:
                peak *= self._size[axis]
        left = peak
        for axis in needs:
            incoming = self._incoming[axis] - (axis in served)
            outgoing = self._outgoing[axis] - (axis in acted)
            if not incoming and not outgoing:
                left //= self._size[axis]
        return left, peak

    def _open_axis(self, axis: int) -> None:
        if axis not in self._open:
            self._open.add(axis)
            self._cells *= self._size[axis]
            self._plan.steps.append(Step("open", axis))

    def _close_done(self, axes: Iterable[int]) -> None:
        for axis in axes:
            if axis in self._open and not self._incoming[axis] and not self._outgoing[axis]:
                self._open.discard(axis)
                self._cells //= self._size[axis]
                self._plan.steps.append(Step("close", axis))

    def _mix(self, axes: tuple[int, ...]) -> None:
        for axis in axes:
            self._open_axis(axis)
        for node in self._members[axes]:
            self._plan.steps.append(Step("mix", node, tuple(self._plan.effects[node, a] for a in axes)))
        for axis in axes:
            self._incoming[axis] -= 1
        self._close_done(axes)

    def _act(self, source: int, axis: int) -> None:
        self._open_axis(source)
        self._open_axis(axis)
        self._plan.steps.append(Step("act", source, (self._plan.effects[source, axis],)))
        self._outgoing[source] -= 1
        self._incoming[axis] -= 1
        self._close_done((source, axis))
