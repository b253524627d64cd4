"""What should hold beyond integrity: rivals parted, every sign learnable, every fault curable, healthy boats quiet.

Each lint is a function from the book to Problems, with a test of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from diagnose.knowledge.book import Book
from diagnose.knowledge.component import Component
from diagnose.knowledge.integrity import Problem
from diagnose.knowledge.model import Fault, When

CURE_WORDS = ("renew-", "replace-", "check-", "fix-", "adjust-", "repair-")
EMPTY_WORDS = ("unknown", "tbd", "todo", "n/a", "none known")
MOST_FALSE_FINDINGS = 1.5
"""Findings expected by chance in the looks a go waits for, on a healthy boat."""
MOST_LEVELS = 2


def lints(book: Book) -> Iterator[Problem]:
    """All problems of all lints."""
    for lint in LINTS:
        yield from lint(book)


def _place(book: Book, kind: str, entry_id: str) -> tuple[Component, int]:
    component = book.component_of[entry_id]
    return component, [e.id for e in getattr(component, kind)].index(entry_id)


def _at(book: Book, kind: str, entry_id: str, what: str, right: str = "") -> Problem:
    component, i = _place(book, kind, entry_id)
    return Problem(component.component, (kind, i), what, right)


def named_for_the_condition(book: Book) -> Iterator[Problem]:
    """Faults and symptoms are named for what is, not for what cures it."""
    for kind in ("faults", "symptoms"):
        for entry_id in getattr(book, kind):
            if entry_id.startswith(CURE_WORDS):
                yield _at(book, kind, entry_id, f"'{entry_id}' is named for the cure", "a name for the condition")


def nothing_left_blank(book: Book) -> Iterator[Problem]:
    """No reason, question or believed source says that it is unknown."""
    for kind in ("symptoms", "conditions", "faults", "checks", "jobs", "rules", "events"):
        for entry in getattr(book, kind).values():
            for text in (entry.why, getattr(entry, "ask", "x")):
                if text.strip().lower().rstrip(".") in EMPTY_WORDS:
                    yield _at(book, kind, entry.id, f"'{text}' says nothing", "the reason, in plain words")


def every_symptom_is_told(book: Book) -> Iterator[Problem]:
    """Each symptom can be learned by some check."""
    for name in book.symptoms:
        if name not in book.checks_for:
            yield _at(book, "symptoms", name, f"no check tells '{name}'", "a check with it in 'tells'")


def every_symptom_is_shown(book: Book) -> Iterator[Problem]:
    """Each symptom is shown by some fault or condition."""
    shown = {link.symptom for owner in book.owners for link in owner.shows}
    for name in book.symptoms:
        if name not in shown:
            yield _at(book, "symptoms", name, f"nothing shows '{name}'", "a link from a fault or a condition")


def every_fault_has_a_job(book: Book) -> Iterator[Problem]:
    """Each fault is cured by some job."""
    for name in book.faults:
        if name not in book.jobs_for:
            yield _at(book, "faults", name, f"no job cures '{name}'", "a job with it in 'cures'")


def examples_both_ways(book: Book) -> Iterator[Problem]:
    """Each fault has an example that shows it and one that nearly does."""
    shown = {e.shown for c in book.components for e in c.examples}
    near = {e.near_miss for c in book.components for e in c.examples}
    for name in book.faults:
        if name not in shown:
            yield _at(book, "faults", name, f"no example shows '{name}'", "an example with shown: " + name)
        if name not in near:
            yield _at(book, "faults", name, f"no example nearly shows '{name}'", "an example with near_miss: " + name)


def rivals_are_parted(book: Book) -> Iterator[Problem]:
    """The check that parts a fault from its rival tells a symptom on which the two differ."""
    below = _signs_below(book)
    for fault in book.faults.values():
        for i, rival in enumerate(fault.told_from):
            tells = set(book.checks[rival.by].tells)
            differ = (below[fault.id] ^ below[rival.fault]) | _graded_apart(fault, book.faults[rival.fault])
            if not tells & differ:
                component, at = _place(book, "faults", fault.id)
                yield Problem(component.component, ("faults", at, "told_from", i),
                              f"'{rival.by}' tells nothing on which '{fault.id}' and '{rival.fault}' differ",
                              "a check of a sign that only one of them shows")


def _signs_below(book: Book) -> dict[str, set[str]]:
    def below(shows: tuple, seen: frozenset[str]) -> set[str]:  # type: ignore[type-arg]
        found: set[str] = set()
        for link in shows:
            if link.symptom:
                found.add(link.symptom)
            elif link.condition not in seen:
                found |= below(book.conditions[link.condition].shows, seen | {link.condition})
        return found

    return {name: below(fault.shows, frozenset()) for name, fault in book.faults.items()}


def _graded_apart(one: Fault, other: Fault) -> set[str]:
    """Symptoms both show directly, but with different strengths."""
    def tables(fault: Fault) -> dict[str, object]:
        return {link.symptom: (link.at_least, link.by) for link in fault.shows if link.symptom}

    a, b = tables(one), tables(other)
    return {s for s in a.keys() & b.keys() if a[s] != b[s]}


def healthy_boats_are_quiet(book: Book) -> Iterator[Problem]:
    """The look-over of a healthy boat gives few findings by chance."""
    expected = 0.0
    for look in book.look_over.looks:
        for name in look.tells if look.gates else ():
            symptom = book.symptoms[name]
            expected += book.background(symptom.background[list(symptom.grades)[1]])
    if expected > MOST_FALSE_FINDINGS:
        yield Problem("look-over", (), f"a healthy boat would show {expected:.1f} findings by chance in one look-over")


def one_sign_one_state(book: Book) -> Iterator[Problem]:
    """Two signs whose causes are much the same, three or more, and that hang on no condition in common."""
    causes: dict[str, set[str]] = {}
    on_condition = {l.symptom for c in book.conditions.values() for l in c.shows if l.symptom}
    for fault in book.faults.values():
        for link in fault.shows:
            if link.symptom and link.symptom not in on_condition:
                causes.setdefault(link.symptom, set()).add(fault.id)
    names = sorted(n for n, c in causes.items() if len(c) >= 3)
    for i, one in enumerate(names):
        for other in names[i + 1 :]:
            shared = causes[one] & causes[other]
            if len(shared) >= 3 and len(shared) > 0.5 * len(causes[one] | causes[other]):
                yield _at(book, "symptoms", one, f"'{one}' and '{other}' have mostly the same causes ({len(shared)})",
                          "a condition that both hang on")


def holds_have_one_meaning(book: Book) -> Iterator[Problem]:
    """A hold made by two rules says the same in both."""
    seen: dict[str, tuple[str, object]] = {}
    for rule in book.rules.values():
        if rule.then.hold is not None:
            before = seen.setdefault(rule.then.hold, (rule.id, rule.then.stops))
            if before[1] != rule.then.stops:
                yield _at(book, "rules", rule.id, f"hold '{rule.then.hold}' stops something else in '{before[0]}'")


def conditions_stay_shallow(book: Book) -> Iterator[Problem]:
    """A rule's condition is at most two levels of all and any deep; what needs more is a finding of its own."""
    for rule in book.rules.values():
        if _levels(rule.when) > MOST_LEVELS:
            yield _at(book, "rules", rule.id, f"'{rule.id}' asks for conditions inside conditions inside conditions",
                      "a rule of its own that makes a finding of the inner part")


def _levels(when: When) -> int:
    inner = (*(when.all or ()), *(when.any or ()), *((when.not_,) if when.not_ is not None else ()))
    return (when.all is not None or when.any is not None) + max((_levels(w) for w in inner), default=0)


def checked_rests_on_evidence(book: Book) -> Iterator[Problem]:
    """A fault said to be checked has a rate that somebody opened a source for."""
    for fault in book.faults.values():
        if fault.status == "checked" and fault.rate.source.kind == "memory":
            yield _at(book, "faults", fault.id, f"'{fault.id}' is called checked, but its rate is from memory",
                      "status: draft, or a rate with a source that was opened")


def sentences_are_whole(book: Book) -> Iterator[Problem]:
    """What is to be done is told in whole sentences: in a list between brackets a comma parts one that is not quoted."""
    for check in book.checks.values():
        for text in (*check.steps, *check.restore):
            if text[:1].islower() or text.rstrip(')"')[-1:] not in {".", "?", "!"}:
                yield _at(book, "checks", check.id, f"'{text}' is no whole sentence",
                          "a capital, a full stop, and quotes round a text with commas")


LINTS: tuple[Callable[[Book], Iterator[Problem]], ...] = (
    named_for_the_condition,
    nothing_left_blank,
    every_symptom_is_told,
    every_symptom_is_shown,
    every_fault_has_a_job,
    examples_both_ways,
    rivals_are_parted,
    healthy_boats_are_quiet,
    one_sign_one_state,
    holds_have_one_meaning,
    conditions_stay_shallow,
    checked_rests_on_evidence,
    sentences_are_whole,
)
