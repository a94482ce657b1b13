"""Items for the sheets, and their cells: split into pieces where too long, and copied."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from focuschart.errors import PageError
from focuschart.layout.page import Face
from focuschart.layout.sheet.block import Block, split
from focuschart.layout.sheet.cell import Cell, Heading, cut_cell, whole_cells
from focuschart.layout.sheet.cut_marks import area_mm2, is_square
from focuschart.layout.sheet.finish import Finish
from focuschart.layout.sheet.packing import UPRIGHT_OR_TURNED, fits
from focuschart.layout.sheet.rooms import GAP_MM, Format


@dataclass(frozen=True, slots=True)
class Item:
    """A block, the line printed above it, and the key that precedes its shapes' own keys.

    `stock` is the paper it is to be printed on; a sheet never mixes two stocks. `back` is as large
    as the block and is printed behind it, on the back of the sheet. If `lengthwise`, it lies along
    the paper (`Format.along`) wherever it fits so: a printer's scale differs between the two ways,
    and cancels between strips that lie alike.
    """

    key: str
    heading: str
    block: Block
    stock: str = ""
    back: Block | None = None
    lengthwise: bool = False


@dataclass(frozen=True, slots=True)
class _Piece:
    """One piece of an item in one copy."""

    key: str
    heading: Heading
    block: Block


def cells_of(
    item: Item, form: Format, *, finish: Finish, face: Face, whole: bool
) -> Iterator[Cell]:
    """Yield the smallest cell of each piece and copy, with `whole` headings where they fit.

    Raises PageError for a piece that does not fit the format's rooms.
    """
    ways = _ways(item, form, finish)
    for piece in _copies(item, form, finish, ways):
        every = [cut_cell(piece.key, piece.heading, piece.block, finish=finish, face=face)]
        if whole:
            fuller = whole_cells(
                piece.key, piece.heading, piece.block,
                finish=finish, longest_mm=max(form.room), face=face,
            )  # fmt: skip
            every = [cell for cell in fuller if fits(cell.size, form.room, ways)] or every
        best = min(every, key=lambda cell: (cell.width_mm + GAP_MM) * (cell.height_mm + GAP_MM))
        if not fits(best.size, form.room, ways):
            raise _no_room(item, form)
        yield replace(best, back=item.back, ways=ways)


def _ways(item: Item, form: Format, finish: Finish) -> tuple[bool, ...]:
    """Return whether a block may be turned: one way only where it is to lie along the paper."""
    if not item.lengthwise:
        return UPRIGHT_OR_TURNED
    along, block = (form.along == "y",), item.block
    longest = _longest(block.height_mm, form.room, finish, along)
    fitting = longest > 0.0 if _is_flat(block) else block.width_mm <= longest + 1e-9
    return along if fitting else UPRIGHT_OR_TURNED


def _copies(item: Item, form: Format, finish: Finish, ways: Sequence[bool]) -> Iterator[_Piece]:
    """Yield each piece in all its copies, numbered in key and heading."""
    for piece in _pieces(item, form, finish, ways):
        if finish.copies == 1:
            yield piece
            continue
        for n in range(1, finish.copies + 1):
            tail = f"{piece.heading.tail}, copy {n} of {finish.copies}"
            heading = replace(piece.heading, tail=tail)
            yield replace(piece, key=f"{piece.key}/copy:{n}", heading=heading)


def _pieces(item: Item, form: Format, finish: Finish, ways: Sequence[bool]) -> list[_Piece]:
    """Return the item as one piece, or split where it is longer than the room."""
    block = item.block
    longest = _longest(block.height_mm, form.room, finish, ways)
    if block.width_mm <= longest + 1e-9:
        return [_Piece(item.key, Heading(item.heading), block)]
    if longest <= 0.0 or item.back is not None or not _is_flat(block) or _kept_whole(block):
        raise _no_room(item, form)
    try:
        parts = split(block, longest)
    except PageError as error:
        raise PageError(f"{item.key}: {error}") from None
    tails = (f", piece {n} of {len(parts)}" for n in range(1, len(parts) + 1))
    hint = ": butt-join edge to edge"
    return [
        _Piece(f"{item.key}/{n}", Heading(item.heading, tail, hint), part)
        for n, (tail, part) in enumerate(zip(tails, parts, strict=True), start=1)
    ]


def _longest(
    height: float, room: tuple[float, float], finish: Finish, ways: Sequence[bool]
) -> float:
    """Return the greatest length of a block of a height in a room; 0 if too high, or under 0."""
    around = 2.0 * finish.reach_mm
    rooms = [room[::-1] if turned else room for turned in ways]
    return max(along - around if height + around <= over + 1e-9 else 0.0 for along, over in rooms)


def _is_flat(block: Block) -> bool:
    """Return whether the block is a plain rectangle; only these can be split."""
    area = math.fsum(area_mm2(path) for path in block.edges)
    return math.isclose(area, block.width_mm * block.height_mm, rel_tol=1e-6)


def _kept_whole(block: Block) -> bool:
    """Return whether `keep` forbids a join everywhere."""
    return any(low <= 0.0 and high >= block.width_mm for low, high in block.keep)


def _no_room(item: Item, form: Format) -> PageError:
    block, (width, height) = item.block, form.room
    return PageError(
        f"{item.key}: {block.width_mm:.1f} x {block.height_mm:.1f} mm with its crop marks does not "
        f"fit {form.paper.name}, which has room for {width:.1f} x {height:.1f} mm: choose larger "
        f"paper{' or a smaller card' if _is_card(block) else ''}"
    )


def _is_card(block: Block) -> bool:
    """Return whether a block has round corners, which only cards have."""
    return not _is_flat(block) and is_square(block.edges)
