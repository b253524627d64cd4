"""The wet exhaust and carbon monoxide: ranges, directions, words and round trips."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.measure import exhaust
from diagnose.measure.valid import OutOfRangeError

AIR = 101325.0


@pytest.mark.parametrize(("call", "values"), [
    (exhaust.column_back_pressure, (-0.1, 998.0)), (exhaust.column_back_pressure, (3.1, 998.0)),
    (exhaust.column_back_pressure, (1.0, 700.0)),
    (exhaust.back_pressure, (-1.0, "natural", None)), (exhaust.back_pressure, (51e3, "natural", None)),
    (exhaust.back_pressure, (5e3, "natural", 500.0)),
    (exhaust.height_heeled, (6.0, 0.3, 20.0)), (exhaust.height_heeled, (0.3, -0.1, 20.0)), (exhaust.height_heeled, (0.3, 0.3, 61.0)),
    (exhaust.riser_check, (2.1, 0.3, 20.0)), (exhaust.riser_check, (0.3, 3.1, 20.0)), (exhaust.fall_of_run, (4.0, 1.0)),
    (exhaust.fall_of_run, (0.1, 0.01)),
    (exhaust.standing_water, (0.005, 1.0)), (exhaust.standing_water, (0.05, 21.0)), (exhaust.lift_box, (0.05, 0.0, 6e-3)),
    (exhaust.lift_box, (0.05, 1.0, 1e-4)), (exhaust.cranking_time, (0.0, 4e-5, 1.0, 4.0, 0.85)),
    (exhaust.cranking_time, (5e-3, 4e-5, 1.0, 9.0, 0.85)),
    (exhaust.wet_bore, (0.005,)), (exhaust.wet_bore, (0.3,)), (exhaust.share_of_concentration, (0.03, 25.0, AIR)),
    (exhaust.share_of_concentration, (1e-4, 61.0, AIR)), (exhaust.share_of_concentration, (1e-4, 25.0, 50e3)),
    (exhaust.concentration_of_share, (0.02, 25.0, AIR)),
    (exhaust.carbon_monoxide, (-1e-6, 60.0, 25.0, AIR)), (exhaust.carbon_monoxide, (1e-5, -1.0, 25.0, AIR)),
    (exhaust.carbon_monoxide, (1e-5, 2e5, 25.0, AIR)),
])
def test_what_lies_outside_is_refused(call: Any, values: tuple[Any, ...]) -> None:
    """Just past an end of each."""
    with pytest.raises(OutOfRangeError):
        call(*values)


@pytest.mark.parametrize(("kilopascals", "engine", "word"), [
    (0.0, "natural", "within all limits"), (8.4, "natural", "within all limits"), (8.6, "natural", "the engine's book decides"),
    (15.0, "natural", "the engine's book decides"), (15.1, "natural", "over all limits"), (5.1, "turbo", "within all limits"),
    (5.3, "turbo", "the engine's book decides"), (16.0, "turbo", "over all limits"),
])
def test_back_pressure_words(kilopascals: float, engine: Any, word: str) -> None:
    """Under the strictest, over the loosest, and the book between them."""
    assert exhaust.back_pressure(kilopascals * 1e3, engine, None).word == word


@given(pressure=st.floats(0.0, 40e3), limit=st.floats(1e3, 30e3))
def test_the_engine_s_own_book_decides(pressure: float, limit: float) -> None:
    """With a limit of its own there is nothing between."""
    found = exhaust.back_pressure(pressure, "turbo", limit)
    assert found.word == ("within all limits" if pressure <= limit else "over all limits")
    assert found.strictest == found.loosest == limit
    assert found.share == pytest.approx(pressure / limit)


def test_engine_that_is_neither_is_refused() -> None:
    """Two words are known."""
    with pytest.raises(ValueError, match="neither"):
        exhaust.back_pressure(5e3, "steam", None)  # type: ignore[arg-type]


@given(height=st.floats(0.0, 1.0), offset=st.floats(0.0, 1.5), heel=st.floats(0.0, 45.0))
def test_heeling_only_lowers_the_low_side(height: float, offset: float, heel: float) -> None:
    """A point on the low side never gains, and one on the centreline keeps the cosine of its height."""
    heeled = exhaust.height_heeled(height, offset, heel)
    assert heeled <= height + 1e-12
    assert exhaust.height_heeled(height, 0.0, heel) == pytest.approx(height * math.cos(math.radians(heel)))
    assert exhaust.height_heeled(height, offset + 0.1, heel) <= heeled
    assert exhaust.height_heeled(height, offset, 0.0) == height


@given(height=st.floats(-0.5, 1.0), offset=st.floats(0.0, 1.5), heel=st.floats(0.0, 45.0))
def test_heeled_and_lost_add_up(height: float, offset: float, heel: float) -> None:
    """What is left and what was lost are the height."""
    found = exhaust.riser_check(height, offset, heel)
    assert found.heeled + found.lost == pytest.approx(height, abs=1e-12)


@pytest.mark.parametrize(("height", "word"), [
    (-0.1, "under water"), (0.0, "under water"), (0.19, "too low by both"), (0.2, "enough for one source, too low for the other"),
    (0.30, "enough for one source, too low for the other"), (0.31, "high enough by both"),
])
def test_riser_words(height: float, word: str) -> None:
    """Upright and with no heel the two words agree."""
    found = exhaust.riser_check(height, 0.5, 0.0)
    assert (found.upright_word, found.heeled_word) == (word, word)


def test_good_upright_may_be_under_water_heeled() -> None:
    """The reason for asking."""
    found = exhaust.riser_check(0.31, 0.8, 25.0)
    assert (found.upright_word, found.heeled_word) == ("high enough by both", "under water")


@pytest.mark.parametrize(("drop", "word"), [
    (-0.1, "climbs"), (0.0, "climbs"), (0.03, "too flat by both"), (0.04, "enough for one source, too flat for the other"),
    (0.08, "enough for one source, too flat for the other"), (0.09, "steep enough by both"),
])
def test_fall_words(drop: float, word: str) -> None:
    """Over one metre."""
    assert exhaust.fall_of_run(drop, 1.0).word == word


@given(drop=st.floats(-1.0, 1.0), length=st.floats(0.1, 10.0))
def test_fall_is_odd_and_true_to_its_slope(drop: float, length: float) -> None:
    """Up is minus down, and the tangent of the angle is the slope."""
    found = exhaust.fall_of_run(drop, length)
    assert exhaust.fall_of_run(-drop, length).angle == pytest.approx(-found.angle)
    assert math.tan(math.radians(found.angle)) == pytest.approx(found.slope)


@pytest.mark.parametrize(("box", "word"), [(1.9e-3, "too small"), (2.0e-3, "small"), (5.8e-3, "small"), (5.95e-3, "enough")])
def test_lift_box_words(box: float, word: str) -> None:
    """A metre of 50 mm hose holds 1.96 litres."""
    assert exhaust.lift_box(0.05, 1.0, box).word == word


@given(bore=st.floats(0.02, 0.1), length=st.floats(0.2, 5.0))
def test_water_follows_bore_and_length(bore: float, length: float) -> None:
    """Twice the bore four times, twice the length twice."""
    one = exhaust.standing_water(bore, length)
    assert exhaust.standing_water(2 * bore, length) == pytest.approx(4 * one)
    assert exhaust.standing_water(bore, 2 * length) == pytest.approx(2 * one)


@given(room=st.floats(1e-3, 0.05), speed=st.floats(3.0, 4.0))
def test_cranking_follows_room_and_speed(room: float, speed: float) -> None:
    """Twice the room lasts twice, twice the speed half as long."""
    one = exhaust.cranking_time(room, 4e-5, 1.0, speed, 0.85)
    assert exhaust.cranking_time(2 * room, 4e-5, 1.0, speed, 0.85) == pytest.approx(2 * one)
    assert exhaust.cranking_time(room, 4e-5, 1.0, 2 * speed, 0.85) == pytest.approx(one / 2)


@given(share=st.floats(1e-7, 9e-3), temperature=st.floats(-10.0, 50.0), barometer=st.floats(80e3, 105e3))
def test_share_and_mass_are_each_other_turned_round(share: float, temperature: float, barometer: float) -> None:
    """There and back."""
    mass = exhaust.concentration_of_share(share, temperature, barometer)
    assert exhaust.share_of_concentration(mass, temperature, barometer) == pytest.approx(share, rel=1e-12)


@pytest.mark.parametrize(("ppm", "minutes", "word"), [
    (0.0, 480.0, "low, but there should be none"), (9.5, 480.0, "within the limits, find where it comes from"),
    (9.5, 500.0, "too long, out into fresh air"),
    (24.0, 59.0, "within the limits, find where it comes from"), (24.0, 61.0, "too long, out into fresh air"), (91.0, 0.0, "out at once"),
    (201.0, 0.0, "out at once"), (1201.0, 0.0, "danger to life, out at once"),
])
def test_carbon_monoxide_words(ppm: float, minutes: float, word: str) -> None:
    """From none to deadly."""
    assert exhaust.carbon_monoxide(ppm * 1e-6, minutes * 60.0, 25.0, AIR).word == word


def test_more_gas_is_never_allowed_longer() -> None:
    """Over the whole range the time allowed only shrinks, and above the last row there is none."""
    times = [exhaust.carbon_monoxide(ppm * 1e-6, 0.0, 25.0, AIR).allowed for ppm in range(2000)]
    assert times == sorted(times, reverse=True)
    assert times[-1] == 0.0


def test_all_is_what_can_be_used() -> None:
    """Every public name exists."""
    assert [name for name in exhaust.__all__ if not hasattr(exhaust, name)] == []
