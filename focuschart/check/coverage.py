"""Whether the frame's corner sees the rim: coverage of one rig at its stops and distances."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from focuschart.check.standing import openings, train
from focuschart.kit.schema import Kit
from focuschart.optics.arrays import Floats
from focuschart.optics.coverage import clear_fraction, shortest_focal_length_mm, widest_crop
from focuschart.rig.assemble import Rig


@dataclass(frozen=True, slots=True)
class Coverage:
    """Coverage of the sensor mode's corner at m stops, at infinity and the nearest mark (m × 2).

    `passed` is the share of the corner's beam; `full_crop` and `half_crop` the widest crop, as a
    share of the sensor's width, whose corner is clear or half clear; `shortest_full_mm` and
    `shortest_chief_mm` the shortest focal length clear in the corner. With the margin of real
    glass, but for `passed`. `missing` are the keys of openings that are not known and not counted.
    """

    stops: Floats
    distances_mm: Floats
    passed: Floats
    full_crop: Floats
    half_crop: Floats
    shortest_full_mm: Floats
    shortest_chief_mm: Floats
    missing: tuple[str, ...]

    @property
    def dark(self) -> bool:
        """Whether no light reaches the corner at the working stop."""
        return bool(np.any(self.passed[0] <= 0.0))


def coverage(kit: Kit, rig: Rig) -> Coverage | tuple[str, ...]:
    """Return a rig's coverage, or the kit's keys without which nothing can be said."""
    found = openings(kit, rig)
    distances = np.array([np.inf, float(np.min(rig.distances_mm))])
    stands = train(rig, distances)
    pupil = () if stands else (f"taking_lenses.{rig.lens_id}.entrance_pupil",)
    if stands is None or not found.apertures:
        return (*pupil, *found.missing)
    camera = kit.cameras[rig.camera_id]
    stops = np.array(sorted({rig.lens.widest_stop, *kit.stops}))
    half_width, half_height = camera.sensor_width / 2.0, camera.sensor_height / 2.0
    at = {"image_x_mm": half_width, "image_y_mm": half_height, "stop": stops[:, np.newaxis]}
    corner: dict[str, Any] = {"apertures": found.apertures, **at}
    return Coverage(
        stops=stops,
        distances_mm=distances,
        passed=clear_fraction(stands, **corner),
        full_crop=widest_crop(stands, **corner),
        half_crop=widest_crop(stands, beam="half", **corner),
        shortest_full_mm=shortest_focal_length_mm(stands, **corner),
        shortest_chief_mm=shortest_focal_length_mm(stands, beam="chief", **corner),
        missing=found.missing,
    )
