"""The heat exchanger: bounds and directions of the formulas, turning round, noisy readings, clean and dirty."""

from __future__ import annotations

import math
from typing import get_args

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from diagnose.measure import exchanger
from diagnose.measure.coolant import Glycol
from diagnose.measure.exchanger import Flow, Layout
from diagnose.measure.valid import OutOfRangeError

FLOWS: tuple[Flow, ...] = get_args(Flow)
LAYOUTS: tuple[Layout, ...] = get_args(Layout)
FLOW = st.sampled_from(FLOWS)
LAYOUT = st.sampled_from(LAYOUTS)
UNITS = st.floats(0.0, 6.0)
RATIO = st.floats(0.0, 1.0)
MIX: tuple[Glycol, float, float] = ("ethylene", 0.5, 0.95)
HOT = st.floats(70.0, 95.0)
SEA = st.floats(2.0, 32.0)
BUCKET = 4e-4

every_flow = pytest.mark.parametrize("flow", FLOWS)


# ------------------------------------------------------------------ mean differences


@given(st.floats(0.01, 1e3), st.floats(0.01, 1e3))
def test_the_logarithmic_mean_lies_between_the_other_means(one: float, other: float) -> None:
    """Never under the geometric mean nor over the arithmetic one, the same either way round, and it scales."""
    found = exchanger.log_mean(one, other)
    assert math.sqrt(one * other) * (1 - 1e-9) <= found <= (one + other) / 2 * (1 + 1e-12)
    assert exchanger.log_mean(other, one) == pytest.approx(found)
    assert exchanger.log_mean(3 * one, 3 * other) == pytest.approx(3 * found)


@given(st.floats(0.1, 100.0), st.floats(-6.0, -1.0))
def test_the_logarithmic_mean_has_no_hole(one: float, power: float) -> None:
    """Near equal ends it goes over into the mean of the two, without a step at the change of formula."""
    apart = one * 10**power
    assert exchanger.log_mean(one, one) == one
    assert exchanger.log_mean(one, one + apart) == pytest.approx(one + apart / 2, rel=(apart / one) ** 2)
    edge = one * (1 + 2e-3)
    assert exchanger.log_mean(one, edge * (1 + 1e-9)) == pytest.approx(exchanger.log_mean(one, edge * (1 - 1e-9)), rel=3e-9)


def test_ends_that_cross_are_refused() -> None:
    """A colder stream that is warmer at one end has no mean difference."""
    for flow, cold_out in (("counterflow", 81.0), ("parallel", 71.0)):
        with pytest.raises(ValueError, match="at both ends"):
            exchanger.log_mean_difference(80.0, 70.0, 20.0, cold_out, flow)  # type: ignore[arg-type]
    with pytest.raises(OutOfRangeError):
        exchanger.log_mean(0.0, 10.0)


@given(st.floats(60.0, 120.0), st.floats(1.0, 20.0), st.floats(0.0, 20.0), st.floats(1.0, 20.0), FLOW)
def test_nothing_beats_counterflow(hot: float, drop: float, cold: float, rise: float, flow: Flow) -> None:
    """The correction is at most one, and one where the streams hardly change."""
    try:
        found = exchanger.correction(hot, hot - drop, cold, cold + rise, flow)
    except ValueError:
        assert flow == "parallel"
        assert hot - drop <= cold + rise + 1e-6
        return
    assert 0.0 < found <= 1.0 + 1e-12
    assert exchanger.correction(hot, hot - drop / 1e4, cold, cold + rise / 1e4, flow) == pytest.approx(1.0, abs=1e-4)


# ------------------------------------------------------------------ effectiveness


@given(UNITS, RATIO, FLOW)
def test_effectiveness_stays_within_bounds(units: float, ratio: float, flow: Flow) -> None:
    """Between nothing and what counterflow moves; and no more than its own endless exchanger."""
    found = exchanger.effectiveness(units, ratio, flow)
    assert 0.0 <= found <= exchanger.effectiveness(units, ratio, "counterflow") + 1e-12 <= 1.0 + 1e-12
    assert found <= exchanger.effectiveness(1000.0, ratio, flow) + 1e-12


@given(st.floats(0.0, 5.0), RATIO, FLOW)
def test_more_exchanger_moves_more_and_a_heavier_load_less(units: float, ratio: float, flow: Flow) -> None:
    """It grows with size and falls as the streams come to be alike."""
    here = exchanger.effectiveness(units, ratio, flow)
    assert exchanger.effectiveness(units + 0.1, ratio, flow) >= here - 1e-12
    if ratio < 0.9:
        assert exchanger.effectiveness(units, ratio + 0.1, flow) <= here + 1e-12


@given(st.floats(0.0, 4.0), RATIO, FLOW)
def test_effectiveness_and_units_turn_each_other_round(units: float, ratio: float, flow: Flow) -> None:
    """From size to effectiveness and back, wherever the curve is not yet flat."""
    found = exchanger.effectiveness(units, ratio, flow)
    assert exchanger.ntu(found, ratio, flow) == pytest.approx(units, rel=1e-6, abs=1e-9)


@every_flow
def test_the_kind_does_not_matter_where_one_stream_holds_its_temperature(flow: Flow) -> None:
    """Boiling or condensing on one side: 1 - exp(-ntu) for every kind (limit of each formula)."""
    for units in (0.1, 0.5, 1.0, 2.0, 4.0):
        assert exchanger.effectiveness(units, 0.0, flow) == pytest.approx(1 - math.exp(-units), rel=1e-12)
        assert exchanger.effectiveness(units, 1e-13, flow) == pytest.approx(1 - math.exp(-units), rel=1e-9)


def test_equal_streams_in_counterflow() -> None:
    """ntu / (1 + ntu), reached without a step (limit of the formula)."""
    for units in (0.5, 1.0, 3.0):
        assert exchanger.effectiveness(units, 1.0, "counterflow") == pytest.approx(units / (1 + units), rel=1e-12)
        assert exchanger.effectiveness(units, 1.0 - 1e-9, "counterflow") == pytest.approx(units / (1 + units), rel=1e-8)


@pytest.mark.parametrize(("share", "ratio", "flow"), [(0.6, 1.0, "parallel"), (0.6, 1.0, "two-pass"), (0.7, 1.0, "max-mixed"),
                                                      (0.64, 1.0, "min-mixed"), (1.0, 0.5, "counterflow")])
def test_more_than_an_endless_exchanger_moves_is_refused(share: float, ratio: float, flow: Flow) -> None:
    """Parallel flow of equal streams ends at a half, two passes at 0.586, mixed cross flow at 0.632."""
    with pytest.raises(ValueError, match="however large"):
        exchanger.ntu(share, ratio, flow)


@given(st.floats(60.0, 95.0), st.floats(0.0, 35.0), st.floats(200.0, 8e3), st.floats(200.0, 8e3), st.floats(10.0, 4e3), FLOW)
def test_rating_keeps_the_heat(hot: float, cold: float, hot_capacity: float, cold_capacity: float, ua: float, flow: Flow) -> None:
    """Both streams carry the same heat, and neither crosses what the other came in with."""
    found = exchanger.rate(hot, cold, hot_capacity, cold_capacity, ua, flow)
    assert hot_capacity * (hot - found.coolant_out) == pytest.approx(found.heat)
    assert cold_capacity * (found.raw_out - cold) == pytest.approx(found.heat)
    assert cold <= found.coolant_out <= hot
    assert cold <= found.raw_out <= hot


# ------------------------------------------------------------------ from readings


@given(HOT, SEA, st.floats(1e-4, 2e-3), st.floats(2e-4, 2e-3), st.floats(50.0, 2000.0), LAYOUT, st.floats(0.0, 42.0))
def test_the_conductance_put_in_is_read_back(hot: float, sea: float, coolant_flow: float, raw_flow: float, ua: float, layout: Layout,
                                             salinity: float) -> None:
    """Outlets from a known conductance, then conductance from the four temperatures.

    The outlets take heat and density where each stream enters, the reading at the mean and at the outlet: 2.5 %.
    """
    found = exchanger.outlets(hot, sea, coolant_flow, raw_flow, ua, layout, *MIX, salinity)
    assume(found.effectiveness < 0.55)
    assume(found.raw_out < 75)
    back = exchanger.conductance(hot, found.coolant_out, sea, found.raw_out, raw_flow, salinity, layout)
    assert back == pytest.approx(ua, rel=0.025)


@given(HOT, st.floats(2.0, 15.0), SEA, st.floats(2.0, 20.0), LAYOUT)
def test_bucket_and_flow_tell_the_same(hot: float, drop: float, sea: float, rise: float, layout: Layout) -> None:
    """Ten litres in 25 seconds is 0.4 L/s; conductance is heat over mean difference; the figures without a flow agree."""
    found = exchanger.four_temperatures(hot, hot - drop, sea, sea + rise, 10e-3, 25.0, 35.0, layout, *MIX)
    alone = exchanger.temperatures(hot, hot - drop, sea, sea + rise, layout)
    ua = exchanger.conductance(hot, hot - drop, sea, sea + rise, BUCKET, 35.0, layout)
    assert found.raw_flow == pytest.approx(BUCKET)
    assert found.conductance == pytest.approx(ua)
    assert found.heat == pytest.approx(found.conductance * found.mean_difference)
    assert alone.ntu == pytest.approx(ua * rise / found.heat)
    assert found.effectiveness == pytest.approx(max(rise, drop) / (hot - sea))
    assert alone.flow_ratio == pytest.approx(drop / rise)
    assert (alone.approach, alone.terminal) == pytest.approx((hot - drop - sea, hot - sea - rise))


@given(HOT, st.floats(1.0, 15.0), SEA, st.floats(1.0, 20.0), LAYOUT, st.floats(1e-5, 0.04))
def test_conductance_goes_with_the_flow_caught(hot: float, drop: float, sea: float, rise: float, layout: Layout, flow: float) -> None:
    """Twice the bucket, twice the figure; none at all, none."""
    once = exchanger.conductance(hot, hot - drop, sea, sea + rise, flow, 35.0, layout)
    assert exchanger.conductance(hot, hot - drop, sea, sea + rise, 2 * flow, 35.0, layout) == pytest.approx(2 * once)
    assert exchanger.conductance(hot, hot - drop, sea, sea + rise, 0.0, 35.0, layout) == 0.0


@given(HOT, st.floats(-1.9, 12.0), SEA, st.floats(-1.9, 20.0), LAYOUT)
def test_slightly_noisy_readings_never_jump(hot: float, drop: float, sea: float, rise: float, layout: Layout) -> None:
    """Wherever the readings may be, a thousandth of a kelvin moves the figure by no more than 0.3 W/K, also where a drop turns round."""
    def figure(d: float, r: float) -> float:
        return exchanger.conductance(hot, hot - d, sea, sea + r, BUCKET, 35.0, layout)

    here = figure(drop, rise)
    assert here >= 0.0
    for moved in (figure(drop + 1e-3, rise), figure(drop - 1e-3, rise), figure(drop, rise + 1e-3), figure(drop, rise - 1e-3)):
        assert moved == pytest.approx(here, abs=0.3)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_coolant_that_hardly_cools_reads_on_smoothly(layout: Layout) -> None:
    """As the drop shrinks through nought the figure settles; a drop of -1 K of noise reads as none."""
    found = [exchanger.conductance(80.0, 80.0 - drop, 20.0, 32.0, BUCKET, 35.0, layout) for drop in (2.0, 1.0, 0.5, 0.1, 0.0, -1.0)]
    assert found == sorted(found, reverse=True)
    assert found[-1] == found[-2]
    assert found[0] == pytest.approx(found[-1], rel=0.03)


@pytest.mark.parametrize(("readings", "words"), [
    ((80.0, 74.0, 20.0, 80.5), "as warm as the coolant comes in"),
    ((80.0, 19.0, 20.0, 30.0), "as cold as the raw water comes in"),
    ((80.0, 83.0, 20.0, 30.0), "warmer than it came in"),
    ((80.0, 74.0, 20.0, 17.0), "colder than it came in"),
])
def test_readings_that_cannot_be_are_refused_in_plain_words(readings: tuple[float, float, float, float], words: str) -> None:
    """Each contradiction has its sentence, and a wide slack does not excuse the first two."""
    with pytest.raises(ValueError, match=words):
        exchanger.conductance(*readings, BUCKET)


def test_slack_is_what_noise_may_turn_round() -> None:
    """A drop of -3 K is refused at 2 K of slack and passes at 4."""
    with pytest.raises(ValueError, match="warmer than it came in"):
        exchanger.conductance(80.0, 83.0, 20.0, 30.0, BUCKET)
    assert exchanger.conductance(80.0, 83.0, 20.0, 30.0, BUCKET, slack=4.0) > 0


def test_a_person_is_told_when_a_stream_does_not_change() -> None:
    """The calculation asked for by hand wants a real drop and a real rise, and asks the likely question."""
    with pytest.raises(ValueError, match="thermostat shut"):
        exchanger.temperatures(80.0, 80.0, 20.0, 30.0, "counterflow")
    with pytest.raises(ValueError, match="wrong way round"):
        exchanger.four_temperatures(80.0, 75.0, 30.0, 20.0, 10e-3, 25.0, 35.0, "counterflow", *MIX)


def test_what_parallel_flow_cannot_do_is_refused() -> None:
    """In parallel flow the raw water cannot leave warmer than the coolant leaves; in counterflow it can."""
    assert exchanger.conductance(80.0, 40.0, 20.0, 45.0, BUCKET, 35.0, "counterflow") > 0
    with pytest.raises(ValueError, match="however large"):
        exchanger.conductance(80.0, 40.0, 20.0, 45.0, BUCKET, 35.0, "parallel")


@pytest.mark.parametrize(("name", "change"), [
    ("coolant in", {"coolant_in": 131.0}), ("raw in", {"raw_in": -3.0}), ("raw flow", {"raw_flow": -1e-6}),
    ("salinity", {"salinity": 43.0}),
    ("slack", {"slack": 11.0}), ("coolant out", {"coolant_out": math.nan})])
def test_each_reading_outside_its_range_is_refused_by_name(name: str, change: dict[str, float]) -> None:
    """One wrong value in each place."""
    good = {"coolant_in": 80.0, "coolant_out": 75.0, "raw_in": 20.0, "raw_out": 30.0, "raw_flow": BUCKET, "salinity": 35.0}
    with pytest.raises(OutOfRangeError, match=name):
        exchanger.conductance(**{**good, **change})  # type: ignore[arg-type]


def test_weak_water_and_scale_read_apart_without_a_flow() -> None:
    """Same heat from the engine: with half the raw water the rise and its share grow, with scale only the span does."""
    heat, hot_capacity, cold_capacity, ua = 20e3, 3400.0, 1700.0, 400.0

    def read(raw: float, clean: float) -> exchanger.Temperatures:
        share = exchanger.rate(100.0, 0.0, hot_capacity, raw * cold_capacity, clean * ua, "two-pass").heat / 100.0
        hot = 20.0 + heat / share
        return exchanger.temperatures(hot, hot - heat / hot_capacity, 20.0, 20.0 + heat / (raw * cold_capacity), "two-pass")

    well, weak, scaled = read(1.0, 1.0), read(0.6, 0.75), read(1.0, 0.75)
    assert weak.rise > 1.5 * well.rise
    assert weak.raw_share > well.raw_share
    assert weak.ntu > well.ntu
    assert weak.flow_ratio < 0.7 * well.flow_ratio
    assert scaled.rise == pytest.approx(well.rise)
    assert scaled.flow_ratio == pytest.approx(well.flow_ratio)
    assert scaled.raw_share < 0.9 * well.raw_share
    assert scaled.ntu == pytest.approx(0.75 * well.ntu)
    assert scaled.approach > well.approach + 5


# ------------------------------------------------------------------ clean and dirty


@given(st.floats(50.0, 1e4), st.floats(0.0, 5e-3))
def test_dirt_only_takes(clean: float, fouling: float) -> None:
    """Under the clean figure and under what the layer alone would pass; and what was laid on is found again."""
    dirty = exchanger.fouled(clean, fouling)
    assert dirty <= clean * (1 + 1e-12)
    assert dirty * fouling <= 1.0
    found = exchanger.cleanliness(dirty, clean, 1.0) if dirty >= 1.0 else None
    if found is not None:
        assert found.fouling == pytest.approx(fouling, abs=1e-9)
        assert found.resistance == pytest.approx(fouling, abs=1e-9)
        assert found.factor + found.lost == pytest.approx(1.0)


def test_without_an_area_there_is_no_square_metre() -> None:
    """The rest is told all the same; and twice the tubes make half the layer."""
    assert exchanger.cleanliness(340.0, 400.0).fouling is None
    assert exchanger.cleanliness(340.0, 400.0, 1.0).fouling == pytest.approx(1 / 340 - 1 / 400)
    assert exchanger.cleanliness(340.0, 400.0, 0.5).fouling == pytest.approx((1 / 340 - 1 / 400) / 2)


@given(st.floats(50.0, 5e3), st.floats(0.2, 5.0), st.floats(0.2, 5.0), st.floats(0.0, 1.0))
def test_clean_conductance_follows_its_flows(clean: float, raw: float, coolant: float, share: float) -> None:
    """Unchanged flows leave it; more flow on either side never makes it less; it lies between what each side alone would do."""
    found = exchanger.clean_at_flows(clean, raw, coolant, share)
    assert exchanger.clean_at_flows(clean, 1.0, 1.0, share) == pytest.approx(clean)
    assert exchanger.clean_at_flows(clean, raw * 1.1, coolant, share) >= found * (1 - 1e-12)
    assert exchanger.clean_at_flows(clean, raw, coolant * 1.1, share) >= found * (1 - 1e-12)
    low, high = sorted((raw**0.8, coolant**0.6))
    assert low * (1 - 1e-9) <= found / clean <= high * (1 + 1e-9)


@given(HOT, SEA, SEA, st.floats(0.2, 2.0), st.floats(85.0, 110.0))
def test_warmer_water_warms_the_coolant_by_as_much(hot: float, sea: float, then: float, load: float, limit: float) -> None:
    """Kelvin for kelvin at the same load; the margin is what is left to the limit."""
    same = exchanger.forecast(hot, sea, then, 1.0, limit)
    assert same.coolant_then - hot == pytest.approx(then - sea)
    found = exchanger.forecast(hot, sea, then, load, limit)
    assert found.coolant_then - then == pytest.approx(load * (hot - sea))
    assert found.margin == pytest.approx(limit - found.coolant_then)


def test_coolant_colder_than_the_sea_has_no_forecast() -> None:
    """A cold engine tells nothing."""
    with pytest.raises(ValueError, match="no warmer"):
        exchanger.forecast(18.0, 18.0, 25.0, 1.0, 95.0)
