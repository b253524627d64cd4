"""The order list on a page: what to settle before ordering, then every part by system, with what is aboard and what to buy."""

from __future__ import annotations

from diagnose.knowledge.book import Book
from diagnose.show.layout import Page
from diagnose.show.words import plural
from diagnose.wording import days
from diagnose.work.results import OrderLine, OrderList


def order_page(order: OrderList, book: Book, boat: str, width: int) -> Page:
    """The whole list, to tick off."""
    page = Page(width)
    page.labelled("PARTS", f"{boat}: {plural(len(order.lines), 'part')}, the last that must be there in {days(order.lead_days)}")
    for system in dict.fromkeys(line.system for line in order.lines):
        page.line()
        page.labelled("", book.system_title(system), label_width=1)
        for line in (x for x in order.lines if x.system == system):
            part(line, page)
    page.line()
    page.items("ASK FIRST", order.confirm)
    if not order.lines:
        page.labelled("", "nothing to order")
    return page


def needs(order: OrderList, page: Page, *, short: bool) -> None:
    """What a plan wants before the first bolt; `short` leaves out what is aboard."""
    lines = [line for line in order.lines if line.buy > 0 or not short]
    page.line()
    if not lines:
        page.labelled("ORDER", "nothing to buy: what is used is aboard")
    for i, line in enumerate(lines):
        page.labelled("ORDER" if i == 0 else "", _words(line))
        _variants(line, page)
    page.items("ASK FIRST", order.confirm)


def part(line: OrderLine, page: Page) -> None:
    """One part with a box to tick."""
    page.labelled("  [ ]", _words(line), label_width=6)
    _variants(line, page, 8)


def _words(line: OrderLine) -> str:
    unit = f" {line.unit}" if line.unit else ""
    aboard = f"{line.aboard:g}{unit} aboard" if line.aboard else ""
    buy = f"buy {line.buy:g}{unit}, {days(line.lead_days)}" if line.buy else "nothing to buy"
    kind = "" if line.need == "must" else "nice to have"
    apart = "wanted only if it is bad once apart" if line.only_when_apart else ""
    return f"{line.count:g}{unit} {line.title}: " + "; ".join(t for t in (buy, aboard, kind, apart, *line.notes) if t)


def _variants(line: OrderLine, page: Page, indent: int = 13) -> None:
    if line.variants:
        page.labelled("", f"look-alikes differ in: {'; '.join(line.variants)}", label_width=indent)
