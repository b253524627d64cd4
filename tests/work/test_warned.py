"""Each caution of a job is told where it applies: at its set-up, its step, its test, or before the first hand goes to work."""

from __future__ import annotations

from typing import Any

import smallbook as sb
import workkit as wk

from diagnose.knowledge.book import Book
from diagnose.work.merge import later_tests, merge
from diagnose.work.warned import at_first, at_test

LISTED: tuple[dict[str, Any], ...] = (
    {"id": "key", "title": "Key out"},
    {"id": "cover", "title": "Cover hot"},
    {"id": "clear", "title": "Clear of belts", "tests": ["first-start", "warm", "under-load"], "of_every_job": True},
    {"id": "gas", "title": "Gas", "tests": ["warm"]},
    {"id": "cap", "title": "Never over the cap", "tests": ["under-pressure"]},
)


def book(*jobs: dict[str, Any], **setups: Any) -> Book:
    """A pump and its jobs, with cautions of each kind."""
    faults = [sb.fault("worn", [sb.shows("weep", (0.8,))]), sb.fault("slack", [sb.shows("squeal", (0.8,))])]
    made = sb.component(symptoms=[sb.symptom("weep"), sb.symptom("squeal")], faults=faults, jobs=jobs)
    return sb.book_of(made, cautions=[{"text": "Mind it.", **sb.SAID, **c} for c in LISTED], setups=wk.SETUPS | setups, parts=wk.PARTS)


def told(found: Book, *names: str) -> dict[str, tuple[str, ...]]:
    """The cautions of each task of some jobs, tests some hours on among them, where there are any."""
    jobs = [found.jobs[n] for n in names or found.jobs]
    return {t.id: t.cautions for t in (*merge(jobs, found), *later_tests(jobs, found)) if t.cautions}


def test_a_caution_of_the_whole_job_is_told_before_its_first_step() -> None:
    """What belongs to no test stands at the first step, once."""
    made = book(wk.job("renew", ["worn"], steps=[wk.step("off"), wk.step("on")], cautions=["key", "cover"]))
    assert at_first(made.jobs["renew"], made) == ("key", "cover")
    assert told(made) == {"renew/off": ("key", "cover")}


def test_what_a_step_or_set_up_tells_is_not_told_twice() -> None:
    """A caution that stands where it applies is not moved to the beginning."""
    steps = [wk.step("off"), wk.step("on", cautions=["cover"])]
    made = book(wk.job("renew", ["worn"], setups=["box-open"], steps=steps, cautions=["key", "cover"]),
                **{"box-open": {**wk.SETUPS["box-open"], "cautions": ["key"]}})
    assert at_first(made.jobs["renew"], made) == ()
    assert told(made) == {"set-up:box-open": ("key",), "renew/on": ("cover",), "put back:box-open": ("key",)}


def test_a_caution_of_a_test_is_told_at_every_such_test() -> None:
    """It stands at each test of its moments, and not at the others nor at the steps; at a later test by the engine's state."""
    tests = [wk.proved("cold"), wk.proved("under-pressure"), wk.proved("warm"), wk.proved("after-hours", "Run.", state="idle", hours=10)]
    made = book(wk.job("renew", ["worn"], steps=[wk.step("off")], tests=tests, cautions=["gas", "cap"]))
    running = dict.fromkeys(["proof:3:warm:1", "proof:5:after-hours:1"], ("clear", "gas"))
    assert told(made) == {"proof:1:under-pressure:1": ("cap",), **running}


def test_a_later_look_at_rest_is_no_running_test() -> None:
    """Looked at cold some hours on nothing turns."""
    tests = [wk.proved("cold"), wk.proved("after-hours", "Look again.", state="cold-stopped", hours=10)]
    made = book(wk.job("renew", ["worn"], steps=[wk.step("off")], tests=tests, cautions=["gas"]))
    assert told(made) == {"renew/off": ("gas",)}  # no test of its moment, so it is told at the beginning


def test_of_every_job_it_is_told_where_no_job_names_it() -> None:
    """She runs, so belts turn, whatever the job says of them; said once where the job names it too."""
    for cautions in ([], ["clear"]):
        made = book(wk.job("renew", ["worn"], steps=[wk.step("off")], tests=[wk.proved("under-load")], cautions=cautions))
        assert told(made) == {"proof:4:under-load:1": ("clear",)}


def test_a_test_of_two_jobs_tells_the_cautions_of_both() -> None:
    """One run for two jobs: what either warns of is told there."""
    run = wk.proved("warm", "Run her.")
    made = book(wk.job("renew", ["worn"], steps=[wk.step("off")], tests=[run]),
                wk.job("tighten", ["slack"], steps=[wk.step("turn")], tests=[run], cautions=["gas"]))
    assert told(made) == {"proof:3:warm:1": ("clear", "gas")}
    assert at_test([(j, j.proof.tests[0]) for j in made.jobs.values()], made) == ("clear", "gas")
