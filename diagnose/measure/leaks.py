"""The budget of a leak over a trip: what it is planned at, what may go, how long that lasts.

A leak grows with revs, heat and hours, so it is planned at three times what was measured, and only a third
of the reserve is counted (common practice). A header tank cannot be opened hot: without an expansion bottle
only what the header itself can spare lasts between two cool-downs, whatever is carried.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

GROWTH = 3.0
RESERVE_SHARE = 1.0 / 3.0
ROUND_OFF = 1e-9
"""What exactly fits, fits."""


@dataclass(frozen=True)
class Budget:
    """Litres and hours of one leak on one trip."""

    planned_ml_h: float
    lost_litres: float
    lasts_hours: float
    top_up_litres: float | None
    top_up_every_hours: float | None
    verdict: Literal["fits", "needs topping up", "does not fit"]
    arithmetic: str


def planned_rate(low: float, high: float, *, measured: bool) -> float:
    """Rate to plan on [mL/h]: three times the measured one, or three times the middle of a graded range.

    Raises:
        ValueError: a rate that is not positive, or high under low.
    """
    if not 0 < low <= high:
        raise ValueError("a leak rate is positive, low before high")
    return GROWTH * (high if measured else math.sqrt(low * high))


def coolant_budget(planned_ml_h: float, hours: float, header_litres: float, aboard_litres: float, *,
                   fill_hot: bool, cool_downs: int) -> Budget:
    """Budget of a coolant leak.

    Args:
        planned_ml_h: rate planned on [mL/h].
        hours: engine hours of the trip [h].
        header_litres: what may go before circulation suffers [L].
        aboard_litres: coolant and fresh water carried [L].
        fill_hot: True when an expansion bottle can be filled with the engine running.
        cool_downs: stops long enough to open the header cold.

    Raises:
        ValueError: a negative quantity.
    """
    if min(planned_ml_h, hours, header_litres, aboard_litres, cool_downs) < 0:
        raise ValueError("leaks, hours and reserves are not negative")
    lost = planned_ml_h * hours / 1000.0
    spare = header_litres * RESERVE_SHARE
    carried = aboard_litres * RESERVE_SHARE
    every = spare / planned_ml_h * 1000.0 if planned_ml_h > 0 else math.inf
    chances_to_fill = math.inf if fill_hot else float(cool_downs)
    usable = spare + min(carried, chances_to_fill * spare if chances_to_fill < math.inf else carried)
    lasts = usable / planned_ml_h * 1000.0 if planned_ml_h > 0 else math.inf
    sums = (f"{planned_ml_h:.0f} mL/h x {hours:g} h = {lost:.2f} L; a third of the header's {header_litres:g} L is {spare:.2f} L, "
            f"a third of {aboard_litres:g} L carried is {carried:.2f} L")
    if lost <= spare + ROUND_OFF:
        return Budget(planned_ml_h, lost, lasts, None, None, "fits", sums)
    if lost <= usable + ROUND_OFF:
        return Budget(planned_ml_h, lost, lasts, spare, every, "needs topping up", sums)
    if not fill_hot and lost <= spare + carried:
        sums += "; the header cannot be opened hot, so what is carried does not help without cool-downs"
    return Budget(planned_ml_h, lost, lasts, None, None, "does not fit", sums)


def inflow_budget(planned_ml_h: float, hours: float, pump_litres_h: float) -> Budget:
    """Budget of sea water coming in, against a quarter of what the worst working pump really lifts.

    Args:
        planned_ml_h: rate planned on [mL/h].
        hours: hours until somebody can stop it [h], running or not.
        pump_litres_h: what the worst working bilge pump lifts [L/h].

    Raises:
        ValueError: a negative quantity.
    """
    if min(planned_ml_h, hours, pump_litres_h) < 0:
        raise ValueError("leaks, hours and pumps are not negative")
    inflow = planned_ml_h / 1000.0
    allowed = pump_litres_h / 4.0
    sums = f"{inflow:.2f} L/h planned against a quarter of the pump's {pump_litres_h:g} L/h, {allowed:.0f} L/h"
    verdict: Literal["fits", "does not fit"] = "fits" if inflow <= allowed + ROUND_OFF else "does not fit"
    return Budget(planned_ml_h, inflow * hours, math.inf, None, None, verdict, sums)
