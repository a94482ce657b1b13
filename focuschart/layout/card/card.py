"""The pocket card: two sides beside each other to fold back to back, or one behind the other.

A side has a table with notes below it, or paragraphs only.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, pairwise
from typing import NamedTuple

from focuschart.errors import PageError
from focuschart.layout.card.size import CORNER_MM
from focuschart.layout.page import Face, Point, Shape, Text, line, rounded_box
from focuschart.layout.sheet.block import Block
from focuschart.layout.text.paragraphs import height_mm, set_words
from focuschart.layout.text.typeset import (
    LEADING,
    SMALLEST_CAP_MM,
    column_widths,
    cut_words,
    shortened,
    wrapped,
)

_MARGIN_MM = 3.0
_CAPS_MM = (5.0, 4.5, 4.0, 3.5, 3.0, 2.6, 2.4, 2.2, 2.0, 1.8, SMALLEST_CAP_MM)
_LARGEST_TITLE_MM = 2.6
_RULE_MM = 0.12
_LEAST_GAP_MM = 1.6
_EASY_LEADING = 2.0
_OPEN_LEADING = 2.3


@dataclass(frozen=True, slots=True)
class Table:
    """Columns with a heading each; the last `optional` columns may be left out.

    `fuller` names where a left-out column can be found. The row `foot` stands below the others, on
    every part of a table that is split.
    """

    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    foot: tuple[str, ...] = ()
    optional: int = 0
    fuller: str = "the chart"

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """Headings, rows and foot."""
        return (self.headings, *self.rows, *((self.foot,) if self.foot else ()))

    def with_columns(self, columns: Sequence[int]) -> Table:
        """Return the table with only some of its columns."""

        def of(row: tuple[str, ...]) -> tuple[str, ...]:
            return tuple(row[column] for column in columns) if row else ()

        rows = tuple(of(row) for row in self.rows)
        return replace(self, headings=of(self.headings), rows=rows, foot=of(self.foot))

    def narrowed(self) -> Table:
        """Return the table without its last column."""
        kept = self.with_columns(range(len(self.headings) - 1))
        return replace(kept, optional=self.optional - 1)

    def taking(self, first: int, last: int) -> Table:
        """Return the table with only some of its rows."""
        return replace(self, rows=self.rows[first:last])


@dataclass(frozen=True, slots=True)
class Side:
    """One side of a card: title at the left, code at the right, a table, then notes.

    It is split into several rather than set in capitals smaller than `least_cap_mm`.
    """

    title: str
    code: str
    table: Table
    notes: tuple[str, ...] = ()
    least_cap_mm: float = SMALLEST_CAP_MM


@dataclass(frozen=True, slots=True)
class Words:
    """One side of a card without a table: title at the left, code at the right, paragraphs."""

    title: str
    code: str
    notes: tuple[str, ...]


class CardBlocks(NamedTuple):
    """A card as printed: one block to fold, or a front block and a back block behind it."""

    front: Block
    back: Block | None = None


def card_run(
    key: str, ways: Sequence[Sequence[Side | Words]], *, size: tuple[float, float], face: Face,
    two_sided: bool = False,
) -> list[CardBlocks]:  # fmt: skip
    """Return cards for a sequence of sides, two a card, in the first of several ways.

    A side that does not fit at a legible size is split into several. Of the ways to arrange the
    sides it is the first that leaves no last back blank, else the first. Raises PageError where
    not even one row or paragraph fits.
    """
    leaves: list[Side | Words] = []
    for way in ways:
        found = [leaf for side in way for leaf in _leaves(key, side, size, face)]
        if not leaves or len(found) % 2 == 0:
            leaves = found
        if len(leaves) % 2 == 0:
            break
    pairs = (leaves[first : first + 2] for first in range(0, len(leaves), 2))
    return [_blocks(pair, size, face, two_sided=two_sided) for pair in pairs]


def dealt_columns(
    table: Table, *, most: int, cap_mm: float, size: tuple[float, float], face: Face
) -> list[Table]:
    """Return a table's columns after the first dealt over tables that fit a card's width.

    Each has the first column and at most `most` others, nearly equal in number; where `cap_mm`
    leaves no room for more, one.
    """
    others = len(table.headings) - 1
    room = size[0] - 2.0 * _MARGIN_MM
    for share in range(min(most, others), 0, -1):
        count = -(-others // share)
        ends = [number * others // count for number in range(count + 1)]
        parts = [
            table.with_columns((0, *range(start + 1, end + 1))) for start, end in pairwise(ends)
        ]
        if share == 1 or all(_wide(_columns(part, cap_mm, face)) <= room for part in parts):
            return parts
    return [table]


def _too_small(key: str, size: tuple[float, float]) -> PageError:
    return PageError(
        f"{key}: a card of {size[0]:g} × {size[1]:g} mm is too small for its text at "
        f"capitals of {SMALLEST_CAP_MM} mm: choose a larger card"
    )


def _leaves(
    key: str, side: Side | Words, size: tuple[float, float], face: Face
) -> Sequence[Side | Words]:
    if isinstance(side, Words):
        return _filled(key, side, size, face)
    capacity = _capacity(side, size, face)
    if capacity < 1:
        raise _too_small(key, size)
    return _split(side, capacity)


def _split(side: Side, capacity: int) -> list[Side]:
    """Return a side split into parts of at most `capacity` rows, nearly equal in length."""
    rows = len(side.table.rows)
    count = -(-rows // capacity)
    share = -(-rows // count)
    return [
        replace(
            side,
            title=f"{side.title}{_suffix(number, count)}",
            table=side.table.taking(number * share, (number + 1) * share),
        )
        for number in range(count)
    ]


def _suffix(number: int, count: int) -> str:
    return f" ({number + 1} of {count})" if count > 1 else ""


def _blocks(
    sides: Sequence[Side | Words], size: tuple[float, float], face: Face, *, two_sided: bool
) -> CardBlocks:
    """Return one side or two as they are printed."""
    if not two_sided:
        return CardBlocks(_folded(sides, size, face))
    front = _drawn(sides[0], size, face, key="front")
    back = _drawn(sides[1], size, face, key="back") if len(sides) > 1 else ()
    return CardBlocks(_flat(front, size), _flat(back, size))


def _flat(shapes: Iterable[Shape], size: tuple[float, float]) -> Block:
    """Return a block with a card's corners, which cannot be split."""
    outline = rounded_box(0.0, 0.0, *size, radius=CORNER_MM, group="cut", key="outline")
    return Block(*size, tuple(shapes), (outline,), keep=((0.0, size[0]),))


def _folded(sides: Sequence[Side | Words], size: tuple[float, float], face: Face) -> Block:
    """Return a block of two sides beside each other."""
    width, height = size
    shapes: list[Shape] = []
    for number, (side, key) in enumerate(zip(sides, ("front", "back"), strict=False)):
        drawn = _drawn(side, size, face, key=key)
        shapes += (shape.moved(number * width, 0.0) for shape in drawn)
    shapes.append(line((width, 0.0), (width, height), group="fold", key="fold"))
    return _flat(shapes, (2.0 * width, height))


def _drawn(
    side: Side | Words, size: tuple[float, float], face: Face, *, key: str
) -> Iterator[Shape]:
    if isinstance(side, Words):
        return _words(side, size, face, key=key)
    return _side(side, size, face, key=key)


@dataclass(frozen=True, slots=True)
class _Setting:
    """How a side is set: size of capitals, the table as it fits, its columns, wrapped notes."""

    cap: float
    table: Table
    notes: tuple[str, ...]
    gap: float
    least_cap: float

    def room(self, height: float) -> float:
        """Return the height left for title, headings and rows."""
        return height - 2.0 * _MARGIN_MM - LEADING * SMALLEST_CAP_MM * len(self.notes) - 1.0

    def rows_that_fit(self, height: float) -> int:
        """Return how many rows fit below title and headings without crowding."""
        leading = LEADING if self.cap <= self.least_cap else _EASY_LEADING
        others = 1 + len(self.table.lines) - len(self.table.rows)
        return int(self.room(height) / (leading * self.cap) + 1e-9) - others

    def pitch(self, height: float) -> float:
        """Return the line spacing, increased where there is height to spare."""
        lines = len(self.table.lines) + 1
        return min(_OPEN_LEADING * self.cap, self.room(height) / lines)


def _settings(side: Side, size: tuple[float, float], face: Face) -> Iterator[_Setting]:
    """Yield the ways to set a side within its width, the most legible first."""
    room = size[0] - 2.0 * _MARGIN_MM
    for cap in _CAPS_MM:
        table = side.table
        for _ in range(side.table.optional + 1):
            columns = _columns(table, cap, face)
            if _wide(columns) <= room:
                notes = _notes(side, table, room, face)
                gap = min((room - sum(columns)) / max(len(columns) - 1, 1), 9.0)
                yield _Setting(cap, table, notes, gap, side.least_cap_mm)
            table = table.narrowed() if table.optional else table


def _notes(side: Side, table: Table, room: float, face: Face) -> tuple[str, ...]:
    """Return the notes in lines, with a sentence that names the columns left out."""
    left_out = side.table.headings[len(table.headings) :]
    see = f"see {table.fuller}"
    left_out_note = (f"No room here for {', '.join(left_out)}: {see}.",) if left_out else ()
    return tuple(
        text
        for note in (*left_out_note, *side.notes)
        for text in wrapped(note, face=face, cap_mm=SMALLEST_CAP_MM, width_mm=room)
    )


def _columns(table: Table, cap: float, face: Face) -> list[float]:
    return column_widths(table.lines, face=face, cap_mm=cap)


def _wide(columns: Sequence[float]) -> float:
    """Return the least width of columns, with the least gaps between them."""
    return sum(columns) + _LEAST_GAP_MM * max(len(columns) - 1, 1)


def _capacity(side: Side, size: tuple[float, float], face: Face) -> int:
    """Return how many rows fit a side in its least capitals, or in smaller ones if else none."""
    found = [(s.cap, s.rows_that_fit(size[1])) for s in _settings(side, size, face)]
    large = max((rows for cap, rows in found if cap >= side.least_cap_mm), default=0)
    return large if large >= 1 else max((rows for _, rows in found), default=0)


def _side(side: Side, size: tuple[float, float], face: Face, *, key: str) -> Iterator[Shape]:
    """Yield one side, in the largest setting that shows every column and row."""
    rows = len(side.table.rows)
    fitting = [s for s in _settings(side, size, face) if s.rows_that_fit(size[1]) >= rows]
    setting = max(fitting, key=lambda s: (len(s.table.headings), s.cap))
    top, pitch = size[1] - _MARGIN_MM - setting.cap, setting.pitch(size[1])
    yield from _head(side, setting.cap, (size[0], top), face, key)
    yield from _table(setting, (size[0], top - pitch, pitch), face, key)
    for number, note in enumerate(reversed(setting.notes)):
        y = _MARGIN_MM + number * LEADING * SMALLEST_CAP_MM
        yield Text(note, _MARGIN_MM, y, SMALLEST_CAP_MM)


def _head(side: Side | Words, cap: float, place: Point, face: Face, key: str) -> Iterator[Shape]:
    """Yield title and code; `place` is the card's width and the baseline."""
    width, top = place
    cap = min(cap, _LARGEST_TITLE_MM)
    room = width - 2.0 * _MARGIN_MM - face.width_mm(side.code, cap_mm=cap) - 2.0
    title = shortened(side.title, face=face, cap_mm=cap, width_mm=room)
    yield Text(title, _MARGIN_MM, top, cap)
    yield Text(side.code, width - _MARGIN_MM, top, cap, "end", key=f"{key}:code")


def _table(
    setting: _Setting, place: tuple[float, float, float], face: Face, key: str
) -> Iterator[Shape]:
    """Yield headings and rows; `place` is the card's width, the first baseline and the pitch."""
    width, top, pitch = place
    table, rights = setting.table, _right_edges(setting, face)
    for number, row in enumerate(table.lines):
        y = top - number * pitch
        for column, (text, right) in enumerate(zip(row, rights, strict=True)):
            yield Text(text, right, y, setting.cap, "end", key=f"{key}:{number}:{column}")
        if number % 3 == 0 and number < len(table.lines) - 1:
            between = y - (pitch - setting.cap) / 2.0
            yield line((_MARGIN_MM, between), (width - _MARGIN_MM, between), stroke_mm=_RULE_MM)


def _right_edges(setting: _Setting, face: Face) -> list[float]:
    """Return the right edge of each column, with even gaps between them."""
    columns = _columns(setting.table, setting.cap, face)
    ends = accumulate(column + setting.gap for column in columns)
    return [_MARGIN_MM + end - setting.gap for end in ends]


# --- words alone ----------------------------------------------------------------------------------


def _filled(key: str, side: Words, size: tuple[float, float], face: Face) -> list[Words]:
    """Return paragraphs on the fewest sides possible, in the largest capitals that allow it."""
    ways = [way for cap in _CAPS_MM if (way := _dealt(side.notes, cap, size, face))]
    if not ways:
        raise _too_small(key, size)
    rows = min(ways, key=len)
    return [
        replace(side, title=f"{side.title}{_suffix(number, len(rows))}", notes=tuple(notes))
        for number, notes in enumerate(rows)
    ]


def _dealt(
    notes: Sequence[str], cap: float, size: tuple[float, float], face: Face
) -> list[list[str]]:
    """Return paragraphs distributed over sides; empty where one alone does not fit a side."""
    rows: list[list[str]] = [[]]
    for note in notes:
        if not _fits([*rows[-1], note], cap, size, face):
            rows.append([])
        rows[-1].append(note)
        if not _fits(rows[-1], cap, size, face):
            return []
    return rows


def _cut(notes: Sequence[str], cap: float, width: float, face: Face) -> list[str]:
    room = width - 2.0 * _MARGIN_MM
    return [cut_words(note, face=face, cap_mm=cap, width_mm=room) for note in notes]


def _fits(notes: Sequence[str], cap: float, size: tuple[float, float], face: Face) -> bool:
    """Return whether title and paragraphs fit a side."""
    room = size[0] - 2.0 * _MARGIN_MM
    cut = _cut(notes, cap, size[0], face)
    high = height_mm(cut, cap_mm=cap, width_mm=room, face=face)
    return high <= size[1] - 2.0 * _MARGIN_MM - _OPEN_LEADING * cap


def _words(side: Words, size: tuple[float, float], face: Face, *, key: str) -> Iterator[Shape]:
    """Yield a side of words, in the largest capitals in which all fit."""
    cap = next(cap for cap in _CAPS_MM if _fits(side.notes, cap, size, face))
    top = size[1] - _MARGIN_MM - cap
    yield from _head(side, cap, (size[0], top), face, key)
    yield from set_words(
        _cut(side.notes, cap, size[0], face), x=_MARGIN_MM, top=top - (_OPEN_LEADING - 1.0) * cap,
        cap_mm=cap, width_mm=size[0] - 2.0 * _MARGIN_MM, face=face, key=f"{key}:words",
    )  # fmt: skip
