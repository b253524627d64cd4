"""Raw-water flow: caught in a bucket, expected of the pump, and what a shortfall means for the temperature rise.

A flexible-vane pump displaces nearly the same volume with each turn, so its flow is nearly proportional to its speed
until suction or back pressure hold it back (common practice). What is missing is told by comparing flow for flow.
"""

from __future__ import annotations

from typing import NamedTuple

from diagnose.measure.valid import check

__all__ = [
    "Found",
    "Rise",
    "TwoSpeeds",
    "against_pump",
    "against_rating",
    "against_usual",
    "expected_flow",
    "expected_flow_rated",
    "flow_at_speed",
    "flow_by_bucket",
    "rise_at_share",
    "share_of_expected",
    "share_of_rated",
    "two_speeds",
]

ENOUGH, LOW, TOO_MUCH = 0.8, 0.55, 1.25
"""Shares of what is expected: four fifths and more is enough, about half and less is very low, a quarter over cannot be."""

WATTS_IN_A_KILOWATT = 1000.0


class Found(NamedTuple):
    """Flow expected [m^3/s], the share of it that was found, and a word for the share."""

    expected: float
    share: float
    word: str


class TwoSpeeds(NamedTuple):
    """Volume for each engine turn, slow and fast [m^3], the fast one as a share of the slow one, and what that points to."""

    slow: float
    fast: float
    ratio: float
    word: str


class Rise(NamedTuple):
    """Temperature rise of the raw water [K] and the temperature at which it leaves [degC]."""

    rise: float
    outlet: float


def _flow(name: str, value: float) -> float:
    return check(name, value, 1e-7, 0.02, "m^3/s")


def _speed(name: str, value: float) -> float:
    return check(name, value, 3.0, 100.0, "turns/s")


def flow_by_bucket(volume: float, time: float) -> float:
    """Flow of what was caught, raw water in a bucket or a leak in a cup: volume / time.

    Args:
        volume: what was caught [m^3], 1e-8 to 0.2.
        time: in what time [s], 1 to 2.6e6 (a month).

    Returns:
        Flow [m^3/s].

    Raises:
        OutOfRangeError: outside those ranges.

    Source: common practice.
    """
    return check("volume", volume, 1e-8, 0.2, "m^3") / check("time", time, 1.0, 2.6e6, "s")


def expected_flow(displacement: float, ratio: float, speed: float, efficiency: float) -> float:
    """Flow of a positive-displacement pump: displacement x ratio x speed x efficiency.

    Args:
        displacement: volume the pump sweeps in one turn of its own [m^3], 2e-6 to 1e-3.
        ratio: turns of the pump for one of the engine, 0.2 to 4.
        speed: engine speed [turns/s], 3 to 100.
        efficiency: volumetric efficiency, the share of the swept volume that is delivered, 0.2 to 1.1.

    Returns:
        Flow [m^3/s].

    Raises:
        OutOfRangeError: outside those ranges.

    Source: definition of displacement and volumetric efficiency. That a flexible-vane pump keeps to it up to its usual
    speed is common practice.
    """
    return (check("displacement", displacement, 2e-6, 1e-3, "m^3") * check("ratio", ratio, 0.2, 4.0)
            * _speed("speed", speed) * check("efficiency", efficiency, 0.2, 1.1))


def share_of_expected(flow: float, displacement: float, ratio: float, speed: float, efficiency: float) -> float:
    """Flow found as a share of what the pump should give: flow / (displacement x ratio x speed x efficiency).

    With an efficiency of 1 it is the volumetric efficiency itself.

    Args:
        flow: flow found [m^3/s], 1e-7 to 0.02.
        displacement: volume of one turn of the pump [m^3], 2e-6 to 1e-3.
        ratio: turns of the pump for one of the engine, 0.2 to 4.
        speed: engine speed [turns/s], 3 to 100.
        efficiency: volumetric efficiency of a sound pump, 0.2 to 1.1.

    Returns:
        Share of one.

    Raises:
        OutOfRangeError: outside those ranges.

    Source: as `expected_flow`.
    """
    return _flow("flow", flow) / expected_flow(displacement, ratio, speed, efficiency)


def expected_flow_rated(per_kw: float, power: float, rated_speed: float, speed: float) -> float:
    """Flow to be expected from rated power: per_kw x power x speed / rated speed.

    The published figures give a flow for the power and no speed; it is taken to be that at rated speed.

    Args:
        per_kw: flow for each kilowatt of rated power [m^3/s/kW], 1e-6 to 1e-4.
        power: rated power [W], 2000 to 200000.
        rated_speed: engine speed of the rated power [turns/s], 3 to 100.
        speed: engine speed at which the flow is wanted [turns/s], 3 to 100.

    Returns:
        Flow [m^3/s].

    Raises:
        OutOfRangeError: outside those ranges.

    Source: a dealer's page on engine cooling pumps, 65 to 70 L/min for 100 horsepower with a heat exchanger and 36 to 39
    cooled directly; proportional to speed by common practice.
    """
    kilowatts = check("power", power, 2e3, 2e5, "W") / WATTS_IN_A_KILOWATT
    return (check("per_kw", per_kw, 1e-6, 1e-4, "m^3/s/kW") * kilowatts
            * _speed("speed", speed) / _speed("rated_speed", rated_speed))


def share_of_rated(flow: float, per_kw: float, power: float, rated_speed: float, speed: float) -> float:
    """Flow found as a share of what the rated power asks for: flow / `expected_flow_rated`.

    Args:
        flow: flow found [m^3/s], 1e-7 to 0.02.
        per_kw: flow for each kilowatt of rated power [m^3/s/kW], 1e-6 to 1e-4.
        power: rated power [W], 2000 to 200000.
        rated_speed: engine speed of the rated power [turns/s], 3 to 100.
        speed: engine speed at which the flow was found [turns/s], 3 to 100.

    Returns:
        Share of one.

    Raises:
        OutOfRangeError: outside those ranges.

    Source: as `expected_flow_rated`.
    """
    return _flow("flow", flow) / expected_flow_rated(per_kw, power, rated_speed, speed)


def flow_at_speed(flow: float, speed: float, other_speed: float) -> float:
    """Flow to be expected at other revs: flow x other speed / speed.

    Args:
        flow: flow found [m^3/s], 1e-7 to 0.02.
        speed: engine speed at which it was found [turns/s], 3 to 100.
        other_speed: the other engine speed [turns/s], 3 to 100.

    Returns:
        Flow [m^3/s].

    Raises:
        OutOfRangeError: outside those ranges.

    Source: common practice; nearly so for a sound flexible-vane pump, up to the revs where its suction holds it back.
    """
    return _flow("flow", flow) * _speed("other_speed", other_speed) / _speed("speed", speed)


def against_pump(flow: float, displacement: float, ratio: float, speed: float, efficiency: float) -> Found:
    """Flow found against what the pump should give.

    Args:
        flow: flow found [m^3/s], 1e-7 to 0.02.
        displacement: volume of one turn of the pump [m^3], 2e-6 to 1e-3.
        ratio: turns of the pump for one of the engine, 0.2 to 4.
        speed: engine speed [turns/s], 3 to 100.
        efficiency: volumetric efficiency of a sound pump, 0.2 to 1.1.

    Returns:
        Expected flow [m^3/s], share found and a word.

    Raises:
        OutOfRangeError: outside those ranges.

    Source: as `expected_flow`; the limits of the words are common practice.
    """
    share = share_of_expected(flow, displacement, ratio, speed, efficiency)
    return Found(flow / share, share, _word(share))


def against_rating(flow: float, per_kw: float, power: float, rated_speed: float, speed: float) -> Found:
    """Flow found against what the rated power asks for.

    The published figure is what an engine needs; many pumps give much more, so there is no share that cannot be.

    Args:
        flow: flow found [m^3/s], 1e-7 to 0.02.
        per_kw: flow for each kilowatt of rated power [m^3/s/kW], 1e-6 to 1e-4.
        power: rated power [W], 2000 to 200000.
        rated_speed: engine speed of the rated power [turns/s], 3 to 100.
        speed: engine speed at which the flow was found [turns/s], 3 to 100.

    Returns:
        Expected flow [m^3/s], share found and a word.

    Raises:
        OutOfRangeError: outside those ranges.

    Source: as `expected_flow_rated`; the limits of the words are common practice.
    """
    share = share_of_rated(flow, per_kw, power, rated_speed, speed)
    return Found(flow / share, share, _word(min(share, TOO_MUCH)))


def against_usual(flow: float, speed: float, usual_flow: float, usual_speed: float) -> Found:
    """Flow found against her own flow when all was well, brought to the same revs.

    Args:
        flow: flow found [m^3/s], 1e-7 to 0.02.
        speed: engine speed at which it was found [turns/s], 3 to 100.
        usual_flow: flow noted when all was well [m^3/s], 1e-7 to 0.02.
        usual_speed: engine speed of that note [turns/s], 3 to 100.

    Returns:
        Expected flow [m^3/s], share found and a word.

    Raises:
        OutOfRangeError: outside those ranges.

    Source: common practice.
    """
    expected = flow_at_speed(usual_flow, usual_speed, speed)
    share = _flow("flow", flow) / expected
    return Found(expected, share, _word(share))


def _word(share: float) -> str:
    if share > TOO_MUCH:
        return "more than can be"
    if share >= ENOUGH:
        return "enough"
    return "low" if share >= LOW else "very low"


def two_speeds(slow_flow: float, slow_speed: float, fast_flow: float, fast_speed: float, even: float) -> TwoSpeeds:
    """Volume for each turn at two speeds: flow / speed, and which of the two falls short.

    What leaks past worn vanes or a scored cover is much the same at any speed, so it takes most from the slow reading. What
    the suction or the outlet holds back grows with flow, so it takes most from the fast one.

    Args:
        slow_flow: flow at the lower revs [m^3/s], 1e-7 to 0.02.
        slow_speed: the lower revs [turns/s], 3 to 100.
        fast_flow: flow at the higher revs [m^3/s], 1e-7 to 0.02.
        fast_speed: the higher revs [turns/s], 3 to 100; at least a fifth more than the lower ones.
        even: difference of the two volumes that still counts as even, a share of one, 0.02 to 0.5.

    Returns:
        Volume for each turn at both speeds [m^3], their ratio, and a word.

    Raises:
        OutOfRangeError: outside those ranges.
        ValueError: the two speeds are too close to tell anything.

    Source: common practice; slip past a clearance and loss in a pipe are textbook laws.
    """
    check("even", even, 0.02, 0.5)
    if _speed("fast_speed", fast_speed) < 1.2 * _speed("slow_speed", slow_speed):
        raise ValueError("the two speeds are too close together; the higher should be at least a fifth more than the lower")
    slow, fast = _flow("slow_flow", slow_flow) / slow_speed, _flow("fast_flow", fast_flow) / fast_speed
    ratio = fast / slow
    if ratio < 1.0 - even:
        word = "falls off at high revs"
    elif ratio > 1.0 / (1.0 - even):
        word = "falls off at low revs"
    else:
        word = "even"
    return TwoSpeeds(slow, fast, ratio, word)


def rise_at_share(inlet: float, rise: float, share: float) -> Rise:
    """Rise of the raw water when only a share of the flow is left and the heat stays: rise / share.

    Args:
        inlet: temperature at which the raw water comes in [degC], -2 to 40.
        rise: rise with the full flow [K], 0.5 to 60.
        share: share of the full flow that is left, 0.05 to 2.

    Returns:
        Rise [K] and outlet temperature [degC]. The outlet may come out above boiling: then the heat no longer gets out.

    Raises:
        OutOfRangeError: outside those ranges.

    Source: heat balance, heat = flow x density x heat capacity x rise.
    """
    check("inlet", inlet, -2.0, 40.0, "degC")
    new = check("rise", rise, 0.5, 60.0, "K") / check("share", share, 0.05, 2.0)
    return Rise(new, inlet + new)
