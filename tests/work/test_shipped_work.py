"""Planning over the whole shipped book: every job with steps is complete, every shipped case has a sound plan."""

from __future__ import annotations

import pytest
import workkit as wk

from diagnose.case import Case, load_case
from diagnose.knowledge.load import load_rules, shipped
from diagnose.knowledge.worksteps import order_of
from diagnose.triage import assess
from diagnose.work.ground import Ground, full_minutes
from diagnose.work.merge import later_tests, merge
from diagnose.work.orders import from_csv, order_list, to_csv
from diagnose.work.plan import plan
from diagnose.work.recipes import recipes
from diagnose.work.schedule import schedule

BOOK = load_rules()
CASES = sorted(p.stem for p in shipped("cases").glob("*.yaml"))


@pytest.fixture(scope="module")
def any_boat() -> Ground:
    """A boat of which nothing is known."""
    case = Case(opened_because="routine-look")
    return Ground.of(assess(case, BOOK, next_check=False, ledger=False), case, BOOK)


def test_every_job_is_complete(any_boat: Ground) -> None:
    """Of every job: it has steps, with cautions and a proof that can fail; each part a step or set-up uses is on its order list, all
    that comes off goes back, the order is kept, the recipes can be worked out or say what they want, and the time is that of its parts."""
    wrong = []
    for job in BOOK.jobs.values():
        tasks = merge([job], BOOK)
        used = {p for t in tasks for p in (*t.uses, *t.renews.values())}
        listed = order_list(any_boat, [job], tasks)
        if not used <= {line.part for line in listed.lines}:
            wrong.append((job.id, "uses what is not ordered", sorted(used - {line.part for line in listed.lines})))
        place = {t.id: i for i, t in enumerate(tasks)}
        if not all(place[b] < place[t.id] for t in tasks for b in t.after):
            wrong.append((job.id, "a step before what it needs", []))
        if not job.steps or not (job.proof.passes and job.proof.fails):
            wrong.append((job.id, "has no steps, or a proof that says nothing", []))
        apart = [*(BOOK.words.setups[s] for s in job.setups), *job.steps]
        if not (job.cautions or any(part.cautions for part in apart)):
            wrong.append((job.id, "warns of nothing", []))
        told = {c for t in (*tasks, *later_tests([job], BOOK)) for c in t.cautions}
        if not told >= {*job.cautions, *(c for part in apart for c in part.cautions)}:
            wrong.append((job.id, "a caution is told nowhere", sorted({*job.cautions} - told)))
        if not all(place[f"{job.id}/{b}"] < place[f"{job.id}/{s}"] for s, before in order_of(job).items() for b in before):
            wrong.append((job.id, "its own order is not kept", []))
        off: list[str] = []
        for t in tasks:
            off = [thing for thing in off if thing not in {*t.puts_back, *t.renews}] + list(t.takes_off)
        if off:
            wrong.append((job.id, "does not go back", off))
        if abs(sum(t.first_time for t in tasks if t.kind != "proof") - full_minutes(job, BOOK, "first_time")) > 1e-6:
            wrong.append((job.id, "takes another time", []))
        if from_csv(to_csv(listed)) != listed.lines:
            wrong.append((job.id, "its table does not read back", []))
        wrong += [(job.id, "recipe gives nothing", [r.step]) for r in recipes(any_boat, [job]) if not r.amounts and not r.wanted]
    assert wrong == []
    assert len(BOOK.jobs) >= 200


def test_everything_at_once(any_boat: Ground) -> None:
    """All jobs of the book as one piece of work: still an order, still sound, and no longer than one after another."""
    jobs = list(BOOK.jobs.values())
    tasks = merge(jobs, BOOK)
    together = sum(t.first_time for t in tasks if t.kind != "proof")
    assert together <= sum(full_minutes(j, BOOK, "first_time") for j in jobs) + 1e-6
    assert order_list(any_boat, jobs, tasks).lines


@pytest.mark.parametrize("name", CASES[::6])
def test_shipped_cases_have_a_sound_plan(name: str) -> None:
    """The schedule keeps order and hands, the fixes the decision rests on are in the plan, and it costs no more than doing nothing or
    all."""
    case = load_case(shipped("cases") / f"{name}.yaml")
    assessment = assess(case, BOOK, next_check=False)
    made = plan(assessment, case, BOOK, hands=2)
    if assessment.decision == "fix, then go":
        assert {fix.job for fix in assessment.fixes} <= set(made.jobs)
    else:
        assert made.choice.cost <= made.choice.cost_of_nothing + 1e-9
    assert made.choice.cost <= made.choice.cost_of_all + 1e-9
    slots = {s.task: s for s in made.schedule.slots}
    assert all(slots[t.id].start >= slots[b].ready - 1e-6 for t in made.tasks for b in t.after)
    assert made.schedule.minutes >= made.schedule.critical_minutes - 1e-6
    assert made.schedule.minutes <= schedule(made.tasks, 1).minutes + 1e-6
    assert len(made.opened.extras) <= 12, "a blanket list"


def test_leaving_out_a_job_of_a_shipped_case_is_noticed() -> None:
    """The small book shows it in full; here: a case whose fix is in the plan, with the job taken out of the book, leaves its fault."""
    case = wk.case({"pump-worn": "some"})
    whole, less = wk.book(), wk.book(jobs=[j for j in wk.JOBS if j["id"] != "swap-pump"])
    assert plan(assess(case, whole), case, whole).jobs == ("swap-pump",)
    made = plan(assess(case, less), case, less)
    assert made.jobs == ()
    assert "pump-worn" in {left.fault for left in made.choice.left if left.why == "no job"}
