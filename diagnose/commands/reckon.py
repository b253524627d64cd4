"""The bench's calculator: one named calculation, from numbers with units to a figure with its doubt."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from diagnose.commands.common import console, rules_option, say, width_option
from diagnose.errors import InputError

if TYPE_CHECKING:
    from diagnose.knowledge.book import Book
    from diagnose.knowledge.lists import Calculation


@click.command()
@click.argument("name", required=False)
@click.argument("given", nargs=-1, metavar="[NAME=VALUE]...")
@click.option("--about", is_flag=True, help="Say what it is for, what it asks and what it gives.")
@click.option("--json", "as_json", is_flag=True, help="Print the figures as JSON.")
@rules_option
@width_option
def reckon(name: str | None, given: tuple[str, ...], about: bool, as_json: bool, rules_folder: Path | None, width: int | None) -> None:
    """Work out one figure from what was measured; without a NAME, list what can be worked out.

    What is not given is asked for. Numbers carry their unit, and may carry what they may be off by: "10 L +- 0.2 L".

    \b
    Example:
        diagnose reckon drip-rate drops=20 time="1 minute"
    """
    from diagnose.knowledge.load import load_rules
    from diagnose.show.reckonpage import about_page, list_page

    book, out = load_rules(rules_folder), console(width)
    if name is None:
        list_page(book, out.width).write(out)
        return
    calculation = _named(name, book)
    if about:
        about_page(calculation, book, out.width).write(out)
        return
    _make(calculation, _pairs(given), book, as_json, width)


def _make(calculation: Calculation, given: dict[str, str], book: Book, as_json: bool, width: int | None) -> None:
    import dataclasses
    import json

    from diagnose.reckon.run import reckon as reckon_
    from diagnose.show.reckonpage import reckon_page

    if sys.stdin.isatty() and not as_json:
        given = _ask(calculation, given, width)
    done = reckon_(calculation, given)
    if as_json:
        click.echo(json.dumps(dataclasses.asdict(done), indent=2, ensure_ascii=False))
        return
    out = console(width)
    reckon_page(done, calculation, book, out.width).write(out)


def _named(name: str, book: Book) -> Calculation:
    from diagnose.knowledge.text import did_you_mean

    if name not in book.calculations:
        raise InputError(f"no calculation '{name}'", right=did_you_mean(name, list(book.calculations)) or "diagnose reckon lists them")
    return book.calculations[name]


def _pairs(given: tuple[str, ...]) -> dict[str, str]:
    pairs: dict[str, str] = {}
    for text in given:
        name, equals, value = text.partition("=")
        if not equals:
            raise InputError(f"'{text}' has no equals sign", right='name="number unit"')
        key = name.strip().replace("-", "_")
        if key in pairs:
            raise InputError(f"'{name}' is given twice")
        pairs[key] = value
    return pairs


def _ask(calculation: Calculation, given: dict[str, str], width: int | None) -> dict[str, str]:
    """Ask a person for what is missing, and once more for what cannot be used."""
    from diagnose.reckon.run import missing, read
    from diagnose.show.reckonpage import question

    out = console(width)
    for name in missing(calculation, given):
        asked = calculation.asks[name]
        question(asked, out.width).write(out)
        while name not in given:
            typed: str = click.prompt(f"  {name.replace('_', ' ')}", prompt_suffix=": ")
            try:
                read(name, asked, typed)
            except InputError as error:
                say(error)
            else:
                given[name] = typed
    return given
