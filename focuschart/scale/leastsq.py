"""Least squares with an exact Jacobian, Gaussian priors and correlated readings."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from focuschart.errors import FitError
from focuschart.optics.arrays import Floats

Function = Callable[[Floats], Floats]

MOST_STEPS, PRECISION = 1000, 1e-14
_CONVERGED = (1, 2, 3, 4)
"""MINPACK's status numbers for success; 5 and above are failures."""


@dataclass(frozen=True, slots=True)
class Solution:
    """Parameters (p), their covariance (p × p), Σ of squared residuals and their number."""

    parameters: Floats
    covariance: Floats
    sum_of_squares: float
    residuals: int
    converged: bool


def solve(
    residual: Function,
    jacobian: Function,
    start: Floats,
    *,
    most_steps: int = MOST_STEPS,
    precision: float = PRECISION,
) -> Solution:
    """Return the parameters that minimise the sum of squared residuals, which have unit variance.

    It stops when parameters and sum change by less than the share `precision`, or unconverged after
    `most_steps` evaluations.

    Levenberg-Marquardt as in MINPACK (More, Garbow, Hillstrom 1980) through scipy.
    Raises FitError when the residuals do not determine every parameter.
    """
    # scipy's least_squares runs the same code, but takes half as long again around it.
    from scipy.optimize import leastsq

    if len(residual(start)) < len(start):
        raise FitError("there are fewer readings than constants to find: read more distances")
    parameters, _, details, _, status = leastsq(
        residual, start, Dfun=jacobian, full_output=True,
        xtol=precision, ftol=precision, gtol=1e-14, maxfev=most_steps,
    )  # fmt: skip
    residuals = details["fvec"]
    return Solution(
        parameters=parameters,
        covariance=covariance(jacobian(parameters)),
        sum_of_squares=float(residuals @ residuals),
        residuals=len(residuals),
        converged=status in _CONVERGED,
    )


def covariance(jacobian: Floats) -> Floats:
    """Return (JᵀJ)⁻¹ by a scaled QR decomposition; raises FitError when J has dependent columns."""
    scale = np.sqrt(np.sum(np.square(jacobian), axis=0))
    if not np.all(np.isfinite(scale)) or np.any(scale == 0.0):
        raise FitError("the readings say nothing about one of the constants")
    triangle = np.linalg.qr(jacobian / scale, mode="r")
    if np.min(np.abs(np.diag(triangle))) < 1e-9:
        raise FitError("the readings cannot tell the constants apart: spread the distances")
    inverse = np.linalg.inv(triangle) / scale[:, np.newaxis]
    return np.asarray(inverse @ inverse.T)
