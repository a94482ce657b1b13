"""The finished picture: sizes, crops, frame at the subject, squeeze for post, movement."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from focuschart.chart.model import RigChart
from focuschart.kit.quantities import parse_ratio
from focuschart.kit.schema import Kit
from focuschart.optics.arrays import Floats
from focuschart.optics.frame import (
    Frame,
    PixelCrop,
    crop_in_pixels,
    crop_on_sensor,
    desqueezed_ratio,
    desqueezed_width_px,
    frame_at_subject,
    widening_percent,
)
from focuschart.optics.movement import Pans, pan_table
from focuschart.rig.assemble import Rig

PAN_MULTIPLES = np.array([1.0, 2.0, 4.0])


@dataclass(frozen=True, slots=True)
class Delivery:
    """One finished ratio: its crop in desqueezed pixels and on the sensor; the frame at n marks."""

    name: str
    pixels: PixelCrop | None
    sensor: Frame
    frame: Frame


@dataclass(frozen=True, slots=True)
class Picture:
    """What post and framing need; arrays over n marks, `pans` None without a readout time."""

    distances_mm: Floats
    squeeze: Floats
    widening_percent: Floats
    ratio: float
    pixels: tuple[int, int] | None
    deliveries: tuple[Delivery, ...]
    pans: Pans | None
    missing: tuple[str, ...]


def picture(kit: Kit, chart: RigChart) -> Picture:
    """Return the finished picture of a rig."""
    rig, squeeze = chart.rig, chart.squeeze
    camera, attachment = kit.cameras[rig.camera_id], rig.attachment
    size = {"width_mm": camera.sensor_width, "height_mm": camera.sensor_height}
    whole = desqueezed_ratio(
        width=camera.sensor_width, height=camera.sensor_height, squeeze=attachment.squeeze
    )
    pixels = None
    if camera.pixels is not None:
        wide = desqueezed_width_px(camera.pixels[0], squeeze=attachment.squeeze)
        pixels = (int(wide), camera.pixels[1])
    pans = None
    if camera.readout_time is not None:
        pans = pan_table(
            PAN_MULTIPLES, picture_width_mm=camera.sensor_width,
            picture_height_mm=camera.sensor_height, focal_length_mm=rig.lens.focal_length,
            squeeze=attachment.squeeze, readout_s=camera.readout_time / 1000.0,
        )  # fmt: skip
    missing = [f"cameras.{rig.camera_id}.{key}" for key in ("pixels", "readout_time")
               if getattr(camera, key) is None]  # fmt: skip
    names = kit.deliveries or [f"{float(whole):.2f}"]
    return Picture(
        distances_mm=rig.distances_mm,
        squeeze=squeeze,
        widening_percent=widening_percent(entered_squeeze=attachment.squeeze, true_squeeze=squeeze),
        ratio=float(whole),
        pixels=pixels,
        deliveries=tuple(_delivery(kit, rig, name, squeeze, size) for name in names),
        pans=pans,
        missing=tuple(missing),
    )


def _delivery(kit: Kit, rig: Rig, name: str, squeeze: Floats, size: dict[str, float]) -> Delivery:
    camera, nominal = kit.cameras[rig.camera_id], rig.attachment.squeeze
    ratio = parse_ratio(name)
    sensor = crop_on_sensor(ratio, squeeze=nominal, **size)
    pixels = None
    if camera.pixels is not None:
        pixels = crop_in_pixels(
            ratio, width_px=camera.pixels[0], height_px=camera.pixels[1], squeeze=nominal
        )
    seen = frame_at_subject(
        sensor, magnification=rig.lens_magnification(rig.distances_mm), squeeze=squeeze
    )
    return Delivery(name, pixels, sensor, seen)
