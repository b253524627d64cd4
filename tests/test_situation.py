"""A case against the book: every unknown name, wrong unit and contradiction is refused; every default is said."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
import tiny
from tiny import observation

from diagnose.case import Case
from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.seen import _reports, graded_likelihood, number_likelihood, silence_likelihood
from diagnose.situation import Situation, near_symptoms, resolve
from diagnose.triage import assess


def situation(book: Book, **changes: Any) -> Situation:
    """The sound case on the tiny book with some keys changed, resolved."""
    return resolve(Case.model_validate(tiny.case(**changes)), book)


def seeing(book: Book, *observations: dict[str, Any], **changes: Any) -> Situation:
    """The sound case with these observations."""
    return situation(book, observations=list(observations), **changes)


def refused(book: Book, **changes: Any) -> InputError:
    """The error of a case."""
    with pytest.raises(InputError) as caught:
        situation(book, **changes)
    return caught.value


GAUGE = {"symptom": "pump-gauge-high", "state": "idle"}

REFUSED: dict[str, tuple[dict[str, Any], str, str, str]] = {
    # what: the change; what is said, where, and what would be right
    "an unknown symptom": (
        {"observations": [observation("pump-wep")]},
        "symptom 'pump-wep' is not in the book",
        "observations[0]",
        "pump-weep",
    ),
    "an unknown grade": (
        {"observations": [observation("pump-weep", "wet")]},
        "grade 'wet' is not on its scale",
        "observations[0] pump-weep",
        "none, damp, drip",
    ),
    "an unknown least grade": (
        {"observations": [{"symptom": "pump-weep", "at_least": "wet"}]},
        "grade 'wet'",
        "observations[0] pump-weep",
        "none, damp",
    ),
    "grades with a gap": (
        {"observations": [{"symptom": "pump-weep", "one_of": ["none", "drip"]}]},
        "are not neighbours",
        "observations[0] pump-weep",
        "none, damp, drip",
    ),
    "a state it cannot be judged in": (
        {"observations": [observation("pump-play", state="idle")]},
        "'play of the pulley' cannot be judged idle",
        "observations[0] pump-play",
        "cold-stopped",
    ),
    "a number for a grade": (
        {"observations": [{"symptom": "pump-play", "value": "3 mm"}]},
        "by a grade, not by a number",
        "observations[0] pump-play",
        "none, moves",
    ),
    "no unit": ({"observations": [{**GAUGE, "value": 96}]}, "'96' has no unit", "observations[0] pump-gauge-high", "such as '96 degC'"),
    "a wrong unit": (
        {"observations": [{**GAUGE, "value": "96 L"}]},
        "'L' does not measure this",
        "observations[0] pump-gauge-high",
        "a unit like degC",
    ),
    "an unknown unit": ({"observations": [{**GAUGE, "value": "96 blorps"}]}, "unit 'blorps'", "observations[0] pump-gauge-high", "degC"),
    "an impossible value": (
        {"observations": [{**GAUGE, "value": "400 degC"}]},
        "400 degC cannot be",
        "observations[0] pump-gauge-high",
        "between -10 and 130 degC",
    ),
    "two answers": (
        {"observations": [observation("pump-weep"), observation("pump-weep", "drip")]},
        "pump-weep is answered twice",
        "observations",
        "a time",
    ),
    "an unknown event": ({"events": [{"event": "pump-wrok"}]}, "event 'pump-wrok' is not in the book", "events[0]", "pump-work"),
    "an unknown fact": ({"boat": {"arrangement": {"coling": "raw"}}}, "'coling' is not a fact of the boat", "boat.arrangement", "cooling"),
    "an unknown choice": (
        {"boat": {"arrangement": {"cooling": "steam"}}},
        "'steam' is not a choice",
        "boat.arrangement.cooling",
        "sealed or raw",
    ),
    "a number for a choice": (
        {"boat": {"arrangement": {"cooling": 5}}},
        "'5.0' is not a choice",
        "boat.arrangement.cooling",
        "sealed or raw",
    ),
    "a word for a flag": (
        {"boat": {"arrangement": {"expansion-bottle": "maybe"}}},
        "'maybe' is not true or false",
        "boat.arrangement.expansion-bottle",
        "true or false",
    ),
    "a flag for a number": (
        {"boat": {"arrangement": {"header-reserve": True}}},
        "is a number, not true or false",
        "boat.arrangement.header-reserve",
        "such as '0.5 L'",
    ),
    "a fact without unit": (
        {"boat": {"arrangement": {"header-reserve": 2}}},
        "has no unit",
        "boat.arrangement.header-reserve",
        "such as '2",
    ),
    "a fact that cannot be": (
        {"boat": {"arrangement": {"header-reserve": "50 L"}}},
        "50 L cannot be",
        "boat.arrangement.header-reserve",
        "between 0 and 10 L",
    ),
    "an unknown service item": (
        {"boat": {"serviced": {"coolant-pmp": {"hours_ago": 3}}}},
        "'coolant-pmp' is not a service item",
        "boat.serviced.coolant-pmp",
        "coolant-pump",
    ),
    "serviced at more hours than she has run": (
        {"boat": {"engine_hours": 100, "serviced": {"coolant-pump": {"at_hours": 150}}}},
        "serviced at 150 h, and she has run only 100 h",
        "boat.serviced.coolant-pump",
        "",
    ),
    "serviced at hours, and hers are not known": (
        {"boat": {"serviced": {"coolant-pump": {"at_hours": 150}}}},
        "boat.engine_hours is missing",
        "boat.serviced.coolant-pump",
        "engine_hours",
    ),
    "serviced in the future": (
        {"now": "2026-05-01T10:00:00", "boat": {"serviced": {"coolant-pump": {"on": "2026-06-01"}}}},
        "serviced on 2026-06-01, after the date of the case",
        "boat.serviced.coolant-pump",
        "",
    ),
    "an unknown part": ({"trip": {"aboard": {"spares": ["pump-kti"]}}}, "spare 'pump-kti' is not a part", "trip.aboard.spares", "pump-kit"),
    "an unknown exposure": ({"trip": {"exposure": "lunar"}}, "exposure 'lunar' is not known", "trip", "coastal, offshore"),
    "water without unit": ({"trip": {"aboard": {"water": "20"}}}, "'20' has no unit", "water aboard", "such as '20 L'"),
    "coolant by weight": ({"trip": {"aboard": {"coolant": "5 kg"}}}, "'kg' does not measure this", "coolant aboard", "a unit like L"),
    "a bilge pump that cannot be": (
        {"trip": {"aboard": {"bilge_pump": "5 mL/hour"}}},
        "cannot be",
        "bilge pump",
        "between 10 and 1e+06 L/hour",
    ),
}


@pytest.mark.parametrize("what", REFUSED)
def test_a_case_that_does_not_fit_the_book_is_refused(what: str, tiny_book: Book) -> None:
    """Each misfit is refused with what is wrong, where, and what would be right."""
    change, message, where, right = REFUSED[what]
    error = refused(tiny_book, **change)
    assert message in error.what
    assert error.where == where
    assert error.right.startswith(right)


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("brown-crust-below-pulley", "pump-weep"),
        ("drops fall", "pump-weep"),
        ("topped it up again", "pump-level-low"),
        ("steam from engine", "pump-steam"),
        ("pump-gauge-hihg", "pump-gauge-high"),
        ("pulley play", "pump-play"),
        ("WEEP", "pump-weep"),
    ],
)
def test_an_unknown_symptom_gets_the_nearest_by_meaning(said: str, meant: str, tiny_book: Book) -> None:
    """What owners say, a title, a text of a grade or a slip of the pen finds the symptom meant, first of at most three."""
    near = near_symptoms(tiny_book, said)
    assert near[0] == meant
    assert len(near) <= 3
    assert len(set(near)) == len(near)


def test_words_of_nothing_in_the_book_find_nothing(tiny_book: Book) -> None:
    """Where nothing is near, nothing is offered, and the refusal stands all the same."""
    assert near_symptoms(tiny_book, "qqqq xxxx") == []
    assert refused(tiny_book, observations=[observation("qqqq-xxxx")]).right == ""


def test_an_unsure_look_is_checked_too(tiny_book: Book) -> None:
    """A symptom that could not be seen must be in the book all the same."""
    assert "is not in the book" in refused(tiny_book, observations=[{"symptom": "pump-wep", "sure": "cannot-see"}]).what


# ------------------------------------------------------------------ what is taken, and said


def test_defaults_are_taken_and_said(tiny_book: Book) -> None:
    """Each fact left out, the trip, the exposure and the sails are filled in, and each is said in words."""
    made = situation(tiny_book, boat={}, trip={})
    assert made.facts == {"cooling": "sealed", "pump-drive": "belt", "expansion-bottle": True, "header-reserve": 0.5, "hours-a-year": 100.0}
    assert made.known_facts == frozenset()
    assert set(made.assumed) == {
        "cooling: coolant",
        "pump drive: by a belt",
        "bottle: yes",
        "header reserve: 0.5 L",
        "hours a year: 100 hour",
        "the trip takes 4 engine hours",
        "the trip is: coastal passage",
        "she cannot sail home",
    }
    assert (made.trip_hours, made.hours_away, made.exposure, made.can_sail) == (4.0, 8.0, "coastal", False)


def test_nothing_is_assumed_of_what_is_known(tiny_book: Book) -> None:
    """A case that says all has nothing assumed."""
    everything = {"cooling": "raw", "pump-drive": "gear", "expansion-bottle": False, "header-reserve": "300 mL", "hours-a-year": "60 hour"}
    made = situation(tiny_book, boat={"arrangement": everything})
    assert made.assumed == ()
    assert made.facts == {**everything, "header-reserve": pytest.approx(0.3), "hours-a-year": 60.0}
    assert made.known_facts == frozenset(everything)


def test_being_away_is_never_shorter_than_the_engine_runs(tiny_book: Book) -> None:
    """Hours away are twice the engine's hours when not given, and never fewer than them."""
    for given, away in (
        ({"engine_hours": 6}, 12.0),
        ({"engine_hours": 6, "hours_away": 30}, 30.0),
        ({"engine_hours": 6, "hours_away": 2}, 6.0),
    ):
        assert situation(tiny_book, trip=given).hours_away == away


def test_a_state_left_out_is_taken_and_said(tiny_book: Book) -> None:
    """A healthy look is taken in the mildest state, a finding in the hardest; a symptom of one state needs none."""
    for grade, state, said in (("none", "cold-stopped", "cold stopped"), ("drip", "idle", "idle")):
        made = seeing(tiny_book, {"symptom": "pump-weep", "grade": grade})
        assert made.seen[0].state == state
        assert f"drip under the pump: seen {said}" in made.assumed
    assert not [a for a in seeing(tiny_book, {"symptom": "pump-play", "grade": "moves"}).assumed if "play" in a]


AGES: dict[str, tuple[dict[str, Any], float, str]] = {
    "hours ago": ({"serviced": {"coolant-pump": {"hours_ago": 30}}}, 30.0, ""),
    "at engine hours": ({"engine_hours": 500, "serviced": {"coolant-pump": {"at_hours": 420}}}, 80.0, ""),
    "on a date": (
        {"serviced": {"coolant-pump": {"on": "2024-05-01"}}},
        200.0,
        "coolant-pump has run 200 h since 2024-05-01, at 100 h a year",
    ),
    "on a date, at her own hours": (
        {"arrangement": {"hours-a-year": "50 hour"}, "serviced": {"coolant-pump": {"on": "2024-05-01"}}},
        100.0,
        "at 50 h a year",
    ),
}


@pytest.mark.parametrize("what", AGES)
def test_the_age_of_a_part(what: str, tiny_book: Book) -> None:
    """Hours since the service follow from hours ago, from engine hours, or from the date at her hours a year, which is said."""
    boat, hours, said = AGES[what]
    made = situation(tiny_book, now="2026-05-01T10:00:00", boat=boat)
    assert made.ages["coolant-pump"] == pytest.approx(hours, rel=2e-3)  # a year is 365.25 days here, and two of them were 730
    assert any(said in line for line in made.assumed)


def test_a_date_without_a_date_of_the_case(tiny_book: Book) -> None:
    """Without any date in the case the age stays unknown, and that is said; the time of an observation will do."""
    boat = {"serviced": {"coolant-pump": {"on": "2024-05-01"}}}
    made = situation(tiny_book, boat=boat)
    assert made.ages == {}
    assert "age of coolant-pump unknown, for the case has no date" in made.assumed
    dated = seeing(tiny_book, observation("pump-weep", when="2026-05-01T10:00:00"), boat=boat)
    assert dated.ages["coolant-pump"] == pytest.approx(200, rel=2e-3)


def test_what_is_aboard(tiny_book: Book) -> None:
    """Spares by id, coolant and water together in litres, the bilge pump in litres an hour or its default."""
    aboard = {"spares": ["pump-kit"], "coolant": "500 mL", "water": "2 imperial_gallon", "bilge_pump": "20 L/min"}
    made = situation(tiny_book, trip={"aboard": aboard})
    assert made.parts == {"pump-kit"}
    assert made.coolant_aboard == pytest.approx(0.5 + 2 * 4.54609)  # the imperial gallon is 4.54609 L by definition
    assert made.bilge_pump == pytest.approx(1200)
    assert (situation(tiny_book).coolant_aboard, situation(tiny_book).bilge_pump) == (0.0, 500.0)


def test_of_two_events_of_a_kind_the_latest_counts(tiny_book: Book) -> None:
    """An event named twice counts from its last time."""
    assert situation(tiny_book, events=[{"event": "pump-work", "hours_ago": 30}, {"event": "pump-work", "hours_ago": 5}]).events == {
        "pump-work": 5.0
    }


# ------------------------------------------------------------------ observations


def test_observations_are_numbered_whatever_their_order(tiny_book: Book) -> None:
    """The order in the file changes nothing: the same observations get the same numbers."""
    given = [
        observation("pump-weep", "drip"),
        observation("pump-play"),
        {**GAUGE, "value": "95 degC"},
        observation("pump-weep", "damp", "idle"),
    ]
    made = [[(s.id, s.symptom, s.state, s.text) for s in seeing(tiny_book, *order).seen] for order in itertools.permutations(given)]
    assert all(one == made[0] for one in made)
    assert [s[0] for s in made[0]] == ["o1", "o2", "o3", "o4"]


def test_the_same_answer_twice_is_one(tiny_book: Book) -> None:
    """Two like answers are one look, as sure as the surer of them; in two states they are two looks."""
    made = seeing(tiny_book, observation("pump-weep", "damp", sure="guess"), observation("pump-weep", "damp", sure="think-so"))
    assert [s.sure for s in made.seen] == [0.85]
    assert len(seeing(tiny_book, observation("pump-weep", "damp"), observation("pump-weep", "drip", "idle")).seen) == 2


def test_before_and_after_the_work_are_two_answers(tiny_book: Book) -> None:
    """What was seen before the work does not contradict what is seen now."""
    made = seeing(tiny_book, observation("pump-weep"), observation("pump-weep", "drip", epoch="before"))
    assert {(s.epoch, s.text) for s in made.seen} == {("now", "none"), ("before", "drip")}


@pytest.mark.parametrize(
    "times",
    [
        ("2026-05-01T09:00:00", "2026-05-01T10:00:00"),
        ("2026-04-30T23:00:00", "2026-05-01T00:30:00"),
        ("2026-05-01T10:30:00+02:00", "2026-05-01T09:00:00+00:00"),
    ],
)
def test_of_two_answers_the_latest_counts(times: tuple[str, str], tiny_book: Book) -> None:
    """With a time on each, the later of two answers counts, in any order and across time zones."""
    early, late = (observation("pump-weep", grade, when=when) for grade, when in zip(("drip", "none"), times, strict=True))
    for order in ((early, late), (late, early)):
        assert [s.text for s in seeing(tiny_book, *order).seen] == ["none"]


@pytest.mark.parametrize("times", [("2026-05-01T09:00:00", None), ("2026-05-01T09:00:00", "2026-05-01T09:00:00")])
def test_two_answers_that_no_time_parts_are_refused(times: tuple[str | None, str | None], tiny_book: Book) -> None:
    """With a time on one of them only, or the same time on both, two different answers contradict each other."""
    two = [observation("pump-weep", grade, **({"when": when} if when else {})) for grade, when in zip(("drip", "none"), times, strict=True)]
    assert "answered twice" in refused(tiny_book, observations=two).what


@pytest.mark.parametrize("sure", ["not-sure", "cannot-see"])
def test_an_unsure_look_is_no_look(sure: str, tiny_book: Book) -> None:
    """Not sure and cannot see leave the symptom unlooked at, whatever grade was written, and are kept as not seen."""
    made = seeing(tiny_book, observation("pump-weep", "drip", sure=sure), observation("pump-play"))
    assert [s.symptom for s in made.seen] == ["pump-play"]
    assert [o.symptom for o in made.not_seen] == ["pump-weep"]


def test_likelihoods_of_grades() -> None:
    """A sure report leaves nothing to other grades; an unsure one is now and then blind, a grade off, or of nothing at all."""
    assert graded_likelihood(3, 1, 1, 1.0).tolist() == [0.0, 1.0, 0.0]
    # a doubt of .15: missed .1, one grade off .075, seen where nothing is .0225 (halved a grade); hand sums, over the largest
    assert graded_likelihood(2, 1, 1, 0.85) == pytest.approx(np.array([0.0225, 0.9]) / 0.9)
    assert graded_likelihood(3, 1, 1, 0.85) == pytest.approx(np.array([0.015, 0.825, 0.075]) / 0.825)
    assert graded_likelihood(4, 1, 3, 0.85) == pytest.approx(np.array([0.0225, 0.9, 0.9, 0.9]) / 0.9)
    # a doubt of .4, nothing seen: what is there is missed two times in .4 * 2/3
    assert graded_likelihood(3, 0, 0, 0.6) == pytest.approx(np.array([0.84, 0.8 / 3, 0.8 / 3]) / 0.84)


@pytest.mark.parametrize("size", [2, 3, 4, 5])
@pytest.mark.parametrize("sure", [0.85, 0.6])
def test_unsure_reports_share_out_all_that_can_be_said(size: int, sure: float) -> None:
    """Whatever is true, something is said: over all reports the chances of each true grade add up to one."""
    reports = _reports(size, 1.0 - sure)
    assert reports.sum(axis=1) == pytest.approx(np.ones(size))
    assert (reports >= 0).all()
    assert (reports.argmax(axis=1) == np.arange(size)).all()


def test_silence_speaks_softly() -> None:
    """What would have been mentioned four times in five and was not is there one time in five as likely."""
    assert silence_likelihood(3, 0.8) == pytest.approx(np.array([1.0, 0.2, 0.2]))


def test_ranges_of_grades(tiny_book: Book) -> None:
    """At least a grade reaches to the worst; one of some reaches from the first to the last of them, in any order."""
    made = [
        seeing(tiny_book, {"symptom": "pump-weep", **answer}).seen[0]
        for answer in ({"at_least": "damp"}, {"one_of": ["drip", "damp"]}, {"one_of": ["none", "damp"]}, {"grade": "damp"})
    ]
    assert [(s.low, s.high) for s in made] == [(1, 2), (1, 2), (0, 1), (1, 1)]
    assert [s.present for s in made] == [True, True, True, True]
    assert not seeing(tiny_book, observation("pump-weep")).seen[0].present


@pytest.mark.parametrize(
    ("value", "grade"),
    [("90.99 degC", 0), ("91 degC", 1), ("97.9 degC", 1), ("98 degC", 2), ("130 degC", 2), ("-10 degC", 0), ("208.4 degF", 2)],
)
def test_a_number_falls_in_its_band(value: str, grade: int, tiny_book: Book) -> None:
    """The lower end of a band belongs to it and the upper end to the next; 208.4 degF are 98 degC."""
    seen = seeing(tiny_book, {**GAUGE, "value": value}).seen[0]
    assert (seen.low, seen.high) == (grade, grade)


def test_the_likelihood_of_a_number_is_the_error_averaged_over_each_band(tiny_book: Book) -> None:
    """By summing the normal error over each band in ten thousand steps: 93 with a sigma of 3, bands to 91, 98 and 130 from -10."""

    def average(low: float, high: float) -> float:
        steps = [low + (high - low) * (i + 0.5) / 10_000 for i in range(10_000)]
        return sum(math.exp(-0.5 * ((x - 93.0) / 3.0) ** 2) for x in steps) / 10_000

    bands = np.array([average(-10, 91), average(91, 98), average(98, 130)])
    assert number_likelihood(tiny_book.symptoms["pump-gauge-high"], 93.0, 3.0) == pytest.approx(bands / bands.max(), rel=1e-4)


def test_a_careful_reading_weighs_more(tiny_book: Book) -> None:
    """The same number with a smaller error leaves less to the other bands; far-off bands get nothing."""
    coarse, fine = (seeing(tiny_book, {**GAUGE, "value": "95 degC", "plus_minus": error}).seen[0].likelihood for error in (4.0, 0.5))
    assert (fine <= coarse).all()
    assert fine[0] == 0.0


def test_facts_for_the_chain_come_in_one_order(tiny_book: Book) -> None:
    """What the rules are given does not depend on the order in the file, and no unseen symptom is among it."""
    given = [observation("pump-weep", "drip"), observation("pump-play", sure="cannot-see"), {**GAUGE, "value": "95 degC"}]
    made = [seeing(tiny_book, *order, events=[{"event": "pump-work", "hours_ago": 3}]) for order in itertools.permutations(given)]
    assert all(m.readings_for_chain() == made[0].readings_for_chain() for m in made)
    assert [f["n"] for f in made[0].readings_for_chain()] == ["symptom:pump-gauge-high", "symptom:pump-weep", "event:pump-work"]
    assert [f["n"] for f in made[0].facts_for_chain()] == [f"fact:{name}" for name in sorted(made[0].facts)]


def test_a_book_need_not_hold_the_facts_the_program_reads() -> None:
    """A book that asks for no hours a year, no reserve and no bottle is assessed all the same, at 100 h a year and nothing in reserve."""
    parts = tiny.parts()
    parts["shared/boat.yaml"]["facts"] = parts["shared/boat.yaml"]["facts"][:2]
    parts["shared/words.yaml"]["meant"] = {}
    parts["shared/words.yaml"]["exposures"] = {"lake": parts["shared/words.yaml"]["exposures"]["coastal"]}
    book = tiny.unchecked(parts)
    made = assess(Case.model_validate(tiny.case(trip={}, observations=[observation("pump-weep", "drip")])), book)
    assert made.exposure == "lake"
    assert made.ranking[0].fault == "pump-seal-worn"
    assert [leak.header_litres for leak in made.leaks] == [0.0]
