"""The noise of a bench: one standard deviation of each error in reading and focusing a ring.

The errors of ruler, tape and eye (a share of the tolerance) and the shift between lenses are
judgement, stated only here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from focuschart.optics import tolerance
from focuschart.optics.arrays import Floats, Numbers
from focuschart.optics.attachment import Match
from focuschart.optics.depth_of_field import Aperture
from focuschart.scale.laws import AttachmentLaw, TakingLaw

TAPE_SIGMA_MM = 2.0
TAPE_SHARE = 0.001
LENS_SHIFT_SHARE = 0.42
"""Spherical aberration shifts an attachment's scale by 0.3 to 0.9 tolerance between two lenses of
different entrance pupil; the shift of one lens from the mean is then 0.6/√2 tolerance."""


def tape_sigma_mm(distance_mm: Numbers) -> Floats:
    """Return the standard deviation of a taped distance: 2 mm or 0.1 % if more; 0 at infinity."""
    distance = np.asarray(distance_mm, float)
    return np.where(np.isinf(distance), 0.0, np.maximum(TAPE_SIGMA_MM, TAPE_SHARE * distance))


def scatter_range(freedom: int) -> tuple[float, float]:
    """Return the factors from a measured standard deviation to the ends of its 95 % interval.

    From the distribution of the sample variance of a Gaussian (NIST/SEMATECH e-Handbook of
    Statistical Methods, 7.2.3.1).
    """
    # χ²/2 has a gamma distribution; scipy.stats would take a second to import.
    from scipy.special import gammaincinv

    low, high = np.sqrt(freedom / (2.0 * gammaincinv(freedom / 2.0, (0.975, 0.025))))
    return float(low), float(high)


@dataclass(frozen=True, slots=True)
class ReadingErrors:
    """How well a ring is read, one standard deviation (judgement, no source).

    `ruler_mm` is that of a figure read off the ruler, `eye_share` that of best focus as found by
    eye, a share of the ring's own tolerance, `taping_mm` that of taping a strip or an index.
    """

    ruler_mm: float = 0.3
    eye_share: float = 0.15
    taping_mm: float = 0.2


class Noise(Protocol):
    """Focusing errors in mm of travel, given a law's constants φ."""

    @property
    def errors(self) -> ReadingErrors:
        """How well the ring is read."""

    def own_tolerance_travel(self, constants: Floats) -> Floats:
        """Return the ring's tolerance in its own meridian at each of n readings' stops."""

    def focusing_travel(self, constants: Floats) -> Floats:
        """Return one standard deviation of focusing for each of n readings."""

    def pool_travel(self, constants: Floats) -> Floats:
        """Return one standard deviation of the shift for each taking lens of an attachment."""


@dataclass(frozen=True, slots=True)
class TakingNoise:
    """The noise of a taking lens, focused in the vertical meridian: a share of its tolerance."""

    law: TakingLaw
    position_mm: Floats
    aperture: Aperture
    errors: ReadingErrors = ReadingErrors()

    def own_tolerance_travel(self, constants: Floats) -> Floats:
        """Return the vertical meridian's tolerance."""
        return self.law.tolerance_travel(self.aperture, self.position_mm, constants)

    def focusing_travel(self, constants: Floats) -> Floats:
        """Return the eye's share of the ring's own tolerance."""
        return self.errors.eye_share * self.own_tolerance_travel(constants)

    def pool_travel(self, constants: Floats) -> Floats:
        """Return an empty array: a taking lens has no shift between lenses."""
        del constants
        return np.empty(0)


@dataclass(frozen=True, slots=True)
class AttachmentNoise:
    """The noise of an attachment, focused through the taking lens, whose focusing error adds to it.

    `aperture`, `lens_to_rear_mm` and `front_moves` have an entry per reading, `pool_aperture` one
    per taking lens, at infinity.
    """

    law: AttachmentLaw
    position_mm: Floats
    aperture: Aperture
    lens_to_rear_mm: Floats
    front_moves: Floats
    pool_aperture: Aperture
    errors: ReadingErrors = ReadingErrors()

    def focusing_travel(self, constants: Floats) -> Floats:
        """Return one standard deviation: the eye's own, and the error inherited from the lens."""
        own = self.errors.eye_share * self.own_tolerance_travel(constants)
        return np.hypot(own, self.inherited_travel(constants))

    def inherited_travel(self, constants: Floats) -> Floats:
        """Return the signed travel that one standard deviation of the lens's focusing causes."""
        carried = tolerance.inherited_travel(
            self.law.matched(self.position_mm, constants),
            image_mm=self.aperture.image_mm,
            lens_to_rear_mm=self.lens_to_rear_mm,
            front_moves=self.front_moves,
        )
        lens = self.errors.eye_share * tolerance.taking_lens_travel_mm(self.aperture)
        return np.asarray(carried * lens)

    def own_tolerance_travel(self, constants: Floats) -> Floats:
        """Return the horizontal meridian's tolerance."""
        return self._own(self.law.matched(self.position_mm, constants))

    def _own(self, matched: Match) -> Floats:
        return tolerance.attachment_travel_mm(
            self.aperture, matched, squeeze=self.law.squeeze, lens_to_rear_mm=self.lens_to_rear_mm
        )

    def pool_travel(self, constants: Floats) -> Floats:
        """Return one standard deviation of the scale's shift for each taking lens, as travel."""
        matched = self.law.matched(np.inf, constants)
        own = tolerance.attachment_travel_mm(
            self.pool_aperture, matched, squeeze=self.law.squeeze, lens_to_rear_mm=0.0
        )
        return LENS_SHIFT_SHARE * own
