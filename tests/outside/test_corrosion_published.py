"""Potentials, anodes and stray currents against published tables, standards as quoted, and textbook examples."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.measure import corrosion as c
from diagnose.measure.electrolysis import metal_charge, metal_mass

YEAR = 365.25 * 86400.0
AMPERE_HOUR = 3600.0

# Professional BoatBuilder 100 (April/May 2006) through kiwiprops.co.nz, V on silver/silver chloride.
BOATBUILDER = {
    "magnesium": (-1.65, -1.60), "zinc": (-1.03, -0.98), "aluminium": (-1.00, -0.76), "steel": (-0.71, -0.60),
    "stainless-active": (-0.54, -0.43), "aluminium-bronze": (-0.42, -0.31), "brass": (-0.40, -0.30), "copper": (-0.57, -0.30),
    "manganese-bronze": (-0.34, -0.27), "silicon-bronze": (-0.29, -0.26), "tin-bronze": (-0.31, -0.24),
}
# Australasian Corrosion Association, flowing sea water, V on saturated calomel.
ASSOCIATION = {
    "magnesium": (-1.63, -1.60), "zinc": (-1.03, -0.98), "aluminium": (-1.00, -0.76), "steel": (-0.72, -0.60),
    "stainless-active": (-0.58, -0.44), "stainless-passive": (-0.10, 0.0), "aluminium-bronze": (-0.40, -0.31),
    "nickel-aluminium-bronze": (-0.22, -0.14), "brass": (-0.40, -0.31), "copper": (-0.37, -0.30), "manganese-bronze": (-0.34, -0.26),
    "silicon-bronze": (-0.29, -0.25), "tin-bronze": (-0.32, -0.24), "copper-nickel": (-0.28, -0.22), "nickel-copper": (-0.14, -0.03),
    "titanium": (0.04, 0.06), "graphite": (0.2, 0.3),
}
# The Masthead 16 (December 2010) and a copy of the same chart at docslib.org, mV on silver/silver chloride.
MASTHEAD = {"magnesium": -1670, "zinc": -1050, "aluminium": -820, "steel": -790, "stainless-active": -550, "brass": -450,
            "manganese-bronze": -450, "silicon-bronze": -260}
# ASM Handbook volume 13 page 675 as copied on the web, flowing sea water, V on saturated calomel.
ASM = {"zinc": -1.03, "aluminium": -0.79, "steel": -0.61, "stainless-active": -0.53, "stainless-passive": -0.05,
       "brass": -0.40, "copper": -0.36, "copper-nickel": -0.25, "nickel-copper": -0.08, "tin-bronze": -0.31}


@pytest.mark.parametrize("metal", sorted(BOATBUILDER))
def test_series_of_professional_boatbuilder(metal: c.Fitting) -> None:
    """Every published range lies whole within the range kept: no table is dropped for another. Exact to round-off."""
    found = c.metal_reading(metal, -0.5)
    assert found.low <= BOATBUILDER[metal][0] + 1e-9
    assert found.high >= BOATBUILDER[metal][1] - 1e-9


@pytest.mark.parametrize("metal", sorted(ASSOCIATION))
def test_series_of_the_australasian_corrosion_association(metal: c.Fitting) -> None:
    """Read on calomel, each end told on silver chloride by the conversion lies within the range kept. Exact to round-off."""
    found = c.metal_reading(metal, -0.5)
    low, high = (c.to_silver_chloride(v, "calomel", 35.0, 20.0).potential for v in ASSOCIATION[metal])
    assert found.low <= low + 1e-9
    assert found.high >= high - 1e-9


@pytest.mark.parametrize("metal", sorted(MASTHEAD))
def test_series_of_the_masthead(metal: c.Fitting) -> None:
    """The chart's single value reads as the metal alone."""
    assert c.metal_reading(metal, MASTHEAD[metal] / 1000.0).verdict == "as the metal alone"


@pytest.mark.parametrize("metal", sorted(ASM))
def test_a_table_that_was_not_used_agrees(metal: c.Fitting) -> None:
    """ASM Handbook 13, a fourth table from which nothing was taken: each value reads as the metal alone, within 10 mV of rounding.

    Its 316 active at -0.18 V is not among them: every other table has active stainless near -0.5.
    """
    potential = c.to_silver_chloride(ASM[metal], "calomel", 35.0, 20.0).potential
    assert abs(c.metal_reading(metal, potential).shift) <= 0.010


def test_disagreement_of_the_tables_is_kept() -> None:
    """Manganese bronze: -0.27 to -0.34 V in one table, -0.45 in another. Both read as the metal alone."""
    assert {c.metal_reading("manganese-bronze", v).verdict for v in (-0.27, -0.34, -0.45)} == {"as the metal alone"}


def test_couples_of_the_masthead() -> None:
    """Its rule: over 200 mV apart the more negative is eaten. Zinc and steel lie 0.26 V apart there, 0.35 in Professional BoatBuilder."""
    found = c.couple("steel", "zinc")
    assert found.wastes == "zinc"
    assert 0.26 <= found.driving <= 0.35
    assert found.least <= 0.26
    assert found.most >= 0.35


@pytest.mark.parametrize(("hull", "least", "most"), [("grp", -0.750, -1.000), ("grp-leg", -0.900, -1.050), ("aluminium", -0.900, -1.100),
                                                     ("steel", -0.800, -1.050), ("wood", -0.550, -0.600)])
def test_bands_of_the_trade_page(hull: c.Hull, least: float, most: float) -> None:
    """Ranges by hull at anodeoutlet.co.uk: half a millivolt outside them is never called protected for certain."""
    assert c.hull_reading(hull, least + 0.0005).verdict != "protected"
    assert c.hull_reading(hull, most - 0.0005).verdict != "protected"
    assert c.hull_reading(hull, (least + most) / 2.0).verdict == "protected"


@pytest.mark.parametrize(("hull", "least", "most"), [("grp", -0.550, -1.100), ("grp-leg", -0.950, -1.100), ("aluminium", -0.950, -1.100),
                                                     ("steel", -0.850, -1.100), ("wood", -0.550, -0.600)])
def test_bands_of_abyc_as_quoted(hull: c.Hull, least: float, most: float) -> None:
    """ABYC E-2 as quoted by an owners' association (catalina36.org); the standard itself was not seen."""
    assert c.hull_reading(hull, least + 0.0005).verdict in ("under-protected", "perhaps under-protected")
    assert c.hull_reading(hull, most - 0.0005).verdict in ("over-protected", "perhaps over-protected")


def test_where_the_two_tables_part_the_word_is_perhaps() -> None:
    """Steel at -820 mV: protected by the trade page (-800), not by ABYC as quoted (-850); EN 12473 as quoted has -800."""
    assert c.hull_reading("steel", -0.820).verdict == "perhaps under-protected"
    assert c.hull_reading("steel", -1.070).verdict == "perhaps over-protected"


@pytest.mark.parametrize(("metal", "free", "least"), [("aluminium", -0.7, -0.9), ("steel", -0.6, -0.8), ("tin-bronze", -0.31, -0.55)])
def test_least_potentials_are_the_free_ones_less_two_hundred_millivolts(metal: c.Fitting, free: float, least: float) -> None:
    """The trade page's least potentials for aluminium, steel and bronze pass the 200 mV shift from a free potential of the tables."""
    assert c.protection_shift(free, least, 0.2).spare >= -1e-9
    assert c.metal_reading(metal, least).verdict in ("protected", "pulled down a little", "as the metal alone")


# ------------------------------------------------------------------ cells


@pytest.mark.parametrize(("reference", "reading"), [("zinc", 0.250), ("copper-sulphate", -0.850)])
def test_criteria_of_a_protection_firm(reference: c.Reference, reading: float) -> None:
    """cathwell.com: -800 mV on silver chloride is +250 on zinc and -850 on copper sulphate. Held between the lowest and highest offset."""
    found = c.to_silver_chloride(reading, reference, 35.0, 20.0)
    assert found.low - 1e-9 <= -0.800 <= found.high + 1e-9
    assert found.potential == pytest.approx(-0.800, abs=0.025), "offsets in print part by 20 mV and more"


def test_standard_potentials_of_the_cells() -> None:
    """International Journal of Corrosion 2010, 756950, table 2: copper sulphate 0.316, calomel 0.241, silver chloride in KCl 0.197 V.

    Differences of cells do not lean on the 0.250 V of the sea-water cell, which is from memory. Half a millivolt of rounding.
    """
    at = {cell: c.to_silver_chloride(0.0, cell, 35.0, 25.0).potential for cell in ("copper-sulphate", "calomel", "silver-chloride-kcl")}
    assert at["copper-sulphate"] - at["calomel"] == pytest.approx(0.316 - 0.241, abs=0.0005)
    assert at["calomel"] - at["silver-chloride-kcl"] == pytest.approx(0.241 - 0.197, abs=0.0005)


def test_boat_manual_on_copper_sulphate() -> None:
    """A marine electrics manual puts copper sulphate about 100 mV from silver chloride: the highest offset kept."""
    assert c.to_silver_chloride(-0.9, "copper-sulphate", 35.0, 20.0).high == pytest.approx(-0.8)


def test_zinc_is_not_told_by_adding_a_hundred_millivolts() -> None:
    """The Masthead 16 says so; its own table puts zinc at -1050 mV. Silicon bronze would read -160 on it, and be gone to +750 in truth."""
    found = c.to_silver_chloride(-0.160, "zinc", 35.0, 20.0)
    assert not found.low <= -0.260 <= found.high
    silicon_bronze_on_zinc = -0.260 - -1.050
    back = c.to_silver_chloride(silicon_bronze_on_zinc, "zinc", 35.0, 20.0)
    assert back.low - 1e-9 <= -0.260 <= back.high


def test_nernst_slope() -> None:
    """A tenth of the chloride moves the bare cell by 59.16 mV at 25 degC, the textbook slope; to its last printed figure."""
    sea, thin = (c.to_silver_chloride(-0.8, "silver-chloride", s, 25.0).potential for s in (35.0, 3.5))
    assert thin - sea == pytest.approx(0.05916, abs=5e-6)


# ------------------------------------------------------------------ anodes


def test_zinc_of_british_standard_7361() -> None:
    """780 A h/kg and 11.25 kg an ampere-year (BS 7361 through bornagodaz.com) close on each other within their rounding, 0.2 %."""
    assert c.anode_current(11.25, YEAR, 780 * AMPERE_HOUR) == pytest.approx(1.0, rel=0.002)


def test_theory_of_zinc_and_aluminium() -> None:
    """Faraday: zinc 819.9 and aluminium 2980 A h/kg; the British Standard's zinc is then 95 % efficient, half a percent of rounding."""
    assert metal_charge("zinc") / AMPERE_HOUR == pytest.approx(819.9, abs=0.1)
    assert metal_charge("aluminium") / AMPERE_HOUR == pytest.approx(2980, abs=1)
    assert 780 * AMPERE_HOUR / metal_charge("zinc") == pytest.approx(0.95, abs=0.005)


def test_zinc_of_the_boat_study_guide() -> None:
    """368 A h a pound, 99 % efficient (ABYC study guide as quoted; The Report, March 2017): 4 % over the British figure, so both stand."""
    boat = 368 / 0.45359237 * AMPERE_HOUR
    assert boat / metal_charge("zinc") == pytest.approx(0.99, abs=0.003)
    assert c.anode_life(1.0, boat, 0.85, 0.05) / c.anode_life(1.0, 780 * AMPERE_HOUR, 0.85, 0.05) == pytest.approx(1.04, abs=0.001)


def test_life_of_a_kilogram() -> None:
    """1 kg of zinc, 780 A h/kg, 85 % used, 50 mA: 13260 h, 1.51 years by m u c / I over 8766 h (arithmetic on the standard's figure)."""
    assert c.anode_life(1.0, 780 * AMPERE_HOUR, 0.85, 0.05) / YEAR == pytest.approx(1.51, abs=0.005)


@pytest.mark.parametrize(("density", "years", "kilograms"), [(0.015, 10, 0.60), (0.020, 15, 1.19)])
def test_magnesium_for_a_ships_hull(density: float, years: float, kilograms: float) -> None:
    """Raghavan example 13.2 page 327 (15 mA/m2, ten years, .60 kg/m2) and Gupta example 20.5 page 562; two figures printed, so 1 %."""
    assert metal_mass("magnesium", density * years * YEAR) == pytest.approx(kilograms, rel=0.01)


def test_wear_limits_hold_the_truth_nineteen_times_in_twenty() -> None:
    """Fieller's theorem promises it (two standard deviations, 95.4 %): counted over 4000 pairs of noisy readings. Three standard
    errors of such a count are 1 %."""
    rng = np.random.default_rng(7)
    first_true, second_true, error, days = 0.90, 0.72, 0.02, 100.0
    truth = days * (second_true - 0.5) / (first_true - second_true)
    held = drawn = 0
    for first, second in zip(rng.normal(first_true, error, 4000), rng.normal(second_true, error, 4000), strict=True):
        found = c.anode_wear(1.0, float(first), float(second), days * 86400.0, 0.5, error)
        drawn += 1
        held += found.earliest <= truth * 86400.0 and (found.latest is None or truth * 86400.0 <= found.latest)
    assert held / drawn == pytest.approx(0.954, abs=0.01)


@pytest.mark.parametrize(("metal", "kilograms"), [("iron", 9.13), ("copper", 10.39)])
def test_loss_to_an_ampere_in_a_year(metal: str, kilograms: float) -> None:
    """Faraday with IUPAC atomic weights and 8766 h, worked by hand: 31557600 x M / (2 x 96485); last printed figure."""
    found = c.lost_to_current(metal, 1.0, YEAR, 1.0)  # type: ignore[arg-type]
    assert found.mass == pytest.approx(kilograms, abs=0.005)


def test_corrosion_depth_of_iron() -> None:
    """1 mA/cm2 on iron is 11.6 mm a year (corrosion textbooks; memory). Density and rounding: 1 %."""
    assert c.lost_to_current("iron", 10.0, YEAR, 1.0).depth * 1000 == pytest.approx(11.6, rel=0.01)
