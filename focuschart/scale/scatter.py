"""How much noisier a bench is than assumed, estimated from its few readings.

All noise is taken as the assumed one times an unknown factor k. The likelihood of k is that of the
readings, with the constants' priors included and constants without a prior integrated out
(restricted maximum likelihood; Patterson and Thompson, Biometrika 58 (1971), eq. 9); the prior of k
is highest at 1. Errors then have a mixture of Gaussians over k, with wider tails than one Gaussian,
like Student's distribution. It is replaced by the Gaussian with the same 95 % point.
"""

from __future__ import annotations

import numpy as np

from focuschart.optics.arrays import Floats
from focuschart.scale.problem import RingProblem

_FACTORS = np.geomspace(0.4, 30.0, 140)
_FALL, _RISE = 3.0, 2.0
"""The prior of ln k falls as k⁻³ above 1 and rises as k² below: judgement, tested on benches one to
three times as noisy as assumed."""
_PRIOR = np.where(_FACTORS > 1.0, _FACTORS**-_FALL, _FACTORS**_RISE)
_POINT_95 = 1.959964


def noise_factor(problem: RingProblem, parameters: Floats) -> float:
    """Return the factor by which to multiply the noise variance of readings, at least 1."""
    free, known, misfit = _whitened(problem, parameters)
    if len(misfit) <= free.shape[1]:
        return 1.0
    apart = np.linalg.qr(free, mode="complete")[0][:, free.shape[1] :]
    directions, lengths, _ = np.linalg.svd(apart.T @ known, full_matrices=False)
    left = apart.T @ misfit
    along = np.square(directions.T @ left)
    across = max(float(left @ left - np.sum(along)), 0.0)
    factors = np.square(_FACTORS)[:, np.newaxis]
    spread = factors + np.square(lengths)
    rest = len(left) - len(lengths)
    surprise = (
        np.sum(np.log(spread) + along / spread, axis=1)
        + rest * np.log(factors[:, 0])
        + across / factors[:, 0]
    )
    # The grid is even in ln k.
    weights = np.exp(-0.5 * (surprise - np.min(surprise))) * _PRIOR
    factor = np.square(_point_95(weights / np.sum(weights)) / _POINT_95)
    # Readings better than assumed may be repeats without refocusing, so k² < 1 is not believed.
    return max(1.0, float(factor))


def _whitened(problem: RingProblem, parameters: Floats) -> tuple[Floats, Floats, Floats]:
    """Return derivatives and misfit of the arcs, in units of the assumed noise.

    The derivatives are by the parameters without a prior (n × free) and by those with one, in units
    of its width (n × known); the misfit (n) is that with the latter at their prior centres.
    """
    whitened = problem.noise_parts(parameters).whitening()
    arcs, gradient = problem.model(parameters)
    centres, sigmas, chosen = problem.priors(parameters)
    unknown = [i for i in range(len(parameters)) if i not in chosen]
    misfit = problem.readings.arc_mm - arcs + gradient[:, chosen] @ (parameters[chosen] - centres)
    return (
        whitened(gradient[:, unknown]), whitened(gradient[:, chosen] * sigmas), whitened(misfit),
    )  # fmt: skip


def _point_95(weights: Floats) -> float:
    """Return the 97.5 % point of a mixture of Gaussians with the widths `_FACTORS`."""
    from scipy.special import ndtr

    low, high = _POINT_95 * float(_FACTORS[0]), _POINT_95 * float(_FACTORS[-1])
    for _ in range(40):
        middle = 0.5 * (low + high)
        inside = float(weights @ ndtr(middle / _FACTORS))
        low, high = (low, middle) if inside > 0.975 else (middle, high)
    return low
