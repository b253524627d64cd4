"""Cautions: in full at the step they belong to, and once more all together with their reasons."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.assessment import Assessment
from diagnose.knowledge.book import Book
from diagnose.show.report.blocks import Line, Para, Section, Table, line, strong
from diagnose.wording import mid_sentence

DEFER = ("The engine maker's book, local rules and licensed or qualified people come before anything written here. Nothing here makes "
         "an engine safe; it says what was looked at, what was not, and what follows.")


def caution_lines(names: Sequence[str], book: Book) -> tuple[Line, ...]:
    """The cautions of a step, each with its whole text."""
    return tuple(line(strong(f"{book.cautions[name].title}. "), book.cautions[name].text) for name in names if name in book.cautions)


def all_cautions(a: Assessment, book: Book) -> Section:
    """Every caution of the checks and the work in this report: what it says, why, and where it applies."""
    places: dict[str, list[str]] = {}
    for kind in (a.checks, a.fixes):
        for entry in kind:
            for name in entry.cautions:
                places.setdefault(name, []).append(mid_sentence(entry.title))
    rows = tuple((line(book.cautions[name].title), line(book.cautions[name].text), line(book.cautions[name].why),
                  line("; ".join(dict.fromkeys(where)))) for name, where in sorted(places.items()) if name in book.cautions)
    table = (Table("Cautions of the checks and the work above", ("Caution", "What to do", "Why", "Where"), rows),) if rows else ()
    return Section("cautions", "Cautions", (Para(line(strong(DEFER))), *table))


def cautions_used(a: Assessment) -> tuple[str, ...]:
    """Ids of the cautions in this report, each once."""
    return tuple(dict.fromkeys(name for kind in (a.checks, a.fixes) for entry in kind for name in entry.cautions))
