"""Numbers read off instruments: checked, in one unit each, with what they may be off by, and the figures of the engine."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from diagnose.case import SURE, Observation
from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import EngineState, Measurand, Symptom
from diagnose.knowledge.text import did_you_mean
from diagnose.units import convert, parse_quantity


@dataclass(frozen=True)
class Number:
    """A value with one standard deviation, and what it is called; `key` tells one source of error from another."""

    key: str
    title: str
    value: float
    sigma: float
    unit: str

    def within(self, unit: str) -> tuple[float, float]:
        """Value and standard deviation in another unit."""
        value = convert(self.value, self.unit, unit)
        return value, abs(convert(self.value + self.sigma, self.unit, unit) - value)


@dataclass(frozen=True)
class Taken:
    """A reading as it was taken: of what, in which engine state, at which revs, by which observation."""

    reading: str
    state: EngineState
    number: Number
    rpm: float | None
    given: Observation
    takes: str
    """Unit in which the functions want it."""

    @property
    def text(self) -> str:
        """The reading as it is printed."""
        return f"{self.number.value:g} {self.number.unit}".removesuffix(" 1")


def take(observation: Observation, book: Book, where: str) -> Taken:
    """One reading, checked against the book.

    Raises:
        InputError: no such reading, no number, a wrong unit or state, or an impossible value.
    """
    name = str(observation.reading)
    measured = {s.id: s for s in book.symptoms.values() if s.measure is not None}
    kind: Measurand | Symptom | None = book.readings.get(book.now_called(name)) or measured.get(book.now_called(name))
    if kind is None:
        raise InputError(f"reading '{name}' is not in the book", where=where, right=did_you_mean(name, [*book.readings, *measured]))
    if observation.value is None:
        raise InputError("a reading is told by a number", where=where, right=f"value: a number of {unit_of(kind)}")
    state = observation.state or (kind.states[0] if len(kind.states) == 1 else None)
    if state is None or state not in kind.states:
        raise InputError(f"'{kind.title.lower()}' " + (f"cannot be read {state}" if state else "says nothing without the engine's state"),
                         where=where, right=" or ".join(kind.states))
    unit, possible, sigma = limits_of(kind)
    value = parse_quantity(observation.value, unit, what=where, possible=possible)
    number = Number(f"{kind.id} {state}", kind.title, value, spread_of(observation, max(sigma[0], sigma[1] / 100.0 * abs(value))), unit)
    return Taken(kind.id, state, number, observation.at_rpm, observation, (isinstance(kind, Measurand) and kind.takes) or unit)


def spread_of(observation: Observation, usual: float) -> float:
    """One standard deviation of a number: half of what its observer says it may be off by, or the usual one; more where he is unsure."""
    told = observation.plus_minus / 2.0 if observation.plus_minus is not None else usual
    return told / SURE[observation.sure]


def unit_of(kind: Measurand | Symptom) -> str:
    """The unit in which the book tells a reading."""
    return limits_of(kind)[0]


def limits_of(kind: Measurand | Symptom) -> tuple[str, tuple[float, float], tuple[float, float]]:
    """Unit, what is possible, and one standard deviation as an amount and in percent."""
    if isinstance(kind, Measurand):
        return kind.unit, kind.possible, (kind.sigma, kind.sigma_percent)
    assert kind.measure is not None
    return kind.measure.unit, kind.measure.possible, (kind.measure.sigma, 0.0)


def figures_of(given: Mapping[str, str], book: Book) -> dict[str, Number]:
    """The figures of the engine: those the owner gives, and what is taken for the others.

    Raises:
        InputError: an unknown figure, a wrong unit, or an impossible value.
    """
    for name in given:
        if name not in book.figures:
            raise InputError(f"figure '{name}' is not in the book", where="boat.figures", right=did_you_mean(name, list(book.figures)))
    found = {}
    for figure in book.figures.values():
        text = given.get(figure.id)
        value = figure.default if text is None else parse_quantity(text, figure.unit, what=f"boat.figures.{figure.id}",
                                                                   possible=figure.possible)
        percent = figure.sigma_percent if text is None else figure.given_percent
        found[figure.id] = Number(f"figure {figure.id}", figure.title, value, abs(value) * percent / 100.0, figure.unit)
    return found


def one_rpm(readings: Sequence[Taken]) -> tuple[float, float] | None:
    """The revs at which readings were taken together, with half their range; None where none says.

    Raises:
        ValueError: they were taken at revs too far apart to be put together.
    """
    rpm = [r.rpm for r in readings if r.rpm is not None]
    if not rpm:
        return None
    if max(rpm) > 1.08 * min(rpm):
        raise ValueError(f"the readings were taken at revs from {min(rpm):g} to {max(rpm):g}")
    return sum(rpm) / len(rpm), (max(rpm) - min(rpm)) / 2.0
