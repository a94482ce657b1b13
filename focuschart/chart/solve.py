"""The match of one rig: what both rings show at each mark so that both meridians are sharp.

From its measured scales and the optics to a chart with depth of field and every stated error.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from focuschart.bench.scales import MeasuredScale, Scales
from focuschart.chart.depth import depth_of_field, known_lens
from focuschart.chart.marks import banded, matched_rig, ring_marks
from focuschart.chart.model import Chart
from focuschart.chart.pair import pair_95
from focuschart.chart.precision import separation_sigma_mm, squeeze_sigma
from focuschart.kit.schema import Kit
from focuschart.optics import tolerance
from focuschart.optics.arrays import Floats
from focuschart.rig.assemble import Rig
from focuschart.rig.laws import attachment_law
from focuschart.rig.light import corner_light
from focuschart.rig.ring import RINGS, RigRing
from focuschart.scale.fit import HALF_WIDTH_95
from focuschart.scale.laws import prior_centres


def solved(kit: Kit, rig: Rig, scales: Scales) -> Chart:
    """Return the chart of a rig of the kit at its distances (n) and stops (m).

    Raises OpticsError for a mark that the glass cannot be focused at.
    """
    measured = {which: scales.of(rig, which) for which in RINGS}
    # What is known of the glass: the lens's f and hiatus, the attachment's A, δ and S.
    optic, known_by = known_lens(rig, measured["taking"])
    rig = replace(rig, optic=optic)
    constants, covariance = _attachment_constants(rig, measured["attachment"])
    # The match: the separation at which light leaves the attachment as from one distance in both
    # meridians, and that distance, at which the taking lens must be set.
    matched = matched_rig(rig, stops=rig.stops, constants=constants)
    # Depth of field in each meridian, and for the picture, which is sharp where both are.
    depth = depth_of_field(rig, stops=rig.stops, constants=constants, known_by=known_by)
    # What the ruler on each measured ring shows there, and at the limits of the depth of field.
    marks = {
        which: banded(matched, ring_marks(matched, scale, units=kit.units), depth.frame)
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
        separation_mm=_separation_mm(rig, constants),
        separation_95_mm=HALF_WIDTH_95 * separation_sigma_mm(rig, constants, covariance),
        squeeze=matched.squeeze,
        squeeze_95=HALF_WIDTH_95 * squeeze_sigma(rig, constants, covariance),
        vertical=depth.vertical,
        horizontal=depth.horizontal,
        frame=depth.frame,
        lens_known_by=known_by,
        taking=taking,
        attachment=attachment,
        pair_95=pair_95(rig, taking, attachment),
        infinity_target_mm=_infinity_target_mm(rig),
        light=corner_light(kit, rig, matched.squeeze),
    )


def _attachment_constants(rig: Rig, measured: MeasuredScale | None) -> tuple[Floats, Floats]:
    """Return A, δ, S and their covariance (3 × 3): fitted, or as entered for an unread ring."""
    if measured is not None:
        return measured.scale.constants, measured.scale.constants_covariance
    law = attachment_law(rig.attachment)
    return prior_centres(law), np.diag([prior.sigma**2 for prior in law.priors])


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
