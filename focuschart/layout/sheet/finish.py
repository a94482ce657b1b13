"""How pieces are printed and cut: copies, orientation, bleed, and film round the paper."""

from __future__ import annotations

import math
from dataclasses import dataclass

from focuschart.errors import PageError, shown
from focuschart.layout.sheet.cut_marks import MARK_REACH_MM
from focuschart.layout.sheet.papers import Way

MOST_COPIES = 100
_MOST_BLEED_MM, _MOST_FILM_MM = 10.0, 20.0


@dataclass(frozen=True, slots=True)
class Finish:
    """Copies of each piece, orientation of the sheet, bleed, and film beyond the paper."""

    copies: int = 1
    way: Way = "auto"
    bleed_mm: float = 0.0
    film_mm: float = 0.0

    def __post_init__(self) -> None:
        """Raise PageError for a value out of range; `way` is checked later, with the paper."""
        if isinstance(self.copies, bool) or not isinstance(self.copies, int):
            raise PageError(f"copies are {shown(self.copies)}: give a whole number")
        if not 1 <= self.copies <= MOST_COPIES:
            given = shown(self.copies)
            raise PageError(f"copies are {given}: give a whole number from 1 to {MOST_COPIES}")
        _require("bleed", self.bleed_mm, _MOST_BLEED_MM)
        _require("film margin", self.film_mm, _MOST_FILM_MM)

    @property
    def reach_mm(self) -> float:
        """How far crop marks and film reach outside the paper's cut."""
        return max(self.bleed_mm + MARK_REACH_MM, self.film_mm)


def _require(what: str, value_mm: float, most_mm: float) -> None:
    if not (math.isfinite(value_mm) and 0.0 <= value_mm <= most_mm):
        raise PageError(f"a {what} of {value_mm:g} mm is not from 0 to {most_mm:g} mm")
