"""The three tags of a distance card: which of the distances in a table it states.

Each tag has eight ids of its own, so that three make 512, and their order on the card is known.
"""

from __future__ import annotations

import math
from collections.abc import Collection

import numpy as np

from focuschart.layout.tag.ids import POOLS
from focuschart.units import MM_PER_FOOT, MM_PER_INCH

TAGS = 3
_DIGITS = 8
_OFF_MM = 0.05


def _steps(unit_mm: float, *ranges: tuple[int, int, int, int]) -> list[float]:
    """Return distances from each range: first, last and step in parts of the unit, and parts."""
    return [
        number / parts * unit_mm
        for first, last, step, parts in ranges
        for number in range(first, last + 1, step)
    ]


DISTANCES_MM = np.array([
    math.inf,
    *_steps(1000.0, (10, 100, 1, 100), (105, 400, 5, 100), (41, 100, 1, 10), (11, 100, 1, 1)),
    *_steps(MM_PER_INCH, (6, 60, 1, 1)),
    *_steps(MM_PER_FOOT, (21, 48, 1, 4), (25, 60, 1, 2), (31, 100, 1, 1)),
])  # fmt: skip
"""The distances that cards can state; the table is part of what is printed and never reordered."""


def card_ids(distance_mm: float) -> tuple[int, ...] | None:
    """Return the ids of the tags of a distance's card, None where no card can state it."""
    number = np.flatnonzero(np.isclose(DISTANCES_MM, distance_mm, rtol=0.0, atol=_OFF_MM))
    if not len(number):
        return None
    digits = [int(number[0]) // _DIGITS**place % _DIGITS for place in range(TAGS)]
    return tuple(POOLS["card"].start + place * _DIGITS + n for place, n in enumerate(digits))


def card_distance_mm(numbers: Collection[int]) -> float | None:
    """Return the distance stated by the tags seen, None without a whole card or with two."""
    places = sorted(number - POOLS["card"].start for number in numbers if number in POOLS["card"])
    if [place // _DIGITS for place in places] != list(range(TAGS)):
        return None
    at = sum(place % _DIGITS * _DIGITS ** (place // _DIGITS) for place in places)
    return float(DISTANCES_MM[at]) if at < len(DISTANCES_MM) else None
