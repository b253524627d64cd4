"""Looks offered in some states of the engine alone, and without those that were passed over."""

from __future__ import annotations

import pytest

from diagnose import assess, load_case, load_rules
from diagnose.commands.common import case_path
from diagnose.knowledge.model import EngineState


@pytest.mark.parametrize("state", ["cold-stopped", "idle", "under-load"])
def test_only_looks_of_the_states_asked_for_are_offered(state: EngineState) -> None:
    """A person beside a cold engine is offered cold looks; the decision and the ranking are the same."""
    case, book = load_case(case_path("weep-with-rumble")), load_rules()
    all_states, one = assess(case, book), assess(case, book, looks_in=(state,))
    assert {look.needs for look in one.checks} <= {state}
    assert (one.decision, one.ranking) == (all_states.decision, all_states.ranking)


def test_a_look_passed_over_is_not_offered_again() -> None:
    """Without the look that leads, another leads, and it is one that was not left out."""
    case, book = load_case(case_path("weep-with-rumble")), load_rules()
    first = assess(case, book).checks[0].check
    rest = [look.check for look in assess(case, book, without=(first,)).checks]
    assert rest
    assert first not in rest
