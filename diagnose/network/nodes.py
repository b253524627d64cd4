"""The network of one boat: faults, the unknown faults, conditions and signs, with the links that are live.

Every node has ordered states, none first. The state of a node is the worst of what its background and
its parents contribute, each independently (noisy-MAX; Henrion 1989, Diez 1993). A link is a table of
cumulative chances: `table[p, g]` is P(contribution at most g | parent in state p); row 0 is all ones.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from graphlib import TopologicalSorter
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from diagnose.chain.compile import is_live
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import Condition, Fault, Shows, Strength, Symptom, When

Array = NDArray[np.float64]
Owner = TypeVar("Owner", Fault, Condition)
Kind = Literal["fault", "unknown", "condition", "sign"]

UNKNOWN_PROFILES = ((0.5, 0.05), (0.35, 0.2), (0.15, 0.5))
"""Share and strength of the three profiles of a fault this book does not know: it shows diffusely, at one
strength on every sign of its system, halved for each worse grade. See ranking in DEVELOPERS.md."""
UNKNOWN_TIMES = 20.0
"""It shows on no sign more often than this many times the sign's background: damage seen with the part in the hand
is hardly ever the work of a fault nobody has written down."""


@dataclass(frozen=True, slots=True)
class Link:
    """From a parent to a child: cumulative chances by parent state (rows) and child grade (columns)."""

    parent: int
    child: int
    table: Array
    exact: Array
    """The table as exact chances: P(contribution exactly g | parent in state p)."""


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


def book_net(book: Book, live: frozenset[str]) -> Net:
    """The network of the book under the switches that are live (see `diagnose.chain.compile.live_name`)."""
    builder = _Builder(book, live)
    return builder.build()


class _Builder:
    def __init__(self, book: Book, live: frozenset[str]) -> None:
        self._book, self._live = book, live
        self._nodes: list[tuple[str, Kind, int, Array | None]] = []
        self._links: list[tuple[str, str, Array]] = []
        self._signs: dict[str, Symptom] = {}

    def build(self) -> Net:
        book = self._book
        faults = self._in_causal_order([f for f in book.faults.values() if self._on(book.component_of[f.id].applies)
                                        and self._on(f.live_when)])
        conditions = self._in_causal_order([c for c in book.conditions.values()
                                            if self._on(book.component_of[c.id].applies)])
        symptoms = [s for s in book.symptoms.values() if self._on(book.component_of[s.id].applies)]
        known = {entry.id for entry in (*faults, *conditions, *symptoms)}
        for fault in faults:
            self._nodes.append((fault.id, "fault", len(fault.stages) + 1, None))
        systems = sorted({book.component_of[f.id].system for f in faults})
        for system in systems:
            self._nodes.append((unknown_id(system), "unknown", len(UNKNOWN_PROFILES) + 1, None))
        for condition in conditions:
            self._nodes.append((condition.id, "condition", len(condition.grades), self._background(condition)))
        for symptom in symptoms:
            for state in symptom.states:
                name = sign_id(symptom.id, state)
                self._signs[name] = symptom
                self._nodes.append((name, "sign", len(symptom.grades), self._background(symptom)))
        owners: tuple[Fault | Condition, ...] = (*faults, *conditions)
        for owner in owners:
            stages = [s.id for s in owner.stages] if isinstance(owner, Fault) else list(owner.grades)[1:]
            for link in owner.shows:
                if (link.symptom or link.condition) in known and self._on(link.live_when):
                    self._show(owner.id, stages, link)
        for fault in faults:
            self._leads(fault, known)
        self._unknowns(systems, conditions, symptoms)
        order = {name: i for i, (name, *_) in enumerate(self._nodes)}
        self._links.sort(key=lambda l: (order[l[0]], order[l[1]]))
        return make_net(self._nodes, self._links)

    def _on(self, when: When | None) -> bool:
        return is_live(when, self._live)

    def _background(self, entry: Symptom | Condition) -> Array:
        return cumulative([self._book.background(entry.background[g]) for g in list(entry.grades)[1:]])

    def _in_causal_order(self, entries: list[Owner]) -> list[Owner]:
        """Causes before effects, and by id where that leaves a choice."""
        by_id = {entry.id: entry for entry in entries}
        before: dict[str, set[str]] = {name: set() for name in by_id}
        for entry in entries:
            targets: list[str | None] = []
            if isinstance(entry, Fault):
                targets.extend(leads.fault for leads in entry.leads_to)
            else:
                targets.extend(link.condition for link in entry.shows)
            for target in targets:
                if target is not None and target in before:
                    before[target].add(entry.id)
        sorter = TopologicalSorter(before)
        sorter.prepare()
        ordered: list[Owner] = []
        while sorter.is_active():
            ready = sorted(sorter.get_ready())
            ordered.extend(by_id[name] for name in ready)
            sorter.done(*ready)
        return ordered

    def _show(self, owner: str, stages: list[str], link: Shows) -> None:
        if link.condition is not None:
            grades = list(self._book.conditions[link.condition].grades)
            self._links.append((owner, link.condition, self._table(stages, link, grades)))
            return
        symptom = self._book.symptoms[str(link.symptom)]
        table = self._table(stages, link, list(symptom.grades))
        for state in link.states or symptom.states:
            self._links.append((owner, sign_id(symptom.id, state), table))

    def _table(self, stages: list[str], link: Shows, grades: list[str]) -> Array:
        rows = [[1.0] * len(grades)]
        given: Mapping[str, Strength] | None = link.at_least
        for stage in stages:
            given = (link.by or {}).get(stage, given)
            rows.append([*(1.0 - self._book.strength(given[g]) if given and g in given else 1.0 for g in grades[1:]), 1.0])
        return np.array(rows)

    def _leads(self, fault: Fault, known: set[str]) -> None:
        stages = [s.id for s in fault.stages]
        for leads in fault.leads_to:
            if leads.fault not in known:
                continue
            size = len(self._book.faults[leads.fault].stages) + 1
            begins = stages.index(leads.stage) if leads.stage else 0
            table = np.ones((len(stages) + 1, size))
            # what is caused begins at its first stage: nothing worse is claimed from the cause alone
            table[begins + 1 :, 0] = 1.0 - leads.chance
            self._links.append((fault.id, leads.fault, table))

    def _unknowns(self, systems: list[str], conditions: list[Condition], symptoms: list[Symptom]) -> None:
        """An unknown fault shows on every condition of its system, and on signs that hang on no condition."""
        on_condition = {child for parent, child, _ in self._links if child in self._signs
                        and parent in {c.id for c in conditions}}
        for system in systems:
            targets = [c.id for c in conditions if self._book.component_of[c.id].system == system]
            targets += [sign_id(s.id, state) for s in symptoms if self._book.component_of[s.id].system == system
                        for state in s.states if sign_id(s.id, state) not in on_condition]
            sizes = {name: size for name, _, size, _ in self._nodes}
            usual = {name: 1.0 - background[:-1] for name, _, _, background in self._nodes if background is not None}
            for target in targets:
                rows = [np.ones(sizes[target])]
                for _, strength in UNKNOWN_PROFILES:
                    shown = [min(strength * 0.5**g, UNKNOWN_TIMES * usual[target][g]) for g in range(sizes[target] - 1)]
                    rows.append(cumulative(shown))
                self._links.append((unknown_id(system), target, np.array(rows)))
