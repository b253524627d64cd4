"""Each branch of the departure decision, on boats of one or two faults."""

from __future__ import annotations

from typing import Any

import pytest
import smallbook as sb

from diagnose import assess
from diagnose.assessment import Assessment
from diagnose.decide import RATIO
from diagnose.knowledge.book import Book

SLOW, QUICK = (2000, 20000), (0.5, 2)
SIGNS = ("sign", "mark", "token")


def proven(name: str, signs: tuple[str, ...], **more: Any) -> sb.Map:
    """A fault that its signs together all but prove."""
    return sb.fault(name, [sb.shows(s, (0.98,)) for s in signs], rate=0.5, **more)


def one_fault(*, jobs: tuple[sb.Map, ...] = (), rules: tuple[sb.Map, ...] = (), looks: tuple[sb.Map, ...] = (), **more: Any) -> Book:
    """One fault shown by three signs, and one sign that belongs to nobody."""
    symptoms = [sb.symptom(s, (0.001,)) for s in SIGNS] + [sb.symptom("smell", (0.02,))]
    other = sb.fault("smoulder", [sb.shows("smell", (0.9,))], rate=0.001, outcomes=(("nuisance", 1.0),))
    return sb.book_of(sb.component(symptoms=symptoms, faults=[proven("f", SIGNS, **more), other], jobs=jobs, rules=rules), looks=looks)


def all_seen(grade: str = "some", **more: Any) -> list[sb.Map]:
    return [sb.seen(s, grade, **more) for s in SIGNS]


def decided(book: Book, *observations: sb.Map, aboard: tuple[str, ...] = (), losses: sb.Map | None = None, **case: Any) -> Assessment:
    """The assessment of a trip of ten hours along the coast."""
    trip = {"engine_hours": 10, "exposure": "coastal", "can_sail": False, "aboard": {"spares": list(aboard)}, "losses": losses or {}}
    return assess(sb.case_of(*observations, trip={**trip, **case.pop("trip", {})}, **case), book, next_check=False)


def hold(name: str, when: sb.Map, stops: str = "leave", kind: str = "engine-lost") -> sb.Map:
    then = {"hold": name, "stops": stops, "kind": kind, "say": "Stop.", "cleared_by": "mending", "allowed": "looking",
            "overridden_by": "nobody"}
    return {"id": f"{name}-rule", "when": when, "then": then, **sb.SAID}


MEND = sb.job("mend", ["f"], minutes=60, parts=["pump"])
LOOK = sb.look("look", ["sign"])


# ------------------------------------------------------------------ the gate of looks


def test_nothing_found_is_a_go() -> None:
    """All looks made, nothing found: go, and it is settled."""
    found = decided(one_fault(looks=(LOOK,)), *all_seen("none"))
    assert (found.decision, found.departure.settled) == ("go", True)


def test_not_knowing_is_not_safe() -> None:
    """The same boat with the look not made stays, unsettled, and is told which look is missing."""
    found = decided(one_fault(looks=(LOOK,)), sb.seen("mark", "none"), sb.seen("token", "none"))
    assert (found.decision, found.departure.settled) == ("stay", False)
    assert found.departure.would_change == ("look (2 min)",)
    assert [look.state for look in found.look_over] == ["not made"]


@pytest.mark.parametrize(("given", "state"), [
    ({"hours_ago": 9.0}, "made"),
    ({"hours_ago": 11.0}, "stale"),
    ({"when": "2026-06-02T09:00:00"}, "made"),
    ({"when": "2026-05-31T09:00:00"}, "stale"),
    ({"sure": "think-so"}, "made"),
    ({"sure": "guess"}, "not made"),
    ({"sure": "not-sure"}, "not made"),
    ({"epoch": "before"}, "not made"),
])
def test_what_counts_as_a_look(given: sb.Map, state: str) -> None:
    """A look counts while it is fresh (ten engine hours, a day) and was no guess; a go needs one that counts."""
    found = decided(one_fault(looks=(LOOK,)), sb.seen("sign", "none", **given), sb.seen("mark", "none"), sb.seen("token", "none"),
                    now="2026-06-02T12:00:00")
    assert [look.state for look in found.look_over] == [state]
    assert found.decision == ("go" if state == "made" else "stay")
    assert found.departure.settled == (state == "made")


def test_one_of_several_ways_to_look_is_enough() -> None:
    """Where any one of several signs tells, one of them looked at makes the look; else all are needed."""
    any_of, both = sb.look("look", ["sign", "mark"], any_of=True), sb.look("look", ["sign", "mark"])
    assert decided(one_fault(looks=(any_of,)), sb.seen("sign", "none")).look_over[0].state == "made"
    assert decided(one_fault(looks=(both,)), sb.seen("sign", "none")).look_over[0].state == "not made"


def test_a_look_that_found_something_was_made() -> None:
    """A look that found something is not missing: the decision rests on what was found."""
    found = decided(one_fault(looks=(LOOK,), lasts=(SLOW,)), *all_seen())
    assert found.look_over[0].state == "found something"
    assert found.departure.settled


def test_a_look_that_is_only_advised_keeps_nobody() -> None:
    """It is listed as not made, and a go does not wait for it."""
    advised = sb.look("advised", ["mark"], gates=False)
    found = decided(one_fault(looks=(LOOK, advised)), sb.seen("sign", "none"))
    assert [(look.id, look.state, look.owed) for look in found.look_over] == [("look", "made", False), ("advised", "not made", False)]
    assert (found.decision, found.departure.settled) == ("go", True)


def test_looks_follow_the_boat() -> None:
    """A look at what the boat does not have is not asked for."""
    fact = {"id": "bottle", "title": "Bottle", "ask": "Is there?", "flag": True, "default": False, "why": "invented"}
    look = sb.look("look", ["sign"], live_when={"fact": "bottle", "is": True})
    book = sb.book_of(sb.component(symptoms=[sb.symptom("sign")], faults=[proven("f", ("sign",))]), looks=[look], facts=[fact])
    assert decided(book).look_over == ()
    assert len(decided(book, boat={"arrangement": {"bottle": True}}).look_over) == 1


# ------------------------------------------------------------------ risk against staying


@pytest.mark.parametrize(("chance", "word"), [(0.039, "go"), (0.041, "stay")])
def test_the_line_is_a_third_of_what_staying_costs(chance: float, word: str) -> None:
    """Staying costs 24 h and a lost engine 200: up to a chance of .04 one goes, for .04 * 200 * 3 is 24 (hand sum)."""
    book = one_fault(lasts=(QUICK,), outcomes=(("engine-lost", chance), ("nuisance", 1 - chance)))
    found = decided(book, *all_seen(), losses={"by_consequence": {"nuisance": 0}})
    assert found.all_probabilities["f"] > 0.999
    assert found.departure.going.expected_hours == pytest.approx(200 * chance, rel=2e-3)
    assert found.decision == word


def test_the_skipper_may_say_what_staying_costs() -> None:
    """The same chance of .041 is a go when staying would cost two days."""
    book = one_fault(lasts=(QUICK,), outcomes=(("engine-lost", 0.041), ("nuisance", 0.959)))
    found = decided(book, *all_seen(), losses={"stay": 48, "by_consequence": {"nuisance": 0}})
    assert found.decision == "go"
    assert found.departure.line["engine-lost"] == pytest.approx(48 / RATIO / 200)


# ------------------------------------------------------------------ limits


EASE = {"limits": [{"verb": "ease", "say": "Ease her to two thirds."}], "limits_leave": 0.05}


def test_limits_that_bring_the_risk_down_make_a_go_with_limits() -> None:
    """A fault too risky at full revs and fine at two thirds: go with limits, and they are named with their fault."""
    found = decided(one_fault(lasts=((5, 100),), **EASE), *all_seen())
    assert found.decision == "go with limits"
    assert [(k.of, k.limit.verb) for k in found.limits] == [("f", "ease")]
    assert found.departure.with_limits is not None
    assert found.departure.with_limits.expected_hours < 8 < found.departure.going.expected_hours


def test_limits_that_hardly_help_do_not_make_a_go() -> None:
    """The same fault where limits leave nine tenths of the risk: stay."""
    assert decided(one_fault(lasts=((5, 100),), **{**EASE, "limits_leave": 0.9}), *all_seen()).decision == "stay"


def test_a_likely_grave_fault_goes_with_its_limits_even_when_the_risk_is_small() -> None:
    """A bearing that lasts thousands of hours: the trip is fine, and its limits go along."""
    assert decided(one_fault(lasts=(SLOW,), **EASE), *all_seen()).decision == "go with limits"
    assert decided(one_fault(lasts=(SLOW,)), *all_seen()).decision == "go"


# ------------------------------------------------------------------ fix, then go


def test_fix_then_go_with_the_parts_aboard() -> None:
    """A fault that would stop her, a job that cures it afloat and the part aboard: fix, prove, go."""
    found = decided(one_fault(lasts=(QUICK,), jobs=(MEND,)), *all_seen(), aboard=("pump",))
    assert found.decision == "fix, then go"
    assert [(f.job, f.parts_missing) for f in found.fixes] == [("mend", ())]
    assert found.departure.after_fix is not None
    assert found.departure.after_fix.expected_hours < 1 < found.departure.going.expected_hours


@pytest.mark.parametrize(("job", "aboard", "missing"), [
    (MEND, (), ("pump",)),
    ({**MEND, "afloat": False}, ("pump",), ()),
    (sb.job("mend", ["smoulder"], parts=[]), ("pump",), None),
])
def test_without_part_or_place_she_stays(job: sb.Map, aboard: tuple[str, ...], missing: tuple[str, ...] | None) -> None:
    """The part ashore, a job that needs a yard, or one that cures something else: stay; the job is still named."""
    found = decided(one_fault(lasts=(QUICK,), jobs=(job,)), *all_seen(), aboard=aboard)
    assert found.decision == "stay"
    assert [f.parts_missing for f in found.fixes] == ([] if missing is None else [missing])


def test_a_quick_cure_of_a_grave_fault_is_made_before_leaving() -> None:
    """Half an hour's work is done first even where the trip alone would be fine; a longer job waits."""
    quick, long = sb.job("mend", ["f"], minutes=30), sb.job("mend", ["f"], minutes=31)
    assert decided(one_fault(lasts=(SLOW,), jobs=(quick,)), *all_seen()).decision == "fix, then go"
    assert decided(one_fault(lasts=(SLOW,), jobs=(long,)), *all_seen()).decision == "go"


def test_all_likely_grave_faults_that_can_be_cured_are_cured() -> None:
    """One cure would make the trip fine; the other likely fault, its part aboard too, is not left behind."""
    def book(second: sb.Map) -> Book:
        symptoms = [sb.symptom(s, (0.001,)) for s in ("a1", "a2", "b1", "b2")]
        faults = [proven("a", ("a1", "a2"), lasts=(QUICK,)), proven("b", ("b1", "b2"), lasts=((40, 400),))]
        return sb.book_of(sb.component(symptoms=symptoms, faults=faults, jobs=(sb.job("mend-a", ["a"], minutes=40), second)))

    seen = [sb.seen(s, "some") for s in ("a1", "a2", "b1", "b2")]
    both = decided(book(sb.job("mend-b", ["b"], minutes=50)), *seen, losses={"stay": 400})
    assert (both.decision, {f.job for f in both.fixes}) == ("fix, then go", {"mend-a", "mend-b"})
    one = decided(book(sb.job("mend-b", ["b"], minutes=50, parts=["pump"])), *seen, losses={"stay": 400})
    assert (one.decision, {f.job for f in one.fixes}) == ("fix, then go", {"mend-a"})


# ------------------------------------------------------------------ holds


def test_a_hold_keeps_her_whatever_the_arithmetic() -> None:
    """A small risk and every look made, but a hold: stay, settled, and told what clears it."""
    rules = (hold("keep", {"symptom": "smell", "at_least": "some"}),)
    found = decided(one_fault(rules=rules, looks=(LOOK,)), *all_seen("none"), sb.seen("smell", "some"))
    assert (found.decision, found.departure.settled) == ("stay", True)
    assert [h.id for h in found.holds] == ["keep"]
    assert found.departure.would_change == ("mending",)


def test_a_hold_on_opening_does_not_keep_her() -> None:
    """A cap that must stay shut is no reason to stay."""
    rules = (hold("shut", {"symptom": "smell", "at_least": "some"}, stops="open"),)
    assert decided(one_fault(rules=rules), *all_seen("none"), sb.seen("smell", "some")).decision == "go"


def test_a_hold_is_lifted_by_the_cure_of_what_fired_it() -> None:
    """A hold on the very fault that can be cured aboard: fix, then go; without the part: stay."""
    book = one_fault(rules=(hold("keep", {"symptom": "sign", "at_least": "some"}),), jobs=(MEND,))
    assert decided(book, *all_seen(), aboard=("pump",)).decision == "fix, then go"
    assert decided(book, *all_seen()).decision == "stay"


def test_a_hold_is_not_lifted_by_the_cure_of_something_else() -> None:
    """A worn pump that can be mended aboard does not make a smell of burning go away: stay."""
    book = one_fault(rules=(hold("burning", {"symptom": "smell", "at_least": "some"}, kind="fire"),), jobs=(MEND,))
    assert decided(book, *all_seen(), sb.seen("smell", "some"), aboard=("pump",)).decision == "stay"


def test_a_hold_reached_through_findings_is_lifted_by_the_cure() -> None:
    """Two signs make a finding and the finding a hold: the cure of what shows both lifts it, and only that."""
    finding = {"id": "both", "when": {"all": [{"symptom": "sign", "at_least": "some"}, {"symptom": "mark", "at_least": "some"}]},
               "then": {"finding": "pump-going", "say": "So."}, **sb.SAID}
    mixed = {**finding, "when": {"all": [{"symptom": "sign", "at_least": "some"}, {"symptom": "smell", "at_least": "some"}]}}
    keep = hold("keep", {"finding": "pump-going"})
    seen = [*all_seen(), sb.seen("smell", "some")]
    assert decided(one_fault(rules=(finding, keep), jobs=(MEND,)), *seen, aboard=("pump",)).decision == "fix, then go"
    assert decided(one_fault(rules=(mixed, keep), jobs=(MEND,)), *seen, aboard=("pump",)).decision == "stay"


def test_a_leak_is_not_lifted_by_the_cure_of_something_else() -> None:
    """A leak that does not fit stays when the job at hand mends another part, and goes when it mends the leak."""
    drip = sb.symptom("drip", (0.02,), leak={"fluid": "coolant", "rates": {"some": [100, 100]}})
    faults = [proven("f", SIGNS), sb.fault("seal", [sb.shows("drip", (0.9,))], rate=4.0, outcomes=(("repair-bill", 1.0),))]
    for job, word in ((MEND, "stay"), (sb.job("mend", ["f", "seal"]), "fix, then go")):
        book = sb.book_of(sb.component(symptoms=[drip, *(sb.symptom(s, (0.001,)) for s in SIGNS)], faults=faults, jobs=[job]))
        assert decided(book, *all_seen(), sb.seen("drip", "some"), aboard=("pump",)).decision == word


def test_a_hold_may_ask_for_a_chance() -> None:
    """A rule on the chance of a fault fires above it and not below."""
    rules = (hold("likely", {"chance": "f", "over": 0.5}),)
    assert [h.id for h in decided(one_fault(rules=rules), *all_seen()).holds] == ["likely"]
    assert decided(one_fault(rules=rules), sb.seen("sign", "none")).holds == ()


# ------------------------------------------------------------------ two dangerous faults in one chain


def two_faults(system: str = "cooling", leads: bool = False) -> Book:
    """Two slow and grave faults, each proven by signs of its own."""
    first, second = proven("a", ("a-sign", "a-mark"), lasts=(SLOW,)), proven("b", ("b-sign", "b-mark"), lasts=(SLOW,))
    if leads:
        first["leads_to"] = [{"fault": "b", "chance": 0.3, "why": "invented"}]
    return sb.book_of(
        sb.component("one", "cooling", symptoms=[sb.symptom(s, (0.001,)) for s in ("a-sign", "a-mark")], faults=[first]),
        sb.component("two", system, symptoms=[sb.symptom(s, (0.001,)) for s in ("b-sign", "b-mark")], faults=[second]),
    )


BOTH = [sb.seen(s, "some") for s in ("a-sign", "a-mark", "b-sign", "b-mark")]


def test_two_likely_grave_faults_in_one_vital_chain_stop_her() -> None:
    """Each alone may last for years; both in the cooling together are a reason to stay."""
    found = decided(two_faults(), *BOTH)
    assert min(found.all_probabilities.values()) > 0.9
    assert found.departure.going.expected_hours * RATIO < 24
    assert found.decision == "stay"


def test_two_faults_in_different_chains_do_not() -> None:
    """The same two, one of them in a system that is not of the cooling chain: go."""
    assert decided(two_faults("gauges"), *BOTH).decision == "go"


def test_a_fault_and_what_it_caused_count_once() -> None:
    """A seal and the bearing it ruined are one trouble, not two."""
    assert decided(two_faults(leads=True), *BOTH).decision == "go"


def test_one_alone_does_not() -> None:
    """One of the two alone: go."""
    assert decided(two_faults(), sb.seen("a-sign", "some"), sb.seen("a-mark", "some"), sb.seen("b-sign", "none")).decision == "go"


# ------------------------------------------------------------------ leaks


def leaking(rate: tuple[float, float], *, fluid: str = "coolant") -> Book:
    """A leak of this rate from a fault that lasts for years."""
    drip = sb.symptom("drip", (0.001,), leak={"fluid": fluid, "rates": {"some": list(rate)}})
    fault = sb.fault("seal", [sb.shows("drip", (0.98,)), sb.shows("mark", (0.98,))], rate=0.5, lasts=(SLOW,),
                     outcomes=(("repair-bill", 1.0),))
    return sb.book_of(sb.component(symptoms=[drip, sb.symptom("mark", (0.001,))], faults=[fault]))


DRIPS = (sb.seen("drip", "some"), sb.seen("mark", "some"))


def test_a_leak_that_fits_is_no_matter() -> None:
    """3 x 5 mL/h for 10 h is .15 L, within a third of the header's .6 L: go (hand sum)."""
    found = decided(leaking((5, 5)), *DRIPS)
    assert [leak.verdict for leak in found.leaks] == ["fits"]
    assert found.decision == "go"


def test_a_leak_that_can_be_topped_up_makes_a_limit() -> None:
    """3 x 20 mL/h for 10 h is .6 L; .2 L of it in the header and 1 L of 3 L carried: top up .2 L every 200 min (hand sums)."""
    found = decided(leaking((20, 20)), *DRIPS, trip={"aboard": {"coolant": "3 L"}})
    assert [leak.verdict for leak in found.leaks] == ["needs topping up"]
    assert found.decision == "go with limits"
    assert [(k.of, k.limit.number) for k in found.limits] == [("drip", "200 mL")]
    assert found.limits[0].limit.every_minutes == pytest.approx(200, abs=1)


def test_a_leak_that_does_not_fit_keeps_her() -> None:
    """3 x 100 mL/h for 10 h is 3 L against .2 L and nothing carried: stay, with the sum as the reason."""
    found = decided(leaking((100, 100)), *DRIPS)
    assert [leak.verdict for leak in found.leaks] == ["does not fit"]
    assert found.decision == "stay"
    assert "300 mL/h x 10 h = 3.00 L" in found.departure.because[0]


def test_a_full_bottle_does_not_help_where_there_is_none_to_fill() -> None:
    """Without an expansion bottle the hot header cannot be filled, so what is carried does not count: stay."""
    carried = {"aboard": {"coolant": "3 L"}}
    found = decided(leaking((20, 20)), *DRIPS, trip=carried, boat={"arrangement": {"expansion-bottle": False}})
    assert found.decision == "stay"


def test_sea_water_against_the_pump() -> None:
    """3 x 10 L/h coming in fits a bilge pump of 200 L/h (a quarter is 50) and not one of 100 L/h."""
    book = leaking((10_000, 10_000), fluid="sea-water-in")
    assert decided(book, *DRIPS, trip={"aboard": {"bilge_pump": "200 L/h"}}).decision == "go"
    assert decided(book, *DRIPS, trip={"aboard": {"bilge_pump": "100 L/h"}}).decision == "stay"
