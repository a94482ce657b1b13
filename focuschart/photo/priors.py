"""What is thought of camera, barrel and strips before a photograph is looked at."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from focuschart.photo.camera import AT, NAMES
from focuschart.photo.strips import Floats

USUAL_GAP_MM = 0.7
_HARDLY_SEEN = 0.95
"""Share of a prior's variance that is left where a photograph says nothing to speak of."""
Sigmas = Mapping[str, float]

TRUE: Sigmas = {
    "log_focal": 0.15, "distortion": 0.015, "middle_x": 0.03, "middle_y": 0.03, "step": 2.0,
    "gap": 1.0, "tilt": 0.03, "lean": 2e-4, "roll": 2e-4, "skew": 0.02, "log_scale": 0.002,
    "ink": 0.03,
}  # fmt: skip
"""One standard deviation of each parameter, for an index that lies true on its barrel.

Judgement, no source: what a phone says of its focal length and how far its lens moves to steady the
picture, how strips are taped by hand, how printers keep to a size.
"""
LEANING: Sigmas = {**TRUE, "lean": 0.05, "roll": 0.01}
"""The same for an index on a barrel that tapers by 3°, or one side of which is 0.15 mm up."""

SCALES = np.array([
    {"turn_x": 1e-3, "turn_y": 1e-3, "turn_z": 1e-3, "shift_x": 0.1, "shift_y": 0.1, "shift_z": 1.0,
     "log_focal": 0.01, "distortion": 0.003, "middle_x": 0.01, "middle_y": 0.01, "arc": 0.02,
     "step": 0.2, "gap": 0.05, "tilt": 0.002, "lean": 0.01, "roll": 0.005, "skew": 0.001,
     "log_scale": 5e-4, "ink": 0.005}[name] for name in NAMES
])  # fmt: skip
"""By about how much each parameter moves in a step of the fit."""


def prior_misfit(parameters: Floats, sigmas: Sigmas) -> Floats:
    """Return how far parameters are from what was thought of them, in its sigmas."""
    centres = np.array([USUAL_GAP_MM if name == "gap" else 0.0 for name in sigmas])
    own = parameters[[AT[name] for name in sigmas]]
    return np.asarray((own - centres) / np.array(list(sigmas.values())))


def without_prior(
    parameters: Floats, covariance: Floats, name: str, *, sigma: float
) -> tuple[float, float]:
    """Return a parameter as if nothing had been thought of it before, and its standard error.

    To first order; 0 ± ∞ where the photograph says hardly anything of it.
    """
    variance = covariance[AT[name], AT[name]]
    share = variance / sigma**2
    if share > _HARDLY_SEEN:
        return 0.0, np.inf
    return float(parameters[AT[name]] / (1.0 - share)), float(np.sqrt(variance / (1.0 - share)))
