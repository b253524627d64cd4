"""The tests that work on a boat still owes, among what is due on her."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from diagnose.doing.proving import Owed, owed
from diagnose.doing.standing import Standing, standing_of
from diagnose.knowledge.book import Book
from diagnose.record.due import Due, DueList
from diagnose.record.hourlog import HourLog, hour_log
from diagnose.record.store import CaseHead, Record
from diagnose.wording import mid_sentence


def with_tests(found: DueList, record: Record, book: Book) -> DueList:
    """What is due, with the tests that the work of her open cases owes, and those some hours on of cases closed without them.

    Args:
        found: what is due without them.
        record: where the cases are.
        book: the rules.

    Raises:
        RecordError: the record cannot be read.
    """
    log = hour_log(record, found.boat, book)
    items = [*found.items, *(due for head in record.cases(found.boat) for due in _tests(head, found, record, log, book))]
    return replace(found, items=tuple(sorted(items, key=lambda item: item.order)))


def _tests(head: CaseHead, found: DueList, record: Record, log: HourLog, book: Book) -> Iterator[Due]:
    standing = standing_of(record.entries(case=head.id))
    if standing is None or standing.before_tests:
        return
    for one in owed(standing, log, found.now):
        if not head.closed or (one.task.hours and one.task.id not in standing.made):
            yield _test(one, head, standing, book)


def _test(one: Owed, head: CaseHead, standing: Standing, book: Book) -> Due:
    """A test to be made now is owed before she leaves; one some hours on has its hours, and its day where that can be told."""
    jobs = "; ".join(mid_sentence(book.jobs[j].title) if j in book.jobs else j for j in one.task.of)
    made = standing.made.get(one.task.id)
    said = "" if made is None else f" It {'failed' if made.outcome == 'failed' else 'was not made'}: {made.why}."
    why = f"It proves: {jobs}.{said} It passes when: {one.task.passes} Made with: diagnose prove {head.id}"
    day = one.from_day.astimezone().date() if one.from_day is not None else None
    later = one.from_hours is not None
    return Due("test", f"{head.id} {one.task.id}", f"Test: {one.task.do}", why, one.from_hours, day, later and one.ripe,
               at_departure=not later)
