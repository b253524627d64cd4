"""A test of the proof being made: its signs one by one, then what else it must show. One that fails is a finding."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from diagnose.doing import asked, proving, struck
from diagnose.doing.asker import Asker
from diagnose.doing.desk import Desk
from diagnose.knowledge.model import RUNNING
from diagnose.record.entries import MovedOn, ProofMade, Reopened
from diagnose.situation import resolve
from diagnose.work.results import Task

Outcome = Literal["passed", "failed", "not-made"]
_OUTCOMES: dict[str, Outcome] = {asked.YES: "passed", asked.FAILED: "failed", asked.NO: "not-made"}


@dataclass(frozen=True)
class Tester:
    """Makes the tests of the case on a desk."""

    desk: Desk
    asker: Asker

    def make(self, task: Task) -> bool:
        """Make a test. False where how it came out could not be kept.

        Raises:
            LeftError: the work is left.
            TakenBackError: an answer is taken back.
        """
        desk = self.desk
        since = self._begun(task)
        self.asker.signs(proving.to_ask(task, desk.book), since, f"It passes when: {task.passes}")
        worse = proving.in_words(proving.sighted(task, resolve(desk.case(), desk.book).seen, since, desk.book), desk.book)
        outcome = "failed" if worse else _OUTCOMES[self.asker.one(asked.passed(task))]
        if outcome == "failed":
            return self._failed(task, worse or task.fails or "as seen")
        if not self._keep(task, outcome, None if outcome == "passed" else "it could not be told"):
            return False
        desk.bench.say(["Passed, saved." if outcome == "passed" else "Not proved, saved."])
        return True

    def fail(self, task: Task, said: str) -> bool:
        """A test that is told to have failed, in words or none: its signs are asked all the same, for they say what it was.

        Raises:
            LeftError: the work is left.
            TakenBackError: an answer is taken back.
        """
        since, why = self._begun(task), said or "as seen"
        closed = self._keep_failed(task, why)
        if closed is None:
            return False
        self.asker.signs(proving.to_ask(task, self.desk.book), since, "Saved: it failed. What was to be seen at it?")
        return self._goes_on(task, why, closed)

    def _failed(self, task: Task, why: str) -> bool:
        """A test that failed by its signs. False where that could not be kept."""
        closed = self._keep_failed(task, why)
        return closed is not None and self._goes_on(task, why, closed)

    def _keep_failed(self, task: Task, why: str) -> bool | None:
        """Keep that a test failed, and open a closed case again: whether it was closed. None where it could not be kept."""
        if not self._keep(task, "failed", why):
            return None
        closed = self.desk.record.case_named(self.desk.head.id).closed
        if closed:
            self.desk.keep([Reopened(at=self.desk.moment(), why=f"a test failed: {task.do}")])
        return closed

    def _goes_on(self, task: Task, why: str, closed: bool) -> bool:
        """The case of a test that failed goes on, and is judged with what is known now."""
        desk = self.desk
        desk.bench.say([f"FAILED, saved: {why}."])
        found = desk.judged_and_kept()
        desk.bench.holds([h for h in found.holds if h.keeps_stopped or h.keeps_in], False, task.state in RUNNING)
        desk.bench.next_looks(found, task.state in RUNNING)
        desk.bench.say([f"The case {'is opened again' if closed else 'stays open'}. diagnose resume {desk.head.id} looks further; "
                        "add JOB puts a job into the plan; redo N does a step again; done makes the test again."])
        return True

    def not_made(self, task: Task, why: str) -> bool:
        """Keep that a test is not made, and why. False where it could not be kept."""
        return self._keep(task, "not-made", why)

    def _keep(self, task: Task, outcome: Outcome, why: str | None) -> bool:
        return self.desk.keep([ProofMade(at=self.desk.moment(), test=task.do, jobs=task.of, outcome=outcome, why=why)])

    def _begun(self, task: Task) -> datetime:
        """When this test was first asked of: answers since then count for it."""
        begun = struck.begun_at(self.desk.log(), task)
        if begun is not None:
            return begun
        at = self.desk.moment()
        self.desk.keep([MovedOn(at=at, to=f"{struck.TEST}{task.do}")])
        return at
