"""The order of tries: against the published theorem and against every order."""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.work.tries import best_order, cost_if_independent, cost_if_one

CHANCES, COSTS = (0.45, 0.25, 0.20, 0.10), (60.0, 15.0, 40.0, 5.0)
MANY = st.integers(1, 5).flatmap(lambda n: st.tuples(st.lists(st.floats(0.01, 0.9), min_size=n, max_size=n),
                                                     st.lists(st.floats(0.1, 100.0), min_size=n, max_size=n)))


def test_chance_over_cost_is_the_best_order_of_repairs() -> None:
    """Kadane and Simon's theorem as Heckerman, Breese and Rommelse (1995) use it: 4-2-1-3 costs 65.5; figures summed by hand over all
    24 orders."""
    assert best_order(CHANCES, COSTS) == (3, 1, 0, 2)
    costs = {order: cost_if_one(order, CHANCES, COSTS) for order in permutations(range(4))}
    assert costs[(3, 1, 0, 2)] == pytest.approx(65.5)
    assert min(costs.values()) == pytest.approx(65.5)
    assert max(costs.values()) == pytest.approx(93.75)
    assert costs[(0, 1, 2, 3)] == pytest.approx(80.75)
    assert costs[(3, 1, 2, 0)] == pytest.approx(71.5)


@given(MANY)
def test_no_order_is_cheaper(chances_and_costs: tuple[list[float], list[float]]) -> None:
    """With shares that exclude one another, and with independent chances, no other order has a lower expected cost."""
    chances, costs = chances_and_costs
    shares = [c / sum(chances) for c in chances]
    orders = list(permutations(range(len(costs))))
    one = cost_if_one(best_order(shares, costs), shares, costs)
    assert one <= min(cost_if_one(o, shares, costs) for o in orders) * (1 + 1e-9)
    free = cost_if_independent(best_order(chances, costs), chances, costs)
    assert free <= min(cost_if_independent(o, chances, costs) for o in orders) * (1 + 1e-9)


def test_what_cannot_be_a_cost_is_refused() -> None:
    """A cost of nought, or a chance without a cost, is an error and not an order."""
    with pytest.raises(ValueError, match="above nought"):
        best_order([0.5], [0.0])
    with pytest.raises(ValueError, match="one chance"):
        cost_if_one([0], [0.5, 0.5], [1.0])
