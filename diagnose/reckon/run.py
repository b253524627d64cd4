"""One calculation, from what a person typed to figures with their uncertainty."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.errors import InputError
from diagnose.knowledge.lists import Asked, Calculation, Gives
from diagnose.knowledge.text import did_you_mean
from diagnose.measure.named import Output, call
from diagnose.measure.valid import OutOfRangeError
from diagnose.reckon.uncertainty import Spread, propagate
from diagnose.units import convert, parse_quantity

COVERAGE = 2.0
"""Standard deviations that hold 95 times in 100, in print and in what a person writes after a plus-minus sign (JCGM 100, 6.3.3)."""
_PLUS_MINUS = re.compile(r"\s*(?:±|\+\s*/\s*-|\+-)\s*")
_NUMBER = re.compile(r"([-+]?[0-9]+(?:\.[0-9]+)?)\s*(.*?)\s*\Z")
DEGREES = {"degC": 1.0, "°C": 1.0, "C": 1.0, "K": 1.0, "degF": 5.0 / 9.0, "°F": 5.0 / 9.0, "F": 5.0 / 9.0}
"""Kelvin in one degree of each scale."""
_BARE = re.compile(r"[0-9]+(?:\.[0-9]+)?\Z")

Value = float | str | tuple[float, ...] | None


@dataclass(frozen=True)
class Input:
    """One thing that went in: in words, its value in the unit the person uses, and how it was come by."""

    name: str
    ask: str
    text: str
    value: Value
    unit: str
    sigma: float
    taken: str | None
    """Why this value was taken where none was given."""
    share: float
    """Share of the uncertainty of the first figure that it brings."""


@dataclass(frozen=True)
class Told:
    """A value in one unit, and how far below and above it the true one may lie, 95 times in 100."""

    value: float
    below: float
    above: float
    unit: str


@dataclass(frozen=True)
class Figure:
    """One figure that came out, in each unit it is told in; or a word."""

    name: str
    title: str
    values: tuple[Told, ...]
    word: str | None = None
    or_else: tuple[str, ...] = ()
    """Other words that the same readings allow, within their uncertainty."""


@dataclass(frozen=True)
class Reckoned:
    """A calculation made: what went in, what came out."""

    calculation: str
    title: str
    inputs: tuple[Input, ...]
    figures: tuple[Figure, ...]


def reckon(calculation: Calculation, given: Mapping[str, str]) -> Reckoned:
    """Make a calculation with what was given; what has a default and was not given is taken, and said.

    Args:
        calculation: an entry of rules/calculations.
        given: by name, as typed: `"10 L"`, `"10 L +- 0.2 L"`, a choice, or numbers with blanks between.

    Raises:
        InputError: an unknown name, something missing, a number without a unit, or one out of range.
    """
    for name in given:
        if name not in calculation.asks:
            raise InputError(f"'{name}' is not asked for here", where=calculation.id, right=did_you_mean(name, list(calculation.asks)))
    lacking = missing(calculation, given)
    if lacking:
        raise InputError(f"still wanted: {', '.join(lacking)}", where=calculation.id,
                         right=" ".join(f"{name}={_such_as(calculation.asks[name])}" for name in lacking))
    taken = {name: read(name, asked, given.get(name)) for name, asked in calculation.asks.items()}
    spread, words = _through(calculation, taken)
    inputs = tuple(_input(name, calculation.asks[name], given.get(name), *taken[name], share)
                   for name, share in zip(taken, _first_shares(taken, spread), strict=True))
    return Reckoned(calculation.id, calculation.title, inputs, tuple(_figures(calculation, spread, words)))


def missing(calculation: Calculation, given: Mapping[str, str]) -> list[str]:
    """Names of what must still be given."""
    return [name for name, asked in calculation.asks.items()
            if name not in given and asked.default is None and not asked.optional]


def _such_as(asked: Asked) -> str:
    if asked.choices is not None:
        return next(iter(asked.choices))
    assert asked.possible is not None
    middle = (max(asked.possible[0], asked.possible[1] / 100) * asked.possible[1]) ** 0.5 if asked.possible[1] > 0 else asked.possible[0]
    number = f"{float(f'{middle:.1g}'):g}"
    return f'"{number} {asked.unit}"' if asked.unit != "1" else number


# ------------------------------------------------------------------ in


def read(name: str, asked: Asked, text: str | None) -> tuple[Value, float]:
    """What was typed for one input, in the unit of the rule file, with one standard deviation.

    Raises:
        InputError: not a choice, not a number with a fitting unit, or out of range.
    """
    if text is None:
        if asked.default is None:
            return None, 0.0
        value: Value = asked.default if isinstance(asked.default, str) else float(asked.default)
        return value, _sigma(asked, value)
    if asked.choices is not None:
        said = text.strip().lower()
        chosen = next((key for key, words in asked.choices.items() if said in (key, words.lower())), "")
        if not chosen:
            raise InputError(f"'{text.strip()}' is not a choice", where=name, right=" or ".join(asked.choices))
        return chosen, 0.0
    if asked.series:
        return _series(name, asked, text), asked.sigma
    number, *plus_minus = _PLUS_MINUS.split(text, maxsplit=1)
    value = parse_quantity(number, str(asked.unit), what=name, possible=asked.possible)
    return value, _stated(name, asked, value, number, plus_minus[0]) if plus_minus else _sigma(asked, value)


def _sigma(asked: Asked, value: Value) -> float:
    return max(asked.sigma, asked.sigma_percent / 100.0 * abs(value)) if isinstance(value, float) else 0.0


def _stated(name: str, asked: Asked, value: float, number: str, text: str) -> float:
    """Half of what a person wrote after the plus-minus sign, which is taken to hold 95 times in 100."""
    unit = str(asked.unit)
    if unit in DEGREES and not text.strip().endswith("%"):
        return _stated_degrees(name, unit, number, text)
    if text.strip().endswith("%") and unit != "%":
        return abs(value) * parse_quantity(text, "%", what=name, possible=(0.0, 100.0)) / 100.0 / COVERAGE
    if _BARE.match(text.strip()):
        written = re.sub(r"\A\s*[-+−]?[0-9.]+", "", number).strip()
        text = f"{text.strip()} {written}"
    return parse_quantity(text, unit, what=f"{name}, after the plus-minus sign", possible=(0.0, float("inf"))) / COVERAGE


def _stated_degrees(name: str, unit: str, number: str, text: str) -> float:
    """The same of a temperature: what follows the sign is a difference, in the degrees of the number if it names none."""
    amount, words = _NUMBER.match(text.strip()), _NUMBER.match(number.strip().replace("−", "-"))
    written = (amount[2] if amount else "") or (words[2] if words else "")
    degree = DEGREES.get(written)
    if amount is None or degree is None:
        raise InputError(f"'{text}' is not a difference of temperature", where=f"{name}, after the plus-minus sign", right="such as 2 K")
    return abs(float(amount[1])) * degree / DEGREES[unit] / COVERAGE


def _series(name: str, asked: Asked, text: str) -> tuple[float, ...]:
    words = [word.rstrip(",;") for word in text.split()]
    unit = words.pop() if words and not _BARE.match(words[-1].lstrip("+-−")) else str(asked.unit)
    return tuple(parse_quantity(f"{word} {unit}" if unit != "1" else word, str(asked.unit), what=name, possible=asked.possible)
                 for word in words)


# ------------------------------------------------------------------ through


def _through(calculation: Calculation, taken: Mapping[str, tuple[Value, float]]) -> tuple[Spread, dict[str, list[str]]]:
    """All figures that are numbers, propagated; and by name the words, the first that of the readings themselves."""
    free = [(name, i) for name, (value, _) in taken.items() if isinstance(value, float | tuple)
            for i in range(1 if isinstance(value, float) else len(value))]
    reach = [COVERAGE * taken[name][1] for name, _ in free]  # what bends within reach of the doubt is followed to its end
    words: dict[str, list[str]] = {gives.name: [] for gives in calculation.gives if gives.word}

    def run(vector: Sequence[float]) -> list[float]:
        out = _call(calculation, taken, dict(zip(free, vector, strict=True)))
        for name, found in words.items():
            found += [str(out[name])] if str(out[name]) not in found else []
        return [float("nan") if (value := out[name]) is None else float(value) for name in _numbers(calculation)]

    start = [_element(taken[name][0], i) for name, i in free]
    try:
        spread = propagate(run, start, reach)
        if words:
            propagate(run, start, [r / 2.0 for r in reach])  # words that lie between those at the ends
        return spread, words
    except OutOfRangeError as error:
        raise InputError(error.what, where=calculation.id, right=error.right) from None
    except ValueError as error:
        raise InputError(str(error), where=calculation.id) from None


def _numbers(calculation: Calculation) -> list[str]:
    return [gives.name for gives in calculation.gives if not gives.word]


def _element(value: Value, i: int) -> float:
    return value[i] if isinstance(value, tuple) else float(value)  # type: ignore[arg-type]


def _call(calculation: Calculation, taken: Mapping[str, tuple[Value, float]], moved: Mapping[tuple[str, int], float]) -> Output:
    values: dict[str, object] = {}
    for name, (value, _) in taken.items():
        asked = calculation.asks[name]
        if isinstance(value, tuple):
            values[name] = [_si(asked, moved[name, i]) for i in range(len(value))]
        else:
            values[name] = _si(asked, moved[name, 0]) if isinstance(value, float) else value
    out = call(calculation.by, values)
    return {calculation.gives[0].name: out["value"]} if "value" in out else out  # a bare number has no name of its own


def _si(asked: Asked, value: float) -> float:
    return convert(value, str(asked.unit), asked.takes) if asked.takes is not None else value


# ------------------------------------------------------------------ out


def _first_shares(taken: Mapping[str, tuple[Value, float]], spread: Spread) -> list[float]:
    """For each input its share of the first figure's variance; a series counts as one input."""
    shares, row = [], 0
    for value, _ in taken.values():
        rows = len(value) if isinstance(value, tuple) else int(isinstance(value, float))
        shares.append(float(spread.shares[row : row + rows, 0].sum()) if rows and spread.figures.size else 0.0)
        row += rows
    return shares


def _input(name: str, asked: Asked, text: str | None, value: Value, sigma: float, share: float) -> Input:
    if asked.choices is not None:
        shown = asked.choices[str(value)] if value is not None else "left out"
    elif isinstance(value, tuple):
        shown = " ".join(f"{v:g}" for v in value) + (f" {asked.unit}" if asked.unit != "1" else "")
    else:
        shown = f"{value:g} {asked.unit}".removesuffix(" 1") if value is not None else "left out"
    taken = (asked.why or "") if text is None and value is not None else None
    return Input(name, asked.ask, shown, value, asked.unit or "", sigma, taken, share)


def _figures(calculation: Calculation, spread: Spread, words: Mapping[str, Sequence[str]]) -> list[Figure]:
    columns = {name: i for i, name in enumerate(_numbers(calculation))}
    found = []
    for gives in calculation.gives:
        if gives.word:
            first, *others = words[gives.name]
            found.append(Figure(gives.name, gives.title, (), first, tuple(others)))
        elif np.isnan(spread.figures[columns[gives.name]]):
            found.append(Figure(gives.name, gives.title, (), "cannot be told from this"))
        else:
            column = columns[gives.name]
            values = tuple(_told(gives, spread, column, unit) for unit in gives.units)
            found.append(Figure(gives.name, gives.title, values, or_else=("none",) if spread.lost[column] else ()))
    return found


def _told(gives: Gives, spread: Spread, column: int, unit: str) -> Told:
    """A figure in one of its units."""
    source = gives.takes or gives.units[0]
    value = float(spread.figures[column])
    told = convert(value, source, unit)
    below, above = (abs(convert(value + float(reach[column]), source, unit) - told) for reach in (-spread.below, spread.above))
    return Told(told, below, above, unit)
