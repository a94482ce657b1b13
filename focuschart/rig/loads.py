"""Where a rig's parts begin and where their weights act, mm from the sensor plane.

Both rings are at infinity; focusing a lens whose front moves shifts the parts in front a little. A
ring, filter or clamp has its centre in the middle of its thickness (judgement, no source). Rods,
plate and follow focus are not in the kit and not counted. Unknown values are nan.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

import numpy as np

from focuschart.kit.attachment import Attachment
from focuschart.kit.parts import Camera, TakingLens
from focuschart.kit.schema import Kit, Rig
from focuschart.optics.arrays import Floats
from focuschart.rig.chain import Part, parts

FRONT_UNIT_AHEAD_MM = 20.0
"""Distance of a front unit's centre from the rig's front end; judgement, no source."""


@dataclass(frozen=True, slots=True)
class Load:
    """One mass and its centre on the axis; `missing` are the kit's keys needed to know them.

    `least_mm` is a lower bound of the centre, for a centre that is not known.
    """

    title: str
    mass_g: float
    centre_mm: float
    missing: tuple[str, ...] = ()
    least_mm: float = math.nan


def starts_mm(kit: Kit, rig: Rig) -> list[float]:
    """Return where each of a rig's parts begins, from camera to front, and where the front ends.

    The attachment is placed by the front vertex, the chain by the lens's length.
    """
    lens, attachment = kit.taking_lenses[rig.taking_lens], kit.attachments[rig.attachment]
    flange = or_nan(kit.cameras[rig.camera].flange_focal_distance)
    vertex = or_nan(kit.front_vertex_mm(rig))
    thick = [or_nan(getattr(part.table, "thickness", None)) for part in parts(kit, rig)[2:]]
    chain, front = thick[: len(rig.chain)], thick[len(rig.chain) + 1 :]
    rim, rear = flange + or_nan(lens.length), vertex - or_nan(attachment.length)
    rear = rim + math.fsum(chain) if math.isnan(rear) else rear
    rim = rear - math.fsum(chain) if math.isnan(rim) else rim
    inner = list(accumulate(chain, initial=rim))[: len(chain)]
    return [0.0, flange, *inner, rear, *accumulate(front, initial=vertex)]


def loads(kit: Kit, rig: Rig, *, front_unit_g: float = 0.0) -> list[Load]:
    """Return a rig's parts as loads, from camera to front, then a front unit if it has a mass."""
    row, starts = parts(kit, rig), starts_mm(kit, rig)
    row_loads = [
        _load(part, start, placed_by(row, index, rig))
        for index, (part, start) in enumerate(zip(row, starts, strict=False))
    ]
    if front_unit_g > 0.0:
        centre_mm, missing = starts[-1] + FRONT_UNIT_AHEAD_MM, placed_by(row, len(row), rig)
        row_loads.append(Load("unit on the front", front_unit_g, centre_mm, missing))
    # A part with an unknown start begins no earlier than the last known start behind it.
    least = np.fmax.accumulate(starts[: len(row_loads)])
    return [
        replace(load, least_mm=float(np.fmax(start_mm, load.centre_mm)))
        for load, start_mm in zip(row_loads, least, strict=True)
    ]


def placed_by(row: Sequence[Part], index: int, rig: Rig) -> tuple[str, ...]:
    """Return the keys needed to know where one of a rig's parts begins, if that is unknown.

    For parts up to the attachment it is the attachment's length, for parts of the front the
    thickness of those behind.
    """
    first = len(row) - len(rig.front)
    if index < first:
        return (f"attachments.{rig.attachment}.length",)
    unknown = (p for p in row[first:index] if getattr(p.table, "thickness", 0.0) is None)
    return tuple(f"{p.key}.thickness" for p in unknown)


def support_load(kit: Kit, rig: Rig) -> list[Load]:
    """Return the support as a load on the carrier: rods hold it, not the lens; none without it."""
    if rig.support is None:
        return []
    support = kit.supports[rig.support]
    missing = () if support.mass is not None else (f"supports.{rig.support}.mass",)
    return [Load(f'support "{support.name}"', or_nan(support.mass), support.position, missing)]


def _load(part: Part, start_mm: float, placing: tuple[str, ...]) -> Load:
    """Return a part as a load, at its centre of gravity or the middle of its thickness.

    `placing` are the keys needed to know where it begins.
    """
    table = part.table
    if isinstance(table, Camera | TakingLens | Attachment):
        inside, key = table.centre_of_gravity, f"{part.key}.centre_of_gravity"
    else:
        inside, key = _half(table.thickness), f"{part.key}.thickness"
    missing = [f"{part.key}.mass"] if table.mass is None else []
    missing += [key] if inside is None else []
    missing += placing if math.isnan(start_mm) else ()
    distinct = tuple(dict.fromkeys(missing))
    return Load(part.title, or_nan(table.mass), start_mm + or_nan(inside), distinct)


def _half(size: float | None) -> float | None:
    return None if size is None else size / 2.0


def keys(loads: Iterable[Load]) -> tuple[str, ...]:
    """Return the missing keys of loads, each once."""
    return tuple(dict.fromkeys(key for load in loads for key in load.missing))


def masses_g(loads: Iterable[Load]) -> Floats:
    """Return the masses of loads, shape (n,)."""
    return np.array([load.mass_g for load in loads], float)


def centres_mm(loads: Iterable[Load]) -> Floats:
    """Return the centres of loads, shape (n,)."""
    return np.array([load.centre_mm for load in loads], float)


def or_nan(value: float | None) -> float:
    """Return a number, nan where it is not given."""
    return math.nan if value is None else value
