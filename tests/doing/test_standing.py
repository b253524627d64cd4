"""Where work stands, folded from a log: ticks, a plan made anew, tests, and whether the case may close."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from typing import Any

import pytest

from diagnose.case import load_case
from diagnose.doing.closing import ending
from diagnose.doing.finished import signs_of, through
from diagnose.doing.standing import standing_of
from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules, shipped
from diagnose.record.entries import AnyEntry, EventEntry, ProofMade, TaskTicked, WorkDone, WorkPlanned, digest
from diagnose.record.store import Stored
from diagnose.triage import assess
from diagnose.work.plan import plan
from diagnose.work.results import Plan, Task

START = datetime(2026, 5, 1, 8, tzinfo=timezone.utc)


@pytest.fixture(scope="module")
def book() -> Book:
    """The shipped rules."""
    return load_rules()


@pytest.fixture(scope="module")
def plans(book: Book) -> tuple[Plan, Plan]:
    """The plan of a shipped case, and the same with a job more that shares what must come off."""
    case = load_case(shipped("cases") / "slow-weep.yaml")
    found = assess(case, book)
    one = plan(found, case, book)
    return one, plan(found, case, book, jobs=(*one.jobs, "renew-coolant-hoses"), only=True)


class Log:
    """A log made by hand, each entry a minute after the one before."""

    def __init__(self) -> None:
        self.entries: list[Stored] = []

    def add(self, *entries: AnyEntry, taken_back: bool = False) -> None:
        """Put entries in, at the next moment."""
        at = START + timedelta(minutes=len(self.entries) + 1)
        for entry in entries:
            told = entry.model_copy(update={"at": at})
            self.entries.append(Stored(len(self.entries) + 1, "Brindle", "weep-1", told, taken_back, ""))

    def planned(self, made: Plan, book: Book) -> None:
        """Put a plan in."""
        text = made.model_dump_json()
        rules = assess(load_case(shipped("cases") / "healthy-boat.yaml"), book, next_check=False, ledger=False).rules
        self.add(WorkPlanned(plan=text, sha256=digest(text), rules=rules))

    def tick(self, task: Task, **how: str) -> None:
        """Tick a task off."""
        self.add(TaskTicked.model_validate({"task": task.id, "steps": task.steps, **how}))

    def made(self, test: Task, outcome: str = "passed") -> None:
        """Make a test."""
        why = None if outcome == "passed" else "as seen"
        self.add(ProofMade.model_validate({"test": test.do, "jobs": test.of, "outcome": outcome, "why": why}))

    def work(self) -> list[str]:
        """Go along what is next to the end, and give the ids in the order done."""
        done: list[str] = []
        while (task := self.standing.next) is not None:
            assert not self.standing.first_before(task)
            done.append(task.id)
            self.made(task) if task.kind == "proof" else self.tick(task)
        return done

    @property
    def standing(self) -> Any:
        """Where it stands."""
        found = standing_of(self.entries)
        assert found is not None
        return found


def test_next_goes_through_every_task_once(plans: tuple[Plan, Plan], book: Book) -> None:
    """Along what is next each task comes once, and after all it comes after."""
    for made in plans:
        log = Log()
        log.planned(made, book)
        assert sorted(log.work()) == sorted(t.id for t in made.tasks)
        assert log.standing.left_to_do == ()
        assert log.standing.unproved == made.later


def test_a_job_more_opens_again_only_what_it_must(plans: tuple[Plan, Plan], book: Book) -> None:
    """What was done stays done but for closings before which a new step comes, and their openings; done again, they count."""
    one, more = plans
    log = Log()
    log.planned(one, book)
    log.work()
    log.planned(more, book)
    standing = log.standing
    again = {t.id for t in standing.left_to_do} & {t.id for t in one.tasks}
    assert again
    for name in again:
        task = standing.tasks[name]
        assert task.kind in ("set-up", "put back") or task.puts_back or task.renews or task.takes_off
    assert standing.made == {}
    log.work()
    assert log.standing.left_to_do == ()
    assert log.standing.unproved == more.later


def test_left_out_says_why_and_a_tick_taken_back_does_not_count(plans: tuple[Plan, Plan], book: Book) -> None:
    """A task left out is no task to do; one taken back is."""
    log = Log()
    log.planned(plans[0], book)
    first = log.standing.next
    log.tick(first, how="left-out", why="it is off already")
    assert list(log.standing.left_out()) == [(first, "it is off already")]
    second = log.standing.next
    log.add(TaskTicked(task=second.id, steps=second.steps), taken_back=True)
    assert log.standing.next == second


def test_a_failed_test_stands_until_it_is_made_again(plans: tuple[Plan, Plan], book: Book) -> None:
    """It is next once more; passed, it is behind; and what is done of a job after it makes it owed again."""
    log = Log()
    log.planned(plans[0], book)
    while (task := log.standing.next).kind != "proof":
        log.tick(task)
    log.made(task, "failed")
    assert log.standing.next == task
    assert log.standing.failed == (task,)
    log.made(task)
    assert log.standing.failed == ()
    log.add(WorkDone(job=plans[0].jobs[0]))
    assert log.standing.made == {}


def test_a_case_closes_with_its_proof_or_with_the_reason(plans: tuple[Plan, Plan], book: Book) -> None:
    """Nothing planned wants a note; planned and not proved a reason; proved neither."""
    log = Log()
    with pytest.raises(InputError, match="not said how it ended"):
        ending(log.entries, "weep-1", None, None)
    with pytest.raises(InputError, match="nothing to prove"):
        ending(log.entries, "weep-1", "dry", "no time")
    assert ending(log.entries, "weep-1", "dry", None) == ("dry", None)
    log.planned(plans[0], book)
    with pytest.raises(InputError, match="is not proved"):
        ending(log.entries, "weep-1", "dry", None)
    assert ending(log.entries, "weep-1", None, "sold") == ("closed without its proof", "sold")
    log.work()
    for test in plans[0].later:
        log.made(test)
    assert ending(log.entries, "weep-1", None, None)[0].startswith("proved")
    with pytest.raises(InputError, match="all is proved"):
        ending(log.entries, "weep-1", None, "no time")


def test_a_job_through_tells_its_signs_and_its_event(book: Book) -> None:
    """Of every job: what its faults show on is history but for what outlasts the cure, and the event it leaves is told."""
    for job in book.jobs.values():
        work, *events = through(job.id, book, START)
        assert isinstance(work, WorkDone)
        direct = {s.symptom for f in job.cures for s in book.faults[f].shows if s.symptom is not None and not s.outlasts}
        assert direct <= set(work.signs)
        assert [e.event.event for e in events if isinstance(e, EventEntry)] == ([job.leaves] if job.leaves is not None else [])
    hidden = next(f for f in book.faults.values() if f.shows and all(s.condition is not None for s in f.shows))
    assert signs_of([hidden.id], book)
