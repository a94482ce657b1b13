"""How shapes are drawn, whatever the file format: strokes, fills, and where a text begins."""

from __future__ import annotations

import math
from typing import NamedTuple

from focuschart.layout.page import OPERATION_COLOUR, OPERATION_STROKE_MM, Face, Path, Text

FOLD_DASH_MM = (2.0, 1.0)
"""Stroke and gap: a fold is told from a cut on a grey print too."""

_ANCHOR_SHARE = {"start": 0.0, "middle": 0.5, "end": 1.0}


class Pen(NamedTuple):
    """Stroke and fill of one path; None stands for neither."""

    colour: str | None
    width_mm: float
    dash_mm: tuple[float, ...]
    fill: str | None


class Baseline(NamedTuple):
    """Where the first glyph of a text stands (mm, y up) and the direction it is written in."""

    x: float
    y: float
    cos: float
    sin: float


def pen_of(path: Path) -> Pen:
    """Return the pen of a path: its own in group print, that of the operation elsewhere."""
    if path.group == "print":
        colour = None if path.stroke_mm is None else path.colour
        return Pen(colour, path.stroke_mm or 0.0, (), path.fill)
    dash = FOLD_DASH_MM if path.group == "fold" else ()
    return Pen(OPERATION_COLOUR[path.group], OPERATION_STROKE_MM, dash, None)


def baseline_of(text: Text, *, face: Face) -> Baseline:
    """Return where `text` begins once its anchor is allowed for."""
    back_mm = _ANCHOR_SHARE[text.anchor] * face.width_mm(text.text, cap_mm=text.cap_mm)
    cos, sin = math.cos(text.rotation), math.sin(text.rotation)
    return Baseline(text.x - back_mm * cos, text.y - back_mm * sin, cos, sin)
