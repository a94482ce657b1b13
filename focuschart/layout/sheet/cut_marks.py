"""Geometry round a cut outline: crop marks, the film's cut, and bleed."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from focuschart.layout.arrays import Floats
from focuschart.layout.page import Path, Point, Shape, box, line

MARK_CLEAR_MM = 1.0
MARK_REACH_MM = 3.0
"""Where a crop mark begins and ends, outside the bleed."""
_SHARP = math.radians(30.0)
_ARC_STEP = math.radians(6.0)
_ON_EDGE_MM = 1e-6


def crop_marks(outline: Sequence[Path], *, bleed_mm: float = 0.0) -> tuple[Path, ...]:
    """Return short strokes that continue the edges beyond each corner, outside the bleed.

    An outline without a sharp corner has them at the corners of its bounding box.
    """
    strokes: list[Path] = []
    for path in outline:
        for corner, ways in _corners(path) or _corners(_bounding_box(path)):
            for way in ways:
                ends = (corner + way * (bleed_mm + far) for far in (MARK_CLEAR_MM, MARK_REACH_MM))
                start, stop = (_point(end) for end in ends)
                strokes.append(line(start, stop, stroke_mm=0.1, group="crop"))
    return tuple(strokes)


def is_square(outline: Sequence[Path]) -> bool:
    """Return whether all crop marks are horizontal or vertical, at the bounding box's corners."""
    for path in outline:
        low, high = np.min(path.points, axis=0), np.max(path.points, axis=0)
        for corner, _ in _corners(path):
            if np.max(np.minimum(np.abs(corner - low), np.abs(corner - high))) > _ON_EDGE_MM:
                return False
    return True


def grown(path: Path, by_mm: float) -> Path:
    """Return the outline offset outward by `by_mm`, rounded at its sharp corners."""
    points, before, after = _edges(path)
    turn = _turns(before, after)
    kept: list[Point] = []
    for point, one, other, angle in zip(points, before, after, turn, strict=True):
        if angle <= _SHARP:
            kept.append(_point(point + by_mm * _mitre(one, other)))
            continue
        first = math.atan2(one[1], one[0])
        for step in np.linspace(0.0, angle, math.ceil(angle / _ARC_STEP) + 1):
            arc = np.array([math.cos(first + step), math.sin(first + step)])
            kept.append(_point(point + by_mm * arc))
    return replace(path, points=tuple(kept))


def within(path: Path, seam: tuple[Point, Point], beside: Path) -> Path:
    """Return the part of a closed path on the same side of the line `seam` as the path `beside`.

    Sutherland and Hodgman, Reentrant Polygon Clipping, Communications of the ACM 17 (1974).
    """
    start, way = np.array(seam[0]), np.subtract(seam[1], seam[0])
    normal = np.array([-way[1], way[0]]) / math.hypot(*way)
    side = math.copysign(1.0, float(np.sum((np.array(beside.points) - start) @ normal)))
    points = np.array(path.points)
    off = side * ((points - start) @ normal)
    kept: list[Point] = []
    for index, (here, there) in enumerate(zip(off, np.roll(off, -1), strict=True)):
        point, after = points[index], points[(index + 1) % len(points)]
        if here >= 0.0:
            kept.append(_point(point))
        if here * there < 0.0:
            kept.append(_point(point + (after - point) * (here / (here - there))))
    return replace(path, points=tuple(kept))


def held(path: Path, edge: Path, reach_mm: float) -> Path:
    """Return a closed path, its corners moved to at most `reach_mm` to the right of an open path.

    The open path `edge` is extended straight beyond its ends.
    """
    starts, ends = np.array(edge.points[:-1]), np.array(edge.points[1:])
    step = ends - starts
    length = np.linalg.norm(step, axis=1)
    points = np.array(path.points)
    offset = points[:, None, :] - starts[None, :, :]
    share = np.sum(offset * step, axis=2) / length**2
    inside = np.clip(share, 0.0, 1.0)
    gap = np.linalg.norm(offset - inside[:, :, None] * step, axis=2)
    nearest = np.argmin(gap, axis=1)
    right = (np.column_stack((step[:, 1], -step[:, 0])) / length[:, None])[nearest]
    beyond = np.sum(offset[np.arange(len(points)), nearest] * right, axis=1) - reach_mm
    kept = points - np.maximum(beyond, 0.0)[:, None] * right
    return replace(path, points=tuple(_point(point) for point in kept))


def bled(shapes: Iterable[Shape], outline: Sequence[Path], bleed_mm: float) -> Iterator[Shape]:
    """Yield the shapes; filled ones that reach the outline are extended `bleed_mm` beyond it."""
    for shape in shapes:
        if isinstance(shape, Path) and shape.closed and shape.fill is not None:
            points = np.array(shape.points)
            over = points
            for path in outline:
                over = over + bleed_mm * _outward(over, path)
            yield replace(shape, points=tuple(_run_on(points, over)))
        else:
            yield shape


def _run_on(points: Floats, over: Floats) -> Iterator[Point]:
    """Yield the corners at their bled places; a moved corner beside an unmoved one is also kept.

    So nothing changes inside the cut: the slope of an arrowhead, for example.
    """
    gone = np.any(points != over, axis=1)
    stayed_before, stays_after = ~np.roll(gone, 1), ~np.roll(gone, -1)
    for index in range(len(points)):
        if gone[index] and stayed_before[index]:
            yield _point(points[index])
        yield _point(over[index])
        if gone[index] and stays_after[index]:
            yield _point(points[index])


def area_mm2(path: Path) -> float:
    """Return the area of a polygon, by the shoelace formula."""
    return abs(_signed_area(np.array(path.points)))


def _signed_area(points: Floats) -> float:
    x, y = points.T
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2.0


def _edges(path: Path) -> tuple[Floats, Floats, Floats]:
    """Return corners counter-clockwise and the outward unit normals before and after each."""
    points = np.array(path.points)
    if _signed_area(points) < 0.0:
        points = points[::-1]
    points = points[np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1) > 1e-9]
    along = np.roll(points, -1, axis=0) - points
    along /= np.linalg.norm(along, axis=1)[:, None]
    after = np.column_stack((along[:, 1], -along[:, 0]))
    return points, np.roll(after, 1, axis=0), after


def _turns(before: Floats, after: Floats) -> Floats:
    """Return by how much the outline turns left at each corner, radians."""
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turns: Floats = np.arctan2(cross, np.sum(before * after, axis=1))
    return turns


def _mitre(before: Floats, after: Floats) -> Floats:
    """Return the corner's shift that moves both its edges outward by 1 mm."""
    step: Floats = (before + after) / (1.0 + np.sum(before * after, axis=-1, keepdims=True))
    return step


def _corners(path: Path) -> list[tuple[Floats, tuple[Floats, Floats]]]:
    """Return the sharp convex corners, each with the directions of its two edges beyond it."""
    points, before, after = _edges(path)
    return [
        (points[i], (_along(before[i]), -_along(after[i])))
        for i in np.flatnonzero(_turns(before, after) > _SHARP)
    ]


def _along(normal: Floats) -> Floats:
    return np.array([-normal[1], normal[0]])


def _bounding_box(path: Path) -> Path:
    low, high = np.min(path.points, axis=0), np.max(path.points, axis=0)
    return box(*_point(low), *_point(high - low))


def _outward(points: Floats, path: Path) -> Floats:
    """Return the outward direction at each point on an outline or its bounding box, else zero."""
    corners, before, after = _edges(path)
    step = np.roll(corners, -1, axis=0) - corners
    offset = points[:, None, :] - corners[None, :, :]
    share = np.clip(np.sum(offset * step, axis=2) / np.sum(step * step, axis=1), 0.0, 1.0)
    gap = np.linalg.norm(offset - share[:, :, None] * step, axis=2)
    edge = np.argmin(gap, axis=1)
    rows = np.arange(len(points))
    at, nearest = share[rows, edge], gap[rows, edge]
    corner = np.where(at > 0.5, (edge + 1) % len(corners), edge)
    apart = np.linalg.norm(points - corners[corner], axis=1)
    on_corner = (apart < _ON_EDGE_MM)[:, None]
    way = np.where(on_corner, _mitre(before[corner], after[corner]), after[edge])
    low, high = corners.min(axis=0), corners.max(axis=0)
    beside = (points >= high - _ON_EDGE_MM) * 1.0 - (points <= low + _ON_EDGE_MM) * 1.0
    out: Floats = np.where((nearest < _ON_EDGE_MM)[:, None], way, beside)
    return out


def _point(values: Iterable[float]) -> Point:
    x, y = values
    return float(x), float(y)
