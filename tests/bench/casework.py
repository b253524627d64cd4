"""Cases to measure on: those shipped, else the examples of the book; and random ones drawn from its symptoms."""

from __future__ import annotations

import random
from collections.abc import Sequence

from bench.lines import Setting

from diagnose.case import Case, load_case
from diagnose.chain.compile import boat_fact, live_name
from diagnose.chain.engine import Chainer
from diagnose.knowledge.book import Book
from diagnose.knowledge.examples import case_of
from diagnose.knowledge.lists import BoatFact
from diagnose.knowledge.load import shipped
from diagnose.knowledge.model import Band, Symptom

Facts = dict[str, str | float | bool]


def told_cases(setting: Setting, book: Book) -> tuple[str, list[Case]]:
    """The shipped cases, and what they are in words; without any, the examples in the rule files."""
    folder = setting.cases or shipped("cases")
    found = [load_case(path) for path in sorted(folder.glob("*.yaml"))]
    if found:
        return f"{len(found)} shipped cases", found
    examples = [case_of(e, book) for c in book.components for e in c.examples]
    if setting.quick:
        examples = examples[:: max(1, len(examples) // 40)]
    return f"{len(examples)} examples of the book", examples


class Drawn:
    """Random cases of one book: the same seed gives the same cases."""

    def __init__(self, book: Book, seed: int) -> None:
        self._book, self._rng = book, random.Random(seed)
        self._chainer = Chainer.of(book)  # its own, so that drawing a case prepares nothing for assessing it
        self._there: dict[tuple[tuple[str, object], ...], list[Symptom]] = {}

    def boat(self, known: float) -> Facts:
        """Facts of a boat, each told with the chance `known`; numbers stay untold."""
        return {f.id: self._value(f) for f in self._book.boat.facts if f.unit is None and self._rng.random() < known}

    def _value(self, fact: BoatFact) -> str | bool:
        if fact.values is None:
            return self._rng.random() < 0.5
        weights = [fact.chances[v] if fact.chances else 1.0 for v in fact.values]
        return self._rng.choices(list(fact.values), weights)[0]

    def case(self, boat: Facts, present: int, clear: int) -> Case:
        """A case with so many signs present, each at a random grade, and so many looked at and clear."""
        chosen = self._rng.sample(self._symptoms(boat), present + clear)
        observations = [self._observation(s, i < present) for i, s in enumerate(chosen)]
        reason = self._rng.choice(("routine-look", "noticed-something"))
        return Case.model_validate({"title": "drawn", "invented": True, "opened_because": reason, "boat": {"arrangement": boat},
                                    "observations": observations})

    def _symptoms(self, boat: Facts) -> Sequence[Symptom]:
        """The symptoms there are on such a boat."""
        key = tuple(sorted(boat.items()))
        if key not in self._there:
            if len(self._there) > 64:
                self._there.clear()
            facts = {f.id: f.default for f in self._book.boat.facts} | boat
            outcome = self._chainer.arrangement([boat_fact(n, v) for n, v in sorted(facts.items())])
            names = {str(f["n"]) for f in outcome.facts.values()}
            applies = {c.component for c in self._book.components if c.applies is None or live_name(c.applies) in names}
            self._there[key] = [s for s in self._book.symptoms.values() if self._book.component_of[s.id].component in applies]
        return self._there[key]

    def _observation(self, symptom: Symptom, present: bool) -> dict[str, object]:
        grades = list(symptom.grades)
        grade = self._rng.choice(grades[1:]) if present else grades[0]
        state = self._rng.choice(symptom.states)
        band = symptom.grades[grade]
        if isinstance(band, Band) and symptom.measure is not None:
            low = symptom.measure.possible[0] if band.at_least is None else band.at_least
            high = symptom.measure.possible[1] if band.below is None else band.below
            return {"symptom": symptom.id, "state": state, "value": f"{0.5 * (low + high):.6f} {symptom.measure.unit}"}
        return {"symptom": symptom.id, "state": state, "grade": grade}
