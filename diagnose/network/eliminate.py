"""Exact posteriors by summing the network out axis by axis, many variants of the evidence in one sweep.

A factor holds, for each of its axes, the worst contribution its causes have made so far. Two factors that share
an axis are joined by the law of the larger of two: exact in one and no worse in the other, or the other way
round. Once all contributions to a condition are joined it acts on its effects and is summed out. No term is
ever negative, so unlikely evidence costs no digits; each factor is rescaled and the logarithms kept. The way
back through the same steps gives the posterior of every node.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.network.evidence import Evidence, Variant
from diagnose.network.nodes import Array, steps
from diagnose.network.plan import Plan, make_plan

MAX_BATCH = 2**21


@dataclass
class Solved:
    """Results by variant: log evidence, and unnormalised state masses of each node in play.

    `mass[node]` has shape (variants, states); rows are proportional to the posterior, and both the absent
    and the present mass keep their full relative precision.
    """

    log_evidence: Array
    mass: dict[int, Array]

    def posterior(self, node: int, variant: int = 0) -> Array:
        """Posterior over the states of a node."""
        row = self.mass[node][variant]
        return np.asarray(row / row.sum())


def solve(evidence: Evidence, variants: Sequence[Variant], *, backward: bool = True,
          wanted: Collection[int] | None = None) -> Solved:
    """Solve all variants of the evidence; with `backward` false only the log evidence, and with `wanted` only the
    masses of those nodes (the way back leaves out every branch that holds none of them).

    Raises:
        TooWideError: the present signs hang together too closely; names how many cells it would take.
    """
    plan = make_plan(evidence, {n for v in variants for n, _ in v.factors}, {s for v in variants for s in v.drop})
    chunk = max(1, MAX_BATCH // plan.cells)
    parts = [_Pass(plan, variants[i : i + chunk], wanted).run(backward) for i in range(0, len(variants), chunk)]
    if len(parts) == 1:
        return parts[0]
    return Solved(
        np.concatenate([p.log_evidence for p in parts]),
        {node: np.concatenate([p.mass[node] for p in parts]) for node in parts[0].mass},
    )


@dataclass
class _Factor:
    """A table over some axes, first dimension the variant (or 1 where all variants agree).

    How it came about is kept for the way back: a bunch of faults, two factors joined, or an axis summed out.
    """

    axes: tuple[int, ...]
    table: Array
    bunch: _Bunch | None = None
    joined: tuple[_Factor, _Factor, tuple[int, ...]] | None = None
    summed: tuple[_Factor, int] | None = None
    leads: bool = False
    """Whether the way back through it leads to a node whose mass is wanted."""

    @property
    def made(self) -> bool:
        """Whether it was made of something that wants its posterior."""
        return self.bunch is not None or self.joined is not None or self.summed is not None


@dataclass
class _Bunch:
    """Faults that show on the same axes, taken in together.

    `own[f]` is each fault's cumulative contribution by variant and levels; `below[f]` the same by its state. States
    a fault does not have weigh nothing.
    """

    members: list[int]
    below: Array
    own: Array


class _Pass:
    """One sweep over the plan for a batch of variants."""

    def __init__(self, plan: Plan, variants: Sequence[Variant], wanted: Collection[int] | None) -> None:
        self._plan, self._variants = plan, variants
        self._net, self._evidence = plan.evidence.net, plan.evidence
        self._wanted = None if wanted is None else set(wanted)
        for node in reversed(plan.trailing):
            if self._wanted is not None and node in self._wanted:
                self._wanted.add(self._net.parents[node][0].parent)
        self._count = len(variants)
        self._log = np.zeros(self._count)
        self._weights = self._gather_weights()

    # -------------------------------------------------------------- weights

    def _gather_weights(self) -> dict[int, Array]:
        """Prior or likelihood of each node's states: one row for all variants, or a row a variant."""
        base: dict[int, Array] = {}
        for node in self._net.of_kind("fault", "unknown"):
            base[node] = np.ones(self._net.sizes[node]) if self._net.parents[node] else self._evidence.prior[node]
        for node, levels in self._plan.levels.items():
            if node not in base:
                base[node] = self._plan.ends.get(node, np.ones(len(levels)))
        dropped = {sign for v in self._variants for sign in v.drop}
        for folded in self._evidence.folded:
            if folded.sign not in dropped:
                self._log += np.log(folded.constant)
                for node, factor in folded.factors:
                    base[node] = base[node] * factor
        weights = {node: row[None, :] for node, row in base.items()}
        self._apply_variants(weights, dropped)
        return weights

    def _apply_variants(self, weights: dict[int, Array], dropped: set[int]) -> None:
        apart: set[int] = set()

        def rows(node: int) -> Array:
            if node not in apart:
                weights[node] = np.repeat(weights[node], self._count, axis=0)
                apart.add(node)
            return weights[node]

        for sign in sorted(dropped):
            folded = self._evidence.by_sign.get(sign)
            if folded is None:
                continue
            kept = np.array([sign not in v.drop for v in self._variants])
            self._log += np.where(kept, np.log(folded.constant), 0.0)
            for node, factor in folded.factors:
                rows(node)[kept] *= factor
            if folded.axis is not None:
                rows(sign)[~kept] = 1.0
        for i, variant in enumerate(self._variants):
            if variant.constant != 1.0:
                self._log[i] += np.log(variant.constant)
            for node, factor in variant.factors:
                rows(node)[i] *= factor

    # -------------------------------------------------------------- forward

    def run(self, backward: bool) -> Solved:
        """Sweep forward, and back for the posteriors."""
        mass: dict[int, Array] = {}
        for node in self._plan.alone:
            weights = self._weights[node]
            self._log += np.log(weights.sum(axis=1))
            if backward and self._wants(node):
                mass[node] = np.broadcast_to(weights, (self._count, weights.shape[1]))
        for last in self._eliminate():
            self._log += np.log(last.table)
            if backward and last.leads:
                self._go_back(last, np.ones(1), mass)
        if backward:
            for node in self._plan.trailing:
                if self._wants(node):
                    mass[node] = self._follow(node, mass)
        return Solved(self._log, mass)

    def _wants(self, node: int) -> bool:
        return self._wanted is None or node in self._wanted

    def _follow(self, node: int, mass: dict[int, Array]) -> Array:
        """A fault that only follows its one cause."""
        (link,) = self._net.parents[node]
        cause = mass[link.parent]
        return steps((cause @ link.table) * np.cumsum(self._evidence.prior[node]))

    def _eliminate(self) -> list[_Factor]:
        """Sum every axis out; returns what is left of each part of the network that hangs together."""
        waiting: dict[int, list[_Factor]] = {axis: [] for axis in self._plan.order}
        place = {axis: i for i, axis in enumerate(self._plan.order)}
        ends: list[_Factor] = []

        def put(factor: _Factor) -> None:
            if factor.axes:
                waiting[min(factor.axes, key=place.__getitem__)].append(factor)
            else:
                ends.append(factor)

        for axes, members in sorted(self._plan.bunches.items()):
            put(self._bunched(axes, members))
        for (source, axis), effect in sorted(self._plan.effects.items()):
            if source in self._plan.levels:
                table = effect.exact if source < axis else effect.exact.T
                put(_Factor((min(source, axis), max(source, axis)), table[None]))
        for axis in self._plan.order:
            put(self._summed_out(axis, waiting.pop(axis)))
        return ends

    def _bunched(self, axes: tuple[int, ...], members: list[int]) -> _Factor:
        sizes = [self._net.sizes[m] for m in members]
        levels = tuple(len(self._plan.levels[a]) for a in axes)
        below = np.ones((len(members), max(sizes), *levels))
        weights = np.zeros((len(members), max(len(self._weights[m]) for m in members), max(sizes)))
        for i, (member, size) in enumerate(zip(members, sizes, strict=True)):
            weights[i, :, :size] = self._weights[member]
            for at, axis in enumerate(axes):
                shape = (size, *(levels[at] if k == at else 1 for k in range(len(axes))))
                below[i, :size] *= self._plan.effects[member, axis].below.reshape(shape)
        own = (weights @ below.reshape(len(members), max(sizes), -1)).reshape(len(members), -1, *levels)
        top = own.reshape(*own.shape[:2], -1)[:, :, -1]
        self._log += np.log(top).sum(axis=0)
        own = own / top.reshape(top.shape + (1,) * len(axes))
        table = np.prod(own, axis=0)
        return _Factor(axes, _exact(table), bunch=_Bunch(members, below, own), leads=any(map(self._wants, members)))

    def _summed_out(self, axis: int, factors: list[_Factor]) -> _Factor:
        """Join all contributions to an axis, weigh it, let it act on its effects, and sum it out."""
        causes: list[_Factor] = []
        effects: list[_Factor] = []
        for factor in factors:
            acts = not factor.made and self._acts(axis, factor)
            (effects if acts else causes).append(factor)
        joined = _Factor((axis,), self._start(axis)[None])
        for factor in sorted(causes, key=lambda f: f.table.size):
            joined = self._join(joined, factor, state=None)
        weights = self._weights[axis]
        if not (weights == 1.0).all():
            joined = self._join(joined, _Factor((axis,), weights), state=axis)
        for factor in effects:
            joined = self._join(joined, factor, state=axis)
        spot = joined.axes.index(axis) + 1
        table = joined.table.sum(axis=spot)
        top = table.reshape(len(table), -1).max(axis=1)
        self._log += np.log(top)
        left = tuple(a for a in joined.axes if a != axis)
        return _Factor(left, table / top.reshape((-1,) + (1,) * (table.ndim - 1)), summed=(joined, axis),
                       leads=joined.leads or self._wants(axis))

    def _acts(self, axis: int, factor: _Factor) -> bool:
        """Whether a bare effect factor has this axis as its source."""
        other = factor.axes[0] if factor.axes[1] == axis else factor.axes[1]
        return (axis, other) in self._plan.effects

    def _start(self, axis: int) -> Array:
        """What an axis holds before any cause: its background, a caused fault's own onset, or a fault's states."""
        background = self._net.background[axis]
        if background is not None:
            return steps(background[self._plan.levels[axis]])
        return self._evidence.prior[axis] if self._net.parents[axis] else np.ones(self._net.sizes[axis])

    def _join(self, one: _Factor, two: _Factor, state: int | None) -> _Factor:
        """Join two factors: shared states multiply, shared contributions take the worse."""
        axes = tuple(sorted({*one.axes, *two.axes}))
        a, b = _spread(one.table, one.axes, axes), _spread(two.table, two.axes, axes)
        worse = tuple(axes.index(x) + 1 for x in axes
                      if x in one.axes and x in two.axes and x != state and x not in self._plan.wide)
        return _Factor(axes, _worse_of(a, b, worse), joined=(one, two, worse), leads=one.leads or two.leads)

    # -------------------------------------------------------------- backward

    def _go_back(self, factor: _Factor, back: Array, mass: dict[int, Array]) -> None:
        """Hand the derivative of the evidence down through the steps that made a factor."""
        todo = [(factor, back)]
        while todo:
            factor, back = todo.pop()
            if factor.summed is not None:
                inner, axis = factor.summed
                spot = inner.axes.index(axis) + 1
                back = np.expand_dims(back, spot)
                if self._wants(axis):
                    product = np.moveaxis(inner.table * back, spot, -1)
                    rows = product.reshape(product.shape[0], -1, product.shape[-1]).sum(axis=1)
                    mass[axis] = np.broadcast_to(rows, (self._count, rows.shape[1]))
                if inner.leads:
                    todo.append((inner, back))
            elif factor.joined is not None:
                one, two, worse = factor.joined
                a, b = _spread(one.table, one.axes, factor.axes), _spread(two.table, two.axes, factor.axes)
                if one.leads:
                    todo.append((one, _handed(_back_first(back, b, worse), one.axes, factor.axes)))
                if two.leads:
                    todo.append((two, _handed(_back_second(back, a, worse), two.axes, factor.axes)))
            elif factor.bunch is not None:
                self._bunch_masses(factor, back, mass)

    def _bunch_masses(self, factor: _Factor, back: Array, mass: dict[int, Array]) -> None:
        bunch = factor.bunch
        assert bunch is not None
        ones = np.ones_like(bunch.own[:1])
        before = np.concatenate([ones, np.cumprod(bunch.own[:-1], axis=0)])
        after = np.concatenate([np.cumprod(bunch.own[:0:-1], axis=0)[::-1], ones])
        rest = before * after  # all but each, without dividing
        exact = rest[:, :, None] * bunch.below[:, None]
        for axis in range(3, exact.ndim):
            exact = steps(exact, axis)
        product = np.maximum(exact, 0.0) * back[None, :, None]
        totals = product.reshape(*product.shape[:3], -1).sum(axis=3)
        for i, member in enumerate(bunch.members):
            if not self._wants(member):
                continue
            size = self._net.sizes[member]
            rows = self._weights[member] * totals[i, :, :size]
            mass[member] = np.broadcast_to(rows, (self._count, size))


# ------------------------------------------------------------------ on tables


def _exact(cumulative: Array) -> Array:
    """Exact chances from cumulative ones, along every dimension but the first."""
    for axis in range(1, cumulative.ndim):
        cumulative = steps(cumulative, axis)
    return np.maximum(cumulative, 0.0)


def _spread(table: Array, own: tuple[int, ...], axes: tuple[int, ...]) -> Array:
    """A table laid out over more axes, with length one where it has none."""
    if own == axes:
        return table
    sizes = iter(table.shape[1:])
    return table.reshape((table.shape[0], *(next(sizes) if a in own else 1 for a in axes)))


def _below(table: Array, axis: int) -> Array:
    """Cumulative along an axis, the level itself left out."""
    return np.asarray(np.add.accumulate(table, axis) - table)


def _above(table: Array, axis: int) -> Array:
    """Cumulative from the top along an axis, the level itself left out: the transpose of `_below`."""
    turn = (*(slice(None),) * axis, slice(None, None, -1))
    flipped = table[turn]
    return np.asarray((np.add.accumulate(flipped, axis) - flipped)[turn])


def _worse_of(a: Array, b: Array, axes: tuple[int, ...]) -> Array:
    """The law of the worse of two independent contributions along `axes`; plain product along the rest."""
    if not axes:
        return a * b
    axis, rest = axes[0], axes[1:]
    if not rest:
        return np.asarray(a * np.add.accumulate(b, axis) + _below(a, axis) * b)
    return _worse_of(a, np.add.accumulate(b, axis), rest) + _worse_of(_below(a, axis), b, rest)


def _back_first(back: Array, b: Array, axes: tuple[int, ...]) -> Array:
    """Derivative of `_worse_of` by its first argument, before the dimensions it lacks are summed."""
    if not axes:
        return back * b
    axis, rest = axes[0], axes[1:]
    return _back_first(back, np.add.accumulate(b, axis), rest) + _above(_back_first(back, b, rest), axis)


def _back_second(back: Array, a: Array, axes: tuple[int, ...]) -> Array:
    """Derivative of `_worse_of` by its second argument."""
    if not axes:
        return back * a
    axis, rest = axes[0], axes[1:]
    through = _back_second(back, a, rest)
    return through + _above(through, axis) + _back_second(back, _below(a, axis), rest)


def _handed(back: Array, own: tuple[int, ...], axes: tuple[int, ...]) -> Array:
    """A derivative summed over the axes its factor does not have, and rescaled."""
    lacking = tuple(i + 1 for i, a in enumerate(axes) if a not in own)
    return _rescaled(np.asarray(back.sum(axis=lacking)) if lacking else back)


def _rescaled(table: Array) -> Array:
    top = table.reshape(len(table), -1).max(axis=1)
    return np.asarray(table / top.reshape((-1,) + (1,) * (table.ndim - 1)))
