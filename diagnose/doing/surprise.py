"""Jobs that pay now and are in no plan yet: what was seen while it was apart may make another job worth doing with it."""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.assessment import Assessment
from diagnose.case import Case
from diagnose.knowledge.book import Book
from diagnose.work.choose import choose
from diagnose.work.ground import Ground, Hand, Moment
from diagnose.work.results import Chosen


def surprises(assessment: Assessment, case: Case, book: Book, jobs: Iterable[str], declined: Iterable[str], until: Moment,
              hand: Hand) -> tuple[Chosen, ...]:
    """The jobs to be offered now, the surest first.

    Args:
        assessment: of the case as it is known now.
        case: the case.
        book: that the work is planned with.
        jobs: of the plan.
        declined: jobs offered before and not wanted.
        until: how far the loss of leaving a fault is counted.
        hand: whose minutes are counted.
    """
    planned = set(jobs)
    choice = choose(Ground.of(assessment, case, book), until, hand, sorted(planned))
    return tuple(c for c in choice.chosen if c.job not in planned and c.job not in set(declined))
