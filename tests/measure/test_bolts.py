"""Bolts: ranges, two methods beside each other, bounds."""

from __future__ import annotations

import math
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.measure import bolts
from diagnose.measure.valid import OutOfRangeError

THREADS = st.sampled_from(get_args(bolts.Thread))
GRADES = st.sampled_from(get_args(bolts.Grade))
FRICTIONS = st.floats(0.05, 0.35)
TIGHT: dict[str, Any] = {"thread": "m8", "grade": "class-8-8", "preload_share": 0.75, "nut_factor": 0.2, "thread_friction": 0.15,
                         "head_friction": 0.15, "head_ratio": 1.3}
LONG: dict[str, float] = {"clamp": 16000.0, "diameter": 0.008, "pitch": 0.00125, "thread_friction": 0.15, "head_friction": 0.15,
                          "head_diameter": 0.0104}
SOFT: dict[str, Any] = {"thread": "m8", "grade": "class-8-8", "engaged": 0.016, "shear_strength": 140e6, "sound_share": 0.5,
                        "preload_share": 0.75}
STRETCH: dict[str, Any] = {"torque": 20.0, "thread": "m8", "grade": "class-8-8", "thread_friction": 0.12, "head_friction": 0.12,
                           "head_ratio": 1.3}


@pytest.mark.parametrize(("function", "good", "name", "wrong"), [
    (bolts.stress_area, {"diameter": 0.008, "pitch": 0.00125}, "diameter", (0.002, 0.041)),
    (bolts.stress_area, {"diameter": 0.008, "pitch": 0.00125}, "pitch", (0.0003, 0.0027)),
    (bolts.torque_by_nut_factor, {"clamp": 16000.0, "diameter": 0.008, "nut_factor": 0.2}, "nut_factor", (0.07, 0.51)),
    (bolts.torque_by_nut_factor, {"clamp": 16000.0, "diameter": 0.008, "nut_factor": 0.2}, "clamp", (-1.0, 2e6)),
    (bolts.torque_by_friction, LONG, "thread_friction", (0.01, 0.61)),
    (bolts.torque_by_friction, LONG, "head_friction", (0.01, 0.61)),
    (bolts.torque_by_friction, LONG, "head_diameter", (0.0079, 0.025)),
    (bolts.preload_at_yield, {"thread": "m8", "grade": "class-8-8", "yield_share": 0.9, "thread_friction": 0.12},
     "yield_share", (0.04, 1.01)),
    (bolts.tighten, TIGHT, "preload_share", (0.19, 0.91)),
    (bolts.tighten, TIGHT, "head_ratio", (0.9, 3.1)),
    (bolts.clamp_of_torque, {"torque": 25.0, "diameter": 0.008, "nut_factor": 0.2}, "torque", (-1.0, 1001.0)),
    (bolts.stretch_of_torque, STRETCH, "torque", (-1.0, 1001.0)),
    (bolts.held_by_thread, SOFT, "engaged", (0.001, 0.11)),
    (bolts.held_by_thread, SOFT, "shear_strength", (10e6, 700e6)),
    (bolts.held_by_thread, SOFT, "sound_share", (0.05, 1.01)),
    (bolts.wrench_setting, {"torque": 50.0, "wrench_length": 0.4, "adapter_length": 0.05}, "wrench_length", (0.09, 2.1)),
    (bolts.wrench_setting, {"torque": 50.0, "wrench_length": 0.3, "adapter_length": 0.05}, "adapter_length", (-0.16, 0.51)),
])
def test_what_lies_outside_its_range_is_refused(function: Any, good: dict[str, Any], name: str, wrong: tuple[float, float]) -> None:
    """Just past each end; and the same call within its range is answered."""
    function(**good)
    for value in (*wrong, math.nan):
        with pytest.raises(OutOfRangeError, match=name.replace("_", " ")):
            function(**good | {name: value})


@given(st.floats(0.005, 0.03), st.floats(0.0005, 0.0016))
def test_a_stress_area_is_less_than_the_shank_s(diameter: float, pitch: float) -> None:
    """More for a finer thread, and four times with everything twice as large."""
    area = bolts.stress_area(diameter, pitch)
    assert area < math.pi / 4 * diameter**2
    assert bolts.stress_area(diameter, pitch * 0.9) > area
    if diameter <= 0.02:
        assert bolts.stress_area(2 * diameter, 2 * pitch) == pytest.approx(4 * area)


def test_strength_goes_with_size_and_class() -> None:
    """M5 to M16 rise, each class over the one before, stainless under 8.8."""
    coarse: list[Any] = ["m5", "m6", "m8", "m10", "m12", "m14", "m16"]
    for grade in get_args(bolts.Grade):
        loads = [bolts.proof_load(thread, grade) for thread in coarse]
        assert loads == sorted(loads)
    order: list[Any] = ["a4-70", "class-8-8", "a4-80", "class-10-9", "class-12-9"]
    at_m8 = [bolts.proof_load("m8", grade) for grade in order]
    assert at_m8 == sorted(at_m8)
    assert bolts.proof_load("m8", "a2-70") == bolts.proof_load("m8", "a4-70")
    assert bolts.proof_load("m10x1-25", "class-8-8") > bolts.proof_load("m10", "class-8-8")


@given(st.floats(0.0, 1e5), st.floats(0.1, 0.4))
def test_torque_and_clamp_are_each_other_s_inverse(clamp: float, nut_factor: float) -> None:
    """By the short form."""
    torque = bolts.torque_by_nut_factor(clamp, 0.010, nut_factor)
    assert bolts.clamp_of_torque(torque, 0.010, nut_factor) == pytest.approx(clamp)


@given(THREADS, FRICTIONS, FRICTIONS, st.floats(1.0, 2.0))
def test_torque_by_friction_grows_with_each_friction(thread: Any, in_thread: float, under_head: float, ratio: float) -> None:
    """And never falls to what the slope of the thread alone would take, pitch over two pi."""
    tight = TIGHT | {"thread": thread, "thread_friction": in_thread, "head_friction": under_head, "head_ratio": ratio}
    first = bolts.tighten(**tight)
    for name in ("thread_friction", "head_friction", "head_ratio"):
        assert bolts.tighten(**tight | {name: tight[name] + 0.05}).torque_by_friction > first.torque_by_friction
    assert first.torque_by_friction > first.clamp * 0.0008 / (2 * math.pi)


@given(THREADS, GRADES, st.floats(0.2, 0.9), st.floats(0.1, 0.4))
def test_rounds_lead_up_to_the_torque(thread: Any, grade: Any, share: float, nut_factor: float) -> None:
    """A half, three quarters, all; the clamp stays under the proof load; the second method stands beside it."""
    found = bolts.tighten(**TIGHT | {"thread": thread, "grade": grade, "preload_share": share, "nut_factor": nut_factor})
    assert (found.first_round, found.second_round) == pytest.approx((found.torque / 2, found.torque * 0.75))
    assert found.clamp == pytest.approx(share * bolts.proof_load(thread, grade))
    assert found.apart == pytest.approx(found.torque_by_friction / found.torque - 1)
    assert ("not agree" in found.word) == (abs(found.apart) > 0.15)


@given(THREADS, GRADES, st.floats(0.3, 1.0), FRICTIONS)
def test_twist_takes_part_of_the_strength(thread: Any, grade: Any, share: float, friction: float) -> None:
    """Less clamp for the same stress the more the thread rubs, and always less than pull alone would allow."""
    clamp = bolts.preload_at_yield(thread, grade, share, friction)
    pull_alone = bolts.preload_at_yield(thread, grade, share, 0.02) * 1.1
    assert bolts.preload_at_yield(thread, grade, share, friction + 0.05) < clamp < pull_alone
    assert bolts.preload_at_yield(thread, grade, share / 2, friction) == pytest.approx(clamp / 2)


@given(THREADS, GRADES, st.floats(0.2, 1.3), FRICTIONS, FRICTIONS)
def test_stretch_gives_back_the_share_of_yield(thread: Any, grade: Any, share: float, in_thread: float, under_head: float) -> None:
    """The torque of a clamp at a share of yield uses that share; the word follows it."""
    clamp = bolts.preload_at_yield(thread, grade, 1.0, in_thread) * share
    unit = bolts.tighten(**TIGHT | {"thread": thread, "grade": grade, "thread_friction": in_thread, "head_friction": under_head})
    torque = unit.torque_by_friction / unit.clamp * clamp
    found = bolts.stretch_of_torque(torque, thread, grade, in_thread, under_head, 1.3)
    assert found.yield_share == pytest.approx(share)
    assert found.clamp == pytest.approx(clamp)
    if abs(share - 0.9) > 1e-6 and abs(share - 1.0) > 1e-6:
        assert ("within" in found.word, "for good" in found.word) == (share < 0.9, share > 1.0)


@given(THREADS, GRADES, st.floats(0.004, 0.05), st.floats(0.2, 1.0))
def test_a_longer_or_sounder_thread_holds_more(thread: Any, grade: Any, engaged: float, sound: float) -> None:
    """In proportion; at the length needed it strips at the bolt's proof load."""
    soft = SOFT | {"thread": thread, "grade": grade, "engaged": engaged, "sound_share": sound}
    found = bolts.held_by_thread(**soft)
    assert bolts.held_by_thread(**soft | {"engaged": 2 * engaged}).strips_at == pytest.approx(2 * found.strips_at)
    assert bolts.held_by_thread(**soft | {"sound_share": sound / 2}).needed == pytest.approx(2 * found.needed)
    assert found.strips_at * found.needed / engaged == pytest.approx(bolts.proof_load(thread, grade))
    assert found.used * found.strips_at == pytest.approx(0.75 * bolts.proof_load(thread, grade))


@given(st.floats(5.0, 300.0), st.floats(0.2, 1.0), st.floats(0.0, 0.4))
def test_an_adapter_asks_for_a_lower_setting(torque: float, wrench: float, adapter: float) -> None:
    """The pull at the grip is the same either way; pointing back it asks for a higher one."""
    setting = bolts.wrench_setting(torque, wrench, adapter)
    assert setting <= torque * (1 + 1e-12)
    assert setting / wrench == pytest.approx(torque / (wrench + adapter))
    assert bolts.wrench_setting(torque, wrench, -min(0.2, wrench / 4)) > torque
