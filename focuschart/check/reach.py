"""How near a rig focuses, what limits it, and what a close-up lens before it would give."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from focuschart.chart.model import RigChart
from focuschart.kit.check import nearest_mm
from focuschart.kit.schema import Kit
from focuschart.optics.depth_of_field import Limits
from focuschart.optics.frame import Frame
from focuschart.optics.supplementary import CloseUp, Focused, close_up_table


@dataclass(frozen=True, slots=True)
class Reach:
    """The nearest subject and what limits it; each close-up lens's table over n marks."""

    nearest_mm: float
    limited_by: str
    close_ups: tuple[tuple[str, float, CloseUp], ...]


def reach(kit: Kit, chart: RigChart, crop: Frame) -> Reach:
    """Return how near a rig focuses; depth of field is the frame's at the working stop."""
    rig = chart.rig
    limit, what = nearest_mm(kit, kit.rigs[rig.rig_id])
    focused = Focused(
        distance_mm=rig.distances_mm,
        limits=Limits(chart.frame.near_mm[0], chart.frame.far_mm[0]),
        magnification=rig.lens_magnification(rig.distances_mm),
        squeeze=chart.squeeze,
        image_mm=rig.image_mm(rig.distances_mm),
        lens_datum_mm=rig.image_mm(rig.distances_mm) + rig.plate_mm,
    )
    datum = rig.front_glass_mm + rig.attachment.front_glass / 2.0
    tables = [
        (lens.name, lens.power,
         close_up_table(np.array(lens.power), focused, close_up_datum_mm=datum, crop=crop))
        for lens in kit.close_up_lenses.values()
    ]  # fmt: skip
    return Reach(limit, what, tuple(tables))
