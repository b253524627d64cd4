"""The next look: what each open look is worth, in minutes, against what it costs.

V(belief) is the least expected cost over leaving, leaving with limits, or staying, each with the best (at
most two) repairs done first. It is a minimum of functions linear in the belief, so a look never has negative
value. Looks compete singly and in bundles that share a set-up; the best member of the best bundle comes first,
and the whole is planned again after each result (greedy single looks lose more than twice as much; measured
against the exhaustive policy in tests).
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from diagnose.network.nodes import Array

MAX_BUNDLE = 4
EPSILON = 1e-9


@dataclass(frozen=True)
class Option:
    """A look that can be made now: its own minutes, penalties included, and the set-ups it needs."""

    id: str
    minutes: float
    setups: frozenset[str] = frozenset()
    discount: float = 1.0


@dataclass(frozen=True)
class Loss:
    """What the decision costs, in minutes, as a function of the belief.

    `base[a]` is the fixed cost of action a; `weight[a, d]` the cost of feature d (a fault in a stage) left
    alone under it; `repair[j]` the minutes of job j (infinite where it cannot be done under an action:
    `allowed[a, j]`), and `cures[j, d]` whether it removes feature d. Jobs cure different features.
    """

    base: Array
    weight: Array
    repair: Array
    cures: Array
    allowed: Array

    def least(self, total: Array, features: Array) -> Array:
        """V for each row, in proportion to the row's total chance.

        Args:
            total: chance of each row, shape (rows,).
            features: chance of the row and the feature together, shape (rows, features).
        """
        costs = []
        for base, weight, allowed in zip(self.base, self.weight, self.allowed, strict=True):
            risk = features * weight
            if not np.isfinite(base):
                continue
            cost = base * total + risk.sum(axis=1)
            if self.repair.size:
                saved = np.where(allowed, risk @ self.cures.T - self.repair * total[:, None], 0.0)
                saved = np.sort(np.maximum(saved, 0.0), axis=1)[:, ::-1][:, :2]
                cost = cost - saved.sum(axis=1)
            costs.append(cost)
        return np.asarray(np.min(costs, axis=0))


Outcomes = Callable[[Sequence[tuple[Option, ...]]], list[tuple[Array, Array]]]
"""For sets of looks, the rows of their results: chance, and chance with each feature."""


@dataclass(frozen=True)
class Worth:
    """What one set of looks is worth [min]: expected saving, cost with set-ups, and what is left over."""

    options: tuple[Option, ...]
    value: float
    cost: float

    @property
    def net(self) -> float:
        return self.value - self.cost


def lead(singles: Sequence[Worth], bundle: Worth | None) -> tuple[Worth, tuple[Option, ...]] | None:
    """The single look to make first, and those best made together with it: the best member of a bundle that beats
    every single look, else the best single look; None when none pays."""
    paying = [w for w in singles if w.net > EPSILON]
    best = max(paying, key=lambda w: (w.net, w.options[0].id), default=None)
    if bundle is not None and (best is None or bundle.net > best.net + EPSILON):
        members = sorted((w for w in singles if w.options[0] in bundle.options), key=lambda w: (-w.net, w.options[0].id))
        return members[0], tuple(w.options[0] for w in members[1:])
    return (best, ()) if best is not None else None


@dataclass
class Inquiry:
    """Looks, what they may show, and the loss: answers which look comes next."""

    options: Sequence[Option]
    loss: Loss
    outcomes: Outcomes
    opened: frozenset[str] = frozenset()
    setup_minutes: Mapping[str, float] = field(default_factory=dict)
    most_bundles: int = 1000
    most_members: int = 1000

    def cost(self, options: Sequence[Option]) -> float:
        """Minutes of a set of looks, shared set-ups paid once."""
        needed = frozenset(itertools.chain.from_iterable(o.setups for o in options)) - self.opened
        return sum(o.minutes for o in options) + sum(self.setup_minutes.get(s, 0.0) for s in sorted(needed))

    def worth(self, sets: Sequence[tuple[Option, ...]]) -> list[Worth]:
        """The worth of each set of looks, all asked at once."""
        if not sets:
            return []
        found = []
        for options, (total, features) in zip(sets, self.outcomes(sets), strict=True):
            before = self.loss.least(total.sum(keepdims=True), features.sum(axis=0, keepdims=True))[0]
            after = self.loss.least(total, features).sum()
            discount = min((o.discount for o in options), default=1.0)
            value = max(0.0, float(before - after)) * discount / max(float(total.sum()), 1e-300)
            found.append(Worth(options, round(value, 6), self.cost(options)))
        return found

    def ranked(self) -> tuple[list[Worth], Worth | None]:
        """All single looks by worth per minute, and the best bundle if it beats every single look."""
        singles = self.worth([(o,) for o in self.options])
        best = max(singles, key=lambda w: (w.net, w.options[0].id), default=None)
        bundle = self._best_bundle(singles)
        if bundle is not None and best is not None and bundle.net <= max(best.net, 0.0) + EPSILON:
            bundle = None
        ordered = sorted(singles, key=lambda w: (w.net <= EPSILON, -w.net / max(w.cost, 0.5), w.options[0].id))
        return ordered, bundle

    def next(self) -> Worth | None:
        """The look to make now (with the bundle it opens), or None when no look pays."""
        singles, bundle = self.ranked()
        chosen = lead(singles, bundle)
        if chosen is None:
            return None
        first, partners = chosen
        return Worth((first.options[0], *partners), bundle.value, bundle.cost) if bundle is not None and partners else first

    def _best_bundle(self, singles: Sequence[Worth]) -> Worth | None:
        """Grow a bundle in each closure of set-ups, and in each union of two, by the best next member."""
        best: Worth | None = None
        for inside in self._closures(singles):
            bundle: tuple[Option, ...] = ()
            while inside and len(bundle) < MAX_BUNDLE:
                grown = self.worth([(*bundle, o) for o in inside]) if bundle else \
                    [w for w in singles if w.options[0] in inside]
                top = max(grown, key=lambda w: (w.net, w.options[-1].id))
                if bundle and best is not None and top.net < best.net - top.cost:
                    break
                bundle = top.options
                inside = [o for o in inside if o not in bundle]
                if len(bundle) > 1 and (best is None or top.net > best.net + EPSILON):
                    best = top
        return best

    def _closures(self, singles: Sequence[Worth]) -> list[list[Option]]:
        by_value = {w.options[0]: w.value for w in singles}
        sets = {o.setups | self.opened for o in self.options}
        sets |= {a | b for a, b in itertools.combinations(sets, 2)}
        groups = {tuple(o for o in self.options if o.setups <= s) for s in sets}
        worthwhile = [sorted(g, key=lambda o: (-by_value[o], o.id))[: self.most_members] for g in groups if len(g) > 1]
        worthwhile.sort(key=lambda g: (-sum(by_value[o] for o in g), [o.id for o in g]))
        return worthwhile[: self.most_bundles]
