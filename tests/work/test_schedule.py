"""Laying out over time: published networks, every order of small ones, and what must hold of any."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import permutations

import pytest
import workkit as wk
from hypothesis import given
from hypothesis import strategies as st

from diagnose.work.merge import in_order
from diagnose.work.results import Schedule, Task
from diagnose.work.schedule import chains, schedule

TAYLOR = {  # arcs from node to node: duration, and the slack of the published table
    "1-2": (7, 2), "1-3": (10, 0), "2-4": (6, 2), "3-4": (5, 0), "3-5": (4, 4), "4-5": (3, 0), "5-6": (2, 0)}
TAYLOR_NEXT = {
    "1-2": (8, 1), "1-3": (10, 0), "1-4": (9, 6), "2-5": (6, 1), "2-6": (4, 8), "3-5": (5, 0), "4-5": (0, 6), "4-7": (7, 11),
    "5-7": (12, 0), "5-8": (15, 1), "6-9": (18, 8), "7-8": (4, 0), "8-9": (7, 0)}
HILLIER = {
    "A": (2, ""), "B": (4, "A"), "C": (10, "B"), "D": (6, "C"), "E": (4, "C"), "F": (5, "E"), "G": (7, "D"), "H": (9, "EG"), "I": (7, "C"),
    "J": (8, "FI"), "K": (4, "J"), "L": (5, "J"), "M": (2, "H"), "N": (6, "KL")}


def arcs(network: dict[str, tuple[int, int]]) -> list[Task]:
    """Activities on arcs as tasks: one that leaves a node comes after all that end there."""
    return [wk.task(name, lasts, [other for other in network if other.endswith(f"-{name.split('-')[0]}")])
            for name, (lasts, _) in network.items()]


@pytest.mark.parametrize(("network", "length", "chain"), [(TAYLOR, 20, ("1-3", "3-4", "4-5", "5-6")),
                                                          (TAYLOR_NEXT, 38, ("1-3", "3-5", "5-7", "7-8", "8-9"))])
def test_textbook_networks(network: dict[str, tuple[int, int]], length: int, chain: tuple[str, ...]) -> None:
    """Length, slack of each activity and critical path of two networks in the solutions to chapter 8 of Taylor, Introduction to
    Management Science (pages 114 and 115)."""
    tasks = arcs(network)
    found = schedule(tasks, 2)
    assert found.critical_minutes == length
    assert found.critical == chain
    assert {s.task: s.slack for s in found.slots} == {name: slack for name, (_, slack) in network.items()}


def test_the_building_of_a_plant() -> None:
    """Fourteen activities of Hillier and Lieberman's Reliable Construction example: 44 weeks by A-B-C-E-F-J-L-N (durations of all but
    H read in a reprint; H, the order, the length and the path from memory)."""
    found = schedule([wk.task(n, lasts, list(after)) for n, (lasts, after) in HILLIER.items()], 2)
    assert found.critical_minutes == 44
    assert found.critical == tuple("ABCEFJLN")


# ------------------------------------------------------------------ any network


@st.composite
def networks(draw: st.DrawFn, most: int = 7, *, waits: bool = True, two: bool = True) -> list[Task]:
    """Tasks of whole minutes, each after some of those before it."""
    count = draw(st.integers(1, most))
    return [wk.task(f"t{i}", draw(st.integers(0, 9)), [f"t{j}" for j in range(i) if draw(st.integers(0, 3)) == 0],
                    hands=draw(st.sampled_from((1, 1, 2))) if two else 1, wait=draw(st.sampled_from((0, 0, 5, 12))) if waits else 0)
            for i in range(count)]


def shortest(tasks: Sequence[Task], hands: int) -> float:
    """The least length there is: the best of all orders, each task put in as early as it fits (some order gives an optimum)."""
    best = float("inf")
    for order in permutations(tasks):
        ready: dict[str, float] = {}
        busy: list[tuple[float, float, int]] = []
        for t in order:
            if any(b not in ready for b in t.after):
                break
            earliest = max((ready[b] for b in t.after), default=0.0)
            need = min(t.hands, hands)
            for start in sorted({earliest, *(e for _, e, _ in busy if e > earliest)}):
                moments = {start, *(s for s, _, _ in busy if start < s < start + t.first_time)}
                if all(sum(n for s, e, n in busy if s <= m < e) + need <= hands for m in moments):
                    break
            busy.append((start, start + t.first_time, need))
            ready[t.id] = start + t.first_time + t.wait_minutes
        else:
            best = min(best, max(ready.values()))
    return best


def check_sound(tasks: Sequence[Task], found: Schedule, hands: int) -> None:
    """No task before what it needs, no hand at two tasks, and no length below what is possible."""
    slots = {s.task: s for s in found.slots}
    assert set(slots) == {t.id for t in tasks}
    for t in tasks:
        assert all(slots[t.id].start >= slots[b].ready - 1e-9 for b in t.after)
        assert len(set(slots[t.id].who)) == min(t.hands, hands)
    for one in found.slots:
        for other in found.slots:
            if one.task < other.task and set(one.who) & set(other.who):
                assert one.end <= other.start + 1e-9 or other.end <= one.start + 1e-9
    assert found.minutes >= found.critical_minutes - 1e-9
    assert found.minutes >= found.work / hands - 1e-9
    assert found.helped == tuple(t.id for t in in_order(tasks) if t.hands > hands)


@given(networks(most=10), st.integers(1, 2))
def test_any_schedule_is_sound(tasks: list[Task], hands: int) -> None:
    """Order kept, hands never exceeded, never shorter than the longest chain or the work shared out; and never longer than the two
    together: at any moment somebody works or the longest chain waits."""
    found = schedule(tasks, hands)
    check_sound(tasks, found, hands)
    assert found.minutes <= found.critical_minutes + found.work + 1e-9


@given(networks(most=6), st.integers(1, 2))
def test_against_every_order(tasks: list[Task], hands: int) -> None:
    """Against the shortest there is: never below it, and, without tasks for two, within twice (list scheduling, Graham 1966: the time
    when all work is at most the work shared out, and in the rest the longest chain moves on)."""
    found, least = schedule(tasks, hands).minutes, shortest(tasks, hands)
    assert found >= least - 1e-9
    if all(t.hands == 1 for t in tasks):
        assert found <= 2 * least + 1e-9
    if hands == 1 and all(t.wait_minutes == 0 for t in tasks):
        assert found == pytest.approx(least)


def test_waits_run_in_the_background() -> None:
    """While one thing soaks the hand does another, and what follows the soak waits for it."""
    tasks = [wk.task("soak", 5, wait=60), wk.task("rinse", 5, ["soak"]), wk.task("other", 30)]
    found = schedule(tasks)
    assert found.minutes == 70
    assert {s.task: s.start for s in found.slots} == {"soak": 0, "other": 5, "rinse": 65}


def test_two_hands_where_there_is_one() -> None:
    """A task for two is done with help where one works, and is named; with two at work nothing runs beside it."""
    tasks = [wk.task("hold", 10, hands=2), wk.task("other", 10)]
    assert schedule(tasks, 1).helped == ("hold",)
    two = schedule(tasks, 2)
    assert two.helped == ()
    assert two.minutes == 20
    assert schedule([wk.task("a", 10), wk.task("b", 10)], 2).minutes == 10


def test_nothing_to_do_and_what_cannot_be_done() -> None:
    """No tasks take no time; a circle, three hands and a task after nobody's are refused or ignored as they should be."""
    assert schedule([]).minutes == 0
    with pytest.raises(ValueError, match="one pair of hands or two"):
        schedule([], 3)
    with pytest.raises(ValueError, match="circle"):
        schedule([wk.task("a", 1, ["b"]), wk.task("b", 1, ["a"])])


def test_latest_starts_do_not_lengthen_the_chain() -> None:
    """Starting every task as late as it may leaves the longest chain as long as it was."""
    tasks = in_order([wk.task(n, lasts, list(after)) for n, (lasts, after) in HILLIER.items()])
    lasts = {t.id: t.first_time for t in tasks}
    early, late = chains(tasks, lasts)
    assert max(late[n] + lasts[n] for n in late) == max(early[n] + lasts[n] for n in early) == 44
    assert all(late[n] >= early[n] for n in late)
