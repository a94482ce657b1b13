"""The taking lens: a thin lens with a hiatus, in conjugates and reciprocals.

Source of the conjugate equation: W. J. Smith, Modern Optical Engineering, 4th ed. (2008), ch. 2.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from focuschart.errors import OpticsError
from focuschart.optics.arrays import Floats, Numbers

PLATE_SHIFT = 0.36
"""1 − 1/n of a glass plate with n = 1.5625: the share of its thickness by which a subject seems
nearer. Both groups act as plane plates in the vertical meridian."""


def magnification(
    distance_mm: Numbers, *, focal_length_mm: Numbers, hiatus_mm: Numbers = 0.0
) -> Floats:
    """Return m = v/u ≥ 0 of a taking lens sharp on a subject at `distance_mm` (0 at infinity).

    u + v + i = D with 1/u + 1/v = 1/f, the root with u ≥ v, in a form without cancellation.
    Shapes broadcast. Raises OpticsError for a subject nearer than four focal lengths and the
    hiatus, where no sharp image exists.
    """
    span = np.asarray(distance_mm, float) - hiatus_mm
    ratio = 4.0 * np.asarray(focal_length_mm, float) / span
    if ratio.max(initial=0.0) > 1.0 or span.min(initial=np.inf) <= 0.0:
        raise OpticsError("the subject is nearer than four focal lengths: no sharp image exists")
    divisor = np.sqrt(1.0 - ratio)
    divisor += 1.0
    divisor *= divisor
    return np.asarray(ratio / divisor)


def effective_hiatus_mm(
    nearest_mm: Numbers, *, focal_length_mm: Numbers, magnification: Numbers
) -> Floats:
    """Return the hiatus i with which a thin lens images its nearest subject at a magnification m.

    By the conjugate equation u + v = f(2 + m + 1/m), and i is the rest of the distance. For a lens
    that does not move as a whole it replaces the movements of its groups: focal length and depth of
    field are then right at infinity and at the nearest distance. Shapes broadcast; m > 0.
    """
    m = np.asarray(magnification, float)
    return np.asarray(nearest_mm - focal_length_mm * (2.0 + m + 1.0 / m))


@dataclass(frozen=True, slots=True)
class ThinLens:
    """A taking lens by its focal length f and its hiatus i (mm), focused by moving as a whole.

    Positions are subject distances less the plate shift; shapes broadcast.
    """

    focal_length_mm: float
    hiatus_mm: float = 0.0

    @property
    def least_position_mm(self) -> float:
        """The nearest position with a sharp image, 4f + i, where the magnification is 1."""
        return 4.0 * self.focal_length_mm + self.hiatus_mm

    def magnification(self, position_mm: Numbers) -> Floats:
        """Return m = v/u; raises OpticsError nearer than `least_position_mm`."""
        return magnification(
            position_mm, focal_length_mm=self.focal_length_mm, hiatus_mm=self.hiatus_mm
        )

    def extension_mm(self, position_mm: Numbers) -> Floats:
        """Return x = v − f, how far the lens stands forward of its infinity position.

        Raises OpticsError likewise.
        """
        return np.asarray(self.focal_length_mm * self.magnification(position_mm))

    def image_mm(self, position_mm: Numbers) -> Floats:
        """Return v, from the rear principal plane to the sensor; raises OpticsError likewise."""
        return np.asarray(self.focal_length_mm + self.extension_mm(position_mm))


def extension_slope(m: Numbers) -> Floats:
    """Return dx/dD for a lens at magnification m = v/u: −m²/(1 − m²), 0 at infinity."""
    squared = np.square(np.asarray(m, float))
    return np.asarray(-squared / (1.0 - squared))


def reciprocal_mm(vergence_per_mm: Numbers) -> Floats:
    """Return 1/k; a k of zero or below means beyond infinity and gives infinity."""
    vergence = np.maximum(np.asarray(vergence_per_mm, float), 0.0)
    vergence += 0.0  # turns the negative zero into the positive one
    with np.errstate(divide="ignore"):
        return np.asarray(1.0 / vergence)
