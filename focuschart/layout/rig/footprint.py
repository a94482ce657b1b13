"""Footprints: openings with the beams through them, and a sensor with its fields, to scale.

Panels stand side by side, each to its own stated scale, each with a legend below. The
meaning of a shape is shown by its pattern, never by colour.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from focuschart.errors import PageError
from focuschart.layout.page import BLACK, Face, Path, Point, Shape, Text, circle, line
from focuschart.layout.sheet.block import Block, cut_box
from focuschart.layout.text.typeset import LEADING, widest, wrapped

Pattern = Literal["grey", "hatched", "outline", "heavy"]

CHORDS = 96
"""Sides of the polygon that approximates an ellipse: within 0.06 % of the semi-axis."""
_ROUND = circle((0.0, 0.0), 1.0, chords=CHORDS)
_STROKES_MM: dict[Pattern, float] = {"grey": 0.15, "hatched": 0.2, "outline": 0.25, "heavy": 0.6}
"""Also the drawing order: filled shapes come first, so that they hide nothing."""
_GREY = "#d4d4d4"
_CROSS_COLOUR = "#707070"
_HATCH_MM = 1.3
_CROSS_MM = 2.0
_TITLE_CAP_MM = 2.2
_LEGEND_CAP_MM = 1.8
_SAMPLE_MM = (6.0, 2.4)
_ROW_MM = 3.6
_EDGE_MM = 4.0
_NOTES_MM = 1.5
_GAP_MM = 8.0
_LEAST_MM = 40.0


@dataclass(frozen=True, slots=True)
class Figure:
    """An upright ellipse or rectangle: its centre from the axis and half its sizes, true mm."""

    label: str
    x_mm: float
    y_mm: float
    half_width_mm: float
    half_height_mm: float
    pattern: Pattern
    shape: Literal["round", "rectangular"] = "round"

    def scaled(self, scale: float, axis: Point) -> Figure:
        """Return the figure as drawn about an axis on paper."""
        return replace(
            self, x_mm=axis[0] + scale * self.x_mm, y_mm=axis[1] + scale * self.y_mm,
            half_width_mm=scale * self.half_width_mm, half_height_mm=scale * self.half_height_mm,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Panel:
    """Figures about one axis; `scale` is millimetres on paper per true millimetre."""

    key: str
    title: str
    scale: float
    figures: tuple[Figure, ...]

    def __post_init__(self) -> None:
        """Raise PageError for a panel that cannot be drawn."""
        sizes = [s for f in self.figures for s in (f.half_width_mm, f.half_height_mm)]
        places = [p for f in self.figures for p in (f.x_mm, f.y_mm)]
        if not self.figures or not 0.0 < self.scale < math.inf:
            raise PageError(f"{self.key}: a panel needs a figure and a scale above zero")
        if not all(map(math.isfinite, (*sizes, *places))) or min(sizes) <= 0.0:
            raise PageError(f"{self.key}: a figure needs finite places and sizes above zero")


@dataclass(frozen=True, slots=True)
class _Extent:
    """How far a panel's figures reach from its axis, mm on paper; no less than the axis cross."""

    left: float
    right: float
    below: float
    above: float


def footprint_block(panels: Sequence[Panel], *, notes: Sequence[str] = (), face: Face) -> Block:
    """Return panels in a row with the notes below them.

    All axes are at one height, and the block cannot be split. Raises PageError where there is no
    panel or a word of a note is wider than the panels.
    """
    if not panels:
        raise PageError("footprints need one panel or more")
    extents = [_extent(panel) for panel in panels]
    widths = [_width(panel, extent, face) for panel, extent in zip(panels, extents, strict=True)]
    width = sum(widths) + _GAP_MM * (len(panels) - 1) + 2.0 * _EDGE_MM
    words = [text for note in notes for text in wrapped(
        note, face=face, cap_mm=_LEGEND_CAP_MM, width_mm=width - 2.0 * _EDGE_MM)]  # fmt: skip
    foot = _EDGE_MM + LEADING * _LEGEND_CAP_MM * len(words)
    rows = max(len(panel.figures) for panel in panels)
    legends = foot + (_NOTES_MM if words else 0.0) + _ROW_MM * rows
    axis = legends + _GAP_MM / 2.0 + max(e.below for e in extents)
    top = axis + max(e.above for e in extents) + _GAP_MM / 2.0
    height = top + 2.0 * LEADING * _TITLE_CAP_MM + _EDGE_MM - 1.0
    shapes: list[Shape] = list(_words(words, foot))
    left = _EDGE_MM
    for panel, extent, wide in zip(panels, extents, widths, strict=True):
        spare = (wide - extent.left - extent.right) / 2.0
        shapes += _drawn(panel, (left + spare + extent.left, axis))
        shapes += _titles(panel, left, top)
        shapes += _legend(panel, left, legends)
        left += wide + _GAP_MM
    return Block(width, height, tuple(shapes), cut_box(width, height), keep=((0.0, width),))


def scale_words(scale: float) -> str:
    """Return a scale as a drawing states it (ISO 5455, from memory): 1 : 2, 1 : 1, 5 : 1."""
    return f"Scale {scale:.4g} : 1" if scale > 1.0 else f"Scale 1 : {1.0 / scale:.4g}"


def _extent(panel: Panel) -> _Extent:
    drawn = [figure.scaled(panel.scale, (0.0, 0.0)) for figure in panel.figures]
    stroke = max(_STROKES_MM.values()) / 2.0
    return _Extent(
        stroke + max(_CROSS_MM, *(f.half_width_mm - f.x_mm for f in drawn)),
        stroke + max(_CROSS_MM, *(f.half_width_mm + f.x_mm for f in drawn)),
        stroke + max(_CROSS_MM, *(f.half_height_mm - f.y_mm for f in drawn)),
        stroke + max(_CROSS_MM, *(f.half_height_mm + f.y_mm for f in drawn)),
    )


def _width(panel: Panel, extent: _Extent, face: Face) -> float:
    legend = widest([f.label for f in panel.figures], face=face, cap_mm=_LEGEND_CAP_MM)
    title = face.width_mm(panel.title, cap_mm=_TITLE_CAP_MM)
    scale = face.width_mm(scale_words(panel.scale), cap_mm=_LEGEND_CAP_MM)
    labels = max(legend + _SAMPLE_MM[0] + 2.0, title, scale)
    return max(_LEAST_MM, labels, extent.left + extent.right)


def _words(words: Sequence[str], foot: float) -> Iterator[Text]:
    for number, text in enumerate(words):
        y = foot - LEADING * _LEGEND_CAP_MM * (number + 1)
        yield Text(text, _EDGE_MM, y, _LEGEND_CAP_MM, key=f"note:{number}")


def _titles(panel: Panel, left: float, top: float) -> Iterator[Text]:
    yield Text(panel.title, left, top + LEADING * _TITLE_CAP_MM, _TITLE_CAP_MM,
               key=f"{panel.key}:title")  # fmt: skip
    yield Text(scale_words(panel.scale), left, top, _LEGEND_CAP_MM, key=f"{panel.key}:scale")


def _drawn(panel: Panel, axis: Point) -> Iterator[Path]:
    """Yield a panel's figures, filled ones first, and a cross on its axis."""
    order = list(_STROKES_MM)
    numbered = sorted(enumerate(panel.figures), key=lambda pair: order.index(pair[1].pattern))
    for number, figure in numbered:
        yield from _figure(figure.scaled(panel.scale, axis), f"{panel.key}:figure:{number}")
    for way, dx, dy in (("across", _CROSS_MM, 0.0), ("up", 0.0, _CROSS_MM)):
        yield line((axis[0] - dx, axis[1] - dy), (axis[0] + dx, axis[1] + dy), stroke_mm=0.15,
                   colour=_CROSS_COLOUR, key=f"{panel.key}:axis:{way}")  # fmt: skip


def _legend(panel: Panel, left: float, top: float) -> Iterator[Shape]:
    """Yield a sample and the label of each figure, in the order given."""
    wide, high = _SAMPLE_MM
    for number, figure in enumerate(panel.figures):
        middle = top - _ROW_MM * (number + 0.5)
        sample = Figure(
            "", left + wide / 2.0, middle, (wide - 0.6) / 2.0, high / 2.0 - 0.2, figure.pattern,
            figure.shape,
        )  # fmt: skip
        yield from _figure(sample, f"{panel.key}:sample:{number}")
        yield Text(figure.label, left + wide + 2.0, middle - _LEGEND_CAP_MM / 2.0, _LEGEND_CAP_MM,
                   key=f"{panel.key}:label:{number}")  # fmt: skip


def _figure(figure: Figure, key: str) -> Iterator[Path]:
    fill = _GREY if figure.pattern == "grey" else None
    yield Path(_outline(figure), True, _STROKES_MM[figure.pattern], BLACK, fill, key=key)
    if figure.pattern == "hatched":
        for number, (start, end) in enumerate(_hatch(figure)):
            yield line(start, end, stroke_mm=0.12, key=f"{key}:hatch:{number}")


def _outline(figure: Figure) -> tuple[Point, ...]:
    if figure.shape == "rectangular":
        turns: Sequence[Point] = ((-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0))
    else:
        turns = _ROUND
    return tuple(
        (figure.x_mm + p * figure.half_width_mm, figure.y_mm + q * figure.half_height_mm)
        for p, q in turns
    )


def _hatch(figure: Figure) -> Iterator[tuple[Point, Point]]:
    """Yield hatching: evenly spaced 45° strokes rising to the right, clipped to the outline."""
    reach = figure.half_width_mm + figure.half_height_mm
    count = int(reach / (_HATCH_MM * math.sqrt(2.0)))
    for step in range(-count, count + 1):
        rise = step * _HATCH_MM * math.sqrt(2.0)
        low, high = _chord(figure, rise)
        if high - low > 0.3:
            yield (
                (figure.x_mm + low, figure.y_mm + low + rise),
                (figure.x_mm + high, figure.y_mm + high + rise),
            )


def _chord(figure: Figure, rise: float) -> tuple[float, float]:
    """Return the range of u for which (u, u + rise) is inside the figure centred at the origin."""
    a, b = figure.half_width_mm, figure.half_height_mm
    if figure.shape == "rectangular":
        return max(-a, -b - rise), min(a, b - rise)
    middle, spread = -rise * a * a / (a * a + b * b), a * a + b * b - rise * rise
    half = a * b * math.sqrt(max(spread, 0.0)) / (a * a + b * b)
    return middle - half, middle + half
