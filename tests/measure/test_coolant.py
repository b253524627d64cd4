"""Antifreeze and water: ranges, directions over the whole range, turning round, and the sums of draining and filling."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from diagnose.measure import coolant, water
from diagnose.measure.constants import ATMOSPHERE
from diagnose.measure.coolant import Glycol
from diagnose.measure.valid import OutOfRangeError

KINDS: tuple[Glycol, ...] = ("ethylene", "propylene")
KIND = st.sampled_from(KINDS)
SHARE = st.floats(0.0, 0.56)
STRENGTH = st.floats(0.85, 1.0)
CELSIUS = st.floats(0.0, 99.0)
FROM_NOUGHT_TO_ONE = st.floats(0.0, 1.0)

every_kind = pytest.mark.parametrize("kind", KINDS)


# ------------------------------------------------------------------ shares


@given(KIND, FROM_NOUGHT_TO_ONE, STRENGTH)
def test_volume_and_mass_turn_each_other_round(kind: Glycol, share: float, strength: float) -> None:
    """From volume to mass and back is where one began."""
    assert coolant.share_of_mass(kind, coolant.mass_share(kind, share, strength), strength) == pytest.approx(share, abs=1e-12)


@given(KIND, st.floats(0.01, 0.99), STRENGTH)
def test_glycol_weighs_more_than_water(kind: Glycol, share: float, strength: float) -> None:
    """By mass there is more glycol than by volume, and never more than the concentrate holds."""
    by_mass = coolant.mass_share(kind, share, strength)
    assert share * strength < by_mass < coolant.mass_share(kind, 1.0, strength) <= 1.0


@pytest.mark.parametrize(("share", "strength"), [(-0.01, 0.95), (1.01, 0.95), (0.5, 0.79), (0.5, 1.01)])
def test_shares_that_cannot_be_are_refused(share: float, strength: float) -> None:
    """A share lies between none and all."""
    with pytest.raises(OutOfRangeError):
        coolant.mass_share("ethylene", share, strength)


# ------------------------------------------------------------------ freezing


@every_kind
def test_more_antifreeze_freezes_lower_over_the_whole_range(kind: Glycol) -> None:
    """From water to the end of the formula the freezing point falls with every step, from about 0 to about -50."""
    last = coolant.share_of_mass(kind, coolant.MASS_HIGH, 1.0)
    found = [coolant.freeze_point(kind, last * step / 200, 1.0) for step in range(201)]
    assert found == sorted(found, reverse=True)
    assert found[0] == pytest.approx(0.0, abs=0.03)
    assert -52 < found[-1] < -49


@given(KIND, st.floats(0.02, 0.56), STRENGTH)
def test_a_freezing_point_tells_the_share(kind: Glycol, share: float, strength: float) -> None:
    """From share to freezing point and back."""
    assert coolant.share_of_freeze_point(kind, coolant.freeze_point(kind, share, strength), strength) == pytest.approx(share, abs=1e-9)


@every_kind
def test_what_freezes_at_nought_is_water(kind: Glycol) -> None:
    """The fitted curve does not pass 0 exactly; a reading of 0 is plain water within a third of a percent."""
    assert coolant.share_of_freeze_point(kind, 0.0, 1.0) == pytest.approx(0.0, abs=0.003)


@every_kind
def test_too_strong_a_mix_is_refused_in_terms_of_its_concentrate(kind: Glycol) -> None:
    """Past 60 % of mass the formula is silent; the message speaks of the share that was given."""
    with pytest.raises(OutOfRangeError, match="share"):
        coolant.freeze_point(kind, 0.65, 1.0)
    with pytest.raises(OutOfRangeError, match="freezes"):
        coolant.share_of_freeze_point(kind, -60.0, 1.0)


@given(KIND, st.floats(0.05, 0.55), st.floats(0.85, 0.99))
def test_weaker_concentrate_protects_less(kind: Glycol, share: float, strength: float) -> None:
    """With less glycol in the can the same share freezes sooner and boils sooner."""
    assert coolant.freeze_point(kind, share, strength) > coolant.freeze_point(kind, share, 1.0)
    assert (coolant.boiling_point(kind, share, strength, ATMOSPHERE) < coolant.boiling_point(kind, share, 1.0, ATMOSPHERE))


# ------------------------------------------------------------------ boiling


@given(KIND, SHARE, STRENGTH, st.floats(0.0, 1.9e5), st.floats(6e4, 1.05e5))
def test_pressure_and_antifreeze_raise_the_boiling_point(kind: Glycol, share: float, strength: float, cap: float, air: float) -> None:
    """More cap, more antifreeze: later boiling; never under that of water in the open."""
    here = coolant.boiling_under_cap(kind, share, strength, cap, air)
    assert coolant.boiling_under_cap(kind, share, strength, cap + 5e3, air) > here
    assert coolant.boiling_under_cap(kind, share + 0.02, strength, cap, air) > here
    assert here >= water.saturation_temperature(air) - 1e-9


@given(SHARE, STRENGTH, st.floats(0.0, 1.9e5))
def test_no_antifreeze_boils_as_water(share: float, strength: float, cap: float) -> None:
    """With nothing in it the kind does not matter; with something ethylene, of lighter molecules, boils higher by the same volume."""
    for kind in KINDS:
        found = coolant.boiling_under_cap(kind, 0.0, strength, cap)
        assert found == pytest.approx(water.saturation_temperature(ATMOSPHERE + cap), abs=1e-9)
    if share > 0.01:
        ethylene, propylene = (coolant.boiling_under_cap(kind, share, strength, cap) for kind in KINDS)
        assert ethylene > propylene


@pytest.mark.parametrize(("share", "cap", "air"), [(0.72, 1e5, 1e5), (0.5, -1.0, 1e5), (0.5, 2.1e5, 1e5), (0.5, 1e5, 4e4)])
def test_boiling_outside_its_range_is_refused(share: float, cap: float, air: float) -> None:
    """Too strong a mix, suction, a cap no engine has, thin air."""
    with pytest.raises(OutOfRangeError):
        coolant.boiling_under_cap("ethylene", share, 1.0, cap, air)


@given(KIND, SHARE, STRENGTH, st.floats(1e3, 1.9e5), st.floats(20.0, 130.0))
def test_a_cap_is_worth_what_it_adds(kind: Glycol, share: float, strength: float, cap: float, hottest: float) -> None:
    """The two margins lie as far apart as the two boiling points, and the one without a cap is the smaller."""
    found = coolant.cap(kind, share, strength, cap, hottest)
    assert found.margin - found.margin_open == pytest.approx(found.boils - found.boils_open)
    assert found.margin_open < found.margin
    assert found.boils == pytest.approx(hottest + found.margin)


# ------------------------------------------------------------------ density and heat


@given(KIND, SHARE, STRENGTH, CELSIUS)
def test_density_and_heat_stay_within_bounds(kind: Glycol, share: float, strength: float, temperature: float) -> None:
    """Between water and the stronger mix: 950 to 1100 kg/m^3, 2900 to 4250 J/(kg K); warmer is lighter."""
    assume(temperature > 5.0)
    mass = coolant.density(kind, share, strength, temperature)
    assert 950 < mass < 1100
    assert 2900 < coolant.specific_heat(kind, share, strength, temperature) < 4250
    assert coolant.density(kind, share, strength, temperature - 5.0) > mass - 0.05


@given(KIND, st.floats(0.05, 0.54), STRENGTH, st.floats(0.0, 85.0))
def test_antifreeze_makes_heavier_and_takes_off_heat(kind: Glycol, share: float, strength: float, temperature: float) -> None:
    """Where the fits are sound each two percent more weigh more and carry less heat, in a cooling circuit's range."""
    assert coolant.density(kind, share + 0.02, strength, temperature) > coolant.density(kind, share, strength, temperature)
    assert coolant.specific_heat(kind, share + 0.02, strength, temperature) < coolant.specific_heat(kind, share, strength, temperature)


@pytest.mark.parametrize("temperature", [-25.0, 100.5])
def test_frozen_or_too_hot_a_mix_is_refused(temperature: float) -> None:
    """At 30 % ethylene ice forms near -15; above 100 the fit ends."""
    with pytest.raises(OutOfRangeError, match="temperature"):
        coolant.density("ethylene", 0.3, 0.95, temperature)
    with pytest.raises(OutOfRangeError, match="temperature"):
        coolant.specific_heat("ethylene", 0.3, 0.95, temperature)


def test_a_mix_may_be_colder_than_ice() -> None:
    """Half ethylene glycol at -25 is liquid."""
    assert 1070 < coolant.density("ethylene", 0.5, 0.95, -25.0) < 1100


@given(KIND, SHARE, STRENGTH, st.floats(10.0, 60.0), st.floats(10.0, 39.0), st.floats(1e-3, 0.05))
def test_coolant_grows_as_it_warms(kind: Glycol, share: float, strength: float, cold: float, more: float, volume: float) -> None:
    """In step with its volume, under a fifteenth in all; a good share of antifreeze grows more than water; no warming, no growth."""
    grown = coolant.expansion(kind, share, strength, volume, cold, cold + more)
    assert 0.0 < grown < volume / 15
    assert coolant.expansion(kind, share, strength, 2 * volume, cold, cold + more) == pytest.approx(2 * grown)
    if share > 0.25:
        assert coolant.expansion(kind, 0.0, strength, volume, cold, cold + more) < grown
    assert coolant.expansion(kind, share, strength, volume, cold, cold) == 0.0


def test_coolant_that_cools_is_no_expansion() -> None:
    """The hot temperature comes last."""
    with pytest.raises(ValueError, match="under the cold one"):
        coolant.expansion("ethylene", 0.5, 0.95, 6e-3, 80.0, 20.0)


# ------------------------------------------------------------------ drain and replace


@given(st.floats(1e-3, 0.05), st.floats(0.1, 1.0), FROM_NOUGHT_TO_ONE, FROM_NOUGHT_TO_ONE, FROM_NOUGHT_TO_ONE)
def test_doing_what_is_said_brings_the_mix_that_is_wanted(volume: float, part: float, now: float, wanted: float, added: float) -> None:
    """Followed litre by litre, whole goes and then the last one, the circuit ends at the share that was wanted."""
    try:
        plan = coolant.replace(volume, part * volume, now, wanted, added)
    except OutOfRangeError:
        raise
    except ValueError:
        assume(False)
        return
    share, goes = now, int(plan.rounds)
    assert plan.drain == plan.fill
    assert plan.drain <= part * volume * (1 + 1e-9)
    assert plan.last <= part * volume * (1 + 1e-6)
    for go in range(goes):
        out = plan.last if go == goes - 1 else plan.drain
        share += (added - share) * out / volume
        if go == 0:
            assert share == pytest.approx(plan.reach, abs=1e-9)
    assert share == pytest.approx(wanted, abs=1e-6)


@given(st.floats(1e-3, 0.05), st.floats(0.2, 1.0), st.floats(0.0, 0.4), st.floats(0.45, 0.6))
def test_litres_scale_with_the_circuit(volume: float, part: float, now: float, wanted: float) -> None:
    """Twice the circuit, twice the litres, as many goes."""
    one = coolant.replace(volume, part * volume, now, wanted, 1.0)
    two = coolant.replace(2 * volume, 2 * part * volume, now, wanted, 1.0)
    assert two.drain == pytest.approx(2 * one.drain)
    assert two.rounds == one.rounds
    assert two.last == pytest.approx(2 * one.last, rel=1e-6)


@pytest.mark.parametrize(("volume", "drains", "now", "wanted", "added", "drain", "reach", "rounds", "last"), [
    (6e-3, 4e-3, 0.2, 0.5, 1.0, 2.25e-3, 0.5, 1, 2.25e-3),  # 6 x 30 / 80
    (6e-3, 1e-3, 0.2, 0.5, 1.0, 1e-3, 1 / 3, 3, 0.6e-3),  # .8 x 5/6 x 5/6 = .5556, then .5 of it
    (10e-3, 8e-3, 0.7, 0.5, 0.0, 20e-3 / 7, 0.5, 1, 20e-3 / 7),  # thinner, with water
    (8e-3, 8e-3, 0.1, 0.5, 0.5, 8e-3, 0.5, 1, 8e-3),  # all out, ready mix in
    (8e-3, 2e-3, 0.4, 0.4, 1.0, 0.0, 0.4, 0, 0.0),  # nothing to do
])
def test_draining_by_hand(volume: float, drains: float, now: float, wanted: float, added: float, drain: float, reach: float, rounds: int,
                          last: float) -> None:
    """Sums done by hand."""
    assert coolant.replace(volume, drains, now, wanted, added) == pytest.approx((drain, drain, reach, rounds, last))


@pytest.mark.parametrize(("now", "wanted", "added"), [(0.2, 0.5, 0.4), (0.2, 0.5, 0.0), (0.5, 0.2, 1.0), (0.3, 0.5, 0.3), (0.2, 0.5, 0.2)])
def test_what_cannot_be_reached_is_refused(now: float, wanted: float, added: float) -> None:
    """Water makes nothing stronger, concentrate nothing thinner, and a thin mix stops short."""
    with pytest.raises(ValueError, match="cannot bring"):
        coolant.replace(6e-3, 4e-3, now, wanted, added)


def test_the_very_mix_filled_in_never_quite_gets_there() -> None:
    """Filling in just what is wanted works only where everything runs out."""
    with pytest.raises(ValueError, match="what stays in the circuit"):
        coolant.replace(6e-3, 4e-3, 0.2, 0.5, 0.5)


@pytest.mark.parametrize(("volume", "drains"), [(0.0, 0.0), (6e-3, 7e-3), (6e-3, 0.0), (math.inf, 1e-3)])
def test_volumes_that_cannot_be_are_refused(volume: float, drains: float) -> None:
    """No circuit, more out than is in, or nothing that runs out."""
    with pytest.raises(OutOfRangeError):
        coolant.replace(volume, drains, 0.2, 0.5, 1.0)


# ------------------------------------------------------------------ several figures together


@given(KIND, st.floats(0.05, 0.56), STRENGTH)
def test_what_a_tester_reads_and_what_the_mix_does_agree(kind: Glycol, share: float, strength: float) -> None:
    """The mix read from its freezing point boils where that share boils."""
    known = coolant.freeze_and_boil(kind, share, strength)
    read = coolant.mix_of_freeze_point(kind, known.freezes, strength)
    assert read.share == pytest.approx(share, abs=1e-9)
    assert read.boils == pytest.approx(known.boils, abs=1e-6)
    assert known.by_mass == coolant.mass_share(kind, share, strength)
