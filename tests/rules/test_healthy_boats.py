"""Healthy boats of many arrangements, everything looked at and nothing wrong: a go, no stop, nothing urgent, nothing likely.

And each arrangement is told of what she has, and of nothing else.
"""

from __future__ import annotations

import itertools
from typing import Any

import pytest

from diagnose import assess, load_rules
from diagnose.assessment import Assessment
from diagnose.case import Case
from diagnose.chain.compile import is_live
from diagnose.knowledge.book import Book
from diagnose.machinery import Machinery
from diagnose.situation import resolve
from diagnose.worlds import kinds_of

pytestmark = pytest.mark.slow
Boat = dict[str, Any]
BOATS: dict[str, Boat] = {
    "sloop, heat exchanger, shaft": {},
    "raw-water cooled, shaft, no strainer": {"cooling": "raw-water", "strainer": False, "water-heater": False},
    "raw-water cooled, leg inlet": {"cooling": "raw-water", "drive": "saildrive", "raw-water-inlet": "leg"},
    "keel cooler, dry exhaust": {"cooling": "keel-cooler", "exhaust": "dry", "raw-water-pump-drive": "gear"},
    "keel cooler, wet exhaust": {"cooling": "keel-cooler", "exhaust": "wet"},
    "leg, its own inlet": {"drive": "saildrive", "raw-water-inlet": "leg"},
    "leg through the transom, turbocharged": {"drive": "sterndrive", "turbocharged": True, "power": "80 kW"},
    "belt-driven raw-water pump": {"raw-water-pump-drive": "belt"},
    "both pumps by gears, no vent, injection high": {"raw-water-pump-drive": "gear", "coolant-pump-drive": "gear",
                                                     "anti-siphon-vent": False, "injection-below-waterline": False},
    "two stations, no bottle, no water heater": {"twin-stations": True, "expansion-bottle": False, "water-heater": False},
    "one cylinder": {"cylinders": 1, "power": "8 kW", "water-heater": False},
}
LIKELY = 0.3
every_boat = pytest.mark.parametrize("boat", BOATS.values(), ids=BOATS)


@pytest.fixture(scope="module")
def book() -> Book:
    return load_rules()


def live(book: Book, boat: Boat) -> frozenset[str]:
    """The switches that are live on a boat."""
    case = Case.model_validate({"opened_because": "routine-look", "boat": {"arrangement": boat}})
    kinds, _ = kinds_of(Machinery.of(book), resolve(case, book), frozenset())
    return kinds[0].live


def signs_of(book: Book, boat: Boat) -> list[tuple[str, str]]:
    """Every symptom that can be looked for on this boat, each in one state in which some check can be made."""
    on = live(book, boat)
    found: dict[str, str] = {}
    for check in book.checks.values():
        if is_live(check.live_when, on) and is_live(book.component_of[check.id].applies, on):
            for symptom in check.tells:
                if is_live(book.component_of[symptom].applies, on) and check.needs.engine_state in book.symptoms[symptom].states:
                    found.setdefault(symptom, check.needs.engine_state)
    for look in book.look_over.looks:
        if is_live(look.live_when, on):
            found.update(dict.fromkeys(look.tells, look.state))
    return sorted(found.items())


def looked_all_over(book: Book, boat: Boat) -> Assessment:
    """The boat with every symptom looked for, and none there."""
    seen = [{"symptom": s, "grade": next(iter(book.symptoms[s].grades)), "state": state} for s, state in signs_of(book, boat)]
    case = Case.model_validate({"opened_because": "routine-look", "boat": {"arrangement": boat}, "observations": seen,
                                "trip": {"engine_hours": 4, "exposure": "coastal", "can_sail": True}})
    return assess(case, book, next_check=False, ledger=False)


@every_boat
def test_a_healthy_boat_is_quiet(boat: Boat, book: Book) -> None:
    """Go, settled; no hold, no limit, no note; no fault likely, none urgent."""
    found = looked_all_over(book, boat)
    assert (found.decision, found.departure.settled) == ("go", True)
    assert [h.id for h in found.holds] == []
    assert {n: p for n, p in found.all_probabilities.items() if p > LIKELY} == {}
    assert [r.fault for r in found.ranking if r.probability > LIKELY and r.urgency.within in ("now", "before you leave")] == []


@every_boat
def test_the_look_over_alone_is_enough_for_a_go(boat: Boat, book: Book) -> None:
    """The looks that gate a go, made and clear, with nothing else told."""
    on = live(book, boat)
    seen = [{"symptom": s, "grade": next(iter(book.symptoms[s].grades)), "state": look.state}
            for look in book.look_over.looks if is_live(look.live_when, on) for s in look.tells]
    unique = list({(s["symptom"], s["state"]): s for s in seen}.values())
    case = Case.model_validate({"opened_because": "routine-look", "boat": {"arrangement": boat}, "observations": unique,
                                "trip": {"engine_hours": 4, "exposure": "coastal", "can_sail": True}})
    found = assess(case, book, next_check=False)
    assert (found.decision, found.departure.settled, [h.id for h in found.holds]) == ("go", True, [])


def faults_of(book: Book, boat: Boat) -> set[str]:
    """The faults that can be on a boat."""
    on = live(book, boat)
    return {f.id for f in book.faults.values() if is_live(f.live_when, on) and is_live(book.component_of[f.id].applies, on)}


ONLY_WITH = [
    # what must not be there, on which boat; told by words of the ids, so that new faults are held to it too
    ({"cooling": "raw-water"}, ("exchanger", "header", "expansion", "bottle", "coolant-pump", "keel-")),
    ({"cooling": "keel-cooler", "exhaust": "dry"}, ("exchanger", "impeller", "strainer", "seacock-shut", "raw-pump", "injection-hole")),
    ({"cooling": "heat-exchanger"}, ("keel-pipe", "skin-tank")),
    ({"exhaust": "dry", "cooling": "keel-cooler"}, ("lift-box", "elbow-coked")),
    ({"exhaust": "wet"}, ("rain-flap",)),
    ({"drive": "shaft"}, ("leg-", "saildrive", "sterndrive")),
    ({"drive": "saildrive"}, ("gland", "stern-tube", "cutless", "shaft-bent")),
    ({"strainer": False}, ("strainer-",)),
    ({"water-heater": False}, ("heater-loop", "heater-coil")),
    ({"turbocharged": False}, ("turbo",)),
    ({"expansion-bottle": False}, ("bottle-",)),
    ({"twin-stations": False}, ("twin-gauges",)),
    ({"anti-siphon-vent": False}, ("anti-siphon",)),
]


@pytest.mark.parametrize(("boat", "words"), ONLY_WITH, ids=[str(b) for b, _ in ONLY_WITH])
def test_a_boat_is_told_of_what_she_has(boat: Boat, words: tuple[str, ...], book: Book) -> None:
    """No fault of gear that is not aboard can be named on her."""
    wrong = {f for f in faults_of(book, boat) if f.startswith(words)}
    assert wrong == set()


def test_every_arrangement_has_signs_that_can_be_looked_for(book: Book) -> None:
    """Each combination of cooling, exhaust and drive leaves a look-over, and signs for every fault that stays."""
    for cooling, exhaust, drive in itertools.product(("heat-exchanger", "raw-water", "keel-cooler"), ("wet", "dry"),
                                                     ("shaft", "saildrive", "sterndrive")):
        boat = {"cooling": cooling, "exhaust": exhaust, "drive": drive}
        on = live(book, boat)
        assert sum(is_live(look.live_when, on) for look in book.look_over.looks) >= 5, boat
        assert len(signs_of(book, boat)) > 100, boat
