"""How far apart middle, upper third and edge of the picture are sharp on the attachment's ring."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from focuschart.chart.model import Chart
from focuschart.chart.verdict import FULL_STOPS
from focuschart.units import format_stop


@dataclass(frozen=True, slots=True)
class Heights:
    """Where best focus lies off the marks, in tolerances at the working stop, by place.

    Each is that of the worst mark. `stop` is the first full stop at which every one is within a
    tolerance, None where none is slow enough.
    """

    off: Mapping[str, float]
    stop: float | None


def heights(chart: Chart) -> Heights | None:
    """Return how far other heights than the marks' are off, None for an attachment without marks.

    What the taking lens's own field adds is not known.
    """
    if chart.attachment is None:
        return None
    rig, marks = chart.rig, chart.attachment
    whole = rig.sensor.height_mm
    off = {}
    for place, height in (("middle", 0.0), ("third", whole / 6.0), ("edge", whole / 2.0)):
        arcs, _ = marks.measured.modelled(rig, chart.distances_mm, height)
        off[place] = float(np.max(np.abs(arcs - marks.arc_mm) / marks.tolerance_mm[0]))
    needed = max(chart.working_stop * max(off.values()), float(np.min(chart.stops)))
    stops = sorted({float(np.min(chart.stops)), *FULL_STOPS})
    return Heights(off, next((stop for stop in stops if stop >= needed), None))


def marked_for(height_mm: float) -> str:
    """Return the height that marks are for in words."""
    return f"{round(height_mm, 1):g} mm above the middle" if height_mm else "the middle"


def heights_text(chart: Chart) -> str:
    """Return one short sentence for which height the marks are, and how far others are off.

    It is empty for an attachment without marks.
    """
    found = heights(chart)
    if found is None:
        return ""
    others = ", ".join(f"{place} {off:.1f}" for place, off in found.off.items() if off >= 0.05)
    marked = f"For {marked_for(chart.rig.focus_height_mm)}"
    covers = "no stop" if found.stop is None else format_stop(found.stop)
    return f"{marked}; {others} tol off: {covers} covers." if others else f"{marked} and all else."
