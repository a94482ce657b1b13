"""Texts as outlines in SVG; each glyph of a page is computed once per size and direction."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from focuschart.layout.page import Page, Text
from focuschart.renderers.glyphs import POINTS_OF, TypeFace
from focuschart.renderers.pen import Baseline, baseline_of

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
        self._axes = (page.scale_x, -page.scale_y)
        self._glyphs: dict[tuple[object, ...], _Glyph] = {}

    def path_data(self, text: Text) -> str:
        """Return the contours of a text, "" for blanks; raises GlyphError as `face` does.

        Each glyph is a move to its place, then relative steps, so that its string is the same at
        every place and is made only once: most of a page's data is text.
        """
        start = baseline_of(text, face=self._face)
        (shift_x, shift_y), (wide, high) = self._page.shift_mm, self._axes
        x, y = start.x * wide + shift_x, self._page.height_mm - shift_y + start.y * high
        em_mm = self._face.em_mm(text.cap_mm) / 1000
        step_x, step_y = start.right[0] * wide * em_mm, start.right[1] * high * em_mm
        written = []
        for character in text.text:
            glyph = self._glyph(character, text.cap_mm, start)
            if glyph.data:
                written.append(f"M{x + glyph.x:.4f},{y + glyph.y:.4f}{glyph.data}")
            advance = self._face.advances[character]
            x, y = x + advance * step_x, y + advance * step_y
        return "".join(written)

    def _glyph(self, character: str, cap_mm: float, start: Baseline) -> _Glyph:
        key = (character, cap_mm, start.right, start.up)
        if key not in self._glyphs:
            outline = self._face.outline(character, cap_mm=cap_mm)
            points = outline.points @ np.array([start.right, start.up]) * self._axes
            self._glyphs[key] = _steps(outline.commands, points)
        return self._glyphs[key]


def _steps(commands: str, points: NDArray[np.float64]) -> _Glyph:
    """Return contours as relative path commands (SVG 1.1, 8.3) after a move to the first point."""
    if not commands:
        return _Glyph(0.0, 0.0, "")
    steps = np.rint((points - points[0]) * _STEPS_PER_MM).astype(int).tolist()
    here, start, used, data = (0, 0), (0, 0), 1, []
    for command in commands[1:]:
        ends = steps[used : used + POINTS_OF[command]]
        used += len(ends)
        offsets = ",".join(_offset(end, here) for end in ends)
        data.append(command.lower() + offsets)
        here = ends[-1] if ends else start
        start = here if command == "M" else start
    return _Glyph(float(points[0, 0]), float(points[0, 1]), "".join(data))


def _offset(end: tuple[int, int], here: tuple[int, int]) -> str:
    dx, dy = end[0] - here[0], end[1] - here[1]
    return f"{dx / _STEPS_PER_MM:.10g},{dy / _STEPS_PER_MM:.10g}"
