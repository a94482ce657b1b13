"""The positions of lens and groups when a rig is focused on a subject."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from focuschart.optics.arrays import Floats, Numbers
from focuschart.optics.attachment import Match
from focuschart.rig.assemble import Rig
from focuschart.scale.laws import AttachmentConstants, AttachmentLaw


@dataclass(frozen=True, slots=True)
class GroupPlaces:
    """The matched attachment and its position, mm; arrays have the shape of the distances.

    Both positions are from the sensor: `lens_datum_mm` is D − u, the taking lens's front principal
    plane with the plate shift, `rear_datum_mm` the rear group.
    """

    match: Match
    lens_datum_mm: Floats
    rear_datum_mm: Floats

    @property
    def lens_to_rear_mm(self) -> Floats:
        """From the taking lens's front principal plane to the rear group, less the plate shift."""
        return np.asarray(self.rear_datum_mm - self.lens_datum_mm)


def group_places(
    rig: Rig, law: AttachmentLaw, constants: Floats, distance_mm: Numbers
) -> GroupPlaces:
    """Return the positions for subjects at `distance_mm`, by the attachment's law."""
    named = AttachmentConstants(*constants)
    matched = law.matched(rig.glass_position_mm(distance_mm), constants)
    front = rig.front_glass_mm + named.offset_mm + rig.carried_mm(distance_mm)
    if law.moving == "front":
        rear = front - named.front_focal_mm * (named.squeeze - 1.0)
    else:
        rear = front - matched.separation_mm
    return GroupPlaces(matched, rig.lens_datum_mm(distance_mm), np.asarray(rear))
