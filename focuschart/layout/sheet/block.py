"""A block: shapes that stay together on a sheet, and how a long one is split."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple

from focuschart.errors import PageError
from focuschart.layout.extent import ink_boxes
from focuschart.layout.page import Face, Path, Point, Shape, Span, Text, box
from focuschart.layout.sheet.beside import Note
from focuschart.layout.sheet.beside import within as notes_within
from focuschart.layout.sheet.cut_marks import bled, crop_marks, grown, held, within
from focuschart.layout.tag.tag import TAG_KEY, Tag

Seam = tuple[Point, Point]
"""A straight edge of the outline against which another piece is laid."""


class Limit(NamedTuple):
    """An edge of the outline beyond which film may reach by `reach_mm` at most.

    `edge` is an open path with the block on its left.
    """

    edge: Path
    reach_mm: float


class Loose(NamedTuple):
    """A text that moves aside for a join: its key, and half its width."""

    key: str
    half_mm: float

    @property
    def aside_mm(self) -> float:
        """How far it may move at most."""
        return self.half_mm + _WING_MM + _LOOSE_CLEAR_MM


class Room(NamedTuple):
    """Free space for one line of words: its span along the block, and its baseline."""

    low: float
    high: float
    baseline: float


@dataclass(frozen=True, slots=True)
class Everywhere:
    """A text printed on every piece that has space for it, such as the code.

    `text` is at the origin; `taken` are the spans where it is printed already, `rooms` the spans
    that are free.
    """

    text: Text
    width_mm: float
    taken: tuple[Span, ...]
    rooms: tuple[Room, ...]

    def clear_of(self, words: Sequence[Text], *, face: Face) -> Everywhere:
        """Return the same with only those parts of its rooms that are clear of some words."""
        boxes, cap = ink_boxes(words, face=face).tolist(), self.text.cap_mm
        rooms: list[Room] = []
        for room in self.rooms:
            foot, top = room.baseline - _WORD_APART_MM, room.baseline + cap + _WORD_APART_MM
            start = room.low
            for left, low, right, high in sorted(boxes):
                if low < top and foot < high and start < right and left < room.high:
                    rooms.append(room._replace(low=start, high=left - _WORD_APART_MM))
                    start = right + _WORD_APART_MM
            rooms.append(room._replace(low=start))
        return replace(self, rooms=tuple(room for room in rooms if room.high > room.low))

    def on(self, span: Span, free: Span) -> list[Text]:
        """Return the text for the piece at `span`; none if it has it already or has no space.

        `free` is what of the piece is left by texts that were moved aside.
        """
        start = max(span[0] + JOIN_CLEARANCE_MM, free[0])
        end = min(span[1] - JOIN_CLEARANCE_MM, free[1])
        if any(span[0] <= low and high <= span[1] for low, high in self.taken):
            return []
        places = [(max(room.low, start), min(room.high, end), room.baseline) for room in self.rooms]
        fitting = [place for place in places if place[1] - place[0] >= self.width_mm]
        if not fitting:
            return []
        low, high, baseline = max(fitting, key=lambda place: place[1] - place[0])
        x = (low + high - self.width_mm) / 2.0 + (self.width_mm if self.text.mirrored else 0.0)
        return [replace(self.text, x=x, y=baseline)]


_WORD_APART_MM = 0.7
_WING_MM = 2.0
_LEAST_PIECE_MM = 25.0
"""A shorter piece is hard to cut and to lay edge to edge; judgement, no source."""
JOIN_CLEARANCE_MM = _WING_MM + 0.5
_LOOSE_CLEAR_MM = 0.3


@dataclass(frozen=True, slots=True)
class Block:
    """Shapes from the block's lower left corner; `outline` is what is cut.

    `keep` are the spans along x that no join may cross: labels, marks and their bands. `seams` are
    the ends where other pieces are joined, `limits` the edges that limit the film, `loose` the
    texts that move aside for a join, `everywhere` the text that all pieces should carry, `notes`
    the words outside the cut, `tags` the tags on it while it is flat and whole.
    """

    width_mm: float
    height_mm: float
    shapes: tuple[Shape, ...]
    outline: tuple[Path, ...]
    keep: tuple[Span, ...] = ()
    seams: tuple[Seam, ...] = ()
    limits: tuple[Limit, ...] = ()
    loose: tuple[Loose, ...] = ()
    everywhere: Everywhere | None = None
    notes: tuple[Note, ...] = ()
    tags: tuple[Tag, ...] = ()

    @property
    def edges(self) -> tuple[Path, ...]:
        """The cut outline, or the bounding box of a block that has none."""
        return self.outline or cut_box(self.width_mm, self.height_mm)

    def drawn(self, *, bleed_mm: float = 0.0, film_mm: float = 0.0) -> tuple[Shape, ...]:
        """Return all shapes with the cut outline and its crop marks.

        Backgrounds run `bleed_mm` past the cut. Where `film_mm` is above zero, the laminate's
        cut lies that far outside the paper's, but flush with it at a butt join and no farther out
        than the block's limits.
        """
        shapes = bled(self.shapes, self.edges, bleed_mm) if bleed_mm else self.shapes
        film = [self._film(path, film_mm) for path in self.outline] if film_mm else []
        return (*shapes, *self.outline, *film, *crop_marks(self.edges, bleed_mm=bleed_mm))

    def _film(self, path: Path, film_mm: float) -> Path:
        film = grown(path, film_mm)
        for limit in self.limits:
            if limit.reach_mm < film_mm:
                film = held(film, limit.edge, limit.reach_mm)
        for seam in self.seams:
            film = within(film, seam, path)
        return replace(film, group="film", key="film")


def turned(block: Block) -> Block:
    """Return the block after a quarter turn counter-clockwise; it cannot be split any more."""
    high = block.height_mm
    shapes = tuple(
        _turned_path(shape, high) if isinstance(shape, Path) else _turned_text(shape, high)
        for shape in block.shapes
    )
    outline = tuple(_turned_path(path, high) for path in block.outline)
    return Block(high, block.width_mm, shapes, outline)


def _turned_path(path: Path, height_mm: float) -> Path:
    return replace(path, points=tuple((height_mm - y, x) for x, y in path.points))


def _turned_text(text: Text, height_mm: float) -> Text:
    rotation = text.rotation + math.pi / 2.0
    return replace(text, x=height_mm - text.y, y=text.x, rotation=rotation)


def split(block: Block, longest_mm: float) -> list[Block]:
    """Return the block in pieces no longer than `longest_mm`, with a butt-join mark at each join.

    Nothing is scaled or overlaps: the pieces are laid edge to edge, so their widths add up to the
    block's. The block must be flat: a curved strip is split before it is bent. Raises
    PageError where the marks leave no place to join.
    """
    if block.width_mm <= longest_mm:
        return [block]
    edges = [0.0]
    while block.width_mm - edges[-1] > longest_mm:
        edges.append(_next_join(block, edges[-1], longest_mm))
    edges.append(block.width_mm)
    return [
        _piece(block, span, index, len(edges) - 1) for index, span in enumerate(pairwise(edges))
    ]


def _next_join(block: Block, start: float, longest_mm: float) -> float:
    """Return where the piece from `start` ends; avoids a last piece too short to handle."""
    limit = start + longest_mm
    try:
        return _join_place(block.keep, start, min(limit, block.width_mm - _LEAST_PIECE_MM))
    except PageError:
        return _join_place(block.keep, start, limit)


def _join_place(keep: Iterable[Span], start: float, limit: float) -> float:
    """Return the greatest x up to `limit` that no span of `keep` covers."""
    place = limit
    for low, high in sorted(keep, key=lambda span: span[1], reverse=True):
        if low - JOIN_CLEARANCE_MM < place < high + JOIN_CLEARANCE_MM:
            place = low - JOIN_CLEARANCE_MM
    if place <= start + 10.0:
        raise PageError(
            "its labels and marks leave no place to join pieces of at most "
            f"{limit - start:.0f} mm: choose larger paper"
        )
    return place


def _piece(block: Block, span: Span, index: int, count: int) -> Block:
    start, end = span
    kept = [piece for shape in _without_cut_tags(block, span) for piece in _clipped(shape, span)]
    aside = list(_aside(block, kept, span, index, count))
    if block.everywhere:
        free = _free_of(_moved_spans(block, aside), span)
        aside += block.everywhere.on(span, free)
    kept = aside
    kept += _join_wings(block, span, index, count)
    shapes = tuple(shape.moved(-start, 0.0) for shape in kept)
    outline = tuple(
        piece.moved(-start, 0.0) for path in block.outline for piece in _clipped_path(path, span)
    )
    ends = [0.0] * (index > 0) + [end - start] * (index < count - 1)
    seams = tuple(((x, 0.0), (x, block.height_mm)) for x in ends)
    limits = tuple(
        limit._replace(edge=piece.moved(-start, 0.0))
        for limit in block.limits
        for piece in _clipped_path(limit.edge, span)
    )
    return Block(
        end - start, block.height_mm, shapes, outline, seams=seams, limits=limits,
        notes=notes_within(block.notes, span),
    )  # fmt: skip


def _moved_spans(block: Block, after: Iterable[Shape]) -> Iterator[Span]:
    """Yield where loose texts stand that were moved aside for a join."""
    half = {loose.key: loose.half_mm + _WORD_APART_MM for loose in block.loose}
    before = {shape.key: shape.x for shape in block.shapes if isinstance(shape, Text)}
    for text in after:
        if isinstance(text, Text) and text.key in half and text.x != before[text.key]:
            yield text.x - half[text.key], text.x + half[text.key]


def _free_of(taken: Iterable[Span], span: Span) -> Span:
    """Return a piece's span without what is taken at its ends."""
    start, end = span
    for low, high in taken:
        start, end = (max(start, high), end) if low - start < end - high else (start, min(end, low))
    return start, end


def _without_cut_tags(block: Block, span: Span) -> Iterator[Shape]:
    """Yield a block's shapes without the tags that a join would come too near."""
    joins = [x for x in span if 0.0 < x < block.width_mm]
    cut = [
        tag for tag in block.tags
        if any(tag.x - JOIN_CLEARANCE_MM < x < tag.x + tag.side_mm + JOIN_CLEARANCE_MM
               for x in joins)
    ]  # fmt: skip
    for shape in block.shapes:
        if not (shape.key.startswith(TAG_KEY) and any(tag.covers(shape) for tag in cut)):
            yield shape


def _aside(
    block: Block, shapes: Iterable[Shape], span: Span, index: int, count: int
) -> Iterator[Shape]:
    """Yield a piece's shapes, with the loose texts moved clear of its joins."""
    loose = {each.key: each for each in block.loose}
    middle = block.height_mm / 2.0
    for shape in shapes:
        if not isinstance(shape, Text) or shape.key not in loose:
            yield shape
            continue
        half = loose[shape.key].half_mm
        beside = abs(shape.y + shape.cap_mm / 2.0 - middle) < _WING_MM + shape.cap_mm / 2.0
        need = half + (_WING_MM if beside else 0.0) + _LOOSE_CLEAR_MM
        x = max(shape.x, span[0] + need) if index > 0 else shape.x
        x = min(x, span[1] - need) if index < count - 1 else x
        yield replace(shape, x=x)


def _join_wings(block: Block, span: Span, index: int, count: int) -> list[Shape]:
    """Return half an arrowhead at each joined end; the next piece has the other half."""
    wings: list[Shape] = []
    middle = block.height_mm / 2.0
    for edge, inward, joined in ((span[0], 1.0, index > 0), (span[1], -1.0, index < count - 1)):
        if joined:
            tip = (edge + inward * _WING_MM, middle)
            corners = ((edge, middle - _WING_MM), tip, (edge, middle + _WING_MM))
            name = f"join:{index + (inward < 0)}:{'left' if inward < 0 else 'right'}"
            wings.append(Path(corners, closed=True, stroke_mm=0.15, key=name))
    return wings


def _clipped(shape: Shape, span: Span) -> Sequence[Path | Text]:
    if isinstance(shape, Text):
        return [shape] if span[0] <= shape.x < span[1] else []
    return _clipped_path(shape, span)


def _clipped_path(path: Path, span: Span) -> list[Path]:
    points = path.points
    for limit, inside in ((span[0], 1.0), (span[1], -1.0)):
        points = _half_plane(points, limit, inside, closed=path.closed)
    return [replace(path, points=points)] if len(points) >= (3 if path.closed else 2) else []


def _half_plane(
    points: tuple[Point, ...], limit: float, inside: float, *, closed: bool
) -> tuple[Point, ...]:
    """Clip a polygon, or a polyline that crosses once, to one side of x = limit.

    Sutherland and Hodgman, Reentrant Polygon Clipping, Communications of the ACM 17 (1974).
    """
    kept: list[Point] = []
    pairs = zip(points, points[1:] + points[:1], strict=True)
    for index, (here, there) in enumerate(pairs):
        if inside * (here[0] - limit) >= 0.0:
            kept.append(here)
        last = not closed and index == len(points) - 1
        crosses = (here[0] - limit) * (there[0] - limit) < 0.0
        if crosses and not last:
            share = (limit - here[0]) / (there[0] - here[0])
            kept.append((limit, here[1] + share * (there[1] - here[1])))
    return tuple(kept)


def cut_box(width_mm: float, height_mm: float) -> tuple[Path, ...]:
    """Return the cut outline of a plain rectangle."""
    return (box(0.0, 0.0, width_mm, height_mm, group="cut", key="outline"),)
