"""The whole book as one network, drawn once, from which the network of any one boat is cut.

A node or a link that stands only on some boats carries the switches it needs (see `diagnose.chain.compile.live_name`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from graphlib import TopologicalSorter
from typing import Any, NamedTuple, TypeVar

import numpy as np

from diagnose.chain.compile import live_name
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import Condition, Fault, Shows, Strength, Symptom, When
from diagnose.network.nodes import UNKNOWN_PROFILES, UNKNOWN_TIMES, Array, Kind, Link, Net, cumulative, sign_id, steps, unknown_id

Owner = TypeVar("Owner", Fault, Condition)
Switches = frozenset[str]


class Node(NamedTuple):
    """A node, and the switches it needs. `faults` are those of the system of an unknown fault: without one of them on the
    boat it is not there either."""

    name: str
    kind: Kind
    size: int
    background: Array | None
    needs: Switches
    faults: tuple[int, ...] = ()


class Line(NamedTuple):
    """A link between two nodes, by index. `spare` lines, from an unknown fault to a sign, stand only where no condition of
    the boat shows that sign."""

    parent: int
    child: int
    table: Array
    exact: Array
    needs: Switches
    spare: bool


@dataclass(frozen=True)
class Blueprint:
    """All nodes, causes before effects, and all links in the order of their ends."""

    nodes: tuple[Node, ...]
    lines: tuple[Line, ...]

    @classmethod
    def of(cls, book: Book) -> Blueprint:
        """The blueprint of a book, drawn at the first use and kept on the book."""
        kept: dict[str, Any] = book.__dict__
        if "_blueprint" not in kept:
            kept["_blueprint"] = _Drawing(book).blueprint()
        drawn: Blueprint = kept["_blueprint"]
        return drawn

    def net(self, live: frozenset[str]) -> Net:
        """The network of a boat with these switches on."""
        there = [node.needs <= live for node in self.nodes]
        kept = [i for i, node in enumerate(self.nodes)
                if there[i] and (node.kind != "unknown" or any(there[fault] for fault in node.faults))]
        place = {old: new for new, old in enumerate(kept)}
        lines = [line for line in self.lines if line.parent in place and line.child in place and line.needs <= live]
        told = {line.child for line in lines if self.nodes[line.parent].kind == "condition"}
        parents: list[list[Link]] = [[] for _ in kept]
        children: list[list[Link]] = [[] for _ in kept]
        for line in lines:
            if line.spare and line.child in told:
                continue
            link = Link(place[line.parent], place[line.child], line.table, line.exact)
            parents[link.child].append(link)
            children[link.parent].append(link)
        nodes = [self.nodes[i] for i in kept]
        return Net(
            tuple(n.name for n in nodes), tuple(n.kind for n in nodes), tuple(n.size for n in nodes), tuple(n.background for n in nodes),
            tuple(map(tuple, parents)), tuple(map(tuple, children)), {n.name: i for i, n in enumerate(nodes)})


class _Drawing:
    def __init__(self, book: Book) -> None:
        self._book = book
        self._nodes: list[Node] = []
        self._lines: list[tuple[str, str, Array, Switches, bool]] = []

    def blueprint(self) -> Blueprint:
        book = self._book
        faults = _in_causal_order(book.faults.values())
        conditions = _in_causal_order(book.conditions.values())
        for fault in faults:
            self._node(fault.id, "fault", len(fault.stages) + 1, None, self._needs(fault.id, fault.live_when))
        for system in sorted({book.component_of[f.id].system for f in faults}):
            own = tuple(i for i, f in enumerate(faults) if book.component_of[f.id].system == system)
            self._node(unknown_id(system), "unknown", len(UNKNOWN_PROFILES) + 1, None, _NONE, own)
        for condition in conditions:
            self._node(condition.id, "condition", len(condition.grades), self._background(condition), self._needs(condition.id))
        for symptom in book.symptoms.values():
            for state in symptom.states:
                self._node(sign_id(symptom.id, state), "sign", len(symptom.grades), self._background(symptom), self._needs(symptom.id))
        owners: tuple[Fault | Condition, ...] = (*faults, *conditions)
        for owner in owners:
            stages = [s.id for s in owner.stages] if isinstance(owner, Fault) else list(owner.grades)[1:]
            for link in owner.shows:
                self._show(owner.id, stages, link)
        for fault in faults:
            self._leads(fault)
        self._unknowns()
        order = {node.name: i for i, node in enumerate(self._nodes)}
        drawn = [Line(order[parent], order[child], table, steps(table), needs, spare) for parent, child, table, needs, spare in self._lines]
        drawn.sort(key=lambda line: (line.parent, line.child))
        return Blueprint(tuple(self._nodes), tuple(drawn))

    def _node(self, name: str, kind: Kind, size: int, background: Array | None, needs: Switches, faults: tuple[int, ...] = ()) -> None:
        self._nodes.append(Node(name, kind, size, background, needs, faults))

    def _needs(self, entry: str, when: When | None = None) -> Switches:
        return _switches(self._book.component_of[entry].applies, when)

    def _background(self, entry: Symptom | Condition) -> Array:
        return cumulative([self._book.background(entry.background[g]) for g in list(entry.grades)[1:]])

    def _show(self, owner: str, stages: list[str], link: Shows) -> None:
        needs = _switches(link.live_when)
        if link.condition is not None:
            if link.condition in self._book.conditions:
                grades = list(self._book.conditions[link.condition].grades)
                self._lines.append((owner, link.condition, self._table(stages, link, grades), needs, False))
        elif link.symptom in self._book.symptoms:
            symptom = self._book.symptoms[link.symptom]
            table = self._table(stages, link, list(symptom.grades))
            for state in link.states or symptom.states:
                self._lines.append((owner, sign_id(symptom.id, state), table, needs, False))

    def _table(self, stages: list[str], link: Shows, grades: list[str]) -> Array:
        rows = [[1.0] * len(grades)]
        given: Mapping[str, Strength] | None = link.at_least
        for stage in stages:
            given = (link.by or {}).get(stage, given)
            rows.append([*(1.0 - self._book.strength(given[g]) if given and g in given else 1.0 for g in grades[1:]), 1.0])
        return np.array(rows)

    def _leads(self, fault: Fault) -> None:
        stages = [s.id for s in fault.stages]
        for leads in fault.leads_to:
            if leads.fault not in self._book.faults:
                continue
            size = len(self._book.faults[leads.fault].stages) + 1
            begins = stages.index(leads.stage) if leads.stage else 0
            table = np.ones((len(stages) + 1, size))
            # what is caused begins at its first stage: nothing worse is claimed from the cause alone
            table[begins + 1 :, 0] = 1.0 - leads.chance
            self._lines.append((fault.id, leads.fault, table, _NONE, False))

    def _unknowns(self) -> None:
        """An unknown fault shows on every condition of its system, and on signs that hang on no condition."""
        unknown = {node.name for node in self._nodes if node.kind == "unknown"}
        for node in list(self._nodes):
            if node.background is None:
                continue
            entry = node.name.partition("@")[0]
            system = unknown_id(self._book.component_of[entry].system)
            if system in unknown:
                usual = 1.0 - node.background[:-1]
                rows = [np.ones(node.size)]
                for _, strength in UNKNOWN_PROFILES:
                    rows.append(cumulative([min(strength * 0.5**g, UNKNOWN_TIMES * usual[g]) for g in range(node.size - 1)]))
                table = np.array(rows)
                self._lines.append((system, node.name, table, _NONE, node.kind == "sign"))


_NONE: Switches = frozenset()


def _switches(*conditions: When | None) -> Switches:
    return frozenset(live_name(when) for when in conditions if when is not None)


def _in_causal_order(entries: Iterable[Owner]) -> list[Owner]:
    """Causes before effects, and by id where that leaves a choice."""
    by_id = {entry.id: entry for entry in entries}
    before: dict[str, set[str]] = {name: set() for name in by_id}
    for entry in by_id.values():
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
