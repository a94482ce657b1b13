"""The fine ticks between two marks of a strip, at round steps of distance that can be counted."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from focuschart.chart.model import Chart
from focuschart.layout.strip.ticks import Between
from focuschart.rig.ring import Which
from focuschart.units import MM_PER_INCH, Units

_METRIC_MM = (10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0, 10000.0)
_IMPERIAL_MM = tuple(inches * MM_PER_INCH for inches in (1, 2, 3, 6, 12, 24, 60, 120))
_MOST = {"metric": 9, "imperial": 11, "both": 9}
"""The largest number of ticks between two marks."""


def steps_mm(near_mm: float, far_mm: float, units: Units) -> Iterator[tuple[float, ...]]:
    """Yield the distances (mm) of the ticks for each round step that divides the gap, finest first.

    A step divides it if both marks are its multiples. Below infinity there is a single tick, at
    twice the last distance: half-way in dioptres.
    """
    if math.isinf(far_mm):
        yield (2.0 * near_mm,)
        return
    for step in _IMPERIAL_MM if units == "imperial" else _METRIC_MM:
        first, last = near_mm / step, far_mm / step
        round_both = abs(first - round(first)) < 1e-6 and abs(last - round(last)) < 1e-6
        if round_both and 2 <= round(last) - round(first) <= _MOST[units] + 1:
            yield tuple(step * number for number in range(round(first) + 1, round(last)))


def between(chart: Chart, which: Which) -> Iterator[Between]:
    """Yield, for each two neighbouring marks of a measured ring, the arcs of the ticks between."""
    _, marks = chart.ring(which)
    order = np.argsort(chart.distances_mm).tolist()
    for near, far in pairwise(order):
        low, high = (float(chart.distances_mm[end]) for end in (near, far))
        choices = steps_mm(low, high, chart.kit.units)
        arcs = tuple(
            tuple(marks.measured.arc_mm(chart.rig, np.array(ticks)).tolist())
            for ticks in choices
            if ticks
        )
        yield Between(near, far, arcs)
