"""Which repair to try first when only one can be the right one, or when each has its chance of being enough.

With one fault and repairs that each cure it with a known chance, the least expected cost comes of trying them in falling order
of chance over cost (Kadane and Simon; Heckerman, Breese and Rommelse 1995). It holds for chances that exclude one another
and for chances that are independent alike.
"""

from __future__ import annotations

from collections.abc import Sequence


def best_order(chances: Sequence[float], costs: Sequence[float]) -> tuple[int, ...]:
    """Places of the repairs in the order of chance over cost, ties by place.

    Args:
        chances: 0 to 1, of each repair.
        costs: above 0, in any one unit.

    Raises:
        ValueError: a cost that is not above nought, or as many chances as costs are not given.
    """
    _check(chances, costs)
    return tuple(sorted(range(len(costs)), key=lambda i: (-chances[i] / costs[i], i)))


def cost_if_one(order: Sequence[int], chances: Sequence[float], costs: Sequence[float]) -> float:
    """Expected cost of trying repairs in this order until one cures, where exactly one fault is there and each repair cures its own.

    Args:
        order: places of the repairs.
        chances: of each fault; they add up to at most one.
        costs: of each repair.

    Raises:
        ValueError: see `best_order`.
    """
    _check(chances, costs)
    total, left = 0.0, 1.0
    for i in order:
        total += left * costs[i]
        left -= chances[i]
    return total


def cost_if_independent(order: Sequence[int], chances: Sequence[float], costs: Sequence[float]) -> float:
    """Expected cost of trying ways in this order until one is enough, where each is enough with its own chance whatever failed before.

    Raises:
        ValueError: see `best_order`.
    """
    _check(chances, costs)
    total, left = 0.0, 1.0
    for i in order:
        total += left * costs[i]
        left *= 1.0 - chances[i]
    return total


def _check(chances: Sequence[float], costs: Sequence[float]) -> None:
    if len(chances) != len(costs) or any(cost <= 0 for cost in costs):
        raise ValueError("each repair needs one chance and one cost above nought")
