"""The model of the cooling against published trials, trade figures, property libraries and a library of heat exchangers."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from diagnose.knowledge.load import load_rules
from diagnose.measure import cooling
from diagnose.units import convert


def taken(name: str) -> tuple[float, float]:
    """What the book takes for a figure of the engine, and one standard deviation, in the unit the functions want."""
    figure = load_rules().figures[name]
    value = convert(figure.default, figure.unit, figure.takes or figure.unit)
    return value, value * figure.sigma_percent / 100.0


def engine(power: float, rated_speed: float, **changed: float) -> dict[str, float]:
    """An engine with the figures the book takes."""
    names = {"travel": "thermostat-travel", "heat_per_power": "heat-per-power", "no_load": "no-load-heat", "exponent": "load-exponent",
             "raw_per_power": "raw-water-per-power", "coolant_per_power": "coolant-per-power",
             "conductance_per_power": "exchanger-per-power"}
    return {"power": power, "rated_speed": rated_speed, "opens": 80.0, **{k: taken(v)[0] for k, v in names.items()}, **changed}


# ------------------------------------------------------------------ trials and trade

TRIALS = {
    # heat to the water over heat at the shaft
    "Joel, Basic Engineering Thermodynamics, example 17.3: 4038 and 3629 kJ/min": 4038 / 3629,
    "Rajput, IC Engines, example 17.38: 31.3 and 29.8 % of the fuel": 31.3 / 29.8,
    "Nag, Power Plant Engineering, example 11.3: 32 and 37.7 %": 32 / 37.7,
    "Rajput, example 15.1: 28 % and an efficiency of 0.30": 28 / 30,
    "Mathur and Sharma, example 15.1: 26 % and 0.31": 26 / 31,
}
"""Read through open companions to the books and worked again."""


@pytest.mark.parametrize("trial", TRIALS)
def test_heat_for_each_kilowatt_of_published_trials(trial: str) -> None:
    """Heat to the water over heat at the shaft of each trial lies within two standard deviations of what the book takes."""
    value, sigma = taken("heat-per-power")
    assert abs(TRIALS[trial] - value) < 2.0 * sigma


def test_mean_heat_of_published_trials() -> None:
    """The mean of the trials lies within one standard deviation, and their scatter is no wider than the one the book states."""
    value, sigma = taken("heat-per-power")
    assert abs(np.mean(list(TRIALS.values())) - value) < sigma
    assert np.std(list(TRIALS.values()), ddof=1) < sigma


@pytest.mark.parametrize("efficiency", [0.298, 0.30, 0.31, 0.32, 0.33])
def test_jacket_share_of_the_fuel(efficiency: float) -> None:
    """At the efficiencies of the trials the heat taken is 25 to 32 % of the fuel's, as in the textbooks' trials at load."""
    assert 0.25 < taken("heat-per-power")[0] * efficiency < 0.32


@pytest.mark.parametrize(("litres", "rise"), [(70.0, 14.6), (65.0, 15.7)])
def test_rise_implied_by_trade_flow(litres: float, rise: float) -> None:
    """65 to 70 L/min for 100 bhp (a pump supplier), 28 % of the fuel in the water at an efficiency of 30 % (Rajput, example 15.1).

    With 3993 J/(kg K) and 1025 kg/m^3 that is 15.7 to 14.6 K at rated revs, to the digit printed. The model has the same in heat made
    over flow, and leaves to the air what the air takes, under a twentieth.
    """
    power = 74_570.0
    h = cooling.healthy(50.0, 20.0, **engine(power, 50.0, heat_per_power=0.28 / 0.30, raw_per_power=litres / 6e4 / power))
    assert h.raw_flow * 6e4 == pytest.approx(litres, rel=1e-9)
    all_of_it = h.heat / (1025 * 3993 * h.raw_flow)
    assert all_of_it == pytest.approx(rise, abs=0.05)
    assert 0.95 * all_of_it < h.raw_out - 20.0 < all_of_it


def test_rise_with_the_figures_taken() -> None:
    """With the figures the book takes, the rise at rated power is within one standard deviation of the 15.15 K of the trade.

    Heat and flow are each taken to 18 %, so the rise is known to the root of the sum of their squares, 25 %.
    """
    heat, flow = taken("heat-per-power"), taken("raw-water-per-power")
    spread = math.hypot(heat[1] / heat[0], flow[1] / flow[0])
    h = cooling.healthy(50.0, 20.0, **engine(20e3, 50.0))
    assert h.raw_out - 20.0 == pytest.approx(15.15, rel=spread)


def test_coolant_warms_by_what_makers_ask_for() -> None:
    """The coolant's flow and the heat taken warm it by five to ten degrees through the engine (common practice)."""
    rise = taken("heat-per-power")[0] / (cooling.COOLANT * taken("coolant-per-power")[0])
    assert 5.0 < rise < 10.0


def test_exchanger_is_enough_for_warm_water() -> None:
    """With a fifth of the conductance lost, rated power in a sea of 32 degrees is shed before the thermostat is fully open.

    Common practice: the exchanger is chosen for the warmest water with something in hand for dirt.
    """
    figures = engine(20e3, 50.0)
    h = cooling.healthy(50.0, 32.0, **{**figures, "conductance_per_power": 0.8 * figures["conductance_per_power"]})
    assert h.boils == "no"
    assert h.opening < 1.0


# ------------------------------------------------------------------ properties


def test_sea_water_against_teos10() -> None:
    """Density x specific heat of sea water by the TEOS-10 library from 0 to 40 degrees, salinity 35: within 0.4 % of the one number taken.

    From 30 to 38, where most seas are, within 0.7 %; in the brackish water of an estuary (10) it is up to 3 % more.
    """
    gsw = pytest.importorskip("gsw")
    celsius = np.linspace(0.0, 40.0, 81)

    def by_volume(salinity: float) -> Any:
        absolute = salinity * 35.16504 / 35.0
        return gsw.rho_t_exact(absolute, celsius, 0.0) * gsw.cp_t_exact(absolute, celsius, 0.0)

    assert by_volume(35.0) == pytest.approx(cooling.SEA, rel=0.004)
    for salinity in (30.0, 38.0):
        assert by_volume(salinity) == pytest.approx(cooling.SEA, rel=0.007)
    assert by_volume(10.0) == pytest.approx(cooling.SEA, rel=0.03)


@pytest.mark.parametrize("mass", [0.50, 0.527])
def test_coolant_against_coolprop(mass: float) -> None:
    """Density x specific heat of water and ethylene glycol, half by mass or half by volume, by CoolProp.

    At 80 degrees within 1 % of the one number taken; from 60 to 100 within 2 %. Plain water has 4.07 MJ/(m^3 K) within 0.5 %.
    """
    props = pytest.importorskip("CoolProp.CoolProp").PropsSI

    def by_volume(celsius: float, fluid: str) -> float:
        state = ("T", celsius + 273.15, "P", 2e5, fluid)
        return float(props("D", *state) * props("C", *state))

    assert by_volume(80.0, f"INCOMP::MEG[{mass}]") == pytest.approx(cooling.COOLANT, rel=0.01)
    for celsius in (60.0, 70.0, 90.0, 99.0):
        assert by_volume(celsius, f"INCOMP::MEG[{mass}]") == pytest.approx(cooling.COOLANT, rel=0.02)
    assert by_volume(80.0, "Water") == pytest.approx(4.07e6, rel=0.005)


def test_heat_of_evaporation_and_boiling_against_if97() -> None:
    """IAPWS-IF97: 2256.5 kJ/kg at 100 degrees, to 0.2 %; under a cap of 0.9 bar plain water boils at 118.8, to 1 K of the limit taken."""
    iapws = pytest.importorskip("iapws")
    liquid, vapour = (iapws.IAPWS97(T=373.15, x=x).h for x in (0, 1))
    assert pytest.approx((vapour - liquid) * 1e3, rel=2e-3) == cooling.LATENT
    boiling = iapws.IAPWS97(P=0.101325 + 0.09, x=0).T - 273.15
    asked = load_rules().calculations["cooling-shows"].asks["boiling"]
    assert asked.default == pytest.approx(boiling, abs=1.0)


def test_exhaust_water_to_boiling_against_iapws08() -> None:
    """Heat that takes sea water from 34 to 79 degrees, by the enthalpies of IAPWS-08: the hose shows 79 degrees, to 1 K.

    The model's one heat capacity by volume is 0.5 % off at the mean of this range, a quarter of a degree of the rise. IAPWS-08 ends at 80.
    """
    iapws = pytest.importorskip("iapws")
    mass_flow = 0.2 / 60.0 * 1.025  # 0.2 L a minute, weighed cold
    heat = mass_flow * (iapws.SeaWater(T=352.15, P=0.101325, S=0.035).h - iapws.SeaWater(T=307.15, P=0.101325, S=0.035).h) * 1e3
    assert cooling.exhaust_hose(34.0, 0.2e-3 / 60.0, heat, 1.0, 420.0) == pytest.approx(79.0, abs=1.0)


# ------------------------------------------------------------------ the exchanger solved again


@pytest.mark.parametrize(("rpm", "sea"), [(2300, 15), (2500, 24), (2600, 28), (2800, 5)])
@pytest.mark.parametrize("trouble", ["healthy", "low-raw-water", "fouled-exchanger", "low-coolant-flow", "thermostat-open", "overload"])
def test_steady_state_solved_again_by_ht(trouble: Any, rpm: float, sea: float) -> None:
    """Given what goes in, the library ht finds the two temperatures that leave the exchanger, to 1e-4 K.

    Flows and conductance are worked here from the laws the model states: flows in proportion to revs and opening, resistance of the
    tubes over flow to 0.8, that of the shell over flow to 0.6, half of each when clean, dirt on top. One shell, an even number of passes.
    """
    ht = pytest.importorskip("ht")
    figures, upset = engine(20e3, 50.0), cooling.UPSETS[trouble]
    h = cooling.with_fault(trouble, rpm / 60.0, sea, **figures)
    turns = rpm / 3000.0
    raw_share, coolant_share = turns * upset.raw_flow, turns * upset.coolant_flow * h.opening
    raw, coolant = figures["raw_per_power"] * 20e3 * raw_share, figures["coolant_per_power"] * 20e3 * coolant_share
    rated = figures["conductance_per_power"] * 20e3
    clean = rated / (0.5 * max(raw_share, 0.1) ** -0.8 + 0.5 * max(coolant_share, 0.1) ** -0.6)
    across = 1.0 / (1.0 / clean + (1.0 / upset.conductance - 1.0) / rated)
    assert h.boils == "no"
    done = ht.effectiveness_NTU_method(mh=coolant, mc=raw, Cph=cooling.COOLANT, Cpc=cooling.SEA, subtype="S&T", Thi=h.engine_out, Tci=sea,
                                       UA=across)
    assert h.from_exchanger == pytest.approx(done["Tho"], abs=1e-4)
    assert h.raw_out == pytest.approx(done["Tco"], abs=1e-4)


@pytest.mark.parametrize(("coolant_in", "coolant_out", "raw_in", "raw_out"), [(85, 73, 20, 35), (95, 88, 28, 60), (84, 50, 15, 24)])
def test_conductance_of_readings_by_ht(coolant_in: float, coolant_out: float, raw_in: float, raw_out: float) -> None:
    """A clean engine's share of conductance is one: the same four temperatures put through ht give the conductance it is set against.

    To 3 %: ht gets the one heat capacity of sea water, the function that at the temperature of the bucket (2.5 % less at 60 degrees).
    """
    ht = pytest.importorskip("ht")
    flow, power = 3e-4, 20e3
    capacity = cooling.SEA * flow
    coolant = capacity * (raw_out - raw_in) / (coolant_in - coolant_out)
    found = ht.effectiveness_NTU_method(mh=coolant, mc=capacity, Cph=1.0, Cpc=1.0, subtype="S&T", Thi=coolant_in, Tho=coolant_out,
                                        Tci=raw_in)["UA"]
    share = cooling.conductance_share(coolant_in, coolant_out, raw_in, raw_out, flow, power, flow / power,
                                      coolant / cooling.COOLANT / power, found / power)
    assert share == pytest.approx(1.0, rel=0.03)
