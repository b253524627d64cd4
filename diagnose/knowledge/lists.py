"""The words every rule file leans on, as types: scales and names, facts of the boat, cautions, sources, the look-over.

One class is one file of `rules/shared/`.
"""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from pydantic import Field, StringConstraints, model_validator

from diagnose.knowledge.model import Chance, Consequence, EngineState, Entry, Id, Source, Text, When


class Setup(Entry):
    """What must be done before some checks can be made, paid once: minutes, and how it is put back."""

    minutes: Annotated[float, Field(gt=0)]
    title: Text
    restore: Text


class UnderWayCosts(Entry):
    """What each answer under way costs beside its risk, in hours of delay, and how long it still needs the engine.

    `room_hours` to where she can lie safely, `shelter_hours` to the nearest shelter; `stopped` lying stopped where she
    is, `eased` lying in the room found, `turned` the trip given up.
    """

    room_hours: Annotated[float, Field(gt=0)] = 0.25
    shelter_hours: Annotated[float, Field(gt=0)] = 1.5
    stopped: Annotated[float, Field(ge=0)] = 16.0
    eased: Annotated[float, Field(ge=0)] = 12.0
    turned: Annotated[float, Field(ge=0)] = 8.0


class Exposure(Entry):
    """How far from help: the loss, in hours of delay, of each consequence on such a trip."""

    title: Text
    loses: dict[Consequence, float]
    under_way: UnderWayCosts = UnderWayCosts()


class System(Entry):
    """A system of the engine. Two likely dangerous faults in one `vital` chain count as one red sign."""

    id: Id
    title: Text
    vital: Id | None = None


class Words(Entry):
    """rules/shared/words.yaml: the scales and names every file leans on."""

    schema_: Literal[1] = Field(alias="schema")
    version: Annotated[str, StringConstraints(pattern=r"^\d+\.\d+\.\d+$")]
    strengths: dict[Id, Chance]
    backgrounds: dict[Id, Chance]
    states: dict[EngineState, Text]
    setups: dict[Id, Setup]
    consequences: dict[Consequence, Text]
    exposures: dict[Id, Exposure]
    can_sail_factor: Annotated[float, Field(gt=0, le=1)]
    stay_hours: Annotated[float, Field(gt=0)]
    unknown_share: Annotated[float, Field(gt=0, lt=0.5)]
    systems: tuple[System, ...]
    service_items: dict[Id, Text]
    parts: dict[Id, Text]
    coolant_part: Id | None = None
    """The part that a litre or more of carried coolant stands for in an order list."""


class BoatFact(Entry):
    """Something about the boat or its gear that switches rules: a choice, a number or a flag.

    `default` is taken, and said, when the owner does not know; `chances` are how boats are spread over the
    values, used instead of the default where it would change the ranking.
    """

    id: Id
    title: Text
    ask: Text
    values: dict[Id, Text] | None = None
    flag: bool = False
    unit: Text | None = None
    possible: tuple[float, float] | None = None
    default: Id | float | bool
    chances: dict[Id, Chance] | None = None
    why: Text

    @model_validator(mode="after")
    def _one_kind(self) -> BoatFact:
        if (self.values is not None) + self.flag + (self.unit is not None) != 1:
            raise ValueError("a boat fact has exactly one of values, flag, unit")
        if self.unit is not None and self.possible is None:
            raise ValueError("a boat fact with a unit needs 'possible'")
        return self


class BoatWords(Entry):
    """rules/shared/boat.yaml."""

    schema_: Literal[1] = Field(alias="schema")
    facts: tuple[BoatFact, ...]


class Caution(Entry):
    """A warning that checks and jobs name, in the words that are printed."""

    id: Id
    title: Text
    text: Text
    why: Text
    source: Source


class Cautions(Entry):
    """rules/shared/cautions.yaml."""

    schema_: Literal[1] = Field(alias="schema")
    cautions: tuple[Caution, ...]


class Publication(Entry):
    """Something published that entries name as their source; `opened` is the day it was read."""

    id: Id
    what: Text
    edition: Text
    place: Text | None = None
    opened: date | None = None
    note: Text | None = None


class Sources(Entry):
    """rules/shared/sources.yaml."""

    schema_: Literal[1] = Field(alias="schema")
    sources: tuple[Publication, ...]


class Fresh(Entry):
    """How long a look counts, in engine hours and in days."""

    hours: Annotated[float, Field(gt=0)]
    days: Annotated[float, Field(gt=0)]


class Look(Entry):
    """One line of the look-over before departure: what must have been looked at, how lately, and which
    consequences it guards against. One that does not gate is advised, and a go does not wait for it."""

    id: Id
    title: Text
    tells: Annotated[tuple[Id, ...], Field(min_length=1)]
    any_of: bool = False
    gates: bool = True
    live_when: When | None = None
    state: EngineState
    fresh: Fresh
    minutes: Annotated[float, Field(gt=0)]
    covers: Annotated[tuple[Consequence, ...], Field(min_length=1)]
    why: Text
    source: Source


class LookOver(Entry):
    """rules/shared/look-over.yaml."""

    schema_: Literal[1] = Field(alias="schema")
    looks: tuple[Look, ...]
