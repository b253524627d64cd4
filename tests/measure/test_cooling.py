"""The lumped model of a small diesel's cooling: balances close, temperatures follow cause, limits hold, refusals are in words."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.measure import cooling
from diagnose.measure.cooling import Healthy, Loop, Upset
from diagnose.measure.valid import OutOfRangeError

ENGINE: dict[str, float] = {
    "power": 20e3, "rated_speed": 50.0, "opens": 80.0, "travel": 10.0, "heat_per_power": 0.85, "no_load": 0.25, "exponent": 2.8,
    "raw_per_power": 0.9e-3 / 60e3, "coolant_per_power": 2.1e-3 / 60e3, "conductance_per_power": 0.025,
}
"""An invented engine of 20 kW at 3000 rpm: 18 L/min of sea water, 42 L/min of coolant, 500 W/K."""
AIR = 30.0
BOILING = 118.0
HEAT = {name: ENGINE[name] for name in ("power", "rated_speed", "heat_per_power", "no_load", "exponent")}


def loop(**changed: float) -> Loop:
    """The invented engine as the model holds it."""
    return cooling._loop(**{**ENGINE, **changed})


def shown(trouble: str, rpm: float, sea: float, **changed: float) -> Healthy:
    """What the invented engine shows."""
    return cooling.with_fault(trouble, rpm / 60.0, sea, **{**ENGINE, **changed})  # type: ignore[arg-type]


def engine_at(upset: Upset, rpm: float = 2500.0, sea: float = 24.0) -> tuple[float, bool]:
    """Temperature of the coolant that leaves the engine, and whether it would boil."""
    return cooling._steady(loop(), upset, rpm / 60.0, sea, AIR, BOILING)


def through(upset: Upset, h: Healthy, rpm: float) -> float:
    """Coolant that goes through the exchanger [m^3/s]: the pump's, as far as the thermostat lets it."""
    return 7e-4 * rpm / 3000.0 * upset.coolant_flow * max(h.opening, 0.01)


engines = st.fixed_dictionaries({
    "power": st.floats(3e3, 1e5), "rated_speed": st.floats(25.0, 80.0), "opens": st.floats(50.0, 92.0), "travel": st.floats(3.0, 20.0),
    "heat_per_power": st.floats(0.4, 1.4), "no_load": st.floats(0.05, 0.6), "exponent": st.floats(2.0, 3.5),
    "raw_per_power": st.floats(5e-9, 4e-8), "coolant_per_power": st.floats(1e-8, 9e-8), "conductance_per_power": st.floats(0.006, 0.1),
})
troubles = st.sampled_from(sorted(cooling.UPSETS))
shares = st.floats(0.15, 1.1)
seas = st.floats(-2.0, 36.0)


# ------------------------------------------------------------------ balances


@given(engine=engines, trouble=troubles, share=shares, sea=seas)
def test_heat_made_is_heat_shed(engine: dict[str, float], trouble: Any, share: float, sea: float) -> None:
    """In the steady state heat made = sea water's flow x its rise + what goes to the air, worked again from what is shown, to round-off.

    Temperatures are found to 1e-13 of themselves; the steepest thermostat turns that into some 1e-10 of the heat. Where the coolant
    would boil, more heat is made than goes.
    """
    speed = share * engine["rated_speed"]
    h = cooling.with_fault(trouble, speed, sea, **engine)
    to_sea = 4.09e6 * h.raw_flow * (h.raw_out - sea)
    gone = to_sea + cooling._loop(**engine).air * (h.engine_out - AIR)
    if h.boils == "yes":
        assert gone < h.heat
    else:
        assert gone == pytest.approx(h.heat, rel=1e-9)


@pytest.mark.parametrize("trouble", [t for t in cooling.UPSETS if t != "thermostat-shut"])
@pytest.mark.parametrize(("rpm", "sea"), [(2300, 15), (2500, 24), (2900, 30), (3000, 32)])
def test_what_the_coolant_gives_the_sea_takes(trouble: str, rpm: float, sea: float) -> None:
    """With the thermostat open, coolant flow x its fall in the exchanger is sea water flow x its rise."""
    h, upset = shown(trouble, rpm, sea), cooling.UPSETS[trouble]
    assert h.opening > 0.05
    given_up = cooling.COOLANT * through(upset, h, rpm) * (h.to_exchanger - h.from_exchanger)
    assert given_up == pytest.approx(cooling.SEA * h.raw_flow * (h.raw_out - sea), rel=1e-9)


@given(engine=engines, trouble=troubles, share=shares, sea=st.floats(-2.0, 29.0))
def test_heat_runs_downhill(engine: dict[str, float], trouble: Any, share: float, sea: float) -> None:
    """Sea <= sea water out <= coolant at the engine, and sea <= coolant back <= coolant to the exchanger <= coolant at the engine.

    The sea is kept under the air of the engine space, from which the model takes heat as readily as it gives it.
    """
    h = cooling.with_fault(trouble, share * engine["rated_speed"], sea, **engine)
    slack = 1e-9
    assert sea <= h.raw_out + slack
    assert h.raw_out <= h.engine_out + slack
    assert sea <= h.from_exchanger + slack
    assert h.from_exchanger <= h.to_exchanger + slack
    assert h.to_exchanger <= h.engine_out + slack
    assert 0.0 <= h.opening <= 1.0


def test_heat_follows_load_in_a_straight_line() -> None:
    """At given revs heat over load is a straight line that does not start at nought (Willans), at rated revs as large as it is told."""
    at = [cooling.expected_heat(40.0, load=load, **HEAT) for load in (0.0, 1.0, 2.0)]
    assert at[2] - at[1] == pytest.approx(at[1] - at[0], rel=1e-12)
    assert at[0] == pytest.approx(0.85 * 20e3 * 0.25 * 0.8, rel=1e-12)
    assert cooling.expected_heat(50.0, **HEAT) == pytest.approx(17e3, rel=1e-12)
    assert cooling.expected_heat(0.0, **HEAT) == 0.0


# ------------------------------------------------------------------ cause and effect


@pytest.mark.parametrize("sea", [-2.0, 14.0, 24.0, 33.0])
@pytest.mark.parametrize("rpm", [900.0, 2000.0, 3000.0])
@pytest.mark.parametrize("what", ["raw_flow", "conductance", "coolant_flow"])
def test_less_of_what_cools_never_cools_better(what: str, rpm: float, sea: float) -> None:
    """Less raw water, more fouling or less circulation, alone, from a hundredth to five quarters, never lowers the temperature."""
    engine = [engine_at(Upset(**{what: float(share)}), rpm, sea)[0] for share in np.geomspace(0.01, 1.25, 60)]
    assert np.all(np.diff(engine) <= 1e-9)
    assert engine[0] > engine[-1] + 0.3


@pytest.mark.parametrize("upset", [Upset(), Upset(conductance=0.35), Upset(stuck=1.0), Upset(raw_flow=0.3, coolant_flow=0.4)])
def test_more_heat_or_a_warmer_sea_never_cools_the_engine(upset: Upset) -> None:
    """Load from a fifth to five times, and sea from -2 to 36 degrees, each alone: the temperature never falls."""
    by_load = [engine_at(upset._replace(load=float(load)))[0] for load in np.linspace(0.2, 5.0, 60)]
    by_sea = [engine_at(upset, sea=float(sea))[0] for sea in np.linspace(-2.0, 36.0, 60)]
    assert np.all(np.diff(by_load) >= -1e-9)
    assert np.all(np.diff(by_sea) >= -1e-9)


UP, SAME, DOWN, EITHER = 1, 0, -1, None
SHOWN = ("engine_out", "gauge", "raw_flow", "rise", "fall", "back", "gap", "behind", "exhaust_hose", "heat")
SIGNS: dict[str, tuple[int | None, ...]] = {
    #                    engine gauge  flow  rise  fall    back    gap     behind exhaust heat
    "low-raw-water":    (UP,   UP,   DOWN, UP,   DOWN,   UP,     EITHER, SAME, UP,   SAME),
    "fouled-exchanger": (UP,   UP,   SAME, DOWN, DOWN,   UP,     UP,     SAME, DOWN, SAME),
    "low-coolant-flow": (UP,   UP,   SAME, SAME, UP,     EITHER, EITHER, SAME, SAME, SAME),
    "thermostat-shut":  (UP,   UP,   SAME, DOWN, UP,     DOWN,   DOWN,   UP,   DOWN, SAME),
    "thermostat-open":  (DOWN, DOWN, SAME, SAME, DOWN,   DOWN,   DOWN,   SAME, SAME, SAME),
    "air-in-circuit":   (UP,   UP,   SAME, SAME, UP,     UP,     UP,     SAME, SAME, SAME),
    "overload":         (UP,   UP,   SAME, UP,   DOWN,   UP,     UP,     SAME, UP,   UP),
    "poor-injection":   (SAME, SAME, SAME, SAME, SAME,   SAME,   SAME,   SAME, UP,   SAME),
    "gauge-false":      (SAME, UP,   SAME, SAME, SAME,   SAME,   SAME,   SAME, SAME, SAME),
}  # fmt: skip
"""Which way each trouble moves what a mechanic looks at, on an engine at rated revs in a sea of 33 degrees (common practice). There the
fouled one boils, and what boils away does not reach the sea. `fall` of the coolant in the exchanger, `back` as it comes out of it, `gap`
from there to the sea water out, `behind` the housing less the hose behind it."""
STILL = 0.25
"""Degrees, litres a minute or kilowatts by which a sign may move that should stand still: more or less goes to the air."""


def signs(h: Healthy, sea: float) -> tuple[float, ...]:
    """What a mechanic looks at, in the order of SHOWN."""
    return (h.engine_out, h.gauge, h.raw_flow * 6e4, h.raw_out - sea, h.to_exchanger - h.from_exchanger, h.from_exchanger,
            h.from_exchanger - h.raw_out, h.engine_out - h.to_exchanger, h.exhaust_hose, h.heat / 1e3)


@pytest.mark.parametrize("trouble", SIGNS)
def test_each_trouble_moves_the_signs_a_mechanic_expects(trouble: str) -> None:
    """Each trouble moves each sign by a thermometer's error or more in the expected direction, or leaves it where it was."""
    before, after = signs(shown("healthy", 3000, 33), 33), signs(shown(trouble, 3000, 33), 33)
    moved = np.subtract(after, before).tolist()
    wrong = {name: round(by, 2) for name, by, way in zip(SHOWN, moved, SIGNS[trouble], strict=True)
             if way is not EITHER and (abs(by) > STILL if way == SAME else by * way < 2.0)}
    assert wrong == {}


def test_all_troubles_have_their_directions() -> None:
    """The table of directions knows every trouble of the model."""
    assert set(SIGNS) | {"healthy"} == set(cooling.UPSETS)


def test_a_false_gauge_moves_nothing_else() -> None:
    """Twelve degrees on the gauge, and not a digit of anything else."""
    true, false = shown("healthy", 2500, 24), shown("gauge-false", 2500, 24)
    assert false._replace(gauge=true.gauge) == true
    assert false.gauge - true.gauge == pytest.approx(12.0, rel=1e-12)


@pytest.mark.parametrize("rpm", [1500.0, 2000.0, 2500.0, 2800.0])
def test_the_thermostat_holds_the_engine(rpm: float) -> None:
    """While there is cooling to spare, from sea of 0 to 25 degrees the healthy engine stays between first opening and fully open.

    The load changes fourfold over these revs; the plateau moves by less than half of the thermostat's travel.
    """
    engine = [shown("healthy", rpm, float(sea)).engine_out for sea in np.linspace(0.0, 25.0, 26)]
    assert min(engine) >= 80.0
    assert max(engine) <= 85.0


@given(engine=engines, trouble=troubles, share=shares, sea=seas, boiling=st.floats(95.0, 140.0))
def test_never_hotter_than_boiling(engine: dict[str, float], trouble: Any, share: float, sea: float, boiling: float) -> None:
    """The coolant stops at its boiling point, and that it would boil is said exactly where it stands there."""
    h = cooling.with_fault(trouble, share * engine["rated_speed"], sea, boiling=boiling, **engine)
    assert h.engine_out <= boiling + 1e-9
    assert (h.boils == "yes") == (h.engine_out == boiling)


def test_boiling_is_said() -> None:
    """A shut thermostat boils at any revs in any sea; a healthy engine at full power in a warm sea does not."""
    assert {shown("thermostat-shut", rpm, sea).boils for rpm in (1200, 3000) for sea in (0, 30)} == {"yes"}
    assert shown("healthy", 3000, 32).boils == "no"


# ------------------------------------------------------------------ parts


def test_thermostat_opens_in_a_straight_line() -> None:
    """Shut below, open above, half way in the middle."""
    at = [cooling.thermostat_share(t, 80.0, 10.0) for t in (-20.0, 80.0, 82.5, 85.0, 90.0, 400.0)]
    assert at == pytest.approx([0.0, 0.0, 0.25, 0.5, 1.0, 1.0], abs=1e-12)


def hose(**changed: float) -> float:
    """Gas and water after the elbow: 12 L/min of sea water at 34 degrees and 10 kW of gas at 420 unless changed."""
    return cooling.exhaust_hose(**{"raw_out": 34.0, "raw_flow": 2e-4, "exhaust_heat": 1e4, "injected": 1.0, "gas": 420.0, **changed})


def test_exhaust_hose_below_at_and_beyond_boiling() -> None:
    """Water in plenty warms by heat over its capacity; then it stands at 100 degrees while it evaporates; then gas heats what is left."""
    assert hose() == pytest.approx(34.0 + 1e4 / (1025 * 3993 * 2e-4), rel=1e-3)
    to_boil = 4.09e6 * 2e-4 * 66.0
    assert hose(exhaust_heat=0.999 * to_boil) < 100.0
    assert hose(exhaust_heat=1.001 * to_boil) == 100.0
    small = {"raw_flow": 4e-6}  # 0.24 L/min: 1.1 kW warm it to boiling and 9.3 kW evaporate it
    assert hose(**small) == 100.0
    assert 100.0 < hose(**small, exhaust_heat=1.2e4) < 420.0


def test_exhaust_hose_without_water_is_as_hot_as_the_gas() -> None:
    """No water, or none that meets the gas: gas temperature. No gas: the water's own temperature, even with no water."""
    assert hose(raw_flow=0.0) == 420.0
    assert hose(injected=0.0) == 420.0
    assert hose(exhaust_heat=0.0) == 34.0
    assert hose(exhaust_heat=0.0, raw_flow=0.0) == 34.0


def test_exhaust_hose_has_no_step() -> None:
    """Over heat and over the share of water that meets the gas the temperature never jumps, and never turns round."""
    by_heat = [hose(raw_flow=2e-5, exhaust_heat=float(w)) for w in np.linspace(0.0, 2e5, 20001)]
    assert max(np.abs(np.diff(by_heat))) < 0.3  # a ten-watt step; the steepest part is 5.4 kW to boiling
    assert min(np.diff(by_heat)) >= 0.0
    by_share = [hose(injected=float(share)) for share in np.linspace(0.0, 1.0, 20001)]
    assert max(np.abs(np.diff(by_share[1:]))) < 3.0
    assert max(np.diff(by_share)) <= 0.0


@given(raw_out=st.floats(-2.0, 100.0), raw_flow=st.floats(0.0, 0.01), heat=st.floats(0.0, 2e5), injected=st.floats(0.0, 1.0),
       gas=st.floats(100.0, 800.0))
def test_exhaust_hose_lies_between_water_and_gas(raw_out: float, raw_flow: float, heat: float, injected: float, gas: float) -> None:
    """Whatever goes in, the mixture is no colder than the water and no hotter than the gas."""
    found = cooling.exhaust_hose(raw_out, raw_flow, heat, injected, gas)
    assert raw_out - 1e-9 <= found <= gas + 1e-9


# ------------------------------------------------------------------ warming up


def warm(trouble: str, rpm: float, sea: float = 15.0, **changed: float) -> cooling.WarmUp:
    """How the invented engine warms up."""
    return cooling.warm_up(trouble, rpm / 60.0, sea, **{**ENGINE, **changed})  # type: ignore[arg-type]


def integrated(trouble: str, rpm: float, start: float) -> tuple[float | None, float]:
    """Minutes to the thermostat's first opening and to 95 % of the way, by scipy's adaptive solver on the same heat balance."""
    integrate = pytest.importorskip("scipy.integrate")
    engine, upset, speed = loop(), cooling.UPSETS[trouble], rpm / 60.0
    made = cooling.expected_heat(speed, load=upset.load, **HEAT)
    plateau, _ = cooling._steady(engine, upset, speed, 15.0, 20.0, BOILING)

    def slope(_: float, temperature: Any) -> list[float]:
        return [(made - cooling._shed(engine, upset, speed, 15.0, 20.0, float(temperature[0]))[0]) / engine.mass]

    def opens(_: float, temperature: Any) -> float:
        return float(temperature[0]) - 80.0

    def settled(_: float, temperature: Any) -> float:
        return float(temperature[0]) - (start + 0.95 * (plateau - start))

    done = integrate.solve_ivp(slope, (0.0, 36000.0), [start], events=(opens, settled), method="LSODA", rtol=1e-8, atol=1e-6, max_step=20.0)
    first = done.t_events[0][0] / 60.0 if len(done.t_events[0]) else None
    return first, done.t_events[1][0] / 60.0


@pytest.mark.parametrize(("trouble", "rpm", "start"), [
    ("healthy", 1500, 15.0), ("healthy", 2500, 5.0), ("thermostat-open", 1500, 15.0), ("thermostat-shut", 2500, 15.0),
    ("low-coolant-flow", 2000, 15.0), ("overload", 2000, 30.0), ("fouled-exchanger", 2800, 15.0),
])
def test_warm_up_is_the_integral_of_the_balance(trouble: str, rpm: float, start: float) -> None:
    """Times agree with the heat balance integrated by scipy's solver, to two steps of two seconds.

    Where 95 % of the way lies below the thermostat's first opening the later of the two counts.
    """
    opened, settled = integrated(trouble, rpm, start)
    found = warm(trouble, rpm, start=start)
    assert (found.opens_after is None) == (opened is None)
    if opened is not None:
        assert found.opens_after == pytest.approx(opened, abs=4.0 / 60.0)
        settled = max(settled, opened)
    assert found.settled_after == pytest.approx(settled, abs=4.0 / 60.0)


def test_warm_up_takes_its_time_in_the_right_order() -> None:
    """Stuck open: a lower plateau and never up to the thermostat's figure. Stuck shut: as fast as healthy, and a plateau of boiling."""
    healthy, wide, shut = (warm(t, 2000) for t in ("healthy", "thermostat-open", "thermostat-shut"))
    assert wide.plateau < 60.0 < healthy.plateau < shut.plateau == BOILING
    assert wide.opens_after is None
    assert healthy.opens_after == shut.opens_after is not None
    assert shut.settled_after > healthy.settled_after


def test_more_load_warms_faster_and_a_colder_start_later() -> None:
    """Minutes to the first opening fall with revs and with the temperature at the start, and hardly hang on the sea."""
    by_revs = [warm("healthy", rpm).opens_after for rpm in (1200, 1600, 2000, 2500, 3000)]
    by_start = [warm("healthy", 2000, start=start).opens_after for start in (-10.0, 5.0, 20.0, 40.0, 60.0)]
    assert by_revs == sorted(by_revs, reverse=True)  # type: ignore[type-var]
    assert by_start == sorted(by_start, reverse=True)  # type: ignore[type-var]
    cold, hot = warm("healthy", 2000, sea=2.0).opens_after, warm("healthy", 2000, sea=30.0).opens_after
    assert cold is not None
    assert hot is not None
    assert 0 < cold - hot < 0.35 * cold


def test_an_engine_warm_already_needs_no_time() -> None:
    """Started as warm as its thermostat's figure it opens at once."""
    found = warm("healthy", 2500, start=60.0, opens=45.0)
    assert found.opens_after == pytest.approx(0.0, abs=4.0 / 60.0)


# ------------------------------------------------------------------ readings against what was to be expected


def put_back(h: Healthy, sea: float, rpm: float) -> dict[str, float]:
    """The four temperatures and the flow as the functions of readings want them."""
    return {"raw_in": sea, "raw_out": h.raw_out, "raw_flow": h.raw_flow, "coolant_in": h.to_exchanger, "coolant_out": h.from_exchanger,
            "engine_out": h.engine_out, "speed": rpm / 60.0}


def only(readings: dict[str, float], *names: str) -> dict[str, float]:
    return {name: readings[name] for name in names}


@pytest.mark.parametrize("trouble", sorted(cooling.UPSETS))
@pytest.mark.parametrize(("rpm", "sea"), [(2300, 15), (2800, 31)])
def test_heat_found_is_heat_made_less_the_air(trouble: str, rpm: float, sea: float) -> None:
    """From the temperatures the model shows, heat over expected is the load's, less what the air and a boiling coolant take."""
    h = shown(trouble, rpm, sea)
    found = cooling.heat_share(**only(put_back(h, sea, rpm), "raw_in", "raw_out", "raw_flow", "speed"), **HEAT)
    expected = cooling.expected_heat(rpm / 60.0, **HEAT)
    air = 0.0006 * 20e3 * (h.engine_out - AIR)
    assert found == pytest.approx((h.heat - air) / expected, rel=1e-9) if h.boils == "no" else found < (h.heat - air) / expected


@pytest.mark.parametrize("raw", [0.2, 0.35, 0.5, 1.0])
def test_rise_share_is_one_over_the_flow(raw: float) -> None:
    """The same heat in a part of the water rises by the inverse of the part: rise share x flow share = heat share."""
    h = cooling._shown(loop(), Upset(raw_flow=raw), 2500 / 60.0, 24.0, AIR, 140.0, 0.9, 420.0)
    readings = put_back(h, 24.0, 2500)
    rise = cooling.raw_rise_share(**only(readings, "raw_in", "raw_out", "speed"), **HEAT, raw_per_power=ENGINE["raw_per_power"])
    heat = cooling.heat_share(**only(readings, "raw_in", "raw_out", "raw_flow", "speed"), **HEAT)
    assert rise * raw == pytest.approx(heat, rel=1e-9)


@given(flow=st.floats(0.1, 1.0), raw=st.floats(0.3, 1.0), dirt=st.floats(0.2, 1.0), sea=st.floats(20.0, 34.0))
def test_circulation_and_fouling_are_found_again(flow: float, raw: float, dirt: float, sea: float) -> None:
    """What the model was upset by comes out of the temperatures it shows: the coolant's flow to round-off, the conductance to 3 %.

    The layer of dirt adds the same resistance at all flows, so its share is that of clean and dirt in a row. The model holds the heat
    capacity of sea water by volume constant; caught at 70 degrees it is 2.5 % less (TEOS-10).
    """
    h = cooling._shown(loop(), Upset(coolant_flow=flow, raw_flow=raw, conductance=dirt), 2800 / 60.0, sea, AIR, 128.0, 0.9, 420.0)
    readings = put_back(h, sea, 2800)
    if h.opening < 0.6 or h.boils == "yes" or h.to_exchanger - h.from_exchanger < 1.0:
        return
    found = cooling.coolant_flow_share(**readings, power=20e3, rated_speed=50.0, coolant_per_power=ENGINE["coolant_per_power"],
                                       opens=80.0, travel=10.0)
    assert found == pytest.approx(flow, rel=1e-9)
    del readings["engine_out"], readings["speed"]
    share = cooling.conductance_share(**readings, power=20e3, **{n: ENGINE[n] for n in ("raw_per_power", "coolant_per_power",
                                                                                      "conductance_per_power")})
    at = 2800 / 3000
    clean = 500.0 / (0.5 * (raw * at) ** -0.8 + 0.5 * max(flow * at * h.opening, 0.1) ** -0.6)
    assert share == pytest.approx(1.0 / (1.0 + (1.0 / dirt - 1.0) / 500.0 * clean), rel=0.03)


@given(raw=st.floats(0.25, 1.0), dirt=st.floats(0.25, 1.0), sea=st.floats(15.0, 30.0))
def test_without_a_bucket_the_exchanger_is_never_blamed_for_the_pump(raw: float, dirt: float, sea: float) -> None:
    """With the flow that the revs should give in place of the one caught: the same with a sound pump, and more the less it gives."""
    figures = {n: ENGINE[n] for n in ("power", "raw_per_power", "coolant_per_power", "conductance_per_power")}
    caught, taken = [], []
    for share in (1.0, raw):
        h = cooling._shown(loop(), Upset(raw_flow=share, conductance=dirt), 2500 / 60.0, sea, AIR, 128.0, 0.9, 420.0)
        four = only(put_back(h, sea, 2500), "coolant_in", "coolant_out", "raw_in", "raw_out")
        caught.append(cooling.conductance_share(**four, raw_flow=h.raw_flow, **figures))
        taken.append(cooling.conductance_share_unmeasured(**four, speed=2500 / 60.0, rated_speed=50.0, **figures))
    assert taken[0] == pytest.approx(caught[0], rel=1e-9)
    assert taken[1] >= caught[1] * (1.0 - 1e-9)
    assert taken[1] >= taken[0] * 0.97


def test_differences_are_differences() -> None:
    """A hose behind the thermostat, a scale for another thermostat, a gauge beside a thermometer: plain sums."""
    assert cooling.thermostat_drop(95.0, 60.0, 80.0, 10.0) == 35.0
    assert cooling.as_of_thermostat(88.0, 71.0, 80.0) == pytest.approx(97.0, rel=1e-12)
    assert cooling.difference(96.0, 84.5) == 11.5


# ------------------------------------------------------------------ refusals

WITH_FAULT = {"trouble": "healthy", "speed": 40.0, "sea": 20.0, **ENGINE}
HEAT_SHARE = {"raw_in": 20.0, "raw_out": 30.0, "raw_flow": 3e-4, "speed": 40.0, **HEAT}
RISE_SHARE = {"raw_in": 20.0, "raw_out": 30.0, "speed": 40.0, **HEAT, "raw_per_power": 1.5e-8}
FLOW_SHARE = {"engine_out": 92.0, "coolant_in": 92.0, "coolant_out": 84.0, "raw_in": 20.0, "raw_out": 35.0, "raw_flow": 3e-4, "speed": 40.0,
              "power": 20e3, "rated_speed": 50.0, "coolant_per_power": 3.5e-8, "opens": 80.0, "travel": 10.0}
UNMEASURED = {**{k: FLOW_SHARE[k] for k in ("coolant_in", "coolant_out", "raw_in", "raw_out", "speed", "power", "rated_speed")},
              "raw_per_power": 1.5e-8, "coolant_per_power": 3.5e-8, "conductance_per_power": 0.025}
REFUSED: list[tuple[str, dict[str, Any], str, float]] = [
    *(("with_fault", WITH_FAULT, *bad) for bad in (
        ("sea", -2.1), ("sea", 36.1), ("speed", 4.9), ("speed", 60.1), ("air", -21.0), ("air", 71.0), ("boiling", 94.0), ("boiling", 141.0),
        ("power", 999.0), ("power", 2.1e5), ("rated_speed", 101.0), ("heat_per_power", 0.2), ("heat_per_power", 2.1), ("no_load", -0.1),
        ("no_load", 0.9), ("exponent", 1.4), ("exponent", 3.6), ("raw_per_power", 1e-10), ("coolant_per_power", 1e-6),
        ("conductance_per_power", 1e-4), ("opens", 29.0), ("opens", 111.0), ("travel", 0.5), ("travel", 31.0), ("sea", math.nan))),
    *(("warm_up", WITH_FAULT, *bad) for bad in (("start", -21.0), ("start", 61.0), ("sea", 40.0), ("speed", 1.0), ("air", 200.0),
                                                ("boiling", 20.0))),
    *(("exhaust_hose", {"raw_out": 34.0, "raw_flow": 2e-4, "exhaust_heat": 1e4, "injected": 1.0, "gas": 420.0}, *bad) for bad in (
        ("raw_out", 101.0), ("raw_flow", -1e-9), ("raw_flow", 0.02), ("exhaust_heat", -1.0), ("injected", 1.1), ("gas", 90.0))),
    *(("heat_share", HEAT_SHARE, *bad) for bad in (
        ("raw_out", 20.0), ("raw_flow", 0.0), ("speed", 61.0), ("speed", 0.0), ("raw_out", 1e9))),
    *(("conductance_share_unmeasured", UNMEASURED, *bad) for bad in (("raw_out", 93.0), ("raw_in", 85.0), ("speed", 0.0), ("speed", 61.0))),
    *(("raw_rise_share", RISE_SHARE, *bad) for bad in (("raw_out", 19.0), ("speed", 0.0), ("raw_out", 1e9))),
    *(("coolant_flow_share", FLOW_SHARE, *bad) for bad in (("raw_out", 20.0), ("engine_out", 85.9), ("raw_flow", 0.0), ("speed", 0.0))),
    *(("thermostat_drop", {"engine_out": 92.0, "to_exchanger": 60.0, "opens": 80.0, "travel": 10.0}, *bad) for bad in (
        ("engine_out", 85.9), ("to_exchanger", 151.0))),
    *(("as_of_thermostat", {"temperature": 80.0, "opens": 80.0, "usual": 80.0}, *bad) for bad in (
        ("temperature", 201.0), ("opens", 29.0), ("usual", 111.0))),
    *(("difference", {"one": 80.0, "other": 80.0}, *bad) for bad in (("one", 201.0), ("other", -21.0))),
]


@pytest.mark.parametrize(("name", "sound", "what", "value"), REFUSED, ids=lambda v: str(v) if isinstance(v, str | float) else "")
def test_what_cannot_be_is_refused(name: str, sound: dict[str, Any], what: str, value: float) -> None:
    """Each value just beyond its range is refused in words, by a ValueError and nothing else; the sound ones are not."""
    function = getattr(cooling, name)
    function(**sound)
    with pytest.raises(ValueError) as caught:  # noqa: PT011
        function(**{**sound, what: value})
    assert len(str(caught.value)) > 20
    if isinstance(caught.value, OutOfRangeError):
        assert f"{value:g}" in caught.value.what


def test_a_refusal_names_what_was_given() -> None:
    """Half as much load again on a 150 kW engine over its rated revs is refused, if at all, by something that was asked for."""
    refused = None
    try:
        cooling.with_fault("overload", 60.0, 20.0, **{**ENGINE, "power": 150e3})
    except OutOfRangeError as error:
        refused = error.name
    assert refused is None or refused in WITH_FAULT
