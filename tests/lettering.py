"""Where the ink of a text lies, whatever way it is turned or mirrored, and what it touches."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import combinations

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
    quads = [(text.key.split(".")[0], ink_quad(text)) for text in texts(shapes)]
    pairs = (between_mm(a, b) for (k, a), (j, b) in combinations(quads, 2) if k != j or not k)
    return min(pairs, default=math.inf)


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
    return min((between_mm(quad, ends) for quad in quads for ends in lines), default=math.inf)
