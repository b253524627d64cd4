"""Vibration: zones, one tone in its measures, rubber mounts."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.measure import vibration
from diagnose.measure.valid import OutOfRangeError

MACHINES = st.sampled_from(["small", "medium", "large-rigid", "large-soft"])
MOUNTS: dict[str, float] = {"speed": 14.0, "cylinders": 3, "sag": 0.004, "stiffening": 1.3, "damping": 0.05}


@pytest.mark.parametrize(("function", "good", "name", "wrong"), [
    (vibration.zone, {"velocity": 0.001, "machine": "small"}, "velocity", (-0.001, 1.1)),
    (vibration.motion_of_velocity, {"velocity": 0.001, "tone": 20.0}, "velocity", (-0.001, 10.1)),
    (vibration.motion_of_velocity, {"velocity": 0.001, "tone": 20.0}, "tone", (0.4, 10001.0)),
    (vibration.motion_of_displacement, {"end_to_end": 0.001, "tone": 20.0}, "end_to_end", (-0.001, 0.11)),
    (vibration.motion_of_acceleration, {"acceleration": 1.0, "tone": 20.0}, "acceleration", (-0.1, 1001.0)),
    (vibration.natural_frequency, {"sag": 0.004, "stiffening": 1.0}, "sag", (0.0, 0.21)),
    (vibration.natural_frequency, {"sag": 0.004, "stiffening": 1.0}, "stiffening", (0.9, 3.1)),
    (vibration.transmissibility, {"tone": 20.0, "own": 8.0, "damping": 0.05}, "damping", (0.0, 1.1)),
    (vibration.transmissibility, {"tone": 20.0, "own": 8.0, "damping": 0.05}, "own", (0.05, 1001.0)),
    (vibration.mounts, MOUNTS, "speed", (2.0, 101.0)),
    (vibration.mounts, MOUNTS, "cylinders", (0, 13)),
])
def test_what_lies_outside_its_range_is_refused(function: Any, good: dict[str, Any], name: str, wrong: tuple[float, float]) -> None:
    """Just past each end; and the same call within its range is answered."""
    function(**good)
    for value in (*wrong, math.nan):
        with pytest.raises(OutOfRangeError, match=name.replace("_", " ")):
            function(**good | {name: value})


@given(st.floats(0.0, 0.05), st.floats(0.0, 0.05), MACHINES)
def test_more_vibration_is_never_a_better_zone(first: float, second: float, machine: Any) -> None:
    """And a larger machine is never judged harder than a small one."""
    slow, fast = sorted((first, second))
    assert vibration.zone(slow, machine).zone <= vibration.zone(fast, machine).zone
    assert vibration.zone(fast, machine).zone <= vibration.zone(fast, "small").zone


def test_a_bound_belongs_to_the_better_zone() -> None:
    """At the bound itself, and just over it."""
    assert vibration.zone(0.0018, "small").zone == "B"
    assert vibration.zone(0.001801, "small").zone == "C"
    assert vibration.zone(0.0, "small").zone == "A"
    assert vibration.zone(1.0, "large-soft").zone == "D"


@given(st.floats(1e-6, 0.05), st.floats(1.0, 90.0))
def test_one_tone_is_the_same_from_whichever_measure(end_to_end: float, tone: float) -> None:
    """Three ways in, one motion out; its peak acceleration is root two of the rms."""
    motion = vibration.motion_of_displacement(end_to_end, tone)
    assert motion.end_to_end == pytest.approx(end_to_end)
    assert vibration.motion_of_velocity(motion.velocity, tone) == pytest.approx(motion)
    assert motion.acceleration_peak == pytest.approx(motion.acceleration * math.sqrt(2))
    if motion.acceleration < 1000.0:
        assert vibration.motion_of_acceleration(motion.acceleration, tone) == pytest.approx(motion)


def test_a_movement_faster_than_the_range_is_refused() -> None:
    """A hundred millimetres at 100 Hz would be 22 m/s."""
    with pytest.raises(OutOfRangeError, match="velocity"):
        vibration.motion_of_displacement(0.1, 100.0)


@given(st.floats(0.0005, 0.05), st.floats(1.0, 2.0))
def test_more_sag_is_a_slower_beat(sag: float, stiffening: float) -> None:
    """Four times the sag halves it; stiffer rubber quickens it."""
    own = vibration.natural_frequency(sag, stiffening)
    assert vibration.natural_frequency(4.0 * sag, stiffening) == pytest.approx(own / 2.0)
    assert vibration.natural_frequency(sag, stiffening + 0.5) > own


@given(st.floats(0.5, 30.0), st.floats(0.01, 0.3), st.floats(1.0, 50.0))
def test_mounts_help_only_from_root_two_of_their_own_beat(ratio: float, damping: float, own: float) -> None:
    """Over one below that, under one beyond, exactly one there; at rest nothing is added."""
    share = vibration.transmissibility(ratio * own, own, damping)
    assert (share <= 1.0 + 1e-12) == (ratio >= math.sqrt(2) * (1 - 1e-12))
    assert vibration.transmissibility(math.sqrt(2) * own, own, damping) == pytest.approx(1.0)
    assert vibration.transmissibility(0.1, 100.0, damping) == pytest.approx(1.0, abs=1e-5)


@given(st.floats(0.01, 0.2))
def test_damping_tames_the_worst_and_costs_isolation(damping: float) -> None:
    """At the own beat the share is about one over twice the damping; far above it more damping lets more through."""
    assert vibration.transmissibility(8.0, 8.0, damping) == pytest.approx(math.sqrt(1 + 1 / (2 * damping) ** 2))
    assert vibration.transmissibility(80.0, 8.0, damping + 0.1) > vibration.transmissibility(80.0, 8.0, damping)


@given(st.floats(8.0, 60.0), st.integers(1, 8), st.floats(0.001, 0.02))
def test_mounts_put_the_parts_together(speed: float, cylinders: int, sag: float) -> None:
    """Each figure is that of its own function; at the worst speed the firing is the own beat."""
    found = vibration.mounts(speed, cylinders, sag, 1.3, 0.05)
    assert found.own == vibration.natural_frequency(sag, 1.3)
    assert found.firing == pytest.approx(cylinders * found.missing)
    assert found.firing_share == vibration.transmissibility(found.firing, found.own, 0.05)
    assert found.missing_share == vibration.transmissibility(found.missing, found.own, 0.05)
    assert found.worst_speed * cylinders / 2.0 == pytest.approx(found.own)


def test_half_a_cylinder_is_refused() -> None:
    """A count is whole."""
    with pytest.raises(ValueError, match="whole number"):
        vibration.mounts(**MOUNTS | {"cylinders": 2.5})
