"""Potentials, anodes, stray currents: ranges, edges, direction."""

from __future__ import annotations

import math
from typing import get_args

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from diagnose.measure import corrosion as c
from diagnose.measure.valid import OutOfRangeError

DAY = 86400.0
FITTINGS = get_args(c.Fitting)
HULLS = get_args(c.Hull)
POTENTIALS = st.floats(-1.9, 1.4)


def test_every_fitting_has_a_table_and_every_band_runs_upwards() -> None:
    """No fitting is without its published bands, and in each band the low end is below the high one."""
    assert set(FITTINGS) == set(c.SERIES)
    assert all(band.low < band.high for bands in c.SERIES.values() for band in bands)


@pytest.mark.parametrize(("call", "name"), [
    (lambda: c.metal_reading("steel", -2.1), "potential"),
    (lambda: c.hull_reading("steel", math.nan), "potential"),
    (lambda: c.protection_shift(-0.6, -0.8, 0.01), "needed"),
    (lambda: c.to_silver_chloride(-0.6, "zinc", 0.5, 20.0), "salinity"),
    (lambda: c.to_silver_chloride(2.5, "zinc", 35.0, 20.0), "reading"),
    (lambda: c.anode_life(0.0, 2.8e6, 0.85, 0.05), "mass"),
    (lambda: c.anode_life(1.0, 780.0, 0.85, 0.05), "capacity"),
    (lambda: c.anode_life(1.0, 2.8e6, 1.1, 0.05), "utilisation"),
    (lambda: c.anode_current(1.0, 0.0, 2.8e6), "time"),
    (lambda: c.anode_wear(1.0, 0.9, 0.8, DAY, 1.0, 0.0), "keep"),
    (lambda: c.anode_wear(1.0, 0.9, 0.8, DAY, 0.5, -0.1), "reading_error"),
    (lambda: c.shunt_current(0.01, 0.0, 100.0), "rated_voltage"),
    (lambda: c.lost_to_current("iron", 1.0, DAY, 0.0), "area"),
])
def test_what_is_out_of_range_is_refused_by_name(call: object, name: str) -> None:
    """A reading, an anode or a shunt that cannot be is refused, and the refusal names the very figure."""
    with pytest.raises(OutOfRangeError) as caught:
        call()  # type: ignore[operator]
    assert caught.value.name == name


@pytest.mark.parametrize("call", [
    lambda: c.metal_reading("gold", -0.5),  # type: ignore[arg-type]
    lambda: c.hull_reading("concrete", -0.5),  # type: ignore[arg-type]
    lambda: c.to_silver_chloride(-0.5, "hydrogen", 35.0, 20.0),  # type: ignore[arg-type]
    lambda: c.lost_to_current("tin", 1.0, DAY, 1.0),  # type: ignore[arg-type]
])
def test_unknown_words_are_answered_with_the_known_ones(call: object) -> None:
    """A metal, hull or cell that no table has is refused with the list of those that one has."""
    with pytest.raises(ValueError, match=r"is not one of [a-z-]+, "):
        call()  # type: ignore[operator]


@pytest.mark.parametrize("metal", FITTINGS)
def test_a_fitting_swept_from_plus_to_minus_goes_through_the_verdicts_in_order(metal: c.Fitting) -> None:
    """From far above to far below its series every fitting is given the four verdicts, each once and in order."""
    order = ["pushed up", "as the metal alone", "pulled down a little", "protected"]
    seen = [c.metal_reading(metal, 1.0 - i * 0.0005).verdict for i in range(5999)]
    assert [word for i, word in enumerate(seen) if i == 0 or word != seen[i - 1]] == order


@given(metal=st.sampled_from(FITTINGS), potential=POTENTIALS)
def test_the_shift_leads_back_into_the_range(metal: c.Fitting, potential: float) -> None:
    """A reading less its shift lies within the metal's own range, and the shift is nought there and only there."""
    found = c.metal_reading(metal, potential)
    assert found.low - 1e-12 <= potential - found.shift <= found.high + 1e-12
    assert (found.shift == 0) == (found.low <= potential <= found.high)


@pytest.mark.parametrize("hull", HULLS)
def test_a_hull_swept_from_plus_to_minus_goes_through_the_verdicts_in_order(hull: c.Hull) -> None:
    """From nought down a hull is first under-protected and last over-protected, and no verdict comes back."""
    order = ["under-protected", "perhaps under-protected", "protected", "perhaps over-protected", "over-protected"]
    seen = [c.hull_reading(hull, -i * 0.0005).verdict for i in range(3600)]
    met = [word for i, word in enumerate(seen) if i == 0 or word != seen[i - 1]]
    assert met == [word for word in order if word in met]
    assert {"under-protected", "protected", "over-protected"} <= set(met)


@given(hull=st.sampled_from(HULLS), potential=st.floats(-1.9, 0.9))
def test_what_is_missing_leads_to_the_sure_band(hull: c.Hull, potential: float) -> None:
    """A reading moved by what is to go lies where all sources agree, and only there is nothing to go."""
    found = c.hull_reading(hull, potential)
    moved = potential - found.to_go
    assert found.most - 1e-9 <= moved <= found.least + 1e-9
    assert (found.to_go == 0) == (found.verdict == "protected")


@given(one=st.sampled_from(FITTINGS), other=st.sampled_from(FITTINGS))
def test_a_couple_does_not_ask_who_is_named_first(one: c.Fitting, other: c.Fitting) -> None:
    """Two metals named the other way round drive each other as hard, and the same one wastes."""
    there, back = c.couple(one, other), c.couple(other, one)
    assert (there.driving, there.least, there.most) == pytest.approx((back.driving, back.least, back.most))
    assert there.wastes == back.wastes
    assert 0 <= there.least <= there.driving <= there.most or there.wastes == "either"


def test_zinc_wastes_for_everything_but_magnesium() -> None:
    """Joined to any fitting zinc is the one that goes, except to magnesium; two of one metal have no loser."""
    for metal in set(FITTINGS) - {"zinc", "magnesium", "aluminium"}:
        assert c.couple("zinc", metal).wastes == "zinc"
    assert c.couple("zinc", "magnesium").wastes == "magnesium"
    assert c.couple("zinc", "zinc").wastes == "either"


@given(before=POTENTIALS, after=POTENTIALS)
def test_shift_words(before: float, after: float) -> None:
    """The shift is before less after; enough of it protects, less is not enough, and upwards is the wrong way."""
    found = c.protection_shift(before, after, 0.2)
    assert found.shift == before - after
    assert found.verdict == ("protected" if found.spare >= 0 else "not enough" if after <= before else "the wrong way")


@given(reading=st.floats(-1.9, 1.9), reference=st.sampled_from(get_args(c.Reference)))
def test_conversion_moves_all_readings_alike(reading: float, reference: c.Reference) -> None:
    """Another cell adds the same figure to every reading, and the result lies within its own limits."""
    here, nought = c.to_silver_chloride(reading, reference, 35.0, 20.0), c.to_silver_chloride(0.0, reference, 35.0, 20.0)
    assert here.potential - reading == pytest.approx(nought.potential)
    assert here.low <= here.potential <= here.high


@given(salinity=st.floats(1.0, 44.0))
def test_brackish_water_moves_the_bare_cell_only(salinity: float) -> None:
    """Only a silver-chloride cell open to the water follows its salt; a cell with its own filling does not."""
    fresher, salter = (c.to_silver_chloride(-0.8, "silver-chloride", s, 15.0).potential for s in (salinity, salinity + 1.0))
    assert fresher > salter
    assert c.to_silver_chloride(-0.8, "calomel", salinity, 15.0) == c.to_silver_chloride(-0.8, "calomel", 35.0, 15.0)


@given(mass=st.floats(0.01, 100.0), current=st.floats(1e-4, 10.0), used=st.floats(0.1, 1.0))
def test_life_and_current_are_each_other_turned_round(mass: float, current: float, used: float) -> None:
    """The current worked out from the metal used up over an anode's life is the current that life was for."""
    life = c.anode_life(mass, 2.808e6, used, current)
    assume(3600.0 <= life <= 1e9)
    assert c.anode_current(mass * used, life, 2.808e6) == pytest.approx(current)


# ------------------------------------------------------------------ wear


@given(new=st.floats(0.1, 50.0), first=st.floats(0.8, 1.0), second=st.floats(0.55, 0.75), days=st.floats(10.0, 1000.0))
def test_wear_without_error_is_a_straight_line(new: float, first: float, second: float, days: float) -> None:
    """With exact scales the day due is where the line through two weighings meets the limit, and has no spread."""
    found = c.anode_wear(new, first * new, second * new, days * DAY, 0.5, 0.0)
    assert found.time_left / DAY == pytest.approx(days * (second - 0.5) / (first - second), rel=1e-6)
    assert found.earliest == pytest.approx(found.time_left, rel=1e-6)
    assert found.latest == pytest.approx(found.time_left, rel=1e-6)
    assert second * new - found.rate * found.time_left == pytest.approx(0.5 * new)
    assert found.left == pytest.approx(second)


@given(error=st.floats(1e-4, 0.05))
def test_the_limits_hold_the_figure_between_them_and_open_with_the_error(error: float) -> None:
    """The day due lies between earliest and latest, and a worse scale only moves those apart."""
    small, large = (c.anode_wear(1.0, 0.95, 0.75, 100 * DAY, 0.5, e) for e in (error, error * 1.2))
    for found in (small, large):
        assert 0 <= found.earliest <= found.time_left
        assert found.latest is None or found.latest >= found.time_left
    assert large.earliest <= small.earliest
    assert small.latest is not None or large.latest is None
    assert small.latest is None or large.latest is None or large.latest >= small.latest


def test_a_loss_within_the_weighing_has_no_latest_day() -> None:
    """A loss no larger than the scale's error may be none at all, so no latest day is given."""
    found = c.anode_wear(1.0, 0.95, 0.94, 100 * DAY, 0.5, 0.01)
    assert found.latest is None
    assert 0 < found.earliest < found.time_left


@given(unit=st.floats(0.001, 1000.0), clock=st.floats(0.5, 50.0))
def test_units_of_the_readings_and_of_the_clock_drop_out(unit: float, clock: float) -> None:
    """Grams or pounds, days or engine hours: the days left scale with the clock alone."""
    one = c.anode_wear(1.0, 0.95, 0.75, 100 * DAY, 0.5, 0.02)
    other = c.anode_wear(unit, 0.95 * unit, 0.75 * unit, 100 * DAY * clock, 0.5, 0.02 * unit)
    assert other.time_left == pytest.approx(clock * one.time_left)
    assert other.earliest == pytest.approx(clock * one.earliest)
    assert other.latest == pytest.approx(clock * (one.latest or 0.0))
    assert other.rate == pytest.approx(one.rate * unit / clock)


def test_an_anode_past_due_is_due_now() -> None:
    """One already below the limit has no time left, not a negative one."""
    found = c.anode_wear(1.0, 0.6, 0.45, 30 * DAY, 0.5, 0.01)
    assert (found.time_left, found.earliest, found.latest) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize(("new", "first", "second", "why"), [
    (1.0, 0.8, 0.9, "only gets smaller"), (1.0, 1.1, 0.9, "only gets smaller"), (0.0, 0.0, 0.0, "only gets smaller"),
    (1.0, 0.8, 0.8, "not connected"),
])
def test_readings_that_cannot_be(new: float, first: float, second: float, why: str) -> None:
    """An anode that grew is refused, and one that lost nothing is said to be not connected."""
    with pytest.raises(ValueError, match=why):
        c.anode_wear(new, first, second, DAY, 0.5, 0.0)


# ------------------------------------------------------------------ currents


@given(reading=st.floats(-1.0, 1.0))
def test_a_shunt_keeps_the_sign(reading: float) -> None:
    """A reading below nought is a current the other way, in the same proportion."""
    assert c.shunt_current(reading, 0.05, 100.0) == pytest.approx(2000.0 * reading)


@given(current=st.floats(1e-4, 10.0), time=st.floats(100.0, 1e8), area=st.floats(1e-4, 10.0))
def test_loss_goes_with_current_and_time_and_depth_against_area(current: float, time: float, area: float) -> None:
    """Twice the current takes twice the metal; over twice the area it goes half as deep."""
    once = c.lost_to_current("copper", current, time, area)
    assert c.lost_to_current("copper", 2.0 * current, time, area).mass == pytest.approx(2.0 * once.mass)
    wide = c.lost_to_current("copper", current, time, 2.0 * area)
    assert (wide.mass, wide.depth) == pytest.approx((once.mass, once.depth / 2.0))
