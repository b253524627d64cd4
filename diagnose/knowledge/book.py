"""The rule base in memory: every entry by id, words turned into numbers, digest and version."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TypeVar

from diagnose.errors import RuleError
from diagnose.knowledge.component import Component
from diagnose.knowledge.jobs import Job
from diagnose.knowledge.lists import (
    BoatFact,
    BoatWords,
    Calculation,
    Calculations,
    Caution,
    Cautions,
    Figure,
    Glossary,
    LookOver,
    Publication,
    Sources,
    Term,
    Words,
    asked_of,
)
from diagnose.knowledge.model import Check, Condition, Consequence, Event, Fault, Measurand, Rule, Strength, Symptom

T = TypeVar("T", Symptom, Measurand, Condition, Fault, Check, Job, Rule, Event)


@dataclass(frozen=True)
class Book:
    """The whole rule base, read-only. Retired entries are left out, and old ids (`was`) lead to new ones."""

    components: tuple[Component, ...]
    words: Words
    boat: BoatWords
    caution_list: Cautions
    source_list: Sources
    look_over: LookOver
    digest: str
    glossary: Glossary = field(default_factory=Glossary)
    calculation_lists: tuple[Calculations, ...] = ()
    files: dict[str, str] = field(default_factory=dict)
    """Component id to the file it was read from."""

    def _by_id(self, kind: str) -> dict[str, T]:
        found: dict[str, T] = {}
        for component in self.components:
            for entry in getattr(component, kind):
                if entry.status != "retired":
                    found[entry.id] = entry
        return dict(sorted(found.items()))

    @cached_property
    def symptoms(self) -> dict[str, Symptom]:
        return self._by_id("symptoms")

    @cached_property
    def readings(self) -> dict[str, Measurand]:
        return self._by_id("readings")

    @cached_property
    def conditions(self) -> dict[str, Condition]:
        return self._by_id("conditions")

    @cached_property
    def faults(self) -> dict[str, Fault]:
        return self._by_id("faults")

    @property
    def owners(self) -> tuple[Condition | Fault, ...]:
        """All that shows on symptoms: conditions, then faults."""
        return (*self.conditions.values(), *self.faults.values())

    @cached_property
    def checks(self) -> dict[str, Check]:
        return self._by_id("checks")

    @cached_property
    def jobs(self) -> dict[str, Job]:
        return self._by_id("jobs")

    @cached_property
    def rules(self) -> dict[str, Rule]:
        return self._by_id("rules")

    @cached_property
    def events(self) -> dict[str, Event]:
        return self._by_id("events")

    @cached_property
    def facts(self) -> dict[str, BoatFact]:
        return {fact.id: fact for fact in self.boat.facts}

    @cached_property
    def figures(self) -> dict[str, Figure]:
        return {figure.id: figure for figure in self.boat.figures}

    @property
    def terms(self) -> tuple[Term, ...]:
        """Terms of the trade, explained where they first appear."""
        return self.glossary.terms

    @cached_property
    def cautions(self) -> dict[str, Caution]:
        return {caution.id: caution for caution in self.caution_list.cautions}

    @cached_property
    def sources(self) -> dict[str, Publication]:
        return {source.id: source for source in self.source_list.sources}

    @cached_property
    def calculations(self) -> dict[str, Calculation]:
        """Every calculation by id, with the figures of the engine that it asks for filled in."""
        return {c.id: self._filled(c) for family in self.calculation_lists for c in family.calculations}

    def _filled(self, calculation: Calculation) -> Calculation:
        asks = {name: asked_of(self.figures[a.figure]) if a.figure in self.figures else a for name, a in calculation.asks.items()}
        return calculation.model_copy(update={"asks": asks})

    @cached_property
    def component_of(self) -> dict[str, Component]:
        """Id of any entry to the component it stands in."""
        return {
            entry.id: component
            for component in self.components
            for kind in ("readings", "symptoms", "conditions", "faults", "checks", "jobs", "rules", "events")
            for entry in getattr(component, kind)
        }

    @cached_property
    def renamed(self) -> dict[str, str]:
        """Old id to the id that stands for it now."""
        return {
            old: entry.id
            for component in self.components
            for kind in ("readings", "symptoms", "conditions", "faults", "checks", "jobs", "rules", "events")
            for entry in getattr(component, kind)
            for old in entry.was
        }

    def now_called(self, name: str) -> str:
        """The id that an entry has now, of one it has or once had; a name that the book never knew comes back as it is."""
        return self.renamed.get(name, name)

    @cached_property
    def jobs_for(self) -> dict[str, tuple[Job, ...]]:
        """Fault id to the jobs that cure it."""
        found: dict[str, list[Job]] = {}
        for job in self.jobs.values():
            for fault in job.cures:
                found.setdefault(fault, []).append(job)
        return {fault: tuple(jobs) for fault, jobs in found.items()}

    @cached_property
    def checks_for(self) -> dict[str, tuple[Check, ...]]:
        """Symptom id to the checks that tell it."""
        found: dict[str, list[Check]] = {}
        for check in self.checks.values():
            for symptom in check.tells:
                found.setdefault(symptom, []).append(check)
        return {symptom: tuple(checks) for symptom, checks in found.items()}

    @property
    def version(self) -> str:
        return self.words.version

    def strength(self, word: Strength) -> float:
        """A strength as a number.

        Raises:
            RuleError: the word is not on the scale.
        """
        if isinstance(word, float):
            return word
        try:
            return self.words.strengths[word]
        except KeyError:
            raise RuleError(f"strength '{word}' is not on the scale", right=", ".join(self.words.strengths)) from None

    def background(self, word: Strength) -> float:
        """A background chance as a number.

        Raises:
            RuleError: the word is not on the scale.
        """
        if isinstance(word, float):
            return word
        try:
            return self.words.backgrounds[word]
        except KeyError:
            raise RuleError(f"background '{word}' is not on the scale", right=", ".join(self.words.backgrounds)) from None

    def rank(self, kind: Consequence) -> int:
        """Place of a consequence on the list, worst last."""
        return list(self.words.consequences).index(kind)

    def system_title(self, system: str) -> str:
        """The title of a system, or its id where it is not listed."""
        return next((s.title for s in self.words.systems if s.id == system), system)
