"""A cell: the rectangle one block needs on a sheet, with crop marks, film, heading and back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from focuschart.errors import PageError
from focuschart.layout.page import PAPER, Face, Path, Point, Shape, Text, moved
from focuschart.layout.sheet.beside import note_shapes
from focuschart.layout.sheet.block import Block
from focuschart.layout.sheet.cut_marks import MARK_REACH_MM, bled, is_square
from focuschart.layout.sheet.finish import Finish
from focuschart.layout.sheet.packing import UPRIGHT_OR_TURNED
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
    """The line above a block. If shortened it keeps `tail`, which names piece and copy."""

    text: str
    tail: str = ""
    hint: str = ""

    @property
    def whole(self) -> str:
        """The whole heading, hint included."""
        return self.text + self.tail + self.hint

    def cut(self, face: Face, width_mm: float) -> str:
        """Return the heading shortened to one line; empty if hardly a word fits."""
        room = width_mm - face.width_mm(self.tail, cap_mm=SMALLEST_CAP_MM)
        if room < _LEAST_TEXT_MM:
            last = self.tail.removeprefix(", ") or self.whole
            return shortened(last, face=face, cap_mm=SMALLEST_CAP_MM, width_mm=width_mm)
        return shortened(self.text, face=face, cap_mm=SMALLEST_CAP_MM, width_mm=room) + self.tail


@dataclass(frozen=True, slots=True)
class Cell:
    """A block with the words outside its cut, from the cell's lower left corner.

    `words` are the lines of its heading, and its notes.
    `ways` says whether it may be turned by a quarter, whether not.
    """

    key: str
    block: Block
    words: tuple[Shape, ...]
    width_mm: float
    height_mm: float
    finish: Finish
    back: Block | None = None
    ways: tuple[bool, ...] = UPRIGHT_OR_TURNED

    @property
    def size(self) -> tuple[float, float]:
        """Width and height, mm."""
        return self.width_mm, self.height_mm

    def drawn(self) -> Block:
        """Return everything printed and cut in the cell."""
        finish, reach = self.finish, self.finish.reach_mm
        shapes = self.block.drawn(bleed_mm=finish.bleed_mm, film_mm=finish.film_mm)
        every = (*moved(shapes, reach, reach), *self.words)
        return Block(self.width_mm, self.height_mm, every, ())

    def drawn_back(self) -> Block | None:
        """Return what is printed on the back, as large as the block, without cut and fold lines.

        `look` recolours only inside cut outlines. A back has none, so each of its outlines that
        is not blank gets a white background instead, marked as `ground`.
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
        """Return the block's lower left corner from the cell's, for the cell upright or turned."""
        reach = self.finish.reach_mm
        return (self.height_mm - reach - self.block.height_mm if turned else reach, reach)


def whole_cells(
    key: str, heading: Heading, block: Block, *, finish: Finish, longest_mm: float, face: Face
) -> Iterator[Cell]:
    """Yield possible cells for a block with its whole heading, broken at several line widths.

    Lines no wider than the block start between its upper crop marks, wider ones above them.
    """
    width, own = _line_over_block(block, finish)
    spare = longest_mm - 2.0 * finish.reach_mm
    for room, place in ((width, own), (_NARROW_MM, _above(finish)), (spare, _above(finish))):
        try:
            lines = wrapped(heading.whole, face=face, cap_mm=SMALLEST_CAP_MM, width_mm=room)
        except PageError:  # a word is wider
            continue
        yield _cell(key, block, lines, place, finish=finish, face=face)


def cut_cell(key: str, heading: Heading, block: Block, *, finish: Finish, face: Face) -> Cell:
    """Return the smallest cell for a block: its heading is shortened to one line."""
    width, own = _line_over_block(block, finish)
    text = heading.cut(face, width)
    return _cell(key, block, [text] if text else [], own, finish=finish, face=face)


def _line_over_block(block: Block, finish: Finish) -> tuple[float, Point]:
    """Return the width of a line above a block, and its start from the block's upper left corner.

    It lies between the crop marks, above them where they are slanted, never across the film's cut.
    """
    if not is_square(block.edges):
        return block.width_mm, _above(finish)
    if any(note.upper for note in block.notes):
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
    notes = note_shapes(
        block.notes, (block.width_mm, block.height_mm), bleed_mm=finish.bleed_mm, face=face
    )
    return Cell(key, block, (*lines, *moved(notes, reach, reach)), width, height, finish)
