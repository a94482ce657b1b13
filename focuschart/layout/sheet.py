"""Sheets of paper: blocks packed in rows, with check bars both ways on every one."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from focuschart.errors import PageError, shown
from focuschart.layout.block import Block, split
from focuschart.layout.page import Face, Page, Shape, Text, line, moved
from focuschart.layout.typeset import SMALLEST_CAP_MM, shortened
from focuschart.units import MM_PER_INCH

PAPERS: dict[str, tuple[float, float]] = {
    "A4": (297.0, 210.0),
    "A3": (420.0, 297.0),
    "Letter": (11.0 * MM_PER_INCH, 8.5 * MM_PER_INCH),
}
"""Width and height, mm, the long edge lying; ISO 216 and ANSI/ASME Y14.1."""

CHECK_BAR_MM = 100.0
EDGE_MM = 8.0
LEFT_MM = 16.0
BOTTOM_MM = 18.0
TOP_MM = 15.0
_GAP_MM = 8.0


@dataclass(frozen=True, slots=True)
class Item:
    """A block with the line printed above it, and the key that its shapes' own keys follow."""

    key: str
    heading: str
    block: Block


def sheets(items: Iterable[Item], *, paper: str, title: str, face: Face) -> list[Page]:
    """Return pages holding all items in order, long blocks split with butt joins.

    Raises PageError for an unknown paper or a block too tall or too wide to split.
    """
    width, height = paper_size(paper)
    room = (width - LEFT_MM - EDGE_MM, height - BOTTOM_MM - TOP_MM)
    pieces = [_fitted(piece, room[0], face) for item in items for piece in _pieces(item, room[0])]
    rows = list(_rows(pieces, room[0]))
    pages: list[list[Shape]] = []
    level = -1.0
    for row in rows:
        need = _row_height(row)
        if need > room[1]:
            raise PageError(f"{row[0].heading}: taller than {paper} paper: choose a larger one")
        if level < need:
            pages.append([])
            level = room[1]
        pages[-1] += _place(row, BOTTOM_MM + level)
        level -= need
    return [
        Page(width, height, title, (*furniture(width, height, title, n, len(pages)), *shapes))
        for n, shapes in enumerate(pages, start=1)
    ]


def paper_size(name: str) -> tuple[float, float]:
    if name not in PAPERS:
        raise PageError(f"unknown paper {shown(name)}: choose {', '.join(PAPERS)}")
    return PAPERS[name]


def _pieces(item: Item, longest: float) -> list[Item]:
    try:
        pieces = split(item.block, longest)
    except PageError as error:
        raise PageError(f"{item.key}: {error}") from None
    if len(pieces) == 1:
        return [item]
    count = len(pieces)
    return [
        Item(
            f"{item.key}/{n}",
            f"{item.heading}, piece {n} of {count}: butt-join edge to edge",
            piece,
        )
        for n, piece in enumerate(pieces, start=1)
    ]


@dataclass(frozen=True, slots=True)
class _Fitted:
    """An item with its heading cut to the sheet and the width both take together."""

    key: str
    heading: str
    block: Block
    width_mm: float


def _fitted(item: Item, longest: float, face: Face) -> _Fitted:
    heading = shortened(item.heading, face=face, cap_mm=SMALLEST_CAP_MM, width_mm=longest)
    width = face.width_mm(heading, cap_mm=SMALLEST_CAP_MM)
    return _Fitted(item.key, heading, item.block, max(width, item.block.width_mm))


def _rows(items: Sequence[_Fitted], width: float) -> Iterable[list[_Fitted]]:
    """Yield rows of items of one height, side by side while they fit."""
    row: list[_Fitted] = []
    for item in items:
        used = sum(other.width_mm + _GAP_MM for other in row)
        level = row and item.block.height_mm == row[0].block.height_mm
        if row and not (level and used + item.width_mm <= width):
            yield row
            row = []
        row.append(item)
    if row:
        yield row


def _row_height(row: Sequence[_Fitted]) -> float:
    return row[0].block.height_mm + _GAP_MM + 2.0


def _place(row: Sequence[_Fitted], top: float) -> list[Shape]:
    shapes: list[Shape] = []
    x, foot = LEFT_MM, top - _row_height(row) + _GAP_MM / 2.0
    for item in row:
        shapes += moved((_keyed(shape, item.key) for shape in item.block.drawn()), x, foot)
        shapes.append(Text(item.heading, x, foot + item.block.height_mm + 3.6, SMALLEST_CAP_MM))
        x += item.width_mm + _GAP_MM
    return shapes


def _keyed(shape: Shape, key: str) -> Shape:
    return replace(shape, key=f"{key}/{shape.key}") if shape.key else shape


def furniture(width: float, height: float, title: str, number: int, count: int) -> list[Shape]:
    """Return title, page number and the two check bars."""
    note = f"{CHECK_BAR_MM:.0f} mm: print at 100 %, then measure both bars"
    return [
        Text(title, LEFT_MM, height - EDGE_MM - 2.0, 2.4, key="title"),
        Text(f"{number} / {count}", width - EDGE_MM, height - EDGE_MM - 2.0, 2.0, "end"),
        *_bar("across", LEFT_MM, EDGE_MM),
        Text(note, LEFT_MM + CHECK_BAR_MM + 3.0, EDGE_MM - 0.8, SMALLEST_CAP_MM),
        *_bar("up", EDGE_MM, BOTTOM_MM + 4.0),
    ]


def _bar(way: str, x: float, y: float) -> list[Shape]:
    """Return a check bar with end strokes whose centres are 100 mm apart."""
    along, over = ((CHECK_BAR_MM, 0.0), (0.0, 1.5)) if way == "across" else (
        (0.0, CHECK_BAR_MM), (1.5, 0.0))  # fmt: skip
    ends = ((x, y), (x + along[0], y + along[1]))
    strokes = [
        line((ex - over[0], ey - over[1]), (ex + over[0], ey + over[1]), stroke_mm=0.2,
             key=f"check-{way}:{index}")
        for index, (ex, ey) in enumerate(ends)
    ]  # fmt: skip
    return [line(*ends, stroke_mm=0.2, key=f"check-{way}"), *strokes]
