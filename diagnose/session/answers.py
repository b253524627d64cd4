"""What a person typed at a question, read: entries to keep, a detail to ask, or something to show. Enter alone says nothing."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from diagnose.case import EventSeen, Observation, Sureness, Trip
from diagnose.errors import DiagnoseError, InputError
from diagnose.knowledge.model import RESERVED_GRADE, EngineState, Symptom
from diagnose.record.entries import (
    BoatEntry,
    EngineStateEntry,
    Entry,
    EventEntry,
    Matched,
    MovedOn,
    Note,
    Observed,
    PassedOver,
    Photo,
    TakenBack,
    TripEntry,
    Why,
    WordsEntry,
)
from diagnose.session import amounts, asking, instruments, telling
from diagnose.session.agenda import told_state
from diagnose.session.language import FAINT, STOP, says_no, stem, words_of
from diagnose.session.match import Index
from diagnose.session.progress import ASIDE, NOTHING, PAST, RESUMED, TRIP, Answer, Progress
from diagnose.session.questions import Choice, Draft, Question, Reply, Show
from diagnose.session.readoff import ReadOff
from diagnose.session.turns import SKIPS, STATES, Turn, cut, no_line, state_asked
from diagnose.session.words import MOST_PIECES, Piece, piece, pieces
from diagnose.units import parse_quantity

SHOWS: dict[str, Show] = {
    "now": "now", "why": "why", "w": "why", "h": "help", "help": "help", "?": "help", "all": "all", "answers": "answers",
    "q": "leave", "quit": "leave", "exit": "leave", "leave": "leave",
}
_CHANGE = re.compile(r"(?:change|c)\s*(\d+)(\s+out)?\Z")
_WITH_TEXT = re.compile(r"(n|note|p|photo)(?:\s+(.+))?\Z", re.IGNORECASE | re.DOTALL)
_HOURS = re.compile(r"(\d+(?:\.\d+)?)\s*(?:h|hrs?|hours?)\b")
_SAIL = re.compile(r"sail|mast|rig\b|rigg")
"""Anything that speaks of sailing, whatever it says of it."""
_FILLS = frozenset(["", "and", "about", "with", "she", "home"])
SAILS: dict[str, bool] = {
    "sail": True, "sails": True, "can sail": True, "can sail home": True, "sail home": True, "no sail": False, "no sails": False,
    "cannot sail": False, "can't sail": False, "cant sail": False, "can not sail": False, "cannot sail home": False,
    "can't sail home": False, "cant sail home": False, "can not sail home": False, "unable to sail": False, "without sail": False,
    "without sails": False}
"""The only words by which it is taken that she can sail, or cannot; of any others it is asked."""
MOST_HOURS, MOST_AGO = 2000.0, 200_000.0
LEAST_WORDS = 3
"""Letters from which on the words of a line may be typed in place of its number."""
WHY_NOT: dict[str, Why] = {"u": "not-sure", "x": "cannot-see", "l": "later"}
SURENESS: dict[int, Sureness] = {0: "sure", 1: "think-so", 2: "guess"}


@dataclass(frozen=True)
class Reader(ReadOff):
    """Reads answers for one boat. `fingerprint` gives the full path and the SHA-256 of a file, or raises InputError."""

    index: Index
    boat: str
    fingerprint: Callable[[str], tuple[str, str]]

    def read(self, question: Question, typed: str, done: Progress, at: datetime) -> Reply:
        """What an answer comes to. Whatever is typed, it raises nothing."""
        typed = typed.encode("utf-8", "replace").decode("utf-8").strip()  # what is no text at all cannot be kept
        if not typed:
            return Reply(said=("Nothing was typed, so nothing was taken. h tells what may be typed.",))
        try:
            return self._read(typed, Turn(question, " ".join(typed.split()).casefold(), done, at))
        except DiagnoseError as error:
            right = f" Right would be: {error.right}." if error.right else ""
            return Reply(said=(f"Not taken: {error.what}.{right}",))

    def _read(self, text: str, turn: Turn) -> Reply:
        kind, low = turn.question.kind, turn.low
        words = kind in ("opening", "also")
        if low in SHOWS and not (words and SHOWS[low] in ("now", "why", "all")):
            return Reply(show=SHOWS[low])
        if low in ("b", "back"):
            return self._back(turn)
        if words:
            return self._words(text, turn)
        anywhere = self._anywhere(text, turn) if kind != "unit" else None
        if anywhere is not None:
            return anywhere
        reads: dict[str, Callable[[Turn], Reply]] = {
            "engine": self._engine, "since": self._since, "reading": self._reading, "trip": self._trip, "fact": self._fact,
            "symptom": self._symptom, "unit": self._unit, "between": self._between, "gate": self._gate, "settled": self._settled,
            "ago": self._ago, "when": self.on_when, "revs": self.on_revs, "which": self.on_which, "measurand": self.on_measurand,
            "cool": self.on_cool, "end": self._unknown}
        return reads[kind](turn)

    # -------------------------------------------------------------- anywhere

    def _anywhere(self, text: str, turn: Turn) -> Reply | None:
        """What may be typed at any question but one that takes free words or a unit."""
        kind, low = turn.question.kind, turn.low
        change = _CHANGE.match(low)
        if change is not None:
            return self._change(int(change[1]), change[2] is not None, turn)
        kept = _WITH_TEXT.match(text)
        if kept is not None:
            return self._kept(kept[1][0].lower(), kept[2], turn)
        if low in ("a", "also") or low.startswith(("a ", "also ")):
            more = text.partition(" ")[2].strip()
            return self._words(more, turn) if more else Reply(ask=asking.also(turn.done.number))
        if low in ("t", "trip") and kind != "trip":
            return Reply(ask=asking.trip(self.book, turn.done.number, turn.done.engine))
        if kind not in ("gate", "engine", "since", "ago", "when") and low in STATES and not _grade_named(turn.question, low):
            state = STATES[low]
            return self.not_yet_cold(state, turn) or Reply((EngineStateEntry(at=turn.at, state=state),),
                                                           (f"Taken: she is {telling.SHORT[state]} now.",))
        if low == "stop" and kind != "gate":
            return Reply(said=("Stop what? stopped: the engine was stopped. q: leave this session.",))
        return None

    def _kept(self, which: str, what: str | None, turn: Turn) -> Reply:
        about = turn.question.about.partition("@")[0] or None
        if what is None:
            return Reply(said=("Type n and the note, or p and the path of the photo, on one line.",))
        if which == "n":
            return Reply((Note(at=turn.at, text=what, about=about),), ("Note kept.",))
        path, digest = self.fingerprint(what)
        return Reply((Photo(at=turn.at, path=path, sha256=digest, about=about),), (f"Photo kept: {path}",))

    def _back(self, turn: Turn) -> Reply:
        last = turn.done.last
        if last is None:
            return Reply(said=("There is nothing to take back.",))
        first = last.entries[0]
        gone_on = isinstance(first, MovedOn) and first.to == RESUMED  # no other question follows from what happened meanwhile
        return Reply(_struck(last, turn.at, "taken back"),
                     (f"Crossed out, kept in the record: {last.number}, {telling.line(self.book, last)}.",),
                     asking.since(turn.done.number, turn.done.engine) if gone_on else None)

    def _change(self, number: int, out: bool, turn: Turn) -> Reply:
        """An answer asked anew. What was no question can only be crossed out, and that is told before it is done."""
        done, answer = turn.done, turn.done.numbered(number)
        if answer is None:
            return Reply(said=(f"There is no answer {number} that stands. answers lists them.",))
        said, first = telling.line(self.book, answer), answer.entries[0]
        if isinstance(first, WordsEntry) and not first.matched and first.left_over != (first.said,) and pieces(first.said):
            return Reply(said=("Your own words stay as you said them. a adds to them; b walks back to them.",))
        asked = self._asked_by(first)
        if asked is not None:
            return Reply(ask=self._anew(*asked, said, turn))
        fact = next((self.book.facts[n] for n in first.arrangement if n in self.book.facts), None) if isinstance(first, BoatEntry) else None
        if fact is not None:
            return Reply(ask=replace(asking.fact(fact, done.number, done.engine), again=said))
        if isinstance(first, EngineStateEntry):
            return Reply(ask=asking.engine_now(done.number, done.engine))
        if isinstance(first, TripEntry):
            return Reply(ask=asking.trip(self.book, done.number, done.engine))
        if isinstance(first, MovedOn) and first.to == RESUMED:
            return Reply(_struck(answer, turn.at, "changed"), (f"Crossed out, kept in the record: {said}.",),
                         asking.since(done.number, done.engine))
        if not out:
            return Reply(said=(f"{number} is no question that can be asked anew: {said}. change {number} out crosses it out.",))
        return Reply(_struck(answer, turn.at, "changed"), (f"Crossed out, kept in the record: {said}.",))

    def _asked_by(self, entry: Entry) -> tuple[Symptom, EngineState | None] | None:
        """The symptom and the state that an answer was about, if it was about one that the book knows."""
        name, state = "", None
        if isinstance(entry, Observed):
            name, state = entry.observation.symptom, entry.observation.state
        elif isinstance(entry, PassedOver) and (made := self.book.now_called(str(entry.check))) in self.book.checks:
            check = self.book.checks[made]
            name, state = check.tells[0], check.needs.engine_state
        elif isinstance(entry, PassedOver):
            name, state = str(entry.symptom), entry.state
        symptom = self.book.symptoms.get(self.book.now_called(name))
        return (symptom, state) if symptom is not None else None

    def _anew(self, symptom: Symptom, state: EngineState | None, said: str, turn: Turn) -> Question:
        done = turn.done
        known = told_state(symptom.states, state, done.engine, 1)
        look = asking.asked_of(self.book, symptom.id, known, done.opened)
        return asking.symptom(symptom, done.number, known, engine=done.engine, look=look, again=said)

    def _unknown(self, turn: Turn) -> Reply:
        return Reply(said=(f"'{cut(turn.low)}' is not known here. h tells what may be typed.",))

    # -------------------------------------------------------------- words

    def _words(self, text: str, turn: Turn) -> Reply:
        found = pieces(text)
        promises = tuple(p.text for p in found if p.denied and self.index.promises(p))
        left = tuple(p.text for p in found if p.text not in promises)[MOST_PIECES:]
        said = [f"'{p}' is kept: it is asked at the engine, for it was said and not looked at." for p in promises]
        if turn.low in NOTHING:
            said = ["Nothing special, then: the looks that a go waits for are walked through."]
        elif not found:
            said = ["Kept as you said it. Nothing in it could be read."]
        if left:
            said.append(f"The first {MOST_PIECES} things are asked about; the rest is kept in your words.")
        return Reply((WordsEntry(at=turn.at, said=text, to_ask=promises, left_over=left),), tuple(said))

    def _reading(self, turn: Turn) -> Reply:
        question, at = turn.question, turn.at
        chosen = question.choice(turn.low)
        if chosen is None:
            return no_line(turn)
        said = piece(question.words)
        if chosen.id == asking.KEEP:
            return Reply((WordsEntry(at=at, said=said.text, left_over=(said.text,)),), ("Kept in your words. No reading rests on them.",))
        if chosen.id == asking.ASIDE:
            return Reply((MovedOn(at=at, to=f"{PAST}{ASIDE}", note=said.text),), ("Left out, as nothing to do with the engine.",))
        kind, name, grade = chosen.id.split(":")
        if kind == asking.READ_OFF:
            kept = Draft(name, instruments.value_of(said.amounts, self.book.readings[name]) or "", said.state,
                         instruments.revs_in(said.text), said.text)
            return self.read_off(kept, turn) if kept.value else Reply(ask=self.to_read(kept, turn, None))
        if kind == "event":
            ask = "About how many engine hours ago? A number; u if you cannot say."
            return Reply(ask=Question("ago", ask, turn.done.number, turn.done.engine, about=name, words=said.text, of=question,
                                      free="number"))
        return self._meant(said, self.book.symptoms[name], grade or None, turn)

    def _meant(self, said: Piece, symptom: Symptom, grade: str | None, turn: Turn) -> Reply:
        """A piece taken to mean a symptom: observed at once where its words give grade or number, else asked next."""
        value = self._value_in(said, symptom)
        matched = Matched(piece=said.text, symptom=symptom.id, grade=grade, value=value)
        match = WordsEntry(at=turn.at, said=said.text, matched=(matched,))
        if value is None and grade is None:
            return Reply((match,), (f"Taken: {symptom.title}.",))
        place = 1 if value is not None else list(symptom.grades).index(str(grade))
        state = told_state(symptom.states, said.state, turn.done.engine, place)
        seen = Observation(symptom=symptom.id, grade=None if value else grade, value=value, state=state, note=said.text)
        return Reply((match, Observed(at=turn.at, observation=seen)), (f"Taken: {telling.observed(self.book, seen)}.",))

    def _value_in(self, said: Piece, symptom: Symptom) -> str | None:
        """A number with its unit among what was said, if the symptom is measured in such."""
        for amount in said.amounts if symptom.measure is not None else ():
            try:
                return amounts.reading(amount, symptom.measure, symptom.title)  # type: ignore[arg-type]
            except InputError:
                continue
        return None

    def _ago(self, turn: Turn) -> Reply:
        question, low = turn.question, turn.low
        found = _HOURS.match(low) or re.match(r"(\d+(?:\.\d+)?)\Z", low)
        if found is None and low not in SKIPS:
            return Reply(said=("A number of engine hours, such as 20; u if you cannot say.",), ask=question)
        hours = float(found[1]) if found is not None else 0.0
        if hours > MOST_AGO:
            raise InputError("no engine has run so long since", right=f"engine hours, up to {MOST_AGO:g}")
        event = EventSeen(event=question.about, hours_ago=hours, note=question.words)
        lately = "" if found is not None else " It is taken as lately."
        return Reply((EventEntry(at=turn.at, event=event),), (f"Taken: {self.book.events[question.about].title}.{lately}",))

    # -------------------------------------------------------------- boat, trip, state

    def _engine(self, turn: Turn) -> Reply:
        chosen = turn.question.choice(turn.low)
        state = STATES.get(turn.low) if chosen is None else asking.state_of(chosen)
        if state is None:
            return no_line(turn)
        early = self.not_yet_cold(state, turn)
        if early is not None:
            return early
        entries: list[Entry] = [EngineStateEntry(at=turn.at, state=state)]
        at_sea = chosen is not None and chosen.id.endswith(asking.AT_SEA)
        if at_sea != turn.done.under_way and chosen is not None:
            trip = turn.done.trip.trip if turn.done.trip is not None else Trip()
            entries.append(TripEntry(at=turn.at, trip=trip.model_copy(update={"under_way": at_sea})))
        return Reply(tuple(entries), (f"Taken: she is {telling.SHORT[state]}{', under way' if at_sea else ''}.",))

    def _since(self, turn: Turn) -> Reply:
        keys = re.findall(r"\d", turn.low) if re.fullmatch(r"[\d\s,;]+", turn.low) else []
        chosen = [turn.question.choice(key) for key in keys]
        if not chosen or None in chosen:
            return no_line(turn)
        what = ", ".join(c.id for c in chosen if c is not None and c.id != asking.NO_CHANGE)
        entry = MovedOn(at=turn.at, to=RESUMED, note=what or None)
        return Reply((entry,), (f"Taken: since then {what or 'nothing of that'}.",))

    def _trip(self, turn: Turn) -> Reply:
        low, question = turn.low, turn.question
        if low in SKIPS:
            return Reply((MovedOn(at=turn.at, to=f"{PAST}{TRIP}"),), ("No trip in mind. t tells it later.",))
        first = re.match(r"(\d+)(?!\d|\.|\s*h)", low)
        chosen = question.choice(first[1]) if first is not None else None
        hours = _HOURS.search(low)
        rest = _beside(low, first if chosen is not None else None, hours)
        if first is None:
            named, rest = self._exposure(question, rest)
            chosen = chosen or named
        sails, rest = _sails_in(rest)
        if sails is None and _SAIL.search(rest) is not None:
            return Reply(said=(f"'{cut(rest)}' may be taken either way, so nothing of the line was taken. Type it again with sail if she "
                               "can sail home, with no sail if she cannot.",))
        if (first is not None and chosen is None) or (chosen is None and hours is None and sails is None):
            return no_line(turn)
        trip = turn.done.trip.trip if turn.done.trip is not None else Trip()
        if hours is not None and not 0 < float(hours[1]) <= MOST_HOURS:
            raise InputError("a trip takes some engine hours", right=f"more than 0 and up to {MOST_HOURS:g} h")
        changed: dict[str, object] = {}
        if chosen is not None:
            changed["exposure"] = chosen.id
        if hours is not None:
            changed["engine_hours"] = float(hours[1])
        if sails is not None:
            changed["can_sail"] = sails
        entry = TripEntry(at=turn.at, trip=trip.model_copy(update=changed))
        unused = (f"Not used: '{cut(rest)}'.",) if rest else ()
        return Reply((entry,), (f"Taken: {telling.trip_words(self.book, entry)}.", *unused))

    @staticmethod
    def _exposure(question: Question, rest: str) -> tuple[Choice | None, str]:
        """The trip whose title or name the words name, and no other as well, and what is left of the words."""
        plain = [words_of(part) for part in rest.split(", ")]
        said = {stem(w): w for part in plain if not any(map(says_no, part)) for w in part if w not in STOP and stem(w) not in FAINT}
        own = {c.id: {stem(w) for w in words_of(f"{c.id} {c.text}") if w not in STOP} for c in question.choices}
        met = {name: {s for s in said if s in own[name] and sum(s in words for words in own.values()) == 1} for name in own}
        hits = [name for name, words in met.items() if words]
        if len(hits) != 1:
            return None, rest
        used = {said[s] for s in said if s in own[hits[0]]}
        parts = (" ".join(w for w in part.split() if w not in used) for part in rest.split(", "))
        return next(c for c in question.choices if c.id == hits[0]), ", ".join(p for p in parts if p and p not in _FILLS)

    def _fact(self, turn: Turn) -> Reply:
        low, question = turn.low, turn.question
        fact = self.book.facts[question.about]
        if low in SKIPS:
            return Reply((MovedOn(at=turn.at, to=f"{PAST}{fact.id}"),), ("Not known. It is taken as on most boats, and listed.",))
        value: str | float | bool
        if question.choices:
            chosen = question.choice(low) or next((c for c in question.choices if low in (c.id, c.text.casefold())), None)
            if chosen is None:
                return no_line(turn)
            value = chosen.id == asking.YES if fact.flag else chosen.id
        else:
            bare = re.fullmatch(r"[\d.]+", low) is not None and fact.unit != "1"
            text = f"{low} {fact.unit}" if bare else amounts.tidied(low)
            number = parse_quantity(text, str(fact.unit), what=fact.title, possible=fact.possible)
            value = number if fact.unit == "1" else f"{number:g} {fact.unit}"
        return Reply((BoatEntry(at=turn.at, name=self.boat, arrangement={fact.id: value}),), ("Taken, and kept with the boat.",))

    def _gate(self, turn: Turn) -> Reply:
        low, word = turn.low, turn.question.choices[0].key
        to = asking.state_of(turn.question.choices[0])
        if STATES.get(low) == to or (low == "stop" and to == "warm-stopped"):
            return self.not_yet_cold(to, turn) or Reply((EngineStateEntry(at=turn.at, state=to),),
                                                        (f"Taken: she is {telling.SHORT[to]} now.",))
        if low in ("l", "later", "u"):
            return Reply((MovedOn(at=turn.at, to=f"{PAST}{to}"),), ("Not now. What it was for is listed as not looked at.",))
        if low in ("x", "will not", "won't", "she will not"):
            return Reply(ask=asking.also(turn.done.number, "What does she do when you try? Your own words."))
        return Reply(said=(f"Type the word {word} when it is so; l to leave it. Nothing else changes her state here.",))

    def _settled(self, turn: Turn) -> Reply:
        chosen = turn.question.choice(turn.low)
        if chosen is None:
            return no_line(turn)
        return Reply((MovedOn(at=turn.at, to=chosen.id, note=turn.question.about),))

    # -------------------------------------------------------------- symptoms

    def _symptom(self, turn: Turn) -> Reply:
        question = turn.question
        if turn.low in SKIPS:
            return self._skipped(question, SKIPS[turn.low], turn)
        symptom = self.sign_of(question)
        plain = turn.low.rstrip("? ").strip()
        sure = SURENESS[min(turn.low.count("?"), 2)]
        if plain == "r" and symptom.worked_out:
            return self.one_by_one(symptom, state_asked(question), turn)
        line = question.choice(plain)
        if line is not None:
            if symptom.measure is not None and amounts.may_be_reading(int(plain), symptom):
                return Reply(ask=self._line_or_number(question, plain))
            return self._graded(question, line.id, sure, turn)
        if symptom.measure is not None and re.match(r"[-+−]?\d", plain):
            return self._measured(question, plain, sure, turn)
        lost = amounts.rate(plain) if symptom.leak is not None else None
        if lost is not None:
            return self._lost(question, lost, sure, turn)
        if symptom.leak is not None and amounts.bare_count(plain) is not None:
            ask = f"{plain}: drops in what time? Such as 10 min."
            return Reply(ask=Question("unit", ask, question.number, question.state, about=question.about, typed=plain, of=question,
                                      skips=("l",)))
        named = _grade_named(question, plain)
        if named:
            return self._graded(question, named, sure, turn)
        if plain in ("yes", "no", "y"):
            return Reply(said=("Yes or no may be taken either way. Type the number of the line that fits.",))
        return no_line(turn)

    def _measured(self, question: Question, plain: str, sure: Sureness, turn: Turn) -> Reply:
        symptom = self.sign_of(question)
        assert symptom.measure is not None
        try:
            as_reading = self.as_reading(question, plain, turn)
            if as_reading is not None:
                return as_reading
            value = amounts.reading(plain, symptom.measure, symptom.title)
        except amounts.UnitUnclearError as error:
            typed = re.sub(r"[^-+\d.,]", "", plain.split()[0])
            return Reply(ask=Question("unit", f"{error.what} Type the unit: {error.right}.", question.number, question.state,
                                      about=question.about, typed=typed, of=question, unit=symptom.measure.unit, skips=("l",)))
        return self._keep(question, turn, value=value, sure=sure)

    def _lost(self, question: Question, lost: amounts.Rate, sure: Sureness, turn: Turn) -> Reply:
        drops = "; a drop is 0.05 to 0.10 mL" if lost.drops else ""
        if lost.uncountable:
            return Reply(said=("That many drops cannot be counted. Say what was caught in what time, such as 2 L in 1 h.",))
        seen = {"value": lost.middle} if lost.high > 0 else {"grade": RESERVED_GRADE}
        reply = self._keep(question, turn, **seen, sure=sure, note=f"{lost.said}: {lost.words}")
        return replace(reply, said=(f"{lost.said} is {lost.words}{drops}.", *reply.said))

    def _graded(self, question: Question, grade: str, sure: Sureness, turn: Turn) -> Reply:
        return self._keep(question, turn, grade=grade, sure=sure, note=question.words or None)

    def _keep(self, question: Question, turn: Turn, **seen: Any) -> Reply:
        given = Observation(symptom=self.sign_of(question).id, state=state_asked(question), **seen)
        check = question.look.check if question.look is not None and question.look.whole else None
        return Reply((Observed(at=turn.at, observation=given, check=check or None),), (f"Taken: {telling.observed(self.book, given)}.",))

    def _skipped(self, question: Question, skip: str, turn: Turn) -> Reply:
        if skip == "u" and len(question.choices) > 1:
            ask = "Between which two lines? Two numbers, such as 0 1; or: not at all."
            return Reply(ask=Question("between", ask, question.number, question.state, about=question.about, of=question,
                                      choices=question.choices))
        look = question.look
        if skip == "l" and look is not None and look.whole and not look.goes_on:
            return Reply((PassedOver(at=turn.at, check=look.check, why="later"),), ("Later, all of that look.",))
        return self._passed(question, skip, turn)

    def _passed(self, question: Question, skip: str, turn: Turn) -> Reply:
        entry = PassedOver(at=turn.at, symptom=self.sign_of(question).id, state=state_asked(question), why=WHY_NOT[skip])
        return Reply((entry,), ("Later." if skip == "l" else "Not looked at, then. That is no healthy answer.",))

    def _between(self, turn: Turn) -> Reply:
        question, low = turn.question, turn.low
        asked = question.of
        assert asked is not None
        if low in ("not at all", "no", "none", "neither") or low in SKIPS:
            return self._passed(asked, "l" if SKIPS.get(low) == "l" else "u", turn)
        keys = sorted({int(k) for k in re.findall(r"\d", low)})
        if not keys or any(asked.choice(str(k)) is None for k in keys) or not re.fullmatch(r"[\d\s,;or/-]+", low):
            return Reply(said=("Two numbers of lines, such as 0 1; or: not at all.",), ask=question)
        grades = tuple(c.id for c in asked.choices[keys[0]: keys[-1] + 1])
        if len(grades) == 1:
            return self._graded(asked, grades[0], "guess", turn)
        if len(grades) == len(asked.choices):
            return self._passed(asked, "u", turn)
        return self._keep(asked, turn, one_of=grades, note=asked.words or None)

    def _unit(self, turn: Turn) -> Reply:
        """The unit or the time of a number, asked once; whatever is still unclear leads back to the whole question."""
        question, low = turn.question, turn.low
        asked = question.of
        assert asked is not None
        if low in SKIPS:
            return self._passed(asked, SKIPS[low], turn)
        if question.choices:  # a line, or a number that looks like one
            chosen = question.choice(low)
            if chosen is None:
                return no_line(turn)
            if chosen.id:
                return self._graded(asked, chosen.id, "sure", turn)
        if question.choices or (low in ("y", "yes") and question.unit):
            low = question.unit
        if self.sign_of(asked).measure is not None:
            reply = self._measured(asked, low if re.match(r"[-+]?\d", low) else f"{question.typed} {low}", "sure", turn)
            return reply if reply.entries else Reply(said=("The unit is still not clear, so nothing was taken.",), ask=asked)
        lost = amounts.rate(low) or amounts.rate(f"{question.typed} in {low}") or amounts.rate(f"{question.typed} {low}")
        if lost is None:
            return Reply(said=("The time is still not clear, so nothing was taken.",), ask=asked)
        return self._lost(asked, lost, "sure", turn)

    def _line_or_number(self, question: Question, key: str) -> Question:
        measure, line = self.sign_of(question).measure, question.choice(key)
        assert measure is not None
        assert line is not None
        choices = (Choice("1", f"the line: {line.text}", line.id), Choice("2", f"a reading of {key} {amounts.shown_unit(measure.unit)}"))
        return Question("unit", f"{key}: the line of that number, or what was read?", question.number, question.state,
                        about=question.about, choices=choices, typed=key, unit=measure.unit, of=question)



def _struck(answer: Answer, at: datetime, why: str) -> tuple[TakenBack, ...]:
    return tuple(TakenBack(at=at, entry=number, reason=why) for number in answer.ids)


def _grade_named(question: Question, plain: str) -> str:
    """The grade whose name or words were typed, where only one is; empty otherwise."""
    if question.kind != "symptom" or len(plain) < LEAST_WORDS:
        return ""
    exact = [c.id for c in question.choices if plain in (c.id, c.id.replace("-", " "), c.text.casefold())]
    near = exact or [c.id for c in question.choices if plain in c.text.casefold()]
    return near[0] if len(near) == 1 else ""


def _beside(low: str, *taken: re.Match[str] | None) -> str:
    """What a line says beside the parts already taken from it; parts stay parted by commas."""
    for start, end in sorted((m.span() for m in taken if m is not None), reverse=True):
        low = f"{low[:start]},{low[end:]}"
    parts = (" ".join(part.split()) for part in re.split(r"[,;.]", low.replace("\u2019", "'")))
    return ", ".join(part for part in parts if part not in _FILLS)


def _sails_in(rest: str) -> tuple[bool | None, str]:
    """Whether she can sail, and what else the line says; where any part speaks of sailing in other words, it is not said."""
    whole = _sails(rest)
    if whole is not None:
        return whole, ""
    parts = rest.split(", ")
    speaking = [part for part in parts if _SAIL.search(part)]
    others = [word for part in parts if part not in speaking for word in words_of(part)]
    if len(speaking) == 1 and not any(map(says_no, others)) and (told := _sails(speaking[0])) is not None:
        return told, ", ".join(part for part in parts if part != speaking[0])
    return None, rest


def _sails(rest: str) -> bool | None:
    """Whether she can sail, by one of the known ways to say it and nothing else; None where it is not said so."""
    words = [word for word in rest.split() if word not in ("she", "and", "with")]
    return SAILS.get(" ".join(words))
