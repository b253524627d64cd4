"""Plain text in a given width: wrapped paragraphs beside a label, the same on a screen and through a pipe."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from dataclasses import dataclass, field

from rich.console import Console
from rich.text import Text

from diagnose.show.words import literal

LABEL = 11
NARROWEST = 20
"""Columns that a text is given at least; where its label leaves fewer, the label stands in a line of its own."""
INDENT = 4
ALARM = "bold dark_orange3"


@dataclass
class Page:
    """Lines of a page, each with its style; written at the end, literally."""

    width: int
    _lines: list[tuple[str, str]] = field(default_factory=list)

    def line(self, text: str = "", style: str = "") -> None:
        """One line as it stands."""
        self._lines.append((text.rstrip(), style))

    def heading(self, text: str, style: str = "bold") -> None:
        """A heading in capitals, wrapped where the page is narrow."""
        for part in textwrap.wrap(literal(text).upper(), self.width):
            self.line(part, style)

    def labelled(self, label: str, text: str, style: str = "", label_width: int = LABEL) -> None:
        """A label at the left, its text wrapped beside it."""
        label_width = max(label_width, len(label) + 1)
        if self.width - label_width < NARROWEST and label:
            self.line(label.rstrip(), style)
            label, label_width = "", INDENT
        room = max(NARROWEST, self.width - label_width)
        for i, part in enumerate(textwrap.wrap(literal(text), room, break_long_words=True) or [""]):
            self.line(f"{label if i == 0 else '':<{label_width}}{part}", style)

    def items(self, label: str, texts: Iterable[str], style: str = "", label_width: int = LABEL) -> None:
        """One wrapped text under another, the label beside the first."""
        for i, text in enumerate(texts):
            self.labelled(label if i == 0 else "", text, style, label_width)

    def rule(self, mark: str = "#") -> None:
        """A line of marks across the page."""
        self.line(mark * self.width, ALARM)

    def write(self, console: Console) -> None:
        """Print the page: no markup is read, and nothing is cut."""
        for text, style in self._lines:
            console.print(Text(text, style=style), overflow="ignore", no_wrap=True, crop=False, highlight=False)

    def text(self) -> str:
        """The page as plain text."""
        return "\n".join(text for text, _ in self._lines) + "\n"
