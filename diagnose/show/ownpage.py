"""What was learned on one boat as a page: of each step, set-up and part what counts now, beside what the book says."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from diagnose.knowledge.book import Book
from diagnose.knowledge.jobs import Step
from diagnose.knowledge.own import Item, OnThisBoat, OwnSetup, OwnStep, own_minutes_of
from diagnose.show.layout import Page
from diagnose.show.words import minutes, plural
from diagnose.work.ownwords import plain_step


def own_page(boat: str, path: Path, learned: OnThisBoat, count: int, book: Book, width: int) -> Page:
    """All that counts on a boat, or a part of it.

    Args:
        boat: her name.
        path: her own file.
        learned: what is to be shown.
        count: items that the file holds.
        book: the rules as they are for every boat.
        width: columns.
    """
    page = Page(width)
    page.labelled("LEARNED", f"on {boat}; {plural(count, 'item')} in {path}. What counts now:")
    items: list[tuple[str, str, str, Item]] = [
        *(("STEP", f"{job}/{step}", plain_step(book, job, step).do, own) for (job, step), own in learned.steps.items()),
        *(("SET-UP", name, book.words.setups[name].title, own) for name, own in learned.setups.items()),
        *(("PART", name, book.words.parts[name], own) for name, own in learned.parts.items())]
    for label, name, title, own in items:
        page.line()
        page.labelled(label, f"{name}: {title}")
        for text in _said(own, book):
            page.labelled("", text, label_width=13)
        who = ", ".join(str(x) for x in (own.on, own.by) if x is not None)
        if who:
            page.labelled("", f"last told: {who}", label_width=13)
    if not items:
        page.labelled("", "nothing")
    return page


def _said(own: Item, book: Book) -> Iterator[str]:
    """What an item says, in words."""
    if isinstance(own, OwnStep):
        yield from _of_step(own, plain_step(book, own.job, own.step))
    elif isinstance(own, OwnSetup):
        setup = book.words.setups[own.setup]
        if own.minutes is not None:
            yield f"takes {minutes(own.minutes)} (the book says {minutes(setup.minutes)})"
        if own.restore_minutes is not None:
            yield f"putting it back takes {minutes(own.restore_minutes)} (the book says {minutes(setup.restore_minutes)})"
    elif own.is_ is not None:
        yield f"this boat takes: {own.is_}"
    yield from (f"{key}: {own.said[key]}" for key in ("access", "note") if key in own.said)


def _of_step(own: OwnStep, step: Step) -> Iterator[str]:
    if own.minutes is not None:
        now = own_minutes_of(step.minutes, own.minutes)
        yield (f"takes {minutes(now.skilled)}, the first time {minutes(now.first_time)} (the book says "
               f"{minutes(step.minutes.skilled)} and {minutes(step.minutes.first_time)})")
    if own.holds_two is not None:
        yield f"holds more than one thing: {own.holds_two}"
    if own.tools:
        yield f"wanted too: {', '.join(own.tools)}"
    if own.hands is not None:
        yield f"{plural(own.hands, 'pair')} of hands (the book says {step.hands})"
