"""What it most likely is: the ranking in words, for and against as a figure, the hours left, what spoke against the rivals."""

from __future__ import annotations

import math

from diagnose.assessment import Assessment, LedgerLine, Ranked
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import Fault
from diagnose.show.page import spoken_for
from diagnose.show.report.blocks import Block, Cell, Figure, Items, Line, Para, Section, Table, intro, line, strong
from diagnose.show.report.evidence import number_of
from diagnose.show.report.figures import MOST_ROWS, Band, Weight, for_and_against, hour_ruler
from diagnose.show.report.particulars import Particulars
from diagnose.show.report.telling import (
    LEAST_LISTED,
    chance_of,
    chance_words,
    factor,
    hours,
    likeliest_stage,
    opened,
    stage_words,
    weight_words,
)
from diagnose.show.words import in_hundred, minutes
from diagnose.wording import mid_sentence

MOST_BANDS = 5
LEAST_CONDITION = 0.2
"""Chance from which a hidden state is named."""
COUNTS = 1.0
"""Decibans from which a line of the ledger is named as speaking for or against; less hardly counts."""
_RIVAL_HEAD = ("Rival", "Against it", "For it", "Before any look, and what parts them")
RELATIONS = (
    "‘With it’: mostly there together with the first. ‘Instead’: mostly there when the first is not. ‘Apart’: it has little to do "
    "with the first. Several may be there at once, so the chances need not add up to 100.")


def named(a: Assessment) -> tuple[Ranked, ...]:
    """The faults that get a row of their own: those that what was seen speaks for, and that are not too unlikely."""
    return tuple(r for r in a.ranking if r.stages and spoken_for(r) and r.probability >= LEAST_LISTED)


def leading(a: Assessment) -> Ranked | None:
    """The first fault of the book that what was seen speaks for."""
    return next((r for r in a.ranking if r.stages and spoken_for(r)), None)


def nearest_rival(a: Assessment, leader: Ranked, book: Book) -> Ranked | None:
    """The fault to set beside the leading one: the first that would be there instead of it, else one the book tells it from, else
    the next that something speaks for."""
    others = [r for r in a.ranking if r.stages and r.fault != leader.fault]
    fault = book.faults.get(leader.fault)
    told = {rival.fault for rival in fault.told_from} if fault is not None else set()
    for fits in (lambda r: r.relation == "instead" and spoken_for(r), lambda r: r.fault in told, spoken_for):
        found = next((r for r in others if fits(r)), None)
        if found is not None:
            return found
    return others[0] if others else None


# ------------------------------------------------------------------ the ranking


def ranking(a: Assessment, book: Book) -> Section:
    """Every line of the ranking: those spoken for in a table, the rest in a list."""
    shown = (*named(a), *(r for r in a.ranking if r.relation == "none of these"))
    rest = [r for r in a.ranking if r not in shown]
    blocks: list[Block] = []
    if not any(r.stages for r in shown):
        blocks.append(Para(line("Nothing that was seen points at a fault in this book.")))
    blocks.append(Table("Of 100 boats with these signs, how many have it", ("What", "Of 100", "Beside the first", "If it is left alone"),
                        tuple(_rank_row(r, book) for r in sorted(shown, key=lambda r: r.place))))
    blocks.append(Para(line(RELATIONS)))
    for unexplained in a.unexplained:
        symptom = book.symptoms.get(unexplained.symptom)
        title = mid_sentence(symptom.title) if symptom is not None else unexplained.symptom
        blocks.append(Para(line(f"Perhaps not theirs: {title}, no. {number_of(unexplained.observation)}. In "
                                f"{in_hundred(unexplained.chance)} of 100 no fault of this book made it.")))
    if rest:
        blocks += [intro("Also weighed, with little or nothing that speaks for them:"),
                   Items(tuple(line(f"{r.title}: {in_hundred(r.probability)} of 100") for r in rest), narrow=len(rest) > 3)]
    return Section("ranking", "What it most likely is", tuple(blocks), _conditions(a, book))


def _rank_row(ranked: Ranked, book: Book) -> tuple[Cell, ...]:
    fault = book.faults.get(ranked.fault)
    stage = stage_words(ranked, fault) if fault is not None else ""
    title: Line = line(strong(ranked.title), f". {opened(stage)}." if stage else "")
    return title, line(chance_words(ranked.probability)), line(ranked.relation), line(ranked.urgency.say)


def _conditions(a: Assessment, book: Book) -> tuple[Section, ...]:
    likely = sorted((-chance, name) for name, chance in a.conditions.items() if chance >= LEAST_CONDITION and name in book.conditions)
    if not likely:
        return ()
    rows = tuple((line(book.conditions[name].title), line(chance_words(-chance))) for chance, name in likely)
    return (Section("conditions", "States behind the signs", (Table("Hidden states, and how likely each is", ("State", "Of 100"), rows),)),)


# ------------------------------------------------------------------ for and against


def weighing(a: Assessment, book: Book) -> Section:
    """The ledger of the leading fault beside its nearest rival, as a figure and in words."""
    leader = leading(a)
    if leader is None:
        nothing = Para(line("Nothing that was seen speaks for a fault, so there is nothing to weigh."))
        return Section("for-and-against", "For and against", (nothing,))
    return Section("for-and-against", "For and against", (_ledger_figure(leader, nearest_rival(a, leader, book)),))


def _ledger_figure(leader: Ranked, rival: Ranked | None) -> Figure:
    weights = _weights(leader, rival)
    title = f"For and against: {leader.title}" + (f", beside {mid_sentence(rival.title)}" if rival is not None else "")
    says = _ledger_words(leader, rival, weights)
    desc = " ".join("".join(span.text for span in part) for part in says)
    drawn = [w for w in weights if max(abs(w.leader), abs(w.rival or 0.0)) >= COUNTS][:MOST_ROWS]
    svg = for_and_against("figure-for-and-against", title, desc, leader.title, rival.title if rival is not None else None, drawn)
    rows: list[tuple[Cell, ...]] = [_ends("Before anything was looked at", leader.ledger.prior, rival.ledger.prior if rival else None)]
    rows += [(line(w.label), *(line(weight_words(x)) for x in (w.leader, w.rival) if x is not None)) for w in weights]
    rows.append(_ends("Now, all together", leader.ledger.posterior, rival.ledger.posterior if rival else None))
    head = ("What was seen", leader.title, *((rival.title,) if rival is not None else ()))
    return Figure("for-and-against-figure", title, svg, says, Table("The same in words", head, tuple(rows)))


def _ends(label: str, leader: float, rival: float | None) -> tuple[Cell, ...]:
    told = tuple(line(f"{in_hundred(chance_of(x))} of 100") for x in (leader, rival) if x is not None)
    return (line(strong(label)), *told)


def _weights(leader: Ranked, rival: Ranked | None) -> tuple[Weight, ...]:
    """One row a group of observations, by how much it moves either of the two; last what counts only together."""
    own = {entry.group: entry for entry in leader.ledger.lines}
    others = {entry.group: entry for entry in rival.ledger.lines} if rival is not None else {}
    found = []
    for group in {**own, **others}:
        entry = own.get(group) or others[group]
        mine = own[group].given_rest if group in own else 0.0
        theirs = (others[group].given_rest if group in others else 0.0) if rival is not None else None
        found.append((-max(abs(mine), abs(theirs or 0.0)), group, _weight(_label(entry), mine, theirs)))
    weights = [weight for _, _, weight in sorted(found, key=lambda row: row[:2])]
    shared = leader.ledger.shared, rival.ledger.shared if rival is not None else None
    if max(abs(x or 0.0) for x in shared) >= COUNTS / 2:
        weights.append(_weight("What counts only together: signs that say the same, or bear each other out", *shared))
    return tuple(weights)


def _weight(label: str, leader: float, rival: float | None) -> Weight:
    return Weight(label, leader, rival)


def _label(entry: LedgerLine) -> str:
    """A group of observations with the numbers under which they stand in the report."""
    numbers = ", ".join(number_of(o) for o in entry.observations)
    return f"{opened(entry.group)} (no. {numbers})"


def _ledger_words(leader: Ranked, rival: Ranked | None, weights: tuple[Weight, ...]) -> tuple[Line, ...]:
    """The sentences of the figure: what speaks most for the first, what against it, and how the rival differs."""
    bars = "Bars to the right speak for a fault, to the left against it; "
    bars += "filled bars are of the first fault, hatched ones of its rival. " if rival is not None else ""
    bars += "‘×20’ means that the odds become twenty times what they were, ‘÷3’ a third."
    bars += " What hardly counts for either is left out of the drawing; the table has it all."
    found = [_told(leader, [(w.label, w.leader) for w in weights])]
    if rival is not None:
        found.append(_told(rival, [(w.label, w.rival or 0.0) for w in weights]))
    return (line(bars), *(line(text) for text in found))


def _told(ranked: Ranked, weighed: list[tuple[str, float]]) -> str:
    most = max(weighed, key=lambda pair: pair[1], default=("", 0.0))
    least = min(weighed, key=lambda pair: pair[1], default=("", 0.0))
    text = f"{ranked.title}: {in_hundred(chance_of(ranked.ledger.prior))} of 100 before anything was looked at, " \
           f"{in_hundred(ranked.probability)} of 100 now."
    text += f" Most for it: {mid_sentence(most[0])}, {factor(most[1])}." if most[1] >= COUNTS else " Nothing seen speaks for it."
    against = f" Most against it: {mid_sentence(least[0])}, {factor(least[1])}." if least[1] <= -COUNTS else ""
    return text + (against or " Nothing seen speaks against it.")


# ------------------------------------------------------------------ hours


def remaining(line_: Ranked, fault: Fault) -> tuple[float, float] | None:
    """Hours until a fault ends, from its likeliest stage: the short ends added up, half of the present stage gone, and the long ends.

    Returns:
        From and to [h], both positive; None where a stage still to come does not move on by itself.
    """
    names = [stage.id for stage in fault.stages]
    name = likeliest_stage(line_)
    if name not in names:
        return None
    spans = [stage.lasts for stage in fault.stages[names.index(name) :]]
    if any(span is None for span in spans):
        return None
    sound = [span for span in spans if span is not None]
    return sum(span[0] for span in sound) - 0.5 * sound[0][0], sum(span[1] for span in sound)


def ruler(a: Assessment, book: Book, about: Particulars) -> Section:
    """The trip against the hours within which each leading fault ends."""
    shown = [(r, book.faults[r.fault]) for r in named(a)[:MOST_BANDS] if r.fault in book.faults]
    if not shown:
        return Section("hours-left", "How long, if it is so", (Para(line("No fault is likely enough to be set against the trip.")),))
    bands = [_band(r, fault, a, about, book) for r, fault in shown]
    says = (line(f"The trip takes {hours(a.trip_hours)} of engine. Dashed lines show where it ends. A band holds nine boats in ten, "
                 "roughly; the scale takes equal steps for equal factors."),
            *(line(_band_words(band)) for band in bands))
    title = "The trip against the hours that each fault leaves"
    svg = hour_ruler("figure-hours", title, " ".join(_band_words(band) for band in bands), a.trip_hours,
                     f"This trip: {hours(a.trip_hours)} of engine", bands)
    return Section("hours-left", "How long, if it is so", (Figure("hours-figure", title, svg, says),))


def _band(ranked: Ranked, fault: Fault, a: Assessment, about: Particulars, book: Book) -> Band:
    found = remaining(ranked, fault)
    name = likeliest_stage(ranked)
    ahead = fault.stages[[s.id for s in fault.stages].index(name) :] if name is not None else fault.stages
    by_clock = any(stage.clock == "always" for stage in ahead)
    end = mid_sentence(book.words.consequences[ranked.urgency.consequence])
    if found is None:
        words = "does not move on by itself"
    else:
        clock = "on the clock, at rest too" if by_clock else "of engine"
        words = f"{hours(found[0])} to {hours(found[1])} {clock}: {end}"
    trip = about.hours_away if by_clock and about.hours_away is not None else a.trip_hours
    return Band(f"{ranked.title} ({in_hundred(ranked.probability)} of 100)", words, found, trip)


def _band_words(band: Band) -> str:
    if band.hours is None:
        return f"{band.label}: it {band.words}, so no hour is set for it."
    if band.hours[1] <= band.trip_hours:
        where = "All of the band lies within the trip."
    elif band.inside:
        where = "The band begins within the trip: it can end on the way."
    else:
        where = "The band begins when the trip is over, or later."
    return f"{band.label}: {band.words}. {where}"


# ------------------------------------------------------------------ rivals


def rivals(a: Assessment, book: Book) -> Section:
    """For each fault that was thought of and is not the first: what speaks against it, and what would part the two."""
    leader = leading(a)
    if leader is None:
        return Section("rivals", "What spoke against the rivals", (Para(line("Nothing points at a fault, so none has rivals.")),))
    fault = book.faults.get(leader.fault)
    told = {rival.fault: rival.by for rival in fault.told_from} if fault is not None else {}
    shown = [r for r in a.ranking if r.stages and r.fault != leader.fault and (r in named(a) or r.fault in told)]
    if not shown:
        return Section("rivals", "What spoke against the rivals", (Para(line("No other fault of the book comes near.")),))
    rows = tuple(_rival(r, leader, told.get(r.fault), book) for r in shown)
    table = Table(f"Set beside the first: {mid_sentence(leader.title)}", _RIVAL_HEAD, rows)
    return Section("rivals", "What spoke against the rivals", (table,))


def _rival(ranked: Ranked, leader: Ranked, by: str | None, book: Book) -> tuple[Cell, ...]:
    against = [entry for entry in ranked.ledger.lines if entry.given_rest <= -COUNTS]
    speaks = [entry for entry in ranked.ledger.lines if entry.given_rest >= COUNTS]
    other = book.faults.get(ranked.fault)
    if by is None and other is not None:
        by = next((rival.by for rival in other.told_from if rival.fault == leader.fault), None)
    check = book.checks.get(by) if by is not None else None
    beside = f"{opened(_commonness(ranked, leader))}."
    beside += f" To part the two: {mid_sentence(check.title)} ({minutes(check.cost.first_time)})." if check is not None else ""
    if ranked.probability > leader.probability:
        beside += " It is likelier than the first, but less than a third of that is owed to what was seen."
    return (
        line(strong(ranked.title), f". {opened(chance_words(ranked.probability))}; {ranked.relation}."),
        line("; ".join(_entry(e) for e in against) or "nothing that was seen"),
        line("; ".join(_entry(e) for e in speaks) or "nothing that was seen"),
        line(beside),
    )


def _entry(entry: LedgerLine) -> str:
    return f"{mid_sentence(_label(entry))}: {weight_words(entry.given_rest)}"


def _commonness(ranked: Ranked, leader: Ranked) -> str:
    """How often it is met on a boat like this with nothing looked at, beside the first."""
    apart = ranked.ledger.prior - leader.ledger.prior
    times = 10.0 ** (abs(apart) / 10.0)
    if times < 1.26 or math.isclose(apart, 0.0):
        beside = "about as common as the first"
    else:
        beside = f"{'commoner' if apart > 0 else 'rarer'} than the first ({factor(apart)})"
    return f"{in_hundred(chance_of(ranked.ledger.prior))} of 100, {beside}"


