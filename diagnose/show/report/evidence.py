"""What was seen, heard, felt and measured; what was looked for and is not there; what nobody looked at; the photos."""

from __future__ import annotations

from diagnose.assessment import Assessment, ReadingLine, SeenLine, Working
from diagnose.knowledge.book import Book
from diagnose.show.page import before_words
from diagnose.show.report.blocks import Block, Cell, Items, Para, Picture, Pictures, Section, Table, intro, line, note, said
from diagnose.show.report.particulars import Particulars, moment
from diagnose.show.report.telling import opened, seen_words, sure_words, with_units
from diagnose.show.words import SHORT_STATES, plural
from diagnose.show.workingwords import result_words
from diagnose.wording import mid_sentence

HEAD = ("No.", "Sign", "What was found", "Engine", "How sure", "By whom and when")
CLEAR_HEAD = ("No.", "Sign", "What was found", "Engine, how sure, by whom")


def number_of(observation: str) -> str:
    """The number under which an observation stands in the report."""
    return observation.removeprefix("o")


def observed(a: Assessment, book: Book, about: Particulars) -> Section:
    """All observations, each with its state, sureness, observer, note and photo; then what was not looked at."""
    worked = worked_out(a)
    found = [s for s in a.observations if s.id not in worked and (not s.clear or s.note or s.epoch == "before")]
    clear = [s for s in a.observations if s.id not in worked and s not in found]
    parts = [Section("found", "Found", _found(found, a, book, about) or _nothing(bool(worked)))]
    if a.readings:
        parts.append(_readings(a.readings))
    if a.workings:
        parts.append(_workings(a))
    parts.append(Section("clear", "Looked, and nothing there", _clear(clear, book, about)))
    parts.append(_not_looked(a))
    if about.changed:
        parts.append(Section("changed", "Answers that were changed", (Items(tuple(line(said(text)) for text in about.changed)),)))
    if about.photos:
        parts.append(Section("photos", "Photos", (Pictures(pictures(a, about)),)))
    lead = Para(line(f"{plural(len(a.observations), 'observation')}. Words in quotes are those of the person who looked."))
    return Section("observed", "What was seen, heard, felt and measured", (lead,), tuple(parts))


def _found(found: list[SeenLine], a: Assessment, book: Book, about: Particulars) -> tuple[Block, ...]:
    if not found:
        return ()
    rows = tuple(_row(seen, a, book, about) for seen in found)
    return (Table("Signs that were found, and whatever was noted", HEAD, rows),)


def _nothing(numbers: bool) -> tuple[Block, ...]:
    return (Para(line("Nothing but the numbers below." if numbers else "Nothing out of order.")),)


def _row(seen: SeenLine, a: Assessment, book: Book, about: Particulars) -> tuple[Cell, ...]:
    before = before_words(a) if seen.epoch == "before" else ""
    shown = [str(p.number) for p in pictures(a, about) if about.photos[p.number - 1].about == seen.symptom]
    photo = f" (photo {' and '.join(shown)})" if shown else ""
    return (
        line(number_of(seen.id)), line(seen.title), line(f"{seen_words(seen, book)}{before}{photo}", note(seen.note)),
        line(SHORT_STATES[seen.state]), line(sure_words(seen.sure)), _who(seen.by, seen.id, about) or line("not said"),
    )


def _who(by: str | None, observation: str, about: Particulars) -> Cell:
    when = about.seen_at.get(observation)
    name = by or about.seen_by
    parts: list[Cell] = [line(said(name))] if name else []
    parts += [line(", " if name else "", moment(when))] if when is not None else []
    return line(*parts)


def _after(mark: str, of: Cell) -> Cell:
    """A line with a mark before it, if there is anything in it."""
    return line(mark, of) if of else ()


def _readings(readings: tuple[ReadingLine, ...]) -> Section:
    rows = tuple(
        (line(r.title), line(with_units(r.seen) + (f" at {r.at_rpm:g} rpm" if r.at_rpm is not None else ""), note(r.note)),
         line(SHORT_STATES[r.state]), line(said(r.by)) if r.by else line("not said")) for r in readings)
    return Section("readings", "Read off instruments",
                   (Table("Numbers out of which signs are worked", ("What", "Reading", "Engine", "By whom"), rows),))


def worked_out(a: Assessment) -> dict[str, Working]:
    """Observations that were not made but worked out of readings: id to the working."""
    made = {(w.symptom, w.state): w for w in a.workings if w.result is not None}
    return {s.id: made[s.symptom, s.state] for s in a.observations if (s.symptom, s.state) in made}


def _workings(a: Assessment) -> Section:
    worked = worked_out(a)
    rows = [(line(number_of(name)), line(w.title), line(result_of(w)), line(SHORT_STATES[w.state])) for name, w in worked.items()]
    rows += [(line("none"), line(w.title), line(result_of(w)), line(SHORT_STATES[w.state])) for w in a.workings if w not in worked.values()]
    lead = Para(line("The sums stand under The arithmetic."))
    return Section("workings", "Worked out of them",
                   (lead, Table("Signs that were worked out of the readings", ("No.", "Sign", "Result", "Engine"), tuple(rows))))


def result_of(working: Working) -> str:
    """What came of a working, with what it may be off by; or why nothing did."""
    if working.result is None:
        return f"not worked out: {working.why_not or 'a reading is missing'}"
    wider = f"; weighed {working.widened:.2g} times as wide, for it shares readings with others" if working.widened > 1.05 else ""
    return with_units(f"{result_words(working)}, {working.says}{wider}")


def _clear(clear: list[SeenLine], book: Book, about: Particulars) -> tuple[Block, ...]:
    if not clear:
        return (Para(line("Nothing was looked for and found in order.")),)
    rows = tuple((line(number_of(s.id)), line(s.title), line(seen_words(s, book).removeprefix("none: ")),
                  line(f"{SHORT_STATES[s.state]}; {sure_words(s.sure)}", _after("; ", _who(s.by, s.id, about)))) for s in clear)
    return (Table("Signs that were looked for and are not there", CLEAR_HEAD, rows),)


def _not_looked(a: Assessment) -> Section:
    owed = [mid_sentence(look.title) for look in a.look_over if look.owed]
    others = sum(look.state in ("not made", "stale") and not look.gates for look in a.look_over)
    blocks: list[Block] = []
    if a.not_seen:
        blocks += [intro("Tried, and could not be seen, or nobody was sure:"), Items(tuple(line(text) for text in a.not_seen))]
    if owed:
        blocks += [intro("Of the look-over before departure, a go still waits for:"), Items(tuple(line(opened(text)) for text in owed))]
    else:
        blocks.append(Para(line("No look that a go waits for is missing.")))
    if others:
        blocks.append(Para(line(f"{plural(others, 'more look')} of the look-over {'was' if others == 1 else 'were'} not made; "
                                "they are listed under Checks made and not made.")))
    return Section("not-looked", "Not looked at", tuple(blocks))


def pictures(a: Assessment, about: Particulars) -> tuple[Picture, ...]:
    """The photos, numbered, each with the observations it belongs to."""
    found = []
    for i, photo in enumerate(about.photos):
        own = [number_of(s.id) for s in a.observations if s.symptom == photo.about]
        about_words = line(f", of no. {' and '.join(own)}") if own else ()
        found.append(Picture(i + 1, photo.uri, photo.width, photo.height, photo.caption, about_words))
    return tuple(found)
