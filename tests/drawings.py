"""Drawings for README: how a ruler is taped on, and how a reading is taken.

The ruler and the barrel are the program's own, those of the sample kit; the rest is drawn here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from focuschart.chart.model import Chart
from focuschart.layout.page import Page, Path, Point, Shape, Text, box, circle, line, moved
from focuschart.layout.rig.barrel import Barrel, Setting, barrel_paths
from focuschart.layout.rig.cylinder import OutlineFace
from focuschart.layout.strip.band import LEAD_IN_MM, TAB_MM
from focuschart.pages.strips import rulers_of

_CAP_MM = 2.6
_FIGURE_MM = 41.9
_SMALLER = 0.72
_NOTE = "#1f4e9e"
_GREY, _PALE = "#9a9a9a", "#e4e4e4"
_GLASS = "#cfe3f3"


def taping(chart: Chart, face: OutlineFace) -> Page:
    """Return the ruler flat, with what each part of it is for, and on its ring at infinity."""
    flat, length, width = _ruler(chart, face)
    marks = chart.taking
    assert marks is not None
    x, y = 12.0, 90.0
    infinity = float(marks.arc_mm[-1]) + LEAD_IN_MM
    zero, tab, top = x + LEAD_IN_MM, x + length + TAB_MM / 2.0, y + width
    shapes = [
        *moved(flat, x, y),
        *_note("the diamond's line is zero: mark the ring under it for good", (zero, top),
               (zero + 5.0, top + 8.0)),
        *_note("hatched tab: goes underneath", (tab, top), (tab - 6.0, top + 8.0), end=True),
        *_note("at infinity the index points about here, 10 to 20 mm", (x + infinity, y),
               (x + infinity + 6.0, y - 6.0)),
    ]  # fmt: skip
    barrel = Barrel("b", "", "", flat, length, width, "behind", "camera", False, ())
    places = ((infinity, 52.0, "ring at infinity"), (infinity + 48.0, 218.0, "turned nearer"))
    for at, middle, words in places:
        seen = [*barrel_paths(barrel, Setting("", at), face=face)]
        low = min(point[1] for path in seen for point in path.points)
        shapes += moved(seen, middle, 7.0 - low)
        shapes.append(Text(words, middle, 2.0, _CAP_MM, "middle"))
        shapes.append(Text("camera", middle, 22.0, _CAP_MM, "middle"))
        shapes += _to_subject(middle, 70.5)
    shapes += _note("fixed index", (53.0, 44.0), (100.0, 40.0))
    shapes += _note("left edge meets the line", (32.6, 46.0), (100.0, 62.0))
    shapes += _note("before the tab", (32.6, 46.0), (100.0, 57.5), arrow=False)
    shapes += _note("the index must never cross it", (32.6, 46.0), (100.0, 53.0), arrow=False)
    return Page(270.0, 114.0, "How a ruler is taped on", tuple(shapes))


def _to_subject(x: float, y: float) -> Iterator[Shape]:
    """Yield a triangle that points to the subject, and these words."""
    half = _CAP_MM / 2.0
    head = ((x - 13.0 - half, y - half), (x - 13.0 + half, y - half), (x - 13.0, y + half))
    yield Path(head, True, None, fill="#000000")
    yield Text("to the subject", x - 10.5, y - half, _CAP_MM)


def reading(chart: Chart, face: OutlineFace) -> Page:
    """Return a rig before its target from the side, the distance, and which ring is for what."""
    rig, target, axis = 14.0, 212.0, 46.0
    sensor = rig + 4.0
    shapes = [
        *_rig(rig, axis),
        *_target(target, 20.0),
        *_measure((sensor, 8.5), (target, 8.5), "distance: from the sensor mark on the body"),
        line((sensor, 7.0), (sensor, axis + 13.0), stroke_mm=0.2, colour=_NOTE),
        *_note("1  taking lens: until the horizontal lines are sharp",
               (rig + 47.0, axis + 17.0), (rig + 40.0, 86.0)),
        *_note("2  then the attachment: until the vertical lines are sharp",
               (rig + 91.0, axis + 21.0), (rig + 78.0, 77.0)),
        *_close_up(chart, face, (168.0, 22.0)),
    ]  # fmt: skip
    return Page(280.0, 92.0, "How a reading is taken", tuple(shapes))


def _ruler(chart: Chart, face: OutlineFace) -> tuple[tuple[Shape, ...], float, float]:
    """Return the taking lens's ruler strip flat, its length once round and its width."""
    job = next(iter(rulers_of([chart], face=face)))
    (item,) = job.draw()
    ring = chart.rig.lens.ring
    shapes = (*item.block.shapes, *item.block.edges)
    return shapes, ring.ruler_length_mm, ring.strip_width


def _note(
    words: str, at: Point, to: Point, *, end: bool = False, arrow: bool = True
) -> Iterator[Shape]:
    """Yield words at the end of a line that points at something."""
    if arrow:
        yield line(at, to, stroke_mm=0.3, colour=_NOTE)
        yield Path(circle(at, 0.7, chords=12), True, None, fill=_NOTE)
    gap = -1.5 if end else 1.5
    yield Text(words, to[0] + gap, to[1] - _CAP_MM / 2.0, _CAP_MM, "end" if end else "start",
               colour=_NOTE)  # fmt: skip


def _measure(start: Point, end: Point, words: str) -> Iterator[Shape]:
    """Yield a level line of dimension with arrow heads and words below."""
    yield line(start, end, stroke_mm=0.3, colour=_NOTE)
    for (x, y), way in ((start, 1.0), (end, -1.0)):
        head = ((x, y), (x + way * 3.0, y + 1.1), (x + way * 3.0, y - 1.1))
        yield Path(head, True, None, fill=_NOTE)
    yield Text(words, (start[0] + end[0]) / 2.0, start[1] - 5.5, _CAP_MM, "middle", colour=_NOTE)


def _block(left: float, middle: float, width: float, height: float, fill: str) -> Path:
    return replace(box(left, middle - height / 2.0, width, height), stroke_mm=0.3, fill=fill)


def _rig(left: float, axis: float) -> Iterator[Shape]:
    """Yield camera, taking lens, clamp and attachment from the side, the subject to the right."""
    yield _block(left, axis, 24.0, 40.0, _PALE)
    yield Path(circle((left + 4.0, axis + 15.0), 1.5, chords=24), True, 0.3)
    yield line((left + 4.0, axis + 12.5), (left + 4.0, axis + 17.5), stroke_mm=0.3)
    yield Text("camera", left + 12.0, axis - 14.0, _CAP_MM, "middle")
    yield _block(left + 24.0, axis, 34.0, 30.0, "#f4f4f4")
    yield from _ring(left + 40.0, axis, 34.0)
    yield _block(left + 58.0, axis, 6.0, 26.0, _GREY)
    yield _block(left + 64.0, axis, 46.0, 38.0, "#f4f4f4")
    yield from _ring(left + 84.0, axis, 42.0)
    yield _block(left + 108.0, axis, 3.0, 34.0, _GLASS)
    feet = ((left + 12.0, axis - 20.0), (left + 4.0, axis - 30.0), (left + 20.0, axis - 30.0))
    yield Path((feet[1], feet[0], feet[2]), stroke_mm=0.8, colour=_GREY)


def _ring(left: float, axis: float, height: float) -> Iterator[Shape]:
    """Yield a focus ring with a ruler taped round it."""
    yield _block(left, axis, 14.0, height, _GREY)
    yield _block(left + 3.0, axis, 8.0, height + 0.6, "#ffffff")
    for step in range(-7, 8):
        y = axis + height / 2.0 * math.sin(step * math.pi / 16.0)
        yield line((left + 3.0, y), (left + 5.5, y), stroke_mm=0.2)


def _target(left: float, low: float) -> Iterator[Shape]:
    """Yield a target: a field of horizontal lines beside one of vertical lines."""
    size, gap = 24.0, 4.0
    yield replace(box(left, low, 2.0 * size + 3.0 * gap, 58.0), stroke_mm=0.3, fill="#ffffff")
    for step in range(12):
        along = 2.0 * step
        yield box(left + gap, low + 17.0 + along, size, 1.0, stroke_mm=None, fill="#000000")
        yield box(
            left + 2.0 * gap + size + along, low + 17.0, 1.0, size, stroke_mm=None, fill="#000000"
        )
    yield Text("target", left + size + 1.5 * gap, low + 5.0, _CAP_MM, "middle")


def _close_up(chart: Chart, face: OutlineFace, place: Point) -> Iterator[Shape]:
    """Yield the ruler on its ring with the figure that is read at the index."""
    flat, length, width = _ruler(chart, face)
    barrel = Barrel("b", "", "", flat, length, width, "behind", "camera", False, ())
    seen = barrel_paths(barrel, Setting("", _FIGURE_MM + LEAD_IN_MM), face=face)
    low = min(point[1] for path in seen for point in path.points)
    for path in seen:
        points = tuple((_SMALLER * x, _SMALLER * (y - low)) for x, y in path.points)
        yield replace(path, points=points).moved(*place)
    x, y = place
    words = f"3  note both figures: here {_FIGURE_MM:g}"
    yield from _note(words, (x, y + 28.5), (x - 18.0, 69.0))
