"""A rig's numbers for optics, assembled from the parts in the kit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from focuschart.errors import OpticsError
from focuschart.kit.attachment import Attachment
from focuschart.kit.parts import TakingLens
from focuschart.kit.rules import open_stops, reached_mm
from focuschart.kit.schema import Kit
from focuschart.kit.schema import Rig as RigTable
from focuschart.optics import thin_lens
from focuschart.optics.arrays import Floats, Numbers
from focuschart.optics.depth_of_field import Aperture
from focuschart.optics.frame import Frame, crop_on_sensor
from focuschart.optics.thin_lens import ThinLens
from focuschart.scale.noise import ReadingErrors

_NEAR_LIMIT = 1.00001
"""Factor on a thin lens's nearest subject (life size), where slopes would be infinite."""

MS_PER_S = 1000.0


@dataclass(frozen=True, slots=True)
class Sensor:
    """The recorded area of a sensor mode, mm; `key` is its key in the kit.

    `pixels` are columns and rows, `readout_s` the time from the first row to the last; they are
    None where the kit does not give them.
    """

    key: str
    width_mm: float
    height_mm: float
    pixels: tuple[int, int] | None
    readout_s: float | None

    def cropped(self, ratio: float | None, desqueeze: Floats) -> Frame:
        """Return the crop for a delivery ratio, where post desqueezes by these factors (n).

        Without a ratio it is the whole sensor.
        """
        width = np.broadcast_to(self.width_mm, desqueeze.shape)
        height = np.broadcast_to(self.height_mm, desqueeze.shape)
        if ratio is None:
            return Frame(width, height)
        return crop_on_sensor(ratio, width_mm=width, height_mm=height, squeeze=desqueeze)


@dataclass(frozen=True, slots=True)
class Rig:
    """One camera, taking lens, chain and attachment; lengths in mm from the sensor mark.

    `front_glass_mm` is z₁, to the middle of the front glass with both rings at infinity;
    `plate_mm` is the shift of the subject, seen by the lens through both groups as plane plates.
    `distances_mm` are the marks that the rig can focus, `stops` those that the lens can be set to,
    the working stop first. `stated` is the taking lens as in the kit: it gives how far focusing
    carries the attachment, for readings and marks alike. `optic` is the lens as its readings show
    it, or else `stated`: it gives image distance, depth of field and tolerance. `parts_differ_mm`
    is the sum of the parts less the length measured as a whole. `reading_errors` says how well its
    rings are read. `focus_height_mm` is how far above the middle of the picture its marks are for,
    on the sensor. `desqueeze` is one factor for all shots in post, None where each shot has its
    own S(D).
    """

    rig_id: str
    name: str
    camera_id: str
    lens_id: str
    attachment_id: str
    lens: TakingLens
    attachment: Attachment
    sensor: Sensor
    circle_mm: float
    front_glass_mm: float
    distances_mm: Floats
    stops: Floats
    stated: ThinLens
    optic: ThinLens
    reading_errors: ReadingErrors
    focus_height_mm: float
    desqueeze: float | None = None
    parts_differ_mm: float | None = None

    @property
    def plate_mm(self) -> float:
        """The shift of the subject by the glass of both groups."""
        return thin_lens.PLATE_SHIFT * (
            self.attachment.front_glass_mm + self.attachment.rear_glass_mm
        )

    def desqueezed_by(self, squeeze: Floats) -> Floats:
        """Return the factors that post applies (n), from the true squeeze of each shot (n)."""
        return np.broadcast_to(np.asarray(self.desqueeze or squeeze), squeeze.shape)

    def lens_position_mm(self, distance_mm: Numbers) -> Floats:
        """Return the subject's distance as the taking lens sees it, less the plate shift."""
        return np.asarray(np.asarray(distance_mm, float) - self.plate_mm)

    def lens_magnification(self, distance_mm: Numbers) -> Floats:
        """Return v/u of the taking lens."""
        return self.optic.magnification(self._focused_mm(self.optic, distance_mm))

    def image_mm(self, distance_mm: Numbers) -> Floats:
        """Return the taking lens's image distance v."""
        return self.optic.image_mm(self._focused_mm(self.optic, distance_mm))

    def _focused_mm(self, lens: ThinLens, distance_mm: Numbers) -> Floats:
        """Return the position on which a lens is focused for a subject, at least its near limit.

        Near life size, the plate shift can put the nearest subject a few mm inside that limit; the
        limit is returned then. Subjects nearer than that are returned as they are.
        """
        position, end = self.lens_position_mm(distance_mm), _NEAR_LIMIT * lens.least_position_mm
        reached = _NEAR_LIMIT * (position + self.plate_mm) >= lens.least_position_mm
        beyond = (position < end) & reached
        return np.where(beyond, end, position)

    @property
    def longest_image_mm(self) -> float:
        """The image distance at the near end of the taking ring."""
        nearest = self.plate_mm + _NEAR_LIMIT * self.optic.least_position_mm
        return float(self.image_mm(max(self.lens.nearest, nearest)))

    def lens_datum_mm(self, distance_mm: Numbers) -> Floats:
        """Return D − u, the sum of image distance, hiatus and plate shift."""
        return np.asarray(self.image_mm(distance_mm) + self.optic.hiatus_mm + self.plate_mm)

    def focus_mm(self, distance_mm: Numbers) -> Floats:
        """Return the distance on which the lens is focused for a subject: its own or the limit."""
        return np.asarray(self._focused_mm(self.optic, distance_mm) + self.plate_mm)

    def carried_mm(self, distance_mm: Numbers) -> Floats:
        """Return x(D), how far focusing carries the attachment forward; 0 if the front is fixed."""
        if not self.lens.front_moves:
            return np.zeros(np.shape(distance_mm))
        return self.stated.extension_mm(self._focused_mm(self.stated, distance_mm))

    def glass_position_mm(self, distance_mm: Numbers) -> Floats:
        """Return the subject's distance from the middle of the front glass in its focused place."""
        ahead = np.asarray(distance_mm, float) - self.front_glass_mm
        return np.asarray(ahead - self.carried_mm(distance_mm))

    def glass_position_slope(self, distance_mm: Numbers) -> Floats:
        """Return the derivative of `glass_position_mm` by the subject's distance."""
        if not self.lens.front_moves:
            return np.ones(np.shape(distance_mm))
        m = self.stated.magnification(self._focused_mm(self.stated, distance_mm))
        return np.asarray(1.0 - thin_lens.extension_slope(m))

    def aperture(self, distance_mm: Numbers, stop: Numbers) -> Aperture:
        """Return the taking lens at a stop, focused on a subject."""
        return Aperture(
            self.optic.focal_length_mm,
            self.image_mm(distance_mm),
            stop,
            self.circle_mm,
            self.optic.hiatus_mm,
        )


def assemble(kit: Kit, rig_id: str) -> Rig:
    """Return one rig of a checked kit.

    Distances that it cannot focus and stops that its lens does not have are left out. Raises
    OpticsError if its length is not known.
    """
    rig = kit.rigs[rig_id]
    attachment = kit.attachments[rig.attachment]
    vertex = kit.front_vertex_mm(rig)
    if vertex is None:
        raise OpticsError(f'the length of rig "{rig_id}" is not known')
    lens = kit.taking_lenses[rig.taking_lens]
    return Rig(
        rig_id=rig_id,
        name=rig.name,
        camera_id=rig.camera,
        lens_id=rig.taking_lens,
        attachment_id=rig.attachment,
        lens=lens,
        attachment=attachment,
        sensor=_sensor(kit, rig),
        circle_mm=kit.circle_mm(rig),
        front_glass_mm=vertex - attachment.front_glass_mm / 2.0,
        distances_mm=np.array(sorted(reached_mm(kit, rig))),
        stops=np.array(open_stops(kit, rig.taking_lens)),
        stated=stated_lens(lens),
        optic=stated_lens(lens),
        reading_errors=ReadingErrors(
            kit.bench.ruler_error, kit.bench.eye_error, kit.bench.taping_error
        ),
        focus_height_mm=kit.focus_height_mm(rig),
        desqueeze=rig.desqueeze,
        parts_differ_mm=kit.parts_differ_mm(rig),
    )


def stated_lens(lens: TakingLens) -> ThinLens:
    """Return the taking lens as in the kit, its hiatus from the largest magnification if given."""
    if lens.largest_magnification is None:
        return ThinLens(lens.focal_length)
    hiatus = thin_lens.effective_hiatus_mm(
        lens.nearest, focal_length_mm=lens.focal_length, magnification=lens.largest_magnification
    )
    return ThinLens(lens.focal_length, float(hiatus))


def _sensor(kit: Kit, rig: RigTable) -> Sensor:
    mode = kit.mode(rig)
    columns, rows = mode.pixels or (0, 0)
    return Sensor(
        key=f"cameras.{rig.camera}"
        if rig.mode is None
        else f"cameras.{rig.camera}.modes.{rig.mode}",
        width_mm=mode.sensor_width,
        height_mm=mode.sensor_height,
        pixels=(columns, rows) if mode.pixels else None,
        readout_s=None if mode.readout_time is None else mode.readout_time / MS_PER_S,
    )
