"""Tasks laid out over time: list scheduling with one pair of hands or two, waits in the background, the longest chain.

Two rules of priority are tried, one job after another and longest chain first, each filled in two ways; the shortest is kept. A task
that wants two pairs of hands where there is one is done with help, and named.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from diagnose.work.ground import Hand
from diagnose.work.merge import in_order
from diagnose.work.results import Schedule, Slot, Task

EDGE = 1e-9
"""Minutes that count as the same moment."""
Starts = dict[str, tuple[float, tuple[int, ...]]]
Priority = Callable[[str], tuple[float, ...]]


def schedule(tasks: Sequence[Task], hands: int = 1, hand: Hand = "first_time") -> Schedule:
    """When each task is done.

    Args:
        tasks: with all that each comes after among them.
        hands: people who work, 1 or 2.
        hand: whose minutes are counted.

    Raises:
        ValueError: other numbers of hands, or tasks that need one another in a circle.
    """
    if hands not in (1, 2):
        raise ValueError("one pair of hands or two")
    ordered = in_order(tasks)
    lasts = {t.id: float(getattr(t, hand)) for t in ordered}
    early, late = chains(ordered, lasts)
    span = max((early[t.id] + _whole(t, lasts) for t in ordered), default=0.0)
    place = {t.id: i for i, t in enumerate(ordered)}
    tail = {t.id: span - late[t.id] for t in ordered}
    rules: list[Priority] = [lambda n: (place[n],), lambda n: (-tail[n], place[n])]
    trials = [fill(ordered, lasts, hands, rule) for rule in rules for fill in (_as_ready, _in_turn)]
    ends = [_end(ordered, lasts, starts) for starts in trials]
    best = trials[min(range(len(trials)), key=lambda i: (round(ends[i], 6), i))]
    slots = [_slot(t, lasts, best, early, late) for t in ordered]
    return Schedule(
        hands=hands, slots=tuple(sorted(slots, key=lambda s: (s.start, s.end, place[s.task]))), minutes=min(ends, default=0.0),
        work=sum(lasts[t.id] * min(t.hands, hands) for t in ordered), critical=_critical(ordered, lasts, early, late),
        critical_minutes=span, helped=tuple(t.id for t in ordered if t.hands > hands),
    )


def chains(ordered: Sequence[Task], lasts: Mapping[str, float]) -> tuple[dict[str, float], dict[str, float]]:
    """Earliest and latest start of each task where hands are no matter (critical path method).

    Args:
        ordered: each after all it needs.
        lasts: minutes of work of each.
    """
    early: dict[str, float] = {}
    by_id = {t.id: t for t in ordered}
    for t in ordered:
        early[t.id] = max((early[b] + _whole(by_id[b], lasts) for b in t.after), default=0.0)
    span = max((early[t.id] + _whole(t, lasts) for t in ordered), default=0.0)
    late = {t.id: span - _whole(t, lasts) for t in ordered}
    for t in reversed(ordered):
        for b in t.after:
            late[b] = min(late[b], late[t.id] - _whole(by_id[b], lasts))
    return early, late


def _whole(task: Task, lasts: Mapping[str, float]) -> float:
    """Minutes of a task with its wait."""
    return lasts[task.id] + task.wait_minutes


def _critical(ordered: Sequence[Task], lasts: Mapping[str, float], early: Mapping[str, float],
              late: Mapping[str, float]) -> tuple[str, ...]:
    """One longest chain, from first to last: tasks without slack, each after the one before it."""
    by_id = {t.id: t for t in ordered}
    span = max((early[t.id] + _whole(t, lasts) for t in ordered), default=0.0)
    ends = [t for t in ordered if abs(early[t.id] + _whole(t, lasts) - span) < EDGE and abs(early[t.id] - late[t.id]) < EDGE]
    chain: list[str] = []
    task = ends[-1] if ends else None
    while task is not None:
        chain.append(task.id)
        task = next((by_id[b] for b in task.after if abs(early[b] + _whole(by_id[b], lasts) - early[task.id]) < EDGE), None)
    return tuple(reversed(chain))


def _slot(task: Task, lasts: Mapping[str, float], starts: Starts, early: Mapping[str, float], late: Mapping[str, float]) -> Slot:
    start, who = starts[task.id]
    end = start + lasts[task.id]
    slack = max(0.0, late[task.id] - early[task.id])
    return Slot(task=task.id, start=start, end=end, ready=end + task.wait_minutes, who=who, slack=slack, critical=slack < EDGE)


def _end(ordered: Sequence[Task], lasts: Mapping[str, float], starts: Starts) -> float:
    return max((starts[t.id][0] + _whole(t, lasts) for t in ordered), default=0.0)


# ------------------------------------------------------------------ two ways to fill the time


def _as_ready(ordered: Sequence[Task], lasts: Mapping[str, float], hands: int, rule: Priority) -> Starts:
    """At each moment begin, of what is ready, what comes first by the rule and finds hands free."""
    starts: Starts = {}
    ready_at: dict[str, float] = {}
    free = [0.0] * hands
    now = 0.0
    left = {t.id: t for t in ordered}
    while left:
        ready = [t for t in left.values() if all(ready_at.get(b, now + 1) <= now + EDGE for b in t.after)]
        begun = False
        for t in sorted(ready, key=lambda t: rule(t.id)):
            idle = [h for h in range(hands) if free[h] <= now + EDGE][: min(t.hands, hands)]
            if len(idle) == min(t.hands, hands):
                starts[t.id] = now, tuple(idle)
                for h in idle:
                    free[h] = now + lasts[t.id]
                ready_at[t.id] = now + lasts[t.id] + t.wait_minutes
                del left[t.id]
                begun = True
        if not begun:  # what took no time may have made others ready at this very moment
            now = min(moment for moment in (*free, *ready_at.values()) if moment > now + EDGE)
    return starts


def _in_turn(ordered: Sequence[Task], lasts: Mapping[str, float], hands: int, rule: Priority) -> Starts:
    """Take the tasks one by one, each after all it needs, and put each in the earliest gap that is wide enough."""
    starts: Starts = {}
    ready_at: dict[str, float] = {}
    busy: list[list[tuple[float, float]]] = [[] for _ in range(hands)]
    left = {t.id: t for t in ordered}
    while left:
        t = min((t for t in left.values() if all(b in ready_at for b in t.after)), key=lambda t: rule(t.id))
        del left[t.id]
        earliest = max((ready_at[b] for b in t.after), default=0.0)
        starts[t.id] = start, who = _gap(busy, earliest, lasts[t.id], min(t.hands, hands))
        for h in who:
            busy[h] = sorted([*busy[h], (start, start + lasts[t.id])])
        ready_at[t.id] = start + lasts[t.id] + t.wait_minutes
    return starts


def _gap(busy: Sequence[Sequence[tuple[float, float]]], earliest: float, lasts: float, count: int) -> tuple[float, tuple[int, ...]]:
    """The earliest start from which so many hands are free for so long."""
    moments = sorted({earliest, *(end for spans in busy for _, end in spans if end > earliest)})
    for start in moments:
        free = [h for h, spans in enumerate(busy)
                if all(end <= start + EDGE or begin >= start + lasts - EDGE for begin, end in spans)]
        if len(free) >= count:
            return start, tuple(free[:count])
    raise AssertionError("after the last of them all hands are free")
