"""The timing of a rack: a smooth move from rest to rest, and how late or early a hand may be.

Times and ways are shares of the move, from 0 at its start to 1 at its end.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from focuschart.optics.arrays import Floats, Numbers
from focuschart.optics.halving import last_where

_TIMES = 401


def smooth_share(time: Numbers) -> Floats:
    """Return the share of the way done at a time, 10τ³ − 15τ⁴ + 6τ⁵, any shape.

    The move of least jerk, as hands make it: T. Flash and N. Hogan, The Coordination of Arm
    Movements, Journal of Neuroscience 5 (1985), p. 1688 (from memory). At rest outside 0 to 1.
    """
    t = np.clip(np.asarray(time, float), 0.0, 1.0)
    return np.asarray(t * t * t * (10.0 - 15.0 * t + 6.0 * t * t))


def time_of_share(share: Numbers) -> Floats:
    """Return the time at which a share of the way is done, the inverse of `smooth_share`."""
    way = np.asarray(share, float)
    return last_where(lambda time: np.asarray(smooth_share(time) <= way), 0.0, np.ones_like(way))


def longest_lag(arc_mm: Floats, *, tolerance_mm: Floats) -> Floats:
    """Return how late or early a ring may be (m) in a smooth move, as a share of its duration.

    `arc_mm` (k) are its due places at even shares of the other ring's way, `tolerance_mm` (m × k)
    its tolerances there, which it must keep during the whole move. The result is infinite where
    even a ring that stays at one end keeps them.
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
