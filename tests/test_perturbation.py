"""Small changes of what was seen, on every shipped case and every real account: a stay never turns into a plain go for a trifle."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from diagnose import assess, load_case, load_rules
from diagnose.assessment import Assessment
from diagnose.case import Case

pytestmark = pytest.mark.slow
HERE = Path(__file__).parent
CASES = sorted([*(HERE.parent / "cases").glob("*.yaml"), *(HERE / "outside" / "field").glob("field-*.yaml")])
MOST_IN_A_CASE = 8
ADDED = "exhaust-tick"
"""A sign of no weight, added clear."""

every_case = pytest.mark.parametrize("path", CASES, ids=[p.stem for p in CASES])


@cache
def as_it_stands(path: Path) -> Assessment:
    return judged(load_case(path))


def judged(case: Case) -> Assessment:
    return assess(case, load_rules(), next_check=False, ledger=False)


def observations(case: Case) -> list[dict[str, Any]]:
    return [o.model_dump(exclude_none=True, exclude_defaults=True) for o in case.observations]


def with_observations(case: Case, seen: list[dict[str, Any]]) -> Case:
    data = case.model_dump(exclude={"observations", "expect"})
    return Case.model_validate({**data, "observations": seen})


def dropped(case: Case) -> Iterator[tuple[str, Case]]:
    """The case without each of its observations in turn."""
    seen = observations(case)
    for i, one in enumerate(seen[:MOST_IN_A_CASE]):
        yield str(one.get("symptom") or one["reading"]), with_observations(case, [*seen[:i], *seen[i + 1 :]])


def moved(case: Case) -> Iterator[tuple[str, Case]]:
    """The case with each graded observation one grade milder and one worse."""
    book, seen = load_rules(), observations(case)
    for i, one in enumerate(seen[:MOST_IN_A_CASE]):
        name = one.get("symptom", "")
        symptom = book.symptoms.get(book.now_called(name))
        if symptom is None or "grade" not in one:
            continue
        grades = list(symptom.grades)
        for near in (grades.index(one["grade"]) - 1, grades.index(one["grade"]) + 1):
            if 0 <= near < len(grades):
                yield symptom.id, with_observations(case, [*seen[:i], {**one, "grade": grades[near]}, *seen[i + 1 :]])


def is_reason(before: Assessment, symptom: str) -> bool:
    """Whether an observation was a reason to stay: a hold that decides rests on it, or it is a leak that does not fit; of a reading,
    what was worked out of it."""
    told = {symptom} | {w.symptom for w in before.workings if symptom in w.observations}
    seen = {o.id for o in before.observations if o.symptom in told}
    holding = {h.rule for h in before.holds if h.keeps_in}
    return any(f.rule in holding and seen & set(f.observations) for f in before.trace) or any(
        leak.symptom == symptom and leak.verdict == "does not fit" for leak in before.leaks)


@every_case
def test_no_trifle_turns_a_stay_into_a_go(path: Path) -> None:
    """Dropping an observation, or moving it by a grade, frees no boat that was told to stay unless it was the reason."""
    case = load_case(path)
    before = as_it_stands(path)
    if before.decision != "stay":
        return
    freed = {symptom for near_of in (dropped, moved) for symptom, near in near_of(case)
             if not is_reason(before, symptom) and judged(near).decision == "go"}
    assert freed - {only_sign(before)} == set()


def only_sign(before: Assessment) -> str:
    """The one thing found, where there is but one: it was the reason."""
    found = {o.symptom for o in before.observations if not o.clear}
    return found.pop() if len(found) == 1 else ""


@every_case
def test_a_sign_without_weight_changes_no_decision(path: Path) -> None:
    """One more thing looked for and not there, far from what is wrong, leaves the decision as it was."""
    case = load_case(path)
    seen = observations(case)
    if any(o.get("symptom") == ADDED for o in seen):
        return
    more = with_observations(case, [*seen, {"symptom": ADDED, "grade": "none"}])
    assert judged(more).decision == as_it_stands(path).decision
