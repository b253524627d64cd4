"""The screen of a guided session: a terminal with its line editing, or a plain pipe."""

from __future__ import annotations

import sys

import click

from diagnose.commands.common import console, say
from diagnose.doing.typed import LEAVE
from diagnose.errors import DiagnoseError
from diagnose.show.layout import Page
from diagnose.show.questionpage import Paged
from diagnose.show.words import literal


class Screen(Paged):
    """Where the session prints and reads lines: a terminal or a plain pipe, the same words on both."""

    def __init__(self, width: int | None) -> None:
        self.console = console(width)
        self.width = self.console.width
        self._typed_here = sys.stdin.isatty()
        if self._typed_here:
            import readline  # noqa: F401
        reconfigure = getattr(sys.stdin, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")

    def show(self, page: Page) -> None:
        """Print a page."""
        page.write(self.console)

    def fault(self, error: DiagnoseError) -> None:
        """The message on stderr."""
        say(error)

    def name_of_the_boat(self) -> str | None:
        """What she is called, asked of a person at a terminal; None where nobody is asked, or nothing was typed.

        Raises:
            click.exceptions.Exit: the person leaves.
        """
        if not self._typed_here:
            return None
        self.say(["What is the boat called? Her record is kept under that name. Enter alone leaves her unnamed, q leaves."])
        name = " ".join((self.ask() or "").split())
        if name.casefold() in LEAVE:
            raise click.exceptions.Exit(0)
        return name or None

    def ask(self) -> str | None:
        """One line as typed, or None at the end of what there is to read."""
        if self._typed_here:
            try:
                return input("> ")
            except EOFError:
                return None
        sys.stdout.write("> ")
        sys.stdout.flush()
        line = sys.stdin.readline()
        if not line:
            return None
        shown = literal(line.rstrip("\n"))
        cut = shown if len(shown) <= self.width - 2 else shown[: self.width - 6] + " ..."
        sys.stdout.write(f"{cut}\n")
        return line
