"""A case that is told to its end, played through the real tool: each task ticked, each sign answered, each test made as it is told."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta, timezone
from typing import Any, cast

from diagnose.case import Act, Case
from diagnose.doing.asked import FAILED, LATER, NO, NONE, YES
from diagnose.doing.bench import Bench
from diagnose.doing.closing import ending
from diagnose.doing.desk import Desk
from diagnose.doing.loop import Working
from diagnose.doing.standing import PUT_BACK, SET_UP, Standing
from diagnose.errors import DiagnoseError, InputError
from diagnose.knowledge.book import Book
from diagnose.record.entries import Closed, HoursEntry
from diagnose.record.keep import keep_case
from diagnose.record.store import Record
from diagnose.session.questions import Question
from diagnose.triage import assess
from diagnose.work.merge import MOMENTS
from diagnose.work.results import Chosen, Task

MOST_LINES = 300
"""More lines than any told case needs: a story that does not end is wrong."""
BETWEEN = timedelta(minutes=2)
"""Time that passes from one line to the next."""


class EndlessError(Exception):
    """More was asked than a story can tell."""


@dataclass
class Told:
    """Answers as an act tells them, in place of a person who types: shows what `screen` shows, and what is typed."""

    screen: Bench
    act: Act
    tick: Callable[[], None]
    asked: int = 0
    _task: Task | None = None
    _question: Question | None = None
    _offered: str = ""
    _lines: dict[str, list[str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._lines = {name: list(lines) for name, lines in self.act.typed.items()}

    def __getattr__(self, name: str) -> Any:
        return getattr(self.screen, name)

    def task(self, standing: Standing, task: Task, waits: Sequence[tuple[str, datetime]], book: Book, told: frozenset[str]) -> None:
        """Show a task; what is typed next is about it."""
        self._task, self._question = task, None
        self.screen.task(standing, task, waits, book, told)

    def question(self, question: Question, terms: Sequence[tuple[str, str]], told: frozenset[str]) -> None:
        """Show a question; what is typed next answers it."""
        self._question = question
        self.screen.question(question, terms, told)

    def offer(self, found: Chosen) -> None:
        """Show a job that pays now; what is typed next takes it or leaves it."""
        self._offered = found.job
        self.screen.offer(found)

    def fault(self, error: DiagnoseError) -> None:
        """What the tool refuses is no part of a story.

        Raises:
            DiagnoseError: always.
        """
        raise error

    def ask(self) -> str:
        """The next line as the act tells it.

        Raises:
            EndlessError: the story does not come to an end.
        """
        self.asked += 1
        self.tick()
        if self.asked > MOST_LINES:
            raise EndlessError
        line = self._answer(self._question) if self._question is not None else self._order()
        self._question = None
        self.screen.say([f"> {line}"])
        return line

    def _order(self) -> str:
        """What is typed at a task: as told of it, of its moment, or of the tests; else it is done."""
        assert self._task is not None
        for name in (self._task.id, self._task.moment or ""):
            if self._lines.get(name):
                return self._lines[name].pop(0)
        return "done waited" if self._task.kind != "proof" else "done"

    def _answer(self, question: Question) -> str:
        ids = {c.id: c.key for c in question.choices}
        if question.kind == "symptom":
            told = self.act.tested if self._task is not None and self._task.kind == "proof" else self.act.seen
            seen = told.get(question.about.partition("@")[0], question.choices[0].id)
            return ids.get(str(seen), str(seen))
        if FAILED in ids:
            return ids[YES]
        if self._offered:
            wanted, self._offered = YES if self._offered in self.act.add else NO, ""
            return ids[wanted]
        if ids.keys() == {YES, NO}:
            return ids[YES]
        named = [ids[name] for name in (*self.act.new, *self.act.was) if name in ids]
        return " ".join(named) or ids.get(LATER, ids.get(NONE, question.choices[-1].key))


@dataclass
class Story:
    """A told case being played into a record.

    Args:
        case: the case, with what was done then.
        book: the rules.
        record: where it is played into; nothing of it needs to be there.
        screen: what it is shown on.
    """

    case: Case
    book: Book
    record: Record
    screen: Bench

    def play(self) -> Iterator[tuple[Act, str]]:
        """Act after act; after each it is given with the id of the case in the record.

        Raises:
            InputError: the case does not fit the book, tells nothing to follow, or asks for what the tool refuses.
        """
        if not self.case.then:
            raise InputError("tells nothing that was done then", where=self.case.title, right="a case with 'then'")
        self._check()
        plain = self.case.model_copy(update={"then": ()})
        found = assess(plain, self.book)
        self._now = plain.now.astimezone(timezone.utc) if plain.now is not None else self.case.then[0].at
        kept = keep_case(self.record, plain, found, at=self._now)
        self.screen.now(found, None)
        for act in self.case.then:
            self._now = max(act.at, self._now)
            self.screen.say(["", f"=== {self._now.astimezone():%d %B, %H:%M}: {act.says}"])
            self._do(act, kept.case)
            yield act, kept.case

    def _check(self) -> None:
        """See that the book knows what the acts name."""
        b = self.book
        steps = {f"{j.id}/{s.id}" for j in b.jobs.values() for s in j.steps} | {*MOMENTS}
        steps |= {f"{kind}:{name}" for kind in (SET_UP, PUT_BACK) for name in b.words.setups}
        for act in self.case.then:
            for names, known in (({*act.seen, *act.tested}, b.symptoms), (act.new, b.words.service_items), (act.was, b.faults),
                                 (act.add, b.jobs), (act.typed, steps)):
                unknown = next((n for n in names if n not in known), None)
                if unknown is not None:
                    raise InputError(f"'{unknown}' is not in the book", where=act.says, right="an id of the book, a step as job/step")

    def _tick(self) -> None:
        self._now += BETWEEN

    def _do(self, act: Act, case: str) -> None:
        head = self.record.case_named(case)
        if act.engine_hours is not None:
            self.record.append(HoursEntry(at=self._now, by=act.by, engine_hours=act.engine_hours), boat=head.boat)
            self.screen.say([f"{act.engine_hours:g} engine hours."])
        if act.do in ("work", "prove"):
            told = Told(self.screen, act, self._tick)
            desk = Desk(self.book, self.book, self.record, head, cast(Bench, told), act.by, act.do == "prove", lambda: self._now)
            try:
                Working(desk, _no_photo, _not_learned).run()
            except EndlessError:
                raise InputError("the story does not come to an end", where=act.says, right="q among the lines typed") from None
        elif act.do == "close":
            how, why_not = ending(self.record.entries(case=case), case, act.note, act.unproved)
            self.record.append(Closed(at=self._now, by=act.by, how=how, unproved=why_not), boat=head.boat, case=case)
            self.screen.say([f"{case}: closed. {how}{f' Not proved: {why_not}' if why_not else ''}"])


def _no_photo(path: str) -> tuple[str, str]:
    raise InputError("a told case has no photos", where=path, right="a note")


def _not_learned(job: str, step: str, text: str) -> str:
    return f"Learned of {job}/{step}: {text} (a told case keeps it nowhere)."
