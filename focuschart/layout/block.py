"""A block: shapes that stay together on a sheet, and how a long one is split."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from focuschart.errors import PageError
from focuschart.layout.page import Path, Point, Shape, Text, box, line

Span = tuple[float, float]

_WING_MM = 2.0
JOIN_CLEARANCE_MM = _WING_MM + 0.5


@dataclass(frozen=True, slots=True)
class Block:
    """Shapes from the block's lower left corner; `outline` is what is cut.

    `keep` are the spans along x that no join may cross: labels, marks and their bands.
    """

    width_mm: float
    height_mm: float
    shapes: tuple[Shape, ...]
    outline: tuple[Path, ...]
    keep: tuple[Span, ...] = ()

    def drawn(self) -> tuple[Shape, ...]:
        """Return all shapes with the cut outline and its crop marks."""
        return (*self.shapes, *self.outline, *crop_marks(self.width_mm, self.height_mm))


def crop_marks(width_mm: float, height_mm: float) -> tuple[Path, ...]:
    """Return short strokes outside each corner, clear of the cut by one millimetre."""
    off, end = 1.0, 3.0
    strokes: list[tuple[Point, Point]] = []
    for x, side in ((0.0, -1.0), (width_mm, 1.0)):
        for y, level in ((0.0, -1.0), (height_mm, 1.0)):
            strokes.append(((x + side * off, y), (x + side * end, y)))
            strokes.append(((x, y + level * off), (x, y + level * end)))
    return tuple(line(start, stop, stroke_mm=0.1, group="crop") for start, stop in strokes)


def split(block: Block, longest_mm: float) -> list[Block]:
    """Return the block in pieces no longer than `longest_mm`, with a butt-join mark at each join.

    Nothing is scaled and nothing laps: the pieces meet edge to edge. Raises PageError where the
    marks leave no place to join.
    """
    if block.width_mm <= longest_mm:
        return [block]
    edges = [0.0]
    while block.width_mm - edges[-1] > longest_mm:
        edges.append(_join_place(block.keep, edges[-1], edges[-1] + longest_mm))
    edges.append(block.width_mm)
    return [
        _piece(block, (start, end), index, len(edges) - 1)
        for index, (start, end) in enumerate(pairwise(edges))
    ]


def _join_place(keep: Iterable[Span], start: float, limit: float) -> float:
    """Return the farthest place up to `limit` that no kept span covers."""
    place = limit
    for low, high in sorted(keep, key=lambda span: span[1], reverse=True):
        if low - JOIN_CLEARANCE_MM < place < high + JOIN_CLEARANCE_MM:
            place = low - JOIN_CLEARANCE_MM
    if place <= start + 10.0:
        raise PageError(
            "wider than the sheet with no place to split it: choose larger paper or a smaller card"
        )
    return place


def _piece(block: Block, span: Span, index: int, count: int) -> Block:
    start, end = span
    kept = [piece for shape in block.shapes for piece in _clipped(shape, span)]
    kept += _join_wings(block, span, index, count)
    shapes = tuple(shape.moved(-start, 0.0) for shape in kept)
    outline = tuple(
        piece.moved(-start, 0.0) for path in block.outline for piece in _clipped_path(path, span)
    )
    return Block(end - start, block.height_mm, shapes, outline)


def _join_wings(block: Block, span: Span, index: int, count: int) -> list[Shape]:
    """Return half an arrowhead at each joined end, which its neighbour completes."""
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
