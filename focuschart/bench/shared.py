"""The error of the pair of rings, given the errors that their readings share.

The attachment is focused through the lens, so it inherits the lens's focusing error; and both rings
are read at one taped distance. In the horizontal meridian, where the error is e_a/tol_a −
S·e_t/tol_V, much of that cancels.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from focuschart.bench.scales import MeasuredScale
from focuschart.optics.arrays import Floats
from focuschart.scale.fit import HALF_WIDTH_95, RingScale, influence
from focuschart.scale.noise import AttachmentNoise, TakingNoise


@dataclass(frozen=True, slots=True)
class Shared:
    """The covariance of both rings' parameters (p × q), and the sign for that of their arcs.

    `sign` is −1 if figures rise toward near on one ring and toward far on the other.
    """

    covariance: Floats
    sign: float

    def of_marks(self, by_taking: Floats, by_attachment: Floats) -> Floats:
        """Return the covariance of both arcs at n marks (mm²) from their gradients."""
        covariance = np.einsum("np,pq,nq->n", by_taking, self.covariance, by_attachment)
        return np.asarray(self.sign * covariance)


def shared(taking: MeasuredScale, attachment: MeasuredScale) -> Shared:
    """Return the covariance of the fits of a lens and of an attachment read on it.

    The parameters of a fit are linear in its readings' errors, with A = C·Jᵀ·Σ⁻¹. So the covariance
    is A₁ Σ' A₂ᵀ, with Σ' that of the arcs read on one ring with those on the other.
    """
    lens, attached = taking.scale, attachment.scale
    left, right = (
        influence(fit.problem, fit.parameters, fit.assumed_covariance) for fit in (lens, attached)
    )
    widened = (lens.noise_factor * attached.noise_factor) ** 0.5
    sign = float(np.sign(lens.arc_per_travel * attached.arc_per_travel))
    return Shared(widened * left @ _shared_noise(taking, attachment) @ right.T, sign)


def _shared_noise(taking: MeasuredScale, attachment: MeasuredScale) -> Floats:
    """Return the covariance (n × m, mm²) of the arcs read on the lens and on the attachment.

    Figures of one reading share the lens's focusing error, which the attachment inherits; figures
    of one set-up share the tape's.
    """
    lens, attached = taking.scale, attachment.scale
    noise, other = lens.problem.noise, attached.problem.noise
    assert isinstance(noise, TakingNoise)
    assert isinstance(other, AttachmentNoise)
    focusing = lens.arc_per_travel * noise.focusing_travel(lens.constants)
    inherited = attached.arc_per_travel * other.inherited_travel(attached.constants)
    same_row = np.equal.outer([r.index for r in taking.rows], [r.index for r in attachment.rows])
    setups = [row.setup for row in attachment.rows]
    same_setup = np.array([[row.setup == setup for setup in setups] for row in taking.rows])
    tape = np.outer(_tape(lens), _tape(attached)) * same_setup
    return np.asarray(np.outer(focusing, inherited) * same_row + tape)


def _tape(scale: RingScale) -> Floats:
    """Return the arc (mm, signed) of one standard deviation of the taped distance (n)."""
    readings = scale.problem.readings
    travel = scale.problem.travel(scale.constants)
    per_distance = scale.arc_per_travel * travel.by_position * readings.position_slope
    return np.asarray(per_distance * readings.distance_sigma_mm)


def worse_95(taking: Floats, attachment: Floats, common: Floats, *, squeeze: float) -> Floats:
    """Return the worse meridian's 95 % error, in tolerances.

    `taking` and `attachment` are the rings' variances, `common` their covariance, in squared
    tolerances; the taking ring's tolerance is that divided by the squeeze.
    """
    horizontal = np.maximum(taking + attachment - 2.0 * common, 0.0)
    return np.asarray(HALF_WIDTH_95 * np.sqrt(np.maximum(horizontal, taking / squeeze**2)))
