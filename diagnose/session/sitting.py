"""The loop of a guided session: ask, read, save, judge, ask. What it is shown on and read from is passed in."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta, timezone
from typing import Protocol

from diagnose.assessment import Assessment, Hold
from diagnose.case import Case
from diagnose.errors import DiagnoseError
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import RUNNING
from diagnose.knowledge.worksteps import put_back
from diagnose.record.entries import Assessed, CaseOpened, Entry, Opened, digest
from diagnose.record.fold import case_of
from diagnose.record.learn import learned_case
from diagnose.record.store import CaseHead, Record, Stored
from diagnose.session import asking, telling
from diagnose.session.agenda import REACHED, Agenda
from diagnose.session.answers import Reader
from diagnose.session.match import Index
from diagnose.session.progress import NOTHING, Progress, progress_of
from diagnose.session.questions import Question, Reply, Show, Undone
from diagnose.session.terms import Terms
from diagnose.triage import assess

TITLE = 60
EARLY = datetime.min.replace(tzinfo=timezone.utc)
TICK = timedelta(microseconds=1)
INTERRUPTED = 130
"""Exit status of a session that Ctrl-C broke off."""


class Screen(Protocol):
    """Where a session is shown and answers are read: it is handed what there is to show, and knows how it looks."""

    def ask(self) -> str | None:
        """One line as typed, or None at the end of what there is to read."""

    def fault(self, error: DiagnoseError) -> None:
        """Tell an error apart from what is asked."""

    def say(self, lines: Sequence[str]) -> None:
        """Show sentences."""

    def help(self) -> None:
        """Show what may be typed."""

    def question(self, question: Question, terms: Iterable[tuple[str, str]], told: frozenset[str]) -> None:
        """Show a question, terms met for the first time, and of the cautions already told only the titles."""

    def brief(self, question: Question) -> None:
        """Show again what is asked and its answers."""

    def holds(self, holds: Sequence[Hold], at_sea: bool, running: bool) -> None:
        """Show stops."""

    def at_sea(self, found: Assessment) -> None:
        """Show what to do out there."""

    def now(self, found: Assessment, before: Assessment | None) -> None:
        """Show the decision so far and what moved since it was last shown."""

    def whole(self, found: Assessment, book: Book) -> None:
        """Show all of an assessment."""

    def why(self, question: Question, found: Assessment | None, book: Book) -> None:
        """Show why a question is asked now."""

    def answers(self, listed: Iterable[tuple[int, str, bool]], stale: Sequence[str]) -> None:
        """Show all answers, and those that may no longer be so."""

    def end(self, found: Assessment, before: Assessment | None, undone: Sequence[Undone], kept: Sequence[str], stale: Sequence[str],
            put_back: Sequence[str], running: bool, book: Book) -> None:
        """Show what it comes to."""


@dataclass
class Sitting:
    """One run of the loop: ask, read, save, judge, ask. Everything that lasts lies in the record."""

    book: Book
    record: Record
    boat: str
    screen: Screen
    fingerprint: Callable[[str], tuple[str, str]]
    """Full path and SHA-256 of a file, for photos; raises InputError where it cannot be read."""
    by: str | None = None
    after_work: bool = False
    case: str | None = None
    clock: Callable[[], datetime] = lambda: datetime.now(timezone.utc)
    question: Question | None = None
    """The question that stands."""
    _stack: ExitStack = field(default_factory=ExitStack)
    _last_at: datetime = EARLY
    _judged: tuple[Case, Assessment] | None = None
    _shown: Assessment | None = None
    _told: frozenset[str] = frozenset()
    _at_sea: str = ""
    _check: str | None = None
    _ended: bool = False
    _holds: bool = False
    _careful: tuple[str | None, frozenset[str]] = (None, frozenset())

    def __post_init__(self) -> None:
        self.index: Index = Index(self.book)
        self.reader: Reader = Reader(self.book, self.index, self.boat, self.fingerprint)
        self.terms: Terms = Terms(self.book.terms)

    # -------------------------------------------------------------- beginning, going on

    def run(self, words: str) -> int:
        """A new session; `words` are the answer to its first question, if given. Gives the exit status."""
        with self._stack:
            return self._guarded(lambda: self._loop(first=words or None))

    def go_on(self, head: CaseHead, *, take_over: bool = False) -> int:
        """A session left before, held for this process alone. Gives the exit status.

        Raises:
            RecordError: another session holds it, and it is not to be taken over.
        """
        with self._stack:
            self.case = head.id
            self._hold(head.id, take_over=take_over)
            done = self._progress()
            last = done.last
            if last is None:
                return self._guarded(self._loop)
            gone = self.clock() - last.at
            state = f"She was {telling.SHORT[done.engine]} then." if done.engine is not None else ""
            said = [f"{head.boat}: {head.title}", f"You were at question {done.number}, {telling.age(gone)} ago. {state}".strip()]
            if gone > telling.DAY_OLD:
                said.append("That is long enough to be a new look: what was seen then is its history, and says its age.")
            self._say(said)
            return self._guarded(lambda: self._loop(ask=asking.since(done.number, done.engine)))

    def _guarded(self, work: Callable[[], None]) -> int:
        """The loop, until it ends or Ctrl-C breaks in: then one line says what is saved."""
        try:
            work()
        except KeyboardInterrupt:
            self._leave(broken=True)
            return INTERRUPTED
        return 0

    def _hold(self, case: str, *, take_over: bool = False) -> None:
        held = self._stack.enter_context(self.record.hold_case(case, take_over=take_over))
        self._holds = True
        before = held.taken_over
        if before is not None and before.lives:
            self._say([f"Taken over: this case was held by {before}. What that session saved is here. If it still runs, leave it with q."])
        elif before is not None:
            self._say([f"The session before this one ended without a word ({before}). What it saved is here."])

    def _hold_new(self) -> None:
        """Hold a case just begun. What was answered is saved already, so a refusal takes nothing back; it is tried again then."""
        try:
            self._hold(str(self.case))
        except DiagnoseError as error:
            self.screen.fault(error)
            self._say(["SAVED, and taken. But the case could not be marked as open in this session: go on with it nowhere else "
                       "until you leave here."])

    # -------------------------------------------------------------- the loop

    def _loop(self, first: str | None = None, ask: Question | None = None) -> None:
        question = ask or self._next()
        fresh = True
        while True:
            self.question = question
            if fresh:
                self._put(question, quiet=first is not None)
            given, first = first, None
            typed = given if given is not None else self.screen.ask()
            if typed is None:
                self._leave()
                return
            done = self._progress()
            reply = self.reader.read(question, typed, done, self._moment())
            kept = self._keep(reply.entries)
            if kept:
                self._say(reply.said)
            if reply.show == "leave":
                self._leave()
                return
            if reply.show:
                self._show(reply.show, question)
            fresh = kept and (reply.ask is not None or self._moves(reply))
            if fresh:
                self._remember(question, reply)
                question = reply.ask or self._next()
            elif reply.show or given is not None:
                self.screen.brief(question)

    def _moves(self, reply: Reply) -> bool:
        """Whether an answer leads to another question: a note or a photo does not."""
        return any(str(e.kind) not in ("note", "photo") for e in reply.entries)  # type: ignore[attr-defined]

    def _remember(self, question: Question, reply: Reply) -> None:
        """Which look is being made, so that its next question comes before any other."""
        look = question.look or (question.of.look if question.of is not None else None)
        later = any(str(e.kind) == "passed-over" and getattr(e, "check", None) for e in reply.entries)  # type: ignore[attr-defined]
        self._check = look.check if look is not None and look.whole and not later else None

    def _put(self, question: Question, *, quiet: bool) -> None:
        """Show a question, with what has to be said before it."""
        if question.kind == "end" and not question.about:
            if not self._ended:
                self._end()
        else:
            self._ended = False
        if not quiet:
            texts = [question.ask, question.title, *(c.text for c in question.choices), *question.lines]
            if question.look is not None and not question.look.goes_on:
                texts += [question.look.title, *question.look.first, *question.look.how]
            self.screen.question(question, self.terms.first_met(texts), self._cautioned(question))

    def _cautioned(self, question: Question) -> frozenset[str]:
        """The cautions already printed whole in this state of the engine; those of this question count from now on."""
        if self._careful[0] != question.state:
            self._careful = (question.state, frozenset())
        told = self._careful[1]
        if question.look is not None and not question.look.goes_on:
            self._careful = (question.state, told | {c.title for c in question.look.cautions})
        return told

    def _next(self) -> Question:
        """The next question by the log; alarms that have just come up are shown before it."""
        done = self._progress()
        agenda = self._agenda(done, None)
        early = agenda.before_judging()
        if early is not None and not (done.seen and done.engine in RUNNING):
            return early
        try:
            assessment = self._assessed()  # of an engine that runs even before all words are read: she may have to be stopped
            wider = self._with_looks_of(done, assessment)
        except DiagnoseError as error:
            self._say(self._not_judged(error))
            return replace(asking.end(done.number, done.engine), about="stuck",
                           ask="b takes the last answer back; answers lists them all, and change N changes one.")
        self._alarm(assessment)
        return self._agenda(done, wider).next()

    def _not_judged(self, error: DiagnoseError) -> list[str]:
        """Why the case cannot be judged, and what helps where it is a fact of the boat that this book does not know."""
        said = [f"The case cannot be judged as it stands: {error.what}."]
        foreign = [name for name in self._as_told().boat.arrangement
                   if name not in self.book.facts or error.where == f"boat.arrangement.{name}"]
        if foreign:
            taken_out = " ".join(f"--forget {name}" for name in foreign)
            said.append(f"It was told with another book. Leave with q; diagnose boat '{self.boat}' {taken_out} takes it out; then resume.")
        return said

    # -------------------------------------------------------------- the record

    def _moment(self) -> datetime:
        """Now; always later than the last moment used, for the entries of one answer are told by it."""
        self._last_at = max(self.clock(), self._last_at + TICK)
        return self._last_at

    def _keep(self, entries: Sequence[Entry]) -> bool:
        """Put entries into the log, all or none. What could not be saved is told, and the same question stands."""
        if not entries:
            return True

        signed = [e.model_copy(update={"by": self.by}) for e in entries] if self.by else list(entries)
        try:
            if self.case is None:
                head = CaseOpened(at=signed[0].at, by=self.by, title=_title(signed[0]), opened_because=self._because(signed[0]))
                self.case = self.record.append_all([head, *signed], boat=self.boat)[0].case
            else:
                self.record.append_all(signed, boat=self.boat, case=self.case)
        except DiagnoseError as error:
            self.screen.fault(error)
            self._say(["NOT SAVED, so not taken. The same question stands; what was answered before is safe."])
            return False
        if not self._holds:
            self._hold_new()
        return True

    def _because(self, entry: Entry) -> Opened:
        said = str(getattr(entry, "said", "")).lower().split()
        return "after-work" if self.after_work else "routine-look" if said and set(said) <= NOTHING else "noticed-something"

    def _log(self) -> tuple[Stored, ...]:
        return self.record.entries(case=self.case) if self.case is not None else ()

    def _progress(self) -> Progress:
        log = self._log()
        if log:
            self._last_at = max(self._last_at, log[-1].entry.at)
        return progress_of(log, self.book)

    def _case(self) -> Case:
        """The case as the log tells it, with what this boat's own findings make of her rates."""
        if self.case is None:
            return Case(opened_because="noticed-something")
        return learned_case(self.record, self.case, self.book, now=self._last_at)

    def _as_told(self) -> Case:
        """The case as the log tells it and no more: it can be had where the book cannot judge it."""
        if self.case is None:
            return Case(opened_because="noticed-something")
        return case_of(self.record, self.case, now=self._last_at)

    # -------------------------------------------------------------- judging

    def _assessed(self) -> Assessment:
        """The assessment of the case as it stands; made anew only when something in it has changed."""
        case = self._case()
        if self._judged is None or _changed(self._judged[0], case):
            assessment = assess(case, self.book)
            self._judged = (case, assessment)
        return self._judged[1]

    def _with_looks_of(self, done: Progress, assessment: Assessment) -> Assessment:
        """The assessment with the looks worth making as the engine stands before the others, where it names none of those:
        three looks are named, and all of them may need her in another state or have been passed over."""
        open_ = [c for c in assessment.checks if not done.all_told(self.book.checks[c.check])]
        here = REACHED[done.engine] if done.engine is not None else ()
        if not assessment.checks or any(c.needs in here for c in open_):
            return assessment
        told = frozenset(c.id for c in self.book.checks.values() if done.all_told(c))
        nearer = assess(self._case(), self.book, ledger=False, looks_in=here, without=told).checks
        known = {c.check for c in nearer}
        return assessment.model_copy(update={"checks": (*nearer, *(c for c in assessment.checks if c.check not in known))})

    def _agenda(self, done: Progress, assessment: Assessment | None) -> Agenda:
        case = self._case() if assessment is not None else self._as_told()
        return Agenda(self.book, self.index, done, case, assessment, self._check)

    def _alarm(self, assessment: Assessment) -> None:
        """Stops, and the answer at sea, as soon as they come up."""
        new = [h for h in assessment.holds if h.id not in self._told]
        running = self._progress().engine in RUNNING
        self.screen.holds(new, assessment.under_way is not None, running)
        gone = self._told - {h.id for h in assessment.holds}
        if gone:
            self._say(["A stop is lifted by what was seen since." if len(gone) == 1 else "Stops are lifted by what was seen since."])
        self._told = frozenset(h.id for h in assessment.holds)
        word = assessment.under_way.word if assessment.under_way is not None else ""
        if word != self._at_sea:
            self.screen.at_sea(assessment)
            self._at_sea = word

    # -------------------------------------------------------------- showing

    def _say(self, lines: Sequence[str]) -> None:
        self.screen.say(lines)

    def _show(self, what: Show, question: Question) -> None:
        if what == "help":
            self.screen.help()
            return
        if what == "answers":
            done = self._progress()
            self.screen.answers(telling.listed(self.book, done), self._stale(done))
            return
        try:
            found = self._assessed() if self._can_judge() else None
        except DiagnoseError as error:
            self._say(self._not_judged(error))
            return
        if what == "why":
            self.screen.why(question, found, self.book)
        elif found is None:
            self._say(["Nothing is judged yet: first what you noticed, and how the engine is."])
        elif what == "now":
            self._tell_unread()
            self.screen.now(self._held_back(found), self._shown)
            self._shown = found
        else:
            self._tell_unread()
            self.screen.whole(self._held_back(found), self.book)

    def _can_judge(self) -> bool:
        """Whether all was asked that comes before there is anything to judge."""
        return self.case is not None and self._agenda(self._progress(), None).before_judging() is None

    def _stale(self, done: Progress) -> list[str]:
        return [f"{a.number}, {telling.line(self.book, a)}: {why}. change {a.number} looks again."
                for a, why in telling.stale(self.book, done, self.clock())]

    def _tell_unread(self) -> None:
        """What was said and not read, before any decision is shown."""
        unread = self._progress().not_read
        if unread:
            self._say([telling.not_read(unread)])

    def _held_back(self, found: Assessment) -> Assessment:
        """An assessment as it is shown: no go is shown where something that was said could not be read. What is kept stays as it is."""
        if not self._progress().not_read or found.decision not in ("go", "go with limits"):
            return found
        waits = found.departure.model_copy(update={"settled": False, "headline": telling.UNREAD})
        return found.model_copy(update={"decision": "stay", "departure": waits})

    def _end(self) -> None:
        """What it comes to, shown and kept."""
        done, found = self._progress(), self._assessed()
        undone, back = self._agenda(done, found).undone(), put_back(self.book, done.opened)
        self.screen.end(self._held_back(found), self._shown, undone, done.not_read, self._stale(done), back,
                        done.engine in RUNNING and not done.under_way, self.book)
        self._shown, self._ended = found, True
        self._keep_assessment()

    def _keep_assessment(self) -> None:
        """Put what was judged into the record, unless the same stands there already."""
        if self._judged is None or self.case is None:
            return
        case, found = self._judged
        result = found.result_json()
        last = [s.entry for s in self._log() if s.entry.kind == "assessed"]
        if not last or last[-1].sha256 != digest(result):
            self._keep([Assessed(at=self._moment(), case=case, rules=found.rules, engine=found.engine, result=result,
                                 sha256=digest(result))])

    def _leave(self, *, broken: bool = False) -> None:
        """One line: what is saved, and the word that goes on; on a line of its own after a Ctrl-C."""
        if self.case is None:
            line = "Nothing was said yet, so nothing is saved. look begins again."
        else:
            count = sum(not a.taken_back for a in self._progress().answers)
            line = f"Saved: {count} {'answer' if count == 1 else 'answers'}. diagnose resume {self.case} goes on."
        self._say(["", line] if broken else [line])


def _changed(before: Case, now: Case) -> bool:
    """Whether a case has changed in more than its moment."""
    return before.model_copy(update={"now": None}) != now.model_copy(update={"now": None})


def _title(entry: Entry) -> str:
    said = " ".join(str(getattr(entry, "said", "")).split()) or "A look"
    return said if len(said) <= TITLE else f"{said[:TITLE - 3].rstrip()}..."
