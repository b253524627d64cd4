"""What commands share: options, the cases they name, the page they print on, the exit status of a decision."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from diagnose.errors import DiagnoseError, InputError

if TYPE_CHECKING:
    from rich.console import Console

    from diagnose.assessment import Assessment
    from diagnose.case import Case
    from diagnose.knowledge.book import Book

GATE = {"go": 0, "go with limits": 3, "fix, then go": 4, "stay": 5}
"""Exit status of --gate by decision. 2 is an error, 1 is never used."""
WIDTHS = (60, 120)

rules_option = click.option("--rules", "rules_folder", type=click.Path(path_type=Path), default=None,
                            help="A folder of rules to use instead of the shipped one.")
engine_option = click.option("--engine", type=click.Choice(["durable-rules", "plain"]), default=None,
                             help="Which forward chainer; the results are the same.")
width_option = click.option("--width", type=click.IntRange(40, 200), default=None, help="Columns of the page.")


@contextmanager
def progress(count: int) -> Iterator[Callable[[], None]]:
    """A bar on a terminal's stderr, moved on by calling what it gives."""
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True, disable=not sys.stderr.isatty()) as bar:
        task = bar.add_task("cases", total=count)
        yield lambda: bar.advance(task)


def say(error: DiagnoseError, about: str = "") -> None:
    """The message on stderr, with the case it is about where there are several; what it quotes is shown, not obeyed."""
    from diagnose.show.words import literal

    named = f"{about}: " if about and about not in error.where else ""
    click.echo("\n".join(literal(line) for line in f"diagnose: {named}{error}".split("\n")), err=True)


def judge(name: str, book: Book, **how: Any) -> Assessment:
    """Read and assess one case; an error in it says in which file."""
    return judged(name, book, **how)[1]


def judged(name: str, book: Book, **how: Any) -> tuple[Case, Assessment]:
    """One case as it was read, and its assessment; an error in it says in which file."""
    from diagnose.case import load_case
    from diagnose.triage import assess

    path = case_path(name)
    case = load_case(path)
    try:
        return case, assess(case, book, **how)
    except DiagnoseError as error:
        error.where = f"{path}: {error.where}" if error.where else str(path)
        raise


def case_path(name: str) -> Path:
    """The file named, or the shipped case of that name.

    Raises:
        InputError: neither exists, with the nearest shipped name.
    """
    from diagnose.knowledge.load import shipped
    from diagnose.knowledge.text import did_you_mean

    path = Path(name)
    if path.exists() or path.suffix:
        return path
    folder = shipped("cases")
    found = folder / f"{name}.yaml"
    if found.is_file():
        return found
    known = sorted(p.stem for p in folder.glob("*.yaml"))
    raise InputError("is neither a file nor a shipped case", where=name, right=did_you_mean(name, known) or ", ".join(known))


def fault_named(fault: str, book: Book) -> str:
    """The id of a fault as the book has it now, also by a former one.

    Raises:
        InputError: the book has no such fault, with the nearest id.
    """
    from diagnose.knowledge.text import did_you_mean

    name = book.now_called(fault)
    if name not in book.faults:
        raise InputError(f"fault '{fault}' is not in the book", right=did_you_mean(fault, list(book.faults)))
    return name


def console(width: int | None) -> Console:
    """Where pages are printed: literally, in a width within reason."""
    from rich.console import Console

    made = Console(highlight=False, markup=False, emoji=False, soft_wrap=False)
    made.width = width or min(max(made.width, WIDTHS[0]), WIDTHS[1])
    return made
