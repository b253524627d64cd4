"""What a current does: ranges, signs, direction, scale."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.measure import electrolysis as e
from diagnose.measure.valid import OutOfRangeError

AIR = 101325.0
CURRENTS = st.floats(0.01, 400.0)


def bath(**changed: float) -> e.Derusting:
    """A bath of ordinary size."""
    figures = {"area": 0.05, "current_density": 50.0, "time": 36000.0, "bath": 0.02, "soda_strength": 10.0, "temperature": 20.0,
               "pressure": AIR, "highest_share": 0.01} | changed
    return e.derusting(**figures)


@pytest.mark.parametrize("metal", ["iron", "copper", "zinc", "aluminium", "magnesium"])
def test_capacity_and_mass_are_each_other_turned_round(metal: e.Metal) -> None:
    """The charge that a kilogram gives takes away one kilogram, for every metal of the table."""
    assert e.metal_mass(metal, e.metal_charge(metal)) == pytest.approx(1.0, rel=1e-12)


def test_unknown_metals_and_gases_are_named() -> None:
    """A metal or a gas that the tables lack is refused with the list of those they have."""
    with pytest.raises(ValueError, match="tin is not one of iron"):
        e.metal_mass("tin", 1.0)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="not one of hydrogen"):
        e.gas_volume("steam", 1.0, 20.0, AIR)  # type: ignore[arg-type]


@pytest.mark.parametrize(("call", "name"), [
    (lambda: e.charge_passed(-1.0, 1.0), "current"),
    (lambda: e.charge_passed(1.0, math.inf), "time"),
    (lambda: e.metal_mass("iron", -1.0), "charge"),
    (lambda: e.molar_volume(-21.0, AIR), "temperature"),
    (lambda: e.molar_volume(20.0, 1.0), "pressure"),
    (lambda: e.air_for_hydrogen(0.1, 0.05), "highest_share"),
    (lambda: e.air_for_hydrogen(math.nan, 0.01), "hydrogen_rate"),
    (lambda: e.time_to_share(0.2, 0.0, 0.04), "hydrogen_rate"),
    (lambda: e.charging_gas(0.0, 6.0, 20.0, AIR, 0.01, 1.0), "current"),
    (lambda: bath(current_density=201.0), "current_density"),
    (lambda: bath(area=0.0), "area"),
    (lambda: bath(soda_strength=0.0), "soda_strength"),
])
def test_what_is_out_of_range_is_refused_by_name(call: object, name: str) -> None:
    """A current, a bath or a share of gas that cannot be is refused, and the refusal names the very figure."""
    with pytest.raises(OutOfRangeError) as caught:
        call()  # type: ignore[operator]
    assert caught.value.name == name


@given(charge=st.floats(1.0, 1e9), temperature=st.floats(-20.0, 100.0), pressure=st.floats(5e4, 2e5))
def test_twice_as_much_hydrogen_as_oxygen(charge: float, temperature: float, pressure: float) -> None:
    """Water parts into two volumes to one, at any charge, warmth and pressure."""
    hydrogen = e.gas_volume("hydrogen", charge, temperature, pressure)
    assert hydrogen == pytest.approx(2.0 * e.gas_volume("oxygen", charge, temperature, pressure))


@given(low=st.floats(-20.0, 99.0), step=st.floats(0.1, 1.0))
def test_gas_swells_with_warmth_and_shrinks_with_pressure(low: float, step: float) -> None:
    """A mole takes more room when warmer and less under more pressure."""
    assert e.molar_volume(low + step, AIR) > e.molar_volume(low, AIR) > e.molar_volume(low, AIR + 1000.0)


@given(rate=st.floats(1e-9, 0.5), share=st.floats(0.001, 0.04))
def test_the_air_asked_for_gives_the_share_asked_for(rate: float, share: float) -> None:
    """Hydrogen mixed into that much air is the share that was set as the limit."""
    air = e.air_for_hydrogen(rate, share)
    assert rate / (rate + air) == pytest.approx(share)


@given(current=CURRENTS, cells=st.integers(1, 29))
def test_charging_gas_goes_with_current_and_cells(current: float, cells: int) -> None:
    """Every cell adds the same hydrogen, so that more cells want more air and fill a closed box sooner."""
    one = e.charging_gas(current, cells, 20.0, AIR, 0.01, 1.0)
    more = e.charging_gas(current, cells + 1, 20.0, AIR, 0.01, 1.0)
    assert more.hydrogen_rate == pytest.approx(one.hydrogen_rate * (cells + 1) / cells)
    assert more.air > one.air
    assert more.closed_time < one.closed_time


@given(factor=st.floats(1.1, 3.0))
def test_a_larger_part_makes_more_of_everything_but_soda(factor: float) -> None:
    """Current, charge, gas and air go with the area; the soda goes with the bath and stays."""
    small, large = bath(), bath(area=0.05 * factor)
    for name in ("current", "charge", "hydrogen", "hydrogen_rate", "air"):
        assert getattr(large, name) == pytest.approx(factor * getattr(small, name))
    assert large.soda == small.soda


def test_time_changes_the_hydrogen_and_not_the_air() -> None:
    """Twice as long makes twice the gas, and no more of it in a minute."""
    once, twice = bath(), bath(time=72000.0)
    assert twice.hydrogen == pytest.approx(2.0 * once.hydrogen)
    assert twice.air == pytest.approx(once.air)


def test_no_current_no_gas() -> None:
    """Without a current there is neither gas nor a need of air."""
    assert e.gas_volume("hydrogen", e.charge_passed(0.0, 3600.0), 20.0, AIR) == 0.0
    assert e.air_for_hydrogen(0.0, 0.01) == 0.0
