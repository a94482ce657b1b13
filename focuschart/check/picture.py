"""The finished picture: sizes, crops, frame at the subject, squeeze for post, movement."""

from __future__ import annotations

from collections.abc import Iterator
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
from focuschart.optics.movement import Pans, fastest_pan_rad_s, pan_table
from focuschart.rig.assemble import Rig, Sensor

PAN_MULTIPLES = np.array([1.0, 2.0, 4.0])
WHOLE = "whole frame"


@dataclass(frozen=True, slots=True)
class Delivery:
    """One finished ratio: its crop in desqueezed pixels and on the sensor; the frame at n marks."""

    name: str
    pixels: PixelCrop | None
    sensor: Frame
    frame: Frame


@dataclass(frozen=True, slots=True)
class Picture:
    """What post and framing need; arrays over n marks, `pans` None without a readout time.

    `deliveries` are the kit's, or the whole frame where it names none. Pans are of the first.
    `fastest_pan_rad_s` leans by the kit's `lean_limit_rad`: None where one of them is not known.
    """

    distances_mm: Floats
    squeeze: Floats
    widening_percent: Floats
    ratio: float
    pixels: tuple[int, int] | None
    deliveries: tuple[Delivery, ...]
    pans: Pans | None
    lean_limit_rad: float | None
    fastest_pan_rad_s: float | None
    missing: tuple[str, ...]


def picture(kit: Kit, chart: RigChart) -> Picture:
    """Return the finished picture of a rig."""
    rig, sensor = chart.rig, chart.rig.sensor
    nominal = rig.attachment.squeeze
    pixels = None
    if sensor.pixels is not None:
        pixels = (int(desqueezed_width_px(sensor.pixels[0], squeeze=nominal)), sensor.pixels[1])
    deliveries = tuple(
        Delivery(
            name,
            crop,
            cropped,
            frame_at_subject(
                cropped,
                magnification=rig.lens_magnification(rig.distances_mm),
                squeeze=chart.squeeze,
            ),
        )
        for name, cropped, crop in _crops(kit, sensor, nominal)
    )
    ratio = desqueezed_ratio(width=sensor.width_mm, height=sensor.height_mm, squeeze=nominal)
    sizes = {"pixels": sensor.pixels, "readout_time": sensor.readout_s}
    return Picture(
        distances_mm=rig.distances_mm,
        squeeze=chart.squeeze,
        widening_percent=widening_percent(entered_squeeze=nominal, true_squeeze=chart.squeeze),
        ratio=float(ratio),
        pixels=pixels,
        deliveries=deliveries,
        pans=_pans(rig, deliveries[0]),
        lean_limit_rad=kit.lean_limit,
        fastest_pan_rad_s=_fastest_pan(rig, kit.lean_limit),
        missing=tuple(f"{sensor.key}.{key}" for key, size in sizes.items() if size is None),
    )


def _crops(
    kit: Kit, sensor: Sensor, squeeze: float
) -> Iterator[tuple[str, Frame, PixelCrop | None]]:
    """Yield each delivery's name, crop on the sensor and crop in pixels."""
    width, height = sensor.width_mm, sensor.height_mm
    for name in kit.deliveries:
        crop = crop_on_sensor(parse_ratio(name), width_mm=width, height_mm=height, squeeze=squeeze)
        yield name, crop, _pixel_crop(sensor.pixels, squeeze, parse_ratio(name))
    if not kit.deliveries:
        whole = Frame(np.asarray(width), np.asarray(height))
        yield WHOLE, whole, _pixel_crop(sensor.pixels, squeeze)


def _pixel_crop(
    pixels: tuple[int, int] | None, squeeze: float, ratio: float | None = None
) -> PixelCrop | None:
    """Return the crop to a ratio, or nothing cropped; None where the pixels are not known."""
    if pixels is None:
        return None
    columns, rows = pixels
    if ratio is not None:
        return crop_in_pixels(ratio, width_px=columns, height_px=rows, squeeze=squeeze)
    edge = np.asarray(0)
    return PixelCrop(desqueezed_width_px(columns, squeeze=squeeze), np.asarray(rows), edge, edge)


def _pans(rig: Rig, delivery: Delivery) -> Pans | None:
    """Return the pans of one delivery; all of the sensor's rows belong to its readout time."""
    if rig.sensor.readout_s is None:
        return None
    return pan_table(
        PAN_MULTIPLES,
        picture_width_mm=delivery.sensor.width_mm,
        picture_height_mm=rig.sensor.height_mm,
        focal_length_mm=rig.lens.focal_length,
        squeeze=rig.attachment.squeeze,
        readout_s=rig.sensor.readout_s,
    )


def _fastest_pan(rig: Rig, lean_limit_rad: float | None) -> float | None:
    if rig.sensor.readout_s is None or lean_limit_rad is None:
        return None
    return float(fastest_pan_rad_s(
        lean_limit_rad,
        focal_length_mm=rig.lens.focal_length,
        readout_s=rig.sensor.readout_s,
        picture_height_mm=rig.sensor.height_mm,
    ))  # fmt: skip
