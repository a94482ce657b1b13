"""Tags that OpenCV missed: looked for where the fit says that they must be."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from focuschart.layout.tag.dictionary import SIDE_MODULES, WHITE
from focuschart.photo.camera import ARC, View, facing, on_barrel, projected
from focuschart.photo.fit import LEAST_FACING
from focuschart.photo.recognise import Match
from focuschart.photo.strips import Floats, TaggedStrip
from focuschart.photo.tags import Seen

_LEAST_LIKENESS = 0.9
"""Correlation between a tag's modules and the light at them."""
_LEAST_CONTRAST = 0.04
_MISPLACED = 0.2
"""How far a tag may be from its place, in diagonals."""

_SEEN_SHARE = 0.45
"""How far round a ring from the line a tag may be seen, as share of the whole."""

_AT = (np.arange(SIDE_MODULES) - (SIDE_MODULES - 1) / 2.0) / SIDE_MODULES
_MODULES = np.stack(np.meshgrid(_AT, -_AT), axis=-1).reshape(-1, 2)


def with_more(light: NDArray[np.float32], match: Match, view: View, parameters: Floats) -> Match:
    """Return a match with all tags that are seen where its strip has them."""
    strip = match.strip
    on_ring = float(strip.on_ring)
    points = strip.middles[:, np.newaxis] + strip.sides[:, np.newaxis, np.newaxis] * _MODULES
    places = on_barrel(view, parameters, points, on_ring)
    normals = places * (1.0, 1.0, 0.0)
    normals /= np.linalg.norm(normals, axis=-1, keepdims=True)
    pixels = projected(view, parameters, places)
    inside = (pixels > 4.0) & (pixels < np.array([view.width, view.height]) - 5.0)
    turned = facing(parameters, places, normals).min(axis=1) > LEAST_FACING
    line = parameters[ARC] if strip.on_ring else 0.0
    once = np.abs(strip.middles[:, 0] - line) < _SEEN_SHARE * view.barrel.once_mm
    seen = np.flatnonzero(turned & once & inside.all(axis=(1, 2)))
    like = _likeness(light, pixels[seen], strip, seen) > _LEAST_LIKENESS
    found = seen[like]
    return Match(strip, np.full(len(found), -1), found)


def misplaced(seen: Seen, strip: TaggedStrip, view: View, parameters: Floats) -> int:
    """Return how many of the tags seen are not where the strip has them, or not on it.

    Those beyond the strip's seam are not counted: a joint need not be true for the rest to be.
    """
    places = on_barrel(view, parameters, strip.middles, float(strip.on_ring))
    pixels = projected(view, parameters, places)
    middles = seen.corners.mean(axis=1)
    size = np.linalg.norm(seen.corners[:, 0] - seen.corners[:, 2], axis=-1)
    off = np.linalg.norm(middles[:, np.newaxis] - pixels, axis=-1)
    off = np.where(seen.numbers[:, np.newaxis] == strip.numbers, off, np.inf)
    line = parameters[ARC] if strip.on_ring else 0.0
    beyond = np.abs(strip.middles[:, 0] - line) > _SEEN_SHARE * view.barrel.once_mm
    least = off.min(axis=1)
    there = np.isfinite(least) & beyond[off.argmin(axis=1)]
    return int(np.sum((least > _MISPLACED * size) & ~there))


def _likeness(
    light: NDArray[np.float32], pixels: Floats, strip: TaggedStrip, chosen: NDArray[np.intp]
) -> Floats:
    """Return the correlation of the light at each tag's modules with its own pattern (n)."""
    import cv2

    if not len(chosen):
        return np.empty(0)
    at = pixels.astype(np.float32)
    seen = cv2.remap(light, at[..., 0], at[..., 1], cv2.INTER_LINEAR).astype(float)
    squares = np.zeros((len(chosen), SIDE_MODULES, SIDE_MODULES))
    squares[:, 1:-1, 1:-1] = WHITE[strip.numbers[chosen]]
    meant = squares.reshape(len(chosen), -1)
    seen -= seen.mean(axis=1, keepdims=True)
    meant -= meant.mean(axis=1, keepdims=True)
    size = np.sqrt(np.sum(seen**2, axis=1) * np.sum(meant**2, axis=1))
    dull = np.sqrt(np.mean(seen**2, axis=1)) < _LEAST_CONTRAST / 2.0
    return np.where(dull, 0.0, np.sum(seen * meant, axis=1) / np.maximum(size, 1e-9))
