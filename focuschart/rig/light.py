"""The light in the corners of the delivered pictures, at every stop and mark of a rig."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from focuschart.kit.fields import parse_ratio
from focuschart.kit.schema import Kit
from focuschart.optics.arrays import Floats
from focuschart.optics.coverage import clear_fraction
from focuschart.rig.assemble import Rig
from focuschart.rig.openings import openings, train
from focuschart.units import Units, distance_label, format_stop

DARK = 1.0 / 32.0
"""A corner with less light than this, five stops down, is black; judgement, no source."""
DIM = 0.5
"""A corner with less light than this, a stop down, is not clean; judgement, no source."""
SENSOR = "sensor mode"


@dataclass(frozen=True, slots=True)
class Light:
    """The share of a corner's beam that passes, `passed`: k pictures × m stops × n marks.

    `names` are the pictures: the kit's deliveries, or without any the whole sensor mode. `stops`
    are the kit's and the widest of the lens; `asked` is true for the kit's. `units` are those for
    distances in words. `complete` says whether every opening is known.
    """

    names: tuple[str, ...]
    stops: Floats
    asked: NDArray[np.bool_]
    distances_mm: Floats
    passed: Floats
    units: Units
    complete: bool


@dataclass(frozen=True, slots=True)
class Clean:
    """The range without dim corners: from which of the kit's stops on, between which marks."""

    from_stop: float
    near_mm: float
    far_mm: float


def corner_light(kit: Kit, rig: Rig, squeeze: Floats) -> Light | None:
    """Return the light in a rig's corners, None without pupil, separation or any opening.

    `squeeze` is the true one at each mark (n).
    """
    marks = rig.distances_mm
    beam_path, passages = train(rig, marks), openings(kit, rig, marks)
    if beam_path is None or not passages.apertures:
        return None
    ratios: dict[str, float | None] = {name: parse_ratio(name) for name in kit.deliveries}
    ratios = ratios or {SENSOR: None}
    crops = [rig.sensor.cropped(ratio, rig.desqueezed_by(squeeze)) for ratio in ratios.values()]
    stops = np.array(sorted({rig.lens.widest_stop, *rig.stops.tolist()}))
    passed = clear_fraction(
        beam_path,
        passages.apertures,
        image_x_mm=np.stack([crop.width_mm for crop in crops])[:, np.newaxis] / 2.0,
        image_y_mm=np.stack([crop.height_mm for crop in crops])[:, np.newaxis] / 2.0,
        stop=stops[:, np.newaxis],
    )
    asked = np.isin(stops, rig.stops)
    return Light(tuple(ratios), stops, asked, marks, passed, kit.units, not passages.missing)


def clean(light: Light) -> Clean | None:
    """Return the range in which all corners are clean, None if there is none.

    Stopping down can darken a corner, so all of the kit's stops from `from_stop` on must be clean.
    Of several ranges, that with the most neighbouring marks is returned, then the widest stop.
    """
    bright = np.all(light.passed >= DIM, axis=0)[light.asked]
    stops, best = light.stops[light.asked], range(0)
    widest: Clean | None = None
    for i, stop in enumerate(stops.tolist()):
        run = longest_run(np.all(bright[i:], axis=0))
        if len(run) > len(best):
            best = run
            widest = Clean(
                stop, float(light.distances_mm[run[0]]), float(light.distances_mm[run[-1]])
            )
    return widest


def longest_run(of: NDArray[np.bool_]) -> range:
    """Return the indices of the longest run of true values, the first of several."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], of, [False])).astype(int)))
    runs = [range(start, end) for start, end in edges.reshape(-1, 2).tolist()]
    return max(runs, key=len, default=range(0))


def clean_text(light: Light) -> str:
    """Return the clean range in words: "corners clean from f/2.8 on, 1 m to ∞"."""
    area, known = clean(light), "" if light.complete else ", as far as openings are known"
    if area is None:
        return "corners clean at no stop"
    near, far = (distance_label(each, light.units) for each in (area.near_mm, area.far_mm))
    between = near if near == far else f"{near} to {far}"
    return f"corners clean from {format_stop(area.from_stop)} on, {between}{known}"
