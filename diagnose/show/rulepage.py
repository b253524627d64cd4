"""One entry of the rule base as a readable page, with its examples."""

from __future__ import annotations

from collections.abc import Mapping

from diagnose.assessment import KeptLimit
from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.knowledge.component import Given
from diagnose.knowledge.jobs import Job
from diagnose.knowledge.model import Band, Check, Condition, Fault, Named, Rule, Shows, Symptom, Then, When
from diagnose.knowledge.text import did_you_mean
from diagnose.show.explain import source_words
from diagnose.show.layout import Page
from diagnose.show.page import limit_words
from diagnose.show.words import SHORT_STATES, in_hundred, literal, minutes
from diagnose.strengths import exact_weights
from diagnose.underway import asked_by
from diagnose.wording import mid_sentence


def rule_page(book: Book, name: str, width: int) -> Page:
    """The page of any entry; where no id is given, the entries whose titles or people's words for them hold it.

    Raises:
        InputError: nothing is called so, with the nearest id.
    """
    current = book.now_called(name)
    kinds: tuple[Mapping[str, Named | Rule], ...] = (
        book.symptoms, book.conditions, book.faults, book.checks, book.jobs, book.rules, book.events)
    entry = next((kind[current] for kind in kinds if current in kind), None)
    if entry is None:
        found = _called(kinds, name)
        if found:
            return _list(found, name, width)
        known = [n for kind in kinds for n in kind]
        raise InputError(f"'{name}' is not in the book", right=did_you_mean(name, known))
    page = Page(width)
    title = getattr(entry, "title", None) or entry.id
    page.line(f"{title}", "bold")
    page.labelled(type(entry).__name__.lower(), f"{entry.id}   ({entry.status}; {book.files[book.component_of[entry.id].component]})")
    page.labelled("why", entry.why)
    page.labelled("source", source_words(entry.source, book))
    page.line()
    if isinstance(entry, Symptom):
        _symptom(page, book, entry)
    elif isinstance(entry, Condition):
        _shows(page, entry.shows, tuple(entry.grades)[1:])
    elif isinstance(entry, Fault):
        _fault(page, book, entry)
    elif isinstance(entry, Check):
        _check(page, book, entry)
    elif isinstance(entry, Job):
        _job(page, book, entry)
    elif isinstance(entry, Rule):
        page.labelled("when", when_words(book, entry.when) + (", all in one engine state" if entry.same_state else ""))
        _then(page, book, entry.then)
    _examples(page, book, entry.id)
    return page


def _called(kinds: tuple[Mapping[str, Named | Rule], ...], words: str) -> list[Named | Rule]:
    """Entries whose title, or what people say for them, holds these words."""
    wanted = words.lower().replace("-", " ")
    return [entry for kind in kinds for entry in kind.values()
            if any(wanted in said.lower() for said in (entry.title or "", *getattr(entry, "said_as", ())))]


def _list(found: list[Named | Rule], words: str, width: int) -> Page:
    page = Page(width)
    page.line(f"Entries of the book that speak of '{literal(words)}'", "bold")
    for entry in found:
        page.labelled(type(entry).__name__.lower(), f"{entry.id}: {entry.title or entry.id}")
    return page


def when_words(book: Book, when: When) -> str:
    """A condition in words, as one reads it aloud."""
    if when.all is not None:
        return " and ".join(_inner(book, w) for w in when.all)
    if when.any is not None:
        return " or ".join(_inner(book, w) for w in when.any)
    if when.not_ is not None:
        return f"not so that {_inner(book, when.not_)}"
    if when.symptom is not None:
        return _sign_words(book, when)
    if when.fact is not None:
        return f"{book.facts[when.fact].title.lower() if when.fact in book.facts else when.fact} {_test_words(when)}"
    if when.event is not None:
        within = f" within {when.within_hours:g} engine hours" if when.within_hours is not None else ""
        return f"{book.events[when.event].title.lower()}{within}"
    if when.chance is not None:
        return f"{mid_sentence(book.faults[when.chance].title)} is likelier than {in_hundred(when.over or 0.0)} in 100" \
            if when.chance in book.faults else f"{when.chance} is likelier than {in_hundred(when.over or 0.0)} in 100"
    return f"it was concluded: {when.finding}" if when.finding is not None else f"the stop '{when.hold}' stands"


def _inner(book: Book, when: When) -> str:
    text = when_words(book, when)
    return f"({text})" if when.all is not None or when.any is not None else text


def _sign_words(book: Book, when: When) -> str:
    symptom = book.symptoms[str(when.symptom)]
    states = f", {' or '.join(SHORT_STATES[s] for s in when.states)}" if when.states else ""
    before = ", before the work" if when.epoch == "before" else ""
    return f"'{mid_sentence(symptom.title)}' {_test_words(when)}{states}{before}"


def _test_words(when: When) -> str:
    if when.is_ is not None:
        return f"is {when.is_}" if not isinstance(when.is_, bool) else f"is {'so' if when.is_ else 'not so'}"
    if when.one_of is not None:
        return f"is one of {', '.join(map(str, when.one_of))}"
    low = f"is at least {when.at_least}" if when.at_least is not None else ""
    high = f"is below {when.below}" if when.below is not None else ""
    return " and ".join(t for t in (low, high) if t)


def _then(page: Page, book: Book, then: Then) -> None:
    if then.finding is not None:
        page.labelled("then", f"conclude {then.finding}: {then.say}")
    elif then.fact is not None:
        page.labelled("then", f"{then.fact} is {then.is_}")
    elif then.hold is not None:
        page.labelled("then", f"stop ({then.stops}): {then.say}")
        page.labelled("it means", book.words.consequences[then.kind] if then.kind else "")
        page.labelled("lifted by", then.cleared_by or "")
        page.labelled("allowed", then.allowed or "")
        page.labelled("overruled", f"by {then.overridden_by}")
        asked = asked_by(then)
        page.labelled("at sea", asked or "nothing")
    elif then.limit is not None:
        page.labelled("then", f"limit: {limit_words(KeptLimit(limit=then.limit, of=''))}")
    else:
        page.labelled("then", f"say: {then.say}")


def _symptom(page: Page, book: Book, s: Symptom) -> None:
    page.labelled("ask", s.ask)
    page.labelled("judged", ", ".join(s.states))
    for grade, text in s.grades.items():
        said = text if isinstance(text, str) else _band(text, s)
        page.labelled(f"  {grade}", said, label_width=18)
    if s.said_as:
        page.labelled("said as", "; ".join(s.said_as))
    for rival in s.mistaken_for:
        page.labelled("mistaken", f"{rival.what}; told by: {rival.told_by}")
    page.line()
    page.labelled("weights", "of each grade, in decibans (10 db = ten times as likely), by what causes it")
    for owner in book.owners:
        for link in owner.shows:
            if link.symptom == s.id:
                for stage, weights in exact_weights(book, owner, link).items():
                    page.labelled("", f"{owner.id} {stage}: " + ", ".join(f"{g} {w:+.1f}" for g, w in weights.items()), label_width=4)


def _band(band: Band, s: Symptom) -> str:
    unit = s.measure.unit if s.measure else ""
    low = f"from {band.at_least:g}" if band.at_least is not None else ""
    high = f"below {band.below:g}" if band.below is not None else ""
    return f"{low} {high} {unit}".strip() + (f", {band.says}" if band.says else "")


def _shows(page: Page, shows: tuple[Shows, ...], stages: tuple[str, ...]) -> None:
    for link in shows:
        target = link.symptom or link.condition or ""
        states = f" ({', '.join(link.states)})" if link.states else ""
        page.labelled("shows", f"{target}{states}: {link.why}")
        tables = link.by if link.by is not None else {stages[0]: link.at_least or {}}
        for stage, table in tables.items():
            page.labelled("", f"{stage}: " + ", ".join(f"{g} or worse {w}" for g, w in table.items()), label_width=13)


def _fault(page: Page, book: Book, f: Fault) -> None:
    page.labelled("rate", f"{f.rate.per_year:g} a boat-year, spread {f.rate.spread:g}; {source_words(f.rate.source, book)}")
    for stage in f.stages:
        lasts = f"{stage.lasts[0]:g} to {stage.lasts[1]:g} h ({stage.clock})" if stage.lasts else "stays so"
        page.labelled("stage", f"{stage.title}: {lasts}")
    page.labelled("ends in", ", ".join(f"{book.words.consequences[o.kind].lower()} ({o.chance:g})" for o in f.outcomes))
    _shows(page, f.shows, tuple(s.id for s in f.stages))
    for rival in f.told_from:
        page.labelled("told from", f"{rival.fault} by {rival.by}")
    for leads in f.leads_to:
        page.labelled("leads to", f"{leads.fault} ({leads.chance:g}): {leads.why}")
    for job in book.jobs_for.get(f.id, ()):
        page.labelled("cured by", f"{job.id}, {minutes(job.minutes.first_time)}")


def _check(page: Page, book: Book, c: Check) -> None:
    page.labelled("tells", ", ".join(c.tells))
    page.labelled("needs", ", ".join([c.needs.engine_state, *c.needs.setups]))
    page.labelled("costs", f"{minutes(c.cost.minutes)}, the first time {minutes(c.cost.first_time)}; "
                  f"tools: {', '.join(c.cost.tools) or 'none'}; mess: {c.cost.mess}")
    for caution in c.cautions:
        page.labelled("caution", f"{book.cautions[caution].title}. {book.cautions[caution].text}")
    page.items("steps", c.steps)
    page.items("put back", c.restore)
    for reading in c.reading:
        page.labelled("reading", f"{', '.join(f'{s}: {g}' for s, g in reading.seen.items())}: {reading.means}")


def _job(page: Page, book: Book, j: Job) -> None:
    page.labelled("cures", ", ".join(j.cures))
    page.labelled("order", ", ".join(book.words.parts[p.part] for p in j.order) or "nothing")
    page.labelled("confirm", "; ".join(j.confirm_before_ordering) or "nothing")
    page.labelled("also look", "; ".join(j.look_while_open) or "nothing")
    page.labelled("takes", f"{minutes(j.minutes.skilled)}, the first time {minutes(j.minutes.first_time)}")
    for caution in j.cautions:
        page.labelled("caution", f"{book.cautions[caution].title}. {book.cautions[caution].text}")
    if j.setups:
        page.labelled("set-ups", "; ".join(book.words.setups[s].title for s in j.setups))
    for i, step in enumerate(j.steps):
        page.labelled(f"step {i + 1}", f"{step.do} ({minutes(step.minutes.first_time)})"
                      + (f" Holds more than one thing: {step.holds_two}" if step.holds_two else ""))
    page.labelled("proof", f"{j.proof.do} Passed when: {j.proof.passes} Failed when: {j.proof.fails}")
    for test in j.proof.tests:
        page.labelled(f"  {test.when}", f"{test.do} Passed when: {test.passes} Failed when: {test.fails}", label_width=16)


def _given(given: str | Given | tuple[Given, ...]) -> str:
    if isinstance(given, str):
        return given
    if isinstance(given, tuple):
        return ", then ".join(_given(one) for one in given)
    told = [str(given.grade if given.grade is not None else given.value)]
    told += [SHORT_STATES[given.state]] if given.state is not None else []
    told += [given.sure.replace("-", " ")] if given.sure is not None else []
    return ", ".join([*told, *(["before the work"] if given.epoch == "before" else [])])


def _examples(page: Page, book: Book, name: str) -> None:
    for component in book.components:
        for e in component.examples:
            about = {e.shown, e.near_miss, *e.given, *e.expect.fires, *(e.expect.holds or ())}
            if name in about:
                page.line()
                kind = "shown" if e.shown == name else "near miss" if e.near_miss == name else "example"
                page.labelled(kind, f"{e.name}: {e.why}")
                given = "; ".join(f"{s}: {_given(g)}" for s, g in e.given.items())
                page.labelled("", given, label_width=13)
