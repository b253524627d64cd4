"""The log folded into a case and a boat: the latest answer counts, what was taken back does not, hours run on."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import logkit as kit
import pytest

from diagnose.case import Case, EventSeen, Observation, Service, Trip
from diagnose.record import entries as e
from diagnose.record.fold import boat_of, case_of, latest_reading
from diagnose.record.store import Record
from diagnose.record.trouble import RecordError

BOAT = kit.BOAT


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    """An empty record."""
    with Record.open(tmp_path / "r.sqlite3") as made:
        yield made


@pytest.fixture
def case(record: Record) -> str:
    """A case of the record."""
    return str(record.append(kit.opened(), boat=BOAT).case)


def grades(record: Record, case: str) -> dict[tuple[str, str | None], str | None]:
    """Answers of a case by symptom and state."""
    return {(o.symptom, o.state): o.grade or o.sure for o in case_of(record, case).observations}


def test_every_field_of_a_case_is_told_by_some_entry() -> None:
    """A field added to the case file cannot be forgotten here: each is part of the opening or is folded from other entries."""
    folded = {"schema_", "boat", "events", "observations", "expect", "then", "work"}
    assert set(Case.model_fields) == folded | (set(e.CaseOpened.model_fields) - {"kind", "at", "by"})
    told = set(e.BoatEntry.model_fields) - {"kind", "at", "by", "note", "forget"}
    from diagnose.case import Boat

    assert set(Boat.model_fields) == told | {"engine_hours", "own_rates"}


def test_the_latest_answer_to_a_question_counts(record: Record, case: str) -> None:
    """Of two answers in one state the later counts, whatever the order they were entered in; another state is another question."""
    for answer in (kit.seen(grade="drip", minutes=2), kit.seen(grade="damp", minutes=1), kit.seen("pump-play", "moves", 3)):
        record.append(answer, boat=BOAT, case=case)
    other = Observation(symptom="pump-weep", grade="none", state="idle")
    record.append(e.Observed(at=kit.at(4), observation=other), boat=BOAT, case=case)
    assert grades(record, case) == {("pump-weep", "cold-stopped"): "drip", ("pump-play", "cold-stopped"): "moves",
                                    ("pump-weep", "idle"): "none"}


def test_an_answer_taken_back_does_not_count(record: Record, case: str) -> None:
    """Without the answer taken back the one before it counts again; the taking back taken back, it counts."""
    record.append(kit.seen(grade="damp", minutes=1), boat=BOAT, case=case)
    last = record.append(kit.seen(grade="drip", minutes=2), boat=BOAT, case=case)
    undo = record.append(e.TakenBack(at=kit.at(3), entry=last.id), boat=BOAT, case=case)
    assert list(grades(record, case).values()) == ["damp"]
    record.append(e.TakenBack(at=kit.at(4), entry=undo.id), boat=BOAT, case=case)
    assert list(grades(record, case).values()) == ["drip"]


def test_what_could_not_be_seen_gives_way_to_an_answer(record: Record, case: str) -> None:
    """'Cannot see' and 'not sure' are kept until the thing was seen, in whatever state; 'later' and checks passed over say nothing."""
    for what, why in (("pump-weep", "cannot-see"), ("pump-play", "not-sure"), ("pump-steam", "later")):
        record.append(e.PassedOver(at=kit.at(1), symptom=what, why=why), boat=BOAT, case=case)  # type: ignore[arg-type]
    record.append(e.PassedOver(at=kit.at(1), check="rock-pump", why="cannot-see"), boat=BOAT, case=case)
    assert grades(record, case) == {("pump-weep", None): "cannot-see", ("pump-play", None): "not-sure"}
    record.append(kit.seen(grade="none", minutes=2), boat=BOAT, case=case)
    assert grades(record, case) == {("pump-play", None): "not-sure", ("pump-weep", "cold-stopped"): "none"}


def test_answers_carry_their_moment_and_their_observer(record: Record, case: str) -> None:
    """An answer without a moment or a name has those of its entry; the case is judged at its last word on the engine."""
    record.append(e.Observed(at=kit.at(5), by="Ann", observation=Observation(symptom="pump-weep", grade="damp")), boat=BOAT, case=case)
    record.append(e.Note(at=kit.at(500), text="later thought"), boat=BOAT, case=case)
    record.append(e.Closed(at=kit.at(600), how="mended"), boat=BOAT, case=case)
    folded = case_of(record, case)
    assert [(o.when, o.by) for o in folded.observations] == [(kit.at(5), "Ann")]
    assert folded.now == kit.at(5)
    assert case_of(record, case, now=kit.at(700)).now == kit.at(700)


def test_a_case_told_afterwards_keeps_its_day(record: Record) -> None:
    """A case that is about another day is judged on that day, and its answers are of that day."""
    case = str(record.append(kit.opened(now=kit.at(-5000)), boat=BOAT).case)
    record.append(kit.seen(minutes=3), boat=BOAT, case=case)
    folded = case_of(record, case)
    assert folded.now == folded.observations[0].when == kit.at(-5000)


def test_hours_run_make_answers_and_events_older(record: Record, case: str) -> None:
    """Eight engine hours after an answer and an event, both are eight hours older; before there was a reading, nothing is added."""
    record.append(kit.seen(minutes=-10), boat=BOAT, case=case)
    record.append(e.HoursEntry(at=kit.at(0), engine_hours=100), boat=BOAT)
    record.append(kit.seen("pump-play", "moves", 1, hours_ago=0.5), boat=BOAT, case=case)
    record.append(e.EventEntry(at=kit.at(1), event=EventSeen(event="pump-work", hours_ago=2)), boat=BOAT)
    record.append(e.HoursEntry(at=kit.at(60), engine_hours=108), boat=BOAT)
    folded = case_of(record, case)
    assert {o.symptom: o.hours_ago for o in folded.observations} == {"pump-weep": None, "pump-play": 8.5}
    assert [event.hours_ago for event in folded.events] == [10]
    assert folded.boat.engine_hours == 108


def test_the_last_trip_said_is_the_trip(record: Record) -> None:
    """A trip said later takes the place of the one said at the opening."""
    case = str(record.append(kit.opened(trip=Trip(engine_hours=4)), boat=BOAT).case)
    assert case_of(record, case).trip.engine_hours == 4
    record.append(e.TripEntry(at=kit.at(1), trip=Trip(engine_hours=9, night=True)), boat=BOAT, case=case)
    assert case_of(record, case).trip == Trip(engine_hours=9, night=True)


def test_facts_of_a_boat_are_added_corrected_and_forgotten(record: Record) -> None:
    """Later facts add to and correct earlier ones; what is not known after all goes; services are those last told."""
    record.append(e.BoatEntry(at=kit.at(0), name=BOAT, arrangement={"cooling": "raw", "pump-drive": "belt"}, figures={"usual": "80 degC"},
                              serviced={"belt": Service(at_hours=50), "cap": Service(on=date(2024, 1, 1))},
                              healthy=(Observation(symptom="gauge", value="82 degC"),)), boat=BOAT)
    record.append(e.BoatEntry(at=kit.at(1), name=BOAT, arrangement={"cooling": "sealed"}, forget=("pump-drive", "cap"),
                              healthy=(Observation(symptom="gauge", value="84 degC"),)), boat=BOAT)
    record.append(e.ServiceEntry(at=kit.at(2), item="belt", hours=90, on=date(2026, 4, 1)), boat=BOAT)
    record.append(e.ServiceEntry(at=kit.at(3), part="a part of her own", hours=95), boat=BOAT)
    boat = boat_of(record, "brindle")
    assert boat.arrangement == {"cooling": "sealed"}
    assert boat.figures == {"usual": "80 degC"}
    assert boat.serviced == {"belt": Service(at_hours=90, on=date(2026, 4, 1))}
    assert [o.value for o in boat.healthy] == ["84 degC"]
    assert boat.engine_hours == 95
    with pytest.raises(RecordError, match="no boat"):
        boat_of(record, "Ghost")


def test_older_entries_that_come_in_later_do_not_win(record: Record) -> None:
    """Facts and readings of last year, imported today, do not put back those of this year."""
    record.append(e.BoatEntry(at=kit.at(10), name=BOAT, arrangement={"cooling": "sealed"}), boat=BOAT)
    record.append(e.HoursEntry(at=kit.at(10), engine_hours=200), boat=BOAT)
    record.append(e.BoatEntry(at=kit.at(0), name=BOAT, arrangement={"cooling": "raw", "drive": "shaft"}), boat=BOAT)
    record.append(e.HoursEntry(at=kit.at(0), engine_hours=150), boat=BOAT)
    boat = boat_of(record, BOAT)
    assert (boat.arrangement, boat.engine_hours) == ({"cooling": "sealed", "drive": "shaft"}, 200)
    last = latest_reading(record, BOAT)
    assert last is not None
    assert last.hours == 200


def test_a_service_beyond_the_hours_she_has_run_goes_by_its_date(record: Record) -> None:
    """A service at more hours than a later reading cannot be believed: its day is kept, and without one it says nothing."""
    record.append(e.ServiceEntry(at=kit.at(0), item="belt", hours=9000, on=date(2026, 5, 3)), boat=BOAT)
    record.append(e.BoatEntry(at=kit.at(0), name=BOAT, serviced={"pump": Service(at_hours=9000)}), boat=BOAT)
    record.append(e.HoursEntry(at=kit.at(5), engine_hours=900), boat=BOAT)
    assert boat_of(record, BOAT).serviced == {"belt": Service(on=date(2026, 5, 3))}


def test_a_service_told_later_is_no_reading(record: Record) -> None:
    """A service at 90 h told when she has run 120 does not set her hours back; one at 130 h says that she has run so far."""
    record.append(e.HoursEntry(at=kit.at(0), engine_hours=120), boat=BOAT)
    record.append(e.ServiceEntry(at=kit.at(1), item="belt", hours=90), boat=BOAT)
    assert boat_of(record, BOAT).engine_hours == 120
    record.append(e.ServiceEntry(at=kit.at(2), item="pump", hours=130), boat=BOAT)
    boat = boat_of(record, BOAT)
    assert boat.engine_hours == 130
    assert boat.serviced == {"belt": Service(at_hours=90), "pump": Service(at_hours=130)}


def test_a_service_told_by_its_age_grows_older(record: Record) -> None:
    """A belt renewed 30 engine hours ago has run 42 when she has run 12 more."""
    record.append(e.HoursEntry(at=kit.at(0), engine_hours=100), boat=BOAT)
    record.append(e.BoatEntry(at=kit.at(1), name=BOAT, serviced={"belt": Service(hours_ago=30)}), boat=BOAT)
    record.append(e.HoursEntry(at=kit.at(2), engine_hours=112), boat=BOAT)
    assert boat_of(record, BOAT).serviced == {"belt": Service(hours_ago=42)}


def test_a_closed_case_keeps_the_boat_of_its_time(record: Record, case: str) -> None:
    """What becomes known of the boat after a case was closed does not change the case; reopened, it does."""
    record.append(e.HoursEntry(at=kit.at(1), engine_hours=100), boat=BOAT)
    record.append(e.Closed(at=kit.at(2), how="mended"), boat=BOAT, case=case)
    record.append(e.HoursEntry(at=kit.at(3), engine_hours=180), boat=BOAT)
    assert case_of(record, case).boat.engine_hours == 100
    record.append(e.Reopened(at=kit.at(4)), boat=BOAT, case=case)
    assert case_of(record, case).boat.engine_hours == 180


def test_an_event_of_another_case_is_not_of_this_one(record: Record, case: str) -> None:
    """Events of the boat are in all her cases, an event told in one case is in that case only."""
    other = str(record.append(kit.opened("Other", 1), boat=BOAT).case)
    record.append(e.EventEntry(at=kit.at(2), event=EventSeen(event="pump-work")), boat=BOAT, case=other)
    record.append(e.EventEntry(at=kit.at(3), event=EventSeen(event="grounding")), boat=BOAT)
    assert [event.event for event in case_of(record, case).events] == ["grounding"]
    assert [event.event for event in case_of(record, other).events] == ["pump-work", "grounding"]


def test_a_closed_case_knows_the_boat_as_she_was_when_it_was_closed(record: Record, case: str) -> None:
    """What was learned of her between the closing and a later finding, note or photo does not reach into the closed case."""
    record.append(kit.seen(minutes=1), boat=BOAT, case=case)
    record.append(e.BoatEntry(at=kit.at(2), name=BOAT, arrangement={"cooling": "sealed"}), boat=BOAT)
    record.append(e.Closed(at=kit.at(3), how="seal renewed"), boat=BOAT, case=case)
    record.append(e.BoatEntry(at=kit.at(5), name=BOAT, arrangement={"cooling": "raw"}), boat=BOAT)
    record.append(e.Found(at=kit.at(9), nothing_wrong=True), boat=BOAT, case=case)
    assert case_of(record, case).boat.arrangement == {"cooling": "sealed"}
    record.append(e.Reopened(at=kit.at(10)), boat=BOAT, case=case)
    assert case_of(record, case).boat.arrangement == {"cooling": "raw"}
    record.append(e.Closed(at=kit.at(11), how="again"), boat=BOAT, case=case)
    assert case_of(record, case).boat.arrangement == {"cooling": "raw"}
