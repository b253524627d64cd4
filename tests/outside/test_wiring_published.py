"""Wires and batteries against IACS, IEC 60228, ASTM B258, boat wire tables and printed battery tables."""

from __future__ import annotations

import pytest

from diagnose.measure import wiring as w

MM2 = 1e-6
FOOT = 0.3048
CIRCULAR_MIL = 5.067075e-10
"""m^2: a circle of a thousandth of an inch (definition)."""
HOUR = 3600.0

# IEC 60228, largest resistance at 20 degC, plain copper, ohm/km: class 2 and class 5. mycableengineering.com,
# kabelmetal-indonesia.com and uecables.com print the same.
IEC_60228 = {1.5: (12.1, 13.3), 2.5: (7.41, 7.98), 4: (4.61, 4.95), 6: (3.08, 3.30), 10: (1.83, 1.91), 16: (1.15, 1.21),
             25: (0.727, 0.780), 35: (0.524, 0.554), 50: (0.387, 0.386), 70: (0.268, 0.272),
             95: (0.193, 0.206), 120: (0.153, 0.161), 150: (0.124, 0.129)}
# Gauge: diameter mm, area mm^2, ohm/km at 20 degC; tablesandcalc.online, the same at linuxfocus.org and hyperphysics.
GAUGES = {-3: (11.684, 107.20, 0.161), -1: (9.266, 67.43, 0.256), 0: (8.251, 53.48, 0.322), 2: (6.544, 33.63, 0.513),
          4: (5.189, 21.15, 0.815), 6: (4.115, 13.30, 1.296), 8: (3.264, 8.37, 2.061),
          10: (2.588, 5.26, 3.277), 12: (2.053, 3.31, 5.211), 14: (1.628, 2.08, 8.286),
          18: (1.024, 0.82, 20.95), 24: (0.511, 0.20, 84.22)}


def test_copper_of_the_international_standard() -> None:
    """International Annealed Copper Standard: 0.15328 ohm for a metre of one gram at 8.89 g/cm3; 1.7241e-8 ohm m in print."""
    assert w.copper_resistivity(20.0) == pytest.approx(0.15328 / 8.89e6, rel=1e-4)
    assert w.copper_resistivity(20.0) == pytest.approx(1.7241e-8, abs=5e-13)


@pytest.mark.parametrize(("temperature", "factor"), [(5, 1.064), (10, 1.042), (25, 0.980), (40, 0.926), (50, 0.893), (75, 0.820),
                                                     (100, 0.758)])
def test_temperature_factors_of_iec_60228(temperature: float, factor: float) -> None:
    """Factors to 20 degC at uecables.com (they follow 250 / (230 + T)); against 0.393 % a kelvin they part by 0.4 % at 100 degC."""
    assert w.copper_resistivity(20.0) / w.copper_resistivity(temperature) == pytest.approx(factor, rel=0.005)


@pytest.mark.parametrize("size", sorted(IEC_60228))
def test_largest_resistances_of_iec_60228(size: float) -> None:
    """Solid copper of the nominal size stays below what the standard allows, and the allowance of a flexible wire is 10 to 16 %."""
    solid = w.wire_resistance(1000.0, size * MM2, 20.0, 0.0)
    stranded, flexible = IEC_60228[size]
    assert solid < stranded
    assert 0.10 <= flexible / solid - 1.0 <= 0.16
    assert flexible == pytest.approx(w.wire_resistance(1000.0, size * MM2, 20.0, 0.13), rel=0.03)


def test_standard_sizes_are_those_of_iec_60228() -> None:
    """All but 1 mm^2, which the standard has and the pages' tables of 1.5 and more do not show."""
    assert set(IEC_60228) <= set(w.STANDARD_SIZES)


@pytest.mark.parametrize("gauge", sorted(GAUGES))
def test_gauges(gauge: int) -> None:
    """ASTM B258 through a table of gauges: diameter and area to their last printed figure, resistance to 0.3 %."""
    diameter, area, per_km = GAUGES[gauge]
    found = w.gauge_size(gauge)
    assert found.diameter * 1000 == pytest.approx(diameter, abs=0.0011)
    assert found.area / MM2 == pytest.approx(area, rel=0.0003, abs=0.006)
    assert w.wire_resistance(1000.0, found.area, 20.0, 0.0) == pytest.approx(per_km, rel=0.004)


def test_ends_of_the_gauge_scale() -> None:
    """By definition 36 is 0.0050 inch and 4/0 is 0.4600 inch."""
    assert w.gauge_size(36).diameter / 0.0254 == pytest.approx(0.005, rel=1e-9)
    assert w.gauge_size(-3).diameter / 0.0254 == pytest.approx(0.46, rel=1e-9)


def test_boat_formula_with_10_75() -> None:
    """jamestowndistributors.com: circular mils = 10.75 I L / E. That constant is copper at 29 degC; both ways within 0.1 %."""
    area = 10.75 * 10 * 21 / 0.36 * CIRCULAR_MIL
    assert w.wire_drop(10.0, 21 * FOOT, area, 29.3, 0.0, 12.0).lost == pytest.approx(0.36, rel=0.001)
    assert w.wire_size(10.0, 21 * FOOT, 0.36, 29.3, 0.0, "cool", "steady").for_drop == pytest.approx(area, rel=0.001)


def test_boat_formula_with_0_0164_flatters() -> None:
    """energy-solutions.co.uk: E = 0.0164 I L / S. It lies 5 % under copper at 20 degC: kept as a disagreement, not followed."""
    assert w.copper_resistivity(20.0) * 1e6 / 0.0164 == pytest.approx(1.05, abs=0.002)


# Boat supplier's table (hollandmarine.com 2022): 3 % of 12 V, gauge by feet there and back and by amperes.
AMPERES = (5, 10, 15, 20, 25, 30, 40, 50, 60, 70, 80, 90, 100)
TABLE = {10: (18, 14, 12, 12, 10, 10, 8, 8, 6, 6, 6, 4, 4), 15: (16, 12, 10, 10, 8, 8, 6, 6, 4, 4, 4, 2, 2),
         20: (14, 10, 10, 8, 6, 6, 6, 4, 4, 2, 2, 2, 2)}


@pytest.mark.parametrize("feet", sorted(TABLE))
def test_boat_wire_table(feet: int) -> None:
    """Each gauge of the table loses 3 % or less, and the next thinner 2.7 % or more: the table mixes AWG and the leaner SAE copper."""
    for amperes, gauge in zip(AMPERES, TABLE[feet], strict=True):
        chosen, thinner = (w.wire_drop(amperes, feet * FOOT, w.gauge_size(g).area, 29.3, 0.0, 12.0).share for g in (gauge, gauge + 2))
        assert chosen <= 0.0302
        assert thinner >= 0.0269


@pytest.mark.parametrize(("volts", "share", "feet_amperes", "gauge", "mils"), [(12, 0.10, 1800, 8, 14810), (24, 0.03, 1000, 6, 24538)])
def test_worked_examples_of_a_wire_chart(volts: float, share: float, feet_amperes: float, gauge: int, mils: float) -> None:
    """zrd.com: 12 V at 10 %, 1800 feet x amperes, gauge 8; 24 V at 3 %, 1000, gauge 6. With SAE copper, whose areas the charts use."""
    found = w.wire_drop(100.0, feet_amperes / 100.0 * FOOT, mils * CIRCULAR_MIL, 29.3, 0.0, volts)
    thinner = w.wire_drop(100.0, feet_amperes / 100.0 * FOOT, {8: 9343, 6: 14810}[gauge] * CIRCULAR_MIL, 29.3, 0.0, volts)
    assert found.share <= share * 1.10
    assert thinner.share > share


@pytest.mark.parametrize(("size", "cool", "hot"), [(1.5, 17, 12), (2.5, 24, 17), (4, 32, 23), (6, 41, 29), (10, 57, 40), (16, 76, 54),
                                                   (25, 96, 68), (35, 119, 84)])
def test_ratings_of_iec_60364(size: float, cool: float, hot: float) -> None:
    """IEC 60364-5-52 method C for PVC, as an industrial manual prints it for 30 and 50 degC.

    The rated current takes this size and an ampere more the next. At 50 degC the factor 0.71 lands within an ampere and a half.
    """
    assert w.wire_size(cool, 0.2, 5.0, 30.0, 0.0, "cool", "steady").for_heat == pytest.approx(size * MM2)
    assert w.wire_size(cool + 1.0, 0.2, 5.0, 30.0, 0.0, "cool", "steady").for_heat > size * MM2
    assert w.wire_size(hot - 1.5, 0.2, 5.0, 30.0, 0.0, "engine-space", "steady").for_heat <= size * MM2 * (1 + 1e-9)


def test_a_hundredth_of_an_ohm_at_the_starter() -> None:
    """excelauto.com: 0.01 ohm in a starter circuit of 200 A takes 2 V."""
    found = w.joint(2.0, 200.0, 200.0)
    assert found.resistance == pytest.approx(0.01)
    assert found.heat == pytest.approx(400.0)


def test_limits_of_the_starting_circuit() -> None:
    """A battery tester's manual: 0.5 V on the plus and 0.3 V on the ground side, 0.8 V together; a workshop page: 0.2 V each."""
    assert w.circuit_drop("starting-plus", 0.5, 12.0).verdict == "watch"
    assert w.circuit_drop("starting-plus", 0.51, 12.0).verdict == "too much"
    assert w.circuit_drop("starting-minus", 0.31, 12.0).verdict == "too much"
    assert {w.circuit_drop(part, 0.19, 12.0).verdict for part in ("starting-plus", "starting-minus")} == {"good"}


@pytest.mark.parametrize(("temperature", "volts"), [(20, 9.6), (16, 9.5), (10, 9.4), (4, 9.3), (-1, 9.1), (-7, 8.9), (-12, 8.7),
                                                    (-18, 8.5)])
def test_load_test_table(temperature: float, volts: float) -> None:
    """Least volts after 15 s, as several workshop manuals print it; exact at its own points."""
    assert w.cranking_voltage(10.0, temperature, 12.0).lowest == pytest.approx(volts, abs=1e-9)


@pytest.mark.parametrize(("temperature", "volts"), [(21, 9.6), (10, 9.4), (0, 9.1), (-10, 8.8), (-18, 8.5)])
def test_another_load_test_table(temperature: float, volts: float) -> None:
    """A second family of workshop manuals, in steps of 10 K, from which nothing was taken: within 0.05 V."""
    assert w.cranking_voltage(10.0, temperature, 12.0).lowest == pytest.approx(volts, abs=0.051)


@pytest.mark.parametrize(("volts", "share"), [(12.65, 1.0), (12.45, 0.75), (12.24, 0.5), (12.06, 0.25), (11.89, 0.0)])
def test_rest_voltage_of_a_wet_battery(volts: float, share: float) -> None:
    """discoverbattery.com, state of charge at 80 degF; exact at its own points."""
    assert w.rest_charge(volts, 26.7, 0.0002, "wet", 12.0).share == pytest.approx(share, abs=1e-9)


@pytest.mark.parametrize(("volts", "share"), [(12.66, 1.0), (12.45, 0.75), (12.30, 0.5), (12.15, 0.25), (12.60, 1.0), (11.95, 0.25)])
def test_other_tables_of_rest_voltage_part_by_a_sixth(volts: float, share: float) -> None:
    """motorhome.com (12.66, 12.45, 12.30, 12.15) and an older table (12.60, 11.95): what is said of trusting it to a quarter."""
    assert w.rest_charge(volts, 26.7, 0.0, "wet", 12.0).share == pytest.approx(share, abs=0.17)


@pytest.mark.parametrize(("volts", "share"), [(12.8, 1.0), (12.6, 0.75), (12.3, 0.5), (12.0, 0.25)])
def test_rest_voltage_of_glass_mat(volts: float, share: float) -> None:
    """A vehicle's owner's manual prints 12.8, 12.6, 12.3, 12.0 V; another text 12.9, 12.6, 12.3, 12.0, 11.8."""
    assert w.rest_charge(volts, 26.7, 0.0, "agm", 12.0).share == pytest.approx(share, abs=1e-9)


def test_temperature_column_of_the_wet_table_is_not_followed() -> None:
    """The same page adds 0.024 V for 10 degF over 80: its hydrometer step of 0.004 times six cells. By it 12.45 V at 32 degF is 12.335.

    The coefficient that does this is -0.72 mV/K a cell; electrochemistry has about +0.2 (memory).
    """
    found = w.rest_charge(12.45, 0.0, -0.00072, "wet", 12.0)
    assert found.at_reference == pytest.approx(12.45 - 0.024 * 48 / 10, abs=0.001)


@pytest.mark.parametrize(("celsius", "share"), [(25.0, 1.0), (0.0, 0.75), (-17.8, 0.40)])
def test_capacity_in_the_cold(celsius: float, share: float) -> None:
    """TM 10-6140-200-14, paragraph 1-8: 75 % at 32 degF and 40 % at 0 degF of what there is at room temperature."""
    assert w.cold_capacity(celsius) == pytest.approx(share)


@pytest.mark.parametrize(("capacity", "current", "exponent", "hours"), [(100, 5, 1.2, 14.5), (250, 20, 1.3, 5.0886)])
def test_peukert_examples(capacity: float, current: float, exponent: float, hours: float) -> None:
    """electrotechnik.net: 100 A h, k 1.2, 5 A, 14.5 h; easycalculation.com: 250 A h, n 1.3, 20 A, 5.0886 h. Both rate the capacity at an
    ampere (t = C / I^k), which is a rated time of as many hours as ampere-hours."""
    found = w.battery_hours(capacity * HOUR, capacity * HOUR, current, exponent, 1.0, 25.0)
    assert found.time / HOUR == pytest.approx(hours, rel=0.001)
