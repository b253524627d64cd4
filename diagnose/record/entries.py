"""What one line of the record can say: a closed set of entries, each with its moment and who made it.

Nothing is ever overwritten: a later entry adds to or corrects an earlier one, and `taken-back` strikes one out.
"""

from __future__ import annotations

import hashlib
import json
from datetime import date, datetime, timezone
from typing import Annotated, Any, Literal

from pydantic import AwareDatetime, Field, StringConstraints, TypeAdapter, ValidationError, field_validator, model_validator

from diagnose.assessment import RulesUsed
from diagnose.case import Case, EventSeen, Observation, Part, Service, Trip, WorkTold
from diagnose.errors import InputError
from diagnose.knowledge.model import EngineState, Id, Text

Hours = Annotated[float, Field(ge=0, le=200_000, allow_inf_nan=False)]
"""Engine hours. After a new meter, the hours of the old one are added by hand: it is the engine that counts."""
Money = Annotated[str, StringConstraints(pattern=r"^\d{1,9}(\.\d{1,2})? [A-Z]{3}$")]
"""An amount and the three letters of its currency (ISO 4217), such as `42.50 EUR`."""
Digest = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
"""A SHA-256 in hexadecimal."""
Why = Literal["later", "cannot-see", "not-sure"]
Opened = Literal["routine-look", "noticed-something", "after-work"]


FIRST_YEAR, LAST_YEAR = 1900, 2999
"""Years in which a moment of the record may lie: on the clock of any place it is then a day that there is."""


def _in_range(of: datetime | None) -> datetime | None:
    """The moment, if it lies in a year that one can reckon with.

    Raises:
        ValueError: it does not.
    """
    if of is not None and not FIRST_YEAR <= of.year <= LAST_YEAR:
        raise ValueError(f"a moment lies in the years {FIRST_YEAR} to {LAST_YEAR}")
    return of


def moment() -> datetime:
    """Now, in universal time."""
    return datetime.now(timezone.utc)


class Entry(Part):
    """Base of all entries: `at` when it was said (kept in universal time), `by` whom."""

    at: AwareDatetime = Field(default_factory=moment)
    by: Text | None = None

    @field_validator("at")
    @classmethod
    def _universal(cls, at: datetime) -> datetime:
        _in_range(at)
        return at.astimezone(timezone.utc)


class BoatEntry(Entry):
    """Facts of a boat. A later entry adds to them or corrects them; `forget` names what is not known after all."""

    kind: Literal["boat"] = "boat"
    name: Text
    arrangement: dict[Id, str | float | bool] = Field(default_factory=dict)
    serviced: dict[Id, Service] = Field(default_factory=dict)
    figures: dict[Id, str] = Field(default_factory=dict)
    healthy: tuple[Observation, ...] = ()
    forget: tuple[Id, ...] = ()
    note: Text | None = None


class HoursEntry(Entry):
    """The engine hours at that moment."""

    kind: Literal["hours"] = "hours"
    engine_hours: Hours
    note: Text | None = None


class ServiceEntry(Entry):
    """A service, or a part fitted: a service item of the book, or a part in one's own words; with hours or a date."""

    kind: Literal["service"] = "service"
    item: Id | None = None
    part: Text | None = None
    hours: Hours | None = None
    on: date | None = None
    cost: Money | None = None
    note: Text | None = None

    @model_validator(mode="after")
    def _something(self) -> ServiceEntry:
        if self.item is None and self.part is None:
            raise ValueError("say item or part")
        if self.hours is None and self.on is None:
            raise ValueError("say hours or on")
        return self


class CaseOpened(Entry):
    """A case begins. What it needs of a case file beside boat, events and observations stands here.

    `now` is the moment it is about, where that is not the moment of its entries: a case told afterwards. `work` was done before it began.
    """

    kind: Literal["case-opened"] = "case-opened"
    title: Text
    opened_because: Opened
    trip: Trip = Trip()
    since_last_look_hours: Annotated[float, Field(gt=0)] | None = None
    noticed_hours: Annotated[float, Field(gt=0)] | None = None
    now: datetime | None = None
    work: WorkTold | None = None
    invented: bool = False
    note: Text | None = None

    @field_validator("now")
    @classmethod
    def _possible(cls, now: datetime | None) -> datetime | None:
        return _in_range(now)


class Matched(Part):
    """A piece of what was said, and what it was taken to mean."""

    piece: Text
    symptom: Id
    grade: Id | None = None
    value: str | None = None


class WordsEntry(Entry):
    """What the person said, which pieces were matched to what, which are to be asked about, and which were left over."""

    kind: Literal["words"] = "words"
    said: Text
    matched: tuple[Matched, ...] = ()
    to_ask: tuple[Text, ...] = ()
    left_over: tuple[Text, ...] = ()


class Observed(Entry):
    """One answer: an observation as a case file has it, and the check it was made by."""

    kind: Literal["observed"] = "observed"
    observation: Observation
    check: Id | None = None

    @field_validator("observation")
    @classmethod
    def _possible(cls, observation: Observation) -> Observation:
        _in_range(observation.when)
        return observation


class PassedOver(Entry):
    """A check or a symptom that was asked and not answered, and why."""

    kind: Literal["passed-over"] = "passed-over"
    check: Id | None = None
    symptom: Id | None = None
    state: EngineState | None = None
    why: Why

    @model_validator(mode="after")
    def _one_thing(self) -> PassedOver:
        if (self.check is None) == (self.symptom is None):
            raise ValueError("say exactly one of check, symptom")
        return self


class TakenBack(Entry):
    """An earlier entry is struck out. Taken back itself, that entry counts again."""

    kind: Literal["taken-back"] = "taken-back"
    entry: Annotated[int, Field(ge=1)]
    reason: Text | None = None


class EventEntry(Entry):
    """Something that happened; its `hours_ago` counts back from this entry."""

    kind: Literal["event"] = "event"
    event: EventSeen


class TripEntry(Entry):
    """The trip in question, in place of any said before."""

    kind: Literal["trip"] = "trip"
    trip: Trip


class EngineStateEntry(Entry):
    """The engine is in this state from now on."""

    kind: Literal["engine-state"] = "engine-state"
    state: EngineState
    note: Text | None = None


class Note(Entry):
    """Anything worth keeping, in words; `about` a symptom, a check, a fault."""

    kind: Literal["note"] = "note"
    text: Text
    about: Text | None = None


class Photo(Entry):
    """A picture: where it lies, and what its bytes add up to, so that another put in its place is noticed."""

    kind: Literal["photo"] = "photo"
    path: Text
    sha256: Digest
    caption: Text | None = None
    about: Text | None = None


class Assessed(Entry):
    """What was judged: the case as it was, with which rules, and the whole result with its digest."""

    kind: Literal["assessed"] = "assessed"
    case: Case
    rules: RulesUsed
    engine: Text
    result: Text
    """`Assessment.result_json()`: the assessment without the engine's name."""
    sha256: Digest
    next_check: bool = True
    ledger: bool = True
    """Whether the looks worth making and the ledgers were worked out, as `assess` was asked to."""

    @model_validator(mode="after")
    def _whole(self) -> Assessed:
        if digest(self.result) != self.sha256:
            raise ValueError("the result is not the one its sha256 was taken of")
        try:
            result = json.loads(self.result)
            chances = [result["all_probabilities"], *(float(line["probability"]) for line in result["ranking"])]
            whole = bool(result["ranking"] and chances) and all(isinstance(line["fault"], str) for line in result["ranking"])
            whole = whole and isinstance(result["decision"], str) and all(isinstance(h["id"], str) for h in result["holds"])
        except (ValueError, TypeError, KeyError, OverflowError, RecursionError):
            whole = False
        if not whole:
            raise ValueError("the result is no assessment: decision, holds, ranking and all_probabilities")
        return self


class Found(Entry):
    """What it really was: faults of the book, something it does not hold, or nothing wrong at all."""

    kind: Literal["found"] = "found"
    faults: tuple[Id, ...] = ()
    not_in_book: Text | None = None
    nothing_wrong: bool = False
    sure: Literal["certain", "likely"] = "certain"
    note: Text | None = None
    cost: Money | None = None

    @model_validator(mode="after")
    def _something(self) -> Found:
        if bool(self.faults or self.not_in_book) == self.nothing_wrong:
            raise ValueError("say faults, not_in_book, or nothing_wrong")
        return self


class Closed(Entry):
    """The case is done with, and how; `unproved` why, where work was planned and is not proved."""

    kind: Literal["closed"] = "closed"
    how: Text
    unproved: Text | None = None


class Reopened(Entry):
    """A closed case goes on."""

    kind: Literal["reopened"] = "reopened"
    why: Text | None = None


class DueSet(Entry):
    """A check is due again and again: every so many engine hours or days, until a date if there is an end."""

    kind: Literal["due-set"] = "due-set"
    check: Id
    every_hours: Annotated[float, Field(gt=0)] | None = None
    every_days: Annotated[float, Field(gt=0)] | None = None
    until: date | None = None
    note: Text | None = None


class MovedOn(Entry):
    """A guided session went on to another part of its work."""

    kind: Literal["moved-on"] = "moved-on"
    to: Text
    note: Text | None = None


class WorkPlanned(Entry):
    """The work that a case is to be mended by: the whole plan with its digest, and the rules it was made with.

    A later one takes its place. What was ticked off stays ticked, as far as the new plan does not open it again.
    """

    kind: Literal["work-planned"] = "work-planned"
    plan: Text
    """A `Plan` as JSON."""
    sha256: Digest
    rules: RulesUsed
    note: Text | None = None

    @model_validator(mode="after")
    def _whole(self) -> WorkPlanned:
        if digest(self.plan) != self.sha256:
            raise ValueError("the plan is not the one its sha256 was taken of")
        try:
            plan = json.loads(self.plan)
            whole = all(isinstance(task["id"], str) for task in (*plan["tasks"], *plan["later"])) and bool(plan["jobs"])
        except (ValueError, TypeError, KeyError, RecursionError):
            whole = False
        if not whole:
            raise ValueError("the plan is none: jobs, tasks and later")
        return self


class TaskTicked(Entry):
    """A task of the plan is done, or left out and why; `steps` are the steps of jobs it stood for, `minutes` what it took."""

    kind: Literal["task-ticked"] = "task-ticked"
    task: Text
    steps: tuple[tuple[Id, Id], ...] = ()
    how: Literal["done", "left-out"] = "done"
    why: Text | None = None
    minutes: Annotated[float, Field(gt=0, le=100_000)] | None = None

    @model_validator(mode="after")
    def _reasoned(self) -> TaskTicked:
        if self.how == "left-out" and self.why is None:
            raise ValueError("what is left out says why")
        return self


class WorkDone(Entry):
    """A job is through: the faults it was to cure, and the symptoms and readings of which earlier answers are now of before the work."""

    kind: Literal["work-done"] = "work-done"
    job: Id
    cures: tuple[Id, ...] = ()
    signs: tuple[Id, ...] = ()


class ProofMade(Entry):
    """A test of the proof in the words it was told in, and how it came out. What was seen at it stands in entries of its own."""

    kind: Literal["proof-made"] = "proof-made"
    test: Text
    jobs: tuple[Id, ...] = ()
    outcome: Literal["passed", "failed", "not-made"]
    why: Text | None = None

    @model_validator(mode="after")
    def _reasoned(self) -> ProofMade:
        if self.outcome != "passed" and self.why is None:
            raise ValueError("a proof that is not passed says why")
        return self


AnyEntry = Annotated[
    BoatEntry | HoursEntry | ServiceEntry | CaseOpened | WordsEntry | Observed | PassedOver | TakenBack | EventEntry | TripEntry
    | EngineStateEntry | Note | Photo | Assessed | Found | Closed | Reopened | DueSet | MovedOn
    | WorkPlanned | TaskTicked | WorkDone | ProofMade,
    Field(discriminator="kind"),
]
KINDS: dict[str, type[Entry]] = {
    str(model.model_fields["kind"].default): model
    for model in (BoatEntry, HoursEntry, ServiceEntry, CaseOpened, WordsEntry, Observed, PassedOver, TakenBack, EventEntry, TripEntry,
                  EngineStateEntry, Note, Photo, Assessed, Found, Closed, Reopened, DueSet, MovedOn, WorkPlanned, TaskTicked, WorkDone,
                  ProofMade)
}
"""Every kind of entry, by the word it is stored under."""
OF_THE_BOAT = frozenset({"boat", "hours", "service", "event", "note", "photo", "due-set", "taken-back"})
"""Kinds that may stand outside any case."""
_ANY: TypeAdapter[AnyEntry] = TypeAdapter(AnyEntry)


def digest(text: str) -> str:
    """SHA-256 of a text in UTF-8, in hexadecimal."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def plain(entry: Entry) -> dict[str, Any]:
    """An entry as plain values, without what stands at its default; `kind`, `at` and `by` come first."""
    data = entry.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    head = {"kind": entry.kind, "at": entry.at.isoformat()}  # type: ignore[attr-defined]
    return {**head, **{k: v for k, v in data.items() if k not in head}}


def as_json(entry: Entry) -> str:
    """An entry as one line of JSON: equal entries give equal text."""
    return json.dumps(plain(entry), ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def from_json(text: str) -> AnyEntry:
    """The entry that `as_json` wrote.

    Raises:
        ValueError: it is not one.
    """
    return _ANY.validate_json(text)


def from_plain(data: dict[str, Any], where: str = "") -> AnyEntry:
    """The entry of plain values, as an import or a command has them.

    Raises:
        InputError: they do not fit, with the field.
    """
    try:
        return _ANY.validate_python(data)
    except ValidationError as error:
        raise refused(error, where) from None


def refused(error: ValidationError, where: str = "") -> InputError:
    """The first thing wrong with values that were to be an entry, as a message."""
    from diagnose.knowledge.text import did_you_mean, wrong_in_words

    first = error.errors(include_url=False)[0]
    if first["type"] == "union_tag_invalid":
        given = str(first["ctx"]["tag"])
        return InputError(f"'{given}' is no kind of entry", where=where, right=did_you_mean(given, list(KINDS)))
    return InputError(wrong_in_words(first, first["loc"]), where=where)
