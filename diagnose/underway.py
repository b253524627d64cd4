"""The answer at sea: stop now; ease and find room; turn back; carry on with limits.

What each answer costs is weighed in hours of delay: the risk while the engine still has to run, and what the answer
itself costs where she is. A hold, or a leak that does not fit, sets the least that must be done; arithmetic may only
ask for more. What a hold asks for at sea stands in the book.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import get_args

from diagnose.assessment import Hold, LeakBudget, UnderWay, UnderWayWord
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import Consequence, Then
from diagnose.network.belief import Belief
from diagnose.network.nodes import Array
from diagnose.prognosis import Course, Prognosis
from diagnose.situation import Situation

WORDS: tuple[UnderWayWord, ...] = get_args(UnderWayWord)
"""The mildest first."""
NO_ROOM = 0.5
"""Lying stopped without room costs this share of losing the engine there: she drifts, and may not start again in time."""
CLOSE = 1.25
"""A harsher answer must be this many times cheaper than a milder one before arithmetic alone asks for it."""
NOT_SAILING = 2.0
"""A boat that cannot sail lies stopped at this many times the cost."""

_AT_SEA: Mapping[str, UnderWayWord] = {"carry-on": "carry on with limits", "turn-back": "turn back", "ease": "ease and find room",
                                       "stop-now": "stop now"}
_BY_WHAT_IT_STOPS: Mapping[str, UnderWayWord] = {"run": "stop now", "start": "stop now", "leave": "turn back"}


def asked_by(then: Then) -> UnderWayWord | None:
    """The least a hold asks for at sea: what the rule says, or what goes with what it stops."""
    if then.under_way is not None:
        return _AT_SEA[then.under_way]
    return _BY_WHAT_IT_STOPS.get(str(then.stops))


def answer(book: Book, situation: Situation, belief: Belief, concern: frozenset[str], losses: Mapping[Consequence, float],
           worst_of_unknown: Mapping[str, Consequence], holds: Sequence[Hold], leaks: Sequence[LeakBudget],
           kept: dict[tuple[object, ...], Array]) -> UnderWay:
    """The answer for an engine that is running now, away from the berth."""
    costs = _costs(book, situation, belief, concern, losses, worst_of_unknown, kept)
    floors = [WORDS.index(h.under_way) for h in holds if h.under_way is not None]
    floors += [WORDS.index("turn back") for leak in leaks if leak.verdict == "does not fit"]
    floor = max(floors, default=0)
    least = min(costs[w] for w in WORDS[floor:])
    # the mildest that is not clearly dearer: a harsher one has to win by a quarter
    word = next(w for w in WORDS[floor:] if round(costs[w], 9) <= round(CLOSE * least, 9))
    said = next((h.say_under_way for h in holds if h.under_way == word and h.say_under_way), None)
    reasons = [h.say for h in holds if h.under_way == word]
    reasons += [f"the leak does not fit the trip: {leak.arithmetic}" for leak in leaks if leak.verdict == "does not fit"]
    reasons.append("in hours of delay, risk included: " + ", ".join(f"{w} {costs[w]:.0f}" for w in reversed(WORDS)))
    return UnderWay(word=word, headline=said or _headline(word, situation), because=tuple(reasons[:4]), costs=costs)


def _costs(book: Book, situation: Situation, belief: Belief, concern: frozenset[str], losses: Mapping[Consequence, float],
           worst_of_unknown: Mapping[str, Consequence], kept: dict[tuple[object, ...], Array]) -> dict[UnderWayWord, float]:
    at_sea = book.words.exposures[situation.exposure].under_way
    trip = situation.case.trip

    def risk(hours: float) -> float:
        """Expected loss of running her for so long, working limits kept."""
        for_so_long = replace(situation, trip_hours=hours, hours_away=hours)
        (risks,), _ = Prognosis(book, for_so_long, losses, worst_of_unknown, kept).risks(belief, [Course(concern, limited=True)])
        return risks.expected

    stopped = at_sea.stopped * (1.0 if situation.can_sail else NOT_SAILING)
    if not trip.room_to_stop:
        stopped = max(stopped, NO_ROOM * losses["engine-lost"])
    return {
        "carry on with limits": risk(situation.trip_hours),
        "turn back": risk(min(trip.shelter_hours or at_sea.shelter_hours, situation.trip_hours)) + at_sea.turned,
        "ease and find room": risk(at_sea.room_hours) + at_sea.eased,
        "stop now": stopped,
    }


def _headline(word: UnderWayWord, situation: Situation) -> str:
    return {
        "stop now": "Stop the engine now. If losing way would put people or boat in danger, idle clear of it first, then stop."
        if situation.case.trip.room_to_stop else
        "There is no room to stop here: lowest revs that keep her off, clear the danger, then stop the engine at once.",
        "ease and find room": "Ease to the lowest revs that keep steerage, make for the nearest place she can lie, then stop and look.",
        "turn back": "Turn back, or make for the nearest shelter, at easy revs; keep the limits on the way.",
        "carry on with limits": "Carry on; keep the limits, and look again at every change of sound, smell or needle.",
    }[word]
