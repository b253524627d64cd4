"""The case file: one boat, one trip, what was seen. Read strictly, and checked against the book.

Units are converted once, in `diagnose.units`; what an owner left out is filled in, and said, by
`diagnose.situation`.
"""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, StringConstraints, ValidationError, model_validator

from diagnose.errors import InputError
from diagnose.knowledge.model import Consequence, EngineState, Id, Text
from diagnose.knowledge.text import explain_validation, load

Sureness = Literal["sure", "think-so", "guess", "not-sure", "cannot-see"]
SURE: dict[Sureness, float] = {"sure": 1.0, "think-so": 0.85, "guess": 0.6, "not-sure": 0.0, "cannot-see": 0.0}
"""How much a report weighs: the chance that it is not a mistake. Not sure and cannot see are no looks."""


OwnRate = Annotated[float, Field(ge=0.05, le=20)]
"""How many times as often as on any boat a fault begins on this one."""


class Part(BaseModel):
    """Base of everything in a case file: closed and frozen."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


class Service(Part):
    """When a part was last renewed or serviced: engine hours then, hours ago, or the date."""

    at_hours: Annotated[float, Field(ge=0)] | None = None
    hours_ago: Annotated[float, Field(ge=0)] | None = None
    on: date | None = None

    @model_validator(mode="after")
    def _something(self) -> Service:
        if self.at_hours is None and self.hours_ago is None and self.on is None:
            raise ValueError("say at_hours, hours_ago or on")
        return self


class Observation(Part):
    """One thing looked at: a grade, a range of grades, or a number with its unit; or why it was not seen.

    `reading` in place of `symptom` is a number read off an instrument, out of which symptoms are worked. `plus_minus` is what the
    number may be off by, 95 times in 100, in the unit of the book.
    """

    symptom: Annotated[str, StringConstraints(strip_whitespace=True)] = ""
    reading: Text | None = None
    grade: Id | None = None
    at_least: Id | None = None
    one_of: tuple[Id, ...] | None = None
    value: str | int | float | None = None
    plus_minus: Annotated[float, Field(gt=0)] | None = None
    state: EngineState | None = None
    at_rpm: Annotated[float, Field(gt=0, le=8000)] | None = None
    when: datetime | None = None
    hours_ago: Annotated[float, Field(ge=0)] | None = None
    sure: Sureness = "sure"
    epoch: Literal["now", "before"] = "now"
    by: Text | None = None
    note: Text | None = None

    @model_validator(mode="after")
    def _one_answer(self) -> Observation:
        if bool(self.symptom) == (self.reading is not None):
            raise ValueError("say exactly one of symptom, reading")
        given = [k for k in ("grade", "at_least", "one_of", "value") if getattr(self, k) is not None]
        if SURE[self.sure] == 0 and not given:
            return self
        if len(given) != 1:
            raise ValueError("say exactly one of grade, at_least, one_of, value")
        return self


class Boat(Part):
    """The boat and her engine. Every fact of the arrangement may be left out.

    `figures` are numbers of this engine, with units, that replace those taken for any engine; `healthy` are readings of a day
    when all was well, against which those of today are set. `own_rates` are faults this boat has more or less often than the
    book says: factors on its base rates, drawn from what was found on her.
    """

    name: Text = "unnamed"
    engine_hours: Annotated[float, Field(ge=0, le=200_000)] | None = None
    arrangement: dict[Id, str | float | bool] = {}
    serviced: dict[Id, Service] = {}
    figures: dict[Id, str] = {}
    healthy: tuple[Observation, ...] = ()
    own_rates: dict[Id, OwnRate] = {}


class Aboard(Part):
    """What is aboard: part ids of the book, mixed coolant and fresh water (with units), the bilge pump."""

    spares: tuple[Id, ...] = ()
    coolant: str | None = None
    water: str | None = None
    bilge_pump: str | None = None
    tools: bool = True


class Losses(Part):
    """What a consequence would cost on this trip, in hours of delay one would accept to avoid it."""

    stay: Annotated[float, Field(gt=0)] | None = None
    by_consequence: dict[Consequence, Annotated[float, Field(ge=0)]] = {}


class Trip(Part):
    """The trip in question. `exposure` is one of the book's; `losses` may override it.

    Under way, `shelter_hours` is how long she needs to the nearest shelter, and `room_to_stop` whether she may lie
    stopped where she is.
    """

    engine_hours: Annotated[float, Field(gt=0, le=2000)] | None = None
    hours_away: Annotated[float, Field(gt=0, le=5000)] | None = None
    at_speed_hours: Annotated[float, Field(ge=0, le=2000)] | None = None
    exposure: Id | None = None
    can_sail: bool | None = None
    crew: Annotated[int, Field(ge=1, le=100)] | None = None
    night: bool = False
    bar_or_gate: bool = False
    under_way: bool = False
    shelter_hours: Annotated[float, Field(gt=0, le=2000)] | None = None
    room_to_stop: bool = True
    leaving: datetime | None = None
    cool_downs: Annotated[int, Field(ge=0, le=100)] | None = None
    aboard: Aboard = Aboard()
    losses: Losses = Losses()


class EventSeen(Part):
    """Something that happened, and how many engine hours ago."""

    event: Text
    hours_ago: Annotated[float, Field(ge=0)] = 0.0
    note: Text | None = None


class WorkTold(Part):
    """Work that was done in this case: which jobs, what was found in each, and what is new since.

    What was seen before it has the epoch 'before'. With the jobs known, that goes on speaking for and against the faults that were not
    cured; what was cured is there again only if the work did not hold, or if it began anew in the engine hours since. `found` names the
    faults that were found in a job, and none where nothing was wrong there; of a job that is left out it is not told. `renewed` are
    service items that are new since, each with what was known of its age before, or nothing. `not_cured` are faults that were found for
    certain and are there still, with or without any work done.
    """

    jobs: tuple[Id, ...] = ()
    hours_ago: Annotated[float, Field(ge=0)] = 0.0
    found: dict[Id, tuple[Id, ...]] = {}
    not_cured: tuple[Id, ...] = ()
    renewed: dict[Id, Service | None] = {}

    @model_validator(mode="after")
    def _something(self) -> WorkTold:
        if not self.jobs and not self.not_cured:
            raise ValueError("say jobs, or faults not_cured")
        return self


class Outcome(Part):
    """What a shipped case is expected to give, and why: the case is a test."""

    first: Id | None = None
    in_first: dict[Id, int] = {}
    above: dict[Id, float] = {}
    below: dict[Id, float] = {}
    decision: tuple[str, ...] | str | None = None
    settled: bool | None = None
    holds: tuple[Id, ...] | None = None
    fires: tuple[Id, ...] = ()
    under_way: tuple[str, ...] | str | None = None
    next_check: tuple[Id, ...] | Id | None = None
    why: Text


class Came(Part):
    """What an act of a told case is expected to come to, and why: it is a test."""

    decision: Text | None = None
    first: Id | None = None
    planned: tuple[Id, ...] = ()
    failed: Annotated[int, Field(ge=0)] | None = None
    closed: bool | None = None
    why: Text


class Act(Part):
    """What was done then, in a case that is told to its end: the work, its tests, hours run, the case closed.

    `seen` are signs that were not healthy when they were asked about while it lay open, each with its grade or a number with its unit,
    and `tested` those that were not at a test; all others asked about were healthy.
    `typed` are lines typed at a task, by its id, or at a test, by its moment, before it was done. `new` are service items that are new,
    `was` the faults found, `add` jobs offered and taken.
    """

    do: Literal["work", "prove", "run", "close"]
    at: AwareDatetime
    says: Text
    by: Text | None = None
    seen: dict[Id, str] = {}
    tested: dict[Id, str] = {}
    typed: dict[Text, tuple[Text, ...]] = {}
    new: tuple[Id, ...] = ()
    was: tuple[Id, ...] = ()
    add: tuple[Id, ...] = ()
    engine_hours: Annotated[float, Field(ge=0, le=200_000)] | None = None
    note: Text | None = None
    unproved: Text | None = None
    came: Came | None = None


class Case(Part):
    """One engine, one moment, one question: what is wrong, and may she leave? `then` tells what was done about it, to the end."""

    schema_: Literal[1] = Field(alias="schema", default=1)
    title: Text = "untitled"
    invented: bool = False
    note: Text | None = None
    opened_because: Literal["routine-look", "noticed-something", "after-work"]
    now: datetime | None = None
    since_last_look_hours: Annotated[float, Field(gt=0)] | None = None
    noticed_hours: Annotated[float, Field(gt=0)] | None = None
    boat: Boat = Boat()
    trip: Trip = Trip()
    events: tuple[EventSeen, ...] = ()
    work: WorkTold | None = None
    observations: tuple[Observation, ...] = ()
    expect: Outcome | None = None
    then: tuple[Act, ...] = ()


def load_case(path: str | Path) -> Case:
    """Read a case file.

    Raises:
        InputError: the file cannot be read, or does not fit the form; with the line.
    """
    document = load(Path(path))
    if not isinstance(document.data, dict):
        raise InputError("is not a map of keys", where=document.where(), right="a case file")
    try:
        return Case.model_validate(document.data)
    except ValidationError as error:
        raise explain_validation(error, document, InputError) from None


def case_schema(book: Any) -> dict[str, Any]:
    """JSON Schema of the case file, with the symptoms, facts, events and parts of the book as choices."""
    schema = Case.model_json_schema(by_alias=True)
    parts = schema["$defs"]
    described = {s.id: f"{s.title}: {', '.join(s.grades)}" for s in book.symptoms.values()}
    parts["Observation"]["properties"]["symptom"] = {"enum": sorted(described), "markdownDescription": "a symptom of the book"}
    parts["Observation"]["allOf"] = [
        {"if": {"properties": {"symptom": {"const": s.id}}}, "then": {"properties": {"grade": {"enum": [*s.grades]}}}}
        for s in book.symptoms.values()
    ]
    readings = sorted({*book.readings, *(s.id for s in book.symptoms.values() if s.measure)})
    parts["Observation"]["properties"]["reading"] = {"enum": readings, "markdownDescription": "a reading of the book"}
    parts["Boat"]["properties"]["figures"] = {
        "type": "object",
        "additionalProperties": False,
        "properties": {f.id: {"type": "string", "description": f"{f.ask} ({f.unit})"} for f in book.figures.values()},
    }
    parts["Boat"]["properties"]["own_rates"]["propertyNames"] = {"enum": sorted(book.faults)}
    jobs = {"enum": sorted(book.jobs)}
    parts["WorkTold"]["properties"]["jobs"]["items"] = jobs
    parts["WorkTold"]["properties"]["found"]["propertyNames"] = jobs
    parts["WorkTold"]["properties"]["not_cured"]["items"] = {"enum": sorted(book.faults)}
    parts["WorkTold"]["properties"]["renewed"]["propertyNames"] = {"enum": sorted(book.words.service_items)}
    parts["EventSeen"]["properties"]["event"] = {"enum": sorted(book.events)}
    parts["Boat"]["properties"]["arrangement"] = {
        "type": "object",
        "additionalProperties": False,
        "properties": {f.id: _fact_schema(f) for f in book.facts.values()},
    }
    parts["Boat"]["properties"]["serviced"] = {
        "type": "object",
        "additionalProperties": False,
        "properties": {item: {"$ref": "#/$defs/Service", "description": title} for item, title in book.words.service_items.items()},
    }
    parts["Trip"]["properties"]["exposure"] = {"enum": sorted(book.words.exposures)}
    parts["Aboard"]["properties"]["spares"] = {"type": "array", "items": {"enum": sorted(book.words.parts)}}
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    return schema


def _fact_schema(fact: Any) -> dict[str, Any]:
    if fact.values is not None:
        return {"enum": list(fact.values), "description": fact.ask}
    if fact.flag:
        return {"type": "boolean", "description": fact.ask}
    return {"type": ["string", "number"], "description": f"{fact.ask} ({fact.unit})"}
