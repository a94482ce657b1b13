"""Least squares with priors, by which what lies far off is left out."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from focuschart.photo.strips import Floats

OUTLIER_SIGMAS = 5.0
_ROUNDS = 3
_MAD_TO_SIGMA = 1.4826


class Solved(NamedTuple):
    """Parameters (p), their covariance (p × p) at unit noise, and which misfits were used (e)."""

    parameters: Floats
    covariance: Floats
    used: NDArray[np.bool_]


def without_outliers(
    misfit: Callable[[Floats], Floats], priors: Callable[[Floats], Floats], first: Floats, *,
    scales: Floats,
) -> Solved:  # fmt: skip
    """Return the parameters that fit, from `first` on, misfits (e) far off left out.

    `misfit` and `priors` give, in their sigmas, how far off measurements and parameters are;
    `scales` (p) is about how far each parameter moves.
    """
    from scipy.optimize import least_squares

    parameters, used = first, np.ones(len(misfit(first)), bool)
    for _ in range(_ROUNDS):

        def residual(at: Floats, used: NDArray[np.bool_] = used) -> Floats:
            return np.concatenate((misfit(at)[used], priors(at)))

        found = least_squares(residual, parameters, x_scale=scales, method="trf", max_nfev=60)
        parameters, off = found.x, misfit(found.x)
        spread = max(1.0, _MAD_TO_SIGMA * float(np.median(np.abs(off[used]))))
        again = np.abs(off) < OUTLIER_SIGMAS * spread
        if np.array_equal(again, used):
            break
        used = again
    covariance = np.linalg.pinv(found.jac.T @ found.jac)
    return Solved(parameters, np.asarray(covariance), used)
