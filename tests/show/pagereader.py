"""A page taken apart with the standard library's parser: elements in order, what stands in them, and whether they close."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

INLINE = {"strong", "bdi", "q", "dfn", "span", "a"}
"""Elements that stand within a sentence; all others part words from one another."""
VOID = {"meta", "img", "br", "hr", "link", "input"}


@dataclass
class Element:
    """One element: its name, attributes, the elements around it, and all text in it."""

    tag: str
    attrs: dict[str, str]
    around: tuple[Element, ...]
    texts: list[str] = field(default_factory=list)

    @property
    def text(self) -> str:
        """All text in it, blanks made one."""
        return " ".join("".join(self.texts).split())

    def within(self, tag: str) -> bool:
        """Whether an element of this name stands around it."""
        return any(e.tag == tag for e in self.around)


class Page(HTMLParser):
    """Reads a page and keeps its elements; closing tags that do not fit are kept in `unbalanced`."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[Element] = []
        self.unbalanced: list[str] = []
        self.declarations: list[str] = []
        self.comments: list[str] = []
        self._open: list[Element] = []
        self.feed(text)
        self.close()
        self.unbalanced += [e.tag for e in self._open]

    def handle_decl(self, decl: str) -> None:
        self.declarations.append(decl)

    def handle_comment(self, data: str) -> None:
        self.comments.append(data)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(tag, {k: v or "" for k, v in attrs}, tuple(self._open))
        self.elements.append(element)
        if tag not in VOID:
            self._part(tag)
            self._open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append(Element(tag, {k: v or "" for k, v in attrs}, tuple(self._open)))

    def handle_endtag(self, tag: str) -> None:
        if self._open and self._open[-1].tag == tag:
            self._open.pop()
            self._part(tag)
        else:
            self.unbalanced.append(f"/{tag}")

    def _part(self, tag: str) -> None:
        """A blank in the text where a block begins or ends."""
        if tag not in INLINE:
            self.handle_data(" ")

    def handle_data(self, data: str) -> None:
        for element in self._open:
            element.texts.append(data)

    def all(self, *tags: str) -> list[Element]:
        """The elements of these names, in order."""
        return [e for e in self.elements if e.tag in tags]

    def one(self, tag: str) -> Element:
        """The only element of a name."""
        (found,) = self.all(tag)
        return found

    @property
    def text(self) -> str:
        """What a reader of the page reads: all text of the body."""
        return self.one("body").text

    @property
    def skeleton(self) -> list[tuple[str, tuple[str, ...], int]]:
        """Elements with the names of their attributes and their depth: what markup in a text would change."""
        return [(e.tag, tuple(sorted(e.attrs)), len(e.around)) for e in self.elements]
