"""Numbers as people type them at the engine: a reading with its unit, drops in a time, an amount lost in a time.

A unit that can mean two things, or that is missing, is asked for and never guessed.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from diagnose.errors import InputError
from diagnose.knowledge.model import Band, Measurand, Measure, Symptom
from diagnose.units import parse_quantity

DROP_ML = (0.05, 0.10)
"""One drop [mL]: 20 to the millilitre by convention, 0.08 to 0.10 mL measured off taps. From memory."""
LEAST_LOST, MOST_LOST = 0.01, 1e6
"""Losses [mL/h] that an observation can hold."""
MOST_DROPS = 600.0
"""Drops a minute that somebody might count: ten a second is a stream."""
_NUMBER = r"(\d+(?:\.\d+)?)"
_TIMES = {"s": 1 / 3600, "sec": 1 / 3600, "second": 1 / 3600, "min": 1 / 60, "minute": 1 / 60, "h": 1.0, "hr": 1.0, "hour": 1.0,
          "d": 24.0, "day": 24.0, "night": 10.0, "wk": 168.0, "week": 168.0}
_TIME = r"(seconds?|secs?|s|minutes?|mins?|hours?|hrs?|h|days?|d|nights?|weeks?|wks?)"
_VOLUMES = {"ml": 1.0, "cc": 1.0, "cl": 10.0, "dl": 100.0, "l": 1000.0, "litre": 1000.0, "liter": 1000.0}
_VOLUME = r"(ml|cc|cl|dl|litres?|liters?|l)"
_LOST = re.compile(rf"{_NUMBER}\s*(?:(drops?|drips?)|{_VOLUME})?\s*(?:in|per|an?|every|each|/)\s*{_NUMBER}?\s*{_TIME}\Z", re.IGNORECASE)
_BARE = re.compile(rf"{_NUMBER}\s*(?:drops?|drips?)?\Z", re.IGNORECASE)
_LETTER = {"c": "degC", "f": "degF", "v": "V", "a": "A", "mv": "mV", "ma": "mA", "mm": "mm", "cm": "cm", "k": "K", "psi": "psi",
           "bar": "bar", "kpa": "kPa", "in": "inch", "inch": "inch", "inches": "inch", "ohm": "ohm", "ohms": "ohm", "volts": "V",
           "volt": "V", "amps": "A", "celsius": "degC", "centigrade": "degC", "fahrenheit": "degF", "rpm": "rpm", "w": "W", "kw": "kW"}
"""Units by how people write them at the engine, in small letters."""
SHOWN_UNITS = {"degC": "°C", "degF": "°F", "degC_diff": "°C", "ohm": "ohm", "1": ""}
"""How units of the book are written for a person."""


class UnitUnclearError(InputError):
    """A number that is well formed, and whose unit is missing or may be several; `right` says what it may be."""


@dataclass(frozen=True)
class Rate:
    """A loss [mL/h], from the least to the most that was said may mean, and how it was said."""

    low: float
    high: float
    said: str
    drops: bool

    @property
    def words(self) -> str:
        """The loss in words."""
        if math.isclose(self.low, self.high):
            return f"{_short(self.low)} mL an hour"
        return f"{_short(self.low)} to {_short(self.high)} mL an hour"

    @property
    def middle(self) -> str:
        """The loss as an observation holds it: number and unit; what lies beyond these as the end of them."""
        middle = min(max(math.sqrt(self.low) * math.sqrt(self.high), LEAST_LOST), MOST_LOST)
        return f"{float(f'{middle:.3g}'):.9g} mL/hour"

    @property
    def uncountable(self) -> bool:
        """Whether so many drops were told that nobody can count them."""
        return self.drops and self.low > MOST_DROPS * 60.0 * DROP_ML[0]


def shown_unit(unit: str) -> str:
    """A unit of the book as it is written for a person."""
    return SHOWN_UNITS.get(unit, unit)


def tidied(text: str) -> str:
    """A number as the reader of units wants it: one decimal comma becomes a point, degree signs and letters the unit's name.

    Raises:
        UnitUnclearError: a comma that may part thousands.
    """
    text = " ".join(text.replace("−", "-").split())
    comma = re.match(r"([-+]?\d+),(\d+)(.*)\Z", text)
    if comma is not None:
        if len(comma[2]) == 3:
            raise UnitUnclearError(f"'{text}' may mean {comma[1]}{comma[2]} or {comma[1]}.{comma[2]}", right="the number without a comma")
        text = f"{comma[1]}.{comma[2]}{comma[3]}"
    parts = re.match(r"([-+]?\d+(?:\.\d+)?)\s*(.*)\Z", text)
    if parts is None:
        return text
    unit = re.sub(r"\A(?:°|deg(?:rees?)?\.?)\s?(?=[cf]\b)", "", parts[2], flags=re.IGNORECASE)
    return f"{parts[1]} {_LETTER.get(unit.lower(), unit)}".strip()


def reading(text: str, measure: Measure | Measurand, what: str) -> str:
    """A measured number as an observation holds it: number and unit, checked against what can be.

    Args:
        text: what was typed.
        measure: what the symptom is measured in, or the reading itself.
        what: what is measured, for the message.

    Raises:
        UnitUnclearError: a number without its unit, or with one that may be several.
        InputError: no number, a unit that does not measure this, or a value that cannot be.
    """
    plain = tidied(text)
    if re.fullmatch(r"[-+]?\d+(?:\.\d+)?", plain) and measure.unit != "1":
        raise UnitUnclearError(f"{plain} of what?", right=choices_of(measure.unit))
    if measure.unit == "K" and plain.endswith((" degC", " degF")):
        plain = plain.replace(" degC", " delta_degC").replace(" degF", " delta_degF")
    try:
        parse_quantity(plain, measure.unit, what=what, possible=measure.possible)
    except InputError as error:
        if "more than one unit" in error.what:
            raise UnitUnclearError(error.what, right=error.right) from None
        raise
    return plain


_ALIKE = (("degC", "degF"), ("bar", "kPa", "psi"), ("V", "mV"), ("A", "mA"), ("mm", "cm", "inch"), ("%", "percent"), ("ohm",), ("rpm",))


def may_measure(amount: str, unit: str) -> bool:
    """Whether an amount as typed has a unit of the kind that is measured here."""
    try:
        said = tidied(amount).partition(" ")[2]
    except InputError:
        return False
    return any(said in kind and unit in kind for kind in _ALIKE)


def band_of(amount: str, symptom: Symptom) -> str | None:
    """The grade of a measured symptom that an amount as typed falls into; None where it does not measure it, or cannot be."""
    if symptom.measure is None:
        return None
    try:
        value = parse_quantity(reading(amount, symptom.measure, symptom.title), symptom.measure.unit, what=symptom.title)
    except InputError:
        return None
    return next((name for name, band in symptom.grades.items() if isinstance(band, Band)
                 and (band.at_least is None or value >= band.at_least) and (band.below is None or value < band.below)), None)


def choices_of(unit: str) -> str:
    """The units to choose from where only a number was typed."""
    return {"degC": "C or F", "K": "C or F (a difference)", "bar": "bar, kPa or psi", "kPa": "kPa, bar or psi"}.get(unit, shown_unit(unit))


def rate(text: str) -> Rate | None:
    """A loss in a time, such as '15 in 10 min' (drops), '30 drops a minute', '200 mL in 6 h'; None where it is not one."""
    found = _LOST.match(" ".join(text.split()))
    if found is None:
        return None
    count, _drops, volume, time, unit = found.groups()
    word = unit.lower().rstrip("s") or "s"
    hours = float(time or 1.0) * _TIMES[word]
    if not (hours > 0 and math.isfinite(hours) and math.isfinite(float(count))):
        return None
    if volume is not None:
        each = _VOLUMES[volume.lower().rstrip("s")]
        return Rate(float(count) * each / hours, float(count) * each / hours, text, drops=False)
    return Rate(float(count) * DROP_ML[0] / hours, float(count) * DROP_ML[1] / hours, text, drops=True)


def bare_count(text: str) -> float | None:
    """A count without a time, or None."""
    found = _BARE.match(" ".join(text.split()))
    return None if found is None else float(found[1])


def band_words(band: Band, unit: str) -> str:
    """A band of a measured symptom in words: 'below 91 °C', '91 to 98 °C'."""
    shown = shown_unit(unit)
    if band.at_least is None and band.below is None:
        return f"any {shown}".strip()
    if band.at_least is None:
        return f"below {band.below:g} {shown}".strip()
    if band.below is None:
        return f"{band.at_least:g} {shown} or more".replace(" or more", "or more") if not shown else f"{band.at_least:g} {shown} or more"
    return f"{band.at_least:g} to {band.below:g} {shown}".strip()


def may_be_reading(digit: int, symptom: Symptom) -> bool:
    """Whether a bare digit that names a line may as well be the number read: it lies about where the bands do."""
    edges = [abs(edge) for band in symptom.grades.values() if isinstance(band, Band) for edge in (band.at_least, band.below) if edge]
    return bool(edges) and 0.3 * min(edges) <= digit <= 3.0 * max(edges)


def _short(value: float) -> str:
    if value >= 1000:
        return f"{value:,.0f}".replace(",", " ")
    return f"{value:.2g}" if value < 100 else f"{value:.0f}"
