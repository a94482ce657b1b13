"""Where a pixel of an anamorphic rig's frame looks: chief rays through real glass, traced exactly.

A ray leaves each point of the sensor through the middle of the ideal taking lens's entrance pupil
and is traced out through the attachment (`tests.tracer`). That the two meridians have centres of
their own, that the squeeze falls close up and that distortion differs between the meridians follows
from the glass; the taking lens's own distortion is added on the sensor.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.rig_truth import RigTruth, geometry, true_settings
from tests.tracer import Array, Rays, rays_from, squeeze, trace

STOP = 2.8


@dataclass(frozen=True)
class Stand:
    """How the card stands: its middle off the axis (mm), turned about three axes (radians).

    `curl_mm` is how far its ends bend away from the rig, about the card's own axis at `curl_angle`.
    """

    aside: tuple[float, float] = (0.0, 0.0)
    tilt_x: float = 0.0
    tilt_y: float = 0.0
    roll: float = 0.0
    curl_mm: float = 0.0
    curl_angle: float = 0.0

    @property
    def rotation(self) -> Array:
        """Columns are the card's axes in space: rolled first, then about the upright, the level."""
        (a, b, c), (d, e, f) = (
            t(np.array([self.tilt_x, self.tilt_y, self.roll])) for t in (np.cos, np.sin)
        )
        about_x = np.array([[1.0, 0.0, 0.0], [0.0, a, -d], [0.0, d, a]])
        about_y = np.array([[b, 0.0, e], [0.0, 1.0, 0.0], [-e, 0.0, b]])
        about_z = np.array([[c, -f, 0.0], [f, c, 0.0], [0.0, 0.0, 1.0]])
        return np.asarray(about_x @ about_y @ about_z)


@dataclass(frozen=True)
class Eye:
    """A rig focused on a distance from the sensor, and what is amiss with its camera.

    `distortion` is the taking lens's at 20 mm off the axis, a share; `mumps` what else stretches
    u by u², v², v by u², v²; `misaligned` is how far the attachment is turned against the sensor,
    `decentred_mm` where its axis is from the lens's.
    """

    rig: RigTruth
    distance_mm: float
    gap_mm: float
    near: float
    distortion: float = 0.0
    mumps: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    misaligned: float = 0.0
    decentred_mm: tuple[float, float] = (0.0, 0.0)

    @classmethod
    def focused(cls, rig: RigTruth, distance_mm: float) -> Eye:
        """Return the rig with both rings where it is sharp."""
        sharp = true_settings(rig, distance_mm, stop=STOP)
        return cls(rig, distance_mm, float(sharp.gap_mm[0]), float(sharp.near[0]))

    @property
    def pupil_mm(self) -> float:
        """From the entrance pupil to the card's middle."""
        return self.distance_mm - self.rig.lens.pupil_mm(self.near)

    @property
    def squeeze(self) -> float:
        """The ratio of magnifications on the axis, in the plane of the card's middle."""
        places = geometry(
            self.rig, near=self.near, gap_mm=self.gap_mm, distance_mm=self.distance_mm
        )
        return squeeze(self.rig.attachment, self.gap_mm, **places._asdict())

    def on_card(self, across_mm: Array, up_mm: Array, stand: Stand) -> tuple[Array, Array]:
        """Return the card's points (mm from its middle) that sensor points (n each) look at."""
        u, v = self._straightened(across_mm, up_mm)
        image = self.rig.lens.image_mm(self.near)
        places = geometry(
            self.rig, near=self.near, gap_mm=self.gap_mm, distance_mm=self.distance_mm
        )
        rays = rays_from(np.zeros_like(u), np.zeros_like(u), u / image, v / image)
        beside = np.array([*self.decentred_mm, 0.0])
        vertex = beside + np.array([0.0, 0.0, places.pupil_to_rear_mm])
        from_rear = Rays(rays.points_mm - vertex, rays.directions)
        seen = trace(self.rig.attachment.outward(self.gap_mm), from_rear)
        return _met(seen._replace(points_mm=seen.points_mm + beside), stand, places.distance_mm)

    def _straightened(self, across_mm: Array, up_mm: Array) -> tuple[Array, Array]:
        """Return sensor points as an ideal taking lens had them, in the attachment's axes."""
        square = (np.square(across_mm) + np.square(up_mm)) / 20.0**2
        u, v = (each * (1.0 + self.distortion * square) for each in (across_mm, up_mm))
        a, b, c, d = self.mumps
        horizontal, vertical = np.square(u / 20.0), np.square(v / 20.0)
        u, v = u * (1.0 + a * horizontal + b * vertical), v * (1.0 + c * horizontal + d * vertical)
        cos, sin = np.cos(self.misaligned), np.sin(self.misaligned)
        return cos * u - sin * v, sin * u + cos * v


def _met(rays: Rays, stand: Stand, distance_mm: float) -> tuple[Array, Array]:
    """Return where rays meet the card, in its own axes; its middle is `distance_mm` ahead."""
    middle = np.array([*stand.aside, distance_mm])
    start = (rays.points_mm - middle) @ stand.rotation
    direction = rays.directions @ stand.rotation
    depth = np.zeros(len(start))
    cos, sin = np.cos(stand.curl_angle), np.sin(stand.curl_angle)
    for _ in range(8 if stand.curl_mm else 1):
        at = start + ((depth - start[:, 2]) / direction[:, 2])[:, np.newaxis] * direction
        along = cos * at[:, 0] + sin * at[:, 1]
        steep = stand.curl_mm / 110.0**2
        depth = steep * np.square(np.clip(along, -150.0, 150.0))
    # Along the parabola the paper is longer than its chord: by 2/3 steep² x³ (its series).
    longer = 2.0 / 3.0 * steep**2 * along**3
    return at[:, 0] + cos * longer, at[:, 1] + sin * longer
