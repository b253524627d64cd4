"""Antifreeze against SAE J814, Lange's handbook and CoolProp."""

from __future__ import annotations

from typing import Any

import pytest

from diagnose.measure import coolant
from diagnose.measure.coolant import Glycol

LIQUIDS: tuple[tuple[Glycol, str], ...] = (("ethylene", "MEG"), ("propylene", "MPG"))
PSI = 6894.757
MADE_UP = 0.95
"""Glycol in commercial ethylene concentrate by volume: what its table implies, and within the few percent of water and inhibitors
that such concentrates are allowed (memory: ASTM D3306)."""


@pytest.fixture(scope="module")
def cool() -> Any:
    """CoolProp, where it is installed."""
    return pytest.importorskip("CoolProp.CoolProp")


@pytest.mark.parametrize(("share", "freezes", "boils"), [(0.4, -24, 106), (0.5, -37, 108), (0.6, -52, 111)])
def test_ethylene_table_of_sae(share: float, freezes: float, boils: float) -> None:
    """SAE J814_202305, commercial ethylene concentrate by volume, read through an open reproduction; whole degrees.

    Pure glycol at 50 % would freeze at -39.8; with 95 % in the concentrate the curve is within 1.5 K, a degree or so of share.
    """
    found = coolant.freeze_and_boil("ethylene", share, MADE_UP)
    assert found.freezes == pytest.approx(freezes, abs=1.5)
    assert found.boils == pytest.approx(boils, abs=1.0)


def test_strong_ethylene_boils_as_sae_says() -> None:
    """SAE J814: 70 % boils at 114 deg C. Raoult's law reads half a kelvin high with concentrate, 2.5 with pure glycol."""
    assert coolant.boiling_point("ethylene", 0.7, MADE_UP, 101325.0) == pytest.approx(114, abs=1.0)


@pytest.mark.parametrize(("share", "freezes", "boils"), [(0.4, -21, 104), (0.5, -33, 106)])
def test_propylene_table_of_sae(share: float, freezes: float, boils: float) -> None:
    """SAE J814_202305, propylene by volume: the table is met by pure glycol, within a kelvin."""
    found = coolant.freeze_and_boil("propylene", share, 1.0)
    assert found.freezes == pytest.approx(freezes, abs=1.0)
    assert found.boils == pytest.approx(boils, abs=0.5)


@pytest.mark.parametrize(("share", "freezes"), [
    (0.10, -2.2), (0.20, -6.7), (0.25, -8.9), (0.30, -12.8), (0.35, -16.1), (0.40, -20.6), (0.45, -26.7), (0.50, -33.3)])
def test_propylene_table_of_lange(share: float, freezes: float) -> None:
    """Lange's Handbook, 15th edition, table 5.13: propylene glycol by volume.

    It steps in whole degrees Fahrenheit (half of 0.56 K) and differs from the fluids of CoolProp by up to 0.9 K; near 25 % by 1.3.
    """
    assert coolant.freeze_point("propylene", share, 1.0) == pytest.approx(freezes, abs=1.4)


@pytest.mark.parametrize(("share", "freezes"), [(0.2, -7.5), (0.3, -13.3), (0.4, -21.4), (0.5, -33.6)])
def test_propylene_freezing_by_volume(share: float, freezes: float) -> None:
    """CoolProp's MPG, volume turned to mass at 20 deg C outside this project: last printed digit."""
    assert coolant.freeze_point("propylene", share, 1.0) == pytest.approx(freezes, abs=0.06)


@pytest.mark.parametrize(("share", "by_mass", "freezes"), [
    (0.20, 0.218, -9.0), (0.25, 0.271, -12.4), (0.30, 0.323, -16.5), (0.33, 0.355, -19.3), (0.40, 0.426, -26.7), (0.50, 0.527, -39.8)])
def test_ethylene_freezing_by_volume_and_mass(share: float, by_mass: float, freezes: float) -> None:
    """CoolProp's MEG, volume turned to mass at 20 deg C outside this project: last printed digit."""
    assert coolant.mass_share("ethylene", share, 1.0) == pytest.approx(by_mass, abs=6e-4)
    assert coolant.freeze_point("ethylene", share, 1.0) == pytest.approx(freezes, abs=0.06)


@pytest.mark.parametrize(("by_mass", "freezes"), [(0.1, -3.36), (0.2, -7.95), (0.3, -14.58), (0.4, -23.81), (0.5, -35.99), (0.6, -51.20)])
def test_ethylene_freezing_by_mass(by_mass: float, freezes: float) -> None:
    """CoolProp's MEG by mass: last printed digit."""
    share = coolant.share_of_mass("ethylene", by_mass, 1.0)
    assert coolant.freeze_point("ethylene", share, 1.0) == pytest.approx(freezes, abs=0.006)


@pytest.mark.parametrize(("kind", "share", "boils"), [
    ("ethylene", 0.4, 105.5), ("ethylene", 0.5, 108.0), ("ethylene", 0.6, 111.5), ("propylene", 0.4, 104.3), ("propylene", 0.5, 106.3),
    ("propylene", 0.6, 109.0)])
def test_boiling_by_the_law_of_raoult(kind: Glycol, share: float, boils: float) -> None:
    """Worked with iapws's saturation line and the densities of the pure glycols outside this project: last printed digit."""
    assert coolant.boiling_point(kind, share, 1.0, 101325.0) == pytest.approx(boils, abs=0.06)


@pytest.mark.parametrize(("psi", "boils"), [(15, 130.1), (13, 127.8), (7, 119.9)])
def test_half_and_half_under_a_cap(psi: float, boils: float) -> None:
    """The same under a cap, and for 15 psi the trade figure of 265 deg F (129.4 deg C, common practice) within a kelvin."""
    found = coolant.boiling_under_cap("ethylene", 0.5, 1.0, psi * PSI)
    assert found == pytest.approx(boils, abs=0.06)
    if psi == 15:
        assert found == pytest.approx((265 - 32) / 1.8, abs=1.0)


@pytest.mark.parametrize(("temperature", "heat", "mass"), [(20, 3312, 1064.9), (80, 3582, 1026.4), (90, 3616, 1019.0)])
def test_heat_and_density_of_half_ethylene_by_mass(temperature: float, heat: float, mass: float) -> None:
    """CoolProp's MEG at 50 % of mass: last printed digit."""
    share = coolant.share_of_mass("ethylene", 0.5, 1.0)
    assert coolant.specific_heat("ethylene", share, 1.0, temperature) == pytest.approx(heat, abs=0.6)
    assert coolant.density("ethylene", share, 1.0, temperature) == pytest.approx(mass, abs=0.06)


@pytest.mark.parametrize(("kind", "fluid"), LIQUIDS)
def test_the_whole_range_against_coolprop(cool: Any, kind: Glycol, fluid: str) -> None:
    """Freezing, density and specific heat, 2 to 59 % of mass and from just over freezing to 99 deg C: the same polynomials.

    So this checks that they were written down right (to a part in a million); that they are true is checked by the tables above.
    """
    for percent in (2, 10, 20, 30, 40, 50, 59):
        by_mass = percent / 100
        share, name = coolant.share_of_mass(kind, by_mass, 0.9), f"INCOMP::{fluid}[{by_mass}]"
        freezes = cool.PropsSI("T_freeze", "T", 300, "P", 1e6, name) - 273.15
        assert coolant.freeze_point(kind, share, 0.9) == pytest.approx(freezes, abs=1e-5)
        for step in range(6):
            temperature = freezes + 1 + (98 - freezes) * step / 5
            at = ("T", temperature + 273.15, "P", 1e6, name)
            assert coolant.density(kind, share, 0.9, temperature) == pytest.approx(cool.PropsSI("D", *at), rel=1e-6)
            assert coolant.specific_heat(kind, share, 0.9, temperature) == pytest.approx(cool.PropsSI("C", *at), rel=1e-6)


@pytest.mark.parametrize("kind", ["ethylene", "propylene"])
def test_no_antifreeze_is_water(cool: Any, kind: Glycol) -> None:
    """At share nought the fits must be water (IAPWS-95 through CoolProp): within 0.1 % of density and 0.3 % of specific heat."""
    for temperature in range(2, 99, 8):
        at = ("T", temperature + 273.15, "P", 101325, "Water")
        assert coolant.density(kind, 0.0, 1.0, temperature) == pytest.approx(cool.PropsSI("D", *at), rel=1e-3)
        assert coolant.specific_heat(kind, 0.0, 1.0, temperature) == pytest.approx(cool.PropsSI("C", *at), rel=3e-3)


def test_coolant_grows_by_a_twentieth() -> None:
    """CoolProp's MEG at 50 % of mass: 1064.9 kg/m^3 at 20, 1019.0 at 90 deg C; plain water 998.207 and 965.31: by hand 4.50 and 3.41 %."""
    share = coolant.share_of_mass("ethylene", 0.5, 1.0)
    assert coolant.expansion("ethylene", share, 1.0, 6e-3, 20.0, 90.0) == pytest.approx(6e-3 * (1064.9 / 1019.0 - 1), rel=2e-3)
    water = coolant.expansion("ethylene", 0.0, 1.0, 6e-3, 20.0, 90.0)
    assert water == pytest.approx(6e-3 * (998.207 / 965.31 - 1), rel=0.02)  # two densities of the fit, each within 0.1 %


def test_dilution_as_a_chemist_does_it() -> None:
    """Chang, Chemistry, example 4.8: 500 mL of 1.75 molar from 8.61 molar take 102 mL of it (through a companion).

    The same sum as filling a circuit of plain water to 1.75/8.61 with concentrate.
    """
    assert coolant.replace(500e-6, 500e-6, 0.0, 1.75 / 8.61, 1.0).drain == pytest.approx(102e-6, abs=0.5e-6)
