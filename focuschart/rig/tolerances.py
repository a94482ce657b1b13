"""The tolerance of each ring of a rig, as travel of its moving part."""

from __future__ import annotations

from focuschart.optics import tolerance
from focuschart.optics.arrays import Floats
from focuschart.optics.depth_of_field import Aperture
from focuschart.rig.assemble import Rig
from focuschart.rig.laws import taking_law
from focuschart.rig.place import GroupPlaces
from focuschart.rig.ring import Which


def tolerance_travel(
    rig: Rig, which: Which, lens: Aperture, place: GroupPlaces, constants: Floats
) -> Floats:
    """Return the travel (mm) of one ring that blurs each of the rig's distances by one criterion.

    `lens` and `place` are the rig focused on these distances, `constants` those of the ring's law.
    An error of the taking lens blurs the horizontal meridian S times as much as the vertical one,
    so its tolerance is divided by S.
    """
    if which == "taking":
        position = rig.lens_position_mm(rig.distances_mm)
        own = taking_law(rig.lens).tolerance_travel(lens, position, constants)
        return own / rig.attachment.squeeze
    return tolerance.attachment_travel_mm(
        lens, place.match, squeeze=rig.attachment.squeeze, lens_to_rear_mm=place.lens_to_rear_mm
    )
