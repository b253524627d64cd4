"""What is ticked off when a plan is made anew: what stays done, what is open again, and when it and its tests count."""

from __future__ import annotations

import json
from itertools import combinations

import doingkit as dk
import pytest

from diagnose.assessment import Assessment
from diagnose.case import Case, load_case
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import shipped
from diagnose.record.entries import MovedOn, TaskTicked, WorkDone
from diagnose.triage import assess
from diagnose.work.merge import merge
from diagnose.work.plan import plan
from diagnose.work.results import Plan, Task

Weep = tuple[Case, Assessment]
PUMP, HOSES = "swap-coolant-pump", "renew-coolant-hoses"
CASES = sorted(shipped("cases").glob("*.yaml"))


@pytest.fixture(scope="module")
def one(weep: Weep, shipped_book: Book) -> Plan:
    """The plan of the shipped weep: a pump."""
    made = plan(weep[1], weep[0], shipped_book)
    assert made.jobs == (PUMP,)
    return made


@pytest.fixture(scope="module")
def merging(shipped_book: Book) -> list[tuple[str, str]]:
    """Pairs of jobs of one component that have a step in common: of each component the first."""
    found: dict[str, tuple[str, str]] = {}
    for a, b in combinations(sorted(shipped_book.jobs), 2):
        component = shipped_book.component_of[a].component
        if component == shipped_book.component_of[b].component and component not in found and any(
                len(t.steps) > 1 for t in merge([shipped_book.jobs[a], shipped_book.jobs[b]], shipped_book)):
            found[component] = (a, b)
    assert len(found) >= 5
    return list(found.values())


def names(tasks: tuple[Task, ...]) -> set[str]:
    """Ids of tasks."""
    return {t.id for t in tasks}


def all_before(made: Plan, task: Task) -> set[str]:
    """Every task that comes before one, found by walking back from it."""
    by_id = {t.id: t for t in made.tasks}
    found: set[str] = set()
    todo = list(task.after)
    while todo:
        name = todo.pop()
        if name not in found:
            found.add(name)
            todo += by_id[name].after
    return found


def open_again(old: Plan, new: Plan) -> set[str]:
    """What a new plan opens of an old one that was done to the end: by hand, from what the book says of each step."""
    by_id = {t.id: t for t in new.tasks}
    ticked = {f"{job}/{step}" for t in old.tasks for job, step in t.steps} | {t.id for t in old.tasks if not t.steps}
    done = {t.id for t in new.tasks if t.kind != "proof" and ({f"{j}/{s}" for j, s in t.steps} or {t.id}) <= ticked}
    opened: set[str] = set()
    while True:
        more = set()
        for name in done - opened:
            task = by_id[name]
            closes = task.kind == "put back" or task.puts_back or task.renews
            steps = [b for b in all_before(new, task) if by_id[b].kind == "step"]
            if closes and any(b not in done or b in opened for b in steps):
                things = {*task.puts_back, *task.renews}
                more |= {name, name.replace("put back:", "set-up:")}
                more |= {t.id for t in new.tasks if things & set(t.takes_off) and set(t.of) & set(task.of)}
        if more <= opened:
            return opened & done
        opened |= more


def test_next_goes_along_every_shipped_plan(shipped_book: Book) -> None:
    """Of every shipped case with work to do: along what is next each task comes once, and none before one that it comes after."""
    planned = 0
    for path in CASES:
        case = load_case(path).model_copy(update={"then": ()})
        made = plan(assess(case, shipped_book, next_check=False, ledger=False), case, shipped_book)
        if not made.jobs:
            continue
        planned += 1
        log = dk.Log(made)
        done = log.work()
        place = {name: i for i, name in enumerate(done)}
        assert sorted(done) == sorted(t.id for t in made.tasks), path.stem
        assert all(place[b] < place[t.id] for t in made.tasks for b in t.after), path.stem
        assert log.standing.left_to_do == (), path.stem
        assert log.standing.unproved == made.later, path.stem
    assert planned >= 20


def test_a_merged_task_counts_when_all_its_steps_are_ticked(one: Plan, shipped_book: Book, merging: list[tuple[str, str]]) -> None:
    """A step of one job alone does not tick what is a step of two; ticked as one, each job's own plan has it ticked."""
    for pair in merging:
        both = dk.plan_of(one, shipped_book, *pair)
        task = next(t for t in both.tasks if len(t.steps) > 1)
        log = dk.Log(both)
        for place, (job, step) in enumerate(task.steps):
            assert task.id not in log.standing.ticked, pair
            log.add(TaskTicked(task=f"{job}/{step}", steps=((job, step),), why="it was off" if place else None,
                               how="left-out" if place else "done"))
        assert log.standing.ticked[task.id].why == "it was off", "the last tick is what is told of it"
        whole = dk.Log(both)
        whole.tick(task)
        for job in pair:
            whole.planned(dk.plan_of(one, shipped_book, job))
            step = next(s for j, s in task.steps if j == job)
            assert f"{job}/{step}" in {f"{j}/{s}" for n in whole.standing.ticked for j, s in whole.standing.tasks[n].steps}, pair


@pytest.mark.parametrize("more", [HOSES, "renew-drive-belt", "change-coolant", "renew-thermostat", "renew-impeller", "clean-exchanger"])
def test_a_job_more_opens_exactly_what_is_closed_over_it(more: str, one: Plan, shipped_book: Book) -> None:
    """The pump is done to the end, then another job comes in: what stays done, what is open again, and that it can be done again."""
    wanted = shipped_book.now_called(more)
    new = dk.plan_of(one, shipped_book, PUMP, wanted)
    log = dk.Log(one)
    log.work()
    log.planned(new)
    standing = log.standing
    fresh = {t.id for t in new.tasks if t.kind != "proof" and any(job == wanted for job, _ in t.steps)} | {
        t.id for t in new.tasks if not t.steps and t.kind != "proof"} - names(one.tasks)
    assert names(standing.left_to_do) == fresh | open_again(one, new)
    assert standing.made == {}, "no test counts before all is done"
    again = log.work()
    assert sorted(again) == sorted(names(standing.left_to_do) | {t.id for t in new.tasks if t.kind == "proof"})
    assert log.standing.left_to_do == ()
    assert log.standing.unproved == new.later


def test_pairs_with_steps_in_common_open_exactly_what_they_must(one: Plan, shipped_book: Book, merging: list[tuple[str, str]]) -> None:
    """The same for jobs that take the same things off: the first done to the end, then the second comes in."""
    for first, second in merging:
        old, new = dk.plan_of(one, shipped_book, first), dk.plan_of(one, shipped_book, first, second)
        log = dk.Log(old)
        log.work()
        log.planned(new)
        told = {f"{job}/{step}" for t in old.tasks for job, step in t.steps} | {t.id for t in old.tasks if not t.steps}
        unsaid = {t.id for t in new.tasks if t.kind != "proof" and not ({f"{j}/{s}" for j, s in t.steps} or {t.id}) <= told}
        assert names(log.standing.left_to_do) == unsaid | open_again(old, new), (first, second)
        log.work()
        assert log.standing.left_to_do == (), (first, second)


def test_a_job_that_comes_in_early_leaves_what_is_done(one: Plan, shipped_book: Book) -> None:
    """While nothing is closed yet, nothing is opened again."""
    log = dk.Log(one)
    done = []
    while not ((task := log.standing.next) is None or task.puts_back or task.renews or task.kind == "put back"):
        log.tick(task)
        done.append(task.id)
    assert len(done) > 5
    log.planned(dk.plan_of(one, shipped_book, PUMP, HOSES))
    assert list(log.standing.ticked) == [t.id for t in log.standing.plan.tasks if t.id in done]


def test_a_plan_with_a_job_less_keeps_what_is_done_of_the_other(one: Plan, shipped_book: Book) -> None:
    """Two jobs, half done; with one of them gone its ticks are of no plan, and the other's stand."""
    log = dk.Log(dk.plan_of(one, shipped_book, PUMP, HOSES))
    for _ in range(8):
        task = log.standing.next
        assert task is not None
        log.tick(task)
    kept = set(log.standing.ticked) & names(one.tasks)
    log.planned(one)
    assert set(log.standing.ticked) == kept


def test_a_closing_ticked_before_a_step_under_it_does_not_count(one: Plan) -> None:
    """Told out of order: the cover that was closed before the step below it was done is to be opened and closed again."""
    log = dk.Log(one)
    log.work()
    early = next(t for t in one.tasks if t.id == f"{PUMP}/clean-faces")
    log.tick(early)
    left = names(log.standing.left_to_do)
    assert f"{PUMP}/pump-on" in left
    assert f"{PUMP}/pump-off" in left
    assert f"{PUMP}/clean-faces" not in left


# ------------------------------------------------------------------ tests of the proof


def test_tests_made_before_later_work_do_not_count(one: Plan) -> None:
    """Each passed; then the job is through once more: all are owed again, and made again they count."""
    log = dk.Log(one)
    log.work()
    assert len(log.standing.made) == 4
    log.add(WorkDone(job=PUMP))
    assert log.standing.made == {}
    assert names(log.standing.unproved) == {t.id for t in (*one.tasks, *one.later) if t.kind == "proof"}
    for test in log.standing.tests:
        log.made(test)
    assert log.standing.unproved == ()


def test_work_of_another_plan_leaves_the_tests(one: Plan) -> None:
    """A job that is not in the plan says nothing of its tests."""
    log = dk.Log(one)
    log.work()
    log.add(WorkDone(job="renew-impeller"))
    assert len(log.standing.made) == 4


def test_a_test_counts_for_the_jobs_it_was_made_for(one: Plan) -> None:
    """A test that proves two jobs is not made by one that proved the first."""
    log = dk.Log(one)
    log.work()
    first = log.standing.tests[0]
    log.made(first, of=("renew-impeller",))
    assert first in log.standing.unproved
    log.made(first, of=("renew-impeller", PUMP))
    assert first not in log.standing.unproved


def test_a_test_counts_only_when_every_step_is_done(one: Plan) -> None:
    """With one step taken back no test is made."""
    log = dk.Log(one)
    log.work()
    step = next(i for i, s in enumerate(log.entries) if isinstance(s.entry, TaskTicked) and s.entry.task == f"{PUMP}/compare-pumps")
    log.entries[step] = dk.Stored(**{**vars(log.entries[step]), "taken_back": True})
    assert log.standing.made == {}
    assert log.standing.first_before(log.standing.tests[0])


def test_a_test_not_made_is_owed_and_holds_nothing_up(one: Plan) -> None:
    """It is no failure; what comes after it is next."""
    log = dk.Log(one)
    while (task := log.standing.next) is not None and task.kind != "proof":
        log.tick(task)
    assert task is not None
    log.made(task, "not-made")
    assert log.standing.next != task
    assert task in log.standing.unproved
    assert log.standing.failed == ()


# ------------------------------------------------------------------ small things


def test_what_was_taken_back_is_as_if_it_never_was(one: Plan) -> None:
    """A plan, a tick, a mark: struck out, the one before counts."""
    log = dk.Log(one)
    log.add(MovedOn(to="work: parts"), taken_back=True)
    log.tick(one.tasks[0])
    log.planned(one.model_copy(update={"title": "another"}))
    log.entries[-1] = dk.Stored(**{**vars(log.entries[-1]), "taken_back": True})
    standing = log.standing
    assert (standing.plan.title, standing.asked, list(standing.ticked)) == (one.title, {}, [one.tasks[0].id])
    log.entries[0] = dk.Stored(**{**vars(log.entries[0]), "taken_back": True})
    assert dk.standing_of(log.entries) is None


def test_a_job_is_through_when_something_of_it_is_done(one: Plan) -> None:
    """All left out is not through; one step done and the others left out is; one step open is not."""
    log = dk.Log(one)
    steps = log.standing.tasks_of(PUMP)
    for step in steps:
        log.tick(step, how="left-out", why="not mine")
    assert not log.standing.is_through(PUMP)
    assert {why for _, why in log.standing.left_out()} == {"not mine"}
    other = dk.Log(one)
    other.tick(steps[0])
    for step in steps[1:]:
        assert not other.standing.is_through(PUMP)
        other.tick(step, how="left-out", why="not mine")
    assert other.standing.is_through(PUMP)
    assert not other.standing.is_through(HOSES)


def test_minutes_told_stand_against_those_of_the_same_tasks(one: Plan) -> None:
    """Only tasks of which a time was told are counted on either side."""
    log = dk.Log(one)
    first, second, third = one.tasks[:3]
    log.tick(first, minutes=7)
    log.tick(second)
    log.tick(third, minutes=30.5)
    assert log.standing.minutes() == (37.5, float(first.first_time) + float(third.first_time))


def test_a_plan_of_another_form_is_none(one: Plan) -> None:
    """What this version cannot read is planned anew."""
    log = dk.Log(one)
    text = json.dumps({"jobs": ["swap-coolant-pump"], "tasks": [], "later": []})
    entry = log.entries[0].entry.model_copy(update={"plan": text, "sha256": dk.digest(text)})
    log.add(entry)
    assert dk.standing_of(log.entries) is None
    log.planned(one)
    assert log.standing.plan == one
