"""Published symptom tables: for each row the sign in the book's words, and for each listed cause the faults that stand for it.

Row and cause are told in our own words; the table is named by its source in `tables.yaml`. A table's cause is mostly a
class ("too little coolant") that several faults stand for: it is placed by what the sign owes to all of them together,
against every other fault alone. `why` says where and why the book disagrees with a table, `ours: false` marks what is
no fault of a small inboard diesel at all (a radiator fan, a two-stroke's blower, or no fault).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from diagnose import assess, load_rules
from diagnose.case import Case
from diagnose.knowledge.text import parse, read_text
from diagnose.rank import WHOLE

HERE = Path(__file__).parent
LEAST_OWED = 0.001


@dataclass(frozen=True)
class Cause:
    """A listed cause: what it says, the faults that stand for it (none: the book has it not), and their place together."""

    says: str
    faults: tuple[str, ...]
    place: int | None
    why: str
    ours: bool


@dataclass(frozen=True)
class Row:
    """One row of a table."""

    table: str
    says: str
    causes: tuple[Cause, ...]


@cache
def tables() -> tuple[dict[str, Any], ...]:
    """The tables as written."""
    return tuple(parse(read_text(HERE / "tables.yaml"), "tables.yaml").data["tables"])


@cache
def rows() -> tuple[Row, ...]:
    """All rows, each judged for its sign alone."""
    return tuple(_judged(table["id"], row) for table in tables() for row in table["rows"])


def _judged(table: str, row: dict[str, Any]) -> Row:
    common = {"opened_because": "noticed-something", "boat": {"arrangement": row.get("boat", {})}}
    events = [{"event": e, "hours_ago": 1} for e in row.get("events", ())]
    seen = [{"symptom": s, **(g if isinstance(g, dict) else {"grade": g})} for s, g in row["given"].items()]
    owed = _owed(_chances({**common, "events": events, "observations": seen}), _chances(common))
    causes = []
    for cause in row["causes"]:
        faults = tuple(cause.get("faults", ()))
        together = sum(owed.get(f, 0.0) for f in faults)
        place = 1 + sum(share > together for f, share in owed.items() if f not in faults)
        causes.append(Cause(cause["says"], faults, place if together > LEAST_OWED else None, cause.get("why", ""), cause.get("ours", True)))
    return Row(table, row["says"], tuple(causes))


def _chances(case: dict[str, Any]) -> dict[str, float]:
    return assess(Case.model_validate(case), load_rules(), next_check=False, ledger=False).all_probabilities


def _owed(after: dict[str, float], before: dict[str, float]) -> dict[str, float]:
    """What each fault's chance owes to the sign, as the ranking counts it."""
    return {f: min(p, WHOLE * max(0.0, (p - before[f]) / (1.0 - before[f]))) for f, p in after.items() if f in before}
