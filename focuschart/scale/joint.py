"""How large the largest of several correlated errors is."""

from __future__ import annotations

import numpy as np

from focuschart.optics.arrays import Floats

_DIRECTIONS = 1024
_SEED = 20
_PRECISION = 1e-4


def largest_95(covariance: Floats, *, probability: float = 0.95) -> float:
    """Return q such that all of k Gaussian errors lie within ±q with a probability.

    The errors are r·A·u, with A·Aᵀ the covariance (k × k), u a direction and r² of chi-squared with
    k degrees of freedom. So the probability is the mean of that of r over directions, which are
    drawn with a fixed seed: the result is the same every time, and within 1 % of the exact one.
    """
    from scipy.optimize import brentq
    from scipy.special import gammainc

    count = len(covariance)
    values, vectors = np.linalg.eigh(covariance)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    largest_sigma = float(np.sqrt(np.max(np.diag(covariance))))
    if largest_sigma == 0.0:
        return 0.0
    drawn = np.random.default_rng(_SEED).normal(size=(_DIRECTIONS, count))
    drawn /= np.linalg.norm(drawn, axis=1, keepdims=True)
    reach = np.max(np.abs(drawn @ root.T), axis=1)

    def missing(q: float) -> float:
        return float(np.mean(gammainc(count / 2.0, np.square(q / reach) / 2.0))) - probability

    return float(brentq(missing, largest_sigma, 8.0 * largest_sigma, rtol=_PRECISION))
