"""A report as Markdown (CommonMark with pipe tables): the same sections in the same words, figures as their sentences and tables.

Every sign that could be read as markup is escaped, in the words of people and of the book alike.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from diagnose.assessment import Assessment
from diagnose.knowledge.book import Book
from diagnose.knowledge.lists import Term
from diagnose.show.report.blocks import Block, Document, Facts, Figure, Items, Line, Para, Pictures, Section, Signatures, Table
from diagnose.show.report.document import document
from diagnose.show.report.particulars import Particulars
from diagnose.show.words import literal

_SIGNS = re.compile(r"([\\`*_{}\[\]<>&|~$#^=@!])")
_SCHEME = re.compile(r"(?i)(?<=[a-z]):(?=//)")
_WORLD = re.compile(r"(?i)\b(www)\.")
_START = re.compile(r"^(\s*)(\d+)([.)])|^(\s*)([-+:])")


def report_markdown(a: Assessment, book: Book, about: Particulars | None = None, *, terms: Sequence[Term] = ()) -> str:
    """The report of one assessment as Markdown; see `diagnose.show.report.html.report_html`."""
    return markdown_of(document(a, book, about or Particulars(), terms))


def markdown_of(doc: Document) -> str:
    """A composed report as Markdown."""
    lines = [f"*{escaped(doc.head)}*", "", f"# {_line(doc.title)}", ""]
    for section in doc.sections:
        lines += _section(section, 2)
    return "\n".join((*lines, "---", "", _start(escaped(doc.foot)), ""))


def escaped(text: str) -> str:
    """Text in which nothing is read as markup: signs escaped, line breaks and controls made harmless."""
    shown = " ".join(literal(text).split())
    shown = _SIGNS.sub(r"\\\1", shown)
    return _WORLD.sub(r"\1\\.", _SCHEME.sub(r"\\:", shown))


def _start(text: str) -> str:
    """Text at the start of a line, where a figure with a point, a dash or a plus would open a list."""
    return _START.sub(lambda m: f"{m[2]}\\{m[3]}" if m[2] is not None else f"\\{m[5]}", text)


def _line(of: Line) -> str:
    parts = []
    for span in of:
        text = escaped(span.text)
        # outer blanks are kept, for spans follow one another within a sentence
        left, right = " " * span.text[:1].isspace(), " " * (span.text[-1:].isspace() and bool(text))
        if span.kind in ("strong", "term") and text:
            mark = "**" if span.kind == "strong" else "*"
            parts.append(f"{left}{mark}{text}{mark}{right}")
        elif span.kind == "note":
            parts.append(f" “{text}”")
        else:
            parts.append(f"{left}{text}{right}")
    return "".join(parts).strip()


def _section(section: Section, level: int) -> list[str]:
    lines = [f"{'#' * level} {escaped(section.title)}", ""]
    for block in section.blocks:
        lines += [*_block(block), ""]
    for part in section.parts:
        lines += _section(part, level + 1)
    return lines


def _block(block: Block) -> Iterator[str]:
    if isinstance(block, Para):
        text = _line(block.line)
        yield f"**{text}**" if block.role in ("word", "lead") else _start(text)
    elif isinstance(block, Items):
        for i, item in enumerate(block.items):
            yield f"{f'{i + 1}.' if block.ordered else '-'} {_start(_line(item))}"
    elif isinstance(block, Facts):
        for name, value in block.rows:
            yield f"- **{escaped(name)}:** {_line(value)}"
    elif isinstance(block, Table):
        yield from _table(block)
    elif isinstance(block, Figure):
        yield from _figure(block)
    elif isinstance(block, Pictures):
        for p in block.pictures:
            yield f"- Photo {p.number}{_line(p.about)} (shown in the HTML form of this report). “{escaped(p.caption)}”"
    else:
        yield from _signatures(block)


def _table(table: Table) -> Iterator[str]:
    yield f"{_start(escaped(table.caption))}:"
    yield ""
    yield _row(escaped(name) for name in table.head)
    yield _row("---" for _ in table.head)
    for row in table.rows:
        yield _row(_line(cell) for cell in row)


def _row(cells: Iterator[str]) -> str:
    return f"| {' | '.join(cells)} |"


def _figure(figure: Figure) -> Iterator[str]:
    yield f"**{escaped(figure.title)}**"
    for part in figure.says:
        yield ""
        yield _start(_line(part))
    if figure.table is not None:
        yield ""
        yield from _table(figure.table)


def _signatures(signatures: Signatures) -> Iterator[str]:
    yield _row(iter(("For", "Name", "Signature", "Date")))
    yield _row(iter(("---",) * 4))
    for role, name in signatures.rows:
        yield _row(iter((escaped(role), escaped(name), "", "")))
