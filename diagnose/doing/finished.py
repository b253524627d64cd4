"""What follows when a job is through: it is on record, what was seen before it is history, and what it may have disturbed is likelier."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from diagnose.case import EventSeen
from diagnose.knowledge.book import Book
from diagnose.record.entries import Entry, EventEntry, WorkDone


def through(job: str, book: Book, at: datetime) -> tuple[Entry, ...]:
    """The entries of a job that is through: the work, and the event that it is, where it disturbs something.

    Args:
        job: of the book.
        book: that it stands in.
        at: the moment.
    """
    done = book.jobs[job]
    cures = tuple(f for f in done.cures if f in book.faults)
    work = WorkDone(at=at, job=job, cures=cures, signs=signs_of(cures, book))
    event = (EventEntry(at=at, event=EventSeen(event=done.leaves)),) if done.leaves is not None else ()
    return (work, *event)


def signs_of(faults: Iterable[str], book: Book) -> tuple[str, ...]:
    """The symptoms that faults show on, directly or through hidden conditions, and the readings these are worked out of: what they
    said before the cure says nothing of after it. What outlasts the cure is not among them."""
    symptoms: set[str] = set()
    hidden: set[str] = set()
    shows = [s for f in faults for s in book.faults[f].shows]
    while shows:
        one = shows.pop()
        if one.outlasts:
            continue
        if one.symptom is not None:
            symptoms.add(one.symptom)
        elif one.condition is not None and one.condition not in hidden:
            hidden.add(one.condition)
            shows += book.conditions[one.condition].shows
    readings = {i.reading for s in symptoms for w in book.symptoms[s].worked_out for i in w.takes.values() if i.reading is not None}
    return tuple(sorted(symptoms | readings))


def renewable(job: str, book: Book) -> tuple[str, ...]:
    """The service items whose age counts for the faults that a job cures: by the work some of them may be new."""
    ageing = (book.faults[f].ages_with for f in book.jobs[job].cures if f in book.faults)
    return tuple(dict.fromkeys(a.since for a in ageing if a is not None))
