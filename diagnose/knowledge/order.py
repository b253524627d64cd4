"""The order of sections in a rule file and of keys in an entry: the same everywhere, so that a reader finds his place."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from diagnose.knowledge.component import Component
from diagnose.knowledge.integrity import Problem
from diagnose.knowledge.jobs import Job
from diagnose.knowledge.model import Check, Condition, Entry, Event, Fault, Measurand, Rule, Symptom
from diagnose.knowledge.text import Document

ENTRIES: dict[str, type[Entry]] = {
    "events": Event, "readings": Measurand,
    "symptoms": Symptom, "conditions": Condition, "faults": Fault, "checks": Check, "jobs": Job, "rules": Rule}
FIRST, LAST = ("id", "was", "title", "status"), ("why", "source")


def keys_of(kind: type[Entry]) -> list[str]:
    """The keys of an entry as they are written: what names it first, its reason and source last."""
    keys = [field.alias or name for name, field in kind.model_fields.items()]
    if "id" not in keys:
        return keys
    return [*(k for k in FIRST if k in keys), *(k for k in keys if k not in FIRST + LAST), *(k for k in LAST if k in keys)]


def out_of_order(document: Document) -> Iterator[Problem]:
    """The first key out of order of each entry of a rule file, and the first section of the file."""
    data: dict[str, Any] = document.data
    if "component" not in data:
        return
    name = str(data["component"])
    wrong = _first_wrong(list(data), keys_of(Component))
    if wrong:
        yield Problem(name, (wrong[0],), f"section '{wrong[0]}' stands after '{wrong[1]}'", f"before it: {', '.join(keys_of(Component))}")
    for section, kind in ENTRIES.items():
        for i, entry in enumerate(data.get(section, ())):
            wrong = _first_wrong(list(entry), keys_of(kind))
            if wrong:
                yield Problem(name, (section, i, wrong[0]), f"key '{wrong[0]}' stands after '{wrong[1]}'", "before it")


def _first_wrong(keys: list[str], order: list[str]) -> tuple[str, str] | None:
    """A key that stands after one it should stand before, and that one."""
    latest = -1
    for key in keys:
        if key not in order:
            continue
        place = order.index(key)
        if place < latest:
            return key, order[latest]
        latest = place
    return None
