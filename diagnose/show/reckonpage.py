"""The page of a calculation: what went in, the formula in words, what comes out and how sure, what to mind, whose it is."""

from __future__ import annotations

from diagnose.knowledge.book import Book
from diagnose.knowledge.lists import Asked, Calculation
from diagnose.reckon.run import Figure, Input, Reckoned
from diagnose.show.explain import source_words
from diagnose.show.figures import COVERAGE, digits, value_words
from diagnose.show.layout import ALARM, Page

LABEL = 13
MAIN_SHARE = 0.25
"""An input that brings a quarter of the doubt or more is named."""


def reckon_page(done: Reckoned, calculation: Calculation, book: Book, width: int) -> Page:
    """The page of a calculation that was made."""
    page = Page(width)
    page.heading(calculation.title)
    page.items("  from", [_input_words(given) for given in done.inputs if given.taken is None], label_width=LABEL)
    page.items("  taken", [_input_words(given) for given in done.inputs if given.taken is not None], label_width=LABEL)
    page.labelled("  by", f"{calculation.formula}.".replace("..", "."), label_width=LABEL)
    for figure in done.figures:
        page.labelled("  comes to" if figure is done.figures[0] else "", f"{figure.title}: {figure_words(figure)}", "bold", LABEL)
    doubt = [given.ask for given in done.inputs if given.share >= MAIN_SHARE]
    if doubt:
        page.labelled("  doubt", "most of it comes from: " + " ".join(doubt), label_width=LABEL)
    page.items("  note", calculation.notes, label_width=LABEL)
    for caution in calculation.cautions:
        page.labelled("  caution", f"{book.cautions[caution].title}. {book.cautions[caution].text}", ALARM, LABEL)
    page.labelled("  source", source_words(calculation.source, book), label_width=LABEL)
    return page


def list_page(book: Book, width: int) -> Page:
    """All calculations by family, each with what it is for."""
    page = Page(width)
    for family in book.calculation_lists:
        page.heading(family.title)
        for calculation in family.calculations:
            page.labelled(f"  {calculation.id}", calculation.title, label_width=26)
        page.line()
    page.labelled("", "diagnose reckon NAME asks for what it needs; --about says what that is.", label_width=0)
    return page


def about_page(calculation: Calculation, book: Book, width: int) -> Page:
    """What a calculation is for, what it asks and gives, with an example of somebody else's."""
    page = Page(width)
    page.heading(calculation.title)
    page.labelled("  for", calculation.use, label_width=LABEL)
    for name, asked in calculation.asks.items():
        page.labelled(f"  {name}", f"{asked.ask} {_wanted(asked)}", label_width=max(LABEL, len(name) + 4))
    page.labelled("  by", calculation.formula, label_width=LABEL)
    for gives in calculation.gives:
        page.labelled("  gives", f"{gives.title}" + ("" if gives.word or gives.units == ("1",) else f" [{', '.join(gives.units)}]"),
                      label_width=LABEL)
    page.items("  note", calculation.notes, label_width=LABEL)
    for caution in calculation.cautions:
        page.labelled("  caution", f"{book.cautions[caution].title}. {book.cautions[caution].text}", ALARM, LABEL)
    example = calculation.examples[0]
    page.labelled("  example", f"diagnose reckon {calculation.id} " + " ".join(f'{k}="{v}"' for k, v in example.given.items()), "", LABEL)
    page.labelled("", "gives " + ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in example.gives.items())
                  + f" ({source_words(example.source, book)})", label_width=LABEL)
    page.labelled("  source", source_words(calculation.source, book), label_width=LABEL)
    return page


def question(asked: Asked, width: int) -> Page:
    """The question as a person is asked it: what is wanted, and the choices a line each."""
    page = Page(width)
    page.labelled("", asked.ask if asked.choices is not None else f"{asked.ask} {_wanted(asked)}", label_width=0)
    widest = max((len(key) for key in asked.choices or ()), default=0)
    for key, text in (asked.choices or {}).items():
        page.labelled(f"    {key}", text, label_width=widest + 6)
    return page


def _wanted(asked: Asked) -> str:
    if asked.choices is not None:
        words = "; ".join(f"{key} = {text}" for key, text in asked.choices.items())
    else:
        assert asked.possible is not None
        several = "several, with blanks between, " if asked.series else ""
        words = f"{several}from {asked.possible[0]:g} to {asked.possible[1]:g} {asked.unit}".removesuffix(" 1")
    if asked.default is not None:
        unit = f" {asked.unit}" if asked.unit not in (None, "1") else ""
        default = asked.default if isinstance(asked.default, str) else f"{asked.default:g}{unit}"
        words += f"; if left out {default}. {asked.why or ''}".rstrip()
    elif asked.optional:
        words += "; may be left out"
    return f"({words})"


def _input_words(given: Input) -> str:
    spread = f" ± {digits(COVERAGE * given.sigma, given.sigma * COVERAGE)}" if given.sigma > 0 else ""
    taken = f". {given.taken}" if given.taken else ""
    return f"{given.ask} {given.text}{spread}{taken}"


def figure_words(figure: Figure) -> str:
    """A figure with its interval, in each of its units; or its word, with the words that were nearly it."""
    if figure.word is not None:
        others = f" (or, within what the readings can tell: {', '.join(figure.or_else)})" if figure.or_else else ""
        return f"{figure.word}{others}"
    nearly = " (or, within what the readings can tell, none)" if figure.or_else else ""
    return ", or ".join(value_words(told.value, told.below, told.above, told.unit) for told in figure.values) + nearly
