"""The leaks of a case: which observations are losses, and the budget of each fluid over the trip."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.assessment import LeakBudget
from diagnose.knowledge.book import Book
from diagnose.knowledge.lists import Meant
from diagnose.measure import leaks
from diagnose.seen import Seen
from diagnose.situation import Situation


@dataclass(frozen=True)
class _Loss:
    seen: Seen
    low: float
    high: float


def budgets(book: Book, situation: Situation) -> tuple[LeakBudget, ...]:
    """The worst loss of each fluid, budgeted. Losses of one fluid are one leak seen in several places, so the
    largest counts and not the sum; and where one of them was measured, what was only graded does not."""
    worst: dict[str, _Loss] = {}
    for seen in situation.seen:
        leak = book.symptoms[seen.symptom].leak
        if leak is None or not seen.present or seen.epoch == "before":
            continue
        grade = list(book.symptoms[seen.symptom].grades)[max(seen.low, 1)]
        low, high = leak.rates[grade] if seen.value is None else (seen.value, seen.value)
        before = worst.get(leak.fluid)
        if before is None or (seen.value is not None, low * high) > (before.seen.value is not None, before.low * before.high):
            worst[leak.fluid] = _Loss(seen, low, high)
    return tuple(_budget(situation, book.words.meant, fluid, loss) for fluid, loss in sorted(worst.items())
                 if fluid in ("coolant", "sea-water-in"))


def _budget(situation: Situation, meant: Meant, fluid: str, loss: _Loss) -> LeakBudget:
    planned = leaks.planned_rate(loss.low, loss.high, measured=loss.seen.value is not None)
    header = float(situation.facts.get(meant.header_reserve or "", 0.0))
    if fluid == "coolant":
        budget = leaks.coolant_budget(
            planned, situation.trip_hours, header, situation.coolant_aboard,
            fill_hot=situation.facts.get(meant.fill_hot or "") is True, cool_downs=situation.case.trip.cool_downs or 0,
        )
        reserve = situation.coolant_aboard
    else:
        budget = leaks.inflow_budget(planned, situation.hours_away, situation.bilge_pump)
        reserve, header = situation.bilge_pump, 0.0
    return LeakBudget(
        symptom=loss.seen.symptom, fluid=fluid, measured_ml_h=(loss.low, loss.high), planned_ml_h=budget.planned_ml_h,
        lost_litres=budget.lost_litres, reserve_litres=reserve, header_litres=header, lasts_hours=min(budget.lasts_hours, 1e6),
        top_up_litres=budget.top_up_litres, top_up_every_hours=budget.top_up_every_hours, verdict=budget.verdict,
        arithmetic=f"{_planned_words(loss)}; {budget.arithmetic}",
    )


def _planned_words(loss: _Loss) -> str:
    """Why the leak is planned at what it is."""
    rate = f"{loss.low:.3g} mL/h measured" if loss.seen.value is not None else f"the middle of {loss.low:.3g} to {loss.high:.3g} mL/h"
    return f"planned at {leaks.GROWTH:.0f} times {rate}, for leaks grow with revs, heat and hours"
