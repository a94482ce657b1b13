"""The pair of rings: how far off both together are, with what their readings share.

The attachment is focused on the lens as it stands, so it inherits the lens's focusing error, and
both rings are read at one taped distance. In the horizontal meridian, where e_a/tol_a − S·e_t/tol_V
counts, much of that cancels.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from focuschart.bench.readings import Row
from focuschart.bench.scales import MeasuredScale
from focuschart.optics.arrays import Floats
from focuschart.scale.fit import HALF_WIDTH_95, RingScale, influence
from focuschart.scale.noise import AttachmentNoise, TakingNoise


@dataclass(frozen=True, slots=True)
class Shared:
    """The covariance of both rings' parameters (p × q), and the sign that makes it one of nearness.

    Arcs that grow nearer on one ring and farther on the other are opposite errors of one kind.
    """

    covariance: Floats
    sign: float

    def of_marks(self, by_taking: Floats, by_attachment: Floats) -> Floats:
        """Return the covariance of both arcs at n marks (mm²) from their gradients."""
        found = np.einsum("np,pq,nq->n", by_taking, self.covariance, by_attachment)
        return np.asarray(self.sign * found)


def shared(taking: MeasuredScale, attachment: MeasuredScale) -> Shared:
    """Return what the fits of a lens and of an attachment read on it have in common.

    Each fit is linear in its readings' errors, A = C·Jᵀ·Σ⁻¹, so that the covariance is A Σ' Aᵀ with
    Σ' that of the arcs read on one ring with those on the other.
    """
    one, two = taking.scale, attachment.scale
    left, right = (influence(fit.problem, fit.parameters, fit.bare) for fit in (one, two))
    widened = (one.tension * two.tension) ** 0.5
    sign = float(np.sign(one.arc_per_travel * two.arc_per_travel))
    return Shared(widened * left @ _shared_noise(taking, attachment) @ right.T, sign)


def _shared_noise(taking: MeasuredScale, attachment: MeasuredScale) -> Floats:
    """Return the covariance (n × m, mm²) of the arcs read on the lens and on the attachment.

    Figures of one reading share the lens's focusing error, which the attachment inherits; figures
    of one set-up share the tape's.
    """
    one, two = taking.scale, attachment.scale
    noise, other = one.problem.noise, two.problem.noise
    assert isinstance(noise, TakingNoise)
    assert isinstance(other, AttachmentNoise)
    eye = one.arc_per_travel * noise.focusing_travel(one.constants)
    inherited = two.arc_per_travel * other.inherited_travel(two.constants)
    same_row = np.equal.outer([r.index for r in taking.rows], [r.index for r in attachment.rows])
    places = [_place(row) for row in attachment.rows]
    same_place = np.array([[_place(row) == place for place in places] for row in taking.rows])
    tape = np.outer(_tape(one), _tape(two)) * same_place
    return np.asarray(np.outer(eye, inherited) * same_row + tape)


def _place(row: Row) -> tuple[str, float]:
    return row.rig.rig_id, row.reading.distance


def _tape(scale: RingScale) -> Floats:
    """Return the signed arc of one standard deviation of the tape at n readings."""
    readings = scale.problem.readings
    travel = scale.law.travel(readings.position_mm, scale.constants)
    per_distance = scale.arc_per_travel * travel.by_position * readings.position_slope
    return np.asarray(per_distance * readings.distance_sigma_mm)


def worse_95(taking: Floats, attachment: Floats, common: Floats, *, squeeze: float) -> Floats:
    """Return the worse meridian's 95 % error from both rings' variances and their covariance.

    All in squared tolerances, the taking ring's being the one divided by the squeeze.
    """
    horizontal = np.maximum(taking + attachment - 2.0 * common, 0.0)
    return np.asarray(HALF_WIDTH_95 * np.sqrt(np.maximum(horizontal, taking / squeeze**2)))
