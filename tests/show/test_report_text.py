"""Text of people in a report: shown as it is and never obeyed, in HTML and in Markdown; terms explained, but not inside it."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
import tiny
from conftest import Report, made
from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt
from markdown_it.token import Token
from pagereader import Page

from diagnose.case import Case
from diagnose.knowledge.book import Book
from diagnose.show.report import Deed, Particulars, Photo, Term, report_html, report_markdown
from diagnose.show.report.blocks import Document, Items, Line, Para, Section, Span, line, said
from diagnose.show.report.glossary import explained
from diagnose.show.report.html import css_string, html_of
from diagnose.show.report.markdown import escaped, markdown_of
from diagnose.show.words import literal

HOSTILE = {
    "a script": "<script>alert(1)</script><img src=x onerror=alert(1)><svg onload=alert(1)>",
    "an end of what is open": '"></bdi></td></table></style></title><h1>big</h1><!-- --> ]]>',
    "an entity": "&lt;b&gt; &amp; &#60; &nbsp;",
    "a template": "{{ 7*7 }} {% raw %} {# no #} ${x} %s",
    "markdown": "# head **bold** *soft* `code` [a](http://b.example) ![i](http://c.example/i.png) ~~x~~ | cell | <http://d.example>",
    "a list": "- item",
    "a numbered list": "1. item",
    "a rule": "---",
    "an address": "https://e.example www.f.example",
    "lines": "one\n\n# two\n- three\r\n    four\x0bfive\x85six",
    "controls": "\x1b[31mred\x1b[0m a\x07b\x08c\x7fd\x9be\x00f",
    "reversed": "safe\u202eevil\u2066x\u200f",
    "right to left": "\u05e9\u05dc\u05d5\u05dd \u0645\u0631\u062d\u0628\u0627",
    "a style": "\\3c/style> } body { display: none } @import 'x'; expression(1)",
}


PLAIN = "zqz"
"""A word that stands nowhere else in a report."""


def hostile_case(text: str) -> dict[str, Any]:
    """A case of the tiny book with a text of people wherever one can be."""
    return {
        "title": text,
        "note": text,
        "opened_because": "noticed-something",
        "boat": {"name": text, "engine_hours": 1200, "arrangement": {"pump-drive": "belt"}},
        "events": [{"event": "pump-work", "hours_ago": 3, "note": text}],
        "observations": [
            {"symptom": "pump-weep", "grade": "drip", "state": "cold-stopped", "note": text, "by": text},
            {"symptom": "pump-level-low", "grade": "none", "state": "cold-stopped", "by": text},
        ],
    }


def hostile_about(text: str, report: Report) -> Particulars:
    """Particulars with a text of people wherever one can be."""
    photo = Photo(b"\xff\xd8\xff\xd9", "jpeg", 4, 3, text, "pump-weep")
    return Particulars(
        seen_by=text,
        decided_by=text,
        done_by=text,
        witness=text,
        note=text,
        boat=((text, text),),
        services=((text, text),),
        trip=((text, text),),
        happened=((text, text),),
        own_rates=((text, text),),
        changed=(text,),
        photos=(photo,),
        done=(Deed(text, by=text, cost=text),),
        found=text,
        costs=((text, text),),
        seen_at=report.about.seen_at,
    )


@pytest.fixture(scope="module")
def plain_forms(tiny_book: Book) -> tuple[str, str]:
    """HTML and Markdown of the same case with a plain word in place of every text of people."""
    report = made("plain", Case.model_validate(tiny.case(**hostile_case(PLAIN))), tiny_book)
    about = hostile_about(PLAIN, report)
    return report_html(report.assessment, tiny_book, about), report_markdown(report.assessment, tiny_book, about)


def letters(text: str) -> str:
    """The letters of a text as they may be shown: controls as marks, blanks left out."""
    return "".join(literal(text).split())


@pytest.mark.parametrize("what", HOSTILE)
def test_html_shows_text_and_obeys_none_of_it(what: str, tiny_report: Callable[..., Report], plain_forms: tuple[str, str]) -> None:
    """The page of a hostile text has the same elements and attributes as that of a plain word, and holds the text letter by letter."""
    text = HOSTILE[what]
    report = tiny_report(**hostile_case(text))
    plain, hostile = Page(plain_forms[0]), Page(report_html(report.assessment, report.book, hostile_about(text, report)))
    assert hostile.skeleton == plain.skeleton
    assert hostile.unbalanced == []
    assert hostile.comments == []
    assert "".join(hostile.text.split()).count(letters(text)) >= plain.text.count(PLAIN)
    assert hostile.one("img").attrs["alt"] == literal(text)
    assert [c for c in hostile.text if not c.isprintable()] == []


@pytest.mark.parametrize("what", HOSTILE)
def test_the_style_is_closed_to_text(what: str, tiny_report: Callable[..., Report]) -> None:
    """The foot of the printed sheet holds the title of the case as a string of numbers, which spells the title and ends no style."""
    text = HOSTILE[what]
    report = tiny_report(**hostile_case(text))
    css = "".join(report.page.one("style").texts)
    assert "<" not in css
    string = re.search(r'@bottom-left { content: "([^"]*)"', css)
    assert string is not None
    spelt = re.sub(r"\\([0-9a-f]{6})", lambda m: chr(int(m[1], 16)), string[1])
    whole = literal(f"{text}: {text}. Rules 1.2.3, {report.assessment.rules.digest[:12]}.")
    assert spelt == whole or (spelt.endswith("...") and whole.startswith(spelt[:-3]))
    assert css.count("{") == css.count("}")


def tokens(markdown: str) -> list[Token]:
    """Tokens of CommonMark with tables, as a reader with HTML allowed would see it, those inside lines included."""
    found = []
    for token in MarkdownIt("commonmark", {"html": True}).enable(["table", "strikethrough"]).parse(markdown):
        found.append(token)
        found += token.children or []
    return found


def kinds(read: list[Token]) -> list[str]:
    """The kinds of all tokens but plain text."""
    return [t.type for t in read if t.type not in ("text", "inline", "softbreak", "text_special")]


@pytest.mark.parametrize("what", HOSTILE)
def test_markdown_shows_text_and_obeys_none_of_it(what: str, tiny_report: Callable[..., Report], plain_forms: tuple[str, str]) -> None:
    """The Markdown of a hostile text has the same headings, lists and tables as that of a plain word, no HTML and no links."""
    text = HOSTILE[what]
    report = tiny_report(**hostile_case(text))
    plain, hostile = plain_forms[1], report_markdown(report.assessment, report.book, hostile_about(text, report))
    read = tokens(hostile)
    assert kinds(read) == kinds(tokens(plain))
    obeyed = {"html_block", "html_inline", "link_open", "image", "code_inline", "fence", "s_open"}
    assert {t.type for t in read}.isdisjoint(obeyed)
    shown = "".join("".join(t.content for t in read if t.type in ("text", "text_special")).split())
    assert shown.count(letters(text)) >= plain.count(PLAIN)
    assert not re.search(r"(?i)https?://|\bwww\.", hostile)
    assert [c for c in hostile if not c.isprintable() and c != "\n"] == []


def page_of(title: Span, paragraph: Line) -> str:
    """The Markdown of a title, a paragraph, and a list with the title in it."""
    section = Section("s", "S", (Para(paragraph), Items((line(title),))))
    return markdown_of(Document("head", line(title), "go", (section,), "foot"))


@given(st.text(max_size=60))
def test_any_text_survives_markdown(text: str) -> None:
    """Whatever stands in a paragraph, a list or a heading comes back from a Markdown reader as the same letters, and as text only."""
    words = f"x{text}x"
    read = tokens(page_of(said(words), line(said(text), "x")))
    assert kinds(read) == kinds(tokens(page_of(said("a"), line("x"))))
    shown = "".join("".join(t.content for t in read if t.type in ("text", "text_special")).split())
    assert shown.count("".join(literal(words).split())) >= 2


@given(st.text(max_size=60))
def test_any_text_survives_html(text: str) -> None:
    """Whatever stands in a paragraph comes back from an HTML reader as the same letters, with no element more."""
    doc = Document("head", line(said(text)), "go", (Section("s", "S", (Para(line(said(f"x{text}x"))),)),), "foot")
    page = Page(html_of(doc))
    assert "".join(page.all("p")[1].text.split()) == "".join(literal(f"x{text}x").split())
    assert [e.tag for e in page.one("main").around] == ["html", "body"]
    assert len(page.all("bdi")) == 1 + bool(text)


@given(st.text(max_size=200))
def test_a_string_of_a_style_ends_where_it_should(text: str) -> None:
    """A text as a string of a style sheet holds no quote, brace or sign of markup, and spells the text or its beginning."""
    string = css_string(text)
    assert re.fullmatch(r'"(?:[A-Za-z0-9 .,:-]|\\[0-9a-f]{6})*"', string)
    spelt = re.sub(r"\\([0-9a-f]{6})", lambda m: chr(int(m[1], 16)), string[1:-1])
    assert spelt == literal(text) or (spelt.endswith("...") and len(spelt) <= 110)


def test_escaped_text_is_as_short_as_it_can_be() -> None:
    """Plain words, figures and punctuation are left as they are."""
    for plain in ("Renew the pump, 2.5 h (about).", "4 to 9 mL/h; 60 drops a minute", "It's the owner's"):
        assert escaped(plain) == plain


# ------------------------------------------------------------------ Markdown and HTML say the same


def headings(markdown: str) -> list[tuple[int, str]]:
    """Level and words of each heading of a Markdown text."""
    found = MarkdownIt("commonmark").parse(markdown)
    return [
        (int(t.tag[1]), "".join(c.content for c in (found[i + 1].children or []) if c.type in ("text", "text_special")))
        for i, t in enumerate(found)
        if t.type == "heading_open"
    ]


def test_both_forms_have_the_same_headings(shipped: tuple[Report, ...]) -> None:
    """Read back, the Markdown of every shipped case has the headings of its HTML, in the same order and at the same levels."""
    for report in shipped:
        html = [(int(e.tag[1]), e.text) for e in report.page.all("h1", "h2", "h3", "h4")]
        assert headings(report.markdown) == html, report.name


def test_markdown_is_one_text_without_markup_of_its_own(shipped: tuple[Report, ...]) -> None:
    """The Markdown of every shipped case holds no HTML, and every table row has as many cells as its head."""
    for report in shipped:
        assert not any(t.type.startswith("html") for t in tokens(report.markdown))
        width = None
        for row in report.markdown.splitlines():
            cells = len(re.split(r"(?<!\\)\|", row)) if row.startswith("|") else None
            assert width is None or cells is None or cells == width, row
            width = cells


def test_markdown_leaves_nothing_out(shipped: tuple[Report, ...]) -> None:
    """What matters stands in the Markdown of every shipped case too."""
    from test_report_page import what_matters

    for report in shipped:
        text = " ".join("".join(t.content if t.type in ("text", "text_special") else " " for t in tokens(report.markdown)).split())
        squeezed = "".join(text.split()).lower()
        missing = [part for part in what_matters(report.assessment) if "".join(part.split()).lower() not in squeezed]
        assert missing == [], report.name


# ------------------------------------------------------------------ terms

TERMS = (
    Term(id="weep-hole", term="weep hole", says="a hole that shows a worn seal"),
    Term(id="pump", term="pump", says="it moves water"),
    Term(id="coolant-pump", term="coolant pump", says="it drives the coolant round"),
    Term(id="drip", term="drip", says="a drop that falls", also=("drips",)),
)


def spans(*paragraphs: Any, title: str = "S") -> list[list[tuple[str, str]]]:
    """Kinds and words of the spans of some paragraphs after terms were explained."""
    doc = Document("h", line("t"), "go", (Section("s", title, tuple(Para(line(p)) for p in paragraphs)),), "f")
    return [[(s.kind, s.text) for s in block.line] for block in explained(doc, TERMS).sections[0].blocks if isinstance(block, Para)]


def test_a_term_is_explained_once_where_it_first_appears() -> None:
    """The first time a term is marked and explained in brackets, in whatever case or number; after that it stands alone."""
    first, second = spans("Two Weep Holes, wet.", "The weep hole again.")
    assert first == [
        ("ours", "Two "),
        ("term", "Weep Holes"),
        ("gloss", " (a hole that shows a worn seal)"),
        ("ours", ", wet."),
    ]
    assert second == [("ours", "The weep hole again.")]


def test_the_longest_term_is_the_one_meant() -> None:
    """'Coolant pump' is not taken for 'pump', neither when it is first met nor after it was explained."""
    first, second = spans("A coolant pump.", "The coolant pump, and a pump.")
    assert [text for kind, text in first if kind == "term"] == ["coolant pump"]
    assert [text for kind, text in second if kind == "term"] == ["pump"]
    assert second[0] == ("ours", "The coolant pump, and a ")


def test_a_term_is_a_word_of_its_own() -> None:
    """Parts of longer words, words with a hyphen and owners' forms are left alone."""
    assert spans("A pumping, a pump-kit and the pump's cover.") == [[("ours", "A pumping, a pump-kit and the pump's cover.")]]


def test_no_term_is_explained_in_what_a_person_said() -> None:
    """Text of people and headings keep their letters; the explanation waits for our own words."""
    first, second = spans(said("my pump"), "the pump", title="Pump")
    assert first == [("said", "my pump")]
    assert ("term", "pump") in second


def test_terms_are_marked_in_both_forms(tiny_report: Callable[..., Report]) -> None:
    """In HTML a term is a definition with its words behind it, in Markdown it is set apart with the same words."""
    report = tiny_report(**hostile_case("plain"))
    page = Page(report_html(report.assessment, report.book, report.about, terms=TERMS))
    terms = [e.text.lower() for e in page.all("dfn")]
    assert terms
    assert len(terms) == len(set(terms))
    assert "(it moves water)" in page.text
    assert not [e for e in page.all("dfn") if e.within("h2") or e.within("h3") or e.within("caption") or e.within("bdi")]
    markdown = report_markdown(report.assessment, report.book, report.about, terms=TERMS)
    assert markdown.count("(it moves water)") == 1
    assert re.search(r"\*pumps?\* \(it moves water\)", markdown, re.IGNORECASE)
