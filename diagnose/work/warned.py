"""Where in a piece of work the cautions of its jobs are told: at a test that they belong to, or before the first hand goes to work.

A caution of a set-up or a step stands there. One that a job names as a whole is told at the tests its own entry speaks of, at every such
test; one that speaks of no test of this job is told at the job's first task, where no set-up or step of it tells it already.
"""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.knowledge.book import Book
from diagnose.knowledge.jobs import Job, ProofMoment, ProofTest
from diagnose.knowledge.lists import Caution
from diagnose.knowledge.worksteps import setups_of

_AS: dict[str | None, ProofMoment] = {"idle": "warm", "under-load": "under-load"}
"""A test some hours on is like that of which moment, by the engine's state."""


def at_first(job: Job, book: Book) -> tuple[str, ...]:
    """The cautions of a job that are told at its first task: its first set-up, or the steps that need no other first."""
    told = {c for s in setups_of(book, job.setups) for c in book.words.setups[s].cautions} | {c for s in job.steps for c in s.cautions}
    tested = {c for test in job.proof.tests for c in _of_job(job, _moment(test), book)}
    return tuple(c for c in job.cautions if c not in told | tested)


def at_test(tests: Iterable[tuple[Job, ProofTest]], book: Book) -> tuple[str, ...]:
    """The cautions of some tests made as one, in the order of the book."""
    made = [(job, _moment(test)) for job, test in tests]
    named = {c for job, moment in made for c in _of_job(job, moment, book)}
    moments = {moment for _, moment in made}
    return tuple(c.id for c in book.cautions.values() if c.id in named or (c.of_every_job and moments & set(c.tests)))


def _of_job(job: Job, moment: ProofMoment, book: Book) -> list[str]:
    listed: dict[str, Caution] = book.cautions
    return [c for c in job.cautions if c in listed and moment in listed[c].tests]


def _moment(test: ProofTest) -> ProofMoment:
    return test.when if test.when != "after-hours" else _AS.get(test.state, "cold")
