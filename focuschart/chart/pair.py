"""How far off both rings of a rig are together at its marks."""

from __future__ import annotations

import numpy as np

from focuschart.bench.shared import shared, worse_95
from focuschart.chart.model import RingMarks
from focuschart.optics.arrays import Floats
from focuschart.rig.assemble import Rig
from focuschart.scale.fit import HALF_WIDTH_95


def pair_95(rig: Rig, taking: RingMarks | None, attachment: RingMarks | None) -> Floats | None:
    """Return the pair's 95 % error in criteria (m × n), the worse meridian; None if one is unread.

    Vertical e_t/tol_V; horizontal e_a/tol_a − S·e_t/tol_V, with what both errors share.
    """
    if taking is None or attachment is None:
        return None
    one, two = taking.measured, attachment.measured
    _, by_taking = one.modelled(rig, rig.distances_mm, rig.focus_height_mm)
    _, by_attachment = two.modelled(rig, rig.distances_mm, rig.focus_height_mm)
    common = shared(one, two).of_marks(by_taking, by_attachment)
    return worse_95(
        np.square(taking.arc_95_mm / HALF_WIDTH_95) / np.square(taking.tolerance_mm),
        np.square(attachment.arc_95_mm / HALF_WIDTH_95) / np.square(attachment.tolerance_mm),
        common / (taking.tolerance_mm * attachment.tolerance_mm),
        squeeze=rig.attachment.squeeze,
    )
