"""What was seen before the work, weighed beside what is seen now: against counting out every state of a small network."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.network.belief import Belief, Query
from diagnose.network.nodes import Net, make_net
from diagnose.network.past import NOT_CURED, NOT_NOTICED, NOT_SO, Past, beside

A, B = 0.2, 0.1
SHOWS_A, SHOWS_B, BACKGROUND = 0.9, 0.6, 0.05


def net() -> Net:
    """Two faults that show on one sign."""
    nodes = [("a", "fault", 2, None), ("b", "fault", 2, None), ("wet@idle", "sign", 2, np.array([1 - BACKGROUND, 1.0]))]
    links = [(f, "wet@idle", np.array([[1.0, 1.0], [1.0 - p, 1.0]])) for f, p in (("a", SHOWS_A), ("b", SHOWS_B))]
    return make_net(nodes, links)  # type: ignore[arg-type]


def wet(a: int, b: int) -> float:
    """How often the sign shows."""
    return 1.0 - (1.0 - BACKGROUND) * (1.0 - SHOWS_A) ** a * (1.0 - SHOWS_B) ** b


@pytest.mark.parametrize("found", [None, True, False])
def test_chances_after_the_work_are_those_of_counting_out(found: bool | None) -> None:
    """Fault a is cured and one time in twenty is not; b stays. The sign showed before; now nothing is seen."""
    past = Past({"a": (np.array([1 - A, A]), np.array([1.0, 0.0]))}, {}, {"wet@idle": np.array([0.0, 1.0])},
                {} if found is None else {"a": found})
    both = beside(net(), past)
    prior = {both.index[n]: p for n, p in past.priors.items()} | {both.index["b"]: np.array([1 - B, B])}
    answers = Belief.of([(1.0, both, prior)], past.told).ask([Query()])
    mass = np.zeros((2, 2))
    for was in (0, 1):
        for b in (0, 1):
            told = 1.0 if found is None else (1.0 - NOT_NOTICED if was else NOT_SO) if found else (NOT_NOTICED if was else 1.0)
            weight = (A if was else 1 - A) * (B if b else 1 - B) * wet(was, b) * told
            mass[1, b] += weight * NOT_CURED * was
            mass[0, b] += weight * (1.0 - NOT_CURED * was)
    assert answers.chance("a") == pytest.approx(mass[1].sum() / mass.sum())
    assert answers.chance("b") == pytest.approx(mass[:, 1].sum() / mass.sum())
    assert set(answers.mass) == {"a", "b"}


def test_a_fault_found_and_left_is_there_as_counting_out_says() -> None:
    """Found for certain and not cured: it speaks at the fault of now itself, so hardly anything speaks against it."""
    past = Past({}, {}, {}, {"b": True})
    both = beside(net(), past)
    prior = {both.index["a"]: np.array([1 - A, A]), both.index["b"]: np.array([1 - B, B])}
    answers = Belief.of([(1.0, both, prior)], {**past.told, "wet@idle": np.array([0.0, 1.0])}).ask([Query()])
    mass = np.zeros((2, 2))
    for a in (0, 1):
        for b in (0, 1):
            mass[a, b] = (A if a else 1 - A) * (B if b else 1 - B) * wet(a, b) * (1.0 - NOT_NOTICED if b else NOT_SO)
    assert answers.chance("a") == pytest.approx(mass[1].sum() / mass.sum())
    assert answers.chance("b") == pytest.approx(mass[:, 1].sum() / mass.sum())
