"""The array type of the drawing, and its way back into points."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from focuschart.layout.page import Point

Floats = NDArray[np.float64]


def points_of(found: Floats) -> tuple[Point, ...]:
    """Return points, shape (n, 2), as a path has them."""
    return tuple((float(x), float(y)) for x, y in found)
