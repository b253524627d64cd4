"""Checks worth making next, with why this one now and why not the others; checks made and not made."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.assessment import Assessment, LookState, Result, SuggestedCheck
from diagnose.knowledge.book import Book
from diagnose.show.nextlook import COUNTED, why_not, why_now
from diagnose.show.report.blocks import Block, Cell, Facts, Items, Line, Para, Section, Table, intro, line, strong
from diagnose.show.report.cautions import caution_lines
from diagnose.show.report.telling import opened
from diagnose.show.words import SHORT_STATES, STATES, in_hundred, minutes, plural
from diagnose.wording import mid_sentence


def worth_making(a: Assessment, book: Book) -> Section:
    """The looks worth making, the next one first, each with its cautions before its steps."""
    title = "Checks worth making next"
    if not a.checks:
        owed = any(look.owed for look in a.look_over)
        words = "The look-over that is still owed comes first. No other look would change the answer by enough to be worth its time." \
            if owed else "None. No further look would change the answer by enough to be worth its time."
        return Section("next-checks", title, (Para(line(words)),))
    now = Section("why-now", "Why this one now, and why not the others", _reasons(a, book))
    parts = tuple(_check(check, book, f"check-{i + 1}", i) for i, check in enumerate(a.checks))
    return Section("next-checks", title, (Para(line("First: ", strong(a.checks[0].title), ".")),), (now, *parts))


def _reasons(a: Assessment, book: Book) -> tuple[Block, ...]:
    blocks: list[Block] = [Items(tuple(line(text) for text in why_now(a, book)))]
    others = why_not(a, book)
    if others:
        blocks.append(Facts(tuple((look.title, line(reason)) for look, reason in others)))
    blocks.append(Para(line(f"{COUNTED} Looks that are not listed came out behind these in a first, rougher reckoning."), "small"))
    return tuple(blocks)


def _check(check: SuggestedCheck, book: Book, name: str, place: int) -> Section:
    setups = f", and {minutes(check.setup_minutes)} to get there" if check.setup_minutes else ""
    rows: list[tuple[str, Line]] = [
        ("Takes", line(f"{minutes(check.minutes)} the first time{setups}")),
        ("Engine", line(STATES[check.needs])),
    ]
    rows += [("Before it", line("; ".join(check.setups)))] if check.setups else []
    known = book.checks.get(check.check)
    rows += [("Tools", line(", ".join(known.cost.tools)))] if known is not None and known.cost.tools else []
    blocks: list[Block] = [Facts(tuple(rows))]
    cautions = caution_lines(check.cautions, book)
    if cautions:
        blocks += [intro(strong("Before the first step:")), Items(cautions)]
    blocks += [intro("How:"), Items(tuple(line(step) for step in check.steps), ordered=True)]
    if check.restore:
        blocks += [intro("Put back:"), Items(tuple(line(step) for step in check.restore))]
    if check.results:
        rows_ = tuple(_result(result, book) for result in check.results)
        blocks.append(Table("What it may show, and what that would mean", ("Seen", "Of 100", "Then most likely"), rows_))
    return Section(name, f"{place + 1}. {check.title}", tuple(blocks))


def _result(result: Result, book: Book) -> tuple[Cell, ...]:
    seen = "; ".join(f"{_symptom(name, book)}: {grade.replace('-', ' ')}" for name, grade in result.seen.items())
    first = mid_sentence(book.faults[result.first].title) if result.first in book.faults else result.first
    means = f". {result.means}" if result.means else ""
    return line(seen), line(in_hundred(result.chance)), line(f"{first}, {in_hundred(result.first_probability)} of 100{means}")


def _symptom(name: str, book: Book) -> str:
    return mid_sentence(book.symptoms[name].title) if name in book.symptoms else name


def made_and_not(a: Assessment) -> Section:
    """The look-over before departure: what of it was made, what a go still waits for, and what else was not made."""
    if not a.look_over:
        words = "The book asks for no looks before departure on this boat."
        return Section("made-and-not", "Checks made and not made", (Para(line(words)),))
    made = [look for look in a.look_over if look.state in ("made", "found something")]
    owed = [look for look in a.look_over if look.owed]
    rest = [look for look in a.look_over if look not in made and look not in owed]
    lead = line(f"Of {plural(len(a.look_over), 'look')} before departure on this boat, {len(made)} were made. ",
                "What was looked at beyond them stands under the observations.")
    groups = (("made", "Made", made), ("owed", "Not made, and a go waits for them", owed),
              ("rest", "Not made, and a go does not wait", rest))
    parts = tuple(Section(f"looks-{name}", f"{title} ({len(own)})", (_by_state(own),)) for name, title, own in groups if own)
    return Section("made-and-not", "Checks made and not made", (Para(lead),), parts)


def _by_state(looks: Sequence[LookState]) -> Facts:
    """Looks in one line for each state of the engine, those that found something or are too old marked."""
    marks = {"found something": " (something found)", "stale": " (made too long ago)"}
    return Facts(tuple(
        (opened(words),
         line("; ".join(f"{mid_sentence(look.title)}{marks.get(look.state, '')}" for look in looks if look.needs == state)))
        for state, words in SHORT_STATES.items() if any(look.needs == state for look in looks)))
