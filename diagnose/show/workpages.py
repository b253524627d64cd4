"""Pages beside the plan: ways to the same end, what to renew while it is open, and whether a fault can wait."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.knowledge.book import Book
from diagnose.show.layout import Page
from diagnose.show.planpage import extras
from diagnose.show.words import in_hundred, minutes, plural
from diagnose.wording import days
from diagnose.work.results import CanWait, Open, Ways
from diagnose.work.saying import hours


def ways_page(found: Sequence[Ways], book: Book, width: int) -> Page:
    """Each end with the ways to it, the one to try first on top."""
    page = Page(width)
    if not found:
        page.labelled("WAYS", "the book has one way only to cure what is likely here; diagnose ways FAULT shows it")
    for ways in found:
        title = book.faults[ways.to].title if ways.to in book.faults else ways.to.replace("-", " ")
        page.labelled("WAYS", f"{title}: in this order, {hours(ways.expected_hours)} on average until one is enough; "
                      f"in {in_hundred(ways.enough_in_all)} of 100 one of them is")
        for line in ways.lines:
            page.labelled(f"  {line.place}", line.title, label_width=5)
            waits = f", and {minutes(line.waits)} of waiting" if line.waits else ""
            page.labelled("", f"time: {minutes(line.skilled)}, the first time {minutes(line.first_time)}{waits}", label_width=7)
            page.labelled("", f"enough: {in_hundred(line.enough)} times in 100", label_width=7)
            for name, text in (("access", "; ".join(line.access)), ("lets you inspect", line.inspects), ("to catch", line.waste)):
                if text:
                    page.labelled("", f"{name}: {text}", label_width=7)
            parts = f"{', '.join(line.missing)}, in {days(line.lead_days)}" if line.missing else "what must be there is aboard"
            page.labelled("", f"parts: {parts}", label_width=7)
            if not line.afloat:
                page.labelled("", "not afloat", label_width=7)
        page.line()
    return page


def also_page(opened: Open, jobs: Sequence[str], book: Book, width: int) -> Page:
    """What to look at and what to renew while these jobs lie open."""
    page = Page(width)
    titles = [book.jobs[j].title for j in jobs]
    page.labelled("OPEN", "; ".join(titles) if titles else "nothing: no job of the plan opens anything")
    page.items("LOOK", opened.look)
    page.items("JUDGE", opened.judge)
    page.line()
    extras(opened.extras, page)
    page.labelled("LEAVE", f"{plural(opened.left, 'more thing')} weighed: renewing them now takes more than it spares")
    return page


def wait_page(found: CanWait, width: int) -> Page:
    """Now, next port, season's end."""
    page = Page(width)
    page.labelled("CAN IT", f"wait? {found.title}: there on {in_hundred(found.chance)} of 100 boats with these signs; if not, begins on "
                  f"{in_hundred(found.begins)} of 100 before the season's end")
    for row in found.rows:
        page.labelled(row.when, f"until {row.until}: {row.say}", label_width=14)
        for kind, chance in row.consequences.items():
            if chance >= 0.0005 and row.when != "now":
                page.labelled("", f"{kind.replace('-', ' ')}: {in_hundred(chance)} in 100", label_width=16)
    page.line()
    page.labelled(found.word.upper(), found.say, label_width=14)
    return page
