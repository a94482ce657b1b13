"""Sheets of paper: blocks packed on as few as can be, with check bars both ways on every one.

Backs are printed on pages of their own, each after its front, for lying sheets that are turned over
their long edge.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

from focuschart.errors import PageError
from focuschart.layout.page import Face, Page, Path, Point, Shape
from focuschart.layout.printer.correct import behind
from focuschart.layout.sheet.block import Block, turned
from focuschart.layout.sheet.cell import Cell
from focuschart.layout.sheet.cut_marks import area_mm2
from focuschart.layout.sheet.finish import Finish
from focuschart.layout.sheet.furniture import (
    cautioned,
    furnished,
    furniture,
    headed,
    least_height_mm,
)
from focuschart.layout.sheet.packing import Size, Spot, fits, least_rooms, pack
from focuschart.layout.sheet.papers import PAPERS, Paper, Way, parse_paper
from focuschart.layout.sheet.pieces import Item, cells_of
from focuschart.layout.sheet.rooms import GAP_MM, MARGINS_MM, Format, format_of

_MOST_PIECES = 5000


@dataclass(frozen=True, slots=True)
class Imposition:
    """Pages with all items on them, and how well they are filled.

    `least` is the number of sheets, or mm of roll, whose room has the area of what is packed. Of
    `two_sided` sheets every second page is a back.
    """

    paper: Paper
    pages: tuple[Page, ...]
    least: float
    two_sided: bool = False

    @property
    def fronts(self) -> tuple[Page, ...]:
        """The pages that are cut, one a sheet."""
        return self.pages[:: 2 if self.two_sided else 1]

    @property
    def waste(self) -> float:
        """The share of the paper that is in no piece, from 0 to 1."""
        whole = math.fsum(page.width_mm * page.height_mm for page in self.fronts)
        cuts = (shape for page in self.fronts for shape in page.in_group("cut"))
        cut = math.fsum(area_mm2(shape) for shape in cuts if isinstance(shape, Path))
        return 1.0 - cut / whole if whole else 0.0

    def told(self) -> str:
        """Return sheets or length used, the least that area allows, and the waste, as a line."""
        if self.paper.kind == "roll":
            used = math.fsum(page.height_mm for page in self.pages)
            taken = f"{used:.0f} mm of {self.paper.name} (by area at least {self.least:.0f} mm)"
        else:
            taken = f"{len(self.fronts)} of {self.paper.name}"
            taken += " on both sides" if self.two_sided else ""
            taken += f" (by area at least {self.least:.0f})"
        return f"{taken}, {100.0 * self.waste:.0f} % waste"


def imposed(
    items: Iterable[Item], *, paper: str, title: str, face: Face, finish: Finish | None = None,
    cautions: Sequence[str] = (),
) -> Imposition:  # fmt: skip
    """Return all items, in all their copies, on as few sheets as are found.

    Each stock has its own sheets. Long blocks are split with butt joins, nothing is scaled. Where
    any item has a back, every page is followed by its sheet's back, a blank one too. The
    cautions, without a full stop, are printed on every page that has room beside its bars' lengths.
    Raises PageError for an unknown paper, for a block that fits no way and cannot be split, and for
    backs on what is no lying sheet.
    """
    finish = finish or Finish()
    on = parse_paper(paper)
    groups = _by_stock(items)
    two_sided = any(item.back is not None for group in groups for item in group)
    sizes = _lying(on, finish.way) if two_sided else on.sizes(finish.way)
    formats = [format_of(on, size) for size in sizes]
    wanted = finish.copies * sum(map(len, groups))
    if wanted > _MOST_PIECES:
        raise PageError(f"{wanted} strips and cards are more than {_MOST_PIECES}: print fewer")
    laid = [_best(group, formats, finish, face) for group in groups]
    count = sum(one.page_count for one in laid) * (2 if two_sided else 1)
    pages: list[Page] = []
    says = _Says(title, cautions, face)
    for one in laid:
        pages += one.pages(says, first=len(pages) + 1, count=count, two_sided=two_sided)
    return Imposition(on, tuple(pages), math.fsum(one.least for one in laid), two_sided)


def has_room(items: Iterable[Item], *, paper: str, finish: Finish) -> bool:
    """Return whether every item fits a paper whole; raises PageError for an unknown paper."""
    on, around = parse_paper(paper), 2.0 * finish.reach_mm
    rooms = [format_of(on, size).room for size in on.sizes(finish.way)]
    sizes = [(i.block.width_mm + around, i.block.height_mm + around) for i in items]
    return all(any(fits(size, room) for room in rooms) for size in sizes)


def _lying(on: Paper, way: Way) -> list[tuple[float, float]]:
    """Return the one way up of sheets with backs; raises PageError for others."""
    if on.kind != "sheet":
        raise PageError(
            f"{on.name} is not printed on both sides: choose {', '.join(PAPERS)}, or cards to fold"
        )
    if way == "portrait":
        raise PageError(
            "what is printed on both sides needs lying sheets: leave the way up at auto or "
            "landscape, or choose cards to fold"
        )
    return on.sizes("landscape")


def _by_stock(items: Iterable[Item]) -> list[list[Item]]:
    """Return the items of each stock, in the order in which the stocks first come."""
    groups: dict[str, list[Item]] = {}
    for item in items:
        groups.setdefault(item.stock, []).append(item)
    return list(groups.values())


def _best(items: Sequence[Item], formats: Sequence[Format], finish: Finish, face: Face) -> _Laid:
    """Return the items on the format, and with headings, that take fewest joins and sheets."""
    found: list[_Laid] = []
    refused: list[PageError] = []
    for whole, form in product((True, False), formats):
        try:
            found.append(_lay(items, form, finish, face, whole=whole))
        except PageError as error:
            refused.append(error)
            continue
        if form.is_roll or found[-1].page_count <= found[-1].least:
            break  # the first way up has the longest room: no other has fewer joins
    if not found:
        raise refused[0]
    return min(found, key=lambda laid: (len(laid.cells), laid.page_count))


def _lay(items: Sequence[Item], form: Format, finish: Finish, face: Face, *, whole: bool) -> _Laid:
    """Return the items of one stock on one format, with `whole` headings where they have room."""
    found = [
        cell
        for item in items
        for cell in cells_of(item, form, finish=finish, face=face, whole=whole)
    ]
    sizes, room = _with_gaps(found, form)
    spots = pack(sizes, room, shortest=form.is_roll)
    return _Laid(form, items[0].stock, found, spots)


def _with_gaps(found: Sequence[Cell], form: Format) -> tuple[list[Size], Size]:
    """Return sizes and room with a gap to the right and above, so that all may be packed tight."""
    width, height = form.room
    sizes = [(cell.width_mm + GAP_MM, cell.height_mm + GAP_MM) for cell in found]
    return sizes, (width + GAP_MM, height + GAP_MM)


@dataclass(frozen=True, slots=True)
class _Says:
    """What every sheet says, and the typeface it is measured with."""

    title: str
    cautions: Sequence[str]
    face: Face


@dataclass(frozen=True, slots=True)
class _Laid:
    """The cells of one stock, laid out on one format."""

    form: Format
    stock: str
    cells: Sequence[Cell]
    spots: Sequence[Spot]

    @property
    def page_count(self) -> int:
        """How many sheets, or pieces of roll, are used."""
        return max(spot.room for spot in self.spots) // len(self.form.frames) + 1

    @property
    def least(self) -> float:
        """Sheets, or mm of roll, that area alone asks for."""
        sizes, room = _with_gaps(self.cells, self.form)
        if self.form.is_roll:
            return math.fsum(width * height for width, height in sizes) / room[0]
        return math.ceil(least_rooms(sizes, room) / len(self.form.frames))

    def pages(self, says: _Says, *, first: int, count: int, two_sided: bool) -> Iterator[Page]:
        """Yield the pages, numbered from `first` of `count`; each with its back if so asked."""
        heights = self._heights()
        whole = f"{says.title}, on {self.stock}" if self.stock else says.title
        number = first
        for height, (front, back) in zip(heights, self._shapes(heights), strict=True):
            yield self._page(front, height, replace(says, title=whole), (number, count))
            if two_sided:
                turned_over = f"Back of page {number}, turn over the long edge. {whole}"
                told = replace(says, title=turned_over)
                yield self._page(back, height, told, (number + 1, count))
            number += 2 if two_sided else 1

    def _page(
        self, shapes: list[Shape], height: float, says: _Says, number: tuple[int, int]
    ) -> Page:
        width, face = self.form.width_mm, says.face
        if self.form.spared is not None:
            around = furnished(self.form.spared, says.title, *number, face, cautions=says.cautions)
        else:
            beside = cautioned(says.cautions, width, face)
            title = headed(says.title, width, face)
            around = furniture(width, height, title, *number, beside=beside)
        return Page(width, height, says.title, (*around, *shapes))

    def _heights(self) -> list[float]:
        """Return the height of each page: a roll's is what is used, the others' the sheet's."""
        if not self.form.is_roll:
            return [self.form.height_mm] * self.page_count
        heights = [least_height_mm()] * self.page_count
        for cell, spot in zip(self.cells, self.spots, strict=True):
            used = spot.y + cell.size[0 if spot.turned else 1] + MARGINS_MM[1] + MARGINS_MM[3]
            heights[spot.room] = max(heights[spot.room], used)
        return heights

    def _shapes(self, heights: Sequence[float]) -> list[tuple[list[Shape], list[Shape]]]:
        """Return what lies on each page and on its back; a roll is cut off where its piece ends."""
        shapes: list[tuple[list[Shape], list[Shape]]] = [([], []) for _ in heights]
        for cell, spot in zip(self.cells, self.spots, strict=True):
            number, place = divmod(spot.room, len(self.form.frames))
            frame, (front, back) = self.form.frames[place], shapes[number]
            top = frame.top - (self.form.height_mm - heights[number])
            x, y = frame.x + spot.x, top - spot.y - cell.size[0 if spot.turned else 1]
            front += _put(cell.drawn(), cell.key, (x, y), quarter=spot.turned)
            if (other := cell.drawn_back()) is not None:
                left, low = cell.corner(turned=spot.turned)
                high = other.width_mm if spot.turned else other.height_mm
                corner = behind((x + left, y + low + high), height_mm=heights[number])
                back += _put(other, cell.key, corner, quarter=spot.turned)
        return shapes


def _put(block: Block, key: str, corner: Point, *, quarter: bool) -> Iterator[Shape]:
    """Yield a block's shapes from a corner of the page.

    A back makes the same quarter turn as its front: turning a sheet over its long edge leaves that
    edge's direction as it is, so what led a reader along it on the front does so on the back.
    """
    for shape in (turned(block) if quarter else block).shapes:
        yield _placed(shape, key, *corner)


def _placed(shape: Shape, key: str, dx: float, dy: float) -> Shape:
    """Return a shape moved, its own key after the item's; at once, as there are many."""
    name = f"{key}/{shape.key}" if shape.key else ""
    if isinstance(shape, Path):
        return replace(shape, points=tuple((x + dx, y + dy) for x, y in shape.points), key=name)
    return replace(shape, x=shape.x + dx, y=shape.y + dy, key=name)
