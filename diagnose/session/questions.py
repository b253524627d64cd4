"""A question as a value: what is asked, what may be answered, why now, how it is done. Nothing here knows how it looks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from diagnose.assessment import SuggestedCheck
from diagnose.knowledge.model import EngineState
from diagnose.record.entries import Entry

Kind = Literal["opening", "also", "engine", "since", "reading", "trip", "fact", "symptom", "unit", "between", "gate",
               "settled", "ago", "when", "revs", "which", "measurand", "cool", "end"]
Show = Literal["", "question", "now", "why", "help", "all", "answers", "leave"]


@dataclass(frozen=True)
class Choice:
    """One answer that can be typed: its key, what it says, and what it stands for (a grade, a state, an id)."""

    key: str
    text: str
    id: str = ""


@dataclass(frozen=True)
class Careful:
    """A caution of the book in its words, printed before the step it belongs to."""

    title: str
    text: str


@dataclass(frozen=True)
class Look:
    """How a look is made, and why it is the one to make now. `also` are the other looks weighed, best first."""

    check: str
    title: str
    minutes: float
    first: tuple[str, ...] = ()
    cautions: tuple[Careful, ...] = ()
    how: tuple[str, ...] = ()
    put_back: tuple[str, ...] = ()
    why: str = ""
    also: tuple[str, ...] = ()
    suggested: SuggestedCheck | None = None
    whole: bool = False
    """All that the check tells is asked in one go, before anything else."""
    goes_on: bool = False
    """The look is already being made: this is its next question, and what it needs was said."""


@dataclass(frozen=True)
class Draft:
    """A reading not yet kept: what of, its number, what is still to be asked; `symptom` is the sign whose readings are gone through."""

    reading: str
    value: str = ""
    state: EngineState | None = None
    rpm: float | None = None
    note: str | None = None
    symptom: str = ""
    goes_on: bool = False
    """The next reading of the sign is asked after this one."""


@dataclass(frozen=True)
class Question:
    """One thing asked of the person.

    `about` is the id of what it is about: a symptom, a fact of the boat, the key of a piece, an engine state. `words` are
    the person's own words it starts from. `free` is what may be typed beside the keys of the choices. `lines` are to be read
    before answering: a list to go through, alternatives told at length.
    """

    kind: Kind
    ask: str
    number: int = 0
    state: EngineState | None = None
    title: str = ""
    about: str = ""
    choices: tuple[Choice, ...] = ()
    free: Literal["", "words", "number", "rate", "several", "trip"] = ""
    unit: str = ""
    words: str = ""
    lines: tuple[str, ...] = ()
    put_back: tuple[str, ...] = ()
    look: Look | None = None
    again: str = ""
    """The answer given before, where one is asked anew."""
    skips: tuple[str, ...] = ()
    """The ways of not answering that it allows: 'u', 'x', 'l'."""
    typed: str = ""
    """What was typed, where only its unit or its meaning is asked."""
    of: Question | None = None
    """The question that a question of detail belongs to."""
    draft: Draft | None = None
    """The reading that a question of detail is about."""

    def choice(self, key: str) -> Choice | None:
        """The choice of that key."""
        return next((c for c in self.choices if c.key == key), None)


@dataclass(frozen=True)
class Reply:
    """What an answer comes to: entries to keep before anything else happens, sentences to say, what to ask or show next.

    `ask` is a question of detail that comes next; without it the next question follows from the log. `show` asks for
    something to be shown and the same question put again.
    """

    entries: tuple[Entry, ...] = ()
    said: tuple[str, ...] = ()
    ask: Question | None = None
    show: Show = ""


@dataclass(frozen=True)
class Undone:
    """Something that was not looked at, and why."""

    title: str
    why: str
    matters: bool
    """Whether it could still move the decision."""
