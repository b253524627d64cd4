"""The pages of the record: all boats and cases, one boat, one case in full, and what a finding taught."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from diagnose.case import Boat
from diagnose.knowledge.book import Book
from diagnose.record.gamma import Gamma
from diagnose.record.learn import Learned, Learning
from diagnose.record.store import CaseHead, Stored
from diagnose.show.entrywords import clock, day, ended_words, more_of, said_of
from diagnose.show.layout import Page
from diagnose.show.words import literal, plural

MOST_RATES = 6
_WIDE = 16
_FACTS = 26
_KINDS = {"case-opened": "opened", "observed": "seen", "passed-over": "passed", "taken-back": "taken back", "engine-state": "engine",
          "assessed": "judged", "due-set": "due", "moved-on": "went on", "words": "said",
          "work-planned": "planned", "task-ticked": "ticked", "work-done": "through", "proof-made": "test"}


def titles_of(book: Book) -> dict[str, str]:
    """Titles of everything an entry may name, by id."""
    found: dict[str, str] = {**book.words.service_items, **book.words.parts}
    for kind in (book.symptoms, book.checks, book.faults, book.events, book.jobs):
        found.update((name, entry.title) for name, entry in kind.items())
    found.update((old, found[new]) for old, new in book.renamed.items() if new in found)
    return found


def record_page(path: Path, boats: Sequence[Boat], cases: Sequence[CaseHead], judged: Mapping[str, str], count: int, width: int) -> Page:
    """All boats with their cases; `judged` is the last decision of each case that has one."""
    page = Page(width)
    page.labelled("record", f"{path}: {plural(count, 'entry') if count == 1 else f'{count} entries'}", "bold")
    if not boats:
        page.labelled("", "Nothing is in it yet. Begin with: diagnose boat NAME --hours HOURS")
    for boat in boats:
        page.line()
        hers = [c for c in cases if c.boat == boat.name]
        hours = f"{boat.engine_hours:g} engine hours" if boat.engine_hours is not None else "engine hours not known"
        page.labelled("boat", f"{boat.name}: {hours}; {plural(len(hers), 'case')}, {sum(not c.closed for c in hers)} open", "bold")
        for case in hers:
            state, word = ("closed", ended_words(case.ended, case.unproved)) if case.closed else ("open", judged.get(case.id, ""))
            page.labelled("  case", f"{case.id}  {case.title}; {state}, from {day(case.opened)}{f'; {word}' if word else ''}")
    return page


def boat_page(boat: Boat, book: Book, learning: Learning | None, width: int, trouble: str = "") -> Page:
    """One boat as the record knows her; `trouble` is why this book cannot judge her as she is described."""
    page = Page(width)
    hours = f", {boat.engine_hours:g} engine hours" if boat.engine_hours is not None else ", engine hours not known"
    page.labelled("boat", f"{boat.name}{hours}", "bold", label_width=_FACTS)
    page.line()
    for name, value in boat.arrangement.items():
        fact = book.facts.get(name)
        shown = {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)
        if fact is not None and fact.values is not None:
            shown = fact.values.get(str(value), shown)
        page.labelled(literal(name)[:60], f"{fact.title}: {shown}" if fact is not None else shown, label_width=_FACTS)
    for name, figure in boat.figures.items():
        page.labelled(literal(name)[:60], figure, label_width=_FACTS)
    unknown = [f.id for f in book.boat.facts if f.id not in boat.arrangement]
    if unknown:
        page.labelled("not said", ", ".join(unknown), label_width=_FACTS)
    if boat.serviced:
        page.line()
    for item, service in boat.serviced.items():
        ago = boat.engine_hours - service.at_hours if service.at_hours is not None and boat.engine_hours is not None else service.hours_ago
        parts = [f"at {service.at_hours:g} h" if service.at_hours is not None else "",
                 f"{ago:g} engine hours ago" if ago is not None else "",
                 f"on {service.on:%d %B %Y}" if service.on is not None else ""]
        page.labelled("serviced", f"{book.words.service_items.get(item, item)}: {', '.join(p for p in parts if p)}", label_width=_FACTS)
    if trouble:
        page.line()
        page.labelled("with this book", f"she cannot be judged: {trouble}", label_width=_FACTS)
    if learning is not None and learning.own_rates:
        page.line()
        _rates(page, learning, [line for line in learning.lines if line.fault in learning.own_rates][:MOST_RATES])
    return page


def case_page(head: CaseHead, entries: Sequence[Stored], titles: Mapping[str, str], width: int) -> Page:
    """One case, everything that was said in it in the order it was entered."""
    page = Page(width)
    page.labelled("case", f"{head.id}: {head.title}", "bold")
    page.labelled("boat", head.boat)
    state = f"closed, {ended_words(head.ended, head.unproved)}" if head.closed else "open"
    page.labelled("state", f"{state}, from {clock(head.opened)}; {plural(len(entries), 'line')}")
    today = ""
    for stored in entries:
        if day(stored.entry.at) != today:
            today = day(stored.entry.at)
            page.line()
            page.line(today, "bold")
        struck = "  [taken back]" if stored.taken_back else ""
        by = f" ({stored.entry.by})" if stored.entry.by else ""
        kind = _KINDS.get(stored.entry.kind, stored.entry.kind)
        text = f"{said_of(stored.entry, titles)}{by}{struck}"
        label = f"{stored.id:>4} {stored.entry.at.astimezone():%H:%M} {kind}"
        page.labelled(label, text, "dim" if stored.taken_back else "", label_width=22)
        note = more_of(stored.entry)
        if note:
            page.labelled("", f"note: {note}", label_width=22)
    return page


def found_page(said: str, learning: Learning, before: Learning, faults: Sequence[str], width: int) -> Page:
    """What was recorded, and how the rates of this boat move by it."""
    page = Page(width)
    page.labelled("found", said, "bold")
    was = {line.fault: line for line in before.lines}
    _rates(page, learning, [line for line in learning.lines if line.fault in faults], was)
    for text in learning.left_out:
        page.labelled("not counted", text, label_width=_WIDE)
    return page


def _rates(page: Page, learning: Learning, lines: Sequence[Learned], was: Mapping[str, Learned] | None = None) -> None:
    """Base rates before and after, in onsets a boat-year: the mean, and where 90 in 100 lie."""
    whose = learning.boat if len(learning.boats) == 1 else f"all {len(learning.boats)} boats of the record"
    page.labelled("learned", f"from {whose}, {learning.hours:g} engine hours on record, {learning.years:.2g} boat-years", label_width=_WIDE)
    for line in lines:
        here = f"found {plural(line.found, 'time')}, so here {_rate(line.posterior)}"
        page.labelled("  rate", f"{line.title}: any boat {_rate(line.prior)}; {here}", label_width=_WIDE)
        moved = f"; {was[line.fault].factor:g} before" if was is not None and line.fault in was else ""
        page.labelled("", f"{line.factor:g} times the base rate from now on{moved}", label_width=_WIDE)


def _rate(rate: Gamma) -> str:
    low, high = rate.interval
    return f"{rate.mean:.2g} a boat-year on average ({low:.2g} to {high:.2g})"
