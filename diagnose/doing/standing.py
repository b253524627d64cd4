"""Where the work of a case stands, folded from the log: the plan, what is ticked off, which proofs passed, what is owed.

A plan can be made anew while the work goes on. What was ticked off stays ticked, but for what the new plan opens again: a closing
counts only where every step before it was done before it, and where it counts no more, neither does the opening it closed. Tests
count only if they were made after all the work.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property

from pydantic import ValidationError

from diagnose.record.entries import MovedOn, ProofMade, TaskTicked, WorkDone, WorkPlanned
from diagnose.record.store import Stored
from diagnose.work.results import Plan, Task

WORKING = "work: "
"""What the work went on to begins so, in the note that says it did."""
PUT_BACK, SET_UP = "put back", "set-up"


@dataclass(frozen=True)
class Standing:
    """The work of one case as it stands.

    Attributes:
        plan: the last one.
        planned: its entry.
        ticks: by task or by step of a job, the last tick.
        makings: by the words of a test, every time it was made.
        through: jobs that are through, and the entry that says so.
        asked: what the work has asked already and need not again, each with what was answered, or nothing.
    """

    plan: Plan
    planned: Stored
    ticks: dict[str, TaskTicked]
    makings: Mapping[str, tuple[ProofMade, ...]]
    through: dict[str, Stored]
    asked: Mapping[str, str]

    @cached_property
    def tasks(self) -> dict[str, Task]:
        """All tasks of the plan by id, in an order in which they can be done; tests due some hours on are the last."""
        return {t.id: t for t in (*self.plan.tasks, *self.plan.later)}

    @cached_property
    def _steps_before(self) -> dict[str, frozenset[str]]:
        """The steps that come before each task, at whatever remove."""
        found: dict[str, frozenset[str]] = {}
        for t in self.plan.tasks:
            near = [b for b in t.after if b in found]
            steps = {b for b in near if self.tasks[b].kind == "step"}
            found[t.id] = frozenset(steps.union(*(found[b] for b in near)))
        return found

    @cached_property
    def ticked(self) -> dict[str, TaskTicked]:
        """Tasks ticked off, done or left out, that count in this plan, in its order."""
        said = {t.id: tick for t in self.tasks.values() if t.kind != "proof" and (tick := self._said(t)) is not None}
        undone: set[str] = set()
        while True:
            counted = {n: tick for n, tick in said.items() if n not in undone}
            again = {n for n in counted if self._opened_since(self.tasks[n], counted)}
            again |= {n for c in again for n in self._openings_of(self.tasks[c]) if n in said and said[n].at <= said[c].at}
            if again <= undone:
                return counted
            undone |= again

    def _said(self, task: Task) -> TaskTicked | None:
        """The tick of a task: of one that is several steps, the last of theirs once all are ticked."""
        if not task.steps:
            return self.ticks.get(task.id)
        found = [self.ticks.get(f"{job}/{step}") for job, step in task.steps]
        told = [tick for tick in found if tick is not None]
        return max(told, key=lambda tick: tick.at) if len(told) == len(found) else None

    def _opened_since(self, task: Task, counted: Mapping[str, TaskTicked]) -> bool:
        """Whether what was closed is open in this plan: a step before the closing is not done, or was done after it."""
        if task.kind != PUT_BACK and not (task.puts_back or task.renews):
            return False
        closed = counted[task.id].at
        return any(b not in counted or counted[b].at > closed for b in self._steps_before[task.id])

    def _openings_of(self, closing: Task) -> set[str]:
        """What opens that which this closes."""
        if closing.kind == PUT_BACK:
            return {f"{SET_UP}:{closing.id.partition(':')[2]}"}
        things = {*closing.puts_back, *closing.renews}
        return {t.id for t in self.plan.tasks if things & set(t.takes_off) and set(closing.of) & set(t.of)}

    def again(self, task: Task) -> tuple[Task, ...]:
        """What is done again with a task, in order: the task alone where nothing comes off or goes back by it; else all steps after it,
        what opens the way to them, and the steps between."""
        found, todo = {task.id}, [task]
        while todo:
            one = todo.pop()
            if not (one.takes_off or one.puts_back or one.renews):
                continue
            opening = self._openings_of(one)
            new = opening | {n for n in self._steps_before.get(one.id, ()) if opening & self._steps_before[n]}
            new |= {n for n, before in self._steps_before.items() if one.id in before and self.tasks[n].kind == "step"}
            todo += [self.tasks[n] for n in new - found]
            found |= new
        return tuple(t for t in self.tasks.values() if t.id in found and (t.id == task.id or t.id in self.ticked))

    @property
    def parts_here(self) -> bool:
        """Whether it was said that all parts lie there."""
        return self.asked.get("parts") == "yes"

    @property
    def left_to_do(self) -> tuple[Task, ...]:
        """Tasks not ticked off and no test, in order."""
        return tuple(t for t in self.plan.tasks if t.kind != "proof" and t.id not in self.ticked)

    @property
    def before_tests(self) -> tuple[Task, ...]:
        """Those of them that come before any test: not what shuts the way to what the tests look at."""
        return tuple(t for t in self.left_to_do if not any(self.tasks[b].kind == "proof" for b in t.after))

    @property
    def next(self) -> Task | None:
        """The next task of the plan, tests among them; a test that failed stands until it is made again. None where all is done."""
        waits = self._settled
        for slot in sorted(self.plan.schedule.slots, key=lambda s: (s.start, s.end)):
            task = self.tasks[slot.task]
            if task.id not in waits and all(b in waits for b in task.after):
                return task
        return None

    @cached_property
    def _settled(self) -> frozenset[str]:
        tests = {n for n, p in self.made.items() if p.outcome != "failed"}
        return frozenset({*self.ticked, *tests})

    def first_before(self, task: Task) -> tuple[Task, ...]:
        """Tasks that come before one, and are not done."""
        return tuple(self.tasks[b] for b in task.after if b not in self._settled)

    def waits(self, task: Task, now: datetime) -> list[tuple[str, datetime]]:
        """What must still work alone before a task, and until when. It has had its time where anything that comes after it is done.

        Args:
            task: of the plan.
            now: the moment.
        """
        found = []
        for name in task.after:
            tick, before = self.ticked.get(name), self.tasks.get(name)
            if tick is not None and before is not None and before.wait_minutes and tick.how == "done" and not self._gone_on(name, tick.at):
                until = tick.at + timedelta(minutes=float(before.wait_minutes))
                if until > now:
                    found.append((before.wait_why or before.do, until))
        return found

    def _gone_on(self, name: str, since: datetime) -> bool:
        return any(n in self.ticked and self.ticked[n].at >= since for n, t in self.tasks.items() if name in t.after)

    def is_closed_by(self, task: Task) -> bool:
        """Whether all that a task's jobs take off is back by then: what is seen from there on is of what is new."""
        closings = [t for t in self.plan.tasks if t.kind == "step" and (t.puts_back or t.renews) and set(t.of) & set(task.of)]
        return bool(closings) and all(t.id == task.id or t.id in self._steps_before.get(task.id, ()) for t in closings)

    # -------------------------------------------------------------- proofs

    @property
    def tests(self) -> tuple[Task, ...]:
        """All tests of the proof in their order, those some hours on last."""
        return tuple(t for t in self.tasks.values() if t.kind == "proof")

    @cached_property
    def made(self) -> dict[str, ProofMade]:
        """Tests made that count: all steps are ticked off, and none of the jobs was gone through since."""
        if any(t.kind == "step" and t.id not in self.ticked for t in self.plan.tasks):
            return {}
        since = max((self.through[j].entry.at for j in self.plan.jobs if j in self.through), default=None)
        found = ((t.id, made[-1]) for t in self.tests if (made := self.makings.get(t.do)))
        return {n: p for n, p in found if set(self.tasks[n].of) <= set(p.jobs) and (since is None or since <= p.at)}

    @property
    def unproved(self) -> tuple[Task, ...]:
        """Tests that did not pass, or were not made."""
        return tuple(t for t in self.tests if (p := self.made.get(t.id)) is None or p.outcome != "passed")

    @property
    def failed(self) -> tuple[Task, ...]:
        """Tests that failed when last made."""
        return tuple(t for t in self.tests if (p := self.made.get(t.id)) is not None and p.outcome == "failed")

    # -------------------------------------------------------------- jobs

    def tasks_of(self, job: str) -> tuple[Task, ...]:
        """The steps of a job."""
        return tuple(t for t in self.plan.tasks if t.kind == "step" and job in t.of)

    def is_through(self, job: str) -> bool:
        """Whether all steps of a job are ticked off, and one at least is done and not left out."""
        ticks = [self.ticked.get(t.id) for t in self.tasks_of(job)]
        return bool(ticks) and all(t is not None for t in ticks) and any(t is not None and t.how == "done" for t in ticks)

    def left_out(self) -> Iterable[tuple[Task, str]]:
        """Tasks left out, and why."""
        for name, tick in self.ticked.items():
            if tick.how == "left-out":
                yield self.tasks[name], tick.why or ""

    def minutes(self) -> tuple[float, float]:
        """Minutes told with the ticks, and what the plan gives for the same tasks."""
        told = [(tick.minutes, self.tasks[n]) for n, tick in self.ticked.items() if tick.minutes is not None]
        return sum(float(m or 0.0) for m, _ in told), sum(float(getattr(t, self.plan.hand)) for _, t in told)


def standing_of(log: Sequence[Stored]) -> Standing | None:
    """Fold the log of one case, or None where no work was planned, or by a version whose plan this one cannot read: then it is to be
    planned anew, and what was ticked stands.

    Args:
        log: its entries in the order they were added.
    """
    entries = [s for s in log if not s.taken_back]
    planned = [s for s in entries if isinstance(s.entry, WorkPlanned)]
    if not planned:
        return None
    last = planned[-1]
    plan = _plan(last.entry.plan) if isinstance(last.entry, WorkPlanned) else None
    if plan is None:
        return None
    ticks: dict[str, TaskTicked] = {}
    makings: dict[str, tuple[ProofMade, ...]] = {}
    through: dict[str, Stored] = {}
    asked: dict[str, str] = {}
    for stored in entries:
        entry = stored.entry
        if isinstance(entry, WorkPlanned):
            asked.pop("parts", None)  # another plan wants other parts
        elif isinstance(entry, TaskTicked):
            ticks.update({f"{job}/{step}": entry for job, step in entry.steps} or {entry.task: entry})
        elif isinstance(entry, ProofMade):
            makings[entry.test] = (*makings.get(entry.test, ()), entry)
        elif isinstance(entry, WorkDone):
            through[entry.job] = stored
        elif isinstance(entry, MovedOn) and entry.to.startswith(WORKING):
            asked[entry.to.removeprefix(WORKING)] = entry.note or ""
    return Standing(plan, last, ticks, makings, through, asked)


def _plan(text: str) -> Plan | None:
    try:
        return Plan.model_validate_json(text)
    except ValidationError:
        return None
