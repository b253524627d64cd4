"""The results of planning as models: closed, frozen, and the same in JSON."""

from __future__ import annotations

from typing import Literal

from diagnose.assessment import Num, Piece
from diagnose.knowledge.jobs import Drained, ProofMoment
from diagnose.knowledge.model import Consequence, EngineState

TaskKind = Literal["set-up", "step", "put back", "proof"]
LeftWhy = Literal["look first", "can wait", "no job"]
Word = Literal["now", "if it looks bad", "leave"]
When = Literal["now", "next port", "season's end"]


# ------------------------------------------------------------------ which jobs


class Leaving(Piece):
    """A fault and the expected loss [h of delay] of leaving it: on this trip, to the next port, to the season's end."""

    fault: str
    title: str
    chance: Num
    trip: Num
    port: Num
    season: Num


class Chosen(Piece):
    """A job of the plan, and why it pays: hours of delay that curing now takes against those that leaving costs.

    `needed` is the chance that at least one of the faults it cures is there; `later` what the same work would count later, times
    that chance.
    """

    job: str
    title: str
    cures: tuple[Leaving, ...]
    needed: Num
    minutes: Num
    takes: Num
    leaving: Num
    later: Num
    asked_for: bool
    afloat: bool
    missing: tuple[str, ...]
    look_first: str | None
    """A look that takes less than the work it would spare on boats that do not need it, in a sentence."""
    say: str


class Left(Piece):
    """A fault the plan leaves, why, and what that costs until the moment the plan looks to."""

    fault: str
    title: str
    chance: Num
    why: LeftWhy
    leaving: Leaving
    job: str | None
    say: str


class Tries(Piece):
    """Jobs whose faults are rivals, in the order to try them, proving after each: expected hours of that against all in one go."""

    jobs: tuple[str, ...]
    expected_hours: Num
    all_hours: Num


class Choice(Piece):
    """Which jobs, what is left, and the expected cost [h of delay] of the choice, of doing nothing and of doing all.

    `exact` says that every set of jobs was weighed.
    """

    until: str
    chosen: tuple[Chosen, ...]
    left: tuple[Left, ...]
    tries: Tries | None
    cost: Num
    cost_of_nothing: Num
    cost_of_all: Num
    exact: bool


# ------------------------------------------------------------------ one piece of work


class Task(Piece):
    """One thing to do: a set-up, a step, putting a set-up back, or a test of the proof. `of` are the jobs it serves."""

    id: str
    kind: TaskKind
    of: tuple[str, ...]
    do: str
    skilled: Num
    first_time: Num
    hands: int = 1
    wait_minutes: Num = 0.0
    wait_why: str | None = None
    after: tuple[str, ...] = ()
    uses: tuple[str, ...] = ()
    takes_off: tuple[str, ...] = ()
    puts_back: tuple[str, ...] = ()
    renews: dict[str, str] = {}
    drains: tuple[Drained, ...] = ()
    bares: tuple[str, ...] = ()
    tools: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    holds_two: str | None = None
    photo: str | None = None
    why: str | None = None
    own: str | None = None
    """What is this boat's own of it, in a sentence: how one gets at it, how long it takes here, what was learned."""
    moment: ProofMoment | None = None
    passes: str | None = None
    fails: str | None = None
    worst: dict[str, str] = {}
    """Of a test: the symptoms to be looked at, each with the worst grade that passes."""
    state: EngineState | None = None
    """Of a test: the engine state it is made in."""
    hours: Num | None = None
    """Of a test some hours on: after how many engine hours."""
    steps: tuple[tuple[str, str], ...] = ()
    """The steps it stands for, as job and step."""


class Slot(Piece):
    """When a task is done, in minutes from the first bolt, by whom (0 and 1), and by how much it could slip."""

    task: str
    start: Num
    end: Num
    ready: Num
    """When its wait is over, and what follows may begin."""
    who: tuple[int, ...]
    slack: Num
    critical: bool


class Schedule(Piece):
    """Tasks laid out over time. `work` is minutes of work of all hands; `critical` the longest chain, `critical_minutes` its length."""

    hands: int
    slots: tuple[Slot, ...]
    minutes: Num
    work: Num
    critical: tuple[str, ...]
    critical_minutes: Num
    helped: tuple[str, ...]
    """Tasks that want a second pair of hands where there is only one."""


class Total(Piece):
    """How long it takes: by a practised hand or a newer one, alone or by two, with the extras or without."""

    hand: Literal["skilled", "first_time"]
    hands: int
    extras: bool
    minutes: Num


# ------------------------------------------------------------------ parts, amounts


class OrderLine(Piece):
    """One part: how many for which jobs, what is aboard, what is still to buy, what its look-alikes differ in, how long it takes."""

    part: str
    title: str
    system: str
    count: Num
    unit: str | None
    need: Literal["must", "usual"]
    only_when_apart: bool
    aboard: Num | None
    """How many are aboard; None where some is, and how much is not known."""
    buy: Num
    holds_up: bool
    """The first bolt waits for it: the work cannot be done with what is aboard."""
    lead_days: Num
    variants: tuple[str, ...]
    notes: tuple[str, ...]
    jobs: tuple[str, ...]


class OrderList(Piece):
    """All parts of a plan, by system, with the questions to answer before anything is ordered, and days until the last must is there."""

    lines: tuple[OrderLine, ...]
    confirm: tuple[str, ...]
    lead_days: Num


class Amount(Piece):
    """One figure of a recipe, with how far below and above it the true one may lie; or a word."""

    name: str
    title: str
    value: Num | None
    below: Num
    above: Num
    unit: str
    word: str | None


class RecipeLine(Piece):
    """The amounts of one step: what was put in, what was taken where nothing was known, and what is still wanted."""

    job: str
    step: str
    calculation: str
    title: str
    why: str
    given: dict[str, str]
    taken: tuple[str, ...]
    wanted: tuple[str, ...]
    amounts: tuple[Amount, ...]
    cautions: tuple[str, ...]


# ------------------------------------------------------------------ while it is open, can it wait, ways


class Extra(Piece):
    """One thing to renew while it is open, or to leave: what it spares against what it takes, in hours of delay.

    `there` and `begins` are the chance that a fault it cures is there now, and the chance that one begins before it is opened
    again; `spares` is what renewing now saves on average. `open_minutes` are its own extra minutes now, `closed_minutes` what it
    takes another day with the whole access; `look_gains` what a look first, and the work only if it is bad, saves on average.
    """

    job: str
    title: str
    there: Num
    begins: Num
    begins_new: Num
    age_hours: Num | None
    open_minutes: Num
    closed_minutes: Num
    spares: Num
    takes: Num
    look_gains: Num | None
    word: Word
    worst: Consequence
    look: tuple[str, ...]
    missing: tuple[str, ...]
    say: str


class Open(Piece):
    """What lies open in a plan: what to look at, and what to renew."""

    look: tuple[str, ...]
    judge: tuple[str, ...]
    """Symptoms that can be judged while it is apart."""
    extras: tuple[Extra, ...]
    left: int
    """How many more were weighed and are best left."""


class Waiting(Piece):
    """Doing it then: the chance of each consequence until then, what is lost on average, and what it costs in all."""

    when: When
    until: str
    consequences: dict[Consequence, Num]
    loss: Num
    work: Num
    waiting_for_parts: Num
    cost: Num
    say: str


class CanWait(Piece):
    """Whether a fault can wait: now, next port, season's end."""

    fault: str
    title: str
    chance: Num
    begins: Num
    """Chance that it begins before the season's end, if it is not there now."""
    job: str | None
    word: When
    rows: tuple[Waiting, ...]
    say: str


class WayLine(Piece):
    """One way to an end: time, access, what can be inspected, waste, parts, and how often it is enough."""

    job: str
    title: str
    enough: Num
    skilled: Num
    first_time: Num
    waits: Num
    access: tuple[str, ...]
    afloat: bool
    inspects: str
    waste: str
    missing: tuple[str, ...]
    lead_days: Num
    takes: Num
    place: int
    """Its place in the order of trying."""


class Ways(Piece):
    """The ways to one end, compared; `expected_hours` is the cost of trying them in order until one is enough."""

    to: str
    faults: tuple[str, ...]
    lines: tuple[WayLine, ...]
    expected_hours: Num
    enough_in_all: Num


class Plan(Piece):
    """One job out of several: what to order, what comes off, in which order, how long, and what proves it."""

    schema_version: Literal[1] = 1
    title: str
    boat: str
    stops: tuple[str, ...]
    """Stops that stand in the assessment, and what lifts each: the plan may leave what they rest on."""
    choice: Choice
    jobs: tuple[str, ...]
    tasks: tuple[Task, ...]
    schedule: Schedule
    hand: Literal["skilled", "first_time"]
    saved_minutes: Num
    totals: tuple[Total, ...]
    days: int
    order: OrderList
    recipes: tuple[RecipeLine, ...]
    opened: Open
    waste: tuple[str, ...]
    later_tests: tuple[str, ...]
    later: tuple[Task, ...] = ()
    """Tests to be made some engine hours on, the sooner first."""
    cautions: tuple[str, ...]
    leaves: tuple[str, ...]
    """Events that this work is, after which some faults are likelier for a while."""
