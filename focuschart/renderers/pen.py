"""How shapes are drawn, whatever the file format: strokes, fills, and where a text begins."""

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
"""Stroke and gap: a fold is told from a cut on a grey print too."""


class Pen(NamedTuple):
    """Stroke and fill of one path; None stands for neither. Joins are round where not mitred."""

    colour: str | None
    width_mm: float
    dash_mm: tuple[float, ...]
    fill: str | None
    mitred: bool


class Baseline(NamedTuple):
    """Where the first glyph of a text stands (mm, y up), and the axes its glyphs are drawn along.

    `right` is a unit vector the way the text is written, `up` one to the tops of its capitals.
    """

    x: float
    y: float
    right: tuple[float, float]
    up: tuple[float, float]


def pen_of(path: Path) -> Pen:
    """Return the pen of a path: its own in group print, that of the operation elsewhere."""
    if path.group == "print":
        colour = None if path.stroke_mm is None else path.colour
        return Pen(colour, path.stroke_mm or 0.0, (), path.fill, _is_upright(path))
    dash = FOLD_DASH_MM if path.group == "fold" else ()
    colour = OPERATION_COLOUR[path.group]
    return Pen(colour, OPERATION_STROKE_MM, dash, None, _is_upright(path))


def _is_upright(path: Path) -> bool:
    """Return whether all of a path's strokes are level or plumb.

    Some viewers draw the corners of such a path square whatever is asked for, so square they are;
    elsewhere a mitre would stick out of a sharp corner.
    """
    ends = (*path.points[1:], path.points[0]) if path.closed else path.points[1:]
    return all(x0 == x1 or y0 == y1 for (x0, y0), (x1, y1) in zip(path.points, ends, strict=False))


def baseline_of(text: Text, *, face: Face) -> Baseline:
    """Return where `text` begins once its anchor is allowed for."""
    back_mm = ANCHOR_SHARE[text.anchor] * face.width_mm(text.text, cap_mm=text.cap_mm)
    cos, sin = math.cos(text.rotation), math.sin(text.rotation)
    right = (-cos, -sin) if text.mirrored else (cos, sin)
    return Baseline(text.x - back_mm * right[0], text.y - back_mm * right[1], right, (-sin, cos))
