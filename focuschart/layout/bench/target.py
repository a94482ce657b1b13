"""The focus target: lines in groups and wedges, horizontal on the left, vertical on the right.

Groups have bars one, two and four times the finest; a wedge runs through all widths from four of
the finest to half of it. A cross and a frame of long lines show whether the attachment is
level.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from focuschart.errors import PageError
from focuschart.layout.bench.target_bars import (
    GROUP_GAP_MM,
    LEAST_BARS,
    PRINTABLE_MM,
    Lines,
    Patch,
    Way,
    Wedge,
    drawn_group,
    drawn_wedge,
    in_full_height,
    side_by_side,
    wedge_in,
)
from focuschart.layout.page import Face, Page, Path, Room, Shape, Text, box, line
from focuschart.layout.sheet.furniture import BOTTOM_MM, EDGE_MM, LEFT_MM, TOP_MM, furniture
from focuschart.layout.sheet.papers import paper_size
from focuschart.layout.text.paragraphs import height_mm, set_words
from focuschart.layout.text.typeset import SMALLEST_CAP_MM, shortened

_WAYS: tuple[Way, Way] = ("h", "v")
SAYS: dict[Way, str] = {
    "h": "Horizontal lines: focus the taking lens",
    "v": "Vertical lines: focus the attachment",
}
STEPS = (
    "1. Hang the sheet flat and level, square to the lens, its cross in the middle of the frame.",
    "2. Hold or tether the attachment, loosen its clamp, turn it until the long lines are upright "
    "and level.",
    "3. Focus the taking lens on the horizontal lines, from one side.",
    "4. Then focus the attachment on the vertical lines, from that side.",
)
"""Instructions printed on every target, before its own notes."""
WEDGE_SAYS = "The nearer to the thin end of a wedge its lines stay apart, the sharper the focus."

_FACTORS = ((1, 2, 4), (1, 2), (1,))
_TRIES = tuple((factors, least) for factors in _FACTORS for least in (5, 4, LEAST_BARS))
"""Layouts to try, most groups and bars first: factors of the finest bar, and least bars a group."""

_HEAD_MM = 18.0
_INNER_MM = 5.0
_SAYS_CAP_MM = 3.2
_HEADING_CAPS_MM = (7.0, 6.0, 5.0, 4.0, _SAYS_CAP_MM)
_RIG_CAPS_MM = (3.2, 2.8, 2.4, 2.0, SMALLEST_CAP_MM)
_WORD_CAPS_MM = (3.6, 3.2, 3.0, 2.8, 2.6, 2.4, 2.2, 2.0, 1.8, SMALLEST_CAP_MM)
_FOOT_CAP_MM = 2.0


@dataclass(frozen=True, slots=True)
class Target:
    """One target: where to hang it, for which rig, and the bar of each kind of line there, mm."""

    key: str
    heading: str
    rig: str
    horizontal_bar_mm: float
    vertical_bar_mm: float
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Half:
    """One kind of line with its room and words.

    `foot_mm` is the height of the words where they are set at the foot of a full-height column.
    """

    lines: Lines
    room: Room
    words: tuple[str, ...]
    foot_mm: float


class _Plan(NamedTuple):
    """The positions of everything in one half."""

    half: _Half
    patches: list[Patch]
    wedge: Wedge | None
    words: tuple[str, ...]
    beside: Room


class _Setting(NamedTuple):
    """Both halves, the size of their words, and whether the cross's level arm is unbroken."""

    plans: list[_Plan]
    cap_mm: float
    whole: bool


def target_page(target: Target, *, paper: str, face: Face, number: int = 1, count: int = 1) -> Page:
    """Return the page of a target; `number` of `count` is printed as on other sheets.

    Bars too fine for a printer are drawn at the next whole multiple, stated on their label.
    Raises PageError for an unknown paper, bars without a width, bars of which fewer
    than three fit the sheet, and words that do not fit.
    """
    width, height = paper_size(paper)
    frame = _frame(width, height)
    shapes = [
        *furniture(width, height, "Focus target", number, count),
        *_head(target, frame, face),
        *_body(target, frame, paper, face),
    ]
    return Page(width, height, f"Focus target: {target.rig}", tuple(shapes))


def _frame(width: float, height: float) -> Room:
    """Return the rectangle that both halves together fill on a sheet."""
    room = Room(LEFT_MM, BOTTOM_MM, width - LEFT_MM - EDGE_MM, height - BOTTOM_MM - TOP_MM)
    return room.lowered(_HEAD_MM)


def _head(target: Target, frame: Room, face: Face) -> Iterator[Shape]:
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


def has_room(target: Target, *, paper: str, face: Face) -> bool:
    """Return whether a target's bars fit the paper; raises PageError for any other fault."""
    return _setting(_halves(target, _frame(*paper_size(paper)), face), face) is not None


def _body(target: Target, frame: Room, paper: str, face: Face) -> list[Shape]:
    """Return frame, cross, groups, wedges and words, in the richest layout that has room."""
    halves = _halves(target, frame, face)
    setting = _setting(halves, face)
    if setting is None:
        bar = max(target.horizontal_bar_mm, target.vertical_bar_mm)
        raise PageError(
            f"{target.key}: {paper} paper has no room for {LEAST_BARS} bars of {bar:.3g} mm: "
            "use larger paper or a distant edge"
        )
    stroke = min(max(halves[0].lines.bar_mm, 0.3), 0.8)
    cross = _cross(frame, stroke, whole=setting.whole)
    drawn = (shape for plan in setting.plans for shape in _drawn(plan, setting.cap_mm, face))
    return [box(*frame, stroke_mm=stroke, key="frame"), *cross, *drawn]


def _setting(halves: Sequence[_Half], face: Face) -> _Setting | None:
    """Return the richest layout that has room, None for bars too coarse for any."""
    for layout in (_quartered, _halved):
        for factors, least in _TRIES:
            plans = [layout(half, factors, least) for half in halves]
            complete = [plan for plan in plans if plan is not None]
            cap = _common_cap(complete, face) if len(complete) == len(halves) else None
            if cap is not None:
                return _Setting(complete, cap, layout is _quartered)
    return None


def _halves(target: Target, frame: Room, face: Face) -> list[_Half]:
    """Return both kinds of line with their halves of the frame and the bars as printed."""
    bars = (target.horizontal_bar_mm, target.vertical_bar_mm)
    if not all(0.0 < bar < math.inf for bar in bars):
        raise PageError(f"{target.key}: bars without a width in mm: name a nearer distance")
    multiple = max(1, math.ceil(PRINTABLE_MM / min(bars) - 1e-9))
    width, height = frame.width / 2.0 - 2.0 * _INNER_MM, frame.height - 2.0 * _INNER_MM
    words = (STEPS, target.notes)
    foot = max(height_mm(t, cap_mm=_FOOT_CAP_MM, width_mm=width, face=face) for t in words)
    if foot > height / 3.0:
        raise PageError(
            f"{target.key}: the notes find no room on the target: shorten them, or choose "
            "larger paper"
        )
    lefts = (frame.x, frame.x + frame.width / 2.0)
    rooms = (Room(left + _INNER_MM, frame.y + _INNER_MM, width, height) for left in lefts)
    return [
        _Half(Lines(way, bar * multiple, multiple), room, text, foot)
        for way, bar, room, text in zip(_WAYS, bars, rooms, words, strict=True)
    ]


def _cross(frame: Room, stroke: float, *, whole: bool) -> Iterator[Path]:
    """Yield the cross; its level arm is interrupted where groups take the full height."""
    x, y = frame.x + frame.width / 2.0, frame.y + frame.height / 2.0
    yield line((x, frame.y), (x, frame.top), stroke_mm=stroke, key="cross:up")
    if whole:
        yield line((frame.x, y), (frame.right, y), stroke_mm=stroke, key="cross:across")
        return
    reach = _INNER_MM - 1.0
    yield line((x - reach, y), (x + reach, y), stroke_mm=stroke, key="cross:across")
    yield line((frame.x, y), (frame.x + reach, y), stroke_mm=stroke, key="cross:left")
    yield line((frame.right - reach, y), (frame.right, y), stroke_mm=stroke, key="cross:right")


# --- the two layouts -----------------------------------------------------------------------------


def _quartered(half: _Half, factors: Sequence[int], least: int) -> _Plan | None:
    """Return groups above the cross, and below it a wedge with the words on its outer side."""
    if len(factors) == 1:
        return None
    height = half.room.height / 2.0 - _INNER_MM
    lower = half.room._replace(height=height)
    length = min(lower.width / 2.0, height) - _INNER_MM
    outer = lower._replace(width=lower.width - length - GROUP_GAP_MM - _INNER_MM)
    inner = Room(lower.x + _INNER_MM, lower.y + (height - length) / 2.0, length, length)
    words = half.words
    if half.lines.way == "h":
        inner = inner._replace(x=lower.right - _INNER_MM - length)
        words = (*words, WEDGE_SAYS)
    else:
        outer = outer._replace(x=lower.right - outer.width)
    upper = _under_saying(half.room.raised(height + 2.0 * _INNER_MM))
    wedge, patches = wedge_in(half.lines, inner), side_by_side(half.lines, upper, factors, least)
    return _Plan(half, patches, wedge, words, outer) if wedge and patches else None


def _halved(half: _Half, factors: Sequence[int], least: int) -> _Plan | None:
    """Return full-height groups with the words at their foot, for bars too coarse for quarters."""
    foot = half.room._replace(height=half.foot_mm)
    room = _under_saying(half.room.raised(half.foot_mm + GROUP_GAP_MM / 2.0))
    patches = in_full_height(half.lines, room, factors, least)
    return _Plan(half, patches, None, half.words, foot) if patches else None


def _under_saying(room: Room) -> Room:
    return room.lowered(_SAYS_CAP_MM + _INNER_MM)


# --- drawing --------------------------------------------------------------------------------------


def _drawn(plan: _Plan, cap: float, face: Face) -> Iterator[Shape]:
    """Yield all of one half."""
    lines, room = plan.half.lines, plan.half.room
    says, size = _sized(SAYS[lines.way], (_SAYS_CAP_MM, 2.6, 2.0), room.width, face)
    yield Text(says, room.x, room.top - _SAYS_CAP_MM, size, key=f"says:{lines.way}")
    for patch in plan.patches:
        yield from drawn_group(lines, patch, room, face)
    if plan.wedge:
        yield from drawn_wedge(lines, plan.wedge)
    yield from _set_words(plan, cap, face)


def _common_cap(plans: Sequence[_Plan], face: Face) -> float | None:
    """Return the largest capitals (mm) with which the words of all plans fit, None if none fits."""
    return next((cap for cap in _WORD_CAPS_MM if all(_holds(p, cap, face) for p in plans)), None)


def _holds(plan: _Plan, cap: float, face: Face) -> bool:
    room = plan.beside
    return height_mm(plan.words, cap_mm=cap, width_mm=room.width, face=face) <= room.height


def _set_words(plan: _Plan, cap: float, face: Face) -> Iterator[Text]:
    room, key = plan.beside, f"words:{plan.half.lines.way}"
    yield from set_words(
        plan.words, x=room.x, top=room.top, cap_mm=cap, width_mm=room.width, face=face, key=key
    )
