"""A report as one HTML file: no network, no scripts, every text escaped, and a policy that forbids whatever is not in the file."""

from __future__ import annotations

import base64
import hashlib
import string
from collections.abc import Sequence
from functools import lru_cache
from importlib.resources import files
from typing import Literal

import jinja2

from diagnose.assessment import Assessment
from diagnose.knowledge.book import Book
from diagnose.knowledge.lists import Term
from diagnose.show.report.blocks import Document
from diagnose.show.report.document import document
from diagnose.show.report.particulars import Particulars
from diagnose.show.words import literal

Paper = Literal["A4", "Letter"]
PAPERS: tuple[Paper, ...] = ("A4", "Letter")
_PLAIN = frozenset(string.ascii_letters + string.digits + " .,:-")


def report_html(a: Assessment, book: Book, about: Particulars | None = None, *, terms: Sequence[Term] = (), paper: Paper = "A4") -> str:
    """The report of one assessment as an HTML page.

    Args:
        a: the assessment.
        book: the book it was made with.
        about: what is known around it; by default nothing.
        terms: words of the trade to explain where they first appear.
        paper: the sheet it is printed on.
    """
    return html_of(document(a, book, about or Particulars(), terms), paper)


def html_of(doc: Document, paper: Paper = "A4") -> str:
    """A composed report as an HTML page; see `report_html`."""
    css = f"\n{_sheet(doc, paper)}{_read('page.css')}"
    digest = base64.b64encode(hashlib.sha256(css.encode()).digest()).decode()
    policy = f"default-src 'none'; img-src data:; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    return _template().render(doc=doc, css=css, policy=policy) + "\n"


@lru_cache(maxsize=1)
def _template() -> jinja2.Template:
    """The page with its gaps: everything put in is escaped but the style and the drawings, which are made here."""
    made = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    made.filters["shown"] = literal
    return made.from_string(_read("page.html"))


def _read(name: str) -> str:
    return files(__package__ or "diagnose.show.report").joinpath(name).read_text(encoding="utf-8")


def _sheet(doc: Document, paper: Paper) -> str:
    """The rules of the printed sheet, whose foot names the case and counts the pages."""
    return (
        f"@page {{ size: {paper}; margin: 15mm 15mm 18mm; "
        f"@bottom-left {{ content: {css_string(doc.foot)}; font: 8pt sans-serif; color: #1a1a1a; }} "
        "@bottom-right { content: \"Page \" counter(page) \" of \" counter(pages); font: 8pt sans-serif; color: #1a1a1a; } }\n"
    )


def css_string(text: str, most: int = 110) -> str:
    """Text as a string of a style sheet: every sign but plain letters, figures and a few marks is written by its number.

    Args:
        text: any text.
        most: signs kept; what is longer is cut off, which is said by dots.
    """
    whole = literal(text)
    cut = whole if len(whole) <= most else f"{whole[: most - 3].rstrip()}..."
    return '"' + "".join(c if c in _PLAIN else f"\\{ord(c):06x}" for c in cut) + '"'
