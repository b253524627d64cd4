"""The network of before some work beside that of now: faults that were not cured stand in both.

What was seen before the work speaks of how things were then. Faults that the work cured were there then in their own right; the
conditions, which have no memory, are drawn anew; every other fault that was there is there still, and a cured one only where the work
did not hold. So what was seen then goes on speaking for and against the faults that are left, with the cured ones to explain it, and of
what the work itself may have brought on it says nothing. (Two slices of a dynamic network: Dean and Kanazawa 1989.)
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from diagnose.network.nodes import Array, Kind, Link, Net, steps

NOT_NOTICED = 0.1
"""How often a fault that was there is not among those told of, when it is told what the work found."""
NOT_CURED = 0.05
"""How often work does not hold, so that the fault it was for is there still (from memory: one repair in twenty is done again)."""
NOT_SO = 5e-5
"""How often a fault that was not there is named as found for certain: one finding in fifty is mistaken (from memory), and falls on one
of some four hundred faults."""
_OF_THEN, _FOUND = "before the work: ", "found: "


@dataclass(frozen=True)
class Past:
    """What is known of before the work.

    Attributes:
        cured: faults that the work cured, each with its chances of then (absent, and each stage) and those of having begun since.
        anew: faults that the work may have brought on, each with its chances of then, and those of having been brought on.
        signs: what was seen then, by sign, as likelihoods over its grades.
        found: of cured faults, whether the work found them; of others, those that were found and left.
    """

    cured: Mapping[str, tuple[Array, Array]]
    anew: Mapping[str, tuple[Array, Array]]
    signs: Mapping[str, Array]
    found: Mapping[str, bool]

    def left(self) -> Past:
        """Only what was found and is there still."""
        return Past({}, {}, {}, {fault: True for fault in self.found if fault not in self.cured})

    @property
    def told(self) -> dict[str, Array]:
        """The evidence of then, by the nodes that `beside` adds."""
        seen = {then(sign): likelihood for sign, likelihood in self.signs.items()}
        was_found, was_not = np.array([NOT_SO, 1.0 - NOT_NOTICED]), np.array([1.0, NOT_NOTICED])
        return seen | {_found(fault): was_found if was else was_not for fault, was in self.found.items()}

    @property
    def priors(self) -> dict[str, Array]:
        """Priors by node: of faults of then, and of faults of now whose prior is another beside them."""
        both = {**self.anew, **self.cured}
        return {then(fault): before for fault, (before, _) in both.items()} | {fault: since for fault, (_, since) in both.items()}


def then(name: str) -> str:
    """What a node of now was before the work."""
    return f"{_OF_THEN}{name}"


def is_of_then(name: str) -> bool:
    """Whether a node, by its id, tells of before the work."""
    return name.startswith((_OF_THEN, _FOUND))


def _found(fault: str) -> str:
    return f"{_FOUND}{fault}"


def beside(net: Net, past: Past) -> Net:
    """A network with that of before the work beside it.

    Args:
        net: of now.
        past: what is known of before; what this boat has not is passed over.
    """
    return _Beside(net, past).net()


class _Beside:
    def __init__(self, net: Net, past: Past) -> None:
        self._net, self._past = net, past
        above = _above(net, [net.index[s] for s in past.signs if s in net.index])
        self._cured = {net.index[f] for f in past.cured if f in net.index}
        anew = {net.index[f] for f in past.anew if f in net.index and f not in past.cured}
        self._anew = anew & above
        self._of_then = self._cured | self._anew | {n for n in above if net.kinds[n] in ("condition", "sign")}

    def net(self) -> Net:
        nodes = list(self._nodes())
        index = {name: i for i, (name, *_) in enumerate(nodes)}
        parents: list[list[Link]] = [[] for _ in nodes]
        children: list[list[Link]] = [[] for _ in nodes]
        for parent, child, table in self._links():
            link = Link(index[parent], index[child], table, steps(table))
            parents[link.child].append(link)
            children[link.parent].append(link)
        names, kinds, sizes, backgrounds = zip(*nodes, strict=True)
        return replace(self._net, ids=names, kinds=kinds, sizes=sizes, background=backgrounds, parents=tuple(map(tuple, parents)),
                       children=tuple(map(tuple, children)), index=index)

    def _nodes(self) -> Iterator[tuple[str, Kind, int, Array | None]]:
        """Every node, that of then before that of now; what was found last of all."""
        net = self._net
        for node, name in enumerate(net.ids):
            own = (net.kinds[node], net.sizes[node], net.background[node])
            if node in self._of_then:
                yield (then(name), *own)
            yield (name, *own)
        for fault in self._found():
            yield _found(fault), "sign", 2, np.ones(2)

    def _links(self) -> Iterator[tuple[str, str, Array]]:
        net = self._net
        for child, links in enumerate(net.parents):
            for link in links:
                cause, effect = net.ids[link.parent], net.ids[child]
                yield cause, effect, link.table
                if child in self._of_then:
                    yield self._then(link.parent), then(effect), link.table
                elif link.parent in self._cured and net.kinds[child] == "fault":
                    yield then(cause), effect, link.table  # what a cured fault had brought on by then is there still
        for node in sorted(self._anew | self._cured):
            stays = np.tri(net.sizes[node]).T
            yield then(net.ids[node]), net.ids[node], stays if node in self._anew else 1.0 - NOT_CURED * (1.0 - stays)
        for fault in self._found():
            table = np.ones((net.sizes[net.index[fault]], 2))
            table[1:, 0] = 0.0
            yield then(fault) if net.index[fault] in self._cured else fault, _found(fault), table

    def _then(self, node: int) -> str:
        name = self._net.ids[node]
        return then(name) if node in self._of_then else name

    def _found(self) -> list[str]:
        return sorted(f for f in self._past.found if f in self._net.index)


def _above(net: Net, nodes: Collection[int]) -> set[int]:
    """Some nodes and all their causes."""
    found, todo = set(nodes), list(nodes)
    while todo:
        new = {link.parent for link in net.parents[todo.pop()]} - found
        found |= new
        todo += new
    return found
