"""The rack sheet: a table of steps, both rings drawn over the move, and zones as bars, on one page.

It sees times, turns and distances as numbers, and labels for them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, product

from focuschart.errors import PageError
from focuschart.layout.page import Face, Page, Point, Shape, Text, line, moved
from focuschart.layout.rack.rack_graph import Graph, graph_shapes
from focuschart.layout.rack.zone_bars import (
    Marked,
    that_fit,
    zone_rows,
    zone_shapes,
    zones_height_mm,
)
from focuschart.layout.sheet.furniture import BOTTOM_MM, EDGE_MM, LEFT_MM, TOP_MM, furniture, headed
from focuschart.layout.sheet.papers import paper_size
from focuschart.layout.text.paragraphs import height_mm, set_words
from focuschart.layout.text.typeset import (
    LEADING,
    SMALLEST_CAP_MM,
    column_widths,
    shortened,
    widest,
)

Rows = tuple[tuple[str, ...], ...]
"""Headings and, below them, rows of as many cells."""

_HEAD_CAP_MM = 4.0
_HEAD_MM = 9.0
_CAPS_MM = (2.4, 2.2, 2.0, 1.8, SMALLEST_CAP_MM)
_WORD_CAP_MM = 2.0
_LEAST_WORDS_MM = 100.0
_GAP_MM = 9.0
_LEAST_DRAWING_MM = 105.0
_LEAST_GRAPH_MM = 48.0
_GRAPH_SHARE = 0.42
_BELOW_GRAPH_MM = 5.0
_THIN_MM = 0.12
_BETWEEN_MM = 3.0


@dataclass(frozen=True, slots=True)
class RackSheet:
    """What a sheet shows: titled tables and words below each other, drawings beside them."""

    title: str
    heading: str
    code: str
    tables: tuple[tuple[str, Rows], ...]
    words: tuple[str, ...]
    graph: Graph
    marks: tuple[Marked, ...]


def rack_page(sheet: RackSheet, *, paper: str, face: Face) -> Page:
    """Return the sheet's one page.

    Bars that do not fit are left out, the last of each mark first, and the sheet says so. Raises
    PageError for an unknown paper and where tables or drawings do not fit at a legible size.
    """
    width, height = paper_size(paper)
    wide, top = width - LEFT_MM - EDGE_MM, height - TOP_MM
    high = top - _HEAD_MM - BOTTOM_MM
    column = _column(sheet, (wide - _GAP_MM - _LEAST_DRAWING_MM, high), face)
    left = LEFT_MM + column.width_mm + _GAP_MM
    head_room = wide - face.width_mm(sheet.code, cap_mm=_HEAD_CAP_MM) - 5.0
    heading = shortened(sheet.heading, face=face, cap_mm=_HEAD_CAP_MM, width_mm=head_room)
    title = headed(sheet.title, width, face)
    shapes = (
        *furniture(width, height, title, 1, 1),
        Text(heading, LEFT_MM, top - _HEAD_CAP_MM, _HEAD_CAP_MM, key="heading"),
        Text(sheet.code, width - EDGE_MM, top - _HEAD_CAP_MM, _HEAD_CAP_MM, "end", key="code"),
        *moved(column.shapes, LEFT_MM, top - _HEAD_MM),
        *moved(_drawings(sheet, (width - EDGE_MM - left, high), face), left, top - _HEAD_MM),
    )
    return Page(width, height, sheet.title, shapes)


# --- tables and words -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Column:
    """Shapes below each other from the upper left corner of their room."""

    width_mm: float
    shapes: tuple[Shape, ...]


def _column(sheet: RackSheet, room: Point, face: Face) -> _Column:
    """Return tables and words in the largest letters that fit, the words in the narrowest column.

    Raises PageError where not even the smallest do.
    """
    lines = sum(len(rows) + 2 for _, rows in sheet.tables)
    for cap, spread in product(_CAPS_MM, (_LEAST_WORDS_MM, room[0])):
        widths = [column_widths(rows, face=face, cap_mm=cap) for _, rows in sheet.tables]
        titles = widest([title for title, _ in sheet.tables], face=face, cap_mm=cap)
        tables = (sum(each) + _BETWEEN_MM * (len(each) - 1) for each in widths)
        wide, small = max(titles, spread, *tables), min(cap, _WORD_CAP_MM)
        depth = lines * LEADING * cap
        words = height_mm(sheet.words, cap_mm=small, width_mm=wide, face=face)
        if depth + words <= room[1] and wide <= room[0]:
            texts = set_words(
                sheet.words, x=0.0, top=-depth, cap_mm=small, width_mm=wide, face=face, key="words"
            )
            return _Column(wide, (*_set_tables(sheet.tables, widths, cap), *texts))
    raise PageError(
        "a table of so many steps and stops finds no room: choose fewer steps or larger paper"
    )


def _set_tables(
    tables: Sequence[tuple[str, Rows]], widths: Sequence[list[float]], cap: float
) -> Iterator[Shape]:
    pitch, depth = LEADING * cap, cap
    for number, ((title, rows), wide) in enumerate(zip(tables, widths, strict=True)):
        yield Text(title, 0.0, -depth, cap, key=f"table:{number}")
        rights = [end + _BETWEEN_MM * i for i, end in enumerate(accumulate(wide))]
        for r, row in enumerate(rows):
            y = -depth - (r + 1) * pitch
            for c, (cell, right) in enumerate(zip(row, rights, strict=True)):
                yield Text(cell, right, y, cap, "end", key=f"table:{number}:{r}:{c}")
            if r % 4 == 0 and r < len(rows) - 1:
                under = y - (pitch - cap) / 2.0
                yield line((0.0, under), (rights[-1], under), stroke_mm=_THIN_MM,
                           key=f"table:{number}:rule:{r}")  # fmt: skip
        depth += (len(rows) + 2) * pitch


# --- drawings -------------------------------------------------------------------------------------


def _drawings(sheet: RackSheet, room: Point, face: Face) -> Iterator[Shape]:
    wanted = zones_height_mm(sheet.marks) + _BELOW_GRAPH_MM
    high = max(min(_GRAPH_SHARE * room[1], room[1] - wanted), _LEAST_GRAPH_MM)
    rows = zone_rows(room[1] - high - _BELOW_GRAPH_MM)
    marks, left_out = that_fit(sheet.marks, rows)
    yield from graph_shapes(sheet.graph, (room[0], high), face)
    bars = zone_shapes(marks, left_out=left_out, width_mm=room[0], face=face)
    yield from moved(bars, 0.0, -high - _BELOW_GRAPH_MM)
