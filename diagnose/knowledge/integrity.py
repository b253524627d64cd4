"""What must hold over the whole rule base before it is used: names that exist, scales that fall, no cycles.

Each check yields Problems; `problems` lists them all, and loading raises the first.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from typing import get_args

from diagnose.errors import DiagnoseError, RuleError
from diagnose.knowledge.book import Book
from diagnose.knowledge.component import Component
from diagnose.knowledge.lists import BoatFact
from diagnose.knowledge.model import RESERVED_GRADE, Condition, Consequence, Fault, Shows, Source, Strength, Symptom, When
from diagnose.knowledge.text import Document, did_you_mean

EXACT_GRADE_FLOOR = 0.001
"""No exact grade may be rarer than this under any cause: one observation then weighs at most 30 decibans."""

Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Problem:
    """Something wrong in a rule file: the component, the path to the entry, what, and what would be right."""

    component: str
    path: Path
    what: str
    right: str = ""

    def located(self, book: Book, documents: dict[str, Document]) -> RuleError:
        """The problem as an error that names the file and the line."""
        shared = (name for name in documents if f"/{name}".endswith(f"/{self.component}.yaml"))
        name = book.files.get(self.component) or next(shared, self.component)
        document = documents.get(name)
        where = document.where(self.path) if document else name
        return RuleError(self.what, where=where, right=self.right)


def problems(book: Book) -> Iterator[Problem]:
    """All problems, in the order of the checks. The chained rules are compiled only when every name in them exists."""
    whole = True
    for problem in _entries(book):
        whole = False
        yield problem
    if whole:
        yield from _chain(book)


def _entries(book: Book) -> Iterator[Problem]:
    yield from _unique_ids(book)
    yield from _shared_words(book)
    for component in book.components:
        yield from _component(book, component)
    yield from _acyclic(book)
    from diagnose.knowledge.arithmetic import arithmetic  # both use what stands here
    from diagnose.knowledge.worksteps import work_problems

    yield from arithmetic(book)
    yield from work_problems(book)


KINDS = ("events", "readings", "symptoms", "conditions", "faults", "checks", "jobs", "rules")


def _unique_ids(book: Book) -> Iterator[Problem]:
    seen: dict[str, str] = {}
    for component in book.components:
        for kind in KINDS:
            for i, entry in enumerate(getattr(component, kind)):
                for name in (entry.id, *entry.was):
                    if name in seen:
                        yield Problem(component.component, (kind, i, "id"), f"id '{name}' is already used in {seen[name]}",
                                      "an id used nowhere else, retired ones included")
                    seen[name] = component.component


def _shared_words(book: Book) -> Iterator[Problem]:
    words = book.words
    if words.strengths and min(words.strengths.values()) <= EXACT_GRADE_FLOOR:
        yield Problem("words", ("strengths",), "a strength is under the floor")
    if not words.states:
        yield Problem("words", ("states",), "no engine states")
    for kind in get_args(Consequence):
        if kind not in words.consequences:
            yield Problem("words", ("consequences",), f"no words for the consequence '{kind}'")
        for name, exposure in words.exposures.items():
            if kind not in exposure.loses:
                yield Problem("words", ("exposures", name), f"'{name}' does not say what '{kind}' loses")
    yield from _meant(book)
    for i, fact in enumerate(book.boat.facts):
        yield from _boat_fact(fact, ("facts", i))
    for i, look in enumerate(book.look_over.looks):
        for symptom in look.tells:
            if symptom in book.symptoms and look.state not in book.symptoms[symptom].states:
                yield Problem("look-over", ("looks", i), f"'{symptom}' cannot be judged {look.state}")
            yield from known(book.symptoms, symptom, "symptom", "look-over", ("looks", i, "tells"))
        if look.live_when is not None:
            yield from _context_only(book, look.live_when, "look-over", ("looks", i, "live_when"))


def _meant(book: Book) -> Iterator[Problem]:
    """Entries asked for by what they mean exist, and are of the kind that can mean it."""
    meant = book.words.meant
    listed = {"coolant_part": ("part", book.words.parts), "usual_exposure": ("exposure", book.words.exposures),
              "hours_a_year": ("boat fact", [f.id for f in book.boat.facts if f.unit is not None]),
              "header_reserve": ("boat fact", [f.id for f in book.boat.facts if f.unit is not None]),
              "fill_hot": ("boat fact", [f.id for f in book.boat.facts if f.flag])}
    for key, (kind, names) in listed.items():
        name = getattr(meant, key)
        if name is not None:
            yield from known(names, name, kind, "words", ("meant", key))


def _boat_fact(fact: BoatFact, path: Path) -> Iterator[Problem]:
    if fact.values is not None and fact.default not in fact.values:
        yield Problem("boat", path, f"default of '{fact.id}' is not one of its values", " or ".join(fact.values))
    if fact.flag and not isinstance(fact.default, bool):
        yield Problem("boat", path, f"default of '{fact.id}' is not true or false")
    if fact.possible is not None and not (isinstance(fact.default, float) and fact.possible[0] <= fact.default <= fact.possible[1]):
        yield Problem("boat", path, f"default of '{fact.id}' is not a number between {fact.possible[0]:g} and {fact.possible[1]:g}")
    for value in fact.chances or ():
        yield from known(fact.values or (), value, f"value of '{fact.id}'", "boat", path)


WHERE_LISTED = {"part": "shared/words.yaml, parts", "set-up": "shared/words.yaml, setups", "caution": "shared/cautions.yaml",
                "service item": "shared/words.yaml, service_items", "system": "shared/words.yaml, systems",
                "boat fact": "shared/boat.yaml", "figure": "shared/boat.yaml, figures",
                "source": "shared/sources.yaml"}


def known(listed: object, name: str, kind: str, component: str, path: Path) -> Iterator[Problem]:
    """The problem of a name that is not in a list, with the nearest that is."""
    if name not in listed:  # type: ignore[operator]
        near = did_you_mean(name, list(listed))  # type: ignore[call-overload]
        place = f"a new one in {WHERE_LISTED[kind]}" if kind in WHERE_LISTED else ""
        yield Problem(component, path, f"{kind} '{name}' is not in the book", ", or ".join(t for t in (near, place) if t))


def _component(book: Book, c: Component) -> Iterator[Problem]:
    name = c.component
    yield from known([s.id for s in book.words.systems], c.system, "system", name, ("system",))
    if c.applies is not None:
        yield from _context_only(book, c.applies, name, ("applies",))
    for i, symptom in enumerate(c.symptoms):
        yield from _symptom(book, symptom, name, ("symptoms", i))
    for i, condition in enumerate(c.conditions):
        yield from _scale(book, condition, name, ("conditions", i))
        yield from _shows(book, condition.shows, tuple(condition.grades)[1:], name, ("conditions", i))
    for i, fault in enumerate(c.faults):
        yield from _fault(book, fault, name, ("faults", i))
    yield from _checks(book, c)
    yield from _jobs(book, c)
    for i, rule in enumerate(c.rules):
        yield from _when(book, rule.when, name, ("rules", i, "when"))
        if rule.then.first_look is not None:
            yield from known(book.checks, rule.then.first_look, "check", name, ("rules", i, "then"))
        if rule.then.fact is not None:
            yield from known(book.facts, rule.then.fact, "boat fact", name, ("rules", i, "then"))
            fact = book.facts.get(rule.then.fact)
            if fact and fact.values and rule.then.is_ is not None:
                yield from known(fact.values, rule.then.is_, f"value of '{fact.id}'", name, ("rules", i, "then"))
    yield from _examples(book, c)
    for kind in KINDS:
        for i, entry in enumerate(getattr(c, kind)):
            yield from source(book, entry.source, name, (kind, i, "source"))


def source(book: Book, given: Source, name: str, path: Path) -> Iterator[Problem]:
    """The problem of a source that names a publication not listed."""
    if given.ref is not None:
        yield from known(book.sources, given.ref, "source", name, path)


def _scale(book: Book, entry: Symptom | Condition, name: str, path: Path) -> Iterator[Problem]:
    grades = tuple(entry.grades)
    if grades[0] != RESERVED_GRADE or len(grades) < 2:
        yield Problem(name, (*path, "grades"), f"the grades of '{entry.id}' must begin with 'none' and go on to worse ones")
        return
    if set(entry.background) != set(grades[1:]):
        yield Problem(name, (*path, "background"), f"'{entry.id}' needs a background for each of {', '.join(grades[1:])}")
        return
    for grade, word in entry.background.items():
        if isinstance(word, str):
            yield from known(book.words.backgrounds, word, "background", name, (*path, "background", grade))
            if word not in book.words.backgrounds:
                return
    values = [book.background(entry.background[g]) for g in grades[1:]]
    yield from _falls(values, EXACT_GRADE_FLOOR, f"background of '{entry.id}'", name, (*path, "background"))


def _falls(values: list[float], floor: float, what: str, name: str, path: Path) -> Iterator[Problem]:
    for here, after in itertools.pairwise([*values, 0.0]):
        if here - after < floor - 1e-12:
            yield Problem(name, path, f"{what} must fall by at least {floor} from grade to grade and end above it "
                          f"({', '.join(f'{v:g}' for v in values)})", "a smaller number for the worse grade")
            return


def _symptom(book: Book, s: Symptom, name: str, path: Path) -> Iterator[Problem]:
    yield from _scale(book, s, name, path)
    if not s.states:
        yield Problem(name, path, f"'{s.id}' needs the engine states in which it can be judged")
    banded = all(not isinstance(g, str) for g in s.grades.values())
    if (s.measure is not None) != banded:
        yield Problem(name, (*path, "grades"), f"'{s.id}': bands and 'measure' go together")
    elif s.measure is not None:
        yield from _bands(s, name, (*path, "grades"))
        if s.measure.follows is not None:
            alike = [f.id for f in book.boat.facts if f.unit == s.measure.unit]
            yield from known(alike, s.measure.follows, "boat fact", name, (*path, "follows"))
    if s.leak is not None and set(s.leak.rates) != set(tuple(s.grades)[1:]):
        yield Problem(name, (*path, "leak"), f"'{s.id}' needs a leak rate for each grade above none")


def _bands(s: Symptom, name: str, path: Path) -> Iterator[Problem]:
    from diagnose.knowledge.model import Band

    bands = [b for b in s.grades.values() if isinstance(b, Band)]
    rising = bands[0].at_least is None
    for one, two in itertools.pairwise(bands):
        if (one.below != two.at_least if rising else one.at_least != two.below) or (one.below if rising else one.at_least) is None:
            yield Problem(name, path, f"the bands of '{s.id}' must meet, in order, without gap or overlap")
            return
    if s.measure is not None and s.measure.met is not None:
        low, high = s.measure.met
        edges = [e for b in bands for e in (b.at_least, b.below) if e is not None]
        if not (s.measure.possible[0] <= low < min(edges) and max(edges) < high <= s.measure.possible[1]):
            yield Problem(name, path, f"'met' of '{s.id}' must lie within what is possible, and beyond every edge of a band")
    last = bands[-1]
    if (last.below if rising else last.at_least) is not None or (not rising and bands[0].below is not None):
        yield Problem(name, path, f"the bands of '{s.id}' must cover every possible value")


def _shows(book: Book, shows: tuple[Shows, ...], stages: tuple[str, ...], name: str, path: Path) -> Iterator[Problem]:
    for i, link in enumerate(shows):
        at = (*path, "shows", i)
        target: Symptom | Condition | None
        if link.symptom is not None:
            yield from known(book.symptoms, link.symptom, "symptom", name, at)
            target = book.symptoms.get(link.symptom)
        else:
            yield from known(book.conditions, link.condition or "", "condition", name, at)
            target = book.conditions.get(link.condition or "")
        if link.live_when is not None:
            yield from _context_only(book, link.live_when, name, (*at, "live_when"))
        if target is None:
            continue
        if isinstance(target, Symptom):
            for state in link.states:
                if state not in target.states:
                    yield Problem(name, at, f"'{target.id}' cannot be judged {state}", ", ".join(target.states))
        elif link.states:
            yield Problem(name, at, "a condition is not tied to an engine state", "states on the signs of the condition")
        tables = {"": link.at_least} if link.at_least is not None else dict(link.by or {})
        for stage in tables:
            if stage and stage not in stages:
                yield Problem(name, at, f"'{stage}' is not one of {', '.join(stages)}", did_you_mean(stage, list(stages)))
        yield from _tables(book, target, tables, stages, name, at)


def _tables(book: Book, target: Symptom | Condition, tables: dict[str, dict[str, Strength]], stages: tuple[str, ...],
            name: str, path: Path) -> Iterator[Problem]:
    grades = tuple(target.grades)[1:]
    before: list[float] = []
    for stage in [s for s in ("", *stages) if s in tables]:
        table = tables[stage]
        for grade, word in table.items():
            yield from known(grades, grade, f"grade of '{target.id}'", name, (*path, grade))
            if isinstance(word, str) and word not in book.words.strengths:
                yield from known(book.words.strengths, word, "strength", name, path)
                return
        given = [g for g in grades if g in table]
        if given != list(grades[: len(given)]):
            yield Problem(name, path, f"strengths for '{target.id}' must start at '{grades[0]}' without a gap")
            return
        values = [book.strength(table[g]) for g in given]
        yield from _falls(values, EXACT_GRADE_FLOOR, f"strength for '{target.id}' {stage}".rstrip(), name, path)
        word = target.background.get(grades[0], 0.0) if grades else 0.0
        background = book.words.backgrounds.get(word, 0.0) if isinstance(word, str) else word
        if values and values[0] < 2 * background - 1e-9 and stage in ("", stages[-1]):
            yield Problem(name, path, f"{values[0]:g} for '{target.id}' is under twice its background {background:g}, so it "
                          "would hardly speak for the fault", "a stronger word, a rarer background, or no link")
        if any(a < b - 1e-12 for a, b in zip([*values, *[0.0] * (len(before) - len(values))], before, strict=False)):
            yield Problem(name, path, f"a later stage shows less of '{target.id}' than an earlier one")
        before = values


def _fault(book: Book, f: Fault, name: str, path: Path) -> Iterator[Problem]:
    stages = tuple(s.id for s in f.stages)
    if len(set(stages)) != len(stages):
        yield Problem(name, (*path, "stages"), f"'{f.id}' has two stages of one name")
    for stage in f.stages[:-1]:
        if stage.lasts is None:
            yield Problem(name, (*path, "stages"), f"only the last stage of '{f.id}' may be without 'lasts'")
    yield from _shows(book, f.shows, stages, name, path)
    if f.live_when is not None:
        yield from _context_only(book, f.live_when, name, (*path, "live_when"))
    if f.ages_with is not None:
        yield from known(book.words.service_items, f.ages_with.since, "service item", name, (*path, "ages_with"))
    for i, after in enumerate(f.after):
        yield from known(book.events, after.event, "event", name, (*path, "after", i))
    for i, rival in enumerate(f.told_from):
        yield from known(book.faults, rival.fault, "fault", name, (*path, "told_from", i))
        yield from known(book.checks, rival.by, "check", name, (*path, "told_from", i))
    if not f.told_from and not f.known_gap:
        yield Problem(name, path, f"'{f.id}' names no rival and no check that parts it", "told_from, or known_gap with the reason")
    for i, leads in enumerate(f.leads_to):
        yield from known(book.faults, leads.fault, "fault", name, (*path, "leads_to", i))
        if leads.stage is not None and leads.stage not in stages:
            yield Problem(name, (*path, "leads_to", i), f"'{leads.stage}' is not a stage of '{f.id}'", ", ".join(stages))


def _checks(book: Book, c: Component) -> Iterator[Problem]:
    for i, check in enumerate(c.checks):
        at: Path = ("checks", i)
        for symptom in (*check.tells, *check.destroys):
            yield from known(book.symptoms, symptom, "symptom", c.component, at)
        for symptom in check.tells:
            told = book.symptoms.get(symptom)
            if told and check.needs.engine_state not in told.states:
                yield Problem(c.component, at, f"'{symptom}' cannot be judged {check.needs.engine_state}", ", ".join(told.states))
        for setup in check.needs.setups:
            yield from known(book.words.setups, setup, "set-up", c.component, (*at, "needs"))
        for caution in check.cautions:
            yield from known(book.cautions, caution, "caution", c.component, (*at, "cautions"))
        if check.live_when is not None:
            yield from _context_only(book, check.live_when, c.component, (*at, "live_when"))
        for j, reading in enumerate(check.reading):
            for symptom, grade in reading.seen.items():
                yield from known(check.tells, symptom, "symptom told by this check", c.component, (*at, "reading", j))
                if symptom in book.symptoms:
                    yield from known(tuple(book.symptoms[symptom].grades), grade, "grade", c.component, (*at, "reading", j))


def _jobs(book: Book, c: Component) -> Iterator[Problem]:
    for i, job in enumerate(c.jobs):
        for fault in job.cures:
            yield from known(book.faults, fault, "fault", c.component, ("jobs", i, "cures"))
        for part in job.order:
            yield from known(book.words.parts, part.part, "part", c.component, ("jobs", i, "order"))
            for fact, value in part.only_on.items():
                yield from known(book.facts, fact, "fact of the boat", c.component, ("jobs", i, "order"))
                if fact in book.facts and not isinstance(value, bool):
                    yield from known(book.facts[fact].values or (), value, "value of that fact", c.component, ("jobs", i, "order"))
        for caution in job.cautions:
            yield from known(book.cautions, caution, "caution", c.component, ("jobs", i, "cautions"))


def atoms(when: When) -> Iterator[When]:
    """The atoms of a condition, depth first."""
    if when.all is not None or when.any is not None:
        for part in when.all or when.any or ():
            yield from atoms(part)
    elif when.not_ is not None:
        yield from atoms(when.not_)
    else:
        yield when


def _context_only(book: Book, when: When, name: str, path: Path) -> Iterator[Problem]:
    for atom in atoms(when):
        if atom.fact is None:
            yield Problem(name, path, "evidence may be switched by facts of the boat only, never by a sign or a conclusion",
                          "a condition on 'fact'")
    yield from _when(book, when, name, path)


def _when(book: Book, when: When, name: str, path: Path) -> Iterator[Problem]:
    for atom in atoms(when):
        if atom.symptom is not None:
            yield from known(book.symptoms, atom.symptom, "symptom", name, path)
            symptom = book.symptoms.get(atom.symptom)
            for grade in (atom.is_, atom.at_least, *(atom.one_of or ())):
                if symptom and grade is not None:
                    yield from known(tuple(symptom.grades), str(grade), f"grade of '{atom.symptom}'", name, path)
            for state in atom.states:
                if symptom and state not in symptom.states:
                    yield Problem(name, path, f"'{atom.symptom}' cannot be judged {state}", ", ".join(symptom.states))
        elif atom.fact is not None:
            yield from known(book.facts, atom.fact, "boat fact", name, path)
            fact = book.facts.get(atom.fact)
            if fact and fact.values:
                for value in (atom.is_, *(atom.one_of or ())):
                    if value is not None:
                        yield from known(fact.values, str(value), f"value of '{atom.fact}'", name, path)
        elif atom.event is not None:
            yield from known(book.events, atom.event, "event", name, path)
        elif atom.chance is not None:
            yield from known({**book.faults, **book.conditions}, atom.chance, "fault or condition", name, path)


def _examples(book: Book, c: Component) -> Iterator[Problem]:
    for i, example in enumerate(c.examples):
        at: Path = ("examples", i)
        for symptom, given in example.given.items():
            yield from known({*book.symptoms, *book.readings}, symptom, "symptom", c.component, (*at, "given", symptom))
            if symptom in book.symptoms and isinstance(given, str):
                yield from known(tuple(book.symptoms[symptom].grades), given, "grade", c.component, (*at, "given", symptom))
        for fault in (example.shown, example.near_miss, example.expect.first, *example.expect.above, *example.expect.below,
                      *example.expect.in_first):
            if fault is not None:
                yield from known(book.faults, fault, "fault", c.component, at)
        for figure in example.figures:
            yield from known(book.figures, figure, "figure", c.component, (*at, "figures"))
        for fact in example.boat:
            yield from known(book.facts, fact, "boat fact", c.component, (*at, "boat"))
        for rule in (*example.expect.fires, *example.expect.not_fires):
            yield from known(book.rules, rule, "rule", c.component, at)
        holds = {r.then.hold for r in book.rules.values() if r.then.hold}
        for hold in example.expect.holds or ():
            yield from known(holds, hold, "hold", c.component, at)


def _acyclic(book: Book) -> Iterator[Problem]:
    graph: dict[str, set[str]] = {}
    for owner in book.owners:
        targets = {link.condition for link in owner.shows if link.condition}
        if isinstance(owner, Fault):
            targets |= {leads.fault for leads in owner.leads_to}
        graph[owner.id] = {t for t in targets if t}
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        names = " -> ".join(error.args[1])
        owner_id = error.args[1][0]
        component = book.component_of[owner_id].component
        yield Problem(component, (), f"these cause one another in a circle: {names}", "one direction, the usual one")


def _chain(book: Book) -> Iterator[Problem]:
    """The chained rules compile: strata exist, names are made by somebody, the form is safe for the engine."""
    from diagnose.chain.compile import compile_rules

    try:
        compile_rules(book)
    except DiagnoseError as error:
        yield Problem(*_home(book, error.where), error.what, error.right)


def _home(book: Book, name: str) -> tuple[str, Path]:
    """The component and the path of what has this id: any entry, a component as a whole, or a look of the look-over."""
    for component in book.components:
        for kind in KINDS:
            ids = [entry.id for entry in getattr(component, kind)]
            if name in ids:
                return component.component, (kind, ids.index(name))
        if name == component.component:
            return name, ("applies",)
    looks = [look.id for look in book.look_over.looks]
    return ("look-over", ("looks", looks.index(name))) if name in looks else ("words", ())
