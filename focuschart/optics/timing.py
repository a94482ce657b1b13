"""A move in time: smooth from rest to rest, and how late or early a hand may be.

All as shares of the move: 0 where and when it starts, 1 where and when it ends.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from focuschart.optics.arrays import Floats, Numbers
from focuschart.optics.halving import last_where

_TIMES = 401


def smooth_share(time: Numbers) -> Floats:
    """Return how much of the way a smooth move has gone, 10τ³ − 15τ⁴ + 6τ⁵, any shape.

    The move of least jerk, as hands make it: T. Flash and N. Hogan, The Coordination of Arm
    Movements, Journal of Neuroscience 5 (1985), p. 1688 (from memory). At rest outside 0 to 1.
    """
    t = np.clip(np.asarray(time, float), 0.0, 1.0)
    return np.asarray(t * t * t * (10.0 - 15.0 * t + 6.0 * t * t))


def time_of_share(share: Numbers) -> Floats:
    """Return when a smooth move has gone a share of its way: the inverse of `smooth_share`."""
    way = np.asarray(share, float)
    return last_where(lambda time: np.asarray(smooth_share(time) <= way), 0.0, np.ones_like(way))


def longest_lag(arc_mm: Floats, *, tolerance_mm: Floats) -> Floats:
    """Return how late or early a ring may be (m) in a smooth move, as a share of its duration.

    `arc_mm` (k) are its places at even shares of the other ring's way and `tolerance_mm` (m × k)
    what it may be off there: all along the move it must stay within that of where it is due.
    Infinite where it may as well stay at either end.
    """
    even = np.linspace(0.0, 1.0, len(arc_mm))
    times = np.linspace(0.0, 1.0, _TIMES)
    share = smooth_share(times)
    due = np.interp(share, even, arc_mm)
    allowed = np.stack([np.interp(share, even, row) for row in tolerance_mm])

    def holds(lag: Floats) -> NDArray[np.bool_]:
        off = [
            np.abs(np.interp(smooth_share(times + sign * lag[:, np.newaxis]), even, arc_mm) - due)
            for sign in (-1.0, 1.0)
        ]
        return np.asarray(np.all(np.maximum(*off) <= allowed, axis=1))

    whole = np.ones(len(allowed))
    return np.where(holds(whole), np.inf, last_where(holds, 0.0, whole))
