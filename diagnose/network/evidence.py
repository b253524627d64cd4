"""What was reported, as likelihoods on signs, folded into the nodes above wherever that is exact.

A likelihood says, for each true grade of a sign, how probable the report was; its size does not matter.
Three kinds fold: a sign seen at most at some grade (the noisy-MAX is a product there), a sign with one
live parent, and a sign with none. Only the rest keep an axis of their own in the elimination.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from diagnose.network.nodes import Array, Net, steps


@dataclass(frozen=True)
class Folded:
    """One sign's evidence: factors on the nodes above it, a constant, or an axis where it does not fold."""

    sign: int
    factors: tuple[tuple[int, Array], ...] = ()
    constant: float = 1.0
    axis: Array | None = None


@dataclass(frozen=True)
class Variant:
    """A change to the evidence, to be solved beside the evidence itself in one pass.

    `drop` leaves out signs; `factors` multiplies the states of nodes; `constant` multiplies the whole.
    """

    drop: frozenset[int] = frozenset()
    factors: tuple[tuple[int, Array], ...] = ()
    constant: float = 1.0


PLAIN = Variant()


@dataclass(frozen=True)
class Evidence:
    """All evidence of a case on one network: priors of the faults and what was folded."""

    net: Net
    prior: Mapping[int, Array]
    folded: tuple[Folded, ...] = ()
    by_sign: Mapping[int, Folded] = field(default_factory=dict)


def gather(net: Net, prior: Mapping[int, Array], likelihoods: Mapping[int, Array]) -> Evidence:
    """Fold the likelihood of every sign. Signs whose likelihood is flat say nothing and are left out."""
    folded = tuple(fold(net, sign, likelihoods[sign]) for sign in sorted(likelihoods) if not is_flat(likelihoods[sign]))
    return Evidence(net, prior, folded, {f.sign: f for f in folded})


def is_flat(likelihood: Array) -> bool:
    """Whether a likelihood says nothing: it is the same for every state."""
    return bool(np.all(likelihood == likelihood[0]))


def at_most(likelihood: Array) -> int | None:
    """The grade g if the likelihood is constant up to g and zero above, else None."""
    top = int(np.max(np.nonzero(likelihood)[0]))
    return top if bool(np.all(likelihood[: top + 1] == likelihood[0])) else None


def fold(net: Net, sign: int, likelihood: Array) -> Folded:
    """Push the likelihood of a sign into its parents where that is exact."""
    background = net.background[sign]
    assert background is not None
    parents = net.parents[sign]
    top = at_most(likelihood)
    if top is not None:
        factors = tuple((link.parent, link.table[:, top]) for link in parents)
        return Folded(sign, factors, float(background[top] * likelihood[0]))
    if not parents:
        return Folded(sign, (), float(steps(background) @ likelihood))
    if len(parents) == 1:
        mixed = steps(background * parents[0].table) @ likelihood
        return Folded(sign, ((parents[0].parent, mixed),))
    return Folded(sign, axis=likelihood)


def merged(likelihood: Array, *, whole: bool = False) -> tuple[list[int], Array]:
    """The grades that need not be told apart, merged: last grade of each block, and its likelihood.

    Grades above the last possible one are dropped, unless the `whole` scale is asked for.
    """
    last = len(likelihood) - 1 if whole else int(np.max(np.nonzero(likelihood)[0]))
    tops = [g for g in range(last + 1) if g == last or likelihood[g + 1] != likelihood[g]]
    return tops, likelihood[tops]
