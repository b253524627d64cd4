"""Where a guided session stands, folded from the log of its case: nothing is remembered that the log does not hold."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from diagnose.case import SURE
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import RUNNING, Check, EngineState
from diagnose.record.entries import (
    BoatEntry,
    EngineStateEntry,
    Entry,
    EventEntry,
    Matched,
    MovedOn,
    Observed,
    PassedOver,
    TripEntry,
    WordsEntry,
    WorkDone,
)
from diagnose.record.store import Stored
from diagnose.session.instruments import only_revs, revs_in
from diagnose.session.words import MOST_LETTERS, Piece, piece, pieces

ASKED = ("words", "observed", "passed-over", "event", "trip", "boat", "engine-state", "moved-on")
"""Kinds of entry that are answers to a question."""
PAST = "past "
"""What a session moved past without an answer begins so: a fact of the boat, an engine state, a trip."""
STARTED = "started or run"
NOTHING = frozenset(["nothing", "none", "nothing special", "nil"])
"""Words that begin a plain look-over."""
RESUMED, ENOUGH, LOOK_ON = "resumed", "enough", "look on"
TRIP = "trip"
ASIDE = "aside"
"""Words that the person said have nothing to do with the engine; the entry's note holds them."""


@dataclass(frozen=True)
class Answer:
    """All that one answer put into the log, under the number of its question; `engine` is the state she was in."""

    number: int
    at: datetime
    ids: tuple[int, ...]
    entries: tuple[Entry, ...]
    engine: EngineState | None
    taken_back: bool

    @property
    def observed(self) -> Observed | None:
        """What was observed, if it was that."""
        return next((e for e in self.entries if isinstance(e, Observed)), None)


@dataclass
class Progress:
    """What was answered so far and what follows for the asking."""

    answers: list[Answer] = field(default_factory=list)
    engine: EngineState | None = None
    engine_at: datetime | None = None
    has_run: bool = False
    said: list[str] = field(default_factory=list)
    pieces: list[Piece] = field(default_factory=list)
    """Every piece of what was said that is no promise, in order."""
    settled: dict[str, Matched | None] = field(default_factory=dict)
    """Key of a piece to what it was taken to mean; None where its words were kept as they are."""
    promises: list[str] = field(default_factory=list)
    seen: dict[tuple[str, EngineState | None], Answer] = field(default_factory=dict)
    later: dict[str, int] = field(default_factory=dict)
    """Symptom or check to how often it was put off."""
    passed: dict[tuple[str, EngineState | None], str] = field(default_factory=dict)
    """Symptom and state to why it could not be told."""
    past: set[str] = field(default_factory=set)
    chosen: dict[str, str] = field(default_factory=dict)
    """ENOUGH or LOOK_ON to the decision it was said of."""
    facts: list[str] = field(default_factory=list)
    trip: TripEntry | None = None
    check: str | None = None
    """The look last made, while she has not changed state since."""
    opened: list[str] = field(default_factory=list)
    """Checks made since she last changed state: what they opened is to be put back."""
    resumed: list[tuple[datetime, str]] = field(default_factory=list)
    read: dict[tuple[str, EngineState | None], Answer] = field(default_factory=dict)
    """Readings off instruments, each in its state of the engine."""
    read_state: EngineState | None = None
    """The state in which the last reading was taken."""
    revs: dict[EngineState, float] = field(default_factory=dict)
    """The revs at which readings of a state were taken [rpm]."""
    revs_said: float | None = None
    """Revs told among the words and not with any of them [rpm]."""
    unread: list[str] = field(default_factory=list)
    """What was said and nothing at all could be made of."""
    hot_until: datetime | None = None
    """The last moment at which she is known to have run or been warm; while she is, it is the moment that was said."""
    ran: bool = False
    """Whether she ran then, and was not only still warm."""

    @property
    def number(self) -> int:
        """The number of the next question."""
        return len(self.answers) + 1

    @property
    def open_pieces(self) -> list[Piece]:
        """Pieces not yet taken to mean anything, nor kept as they are."""
        return [p for p in self.pieces if p.key not in self.settled]

    @property
    def kept(self) -> list[str]:
        """What was said and kept in the person's own words."""
        return [p.text for p in self.pieces if p.key in self.settled and self.settled[p.key] is None]

    @property
    def not_read(self) -> list[str]:
        """What the person said that no reading of it rests on."""
        return [*self.kept, *self.unread]

    @property
    def unanswered(self) -> list[tuple[Piece, Matched]]:
        """Pieces taken to mean a symptom of which nothing was answered yet."""
        return [(p, m) for p in self.pieces if (m := self.settled.get(p.key)) is not None and not self.was_asked(m.symptom)]

    @property
    def last(self) -> Answer | None:
        """The last answer that stands."""
        return next((a for a in reversed(self.answers) if not a.taken_back), None)

    @property
    def under_way(self) -> bool:
        """Whether she is at sea."""
        return self.trip is not None and self.trip.trip.under_way

    def was_asked(self, symptom: str) -> bool:
        """Whether a symptom was answered, or could not be, in any state."""
        return any(name == symptom for name, _ in (*self.seen, *self.passed)) or self.later.get(symptom, 0) > 0

    def was_seen(self, symptom: str, state: EngineState) -> bool:
        """Whether a symptom was answered in this state, or passed over as not to be seen."""
        return (symptom, state) in self.seen or (symptom, state) in self.passed

    def all_told(self, check: Check) -> bool:
        """Whether all that a check can tell in its state was answered or passed over."""
        return all((s, check.needs.engine_state) in self.seen or (s, check.needs.engine_state) in self.passed for s in check.tells)

    def put_off(self, *names: str) -> int:
        """How often any of these was put off, at most."""
        return max((self.later.get(name, 0) for name in names), default=0)

    def numbered(self, number: int) -> Answer | None:
        """The answer of that number, if it stands."""
        return next((a for a in self.answers if a.number == number and not a.taken_back), None)


def progress_of(log: Iterable[Stored], book: Book) -> Progress:
    """Fold the log of one case."""
    done = Progress()
    for group in _groups([s for s in log if s.entry.kind in ASKED or isinstance(s.entry, WorkDone)]):
        for stored in group:
            if isinstance(stored.entry, WorkDone) and not stored.taken_back:
                _worked(done, stored, stored.entry, book)
        group = [s for s in group if not isinstance(s.entry, WorkDone)]
        if not group:
            continue
        entries = tuple(s.entry for s in group)
        answer = Answer(len(done.answers) + 1, entries[0].at, tuple(s.id for s in group), entries, done.engine,
                        all(s.taken_back for s in group))
        done.answers.append(answer)
        for stored in group:
            if not stored.taken_back:
                _take(done, stored.entry, answer, book)
    return done


def _worked(done: Progress, work: Stored, entry: WorkDone, book: Book) -> None:
    """What was seen or passed over of the signs that some work changed is of before it, and is asked anew."""
    signs = {book.now_called(name) for name in entry.signs}
    for answers in (done.seen, done.read):
        for key in [k for k, answer in answers.items() if k[0] in signs and (answer.at, max(answer.ids)) < (entry.at, work.id)]:
            del answers[key]
    for key in [key for key in done.passed if key[0] in signs]:
        del done.passed[key]
    for name in signs & done.later.keys():
        del done.later[name]


def _groups(stored: Sequence[Stored]) -> list[list[Stored]]:
    """Entries of one answer carry one moment."""
    groups: list[list[Stored]] = []
    for one in stored:
        if groups and groups[-1][0].entry.at == one.entry.at:
            groups[-1].append(one)
        else:
            groups.append([one])
    return groups


def _take(done: Progress, entry: Entry, answer: Answer, book: Book) -> None:
    if isinstance(entry, WordsEntry):
        _words(done, entry, book)
    elif isinstance(entry, Observed):
        _observed(done, entry, answer, book)
    elif isinstance(entry, PassedOver):
        _passed(done, entry, book)
    elif isinstance(entry, EngineStateEntry):
        if done.engine in RUNNING or entry.state != "cold-stopped":
            running = done.engine in RUNNING or entry.state in RUNNING
            done.ran, done.hot_until = running, entry.at
        done.engine, done.engine_at, done.check = entry.state, entry.at, None
        done.has_run = done.has_run or entry.state in RUNNING
        done.opened.clear()
        done.past -= {f"{PAST}{state}" for state in book.words.states}
    elif isinstance(entry, TripEntry):
        done.trip = entry
    elif isinstance(entry, BoatEntry):
        done.facts += [*entry.arrangement]
    elif isinstance(entry, EventEntry) and entry.event.note:
        _settle(done, entry.event.note, None, by_event=True)
    elif isinstance(entry, MovedOn):
        _moved(done, entry)


def _words(done: Progress, entry: WordsEntry, book: Book) -> None:
    """Words said for the first time bring pieces; words that settle a piece say what it was taken to mean, or only repeat it."""
    promises = {piece(text).key for text in entry.to_ask}
    done.promises += [text for text in entry.to_ask if text not in done.promises]
    matched = {piece(m.piece).key: m for m in entry.matched}
    if not matched and entry.left_over != (entry.said,):
        done.said.append(entry.said)
        known = {p.key for p in done.pieces}
        found = pieces(entry.said)
        for told in (p.text for p in found if only_revs(p.text)):
            done.revs_said = revs_in(told)
        for again in (p.key for p in found if p.key in done.settled and done.settled[p.key] is None):
            del done.settled[again]  # said once more: it is asked about once more
        nothing_found = not found and any(map(str.isalnum, entry.said)) and entry.said.strip().casefold() not in NOTHING
        if nothing_found or len(entry.said) > MOST_LETTERS:
            done.unread.append(entry.said[MOST_LETTERS:] or entry.said)
        done.pieces += [p for p in found if p.key not in promises | known and not only_revs(p.text)]
    known = {p.key for p in done.pieces}
    for key, text in [*((k, m.piece) for k, m in matched.items()), *((piece(t).key, t) for t in entry.left_over)]:
        if key not in known:
            done.pieces.append(piece(text))
        meant = matched.get(key)
        name = book.now_called(meant.symptom) if meant is not None else ""
        done.settled[key] = meant.model_copy(update={"symptom": name}) if meant is not None and name in book.symptoms else None


def _settle(done: Progress, text: str, match: Matched | None, *, by_event: bool) -> None:
    """A piece that became an event is settled, and is not among the words kept."""
    key = piece(text).key
    if by_event:
        done.pieces = [p for p in done.pieces if p.key != key]
    done.settled[key] = match


def _observed(done: Progress, entry: Observed, answer: Answer, book: Book) -> None:
    given = entry.observation
    if given.reading is not None:
        _read(done, entry, answer, book)
        return
    name = book.now_called(given.symptom)
    done.seen[name, given.state] = answer
    done.passed.pop((name, given.state), None)
    done.later.pop(name, None)
    said = piece(given.note).key if given.note else ""
    if said in done.settled:
        return  # told, not looked at now: nothing was opened for it
    done.check = _now_called(book, entry.check)
    check = book.checks.get(done.check) if done.check else cheapest(book, name, given.state)
    if check is not None and check.id not in done.opened:
        done.opened.append(check.id)


def _read(done: Progress, entry: Observed, answer: Answer, book: Book) -> None:
    """A number read off an instrument; words it was told in are settled by it."""
    given = entry.observation
    done.read[str(_now_called(book, given.reading)), given.state] = answer
    done.read_state = given.state
    if given.state is not None and given.at_rpm is not None:
        done.revs[given.state] = given.at_rpm
    if given.note:
        _settle(done, given.note, None, by_event=True)
    done.check = _now_called(book, entry.check) or done.check
    if entry.check is not None and done.check is not None and done.check in book.checks and done.check not in done.opened:
        done.opened.append(done.check)


def _passed(done: Progress, entry: PassedOver, book: Book) -> None:
    check, symptom = _now_called(book, entry.check), _now_called(book, entry.symptom)
    name = str(check or symptom)
    if entry.why == "later":
        done.later[name] = done.later.get(name, 0) + 1
    elif symptom is not None:
        done.passed[symptom, entry.state] = entry.why
        done.seen.pop((symptom, entry.state), None)
    if check is not None and check == done.check:
        done.check = None


def _now_called(book: Book, name: str | None) -> str | None:
    """The present id of what the book knew by another when the entry was made."""
    return book.now_called(name) if name is not None else None


def _moved(done: Progress, entry: MovedOn) -> None:
    if entry.to == RESUMED:
        done.resumed.append((entry.at, entry.note or ""))
        done.check = None
        if done.engine not in (None, "cold-stopped") or STARTED in (entry.note or ""):
            done.engine = None  # it is asked anew: nothing is guessed from the clock
        if STARTED in (entry.note or ""):
            done.hot_until, done.ran = entry.at, True
    elif entry.to == f"{PAST}{ASIDE}" and entry.note:
        _settle(done, entry.note, None, by_event=True)
    elif entry.to in (ENOUGH, LOOK_ON):
        done.chosen[entry.to] = entry.note or ""
    else:
        done.past.add(entry.to)


def cheapest(book: Book, symptom: str, state: EngineState | None, others: Sequence[str] = ()) -> Check | None:
    """The quickest check that tells a symptom in a state, its set-ups counted; None where there is none. One that tells most of
    `others` too comes first."""
    known = [c for c in book.checks_for.get(symptom, ()) if state is None or c.needs.engine_state == state]
    return min(known, key=lambda c: (-len(set(others) & set(c.tells)), minutes_of(book, c), c.id), default=None)


def minutes_of(book: Book, check: Check) -> float:
    """What a check takes a newer hand, its set-ups counted [min]."""
    return check.cost.first_time + sum(book.words.setups[s].minutes for s in check.needs.setups)


def is_sure(answer: Observed) -> bool:
    """Whether an answer says anything of what was looked at."""
    return SURE[answer.observation.sure] > 0
