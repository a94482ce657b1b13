"""The sheet of a rack, to lay by the rig."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from focuschart.chart.model import RingMarks
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
HANDS = "How far a hand may be behind or ahead of the other before the frame is soft"
ZONES = (
    "Bars are to one scale in 1/distance, nearer to the left; distances are from the sensor mark, "
    "rounded inward. They suppose that the marks are right."
)


def rack_pages(kit: Kit, found: Rack, *, seconds: float, face: Face, paper: str) -> list[Page]:
    """Return the one page of a rack; raises PageError for what does not fit the paper."""
    chart, units = found.chart, kit.units
    steps = rack_rows(found, units=units, seconds=seconds)
    sheet = RackSheet(
        title=f"{kit.name}: Rack",
        heading=f"{chart.rig.name}: {rack_title(found, units)}",
        code=chart_code(chart),
        words=(rack_summary(found), ZONES, *rack_cautions(found, seconds=seconds)),
        tables=(
            (rack_way(found, seconds=seconds), _rows(steps)),
            (HANDS, _rows(slack_rows(found, seconds=seconds))),
        ),
        graph=Graph(
            seconds=seconds,
            stops_s=tuple((seconds * found.time_share).tolist()),
            curves=(_curve("taking", found.at.taking, found),
                    _curve("attachment", found.at.attachment, found)),
        ),
        marks=hold_bars(kit, chart),
    )  # fmt: skip
    return [rack_page(sheet, paper=paper, face=face)]


def _rows(rows: Iterator[Sequence[str]]) -> Rows:
    return tuple(tuple(row) for row in rows)


def _curve(label: str, ring: RingMarks, found: Rack) -> Curve:
    """Return how far a ring has turned at even times of the move."""
    gone = smooth_share(np.linspace(0.0, 1.0, _TIMES))
    turned = np.interp(gone, found.share, ring.arc_mm) - ring.arc_mm[0]
    return Curve(label, tuple((np.sign(turned[-1]) * turned).tolist()))
