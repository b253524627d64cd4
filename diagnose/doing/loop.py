"""The work as a session: one task at a time, ticked off, looked at while it is open, proved. Each answer is saved before the next."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import datetime, timedelta, timezone
from functools import partial

from diagnose.assessment import Assessment
from diagnose.case import Case
from diagnose.doing import asked, finished, proving, struck
from diagnose.doing.bench import Bench
from diagnose.doing.proving import Owed
from diagnose.doing.standing import WORKING, Standing, standing_of
from diagnose.doing.surprise import surprises
from diagnose.doing.ticking import listed, through_by, ticks_of
from diagnose.doing.typed import BACK, LeftError, Order, TakenBackError, read
from diagnose.errors import DiagnoseError, InputError
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import RUNNING, EngineState
from diagnose.record.entries import (
    Assessed,
    Entry,
    Found,
    HoursEntry,
    MovedOn,
    Note,
    Observed,
    PassedOver,
    Photo,
    ProofMade,
    Reopened,
    TakenBack,
    WorkPlanned,
    digest,
)
from diagnose.record.hourlog import hour_log
from diagnose.record.learn import learned_case
from diagnose.record.store import CaseHead, Record, Stored
from diagnose.session import asking
from diagnose.session.answers import Reader
from diagnose.session.match import Index
from diagnose.session.progress import progress_of
from diagnose.session.questions import Question
from diagnose.situation import resolve
from diagnose.triage import assess
from diagnose.units import parse_quantity
from diagnose.work.ground import Hand, Moment
from diagnose.work.plan import plan
from diagnose.work.results import Plan, Task

INTERRUPTED = 130
"""Exit status of work that Ctrl-C broke off."""
TICK = timedelta(microseconds=1)
EARLY = datetime.min.replace(tzinfo=timezone.utc)
MOST_MINUTES = 100_000.0
"""More than any work takes, and than the record keeps."""
_DETAILS = ("unit", "between", "measurand", "when", "revs", "which")
"""Questions of detail that an answer about a sign may lead to."""


@dataclass(frozen=True)
class How:
    """How the work is planned: whose minutes, how many hands, how far ahead, which jobs in any case, and with the extras or without."""

    until: Moment = "season"
    hands: int = 1
    hand: Hand = "first_time"
    jobs: tuple[str, ...] = ()
    extras: bool = False


@dataclass
class Working:
    """One stretch of work on a case. Everything that lasts lies in the record."""

    book: Book
    """The rules that the case is judged with."""
    planned_book: Book
    """The same, with what was learned on this boat."""
    record: Record
    head: CaseHead
    bench: Bench
    fingerprint: Callable[[str], tuple[str, str]]
    learn: Callable[[str, str, str], str]
    """Keeps a sentence about a job's step in the boat's own file, and says where; raises InputError where it cannot."""
    by: str | None = None
    how: How = How()
    tests_only: bool = False
    clock: Callable[[], datetime] = lambda: datetime.now(timezone.utc)
    _stack: ExitStack = field(default_factory=ExitStack)
    _last_at: datetime = EARLY
    _began: datetime = EARLY
    _shown: Assessment | None = None
    _told: frozenset[str] = frozenset()
    _stops: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        self.reader: Reader = Reader(self.book, Index(self.book), self.head.boat, self.fingerprint)

    def run(self, *, take_over: bool = False) -> int:
        """The work, from where it stands until it is left or all is done. Gives the exit status.

        Raises:
            RecordError: another session holds the case.
            InputError: there is nothing to prove, or nothing to do.
        """
        with self._stack:
            self._stack.enter_context(self.record.hold_case(self.head.id, take_over=take_over))
            try:
                self._begin()
                self._began = self._moment()
                self._loop()
            except LeftError:
                return 0
            except KeyboardInterrupt:
                self.bench.say(["", self._saved()])
                return INTERRUPTED
        return 0

    # -------------------------------------------------------------- the record

    def _log(self) -> tuple[Stored, ...]:
        log = self.record.entries(case=self.head.id)
        self._last_at = max(self._last_at, log[-1].entry.at)
        return log

    def _standing(self) -> Standing:
        found = standing_of(self._log())
        assert found is not None, "the plan is kept before anything is done"
        return found

    def _moment(self) -> datetime:
        """Now; always later than the last moment used: what is taken back together is told by it."""
        self._last_at = max(self.clock(), self._last_at + TICK)
        return self._last_at

    def _keep(self, entries: Sequence[Entry]) -> bool:
        """Put entries into the log, all or none. What could not be saved is told, and the same question stands."""
        signed = [e.model_copy(update={"by": self.by}) for e in entries] if self.by else list(entries)
        try:
            self.record.append_all(signed, boat=self.head.boat, case=self.head.id)
        except DiagnoseError as error:
            self.bench.fault(error)
            self.bench.say(["NOT SAVED, so not taken. What was ticked before is safe."])
            return False
        return True

    def _judged(self) -> tuple[Case, Assessment]:
        case = learned_case(self.record, self.head.id, self.book, now=self._moment())
        return case, assess(case, self.book)

    def _saved(self) -> str:
        return f"Saved. diagnose {'prove' if self.tests_only else 'work'} {self.head.id} goes on."

    # -------------------------------------------------------------- the plan

    def _begin(self) -> None:
        """The plan as it stands, or a first one. New jobs named on the way in come into it."""
        standing = standing_of(self._log())
        if standing is None:
            if self.tests_only:
                raise InputError("no work was planned", where=self.head.id, right=f"diagnose work {self.head.id}, which plans it")
            self._plan_first()
            return
        more = [j for j in map(self.book.now_called, self.how.jobs) if j not in standing.plan.jobs]
        if more:
            self._replan(standing, more)
        elif standing.ticks:
            done = len(standing.ticked)
            self.bench.say([f"{self.head.boat}: {self.head.title}", f"{done} of {done + len(standing.left_to_do)} tasks are ticked off."])

    def _plan_first(self) -> None:
        case, found = self._judged()
        how = self.how
        made = plan(found, case, self.planned_book, until=how.until, hands=how.hands, hand=how.hand, jobs=how.jobs, extras=how.extras)
        if not made.jobs:
            raise InputError("no job pays now, so there is none to do", where=self.head.id,
                             right=f"diagnose plan {self.head.id}, which says why; or --job with a job of the book")
        self.bench.whole_plan(made, self.planned_book)
        if not self._keep([self._plan_entry(made, found, None)]):
            raise LeftError

    def _replan(self, standing: Standing, more: Sequence[str]) -> bool:
        """The plan with some jobs more; what was ticked stays."""
        entry = self._planned_with(standing, more)
        if entry is None or not self._keep([entry]):
            return False
        self._say_planned(more)
        return True

    def _planned_with(self, standing: Standing, more: Sequence[str]) -> WorkPlanned | None:
        """The entry of a plan with some jobs more; None, and told, where there cannot be one."""
        case, found = self._judged()
        jobs = (*standing.plan.jobs, *more)
        try:
            made = plan(found, case, self.planned_book, until=self.how.until, hands=standing.plan.schedule.hands, hand=standing.plan.hand,
                        jobs=jobs, only=True)
        except InputError as error:
            self.bench.fault(error)
            return None
        return self._plan_entry(made, found, f"with it: {self._titles(more)}")

    def _titles(self, jobs: Sequence[str]) -> str:
        return "; ".join(self.book.jobs[j].title for j in jobs)

    def _say_planned(self, more: Sequence[str]) -> None:
        after = self._standing()
        parts = [line for line in after.plan.order.lines if line.buy > 0 and set(line.jobs) & set(more)]
        self.bench.say([f"In the plan now: {self._titles(more)}. {len(after.left_to_do)} tasks are left to do.",
                        *(f"To get: {line.title}." for line in parts)])

    def _plan_entry(self, made: Plan, found: Assessment, note: str | None) -> WorkPlanned:
        text = made.model_dump_json()
        return WorkPlanned(at=self._moment(), plan=text, sha256=digest(text), rules=found.rules, note=note)

    # -------------------------------------------------------------- the loop

    def _loop(self) -> None:
        going = True
        while going:
            try:
                going = self._turn()
            except TakenBackError:
                continue

    def _turn(self) -> bool:
        """What is to be asked, then one task. False where the work is left, or all is done."""
        if not self._asides(self._standing()):
            return False
        standing = self._standing()
        task = self._next(standing)
        if task is None:
            self._end(standing)
            return False
        self._show(standing, task)
        return self._at(standing, task)

    def _next(self, standing: Standing) -> Task | None:
        """What is to be done now. Tests that could not be made come again, after the others, when the tests are taken up anew."""
        if standing.left_to_do and not self.tests_only:
            return standing.next
        if standing.left_to_do:
            return standing.left_to_do[0]
        put_off = {n: p.at for n, p in standing.made.items() if p.outcome == "not-made"}
        ripe = [o.task for o in self._owed(standing) if o.ripe]
        first = [t for t in ripe if t.id not in put_off]
        again = [t for t in ripe if self.tests_only and t.id in put_off and put_off[t.id] < self._began]
        return next(iter([*first, *again]), standing.next)

    def _owed(self, standing: Standing) -> tuple[Owed, ...]:
        return proving.owed(standing, hour_log(self.record, self.head.boat, self.book), self.clock())

    def _show(self, standing: Standing, task: Task) -> None:
        self.bench.task(standing, task, standing.waits(task, self.clock()), self.planned_book, self._told)
        self._told |= {*task.cautions}

    def _at(self, standing: Standing, task: Task) -> bool:
        """Lines read at one task, until something moved it. False where the work is left."""
        while True:
            typed = self.bench.ask()
            if typed is None:
                self.bench.say([self._saved()])
                return False
            order = read(typed)
            if order.word == "quit":
                self.bench.say([self._saved()])
                return False
            if self._obey(order, standing, task):
                return True

    def _obey(self, order: Order, standing: Standing, task: Task) -> bool:
        """Do what a line asks for; True where the next task is to be shown."""
        try:
            match order.word:
                case "done":
                    return self._done(order, standing, task)
                case "leave out":
                    return self._leave_out(order, task)
                case "failed" if task.kind == "proof":
                    return self._prove(task, order.text or "as seen", failed=True)
                case "all":
                    return self._all(standing)
                case "redo":
                    return self._redo(order, standing)
                case "add":
                    return self._add(order, standing)
                case "back":
                    return self._back()
                case "note" | "photo" | "learn" | "hours":
                    self._aside(order, task)
                case "list":
                    self.bench.listing(standing)
                case "parts":
                    self.bench.say(asked.parts(standing))
                case "help":
                    self.bench.keys()
                case _:
                    what = "Nothing was taken" if order.word == "nothing" else f"'{order.text[:40]}' is not known here"
                    self.bench.say([f"{what}. done ticks this off; h tells what else may be typed."])
        except DiagnoseError as error:
            right = f" Right would be: {error.right}." if error.right else ""
            self.bench.say([f"Not taken: {error.what}.{right}"])
        return False

    # -------------------------------------------------------------- ticks

    def _done(self, order: Order, standing: Standing, task: Task) -> bool:
        if order.first is None and task.kind == "proof":
            return self._prove(task, "")
        if (order.minutes or 0.0) > MOST_MINUTES:
            raise InputError(f"{order.minutes:g} minutes cannot be", right=f"at most {MOST_MINUTES:g}")
        chosen = [task] if order.first is None else listed(standing, order.first, order.last)
        waits = () if order.waited else [w for t in chosen for w in standing.waits(t, self.clock())]
        if waits:
            self.bench.say([f"Not yet: {why}, until {until.astimezone():%d %B %H:%M}. If it has had its time all the same: done waited."
                            for why, until in waits])
            return False
        return self._tick(chosen, order.minutes)

    def _tick(self, tasks: Sequence[Task], minutes: float | None = None, why: str | None = None) -> bool:
        """Ticks, and what follows where a job is through by them."""
        at, log = self._moment(), self._log()
        ticks = ticks_of(tasks, self._standing().plan, at, minutes, why)
        jobs = through_by(ticks, log)
        if not self._keep([*ticks, *(e for j in jobs for e in finished.through(j, self.book, at))]):
            return False
        self.bench.say([f"{'Left out' if why else 'Done'}: {len(tasks)} task{'s' if len(tasks) > 1 else ''}, saved.",
                        *(f"Through: {self.book.jobs[j].title}. What was seen before it is history now." for j in jobs)])
        return True

    def _leave_out(self, order: Order, task: Task) -> bool:
        if not order.text.strip():
            raise InputError("what is left out says why", right="x and the reason, on one line")
        if task.kind == "proof":
            return self._keep([self._proof(task, "not-made", order.text)])
        return self._tick([task], why=order.text)

    def _all(self, standing: Standing) -> bool:
        if not standing.left_to_do:
            raise InputError("all is ticked off but the tests", right="done, at each test")
        kept = [t for t in standing.left_to_do if not any(standing.tasks[b].kind == "proof" for b in t.after)]
        return self._tick(kept or standing.left_to_do)

    def _redo(self, order: Order, standing: Standing) -> bool:
        task = asked.numbered(standing).get(order.first or 0)
        if task is None or (task.id not in standing.ticked and task.id not in standing.made):
            raise InputError("there is no such task that is done", right="redo and a number that list shows as done")
        if not self._strike(struck.of_task(self._log(), task), "to be done again"):
            return False
        self.bench.say([f"To be done again: {task.do}"])
        return True

    def _back(self) -> bool:
        last = struck.last_answer(self._log())
        if not last:
            raise InputError("there is nothing to take back", right="q leaves")
        if self._strike(last, "taken back"):
            self.bench.say(["Crossed out, kept in the record: the last answer."])
        return True

    def _back_from_question(self) -> None:
        """`b` at a question: the answer before it goes.

        Raises:
            TakenBackError: it went.
        """
        try:
            self._back()
        except InputError as error:
            self.bench.say([f"Not taken: {error.what}."])
        else:
            raise TakenBackError

    def _strike(self, entries: Sequence[Stored], reason: str) -> bool:
        at = self._moment()
        return self._keep([TakenBack(at=at, entry=s.id, reason=reason) for s in entries])

    def _add(self, order: Order, standing: Standing) -> bool:
        job = self.book.now_called(order.text.strip())
        if job in standing.plan.jobs:
            raise InputError("is in the plan already", where=job, right="list, which shows it")
        return self._replan(standing, [job])

    def _aside(self, order: Order, task: Task) -> None:
        """What is kept beside the work and moves nothing: a note, a photo, hours of the engine, something learned on this boat."""
        at, about = self._moment(), f"{task.do}"
        if order.word == "hours":
            text = f"{order.text} hour" if order.text.replace(".", "", 1).isdigit() else order.text
            hours = parse_quantity(text, "hour", what="engine hours", possible=(0, 200_000))
            if self._keep([HoursEntry(at=at, engine_hours=hours)]):
                self.bench.say([f"Taken: {hours:g} engine hours."])
            return
        if not order.text.strip():
            raise InputError("there is nothing after it", right="n and a note, p and a path, learn and a sentence, on one line")
        if order.word == "photo":
            path, sha = self.fingerprint(order.text)
            if self._keep([Photo(at=at, path=path, sha256=sha, about=about)]):
                self.bench.say([f"Photo kept: {path}"])
        elif order.word == "learn":
            if not task.steps:
                raise InputError("it can be kept of a step of a job only", right="n for a note")
            self.bench.say([self.learn(*task.steps[0], order.text)])
        elif self._keep([Note(at=at, text=order.text, about=about)]):
            self.bench.say(["Note kept."])

    # -------------------------------------------------------------- what is asked between tasks

    def _asides(self, standing: Standing) -> bool:
        """What is to be asked before the next task. False where the work is left."""
        first = not standing.ticks and "parts" not in standing.asked and not self.tests_only
        if first and not self._choice(asked.parts_here(standing), "parts", lambda _: ()):
            return False
        for name, tick in standing.ticked.items():
            task = standing.tasks[name]
            bared = task.bares and tick.how == "done" and f"seen {name}" not in standing.asked
            if bared and not self._look(task, tick.at):
                return False
        for job in standing.plan.jobs:
            question = asked.renewed(job, self.book) if job in standing.through else None
            if question is not None and f"renewed {job}" not in standing.asked:
                hours = asked.hours_now(self.record, self.head.boat)
                if not self._choice(question, f"renewed {job}", partial(self._services, hours)):
                    return False
        for job in standing.plan.jobs if not standing.left_to_do else ():
            if job in standing.through and f"found {job}" not in standing.asked:
                question = asked.what_it_was(job, standing, self.book)
                if not self._choice(question, f"found {job}", self._findings):
                    return False
        return True

    def _services(self, hours: float | None, items: Sequence[str]) -> tuple[Entry, ...]:
        return asked.services(items, self._moment(), hours)

    def _findings(self, keys: Sequence[str]) -> tuple[Entry, ...]:
        told = [s.entry for s in self._log() if isinstance(s.entry, Found) and not s.taken_back]
        return asked.findings(keys, self._moment(), told[-1] if told else None)

    def _choice(self, question: Question, name: str, entries: Callable[[Sequence[str]], Sequence[Entry]]) -> bool:
        """Ask for one or several lines. False where the work is left."""
        self.bench.question(question, (), frozenset())
        while True:
            typed = self.bench.ask()
            low = " ".join((typed or "").split()).casefold()
            if typed is None or low in ("q", "quit"):
                self.bench.say([self._saved()])
                return False
            if low in BACK:
                self._back_from_question()
            keys = low.replace(",", " ").split()
            chosen = [c.id for k in keys if (c := question.choice(k)) is not None]
            if keys and len(chosen) == len(keys):
                said = entries(chosen)
                at = said[0].at if said else self._moment()
                if self._keep([*said, MovedOn(at=at, to=f"{WORKING}{name}", note=", ".join(chosen) or None)]):
                    return True
            self.bench.say([f"Type {', '.join(c.key for c in question.choices)}; several with a space between; b back; q leaves."])

    def _look(self, task: Task, since: datetime) -> bool:
        """What can be judged while it is apart, asked sign by sign; then whether it makes another job pay. False where it is left; it is
        marked as seen only when all of that is answered."""
        signs = [(n, self.book.symptoms[n].states[0]) for n in task.bares if n in self.book.symptoms]
        if not self._signs(signs, since, "It lies open: look while it does."):
            return False
        return self._offer() and self._keep([MovedOn(at=self._moment(), to=f"{struck.SEEN}{task.id}")])

    def _signs(self, signs: Sequence[tuple[str, EngineState]], since: datetime, intro: str) -> bool:
        """Ask of signs not yet answered since a moment. False where the work is left."""
        log = [s.entry for s in self._log() if not s.taken_back and s.entry.at >= since]
        told = {(e.observation.symptom, e.observation.state) for e in log if isinstance(e, Observed)}
        told |= {(str(e.symptom), e.state) for e in log if isinstance(e, PassedOver)}
        for place, (name, state) in enumerate(s for s in signs if s not in told):
            if place == 0:
                self.bench.say([intro])
            if not self._sign(name, state):
                return False
        return True

    def _sign(self, name: str, state: EngineState) -> bool:
        question = asking.symptom(self.book.symptoms[name], 0, state, engine=state)
        self.bench.question(question, (), frozenset())
        while True:
            typed = self.bench.ask()
            low = " ".join((typed or "").split()).casefold()
            if typed is None or low in ("q", "quit", "leave", "exit"):
                self.bench.say([self._saved()])
                return False
            if low in BACK:
                self._back_from_question()
                continue
            reply = self.reader.read(question, typed, progress_of(self._log(), self.book), self._moment())
            fits = all(isinstance(e, Observed | PassedOver | Note | Photo) for e in reply.entries)
            if not fits or reply.show or (reply.ask is not None and reply.ask.kind not in _DETAILS):
                self.bench.say(["A line of the answers, or u, x, l; n for a note; b back; q leaves."])
                continue
            self.bench.say(reply.said)
            if reply.entries and not self._keep(reply.entries):
                continue
            if reply.ask is not None:
                question = reply.ask
                self.bench.question(question, (), frozenset())
            elif any(isinstance(e, Observed | PassedOver) for e in reply.entries):
                return True

    def _offer(self) -> bool:
        """Jobs that pay by what was just seen: each is offered once. False where the work is left."""
        standing = self._standing()
        case, found = self._judged()
        new = [h for h in found.holds if h.id not in self._stops and f"{h.say} Lifted by: {h.cleared_by}" not in standing.plan.stops]
        self.bench.holds(new, False, False)
        self._stops |= {h.id for h in new}
        declined = [name.removeprefix("not ") for name in standing.asked if name.startswith("not ")]
        for one in surprises(found, case, self.planned_book, standing.plan.jobs, declined, self.how.until, standing.plan.hand):
            self.bench.offer(one)
            if not self._choice(asked.add_it(one), f"not {one.job}", partial(self._wanted, one.job)):
                return False
            if one.job in self._standing().plan.jobs:
                self._say_planned([one.job])
        return True

    def _wanted(self, job: str, keys: Sequence[str]) -> tuple[Entry, ...]:
        """The plan with a job that was offered: kept with the answer, so that neither is there without the other."""
        entry = self._planned_with(self._standing(), [job]) if asked.NO not in keys else None
        return () if entry is None else (entry,)

    # -------------------------------------------------------------- the proof

    def _proof(self, task: Task, outcome: str, why: str | None) -> ProofMade:
        return ProofMade(at=self._moment(), test=task.do, jobs=task.of, outcome=outcome, why=why)  # type: ignore[arg-type]

    def _prove(self, task: Task, why: str, *, failed: bool = False) -> bool:
        """Make a test: its signs one by one, then what else it must show. True in any case, unless nothing could be kept."""
        since = self._test_begun(task)
        if not failed:
            if not self._signs(proving.to_ask(task, self.book), since, f"It passes when: {task.passes}"):
                raise LeftError
            case = learned_case(self.record, self.head.id, self.book, now=self._moment())
            why = proving.in_words(proving.sighted(task, resolve(case, self.book).seen, since, self.book), self.book)
        answer = "failed" if failed or why else self._passed(task)
        if answer == "failed" and not why:
            why = task.fails or "as seen"
        outcome = {"yes": "passed", "failed": "failed"}.get(answer, "not-made")
        if not self._keep([self._proof(task, outcome, None if outcome == "passed" else why or "it could not be told")]):
            return False
        self.bench.say([{"passed": "Passed, saved.", "failed": f"FAILED, saved: {why}."}.get(outcome, "Not proved, saved.")])
        if outcome == "failed":
            self._after_failure(task)
        return True

    def _test_begun(self, task: Task) -> datetime:
        """When this test was first asked of: answers since then count for it."""
        begun = struck.begun_at(self._log(), task)
        if begun is not None:
            return begun
        at = self._moment()
        self._keep([MovedOn(at=at, to=f"{struck.TEST}{task.do}")])
        return at

    def _passed(self, task: Task) -> str:
        question = asked.passed(task)
        self.bench.question(question, (), frozenset())
        while True:
            typed = self.bench.ask()
            low = " ".join((typed or "").split()).casefold()
            if typed is None or low in ("q", "quit"):
                self.bench.say([self._saved()])
                raise LeftError
            if low in BACK:
                self._back_from_question()
            chosen = question.choice(low)
            if chosen is not None:
                return chosen.id
            self.bench.say([f"Type {', '.join(c.key for c in question.choices)}; b back; q leaves."])

    def _after_failure(self, task: Task) -> None:
        """A failed test is a finding: the case goes on, and is judged with what is known now."""
        if self.record.case_named(self.head.id).closed:
            self._keep([Reopened(at=self._moment(), why=f"a test failed: {task.do}")])
        found = self._judged_and_kept()
        self.bench.holds([h for h in found.holds if h.keeps_stopped or h.keeps_in], False, task.state in RUNNING)
        self.bench.next_looks(found)
        self.bench.say([f"The case stays open. diagnose resume {self.head.id} looks further; add JOB puts a job into the plan; redo N does "
                        "a step again; done makes the test again."])

    def _end(self, standing: Standing) -> None:
        owed = proving.owed(standing, hour_log(self.record, self.head.boat, self.book), self.clock())
        self.bench.standing(standing, owed)
        self._judged_and_kept()

    def _judged_and_kept(self) -> Assessment:
        """The case as it is known now, judged, kept and shown."""
        case, found = self._judged()
        result = found.result_json()
        self._keep([Assessed(at=self._moment(), case=case, rules=found.rules, engine=found.engine, result=result, sha256=digest(result))])
        self.bench.now(found, self._shown)
        self._shown = found
        return found
