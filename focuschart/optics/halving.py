"""Where a condition ends, by halving, for whole arrays at once."""

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

    It must hold from `start` up to one place and nowhere beyond; `start` itself is not asked.
    Shapes broadcast, with that of the condition. 60 `halvings` are all that a double can tell
    apart; each one fewer doubles how far off the place may be.
    """
    outside = np.asarray(end, float)
    whole = holds(outside)
    shape = np.broadcast_shapes(np.shape(start), np.shape(outside), np.shape(whole))
    inside, outside = np.broadcast_to(start, shape), np.broadcast_to(outside, shape)
    last = outside
    for _ in range(halvings):
        middle = 0.5 * (inside + outside)
        held = holds(middle)
        inside, outside = np.where(held, middle, inside), np.where(held, outside, middle)
    return np.asarray(np.where(whole, last, inside))
