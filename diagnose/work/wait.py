"""Can it wait? The same fault cured now, at the next port, or at the season's end, each with what may happen until then.

What is counted until then: that the fault is there and ends, and that a part which ages begins to fail sooner than a new one would.
The least cost in hours of delay gives the word; of equal ones the earlier.
"""

from __future__ import annotations

from diagnose.knowledge.jobs import Job
from diagnose.knowledge.model import Consequence, Fault
from diagnose.work.choose import enough
from diagnose.work.ground import Ground, Hand, Moment, full_minutes
from diagnose.work.results import CanWait, Waiting, When
from diagnose.work.saying import hours, hundred

ROWS: tuple[tuple[When, Moment | None], ...] = (("now", None), ("next port", "port"), ("season's end", "season"))
HOURS_A_DAY = 24.0


def can_wait(ground: Ground, fault: str, hand: Hand = "first_time") -> CanWait:
    """Now, next port or season's end, for one fault of the book.

    Args:
        ground: the case.
        fault: its id; one that cannot be on this boat has no chance, and can wait.
        hand: whose minutes are counted.
    """
    entry, job = ground.book.faults[fault], ground.quickest(fault, hand)
    rows = tuple(_row(ground, entry, job, when, until, hand) for when, until in ROWS)
    open_rows = rows if job is not None else rows[1:]
    best = min(range(len(open_rows)), key=lambda i: (round(open_rows[i].cost, 9), i))
    word = open_rows[best].when
    return CanWait(fault=fault, title=entry.title, chance=ground.chance(fault), begins=ground.begins(entry, "season"),
                   job=None if job is None else job.id, word=word, rows=rows, say=_say(ground, rows, word, job))


def sooner(ground: Ground, fault: Fault, until: Moment) -> float:
    """P(it is not there now, and begins before that moment where a new part would not have)."""
    gained = ground.begins(fault, until) - ground.begins(fault, until, new=True)
    return (1.0 - ground.chance(fault.id)) * max(0.0, gained)


def ended(ground: Ground, fault: Fault, until: Moment) -> float:
    """P(it ends before that moment, if left, and would not have had it been cured)."""
    return ground.chance(fault.id) * ground.ends(fault, until) + sooner(ground, fault, until) * ground.ends_fresh(fault, until)


def _row(ground: Ground, fault: Fault, job: Job | None, when: When, until: Moment | None, hand: Hand) -> Waiting:
    words = ground.book.words.work
    end = 0.0 if until is None else ended(ground, fault, until)
    consequences: dict[Consequence, float] = {}
    for outcome in fault.outcomes:
        consequences[outcome.kind] = consequences.get(outcome.kind, 0.0) + end * outcome.chance
    loss = end * ground.worst(fault)
    if until is None and job is not None:  # what a cure that is not always enough leaves behind
        loss = (1.0 - enough(job)) * ended(ground, fault, "season") * ground.worst(fault)
    needed = 1.0 if until is None else ground.chance(fault.id) + sooner(ground, fault, until)
    hour = words.hour_at_leisure if until == "season" else words.hour_now
    work = 0.0 if job is None else needed * (hour * full_minutes(job, ground.book, hand) / 60.0 + ground.buying(job))
    parts = HOURS_A_DAY * ground.lead_days(ground.missing(job)) if job is not None and until is None else 0.0
    title = "you have done it" if until is None else ground.untils[until].title
    worst = max(consequences, key=lambda k: consequences[k] * ground.losses.get(k, 0.0))
    happens = "" if until is None else f"{ground.book.words.consequences[worst].lower()} {hundred(consequences[worst])} in 100; "
    say = (f"{happens}lost {hours(loss)}, work {hours(work)}" + (f", waiting for parts {hours(parts)}" if parts else "")
           + f": {hours(loss + work + parts)} in all")
    return Waiting(when=when, until=title, consequences=dict(sorted(consequences.items(), key=lambda kv: -ground.book.rank(kv[0]))),
                   loss=loss, work=work, waiting_for_parts=parts, cost=loss + work + parts, say=say)


def _say(ground: Ground, rows: tuple[Waiting, ...], word: When, job: Job | None) -> str:
    if job is None:
        return "the book has no job that cures it; the rows say what waiting risks"
    costs = {row.when: row.cost for row in rows}
    others = "; ".join(f"{row.when} {hours(row.cost)}" for row in rows if row.when != word)
    said = f"{hours(costs[word])} of delay in all on average, against {others}"
    if ground.assessment.decision == "stay" and word != "now":
        said += ". The decision for this trip is to stay: until that changes she waits where she lies"
    if word != "now" and any(hold.keeps_in for hold in ground.assessment.holds):
        said += ". A stop stands: what lifts it comes first"
    return said
