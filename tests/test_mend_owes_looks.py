"""A go after a mend owes the look-over like any other go."""

from __future__ import annotations

from diagnose.case import Case, load_case
from diagnose.knowledge.load import load_rules, shipped
from diagnose.triage import assess


def without(case: Case, symptom: str) -> Case:
    return case.model_copy(update={"observations": tuple(o for o in case.observations if o.symptom != symptom)})


def test_a_mend_with_a_look_missing_is_not_settled() -> None:
    """The same mend is settled with the look-over made, and says what is owed without one look of it."""
    book = load_rules()
    case = load_case(shipped("cases") / "strainer-choked-fix-and-go.yaml")
    made, owed = assess(case, book), assess(without(case, "soot-marks"), book)
    assert made.decision == owed.decision == "fix, then go"
    assert made.departure.settled
    assert not owed.departure.settled
    assert "look still owed" in owed.departure.headline
