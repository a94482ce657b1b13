"""Tags in what a marker strip leaves free, and on the index strip beside it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from focuschart.layout.arrays import Floats
from focuschart.layout.extent import ink_boxes
from focuschart.layout.page import Face, Shape
from focuschart.layout.sheet.block import Everywhere, Loose, Room
from focuschart.layout.strip.band import RingBand, Side
from focuschart.layout.tag.tag import MARGIN_MM, Tag

SIDE_MM = 3.2
_APART_MM = 6.0
"""From the left edge of a tag to that of the next one at the least, so that labels stand out."""
_GRID_MM = 0.2
_ASIDE_MM = 5.0


def marker_tags(
    band: RingBand, shapes: Sequence[Shape], loose: Sequence[Loose], ids: Sequence[int], *,
    face: Face,
) -> Iterator[Tag]:  # fmt: skip
    """Yield tags in the places that shapes leave free on a flat strip, from left to right.

    Texts that move aside for a join, `loose`, keep the room for it; the tab has no tags.
    """
    inked = [shape for shape in shapes if shape.group == "print"]
    boxes = ink_boxes(inked, face=face)
    aside = {each.key for each in loose}
    moving = ink_boxes((shape for shape in inked if shape.key in aside), face=face)
    boxes = np.concatenate((boxes, moving + np.array([-_ASIDE_MM, 0.0, _ASIDE_MM, 0.0])))
    numbers = iter(ids)
    for turn in range(band.turns):
        row = (band.row_y(turn, 0.0), band.row_y(turn, band.row_mm))
        lows = np.arange(min(row) + MARGIN_MM, max(row) - MARGIN_MM - SIDE_MM + 1e-9, _GRID_MM)
        if not len(lows):
            continue
        lefts = np.arange(MARGIN_MM, band.length_mm - MARGIN_MM - SIDE_MM, _GRID_MM)
        free = _free(lefts, lows, boxes)
        reached = -np.inf
        for place in np.flatnonzero(free.any(axis=0)).tolist():
            if lefts[place] >= reached:
                number = next(numbers, None)
                if number is None:
                    return
                # Midway up what is free, to keep clear of ink on both sides.
                high = np.flatnonzero(free[:, place])
                low = float(lows[high[len(high) // 2]])
                yield Tag(number, float(lefts[place]), low, SIDE_MM)
                reached = lefts[place] + _APART_MM


def _free(lefts: Floats, lows: Floats, boxes: Floats) -> NDArray[np.bool_]:
    """Return whether a tag with its margin is clear of all ink, for each low and left."""
    free = np.ones((len(lows), len(lefts)), bool)
    for left, bottom, right, top in boxes.tolist():
        x = (lefts + SIDE_MM + MARGIN_MM > left) & (lefts - MARGIN_MM < right)
        y = (lows + SIDE_MM + MARGIN_MM > bottom) & (lows - MARGIN_MM < top)
        free[np.ix_(y, x)] = False
    return free


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
