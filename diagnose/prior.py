"""The chance that a fault is present now, and in which stage, before anything was looked at.

A rate is not a presence: what counts is how long a fault can be there before it is seen or has done its worst. Of
two faults equally frequent, the one that stops the engine within two hours is rarely met at a routine look-over,
and the one that weeps for two hundred is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from diagnose import lives
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import Ageing, Fault
from diagnose.network.nodes import UNKNOWN_PROFILES, Array, Net, unknown_id
from diagnose.network.past import Past, is_of_then, then
from diagnose.situation import Situation

HOURS_A_YEAR = 8766.0
MOST = 0.9
LEAST = 1e-7
LEAST_WINDOW = 0.1
"""Engine hours run at least since a fault was cured: she was started to see."""
UNSEEN_WINDOWS = 3.0
"""How many windows a milder stage may have been there unseen when something was noticed."""


def prior_of(fault: Fault, situation: Situation, own: float = 1.0, cured_hours: float | None = None) -> Array:
    """Prior over absent and the stages of one fault.

    In the long run a stage is met in proportion to its length, so each counts as the rate of onset times its mean
    length, cut off where it would have been seen. At a routine look-over that is the last look: where it is known how
    long ago that was, the fault began since; where it is not, each stage is cut off at a season. When something was
    noticed, a milder stage, or one that stays as it is, may have gone unseen for some windows more; a last stage that
    ends counts for the whole window however short it is: its end is what brought the person here.

    Args:
        fault: of the book.
        situation: the boat, her hours, and why she is looked at.
        own: how many times as often as on any boat the fault begins on this one. What an event leaves behind is not
            multiplied: it comes of the work and not of the boat.
        cured_hours: engine hours since work that cured it: it began since, or not at all.
    """
    means = _means(fault, situation)
    window = _window(situation) if cured_hours is None else max(cured_hours, LEAST_WINDOW)
    began_since = situation.case.since_last_look_hours is not None and situation.case.opened_because == "routine-look"
    if began_since or cured_hours is not None:
        hours = np.diff(np.minimum(np.cumsum(means), window), prepend=0.0)
    elif situation.case.opened_because == "routine-look":
        hours = np.minimum(means, window)
    else:
        unseen = UNSEEN_WINDOWS * window
        hours = np.array([*np.minimum(means[:-1], unseen), unseen if math.isinf(means[-1]) else window])
    expected = own * _rate(fault, window, situation) * hours
    present = min(-math.expm1(-expected.sum()), MOST) * expected / max(expected.sum(), 1e-300)
    return _whole(_brought_on(fault, means, situation, present))


def brought_on(fault: Fault, situation: Situation) -> Array:
    """The chance that what happened lately brought a fault on, over absent and its stages."""
    return _whole(_brought_on(fault, _means(fault, situation), situation, np.zeros(len(fault.stages))))


def _brought_on(fault: Fault, means: Sequence[float], situation: Situation, present: Array) -> Array:
    """The chances of the stages of a fault with what events brought on besides."""
    for after in fault.after:
        if after.event in situation.events:
            hours = situation.events[after.event]
            caused = after.chance * max(0.0, 1.0 - hours / after.fades_over_hours)
            present = present * (1.0 - caused)
            present[lives.stage_at(means, hours)] += caused
    return present


def _whole(present: Array) -> Array:
    """Chances of absent and the stages from those of the stages, none of them beyond belief."""
    present = np.maximum(present, LEAST)
    if present.sum() > MOST:
        present = present * (MOST / present.sum())
    return np.concatenate([[1.0 - present.sum()], present])


def _means(fault: Fault, situation: Situation) -> list[float]:
    """Mean length of each stage in engine hours: those that count at rest too are turned into what is run meanwhile."""
    run = situation.hours_a_year / HOURS_A_YEAR
    return [lives.mean_life(stage.lasts) * (run if stage.clock == "always" else 1.0) for stage in fault.stages]


def _window(situation: Situation) -> float:
    """Hours back to when what is seen now would have been seen."""
    case = situation.case
    if case.opened_because == "routine-look":
        return case.since_last_look_hours or situation.hours_a_year
    return case.noticed_hours or situation.hours_a_year


def _rate(fault: Fault, window: float, situation: Situation) -> float:
    """Onsets an hour over the window: the book's rate, or what the age of the part makes of it."""
    ageing = fault.ages_with
    if ageing is not None and ageing.since in situation.ages:
        worn = _worn(ageing, situation.ages[ageing.since], window, situation)
        return -math.log1p(-min(worn, MOST)) / window
    return fault.rate.per_year / situation.hours_a_year


def _worn(ageing: Ageing, age: float, window: float, situation: Situation) -> float:
    life = ageing.life.value * (situation.hours_a_year if ageing.life.unit == "year" else 1.0)
    return lives.worn_between(age, window, ageing.shape, life, ageing.life.spread)


def priors(book: Book, net: Net, situation: Situation,
           kept: dict[tuple[object, ...], dict[str, Array]] | None = None, past: Past | None = None) -> dict[int, Array]:
    """Priors of all faults of the network, those of before the work among them, and of the unknown fault of each system.

    An unknown fault is as likely as the share of faults this book is taken to miss says, of all its system's. What
    was worked out for boats of the same hours, services, events and own rates is kept in `kept`.
    """
    case = situation.case
    own = situation.own_rates
    history = (case.opened_because, case.since_last_look_hours, case.noticed_hours, situation.hours_a_year,
               tuple(sorted(situation.ages.items())), tuple(sorted(situation.events.items())),
               tuple(sorted(own.items())))
    known = {} if kept is None else kept.setdefault(history, {})
    if not known:
        known.update((name, prior_of(fault, situation, own.get(name, 1.0))) for name, fault in book.faults.items())
    told = {} if past is None else past.priors
    apart = {name for name in told if is_of_then(name) or then(name) in net.index}
    found = {node: told[name] if (name := net.ids[node]) in apart else known[name] for node in net.of_kind("fault")}
    # taken over all faults of the book, so that it is the same on every kind of boat
    sound: dict[str, float] = {}
    for name, prior in known.items():
        system = book.component_of[name].system
        sound[system] = sound.get(system, 1.0) * float(prior[0])
    share = book.words.unknown_share / (1.0 - book.words.unknown_share)
    for system, healthy in sound.items():
        if unknown_id(system) in net.index:
            chance = min(0.5, share * (1.0 - healthy))
            profile = np.array([part for part, _ in UNKNOWN_PROFILES]) * chance
            found[net.index[unknown_id(system)]] = np.concatenate([[1.0 - chance], profile])
    return found
