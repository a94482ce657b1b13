"""How a camera sees strips on a barrel: the model that is fitted to a photograph.

The barrel's frame has x to the right and y up for a reader behind the camera, z toward the camera;
its origin is on the axis where the ring's edge next to the index is, and the index line is at angle
0 from above. The camera's frame has x right, y down, z away from it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from focuschart.photo.strips import Barrel, Floats, Numbers

NAMES = (
    "turn_x", "turn_y", "turn_z", "shift_x", "shift_y", "shift_z", "log_focal", "distortion",
    "arc", "step", "gap", "tilt", "skew", "log_scale", "ink",
)  # fmt: skip
AT = {name: number for number, name in enumerate(NAMES)}
ARC = AT["arc"]


@dataclass(frozen=True, slots=True)
class View:
    """What is known before the fit: the picture's size in pixels, barrel, side of the index.

    `nominal_focal_px` is the focal length that `log_focal` is relative to. `inward` is 1 where the
    index lies on the camera's side of the ring, else −1.
    """

    width: int
    height: int
    nominal_focal_px: float
    barrel: Barrel
    inward: float

    @property
    def middle(self) -> Floats:
        """The centre of the picture in pixels; the first pixel's centre is (0, 0)."""
        return np.array([(self.width - 1) / 2.0, (self.height - 1) / 2.0])

    @property
    def half_diagonal(self) -> float:
        """From the centre to a corner, pixels."""
        return float(np.hypot(self.width, self.height) / 2.0)


def rotation(vector: Floats) -> Floats:
    """Return the rotation matrix about a vector by its length (Rodrigues' formula)."""
    angle = float(np.linalg.norm(vector))
    x, y, z = vector / angle if angle > 1e-12 else vector
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    turned = np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * cross @ cross
    return np.asarray(turned)


def on_barrel(view: View, parameters: Floats, points: Floats, on_ring: Numbers) -> Floats:
    """Return points of the strips (… × 2, mm from their origins) in the barrel's frame (… × 3).

    `on_ring` (…) is 1 for points of the ring's strip, 0 for those of the index.
    """
    named = dict(zip(NAMES, parameters.tolist(), strict=True))
    scale = np.exp(named["log_scale"])
    arc = np.where(on_ring, named["arc"], 0.0)
    across = (points[..., 0] - arc) * scale
    up = points[..., 1] * scale
    slope = np.where(on_ring, named["skew"], named["tilt"])
    middle = view.barrel.once_mm / (2.0 * np.pi) + np.where(on_ring, 0.0, named["step"])
    angle = (across - slope * up) / middle
    steep = np.where(on_ring, view.barrel.steepness, 0.0)
    rise = up + slope * across
    along = rise * np.sqrt(1.0 - steep**2) - np.where(on_ring, 0.0, view.inward * named["gap"])
    radius = middle + view.barrel.thickness_mm / 2.0 - rise * steep
    return np.stack((radius * np.sin(angle), radius * np.cos(angle), -along), axis=-1)


def projected(view: View, parameters: Floats, places: Floats) -> Floats:
    """Return places in the barrel's frame (… × 3) as pixels (… × 2)."""
    seen = places @ rotation(parameters[:3]).T + parameters[3:6]
    focal = view.nominal_focal_px * np.exp(parameters[AT["log_focal"]])
    flat = focal * seen[..., :2] / seen[..., 2:]
    square = np.sum(np.square(flat / view.half_diagonal), axis=-1, keepdims=True)
    return np.asarray(view.middle + flat * (1.0 + parameters[AT["distortion"]] * square))


def facing(parameters: Floats, places: Floats, normals: Floats) -> Floats:
    """Return the cosine between the surface's normals and the direction to the camera (…)."""
    turned = rotation(parameters[:3])
    camera = -turned.T @ parameters[3:6]
    toward = camera - places
    toward /= np.linalg.norm(toward, axis=-1, keepdims=True)
    return np.asarray(np.sum(toward * normals, axis=-1))
