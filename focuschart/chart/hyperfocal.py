"""The hyperfocal distance: from where on a rig focused there is sharp to infinity."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from focuschart.chart.depth import depth_of_field
from focuschart.chart.model import Chart
from focuschart.optics.arrays import Floats
from focuschart.optics.depth_of_field import Limits

_TRIED = np.geomspace(0.7, 1.6, 200)
"""Of the near limit at infinity, which a thin lens's hyperfocal distance equals but for v/f."""


def hyperfocal_mm(chart: Chart) -> Floats:
    """Return, for each stop (m), the nearest distance from which both rings reach to infinity.

    Both meridians are sharp from the frame's near limit to infinity there. It is at most half a
    per cent too far; nan where there is none, as without a scale of the attachment.
    """
    if chart.attachment is None:
        return np.full(len(chart.stops), np.nan)
    close = _frame(chart, np.array([np.inf])).near_mm[:, 0]
    tried = close[:, np.newaxis] * _TRIED
    far = _frame(chart, tried.ravel()).far_mm.reshape(len(chart.stops), *tried.shape)
    stops = np.arange(len(chart.stops))
    endless = np.isinf(far[stops, stops])
    found = tried[stops, np.argmax(endless, axis=1)]
    return np.where(np.any(endless, axis=1), found, np.nan)


def _frame(chart: Chart, distances_mm: Floats) -> Limits:
    """Return the frame's limits (m × n) with both rings set for other distances (n)."""
    rig = replace(chart.rig, distances_mm=distances_mm)
    known_by = chart.lens_known_by
    return depth_of_field(rig, stops=chart.stops, glass=chart.glass, known_by=known_by).frame
