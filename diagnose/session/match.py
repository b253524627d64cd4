"""What a piece of plain words most likely means: symptoms with a grade, and events, of the book.

Two views are weighed together. The bag: how much of what was said, by the weight of each word, is met anywhere in what the
book says of an entry. The phrase: how well the best single phrase of the book (a title, something owners say, the words of
a grade) and the piece cover each other. A word that occurs nowhere in the book is read as the nearest that do. What else
was said lends a piece some context, and a sign that shows itself in passing is likelier to be told than one that needs a
tool and an hour.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from diagnose.knowledge.book import Book
from diagnose.knowledge.model import RESERVED_GRADE, Event, Symptom
from diagnose.session.amounts import band_of, may_measure
from diagnose.session.language import ALIKE, FAINT, NOT, STOP, WANTED, stem, stems_of, words_of
from diagnose.session.words import Piece

SHOWN = 3
NEAR = 0.45
"""From here on a reading is worth offering as what was meant; below it only as one of the nearest."""
CLOSE = 0.85
"""A second reading with this share of the first one's score is close to it."""
ALIKE_WORTH = 0.7
"""What a word counts that stands for another."""
LEAST_TYPED = 0.7
"""How alike a word unknown to the book must be to one it knows, to be read as that."""
MOST_TYPED = 5000
LEAST_DENIED = 0.7
"""How near a phrase with a no in it must come for a denial to be a finding."""
FAINT_WORTH = 0.25
BAG, PHRASE, CONTEXT, EASE, UNIT, BEYOND = 0.45, 0.55, 0.15, 0.08, 0.4, 0.1
"""Weights, found by trying them on what owners say (in the book) with words dropped, shuffled and mistyped."""
WORTH = {"said": 1.0, "title": 1.0, "grade": 0.8, "ask": 0.5, "part": 0.35}
"""What a word counts by where in an entry it stands."""
SCANT = 3
"""With fewer telling words than this, what was said beside it counts twice."""
UNKNOWN_WORTH = 2.0
"""What a word weighs that the book does not know: about a common one."""
QUICK_MINUTES, LONG_MINUTES = 8.0, 20.0
"""A sign that a look of this length shows is met in passing; one that takes over the second is looked for on purpose."""

Kind = Literal["symptom", "event"]
Sense = Mapping[str, float]
"""Words of the book that one word said may stand for, each with how well."""


@dataclass(frozen=True)
class Reading:
    """One thing a piece may mean: an entry of the book, the grade its words name if any, and how near it is (about 0 to 1)."""

    kind: Kind
    id: str
    grade: str | None
    score: float
    unused: tuple[str, ...] = ()
    """Words of the piece that had no part in it."""


@dataclass(frozen=True)
class _Doc:
    kind: Kind
    id: str
    bag: dict[str, float]
    phrases: tuple[tuple[frozenset[str], float], ...]
    grades: tuple[tuple[str, frozenset[str]], ...]
    ease: float


@dataclass(frozen=True)
class _Phrase:
    """A phrase of the book: whose it is, what it counts, the weight of all its words, whether it has a no in it."""

    doc: int
    worth: float
    length: float
    denies: bool


@dataclass
class _Met:
    """What one phrase and the piece have in common: by word said and by word of the phrase, how well each is met."""

    said: dict[str, float] = field(default_factory=dict)
    used: dict[str, float] = field(default_factory=dict)


class Index:
    """The words of a book, ready to be matched. Made once; holds nothing of any person or case."""

    def __init__(self, book: Book) -> None:
        docs = [_of_symptom(book, s) for s in book.symptoms.values()] + [_of_event(e) for e in book.events.values()]
        self._docs = docs
        self._bags: dict[str, list[tuple[int, float]]] = defaultdict(list)
        """By stem, the entries that have it, and what it counts there."""
        for number, doc in enumerate(docs):
            for word, worth in doc.bag.items():
                self._bags[word].append((number, worth))
        self._rarity = {w: math.log(1.0 + len(docs) / len(found)) * (FAINT_WORTH if w in FAINT else 1.0) for w, found in self._bags.items()}
        self._phrases: list[_Phrase] = []
        self._in: dict[str, list[int]] = defaultdict(list)
        """By stem, the phrases that have it."""
        for number, doc in enumerate(docs):
            for words, worth in doc.phrases:
                for word in words:
                    self._in[word].append(len(self._phrases))
                self._phrases.append(_Phrase(number, worth, sum(self._rarity[w] for w in words), NOT in words))
        self._measured = {n: s for n, d in enumerate(docs) if d.kind == "symptom" and (s := book.symptoms[d.id]).measure is not None}
        self._spelt = _spelling(book)
        self._typed: dict[str, dict[str, float]] = {}

    def readings(self, piece: Piece, *, beside: Sequence[Piece] = (), barred: frozenset[str] = frozenset(),
                 most: int = SHOWN) -> tuple[Reading, ...]:
        """The nearest entries, best first.

        Args:
            piece: what is to be read.
            beside: what else was said with it.
            barred: symptoms that this boat cannot show.
            most: how many.
        """
        spelt, senses, weight = self._read(piece)
        around = {s for other in beside if other.key != piece.key for s in stems_of(other.text, bare=True)}
        score = self._scores(senses, weight, {s for s in around if s in self._rarity and s not in senses}, piece.amounts)
        ranked = sorted((-round(value, 6), self._docs[n].kind, self._docs[n].id, n) for n, value in score.items()
                        if self._docs[n].id not in barred)
        return tuple(self._reading(n, -value, senses, spelt, piece.amounts) for value, _, _, n in ranked[:most])

    def promises(self, piece: Piece) -> bool:
        """Whether a piece that denies something is a promise to ask: the book has no phrase with a no in it that comes near, or
        one without comes as near."""
        _, senses, weight = self._read(piece)
        if NOT not in senses or WANTED & set(senses):
            return NOT not in senses
        total = sum(weight.values())
        with_no = max((self._likeness(n, met, weight, total) for n, met in self._meet(senses).items() if self._phrases[n].denies
                       and NOT in met.said), default=0.0)
        bare = {s: sense for s, sense in senses.items() if s != NOT}
        left = sum(weight[s] for s in bare) or 1.0
        without = max((self._likeness(n, met, weight, left) for n, met in self._meet(bare).items() if not self._phrases[n].denies),
                      default=0.0)
        return with_no < LEAST_DENIED or with_no < without

    def _read(self, piece: Piece) -> tuple[dict[str, str], dict[str, Sense], dict[str, float]]:
        """The stems of what was said: how each was spelt, what it may stand for, how much it tells."""
        said = [(w, stem(w)) for w in words_of(piece.matter)]
        said = [p for p in said if p[0] not in STOP and not p[1].isdigit()] or said
        senses = {s: self._sense(w, s) for w, s in said}
        return {s: w for w, s in said}, senses, {s: self._weight(s, sense) for s, sense in senses.items()}

    # -------------------------------------------------------------- words

    def _sense(self, word: str, own: str) -> Sense:
        found = {own: 1.0} if own in self._rarity else {}
        for other in ALIKE.get(own, ()):
            if other in self._rarity:
                found.setdefault(other, ALIKE_WORTH)
        if own not in self._rarity and len(word) > 3:
            for near, worth in self._mistyped(word).items():
                found[near] = max(worth, found.get(near, 0.0))
        return found

    def _mistyped(self, word: str) -> dict[str, float]:
        from rapidfuzz import process
        from rapidfuzz.distance import OSA

        if word not in self._typed:
            hits = process.extract(word, list(self._spelt), scorer=OSA.normalized_similarity, limit=3, score_cutoff=LEAST_TYPED)
            if len(self._typed) > MOST_TYPED:
                self._typed.clear()
            self._typed[word] = {self._spelt[hit]: float(alike) for hit, alike, _ in hits}
        return self._typed[word]

    def _weight(self, word: str, sense: Sense) -> float:
        """How much a word tells, by how few entries have it; one that the book does not know tells little."""
        if word in self._rarity:
            return self._rarity[word]
        return max((self._rarity[w] for w in sense), default=UNKNOWN_WORTH) * (FAINT_WORTH if word in FAINT else 1.0)

    # -------------------------------------------------------------- weighing

    def _scores(self, senses: Mapping[str, Sense], weight: Mapping[str, float], around: set[str],
                amounts: Sequence[str]) -> dict[int, float]:
        """By entry, how near it is; what is measured in the unit of an amount that was said is nearer for it."""
        total = sum(weight.values()) or 1.0
        bag: dict[int, dict[str, float]] = defaultdict(dict)
        for said, sense in senses.items():
            for word, as_good in sense.items():
                for number, worth in self._bags.get(word, ()):
                    bag[number][said] = max(as_good * worth, bag[number].get(said, 0.0))
        best: dict[int, float] = {}
        for number, met in self._meet(senses).items():
            doc = self._phrases[number].doc
            best[doc] = max(self._likeness(number, met, weight, total), best.get(doc, 0.0))
        lent = self._lent(around, bag)
        scant = 2.0 if sum(w not in FAINT for w in senses) < SCANT else 1.0
        found = {n: BAG * sum(weight[s] * v for s, v in met_words.items()) / total + PHRASE * best.get(n, 0.0)
                + CONTEXT * scant * lent.get(n, 0.0) + EASE * self._docs[n].ease for n, met_words in bag.items()}
        bare = all(s in FAINT for s in senses)
        for number, symptom in self._measured.items() if amounts else ():
            bands = [band_of(a, symptom) for a in amounts if symptom.measure is not None and may_measure(a, symptom.measure.unit)]
            if bands:
                beyond = any(band not in (None, RESERVED_GRADE) for band in bands)
                found[number] = found.get(number, 0.0) + UNIT * (1.5 if bare else 1.0) + (BEYOND if beyond else 0.0)
        return found

    def _lent(self, around: set[str], wanted: Mapping[int, object]) -> dict[int, float]:
        """By entry, how much of what was said beside the piece is met in it."""
        found: dict[int, float] = defaultdict(float)
        whole = sum(self._rarity[w] for w in around)
        for word in around:
            for number, worth in self._bags[word]:
                if number in wanted:
                    found[number] += self._rarity[word] * worth / whole
        return found

    def _meet(self, senses: Mapping[str, Sense]) -> dict[int, _Met]:
        """By phrase, what it has in common with what was said."""
        found: dict[int, _Met] = defaultdict(_Met)
        for said, sense in senses.items():
            for word, as_good in sense.items():
                for number in self._in.get(word, ()):
                    met = found[number]
                    if as_good > met.said.get(said, 0.0):
                        met.said[said] = as_good
                    if as_good > met.used.get(word, 0.0):
                        met.used[word] = as_good
        return found

    def _likeness(self, number: int, met: _Met, weight: Mapping[str, float], total: float) -> float:
        """The harmonic mean of how much of the piece, and how much of the phrase, is met in the other."""
        phrase = self._phrases[number]
        recall = sum(weight[s] * f for s, f in met.said.items()) / total
        precision = sum(self._rarity[w] * f for w, f in met.used.items()) / phrase.length
        return phrase.worth * 2.0 * recall * precision / (recall + precision) if recall > 0.0 else 0.0

    def _reading(self, number: int, score: float, senses: Mapping[str, Sense], spelt: Mapping[str, str], amounts: Sequence[str]) -> Reading:
        doc, measured = self._docs[number], self._measured.get(number)
        unused = tuple(spelt[s] for s, sense in senses.items() if s != NOT and not any(w in doc.bag for w in sense))
        bands = [band_of(amount, measured) for amount in amounts] if measured is not None else []
        band = next((b for b in bands if b not in (None, RESERVED_GRADE)), None)
        return Reading(doc.kind, doc.id, band or self._grade(doc, senses), score, unused)

    def _grade(self, doc: _Doc, senses: Mapping[str, Sense]) -> str | None:
        """The grade whose own words are met, and clearly more of them than of any other's; the only one there is."""
        if len(doc.grades) == 1:
            return doc.grades[0][0]
        met: list[tuple[float, str]] = []
        for name, words in doc.grades:
            own = words - frozenset().union(*(w for n, w in doc.grades if n != name))
            hits = [max((f * self._rarity[w] for w, f in sense.items() if w in own), default=0.0) for sense in senses.values()]
            met.append((sum(hits), name))
        met.sort(reverse=True)
        return met[0][1] if met and met[0][0] > 0.0 and met[1][0] < 0.5 * met[0][0] else None


def _spelling(book: Book) -> dict[str, str]:
    """Every word as the book spells it, with its stem."""
    texts = [t for s in book.symptoms.values() for t in (s.title, s.ask, *s.said_as, *_grade_texts(s).values())]
    texts += [t for e in book.events.values() for t in (e.title, *e.said_as)]
    return {w: stem(w) for text in texts for w in words_of(text) if w not in STOP and len(w) > 2}


def _grade_texts(symptom: Symptom) -> dict[str, str]:
    """The words of each grade above none, its name among them."""
    told = {name: t if isinstance(t, str) else t.says or "" for name, t in symptom.grades.items() if name != RESERVED_GRADE}
    return {name: f"{text} {name.replace('-', ' ')}" for name, text in told.items()}


def _of_symptom(book: Book, symptom: Symptom) -> _Doc:
    bag: dict[str, float] = {}
    title = _fill(bag, symptom.title, "title")
    phrases = [(title, WORTH["title"]), *((_fill(bag, text, "said"), WORTH["said"]) for text in symptom.said_as)]
    grades = tuple((name, _fill(bag, text, "grade")) for name, text in _grade_texts(symptom).items())
    phrases += [(words | title, 0.9) for _, words in grades]
    _fill(bag, symptom.ask, "ask")
    if symptom.leak is not None:
        _fill(bag, symptom.leak.fluid.replace("-", " ").removesuffix(" in"), "ask")
    _fill(bag, book.component_of[symptom.id].title, "part")
    return _Doc("symptom", symptom.id, bag, tuple(p for p in phrases if p[0]), grades, _ease(book, symptom))


def _of_event(event: Event) -> _Doc:
    bag: dict[str, float] = {}
    phrases = tuple((_fill(bag, text, "said"), WORTH["said"]) for text in (event.title, *event.said_as))
    return _Doc("event", event.id, bag, tuple(p for p in phrases if p[0]), (), 0.5)


def _fill(bag: dict[str, float], text: str, kind: str) -> frozenset[str]:
    """Put the words of a text into the bag, each at the most it counts anywhere."""
    words = frozenset(s for s in stems_of(text) if not s.isdigit())
    for word in words:
        bag[word] = max(bag.get(word, 0.0), WORTH[kind])
    return words


def _ease(book: Book, symptom: Symptom) -> float:
    """How far a sign shows itself in passing: 1 when people tell of it unasked, 0 when it takes tools and time."""
    if symptom.would_be_mentioned > 0:
        return 1.0
    minutes = min((c.cost.first_time + sum(book.words.setups[s].minutes for s in c.needs.setups)
                   for c in book.checks_for.get(symptom.id, ())), default=0.0)
    return 0.6 if minutes <= QUICK_MINUTES else 0.3 if minutes <= LONG_MINUTES else 0.0
