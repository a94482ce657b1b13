"""The attachment locked at a setting while the taking lens alone is pulled.

Every subject has two vergences at the taking lens: k_V = 1/u, and k_H through both groups. A lens
at image distance v is sharp for k₀ = 1/f − 1/v and blurs each meridian by (f/N)·v·(k − k₀). With
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
"""Of the focal length: at twice of it the subject is shown at life size."""


@dataclass(frozen=True, slots=True)
class Locked:
    """A rig whose attachment stays as it is set (mm; all broadcast).

    A, F and d of the groups; `rear_mm`, the rear group from the sensor while the taking lens
    stands at infinity; `carried` is 1 where the lens carries the attachment as it extends, else 0;
    `plate_mm` is what the glass takes off a subject's distance; `squeeze` the nominal S;
    `hiatus_mm` the taking lens's.
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
        """Return the groups as they stand with the lens at image distance v."""
        extension = np.asarray(image_mm, float) - self.focal_length_mm
        rear = np.asarray(self.rear_mm + self.carried * extension)
        to_rear = rear - self.lens_datum_mm(image_mm)
        return Groups(self.front_focal_mm, self.rear_focal_mm, self.separation_mm, to_rear, rear)

    def lens_datum_mm(self, image_mm: Numbers) -> Floats:
        """Return D − u of the taking lens: image distance, hiatus and plate shift together."""
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

        In from the subject: y = 1/s + 1/A, z = y/(1 + d·y) − 1/F, k_H = z/(1 + t·z). A subject at
        or behind the front group, where a zone ends that is sharp up to the glass, counts as just
        before it.
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

    Positive where the subject is nearer than the meridian is focused. Shapes broadcast.
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

    Both blurs fall as the lens extends, so their larger size is least where they are opposite,
    (k_V − k₀) + S(k_H − k₀) = 0, at every stop alike; or at the end of the lens's way, from f to
    `longest_image_mm`, that is nearest to it. What remains is S/(1 + S) of k_V − k_H.
    """
    focal, squeeze = (np.asarray(x, float) for x in (locked.focal_length_mm, locked.squeeze))

    def short(image: Floats) -> NDArray[np.bool_]:
        upright, across = locked.vergences(distance_mm, image)
        balance = upright + squeeze * across - (1.0 + squeeze) * (1.0 / focal - 1.0 / image)
        return np.asarray(balance > 0.0)

    return last_where(short, focal, np.minimum(longest_image_mm, _LONGEST_IMAGE * focal))


@dataclass(frozen=True, slots=True)
class Pulled:
    """Where some setting of the taking lens keeps both meridians below one criterion.

    `zone` from the sensor, and the image distances v at which its ends are sharpest (mm): there
    each is blurred by one criterion, or less where the zone reaches infinity.
    """

    zone: Limits
    near_image_mm: Floats
    far_image_mm: Floats


def pulled_zone(
    locked: Locked, matched_image_mm: Numbers, *, stop: Numbers, circle_mm: Numbers,
    longest_image_mm: Numbers,
) -> Pulled:  # fmt: skip
    """Return the zone that one hand covers, pulling the taking lens away from the match.

    With the attachment locked, its sharp plane runs S² times as fast as the vertical one, in
    vergence. The zone ends where the two meridians' own zones touch for the last time, or where
    the lens does, at f and `longest_image_mm`. Shapes broadcast.
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
