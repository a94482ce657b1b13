"""One of a rig's two focus rings: its owner, its key, and the position that its law takes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from focuschart.optics.arrays import Floats, Numbers
from focuschart.optics.height import inclination_rad, power_share

if TYPE_CHECKING:
    from focuschart.kit.attachment import Attachment
    from focuschart.kit.parts import TakingLens
    from focuschart.kit.ring import Ring
    from focuschart.rig.assemble import Rig

Which = Literal["taking", "attachment"]
RINGS: tuple[Which, ...] = ("taking", "attachment")
RingKey = tuple[Which, str, str]
"""Which ring, its part's id, and for a taking lens the camera, which shifts its infinity mark."""


@dataclass(frozen=True, slots=True)
class RigRing:
    """The focus ring of a rig's taking lens or of its attachment."""

    rig: Rig
    which: Which

    @property
    def owner(self) -> TakingLens | Attachment:
        """The lens or attachment that the ring belongs to."""
        return self.rig.lens if self.which == "taking" else self.rig.attachment

    @property
    def barrel(self) -> Ring:
        """The ring as measured on the barrel."""
        return self.owner.ring

    @property
    def part(self) -> str:
        """The kit's key of its owner, "taking_lenses.long"."""
        if self.which == "taking":
            return f"taking_lenses.{self.rig.lens_id}"
        return f"attachments.{self.rig.attachment_id}"

    @property
    def key(self) -> RingKey:
        """The key of the ring, the same in every rig that has it."""
        if self.which == "taking":
            return self.which, self.rig.lens_id, self.rig.camera_id
        return self.which, self.rig.attachment_id, ""

    def position_mm(self, distance_mm: Numbers) -> Floats:
        """Return the position that the ring's law takes, for subjects at `distance_mm`."""
        if self.which == "taking":
            return self.rig.lens_position_mm(distance_mm)
        return self.rig.glass_position_mm(distance_mm)

    def power_share(self, distance_mm: Numbers, height_mm: Numbers) -> Floats:
        """Return ε of the law for subjects `height_mm` from the middle of the picture, on sensor.

        It is 0 for a taking lens, whose field may be curved in any way. A lens whose front stands
        still focuses inside, and its picture hardly grows: v is then f.
        """
        if self.which == "taking":
            return np.zeros(np.shape(distance_mm))
        rig = self.rig
        image = rig.image_mm(distance_mm) if rig.lens.front_moves else rig.optic.focal_length_mm
        share = power_share(inclination_rad(height_mm, image_mm=image))
        return np.broadcast_to(share, np.shape(distance_mm))


def ring_key(rig: Rig, which: Which) -> RingKey:
    """Return the key of one of a rig's rings."""
    return RigRing(rig, which).key
