"""From a kit to the charts of its rigs."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass

import numpy as np

from focuschart.chart.bench import Which, attachment_law
from focuschart.chart.engraved import engraved_mm, engraved_text
from focuschart.chart.geometry import Standing, standing
from focuschart.chart.inputs import print_inputs, zone_of
from focuschart.chart.model import RigChart, RingMarks
from focuschart.chart.pair import pair_95
from focuschart.chart.scales import MeasuredScale, Scales, fit_scales
from focuschart.chart.tolerances import tolerance_travel
from focuschart.errors import KitError, OpticsError, Problem
from focuschart.kit.schema import Kit, Ring
from focuschart.optics import tolerance
from focuschart.optics.arrays import Floats
from focuschart.optics.depth_of_field import (
    Aperture,
    Groups,
    Limits,
    frame_limits,
    horizontal_limits,
    vertical_limits,
)
from focuschart.rig.assemble import Rig, assemble
from focuschart.scale.fit import HALF_WIDTH_95
from focuschart.scale.laws import prior_centres


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
    taking = scales.of(rig, "taking")
    attachment = scales.of(rig, "attachment")
    stops = np.array(kit.stops)
    lens = rig.aperture(rig.distances_mm, stops[:, np.newaxis])
    constants, spread = _attachment_constants(rig, attachment)
    place = standing(rig, attachment_law(rig.attachment), constants, rig.distances_mm)
    vertical = vertical_limits(lens, lens_datum_mm=place.lens_datum_mm)
    horizontal = _horizontal(rig, lens, constants, place)
    frame = frame_limits(vertical, horizontal)
    setting = _Setting(kit, rig, lens, place, frame)
    measured = {"taking": taking, "attachment": attachment}
    rows = {name: scale.rows if scale else () for name, scale in measured.items()}
    contradicted = any(scale.doubtful for scale in measured.values() if scale)
    zone = zone_of(vertical, frame, contradicted=contradicted)
    lens_marks = _ring_marks(setting, "taking", taking)
    attachment_marks = _ring_marks(setting, "attachment", attachment)
    return RigChart(
        rig=rig,
        inputs=print_inputs(kit, rig, rows, zone),
        stops=stops,
        distances_mm=rig.distances_mm,
        extension_mm=_extension(rig, taking),
        separation_mm=place.match.separation_mm,
        separation_95_mm=HALF_WIDTH_95 * _separation_sigma(rig, constants, spread),
        squeeze=rig.attachment.squeeze / constants[2] * place.match.squeeze,
        vertical=vertical,
        horizontal=horizontal,
        frame=frame,
        taking=lens_marks,
        attachment=attachment_marks,
        pair_95=pair_95(rig, lens_marks, attachment_marks),
        infinity_target_mm=float(
            tolerance.infinity_target_mm(
                focal_length_mm=rig.lens.focal_length,
                stop=rig.lens.widest_stop,
                circle_mm=rig.circle_mm,
                squeeze=rig.attachment.squeeze,
            )
        ),
        refused=scales.refusals(rig),
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
        return np.asarray(rig.lens.focal_length * rig.lens_magnification(rig.distances_mm))
    position = rig.lens_position_mm(rig.distances_mm)
    return measured.scale.law.travel(position, measured.scale.constants).value


def _horizontal(rig: Rig, lens: Aperture, constants: Floats, place: Standing) -> Limits:
    front_focal, _, squeeze = constants
    groups = Groups(
        front_focal_mm=front_focal,
        rear_focal_mm=front_focal * squeeze,
        separation_mm=place.match.separation_mm,
        lens_to_rear_mm=place.lens_to_rear_mm,
        rear_datum_mm=place.rear_datum_mm,
    )
    return horizontal_limits(lens, groups, squeeze=rig.attachment.squeeze)


@dataclass(frozen=True, slots=True)
class _Setting:
    """What both rings' marks are made from; the taking lens at every stop (m × n)."""

    kit: Kit
    rig: Rig
    lens: Aperture
    place: Standing
    frame: Limits


def _ring_marks(
    setting: _Setting, which: Which, measured: MeasuredScale | None
) -> RingMarks | None:
    if measured is None:
        return None
    rig = setting.rig
    travel = tolerance_travel(rig, which, setting.lens, setting.place, measured.scale.constants)
    ring, position_mm = (
        (rig.lens.ring, rig.lens_position_mm)
        if which == "taking"
        else (rig.attachment.ring, rig.glass_position_mm)
    )
    return _marks(setting, _RingLine(measured, ring, position_mm), travel)


@dataclass(frozen=True, slots=True)
class _RingLine:
    """A measured ring and the distance it goes by."""

    measured: MeasuredScale
    ring: Ring
    position_mm: Callable[[Floats], Floats]

    def arc_mm(self, distance_mm: Floats, *, pool: int) -> Floats:
        return self.measured.scale.arc_mm(self.position_mm(distance_mm), pool=pool)


def _marks(setting: _Setting, line: _RingLine, tolerance_travel: Floats) -> RingMarks:
    rig, scale = setting.rig, line.measured.scale
    pool = line.measured.lens_number(rig.lens_id)
    arcs = line.arc_mm(rig.distances_mm, pool=pool)
    engraved = line.ring.engraved
    # Nearer than it can focus a ring has no mark, so a band ends at the ring's end.
    nearest = np.minimum(max(rig.lens.nearest, rig.attachment.nearest), rig.distances_mm)
    return RingMarks(
        measured=line.measured,
        arc_mm=arcs,
        arc_95_mm=HALF_WIDTH_95 * scale.arc_sigma_mm(line.position_mm(rig.distances_mm), pool=pool),
        tolerance_mm=abs(scale.arc_per_travel) * tolerance_travel,
        near_arc_mm=line.arc_mm(np.maximum(setting.frame.near_mm, nearest), pool=pool),
        far_arc_mm=line.arc_mm(setting.frame.far_mm, pool=pool),
        engraved_mm=engraved_mm(engraved, arcs),
        engraved_text=tuple(engraved_text(engraved, arc, setting.kit.units) for arc in arcs),
    )
