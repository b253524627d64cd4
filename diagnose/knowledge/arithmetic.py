"""What must hold of the numbers in the book: figures, symptoms worked out of readings, calculations. Functions that exist, are given
all they ask for, and are asked for in units that fit."""

from __future__ import annotations

import inspect
from collections.abc import Iterable, Iterator

from diagnose.errors import DiagnoseError, RuleError
from diagnose.knowledge.book import Book
from diagnose.knowledge.integrity import Path, Problem, known, source
from diagnose.knowledge.lists import Calculation
from diagnose.knowledge.model import Ingredient, Symptom, WorkedOut
from diagnose.measure.named import fields, parameters
from diagnose.units import convert


def arithmetic(book: Book) -> Iterator[Problem]:
    """All problems of figures, workings and calculations."""
    for i, figure in enumerate(book.boat.figures):
        at: Path = ("figures", i)
        yield from source(book, figure.source, "boat", at)
        if not figure.possible[0] <= figure.default <= figure.possible[1]:
            yield Problem("boat", at, f"default of '{figure.id}' is not between {figure.possible[0]:g} and {figure.possible[1]:g}")
        yield from _units(figure.unit, figure.takes, f"'{figure.id}'", "boat", at)
    for component in book.components:
        for i, reading in enumerate(component.readings):
            yield from _units(reading.unit, reading.takes, f"'{reading.id}'", component.component, ("readings", i))
        for i, symptom in enumerate(component.symptoms):
            for j, worked in enumerate(symptom.worked_out):
                yield from _worked(book, symptom, worked, component.component, ("symptoms", i, "worked_out", j))
    seen: dict[str, str] = {}
    for family in book.calculation_lists:
        for i, calculation in enumerate(family.calculations):
            if calculation.id in seen:
                yield Problem(family.family, ("calculations", i, "id"), f"'{calculation.id}' is already used in {seen[calculation.id]}")
            seen[calculation.id] = family.family
            yield from _calculation(book, calculation, family.family, ("calculations", i))


def _units(unit: str, takes: str | None, what: str, name: str, path: Path) -> Iterator[Problem]:
    try:
        convert(1.0, unit, takes or unit)
    except DiagnoseError as error:
        yield Problem(name, path, f"{what}: {unit} does not go into {takes}: {error.what}", error.right)


def _function(by: str, given: Iterable[str], name: str, path: Path) -> Iterator[Problem]:
    """Whether a function exists and is given what it asks for."""
    try:
        wanted = parameters(by)
    except RuleError as error:
        yield Problem(name, path, error.what, error.right)
        return
    given = set(given)
    for extra in sorted(given - set(wanted)):
        yield Problem(name, path, f"{by} takes no '{extra}'", ", ".join(wanted))
    for parameter in wanted.values():
        if parameter.name not in given and parameter.default is inspect.Parameter.empty:
            yield Problem(name, path, f"{by} wants '{parameter.name}'", "something to fill it with")


def _worked(book: Book, symptom: Symptom, worked: WorkedOut, name: str, path: Path) -> Iterator[Problem]:
    if symptom.measure is None:
        yield Problem(name, path, f"'{symptom.id}' is told by words, and cannot be worked out", "a measure, and bands for grades")
        return
    broken = list(_function(worked.by, worked.takes, name, path))
    yield from broken
    for parameter, ingredient in worked.takes.items():
        yield from _ingredient(book, symptom, ingredient, name, (*path, "takes", parameter))
    for other in worked.unless:
        yield from known(book.symptoms, other, "symptom", name, (*path, "unless"))
    yield from _units(worked.gives, symptom.measure.unit, f"'{symptom.id}'", name, path)
    if not broken:
        given = fields(worked.by)
        if (worked.field is None) != (given is None) or (given is not None and worked.field not in given):
            yield Problem(name, path, f"{worked.by} gives {', '.join(given) if given else 'one figure'}", "that in 'field', or no 'field'")


def _ingredient(book: Book, symptom: Symptom, i: Ingredient, name: str, path: Path) -> Iterator[Problem]:
    if i.reading is not None:
        measured = {s.id for s in book.symptoms.values() if s.measure is not None}
        yield from known({*book.readings, *measured}, i.reading, "reading", name, path)
        reading = book.readings.get(i.reading)
        for state in symptom.states if reading is not None else ():
            if reading is not None and state not in reading.states:
                yield Problem(name, path, f"'{i.reading}' is not read {state}, and '{symptom.id}' is", ", ".join(reading.states))
    if i.fact is not None:
        yield from known(book.facts, i.fact, "boat fact", name, path)
        if i.fact in book.facts and book.facts[i.fact].unit is None:
            yield Problem(name, path, f"'{i.fact}' is not a number")
    if i.figure is not None:
        yield from known(book.figures, i.figure, "figure", name, path)


def _calculation(book: Book, c: Calculation, name: str, path: Path) -> Iterator[Problem]:
    broken = list(_function(c.by, c.asks, name, path))
    yield from broken
    if not broken:
        told = fields(c.by)
        names = [g.name for g in c.gives]
        if told is None and len(names) != 1:
            yield Problem(name, (*path, "gives"), f"{c.by} gives one figure", "one entry")
        for wrong in [n for n in names if told is not None and n not in told]:
            yield Problem(name, (*path, "gives"), f"{c.by} does not give '{wrong}'", ", ".join(told or ()))
    for key, asked in c.asks.items():
        if asked.figure is not None:
            yield from known(book.figures, asked.figure, "figure", name, (*path, "asks", key))
        if asked.unit is not None:
            yield from _units(asked.unit, asked.takes, f"'{key}'", name, (*path, "asks", key))
        if asked.source is not None:
            yield from source(book, asked.source, name, (*path, "asks", key))
    for gives in c.gives:
        for unit in () if gives.word else gives.units:
            yield from _units(gives.takes or gives.units[0], unit, f"'{gives.name}'", name, (*path, "gives"))
    for caution in c.cautions:
        yield from known(book.cautions, caution, "caution", name, (*path, "cautions"))
    yield from source(book, c.source, name, path)
    for i, example in enumerate(c.examples):
        at = (*path, "examples", i)
        yield from source(book, example.source, name, at)
        for key in example.given:
            yield from known(c.asks, key, "input", name, at)
        for key in example.gives:
            yield from known([g.name for g in c.gives], key, "figure", name, at)
