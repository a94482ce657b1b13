"""Where a mark's uncertainty comes from: its variance divided among the sources of error.

The error of the fitted parameters is C·(JᵀΣ⁻¹e − P·o), with e the errors of the arcs read and o
those of the prior centres, both independent. So the variance of a mark is a sum of one term per
source (linear propagation; Bevington and Robinson, Data Reduction and Error Analysis, 3rd ed.
(2003), ch. 3).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from focuschart.optics.arrays import Floats, Numbers
from focuschart.scale.fit import RingScale, influence

SOURCES = ("ruler", "eye", "tape", "lead", "squeeze", "geometry", "other lens", "offsets")
"""Reading the ruler; focusing by eye; the taped distance; circumference and lead; the squeeze as
entered; unknown lengths and powers; the shift of an attachment's scale between lenses; tapings and
the ring's play."""
_PRIOR_SOURCE = {"arc_per_travel": "lead", "squeeze": "squeeze"}


def error_budget(scale: RingScale, position_mm: Numbers, *, pool: int = 0) -> Mapping[str, Floats]:
    """Return the variance (mm²) of the arc at n positions by source; the sum is the whole."""
    problem, parameters = scale.problem, scale.parameters
    _, gradient = scale.modelled(position_mm, pool=pool)
    parts = problem.noise_parts(parameters)
    weights = gradient @ influence(problem, parameters, scale.assumed_covariance)
    budget = {source: np.zeros(np.shape(position_mm)) for source in SOURCES}
    shares = {
        "ruler": np.square(weights) @ parts.ruler,
        "eye": np.square(weights) @ parts.focusing,
        "tape": np.einsum("...i,ij,...j->...", weights, parts.tape_covariance, weights),
    }
    for source, share in shares.items():
        budget[source] += scale.noise_factor * share
    _, sigmas, chosen = problem.priors(parameters)
    by_prior = np.square((gradient @ scale.assumed_covariance)[..., chosen] / sigmas)
    for index, source in enumerate(_prior_sources(scale, len(chosen))):
        budget[source] += by_prior[..., index]
    return budget


def _prior_sources(scale: RingScale, count: int) -> list[str]:
    """Return the source of error that each prior stands for, in the order of the priors."""
    slope = scale.problem.slope_prior
    known = ([slope] if slope else []) + list(scale.law.priors)
    named = [_PRIOR_SOURCE.get(prior.name, "geometry") for prior in known]
    pools = scale.problem.readings.pool_columns.shape[1]
    return named + ["other lens"] * pools + ["offsets"] * (count - len(known) - pools)
