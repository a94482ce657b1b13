"""Which reading would help the least sure mark of a rig most, as marks are set by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from focuschart.bench.advice import Advice, Pair, Prospect, next_measurement, prospects
from focuschart.bench.shared import shared
from focuschart.chart.marks import RingMarks
from focuschart.chart.model import Chart
from focuschart.rig.ring import RINGS
from focuschart.scale.fit import HALF_WIDTH_95


def next_reading(chart: Chart) -> Advice:
    """Return the reading that helps most; raises KeyError for a rig with a ring unread."""
    taking, attachment = (chart.ring(which)[1].measured for which in RINGS)
    # The lens's own readings: others of the attachment may be wider than this lens opens.
    stop = min(row.reading.stop for row in taking.rows)
    together = shared(taking, attachment)
    return next_measurement(chart.kit, chart.rig, by_hand(chart), together, stop)


def by_hand(chart: Chart) -> Pair:
    """Return what is known of both rings with what setting marks by hand adds."""
    marks = {which: chart.ring(which)[1] for which in RINGS}
    measured = {which: ring.measured for which, ring in marks.items()}
    known = prospects(chart.rig, chart.working_stop, measured)
    return {which: _added(prospect, marks[which]) for which, prospect in known.items()}


def _added(prospect: Prospect, marks: RingMarks) -> Prospect:
    added = np.square(marks.arc_95_mm) - np.square(marks.bench_arc_95_mm)
    scale = marks.nearer_sign * marks.hand.print_scale * marks.arc_mm
    by_hand = np.maximum(added, 0.0) / HALF_WIDTH_95**2
    return replace(prospect, by_hand_mm2=by_hand, scale_mm=scale)
