"""Sections and keys stand in one order everywhere; the first that does not is named with its line."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import tiny

from diagnose.knowledge.check import check_rules
from diagnose.knowledge.order import out_of_order
from diagnose.knowledge.text import parse

PUMP = "coolant/pump.yaml"
Part = dict[str, Any]


def reordered(part: Part, *keys: str) -> Part:
    """The same map with some keys first."""
    return {**{k: part[k] for k in keys}, **{k: v for k, v in part.items() if k not in keys}}


def found(part: Part) -> list[str]:
    """What is out of order in a component file."""
    return [p.what for p in out_of_order(parse(tiny.text_of(part), "x.yaml"))]


def in_order() -> Part:
    """The tiny component with every key where it belongs."""
    part: Part = tiny.parts()[PUMP]
    order = {"symptoms": ("id", "title", "ask", "said_as", "states", "grades", "measure", "background", "would_be_mentioned", "worst",
                          "leak", "mistaken_for"),
             "conditions": ("id", "title", "grades", "background", "shows"),
             "faults": ("id", "title", "rate", "live_when", "ages_with", "after", "stages", "outcomes", "told_from", "leads_to", "shows",
                        "limits", "limits_leave"),
             "checks": ("id", "title", "tells", "live_when", "needs", "cost", "cautions", "steps", "reading")}
    for kind, keys in order.items():
        part[kind] = [reordered(e, *(k for k in keys if k in e)) for e in part[kind]]
    return part


def test_what_is_in_order_passes() -> None:
    """Names first, reason and source last, sections from events to examples."""
    assert found(in_order()) == []


@pytest.mark.parametrize(("change", "what"), [
    (lambda p: {**reordered(p, "schema", "component", "system", "title", "faults")}, "section 'events' stands after 'faults'"),
    (lambda p: {**p, "jobs": [reordered(p["jobs"][0], "id", "title", "why")]}, "key 'cures' stands after 'why'"),
    (lambda p: {**p, "events": [reordered(p["events"][0], "title")]}, "key 'id' stands after 'title'"),
    (lambda p: {**p, "rules": [reordered(p["rules"][0], "then")]}, "key 'id' stands after 'then'"),
])
def test_the_first_out_of_order_is_named(change: Callable[[Part], Part], what: str) -> None:
    """One problem an entry."""
    assert found(change(in_order())) == [what]


def test_rules_check_says_where(write_rules: Any) -> None:
    """With the file and the line of the key."""
    parts = tiny.parts()
    parts[PUMP] = in_order()
    parts[PUMP]["jobs"][0] = reordered(parts[PUMP]["jobs"][0], "id", "why")
    report = check_rules(write_rules(parts))
    text = tiny.text_of(parts[PUMP]).splitlines()
    line = 1 + max(i for i, t in enumerate(text) if t.strip() == "title: Renew the pump")
    assert report.lines == (f"{PUMP}, line {line}: key 'title' stands after 'why'\n  right would be: before it",)
