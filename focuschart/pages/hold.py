"""What the attachment locked at a mark can hold, as a table for the card and bars for a sheet."""

from __future__ import annotations

import numpy as np

from focuschart.chart.locked import LockedRing, locked_ring
from focuschart.chart.model import RigChart
from focuschart.chart.rack_words import range_words
from focuschart.kit.schema import Kit
from focuschart.layout.card import Table
from focuschart.layout.zone_bars import Marked, Zone
from focuschart.optics.arrays import Floats
from focuschart.optics.depth_of_field import Limits
from focuschart.units import Units, distance_label, format_stop, scale_label

DISTANCE_UNIT = {"metric": "m", "imperial": "ft in", "both": "m ft"}
"""What heads a column of distances."""
_STILL_MM = 0.05


def hold_table(kit: Kit, chart: RigChart) -> Table:
    """Return near to far at each stop with the attachment locked at each mark, one hand pulling.

    The working stop's column must stay, the others are optional. Raises KeyError for a rig with a
    ring unread.
    """
    found = locked_ring(chart)
    columns = [
        [scale_label(float(distance), kit.units) for distance in chart.distances_mm],
        *(
            [range_words(found.zone, (j, i), kit.units) for i in range(len(chart.distances_mm))]
            for j in range(len(chart.stops))
        ),
    ]
    stops = [format_stop(float(stop)) for stop in chart.stops]
    headings = (DISTANCE_UNIT[kit.units], *stops)
    return Table(
        headings,
        tuple(zip(*columns, strict=True)),
        optional=len(stops) - 1,
        fuller="focuschart hold",
    )


def hold_bars(kit: Kit, chart: RigChart) -> tuple[Marked, ...]:
    """Return the zones of every mark, nearest first, as bars in dioptres about the mark."""
    found = locked_ring(chart)
    return tuple(
        Marked(
            distance_label(float(distance), kit.units),
            tuple(_zone(found, j, i, kit.units) for j in range(len(chart.stops))),
        )
        for i, distance in enumerate(chart.distances_mm)
    )


def _zone(found: LockedRing, j: int, i: int, units: Units) -> Zone:
    chart = found.chart
    near, far = range_words(found.zone, (j, i), units).split("–")
    turns = (f"{_whole(turn[j, i])}" for turn in found.turns_mm())
    return Zone(
        label=format_stop(float(chart.stops[j])),
        at_rest=_about(chart.frame, (j, i), chart.distances_mm),
        one_hand=_about(found.zone, (j, i), chart.distances_mm),
        near=near,
        far=far,
        turns=" / ".join(turns),
    )


def _whole(turn_mm: float) -> str:
    return "0" if abs(turn_mm) < _STILL_MM else f"{turn_mm:+.1f}"


def _about(limits: Limits, at: tuple[int, int], marks_mm: Floats) -> tuple[float, float]:
    """Return the limits in dioptres from the mark, nearer to the left of it."""
    ends = np.array([limits.near_mm[at], limits.far_mm[at]])
    near, far = 1000.0 * (1.0 / marks_mm[at[1]] - 1.0 / ends)
    return float(near), float(far)
