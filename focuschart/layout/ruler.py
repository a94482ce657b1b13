"""The ruler strip: blank millimetres round a ring, to take readings with."""

from __future__ import annotations

import math

from focuschart.layout.block import Block, cut_box
from focuschart.layout.caption import Caption, gaps, set_captions
from focuschart.layout.page import Face, Path, Shape, line
from focuschart.layout.ring import LEAD_IN_MM, RingBand
from focuschart.layout.typeset import SMALLEST_CAP_MM

_LENGTHS = {10: 4.2, 5: 3.2, 1: 2.2}


def ruler_strip(band: RingBand, captions: tuple[Caption, ...], *, face: Face) -> Block:
    """Return a ruler strip: a tick each millimetre from the zero line, a figure every ten.

    Left of zero they count as negative, so that a ring may pass its zero.
    """
    first, last = math.ceil(-LEAD_IN_MM), math.ceil(band.length_mm - LEAD_IN_MM) - 1
    ticks = [_tick(band, arc) for arc in range(first, last + 1)]
    figures: list[Shape] = [
        band.text(f"{arc}", band.x(arc), band.y(_LENGTHS[10] + 1.7), cap_mm=SMALLEST_CAP_MM,
                  key=f"figure:{arc}")
        for arc in range(10, last - 1, 10)
    ]  # fmt: skip
    upper = band.width_mm - _LENGTHS[10] - 3.0
    written, spans = set_captions(
        captions, gaps([band.zero_span, band.seam_span], band.length_mm),
        height_mm=max(upper, 0.0), face=face,
    )  # fmt: skip
    lift = band.width_mm - upper if band.index_side == "camera" else 0.0
    shapes = (*band.frame(), *ticks, *figures, *(shape.moved(0.0, lift) for shape in written))
    keep = (*((band.x(arc) - 2.5, band.x(arc) + 2.5) for arc in range(0, last, 10)), *spans)
    outline = cut_box(band.total_mm, band.width_mm)
    return Block(band.total_mm, band.width_mm, shapes, outline, (*keep, band.seam_span))


def _tick(band: RingBand, arc: int) -> Path:
    size = next(length for step, length in _LENGTHS.items() if arc % step == 0)
    x = band.x(arc)
    stroke = 0.2 if arc % 10 == 0 else 0.13
    return line((x, band.y(0.0)), (x, band.y(size)), stroke_mm=stroke, key=f"mm:{arc}")
