"""The look-over of one boat as a list to walk: what to look at, in which state of the engine, and how fresh it must be."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.assessment import LookState
from diagnose.knowledge.book import Book
from diagnose.show.layout import Page
from diagnose.show.words import STATES, minutes

MARKS = {"made": "[x]", "found something": "[!]", "stale": "[ ]", "not made": "[ ]"}


def look_over_page(looks: Sequence[LookState], book: Book, boat: str, width: int) -> Page:
    """All looks of a boat, by state of the engine; an asterisk marks those a go waits for."""
    lines = {look.id: look for look in book.look_over.looks}
    page = Page(width)
    page.line(f"Look-over before departure: {boat}", "bold")
    page.labelled("", f"{minutes(sum(look.minutes for look in looks))} in all; * a go waits for it, {minutes(_gating(looks))}. "
                  "Look before you wipe, wipe before you undo. Nothing is opened hot.", label_width=2)
    for state, said in STATES.items():
        own = [look for look in looks if look.needs == state]
        if not own:
            continue
        page.line()
        page.line(f"{said} ({minutes(sum(look.minutes for look in own))})", "bold")
        for look in own:
            fresh = lines[look.id].fresh
            late = ", too long ago" if look.state == "stale" else ""
            page.labelled(f"{MARKS[look.state]}{'*' if look.gates else ' '} {minutes(look.minutes):>7}  ",
                          f"{look.title} (again after {fresh.hours:g} engine hours or {_days(fresh.days)}{late}). {lines[look.id].why}",
                          label_width=15)
    return page


def _gating(looks: Sequence[LookState]) -> float:
    return sum(look.minutes for look in looks if look.gates)


def _days(days: float) -> str:
    if days >= 365:
        return f"{days / 365:.0f} years" if days >= 730 else "a year"
    return "a day" if days == 1 else f"{days:g} days"
