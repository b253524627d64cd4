"""The heat exchanger between coolant and raw water: what it conducts, how that compares with clean, what it will do.

Conductance is heat for each kelvin of mean difference between the two streams [W/K]; books write it UA, or U where it is for a
square metre. It falls with scale and mud, with weak flow on either side, and with air in the tubes.
"""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from diagnose.measure import coolant, water
from diagnose.measure.coolant import Glycol
from diagnose.measure.heat import raw_water_heat
from diagnose.measure.valid import check

__all__ = [
    "Cleanliness",
    "Flow",
    "Forecast",
    "Layout",
    "Outlets",
    "Readings",
    "Temperatures",
    "clean_at_flows",
    "cleanliness",
    "conductance",
    "correction",
    "effectiveness",
    "forecast",
    "fouled",
    "four_temperatures",
    "log_mean",
    "log_mean_difference",
    "ntu",
    "outlets",
    "rate",
    "temperatures",
]

Flow = Literal["counterflow", "parallel", "two-pass", "max-mixed", "min-mixed"]
"""How two streams pass. `two-pass`: one shell, an even number of tube passes; `max-mixed`, `min-mixed`: cross flow, with the stream
of the larger or the smaller heat capacity mixed."""
Layout = Literal["counterflow", "two-pass", "crossflow", "parallel"]
"""How an exchanger is built. In `crossflow` the coolant is mixed round the tubes and the raw water runs apart in each tube."""

COOLANT_LOW, COOLANT_HIGH = 0.0, 130.0
RAW_LOW, RAW_HIGH = -2.0, 100.0
NTU_HIGH = 1e3


class Readings(NamedTuple):
    """What four temperatures and a caught flow say.

    Conductance [W/K], heat to the raw water [W], raw-water flow and the coolant flow that goes with it [m^3/s], mean difference
    between the streams [K], and the heat moved as a share of what could be moved at most.
    """

    conductance: float
    heat: float
    raw_flow: float
    coolant_flow: float
    mean_difference: float
    effectiveness: float


class Temperatures(NamedTuple):
    """What four temperatures say without any flow.

    `approach` coolant out over raw in, `terminal` coolant in over raw out, `rise` of the raw water, `drop` of the coolant [K];
    `raw_share` rise over the whole span, `flow_ratio` heat capacity of the raw stream over that of the coolant stream,
    `ntu` conductance over heat capacity of the raw stream.
    """

    approach: float
    terminal: float
    rise: float
    drop: float
    raw_share: float
    flow_ratio: float
    ntu: float


class Outlets(NamedTuple):
    """Heat moved [W], the two temperatures that leave [deg C], and the heat as a share of what could be moved at most."""

    heat: float
    coolant_out: float
    raw_out: float
    effectiveness: float


class Cleanliness(NamedTuple):
    """Conductance over clean, the share of it that is lost, what the dirt resists [K/W], and the same for a square metre [m^2 K/W]."""

    factor: float
    lost: float
    resistance: float
    fouling: float | None


class Forecast(NamedTuple):
    """Coolant temperature to expect where it enters the exchanger [deg C], and how far that is under the limit [K]."""

    coolant_then: float
    margin: float


# ------------------------------------------------------------------ mean differences


def log_mean(one: float, other: float) -> float:
    """Logarithmic mean of two differences, (a - b) / ln(a / b), without a hole where they are equal.

    Args:
        one, other: both over 0 and up to 1e6.

    Raises:
        OutOfRangeError: outside that range.

    Source: every textbook on heat transfer; written as half the sum times x / artanh x, with x = (a - b) / (a + b).
    """
    check("one", one, 1e-12, 1e6)
    check("other", other, 1e-12, 1e6)
    x = (one - other) / (one + other)
    spread = 1.0 - x * x / 3.0 - 4.0 * x**4 / 45.0 if abs(x) < 1e-3 else x / math.atanh(x)
    return (one + other) / 2.0 * spread


def log_mean_difference(hot_in: float, hot_out: float, cold_in: float, cold_out: float, flow: Literal["counterflow", "parallel"]) -> float:
    """Mean difference between two streams in pure counterflow or parallel flow [K].

    Args:
        hot_in, hot_out: of the warmer stream [deg C].
        cold_in, cold_out: of the colder stream [deg C].
        flow: counterflow or parallel.

    Raises:
        ValueError: the colder stream is not colder at both ends.

    Source: as `log_mean`.
    """
    ends = (hot_in - cold_out, hot_out - cold_in) if flow == "counterflow" else (hot_in - cold_in, hot_out - cold_out)
    if min(ends) <= 0.0:
        raise ValueError("the colder stream must be colder than the warmer one at both ends")
    return log_mean(*ends)


def correction(hot_in: float, hot_out: float, cold_in: float, cold_out: float, flow: Flow) -> float:
    """Factor on the counterflow mean for another way of passing: ntu in counterflow over ntu in this one, at the same temperatures.

    Args:
        hot_in, hot_out: of the warmer stream [deg C].
        cold_in, cold_out: of the colder stream [deg C].
        flow: how the streams pass.

    Raises:
        ValueError: the temperatures cannot be reached that way.

    Source: definition; for `two-pass` it is the factor of Bowman, Mueller and Nagle (1940) and Fakheri (2003).
    """
    share, ratio = _of_temperatures(hot_in, hot_out, cold_in, cold_out)
    return ntu(share, ratio, "counterflow") / ntu(share, ratio, flow) if share > 0.0 else 1.0


# ------------------------------------------------------------------ effectiveness and number of transfer units


def effectiveness(units: float, ratio: float, flow: Flow) -> float:
    """Heat moved as a share of what could be moved at most, from the number of transfer units.

    Args:
        units: conductance over the smaller heat capacity rate, 0 to 1000.
        ratio: smaller heat capacity rate over the larger, 0 to 1.
        flow: how the streams pass.

    Raises:
        OutOfRangeError: outside these ranges.

    Source: Kays and London, Compact Heat Exchangers; the same formulas stand in Incropera and in Holman.
    """
    check("units", units, 0.0, NTU_HIGH)
    check("ratio", ratio, 0.0, 1.0)
    if flow == "counterflow":
        part = units * _fade(units * (1.0 - ratio))
        return part / (1.0 + ratio * part)
    if flow == "parallel":
        return units * _fade(units * (1.0 + ratio))
    if flow == "two-pass":
        root = math.hypot(1.0, ratio)
        half = units * root / 2.0
        return 2.0 * math.tanh(half) / ((1.0 + ratio) * math.tanh(half) + root)
    if flow == "max-mixed":
        part = -math.expm1(-units)
        return part * _fade(ratio * part)
    return -math.expm1(-units * _fade(ratio * units))


def ntu(share: float, ratio: float, flow: Flow) -> float:
    """Number of transfer units from the effectiveness: `effectiveness` turned round.

    Args:
        share: effectiveness, 0 to under 1.
        ratio: smaller heat capacity rate over the larger, 0 to 1.
        flow: how the streams pass.

    Raises:
        OutOfRangeError: outside these ranges.
        ValueError: no exchanger of this kind, however large, moves so much.

    Source: as `effectiveness`.
    """
    check("share", share, 0.0, 1.0)
    check("ratio", ratio, 0.0, 1.0)
    if share >= _most(ratio, flow):
        raise ValueError("no exchanger of this kind, however large, moves so much heat between such streams")
    if flow == "counterflow":
        return share / log_mean(1.0 - share, 1.0 - share * ratio)
    if flow == "parallel":
        return -math.log1p(-share * (1.0 + ratio)) / (1.0 + ratio)
    if flow == "two-pass":
        root = math.hypot(1.0, ratio)
        return 2.0 / root * math.atanh(root * share / (2.0 - share * (1.0 + ratio)))
    if flow == "max-mixed":
        return -math.log1p(-share * _swell(share * ratio))
    part = -math.log1p(-share)
    return part * _swell(part * ratio)


def rate(hot_in: float, cold_in: float, hot_capacity: float, cold_capacity: float, heat_conductance: float, flow: Flow) -> Outlets:
    """Heat and outlet temperatures of an exchanger from what goes in: effectiveness x smaller heat capacity rate x span.

    Args:
        hot_in: of the warmer stream, up to 1000 [deg C].
        cold_in: of the colder stream, from -50 [deg C].
        hot_capacity, cold_capacity: flow x density x specific heat, 0.1 to 1e6 [W/K].
        heat_conductance: 0 to 1e6 [W/K].
        flow: how the streams pass.

    Raises:
        OutOfRangeError: outside these ranges.

    Source: the effectiveness method of Kays and London.
    """
    check("hot_in", hot_in, cold_in, 1000.0, "degC")
    check("cold_in", cold_in, -50.0, 1000.0, "degC")
    check("heat_conductance", heat_conductance, 0.0, 1e6, "W/K")
    small, large = sorted((check("hot_capacity", hot_capacity, 0.1, 1e6, "W/K"), check("cold_capacity", cold_capacity, 0.1, 1e6, "W/K")))
    share = effectiveness(heat_conductance / small, small / large, flow)
    heat = share * small * (hot_in - cold_in)
    return Outlets(heat, hot_in - heat / hot_capacity, cold_in + heat / cold_capacity, share)


# ------------------------------------------------------------------ from readings


def conductance(coolant_in: float, coolant_out: float, raw_in: float, raw_out: float, raw_flow: float, salinity: float = 35.0,
                layout: Layout = "counterflow", slack: float = 2.0) -> float:
    """Conductance of the exchanger [W/K]: heat that the raw water takes up / mean difference of the streams.

    The heat is taken from the raw water alone, whose flow can be caught in a bucket. Where the coolant hardly cools, the reading
    of its drop may be lost in the noise; the figure then runs on smoothly to that of a coolant that does not cool at all.

    Args:
        coolant_in, coolant_out: where the coolant enters and leaves the exchanger, 0 to 130 [deg C].
        raw_in, raw_out: where the raw water enters and leaves it, -2 to 80 [deg C].
        raw_flow: as caught at the outlet, 0 to 0.1 [m^3/s].
        salinity: practical salinity of the raw water, 0 to 42.
        layout: how the exchanger is built.
        slack: how far noise may turn a drop or rise round before the readings are refused, 0 to 10 [K].

    Raises:
        OutOfRangeError: outside these ranges.
        ValueError: the readings cannot be: the raw water as warm as the coolant at either end, or a stream that changes its
            temperature the wrong way by more than `slack`.

    Source: definition; mean difference as `log_mean`, properties by IAPWS.
    """
    check("slack", slack, 0.0, 10.0, "K")
    coolant_out, raw_out = _possible(coolant_in, coolant_out, raw_in, raw_out, slack)
    capacity = _raw_capacity(raw_flow, raw_in, raw_out, salinity)
    return capacity * _raw_units(coolant_in, coolant_out, raw_in, raw_out, layout)


def four_temperatures(coolant_in: float, coolant_out: float, raw_in: float, raw_out: float, caught: float, time: float,
                      salinity: float, layout: Layout, kind: Glycol, share: float, strength: float) -> Readings:
    """Conductance, heat and the coolant flow behind it, from four temperatures and a bucket.

    Args:
        coolant_in, coolant_out: where the coolant enters and leaves the exchanger, 0 to 100 [deg C].
        raw_in, raw_out: where the raw water enters and leaves it, -2 to 80 [deg C].
        caught: raw water caught at the outlet, 0.1 L to 1 m^3 [m^3].
        time: in what time, 1 to 600 [s].
        salinity: practical salinity of the raw water, 0 to 42.
        layout: how the exchanger is built.
        kind: ethylene or propylene.
        share: concentrate in the coolant by volume, 0 (plain water) to about 0.6.
        strength: glycol in the concentrate by volume, 0.8 to 1.

    Raises:
        OutOfRangeError: outside these ranges.
        ValueError: the coolant does not cool, the raw water does not warm, or the readings cannot be together.

    Source: as `conductance`; the coolant flow by conservation of energy.
    """
    check("caught", caught, 1e-4, 1.0, "m^3")
    flow = caught / check("time", time, 1.0, 600.0, "s")
    _both_change(coolant_in, coolant_out, raw_in, raw_out)
    ua = conductance(coolant_in, coolant_out, raw_in, raw_out, flow, salinity, layout, 0.0)
    heat = raw_water_heat(flow, raw_in, raw_out, salinity)
    drop = coolant_in - coolant_out
    volume_heat = (coolant.density(kind, share, strength, coolant_in)
                   * coolant.specific_heat(kind, share, strength, (coolant_in + coolant_out) / 2.0))
    moved, _ = _of_temperatures(coolant_in, coolant_out, raw_in, raw_out)
    return Readings(ua, heat, flow, heat / (volume_heat * drop), heat / ua, moved)


def temperatures(coolant_in: float, coolant_out: float, raw_in: float, raw_out: float, layout: Layout) -> Temperatures:
    """What four temperatures tell without a flow meter.

    Heat and density drop out: rise over drop is the ratio of the streams, and rise over mean difference is conductance over the
    heat capacity of the raw stream.

    Args:
        coolant_in, coolant_out: where the coolant enters and leaves the exchanger, 0 to 130 [deg C].
        raw_in, raw_out: where the raw water enters and leaves it, -2 to 100 [deg C].
        layout: how the exchanger is built.

    Raises:
        OutOfRangeError: outside these ranges.
        ValueError: the coolant does not cool, the raw water does not warm, or the readings cannot be together.

    Source: definitions.
    """
    _both_change(coolant_in, coolant_out, raw_in, raw_out)
    _possible(coolant_in, coolant_out, raw_in, raw_out, 0.0)
    rise, drop = raw_out - raw_in, coolant_in - coolant_out
    units = _raw_units(coolant_in, coolant_out, raw_in, raw_out, layout)
    return Temperatures(coolant_out - raw_in, coolant_in - raw_out, rise, drop, rise / (coolant_in - raw_in), drop / rise, units)


def outlets(coolant_in: float, raw_in: float, coolant_flow: float, raw_flow: float, heat_conductance: float, layout: Layout,
            kind: Glycol, share: float, strength: float, salinity: float) -> Outlets:
    """What an exchanger of known conductance does with two streams.

    Args:
        coolant_in: where the coolant enters, 0 to 100 [deg C].
        raw_in: where the raw water enters, -2 to 80 and not over `coolant_in` [deg C].
        coolant_flow: through the exchanger, 1e-6 to 0.01 [m^3/s].
        raw_flow: 1e-6 to 0.01 [m^3/s].
        heat_conductance: 1 to 1e5 [W/K].
        layout: how the exchanger is built.
        kind: ethylene or propylene.
        share: concentrate by volume, 0 (plain water) to about 0.6.
        strength: glycol in the concentrate by volume, 0.8 to 1.
        salinity: practical salinity of the raw water, 0 to 42.

    Raises:
        OutOfRangeError: outside these ranges.

    Source: as `rate`; properties by Melinder and IAPWS, taken where each stream enters.
    """
    check("coolant_flow", coolant_flow, 1e-6, 0.01, "m^3/s")
    check("raw_flow", raw_flow, 1e-6, 0.01, "m^3/s")
    check("raw_in", raw_in, water.SEA_LOW, coolant_in, "degC")
    check("heat_conductance", heat_conductance, 1.0, 1e5, "W/K")
    hot = coolant_flow * coolant.density(kind, share, strength, coolant_in) * coolant.specific_heat(kind, share, strength, coolant_in)
    cold = _raw_capacity(raw_flow, raw_in, raw_in, salinity)
    return rate(coolant_in, raw_in, hot, cold, heat_conductance, _flow(layout, coolant_is_larger=hot >= cold))


# ------------------------------------------------------------------ clean and dirty


def fouled(clean: float, fouling: float) -> float:
    """Heat transfer coefficient with a layer of dirt [W/(m^2 K)]: 1 / (1 / clean + fouling).

    Args:
        clean: coefficient when clean, 1 to 20000 [W/(m^2 K)].
        fouling: resistance of the layer, 0 to 0.1 [m^2 K/W].

    Raises:
        OutOfRangeError: outside these ranges.

    Source: definition of fouling resistance, as in TEMA and Holman.
    """
    return 1.0 / (1.0 / check("clean", clean, 1.0, 2e4, "W/(m^2 K)") + check("fouling", fouling, 0.0, 0.1, "m^2 K/W"))


def cleanliness(now: float, clean: float, area: float | None = None) -> Cleanliness:
    """How far an exchanger has gone from clean: now / clean, and 1 / now - 1 / clean.

    Both conductances must be for the same two flows; `clean_at_flows` brings an old reading to the flows of today. A factor a little
    over 1 is noise.

    Args:
        now: conductance now, 1 to 1e5 [W/K].
        clean: conductance when clean, 1 to 1e5 [W/K].
        area: of the tubes, 0.001 to 100 [m^2], or None where it is not known.

    Raises:
        OutOfRangeError: outside these ranges.

    Source: Heat Exchange Institute's cleanliness factor (from memory), which Kreith uses in example 8.4.
    """
    check("now", now, 1.0, 1e5, "W/K")
    check("clean", clean, 1.0, 1e5, "W/K")
    resistance = 1.0 / now - 1.0 / clean
    fouling = None if area is None else resistance * check("area", area, 1e-3, 100.0, "m^2")
    return Cleanliness(now / clean, 1.0 - now / clean, resistance, fouling)


def clean_at_flows(clean: float, raw_ratio: float, coolant_ratio: float, tube_share: float = 0.5, tube_exponent: float = 0.8,
                   shell_exponent: float = 0.6) -> float:
    """Conductance of a clean exchanger at other flows [W/K]: clean / (s r^-m + (1 - s) q^-n), raw water in the tubes.

    Args:
        clean: conductance at the flows of old, 1 to 1e5 [W/K].
        raw_ratio: raw-water flow now over then (r), 0.1 to 10.
        coolant_ratio: coolant flow now over then (q), 0.1 to 10.
        tube_share: share of the clean resistance that lies on the tube side (s), 0 to 1. Rarely known; half is a fair guess.
        tube_exponent: how the tube side grows with flow (m), 0 to 1; 0.8 when turbulent.
        shell_exponent: how the shell side grows with flow (n), 0 to 1; 0.6 across tubes.

    Raises:
        OutOfRangeError: outside these ranges.

    Source: common practice: the exponents of Dittus and Boelter for tubes and of Kern's shell side (0.55 to 0.6), the wall left out.
    """
    check("clean", clean, 1.0, 1e5, "W/K")
    check("raw_ratio", raw_ratio, 0.1, 10.0)
    check("coolant_ratio", coolant_ratio, 0.1, 10.0)
    check("tube_share", tube_share, 0.0, 1.0)
    tube = check("tube_exponent", tube_exponent, 0.0, 1.0)
    shell = check("shell_exponent", shell_exponent, 0.0, 1.0)
    return float(clean / (tube_share * raw_ratio**-tube + (1.0 - tube_share) * coolant_ratio**-shell))


def forecast(coolant_in: float, raw_in: float, raw_then: float, load_ratio: float, limit: float) -> Forecast:
    """Coolant temperature in warmer water or at another load, flows and exchanger as they are: raw + span x load ratio.

    It holds where the thermostat stands wide open at the reading and then; below that the thermostat holds the coolant
    where it wants it, and the figure says less than will be seen.

    Args:
        coolant_in: where the coolant enters the exchanger now, 0 to 130 [deg C].
        raw_in: raw water now, -2 to 80 and under `coolant_in` [deg C].
        raw_then: raw water to come, -2 to 80 [deg C].
        load_ratio: heat to come over heat now, 0.05 to 10.
        limit: temperature the engine's book allows, 0 to 130 [deg C].

    Raises:
        OutOfRangeError: outside these ranges.
        ValueError: the coolant is no warmer than the raw water.

    Source: effectiveness that stays the same at the same flows (Kays and London).
    """
    check("coolant_in", coolant_in, COOLANT_LOW, COOLANT_HIGH, "degC")
    check("raw_in", raw_in, water.SEA_LOW, water.SEA_HIGH, "degC")
    check("raw_then", raw_then, water.SEA_LOW, water.SEA_HIGH, "degC")
    check("load_ratio", load_ratio, 0.05, 10.0)
    check("limit", limit, COOLANT_LOW, COOLANT_HIGH, "degC")
    if coolant_in <= raw_in:
        raise ValueError("the coolant is no warmer than the raw water")
    then = raw_then + (coolant_in - raw_in) * load_ratio
    return Forecast(then, limit - then)


# ------------------------------------------------------------------ parts


def _fade(x: float) -> float:
    """(1 - exp(-x)) / x, 1 at nought."""
    return -math.expm1(-x) / x if x > 1e-12 else 1.0 - x / 2.0


def _swell(x: float) -> float:
    """-ln(1 - x) / x, 1 at nought."""
    return -math.log1p(-x) / x if x > 1e-12 else 1.0 + x / 2.0


def _most(ratio: float, flow: Flow) -> float:
    """Effectiveness of an endless exchanger."""
    if flow == "parallel":
        return 1.0 / (1.0 + ratio)
    if flow == "two-pass":
        return 2.0 / (1.0 + ratio + math.hypot(1.0, ratio))
    if flow == "max-mixed":
        return _fade(ratio)
    return 1.0 if flow == "counterflow" or ratio == 0.0 else -math.expm1(-1.0 / ratio)


def _flow(layout: Layout, *, coolant_is_larger: bool) -> Flow:
    if layout == "crossflow":
        return "max-mixed" if coolant_is_larger else "min-mixed"
    return layout


def _of_temperatures(hot_in: float, hot_out: float, cold_in: float, cold_out: float) -> tuple[float, float]:
    """Effectiveness and ratio of the heat capacity rates, which are as the changes of temperature turned round."""
    small, large = sorted((hot_in - hot_out, cold_out - cold_in))
    if hot_in <= cold_in or small < 0.0:
        raise ValueError("the warmer stream must cool, the colder one warm, and the warmer one must enter warmer")
    return large / (hot_in - cold_in), (small / large if large > 0.0 else 0.0)


def _raw_units(coolant_in: float, coolant_out: float, raw_in: float, raw_out: float, layout: Layout) -> float:
    """Conductance over the heat capacity rate of the raw stream."""
    rise, drop = raw_out - raw_in, coolant_in - coolant_out
    share, ratio = _of_temperatures(coolant_in, coolant_out, raw_in, raw_out)
    units = ntu(share, ratio, _flow(layout, coolant_is_larger=rise >= drop))
    return units if rise >= drop else units * ratio


def _raw_capacity(raw_flow: float, raw_in: float, raw_out: float, salinity: float) -> float:
    check("raw_flow", raw_flow, 0.0, 0.1, "m^3/s")
    return raw_flow * water.density(raw_out, salinity) * water.specific_heat((raw_in + raw_out) / 2.0, salinity)


def _both_change(coolant_in: float, coolant_out: float, raw_in: float, raw_out: float) -> None:
    if coolant_out >= coolant_in:
        raise ValueError("the coolant does not cool in the exchanger; are its two readings the wrong way round, or is the thermostat shut?")
    if raw_out <= raw_in:
        raise ValueError("the raw water does not warm in the exchanger; are its two readings the wrong way round?")


def _possible(coolant_in: float, coolant_out: float, raw_in: float, raw_out: float, slack: float) -> tuple[float, float]:
    """Coolant out and raw out with what noise turned round set straight, or a refusal in plain words."""
    for name, value in (("coolant_in", coolant_in), ("coolant_out", coolant_out)):
        check(name, value, COOLANT_LOW, COOLANT_HIGH, "degC")
    for name, value in (("raw_in", raw_in), ("raw_out", raw_out)):
        check(name, value, RAW_LOW, RAW_HIGH, "degC")
    if raw_out >= coolant_in:
        raise ValueError("the raw water cannot leave as warm as the coolant comes in")
    if raw_in >= coolant_out:
        raise ValueError("the coolant cannot leave as cold as the raw water comes in")
    if coolant_out > coolant_in + slack:
        raise ValueError("the coolant cannot leave the exchanger warmer than it came in")
    if raw_out < raw_in - slack:
        raise ValueError("the raw water cannot leave the exchanger colder than it came in")
    return min(coolant_out, coolant_in), max(raw_out, raw_in)
