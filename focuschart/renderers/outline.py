"""Texts as outlines in SVG; each glyph is computed once per size and direction."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from focuschart.layout.page import Page, Point, Text
from focuschart.renderers.glyphs import POINTS_OF, TypeFace
from focuschart.renderers.pen import baseline_of

_STEPS_PER_MM = 1000
"""Outlines are written in micrometres; places are rounded, not steps, so errors do not add up."""


class _Glyph(NamedTuple):
    """A glyph: its first point from its origin, mm on the sheet, and the path data after it."""

    x: float
    y: float
    data: str


class TextDrawer:
    """Writes texts as SVG path data, in the coordinates of a page's SVG file (y down)."""

    def __init__(self, face: TypeFace, page: Page) -> None:
        self._face, self._page = face, page
        self._scale = (page.scale_x, -page.scale_y)

    def path_data(self, text: Text) -> str:
        """Return the contours of a text, "" for blanks; raises GlyphError as `face` does.

        Each glyph is a move to its place, then relative steps, so that its string is the same at
        every place and is made only once: most of a page's data is text.
        """
        start = baseline_of(text, face=self._face)
        (shift_x, shift_y), (wide, high) = self._page.shift_mm, self._scale
        x, y = start.x * wide + shift_x, self._page.height_mm - shift_y + start.y * high
        em_mm = self._face.em_mm(text.cap_mm) / 1000
        step_x, step_y = start.right[0] * wide * em_mm, start.right[1] * high * em_mm
        axes, written = (start.right, start.up), []
        for character in text.text:
            glyph = _glyph(self._face, character, text.cap_mm, axes, self._scale)
            if glyph.data:
                written.append(f"M{x + glyph.x:.4f},{y + glyph.y:.4f}{glyph.data}")
            advance = self._face.advances[character]
            x, y = x + advance * step_x, y + advance * step_y
        return "".join(written)


@lru_cache(maxsize=8192)
def _glyph(
    face: TypeFace, character: str, cap_mm: float, axes: tuple[Point, Point], scale: Point
) -> _Glyph:
    """Return a glyph along the baseline's axes, right and up, on a sheet scaled in x and y."""
    outline = face.outline(character, cap_mm=cap_mm)
    return _steps(outline.commands, outline.points @ np.array(axes) * scale)


def _steps(commands: str, points: NDArray[np.float64]) -> _Glyph:
    """Return contours as relative path commands (SVG 1.1, 8.3) after a move to the first point."""
    if not commands:
        return _Glyph(0.0, 0.0, "")
    steps = np.rint((points - points[0]) * _STEPS_PER_MM).astype(int).tolist()
    here, start, used, data = (0, 0), (0, 0), 1, []
    for command in commands[1:]:
        ends = steps[used : used + POINTS_OF[command]]
        used += len(ends)
        x, y = here
        offsets = ",".join(f"{_written(to_x - x)},{_written(to_y - y)}" for to_x, to_y in ends)
        data.append(command.lower() + offsets)
        here = ends[-1] if ends else start
        start = here if command == "M" else start
    return _Glyph(float(points[0, 0]), float(points[0, 1]), "".join(data))


@lru_cache(maxsize=8192)
def _written(steps: int) -> str:
    return f"{steps / _STEPS_PER_MM:.10g}"
