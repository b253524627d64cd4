"""Readings of an invented engine, made by the model of the cooling, with or without the noise of ordinary tools."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from typing import Any

from diagnose.case import Case
from diagnose.measure import cooling

ENGINE: dict[str, float] = {
    "power": 20e3, "rated_speed": 50.0, "opens": 80.0, "travel": 10.0, "heat_per_power": 0.95, "no_load": 0.3, "exponent": 2.8,
    "raw_per_power": 0.9e-3 / 60e3, "coolant_per_power": 2.1e-3 / 60e3, "conductance_per_power": 0.025,
}
"""20 kW at 3000 rpm: what the book takes where an owner says nothing."""
ARRANGEMENT = {"cooling": "heat-exchanger", "raw-water-pump-drive": "gear", "coolant-pump-drive": "belt"}
"""Said, so that one kind of boat is weighed."""
NOISE = {"gauge-temperature": 2.0, "housing-temperature": 1.5, "hose-to-exchanger-temperature": 1.5,
         "coolant-from-exchanger-temperature": 1.5, "raw-water-out-temperature": 1.5, "sea-temperature": 0.4}
"""One standard deviation of ordinary tools [K]: a panel gauge, infrared on tape, a thermometer in a bucket."""
BUCKET = 0.05
"""The same of a bucket and a watch, as a share of the flow."""


def exact(trouble: str, rpm: float, sea: float, **changed: float) -> dict[str, float]:
    """What each reading is on this engine, in the book's units."""
    h = cooling.with_fault(trouble, rpm / 60.0, sea, **{**ENGINE, **changed})  # type: ignore[arg-type]
    return {"gauge-temperature": h.gauge, "housing-temperature": h.engine_out, "hose-to-exchanger-temperature": h.to_exchanger,
            "coolant-from-exchanger-temperature": h.from_exchanger, "raw-water-out-temperature": h.raw_out, "sea-temperature": sea,
            "raw-water-caught": h.raw_flow * 6e4}


def written(values: Mapping[str, float], rpm: float | None, state: str = "under-load", **more: Any) -> list[dict[str, Any]]:
    """Readings as they stand in a case."""
    at = {} if rpm is None else {"at_rpm": rpm}
    return [{"reading": name, "value": f"{value:.6f} " + ("L/min" if name == "raw-water-caught" else "degC"), "state": state, **at, **more}
            for name, value in values.items()]


def readings(trouble: str, rpm: float, sea: float, **changed: float) -> list[dict[str, Any]]:
    """What an instrument without error reads."""
    return written(exact(trouble, rpm, sea, **changed), rpm)


def noisy(trouble: str, rpm: float, sea: float, rng: random.Random, scale: float = 1.0, **changed: float) -> list[dict[str, Any]]:
    """What ordinary tools read, their errors times `scale`."""
    values = exact(trouble, rpm, sea, **changed)
    for name, sigma in NOISE.items():
        values[name] += scale * rng.gauss(0.0, sigma)
    values["raw-water-caught"] *= 1.0 + scale * rng.gauss(0.0, BUCKET)
    return written(values, rpm)


def case_of(observations: Sequence[Mapping[str, Any]], **boat: Any) -> Case:
    """A case with these observations, of a boat whose cooling is known."""
    arrangement = {**ARRANGEMENT, **boat.pop("arrangement", {})}
    trip = {"engine_hours": 4, "exposure": "coastal", "can_sail": False}
    return Case.model_validate({"opened_because": "noticed-something", "trip": trip, "boat": {"arrangement": arrangement, **boat},
                                "observations": list(observations)})
