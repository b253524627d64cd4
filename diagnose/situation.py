"""A case resolved against the book: every fact known or assumed, every observation a likelihood and a fact.

Nothing is decided here. What was filled in is listed in `assumed`, in words.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timezone

import numpy as np

from diagnose.case import SURE, Case, Observation
from diagnose.chain.compile import boat_fact, reading_fact
from diagnose.chain.form import Fact
from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.knowledge.lists import BoatFact
from diagnose.knowledge.model import RESERVED_GRADE, Band, EngineState, Symptom
from diagnose.knowledge.text import did_you_mean
from diagnose.network.nodes import Array
from diagnose.units import parse_quantity

ENOUGH_COOLANT = 1.0
"""Litres aboard that fill a circuit up again after a small job."""
GATE_SURENESS = 0.8
"""A look counts for the look-over only when its observer was at least this sure."""


@dataclass(frozen=True)
class Seen:
    """One observation made ready: its sign, its likelihood over the grades, and the grades it may mean."""

    id: str
    symptom: str
    state: EngineState
    likelihood: Array
    low: int
    high: int
    sure: float
    epoch: str
    text: str
    given: Observation
    value: float | None = None

    @property
    def present(self) -> bool:
        """Whether a grade above none was reported."""
        return self.high > 0


@dataclass(frozen=True)
class Situation:
    """All that the rest of the program needs of a case."""

    case: Case
    facts: dict[str, str | float | bool]
    known_facts: frozenset[str]
    seen: tuple[Seen, ...]
    not_seen: tuple[Observation, ...]
    events: dict[str, float]
    ages: dict[str, float]
    exposure: str
    can_sail: bool
    trip_hours: float
    hours_away: float
    assumed: tuple[str, ...]
    parts: frozenset[str]
    coolant_aboard: float
    bilge_pump: float

    @property
    def hours_a_year(self) -> float:
        return _hours_a_year(self.facts)

    def facts_for_chain(self) -> list[Fact]:
        """Facts of the boat, in a fixed order."""
        return [boat_fact(name, value) for name, value in sorted(self.facts.items())]

    def readings_for_chain(self) -> list[Fact]:
        """Facts of the observations and events. A guess that a thing is healthy fires nothing."""
        facts = [
            reading_fact(s.symptom, s.low, s.high, s.state, s.epoch, s.id)
            for s in self.seen
            if s.present or s.sure >= GATE_SURENESS
        ]
        return facts + [{"n": f"event:{name}", "v": round(hours, 6)} for name, hours in sorted(self.events.items())]


def resolve(case: Case, book: Book) -> Situation:
    """Check a case against the book and fill in what was left out.

    Raises:
        InputError: an unknown name (with the nearest), a wrong unit, an impossible value, two answers to one
            question.
    """
    assumed: list[str] = []
    assumed_facts: list[str] = []
    facts = _facts(case, book, assumed_facts)
    seen, not_seen = _observations(case, book, assumed)
    trip_hours = case.trip.engine_hours
    if trip_hours is None:
        trip_hours = 4.0
        assumed.append("the trip takes 4 engine hours")
    exposure = case.trip.exposure
    if exposure is None:
        exposure = "coastal" if "coastal" in book.words.exposures else next(iter(book.words.exposures))
        assumed.append(f"the trip is: {book.words.exposures[exposure].title.lower()}")
    elif exposure not in book.words.exposures:
        raise InputError(f"exposure '{exposure}' is not known", where="trip", right=", ".join(book.words.exposures))
    can_sail = case.trip.can_sail
    if can_sail is None:
        can_sail = False
        assumed.append("she cannot sail home")
    ages = _ages(case, book, _hours_a_year(facts), assumed)
    pump = case.trip.aboard.bilge_pump
    return Situation(
        case=case,
        facts=facts,
        known_facts=frozenset(case.boat.arrangement),
        seen=seen,
        not_seen=not_seen,
        events=_events(case, book),
        ages=ages,
        exposure=exposure,
        can_sail=can_sail,
        trip_hours=trip_hours,
        hours_away=max(case.trip.hours_away or 2.0 * trip_hours, trip_hours),
        assumed=(*assumed, *assumed_facts),
        parts=_parts(case, book),
        coolant_aboard=_coolant_aboard(case),
        bilge_pump=parse_quantity(pump, "L/hour", what="bilge pump", possible=(10, 1e6)) if pump else 500.0,
    )


def _hours_a_year(facts: dict[str, str | float | bool]) -> float:
    return float(facts.get("hours-a-year", 100.0))


def _litres(text: str | None, what: str) -> float:
    return parse_quantity(text, "L", what=what, possible=(0, 2000)) if text else 0.0


def _parts(case: Case, book: Book) -> frozenset[str]:
    for part in case.trip.aboard.spares:
        if part not in book.words.parts:
            raise InputError(f"spare '{part}' is not a part of the book", where="trip.aboard.spares",
                             right=did_you_mean(part, list(book.words.parts)))
    coolant, enough = book.words.coolant_part, _coolant_aboard(case) >= ENOUGH_COOLANT
    return frozenset(case.trip.aboard.spares) | ({coolant} if coolant is not None and enough else set())


def _coolant_aboard(case: Case) -> float:
    return _litres(case.trip.aboard.coolant, "coolant aboard") + _litres(case.trip.aboard.water, "water aboard")


def _events(case: Case, book: Book) -> dict[str, float]:
    events: dict[str, float] = {}
    for i, seen in enumerate(case.events):
        name = book.renamed.get(seen.event, seen.event)
        if name not in book.events:
            raise InputError(f"event '{seen.event}' is not in the book", where=f"events[{i}]",
                             right=did_you_mean(seen.event, list(book.events)))
        events[name] = min(seen.hours_ago, events.get(name, math.inf))
    return events


# ------------------------------------------------------------------ the boat


def _facts(case: Case, book: Book, assumed: list[str]) -> dict[str, str | float | bool]:
    given = case.boat.arrangement
    for name in given:
        if name not in book.facts:
            raise InputError(f"'{name}' is not a fact of the boat that the book knows", where="boat.arrangement",
                             right=did_you_mean(name, list(book.facts)))
    facts: dict[str, str | float | bool] = {}
    for fact in book.boat.facts:
        if fact.id in given:
            facts[fact.id] = _fact(fact, given[fact.id])
        else:
            facts[fact.id] = fact.default
            shown = "yes" if fact.default is True else "no" if fact.default is False else fact.default
            if fact.values is not None:
                shown = fact.values[str(fact.default)]
            elif fact.unit is not None:
                shown = f"{fact.default:g} {fact.unit}".removesuffix(" 1")
            assumed.append(f"{fact.title.lower()}: {shown}")
    return facts


def _fact(fact: BoatFact, given: str | float | bool) -> str | float | bool:
    where = f"boat.arrangement.{fact.id}"
    if fact.values is not None:
        if given not in fact.values:
            raise InputError(f"'{given}' is not a choice", where=where, right=" or ".join(fact.values))
        return str(given)
    if fact.flag:
        if not isinstance(given, bool):
            raise InputError(f"'{given}' is not true or false", where=where, right="true or false")
        return given
    if isinstance(given, bool):
        raise InputError("is a number, not true or false", where=where, right=f"such as '{fact.default} {fact.unit}'")
    return parse_quantity(given, str(fact.unit), what=where, possible=fact.possible)


def _ages(case: Case, book: Book, hours_a_year: float, assumed: list[str]) -> dict[str, float]:
    """Engine hours since each service item, where known."""
    ages: dict[str, float] = {}
    for item, service in case.boat.serviced.items():
        where = f"boat.serviced.{item}"
        if item not in book.words.service_items:
            raise InputError(f"'{item}' is not a service item of the book", where=where,
                             right=did_you_mean(item, list(book.words.service_items)))
        if service.hours_ago is not None:
            ages[item] = service.hours_ago
        elif service.at_hours is not None and case.boat.engine_hours is not None:
            if service.at_hours > case.boat.engine_hours:
                raise InputError(f"serviced at {service.at_hours:g} h, and she has run only {case.boat.engine_hours:g} h", where=where)
            ages[item] = case.boat.engine_hours - service.at_hours
        elif service.on is not None:
            now = case.now or _latest(case)
            if now is None:
                assumed.append(f"age of {item} unknown, for the case has no date")
                continue
            years = (now.date() - service.on).days / 365.25
            if years < 0:
                raise InputError(f"serviced on {service.on}, after the date of the case", where=where)
            ages[item] = years * hours_a_year
            assumed.append(f"{item} has run {ages[item]:.0f} h since {service.on}, at {hours_a_year:g} h a year")
        else:
            raise InputError("serviced at known hours, but boat.engine_hours is missing", where=where, right="engine_hours")
    return ages


def _latest(case: Case) -> datetime | None:
    return max((o.when for o in case.observations if o.when), default=None, key=on_one_clock)


def on_one_clock(moment: datetime) -> datetime:
    """The moment in universal time, or as it stands where no time zone was written."""
    return moment.astimezone(timezone.utc).replace(tzinfo=None) if moment.tzinfo else moment


# ------------------------------------------------------------------ observations


def _observations(case: Case, book: Book, assumed: list[str]) -> tuple[tuple[Seen, ...], tuple[Observation, ...]]:
    not_seen: list[Observation] = []
    found: dict[tuple[str, str, str], list[Seen]] = {}
    for i, observation in enumerate(case.observations):
        symptom = _symptom(book, observation.symptom, f"observations[{i}]")
        if SURE[observation.sure] == 0:
            not_seen.append(observation)
            continue
        seen = _seen(observation, symptom, f"observations[{i}] {symptom.id}", assumed)
        found.setdefault((seen.symptom, seen.state, seen.epoch), []).append(seen)
    latest = [_latest_of(group) for _, group in sorted(found.items())]
    numbered = tuple(replace(s, id=f"o{n + 1}") for n, s in enumerate(latest))
    return numbered, tuple(sorted(not_seen, key=lambda o: o.symptom))


def _symptom(book: Book, name: str, where: str) -> Symptom:
    current = book.renamed.get(name, name)
    if current in book.symptoms:
        return book.symptoms[current]
    raise InputError(f"symptom '{name}' is not in the book", where=where, right=" or ".join(near_symptoms(book, name)))


def near_symptoms(book: Book, words: str, count: int = 3) -> list[str]:
    """Ids of the symptoms nearest in meaning: matched on id, title, what owners say, and grade texts."""
    from rapidfuzz import fuzz, process, utils

    phrases: dict[str, str] = {}
    for s in book.symptoms.values():
        texts = [s.id.replace("-", " "), s.title, *s.said_as]
        texts += [g if isinstance(g, str) else (g.says or "") for k, g in s.grades.items() if k != RESERVED_GRADE]
        phrases.update(dict.fromkeys(texts, s.id))
    hits = process.extract(words.replace("-", " "), list(phrases), scorer=fuzz.token_set_ratio, limit=12,
                           processor=utils.default_process, score_cutoff=45)
    hits.sort(key=lambda hit: -(hit[1] + fuzz.ratio(words, hit[0], processor=utils.default_process)))
    return list(dict.fromkeys(phrases[hit[0]] for hit in hits))[:count]


def _latest_of(group: list[Seen]) -> Seen:
    """Of several answers to one question the latest counts; without times they must agree."""
    if len(group) == 1:
        return group[0]
    times = [on_one_clock(s.given.when) for s in group if s.given.when is not None]
    if len(set(times)) == len(group):
        return group[times.index(max(times))]
    if len({s.text for s in group}) == 1:
        return max(group, key=lambda s: s.sure)
    raise InputError(f"{group[0].symptom} is answered twice in the same engine state, differently", where="observations",
                     right="a time ('when') on each, and the latest counts")


def _seen(o: Observation, symptom: Symptom, where: str, assumed: list[str]) -> Seen:
    grades = list(symptom.grades)
    value: float | None = None
    if o.value is not None:
        if symptom.measure is None:
            raise InputError("is told by a grade, not by a number", where=where, right=", ".join(grades))
        value = parse_quantity(o.value, symptom.measure.unit, what=where, possible=symptom.measure.possible)
        likelihood = number_likelihood(symptom, value, o.plus_minus or symptom.measure.sigma)
        low = high = _band_of(symptom, value)
        text = f"{value:g} {symptom.measure.unit}"
    else:
        low, high, text = _graded(o, grades, where)
        likelihood = graded_likelihood(len(grades), low, high, SURE[o.sure])
    state = o.state or _default_state(symptom, high, assumed)
    if state not in symptom.states:
        raise InputError(f"'{symptom.title.lower()}' cannot be judged {state}", where=where, right=" or ".join(symptom.states))
    return Seen("", symptom.id, state, likelihood, low, high, SURE[o.sure], o.epoch, text, o, value)


def _default_state(symptom: Symptom, high: int, assumed: list[str]) -> EngineState:
    """Without a state given: a healthy look is taken in the mildest state, a finding in the hardest."""
    if len(symptom.states) == 1:
        return symptom.states[0]
    state = symptom.states[0] if high == 0 else symptom.states[-1]
    assumed.append(f"{symptom.title.lower()}: seen {state.replace('-', ' ')}")
    return state


def _graded(o: Observation, grades: list[str], where: str) -> tuple[int, int, str]:
    wanted: Iterable[str] = o.one_of if o.one_of is not None else [str(o.grade if o.grade is not None else o.at_least)]
    for grade in wanted:
        if grade not in grades:
            raise InputError(f"grade '{grade}' is not on its scale", where=where, right=", ".join(grades))
    if o.at_least is not None:
        return grades.index(o.at_least), len(grades) - 1, f"{o.at_least} or worse"
    if o.one_of is not None:
        places = sorted(grades.index(g) for g in o.one_of)
        if places != list(range(places[0], places[-1] + 1)):
            raise InputError("the grades named are not neighbours", where=where, right=", ".join(grades))
        return places[0], places[-1], " or ".join(grades[p] for p in places)
    return grades.index(str(o.grade)), grades.index(str(o.grade)), str(o.grade)


def silence_likelihood(size: int, mentioned: float) -> Array:
    """Likelihood of nothing being said of a striking sign that would have been mentioned with this chance."""
    likelihood = np.full(size, 1.0 - mentioned)
    likelihood[0] = 1.0
    return likelihood


def graded_likelihood(size: int, low: int, high: int, sure: float) -> Array:
    """Likelihood of a report of grades low..high, the largest 1: what a sure person says is so.

    An unsure one errs in three ways. What is there is missed now and then (two thirds of the doubt); it is taken for
    the grade next to it (half the doubt); and what is not there is seldom seen (the doubt squared, milder grades
    rather): people who say "I think there were pieces in it" are hardly ever wrong about the pieces, and often about
    how many.
    """
    if sure >= 1.0:
        likelihood = np.zeros(size)
        likelihood[low : high + 1] = 1.0
        return likelihood
    said = _reports(size, 1.0 - sure)[:, low : high + 1].sum(axis=1)
    return np.asarray(said / said.max())


def _reports(size: int, doubt: float) -> Array:
    """P(grade reported | true grade), a row for each true grade; every row sums to one."""
    said = np.zeros((size, size))
    seldom = 0.5 ** np.arange(size - 1)
    said[0, 0] = 1.0 - doubt * doubt
    said[0, 1:] = doubt * doubt * seldom / seldom.sum()
    for grade in range(1, size):
        beside = [g for g in (grade - 1, grade + 1) if 1 <= g < size]
        said[grade, 0] = doubt * 2.0 / 3.0
        for other in beside:
            said[grade, other] = 0.5 * doubt / len(beside)
        said[grade, grade] = 1.0 - said[grade].sum()
    return said


def number_likelihood(symptom: Symptom, value: float, sigma: float) -> Array:
    """Likelihood of a measured number for each grade: the normal error averaged over the grade's band.

    It is a likelihood and not the chance of the band, so the band's width is divided out. Largest is 1.
    """
    assert symptom.measure is not None
    low, high = symptom.measure.possible
    out = []
    for band in symptom.grades.values():
        assert isinstance(band, Band)
        a = low if band.at_least is None else band.at_least
        b = high if band.below is None else band.below
        out.append((_phi((b - value) / sigma) - _phi((a - value) / sigma)) / (b - a))
    likelihood = np.array(out) / max(out)
    return np.where(likelihood < 1e-4, 0.0, likelihood)  # grades that far off need not be told apart


def _phi(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def _band_of(symptom: Symptom, value: float) -> int:
    for i, band in enumerate(symptom.grades.values()):
        assert isinstance(band, Band)
        if (band.at_least is None or value >= band.at_least) and (band.below is None or value < band.below):
            return i
    raise InputError(f"{value:g} falls in no band of '{symptom.id}'")
