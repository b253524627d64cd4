"""Calculations as a person makes them: every one in the book by its worked examples, its bounds, its choices and its units."""

from __future__ import annotations

import dataclasses
import json
import math
from decimal import Decimal
from typing import Any

import pint
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from diagnose.errors import InputError
from diagnose.knowledge.lists import Asked, Calculation
from diagnose.knowledge.load import load_rules
from diagnose.reckon.run import Figure, Reckoned, _such_as, missing, read, reckon
from diagnose.show.reckonpage import figure_words
from diagnose.units import _UNCLEAR, parse_quantity

BOOK = load_rules()
ALL = list(BOOK.calculations.values())
EXAMPLES = [(c, i) for c in ALL for i in range(len(c.examples))]
NUMBERS = [(c, name) for c in ALL for name, asked in c.asks.items() if asked.unit is not None and not asked.series]
every_calculation = pytest.mark.parametrize("calculation", ALL, ids=lambda c: c.id)


def plain(value: float) -> str:
    """A number as a person writes it, without powers of ten."""
    return format(Decimal(repr(float(value))), "f")


def with_unit(value: float, unit: str | None) -> str:
    return plain(value) if unit == "1" else f"{plain(value)} {unit}"


def made(calculation: Calculation, given_: dict[str, str]) -> Reckoned | InputError:
    """The result, or the refusal; any other error is the test's to fail on."""
    try:
        return reckon(calculation, given_)
    except InputError as error:
        return error


def figure(done: Reckoned, name: str) -> Figure:
    return next(f for f in done.figures if f.name == name)


def numbers_in(part: Any) -> list[float]:
    """All floats in a result, however deep."""
    if isinstance(part, float):
        return [part]
    if isinstance(part, dict | list | tuple):
        return [n for p in (part.values() if isinstance(part, dict) else part) for n in numbers_in(p)]
    return []


def sound(done: Reckoned) -> bool:
    """Whether every number of a result is one, and nothing reaches the wrong way."""
    reach = [side for f in done.figures for told in f.values for side in (told.below, told.above)]
    return all(math.isfinite(n) for n in numbers_in(dataclasses.asdict(done))) and all(side >= 0.0 for side in reach)


def exactly(calculation: Calculation) -> dict[str, str]:
    """An example with every number of the calculation stated to be exact, so that its function is called once."""
    given_ = {n: with_unit(float(a.default), a.unit) for n, a in calculation.asks.items() if a.unit is not None and a.default is not None}
    given_ |= calculation.examples[0].given
    return {n: f"{v} +- 0" if calculation.asks[n].unit is not None and not calculation.asks[n].series else v for n, v in given_.items()}


# ------------------------------------------------------------------ every calculation of the book


@pytest.mark.parametrize(("calculation", "which"), EXAMPLES, ids=[f"{c.id}-{i}" for c, i in EXAMPLES])
def test_worked_examples_come_out(calculation: Calculation, which: int) -> None:
    """What each example gives comes out within the relative difference it states, in every unit it is told in; words are the same."""
    example = calculation.examples[which]
    done = reckon(calculation, example.given)
    assert sound(done)
    for name, expected in example.gives.items():
        found = figure(done, name)
        if found.word is not None:
            assert found.word == expected
        for told in found.values:
            wanted = parse_quantity(expected, told.unit, what=name)
            assert told.value == pytest.approx(wanted, rel=example.within, abs=1e-12), told.unit


@every_calculation
def test_what_may_be_left_out_may(calculation: Calculation) -> None:
    """With only what must be given, taken from an example, it runs or says what else it wants; what was taken is said with its why."""
    given_ = {k: v for k, v in calculation.examples[0].given.items() if k in missing(calculation, {})}
    done = made(calculation, given_)
    if isinstance(done, InputError):
        optional = [name for name, asked in calculation.asks.items() if asked.optional]
        assert any(name.replace("_", " ") in done.what for name in optional), done.what
        return
    assert sound(done)
    for given_in in done.inputs:
        asked = calculation.asks[given_in.name]
        if given_in.name not in given_:
            assert (given_in.value is None) == (asked.default is None)
            assert (given_in.taken or "") == (asked.why or "" if asked.default is not None else "")


@every_calculation
def test_each_optional_alone_may_be_left_out(calculation: Calculation) -> None:
    """An example without one of its optional numbers still runs, or says in words why that one is wanted."""
    for example in calculation.examples:
        for name in [n for n, asked in calculation.asks.items() if asked.optional and n in example.given]:
            done = made(calculation, {k: v for k, v in example.given.items() if k != name})
            if isinstance(done, InputError):
                assert name.replace("_", " ") in done.what
            else:
                assert next(g for g in done.inputs if g.name == name).text == "left out"


@every_calculation
def test_each_choice_runs(calculation: Calculation) -> None:
    """With an example's numbers every choice gives figures, or is refused in words."""
    for name, asked in calculation.asks.items():
        for choice in asked.choices or {}:
            done = made(calculation, {**exactly(calculation), name: choice})
            if isinstance(done, InputError):
                assert len(done.what) > 15
            else:
                assert sound(done)
                assert next(g for g in done.inputs if g.name == name).text == (asked.choices or {})[choice]


@every_calculation
def test_each_bound_works_or_is_refused_in_words(calculation: Calculation) -> None:
    """Each number at either end of what is possible, the others as in an example: figures that are numbers, or an InputError.

    The others are exact; the one at its end has the doubt of tools, which reaches beyond.
    """
    usual = exactly(calculation)
    for name, asked in calculation.asks.items():
        for bound in asked.possible or ():
            text = with_unit(bound, asked.unit)
            given_ = {**usual, name: f"{text} {text} {text}" if asked.series and asked.unit == "1" else text}
            done = made(calculation, given_)
            assert len(done.what) > 15 if isinstance(done, InputError) else sound(done), (name, text)


@every_calculation
def test_each_default_is_possible_and_each_hint_can_be_typed(calculation: Calculation) -> None:
    """A default lies within its bounds; what is shown as an example of what is wanted is accepted when typed."""
    for name, asked in calculation.asks.items():
        if asked.possible is not None and asked.default is not None:
            assert asked.possible[0] <= float(asked.default) <= asked.possible[1]
        if asked.default is None or asked.choices is None:
            value, sigma = read(name, asked, _such_as(asked).strip('"'))
            assert value is not None
            assert sigma >= 0.0


@every_calculation
def test_more_doubt_in_never_means_less_doubt_out(calculation: Calculation) -> None:
    """With every number exact no figure is in doubt; with the usual doubt of tools none is in less, and the shares sum to one or nought."""
    assert all(told.below == told.above == 0.0 for f in reckon(calculation, exactly(calculation)).figures for told in f.values) or any(
        asked.series for asked in calculation.asks.values())
    done = reckon(calculation, calculation.examples[0].given)
    assert sum(g.share for g in done.inputs) == pytest.approx(1.0, abs=1e-9) or all(g.share == 0.0 for g in done.inputs)


@every_calculation
def test_what_is_unknown_or_missing_is_said(calculation: Calculation) -> None:
    """A name that is not asked for gets the nearest that is; what is missing is named with something that could be typed."""
    name = next(iter(calculation.asks))
    with pytest.raises(InputError) as unknown:
        reckon(calculation, {**calculation.examples[0].given, f"{name}x": "1"})
    assert f"'{name}x' is not asked for here" in unknown.value.what
    assert name in unknown.value.right
    wanted = missing(calculation, {})
    if wanted:
        with pytest.raises(InputError) as lacking:
            reckon(calculation, {})
        assert lacking.value.what == f"still wanted: {', '.join(wanted)}"
        assert all(f"{name}=" in lacking.value.right for name in wanted)


OTHER_UNITS = {
    "degC": ("degF", "K"), "K": ("delta_degF",), "mm": ("inch", "cm", "metre"), "m": ("foot", "cm"), "mm^2": ("cm^2",), "cm^2": ("mm^2",),
    "L": ("US_gallon", "m^3", "mL"), "mL": ("L", "drop"), "L/minute": ("US_liquid_gallon/minute", "m^3/hour", "mL/s"),
    "L/min": ("imperial_gallon/hour", "L/hour"), "bar": ("psi", "kPa"), "hPa": ("psi", "mbar", "kPa"), "kPa": ("psi", "bar"),
    "kW": ("horsepower", "W"), "g": ("kg", "pound"), "kg": ("pound", "g"), "hour": ("minute", "day"), "s": ("minute",), "day": ("hour",),
    "minute": ("s", "hour"), "V": ("mV",), "mV": ("V",), "A": ("mA",), "mA": ("A",), "%": ("dimensionless",), "N": ("kN", "force_pound"),
    "N*m": ("foot*force_pound", "kN*m"), "mm/s": ("m/s", "inch/s"), "W/K": ("kW/K",), "kg/m^3": ("g/mL",),
}
"""Other units of the same thing, as people write them."""
PINT: Any = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
PINT.define("drop = 0.05 mL")
PINT.define("US_gallon = US_liquid_gallon")
SWAPPED = [(c, n) for c, n in NUMBERS if c.asks[n].unit in OTHER_UNITS]


def in_another(text: str, asked: Asked, unit: str) -> str:
    """The same quantity in another unit, converted by the test's own library."""
    value = parse_quantity(text, str(asked.unit), what="")
    source = "percent" if asked.unit == "%" else str(asked.unit)
    return with_unit(float(PINT.Quantity(value, source).to(unit).magnitude), unit)


@settings(max_examples=80)
@given(pair=st.sampled_from(SWAPPED), data=st.data())
def test_the_unit_does_not_matter(pair: tuple[Calculation, str], data: st.DataObject) -> None:
    """The same quantity typed in another unit of the same thing gives the same figures and intervals, to 1e-6."""
    calculation, name = pair
    asked, usual = calculation.asks[name], calculation.examples[0].given
    assert asked.possible is not None
    at_default = {name: with_unit(float(asked.default), asked.unit)} if asked.default is not None else {}
    first = {**at_default, **usual}
    assume(name in first and calculation.by != "cooling.warm_up")
    unit = data.draw(st.sampled_from(OTHER_UNITS[str(asked.unit)]))
    one, other = reckon(calculation, first), reckon(calculation, {**first, name: in_another(first[name], asked, unit)})
    for a, b in zip(one.figures, other.figures, strict=True):
        assert a.word == b.word
        for told, again in zip(a.values, b.values, strict=True):
            scale = max(abs(told.value), told.above, told.below, 1e-9)
            assert again.value == pytest.approx(told.value, abs=1e-6 * scale)
            assert (again.below, again.above) == pytest.approx((told.below, told.above), abs=1e-5 * scale)


# ------------------------------------------------------------------ what is typed

LITRES = Asked(ask="How much?", unit="L", possible=(0.1, 100), sigma=0.5)
SEA = Asked(ask="How warm?", unit="degC", possible=(-2, 36), sigma=0.7)
SHARE = Asked(ask="Which share?", unit="%", takes="1", possible=(0, 100), sigma=5)
COUNT = Asked(ask="How many?", unit="1", possible=(0, 1000), sigma=1)
FLOW = Asked(ask="How much in how long?", unit="L/min", possible=(0.1, 400), sigma_percent=7, sigma=0.2)
REVS = Asked(ask="At which revs?", unit="rpm", takes="1/s", possible=(500, 5000), sigma_percent=2)
SERIES = Asked(ask="What did it read?", unit="degC", possible=(-10, 150), sigma=1, series=True)
CHOICE = Asked(ask="Which?", choices={"one": "the one", "other": "the other"})

TYPED: list[tuple[Asked, str, Any, float]] = [
    # asked, typed, value, one standard deviation: half of what is written after the sign, which holds 95 times in 100
    (LITRES, "10 L", 10.0, 0.5),
    (LITRES, "10 L +- 0.2 L", 10.0, 0.1),
    (LITRES, "10 L ± 0.2 L", 10.0, 0.1),
    (LITRES, "10 L +/- 200 mL", 10.0, 0.1),
    (LITRES, "10L+-0.2L", 10.0, 0.1),
    (LITRES, "10 L ± 0.2", 10.0, 0.1),
    (LITRES, "10 L ± 2 %", 10.0, 0.1),
    (LITRES, "10 L +- 0", 10.0, 0.0),
    (LITRES, "10000 mL ± 200", 10.0, 0.1),
    (SEA, "20 degC ± 2", 20.0, 1.0),
    (SEA, "20 °C ± 2 °C", 20.0, 1.0),
    (SEA, "20 C +- 2 C", 20.0, 1.0),
    (SEA, "20 degC ± 2 K", 20.0, 1.0),
    (SEA, "68 degF ± 3.6", 20.0, 1.0),
    (SEA, "68 degF ± 3.6 degF", 20.0, 1.0),
    (SEA, "68 °F ± 3.6 °F", 20.0, 1.0),
    (SEA, "68 F ± 3.6", 20.0, 1.0),
    (SEA, "68 F +- 3.6 F", 20.0, 1.0),
    (SEA, "293.15 K ± 2 K", 20.0, 1.0),
    (SEA, "−1 degC ± 1", -1.0, 0.5),
    (SEA, "20 degC ± 10 %", 20.0, 1.0),
    (SHARE, "80 %", 80.0, 5.0),
    (SHARE, "80 % ± 4 %", 80.0, 2.0),
    (SHARE, "80 % ± 4", 80.0, 2.0),
    (SHARE, "80% +- 4%", 80.0, 2.0),
    (COUNT, "20", 20.0, 1.0),
    (COUNT, "20 ± 4", 20.0, 2.0),
    (FLOW, "10 L in 24 s", 25.0, 1.75),
    (FLOW, "10 L in 0.4 min", 25.0, 1.75),
    (FLOW, "10 L in 24 s ± 10 %", 25.0, 1.25),
    (FLOW, "2 L/min", 2.0, 0.2),
    (REVS, "2400 rpm", 2400.0, 48.0),
    (REVS, "2400 rpm ± 50", 2400.0, 25.0),
    (REVS, "2400 rev/min ± 50 rpm", 2400.0, 25.0),
    (SERIES, "82 83 85 degC", (82.0, 83.0, 85.0), 1.0),
    (SERIES, "82, 83, 85", (82.0, 83.0, 85.0), 1.0),
    (SERIES, "-2 0.5", (-2.0, 0.5), 1.0),
    (SERIES, "50 59 degF", (10.0, 15.0), 1.0),
    (CHOICE, " one ", "one", 0.0),
    (CHOICE, "the other", "other", 0.0),
]


@pytest.mark.parametrize(("asked", "text", "value", "sigma"), TYPED, ids=[text for _, text, _, _ in TYPED])
def test_what_is_typed_is_read(asked: Asked, text: str, value: Any, sigma: float) -> None:
    """A number with its unit, with what it may be off by in the same unit, in another, bare or in percent; a rate; a series; a choice."""
    found, spread = read("it", asked, text)
    assert found == pytest.approx(value) if not isinstance(value, str) else found == value
    assert spread == pytest.approx(sigma)


REFUSED: list[tuple[Asked, str, str]] = [
    (LITRES, "10", "has no unit"),
    (LITRES, "10 kg", "does not measure this"),
    (LITRES, "10 gal", "more than one unit"),
    (LITRES, "ten litres", "not a number"),
    (LITRES, "", "not a number"),
    (LITRES, "1,5 L", "comma"),
    (LITRES, "1000 L", "cannot be"),
    (LITRES, "-1 L", "cannot be"),
    (LITRES, "10 L ± 2 K", "does not measure this"),
    (LITRES, "10 L ±", "not a number"),
    (LITRES, "10 L ± -2", ""),
    (LITRES, "10 L ± 0,2", "comma"),
    (LITRES, "10 L in 24 s", ""),
    (LITRES, "nan L", "not a number"),
    (SEA, "20 degC in 5 s", ""),
    (SEA, "20 degrees", "more than one unit"),
    (FLOW, "10 L in 24", "no unit"),
    (FLOW, "10 L in 0 s", "cannot be"),
    (FLOW, "10 L in 24 s in 2 s", ""),
    (FLOW, "24 s in 10 L", ""),
    (REVS, "33 Hz", "does not measure this"),
    (REVS, "3000 rpm in 2 s", ""),
    (SHARE, "0.8", "has no unit"),
    (COUNT, "20 L", "does not measure this"),
    (SERIES, "82,5 83,1 degC", "comma"),
    (SERIES, "82 warm 85", ""),
    (SERIES, "82 83 L", "does not measure this"),
    (SERIES, "82 200", "cannot be"),
    (CHOICE, "both", "not a choice"),
    (CHOICE, "", "not a choice"),
]


@pytest.mark.parametrize(("asked", "text", "said"), REFUSED, ids=[repr(text[:30]) for _, text, _ in REFUSED])
def test_what_cannot_be_read_is_refused(asked: Asked, text: str, said: str) -> None:
    """No unit, a wrong or unclear one, a comma, a word, what cannot be: each is refused with what is wrong and what would be right."""
    with pytest.raises(InputError) as caught:
        read("it", asked, text)
    assert said in caught.value.what
    assert caught.value.where.startswith("it")


@pytest.mark.parametrize("unit", sorted({w for right in _UNCLEAR.values() for w in right.replace(",", "").split() if "_" in w}))
def test_what_a_refusal_proposes_can_be_typed(unit: str) -> None:
    """The clear names of unclear units are accepted, alone and in a rate."""
    small = Asked(ask="How much?", unit="L", possible=(0, 100))
    rate = Asked(ask="How fast?", unit="L/min", possible=(0, 100))
    alone, _ = read("it", small, f"2 {unit}")
    assert read("it", rate, f"2 {unit}/min")[0] == pytest.approx(alone)


def test_a_rate_may_be_small() -> None:
    """A very slow drip caught over a long time is a small number, not an unknown unit."""
    value, _ = read("it", Asked(ask="How much?", unit="L/min", possible=(0, 400)), "1 mL in 6000 s")
    assert value == pytest.approx(1e-5)


def test_every_number_asked_for_can_be_given() -> None:
    """Whatever the unit of the book, a number within its bounds is accepted in that unit."""
    refused = []
    for calculation, name in NUMBERS:
        asked = calculation.asks[name]
        assert asked.possible is not None
        for value in {*asked.possible, float(asked.default) if asked.default is not None else asked.possible[0]}:
            try:
                read(name, asked, with_unit(value, asked.unit))
            except InputError as error:
                refused.append((calculation.id, name, error.what))
    assert refused == []


# ------------------------------------------------------------------ what comes out


def test_words_that_nearly_were_something_else_are_listed() -> None:
    """ISO 10816-1, table B.1, class II: zone C begins at 2.8 mm/s. At 2.9 with 10 % it is C and may be B; at 5 it is C alone."""
    zone = BOOK.calculations["vibration-zone"]
    near, far = (figure(reckon(zone, {"velocity": v, "machine": "medium"}), "zone") for v in ("2.9 mm/s", "5 mm/s"))
    assert (near.word, near.or_else) == ("C", ("B",))
    assert (far.word, far.or_else) == ("C", ())
    assert figure_words(near) == "C (or, within what the readings can tell: B)"
    assert figure_words(far) == "C"


def test_the_interval_holds_twice_the_doubt() -> None:
    """A bucket of 10 L to 0.2 L in 24 s to 1 s: 25 L/min to the root of the sum of squares of 2 % and 1/24 (JCGM 100, 5.1)."""
    bucket = BOOK.calculations["raw-water-flow"]
    names = list(bucket.asks)
    done = reckon(bucket, {**bucket.examples[0].given, names[0]: "10 L ± 0.2 L", names[1]: "24 s ± 1 s"})
    told = next(t for t in done.figures[0].values if t.unit in ("L/minute", "L/min"))
    assert told.value == pytest.approx(25.0, rel=1e-9)
    exact = 25.0 * math.hypot(0.02, 1 / 24)
    assert (told.below + told.above) / 2.0 == pytest.approx(exact, rel=5e-3)


def test_a_time_without_an_end_is_not_told_as_certain() -> None:
    """Where the pump may win, within what the readings can tell, the time to fill has no sure end, and no bare figure stands for it."""
    pump = BOOK.calculations["inflow-against-pump"]
    done = reckon(pump, {"inflow": "30 L/minute", "pump": "50 L/minute", "volume": "100 L"})
    assert figure(done, "word").or_else
    time = figure(done, "time")
    assert not time.values or time.values[0].above > 0.0
    assert sound(done)


def test_results_are_plain_data() -> None:
    """A result goes through JSON and back without loss, and holds nothing that JSON has no word for."""
    for calculation in ALL[::5]:
        whole = dataclasses.asdict(reckon(calculation, calculation.examples[0].given))
        assert json.loads(json.dumps(whole, allow_nan=False)) == json.loads(json.dumps(whole))


def test_the_same_twice_is_the_same() -> None:
    """Given in any order, the same numbers give the same result."""
    for calculation in ALL[::7]:
        given_ = calculation.examples[0].given
        assert reckon(calculation, given_) == reckon(calculation, dict(reversed(given_.items())))
