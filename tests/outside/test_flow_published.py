"""Raw-water flow against published figures.

No worked example of a flexible-vane pump was found in open text. What is checked is the published need of an engine, the heat
balance it implies, and the law itself by sums done by hand.
"""

from __future__ import annotations

import pytest

from diagnose.measure import flow

LITRE_A_MINUTE = 1e-3 / 60.0
HORSEPOWER = 745.69987  # mechanical horsepower in watts, NIST SP 811 appendix B


@pytest.mark.parametrize(("per_hundred", "per_kw"), [(65.0, 0.8717), (70.0, 0.9387), (36.0, 0.4828), (39.0, 0.5230)])
def test_published_need_of_a_hundred_horsepower(per_hundred: float, per_kw: float) -> None:
    """A dealer's page on engine cooling pumps: 65 to 70 L/min for 100 horsepower with a heat exchanger, 36 to 39 cooled directly.

    Tolerance: the figure for each kilowatt is rounded to four places here.
    """
    found = flow.expected_flow_rated(per_kw * LITRE_A_MINUTE, 100 * HORSEPOWER, 50.0, 50.0)
    assert found / LITRE_A_MINUTE == pytest.approx(per_hundred, rel=2e-4)
    assert flow.share_of_rated(per_hundred * LITRE_A_MINUTE, per_kw * LITRE_A_MINUTE, 100 * HORSEPOWER, 50.0, 50.0) == pytest.approx(1.0,
        rel=2e-4)


def test_half_the_revs_half_the_need() -> None:
    """Common practice: proportional to speed. A hand sum, 65 L/min at 3000 is 32.5 at 1500 revs a minute."""
    assert flow.flow_at_speed(65 * LITRE_A_MINUTE, 50.0, 25.0) / LITRE_A_MINUTE == pytest.approx(32.5)


def test_rise_that_the_published_flows_imply() -> None:
    """65 and 70 L/min for 100 horsepower, 28 per cent of the fuel's heat to the water at 30 per cent efficiency (Rajput, example 15.1).

    74.57 kW x 28/30 = 69.6 kW. Into 70 L/min of sea water at 15 degrees (TEOS-10: density 1025.98, heat capacity 3993.1 there) that is
    a rise of 14.6 K, into 65 L/min 15.7 K. The share of the flow must carry one into the other. Tolerance: both rises are
    computed here from TEOS-10 and printed to 0.1 K elsewhere.
    """
    gsw = pytest.importorskip("gsw")
    density, capacity = float(gsw.rho_t_exact(35.16504, 15.0, 0.0)), float(gsw.cp_t_exact(35.16504, 15.0, 0.0))
    heat = 100 * HORSEPOWER * 28.0 / 30.0
    rises = {litres: heat / (litres * LITRE_A_MINUTE * density * capacity) for litres in (65.0, 70.0)}
    assert rises[70.0] == pytest.approx(14.6, abs=0.05)
    assert rises[65.0] == pytest.approx(15.7, abs=0.05)
    found = flow.rise_at_share(15.0, rises[70.0], 65.0 / 70.0)
    assert found.rise == pytest.approx(rises[65.0], rel=1e-9)
    assert found.outlet == pytest.approx(15.0 + rises[65.0], rel=1e-9)


@pytest.mark.parametrize(("millilitres", "ratio", "revs", "efficiency", "litres"), [
    (40.0, 1.0, 1500.0, 1.0, 60.0), (40.0, 0.5, 3000.0, 0.8, 48.0), (25.0, 1.0, 800.0, 0.9, 18.0),
])
def test_displacement_times_turns(millilitres: float, ratio: float, revs: float, efficiency: float, litres: float) -> None:
    """The definition of displacement, by hand sums: 40 mL x 1500 a minute = 60 L/min, and so on."""
    found = flow.expected_flow(millilitres * 1e-6, ratio, revs / 60.0, efficiency)
    assert found / LITRE_A_MINUTE == pytest.approx(litres, rel=1e-12)
    assert flow.share_of_expected(litres / 2 * LITRE_A_MINUTE, millilitres * 1e-6, ratio, revs / 60.0, efficiency) == pytest.approx(0.5)


def test_published_pump_loses_to_its_slip_as_the_law_of_slip_says() -> None:
    """Slip through a clearance is the same at any speed at one pressure (textbook law of positive-displacement pumps, from memory).

    A pump of 40 mL a turn with 4 L/min of slip: at 600 revs 24 - 4 = 20 L/min, 33.3 mL a turn; at 3000 revs 116 L/min, 38.7 mL.
    Hand sums.
    """
    found = flow.two_speeds(20 * LITRE_A_MINUTE, 10.0, 116 * LITRE_A_MINUTE, 50.0, 0.1)
    assert found.slow * 1e6 == pytest.approx(33.333, abs=1e-3)
    assert found.fast * 1e6 == pytest.approx(38.667, abs=1e-3)
    assert found.word == "falls off at low revs"
