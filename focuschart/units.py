"""Lengths, masses and stops as people write them, to and from mm, grams and f-numbers."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Literal

from focuschart.errors import UnitError

MM_PER_INCH = 25.4
"""Exactly, by the international yard and pound agreement of 1959."""
INCHES_PER_FOOT = 12
MM_PER_FOOT = 304.8
OUNCES_PER_POUND = 16

_STEADY_DIGITS = 7
_STEADY_DECIMALS = 6

Units = Literal["metric", "imperial", "both"]

_INCH_MM = Fraction("25.4")
_FOOT_MM = INCHES_PER_FOOT * _INCH_MM
_MM_PER_UNIT: Mapping[str, Fraction] = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": _INCH_MM,
    '"': _INCH_MM,
    "ft": _FOOT_MM,
    "'": _FOOT_MM,
}
"""Exact fractions, so that equal lengths are equal in all units."""
_NUMBER = r"(?:\d+(?:\.\d+)?|\.\d+)"
_FRACTION = r"\d+/\d+"
_AMOUNT = rf"(?P<number>{_NUMBER}(?![\d./]))?\s*(?P<fraction>{_FRACTION})?"
_LENGTH_TERM = re.compile(rf"\s*{_AMOUNT}\s*(?P<unit>mm|cm|m|in|ft|\"|')")
_LENGTH_RULE = 'write a number and a unit, for example "72 mm", "0.6 m" or "6 ft 3 in"'
_POUND_G = Fraction("453.59237")
"""Exactly, by the agreement of 1959."""
_GRAMS_PER_UNIT: Mapping[str, Fraction] = {
    "g": Fraction(1),
    "kg": Fraction(1000),
    "lb": _POUND_G,
    "oz": _POUND_G / OUNCES_PER_POUND,
}
_MASS_TERM = re.compile(rf"\s*{_AMOUNT}\s*(?P<unit>kg|g|lb|oz)")
_MASS_RULE = 'write a number and a unit, for example "640 g", "1.4 kg" or "3 lb 2 oz"'
_MAX_TEXT = 40
INFINITY_TEXT = "inf"
INFINITY_SIGN = "∞"


def parse_length(text: str) -> float:
    """Return millimetres for text such as "72 mm", "0.6 m", "6 ft 3 in", "2 1/2 in" or "inf".

    It is the float nearest to the exact length, so that 3 ft 6 in, 3.5 ft and 42 in are equal.
    Raises UnitError, with the cure, for any other text.
    """
    stripped = text.strip()
    if stripped in (INFINITY_TEXT, INFINITY_SIGN):
        return math.inf
    if len(stripped) > _MAX_TEXT:
        raise UnitError(f'a length has at most {_MAX_TEXT} characters, for example "72 mm"')
    terms = _terms(stripped, _LENGTH_TERM, _LENGTH_RULE)
    units = [unit for _, unit in terms]
    if len(terms) > 1 and [_MM_PER_UNIT[unit] for unit in units] != [_FOOT_MM, _INCH_MM]:
        raise UnitError('only feet and inches go together, for example "6 ft 3 in"')
    return float(sum(amount * _MM_PER_UNIT[unit] for amount, unit in terms))


def parse_mass(text: str) -> float:
    """Return grams for text such as "640 g", "1.4 kg" or "3 lb 2 oz".

    Raises UnitError, with the cure, for any other text.
    """
    stripped = text.strip()
    if len(stripped) > _MAX_TEXT:
        raise UnitError(f'a mass has at most {_MAX_TEXT} characters, for example "640 g"')
    terms = _terms(stripped, _MASS_TERM, _MASS_RULE)
    if len(terms) > 1 and [unit for _, unit in terms] != ["lb", "oz"]:
        raise UnitError('only pounds and ounces go together, for example "3 lb 2 oz"')
    return float(sum(amount * _GRAMS_PER_UNIT[unit] for amount, unit in terms))


def _terms(text: str, term: re.Pattern[str], rule: str) -> list[tuple[Fraction, str]]:
    terms, position = [], 0
    while position < len(text):
        match = term.match(text, position)
        if not match or not (match["number"] or match["fraction"]):
            raise UnitError(rule)
        terms.append((_amount(match), match["unit"]))
        position = match.end()
    if not terms:
        raise UnitError(rule)
    return terms


def _amount(match: re.Match[str]) -> Fraction:
    amount = Fraction(match["number"] or 0)
    if match["fraction"]:
        above, below = (int(part) for part in match["fraction"].split("/"))
        if below == 0:
            raise UnitError("a fraction cannot be divided by zero")
        amount += Fraction(above, below)
    return amount


def format_stop(stop: float) -> str:
    """Return an f-number as engraved, "f/2.8"."""
    return f"f/{stop:g}"


def format_length(length_mm: float) -> str:
    """Return text for `parse_length` to read back, in metres from 1 m on, else in millimetres."""
    if math.isinf(length_mm):
        return INFINITY_TEXT
    if length_mm >= 1000:
        return f"{length_mm / 1000:.10g} m"
    return f"{length_mm:.10g} mm"


def format_mass(mass_g: float) -> str:
    """Return text for `parse_mass` to read back, in kilograms from 1 kg on, else in grams."""
    return f"{mass_g / 1000:.10g} kg" if mass_g >= 1000 else f"{mass_g:.10g} g"


def mass_label(mass_g: float, units: Units) -> str:
    """Return a mass to the gram, below 10 g to a tenth, or in imperial units as "4 lb 13 oz".

    Ounces are whole, below a pound to a tenth.
    """
    if units != "imperial":
        return format_mass(round(mass_g, 0 if mass_g >= 10.0 else 1))
    ounces = mass_g / float(_GRAMS_PER_UNIT["oz"])
    pounds, rest = divmod(round(ounces), OUNCES_PER_POUND)
    if not pounds:
        return f"{round(ounces, 1):g} oz"
    return f"{pounds} lb" + (f" {rest} oz" if rest else "")


def place_label(place_mm: float, units: Units) -> str:
    """Return a length along a rig in whole millimetres, or in inches to a tenth."""
    unit = '"' if units == "imperial" else " mm"
    return f"{place_figure(place_mm, units)}{unit}"


def place_figure(place_mm: float, units: Units) -> str:
    """Return the same without its unit."""
    if units != "imperial":
        return f"{place_mm:.0f}"
    return f"{round(place_mm / MM_PER_INCH, 1):g}"


def steady(value: float) -> float:
    """Return a number as written for programs: seven significant digits, at most six decimals.

    Rounded so, it is the same with every Python, numpy and processor. These may sum in another
    order, and then fitted numbers differ by up to 2e-8 (in the sample kits, with other kernels of
    numpy, none of 5,243 rounded numbers differs; two do with eight digits, 1,190 unrounded). Its
    error is up to 5e-7 of it, half a micrometre in a metre. Infinity and nan stay.
    """
    if not math.isfinite(value):
        return value
    return round(float(f"{value:.{_STEADY_DIGITS}g}"), _STEADY_DECIMALS) + 0.0  # no -0


def _trimmed(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def metric_label(distance_mm: float) -> str:
    """Return a distance in metres, to the millimetre: "1.2 m", or "∞"."""
    if math.isinf(distance_mm):
        return INFINITY_SIGN
    return f"{_trimmed(distance_mm / 1000, 3)} m"


def imperial_label(distance_mm: float, *, decimals: int = 1) -> str:
    """Return a distance in feet and inches (with `decimals`): 4'11" or 6', or "∞"."""
    if math.isinf(distance_mm):
        return INFINITY_SIGN
    return _feet_inches(round(distance_mm / MM_PER_INCH, decimals))


def _feet_inches(inches: float) -> str:
    feet, rest = divmod(inches, INCHES_PER_FOOT)
    rest_text = _trimmed(rest, 2)
    if feet == 0:
        return f'{rest_text}"'
    return f"{feet:.0f}'" + (f'{rest_text}"' if rest_text != "0" else "")


def distance_label(distance_mm: float, units: Units) -> str:
    """Return a mark's distance in the units of the kit."""
    if units == "metric" or (units == "both" and math.isinf(distance_mm)):
        return metric_label(distance_mm)
    if units == "imperial":
        return imperial_label(distance_mm)
    return f"{metric_label(distance_mm)} {imperial_label(distance_mm)}"


def scale_label(distance_mm: float, units: Units) -> str:
    """Return a distance without "m", as short as on a ring's scale: "1.2", 4'6" or "∞"."""
    if math.isinf(distance_mm):
        return INFINITY_SIGN
    return distance_label(distance_mm, units).replace(" m", "")


def scale_reading(distance_mm: float, units: Units) -> str:
    """Return a reading of an engraved scale: "1.48", three figures, or 4'10", whole inches."""
    if math.isinf(distance_mm):
        return INFINITY_SIGN
    if units == "imperial":
        return _feet_inches(round(distance_mm / MM_PER_INCH))
    return f"{float(f'{distance_mm / 1000:.3g}'):g}"  # never as 1e+03


def roundness(distance_mm: float, units: Units) -> int:
    """Return the rank of a distance: 0 for the roundest (10 m, 10 ft), more for others."""
    value = distance_mm / (MM_PER_FOOT if units == "imperial" else 1000.0)
    steps = (10.0, 5.0, 2.0, 1.0, 0.5, 0.1)
    return next((i for i, step in enumerate(steps) if _is_multiple(value, step)), len(steps))


def _is_multiple(value: float, step: float) -> bool:
    return math.isfinite(value) and abs(value / step - round(value / step)) < 1e-6


def format_range(near_mm: float, far_mm: float, units: Units) -> str:
    """Return near and far limit as text, each rounded inward so as not to promise too much."""
    return "–".join(format_limits(near_mm, far_mm, units))


def format_limits(near_mm: float, far_mm: float, units: Units) -> tuple[str, str]:
    """Return the texts of the near and the far limit of `format_range`."""
    if units == "imperial":
        near, far, step = _inward(near_mm / MM_PER_INCH, far_mm / MM_PER_INCH, _INCH_STEPS)
        return _imperial_limit(near), _imperial_limit(far)
    near, far, step = _inward(near_mm / 1000, far_mm / 1000, _METRE_STEPS)
    decimals = _METRE_STEPS.index(step)
    return _metre_limit(near, decimals), _metre_limit(far, decimals)


_METRE_STEPS = (1.0, 0.1, 0.01, 0.001, 0.0001)
_INCH_STEPS = (12.0, 1.0, 0.5, 0.1, 0.01)


def _inward(near: float, far: float, steps: Sequence[float]) -> tuple[float, float, float]:
    """Return near rounded up, far rounded down, and the step used.

    It is the coarsest step that loses less than a tenth of the zone; the last step is only for
    zones that vanish with the one before.
    """
    span = near if math.isinf(far) else far - near
    for step in steps:
        rounded = (_up(near, step), _down(far, step), step)
        loss = rounded[0] - near + (0.0 if math.isinf(far) else far - rounded[1])
        if rounded[0] < rounded[1] and (loss <= 0.1 * span or step == steps[-2]):
            break
    return rounded


def _up(value: float, step: float) -> float:
    return math.ceil(value / step - 1e-9) * step


def _down(value: float, step: float) -> float:
    return value if math.isinf(value) else math.floor(value / step + 1e-9) * step


def _metre_limit(metres: float, decimals: int) -> str:
    return INFINITY_SIGN if math.isinf(metres) else f"{metres:.{decimals}f}"


def _imperial_limit(inches: float) -> str:
    return INFINITY_SIGN if math.isinf(inches) else _feet_inches(round(inches, 2))
