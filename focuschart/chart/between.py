"""Where a measured ring stands for distances beside its marks."""

from __future__ import annotations

from focuschart.chart.bench import Which
from focuschart.chart.model import RigChart
from focuschart.optics.arrays import Floats


def ring_arc_mm(chart: RigChart, which: Which, distance_mm: Floats) -> Floats:
    """Return one measured ring's arcs for subjects at `distance_mm` (n) from the sensor.

    Raises KeyError for a ring without readings.
    """
    _, marks = chart.ring(which)
    rig, measured = chart.rig, marks.measured
    position = rig.lens_position_mm if which == "taking" else rig.glass_position_mm
    return measured.scale.arc_mm(position(distance_mm), pool=measured.lens_number(rig.lens_id))
