"""What all file formats share: stroke and fill of a path, and where a text begins."""

from __future__ import annotations

import math
from typing import NamedTuple

from focuschart.layout.page import (
    ANCHOR_SHARE,
    OPERATION_COLOUR,
    OPERATION_STROKE_MM,
    Face,
    Path,
    Text,
)

FOLD_DASH_MM = (2.0, 1.0)
"""Dash and gap: a fold differs from a cut on a grey print too."""


class Pen(NamedTuple):
    """Stroke and fill of a path, None for no stroke or fill; joins are mitred or round."""

    colour: str | None
    width_mm: float
    dash_mm: tuple[float, ...]
    fill: str | None
    mitred: bool


class Baseline(NamedTuple):
    """The origin of a text's first glyph (mm, y up), and the axes of its glyphs.

    `right` is a unit vector in the direction of writing, `up` one to the tops of the capitals.
    """

    x: float
    y: float
    right: tuple[float, float]
    up: tuple[float, float]


def pen_of(path: Path) -> Pen:
    """Return the pen of a path: its own in the group print, else that of the group."""
    if path.group == "print":
        colour = None if path.stroke_mm is None else path.colour
        return Pen(colour, path.stroke_mm or 0.0, (), path.fill, _is_upright(path))
    dash = FOLD_DASH_MM if path.group == "fold" else ()
    colour = OPERATION_COLOUR[path.group]
    return Pen(colour, OPERATION_STROKE_MM, dash, None, _is_upright(path))


def _is_upright(path: Path) -> bool:
    """Return whether all lines of a path are horizontal or vertical.

    Such a path has mitred joins, since some viewers draw them so in any case; others have round
    ones, since a mitre would stick out of a sharp corner.
    """
    ends = (*path.points[1:], path.points[0]) if path.closed else path.points[1:]
    return all(x0 == x1 or y0 == y1 for (x0, y0), (x1, y1) in zip(path.points, ends, strict=False))


def baseline_of(text: Text, *, face: Face) -> Baseline:
    """Return where `text` begins, given its anchor."""
    back_mm = ANCHOR_SHARE[text.anchor] * face.width_mm(text.text, cap_mm=text.cap_mm)
    cos, sin = math.cos(text.rotation), math.sin(text.rotation)
    right = (-cos, -sin) if text.mirrored else (cos, sin)
    return Baseline(text.x - back_mm * right[0], text.y - back_mm * right[1], right, (-sin, cos))
