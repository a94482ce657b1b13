"""The distances at which the page's slider stops: as the marks lie, and round ones between them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

from focuschart.pages.fine import steps_mm
from focuschart.units import Units

_TO_INFINITY = (1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 7.5, 10.0)
"""Multiples of the last mark before infinity."""
_PARTS = 6
"""Parts of a gap in which no round step is even."""
_GRAIN_MM = 10.0
_DECIMALS = 6


def slider_mm(marks_mm: Sequence[float], nearest_mm: float, units: Units) -> list[float]:
    """Return the slider's distances, rising, from the nearest that can be set to infinity.

    `marks_mm` rise. Steps follow the marks' spacing: about as many between any two.
    """
    first, last = marks_mm[0], marks_mm[-1]
    found = {*marks_mm, *_nearer(marks_mm, nearest_mm, units), math.inf}
    for near, far in pairwise(marks_mm):
        found.update(_between(near, far, units))
    if math.isfinite(last):
        found.update(last * multiple for multiple in _TO_INFINITY)
    least = min(nearest_mm, first)
    return sorted({round(each, _DECIMALS) for each in found if each >= least})


def _between(near: float, far: float, units: Units) -> Iterator[float]:
    if math.isinf(far):
        yield from (near * multiple for multiple in _TO_INFINITY)
        return
    even = next(steps_mm(near, far, units), ())
    if even:
        yield from even
        return
    for part in range(1, _PARTS):
        nearness = 1.0 / near + (1.0 / far - 1.0 / near) * part / _PARTS
        rounded = round(1.0 / nearness / _GRAIN_MM) * _GRAIN_MM
        if near < rounded < far:
            yield rounded


def _nearer(marks_mm: Sequence[float], nearest_mm: float, units: Units) -> Iterator[float]:
    """Yield steps from the first mark down to the nearest distance, as wide as the first gap's."""
    first = marks_mm[0]
    following = marks_mm[1] if len(marks_mm) > 1 else math.inf
    step = next(iter(_between(first, following, units)), 1.1 * first) - first
    step = min(step, max(first - nearest_mm, 1.0))
    count = int((first - nearest_mm) / step + 1e-9)
    yield from (first - step * number for number in range(1, count + 1))
    yield nearest_mm
