"""A flat strip wrapped round a cylinder, drawn as its reader sees it; hidden parts are left out.

The view is orthographic. The reader looks down on the index from the camera's side of it, so that
the axis runs away from the reader, toward the subject. Lengths around the barrel count from the
index, clockwise as seen from behind the camera; lengths along it count toward the subject.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from focuschart.layout.arrays import Floats, points_of
from focuschart.layout.page import ANCHOR_SHARE, Face, Path, Point, Shape, Text
from focuschart.layout.strip.band import Reader

ELEVATION = math.radians(65.0)
"""Angle of the reader's eye above the barrel's axis; judgement, no source."""

_HALF = math.pi / 2.0
_STEP = math.radians(3.0)
_CURVE_STEPS = np.array([0.5, 1.0])
"""Two chords a curve: within 0.03 mm of capitals 6 mm high, and half the bytes of four."""

# Seen from behind, +x (round the barrel) is right and the subject up. Seen from the camera's left
# side, +x is up and the subject left; from its right side, the opposite.
_TURN: dict[Reader, tuple[Point, Point]] = {
    "behind": ((1.0, 0.0), (0.0, 1.0)),
    "left": ((0.0, 1.0), (-1.0, 0.0)),
    "right": ((0.0, -1.0), (1.0, 0.0)),
}


class Contours(Protocol):
    """Contours filled by the nonzero rule: commands M, L, Q, Z and their points, shape (n, 2)."""

    @property
    def commands(self) -> str:
        """One letter a step: move, line, quadratic curve (control, end), close."""

    @property
    def points(self) -> Floats:
        """The points the letters take, mm."""


class OutlineFace(Face, Protocol):
    """A typeface that also has outlines, so that words can be bent round a barrel."""

    def outline(self, text: str, *, cap_mm: float) -> Contours:
        """Return the contours of `text` in mm, y up, from its origin on the baseline."""


@dataclass(frozen=True, slots=True)
class Cylinder:
    """A barrel seen by its reader, the index in the middle; the picture's origin on the axis."""

    radius_mm: float
    reader: Reader = "behind"

    @property
    def quarter_mm(self) -> float:
        """A quarter of the circumference: from the index to the edge of the visible side."""
        return self.radius_mm * _HALF

    def picture(self, around_mm: Floats, along_mm: Floats) -> Floats:
        """Return where points of the surface lie in the picture, shape (n, 2).

        Hidden points are moved to the silhouette.
        """
        angle = np.clip(np.asarray(around_mm) / self.radius_mm, -_HALF, _HALF)
        across = self.radius_mm * np.sin(angle)
        up = self.radius_mm * np.cos(angle) * math.cos(ELEVATION)
        up = up + np.asarray(along_mm) * math.sin(ELEVATION)
        points: Floats = np.column_stack((across, up)) @ np.array(_TURN[self.reader])
        return points

    def turned(self, across_mm: float, up_mm: float) -> Point:
        """Return a point of the picture seen from behind as this reader's picture has it."""
        x, y = np.array((across_mm, up_mm)) @ np.array(_TURN[self.reader])
        return float(x), float(y)

    def drawn(self, path: Path) -> list[Path]:
        """Return the visible parts of a path; an open line may give several.

        A path's x counts around, its y along the barrel.
        """
        around, along = _dense(path, self.quarter_mm, _STEP * self.radius_mm)
        seen = np.abs(around) <= self.quarter_mm
        whole = [slice(None)] if seen.any() else []
        return [
            replace(path, points=points_of(self.picture(around[part], along[part])))
            for part in (whole if path.closed else _runs(seen))
        ]

    def lettered(self, text: Text, *, face: OutlineFace) -> list[Path]:
        """Return a text as one filled path, bent round the barrel; empty if blank or hidden."""
        flat = _lettering(text, face)
        if len(flat) < 3 or np.abs(flat[:, 0]).min() >= self.quarter_mm:
            return []
        points = points_of(self.picture(flat[:, 0], flat[:, 1]))
        return [Path(points, True, None, fill=text.colour, key=text.key)]


def wrapped_round(
    shapes: Iterable[Shape],
    cylinder: Cylinder,
    *,
    index_x_mm: float,
    length_mm: float,
    face: OutlineFace,
) -> Iterator[Path]:
    """Yield the visible part of a strip, `length_mm` once round, with `index_x_mm` at the index.

    What lies on the tab goes underneath and is left out. The second and later pieces of a shape
    have a number after their key.
    """
    for shape in shapes:
        low, high = _reach(shape, face)
        if isinstance(shape, Path) and low > length_mm:
            continue
        shifts = (turn * length_mm - index_x_mm for turn in (-1, 0, 1))
        seen = [
            x for x in shifts if low + x < cylinder.quarter_mm and high + x > -cylinder.quarter_mm
        ]
        pieces = [piece for x in seen for piece in _piece(shape.moved(x, 0.0), cylinder, face)]
        for number, piece in enumerate(pieces):
            yield replace(piece, key=f"{piece.key}+{number}") if number and piece.key else piece


def _reach(shape: Shape, face: Face) -> tuple[float, float]:
    """Return from where to where a shape reaches along the strip; a text, at most."""
    if isinstance(shape, Path):
        along = [x for x, _ in shape.points]
        return min(along), max(along)
    most = face.width_mm(shape.text, cap_mm=shape.cap_mm) + shape.cap_mm
    return shape.x - most, shape.x + most


def _piece(shape: Shape, cylinder: Cylinder, face: OutlineFace) -> list[Path]:
    if isinstance(shape, Text):
        return cylinder.lettered(shape, face=face)
    return cylinder.drawn(shape)


def _dense(path: Path, limit: float, step: float) -> tuple[Floats, Floats]:
    """Return a path's coordinates with points added so that it can bend and be cut at ± limit."""
    corners = np.array(path.points + (path.points[:1] if path.closed else ()))
    x, places = corners[:, 0], np.arange(len(corners))
    count = max(1, math.ceil(float(np.abs(np.diff(x)).max()) / step))
    added = [np.linspace(0.0, places[-1], places[-1] * count + 1)]
    for edge in (-limit, limit):
        (crossed,) = np.nonzero((x[:-1] - edge) * (x[1:] - edge) < 0.0)
        added.append(crossed + (edge - x[crossed]) / (x[crossed + 1] - x[crossed]))
    at = np.unique(np.concatenate(added))
    around = np.interp(at, places, x)
    near = np.isclose(np.abs(around), limit, rtol=0.0, atol=1e-9)
    return np.where(near, np.sign(around) * limit, around), np.interp(at, places, corners[:, 1])


def _runs(seen: NDArray[np.bool_]) -> Iterator[slice]:
    """Yield the index ranges of two or more consecutive visible points."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], seen, [False])).astype(int)))
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        if end - start >= 2:
            yield slice(int(start), int(end))


def _lettering(text: Text, face: OutlineFace) -> Floats:
    """Return all contours of a text as one closed polygon, shape (n, 2), in its place.

    The line from one contour to the next is passed both ways, so it encloses no area.
    """
    drawn = face.outline(text.text, cap_mm=text.cap_mm)
    contours = list(_contours(drawn))
    if not contours:
        return np.empty((0, 2))
    flat = np.concatenate([*contours, *(contour[:1] for contour in contours[-2::-1])])
    flat = flat - (ANCHOR_SHARE[text.anchor] * face.width_mm(text.text, cap_mm=text.cap_mm), 0.0)
    cos, sin = math.cos(text.rotation), math.sin(text.rotation)
    placed: Floats = flat @ np.array([[cos, sin], [-sin, cos]]) + (text.x, text.y)
    return placed


def _contours(drawn: Contours) -> Iterator[Floats]:
    """Yield each contour as a polygon that ends where it starts, curves as chords."""
    taken: list[Floats] = []
    place = 0
    for command in drawn.commands:
        if command == "Z":
            yield np.vstack((*taken, taken[0][:1]))
            taken = []
        elif command == "Q":
            taken.append(_chords(taken[-1][-1], *drawn.points[place : place + 2]))
            place += 2
        else:
            taken.append(drawn.points[place : place + 1])
            place += 1


def _chords(start: Floats, control: Floats, end: Floats) -> Floats:
    """Return points on a quadratic Bézier curve after its start (de Casteljau)."""
    t = _CURVE_STEPS[:, None]
    chords: Floats = (1 - t) ** 2 * start + 2 * t * (1 - t) * control + t**2 * end
    return chords
