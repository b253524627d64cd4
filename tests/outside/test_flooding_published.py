"""Water coming in against worked examples, published boat tables and reference libraries."""

from __future__ import annotations

import math

import pytest

from diagnose.measure import flooding

FOOT, INCH = 0.3048, 0.0254
GALLON_A_MINUTE = 3.785411784e-3 / 60.0
LITRE_A_MINUTE = 1e-3 / 60.0
POUND_FORCE = 4.4482216152605

SEWARD = {
    1: (19.4, 43.8, 77.9, 121.7, 175.3, 238.6, 311.6),
    2: (27.8, 62.5, 111.1, 173.6, 250.0, 340.2, 444.4),
    3: (33.9, 76.3, 135.7, 212.0, 305.3, 415.6, 542.8),
    4: (39.3, 88.4, 157.1, 245.3, 353.5, 481.2, 628.4),
}
"""Feet below the waterline; US gallons a minute for holes of 1, 1.5, 2, 2.5, 3, 3.5 and 4 inches."""


def gpm(inches: float, feet: float, coefficient: float) -> float:
    """US gallons a minute through a hole."""
    return flooding.hole_flow(inches * INCH, feet * FOOT, coefficient) / GALLON_A_MINUTE


# --- holes ---------------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("feet", sorted(SEWARD))
def test_boat_table_of_a_yacht_club(feet: int) -> None:
    """William H. Seward Yacht Club, flooding rates: all 28 entries are a loss-free hole, coefficient 0.99 to 1.

    Tolerance 1.3 per cent: at one foot the table lies 1.2 under the law, at the other depths within 0.6; it takes its constants rounded.
    """
    for inches, printed in zip((1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0), SEWARD[feet], strict=True):
        assert gpm(inches, feet, 1.0) == pytest.approx(printed, rel=0.013)


def test_boat_table_fills_its_drum() -> None:
    """The same page: two inches one foot down fill a drum of 55 gallons in 42.4 seconds. Same tolerance."""
    assert 55.0 / gpm(2.0, 1.0, 1.0) * 60.0 == pytest.approx(42.4, rel=0.013)


def test_boat_figure_of_a_magazine() -> None:
    """Ocean Navigator, June 2021: 47 gallons a minute through two inches one foot down, which is a coefficient of 0.6.

    With the table above it is the band: the same hole differs by a factor of 1.65. Tolerance: printed to the gallon.
    """
    assert gpm(2.0, 1.0, 0.6) == pytest.approx(47.0, abs=0.5)
    assert SEWARD[1][2] / 47.0 == pytest.approx(1.65, abs=0.01)


def test_trade_formula() -> None:
    """Trade formula, gallons a minute = 20 x inches squared x root of feet: within 2 per cent of the loss-free hole. It is often
    misprinted with the plain diameter.
    """
    for inches, feet in ((1.0, 1.0), (2.0, 3.0), (4.0, 4.0), (0.5, 6.0)):
        assert gpm(inches, feet, 1.0) == pytest.approx(20.0 * inches**2 * math.sqrt(feet), rel=0.02)


@pytest.mark.parametrize(("millimetres", "metres", "litres"), [
    (10, 0.1, 4.03), (10, 0.3, 6.97), (10, 0.5, 9.00), (10, 1.0, 12.7), (25, 0.1, 25.2), (25, 0.3, 43.6), (25, 0.5, 56.3), (25, 1.0, 79.6),
    (38, 0.1, 58.1), (38, 0.3, 101.0), (38, 0.5, 130.0), (38, 1.0, 184.0),
])
def test_sharp_holes(millimetres: float, metres: float, litres: float) -> None:
    """Coefficient 0.61, computed with the reference library `fluids` (flow meter discharge) and printed to three figures."""
    assert flooding.hole_flow(millimetres / 1e3, metres, 0.61) / LITRE_A_MINUTE == pytest.approx(litres, rel=6e-3)


def test_orifice_of_a_textbook() -> None:
    """Schaschke, example 6.1 page 143: coefficient 0.6, 10 mm, 0.2 m head, 8.06 m^3 a day."""
    assert flooding.hole_flow(0.010, 0.2, 0.6) * 86400.0 == pytest.approx(8.06, abs=0.01)


def test_hole_against_a_flow_meter_over_the_whole_range() -> None:
    """The discharge of an orifice in a wide pipe, `fluids.flow_meter`. At a bore of a fiftieth the approach counts for 1e-7."""
    meter = pytest.importorskip("fluids.flow_meter")
    for diameter in (0.001, 0.01, 0.05, 0.2):
        for depth in (0.02, 0.3, 1.0, 3.0, 9.0):
            for coefficient in (0.5, 0.61, 0.8, 0.98):
                mass = meter.flow_meter_discharge(D=50 * diameter, Do=diameter, P1=2e5 + 1025 * 9.80665 * depth, P2=2e5, rho=1025.0,
                    C=coefficient)
                assert flooding.hole_flow(diameter, depth, coefficient) == pytest.approx(mass / 1025.0, rel=1e-6)


def test_plug_in_a_five_inch_hole() -> None:
    """TM 55-1915-200-SDC, sections 8-1 and 8-8: 5 inches at 9 feet, 78.5 lbf with 0.444 psi a foot. As printed to 0.1 lbf."""
    found = flooding.hole(5 * INCH, 9 * FOOT, 0.6, 1025.0)
    assert found.force / POUND_FORCE == pytest.approx(78.5, abs=0.1)
    assert found.pressure / 6894.757 == pytest.approx(9 * 0.444, rel=2e-3)


# --- hoses ---------------------------------------------------------------------------------------------------------------------


def test_short_stub() -> None:
    """A stub with a sharp entrance of half a velocity head and the outflow lost: 1 / sqrt(1.5) = 0.816, the usual 0.8 of a short tube."""
    assert flooding.hose_coefficient(0.025, 0.0, 0.03, 0.5, 0.0) == pytest.approx(0.8165, abs=5e-5)


def test_hose_against_pipe_losses_over_the_whole_range() -> None:
    """`fluids`: the losses of entrance, run and fittings at our flow, and the velocity at the outlet, must add up to the depth."""
    fluids = pytest.importorskip("fluids")
    for diameter in (0.013, 0.025, 0.05):
        for length in (0.0, 0.5, 3.0, 12.0):
            for depth in (0.1, 0.5, 2.0):
                flow = flooding.hose_flow(diameter, depth, length, 0.03, fluids.fittings.entrance_sharp(), 1.5)
                velocity = flow / (math.pi / 4 * diameter**2)
                losses = fluids.fittings.entrance_sharp() + fluids.K_from_f(fd=0.03, L=length,
                    D=diameter) + 1.5 + fluids.fittings.exit_normal()
                assert fluids.dP_from_K(K=losses, rho=1025.0, V=velocity) == pytest.approx(1025.0 * 9.80665 * depth, rel=1e-9)


def test_default_friction_of_a_small_hose() -> None:
    """`fluids.friction_factor` for a hose slightly rough, at the speeds of these flows: 0.02 to 0.04, so 0.03 with a spread of 0.008."""
    fluids = pytest.importorskip("fluids")
    factors = [fluids.friction_factor(Re=re, eD=ed) for re in (1e4, 4e4, 1e5) for ed in (0.0005, 0.002, 0.005)]
    assert 0.018 < min(factors) < 0.03 < max(factors) < 0.041


# --- levels that change --------------------------------------------------------------------------------------------------------


def test_emptying_a_tank() -> None:
    """Schaschke, example 6.3 page 147: 1 m across, 1 m^3, a hole of 20 mm, coefficient 0.6, empty in 2124 s (1 s as printed)."""
    area = math.pi / 4
    assert flooding.falling_head_time(area, 0.020, 0.6, 1.0 / area, 0.0) == pytest.approx(2124.0, abs=1.0)


def test_boat_that_fills_is_that_tank_turned_round() -> None:
    """The same example as a boat that does not sink: the water inside rises to the level outside in the same 2124 s."""
    area = math.pi / 4
    found = flooding.time_to_level(0.020, 1.0 / area, 0.6, area, 0.0, 0.0, 1.0 / area)
    assert found.time == pytest.approx(2124.0, abs=1.0)
    assert found.volume == pytest.approx(1.0)


def test_two_tanks_levelling() -> None:
    """Schaschke, example 6.6 page 153: tanks of 8 and 4 m^2, a hole of 0.01 m^2, coefficient 0.62, head 0.3 to 0.1 m.

    0.01504 m^3/s to begin with and 44.96 s, as printed.
    """
    diameter = math.sqrt(0.01 * 4 / math.pi)
    assert flooding.hole_flow(diameter, 0.3, 0.62) == pytest.approx(0.01504, abs=5e-6)
    assert flooding.falling_head_time(flooding.effective_area(8.0, 4.0), diameter, 0.62, 0.3, 0.1) == pytest.approx(44.96, abs=0.01)


def test_falling_head_against_quadrature() -> None:
    """scipy.integrate.quad of area / flow over the head, between many pairs of heads. Quadrature is good to 1e-8 here."""
    integrate = pytest.importorskip("scipy.integrate")
    for start, end in ((1.0, 0.0), (0.5, 0.1), (3.0, 2.9), (0.05, 0.001)):
        for diameter in (0.005, 0.05):
            time, _ = integrate.quad(lambda h, d=diameter: 2.0 / (0.62 * math.pi / 4 * d**2 * math.sqrt(2 * 9.80665 * h)), end, start)
            assert flooding.falling_head_time(2.0, diameter, 0.62, start, end) == pytest.approx(time, rel=1e-6)


@pytest.mark.parametrize("sinkage", [0.0, 0.2, 0.5, 0.9])
@pytest.mark.parametrize(("hole_height", "level"), [(0.0, 0.3), (0.3, 0.2), (0.3, 0.6), (0.1, 0.45)])
def test_rising_water_against_quadrature(sinkage: float, hole_height: float, level: float) -> None:
    """scipy.integrate.quad of surface / flow over the level, head written out from the picture: depth of the hole below the sea, plus
    how far she has sunk, less what stands over the hole inside. Quadrature in two parts, good to 1e-8.
    """
    integrate = pytest.importorskip("scipy.integrate")
    depth, area, floor = 0.5, math.pi / 4 * 0.03**2, 2.5

    def slowness(z: float) -> float:
        head = depth + sinkage * z - max(0.0, z - hole_height)
        return floor / (0.7 * area * math.sqrt(2 * 9.80665 * head))

    time = sum(integrate.quad(slowness, low, high)[0] for low, high in ((0.0, min(level, hole_height)), (min(level, hole_height), level)))
    found = flooding.time_to_level(0.03, depth, 0.7, floor, hole_height, sinkage, level)
    assert found.time == pytest.approx(time, rel=1e-6)


def test_rising_water_against_a_solver_of_differential_equations() -> None:
    """scipy.integrate.solve_ivp from the hull's balance: volume inside, sinkage by floor over waterplane, flow by Torricelli.

    A hull of 12 m^2 waterplane flooded over 3 m^2 sinks a quarter of a metre for each metre inside. Solver tolerance 1e-9.
    """
    integrate = pytest.importorskip("scipy.integrate")
    floor, waterplane, depth, hole_height = 3.0, 12.0, 0.4, 0.15
    area = math.pi / 4 * 0.025**2

    def flow(_: float, volume: list[float]) -> list[float]:
        inside, sunk = volume[0] / floor, volume[0] / waterplane
        head = depth + sunk - max(0.0, inside - hole_height)
        return [0.75 * area * math.sqrt(2 * 9.80665 * max(head, 0.0))]

    found = flooding.time_to_level(0.025, depth, 0.75, floor, hole_height, floor / waterplane, 0.4)
    solved = integrate.solve_ivp(flow, (0.0, found.time), [0.0], rtol=1e-9, atol=1e-12, max_step=5.0)
    assert solved.y[0, -1] / floor == pytest.approx(0.4, rel=1e-6)


# --- pumps ---------------------------------------------------------------------------------------------------------------------


def test_pump_of_the_boat_table_against_its_hole() -> None:
    """The yacht club's page: 1600 gallons an hour are 26.7 a minute, at best about the one inch two feet down (27.8)."""
    pump = 1600.0 / 60.0 * GALLON_A_MINUTE
    found = flooding.against_pump(27.8 * GALLON_A_MINUTE, pump, 1.0, None)
    assert found.pumped / GALLON_A_MINUTE == pytest.approx(26.7, abs=0.05)
    assert found.share == pytest.approx(1.04, abs=0.005)
    assert flooding.against_pump(19.4 * GALLON_A_MINUTE, pump, 1.0, None).word == "pump holds but only just"


def test_half_of_what_is_printed_never_holds_a_two_inch_hole() -> None:
    """Ocean Navigator: pumps lift about half of what is printed; 47 gallons a minute come in. 4000 gallons an hour lift 33, 14 are gained.

    A boat that may take 250 gallons has about 18 minutes: hand sum 250 / 13.67.
    """
    found = flooding.against_pump(47.0 * GALLON_A_MINUTE, 4000.0 / 60.0 * GALLON_A_MINUTE, 0.5, 250.0 * 3.785411784e-3)
    assert found.word == "water gains"
    assert found.gains / GALLON_A_MINUTE == pytest.approx(13.67, abs=0.01)
    assert found.time == pytest.approx(250.0 / 13.667 * 60.0, rel=1e-3)


def test_pump_on_its_parabola() -> None:
    """head = a - b x flow^2 (memory, any textbook on pumps), solved by hand: 100 open, 60 at 2 m, so a = 3.125 m, and 82.46 at 1 m."""
    for height in (0.0, 0.5, 1.0, 1.7, 2.0):
        flow = flooding.pump_output(100 * LITRE_A_MINUTE, 60 * LITRE_A_MINUTE, 2.0, height) / LITRE_A_MINUTE
        assert 3.125 - 3.125 / 100.0**2 * flow**2 == pytest.approx(height, abs=1e-9)


# --- siphon --------------------------------------------------------------------------------------------------------------------


def test_siphon_of_a_textbook() -> None:
    """Cengel and Cimbala, example 5-7 page 207: 5 mm, 0.75 m of drop, crest 2.75 m over the outlet, 750 kg/m^3.

    4 L in 53.1 s and 81.1 kPa in the crest at 101.3 kPa outside; the book takes g as 9.81.
    """
    found = flooding.siphon_check(-0.75, 2.0, 0.005, 1.0, "none", 20.0, 750.0, 101.3e3)
    assert 4e-3 / found.flow == pytest.approx(53.1, abs=0.1)
    assert found.crest / 1e3 == pytest.approx(81.1, abs=0.05)
    assert found.word == "can run"


@pytest.mark.parametrize(("crest", "word"), [(0.45, "vent breaks it"), (0.305, "vent breaks it"), (-0.01, "no siphon needed")])
def test_loop_with_a_vent(crest: float, word: str) -> None:
    """Published loops of 450 mm (a maker, Gerr) and 305 mm (the low end of Professional BoatBuilder's 305 to 457) lie over the water;
    one under it needs no siphon to flood.
    """
    assert flooding.siphon_check(-0.1, crest, 0.025, 0.4, "works", 15.0, 1025.0, 101325.0).word == word


def test_column_of_ten_metres() -> None:
    """A siphon of water cannot stand over about ten metres: 101325 / (1000 x 9.80665) = 10.3 m less the vapour's 0.24 m at 20 degrees."""
    low, high = (flooding.siphon_check(-0.01, crest, 0.025, 0.4, "none", 20.0, 998.2, 101325.0).word for crest in (10.0, 10.2))
    assert (low, high) == ("can run", "cannot run")
