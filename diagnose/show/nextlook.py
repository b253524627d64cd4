"""Why this look now, and why not the others: sentences made from the figures of the looks, and from nothing else.

A look's value is what it saves on average over all it may show; its cost is its minutes with the set-up, and what it
spoils or uses up. The difference decides, unless a stop names its own first look or several looks are made in one go.
"""

from __future__ import annotations

from diagnose.assessment import Assessment, SuggestedCheck
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import RESERVED_GRADE
from diagnose.show.words import in_hundred, minutes
from diagnose.wording import mid_sentence

LEAST_EXTRA = 0.5
"""Minutes of cost beyond the time at the engine that are worth a word."""
NEARLY_SURE = 0.9
"""A look that finds nothing this often does not come first for an unlikely fault."""
COUNTED = ("Trouble on the way, work done for nothing and faults left to be found another day are all counted in minutes of delay; "
           "after each result everything is reckoned again.")
"""What the minutes saved are, for a page that has room to say it."""


def cost_of(look: SuggestedCheck) -> float:
    """What a look is counted to cost [min]: its time with the set-up, and what it spoils, uses up or puts at risk."""
    return look.value - look.net


def why_now(a: Assessment, book: Book) -> tuple[str, ...]:
    """Why the first look of an assessment comes now: what puts it first, what it tells, what it saves and takes.

    Returns:
        Sentences; none where no look is worth making.
    """
    if not a.checks:
        return ()
    first = a.checks[0]
    return (_what_puts_first(a, book), f"It tells most about this: {first.why_now}.", *_balance(first, book))


def why_not(a: Assessment, book: Book) -> tuple[tuple[SuggestedCheck, str], ...]:
    """The other looks of an assessment, each with the reason why it does not come first."""
    return tuple((look, _not_first(a, look, book)) for look in a.checks[1:])


def _asking_stop(a: Assessment) -> str | None:
    """What the stop says that names the first look as its own, if one does."""
    return next((hold.say for hold in a.holds if hold.first_look == a.checks[0].check), None)


def _what_puts_first(a: Assessment, book: Book) -> str:
    first, others = a.checks[0], a.checks[1:]
    stop = _asking_stop(a)
    if stop is not None:
        return f"A stop asks for it before anything else: {stop}"
    if first.together_with:
        partners = "; ".join(_title(book, name) for name in first.together_with)
        return f"It is best made in one go with: {partners}. Together they promise more than any one look."
    if not others:
        return "Of the looks weighed it alone is worth its time."
    if all(first.net >= other.net for other in others):
        return "Of the looks weighed it gains most after its own time is taken off."
    return "Looks that would gain more on average are nearly sure to find nothing, so they come after it."


def _title(book: Book, check: str) -> str:
    return mid_sentence(book.checks[check].title) if check in book.checks else check


def _balance(look: SuggestedCheck, book: Book) -> tuple[str, ...]:
    saved = f"{_time(look.value)} of delay" if look.value > 0 else "nothing"
    takes = _time(cost_of(look))
    if look.net <= 0:
        return (f"By itself it would not pay: it saves {saved} on average and takes {takes}.{_extra(look, book)}",)
    return (f"On average it saves {saved} and takes {takes}; the gain is {_time(look.net)}.{_extra(look, book)}",)


def _time(value: float) -> str:
    """Minutes that are an average and no appointment: nothing finer than a minute is told."""
    return "nothing" if value <= 0 else "under 1 min" if value < 0.95 else minutes(max(1.0, value))


def _extra(look: SuggestedCheck, book: Book) -> str:
    """Why a look is counted dearer than its minutes at the engine."""
    over = cost_of(look) - look.minutes - look.setup_minutes
    check = book.checks.get(look.check)
    if over < LEAST_EXTRA or check is None:
        return ""
    why = [f"it takes {minutes(check.cost.wait_minutes)} of waiting"] if check.cost.wait_minutes else []
    why += [f"it uses up: {', '.join(check.uses_up)}"] if check.uses_up else []
    why += ["some things cannot be judged after it"] if check.destroys else []
    why += ["it may itself leave the engine unusable"] if check.strands else []
    return f" That is more than the {minutes(look.minutes + look.setup_minutes)} at the engine, for {' and '.join(why)}." if why else ""


def _not_first(a: Assessment, other: SuggestedCheck, book: Book) -> str:
    first = a.checks[0]
    if other.net <= first.net:
        return f"Not first: {_compared(first, other)}.{_extra(other, book)}"
    gains = f"it would gain more by itself ({_time(other.net)} against {_time(first.net)})"
    if _asking_stop(a) is not None:
        return f"Not first: {gains}, but the stop comes before it."
    nothing = _finds_nothing(other)
    if nothing >= NEARLY_SURE:
        return f"Not first: {gains}, but in {in_hundred(nothing)} of 100 boats with these signs it finds nothing."
    return f"Not first: {gains}, but less than the looks made in one go."


def _finds_nothing(look: SuggestedCheck) -> float:
    """How likely a look is to find all it looks for healthy; the first grade of every scale means that."""
    return sum(result.chance for result in look.results if result.seen and all(grade == RESERVED_GRADE for grade in result.seen.values()))


def _compared(first: SuggestedCheck, other: SuggestedCheck) -> str:
    """What the other saves and takes beside the first, with the word that is true of each pair of figures."""
    parts, sides = [], []
    for verb, one, two in (("saves", other.value, first.value), ("takes", cost_of(other), cost_of(first))):
        mine, theirs = _time(one), _time(two)
        sides.append("" if mine == theirs else "less" if one < two else "more")
        parts.append(f"{verb} as much ({mine})" if not sides[-1] else f"{verb} {sides[-1]} ({mine} against {theirs})")
    # less and less, or more and more: the one speaks for it and the other against
    return f"it {(', but ' if sides[0] and sides[0] == sides[1] else ' and ').join(parts)}"
