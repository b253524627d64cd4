"""Terms explained where they first appear: in the words of the book and of this program, never inside what a person typed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from diagnose.knowledge.lists import Term
from diagnose.show.report.blocks import Block, Document, Facts, Figure, Items, Line, Para, Section, Span, Table


def explained(document: Document, terms: Sequence[Term]) -> Document:
    """The document with each term marked where it first appears and explained in brackets behind it.

    Headings, captions, heads of tables and figures are left as they are.
    """
    reader = _Reader(terms)
    return replace(document, sections=tuple(reader.section(section) for section in document.sections))


class _Reader:
    """Reads a document in order and keeps which terms were met; a term met stays known, so that none inside it is taken for another."""

    def __init__(self, terms: Sequence[Term]) -> None:
        self._says = {t.id: t.says for t in terms}
        self._form = {form.lower(): t.id for t in terms for form in (t.term, *t.also)}
        self._met: set[str] = set()
        longest_first = sorted(self._form, key=lambda form: (-len(form), form))
        joined = "|".join(re.escape(form) for form in longest_first)
        self._pattern = re.compile(rf"(?<![\w-])({joined})(?:e?s)?(?![\w'’-])", re.IGNORECASE) if terms else None

    def section(self, section: Section) -> Section:
        """A section with the terms in it marked."""
        blocks = tuple(self.block(block) for block in section.blocks)
        return replace(section, blocks=blocks, parts=tuple(self.section(part) for part in section.parts))

    def block(self, block: Block) -> Block:
        """A block with the terms in it marked."""
        if isinstance(block, Para):
            return replace(block, line=self.line(block.line))
        if isinstance(block, Items):
            return replace(block, items=tuple(self.line(item) for item in block.items))
        if isinstance(block, Facts):
            return replace(block, rows=tuple((name, self.line(value)) for name, value in block.rows))
        if isinstance(block, Table):
            return self.table(block)
        if isinstance(block, Figure):
            says = tuple(self.line(part) for part in block.says)
            return replace(block, says=says, table=self.table(block.table) if block.table is not None else None)
        return block

    def table(self, table: Table) -> Table:
        """A table with the terms in its cells marked."""
        return replace(table, rows=tuple(tuple(self.line(cell) for cell in row) for row in table.rows))

    def line(self, of: Line) -> Line:
        """A line with the terms in it marked."""
        spans: list[Span] = []
        for span in of:
            spans.extend(self._marked(span) if span.kind in ("ours", "strong") else (span,))
        return tuple(spans)

    def _marked(self, span: Span) -> list[Span]:
        if self._pattern is None:
            return [span]
        found, at = [], 0
        for match in self._pattern.finditer(span.text):
            name = self._form[match[1].lower()]
            if name not in self._met:
                self._met.add(name)
                found += [Span(span.text[at : match.start()], span.kind), Span(match[0], "term"), Span(f" ({self._says[name]})", "gloss")]
                at = match.end()
        return [part for part in (*found, Span(span.text[at:], span.kind)) if part.text]
