"""Several jobs as one: set-ups once and undone in reverse, order kept, joint steps done once, proofs in their order."""

from __future__ import annotations

from itertools import combinations

import pytest
import workkit as wk
from hypothesis import given
from hypothesis import strategies as st

from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules
from diagnose.knowledge.worksteps import FIRST_TIME, order_of, running_of
from diagnose.work.ground import full_minutes
from diagnose.work.merge import in_order, later_tests, merge
from diagnose.work.results import Task

BOOK = wk.book()


def names(tasks: tuple[Task, ...]) -> list[str]:
    """Ids in their order."""
    return [t.id for t in tasks]


def merged(*jobs: str) -> tuple[Task, ...]:
    """These jobs of the small book as one."""
    return merge([BOOK.jobs[j] for j in jobs], BOOK)


def work(tasks: tuple[Task, ...]) -> float:
    """Minutes of a newer hand, proofs left out."""
    return sum(t.first_time for t in tasks if t.kind != "proof")


def test_setups_are_made_once_and_undone_in_reverse() -> None:
    """Two jobs behind the same cover: box, cock, cover once; put back cover, cock, and the box after the proof."""
    order = names(merged("swap-pump", "swap-seal"))
    made = [n for n in order if n.startswith("set-up:")]
    undone = [n.removeprefix("put back:") for n in order if n.startswith("put back:")]
    assert made == ["set-up:box-open", "set-up:cock-shut", "set-up:cover-off"]
    assert undone == ["cover-off", "cock-shut", "box-open"]
    proofs = [i for i, n in enumerate(order) if n.startswith("proof:")]
    assert order.index("put back:cock-shut") < min(proofs)
    assert order.index("put back:box-open") > max(proofs)


def test_merging_saves_the_setups_of_all_but_one() -> None:
    """By itself each job pays 30 minutes of set-ups for a practised hand, 48 for a newer one; together they pay once."""
    alone = full_minutes(BOOK.jobs["swap-pump"], BOOK, "first_time") + full_minutes(BOOK.jobs["swap-seal"], BOOK, "first_time")
    assert FIRST_TIME == 1.6
    assert alone - work(merged("swap-pump", "swap-seal")) == pytest.approx(30 * 1.6)
    # 20 + 10 + 25 and 15 + 5 + 10 minutes of steps, half as long again for a newer hand, and the set-ups once
    assert work(merged("swap-pump", "swap-seal")) == pytest.approx(85 * 1.5 + 30 * 1.6)


@given(st.sets(st.sampled_from(sorted(BOOK.jobs)), min_size=1))
def test_order_is_kept_whatever_is_done_together(jobs: set[str]) -> None:
    """In any set of jobs each step comes after its set-ups and the steps it needs, and the same set gives the same tasks in any order."""
    tasks = merged(*sorted(jobs))
    assert tasks == merge([BOOK.jobs[j] for j in sorted(jobs, reverse=True)], BOOK)
    place = {t.id: i for i, t in enumerate(tasks)}
    assert all(place[b] < place[t.id] for t in tasks for b in t.after)
    for name in jobs:
        for step, before in order_of(BOOK.jobs[name]).items():
            assert all(place[f"{name}/{b}"] < place[f"{name}/{step}"] for b in before)


def test_more_jobs_never_take_less_and_never_more_than_apart() -> None:
    """The minutes of a union lie between those of the larger part and the sum of the parts."""
    for one, other in combinations(sorted(BOOK.jobs), 2):
        both = work(merged(one, other))
        assert max(work(merged(one)), work(merged(other))) <= both + 1e-9
        assert both <= work(merged(one)) + work(merged(other)) + 1e-9


def test_proofs_come_by_their_moment_and_the_same_test_once() -> None:
    """A cold look that both jobs ask for is made once; then the first start, then warm; what is due hours on is not among them."""
    proofs = [t for t in merged("swap-pump", "swap-seal") if t.kind == "proof"]
    assert [(t.moment, t.of) for t in proofs] == [("cold", ("swap-pump", "swap-seal")), ("first-start", ("swap-seal",)),
                                                  ("warm", ("swap-pump",))]
    assert "after-hours" not in {t.moment for t in proofs}


def with_tests(**tests: list[dict[str, object]]) -> Book:
    """The small book with two jobs that have these tests."""
    return wk.book(jobs=[wk.job("one", ["pump-worn"], tests=tests["one"]), wk.job("two", ["seal-worn"], tests=tests["two"])])


def test_of_two_grades_that_one_test_allows_the_stricter_counts() -> None:
    """Whichever job allows the worse one, a test made once for both asks for what passes both."""
    good, bad = BOOK.symptoms["pump-worn-seen"].grades
    for first, second in ((good, bad), (bad, good)):
        book = with_tests(one=[wk.proved("cold", state="cold-stopped", worst={"pump-worn-seen": first})],
                      two=[wk.proved("cold", state="cold-stopped", worst={"pump-worn-seen": second, "seal-worn-seen": bad})])
        (proof,) = [t for t in merge(list(book.jobs.values()), book) if t.moment == "cold"]
        assert (proof.of, proof.state) == (("one", "two"), "cold-stopped")
        assert proof.worst == {"pump-worn-seen": good, "seal-worn-seen": bad}


def test_tests_some_hours_on_are_told_the_sooner_first_and_the_same_once() -> None:
    """The same words after the same hours are one test for both jobs; after other hours they are two."""
    book = with_tests(one=[wk.proved("after-hours", hours=10), wk.proved("after-hours", "Feel it.", hours=2)],
                  two=[wk.proved("after-hours", "Look", hours=10), wk.proved("after-hours", "Feel it.", hours=50)])
    found = later_tests(list(book.jobs.values()), book)
    assert [(t.hours, t.do, t.of) for t in found] == [(2, "Feel it.", ("one",)), (10, "Look.", ("one", "two")), (50, "Feel it.", ("two",))]
    assert len({t.id for t in found}) == 3


def shared_book(second: list[dict[str, object]]) -> tuple[Task, ...]:
    """Two jobs on one component that both take the guard off."""
    one = [wk.step("guard-off", 6, takes_off=["guard"]), wk.step("first", 10), wk.step("guard-on", 7, puts_back=["guard"])]
    book = wk.book(jobs=[wk.job("one", ["pump-worn"], steps=one), wk.job("two", ["seal-worn"], steps=second)])
    return merge(list(book.jobs.values()), book)


def test_what_both_take_off_comes_off_once() -> None:
    """The guard is taken off once, both jobs are done, and it goes back once; the longer time of each pair counts."""
    tasks = shared_book([wk.step("off", 8, takes_off=["guard"]), wk.step("second", 10), wk.step("on", 5, puts_back=["guard"])])
    by_id = {t.id: t for t in tasks if t.kind == "step"}
    assert len(by_id) == 4
    assert by_id["one/guard-off"].of == ("one", "two")
    assert by_id["one/guard-off"].skilled == 8
    assert by_id["one/guard-on"].skilled == 7
    order = names(tasks)
    assert order.index("one/guard-off") < min(order.index("one/first"), order.index("two/second"))
    assert order.index("one/guard-on") > max(order.index("one/first"), order.index("two/second"))


def test_a_join_that_makes_a_circle_is_not_made() -> None:
    """Where the second job closes the guard before it does a step that the first does the other way round, nothing is joined wrongly."""
    one = [wk.step("x", 5), wk.step("y", 5)]
    two = [wk.step("y", 5), wk.step("x", 5)]
    book = wk.book(jobs=[wk.job("one", ["pump-worn"], steps=one), wk.job("two", ["seal-worn"], steps=two)])
    tasks = merge(list(book.jobs.values()), book)
    steps = [t for t in tasks if t.kind == "step"]
    assert len(steps) == 3  # one of the two pairs can be joined, and not both
    assert in_order(tasks) == tasks


def test_what_renews_a_thing_stands_for_putting_it_back() -> None:
    """One job puts the guard back, the other renews it: joined, it comes new, and once."""
    steps = [wk.step("off", 8, takes_off=["guard"]), wk.step("on", 5, renews={"guard": "seal"})]
    new = wk.job("two", ["seal-worn"], order=["seal"], steps=steps)
    old = wk.job("one", ["pump-worn"], steps=[wk.step("off", 6, takes_off=["guard"]), wk.step("on", 7, puts_back=["guard"])])
    book = wk.book(jobs=[old, new])
    last = merge(list(book.jobs.values()), book)
    closing = [t for t in last if t.kind == "step" and (t.renews or t.puts_back)]
    assert [(t.renews, t.puts_back) for t in closing] == [({"guard": "seal"}, ())]


def test_a_job_without_steps_is_one_task() -> None:
    """Its time is what its minutes leave when the set-ups are taken off: 420 - (120 + 60) x 1.6."""
    tasks = merged("patch-hull")
    whole = next(t for t in tasks if t.kind == "step")
    assert whole.id == "patch-hull/whole"
    assert whole.first_time == pytest.approx(420 - 180 * 1.6)
    assert names(tasks)[0] == "set-up:ashore"


def test_she_is_run_before_anything_is_taken_apart() -> None:
    """Warm oil is drawn from an engine that ran; where another job slackens the belt, she runs before that, and before any other set-up."""
    shipped = load_rules()
    tasks = merge([shipped.jobs["change-oil-and-filter"], shipped.jobs["renew-drive-belt"]], shipped)
    setups = [t for t in tasks if t.kind == "set-up"]
    assert setups[0].id == "set-up:warmed-up"
    assert all("set-up:warmed-up" in t.after for t in setups[1:])
    assert "set-up:belt-slack" in {t.id for t in setups}


PRIME = wk.job("prime-pump", ["pump-worn"], setups=["cover-off"], tests=[wk.proved("cold")], steps=[
    wk.step("measure", she_runs="first"), wk.step("off", takes_off=["pump"]), wk.step("on", puts_back=["pump"]),
    wk.step("crank", she_runs="last"), wk.step("top-up")])


def test_she_runs_before_the_set_ups_and_after_them() -> None:
    """What is measured running comes before the cock is shut, what is cranked comes when it is open again, and what follows it too;
    the box, which is in nobody's way, stays open from before the one until after the tests."""
    book = wk.book(PRIME)
    assert names(merge([book.jobs["prime-pump"]], book)) == [
        "set-up:box-open", "prime-pump/measure", "set-up:cock-shut", "set-up:cover-off", "prime-pump/off", "prime-pump/on",
        "put back:cover-off", "put back:cock-shut", "prime-pump/crank", "prime-pump/top-up", "proof:0:cold:1", "put back:box-open"]


def test_she_runs_when_all_jobs_are_whole() -> None:
    """Done with another job behind the same cover, she is cranked when both are through with it, and measured before either."""
    book = wk.book(PRIME)
    order = names(merge([book.jobs["prime-pump"], book.jobs["swap-seal"]], book))
    seal = [i for i, n in enumerate(order) if n.startswith("swap-seal/")]
    assert order.index("prime-pump/measure") < order.index("set-up:cock-shut") < min(seal)
    assert max(seal) < order.index("put back:cock-shut") < order.index("prime-pump/crank")


def test_the_outermost_set_up_is_made_first_and_put_back_last() -> None:
    """The switch is off before cock and cover, and on again after both; the box stays open for the proof."""
    book = wk.book(wk.job("clean", ["seal-worn"], setups=["switch-off", "cover-off"], steps=[wk.step("wipe")], tests=[wk.proved("cold")]))
    order = names(merge([book.jobs["clean"]], book))
    assert [n for n in order if n.startswith("set-up:")] == ["set-up:box-open", "set-up:switch-off", "set-up:cock-shut", "set-up:cover-off"]
    assert [n for n in order if n.startswith("put back:")] == ["put back:cover-off", "put back:cock-shut", "put back:switch-off",
                                                               "put back:box-open"]


def test_nothing_is_off_where_she_runs() -> None:
    """A step in which she runs while the pump is off is refused."""
    steps = [wk.step("off", takes_off=["pump"]), wk.step("crank", she_runs="last"), wk.step("on", puts_back=["pump"])]
    with pytest.raises(AssertionError, match="she runs while 'pump' is off"):
        wk.book(wk.job("prime-pump", ["pump-worn"], steps=steps))


def test_shipped_jobs_run_her_whole() -> None:
    """Of each shipped job, alone and with each other that runs her: before the set-ups or after them, but for those in nobody's way."""
    book = load_rules()
    running = [job for job in book.jobs.values() if any(running_of(job))]
    assert len(running) > 10
    for one, other in [*combinations(running, 2), *((job, job) for job in running)]:
        tasks = merge([one, other], book)
        place = {t.id: i for i, t in enumerate(tasks)}
        way = [t.id.partition(":")[2] for t in tasks if t.kind == "set-up"]
        way = [s for s in way if f"put back:{s}" in place and not book.words.setups[s].until_proved and not book.words.setups[s].runs_her]
        for task in tasks:
            first = any(step in running_of(book.jobs[job])[0] for job, step in task.steps)
            last = any(step in running_of(book.jobs[job])[1] for job, step in task.steps)
            assert not first or all(place[task.id] < place[f"set-up:{s}"] for s in way if s != "engine-box-open"), task.id
            assert not last or all(place[task.id] > place[f"put back:{s}"] for s in way), task.id
