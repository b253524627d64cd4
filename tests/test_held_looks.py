"""A hold that forbids running takes every look that needs her running off the page."""

from __future__ import annotations

import pytest

from diagnose.case import load_case
from diagnose.knowledge.load import load_rules, shipped
from diagnose.show.page import triage_page
from diagnose.triage import assess


@pytest.mark.parametrize("name", ["water-in-the-cylinder", "gas-aboard", "overheat-after-leaving"])
def test_no_running_look_under_a_stop(name: str) -> None:
    """Where starting or running is stopped, no line of the look-over that needs her running is asked for."""
    book = load_rules()
    assessment = assess(load_case(shipped("cases") / f"{name}.yaml"), book)
    assert any(hold.stops in ("run", "start") for hold in assessment.holds)
    text = " ".join(triage_page(assessment, book, 100).text().split())
    asked = text.partition("LOOK OVER")[2].partition("DO NEXT")[0]
    for look in assessment.look_over:
        if look.needs in ("idle", "under-load"):
            assert look.title.lower() not in asked.lower()
    assert all(check.needs not in ("idle", "under-load") for check in assessment.checks)
