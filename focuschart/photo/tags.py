"""Tags found in a picture, by OpenCV."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from focuschart.layout.tag.dictionary import COUNT, SIDE_BITS, WHITE
from focuschart.photo.strips import Floats

_LARGE_PX = 2600
"""A larger picture is searched at half its size first, then whole where tags were found."""
_ROUND_SHARE = 0.25
_LIKE_SHARE = 0.4


@dataclass(frozen=True, slots=True)
class Seen:
    """The tags found: their ids (n), and their corners in pixels (n × 4 × 2).

    Corners go round from the tag's upper left as its reader sees it: upper right, lower right,
    lower left.
    """

    numbers: NDArray[np.intp]
    corners: Floats

    def only(self, chosen: NDArray[Any]) -> Seen:
        """Return the chosen ones, by mask or by place."""
        return Seen(self.numbers[chosen], self.corners[chosen])


def tags_in(picture: NDArray[np.uint8], *, inverted: bool = False) -> Seen:
    """Return the tags in a grey picture (height × width)."""
    return _of_like_size(_in_picture(picture, inverted))


def _of_like_size(seen: Seen) -> Seen:
    """Return the tags without those far smaller than the others: chance patterns in noise."""
    if not len(seen.numbers):
        return seen
    sides = np.linalg.norm(seen.corners - np.roll(seen.corners, 1, axis=1), axis=-1).max(axis=1)
    return seen.only(sides > _LIKE_SHARE * np.median(sides))


def _in_picture(picture: NDArray[np.uint8], inverted: bool) -> Seen:
    if max(picture.shape) <= _LARGE_PX:
        return _found(picture, inverted)
    import cv2

    half = cv2.resize(picture, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    small = np.asarray(half, np.uint8)
    rough = _found(small, inverted)
    if not len(rough.numbers):
        return _found(picture, inverted)
    corners = rough.corners.reshape(-1, 2) * 2.0 + 0.5
    low, high = corners.min(axis=0), corners.max(axis=0)
    room = _ROUND_SHARE * float(np.max(high - low)) + 40.0
    left, top = np.maximum(low - room, 0).astype(int).tolist()
    right, bottom = (high + room).astype(int).tolist()
    part = _found(np.ascontiguousarray(picture[top:bottom, left:right]), inverted)
    return Seen(part.numbers, part.corners + np.array([left, top]))


def _found(picture: NDArray[np.uint8], inverted: bool) -> Seen:
    import cv2

    options = cv2.aruco.DetectorParameters()
    options.minMarkerPerimeterRate = 60.0 / max(picture.shape)
    options.detectInvertedMarker = inverted
    options.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    options.adaptiveThreshWinSizeMin, options.adaptiveThreshWinSizeMax = 9, 33
    options.adaptiveThreshWinSizeStep = 12
    # Against OpenCV's own defaults these find twice as many tags in blurred and noisy pictures.
    options.adaptiveThreshConstant = 5.0
    options.polygonalApproxAccuracyRate = 0.06
    options.perspectiveRemovePixelPerCell = 8
    options.perspectiveRemoveIgnoredMarginPerCell = 0.3
    detector = cv2.aruco.ArucoDetector(_dictionary(), options)
    corners, numbers, _ = detector.detectMarkers(picture)
    if numbers is None:
        return Seen(np.empty(0, np.intp), np.empty((0, 4, 2)))
    return Seen(np.asarray(numbers, np.intp).ravel(), np.array(corners, float).reshape(-1, 4, 2))


def _dictionary() -> Any:
    """Return our stored table as a dictionary of OpenCV."""
    import cv2

    packed = [cv2.aruco.Dictionary.getByteListFromBits(bits.astype(np.uint8)) for bits in WHITE]
    table = np.concatenate(packed, axis=0)
    assert len(table) == COUNT
    return cv2.aruco.Dictionary(table, SIDE_BITS, 1)
