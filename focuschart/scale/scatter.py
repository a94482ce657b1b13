"""How much noisier a bench is than supposed, as its own readings tell, few as they are.

All noise is supposed times one unknown factor k. Its likelihood is that of the readings with the
priors of the constants in it and the constants without a prior taken out (restricted maximum
likelihood; Patterson and Thompson, Biometrika 58 (1971), eq. 9), its own prior is highest at 1.
What is stated from it is a mixture over k, wider in the tails than a Gaussian as Student's
distribution is, and stands for a Gaussian by its 95 % point.
"""

from __future__ import annotations

import numpy as np

from focuschart.optics.arrays import Floats
from focuschart.scale.problem import RingProblem

_FACTORS = np.geomspace(0.4, 30.0, 140)
_FALL, _RISE = 3.0, 2.0
"""The prior of ln k goes as k to the −3 above 1 and as k² below: judgement, held by benches one
to three times as noisy as supposed."""
_PRIOR = np.where(_FACTORS > 1.0, _FACTORS**-_FALL, _FACTORS**_RISE)
_POINT_95 = 1.959964


def noise_factor(problem: RingProblem, parameters: Floats) -> float:
    """Return by what the readings' noise variance is to be multiplied, 1 or more."""
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
    # Readings better than supposed may be repeats without refocusing, which prove nothing.
    return max(1.0, float(factor))


def _whitened(problem: RingProblem, parameters: Floats) -> tuple[Floats, Floats, Floats]:
    """Return, in units of the noise supposed, what the free and the known constants do to the arcs.

    n × free, and n × known in units of their priors' widths; and the misfit (n) with the known
    ones at their prior centres.
    """
    whitened = problem.noise_parts(parameters).whitening()
    arcs, gradient = problem.model(parameters)
    centres, sigmas, chosen = problem.priors(parameters)
    open_ones = [i for i in range(len(parameters)) if i not in chosen]
    misfit = problem.readings.arc_mm - arcs + gradient[:, chosen] @ (parameters[chosen] - centres)
    return (
        whitened(gradient[:, open_ones]), whitened(gradient[:, chosen] * sigmas), whitened(misfit),
    )  # fmt: skip


def _point_95(weights: Floats) -> float:
    """Return the 97.5 % point of a mixture of Gaussians of the factors' widths."""
    from scipy.special import ndtr

    low, high = _POINT_95 * float(_FACTORS[0]), _POINT_95 * float(_FACTORS[-1])
    for _ in range(40):
        middle = 0.5 * (low + high)
        inside = float(weights @ ndtr(middle / _FACTORS))
        low, high = (low, middle) if inside > 0.975 else (middle, high)
    return low
