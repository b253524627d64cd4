"""Bolts: torque from class, size and friction by two methods, clamp from torque, threads in soft metal, and a longer wrench.

The engine's own book comes first. What is here is the general case, for a bolt of known class that no book gives.
"""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from diagnose.measure.valid import check

__all__ = ["Grade", "Held", "Stretch", "Thread", "Tightening", "clamp_of_torque", "held_by_thread", "preload_at_yield", "proof_load",
           "stress_area", "stretch_of_torque", "tighten", "torque_by_friction", "torque_by_nut_factor", "wrench_setting"]

Thread = Literal["m5", "m6", "m8", "m10", "m12", "m14", "m16", "m8x1", "m10x1-25", "m12x1-25", "m12x1-5", "m14x1-5", "m16x1-5"]
Grade = Literal["class-8-8", "class-10-9", "class-12-9", "a2-70", "a4-70", "a4-80"]

_MM = 1e-3

_THREADS: dict[str, tuple[float, float]] = {
    "m5": (5.0, 0.8), "m6": (6.0, 1.0), "m8": (8.0, 1.25), "m10": (10.0, 1.5), "m12": (12.0, 1.75), "m14": (14.0, 2.0), "m16": (16.0, 2.0),
    "m8x1": (8.0, 1.0), "m10x1-25": (10.0, 1.25), "m12x1-25": (12.0, 1.25), "m12x1-5": (12.0, 1.5), "m14x1-5": (14.0, 1.5),
    "m16x1-5": (16.0, 1.5),
}
"""Diameter and pitch [mm], ISO 261; the first seven are the coarse threads."""

_STRESS: dict[str, tuple[float, float]] = {
    "class-8-8": (580e6, 640e6), "class-10-9": (830e6, 940e6), "class-12-9": (970e6, 1100e6),
    "a2-70": (450e6, 450e6), "a4-70": (450e6, 450e6), "a4-80": (600e6, 600e6),
}
"""Proof stress and 0.2 % yield [Pa], ISO 898-1 up to M16; the stainless classes of ISO 3506-1 have no proof stress: the yield
stands for it."""

_FIRST, _SECOND = 0.5, 0.75
"""Shares of the torque in the first and second round."""

_AGREE = 0.15
"""Two methods that lie within this share of each other agree; friction is not known better."""


class Tightening(NamedTuple):
    """Torque for the first, second and last round [N m], the clamp it should give [N], the torque by the second method [N m],
    how far that lies above the first as a share of one, and whether the two agree."""

    first_round: float
    second_round: float
    torque: float
    clamp: float
    torque_by_friction: float
    apart: float
    word: str


class Stretch(NamedTuple):
    """What a torque does: clamp [N], its share of the proof load, the share of yield that pull and twist use together, in words."""

    clamp: float
    proof_share: float
    yield_share: float
    word: str


class Held(NamedTuple):
    """A thread in soft metal: load at which it strips [N], share of it that the clamp uses, thread needed for the bolt's full
    proof load [m]."""

    strips_at: float
    used: float
    needed: float


def _size(thread: Thread) -> tuple[float, float]:
    diameter, pitch = _THREADS[thread]
    return diameter * _MM, pitch * _MM


def stress_area(diameter: float, pitch: float) -> float:
    """Area that carries the pull of a metric thread: pi/4 (d - 0.9382 P)^2.

    Args:
        diameter: nominal diameter [m], 0.003 to 0.040.
        pitch: [m], 0.0004 to 0.0045 and less than a third of the diameter.

    Returns:
        Stress area [m^2].

    Raises:
        OutOfRangeError: a value outside its range.

    Source: ISO 898-1, nominal stress area.
    """
    check("diameter", diameter, 0.003, 0.040, "m")
    check("pitch", pitch, 0.0004, min(0.0045, diameter / 3.0), "m")
    return math.pi / 4.0 * (diameter - 0.9382 * pitch) ** 2


def proof_load(thread: Thread, grade: Grade) -> float:
    """Load a bolt takes without staying longer: stress area x proof stress.

    Args:
        thread: size and pitch.
        grade: class marked on the head. For stainless steel the 0.2 % yield stands in for the proof stress.

    Returns:
        Proof load [N].

    Source: ISO 898-1, proof loads of coarse and fine threads; ISO 3506-1 for stainless steel.
    """
    return stress_area(*_size(thread)) * _STRESS[grade][0]


def torque_by_nut_factor(clamp: float, diameter: float, nut_factor: float) -> float:
    """Torque for a clamp by the short form: T = K d F.

    Args:
        clamp: [N], 0 to 1000000.
        diameter: nominal diameter [m], 0.003 to 0.040.
        nut_factor: K, 0.08 to 0.5.

    Returns:
        Torque [N m].

    Raises:
        OutOfRangeError: a value outside its range.

    Source: Wentzell, Machine Elements, example 6.1.
    """
    check("clamp", clamp, 0.0, 1e6, "N")
    check("diameter", diameter, 0.003, 0.040, "m")
    return check("nut_factor", nut_factor, 0.08, 0.5) * diameter * clamp


def torque_by_friction(clamp: float, diameter: float, pitch: float, thread_friction: float, head_friction: float,
                       head_diameter: float) -> float:
    """Torque for a clamp by the long form: T = F (0.159 P + 0.577 d2 mu_thread + D/2 mu_head), d2 = d - 0.6495 P.

    Args:
        clamp: [N], 0 to 1000000.
        diameter: nominal diameter [m], 0.003 to 0.040.
        pitch: [m], 0.0004 to 0.0045.
        thread_friction: in the thread, 0.02 to 0.6.
        head_friction: under the head or nut, 0.02 to 0.6.
        head_diameter: mean diameter of the face that rubs [m], from the thread's to three times that; about 1.3 of it for a hexagon.

    Returns:
        Torque [N m].

    Raises:
        OutOfRangeError: a value outside its range.

    Source: VDI 2230 part 1, tightening torque (1/2 pi and half of 1/cos 30 degrees kept exact).
    """
    check("clamp", clamp, 0.0, 1e6, "N")
    stress_area(diameter, pitch)
    check("thread_friction", thread_friction, 0.02, 0.6)
    check("head_friction", head_friction, 0.02, 0.6)
    check("head_diameter", head_diameter, diameter, 3.0 * diameter, "m")
    return clamp * (_thread_arm(diameter, pitch, thread_friction) + head_diameter / 2.0 * head_friction)


def _flank_diameter(diameter: float, pitch: float) -> float:
    return diameter - 0.649519 * pitch


def _thread_arm(diameter: float, pitch: float, friction: float) -> float:
    """Torque in the thread over the clamp [m]: the slope, and friction on flanks that stand at 30 degrees."""
    return pitch / (2.0 * math.pi) + _flank_diameter(diameter, pitch) / 2.0 * friction / math.cos(math.radians(30.0))


def preload_at_yield(thread: Thread, grade: Grade, yield_share: float, thread_friction: float) -> float:
    """Clamp at which pull and twist together reach a share of yield while the bolt is turned.

    F = share x Rp0.2 x As / root(1 + 3 (3/2 d2/d0 (P/(pi d2) + 1.155 mu))^2), d0 the diameter of the stress area; the twist
    is taken as spread evenly, as it is once the bolt begins to give.

    Args:
        thread: size and pitch.
        grade: class.
        yield_share: share of the 0.2 % yield, 0.05 to 1; 0.9 in the published tables.
        thread_friction: in the thread, 0.02 to 0.6.

    Returns:
        Clamp [N].

    Raises:
        OutOfRangeError: a value outside its range.

    Source: VDI 2230 part 1, permitted assembly preload.
    """
    check("yield_share", yield_share, 0.05, 1.0)
    check("thread_friction", thread_friction, 0.02, 0.6)
    diameter, pitch = _size(thread)
    area = stress_area(diameter, pitch)
    twist = 3.0 * _thread_arm(diameter, pitch, thread_friction) / math.sqrt(4.0 * area / math.pi)  # over the pull, both as stress
    return yield_share * _STRESS[grade][1] * area / math.sqrt(1.0 + 3.0 * twist**2)


def tighten(thread: Thread, grade: Grade, preload_share: float, nut_factor: float, thread_friction: float, head_friction: float,
            head_ratio: float) -> Tightening:
    """Torque for a bolt that no book gives, in three rounds, by the short form, with the long form beside it.

    Args:
        thread: size and pitch.
        grade: class marked on the head.
        preload_share: share of the proof load wanted as clamp, 0.2 to 0.9; 0.75 for a joint that comes apart again.
        nut_factor: K of the short form, 0.08 to 0.5.
        thread_friction: in the thread, for the long form, 0.02 to 0.6.
        head_friction: under the head, for the long form, 0.02 to 0.6.
        head_ratio: mean diameter of the face that rubs over that of the thread, 1 to 3.

    Returns:
        Rounds of a half, three quarters and all, clamp, second method and agreement.

    Raises:
        OutOfRangeError: a value outside its range.

    Source: proof loads of ISO 898-1; Wentzell, Machine Elements, example 6.1; VDI 2230 part 1. The rounds are common practice.
    """
    diameter, pitch = _size(thread)
    clamp = check("preload_share", preload_share, 0.2, 0.9) * proof_load(thread, grade)
    torque = torque_by_nut_factor(clamp, diameter, nut_factor)
    long_form = torque_by_friction(clamp, diameter, pitch, thread_friction, head_friction,
                                   check("head_ratio", head_ratio, 1.0, 3.0) * diameter)
    apart = long_form / torque - 1.0
    word = "the two agree" if abs(apart) <= _AGREE else "the two do not agree: look again at K and friction, and keep to the lower"
    return Tightening(_FIRST * torque, _SECOND * torque, torque, clamp, long_form, apart, word)


def clamp_of_torque(torque: float, diameter: float, nut_factor: float) -> float:
    """Clamp that a torque gives by the short form: F = T / (K d).

    Args:
        torque: [N m], 0 to 1000.
        diameter: nominal diameter [m], 0.003 to 0.040.
        nut_factor: K, 0.08 to 0.5.

    Returns:
        Clamp [N].

    Raises:
        OutOfRangeError: a value outside its range.

    Source: as `torque_by_nut_factor`.
    """
    check("torque", torque, 0.0, 1000.0, "N m")
    check("diameter", diameter, 0.003, 0.040, "m")
    return torque / (check("nut_factor", nut_factor, 0.08, 0.5) * diameter)


def stretch_of_torque(torque: float, thread: Thread, grade: Grade, thread_friction: float, head_friction: float,
                      head_ratio: float) -> Stretch:
    """What a torque does to a bolt, by the long form: clamp, share of the proof load, share of yield.

    Args:
        torque: [N m], 0 to 1000.
        thread: size and pitch.
        grade: class.
        thread_friction: in the thread, 0.02 to 0.6; oiled about 0.10, dry and zinc-plated about 0.14 to 0.20.
        head_friction: under the head, 0.02 to 0.6.
        head_ratio: mean diameter of the face that rubs over that of the thread, 1 to 3.

    Returns:
        Clamp, shares, and in words whether the bolt keeps its length.

    Raises:
        OutOfRangeError: a value outside its range.

    Source: VDI 2230 part 1; 90 % of yield is the limit of its tables.
    """
    check("torque", torque, 0.0, 1000.0, "N m")
    diameter, pitch = _size(thread)
    arm = torque_by_friction(1.0, diameter, pitch, thread_friction, head_friction, check("head_ratio", head_ratio, 1.0, 3.0) * diameter)
    clamp = torque / arm
    used = clamp / preload_at_yield(thread, grade, 1.0, thread_friction)
    word = "within what the tables allow" if used <= 0.9 else "over what the tables allow" if used <= 1.0 else "stretched for good"
    return Stretch(clamp, clamp / proof_load(thread, grade), used, word)


def held_by_thread(thread: Thread, grade: Grade, engaged: float, shear_strength: float, sound_share: float,
                   preload_share: float) -> Held:
    """Whether a tapped hole in softer metal holds its bolt: strips at 0.875 pi d x length x shear strength x what is sound of it.

    Args:
        thread: size and pitch.
        grade: class of the bolt.
        engaged: length of full thread that really holds [m], 0.002 to 0.1.
        shear_strength: of the tapped metal [Pa], 20 to 600 MPa; aluminium castings about 120 to 200 MPa.
        sound_share: share of the full thread to count on, 0.1 to 1; 1 for a new one at basic size, about a half in an old casting.
        preload_share: share of the proof load wanted as clamp, 0.2 to 0.9.

    Returns:
        Load at which it strips, share of it that the clamp uses, and the thread needed for the full proof load.

    Raises:
        OutOfRangeError: a value outside its range.

    Source: FED-STD-H28, shear area of an internal thread, at basic size: pi d (1/2 + 0.57735 (d - d2)/P) a length (memory).
    """
    check("engaged", engaged, 0.002, 0.1, "m")
    check("shear_strength", shear_strength, 20e6, 600e6, "Pa")
    diameter, pitch = _size(thread)
    flank = (diameter - _flank_diameter(diameter, pitch)) / pitch
    area = math.pi * diameter * (0.5 + math.tan(math.radians(30.0)) * flank)
    a_length = area * shear_strength * check("sound_share", sound_share, 0.1, 1.0)
    proof = proof_load(thread, grade)
    clamp = check("preload_share", preload_share, 0.2, 0.9) * proof
    return Held(a_length * engaged, clamp / (a_length * engaged), proof / a_length)


def wrench_setting(torque: float, wrench_length: float, adapter_length: float) -> float:
    """What to set a torque wrench to with an adapter in line with it: T x L / (L + A). At a right angle it stays as it is.

    Args:
        torque: wanted at the bolt [N m], 0 to 1000.
        wrench_length: middle of the grip to the middle of the square [m], 0.1 to 2.
        adapter_length: middle of the square to the middle of the bolt, in line [m], -0.2 (pointing back) to 0.5.

    Returns:
        Setting [N m].

    Raises:
        OutOfRangeError: a value outside its range.

    Source: Engineers Edge, torque wrench adapter equations.
    """
    check("torque", torque, 0.0, 1000.0, "N m")
    check("wrench_length", wrench_length, 0.1, 2.0, "m")
    check("adapter_length", adapter_length, max(-0.2, -wrench_length / 2.0), 0.5, "m")
    return torque * wrench_length / (wrench_length + adapter_length)
