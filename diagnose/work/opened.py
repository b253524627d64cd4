"""While it is open: for each thing that the work lays bare, is it worth renewing now, looking at, or leaving?

Renewing now spares what a fault that is there would cost, what a worn part would cost that begins to fail before it is opened again,
and the whole access on another day. It takes its own extra minutes and its parts. A fault that does not age begins on a new part as
often as on an old one, so nothing is counted for that. A look first, and the work only if it looks bad, is weighed beside both.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.knowledge.jobs import Job
from diagnose.knowledge.model import Consequence, Fault
from diagnose.knowledge.worksteps import setups_of
from diagnose.work.choose import enough
from diagnose.work.ground import Ground, Hand, Moment, full_minutes
from diagnose.work.merge import merge
from diagnose.work.results import Extra, Open, Task, Word
from diagnose.work.saying import hours, hundred

AGAIN: Moment = "opened-again"
LOOKED_AT = "cold-stopped"
"""The engine state in which a thing that lies open is looked at."""


@dataclass(frozen=True)
class Candidate:
    """A job whose set-ups the plan has paid already, and the minutes it takes now and another day."""

    job: Job
    faults: tuple[Fault, ...]
    open_minutes: float
    closed_minutes: float


@dataclass(frozen=True)
class Weights:
    """What decides about one candidate, in hours of delay: renewing now, and looking first, each against leaving.

    `by_age` is the part of what is spared that is owed to its wearing out, and not to its being bad already; `suspect` that the
    chance of its being bad is one at which the book cures and does not look.
    """

    spares: float
    takes: float
    by_age: float
    suspect: bool
    look_gains: float | None
    """What a look first gains on average, its minutes taken off; None where there is nothing to see."""
    look_takes: float

    @property
    def word(self) -> Word:
        """Renewing where it gains most; a look first where that gains more, or where only a small chance of its being bad speaks for
        renewing; leaving where nothing gains, a look not at least as much as it takes."""
        now, look = self.spares - self.takes, -math.inf if self.look_gains is None else self.look_gains
        sees, renews = round(look - self.look_takes, 9) >= 0, round(now, 9) > 0
        if renews and (now >= look or not sees) and (self.suspect or self.by_age > self.takes or self.look_gains is None):
            return "now"
        return "if it looks bad" if sees else "leave"


def opened(ground: Ground, jobs: Sequence[Job], hand: Hand = "first_time") -> Open:
    """What lies open in these jobs.

    Args:
        ground: the case.
        jobs: of the plan.
        hand: whose minutes are counted.

    Returns:
        What to look at, what can be judged, and the things worth renewing now or on a bad look, the most gained first.
    """
    tasks = merge(jobs, ground.book)
    found = candidates(ground, jobs, hand)
    anys = ground.any_of([[f.id for f in c.faults] for c in found])
    extras = [_extra(ground, c, there) for c, there in zip(found, anys, strict=True)]
    kept = [e for e in extras if e.word != "leave"]
    kept.sort(key=lambda e: (e.word != "now", -(e.spares - e.takes), e.job))
    bares = dict.fromkeys(s for t in tasks for s in t.bares)
    return Open(look=tuple(dict.fromkeys(text for j in jobs for text in j.look_while_open)),
                judge=tuple(ground.book.symptoms[s].title for s in bares if s in ground.book.symptoms),
                extras=tuple(kept), left=len(extras) - len(kept))


def candidates(ground: Ground, jobs: Sequence[Job], hand: Hand = "first_time") -> list[Candidate]:
    """Jobs beside the plan whose set-ups are all paid by it, and to which the open access spares enough of their minutes."""
    book, planned = ground.book, {j.id for j in jobs}
    paid = set(setups_of(book, [s for j in jobs for s in j.setups]))
    cured = {f for j in jobs for f in j.cures}
    ends = {j.way.to for j in jobs if j.way is not None}
    bare = _work(merge(jobs, book), hand)
    found = []
    for job in book.jobs.values():
        needs = set(setups_of(book, job.setups))
        faults = tuple(book.faults[f] for f in job.cures if f in book.faults and ground.chance(f) > 0 and f not in cured)
        another_way = job.way is not None and job.way.to in ends
        if job.id in planned or another_way or not needs or not needs <= paid or not faults:
            continue
        closed = full_minutes(job, book, hand)
        # a step that the plan has already may take less by what was learned on the boat of its like in this job: that is no gain of it
        extra = max(0.0, _work(merge([*jobs, job], book), hand) - bare)
        if closed - extra >= book.words.work.least_saved * closed:
            found.append(Candidate(job, faults, extra, closed))
    return found


def _work(tasks: Sequence[Task], hand: Hand) -> float:
    """Minutes of the work itself, its proof left out: that is made either way."""
    return sum(float(getattr(t, hand)) for t in tasks if t.kind != "proof")


def weigh(ground: Ground, candidate: Candidate, there: float) -> Weights:
    """What speaks for and against renewing one thing now.

    Args:
        ground: the case.
        candidate: the job.
        there: chance that at least one of its faults is there now.
    """
    words, cure = ground.book.words.work, enough(candidate.job)
    lost_now = lost_later = lost_new = 0.0
    for f in candidate.faults:
        p, fresh = ground.chance(f.id), ground.ends_fresh(f, AGAIN) * ground.worst(f)
        lost_now += p * ground.ends(f, AGAIN) * ground.worst(f)
        lost_later += (1.0 - p) * ground.begins(f, AGAIN) * fresh
        lost_new += ground.begins(f, AGAIN, new=True) * fresh
    begins, begins_new = (_any(ground, candidate.faults, new=new) for new in (False, True))
    needed = there + (1.0 - there) * begins
    another_day = words.hour_at_leisure * candidate.closed_minutes / 60.0 + ground.buying(candidate.job)
    takes = words.hour_now * candidate.open_minutes / 60.0 + ground.buying(candidate.job)
    spares = cure * (lost_now + lost_later - lost_new + another_day * (needed - begins_new))
    by_age = cure * (lost_later - lost_new + another_day * (begins - begins_new))
    look, glance = None, words.hour_now * words.glance_minutes / 60.0
    if _looks(ground, candidate.faults):
        look = cure * (lost_now + there * another_day) - there * takes - glance
    return Weights(spares, takes, by_age, there >= words.likely, look, glance)


def _any(ground: Ground, faults: Sequence[Fault], *, new: bool) -> float:
    """P(at least one begins before it is opened again): beginnings are independent."""
    return 1.0 - math.prod([1.0 - ground.begins(f, AGAIN, new=new) for f in faults])


def _looks(ground: Ground, faults: Sequence[Fault]) -> tuple[str, ...]:
    """Symptoms of these faults that can be seen at rest."""
    names = dict.fromkeys(s.symptom for f in faults for s in f.shows if s.symptom is not None)
    return tuple(ground.book.symptoms[n].title for n in names if n in ground.book.symptoms and LOOKED_AT in ground.book.symptoms[n].states)


def _extra(ground: Ground, candidate: Candidate, there: float) -> Extra:
    w = weigh(ground, candidate, there)
    ages = [ground.situation.ages[f.ages_with.since] for f in candidate.faults
            if f.ages_with is not None and f.ages_with.since in ground.situation.ages]
    begins = _any(ground, candidate.faults, new=False)
    say = (f"{candidate.open_minutes:.0f} min more now against {candidate.closed_minutes:.0f} another day; "
           f"there now {hundred(there)} in 100, begins before it is "
           f"opened again {hundred(begins)}; renewing spares {hours(w.spares)} and takes {hours(w.takes)}")
    if w.look_gains is not None:
        say += f"; a look first gains {hours(w.look_gains)}" if w.look_gains > 0 else "; a look first does not pay"
    return Extra(
        job=candidate.job.id, title=candidate.job.title, there=there, begins=begins, begins_new=_any(ground, candidate.faults, new=True),
        age_hours=ages[0] if ages else None, open_minutes=candidate.open_minutes, closed_minutes=candidate.closed_minutes, spares=w.spares,
        takes=w.takes, look_gains=w.look_gains, word=w.word, worst=_worst(ground, candidate.faults), look=_looks(ground, candidate.faults),
        missing=ground.missing(candidate.job), say=say)


def _worst(ground: Ground, faults: Sequence[Fault]) -> Consequence:
    """The consequence that weighs most among the ends of these faults."""
    outcomes = [o for f in faults for o in f.outcomes]
    return max(outcomes, key=lambda o: (o.chance * ground.losses.get(o.kind, 0.0), ground.book.rank(o.kind))).kind
