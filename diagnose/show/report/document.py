"""The whole report in order: the decision first, then what was seen, what explains it, what to do, and what it rests on."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.assessment import Assessment
from diagnose.knowledge.book import Book
from diagnose.knowledge.lists import Term
from diagnose.show.report import evidence, grounds, looks, opening, verdict, work
from diagnose.show.report.blocks import Document, Section, line, said
from diagnose.show.report.cautions import all_cautions
from diagnose.show.report.glossary import explained
from diagnose.show.report.job import job
from diagnose.show.report.particulars import Particulars

HEAD = "The owner's reasoning, not a survey"
_MARKS = {"stay": "stay", "fix, then go": "fix", "go with limits": "limits", "go": "go"}


def document(a: Assessment, book: Book, about: Particulars, terms: Sequence[Term] = ()) -> Document:
    """The report of one assessment.

    Args:
        a: the assessment.
        book: the book it was made with, or a later one; what only the book knows is left out where it no longer has it.
        about: what is known around it.
        terms: words of the trade to explain where they first appear.
    """
    whole = Document(
        head=HEAD,
        title=line(said(a.boat), ": ", said(a.title)),
        mark="not-yet" if a.decision == "stay" and not a.departure.settled else _MARKS[a.decision],
        sections=(
            opening.decision(a, about), opening.stops(a, book), opening.done(about), opening.boat(a, about),
            evidence.observed(a, book, about),
            verdict.ranking(a, book), verdict.weighing(a, book), verdict.ruler(a, book, about), verdict.rivals(a, book),
            looks.worth_making(a, book), looks.made_and_not(a),
            work.recommended(a, book, planned=about.plan.jobs if about.plan is not None else ()), *_job(about, book),
            all_cautions(a, book), work.limits(a, book), work.arithmetic(a, book),
            grounds.assumed(a), grounds.scope(a), grounds.sources(a, book), grounds.rules(a, book), grounds.signatures(a, about),
        ),
        foot=f"{a.boat}: {a.title}. Rules {a.rules.version}, {a.rules.digest[:12]}.",
    )
    return explained(whole, terms)


def _job(about: Particulars, book: Book) -> tuple[Section, ...]:
    return (job(about.plan, about.standing, book),) if about.plan is not None else ()
