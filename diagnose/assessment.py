"""The result: one immutable model that holds everything any output needs. Renderers decide nothing."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict

from diagnose.knowledge.model import Consequence, EngineState, Limit

DecisionWord = Literal["stay", "fix, then go", "go with limits", "go"]
Relation = Literal["most likely", "with it", "instead", "apart", "none of these"]
Stops = Literal["start", "leave", "open", "run"]
UnderWayWord = Literal["carry on with limits", "turn back", "ease and find room", "stop now"]


DIGITS = 9


def rounded(value: float) -> float:
    """The value to nine significant digits: what is compared, ordered, stored and printed."""
    return float(f"{value:.{DIGITS - 1}e}")


Num = Annotated[float, AfterValidator(rounded)]


class Piece(BaseModel):
    """Base of all parts of an assessment: closed and frozen."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Hold(Piece):
    """A hard stop: what it stops, why, what clears it, what is still allowed, who may override it."""

    id: str
    stops: Stops
    kind: Consequence
    say: str
    cleared_by: str
    allowed: str
    overridden_by: str
    rule: str
    under_way: UnderWayWord | None
    """The least it asks for at sea; None where it stops nothing that goes on there."""
    say_under_way: str | None = None
    first_look: str | None = None
    """The check that comes first while it stands."""

    @property
    def keeps_in(self) -> bool:
        """Whether it stands against leaving: all do but those that only forbid opening something."""
        return self.stops != "open"

    @property
    def keeps_stopped(self) -> bool:
        """Whether it forbids starting or running, and so every look that needs her running."""
        return self.stops in ("run", "start")


class Fix(Piece):
    """A job worth doing before leaving."""

    job: str
    title: str
    cures: tuple[str, ...]
    chance: Num
    minutes: Num
    parts_needed: tuple[str, ...]
    parts_missing: tuple[str, ...]
    afloat: bool
    proof: str
    proof_passes: str
    cautions: tuple[str, ...]


class KeptLimit(Piece):
    """A working limit, and the fault or rule it comes from."""

    limit: Limit
    of: str


class Risk(Piece):
    """Chance of each consequence or worse before arrival, and the expected loss in hours."""

    worst_at_least: dict[Consequence, Num]
    expected_hours: Num


class LeakBudget(Piece):
    """A loss over the trip, computed: what it is planned at, what may go, and how it ends."""

    symptom: str
    fluid: str
    measured_ml_h: tuple[Num, Num]
    planned_ml_h: Num
    lost_litres: Num
    reserve_litres: Num
    header_litres: Num
    lasts_hours: Num
    top_up_litres: Num | None
    top_up_every_hours: Num | None
    verdict: Literal["fits", "needs topping up", "does not fit"]
    arithmetic: str


class LookState(Piece):
    """One line of the look-over: made and fresh, stale, or not made. A go waits for those that gate it."""

    id: str
    title: str
    state: Literal["made", "stale", "not made", "found something"]
    gates: bool
    needs: EngineState
    minutes: Num
    covers: tuple[Consequence, ...]

    @property
    def owed(self) -> bool:
        """Whether a go still waits for it."""
        return self.gates and self.state in ("not made", "stale")


class Urgency(Piece):
    """A deadline and what happens after it."""

    within: Literal["now", "before you leave", "within hours", "soon", "at lay-up"]
    hours: Num | None
    consequence: Consequence
    say: str


SEEN_BEFORE = "seen before the work, and what was found"
"""The group of the ledger that holds what was known before the work of a case."""


class LedgerLine(Piece):
    """What one group of observations adds, in decibans: left out alone, and given all the rest."""

    group: str
    observations: tuple[str, ...]
    given_rest: Num
    alone: Num


class Ledger(Piece):
    """prior + lines + shared = posterior, in decibans."""

    prior: Num
    lines: tuple[LedgerLine, ...]
    shared: Num
    posterior: Num


class Ranked(Piece):
    """One line of the ranking. The last, `not-in-this-book`, stands for faults nobody wrote down here."""

    place: int
    fault: str
    title: str
    system: str
    probability: Num
    stages: dict[str, Num]
    relation: Relation
    urgency: Urgency
    ledger: Ledger
    jobs: tuple[str, ...]


class Unexplained(Piece):
    """A sign that nothing in this book explains, and the chance that this is so."""

    observation: str
    symptom: str
    chance: Num


class Result(Piece):
    """One result of a look: what is seen, how likely, and what it would do."""

    seen: dict[str, str]
    chance: Num
    first: str
    first_probability: Num
    means: str | None


class SuggestedCheck(Piece):
    """A look worth making: what it is worth and what it costs, in minutes."""

    check: str
    title: str
    minutes: Num
    setup_minutes: Num
    setups: tuple[str, ...]
    needs: EngineState
    value: Num
    net: Num
    together_with: tuple[str, ...]
    why_now: str
    steps: tuple[str, ...]
    restore: tuple[str, ...]
    cautions: tuple[str, ...]
    results: tuple[Result, ...]


class Firing(Piece):
    """One rule that fired: in which chain, on what, making what."""

    chain: Literal["arrangement", "findings", "conclusions"]
    rule: str
    used: tuple[str, ...]
    made: tuple[str, ...]
    observations: tuple[str, ...]
    say: str | None
    why: str


class SeenLine(Piece):
    """One observation as it was taken, with the words of the person who made it."""

    id: str
    symptom: str
    title: str
    state: EngineState
    seen: str
    grade: str
    sure: Num
    epoch: str
    clear: bool
    """Looked for by eye or ear, and not there."""
    note: str | None
    by: str | None


class ReadingLine(Piece):
    """One number read off an instrument, out of which symptoms were worked."""

    reading: str
    title: str
    state: EngineState
    seen: str
    at_rpm: Num | None
    note: str | None
    by: str | None


class Working(Piece):
    """The arithmetic of one symptom worked out of readings, with the numbers put in; or why it could not be.

    `plus_minus` is two standard deviations; `widened` is how much wider it was weighed, because it shares readings with others.
    """

    symptom: str
    title: str
    state: EngineState
    formula: str
    numbers: tuple[str, ...]
    result: Num | None
    plus_minus: Num | None
    unit: str
    grade: str | None
    says: str
    """The grade it most likely is, and that grade in words."""
    tells: bool
    """Whether it makes any grade at least twice as likely as another."""
    widened: Num
    observations: tuple[str, ...]
    """The readings it was worked out of."""
    why_not: str | None


class RulesUsed(Piece):
    """Which rules the assessment was made with: their version, and the digest of their text."""

    version: str
    digest: str


class Scope(Piece):
    """The systems that the book judges, and those it does not."""

    judged: tuple[str, ...]
    not_judged: tuple[str, ...]


class Departure(Piece):
    """How the decision was reached: risks against the line, and what drives it."""

    settled: bool
    so_far: DecisionWord
    """What it would be on what was seen alone, were no look owed."""
    headline: str
    because: tuple[str, ...]
    would_change: tuple[str, ...]
    stay_hours: Num
    ratio: Num
    going: Risk
    with_limits: Risk | None
    after_fix: Risk | None
    any_boat: Risk
    on_the_way: Risk
    line: dict[Consequence, Num]
    break_even: str
    holds_until: str
    losses: dict[Consequence, Num]


class UnderWay(Piece):
    """The answer at sea: what to do with the engine now, why, and what each answer would cost in hours of delay."""

    word: UnderWayWord
    headline: str
    because: tuple[str, ...]
    costs: dict[UnderWayWord, Num]


class Assessment(Piece):
    """Everything said about one case. Same case and same rules give the same bytes."""

    schema_version: Literal[1] = 1
    title: str
    boat: str
    engine_hours: Num | None
    trip_hours: Num
    exposure: str
    decision: DecisionWord
    departure: Departure
    under_way: UnderWay | None
    holds: tuple[Hold, ...]
    fixes: tuple[Fix, ...]
    limits: tuple[KeptLimit, ...]
    advice: tuple[str, ...]
    leaks: tuple[LeakBudget, ...]
    look_over: tuple[LookState, ...]
    ranking: tuple[Ranked, ...]
    all_probabilities: dict[str, Num]
    conditions: dict[str, Num]
    unexplained: tuple[Unexplained, ...]
    checks: tuple[SuggestedCheck, ...]
    observations: tuple[SeenLine, ...]
    readings: tuple[ReadingLine, ...]
    workings: tuple[Working, ...]
    not_seen: tuple[str, ...]
    trace: tuple[Firing, ...]
    assumed: tuple[str, ...]
    scope: Scope
    rules: RulesUsed
    engine: str

    @property
    def counts_before(self) -> bool:
        """Whether what was seen before the work is weighed: the case tells what was done."""
        return any(line.group == SEEN_BEFORE for ranked in self.ranking for line in ranked.ledger.lines)

    def result_json(self) -> str:
        """The result without the name of the engine that chained the rules: equal for both engines."""
        return self.model_dump_json(exclude={"engine"})
