"""How near a rig focuses, what limits it, and what a close-up lens before it would give."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from focuschart.chart.model import Chart
from focuschart.kit.parts import CloseUpLens
from focuschart.kit.rules import nearest_mm
from focuschart.kit.schema import Kit
from focuschart.optics.arrays import Floats
from focuschart.optics.depth_of_field import Limits
from focuschart.optics.frame import Frame
from focuschart.optics.supplementary import CloseUp, Focused, close_up_table
from focuschart.rig.assemble import Rig
from focuschart.rig.openings import closed_mm


@dataclass(frozen=True, slots=True)
class Table:
    """What a close-up lens of `power` dioptres makes of n marks; `mounted` if the rig has it on."""

    name: str
    power: float
    mounted: bool
    close_up: CloseUp


@dataclass(frozen=True, slots=True)
class Reach:
    """The nearest subject of both rings and what limits it, from the sensor; close-up tables.

    What the rig has on comes first, as one lens, for the marks do not know of it; then each other
    close-up lens of the kit by itself.
    """

    nearest_mm: float
    limited_by: str
    close_ups: tuple[Table, ...]


def reach(chart: Chart, crop: Frame) -> Reach:
    """Return how near a rig focuses; depth of field is the frame's at the working stop."""
    rig = chart.rig
    limit, what = nearest_mm(chart.kit, chart.kit.rigs[rig.rig_id])
    focused = Focused(
        distance_mm=rig.distances_mm,
        limits=Limits(chart.frame.near_mm[0], chart.frame.far_mm[0]),
        magnification=rig.lens_magnification(rig.distances_mm),
        squeeze=chart.squeeze,
        image_mm=rig.image_mm(rig.distances_mm),
        lens_datum_mm=rig.lens_datum_mm(rig.distances_mm),
    )
    datum = front_vertex_mm(rig)
    return Reach(limit, what, tuple(
        Table(name, power, mounted,
              close_up_table(np.array(power), focused, close_up_datum_mm=datum, crop=crop))
        for name, power, mounted in _powers(chart.kit, rig)
    ))  # fmt: skip


def front_vertex_mm(rig: Rig) -> Floats:
    """Return the foremost glass from the sensor at the rig's marks (n).

    The lens's front carries it out, and a front group that moves takes it back in. A close-up lens
    is taken to stand there: its rim is a few mm ahead (judgement, no source).
    """
    vertex = rig.front_glass_mm + rig.attachment.front_glass_mm / 2.0
    moves = 1.0 if rig.attachment.moving_group == "front" else 0.0
    inward = moves * closed_mm(rig, rig.distances_mm)
    return np.asarray(vertex + rig.carried_mm(rig.distances_mm) - inward)


def mounted(kit: Kit, rig: Rig) -> list[CloseUpLens]:
    """Return the close-up lenses that the kit has on a rig's front."""
    front = kit.rigs[rig.rig_id].front
    return [kit.close_up_lenses[part] for part in front if part in kit.close_up_lenses]


def _powers(kit: Kit, rig: Rig) -> Iterator[tuple[str, float, bool]]:
    on = mounted(kit, rig)
    if on:
        yield " and ".join(lens.name for lens in on), sum(lens.power for lens in on), True
    for lens in kit.close_up_lenses.values():
        if all(lens is not other for other in on):
            yield lens.name, lens.power, False
