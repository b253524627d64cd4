"""The heat exchanger against worked examples of textbooks, the tables of Kays and London, and the library ht.

The examples were read through open companions to the books and worked again; where a book read a figure off a chart the formula is
the authority and the book stands for the set-up.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from diagnose.measure import exchanger
from diagnose.measure.exchanger import Flow

NAMES: dict[Flow, str] = {"counterflow": "counterflow", "parallel": "parallel", "two-pass": "S&T", "max-mixed": "crossflow, mixed Cmax",
                          "min-mixed": "crossflow, mixed Cmin"}
"""What the library calls each way of passing."""


@pytest.fixture(scope="module")
def ht() -> Any:
    """The heat transfer library, where it is installed."""
    return pytest.importorskip("ht")


# ------------------------------------------------------------------ mean differences


def test_oil_cooler_of_incropera() -> None:
    """Incropera, 6th edition, example 11.1: oil 100 to 60, water 30 to 40.2 deg C: 43.2 K, 8524 W, 65.9 m of 25 mm tube at 38.1 W/(m^2 K).

    Length to 0.2 m (the companion rounds to 65.7).
    """
    mean = exchanger.log_mean_difference(100.0, 60.0, 30.0, 40.2, "counterflow")
    assert mean == pytest.approx(43.2004, abs=1e-4)
    assert 8524 / mean / 38.1 / (math.pi * 0.025) == pytest.approx(65.9, abs=0.2)
    found = exchanger.rate(100.0, 30.0, 0.1 * 2131, 0.2 * 4178, 8524 / mean, "counterflow")
    assert found.heat == pytest.approx(8524, rel=2e-3)
    assert (found.coolant_out, found.raw_out) == pytest.approx((60.0, 40.2), abs=0.1)


def test_water_heater_of_cengel() -> None:
    """Cengel examples 11-4 and 11-8: water 1.2 kg/s 20 to 80, brine 2 kg/s at 160 deg C, U 640, both methods: 92.0 K, 5.11 m^2.

    Effectiveness 0.4286, ntu 0.652, rounded to three digits.
    """
    heat = 1.2 * 4180 * 60
    out = 160 - heat / (2 * 4310)
    mean = exchanger.log_mean_difference(160.0, out, 20.0, 80.0, "counterflow")
    assert out == pytest.approx(125.1, abs=0.06)
    assert mean == pytest.approx(92.0, abs=0.06)
    assert heat / mean / 640 == pytest.approx(5.11, abs=0.006)
    share, ratio = 60 / 140, 1.2 * 4180 / (2 * 4310)
    assert share == pytest.approx(0.4286, abs=5e-5)
    units = exchanger.ntu(share, ratio, "counterflow")
    assert units == pytest.approx(0.652, abs=6e-4)
    assert units * 1.2 * 4180 / 640 == pytest.approx(5.11, abs=0.01)


def test_condenser_of_cengel() -> None:
    """Cengel example 11-3: steam at 30, water 14 to 22 deg C, U 2100, 45 m^2: 11.54 K, 1091 kW."""
    mean = exchanger.log_mean_difference(30.0, 30.0, 14.0, 22.0, "counterflow")
    assert mean == pytest.approx(11.54, abs=0.006)
    assert mean * 2100 * 45 == pytest.approx(1091e3, rel=1e-3)


def test_jacket_water_radiator_of_cengel() -> None:
    """Cengel example 11-6: jacket water 90 to 65, air 20 to 40 deg C: counterflow mean 47.46 K; 62.9 kW from 0.6 kg/s."""
    assert exchanger.log_mean_difference(90.0, 65.0, 20.0, 40.0, "counterflow") == pytest.approx(47.46, abs=0.006)


def test_equal_ends_have_no_hole() -> None:
    """100 to 60 against 20 to 60 deg C: 40 K exactly (case in the tests of ht)."""
    assert exchanger.log_mean_difference(100.0, 60.0, 20.0, 60.0, "counterflow") == 40.0


@pytest.mark.parametrize(("readings", "factor"), [((130.0, 110.0, 15.0, 85.0), 0.94384), ((130.0, 110.0, 15.0, 35.0), 0.99257)])
def test_correction_for_two_passes(readings: tuple[float, float, float, float], factor: float) -> None:
    """Fakheri 2003, Bowman 1940: the cases in the tests of ht, the second with equal streams. Last printed digit."""
    assert exchanger.correction(*readings, "two-pass") == pytest.approx(factor, abs=1e-5)


def test_corrections_over_a_wide_range_against_ht(ht: Any) -> None:
    """The factor of Fakheri for one shell, over hot streams of 60 to 140 and cold ones of 0 to 40 deg C: the same function."""
    checked = 0
    for hot in (60.0, 90.0, 140.0):
        for drop in (2.0, 10.0, 25.0):
            for cold in (0.0, 20.0, 40.0):
                for rise in (1.0, 10.0, 15.0):
                    if hot - drop - cold - rise < 5:
                        continue
                    theirs = ht.F_LMTD_Fakheri(hot, hot - drop, cold, cold + rise, shells=1)
                    assert exchanger.correction(hot, hot - drop, cold, cold + rise, "two-pass") == pytest.approx(theirs, rel=1e-6)
                    checked += 1
    assert checked > 60


# ------------------------------------------------------------------ effectiveness


@pytest.mark.parametrize(("flow", "ratio", "shares"), [
    ("counterflow", 0.0, (0.3935, 0.6321, 0.8647, 0.9502, 0.9933)), ("counterflow", 0.5, (0.3623, 0.5647, 0.7746, 0.8744, 0.9572)),
    ("counterflow", 1.0, (0.3333, 0.5, 0.6667, 0.75, 0.8333)), ("two-pass", 0.5, (0.3569, 0.5399, 0.6931, 0.7410, 0.7615)),
    ("two-pass", 1.0, (0.3244, 0.4627, 0.5568, 0.5788, 0.5854)), ("parallel", 0.5, (0.3518, 0.5179, 0.6335, 0.6593, 0.6663)),
    ("parallel", 1.0, (0.3161, 0.4323, 0.4908, 0.4988, 0.5)),
])
def test_tables_of_kays_and_london(flow: Flow, ratio: float, shares: tuple[float, ...]) -> None:
    """Kays and London, ntu 0.5, 1, 2, 3 and 5 (computed with ht): last printed digit."""
    for units, share in zip((0.5, 1.0, 2.0, 3.0, 5.0), shares, strict=True):
        assert exchanger.effectiveness(units, ratio, flow) == pytest.approx(share, abs=5.1e-5)


@pytest.mark.parametrize("flow", list(NAMES))
def test_effectiveness_over_its_range_against_ht(ht: Any, flow: Flow) -> None:
    """Every way of passing, ntu 0.05 to 6, ratio 0 to 1, and back again where the curve is not flat: the same functions."""
    for units in (0.05, 0.2, 0.5, 1.0, 1.7, 3.0, 6.0):
        for ratio in (0.0, 0.1, 0.33, 0.6, 0.9, 1.0):
            if ratio == 0.0 and flow in ("max-mixed", "min-mixed"):
                theirs = 1 - math.exp(-units)  # the library divides by the ratio; this is the limit every book gives
            else:
                theirs = ht.effectiveness_from_NTU(units, ratio, subtype=NAMES[flow])
            assert exchanger.effectiveness(units, ratio, flow) == pytest.approx(theirs, rel=1e-9)
            if units < 4 and 0 < ratio < 1:  # at equal streams the library divides by nothing for two passes
                back = ht.NTU_from_effectiveness(theirs, ratio, subtype=NAMES[flow])
                assert exchanger.ntu(theirs, ratio, flow) == pytest.approx(back, rel=1e-6)


def test_oil_cooler_with_eight_passes_of_cengel() -> None:
    """Cengel example 11-9: oil 0.3 kg/s cp 2130 at 150, water 0.2 kg/s cp 4180 at 20 deg C, U 310, 8 x 5 m x 14 mm.

    ntu 0.853, ratio 0.764, effectiveness 0.462 (the book reads 0.47 off its chart), outlets 89.9 and 65.9 deg C.
    """
    area = 8 * 5 * math.pi * 0.014
    assert area == pytest.approx(1.76, abs=0.005)
    found = exchanger.rate(150.0, 20.0, 0.3 * 2130, 0.2 * 4180, 310 * area, "two-pass")
    assert found.effectiveness == pytest.approx(0.462, abs=6e-4)
    assert (found.coolant_out, found.raw_out) == pytest.approx((89.9, 65.9), abs=0.1)


def test_steam_and_oil_of_holman() -> None:
    """Holman, 10th edition, examples 10-8 and 10-9 (documentation of ht): rate, then rate again at half the oil.

    0.6087, 1.1041, 3041.75 W/K; then with 2975.5 W/K 0.8312, 131.675 kW, oil leaves at 110.59 deg C.
    """
    oil, steam = 1.45 * 1900, 5.2 * 1860
    units = exchanger.ntu(70 / 115, oil / steam, "max-mixed")
    assert units == pytest.approx(1.1041, abs=6e-5)
    assert units * oil == pytest.approx(3041.75, abs=0.01)
    half = exchanger.rate(130.0, 15.0, steam, 0.725 * 1900, 2975.5, "max-mixed")
    assert half.effectiveness == pytest.approx(0.8312, abs=6e-5)
    assert half.heat == pytest.approx(131.675e3, abs=1.0)
    assert half.raw_out == pytest.approx(110.59, abs=0.006)


def test_readings_over_their_range_against_ht(ht: Any) -> None:
    """Conductance from four temperatures by effectiveness in ht, with the heat of sea water from gsw.

    Four layouts, weak and strong water. The two heats are within 0.02 %.
    """
    gsw: Any = pytest.importorskip("gsw")
    ways: tuple[tuple[exchanger.Layout, str], ...] = (("counterflow", "counterflow"), ("two-pass", "S&T"), ("parallel", "parallel"))
    for layout, name in ways:
        for hot, drop, sea, rise, flow in ((82, 6, 18, 12, 4e-4), (88, 12, 28, 5, 9e-4), (95, 20, 5, 40, 1e-4), (75, 3, 12, 25, 2e-4)):
            mass = float(gsw.rho_t_exact(35.16504, min(sea + rise, 40), 0)) if sea + rise <= 40 else 1015.7
            heat = flow * mass * float(gsw.cp_t_exact(35.16504, sea + rise / 2, 0)) * rise
            small, large = sorted((heat / drop, heat / rise))
            theirs = ht.NTU_from_effectiveness(max(drop, rise) / (hot - sea), small / large, subtype=name) * small
            assert exchanger.conductance(hot, hot - drop, sea, sea + rise, flow, 35.0, layout) == pytest.approx(theirs, rel=3e-4)


def test_a_layout_hardly_matters_at_a_small_engines_temperatures(ht: Any) -> None:
    """82 to 76 against 18 to 30 deg C: the library's factor for two passes is within 1 % of one, and so is ours."""
    factor = ht.F_LMTD_Fakheri(82.0, 76.0, 18.0, 30.0, shells=1)
    assert factor > 0.99
    counterflow, passes = (exchanger.conductance(82.0, 76.0, 18.0, 30.0, 4e-4, 35.0, layout) for layout in ("counterflow", "two-pass"))
    assert counterflow / passes == pytest.approx(factor, rel=1e-6)


# ------------------------------------------------------------------ clean and dirty


def test_fouling_of_holman() -> None:
    """Holman example 10-3: clean 1961 W/(m^2 K), fouling 2e-4: 1408.6, a fall of 28 %."""
    dirty = exchanger.fouled(1961.0, 2e-4)
    assert dirty == pytest.approx(1408.6, abs=0.1)
    found = exchanger.cleanliness(1408.6, 1961.0, 1.0)
    assert found.lost == pytest.approx(0.28, abs=0.005)
    assert found.fouling == pytest.approx(2e-4, rel=1e-3)


def test_fouling_found_from_the_duty_of_dutta() -> None:
    """Dutta example 8.1: benzene 1000 kg/h cp 1880 from 75 to 50, water 30 to 40 deg C, 1.197 m^2, clean 663.1 W/(m^2 K).

    26.80 K, 407 W/(m^2 K), 9.49e-4 m^2 K/W; the book carries three digits, and the last is a difference: 1 %.
    """
    heat = 1000 / 3600 * 1880 * 25
    mean = exchanger.log_mean_difference(75.0, 50.0, 30.0, 40.0, "counterflow")
    assert mean == pytest.approx(26.80, abs=0.006)
    now = heat / mean
    assert now / 1.197 == pytest.approx(407, rel=2e-3)
    assert exchanger.cleanliness(now, 663.1 * 1.197, 1.197).fouling == pytest.approx(9.49e-4, rel=1e-2)


def test_sea_water_condenser_of_kreith() -> None:
    """Kreith, 7th edition, example 8.4: water 60 to 110, steam 125.4 deg F: effectiveness 0.765, ntu 1.446; 151.6 of a clean 180.8.

    The cleanliness factor 0.838 is the Heat Exchange Institute's term (memory); the ratio is arithmetic on the example.
    """
    share = 50 / 65.4
    assert share == pytest.approx(0.765, abs=6e-4)
    assert exchanger.ntu(share, 0.0, "two-pass") == pytest.approx(1.446, abs=2e-3)
    found = exchanger.cleanliness(151.6, 180.8)
    assert found.factor == pytest.approx(0.838, abs=6e-4)
    assert found.resistance == pytest.approx((1 / found.factor - 1) / 180.8)


@pytest.mark.parametrize(("fouling", "now"), [(6e-4, 1176.0), (2e-3, 444.0)])
def test_what_fouling_costs_a_good_exchanger_by_lienhard(fouling: float, now: float) -> None:
    """Lienhard example 2.13: 4000 W/(m^2 K) clean: last printed digit."""
    assert exchanger.fouled(4000.0, fouling) == pytest.approx(now, abs=0.6)


@pytest.mark.parametrize(("fouling", "british"), [(0.88e-4, 0.0005), (1.76e-4, 0.001), (1.76e-3, 0.01)])
def test_tema_fouling_in_both_systems(fouling: float, british: float) -> None:
    """TEMA: sea water 0.0005 and 0.001, engine jacket 0.001, exhaust gas 0.01 h ft2 degF/Btu, in a reproduction; times 0.17611.

    With both sides of a jacket-water cooler a clean 1500 W/(m^2 K) comes down to 1075, 71.6 % of clean, by hand.
    """
    assert british * 0.17611 == pytest.approx(fouling, rel=2e-3)
    assert exchanger.fouled(1500.0, 0.88e-4 + 1.76e-4) / 1500.0 == pytest.approx(0.716, abs=0.001)


def test_flows_as_in_a_tube_and_across_tubes(ht: Any) -> None:
    """The exponents are those of Dittus-Boelter (0.8 in tubes) and of flow across tube banks (0.6): with all resistance on one side.

    Dittus-Boelter by ht at twice the flow; across tubes Zukauskas by ht at Reynolds numbers of a coolant stream.
    """
    tube = ht.conv_internal.turbulent_Dittus_Boelter(Re=4e4, Pr=6.0) / ht.conv_internal.turbulent_Dittus_Boelter(Re=2e4, Pr=6.0)
    assert exchanger.clean_at_flows(500.0, 2.0, 1.0, tube_share=1.0) / 500.0 == pytest.approx(tube, rel=1e-9)
    pitch = {"pitch_parallel": 0.012, "pitch_normal": 0.015}
    bank = [ht.conv_tube_bank.Nu_Zukauskas_Bejan(Re=re, Pr=2.5, tube_rows=10, **pitch) for re in (4e3, 8e3)]
    assert exchanger.clean_at_flows(500.0, 1.0, 2.0, tube_share=0.0) / 500.0 == pytest.approx(bank[1] / bank[0], rel=0.03)
