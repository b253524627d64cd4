"""Numbers read off instruments, and the hand that tells whether she is cold: each kept once all it needs is known."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import timedelta

from diagnose.case import Observation
from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import RUNNING, EngineState, Measurand, Symptom
from diagnose.record.entries import EngineStateEntry, Entry, MovedOn, Observed, WordsEntry
from diagnose.session import amounts, asking, instruments, telling
from diagnose.session.progress import PAST, Progress
from diagnose.session.questions import Draft, Question, Reply
from diagnose.session.turns import SKIPS, STATES, Turn, no_line, state_asked

COOLS = timedelta(hours=2)
"""So long after she ran she is taken to be cold without a hand on her (common practice)."""


@dataclass(frozen=True)
class ReadOff:
    """Reads answers about readings off instruments, and about going cold."""

    book: Book

    def sign_of(self, question: Question) -> Symptom:
        """The symptom that a question is about."""
        return self.book.symptoms[question.about.partition("@")[0]]

    # -------------------------------------------------------------- cold or not

    def not_yet_cold(self, state: EngineState, turn: Turn) -> Reply | None:
        """The test by hand, where she is said to be cold too soon after she ran or was warm; None where that may be."""
        done = turn.done
        if state != "cold-stopped" or done.engine == state or done.hot_until is None:
            return None
        gone = turn.at - done.hot_until
        if done.engine not in RUNNING and gone >= COOLS:
            return None
        since = ("She runs still, as far as was said." if done.engine in RUNNING else
                 f"She ran until {telling.age(gone)} ago." if done.ran else f"She was still warm {telling.age(gone)} ago.")
        return Reply(ask=asking.cool(done.number, done.engine, since))

    def on_cool(self, turn: Turn) -> Reply:
        """What the hand says of how cold she is."""
        chosen = turn.question.choice(turn.low)
        if chosen is None:
            return no_line(turn)
        if chosen.id == asking.YES:
            return Reply((EngineStateEntry(at=turn.at, state="cold-stopped"),), ("Taken: she is cold now, by the hand.",))
        entry: Entry = MovedOn(at=turn.at, to=f"{PAST}cold-stopped")
        if turn.done.engine != "warm-stopped":
            entry = EngineStateEntry(at=turn.at, state="warm-stopped")
        return Reply((entry,), ("Taken as still warm: no cap is opened. Type cold once a hand rests on the header tank with ease.",))

    # -------------------------------------------------------------- readings off instruments

    def to_read(self, draft: Draft, turn: Turn, of: Question | None) -> Question:
        """The question for one reading."""
        return asking.measurand(self.book.readings[draft.reading], turn.done.number, turn.done.engine, draft, of)

    def read_off(self, draft: Draft, turn: Turn, past_revs: bool = False) -> Reply:
        """A reading kept, once the state she was in and the revs it needs are known; else the question for what is missing."""
        kind, done = self.book.readings[draft.reading], turn.done
        of = turn.question.of if turn.question.draft is not None else turn.question
        state = self._state_of(kind, draft, done)
        if state is None:
            return Reply(ask=asking.read_when(kind, done.number, done.engine, draft, of))
        draft = replace(draft, state=state)
        unknown = past_revs or f"{PAST}{instruments.moved_past('revs', state)}" in done.past
        if draft.rpm is None and instruments.wants_revs(self.book, kind.id, state) and not unknown:
            rpm = done.revs.get(state, done.revs_said)
            if rpm is None:
                return Reply(ask=asking.revs(done.number, done.engine, draft, of))
            draft = replace(draft, rpm=rpm)
        look = of.look if of is not None else None
        seen = Observation(reading=kind.id, value=draft.value, state=state, at_rpm=draft.rpm, note=draft.note)
        entry = Observed(at=turn.at, observation=seen, check=look.check or None if look is not None and look.whole else None)
        said = (f"Taken: {telling.observed(self.book, seen)}.",)
        return Reply((entry,), said, ask=self._next_one(draft, turn, of))

    @staticmethod
    def _state_of(kind: Measurand, draft: Draft, done: Progress) -> EngineState | None:
        """The state a number was read in: as said, the only one it can be, as she is, or as for the reading before it."""
        if draft.state in kind.states:
            return draft.state
        if len(kind.states) == 1:
            return kind.states[0]
        if done.engine in RUNNING and done.engine in kind.states:
            return done.engine
        return done.read_state if done.read_state in kind.states else None

    def _next_one(self, draft: Draft, turn: Turn, of: Question | None, past: frozenset[str] = frozenset()) -> Question | None:
        """The question for the next reading of a sign whose readings are gone through; None at their end."""
        if not draft.goes_on or draft.state is None:
            return None
        there = {*turn.done.read, (draft.reading, draft.state)} if draft.reading else {*turn.done.read}
        gone = {name.removeprefix(PAST) for name in turn.done.past} | past
        kind = instruments.next_wanted(self.book, self.book.symptoms[draft.symptom], draft.state, there, gone)
        if kind is None:
            return None
        return self.to_read(Draft(kind.id, state=draft.state, symptom=draft.symptom, goes_on=True), turn, of)

    def one_by_one(self, symptom: Symptom, state: EngineState, turn: Turn) -> Reply:
        """The readings of a sign, asked one after another."""
        ask = self._next_one(Draft("", state=state, symptom=symptom.id, goes_on=True), turn, turn.question)
        return Reply(ask=ask) if ask is not None else Reply(said=("Its readings were all told, or cannot be had. Type a line, or l.",))

    def as_reading(self, question: Question, plain: str, turn: Turn) -> Reply | None:
        """A number in the unit of a reading that a sign is worked out of, and not in its own; None where it is none."""
        symptom = self.sign_of(question)
        bare = instruments.without_revs(plain)
        try:
            amounts.reading(bare, symptom.measure, symptom.title)  # type: ignore[arg-type]
        except InputError:
            found = instruments.fitting(self.book, symptom, state_asked(question), bare)
        else:
            return None
        if not found:
            return None
        draft = Draft(found[0].id, instruments.value_of([bare], found[0]) or "", state_asked(question), instruments.revs_in(plain))
        if len(found) > 1:
            return Reply(ask=asking.which_reading(found, bare, turn.done.number, turn.done.engine, draft, question))
        return self.read_off(draft, turn)

    def on_which(self, turn: Turn) -> Reply:
        """Which of several readings a number is."""
        chosen, draft = turn.question.choice(turn.low), turn.question.draft
        if chosen is None or draft is None:
            return no_line(turn)
        return self.read_off(replace(draft, reading=chosen.id), turn)

    def on_when(self, turn: Turn) -> Reply:
        """In which state of the engine a number was read."""
        chosen, draft = turn.question.choice(turn.low), turn.question.draft
        assert draft is not None
        state = STATES.get(turn.low) if chosen is None else chosen.id
        if state not in self.book.readings[draft.reading].states:
            return no_line(turn)
        return self.read_off(replace(draft, state=state), turn)

    def on_revs(self, turn: Turn) -> Reply:
        """At which revs the readings of a state were taken."""
        draft = turn.question.draft
        assert draft is not None
        assert draft.state is not None
        if turn.low in SKIPS:
            reply = self.read_off(draft, turn, past_revs=True)
            past = MovedOn(at=turn.at, to=f"{PAST}{instruments.moved_past('revs', draft.state)}")
            return replace(reply, entries=(*reply.entries, past), said=(*reply.said, "What hangs on the revs cannot be worked out."))
        found = re.fullmatch(r"(?:at\s+)?(\d+(?:\.\d+)?)\s*(?:rpm|revs?)?", turn.low)
        if found is None or not instruments.LEAST_REVS <= float(found[1]) <= instruments.MOST_REVS:
            limits = f"{instruments.LEAST_REVS:g} to {instruments.MOST_REVS:g}"
            return Reply(said=(f"A number of rpm from {limits}, such as 2500; u if you cannot say.",))
        return self.read_off(replace(draft, rpm=float(found[1])), turn)

    def on_measurand(self, turn: Turn) -> Reply:
        """A number read off an instrument, asked for by itself."""
        question, draft = turn.question, turn.question.draft
        assert draft is not None
        kind = self.book.readings[draft.reading]
        if turn.low in SKIPS:
            if not draft.goes_on or draft.state is None:
                kept = draft.note or kind.title
                return Reply((WordsEntry(at=turn.at, said=kept, left_over=(kept,)),), ("Kept in your words. No reading rests on them.",))
            gone = instruments.moved_past(kind.id, draft.state)
            ask = self._next_one(replace(draft, reading=""), turn, question.of, frozenset([gone]))
            return Reply((MovedOn(at=turn.at, to=f"{PAST}{gone}"),), ("Not read, then.",), ask=ask)
        plain = instruments.without_revs(turn.low)
        try:
            value = amounts.reading(plain, kind, kind.title)
        except amounts.UnitUnclearError as error:
            return Reply(said=(f"{error.what} Type the number with its unit: {error.right}.",))
        return self.read_off(replace(draft, value=value, rpm=instruments.revs_in(turn.low) or draft.rpm), turn)
