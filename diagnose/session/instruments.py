"""Numbers read off instruments: which reading words with a number mean, which of a sign are still wanted, which want the revs.

The words are matched against the title of each reading and what owners call it. A number in a unit that one reading alone has,
such as litres in seconds, needs no words beside it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Sequence

from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import RUNNING, EngineState, Measurand, Symptom
from diagnose.session.amounts import reading, tidied
from diagnose.session.language import STOP, stem, stems_of, words_of
from diagnose.session.words import Piece

NEAR = 0.45
"""From here on (of 1) the words are near enough to a reading for it to be offered."""
SHOWN = 3
UNKNOWN_WORTH = 2.0
"""What a word weighs that no reading has."""
LEAST_REVS, MOST_REVS = 300.0, 8000.0
"""No engine turns slower or faster than this [rpm]; a number outside is a slip of the finger."""
_REVS = re.compile(r"(?:\bat|@)\s*(\d{3,4}(?:\.\d+)?)\s*(?:rpm|revs?)\b", re.IGNORECASE)
_WHERE = re.compile(
    r"\b(?:in gear|under load|under ?way|motoring|at cruis\w+|at speed|idling|at idle|running|out of gear|after stopping)\b")
_UNITS = frozenset(["l", "litre", "litres", "liter", "liters", "ml", "s", "sec", "secs", "second", "seconds", "min", "mins", "minute",
                    "minutes", "in", "per"])


def revs_in(text: str) -> float | None:
    """The revs [rpm] told beside words, such as 'at 2500 rpm'; None where none are told, or none that can be."""
    found = _REVS.search(text)
    return float(found[1]) if found is not None and LEAST_REVS <= float(found[1]) <= MOST_REVS else None


def only_revs(text: str) -> bool:
    """Whether a text tells revs and nothing else: they belong to what was said beside it."""
    return _REVS.fullmatch(text.strip()) is not None


def without_revs(text: str) -> str:
    """A text without the revs told in it."""
    return " ".join(_REVS.sub(" ", text).split())


def value_of(texts: Sequence[str], kind: Measurand) -> str | None:
    """The first of these amounts that has a unit of this reading and a value that can be; None where none has."""
    for text in texts:
        try:
            return reading(text, kind, kind.title)
        except InputError:
            continue
    return None


def meant(book: Book, said: Piece, barred: Collection[str] = ()) -> tuple[tuple[Measurand, str | None], ...]:
    """The readings that a piece with a number may mean, nearest first, each with its value; None where the unit is missing.

    Args:
        book: the readings.
        said: what was said.
        barred: symptoms that this boat cannot show; a reading only they are worked out of is left out.
    """
    amounts = [a for a in said.amounts if not re.fullmatch(r"\d+\s*(?:rpm|revs?)", a)] or list(said.amounts)
    if not amounts:
        return ()
    words = _telling(said, amounts)
    bare = all(re.fullmatch(r"\d+(?:[.,]\d+)?", a) for a in amounts)
    known = [m for m in book.readings.values() if any(m.id in names for s, names in _taken_by(book) if s not in barred)]
    phrases = {m.id: [frozenset(stems_of(text)) for text in (m.title, *m.said_as)] for m in known}
    met: list[frozenset[str]] = [frozenset().union(*found) for found in phrases.values()]
    found: list[tuple[float, str]] = []
    for kind in known:
        fits = value_of(amounts, kind) is not None
        if not fits and not (bare and _lacks_unit(amounts, kind)):
            continue
        score = max((_likeness(words, phrase, met) for phrase in phrases[kind.id]), default=0.0) if words else 0.0
        if fits and not words and "/" in kind.unit:
            score = 1.0
        if score >= NEAR:
            found.append((-score, kind.id))
    return tuple((book.readings[name], value_of(amounts, book.readings[name])) for _, name in sorted(found)[:SHOWN])


def _telling(said: Piece, amounts: Sequence[str]) -> frozenset[str]:
    text = _WHERE.sub(" ", without_revs(said.text).lower())
    for amount in amounts:
        text = text.replace(amount.lower(), " ")
    return frozenset(stem(w) for w in words_of(text) if w not in STOP and w not in _UNITS and not w[0].isdigit())


def _likeness(words: frozenset[str], phrase: frozenset[str], met: Sequence[frozenset[str]]) -> float:
    """How well what was said and a phrase cover each other, each word by how few readings have it (harmonic mean, 0 to 1)."""
    weight = {w: math.log(1.0 + len(met) / n) if (n := sum(w in m for m in met)) else UNKNOWN_WORTH for w in words | phrase}
    common = sum(weight[w] for w in words & phrase)
    return 2.0 * common / (sum(weight[w] for w in words) + sum(weight[w] for w in phrase)) if common else 0.0


def _lacks_unit(amounts: Sequence[str], kind: Measurand) -> bool:
    """Whether a bare number, in the unit of the book, could be this reading."""
    return value_of([f"{tidied(amounts[0])} {kind.unit}"], kind) is not None


def _taken_by(book: Book) -> list[tuple[str, frozenset[str]]]:
    return [(s.id, frozenset(n for names in ways_of(s) for n in names)) for s in book.symptoms.values() if s.worked_out]


def ways_of(symptom: Symptom) -> list[tuple[str, ...]]:
    """The readings that each way to work a symptom out takes, in order, each once."""
    return [tuple(dict.fromkeys(i.reading for i in way.takes.values() if i.reading is not None)) for way in symptom.worked_out]


def fitting(book: Book, symptom: Symptom, state: EngineState, typed: str) -> list[Measurand]:
    """The readings a symptom is worked out of that a typed number with its unit can be."""
    names = dict.fromkeys(n for names in ways_of(symptom) for n in names)
    kinds = [book.readings[n] for n in names if n in book.readings]
    return [k for k in kinds if state in k.states and value_of([typed], k) is not None]


def next_wanted(book: Book, symptom: Symptom, state: EngineState, there: Collection[tuple[str, EngineState | None]],
                past: Collection[str]) -> Measurand | None:
    """The next reading to ask for a symptom in a state: of its first way, neither there nor moved past."""
    names = ways_of(symptom)[0] if symptom.worked_out else ()
    kinds = (book.readings[n] for n in names if n in book.readings)
    return next((k for k in kinds if state in k.states and (k.id, state) not in there and moved_past(k.id, state) not in past), None)


def moved_past(name: str, state: EngineState) -> str:
    """How a reading that was not to be had in a state is remembered, and the revs under the name `revs`."""
    return f"{name} {state}"


def wants_revs(book: Book, name: str, state: EngineState) -> bool:
    """Whether anything that is worked out of a reading in a state hangs on the revs."""
    return state in RUNNING and any(
        state in s.states and any(i.reading == name for i in way.takes.values()) and any(i.revs for i in way.takes.values())
        for s in book.symptoms.values() for way in s.worked_out)
