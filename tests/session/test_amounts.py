"""Numbers as they are typed at the engine, with their units."""

from __future__ import annotations

import pytest

from diagnose.errors import InputError
from diagnose.knowledge.model import Measure, Symptom
from diagnose.session.amounts import (
    LEAST_LOST,
    MOST_LOST,
    UnitUnclearError,
    band_words,
    bare_count,
    may_be_reading,
    rate,
    reading,
)
from diagnose.units import parse_quantity

HEAT = Measure(unit="degC", possible=(-10, 130), sigma=3)


def symptom(**more: object) -> Symptom:
    """A symptom of our own."""
    return Symptom.model_validate({
        "id": "made-up", "title": "Made up", "ask": "How much?", "states": ["idle"], "background": {}, "why": "tests",
        "source": "common-practice", "mistaken_for": [{"what": "another", "told_by": "looking"}],
        "grades": {"none": "dry", "damp": "wet", "drip": "drops", "stream": "it runs"}, **more})


@pytest.mark.parametrize(("typed", "kept"), [("86 C", "86 degC"), ("86°C", "86 degC"), ("86 deg C", "86 degC"), ("187 F", "187 degF"),
                                             ("86,5 c", "86.5 degC"), ("86 celsius", "86 degC"), ("-4 C", "-4 degC")])
def test_a_reading_with_its_unit_is_kept_as_typed(typed: str, kept: str) -> None:
    """Units in any usual spelling, a decimal comma, a minus sign."""
    assert reading(typed, HEAT, "gauge") == kept


@pytest.mark.parametrize("typed", ["86", "86 degrees", "1,200 C", "86 deg", "86°"])
def test_an_unclear_unit_is_asked(typed: str) -> None:
    """A missing unit, one that may be two, and a comma that may part thousands are asked and not guessed."""
    with pytest.raises(UnitUnclearError):
        reading(typed, HEAT, "gauge")


@pytest.mark.parametrize(("typed", "what"), [("900 C", "cannot be"), ("86 V", "does not measure this"), ("86 zorks", "is not known"),
                                             ("warm", "not a number")])
def test_an_impossible_reading_is_refused(typed: str, what: str) -> None:
    """What cannot be, or does not measure this, is refused, with what can be."""
    with pytest.raises(InputError, match=what) as error:
        reading(typed, HEAT, "gauge")
    assert not isinstance(error.value, UnitUnclearError)
    assert error.value.right


def test_a_difference_in_degrees_is_no_temperature() -> None:
    """A difference of 18 °F is 10 K; read as a temperature it would be 265 K."""
    gap = Measure(unit="K", possible=(0, 60), sigma=1)
    assert reading("18 F", gap, "gap") == "18 delta_degF"
    assert reading("10 C", gap, "gap") == "10 delta_degC"


@pytest.mark.parametrize(("typed", "low", "high"), [
    # a drop of 0.05 mL is the medical convention of 20 to the millilitre; 0.10 mL is about what was measured off taps
    ("15 in 10 min", 4.5, 9.0), ("15 drops in 10 min", 4.5, 9.0), ("30 drops a minute", 90.0, 180.0), ("30/min", 90.0, 180.0),
    ("1 drop every 2 seconds", 90.0, 180.0), ("200 mL in 6 h", 200 / 6, 200 / 6), ("5 ml/h", 5.0, 5.0), ("2.4 l a day", 100.0, 100.0),
])
def test_a_loss_in_a_time(typed: str, low: float, high: float) -> None:
    """Drops and amounts in a time are worked into mL an hour by arithmetic."""
    lost = rate(typed)
    assert lost is not None
    assert (lost.low, lost.high) == pytest.approx((low, high))


@pytest.mark.parametrize("typed", ["15", "some", "15 in", "in 10 min", "15 in 0 min", "15 kg in 2 h"])
def test_what_is_no_loss_in_a_time(typed: str) -> None:
    """Anything else is left alone."""
    assert rate(typed) is None


@pytest.mark.parametrize(("typed", "value"), [
    ("12 in 10 min", "5.09 mL/hour"), ("2 L in 6 h", "333 mL/hour"), ("1 drop a week", "0.01 mL/hour"),
    ("90000 L in 1 min", "1000000 mL/hour")])
def test_a_loss_is_kept_as_its_number(typed: str, value: str) -> None:
    """The middle, in logarithms, of the least and the most that a drop may be (0.05 and 0.10 mL); what no leak is, as the end of them.
    12 drops in 10 minutes are 72 an hour: 3.6 to 7.2 mL, in the middle 5.09."""
    lost = rate(typed)
    assert lost is not None
    assert lost.middle == value
    observation = parse_quantity(lost.middle, "mL/hour", what="loss", possible=(LEAST_LOST, MOST_LOST))
    assert LEAST_LOST <= observation <= MOST_LOST


def test_drops_that_nobody_can_count() -> None:
    """Ten drops a second is a stream; litres are not counted in drops."""
    counted = {typed: rate(typed) for typed in ("600 drops a minute", "601 in 1 min", "900000 in 1 min", "900 L in 1 min")}
    assert {typed: lost is not None and lost.uncountable for typed, lost in counted.items()} == {
        "600 drops a minute": False, "601 in 1 min": True, "900000 in 1 min": True, "900 L in 1 min": False}


def test_a_bare_count() -> None:
    """A count without a time is a count."""
    assert [bare_count(t) for t in ("15", "15 drops", "15 min", "x")] == [15.0, 15.0, None, None]


def test_a_digit_that_may_be_line_or_reading() -> None:
    """'2' for millimetres may be the second line or two millimetres; for degrees of a hot engine it is the line."""
    millimetres = symptom(grades={"none": {"below": 3}, "some": {"at_least": 3}}, measure={"unit": "mm", "possible": [0, 20], "sigma": 0.5})
    degrees = symptom(grades={"none": {"below": 91}, "hot": {"at_least": 91}}, measure={"unit": "degC", "possible": [-10, 130], "sigma": 3})
    assert may_be_reading(1, millimetres)
    assert not may_be_reading(1, degrees)


def test_bands_in_words() -> None:
    """A band is told with both its ends and the unit as people write it."""
    degrees = symptom(grades={"none": {"below": 91}, "raised": {"at_least": 91, "below": 98}, "high": {"at_least": 98}}, measure=HEAT)
    assert [band_words(band, "degC") for band in degrees.grades.values()] == ["below 91 °C", "91 to 98 °C", "98 °C or more"]  # type: ignore[arg-type]
