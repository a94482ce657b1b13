"""A check as plain data for machines; null is the unknown, and infinity.

One entry a rig, its keys always these, in this order. Lengths are mm from the sensor plane toward
the subject, masses g, forces N, moments N m (positive where the front droops), angles radians,
shares 0 to 1. A verdict is "fits", "does not meet", "caution" or "cannot tell".

- `rig`, `name`, `works`, `faults`, `cautions`: sentences; it works where there is no fault.
- `chain`: `place`, `verdict`, `reason`, `wanted` (what to get) of each joint, opening, movement.
- `coverage`: `stops`, `distances_mm` (infinity, nearest mark), `working_stop`, `missing` (keys of
  openings not counted, or without which nothing is told: then `corners` is empty), and `corners`,
  the sensor mode's first, then each delivery's. Tables of a row a stop, a column a distance:
  `light`, the share of the corner's beam that passes; `fully_lit_width` and `half_lit_width`, the
  widest clear crop as a share of this frame's width (1 or more is the whole, null nothing limits);
  `shortest_fully_lit_mm` and `shortest_chief_ray_mm`, focal lengths (null is none). `delivered`:
  the corners that will be seen, by `name`, with `light_at_marks`, a column for each of `marks_mm`.
- `reach`: `nearest_mm`, `limited_by`, and `close_up_lenses`: `name`, `power_dioptres`, `mounted`,
  and for each of the picture's `distances_mm` the rings are set to, `subject_mm`, `near_mm` and
  `far_mm` (working stop), `frame_width_mm`, `frame_height_mm` (of the first delivery).
- `load` and `load_with_front_unit` (null without the rig's `front_unit`, else with its mass,
  `front_unit_g`, on the front): `mass_g`, `centre_mm`,
  `tripod_thread_mm`, `plate_mm` (the carrier's axis from that thread), `plate_range_mm`,
  `plate_verdict`, `payload_g`, `payload_margin_g`, `payload_verdict`, `support_n`, `mount_n`,
  `loads` (`title`, `mass_g`, `centre_mm`), `sections` (`place`, `position_mm`, `hanging_nm`
  unsupported, `right_nm` with the support rightly set, `lifting_nm` with it raised too hard, both
  null without one, `least_nm` (of what is known, which the unknown can only add to), `limit_nm`,
  `verdict`). `support_n` and `mount_n` are with it rightly set.
  `load_missing`: keys that would tell more.
- `marks_missing`: why a ring has no marks; then squeeze, frames and limits of depth of field are
  those of the values entered.
- `picture`: `distances_mm` (the marks), and a list, an entry for each of them, of: `squeeze` (the
  true one, which is the factor for post) with `squeeze_95` (half-width), `desqueeze` (the factor
  applied: `squeeze`, or the rig's one for all, which is then `one_factor`, else null), `ratio` and
  `pixels` (columns, rows) so desqueezed, `widening_percent` (how much too wide faces are where all
  is desqueezed by `widened_by`: `one_factor`, else the nominal squeeze). `deliveries`: `name`, and
  for each mark `width_px`, `height_px`, `left_px`, `top_px` of the crop, `sensor_width_mm`,
  `sensor_height_mm`, `frame_width_mm`, `frame_height_mm` (at the subject). `pans`: null, or
  `delivery`, `multiples` of one picture width in 7 s; tables of a row a multiple, a column a mark:
  `rate_rad_s`, `lean_rad`, `spherical_lean_rad`; the kit's `lean_limit_rad`, and `fastest_rad_s` at
  each mark, which leans so far. They turn about the sensor; the rule is for 24 frames/s and a 180°
  shutter. `missing`.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from focuschart.checks.coverage import Corner, Coverage
from focuschart.checks.picture import PAN_MULTIPLES, Delivery, Picture
from focuschart.checks.reach import Reach
from focuschart.checks.rig_check import RigCheck
from focuschart.rig.balance import Balance
from focuschart.units import steady


def rig_data(check: RigCheck) -> dict[str, Any]:
    """Return all that is found of a rig under the keys above."""
    found: dict[str, Any] = {
        "rig": check.rig.rig_id,
        "name": check.rig.name,
        "works": check.works,
        "faults": check.faults,
        "cautions": check.cautions,
        "chain": [
            {"place": each.place, "verdict": each.verdict, "reason": each.reason,
             "wanted": each.wanted}
            for each in check.chain
        ],
        "coverage": _coverage(check.coverage),
        "reach": _reach(check.reach),
        "load": _load(check.balance),
        "load_with_front_unit": check.loaded
        and {"front_unit_g": check.loaded.front_unit_g, **_load(check.loaded)},
        "load_missing": check.load_missing,
        "picture": _picture(check.picture),
        "marks_missing": check.marks_missing,
    }  # fmt: skip
    return {key: _plain(value) for key, value in found.items()}


def _coverage(found: Coverage | tuple[str, ...]) -> dict[str, Any]:
    if not isinstance(found, Coverage):
        return {"stops": [], "distances_mm": [], "working_stop": None, "missing": found,
                "corners": [], "marks_mm": [], "delivered": []}  # fmt: skip
    return {
        "stops": found.stops,
        "distances_mm": found.distances_mm,
        "working_stop": found.stops[found.working],
        "missing": found.missing,
        "corners": [_corner(corner) for corner in (found, *found.deliveries)],
        "marks_mm": found.light.distances_mm,
        "delivered": [
            {"name": name, "light_at_marks": passed}
            for name, passed in zip(found.light.names, found.light.passed, strict=True)
        ],
    }


def _corner(corner: Corner) -> dict[str, Any]:
    return {
        "name": corner.name,
        "light": corner.passed,
        "fully_lit_width": corner.full_crop,
        "half_lit_width": corner.half_crop,
        "shortest_fully_lit_mm": corner.shortest_full_mm,
        "shortest_chief_ray_mm": corner.shortest_chief_mm,
    }


def _reach(found: Reach) -> dict[str, Any]:
    return {
        "nearest_mm": found.nearest_mm,
        "limited_by": found.limited_by,
        "close_up_lenses": [
            {
                "name": table.name,
                "power_dioptres": table.power,
                "mounted": table.mounted,
                "subject_mm": table.close_up.subject_mm,
                "near_mm": table.close_up.limits.near_mm,
                "far_mm": table.close_up.limits.far_mm,
                "frame_width_mm": table.close_up.frame.width_mm,
                "frame_height_mm": table.close_up.frame.height_mm,
            }
            for table in found.close_ups
        ],
    }


def _load(found: Balance) -> dict[str, Any]:
    names = (
        "mass_g", "centre_mm", "tripod_thread_mm", "plate_mm", "plate_range_mm", "plate_verdict",
        "payload_g", "payload_margin_g", "payload_verdict", "support_n", "mount_n",
    )  # fmt: skip
    parts = {
        "loads": (found.loads, ("title", "mass_g", "centre_mm")),
        "sections": (
            found.sections,
            (
                "place",
                "position_mm",
                "hanging_nm",
                "right_nm",
                "lifting_nm",
                "least_nm",
                "limit_nm",
                "verdict",
            ),
        ),
    }
    rows = {
        key: [{name: getattr(each, name) for name in keys} for each in of]
        for key, (of, keys) in parts.items()
    }
    return {name: getattr(found, name) for name in names} | rows


def _picture(shown: Picture) -> dict[str, Any]:
    pans = None
    if shown.pans is not None:
        pans = {
            "delivery": shown.deliveries[0].name,
            "multiples": PAN_MULTIPLES,
            "rate_rad_s": shown.pans.rate_rad_s,
            "lean_rad": shown.pans.lean_rad,
            "spherical_lean_rad": shown.pans.spherical_lean_rad,
            "lean_limit_rad": shown.lean_limit_rad,
            "fastest_rad_s": shown.fastest_pan_rad_s,
        }
    return {
        "distances_mm": shown.distances_mm,
        "squeeze": shown.squeeze,
        "squeeze_95": shown.squeeze_95,
        "desqueeze": shown.desqueeze,
        "one_factor": shown.one_factor,
        "ratio": shown.ratio,
        "pixels": shown.pixels,
        "widened_by": shown.widened_by,
        "widening_percent": shown.widening_percent,
        "deliveries": [_delivery(each) for each in shown.deliveries],
        "pans": pans,
        "missing": shown.missing,
    }


def _delivery(delivery: Delivery) -> dict[str, Any]:
    sides = ("width_px", "height_px", "left_px", "top_px")
    return {
        "name": delivery.name,
        **{side: delivery.pixels and getattr(delivery.pixels, side) for side in sides},
        "sensor_width_mm": delivery.sensor.width_mm,
        "sensor_height_mm": delivery.sensor.height_mm,
        "frame_width_mm": delivery.frame.width_mm,
        "frame_height_mm": delivery.frame.height_mm,
    }


def _plain(value: Any) -> Any:
    """Return arrays as lists, numbers as `steady` has them, None for infinity and the unknown."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, np.ndarray | np.generic):
        return _plain(value.tolist())
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, float):
        return steady(value) if math.isfinite(value) else None
    return value
