"""Columns that several tables of a rig share: its distances, and the zone in focus at each stop."""

from __future__ import annotations

from focuschart.chart.model import Chart
from focuschart.chart.rack_words import range_words
from focuschart.optics.depth_of_field import Limits
from focuschart.units import format_stop, scale_label

DISTANCE_UNIT = {"metric": "m", "imperial": "ft in", "both": "m ft"}
"""The heading of a column of distances, by the kit's units."""


def mark_column(chart: Chart) -> list[str]:
    """Return the marks' distances with the same labels as on the strips."""
    return [scale_label(float(distance), chart.kit.units) for distance in chart.distances_mm]


def zone_columns(chart: Chart, zones: Limits) -> dict[str, list[str]]:
    """Return a column for each stop, by its heading: the zone, near to far, at each mark."""
    return {
        format_stop(float(stop)): [
            range_words(zones, (j, i), chart.kit.units) for i in range(len(chart.distances_mm))
        ]
        for j, stop in enumerate(chart.stops)
    }
