"""Shapes of a page by their keys, and the boxes they fill."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from focuschart.layout.page import Path, Shape
from focuschart.layout.sheet.block import Block
from focuschart.optics.arrays import Floats
from tests.sheets import FACE

_SHARE = {"start": 0.0, "middle": 0.5, "end": 1.0}


def keyed(shapes: Iterable[Shape]) -> dict[str, Shape]:
    """Return the shapes that have a key; none may be there twice."""
    found = [shape for shape in shapes if shape.key]
    by = {shape.key: shape for shape in found}
    assert len(by) == len(found)
    return by


def by_key(block: Block) -> dict[str, Shape]:
    """Return all shapes of a block, each of which must have a key of its own."""
    found = keyed(block.shapes)
    assert len(found) == len(block.shapes)
    return found


def corners(shape: Shape) -> Floats:
    """Return the corners of a path, or of the box of an upright text, shape (n, 2)."""
    if isinstance(shape, Path):
        return np.array(shape.points)
    width = FACE.width_mm(shape.text, cap_mm=shape.cap_mm)
    left = shape.x - _SHARE[shape.anchor] * width
    # A quarter of the capitals below the baseline, for descenders.
    low, high = shape.y - 0.25 * shape.cap_mm, shape.y + shape.cap_mm
    return np.array([[left, low], [left + width, high]])


def apart(one: Floats, two: Floats) -> bool:
    """Return whether two boxes have no point inside both."""
    low = np.maximum(one.min(axis=0), two.min(axis=0))
    return bool(np.any(low >= np.minimum(one.max(axis=0), two.max(axis=0)) - 1e-9))
