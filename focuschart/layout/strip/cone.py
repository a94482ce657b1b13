"""The strip of a tapered ring: laid out as a rectangle, then developed into an annular sector.

A cone's surface can be developed, that is, unrolled flat without stretch: lines along the cone
become radii from the apex, lines round it become arcs about the apex.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from focuschart.errors import PageError
from focuschart.layout.arrays import Floats, points_of
from focuschart.layout.page import ANCHOR_SHARE, Face, Path, Shape, Span, Text
from focuschart.layout.sheet.beside import mirrored_notes
from focuschart.layout.sheet.block import Block, Everywhere, Room, split
from focuschart.layout.strip.band import RingBand

CHORD_MM = 0.005
"""Largest distance between an arc and the chords that approximate it."""
_STRAIGHT_MM = 0.12
"""How far a text's baseline may leave its arc before it is set in parts; judgement, no source."""
LARGEST_PIECE_MM = (250.0, 150.0)
"""Width and height that fit every paper: a strip is split so that its sectors stay within it."""


@dataclass(frozen=True, slots=True)
class Cone:
    """Circumference at the strip's lower and upper edge, the strip's width, and once round in x."""

    lower_mm: float
    upper_mm: float
    width_mm: float
    length_mm: float

    @property
    def angle(self) -> float:
        """Angle of the sector for once round, radians; positive if the apex is above."""
        return (self.lower_mm - self.upper_mm) / self.width_mm

    @property
    def radius_mm(self) -> float:
        """From the apex to the lower edge, negative if the apex is below."""
        return self.lower_mm / self.angle

    def turned(self, x_mm: ArrayLike, middle_mm: float) -> Floats:
        """Return the angle of the sector between x = `middle_mm` and x, radians."""
        return (np.asarray(x_mm, float) - middle_mm) * (self.angle / self.length_mm)

    def rolled(self, points: ArrayLike, middle_mm: float) -> Floats:
        """Return flat points (n × 2) developed; (middle, 0) is mapped to the origin."""
        x, y = np.asarray(points, float).T
        turned, radius = self.turned(x, middle_mm), self.radius_mm - y
        return np.column_stack((radius * np.sin(turned), self.radius_mm - radius * np.cos(turned)))


@dataclass(frozen=True, slots=True)
class WidenedFace:
    """A face with wider texts: where the flat strip is narrower, a text needs more of it."""

    face: Face
    factor: float

    def width_mm(self, text: str, *, cap_mm: float) -> float:
        """Return the length along the flat strip."""
        return self.factor * self.face.width_mm(text, cap_mm=cap_mm)

    def missing(self, text: str) -> str:
        """Return the characters that the face cannot show."""
        return self.face.missing(text)


def cone_of(band: RingBand) -> Cone | None:
    """Return the cone of a band, None for a cylinder."""
    if band.far_mm is None or band.far_mm == band.length_mm:
        return None
    lower, upper = band.length_mm, band.far_mm
    if band.index_side == "subject":
        lower, upper = upper, lower
    return Cone(lower, upper, band.width_mm, band.length_mm)


def narrowing(band: RingBand) -> float:
    """Return the length of the index edge over that of the shortest edge, 1 or more."""
    return max(1.0, band.length_mm / band.far_mm) if band.far_mm else 1.0


def developed(block: Block, band: RingBand, *, face: Face) -> list[Block]:
    """Return a flat strip as cut from paper: unchanged for a cylinder, else as sectors.

    `face` is the typeface of its texts. A sector too large for a sheet is split into pieces with
    butt joins. Raises PageError where a sector would overlap itself.
    """
    cone = cone_of(band)
    if cone is None:
        return [block]
    if abs(cone.angle) * band.total_mm / band.length_mm >= 2.0 * math.pi:
        raise PageError("its strip would overlap itself when rolled out: it tapers too steeply")
    pieces = split(block, _longest(cone, block.width_mm))
    return [_sector(piece, cone, narrowing(band), face) for piece in pieces]


def _longest(cone: Cone, total_mm: float) -> float:
    """Return the length of the longest flat piece whose sector fits every paper."""
    radii = sorted((abs(cone.radius_mm), abs(cone.radius_mm - cone.width_mm)))
    lengths = np.linspace(total_mm, 0.0, 1 + math.ceil(total_mm))
    half = np.minimum(np.abs(cone.turned(lengths, 0.0)) / 2.0, math.pi)
    across = 2.0 * radii[1] * np.sin(np.minimum(half, math.pi / 2.0))
    cosine = np.cos(half)
    high = radii[1] - np.where(cosine > 0.0, radii[0], radii[1]) * cosine
    fits = (across <= LARGEST_PIECE_MM[0]) & (high <= LARGEST_PIECE_MM[1])
    return float(lengths[np.argmax(fits)])


def _sector(block: Block, cone: Cone, widened: float, face: Face) -> Block:
    """Return a flat piece developed about its middle, as a block."""
    middle = block.width_mm / 2.0
    outline = [_bent(path, cone, middle) for path in block.outline]
    corners = np.array([point for path in outline for point in path.points])
    (left, low), (right, high) = corners.min(axis=0), corners.max(axis=0)
    shapes = [
        bent
        for shape in block.shapes
        for bent in (
            _turned(shape, cone, middle, WidenedFace(face, widened))
            if isinstance(shape, Text)
            else [_bent(shape, cone, middle)]
        )
    ]
    ends = (points_of(cone.rolled(seam, middle) - (left, low)) for seam in block.seams)
    seams = tuple((start, end) for start, end in ends)
    limits = tuple(
        limit._replace(edge=_bent(limit.edge, cone, middle).moved(float(-left), float(-low)))
        for limit in block.limits
    )
    return Block(
        float(right - left),
        float(high - low),
        tuple(shape.moved(float(-left), float(-low)) for shape in shapes),
        tuple(path.moved(float(-left), float(-low)) for path in outline),
        keep=((0.0, float(right - left)),),
        seams=seams,
        limits=limits,
    )


def _bent(path: Path, cone: Cone, middle: float) -> Path:
    """Return a path developed, its lines divided into chords where they bend."""
    corners = (*path.points, path.points[0]) if path.closed else path.points
    flat = np.concatenate([_steps(np.array(ends), cone) for ends in pairwise(corners)])
    if not path.closed:
        flat = np.concatenate((flat, [corners[-1]]))
    return replace(path, points=points_of(cone.rolled(flat, middle)))


def _steps(ends: Floats, cone: Cone) -> Floats:
    """Return points that divide a line, `ends` (2 × 2), into chords; the last end is left out.

    A curve departs from a chord of parameter h by at most h²·|curve″|/8.
    """
    turn = abs(float(np.diff(cone.turned(ends[:, 0], 0.0))[0]))
    radius = float(np.max(np.abs(cone.radius_mm - ends[:, 1])))
    rise = abs(float(ends[1, 1] - ends[0, 1]))
    bend = radius * turn**2 + 2.0 * rise * turn
    count = max(1, math.ceil(math.sqrt(bend / (8.0 * CHORD_MM))))
    return np.asarray(np.linspace(ends[0], ends[1], count, endpoint=False))


def _turned(text: Text, cone: Cone, middle: float, face: WidenedFace) -> Iterator[Text]:
    """Yield a text set along its arc, in words or letters where it is too long for the bend."""
    for part in _parts(text, cone, face):
        ahead = (math.cos(part.rotation), math.sin(part.rotation))
        half = part.cap_mm / 2.0
        centre = (part.x - half * ahead[1], part.y + half * ahead[0])
        ((x, y),) = cone.rolled([centre], middle)
        rotation = part.rotation + float(cone.turned(centre[0], middle))
        foot = (float(x) + half * math.sin(rotation), float(y) - half * math.cos(rotation))
        yield replace(part, x=foot[0], y=foot[1], rotation=rotation)


def _parts(text: Text, cone: Cone, face: WidenedFace) -> Iterator[Text]:
    """Yield the parts of a text on the flat strip, each anchored at its middle."""
    along = abs(math.cos(text.rotation)) > 0.5
    radius = min(abs(cone.radius_mm), abs(cone.radius_mm - cone.width_mm))
    longest = math.sqrt(8.0 * _STRAIGHT_MM * radius) if along else math.inf
    width = face.width_mm(text.text, cap_mm=text.cap_mm)
    place = -ANCHOR_SHARE[text.anchor] * width
    for number, part in enumerate(_broken(text, longest, face)):
        taken = face.width_mm(part, cap_mm=text.cap_mm)
        off = place + taken / 2.0
        key = text.key and (f"{text.key}.{number}" if number else text.key)
        x, y = text.x + off * math.cos(text.rotation), text.y + off * math.sin(text.rotation)
        if part.strip():
            yield replace(text, text=part, x=x, y=y, anchor="middle", key=key)
        place += taken


def _broken(text: Text, longest_mm: float, face: WidenedFace) -> Iterable[str]:
    """Return a text whole, or split into words and spaces, or a long word into letters."""
    if face.width_mm(text.text, cap_mm=text.cap_mm) <= longest_mm:
        return [text.text]
    words = [part for word in text.text.split(" ") for part in (" ", word)][1:]
    return [
        part
        for word in words
        for part in ([word] if face.width_mm(word, cap_mm=text.cap_mm) <= longest_mm else word)
    ]


def mirrored(block: Block) -> Block:
    """Return a block mirrored left to right."""
    width = block.width_mm
    return replace(
        block,
        shapes=tuple(_mirrored(shape, width) for shape in block.shapes),
        outline=tuple(_mirrored_path(path, width) for path in block.outline),
        keep=_mirrored_spans(block.keep, width),
        seams=tuple(((width - x, y), (width - u, v)) for (x, y), (u, v) in block.seams),
        limits=tuple(limit._replace(edge=_backward(limit.edge, width)) for limit in block.limits),
        notes=mirrored_notes(block.notes, width),
        everywhere=block.everywhere and _mirrored_everywhere(block.everywhere, width),
    )


def _mirrored_spans(spans: Iterable[Span], width_mm: float) -> tuple[Span, ...]:
    return tuple((width_mm - high, width_mm - low) for low, high in spans)


def _mirrored_everywhere(repeated: Everywhere, width_mm: float) -> Everywhere:
    rooms = (
        Room(width_mm - room.high, width_mm - room.low, room.baseline) for room in repeated.rooms
    )
    return replace(
        repeated,
        text=replace(repeated.text, mirrored=not repeated.text.mirrored),
        taken=_mirrored_spans(repeated.taken, width_mm),
        rooms=tuple(rooms),
    )


def _backward(edge: Path, width_mm: float) -> Path:
    """Return an open path mirrored and reversed, so that the block stays on its left."""
    path = _mirrored_path(edge, width_mm)
    return replace(path, points=path.points[::-1])


def _mirrored(shape: Shape, width_mm: float) -> Shape:
    if isinstance(shape, Text):
        return replace(
            shape, x=width_mm - shape.x, rotation=-shape.rotation, mirrored=not shape.mirrored
        )
    return _mirrored_path(shape, width_mm)


def _mirrored_path(path: Path, width_mm: float) -> Path:
    return replace(path, points=tuple((width_mm - x, y) for x, y in path.points))
