"""Bolts against ISO 898-1, published tables after VDI 2230, and worked examples."""

from __future__ import annotations

import pytest

from diagnose.measure import bolts
from diagnose.measure.bolts import Grade, Thread

INCH, POUND_FORCE = 0.0254, 4.4482216152605
COARSE: tuple[Thread, ...] = ("m5", "m6", "m8", "m10", "m12", "m14", "m16")
PITCHES = {"m5": (5, 0.8), "m6": (6, 1.0), "m8": (8, 1.25), "m10": (10, 1.5), "m12": (12, 1.75), "m14": (14, 2.0), "m16": (16, 2.0),
           "m8x1": (8, 1.0), "m10x1-25": (10, 1.25), "m12x1-25": (12, 1.25), "m12x1-5": (12, 1.5), "m14x1-5": (14, 1.5),
           "m16x1-5": (16, 1.5)}

# ISO 898-1, coarse threads: nominal stress area [mm^2] and proof loads [N] of 8.8, 10.9 and 12.9, as two open tables print them
ISO_898_1 = [
    ("m5", 14.2, 8230, 11800, 13800), ("m6", 20.1, 11600, 16700, 19500), ("m8", 36.6, 21200, 30400, 35500),
    ("m10", 58.0, 33700, 48100, 56300), ("m12", 84.3, 48900, 70000, 81800), ("m14", 115.0, 66700, 95500, 112000),
    ("m16", 157.0, 91000, 130000, 152000)]


@pytest.mark.parametrize(("thread", "area", "class_8_8", "class_10_9", "class_12_9"), ISO_898_1)
def test_proof_loads_of_the_standard(thread: Thread, area: float, class_8_8: float, class_10_9: float, class_12_9: float) -> None:
    """The standard rounds areas and loads to three figures, the loads mostly down: up to 0.6 % under area times stress (M6, 8.8)."""
    diameter, pitch = PITCHES[thread]
    assert bolts.stress_area(diameter * 1e-3, pitch * 1e-3) == pytest.approx(area * 1e-6, rel=0.005)
    wanted: list[tuple[Grade, float]] = [("class-8-8", class_8_8), ("class-10-9", class_10_9), ("class-12-9", class_12_9)]
    for grade, load in wanted:
        assert bolts.proof_load(thread, grade) == pytest.approx(load, rel=0.007)


def test_torque_of_an_inch_bolt() -> None:
    """Wentzell, Machine Elements, example 6.1, page 120: 3/4-10, area 0.334 in^2, proof 85 ksi, 85 % of it, K 0.2: 3620 lbf in.

    The area is the book's: inch threads have a formula of their own.
    """
    clamp = 0.85 * 85e3 * 0.334 * POUND_FORCE
    assert bolts.torque_by_nut_factor(clamp, 0.75 * INCH, 0.2) / (POUND_FORCE * INCH) == pytest.approx(3620.0, rel=1e-3)


@pytest.mark.parametrize(("thread", "newton_metres", "printed", "unit"), [
    ("m6", 10.5, 92, POUND_FORCE * INCH), ("m8", 25.5, 225, POUND_FORCE * INCH),
    ("m10", 50.5, 37, POUND_FORCE * 12 * INCH), ("m12", 88.0, 65, POUND_FORCE * 12 * INCH)])
def test_torques_of_a_published_table(thread: Thread, newton_metres: float, printed: float, unit: float) -> None:
    """Class 8.8 dry, 75 % of proof load, K 0.2 (open table of metric bolts): 92 and 225 lbf in, 37 and 65 lbf ft, printed whole.

    Half a lbf ft in 37 is 1.4 %. Lubricated, K 0.15, the table takes three quarters.
    """
    found = bolts.tighten(thread, "class-8-8", 0.75, 0.2, 0.15, 0.15, 1.3)
    assert found.torque == pytest.approx(newton_metres, rel=0.005)
    assert found.torque / unit == pytest.approx(printed, rel=0.015)
    assert bolts.tighten(thread, "class-8-8", 0.75, 0.15, 0.15, 0.15, 1.3).torque == pytest.approx(0.75 * found.torque)


@pytest.mark.parametrize(("thread", "lubricated", "dry"), [("m8", 22, 28), ("m10", 43, 55), ("m12", 75, 95)])
def test_torque_lies_within_a_maker_s_table(thread: Thread, lubricated: float, dry: float) -> None:
    """A machine maker's manual for class 8.8, lubricated to dry. Ours for K 0.2 lies between; other makers print 18 to 28 for M8,
    so makers differ by a quarter either way and the book of the engine comes first."""
    assert lubricated < bolts.tighten(thread, "class-8-8", 0.75, 0.2, 0.15, 0.15, 1.3).torque < dry


# Fine threads after VDI 2230:2001, 90 % of yield, as a fastener catalogue prints them (page 685): friction, preloads [kN] and torques
# [N m] of 8.8, 10.9 and 12.9
FINE: list[tuple[Thread, float, tuple[float, float, float], tuple[float, float, float]]] = [
    ("m8x1", 0.10, (20.7, 30.4, 35.6), (22.8, 33.5, 39.2)), ("m8x1", 0.12, (20.2, 29.7, 34.7), (26.1, 38.3, 44.9)),
    ("m8x1", 0.14, (19.7, 28.9, 33.9), (29.2, 42.8, 50.1)),
    ("m10x1-25", 0.10, (32.4, 47.5, 55.6), (44, 65, 76)), ("m10x1-25", 0.12, (31.6, 46.4, 54.3), (51, 75, 87)),
    ("m10x1-25", 0.14, (30.8, 45.2, 52.9), (57, 83, 98)),
    ("m12x1-25", 0.10, (49.1, 72.1, 84.4), (79, 116, 135)), ("m12x1-25", 0.12, (48.0, 70.5, 82.5), (90, 133, 155)),
    ("m12x1-25", 0.14, (46.8, 68.7, 80.4), (101, 149, 174)),
    ("m14x1-5", 0.10, (66.4, 97.5, 114.1), (124, 182, 213)), ("m14x1-5", 0.12, (64.8, 95.2, 111.4), (142, 209, 244)),
    ("m14x1-5", 0.14, (63.2, 92.9, 108.7), (159, 234, 274)),
    ("m16x1-5", 0.10, (89.6, 131.6, 154.0), (189, 278, 325)), ("m16x1-5", 0.12, (87.6, 128.7, 150.6), (218, 320, 374)),
    ("m16x1-5", 0.14, (85.5, 125.5, 146.9), (244, 359, 420))]


@pytest.mark.parametrize(("thread", "friction", "preloads", "torques"), FINE)
def test_fine_threads_after_vdi_2230(thread: Thread, friction: float, preloads: tuple[float, ...], torques: tuple[float, ...]) -> None:
    """Preloads to 0.3 %, which is their printing. Torques to 2.5 %: the table takes the head face of each size, ours 1.3 diameters."""
    diameter, pitch = (1e-3 * size for size in PITCHES[thread])
    grades: tuple[Grade, ...] = ("class-8-8", "class-10-9", "class-12-9")
    for grade, preload, torque in zip(grades, preloads, torques, strict=True):
        clamp = bolts.preload_at_yield(thread, grade, 0.9, friction)
        assert clamp == pytest.approx(1e3 * preload, rel=0.003)
        assert bolts.torque_by_friction(clamp, diameter, pitch, friction, friction, 1.3 * diameter) == pytest.approx(torque, rel=0.025)
        found = bolts.stretch_of_torque(torque, thread, grade, friction, friction, 1.3)
        assert found.yield_share == pytest.approx(0.9, rel=0.025)


# Stainless of class 70, coarse threads, 90 % of yield, the same catalogue (page 686): friction, preload [kN], torque [N m]
STAINLESS: list[tuple[Thread, float, float, float]] = [
    ("m5", 0.1, 5.2, 3.6), ("m5", 0.2, 4.51, 5.7), ("m5", 0.3, 3.85, 7.0), ("m6", 0.1, 7.3, 6.3), ("m6", 0.2, 6.4, 10.0),
    ("m6", 0.3, 5.5, 12.2), ("m8", 0.1, 13.4, 15.2), ("m8", 0.2, 11.6, 24.1), ("m8", 0.3, 9.9, 30.0), ("m10", 0.1, 21.3, 30.0),
    ("m10", 0.2, 18.5, 47.7)]


@pytest.mark.parametrize(("thread", "friction", "preload", "torque"), STAINLESS)
def test_stainless_coarse_threads_after_vdi_2230(thread: Thread, friction: float, preload: float, torque: float) -> None:
    """Two figures printed: preloads to 1.2 %, torques to 4 % with the head face as above."""
    diameter, pitch = (1e-3 * size for size in PITCHES[thread])
    clamp = bolts.preload_at_yield(thread, "a4-70", 0.9, friction)
    assert clamp == pytest.approx(1e3 * preload, rel=0.012)
    assert bolts.torque_by_friction(clamp, diameter, pitch, friction, friction, 1.3 * diameter) == pytest.approx(torque, rel=0.04)


def test_a_coarse_thread_of_the_same_guideline() -> None:
    """Bossard, tables after VDI 2230: M12 of 8.8 at friction 0.14 has a greatest preload of 41.9 kN."""
    assert bolts.preload_at_yield("m12", "class-8-8", 0.9, 0.14) == pytest.approx(41.9e3, rel=0.003)


def test_nut_factor_of_usual_friction() -> None:
    """Shigley and Mischke, section 8-8, as a help text quotes it: friction of 0.15 in thread and head is about K 0.20.

    The two methods agree within 3 % over the coarse threads M5 to M16.
    """
    for thread in COARSE:
        assert abs(bolts.tighten(thread, "class-8-8", 0.75, 0.20, 0.15, 0.15, 1.3).apart) < 0.03


def test_the_band_of_the_nut_factor_is_that_of_published_scatter() -> None:
    """Preload by torque is good to 35 % unlubricated and 25 % lubricated (Journal of Failure Analysis and Prevention 2019, after NASA).

    K of 0.2 give or take 0.06, twice what is asked for as its standard deviation, spans a clamp between those two either way.
    """
    middle = bolts.clamp_of_torque(25.5, 0.008, 0.2)
    low, high = bolts.clamp_of_torque(25.5, 0.008, 0.26) / middle, bolts.clamp_of_torque(25.5, 0.008, 0.14) / middle
    assert 0.65 < low < 0.80
    assert 1.25 < high < 1.45


def test_a_dry_torque_on_an_oiled_thread() -> None:
    """The dry table figure for M8 of 8.8, 25.5 N m, against the greatest torque of VDI 2230 at friction 0.10, 21.6 N m (memory).

    It stretches the bolt for good: 90 % x 25.5 / 21.6 is 106 % of yield.
    """
    found = bolts.stretch_of_torque(25.5, "m8", "class-8-8", 0.10, 0.10, 1.3)
    assert found.yield_share == pytest.approx(1.06, abs=0.02)
    assert found.word == "stretched for good"


def test_thread_in_aluminium_of_a_worked_example() -> None:
    """A published example: M10 of 8.8 in aluminium of 310 MPa, shear strength six tenths of it, needs about 9.4 mm to hold the bolt's
    tensile strength of 830 MPa on 58 mm^2."""
    held = bolts.held_by_thread("m10", "class-8-8", 9.4e-3, 0.6 * 310e6, 1.0, 0.75)
    assert held.strips_at == pytest.approx(830e6 * 58e-6, rel=0.005)


@pytest.mark.parametrize(("torque", "wrench", "adapter", "wanted"), [(80.0, 0.40, 0.05, 71.1), (50.0, 0.30, 0.15, 33.33)])
def test_wrench_with_an_adapter(torque: float, wrench: float, adapter: float, wanted: float) -> None:
    """Two published examples, 80 with 40 and 5 cm and 50 with 30 of 45 cm; the formula is that of Engineers Edge. To three figures."""
    assert bolts.wrench_setting(torque, wrench, adapter) == pytest.approx(wanted, abs=0.05)


def test_wrench_with_an_adapter_in_inches() -> None:
    """A torque wrench's manual: 50 lbf ft with 16 and 2 inches is set to 44.44."""
    foot_pounds = POUND_FORCE * 12 * INCH
    assert bolts.wrench_setting(50 * foot_pounds, 16 * INCH, 2 * INCH) / foot_pounds == pytest.approx(44.44, abs=0.005)
