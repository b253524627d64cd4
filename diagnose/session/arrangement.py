"""What is known of a boat, and what that settles: which entries of the book cannot be on her, and which facts would decide it."""

from __future__ import annotations

from collections.abc import Mapping

from diagnose.knowledge.book import Book
from diagnose.knowledge.integrity import atoms
from diagnose.knowledge.lists import BoatFact
from diagnose.knowledge.model import When

Facts = Mapping[str, str | float | bool]


def holds(when: When | None, known: Facts) -> bool | None:
    """Whether a switch on boat facts is on, off, or not to be told from what is known."""
    if when is None:
        return True
    if when.all is not None:
        return _all([holds(w, known) for w in when.all])
    if when.any is not None:
        return _not(_all([_not(holds(w, known)) for w in when.any]))
    if when.not_ is not None:
        return _not(holds(when.not_, known))
    if when.fact is None or when.fact not in known:
        return None
    return _meets(when, known[when.fact])


def _meets(when: When, value: str | float | bool) -> bool | None:
    if when.is_ is not None:
        return value == when.is_
    if when.one_of is not None:
        return value in when.one_of
    if isinstance(value, str):
        return None  # a number with its unit, not yet converted
    if when.at_least is not None:
        return value >= float(when.at_least)
    return value < when.below if when.below is not None else None


def _all(parts: list[bool | None]) -> bool | None:
    return False if False in parts else None if None in parts else True


def _not(value: bool | None) -> bool | None:
    return None if value is None else not value


def barred(book: Book, known: Facts) -> frozenset[str]:
    """Symptoms of parts that this boat is known not to have."""
    off = {c.component for c in book.components if holds(c.applies, known) is False}
    return frozenset(name for name in book.symptoms if book.component_of[name].component in off)


def deciding(book: Book, whens: tuple[When | None, ...], known: Facts) -> tuple[str, ...]:
    """Facts, not known yet, on which some of these switches hang; those that most of them hang on first."""
    counted: dict[str, int] = {}
    for when in whens:
        if when is not None and holds(when, known) is None:
            for name in {str(a.fact) for a in atoms(when) if a.fact is not None and a.fact not in known and a.fact in book.facts}:
                counted[name] = counted.get(name, 0) + 1
    order = list(book.facts)
    return tuple(sorted(counted, key=lambda name: (-counted[name], order.index(name))))


def weighed_both_ways(book: Book, assumed: tuple[str, ...]) -> tuple[str, ...]:
    """Facts that are not known and were weighed both ways in an assessment, by what it says it assumed."""
    return tuple(f.id for f in book.boat.facts if f"{f.title.lower()}: not known, weighed both ways" in assumed)


def told(fact: BoatFact, value: str | float | bool) -> str:
    """A value of a fact in words."""
    if fact.values is not None:
        return fact.values.get(str(value), str(value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value} {fact.unit or ''}".removesuffix(" 1").strip() if not isinstance(value, str) else value
