"""How sure separation and squeeze are: errors of A, δ and S carried to each mark, first order."""

from __future__ import annotations

import numpy as np

from focuschart.optics.arrays import Floats
from focuschart.rig.assemble import Rig
from focuschart.rig.laws import attachment_law
from focuschart.scale.laws import AttachmentConstants


def separation_sigma_mm(rig: Rig, constants: Floats, covariance: Floats) -> Floats:
    """Return the standard error of d = A(S − 1) − h at each mark (n).

    `covariance` is that of A, δ and S (3 × 3).
    """
    named = AttachmentConstants(*constants)
    travel = attachment_law(rig.attachment).travel(
        rig.glass_position_mm(rig.distances_mm), constants
    )
    afocal = AttachmentConstants(
        front_focal_mm=named.squeeze - 1.0, offset_mm=0.0, squeeze=named.front_focal_mm
    )
    gradient = np.array(afocal) - travel.by_constant
    return _along(gradient, covariance)


def squeeze_sigma(
    rig: Rig, constants: Floats, covariance: Floats, *, measured: bool = False
) -> Floats:
    """Return the standard error of S(D) at each mark (n), from the covariance of A, δ and S.

    Where no squeeze was measured, the factor for post is the entered S times the fitted S(D)/S. So
    S counts with its prior's error, which passes through whole, not with the less that readings
    seem to leave of it.
    """
    law, position = attachment_law(rig.attachment), rig.glass_position_mm(rig.distances_mm)
    _, gradient = law.squeeze_at(position, constants)
    if measured:
        return _along(gradient, covariance)
    named = AttachmentConstants(*constants)
    prior = AttachmentConstants(*(each.sigma for each in law.priors))
    fitted = AttachmentConstants(*np.sqrt(np.diag(covariance)))
    entered = AttachmentConstants(1.0, 1.0, squeeze=prior.squeeze / fitted.squeeze)
    sigma = _along(gradient, covariance * np.outer(entered, entered))
    return np.asarray(rig.attachment.squeeze / named.squeeze * sigma)


def _along(gradient: Floats, covariance: Floats) -> Floats:
    return np.asarray(np.sqrt(np.einsum("ni,ij,nj->n", gradient, covariance, gradient)))
