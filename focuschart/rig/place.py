"""Where lens and groups are when a rig is focused on a subject."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from focuschart.optics.arrays import Floats, Numbers
from focuschart.optics.attachment import Match
from focuschart.rig.assemble import Rig
from focuschart.scale.laws import AttachmentConstants, AttachmentLaw


@dataclass(frozen=True, slots=True)
class Placement:
    """The matched attachment and its place, mm; arrays shaped like the distances.

    `lens_datum_mm` is D − u of the taking lens, `rear_datum_mm` the rear group from the sensor.
    """

    match: Match
    lens_datum_mm: Floats
    rear_datum_mm: Floats

    @property
    def lens_to_rear_mm(self) -> Floats:
        """From the taking lens's front principal plane to the rear group, plate taken off."""
        return np.asarray(self.rear_datum_mm - self.lens_datum_mm)


def placement(rig: Rig, law: AttachmentLaw, constants: Floats, distance_mm: Numbers) -> Placement:
    """Return where the groups are for subjects at `distance_mm` from the sensor."""
    named = AttachmentConstants(*constants)
    matched = law.matched(rig.glass_position_mm(distance_mm), constants)
    front = rig.front_glass_mm + named.offset_mm + rig.carried_mm(distance_mm)
    if law.moving == "front":
        rear = front - named.front_focal_mm * (named.squeeze - 1.0)
    else:
        rear = front - matched.separation_mm
    return Placement(matched, rig.lens_datum_mm(distance_mm), np.asarray(rear))
