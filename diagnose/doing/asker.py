"""Answers read at the questions of the work, each saved before the next is asked. `q` leaves, `b` takes the last answer back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from diagnose.doing.desk import Desk
from diagnose.doing.standing import WORKING
from diagnose.doing.typed import BACK, LEAVE
from diagnose.errors import InputError
from diagnose.knowledge.model import EngineState
from diagnose.record.entries import Entry, MovedOn, Note, Observed, PassedOver, Photo
from diagnose.session import asking
from diagnose.session.answers import Reader
from diagnose.session.progress import progress_of
from diagnose.session.questions import Question

DETAILS = ("unit", "between", "measurand", "when", "revs", "which")
"""Questions of detail that an answer about a sign may lead to."""


class LeftError(Exception):
    """The work was left at a question."""


class TakenBackError(Exception):
    """An answer was taken back at a question: what comes now follows from the log."""


@dataclass(frozen=True)
class Asker:
    """Puts questions, and keeps what they are answered.

    Every method that asks raises LeftError where the work is left and TakenBackError where an answer is taken back.
    """

    desk: Desk
    reader: Reader

    def settle(self, question: Question, name: str, entries: Callable[[Sequence[str]], Sequence[Entry]]) -> None:
        """Ask for one or several lines of a question, and keep what follows from them with the mark that it was asked.

        Args:
            question: with its lines.
            name: of the mark.
            entries: what follows from the ids of the lines chosen.
        """
        self.desk.bench.question(question, (), frozenset())
        while True:
            keys = self._line().casefold().replace(",", " ").split()
            chosen = [c.id for k in keys if (c := question.choice(k)) is not None]
            if keys and len(chosen) == len(keys):
                said = entries(chosen)
                at = said[0].at if said else self.desk.moment()
                if self.desk.keep([*said, MovedOn(at=at, to=f"{WORKING}{name}", note=", ".join(chosen) or None)]):
                    return
            self.desk.bench.say([f"Type {_keys(question)}; several with a space between; b back; q leaves."])

    def one(self, question: Question) -> str:
        """Ask for one line of a question, and give its id; nothing is kept."""
        self.desk.bench.question(question, (), frozenset())
        while (chosen := question.choice(" ".join(self._line().split()).casefold())) is None:
            self.desk.bench.say([f"Type {_keys(question)}; b back; q leaves."])
        return chosen.id

    def signs(self, signs: Sequence[tuple[str, EngineState]], since: datetime, intro: str) -> None:
        """Ask of signs, each in its state, that were not answered since a moment."""
        log = [s.entry for s in self.desk.log() if not s.taken_back and s.entry.at >= since]
        told = {(e.observation.symptom, e.observation.state) for e in log if isinstance(e, Observed)}
        told |= {(str(e.symptom), e.state) for e in log if isinstance(e, PassedOver)}
        left = [s for s in signs if s not in told]
        if left:
            self.desk.bench.say([intro])
        for name, state in left:
            self._sign(name, state)

    def _sign(self, name: str, state: EngineState) -> None:
        desk = self.desk
        question = asking.symptom(desk.book.symptoms[name], 0, state, engine=state)
        desk.bench.question(question, (), frozenset())
        while True:
            typed = self._line()
            reply = self.reader.read(question, typed, progress_of(desk.log(), desk.book), desk.moment())
            fits = all(isinstance(e, Observed | PassedOver | Note | Photo) for e in reply.entries)
            if not fits or reply.show or (reply.ask is not None and reply.ask.kind not in DETAILS):
                desk.bench.say(["A line of the answers, or u, x, l; n for a note; b back; q leaves."])
                continue
            desk.bench.say(reply.said)
            if reply.entries and not desk.keep(reply.entries):
                continue
            if reply.ask is not None:
                question = reply.ask
                desk.bench.question(question, (), frozenset())
            elif any(isinstance(e, Observed | PassedOver) for e in reply.entries):
                return

    def _line(self) -> str:
        """The next line that is neither `q` nor `b`."""
        while True:
            typed = self.desk.bench.ask()
            low = " ".join((typed or "").split()).casefold()
            if typed is None or low in LEAVE:
                self.desk.bench.say([self.desk.saved()])
                raise LeftError
            if low not in BACK:
                return typed
            try:
                self.desk.take_back()
            except InputError as error:
                self.desk.bench.say([f"Not taken: {error.what}."])
            else:
                raise TakenBackError


def _keys(question: Question) -> str:
    return ", ".join(c.key for c in question.choices)
