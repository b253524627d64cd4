"""Small invented books for tests, made in memory and held to the same integrity rules as any other.

Each maker gives the plain map that a rule file would hold; `book_of` validates and joins them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from diagnose.case import Case
from diagnose.knowledge.book import Book
from diagnose.knowledge.component import Component
from diagnose.knowledge.integrity import problems
from diagnose.knowledge.lists import BoatWords, Cautions, LookOver, Sources, Words

Map = dict[str, Any]

CONSEQUENCES = ("nuisance", "repair-bill", "engine-lost", "flooding", "fire", "gas", "injury")
LOSES = {"nuisance": 1, "repair-bill": 24, "engine-lost": 200, "flooding": 3000, "fire": 6000, "gas": 5000, "injury": 5000}
SAID = {"why": "invented", "source": "common-practice"}
GRADES = ("none", "some", "much", "utter")


def words(**changed: Any) -> Map:
    """A small words.yaml. Hardly any fault is taken to be missing from it, so that hand sums stay short."""
    return {
        "schema": 1,
        "version": "0.0.1",
        "strengths": {"usually": 0.8, "often": 0.5},
        "backgrounds": {"rare": 0.02, "very-rare": 0.005},
        "states": {s: s for s in ("cold-stopped", "warm-stopped", "idle", "under-load")},
        "setups": {"box-open": {"minutes": 5, "title": "box open", "restore": "Close the box."}},
        "consequences": {k: k for k in CONSEQUENCES},
        "exposures": {"coastal": {"title": "Coastal", "loses": LOSES}},
        "can_sail_factor": 0.5,
        "stay_hours": 24,
        "unknown_share": 1e-12,
        "systems": [{"id": "cooling", "title": "Cooling", "vital": "cooling"}, {"id": "gauges", "title": "Gauges"}],
        "service_items": {"pump": "Pump renewed"},
        "parts": {"pump": "pump", "coolant-mix": "mixed coolant"},
        "meant": {"coolant_part": "coolant-mix", "hours_a_year": "hours-a-year", "header_reserve": "header-reserve",
                  "fill_hot": "expansion-bottle", "usual_exposure": "coastal"},
        **changed,
    }


FACTS: list[Map] = [
    {"id": "hours-a-year", "title": "Hours", "ask": "How many?", "unit": "hour", "possible": [5, 3000], "default": 100, "why": "rates"},
    {"id": "header-reserve", "title": "Reserve", "ask": "How much?", "unit": "L", "possible": [0.1, 5], "default": 0.6, "why": "leaks"},
    {"id": "expansion-bottle", "title": "Bottle", "ask": "Is there one?", "flag": True, "default": True, "why": "leaks"},
]


def symptom(name: str, background: Sequence[float] = (0.02,), *, states: Sequence[str] = ("idle",), **more: Any) -> Map:
    """A symptom with one grade above none for each background."""
    grades = GRADES[: len(background) + 1]
    return {
        "id": name, "title": name.replace("-", " "), "ask": "Is it so?", "states": list(states), "grades": {g: g for g in grades},
        "background": dict(zip(grades[1:], background, strict=True)), "mistaken_for": [{"what": "another", "told_by": "looking"}],
        **SAID, **more,
    }


def measured(name: str, bands: Mapping[str, Map], background: Sequence[float], *, unit: str = "degC",
             possible: tuple[float, float] = (0, 150), sigma: float = 3.0, **more: Any) -> Map:
    """A symptom told by a number."""
    return {
        **symptom(name, background, **more), "grades": dict(bands), "background": dict(zip(list(bands)[1:], background, strict=True)),
        "measure": {"unit": unit, "possible": list(possible), "sigma": sigma},
    }


def condition(name: str, background: Sequence[float], shows: Sequence[Map]) -> Map:
    """A hidden state with one grade above none for each background."""
    grades = GRADES[: len(background) + 1]
    return {"id": name, "title": name, "grades": {g: g for g in grades}, "background": dict(zip(grades[1:], background, strict=True)),
            "shows": list(shows), **SAID}


def shows(on: str, *rows: Sequence[float], stages: Sequence[str] = ("early", "late", "last"), condition: bool = False, **more: Any) -> Map:
    """A link: one row of strengths for all stages, or one a stage (for conditions pass their grades as `stages`)."""
    tables = [dict(zip(GRADES[1:], row, strict=False)) for row in rows]
    table: Map = {"at_least": tables[0]} if len(rows) == 1 else {"by": dict(zip(stages, tables, strict=False))}
    return {"condition" if condition else "symptom": on, "why": "invented", **table, **more}


def fault(name: str, links: Sequence[Map], *, rate: float = 0.05, lasts: Sequence[tuple[float, float] | None] = ((20, 200),),
          outcomes: Sequence[tuple[str, float]] = (("engine-lost", 1.0),), **more: Any) -> Map:
    """A fault with stages early, late, last (as many as `lasts` has)."""
    stages = [{"id": s, "title": s, **({"lasts": list(span)} if span else {})} for s, span in zip(GRADED_STAGES, lasts, strict=False)]
    return {
        "id": name, "title": name.replace("-", " "), "rate": {"per_year": rate, "spread": 3, "source": "common-practice"},
        "stages": stages, "outcomes": [{"kind": k, "chance": c} for k, c in outcomes], "shows": list(links),
        "known_gap": "invented", **SAID, **more,
    }


GRADED_STAGES = ("early", "late", "last")


def check(name: str, tells: Sequence[str], *, state: str = "idle", minutes: float = 5, setups: Sequence[str] = (), **more: Any) -> Map:
    return {"id": name, "title": name, "tells": list(tells), "needs": {"engine_state": state, "setups": list(setups)},
            "cost": {"minutes": minutes, "first_time": minutes}, "steps": ["Look."], "reading": [{"seen": {}, "means": "Something."}],
            **SAID, **more}


def job(name: str, cures: Sequence[str], *, minutes: float = 60, parts: Sequence[str] = (), **more: Any) -> Map:
    return {"id": name, "title": name, "cures": list(cures), "order": [{"part": p} for p in parts],
            "minutes": {"skilled": minutes / 2, "first_time": minutes}, "proof": {"do": "Run.", "passes": "Well.", "fails": "Ill."},
            **SAID, **more}


def look(name: str, tells: Sequence[str], *, state: str = "idle", covers: Sequence[str] = ("engine-lost",), **more: Any) -> Map:
    return {"id": name, "title": name, "tells": list(tells), "state": state, "fresh": {"hours": 10, "days": 1}, "minutes": 2,
            "covers": list(covers), **SAID, **more}


def component(name: str = "engine", system: str = "cooling", **parts: Iterable[Map]) -> Map:
    """One rule file: `symptoms`, `conditions`, `faults`, `checks`, `jobs`, `rules`, `events`."""
    return {"schema": 1, "component": name, "system": system, "title": name, **{k: list(v) for k, v in parts.items()}}


def book_of(*components: Map, looks: Sequence[Map] = (), facts: Sequence[Map] = (), cautions: Sequence[Map] = (),
            **changed_words: Any) -> Book:
    """The book of these components. It must keep all rules of integrity."""
    book = Book(
        components=tuple(Component.model_validate(c) for c in components),
        words=Words.model_validate(words(**changed_words)),
        boat=BoatWords.model_validate({"schema": 1, "facts": [*FACTS, *facts]}),
        caution_list=Cautions.model_validate({"schema": 1, "cautions": [*cautions]}),
        source_list=Sources.model_validate({"schema": 1, "sources": []}),
        look_over=LookOver.model_validate({"schema": 1, "looks": list(looks)}),
        digest="0" * 64,
    )
    wrong = [f"{p.component} {p.path}: {p.what}" for p in problems(book)]
    assert not wrong, wrong
    return book


def case_of(*observations: Map, opened: str = "noticed-something", **more: Any) -> Case:
    """A case with these observations, four hours' trip along the coast."""
    return Case.model_validate({"opened_because": opened, "trip": {"engine_hours": 4, "exposure": "coastal", "can_sail": False},
                                **more, "observations": list(observations)})


def seen(name: str, grade: str, state: str = "idle", **more: Any) -> Map:
    return {"symptom": name, "grade": grade, "state": state, **more}
