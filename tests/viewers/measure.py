"""How far apart two drawings of one page are, and how far marks lie from their places."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from focuschart.layout.page import Page, Path
from tests.readback import HALF, TRACE, Ink, grown, pdf_lines
from tests.viewers.viewers import DPI, Grey

PIXEL_MM = 25.4 / DPI
ALLOWED_MM = 0.05
_FAR = 60
"""Pixels searched for the nearest ink; further is told as this."""


def apart_mm(drawn: dict[str, Grey]) -> dict[tuple[str, str], float]:
    """Return for each pair how far the worst pixel of either lies from its like in the other, mm.

    What is half inked in one must be touched by ink in the other, and what is half bare be bare.
    Nearer than a pixel counts as none, as the two edges then fall within one pixel's grey.
    """
    rows, columns = (min(sizes) for sizes in zip(*(d.shape for d in drawn.values()), strict=True))
    worst = dict.fromkeys(combinations(drawn, 2), 0.0)
    for side in (0, 255):
        greys = {name: np.abs(side - grey[:rows, :columns].astype(np.int16)) for name, grey in
                 drawn.items()}  # fmt: skip
        inks = {name: grey < HALF for name, grey in greys.items()}
        traces = {name: grey < TRACE for name, grey in greys.items()}
        around = {name: grown(trace, 1) for name, trace in traces.items()}
        for one, other in worst:
            found = (
                _beyond_mm(inks[one] & ~around[other], traces[other]),
                _beyond_mm(inks[other] & ~around[one], traces[one]),
            )
            worst[one, other] = max(worst[one, other], *found)
    return worst


def _beyond_mm(lost: Ink, trace: Ink) -> float:
    places = np.argwhere(lost)
    some = places[:: 1 + len(places) // 300]
    return max((_nearest_mm(trace, row, column) for row, column in some), default=0.0)


def _nearest_mm(trace: Ink, row: int, column: int) -> float:
    top, left = max(row - _FAR, 0), max(column - _FAR, 0)
    near = np.argwhere(trace[top : row + _FAR + 1, left : column + _FAR + 1])
    if not len(near):
        return _FAR * PIXEL_MM
    return float(np.hypot(*(near - (row - top, column - left)).T).min()) * PIXEL_MM


def marks_mm(page: Page) -> NDArray[np.float64]:
    """Return both ends of every keyed straight stroke of a page, shape (n, 4)."""
    lines = [
        shape.points
        for shape in page.in_group("print")
        if isinstance(shape, Path) and shape.key and len(shape.points) == 2
    ]
    return np.array(lines, dtype=float).reshape(-1, 4)


def astray_mm(page: Page, pdf: bytes, number: int = 0) -> tuple[float, float]:
    """Return how far the worst mark lies from its place in a printed PDF, and the print's scale.

    A shift that all marks share is no error. The scale is that of the marks' x, by least squares.
    """
    wanted = marks_mm(page)
    found = pdf_lines(pdf)[number][:, :4]
    either = np.vstack((found, found[:, [2, 3, 0, 1]]))
    off = either[KDTree(either).query(wanted)[1]] - wanted
    shift = np.median(off.reshape(-1, 2), axis=0)
    scale = float(np.polyfit(wanted[:, 0], wanted[:, 0] + off[:, 0], 1)[0])
    return float(np.abs(off.reshape(-1, 2) - shift).max()), scale
