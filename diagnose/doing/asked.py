"""Questions that come up between the tasks of some work: the parts, what is new now, what it was, whether another job comes with it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from diagnose.doing.finished import renewable
from diagnose.doing.standing import Standing
from diagnose.knowledge.book import Book
from diagnose.record.entries import Entry, Found, Note, ServiceEntry
from diagnose.record.fold import latest_reading
from diagnose.record.store import Record
from diagnose.session.questions import Choice, Question
from diagnose.wording import days, mid_sentence
from diagnose.work.results import Chosen, OrderLine, Task

YES, NO, NONE, LATER, FAILED = "yes", "no", "none", "later", "failed"
MOST_FAULTS = 8


def numbered(standing: Standing) -> dict[int, Task]:
    """The tasks of a plan by the number they are shown under: in the order of the schedule, tests due some hours on last."""
    slots = sorted(standing.plan.schedule.slots, key=lambda s: (s.start, s.end))
    order = [standing.tasks[s.task] for s in slots]
    return dict(enumerate((*order, *standing.plan.later), 1))


def parts(standing: Standing) -> list[str]:
    """What the plan needs, a line a part."""
    lines = []
    for line in standing.plan.order.lines:
        count = f"{line.count:g}{f' {line.unit}' if line.unit else ''} x " if line.count != 1 or line.unit else ""
        here = _where(line, standing)
        lines.append(f"{count}{line.title}: {line.need}, {here}{'; found only when apart' if line.only_when_apart else ''}")
    return lines or ["No parts are needed."]


def _where(line: OrderLine, standing: Standing) -> str:
    if line.buy <= 0:
        return "aboard"
    if standing.parts_here and line.need == "must":
        return "beside you"
    return f"to get, about {days(line.lead_days)}" if line.lead_days else "to get"


def parts_here(standing: Standing) -> Question:
    """Whether all parts that must be there are there: the first bolt waits for them."""
    must = [f"{line.title}{'' if line.count == 1 else f', {line.count:g}'}" for line in standing.plan.order.lines if line.need == "must"]
    confirm = standing.plan.order.confirm
    return Question("settled", "Before the first bolt: are all parts that must be there lying beside you, and the right ones?",
                    choices=(Choice("1", "yes, all", YES), Choice("2", "no, and it is begun all the same", NO)),
                    lines=(*(f"must be there: {m}" for m in must), *(f"see to it: {c}" for c in confirm), "q leaves until they are here."))


def renewed(job: str, book: Book) -> Question | None:
    """Which parts are new now, of those whose age counts; None where none does."""
    items = renewable(job, book)
    if not items:
        return None
    choices = tuple(Choice(str(i), book.words.service_items.get(item, item), item) for i, item in enumerate(items, 1))
    return Question("settled", f"{book.jobs[job].title} is through. Which of these is new now, or was made as new?",
                    choices=(*choices, Choice("0", "none of them", NONE)), lines=("Their age is counted from today.",))


def services(items: Sequence[str], at: datetime, hours: float | None) -> tuple[Entry, ...]:
    """The services that an answer tells of."""
    day = at.astimezone().date()
    return tuple(ServiceEntry(at=at, item=item, hours=hours, on=day) for item in items if item != NONE)


def hours_now(record: Record, boat: str) -> float | None:
    """The last reading of her engine hours, or None."""
    reading = latest_reading(record, boat)
    return reading.hours if reading is not None else None


def what_it_was(job: str, standing: Standing, book: Book) -> Question:
    """What a job that is through turned out to be for, seen from inside."""
    chances = {line.fault: line.chance for c in standing.plan.choice.chosen for line in c.cures}
    faults = sorted((f for f in book.jobs[job].cures if f in book.faults), key=lambda f: (-chances.get(f, 0.0), f))
    choices = tuple(Choice(str(i), book.faults[f].title, f) for i, f in enumerate(faults[:MOST_FAULTS], 1))
    more = (Choice("0", "nothing was wrong there after all", NONE), Choice("9", "something else, or not sure: told later", LATER))
    return Question("settled", f"{book.jobs[job].title}: what was it, now that you have seen it from inside? Several numbers are fine.",
                    choices=(*choices, *more),
                    lines=("What is found for certain moves how often it is expected on this boat. diagnose found tells more.",))


def findings(chosen: Sequence[str], at: datetime, before: Found | None) -> tuple[Entry, ...]:
    """What was found, as an answer tells it; the last finding of a case counts, so that it names what was found before too."""
    faults = tuple(f for f in chosen if f not in (NONE, LATER))
    if faults:
        known, other = (before.faults, before.not_in_book) if before is not None else ((), None)
        return (Found(at=at, faults=tuple(dict.fromkeys((*known, *faults))), not_in_book=other),)
    if LATER in chosen:
        return (Note(at=at, text="What it was is not told yet."),)
    return () if before is not None else (Found(at=at, nothing_wrong=True),)


def add_it(found: Chosen) -> Question:
    """Whether a job that pays now is put into the plan."""
    return Question("settled", f"Put it into the plan: {mid_sentence(found.title)}?",
                    choices=(Choice("1", "yes, it is done with the rest", YES), Choice("2", "no, it is left", NO)))


def passed(task: Task) -> Question:
    """Whether a test showed all that it must."""
    fails = (f"It has failed when: {task.fails}",) if task.fails else ()
    return Question("settled", f"Did it pass? It passes when: {task.passes}",
                    choices=(Choice("1", "yes, all of it", YES), Choice("2", "no", FAILED), Choice("3", "it could not be told", NO)),
                    lines=fails)
