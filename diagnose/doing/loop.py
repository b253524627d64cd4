"""The work as a session: one task at a time, ticked off, looked at while it is open, proved. Each answer is saved before the next."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from diagnose.doing import asked, finished, struck
from diagnose.doing.asker import Asker, LeftError, TakenBackError
from diagnose.doing.between import Between
from diagnose.doing.desk import EARLY, Desk
from diagnose.doing.planning import How, Planner
from diagnose.doing.standing import Standing, standing_of
from diagnose.doing.testing import Tester
from diagnose.doing.ticking import listed, through_by, ticks_of
from diagnose.doing.typed import Order, learned_of, read
from diagnose.errors import DiagnoseError, InputError
from diagnose.record.entries import HoursEntry, Note, Photo
from diagnose.record.fold import latest_reading
from diagnose.session.answers import Reader
from diagnose.session.match import Index
from diagnose.units import parse_quantity
from diagnose.work.results import Task

INTERRUPTED = 130
"""Exit status of work that Ctrl-C broke off."""
MOST_MINUTES = 100_000.0
"""More than any work takes, and than the record keeps."""


@dataclass
class Working:
    """One stretch of work on a case. Everything that lasts lies in the record.

    Attributes:
        desk: what all parts of it share.
        fingerprint: of a photo: its path made whole, and the digest of the file.
        learn: keeps a sentence about a job's step in the boat's own file, and says where; raises InputError where it cannot.
        how: the work is planned.
    """

    desk: Desk
    fingerprint: Callable[[str], tuple[str, str]]
    learn: Callable[[str, str, str], str]
    how: How = field(default_factory=How)
    _began: datetime = field(default=EARLY, init=False)
    _told: frozenset[str] = field(default=frozenset(), init=False)

    def __post_init__(self) -> None:
        book, boat = self.desk.book, self.desk.head.boat
        asker = Asker(self.desk, Reader(book, Index(book), boat, self.fingerprint))
        self.planner = Planner(self.desk, self.how)
        self.between = Between(self.desk, asker, self.planner)
        self.tester = Tester(self.desk, asker)

    def run(self, *, take_over: bool = False) -> int:
        """The work, from where it stands until it is left or all is done. Gives the exit status.

        Raises:
            RecordError: another session holds the case.
            InputError: there is nothing to prove, or nothing to do.
        """
        with self.desk.record.hold_case(self.desk.head.id, take_over=take_over):
            try:
                self._begin()
                self._began = self.desk.moment()
                self._loop()
            except LeftError:
                return 0
            except KeyboardInterrupt:
                self.desk.bench.say(["", self.desk.saved()])
                return INTERRUPTED
        return 0

    def _begin(self) -> None:
        """The plan as it stands, or a first one. New jobs named on the way in come into it."""
        standing = standing_of(self.desk.log())
        if standing is None:
            if self.desk.tests_only:
                raise InputError("no work was planned", where=self.desk.head.id, right=f"diagnose work {self.desk.head.id}, which plans it")
            self.planner.first()
            return
        more = [j for j in map(self.desk.book.now_called, self.how.jobs) if j not in standing.plan.jobs]
        if more:
            self.planner.add(standing, more)
        elif standing.ticks:
            done, head = len(standing.ticked), self.desk.head
            tests = f"; {len(standing.tests)} test{'s' if len(standing.tests) > 1 else ''} besides" if standing.tests else ""
            self.desk.bench.say([f"{head.boat}: {head.title}",
                                 f"{done} of {done + len(standing.left_to_do)} tasks are ticked off{tests}."])

    # -------------------------------------------------------------- the loop

    def _loop(self) -> None:
        going = True
        while going:
            try:
                going = self._turn()
            except TakenBackError:
                continue

    def _turn(self) -> bool:
        """What is to be asked, then one task. False where all is done."""
        self.between.ask(self.desk.standing(), parts=not self.desk.tests_only)
        standing = self.desk.standing()
        task = self._next(standing)
        if task is None:
            self.desk.bench.standing(standing, self.desk.owed(standing))
            self.desk.judged_and_kept()
            return False
        self.desk.bench.task(standing, task, standing.waits(task, self.desk.clock()), self.desk.planned_book, self._told)
        self._told |= {*task.cautions}
        self._at(standing, task)
        return True

    def _next(self, standing: Standing) -> Task | None:
        """What is to be done now. Tests that could not be made come again, after the others, when the tests are taken up anew."""
        if standing.left_to_do and not self.desk.tests_only:
            return standing.next
        if standing.before_tests:
            return standing.before_tests[0]
        put_off = {n: p.at for n, p in standing.made.items() if p.outcome == "not-made"}
        ripe = [o.task for o in self.desk.owed(standing) if o.ripe]
        first = [t for t in ripe if t.id not in put_off]
        again = [t for t in ripe if self.desk.tests_only and t.id in put_off and put_off[t.id] < self._began]
        return next(iter([*first, *again]), standing.next)

    def _at(self, standing: Standing, task: Task) -> None:
        """Lines read at one task, until something moved it.

        Raises:
            LeftError: the work is left.
        """
        while True:
            typed = self.desk.bench.ask()
            order = read(typed) if typed is not None else Order("quit")
            if order.word == "quit":
                self.desk.bench.say([self.desk.saved()])
                raise LeftError
            try:
                if self._obey(order, standing, task):
                    return
            except DiagnoseError as error:
                right = f" Right would be: {error.right}." if error.right else ""
                self.desk.bench.say([f"Not taken: {error.what}.{right}"])

    def _obey(self, order: Order, standing: Standing, task: Task) -> bool:
        """Do what a line asks for; True where the next task is to be shown."""
        match order.word:
            case "done":
                return self._done(order, standing, task)
            case "leave out":
                return self._leave_out(order, task)
            case "failed" if task.kind == "proof":
                return self.tester.fail(task, order.text)
            case "failed":
                raise InputError("f is for a test that failed", right="n and a note, or done")
            case "all":
                return self._all(standing)
            case "redo":
                return self._redo(order, standing)
            case "add":
                return self._add(order, standing)
            case "back":
                self.desk.take_back()
                return True
            case "note" | "photo" | "learn" | "hours":
                self._aside(order, standing, task)
            case "list":
                self.desk.bench.listing(standing)
            case "parts":
                self.desk.bench.say(asked.parts(standing))
            case "help":
                self.desk.bench.keys()
            case _:
                what = "Nothing was taken" if order.word == "nothing" else f"'{order.text[:40]}' is not known here"
                self.desk.bench.say([f"{what}. done ticks this off; h tells what else may be typed."])
        return False

    # -------------------------------------------------------------- ticks

    def _done(self, order: Order, standing: Standing, task: Task) -> bool:
        if order.first is None and task.kind == "proof":
            return self.tester.make(task)
        if (order.minutes or 0.0) > MOST_MINUTES:
            raise InputError(f"{order.minutes:g} minutes cannot be", right=f"at most {MOST_MINUTES:g}")
        chosen = [task] if order.first is None else listed(standing, order.first, order.last)
        waits = () if order.waited else [w for t in chosen for w in standing.waits(t, self.desk.clock())]
        if waits:
            which = "" if order.first is None else f" {order.first}-{order.last}"
            self.desk.bench.say([f"Not yet: {why}, until {until.astimezone():%d %B %H:%M}. If it has had its time all the same: "
                                 f"done{which} waited." for why, until in dict.fromkeys(waits)])
            return False
        if len(chosen) > 1:
            self.between.before_closing(standing, chosen)
        return self._tick(chosen, order.minutes)

    def _tick(self, tasks: Sequence[Task], minutes: float | None = None, why: str | None = None) -> bool:
        """Ticks, and what follows where a job is through by them."""
        at, log = self.desk.moment(), self.desk.log()
        ticks = ticks_of(tasks, self.desk.standing().plan, at, minutes, why)
        jobs = through_by(ticks, log)
        if not self.desk.keep([*ticks, *(e for j in jobs for e in finished.through(j, self.desk.book, at))]):
            return False
        loose = [thing for t in tasks for thing in (*t.puts_back, *t.renews)] if why else []
        self.desk.bench.say([f"{'Left out' if why else 'Done'}: {len(tasks)} task{'s' if len(tasks) > 1 else ''}, saved.",
                        *([f"By that it is not put back: {', '.join(loose)}."] if loose else ()),
                        *(f"Through: {self.desk.book.jobs[j].title}. What was seen before it is history now." for j in jobs)])
        return True

    def _leave_out(self, order: Order, task: Task) -> bool:
        if not order.text.strip():
            raise InputError("what is left out says why", right="x and the reason, on one line")
        if task.kind == "proof":
            return self.tester.not_made(task, order.text)
        return self._tick([task], why=order.text)

    def _all(self, standing: Standing) -> bool:
        if not standing.left_to_do:
            raise InputError("all is ticked off but the tests", right="done, at each test")
        kept = standing.before_tests or standing.left_to_do
        self.between.before_closing(standing, kept)
        return self._tick(kept)

    def _redo(self, order: Order, standing: Standing) -> bool:
        task = asked.numbered(standing).get(order.first or 0)
        if task is None or (task.id not in standing.ticked and task.id not in standing.made):
            raise InputError("there is no such task that is done", right="redo and a number that list shows as done")
        log, again = self.desk.log(), standing.again(task)
        if not self.desk.strike([s for t in again for s in struck.of_task(log, t)], "to be done again"):
            return False
        self.desk.bench.say([f"To be done again: {t.do}" for t in again])
        return True

    def _add(self, order: Order, standing: Standing) -> bool:
        job = self.desk.book.now_called(order.text.strip())
        if job in standing.plan.jobs:
            raise InputError("is in the plan already", where=job, right="list, which shows it")
        return self.planner.add(standing, [job])

    # -------------------------------------------------------------- beside the work

    def _aside(self, order: Order, standing: Standing, task: Task) -> None:
        """What is kept beside the work and moves nothing: a note, a photo, hours of the engine, something learned on this boat."""
        at, text = self.desk.moment(), order.text.strip()
        if order.word == "hours":
            given = f"{text} hour" if text.replace(".", "", 1).isdigit() else text
            hours = parse_quantity(given, "hour", what="engine hours", possible=(0, 200_000))
            last = latest_reading(self.desk.record, self.desk.head.boat)
            if last is not None and last.refuses(hours, at):
                raise InputError(f"{hours:g} engine hours are fewer than the {last.hours:g} read before",
                                 right="what the meter shows; or diagnose hours with --correct, if that was wrong")
            if self.desk.keep([HoursEntry(at=at, engine_hours=hours)]):
                more = " That is more than the clock allows." if last is not None and last.outruns(hours, at) else ""
                self.desk.bench.say([f"Taken: {hours:g} engine hours.{more}"])
        elif not text:
            raise InputError("there is nothing after it", right="n and a note, p and a path, learn and a sentence, on one line")
        elif order.word == "photo":
            path, sha = self.fingerprint(text)
            if self.desk.keep([Photo(at=at, path=path, sha256=sha, about=task.do)]):
                self.desk.bench.say([f"Photo kept: {path}"])
        elif order.word == "learn":
            number, said = learned_of(text)
            about = task if number is None else asked.numbered(standing).get(number)
            if about is None or not about.steps:
                raise InputError("it can be kept of a step of a job only", right="learn 5: and words, 5 being a step; n for a note")
            self.desk.bench.say([self.learn(*about.steps[0], said), f"It stands with: {about.do}"])
        elif self.desk.keep([Note(at=at, text=text, about=task.do)]):
            self.desk.bench.say(["Note kept."])
