"""Exact posteriors by a frontier forward-backward pass, many variants of the evidence in one sweep.

The tensor holds, for each open axis, the worst grade contributed so far. A fault is taken in by mixing over
its states; a condition, once all its causes are in, acts on its own effects and is summed out. No term is
negative, so unlikely evidence costs no digits; masses are rescaled at each step and their logarithms kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.network.evidence import Evidence, Variant
from diagnose.network.nodes import Array
from diagnose.network.plan import Effect, Plan, Step, make_plan

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
    """Solve all variants of the evidence; with `backward` false only the log evidence.

    Raises:
        TooWideError: the present signs hang together too closely; names how many cells it would take.
    """
    plan = make_plan(evidence, {n for v in variants for n, _ in v.factors}, {s for v in variants for s in v.drop})
    chunk = max(1, MAX_BATCH // plan.width)
    parts = [_Pass(plan, variants[i : i + chunk]).run(backward) for i in range(0, len(variants), chunk)]
    if len(parts) == 1:
        return parts[0]
    return Solved(
        np.concatenate([p.log_evidence for p in parts]),
        {node: np.concatenate([p.mass[node] for p in parts]) for node in parts[0].mass},
    )


@dataclass
class _Group:
    """The faults whose only axis is this one, taken in together.

    `own[f]` is each fault's cumulative contribution by variant and level; `rest[f]` that of all the others.
    """

    members: list[int]
    below: Array
    own: Array
    joint: Array

    @property
    def exact(self) -> Array:
        return np.diff(self.joint, prepend=0.0, axis=1)

    def rest(self) -> Array:
        """Product of all but each, by prefix and suffix, so that nothing is divided."""
        ones = np.ones_like(self.own[:1])
        before = np.concatenate([ones, np.cumprod(self.own[:-1], axis=0)])
        after = np.concatenate([np.cumprod(self.own[:0:-1], axis=0)[::-1], ones])
        return before * after


class _Pass:
    """One sweep over the plan for a batch of variants. The first tensor dimension is the variant."""

    def __init__(self, plan: Plan, variants: Sequence[Variant]) -> None:
        self._plan, self._variants = plan, variants
        self._net, self._evidence = plan.evidence.net, plan.evidence
        self._count = len(variants)
        self._log = np.zeros(self._count)
        self._weights = self._gather_weights()
        self._open: list[int] = []
        self._groups: dict[int, _Group] = {}

    # -------------------------------------------------------------- weights

    def _gather_weights(self) -> dict[int, Array]:
        """Prior or likelihood of each node's states: one row for all variants, or a row a variant."""
        caused = {n for n in self._net.of_kind("fault") if self._net.parents[n]}
        base: dict[int, Array] = {}
        for node in self._net.of_kind("fault", "unknown"):
            base[node] = np.ones(self._net.sizes[node]) if node in caused else self._evidence.prior[node]
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
                weights[node] = np.tile(weights[node], (self._count, 1))
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
            self._log[i] += np.log(variant.constant)
            for node, factor in variant.factors:
                rows(node)[i] *= factor

    # -------------------------------------------------------------- forward

    def run(self, backward: bool) -> Solved:
        """Sweep forward, and back for the posteriors."""
        mass: dict[int, Array] = {}
        for node in self._plan.alone:
            self._log += np.log(self._weights[node].sum(axis=1))
            if backward:
                mass[node] = np.broadcast_to(self._weights[node], (self._count, self._net.sizes[node]))
        tensor = np.ones(self._count)
        before: list[Array] = []
        spots: list[tuple[int, ...]] = []
        for step in self._plan.steps:
            before.append(tensor)
            spots.append(tuple(self._open))
            tensor = self._forward(step, tensor)
            if step.do in ("mix", "close"):
                tensor = self._rescaled(tensor)
        self._log += np.log(tensor)
        if backward:
            self._sweep_back(before, spots, mass)
        return Solved(self._log, mass)

    def _forward(self, step: Step, tensor: Array) -> Array:
        if step.do == "open":
            self._open.append(step.node)
            tensor = tensor[..., None] * self._start(step.node)
            group = self._group(step.node)
            if group is not None:
                tensor = _worsen(tensor, tensor.ndim - 1, _spread(group.joint, tensor.ndim), _spread(group.exact, tensor.ndim))
            return tensor
        if step.do == "mix":
            return self._mixed(step, tensor)
        spot = self._open.index(step.node) + 1
        if step.do == "act":
            effect = step.effects[0]
            return _act(tensor, spot, self._open.index(effect.axis) + 1, effect, _worsen)
        self._open.remove(step.node)
        return np.asarray((tensor * self._shaped(step.node, tensor.ndim, spot)).sum(axis=spot))

    def _start(self, axis: int) -> Array:
        """What an axis holds before any cause: its background, a caused fault's own onset, or a fault's states."""
        background = self._net.background[axis]
        if background is not None:
            return np.diff(background[self._plan.levels[axis]], prepend=0.0)
        return self._evidence.prior[axis] if self._net.parents[axis] else np.ones(self._net.sizes[axis])

    def _group(self, axis: int) -> _Group | None:
        members = self._plan.groups.get(axis)
        if not members:
            return None
        if axis not in self._groups:
            states = max(self._net.sizes[m] for m in members)
            weights = np.zeros((len(members), self._count, states))
            below = np.zeros((len(members), states, len(self._plan.levels[axis])))
            for i, member in enumerate(members):
                weights[i, :, : self._net.sizes[member]] = self._weights[member]
                below[i, : self._net.sizes[member]] = self._plan.effects[member, axis].below
            own = weights @ below
            top = own[:, :, -1:]
            self._log += np.log(top[:, :, 0]).sum(axis=0)  # keep the product near one
            own = own / top
            self._groups[axis] = _Group(members, below, own, np.prod(own, axis=0))
        return self._groups[axis]

    def _mixed(self, step: Step, tensor: Array) -> Array:
        weights = self._weights[step.node]
        total = tensor * _column(weights[:, 0], tensor.ndim)
        for state in range(1, weights.shape[1]):
            part = tensor
            for effect in step.effects:
                part = _worsen(part, self._open.index(effect.axis) + 1, effect.below[state], effect.exact[state])
            total = total + part * _column(weights[:, state], part.ndim)
        return total

    def _shaped(self, node: int, ndim: int, spot: int) -> Array:
        """Weights of an axis, laid along its place in the tensor."""
        weights = self._weights[node]
        return weights.reshape((len(weights),) + tuple(weights.shape[1] if d == spot else 1 for d in range(1, ndim)))

    def _rescaled(self, tensor: Array) -> Array:
        top = tensor.reshape(self._count, -1).max(axis=1)
        self._log += np.log(top)
        return np.asarray(tensor / _column(top, tensor.ndim))

    # -------------------------------------------------------------- backward

    def _sweep_back(self, before: list[Array], spots: list[tuple[int, ...]], mass: dict[int, Array]) -> None:
        back = np.ones(self._count)
        for step, tensor, axes in zip(reversed(self._plan.steps), reversed(before), reversed(spots), strict=True):
            if step.do == "open":
                back = self._back_open(step.node, tensor, back, mass)
            elif step.do == "mix":
                back = self._back_mixed(step, tensor, back, axes, mass)
            elif step.do == "act":
                effect = step.effects[0]
                back = _act(back, axes.index(step.node) + 1, axes.index(effect.axis) + 1, effect, _worsen_back)
            else:
                spot = axes.index(step.node) + 1
                back = np.expand_dims(back, spot) * self._shaped(step.node, tensor.ndim, spot)
                product = np.moveaxis(tensor * back, spot, 1)
                mass[step.node] = product.reshape(self._count, product.shape[1], -1).sum(axis=2)
            if step.do in ("mix", "close"):
                top = back.reshape(self._count, -1).max(axis=1)
                back = back / _column(top, back.ndim)

    def _back_open(self, node: int, tensor: Array, back: Array, mass: dict[int, Array]) -> Array:
        start = self._start(node)
        group = self._groups.get(node)
        if group is None:
            return np.asarray((back * start).sum(axis=-1))
        opened = tensor[..., None] * start
        earlier = np.cumsum(opened, axis=-1) - opened
        levels = len(start)
        here = (opened * back).reshape(self._count, -1, levels).sum(axis=1)
        raised = (earlier * back).reshape(self._count, -1, levels).sum(axis=1)
        rest = group.rest()
        for i, member in enumerate(group.members):
            size = self._net.sizes[member]
            joint = rest[i][:, None, :] * group.below[i][None, :size, :]
            exact = np.diff(joint, prepend=0.0, axis=2)
            mass[member] = self._weights[member] * (joint * here[:, None, :] + exact * raised[:, None, :]).sum(axis=2)
        back = _worsen_back(back, back.ndim - 1, _spread(group.joint, back.ndim), _spread(group.exact, back.ndim))
        return np.asarray((back * start).sum(axis=-1))

    def _back_mixed(self, step: Step, tensor: Array, back: Array, axes: tuple[int, ...], mass: dict[int, Array]) -> Array:
        weights = self._weights[step.node]
        total = back * _column(weights[:, 0], back.ndim)
        masses = [(tensor * total).reshape(self._count, -1).sum(axis=1)]
        for state in range(1, weights.shape[1]):
            part = back
            for effect in reversed(step.effects):
                part = _worsen_back(part, axes.index(effect.axis) + 1, effect.below[state], effect.exact[state])
            part = part * _column(weights[:, state], part.ndim)
            masses.append((tensor * part).reshape(self._count, -1).sum(axis=1))
            total = total + part
        mass[step.node] = np.stack(masses, axis=1)
        return total


# ------------------------------------------------------------------ on tensors


def _column(values: Array, ndim: int) -> Array:
    """One value a variant, laid along the first dimension."""
    return values.reshape((-1,) + (1,) * (ndim - 1))


def _spread(values: Array, ndim: int) -> Array:
    """One row a variant, laid along the first and the last dimension."""
    return values.reshape((values.shape[0],) + (1,) * (ndim - 2) + (values.shape[1],))


def _worsen(tensor: Array, axis: int, below: Array, exact: Array) -> Array:
    """Take the worse of what an axis holds and one more contribution."""
    last = np.moveaxis(tensor, axis, -1)
    out = last * below
    out[..., 1:] += np.cumsum(last, axis=-1)[..., :-1] * exact[..., 1:]
    return np.moveaxis(out, -1, axis)


def _worsen_back(tensor: Array, axis: int, below: Array, exact: Array) -> Array:
    """The transpose of `_worsen`."""
    last = np.moveaxis(tensor, axis, -1)
    out = last * below
    out[..., :-1] += np.cumsum((last * exact)[..., ::-1], axis=-1)[..., -2::-1]
    return np.moveaxis(out, -1, axis)


def _act(tensor: Array, source: int, axis: int, effect: Effect, worsen) -> Array:  # type: ignore[no-untyped-def]
    """Let each state of one axis worsen another."""
    slices = np.moveaxis(tensor, source, 0)
    inner = axis if axis < source else axis - 1
    out = [slices[0]]
    out += [worsen(slices[state], inner, effect.below[state], effect.exact[state]) for state in range(1, len(slices))]
    return np.moveaxis(np.stack(out), 0, source)
