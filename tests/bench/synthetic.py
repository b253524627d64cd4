"""Made-up books of any size, every component of one shape: five faults, two conditions, nine symptoms, five
checks, two jobs, eight rules. Each component reaches into the next, so the network is one piece; it does not
close into a ring, which would make a small book harder than a large one."""

from __future__ import annotations

from typing import Any

from bench.lines import WrongResultError

from diagnose.case import Case
from diagnose.knowledge.book import Book
from diagnose.knowledge.component import Component
from diagnose.knowledge.integrity import problems
from diagnose.knowledge.lists import BoatWords, Cautions, LookOver, Sources, Words

FAULTS_EACH = 5
CLAIM: dict[str, Any] = {"why": "made up for measuring", "source": "common-practice"}
STATES = ("cold-stopped", "warm-stopped", "idle", "under-load")


def made_up_book(faults: int) -> Book:
    """A book with so many faults (a multiple of ten).

    Raises:
        WrongResultError: the book does not pass the checks a real one passes.
    """
    count = faults // FAULTS_EACH
    components = tuple(Component.model_validate(_component(k, count)) for k in range(count))
    book = Book(
        components=components, words=Words.model_validate(_words(count)), boat=BoatWords.model_validate(_boat()),
        caution_list=Cautions.model_validate({"schema": 1, "cautions": []}),
        source_list=Sources.model_validate({"schema": 1, "sources": []}),
        look_over=LookOver.model_validate({"schema": 1, "looks": [_look()]}), digest=f"made-up-{faults}",
    )
    for problem in problems(book):
        raise WrongResultError(f"the made-up book is broken: {problem.what}")
    return book


def made_up_case() -> Case:
    """Six signs present in two neighbouring components, six clear: the same in a book of any size."""
    present = {"c0-sign0": "plain", "c0-own0": "strong", "c0-own1": "plain", "c1-sign0": "plain", "c1-own0": "plain", "c1-own2": "strong"}
    clear = ["c0-sign2", "c0-own3", "c1-sign3", "c2-own0", "c2-own1", "c3-sign0"]
    seen = [{"symptom": s, "grade": g, "state": "idle"} for s, g in present.items()]
    seen += [{"symptom": s, "grade": "none", "state": "idle"} for s in clear]
    return Case.model_validate({"title": "made up", "invented": True, "opened_because": "noticed-something", "observations": seen,
                                "boat": {"arrangement": {"drive": "belt", "extra": True}}})


def _component(k: int, count: int) -> dict[str, Any]:
    c = f"c{k}"
    return {
        "schema": 1, "component": c, "system": f"system{k // 2}", "title": f"Component {k}",
        "conditions": [_condition(c, "state", ("sign0", "sign1"), "heat"), _condition(c, "heat", ("sign2", "sign3"), None)],
        "symptoms": [_symptom(f"{c}-sign{i}") for i in range(4)] + [_symptom(f"{c}-own{i}") for i in range(FAULTS_EACH)],
        "faults": [_fault(c, i, f"c{k + 1}-state" if k + 1 < count else None) for i in range(FAULTS_EACH)],
        "checks": [_check(c, i) for i in range(FAULTS_EACH)],
        "jobs": [_job(c, "a", (0, 1)), _job(c, "b", (2, 3, 4))],
        "rules": _rules(c),
    }


def _symptom(name: str) -> dict[str, Any]:
    return {"id": name, "title": name, "ask": "Is it there?", "states": ["cold-stopped", "idle"],
            "grades": {"none": "nothing", "plain": "plain to see", "strong": "strong"}, "background": {"plain": 0.015, "strong": 0.004},
            "mistaken_for": [{"what": "another", "told_by": "looking"}], **CLAIM}


def _condition(c: str, name: str, signs: tuple[str, ...], leads: str | None) -> dict[str, Any]:
    shown = {"some": {"plain": 0.6, "strong": 0.2}, "much": {"plain": 0.9, "strong": 0.6}}
    led = {"some": {"some": 0.3, "much": 0.1}, "much": {"some": 0.8, "much": 0.5}}
    shows: list[dict[str, Any]] = [{"symptom": f"{c}-{s}", "by": shown, "why": "shows"} for s in signs]
    if leads:
        shows.append({"condition": f"{c}-{leads}", "by": led, "why": "leads"})
    return {"id": f"{c}-{name}", "title": f"{c} {name}", "grades": {"none": "none", "some": "some", "much": "much"},
            "background": {"some": 0.01, "much": 0.003}, "shows": shows, **CLAIM}


def _fault(c: str, i: int, after: str | None) -> dict[str, Any]:
    works = {"early": {"some": 0.3, "much": 0.05}, "late": {"some": 0.9, "much": 0.6}}
    shown = {"early": {"plain": 0.5, "strong": 0.1}, "late": {"plain": 0.95, "strong": 0.7}}
    shows: list[dict[str, Any]] = [
        {"condition": f"{c}-{'state' if i < 3 else 'heat'}", "by": works, "why": "works"},
        {"symptom": f"{c}-own{i}", "by": shown, "why": "shows"},
        {"symptom": f"{c}-own{(i + 1) % FAULTS_EACH}", "at_least": {"plain": 0.2, "strong": 0.05}, "why": "shows a little"},
    ]
    if i == 0 and after:
        shows.append({"condition": after, "at_least": {"some": 0.2, "much": 0.05}, "why": "reaches on"})
    if i == 4:
        shows[-1]["live_when"] = {"fact": "extra", "is": True}
    return {"id": f"{c}-fault{i}", "title": f"{c} fault {i}", "rate": {"per_year": 0.02, "spread": 3, "source": "common-practice"},
            "stages": [{"id": "early", "title": "early", "lasts": [50, 500]}, {"id": "late", "title": "late", "lasts": [10, 100]}],
            "outcomes": [{"kind": "engine-lost", "chance": 0.6}, {"kind": "repair-bill", "chance": 0.4}],
            "told_from": [{"fault": f"{c}-fault{(i + 1) % FAULTS_EACH}", "by": f"{c}-look{i}"}], "shows": shows, **CLAIM}


def _check(c: str, i: int) -> dict[str, Any]:
    signs = [f"{c}-own{i}", f"{c}-sign{i % 4}"]
    return {"id": f"{c}-look{i}", "title": f"look {i}", "tells": signs, "cost": {"minutes": 2, "first_time": 3 + i},
            "needs": {"engine_state": ("cold-stopped", "idle")[i % 2], "setups": ["open"]}, "steps": ["Look."],
            "reading": [{"seen": {signs[0]: "none"}, "means": "Sound."}], **CLAIM}


def _job(c: str, name: str, cures: tuple[int, ...]) -> dict[str, Any]:
    return {"id": f"{c}-job-{name}", "title": f"job {name}", "cures": [f"{c}-fault{i}" for i in cures],
            "minutes": {"skilled": 30, "first_time": 60}, "proof": {"do": "Run.", "passes": "Dry.", "fails": "Wet."}, **CLAIM}


def _rules(c: str) -> list[dict[str, Any]]:
    def seen(name: str, grade: str = "plain") -> dict[str, Any]:
        return {"symptom": f"{c}-{name}", "at_least": grade}

    def found(name: str) -> dict[str, Any]:
        return {"finding": f"{c}-{name}", "say": "It is so."}

    hold = {"hold": f"{c}-hold", "stops": "leave", "kind": "engine-lost", "say": "Stay.", "cleared_by": "the job", "allowed": "looking",
            "overridden_by": "the skipper"}
    whens: list[tuple[dict[str, Any], dict[str, Any]]] = [
        ({"all": [seen("sign0"), seen("own0")]}, found("a")),
        ({"any": [seen("own1"), seen("own2", "strong")]}, found("b")),
        ({"all": [seen("sign2", "strong"), {"fact": "drive", "is": "belt"}]}, found("c")),
        ({"all": [{"finding": f"{c}-a"}, {"finding": f"{c}-b"}]}, found("d")),
        ({"all": [{"finding": f"{c}-d"}, {"not": {"finding": f"{c}-c"}}]}, {"advice": f"{c}-say", "say": "Look again."}),
        ({"all": [{"finding": f"{c}-d"}, seen("own3", "strong")]}, hold),
        ({"all": [{"chance": f"{c}-fault0", "over": 0.5}, {"finding": f"{c}-a"}]}, {"advice": f"{c}-likely", "say": "It is likely."}),
        ({"all": [{"hold": f"{c}-hold"}, seen("own4")]}, found("e")),
    ]
    return [{"id": f"{c}-rule{i}", "when": when, "then": then, **CLAIM} for i, (when, then) in enumerate(whens)]


def _look() -> dict[str, Any]:
    return {"id": "look", "title": "Look", "tells": ["c0-sign0"], "state": "idle", "fresh": {"hours": 10, "days": 1}, "minutes": 1,
            "covers": ["engine-lost"], **CLAIM}


def _boat() -> dict[str, Any]:
    return {"schema": 1, "facts": [
        {"id": "drive", "title": "Drive", "ask": "How?", "values": {"belt": "belt", "gear": "gear"}, "default": "belt", "why": "made up"},
        {"id": "extra", "title": "Extra", "ask": "Is there one?", "flag": True, "default": True, "why": "made up"},
    ]}


def _words(components: int) -> dict[str, Any]:
    losses = {"nuisance": 1, "repair-bill": 24, "engine-lost": 200, "flooding": 3000, "fire": 6000, "gas": 5000, "injury": 5000}
    return {
        "schema": 1, "version": "0.0.1", "strengths": {"often": 0.5}, "backgrounds": {"rare": 0.015},
        "states": dict.fromkeys(STATES, "a state"), "setups": {"open": {"minutes": 3, "title": "open", "restore": "Shut."}},
        "consequences": {k: k for k in losses}, "exposures": {"coastal": {"title": "Coastal", "loses": losses}},
        "can_sail_factor": 0.5, "stay_hours": 24, "unknown_share": 0.1, "service_items": {}, "parts": {},
        "systems": [{"id": f"system{i}", "title": f"System {i}"} for i in range((components + 1) // 2)],
    }
