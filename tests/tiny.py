"""A tiny but whole book: one pump with two faults, a hidden condition, a chain of three rules. Tests change copies of it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import yaml

from diagnose.knowledge.book import Book
from diagnose.knowledge.load import build, digest_of
from diagnose.knowledge.order import ENTRIES, keys_of

WHY = "It is made up for the tests."
SAID = {"why": WHY, "source": "common-practice"}


class _Plain(yaml.SafeDumper):
    """Writes shared parts out instead of anchoring them."""

    def ignore_aliases(self, _: Any) -> bool:
        return True


def text_of(part: Any) -> str:
    """A part of a book as the text of its file; a string is taken as it is."""
    return part if isinstance(part, str) else yaml.dump(part, Dumper=_Plain, sort_keys=False, allow_unicode=True, width=10_000)


def write(folder: Path, parts: dict[str, Any]) -> Path:
    """Write the parts, file name to content, below a folder."""
    for name, part in parts.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text_of(part), encoding="utf-8")
    return folder


def write_case(path: Path, **changes: Any) -> Path:
    """A case file: the sound case of `case` with some keys changed."""
    path.write_text(text_of(case(**changes)), encoding="utf-8")
    return path


def case(**changes: Any) -> dict[str, Any]:
    """A plain case on the tiny book: both looks of the look-over made, nothing found."""
    made = {
        "schema": 1,
        "title": "A quiet morning",
        "opened_because": "routine-look",
        "since_last_look_hours": 20,
        "boat": {"name": "Tern", "engine_hours": 1200, "arrangement": {"cooling": "sealed", "pump-drive": "belt"}},
        "trip": {"engine_hours": 4, "exposure": "coastal", "can_sail": True},
        "observations": [observation("pump-weep"), observation("pump-level-low")],
    }
    return copied({**made, **changes})


def observation(symptom: str, grade: str = "none", state: str = "cold-stopped", **more: Any) -> dict[str, Any]:
    """One graded observation."""
    return {"symptom": symptom, "grade": grade, "state": state, **more}


def copied(part: Any) -> Any:
    """A deep copy, so that a test can change it."""
    return json.loads(json.dumps(part))


def parts() -> dict[str, Any]:
    """All files of the tiny book."""
    return copied(
        {
            "shared/words.yaml": words(),
            "shared/boat.yaml": boat(),
            "shared/cautions.yaml": cautions(),
            "shared/sources.yaml": sources(),
            "shared/look-over.yaml": look_over(),
            "coolant/pump.yaml": {k: _in_order(k, part) for k, part in pump().items()},
        }
    )


def _in_order(section: str, part: Any) -> Any:
    """The entries of a section with their keys where they belong."""
    if section not in ENTRIES:
        return part
    order = keys_of(ENTRIES[section])
    return [dict(sorted(entry.items(), key=lambda item: order.index(item[0]))) for entry in part]


def words() -> dict[str, Any]:
    """Scales and names."""
    losses = {"nuisance": 1, "repair-bill": 24, "engine-lost": 200, "flooding": 3000, "fire": 6000, "gas": 5000, "injury": 5000}
    return {
        "schema": 1,
        "version": "1.2.3",
        "strengths": {"almost-always": 0.95, "usually": 0.8, "often": 0.55, "seldom": 0.1},
        "backgrounds": {"rare": 0.02, "very-rare": 0.005},
        "states": {"cold-stopped": "Cold, stopped", "warm-stopped": "Warm, stopped", "idle": "Idling", "under-load": "In gear"},
        "setups": {"box-open": {"minutes": 3, "title": "engine box open", "restore": "Close the box."}},
        "consequences": {
            "nuisance": "A nuisance",
            "repair-bill": "A bill",
            "engine-lost": "No engine",
            "flooding": "Water coming in",
            "fire": "Fire",
            "gas": "Exhaust gas",
            "injury": "Somebody hurt",
        },
        "exposures": {"coastal": {"title": "Coastal passage", "loses": losses}, "offshore": {"title": "Open water", "loses": losses}},
        "can_sail_factor": 0.5,
        "stay_hours": 24,
        "unknown_share": 0.1,
        "systems": [{"id": "coolant", "title": "Coolant circuit", "vital": "cooling"}, {"id": "fuel", "title": "Fuel"}],
        "service_items": {"coolant-pump": "Coolant pump renewed", "drive-belt": "Drive belt renewed"},
        "parts": {"pump-kit": "pump with its gasket", "hose-clip": "hose clip"},
        "meant": {"hours_a_year": "hours-a-year", "header_reserve": "header-reserve", "fill_hot": "expansion-bottle",
                  "usual_exposure": "coastal"},
    }


def boat() -> dict[str, Any]:
    """Facts of the boat: a choice, a choice with chances, flags and numbers."""
    return {
        "schema": 1,
        "facts": [
            {
                "id": "cooling",
                "title": "Cooling",
                "ask": "Is there a header tank?",
                "values": {"sealed": "coolant", "raw": "sea water"},
                "default": "sealed",
                "why": WHY,
            },
            {
                "id": "pump-drive",
                "title": "Pump drive",
                "ask": "What turns the pump?",
                "values": {"belt": "by a belt", "gear": "by gears"},
                "default": "belt",
                "chances": {"belt": 0.7, "gear": 0.3},
                "why": WHY,
            },
            {"id": "expansion-bottle", "title": "Bottle", "ask": "Is there a bottle?", "flag": True, "default": True, "why": WHY},
            {
                "id": "header-reserve",
                "title": "Header reserve",
                "ask": "How much may go?",
                "unit": "L",
                "possible": [0, 10],
                "default": 0.5,
                "why": WHY,
            },
            {
                "id": "hours-a-year",
                "title": "Hours a year",
                "ask": "How much is she run?",
                "unit": "hour",
                "possible": [5, 5000],
                "default": 100,
                "why": WHY,
            },
        ],
    }


def cautions() -> dict[str, Any]:
    """One caution."""
    return {"schema": 1, "cautions": [{"id": "key-out", "title": "Key out", "text": "Take the key out and keep it.", **SAID}]}


def sources() -> dict[str, Any]:
    """One publication."""
    return {"schema": 1, "sources": [{"id": "a-standard", "what": "A standard", "edition": "2020"}]}


def look_over() -> dict[str, Any]:
    """Two looks, one of them on sealed circuits only."""
    fresh = {"hours": 10, "days": 1}
    return {
        "schema": 1,
        "looks": [
            {
                "id": "weep",
                "title": "Under the pump",
                "tells": ["pump-weep"],
                "state": "cold-stopped",
                "fresh": fresh,
                "minutes": 1,
                "covers": ["engine-lost"],
                **SAID,
            },
            {
                "id": "level",
                "title": "Level in the tank",
                "tells": ["pump-level-low"],
                "live_when": {"fact": "cooling", "is": "sealed"},
                "state": "cold-stopped",
                "fresh": fresh,
                "minutes": 2,
                "covers": ["engine-lost"],
                **SAID,
            },
        ],
    }


def symptom(name: str, title: str, states: list[str], grades: dict[str, Any], background: dict[str, Any], **more: Any) -> dict[str, Any]:
    """One symptom."""
    return {
        "id": name,
        "title": title,
        "ask": f"What of: {title}?",
        "states": states,
        "grades": grades,
        "background": background,
        "worst": "engine-lost",
        "mistaken_for": [{"what": "an old stain", "told_by": "wiping it"}],
        **SAID,
        **more,
    }


def pump() -> dict[str, Any]:
    """The one component."""
    return {
        "schema": 1,
        "component": "pump",
        "system": "coolant",
        "title": "Coolant pump",
        "events": [{"id": "pump-work", "title": "Pump lately renewed", **SAID}],
        "symptoms": _symptoms(),
        "conditions": [_condition()],
        "faults": [_seal(), _bearing()],
        "checks": _checks(),
        "jobs": [_job()],
        "rules": _rules(),
        "examples": _examples(),
    }


def _symptoms() -> list[dict[str, Any]]:
    return [
        symptom(
            "pump-weep",
            "Drip under the pump",
            ["cold-stopped", "idle"],
            {"none": "dry", "damp": "wet to the finger", "drip": "drops fall"},
            {"damp": "rare", "drip": "very-rare"},
            said_as=["brown crust below the pulley"],
            leak={"fluid": "coolant", "rates": {"damp": [0.5, 5], "drip": [3, 100]}},
        ),
        symptom("pump-play", "Play of the pulley", ["cold-stopped"], {"none": "tight", "moves": "moves"}, {"moves": "very-rare"}),
        symptom(
            "pump-level-low",
            "Header tank low",
            ["cold-stopped", "warm-stopped"],
            {"none": "at the mark", "low": "below it"},
            {"low": "rare"},
            said_as=["had to top it up again"],
        ),
        symptom(
            "pump-gauge-high",
            "Gauge above its usual place",
            ["idle", "under-load"],
            {"none": {"below": 91}, "raised": {"at_least": 91, "below": 98}, "high": {"at_least": 98}},
            {"raised": "rare", "high": "very-rare"},
            measure={"unit": "degC", "possible": [-10, 130], "sigma": 3},
        ),
        symptom(
            "pump-steam",
            "Steam from the engine",
            ["idle", "under-load"],
            {"none": "no steam", "clouds": "clouds"},
            {"clouds": "very-rare"},
            would_be_mentioned=0.9,
        ),
    ]


def _condition() -> dict[str, Any]:
    return {
        "id": "pump-hot",
        "title": "Coolant too hot",
        "grades": {"none": "as ever", "hot": "too hot"},
        "background": {"hot": "rare"},
        "shows": [
            {"symptom": "pump-gauge-high", "by": {"hot": {"raised": "almost-always", "high": "usually"}}, "why": WHY},
            {"symptom": "pump-steam", "by": {"hot": {"clouds": "often"}}, "why": WHY},
        ],
        **SAID,
    }


def _rate(per_year: float) -> dict[str, Any]:
    return {"per_year": per_year, "spread": 3, "source": {"kind": "memory", "believed": "nothing was opened"}}


def _seal() -> dict[str, Any]:
    return {
        "id": "pump-seal-worn",
        "title": "Pump seal worn",
        "rate": _rate(0.05),
        "ages_with": {
            "since": "coolant-pump",
            "shape": 2.5,
            "life": {"value": 3000, "unit": "hour", "spread": 2, "source": {"kind": "memory", "believed": "nothing was opened"}},
        },
        "after": [{"event": "pump-work", "chance": 0.05, "why": WHY}],
        "stages": [{"id": "weeping", "title": "weeping", "lasts": [30, 300]}, {"id": "streaming", "title": "running", "lasts": [1, 10]}],
        "outcomes": [{"kind": "engine-lost", "chance": 1.0}],
        "told_from": [{"fault": "pump-bearing-worn", "by": "rock-pump"}],
        "leads_to": [{"fault": "pump-bearing-worn", "chance": 0.3, "stage": "streaming", "why": WHY}],
        "shows": [
            {
                "symptom": "pump-weep",
                "by": {"weeping": {"damp": "almost-always", "drip": "often"}, "streaming": {"damp": 0.97, "drip": 0.93}},
                "why": WHY,
            },
            {"symptom": "pump-level-low", "by": {"weeping": {"low": "seldom"}, "streaming": {"low": "usually"}}, "why": WHY},
            {"condition": "pump-hot", "by": {"weeping": {"hot": "seldom"}, "streaming": {"hot": "often"}}, "why": WHY},
        ],
        "limits": [
            {"verb": "look", "say": "Look under the pump.", "number": "60 drops a minute", "every_minutes": 60, "then": "Turn back."}
        ],
        "limits_leave": 0.3,
        **SAID,
    }


def _bearing() -> dict[str, Any]:
    return {
        "id": "pump-bearing-worn",
        "title": "Pump bearing worn",
        "rate": _rate(0.02),
        "live_when": {"fact": "pump-drive", "is": "belt"},
        "stages": [{"id": "loose", "title": "loose", "lasts": [2, 40]}],
        "outcomes": [{"kind": "engine-lost", "chance": 0.9}, {"kind": "repair-bill", "chance": 0.1}],
        "told_from": [{"fault": "pump-seal-worn", "by": "rock-pump"}],
        "shows": [{"symptom": "pump-play", "at_least": {"moves": "almost-always"}, "why": WHY}],
        **SAID,
    }


def check(name: str, tells: list[str], state: str = "cold-stopped", **more: Any) -> dict[str, Any]:
    """One check."""
    return {
        "id": name,
        "title": f"Look: {name}",
        "tells": tells,
        "needs": {"engine_state": state, "setups": ["box-open"]},
        "cost": {"minutes": 3, "first_time": 5},
        "cautions": ["key-out"],
        "steps": ["Look."],
        "reading": [{"seen": {tells[0]: "none"}, "means": "It is sound."}],
        **SAID,
        **more,
    }


def _checks() -> list[dict[str, Any]]:
    return [
        check("look-under-pump", ["pump-weep", "pump-level-low"]),
        check("rock-pump", ["pump-play"], live_when={"fact": "pump-drive", "is": "belt"}),
        check("read-gauge", ["pump-gauge-high", "pump-steam"], "idle"),
    ]


def _job() -> dict[str, Any]:
    return {
        "id": "renew-pump",
        "title": "Renew the pump",
        "cures": ["pump-seal-worn", "pump-bearing-worn"],
        "order": [{"part": "pump-kit"}],
        "minutes": {"skilled": 60, "first_time": 120},
        "cautions": ["key-out"],
        "proof": {"do": "Run her warm.", "passes": "it stays dry", "fails": "it weeps"},
        **SAID,
    }


def rule(name: str, when: dict[str, Any], then: dict[str, Any], **more: Any) -> dict[str, Any]:
    """One chained rule."""
    return {"id": name, "when": when, "then": then, **SAID, **more}


def finding(name: str) -> dict[str, Any]:
    """The conclusion that other rules build on."""
    return {"finding": name, "say": f"So: {name}."}


def hold(name: str, stops: str = "leave") -> dict[str, Any]:
    """A hard stop."""
    return {
        "hold": name,
        "stops": stops,
        "say": f"Stop: {name}.",
        "kind": "engine-lost",
        "cleared_by": "mending it",
        "allowed": "looking",
        "overridden_by": "the skipper",
    }


def _rules() -> list[dict[str, Any]]:
    return [
        rule(
            "weep-and-low",
            {"all": [{"symptom": "pump-weep", "at_least": "damp"}, {"symptom": "pump-level-low", "at_least": "low"}]},
            finding("pump-loses"),
        ),
        rule(
            "loss-and-heat",
            {"all": [{"finding": "pump-loses"}, {"symptom": "pump-gauge-high", "at_least": "raised"}]},
            finding("pump-runs-dry"),
        ),
        rule("running-dry-hold", {"finding": "pump-runs-dry"}, hold("pump-dry")),
        rule("seal-likely", {"chance": "pump-seal-worn", "over": 0.5}, {"advice": "order-kit", "say": "Order the kit."}),
    ]


def _examples() -> list[dict[str, Any]]:
    return [
        {
            "name": "It drips",
            "shown": "pump-seal-worn",
            "given": {"pump-weep": "drip", "pump-play": "none"},
            "expect": {"first": "pump-seal-worn"},
            "why": WHY,
        },
        {
            "name": "It only moves",
            "near_miss": "pump-seal-worn",
            "given": {"pump-weep": "none", "pump-play": "moves"},
            "expect": {"first": "pump-bearing-worn"},
            "why": WHY,
        },
        {
            "name": "It moves",
            "shown": "pump-bearing-worn",
            "given": {"pump-play": "moves"},
            "expect": {"first": "pump-bearing-worn"},
            "why": WHY,
        },
        {
            "name": "It does not move",
            "near_miss": "pump-bearing-worn",
            "given": {"pump-weep": "damp", "pump-play": "none"},
            "expect": {"first": "pump-seal-worn", "holds": []},
            "why": WHY,
        },
    ]


def unchecked(changed: dict[str, Any]) -> Book:
    """The book of some parts, read but not checked for integrity."""
    texts = {name: text_of(part) for name, part in changed.items()}
    return build(texts, digest_of(texts))


def with_rules(*rules: dict[str, Any]) -> dict[str, Any]:
    """The tiny book with these chained rules in place of its own, and without its examples."""
    changed = parts()
    changed["coolant/pump.yaml"].update(rules=list(rules), examples=[])
    return changed
