"""Matched thin rigs, both as our optics describe them and as rays see them."""

from __future__ import annotations

from dataclasses import dataclass

from hypothesis import strategies as st

from focuschart.optics import attachment, depth_of_field
from focuschart.optics.attachment import MovingGroup
from focuschart.optics.depth_of_field import Aperture, Groups, Limits
from focuschart.optics.thin_lens import ThinLens
from tests.thin_rays import ThinRig

MOVING: tuple[MovingGroup, ...] = ("front", "rear")


@dataclass(frozen=True)
class Case:
    """A matched thin rig: 85 mm with −88/+176 mm unless said otherwise, c 0.03 mm."""

    distance_mm: float
    moving: MovingGroup = "front"
    squeeze: float = 2.0
    stop: float = 2.8
    circle_mm: float = 0.03
    focal_mm: float = 85.0
    lens_to_rear_mm: float = 60.0
    front_focal_mm: float = 88.0

    @property
    def image_mm(self) -> float:
        return float(ThinLens(self.focal_mm).image_mm(self.distance_mm))

    @property
    def match(self) -> attachment.Match:
        behind = self.image_mm + self.lens_to_rear_mm
        if self.moving == "rear":
            behind += self.front_focal_mm * (self.squeeze - 1.0)
        return attachment.match(
            self.distance_mm - behind,
            front_focal_mm=self.front_focal_mm, squeeze=self.squeeze, moving=self.moving,
        )  # fmt: skip

    @property
    def to_rear_mm(self) -> float:
        """Lens to rear group, which follows the match where the rear group moves."""
        if self.moving == "front":
            return self.lens_to_rear_mm
        afocal = self.front_focal_mm * (self.squeeze - 1.0)
        return self.lens_to_rear_mm + afocal - float(self.match.separation_mm)

    def vertical(self) -> Limits:
        return depth_of_field.vertical_limits(self.aperture(), lens_datum_mm=self.image_mm)

    def horizontal(self, *, opened_mm: float = 0.0) -> Limits:
        groups = Groups(
            front_focal_mm=self.front_focal_mm,
            rear_focal_mm=self.front_focal_mm * self.squeeze,
            separation_mm=self.match.separation_mm + opened_mm,
            lens_to_rear_mm=self.to_rear_mm,
            rear_datum_mm=self.image_mm + self.to_rear_mm,
        )
        return depth_of_field.horizontal_limits(self.aperture(), groups, squeeze=self.squeeze)

    def aperture(self) -> Aperture:
        return Aperture(self.focal_mm, self.image_mm, self.stop, self.circle_mm)

    def rays(self, *, opened_mm: float = 0.0) -> ThinRig:
        return ThinRig(
            focal_mm=self.focal_mm,
            stop=self.stop,
            image_mm=self.image_mm,
            lens_to_rear_mm=self.to_rear_mm,
            separation_mm=float(self.match.separation_mm) + opened_mm,
            front_focal_mm=self.front_focal_mm,
            rear_focal_mm=self.front_focal_mm * self.squeeze,
        )


CASES = st.builds(
    Case,
    distance_mm=st.floats(600.0, 3e4),
    moving=st.sampled_from(MOVING),
    squeeze=st.floats(1.1, 2.5),
    stop=st.floats(1.4, 16.0),
    circle_mm=st.floats(0.008, 0.04),
    focal_mm=st.floats(35.0, 135.0),
    lens_to_rear_mm=st.floats(20.0, 120.0),
    front_focal_mm=st.floats(60.0, 150.0),
)
