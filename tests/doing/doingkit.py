"""Work on a small invented book without a terminal: lines come from a list, and what is shown is kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any, cast

import smallbook as sb
from work import workkit as wk

from diagnose.assessment import RulesUsed
from diagnose.case import Case
from diagnose.commands.session import fingerprint
from diagnose.doing.asked import numbered
from diagnose.doing.bench import Bench
from diagnose.doing.desk import Desk as Shared
from diagnose.doing.loop import Working
from diagnose.doing.planning import How
from diagnose.doing.standing import Standing, standing_of
from diagnose.errors import DiagnoseError
from diagnose.knowledge.book import Book
from diagnose.record.entries import AnyEntry, ProofMade, TaskTicked, WorkDone, WorkPlanned, digest
from diagnose.record.keep import keep_case
from diagnose.record.store import Record, Stored
from diagnose.session.questions import Question
from diagnose.triage import assess
from diagnose.work.merge import later_tests, merge
from diagnose.work.results import Plan, Task
from diagnose.work.schedule import schedule

START = datetime(2026, 5, 1, 8, tzinfo=timezone.utc)
BOAT = "Brindle"
COLD, WARM, LATE = "Wipe it and look.", "Run her ten minutes and look.", "Look after five hours."


def sign(name: str, states: Sequence[str] = ("cold-stopped",), background: Sequence[float] = (0.01,)) -> dict[str, Any]:
    """A sign that is seldom seen without its fault."""
    return sb.symptom(f"{name}-seen", background, states=states)


def jobs() -> list[dict[str, Any]]:
    """A pump with three tests that look at signs and an event that it leaves; a seal behind the same cover; a worn cover; a belt."""
    by_name = {job["id"]: dict(job) for job in wk.JOBS}
    cold = wk.proved("cold", COLD, worst={"pump-worn-seen": "none", "stream-seen": "some"}, state="cold-stopped")
    warm = wk.proved("warm", WARM, minutes=10, worst={"stream-seen": "none"}, state="idle")
    steps = [{**step, "bares": ["seal-worn-seen"]} if step["id"] == "clean" else step for step in by_name["swap-pump"]["steps"]]
    by_name["swap-pump"] |= {"steps": steps, "leaves": "pump-work", "proof": {**by_name["swap-pump"]["proof"], "tests": [
        cold, warm, wk.proved("after-hours", LATE, hours=5)]}}
    return [by_name[name] for name in ("swap-pump", "swap-seal", "turn-cover", "renew-belt", "renew-filter")]


def book() -> Book:
    """The small book: the pump's work leaves an event, after which air is likelier; it shows on the stream."""
    faults = {name: how for name, how in wk.FAULTS.items() if name not in ("paint-flaking", "hull-soft")}
    after = [{"event": "pump-work", "chance": 0.2, "fades_over_hours": 20, "why": "invented"}]
    air = sb.fault("air-left", [sb.shows("stream-seen", (0.9, 0.6))], rate=0.01, outcomes=(("engine-lost", 0.2), ("nuisance", 0.8)),
                   after=after)
    return sb.book_of(sb.component(
        events=[{"id": "pump-work", "title": "Pump worked on", **sb.SAID}],
        symptoms=[*(sign(name) for name in faults), sign("stream", ("cold-stopped", "idle"), (0.01, 0.005))],
        faults=[*(wk.fault(name, **how) for name, how in faults.items()), air],
        jobs=[*jobs(), wk.job("bleed", ["air-left"], minutes=10)]), setups=wk.SETUPS, parts=wk.PARTS, service_items=wk.SERVICE)


def case(**more: Any) -> Case:
    """A pump that is seen to be worn, on a boat whose hours are known."""
    return sb.case_of(sb.seen("pump-worn-seen", "some", "cold-stopped"), sb.seen("belt-aged-seen", "none", "cold-stopped"),
                      boat={"name": BOAT, "engine_hours": 1200}, title="A worn pump", **more)


def kept(path: Path, rules: Book, given: Case) -> str:
    """A new record with the case judged and kept in it; the id of the case."""
    with Record.open(path) as record:
        return keep_case(record, given, assess(given, rules), at=START).case


def plan_of(made: Plan, rules: Book, *jobs: str) -> Plan:
    """A plan with these jobs of the book in place of its own."""
    chosen = [rules.jobs[name] for name in sorted(jobs)]
    tasks = merge(chosen, rules)
    return made.model_copy(update={"jobs": tuple(sorted(jobs)), "tasks": tasks, "schedule": schedule(tasks, 1, made.hand),
                                   "later": later_tests(chosen, rules)})


class Clock:
    """A clock that goes on by a second at every look, and by `later` when it is told to."""

    def __init__(self, start: datetime = START + timedelta(hours=1)) -> None:
        self.now = start

    def __call__(self) -> datetime:
        """The moment, one second later than the last."""
        self.now += timedelta(seconds=1)
        return self.now

    def later(self, **time: float) -> None:
        """Let time pass."""
        self.now += timedelta(**time)


@dataclass
class FakeBench:
    """Where the work is shown: keeps what it is handed, and gives the lines it was made with."""

    lines: list[str]
    said: list[str] = field(default_factory=list)
    shown: list[tuple[str, Any]] = field(default_factory=list)
    broken: list[str] = field(default_factory=list)

    def ask(self) -> str | None:
        """The next line."""
        return self.lines.pop(0) if self.lines else None

    def say(self, lines: Sequence[str]) -> None:
        """Keep sentences."""
        self.said += lines

    def fault(self, error: DiagnoseError) -> None:
        """Keep an error."""
        self.broken.append(error.what)

    def question(self, question: Question, *_: object) -> None:
        """Keep a question."""
        self.shown.append(("question", question))

    def task(self, _: Standing, task: Task, *more: Any) -> None:
        """Keep a task, and what it waits for."""
        self.shown.append(("task", (task.id, more[0])))

    def __getattr__(self, name: str) -> Any:
        return lambda *given: self.shown.append((name, given))

    @property
    def text(self) -> str:
        """All sentences in one line."""
        return " ".join(self.said)

    def of(self, kind: str) -> list[Any]:
        """What was shown of one kind, in order."""
        return [what for name, what in self.shown if name == kind]

    @property
    def tasks(self) -> list[str]:
        """The tasks shown, in order."""
        return [task for task, _ in self.of("task")]

    @property
    def asked(self) -> list[str]:
        """What was asked, in order: the sign it is about, or the question itself."""
        return [q.about.partition("@")[0] or q.ask for q in self.of("question")]


@dataclass
class Desk:
    """One case in a record, and what it is worked with."""

    path: Path
    case: str
    book: Book
    clock: Clock = field(default_factory=Clock)
    learned: list[tuple[str, str, str]] = field(default_factory=list)

    def work(self, *lines: str, jobs: Sequence[str] = (), status: int = 0, **how: Any) -> FakeBench:
        """A stretch of work: the record opened, these lines typed, the record closed."""
        screen = FakeBench(list(lines))
        with Record.open(self.path) as record:
            shared = Shared(self.book, self.book, record, record.case_named(self.case), cast(Bench, screen), clock=self.clock, **how)
            assert Working(shared, fingerprint, self._learn, How(jobs=tuple(jobs))).run() == status
        assert not screen.lines, "not all lines were asked for"
        return screen

    def _learn(self, job: str, step: str, text: str) -> str:
        self.learned.append((job, step, text))
        return "Learned."

    @property
    def log(self) -> tuple[Stored, ...]:
        """All entries of the case."""
        with Record.open(self.path, read_only=True) as record:
            return record.entries(case=self.case)

    def entries(self, *kinds: str) -> list[Any]:
        """The entries of some kinds that stand, or of all."""
        return [s.entry for s in self.log if not s.taken_back and (not kinds or s.entry.kind in kinds)]

    @property
    def standing(self) -> Standing:
        """Where the work stands."""
        found = standing_of(self.log)
        assert found is not None
        return found

    def number(self, task: str) -> int:
        """The number under which a task is listed."""
        return next(n for n, t in numbered(self.standing).items() if t.id == task)


class Log:
    """A log made by hand, each entry a minute after the one before."""

    def __init__(self, *plans: Plan) -> None:
        self.entries: list[Stored] = []
        for made in plans:
            self.planned(made)

    def add(self, *entries: AnyEntry, taken_back: bool = False) -> None:
        """Put entries in, all of one moment."""
        at = START + timedelta(minutes=len(self.entries) + 1)
        for entry in entries:
            told = entry.model_copy(update={"at": at})
            self.entries.append(Stored(len(self.entries) + 1, BOAT, "worn-1", told, taken_back, ""))

    def planned(self, made: Plan) -> None:
        """Put a plan in."""
        text = made.model_dump_json()
        self.add(WorkPlanned(plan=text, sha256=digest(text), rules=RulesUsed(version="1.2.3", digest="d" * 64)))

    def tick(self, task: Task, **how: Any) -> None:
        """Tick a task off."""
        self.add(TaskTicked.model_validate({"task": task.id, "steps": task.steps, **how}))

    def made(self, test: Task, outcome: str = "passed", of: Sequence[str] | None = None) -> None:
        """Make a test."""
        why = None if outcome == "passed" else "as seen"
        self.add(ProofMade.model_validate({"test": test.do, "jobs": of or test.of, "outcome": outcome, "why": why}))

    def work(self) -> list[str]:
        """Go along what is next to the end, tell of each job that is through by it, and give the ids in the order done."""
        done: list[str] = []
        while (task := (before := self.standing).next) is not None:
            done.append(task.id)
            self.made(task) if task.kind == "proof" else self.tick(task)
            for job in task.of if task.kind == "step" else ():
                if self.standing.is_through(job) and not before.is_through(job):
                    self.add(WorkDone(job=job))
        return done

    @property
    def standing(self) -> Standing:
        """Where it stands."""
        found = standing_of(self.entries)
        assert found is not None
        return found
