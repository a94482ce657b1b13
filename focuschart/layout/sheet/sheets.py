"""Imposition: blocks packed on as few sheets as possible, each with check bars both ways.

Backs are pages of their own, each after its front, for landscape sheets that are turned over
their long edge.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

from focuschart.errors import PageError
from focuschart.layout.page import Face, Page, Path, Point, Room, Shape
from focuschart.layout.printer.correct import behind
from focuschart.layout.sheet.block import Block, turned
from focuschart.layout.sheet.cell import Cell
from focuschart.layout.sheet.finish import Finish
from focuschart.layout.sheet.furniture import (
    cautioned,
    furnished,
    furniture,
    headed,
    least_height_mm,
)
from focuschart.layout.sheet.packing import Size, Spot, fits, least_rooms, pack, spared
from focuschart.layout.sheet.papers import PAPERS, Paper, Way, parse_paper
from focuschart.layout.sheet.pieces import Item, cells_of
from focuschart.layout.sheet.rooms import GAP_MM, MARGINS_MM, Format, format_of
from focuschart.layout.sheet.steps import Steps, steps_in

_MOST_PIECES = 5000


@dataclass(frozen=True, slots=True)
class Imposition:
    """Pages with all items on them.

    `least` is the least number of sheets, or mm of roll, that the packed area needs. If
    `two_sided`, every second page is a back.
    """

    paper: Paper
    pages: tuple[Page, ...]
    least: float
    two_sided: bool = False

    @property
    def fronts(self) -> tuple[Page, ...]:
        """The pages that are cut, one for each sheet."""
        return self.pages[:: 2 if self.two_sided else 1]

    def summary(self) -> str:
        """Return in words how many sheets, or what length of a roll, it takes."""
        if self.paper.kind == "roll":
            used = math.fsum(page.height_mm for page in self.pages)
            return f"{used:.0f} mm of {self.paper.name}"
        count = len(self.fronts)
        taken = f"{count} sheet{'s' * (count != 1)} of {self.paper.name}"
        return f"{taken} on both sides" if self.two_sided else taken


def imposed(
    items: Iterable[Item], *, paper: str, title: str, face: Face, finish: Finish | None = None,
    cautions: Sequence[str] = (), steps: Steps | None = None,
) -> Imposition:  # fmt: skip
    """Return all items, in all their copies, on as few sheets as the packing finds.

    Each stock has its own sheets. Long blocks are split with butt joins, nothing is scaled. Where
    any item has a back, every page is followed by its back, even if blank. The cautions, without
    a full stop, are printed on every page that has room beside its bars' lengths, the steps where
    the front of a sheet is left blank.
    Raises PageError for an unknown paper, for a block that neither fits nor can be split, and
    for backs on anything but a landscape sheet.
    """
    finish = finish or Finish()
    on = parse_paper(paper)
    groups = _by_stock(items)
    two_sided = any(item.back is not None for group in groups for item in group)
    sizes = _landscape(on, finish.way) if two_sided else on.sizes(finish.way)
    formats = [format_of(on, size) for size in sizes]
    wanted = finish.copies * sum(map(len, groups))
    if wanted > _MOST_PIECES:
        raise PageError(f"{wanted} strips and cards are more than {_MOST_PIECES}: print fewer")
    laid = [_best(group, formats, finish, face) for group in groups]
    count = sum(layout.page_count for layout in laid) * (2 if two_sided else 1)
    pages: list[Page] = []
    heading = _Heading(title, cautions, face, steps)
    for layout in laid:
        pages += layout.pages(heading, first=len(pages) + 1, count=count, two_sided=two_sided)
    return Imposition(on, tuple(pages), math.fsum(layout.least for layout in laid), two_sided)


def has_room(items: Iterable[Item], *, paper: str, finish: Finish) -> bool:
    """Return whether every item fits a paper whole; raises PageError for an unknown paper."""
    on, around = parse_paper(paper), 2.0 * finish.reach_mm
    rooms = [format_of(on, size).room for size in on.sizes(finish.way)]
    sizes = [(i.block.width_mm + around, i.block.height_mm + around) for i in items]
    return all(any(fits(size, room) for room in rooms) for size in sizes)


def _landscape(on: Paper, way: Way) -> list[tuple[float, float]]:
    """Return the sizes of landscape sheets, for backs; raises PageError for any other paper."""
    if on.kind != "sheet":
        raise PageError(
            f"{on.name} is not printed on both sides: choose {', '.join(PAPERS)}, or cards to fold"
        )
    if way == "portrait":
        raise PageError(
            "two-sided printing needs landscape sheets: leave --way at auto or landscape, or "
            "choose cards to fold"
        )
    return on.sizes("landscape")


def _by_stock(items: Iterable[Item]) -> list[list[Item]]:
    """Return the items grouped by stock, in the order of first appearance."""
    groups: dict[str, list[Item]] = {}
    for item in items:
        groups.setdefault(item.stock, []).append(item)
    return list(groups.values())


def _best(items: Sequence[Item], formats: Sequence[Format], finish: Finish, face: Face) -> _Laid:
    """Return the items laid out with the format and headings that need fewest joins and sheets."""
    layouts: list[_Laid] = []
    refused: list[PageError] = []
    for whole, form in product((True, False), formats):
        try:
            layouts.append(_lay(items, form, finish, face, whole=whole))
        except PageError as error:
            refused.append(error)
            continue
        if form.is_roll or layouts[-1].page_count <= layouts[-1].least:
            break  # the first orientation has the longest room: no other has fewer joins
    if not layouts:
        raise refused[0]
    return min(layouts, key=lambda laid: (len(laid.cells), laid.page_count))


def _lay(items: Sequence[Item], form: Format, finish: Finish, face: Face, *, whole: bool) -> _Laid:
    """Return the items of one stock on one format, with `whole` headings where they fit."""
    cells = [
        cell
        for item in items
        for cell in cells_of(item, form, finish=finish, face=face, whole=whole)
    ]
    sizes, room = _with_gaps(cells, form)
    spots = pack(sizes, room, shortest=form.is_roll, ways=[cell.ways for cell in cells])
    return _Laid(form, items[0].stock, cells, spots)


def _with_gaps(cells: Sequence[Cell], form: Format) -> tuple[list[Size], Size]:
    """Return cell sizes and room, each enlarged by the gap, so that packed cells keep it."""
    width, height = form.room
    sizes = [(cell.width_mm + GAP_MM, cell.height_mm + GAP_MM) for cell in cells]
    return sizes, (width + GAP_MM, height + GAP_MM)


@dataclass(frozen=True, slots=True)
class _Heading:
    """The words on every sheet, and the typeface it is measured with."""

    title: str
    cautions: Sequence[str]
    face: Face
    steps: Steps | None = None


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
        """Sheets, or mm of roll, that the area needs at least."""
        sizes, room = _with_gaps(self.cells, self.form)
        if self.form.is_roll:
            return math.fsum(width * height for width, height in sizes) / room[0]
        return math.ceil(least_rooms(sizes, room) / len(self.form.frames))

    def pages(
        self, heading: _Heading, *, first: int, count: int, two_sided: bool
    ) -> Iterator[Page]:
        """Yield the pages, numbered from `first` of `count`; each followed by its back if asked."""
        heights = self._heights()
        whole = f"{heading.title}, on {self.stock}" if self.stock else heading.title
        number = first
        made = zip(heights, self._shapes(heights), self._blank(), strict=True)
        for height, (front, back), blank in made:
            steps = heading.steps
            words = steps_in(blank, steps, face=heading.face) if steps else []
            titled = replace(heading, title=whole)
            yield self._page([*front, *words], height, titled, (number, count))
            if two_sided:
                turned_over = f"Back of page {number}, turn over the long edge. {whole}"
                behind = replace(heading, title=turned_over)
                yield self._page(back, height, behind, (number + 1, count))
            number += 2 if two_sided else 1

    def _page(
        self, shapes: list[Shape], height: float, heading: _Heading, number: tuple[int, int]
    ) -> Page:
        width, face = self.form.width_mm, heading.face
        if self.form.spared is not None:
            around = furnished(
                self.form.spared, heading.title, *number, face, cautions=heading.cautions
            )
        else:
            beside = cautioned(heading.cautions, width, face)
            title = headed(heading.title, width, face)
            around = furniture(width, height, title, *number, beside=beside)
        return Page(width, height, heading.title, (*around, *shapes))

    def _heights(self) -> list[float]:
        """Return the height of each page: the used length of a roll, else the sheet's."""
        if not self.form.is_roll:
            return [self.form.height_mm] * self.page_count
        heights = [least_height_mm()] * self.page_count
        for cell, spot in zip(self.cells, self.spots, strict=True):
            used = spot.y + cell.size[0 if spot.turned else 1] + MARGINS_MM[1] + MARGINS_MM[3]
            heights[spot.room] = max(heights[spot.room], used)
        return heights

    def _blank(self) -> list[list[Room]]:
        """Return the blank rectangles of each page; none of a roll or of labels."""
        if self.form.paper.kind != "sheet":
            return [[] for _ in range(self.page_count)]
        (frame,) = self.form.frames
        taken: list[list[Room]] = [[] for _ in range(self.page_count)]
        for cell, spot in zip(self.cells, self.spots, strict=True):
            wide, high = cell.size[::-1] if spot.turned else cell.size
            place = Room(frame.x + spot.x, frame.top - spot.y - high, wide, high)
            taken[spot.room].append(place)
        return [spared(rooms, frame) for rooms in taken]

    def _shapes(self, heights: Sequence[float]) -> list[tuple[list[Shape], list[Shape]]]:
        """Return the shapes on each page and on its back, `heights` being those of the pages."""
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

    A back is turned by the same quarter as its front: turning a sheet over its long edge keeps the
    direction along that edge, so text that ran along it on the front does so on the back.
    """
    for shape in (turned(block) if quarter else block).shapes:
        yield _placed(shape, key, *corner)


def _placed(shape: Shape, key: str, dx: float, dy: float) -> Shape:
    """Return a shape moved and with the item's key before its own, in one step for speed."""
    name = f"{key}/{shape.key}" if shape.key else ""
    if isinstance(shape, Path):
        return replace(shape, points=tuple((x + dx, y + dy) for x, y in shape.points), key=name)
    return replace(shape, x=shape.x + dx, y=shape.y + dy, key=name)
