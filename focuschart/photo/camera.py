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
    "middle_x", "middle_y", "arc", "step", "gap", "tilt", "lean", "roll", "skew", "log_scale",
    "ink",
)  # fmt: skip
"""Of the parameters of a photograph, in their order.

`turn_*` (rotation vector, radians) and `shift_*` (mm) take the barrel's frame to the camera's.
`log_focal` is the logarithm of the focal length over that expected, `distortion` what is added at a
corner as a share of the distance from the middle, which lies `middle_*` half diagonals off the
picture's own. `arc` is the ring's millimetre under the line. The index's barrel is `step` (mm)
larger in radius than the ring's; `gap` (mm) is between both strips along the axis. `tilt` and
`skew` are the slopes by which index and ring's strip lie askew; the index's barrel narrows to
the subject by `lean` (the sine of its slope), and the index stands up to the left of its line by
`roll` (radians). `log_scale` is the logarithm of how much larger all is printed, `ink` (mm) how far
black spreads.
"""
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
    steep = np.where(on_ring, view.barrel.steepness, named["lean"])
    rise = up + slope * across
    along = rise * np.sqrt(np.maximum(1.0 - steep**2, 0.0)) - np.where(
        on_ring, 0.0, view.inward * named["gap"]
    )
    radius = middle + view.barrel.thickness_mm / 2.0 - rise * steep
    x, down = radius * np.sin(angle), radius * (np.cos(angle) - 1.0)
    c, s = np.cos(named["roll"]), np.sin(named["roll"])
    x, down = (
        np.where(on_ring, x, c * x + s * down),
        np.where(on_ring, down, c * down - s * x),
    )
    return np.stack((x, radius + down, -along), axis=-1)


def projected(view: View, parameters: Floats, places: Floats) -> Floats:
    """Return places in the barrel's frame (… × 3) as pixels (… × 2)."""
    seen = places @ rotation(parameters[:3]).T + parameters[3:6]
    focal = view.nominal_focal_px * np.exp(parameters[AT["log_focal"]])
    flat = focal * seen[..., :2] / seen[..., 2:]
    square = np.sum(np.square(flat / view.half_diagonal), axis=-1, keepdims=True)
    off = view.half_diagonal * parameters[AT["middle_x"] : AT["middle_y"] + 1]
    return np.asarray(view.middle + off + flat * (1.0 + parameters[AT["distortion"]] * square))


def facing(parameters: Floats, places: Floats, normals: Floats) -> Floats:
    """Return the cosine between the surface's normals and the direction to the camera (…)."""
    turned = rotation(parameters[:3])
    camera = -turned.T @ parameters[3:6]
    toward = camera - places
    toward /= np.linalg.norm(toward, axis=-1, keepdims=True)
    return np.asarray(np.sum(toward * normals, axis=-1))
