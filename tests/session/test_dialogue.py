"""The dialogue as pure functions: what an answer comes to, where the log stands, what is asked next. Nothing is printed."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest
import smallbook as sb
import tiny

from diagnose.case import Case, EventSeen, Observation, Trip
from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.knowledge.lists import Term
from diagnose.knowledge.load import load_rules
from diagnose.knowledge.worksteps import put_back
from diagnose.record.entries import (
    BoatEntry,
    EngineStateEntry,
    Entry,
    EventEntry,
    MovedOn,
    Observed,
    PassedOver,
    TakenBack,
    TripEntry,
    WordsEntry,
    WorkDone,
)
from diagnose.record.store import Stored
from diagnose.session import asking, telling
from diagnose.session.agenda import Agenda, told_state
from diagnose.session.answers import Reader
from diagnose.session.arrangement import barred, deciding, holds
from diagnose.session.match import Index
from diagnose.session.progress import Progress, progress_of
from diagnose.session.questions import Look, Question, Reply
from diagnose.session.terms import Terms
from diagnose.session.words import piece
from diagnose.triage import assess

NOON = datetime(2026, 5, 1, 12, 0, tzinfo=timezone.utc)


@pytest.fixture(scope="module")
def shipped() -> Book:
    """The shipped rules."""
    return load_rules()


@pytest.fixture(scope="module")
def reader(shipped: Book) -> Reader:
    """A reader of answers on the shipped rules; the only photo there is is called photo.jpg."""
    return Reader(shipped, Index(shipped), "Brindle", one_photo)


@pytest.fixture(scope="module")
def small(tiny_book: Book) -> Reader:
    """A reader of answers on the tiny book."""
    return Reader(tiny_book, Index(tiny_book), "Tern", one_photo)


def one_photo(path: str) -> tuple[str, str]:
    """The only photo there is."""
    if path != "photo.jpg":
        raise InputError(f"there is no file '{path}'")
    return "/aboard/photo.jpg", "0" * 64


def stored(entries: Iterable[Entry | tuple[Entry, ...]]) -> tuple[Stored, ...]:
    """Entries as a record would hand them back: each answer a minute after the last, taken back where a later one says so."""
    flat: list[Entry] = []
    for minute, one in enumerate(entries):
        group = one if isinstance(one, tuple) else (one,)
        flat += [e.model_copy(update={"at": NOON + timedelta(minutes=minute)}) for e in group]
    struck = {e.entry for e in flat if isinstance(e, TakenBack)}
    return tuple(Stored(n + 1, "Tern", "case-1", e, n + 1 in struck, "") for n, e in enumerate(flat))  # type: ignore[arg-type]


def said(words: str = "nothing", **more: object) -> WordsEntry:
    """Words of a person."""
    return WordsEntry.model_validate({"said": words, **more})


COLD = EngineStateEntry(state="cold-stopped")
NO_TRIP = MovedOn(to="past trip")


def seen(symptom: str, grade: str = "none", state: str = "cold-stopped", check: str | None = None, **more: object) -> Observed:
    """One answer."""
    return Observed(observation=Observation.model_validate({"symptom": symptom, "grade": grade, "state": state, **more}), check=check)


def case_of(log: Iterable[Stored], boat: dict[str, object] | None = None) -> Case:
    """The case of a log, as far as these tests need it."""
    standing = [s.entry for s in log if not s.taken_back]
    trips = [e.trip for e in standing if isinstance(e, TripEntry)]
    facts = {k: v for e in standing if isinstance(e, BoatEntry) for k, v in e.arrangement.items()}
    return Case.model_validate({
        "opened_because": "noticed-something", "boat": {"arrangement": facts | (boat or {})}, "trip": trips[-1] if trips else Trip(),
        "observations": [e.observation.model_copy(update={"when": e.at}) for e in standing if isinstance(e, Observed)]})


def next_of(reader: Reader, *entries: Entry | tuple[Entry, ...], at: str | None = None) -> Question:
    """The next question after these answers."""
    log = stored(entries)
    done, case = progress_of(log, reader.book), case_of(log)
    early = Agenda(reader.book, reader.index, done, case, None, at).before_judging()
    return early or Agenda(reader.book, reader.index, done, case, assess(case, reader.book), at).next()


def reply(reader: Reader, question: Question, typed: str, done: Progress | None = None) -> Reply:
    """What an answer comes to."""
    return reader.read(question, typed, done or Progress(engine="cold-stopped"), NOON)


def graded(found: Reply) -> tuple[str | None, str]:
    """The grade and sureness of the one observation of a reply."""
    observed = [e for e in found.entries if isinstance(e, Observed)]
    assert len(observed) == 1
    return observed[0].observation.grade, observed[0].observation.sure


@pytest.fixture
def weep(tiny_book: Book) -> Question:
    """A question of four answers, about a leak."""
    return asking.symptom(tiny_book.symptoms["pump-weep"], 5, "cold-stopped", engine="cold-stopped")


@pytest.fixture
def gauge(tiny_book: Book) -> Question:
    """A question answered by a number."""
    return asking.symptom(tiny_book.symptoms["pump-gauge-high"], 5, "idle", engine="idle")


# ------------------------------------------------------------------ answers to a symptom


@pytest.mark.parametrize(("typed", "expected"), [
    ("0", ("none", "sure")), ("2", ("drip", "sure")), (" 1 ", ("damp", "sure")), ("1?", ("damp", "think-so")), ("2 ??", ("drip", "guess")),
    ("drip", ("drip", "sure")), ("DROPS FALL", ("drip", "sure")), ("finger", ("damp", "sure")),
])
def test_a_line_is_taken_by_number_or_by_its_words(typed: str, expected: tuple[str, str], small: Reader, weep: Question) -> None:
    """The number of a line, its words or its name in any case; a question mark says how sure."""
    assert graded(reply(small, weep, typed)) == expected


@pytest.mark.parametrize("typed", ["", "  ", "7", "yes", "no", "fine", "ok", "y", "healthy", "-1", "zero", "9999999999999999999999"])
def test_what_fits_no_line_is_not_taken(typed: str, small: Reader, weep: Question) -> None:
    """Nothing is kept of what fits no line, yes and no and 'fine' among it, and something is said."""
    found = reply(small, weep, typed)
    assert found.entries == ()
    assert found.said or found.ask


def test_drops_are_counted_into_a_loss(small: Reader, weep: Question) -> None:
    """15 drops in 10 minutes are 4.5 to 9 mL an hour (20 drops to the mL by convention, half that by measurement): the loss is kept as
    its number, and with it how it was counted. None lost is healthy; what nobody can count is not taken."""
    found = reply(small, weep, "15 in 10 min")
    observed = found.entries[0]
    assert isinstance(observed, Observed)
    assert (observed.observation.grade, observed.observation.value) == (None, "6.36 mL/hour")
    assert observed.observation.note == "15 in 10 min: 4.5 to 9 mL an hour"
    assert graded(reply(small, weep, "0 in 10 min")) == ("none", "sure")
    silly = reply(small, weep, "900000 in 1 min")
    assert (silly.entries, silly.said[0].partition(".")[0]) == ((), "That many drops cannot be counted")


def test_a_count_without_a_time_is_asked_once(small: Reader, weep: Question) -> None:
    """15 alone asks in what time; an answer to that is taken with it; one that is still unclear leads back to the whole question."""
    asked = reply(small, weep, "15").ask
    assert asked is not None
    assert asked.kind == "unit"
    told = reply(small, asked, "10 min").entries[0]
    assert isinstance(told, Observed)
    assert told.observation.value == "6.36 mL/hour"
    again = reply(small, asked, "a while")
    assert (again.entries, again.ask) == ((), weep)


def test_a_number_without_a_unit_is_asked_once(small: Reader, gauge: Question) -> None:
    """86 alone asks for the unit and guesses none; C is enough; what is still unclear leads back."""
    asked = reply(small, gauge, "86").ask
    assert asked is not None
    assert "C or F" in asked.ask
    kept = reply(small, asked, "c").entries[0]
    assert isinstance(kept, Observed)
    assert kept.observation.value == "86 degC"
    assert reply(small, asked, "degrees").ask == gauge
    assert reply(small, asked, "187 F").entries != ()


def test_an_impossible_number_is_refused_with_what_can_be(small: Reader, gauge: Question) -> None:
    """900 °C is not taken, and the range is told."""
    found = reply(small, gauge, "900 C")
    assert found.entries == ()
    assert "between -10 and 130" in found.said[0]


def test_a_measured_symptom_can_be_told_by_its_line(small: Reader, gauge: Question) -> None:
    """Without an instrument the line is enough; the lines tell their bands."""
    assert [c.text for c in gauge.choices] == ["below 91 °C", "91 to 98 °C", "98 °C or more"]
    assert graded(reply(small, gauge, "2")) == ("high", "sure")


def test_a_digit_that_may_be_both_is_asked(reader: Reader) -> None:
    """Where a line's number may as well be the reading, it is asked which; both answers are taken."""
    belt = next(s for s in reader.book.symptoms.values() if s.measure is not None and s.measure.unit == "mm"
                and any(getattr(b, "at_least", 99) in (1, 1.0, 2, 2.0, 3, 3.0) for b in s.grades.values()))
    question = asking.symptom(belt, 5, belt.states[0], engine=belt.states[0])
    asked = reply(reader, question, "1").ask
    assert asked is not None
    assert [c.key for c in asked.choices] == ["1", "2"]
    line, number = reply(reader, asked, "1").entries[0], reply(reader, asked, "2").entries[0]
    assert isinstance(line, Observed)
    assert isinstance(number, Observed)
    assert (line.observation.grade, number.observation.value) == (list(belt.grades)[1], "1 mm")


def test_unsure_asks_between_which_two(small: Reader, weep: Question) -> None:
    """u asks between which; two neighbours are kept as both, one as a guess, all or none of them as not looked at."""
    asked = reply(small, weep, "u").ask
    assert asked is not None
    assert asked.kind == "between"
    both = reply(small, asked, "1 2").entries[0]
    assert isinstance(both, Observed)
    assert both.observation.one_of == ("damp", "drip")
    assert graded(reply(small, asked, "1")) == ("damp", "guess")
    for unsure in ("not at all", "0 2", "0, 1 and 2", "u"):
        left = reply(small, asked, unsure)
        if unsure == "0, 1 and 2":
            assert left.entries == ()
        else:
            entry = left.entries[0]
            assert isinstance(entry, PassedOver)
            assert (entry.why, entry.symptom, entry.state) == ("not-sure", "pump-weep", "cold-stopped")


def test_later_puts_off_a_whole_look_only_at_its_beginning(small: Reader, weep: Question) -> None:
    """l at the first question of a look puts off all of it; further on only that question. x is always that question alone."""
    look = Look("look-under-pump", "Look", 5.0, whole=True)
    begun, further = replace(weep, look=look), replace(weep, look=replace(look, goes_on=True))
    kept = [reply(small, q, t).entries[0] for q, t in ((begun, "l"), (further, "l"), (begun, "x"))]
    assert [(e.check, e.symptom, e.why) for e in kept if isinstance(e, PassedOver)] == [
        ("look-under-pump", None, "later"), (None, "pump-weep", "later"), (None, "pump-weep", "cannot-see")]


# ------------------------------------------------------------------ other answers


@pytest.mark.parametrize(("key", "state", "at_sea"), [("1", "cold-stopped", False), ("3", "idle", False), ("5", "under-load", True),
                                                      ("6", "warm-stopped", True), ("cold", "cold-stopped", False)])
def test_the_state_of_the_engine(key: str, state: str, at_sea: bool, small: Reader) -> None:
    """Each way of being is a state, and out there the trip says so."""
    found = reply(small, asking.engine_now(2, None), key, Progress())
    assert [e.state for e in found.entries if isinstance(e, EngineStateEntry)] == [state]
    assert [e.trip.under_way for e in found.entries if isinstance(e, TripEntry)] == ([True] if at_sea else [])


@pytest.mark.parametrize(("typed", "expected"), [
    ("1", ("coastal", None, None)), ("1, 6 h, sail", ("coastal", 6.0, True)), ("1 6h no sail", ("coastal", 6.0, False)),
    ("12 h", (None, 12.0, None)),
])
def test_the_trip_in_one_line(typed: str, expected: tuple[str | None, float | None, bool | None], small: Reader) -> None:
    """How far from help, how many engine hours, whether she can sail: in one line, each may be left out."""
    entry = reply(small, asking.trip(small.book, 3, "cold-stopped"), typed).entries[0]
    assert isinstance(entry, TripEntry)
    assert (entry.trip.exposure, entry.trip.engine_hours, entry.trip.can_sail) == expected


@pytest.mark.parametrize(("typed", "can"), [
    ("sail", True), ("she can sail home", True), ("1, sail", True), ("1 with sail, 6 h", True), ("sail 6 h", True), ("1, 6 h, sails", True),
    ("cant sail", False), ("1, 6 h, can\u2019t sail", False), ("can not sail", False), ("unable to sail, 6 h", False), ("2 No Sail", False),
    ("she cannot sail home", False), ("1, 6 h, without sails", False),
])
def test_whether_she_can_sail_by_the_words_known(typed: str, can: bool, small: Reader) -> None:
    """The plain ways to say that she can sail, and that she cannot, are taken as what they say."""
    entry = reply(small, asking.trip(small.book, 3, "cold-stopped"), typed).entries[0]
    assert isinstance(entry, TripEntry)
    assert entry.trip.can_sail is can


@pytest.mark.parametrize("typed", [
    "lost her sails", "1, 6 h, lost her sails", "2 torn sail", "1, sail, but the mast is down", "hardly able to sail",
    "no wind to sail, 6 h", "1, sail?", "1, sail no", "never sail", "1, sails gone", "1, 6 h, sailing is out", "1, dismasted", "1, no mast",
    "won't sail", "no, sail",
])
def test_any_other_word_of_sailing_is_asked(typed: str, small: Reader) -> None:
    """What may mean that she cannot sail is never taken for the opposite: nothing is taken, and the two plain words are named."""
    found = reply(small, asking.trip(small.book, 3, "cold-stopped"), typed)
    assert found.entries == ()
    assert "no sail if she cannot" in found.said[0]


@pytest.mark.parametrize("typed", ["0 h", "9999 h", "7", "somewhere", "0"])
def test_a_trip_that_cannot_be(typed: str, small: Reader) -> None:
    """No hours, too many hours, a line that is not there: refused."""
    assert reply(small, asking.trip(small.book, 3, "cold-stopped"), typed).entries == ()


def test_facts_are_kept_with_the_boat(small: Reader, reader: Reader) -> None:
    """A choice, a flag and a number with its unit become facts of the boat; not known moves past and takes nothing."""
    drive = asking.fact(small.book.facts["pump-drive"], 4, "cold-stopped")
    kept = reply(small, drive, "1").entries[0]
    assert isinstance(kept, BoatEntry)
    assert kept.arrangement == {"pump-drive": drive.choices[0].id}
    unknown = reply(small, drive, "u").entries[0]
    assert isinstance(unknown, MovedOn)
    flag = next(f for f in reader.book.facts.values() if f.flag)
    number = next(f for f in reader.book.facts.values() if f.unit == "bar")
    yes, figure = (reply(reader, asking.fact(f, 4, None), t).entries[0] for f, t in ((flag, "1"), (number, "0.9")))
    assert isinstance(yes, BoatEntry)
    assert isinstance(figure, BoatEntry)
    assert yes.arrangement == {flag.id: True}
    assert figure.arrangement == {number.id: "0.9 bar"}
    assert reply(reader, asking.fact(number, 4, None), "99 bar").entries == ()


def test_a_reading_is_settled_by_its_number(reader: Reader) -> None:
    """The first line takes symptom and grade with the person's own words beside; the last keeps the words; an event asks when."""
    said_words = piece("brown crust under the coolant pump")
    question = asking.reading(reader.book, 3, "cold-stopped", said_words, reader.index.readings(said_words))
    words, observed = reply(reader, question, "1").entries
    assert isinstance(words, WordsEntry)
    assert isinstance(observed, Observed)
    assert (observed.observation.symptom, observed.observation.grade, observed.observation.note) == (
        "coolant-pump-weep", "stain", "brown crust under the coolant pump")
    assert words.matched[0].piece == "brown crust under the coolant pump"
    kept = reply(reader, question, question.choices[-1].key).entries[0]
    assert isinstance(kept, WordsEntry)
    assert kept.left_over == ("brown crust under the coolant pump",)
    new_belt = piece("new belt")
    asked = reply(reader, asking.reading(reader.book, 3, None, new_belt, reader.index.readings(new_belt)), "1").ask
    assert asked is not None
    assert asked.kind == "ago"
    event = reply(reader, asked, "20 h").entries[0]
    assert isinstance(event, EventEntry)
    assert event.event.hours_ago == 20.0


def test_a_number_among_the_words_is_taken_with_its_unit(reader: Reader) -> None:
    """'98 °C' said of the gauge is the reading itself."""
    words = piece("temperature gauge at 98 °C when motoring")
    question = asking.reading(reader.book, 3, "cold-stopped", words, reader.index.readings(words, most=8))
    key = next(c.key for c in question.choices if c.id.startswith("symptom:gauge-temperature-high"))
    observed = reply(reader, question, key).entries[1]
    assert isinstance(observed, Observed)
    assert (observed.observation.value, observed.observation.state) == ("98 degC", "under-load")


def test_a_state_changes_only_by_its_word(small: Reader) -> None:
    """A gate opens by the word alone; a digit, yes or Enter do not start her. l moves on without; x asks what she does."""
    gate = asking.gate(7, "cold-stopped", "idle", ("Close the box.",), ("listen",))
    for typed in ("1", "yes", "y", "", "ok", "go"):
        assert reply(small, gate, typed).entries == ()
    started = reply(small, gate, "START").entries[0]
    assert isinstance(started, EngineStateEntry)
    assert started.state == "idle"
    moved = reply(small, gate, "l").entries[0]
    assert isinstance(moved, MovedOn)
    fails = reply(small, gate, "x").ask
    assert fails is not None
    assert fails.kind == "also"


@pytest.mark.parametrize("kind", ["engine", "trip", "fact", "symptom", "gate", "settled", "end", "since", "reading"])
def test_words_that_work_anywhere(kind: str, small: Reader) -> None:
    """Help, note, photo, now, why, what else was noticed, leave: at every question, and none of them is an answer to it."""
    book = small.book
    question = {
        "engine": asking.engine_now(2, None), "trip": asking.trip(book, 2, None), "fact": asking.fact(book.facts["pump-drive"], 2, None),
        "symptom": asking.symptom(book.symptoms["pump-weep"], 2, "idle", engine="idle"),
        "gate": asking.gate(2, "idle", "warm-stopped", (), ()),
        "settled": asking.settled(2, None, "go", ()), "end": asking.end(2, None), "since": asking.since(2, None),
        "reading": asking.reading(book, 2, None, piece("brown crust"), small.index.readings(piece("brown crust"))),
    }[kind]
    assert [reply(small, question, t).show for t in ("h", "?", "NOW", "w", "why", "q", "all", "answers")] == [
        "help", "help", "now", "why", "why", "leave", "all", "answers"]
    assert [e.kind for t in ("n it smells", "note: odd", "p photo.jpg") for e in reply(small, question, t).entries] == ["note", "photo"]  # type: ignore[attr-defined]
    assert reply(small, question, "p nowhere.jpg").entries == ()
    more = reply(small, question, "a it also drips").entries[0]
    assert isinstance(more, WordsEntry)
    assert more.said == "it also drips"
    assert reply(small, question, "b").said == ("There is nothing to take back.",)


# ------------------------------------------------------------------ where the log stands


def test_answers_are_numbered_and_never_renumbered(tiny_book: Book) -> None:
    """All entries of one answer share its number; one taken back keeps it, and the next question goes on counting."""
    log = stored([said(), COLD, NO_TRIP, (seen("pump-weep", "damp"), seen("pump-play")), TakenBack(entry=4), TakenBack(entry=5)])
    done = progress_of(log, tiny_book)
    assert [(a.number, len(a.entries), a.taken_back) for a in done.answers] == [
        (1, 1, False), (2, 1, False), (3, 1, False), (4, 2, True)]
    assert done.number == 5
    assert not done.seen


def test_what_is_open_among_the_words(tiny_book: Book) -> None:
    """Pieces are open until they are matched or kept; a piece matched and not yet answered is asked; promises are no pieces."""
    opening = said("brown crust below the pulley, odd smell, no steam", to_ask=["no steam"])
    done = progress_of(stored([opening]), tiny_book)
    assert [p.text for p in done.open_pieces] == ["brown crust below the pulley", "odd smell"]
    assert done.promises == ["no steam"]
    matched = said("brown crust below the pulley", matched=[{"piece": "brown crust below the pulley", "symptom": "pump-weep"}])
    done = progress_of(stored([opening, matched, said("odd smell", left_over=["odd smell"])]), tiny_book)
    assert done.open_pieces == []
    assert [m.symptom for _, m in done.unanswered] == ["pump-weep"]
    assert done.kept == ["odd smell"]


def test_what_was_passed_over_goes_by_its_present_name(tmp_path: Path) -> None:
    """A sign or a look that the book has renamed since counts as passed over or put off under its new name, as an answer does."""
    parts = tiny.parts()
    pump = next(part for part in parts.values() if isinstance(part, dict) and "symptoms" in part)
    pump["symptoms"][0]["was"] = ["old-weep"]
    pump["checks"][0]["was"] = ["old-look"]
    book = load_rules(tiny.write(tmp_path / "rules", parts))
    assert book.renamed == {"old-weep": "pump-weep", "old-look": "look-under-pump"}
    blind = PassedOver(symptom="old-weep", state="cold-stopped", why="cannot-see")
    done = progress_of(stored([said(), COLD, blind]), book)
    assert done.was_seen("pump-weep", "cold-stopped")
    assert done.was_asked("pump-weep")
    begun = seen("pump-weep", check="old-look")
    done = progress_of(stored([said(), COLD, begun, blind]), book)
    assert done.check == "look-under-pump"
    assert done.opened == ["look-under-pump"]
    assert ("pump-weep", "cold-stopped") not in done.seen
    later = [PassedOver(check="old-look", why="later"), PassedOver(symptom="old-weep", state="cold-stopped", why="later")]
    done = progress_of(stored([said(), COLD, begun, *later]), book)
    assert (done.put_off("look-under-pump"), done.put_off("pump-weep"), done.check) == (1, 1, None)
    asked = Reader(book, Index(book), "Tern", one_photo).read(asking.end(5, "cold-stopped"), "change 4", done, NOON).ask
    assert asked is not None
    assert asked.about == "pump-weep@cold-stopped"


def test_a_change_of_state_closes_what_was_opened(tiny_book: Book) -> None:
    """What a look opened is to be put back until she changes state; then that list begins anew."""
    log = [said(), COLD, seen("pump-weep", check="look-under-pump")]
    opened = progress_of(stored(log), tiny_book).opened
    assert put_back(tiny_book, opened) == (tiny_book.words.setups["box-open"].restore,)
    assert progress_of(stored([*log, EngineStateEntry(state="idle")]), tiny_book).opened == []


def test_work_has_its_signs_asked_anew(tiny_book: Book) -> None:
    """What was seen, passed over or put off of the signs that work changed is of before it; of others it stands. The numbers of the
    answers go on, and work taken back asks nothing anew."""
    log = [said(), COLD, seen("pump-weep"), seen("pump-level-low"), PassedOver(symptom="pump-play", state="cold-stopped", why="cannot-see"),
           PassedOver(symptom="pump-play", state="cold-stopped", why="later")]
    done = WorkDone(job="renew-pump", signs=("pump-weep", "pump-play"))
    before, after = (progress_of(stored(made), tiny_book) for made in (log, [*log, done]))
    assert before.number == after.number == 7
    assert set(before.seen) - set(after.seen) == {("pump-weep", "cold-stopped")}
    assert (set(before.passed), set(after.passed)) == ({("pump-play", "cold-stopped")}, set())
    assert (before.put_off("pump-play"), after.put_off("pump-play")) == (1, 0)
    event = EventEntry(event=EventSeen(event="pump-work"))
    assert progress_of(stored([*log, (done, event)]), tiny_book).number == 8
    late = [*stored(log), Stored(7, "Tern", "case-1", done.model_copy(update={"at": NOON + timedelta(minutes=2, seconds=30)}), False, "")]
    assert set(progress_of(late, tiny_book).seen) == set(after.seen)  # by their moments, whatever the order they were entered in
    early = [*stored(log), Stored(7, "Tern", "case-1", done.model_copy(update={"at": NOON + timedelta(minutes=1)}), False, "")]
    assert set(progress_of(early, tiny_book).seen) == set(before.seen)
    taken_back = progress_of(stored([*log, done, TakenBack(entry=7)]), tiny_book)
    assert taken_back.seen == before.seen


def test_what_was_opened_first_is_closed_last() -> None:
    """Both looks need the box open; it is closed when all that was done inside it is put back, and nothing is said twice."""
    setups = {name: {"minutes": 1, "title": name, "restore": f"Close {name}."} for name in ("box", "cock", "lid")}
    looks = [sb.check("strainer", ["weep"], state="cold-stopped", setups=["box", "cock", "lid"], restore=["Basket in.", "Fill the bowl."]),
             sb.check("hose", ["weep"], state="cold-stopped", setups=["box", "cock"], restore=["Hose back."]),
             sb.check("mirror", ["weep"], state="cold-stopped", setups=["box"])]
    book = sb.book_of(sb.component(symptoms=[sb.symptom("weep", states=("cold-stopped",))], checks=looks,
                                   faults=[sb.fault("worn", [sb.shows("weep", (0.8,))])]), setups=setups)
    assert put_back(book, ["strainer", "hose", "mirror"]) == (
        "Hose back.", "Basket in.", "Fill the bowl.", "Close lid.", "Close cock.", "Close box.")
    assert put_back(book, ["mirror", "hose"]) == ("Hose back.", "Close cock.", "Close box.")


def test_what_was_told_opens_nothing(tiny_book: Book) -> None:
    """An observation that stands in the words of the opening was not looked at now: nothing was opened for it."""
    words = said("brown crust", matched=[{"piece": "brown crust", "symptom": "pump-weep", "grade": "damp"}])
    log = [said("brown crust"), COLD, (words, seen("pump-weep", "damp", note="brown crust"))]
    assert progress_of(stored(log), tiny_book).opened == []


# ------------------------------------------------------------------ what is asked next


def test_the_order_of_the_first_questions(small: Reader) -> None:
    """Words, engine, meaning of the words, trip, then facts or looks."""
    words = said("brown crust below the pulley")
    assert next_of(small).kind == "opening"
    assert next_of(small, words).kind == "engine"
    assert (next_of(small, words, COLD).kind, next_of(small, words, COLD).words) == ("reading", "brown crust below the pulley")
    matched = said("brown crust below the pulley", matched=[{"piece": "brown crust below the pulley", "symptom": "pump-weep"}])
    asked = next_of(small, words, COLD, matched)
    assert (asked.kind, asked.about, asked.words) == ("symptom", "pump-weep@cold-stopped", "brown crust below the pulley")
    assert next_of(small, words, COLD, (matched, seen("pump-weep", "damp"))).kind == "trip"
    assert next_of(small, words, COLD, (matched, seen("pump-weep", "damp")), NO_TRIP).kind in ("fact", "symptom")


def test_every_symptom_question_has_the_healthy_answer_as_0(reader: Reader) -> None:
    """For every symptom and state of the shipped book the first line is 0 and means healthy, each later one is worse."""
    for symptom in reader.book.symptoms.values():
        question = asking.symptom(symptom, 1, symptom.states[0], engine=None)
        assert [c.key for c in question.choices] == [str(i) for i in range(len(symptom.grades))]
        assert [c.id for c in question.choices] == list(symptom.grades)
        assert question.choices[0].id == "none"
        assert all(c.text for c in question.choices)


def test_a_look_is_finished_before_another_begins(small: Reader) -> None:
    """A check that tells two things asks both, one after the other; the second says that it goes on."""
    facts = BoatEntry(name="Tern", arrangement={"pump-drive": "belt", "cooling": "sealed"})
    start = [said(), COLD, NO_TRIP, facts]
    asked = next_of(small, *start, at="look-under-pump")
    assert asked.about == "pump-weep@cold-stopped"
    further = next_of(small, *start, seen("pump-weep", "damp", check="look-under-pump"))
    assert further.about == "pump-level-low@cold-stopped"
    assert further.look is not None
    assert further.look.goes_on


def test_cautions_and_reasons_come_with_the_look(reader: Reader) -> None:
    """A look carries its cautions in their words, how it is done, why it is the one now, and the others with why not."""
    words = said("brown crust", left_over=["brown crust"])
    facts = BoatEntry(name="Tern", arrangement={"cooling": "heat-exchanger", "coolant-pump-drive": "belt", "raw-water-pump-drive": "gear"})
    asked = next_of(reader, said("brown crust"), COLD, words, NO_TRIP, facts, seen("coolant-pump-weep", "damp"))
    look = asked.look
    assert look is not None
    check = reader.book.checks[look.check]
    assert [c.text for c in look.cautions] == [reader.book.cautions[c].text for c in check.cautions]
    assert look.how == check.steps
    assert look.why
    weighed = assess(case_of(stored([facts, seen("coolant-pump-weep", "damp")])), reader.book).checks
    assert look.suggested is not None
    assert len(look.also) == len([c for c in weighed if c.check != look.check])


def test_told_state() -> None:
    """What was told in words was seen as said, else as she is, else where a healthy look is mildest and a finding hardest."""
    states = ("cold-stopped", "idle", "under-load")
    assert told_state(states, "idle", "cold-stopped", 1) == "idle"
    assert told_state(states, None, "cold-stopped", 1) == "cold-stopped"
    assert told_state(states, "warm-stopped", "warm-stopped", 1) == "under-load"
    assert told_state(states, None, None, 0) == "cold-stopped"


# ------------------------------------------------------------------ the boat


def test_a_switch_is_on_off_or_not_known(reader: Reader) -> None:
    """Of what is known of a boat a switch is on, off, or open; open ones name the facts they hang on."""
    book = reader.book
    coolant = next(c for c in book.components if c.component == "coolant-pump")
    assert holds(coolant.applies, {"cooling": "heat-exchanger"}) is True
    assert holds(coolant.applies, {"cooling": "raw-water"}) is False
    assert holds(coolant.applies, {}) is None
    assert holds(None, {}) is True
    assert deciding(book, (coolant.applies,), {}) == ("cooling",)
    assert deciding(book, (coolant.applies,), {"cooling": "raw-water"}) == ()
    off = barred(book, {"cooling": "raw-water"})
    assert "coolant-pump-weep" in off
    assert barred(book, {}) == frozenset()


# ------------------------------------------------------------------ words told back


def test_terms_are_explained_once_where_they_first_appear() -> None:
    """A term is explained at its first appearance, in any case, number and form, by its longest name, and never again."""
    listed = [("weep-hole", "weep hole", []), ("hole", "hole", []), ("impeller", "impeller", ["vane"])]
    terms = Terms([Term(id=name, term=term, also=tuple(also), says=f"what a {term} is") for name, term, also in listed])
    assert terms.first_met(["Look at the Weep Holes."]) == (("weep hole", "what a weep hole is"),)
    assert terms.first_met(["Weep holes again, with vanes;", "a hole"]) == (("impeller", "what a impeller is"), ("hole", "what a hole is"))
    assert terms.first_met(["weep hole, hole, impeller", "whole keyholes"]) == ()
    assert Terms([]).first_met(["hole"]) == ()


def test_ages_in_words() -> None:
    """A time gone by is told in the unit one would use."""
    told = {timedelta(seconds=20): "under a minute", timedelta(minutes=40): "40 min", timedelta(hours=5): "5 h",
            timedelta(days=9): "9 days"}
    assert {gone: telling.age(gone) for gone in told} == told


def test_every_answer_is_told_back(tiny_book: Book) -> None:
    """Each kind of answer has a line of its own, in words and without ids."""
    log = stored([said("brown crust"), COLD, NO_TRIP, BoatEntry(name="T", arrangement={"pump-drive": "belt"}), seen("pump-weep", "damp"),
                  PassedOver(symptom="pump-play", state="cold-stopped", why="cannot-see"), MovedOn(to="past idle"), MovedOn(to="resumed"),
                  MovedOn(to="look on", note="go")])
    lines = [text for _, text, _ in telling.listed(tiny_book, progress_of(log, tiny_book))]
    assert lines == ["'brown crust'", "she is cold", "no trip in mind", lines[3], "Drip under the pump: wet to the finger (cold)",
                     "Play of the pulley: cannot be seen", "not now: idling", "taken up again; since then nothing of what was asked"]
    assert "belt" in lines[3]


def test_what_happened_meanwhile_is_asked_again_where_it_is_taken_back(small: Reader) -> None:
    """No other question follows from it: `b` after it, and `change` of it, ask it once more."""
    done = progress_of(stored([said(), COLD, MovedOn(to="resumed")]), small.book)
    back = small.read(asking.trip(small.book, 4, "cold-stopped"), "b", done, NOON)
    assert [type(entry) for entry in back.entries] == [TakenBack]
    assert (back.ask.kind if back.ask else None) == "since"
    changed = small.read(asking.end(4, "cold-stopped"), "change 3", done, NOON)
    assert ([type(entry) for entry in changed.entries], changed.ask.kind if changed.ask else None) == ([TakenBack], "since")


def test_what_was_no_question_is_crossed_out_only_when_told_so(small: Reader) -> None:
    """An event that was read out of words cannot be asked anew: that is said first, with the line that crosses it out."""
    done = progress_of(stored([said(), COLD, EventEntry(event=EventSeen(event="pump-work"))]), small.book)
    asked = small.read(asking.end(4, "cold-stopped"), "change 3", done, NOON)
    assert (asked.entries, asked.ask) == ((), None)
    assert asked.said[0].endswith("change 3 out crosses it out.")
    assert [type(entry) for entry in small.read(asking.end(4, "cold-stopped"), "change 3 out", done, NOON).entries] == [TakenBack]


def test_a_rule_folder_is_not_needed(tmp_path: Path) -> None:
    """The dialogue rests on the book alone: one loaded from any folder works."""
    import tiny

    book = load_rules(tiny.write(tmp_path / "rules", tiny.parts()))
    assert Index(book).readings(piece("had to top it up again"))[0].id == "pump-level-low"


# ------------------------------------------------------------------ odd input


def test_more_things_than_anyone_answers_for(small: Reader) -> None:
    """Of a long story the first dozen things are asked about; the rest is kept as said, and nothing is dropped."""
    story = ", ".join(f"odd thing number {n} at the pump" for n in range(20))
    entry = reply(small, asking.opening(1), story, Progress()).entries[0]
    assert isinstance(entry, WordsEntry)
    assert entry.said == story
    assert len(entry.left_over) == 8
    done = progress_of(stored([entry]), small.book)
    assert len(done.open_pieces) == 12
    assert len(done.kept) == 8


@pytest.mark.parametrize("typed", ["\ud800 lone", "9" * 400, "9" * 400 + " in 10 min", "1e400 C", "change " + "9" * 400, "x" * 100_000,
                                   "a " + "drips and " * 5_000, "?" * 50, "1" + "?" * 50, "\u200b", "n \ud800"])
def test_odd_input_breaks_nothing(typed: str, small: Reader, weep: Question, gauge: Question) -> None:
    """No text, however long or broken, raises; what is told back of it is short."""
    event = Question("ago", "How long ago?", 3, about="pump-work", words="new pump", free="number")
    for question in (weep, gauge, event, asking.opening(1), asking.engine_now(2, None), asking.trip(small.book, 3, None)):
        found = reply(small, question, typed)
        assert found.said or found.entries or found.ask
        assert all(len(line) < 1000 for line in found.said if not found.entries)


def test_a_log_of_older_rules_still_folds(tiny_book: Book) -> None:
    """Names that the book no longer has, in words, answers and facts, break nothing; what they stood for is kept as words."""
    words = said("brown crust", matched=[{"piece": "brown crust", "symptom": "gone-now"}])
    old = BoatEntry(name="T", arrangement={"gone-fact": True})
    log = stored([said("brown crust"), COLD, words, seen("gone-too", "damp", check="gone-check"), old])
    done = progress_of(log, tiny_book)
    assert done.kept == ["brown crust"]
    assert done.open_pieces == []
    assert len(list(telling.listed(tiny_book, done))) == 5
    assert put_back(tiny_book, done.opened) == ()


def test_the_loop_knows_nothing_of_how_it_looks() -> None:
    """The loop of a session stands beside its questions and is handed its screen: nothing in session/ imports a page or a command,
    late imports included."""
    folder = Path(telling.__file__).parent
    texts = {path.name: path.read_text(encoding="utf-8") for path in folder.glob("*.py")}
    assert "class Sitting" in texts["sitting.py"]
    assert [name for name, text in texts.items() if re.search(r"(?:from|import) diagnose\.(?:show|commands)", text)] == []
