"""Tones and vibration against published bearing data, standards and worked examples."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from diagnose.measure import tones, vibration
from diagnose.measure.vibration import Machine

INCH, TURNS_A_MINUTE = 0.0254, 1.0 / 60.0


def test_orders_of_the_case_western_bearing() -> None:
    """Nine balls of 0.3126 on a circle of 1.537 inches (Case Western Reserve University, geometry from memory).

    Its published multipliers are 3.5848, 5.4152, 4.7135 and, for the cage, 0.39828 (memory); the geometry gives 0.39831. What they
    list for the ball is twice its spin.
    """
    orders = tones.bearing_orders(9, 0.3126 * INCH, 1.537 * INCH, 0.0, "inner")
    assert (orders.outer, orders.inner, orders.cage) == pytest.approx((3.5848, 5.4152, 0.39831), abs=1e-4)
    assert (orders.spin, orders.spin_twice) == pytest.approx((2.3567, 4.7135), abs=1e-4)
    assert orders.cage == pytest.approx(0.39828, abs=5e-5)


def test_tones_of_the_case_western_bearing() -> None:
    """The fault frequencies that data sets derived from it state at 1797 turns a minute: 107.4, 162.2, 11.9 and 70.6 Hz, to a tenth."""
    found = tones.bearing_tones(1797 * TURNS_A_MINUTE, 9, 7.94e-3, 39.04e-3, 0.0, "inner")
    assert found[:4] == pytest.approx((107.4, 162.2, 11.9, 70.6), abs=0.06)


def test_tones_of_a_published_calculator_s_table() -> None:
    """A published sample: 1800 turns, 8 elements of 10 on a circle of 50 mm: cage 12, outer 96, inner 144, spin 72 Hz. Exact."""
    found = tones.bearing_tones(30.0, 8, 0.010, 0.050, 0.0, "inner")
    assert (found.cage, found.outer, found.inner, found.spin) == pytest.approx((12.0, 96.0, 144.0, 72.0), rel=1e-12)


def test_tones_of_a_bearing_with_contact_angle() -> None:
    """The run-to-failure bearings of the University of Cincinnati: 16 rollers of 0.331 on 2.815 inches, 15.17 degrees, 2000 turns a
    minute: 236.4, 296.9, 14.8 and, for the spin, 139.9 Hz (memory). They print a tenth."""
    found = tones.bearing_tones(2000 * TURNS_A_MINUTE, 16, 0.331 * INCH, 2.815 * INCH, 15.17, "inner")
    assert found[:4] == pytest.approx((236.4, 296.9, 14.8, 139.9), abs=0.06)


@pytest.mark.parametrize(("turning", "inner_speed", "outer_speed"), [("inner", 30.0, 0.0), ("outer", 0.0, 30.0)])
@pytest.mark.parametrize(("count", "wide", "angle"), [(7, 3.2, 0.0), (9, 4.9, 0.0), (12, 5.9, 40.0), (16, 8.5, 15.17)])
def test_orders_follow_from_rolling_without_sliding(turning: Any, inner_speed: float, outer_speed: float, count: int, wide: float,
                                                    angle: float) -> None:
    """Kinematics with both rings free to turn, as textbooks write it: a ball's middle moves at the mean of the two races' speeds,
    and the race that a flaw sits on is passed at its speed relative to the cage. Exact."""
    lean = math.cos(math.radians(angle)) / wide
    cage = 0.5 * (inner_speed * (1 - lean) + outer_speed * (1 + lean))
    spin = abs(wide / 2 * (inner_speed - outer_speed) * (1 - lean**2))
    found = tones.bearing_tones(30.0, count, 0.01, 0.01 * wide, angle, turning)
    assert found == pytest.approx((count * abs(cage - outer_speed), count * abs(cage - inner_speed), cage, spin, 2 * spin), rel=1e-12)


def test_the_rule_by_count_is_right_to_five_percent() -> None:
    """0.4 and 0.6 of the count (common practice) against the two bearings above and the NU 330 of a published table: at 1800 turns
    a minute its cage makes 12.0 Hz and its outer ring 168.0 with 14 rollers."""
    by_count = tones.bearing_tones_by_count(30.0, 14, 0.4, "inner")
    assert (by_count.cage, by_count.outer) == pytest.approx((12.0, 168.0), rel=1e-9)
    nine = tones.bearing_tones_by_count(1797 * TURNS_A_MINUTE, 9, 0.4, "inner")
    assert (nine.outer, nine.inner) == pytest.approx((107.4, 162.2), rel=0.01)


@pytest.mark.parametrize(("cylinders", "turns", "wanted"), [
    (1, 850, 7.08), (2, 850, 14.17), (3, 850, 21.25), (4, 850, 28.33), (3, 2400, 60.0), (4, 3000, 100.0)])
def test_firing_of_a_four_stroke(cylinders: int, turns: float, wanted: float) -> None:
    """Kinematics: a cylinder fires once in two turns (worked by hand, printed to a hundredth). Orders 0.5, 1, 1.5, 2."""
    found = tones.firing_tones(turns * TURNS_A_MINUTE, cylinders)
    assert found.firing == pytest.approx(wanted, abs=0.006)
    assert found.order == cylinders / 2


def test_one_missing_cylinder_beats_at_half_the_turns() -> None:
    """A car maker's workshop text: at 2000 turns a minute one cylinder that misfires shakes at 1000 a minute, order 0.5."""
    assert tones.firing_tones(2000 * TURNS_A_MINUTE, 4).one_missing * 60 == pytest.approx(1000.0)


@pytest.mark.parametrize("cylinders", [1, 2, 3, 4, 6])
def test_the_orders_are_those_of_a_pulse_train(cylinders: int) -> None:
    """A second way: the spectrum of the pulses of 64 turns, by fast Fourier transform. All cylinders alike: the lowest line is the
    firing. One of several weak: the lowest line is half the turns."""
    turns, a_turn = 64, 240
    pulses = np.zeros(turns * a_turn)
    pulses[:: 2 * a_turn // cylinders] = 1.0
    weak = pulses.copy()
    weak[:: 2 * a_turn] = 0.7

    def lowest(signal: Any) -> float:
        lines = np.abs(np.fft.rfft(signal - signal.mean()))
        return float(np.flatnonzero(lines > 0.05 * lines.max())[0] / turns)

    found = tones.firing_tones(10.0, cylinders)
    assert lowest(pulses) == pytest.approx(found.order)
    if cylinders > 1:
        assert lowest(weak) == pytest.approx(found.one_missing / 10.0)


def test_gear_mesh_of_a_documented_pair() -> None:
    """MathWorks, gear mesh example: a pinion of 8 teeth at 20 turns meshes at 160 with a wheel of 42, which turns 3.8095."""
    assert tones.gear_mesh_tone(20.0, 8) == 160.0
    assert tones.gear_mesh_tone(3.8095, 42) == pytest.approx(160.0, abs=0.01)
    assert tones.propeller_tones(20.0, 42 / 8, 1).shaft == pytest.approx(3.8095, abs=1e-4)


@pytest.mark.parametrize(("diameter", "length", "turns", "wanted"), [
    # a published sample table: driver, belt and speed with 1.2, 0.5 and 2.2 % slip, which its belt speed is less by
    (0.18, 2.4, 1480 * (1 - 0.012), 5.742)])
def test_rounds_of_a_belt(diameter: float, length: float, turns: float, wanted: float) -> None:
    """Rounds a second are pi d n / L (published notes on belts in vibration analysis); a published sample row, to a hundredth."""
    assert tones.belt_tones(turns * TURNS_A_MINUTE, diameter, length).once == pytest.approx(wanted, abs=0.01)


# ISO 10816-1 annex B, mm/s rms, as two open reproductions and a meter's manual after ISO 2372 print it
ANNEX_B: list[tuple[Machine, tuple[float, float, float]]] = [
    ("small", (0.71, 1.8, 4.5)), ("medium", (1.12, 2.8, 7.1)), ("large-rigid", (1.8, 4.5, 11.2)), ("large-soft", (2.8, 7.1, 18.0))]


@pytest.mark.parametrize(("machine", "bounds"), ANNEX_B)
def test_zones_of_the_standard(machine: Machine, bounds: tuple[float, float, float]) -> None:
    """Just under and just over each bound. The table is the standard's, so the comparison is exact."""
    for bound, below, above in zip(bounds, "ABC", "BCD", strict=True):
        assert vibration.zone(bound * 0.999e-3, machine).zone == below
        assert vibration.zone(bound * 1.001e-3, machine).zone == above
    assert tuple(1e3 * found for found in vibration.zone(0.0, machine)[1:]) == pytest.approx(bounds)  # type: ignore[operator]


def test_zone_of_a_worked_example() -> None:
    """A reproduction's example: a 45 kW motor with 3.2 mm/s lies in zone C."""
    assert vibration.zone(3.2e-3, "medium").zone == "C"


@pytest.mark.parametrize("tone", [5.0, 20.0, 60.0, 100.0])
def test_single_tones_by_a_published_chart(tone: float) -> None:
    """Newport, sinusoidal motion from nought to peak: V = 6.28 f D and A = 0.102 f^2 D, V in inches a second, A in g, D in inches;
    rms is 0.707 of the peak. The chart keeps three figures."""
    inches = 0.001
    motion = vibration.motion_of_displacement(2 * inches * INCH, tone)
    assert motion.velocity / INCH == pytest.approx(0.707 * 6.28 * tone * inches, rel=2e-3)
    assert motion.acceleration_peak / 9.807 == pytest.approx(0.102 * tone**2 * inches, rel=4e-3)


def test_single_tone_of_a_worked_conversion() -> None:
    """An engineers' forum: 0.462 m rms at 0.38 Hz would be 0.38 g peak. Ours begins at 0.5 Hz, so a tenth the movement at ten times
    the tone, which is ten times the acceleration: 3.8 g. Two figures are printed."""
    motion = vibration.motion_of_velocity(0.0462 * 2 * math.pi * 3.8, 3.8)
    assert motion.acceleration_peak / 9.8 == pytest.approx(3.8, rel=0.01)


def test_single_tones_by_sampling() -> None:
    """A second way: a sampled sine, differenced and squared. A thousand samples a turn err by under 1e-4."""
    tone, width = 23.0, 0.0012
    time = np.arange(0.0, 1.0, 1 / (1000 * tone))
    place = width / 2 * np.sin(2 * np.pi * tone * time)
    speed = np.gradient(place, time)
    rest = np.gradient(speed, time)
    motion = vibration.motion_of_displacement(width, tone)
    assert motion.velocity == pytest.approx(float(np.sqrt((speed**2).mean())), rel=1e-4)
    assert motion.acceleration == pytest.approx(float(np.sqrt((rest[2:-2] ** 2).mean())), rel=2e-4)


@pytest.mark.parametrize("millimetres", [1.0, 4.0, 10.0, 25.0, 100.0])
def test_natural_frequency_of_a_sag(millimetres: float) -> None:
    """15.76 Hz over the root of the sag in mm, as published for isolators. Printed to four figures."""
    assert vibration.natural_frequency(millimetres * 1e-3, 1.0) == pytest.approx(15.76 / math.sqrt(millimetres), rel=3e-4)


def test_a_worked_isolation() -> None:
    """A published example: 25 mm of sag, 25 Hz, damping 0.05: 3.15 Hz, ratio 7.93, share 0.0206, 97.9 % kept out."""
    own = vibration.natural_frequency(0.025, 1.0)
    assert own == pytest.approx(3.15, abs=0.005)
    assert 25.0 / own == pytest.approx(7.93, abs=0.005)
    assert vibration.transmissibility(25.0, own, 0.05) == pytest.approx(0.0206, abs=5e-5)


@pytest.mark.parametrize("damping", [0.02, 0.05, 0.2])
def test_transmissibility_against_the_response_of_a_linear_system(damping: float) -> None:
    """scipy.signal.freqresp of (2 z s + 1) / (s^2 + 2 z s + 1), swept from a tenth to a hundred times the own beat. To rounding."""
    signal = pytest.importorskip("scipy.signal")
    ratios = np.geomspace(0.1, 100.0, 400)
    _, response = signal.freqresp(([2 * damping, 1.0], [1.0, 2 * damping, 1.0]), ratios)
    ours = [vibration.transmissibility(8.0 * ratio, 8.0, damping) for ratio in ratios]
    assert ours == pytest.approx(list(np.abs(response)), rel=1e-9)
