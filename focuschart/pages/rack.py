"""The sheet of a rack: a timed move of focus from mark to mark, to keep beside the rig."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from focuschart.chart.marks import RingMarks
from focuschart.chart.rack import Rack
from focuschart.chart.rack_words import (
    rack_cautions,
    rack_rows,
    rack_summary,
    rack_title,
    rack_way,
    slack_rows,
)
from focuschart.kit.schema import Kit
from focuschart.layout.page import Face, Page
from focuschart.layout.rack.rack_graph import Curve, Graph
from focuschart.layout.rack.rack_sheet import RackSheet, Rows, rack_page
from focuschart.optics.timing import smooth_share
from focuschart.pages.hold import hold_bars
from focuschart.prints.code import chart_code

_TIMES = 81
"""The number of points of a curve."""
HANDS = "How far a hand may be behind or ahead of the other before the frame is soft"
ZONES = (
    "Bars are to one scale in 1/distance, nearer to the left; distances are from the sensor mark, "
    "rounded inward. They suppose that the marks are right."
)


def rack_pages(kit: Kit, rack: Rack, *, seconds: float, face: Face, paper: str) -> list[Page]:
    """Return the one page of a rack; raises PageError where it does not fit the paper."""
    chart, units = rack.chart, kit.units
    steps = rack_rows(rack, units=units, seconds=seconds)
    sheet = RackSheet(
        title=f"{kit.name}: Rack",
        heading=f"{chart.rig.name}: {rack_title(rack, units)}",
        code=chart_code(chart),
        words=(rack_summary(rack), ZONES, *rack_cautions(rack, seconds=seconds)),
        tables=(
            (rack_way(rack, seconds=seconds), _rows(steps)),
            (HANDS, _rows(slack_rows(rack, seconds=seconds))),
        ),
        graph=Graph(
            seconds=seconds,
            stops_s=tuple((seconds * rack.time_share).tolist()),
            curves=(_curve("taking", rack.at.taking, rack),
                    _curve("attachment", rack.at.attachment, rack)),
        ),
        marks=hold_bars(chart),
    )  # fmt: skip
    return [rack_page(sheet, paper=paper, face=face)]


def _rows(rows: Iterator[Sequence[str]]) -> Rows:
    return tuple(tuple(row) for row in rows)


def _curve(label: str, ring: RingMarks, rack: Rack) -> Curve:
    """Return how far a ring has turned, mm of arc, at evenly spaced times of the move."""
    covered = smooth_share(np.linspace(0.0, 1.0, _TIMES))
    turned = np.interp(covered, rack.share, ring.arc_mm) - ring.arc_mm[0]
    return Curve(label, tuple((np.sign(turned[-1]) * turned).tolist()))
