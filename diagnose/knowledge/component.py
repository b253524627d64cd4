"""One file of the rule base: everything a mechanic knows of one component, with the examples that are its tests."""

from __future__ import annotations

from datetime import date
from typing import Literal

from pydantic import Field

from diagnose.knowledge.jobs import Job
from diagnose.knowledge.model import Check, Condition, EngineState, Entry, Event, Fault, Id, Measurand, Rule, Symptom, Text, When


class Given(Entry):
    """One answer of an example, where a bare grade does not say enough."""

    grade: Id | None = None
    value: str | float | None = None
    state: EngineState | None = None
    at_rpm: float | None = None
    sure: Literal["sure", "think-so", "guess"] | None = None
    epoch: Literal["now", "before"] = "now"


class Expect(Entry):
    """What an example must give. `in_first` maps a fault to the worst place allowed; `quiet` asks for no
    hold, no urgent line and nothing likely."""

    first: Id | None = None
    in_first: dict[Id, int] = {}
    above: dict[Id, float] = {}
    below: dict[Id, float] = {}
    fires: tuple[Id, ...] = ()
    not_fires: tuple[Id, ...] = ()
    holds: tuple[Id, ...] | None = None
    decision: tuple[str, ...] | str | None = None
    not_decision: tuple[str, ...] | str | None = None
    under_way: tuple[str, ...] | str | None = None
    next_check: tuple[Id, ...] | Id | None = None
    quiet: bool | None = None


class KnownGap(Entry):
    """An example that is known to fail, since when, and why; it is reported when it starts to pass."""

    since: date
    why: Text


class Example(Entry):
    """A test and a page of documentation in one. `shown` or `near_miss` name the fault it is about."""

    name: Text
    shown: Id | None = None
    near_miss: Id | None = None
    boat: dict[Id, str | float | bool] = {}
    figures: dict[Id, str] = {}
    serviced: dict[Id, float] = {}
    trip: dict[Id, str | float | bool] = {}
    opened_because: Literal["routine-look", "noticed-something", "after-work"] = "noticed-something"
    events: dict[Id, float] = {}
    given: dict[Id, Id | Given | tuple[Given, ...]] = {}
    expect: Expect
    why: Text
    known_gap: KnownGap | None = None


class Component(Entry):
    """One file of the rule base: everything a mechanic knows of one component."""

    schema_: Literal[1] = Field(alias="schema")
    component: Id
    system: Id
    title: Text
    applies: When | None = None
    events: tuple[Event, ...] = ()
    readings: tuple[Measurand, ...] = ()
    symptoms: tuple[Symptom, ...] = ()
    conditions: tuple[Condition, ...] = ()
    faults: tuple[Fault, ...] = ()
    checks: tuple[Check, ...] = ()
    jobs: tuple[Job, ...] = ()
    rules: tuple[Rule, ...] = ()
    examples: tuple[Example, ...] = ()
