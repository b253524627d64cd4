"""The arithmetic of symptoms worked out of readings, in words."""

from __future__ import annotations

from diagnose.assessment import Assessment, Working
from diagnose.knowledge.model import RESERVED_GRADE
from diagnose.show.figures import value_words
from diagnose.show.layout import Page
from diagnose.show.words import SHORT_STATES
from diagnose.wording import mid_sentence


def measured(page: Page, a: Assessment) -> None:
    """What was read, and what came of it, a line each; what could not be worked out with its reason."""
    if not a.readings and not a.workings:
        return
    if a.readings:
        page.labelled("READ", "; ".join(f"{mid_sentence(r.title)} {r.seen}" + (f" at {r.at_rpm:g} rpm" if r.at_rpm is not None else "")
                                        for r in a.readings))
    made = [w for w in a.workings if w.result is not None]
    page.items("WORKED OUT", [f"{w.title}: {result_words(w)}, {w.says}" for w in made if w.tells and w.grade != RESERVED_GRADE])
    sound = [f"{mid_sentence(w.title)} ({result_words(w)}, {w.says})" for w in made if w.tells and w.grade == RESERVED_GRADE]
    if sound:
        page.labelled("  and not", "; ".join(sound))
    vague = [f"{w.title}: {result_words(w)}, which may be anything" for w in made if not w.tells]
    page.items("NOT TOLD", [*vague, *(f"{w.title}: {w.why_not}" for w in a.workings if w.why_not is not None)])


def sums(page: Page, working: Working) -> None:
    """One working in full: the formula, the numbers put in, the result."""
    page.labelled(f"  {working.title.lower()}", f"({SHORT_STATES[working.state]})", label_width=4)
    page.labelled("    formula", working.formula, label_width=13)
    page.items("    with", working.numbers)
    page.labelled("    gives", result_words(working) + (f"; weighed as if {working.widened:.2g} times less certain, for it shares readings "
                  "with the others" if working.widened > 1.05 else ""), label_width=13)


def result_words(working: Working) -> str:
    """The figure with two standard deviations either side."""
    assert working.result is not None
    half = working.plus_minus or 0.0
    return value_words(working.result, half, half, working.unit)
