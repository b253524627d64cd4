"""The answer at sea: what is asked for by a hold, by a leak, and by arithmetic; words for it on the page."""

from __future__ import annotations

from typing import Any

import pytest
import smallbook as sb

from diagnose import assess
from diagnose.assessment import Assessment, UnderWay
from diagnose.knowledge.book import Book
from diagnose.show.page import triage_page
from diagnose.underway import WORDS

SIGNS = ("sign", "mark", "token")


def book(*, rules: tuple[sb.Map, ...] = (), **more: Any) -> Book:
    """One fault that its three signs together all but prove, and one sign of no consequence that rules may ask for."""
    symptoms = [sb.symptom(s, (0.001,)) for s in SIGNS] + [sb.symptom("smell", (0.02,))]
    faults = [sb.fault("f", [sb.shows(s, (0.98,)) for s in SIGNS], rate=0.5, **more),
              sb.fault("harmless", [sb.shows("smell", (0.9,))], rate=0.001, outcomes=(("nuisance", 1.0),))]
    return sb.book_of(sb.component(symptoms=symptoms, faults=faults, rules=rules))


def hold(**then: Any) -> tuple[sb.Map, ...]:
    """A hold on the smell."""
    whole = {"hold": "h", "stops": "leave", "kind": "engine-lost", "say": "It smells.", "cleared_by": "airing", "allowed": "looking",
             "overridden_by": "nobody", **then}
    return ({"id": "h-rule", "when": {"symptom": "smell", "at_least": "some"}, "then": whole, **sb.SAID},)


def at_sea(rules: Book, *seen: str, **trip: Any) -> Assessment:
    """Ten engine hours along the coast still to go, in a boat that cannot sail, with some of the signs seen."""
    case = sb.case_of(*(sb.seen(s, "some") for s in seen),
                      trip={"engine_hours": 10, "exposure": "coastal", "can_sail": False, "under_way": True, **trip})
    return assess(case, rules, next_check=False)


def answered(a: Assessment) -> UnderWay:
    assert a.under_way is not None
    return a.under_way


def test_in_harbour_there_is_no_such_answer() -> None:
    """A boat that has not left is only told whether she may."""
    assert at_sea(book(), under_way=False).under_way is None


@pytest.mark.parametrize(("lasts", "word"), [
    ((0.05, 0.2), "stop now"),  # over in a quarter of an hour: even easing along to some room loses the engine
    ((3.0, 8.0), "ease and find room"),  # there is time to find room, but not for the two hours to shelter
    ((50.0, 150.0), "turn back"),  # shelter will do, ten hours will not
    ((2000.0, 20000.0), "carry on with limits"),
])
def test_the_shorter_she_has_the_sooner_she_stops(lasts: tuple[float, float], word: str) -> None:
    """The same sure fault with ever longer to go, losing the engine at its end."""
    found = answered(at_sea(book(lasts=(lasts,)), *SIGNS, shelter_hours=2.0))
    assert found.word == word
    assert found.costs[found.word] <= 1.25 * min(found.costs.values())


def test_costs_are_risk_plus_what_the_answer_itself_costs() -> None:
    """With nothing wrong only the answer itself costs: hand sum from the scale, twice over for a boat that cannot sail."""
    found = answered(at_sea(book()))
    assert found.costs == {"carry on with limits": pytest.approx(0.0, abs=0.05), "turn back": pytest.approx(8.0, abs=0.05),
                           "ease and find room": pytest.approx(12.0, abs=0.05), "stop now": pytest.approx(32.0)}
    assert answered(at_sea(book(), can_sail=True)).costs["stop now"] == pytest.approx(16.0)


def test_without_room_stopping_costs_half_the_engine() -> None:
    """In an entrance she is idled clear before she is stopped, and it is said."""
    found = answered(at_sea(book(lasts=((0.05, 0.2),)), *SIGNS, room_to_stop=False))
    assert found.costs["stop now"] == pytest.approx(100.0)  # half of the 200 hours of a lost engine
    stopped = answered(at_sea(book(rules=hold(stops="run")), "smell", room_to_stop=False))
    assert "no room" in stopped.headline


@pytest.mark.parametrize(("then", "word"), [
    ({"stops": "run"}, "stop now"),
    ({"stops": "start"}, "stop now"),
    ({"stops": "leave"}, "turn back"),
    ({"stops": "open"}, "carry on with limits"),
    ({"stops": "leave", "under_way": "ease"}, "ease and find room"),
    ({"stops": "leave", "under_way": "carry-on"}, "carry on with limits"),
    ({"stops": "run", "under_way": "turn-back"}, "turn back"),
])
def test_a_hold_sets_the_least(then: sb.Map, word: str) -> None:
    """What a hold stops, or what it says it asks for at sea, is done even where arithmetic would carry on."""
    found = answered(at_sea(book(rules=hold(**then)), "smell"))
    assert found.word == word
    assert ("It smells." in found.because) == (word != "carry on with limits" or then.get("under_way") == "carry-on")


def test_arithmetic_may_ask_for_more_than_a_hold() -> None:
    """Turning back is asked for, but she would not get there."""
    found = answered(at_sea(book(rules=hold(), lasts=((0.05, 0.2),)), *SIGNS, "smell"))
    assert found.word == "stop now"


def test_a_hold_may_use_words_of_its_own() -> None:
    """Where lowest revs are wrong, the book says what is right; only while it is that hold that decides."""
    rules = hold(under_way="ease", say_under_way="At the revs where the lamp stays out.")
    assert answered(at_sea(book(rules=rules), "smell")).headline == "At the revs where the lamp stays out."
    quick = answered(at_sea(book(rules=rules, lasts=((0.05, 0.2),)), *SIGNS, "smell"))
    assert (quick.word, "lamp" in quick.headline) == ("stop now", False)


def test_a_harsher_answer_must_win_clearly() -> None:
    """Of two answers that cost much the same the milder is given: it is not stopped for one hour of delay saved."""
    found = answered(at_sea(book(lasts=((80.0, 300.0),)), *SIGNS))
    words = sorted(found.costs, key=lambda w: found.costs[w])
    assert WORDS.index(found.word) < WORDS.index(words[0])
    assert found.costs[found.word] <= 1.25 * found.costs[words[0]]


def test_a_leak_that_does_not_fit_turns_her_back() -> None:
    """Half a litre an hour for ten hours is more than a header of 0.6 L and no spare water bear."""
    leak = {"fluid": "coolant", "rates": {"some": [300, 500]}}
    rules = sb.book_of(sb.component(symptoms=[sb.symptom("drip", (0.02,), leak=leak)],
                                    faults=[sb.fault("f", [sb.shows("drip", (0.9,))], outcomes=(("nuisance", 1.0),))]))
    found = answered(at_sea(rules, "drip"))
    assert found.word == "turn back"
    assert any("does not fit" in reason for reason in found.because)


def test_the_page_says_it_first_and_last() -> None:
    """The word stands at the top and in the last line; what the berth would say is marked as that."""
    rules = book(rules=hold(stops="run"))
    text = triage_page(at_sea(rules, "smell"), rules, 80).text()
    lines = [line for line in text.splitlines() if line]
    assert any(line.startswith("NOW ") and "STOP NOW" in line for line in lines[:8])
    assert "IN HARBOUR: STAY" in text
    assert "STOP NOW" in text.split("RULES")[1]
    harbour = triage_page(at_sea(rules, "smell", under_way=False), rules, 80).text()
    assert "IN HARBOUR" not in harbour
    assert "\nNOW" not in harbour


def test_every_answer_has_its_words() -> None:
    """Four answers, the mildest first."""
    assert WORDS == ("carry on with limits", "turn back", "ease and find room", "stop now")
