"""Amounts of a job: the worked examples of the calculations come out, facts of the boat go in, and what is wanted is named."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
import workkit as wk

from diagnose.knowledge.book import Book
from diagnose.knowledge.jobs import Job
from diagnose.knowledge.load import load_rules
from diagnose.units import convert, parse_quantity
from diagnose.work.ground import Ground
from diagnose.work.recipes import recipes

SHIPPED = load_rules()
TABLED = ("acid-by-volume", "bolt-torque", "drain-and-replace", "pressure-test", "rust-bath")


@pytest.fixture(scope="module")
def book() -> Book:
    """The small book with the shipped calculations and the figures of an engine that they ask for."""
    small = wk.book()
    return replace(small, calculation_lists=SHIPPED.calculation_lists, boat=small.boat.model_copy(update={"figures": SHIPPED.boat.figures}))


def with_recipe(**recipe: Any) -> Job:
    """A job of one step with a recipe."""
    made = wk.job("bath", ["pump-worn"], steps=[wk.step("mix", 5, recipe={"why": "to mix", **recipe})])
    return Job.model_validate(made)


def ground_of(book: Book) -> Ground:
    """A case on this book."""
    return wk.ground({}, book)


@pytest.mark.parametrize("name", TABLED)
def test_published_examples_come_out(book: Book, name: str) -> None:
    """What a step's recipe gives is what the source of the calculation's own worked example gives."""
    example = book.calculations[name].examples[0]
    line = recipes(ground_of(book), [with_recipe(calculation=name, given=dict(example.given))])[0]
    assert line.wanted == ()
    found = {(a.name, a.unit): a for a in line.amounts}
    for figure, text in example.gives.items():
        amounts = [a for (n, _), a in found.items() if n == figure]
        assert amounts
        if amounts[0].word is not None:
            assert text in amounts[0].word
        else:
            a = amounts[0]
            wanted = parse_quantity(text, a.unit, what=figure, possible=(-1e12, 1e12)) if a.unit != "1" else float(text)
            assert a.value == pytest.approx(wanted, rel=example.within)


def test_facts_of_the_boat_go_in(book: Book) -> None:
    """A volume that is a fact of the boat is filled in with its unit; taken from the book it is said so, told by the owner it is not."""
    job = with_recipe(calculation="acid-by-volume", facts={"volume": "header-reserve"}, given={"strong": "80 %", "wanted": "10 %"})
    taken = recipes(ground_of(book), [job])[0]
    assert taken.given["volume"] == "0.6 L"
    assert any("0.6 L" in text for text in taken.taken)
    own = recipes(ground_of(book), [job], {"volume": "8 L"})[0]
    # one part in eight of the strong to make a tenth out of eight tenths: 1 L in 8 (rule of mixing, by hand)
    strong = next(a for a in own.amounts if a.name == "strong")
    assert convert(float(strong.value or 0.0), strong.unit, "L") == pytest.approx(1.0, rel=1e-6)
    assert not any("0.6 L" in text for text in own.taken)


def test_what_is_wanted_is_named_and_what_is_impossible_too(book: Book) -> None:
    """Without the volume nothing is worked out and the question is passed on; an impossible share is told and not computed."""
    line = recipes(ground_of(book), [with_recipe(calculation="acid-by-volume", given={"strong": "80 %", "wanted": "10 %"})])[0]
    assert line.amounts == ()
    assert line.wanted == (book.calculations["acid-by-volume"].asks["volume"].ask,)
    weak = {"strong": "5 %", "wanted": "10 %", "volume": "8 L"}
    wrong = recipes(ground_of(book), [with_recipe(calculation="acid-by-volume", given=weak)])[0]
    assert wrong.amounts == ()
    assert wrong.wanted
