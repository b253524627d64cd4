"""Which jobs: against every set of jobs, and what must follow when a loss, a chance or a job changes."""

from __future__ import annotations

import math
from itertools import chain, combinations

import numpy as np
import pytest
import smallbook as sb
import workkit as wk
from hypothesis import given
from hypothesis import strategies as st

from diagnose.errors import InputError
from diagnose.prior import prior_of
from diagnose.triage import assess
from diagnose.work.choose import Choosing, Sums, choose
from diagnose.work.ground import Ground, full_minutes, own_minutes, setup_minutes

BOOK = wk.book()
SEEN = {"pump-worn": "some", "seal-worn": "some", "filter-dirty": "none", "paint-flaking": "some"}


def test_the_chance_of_any_is_exact() -> None:
    """Two faults with one sign are rivals: the chance that either is there, by summing the four cases by hand, is neither that of
    independent faults nor the sum."""
    rules = sb.book_of(sb.component(
        symptoms=[wk.sign("wet")], faults=[sb.fault(n, [sb.shows("wet", (0.95,))], rate=r) for n, r in (("one", 0.2), ("other", 0.1))],
        jobs=[wk.job("both", ["one", "other"])]), parts=wk.PARTS)
    given_case = sb.case_of(sb.seen("wet", "some", "cold-stopped"))
    ground = Ground.of(assess(given_case, rules), given_case, rules)
    a, b = (1.0 - float(prior_of(rules.faults[n], ground.situation)[0]) for n in ("one", "other"))
    none, one, both = 0.01, 1 - 0.99 * 0.05, 1 - 0.99 * 0.05**2
    whole = (1 - a) * (1 - b) * none + (a * (1 - b) + b * (1 - a)) * one + a * b * both
    assert ground.any_of([["one", "other"]])[0] == pytest.approx(1 - (1 - a) * (1 - b) * none / whole, rel=1e-6)
    assert ground.any_of([["one"]])[0] == ground.chance("one")
    assert ground.any_of([["one", "other"]])[0] < ground.chance("one") + ground.chance("other")


@given(st.integers(0, 5), st.integers(1, 5), st.integers(0, 3), st.integers(0, 2**30))
def test_the_cost_of_every_set(jobs: int, faults: int, setups: int, seed: int) -> None:
    """The cost of each set, by adding up job by job and fault by fault."""
    r = np.random.default_rng(seed)
    groups = tuple((np.array([float(f % 2 == g) for f in range(faults)]), float(r.uniform()), float(r.uniform(0, 5))) for g in range(2))
    sums = Sums(own=r.uniform(0, 4, jobs), uses=(r.uniform(size=(jobs, setups)) < 0.5).astype(float), setups=r.uniform(0, 3, setups),
                chance=r.uniform(size=faults), loss=r.uniform(0, 6, faults),
                cured=(r.uniform(size=(jobs, faults)) < 0.5) * r.uniform(0.5, 1, (jobs, 1)), later=groups)
    for row, members in enumerate(sums.sets):
        done = [j for j in range(jobs) if members[j]]
        cost = sum(sums.own[j] for j in done) + sum(sums.setups[s] for s in range(setups) if any(sums.uses[j, s] for j in done))
        left = [math.prod([]) if not done else min(1 - sums.cured[j, f] for j in done) for f in range(faults)]
        cost += sum(left[f] * sums.loss[f] for f in range(faults))
        cost += sum(hours * min(some, sum(left[f] * sums.chance[f] for f in range(faults) if of[f])) for of, some, hours in groups)
        assert sums.costs[row] == pytest.approx(cost)
    assert sums.costs[sums.best([False] * jobs)] == pytest.approx(sums.costs.min())


def by_enumeration(ground: Ground) -> tuple[float, set[str]]:
    """The cheapest set among all sets of all jobs of the book, by the rule as the guide tells it, each fault cured by one job only."""
    work, rules = BOOK.words.work, ground.book
    likely = [f for f in rules.faults if ground.chance(f) >= work.likely]
    jobs = list(rules.jobs.values())
    found = {}
    for done in chain.from_iterable(combinations(jobs, n) for n in range(len(jobs) + 1)):
        setups = {s for j in done for s in ("box-open", "cock-shut", "cover-off", "ashore") if s in closure(j.setups)}
        cost = sum(own_minutes(j, rules, "first_time") / 60 + ground.buying(j) for j in done)
        cost += setup_minutes(sorted(setups), rules, "first_time") / 60
        for fault in likely:
            if not any(fault in j.cures for j in done):
                job = rules.jobs_for[fault][0]
                later = work.hour_at_leisure * full_minutes(job, rules, "first_time") / 60 + ground.buying(job)
                cost += ground.loss(rules.faults[fault], "season") + ground.chance(fault) * later
        found[frozenset(j.id for j in done)] = cost
    best = min(found, key=lambda s: (round(found[s], 9), len(s)))
    return found[best], set(best)


def closure(setups: tuple[str, ...]) -> set[str]:
    """Set-ups with what they stand on."""
    names = set(setups)
    for name in setups:
        names |= closure(tuple(wk.SETUPS[name].get("needs", ())))
    return names


@pytest.mark.parametrize("spares", [(), ("pump", "seal", "gasket", "filter")])
@pytest.mark.parametrize("seen", [{}, SEEN, {"pump-worn": "some", "seal-worn": "none"}, dict.fromkeys(wk.FAULTS, "some"),
                                  {"paint-flaking": "some"}, {"hull-soft": "some", "belt-aged": "some"}])
def test_against_every_set_of_jobs(seen: dict[str, str], spares: tuple[str, ...]) -> None:
    """The choice is the cheapest of all 128 sets of the small book's jobs."""
    ground = wk.ground(seen, BOOK, spares=spares)
    choice = choose(ground)
    cost, jobs = by_enumeration(ground)
    assert choice.cost == pytest.approx(cost)
    assert {c.job for c in choice.chosen} == jobs
    assert choice.cost <= min(choice.cost_of_nothing, choice.cost_of_all)
    assert choice.exact


def test_what_pays_is_chosen_and_what_does_not_is_left_with_its_reason() -> None:
    """A worn pump that loses the engine is cured; flaking paint waits; a filter that may be dirty is looked at first."""
    choice = choose(wk.ground({"pump-worn": "some", "paint-flaking": "some"}, BOOK))
    assert [c.job for c in choice.chosen] == ["swap-pump"]
    assert choice.chosen[0].missing == ("pump",)
    left = {x.fault: x for x in choice.left}
    assert left["paint-flaking"].leaving.season == 0
    assert left["paint-flaking"].why in ("can wait", "look first")
    assert "1.5 h" in left["paint-flaking"].say or "45 min" in left["paint-flaking"].say


def test_leaving_costs_more_the_longer_it_is() -> None:
    """To the next port it costs no less than on a shorter trip, and to the season's end no less than that."""
    for line in choose(wk.ground(SEEN, BOOK)).chosen:
        for fault in line.cures:
            assert 0 <= fault.trip <= fault.port <= fault.season


@pytest.mark.parametrize("times", [1.5, 5.0, 50.0])
def test_a_dearer_engine_never_takes_a_job_out(times: float) -> None:
    """Where losing the engine costs more, all that was worth curing still is."""
    before = {c.job for c in choose(wk.ground(SEEN, BOOK)).chosen}
    dearer = wk.case(SEEN).model_copy(update={"trip": wk.case(SEEN).trip.model_copy(update={
        "losses": wk.case(SEEN).trip.losses.model_copy(update={"by_consequence": {"engine-lost": 200.0 * times}})})})
    after = {c.job for c in choose(Ground.of(assess(dearer, BOOK), dearer, BOOK)).chosen}
    assert before <= after


def test_leaving_out_a_job_changes_what_is_said_of_its_fault_and_of_nothing_else() -> None:
    """Without the pump's job the book says so of the pump; the seal's job stays, and pays the cover alone."""
    without = wk.book(jobs=[j for j in wk.JOBS if j["id"] != "swap-pump"])
    whole, less = choose(wk.ground(SEEN, BOOK)), choose(wk.ground(SEEN, without))
    assert {c.job for c in whole.chosen} - {c.job for c in less.chosen} == {"swap-pump"}
    assert next(x for x in less.left if x.fault == "pump-worn").why == "no job"
    assert not any(x.fault == "pump-worn" for x in whole.left)
    others = [{x.fault: x for x in c.left if x.fault != "pump-worn"} for c in (whole, less)]
    assert others[0] == others[1]


def test_a_job_asked_for_is_done_whatever_it_costs() -> None:
    """A job named is in the plan, and said to be asked for; one that is not in the book is refused with the nearest name."""
    choice = choose(wk.ground(SEEN, BOOK), jobs=["paint"])
    paint = next(c for c in choice.chosen if c.job == "paint")
    assert paint.asked_for
    assert choice.cost >= choose(wk.ground(SEEN, BOOK)).cost
    with pytest.raises(InputError, match="swap-pumps"):
        choose(wk.ground(SEEN, BOOK), jobs=["swap-pumps"])


def test_a_way_that_is_seldom_enough_leaves_its_share() -> None:
    """A cure that is enough half the time leaves half the loss: the cost is that of its work and half the rest."""
    way = {"to": "pump-again", "enough": 0.5, "inspects": "it", "waste": "none"}
    half = [j if j["id"] != "swap-pump" else {**j, "way": way} for j in wk.JOBS]
    rules = wk.book(jobs=half)
    ground = wk.ground({"pump-worn": "some", "paint-flaking": "none"}, rules)
    sums = Choosing(ground).sums
    assert len(sums.own) == 1
    work = sums.own[0] + (sums.uses[0] @ sums.setups)
    left_alone = sums.costs[0]
    assert sums.costs[1] - work == pytest.approx(left_alone / 2)


def test_a_look_comes_before_the_order_where_it_may_spare_the_work() -> None:
    """With a quick look not yet made, and a fault that may not be there, the look is named first; once made it is not."""
    rules = sb.book_of(sb.component(
        symptoms=[wk.sign("wet"), wk.sign("bore")],
        faults=[sb.fault("worn", [sb.shows("wet", (0.5,)), sb.shows("bore", (0.95,))], rate=0.02)],
        checks=[sb.check("feel-bore", ["bore"], state="cold-stopped", minutes=3)],
        jobs=[wk.job("renew", ["worn"], minutes=240)]), parts=wk.PARTS)

    def chosen(*more: dict[str, object]) -> str | None:
        given_case = sb.case_of(sb.seen("wet", "some", "cold-stopped"), *more)
        found = choose(Ground.of(assess(given_case, rules), given_case, rules), jobs=["renew"]).chosen[0]
        return found.look_first

    assert "feel-bore" in str(chosen())
    assert chosen(sb.seen("bore", "some", "cold-stopped")) is None


def test_rivals_get_an_order_of_trying() -> None:
    """Two faults that explain one sign, both worth curing: tried one at a time they take less on average than both."""
    rules = sb.book_of(sb.component(
        symptoms=[wk.sign("wet")], faults=[sb.fault(n, [sb.shows("wet", (0.95,))], rate=0.1) for n in ("one", "other")],
        jobs=[wk.job("cure-one", ["one"], minutes=60), wk.job("cure-other", ["other"], minutes=20)]), parts=wk.PARTS)
    given_case = sb.case_of(sb.seen("wet", "some", "cold-stopped"))
    tries = choose(Ground.of(assess(given_case, rules), given_case, rules)).tries
    assert tries is not None
    assert tries.jobs == ("cure-other", "cure-one")  # as likely, and a third of the work
    assert tries.expected_hours == pytest.approx(20 / 60 + 0.5 * 1.0, rel=1e-6)
    assert tries.all_hours == pytest.approx(80 / 60)
