"""Readings told in words or at a question, words that were not read, and an engine said to be cold too soon."""

from __future__ import annotations

import json
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest
from talk import Clock, Talk, first, healthy, log, talk

from diagnose.case import Observation, Trip
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules
from diagnose.record.entries import EngineStateEntry, MovedOn, Observed, TripEntry
from diagnose.record.fold import case_of
from diagnose.record.store import Record
from diagnose.session import asking, instruments, telling
from diagnose.session.answers import Reader
from diagnose.session.match import Index
from diagnose.session.progress import Progress, progress_of
from diagnose.session.questions import Question, Reply
from diagnose.session.words import piece
from diagnose.show.questionpage import why_page
from diagnose.triage import assess

NOON = datetime(2026, 5, 1, 12, 0, tzinfo=timezone.utc)


@pytest.fixture(scope="module")
def shipped() -> Book:
    """The shipped rules."""
    return load_rules()


@pytest.fixture(scope="module")
def reader(shipped: Book) -> Reader:
    """A reader of answers on the shipped rules."""
    return Reader(shipped, Index(shipped), "Brindle", lambda path: (path, "0" * 64))


def answered(reader: Reader, question: Question, typed: str, done: Progress | None = None) -> Reply:
    """What an answer comes to."""
    return reader.read(question, typed, done or Progress(engine="under-load"), NOON)


def one_seen(reply: Reply) -> Observation:
    """The one observation of a reply."""
    found = [e.observation for e in reply.entries if isinstance(e, Observed)]
    assert len(found) == 1
    return found[0]


def bucket(book: Book) -> Question:
    """The question about the flow by bucket and watch."""
    return asking.symptom(book.symptoms["raw-water-flow-measured"], 9, "under-load", engine="under-load")


@pytest.mark.parametrize(("said", "reading", "value"), [
    ("a housing 93 C", "housing-temperature", "93 degC"), ("sea 24 C", "sea-temperature", "24 degC"),
    ("10 L in 24 s", "raw-water-caught", "10 L in 24 s"), ("top hose 88 C at 2500 rpm", "hose-to-exchanger-temperature", "88 degC"),
])
def test_words_with_a_number_are_taken_for_a_reading(said: str, reading: str, value: str, shipped: Book) -> None:
    """A few words of what is read and a number in its unit: that reading stands first, with its value."""
    kind, found = instruments.meant(shipped, piece(said))[0]
    assert (kind.id, found) == (reading, value)


@pytest.mark.parametrize("said", ["temperature gauge creeps up at cruise", "vibrates at 2500 rpm", "lost 200 mL in 6 h", "hums"])
def test_other_words_are_taken_for_none(said: str, shipped: Book) -> None:
    """Words without a number of a reading, or with one of something else, offer none."""
    assert instruments.meant(shipped, piece(said)) == ()


def told(shipped: Book, path: Path) -> Talk:
    """A talk in which four readings are told at the start, in gear, with the revs among the words."""
    words = "a housing 93 C, sea 24 C, raw water outlet 60 C, 10 L in 24 s, at 2500 rpm"
    return talk(shipped, path, first(words, "4", "1", "1", "1", "1", then=lambda _: None))


def test_readings_said_at_the_start_become_observations(shipped: Book, tmp_path: Path) -> None:
    """Each is kept with the state she is in; those from which something is worked out by the revs with the revs; and the case
    folded from the record works the flow out: 25 L/min (10 L in 24 s)."""
    path = tmp_path / "record.sqlite"
    told(shipped, path)
    seen = {s.entry.observation.reading: s.entry.observation for s in log(path) if isinstance(s.entry, Observed)}
    assert set(seen) == {"housing-temperature", "sea-temperature", "raw-water-out-temperature", "raw-water-caught"}
    assert {o.state for o in seen.values()} == {"under-load"}
    assert seen["raw-water-caught"].at_rpm == 2500
    with Record.open(path, read_only=True) as record:
        case = case_of(record, record.cases()[-1].id)
    worked = {w.symptom: w for w in assess(case, shipped).workings}
    assert worked["raw-water-flow-measured"].result is not None


def test_revs_are_asked_once_for_a_state(reader: Reader, shipped: Book) -> None:
    """Where a working wants the revs and none were told they are asked; told for a state they go with the next reading too."""
    asked = answered(reader, bucket(shipped), "10 L in 24 s").ask
    assert asked is not None
    assert asked.kind == "revs"
    assert answered(reader, asked, "1").entries == ()
    assert one_seen(answered(reader, asked, "2500")).at_rpm == 2500
    later = answered(reader, bucket(shipped), "10 L in 24 s", Progress(engine="under-load", revs={"under-load": 2200.0}))
    assert one_seen(later).at_rpm == 2200
    unknown = answered(reader, asked, "u")
    assert one_seen(unknown).at_rpm is None
    assert any(isinstance(e, MovedOn) for e in unknown.entries)


def test_a_reading_is_taken_in_its_own_unit_at_a_sign(reader: Reader, shipped: Book) -> None:
    """At the bucket question litres in seconds are the reading; percent stay the sign's own number."""
    seen = one_seen(answered(reader, bucket(shipped), "10 L in 24 s at 2500 rpm"))
    assert (seen.reading, seen.value, seen.state, seen.at_rpm) == ("raw-water-caught", "10 l in 24 s", "under-load", 2500)
    assert one_seen(answered(reader, bucket(shipped), "70 %")).symptom == "raw-water-flow-measured"


def test_a_number_that_fits_several_readings_is_asked(reader: Reader, shipped: Book) -> None:
    """93 C at a sign of several temperatures asks which of them it is."""
    sign = asking.symptom(shipped.symptoms["exchanger-conductance-low"], 9, "under-load", engine="under-load")
    asked = answered(reader, sign, "24 C at 2500 rpm").ask
    assert asked is not None
    line = next(c for c in asked.choices if c.id == "sea-temperature")
    assert one_seen(answered(reader, asked, line.key)).reading == "sea-temperature"


def test_readings_are_asked_one_after_another(reader: Reader, shipped: Book) -> None:
    """r asks the first reading of the sign; each answer, and each that cannot be had, leads to the next, and the last to none."""
    sign = asking.symptom(shipped.symptoms["heat-made-much"], 9, "under-load", engine="under-load")
    assert "r asks" in sign.lines[0]
    done = Progress(engine="under-load", revs={"under-load": 2500.0})
    asked, order = answered(reader, sign, "r", done).ask, []
    while asked is not None:
        order.append(asked.about)
        typed = {"sea-temperature": "24 C", "raw-water-out-temperature": "x"}.get(asked.about, "10 L in 24 s")
        reply = answered(reader, asked, typed, done)
        for entry in reply.entries:
            if isinstance(entry, Observed):
                done.read[str(entry.observation.reading), entry.observation.state] = None  # type: ignore[assignment]
            if isinstance(entry, MovedOn):
                done.past.add(entry.to)
        asked = reply.ask
    assert order == ["sea-temperature", "raw-water-out-temperature", "raw-water-caught"]


def kept_words(question: Question) -> str | None:
    """Healthy at everything; words that match nothing are kept as they are."""
    return question.choices[-1].key if question.kind == "reading" else healthy(question)


def left_out(question: Question) -> str | None:
    """Healthy at everything; words are said to have nothing to do with the engine."""
    return next(c.key for c in question.choices if c.id == asking.ASIDE) if question.kind == "reading" else healthy(question)


def test_words_not_read_leave_no_go(tiny_book: Book, tmp_path: Path) -> None:
    """Where words were kept the end says so before anything else and shows NOT YET; what is stored is the decision as it was."""
    path = tmp_path / "record.sqlite"
    done = talk(tiny_book, path, first("zorble gnarfed", then=kept_words), width=100)
    assert "Not read: 'zorble gnarfed'; no go rests on it." in done.text
    end = done.text[done.text.index("Not read:"):]
    assert "NOT YET. Something you said could not be read." in end
    assert "# GO" not in end
    stored = [s.entry for s in log(path) if s.entry.kind == "assessed"]
    assert json.loads(stored[-1].result)["decision"] == "go"


def test_words_said_again_are_asked_again(shipped: Book, tmp_path: Path) -> None:
    """Words that were kept, said once more, are asked about once more, and read this time nothing is left unread."""
    path = tmp_path / "record.sqlite"
    keep = asking.reading(shipped, 3, "under-load", piece("sea 24 C"), (), instruments.meant(shipped, piece("sea 24 C"))).choices[-1]
    assert keep.id == asking.KEEP
    last: list[Question] = []

    def policy(question: Question) -> str | None:
        last.append(question)
        if question.kind == "reading" and len(last) < 5:
            return question.choices[-1].key
        return {"opening": "sea 24 C", "engine": "4", "trip": "a sea 24 C", "reading": "1",
                "revs": "2500"}.get(question.kind) if len(last) < 7 else None

    talk(shipped, path, policy)
    with Record.open(path, read_only=True) as record:
        done = progress_of(record.entries(case=record.cases()[-1].id), shipped)
    assert done.not_read == []
    assert ("sea-temperature", "under-load") in done.read


def test_words_left_out_by_the_person_hold_nothing_back(tiny_book: Book, tmp_path: Path) -> None:
    """Words that the person says have nothing to do with the engine leave the decision as it is."""
    done = talk(tiny_book, tmp_path / "record.sqlite", first("zorble gnarfed", then=left_out), width=100)
    assert "Not read" not in done.text
    assert "# GO" in done.text


def test_cold_soon_after_she_ran_is_told_by_hand(reader: Reader) -> None:
    """Three minutes after she ran the time is named and the hand is asked; yes makes her cold, no keeps her warm. Two hours after
    she is believed (common practice)."""
    hot = Progress(engine="warm-stopped", hot_until=NOON - timedelta(minutes=3), ran=True)
    question = asking.gate(5, "warm-stopped", "cold-stopped", (), ())
    asked = answered(reader, question, "cold", hot)
    assert asked.entries == ()
    assert asked.ask is not None
    assert "She ran until 3 min ago." in asked.ask.lines[0]
    assert "header tank" in asked.ask.ask
    yes, no = (answered(reader, asked.ask, key, hot).entries[0] for key in "12")
    assert isinstance(yes, EngineStateEntry)
    assert yes.state == "cold-stopped"
    assert isinstance(no, MovedOn)
    later = Progress(engine="warm-stopped", hot_until=NOON - timedelta(hours=2), ran=True)
    assert isinstance(answered(reader, question, "cold", later).entries[0], EngineStateEntry)


def test_the_time_she_ran_is_taken_from_the_record(tiny_book: Book, tmp_path: Path) -> None:
    """In a whole talk: running, stopped, and cold a minute later is answered by the test by hand."""
    done = talk(tiny_book, tmp_path / "record.sqlite", first("nothing", "3", "l", "stopped", "cold", then=lambda _: None), width=100,
                clock=Clock(step=timedelta(seconds=10)))
    assert "Can it rest there with ease?" in done.text
    assert "She ran until" in done.text


@pytest.mark.parametrize(("typed", "exposure", "hours", "unused"), [
    ("30 hours open ocean", "offshore", 30.0, "ocean"), ("coastal 6 h", "coastal", 6.0, ""), ("sheltered", None, None, "-"),
    ("6 h, not the open water", None, 6.0, "not the open water"), ("open water, 30 h, no sail", "offshore", 30.0, ""),
])
def test_a_trip_is_told_by_the_words_of_its_title(typed: str, exposure: str | None, hours: float | None, unused: str, reader: Reader,
                                                  shipped: Book) -> None:
    """Words that one title alone has name the trip, unless they are denied or fit two; what was not used is said."""
    found = answered(reader, asking.trip(shipped, 3, "cold-stopped"), typed)
    entry = found.entries[0] if found.entries else None
    trip = entry.trip if isinstance(entry, TripEntry) else Trip()
    if unused != "-":
        assert (trip.exposure, trip.engine_hours) == (exposure or Trip().exposure, hours)
        assert ("Not used" in " ".join(found.said)) == bool(unused)
        assert unused in " ".join(found.said)
    else:
        assert found.said


def test_a_healthy_answer_says_that_it_is_one(tiny_book: Book) -> None:
    """'looked, healthy:' stands before it; a finding goes without."""
    weep = Observation(symptom="pump-weep", grade="none", state="cold-stopped")
    assert telling.observed(tiny_book, weep).startswith("looked, healthy: ")
    assert "healthy" not in telling.observed(tiny_book, weep.model_copy(update={"grade": "drip"}))


def test_why_at_a_prompt_says_what_it_is_for(tiny_book: Book) -> None:
    """At the end nothing hangs on it, and at the trip the risk; nowhere is a next question named that may not come."""
    end = why_page(asking.end(9, "cold-stopped"), None, tiny_book, 100).text()
    assert "Nothing hangs on it" in end
    assert "far from help" in why_page(asking.trip(tiny_book, 3, None), None, tiny_book, 100).text()
    assert "next question hangs" not in end
