"""Terms of the trade, each explained once, where it first appears."""

from __future__ import annotations

import re
from collections.abc import Sequence

from diagnose.knowledge.lists import Term


class Terms:
    """The terms of a book, and which of them were explained already."""

    def __init__(self, terms: Sequence[Term]) -> None:
        self._of = {form.lower(): term for term in terms for form in (term.term, *term.also)}
        self._told: set[str] = set()
        longest_first = sorted(self._of, key=lambda form: (-len(form), form))
        self._form = re.compile(rf"(?<![\w-])({'|'.join(map(re.escape, longest_first))})(?:e?s)?(?![\w-])", re.IGNORECASE)

    def first_met(self, texts: Sequence[str], most: int = 2) -> tuple[tuple[str, str], ...]:
        """Terms that appear in these texts for the first time, with what they mean, in the order in which they appear.

        They count as told from now on. At most so many at once: the others wait for their next appearance.
        """
        found: dict[str, Term] = {}
        for match in self._form.finditer("\n".join(texts)) if self._of else ():
            term = self._of[match[1].lower()]
            if term.id not in self._told and len(found) < most:
                found.setdefault(term.id, term)
        self._told |= set(found)
        return tuple((term.term, term.says) for term in found.values())
