"""Work as types: a job with its parts, its steps and its proof."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from diagnose.knowledge.model import Chance, EngineState, Entry, Id, Named, Text

ProofMoment = Literal["cold", "under-pressure", "first-start", "warm", "under-load", "after-hours"]
"""When a proof is made: nothing turning, pumped up or filled, at idle, at working heat, in gear, and once more some hours on."""


class Part(Entry):
    """A part or consumable to have before the first bolt; `need: usual` is worth having, not required.

    `only_when_apart` marks what is found wanting only once it is apart: a short hose, a seal, a one-time washer. `only_on` names facts of
    the boat with what they must be: on a boat of which it is known to be otherwise the part is left out, which only one worth having can.
    """

    part: Id
    need: Literal["must", "usual"] = "must"
    count: Annotated[float, Field(gt=0)] = 1
    unit: Text | None = None
    only_when_apart: bool = False
    only_on: dict[Id, Text | bool] = {}
    note: Text | None = None

    @model_validator(mode="after")
    def _not_required(self) -> Part:
        if self.only_on and self.need == "must":
            raise ValueError("a part that must be there is there on every boat")
        return self


class Minutes(Entry):
    """How long something takes a practised hand, and a newer one."""

    skilled: Annotated[float, Field(gt=0)]
    first_time: Annotated[float, Field(gt=0)]

    @model_validator(mode="after")
    def _practice_helps(self) -> Minutes:
        if self.first_time < self.skilled:
            raise ValueError("the first time takes no less than a practised hand")
        return self


class Wait(Entry):
    """Time in which the thing works alone: a soak, a cure, a night. Hands are free meanwhile."""

    minutes: Annotated[float, Field(gt=0)]
    why: Text


class Drained(Entry):
    """A fluid that comes out: how much, in litres or as a fact of the boat, and where it goes."""

    fluid: Text
    litres: Annotated[float, Field(gt=0)] | None = None
    fact: Id | None = None
    goes: Text


class Recipe(Entry):
    """Amounts that a calculation of `diagnose reckon` gives: which, what for, and what is known of its inputs."""

    calculation: Id
    why: Text
    given: dict[str, Text] = {}
    facts: dict[str, Id] = {}


class Step(Entry):
    """One step of a job.

    It comes after the step before it, or after those of `after` (an empty list: at once). What it `takes_off` is put back
    by a later step (`puts_back`) or comes new in its place (`renews`: the thing, and the part). `bares` names symptoms that can be
    judged while it is apart. `holds_two` warns of a fastener that holds something else as well. `she_runs` marks a step in which she is
    turned by the starter or run, or that wants her whole: `first`, before anything is shut, slack or drained for the work, or `last`,
    once all that is back.
    """

    id: Id
    do: Text
    minutes: Minutes
    after: tuple[Id, ...] | None = None
    takes_off: tuple[Text, ...] = ()
    puts_back: tuple[Text, ...] = ()
    renews: dict[Text, Id] = {}
    uses: tuple[Id, ...] = ()
    drains: tuple[Drained, ...] = ()
    recipe: Recipe | None = None
    bares: tuple[Id, ...] = ()
    holds_two: Text | None = None
    photo: Text | None = None
    tools: tuple[Text, ...] = ()
    hands: Literal[1, 2] = 1
    she_runs: Literal["first", "last"] | None = None
    wait: Wait | None = None
    cautions: tuple[Id, ...] = ()
    why: Text | None = None


class ProofTest(Entry):
    """One test of a proof: when, what is done, the worst grade of each symptom that passes, and the figures in words."""

    when: ProofMoment
    do: Text
    passes: Text
    fails: Text
    worst: dict[Id, Id] = {}
    state: EngineState | None = None
    hours: Annotated[float, Field(gt=0)] | None = None
    minutes: Annotated[float, Field(gt=0)] = 5


class Proof(Entry):
    """How it is shown that a job has cured what it was for: in one sentence, and test by test in their order."""

    do: Text
    passes: Text
    fails: Text
    tests: tuple[ProofTest, ...] = ()


class Way(Entry):
    """That a job is one of several ways to the same end: which end, how often it is enough, and what can be inspected by it."""

    to: Id
    enough: Chance
    inspects: Text
    waste: Text


class Job(Named):
    """Work that cures faults: what to order first, the steps, what to look at while it is open, and the proof.

    `setups` are paid once for all work that shares them. `leaves` names the event that this work is, and so what it may disturb.
    """

    cures: Annotated[tuple[Id, ...], Field(min_length=1)]
    way: Way | None = None
    afloat: bool = True
    setups: tuple[Id, ...] = ()
    confirm_before_ordering: tuple[Text, ...] = ()
    order: tuple[Part, ...] = ()
    steps: tuple[Step, ...] = ()
    look_while_open: tuple[Text, ...] = ()
    minutes: Minutes
    cautions: tuple[Id, ...] = ()
    leaves: Id | None = None
    proof: Proof
