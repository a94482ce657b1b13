"""A thin dual-focus rig traced by ray transfer, knowing nothing of the formulas it checks.

Everything stands on one axis: sensor, thin taking lens, rear group +F, front group −A, subject.
The groups bend the horizontal meridian only. The pupil is the taking lens, f/N wide.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

Meridian = Literal["vertical", "horizontal"]
MovingGroup = Literal["front", "rear"]


@dataclass(frozen=True)
class ThinRig:
    """The rig as it stands, mm: v, t from lens to rear group, d between the groups, A and F."""

    focal_mm: float
    stop: float
    image_mm: float
    lens_to_rear_mm: float
    separation_mm: float
    front_focal_mm: float
    rear_focal_mm: float

    @property
    def front_mm(self) -> float:
        """The front group from the sensor."""
        return self.image_mm + self.lens_to_rear_mm + self.separation_mm

    def blur_mm(self, distance_mm: float, meridian: Meridian) -> float:
        """Return the blur on the sensor of a point at `distance_mm` from it, in full width.

        Negative where the rig is focused nearer than the point.
        """
        height, angle = self._at_lens(distance_mm, meridian)
        after = angle - height / self.focal_mm
        at_sensor = height + self.image_mm * after
        return self.focal_mm / self.stop * at_sensor / height

    def _at_lens(self, distance_mm: float, meridian: Meridian) -> tuple[float, float]:
        """Follow a ray from the point on the axis to the taking lens: height and angle there."""
        height, angle = 1.0, 1.0 / (distance_mm - self.front_mm)
        bends = meridian == "horizontal"
        angle += height / self.front_focal_mm if bends else 0.0
        height += self.separation_mm * angle
        angle -= height / self.rear_focal_mm if bends else 0.0
        return height + self.lens_to_rear_mm * angle, angle

    def lens_forward(self, travel_mm: float, *, carries: bool) -> ThinRig:
        """Return the rig with its taking lens extended, carrying the attachment or not."""
        closing = 0.0 if carries else travel_mm
        return replace(
            self,
            image_mm=self.image_mm + travel_mm,
            lens_to_rear_mm=self.lens_to_rear_mm - closing,
        )

    def closed(self, travel_mm: float, *, moving: MovingGroup) -> ThinRig:
        """Return the rig with its groups closer together by `travel_mm`."""
        rear = travel_mm if moving == "rear" else 0.0
        return replace(
            self,
            separation_mm=self.separation_mm - travel_mm,
            lens_to_rear_mm=self.lens_to_rear_mm + rear,
        )
