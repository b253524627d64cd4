"""Acid baths: ranges, balances, direction, round trips."""

from __future__ import annotations

import math
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.measure import baths as b
from diagnose.measure.valid import OutOfRangeError

AIR = 101325.0
ACIDS = get_args(b.Acid)
SODAS = get_args(b.Soda)


@pytest.mark.parametrize(("call", "name"), [
    (lambda: b.molarity("citric", 1.2, 1100.0), "share"),
    (lambda: b.molarity("citric", 0.2, 1.1), "density"),
    (lambda: b.dilution_by_strength(0.0, 0.0, 1.0), "strong"),
    (lambda: b.dilution_by_strength(10.0, 1.0, 11.0), "volume"),
    (lambda: b.dilution_by_mass("citric", 1.0, 900.0, 0.5, 10.0), "wanted_share"),
    (lambda: b.scale_in_tubes(0.03, 0.1, 1.0, 1.0, 2300.0), "thickness"),
    (lambda: b.scale_in_tubes(0.001, 0.01, 1.0, 0.0, 2300.0), "tubes"),
    (lambda: b.scale_in_tubes(0.001, 0.01, 1.0, 1.0, 2.3), "density"),
    (lambda: b.carbon_dioxide(-0.1, 20.0, AIR), "scale"),
    (lambda: b.acid_for_scale("citric", 0.1, "clear", 1.0, -0.5, 20.0, AIR), "excess"),
    (lambda: b.neutraliser("citric", 0.0, 0.0, "bicarbonate", 20.0, AIR), "pure"),
    (lambda: b.charge_balance_ph((4.76,), 11.0, 0.0), "concentration"),
    (lambda: b.charge_balance_ph((4.76,), 0.1, 1.6), "base"),
    (lambda: b.bath_ph("citric", 400.0, 0.0), "strength"),
    (lambda: b.bath_ph("citric", 40.0, 0.0, 1.1), "shift"),
    (lambda: b.bath_used("citric", 10.0, 11.0), "ph"),
])
def test_what_is_out_of_range_is_refused_by_name(call: object, name: str) -> None:
    """A figure beyond what its formula holds for is refused, and the refusal names the very figure."""
    with pytest.raises(OutOfRangeError) as caught:
        call()  # type: ignore[operator]
    assert caught.value.name == name


@pytest.mark.parametrize("call", [
    lambda: b.molarity("vinegar", 0.2, 1000.0),  # type: ignore[arg-type]
    lambda: b.neutraliser("citric", 1.0, 0.0, "chalk", 20.0, AIR),  # type: ignore[arg-type]
    lambda: b.acid_per_scale("citric", "half"),  # type: ignore[arg-type]
])
def test_unknown_words_are_refused(call: object) -> None:
    """An acid, a soda or an end of the bath that the tables lack is refused, and nothing is taken for it."""
    with pytest.raises(ValueError, match=r"is not (one of|known)"):
        call()  # type: ignore[operator]


def test_water_makes_nothing_stronger() -> None:
    """A bath stronger than what is poured into it is refused, by strength and by mass."""
    with pytest.raises(ValueError, match="no water makes it so"):
        b.dilution_by_strength(1.0, 2.0, 1.0)
    with pytest.raises(ValueError, match="no water makes it so"):
        b.dilution_by_mass("citric", 0.1, 1000.0, 0.2, 10.0)


@given(strong=st.floats(0.5, 20.0), share=st.floats(0.01, 1.0), volume=st.floats(1e-4, 9.0))
def test_acid_is_kept_by_dilution(strong: float, share: float, volume: float) -> None:
    """The acid in the bath is the acid poured in, and the two volumes make up the bath."""
    found = b.dilution_by_strength(strong, strong * share, volume)
    assert found.strong * strong == pytest.approx(volume * strong * share)
    assert found.strong + found.water == pytest.approx(volume)


@given(sold=st.floats(0.31, 1.0), wanted=st.floats(0.001, 0.3), bath=st.floats(0.1, 1000.0))
def test_acid_is_kept_by_mass(sold: float, wanted: float, bath: float) -> None:
    """The same by mass, and the product's volume is its mass over its density."""
    found = b.dilution_by_mass("phosphoric", sold, 1500.0, wanted, bath)
    assert found.product * sold == pytest.approx(bath * wanted)
    assert found.product + found.water == pytest.approx(bath)
    assert found.product_volume == pytest.approx(found.product / 1500.0)


@given(thickness=st.floats(1e-4, 2.4e-3), tubes=st.integers(1, 100))
def test_scale_grows_with_the_crust_up_to_a_full_tube(thickness: float, tubes: int) -> None:
    """A thicker crust is always more scale, and never more than the tubes hold when full."""
    found = b.scale_in_tubes(thickness, 0.005, 0.3, tubes, 2300.0)
    full = 2300.0 * math.pi * 0.0025**2 * 0.3 * tubes
    assert found < b.scale_in_tubes(thickness + 1e-5, 0.005, 0.3, tubes, 2300.0) <= full * (1 + 1e-12)


def test_a_full_tube_is_the_limit() -> None:
    """A crust of half the bore fills the tube; a thicker one is refused."""
    assert b.scale_in_tubes(0.0025, 0.005, 1.0, 1.0, 2000.0) == pytest.approx(2000.0 * math.pi * 0.0025**2)
    with pytest.raises(ValueError, match="half the bore"):
        b.scale_in_tubes(0.0026, 0.005, 1.0, 1.0, 2000.0)


@given(acid=st.sampled_from(ACIDS), scale=st.floats(0.001, 100.0), sold=st.floats(0.05, 1.0), excess=st.floats(0.0, 2.0))
def test_product_holds_the_acid_and_what_is_to_spare(acid: b.Acid, scale: float, sold: float, excess: float) -> None:
    """What is weighed out holds the pure acid and the excess asked for; the gas is that of the scale alone."""
    found = b.acid_for_scale(acid, scale, "clear", sold, excess, 20.0, AIR)
    assert found.product * sold == pytest.approx(found.pure * (1.0 + excess))
    assert found.gas == b.carbon_dioxide(scale, 20.0, AIR)


@pytest.mark.parametrize("acid", ACIDS)
def test_the_clear_end_never_takes_less_acid(acid: b.Acid) -> None:
    """To keep the bath clear takes as much acid a gram of scale as to use it up, or more."""
    assert b.acid_per_scale(acid, "clear") >= b.acid_per_scale(acid, "spent")


@given(acid=st.sampled_from(ACIDS), soda=st.sampled_from(SODAS), pure=st.floats(0.01, 10.0), part=st.floats(0.0, 0.99))
def test_scale_takes_its_share_of_the_soda(acid: b.Acid, soda: b.Soda, pure: float, part: float) -> None:
    """Acid that scale has used up wants no soda: soda and gas fall with the strength left."""
    fresh = b.neutraliser(acid, pure, 0.0, soda, 20.0, AIR)
    lime = part * pure / b.acid_per_scale(acid, "clear")
    used = b.neutraliser(acid, pure, lime, soda, 20.0, AIR)
    assert fresh.strength_left == 1.0
    assert used.soda <= fresh.soda
    assert used.soda / fresh.soda == pytest.approx(used.strength_left)
    assert used.gas / fresh.gas == pytest.approx(used.strength_left)


def test_a_phosphoric_bath_at_its_clear_end_still_wants_half_the_soda() -> None:
    """One of the two protons that soda reaches has gone to the lime, and one is left."""
    lime = 1.0 / b.acid_per_scale("phosphoric", "clear")
    assert b.neutraliser("phosphoric", 1.0, lime, "bicarbonate", 20.0, AIR).strength_left == pytest.approx(0.5)


def test_hydrochloric_acid_that_met_its_match_wants_none() -> None:
    """Its only proton is gone at the clear end; more scale than that cannot have been dissolved, and is refused."""
    lime = 1.0 / b.acid_per_scale("hydrochloric", "clear")
    found = b.neutraliser("hydrochloric", 1.0, lime, "soda-ash", 20.0, AIR)
    assert found.soda == pytest.approx(0.0, abs=1e-12)
    with pytest.raises(ValueError, match="cannot have been dissolved"):
        b.neutraliser("hydrochloric", 1.0, 1.01 * lime, "soda-ash", 20.0, AIR)


def test_soda_does_twice_what_bicarbonate_does_a_mole_and_lets_off_half_the_gas() -> None:
    """Dry soda is the lightest of the three for one bath and crystals the heaviest; bicarbonate makes twice the gas."""
    soft, hard, wet = (b.neutraliser("citric", 1.0, 0.0, soda, 20.0, AIR) for soda in SODAS)
    assert hard.gas == pytest.approx(soft.gas / 2.0)
    assert wet.gas == pytest.approx(hard.gas)
    assert hard.soda < soft.soda < wet.soda


# ------------------------------------------------------------------ pH


@given(acid=st.sampled_from(ACIDS), strength=st.floats(0.1, 150.0), base=st.floats(0.0, 0.9))
def test_ph_falls_with_strength_and_rises_with_base(acid: b.Acid, strength: float, base: float) -> None:
    """A stronger bath shows a lower pH, one that has taken up lime a higher one, and a shift is only added."""
    assert b.bath_ph(acid, 1.5 * strength, 0.0) < b.bath_ph(acid, strength, 0.0)
    assert b.bath_ph(acid, strength, base + 0.05) > b.bath_ph(acid, strength, base)
    assert b.bath_ph(acid, strength, base, 0.2) == pytest.approx(b.bath_ph(acid, strength, base) + 0.2)


@given(acid=st.sampled_from(ACIDS), strength=st.floats(1.0, 200.0), base=st.floats(0.0, 0.95))
def test_use_of_a_bath_is_read_back_from_its_ph(acid: b.Acid, strength: float, base: float) -> None:
    """From the pH worked out for a share used, that share is found again."""
    ph = b.bath_ph(acid, strength, base)
    if ph >= 0.0:
        assert b.bath_used(acid, strength, ph).equivalents == pytest.approx(base, abs=1e-6)


@given(concentration=st.floats(1e-4, 2.0), base=st.floats(0.0, 3.0))
def test_charges_balance_at_the_ph_found(concentration: float, base: float) -> None:
    """At the pH found, hydrogen and base make up the charge of the three phosphate ions and the water's own."""
    constants = b.ACID_CONSTANTS["phosphoric"]
    h = 10.0 ** -b.charge_balance_ph(constants, concentration, base)
    k1, k2, k3 = (10.0**-pk for pk in constants)
    whole = h**3 + h**2 * k1 + h * k1 * k2 + k1 * k2 * k3
    charges = concentration * (h**2 * k1 + 2 * h * k1 * k2 + 3 * k1 * k2 * k3) / whole + 1e-14 / h
    assert h + base * concentration == pytest.approx(charges, rel=1e-6)


@pytest.mark.parametrize("acid", ACIDS)
def test_a_bath_used_up_goes_through_its_words(acid: b.Acid) -> None:
    """As the pH rises the words come in their order, each once, and none comes back."""
    seen = [b.bath_used(acid, 40.0, 0.2 + i * 0.005).verdict for i in range(1500)]
    met = [word for i, word in enumerate(seen) if i == 0 or word != seen[i - 1]]
    order = ["fresh", "working", "nearly used", "used"]
    assert met == [word for word in order if word in met]
    assert {"working", "nearly used"} <= set(met)
