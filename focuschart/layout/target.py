"""The focus target: lines in groups and wedges, horizontal on the left, vertical on the right.

A bar is one dark line, as wide as the gap beside it. Groups have bars one, two and four times the
finest; a wedge runs through all widths from four of the finest to half of it. A cross and a frame
of long lines show whether the attachment stands level.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

from focuschart.errors import PageError
from focuschart.layout.page import BLACK, Face, Page, Path, Point, Shape, Text, box, line
from focuschart.layout.sheet import (
    BOTTOM_MM,
    EDGE_MM,
    LEFT_MM,
    TOP_MM,
    furniture,
    paper_size,
)
from focuschart.layout.typeset import LEADING, SMALLEST_CAP_MM, shortened, wrapped

Way = Literal["h", "v"]

PRINTABLE_MM = 0.15
"""The finest bar that a common printer keeps apart (judgement, no source)."""
LEAST_BARS = 3

_WAYS: tuple[Way, Way] = ("h", "v")
SAYS: dict[Way, str] = {
    "h": "Horizontal lines: focus the taking lens",
    "v": "Vertical lines: focus the attachment",
}
STEPS = (
    "1. Hang the sheet flat and level, square to the lens, its cross on the lens's axis.",
    "2. Turn the attachment in its clamp until the long lines are upright and level in the frame.",
    "3. Focus the taking lens on the horizontal lines, from both sides.",
    "4. Then focus the attachment on the vertical lines, from both sides.",
)
"""What is done with any target, told beside the notes of each."""
WEDGE_SAYS = "The nearer to the thin end of a wedge its lines stay apart, the sharper the focus."

_FACTORS = ((1, 2, 4), (1, 2), (1,))
_TRIES = tuple((factors, least) for factors in _FACTORS for least in (5, 4, LEAST_BARS))
"""Groups and the bars each must have, the richest first."""
_TICKS = (4.0, 3.0, 2.0, 1.0, 0.5)
_USUAL_SPREAD, _WIDEST_SPREAD = 0.55, 0.8
"""A wedge's wide end against its length: its outer lines must not slant into the other meridian."""

_HEAD_MM = 18.0
_INNER_MM = 5.0
_GAP_MM = 8.0
_SAYS_CAP_MM = 3.2
_LABEL_CAP_MM = 2.2
_LABEL_MM = 1.5 + 2.0 * LEADING * _LABEL_CAP_MM
_LABEL_WIDTH_MM = 32.0
_SCALE_MM: dict[Way, float] = {"h": 7.0, "v": 12.0}
_HEADING_CAPS_MM = (7.0, 6.0, 5.0, 4.0, _SAYS_CAP_MM)
_RIG_CAPS_MM = (3.2, 2.8, 2.4, 2.0, SMALLEST_CAP_MM)
_WORD_CAPS_MM = (3.6, 3.2, 3.0, 2.8, 2.6, 2.4, 2.2, 2.0, 1.8, SMALLEST_CAP_MM)
_FOOT_CAP_MM = 2.0
_TICK_CAP_MM = 2.0


@dataclass(frozen=True, slots=True)
class Target:
    """One target: where to hang it, for which rig, and the bar of each kind of line there, mm."""

    key: str
    heading: str
    rig: str
    horizontal_bar_mm: float
    vertical_bar_mm: float
    notes: tuple[str, ...] = ()


class _Room(NamedTuple):
    """An upright rectangle from its lower left corner, mm."""

    x: float
    y: float
    width: float
    height: float

    @property
    def top(self) -> float:
        return self.y + self.height

    @property
    def right(self) -> float:
        return self.x + self.width

    def lowered(self, by_mm: float) -> _Room:
        """Return the room without its uppermost part."""
        return self._replace(height=self.height - by_mm)

    def raised(self, by_mm: float) -> _Room:
        """Return the room without its lowest part."""
        return _Room(self.x, self.y + by_mm, self.width, self.height - by_mm)


@dataclass(frozen=True, slots=True)
class _Half:
    """One kind of line: its finest bar as printed, how many circles that is, room and words.

    `foot_mm` is what the words of either half take at the foot of a whole column.
    """

    way: Way
    bar_mm: float
    multiple: int
    room: _Room
    words: tuple[str, ...]
    foot_mm: float


class _Patch(NamedTuple):
    """A group of `bars` bars, each `factor` of the finest wide, that fills its room exactly."""

    factor: int
    bars: int
    room: _Room


class _Wedge(NamedTuple):
    """Lines whose width runs from `start` to `end` finest bars along the way of a square room.

    `axis` is the height, or for vertical lines the place from the left, of its middle.
    """

    way: Way
    bars: int
    start: float
    end: float
    wide_mm: float
    axis: float
    room: _Room

    def at(self, share: float, across_mm: float) -> Point:
        """Return the place at a share of its length and a distance from its middle."""
        along = share * self.room.width
        if self.way == "h":
            return self.room.x + along, self.axis + across_mm
        return self.axis + across_mm, self.room.y + along


class _Plan(NamedTuple):
    """Where everything of one half stands."""

    half: _Half
    patches: list[_Patch]
    wedge: _Wedge | None
    words: tuple[str, ...]
    beside: _Room


def target_page(target: Target, *, paper: str, face: Face, number: int = 1, count: int = 1) -> Page:
    """Return the page of a target; `number` of `count` is printed as on other sheets.

    Bars too fine for a printer are shown at the next whole multiple, which their label tells.
    Raises PageError for an unknown paper, bars without a width, bars of which the sheet has no
    room for three, and words that find no room.
    """
    width, height = paper_size(paper)
    frame = _Room(
        LEFT_MM, BOTTOM_MM, width - LEFT_MM - EDGE_MM, height - BOTTOM_MM - TOP_MM - _HEAD_MM
    )
    shapes = [
        *furniture(width, height, "Focus target", number, count),
        *_head(target, frame, face),
        *_body(target, frame, paper, face),
    ]
    return Page(width, height, f"Focus target: {target.rig}", tuple(shapes))


def _head(target: Target, frame: _Room, face: Face) -> Iterator[Shape]:
    """Yield the distance, to be read from where it is hung, and the rig it is for."""
    heading, cap = _sized(target.heading, _HEADING_CAPS_MM, frame.width, face)
    yield Text(heading, frame.x, frame.top + 10.6, cap, key="heading")
    rig, cap = _sized(target.rig, _RIG_CAPS_MM, frame.width, face)
    yield Text(rig, frame.x, frame.top + 4.0, cap, key="rig")


def _sized(text: str, caps_mm: Sequence[float], width_mm: float, face: Face) -> tuple[str, float]:
    """Return the text with the largest size at which it fits, shortened at the smallest."""
    fitting = (cap for cap in caps_mm if face.width_mm(text, cap_mm=cap) <= width_mm)
    cap = next(fitting, caps_mm[-1])
    return shortened(text, face=face, cap_mm=cap, width_mm=width_mm), cap


def _body(target: Target, frame: _Room, paper: str, face: Face) -> list[Shape]:
    """Return frame, cross, groups, wedges and words, in the richest layout that has room."""
    halves = _halves(target, frame, face)
    stroke = min(max(halves[0].bar_mm, 0.3), 0.8)
    for layout in (_quartered, _halved):
        for factors, least in _TRIES:
            plans = [layout(half, factors, least) for half in halves]
            found = [plan for plan in plans if plan is not None]
            cap = _common_cap(found, face) if len(found) == len(halves) else None
            if cap is not None:
                cross = _cross(frame, stroke, whole=layout is _quartered)
                drawn = (shape for plan in found for shape in _drawn(plan, cap, face))
                return [box(*frame, stroke_mm=stroke, key="frame"), *cross, *drawn]
    bar = max(target.horizontal_bar_mm, target.vertical_bar_mm)
    raise PageError(
        f"{target.key}: {paper} paper has no room for {LEAST_BARS} bars of {bar:.3g} mm: "
        "use larger paper or a distant edge"
    )


def _halves(target: Target, frame: _Room, face: Face) -> list[_Half]:
    """Return both kinds of line with their halves of the frame and the bars as printed."""
    bars = (target.horizontal_bar_mm, target.vertical_bar_mm)
    if not all(0.0 < bar < math.inf for bar in bars):
        raise PageError(f"{target.key}: bars without a width in mm: name a nearer distance")
    multiple = max(1, math.ceil(PRINTABLE_MM / min(bars) - 1e-9))
    width, height = frame.width / 2.0 - 2.0 * _INNER_MM, frame.height - 2.0 * _INNER_MM
    words = (STEPS, target.notes)
    foot = max(_words_height(text, _FOOT_CAP_MM, width, face) for text in words)
    if foot > height / 3.0:
        raise PageError(f"{target.key}: the notes find no room on the target: shorten them")
    lefts = (frame.x, frame.x + frame.width / 2.0)
    rooms = (_Room(left + _INNER_MM, frame.y + _INNER_MM, width, height) for left in lefts)
    return [
        _Half(way, bar * multiple, multiple, room, text, foot)
        for way, bar, room, text in zip(_WAYS, bars, rooms, words, strict=True)
    ]


def _cross(frame: _Room, stroke: float, *, whole: bool) -> Iterator[Path]:
    """Yield the cross; its level arm is broken where groups take the full height."""
    x, y = frame.x + frame.width / 2.0, frame.y + frame.height / 2.0
    yield line((x, frame.y), (x, frame.top), stroke_mm=stroke, key="cross:up")
    if whole:
        yield line((frame.x, y), (frame.right, y), stroke_mm=stroke, key="cross:across")
        return
    reach = _INNER_MM - 1.0
    yield line((x - reach, y), (x + reach, y), stroke_mm=stroke, key="cross:across")
    yield line((frame.x, y), (frame.x + reach, y), stroke_mm=stroke, key="cross:left")
    yield line((frame.right - reach, y), (frame.right, y), stroke_mm=stroke, key="cross:right")


# --- the two layouts: what stands where ----------------------------------------------------------


def _quartered(half: _Half, factors: Sequence[int], least: int) -> _Plan | None:
    """Return groups above the cross, and below it a wedge with the words on its outer side."""
    if len(factors) == 1:
        return None
    height = half.room.height / 2.0 - _INNER_MM
    lower = half.room._replace(height=height)
    length = min(lower.width / 2.0, height) - _INNER_MM
    outer = lower._replace(width=lower.width - length - _GAP_MM - _INNER_MM)
    inner = _Room(lower.x + _INNER_MM, lower.y + (height - length) / 2.0, length, length)
    words = half.words
    if half.way == "h":
        inner = inner._replace(x=lower.right - _INNER_MM - length)
        words = (*words, WEDGE_SAYS)
    else:
        outer = outer._replace(x=lower.right - outer.width)
    upper = _under_saying(half.room.raised(height + 2.0 * _INNER_MM))
    arrange = _columns_h if half.way == "h" else _columns_v
    wedge, patches = _wedge(half, inner), arrange(half.bar_mm, upper, factors, least)
    return _Plan(half, patches, wedge, words, outer) if wedge and patches else None


def _halved(half: _Half, factors: Sequence[int], least: int) -> _Plan | None:
    """Return groups of the full height with the words at their foot: for bars too coarse else."""
    foot = half.room._replace(height=half.foot_mm)
    room = _under_saying(half.room.raised(half.foot_mm + _GAP_MM / 2.0))
    arrange = _columns_h if half.way == "h" else _rows_v
    patches = arrange(half.bar_mm, room, factors, least)
    return _Plan(half, patches, None, half.words, foot) if patches else None


def _under_saying(room: _Room) -> _Room:
    return room.lowered(_SAYS_CAP_MM + _INNER_MM)


def _extent(count: int, bar_mm: float) -> float:
    """Return the extent across a group: one gap less than bars."""
    return (2 * count - 1) * bar_mm


def _filling(room_mm: float, bar_mm: float, least: int) -> int:
    """Return how many bars a room holds, or the least if that is more."""
    return max(least, int((room_mm / bar_mm + 1.0) / 2.0))


def _columns_h(bar: float, room: _Room, factors: Sequence[int], least: int) -> list[_Patch]:
    """Return groups of horizontal lines side by side, the finest on the right; or none."""
    height = room.height - _LABEL_MM
    width = (room.width - (len(factors) - 1) * _GAP_MM) / len(factors)
    patches = []
    for place, factor in enumerate(reversed(factors)):
        count = _filling(height, factor * bar, least)
        x = room.x + place * (width + _GAP_MM)
        cell = _Room(x, room.y + _LABEL_MM, width, _extent(count, factor * bar))
        patches.append(_Patch(factor, count, cell))
    return patches if all(patch.room.height <= height for patch in patches) else []


def _columns_v(bar: float, room: _Room, factors: Sequence[int], least: int) -> list[_Patch]:
    """Return groups of vertical lines side by side, the finest on the left; or none.

    The coarsest takes what it must, the others share the rest.
    """
    counts: list[int] = []
    left = room.width + _GAP_MM
    for number, factor in enumerate(reversed(factors)):
        share = left / (len(factors) - number) - _GAP_MM
        counts.insert(0, _filling(share, factor * bar, least))
        left -= _extent(counts[0], factor * bar) + _GAP_MM
    if left < 0.0:
        return []
    gap = _GAP_MM + left / (len(factors) - 1)
    x, patches = room.x, []
    for factor, count in zip(factors, counts, strict=True):
        width = _extent(count, factor * bar)
        cell = _Room(x, room.y + _LABEL_MM, width, room.height - _LABEL_MM)
        patches.append(_Patch(factor, count, cell))
        x += width + gap
    return patches


def _rows_v(bar: float, room: _Room, factors: Sequence[int], least: int) -> list[_Patch]:
    """Return groups of vertical lines one below the other, the finest on top; or none."""
    pitch = (room.height + _INNER_MM) / len(factors)
    patches = []
    for place, factor in enumerate(factors):
        count = _filling(room.width, factor * bar, least)
        width = _extent(count, factor * bar)
        y = room.top + _INNER_MM - (place + 1) * pitch + _LABEL_MM
        cell = _Room(room.x + (room.width - width) / 2.0, y, width, pitch - _LABEL_MM - _INNER_MM)
        patches.append(_Patch(factor, count, cell))
    return patches if all(patch.room.width <= room.width for patch in patches) else []


def _wedge(half: _Half, room: _Room) -> _Wedge | None:
    """Return the wedge for a square room, from four bars or from what there is room for."""
    widest = _WIDEST_SPREAD * room.width
    least = 5 if _extent(5, _TICKS[0] * half.bar_mm) <= widest else LEAST_BARS
    count = _filling(_USUAL_SPREAD * room.width, _TICKS[0] * half.bar_mm, least)
    start = min(_TICKS[0], widest / _extent(count, half.bar_mm))
    end = max(_TICKS[-1], PRINTABLE_MM / half.bar_mm)
    wide = _extent(count, start * half.bar_mm)
    # Wedge and scale together stand in the middle of the room.
    off = (room.width - _SCALE_MM[half.way]) / 2.0
    axis = room.top - off if half.way == "h" else room.x + off
    return _Wedge(half.way, count, start, end, wide, axis, room) if start >= _TICKS[2] else None


# --- drawing --------------------------------------------------------------------------------------


def _drawn(plan: _Plan, cap: float, face: Face) -> Iterator[Shape]:
    """Yield all of one half."""
    room = plan.half.room
    says, size = _sized(SAYS[plan.half.way], (_SAYS_CAP_MM, 2.6, 2.0), room.width, face)
    yield Text(says, room.x, room.top - _SAYS_CAP_MM, size, key=f"says:{plan.half.way}")
    for patch in plan.patches:
        yield from _bars(plan.half, patch)
        yield from _label(plan.half, patch, face)
    if plan.wedge:
        yield from _wedge_lines(plan.half, plan.wedge)
        yield from _wedge_scale(plan.half, plan.wedge)
    yield from _set_words(plan, cap, face)


def _bars(half: _Half, patch: _Patch) -> Iterator[Path]:
    """Yield the bars of a group as filled boxes; their widths are the target's own."""
    bar, room = patch.factor * half.bar_mm, patch.room
    for index in range(patch.bars):
        key, off = f"{half.way}:{patch.factor}:{index}", 2.0 * index * bar
        if half.way == "h":
            yield box(room.x, room.y + off, room.width, bar, stroke_mm=None, fill=BLACK, key=key)
        else:
            yield box(room.x + off, room.y, bar, room.height, stroke_mm=None, fill=BLACK, key=key)


def _label(half: _Half, patch: _Patch, face: Face) -> Iterator[Text]:
    """Yield how wide a group's bars are, in circles of confusion, below it."""
    says = f"{patch.factor * half.multiple} ×"
    if patch.factor == 1:
        says += " the circle of confusion"
    width = max(patch.room.width, _LABEL_WIDTH_MM)
    lines = wrapped(says, face=face, cap_mm=_LABEL_CAP_MM, width_mm=width)
    longest = max(face.width_mm(text, cap_mm=_LABEL_CAP_MM) for text in lines)
    x = patch.room.x + patch.room.width / 2.0
    x = min(max(x, half.room.x + longest / 2.0), half.room.right - longest / 2.0)
    for number, text in enumerate(lines):
        y = patch.room.y - 2.0 - _LABEL_CAP_MM - number * LEADING * _LABEL_CAP_MM
        key = f"label:{half.way}:{patch.factor}:{number}"
        yield Text(text, x, y, _LABEL_CAP_MM, "middle", key=key)


def _wedge_lines(half: _Half, wedge: _Wedge) -> Iterator[Path]:
    """Yield the lines of a wedge, its thin end toward the cross."""
    wide, thin = wedge.start * half.bar_mm, wedge.end * half.bar_mm
    for index in range(wedge.bars):
        low = 2 * index - wedge.bars + 0.5
        edges = ((0.0, low * wide), (1.0, low * thin), (1.0, (low + 1.0) * thin),
                 (0.0, (low + 1.0) * wide))  # fmt: skip
        corners = tuple(wedge.at(*edge) for edge in edges)
        yield Path(corners, True, None, BLACK, BLACK, key=f"wedge:{half.way}:{index}")


def _wedge_scale(half: _Half, wedge: _Wedge) -> Iterator[Shape]:
    """Yield a scale of a wedge's widths, below it or on its right."""
    side = -1.0 if half.way == "h" else 1.0
    off = side * (wedge.wide_mm / 2.0 + 2.0)
    name = f"scale:{half.way}"
    yield line(wedge.at(0.0, off), wedge.at(1.0, off), stroke_mm=0.2, key=name)
    for tick in (tick for tick in _TICKS if wedge.end <= tick <= wedge.start):
        share = (wedge.start - tick) / (wedge.start - wedge.end)
        start, stop = wedge.at(share, off), wedge.at(share, off + side * 1.5)
        yield line(start, stop, stroke_mm=0.2, key=f"{name}:{tick:g}")
        yield _tick_label(half, wedge.at(share, off + side * 2.3), tick)


def _tick_label(half: _Half, place: Point, tick: float) -> Text:
    """Return a scale's figure, below or right of its place."""
    says, key = f"{tick * half.multiple:g} ×", f"figure:{half.way}:{tick:g}"
    if half.way == "h":
        return Text(says, place[0], place[1] - _TICK_CAP_MM, _TICK_CAP_MM, "middle", key=key)
    return Text(says, place[0], place[1] - _TICK_CAP_MM / 2.0, _TICK_CAP_MM, key=key)


# --- words ----------------------------------------------------------------------------------------


def _broken(words: Sequence[str], cap: float, width: float, face: Face) -> list[tuple[str, float]]:
    """Return the lines of paragraphs, each with its baseline's depth below the top."""
    lines: list[tuple[str, float]] = []
    depth = cap
    for paragraph in words:
        for text in wrapped(paragraph, face=face, cap_mm=cap, width_mm=width):
            lines.append((text, depth))
            depth += LEADING * cap
        depth += 0.7 * cap
    return lines


def _words_height(words: Sequence[str], cap: float, width: float, face: Face) -> float:
    """Return the height of paragraphs, infinity where a word is wider than the room."""
    try:
        lines = _broken(words, cap, width, face)
    except PageError:
        return math.inf
    return lines[-1][1] + 0.3 * cap if lines else 0.0


def _common_cap(plans: Sequence[_Plan], face: Face) -> float | None:
    """Return the largest size at which the words of all plans fit their rooms, None for none."""
    return next(
        (cap for cap in _WORD_CAPS_MM
         if all(_words_height(plan.words, cap, plan.beside.width, face) <= plan.beside.height
                for plan in plans)),
        None,
    )  # fmt: skip


def _set_words(plan: _Plan, cap: float, face: Face) -> Iterator[Text]:
    lines = _broken(plan.words, cap, plan.beside.width, face)
    for number, (text, depth) in enumerate(lines):
        key = f"words:{plan.half.way}:{number}"
        yield Text(text, plan.beside.x, plan.beside.top - depth, cap, key=key)
