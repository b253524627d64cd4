"""The chance that a fault is present now, and in which stage, before anything was looked at.

A rate is not a presence: what counts is how much of a fault's onset falls in the time since it would last
have been seen. At a routine look-over that is the time since the last look, but no longer than the fault can
live unseen; when something was noticed it is one and the same window for every fault.
"""

from __future__ import annotations

import math

import numpy as np

from diagnose import lives
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import Ageing, Fault
from diagnose.network.nodes import UNKNOWN_PROFILES, Array, Net, unknown_id
from diagnose.situation import Situation

MOST = 0.9
LEAST = 1e-7


def prior_of(fault: Fault, situation: Situation) -> Array:
    """Prior over absent and the stages of one fault."""
    means = [lives.mean_life(stage.lasts) for stage in fault.stages]
    window = _window(means, situation)
    onset = _onset(fault, window, situation)
    shares = lives.stage_shares([min(m, 1e9) for m in means], window)
    present = min(onset, MOST) * shares
    for after in fault.after:
        if after.event in situation.events:
            hours = situation.events[after.event]
            caused = after.chance * max(0.0, 1.0 - hours / after.fades_over_hours)
            stage = lives.stage_at(means, hours)
            present = present * (1.0 - caused)
            present[stage] += caused
    present = np.maximum(present, LEAST)
    if present.sum() > MOST:
        present = present * (MOST / present.sum())
    return np.concatenate([[1.0 - present.sum()], present])


def _window(means: list[float], situation: Situation) -> float:
    """Hours back over which the fault may have begun unseen."""
    case = situation.case
    season = situation.hours_a_year
    if case.opened_because == "routine-look":
        return max(0.5, min(case.since_last_look_hours or season, sum(means)))
    return case.noticed_hours or season


def _onset(fault: Fault, window: float, situation: Situation) -> float:
    ageing = fault.ages_with
    if ageing is not None and ageing.since in situation.ages:
        return _worn(ageing, situation.ages[ageing.since], window, situation)
    return -math.expm1(-fault.rate.per_year * window / situation.hours_a_year)


def _worn(ageing: Ageing, age: float, window: float, situation: Situation) -> float:
    life = ageing.life.value * (situation.hours_a_year if ageing.life.unit == "year" else 1.0)
    return lives.worn_between(age, window, ageing.shape, life, ageing.life.spread)


def priors(book: Book, net: Net, situation: Situation) -> dict[int, Array]:
    """Priors of all faults of the network, and of the unknown fault of each system.

    An unknown fault is as likely as the share of faults this book is taken to miss says, of all its system's.
    """
    found: dict[int, Array] = {}
    sound: dict[str, float] = {}
    for node in net.of_kind("fault"):
        name = net.ids[node]
        found[node] = prior_of(book.faults[name], situation)
        system = book.component_of[name].system
        sound[system] = sound.get(system, 1.0) * float(found[node][0])
    share = book.words.unknown_share / (1.0 - book.words.unknown_share)
    for system, healthy in sound.items():
        chance = min(0.5, share * (1.0 - healthy))
        profile = np.array([part for part, _ in UNKNOWN_PROFILES]) * chance
        found[net.index[unknown_id(system)]] = np.concatenate([[1.0 - chance], profile])
    return found
