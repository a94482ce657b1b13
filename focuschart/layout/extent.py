"""Bounding boxes of printed shapes, and the check that a page stays on its sheet."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from focuschart.errors import PageError
from focuschart.layout.page import ANCHOR_SHARE, OPERATION_STROKE_MM, Face, Page, Path, Shape, Text

Boxes = NDArray[np.float64]
"""Left, bottom, right and top in mm, shape (n, 4)."""

_DESCENT, _ASCENT = 0.42, 1.06
"""How far letters reach below and above the baseline, in heights of capitals.

Judgement, no source; a test checks them against the default typeface.
"""
_ROUNDING_MM = 1e-6


def ink_boxes(shapes: Iterable[Shape], *, face: Face) -> Boxes:
    """Return a box for every text, every filled path and every stroke of the other paths."""
    found = [_of_text(s, face) if isinstance(s, Text) else _of_path(s) for s in shapes]
    return np.concatenate([np.empty((0, 4)), *found])


def require_on_sheet(page: Page, *, face: Face) -> None:
    """Raise PageError if a shape of the page, at the page's scale, crosses an edge of its sheet."""
    boxes = ink_boxes(page.shapes, face=face)
    scale = np.array([page.scale_x, page.scale_y])
    low = boxes[:, :2] * scale + page.shift_mm
    high = boxes[:, 2:] * scale + page.shift_mm - (page.width_mm, page.height_mm)
    over = max((-low).max(initial=0.0), high.max(initial=0.0))
    if over > _ROUNDING_MM:
        raise PageError(
            f"page {page.title!r} crosses the edge of its sheet by {over:.1f} mm once it is made "
            "for the printer: choose larger paper"
        )


def _of_path(path: Path) -> Boxes:
    points = np.array(path.points)
    half = (path.stroke_mm or 0.0) / 2 if path.group == "print" else OPERATION_STROKE_MM / 2
    if path.fill is not None:
        low, high = points.min(axis=0, keepdims=True), points.max(axis=0, keepdims=True)
    else:
        ends = np.roll(points, -1, axis=0) if path.closed else points[1:]
        starts = points[: len(ends)]
        low, high = np.minimum(starts, ends), np.maximum(starts, ends)
    return np.hstack((low - half, high + half))


def _of_text(text: Text, face: Face) -> Boxes:
    width = face.width_mm(text.text, cap_mm=text.cap_mm)
    left = -ANCHOR_SHARE[text.anchor] * width
    x, y = np.meshgrid((left, left + width), (-_DESCENT * text.cap_mm, _ASCENT * text.cap_mm))
    x = -x if text.mirrored else x
    cos, sin = np.cos(text.rotation), np.sin(text.rotation)
    corners = np.array([x * cos - y * sin + text.x, x * sin + y * cos + text.y])
    return np.hstack((corners.min(axis=(1, 2)), corners.max(axis=(1, 2)))).reshape(1, 4)
