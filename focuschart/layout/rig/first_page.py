"""The page that is read first: the rig with its strips in place, steps in columns below it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from focuschart.errors import PageError
from focuschart.layout.page import BLACK, PAPER, Face, Page, Path, Shape, Text, box, line, moved
from focuschart.layout.sheet.furniture import BOTTOM_MM, EDGE_MM, LEFT_MM, TOP_MM, furniture, headed
from focuschart.layout.sheet.papers import paper_size
from focuschart.layout.strip.band import Side
from focuschart.layout.text.paragraphs import height_mm, set_words
from focuschart.layout.text.typeset import LEADING, SMALLEST_CAP_MM, shortened

_HEAD_CAP_MM = 4.0
_HEAD_MM = 9.0
_CAPS_MM = (2.6, 2.4, 2.2, 2.0, 1.8, SMALLEST_CAP_MM)
_TITLE = 1.2
"""Capitals of a part's heading, in those of its words."""
_BETWEEN_MM = 3.5
_GAP_MM = 9.0
_DRAWING_MM = 46.0
_WORD_MM = 1.9
_AXIS_MM, _BARREL_MM, _RING_MM, _CAMERA_MM = 31.0, 9.0, 12.0, 13.0
"""The axis above the drawing's foot; half the heights of barrel, ring and camera."""
_STRIP_MM, _INDEX_MM, _BODY_MM = 6.0, 4.5, 26.0
"""Half the widths of a strip and of an index strip, and the camera's width."""
_BARREL_FILL, _RING_FILL = "#dddddd", "#bbbbbb"


@dataclass(frozen=True, slots=True)
class RingPlace:
    """A ring in the drawing: the side of its index, words below it, whether it has strips."""

    index_side: Side
    words: tuple[str, ...]
    has_strips: bool


@dataclass(frozen=True, slots=True)
class Part:
    """A heading and what stands under it."""

    heading: str
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FirstSheet:
    """What the page shows: rings from the camera on, and parts in two columns of the page."""

    title: str
    heading: str
    code: str
    rings: tuple[RingPlace, ...]
    columns: tuple[tuple[Part, ...], tuple[Part, ...]]


def first_page(sheet: FirstSheet, *, paper: str, face: Face) -> Page:
    """Return the page, its words as large as they fit.

    Raises PageError for an unknown paper, and where not even the smallest legible words fit.
    """
    width, height = paper_size(paper)
    room, top = width - LEFT_MM - EDGE_MM, height - TOP_MM
    level = top - _HEAD_MM - _DRAWING_MM
    wide = (room - _GAP_MM) / 2.0
    cap = _largest(sheet, (wide, level - BOTTOM_MM), face)
    beside = room - face.width_mm(sheet.code, cap_mm=_HEAD_CAP_MM) - 5.0
    heading = shortened(sheet.heading, face=face, cap_mm=_HEAD_CAP_MM, width_mm=beside)
    shapes: list[Shape] = [
        *furniture(width, height, headed(sheet.title, width, face), 1, 1),
        Text(heading, LEFT_MM, top - _HEAD_CAP_MM, _HEAD_CAP_MM, key="heading"),
        Text(sheet.code, width - EDGE_MM, top - _HEAD_CAP_MM, _HEAD_CAP_MM, "end", key="code"),
        *moved(_drawing(sheet.rings, room, face), LEFT_MM, level),
    ]
    for number, parts in enumerate(sheet.columns):
        x = LEFT_MM + number * (wide + _GAP_MM)
        shapes += _column(parts, (x, level), wide, cap, face, key=f"column:{number}")
    return Page(width, height, sheet.title, tuple(shapes))


# --- words ----------------------------------------------------------------------------------------


def _largest(sheet: FirstSheet, room: tuple[float, float], face: Face) -> float:
    """Return the largest capitals with which both columns fit; raises PageError for none."""
    for cap in _CAPS_MM:
        if all(_height_mm(parts, room[0], cap, face) <= room[1] for parts in sheet.columns):
            return cap
    raise PageError(f"{sheet.heading}: what to read first does not fit this paper: choose a larger")


def _height_mm(parts: Sequence[Part], wide: float, cap: float, face: Face) -> float:
    words = sum(height_mm(part.words, cap_mm=cap, width_mm=wide, face=face) for part in parts)
    return words + len(parts) * (_TITLE * LEADING * cap + _BETWEEN_MM)


def _column(
    parts: Sequence[Part], corner: tuple[float, float], wide: float, cap: float, face: Face, *,
    key: str,
) -> Iterator[Shape]:  # fmt: skip
    x, top = corner
    for number, part in enumerate(parts):
        yield Text(part.heading, x, top - _TITLE * cap, _TITLE * cap, key=f"{key}:{number}:heading")
        top -= _TITLE * LEADING * cap
        yield from set_words(part.words, x=x, top=top, cap_mm=cap, width_mm=wide, face=face,
                             key=f"{key}:{number}")  # fmt: skip
        top -= height_mm(part.words, cap_mm=cap, width_mm=wide, face=face) + _BETWEEN_MM


# --- the rig --------------------------------------------------------------------------------------


def _drawing(rings: Sequence[RingPlace], wide: float, face: Face) -> Iterator[Shape]:
    """Yield the rig from the side, not to scale, the camera at the left."""
    share = (wide - _BODY_MM - 25.0) / len(rings)
    end = _BODY_MM + share * len(rings)
    yield box(0.0, _AXIS_MM - _CAMERA_MM, _BODY_MM, 2.0 * _CAMERA_MM, fill=_RING_FILL, key="camera")
    yield Text("camera", _BODY_MM / 2.0, _AXIS_MM - _WORD_MM / 2.0, _WORD_MM, "middle")
    yield box(_BODY_MM, _AXIS_MM - _BARREL_MM, end - _BODY_MM, 2.0 * _BARREL_MM,
              fill=_BARREL_FILL, key="barrel")  # fmt: skip
    tip = (end + 22.0, _AXIS_MM)
    yield line((end + 4.0, _AXIS_MM), tip, stroke_mm=0.4, key="to-subject")
    head = (tip, (tip[0] - 3.0, _AXIS_MM + 1.2), (tip[0] - 3.0, _AXIS_MM - 1.2))
    yield Path(head, True, None, fill=BLACK, key="to-subject-head")
    yield Text("to the subject", tip[0], _AXIS_MM + 2.0, _WORD_MM, "end")
    for number, ring in enumerate(rings):
        middle = _BODY_MM + (number + 0.5) * share
        for shape in moved(_ring(ring, share, face), middle, 0.0):
            yield replace(shape, key=f"ring:{number}:{shape.key}" if shape.key else "")


def _ring(ring: RingPlace, share: float, face: Face) -> Iterator[Shape]:
    """Yield a ring round x = 0 with its strips, and the words below it."""
    yield box(-_STRIP_MM - 2.0, _AXIS_MM - _RING_MM, 2.0 * _STRIP_MM + 4.0, 2.0 * _RING_MM,
              fill=_RING_FILL, key="ring")  # fmt: skip
    if ring.has_strips:
        yield box(-_STRIP_MM, _AXIS_MM - _RING_MM, 2.0 * _STRIP_MM, 2.0 * _RING_MM, fill=PAPER,
                  key="strip")  # fmt: skip
        yield Text("strip", 0.0, _AXIS_MM - _WORD_MM / 2.0, _WORD_MM, "middle")
        yield from _index(ring.index_side)
    for row, words in enumerate(ring.words):
        short = shortened(words, face=face, cap_mm=_WORD_MM, width_mm=share - 2.0)
        y = _AXIS_MM - _CAMERA_MM - 3.5 - row * LEADING * _WORD_MM
        yield Text(short, 0.0, y, _WORD_MM, "middle", key=f"ring-word:{row}")


def _index(side: Side) -> Iterator[Shape]:
    """Yield the index strip on the fixed barrel, its triangle pointing at the ring."""
    way = -1.0 if side == "camera" else 1.0
    edge = way * (_STRIP_MM + 2.0)
    left = min(edge, edge + way * 2.0 * _INDEX_MM)
    yield box(left, _AXIS_MM - _INDEX_MM, 2.0 * _INDEX_MM, 2.0 * _INDEX_MM, fill=PAPER, key="index")
    foot = edge + way * 2.6
    tip = ((edge + way * 0.5, _AXIS_MM), (foot, _AXIS_MM + 1.3), (foot, _AXIS_MM - 1.3))
    yield Path(tip, True, None, fill=BLACK, key="index-tip")
    yield Text("index", left + _INDEX_MM, _AXIS_MM + _INDEX_MM + 1.0, _WORD_MM, "middle")
