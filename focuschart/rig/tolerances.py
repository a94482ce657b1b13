"""How far each ring of a rig may be off, in travel."""

from __future__ import annotations

from focuschart.optics import tolerance
from focuschart.optics.arrays import Floats
from focuschart.optics.depth_of_field import Aperture
from focuschart.rig.assemble import Rig
from focuschart.rig.laws import taking_law
from focuschart.rig.place import Placement
from focuschart.rig.ring import Which


def tolerance_travel(
    rig: Rig, which: Which, lens: Aperture, place: Placement, constants: Floats
) -> Floats:
    """Return the travel of one ring that blurs its subjects by one criterion.

    `lens` and `place` hold the rig as it stands for the rig's distances, `constants` the law's own
    of this ring. The taking lens's slip blurs the horizontal meridian S times as much as the
    vertical one, so its tolerance is divided by S.
    """
    if which == "taking":
        position = rig.lens_position_mm(rig.distances_mm)
        own = taking_law(rig.lens).tolerance_travel(lens, position, constants)
        return own / rig.attachment.squeeze
    return tolerance.attachment_travel_mm(
        lens, place.match, squeeze=rig.attachment.squeeze, lens_to_rear_mm=place.lens_to_rear_mm
    )
