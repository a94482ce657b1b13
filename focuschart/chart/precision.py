"""How sure separation and squeeze are: errors of A, δ and S carried to each mark, first order."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from focuschart.optics.arrays import Floats
from focuschart.rig.assemble import Rig
from focuschart.rig.laws import attachment_law
from focuschart.scale.laws import AttachmentConstants
from focuschart.scale.problem import Squeezes


class KnownGlass(NamedTuple):
    """What is known of an attachment: A, δ, S, their covariance (3 × 3).

    `squeezes` are those measured that this holds to, None where the squeeze was only entered.
    """

    constants: Floats
    covariance: Floats
    squeezes: Squeezes | None


def separation_sigma_mm(rig: Rig, glass: KnownGlass) -> Floats:
    """Return the standard error of d = A(S − 1) − h at each mark (n)."""
    named = AttachmentConstants(*glass.constants)
    travel = attachment_law(rig.attachment).travel(
        rig.glass_position_mm(rig.distances_mm), glass.constants
    )
    afocal = AttachmentConstants(
        front_focal_mm=named.squeeze - 1.0, offset_mm=0.0, squeeze=named.front_focal_mm
    )
    gradient = np.array(afocal) - travel.by_constant
    return _along(gradient, glass.covariance)


def squeeze_sigma(rig: Rig, glass: KnownGlass) -> Floats:
    """Return the standard error of S(D) at each mark (n).

    Where no squeeze was measured, the factor for post is the entered S times the fitted S(D)/S. So
    S counts with its prior's error, which passes through whole, not with the less that readings
    seem to leave of it.
    """
    law, position = attachment_law(rig.attachment), rig.glass_position_mm(rig.distances_mm)
    _, gradient = law.squeeze_at(position, glass.constants)
    if glass.squeezes is not None:
        return _along(gradient, glass.covariance)
    named = AttachmentConstants(*glass.constants)
    prior = AttachmentConstants(*(each.sigma for each in law.priors))
    fitted = AttachmentConstants(*np.sqrt(np.diag(glass.covariance)))
    entered = AttachmentConstants(1.0, 1.0, squeeze=prior.squeeze / fitted.squeeze)
    sigma = _along(gradient, glass.covariance * np.outer(entered, entered))
    return np.asarray(rig.attachment.squeeze / named.squeeze * sigma)


def _along(gradient: Floats, covariance: Floats) -> Floats:
    return np.asarray(np.sqrt(np.einsum("ni,ij,nj->n", gradient, covariance, gradient)))
