"""Panning: how fast the picture may cross itself, and how far a rolling shutter makes it lean.

Rates are rad/s, angles rad, times s. Rows and times belong together: `readout_s` is the time from
the first to the last row of `picture_height_mm`; a crop shrinks both alike. A global shutter has
readout 0. `focal_length_mm` is the engraved one, for a distant subject. A near subject leans more:
with the pan's axis through the sensor, as if f were D·(v/u)·S/S(D).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from focuschart.optics.arrays import Floats, Numbers

CROSSING_S = 7.0
"""The rule of thumb: pan no faster than one picture width in seven seconds, or edges judder. For 24
frames a second and a 180° shutter (a camera maker's technical article)."""


def horizontal_field_rad(
    *, picture_width_mm: Numbers, focal_length_mm: Numbers, squeeze: Numbers = 1.0
) -> Floats:
    """Return the horizontal angle of view, 2·atan(S·W/(2f)), of a picture W wide on the sensor.

    The nominal squeeze S multiplies tangents (an afocal attachment: W. J. Smith, Modern Optical
    Engineering, 4th ed. (2008), p. 289); 1 is a lens without attachment. Shapes broadcast.
    """
    half = np.asarray(squeeze, float) * picture_width_mm / (2.0 * np.asarray(focal_length_mm))
    return np.asarray(2.0 * np.arctan(half))


def pan_rate_rad_s(field_rad: Numbers, *, crossing_s: Numbers = CROSSING_S) -> Floats:
    """Return the rate of a pan across one horizontal field in `crossing_s` seconds."""
    return np.asarray(np.asarray(field_rad, float) / crossing_s)


def lean_rad(
    rate_rad_s: Numbers, *, focal_length_mm: Numbers, readout_s: Numbers, picture_height_mm: Numbers
) -> Floats:
    """Return how far an upright edge leans, after desqueezing: atan(rate·f·readout/height).

    In the middle of the picture an edge moves at rate·f/S over the sensor, and desqueezing undoes
    the S: the squeeze drops out. A spherical lens of the same horizontal field has focal length
    f/S and leans atan(rate·(f/S)·readout/height), S times less in tangents. At the sides of the
    picture both lean 1 + tan²(half the field) times as much, in tangents. Shapes broadcast.
    """
    shift = np.asarray(rate_rad_s, float) * focal_length_mm * readout_s
    return np.asarray(np.arctan(shift / picture_height_mm))


def fastest_pan_rad_s(
    allowed_lean_rad: Numbers, *, focal_length_mm: Numbers, readout_s: Numbers,
    picture_height_mm: Numbers,
) -> Floats:  # fmt: skip
    """Return the pan rate at which an upright edge leans by `allowed_lean_rad` > 0.

    The inverse of `lean_rad`, infinite for a global shutter. Shapes broadcast.
    """
    height = np.tan(np.asarray(allowed_lean_rad, float)) * picture_height_mm
    with np.errstate(divide="ignore"):
        return np.asarray(height / (np.asarray(focal_length_mm, float) * readout_s))


@dataclass(frozen=True, slots=True)
class Pans:
    """Pans side by side: rate, lean of the rig, lean of a spherical lens of the same field.

    Arrays (k, or broadcast), one for each multiple of the seven-second rate.
    """

    rate_rad_s: Floats
    lean_rad: Floats
    spherical_lean_rad: Floats


def pan_table(
    multiples: Numbers, *, picture_width_mm: Numbers, picture_height_mm: Numbers,
    focal_length_mm: Numbers, squeeze: Numbers, readout_s: Numbers,
) -> Pans:  # fmt: skip
    """Return pans at multiples, such as 1, 2 and 4, of one picture width in seven seconds.

    `picture_width_mm` is the delivered picture's, on the sensor. The spherical lens sees the same
    horizontal field on the same sensor: it is f/S long.
    """
    field = horizontal_field_rad(
        picture_width_mm=picture_width_mm, focal_length_mm=focal_length_mm, squeeze=squeeze
    )
    rate = np.asarray(multiples, float) * pan_rate_rad_s(field)
    spherical = np.asarray(focal_length_mm, float) / squeeze
    leans = (
        lean_rad(
            rate, focal_length_mm=focal, readout_s=readout_s, picture_height_mm=picture_height_mm
        )
        for focal in (focal_length_mm, spherical)
    )
    return Pans(rate, *leans)
