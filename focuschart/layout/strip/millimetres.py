"""The ruler's own millimetres on a marker strip: a figure read there is a ruler figure.

They hang from the edge of each row away from the index.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from focuschart.layout.extent import ink_boxes
from focuschart.layout.page import Face, Shape, Span, Text, line
from focuschart.layout.sheet.block import Loose
from focuschart.layout.strip.band import RingBand
from focuschart.layout.text.typeset import SMALLEST_CAP_MM, widest

_LENGTHS = {10: 1.1, 5: 0.85, 1: 0.55}
_STROKE_MM = 0.12
_GAP_MM = 0.3
"""Between ticks and figures, and below both."""
_ASIDE_MM = 1.1
"""Least gap between a figure and the zero line, the seam or an end."""
_CLEAR_MM = 0.3
"""Least gap between a figure and any other shape."""


def heights_mm(band: RingBand, *, face: Face) -> tuple[float, float]:
    """Return how much of a row the millimetres take: with figures, and without."""
    bare = _LENGTHS[10] + _GAP_MM
    return bare + _across_mm(band, face) + _GAP_MM, bare


def _across_mm(band: RingBand, face: Face) -> float:
    """Return the height that figures take, which run across the strip for a reader at the side."""
    if band.reader == "behind":
        return SMALLEST_CAP_MM
    return widest([f"{arc}" for arc in _tens(band)], face=face, cap_mm=SMALLEST_CAP_MM)


def millimetres(band: RingBand) -> Iterator[Shape]:
    """Yield the ticks of a band that keeps a scale's height free."""
    if band.scale_mm:
        for turn in range(band.turns):
            for arc in band.whole_mm(turn):
                high = next(size for step, size in _LENGTHS.items() if arc % step == 0)
                x, top = band.x(arc), band.row_mm
                ends = ((x, band.row_y(turn, top)), (x, band.row_y(turn, top - high)))
                yield line(*ends, stroke_mm=_STROKE_MM, key=f"scale:{arc}")


class Figure(NamedTuple):
    """A figure of the scale, and how it moves aside for a join."""

    text: Text
    loose: Loose


def figures(band: RingBand, others: Sequence[Shape], *, face: Face) -> list[Figure]:
    """Return the figures below the ticks: all where the band keeps their height free.

    Where it does not, those that are clear of all other shapes of the strip.
    """
    every = list(_figures(band, face))
    if band.scale_mm >= heights_mm(band, face=face)[0] or not every:
        return every
    taken = ink_boxes(others, face=face)
    boxes = ink_boxes([figure.text for figure in every], face=face)
    low, high = boxes[:, np.newaxis, :2] - _CLEAR_MM, boxes[:, np.newaxis, 2:] + _CLEAR_MM
    meets = np.all((low < taken[:, 2:]) & (taken[:, :2] < high), axis=2)
    return [figure for figure, met in zip(every, meets.any(axis=1), strict=True) if not met]


def crowded(scale: Sequence[Figure], words: Sequence[Shape], *, face: Face) -> Iterator[Span]:
    """Yield the spans of figures with no room to move aside for a join, clear of some words."""
    if not scale or not words:
        return
    boxes = ink_boxes([figure.text for figure in scale], face=face)
    aside = np.array([figure.loose.aside_mm + _CLEAR_MM for figure in scale])
    reach = boxes + np.stack((-aside, 0.0 * aside, aside, 0.0 * aside), axis=1)
    taken = ink_boxes(words, face=face)
    meets = np.all((reach[:, np.newaxis, :2] < taken[:, 2:])
                   & (taken[:, :2] < reach[:, np.newaxis, 2:]), axis=2)  # fmt: skip
    for left, _, right, _ in boxes[meets.any(axis=1)].tolist():
        yield left, right


def _figures(band: RingBand, face: Face) -> Iterator[Figure]:
    """Yield the figures that are clear of zero line, seam and ends."""
    down = _LENGTHS[10] + _GAP_MM + _across_mm(band, face) / 2.0
    for arc in _tens(band):
        along = SMALLEST_CAP_MM
        if band.reader == "behind":
            along = face.width_mm(f"{arc}", cap_mm=SMALLEST_CAP_MM)
        x, need = band.x(arc), along / 2.0 + _ASIDE_MM
        if need <= x <= band.length_mm - need and abs(x - band.x(0.0)) >= need:
            y, key = band.row_y(band.turn(arc), band.row_mm - down), f"scale-figure:{arc}"
            text = band.text(f"{arc}", x, y, cap_mm=SMALLEST_CAP_MM, key=key)
            yield Figure(text, Loose(key, along / 2.0))


def _tens(band: RingBand) -> list[int]:
    arcs = (arc for turn in range(band.turns) for arc in band.whole_mm(turn))
    return [arc for arc in arcs if arc > 0 and arc % 10 == 0]
