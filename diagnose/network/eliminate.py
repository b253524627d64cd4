"""Exact posteriors by a frontier forward-backward pass, many variants of the evidence in one sweep.

The tensor holds, for each axis, the worst grade contributed so far. A fault is taken in by mixing over
its states; a condition, once all its causes are in, acts on its own effects and is summed out. Every term
is non-negative, so unlikely evidence costs no digits; masses are rescaled at each step and their logarithms
kept. An axis is open only between its first cause and its last, which keeps the tensor small.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from diagnose.errors import TooWideError
from diagnose.network.evidence import Evidence, Variant, is_flat, merged
from diagnose.network.nodes import Array, Net

MAX_TENSOR = 2**18
MAX_BATCH = 2**21


@dataclass
class Solved:
    """Results by variant: log evidence, and unnormalised state masses of each node asked about.

    `mass[node]` has shape (variants, states); rows are proportional to the posterior, and both the absent
    and the present mass keep their full relative precision.
    """

    log_evidence: Array
    mass: dict[int, Array]

    def posterior(self, node: int, variant: int = 0) -> Array:
        """Posterior over the states of a node."""
        row = self.mass[node][variant]
        return np.asarray(row / row.sum())


def solve(evidence: Evidence, variants: Sequence[Variant], *, backward: bool = True) -> Solved:
    """Solve all variants of the evidence.

    With `backward` false only the log evidence is computed.

    Raises:
        TooWideError: the present signs hang together too closely; names how many cells it would take.
    """
    plan = _Plan.of(evidence, variants)
    chunk = max(1, MAX_BATCH // plan.width)
    parts = [_Pass(plan, variants[i : i + chunk]).run(backward) for i in range(0, len(variants), chunk)]
    if len(parts) == 1:
        return parts[0]
    return Solved(
        np.concatenate([p.log_evidence for p in parts]),
        {node: np.concatenate([p.mass[node] for p in parts]) for node in parts[0].mass},
    )


# ------------------------------------------------------------------ what is done in which order


@dataclass(frozen=True, slots=True)
class _Effect:
    """What a source does to one open axis: cumulative chance and exact chance by source state and level."""

    axis: int
    below: Array
    exact: Array


@dataclass(frozen=True, slots=True)
class _Step:
    """Take in a source: a fault (its states are mixed), or an axis that is then summed out."""

    node: int
    closes: bool
    opens: tuple[int, ...]
    effects: tuple[_Effect, ...]


@dataclass
class _Plan:
    """The structure shared by all variants: axes, their levels, the steps, and what stands alone."""

    evidence: Evidence
    levels: dict[int, list[int]] = field(default_factory=dict)
    ends: dict[int, Array] = field(default_factory=dict)
    steps: list[_Step] = field(default_factory=list)
    alone: list[int] = field(default_factory=list)
    width: int = 1

    @classmethod
    def of(cls, evidence: Evidence, variants: Sequence[Variant]) -> _Plan:
        plan = cls(evidence)
        net = evidence.net
        touched = {n for f in evidence.folded for n, _ in f.factors} | {n for v in variants for n, _ in v.factors}
        plan._find_axes(net, touched)
        plan._find_steps(net)
        return plan

    def _find_axes(self, net: Net, touched: set[int]) -> None:
        for folded in self.evidence.folded:
            if folded.axis is not None:
                self.levels[folded.sign], self.ends[folded.sign] = merged(folded.axis)
        for node in reversed(net.of_kind("condition")):
            if node in touched or any(link.child in self.levels for link in net.children[node]):
                self.levels[node] = list(range(net.sizes[node]))
        caused = [n for n in reversed(net.of_kind("fault")) if net.parents[n]]
        for node in caused:
            if node in touched or any(link.child in self.levels for link in net.children[node]):
                self.levels[node] = list(range(net.sizes[node]))
        # a caused fault without evidence still follows its cause
        for node in reversed(caused):
            if node not in self.levels:
                self.levels[node] = list(range(net.sizes[node]))

    def _find_steps(self, net: Net) -> None:
        roots = [n for n in net.of_kind("fault", "unknown") if n not in self.levels]
        reach = {n: frozenset(link.child for link in net.children[n] if link.child in self.levels)
                 for n in (*roots, *self.levels)}
        self.alone = [n for n in roots if not reach[n]]
        groups: dict[frozenset[int], list[int]] = {}
        for n in roots:
            if reach[n]:
                groups.setdefault(reach[n], []).append(n)
        sources: dict[tuple[int, ...], frozenset[int]] = {tuple(members): axes for axes, members in groups.items()}
        for axis in self.levels:
            sources[(axis,)] = reach[axis]
        self._order(net, sources)

    def _order(self, net: Net, sources: dict[tuple[int, ...], frozenset[int]]) -> None:
        """Greedy: next the source that leaves the smallest tensor; a tie goes to the smaller index."""
        in_play = {node for group in sources for node in group}
        waiting = {axis: {link.parent for link in net.parents[axis]} & in_play for axis in self.levels}
        size = {axis: len(levels) for axis, levels in self.levels.items()}
        opened: set[int] = set()
        todo = dict(sources)
        while todo:
            best: tuple[float, float, tuple[int, ...]] | None = None
            for group, axes in todo.items():
                if waiting.get(group[0]):
                    continue
                own = {group[0]} & size.keys()
                peak = float(np.prod([size[a] for a in opened | axes | own], dtype=float))
                rank = (peak / size[group[0]] if own else peak, peak, group)
                if best is None or rank < best:
                    best = rank
            assert best is not None
            _, peak, group = best
            if peak > MAX_TENSOR:
                raise TooWideError(
                    f"{len(self.ends)} of the signs seen hang together too closely to rank exactly ({peak:.0f} cells)",
                    right="leave out signs that say the same thing twice",
                )
            self.width = max(self.width, int(peak))
            axes = todo.pop(group)
            for node in group:
                opens = tuple(sorted((axes | ({node} if node in size else set())) - opened))
                opened |= set(opens)
                self.steps.append(_Step(node, node in size, opens, self._effects(net, node)))
                for axis in axes:
                    waiting[axis].discard(node)
                if node in size:
                    opened.discard(node)

    def _effects(self, net: Net, node: int) -> tuple[_Effect, ...]:
        merged_links: dict[int, Array] = {}
        for link in net.children[node]:
            if link.child in self.levels:
                below = link.table[:, self.levels[link.child]]
                merged_links[link.child] = merged_links.get(link.child, 1.0) * below
        return tuple(_Effect(axis, below, np.diff(below, prepend=0.0, axis=1)) for axis, below in sorted(merged_links.items()))


# ------------------------------------------------------------------ the pass itself


class _Pass:
    """One sweep over the plan for a batch of variants. The first tensor dimension is the variant."""

    def __init__(self, plan: _Plan, variants: Sequence[Variant]) -> None:
        self._plan, self._variants = plan, variants
        self._net, self._evidence = plan.evidence.net, plan.evidence
        self._count = len(variants)
        self._log = np.zeros(self._count)
        self._weights = self._gather_weights()
        self._open: list[int] = []

    def _gather_weights(self) -> dict[int, Array]:
        """Prior or likelihood of each node's states, by variant."""
        weights: dict[int, Array] = {}
        for node in self._net.of_kind("fault", "unknown"):
            own = self._evidence.prior[node] if node not in self._plan.levels else np.ones(self._net.sizes[node])
            weights[node] = np.tile(own, (self._count, 1))
        for node in self._plan.levels:
            if node not in weights:
                size = len(self._plan.levels[node])
                weights[node] = np.tile(self._plan.ends.get(node, np.ones(size)), (self._count, 1))
        for folded in self._evidence.folded:
            kept = np.array([folded.sign not in v.drop for v in self._variants])
            self._log += np.where(kept, np.log(folded.constant), 0.0)
            for node, factor in folded.factors:
                weights[node] *= np.where(kept[:, None], factor, 1.0)
            if folded.axis is not None and not kept.all():
                weights[folded.sign][~kept] = 1.0
        for i, variant in enumerate(self._variants):
            self._log[i] += np.log(variant.constant)
            for node, factor in variant.factors:
                weights[node][i] *= factor
        return weights

    def run(self, backward: bool) -> Solved:
        mass: dict[int, Array] = {}
        for node in self._plan.alone:
            mass[node] = self._weights[node]
            self._log += np.log(mass[node].sum(axis=1))
        tensor = np.ones(self._count)
        before: list[Array] = []
        spots: list[list[int]] = []
        for step in self._plan.steps:
            for axis in step.opens:
                tensor = tensor[..., None] * self._start(axis)
                self._open.append(axis)
            before.append(tensor)
            spots.append(list(self._open))
            tensor = self._take_in(step, tensor)
            tensor = self._rescale(tensor)
        self._log += np.log(tensor)
        if backward:
            self._sweep_back(before, spots, mass)
        return Solved(self._log, mass)

    def _start(self, axis: int) -> Array:
        background = self._net.background[axis]
        if background is None:
            return self._evidence.prior[axis]
        return np.diff(background[self._plan.levels[axis]], prepend=0.0)

    def _rescale(self, tensor: Array) -> Array:
        top = tensor.reshape(self._count, -1).max(axis=1)
        self._log += np.log(top)
        return np.asarray(tensor / top.reshape((-1,) + (1,) * (tensor.ndim - 1)))

    def _take_in(self, step: _Step, tensor: Array) -> Array:
        weights = self._weights[step.node]
        if step.closes:
            spot = self._open.index(step.node)
            self._open.pop(spot)
            slices = np.moveaxis(tensor, spot + 1, 0)
        total: Array | None = None
        for state in range(weights.shape[1]):
            part = slices[state] if step.closes else tensor
            if state > 0:
                for effect in step.effects:
                    part = _worsen(part, self._open.index(effect.axis) + 1, effect.below[state], effect.exact[state])
            part = part * weights[:, state].reshape((-1,) + (1,) * (part.ndim - 1))
            total = part if total is None else total + part
        assert total is not None
        return total

    def _sweep_back(self, before: list[Array], spots: list[list[int]], mass: dict[int, Array]) -> None:
        back = np.ones(self._count)
        for step, tensor, axes in zip(reversed(self._plan.steps), reversed(before), reversed(spots), strict=True):
            weights = self._weights[step.node]
            inner = [a for a in axes if not (step.closes and a == step.node)]
            parts = []
            for state in range(weights.shape[1]):
                part = back
                if state > 0:
                    for effect in reversed(step.effects):
                        part = _worsen_back(part, inner.index(effect.axis) + 1, effect.below[state], effect.exact[state])
                parts.append(part * weights[:, state].reshape((-1,) + (1,) * (part.ndim - 1)))
            if step.closes:
                spot = axes.index(step.node)
                back = np.moveaxis(np.stack(parts), 0, spot + 1)
                product = np.moveaxis(tensor * back, spot + 1, 1)
                mass[step.node] = product.reshape(self._count, product.shape[1], -1).sum(axis=2)
            else:
                mass[step.node] = np.stack([(tensor * p).reshape(self._count, -1).sum(axis=1) for p in parts], axis=1)
                back = np.sum(parts, axis=0)
            for axis in reversed(step.opens):  # they were put last
                back = (back * self._start(axis)).sum(axis=-1)
            top = back.reshape(self._count, -1).max(axis=1)
            back = back / top.reshape((-1,) + (1,) * (back.ndim - 1))


def _worsen(tensor: Array, axis: int, below: Array, exact: Array) -> Array:
    """Take the worse of what an axis holds and one more contribution."""
    last = np.moveaxis(tensor, axis, -1)
    out = last * below
    out[..., 1:] += np.cumsum(last, axis=-1)[..., :-1] * exact[1:]
    return np.moveaxis(out, -1, axis)


def _worsen_back(tensor: Array, axis: int, below: Array, exact: Array) -> Array:
    """The transpose of `_worsen`."""
    last = np.moveaxis(tensor, axis, -1)
    out = last * below
    weighted = (last * exact)[..., ::-1]
    out[..., :-1] += np.cumsum(weighted, axis=-1)[..., -2::-1]
    return np.moveaxis(out, -1, axis)
