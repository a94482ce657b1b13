"""How strips look on their barrels: each ring at some settings, as its reader sees it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from focuschart.errors import PageError
from focuschart.layout.arrays import points_of
from focuschart.layout.extent import ink_boxes
from focuschart.layout.page import BLACK, PAPER, Anchor, Face, Page, Path, Shape, Text, line, moved
from focuschart.layout.rig.cylinder import ELEVATION, Cylinder, OutlineFace, wrapped_round
from focuschart.layout.sheet.block import Block
from focuschart.layout.sheet.furniture import BOTTOM_MM, EDGE_MM, LEFT_MM, TOP_MM, furniture, headed
from focuschart.layout.sheet.papers import paper_size
from focuschart.layout.strip.band import Reader, Side
from focuschart.layout.text.paragraphs import height_mm, set_words
from focuschart.layout.text.typeset import LEADING, shortened

SCALES = tuple(1.0 / number for number in (1.0, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0, 4.0, 5.0))
"""Scales to choose from, mm on paper per true mm."""

_RING_MM = 1.5
_BARREL_MM = 8.0
_INDEX_MM = 5.5
_HEAD_MM = 2.2
"""Widths: ring beside the strip, fixed barrel beside the ring, index line and its head."""
_SHADES = tuple(f"#{grey:02x}{grey:02x}{grey:02x}" for grey in range(0xC4, 0xF4, 4))
_PAPER_SHADES = ("#e4e4e4", "#ebebeb", "#f1f1f1", "#f6f6f6", "#fafafa", PAPER)
_END = "#d4d4d4"
_CHORDS = 31
"""Points round half a barrel: within 0.06 mm of a ring 82 mm across."""
_THINNEST_MM = 0.08
_CAP_MM = 2.0
_WORD_MM = 1.8
_TITLE_MM = 4.0
_TURN = math.radians(32.0)
_GAP_MM = 5.0
_OUTWARD: dict[Reader, Anchor] = {"behind": "middle", "left": "end", "right": "start"}
"""Anchor of words beyond the barrel's far end, so that they run away from it."""


@dataclass(frozen=True, slots=True)
class Setting:
    """The mark set at the index: its label, and its x along the flat strip, mm."""

    label: str
    x_mm: float


@dataclass(frozen=True)
class Barrel:
    """One ring with its flat strip: `length_mm` is the circumference, `width_mm` the width.

    `shapes` are those of the strip, x along it; `nearer_clockwise` is the way the ring turns for
    nearer, seen from behind the camera. `note` is set below the heading.
    """

    key: str
    heading: str
    note: str
    shapes: tuple[Shape, ...]
    length_mm: float
    width_mm: float
    reader: Reader
    index_side: Side
    nearer_clockwise: bool
    settings: tuple[Setting, ...]

    @cached_property
    def cylinder(self) -> Cylinder:
        """The ring as a cylinder whose circumference is the length of its strip."""
        return Cylinder(self.length_mm / math.tau, self.reader)


@dataclass(frozen=True, slots=True)
class BarrelSheet:
    """What one page shows: the rings of a rig below each other, and what to compare."""

    title: str
    heading: str
    words: tuple[str, ...]
    barrels: tuple[Barrel, ...]


class _Row(NamedTuple):
    """One ring's views side by side; sizes leave out the words above them."""

    barrel: Barrel
    views: list[Block]

    @property
    def height_mm(self) -> float:
        return max(view.height_mm for view in self.views) + 0.6 * _GAP_MM

    @property
    def width_mm(self) -> float:
        """Of each view's share of the row."""
        return max(view.width_mm for view in self.views) + _GAP_MM


_OUTLINE = 2
"""The first two paths of a view, end and barrel, enclose all others."""
_ROW_HEAD_MM = (2.0 + 2.0 * LEADING) * _CAP_MM


def barrel_page(
    sheet: BarrelSheet, *, paper: str, face: OutlineFace, number: int = 1, count: int = 1
) -> Page:
    """Return the page of a rig's barrels, as large as they fit together.

    Raises PageError for an unknown paper and where not even the smallest scale fits.
    """
    width, height = paper_size(paper)
    room = width - LEFT_MM - EDGE_MM
    words = height_mm(sheet.words, cap_mm=_WORD_MM, width_mm=room, face=face)
    top = height - TOP_MM - _TITLE_MM
    level = top - _TITLE_MM - words
    scale, rows = _largest(sheet, (room, level - BOTTOM_MM), face)
    heading = f"{sheet.heading}: drawn 1 : {1.0 / scale:g}, not to be cut"
    heading = shortened(heading, face=face, cap_mm=_TITLE_MM, width_mm=room)
    title = headed(sheet.title, width, face)
    shapes = [
        *furniture(width, height, title, number, count),
        Text(heading, LEFT_MM, top, _TITLE_MM, key="rig"),
        *set_words(sheet.words, x=LEFT_MM, top=top - 0.6 * _TITLE_MM, cap_mm=_WORD_MM,
                   width_mm=room, face=face, key="word"),
    ]  # fmt: skip
    for row in rows:
        shapes += moved(_row(row, room, face), LEFT_MM, level)
        level -= row.height_mm + _ROW_HEAD_MM
    return Page(width, height, sheet.title, tuple(shapes))


def _largest(
    sheet: BarrelSheet, room: tuple[float, float], face: OutlineFace
) -> tuple[float, list[_Row]]:
    """Return the largest scale at which all rows fit, and the rows."""
    seen = [[(s, barrel_paths(b, s, face=face)) for s in b.settings] for b in sheet.barrels]

    def rows(scale: float, paths: int | None = None) -> list[_Row]:
        return [
            _Row(barrel, [_view(barrel, s, found[:paths], scale, face) for s, found in views])
            for barrel, views in zip(sheet.barrels, seen, strict=True)
        ]

    for scale in SCALES:
        if _fit(rows(scale, _OUTLINE), room):
            return scale, rows(scale)
    raise PageError(f"{sheet.heading}: no scale fits this paper: choose a larger one")


def _fit(rows: Sequence[_Row], room: tuple[float, float]) -> bool:
    high = sum(row.height_mm + _ROW_HEAD_MM for row in rows)
    return high <= room[1] and all(len(row.views) * row.width_mm <= room[0] for row in rows)


def _row(row: _Row, width: float, face: Face) -> Iterator[Shape]:
    """Yield a row, origin at its upper left corner: two lines of words, then the views."""
    barrel, share = row.barrel, width / len(row.views)
    for place, text in enumerate((barrel.heading, barrel.note), start=1):
        short = shortened(text, face=face, cap_mm=_CAP_MM, width_mm=width)
        y = -(place * LEADING + 0.6) * _CAP_MM
        yield Text(short, 0.0, y, _CAP_MM, key=f"{barrel.key}/head:{place}")
    yield line((0.0, 0.0), (width, 0.0), stroke_mm=0.15, key=f"{barrel.key}/rule")
    for number, view in enumerate(row.views):
        x = number * share + (share - view.width_mm) / 2.0
        for shape in moved(view.shapes, x, 0.6 * _GAP_MM - _ROW_HEAD_MM - row.height_mm):
            yield replace(shape, key=f"{barrel.key}/{number}/{shape.key}")


# --- one view -------------------------------------------------------------------------------------


def barrel_paths(barrel: Barrel, setting: Setting, *, face: OutlineFace) -> tuple[Path, ...]:
    """Return barrel, ring, strip and index as seen, true scale, origin on the axis."""
    ring = (-_RING_MM, barrel.width_mm + _RING_MM)
    ends = (ring[0] - _BARREL_MM, ring[1] + _BARREL_MM)
    cylinder = barrel.cylinder
    strip = wrapped_round(
        barrel.shapes, cylinder, index_x_mm=setting.x_mm, length_mm=barrel.length_mm, face=face
    )
    return (
        _end(cylinder, ends[0]),
        *_band(cylinder, ends, _SHADES, 0.2, "barrel"),
        *_band(cylinder, ring, _SHADES[3:], 0.3, "ring"),
        *_band(cylinder, (0.0, barrel.width_mm), _PAPER_SHADES, 0.15, "paper"),
        *strip,
        *_index(barrel),
    )


def _view(
    barrel: Barrel, setting: Setting, seen: Sequence[Path], scale: float, face: Face
) -> Block:
    """Return one view with its words, origin at its lower left corner; nothing of it is cut."""
    solid = [_scaled(path, scale) for path in seen]
    shapes = [*solid, *_turn_arrow(barrel, scale), *_words(barrel, setting, solid, scale)]
    boxes = ink_boxes(shapes, face=face)
    (left, low), (right, high) = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    placed = moved(shapes, -float(left), -float(low))
    return Block(float(right - left), float(high - low), placed, ())


def _scaled(path: Path, scale: float) -> Path:
    points = tuple((scale * x, scale * y) for x, y in path.points)
    stroke = path.stroke_mm and max(scale * path.stroke_mm, _THINNEST_MM)
    return replace(path, points=points, stroke_mm=stroke)


def _band(
    cylinder: Cylinder, ends: tuple[float, float], shades: tuple[str, ...], stroke: float, key: str
) -> Iterator[Path]:
    """Yield a band round the barrel, lighter toward the middle so that it looks round."""
    for number, shade in enumerate(shades):
        half = math.asin(1.0 - (number / len(shades)) ** 1.5) * cylinder.radius_mm
        around = np.linspace(-half, half, _CHORDS)
        edges = [cylinder.picture(around, np.full(_CHORDS, end)) for end in ends]
        points = points_of(np.vstack((edges[0], edges[1][::-1])))
        pen = None if number else stroke
        yield Path(points, True, pen, fill=shade, key=f"{key}:{number}")


def _end(cylinder: Cylinder, along_mm: float) -> Path:
    """Return the barrel's end toward the camera, which faces the reader."""
    angle = np.linspace(0.0, math.tau, 2 * _CHORDS - 1)[:-1]
    places = [
        cylinder.turned(
            cylinder.radius_mm * math.sin(a),
            along_mm * math.sin(ELEVATION) + cylinder.radius_mm * math.cos(a) * math.cos(ELEVATION),
        )
        for a in angle.tolist()
    ]
    return Path(tuple(places), True, 0.2, fill=_END, key="end")


def _index(barrel: Barrel) -> Iterator[Path]:
    """Yield the fixed index: a line with a head that touches the ring's edge."""
    near = barrel.index_side == "camera"
    edge, away = (-_RING_MM, -1.0) if near else (barrel.width_mm + _RING_MM, 1.0)
    stroke = line((0.0, edge), (0.0, edge + away * _INDEX_MM), stroke_mm=0.6, key="index")
    head = ((-1.3, edge + away * _HEAD_MM), (1.3, edge + away * _HEAD_MM), (0.0, edge))
    yield from barrel.cylinder.drawn(stroke)
    yield from barrel.cylinder.drawn(
        Path(head, closed=True, stroke_mm=None, fill=BLACK, key="index-head")
    )


# --- words and arrows, of one size at any scale ---------------------------------------------------


def _turn_arrow(barrel: Barrel, scale: float) -> Iterator[Path]:
    """Yield the bent arrow at the barrel's far end: how the ring turns to focus nearer."""
    cylinder, way = barrel.cylinder, (1.0 if barrel.nearer_clockwise else -1.0)
    along = barrel.width_mm + _RING_MM + _BARREL_MM + 3.0 / scale
    reach = way * _TURN * cylinder.radius_mm
    shaft = cylinder.picture(np.linspace(-reach, reach, 41), np.full(41, along))
    tip, half = reach + way * 4.0 / scale, 1.5 / scale
    head = cylinder.picture(
        np.array((reach, reach, tip)), np.array((along - half, along + half, along))
    )
    yield Path(points_of(scale * shaft), stroke_mm=0.6, key="turn")
    yield Path(points_of(scale * head), True, None, fill=BLACK, key="turn-head")


def _words(
    barrel: Barrel, setting: Setting, solid: list[Path], scale: float
) -> Iterator[Shape]:  # fmt: skip
    """Yield the words: nearer, subject, camera, and the label of the mark at the index."""
    cylinder, behind = barrel.cylinder, barrel.reader == "behind"
    rise = scale * cylinder.radius_mm * math.cos(ELEVATION)
    far = scale * (barrel.width_mm + _RING_MM + _BARREL_MM) * math.sin(ELEVATION) + rise + 6.0
    near = -scale * (_RING_MM + _BARREL_MM) * math.sin(ELEVATION)
    drop = 0.0 if behind else _CAP_MM / 2.0
    x, y = cylinder.turned(0.0, far)
    yield Text("turn for nearer", x, y - drop, _CAP_MM, _OUTWARD[barrel.reader], key="nearer")
    x, y = cylinder.turned(0.0, near)
    yield Text("camera", x, y - _CAP_MM / 2.0, _CAP_MM, "middle", key="camera")
    foot = min(y for path in solid for _, y in path.points) - 2.0 * _CAP_MM
    yield from _subject(barrel, (far + 2.2 * _CAP_MM, foot))
    middle = cylinder.turned(0.0, (far + near) / 2.0)[0]
    low = foot if behind else foot - 2.0 * _CAP_MM
    yield Text(f"{setting.label} at the index", middle, low, 1.1 * _CAP_MM, "middle", key="setting")


def _subject(barrel: Barrel, places: tuple[float, float]) -> Iterator[Shape]:
    """Yield the words "to the subject" and a triangle that points there, above or at the foot."""
    half = _CAP_MM / 2.0
    x, y = (-9.5, places[0] + half)
    anchor: Anchor = "start"
    if barrel.reader != "behind":
        x, y = barrel.cylinder.turned(0.0, places[0] - 10.0)[0], places[1] + half
        anchor = "start" if barrel.reader == "left" else "end"
    corners = (
        barrel.cylinder.turned(u, w) for u, w in ((-half, -half), (half, -half), (0.0, half))
    )
    points = tuple((x + u, y + w) for u, w in corners)
    after = 2.5 if anchor == "start" else -2.5
    yield Path(points, closed=True, stroke_mm=None, fill=BLACK, key="subject-head")
    yield Text("to the subject", x + after, y - half, _CAP_MM, anchor, key="subject")
