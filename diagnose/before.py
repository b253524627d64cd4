"""What was seen before the work of a case, made ready to be weighed: for and against the faults that the work did not cure."""

from __future__ import annotations

from dataclasses import dataclass, replace

from diagnose.case import WorkTold
from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.knowledge.text import did_you_mean
from diagnose.network.nodes import sign_id
from diagnose.network.past import Past
from diagnose.prior import brought_on, prior_of
from diagnose.situation import Situation, ages_of


@dataclass(frozen=True)
class _Work:
    """The work told of, by the book: the faults it cured, whether each fault was found where that is told, and the events that it was.

    A fault found and left is not among the cured, also where one of the jobs is for it.
    """

    cured: frozenset[str]
    found: dict[str, bool]
    events: frozenset[str]


def past_of(situation: Situation, book: Book) -> Past | None:
    """What is known of before the work, and of what was found; None where no work is told of.

    The chances of then are those of now without the events that the work was, with the ages of parts that they had before it. Without a
    job that was done there was no then: only what was found and is there still is told.

    Args:
        situation: of the case.
        book: the rules.

    Raises:
        InputError: a job, a fault or a service item is not in the book, or something was found in a job that was not done.
    """
    told = situation.case.work
    if told is None:
        return None
    work = _resolved(told, book)
    earlier = replace(situation, events={e: h for e, h in situation.events.items() if e not in work.events},
                      ages=_ages_before(situation, told, book))
    own = situation.own_rates
    happened = replace(situation, events={e: h for e, h in situation.events.items() if e in work.events})
    anew = [f for f in book.faults.values() if f.id not in work.cured and any(a.event in happened.events for a in f.after)]
    return Past(
        cured={f: (prior_of(book.faults[f], earlier, own.get(f, 1.0)),
                   prior_of(book.faults[f], situation, own.get(f, 1.0), cured_hours=told.hours_ago)) for f in sorted(work.cured)},
        anew={f.id: (prior_of(f, earlier, own.get(f.id, 1.0)), brought_on(f, happened)) for f in anew},
        signs={sign_id(s.symptom, s.state): s.likelihood for s in situation.seen if s.epoch == "before"} if told.jobs else {},
        found=work.found)


def _resolved(told: WorkTold, book: Book) -> _Work:
    jobs = [book.jobs[_job(name, book, f"work.jobs[{i}]")] for i, name in enumerate(told.jobs)]
    found: dict[str, bool] = {}
    for name, faults in told.found.items():
        where = f"work.found.{name}"
        job = book.jobs[_job(name, book, where)]
        if job not in jobs:
            raise InputError("is not among the jobs done", where=where, right=", ".join(told.jobs))
        named = {book.now_called(f) for f in faults}
        wrong = next((f for f in sorted(named) if f not in book.faults), None)
        if wrong is not None:
            raise InputError(f"fault '{wrong}' is not in the book", where=where, right=did_you_mean(wrong, list(job.cures)))
        found |= {f: f in named or found.get(f, False) for f in {*job.cures, *named}}
    cured = {f for job in jobs for f in job.cures} | {f for f, was in found.items() if was}
    for i, name in enumerate(told.not_cured):
        where = f"work.not_cured[{i}]"
        fault = book.now_called(name)
        if fault not in book.faults:
            raise InputError(f"fault '{name}' is not in the book", where=where, right=did_you_mean(name, list(book.faults)))
        found[fault] = True
        cured.discard(fault)  # whatever the job is for: it was left
    return _Work(frozenset(cured & book.faults.keys()), found, frozenset(job.leaves for job in jobs if job.leaves is not None))


def _job(name: str, book: Book, where: str) -> str:
    current = book.now_called(name)
    if current not in book.jobs:
        raise InputError(f"job '{name}' is not in the book", where=where, right=did_you_mean(name, list(book.jobs)))
    return current


def _ages_before(situation: Situation, told: WorkTold, book: Book) -> dict[str, float]:
    """Engine hours since each service item, of what is new since the work as it was known before it."""
    case = situation.case
    for item in told.renewed:
        if item not in book.words.service_items:
            raise InputError(f"'{item}' is not a service item of the book", where=f"work.renewed.{item}",
                             right=did_you_mean(item, list(book.words.service_items)))
    kept = {item: s for item, s in case.boat.serviced.items() if item not in told.renewed}
    before = {**kept, **{item: s for item, s in told.renewed.items() if s is not None}}
    return ages_of(case.model_copy(update={"boat": case.boat.model_copy(update={"serviced": before})}), book, situation.hours_a_year, [])
