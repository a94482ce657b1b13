"""How far a ring may be from a mark, at the mark where that is least."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from focuschart.optics.arrays import Floats

if TYPE_CHECKING:
    from focuschart.chart.marks import RingMarks
    from focuschart.chart.model import Chart


def shortest_mm(chart: Chart, marks: RingMarks) -> Floats:
    """Return the zone's near and far side at each stop (m × 2), mm: the shortest over all marks.

    So none is promised too much. Limits beyond infinity or nearer than the rings reach say
    nothing of a zone's length; 0 where no mark says anything.
    """
    ends = max(chart.rig.lens.nearest, chart.rig.attachment.nearest)
    near = np.abs(marks.near_arc_mm - marks.arc_mm)
    far = np.abs(marks.far_arc_mm - marks.arc_mm)
    near = np.where(chart.frame.near_mm > ends, near, np.inf).min(axis=1)
    far = np.where(np.isfinite(chart.frame.far_mm), far, np.inf).min(axis=1)
    sides = np.stack((near, far), axis=1)
    return np.where(np.isfinite(sides), sides, 0.0)
