"""What it all rests on: what was assumed, the scope, the sources by kind, the version of the rules, the rules fired; and who signs."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from diagnose.assessment import Assessment, Firing
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import Source, SourceKind
from diagnose.show.report.blocks import Block, Cell, Facts, Items, Line, Para, Section, Signatures, Table, line
from diagnose.show.report.cautions import cautions_used
from diagnose.show.report.evidence import number_of
from diagnose.show.report.particulars import Particulars
from diagnose.show.report.telling import opened, with_units
from diagnose.show.words import plural
from diagnose.wording import mid_sentence

KINDS: dict[SourceKind, str] = {
    "published": "Published", "common-practice": "Common practice of the trade", "memory": "From memory",
    "computed": "Computed",
}
ORIGINS: dict[SourceKind, str] = {
    "published": "Publication", "common-practice": "Source", "memory": "Believed to stand in; not opened", "computed": "Computed by",
}
CHAINS = {"arrangement": "what is on this boat", "findings": "from what was seen", "conclusions": "from how likely it is"}
_OBSERVATION = re.compile(r"\[(o\d+)\]")
"""How the trace names an observation."""


@dataclass(frozen=True)
class Statement:
    """One statement of the book that this report leans on: what it is, and where it comes from."""

    kind: str
    title: str
    source: Source


def assumed(a: Assessment) -> Section:
    """Everything that was taken to be so because nobody said."""
    if not a.assumed:
        return Section("assumed", "What was assumed", (Para(line("Nothing.")),))
    lead = Para(line("Nobody said these, so they were taken to be so. If one is wrong, say it in the case and judge again."))
    items = tuple(line(with_units(text)) for text in a.assumed)
    return Section("assumed", "What was assumed", (lead, Items(items, narrow=True)))


def scope(a: Assessment) -> Section:
    """Which systems the book judges, and which it does not."""
    rows: list[tuple[str, Line]] = [("Judged", line(", ".join(s.lower() for s in a.scope.judged)))]
    rows.append(("Not judged", line(", ".join(s.lower() for s in a.scope.not_judged) or "none of the systems the book lists")))
    return Section("scope", "Scope", (Facts(tuple(rows)),))


# ------------------------------------------------------------------ sources


def statements(a: Assessment, book: Book) -> tuple[Statement, ...]:
    """The statements of the book used in this assessment, each once: signs, faults and how often they begin, checks, work, cautions,
    rules, looks."""
    found = [*_of_signs(a, book), *_of_faults(a, book), *_of_actions(a, book)]
    for firing in a.trace:
        rule = book.rules.get(firing.rule)
        if rule is not None:
            found.append(Statement("rule", rule.title or rule.id.replace("-", " "), rule.source))
    lines = {look.id: look for look in book.look_over.looks}
    found += [Statement("look before departure", look.title, lines[look.id].source) for look in a.look_over
              if look.id in lines and (look.owed or look.state in ("made", "found something"))]
    return tuple(dict.fromkeys(found))


def _of_signs(a: Assessment, book: Book) -> Iterator[Statement]:
    for seen in a.observations:
        symptom = book.symptoms.get(seen.symptom)
        if symptom is not None:
            yield Statement("sign", symptom.title, symptom.source)
            if symptom.leak is not None and symptom.leak.source is not None:
                yield Statement("rate of a leak", symptom.title, symptom.leak.source)
    for reading in a.readings:
        if reading.reading in book.readings:
            yield Statement("reading", reading.title, book.readings[reading.reading].source)
    numbers = [number for working in a.workings for number in working.numbers]
    for figure in book.boat.figures:
        if any(f"({mid_sentence(figure.title)})" in number for number in numbers):
            yield Statement("figure of the engine", figure.title, figure.source)


def _of_faults(a: Assessment, book: Book) -> Iterator[Statement]:
    for ranked in a.ranking:
        fault = book.faults.get(ranked.fault)
        if fault is None:
            continue
        yield Statement("fault", fault.title, fault.source)
        yield Statement("how often it begins", fault.title, fault.rate.source)
        if fault.ages_with is not None:
            yield Statement("how it ages", fault.title, fault.ages_with.life.source)
        for link in fault.shows:
            if link.source is not None:
                yield Statement("how it shows", fault.title, link.source)


def _of_actions(a: Assessment, book: Book) -> Iterator[Statement]:
    for check in a.checks:
        if check.check in book.checks:
            yield Statement("check", check.title, book.checks[check.check].source)
    for fix in a.fixes:
        if fix.job in book.jobs:
            yield Statement("work", fix.title, book.jobs[fix.job].source)
    for name in cautions_used(a):
        if name in book.cautions:
            yield Statement("caution", book.cautions[name].title, book.cautions[name].source)


def sources(a: Assessment, book: Book) -> Section:
    """The statements used, counted and listed by the kind of their source."""
    used = statements(a, book)
    counts = ", ".join(f"{sum(s.source.kind == kind for s in used)} {words[0].lower()}{words[1:]}" for kind, words in KINDS.items())
    lead = Para(line(f"This report leans on {plural(len(used), 'statement')} of the book: {counts}."))
    parts = []
    for kind, words in KINDS.items():
        own = [s for s in used if s.source.kind == kind]
        if own:
            parts.append(Section(f"sources-{kind}", f"{words} ({len(own)})", _listed(own, book)))
    return Section("sources", "Sources", (lead,), tuple(parts))


def _listed(own: Sequence[Statement], book: Book) -> tuple[Block, ...]:
    """The statements of one kind of source: by what they are, or, where the source names something, by that."""
    origins = sorted({_origin(s.source, book) for s in own})
    if origins == [""]:
        return (Facts(tuple((kind, line(titles)) for kind, titles in _used_for(own))),)
    rows = []
    for origin in origins:
        uses = _used_for([s for s in own if _origin(s.source, book) == origin])
        rows.append((line(origin), line(". ".join(f"{kind}: {titles}" for kind, titles in uses))))
    return (Table("Each with what it is used for", (ORIGINS[own[0].source.kind], "Used for"), tuple(rows)),)


def _used_for(own: Sequence[Statement]) -> list[tuple[str, str]]:
    """Kinds of statement, each with the titles of its entries."""
    by_kind: dict[str, list[str]] = {}
    for statement in own:
        by_kind.setdefault(statement.kind, []).append(mid_sentence(statement.title))
    return [(opened(kind), "; ".join(dict.fromkeys(titles))) for kind, titles in by_kind.items()]


def _origin(source: Source, book: Book) -> str:
    """The publication, the belief or the function that a source names; nothing for common practice."""
    if source.kind == "published":
        publication = book.sources.get(str(source.ref))
        if publication is None:
            return str(source.ref)
        place = f", {source.where}" if source.where else ""
        opened = f" (opened {publication.opened})" if publication.opened is not None else ""
        note = f"; {publication.note}" if publication.note else ""
        return f"{publication.what}, {publication.edition}{place}{opened}{note}"
    if source.kind == "memory":
        return str(source.believed)
    return str(source.computed) if source.kind == "computed" else ""


# ------------------------------------------------------------------ rules


def rules(a: Assessment, book: Book) -> Section:
    """The version and digest of the rules, and each rule that fired with what it used, what it made and why."""
    rows: list[tuple[str, Line]] = [
        ("Rules", line(f"version {a.rules.version}")),
        ("Digest of their text (SHA-256)", line(a.rules.digest)),
        ("Chained by", line(a.engine)),
    ]
    if book.digest != a.rules.digest:
        rows.append(("Printed with", line(f"rules version {book.version}, digest {book.digest}: titles and reasons are theirs")))
    blocks: list[Block] = [Facts(tuple(rows))]
    if a.trace:
        blocks.append(Table("Rules that fired, in order", ("Rule", "From", "It made", "Because"),
                            tuple(_fired(firing) for firing in a.trace)))
    else:
        blocks.append(Para(line("No rule fired.")))
    blocks.append(Para(line("Rules stop, limit and advise. They never make a fault likelier: each observation weighs once."), "small"))
    return Section("rules", "Rules", tuple(blocks))


def _fired(firing: Firing) -> tuple[Cell, ...]:
    used = _OBSERVATION.sub(lambda match: f"(no. {number_of(match[1])})", "; ".join(firing.used))
    seen = ", ".join(number_of(o) for o in firing.observations)
    origin = "" if not seen or "(no. " in used else f" (no. {seen})"
    made = "; ".join(firing.made) + (f": {firing.say}" if firing.say else "")
    return line(f"{firing.rule}, {CHAINS[firing.chain]}"), line(used + origin), line(made), line(firing.why)


def signatures(a: Assessment, about: Particulars) -> Section:
    """Space to sign: who saw it, who decided, who did the work, who watched."""
    observers = about.seen_by or ", ".join(dict.fromkeys(s.by for s in a.observations if s.by))
    rows = (("Seen by", observers), ("Decided by", about.decided_by or ""), ("Done by", about.done_by or ""),
            ("Witness", about.witness or ""))
    return Section("signatures", "Signatures", (Signatures(rows),))
