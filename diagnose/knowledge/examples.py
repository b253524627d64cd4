"""The examples in the rule files and the expectations of shipped cases, run as tests."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from diagnose.assessment import Assessment
from diagnose.case import Case
from diagnose.errors import DiagnoseError
from diagnose.knowledge.book import Book
from diagnose.knowledge.component import Component, Example, Given

QUIET_CHANCE = 0.3


@dataclass(frozen=True)
class Failure:
    """An expectation that was not met, and what came instead."""

    component: str
    example: str
    index: int
    what: str


def case_of(example: Example, book: Book) -> Case:
    """The case an example stands for."""
    observations: list[dict[str, Any]] = []
    for name, given in example.given.items():
        kind = "reading" if name in book.readings else "symptom"
        for one in given if isinstance(given, tuple) else (given,):
            answer = {"grade": one} if isinstance(one, str) else _given(one)
            observations.append({kind: name, **answer})
    return Case.model_validate({
        "title": example.name,
        "opened_because": example.opened_because,
        "boat": {"arrangement": example.boat, "figures": example.figures,
                 "serviced": {item: {"hours_ago": h} for item, h in example.serviced.items()}},
        "trip": {key.replace("-", "_"): value for key, value in example.trip.items()},
        "events": [{"event": name, "hours_ago": hours} for name, hours in example.events.items()],
        "observations": observations,
    })


def _given(one: Given) -> dict[str, Any]:
    return {k: v for k, v in one.model_dump().items() if v is not None}


def run_examples(book: Book, components: tuple[Component, ...] | None = None) -> Iterator[Failure]:
    """Run all examples; a known gap must fail, and is a failure when it starts to pass."""
    from diagnose.triage import assess

    for component in components if components is not None else book.components:
        for i, example in enumerate(component.examples):
            try:
                assessment = assess(case_of(example, book), book, next_check=example.expect.next_check is not None)
            except (DiagnoseError, ValidationError) as error:
                yield Failure(component.component, example.name, i, f"cannot be run: {' '.join(str(error).split())}")
                continue
            wrong = list(unmet(example.expect, assessment))
            if example.known_gap is not None:
                wrong = [] if wrong else ["a known gap now passes: take the note away"]
            for what in wrong:
                yield Failure(component.component, example.name, i, what)


def unmet(expect: Any, a: Assessment) -> Iterator[str]:
    """What an expectation (of an example or of a case) asks for and does not get."""
    found = a.all_probabilities
    names = list(found)
    if expect.first is not None and (not names or names[0] != expect.first):
        top = ", ".join(f"{n} {found[n]:.2f}" for n in names[:3])
        yield f"first is not {expect.first} ({found.get(expect.first, 0.0):.2f}) but {top}"
    order = list(found)
    for fault, place in expect.in_first.items():
        if fault not in order[:place]:
            yield f"{fault} is in place {order.index(fault) + 1 if fault in order else 'none'}, not in the first {place}"
    for fault, bar in expect.above.items():
        if found.get(fault, 0.0) < bar:
            yield f"{fault} is {found.get(fault, 0.0):.3f}, not above {bar}"
    for fault, bar in expect.below.items():
        if found.get(fault, 0.0) > bar:
            yield f"{fault} is {found.get(fault, 0.0):.3f}, not below {bar}"
    fired = {f.rule for f in a.trace}
    for rule in expect.fires:
        if rule not in fired:
            yield f"rule {rule} does not fire"
    for rule in getattr(expect, "not_fires", ()):
        if rule in fired:
            yield f"rule {rule} fires"
    if expect.holds is not None and {h.id for h in a.holds} != set(expect.holds):
        yield f"holds are {sorted(h.id for h in a.holds)}, not {sorted(expect.holds)}"
    yield from _decision(expect, a)


def _decision(expect: Any, a: Assessment) -> Iterator[str]:
    def listed(value: Any) -> tuple[str, ...]:
        return (value,) if isinstance(value, str) else tuple(value)

    if expect.decision is not None and a.decision not in listed(expect.decision):
        yield f"decision is {a.decision}, not {' or '.join(listed(expect.decision))}"
    if getattr(expect, "not_decision", None) is not None and a.decision in listed(expect.not_decision):
        yield f"decision is {a.decision}"
    at_sea = a.under_way.word if a.under_way is not None else None
    if expect.under_way is not None and at_sea not in listed(expect.under_way):
        yield f"under way it is {at_sea}, not {' or '.join(listed(expect.under_way))}"
    if getattr(expect, "settled", None) is not None and a.departure.settled != expect.settled:
        yield f"settled is {a.departure.settled}"
    if expect.next_check is not None:
        first = a.checks[0].check if a.checks else None
        if first not in listed(expect.next_check):
            yield f"next look is {first}, not {' or '.join(listed(expect.next_check))}"
    if getattr(expect, "quiet", None):
        likely = [n for n, p in a.all_probabilities.items() if p > QUIET_CHANCE]
        urgent = [r.fault for r in a.ranking if r.probability > QUIET_CHANCE and r.urgency.within in ("now", "before you leave")]
        if a.holds or likely or urgent:
            yield f"is not quiet: holds {[h.id for h in a.holds]}, likely {likely}"
