"""Tags found in a picture, by OpenCV."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from focuschart.layout.tag.dictionary import COUNT, SIDE_BITS, WHITE
from focuschart.photo.strips import Floats

_LARGE_PX = 2600
"""A larger picture is searched at half its size first, then whole where tags were found."""
_ROUND_SHARE = 0.25
_LIKE_SHARE = 0.4
_ENOUGH = 5
"""Tags of which a ring can be read, three on it and two beside; no chance pattern is so many."""


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


class Turned(NamedTuple):
    """A picture the right way round (height × width), the tags in it, and whether they are light.

    Light tags are those printed in a look that exchanges light and dark.
    """

    picture: NDArray[np.uint8]
    seen: Seen
    is_light: bool = False


def turned(picture: NDArray[np.uint8]) -> Turned:
    """Return a grey picture (height × width) the right way round, with its tags.

    Where too few tags are dark on light, light ones are looked for; then its mirror image is tried,
    since a mirror, or a phone's front camera, shows all the wrong way round.
    """
    best = Turned(picture, tags_in(picture))
    if len(best.seen.numbers) >= _ENOUGH:
        return best
    others = (
        Turned(picture, tags_in(_negative(picture)), is_light=True),
        Turned(_mirrored(picture), tags_in(_mirrored(picture))),
    )
    return next((each for each in others if len(each.seen.numbers) >= _ENOUGH), best)


def _negative(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    return np.asarray(255 - picture, np.uint8)


def _mirrored(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    return np.ascontiguousarray(picture[:, ::-1])


def tags_in(picture: NDArray[np.uint8]) -> Seen:
    """Return the tags in a grey picture (height × width), dark on light."""
    return _of_like_size(_in_picture(picture))


def _of_like_size(seen: Seen) -> Seen:
    """Return the tags without those far smaller than the others: chance patterns in noise."""
    if not len(seen.numbers):
        return seen
    sides = np.linalg.norm(seen.corners - np.roll(seen.corners, 1, axis=1), axis=-1).max(axis=1)
    return seen.only(sides > _LIKE_SHARE * np.median(sides))


def _in_picture(picture: NDArray[np.uint8]) -> Seen:
    if max(picture.shape) <= _LARGE_PX:
        return _found(picture)
    rough = _found(_half(picture))
    if len(rough.numbers) < _ENOUGH:
        return _found(picture)
    corners = rough.corners.reshape(-1, 2) * 2.0 + 0.5
    low, high = corners.min(axis=0), corners.max(axis=0)
    room = _ROUND_SHARE * float(np.max(high - low)) + 40.0
    left, top = np.maximum(low - room, 0).astype(int).tolist()
    right, bottom = (high + room).astype(int).tolist()
    part = _found(np.ascontiguousarray(picture[top:bottom, left:right]))
    return Seen(part.numbers, part.corners + np.array([left, top]))


def _half(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    import cv2

    small = cv2.resize(picture, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.uint8)


def _found(picture: NDArray[np.uint8]) -> Seen:
    import cv2

    options = cv2.aruco.DetectorParameters()
    options.minMarkerPerimeterRate = 60.0 / max(picture.shape)
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
