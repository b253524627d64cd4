"""A stored assessment made again: with the same rules the same bytes; with others, what moved and which entry moved it."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from diagnose.assessment import Assessment
from diagnose.compare import MOVED, compare
from diagnose.errors import DiagnoseError
from diagnose.knowledge.book import Book
from diagnose.record.entries import Assessed
from diagnose.record.store import Record, Stored
from diagnose.triage import assess

Outcome = Literal["same", "differs", "unmoved", "moved", "broken"]


@dataclass(frozen=True)
class LineMoved:
    """A line of the ranking then and now: its place (None where it had no line) and its chance."""

    fault: str
    places: tuple[int | None, int | None]
    chances: tuple[float, float]


@dataclass(frozen=True)
class Replayed:
    """One stored assessment made again.

    `same` and `differs`: with the rules of then; the bytes are the same, or are not, which is a fault of the program or a
    change in it. `unmoved` and `moved`: with other rules. `broken`: the case cannot be judged any more, and `why` says it.
    `because` names the entries behind a move with the share of it each undoes; None where the rules of then were not given.
    """

    entry: int
    case: str
    boat: str
    title: str
    versions: tuple[str, str]
    digests: tuple[str, str]
    outcome: Outcome
    decisions: tuple[str, str] = ("", "")
    holds_gone: tuple[str, ...] = ()
    holds_new: tuple[str, ...] = ()
    lines: tuple[LineMoved, ...] = ()
    because: tuple[tuple[str, float], ...] | None = None
    why: str = ""

    @property
    def grave(self) -> bool:
        """Whether a person would be told something else to do, or nothing at all, or the bytes are not those they should be."""
        return self.outcome in ("differs", "broken") or self.decisions[0] != self.decisions[1] or bool(self.holds_gone or self.holds_new)


def stored_assessments(record: Record, case: str | None = None, *, latest: bool = False) -> list[Stored]:
    """The assessments of a case or of all, those taken back left out; `latest` keeps the last of each case."""
    found = [s for s in record.entries(case=case, kinds=("assessed",)) if not s.taken_back]
    return list({s.case: s for s in found}.values()) if latest else found


def replay(stored: Stored, book: Book, *, then: Book | None = None) -> Replayed:
    """Make one stored assessment again.

    Args:
        stored: an entry of kind `assessed`.
        book: the rules to judge with.
        then: the rules it was judged with, to find the entries behind a move; not used if they are others.

    Raises:
        TypeError: the entry is of another kind.
    """
    entry = stored.entry
    if not isinstance(entry, Assessed):
        raise TypeError(f"entry {stored.id} is no assessment")
    result: dict[str, Any] = json.loads(entry.result)
    head: dict[str, Any] = {"entry": stored.id, "case": str(stored.case), "boat": stored.boat, "title": str(result.get("title", "")),
                            "versions": (entry.rules.version, book.version), "digests": (entry.rules.digest, book.digest)}
    try:
        again = assess(entry.case, book, next_check=entry.next_check, ledger=entry.ledger)
    except DiagnoseError as error:
        return Replayed(**head, outcome="broken", decisions=(str(result["decision"]), ""), why=" ".join(str(error).split()))
    if again.result_json() == entry.result:
        decision = again.decision
        return Replayed(**head, outcome="same", decisions=(decision, decision))
    holds = {str(h["id"]) for h in result["holds"]}, {h.id for h in again.holds}
    lines = tuple(_lines(result, again))
    decisions = (str(result["decision"]), again.decision)
    moved = bool(lines) or holds[0] != holds[1] or decisions[0] != decisions[1]
    outcome: Outcome = "differs" if entry.rules.digest == book.digest else "moved" if moved else "unmoved"
    return Replayed(
        **head, outcome=outcome, decisions=decisions, holds_gone=tuple(sorted(holds[0] - holds[1])),
        holds_new=tuple(sorted(holds[1] - holds[0])), lines=lines,
        because=_because(entry, then, book) if then is not None and then.digest == entry.rules.digest and outcome == "moved" else None,
        why=_first_difference(result, again) if outcome == "differs" else "",
    )


def _lines(result: dict[str, Any], again: Assessment) -> list[LineMoved]:
    """Lines whose chance moved by a twentieth, and those that are first now or were."""
    before = {str(line["fault"]): (int(line["place"]), float(line["probability"])) for line in result["ranking"]}
    after = {line.fault: (line.place, line.probability) for line in again.ranking}
    was = {**{str(f): float(p) for f, p in result["all_probabilities"].items()}, **{f: p for f, (_, p) in before.items()}}
    now = {**again.all_probabilities, **{f: p for f, (_, p) in after.items()}}
    moved = [
        LineMoved(fault, (before.get(fault, (None, 0))[0], after.get(fault, (None, 0))[0]), (was.get(fault, 0.0), now.get(fault, 0.0)))
        for fault in {**before, **after}
    ]
    kept = [m for m in moved if abs(m.chances[1] - m.chances[0]) >= MOVED or (m.places[0] != m.places[1] and 1 in m.places)]
    return sorted(kept, key=lambda m: (-abs(m.chances[1] - m.chances[0]), m.fault))


def _because(entry: Assessed, then: Book, now: Book) -> tuple[tuple[str, float], ...]:
    """The entries of the rules behind a move, by putting each back as it was."""
    moves = compare(then, now, {"stored": entry.case}).moves
    return moves[0].because if moves else ()


def _first_difference(result: dict[str, Any], again: Assessment) -> str:
    """The first part of the result that is not what it was."""
    now = json.loads(again.result_json())
    keys: Sequence[str] = [key for key in {**result, **now} if result.get(key) != now.get(key)]
    return f"differs in {', '.join(keys)}" if keys else "the same values, written otherwise"
