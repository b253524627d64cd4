"""Tones: ranges, orders that belong together, and the finder."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from diagnose.measure import tones
from diagnose.measure.valid import OutOfRangeError

COUNTS = st.integers(4, 40)
RINGS = st.sampled_from(["inner", "outer"])
BEARING: dict[str, Any] = {"elements": 9, "element_diameter": 0.00794, "pitch_diameter": 0.03904, "contact_angle": 0.0, "turning": "inner"}
FOUND: dict[str, Any] = {"tone": 21.0, "engine_speed": 14.0, "cylinders": 3, "crank_pulley": None, "alternator_pulley": None,
                         "pump_pulley": None, "belt_length": None, "gear_ratio": None, "blades": None}


@pytest.mark.parametrize(("function", "good", "name", "wrong"), [
    (tones.bearing_orders, BEARING, "elements", (3, 41)),
    (tones.bearing_orders, BEARING, "element_diameter", (0.0005, 0.11)),
    (tones.bearing_orders, BEARING, "pitch_diameter", (0.015, 1.1)),
    (tones.bearing_orders, BEARING, "contact_angle", (-1.0, 61.0)),
    (tones.bearing_tones, BEARING | {"speed": 30.0}, "speed", (0.05, 1001.0)),
    (tones.bearing_tones_by_count, {"speed": 30.0, "elements": 8, "cage_order": 0.4, "turning": "inner"}, "cage_order", (0.29, 0.47)),
    (tones.belt_tones, {"pulley_speed": 30.0, "pulley_diameter": 0.1, "belt_length": 1.0}, "belt_length", (0.29, 15.1)),
    (tones.firing_tones, {"speed": 30.0, "cylinders": 4}, "cylinders", (0, 13)),
    (tones.propeller_tones, {"engine_speed": 30.0, "gear_ratio": 2.0, "blades": 3}, "gear_ratio", (0.4, 6.1)),
    (tones.propeller_tones, {"engine_speed": 30.0, "gear_ratio": 2.0, "blades": 3}, "blades", (0, 9)),
    (tones.gear_mesh_tone, {"speed": 30.0, "teeth": 21}, "teeth", (4, 301)),
    (tones.order_of, {"tone": 30.0, "speed": 10.0}, "tone", (0.05, 20001.0)),
    (tones.find_tone, FOUND, "tone", (0.4, 2001.0)),
    (tones.find_tone, FOUND, "engine_speed", (2.9, 101.0)),
])
def test_what_lies_outside_its_range_is_refused(function: Any, good: dict[str, Any], name: str, wrong: tuple[float, float]) -> None:
    """Just past each end; and the same call within its range is answered."""
    function(**good)
    for value in (*wrong, math.nan):
        with pytest.raises(OutOfRangeError, match=name.replace("_", " ")):
            function(**good | {name: value})


@pytest.mark.parametrize(("function", "values"), [
    (tones.bearing_orders, BEARING | {"elements": 8.5}), (tones.firing_tones, {"speed": 30.0, "cylinders": 2.5}),
    (tones.propeller_tones, {"engine_speed": 30.0, "gear_ratio": 2.0, "blades": 3.5}),
    (tones.gear_mesh_tone, {"speed": 30.0, "teeth": 20.5}),
])
def test_a_count_is_whole(function: Any, values: dict[str, Any]) -> None:
    """Half a ball, cylinder, blade or tooth is a slip of the finger."""
    with pytest.raises(ValueError, match="whole number"):
        function(**values)


@given(COUNTS, st.floats(0.003, 0.03), st.floats(2.2, 12.0), st.floats(0.0, 50.0), RINGS)
def test_orders_of_a_bearing_belong_together(count: int, ball: float, wide: float, angle: float, turning: Any) -> None:
    """Both rings make the count together, the inner above the outer; the cage lies under one turn; the ball knocks twice a turn."""
    orders = tones.bearing_orders(count, ball, ball * wide, angle, turning)
    assert orders.outer + orders.inner == pytest.approx(count)
    assert orders.outer < count / 2.0 < orders.inner
    assert orders.cage == pytest.approx((orders.outer if turning == "inner" else orders.inner) / count)
    assert orders.spin_twice == pytest.approx(2.0 * orders.spin)
    assert tones.bearing_orders(count, 2 * ball, 2 * ball * wide, angle, turning) == pytest.approx(orders)


@given(st.floats(1.0, 200.0), COUNTS, st.floats(0.005, 0.02), st.floats(3.0, 10.0), RINGS)
def test_the_count_alone_gives_the_same_where_its_cage_is_right(speed: float, count: int, ball: float, wide: float, turning: Any) -> None:
    """With the true turn of the cage put in, the rule by count is the full geometry of a bearing without contact angle."""
    full = tones.bearing_tones(speed, count, ball, ball * wide, 0.0, turning)
    cage = tones.bearing_orders(count, ball, ball * wide, 0.0, "inner").cage
    assume(0.3 <= cage <= 0.46)
    assert tones.bearing_tones_by_count(speed, count, cage, turning) == pytest.approx(full)


@given(st.floats(1.0, 100.0), st.floats(0.03, 0.3), st.floats(1.0, 4.0))
def test_a_belt_goes_round_slower_than_its_pulleys_turn(speed: float, diameter: float, length: float) -> None:
    """Its rounds are under the turns of any pulley it fits; twice and thrice are multiples."""
    found = tones.belt_tones(speed, diameter, length)
    assert 0 < found.once < speed * math.pi / 3.0 + 1e-9
    assert (found.twice, found.thrice) == pytest.approx((2 * found.once, 3 * found.once))


@given(st.floats(5.0, 80.0), st.integers(1, 12))
def test_firing_goes_with_speed_and_cylinders(speed: float, cylinders: int) -> None:
    """The firing is as many beats of one cylinder as there are cylinders."""
    found = tones.firing_tones(speed, cylinders)
    assert found.firing == pytest.approx(cylinders * found.one_missing)
    assert found.order == pytest.approx(tones.order_of(found.firing, speed))


@given(st.floats(1.0, 50.0), st.integers(8, 60), st.integers(8, 60))
def test_both_wheels_of_a_pair_mesh_at_one_tone(speed: float, teeth: int, others: int) -> None:
    """The second turns slower by the ratio of teeth."""
    assert tones.gear_mesh_tone(speed * teeth / others, others) == pytest.approx(tones.gear_mesh_tone(speed, teeth))


PARTS: dict[str, Any] = {"crank_pulley": 0.130, "alternator_pulley": 0.061, "pump_pulley": 0.115, "belt_length": 0.95, "gear_ratio": 2.63,
                         "blades": 3}


@pytest.mark.parametrize(("rate", "name"), [
    (1.5, "firing"), (0.5, "one cylinder weak"), (1.0, "the turn of the crankshaft"), (2.0, "twice the crankshaft"),
    (0.130 / 0.061, "the alternator's shaft"), (0.130 / 0.115, "or the pump's shaft"), (math.pi * 0.130 / 0.95, "the belt, once"),
    (2 * math.pi * 0.130 / 0.95, "the belt, twice"), (1 / 2.63, "the propeller shaft"), (3 / 2.63, "the propeller's blades"),
])
@pytest.mark.parametrize("wrong_by", [0.99, 1.0, 1.01])
def test_each_source_is_found_by_its_own_tone(rate: float, name: str, wrong_by: float) -> None:
    """A tone one percent off still finds its source among the two nearest, in a boat with everything given; the crossing of
    pump and blades, 1 % apart here, is why there are two."""
    found = tones.find_tone(**FOUND | PARTS | {"tone": rate * 25.0 * wrong_by, "engine_speed": 25.0})
    assert any(part in f"or {found.nearest} or {found.second}" for part in (name, name.removeprefix("or ")))
    assert found.fit == "fits"
    assert found.order == pytest.approx(rate * wrong_by)


@given(st.floats(3.0, 900.0), st.floats(8.0, 60.0), st.integers(1, 8))
def test_nearest_is_nearer_than_second(tone: float, speed: float, cylinders: int) -> None:
    """By ratio; distances and tones say the same."""
    found = tones.find_tone(**FOUND | {"tone": tone, "engine_speed": speed, "cylinders": cylinders})
    assert abs(math.log1p(found.above)) <= abs(math.log1p(found.second_above)) + 1e-12
    assert found.nearest_tone * (1 + found.above) == pytest.approx(tone)
    assert found.second_tone * (1 + found.second_above) == pytest.approx(tone)


def test_sources_of_one_rate_share_a_line() -> None:
    """On four cylinders the firing is twice the crankshaft; on two the turn of the crankshaft; on one the camshaft's."""
    four = tones.find_tone(**FOUND | {"tone": 50.0, "engine_speed": 25.0, "cylinders": 4})
    assert "firing" in four.nearest
    assert "twice the crankshaft" in four.nearest
    one = tones.find_tone(**FOUND | {"tone": 12.5, "engine_speed": 25.0, "cylinders": 1})
    assert "firing" in one.nearest
    assert "weak" not in one.nearest


@pytest.mark.parametrize(("off", "fit"), [(0.02, "fits"), (0.05, "may be"), (0.12, "none of these")])
def test_the_fit_is_said(off: float, fit: str) -> None:
    """Within three and eight parts in a hundred."""
    assert tones.find_tone(**FOUND | {"tone": 14.0 * 3.0 * (1 + off)}).fit == fit


@pytest.mark.parametrize("given_alone", [{"alternator_pulley": 0.06}, {"pump_pulley": 0.1}, {"belt_length": 1.0}, {"blades": 3}])
def test_what_has_no_speed_of_its_own_is_refused(given_alone: dict[str, float]) -> None:
    """A driven pulley without the driving one, blades without the gear."""
    with pytest.raises(ValueError, match="give"):
        tones.find_tone(**FOUND | given_alone)
