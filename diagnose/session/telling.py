"""Answers told back in a line: what was taken from them, how old they are, which may be out of date."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from diagnose.case import Observation
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import RESERVED_GRADE, RUNNING, EngineState
from diagnose.record.entries import (
    BoatEntry,
    EngineStateEntry,
    Entry,
    EventEntry,
    MovedOn,
    Observed,
    PassedOver,
    TripEntry,
    WordsEntry,
)
from diagnose.session.arrangement import told as fact_told
from diagnose.session.asking import grade_words, shown_value
from diagnose.session.progress import ASIDE, ENOUGH, LOOK_ON, PAST, RESUMED, TRIP, Answer, Progress
from diagnose.wording import mid_sentence

SHORT: dict[EngineState, str] = {"cold-stopped": "cold", "warm-stopped": "warm, stopped", "idle": "idling", "under-load": "in gear"}
WHY = {"later": "put off", "cannot-see": "cannot be seen", "not-sure": "not sure"}
LEAST_DRIP = 1.0
"""Loss [mL/h] from which a leak is told by drops and not by its trace."""
UNREAD = "Something you said could not be read. answers lists it; change N asks it anew, a WORDS says it again."
DAY_OLD = timedelta(hours=12)
"""After this a session that goes on is a new look, with the old one as its history."""


def not_read(unread: Sequence[str]) -> str:
    """What was said and could not be read, in a sentence."""
    return f"Not read: {'; '.join(in_quotes(words) for words in unread)}; no go rests on it."


def in_quotes(words: str) -> str:
    """A person's own words, marked as such and on one line."""
    return f"'{' '.join(words.split())}'"


def told(book: Book, entry: Entry) -> str:
    """One entry in words; empty where there is nothing to tell."""
    if isinstance(entry, Observed):
        return observed(book, entry.observation)
    if isinstance(entry, PassedOver):
        title = book.checks[entry.check].title if entry.check in book.checks else _title(book, str(entry.symptom or entry.check))
        return f"{title}: {WHY[entry.why]}"
    if isinstance(entry, WordsEntry):
        return f"'{entry.said}'" + (" (kept as said)" if entry.left_over else "")
    if isinstance(entry, EventEntry):
        event = book.events.get(entry.event.event)
        return event.title if event is not None else entry.event.event
    if isinstance(entry, EngineStateEntry):
        return f"she is {SHORT[entry.state]}"
    if isinstance(entry, TripEntry):
        return trip_words(book, entry)
    if isinstance(entry, BoatEntry):
        known = [(book.facts[n], v) for n, v in entry.arrangement.items() if n in book.facts]
        return "; ".join(f"{mid_sentence(fact.title)}: {fact_told(fact, value)}" for fact, value in known)
    return _moved(book, entry) if isinstance(entry, MovedOn) else ""


def observed(book: Book, given: Observation) -> str:
    """An observation in words: title, what was seen, in which state, how sure."""
    if given.reading is not None:
        kind = book.readings.get(book.now_called(given.reading))
        revs = f", at {given.at_rpm:g} rpm" if given.at_rpm is not None else ""
        how = f" ({SHORT[given.state]}{revs})" if given.state is not None else ""
        return f"{kind.title if kind is not None else given.reading}: {shown_value(str(given.value))}{how}"
    symptom = book.symptoms.get(book.now_called(given.symptom))
    if symptom is None:
        return given.symptom or str(given.reading)
    if given.value is not None:
        seen = shown_value(str(given.value))
    elif given.one_of is not None:
        seen = " or ".join(grade_words(symptom, g) for g in given.one_of)
    elif given.at_least is not None:
        seen = f"{grade_words(symptom, given.at_least)}, or worse"
    else:
        known = given.grade is not None and given.grade in symptom.grades
        seen = grade_words(symptom, str(given.grade)) if known else WHY.get(given.sure, given.sure)
    state = f" ({SHORT[given.state]})" if given.state is not None else ""
    doubt = {"think-so": ", I think", "guess": ", a guess"}.get(given.sure, "")
    healthy = "looked, healthy: " if given.grade == RESERVED_GRADE else ""
    return f"{healthy}{symptom.title}: {seen}{doubt}{state}"


def trip_words(book: Book, entry: TripEntry) -> str:
    """The trip in words."""
    trip = entry.trip
    if trip.under_way:
        return "she is under way"
    parts = [book.words.exposures[trip.exposure].title] if trip.exposure in book.words.exposures else []
    if trip.engine_hours is not None:
        parts.append(f"{trip.engine_hours:g} engine hours")
    if trip.can_sail is not None:
        parts.append("she can sail" if trip.can_sail else "she cannot sail")
    return "trip: " + "; ".join(mid_sentence(p) for p in parts) if parts else "trip: at a berth"


def _moved(book: Book, entry: MovedOn) -> str:
    if entry.to == RESUMED:
        return f"taken up again; since then {entry.note or 'nothing of what was asked'}"
    if entry.to.startswith(PAST):
        name = entry.to.removeprefix(PAST)
        if name in book.facts:
            return f"{mid_sentence(book.facts[name].title)}: not known"
        if name == ASIDE:
            return f"'{entry.note}': nothing to do with the engine"
        if name not in SHORT and name != TRIP:
            what, _, state = name.rpartition(" ")
            title = "revs" if what == "revs" else mid_sentence(book.readings[what].title) if what in book.readings else what
            return f"{title}: not read ({SHORT.get(state, state)})"  # type: ignore[call-overload]
        return "no trip in mind" if name == TRIP else f"not now: {SHORT.get(name, name)}"  # type: ignore[call-overload]
    return "enough looked at" if entry.to == ENOUGH else "looked on"


def _title(book: Book, name: str) -> str:
    symptom = book.symptoms.get(book.now_called(name))
    return symptom.title if symptom is not None else name


def line(book: Book, answer: Answer) -> str:
    """A whole answer in one line."""
    texts = [text for entry in answer.entries if (text := told(book, entry))]
    if any(isinstance(e, Observed) for e in answer.entries):
        texts = [text for entry in answer.entries if not isinstance(entry, WordsEntry) and (text := told(book, entry))]
    elif isinstance(answer.entries[0], WordsEntry) and answer.entries[0].matched:
        meant = answer.entries[0].matched[0]
        texts = [f"'{meant.piece}': {_title(book, meant.symptom)}"]
    return "; ".join(texts)


def age(since: timedelta) -> str:
    """A time gone by, in the unit one would use."""
    minutes = max(0, int(since.total_seconds() // 60))
    if minutes < 1:
        return "under a minute"
    if minutes < 90:
        return f"{minutes} min"
    return f"{minutes // 60} h" if minutes < 48 * 60 else f"{minutes // 1440} days"


def stale(book: Book, done: Progress, now: datetime) -> list[tuple[Answer, str]]:
    """Answers that may no longer be so, each with why: readings and drips of another state of the engine, and whatever was
    looked at before she was opened, topped up or run again."""
    found: list[tuple[Answer, str]] = []
    for answer in done.answers:
        entry = answer.observed
        if answer.taken_back or entry is None or answer not in (*done.seen.values(), *done.read.values()):
            continue
        if not _passes(book, entry.observation):
            continue
        reason = _why_stale(done, answer)
        if reason:
            found.append((answer, f"{age(now - answer.at)} ago, {reason}"))
    return found


def _passes(book: Book, given: Observation) -> bool:
    """Whether what was seen passes with the state of the engine: a reading of one that runs, a drip; a crust does not."""
    if given.reading is not None:
        return True
    symptom = book.symptoms.get(given.symptom)
    if symptom is None or given.grade == RESERVED_GRADE:
        return False
    if symptom.measure is not None:
        return any(state in RUNNING for state in symptom.states)
    rates = symptom.leak.rates if symptom.leak is not None else {}
    return any(rates[grade][0] >= LEAST_DRIP for grade in (given.grade, given.at_least, *(given.one_of or ())) if grade in rates)


def _why_stale(done: Progress, answer: Answer) -> str:
    after = [what for at, what in done.resumed if at > answer.at and what]
    if after:
        return f"and since then she was {after[-1]}"
    if done.engine_at is not None and done.engine_at > answer.at and answer.engine is not None and answer.engine != done.engine:
        return f"when she was {SHORT[answer.engine]}"
    return ""


def listed(book: Book, done: Progress) -> Iterable[tuple[int, str, bool]]:
    """All answers by number, with what was taken from each and whether it still stands; that one only looked on is no answer."""
    for answer in done.answers:
        if all(isinstance(e, MovedOn) and e.to in (ENOUGH, LOOK_ON) for e in answer.entries):
            continue
        yield answer.number, line(book, answer), not answer.taken_back
