"""The words every rule file leans on, as types: scales and names, facts of the boat, cautions, sources, the look-over.

One class is one file of `rules/shared/`.
"""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from pydantic import Field, StringConstraints, model_validator

from diagnose.knowledge.jobs import ProofMoment
from diagnose.knowledge.model import Chance, Consequence, EngineState, Entry, Id, Source, Text, When

Name = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]*$", max_length=40)]
"""The name of a parameter or of a figure that comes out: what is typed before the equals sign."""


class Setup(Entry):
    """What must be done before some checks or work, paid once: minutes, and how it is put back.

    `needs` are set-ups that come before it, `uses` the parts that putting it back takes, `restore_minutes` how long that is. One
    that stays `until_proved` is in nobody's way when the work is tried out, and is put back after that. One that is `outermost` is made
    before the others, and put back after them.
    """

    minutes: Annotated[float, Field(gt=0)]
    title: Text
    restore: Text
    restore_minutes: Annotated[float, Field(ge=0)] = 0.0
    until_proved: bool = False
    outermost: bool = False
    runs_her: bool = False
    """She runs in it, and so it comes before anything is shut, slackened or taken apart."""
    needs: tuple[Id, ...] = ()
    uses: tuple[Id, ...] = ()
    cautions: tuple[Id, ...] = ()


class Ordering(Entry):
    """How a part is ordered: days until it comes to a harbour with a carrier, and what its look-alike variants differ in.

    `counts_hours` is what having to buy it counts, its price and the errand, in hours of delay; left out, what any part counts.
    """

    lead_days: Annotated[float, Field(ge=0)] = 3.0
    variants: tuple[Text, ...] = ()
    counts_hours: Annotated[float, Field(ge=0)] | None = None


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


class Work(Entry):
    """What planning a job goes by: conventions, each in the file with its reason, and none of them a claim about the world.

    `likely` is the chance from which a fault is cured rather than looked for; `hour_now` and `hour_at_leisure` are the hours of
    delay that an hour of work counts, before leaving and at the season's end; `part_hours` what having to buy one part counts and
    `lead_days` how long it takes where the book says nothing of it. The next port is `port_hours` engine hours and `port_days`
    away; `season_share` of a year is left of the season; what is renewed while it is open is judged over `open_again_years`, its
    look takes `glance_minutes`, and only where the open access saves `least_saved` of its minutes. `day_hours` are worked in a day.
    """

    likely: Chance = 0.25
    hour_now: Annotated[float, Field(gt=0)] = 1.0
    hour_at_leisure: Annotated[float, Field(gt=0)] = 0.5
    part_hours: Annotated[float, Field(ge=0)] = 1.0
    lead_days: Annotated[float, Field(ge=0)] = 3.0
    port_hours: Annotated[float, Field(gt=0)] = 10.0
    port_days: Annotated[float, Field(gt=0)] = 3.0
    season_share: Annotated[float, Field(gt=0, le=1)] = 0.5
    open_again_years: Annotated[float, Field(gt=0, le=10)] = 1.0
    glance_minutes: Annotated[float, Field(gt=0)] = 2.0
    least_saved: Annotated[float, Field(ge=0, lt=1)] = 0.2
    day_hours: Annotated[float, Field(gt=0, le=24)] = 6.0


class System(Entry):
    """A system of the engine. Two likely dangerous faults in one `vital` chain count as one red sign."""

    id: Id
    title: Text
    vital: Id | None = None


class Meant(Entry):
    """Entries that the program asks for by what they mean: `hours_a_year` and `header_reserve` are facts of the boat that are
    numbers, `fill_hot` a flag that says whether coolant can be topped up hot, `usual_exposure` the trip taken where none is
    told, `coolant_part` the part that a litre or more of carried coolant stands for in an order list."""

    hours_a_year: Id | None = None
    header_reserve: Id | None = None
    fill_hot: Id | None = None
    usual_exposure: Id | None = None
    coolant_part: Id | None = None


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
    ordering: dict[Id, Ordering] = {}
    work: Work = Work()
    meant: Meant = Meant()


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


class Figure(Entry):
    """A number about the engine that few owners know and that every engine has: what is taken for it, and how far off that may be.

    `default` and `possible` are in `unit`, `sigma_percent` is one standard deviation of the default; one that the owner gives
    has `given_percent`. `takes` is the unit in which the functions want it.
    """

    id: Id
    title: Text
    ask: Text
    unit: Text
    takes: Text | None = None
    possible: tuple[float, float]
    default: float
    sigma_percent: Annotated[float, Field(ge=0, le=100)]
    given_percent: Annotated[float, Field(ge=0, le=100)] = 5.0
    why: Text
    source: Source


class BoatWords(Entry):
    """rules/shared/boat.yaml."""

    schema_: Literal[1] = Field(alias="schema")
    facts: tuple[BoatFact, ...]
    figures: tuple[Figure, ...] = ()


class Caution(Entry):
    """A warning that checks and jobs name, in the words that are printed.

    Attributes:
        tests: moments of a proof at which it is told, where the job names it; without any it belongs to the work itself.
        of_every_job: whether it is told at those moments whether or not the job names it.
    """

    id: Id
    title: Text
    text: Text
    tests: tuple[ProofMoment, ...] = ()
    of_every_job: bool = False
    why: Text
    source: Source


class Cautions(Entry):
    """rules/shared/cautions.yaml."""

    schema_: Literal[1] = Field(alias="schema")
    cautions: tuple[Caution, ...]


class Term(Entry):
    """A term of the trade in a few plain words; `also` are other forms of it. What it says stands inside a sentence."""

    id: Id
    term: Text
    also: tuple[Text, ...] = ()
    says: Text


class Glossary(Entry):
    """rules/shared/glossary.yaml. A book may be without one."""

    schema_: Literal[1] = Field(alias="schema", default=1)
    terms: tuple[Term, ...] = ()


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


class Asked(Entry):
    """One thing a calculation asks for. `possible`, `default` and `sigma` are in `unit`; `takes` is the unit the function wants.

    `sigma`, or `sigma_percent` of the value, is one standard deviation of a careful reading with ordinary tools; the larger counts.
    A choice has `choices` in place of a unit; a `series` is several numbers; an `optional` one may be left out. One that names
    a `figure` of shared/boat.yaml says no more: it asks for that.
    """

    figure: Id | None = None
    ask: Text = "?"
    unit: Text | None = None
    takes: Text | None = None
    possible: tuple[float, float] | None = None
    sigma: Annotated[float, Field(ge=0)] = 0.0
    sigma_percent: Annotated[float, Field(ge=0, le=100)] = 0.0
    choices: dict[Id, Text] | None = None
    series: bool = False
    optional: bool = False
    default: Id | float | None = None
    why: Text | None = None
    source: Source | None = None

    @model_validator(mode="after")
    def _one_kind(self) -> Asked:
        if self.figure is not None:
            return self
        if self.ask == "?":
            raise ValueError("needs 'ask'")
        if (self.unit is None) == (self.choices is None):
            raise ValueError("what is asked for has exactly one of unit, choices")
        if self.unit is not None and self.possible is None:
            raise ValueError("a number needs 'possible'")
        if self.choices is not None and self.default is not None and self.default not in self.choices:
            raise ValueError("'default' is not one of the choices")
        if self.default is not None and self.unit is not None and (self.why is None or self.source is None):
            raise ValueError("a default needs 'why' and 'source'")
        return self


def asked_of(figure: Figure) -> Asked:
    """How a calculation asks for a figure of the engine."""
    return Asked(ask=figure.ask, unit=figure.unit, takes=figure.takes, possible=figure.possible, default=figure.default,
                 sigma_percent=figure.sigma_percent, why=figure.why, source=figure.source)


class Gives(Entry):
    """One figure that comes out, in the units it is told in; `takes` is the unit the function gives it in."""

    name: Name
    title: Text
    unit: Text | Annotated[tuple[Text, ...], Field(min_length=1)] = "1"
    takes: Text | None = None
    word: bool = False

    @property
    def units(self) -> tuple[str, ...]:
        return (self.unit,) if isinstance(self.unit, str) else self.unit


class Worked(Entry):
    """A worked example from outside: what is given, what comes out, within which relative difference, and whose it is."""

    given: dict[Name, Text]
    gives: dict[Name, Text]
    within: Annotated[float, Field(gt=0, le=0.5)]
    source: Source


class Calculation(Entry):
    """A calculation for the bench: what it asks, which function of `diagnose.measure` does it, what it gives, in words."""

    id: Id
    title: Text
    use: Text
    by: Annotated[str, StringConstraints(pattern=r"^[a-z_]+\.[a-z][a-z0-9_]*$")]
    asks: Annotated[dict[Name, Asked], Field(min_length=1)]
    gives: Annotated[tuple[Gives, ...], Field(min_length=1)]
    formula: Text
    notes: tuple[Text, ...] = ()
    cautions: tuple[Id, ...] = ()
    source: Source
    examples: Annotated[tuple[Worked, ...], Field(min_length=1)]


class Calculations(Entry):
    """One file of rules/calculations: a family of calculations."""

    schema_: Literal[1] = Field(alias="schema")
    family: Id
    title: Text
    calculations: Annotated[tuple[Calculation, ...], Field(min_length=1)]
