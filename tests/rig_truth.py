"""What a rig of real thick glass does, traced exactly: ring arcs, blur, squeeze, tolerances.

The taking lens is ideal (thin, with a hiatus, its entrance pupil at its front principal plane);
the attachment is traced. z runs from the sensor toward the subject, everything on axis.
Distances are from the sensor and may be infinite. Blur is that of a sensor point sent out to
the subject, scaled back by the traced magnification.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from tests.real_focus import (
    FocusError,
    Pupil,
    defocus,
    focus_error,
    joint_focus,
    pupil_points,
)
from tests.tracer import (
    Array,
    Moving,
    ThickAttachment,
    afocal_gap_mm,
    angular_gain,
    root,
    squeeze,
)


@dataclass(frozen=True)
class ExtendingLens:
    """A lens that extends by u + v + i = D; `near` below is 1/u, per mm."""

    focal_mm: float
    hiatus_mm: float
    arc_per_mm: float
    zero_arc_mm: float
    front_moves: bool = True

    def image_mm(self, near: float) -> float:
        """Rear principal plane to sensor."""
        return self.focal_mm / (1.0 - self.focal_mm * near)

    def pupil_mm(self, near: float) -> float:
        """Front principal plane, where the entrance pupil is, from the sensor."""
        return self.image_mm(near) + self.hiatus_mm

    def front_travel_mm(self, near: float) -> float:
        """How far the front has carried an attachment from its place at infinity."""
        return self.image_mm(near) - self.focal_mm if self.front_moves else 0.0

    def arc_mm(self, near: float) -> float:
        """Ruler figure of the focus ring."""
        return self.zero_arc_mm + self.arc_per_mm * (self.image_mm(near) - self.focal_mm)

    def near_at(self, arc_mm: float) -> float:
        """1/u for a ruler figure."""
        extension_mm = (arc_mm - self.zero_arc_mm) / self.arc_per_mm
        return extension_mm / (self.focal_mm * (self.focal_mm + extension_mm))


@dataclass(frozen=True)
class InternalLens:
    """A lens that focuses inside: its principal planes stay, its focal length shortens.

    Arc = zero + K / (D + offset), where D = pupil + u is the distance the bare lens is set to.
    """

    focal_mm: float
    hiatus_mm: float
    zero_arc_mm: float
    hyperbola_mm2: float
    offset_mm: float

    def image_mm(self, _near: float) -> float:
        """Rear principal plane to sensor, the same at every distance."""
        return self.focal_mm

    def pupil_mm(self, _near: float) -> float:
        """Front principal plane, where the entrance pupil is, from the sensor."""
        return self.focal_mm + self.hiatus_mm

    def front_travel_mm(self, _near: float) -> float:
        """The front stays."""
        return 0.0

    def arc_mm(self, near: float) -> float:
        """Ruler figure of the focus ring."""
        beyond_mm = self.pupil_mm(near) + self.offset_mm
        return self.zero_arc_mm + self.hyperbola_mm2 * near / (1.0 + near * beyond_mm)

    def near_at(self, arc_mm: float) -> float:
        """1/u for a ruler figure."""
        turned = (arc_mm - self.zero_arc_mm) / self.hyperbola_mm2
        return turned / (1.0 - turned * (self.pupil_mm(0.0) + self.offset_mm))


@dataclass(frozen=True)
class TwoGroupLens:
    """Two thin groups; the front one stands, a bent cam moves the rear one. Ring by a cam.

    `near` is 1/u from the front group, where the entrance pupil is. The ring turns by
    t + bend·sin(πt) of `turn_mm`, t the share of the rear group's way to `nearest_mm`.
    """

    focal_mm: float
    front_focal_mm: float
    rear_focal_mm: float
    length_mm: float
    zero_arc_mm: float
    turn_mm: float
    bend: float
    nearest_mm: float

    def gap_mm(self, near: float) -> float:
        """Front to rear group: both lens equations with sensor and front group fixed."""
        image = 1.0 / (1.0 / self.front_focal_mm - near)
        short = self.length_mm - image
        root = np.sqrt(short * (short - 4.0 * self.rear_focal_mm))
        return float(self.length_mm + image - root) / 2.0

    def image_mm(self, near: float) -> float:
        """Sensor mm a radian in the pupil, which is v where one thin lens stands."""
        gap = self.gap_mm(near)
        rear = self.length_mm - gap
        return gap + rear - gap * rear / self.rear_focal_mm

    def pupil_mm(self, _near: float) -> float:
        """The front group from the sensor."""
        return self.length_mm

    def front_travel_mm(self, _near: float) -> float:
        """The front stays."""
        return 0.0

    def arc_mm(self, near: float) -> float:
        """Ruler figure of the focus ring."""
        far, nearest = (self.gap_mm(n) for n in (0.0, 1.0 / (self.nearest_mm - self.length_mm)))
        share = (self.gap_mm(near) - far) / (nearest - far)
        return self.zero_arc_mm + self.turn_mm * (share + self.bend * float(np.sin(np.pi * share)))

    def near_at(self, arc_mm: float) -> float:
        """1/u for a ruler figure."""
        return root(lambda near: self.arc_mm(near) - arc_mm, 1e-4, step=1e-5)


TakingLens = ExtendingLens | InternalLens | TwoGroupLens


@dataclass(frozen=True)
class RigTruth:
    """A taking lens with a thick attachment before it.

    `rear_vertex_mm`: sensor to the attachment's rear vertex, both rings at infinity.
    `arc_per_mm`: attachment ring, positive where the ruler rises as the groups close.
    `zero_arc_mm`: attachment ruler figure at the paraxially afocal gap.
    """

    lens: TakingLens
    attachment: ThickAttachment
    moving: Moving
    rear_vertex_mm: float
    arc_per_mm: float
    zero_arc_mm: float

    @property
    def front_vertex_mm(self) -> float:
        """Sensor to the front vertex, both rings at infinity."""
        length_mm = self.attachment.length_mm(afocal_gap_mm(self.attachment))
        return self.rear_vertex_mm + length_mm

    def closing_mm(self, gap_mm: float) -> float:
        """How far the groups have closed from the paraxially afocal gap."""
        return afocal_gap_mm(self.attachment) - gap_mm

    def attachment_arc_mm(self, gap_mm: float) -> float:
        """Ruler figure of the attachment's ring."""
        return self.zero_arc_mm + self.arc_per_mm * self.closing_mm(gap_mm)

    def gap_at(self, arc_mm: float) -> float:
        """Air gap for a ruler figure of the attachment's ring."""
        return afocal_gap_mm(self.attachment) - (arc_mm - self.zero_arc_mm) / self.arc_per_mm

    def rear_at_mm(self, near: float, gap_mm: float) -> float:
        """Sensor to the rear vertex as the rings stand."""
        closing_mm = self.closing_mm(gap_mm) if self.moving == "rear" else 0.0
        return self.rear_vertex_mm + self.lens.front_travel_mm(near) + closing_mm

    def pupil(self, stop: float) -> Pupil:
        """Entrance pupil of radius f / 2N."""
        return pupil_points(self.lens.focal_mm / (2.0 * stop))


class Settings(NamedTuple):
    """Both meridians sharp, one entry per distance; `near` is 1/u of the lens, per mm."""

    taking_arc_mm: Array
    attachment_arc_mm: Array
    gap_mm: Array
    squeeze: Array
    near: Array


class Blur(NamedTuple):
    """Blur on the sensor, mm. `disc`: diameter of the even disc with the same rms, 4 x rms.

    `width`: full geometric extent. The horizontal figures are before desqueezing.
    """

    horizontal_disc_mm: float
    vertical_disc_mm: float
    horizontal_width_mm: float
    vertical_width_mm: float


class Tolerances(NamedTuple):
    """Arc by which a ring may be off before its own meridian is blurred by its criterion."""

    taking_arc_mm: float
    attachment_arc_mm: float


class Geometry(NamedTuple):
    """Lengths along the axis as the rings stand: pupil to rear vertex, front vertex to subject."""

    pupil_to_rear_mm: float
    distance_mm: float


def geometry(rig: RigTruth, *, near: float, gap_mm: float, distance_mm: float) -> Geometry:
    """Where the pupil and the vertices stand for a lens vergence and a gap."""
    rear_mm = rig.rear_at_mm(near, gap_mm)
    front_mm = rear_mm + rig.attachment.length_mm(gap_mm)
    return Geometry(rear_mm - rig.lens.pupil_mm(near), distance_mm - front_mm)


def errors_at(
    rig: RigTruth, *, near: float, gap_mm: float, distance_mm: float, stop: float
) -> FocusError:
    """Ray errors at the subject for a lens vergence and a gap."""
    places = geometry(rig, near=near, gap_mm=gap_mm, distance_mm=distance_mm)
    return focus_error(
        rig.attachment, gap_mm, pupil=rig.pupil(stop), lens_near=near, **places._asdict()
    )


def true_settings(rig: RigTruth, distance_mm: ArrayLike, *, stop: float) -> Settings:
    """Rings, gap and squeeze with both meridians sharp at each distance, shape (n,)."""
    distances = np.atleast_1d(np.asarray(distance_mm, dtype=np.float64))
    rows = [_settings_at(rig, float(distance), stop=stop) for distance in distances]
    return Settings(*np.array(rows).T)


def _settings_at(rig: RigTruth, distance_mm: float, *, stop: float) -> tuple[float, ...]:
    def errors(near: float, gap_mm: float) -> FocusError:
        return errors_at(rig, near=near, gap_mm=gap_mm, distance_mm=distance_mm, stop=stop)

    near, gap_mm = joint_focus(
        errors, rig.pupil(stop), near=1.0 / distance_mm, gap_mm=afocal_gap_mm(rig.attachment)
    )
    places = geometry(rig, near=near, gap_mm=gap_mm, distance_mm=distance_mm)
    ratio = squeeze(rig.attachment, gap_mm, **places._asdict())
    return rig.lens.arc_mm(near), rig.attachment_arc_mm(gap_mm), gap_mm, ratio, near


def attachment_arc_for(
    rig: RigTruth, distance_mm: float, *, taking_arc_mm: float, stop: float
) -> float:
    """Attachment arc that makes the horizontal meridian sharp, the lens being as it stands."""
    near, pupil = rig.lens.near_at(taking_arc_mm), rig.pupil(stop)

    def horizontal(gap_mm: float) -> float:
        errors = errors_at(rig, near=near, gap_mm=gap_mm, distance_mm=distance_mm, stop=stop)
        return defocus(errors.horizontal, pupil.x_mm, pupil.weights)

    return rig.attachment_arc_mm(root(horizontal, afocal_gap_mm(rig.attachment), step=-0.01))


def blur_scales(
    rig: RigTruth, *, near: float, gap_mm: float, distance_mm: float
) -> tuple[float, float]:
    """Sensor mm per ray error, horizontally and vertically (infinity is ordinary)."""
    places = geometry(rig, near=near, gap_mm=gap_mm, distance_mm=distance_mm)
    horizontal, vertical = (
        rig.lens.image_mm(near)
        / angular_gain(rig.attachment, gap_mm, powered=powered, **places._asdict())
        for powered in (True, False)
    )
    return horizontal, vertical


def blur(
    rig: RigTruth,
    distance_mm: float,
    *,
    taking_arc_mm: float,
    attachment_arc_mm: float,
    stop: float,
) -> Blur:
    """Blur of a subject point at a distance with the rings at the given figures."""
    near, gap_mm = rig.lens.near_at(taking_arc_mm), rig.gap_at(attachment_arc_mm)
    errors = errors_at(rig, near=near, gap_mm=gap_mm, distance_mm=distance_mm, stop=stop)
    scales = blur_scales(rig, near=near, gap_mm=gap_mm, distance_mm=distance_mm)
    weights = rig.pupil(stop).weights
    spreads = [np.abs(scale * error) for scale, error in zip(scales, errors, strict=True)]
    discs = [4.0 * float(np.sqrt(np.sum(weights * spread**2))) for spread in spreads]
    return Blur(*discs, *(2.0 * float(spread.max()) for spread in spreads))


def tolerances(
    rig: RigTruth, distance_mm: float, *, stop: float, circle_mm: float, nominal_squeeze: float
) -> Tolerances:
    """Traced tolerance of each ring, criterion c vertically and c / S horizontally.

    Taken from the slope of the defocus on the arc about the sharp setting.
    """
    sharp = true_settings(rig, distance_mm, stop=stop)
    near, gap_mm = float(sharp.near[0]), float(sharp.gap_mm[0])
    scales = blur_scales(rig, near=near, gap_mm=gap_mm, distance_mm=distance_mm)
    pupil = rig.pupil(stop)

    def defocus_at(taking_mm: float, attachment_mm: float) -> tuple[float, float]:
        errors = errors_at(
            rig,
            near=rig.lens.near_at(float(sharp.taking_arc_mm[0]) + taking_mm),
            gap_mm=rig.gap_at(float(sharp.attachment_arc_mm[0]) + attachment_mm),
            distance_mm=distance_mm,
            stop=stop,
        )
        horizontal = defocus(errors.horizontal, pupil.x_mm, pupil.weights)
        return horizontal, defocus(errors.vertical, pupil.y_mm, pupil.weights)

    step_mm, diameter_mm = 0.05, rig.lens.focal_mm / stop
    taking = (defocus_at(step_mm, 0.0)[1] - defocus_at(-step_mm, 0.0)[1]) / (2.0 * step_mm)
    attachment = (defocus_at(0.0, step_mm)[0] - defocus_at(0.0, -step_mm)[0]) / (2.0 * step_mm)
    return Tolerances(
        circle_mm / (diameter_mm * scales[1] * abs(taking)),
        circle_mm / nominal_squeeze / (diameter_mm * scales[0] * abs(attachment)),
    )
