"""What is asked between two tasks: the parts, what lies open, whether what is seen there makes another job pay, what is new now, and
what it was."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial

from diagnose.assessment import Assessment
from diagnose.case import Case
from diagnose.doing import asked
from diagnose.doing.asker import Asker
from diagnose.doing.desk import Desk
from diagnose.doing.planning import Planner
from diagnose.doing.standing import Standing
from diagnose.doing.struck import SEEN
from diagnose.doing.surprise import surprises
from diagnose.record.entries import Entry, Found, MovedOn
from diagnose.work.results import Task


@dataclass
class Between:
    """Asks what is to be asked before the next task: each once."""

    desk: Desk
    asker: Asker
    planner: Planner
    _stops: frozenset[str] = field(default=frozenset(), init=False)

    def ask(self, standing: Standing, *, parts: bool) -> None:
        """Ask all that is open.

        Args:
            standing: of the work.
            parts: whether the parts are asked for, where nothing is ticked off yet.

        Raises:
            LeftError: the work is left.
            TakenBackError: an answer is taken back.
        """
        if parts and not standing.ticks and "parts" not in standing.asked:
            self.asker.settle(asked.parts_here(standing), "parts", lambda _: ())
        for name, tick in standing.ticked.items():
            task = standing.tasks[name]
            if task.bares and tick.how == "done" and f"seen {name}" not in standing.asked:
                self._look(task, tick.at)
        book, through = self.desk.book, [j for j in standing.plan.jobs if j in standing.through]
        for job in through:
            question = asked.renewed(job, book)
            if question is not None and f"renewed {job}" not in standing.asked:
                hours = asked.hours_now(self.desk.record, self.desk.head.boat)
                self.asker.settle(question, f"renewed {job}", partial(self._services, hours))
        for job in through if not standing.left_to_do else ():
            if f"found {job}" not in standing.asked:
                self.asker.settle(asked.what_it_was(job, standing, book), f"found {job}", self._findings)

    def before_closing(self, standing: Standing, tasks: Sequence[Task]) -> None:
        """Ask what lay open in several tasks told of at once, before they count: once a job is through, what is asked is of the new part.
        What is bared when all is closed again is of the new part, and is asked when they count.

        Args:
            standing: of the work.
            tasks: about to be ticked off.

        Raises:
            LeftError: the work is left.
            TakenBackError: an answer is taken back.
        """
        for task in tasks:  # no job is offered for what is closed again
            if task.bares and f"seen {task.id}" not in standing.asked and not standing.is_closed_by(task):
                self._see(task, standing.planned.entry.at, "It lay open: what was to be seen there?")
                self._tell_stops()
                self._seen(task)

    def _services(self, hours: float | None, items: Sequence[str]) -> tuple[Entry, ...]:
        return asked.services(items, self.desk.moment(), hours)

    def _findings(self, keys: Sequence[str]) -> tuple[Entry, ...]:
        told = [s.entry for s in self.desk.log() if isinstance(s.entry, Found) and not s.taken_back]
        return asked.findings(keys, self.desk.moment(), told[-1] if told else None)

    def _look(self, task: Task, since: datetime) -> None:
        """What can be judged while it is apart, asked sign by sign; then whether it makes another job pay. It is marked as seen only
        when all of that is answered."""
        self._see(task, since, "It lies open: look while it does.")
        self._offer(*self._tell_stops())
        self._seen(task)

    def _see(self, task: Task, since: datetime, intro: str) -> None:
        symptoms = self.desk.book.symptoms
        self.asker.signs([(n, symptoms[n].states[0]) for n in task.bares if n in symptoms], since, intro)

    def _seen(self, task: Task) -> None:
        self.desk.keep([MovedOn(at=self.desk.moment(), to=f"{SEEN}{task.id}")])

    def _tell_stops(self) -> tuple[Case, Assessment]:
        """Tell stops that are new. Gives the case as it is known now, and its judgement."""
        case, found = self.desk.judged()
        planned = self.desk.standing().plan.stops
        new = [h for h in found.holds if h.id not in self._stops and f"{h.say} Lifted by: {h.cleared_by}" not in planned]
        self.desk.bench.holds(new, False, False)
        if any(h.allowed for h in new):
            self.desk.bench.say(["What is allowed there is so once she is whole again."])
        self._stops |= {h.id for h in new}
        return case, found

    def _offer(self, case: Case, found: Assessment) -> None:
        """Offer the jobs that pay by what was just seen, each once."""
        desk, how = self.desk, self.planner.how
        standing = desk.standing()
        declined = [name.removeprefix("not ") for name in standing.asked if name.startswith("not ")]
        for one in surprises(found, case, desk.planned_book, standing.plan.jobs, declined, how.until, standing.plan.hand):
            desk.bench.offer(one)
            self.asker.settle(asked.add_it(one), f"not {one.job}", partial(self._wanted, one.job))
            if one.job in desk.standing().plan.jobs:
                self.planner.tell([one.job])

    def _wanted(self, job: str, keys: Sequence[str]) -> tuple[Entry, ...]:
        """The plan with a job that was offered: kept with the answer, so that neither is there without the other."""
        entry = self.planner.with_jobs(self.desk.standing(), [job]) if asked.NO not in keys else None
        return () if entry is None else (entry,)
