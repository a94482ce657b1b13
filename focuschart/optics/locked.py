"""The attachment locked at a setting while only the taking lens is refocused (pulled).

Every subject has two vergences at the taking lens: k_V = 1/u, and k_H through both groups. A lens
at image distance v is focused for k₀ = 1/f − 1/v and blurs each meridian by (f/N)·v·(k − k₀). With
the attachment locked, k_V and k_H agree for one subject only. Source of the form: W. J. Smith,
Modern Optical Engineering, 4th ed. (2008), p. 187; the rest is the conjugate equation.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from focuschart.optics.arrays import Floats, Numbers
from focuschart.optics.depth_of_field import (
    Aperture,
    Groups,
    Limits,
    frame_limits,
    horizontal_limits,
    vertical_limits,
)
from focuschart.optics.halving import last_where

_JUST_BEFORE_MM = 1e-6
_LONGEST_IMAGE = 1.999
"""The longest image distance in focal lengths: at 2 the magnification is 1."""


@dataclass(frozen=True, slots=True)
class Locked:
    """A rig with a locked attachment (mm; all broadcast).

    It has A, F and d of the groups. `rear_mm` is the rear group's distance from the sensor with the
    taking lens at infinity; `carried` is 1 if the lens carries the attachment as it extends, else
    0; `plate_mm` is the plate shift, `squeeze` the nominal S, `hiatus_mm` that of the lens.
    """

    focal_length_mm: Numbers
    front_focal_mm: Numbers
    rear_focal_mm: Numbers
    separation_mm: Numbers
    rear_mm: Numbers
    carried: Numbers
    plate_mm: Numbers
    squeeze: Numbers
    hiatus_mm: Numbers = 0.0

    def groups(self, image_mm: Numbers) -> Groups:
        """Return the groups with the taking lens at image distance v."""
        extension = np.asarray(image_mm, float) - self.focal_length_mm
        rear = np.asarray(self.rear_mm + self.carried * extension)
        to_rear = rear - self.lens_datum_mm(image_mm)
        return Groups(self.front_focal_mm, self.rear_focal_mm, self.separation_mm, to_rear, rear)

    def lens_datum_mm(self, image_mm: Numbers) -> Floats:
        """Return D − u of the taking lens, the sum of image distance, hiatus and plate shift."""
        return np.asarray(np.asarray(image_mm, float) + self.hiatus_mm + self.plate_mm)

    def focus_mm(self, image_mm: Numbers) -> Floats:
        """Return the subject distance at which the vertical meridian is sharp."""
        lens = Aperture(self.focal_length_mm, image_mm, 0.0, 0.0)
        return vertical_limits(lens, lens_datum_mm=self.lens_datum_mm(image_mm)).near_mm

    def limits(self, image_mm: Numbers, *, stop: Numbers, circle_mm: Numbers) -> Limits:
        """Return the zone sharp in both meridians; near at or beyond far means there is none."""
        lens = Aperture(self.focal_length_mm, image_mm, stop, circle_mm)
        return frame_limits(
            vertical_limits(lens, lens_datum_mm=self.lens_datum_mm(image_mm)),
            horizontal_limits(lens, self.groups(image_mm), squeeze=self.squeeze),
        )

    def vergences(self, distance_mm: Numbers, image_mm: Numbers) -> tuple[Floats, Floats]:
        """Return k_V and k_H of a subject at the taking lens, 1/mm.

        From the subject inward: y = 1/s + 1/A, z = y/(1 + d·y) − 1/F, k_H = z/(1 + t·z). A subject
        at or behind the front group (the end of a zone that is sharp up to the glass) is taken as
        just in front of it.
        """
        groups, distance = self.groups(image_mm), np.asarray(distance_mm, float)
        ahead = distance - groups.rear_datum_mm - groups.separation_mm
        upright = 1.0 / np.maximum(distance - self.lens_datum_mm(image_mm), _JUST_BEFORE_MM)
        front = 1.0 / np.maximum(ahead, _JUST_BEFORE_MM)
        spread = front + 1.0 / np.asarray(groups.front_focal_mm, float)
        bent = spread / (1.0 + groups.separation_mm * spread)
        bent = bent - 1.0 / np.asarray(groups.rear_focal_mm, float)
        return np.asarray(upright), np.asarray(bent / (1.0 + groups.lens_to_rear_mm * bent))


def blurs(
    locked: Locked, distance_mm: Numbers, image_mm: Numbers, *, stop: Numbers, circle_mm: Numbers
) -> tuple[Floats, Floats]:
    """Return the vertical and the horizontal blur of a subject in criteria, c and c/S.

    It is positive where the subject is nearer than the plane in focus. Shapes broadcast.
    """
    image = np.asarray(image_mm, float)
    sharp = 1.0 / np.asarray(locked.focal_length_mm, float) - 1.0 / image
    per_vergence = image * locked.focal_length_mm / (np.asarray(stop, float) * circle_mm)
    upright, across = locked.vergences(distance_mm, image)
    return (
        np.asarray((upright - sharp) * per_vergence),
        np.asarray((across - sharp) * per_vergence * locked.squeeze),
    )


def compromise_image_mm(
    locked: Locked, distance_mm: Numbers, *, longest_image_mm: Numbers
) -> Floats:
    """Return the image distance v at which a subject's worse meridian is blurred least.

    Both signed blurs fall as the lens extends, so the larger one is least where they are opposite,
    (k_V − k₀) + S(k_H − k₀) = 0, the same at every stop; or at the nearest end of the lens's range,
    from f to `longest_image_mm`. The blur that remains is S/(1 + S) of k_V − k_H.
    """
    focal, squeeze = (np.asarray(x, float) for x in (locked.focal_length_mm, locked.squeeze))

    def short(image: Floats) -> NDArray[np.bool_]:
        upright, across = locked.vergences(distance_mm, image)
        balance = upright + squeeze * across - (1.0 + squeeze) * (1.0 / focal - 1.0 / image)
        return np.asarray(balance > 0.0)

    return last_where(short, focal, np.minimum(longest_image_mm, _LONGEST_IMAGE * focal))


@dataclass(frozen=True, slots=True)
class Pulled:
    """The zone in which some setting of the taking lens keeps both meridians below one criterion.

    `zone` is from the sensor; the image distances v (mm) are those at which its ends are sharpest.
    There the blur is one criterion, or less if the zone reaches infinity.
    """

    zone: Limits
    near_image_mm: Floats
    far_image_mm: Floats


def pulled_zone(
    locked: Locked, matched_image_mm: Numbers, *, stop: Numbers, circle_mm: Numbers,
    longest_image_mm: Numbers,
) -> Pulled:  # fmt: skip
    """Return the zone that is reached by pulling the taking lens alone, away from the match.

    With the attachment locked, the horizontal plane in focus moves S² times as fast as the vertical
    one, in vergence. The zone ends where the zones of both meridians just touch, or at the ends of
    the lens's range, f and `longest_image_mm`. Shapes broadcast.
    """
    start = np.asarray(matched_image_mm, float)

    def sharp(image: Floats) -> NDArray[np.bool_]:
        zone = locked.limits(image, stop=stop, circle_mm=circle_mm)
        return np.asarray(zone.near_mm < zone.far_mm)

    longest = np.maximum(longest_image_mm, start)
    shortest = np.asarray(locked.focal_length_mm, float)
    nearer, farther = (
        locked.limits(last_where(sharp, start, end), stop=stop, circle_mm=circle_mm)
        for end in (longest, shortest)
    )
    zone = Limits(nearer.near_mm, farther.far_mm)
    near, far = (
        compromise_image_mm(locked, end, longest_image_mm=longest)
        for end in (zone.near_mm, zone.far_mm)
    )
    return Pulled(zone, near, far)
