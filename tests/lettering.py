"""Where the ink of a text lies, whatever way it is turned or mirrored, and what it touches."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from focuschart.layout.page import Path, Shape, Text
from tests.sheets import FACE

Quad = NDArray[np.float64]

_SHARE = {"start": 0.0, "middle": 0.5, "end": 1.0}


def ink_quad(text: Text) -> Quad:
    """Return the four corners (4 × 2) of the box round a text's own glyphs."""
    points = FACE.outline(text.text, cap_mm=text.cap_mm).points
    (left, low), (right, high) = points.min(axis=0), points.max(axis=0)
    back = _SHARE[text.anchor] * FACE.width_mm(text.text, cap_mm=text.cap_mm)
    box = np.array([(left, low), (right, low), (right, high), (left, high)]) - (back, 0.0)
    if text.mirrored:
        box[:, 0] *= -1.0
    cos, sin = math.cos(text.rotation), math.sin(text.rotation)
    turned: Quad = box @ np.array([(cos, sin), (-sin, cos)]) + (text.x, text.y)
    return turned


def between_mm(one: Quad, other: Quad) -> float:
    """Return how far apart two convex shapes are along their best axis; negative if they meet."""
    edges = np.concatenate([np.roll(quad, -1, axis=0) - quad for quad in (one, other)])
    edges = edges[np.hypot(*edges.T) > 1e-12]
    normals = np.column_stack((-edges[:, 1], edges[:, 0])) / np.hypot(*edges.T)[:, np.newaxis]
    normals = np.concatenate((normals, edges / np.hypot(*edges.T)[:, np.newaxis]))
    a, b = one @ normals.T, other @ normals.T
    gaps = np.maximum(b.min(axis=0) - a.max(axis=0), a.min(axis=0) - b.max(axis=0))
    return float(gaps.max())


def texts(shapes: Iterable[Shape]) -> list[Text]:
    return [shape for shape in shapes if isinstance(shape, Text)]


def closest_words_mm(shapes: Iterable[Shape]) -> float:
    """Return how far apart the two closest texts are; of parts of one text those of one word."""
    words = texts(shapes)
    keys = np.array([text.key.split(".")[0] for text in words])
    other = (keys[:, np.newaxis] != keys) | (keys == "")
    quads = [ink_quad(text) for text in words]
    return _closest_mm(quads, quads, np.triu(other, 1))


def closest_line_mm(shapes: Iterable[Shape], *keys: str) -> float:
    """Return how far the closest of some straight lines stays off all words."""
    drawn = list(shapes)
    lines = [
        np.array(ends)
        for path in drawn
        if isinstance(path, Path) and path.key.startswith(keys)
        for ends in zip(path.points, path.points[1:], strict=False)
    ]
    quads = [ink_quad(text) for text in texts(drawn)]
    return _closest_mm(quads, lines, np.ones((len(quads), len(lines)), bool))


def _closest_mm(ones: Sequence[Quad], others: Sequence[Quad], wanted: NDArray[np.bool_]) -> float:
    """Return how far apart the closest two of some pairs are, the pairs far apart left out.

    The axes looked along go square to each other, so that along one of them two centres are at
    least 1/√2 of their distance apart.
    """
    if not wanted.any():
        return math.inf
    (centres, radii), (places, reaches) = _discs(ones), _discs(others)
    away = np.linalg.norm(centres[:, np.newaxis] - places, axis=2) / math.sqrt(2.0)
    least = np.where(wanted, away - radii[:, np.newaxis] - reaches, np.inf)
    closest = math.inf
    for number in np.argsort(least, axis=None):
        one, other = divmod(int(number), len(others))
        if least[one, other] >= closest:
            break
        closest = min(closest, between_mm(ones[one], others[other]))
    return closest


def _discs(quads: Sequence[Quad]) -> tuple[Quad, Quad]:
    """Return the middles of shapes and how far each reaches from its own."""
    middles = np.array([quad.mean(axis=0) for quad in quads])
    reaches = [
        np.linalg.norm(quad - middle, axis=1).max()
        for quad, middle in zip(quads, middles, strict=True)
    ]
    return middles, np.array(reaches)
