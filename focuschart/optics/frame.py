"""The frame: its desqueezed size, its crop for delivery, and its size at the subject.

The sensor's picture is widened by a factor, the nominal squeeze or the true one S(D) of the shot,
and cropped about its middle to the delivery ratio. Ratios are width over height.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from focuschart.optics.arrays import Floats, Numbers
from focuschart.optics.thin_lens import reciprocal_mm

Pixels = NDArray[np.int64]
"""Whole pixels, as functions return them."""


def desqueezed_ratio(*, width: Numbers, height: Numbers, squeeze: Numbers) -> Floats:
    """Return S·width/height of a picture `width` by `height` as recorded, in any one unit."""
    return np.asarray(squeeze * np.asarray(width, float) / height)


def desqueezed_width_px(width_px: int | Pixels, *, squeeze: Numbers) -> Pixels:
    """Return the width to enter in post, S·width to the nearest even pixel; the height stays.

    `squeeze` is the factor applied, nominal or S(D). Shapes broadcast.
    """
    return _even(squeeze * np.asarray(width_px, float))


def _even(pixels: Floats) -> Pixels:
    return np.asarray(2.0 * np.floor(pixels / 2.0 + 0.5), np.int64)


@dataclass(frozen=True, slots=True)
class PixelCrop:
    """A crop of the desqueezed picture: its size and its left upper corner, whole pixels."""

    width_px: Pixels
    height_px: Pixels
    left_px: Pixels
    top_px: Pixels


def crop_in_pixels(
    ratio: Numbers, *, width_px: int | Pixels, height_px: int | Pixels, squeeze: Numbers
) -> PixelCrop:
    """Return the largest centred crop of a delivery ratio, in desqueezed pixels.

    `width_px` and `height_px` are as recorded. Width and height come out even, as 4:2:0
    video with its halved chroma needs (ITU-T H.264, from memory), to the nearest within the
    picture. Shapes broadcast; `ratio` and `squeeze` are positive.
    """
    wide = desqueezed_width_px(width_px, squeeze=squeeze)
    high = np.asarray(height_px, np.int64)
    asked = np.asarray(ratio, float)
    width = np.minimum(_even(asked * high), wide)
    height = np.minimum(_even(wide / asked), high - high % 2)
    return PixelCrop(width, height, (wide - width) // 2, (high - height) // 2)


@dataclass(frozen=True, slots=True)
class Frame:
    """Width and height of a frame, mm: on the sensor as recorded, or at the subject."""

    width_mm: Floats
    height_mm: Floats


def crop_on_sensor(
    ratio: Numbers, *, width_mm: Numbers, height_mm: Numbers, squeeze: Numbers
) -> Frame:
    """Return the part of a sensor `width_mm` by `height_mm` that a delivery ratio uses.

    The crop is centred: min(W, R·H/S) by min(H, S·W/R). `squeeze` is the factor applied in post.
    Shapes broadcast.
    """
    width, height = np.asarray(width_mm, float), np.asarray(height_mm, float)
    narrowed = np.asarray(ratio, float) / squeeze
    cropped = np.minimum(width, narrowed * height), np.minimum(height, width / narrowed)
    return Frame(*(np.asarray(side) for side in cropped))


def frame_at_subject(crop: Frame, *, magnification: Numbers, squeeze: Numbers) -> Frame:
    """Return the frame's width W·S(D)·u/v and height H·u/v in the subject's plane.

    `crop` is the part of the sensor in use, `magnification` the taking lens's m = v/u, `squeeze`
    the true S(D): the attachment shows the lens the subject narrowed by it. Both sides are
    infinite at infinity, where m is 0. Shapes broadcast.
    Source of m: W. J. Smith, Modern Optical Engineering, 4th ed. (2008), ch. 2.
    """
    m = np.asarray(magnification, float)
    return Frame(reciprocal_mm(m / (crop.width_mm * squeeze)), reciprocal_mm(m / crop.height_mm))


def share_of_height(
    size_mm: Numbers, *, image_mm: Numbers, subject_mm: Numbers, picture_height_mm: Numbers
) -> Floats:
    """Return the share of the picture's height that a thing of a size takes, y·v/(u·H).

    The vertical meridian is the taking lens's alone. v is its image distance, which stays where the
    ring stands, u the subject's distance from its front principal plane: infinity gives 0. H is
    the height of the sensor, or of the part of it in use. Out of focus it is the size of the blur's
    middle. Shapes broadcast.
    Source: W. J. Smith, Modern Optical Engineering, 4th ed. (2008), ch. 2.
    """
    return np.asarray(
        np.asarray(size_mm, float) * image_mm / (np.asarray(subject_mm, float) * picture_height_mm)
    )


def widening_percent(*, entered_squeeze: Numbers, true_squeeze: Numbers) -> Floats:
    """Return by how many per cent a face is too wide: 100·(S entered/S(D) − 1), below 0 too thin.

    The squeeze is smaller close up, so desqueezing by the nominal factor makes faces too wide; the
    right factor in post is S(D) itself.
    """
    return np.asarray(100.0 * (np.asarray(entered_squeeze, float) / true_squeeze - 1.0))
