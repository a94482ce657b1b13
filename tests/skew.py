"""What the attachment's ring asks for above the middle of the picture, traced by skew rays.

The taking lens is ideal and its field flat, so that light of a sensor point `height_mm` from the
middle leaves its pupil as a cone about a chief ray of slope height / image distance. The taking
ring stays where the middle is sharp; conventions as in `tests.rig_truth`.
"""

from __future__ import annotations

import numpy as np

from tests.real_focus import Pupil, defocus
from tests.rig_truth import RigTruth, geometry, true_settings
from tests.tracer import Array, Rays, on_plane, rays_from, root, trace


def whole_pupil(rig: RigTruth, stop: float) -> Pupil:
    """The right half of the entrance pupil, above and below: the rest is its mirror image."""
    x, y, weights = rig.pupil(stop)
    return Pupil(np.tile(x, 2), np.concatenate((y, -y)), np.tile(weights / 2.0, 2))


def height_shift_mm(rig: RigTruth, distance_mm: Array, height_mm: float, *, stop: float) -> Array:
    """Ruler figures at a height less those of the middle, at distances (n) from the sensor."""
    middle = true_settings(rig, distance_mm, stop=stop)
    pupil = whole_pupil(rig, stop)
    return np.array(
        [
            _arc_mm(rig, pupil, distance, near=near, gap_mm=gap, height_mm=height_mm)
            - _arc_mm(rig, pupil, distance, near=near, gap_mm=gap, height_mm=0.0)
            for distance, near, gap in zip(distance_mm, middle.near, middle.gap_mm, strict=True)
        ]
    )


def _arc_mm(
    rig: RigTruth, pupil: Pupil, distance_mm: float, *, near: float, gap_mm: float, height_mm: float
) -> float:
    """The figure at which the horizontal rays' rms blur is least."""
    slope = height_mm / rig.lens.image_mm(near)

    def horizontal(gap_mm: float) -> float:
        places = geometry(rig, near=near, gap_mm=gap_mm, distance_mm=distance_mm)
        rays = rays_from(pupil.x_mm, pupil.y_mm, -pupil.x_mm * near, slope - pupil.y_mm * near)
        moved = Rays(rays.points_mm - [0.0, 0.0, places.pupil_to_rear_mm], rays.directions)
        points, directions = on_plane(trace(rig.attachment.outward(gap_mm), moved))
        errors = points[:, 0] / places.distance_mm + directions[:, 0] / directions[:, 2]
        return defocus(errors, pupil.x_mm, pupil.weights)

    return rig.attachment_arc_mm(root(horizontal, gap_mm, step=-0.01))
