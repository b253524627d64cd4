"""What was learned on one boat: how long its steps take there, how one gets at them, what a fastener holds, which variant fits.

A file of its own beside the book, `schema: 1`, with the boat's name and a list of items. Of two that speak of the same thing the
later counts. Nothing of it weighs on what is likely wrong: it is read by the plan alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields
from datetime import date
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar

from pydantic import Field, ValidationError, model_validator

from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.knowledge.component import Component
from diagnose.knowledge.jobs import Job, Minutes, Step
from diagnose.knowledge.lists import Setup
from diagnose.knowledge.model import Entry, Id, Text
from diagnose.knowledge.text import Document, did_you_mean, explain_validation, load, wrong_in_words
from diagnose.knowledge.worksteps import FIRST_TIME, setups_of

Spent = Annotated[float, Field(gt=0, le=10_000)]
"""Minutes of work, up to a week of them by the clock."""


class OwnMinutes(Entry):
    """How long a step takes on this boat: a practised hand, a newer one, or both; of one the other is reckoned in proportion."""

    skilled: Spent | None = None
    first_time: Spent | None = None

    @model_validator(mode="after")
    def _told_and_in_order(self) -> OwnMinutes:
        if self.skilled is None and self.first_time is None:
            raise ValueError("minutes say skilled, first_time, or both")
        if self.skilled is not None and self.first_time is not None and self.first_time < self.skilled:
            raise ValueError("the first time takes no less than a practised hand")
        return self


class OwnItem(Entry):
    """What every item may have: when it was learned and who says so. It says at least one thing beside."""

    on: date | None = None
    by: Text | None = None

    @model_validator(mode="after")
    def _says_something(self) -> OwnItem:
        if not self.said:
            sayable = [f.alias or n for n, f in type(self).model_fields.items() if n not in _NAMES]
            raise ValueError(f"says nothing; it may say {', '.join(sayable)}")
        return self

    @property
    def said(self) -> dict[str, Any]:
        """What it says, by field: all but what it is of, when, and who."""
        return {n: v for n in type(self).model_fields if n not in _NAMES and (v := getattr(self, n)) not in (None, ())}


class OwnStep(OwnItem):
    """Of a step of a job. `holds_two` names the fastener that holds something else as well, `tools` are wanted beside the book's."""

    job: Id
    step: Id
    minutes: OwnMinutes | None = None
    holds_two: Text | None = None
    access: Text | None = None
    tools: tuple[Text, ...] = ()
    hands: Literal[1, 2] | None = None
    note: Text | None = None


class OwnSetup(OwnItem):
    """Of a set-up: minutes of a practised hand, there and back, and how one gets at it."""

    setup: Id
    minutes: Spent | None = None
    restore_minutes: Annotated[float, Field(ge=0, le=10_000)] | None = None
    access: Text | None = None
    note: Text | None = None


class OwnPart(OwnItem):
    """Of a part: which of its look-alikes this boat takes, in words."""

    part: Id
    is_: Text | None = Field(default=None, alias="is")
    note: Text | None = None


Item = OwnStep | OwnSetup | OwnPart
T = TypeVar("T", OwnStep, OwnSetup, OwnPart)
_NAMES = frozenset({"job", "step", "setup", "part", "on", "by"})
_KINDS: tuple[tuple[str, type[OwnItem]], ...] = (("step", OwnStep), ("job", OwnStep), ("setup", OwnSetup), ("part", OwnPart))


class Own(Entry):
    """A boat's own file."""

    schema_: Literal[1] = Field(alias="schema")
    boat: Text
    learned: tuple[Item, ...] = ()


@dataclass(frozen=True)
class OnThisBoat:
    """What counts on one boat, the later over the earlier: of steps by job and step, of set-ups and of parts by id."""

    steps: Mapping[tuple[str, str], OwnStep] = field(default_factory=dict)
    setups: Mapping[str, OwnSetup] = field(default_factory=dict)
    parts: Mapping[str, OwnPart] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class OwnBook(Book):
    """A book whose steps and set-ups are as they were found on one boat; `plain` is the book as it was without."""

    plain: Book
    learned: OnThisBoat


def plain_of(book: Book) -> Book:
    """The book without what was learned on a boat."""
    return book.plain if isinstance(book, OwnBook) else book


def learned_in(book: Book) -> OnThisBoat:
    """What was learned on the boat whose book this is; nothing in a plain one."""
    return book.learned if isinstance(book, OwnBook) else OnThisBoat()


# ------------------------------------------------------------------ reading


def load_own(path: Path, book: Book | None = None) -> Own:
    """A boat's own file.

    Args:
        path: the file.
        book: that it must fit, if one is given.

    Raises:
        InputError: with file and line, where it cannot be read, is malformed, or speaks of what the book does not know.
    """
    return own_of(load(path), book)


def own_of(document: Document, book: Book | None = None) -> Own:
    """A boat's own file out of its parsed text; see `load_own`."""
    if not isinstance(document.data, dict):
        raise InputError("is not a map of keys", where=document.where(), right="a boat's own file")
    items = document.data.get("learned")
    for i, item in enumerate(items if isinstance(items, list) else ()):
        _validated(item, _below(document, i))
    try:
        own = Own.model_validate(document.data)
    except ValidationError as error:
        raise explain_validation(error, document, InputError) from None
    for problem in own_problems(own, book) if book is not None else ():
        raise InputError(problem.what, where=document.where(("learned", problem.item, problem.key)), right=problem.right)
    return own


def item_of(told: Mapping[str, Any], where: str = "") -> Item:
    """One item from its plain map.

    Raises:
        InputError: it does not fit.
    """
    try:
        made = _kind_of(told, where).model_validate(told)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        raise InputError(wrong_in_words(first, first["loc"]), where=where) from None
    assert isinstance(made, OwnStep | OwnSetup | OwnPart)
    return made


def _below(document: Document, place: int) -> Document:
    """One item as a document of its own, so that a path in it has its line."""
    listed = next(value for key, value in document.node.value if key.value == "learned")
    return Document(document.name, document.data["learned"][place], listed.value[place])


def _validated(item: Any, document: Document) -> None:
    """See that an item fits the kind that its key says; a message then speaks of that kind only."""
    try:
        _kind_of(item, document.where()).model_validate(item)
    except ValidationError as error:
        raise explain_validation(error, document, InputError) from None


def _kind_of(told: Any, where: str) -> type[OwnItem]:
    """Which kind of item is told, by its key.

    Raises:
        InputError: of none.
    """
    kind = next((model for key, model in _KINDS if isinstance(told, Mapping) and key in told), None)
    if kind is None:
        raise InputError("is neither of a step, nor of a set-up, nor of a part", where=where, right="job and step, setup, or part")
    return kind


# ------------------------------------------------------------------ against the book


@dataclass(frozen=True)
class OwnProblem:
    """An item that does not fit the book: its place in the list, the key at fault, what is wrong and what would be right."""

    item: int
    key: str
    what: str
    right: str


def own_problems(own: Own, book: Book) -> Iterator[OwnProblem]:
    """What a boat's own file speaks of that the book does not know. A job that the book has retired is no longer spoken of, and passes."""
    words = plain_of(book).words
    for i, item in enumerate(own.learned):
        if isinstance(item, OwnStep):
            yield from _step_problems(i, item, plain_of(book))
        elif isinstance(item, OwnSetup):
            yield from _named(i, "setup", "set-up", item.setup, words.setups)
        else:
            yield from _named(i, "part", "part", item.part, words.parts)


def _step_problems(i: int, item: OwnStep, book: Book) -> Iterator[OwnProblem]:
    name = book.now_called(item.job)
    if name in book.jobs:
        steps = [step.id for step in book.jobs[name].steps]
        if item.step not in steps:
            right = did_you_mean(item.step, steps) or ", ".join(steps) or "the set-ups and parts of it"
            yield OwnProblem(i, "step", f"'{name}' has no step '{item.step}'", right)
    elif not _retired(name, book):
        yield from _named(i, "job", "job", item.job, book.jobs)


def _retired(name: str, book: Book) -> bool:
    return name in book.component_of and any(job.id == name for job in book.component_of[name].jobs)


def _named(i: int, key: str, kind: str, name: str, known: Iterable[str]) -> Iterator[OwnProblem]:
    if name not in known:
        yield OwnProblem(i, key, f"{kind} '{name}' is not in the book", did_you_mean(name, list(known)))


# ------------------------------------------------------------------ what counts


def learned_of(own: Own, book: Book) -> OnThisBoat:
    """What counts of a boat's own file, by what it is of; jobs under the names that the book has for them now.

    Raises:
        InputError: it speaks of what the book does not know.
    """
    book = plain_of(book)
    for problem in own_problems(own, book):
        raise InputError(problem.what, where=f"{own.boat}, item {problem.item + 1}", right=problem.right)
    steps: dict[tuple[str, str], OwnStep] = {}
    setups: dict[str, OwnSetup] = {}
    parts: dict[str, OwnPart] = {}
    for item in own.learned:
        if isinstance(item, OwnStep):
            job = book.now_called(item.job)
            if job in book.jobs:
                steps[job, item.step] = _over(steps.get((job, item.step)), item.model_copy(update={"job": job}))
        elif isinstance(item, OwnSetup):
            setups[item.setup] = _over(setups.get(item.setup), item)
        else:
            parts[item.part] = _over(parts.get(item.part), item)
    return OnThisBoat(steps, setups, parts)


def _over(earlier: T | None, later: T) -> T:
    """Two items of one thing: what the later does not speak of stays as the earlier has it."""
    if earlier is None:
        return later
    said: dict[str, Any] = {**earlier.said, **later.said}
    if isinstance(earlier, OwnStep) and isinstance(later, OwnStep) and earlier.minutes is not None and later.minutes is not None:
        said["minutes"] = _minutes_over(earlier.minutes, later.minutes)
    return later.model_copy(update=said)


def _minutes_over(earlier: OwnMinutes, later: OwnMinutes) -> OwnMinutes:
    """Of the two hands' minutes the later of each; one that the later makes impossible is forgotten."""
    both = {**earlier.model_dump(exclude_none=True), **later.model_dump(exclude_none=True)}
    return later if both.get("first_time", 0.0) < both.get("skilled", 0.0) and len(both) > 1 else OwnMinutes(**both)


# ------------------------------------------------------------------ the book of one boat


def with_own(book: Book, own: Own) -> Book:
    """A book whose steps and set-ups are as they were found on one boat; what it was given stays as it is.

    Args:
        book: the rules; what was learned on another boat is left behind.
        own: the boat's own file.

    Raises:
        InputError: it speaks of what the book does not know.
    """
    plain = plain_of(book)
    learned = learned_of(own, plain)
    setups = {n: _setup(s, learned.setups[n]) if n in learned.setups else s for n, s in plain.words.setups.items()}
    moved = {n for n, s in setups.items() if s != plain.words.setups[n]}
    jobs = {j.id: _job(j, plain, setups, learned) for j in plain.jobs.values()
            if any(job == j.id for job, _ in learned.steps) or moved & set(setups_of(plain, j.setups))}
    kept = {f.name: getattr(plain, f.name) for f in fields(Book)}
    kept["components"] = tuple(_component(c, jobs) for c in plain.components)
    kept["words"] = plain.words.model_copy(update={"setups": setups})
    return OwnBook(**kept, plain=plain, learned=learned)


def _component(component: Component, jobs: Mapping[str, Job]) -> Component:
    if not any(job.id in jobs for job in component.jobs):
        return component
    return component.model_copy(update={"jobs": tuple(jobs.get(job.id, job) for job in component.jobs)})


def _setup(setup: Setup, own: OwnSetup) -> Setup:
    return setup.model_copy(update={n: v for n, v in own.said.items() if n in ("minutes", "restore_minutes")})


def _job(job: Job, book: Book, setups: Mapping[str, Setup], learned: OnThisBoat) -> Job:
    """A job with its steps as on this boat. Its whole time moves with them and with its set-ups, and its own work by nothing else."""
    steps = tuple(_step(s, learned.steps[job.id, s.id]) if (job.id, s.id) in learned.steps else s for s in job.steps)
    names = setups_of(book, job.setups)
    before, after = (sum(s.minutes + s.restore_minutes for s in (all_[n] for n in names)) for all_ in (book.words.setups, setups))
    if steps:
        skilled, first = (sum(getattr(s.minutes, hand) for s in steps) for hand in ("skilled", "first_time"))
    else:
        skilled, first = max(1.0, job.minutes.skilled - before), max(1.0, job.minutes.first_time - FIRST_TIME * before)
    whole = Minutes(skilled=skilled + after, first_time=max(skilled + after, first + FIRST_TIME * after))
    return job.model_copy(update={"steps": steps, "minutes": whole})


def _step(step: Step, own: OwnStep) -> Step:
    """A step as on this boat. The book's own warning and tools stay beside what was learned: the one is no reason to forget the other."""
    changed: dict[str, Any] = {"tools": tuple(dict.fromkeys((*step.tools, *own.tools)))}
    if own.minutes is not None:
        changed["minutes"] = own_minutes_of(step.minutes, own.minutes)
    if own.holds_two is not None:
        changed["holds_two"] = " ".join(t for t in (as_sentence(own.holds_two), step.holds_two) if t)
    if own.hands is not None:
        changed["hands"] = own.hands
    return step.model_copy(update=changed)


def own_minutes_of(book: Minutes, own: OwnMinutes) -> Minutes:
    """Minutes on this boat, of both hands; the hand that was not told of takes as much longer or less long as the other."""
    if own.skilled is None and own.first_time is not None:
        return Minutes(skilled=min(own.first_time, own.first_time * book.skilled / book.first_time), first_time=own.first_time)
    skilled = own.skilled or book.skilled
    return Minutes(skilled=skilled, first_time=own.first_time or max(skilled, skilled * book.first_time / book.skilled))


def as_sentence(text: str) -> str:
    """A text with an end."""
    return text if text.endswith((".", "!", "?", ":")) else f"{text}."


def own_schema(book: Book) -> dict[str, Any]:
    """JSON Schema of a boat's own file, with the jobs, set-ups and parts of the book as choices."""
    schema = Own.model_json_schema(by_alias=True)
    choices = (("OwnStep", "job", book.jobs), ("OwnSetup", "setup", book.words.setups), ("OwnPart", "part", book.words.parts))
    for kind, key, known in choices:
        schema["$defs"][kind]["properties"][key] = {"enum": sorted(known)}
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    return schema
