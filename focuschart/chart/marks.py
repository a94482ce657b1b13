"""What a measured ring shows for a rig's distances."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from focuschart.bench.scales import MeasuredScale
from focuschart.chart.engraved import engraved_mm, engraved_text
from focuschart.chart.model import RingMarks
from focuschart.optics.arrays import Floats
from focuschart.optics.depth_of_field import Aperture, Limits
from focuschart.rig.assemble import Rig
from focuschart.rig.laws import attachment_law
from focuschart.rig.place import GroupPlaces, group_places
from focuschart.rig.tolerances import tolerance_travel
from focuschart.scale.laws import AttachmentConstants
from focuschart.units import Units


@dataclass(frozen=True, slots=True)
class MatchedRig:
    """A rig as it matched for its distances (n); `lens` holds every stop (m × n)."""

    rig: Rig
    lens: Aperture
    place: GroupPlaces
    squeeze: Floats
    """The nominal squeeze, changed with distance as the fitted attachment's is (n)."""


def matched_rig(rig: Rig, *, stops: Floats, constants: Floats) -> MatchedRig:
    """Return a rig focused at its distances, at all `stops` (m), by the constants A, δ and S."""
    lens = rig.aperture(rig.distances_mm, stops[:, np.newaxis])
    place = group_places(rig, attachment_law(rig.attachment), constants, rig.distances_mm)
    fitted = AttachmentConstants(*constants).squeeze
    squeeze = rig.attachment.squeeze / fitted * place.match.squeeze
    return MatchedRig(rig, lens, place, np.asarray(squeeze))


def ring_marks(
    matched: MatchedRig, measured: MeasuredScale, *, units: Units, engraved: bool = True
) -> RingMarks:
    """Return one ring's marks at the rig's distances, without bands (nan).

    Without `engraved` its engraved scale shows nothing.
    """
    rig, scale = matched.rig, measured.scale
    travel = tolerance_travel(
        rig, measured.readings.which, matched.lens, matched.place, scale.constants
    )
    arcs = measured.arc_mm(rig, rig.distances_mm)
    figures = measured.readings.ring.engraved if engraved else ()
    nowhere = np.full(travel.shape, np.nan)
    return RingMarks(
        measured=measured,
        arc_mm=arcs,
        arc_95_mm=measured.arc_95_mm(rig, rig.distances_mm),
        height_shift_mm=measured.height_shift_mm(rig, rig.distances_mm),
        tolerance_mm=abs(scale.arc_per_travel) * travel,
        near_arc_mm=nowhere,
        far_arc_mm=nowhere,
        engraved_mm=engraved_mm(figures, arcs),
        engraved_text=tuple(engraved_text(figures, float(arc), units) for arc in arcs),
    )


def banded(matched: MatchedRig, marks: RingMarks, frame: Limits) -> RingMarks:
    """Return a ring's marks with the arcs of the frame's limits (m × n)."""
    rig, measured = matched.rig, marks.measured
    # Nearer than it can focus a ring has no mark, so a band ends at the ring's end.
    nearest = np.minimum(max(rig.lens.nearest, rig.attachment.nearest), rig.distances_mm)
    return replace(
        marks,
        near_arc_mm=measured.arc_mm(rig, np.maximum(frame.near_mm, nearest)),
        far_arc_mm=measured.arc_mm(rig, frame.far_mm),
    )
