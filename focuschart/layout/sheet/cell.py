"""A cell: the room one block takes on a sheet, with its crop marks, film cut, heading and back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from focuschart.errors import PageError
from focuschart.layout.page import PAPER, Face, Path, Point, Text, moved
from focuschart.layout.sheet.block import Block
from focuschart.layout.sheet.cut_marks import MARK_REACH_MM, bled, is_square
from focuschart.layout.sheet.finish import Finish
from focuschart.layout.text.typeset import LEADING, SMALLEST_CAP_MM, shortened, wrapped

_CLEAR_MM = 1.0
"""Between bleed or film and a heading."""
_BESIDE_MARK_MM = 1.5
_DESCENT_MM = 0.4
_LEAST_TEXT_MM = 5.0
_NARROW_MM = 45.0
"""How wide a heading may be over a narrower block; judgement, no source."""


@dataclass(frozen=True, slots=True)
class Heading:
    """The line above a block; cut short, it keeps its tail, which piece and copy it is of."""

    text: str
    tail: str = ""
    hint: str = ""

    @property
    def whole(self) -> str:
        """All of it."""
        return self.text + self.tail + self.hint

    def cut(self, face: Face, width_mm: float) -> str:
        """Return as much as has room in one line, nothing where there is next to none."""
        room = width_mm - face.width_mm(self.tail, cap_mm=SMALLEST_CAP_MM)
        if room < _LEAST_TEXT_MM:
            last = self.tail.removeprefix(", ") or self.whole
            return shortened(last, face=face, cap_mm=SMALLEST_CAP_MM, width_mm=width_mm)
        return shortened(self.text, face=face, cap_mm=SMALLEST_CAP_MM, width_mm=room) + self.tail


@dataclass(frozen=True, slots=True)
class Cell:
    """A block and its heading's lines, from the lower left corner of the room they take."""

    key: str
    block: Block
    lines: tuple[Text, ...]
    width_mm: float
    height_mm: float
    finish: Finish
    back: Block | None = None

    @property
    def size(self) -> tuple[float, float]:
        """Width and height, mm."""
        return self.width_mm, self.height_mm

    def drawn(self) -> Block:
        """Return everything printed and cut in the cell."""
        finish, reach = self.finish, self.finish.reach_mm
        shapes = self.block.drawn(bleed_mm=finish.bleed_mm, film_mm=finish.film_mm)
        every = (*moved(shapes, reach, reach), *self.lines)
        return Block(self.width_mm, self.height_mm, every, ())

    def drawn_back(self) -> Block | None:
        """Return what is printed behind the block, of its size; cut and creased is the front alone.

        A bare ground shows a look, which knows pieces by their cut, where a back is not blank.
        """
        if self.back is None:
            return None
        shapes = bled(self.back.shapes, self.back.edges, self.finish.bleed_mm)
        grounds = (
            Path(path.points, True, None, fill=PAPER, key=f"behind:{number}", ground=True)
            for number, path in enumerate(self.back.edges)
            if self.back.shapes
        )
        return replace(self.back, shapes=(*grounds, *shapes), outline=())

    def corner(self, *, turned: bool) -> Point:
        """Return the block's lower left corner from that of the room, as it is or turned."""
        reach = self.finish.reach_mm
        return (self.height_mm - reach - self.block.height_mm if turned else reach, reach)


def whole_cells(
    key: str, heading: Heading, block: Block, *, finish: Finish, longest_mm: float, face: Face
) -> Iterator[Cell]:
    """Yield the cells a block may take with all of its heading, in lines of several widths.

    Lines as wide as the block begin between its upper crop marks, wider ones above them.
    """
    width, own = _own(block, finish)
    spare = longest_mm - 2.0 * finish.reach_mm
    for room, place in ((width, own), (_NARROW_MM, _above(finish)), (spare, _above(finish))):
        try:
            lines = wrapped(heading.whole, face=face, cap_mm=SMALLEST_CAP_MM, width_mm=room)
        except PageError:  # a word is wider
            continue
        yield _cell(key, block, lines, place, finish=finish, face=face)


def cut_cell(key: str, heading: Heading, block: Block, *, finish: Finish, face: Face) -> Cell:
    """Return the smallest cell a block may take: its heading is one line, cut short."""
    width, own = _own(block, finish)
    text = heading.cut(face, width)
    return _cell(key, block, [text] if text else [], own, finish=finish, face=face)


def _own(block: Block, finish: Finish) -> tuple[float, Point]:
    """Return the room for a line over the block, and its place from the upper left corner.

    It stands between the crop marks, above them where they lean, and never across the film's cut.
    """
    if not is_square(block.edges):
        return block.width_mm, _above(finish)
    place = (_BESIDE_MARK_MM, max(finish.bleed_mm, finish.film_mm) + _CLEAR_MM)
    return block.width_mm - 2.0 * _BESIDE_MARK_MM, place


def _above(finish: Finish) -> Point:
    marks = finish.bleed_mm + MARK_REACH_MM + _CLEAR_MM / 2.0
    return 0.0, max(marks, finish.film_mm + _CLEAR_MM)


def _cell(
    key: str, block: Block, words: Sequence[str], place: Point, *, finish: Finish, face: Face
) -> Cell:
    """Return a cell with its heading's last line at a place from the block's upper left corner."""
    reach, pitch, cap = finish.reach_mm, LEADING * SMALLEST_CAP_MM, SMALLEST_CAP_MM
    x, y = reach + place[0], reach + block.height_mm + place[1]
    last = len(words) - 1
    lines = tuple(Text(text, x, y + pitch * (last - n), cap) for n, text in enumerate(words))
    wide = max((x + face.width_mm(text, cap_mm=cap) for text in words), default=0.0)
    top = y + pitch * last + cap + _DESCENT_MM if words else 0.0
    width = max(block.width_mm + 2.0 * reach, wide)
    height = max(block.height_mm + 2.0 * reach, top)
    return Cell(key, block, lines, width, height, finish)
