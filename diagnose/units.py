"""Numbers with units at the edge: text in, a float in the unit asked for out. The only module that uses pint.

pint is loaded only when a unit has to be converted; a reading given in the book's own unit needs none.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Any

from diagnose.errors import InputError

_NUMBER = re.compile(r"\s*([-+]?[0-9]+(?:\.[0-9]+)?)\s*(.*?)\s*\Z")
_IN = re.compile(r"\s*(.+?)\s+in\s+((?:(?!\sin\s).)+?)\s*\Z")
_COMMA = re.compile(r"\s*[-+]?[0-9]+,[0-9]")
_WORD = r"[A-Za-z_°µμΩ%]+(?:(?:\^|\*\*)-?[1-9])?"
_UNIT = re.compile(rf"(?:1/)?{_WORD}(?:(?:\s*[/*]\s*|\s+){_WORD})*\Z")
_TURNS = re.compile(r"rpm|rev|turn|rad")
_SPELT = {"°C": "degC", "C": "degC", "°F": "degF", "F": "degF", "h": "hour", "hours": "hour", "l": "L", "litre": "L",
          "litres": "L", "ml": "mL", "min": "minute", "percent": "%", "revs": "rpm", "rev/min": "rpm",
          "US_gallon": "US_liquid_gallon", "l/min": "L/min", "l/h": "L/hour",
          "mL/h": "mL/hour", "ml/h": "mL/hour", "L/h": "L/hour", "V": "V", "A": "A"}
_UNCLEAR = {"gal": "US_gallon or imperial_gallon", "gallon": "US_gallon or imperial_gallon", "gallons": "US_gallon or imperial_gallon",
            "degrees": "degC or degF", "degree": "degC or degF", "deg": "degC or degF", "°": "degC or degF",
            "pt": "US_pint or imperial_pint", "oz": "gram, or US_fluid_ounce", "m": "metre, or minute written min"}


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    registry: Any = pint.UnitRegistry(autoconvert_offset_to_baseunit=True, cache_folder=None)
    registry.define("drop = 0.05 mL")
    return registry


def parse_quantity(given: str | float, unit: str, *, what: str, possible: tuple[float, float] | None = None) -> float:
    """The number in `given`, in `unit`.

    Args:
        given: text such as `"96 degC"`; a bare number is allowed only where `unit` is "1".
        unit: the unit wanted, as the book writes it.
        what: what is measured, for the message.
        possible: what can be, in `unit`.

    Raises:
        InputError: no number, no unit, an unclear or unfitting unit, or an impossible value.
    """
    text = str(given).replace("−", "-")
    if _COMMA.match(text):
        raise InputError(f"'{text}' has a comma in its number", where=what, right="a point for the decimals, and nothing between thousands")
    caught = _IN.match(text) if "/" in unit else None
    if caught is not None:
        return _possible(_rate(caught[1], caught[2], unit, what), unit, what, possible)
    match = _NUMBER.match(text)
    if match is None:
        raise InputError(f"'{text}' is not a number with a unit", where=what, right=f"such as '{'12' if unit == '1' else f'12 {unit}'}'")
    number, written = float(match[1]), match[2]
    if not written and unit != "1":
        raise InputError(f"'{text}' has no unit", where=what, right=f"such as '{match[1]} {unit}'")
    if written in _UNCLEAR and written != unit:
        raise InputError(f"'{written}' can mean more than one unit", where=what, right=_UNCLEAR[written])
    if written and not _UNIT.match(written):
        raise InputError(f"unit '{written}' is not known", where=what, right=unit)
    value = number if _SPELT.get(written, written) in (unit, _SPELT.get(unit, unit), "") else _convert(number, written, unit, what)
    return _possible(value, unit, what, possible)


def _possible(value: float, unit: str, what: str, possible: tuple[float, float] | None) -> float:
    if possible is not None and not possible[0] <= value <= possible[1]:
        raise InputError(f"{value:g} {unit} cannot be", where=what, right=f"between {possible[0]:g} and {possible[1]:g} {unit}")
    return value


def _rate(amount: str, time: str, unit: str, what: str) -> float:
    """What was caught in some time, as a rate: 10 L in 24 s."""
    kind, _, clock = unit.partition("/")
    seconds = parse_quantity(time, "s", what=what, possible=(0.1, 1e7))
    return parse_quantity(amount, kind, what=what) / convert(seconds, "s", clock)


def convert(number: float, unit: str, to: str) -> float:
    """A number in another unit, both named as rule files name them; a speed of rotation may go to turns a second (`1/s`).

    Raises:
        InputError: the two do not measure the same.
    """
    if unit == to:
        return number
    turns = {"rpm": 1.0 / 60.0, "1/s": 1.0, "Hz": 1.0}
    if {unit, to} <= set(turns) and "rpm" in (unit, to):
        return number * turns[unit] / turns[to]
    return _convert(number, _in_words(unit), _in_words(to), unit)


def _in_words(unit: str) -> str:
    """A unit of a rule file as the library spells it; there `C` is a charge and never a temperature."""
    return re.sub(r"[A-Za-z_°]+", lambda word: word[0] if word[0] == "C" else _SPELT.get(word[0], word[0]), unit)


def _convert(number: float, written: str, unit: str, what: str) -> float:
    import pint

    target = "percent" if unit == "%" else "dimensionless" if unit == "1" else unit
    source = "percent" if written == "%" else "dimensionless" if written == "1" else _SPELT.get(written, _in_words(written))
    try:
        if bool(_TURNS.search(source)) != bool(_TURNS.search(target)):  # pint takes a turn for 6.28 of nothing: 33 Hz were 315 rpm
            raise pint.errors.DimensionalityError(source, target)
        return float(_registry().Quantity(number, source).to(target).magnitude)
    except pint.errors.DimensionalityError:
        raise InputError(f"'{written}' does not measure this", where=what, right=f"a unit like {unit}") from None
    except Exception:  # text that is no unit makes pint's parser fail in many ways
        raise InputError(f"unit '{written}' is not known", where=what, right=unit) from None
