"""What every sheet carries: title, page number, and check bars both ways."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from focuschart.layout.page import Face, Room, Shape, Text, line
from focuschart.layout.text.typeset import LEADING, SMALLEST_CAP_MM, shortened, wrapped

EDGE_MM = 8.0
LEFT_MM = 16.0
BOTTOM_MM = 18.0
TOP_MM = 15.0

_LONGEST_BAR_MM = 250
_TITLE_CAP_MM = 2.4
_NUMBER_CAP_MM = 2.0
_NUMBER_ROOM_MM = 20.0
"""Width of "1000 / 1000"."""
_NOTE_FROM_MM = 100.0
"""Least sheet width for the longer note."""
_LINE_MM = LEADING * SMALLEST_CAP_MM


def bar_mm(room_mm: float) -> float:
    """Return how long a check bar is: a whole 50 mm up to 250, below 100 a whole 10."""
    step = 50 if room_mm >= 100.0 else 10
    return float(min(int(room_mm / step + 1e-9) * step, _LONGEST_BAR_MM))


def least_height_mm() -> float:
    """Return the least height of a sheet whose upright bar is 100 mm long."""
    return 100.0 + TOP_MM + BOTTOM_MM + 4.0


def furniture(
    width: float, height: float, title: str, number: int, count: int, *, beside: str = ""
) -> list[Shape]:
    """Return title, page number and the two check bars with their lengths.

    `beside` is the text of `cautioned`, printed after those lengths.
    """
    across = bar_mm(width - LEFT_MM - EDGE_MM)
    up = bar_mm(height - TOP_MM - BOTTOM_MM - 4.0)
    top = height - EDGE_MM - 2.0
    return [
        Text(title, LEFT_MM, top, _TITLE_CAP_MM, key="title"),
        Text(f"{number} / {count}", width - EDGE_MM, top, _NUMBER_CAP_MM, "end"),
        *_bar("across", LEFT_MM, EDGE_MM, across),
        Text(f"{_note(across, up, width)}{beside}", LEFT_MM, EDGE_MM + 2.4, SMALLEST_CAP_MM),
        *_bar("up", EDGE_MM, BOTTOM_MM + 4.0, up),
    ]


def _note(across: float, up: float, width: float) -> str:
    what = "Print at 100 %, then measure both bars" if width >= _NOTE_FROM_MM else "100 %"
    return f"{what}: {across:g} mm across, {up:g} mm up"


def cautioned(cautions: Sequence[str], width: float, face: Face) -> str:
    """Return the cautions for which a sheet of that width has room beside the bars' lengths.

    A narrow roll has room for none: what is packed begins right above the lengths.
    """
    room, longest = width - LEFT_MM - EDGE_MM, _note(_LONGEST_BAR_MM, _LONGEST_BAR_MM, width)
    beside = ""
    for caution in cautions:
        more = f"{beside}. {caution}"
        if face.width_mm(f"{longest}{more}", cap_mm=SMALLEST_CAP_MM) <= room:
            beside = more
    return beside


def headed(title: str, width: float, face: Face) -> str:
    """Return a title cut short where it would meet the page number."""
    room = width - LEFT_MM - EDGE_MM - _NUMBER_ROOM_MM
    return shortened(title, face=face, cap_mm=_TITLE_CAP_MM, width_mm=room)


def furnished(
    room: Room, title: str, number: int, count: int, face: Face, *, cautions: Sequence[str] = ()
) -> list[Shape]:
    """Return the same in small, inside a label that is reserved for it.

    The cautions are drawn if the label has room for them.
    """
    left, low, high = room.x + 3.0, room.y + 3.0, room.top
    right, page = room.right - 2.0, f"{number} / {count}"
    across, up = bar_mm(room.width - 8.0), bar_mm(room.height - 5.0)
    spare = room.width - 10.0 - face.width_mm(page, cap_mm=SMALLEST_CAP_MM)
    words = shortened(title, face=face, cap_mm=SMALLEST_CAP_MM, width_mm=spare)
    top, note = high - 6.6, _note(across, up, room.width)
    lines, longer = (
        wrapped(text, face=face, cap_mm=SMALLEST_CAP_MM, width_mm=room.width - 7.0)
        for text in (note, ". ".join((note, *cautions)))
    )
    if top - (len(longer) - 1) * _LINE_MM > low + 2.0:
        lines = longer
    return [
        Text(words or "…", left + 3.0, high - 3.6, SMALLEST_CAP_MM, key="title"),
        Text(page, right, high - 3.6, SMALLEST_CAP_MM, "end"),
        *_bar("across", left + 3.0, low, across),
        *_below(lines, left + 3.0, top),
        *_bar("up", left, low, up),
    ]


def _below(lines: Sequence[str], x: float, top: float) -> Iterator[Shape]:
    """Yield small lines one below the other, the first one's baseline at `top`."""
    for row, words in enumerate(lines):
        yield Text(words, x, top - row * _LINE_MM, SMALLEST_CAP_MM)


def _bar(way: str, x: float, y: float, length: float) -> Iterator[Shape]:
    """Yield a check bar; the centres of its end strokes are `length` apart."""
    along, over = ((1.0, 0.0), (0.0, 1.5)) if way == "across" else ((0.0, 1.0), (1.5, 0.0))
    ends = ((x, y), (x + length * along[0], y + length * along[1]))
    yield line(*ends, stroke_mm=0.2, key=f"check-{way}")
    for index, (ex, ey) in enumerate(ends):
        yield line((ex - over[0], ey - over[1]), (ex + over[0], ey + over[1]), stroke_mm=0.2,
                   key=f"check-{way}:{index}")  # fmt: skip
