"""Beams through the rig: from the taking lens's entrance pupil outward, by paraxial ray transfer.

Height and slope go through the rear group, the separation and the front group horizontally, and
straight on vertically (W. J. Smith, Modern Optical Engineering, 4th ed. (2008), ch. 4). So the
pupil disc is seen at any plane as an upright ellipse.

Image points (X, Y) are those of the upright picture, mm on the sensor before desqueezing. The
pupil stands in the taking lens's front principal plane and is f/N wide.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from focuschart.errors import OpticsError
from focuschart.optics.arrays import Floats, Numbers
from focuschart.optics.thin_lens import PLATE_SHIFT

Group = Literal["rear", "front"]


@dataclass(frozen=True, slots=True)
class ClearAperture:
    """A round or rectangular opening on the axis, full width and height in mm (broadcast).

    It stands `ahead_mm` from the rear or front group toward the subject, less than zero toward the
    camera: rims, step rings and filter threads alike. A round one has one diameter twice.
    """

    group: Group
    ahead_mm: Numbers
    width_mm: Numbers
    height_mm: Numbers
    shape: Literal["round", "rectangular"] = "round"

    def __post_init__(self) -> None:
        """Raise OpticsError for an opening without width or height."""
        if np.any(np.minimum(self.width_mm, self.height_mm) <= 0.0):
            raise OpticsError("a clear aperture needs a width and a height above zero")


def glass_apertures(
    group: Group, *, glass_mm: Numbers, width_mm: Numbers, height_mm: Numbers,
    shape: Literal["round", "rectangular"] = "round",
) -> tuple[ClearAperture, ClearAperture]:  # fmt: skip
    """Return the openings at both faces of a group's glass, `glass_mm` thick from vertex to vertex.

    A mount as wide throughout clips at the face farther from the pupil, by some 5 % of the limits.
    """
    half = np.asarray(glass_mm, float) / 2.0
    near = ClearAperture(group, -half, width_mm, height_mm, shape)
    return near, replace(near, ahead_mm=half)


@dataclass(frozen=True, slots=True)
class Train:
    """The rig as it stands, mm: f, v, e from pupil to rear group, d, A and F (broadcast).

    Groups stand in the middle of their glasses, whose thicknesses shorten the way through them by
    the plate shift. So d is what a ruler says between the middles, and A at infinity d/(S − 1):
    exact rays bear that out better than the focal length of the glass. A and F may be infinite:
    a plain tube.
    """

    focal_length_mm: Numbers
    image_mm: Numbers
    pupil_to_rear_mm: Numbers
    separation_mm: Numbers
    front_focal_mm: Numbers
    rear_focal_mm: Numbers
    front_glass_mm: Numbers = 0.0
    rear_glass_mm: Numbers = 0.0

    @property
    def vergence(self) -> Floats:
        """Return k = 1/f − 1/v, the reciprocal distance from pupil to subject; 0 at infinity."""
        focal = np.asarray(self.focal_length_mm, float)
        return np.asarray(1.0 / focal - 1.0 / np.asarray(self.image_mm, float))


@dataclass(frozen=True, slots=True)
class Footprint:
    """A beam at one plane: an upright ellipse by its centre and its semi-axes, mm."""

    centre_x_mm: Floats
    centre_y_mm: Floats
    half_width_mm: Floats
    half_height_mm: Floats


def footprint(
    train: Train, *, group: Group, ahead_mm: Numbers = 0.0, image_x_mm: Numbers,
    image_y_mm: Numbers, stop: Numbers,
) -> Footprint:  # fmt: skip
    """Return the beam of image points at the plane `ahead_mm` of a group. Shapes broadcast.

    At infinity focus: rear group (eX/f, eY/f), radius a = f/2N; rim r ahead of the front group
    x = (X/f)(e + d − de/F + S·r), y = (Y/f)(e + d + r), semi-axes a/S and a.
    """
    lens = leaving(train, image_x_mm, image_y_mm, stop)
    across, up = transfers(train, lens.vergence, group, ahead_mm)
    return Footprint(
        np.asarray(across.reach * lens.slope_x), np.asarray(up.reach * lens.slope_y),
        np.asarray(np.abs(across.stretch) * lens.radius_mm),
        np.asarray(np.abs(up.stretch) * lens.radius_mm),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Leaving:
    """The beam as it leaves the pupil: chief ray's slopes, pupil radius, vergence k."""

    slope_x: Floats
    slope_y: Floats
    radius_mm: Floats
    vergence: Floats


def leaving(train: Train, image_x_mm: Numbers, image_y_mm: Numbers, stop: Numbers) -> Leaving:
    image = np.asarray(train.image_mm, float)
    radius = np.asarray(train.focal_length_mm, float) / (2.0 * np.asarray(stop, float))
    return Leaving(
        np.asarray(image_x_mm / image), np.asarray(image_y_mm / image), radius, train.vergence
    )


@dataclass(frozen=True, slots=True)
class Transfer:
    """Height at a plane: `stretch` times that in the pupil plus `reach` times the chief slope."""

    stretch: Floats
    reach: Floats


def transfers(
    train: Train, vergence: Floats, group: Group, ahead_mm: Numbers
) -> tuple[Transfer, Transfer]:
    """Return the transfers across and up from the pupil to a plane.

    A ray leaves pupil height p with slope m − k·p, m being the chief ray's. Half a glass before
    its group shortens the way to it, the other half the way beyond.
    """
    halves = np.asarray(train.front_glass_mm, float) / 2.0, np.asarray(train.rear_glass_mm) / 2.0
    own = halves[0] if group == "front" else halves[1]
    ahead = np.asarray(ahead_mm - PLATE_SHIFT * np.clip(ahead_mm, -own, own))
    rear = np.asarray(train.pupil_to_rear_mm - PLATE_SHIFT * halves[1])
    parallel, middle = (
        _height(train, group, ahead, height + slope * rear, slope)
        for height, slope in ((1.0, 0.0), (0.0, 1.0))
    )
    straight = rear + ahead
    if group == "front":
        # Across, the separation is that of thin groups; up, that of the glasses.
        straight = straight + train.separation_mm - PLATE_SHIFT * (halves[0] + halves[1])
    return (
        Transfer(np.asarray(parallel - vergence * middle), middle),
        Transfer(np.asarray(1.0 - vergence * straight), np.asarray(straight)),
    )


def _height(
    train: Train, group: Group, ahead_mm: Floats, height: Numbers, slope: Numbers
) -> Floats:
    """Return the height across, at a plane before or past a group, of a ray given at the rear."""
    after = np.asarray(slope - height / train.rear_focal_mm)
    if group == "front":
        height, slope = height + after * train.separation_mm, after
        after = np.asarray(slope + height / train.front_focal_mm)
    before, beyond = np.minimum(ahead_mm, 0.0), np.maximum(ahead_mm, 0.0)
    return np.asarray(height + before * slope + beyond * after)
