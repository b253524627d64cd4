"""Belt drives: speeds, slip, tension by push and by tone, length, wrap, and the power a belt carries before it slips.

Diameters are those of the pitch line, where the cords run. Angles are in degrees.
"""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from diagnose.measure.valid import check

__all__ = ["BeltRun", "Grip", "PushForce", "Section", "belt_power", "belt_run", "belt_speed", "centre_distance", "deflection",
           "driven_speed", "extra_slip", "pitch_diameter", "power_before_slip", "push_force", "slip", "span_tension", "span_tone",
           "tension_of_push", "tension_ratio"]

Section = Literal["a", "ax", "b", "bx"]
"""Belt sections of the published table: A and B plain, AX and BX cogged."""

_INCH = 0.0254
_POUND_FORCE = 4.4482216152605
_FASTEST_SLOW = 2500.5 / 60.0
"""The table parts its speeds between 2500 and 2501 turns a minute."""

_PUSH: dict[str, tuple[tuple[float, float, tuple[float, float], tuple[float, float]], ...]] = {
    "a": ((3.0, 3.6, (5.5, 3.7), (4.2, 2.8)), (3.8, 4.8, (6.8, 4.5), (5.7, 3.8)), (5.0, 7.0, (8.0, 5.4), (7.0, 4.7))),
    "ax": ((3.0, 3.6, (6.1, 4.1), (5.0, 3.4)), (3.8, 4.8, (7.4, 5.0), (6.4, 4.3)), (5.0, 7.0, (9.4, 5.7), (7.6, 5.1))),
    "b": ((4.4, 5.6, (7.9, 5.3), (6.7, 4.5)), (5.8, 8.6, (9.4, 6.3), (8.2, 5.5))),
    "bx": ((3.4, 4.2, (7.2, 4.9), (6.2, 4.2)), (4.4, 5.6, (10.5, 7.1), (9.1, 6.2)), (5.8, 8.6, (12.6, 8.5), (10.9, 7.3))),
}
"""Smallest pulley from and to [inch]; push on a new and on a used belt [lbf], up to 2500 and from 2501 turns a minute."""

_SLOWEST = {"a": 1000.0 / 60.0, "ax": 1000.0 / 60.0, "b": 860.0 / 60.0, "bx": 860.0 / 60.0}


class PushForce(NamedTuple):
    """The push that should bend the span by a 64th of its length [N]: more is too tight, less too slack."""

    new: float
    used: float


class BeltRun(NamedTuple):
    """A belt over two pulleys: its length [m], the free span [m], and the wrap on the small pulley [degree]."""

    length: float
    span: float
    wrap: float


class Grip(NamedTuple):
    """What a belt carries when it is about to slip: power [W] and pull at the rim [N]."""

    power: float
    pull: float


def _pulley(name: str, diameter: float) -> float:
    return check(name, diameter, 0.02, 1.5, "m")


def deflection(span: float) -> float:
    """How far the middle of a free span is pushed in for the tension test: a 64th of the span.

    Args:
        span: free length between the pulleys [m], 0.03 to 3.

    Returns:
        Deflection [m].

    Raises:
        OutOfRangeError: a span outside the range.

    Source: ContiTech, V-belts installation guide, page 13 (1/64 inch an inch of span).
    """
    return check("span", span, 0.03, 3.0, "m") / 64.0


def push_force(section: Section, small_diameter: float, speed: float) -> PushForce:
    """The published push that bends a span by a 64th of its length, for a new and for a used belt.

    Between two bands of the table (they follow the pulleys that are sold) the lower band counts.

    Args:
        section: belt section.
        small_diameter: diameter of the smallest pulley [m], 76.2 to 177.8 mm for A, 86.4 or 111.8 to 218.4 mm for B.
        speed: speed of the faster shaft [1/s], 1000 (B: 860) to 4000 turns a minute.

    Returns:
        Push on a new belt and on one that has run in [N].

    Raises:
        OutOfRangeError: outside the table.

    Source: ContiTech, V-belts installation guide, page 13, table 5.
    """
    rows = _PUSH[section]
    inches = check("small_diameter", small_diameter, rows[0][0] * _INCH * (1 - 1e-9), rows[-1][1] * _INCH * (1 + 1e-9), "m") / _INCH
    check("speed", speed, _SLOWEST[section] * (1 - 1e-9), 4000.0 / 60.0 * (1 + 1e-9), "1/s")
    row = next(row for row in reversed(rows) if inches >= row[0] * (1 - 1e-9))
    new, used = row[2] if speed <= _FASTEST_SLOW else row[3]
    return PushForce(new * _POUND_FORCE, used * _POUND_FORCE)


def tension_of_push(push: float, span: float, pushed_in: float) -> float:
    """Tension of a span from a push at its middle: T = F x root((L/2)^2 + d^2) / (2 d).

    A belt stiff in bending takes part of the push itself, so the true tension is a little lower.

    Args:
        push: force at the middle of the span [N], 1 to 500.
        span: free length [m], 0.03 to 3.
        pushed_in: how far the belt gives [m], more than 0 and at most an eighth of the span.

    Returns:
        Tension [N].

    Raises:
        OutOfRangeError: a value outside its range.

    Source: balance of forces at the middle of the span. At a 64th of the span it gives T = 16 F, the belt makers' rule (memory).
    """
    check("push", push, 1.0, 500.0, "N")
    check("span", span, 0.03, 3.0, "m")
    check("pushed_in", pushed_in, 1e-4, span / 8.0, "m")
    return push * math.hypot(span / 2.0, pushed_in) / (2.0 * pushed_in)


def span_tension(unit_mass: float, span: float, tone: float) -> float:
    """Tension of a span from the tone of its lowest swing: T = 4 m L^2 f^2.

    Args:
        unit_mass: mass of one metre of belt [kg/m], 0.01 to 2.
        span: free length [m], 0.03 to 3.
        tone: lowest tone when plucked [Hz], 2 to 1000.

    Returns:
        Tension [N]. A stiff or short belt rings higher than a string: the true tension is then lower.

    Raises:
        OutOfRangeError: a value outside its range.

    Source: string law; a ribbed alternator belt worked on korins.com, tension and frequency page.
    """
    check("unit_mass", unit_mass, 0.01, 2.0, "kg/m")
    check("span", span, 0.03, 3.0, "m")
    check("tone", tone, 2.0, 1000.0, "Hz")
    return 4.0 * unit_mass * (span * tone) ** 2


def span_tone(unit_mass: float, span: float, tension: float) -> float:
    """The tone a span should give at a tension: f = root(T / m) / (2 L), the inverse of `span_tension`.

    Args:
        unit_mass: mass of one metre of belt [kg/m], 0.01 to 2.
        span: free length [m], 0.03 to 3.
        tension: tension wanted [N], 5 to 5000.

    Returns:
        Tone [Hz].

    Raises:
        OutOfRangeError: a value outside its range.

    Source: as `span_tension`.
    """
    check("unit_mass", unit_mass, 0.01, 2.0, "kg/m")
    check("span", span, 0.03, 3.0, "m")
    check("tension", tension, 5.0, 5000.0, "N")
    return math.sqrt(tension / unit_mass) / (2.0 * span)


def pitch_diameter(outside_diameter: float, cord_depth: float) -> float:
    """Diameter of the line the cords run on: outside diameter less twice the depth of the cords under the rim.

    Args:
        outside_diameter: over the rim of the pulley [m], 0.02 to 1.5.
        cord_depth: cords under the rim [m], -0.005 (belt stands proud) to 0.015; 0.8 mm for a section A belt flush with the rim.

    Returns:
        Pitch diameter [m].

    Raises:
        OutOfRangeError: a value outside its range.

    Source: geometry; the depths from a design manual for classical V-belts, table 2 (twice the depth: A 1.57 mm, B 1.78 mm).
    """
    _pulley("outside_diameter", outside_diameter)
    return outside_diameter - 2.0 * check("cord_depth", cord_depth, -0.005, 0.015, "m")


def belt_speed(diameter: float, speed: float) -> float:
    """Speed of the belt: v = pi d n.

    Args:
        diameter: pitch diameter of a pulley [m], 0.02 to 1.5.
        speed: turns of that pulley [1/s], 0 to 300.

    Returns:
        Belt speed [m/s].

    Raises:
        OutOfRangeError: a value outside its range.

    Source: geometry.
    """
    return math.pi * _pulley("diameter", diameter) * check("speed", speed, 0.0, 300.0, "1/s")


def driven_speed(driver_speed: float, driver_diameter: float, driven_diameter: float, slipped: float) -> float:
    """Speed of the driven pulley: n2 = n1 x d1 / d2 x (1 - s).

    Args:
        driver_speed: turns of the driving pulley [1/s], 0 to 300.
        driver_diameter: its pitch diameter [m], 0.02 to 1.5.
        driven_diameter: pitch diameter of the driven pulley [m], 0.02 to 1.5.
        slipped: share of the speed lost to slip, 0 to 1.

    Returns:
        Turns of the driven pulley [1/s].

    Raises:
        OutOfRangeError: a value outside its range.

    Source: Khurmi and Gupta, Theory of Machines, example 11.1.
    """
    check("driver_speed", driver_speed, 0.0, 300.0, "1/s")
    ratio = _pulley("driver_diameter", driver_diameter) / _pulley("driven_diameter", driven_diameter)
    return driver_speed * ratio * (1.0 - check("slipped", slipped, 0.0, 1.0))


def slip(driver_speed: float, driven_speed: float, driver_diameter: float, driven_diameter: float) -> float:
    """Share of the speed a belt loses: s = 1 - n2 d2 / (n1 d1).

    Each percent of error in a diameter is a percent of slip, so measured diameters show a bad belt, never a slight one.

    Args:
        driver_speed: turns of the driving pulley [1/s], 0.1 to 300.
        driven_speed: turns of the driven pulley [1/s], 0 to 300.
        driver_diameter: pitch diameter of the driving pulley [m], 0.02 to 1.5.
        driven_diameter: pitch diameter of the driven pulley [m], 0.02 to 1.5.

    Returns:
        Slip as a share of one; a little under nought when a reading or a diameter is off.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: the driven pulley turns over a quarter faster than its belt can drive it.

    Source: Khurmi and Gupta, Theory of Machines, example 11.1.
    """
    check("driver_speed", driver_speed, 0.1, 300.0, "1/s")
    check("driven_speed", driven_speed, 0.0, 300.0, "1/s")
    ratio = _pulley("driven_diameter", driven_diameter) / _pulley("driver_diameter", driver_diameter)
    share = 1.0 - driven_speed / driver_speed * ratio
    if share < -0.25:
        raise ValueError("the driven pulley turns faster than its belt can drive it: look again at the speeds, the diameters "
                         "and which pulley is which")
    return share


def extra_slip(light_driver_speed: float, light_driven_speed: float, loaded_driver_speed: float, loaded_driven_speed: float) -> float:
    """Slip a load adds, from two pairs of speeds on one drive: s = 1 - (n2/n1 loaded) / (n2/n1 light). No diameter is needed.

    Args:
        light_driver_speed: driving pulley with the load off [1/s], 0.1 to 300.
        light_driven_speed: driven pulley with the load off [1/s], 0.1 to 300.
        loaded_driver_speed: driving pulley with the load on [1/s], 0.1 to 300.
        loaded_driven_speed: driven pulley with the load on [1/s], 0 to 300.

    Returns:
        Slip beyond that of the light load, as a share of one.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: the belt seems to gain over a quarter under load.

    Source: the ratio of two `slip` readings; the diameters cancel.
    """
    check("light_driver_speed", light_driver_speed, 0.1, 300.0, "1/s")
    check("light_driven_speed", light_driven_speed, 0.1, 300.0, "1/s")
    check("loaded_driver_speed", loaded_driver_speed, 0.1, 300.0, "1/s")
    check("loaded_driven_speed", loaded_driven_speed, 0.0, 300.0, "1/s")
    share = 1.0 - loaded_driven_speed / loaded_driver_speed * light_driver_speed / light_driven_speed
    if share < -0.25:
        raise ValueError("the belt seems to slip less under load: look again which pair of speeds is which")
    return share


def tension_ratio(friction: float, wrap: float, groove_angle: float) -> float:
    """Tight over slack tension when the belt is about to slip: exp(mu x wrap / sin(half the groove angle)).

    Args:
        friction: coefficient of friction of belt on pulley, 0.02 to 1.5.
        wrap: angle the belt lies on the pulley [degree], 5 to 360.
        groove_angle: angle between the flanks of the groove [degree], 20 to 180; 180 is a flat belt.

    Returns:
        Ratio of the tensions, over one.

    Raises:
        OutOfRangeError: a value outside its range.

    Source: Euler's belt equation; Khurmi and Gupta, Theory of Machines, example 11.4.
    """
    check("friction", friction, 0.02, 1.5)
    check("wrap", wrap, 5.0, 360.0, "degree")
    check("groove_angle", groove_angle, 20.0, 180.0, "degree")
    return math.exp(friction * math.radians(wrap) / math.sin(math.radians(groove_angle / 2.0)))


def _without_throw(tension: float, unit_mass: float, speed: float) -> float:
    """A tension less the part that only keeps the belt on its curve, m v^2 [N]."""
    left = tension - check("unit_mass", unit_mass, 0.0, 2.0, "kg/m") * check("belt_speed", speed, 0.0, 60.0, "m/s") ** 2
    if left <= 0.0:
        raise ValueError("at this speed the belt's own throw takes the whole tension")
    return left


def belt_power(tight_tension: float, friction: float, wrap: float, groove_angle: float, unit_mass: float, pulley_diameter: float,
               pulley_speed: float) -> Grip:
    """Power at the point of slip from the tension of the tight side: P = (T1 - m v^2)(1 - 1/ratio) v.

    Args:
        tight_tension: tension of the tight side [N], 1 to 20000.
        friction: coefficient of friction, 0.02 to 1.5.
        wrap: wrap on the small pulley [degree], 5 to 360.
        groove_angle: groove angle [degree], 20 to 180.
        unit_mass: mass of a metre of belt [kg/m], 0 to 2; 0 leaves the throw of the belt out.
        pulley_diameter: pitch diameter of one pulley [m], 0.02 to 1.5.
        pulley_speed: turns of that pulley [1/s], 0 to 300, at a belt speed of no more than 60 m/s.

    Returns:
        Power [W] and pull [N].

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: the belt runs so fast that its own throw takes the whole tension.

    Source: Khurmi and Gupta, Theory of Machines, example 11.4.
    """
    speed = belt_speed(pulley_diameter, pulley_speed)
    left = _without_throw(check("tight_tension", tight_tension, 1.0, 20000.0, "N"), unit_mass, speed)
    pull = left * (1.0 - 1.0 / tension_ratio(friction, wrap, groove_angle))
    return Grip(pull * speed, pull)


def power_before_slip(set_tension: float, friction: float, wrap: float, groove_angle: float, unit_mass: float, pulley_diameter: float,
                      pulley_speed: float) -> Grip:
    """Power at the point of slip from the tension set at rest: P = 2 (T0 - m v^2)(ratio - 1)/(ratio + 1) v.

    Tight and slack side together keep twice the tension that was set; the belt's throw is taken off it, the careful way.

    Args:
        set_tension: tension of the span at rest [N], 1 to 20000.
        friction: coefficient of friction, 0.02 to 1.5.
        wrap: wrap on the small pulley [degree], 5 to 360.
        groove_angle: groove angle [degree], 20 to 180.
        unit_mass: mass of a metre of belt [kg/m], 0 to 2.
        pulley_diameter: pitch diameter of one pulley [m], 0.02 to 1.5.
        pulley_speed: turns of that pulley [1/s], 0 to 300, at a belt speed of no more than 60 m/s.

    Returns:
        Power [W] and pull [N].

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: the belt runs so fast that its own throw takes the whole tension.

    Source: Euler's belt equation with T1 + T2 = 2 T0 (textbooks of machine elements; memory).
    """
    speed = belt_speed(pulley_diameter, pulley_speed)
    left = _without_throw(check("set_tension", set_tension, 1.0, 20000.0, "N"), unit_mass, speed)
    ratio = tension_ratio(friction, wrap, groove_angle)
    pull = 2.0 * left * (ratio - 1.0) / (ratio + 1.0)
    return Grip(pull * speed, pull)


def belt_run(centres: float, large_diameter: float, small_diameter: float) -> BeltRun:
    """Length, free span and wrap of an open belt over two pulleys, exactly.

    With a = asin((D - d) / 2C): span = C cos a, wrap = 180 - 2a, length = 2 C cos a + pi (D + d)/2 + a (D - d).

    Args:
        centres: distance between the shafts [m], 0.03 to 5, and no less than half the sum of the diameters.
        large_diameter: larger pitch diameter [m], 0.02 to 1.5.
        small_diameter: smaller pitch diameter [m], 0.02 to 1.5.

    Returns:
        Length and span [m], wrap on the small pulley [degree].

    Raises:
        OutOfRangeError: a value outside its range, or pulleys that would touch.

    Source: geometry; Wentzell, Machine Elements, example 14.2, by its usual shorter formula.
    """
    _pulley("small_diameter", small_diameter)
    check("large_diameter", large_diameter, small_diameter, 1.5, "m")
    check("centres", centres, max(0.03, (large_diameter + small_diameter) / 2.0), 5.0, "m")
    lean = math.asin((large_diameter - small_diameter) / (2.0 * centres))
    span = centres * math.cos(lean)
    length = 2.0 * span + math.pi * (large_diameter + small_diameter) / 2.0 + lean * (large_diameter - small_diameter)
    return BeltRun(length, span, 180.0 - 2.0 * math.degrees(lean))


def centre_distance(length: float, large_diameter: float, small_diameter: float) -> float:
    """Distance of the shafts at which a belt of this length fits: the inverse of `belt_run`, by Newton's method.

    Args:
        length: pitch length of the belt [m], 0.15 to 15.
        large_diameter: larger pitch diameter [m], 0.02 to 1.5.
        small_diameter: smaller pitch diameter [m], 0.02 to 1.5.

    Returns:
        Distance [m].

    Raises:
        OutOfRangeError: a value outside its range, or a belt too short to go round both.

    Source: geometry; Wentzell, Machine Elements, example 14.2.
    """
    _pulley("small_diameter", small_diameter)
    check("large_diameter", large_diameter, small_diameter, 1.5, "m")
    nearest = max(0.03, (large_diameter + small_diameter) / 2.0)
    check("length", length, max(0.15, belt_run(nearest, large_diameter, small_diameter).length), 15.0, "m")
    half = (large_diameter - small_diameter) / 2.0
    centres = max(nearest, (length - math.pi * (large_diameter + small_diameter) / 2.0) / 2.0)
    for _ in range(30):  # length grows with the distance by 2 cos(lean) and bends one way only: a dozen steps are plenty
        lean = math.asin(min(1.0, half / centres))
        grown = 2.0 * centres * math.cos(lean) + math.pi * (large_diameter + small_diameter) / 2.0 + 2.0 * lean * half
        centres = max(nearest, centres - (grown - length) / (2.0 * math.cos(lean)))
    return centres
