"""Beams through the rig: from the taking lens's entrance pupil outward, by paraxial ray transfer.

Height and slope go through the rear group, the separation and the front group horizontally, and
straight on vertically (W. J. Smith, Modern Optical Engineering, 4th ed. (2008), ch. 4). So the
beam is an upright ellipse at any plane.

Image points (X, Y) are those of the upright picture, mm on the sensor before desqueezing. The
pupil is in the taking lens's front principal plane, f/N wide.
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

    Its place is `ahead_mm` from the rear or front group toward the subject, negative toward the
    camera. Rims, step rings and filter threads are such openings. A round one has equal sizes.
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

    A mount of constant width clips at the face farther from the pupil, some 5 % sooner.
    """
    half = np.asarray(glass_mm, float) / 2.0
    near = ClearAperture(group, -half, width_mm, height_mm, shape)
    return near, replace(near, ahead_mm=half)


@dataclass(frozen=True, slots=True)
class Train:
    """The rig's optical train, mm: f, v, e from pupil to rear group, d, A and F (broadcast).

    Each group is placed in the middle of its glass, whose thickness shortens the path by the plate
    shift. So d is the measured separation of the middles, and A is d/(S − 1) at infinity: this
    agrees better with exact rays than the focal length of the glass. With A and F infinite it is a
    plain tube.
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
    lens = pupil_beam(train, image_x_mm, image_y_mm, stop)
    across, up = transfers(train, lens.vergence, group, ahead_mm)
    return Footprint(
        np.asarray(across.reach * lens.slope_x), np.asarray(up.reach * lens.slope_y),
        np.asarray(np.abs(across.stretch) * lens.radius_mm),
        np.asarray(np.abs(up.stretch) * lens.radius_mm),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class PupilBeam:
    """The beam as it leaves the pupil: chief ray's slopes, pupil radius, vergence k."""

    slope_x: Floats
    slope_y: Floats
    radius_mm: Floats
    vergence: Floats


def pupil_beam(train: Train, image_x_mm: Numbers, image_y_mm: Numbers, stop: Numbers) -> PupilBeam:
    """Return the beam of image points as it leaves the pupil."""
    image = np.asarray(train.image_mm, float)
    radius = np.asarray(train.focal_length_mm, float) / (2.0 * np.asarray(stop, float))
    return PupilBeam(
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
    """Return the horizontal and the vertical transfer from the pupil to a plane.

    A ray from the height p in the pupil has the slope m − k·p, with m that of the chief ray. Half
    of a group's glass shortens the path before the group, the other half that beyond it.
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
        # Horizontally the separation is that of thin groups, vertically the glass shortens it.
        straight = straight + train.separation_mm - PLATE_SHIFT * (halves[0] + halves[1])
    return (
        Transfer(np.asarray(parallel - vergence * middle), middle),
        Transfer(np.asarray(1.0 - vergence * straight), np.asarray(straight)),
    )


def _height(
    train: Train, group: Group, ahead_mm: Floats, height: Numbers, slope: Numbers
) -> Floats:
    """Return the horizontal height at a plane of a ray given at the rear group."""
    after = np.asarray(slope - height / train.rear_focal_mm)
    if group == "front":
        height, slope = height + after * train.separation_mm, after
        after = np.asarray(slope + height / train.front_focal_mm)
    before, beyond = np.minimum(ahead_mm, 0.0), np.maximum(ahead_mm, 0.0)
    return np.asarray(height + before * slope + beyond * after)
