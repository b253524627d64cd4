"""Figures and answers of an assessment as words, the same in every part of a report."""

from __future__ import annotations

import math
import re

from diagnose.assessment import Ranked, SeenLine
from diagnose.case import SURE
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import Band, Fault
from diagnose.show.words import band, in_hundred
from diagnose.wording import mid_sentence

LEAST_LISTED = 0.02
"""A fault less likely than this is named in a line with others, not in one of its own."""
WEIGHTS = ((1.0, "hardly counts"), (3.0, "weakly"), (7.0, "clearly"), (13.0, "strongly"))
"""Decibans below which each word is used, from the least; above the last it is 'very strongly'. Words of our own."""
_STEPS = (1.5, 2, 3, 4, 5, 7, 10, 15, 20, 30, 50, 70, 100, 150, 200, 300, 500, 700, 1000)
_DEGREES = re.compile(r"\bdegC\b")
_UNITS = {"degC": "°C", "K": "°C", "percent": "%", "1": "", "deg": "degrees", "ohm": "ohms"}


def unit_words(unit: str) -> str:
    """A unit of the book as people write it."""
    return _UNITS.get(unit, unit)


def with_units(text: str) -> str:
    """A text of the assessment with its degrees as people write them."""
    return _DEGREES.sub(_UNITS["degC"], text)


def sure_words(sure: float) -> str:
    """How sure the observer was, in the words of the case file."""
    word = next((word for word, weight in SURE.items() if weight == sure), None)
    return word.replace("-", " ") if word is not None else f"{sure * 100:.0f} in 100"


def seen_words(seen: SeenLine, book: Book) -> str:
    """What was found: the reading, or the grade with what it means."""
    symptom = book.symptoms.get(seen.symptom)
    told = seen.seen.replace("-", " ")
    if symptom is None:
        return told
    if symptom.measure is not None and seen.seen.endswith(f" {symptom.measure.unit}"):
        unit = symptom.measure.unit
        told = f"{seen.seen.removesuffix(unit).strip()} {unit_words(unit)}".strip()
    elif seen.seen != seen.grade:
        return told
    means = symptom.grades.get(seen.grade)
    words = means.says if isinstance(means, Band) else means
    return f"{told}: {words}" if words else told


def in_100(chance: float) -> str:
    """A chance as so many of a hundred, or of a thousand where it is small and a small one counts."""
    if chance <= 0:
        return "none"
    if chance < 0.0095:
        return f"{chance * 1000:.0f} in 1000" if chance >= 0.00095 else "under 1 in 1000"
    return f"{in_hundred(chance)} in 100"


def opened(text: str) -> str:
    """A text as it stands at the start of a line."""
    return text[:1].upper() + text[1:]


def chance_words(chance: float) -> str:
    """A chance of what is wrong: of a hundred boats, and in a word."""
    return f"{in_hundred(chance)} of 100 ({band(chance)})"


def factor(decibans: float) -> str:
    """How many times the odds are multiplied or divided, roughly: ×20, ÷3."""
    times = 10.0 ** (abs(decibans) / 10.0)
    if times < 1.26:
        return "×1"
    near = min(_STEPS, key=lambda step: abs(math.log(step / times)))
    shown = f"{_STEPS[-1]} and more" if times > _STEPS[-1] * 1.2 else f"{near:g}"
    return f"{'×' if decibans > 0 else '÷'}{shown}"


def weight_words(decibans: float) -> str:
    """How much something speaks for or against a fault, in words and as a factor of the odds."""
    size = abs(decibans)
    word = next((word for bar, word in WEIGHTS if size < bar), "very strongly")
    if word == WEIGHTS[0][1]:
        return word
    return f"{word} {'for' if decibans > 0 else 'against'} ({factor(decibans)})"


def chance_of(decibans: float) -> float:
    """The chance that odds in decibans stand for."""
    return float(1.0 / (1.0 + 10.0 ** (-decibans / 10.0)))


def likeliest_stage(line: Ranked) -> str | None:
    """The stage a fault is most likely in, if it is there; None where it has none."""
    return max(line.stages, key=lambda stage: round(line.stages[stage], 9)) if line.stages else None


def stage_words(line: Ranked, fault: Fault) -> str:
    """The stage a fault is most likely in, with its chance, where it has several."""
    name = likeliest_stage(line)
    stage = next((s for s in fault.stages if s.id == name), None)
    if stage is None or len(fault.stages) < 2:
        return ""
    return f"most likely {mid_sentence(stage.title)} ({in_hundred(line.stages[stage.id])} of 100)"


def hours(value: float) -> str:
    """Hours with no more digits than they are known to."""
    if value < 0.95:
        return f"{value * 60:.0f} min"
    return f"{float(f'{value:.2g}'):g} h"
