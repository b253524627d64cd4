"""A small invented book of jobs for the tests of planning: a pump, its belt and a filter, and cases on it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import smallbook as sb

from diagnose.case import Case
from diagnose.knowledge.book import Book
from diagnose.triage import assess
from diagnose.work.ground import Ground
from diagnose.work.results import Task

SETUPS: dict[str, Any] = {
    "box-open": {"minutes": 5, "title": "box open", "restore": "Close the box.", "until_proved": True},
    "cock-shut": {"minutes": 2, "title": "cock shut", "restore": "Open the cock.", "restore_minutes": 3, "needs": ["box-open"]},
    "cover-off": {"minutes": 12, "title": "cover off", "restore": "Refit the cover.", "restore_minutes": 8, "needs": ["cock-shut"],
                  "uses": ["gasket"]},
    "ashore": {"minutes": 120, "title": "ashore", "restore": "Launch her.", "restore_minutes": 60},
    "switch-off": {"minutes": 2, "title": "switch off", "restore": "Switch on.", "outermost": True},
}
PARTS = {**{name: name for name in ("pump", "gasket", "belt", "seal", "filter", "grease")}, "coolant-mix": "mixed coolant"}
SERVICE = {"pump": "Pump renewed", "belt": "Belt renewed"}


def step(name: str, minutes: float = 10.0, **more: Any) -> dict[str, Any]:
    """A step that takes a newer hand half as long again."""
    return {"id": name, "do": f"Do {name}.", "minutes": {"skilled": minutes, "first_time": 1.5 * minutes}, **more}


def proved(when: str, do: str = "Look.", **more: Any) -> dict[str, Any]:
    """One test of a proof."""
    return {"when": when, "do": do, "passes": "Dry.", "fails": "Wet.", **more}


def job(name: str, cures: Sequence[str], *, setups: Sequence[str] = (), steps: Sequence[dict[str, Any]] = (), minutes: float = 60.0,
        order: Sequence[Any] = (), tests: Sequence[dict[str, Any]] = (), **more: Any) -> dict[str, Any]:
    """A job whose times are those of its steps and set-ups, so that the book's rules hold."""
    skilled, first = minutes / 1.6, minutes
    if steps:
        there = 0.0
        todo = list(setups)
        done: set[str] = set()
        while todo:
            s = todo.pop()
            if s not in done:
                done.add(s)
                there += SETUPS[s]["minutes"] + SETUPS[s].get("restore_minutes", 0.0)
                todo += SETUPS[s].get("needs", [])
        skilled = sum(s["minutes"]["skilled"] for s in steps) + there
        first = sum(s["minutes"]["first_time"] for s in steps) + 1.6 * there
    return {"id": name, "title": name.replace("-", " "), "cures": list(cures), "setups": list(setups), "steps": list(steps),
            "order": [{"part": p} if isinstance(p, str) else p for p in order], "minutes": {"skilled": skilled, "first_time": first},
            "proof": {"do": "Run her.", "passes": "Well.", "fails": "Ill.", "tests": list(tests)}, **sb.SAID, **more}


def sign(name: str) -> dict[str, Any]:
    """A sign that can be seen at rest, seldom seen without its fault."""
    return sb.symptom(name, (0.01,), states=("cold-stopped",))


def fault(name: str, **more: Any) -> dict[str, Any]:
    """A fault that mostly shows on the sign of its own name."""
    return sb.fault(name, [sb.shows(f"{name}-seen", (0.95,))], **more)


AGEING = {"since": "belt", "shape": 3, "life": {"value": 800, "unit": "hour", "spread": 1.3, "source": "common-practice"}}
FAULTS: dict[str, dict[str, Any]] = {
    "pump-worn": {"rate": 0.05, "lasts": ((20, 200),), "outcomes": (("engine-lost", 0.8), ("nuisance", 0.2))},
    "seal-worn": {"rate": 0.05, "lasts": ((100, 900), (30, 200)), "outcomes": (("repair-bill", 0.9),)},
    "cover-worn": {"rate": 0.02, "lasts": ((200, 2000),), "outcomes": (("engine-lost", 0.3),)},
    "belt-aged": {"rate": 0.08, "lasts": ((10, 100),), "outcomes": (("engine-lost", 0.9),), "ages_with": AGEING},
    "filter-dirty": {"rate": 0.10, "lasts": ((5, 60),), "outcomes": (("engine-lost", 0.5), ("nuisance", 0.5))},
    "paint-flaking": {"rate": 0.10, "lasts": (None,), "outcomes": (("nuisance", 1.0),)},
    "hull-soft": {"rate": 0.01, "lasts": ((300, 3000),), "outcomes": (("flooding", 0.5),)},
}
PUMP_STEPS = (
    step("pump-out", 20, takes_off=["pump"], bares=["cover-worn-seen"]),
    step("clean", 10, wait={"minutes": 30, "why": "it soaks"}),
    step("pump-in", 25, renews={"pump": "pump"}, uses=["grease"]),
)
SEAL_STEPS = (
    step("seal-out", 15, takes_off=["seal ring"]),
    step("look-round", 5, after=[]),
    step("seal-in", 10, after=["seal-out", "look-round"], renews={"seal ring": "seal"}, uses=["gasket"], hands=2),
)
JOBS: tuple[dict[str, Any], ...] = (
    job("swap-pump", ["pump-worn"], setups=["cover-off"], steps=PUMP_STEPS, order=["pump", {"part": "grease", "need": "usual"}],
        tests=[proved("cold"), proved("warm", "Run ten minutes.", minutes=10), proved("after-hours", hours=5)],
        look_while_open=["the shaft"], confirm_before_ordering=["which bore"]),
    job("swap-seal", ["seal-worn"], setups=["cover-off"], steps=SEAL_STEPS, order=["seal", {"part": "gasket", "count": 2}],
        tests=[proved("cold"), proved("first-start", "See the stream.")]),
    job("turn-cover", ["cover-worn"], setups=["cover-off"], steps=[step("turn", 4)]),
    job("renew-belt", ["belt-aged"], setups=["box-open"], steps=[step("belt-off", 5, takes_off=["belt"]),
                                                               step("belt-on", 8, renews={"belt": "belt"})], order=["belt"]),
    job("renew-filter", ["filter-dirty"], minutes=30, order=["filter"]),
    job("paint", ["paint-flaking"], minutes=90),
    job("patch-hull", ["hull-soft"], setups=["ashore"], minutes=420, afloat=False),
)


def book(*more_jobs: dict[str, Any], jobs: Sequence[dict[str, Any]] = JOBS, **changed_words: Any) -> Book:
    """The whole small book, or one with other jobs or words."""
    words = {"setups": SETUPS, "parts": PARTS, "service_items": SERVICE, **changed_words}
    return sb.book_of(sb.component(
        symptoms=[sign(f"{name}-seen") for name in FAULTS], faults=[fault(name, **how) for name, how in FAULTS.items()],
        jobs=[*jobs, *more_jobs]), **words)


def case(seen: dict[str, str] | None = None, *, spares: Sequence[str] = (), ages: dict[str, float] | None = None, **more: Any) -> Case:
    """A case in which the signs of these faults were seen, by grade; faults not named were looked for and not found if `none`."""
    return sb.case_of(*(sb.seen(f"{name}-seen", grade, "cold-stopped") for name, grade in (seen or {}).items()),
                      boat={"serviced": {k: {"hours_ago": v} for k, v in (ages or {}).items()}},
                      trip={"engine_hours": 4, "exposure": "coastal", "can_sail": False, "aboard": {"spares": list(spares)}}, **more)


def ground(seen: dict[str, str] | None = None, of: Book | None = None, **more: Any) -> Ground:
    """The ground of such a case, assessed."""
    rules = of or book()
    given = case(seen, **more)
    return Ground.of(assess(given, rules), given, rules)


def task(name: str, minutes: float, after: Sequence[str] = (), *, hands: int = 1, wait: float = 0.0) -> Task:
    """A bare task."""
    return Task(id=name, kind="step", of=("a",), do=name, skilled=minutes, first_time=minutes, hands=hands, wait_minutes=wait,
                after=tuple(after))
