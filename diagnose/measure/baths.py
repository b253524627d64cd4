"""Acid baths for lime in a cooler: how much scale, how much acid, how to dilute it, how to make what is left harmless.

Amounts are those of the chemistry. How long a bath takes is common practice and stands in no formula here: watch the
bubbles and the pH. Acid goes into water, never water into acid.
"""

from __future__ import annotations

import math
from typing import Final, Literal, NamedTuple

from diagnose.measure.electrolysis import ATOMIC_WEIGHT, molar_volume
from diagnose.measure.valid import check

__all__ = [
    "ACID_CONSTANTS",
    "MOLAR_MASS",
    "Acid",
    "AcidForScale",
    "Dilution",
    "End",
    "MassDilution",
    "Neutraliser",
    "Soda",
    "Used",
    "acid_for_scale",
    "acid_per_scale",
    "bath_ph",
    "bath_used",
    "carbon_dioxide",
    "charge_balance_ph",
    "dilution_by_mass",
    "dilution_by_strength",
    "molarity",
    "neutraliser",
    "scale_in_tubes",
]

Acid = Literal["hydrochloric", "phosphoric", "citric"]
Soda = Literal["bicarbonate", "soda-ash", "soda-crystals"]
End = Literal["clear", "spent"]

_FORMULAS: Final[dict[str, dict[str, int]]] = {
    "hydrochloric": {"H": 1, "Cl": 1},
    "phosphoric": {"H": 3, "P": 1, "O": 4},
    "citric": {"C": 6, "H": 8, "O": 7},
    "calcium-carbonate": {"Ca": 1, "C": 1, "O": 3},
    "bicarbonate": {"Na": 1, "H": 1, "C": 1, "O": 3},
    "soda-ash": {"Na": 2, "C": 1, "O": 3},
    "soda-crystals": {"Na": 2, "C": 1, "O": 13, "H": 20},
}
MOLAR_MASS: Final[dict[str, float]] = {
    name: sum(ATOMIC_WEIGHT[symbol] * count for symbol, count in formula.items()) / 1000.0 for name, formula in _FORMULAS.items()
}
"""Molar masses [kg/mol] from the IUPAC atomic weights. Citric acid free of water; soda crystals with ten waters."""

ACID_CONSTANTS: Final[dict[str, tuple[float, ...]]] = {
    "hydrochloric": (-6.0,), "phosphoric": (2.148, 7.198, 12.35), "citric": (3.13, 4.76, 6.40),
}
"""pKa at 25 degC (memory of CRC and NIST tables). Hydrochloric acid is whole-heartedly split: any value under -2 does."""

# Moles of calcium carbonate a mole of acid takes up. "clear": the calcium stays dissolved, as chloride, dihydrogen
# phosphate, hydrogen citrate. "spent": all its strength used, but then calcium phosphate and citrate fall out as a new crust.
_CARBONATE: Final[dict[tuple[str, str], float]] = {
    ("hydrochloric", "clear"): 0.5, ("phosphoric", "clear"): 0.5, ("citric", "clear"): 1.0,
    ("hydrochloric", "spent"): 0.5, ("phosphoric", "spent"): 1.5, ("citric", "spent"): 1.5,
}
# Equivalents of base a mole of acid takes until the bath is harmless: chloride, hydrogen phosphate, citrate.
_TO_NEUTRAL: Final[dict[str, int]] = {"hydrochloric": 1, "phosphoric": 2, "citric": 3}
# Equivalents and moles of carbon dioxide in a mole of neutraliser.
_SODAS: Final[dict[str, tuple[int, int]]] = {"bicarbonate": (1, 1), "soda-ash": (2, 1), "soda-crystals": (2, 1)}
_WATER_PRODUCT: Final = 14.0
_ROUND_OFF: Final = 1.0 + 1e-9


class Dilution(NamedTuple):
    """What to put together by volume."""

    strong: float
    """Strong acid [m^3]."""
    water: float
    """To start with; fill up to the mark last [m^3]."""


class MassDilution(NamedTuple):
    """What to put together by mass."""

    product: float
    """Acid as sold [kg]."""
    water: float
    """[kg]"""
    product_volume: float
    """[m^3]"""
    molarity: float
    """Of the acid as sold [mol/m^3]."""


class AcidForScale(NamedTuple):
    """Acid for a mass of lime."""

    pure: float
    """Pure acid [kg]."""
    product: float
    """Acid as sold, with what is to spare [kg]."""
    gas: float
    """Carbon dioxide let off [m^3]."""


class Neutraliser(NamedTuple):
    """What makes a used bath harmless."""

    soda: float
    """[kg]"""
    strength_left: float
    """Share of the acid's strength not used by the scale."""
    gas: float
    """Carbon dioxide let off [m^3]."""


class Used(NamedTuple):
    """How far a bath is used, from its pH."""

    equivalents: float
    """Base taken up by a mole of acid."""
    share: float
    """Of what it can take up with the calcium staying dissolved; over 1, calcium salts fall out."""
    verdict: str


def _acid(acid: str) -> str:
    if acid not in ACID_CONSTANTS:
        raise ValueError(f"{acid} is not one of {', '.join(ACID_CONSTANTS)}")
    return acid


def molarity(acid: Acid, share: float, density: float) -> float:
    """Amount of acid in a volume of it: c = w rho / M.

    Args:
        acid: hydrochloric, phosphoric, citric.
        share: of pure acid by mass, 0.001 to 1.
        density: of the solution [kg/m^3], 700 to 2000; of crystals as they pour, where those are sold.

    Returns:
        [mol/m^3], a thousandth of it is mol/L.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: another acid.

    Source: definition; phosphoric acid of 85 % and 1685 kg/m^3 is 14.6 mol/L in published tables of reagents.
    """
    return check("share", share, 1e-3, 1.0) * check("density", density, 700.0, 2000.0, "kg/m^3") / MOLAR_MASS[_acid(acid)]


def dilution_by_strength(strong: float, wanted: float, volume: float) -> Dilution:
    """Volumes for a dilution, strengths in any one unit by volume: C1 V1 = C2 V2.

    Args:
        strong: strength of what there is, above 0 to 20000.
        wanted: strength wanted, in the same unit, up to `strong`.
        volume: of the bath wanted [m^3], 1e-6 to 10.

    Returns:
        Dilution: strong acid, and water to put in first.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: a dilution that would make it stronger.

    Source: Chang, Chemistry, example 4.8: 102 mL of 8.61 M for 500 mL of 1.75 M. The volumes shrink a little on mixing, so the last
    of the water is filled to the mark.
    """
    check("strong", strong, 1e-6, 2e4)
    check("wanted", wanted, 1e-6, 2e4)
    check("volume", volume, 1e-6, 10.0, "m^3")
    if wanted > strong:
        raise ValueError("what is wanted is stronger than what there is; no water makes it so")
    part = volume * wanted / strong
    return Dilution(part, volume - part)


def dilution_by_mass(acid: Acid, product_share: float, product_density: float, wanted_share: float, bath: float) -> MassDilution:
    """Acid as sold and water for a bath, all by mass: m1 w1 = m2 w2.

    Args:
        acid: hydrochloric, phosphoric, citric.
        product_share: pure acid in what is sold, by mass, 0.01 to 1.
        product_density: of what is sold [kg/m^3], 700 to 2000 (crystals as they pour).
        wanted_share: in the bath, by mass, 0.001 to 0.3.
        bath: mass of the bath [kg], 0.01 to 2000; a litre is near enough a kilogram.

    Returns:
        MassDilution: product, water, volume of the product, its molarity.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: another acid, or a dilution that would make it stronger.

    Source: balance of mass; a kilogram of 85 % phosphoric acid takes 7.5 kg of water to 10 %.
    """
    check("product_share", product_share, 0.01, 1.0)
    check("product_density", product_density, 700.0, 2000.0, "kg/m^3")
    check("wanted_share", wanted_share, 1e-3, 0.3)
    check("bath", bath, 0.01, 2000.0, "kg")
    if wanted_share > product_share:
        raise ValueError("what is wanted is stronger than what there is; no water makes it so")
    product = bath * wanted_share / product_share
    return MassDilution(product, bath - product, product / product_density, molarity(acid, product_share, product_density))


def scale_in_tubes(thickness: float, bore: float, length: float, tubes: float, density: float) -> float:
    """Mass of an even crust inside tubes: m = rho pi t (d - t) L n.

    Args:
        thickness: of the crust [m], 1e-5 to 0.02.
        bore: of the clean tube [m], 0.002 to 0.2.
        length: of a tube [m], 0.02 to 20.
        tubes: how many, 1 to 2000.
        density: of the crust [kg/m^3], 1000 to 2800; solid calcite 2710 (memory), a real crust less.

    Returns:
        Mass [kg].

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: a crust that more than fills the bore.

    Source: geometry of a ring.
    """
    check("thickness", thickness, 1e-5, 0.02, "m")
    check("bore", bore, 2e-3, 0.2, "m")
    check("length", length, 0.02, 20.0, "m")
    check("tubes", tubes, 1.0, 2000.0)
    if 2.0 * thickness > bore:
        raise ValueError("the crust is thicker than half the bore")
    return check("density", density, 1000.0, 2800.0, "kg/m^3") * math.pi * thickness * (bore - thickness) * length * tubes


def carbon_dioxide(scale: float, temperature: float, pressure: float) -> float:
    """Gas that lime gives in acid: V = m R T / (M p), one mole a mole, whatever the acid.

    Args:
        scale: calcium carbonate [kg], 0 to 500.
        temperature: [degC], -20 to 100.
        pressure: absolute [Pa], 50000 to 200000.

    Returns:
        Volume [m^3].

    Raises:
        OutOfRangeError: a value outside its range.

    Source: ideal gas; 0.240 L a gram at 20 degC and 101325 Pa.
    """
    return check("scale", scale, 0.0, 500.0, "kg") / MOLAR_MASS["calcium-carbonate"] * molar_volume(temperature, pressure)


def acid_per_scale(acid: Acid, end: End) -> float:
    """Pure acid for a kilogram of calcium carbonate, by the balanced reaction.

    Args:
        acid: hydrochloric, phosphoric, citric.
        end: clear (the calcium stays dissolved) or spent (all strength counted: with phosphoric and citric acid a new
            crust falls out, the wrong end for cleaning).

    Returns:
        kg/kg: hydrochloric 0.729; phosphoric 1.958 clear, 0.653 spent; citric 1.920 clear, 1.280 spent.

    Raises:
        ValueError: another acid or end.

    Source: stoichiometry. That hydrogen citrate stays dissolved and tricalcium citrate (about 1 g/L) does not: memory and one text.
    """
    if (acid, end) not in _CARBONATE:
        raise ValueError(f"{acid} with the end {end} is not known; the ends are clear and spent")
    return MOLAR_MASS[acid] / (_CARBONATE[acid, end] * MOLAR_MASS["calcium-carbonate"])


def acid_for_scale(acid: Acid, scale: float, end: End, product_share: float, excess: float, temperature: float,
                   pressure: float) -> AcidForScale:
    """Acid to dissolve a mass of lime, as pure acid and as sold: m = scale x ratio; product = m (1 + excess) / w.

    Args:
        acid: hydrochloric, phosphoric, citric.
        scale: calcium carbonate [kg], 0 to 500.
        end: clear or spent, as `acid_per_scale`.
        product_share: pure acid in what is sold, by mass, 0.01 to 1.
        excess: to spare, as a share, 0 to 2: metal, mud and a bath that must still bite at the end.
        temperature: of the gas [degC], -20 to 100.
        pressure: absolute [Pa], 50000 to 200000.

    Returns:
        AcidForScale: pure acid without excess, product with it, gas.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: another acid or end.

    Source: stoichiometry.
    """
    gas = carbon_dioxide(scale, temperature, pressure)
    pure = scale * acid_per_scale(acid, end)
    spare = 1.0 + check("excess", excess, 0.0, 2.0)
    return AcidForScale(pure, pure * spare / check("product_share", product_share, 0.01, 1.0), gas)


def neutraliser(acid: Acid, pure: float, scale: float, soda: Soda, temperature: float, pressure: float) -> Neutraliser:
    """What makes a used bath harmless: equivalents left = z n(acid) - 2 n(scale), z 1, 2, 3 for the three acids.

    Args:
        acid: hydrochloric, phosphoric (to hydrogen phosphate), citric (to citrate).
        pure: pure acid that went in [kg], 0.0001 to 500.
        scale: lime it dissolved [kg], 0 to 500; 0 for the safe side.
        soda: bicarbonate, soda-ash (washing soda without water), soda-crystals (with ten waters).
        temperature: of the gas [degC], -20 to 100.
        pressure: absolute [Pa], 50000 to 200000.

    Returns:
        Neutraliser: soda, share of the strength left, gas.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: another acid or soda, or more scale than the acid can dissolve.

    Source: stoichiometry; bicarbonate 2.304, 1.715, 1.312 g a gram of hydrochloric, phosphoric, citric acid. It ends near pH 8 by
    itself and cannot be overdone much (memory); washing soda can. What is left is still waste: it carries copper and zinc.
    """
    moles = check("pure", pure, 1e-4, 500.0, "kg") / MOLAR_MASS[_acid(acid)]
    if soda not in _SODAS:
        raise ValueError(f"{soda} is not one of {', '.join(_SODAS)}")
    lime = check("scale", scale, 0.0, 500.0, "kg") / MOLAR_MASS["calcium-carbonate"]
    if lime > _CARBONATE[acid, "spent"] * moles * _ROUND_OFF:
        raise ValueError("so much scale cannot have been dissolved by so little acid")
    whole = _TO_NEUTRAL[acid] * moles
    left = max(0.0, whole - 2.0 * lime)
    equivalents, gas_moles = _SODAS[soda]
    needed = left / equivalents
    return Neutraliser(needed * MOLAR_MASS[soda], left / whole, needed * gas_moles * molar_volume(temperature, pressure))


def _charge_of(constants: tuple[float, ...], ph: float) -> float:
    """Mean negative charge an acid molecule carries at a pH."""
    terms, exponent = [1.0], 0.0
    for pka in constants:
        exponent += ph - pka
        terms.append(math.pow(10.0, exponent))
    return sum(i * t for i, t in enumerate(terms)) / sum(terms)


def charge_balance_ph(constants: tuple[float, ...], concentration: float, base: float) -> float:
    """pH of an acid partly neutralised by a strong base, by the balance of charges, activities taken as one.

    Args:
        constants: pKa of each step, rising.
        concentration: of the acid, all its forms [mol/L], 1e-6 to 10.
        base: strong base a mole of acid, 0 to the number of steps and a half.

    Returns:
        pH at 25 degC, good to about 0.1 up to 0.1 mol/L, rougher above.

    Raises:
        OutOfRangeError: a value outside its range.

    Source: balance of charges: [H+] + base = [OH-] + sum of the acid's charges; water 1e-14.
    """
    check("concentration", concentration, 1e-6, 10.0, "mol/L")
    check("base", base, 0.0, len(constants) + 0.5)

    def excess(ph: float) -> float:
        return math.pow(10.0, -ph) + base * concentration - math.pow(10.0, ph - _WATER_PRODUCT) - concentration * _charge_of(constants, ph)

    low, high = -2.0, 15.5
    for _ in range(80):
        middle = (low + high) / 2.0
        if excess(middle) > 0:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def bath_ph(acid: Acid, strength: float, base: float, shift: float = 0.0) -> float:
    """pH an acid bath should show: the balance of charges, and a shift that is uncertain and not known.

    Args:
        acid: hydrochloric, phosphoric, citric.
        strength: pure acid [kg/m^3, which is g/L], 0.01 to 300.
        base: base taken up a mole of acid (two for each mole of lime), 0 to the acid's steps and a half.
        shift: by which the ions, hindering one another, move it [pH], -1 to 1; the balance leaves it out.

    Returns:
        pH at 25 degC.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: another acid.

    Source: `charge_balance_ph`. Dissolved carbon dioxide and calcium are left out; a meter or paper reads to 0.3 or so here.
    """
    concentration = check("strength", strength, 0.01, 300.0, "kg/m^3") / MOLAR_MASS[_acid(acid)] / 1000.0
    return charge_balance_ph(ACID_CONSTANTS[acid], concentration, base) + check("shift", shift, -1.0, 1.0)


def bath_used(acid: Acid, strength: float, ph: float) -> Used:
    """How far a bath is used up, from its pH: base = charges of the acid at that pH + [OH-]/c - [H+]/c.

    Args:
        acid: hydrochloric, phosphoric, citric.
        strength: pure acid when fresh [kg/m^3, which is g/L], 0.1 to 300.
        ph: measured, 0 to 10.

    Returns:
        Used: base taken up a mole of acid, share of what leaves the calcium dissolved, verdict `fresh` (under a fifth),
        `working`, `nearly used` (over four fifths), `used`.

    Raises:
        OutOfRangeError: a value outside its range.
        ValueError: another acid.

    Source: `charge_balance_ph` turned round. Of hydrochloric acid the pH only tells the last tenth: one unit is a factor of ten.
    """
    concentration = check("strength", strength, 0.1, 300.0, "kg/m^3") / MOLAR_MASS[_acid(acid)] / 1000.0
    check("ph", ph, 0.0, 10.0)
    free = (10.0 ** (ph - _WATER_PRODUCT) - 10.0**-ph) / concentration
    base = max(0.0, _charge_of(ACID_CONSTANTS[acid], ph) + free)
    share = base / (2.0 * _CARBONATE[acid, "clear"])
    return Used(base, share, "fresh" if share < 0.2 else "working" if share <= 0.8 else "nearly used" if share < 1.0 else "used")
