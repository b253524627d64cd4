"""Ways to the same end compared: time, access, what can be inspected, waste, and how often each is enough."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.knowledge.jobs import Job
from diagnose.knowledge.text import did_you_mean
from diagnose.knowledge.worksteps import setups_of
from diagnose.work import ownwords
from diagnose.work.choose import enough
from diagnose.work.ground import Ground, full_minutes
from diagnose.work.results import WayLine, Ways
from diagnose.work.tries import best_order, cost_if_independent


def ends_of(book: Book) -> dict[str, tuple[Job, ...]]:
    """The ends to which the book has ways, with the jobs that lead there."""
    found: dict[str, list[Job]] = {}
    for job in book.jobs.values():
        if job.way is not None:
            found.setdefault(job.way.to, []).append(job)
    return {end: tuple(jobs) for end, jobs in found.items()}


def ways(ground: Ground, name: str) -> Ways:
    """The ways to one end.

    Args:
        ground: the case whose parts aboard count.
        name: an end that jobs name, a fault, or a job: then all that lead where it leads.

    Raises:
        InputError: a name the book does not know.
    """
    book = ground.book
    name = book.now_called(name)
    ends = ends_of(book)
    job = book.jobs.get(name)
    if job is not None:
        name = job.way.to if job.way is not None else job.cures[0]
    if name in ends:
        jobs = ends[name]
    elif name in book.faults:
        jobs = book.jobs_for.get(name, ())
        jobs = tuple({j.id: j for one in jobs for j in (one, *(ends[one.way.to] if one.way is not None else ()))}.values())
    else:
        raise InputError(f"'{name}' is neither a fault nor an end that the book has ways to",
                         right=did_you_mean(name, [*book.faults, *ends, *book.jobs]))
    return _ways(ground, name, sorted(jobs, key=lambda j: j.id))


def ways_of_case(ground: Ground) -> tuple[Ways, ...]:
    """The ends with more than one way, for the faults of a case that are likely enough to be cured, likeliest first."""
    likely = ground.book.words.work.likely
    faults = sorted((f for f in ground.assessment.all_probabilities if f in ground.book.jobs_for and ground.chance(f) >= likely),
                    key=lambda f: (-ground.chance(f), f))
    found: dict[tuple[str, ...], Ways] = {}
    for fault in faults:
        made = ways(ground, fault)
        if len(made.lines) > 1:
            found.setdefault(tuple(line.job for line in made.lines), made)
    return tuple(found.values())


def _ways(ground: Ground, to: str, jobs: Sequence[Job]) -> Ways:
    work = ground.book.words.work.hour_now
    chances = [enough(j) for j in jobs]
    takes = [work * full_minutes(j, ground.book, "first_time") / 60.0 + ground.buying(j) for j in jobs]
    order = best_order(chances, takes)
    failed = 1.0
    for chance in chances:
        failed *= 1.0 - chance
    return Ways(to=to, faults=tuple(dict.fromkeys(f for j in jobs for f in j.cures)),
                lines=tuple(_line(ground, jobs[i], takes[i], place + 1) for place, i in enumerate(order)),
                expected_hours=cost_if_independent(order, chances, takes), enough_in_all=1.0 - failed)


def _line(ground: Ground, job: Job, takes: float, place: int) -> WayLine:
    book, missing = ground.book, ground.missing(job)
    setups = setups_of(book, job.setups)
    fluids = dict.fromkeys(d.fluid for step in job.steps for d in step.drains)
    return WayLine(
        job=job.id, title=job.title, enough=enough(job), skilled=full_minutes(job, book, "skilled"),
        first_time=full_minutes(job, book, "first_time"), waits=sum(s.wait.minutes for s in job.steps if s.wait is not None),
        access=(*(book.words.setups[s].title for s in setups),
                *ownwords.access_of(setups, ((job.id, step.id) for step in job.steps), book)), afloat=job.afloat,
        inspects=job.way.inspects if job.way is not None else "; ".join(job.look_while_open),
        waste=job.way.waste if job.way is not None else ", ".join(fluids), missing=missing, lead_days=ground.lead_days(missing),
        takes=takes, place=place)
