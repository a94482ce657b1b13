"""How sure separation and squeeze are: errors of A, δ and S carried to each mark, first order."""

from __future__ import annotations

import numpy as np

from focuschart.optics.arrays import Floats
from focuschart.rig.assemble import Rig
from focuschart.rig.laws import attachment_law
from focuschart.scale.laws import AttachmentConstants

_STEP = 1e-5
"""Of a constant, or of the glass: for derivatives, whose errors are then some 1e-10 of them."""


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
    return np.asarray(np.sqrt(np.einsum("ni,ij,nj->n", gradient, covariance, gradient)))


def squeeze_sigma(rig: Rig, constants: Floats, covariance: Floats) -> Floats:
    """Return the standard error of S(D) at each mark (n), from the covariance of A, δ and S.

    The factor for post is the entered S times the fitted S(D)/S. So S counts with its prior's
    error, which passes through whole, not with the less that readings seem to leave of it.
    """
    law, position = attachment_law(rig.attachment), rig.glass_position_mm(rig.distances_mm)
    named = AttachmentConstants(*constants)
    prior = AttachmentConstants(*(each.sigma for each in law.priors))
    fitted = AttachmentConstants(*np.sqrt(np.diag(covariance)))
    entered = AttachmentConstants(1.0, 1.0, squeeze=prior.squeeze / fitted.squeeze)
    covariance = covariance * np.outer(entered, entered)
    scales = named._replace(offset_mm=rig.attachment.front_glass_mm)
    steps = np.diag(_STEP * np.abs(scales))
    up, down = (
        np.stack([law.matched(position, constants + sign * step).squeeze for step in steps])
        for sign in (1.0, -1.0)
    )
    gradient = ((up - down) / (2.0 * np.diag(steps)[:, np.newaxis])).T
    sigma = np.sqrt(np.einsum("ni,ij,nj->n", gradient, covariance, gradient))
    return np.asarray(rig.attachment.squeeze / named.squeeze * sigma)
