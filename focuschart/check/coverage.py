"""Whether the frame's corner sees the rim: coverage of one rig at its stops and distances."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from focuschart.check.picture import Delivery
from focuschart.check.standing import Openings, openings, train
from focuschart.kit.schema import Kit
from focuschart.optics.arrays import Floats
from focuschart.optics.beam import Train
from focuschart.optics.coverage import clear_fraction, shortest_focal_length_mm, widest_crop
from focuschart.rig.assemble import Rig


@dataclass(frozen=True, slots=True, kw_only=True)
class Corner:
    """Coverage of a frame's corner at m stops, at infinity and at the nearest mark (m × 2).

    `passed` is the share of the corner's beam; `full_crop` and `half_crop` the widest crop, as a
    share of this frame's own width, whose corner is clear or half clear; `shortest_full_mm` and
    `shortest_chief_mm` the shortest focal length clear in the corner, infinity for none, for the
    whole beam and for its chief ray. With the margin of real glass, but for `passed`.
    """

    name: str
    passed: Floats
    full_crop: Floats
    half_crop: Floats
    shortest_full_mm: Floats
    shortest_chief_mm: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage(Corner):
    """Coverage of the sensor mode's corner, and of each delivery's.

    `marked` says which of the distances (2) are marks of the rig, `working` is the index of the
    working stop. `missing` are the kit's keys of openings that are
    not known and not counted: with them there can only be less light.
    """

    stops: Floats
    distances_mm: Floats
    marked: NDArray[np.bool_]
    working: int
    deliveries: tuple[Corner, ...]
    missing: tuple[str, ...]

    @property
    def delivered(self) -> tuple[Corner, ...]:
        """The corners that will be seen: the deliveries', or the sensor mode's without any."""
        return self.deliveries or (self,)


def coverage(
    kit: Kit, rig: Rig, deliveries: Sequence[Delivery], *, lenses: bool = True
) -> Coverage | tuple[str, ...]:
    """Return a rig's coverage, or the kit's keys without which nothing can be said.

    The shortest focal lengths take most of the time; without `lenses` they are nan.
    """
    distances = np.array([np.inf, float(np.min(rig.distances_mm))])
    found, stands = openings(kit, rig, distances), train(rig, distances)
    if stands is None:
        return (f"taking_lenses.{rig.lens_id}.entrance_pupil", *found.missing)
    if not found.apertures:
        return found.missing
    frames, stops = _frames(rig, deliveries), sorted({rig.lens.widest_stop, *kit.stops})
    values = _values(stands, found, list(frames.values()), np.array(stops), lenses=lenses)
    whole, *crops = (
        {"name": name} | {key: value[i] for key, value in values.items()}
        for i, name in enumerate(frames)
    )
    return Coverage(
        **whole,
        stops=np.array(stops),
        distances_mm=distances,
        marked=np.isin(distances, rig.distances_mm),
        working=stops.index(kit.stops[0]),
        deliveries=tuple(Corner(**crop) for crop in crops),
        missing=found.missing,
    )


def _frames(rig: Rig, deliveries: Sequence[Delivery]) -> dict[str, tuple[float, float]]:
    """Return width and height on the sensor (mm) of the sensor mode and of each delivery."""
    return {"sensor mode": (rig.sensor.width_mm, rig.sensor.height_mm)} | {
        each.name: (float(each.sensor.width_mm), float(each.sensor.height_mm))
        for each in deliveries
    }


def _values(
    stands: Train, found: Openings, frames: Sequence[tuple[float, float]], stops: Floats, *,
    lenses: bool,
) -> dict[str, Floats]:  # fmt: skip
    """Return all that a `Corner` says, in figures: frames × stops × distances."""
    half = np.array(frames)[:, np.newaxis, np.newaxis] / 2.0
    at: dict[str, Any] = {
        "apertures": found.apertures, "stop": stops[:, np.newaxis],
        "image_x_mm": half[..., 0], "image_y_mm": half[..., 1],
    }  # fmt: skip
    passed = clear_fraction(stands, **at)
    full = chief = np.array(np.nan)
    if lenses:
        full = shortest_focal_length_mm(stands, **at)
        chief = shortest_focal_length_mm(stands, beam="chief", **at)
    values = {
        "passed": passed,
        "full_crop": widest_crop(stands, **at),
        "half_crop": widest_crop(stands, beam="half", **at),
        "shortest_full_mm": full,
        "shortest_chief_mm": chief,
    }
    return {key: np.broadcast_to(value, passed.shape) for key, value in values.items()}
