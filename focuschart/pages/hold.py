"""The zones in focus with the attachment locked at a mark: a card's table and a sheet's bars."""

from __future__ import annotations

import numpy as np

from focuschart.chart.locked import LockedRing, locked_ring
from focuschart.chart.model import Chart
from focuschart.layout.card.card import Table
from focuschart.layout.rack.zone_bars import Marked, Zone
from focuschart.optics.arrays import Floats
from focuschart.optics.depth_of_field import Limits
from focuschart.pages.columns import DISTANCE_UNIT, mark_column, zone_columns
from focuschart.units import Units, distance_label, format_limits, format_stop


def hold_table(chart: Chart) -> Table:
    """Return the zone at each mark and stop: attachment locked at the mark, taking ring pulled.

    The working stop's column must stay, the others may be left out. Raises KitError for a rig with
    an unmeasured ring.
    """
    zones = zone_columns(chart, locked_ring(chart).zone)
    return Table(
        (DISTANCE_UNIT[chart.kit.units], *zones),
        tuple(zip(mark_column(chart), *zones.values(), strict=True)),
        optional=len(zones) - 1,
        fuller="focuschart hold",
    )


def hold_bars(chart: Chart) -> tuple[Marked, ...]:
    """Return bars for the zones at each mark, in dioptres from the mark.

    Raises KitError for a rig with an unmeasured ring.
    """
    locked = locked_ring(chart)
    return tuple(
        Marked(
            distance_label(float(distance), chart.kit.units),
            tuple(_zone(locked, j, i, chart.kit.units) for j in range(len(chart.stops))),
        )
        for i, distance in enumerate(chart.distances_mm)
    )


def _zone(locked: LockedRing, j: int, i: int, units: Units) -> Zone:
    """Return the zone at stop j and mark i."""
    chart, zone = locked.chart, locked.zone
    near, far = format_limits(float(zone.near_mm[j, i]), float(zone.far_mm[j, i]), units)
    return Zone(
        label=format_stop(float(chart.stops[j])),
        at_rest=_about(chart.frame, (j, i), chart.distances_mm),
        one_hand=_about(zone, (j, i), chart.distances_mm),
        near=near,
        far=far,
        turns=" / ".join(_turn(turn[j, i]) for turn in locked.turns_mm()),
    )


def _turn(turn_mm: float) -> str:
    """Return a signed turn in mm; a turn that rounds to nothing has no sign."""
    text = f"{turn_mm:+.1f}"
    return text if float(text) else "0"


def _about(limits: Limits, at: tuple[int, int], marks_mm: Floats) -> tuple[float, float]:
    """Return the near and far limit at `at` (stop, mark) in dioptres from the mark, near < 0."""
    ends = np.array([limits.near_mm[at], limits.far_mm[at]])
    near, far = 1000.0 * (1.0 / marks_mm[at[1]] - 1.0 / ends)
    return float(near), float(far)
