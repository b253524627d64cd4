"""Numbers read off instruments, at the edge: units, states, what they may be off by, which of several counts, figures of the engine."""

from __future__ import annotations

from typing import Any

import pytest
import warmengine as we
from pydantic import ValidationError

from diagnose.case import SURE, Case, Observation
from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules
from diagnose.readings import Number, Taken, figures_of, limits_of, one_rpm, take, unit_of
from diagnose.situation import resolve
from diagnose.triage import assess


@pytest.fixture(scope="module")
def book() -> Book:
    """The shipped rules."""
    return load_rules()


def one(book: Book, reading: str, value: Any, **more: Any) -> Taken:
    """One reading under load, taken."""
    return take(Observation.model_validate({"reading": reading, "value": value, "state": "under-load", **more}), book, "here")


def refused(book: Book, **given: Any) -> InputError:
    """The error of one reading."""
    with pytest.raises(InputError) as caught:
        take(Observation.model_validate(given), book, "here")
    return caught.value


# ------------------------------------------------------------------ one reading


@pytest.mark.parametrize("typed", ["82.5 degC", "82.5 °C", "82.5 C", "180.5 degF", "180.5 °F", "355.65 K"])
def test_a_temperature_in_any_unit_is_the_same(book: Book, typed: str) -> None:
    """82.5 degrees Celsius is 180.5 Fahrenheit and 355.65 kelvin."""
    assert one(book, "housing-temperature", typed).number.value == pytest.approx(82.5, abs=1e-9)


@pytest.mark.parametrize("typed", ["25 L/min", "25 l/min", "10 L in 24 s", "10 L in 0.4 minute", "1500 L/hour",
                                   "6.604301309 US_liquid_gallon/minute"])
def test_a_flow_by_bucket_and_watch(book: Book, typed: str) -> None:
    """Ten litres in twenty-four seconds are 25 L/min, however told (a US gallon is 3.785411784 L, NIST)."""
    taken = one(book, "raw-water-caught", typed)
    assert taken.number.value == pytest.approx(25.0, rel=1e-9)
    assert taken.number.sigma == pytest.approx(0.07 * 25.0, rel=1e-9)
    assert taken.takes == "m^3/s"


WRONG: list[tuple[dict[str, Any], str, str]] = [
    ({"reading": "housing-temperature", "value": 82, "state": "idle"}, "'82' has no unit", "such as '82 degC'"),
    ({"reading": "housing-temperature", "value": "82 bar", "state": "idle"}, "'bar' does not measure this", "a unit like degC"),
    ({"reading": "housing-temperature", "value": "82 degrees", "state": "idle"}, "more than one unit", "degC or degF"),
    ({"reading": "housing-temperature", "value": "82,5 degC", "state": "idle"}, "comma", "a point"),
    ({"reading": "housing-temperature", "value": "20 degC in 5 s", "state": "idle"}, "", ""),
    ({"reading": "housing-temperature", "value": "151 degC", "state": "idle"}, "151 degC cannot be", "between -10 and 150"),
    ({"reading": "raw-water-caught", "value": "0.1 L/min", "state": "idle"}, "0.1 L/min cannot be", "between 0.2 and 400"),
    ({"reading": "raw-water-caught", "value": "10 L", "state": "idle"}, "'L' does not measure this", "a unit like L/min"),
    ({"reading": "sea-temperature", "grade": "none", "state": "idle"}, "told by a number", "a number of degC"),
    ({"reading": "sea-temperature", "value": "20 degC"}, "says nothing without the engine's state", "idle or under-load"),
    ({"reading": "sea-temperature", "value": "20 degC", "state": "cold-stopped"}, "cannot be read cold-stopped", "idle or under-load"),
    ({"reading": "sea-temprature", "value": "20 degC", "state": "idle"}, "reading 'sea-temprature' is not in the book", "sea-temperature"),
    ({"reading": "exhaust-water-weak", "value": "20 degC", "state": "idle"}, "is not in the book", ""),
]


@pytest.mark.parametrize(("given", "what", "right"), WRONG, ids=[what or str(g["value"]) for g, what, _ in WRONG])
def test_a_reading_that_does_not_fit_is_refused(book: Book, given: dict[str, Any], what: str, right: str) -> None:
    """Each misfit is refused with what is wrong, where, and what would be right."""
    error = refused(book, **given)
    assert what in error.what
    assert right in error.right
    assert error.where == "here"


def test_the_ends_of_what_is_possible_are_possible(book: Book) -> None:
    """A reading at either end of its range is taken, and one a hair beyond is not."""
    for name, kind in book.readings.items():
        unit, (low, high), _ = limits_of(kind)
        assert unit == unit_of(kind)
        state = kind.states[0]
        for value in (low, high):
            assert one(book, name, f"{value:.6f} {unit}", state=state).number.value == pytest.approx(value)
        for value in (low - 0.01, high + 0.01):
            assert "cannot be" in refused(book, reading=name, value=f"{value:.6f} {unit}", state=state).what


def test_a_measured_symptom_is_a_reading_too(book: Book) -> None:
    """What a symptom measures may be given as a reading, with the symptom's unit and error."""
    taken = one(book, "exchanger-gap-wide", "30 K")
    assert (taken.number.value, taken.number.sigma, taken.number.unit) == (30.0, 5.0, "K")


def test_what_it_may_be_off_by(book: Book) -> None:
    """Without a word the book's error is taken, in percent where it says so; `plus_minus` stands in place of two of it."""
    assert one(book, "sea-temperature", "20 degC").number.sigma == pytest.approx(book.readings["sea-temperature"].sigma)
    assert one(book, "sea-temperature", "20 degC", plus_minus=0.1).number.sigma == pytest.approx(0.05)
    assert one(book, "raw-water-caught", "30 L/min").number.sigma == pytest.approx(0.30 * 7)
    assert one(book, "raw-water-caught", "30 L/min", plus_minus=0.5).number.sigma == pytest.approx(0.25)


@pytest.mark.parametrize("sure", ["sure", "think-so", "guess"])
def test_the_less_sure_the_wider(book: Book, sure: Any) -> None:
    """A reading of which somebody is not sure has its error divided by how sure."""
    assert one(book, "sea-temperature", "20 degC", sure=sure).number.sigma == pytest.approx(0.7 / SURE[sure])


@pytest.mark.parametrize("kind", ["reading", "symptom"])
def test_a_guessed_number_says_less_however_it_is_told(book: Book, kind: str) -> None:
    """A number somebody only guessed is weighed as less than one that is sure, told as a reading or as the symptom it measures."""
    told = {kind: "raw-water-flow-measured", "value": "60 %", "state": "under-load"}
    sure, guess = (resolve(we.case_of([{**told, "sure": s}]), book).seen[0].likelihood for s in ("sure", "guess"))
    assert guess[0] > sure[0]


def test_a_number_in_another_unit_keeps_its_error() -> None:
    """Twenty degrees to one kelvin are 68 Fahrenheit to 1.8; 25 L/min to one are 1500 L/hour to sixty."""
    assert Number("k", "t", 20.0, 1.0, "degC").within("degF") == pytest.approx((68.0, 1.8))
    assert Number("k", "t", 25.0, 1.0, "L/min").within("L/hour") == pytest.approx((1500.0, 60.0))


# ------------------------------------------------------------------ revs


def at(book: Book, *rpm: float | None) -> list[Taken]:
    """Readings taken at these revs."""
    return [one(book, "sea-temperature", "20 degC", **({"at_rpm": r} if r is not None else {})) for r in rpm]


def test_revs_of_readings_taken_together(book: Book) -> None:
    """Their mean, with half the range; those that say nothing do not count; none says, none is known."""
    assert one_rpm(at(book, None, None)) is None
    assert one_rpm([]) is None
    assert one_rpm(at(book, 2500, None, 2500)) == (2500.0, 0.0)
    assert one_rpm(at(book, 2400, 2500)) == (2450.0, 50.0)


def test_revs_too_far_apart_cannot_be_put_together(book: Book) -> None:
    """Up to eight in a hundred apart are one speed; beyond that the two are named."""
    assert one_rpm(at(book, 2500, 2700)) == (2600.0, 100.0)
    with pytest.raises(ValueError, match="from 2500 to 2701"):
        one_rpm(at(book, 2500, 2701))


# ------------------------------------------------------------------ several of one thing


def sea(value: str, **more: Any) -> dict[str, Any]:
    return {"reading": "sea-temperature", "value": value, "state": "under-load", **more}


def kept(book: Book, *observations: dict[str, Any]) -> list[Taken]:
    """Readings of a case that count."""
    return list(resolve(we.case_of(observations), book).readings)


def test_of_two_readings_of_one_thing_the_latest_counts(book: Book) -> None:
    """By their times, in whichever order they are written."""
    early, late = sea("19 degC", when="2026-05-01T10:00:00"), sea("21 degC", when="2026-05-01T11:00:00")
    assert [t.number.value for t in kept(book, early, late)] == [21.0]
    assert [t.number.value for t in kept(book, late, early)] == [21.0]


def test_two_different_readings_without_times_are_refused(book: Book) -> None:
    """Which one counts cannot be known; in two engine states both count."""
    with pytest.raises(InputError) as caught:
        kept(book, sea("19 degC"), sea("21 degC"))
    assert "sea-temperature is answered twice" in caught.value.what
    assert "'when'" in caught.value.right
    assert len(kept(book, sea("19 degC"), sea("21 degC", state="idle"))) == 2


def test_the_same_reading_twice_counts_once(book: Book) -> None:
    """Told twice alike it is one reading, with the surer of the two."""
    found = kept(book, sea("20 degC", sure="guess"), sea("20 degC"), sea("20 degC", sure="think-so"))
    assert [t.number.sigma for t in found] == [pytest.approx(0.7)]


@pytest.mark.parametrize("differs", [{"at_rpm": 2000}, {"plus_minus": 3.0}])
def test_the_same_number_told_apart_does_not_hang_on_the_order(book: Book, differs: dict[str, Any]) -> None:
    """One value at two speeds, or with two errors: refused, or the same whichever is written first."""
    found: list[Any] = []
    for pair in ((sea("20 degC", at_rpm=2500), sea("20 degC", **differs)), (sea("20 degC", **differs), sea("20 degC", at_rpm=2500))):
        try:
            found.append([(t.rpm, t.number.sigma) for t in kept(book, *pair)])
        except InputError as error:
            found.append([error.what])
    assert found[0] == found[1]


def test_what_was_not_read_is_no_reading(book: Book) -> None:
    """Not sure, cannot see, and before the work: nothing is taken."""
    assert kept(book, sea("20 degC", sure="not-sure"), sea("21 degC", sure="cannot-see"), sea("22 degC", epoch="before")) == []


def test_a_misfit_says_where_it_stands(book: Book) -> None:
    """In the observations or in the readings of the good day, by its place and name."""
    with pytest.raises(InputError) as today:
        resolve(we.case_of([sea("20 degC"), sea("20 L", state="idle")]), book)
    assert today.value.where == "observations[1] sea-temperature"
    with pytest.raises(InputError) as good:
        resolve(we.case_of([], healthy=[sea("20 L")]), book)
    assert good.value.where == "boat.healthy[0] sea-temperature"


# ------------------------------------------------------------------ figures of the engine


def test_figures_not_given_are_taken_with_their_error(book: Book) -> None:
    """Every figure of the book has a value: the one it takes, one standard deviation as it says."""
    found = figures_of({}, book)
    assert set(found) == set(book.figures)
    for name, number in found.items():
        figure = book.figures[name]
        assert number.value == figure.default
        assert number.sigma == pytest.approx(figure.default * figure.sigma_percent / 100.0)


def test_a_figure_given_is_surer(book: Book) -> None:
    """An owner's own figure stands in its place, in any unit of its kind, to what a figure in a book may be off by."""
    own = figures_of({"raw-water-per-power": "72 L/hour/kW", "heat-per-power": "0.7"}, book)
    assert own["raw-water-per-power"].value == pytest.approx(1.2, rel=1e-9)
    assert own["raw-water-per-power"].sigma == pytest.approx(1.2 * book.figures["raw-water-per-power"].given_percent / 100.0)
    assert own["heat-per-power"].value == 0.7
    assert own["heat-per-power"].sigma < figures_of({}, book)["heat-per-power"].sigma


FALSE_FIGURES = [
    ({"heat-per-powr": "0.8"}, "figure 'heat-per-powr' is not in the book", "heat-per-power", "boat.figures"),
    ({"heat-per-power": "9"}, "9 1 cannot be", "between 0.3 and 2", "boat.figures.heat-per-power"),
    ({"heat-per-power": "0.8 kW"}, "'kW' does not measure this", "a unit like 1", "boat.figures.heat-per-power"),
    ({"raw-water-per-power": "0.9"}, "'0.9' has no unit", "such as '0.9 L/min/kW'", "boat.figures.raw-water-per-power"),
    ({"raw-water-per-power": "18 L/min"}, "'L/min' does not measure this", "a unit like L/min/kW", "boat.figures.raw-water-per-power"),
]


@pytest.mark.parametrize(("given", "what", "right", "where"), FALSE_FIGURES, ids=[what for _, what, _, _ in FALSE_FIGURES])
def test_a_figure_that_does_not_fit_is_refused(book: Book, given: dict[str, str], what: str, right: str, where: str) -> None:
    """An unknown name, a wrong or missing unit, what cannot be: with what is wrong, where, and what would be right."""
    with pytest.raises(InputError) as caught:
        figures_of(given, book)
    assert what in caught.value.what
    assert right in caught.value.right
    assert caught.value.where == where


# ------------------------------------------------------------------ in the assessment


def test_readings_are_shown_as_they_were_taken(book: Book) -> None:
    """The assessment lists each reading with its value in the book's unit, state, revs, note and who took it."""
    taken = [*we.readings("healthy", 2500, 24)[:1], sea("75.2 degF", at_rpm=2500, note="off the stern", by="Ina")]
    lines = {r.reading: r for r in assess(we.case_of(taken), book, next_check=False, ledger=False).readings}
    assert set(lines) == {"gauge-temperature", "sea-temperature"}
    line = lines["sea-temperature"]
    assert (line.seen, line.state, line.at_rpm, line.note, line.by) == ("24 degC", "under-load", 2500.0, "off the stern", "Ina")


def test_a_case_of_readings_goes_through_its_own_form() -> None:
    """What is written out whole reads back the same, readings of today and of the good day among it; an empty name is refused."""
    given = {"boat": {"healthy": [sea("15 degC")]}, "observations": [sea("20 degC")]}
    case = Case.model_validate({"opened_because": "noticed-something", **given})
    assert Case.model_validate(case.model_dump()) == case
    assert Case.model_validate_json(case.model_dump_json()) == case
    with pytest.raises(ValidationError, match="exactly one of symptom, reading"):
        Observation(symptom="  ", grade="none")
