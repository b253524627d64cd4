"""A case resolved against the book: every fact known or assumed, every observation a likelihood and a fact.

Nothing is decided here. What was filled in is listed in `assumed`, in words.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timezone
from typing import TypeVar

from diagnose.assessment import Working
from diagnose.case import SURE, Case, Observation
from diagnose.chain.compile import boat_fact, reading_fact
from diagnose.chain.form import Fact
from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.knowledge.lists import BoatFact
from diagnose.knowledge.model import RESERVED_GRADE, EngineState, Symptom
from diagnose.knowledge.text import did_you_mean
from diagnose.readings import Number, Taken, figures_of, spread_of, take
from diagnose.seen import Seen, band_of, graded_likelihood, leak_grade, leak_likelihood, number_likelihood
from diagnose.units import parse_quantity
from diagnose.workings import Bench

Answer = TypeVar("Answer", Seen, Taken)

USUAL_HOURS_A_YEAR = 100.0
"""Engine hours of a year where the book has no fact for them: those its rates are told for."""
LEAK_UNIT = "mL/hour"
ENOUGH_COOLANT = 1.0
"""Litres aboard that fill a circuit up again after a small job."""
GATE_SURENESS = 0.8
"""A look counts for the look-over only when its observer was at least this sure."""


@dataclass(frozen=True)
class Situation:
    """All that the rest of the program needs of a case."""

    case: Case
    facts: dict[str, str | float | bool]
    known_facts: frozenset[str]
    seen: tuple[Seen, ...]
    readings: tuple[Taken, ...]
    workings: tuple[Working, ...]
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
    hours_a_year: float
    own_rates: dict[str, float]
    """How many times as often as on any boat a fault begins on this one."""

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
    case = _read_as_symptoms(case, book)
    direct, not_seen = _observations(case, book, facts, assumed)
    readings = _readings(case.observations, book, "observations", direct)
    healthy = _readings(case.boat.healthy, book, "boat.healthy", ())
    bench = Bench(book, facts, figures_of(case.boat.figures, book), readings, healthy)
    direct, worked, workings = bench.work_out(direct)
    seen = _numbered([*direct, *worked])
    trip_hours = case.trip.engine_hours
    if trip_hours is None:
        trip_hours = 4.0
        assumed.append("the trip takes 4 engine hours")
    exposure = case.trip.exposure
    if exposure is None:
        exposure = book.words.meant.usual_exposure or next(iter(book.words.exposures))
        assumed.append(f"the trip is: {book.words.exposures[exposure].title.lower()}")
    elif exposure not in book.words.exposures:
        raise InputError(f"exposure '{exposure}' is not known", where="trip", right=", ".join(book.words.exposures))
    can_sail = case.trip.can_sail
    if can_sail is None:
        can_sail = False
        assumed.append("she cannot sail home")
    hours_a_year = float(facts.get(book.words.meant.hours_a_year or "", USUAL_HOURS_A_YEAR))
    ages = ages_of(case, book, hours_a_year, assumed)
    pump = case.trip.aboard.bilge_pump
    return Situation(
        case=case,
        facts=facts,
        known_facts=frozenset(case.boat.arrangement),
        seen=seen,
        readings=tuple(r for r in readings if r.given.reading is not None),
        workings=tuple(workings),
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
        hours_a_year=hours_a_year,
        own_rates=_own_rates(case, book),
    )


def _own_rates(case: Case, book: Book) -> dict[str, float]:
    """The factors on this boat's rates, by the present ids of the faults."""
    found: dict[str, float] = {}
    for name, factor in case.boat.own_rates.items():
        fault = book.now_called(name)
        if fault not in book.faults:
            raise InputError(f"'{name}' is not a fault of the book", where="boat.own_rates", right=did_you_mean(name, list(book.faults)))
        found[fault] = factor
    return found


def _litres(text: str | None, what: str) -> float:
    return parse_quantity(text, "L", what=what, possible=(0, 2000)) if text else 0.0


def _parts(case: Case, book: Book) -> frozenset[str]:
    for part in case.trip.aboard.spares:
        if part not in book.words.parts:
            raise InputError(f"spare '{part}' is not a part of the book", where="trip.aboard.spares",
                             right=did_you_mean(part, list(book.words.parts)))
    coolant, enough = book.words.meant.coolant_part, _coolant_aboard(case) >= ENOUGH_COOLANT
    return frozenset(case.trip.aboard.spares) | ({coolant} if coolant is not None and enough else set())


def _coolant_aboard(case: Case) -> float:
    return _litres(case.trip.aboard.coolant, "coolant aboard") + _litres(case.trip.aboard.water, "water aboard")


def _events(case: Case, book: Book) -> dict[str, float]:
    events: dict[str, float] = {}
    for i, seen in enumerate(case.events):
        name = book.now_called(seen.event)
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


def ages_of(case: Case, book: Book, hours_a_year: float, assumed: list[str]) -> dict[str, float]:
    """Engine hours since each service item, where known; what is taken for granted is added to `assumed`.

    Raises:
        InputError: an item that is not in the book, or one serviced at hours or on a day that cannot be.
    """
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
            days = (now.date() - service.on).days
            if days == -1:
                days = 0  # the day of here, told against the clock of another zone
            years = days / 365.25
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


def _observations(case: Case, book: Book, facts: Mapping[str, str | float | bool],
                  assumed: list[str]) -> tuple[list[Seen], tuple[Observation, ...]]:
    not_seen: list[Observation] = []
    found: dict[tuple[str, str, str], list[Seen]] = {}
    for i, observation in enumerate(case.observations):
        if observation.reading is not None:
            continue
        symptom = _symptom(book, observation.symptom, f"observations[{i}]")
        if SURE[observation.sure] == 0:
            not_seen.append(observation)
            continue
        seen = _seen(observation, symptom, _moved(symptom, facts, book), f"observations[{i}] {symptom.id}", assumed)
        found.setdefault((seen.symptom, seen.state, seen.epoch), []).append(seen)
    return [_latest_of(group, group[0].symptom) for _, group in sorted(found.items())], tuple(sorted(not_seen, key=lambda o: o.symptom))


def _read_as_symptoms(case: Case, book: Book) -> Case:
    """A measured symptom told as a reading is told as the symptom it is."""
    def told(o: Observation) -> Observation:
        name = book.now_called(o.reading or "")
        return o.model_copy(update={"symptom": name, "reading": None}) if name in book.symptoms else o

    return case.model_copy(update={"observations": tuple(map(told, case.observations))})


def _numbered(seen: Iterable[Seen]) -> tuple[Seen, ...]:
    ordered = sorted(seen, key=lambda s: (s.symptom, s.state, s.epoch))
    return tuple(replace(s, id=f"o{n + 1}") for n, s in enumerate(ordered))


def _readings(observations: Iterable[Observation], book: Book, where: str, direct: Iterable[Seen]) -> list[Taken]:
    """The numbers read now, those of measured symptoms among them; of several of one thing the latest counts."""
    found: dict[tuple[str, str], list[Taken]] = {}
    for i, observation in enumerate(observations):
        if observation.reading is None and where == "observations":
            continue
        given = observation if observation.reading is not None else observation.model_copy(update={"reading": observation.symptom})
        if SURE[given.sure] > 0 and given.epoch == "now":
            taken = take(given, book, f"{where}[{i}] {given.reading}")
            found.setdefault((taken.reading, taken.state), []).append(taken)
    for seen in direct:
        measure = book.symptoms[seen.symptom].measure
        if seen.value is not None and seen.epoch == "now" and measure is not None:
            number = Number(f"{seen.symptom} {seen.state}", book.symptoms[seen.symptom].title, seen.value, seen.sigma, measure.unit)
            taken = Taken(seen.symptom, seen.state, number, seen.given.at_rpm, seen.given, measure.unit)
            found.setdefault((seen.symptom, seen.state), []).append(taken)
    return [_latest_of(group, group[0].reading) for _, group in sorted(found.items())]


def _symptom(book: Book, name: str, where: str) -> Symptom:
    current = book.now_called(name)
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


def _latest_of(group: list[Answer], about: str) -> Answer:
    """Of several answers to one question the latest counts; without times they must agree."""
    if len(group) == 1:
        return group[0]
    times = [on_one_clock(s.given.when) for s in group if s.given.when is not None]
    if len(set(times)) == len(group):
        return group[times.index(max(times))]
    if len({s.text for s in group}) == 1:
        # any of them, and always the same one
        return max(group, key=lambda s: (SURE[s.given.sure], -(s.given.plus_minus or 0.0), s.given.at_rpm or 0.0))
    raise InputError(f"{about} is answered twice in the same engine state, differently", where="observations",
                     right="a time ('when') on each, and the latest counts")


def _moved(symptom: Symptom, facts: Mapping[str, str | float | bool], book: Book) -> float:
    """How far the bands of a symptom lie higher on this boat than the book writes them."""
    fact = book.facts.get((symptom.measure.follows or "") if symptom.measure is not None else "")
    return float(facts[fact.id]) - float(fact.default) if fact is not None else 0.0


def _seen(o: Observation, symptom: Symptom, moved: float, where: str, assumed: list[str]) -> Seen:
    grades = list(symptom.grades)
    value: float | None = None
    sigma = 0.0
    if o.value is not None and symptom.measure is None and symptom.leak is not None:
        value = parse_quantity(o.value, LEAK_UNIT, what=where, possible=(0.01, 1e6))
        likelihood, low = leak_likelihood(symptom, value, SURE[o.sure]), leak_grade(symptom, value)
        high, text = low, f"{value:.3g} mL an hour"
    elif o.value is not None:
        if symptom.measure is None:
            raise InputError("is told by a grade, not by a number", where=where, right=", ".join(grades))
        value = parse_quantity(o.value, symptom.measure.unit, what=where, possible=symptom.measure.possible)
        sigma = spread_of(o, symptom.measure.sigma)
        likelihood = number_likelihood(symptom, value - moved, sigma)
        low = high = band_of(symptom, value - moved)
        text = f"{value:g} {symptom.measure.unit}"
    else:
        low, high, text = _graded(o, grades, where)
        likelihood = graded_likelihood(len(grades), low, high, SURE[o.sure])
    state = o.state or _default_state(symptom, high, assumed)
    if state not in symptom.states:
        raise InputError(f"'{symptom.title.lower()}' cannot be judged {state}", where=where, right=" or ".join(symptom.states))
    return Seen("", symptom.id, state, likelihood, low, high, SURE[o.sure], o.epoch, text, o, value, sigma)


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
