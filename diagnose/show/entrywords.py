"""One entry of the record as a line of words."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime

from diagnose.case import Observation, Trip
from diagnose.doing.standing import WORKING
from diagnose.record import entries as e
from diagnose.show.words import SHORT_STATES, plural

SURE = {"think-so": "I think so", "guess": "a guess", "not-sure": "looked, not sure", "cannot-see": "could not be seen"}
DECISIONS = {"stay": "stay", "fix, then go": "fix, then go", "go with limits": "go, with limits", "go": "go"}


def day(moment: datetime) -> str:
    """A day as a person writes it, on the clock of this place."""
    local = moment.astimezone()
    return f"{local.day} {local:%B %Y}"


def clock(moment: datetime) -> str:
    """A day and the time, on the clock of this place."""
    return f"{day(moment)} {moment.astimezone():%H:%M}"


def ended_words(how: str | None, unproved: str | None) -> str:
    """How a case ended, and why it is not proved, where it is not."""
    return f"{how or ''}{f'; not proved: {unproved}' if unproved else ''}"


def said_of(entry: e.AnyEntry, titles: Mapping[str, str]) -> str:
    """What an entry says.

    Args:
        entry: any.
        titles: of ids of the book; an id that is not among them stands for itself.
    """
    match entry:
        case e.BoatEntry():
            return _boat(entry)
        case e.HoursEntry():
            return f"{entry.engine_hours:g} engine hours"
        case e.ServiceEntry():
            what = entry.part or titles.get(str(entry.item), str(entry.item))
            hours, on = f"at {entry.hours:g} h" if entry.hours is not None else "", f"on {entry.on:%d %B %Y}" if entry.on else ""
            return ", ".join(part for part in (what, hours, on, entry.cost) if part)
        case e.CaseOpened():
            return f"{entry.title} ({entry.opened_because.replace('-', ' ')}); {_trip(entry.trip)}"
        case e.WordsEntry():
            read = "; ".join(f"[{m.piece}] read as {titles.get(m.symptom, m.symptom)}{f': {m.grade}' if m.grade else ''}"
                             for m in entry.matched)
            left = f"; left over: {', '.join(entry.left_over)}" if entry.left_over else ""
            return f"“{entry.said}”{f': {read}' if read else ''}{left}"
        case e.Observed():
            return _observation(entry.observation, titles)
        case e.PassedOver():
            what = str(entry.symptom or entry.check)
            return f"{titles.get(what, what)}: {entry.why.replace('-', ' ')}"
        case e.TakenBack():
            return f"entry {entry.entry} taken back{f': {entry.reason}' if entry.reason else ''}"
        case e.EventEntry():
            hours = f", {entry.event.hours_ago:g} engine hours before" if entry.event.hours_ago else ""
            return f"{titles.get(entry.event.event, entry.event.event)}{hours}"
        case e.TripEntry():
            return _trip(entry.trip)
        case e.EngineStateEntry():
            return f"engine {SHORT_STATES[entry.state]}"
        case e.Assessed():
            return _assessed(entry, titles)
        case e.Found():
            return _found(entry, titles)
        case _:
            return _short(entry, titles)


def _short(entry: e.AnyEntry, titles: Mapping[str, str]) -> str:
    """Entries that are little more than the words in them."""
    match entry:
        case e.Note():
            return entry.text
        case e.Photo():
            return f"{entry.path}{f': {entry.caption}' if entry.caption else ''}"
        case e.Closed():
            return ended_words(entry.how, entry.unproved)
        case e.Reopened():
            return entry.why or "goes on"
        case e.DueSet():
            every = [f"every {entry.every_hours:g} engine hours" if entry.every_hours else "",
                     f"every {entry.every_days:g} days" if entry.every_days else "", f"until {entry.until:%d %B %Y}" if entry.until else ""]
            return ", ".join([titles.get(entry.check, entry.check), *(part for part in every if part)])
        case e.MovedOn():
            return entry.to if entry.to.startswith(WORKING) else f"went on to {entry.to}"
        case _:
            return _of_work(entry, titles)


def _of_work(entry: e.AnyEntry, titles: Mapping[str, str]) -> str:
    """Entries of work planned, done and proved."""
    match entry:
        case e.WorkPlanned():
            jobs = json.loads(entry.plan)["jobs"]
            return f"work planned: {'; '.join(titles.get(j, j) for j in jobs)}; rules {entry.rules.version} ({entry.rules.digest[:12]})"
        case e.TaskTicked():
            took = f", {entry.minutes:g} min" if entry.minutes else ""
            return f"{entry.task} {entry.how.replace('-', ' ')}{took}{f': {entry.why}' if entry.why else ''}"
        case e.WorkDone():
            return f"{titles.get(entry.job, entry.job)}: through"
        case e.ProofMade():
            return f"{entry.test.rstrip('.')}: {entry.outcome.replace('-', ' ')}{f': {entry.why}' if entry.why else ''}"
        case _:
            return entry.kind


def more_of(entry: e.AnyEntry) -> str:
    """The note of an entry, where it has one beside what it says."""
    note = getattr(entry, "note", None)
    if isinstance(entry, e.Observed):
        note = entry.observation.note
    return str(note) if note else ""


def _boat(entry: e.BoatEntry) -> str:
    facts = [f"{name} {_yes_or_no(value)}" for name, value in (*entry.arrangement.items(), *entry.figures.items())]
    facts += [f"{item} serviced" for item in entry.serviced]
    facts += [f"{name} not known after all" for name in entry.forget]
    if entry.healthy:
        facts.append(plural(len(entry.healthy), "healthy reading"))
    return "; ".join(facts) or "entered"


def _yes_or_no(value: object) -> str:
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)


def _trip(trip: Trip) -> str:
    parts = [f"a trip of {trip.engine_hours:g} engine hours" if trip.engine_hours else "", trip.exposure or "",
             "can sail" if trip.can_sail else "", "under way" if trip.under_way else ""]
    return ", ".join(p for p in parts if p) or "a trip nothing is said of"


def _observation(seen: Observation, titles: Mapping[str, str]) -> str:
    what = seen.reading or seen.symptom
    several = " or ".join(seen.one_of) if seen.one_of else f"{seen.at_least} or worse" if seen.at_least else "no answer"
    given = next((str(answer) for answer in (seen.grade, seen.value) if answer is not None), several)
    state = f" ({SHORT_STATES[seen.state]})" if seen.state else ""
    sure = f"; {SURE[seen.sure]}" if seen.sure in SURE else ""
    before = "; before the work" if seen.epoch == "before" else ""
    return f"{titles.get(what, what)}: {given}{state}{sure}{before}"


def _assessed(entry: e.Assessed, titles: Mapping[str, str]) -> str:
    result = json.loads(entry.result)
    first = result["ranking"][0]
    name = titles.get(first["fault"], first["title"])
    return f"{DECISIONS.get(result['decision'], result['decision'])}; first: {name}, {first['probability'] * 100:.0f} in 100; " \
           f"rules {entry.rules.version} ({entry.rules.digest[:12]})"


def found_of(entry: e.Found, titles: Mapping[str, str]) -> str:
    """What it was in the end, with its note, and without what it cost."""
    said = _found(entry.model_copy(update={"cost": None}), titles)
    return f"{said}: {entry.note}" if entry.note else said


def _found(entry: e.Found, titles: Mapping[str, str]) -> str:
    what = [titles.get(f, f) for f in entry.faults]
    what += [f"not in the book: {entry.not_in_book}"] if entry.not_in_book else []
    return f"{'; '.join(what) or 'nothing was wrong'} ({entry.sure}{f', {entry.cost}' if entry.cost else ''})"
