"""What must hold of the steps of a job: names that exist, an order without circles, everything put back, nothing used unordered."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from graphlib import CycleError, TopologicalSorter

from diagnose.knowledge.book import Book
from diagnose.knowledge.integrity import Path, Problem, known
from diagnose.knowledge.jobs import Job, ProofTest, Step

FIRST_TIME = 1.6
"""How much longer a set-up takes a newer hand (common practice)."""


def work_problems(book: Book) -> Iterator[Problem]:
    """All problems of set-ups, jobs and their steps."""
    yield from _setups(book)
    for part in book.words.ordering:
        yield from known(book.words.parts, part, "part", "words", ("ordering", part))
    for component in book.components:
        for i, job in enumerate(component.jobs):
            yield from _job(book, job, component.component, ("jobs", i))


def order_of(job: Job) -> dict[str, tuple[str, ...]]:
    """For each step of a job the steps that come before it: those it names, or the one that stands before it."""
    before: dict[str, tuple[str, ...]] = {}
    last: tuple[str, ...] = ()
    for step in job.steps:
        before[step.id] = last if step.after is None else step.after
        last = (step.id,)
    return before


def running_of(job: Job) -> tuple[frozenset[str], frozenset[str]]:
    """The steps of a job that are done before its set-ups are made, and those done when they are put back: the steps in which she runs,
    with all that come before the one kind and all that come after the other."""
    before = order_of(job)
    first = {s.id for s in job.steps if s.she_runs == "first"}
    last = {s.id for s in job.steps if s.she_runs == "last"}
    for step in reversed(job.steps):
        first |= set(before[step.id]) if step.id in first else set()
    for step in job.steps:
        last |= {step.id} if last & set(before[step.id]) else set()
    return frozenset(first), frozenset(last)


def _setups(book: Book) -> Iterator[Problem]:
    graph: dict[str, tuple[str, ...]] = {}
    for name, setup in book.words.setups.items():
        at: Path = ("setups", name)
        for other in setup.needs:
            yield from known(book.words.setups, other, "set-up", "words", at)
        for part in setup.uses:
            yield from known(book.words.parts, part, "part", "words", at)
        for caution in setup.cautions:
            yield from known(book.cautions, caution, "caution", "words", at)
        graph[name] = setup.needs
    yield from _no_circle(graph, "set-ups", "words", ("setups",))


def _no_circle(graph: dict[str, tuple[str, ...]], what: str, name: str, path: Path) -> Iterator[Problem]:
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        yield Problem(name, path, f"{what} come before one another in a circle: {', '.join(error.args[1])}")


def _job(book: Book, job: Job, name: str, path: Path) -> Iterator[Problem]:
    for setup in job.setups:
        yield from known(book.words.setups, setup, "set-up", name, (*path, "setups"))
    if job.leaves is not None:
        yield from known(book.events, job.leaves, "event", name, (*path, "leaves"))
    for i, test in enumerate(job.proof.tests):
        yield from _test(book, test, name, (*path, "proof", "tests", i))
    if not job.steps:
        return
    ids = [step.id for step in job.steps]
    for double in sorted({i for i in ids if ids.count(i) > 1}):
        yield Problem(name, (*path, "steps"), f"'{job.id}' has two steps '{double}'")
    for i, step in enumerate(job.steps):
        yield from _step(book, job, step, ids, name, (*path, "steps", i))
    yield from _no_circle({s: tuple(b for b in before if b in ids) for s, before in order_of(job).items()},
                          f"steps of '{job.id}'", name, (*path, "steps"))
    yield from _put_back(job, name, path)
    yield from _times(book, job, name, path)
    used = {part for step in job.steps for part in (*step.uses, *step.renews.values())}
    for part in sorted({p.part for p in job.order if p.need == "must"} - used):
        yield Problem(name, (*path, "order"), f"'{part}' must be there, and no step of '{job.id}' uses it",
                      "a step that uses it, or need: usual")


def _step(book: Book, job: Job, step: Step, ids: list[str], name: str, path: Path) -> Iterator[Problem]:
    for before in step.after or ():
        yield from known(ids, before, "step", name, (*path, "after"))
    ordered = {p.part for p in job.order} | {p for s in job.setups if s in book.words.setups for p in book.words.setups[s].uses}
    for part in (*step.uses, *step.renews.values()):
        yield from known(book.words.parts, part, "part", name, path)
        if part in book.words.parts and part not in ordered:
            yield Problem(name, path, f"'{part}' is used and not ordered", f"in the order of '{job.id}'")
    for symptom in step.bares:
        yield from known(book.symptoms, symptom, "symptom", name, (*path, "bares"))
    for caution in step.cautions:
        yield from known(book.cautions, caution, "caution", name, (*path, "cautions"))
    for drained in step.drains:
        if (drained.litres is None) == (drained.fact is None):
            yield Problem(name, (*path, "drains"), "a fluid has exactly one of litres, fact")
        elif drained.fact is not None:
            yield from known(book.facts, drained.fact, "boat fact", name, (*path, "drains"))
    if step.recipe is not None:
        yield from known(book.calculations, step.recipe.calculation, "calculation", name, (*path, "recipe"))
        asks = book.calculations[step.recipe.calculation].asks if step.recipe.calculation in book.calculations else {}
        for key in (*step.recipe.given, *step.recipe.facts) if asks else ():
            yield from known(asks, key, "input", name, (*path, "recipe"))
        for fact in step.recipe.facts.values():
            yield from known(book.facts, fact, "boat fact", name, (*path, "recipe"))


def _put_back(job: Job, name: str, path: Path) -> Iterator[Problem]:
    """Every thing taken off goes back, or comes new, in a later step; and nothing goes back that was not off."""
    off: list[str] = []
    for i, step in enumerate(job.steps):
        for thing in (*step.puts_back, *step.renews):
            if thing not in off:
                yield Problem(name, (*path, "steps", i), f"'{thing}' is put back and was not taken off before")
            else:
                off.remove(thing)
        off += step.takes_off
        if step.she_runs is not None and off:
            yield Problem(name, (*path, "steps", i), f"she runs while '{off[0]}' is off", "a step after it is back")
    for thing in off:
        yield Problem(name, (*path, "steps"), f"'{thing}' is taken off and never put back", "a later step that puts it back or renews it")


def setups_of(book: Book, names: Iterable[str]) -> list[str]:
    """Set-ups with all that they need first, in an order in which they can be made."""
    found: list[str] = []

    def add(name: str) -> None:
        setup = book.words.setups.get(name)
        if setup is None or name in found:
            return
        for other in setup.needs:
            add(other)
        found.append(name)

    for name in names:
        add(name)
    return found


def put_back(book: Book, checks: Iterable[str]) -> tuple[str, ...]:
    """What these checks, in the order they were made, took apart and shut, to be put back: what each took apart, the last first,
    then the set-ups, in the reverse of an order in which they can be made."""
    known = [book.checks[name] for name in checks if name in book.checks]
    apart = [text for check in reversed(known) for text in check.restore]
    setups = setups_of(book, [name for check in known for name in check.needs.setups])
    return tuple(dict.fromkeys((*apart, *(book.words.setups[name].restore for name in reversed(setups)))))


def _times(book: Book, job: Job, name: str, path: Path) -> Iterator[Problem]:
    """The minutes of a job are those of its set-ups, there and back, and of its steps, give or take a fifth."""
    setups = [book.words.setups[s] for s in setups_of(book, job.setups)]
    there_and_back = sum(s.minutes + s.restore_minutes for s in setups)
    for hand, slower in (("skilled", 1.0), ("first_time", FIRST_TIME)):
        steps = sum(getattr(step.minutes, hand) for step in job.steps) + slower * there_and_back
        whole = getattr(job.minutes, hand)
        if not 0.8 * whole <= steps <= 1.2 * whole:
            yield Problem(name, (*path, "minutes"), f"'{job.id}' says {whole:g} minutes ({hand.replace('_', ' ')}); its set-ups and steps "
                          f"come to {steps:g}", f"about {steps:g}")


def _test(book: Book, test: ProofTest, name: str, path: Path) -> Iterator[Problem]:
    for symptom, grade in test.worst.items():
        yield from known(book.symptoms, symptom, "symptom", name, (*path, "worst"))
        if symptom in book.symptoms:
            yield from known(tuple(book.symptoms[symptom].grades), grade, "grade", name, (*path, "worst"))
            if test.state is not None and test.state not in book.symptoms[symptom].states:
                yield Problem(name, path, f"'{symptom}' cannot be judged {test.state}", ", ".join(book.symptoms[symptom].states))
    if test.worst and test.state is None:
        yield Problem(name, path, "says which symptoms are looked at and not in which engine state", "state")
    if (test.when == "after-hours") != (test.hours is not None):
        yield Problem(name, path, "a test some hours on says after how many, and no other does", "hours")
