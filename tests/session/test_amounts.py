"""Numbers as they are typed at the engine, with their units."""

from __future__ import annotations

import pytest

from diagnose.errors import InputError
from diagnose.knowledge.model import Leak, Measure, Symptom
from diagnose.seen import leak_grade
from diagnose.session.amounts import Rate, UnitUnclearError, band_words, bare_count, grade_of_rate, may_be_reading, rate, reading

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


def test_the_grade_of_a_loss() -> None:
    """A loss belongs to the grade whose rates hold it, or lie nearest; nothing lost is healthy."""
    leaking = symptom(leak=Leak(fluid="coolant", rates={"damp": (0.5, 5), "drip": (3, 100), "stream": (200, 3000)}))
    expected = {1.0: "damp", 50.0: "drip", 110.0: "drip", 190.0: "stream", 9000.0: "stream", 0.001: "damp", 1e-30: "damp", 1e300: "stream",
                0.0: "none"}
    assert {value: grade_of_rate(leaking, Rate(value, value, "", drops=False)) for value in expected} == expected
    with pytest.raises(ValueError, match="no leak"):
        grade_of_rate(symptom(), Rate(1, 1, "", drops=False))


@pytest.mark.parametrize("rates", [
    {"damp": (0.5, 5), "drip": (3, 100), "stream": (200, 3000)}, {"damp": (0.05, 2), "drip": (0.5, 10), "stream": (3, 200)},
    {"damp": (5, 50), "drip": (50, 4000), "stream": (10_000, 400_000)},
])
def test_a_loss_is_read_in_one_way(rates: dict[str, tuple[float, float]]) -> None:
    """A loss told at the engine gets the grade that the same loss gets when it is given in a case, wherever it lies."""
    leaking = symptom(leak=Leak(fluid="coolant", rates=rates))
    least = min(low for low, _ in rates.values())
    for step in range(400):
        lost = least * 10 ** (step / 60)
        assert grade_of_rate(leaking, Rate(lost, lost, "", drops=False)) == list(leaking.grades)[leak_grade(leaking, lost)], lost
        assert grade_of_rate(leaking, Rate(lost / 1.4, lost * 1.4, "", drops=True)) == grade_of_rate(
            leaking, Rate(lost, lost, "", drops=False)), lost


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
