"""The page of what is due on a boat: each thing with by when, why, and how it is looked at."""

from __future__ import annotations

from diagnose.knowledge.book import Book
from diagnose.record.due import Due, DueList
from diagnose.record.outlookwords import day, number, pace_words
from diagnose.show.layout import ALARM, Page
from diagnose.show.words import plural

WIDE = 9


def due_page(due: DueList, book: Book, width: int) -> Page:
    """What is due, each with its why, the soonest first."""
    page = Page(width)
    hours = f"{due.hours.hours:.0f} engine hours{', reckoned' if due.hours.reckoned else ''}" if due.hours else "engine hours not on record"
    page.labelled("due", f"{due.boat}, {day(due.now)}: {hours}", "bold", label_width=WIDE)
    if not due.items:
        page.labelled("", "Nothing on her record asks for a look now.", label_width=WIDE)
    for item in due.items:
        page.line()
        label = "now" if item.overdue else "to leave" if item.at_departure else "by"
        page.labelled(label, by_when(item), ALARM if item.overdue else "bold", label_width=WIDE)
        page.labelled("look", item.title, label_width=WIDE)
        page.labelled("why", item.why, label_width=WIDE)
        page.items("how", _how(item, book), label_width=WIDE)
    page.line()
    page.labelled("taken as", f"{pace_words(due.pace)[0].upper()}{pace_words(due.pace)[1:]}.", label_width=WIDE)
    if due.misread:
        page.labelled("", f"{plural(due.misread, 'reading')} of the engine hours did not fit the others and "
                      f"{'was' if due.misread == 1 else 'were'} left out.", label_width=WIDE)
    if due.untold:
        page.labelled("not told", f"{plural(due.untold, 'service')} of the book with no day or hours on record: nothing can be due by "
                      "these. 'diagnose service' puts one on record.", label_width=WIDE)
    return page


def by_when(item: Due) -> str:
    """By when, in words: the day, the engine hours, or before she leaves."""
    if item.at_departure:
        return "before she leaves"
    hours = f"{number(item.by_hours, 3) if item.by_hours < 1 else f'{item.by_hours:.0f}'} engine hours" if item.by_hours is not None else ""
    on = f"{item.by_date.day} {item.by_date:%B %Y}" if item.by_date is not None else ""
    told = " or ".join(part for part in (hours, on) if part)
    if not told:
        return "no day can be told"
    return f"due since {told}" if item.overdue else f"{told}{', whichever is sooner' if hours and on else ''}"


def _how(item: Due, book: Book) -> list[str]:
    """The checks with their minutes and the engine state, each followed by its cautions."""
    lines = []
    for name in item.checks:
        check = book.checks[name]
        lines.append(f"{check.title} ({name}), {check.cost.first_time:g} min. {book.words.states[check.needs.engine_state]}.")
        lines += [f"Caution: {book.cautions[caution].text}" for caution in check.cautions if caution in book.cautions]
    return lines
