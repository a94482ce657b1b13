"""From a kit to the charts of its rigs."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import replace

import numpy as np

from focuschart.bench.scales import MeasuredScale, Scales, fit_scales
from focuschart.chart.depth import depth_of_field, known_lens
from focuschart.chart.marks import banded, ring_marks, setting
from focuschart.chart.model import RigChart
from focuschart.chart.pair import pair_95
from focuschart.errors import LeftOut, OpticsError
from focuschart.kit.load import WHOLE_RIG, broken_rigs
from focuschart.kit.rules import marks_out_of_reach, stops_too_wide
from focuschart.kit.schema import Kit
from focuschart.optics import tolerance
from focuschart.optics.arrays import Floats
from focuschart.rig.assemble import Rig, assemble
from focuschart.rig.laws import attachment_law
from focuschart.rig.light import corner_light
from focuschart.rig.ring import RINGS
from focuschart.scale.fit import HALF_WIDTH_95
from focuschart.scale.laws import AttachmentConstants, prior_centres
from focuschart.units import format_length

_SHIFTED_MM = 1.0
"""How far beyond a mark the sharp plane may lie where the ring ends: less than a tape's error."""
_STEP = 1e-5
"""Of a constant, or of the glass: for derivatives, whose errors are then some 1e-10 of them."""


class Charts(Iterator[RigChart]):
    """The charts of a kit's rigs, one by one; `left_out` grows with what cannot be made of them."""

    def __init__(self, kit: Kit, only: Collection[str]) -> None:
        self.left_out: list[LeftOut] = []
        self._charts = self._solved(kit, only)

    def __next__(self) -> RigChart:
        """Return the next rig's chart."""
        return next(self._charts)

    def _solved(self, kit: Kit, only: Collection[str]) -> Iterator[RigChart]:
        self.left_out += broken_rigs(kit, only)
        rigs = {rig_id: assemble(kit, rig_id) for rig_id in kit.rigs}
        scales = fit_scales(kit, rigs)
        for rig_id in rigs if not only else [key for key in rigs if key in only]:
            chart = self._charted(kit, rigs[rig_id], scales)
            if chart is not None:
                yield chart

    def _charted(self, kit: Kit, rig: Rig, scales: Scales) -> RigChart | None:
        """Return a rig's chart, None where there is nothing to mark or the optics refuse it."""
        missing = [*_unmarked(kit, rig), *_unmeasured(rig, scales)]
        self.left_out += missing
        if not rig.distances_mm.size or not rig.stops.size:
            what = "distances" if not rig.distances_mm.size else "stops"
            why = f"none of its {what} can be set"
            self.left_out.append(LeftOut(rig.rig_id, WHOLE_RIG, why, f"add {what} that it reaches"))
            return None
        chart = _tried(kit, rig, scales)
        if isinstance(chart, str):
            refused = _impossible(kit, rig, scales)
            self.left_out += refused.values()
            missing += refused.values()
            possible = [each for each in rig.distances_mm.tolist() if each not in refused]
            chart = _tried(kit, replace(rig, distances_mm=np.array(possible)), scales)
        if isinstance(chart, str):
            return None
        return replace(chart, refused=scales.refusals(rig), left_out=tuple(missing))


class Solved(list[RigChart]):
    """The charts of a kit's rigs; `left_out` names what cannot be made of them."""

    left_out: tuple[LeftOut, ...] = ()


def solve(kit: Kit, *, rigs: Collection[str] = ()) -> Solved:
    """Return all charts of a kit, or of some rigs, at once; raises InputError for unknown ones."""
    kit.require_rigs(rigs)
    charts = build_charts(kit, only=rigs)
    found = Solved(charts)
    found.left_out = tuple(dict.fromkeys(charts.left_out))
    return found


def build_charts(kit: Kit, *, only: Collection[str] = ()) -> Charts:
    """Return the charts of every rig of a kit, or of `only` some, in the kit's order.

    Readings count for every rig that shares the ring, whichever rigs are asked for; all rings are
    fitted before the first chart. No rig stops another: what cannot be made of one, a ring, a mark,
    a stop or all of it, is named in `left_out`.
    """
    return Charts(kit, only)


def _unmarked(kit: Kit, rig: Rig) -> Iterator[LeftOut]:
    """Yield the marks and stops of the kit that a rig cannot have."""
    for problem in map(kit.placed, marks_out_of_reach(kit, rig.rig_id)):
        what = f"mark {problem.value.strip(chr(34))}"
        yield LeftOut(rig.rig_id, what, problem.place, problem.rule)
    for problem in map(kit.placed, stops_too_wide(kit, rig.rig_id)):
        yield LeftOut(rig.rig_id, f"stop f/{problem.value}", problem.place, problem.rule)


def _impossible(kit: Kit, rig: Rig, scales: Scales) -> dict[float, LeftOut]:
    """Return the marks that the optics refuse, by distance, each tried by itself."""
    found: dict[float, LeftOut] = {}
    for distance in rig.distances_mm.tolist():
        why = _tried(kit, replace(rig, distances_mm=np.array([distance])), scales)
        if isinstance(why, str):
            what = f"mark {format_length(distance)}"
            cure = "give a farther distance, or check lengths and readings"
            found[distance] = LeftOut(rig.rig_id, what, why, cure)
    return found


def _tried(kit: Kit, rig: Rig, scales: Scales) -> RigChart | str:
    """Return a rig's chart, or why the optics refuse it."""
    if not rig.distances_mm.size:
        return "no mark is left"
    try:
        chart = _chart(kit, rig, scales)
    except OpticsError as error:
        return str(error)
    # A lens at its end shows no nearer subject, and the glass before it shifts that away.
    if np.any(chart.rig.shown_mm(rig.distances_mm) > rig.distances_mm + _SHIFTED_MM):
        return "the attachment's glass takes it out of the taking lens's reach"
    return chart


def _unmeasured(rig: Rig, scales: Scales) -> Iterator[LeftOut]:
    """Yield the rings of a rig whose readings give no scale."""
    for which, problem in scales.refusals(rig).items():
        yield LeftOut(rig.rig_id, f"{which} ring", problem.place, problem.rule)


def _chart(kit: Kit, rig: Rig, scales: Scales) -> RigChart:
    measured = {which: scales.of(rig, which) for which in RINGS}
    optic, known_by = known_lens(rig, measured["taking"])
    rig = replace(rig, optic=optic)
    constants, spread = _attachment_constants(rig, measured["attachment"])
    stops = rig.stops
    stands = setting(rig, stops=stops, constants=constants)
    depth = depth_of_field(rig, stops=stops, constants=constants, known_by=known_by)
    marks = {
        which: banded(stands, ring_marks(stands, scale, units=kit.units), depth.frame)
        for which, scale in measured.items()
        if scale is not None
    }
    taking, attachment = (marks.get(which) for which in RINGS)
    light = corner_light(kit, rig, stands.squeeze)
    return RigChart(
        kit=kit,
        rig=rig,
        stops=stops,
        distances_mm=rig.distances_mm,
        extension_mm=_extension(rig, measured["taking"]),
        separation_mm=stands.place.match.separation_mm,
        separation_95_mm=HALF_WIDTH_95 * _separation_sigma(rig, constants, spread),
        squeeze=stands.squeeze,
        squeeze_95=HALF_WIDTH_95 * _squeeze_sigma(rig, constants, spread),
        vertical=depth.vertical,
        horizontal=depth.horizontal,
        frame=depth.frame,
        lens_known_by=known_by,
        taking=taking,
        attachment=attachment,
        pair_95=pair_95(rig, taking, attachment),
        infinity_target_mm=_infinity_target_mm(rig),
        light=light,
    )


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
        return measured.scale.constants, measured.scale.constants_covariance
    law = attachment_law(rig.attachment)
    return prior_centres(law), np.diag([prior.sigma**2 for prior in law.priors])


def _separation_sigma(rig: Rig, constants: Floats, spread: Floats) -> Floats:
    """Return the standard error of d = A(S − 1) − h at each mark."""
    named = AttachmentConstants(*constants)
    travel = attachment_law(rig.attachment).travel(
        rig.glass_position_mm(rig.distances_mm), constants
    )
    afocal = AttachmentConstants(
        front_focal_mm=named.squeeze - 1.0, offset_mm=0.0, squeeze=named.front_focal_mm
    )
    gradient = np.array(afocal) - travel.by_constant
    return np.asarray(np.sqrt(np.einsum("ni,ij,nj->n", gradient, spread, gradient)))


def _squeeze_sigma(rig: Rig, constants: Floats, spread: Floats) -> Floats:
    """Return the standard error of S(D) at each mark, from that of A, δ and S.

    The factor for post is the entered S times the fitted S(D)/S. So S counts with its prior's
    error, which passes through whole, not with the less that readings seem to leave of it.
    """
    law, position = attachment_law(rig.attachment), rig.glass_position_mm(rig.distances_mm)
    named = AttachmentConstants(*constants)
    prior = AttachmentConstants(*(each.sigma for each in law.priors))
    found = AttachmentConstants(*np.sqrt(np.diag(spread)))
    entered = AttachmentConstants(1.0, 1.0, squeeze=prior.squeeze / found.squeeze)
    spread = spread * np.outer(entered, entered)
    scales = named._replace(offset_mm=rig.attachment.front_glass)
    steps = np.diag(_STEP * np.abs(scales))
    up, down = (
        np.stack([law.matched(position, constants + sign * step).squeeze for step in steps])
        for sign in (1.0, -1.0)
    )
    gradient = ((up - down) / (2.0 * np.diag(steps)[:, np.newaxis])).T
    sigma = np.sqrt(np.einsum("ni,ij,nj->n", gradient, spread, gradient))
    return np.asarray(rig.attachment.squeeze / named.squeeze * sigma)


def _extension(rig: Rig, measured: MeasuredScale | None) -> Floats:
    """Return the lens's extension by its fitted law, or of a thin lens where there is none."""
    if measured is None or rig.lens.focusing != "extends":
        return np.asarray(rig.image_mm(rig.distances_mm) - rig.optic.focal_length_mm)
    position = rig.lens_position_mm(rig.distances_mm)
    return measured.scale.law.travel(position, measured.scale.constants).value
