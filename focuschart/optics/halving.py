"""Bisection for arrays: the last place at which a condition holds."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from focuschart.optics.arrays import Floats, Numbers


def last_where(
    holds: Callable[[Floats], NDArray[np.bool_]], start: Numbers, end: Numbers, *,
    halvings: int = 60,
) -> Floats:  # fmt: skip
    """Return the last place from `start` toward `end` where a condition holds, `end` if it does.

    It must hold from `start` up to one place and nowhere beyond; `start` itself is not tested.
    Shapes broadcast, with that of the condition. 60 `halvings` reach the precision of a double;
    each one less doubles the possible error.
    """
    outside = np.asarray(end, float)
    all_the_way = holds(outside)
    shape = np.broadcast_shapes(np.shape(start), np.shape(outside), np.shape(all_the_way))
    inside, outside = np.broadcast_to(start, shape), np.broadcast_to(outside, shape)
    last = outside
    for _ in range(halvings):
        middle = 0.5 * (inside + outside)
        held = holds(middle)
        inside, outside = np.where(held, middle, inside), np.where(held, outside, middle)
    return np.asarray(np.where(all_the_way, last, inside))
