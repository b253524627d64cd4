"""The words of the rule base as types: reading, symptom, condition, fault, check, job, chained rule.

A file of them is a `diagnose.knowledge.component.Component`; the shared word lists are in `diagnose.knowledge.lists`. Everything
here is read-only and refuses keys it does not know.
"""

from __future__ import annotations

import json
from functools import cached_property
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, model_validator

Id = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$", max_length=60)]
Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]
Chance = Annotated[float, Field(gt=0.0, lt=1.0)]
Strength = Id | Chance
"""A word of the strengths (or backgrounds) scale, or a published number in its place."""

Status = Literal["draft", "checked", "retired"]
EngineState = Literal["cold-stopped", "warm-stopped", "idle", "under-load"]
Consequence = Literal["nuisance", "repair-bill", "engine-lost", "flooding", "fire", "gas", "injury"]
SourceKind = Literal["published", "common-practice", "memory", "computed"]
RUNNING: tuple[EngineState, ...] = ("idle", "under-load")
RESERVED_GRADE = "none"
"""Every scale begins with this grade: looked, and found healthy."""


class Entry(BaseModel):
    """Base of everything read from `rules/`: closed and frozen."""

    # an entry is validated inside the list that holds it: validators of its own would be built at start-up and not used
    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True, defer_build=True)


class Source(Entry):
    """Where a statement comes from.

    A bare word stands for `{kind: word}`. `published` names an entry of sources.yaml in `ref`; `memory` says in `believed` what is
    believed to hold it (it was not opened); `computed` names the function and its inputs.
    """

    kind: SourceKind
    ref: Id | None = None
    where: Text | None = None
    believed: Text | None = None
    computed: Text | None = None

    @model_validator(mode="before")
    @classmethod
    def _bare_word(cls, value: object) -> object:
        return {"kind": value} if isinstance(value, str) else value

    @model_validator(mode="after")
    def _kind_has_its_key(self) -> Source:
        needed = {"published": "ref", "memory": "believed", "computed": "computed"}.get(self.kind)
        if needed and getattr(self, needed) is None:
            raise ValueError(f"a source of kind {self.kind} needs '{needed}'")
        return self


class Named(Entry):
    """An entry with an id of its own, its reason and its source."""

    id: Id
    was: tuple[Id, ...] = ()
    title: Text
    status: Status = "draft"
    why: Text
    source: Source


# ------------------------------------------------------------------ when something applies


class When(Entry):
    """A structured condition: one of the joining keys `all`, `any`, `not`, or one atom.

    Atoms: `symptom` (with `at_least`, `is` or `one_of`, and optionally `states`, `epoch`), `fact` (with
    `is`, `one_of`, `at_least` or `below`), `finding`, `event` (with `within_hours`), `chance` (of a fault
    or a condition, `over` a number), `hold`. A symptom nobody looked at matches nothing.
    """

    all: tuple[When, ...] | None = None
    any: tuple[When, ...] | None = None
    not_: When | None = Field(default=None, alias="not")
    symptom: Id | None = None
    fact: Id | None = None
    finding: Id | None = None
    event: Id | None = None
    hold: Id | None = None
    chance: Id | None = None
    is_: Id | float | bool | None = Field(default=None, alias="is")
    one_of: tuple[Id, ...] | None = None
    at_least: Id | float | None = None
    below: float | None = None
    over: Chance | None = None
    within_hours: float | None = None
    states: tuple[EngineState, ...] = ()
    epoch: Literal["now", "before"] = "now"

    @cached_property
    def content(self) -> str:
        """The condition as text: equal conditions have equal text."""
        return json.dumps(self.model_dump(by_alias=True, exclude_defaults=True), sort_keys=True)

    @model_validator(mode="after")
    def _exactly_one_head(self) -> When:
        heads = [k for k in ("all", "any", "not_", "symptom", "fact", "finding", "event", "hold", "chance")
                 if getattr(self, k) is not None]
        if len(heads) != 1:
            raise ValueError("a condition has exactly one of all, any, not, symptom, fact, finding, event, "
                             f"hold, chance; this one has {', '.join(h.strip('_') for h in heads) or 'none'}")
        tests = [k for k in ("is_", "one_of", "at_least", "below", "over", "within_hours")
                 if getattr(self, k) is not None]
        allowed = {"symptom": {"is_", "one_of", "at_least"}, "fact": {"is_", "one_of", "at_least", "below"},
                   "event": {"within_hours"}, "chance": {"over"}}.get(heads[0], set())
        wrong = [t for t in tests if t not in allowed]
        if wrong:
            raise ValueError(f"'{wrong[0].strip('_')}' does not go with '{heads[0].strip('_')}'")
        if heads[0] in ("symptom", "fact", "chance") and len(tests) != 1:
            raise ValueError(f"'{heads[0]}' needs exactly one of {', '.join(sorted(a.strip('_') for a in allowed))}")
        return self


# ------------------------------------------------------------------ what can be observed


class MistakenFor(Entry):
    """What a symptom is taken for by mistake, and how to tell."""

    what: Text
    told_by: Text


class Band(Entry):
    """One grade of a measured symptom: from `at_least` (kept) to `below` (left out), in the symptom's unit."""

    at_least: float | None = None
    below: float | None = None
    says: Text | None = None


class Measure(Entry):
    """What is measured: unit of the bands, what is physically possible, and one standard deviation of a
    careful reading with ordinary tools (instrument and way of reading together), in the same unit.

    `met` is the range in which values are really met on boats, where that is narrower than what is possible: it ends the
    outermost bands, and a value beyond it counts as its end. `follows` names a fact of the boat, in the same unit, with which the
    bands move: they are those of the fact's default.
    """

    unit: Text
    possible: tuple[float, float]
    met: tuple[float, float] | None = None
    follows: Id | None = None
    sigma: Annotated[float, Field(gt=0)]


class Measurand(Named):
    """A quantity read off an instrument or a watch that says little alone: symptoms are worked out of several.

    `sigma`, or `sigma_percent` of the value, is one standard deviation of a careful reading with ordinary tools, and
    `takes` the unit in which the functions want it.
    """

    ask: Text
    said_as: tuple[Text, ...] = ()
    states: tuple[EngineState, ...]
    unit: Text
    takes: Text | None = None
    possible: tuple[float, float]
    sigma: Annotated[float, Field(ge=0)] = 0.0
    sigma_percent: Annotated[float, Field(ge=0, le=100)] = 0.0


class Ingredient(Entry):
    """What one parameter of a function is filled with: exactly one of these.

    `reading` names a measurand or a measured symptom; `fact` and `figure` one of the boat's; `revs: true` are the engine's
    revs at which the readings were taken; `number` is a constant and `word` a choice. `takes` is the unit the function wants,
    where it is not the one the reading or figure says.
    """

    reading: Id | None = None
    fact: Id | None = None
    figure: Id | None = None
    revs: Literal[True] | None = None
    number: float | None = None
    word: Id | None = None
    takes: Text | None = None

    @model_validator(mode="after")
    def _one_kind(self) -> Ingredient:
        if sum(value is not None for value in (self.reading, self.fact, self.figure, self.revs, self.number, self.word)) != 1:
            raise ValueError("exactly one of reading, fact, figure, revs, number, word")
        return self


class WorkedOut(Entry):
    """One way to work out a measured symptom: a function of `diagnose.measure` and what goes into it.

    `gives` is the unit of what the function returns, `field` the figure taken where it returns several, and `rough` one standard
    deviation of what the formula leaves out, in the symptom's unit. It is not used beside the symptoms of `unless`, which say
    the same from better readings. Where readings of a good day are on record, today's figure is set `against` what the engine is
    known to show when healthy, as their `ratio` or `difference`.
    """

    by: Annotated[str, StringConstraints(pattern=r"^[a-z_]+\.[a-z][a-z0-9_]*$")]
    takes: Annotated[dict[str, Ingredient], Field(min_length=1)]
    gives: Text
    field: str | None = None
    rough: Annotated[float, Field(ge=0)] = 0.0
    unless: tuple[Id, ...] = ()
    against: Literal["ratio", "difference"] | None = None
    formula: Text


class Leak(Entry):
    """A symptom that is also a loss: which fluid, and mL per hour (low, high) at each grade above none; `healthy` at none, where a sound
    one loses something too. Where it does not, whatever was counted is a leak, and a loss below all grades is the mildest.
    """

    fluid: Literal["coolant", "sea-water-in", "oil", "fuel"]
    rates: dict[Id, tuple[float, float]]
    healthy: tuple[float, float] | None = None
    why: Text | None = None
    source: Source | None = None


class Symptom(Named):
    """Something a person can see, hear, feel or measure, on an ordered scale that begins with `none`.

    `states` are the engine states in which it can be judged. `background` is the chance of this grade or
    worse on a boat without any fault of this book. `would_be_mentioned` is how likely a person would have
    told of it unasked; keep it 0 unless the sign is striking.
    """

    ask: Text
    said_as: tuple[Text, ...] = ()
    states: tuple[EngineState, ...]
    grades: dict[Id, Text] | dict[Id, Band]
    measure: Measure | None = None
    worked_out: tuple[WorkedOut, ...] = ()
    background: dict[Id, Strength]
    would_be_mentioned: Annotated[float, Field(ge=0, lt=1)] = 0.0
    worst: Consequence = "repair-bill"
    leak: Leak | None = None
    mistaken_for: Annotated[tuple[MistakenFor, ...], Field(min_length=1)]


class Shows(Entry):
    """How strongly a fault (by stage) or a condition (by grade) shows on a symptom, condition or fault.

    `at_least` is the chance of this grade or worse, the same for every stage from the first on; `by` gives a
    table for a stage or grade, and one that is not given inherits the one before it. What `outlasts` the cure is still so after it:
    the pieces of a torn impeller are missing when the next is in.
    """

    symptom: Id | None = None
    condition: Id | None = None
    at_least: dict[Id, Strength] | None = None
    by: dict[Id, dict[Id, Strength]] | None = None
    states: tuple[EngineState, ...] = ()
    live_when: When | None = None
    outlasts: bool = False
    why: Text
    source: Source | None = None

    @model_validator(mode="after")
    def _one_target_one_table(self) -> Shows:
        if (self.symptom is None) == (self.condition is None):
            raise ValueError("'shows' names exactly one of symptom, condition")
        if (self.at_least is None) == (self.by is None):
            raise ValueError("'shows' has exactly one of at_least, by")
        return self


class Condition(Named):
    """A hidden graded state behind several signs (raw-water flow low, coolant hot, belt slipping)."""

    grades: dict[Id, Text]
    background: dict[Id, Strength]
    shows: tuple[Shows, ...]


# ------------------------------------------------------------------ what can be wrong


class Rate(Entry):
    """Onsets a boat-year on a boat of unknown history; 90 % of boats lie within value/spread .. value*spread."""

    per_year: Annotated[float, Field(gt=0, lt=5)]
    spread: Annotated[float, Field(ge=1.2, le=20)]
    source: Source


class Life(Entry):
    """A characteristic life with its unit, spread and source; 90 % lie within value/spread .. value*spread."""

    value: Annotated[float, Field(gt=0)]
    unit: Literal["hour", "year"]
    spread: Annotated[float, Field(ge=1.1, le=10)]
    source: Source


class Ageing(Entry):
    """Weibull wear-out counted from a service item: shape, and characteristic life (63 %)."""

    since: Id
    shape: Annotated[float, Field(ge=0.5, le=8)]
    life: Life


class After(Entry):
    """What an event or a piece of work leaves behind: the chance that it caused this fault, fading."""

    event: Id
    chance: Chance
    fades_over_hours: Annotated[float, Field(gt=0)] = 20.0
    why: Text


class Stage(Entry):
    """A stage of a fault. `lasts` is hours to the next stage, or to the consequence from the last one: 5 %
    and 95 % of a lognormal; without it the stage does not move on by itself. `clock: always` counts hours at
    rest too."""

    id: Id
    title: Text
    lasts: tuple[float, float] | None = None
    clock: Literal["running", "always"] = "running"

    @model_validator(mode="after")
    def _short_before_long(self) -> Stage:
        if self.lasts and not 0 < self.lasts[0] < self.lasts[1]:
            raise ValueError("'lasts' is [short, long] with 0 < short < long")
        return self


class Outcome(Entry):
    """What happens when the last stage ends: its kind and how often it is that."""

    kind: Consequence
    chance: Annotated[float, Field(gt=0, le=1)] = 1.0


class ToldFrom(Entry):
    """A rival of this fault, and the check that parts the two."""

    fault: Id
    by: Id


class LeadsTo(Entry):
    """This fault, from `stage` on, causes another with this chance."""

    fault: Id
    chance: Chance
    stage: Id | None = None
    why: Text


class Limit(Entry):
    """A working limit that can be kept: what to do, the number, how often to look, and then what."""

    verb: Literal["carry", "look", "ease", "turn", "stop"]
    say: Text
    number: Text | None = None
    every_minutes: Annotated[int, Field(gt=0)] | None = None
    then: Text | None = None


class Fault(Named):
    """A failure mode of a component. The first stage is where it begins; the last ends in the outcomes."""

    said_as: tuple[Text, ...] = ()
    rate: Rate
    live_when: When | None = None
    ages_with: Ageing | None = None
    after: tuple[After, ...] = ()
    stages: Annotated[tuple[Stage, ...], Field(min_length=1, max_length=4)]
    outcomes: Annotated[tuple[Outcome, ...], Field(min_length=1)]
    told_from: tuple[ToldFrom, ...] = ()
    known_gap: Text | None = None
    leads_to: tuple[LeadsTo, ...] = ()
    shows: Annotated[tuple[Shows, ...], Field(min_length=1)]
    limits: tuple[Limit, ...] = ()
    limits_leave: Annotated[float, Field(gt=0, le=1)] = 1.0


# ------------------------------------------------------------------ what can be done


class Needs(Entry):
    """The engine state a check is made in, and the set-ups before it."""

    engine_state: EngineState
    setups: tuple[Id, ...] = ()


class Cost(Entry):
    """What a check takes: minutes of a practised hand and of a newer one, waiting, hands, mess, tools."""

    minutes: Annotated[float, Field(gt=0)]
    first_time: Annotated[float, Field(gt=0)]
    wait_minutes: Annotated[float, Field(ge=0)] = 0.0
    hands: Literal[1, 2] = 1
    mess: Text = "none"
    tools: tuple[Text, ...] = ()


class Reading(Entry):
    """What one result of a check means, in words."""

    seen: dict[Id, Id]
    means: Text


class Check(Named):
    """Something a person can do to learn symptoms. What was opened or shut is put back by `restore`.

    `destroys` names symptoms that cannot be judged afterwards; `strands` is the chance that the check itself
    leaves the engine unusable (a seized bolt, a torn gasket with no spare). `turns_her` says that the engine is cranked
    or run in it though it begins stopped: it is not offered while something forbids that.
    """

    tells: Annotated[tuple[Id, ...], Field(min_length=1)]
    live_when: When | None = None
    needs: Needs
    cost: Cost
    uses_up: tuple[Text, ...] = ()
    destroys: tuple[Id, ...] = ()
    strands: Annotated[float, Field(ge=0, lt=0.5)] = 0.0
    turns_her: bool = False
    cautions: tuple[Id, ...] = ()
    steps: Annotated[tuple[Text, ...], Field(min_length=1)]
    restore: tuple[Text, ...] = ()
    reading: Annotated[tuple[Reading, ...], Field(min_length=1)]


class Event(Named):
    """Something that happened and may have left damage: a dry run, an overheating, work just done."""

    said_as: tuple[Text, ...] = ()


# ------------------------------------------------------------------ chained rules


class Then(Entry):
    """What a rule makes: one of finding, fact, hold, limit, advice.

    `finding` is a conclusion other rules may build on; `fact` sets a boat fact worked out from others;
    `hold` stops something until it is cleared; `limit` and `advice` are printed. `under_way` says what a hold
    asks for at sea, where the answer that goes with what it `stops` is wrong, and `say_under_way` in which words;
    `first_look` names the check that comes first while it stands.
    """

    finding: Id | None = None
    fact: Id | None = None
    is_: Id | None = Field(default=None, alias="is")
    hold: Id | None = None
    stops: Literal["start", "leave", "open", "run"] | None = None
    limit: Limit | None = None
    advice: Id | None = None
    say: Text | None = None
    kind: Consequence | None = None
    cleared_by: Text | None = None
    allowed: Text | None = None
    overridden_by: Text | None = None
    under_way: Literal["stop-now", "ease", "carry-on", "turn-back"] | None = None
    say_under_way: Text | None = None
    first_look: Id | None = None

    @model_validator(mode="after")
    def _one_kind(self) -> Then:
        kinds = [k for k in ("finding", "fact", "hold", "limit", "advice") if getattr(self, k) is not None]
        if len(kinds) != 1:
            raise ValueError("'then' makes exactly one of finding, fact, hold, limit, advice")
        if self.hold is not None:
            missing = [k for k in ("stops", "say", "kind", "cleared_by", "allowed", "overridden_by")
                       if getattr(self, k) is None]
            if missing:
                raise ValueError(f"a hold needs {', '.join(missing)}")
        if self.fact is not None and self.is_ is None:
            raise ValueError("a fact needs 'is'")
        if kinds[0] in ("finding", "advice") and self.say is None:
            raise ValueError(f"{kinds[0]} needs 'say'")
        return self


class Rule(Entry):
    """A forward-chained step: when this is so, make that. `same_state` asks that all symptoms named were
    seen in one and the same engine state."""

    id: Id
    was: tuple[Id, ...] = ()
    title: Text | None = None
    status: Status = "draft"
    when: When
    same_state: bool = False
    then: Then
    why: Text
    source: Source
