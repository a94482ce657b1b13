"""Bars in groups and wedges: how many a room holds, and their shapes with their scales.

A bar is one dark line, as wide as the gap beside it. A group's bars are a whole number of finest
bars wide; a wedge's lines run through all widths from its start to its end.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal, NamedTuple

from focuschart.layout.page import BLACK, Face, Path, Point, Room, Shape, Text, box, line
from focuschart.layout.text.typeset import LEADING, wrapped

Way = Literal["h", "v"]

PRINTABLE_MM = 0.15
"""The finest bar that a common printer keeps apart (judgement, no source)."""
LEAST_BARS = 3
GROUP_GAP_MM = 8.0

_TICKS = (4.0, 3.0, 2.0, 1.0, 0.5)
_USUAL_SPREAD, _WIDEST_SPREAD = 0.55, 0.8
"""A wedge's wide end against its length: its outer lines must not slant into the other meridian."""
_ROW_GAP_MM = 5.0
_LABEL_CAP_MM = 2.2
_LABEL_MM = 1.5 + 2.0 * LEADING * _LABEL_CAP_MM
_LABEL_WIDTH_MM = 32.0
_SCALE_MM: dict[Way, float] = {"h": 7.0, "v": 12.0}
_TICK_CAP_MM = 2.0


class Lines(NamedTuple):
    """Lines of one direction: the finest bar as printed, and its width in circles of confusion."""

    way: Way
    bar_mm: float
    multiple: int


class Patch(NamedTuple):
    """A group of `bars` bars, each `factor` of the finest wide, that fills its room exactly."""

    factor: int
    bars: int
    room: Room


class Wedge(NamedTuple):
    """Lines that taper from `start` to `end` finest bars along a square room.

    `axis` is the y of its middle line, or for vertical lines the x.
    """

    way: Way
    bars: int
    start: float
    end: float
    wide_mm: float
    axis: float
    room: Room

    def at(self, share: float, across_mm: float) -> Point:
        """Return the point at a share (0 to 1) of its length, `across_mm` from its middle line."""
        along = share * self.room.width
        if self.way == "h":
            return self.room.x + along, self.axis + across_mm
        return self.axis + across_mm, self.room.y + along


# --- what a room holds ---------------------------------------------------------------------------


def _extent(count: int, bar_mm: float) -> float:
    """Return the width of a group of `count` bars with the gaps between them, mm."""
    return (2 * count - 1) * bar_mm


def _filling(room_mm: float, bar_mm: float, least: int) -> int:
    """Return how many bars a room holds, or the least if that is more."""
    return max(least, int((room_mm / bar_mm + 1.0) / 2.0))


def side_by_side(lines: Lines, room: Room, factors: Sequence[int], least: int) -> list[Patch]:
    """Return groups side by side, the finest toward the other half; empty if they do not fit."""
    arrange = _columns_h if lines.way == "h" else _columns_v
    return arrange(lines.bar_mm, room, factors, least)


def in_full_height(lines: Lines, room: Room, factors: Sequence[int], least: int) -> list[Patch]:
    """Return groups over the full height, for coarse bars; empty if they do not fit."""
    arrange = _columns_h if lines.way == "h" else _rows_v
    return arrange(lines.bar_mm, room, factors, least)


def _columns_h(bar: float, room: Room, factors: Sequence[int], least: int) -> list[Patch]:
    """Return groups of horizontal lines side by side, finest on the right; empty if none fit."""
    height = room.height - _LABEL_MM
    width = (room.width - (len(factors) - 1) * GROUP_GAP_MM) / len(factors)
    patches = []
    for place, factor in enumerate(reversed(factors)):
        count = _filling(height, factor * bar, least)
        x = room.x + place * (width + GROUP_GAP_MM)
        cell = Room(x, room.y + _LABEL_MM, width, _extent(count, factor * bar))
        patches.append(Patch(factor, count, cell))
    return patches if all(patch.room.height <= height for patch in patches) else []


def _columns_v(bar: float, room: Room, factors: Sequence[int], least: int) -> list[Patch]:
    """Return groups of vertical lines side by side, finest on the left; empty if none fit.

    The coarsest takes the least width for its bars, the others share the rest.
    """
    counts: list[int] = []
    left = room.width + GROUP_GAP_MM
    for number, factor in enumerate(reversed(factors)):
        share = left / (len(factors) - number) - GROUP_GAP_MM
        counts.insert(0, _filling(share, factor * bar, least))
        left -= _extent(counts[0], factor * bar) + GROUP_GAP_MM
    if left < 0.0:
        return []
    gap = GROUP_GAP_MM + left / (len(factors) - 1)
    x, patches = room.x, []
    for factor, count in zip(factors, counts, strict=True):
        width = _extent(count, factor * bar)
        cell = Room(x, room.y + _LABEL_MM, width, room.height - _LABEL_MM)
        patches.append(Patch(factor, count, cell))
        x += width + gap
    return patches


def _rows_v(bar: float, room: Room, factors: Sequence[int], least: int) -> list[Patch]:
    """Return groups of vertical lines one below the other, finest on top; empty if none fit."""
    pitch = (room.height + _ROW_GAP_MM) / len(factors)
    patches = []
    for place, factor in enumerate(factors):
        count = _filling(room.width, factor * bar, least)
        width = _extent(count, factor * bar)
        y = room.top + _ROW_GAP_MM - (place + 1) * pitch + _LABEL_MM
        cell = Room(room.x + (room.width - width) / 2.0, y, width, pitch - _LABEL_MM - _ROW_GAP_MM)
        patches.append(Patch(factor, count, cell))
    return patches if all(patch.room.width <= room.width for patch in patches) else []


def wedge_in(lines: Lines, room: Room) -> Wedge | None:
    """Return the wedge for a square room, starting at four finest bars or as many as fit."""
    widest = _WIDEST_SPREAD * room.width
    least = 5 if _extent(5, _TICKS[0] * lines.bar_mm) <= widest else LEAST_BARS
    count = _filling(_USUAL_SPREAD * room.width, _TICKS[0] * lines.bar_mm, least)
    start = min(_TICKS[0], widest / _extent(count, lines.bar_mm))
    end = max(_TICKS[-1], PRINTABLE_MM / lines.bar_mm)
    wide = _extent(count, start * lines.bar_mm)
    # Wedge and scale together stand in the middle of the room.
    off = (room.width - _SCALE_MM[lines.way]) / 2.0
    axis = room.top - off if lines.way == "h" else room.x + off
    return Wedge(lines.way, count, start, end, wide, axis, room) if start >= _TICKS[2] else None


# --- drawing -------------------------------------------------------------------------------------


def drawn_group(lines: Lines, patch: Patch, within: Room, face: Face) -> Iterator[Shape]:
    """Yield a group with its label, which keeps within a room."""
    yield from _bars(lines, patch)
    yield from _label(lines, patch, within, face)


def drawn_wedge(lines: Lines, wedge: Wedge) -> Iterator[Shape]:
    """Yield a wedge with its scale."""
    yield from _wedge_lines(lines, wedge)
    yield from _wedge_scale(lines, wedge)


def _bars(lines: Lines, patch: Patch) -> Iterator[Path]:
    """Yield the bars of a group as filled boxes of exact width."""
    bar, room = patch.factor * lines.bar_mm, patch.room
    for index in range(patch.bars):
        key, off = f"{lines.way}:{patch.factor}:{index}", 2.0 * index * bar
        if lines.way == "h":
            yield box(room.x, room.y + off, room.width, bar, stroke_mm=None, fill=BLACK, key=key)
        else:
            yield box(room.x + off, room.y, bar, room.height, stroke_mm=None, fill=BLACK, key=key)


def _label(lines: Lines, patch: Patch, within: Room, face: Face) -> Iterator[Text]:
    """Yield how wide a group's bars are, in circles of confusion, below it."""
    says = f"{patch.factor * lines.multiple} ×"
    if patch.factor == 1:
        says += " the circle of confusion"
    width = max(patch.room.width, _LABEL_WIDTH_MM)
    texts = wrapped(says, face=face, cap_mm=_LABEL_CAP_MM, width_mm=width)
    longest = max(face.width_mm(text, cap_mm=_LABEL_CAP_MM) for text in texts)
    x = patch.room.x + patch.room.width / 2.0
    x = min(max(x, within.x + longest / 2.0), within.right - longest / 2.0)
    for number, text in enumerate(texts):
        y = patch.room.y - 2.0 - _LABEL_CAP_MM - number * LEADING * _LABEL_CAP_MM
        key = f"label:{lines.way}:{patch.factor}:{number}"
        yield Text(text, x, y, _LABEL_CAP_MM, "middle", key=key)


def _wedge_lines(lines: Lines, wedge: Wedge) -> Iterator[Path]:
    """Yield the lines of a wedge, its thin end toward the cross."""
    wide, thin = wedge.start * lines.bar_mm, wedge.end * lines.bar_mm
    for index in range(wedge.bars):
        low = 2 * index - wedge.bars + 0.5
        edges = ((0.0, low * wide), (1.0, low * thin), (1.0, (low + 1.0) * thin),
                 (0.0, (low + 1.0) * wide))  # fmt: skip
        corners = tuple(wedge.at(*edge) for edge in edges)
        yield Path(corners, True, None, BLACK, BLACK, key=f"wedge:{lines.way}:{index}")


def _wedge_scale(lines: Lines, wedge: Wedge) -> Iterator[Shape]:
    """Yield a scale of a wedge's widths, below it or on its right."""
    side = -1.0 if lines.way == "h" else 1.0
    off = side * (wedge.wide_mm / 2.0 + 2.0)
    name = f"scale:{lines.way}"
    yield line(wedge.at(0.0, off), wedge.at(1.0, off), stroke_mm=0.2, key=name)
    for tick in (tick for tick in _TICKS if wedge.end <= tick <= wedge.start):
        share = (wedge.start - tick) / (wedge.start - wedge.end)
        start, stop = wedge.at(share, off), wedge.at(share, off + side * 1.5)
        yield line(start, stop, stroke_mm=0.2, key=f"{name}:{tick:g}")
        yield _tick_label(lines, wedge.at(share, off + side * 2.3), tick)


def _tick_label(lines: Lines, place: Point, tick: float) -> Text:
    """Return a scale's figure, below or right of its place."""
    says, key = f"{tick * lines.multiple:g} ×", f"figure:{lines.way}:{tick:g}"
    if lines.way == "h":
        return Text(says, place[0], place[1] - _TICK_CAP_MM, _TICK_CAP_MM, "middle", key=key)
    return Text(says, place[0], place[1] - _TICK_CAP_MM / 2.0, _TICK_CAP_MM, key=key)
