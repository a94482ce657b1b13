"""The ruler's own millimetres on a marker strip: a figure read there is a ruler figure.

They hang from the edge of each row away from the index.
"""

from __future__ import annotations

from collections.abc import Iterator

from focuschart.layout.page import Face, Shape, line
from focuschart.layout.sheet.block import Loose
from focuschart.layout.strip.band import RingBand
from focuschart.layout.text.typeset import SMALLEST_CAP_MM, widest

_LENGTHS = {10: 1.1, 5: 0.85, 1: 0.55}
_STROKE_MM = 0.12
_GAP_MM = 0.3
"""Between ticks and figures, and below both."""
_ASIDE_MM = 1.1
"""Least gap between a figure and the zero line, the seam or an end."""


def heights_mm(band: RingBand, *, face: Face) -> tuple[float, float]:
    """Return how much of a row the millimetres take: with figures, and without."""
    bare = _LENGTHS[10] + _GAP_MM
    return bare + _across_mm(band, face) + _GAP_MM, bare


def _across_mm(band: RingBand, face: Face) -> float:
    """Return the height that figures take, which run across the strip for a reader at the side."""
    if band.reader == "behind":
        return SMALLEST_CAP_MM
    return widest([f"{arc}" for arc in _tens(band)], face=face, cap_mm=SMALLEST_CAP_MM)


def millimetres(band: RingBand, *, face: Face) -> Iterator[Shape]:
    """Yield the ticks of a band that keeps a scale's height free, and figures where it has room."""
    if band.scale_mm:
        for turn in range(band.turns):
            for arc in band.whole_mm(turn):
                high = next(size for step, size in _LENGTHS.items() if arc % step == 0)
                x, top = band.x(arc), band.row_mm
                ends = ((x, band.row_y(turn, top)), (x, band.row_y(turn, top - high)))
                yield line(*ends, stroke_mm=_STROKE_MM, key=f"scale:{arc}")
        down = _LENGTHS[10] + _GAP_MM + _across_mm(band, face) / 2.0
        for arc, _ in _figures(band, face):
            y = band.row_y(band.turn(arc), band.row_mm - down)
            key = f"scale-figure:{arc}"
            yield band.text(f"{arc}", band.x(arc), y, cap_mm=SMALLEST_CAP_MM, key=key)


def loose_figures(band: RingBand, *, face: Face) -> tuple[Loose, ...]:
    """Return the figures as texts that move aside for a join."""
    return tuple(Loose(f"scale-figure:{arc}", half) for arc, half in _figures(band, face))


def _figures(band: RingBand, face: Face) -> Iterator[tuple[int, float]]:
    """Yield the figures that are written, with half the length each takes along the strip."""
    if band.scale_mm < heights_mm(band, face=face)[0]:
        return
    for arc in _tens(band):
        along = SMALLEST_CAP_MM
        if band.reader == "behind":
            along = face.width_mm(f"{arc}", cap_mm=SMALLEST_CAP_MM)
        x, need = band.x(arc), along / 2.0 + _ASIDE_MM
        if need <= x <= band.length_mm - need and abs(x - band.x(0.0)) >= need:
            yield arc, along / 2.0


def _tens(band: RingBand) -> list[int]:
    arcs = (arc for turn in range(band.turns) for arc in band.whole_mm(turn))
    return [arc for arc in arcs if arc > 0 and arc % 10 == 0]
