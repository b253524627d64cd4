"""Belts against published guides, worked examples and textbooks."""

from __future__ import annotations

import math

import pytest

from diagnose.measure import belts
from diagnose.measure.belts import Section

INCH, POUND_FORCE, TURNS_A_MINUTE = 0.0254, 4.4482216152605, 1.0 / 60.0


def test_deflection_is_a_64th_of_an_inch_an_inch() -> None:
    """ContiTech, V-belts installation guide, page 13: a span of 100 inches gives 1 9/16 inches.

    The metric pairs are the same rule worked by hand, 250 and 400 mm. Exact but for the rounding printed.
    """
    assert belts.deflection(100 * INCH) / INCH == pytest.approx(1 + 9 / 16, abs=1e-9)
    assert belts.deflection(0.250) == pytest.approx(0.0039, abs=5e-5)
    assert belts.deflection(0.400) == pytest.approx(0.00625, abs=1e-9)


# the whole of table 5 for A, AX, B and BX: smallest pulley [inch], then pushes [lbf] new and used, slow and fast
TABLE_5: list[tuple[Section, float, float, tuple[float, float], tuple[float, float]]] = [
    ("a", 3.0, 3.6, (5.5, 3.7), (4.2, 2.8)), ("a", 3.8, 4.8, (6.8, 4.5), (5.7, 3.8)), ("a", 5.0, 7.0, (8.0, 5.4), (7.0, 4.7)),
    ("ax", 3.0, 3.6, (6.1, 4.1), (5.0, 3.4)), ("ax", 3.8, 4.8, (7.4, 5.0), (6.4, 4.3)), ("ax", 5.0, 7.0, (9.4, 5.7), (7.6, 5.1)),
    ("b", 4.4, 5.6, (7.9, 5.3), (6.7, 4.5)), ("b", 5.8, 8.6, (9.4, 6.3), (8.2, 5.5)),
    ("bx", 3.4, 4.2, (7.2, 4.9), (6.2, 4.2)), ("bx", 4.4, 5.6, (10.5, 7.1), (9.1, 6.2)), ("bx", 5.8, 8.6, (12.6, 8.5), (10.9, 7.3)),
]


@pytest.mark.parametrize(("section", "low", "high", "slow", "fast"), TABLE_5)
def test_push_force_is_that_of_the_published_table(section: Section, low: float, high: float, slow: tuple[float, float],
                                                   fast: tuple[float, float]) -> None:
    """ContiTech, V-belts installation guide, page 13, table 5, typed from the page a second time; both ends of each band, both speeds."""
    slowest = 1000 if section in ("a", "ax") else 860
    for inches in (low, (low + high) / 2, high):
        for turns, (new, used) in ((slowest, slow), (2500, slow), (2501, fast), (4000, fast)):
            force = belts.push_force(section, inches * INCH, turns * TURNS_A_MINUTE)
            assert (force.new / POUND_FORCE, force.used / POUND_FORCE) == pytest.approx((new, used), rel=1e-9)


def test_push_for_a_64th_is_a_sixteenth_of_the_tension() -> None:
    """Belt makers' P = (T + stiffness)/16 at a 64th of the span (memory), without the stiffness.

    A string pushed that far leans by a 32nd, which adds half a thousandth.
    """
    assert belts.tension_of_push(25.0, 0.32, 0.005) == pytest.approx(16 * 25.0, rel=6e-4)


def test_span_tone_of_a_diesel_s_alternator_belt() -> None:
    """Korins, belt tension and frequency: 0.11 kg/m, 0.17 m, 220 Hz is printed as 610 N (615 before its rounding), 624 N as 221 Hz."""
    assert belts.span_tension(0.11, 0.17, 220.0) == pytest.approx(4 * 0.11 * (0.17 * 0.17) * (220 * 220), rel=1e-12)
    assert belts.span_tension(0.11, 0.17, 220.0) == pytest.approx(610.0, rel=0.01)
    assert belts.span_tone(0.11, 0.17, 624.0) == pytest.approx(221.0, abs=0.6)


def test_speeds_and_slip_of_a_line_shaft() -> None:
    """Khurmi and Gupta, Theory of Machines, example 11.1, page 333: 150 turns, 750 on 450 and 900 on 150 mm.

    1500 without slip; 1440 with two percent at each drive, which the book rounds from 1440.6.
    """
    for slipped, wanted in ((0.0, 1500.0), (0.02, 1440.0)):
        shaft = belts.driven_speed(150 * TURNS_A_MINUTE, 0.750, 0.450, slipped)
        dynamo = belts.driven_speed(shaft, 0.900, 0.150, slipped)
        assert dynamo / TURNS_A_MINUTE == pytest.approx(wanted, abs=1.0)
        assert belts.slip(shaft, dynamo, 0.900, 0.150) == pytest.approx(slipped, abs=1e-12)
        # over both drives the ratio is 0.75/0.45 x 0.9/0.15 = 10, and the slips multiply: 1 - 0.98^2 = 0.0396
        assert belts.slip(150 * TURNS_A_MINUTE, dynamo, 1.0, 0.1) == pytest.approx(1 - (1 - slipped) ** 2, abs=1e-12)


def test_power_of_a_flat_belt() -> None:
    """Khurmi and Gupta, example 11.4, page 342: 600 mm, 200 turns, friction 0.25, 160 degrees, 2500 N: 7.89 kW.

    Tensions 2500 and 1244 N there; our form for the tension at rest is given half their sum. The book keeps three figures.
    """
    rest = {"friction": 0.25, "wrap": 160.0, "groove_angle": 180.0, "unit_mass": 0.0, "pulley_diameter": 0.6,
            "pulley_speed": 200 * TURNS_A_MINUTE}
    assert belts.belt_power(2500.0, **rest).power == pytest.approx(7890.0, rel=1e-3)
    assert belts.belt_power(2500.0, **rest).pull == pytest.approx(2500.0 - 1244.0, abs=1.0)
    assert belts.power_before_slip((2500.0 + 1244.0) / 2.0, **rest).power == pytest.approx(7890.0, rel=2e-3)


def test_design_ratio_of_v_belts() -> None:
    """V-belts are designed for a tension ratio of 5 at half a turn, an effective friction of 0.5123 (published list of belt formulas).

    exp(0.5123 pi) is 5.000 to four figures.
    """
    assert belts.tension_ratio(0.5123, 180.0, 180.0) == pytest.approx(5.0, rel=1e-3)


def test_length_centres_and_wrap() -> None:
    """Wentzell, Machine Elements, example 14.2, page 310: centres 19, pulleys 4 and 6 inches: 53.75 inches, wrap 174.0 degrees;
    with the next belt, 54, centres of 19.12.

    The book's shorter formula is within 0.0001 of the exact one here; it prints four figures.
    """
    run = belts.belt_run(19 * INCH, 6 * INCH, 4 * INCH)
    assert run.length / INCH == pytest.approx(53.75, abs=0.02)
    assert run.length / INCH == pytest.approx(2 * 19 + math.pi / 2 * 10 + 4 / (4 * 19), rel=1e-4)
    assert run.wrap == pytest.approx(174.0, abs=0.05)
    assert belts.centre_distance(54 * INCH, 6 * INCH, 4 * INCH) / INCH == pytest.approx(19.12, abs=0.005)


def test_free_span_and_its_deflection() -> None:
    """A published millwright's example: centres 24, pulleys 12 and 4 inches: span 23.66, to be pushed in by 0.370 inches."""
    run = belts.belt_run(24 * INCH, 12 * INCH, 4 * INCH)
    assert run.span / INCH == pytest.approx(23.66, abs=0.005)
    assert belts.deflection(run.span) / INCH == pytest.approx(0.370, abs=0.0005)


def test_cords_of_a_classical_belt() -> None:
    """Design manual for classical V-belts, table 2: outside less pitch diameter 1.57 mm for section A, 1.78 for B."""
    assert belts.pitch_diameter(0.100, 0.00157 / 2) == pytest.approx(0.100 - 0.00157, abs=1e-9)
    assert belts.pitch_diameter(0.150, 0.00178 / 2) == pytest.approx(0.150 - 0.00178, abs=1e-9)
