"""The finished picture: sizes, crops, frame at the subject, squeeze for post, movement.

A shot is finished as advised: desqueezed by the squeeze S(D) of its mark, and cropped from that; or
all are by one factor, where the rig states its `desqueeze`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from focuschart.chart.model import Chart
from focuschart.kit.fields import parse_ratio
from focuschart.optics.arrays import Floats
from focuschart.optics.frame import (
    Frame,
    PixelCrop,
    Pixels,
    crop_in_pixels,
    desqueezed_ratio,
    desqueezed_width_px,
    frame_at_subject,
    widening_percent,
)
from focuschart.optics.movement import Pans, fastest_pan_rad_s, pan_table, swing_mm
from focuschart.rig.assemble import Rig, Sensor

PAN_MULTIPLES = np.array([1.0, 2.0, 4.0])
WHOLE = "whole frame"


@dataclass(frozen=True, slots=True)
class Delivery:
    """One finished ratio, None for the whole frame, at n marks.

    Its crop in desqueezed pixels and on the sensor; the frame at the subject.
    """

    name: str
    ratio: float | None
    pixels: PixelCrop | None
    sensor: Frame
    frame: Frame


@dataclass(frozen=True, slots=True)
class Picture:
    """What post and framing need; arrays over n marks, `pans` None without a readout time.

    `desqueeze` is the factor applied at each mark; `one_factor` the rig's own for all, None where
    each mark has its S(D); `widening_percent` says how much too wide faces are if all is
    desqueezed by that one factor, else by the nominal squeeze. `pixels` are columns and rows
    (n × 2). `deliveries` are the kit's, or the whole frame where it names none. Pans, multiples
    × n, are of the first. `fastest_pan_rad_s` (n) leans by the kit's `lean_limit_rad`: None where
    one of them is not known.
    """

    distances_mm: Floats
    squeeze: Floats
    squeeze_95: Floats
    desqueeze: Floats
    one_factor: float | None
    nominal_squeeze: float
    widening_percent: Floats
    ratio: Floats
    pixels: Pixels | None
    deliveries: tuple[Delivery, ...]
    pans: Pans | None
    lean_limit_rad: float | None
    fastest_pan_rad_s: Floats | None
    missing: tuple[str, ...]

    @property
    def widened_by(self) -> float:
        """The factor that `widening_percent` is told of."""
        return self.one_factor or self.nominal_squeeze


def picture(chart: Chart) -> Picture:
    """Return the finished picture of a rig."""
    rig, sensor, nominal = chart.rig, chart.rig.sensor, chart.rig.attachment.squeeze
    factor = rig.desqueezed_by(chart.squeeze)
    deliveries = tuple(_deliveries(chart, factor))
    sizes = {"pixels": sensor.pixels, "readout_time": sensor.readout_s}
    return Picture(
        distances_mm=rig.distances_mm,
        squeeze=chart.squeeze,
        squeeze_95=chart.squeeze_95,
        desqueeze=factor,
        one_factor=rig.desqueeze,
        nominal_squeeze=nominal,
        widening_percent=widening_percent(
            entered_squeeze=rig.desqueeze or nominal, true_squeeze=chart.squeeze
        ),
        ratio=desqueezed_ratio(width=sensor.width_mm, height=sensor.height_mm, squeeze=factor),
        pixels=_pixels(sensor, factor),
        deliveries=deliveries,
        pans=_pans(chart, deliveries[0], factor),
        lean_limit_rad=chart.kit.lean_limit,
        fastest_pan_rad_s=_fastest_pan(chart, factor, chart.kit.lean_limit),
        missing=tuple(f"{sensor.key}.{key}" for key, size in sizes.items() if size is None),
    )


def _deliveries(chart: Chart, factor: Floats) -> Iterator[Delivery]:
    rig = chart.rig
    ratios: dict[str, float | None] = {name: parse_ratio(name) for name in chart.kit.deliveries}
    for name, ratio in (ratios or {WHOLE: None}).items():
        crop = rig.sensor.cropped(ratio, factor)
        frame = frame_at_subject(
            crop,
            magnification=rig.lens_magnification(rig.distances_mm),
            squeeze=chart.squeeze,
        )
        yield Delivery(name, ratio, _pixel_crop(rig.sensor, ratio, factor), crop, frame)


def _pixels(sensor: Sensor, factor: Floats) -> Pixels | None:
    """Return columns and rows of the whole picture desqueezed by n factors (n × 2)."""
    if sensor.pixels is None:
        return None
    columns, rows = sensor.pixels
    wide = desqueezed_width_px(columns, squeeze=factor)
    return np.stack((wide, np.full_like(wide, rows)), axis=-1)


def _pixel_crop(sensor: Sensor, ratio: float | None, factor: Floats) -> PixelCrop | None:
    """Return the crop to a ratio, or nothing cropped; None where the pixels are not known."""
    if sensor.pixels is None:
        return None
    columns, rows = sensor.pixels
    if ratio is not None:
        return crop_in_pixels(ratio, width_px=columns, height_px=rows, squeeze=factor)
    wide = desqueezed_width_px(columns, squeeze=factor)
    edge = np.zeros_like(wide)
    return PixelCrop(wide, np.full_like(wide, rows), edge, edge)


def _swing_mm(rig: Rig) -> Floats:
    at = rig.distances_mm
    return swing_mm(at, magnification=rig.lens_magnification(at), image_mm=rig.image_mm(at))


def _pans(chart: Chart, delivery: Delivery, factor: Floats) -> Pans | None:
    """Return the pans of one delivery; all of the sensor's rows belong to its readout time."""
    sensor = chart.rig.sensor
    if sensor.readout_s is None:
        return None
    return pan_table(
        PAN_MULTIPLES[:, np.newaxis],
        picture_width_mm=delivery.sensor.width_mm,
        picture_height_mm=sensor.height_mm,
        swing_mm=_swing_mm(chart.rig),
        squeeze=chart.squeeze,
        readout_s=sensor.readout_s,
        stretch=factor / chart.squeeze,
    )


def _fastest_pan(chart: Chart, factor: Floats, lean_limit_rad: float | None) -> Floats | None:
    sensor = chart.rig.sensor
    if sensor.readout_s is None or lean_limit_rad is None:
        return None
    return fastest_pan_rad_s(
        lean_limit_rad,
        swing_mm=_swing_mm(chart.rig),
        readout_s=sensor.readout_s,
        picture_height_mm=sensor.height_mm,
        stretch=factor / chart.squeeze,
    )
