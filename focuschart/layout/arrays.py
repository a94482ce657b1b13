"""The array type of the layout, and its conversion into points."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from focuschart.layout.page import Point

Floats = NDArray[np.float64]


def points_of(points: Floats) -> tuple[Point, ...]:
    """Return an array of shape (n, 2) as the tuple of points that a `Path` takes."""
    return tuple((float(x), float(y)) for x, y in points)
