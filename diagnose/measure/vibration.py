"""Vibration: published velocity zones, one tone as movement, velocity and acceleration, and what rubber mounts let through."""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from diagnose.measure.constants import GRAVITY
from diagnose.measure.tones import firing_tones
from diagnose.measure.valid import check

__all__ = ["Motion", "Mounts", "Zone", "motion_of_acceleration", "motion_of_displacement", "motion_of_velocity", "mounts",
           "natural_frequency", "transmissibility", "zone"]

Machine = Literal["small", "medium", "large-rigid", "large-soft"]

_ROOT_TWO = math.sqrt(2.0)

_BOUNDS: dict[str, tuple[float, float, float]] = {
    "small": (0.71e-3, 1.8e-3, 4.5e-3),
    "medium": (1.12e-3, 2.8e-3, 7.1e-3),
    "large-rigid": (1.8e-3, 4.5e-3, 11.2e-3),
    "large-soft": (2.8e-3, 7.1e-3, 18.0e-3),
}
"""Rms velocity between zones A and B, B and C, C and D [m/s]."""


class Zone(NamedTuple):
    """Zone of a vibration (A as new, B good for long, C not for long, D harmful) and the bounds of its machine class [m/s]."""

    zone: str
    new_up_to: float
    long_up_to: float
    short_up_to: float


class Motion(NamedTuple):
    """One tone in its usual measures: movement from end to end [m], rms velocity [m/s], rms and peak acceleration [m/s^2]."""

    end_to_end: float
    velocity: float
    acceleration: float
    acceleration_peak: float


class Mounts(NamedTuple):
    """What mounts let through: their own beat [Hz], the firing [Hz] and its share, the beat of a missing cylinder [Hz] and its
    share, and the revs [1/s] at which the firing meets the mounts' own beat."""

    own: float
    firing: float
    firing_share: float
    missing: float
    missing_share: float
    worst_speed: float


def zone(velocity: float, machine: Machine) -> Zone:
    """Zone of an rms vibration velocity for a machine that only turns: an electric motor, a pump, an alternator on a stand.

    These zones are not for a piston engine, nor for anything bolted to one: its own shake puts it over them in good health
    (ISO 10816-6 is for piston engines, and begins at 100 kW). Compare an engine with itself.

    Args:
        velocity: rms from 10 to 1000 Hz [m/s], 0 to 1.
        machine: small up to 15 kW; medium 15 to 75 kW; large on a rigid base; large on a soft base.

    Returns:
        The zone, and the bounds of the class.

    Raises:
        OutOfRangeError: a value outside its range.

    Source: ISO 10816-1, annex B, table B.1 (same figures as ISO 2372).
    """
    check("velocity", velocity, 0.0, 1.0, "m/s")
    bounds = _BOUNDS[machine]
    return Zone("ABCD"[sum(velocity > bound for bound in bounds)], *bounds)


def _turning(tone: float) -> float:
    return 2.0 * math.pi * check("tone", tone, 0.5, 10000.0, "Hz")


def motion_of_velocity(velocity: float, tone: float) -> Motion:
    """One tone of a known rms velocity: end to end 2 root2 v / w, acceleration w v, with w = 2 pi f.

    Args:
        velocity: rms [m/s], 0 to 10.
        tone: its one frequency [Hz], 0.5 to 10000.

    Returns:
        The tone in all measures.

    Raises:
        OutOfRangeError: a value outside its range.

    Source: kinematics of a single tone.
    """
    omega = _turning(tone)
    check("velocity", velocity, 0.0, 10.0, "m/s")
    return Motion(2.0 * _ROOT_TWO * velocity / omega, velocity, omega * velocity, _ROOT_TWO * omega * velocity)


def motion_of_displacement(end_to_end: float, tone: float) -> Motion:
    """One tone of a known movement from end to end: v rms = w x / (2 root2).

    Args:
        end_to_end: width of the movement, such as the blur of a fine mark [m], 0 to 0.1.
        tone: its one frequency [Hz], 0.5 to 10000.

    Returns:
        The tone in all measures.

    Raises:
        OutOfRangeError: a value outside its range, or a velocity over 10 m/s.

    Source: kinematics of a single tone.
    """
    check("end_to_end", end_to_end, 0.0, 0.1, "m")
    return motion_of_velocity(end_to_end * _turning(tone) / (2.0 * _ROOT_TWO), tone)


def motion_of_acceleration(acceleration: float, tone: float) -> Motion:
    """One tone of a known rms acceleration: v rms = a / w.

    Args:
        acceleration: rms [m/s^2], 0 to 1000.
        tone: its one frequency [Hz], 0.5 to 10000.

    Returns:
        The tone in all measures.

    Raises:
        OutOfRangeError: a value outside its range.

    Source: kinematics of a single tone.
    """
    check("acceleration", acceleration, 0.0, 1000.0, "m/s^2")
    return motion_of_velocity(acceleration / _turning(tone), tone)


def natural_frequency(sag: float, stiffening: float) -> float:
    """The beat of a weight on springs from how far it sags them: f = root(s g / x) / 2 pi.

    Args:
        sag: how far the mounts give under the weight [m], 0.0001 to 0.2.
        stiffening: stiffness of the rubber in vibration over that at rest, 1 to 3; steel springs 1.

    Returns:
        Own frequency, up and down [Hz].

    Raises:
        OutOfRangeError: a value outside its range.

    Source: textbooks of vibration (15.76 Hz over the root of the sag in mm).
    """
    check("sag", sag, 1e-4, 0.2, "m")
    return math.sqrt(check("stiffening", stiffening, 1.0, 3.0) * GRAVITY / sag) / (2.0 * math.pi)


def transmissibility(tone: float, own: float, damping: float) -> float:
    """Share of a shaking force that passes the mounts: root((1 + (2 z r)^2) / ((1 - r^2)^2 + (2 z r)^2)), r = tone / own.

    Args:
        tone: of the force [Hz], 0.1 to 10000.
        own: own frequency on the mounts [Hz], 0.1 to 1000.
        damping: share of critical damping, 0.005 to 1; rubber about 0.05.

    Returns:
        Share; over one when the mounts make it worse, which they do below 1.41 times their own frequency.

    Raises:
        OutOfRangeError: a value outside its range.

    Source: Ogata, System Dynamics, 4th edition, equation 9-14, as given in a published help text.
    """
    check("damping", damping, 0.005, 1.0)
    ratio = check("tone", tone, 0.1, 10000.0, "Hz") / check("own", own, 0.1, 1000.0, "Hz")
    twice = (2.0 * damping * ratio) ** 2
    return math.sqrt((1.0 + twice) / ((1.0 - ratio**2) ** 2 + twice))


def mounts(speed: float, cylinders: float, sag: float, stiffening: float, damping: float) -> Mounts:
    """How much of the firing passes rubber mounts at a speed, and of the slow beat that one missing cylinder adds.

    For the up-and-down movement. The roll, which the firing stirs most, is mostly softer and so better isolated.

    Args:
        speed: turns of the crankshaft [1/s], 3 to 100.
        cylinders: of a four-stroke engine, a whole number from 1 to 12.
        sag: how far the mounts give under the engine [m], 0.0001 to 0.2.
        stiffening: as in `natural_frequency`.
        damping: as in `transmissibility`.

    Returns:
        Own beat, firing and missing beat with their shares, and the speed at which the firing meets the own beat.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: a number of cylinders that is not whole.

    Source: `natural_frequency`, `transmissibility`, and the firing of a four-stroke engine.
    """
    check("speed", speed, 3.0, 100.0, "1/s")
    own = natural_frequency(sag, stiffening)
    firing, missing, order = firing_tones(speed, cylinders)
    return Mounts(own, firing, transmissibility(firing, own, damping), missing, transmissibility(missing, own, damping), own / order)
