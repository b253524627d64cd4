"""What a report is made of, before it is HTML or Markdown: sections of blocks, blocks of lines, lines of spans.

A span says whose words it holds. Words of the book and of this program are `ours` or `strong`; words that a person typed are
`said` or `note` and are never read for anything but their letters. `term` and `gloss` are put in by the glossary.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar, Literal

SpanKind = Literal["ours", "strong", "said", "note", "term", "gloss"]


@dataclass(frozen=True)
class Span:
    """Some words, and what kind of words they are."""

    text: str
    kind: SpanKind = "ours"


SHORT_TABLE = 18
"""Lines on paper of a table that is not broken between two sheets."""
ACROSS = 100
"""Letters across a sheet, about."""

Line = tuple[Span, ...]
Cell = Line


def line(*parts: str | Span | Line) -> Line:
    """A line of spans; a bare text is ours."""
    spans: list[Span] = []
    for part in parts:
        if isinstance(part, tuple):
            spans.extend(part)
        else:
            spans.append(Span(part) if isinstance(part, str) else part)
    return tuple(span for span in spans if span.text)


def strong(text: str) -> Span:
    """Words of ours that must not be overlooked."""
    return Span(text, "strong")


def said(text: str) -> Span:
    """Words that a person typed, inside a sentence."""
    return Span(text, "said")


def note(text: str | None) -> Span:
    """A note of a person, in quotes on a line of its own; nothing where there is none."""
    return Span(text or "", "note")


def plain(of: Line) -> str:
    """The words of a line without their kinds."""
    return "".join(span.text for span in of)


@dataclass(frozen=True)
class Para:
    """A paragraph."""

    kind: ClassVar[str] = "para"
    line: Line
    role: Literal["plain", "word", "lead", "intro", "small"] = "plain"
    """`word` is the decision itself, `lead` the sentence under it; `intro` stays with what follows it."""


def intro(*parts: str | Span | Line) -> Para:
    """A sentence that leads in what follows."""
    return Para(line(*parts), "intro")


@dataclass(frozen=True)
class Items:
    """A list, numbered where the order counts."""

    kind: ClassVar[str] = "items"
    items: tuple[Line, ...]
    ordered: bool = False
    narrow: bool = False
    """Whether the items are short enough to stand in two columns on paper."""


@dataclass(frozen=True)
class Facts:
    """Pairs of a name and what is so."""

    kind: ClassVar[str] = "facts"
    rows: tuple[tuple[str, Line], ...]


@dataclass(frozen=True)
class Table:
    """A table; the first cell of a row heads it."""

    kind: ClassVar[str] = "table"
    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    figures: bool = False
    """Whether its cells hold figures, which are not broken over two lines."""

    @property
    def short(self) -> bool:
        """Whether it is kept on one sheet."""
        room = ACROSS // len(self.head)
        return sum(1 + max(len(plain(cell)) for cell in row) // room for row in self.rows) <= SHORT_TABLE


@dataclass(frozen=True)
class Figure:
    """A drawing, and the sentences that say the same. `svg` is markup made by `figures`, complete with title and description."""

    kind: ClassVar[str] = "figure"
    id: str
    title: str
    svg: str
    says: tuple[Line, ...]
    table: Table | None = None


@dataclass(frozen=True)
class Picture:
    """A photo ready to be shown: its place in the report, the data, its size in pixels, its caption, and what it is about."""

    number: int
    uri: str
    width: int
    height: int
    caption: str
    about: Line


@dataclass(frozen=True)
class Pictures:
    """Photos, each with its caption."""

    kind: ClassVar[str] = "pictures"
    pictures: tuple[Picture, ...]


@dataclass(frozen=True)
class Signatures:
    """Space to sign: what a person vouches for, and the name if it is known."""

    kind: ClassVar[str] = "signatures"
    rows: tuple[tuple[str, str], ...]


Block = Para | Items | Facts | Table | Figure | Pictures | Signatures


@dataclass(frozen=True)
class Section:
    """A part of the report under a heading of its own."""

    id: str
    title: str
    blocks: tuple[Block, ...] = ()
    parts: tuple[Section, ...] = ()

    def walk(self) -> Iterator[Section]:
        """This section and all below it, in the order of the page."""
        yield self
        for part in self.parts:
            yield from part.walk()


@dataclass(frozen=True)
class Document:
    """A whole report: the line above the title, the title, what it is about, its sections, and the foot of each sheet."""

    head: str
    title: Line
    mark: str
    """The kind of the decision, which the frame round it shows: stay, not-yet, fix, limits or go."""
    sections: tuple[Section, ...]
    foot: str

    def walk(self) -> Iterator[Section]:
        """All sections in the order of the page."""
        for section in self.sections:
            yield from section.walk()
