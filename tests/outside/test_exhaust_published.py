"""Exhaust and carbon monoxide against published limits and conversions."""

from __future__ import annotations

import math
from typing import Any

import pytest

from diagnose.measure import exhaust

AIR = 101325.0
PSI, INCH_OF_MERCURY = 6894.757, 3386.389  # NIST SP 811 appendix B
INCH, FOOT = 0.0254, 0.3048
GALLON = 3.785411784e-3


# --- back pressure -------------------------------------------------------------------------------------------------------------


def test_units_of_back_pressure() -> None:
    """scipy.constants: 3 inches of mercury are 10.16 kPa and 40.8 inches of water.

    A maker's technical data print 39 inches of water beside 3 of mercury, and 19.5 beside 1.5: 4 per cent too little. Gerr prints 40 mm
    beside 2.0 inches, which are 51.
    """
    constants = pytest.importorskip("scipy.constants")
    inch_of_mercury = 25.4 * constants.mmHg
    assert exhaust.column_back_pressure(3 * INCH, 13595.1) == pytest.approx(3 * inch_of_mercury, rel=1e-5)
    assert exhaust.column_back_pressure(40.8 * INCH, 1000.0) == pytest.approx(3 * inch_of_mercury, rel=1e-3)
    assert exhaust.column_back_pressure(39.0 * INCH, 1000.0) == pytest.approx(0.956 * 3 * inch_of_mercury, rel=1e-3)
    assert exhaust.column_back_pressure(0.051, 13595.1) == pytest.approx(2.0 * inch_of_mercury, rel=5e-3)


@pytest.mark.parametrize(("pascals", "engine", "said"), [
    (2.5 * INCH_OF_MERCURY, "natural", "Gerr chapter 7"), (1.5 * PSI, "natural", "a maker's technical data page 11"),
    (2.0 * INCH_OF_MERCURY, "turbo", "Gerr chapter 7"), (0.75 * PSI, "turbo", "a maker's technical data page 11"),
    (10e3, "natural", "another maker, TPD1317e page 20"), (10e3, "turbo", "another maker, TPD1317e page 20"),
    (15e3, "natural", "another maker, TPD1317e page 20"), (15e3, "turbo", "another maker, N40475 page 12"),
])
def test_published_limits_lie_between_the_ends_kept(pascals: float, engine: Any, said: str) -> None:
    """Every published limit lies within strictest and loosest, so a pressure at it is never called over all limits."""
    found = exhaust.back_pressure(pascals, engine, None)
    assert found.strictest * (1 - 1e-3) <= pascals <= found.loosest, said
    assert found.word != "over all limits"


def test_ends_of_the_published_limits() -> None:
    """Natural: 2.5 inches of mercury, 8.47 kPa (Gerr). Turbo: 0.75 psi, 5.17 kPa (a maker). Both: 15 kPa (another maker)."""
    natural, turbo = exhaust.back_pressure(0.0, "natural", None), exhaust.back_pressure(0.0, "turbo", None)
    assert natural.strictest == pytest.approx(2.5 * INCH_OF_MERCURY, rel=1e-3)
    assert turbo.strictest == pytest.approx(0.75 * PSI, rel=1e-3)
    assert (natural.loosest, turbo.loosest) == (15e3, 15e3)
    assert exhaust.back_pressure(15.1e3, "natural", None).word == exhaust.back_pressure(15.1e3, "turbo", None).word == "over all limits"


def test_wet_bore_of_the_handbook() -> None:
    """Gerr chapter 7: wet about 1.4 times dry, for a wet exhaust has about twice the back pressure at one bore.

    A 50 mm dry exhaust asks for 70 mm. The area is then 1.96, about twice.
    """
    assert exhaust.wet_bore(0.050) == pytest.approx(0.070)
    assert (exhaust.wet_bore(0.050) / 0.050) ** 2 == pytest.approx(2.0, rel=0.03)


# --- heights and heel ----------------------------------------------------------------------------------------------------------


def test_heel_of_twenty_degrees() -> None:
    """A marine mechanic's page: 12 inches off the centreline, 20 degrees of heel, raised or lowered by 4 inches (4.1 by the sine)."""
    assert -exhaust.height_heeled(0.0, 12 * INCH, 20.0) / INCH == pytest.approx(4.0, abs=0.15)


@pytest.mark.parametrize(("millimetres", "word"), [
    (199.0, "too low by both"), (200.0, "enough for one source, too low for the other"),
    (304.0, "enough for one source, too low for the other"), (305.0, "high enough by both"),
])
def test_published_riser_heights(millimetres: float, word: str) -> None:
    """305 mm in Professional BoatBuilder, December 2017 and January 2018; 200 mm in a maker's (TPD1317e page 20, N40475 page 12)."""
    assert exhaust.riser_check(millimetres / 1e3, 0.0, 0.0).upright_word == word


def test_heeled_riser_against_rotation() -> None:
    """The turning of a point about the origin, by complex numbers of the standard library: the height is what is left of it."""
    for height in (-0.2, 0.0, 0.3, 0.8):
        for offset in (0.0, 0.2, 1.0):
            for heel in range(0, 61, 5):
                turned = complex(offset, height) * complex(math.cos(math.radians(heel)), -math.sin(math.radians(heel)))
                assert exhaust.height_heeled(height, offset, float(heel)) == pytest.approx(turned.imag, abs=1e-12)


def test_falls_of_the_trade() -> None:
    """Half an inch a foot: 41.5 mm a metre (Gerr, 41.7 by arithmetic), printed as 2 degrees in Professional BoatBuilder, really 2.4.

    Two degrees are 10.6 mm a foot; the two figures printed side by side differ by a fifth.
    """
    found = exhaust.fall_of_run(0.5 * INCH, FOOT)
    assert found.slope * 1e3 == pytest.approx(41.5, abs=0.2)
    assert found.angle == pytest.approx(2.386, abs=1e-3)
    assert exhaust.fall_of_run(10.644e-3, FOOT).angle == pytest.approx(2.0, abs=1e-3)


@pytest.mark.parametrize(("degrees", "word"), [
    (1.9, "too flat by both"), (2.1, "enough for one source, too flat for the other"),
    (4.9, "enough for one source, too flat for the other"), (5.1, "steep enough by both"),
])
def test_published_falls(degrees: float, word: str) -> None:
    """2 degrees in Professional BoatBuilder, 5 on average in a maker's manual (N40475 page 12)."""
    assert exhaust.fall_of_run(math.tan(math.radians(degrees)), 1.0).word == word


# --- water that runs back ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("inches", "gallons"), [(1.5, 0.092), (2.0, 0.16)])
def test_water_in_a_foot_of_hose(inches: float, gallons: float) -> None:
    """An owners' forum: a foot of 1.5 inch hose holds 0.092 gallons, of 2 inch 0.16. Two figures as printed."""
    assert exhaust.standing_water(inches * INCH, FOOT) / GALLON == pytest.approx(gallons, rel=0.025)


def test_water_against_a_library_of_pipes() -> None:
    """An upright flat-ended tank of `fluids.geometry`, full, holds the water of the hose."""
    geometry = pytest.importorskip("fluids.geometry")
    for bore in (0.03, 0.05, 0.1):
        for length in (0.3, 1.0, 4.0):
            tank = geometry.TANK(D=bore, L=length, horizontal=False)
            assert exhaust.standing_water(bore, length) == pytest.approx(tank.V_total, rel=1e-9)


@pytest.mark.parametrize(("times", "word"), [(2.9, "small"), (3.1, "enough"), (0.9, "too small")])
def test_three_times_the_riser(times: float, word: str) -> None:
    """A maker's installation manuals (N38143 pages 4 and 5, N40475 page 12): the box at least three times the water in the riser."""
    water = math.pi / 4 * 0.05**2 * 1.2
    assert exhaust.lift_box(0.05, 1.2, times * water).word == word
    assert exhaust.lift_box(0.05, 1.2, times * water).times == pytest.approx(times)


def test_a_minute_of_cranking() -> None:
    """A maker's manual (N38143 page 5) shuts the seacock when she is cranked for more than a minute.

    40 mL a turn at 250 revs a minute is 10 L in that minute (hand sum): more than most boxes of small engines hold.
    """
    assert exhaust.cranking_time(10e-3, 40e-6, 1.0, 250.0 / 60.0, 1.0) == pytest.approx(60.0)


# --- carbon monoxide -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("ppm", "milligrams"), [(25.0, 29.0), (35.0, 40.0), (200.0, 229.0)])
def test_pairs_printed_by_the_safety_office(ppm: float, milligrams: float) -> None:
    """OSHA chemical sampling page: 25 ppm is 29, 35 is 40, 200 is 229 mg/m3, at 25 degrees. Printed to the milligram."""
    assert exhaust.concentration_of_share(ppm * 1e-6, 25.0, AIR) * 1e6 == pytest.approx(milligrams, abs=0.6)


def test_one_part_in_a_million() -> None:
    """A compilation of carbon monoxide limits: 1 ppm = 1.145 mg/m3, 1 mg/m3 = 0.873 ppm at 25 degrees. Four and three figures."""
    assert exhaust.concentration_of_share(1e-6, 25.0, AIR) * 1e6 == pytest.approx(1.145, abs=5e-4)
    assert exhaust.share_of_concentration(1e-6, 25.0, AIR) * 1e6 == pytest.approx(0.873, abs=5e-4)


def test_mass_against_a_gas_of_a_library() -> None:
    """CoolProp's carbon monoxide at the share of the pressure: at these shares it is ideal to 1e-5."""
    coolprop = pytest.importorskip("CoolProp.CoolProp")
    for ppm in (10.0, 100.0, 5000.0):
        for temperature in (-10.0, 25.0, 50.0):
            dense = coolprop.PropsSI("D", "T", temperature + 273.15, "P", ppm * 1e-6 * AIR, "CarbonMonoxide")
            assert exhaust.concentration_of_share(ppm * 1e-6, temperature, AIR) == pytest.approx(dense, rel=1e-4)


@pytest.mark.parametrize(("milligrams", "ppm", "minutes"), [(100.0, 90.0, 15.0), (60.0, 50.0, 30.0), (30.0, 25.0, 60.0),
    (10.0, 10.0, 480.0)])
def test_rows_of_the_health_organisation(milligrams: float, ppm: float, minutes: float) -> None:
    """WHO Air Quality Guidelines for Europe, second edition: mg/m3, ppm and minutes as tabled.

    The ppm are rounded in the table: by the gas law 100 mg/m3 are 87.3, 60 are 52.4, 30 are 26.2 and 10 are 8.7, so up to 15 per
    cent either way.
    """
    assert exhaust.carbon_monoxide(ppm * 1e-6, minutes * 60.0, 25.0, AIR).allowed == minutes * 60.0
    assert exhaust.share_of_concentration(milligrams * 1e-6, 25.0, AIR) * 1e6 == pytest.approx(ppm, rel=0.15)


def test_misprints_of_milligrams_as_parts() -> None:
    """WHO 2010 (memory) gives 7 and 35 mg/m3, which pages print as 7 and 35 ppm; they are 6.1 and 30.6 ppm."""
    assert exhaust.share_of_concentration(7e-6, 25.0, AIR) * 1e6 == pytest.approx(6.1, abs=0.05)
    assert exhaust.share_of_concentration(35e-6, 25.0, AIR) * 1e6 == pytest.approx(30.6, abs=0.05)


@pytest.mark.parametrize(("ppm", "word"), [(200.0, "out at once"), (1199.0, "out at once"), (1200.0, "danger to life, out at once")])
def test_ceiling_and_danger_at_once(ppm: float, word: str) -> None:
    """NIOSH: 200 ppm ceiling (OSHA's page and the 1972 criteria); 1200 ppm immediately dangerous (a meter's manual)."""
    assert exhaust.carbon_monoxide(ppm * 1e-6, 0.0, 25.0, AIR).word == word


@pytest.mark.parametrize(("ppm", "minutes"), [(300.0, 3.0), (100.0, 40.0), (50.0, 90.0)])
def test_when_an_alarm_must_sound_people_should_be_out(ppm: float, minutes: float) -> None:
    """EN 50291 (a maker's summary): an alarm sounds within 3 minutes at 300 ppm, 40 at 100, 90 at 50.

    By the WHO's times it is late at each: the words must already send people out.
    """
    assert "out" in exhaust.carbon_monoxide(ppm * 1e-6, minutes * 60.0, 25.0, AIR).word
    assert exhaust.carbon_monoxide(ppm * 1e-6, minutes * 60.0, 25.0, AIR).word != "within the limits, find where it comes from"


@pytest.mark.parametrize("ppm", [35.0, 50.0])
def test_workplace_limits_are_looser(ppm: float) -> None:
    """NIOSH 35 and OSHA 50 ppm are for a shift of eight hours; by the WHO's table so much is too long for a shift."""
    assert exhaust.carbon_monoxide(ppm * 1e-6, 8 * 3600.0, 25.0, AIR).word == "too long, out into fresh air"
