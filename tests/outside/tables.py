"""Published symptom tables: for each row the sign in the book's words, and for each listed cause the faults that stand for it.

Row and cause are told in our own words; the table is named by its source in `tables.yaml`. `why` says where and why the
book disagrees with a table.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from diagnose import assess, load_rules
from diagnose.case import Case
from diagnose.knowledge.text import parse, read_text

HERE = Path(__file__).parent


@dataclass(frozen=True)
class Cause:
    """A listed cause: what it says, the faults that stand for it (none: the book has it not), and the best place of any."""

    says: str
    faults: tuple[str, ...]
    place: int | None
    why: str


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
    case = Case.model_validate({"opened_because": "noticed-something", "boat": {"arrangement": row.get("boat", {})},
                                "events": [{"event": e, "hours_ago": 1} for e in row.get("events", ())],
                                "observations": [{"symptom": s, **(g if isinstance(g, dict) else {"grade": g})}
                                                 for s, g in row["given"].items()]})
    order = list(assess(case, load_rules(), next_check=False, ledger=False).all_probabilities)
    causes = []
    for cause in row["causes"]:
        faults = tuple(cause.get("faults", ()))
        places = [order.index(f) + 1 for f in faults if f in order]
        causes.append(Cause(cause["says"], faults, min(places, default=None), cause.get("why", "")))
    return Row(table, row["says"], tuple(causes))
