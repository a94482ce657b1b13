"""What people type, made into what a kit has: other signs, decimal commas, units in full.

A text that could mean two things is refused, never guessed.
"""

from __future__ import annotations

import re
import unicodedata

from focuschart.errors import UnitError
from focuschart.units import INFINITY_SIGN, INFINITY_TEXT, parse_length

_NOTHING = dict.fromkeys("\u200b\u200c\u200d\u2060\ufeff\u00ad", "")
"""Signs that are not seen, which come with copied texts."""
_SIGNS = str.maketrans({
    **_NOTHING,
    **dict.fromkeys("‘’‚‛′´`ʹ", "'"),
    **dict.fromkeys("“”„‟″ʺ", '"'),
    **dict.fromkeys("‐‑‒–—−﹣－", "-"),
    "⁄": "/",
    "∕": "/",
    "ƒ": "f",
    "×": "x",
})  # fmt: skip
_FIGURE = re.compile(r"[\d.,]*\d[.,]\d[\d.,]*")
_GROUPED = re.compile(r"[1-9]\d{0,2},\d{3}")
_UNITS = {
    **dict.fromkeys(("millimetre", "millimetres", "millimeter", "millimeters"), "mm"),
    **dict.fromkeys(("centimetre", "centimetres", "centimeter", "centimeters"), "cm"),
    **dict.fromkeys(("metre", "metres", "meter", "meters"), "m"),
    **dict.fromkeys(("foot", "feet"), "ft"),
    **dict.fromkeys(("inch", "inches"), "in"),
}
_INFINITY = (INFINITY_TEXT, "infinity", "infinite", INFINITY_SIGN)
_METRES_ON = re.compile(r"(\d+) ?m ?(\d{1,3}) ?(cm|mm|)")
_FEET_ON = re.compile(r"(\d+ ?(?:ft|')) ?([\d./ ]+)")
_NUMBER = r"-?(?:\d+(?:\.\d+)?|\.\d+)"
_STOP = re.compile(rf"(?:f ?/? ?|1 ?: ?)?({_NUMBER})", re.IGNORECASE)
_FACTOR = re.compile(rf"({_NUMBER}) ?x?", re.IGNORECASE)
_RULER = re.compile(rf"({_NUMBER}) ?(?:mm)?", re.IGNORECASE)
_SECONDS = re.compile(rf"({_NUMBER}) ?s?", re.IGNORECASE)
_ENTRY_ENDS = re.compile(r";|,(?=\s|$)|(?<!\d),|,(?!\d)")


def plain(text: str) -> str:
    """Return a text with plain quotes, hyphens, spaces and fractions in place of typeset ones."""
    spelt = "".join(map(_fraction, text.translate(_SIGNS)))
    return " ".join(unicodedata.normalize("NFKC", spelt).translate(_SIGNS).split())


def _fraction(sign: str) -> str:
    """Return ½ as " 1/2", so that 2½ stays two and a half."""
    fraction = unicodedata.decomposition(sign).startswith("<fraction>")
    return f" {unicodedata.normalize('NFKC', sign)}" if fraction else sign


def typed_quantity(text: str) -> str:
    """Return a quantity with plain signs and decimal points, "62,9 mm" as "62.9 mm".

    Raises UnitError, with the cure, for a comma that could be one or part thousands.
    """
    return _FIGURE.sub(lambda found: _with_point(found[0]), plain(text))


def _with_point(figure: str) -> str:
    if "," not in figure:
        return figure
    if figure.count(",") + figure.count(".") > 1:
        raise UnitError(f"{figure} can be read in two ways, write one decimal point and no comma")
    point, none = figure.replace(",", "."), figure.replace(",", "")
    if _GROUPED.fullmatch(figure):
        raise UnitError(f"{figure} could be {point} or {none}, write the one that you mean")
    return point


def typed_length(text: str) -> str:
    """Return a length as `parse_length` reads it: "1,5 m", "2 m 10", "6′3″", "infinity".

    One that it reads already stays as typed. Raises UnitError, with the cure, for any other text.
    """
    stripped = text.strip()
    try:
        parse_length(stripped)
    except UnitError:
        found = _respelt(stripped)
        parse_length(found)
        return found
    return stripped


def _respelt(text: str) -> str:
    found = typed_quantity(text)
    if len(found) > 1 and found[0] in "\"'" and found[0] == found[-1]:
        found = found[1:-1].strip()
    found = re.sub(r"[A-Za-z]+\.?", _unit, found.replace("''", '"'))
    if found.casefold() in _INFINITY:
        return INFINITY_TEXT
    if metres := _METRES_ON.fullmatch(found):
        return _metres(metres[1], metres[2], metres[3])
    if feet := _FEET_ON.fullmatch(found):
        return f"{feet[1]} {feet[2]} in"
    return found


def _unit(found: re.Match[str]) -> str:
    word = found[0].casefold().rstrip(".")
    return _UNITS.get(word, word)


def _metres(whole: str, rest: str, unit: str) -> str:
    """Return metres and what comes after them: two figures alone are cm, three are mm."""
    if not unit and len(rest) == 1:
        ways = f"{whole}.0{rest} m or {whole}.{rest} m"
        raise UnitError(f"{whole} m {rest} can be read in two ways, write {ways}")
    digits = rest.rjust(2 if unit == "cm" else 3 if unit == "mm" else len(rest), "0")
    return f"{whole}.{digits} m"


def typed_stop(text: str) -> float:
    """Return the f-number that "f/2.8", "F2,8", "1:2.8" or "2.8" says, else raise UnitError."""
    return _number(text, _STOP, "write a plain number, for example 2.8")


def typed_factor(text: str) -> float:
    """Return the number that "1.5", "1,5x" or "2×" says, else raise UnitError."""
    return _number(text, _FACTOR, "write a plain number, for example 1.5")


def typed_figure(text: str) -> float:
    """Return the ruler figure, mm, that "62,9" or "62.9 mm" says, else raise UnitError."""
    return _number(text, _RULER, "write the figure on the ruler in mm, for example 62.9")


def _number(text: str, pattern: re.Pattern[str], rule: str) -> float:
    found = pattern.fullmatch(typed_quantity(text))
    if not found:
        raise UnitError(rule)
    return float(found[1])


def typed_seconds(text: str) -> float:
    """Return the seconds that "2,5" or "2.5 s" says, else raise UnitError."""
    return _number(text, _SECONDS, "write a number of seconds, for example 2.5")


def typed_offset(text: str) -> str:
    """Return a length that may have a minus sign, as `typed_length` returns one without."""
    typed = plain(text)
    if typed.startswith("-"):
        return f"-{typed_length(typed[1:])}"
    return typed_length(text)


def typed_list(text: str) -> list[str]:
    """Return the entries of a list, which part at ";" or at a comma that no digits stand about.

    Raises UnitError for digits with several commas or points in between.
    """
    entries = [entry.strip() for entry in _ENTRY_ENDS.split(text.strip())]
    for figure in (found[0] for entry in entries for found in _FIGURE.finditer(entry)):
        if figure.count(",") + figure.count(".") > 1:
            raise UnitError(f"{figure}: part entries with a semicolon, or with a comma and a space")
    return entries
