"""Networks of faults, unknown faults, conditions and signs, and the links between them.

Every node has ordered states, none first. The state of a node is the worst of what its background and
its parents contribute, each independently (noisy-MAX; Henrion 1989, Diez 1993). A link is a table of
cumulative chances: `table[p, g]` is P(contribution at most g | parent in state p); row 0 is all ones.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Kind = Literal["fault", "unknown", "condition", "sign"]

UNKNOWN_PROFILES = ((0.5, 0.05), (0.35, 0.2), (0.15, 0.5))
"""Share and strength of the three profiles of a fault this book does not know: it shows diffusely, at one
strength on every sign of its system, halved for each worse grade. See ranking in DEVELOPERS.md."""
UNKNOWN_TIMES = 8.0
"""It shows on no sign more often than this many times the sign's background: damage seen with the part in the hand
is hardly ever the work of a fault nobody has written down. Given it, signs are independent, so that at twenty times five signs of two
known faults were laid to it before those two; at eight the accounts in tests/outside come out a little better on every score."""


class Link(NamedTuple):
    """From a parent to a child: cumulative chances by parent state (rows) and child grade (columns).

    `exact` is the table as exact chances: P(contribution exactly g | parent in state p).
    """

    parent: int
    child: int
    table: Array
    exact: Array


@dataclass(frozen=True)
class Net:
    """The network of one arrangement. Indices run over faults, unknowns, conditions (causes first), signs."""

    ids: tuple[str, ...]
    kinds: tuple[Kind, ...]
    sizes: tuple[int, ...]
    background: tuple[Array | None, ...]
    """Cumulative chance of each grade from the background alone; None for faults, whose prior is the case's."""
    parents: tuple[tuple[Link, ...], ...]
    children: tuple[tuple[Link, ...], ...]
    index: Mapping[str, int] = field(default_factory=dict)

    def of_kind(self, *kinds: Kind) -> list[int]:
        """Indices of the nodes of some kinds, in order."""
        return [i for i, kind in enumerate(self.kinds) if kind in kinds]


def steps(cumulative: Array, axis: int = -1) -> Array:
    """Exact chances from cumulative ones along an axis."""
    out: Array = cumulative.copy()
    low = [slice(None)] * out.ndim
    high = list(low)
    low[axis], high[axis] = slice(None, -1), slice(1, None)
    out[tuple(high)] -= cumulative[tuple(low)]
    return out


def make_net(nodes: Iterable[tuple[str, Kind, int, Array | None]], links: Iterable[tuple[str, str, Array]]) -> Net:
    """A network from plain lists, in the order given; parents must come before their children.

    Raises:
        ValueError: a link points upward, or a table does not fit its ends.
    """
    ids, kinds, sizes, background = zip(*nodes, strict=True)
    index = {name: i for i, name in enumerate(ids)}
    parents: list[list[Link]] = [[] for _ in ids]
    children: list[list[Link]] = [[] for _ in ids]
    for parent, child, table in links:
        link = Link(index[parent], index[child], table, steps(table))
        if link.parent >= link.child:
            raise ValueError(f"{parent} does not come before {child}")
        if table.shape != (sizes[link.parent], sizes[link.child]):
            raise ValueError(f"the table of {parent} on {child} has the wrong shape")
        parents[link.child].append(link)
        children[link.parent].append(link)
    return Net(tuple(ids), tuple(kinds), tuple(sizes), tuple(background),
               tuple(map(tuple, parents)), tuple(map(tuple, children)), index)


def sign_id(symptom: str, state: str) -> str:
    """A symptom seen in one engine state is one sign."""
    return f"{symptom}@{state}"


def unknown_id(system: str) -> str:
    """The node that stands for the faults of a system that this book does not know."""
    return f"unknown:{system}"


def cumulative(worse: list[float]) -> Array:
    """P(at most g) for each grade from P(g or worse) of the grades above none."""
    return np.array([*(1.0 - p for p in worse), 1.0])
