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
    """Parameters (p), their covariance (p × p) at unit noise, and which misfits were used (e).

    `slopes` is the Jacobian of those that were used (u × p).
    """

    parameters: Floats
    covariance: Floats
    used: NDArray[np.bool_]
    slopes: Floats


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
    return Solved(parameters, np.asarray(covariance), used, found.jac[: int(used.sum())])


def jackknife(solved: Solved, misfit: Floats, groups: NDArray[np.intp], *, of: int) -> float:
    """Return the standard error of parameter number `of` by leaving out each group in turn.

    To first order, from the misfits at the solution (e) in their sigmas and the group of each. It
    holds too where what lies off does so by group, as noise alone would not (Efron and Tibshirani,
    An Introduction to the Bootstrap, 1993, chapter 11).
    """
    moved = []
    own, off = groups[solved.used], misfit[solved.used]
    for group in np.unique(own):
        slopes = solved.slopes[own == group]
        gain = solved.covariance @ slopes.T
        without = np.linalg.solve(np.eye(len(slopes)) - slopes @ gain, off[own == group])
        moved.append(gain[of] @ without)
    return float(np.sqrt((len(moved) - 1) / len(moved) * np.sum(np.square(moved))))
