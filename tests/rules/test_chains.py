"""Ten chains of reasoning that a flat table of signs cannot do, each run from its first sign to its end (common practice)."""

from __future__ import annotations

from typing import Any

import pytest

from diagnose import assess, load_rules
from diagnose.case import Case

Map = dict[str, Any]


def seen(grade: str, state: str | None = None) -> Map:
    return {"grade": grade, **({"state": state} if state else {})}


CHAINS: dict[str, Map] = {
    "warm only at cruise: the stream is short there, the basket is clear, so past the inlet": {
        "seen": {"exhaust-water-weak": [seen("none", "idle"), seen("weak", "under-load")],
                 "raw-water-flow-measured": seen("low", "under-load"), "strainer-basket-loaded": "none",
                 "sea-suction-hose-flattens": "none", "bubbles-in-strainer": "none", "impeller-vanes-damaged": "none"},
        "fires": {"short-of-water-at-cruise", "flow-short-somewhere", "basket-free-flow-short", "weak-stream-hold"},
        "holds": {"weak-stream-not-explained"}},
    "the gauge drops cold: the sender stands in air, coolant is gone and nothing is wet, so by the exhaust": {
        "seen": {"gauge-drops-suddenly": None, "hot-smell": "strong", "header-level-low": "very-low", "coolant-in-tray": "none",
                 "bilge-water-salt": "none"},
        "fires": {"falling-with-no-trace", "header-empty-hold", "unseen-loss-limit"}, "first": "exchanger-tube-perforated",
        "holds": {"header-empty"}},
    "the starter stops dead: no second try, long cranking and a blocked vent say where the water came from": {
        "seen": {"starter-stops-dead": "stopped", "elbow-water-trace": "wet", "vent-blow-stiff": "shut"}, "events": {"long-cranking": 0.1},
        "fires": {"locked-by-water", "do-not-crank", "cranked-long", "filled-by-cranking", "filled-by-cranking-hold"},
        "first": "exhaust-overfilled", "holds": {"do-not-crank", "drain-exhaust-first"}},
    "the oil rises and is salt, the pump's slot is dry: a plugged slot, and no start": {
        "seen": {"oil-level-rises": "rises", "oil-milky-on-stick": "milky", "oil-water-salty": None, "pump-slot-water": "none"},
        "boat": {"raw-water-pump-drive": "gear"}, "next": "look-at-pump-slot",
        "fires": {"something-fills-the-sump", "sump-gains-sea", "sea-in-the-oil-hold", "dry-slot-not-probed"}, "holds": {"sea-in-the-oil"}},
    "she dies and restarts after a rest, the suction climbs: held back at the tank": {
        "seen": {"dies-running": "dies", "restarts-after-rest": "each-time", "fuel-suction-high": None}, "events": {"first-rough-water": 1},
        "fires": {"gauge-says-held-back", "supply-fails", "supply-fails-hold"}, "first": "fuel-pick-up-blocked",
        "next": "open-the-filler-cap", "holds": {"fuel-supply-not-cured"}},
    "the belt squeals, is adjusted and slack again in hours: not the belt but its bracket": {
        "seen": {"belt-squeal": "lasting", "belt-dust": "heaps", "belt-slack-returns": "hours", "alternator-moves": "swings"},
        "events": {"belt-adjusted": 2, "alternator-upgraded": 50}, "first": "alternator-bolts-loose",
        "fires": {"tension-does-not-last", "tension-lost-at-mount", "do-not-tighten-again"}},
    "black smoke and low revs, right out of gear, slow for her revs: bottom or propeller": {
        "seen": {"black-smoke-under-load": "thick", "full-revs-not-reached": "far-short", "revs-short-out-of-gear": "none",
                 "speed-low-for-revs": "low"},
        "fires": {"smokes-and-short-of-revs", "revs-there-out-of-gear", "slow-and-loaded"}, "first": "propeller-or-bottom-fouled"},
    "a shake after weed, gone in neutral, one tight spot, a wet gland, the mark moved: no astern": {
        "seen": {"shake-in-gear": "strong", "shake-out-of-gear": "none", "shaft-tight-by-hand": "one-spot",
                 "gland-drip": seen("fast", "cold-stopped"), "shaft-mark-moved": None}, "events": {"grounded-or-weed": 1},
        "fires": {"shake-after-a-strike", "shake-gone-in-neutral", "shaft-mark-has-moved", "creeping-shaft-hold", "new-shake-hold"},
        "holds": {"shaft-leaving-coupling", "new-shake-unexplained"}},
    "oil lamp, charge lamp and rev counter together: the belt before the plug, and stop": {
        "seen": {"oil-lamp-on": seen("lit", "under-load"), "charge-lamp-on": "lit", "tacho-wrong": seen("dead", "under-load")},
        "trip": {"under_way": True}, "first": "belt-broken-or-thrown", "under_way": "stop now",
        "fires": {"oil-and-charge-lamps-together", "tacho-and-charge-together", "belt-look-before-the-plug", "oil-pressure-stop"},
        "holds": {"stop-for-oil-pressure"}},
    "salt in the bilge only after motoring, dry in neutral: the gland": {
        "seen": {"bilge-water-salt": "some", "water-only-under-way": "only", "water-in-neutral": "none"},
        "fires": {"salt-and-only-after-motoring", "dry-out-of-gear"}, "first": "gland-packing-worn"},
}


@pytest.mark.parametrize("name", CHAINS)
def test_the_chain_runs_to_its_end(name: str) -> None:
    """Each step fires, what the end says is said, and she is not sent out on it with a plain go."""
    book, chain = load_rules(), CHAINS[name]
    observations = []
    for symptom, given in chain["seen"].items():
        for one in given if isinstance(given, list) else [given]:
            grades = list(book.symptoms[symptom].grades)
            told = {"grade": grades[-1]} if one is None else {"grade": one} if isinstance(one, str) else one
            observations.append({"symptom": symptom, **told})
    found = assess(Case.model_validate({
        "title": name, "opened_because": "noticed-something", "observations": observations, "boat": {"arrangement": chain.get("boat", {})},
        "trip": {"engine_hours": 4, "exposure": "coastal", "can_sail": True, **chain.get("trip", {})},
        "events": [{"event": e, "hours_ago": h} for e, h in chain.get("events", {}).items()]}), book)
    assert chain["fires"] <= {f.rule for f in found.trace}
    assert chain.get("holds", set()) <= {h.id for h in found.holds}
    assert found.departure.so_far != "go"
    assert chain.get("first", next(iter(found.all_probabilities))) == next(iter(found.all_probabilities))
    if "next" in chain:
        assert found.checks[0].check == chain["next"]
    if "under_way" in chain:
        assert found.under_way is not None
        assert found.under_way.word == chain["under_way"]
