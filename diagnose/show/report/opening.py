"""The first sheet: the decision with its time and its end, the stops, what was done about it, and the boat."""

from __future__ import annotations

from diagnose.assessment import Assessment, Hold
from diagnose.knowledge.book import Book
from diagnose.show.page import WORTH_NAMING, title_of
from diagnose.show.report.blocks import Block, Facts, Items, Line, Para, Section, intro, line, said, strong
from diagnose.show.report.particulars import Deed, Pairs, Particulars, moment
from diagnose.show.report.telling import in_100, opened
from diagnose.show.words import in_hundred, minutes
from diagnose.wording import mid_sentence

STOPS = {"run": "Stop her", "start": "Do not start", "leave": "Do not leave", "open": "Do not open"}
NOT_SAID = "not said"


def decision(a: Assessment, about: Particulars) -> Section:
    """May she leave, until when that holds, who decided, and on what it rests."""
    word, _ = title_of(a)
    departure = a.departure
    blocks: list[Block] = []
    if a.under_way is not None:
        blocks += [Para(line(f"Now, under way: {a.under_way.word}"), "word"), Para(line(a.under_way.headline), "lead")]
        blocks += [Items(tuple(line(opened(reason)) for reason in a.under_way.because))] if a.under_way.because else []
        blocks.append(intro("What would be said of her in harbour:"))
    if about.ended:
        blocks += [Para(line("CLOSED"), "word"), Para(line(said(about.ended)), "lead"), intro("Before she leaves next:"),
                   Para(line(strong(word), f". {departure.headline}"))]
    else:
        blocks += [Para(line(word), "word"), Para(line(departure.headline), "lead")]
    blocks.append(Facts((
        ("When", line(_when(about))),
        ("Decided by", _name(about.decided_by)),
        ("Looked by", _name(about.seen_by or _observers(a))),
        ("Holds to", line(f"{departure.holds_until}.")),
    )))
    blocks.append(Para(_chance(a)))
    if departure.because:
        blocks += [intro("Because:"), Items(tuple(line(opened(reason)) for reason in departure.because))]
    if not departure.settled:
        blocks += _unsettled(a)
    if a.limits and a.decision in ("go with limits", "fix, then go"):
        lead = "Keep all of these (numbers and what follows are under Limits):" if a.decision == "go with limits" else \
            "What is left to keep after the work:"
        blocks += [intro(lead), Items(tuple(line(kept.limit.say) for kept in a.limits), ordered=True)]
    if a.advice:
        blocks += [intro("The rules also say:"), Items(tuple(line(text) for text in a.advice))]
    if a.scope.not_judged:
        blocks.append(Para(line(f"Judged: {', '.join(s.lower() for s in a.scope.judged)}. Not judged: "
                                f"{', '.join(s.lower() for s in a.scope.not_judged)}.")))
    return Section("decision", "Decision", tuple(blocks))


def _when(about: Particulars) -> str:
    printed = f"; printed {moment(about.printed_at)}" if about.printed_at is not None else ""
    return f"{moment(about.decided_at) if about.decided_at is not None else 'not said'}{printed}"


def _name(name: str | None) -> Line:
    return line(said(name)) if name else line(NOT_SAID)


def _observers(a: Assessment) -> str:
    """The names that stand beside the observations, each once."""
    return ", ".join(dict.fromkeys(s.by for s in a.observations if s.by))


def _chance(a: Assessment) -> Line:
    """The chance that decides, beside the line for this trip and beside what a sound boat would risk."""
    going, limit = a.departure.going.worst_at_least, a.departure.line
    lost = going.get("engine-lost", 0.0)
    gas = going.get("gas", 0.0)
    breathed = f", {in_hundred(gas)} of them with exhaust gas where people are" if gas >= WORTH_NAMING else ""
    sound = a.departure.on_the_way.worst_at_least.get("engine-lost", 0.0)
    even = f" By these figures, {a.departure.break_even}." if lost >= WORTH_NAMING else ""
    return line(
        "Of 100 boats with these signs, ", strong(f"{in_hundred(lost)} would be without an engine, or worse, before arrival{breathed}"),
        f". The most that this trip allows is {in_hundred(limit.get('engine-lost', 1.0))}. The same boat found sound today would risk "
        f"{in_100(sound)} on the way.{even}")


def _unsettled(a: Assessment) -> list[Block]:
    """What would settle a decision that waits for looks."""
    blocks: list[Block] = []
    if a.departure.so_far != "stay":
        blocks.append(Para(line(f"So far it would be: {a.departure.so_far}, if the looks still owed find nothing.")))
    if a.departure.would_change:
        blocks += [intro("These settle it:"), Items(tuple(line(text) for text in a.departure.would_change))]
    return blocks


def stops(a: Assessment, book: Book) -> Section:
    """Each hard stop: what it forbids, why, what lifts it, what is still allowed, and who may overrule it."""
    if not a.holds:
        return Section("stops", "Stops", (Para(line("None. No rule forbids starting, running, opening or leaving.")),))
    return Section("stops", "Stops", parts=tuple(_stop(hold, book) for hold in a.holds))


def _stop(hold: Hold, book: Book) -> Section:
    rule = book.rules.get(hold.rule)
    rows: list[tuple[str, Line]] = [("Stop", line(strong(hold.say)))]
    if hold.say_under_way:
        rows.append(("At sea", line(hold.say_under_way)))
    rows += [("Why", line(rule.why))] if rule is not None else []
    rows += [
        ("It guards against", line(mid_sentence(book.words.consequences[hold.kind]))),
        ("Lifted by", line(hold.cleared_by)),
        ("Still allowed", line(hold.allowed)),
        ("May be overruled", line(f"by {hold.overridden_by}")),
    ]
    first = book.checks.get(hold.first_look) if hold.first_look is not None else None
    rows += [("First look", line(f"{first.title}, {minutes(first.cost.first_time)}"))] if first is not None else []
    return Section(f"stop-{hold.id}", STOPS[hold.stops], (Facts(tuple(rows)),))


def done(about: Particulars) -> Section:
    """What was done about it, what it was in the end, and what it cost if that is to be shown."""
    blocks: list[Block] = []
    if about.done:
        blocks.append(Items(tuple(_deed(deed) for deed in about.done)))
    if about.found:
        blocks.append(Para(line("What it was in the end: ", said(about.found))))
    if about.costs:
        blocks.append(Facts(_said(about.costs)))
    if not blocks:
        blocks.append(Para(line("Nothing is on record yet.")))
    return Section("done", "What was done about it", tuple(blocks))


def _deed(deed: Deed) -> Line:
    when = "" if deed.when is None else f" {moment(deed.when)}."
    at = "" if deed.engine_hours is None else f" At {deed.engine_hours:g} engine hours."
    parts: list[Line] = [line(said(deed.what), f".{when}{at}")]
    parts += [line(" Done by ", said(deed.by), ".")] if deed.by else []
    parts += [line(" Cost: ", said(deed.cost), ".")] if deed.cost else []
    return line(*parts)


def boat(a: Assessment, about: Particulars) -> Section:
    """The boat, her engine and its hours, the trip in question, and what happened before."""
    rows: list[tuple[str, Line]] = [
        ("Boat", line(said(a.boat))),
        ("Engine hours", line(f"{a.engine_hours:g}") if a.engine_hours is not None else line(NOT_SAID)),
    ]
    rows += [("Opened because of", line(about.opened_because))] if about.opened_because else []
    rows += list(_said(about.boat))
    blocks: list[Block] = []
    if about.invented:
        blocks.append(Para(line(strong("This case is invented: boat, crew, places and readings."))))
    blocks += [Para(line(said(about.note)))] if about.note else []
    blocks.append(Facts(tuple(rows)))
    parts = [Section(name, title, (Facts(_said(pairs)),)) for name, title, pairs in (
        ("services", "Renewed or serviced", about.services),
        ("rates", "How this boat differs from any boat", about.own_rates),
        ("happened", "What happened before", about.happened),
        ("trip", "The trip in question", about.trip or _trip(a))) if pairs]
    return Section("boat", "Boat, engine and hours", tuple(blocks), tuple(parts))


def _trip(a: Assessment) -> Pairs:
    return (("Engine hours", f"{a.trip_hours:g}"), ("How far from help", a.exposure))


def _said(pairs: Pairs) -> tuple[tuple[str, Line], ...]:
    return tuple((name, line(said(value))) for name, value in pairs)

