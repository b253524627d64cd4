"""Numbers with units: converted once and rightly, and refused with what would be right where anything is unclear."""

from __future__ import annotations

import math
import subprocess
import sys
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.errors import InputError
from diagnose.units import parse_quantity


def refused(text: str | float, unit: str, possible: tuple[float, float] | None = None) -> InputError:
    """The error that a reading gives."""
    with pytest.raises(InputError) as caught:
        parse_quantity(text, unit, what="the reading", possible=possible)
    return caught.value


CONVERTED = [
    # the factors of NIST SP 811, appendix B.8, where not one by definition; temperatures by (F - 32) / 1.8 and K - 273.15
    ("96 degC", "degC", 96.0),
    ("96 °C", "degC", 96.0),
    ("96C", "degC", 96.0),
    ("  96   degC ", "degC", 96.0),
    ("-5 degC", "degC", -5.0),
    ("−5 degC", "degC", -5.0),  # a typographic minus
    ("212 degF", "degC", 100.0),
    ("212 °F", "degC", 100.0),
    ("-40 F", "degC", -40.0),
    ("300 K", "degC", 26.85),
    ("32 degC", "degF", 89.6),
    ("500 mL", "L", 0.5),
    ("2 litres", "L", 2.0),
    ("1 US_gallon", "L", 3.785412),
    ("1 imperial_gallon", "L", 4.54609),
    ("1 US_pint", "mL", 473.1765),
    ("1 imperial_pint", "mL", 568.26125),
    ("2 L/min", "L/hour", 120.0),
    ("2 l/min", "L/hour", 120.0),
    ("20 drops/min", "mL/hour", 60.0),  # 20 x 60 drops of 0.05 mL, by hand
    ("90 min", "hour", 1.5),
    ("2 days", "hour", 48.0),
    ("1 year", "hour", 8766.0),  # of 365.25 days
    ("1 inch", "mm", 25.4),
    ("1.5 metre", "mm", 1500.0),
    ("1 bar", "kPa", 100.0),
    ("15 psi", "kPa", 103.4214),
    ("12400 mV", "V", 12.4),
    ("50 %", "%", 50.0),
    ("50 percent", "%", 50.0),
    ("50 %", "1", 0.5),
    ("0.5", "1", 0.5),
    (7, "1", 7.0),
    (0.25, "1", 0.25),
    ("850 rpm", "rpm", 850.0),
    ("850 revs", "rpm", 850.0),
    ("850 rev/min", "rpm", 850.0),
    ("47 ohm", "ohm", 47.0),
    ("4.7 kΩ", "ohm", 4700.0),
    ("7.5 pH", "pH", 7.5),
]


@pytest.mark.parametrize(("text", "unit", "value"), CONVERTED, ids=[f"{c[0]} in {c[1]}" for c in CONVERTED])
def test_a_reading_is_converted(text: str | float, unit: str, value: float) -> None:
    """A number with any fitting unit becomes the number in the unit asked for."""
    assert parse_quantity(text, unit, what="x") == pytest.approx(value, rel=1e-6)


REFUSED = [
    ("96", "degC", "has no unit", "such as '96 degC'"),
    (96, "degC", "has no unit", "such as '96 degC'"),
    (2000.0, "rpm", "has no unit", "such as '2000.0 rpm'"),
    ("hot", "degC", "not a number with a unit", "such as '12 degC'"),
    ("", "degC", "not a number with a unit", "such as '12 degC'"),
    ("degC 96", "degC", "not a number with a unit", "such as '12 degC'"),
    ("nan degC", "degC", "not a number with a unit", "such as '12 degC'"),
    ("inf L", "L", "not a number with a unit", "such as '12 L'"),
    ("True", "L", "not a number with a unit", "such as '12 L'"),
    (".5 L", "L", "not a number with a unit", "such as '12 L'"),
    ("0,5 L", "L", "has a comma in its number", "a point for the decimals, and nothing between thousands"),
    ("1,000 L", "L", "has a comma in its number", "a point for the decimals, and nothing between thousands"),
    ("1e3 L", "L", "is not known", "L"),
    ("10-20 L", "L", "is not known", "L"),
    ("5 L 300 mL", "L", "is not known", "L"),
    ("1_000 L", "L", "is not known", "L"),
    ("5 blorps", "L", "unit 'blorps' is not known", "L"),
    ("5 L; rm", "L", "is not known", "L"),
    ("5 degC", "L", "'degC' does not measure this", "a unit like L"),
    ("5 L", "degC", "'L' does not measure this", "a unit like degC"),
    ("5 kg", "L", "'kg' does not measure this", "a unit like L"),
    ("5 L", "L/hour", "'L' does not measure this", "a unit like L/hour"),
    ("33 Hz", "rpm", "'Hz' does not measure this", "a unit like rpm"),
    ("2000 rpm", "Hz", "'rpm' does not measure this", "a unit like Hz"),
    ("5 gallons", "L", "can mean more than one unit", "US_gallon or imperial_gallon"),
    ("5 gal", "L", "can mean more than one unit", "US_gallon or imperial_gallon"),
    ("5 pt", "L", "can mean more than one unit", "US_pint or imperial_pint"),
    ("96 degrees", "degC", "can mean more than one unit", "degC or degF"),
    ("96°", "degC", "can mean more than one unit", "degC or degF"),
    ("5 m", "hour", "can mean more than one unit", "metre, or minute written min"),
]


@pytest.mark.parametrize(("text", "unit", "message", "right"), REFUSED, ids=[f"{r[0]} in {r[1]}" for r in REFUSED])
def test_an_unclear_reading_is_refused(text: str | float, unit: str, message: str, right: str) -> None:
    """No unit, an unknown one, one of another kind, one of two meanings, or no number: refused, with what would be right."""
    error = refused(text, unit)
    assert message in error.what
    assert error.right == right
    assert error.where == "the reading"


@pytest.mark.parametrize(("unclear", "unit"), [("gallon", "L"), ("pt", "L"), ("degrees", "degC"), ("oz", "mL"), ("m", "mm"), ("m", "hour")])
def test_what_is_offered_for_an_unclear_unit_works(unclear: str, unit: str) -> None:
    """One of the units offered in place of an unclear one is taken at once."""
    offered = [word.strip(",") for word in refused(f"5 {unclear}", unit).right.split() if word not in ("or", "written")]
    assert [word for word in offered if taken(f"5 {word}", unit)]


def taken(text: str, unit: str) -> bool:
    """Whether a reading is taken."""
    with suppress(InputError):
        parse_quantity(text, unit, what="x")
        return True
    return False


@pytest.mark.parametrize(
    ("text", "unit", "possible"),
    [
        ("131 degC", "degC", (-10, 130)),
        ("-11 degC", "degC", (-10, 130)),
        ("500 degF", "degC", (-10, 130)),
        ("-0.1 L", "L", (0, 10)),
        ("9" * 400 + " L", "L", (0, 10)),
    ],
)
def test_what_cannot_be_is_refused(text: str, unit: str, possible: tuple[float, float]) -> None:
    """A value outside what is physically possible is refused with the range, in the unit of the book."""
    error = refused(text, unit, possible)
    assert error.what.endswith(f" {unit} cannot be")
    assert error.right == f"between {possible[0]} and {possible[1]} {unit}"


def test_a_number_without_a_unit_is_offered_without_one() -> None:
    """Where the unit is one, an example has none."""
    with pytest.raises(InputError) as caught:
        parse_quantity("abc", "1", what="drops")
    assert caught.value.right == "such as '12'"


@pytest.mark.parametrize("text", ["130 degC", "-10 degC", "266 degF"])
def test_the_ends_of_what_is_possible_are_possible(text: str) -> None:
    """Both ends of the range are taken."""
    assert parse_quantity(text, "degC", what="x", possible=(-10, 130)) in (130.0, -10.0, pytest.approx(130.0))


@given(st.floats(-1e6, 1e6).map(lambda x: round(x, 4)), st.sampled_from(["degC", "L", "mm", "hour", "V", "%", "rpm", "1"]))
def test_a_number_in_the_unit_of_the_book_is_kept(number: float, unit: str) -> None:
    """A number already in the unit asked for comes back to the last digit."""
    assert parse_quantity(f"{number:.4f} {'' if unit == '1' else unit}", unit, what="x") == number


@given(st.text("()[]{}*/^.,'\"0 5eLm°%+-=#!\\\n\tlambdaifnot", max_size=8), st.sampled_from(["L", "degC", "%", "1", "rpm"]))
def test_no_text_does_more_than_be_refused(written: str, unit: str) -> None:
    """Whatever stands behind the number, it is a unit or it is refused: no other error, nothing computed from it."""
    with suppress(InputError):
        assert math.isfinite(parse_quantity(f"5 {written}", unit, what="x"))


def test_powers_of_powers_are_not_worked_out() -> None:
    """A tower of powers in place of a unit is refused, not computed."""
    assert "is not known" in refused("5 9**9**9**9", "L").what


def test_the_unit_library_waits_until_it_is_needed() -> None:
    """A reading in the book's own unit does not load pint, and one in another unit does."""
    script = """
import sys
from diagnose.units import parse_quantity
for text, unit in (("96 degC", "degC"), ("96 °C", "degC"), ("5 l", "L"), ("50 %", "%"), ("3", "1"), ("2 h", "hour")):
    parse_quantity(text, unit, what="x")
print("pint" in sys.modules)
parse_quantity("212 degF", "degC", what="x")
print("pint" in sys.modules)
"""
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=60)
    assert (done.stdout, done.stderr) == ("False\nTrue\n", "")
