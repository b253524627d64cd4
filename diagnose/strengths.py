"""What a link is worth, grade by grade, in decibans: for pages and lints."""

from __future__ import annotations

import math

from diagnose.knowledge.book import Book
from diagnose.knowledge.model import Condition, Fault, Shows


def exact_weights(book: Book, owner: Fault | Condition, link: Shows) -> dict[str, dict[str, float]]:
    """By stage (or grade of the condition): weight of evidence [decibans] of each exact grade of the target.

    10*log10 of P(exactly this grade | cause in this stage) over P(exactly this grade | background alone).
    """
    target = book.symptoms[link.symptom] if link.symptom else book.conditions[str(link.condition)]
    grades = list(target.grades)
    below = [1.0 - book.background(target.background[g]) for g in grades[1:]] + [1.0]
    stages = [s.id for s in owner.stages] if isinstance(owner, Fault) else list(owner.grades)[1:]
    found: dict[str, dict[str, float]] = {}
    given = link.at_least
    for stage in stages:
        given = (link.by or {}).get(stage, given)
        if given is None:
            continue
        own = [1.0 - (book.strength(given[g]) if g in given else 0.0) for g in grades[1:]] + [1.0]
        both = [a * b for a, b in zip(below, own, strict=True)]
        found[stage] = {
            grade: 10.0 * math.log10(max(both[i] - (both[i - 1] if i else 0.0), 1e-12) / (below[i] - (below[i - 1] if i else 0.0)))
            for i, grade in enumerate(grades)
        }
    return found
