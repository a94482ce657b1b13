"""Whether the frame's corner sees the rim: coverage of one rig at its stops and distances."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from focuschart.chart.model import Chart
from focuschart.checks.picture import Picture
from focuschart.kit.schema import Kit
from focuschart.optics.arrays import Floats
from focuschart.optics.beam import Train
from focuschart.optics.coverage import clear_fraction, shortest_focal_length_mm, widest_crop
from focuschart.optics.frame import Frame
from focuschart.rig.assemble import Rig
from focuschart.rig.light import SENSOR, Light
from focuschart.rig.openings import Openings, openings, train, unknown_train


@dataclass(frozen=True, slots=True, kw_only=True)
class Corner:
    """Coverage of a frame's corner at m stops, at infinity and at the nearest mark (m × 2).

    `frame` is the frame on the sensor (2), `passed` the share of the corner's beam that passes;
    `full_crop` and `half_crop` are the widest crop, as a
    share of this frame's own width, whose corner is clear or half clear; `shortest_full_mm` and
    `shortest_chief_mm` the shortest focal length clear in the corner, infinity for none, for the
    whole beam and for its chief ray. With the margin of real glass, but for `passed`.
    """

    name: str
    frame: Frame
    passed: Floats
    full_crop: Floats
    half_crop: Floats
    shortest_full_mm: Floats
    shortest_chief_mm: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage(Corner):
    """Coverage of the sensor mode's corner, and of each delivery's.

    `light` is what reaches the corners that will be seen at every mark; `working` is the index of
    the working stop. `missing` are the kit's keys of openings that are not known and not counted:
    with them there can only be less light.
    """

    stops: Floats
    distances_mm: Floats
    light: Light
    working: int
    deliveries: tuple[Corner, ...]
    missing: tuple[str, ...]


def coverage(
    kit: Kit, chart: Chart, shown: Picture, *, lenses: bool = True
) -> Coverage | tuple[str, ...]:
    """Return a rig's coverage, or the kit's keys without which nothing can be said.

    The shortest focal lengths take most of the time; without `lenses` they are nan.
    """
    rig, light = chart.rig, chart.light
    distances = np.array([np.inf, float(np.min(rig.distances_mm))])
    found, stands = openings(kit, rig, distances), train(rig, distances)
    if stands is None:
        return (*unknown_train(rig), *found.missing)
    if light is None:
        return found.missing
    frames = _frames(rig, shown)
    values = _values(stands, found, list(frames.values()), light.stops, lenses=lenses)
    crops: list[dict[str, Any]] = [
        {"name": name, "frame": frame} | {key: value[i] for key, value in values.items()}
        for i, (name, frame) in enumerate(frames.items())
    ]
    return Coverage(
        **crops[0],
        stops=light.stops,
        distances_mm=distances,
        light=light,
        working=light.stops.tolist().index(chart.working_stop),
        deliveries=tuple(Corner(**crop) for crop in crops[1:]),
        missing=found.missing,
    )


def _frames(rig: Rig, shown: Picture) -> dict[str, Frame]:
    """Return the sensor mode and each delivery on the sensor, at infinity and the nearest mark.

    Each is finished as its shot is: at infinity by the nominal squeeze, or by the rig's one factor.
    """
    factor = rig.desqueezed_by(np.array([rig.attachment.squeeze, float(shown.squeeze[0])]))
    seen = {each.name: each.ratio for each in shown.deliveries if each.ratio is not None}
    return {
        name: rig.sensor.cropped(ratio, factor) for name, ratio in {SENSOR: None, **seen}.items()
    }


def _values(
    stands: Train, found: Openings, frames: Sequence[Frame], stops: Floats, *,
    lenses: bool,
) -> dict[str, Floats]:  # fmt: skip
    """Return all that a `Corner` says, in figures: frames × stops × distances."""
    half = [
        np.stack(sides)[:, np.newaxis] / 2.0
        for sides in zip(*((each.width_mm, each.height_mm) for each in frames), strict=True)
    ]
    at: dict[str, Any] = {
        "apertures": found.apertures, "stop": stops[:, np.newaxis],
        "image_x_mm": half[0], "image_y_mm": half[1],
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
