"""The plan that the work goes by: a first one, and made anew with jobs more. What was ticked off stays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.assessment import Assessment
from diagnose.doing.asker import LeftError
from diagnose.doing.desk import Desk
from diagnose.doing.standing import Standing
from diagnose.errors import InputError
from diagnose.record.entries import WorkPlanned, digest
from diagnose.work.ground import Hand, Moment
from diagnose.work.plan import plan
from diagnose.work.results import Plan


@dataclass(frozen=True)
class How:
    """How the work is planned: whose minutes, how many hands, how far ahead, which jobs in any case, and with the extras or without."""

    until: Moment = "season"
    hands: int = 1
    hand: Hand = "first_time"
    jobs: tuple[str, ...] = ()
    extras: bool = False


@dataclass(frozen=True)
class Planner:
    """Plans the work of the case on a desk."""

    desk: Desk
    how: How

    def first(self) -> None:
        """Make the first plan, show it and keep it.

        Raises:
            InputError: no job pays.
            LeftError: it could not be kept, so that nothing is begun.
        """
        desk, how = self.desk, self.how
        case, found = desk.judged()
        made = plan(found, case, desk.planned_book, until=how.until, hands=how.hands, hand=how.hand, jobs=how.jobs, extras=how.extras)
        if not made.jobs:
            raise InputError("no job pays now, so there is none to do", where=desk.head.id,
                             right=f"diagnose plan {desk.head.id}, which says why; or --job with a job of the book")
        desk.bench.whole_plan(made, desk.planned_book)
        if not desk.keep([self._entry(made, found, None)]):
            raise LeftError

    def add(self, standing: Standing, more: Sequence[str]) -> bool:
        """Make the plan with some jobs more; False, and told, where that could not be."""
        entry = self.with_jobs(standing, more)
        if entry is None or not self.desk.keep([entry]):
            return False
        self.tell(more)
        return True

    def with_jobs(self, standing: Standing, more: Sequence[str]) -> WorkPlanned | None:
        """The entry of a plan with some jobs more; None, and told, where there cannot be one."""
        case, found = self.desk.judged()
        try:
            made = plan(found, case, self.desk.planned_book, until=self.how.until, hands=standing.plan.schedule.hands,
                        hand=standing.plan.hand, jobs=(*standing.plan.jobs, *more), only=True)
        except InputError as error:
            self.desk.bench.fault(error)
            return None
        return self._entry(made, found, f"with it: {self._titles(more)}")

    def tell(self, more: Sequence[str]) -> None:
        """Say that some jobs are in the plan now, and what is to be got for them."""
        after = self.desk.standing()
        parts = [line for line in after.plan.order.lines if line.buy > 0 and set(line.jobs) & set(more)]
        self.desk.bench.say([f"In the plan now: {self._titles(more)}. {len(after.left_to_do)} tasks are left to do.",
                             *(f"To get: {line.title}." for line in parts)])

    def _titles(self, jobs: Sequence[str]) -> str:
        return "; ".join(self.desk.book.jobs[j].title for j in jobs)

    def _entry(self, made: Plan, found: Assessment, note: str | None) -> WorkPlanned:
        text = made.model_dump_json()
        return WorkPlanned(at=self.desk.moment(), plan=text, sha256=digest(text), rules=found.rules, note=note)
