"""What a case tells of its work, made ready to be weighed: which faults were cured, what was then, and what was found."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import smallbook as sb

from diagnose import assess, triage
from diagnose.before import past_of
from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.network.nodes import sign_id
from diagnose.network.past import Past, is_of_then, then
from diagnose.prior import prior_of
from diagnose.situation import Situation, resolve

WORN = {"ages_with": {"since": "pump", "shape": 3, "life": {"value": 900, "unit": "hour", "spread": 1.2, "source": "common-practice"}}}
PUMP, REFILL = "renew-pump", "refill"


def book(**changed: Any) -> Book:
    """A pump whose seal wears with its age and whose bearing does not, a hose that the work on the pump may disturb, air after a refill."""
    faults = [
        sb.fault("seal", [sb.shows("weep", (0.8,)), sb.shows("puddle", (0.5,))], rate=0.2, **WORN),
        sb.fault("bearing", [sb.shows("rumble", (0.8,)), sb.shows("weep", (0.5,))], rate=0.1),
        sb.fault("hose", [sb.shows("puddle", (0.8,))], rate=0.3, after=[{"event": "pump-work", "chance": 0.1, "fades_over_hours": 20,
                                                                        "why": "It was taken off."}]),
        sb.fault("air", [sb.shows("gurgle", (0.8,))], rate=0.01, after=[{"event": "refilled", "chance": 0.3, "fades_over_hours": 5,
                                                                         "why": "Air stays."}]),
    ]
    jobs = [sb.job(PUMP, ["seal"], parts=["pump"], leaves="pump-work"), sb.job(REFILL, ["air"], leaves="refilled")]
    events = [{"id": name, "title": name, **sb.SAID} for name in ("pump-work", "refilled")]
    symptoms = [sb.symptom(name) for name in ("weep", "puddle", "rumble", "gurgle")]
    return sb.book_of(sb.component(symptoms=symptoms, faults=faults, jobs=jobs, events=events, **changed))


def case(*observations: sb.Map, work: sb.Map | None = None, **more: Any) -> Any:
    """A boat at 1000 h with a pump of 700 h."""
    made: sb.Map = {"boat": {"name": "Tern", "engine_hours": 1000, "serviced": {"pump": {"at_hours": 300}}}, **more}
    return sb.case_of(*observations, **made, **({} if work is None else {"work": work}))


def situation(*observations: sb.Map, work: sb.Map | None = None, **more: Any) -> Situation:
    return resolve(case(*observations, work=work, **more), book())


def past(*observations: sb.Map, work: sb.Map, **more: Any) -> Past:
    found = past_of(situation(*observations, work=work, **more), book())
    assert found is not None
    return found


def test_without_work_there_is_no_past() -> None:
    """A case that tells of no work has only its now."""
    assert past_of(situation(), book()) is None


def test_what_the_jobs_cure_is_cured_and_nothing_is_told_to_be_found() -> None:
    """The faults of the jobs done; what was found in them is not told."""
    told = past(work={"jobs": [PUMP]})
    assert (set(told.cured), dict(told.found)) == ({"seal"}, {})


def test_then_the_part_had_its_age_and_now_it_is_new() -> None:
    """A pump of 700 h before the work, new since: worn out is likely of then; that it began in the 3 h since is not."""
    serviced = {"name": "Tern", "engine_hours": 1000, "serviced": {"pump": {"at_hours": 997}}}
    then_, since = past(work={"jobs": [PUMP], "hours_ago": 3, "renewed": {"pump": {"at_hours": 300}}}, boat=serviced).cured["seal"]
    fault, sit = book().faults["seal"], situation()
    assert then_ == pytest.approx(prior_of(fault, sit), rel=1e-12)  # as on the boat whose pump is still of 300
    assert since == pytest.approx(prior_of(fault, situation(boat=serviced), cured_hours=3), rel=1e-12)
    assert since[0] > 0.99999 > 0.9 > then_[0]


def test_a_part_whose_age_was_not_known_had_none() -> None:
    """Nothing was known of the pump before it was renewed: then its fault is as on any boat, whatever the age now."""
    told = past(work={"jobs": [PUMP], "renewed": {"pump": None}})
    without = situation(boat={"name": "Tern", "engine_hours": 1000})
    assert told.cured["seal"][0] == pytest.approx(prior_of(book().faults["seal"], without), rel=1e-12)


def test_what_the_work_disturbs_is_of_after_it_alone() -> None:
    """The hose is likelier since the pump was off; of then it has its chance without that, and what was brought on stands apart."""
    events = [{"event": "pump-work", "hours_ago": 5}]
    before, brought = past(work={"jobs": [PUMP]}, events=events).anew["hose"]
    assert before == pytest.approx(prior_of(book().faults["hose"], situation()), rel=1e-12)
    assert brought[1] == pytest.approx(0.1 * (1 - 5 / 20), rel=1e-9)


def test_an_event_that_was_not_the_work_was_there_then_too() -> None:
    """Refilled by somebody else before: it speaks of then, and nothing of it is anew."""
    told = past(work={"jobs": [PUMP]}, events=[{"event": "pump-work", "hours_ago": 1}, {"event": "refilled", "hours_ago": 2}])
    assert set(told.anew) == {"hose"}


def test_a_cured_fault_that_the_work_can_bring_on_is_cured() -> None:
    """Air is what a refill cures and what it may leave: it is weighed once, as cured, with what the refill may have left since."""
    told = past(work={"jobs": [REFILL], "hours_ago": 1}, events=[{"event": "refilled", "hours_ago": 1}])
    before, since = told.cured["air"]
    assert "air" not in told.anew
    assert before == pytest.approx(prior_of(book().faults["air"], situation()), rel=1e-12)
    assert since[1] == pytest.approx(0.3 * (1 - 1 / 5), rel=1e-3)


def test_signs_of_before_are_of_then_and_those_of_now_are_not() -> None:
    """Only what is told as of before goes into the past."""
    told = past(sb.seen("weep", "some", epoch="before"), sb.seen("puddle", "none"), work={"jobs": [PUMP]})
    assert set(told.signs) == {sign_id("weep", "idle")}


def test_found_tells_of_every_fault_that_the_job_cures() -> None:
    """Named, found; not named, not found; another fault found in it counts as cured by it."""
    assert dict(past(work={"jobs": [PUMP], "found": {PUMP: ["seal"]}}).found) == {"seal": True}
    assert dict(past(work={"jobs": [PUMP], "found": {PUMP: []}}).found) == {"seal": False}
    other = past(work={"jobs": [PUMP], "found": {PUMP: ["bearing"]}})
    assert dict(other.found) == {"seal": False, "bearing": True}
    assert set(other.cured) == {"seal", "bearing"}


def test_found_and_not_cured_is_found_and_is_there() -> None:
    """A fault found and left is told of as found, and is not among the cured."""
    told = past(work={"jobs": [PUMP], "not_cured": ["bearing"]})
    assert dict(told.found) == {"bearing": True}
    assert set(told.cured) == {"seal"}
    left = past(work={"jobs": [PUMP], "not_cured": ["seal"]})
    assert dict(left.found) == {"seal": True}
    assert not left.cured  # the job is for it, and it was left all the same


@pytest.mark.parametrize(("work", "what", "where", "right"), [
    ({"jobs": ["renew-pmup"]}, "job 'renew-pmup' is not in the book", "work.jobs[0]", PUMP),
    ({"jobs": [PUMP], "found": {"refil": []}}, "job 'refil' is not in the book", "work.found.refil", REFILL),
    ({"jobs": [PUMP], "found": {REFILL: []}}, "is not among the jobs done", f"work.found.{REFILL}", PUMP),
    ({"jobs": [PUMP], "found": {PUMP: ["saal"]}}, "fault 'saal' is not in the book", f"work.found.{PUMP}", "seal"),
    ({"not_cured": ["bering"]}, "fault 'bering' is not in the book", "work.not_cured[0]", "bearing"),
    ({"jobs": [PUMP], "renewed": {"pmup": None}}, "'pmup' is not a service item", "work.renewed.pmup", "pump"),
])
def test_a_name_that_is_not_there_is_refused_with_its_place(work: sb.Map, what: str, where: str, right: str) -> None:
    """What is not in the book, or does not go together, is said with its place and what is right."""
    with pytest.raises(InputError) as caught:
        past(work=work)
    text = str(caught.value)
    assert what in text
    assert where in text
    assert right in text


# ------------------------------------------------------------------ weighed


def chance(fault: str, *observations: sb.Map, **more: Any) -> float:
    return assess(case(*observations, **more), book()).all_probabilities[fault]


def test_what_was_found_and_left_is_there() -> None:
    """Found for certain, it is there whatever else was seen; what it shows it explains, and the other cause is less likely for it."""
    weep = sb.seen("weep", "some")
    assert chance("bearing", weep) < 0.5
    assert chance("bearing", weep, work={"not_cured": ["bearing"]}) > 0.999
    assert chance("seal", weep, work={"not_cured": ["bearing"]}) < chance("seal", weep)


def test_what_was_seen_before_the_work_still_speaks_of_what_it_did_not_cure() -> None:
    """The weep of before, nothing found in the pump: the bearing is the likelier for it; with the seal found it is explained."""
    weep = sb.seen("weep", "some", epoch="before")
    nothing, sealed = ({"jobs": [PUMP], "found": {PUMP: found}} for found in ([], ["seal"]))
    assert chance("bearing", weep, work=nothing) > 2 * chance("bearing", weep, work=sealed)
    assert chance("seal", weep, work=sealed) < 0.06  # one repair in twenty does not hold


def test_what_was_left_alone_says_nothing_of_then() -> None:
    """Without a job that was done there is no then: a sign marked as of before counts for as little as it did."""
    weep = sb.seen("weep", "some", epoch="before")
    assert past(weep, work={"not_cured": ["hose"]}).signs == {}
    assert chance("seal", weep, work={"not_cured": ["hose"]}) == pytest.approx(chance("seal", work={"not_cured": ["hose"]}), rel=1e-9)


def test_the_ledger_says_what_then_and_what_was_found_tell() -> None:
    """A line of the ledger for all of it together, with what was seen."""
    result = assess(case(sb.seen("weep", "some", epoch="before"), work={"jobs": [PUMP], "not_cured": ["bearing"]}), book())
    line = next(line for line in result.ranking if line.fault == "bearing")
    assert [entry.group for entry in line.ledger.lines] == ["seen before the work, and what was found"]
    assert line.ledger.lines[0].given_rest > 40  # one finding in a hundred thousand is of a fault that was not there


def test_a_past_too_closely_knit_to_weigh_is_left_out_and_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the network of then and now together is too wide, the case is judged by what is seen now alone, and says so."""
    weep = sb.seen("weep", "some", epoch="before")
    work = {"jobs": [PUMP], "found": {PUMP: []}}
    plain = chance("bearing")
    assert chance("bearing", weep, work=work) > plain
    fits = property(lambda belief: sum(is_of_then(name) for name in belief.likelihoods) < 2)
    monkeypatch.setattr(triage.Belief, "fits", fits)
    result = assess(case(weep, work=work), book())
    assert result.all_probabilities["bearing"] == pytest.approx(plain, rel=1e-9)
    assert any("what was seen before the work is left out" in line for line in result.assumed)
    left = assess(case(weep, work={**work, "not_cured": ["hose"]}), book())
    assert left.all_probabilities["hose"] > 0.99  # what was found and is there still hangs on one fault, and is kept
    assert left.all_probabilities["bearing"] < 1.05 * plain


def test_priors_of_then_stand_beside_those_of_now() -> None:
    """Each fault in it has a prior of then under its name of then."""
    told = past(work={"jobs": [PUMP]}, events=[{"event": "pump-work", "hours_ago": 5}])
    assert set(told.priors) == {"seal", then("seal"), "hose", then("hose")}
    assert np.all([p.sum() == pytest.approx(1.0) for p in told.priors.values()])
