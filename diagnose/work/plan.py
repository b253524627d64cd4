"""The plan of a case: which jobs, done as one, laid out over time, with parts, amounts, what lies open and what proves it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from diagnose.assessment import Assessment
from diagnose.case import Case
from diagnose.knowledge.book import Book
from diagnose.knowledge.jobs import Drained, Job
from diagnose.work.choose import choose
from diagnose.work.ground import Ground, Hand, Moment, full_minutes
from diagnose.work.merge import later_tests, merge
from diagnose.work.opened import opened
from diagnose.work.orders import order_list
from diagnose.work.recipes import recipes
from diagnose.work.results import Plan, Task, Total
from diagnose.work.schedule import schedule

HANDS: tuple[Hand, ...] = ("skilled", "first_time")


def plan(assessment: Assessment, case: Case, book: Book, *, until: Moment = "season", hands: int = 1, hand: Hand = "first_time",
         jobs: Iterable[str] = (), extras: bool = False, only: bool = False) -> Plan:
    """One piece of work out of an assessment.

    Args:
        assessment: of this case and book.
        case: the case.
        book: the rules.
        until: how far the loss of leaving a fault is counted.
        hands: people who work, 1 or 2.
        hand: whose minutes are counted.
        jobs: to be done in any case.
        extras: do what is worth renewing while it is open, too.
        only: the jobs named and no others, though others would pay.

    Raises:
        InputError: a job that is not in the book, or more than can be weighed at once.
    """
    ground = Ground.of(assessment, case, book)
    choice = choose(ground, until, hand, jobs, only=only)
    chosen = sorted((book.jobs[c.job] for c in choice.chosen), key=lambda j: j.id)
    lies_open = opened(ground, chosen, hand)
    more = [book.jobs[e.job] for e in lies_open.extras if e.word == "now"]
    done = sorted((*chosen, *more), key=lambda j: j.id) if extras else chosen
    tasks = merge(done, book)
    laid_out = schedule(tasks, hands, hand)
    later = later_tests(done, book)
    by_themselves = sum(full_minutes(j, book, hand) for j in done)
    together = sum(float(getattr(t, hand)) for t in tasks if t.kind != "proof")
    return Plan(
        title=assessment.title, boat=assessment.boat,
        stops=tuple(f"{h.say} Lifted by: {h.cleared_by}" for h in assessment.holds), choice=choice,
        jobs=tuple(j.id for j in done), tasks=tasks, schedule=laid_out, hand=hand,
        saved_minutes=round(by_themselves - together, 6), totals=tuple(_totals(chosen, more, book)),
        days=math.ceil(round(laid_out.minutes / 60.0 / book.words.work.day_hours, 9)),
        order=order_list(ground, done, tasks, more), recipes=recipes(ground, done), opened=lies_open,
        waste=tuple(_waste(ground, tasks)), later_tests=tuple(_later_words(later)), later=later,
        cautions=tuple(dict.fromkeys((*(c for t in tasks for c in t.cautions), *(c for j in done for c in j.cautions)))),
        leaves=tuple(dict.fromkeys(j.leaves for j in done if j.leaves is not None)))


def _totals(chosen: Sequence[Job], more: Sequence[Job], book: Book) -> Iterable[Total]:
    """How long it takes for each hand, alone and by two, without the extras and with them."""
    for with_extras in (False, True) if more else (False,):
        tasks = merge([*chosen, *more] if with_extras else chosen, book)
        for hand in HANDS:
            for hands in (1, 2):
                yield Total(hand=hand, hands=hands, extras=with_extras, minutes=schedule(tasks, hands, hand).minutes)


def _waste(ground: Ground, tasks: Sequence[Task]) -> Iterable[str]:
    """What comes out, how much, and where it goes; each fluid once, where it comes out of one circuit."""
    yield from dict.fromkeys(f"{_litres(ground, d)}{d.fluid}: {d.goes}" for t in tasks for d in t.drains)


def _litres(ground: Ground, drained: Drained) -> str:
    amount = drained.litres if drained.fact is None else ground.situation.facts.get(drained.fact)
    return f"{amount:g} L " if isinstance(amount, float) else ""


def _later_words(tests: Sequence[Task]) -> Iterable[str]:
    for test in tests:
        yield f"after {test.hours:g} engine hours: {test.do} Passed when: {test.passes}"
