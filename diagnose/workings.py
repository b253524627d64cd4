"""Symptoms worked out of readings: the arithmetic of each, its doubt, and the likelihood it gives.

Several figures worked out of the same readings share their errors. Weighed as independent they would say more than the
readings do; so each is widened until independent errors of that width are nowhere narrower than the true joint
distribution. Every variance is multiplied by the sum of the sizes of its correlations with all the others, its own among
them: the matrix of what is granted less what is true is then dominated by its diagonal, and so has no negative eigenvalue.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from diagnose.assessment import Working
from diagnose.case import Observation
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import Band, EngineState, Ingredient, Symptom, When, WorkedOut
from diagnose.measure.named import call
from diagnose.measure.valid import OutOfRangeError
from diagnose.network.nodes import Array
from diagnose.readings import Number, Taken, one_rpm
from diagnose.reckon.uncertainty import propagate
from diagnose.seen import Seen, band_of, number_likelihood
from diagnose.units import convert

TACHOMETER = 0.02
"""One standard deviation of a panel's tachometer, as a share (common practice)."""
SI = {"kW": "W", "L": "m^3", "bar": "Pa", "rpm": "1/s"}
"""The units in which functions want facts of the boat, by those in which she is described."""
HEALTHY = "good day, "
"""Marks what was read on the good day: its errors are its own."""
LEAST_TOLD = 2.0
"""A figure that makes no grade twice as likely as another tells nothing, and is shown so."""
SAME = 0.999
"""Figures so closely correlated are one number on two scales, such as too high and too low, and count once."""


@dataclass(frozen=True)
class _Way:
    """One way to work a symptom out, with everything it needs at hand."""

    symptom: Symptom
    state: EngineState
    worked: WorkedOut
    numbers: Mapping[str, Number]
    units: Mapping[str, str]
    words: Mapping[str, str]
    used: tuple[Taken, ...]
    usual: Mapping[str, Number] = field(default_factory=dict)
    """The numbers of a good day that stand in other places than those of today."""
    spoilt: str = ""
    """Why the good day's readings could not be used."""


@dataclass
class _Made:
    way: _Way
    value: float
    moves: dict[str, float]
    widened: float = 1.0

    @property
    def sigma(self) -> float:
        return math.sqrt(sum(m * m for m in self.moves.values()))


_Row = tuple[dict[str, float], float]
"""What moves a figure, and its standard deviation."""


class Bench:
    """Readings laid out beside what is known of the boat, ready to be put together."""

    def __init__(self, book: Book, facts: Mapping[str, str | float | bool], figures: Mapping[str, Number], readings: Sequence[Taken],
                 healthy: Sequence[Taken]) -> None:
        self._book, self._facts, self._figures = book, facts, figures
        self._readings = {(r.reading, r.state): r for r in readings}
        self._healthy = {(r.reading, r.state): r for r in healthy}

    def work_out(self, direct: Sequence[Seen]) -> tuple[list[Seen], list[Seen], list[Working]]:
        """Every symptom that can be worked out and was not judged directly, and the arithmetic of each.

        Args:
            direct: what was observed of symptoms themselves; measured ones also serve as readings.

        Returns:
            What was observed, where it shares its number with a figure as wide as that asks for; what was worked out; the arithmetic.
        """
        told = {(s.symptom, s.state) for s in direct if s.epoch == "now"}
        made: list[_Made] = []
        failed: list[Working] = []
        for symptom in self._book.symptoms.values():
            if not symptom.worked_out or not _fits(self._book.component_of[symptom.id].applies, self._facts):
                continue
            for state in symptom.states:
                if (symptom.id, state) not in told:
                    self._symptom(symptom, state, made, failed)
        there = told | {(m.way.symptom.id, m.way.state) for m in made}
        made = [m for m in made if not any((other, m.way.state) in there for other in m.way.worked.unless)]
        own = [self._wider(s, by) for s, by in zip(direct, self._widen(made, direct), strict=True)]
        return own, [_seen(m) for m in made], [*(_working(m) for m in made), *failed]

    def _symptom(self, symptom: Symptom, state: EngineState, made: list[_Made], failed: list[Working]) -> None:
        """The first way that the readings allow; where they allow none that could be tried, the first reason."""
        reason = ""
        for worked in symptom.worked_out:
            try:
                way = self._way(symptom, state, worked)
                if way is not None:
                    made.append(self._make(way))
                    return
            except ValueError as error:
                reason = reason or _in_words(error)
        if reason:
            failed.append(Working(symptom=symptom.id, title=symptom.title, state=state, formula=symptom.worked_out[0].formula, numbers=(),
                                  result=None, plus_minus=None, unit=symptom.measure.unit if symptom.measure else "", grade=None, says="",
                                  tells=False, widened=1.0, observations=(), why_not=reason))

    # -------------------------------------------------------------- what goes in

    def _way(self, symptom: Symptom, state: EngineState, worked: WorkedOut) -> _Way | None:
        """What a function needs, or None where a reading of it is missing.

        Raises:
            ValueError: the readings are there and cannot be put together.
        """
        wanted = [i.reading for i in worked.takes.values() if i.reading is not None]
        if any((name, state) not in self._readings for name in wanted):
            return None
        used = tuple(self._readings[name, state] for name in wanted)
        numbers, units, words = self._filled(worked, used)
        usual, spoilt = self._usual(worked, wanted, state)
        return _Way(symptom, state, worked, numbers, units, words, used, usual, spoilt)

    def _usual(self, worked: WorkedOut, wanted: Sequence[str], state: EngineState) -> tuple[dict[str, Number], str]:
        """The numbers of the good day, where all of them are there; or why they cannot be used."""
        if worked.against is None or not all((name, state) in self._healthy for name in wanted):
            return {}, ""
        try:
            then, _, _ = self._filled(worked, tuple(self._healthy[name, state] for name in wanted))
        except ValueError as error:
            return {}, _in_words(error)
        return {name: Number(f"{HEALTHY}{n.key}" if self._own(worked.takes[name]) else n.key, n.title, n.value, n.sigma, n.unit)
                for name, n in then.items()}, ""

    @staticmethod
    def _own(ingredient: Ingredient) -> bool:
        """Whether it was read anew on each day, and is not the same of the same engine."""
        return ingredient.reading is not None or ingredient.revs is not None

    def _filled(self, worked: WorkedOut, used: Sequence[Taken]) -> tuple[dict[str, Number], dict[str, str], dict[str, str]]:
        by_name = {t.reading: t for t in used}
        numbers: dict[str, Number] = {}
        units: dict[str, str] = {}
        words: dict[str, str] = {}
        for name, ingredient in worked.takes.items():
            if ingredient.word is not None:
                words[name] = ingredient.word
                continue
            numbers[name], unit = self._number(ingredient, by_name, used)
            units[name] = ingredient.takes or unit
        return numbers, units, words

    def _number(self, i: Ingredient, by_name: Mapping[str, Taken], used: Sequence[Taken]) -> tuple[Number, str]:
        if i.reading is not None:
            return by_name[i.reading].number, by_name[i.reading].takes
        if i.figure is not None:
            figure = self._book.figures[i.figure]
            return self._figures[i.figure], figure.takes or figure.unit
        if i.fact is not None:
            fact = self._book.facts[i.fact]
            unit = str(fact.unit)
            takes = SI.get(unit, unit)
            return Number(f"fact {i.fact}", fact.title, float(self._facts[i.fact]), 0.0, unit), takes
        if i.revs is not None:
            rpm = one_rpm(used)
            if rpm is None:
                raise ValueError("no reading says at which revs (at_rpm) it was taken")
            return Number("revs", "Engine revs", rpm[0], math.hypot(TACHOMETER * rpm[0], rpm[1]), "rpm"), "1/s"
        assert i.number is not None
        unit = i.takes or "1"
        return Number(f"constant {i.number:g} {unit}", "", i.number, 0.0, unit), unit

    # -------------------------------------------------------------- the arithmetic

    def _make(self, way: _Way) -> _Made:
        """The figure, and how far each source of error moves it.

        Raises:
            ValueError: the function refuses the numbers.
        """
        value, moves = _moved(way, [way.numbers], lambda figures: figures[0])
        rough = way.worked.rough
        if way.usual:
            try:
                value, moves, trust = _against(way)
            except ValueError as error:
                way = replace(way, usual={}, spoilt=_in_words(error))
            else:
                rough *= 1.0 - trust  # what the formula leaves out it left out on the good day too
        if rough:
            moves[f"formula {way.symptom.id}"] = rough
        made = _Made(way, value, moves)
        return replace(made, value=_possible(way.symptom, value, made.sigma))

    @staticmethod
    def _widen(made: Sequence[_Made], direct: Sequence[Seen]) -> list[float]:
        """Widen the figures that share errors with one another; how far the numbers weighed by themselves are to be widened."""
        own = [({f"{s.symptom} {s.state}": s.sigma}, s.sigma) if s.sigma and s.epoch == "now" else None for s in direct]
        rows = [*((m.moves, m.sigma) for m in made), *(row for row in own if row is not None)]
        distinct: list[_Row] = []
        for row in rows:
            if not any(abs(_correlation(row, other)) > SAME for other in distinct):
                distinct.append(row)

        def widened(row: _Row) -> float:
            return math.sqrt(1.0 + sum(abs(r) for other in distinct if abs(r := _correlation(row, other)) <= SAME))

        for m in made:
            m.widened = widened((m.moves, m.sigma))
        return [1.0 if row is None else widened(row) for row in own]

    def _wider(self, seen: Seen, by: float) -> Seen:
        """A number weighed by itself, as wide as what shares its error asks for."""
        symptom = self._book.symptoms[seen.symptom]
        if by <= 1.0 or seen.value is None or symptom.measure is None:
            return seen
        return replace(seen, likelihood=number_likelihood(symptom, seen.value, seen.sigma * by))


def _possible(symptom: Symptom, value: float, sigma: float) -> float:
    """The value, brought back to the symptom's scale where it lies beyond its healthy end, or beyond the other by no more than chance.

    Raises:
        ValueError: it lies further out, and so cannot be.
    """
    assert symptom.measure is not None
    low, high = symptom.measure.possible
    kept = min(max(value, low), high)
    if abs(value - kept) > 3.0 * sigma and band_of(symptom, kept) > 0:
        raise ValueError(f"it comes to {value:.3g} {symptom.measure.unit}, which cannot be: a reading is not what it is taken for")
    return kept


def _correlation(one: _Row, other: _Row) -> float:
    """Correlation of the errors of two figures, each given as what moves it and its standard deviation."""
    if not (one[1] and other[1]):
        return 0.0
    return sum(move * other[0].get(key, 0.0) for key, move in one[0].items()) / (one[1] * other[1])


def _fits(when: When | None, facts: Mapping[str, str | float | bool]) -> bool:
    """Whether a condition on facts of the boat holds."""
    if when is None:
        return True
    if when.all is not None:
        return all(_fits(part, facts) for part in when.all)
    if when.any is not None:
        return any(_fits(part, facts) for part in when.any)
    if when.not_ is not None:
        return not _fits(when.not_, facts)
    value = facts.get(str(when.fact))
    if when.one_of is not None:
        return value in when.one_of
    if when.is_ is not None:
        return value == when.is_
    if value is None:
        return False
    return float(value) >= float(when.at_least) if when.at_least is not None else float(value) < float(when.below or 0.0)


def _moved(way: _Way, sets: Sequence[Mapping[str, Number]], joined: Callable[[Sequence[float]], float]) -> tuple[float, dict[str, float]]:
    """A figure made of that of one or more sets of numbers, and how far each source of error moves it.

    Raises:
        ValueError: the function refuses the numbers.
    """
    sources = {n.key: n for numbers in sets for n in numbers.values()}
    keys = sorted(sources)

    def run(vector: Sequence[float]) -> list[float]:
        at = dict(zip(keys, vector, strict=True))
        return [joined([_figure(way, numbers, at) for numbers in sets])]

    spread = propagate(run, [sources[k].value for k in keys], [sources[k].sigma for k in keys])
    return float(spread.figures[0]), {k: float(m) for k, m in zip(keys, spread.moves[:, 0], strict=True) if m != 0.0}


def _against(way: _Way) -> tuple[float, dict[str, float], float]:
    """Today's figure against what she shows when healthy, what moves it, and how far the good day was trusted in that.

    Raises:
        ValueError: the function refuses the numbers of the good day.
    """
    trust, healthy = _trust(way), 0.0 if way.worked.against == "difference" else _whole(way)

    def against(figures: Sequence[float]) -> float:
        usual = trust * figures[1] + (1.0 - trust) * healthy
        return figures[0] - usual if way.worked.against == "difference" else figures[0] / usual * healthy

    value, moves = _moved(way, [way.numbers, way.usual], against)
    return value, moves, trust


def _in_words(error: ValueError) -> str:
    return f"{error.what}; {error.right}" if isinstance(error, OutOfRangeError) else str(error)


def _trust(way: _Way) -> float:
    """How far the good day is followed, and how far the figures taken for any engine: each by the inverse of its variance."""
    _, moves = _moved(way, [way.usual], lambda figures: figures[0])
    read = sum(m * m for k, m in moves.items() if k.startswith(HEALTHY))
    taken = sum(m * m for k, m in moves.items() if not k.startswith(HEALTHY)) + way.worked.rough**2
    return taken / (taken + read) if taken else 0.0


def _figure(way: _Way, numbers: Mapping[str, Number], moved: Mapping[str, float]) -> float:
    """What the function gives, in the unit of the symptom."""
    values: dict[str, object] = dict(way.words)
    for name, number in numbers.items():
        values[name] = convert(moved[number.key], number.unit, way.units[name])
    out = call(way.worked.by, values)
    value = out["value"] if way.worked.field is None else out[way.worked.field]
    if not isinstance(value, float | int):
        raise ValueError("it cannot be told from these readings")
    assert way.symptom.measure is not None
    return convert(float(value), way.worked.gives, way.symptom.measure.unit)


def _whole(way: _Way) -> float:
    """What the symptom's unit calls the whole: today's share of that of the good day."""
    assert way.symptom.measure is not None
    return convert(1.0, "1", way.symptom.measure.unit)


def _seen(made: _Made) -> Seen:
    symptom = made.way.symptom
    assert symptom.measure is not None
    sigma = made.sigma * made.widened
    low = band_of(symptom, made.value)
    text = f"{made.value:.3g} {symptom.measure.unit}, worked out"
    given = Observation(symptom=symptom.id, value=f"{made.value:.6g} {symptom.measure.unit}", state=made.way.state)
    return Seen("", symptom.id, made.way.state, _likelihood(made), low, low, 1.0, "now", text, given, made.value, sigma)


def _working(made: _Made) -> Working:
    way, symptom = made.way, made.way.symptom
    assert symptom.measure is not None
    numbers = [_told(name, n) for name, n in way.numbers.items() if n.title]
    if way.usual:
        numbers += [f"on the good day: {_told(name, way.usual[name])}" for name in way.usual if way.usual[name].key.startswith(HEALTHY)]
    if way.spoilt:
        numbers.append(f"the good day could not be used: {way.spoilt}")
    grade, band = list(symptom.grades.items())[band_of(symptom, made.value)]
    return Working(symptom=symptom.id, title=symptom.title, state=way.state, formula=way.worked.formula, numbers=tuple(numbers),
                   result=made.value, plus_minus=2.0 * made.sigma, unit=symptom.measure.unit, grade=grade,
                   says=(band.says or "") if isinstance(band, Band) else str(band), widened=made.widened,
                   tells=bool(_likelihood(made).max() >= LEAST_TOLD * _likelihood(made).min()),
                   observations=tuple(sorted({t.reading for t in way.used})), why_not=None)


def _likelihood(made: _Made) -> Array:
    symptom = made.way.symptom
    assert symptom.measure is not None
    return number_likelihood(symptom, made.value, max(made.sigma * made.widened, symptom.measure.sigma * 1e-3))


def _told(name: str, number: Number) -> str:
    spread = f" ± {_plain(2.0 * number.sigma, 2)}" if number.sigma else ""
    unit = "" if number.unit == "1" else f" {number.unit}"
    return f"{name.replace('_', ' ')} {_plain(number.value, 4)}{spread}{unit} ({number.title[0].lower()}{number.title[1:]})"


def _plain(value: float, digits: int) -> str:
    """A number to so many digits, without powers of ten."""
    return f"{float(f'{value:.{digits}g}'):.10f}".rstrip("0").rstrip(".")
