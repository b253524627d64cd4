"""Two versions of the rule base side by side: what was added, retired or changed, which cases move, and by which entry.

A case moves when its decision, its holds or its first line is another, or when any chance shifts by a twentieth.
The entry behind a move is found by putting changed entries back one at a time and seeing how much of the move is undone.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from diagnose.assessment import Assessment
from diagnose.case import Case
from diagnose.errors import DiagnoseError
from diagnose.knowledge.book import Book
from diagnose.knowledge.component import Component
from diagnose.triage import assess

KINDS = ("symptoms", "conditions", "faults", "checks", "jobs", "rules", "events")
MOVED = 0.05
"""A chance that shifts by this much is a move."""
MOST_TRIED = 24
"""Entries put back one at a time, at most, for one case."""
DECISION_WEIGHT = 1.0
"""What another decision counts for in the size of a move, beside the sum of shifted chances."""

Bump = Literal["none", "patch", "minor", "major"]


@dataclass(frozen=True)
class Change:
    """One entry that differs: its kind, id, what happened, and the keys that differ."""

    kind: str
    id: str
    what: Literal["added", "retired", "vanished", "changed"]
    keys: tuple[str, ...] = ()


@dataclass(frozen=True)
class Shift:
    """One chance before and after."""

    fault: str
    old: float
    new: float


@dataclass(frozen=True)
class Move:
    """What the new rules make of one case; `because` names the entries behind it with the share of the move each undoes.

    `broken` says why the case cannot be judged any more; then nothing else is given.
    """

    case: str
    decision: tuple[str, str] = ("", "")
    first: tuple[str, str] = ("", "")
    holds_gone: tuple[str, ...] = ()
    holds_new: tuple[str, ...] = ()
    shifts: tuple[Shift, ...] = ()
    because: tuple[tuple[str, float], ...] = ()
    broken: str = ""

    @property
    def grave(self) -> bool:
        """Whether a person would be told something else to do, or something else first."""
        return bool(self.broken) or self.decision[0] != self.decision[1] or self.first[0] != self.first[1] \
            or bool(self.holds_gone or self.holds_new)


@dataclass(frozen=True)
class Comparison:
    """All differences, all moves, and the version the new rules should carry."""

    old_version: str
    new_version: str
    changes: tuple[Change, ...]
    shared: tuple[str, ...]
    """Shared lists that differ (words, boat, cautions, sources, look-over)."""
    moves: tuple[Move, ...]
    cases: int
    bump: Bump
    needed: str

    @property
    def too_low(self) -> bool:
        """Whether the new rules carry a lower version than their changes ask for."""
        return _numbers(self.new_version) < _numbers(self.needed)


def compare(old: Book, new: Book, cases: Mapping[str, Case], *, explain: bool = True,
            step: Callable[[], None] = lambda: None) -> Comparison:
    """Compare two books over some cases.

    Args:
        explain: find the entries behind each move (takes longest).
        step: called after each case.
    """
    changes = tuple(_changes(old, new))
    shared = tuple(name for name in ("words", "boat", "caution_list", "source_list", "look_over")
                   if _plain(getattr(old, name)) != _plain(getattr(new, name)))
    moves = []
    for name, case in cases.items():
        move = _move(name, case, old, new, changes if explain else ())
        if move is not None:
            moves.append(move)
        step()
    bump = _bump(old, new, changes, shared, moves)
    return Comparison(old.version, new.version, changes, tuple(s.removesuffix("_list").replace("_", "-") for s in shared),
                      tuple(moves), len(cases), bump, _raised(old.version, bump))


# ------------------------------------------------------------------ entries


def _plain(entry: Any) -> dict[str, Any]:
    data: dict[str, Any] = entry.model_dump(by_alias=True, exclude={"version"})
    return data


def _every(book: Book, kind: str) -> dict[str, Any]:
    return {entry.id: entry for component in book.components for entry in getattr(component, kind)}


def _changes(old: Book, new: Book) -> Iterator[Change]:
    for kind in KINDS:
        before, after = _every(old, kind), _every(new, kind)
        for name in sorted({*before, *after}):
            if name not in before:
                if name not in old.renamed:
                    yield Change(kind, name, "added")
            elif name not in after:
                renamed = new.renamed.get(name)
                yield Change(kind, name, "changed", (f"id (now {renamed})",)) if renamed else Change(kind, name, "vanished")
            elif after[name].status == "retired" and before[name].status != "retired":
                yield Change(kind, name, "retired")
            else:
                one, two = _plain(before[name]), _plain(after[name])
                keys = tuple(k for k in two if one.get(k) != two[k])
                if keys:
                    yield Change(kind, name, "changed", keys)


# ------------------------------------------------------------------ cases


def _move(name: str, case: Case, old: Book, new: Book, changes: Sequence[Change]) -> Move | None:
    try:
        before = assess(case, old, next_check=False, ledger=False)
    except DiagnoseError:
        return None  # the old rules could not read it either: it is a case of the new ones
    try:
        after = assess(case, new, next_check=False, ledger=False)
    except DiagnoseError as error:
        return Move(name, broken=" ".join(str(error).split()))
    shifts = _shifts(before, after)
    holds = {h.id for h in before.holds}, {h.id for h in after.holds}
    move = Move(name, (before.decision, after.decision), (before.ranking[0].fault, after.ranking[0].fault),
                tuple(sorted(holds[0] - holds[1])), tuple(sorted(holds[1] - holds[0])),
                tuple(s for s in shifts if abs(s.new - s.old) >= MOVED))
    if not move.grave and not move.shifts:
        return None
    return dataclasses.replace(move, because=tuple(_because(case, before, after, old, new, changes)))


def _shifts(before: Assessment, after: Assessment) -> list[Shift]:
    one, two = before.all_probabilities, after.all_probabilities
    shifts = [Shift(f, one.get(f, 0.0), two.get(f, 0.0)) for f in sorted({*one, *two})]
    return sorted(shifts, key=lambda s: (-abs(s.new - s.old), s.fault))


def _size(before: Assessment, after: Assessment) -> float:
    """How far apart two assessments are."""
    decided = before.decision != after.decision or {h.id for h in before.holds} != {h.id for h in after.holds}
    return sum(abs(s.new - s.old) for s in _shifts(before, after)) + DECISION_WEIGHT * decided


def _because(case: Case, before: Assessment, after: Assessment, old: Book, new: Book,
             changes: Sequence[Change]) -> Iterator[tuple[str, float]]:
    """Entries that, put back as they were, undo part of the move; most first. What undoes under a tenth is left out."""
    whole = _size(before, after)
    near = [c for c in changes if c.what != "vanished" and _touches(c, before, after)][:MOST_TRIED]
    found = []
    for change in near:
        hybrid = put_back(old, new, change)
        try:
            without = assess(case, hybrid, engine="plain", next_check=False, ledger=False)
        except (DiagnoseError, KeyError):
            continue  # what is new is leaned on by the rest: it cannot be taken out alone
        found.append((change.id, 1.0 - _size(before, without) / max(whole, 1e-9)))
    yield from sorted(((n, round(s, 2)) for n, s in found if s >= 0.1), key=lambda pair: (-pair[1], pair[0]))


def _touches(change: Change, *assessments: Assessment) -> bool:
    """Whether an entry can have had a part in what was said of a case."""
    for a in assessments:
        if change.kind in ("checks", "jobs", "events"):
            continue
        if change.kind == "rules" and any(f.rule == change.id for f in a.trace):
            return True
        if change.kind == "symptoms" and any(s.symptom == change.id for s in a.observations):
            return True
        if change.kind == "conditions" and change.id in a.conditions:
            return True
        if change.kind == "faults" and a.all_probabilities.get(change.id, 0.0) >= 0.01:
            return True
    return False


def put_back(old: Book, new: Book, change: Change) -> Book:
    """The new book with one entry as it was in the old one: taken out if it was added, restored if it was retired."""
    was = _every(old, change.kind).get(change.id)

    def mended(component: Component) -> Component:
        entries = getattr(component, change.kind)
        if not any(entry.id == change.id for entry in entries):
            return component
        kept = tuple(was if entry.id == change.id else entry for entry in entries if was is not None or entry.id != change.id)
        return component.model_copy(update={change.kind: kept})

    return Book(tuple(mended(c) for c in new.components), new.words, new.boat, new.caution_list, new.source_list, new.look_over,
                digest=f"{new.digest} without {change.id}", files=new.files)


# ------------------------------------------------------------------ versions


def _bump(old: Book, new: Book, changes: Sequence[Change], shared: Sequence[str], moves: Sequence[Move]) -> Bump:
    """Major: a case written for the old rules may no longer be read. Minor: something new, or a case told otherwise.
    Patch: words and numbers that move no case."""
    if any(c.what == "vanished" for c in changes) or any(m.broken for m in moves) or _grades_gone(old, new) or _facts_gone(old, new):
        return "major"
    if any(c.what in ("added", "retired") for c in changes) or any(m.grave for m in moves):
        return "minor"
    return "patch" if changes or shared else "none"


def _grades_gone(old: Book, new: Book) -> bool:
    """Whether some symptom lost a grade, or an engine state it could be judged in."""
    kept = {**new.symptoms, **{o: new.symptoms[n] for o, n in new.renamed.items() if n in new.symptoms}}
    return any(name in kept and not (set(s.grades) <= set(kept[name].grades) and set(s.states) <= set(kept[name].states))
               for name, s in old.symptoms.items())


def _facts_gone(old: Book, new: Book) -> bool:
    """Whether some fact of the boat, or one of its values, is no longer known."""
    return any(name not in new.facts or not set(fact.values or ()) <= set(new.facts[name].values or ())
               for name, fact in old.facts.items())


def _numbers(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in version.split("."))


def _raised(version: str, bump: Bump) -> str:
    major, minor, patch = _numbers(version)
    return {"none": version, "patch": f"{major}.{minor}.{patch + 1}", "minor": f"{major}.{minor + 1}.0",
            "major": f"{major + 1}.0.0"}[bump]
