"""Depth of field of the rig in both meridians, and of the frame, which needs both.

c is the circle of confusion on the finished frame: c on the sensor in the vertical meridian, c/S
in the horizontal one, which is widened S times. Limits are measured from the sensor.
Source of the form 1/u ± cN/(fv): W. J. Smith, Modern Optical Engineering, 4th ed. (2008), p. 187.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from focuschart.optics.arrays import Floats, Numbers
from focuschart.optics.thin_lens import reciprocal_mm

ONE_SIDED_95 = 1.6449
"""Standard deviations below which 95 % of a Gaussian lie."""
_LEAST = 1e-300
"""Used instead of zero where a quotient must stay finite."""


@dataclass(frozen=True, slots=True)
class Limits:
    """Near and far limit in mm from the sensor; far may be infinity."""

    near_mm: Floats
    far_mm: Floats


@dataclass(frozen=True, slots=True)
class Aperture:
    """What the taking lens's blur depends on: f, image distance v, f-number N, c, hiatus i (mm).

    Shapes broadcast.
    """

    focal_length_mm: Numbers
    image_mm: Numbers
    stop: Numbers
    circle_mm: Numbers
    hiatus_mm: Numbers = 0.0

    def subject_vergences(self, share: Numbers = 1.0) -> tuple[Floats, Floats]:
        """Return 1/u at the near and far limit for a blur of `share` circles of confusion."""
        focal = np.asarray(self.focal_length_mm, float)
        at_image = 1.0 / np.asarray(self.image_mm, float)
        focused = 1.0 / focal - at_image
        spread = share * np.asarray(self.circle_mm, float) * self.stop / focal * at_image
        return np.asarray(focused + spread), np.asarray(focused - spread)


def vertical_limits(aperture: Aperture, *, lens_datum_mm: Numbers) -> Limits:
    """Return the limits in the vertical meridian, where the attachment is a plane plate.

    `lens_datum_mm` is D − u, the sum of image distance, hiatus and plate shift.
    """
    near, far = aperture.subject_vergences()
    return Limits(reciprocal_mm(near) + lens_datum_mm, reciprocal_mm(far) + lens_datum_mm)


@dataclass(frozen=True, slots=True)
class Groups:
    """The attachment as set: A, F, d, and the rear group's distances from lens and sensor (mm)."""

    front_focal_mm: Numbers
    rear_focal_mm: Numbers
    separation_mm: Numbers
    lens_to_rear_mm: Numbers
    rear_datum_mm: Numbers


def horizontal_limits(aperture: Aperture, groups: Groups, *, squeeze: Numbers) -> Limits:
    """Return the limits in the horizontal meridian for rings as set, matched or not.

    `squeeze` is the nominal one, by which the frame is desqueezed.
    1/w = k/(1 − k·t), q = 1/(1/w + 1/F) − d, 1/s = 1/q − 1/A with k the vergence at the lens.
    """
    near, far = aperture.subject_vergences(1.0 / np.asarray(squeeze, float))
    return Limits(_through_groups(near, groups), _through_groups(far, groups))


def _through_groups(vergence: Floats, groups: Groups) -> Floats:
    """Return the distance from the sensor of a vergence at the lens, through both groups.

    With r = 1 − k·t and m = r + k·F, q = (F·r − d·m)/m and s = A·q/(A − q), all over one divisor.
    """
    front = np.asarray(groups.front_focal_mm, float)
    rear = np.asarray(groups.rear_focal_mm, float)
    # A plane at or behind the rear group: all is sharp up to the front glass.
    reach = np.maximum(1.0 - vergence * groups.lens_to_rear_mm, _LEAST)
    bent = reach + rear * vergence
    image = np.maximum(rear * reach - groups.separation_mm * bent, _LEAST)
    del reach  # to use less memory with a million distances
    subject = reciprocal_mm((bent - image / front) / image)
    return np.asarray(subject + groups.separation_mm + groups.rear_datum_mm)


def frame_limits(vertical: Limits, horizontal: Limits) -> Limits:
    """Return the zone sharp in both meridians; near beyond far means there is none."""
    return Limits(
        np.maximum(vertical.near_mm, horizontal.near_mm),
        np.minimum(vertical.far_mm, horizontal.far_mm),
    )


def rounded_inward(limits: Limits, near_spread: Numbers, far_spread: Numbers) -> Limits:
    """Return limits moved inward: the true near limit is nearer, the far one farther, at 95 % each.

    The spreads are one standard deviation of 1/near and of 1/far (1/mm; broadcast), in which a
    limit is nearly Gaussian and infinity an ordinary value.
    """
    near = 1.0 / np.asarray(limits.near_mm, float) - ONE_SIDED_95 * near_spread
    far = 1.0 / np.asarray(limits.far_mm, float) + ONE_SIDED_95 * far_spread
    return Limits(reciprocal_mm(near), reciprocal_mm(far))
