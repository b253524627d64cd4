"""What holds do to looks: those that need her running are taken off the page, and the one a hold names comes first."""

from __future__ import annotations

from typing import Any

import pytest
import smallbook as sb

from diagnose.case import load_case
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules, shipped
from diagnose.show.page import triage_page
from diagnose.triage import assess


@pytest.mark.parametrize("name", ["water-in-the-cylinder", "gas-aboard", "overheat-after-leaving"])
def test_no_running_look_under_a_stop(name: str) -> None:
    """Where starting or running is stopped, no line of the look-over that needs her running is asked for."""
    book = load_rules()
    assessment = assess(load_case(shipped("cases") / f"{name}.yaml"), book)
    assert any(hold.stops in ("run", "start") for hold in assessment.holds)
    text = " ".join(triage_page(assessment, book, 100).text().split())
    asked = text.partition("LOOK OVER")[2].partition("DO NEXT")[0]
    for look in assessment.look_over:
        if look.needs in ("idle", "under-load"):
            assert look.title.lower() not in asked.lower()
    assert all(check.needs not in ("idle", "under-load") for check in assessment.checks)


# ------------------------------------------------------------------ on a small book


def small(*, first_look: str | None = None, turns_her: bool = False, stops: str = "run", **hold: Any) -> Book:
    """Two faults, each with its sign and its look; a stop on the smell that both may have."""
    faults = [sb.fault("near", [sb.shows("smell", (0.9,)), sb.shows("mark", (0.95,))], rate=0.3),
              sb.fault("far", [sb.shows("smell", (0.9,)), sb.shows("token", (0.95,))], rate=0.02)]
    then = {"hold": "h", "stops": stops, "kind": "fire", "say": "Stop.", "cleared_by": "mending", "allowed": "looking",
            "overridden_by": "nobody", **({"first_look": first_look} if first_look else {}), **hold}
    rules = [{"id": "h-rule", "when": {"symptom": "smell", "at_least": "some"}, "then": then, **sb.SAID}]
    states = ["cold-stopped", "idle"]
    checks = [sb.check("look-near", ["mark"], state="cold-stopped"),
              sb.check("look-far", ["token"], state="cold-stopped", minutes=6, turns_her=turns_her)]
    return sb.book_of(sb.component(symptoms=[sb.symptom(s, (0.01,), states=states) for s in ("smell", "mark", "token")],
                                   faults=faults, checks=checks, rules=rules, jobs=[sb.job("mend", ["near"]), sb.job("mend-far", ["far"])]))


def looks(book: Book) -> list[str]:
    case = sb.case_of(sb.seen("smell", "some"), trip={"engine_hours": 10, "exposure": "coastal", "can_sail": False})
    return [c.check for c in assess(case, book).checks]


def test_the_look_a_stop_names_comes_first() -> None:
    """Whichever of the two would come first by its worth, the one the stop names does."""
    assert looks(small())[0] == "look-far"
    assert looks(small(first_look="look-near"))[0] == "look-near"


def test_a_look_that_was_made_is_not_asked_for_again() -> None:
    """What the stop names has been looked at: the next look is another."""
    case = sb.case_of(sb.seen("smell", "some"), sb.seen("mark", "none", "cold-stopped"))
    assert "look-near" not in [c.check for c in assess(case, small(first_look="look-near")).checks]


def test_no_look_that_turns_her_under_a_stop() -> None:
    """A look that begins stopped and cranks her is not offered while running is stopped, and is while only leaving is."""
    assert "look-far" not in looks(small(turns_her=True))
    assert "look-far" in looks(small(turns_her=True, stops="leave"))


def test_a_look_nearly_sure_to_find_nothing_comes_last() -> None:
    """A rare fault that would cost much makes its look dear; it still stands behind one that may find something."""
    faults = [sb.fault("usual", [sb.shows("smell", (0.9,)), sb.shows("mark", (0.95,))], rate=0.1, lasts=((100, 400),),
                       outcomes=(("repair-bill", 1.0),)),
              sb.fault("grave", [sb.shows("smell", (0.9,)), sb.shows("token", (0.95,))], rate=0.01, lasts=((0.5, 2),),
                       outcomes=(("injury", 1.0),))]
    states = ["cold-stopped", "idle"]
    book = sb.book_of(sb.component(
        symptoms=[sb.symptom(s, (0.01,), states=states) for s in ("smell", "mark", "token")], faults=faults,
        checks=[sb.check("look-usual", ["mark"], state="cold-stopped", minutes=1),
                sb.check("look-grave", ["token"], state="cold-stopped", minutes=1)],
        jobs=[sb.job("mend", ["usual"])]))
    case = sb.case_of(sb.seen("smell", "some"), trip={"engine_hours": 10, "exposure": "coastal", "can_sail": False})
    found = assess(case, book)
    assert found.all_probabilities["grave"] < 0.1
    assert [c.check for c in found.checks] == ["look-usual", "look-grave"]
    worth = {c.check: c.net for c in found.checks}
    assert worth["look-grave"] > worth["look-usual"]


def test_an_unknown_first_look_is_refused() -> None:
    """A stop may only name a check of the book."""
    with pytest.raises(AssertionError, match="no-such-look"):
        small(first_look="no-such-look")
