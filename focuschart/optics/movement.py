"""Panning: the fastest rate without judder, and how much a rolling shutter makes edges lean.

Rates are rad/s, angles rad, times s. Rows and times belong together: `readout_s` is the time from
the first to the last row of `picture_height_mm`; a crop shrinks both alike. A global shutter has
readout 0.

The pan's axis is in the sensor plane (judgement: a tripod's thread is within some centimetres
of it). A subject at D then crosses sideways at rate·D, and the sensor's picture of it, by the
horizontal magnification, at rate·D·(v/u)/S(D): `swing_mm` is D·v/u, for a distant subject f.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from focuschart.optics.arrays import Floats, Numbers

CROSSING_S = 7.0
"""A rule of thumb: edges judder if a pan is faster than one picture width in seven seconds, at 24
frames a second and a 180° shutter (a camera maker's technical article)."""


def swing_mm(distance_mm: Numbers, *, magnification: Numbers, image_mm: Numbers) -> Floats:
    """Return D·v/u, how far an upright edge's picture moves per radian of a pan, times S(D).

    At infinity, where v/u is 0, it is v. Shapes broadcast.
    """
    distance = np.asarray(distance_mm, float)
    far = np.isinf(distance)
    near_mm = np.where(far, 0.0, distance) * np.asarray(magnification, float)
    return np.asarray(np.where(far, image_mm, near_mm))


def horizontal_field_rad(
    *, picture_width_mm: Numbers, swing_mm: Numbers, squeeze: Numbers = 1.0
) -> Floats:
    """Return the angle 2·atan(S·W/(2·swing)) of a picture W wide on the sensor, from the axis.

    The squeeze S(D) multiplies tangents (an afocal attachment: W. J. Smith, Modern Optical
    Engineering, 4th ed. (2008), p. 289); 1 is a lens without attachment. Shapes broadcast.
    """
    half = np.asarray(squeeze, float) * picture_width_mm / (2.0 * np.asarray(swing_mm))
    return np.asarray(2.0 * np.arctan(half))


def pan_rate_rad_s(field_rad: Numbers, *, crossing_s: Numbers = CROSSING_S) -> Floats:
    """Return the rate of a pan across one horizontal field in `crossing_s` seconds."""
    return np.asarray(np.asarray(field_rad, float) / crossing_s)


def lean_rad(
    rate_rad_s: Numbers, *, swing_mm: Numbers, readout_s: Numbers, picture_height_mm: Numbers,
    stretch: Numbers = 1.0,
) -> Floats:  # fmt: skip
    """Return how far an upright edge leans, after desqueezing: atan(rate·swing·readout/height).

    In the middle of the picture an edge moves at rate·swing/S over the sensor, and desqueezing by S
    cancels that S. `stretch` is the factor applied in post over S. For a spherical lens of the same
    horizontal field it is 1/S, so the tangent of the lean is S times smaller. At the sides of the
    picture the tangent is 1 + tan²(half the field) times larger for both. Shapes broadcast.
    """
    shift = np.asarray(rate_rad_s, float) * swing_mm * stretch * readout_s
    return np.asarray(np.arctan(shift / picture_height_mm))


def fastest_pan_rad_s(
    allowed_lean_rad: Numbers, *, swing_mm: Numbers, readout_s: Numbers,
    picture_height_mm: Numbers, stretch: Numbers = 1.0,
) -> Floats:  # fmt: skip
    """Return the pan rate at which an upright edge leans by `allowed_lean_rad` > 0.

    The inverse of `lean_rad`, infinite for a global shutter. Shapes broadcast.
    """
    height = np.tan(np.asarray(allowed_lean_rad, float)) * picture_height_mm
    with np.errstate(divide="ignore"):
        return np.asarray(height / (np.asarray(swing_mm, float) * stretch * readout_s))


@dataclass(frozen=True, slots=True)
class Pans:
    """Pans side by side: rate, lean of the rig, lean of a spherical lens of the same field.

    Arrays, one entry for each multiple of the seven-second rate and each subject.
    """

    rate_rad_s: Floats
    lean_rad: Floats
    spherical_lean_rad: Floats


def pan_table(
    multiples: Numbers, *, picture_width_mm: Numbers, picture_height_mm: Numbers,
    swing_mm: Numbers, squeeze: Numbers, readout_s: Numbers, stretch: Numbers = 1.0,
) -> Pans:  # fmt: skip
    """Return pans at multiples, such as 1, 2 and 4, of one picture width in seven seconds.

    `picture_width_mm` is the delivered picture's, on the sensor; `squeeze` the true S(D), `stretch`
    the factor applied in post over it. The spherical lens sees the same horizontal field on the
    same sensor: it is S times shorter. Shapes broadcast.
    """
    field = horizontal_field_rad(
        picture_width_mm=picture_width_mm, swing_mm=swing_mm, squeeze=squeeze
    )
    rate = np.asarray(multiples, float) * pan_rate_rad_s(field)
    leans = (
        lean_rad(
            rate, swing_mm=swing_mm, readout_s=readout_s, picture_height_mm=picture_height_mm,
            stretch=each,
        )
        for each in (stretch, 1.0 / np.asarray(squeeze, float))
    )  # fmt: skip
    return Pans(rate, *leans)
