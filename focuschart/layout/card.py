"""The pocket card: two sides beside each other, folded back to back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate

from focuschart.errors import PageError, shown
from focuschart.layout.block import Block
from focuschart.layout.page import Face, Point, Shape, Text, line, rounded_box
from focuschart.layout.typeset import LEADING, SMALLEST_CAP_MM, shortened, widest, wrapped

CARD_SIZES: dict[str, tuple[float, float]] = {
    "ID-1": (85.60, 53.98),
    "A7": (105.0, 74.0),
    "A6": (105.0, 148.0),
}
"""Width and height, mm; ISO/IEC 7810 and ISO 216."""

CORNER_MM = 3.18
"""Within the 2.88 to 3.48 mm of ISO/IEC 7810."""
_MARGIN_MM = 3.0
_CAPS_MM = (2.6, 2.4, 2.2, 2.0, 1.8, SMALLEST_CAP_MM)
_RULE_MM = 0.12
_EASY_LEADING = 2.0
_OPEN_LEADING = 2.3


@dataclass(frozen=True, slots=True)
class Table:
    """Columns with a heading each; the last `optional` columns may be left out."""

    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    optional: int = 0

    def narrowed(self) -> Table:
        """Return the table without its last column."""
        return Table(self.headings[:-1], tuple(row[:-1] for row in self.rows), self.optional - 1)

    def taking(self, first: int, last: int) -> Table:
        """Return the table with only some of its rows."""
        return Table(self.headings, self.rows[first:last], self.optional)


@dataclass(frozen=True, slots=True)
class Side:
    """One side of a card: title at the left, code at the right, a table, then notes."""

    title: str
    code: str
    table: Table
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Card:
    """Both sides of one card; their tables have the same rows."""

    key: str
    front: Side
    back: Side


def cards(card: Card, *, size: tuple[float, float], face: Face) -> list[Block]:
    """Return the card, or several where its rows do not fit on one at a legible size.

    Raises PageError when not even one row fits.
    """
    rows = len(card.front.table.rows)
    capacity = min(_capacity(side, size, face) for side in (card.front, card.back))
    if capacity < 1:
        raise PageError(
            f"{card.key}: a card of {size[0]:g} × {size[1]:g} mm is too small for its text at "
            f"capitals of {SMALLEST_CAP_MM} mm: choose a larger card"
        )
    count = -(-rows // capacity)
    share = -(-rows // count)
    return [_block(_part(card, number, count, share), size, face) for number in range(count)]


def _part(card: Card, number: int, count: int, share: int) -> Card:
    first, last = number * share, (number + 1) * share
    suffix = f" ({number + 1} of {count})" if count > 1 else ""
    sides = [
        Side(f"{side.title}{suffix}", side.code, side.table.taking(first, last), side.notes)
        for side in (card.front, card.back)
    ]
    return Card(f"{card.key}:{number + 1}", sides[0], sides[1])


def _block(card: Card, size: tuple[float, float], face: Face) -> Block:
    width, height = size
    shapes = [
        *_side(card.front, size, face, key="front"),
        *(s.moved(width, 0.0) for s in _side(card.back, size, face, key="back")),
        line((width, 0.0), (width, height), group="fold", key="fold"),
    ]
    outline = rounded_box(0.0, 0.0, 2.0 * width, height, radius=CORNER_MM, group="cut",
                          key="outline")  # fmt: skip
    return Block(2.0 * width, height, tuple(shapes), (outline,), keep=((0.0, 2.0 * width),))


@dataclass(frozen=True, slots=True)
class _Setting:
    """How a side is set: size of capitals, the table as it fits, its columns, wrapped notes."""

    cap: float
    table: Table
    notes: tuple[str, ...]
    gap: float

    def room(self, height: float) -> float:
        """Return the height left for title, headings and rows."""
        return height - 2.0 * _MARGIN_MM - LEADING * SMALLEST_CAP_MM * len(self.notes) - 1.0

    def rows_that_fit(self, height: float) -> int:
        """Return how many rows fit beside title and headings; larger words must not crowd."""
        leading = LEADING if self.cap == SMALLEST_CAP_MM else _EASY_LEADING
        return int(self.room(height) / (leading * self.cap) + 1e-9) - 2

    def pitch(self, height: float) -> float:
        """Return the distance of lines, opened up where there is height to spare."""
        lines = len(self.table.rows) + 2
        return min(_OPEN_LEADING * self.cap, self.room(height) / lines)


def _settings(side: Side, size: tuple[float, float], face: Face) -> Iterator[_Setting]:
    """Yield the ways to set a side within its width, the most legible first."""
    room = size[0] - 2.0 * _MARGIN_MM
    for cap in _CAPS_MM:
        table = side.table
        for _ in range(side.table.optional + 1):
            columns = _columns(table, cap, face)
            gaps = max(len(columns) - 1, 1)
            if sum(columns) + 1.6 * gaps <= room:
                notes = _notes(side, table, room, face)
                yield _Setting(cap, table, notes, min((room - sum(columns)) / gaps, 9.0))
            table = table.narrowed() if table.optional else table


def _notes(side: Side, table: Table, room: float, face: Face) -> tuple[str, ...]:
    """Return the notes in lines; columns that find no room are named, not dropped in silence."""
    left_out = side.table.headings[len(table.headings) :]
    told = (f"No room here for {', '.join(left_out)}: see the chart.",) if left_out else ()
    return tuple(
        text
        for note in (*told, *side.notes)
        for text in wrapped(note, face=face, cap_mm=SMALLEST_CAP_MM, width_mm=room)
    )


def _columns(table: Table, cap: float, face: Face) -> list[float]:
    return [
        widest([table.headings[i], *(row[i] for row in table.rows)], face=face, cap_mm=cap)
        for i in range(len(table.headings))
    ]


def _capacity(side: Side, size: tuple[float, float], face: Face) -> int:
    return max((s.rows_that_fit(size[1]) for s in _settings(side, size, face)), default=0)


def _side(side: Side, size: tuple[float, float], face: Face, *, key: str) -> Iterator[Shape]:
    """Yield one side, in the largest setting that shows every column and row."""
    rows = len(side.table.rows)
    fitting = [s for s in _settings(side, size, face) if s.rows_that_fit(size[1]) >= rows]
    setting = max(fitting, key=lambda s: (len(s.table.headings), s.cap))
    top, pitch = size[1] - _MARGIN_MM - setting.cap, setting.pitch(size[1])
    yield from _head(side, setting, (size[0], top), face, key)
    yield from _table(setting, (size[0], top - pitch, pitch), face, key)
    for number, note in enumerate(reversed(setting.notes)):
        y = _MARGIN_MM + number * LEADING * SMALLEST_CAP_MM
        yield Text(note, _MARGIN_MM, y, SMALLEST_CAP_MM)


def _head(side: Side, setting: _Setting, place: Point, face: Face, key: str) -> Iterator[Shape]:
    """Yield title and code; `place` is the card's width and the baseline."""
    width, top = place
    room = width - 2.0 * _MARGIN_MM - face.width_mm(side.code, cap_mm=setting.cap) - 2.0
    title = shortened(side.title, face=face, cap_mm=setting.cap, width_mm=room)
    yield Text(title, _MARGIN_MM, top, setting.cap)
    yield Text(side.code, width - _MARGIN_MM, top, setting.cap, "end", key=f"{key}:code")


def _table(
    setting: _Setting, place: tuple[float, float, float], face: Face, key: str
) -> Iterator[Shape]:
    """Yield headings and rows; `place` is the card's width, the first baseline and the pitch."""
    width, top, pitch = place
    table, rights = setting.table, _right_edges(setting, face)
    for number, row in enumerate((table.headings, *table.rows)):
        y = top - number * pitch
        for column, (text, right) in enumerate(zip(row, rights, strict=True)):
            yield Text(text, right, y, setting.cap, "end", key=f"{key}:{number}:{column}")
        if number % 3 == 0 and number < len(table.rows):
            between = y - (pitch - setting.cap) / 2.0
            yield line((_MARGIN_MM, between), (width - _MARGIN_MM, between), stroke_mm=_RULE_MM)


def _right_edges(setting: _Setting, face: Face) -> list[float]:
    """Return where each column ends: columns of their own width with even gaps."""
    columns = _columns(setting.table, setting.cap, face)
    ends = accumulate(column + setting.gap for column in columns)
    return [_MARGIN_MM + end - setting.gap for end in ends]


def card_size(name: str) -> tuple[float, float]:
    """Return width and height of a named size or of "90 x 60 mm"; raises PageError."""
    if name in CARD_SIZES:
        return CARD_SIZES[name]
    sides: Sequence[str] = name.removesuffix("mm").replace("×", "x").split("x")
    try:
        width, height = (float(side) for side in sides)
    except ValueError:
        raise PageError(
            f'unknown card size {shown(name)}: choose {", ".join(CARD_SIZES)} or "90 x 60 mm"'
        ) from None
    if not (40.0 <= height <= 200.0 and 40.0 <= width <= 200.0):
        raise PageError(f'card size "{name}" is not between 40 mm and 200 mm a side')
    return width, height
