"""The document `barrels`: pictures of each strip on its barrel, to compare before taping."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np

from focuschart.chart.model import Chart
from focuschart.kit.ring import Ring
from focuschart.kit.schema import Kit
from focuschart.layout.page import Page, Shape
from focuschart.layout.rig.barrel import Barrel, BarrelSheet, Setting, barrel_page
from focuschart.layout.rig.cylinder import OutlineFace
from focuschart.layout.strip.marker import MarkerStrip, marker_strip
from focuschart.pages.strips import marker_of
from focuschart.units import distance_label

COMPARE = (
    "Before taping, hold each strip round its ring as it is drawn here and compare: the triangle "
    "at the words subject side points at the subject; the ticks lie at the ring's edge next to the "
    "fixed index, here the black pointer; the label at the index reads upright. The strip's "
    "millimetres are left out here. Then turn the ring "
    "the way of the bent arrow: the lens focuses nearer, and nearer labels come to the index.",
    "Where your ring does otherwise, do not tape the strip: put nearer_turns, index_side or "
    "read_from right in the kit file, and build again.",
)
_SEEN = {
    "behind": "seen from behind the camera, from above",
    "left": "seen from the camera's left side, from behind",
    "right": "seen from the camera's right side, from behind",
}


def barrel_pages(
    kit: Kit, charts: Sequence[Chart], *, face: OutlineFace, paper: str
) -> Mapping[str, list[Page]]:
    """Return the document `barrels`, one page per rig; empty where no ring has marks.

    Raises PageError where the drawing does not fit the paper.
    """
    rigs = [(chart, tuple(_barrels(chart, face))) for chart in charts]
    sheets = [
        BarrelSheet(f"{kit.name}: Strips on the barrel", chart.rig.name, COMPARE, barrels)
        for chart, barrels in rigs
        if barrels
    ]
    pages = [
        barrel_page(sheet, paper=paper, face=face, number=number, count=len(sheets))
        for number, sheet in enumerate(sheets, start=1)
    ]
    return {"barrels": pages} if pages else {}


def _barrels(chart: Chart, face: OutlineFace) -> Iterator[Barrel]:
    names = {"taking": chart.rig.lens.name, "attachment": chart.rig.attachment.name}
    for which, (ring, marks) in chart.rings().items():
        if marks is None:
            continue
        strip = marker_of(chart, which)
        yield Barrel(
            key=strip.key,
            heading=" ".join((f"{names[which]}, {_SEEN[ring.read_from]}.", *_remarks(ring))),
            note=f"Index on the {ring.index_side}'s side of the ring, here in the middle. "
            f"Turns {ring.nearer_turns} for nearer, seen from behind.",
            shapes=tuple(_compared(marker_strip(strip, face=face).shapes)),
            length_mm=strip.band.length_mm,
            width_mm=strip.band.width_mm,
            reader=strip.band.reader,
            index_side=strip.band.index_side,
            nearer_clockwise=not ring.rises_nearer,
            settings=tuple(_settings(chart, strip)),
        )


def _compared(shapes: Iterable[Shape]) -> Iterator[Shape]:
    """Yield the shapes drawn on a barrel: all but the millimetres, most of what is on a strip."""
    yield from (shape for shape in shapes if not shape.key.startswith("scale"))


def _remarks(ring: Ring) -> Iterator[str]:
    """Yield remarks on an unusual ring that its picture cannot show."""
    if ring.tapers:
        yield "It tapers; drawn as a cylinder."
    if ring.turns > 1:
        yield f"{ring.turns} turns: the row next to the index is the first."
    if ring.mirrored:
        yield "Printed mirrored; drawn as read through the tape."


def _settings(chart: Chart, strip: MarkerStrip) -> Iterator[Setting]:
    """Yield the settings drawn: farthest mark, the mark nearest mid-scale, and nearest mark."""
    distances, arcs = chart.distances_mm, np.array([mark.arc_mm for mark in strip.marks])
    far, near = int(np.argmax(distances)), int(np.argmin(distances))
    middle = int(np.argmin(np.abs(arcs - (arcs[far] + arcs[near]) / 2.0)))
    for index in dict.fromkeys((far, middle, near)):
        label = distance_label(float(distances[index]), chart.kit.units)
        yield Setting(label, strip.band.x(float(arcs[index])))
