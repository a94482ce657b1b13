"""From a kit to the charts of its rigs."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace

import numpy as np

from focuschart.chart.bench import RINGS, Which, attachment_law
from focuschart.chart.depth import Depth, depth_of_field, known_lens
from focuschart.chart.inputs import Inputs, Print, print_inputs, zone_of
from focuschart.chart.marks import banded, ring_marks, setting
from focuschart.chart.model import KnownBy, RigChart
from focuschart.chart.pair import pair_95
from focuschart.chart.scales import MeasuredScale, Scales, fit_scales
from focuschart.errors import KitError, OpticsError, Problem
from focuschart.kit.schema import Kit
from focuschart.optics import tolerance
from focuschart.optics.arrays import Floats
from focuschart.rig.assemble import Rig, assemble
from focuschart.scale.fit import HALF_WIDTH_95
from focuschart.scale.laws import prior_centres

Measured = Mapping[Which, MeasuredScale | None]
"""Both rings' scales, None for one without readings."""


def build_charts(
    kit: Kit, *, source: str, only: Collection[str] = (), unmarked: bool = False
) -> Iterator[RigChart]:
    """Yield the chart of every rig of a checked kit, or of `only` some, in the kit's order.

    Readings count for every rig that shares the ring, whichever rigs are asked for. All rings are
    fitted before the first chart; raises KitError, naming `source`, for readings
    from which a ring's scale cannot be found. With `unmarked` such a ring is taken as one without
    readings, and the chart says why.
    """
    rigs = {rig_id: assemble(kit, rig_id) for rig_id in kit.rigs}
    scales = fit_scales(kit, rigs)
    if scales.refused and not unmarked:
        raise KitError(source, list(scales.refused.values()))
    return (_located(kit, rigs[key], scales, source) for key in rigs if not only or key in only)


def _located(kit: Kit, rig: Rig, scales: Scales, source: str) -> RigChart:
    """Return a rig's chart; what the optics refuse is a problem of that rig."""
    try:
        return _chart(kit, rig, scales)
    except OpticsError as error:
        rule = f"cannot be solved at the nearest mark, {error}: check lengths and distances"
        raise KitError(source, [Problem(f"rigs.{rig.rig_id}", "", rule)]) from None


def _chart(kit: Kit, rig: Rig, scales: Scales) -> RigChart:
    measured = {which: scales.of(rig, which) for which in RINGS}
    optic, known_by = known_lens(rig, measured["taking"])
    rig = replace(rig, optic=optic)
    constants, spread = _attachment_constants(rig, measured["attachment"])
    stops = np.array(kit.stops)
    stands = setting(rig, stops=stops, constants=constants)
    depth = depth_of_field(rig, stops=stops, constants=constants, known_by=known_by)
    marks = {
        which: banded(stands, ring_marks(stands, scale, units=kit.units), depth.frame)
        for which, scale in measured.items()
        if scale is not None
    }
    taking, attachment = (marks.get(which) for which in RINGS)
    return RigChart(
        rig=rig,
        inputs=_inputs(kit, rig, measured, depth, known_by),
        stops=stops,
        distances_mm=rig.distances_mm,
        extension_mm=_extension(rig, measured["taking"]),
        separation_mm=stands.place.match.separation_mm,
        separation_95_mm=HALF_WIDTH_95 * _separation_sigma(rig, constants, spread),
        squeeze=stands.squeeze,
        vertical=depth.vertical,
        horizontal=depth.horizontal,
        frame=depth.frame,
        lens_known_by=known_by,
        taking=taking,
        attachment=attachment,
        pair_95=pair_95(rig, taking, attachment),
        infinity_target_mm=_infinity_target_mm(rig),
        refused=scales.refusals(rig),
    )


def _inputs(
    kit: Kit, rig: Rig, measured: Measured, depth: Depth, known_by: KnownBy
) -> dict[Print, Inputs]:
    """Return the facts behind each print, from the readings and the zones that they led to."""
    rows = {which: scale.rows if scale else () for which, scale in measured.items()}
    contradicted = any(scale.doubtful for scale in measured.values() if scale)
    zone = zone_of(depth.vertical, depth.frame, contradicted=contradicted)
    return print_inputs(kit, rig, rows, zone, known_by=known_by)


def _infinity_target_mm(rig: Rig) -> float:
    return float(
        tolerance.infinity_target_mm(
            focal_length_mm=rig.lens.focal_length,
            stop=rig.lens.widest_stop,
            circle_mm=rig.circle_mm,
            squeeze=rig.attachment.squeeze,
        )
    )


def _attachment_constants(rig: Rig, measured: MeasuredScale | None) -> tuple[Floats, Floats]:
    """Return A, δ, S and their covariance (3 × 3), fitted or as entered."""
    if measured is not None:
        return measured.scale.constants, measured.scale.covariance[2:5, 2:5]
    law = attachment_law(rig.attachment)
    return prior_centres(law), np.diag([prior.sigma**2 for prior in law.priors])


def _separation_sigma(rig: Rig, constants: Floats, spread: Floats) -> Floats:
    """Return the standard error of d = A(S − 1) − h at each mark."""
    front_focal, _, squeeze = constants
    travel = attachment_law(rig.attachment).travel(
        rig.glass_position_mm(rig.distances_mm), constants
    )
    afocal = np.array([squeeze - 1.0, 0.0, front_focal])
    gradient = afocal - travel.by_constant
    return np.asarray(np.sqrt(np.einsum("ni,ij,nj->n", gradient, spread, gradient)))


def _extension(rig: Rig, measured: MeasuredScale | None) -> Floats:
    """Return the lens's extension by its fitted law, or of a thin lens where there is none."""
    if measured is None or rig.lens.focusing != "extends":
        return rig.optic.extension_mm(rig.lens_position_mm(rig.distances_mm))
    position = rig.lens_position_mm(rig.distances_mm)
    return measured.scale.law.travel(position, measured.scale.constants).value
