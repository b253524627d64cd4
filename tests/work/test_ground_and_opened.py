"""Chances of beginning and ending, against published figures and simulation; what is renewed while it is open; what can wait."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import smallbook as sb
import workkit as wk

from diagnose.triage import assess
from diagnose.work.ground import Ground
from diagnose.work.opened import Weights, candidates, opened, weigh
from diagnose.work.plan import plan
from diagnose.work.wait import can_wait

BOOK = wk.book()


def ageing(shape: float, life: float, hours: float) -> Any:
    """The small book with another ageing law of the belt, hardly spread, where things are opened again after so many hours."""
    law = {**wk.AGEING, "shape": shape, "life": {**wk.AGEING["life"], "value": life, "spread": 1.1}}
    faults = {**wk.FAULTS, "belt-aged": {**wk.FAULTS["belt-aged"], "ages_with": law}}
    return sb.book_of(sb.component(symptoms=[wk.sign(f"{n}-seen") for n in faults], faults=[wk.fault(n, **f) for n, f in faults.items()],
                                   jobs=wk.JOBS), setups=wk.SETUPS, parts=wk.PARTS,
                      service_items=wk.SERVICE, work={"open_again_years": hours / 100.0})


@pytest.mark.parametrize(("shape", "life", "age", "hours", "reliability"), [
    (2.0, 1000.0, 500.0, 100.0, 0.895834), (3.0, 4000.0, 3000.0, 500.0, 0.780323), (3.0, 4000.0, None, 500.0, 0.998049),
    (2.0, 1000.0, None, 500.0, 0.778801)])
def test_beginning_of_an_ageing_part(shape: float, life: float, age: float | None, hours: float, reliability: float) -> None:
    """Conditional Weibull reliability R(t|T) = exp((T/eta)^b - ((T+t)/eta)^b), figures by scipy's weibull_min; the book's least spread of
    the life moves it by a hundredth at most."""
    rules = ageing(shape, life, hours)
    ground = wk.ground({}, rules, ages={"belt": age or 0.0})
    fault = rules.faults["belt-aged"]
    begins = ground.begins(fault, "opened-again", new=age is None)
    assert begins == pytest.approx(1 - reliability, abs=0.01, rel=0.05)


def test_beginning_without_an_age_goes_by_the_rate() -> None:
    """0.10 a year at 100 hours a year: in 50 hours 1 - exp(-0.05), on a new part as on an old one, for it does not age."""
    ground = wk.ground({}, BOOK)
    fault = BOOK.faults["filter-dirty"]
    assert ground.begins(fault, "season") == pytest.approx(1 - math.exp(-0.05))
    assert ground.begins(fault, "season", new=True) == ground.begins(fault, "season")


def test_ending_of_a_stage_met_at_a_random_moment() -> None:
    """Residual life of a lognormal stage with 5 and 95 % points 20 and 200 h (renewal theory): the integral of survival over the mean."""
    ground = wk.ground({"pump-worn": "some"}, BOOK)
    mu, sigma = math.log(math.sqrt(20 * 200)), math.log(10) / (2 * 1.6448536269514722)
    t = np.linspace(0, 10, 20001)[1:]
    survival = np.array([0.5 * math.erfc((math.log(x) - mu) / sigma / math.sqrt(2)) for x in t])
    expected = float((0.5 + survival[:-1].sum() + survival[-1] / 2) * 10 / 20000) / math.exp(mu + sigma**2 / 2)
    assert ground.ends(BOOK.faults["pump-worn"], "port") == pytest.approx(expected, rel=1e-4)


def test_beginning_and_ending_against_simulation() -> None:
    """A belt of 700 h, Weibull 3 and 800 h with its spread, then a stage of 10 to 100 h: how often it has ended within 100 h, by drawing
    400,000 lives. The book's sum puts beginnings at three moments, so a twelfth is allowed."""
    r = np.random.default_rng(7)
    z = 1.6448536269514722
    eta = 800 * np.exp(math.log(1.3) / z * r.standard_normal(400_000))
    lives = eta * r.weibull(3, 400_000)
    lives = lives[lives > 700]
    stage = np.exp(math.log(math.sqrt(1000)) + math.log(10) / (2 * z) * r.standard_normal(len(lives)))
    simulated = float(np.mean(lives + stage < 800))
    ground = wk.ground({}, BOOK, ages={"belt": 700.0})
    fault = BOOK.faults["belt-aged"]
    assert ground.begins(fault, "opened-again") == pytest.approx(float(np.mean(lives < 800)), rel=0.02)
    assert ground.begins(fault, "opened-again") * ground.ends_fresh(fault, "opened-again") == pytest.approx(simulated, rel=1 / 12)


# ------------------------------------------------------------------ while it is open


def extras(ground: Ground, *jobs: str) -> dict[str, Any]:
    """By job, what is worth doing while these lie open."""
    return {e.job: e for e in opened(ground, [BOOK.jobs[j] for j in jobs]).extras}


def test_only_what_the_plan_has_opened_is_weighed() -> None:
    """Behind the pump's cover lie its own jobs and the belt's; painting has no set-up, the hull needs her ashore."""
    ground = wk.ground({"pump-worn": "some"}, BOOK)
    found = {c.job.id for c in candidates(ground, [BOOK.jobs["swap-pump"]])}
    assert found == {"swap-seal", "turn-cover", "renew-belt"}
    assert {c.job.id for c in candidates(ground, [BOOK.jobs["renew-belt"]])} == set()
    assert candidates(ground, []) == []


def test_extra_minutes_are_the_steps_and_not_the_access() -> None:
    """The seal takes 45 minutes of steps now; another day 48 more of set-ups, there and back."""
    seal = next(c for c in candidates(wk.ground({}, BOOK), [BOOK.jobs["swap-pump"]]) if c.job.id == "swap-seal")
    assert seal.open_minutes == pytest.approx(30 * 1.5)
    assert seal.closed_minutes == pytest.approx(30 * 1.5 + 30 * 1.6)


def test_an_old_belt_is_renewed_and_a_new_one_left() -> None:
    """At 790 of its 800 hours the belt is worth its twenty minutes; at ten hours it is not, and of unknown age the book's rate decides."""
    clear = {"belt-aged": "none"}
    old, new = (wk.ground(clear, BOOK, spares=["belt"], ages={"belt": h}) for h in (790.0, 10.0))
    assert extras(old, "swap-pump")["renew-belt"].word == "now"
    assert extras(old, "swap-pump")["renew-belt"].age_hours == 790
    assert "renew-belt" not in extras(new, "swap-pump")


def test_what_does_not_age_is_not_renewed_for_its_own_sake() -> None:
    """A cover looked at and found sound, which begins to fail as often new as old: next to nothing is spared, and it is left."""
    ground = wk.ground({"cover-worn": "none"}, BOOK)
    cover = next(c for c in candidates(ground, [BOOK.jobs["swap-pump"]]) if c.job.id == "turn-cover")
    there = ground.chance("cover-worn")
    weights = weigh(ground, cover, there)
    assert there < 0.01
    assert weights.spares < weights.takes
    assert weights.word == "leave"


def test_spared_hours_by_hand() -> None:
    """A cover with chance p of being worn: p times its end and what it costs then, less what a new one costs, and half an hour's worth of
    each hour of the work on another day."""
    ground = wk.ground({"cover-worn": "some"}, BOOK)
    cover = next(c for c in candidates(ground, [BOOK.jobs["swap-pump"]]) if c.job.id == "turn-cover")
    fault, p = BOOK.faults["cover-worn"], ground.chance("cover-worn")
    q = 1 - math.exp(-0.02)
    fresh = q * ground.ends_fresh(fault, "opened-again") * 0.3 * 200
    lost = p * ground.ends(fault, "opened-again") * 0.3 * 200 + (1 - p) * fresh - fresh
    later = 0.5 * (4 * 1.5 + 30 * 1.6) / 60 * (p + (1 - p) * q - q)
    weights = weigh(ground, cover, p)
    assert weights.spares == pytest.approx(lost + later)
    assert weights.takes == pytest.approx(4 * 1.5 / 60)
    assert weights.word in ("now", "if it looks bad")


@pytest.mark.parametrize(("weights", "word"), [
    (Weights(spares=5, takes=1, by_age=3, suspect=False, look_gains=2, look_takes=0.1), "now"),  # its age alone pays
    (Weights(spares=5, takes=1, by_age=0, suspect=True, look_gains=2, look_takes=0.1), "now"),  # likely enough to be cured unseen
    (Weights(spares=5, takes=1, by_age=0, suspect=False, look_gains=2, look_takes=0.1), "if it looks bad"),  # a small chance, seen
    (Weights(spares=5, takes=1, by_age=0, suspect=False, look_gains=None, look_takes=0.1), "now"),  # and not seen
    (Weights(spares=5, takes=4, by_age=5, suspect=True, look_gains=2, look_takes=0.1), "if it looks bad"),  # a look gains more
    (Weights(spares=1, takes=4, by_age=0, suspect=False, look_gains=0.05, look_takes=0.1), "leave"),  # a look gains less than it takes
    (Weights(spares=1, takes=4, by_age=0, suspect=False, look_gains=None, look_takes=0.1), "leave")])
def test_the_word(weights: Weights, word: str) -> None:
    """Now, on a bad look, or leave: by what gains most, and never unseen for a small chance alone."""
    assert weights.word == word


def test_another_way_to_the_same_end_is_no_extra() -> None:
    """Where the plan lifts the pump for an end, rinsing it for the same end is not offered beside."""
    to = {"to": "clean-pump", "enough": 0.9, "inspects": "it", "waste": "none"}
    lift = {**wk.JOBS[0], "way": to}
    other = {**wk.JOBS[1], "way": to}
    rules = wk.book(jobs=[lift, other, *wk.JOBS[2:]])
    ground = wk.ground({"seal-worn": "some"}, rules)
    assert "swap-seal" not in {c.job.id for c in candidates(ground, [rules.jobs["swap-pump"]])}


def test_the_plan_says_what_lies_open() -> None:
    """Looks of its jobs, symptoms that can be judged, and the totals with the extras where there are any."""
    given = wk.case({"pump-worn": "some", "belt-aged": "none"}, spares=["pump", "belt"], ages={"belt": 790.0})
    made = plan(assess(given, BOOK), given, BOOK)
    assert made.opened.look == ("the shaft",)
    assert made.opened.judge == ("cover worn seen",)
    assert {t.extras for t in made.totals} == {False, True}
    more = plan(assess(given, BOOK), given, BOOK, extras=True)
    assert set(more.jobs) - set(made.jobs) >= {"renew-belt"}
    with_extras = {(t.hand, t.hands): t.minutes for t in made.totals if t.extras}
    assert more.schedule.minutes == with_extras["first_time", 1]
    assert all(t.minutes <= with_extras[t.hand, t.hands] for t in made.totals if not t.extras)


# ------------------------------------------------------------------ can it wait


def test_it_waits_for_the_part_where_little_can_happen_and_not_where_much_can() -> None:
    """A worn pump whose spare is aboard is done now; without one it is done at the next port, for three days of waiting cost more."""
    aboard = can_wait(wk.ground({"pump-worn": "some"}, BOOK, spares=["pump"]), "pump-worn")
    away = can_wait(wk.ground({"pump-worn": "some"}, BOOK), "pump-worn")
    assert aboard.word == "now"
    assert away.word == "next port"
    assert away.rows[0].waiting_for_parts == 72


def test_paint_waits_for_the_season_s_end() -> None:
    """What never ends in anything waits until work costs least."""
    found = can_wait(wk.ground({"paint-flaking": "some"}, BOOK), "paint-flaking")
    assert found.word == "season's end"
    assert all(row.loss == 0 for row in found.rows)


@pytest.mark.parametrize("fault", sorted(wk.FAULTS))
def test_rows_add_up_and_chances_grow(fault: str) -> None:
    """Each row's cost is its parts together, the word is its least, and no consequence gets rarer by waiting."""
    found = can_wait(wk.ground({fault: "some"}, BOOK, ages={"belt": 500.0}), fault)
    for row in found.rows:
        assert row.cost == pytest.approx(row.loss + row.work + row.waiting_for_parts)
    assert min(found.rows, key=lambda r: r.cost).when == found.word
    for kind in found.rows[0].consequences:
        chances = [row.consequences[kind] for row in found.rows]
        assert chances == sorted(chances)
        assert chances[0] == 0


def test_loss_of_waiting_by_hand() -> None:
    """To the next port: the pump's chance, times the chance that it ends in ten hours, times 0.8 of an engine lost (200 h) and 0.2 of a
    nuisance (1 h); a pump does not age, so nothing is added for beginning."""
    ground = wk.ground({"pump-worn": "some"}, BOOK, spares=["pump"])
    fault = BOOK.faults["pump-worn"]
    end = ground.chance("pump-worn") * ground.ends(fault, "port")
    row = can_wait(ground, "pump-worn").rows[1]
    assert row.consequences["engine-lost"] == pytest.approx(0.8 * end)
    assert row.loss == pytest.approx(end * (0.8 * 200 + 0.2 * 1))
    minutes = 55 * 1.5 + 30 * 1.6
    assert row.work == pytest.approx(ground.chance("pump-worn") * minutes / 60)
