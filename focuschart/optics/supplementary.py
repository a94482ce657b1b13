"""A close-up lens in front of the rig: the subject's distance then, limits and frame.

The rig stays focused on its mark, D from the sensor. A close-up lens of power P there images a
nearer subject at the mark, the same in both meridians, so the match holds and blur on the sensor is
unchanged. It is a thin lens at `close_up_datum_mm` from the sensor: the place of the front group
plus the gap in front of it. With o = D less this datum, the subject is
1/(P + 1/o) in front of the close-up lens. Powers are dioptres, 1/m; P ≥ 0, and 0 is no lens at all.
Stacked close-up lenses act as one of their summed power (thin lenses in contact).
Source: W. J. Smith, Modern Optical Engineering, 4th ed. (2008), ch. 2, the conjugate equation.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from focuschart.errors import OpticsError
from focuschart.optics.arrays import Floats, Numbers
from focuschart.optics.depth_of_field import Limits
from focuschart.optics.frame import Frame, frame_at_subject
from focuschart.optics.thin_lens import reciprocal_mm

MM_PER_METRE = 1000.0


def subject_mm(
    distance_mm: Numbers, *, power_dioptres: Numbers, close_up_datum_mm: Numbers
) -> Floats:
    """Return the subject's distance from the sensor with the rings at the mark `distance_mm`.

    For the mark at infinity it is 1/P in front of the close-up lens. Shapes broadcast. Raises
    OpticsError for a mark at or behind the close-up lens.
    """
    ahead = _ahead_mm(distance_mm, close_up_datum_mm)
    return _nearer_mm(ahead, power_dioptres) + close_up_datum_mm


def _ahead_mm(distance_mm: Numbers, close_up_datum_mm: Numbers) -> Floats:
    ahead = np.asarray(distance_mm, float) - close_up_datum_mm
    if np.any(ahead <= 0.0):
        raise OpticsError("the subject is not in front of the close-up lens")
    return np.asarray(ahead)


def _nearer_mm(ahead_mm: Floats, power_dioptres: Numbers) -> Floats:
    """Return 1/(P + 1/o), the subject's distance from the close-up lens."""
    with np.errstate(divide="ignore"):
        vergence = 1.0 / ahead_mm
    return reciprocal_mm(vergence + np.asarray(power_dioptres, float) / MM_PER_METRE)


def close_up_limits(
    limits: Limits, *, power_dioptres: Numbers, close_up_datum_mm: Numbers
) -> Limits:
    """Return depth of field limits with the close-up lens on, mm from the sensor.

    Each limit moves as the subject does; the far one is finite even where it was infinite. A limit
    at or behind the close-up lens means sharp up to its glass. Shapes broadcast.
    """
    ahead = (np.maximum(side - close_up_datum_mm, 0.0) for side in (limits.near_mm, limits.far_mm))
    return Limits(*(_nearer_mm(side, power_dioptres) + close_up_datum_mm for side in ahead))


def close_up_magnification(
    magnification: Numbers, *, power_dioptres: Numbers, image_mm: Numbers,
    lens_to_close_up_mm: Numbers,
) -> Floats:  # fmt: skip
    """Return the vertical magnification with the close-up lens on: m(1 + P·o) = m + P(v − m·t).

    `magnification` is the taking lens's m = v/u at the mark, `image_mm` its v, and t, from its
    principal plane to the close-up lens, is less the plate shift, so that o = u − t. At infinity
    it is P·f. The horizontal one is S(D) times less, with S(D) that of the mark. Shapes broadcast.
    """
    m = np.asarray(magnification, float)
    power = np.asarray(power_dioptres, float) / MM_PER_METRE
    return np.asarray(m + power * (image_mm - m * lens_to_close_up_mm))


@dataclass(frozen=True, slots=True)
class Focused:
    """The rig without a close-up lens, focused on its marks; arrays broadcast.

    It has D, depth of field limits from the sensor, v/u, v and D − u of the taking lens, S(D).
    """

    distance_mm: Floats
    limits: Limits
    magnification: Floats
    image_mm: Floats
    lens_datum_mm: Numbers
    squeeze: Numbers


@dataclass(frozen=True, slots=True)
class CloseUp:
    """The content of a close-up table: subject and limits from the sensor, frame at the subject."""

    subject_mm: Floats
    limits: Limits
    frame: Frame


def close_up_table(
    power_dioptres: Numbers, focused: Focused, *, close_up_datum_mm: Numbers, crop: Frame
) -> CloseUp:
    """Return the close-up table of a rig focused on its marks.

    Powers (p, 1) against marks (n) give p × n; `crop` is the part of the sensor delivered. Errors
    as `subject_mm`.
    """
    place = np.asarray(close_up_datum_mm, float)
    magnified = close_up_magnification(
        focused.magnification,
        power_dioptres=power_dioptres,
        image_mm=focused.image_mm,
        lens_to_close_up_mm=place - focused.lens_datum_mm,
    )
    return CloseUp(
        subject_mm(focused.distance_mm, power_dioptres=power_dioptres, close_up_datum_mm=place),
        close_up_limits(focused.limits, power_dioptres=power_dioptres, close_up_datum_mm=place),
        frame_at_subject(crop, magnification=magnified, squeeze=focused.squeeze),
    )
