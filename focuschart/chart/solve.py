"""The chart of one rig, from its measured scales and the optics: the main line of the program.

At each mark, what both rings must show so that both meridians are sharp, with depth of field and
every stated error. The match itself is `match` in `optics/attachment.py`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from focuschart.bench.scales import MeasuredScale, Scales
from focuschart.chart.as_set import hand_errors
from focuschart.chart.depth import depth_of_field, known_lens
from focuschart.chart.marks import MatchedRig, RingMarks, banded, matched_rig, ring_marks
from focuschart.chart.model import Chart
from focuschart.chart.pair import PairErrors
from focuschart.chart.precision import KnownGlass, separation_sigma_mm, squeeze_sigma
from focuschart.kit.schema import Kit
from focuschart.optics import tolerance
from focuschart.optics.arrays import Floats
from focuschart.rig.assemble import Rig
from focuschart.rig.laws import attachment_law
from focuschart.rig.light import corner_light
from focuschart.rig.ring import RINGS, RigRing, Which, ring_key
from focuschart.scale.fit import HALF_WIDTH_95, known_unread
from focuschart.scale.problem import Squeezes


def solve_rig(kit: Kit, rig: Rig, scales: Scales) -> Chart:
    """Return the chart of a rig of the kit at its distances (n) and stops (m).

    Raises OpticsError for a mark that the glass cannot be focused at.
    """
    measured = {which: scales.of(rig, which) for which in RINGS}
    squeezes = scales.squeezes.get(ring_key(rig, "attachment"))
    chart = _solved(kit, rig, measured, _glass(rig, measured["attachment"], squeezes))
    return replace(chart, light=corner_light(kit, chart.rig, chart.squeeze))


def solve_at(chart: Chart, distances_mm: Floats) -> Chart:
    """Return a chart's rig solved for other distances (n), set by the same index strips.

    It is without light in the corners and engraved scales. Raises OpticsError for a distance that
    the glass cannot be focused at.
    """
    measured = {
        which: None if marks is None else marks.measured
        for which, (_, marks) in chart.rings().items()
    }
    rig = replace(chart.rig, distances_mm=distances_mm)
    found = _solved(chart.kit, rig, measured, chart.glass, engraved=False)
    taking, attachment = (
        own and new and replace(new, hand=own.hand, reference=own.reference)
        for own, new in ((chart.taking, found.taking), (chart.attachment, found.attachment))
    )
    pair = _pair(rig, taking, attachment)
    return replace(found, taking=taking, attachment=attachment, pair=pair)


def _pair(rig: Rig, taking: RingMarks | None, attachment: RingMarks | None) -> PairErrors | None:
    if taking is None or attachment is None:
        return None
    return PairErrors(taking, attachment, rig.attachment.squeeze)


def _solved(
    kit: Kit, rig: Rig, measured: Mapping[Which, MeasuredScale | None], glass: KnownGlass, *,
    engraved: bool = True,
) -> Chart:  # fmt: skip
    # What is known of the glass: the lens's f and hiatus, the attachment's A, δ and S.
    optic, known_by = known_lens(rig, measured["taking"])
    rig = replace(rig, optic=optic)
    # The match (`optics/attachment.py`): the separation of the groups at which the lens sees the
    # subject at one and the same distance in both meridians, and that distance.
    matched = matched_rig(rig, stops=rig.stops, glass=glass)
    # Depth of field in each meridian, and for the picture, which is sharp where both are.
    depth = depth_of_field(rig, stops=rig.stops, glass=glass, known_by=known_by)
    # What each ruler shows at the marks, and at the limits of the depth of field.
    marks = {
        which: banded(matched, _marks(kit, matched, scale, engraved=engraved), depth.frame)
        for which, scale in measured.items()
        if scale is not None
    }
    taking, attachment = (marks.get(which) for which in RINGS)
    return Chart(
        kit=kit,
        rig=rig,
        stops=rig.stops,
        distances_mm=rig.distances_mm,
        extension_mm=_extension_mm(rig, measured["taking"]),
        separation_mm=_separation_mm(rig, glass.constants),
        separation_95_mm=HALF_WIDTH_95 * separation_sigma_mm(rig, glass),
        squeeze=matched.squeeze,
        squeeze_95=HALF_WIDTH_95 * squeeze_sigma(rig, glass),
        vertical=depth.vertical,
        horizontal=depth.horizontal,
        frame=depth.frame,
        lens_known_by=known_by,
        glass=glass,
        taking=taking,
        attachment=attachment,
        pair=_pair(rig, taking, attachment),
        infinity_target_mm=_infinity_target_mm(rig),
        light=None,
    )


def _marks(kit: Kit, matched: MatchedRig, scale: MeasuredScale, *, engraved: bool) -> RingMarks:
    hand = hand_errors(kit, matched.rig, scale)
    return ring_marks(matched, scale, hand, units=kit.units, engraved=engraved)


def _glass(rig: Rig, measured: MeasuredScale | None, squeezes: Squeezes | None) -> KnownGlass:
    """Return what is known of the attachment: as fitted, or as entered for an unread ring."""
    if measured is not None:
        scale = measured.scale
        return KnownGlass(scale.constants, scale.constants_covariance, squeezes)
    return KnownGlass(*known_unread(attachment_law(rig.attachment), squeezes), squeezes)


def _extension_mm(rig: Rig, measured: MeasuredScale | None) -> Floats:
    """Return the lens's extension by its fitted law, or of a thin lens where there is none."""
    if measured is None or rig.lens.focusing != "extends":
        return np.asarray(rig.image_mm(rig.distances_mm) - rig.optic.focal_length_mm)
    position = rig.lens_position_mm(rig.distances_mm)
    return measured.scale.law.travel(position, measured.scale.constants).value


def _separation_mm(rig: Rig, constants: Floats) -> Floats:
    """Return the separation of the groups at each mark, for the height that marks are for."""
    position = rig.glass_position_mm(rig.distances_mm)
    share = RigRing(rig, "attachment").power_share(rig.distances_mm, rig.focus_height_mm)
    law = attachment_law(rig.attachment)
    return law.matched(position, constants, power_share=share).separation_mm


def _infinity_target_mm(rig: Rig) -> float:
    return float(
        tolerance.infinity_target_mm(
            focal_length_mm=rig.lens.focal_length,
            stop=rig.lens.widest_stop,
            circle_mm=rig.circle_mm,
            squeeze=rig.attachment.squeeze,
        )
    )
