"""How much of the book its own checks can find: faults no look shows, and faults no look parts.

A D-matrix says for every fault, in one stage and alone, which grade each look would most likely find. Faults whose
rows are alike form an ambiguity group. Fractions of faults detected and isolated are those of IEEE Std 1522
(definitions from memory), by count and weighted by rate.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from diagnose.chain.compile import every_switch
from diagnose.knowledge.book import Book
from diagnose.knowledge.integrity import Problem
from diagnose.knowledge.model import Check, SourceKind
from diagnose.network.blueprint import Blueprint
from diagnose.network.nodes import Array, Net, sign_id, steps

GROUP_SIZES = (1, 2, 3)
QUICK_MINUTES = 15.0
"""A quick look takes no longer, set-ups and the first time included, and spoils nothing."""

Stage = Literal["first", "last"]
Looks = Literal["quick", "all"]


@dataclass(frozen=True)
class DMatrix:
    """Faults by tests: the outcome of each test if only this fault is there; 0 is what a healthy boat shows."""

    faults: tuple[str, ...]
    tests: tuple[str, ...]
    outcome: NDArray[np.int64]
    """Shape (faults, tests)."""
    rate: Array
    """Onsets a boat-year of each fault."""

    @cached_property
    def group_size(self) -> dict[str, int]:
        """How many faults stand in the ambiguity group of each detected fault."""
        return {fault: len(group) for group in ambiguity_groups(self) for fault in group}


@dataclass(frozen=True)
class Figures:
    """Fractions of IEEE Std 1522: `detected` of all faults; `isolated[L]` of those detected that stand in a group of at
    most L. The same weighted by rate."""

    faults: int
    detected: float
    detected_by_rate: float
    isolated: dict[int, float]
    isolated_by_rate: dict[int, float]


@dataclass(frozen=True)
class Group:
    """Faults that every look answers alike, and the jobs that cure all of them at once: where there is one, telling
    them apart changes nothing that is done."""

    faults: tuple[str, ...]
    jobs: tuple[str, ...]


@dataclass(frozen=True)
class Coverage:
    """Of one stage and one set of looks: figures of the whole book and by system; faults no look shows; ambiguity
    groups; and where statements come from."""

    stage: Stage
    looks: Looks
    whole: Figures
    by_system: dict[str, Figures]
    undetected: tuple[str, ...]
    groups: tuple[Group, ...]
    sources: dict[str, dict[SourceKind, int]]
    """By system: how many statements about its faults (the fault itself, its rate, its life) are of each kind."""


def coverage_of(book: Book, stage: Stage = "last", looks: Looks = "all") -> Coverage:
    """The coverage of a book, with every arrangement of the boat switched on at once."""
    matrix = d_matrix(book, stage, looks)
    systems = {name: book.component_of[name].system for name in matrix.faults}
    rows = {s.id: [i for i, f in enumerate(matrix.faults) if systems[f] == s.id] for s in book.words.systems}
    groups = ambiguity_groups(matrix)
    return Coverage(
        stage=stage, looks=looks,
        whole=figures(matrix, range(len(matrix.faults))),
        by_system={system: figures(matrix, own) for system, own in rows.items() if own},
        undetected=tuple(f for f, row in zip(matrix.faults, matrix.outcome, strict=True) if not row.any()),
        groups=tuple(_group(book, g) for g in groups if len(g) > 1),
        sources=_sources(book),
    )


def unparted(book: Book) -> Iterator[Problem]:
    """Faults that no look shows, and groups that no look parts though they are cured by different jobs: each is a gap in
    what can be found out, and is mended with a check or said with `known_gap`."""
    found = coverage_of(book)
    groups = [(f, f"no look shows '{f}' at its last stage", "a sign it shows often, and a check of it") for f in found.undetected]
    groups += [(g.faults[0], f"no look parts {', '.join(g.faults)}", "a check of a sign that only one of them shows")
               for g in found.groups if not g.jobs]
    for fault, what, right in groups:
        component = book.component_of[fault]
        if book.faults[fault].known_gap is None:
            yield Problem(component.component, ("faults", [f.id for f in component.faults].index(fault)), what, right)


def d_matrix(book: Book, stage: Stage = "last", looks: Looks = "all") -> DMatrix:
    """The D-matrix of a book over all signs that some check tells, or some quick one."""
    net = Blueprint.of(book).net(every_switch(book))
    checks = [c for c in book.checks.values() if looks == "all" or _is_quick(book, c)]
    signs = sorted({sign_id(symptom, check.needs.engine_state) for check in checks for symptom in check.tells} & net.index.keys())
    faults = [name for name in book.faults if name in net.index]
    found = _alone(net, [(net.index[f], 1 if stage == "first" else len(book.faults[f].stages)) for f in faults])
    outcome = np.array([found[net.index[s]].round(9).argmax(axis=1) for s in signs]).T.reshape(len(faults), len(signs))
    rate = np.array([book.faults[f].rate.per_year for f in faults])
    return DMatrix(tuple(faults), tuple(signs), outcome, rate)


def _is_quick(book: Book, check: Check) -> bool:
    minutes = check.cost.first_time + sum(book.words.setups[s].minutes for s in check.needs.setups)
    return minutes <= QUICK_MINUTES and not check.uses_up and not check.destroys


def _alone(net: Net, supposed: Sequence[tuple[int, int]]) -> list[Array]:
    """Chances of every node's states, a row for each fault supposed to be there in a state and alone."""
    row_of = {node: (row, state) for row, (node, state) in enumerate(supposed)}
    found: list[Array] = []
    for node in range(len(net.ids)):
        background = net.background[node]
        below = np.ones((len(supposed), net.sizes[node])) if background is None else np.tile(background, (len(supposed), 1))
        for link in net.parents[node]:
            below = below * (found[link.parent] @ link.table)
        chances = steps(below)
        if node in row_of:
            row, state = row_of[node]
            chances[row] = np.eye(net.sizes[node])[state]
        found.append(chances)
    return found


def ambiguity_groups(matrix: DMatrix) -> list[tuple[str, ...]]:
    """Detected faults with equal rows, each group in order of its faults."""
    groups: dict[bytes, list[str]] = {}
    for fault, row in zip(matrix.faults, matrix.outcome, strict=True):
        if row.any():
            groups.setdefault(row.tobytes(), []).append(fault)
    return [tuple(g) for g in groups.values()]


def figures(matrix: DMatrix, rows: Sequence[int]) -> Figures:
    """Detection and isolation of some of the faults; groups are those of the whole matrix."""
    own = [(matrix.group_size.get(matrix.faults[i], 0), float(matrix.rate[i])) for i in rows]
    seen = [(n, rate) for n, rate in own if n]
    return Figures(
        faults=len(own),
        detected=len(seen) / max(1, len(own)),
        detected_by_rate=_share(sum(r for _, r in seen), sum(r for _, r in own)),
        isolated={most: sum(n <= most for n, _ in seen) / max(1, len(seen)) for most in GROUP_SIZES},
        isolated_by_rate={most: _share(sum(r for n, r in seen if n <= most), sum(r for _, r in seen)) for most in GROUP_SIZES},
    )


def _share(part: float, whole: float) -> float:
    return part / whole if whole > 0 else 0.0


def _group(book: Book, faults: tuple[str, ...]) -> Group:
    jobs = set.intersection(*({job.id for job in book.jobs_for.get(f, ())} for f in faults))
    return Group(faults, tuple(sorted(jobs)))


def _sources(book: Book) -> dict[str, dict[SourceKind, int]]:
    found: dict[str, Counter[SourceKind]] = {s.id: Counter() for s in book.words.systems}
    for fault in book.faults.values():
        of = found[book.component_of[fault.id].system]
        of.update([fault.source.kind, fault.rate.source.kind])
        if fault.ages_with is not None:
            of.update([fault.ages_with.life.source.kind])
    return {system: dict(sorted(counts.items())) for system, counts in found.items() if counts}
