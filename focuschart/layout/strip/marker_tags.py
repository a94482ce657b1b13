"""Tags in what a marker strip leaves free, and on the index strip beside it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from focuschart.layout.arrays import Floats
from focuschart.layout.extent import ink_boxes
from focuschart.layout.page import Face, Shape, Text
from focuschart.layout.sheet.block import Everywhere, Loose, Room
from focuschart.layout.strip.band import RingBand, Side, Stretch
from focuschart.layout.tag.tag import MARGIN_MM, Tag

SIDE_MM = 3.2
_APART_MM = 6.0
"""From the left edge of a tag to that of the next one at the least, so that labels stand out."""
_FAR_MM = 20.0
"""Where tags would be farther from each other one takes the room of the ruler's millimetres."""
_KEPT_FREE_MM = 26.0
"""Where captions would keep tags farther from each other, they leave room for one."""
_GRID_MM = 0.2
_ASIDE_MM = 5.0
_ON_BASELINE = frozenset("0123456789.∞'\" ")
"""Figures of distances, which hardly reach below their baseline."""
_YIELDS = "scale"
"""Start of the keys of shapes that yield to a tag: millimetres and their figures."""
_Place = tuple[float, float]
"""The lower left corner of a tag."""


def marker_tags(
    band: RingBand, shapes: Sequence[Shape], loose: Sequence[Loose], ids: Sequence[int], *,
    face: Face,
) -> Iterator[Tag]:  # fmt: skip
    """Yield tags in the places that shapes leave free on a flat strip, from left to right.

    Texts that move aside for a join, `loose`, keep the room for it; the tab has no tags. Where that
    would leave tags too far from each other, some lie over millimetres, which `yielded` leaves out.
    """
    inked = [shape for shape in shapes if shape.group == "print"]
    lasting = [shape for shape in inked if not shape.key.startswith(_YIELDS)]
    all_ink = np.concatenate((_boxes(inked, face), _aside(inked, loose, face)))
    numbers = iter(ids)
    for turn in range(band.turns):
        lefts, lows = _grid(band, turn)
        places = list(_evenly(lefts, lows, _free(lefts, lows, all_ink)))
        free = _free(lefts, lows, _boxes(lasting, face))
        filled = _filled(places, lefts, lows, free, far_mm=_FAR_MM)
        for (x, y), number in zip(filled, numbers, strict=False):
            yield Tag(number, x, y, SIDE_MM)


def kept_free(band: RingBand, shapes: Sequence[Shape], *, face: Face) -> Iterator[Stretch]:
    """Yield what captions leave for tags on a strip that has its marks and labels already."""
    boxes = _boxes((shape for shape in shapes if shape.group == "print"), face)
    for turn in range(band.turns):
        lefts, lows = _grid(band, turn)
        free = _free(lefts, lows, boxes)
        for x, _ in _filled([], lefts, lows, free, far_mm=_KEPT_FREE_MM):
            yield Stretch(turn, x - MARGIN_MM, x + SIDE_MM + MARGIN_MM)


def _grid(band: RingBand, turn: int) -> tuple[Floats, Floats]:
    """Return the left and the lower edges that a tag may have in the row of a turn."""
    row = (band.row_y(turn, 0.0), band.row_y(turn, band.row_mm))
    lows = np.arange(min(row) + MARGIN_MM, max(row) - MARGIN_MM - SIDE_MM + 1e-9, _GRID_MM)
    return np.arange(MARGIN_MM, band.length_mm - MARGIN_MM - SIDE_MM, _GRID_MM), lows


def _boxes(shapes: Iterable[Shape], face: Face) -> Floats:
    """Return the boxes of ink, those of upright figures from their baseline up."""
    found = []
    for shape in shapes:
        box = ink_boxes([shape], face=face)
        if isinstance(shape, Text) and not shape.rotation and set(shape.text) <= _ON_BASELINE:
            box[:, 1] = np.maximum(box[:, 1], shape.y)
        found.append(box)
    return np.concatenate([np.empty((0, 4)), *found])


def _aside(shapes: Sequence[Shape], loose: Sequence[Loose], face: Face) -> Floats:
    """Return the boxes in which loose texts may come to lie."""
    aside = {each.key for each in loose}
    boxes = ink_boxes((shape for shape in shapes if shape.key in aside), face=face)
    return np.asarray(boxes + np.array([-_ASIDE_MM, 0.0, _ASIDE_MM, 0.0]))


def _evenly(lefts: Floats, lows: Floats, free: NDArray[np.bool_]) -> Iterator[_Place]:
    """Yield places as near to each other as they may be, each midway up what is free there."""
    reached = -np.inf
    for place in np.flatnonzero(free.any(axis=0)).tolist():
        if lefts[place] >= reached:
            yield float(lefts[place]), _midway(lows, free[:, place])
            reached = lefts[place] + _APART_MM


def _midway(lows: Floats, free: NDArray[np.bool_]) -> float:
    """Return the low midway up what is free, to keep clear of ink on both sides."""
    high = np.flatnonzero(free)
    return float(lows[high[len(high) // 2]])


def _filled(
    places: Sequence[_Place], lefts: Floats, lows: Floats, free: NDArray[np.bool_], *,
    far_mm: float,
) -> list[_Place]:  # fmt: skip
    """Return the places with more of them, evenly spread over each gap wider than `far_mm`."""
    found = sorted(places)
    if not len(lows):
        return found
    ends = (float(lefts[0]) - _APART_MM, float(lefts[-1]) + _APART_MM)
    for low, high in pairwise([ends[0], *(x for x, _ in found), ends[1]]):
        reached = low
        while high - reached > far_mm:
            step = (high - reached) / math.ceil((high - reached) / far_mm)
            inside = (lefts >= reached + _APART_MM) & (lefts <= high - _APART_MM)
            inside &= free.any(axis=0)
            if not inside.any():
                break
            off = np.where(inside, np.abs(lefts - reached - step), np.inf)
            place = int(np.argmin(off))
            reached = float(lefts[place])
            found.append((reached, _midway(lows, free[:, place])))
    return sorted(found)


def _free(lefts: Floats, lows: Floats, boxes: Floats) -> NDArray[np.bool_]:
    """Return whether a tag with its margin is clear of all ink, for each low and left."""
    free = np.ones((len(lows), len(lefts)), bool)
    for left, bottom, right, top in boxes.tolist():
        x = (lefts + SIDE_MM + MARGIN_MM > left) & (lefts - MARGIN_MM < right)
        y = (lows + SIDE_MM + MARGIN_MM > bottom) & (lows - MARGIN_MM < top)
        free[np.ix_(y, x)] = False
    return free


def yielded(shapes: Sequence[Shape], tags: Iterable[Tag], *, face: Face) -> list[Shape]:
    """Return the shapes of a strip without the millimetres and figures that tags lie over."""
    squares = np.array([(tag.x, tag.y, tag.x + tag.side_mm, tag.y + tag.side_mm) for tag in tags])
    squares = squares.reshape(-1, 4) + np.array([-1.0, -1.0, 1.0, 1.0]) * MARGIN_MM
    return [
        shape for shape in shapes
        if not shape.key.startswith(_YIELDS) or not _meet(ink_boxes([shape], face=face), squares)
    ]  # fmt: skip


def _meet(boxes: Floats, squares: Floats) -> bool:
    low, high = boxes[:, np.newaxis, :2], boxes[:, np.newaxis, 2:]
    return bool(np.all((low < squares[:, 2:]) & (squares[:, :2] < high), axis=2).any())


def around(everywhere: Everywhere | None, tags: Iterable[Tag]) -> Everywhere | None:
    """Return a text for every piece with the rooms that tags leave for it."""
    if everywhere is None:
        return None
    text, kept = everywhere.text, []
    for room in everywhere.rooms:
        spans = sorted(
            (tag.x - MARGIN_MM, tag.x + tag.side_mm + MARGIN_MM)
            for tag in tags
            if tag.y - MARGIN_MM < room.baseline + text.cap_mm
            and room.baseline - 0.5 * text.cap_mm < tag.y + tag.side_mm + MARGIN_MM
        )
        low = room.low
        for start, end in [*spans, (room.high, room.high)]:
            if min(start, room.high) > low:
                kept.append(Room(low, min(start, room.high), room.baseline))
            low = max(low, end)
    return Everywhere(text, everywhere.width_mm, everywhere.taken, tuple(kept))


INDEX_HALF_MM = 16.0
"""Least half width of an index with tags."""
HEAD_MM = 4.4
"""What tags take at its edge next to the ring."""
_EDGE_MM = 0.6
_LEFTS_MM = (-15.2, -8.4, 5.2, 12.0)
INDEX_TAGS = len(_LEFTS_MM)


def index_tags(side: Side, middle: float, height: float, ids: Sequence[int]) -> Iterator[Tag]:
    """Yield the tags of an index strip, two on each side of its line, next to the ring."""
    y = height - _EDGE_MM - SIDE_MM if side == "camera" else _EDGE_MM
    for number, left in zip(ids, _LEFTS_MM, strict=False):
        yield Tag(number, middle + left, y, SIDE_MM)
