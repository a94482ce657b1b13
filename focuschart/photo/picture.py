"""A photograph's file: its grey picture, and the two things of its EXIF data that are used."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from focuschart.errors import InputError

_EXIF_TABLE = 0x8769
_TAKEN, _FOCAL_35MM, _WIDE, _HIGH = 0x9003, 0xA405, 0xA002, 0xA003
_DIAGONAL_35MM = 43.27
_USUAL_FOCAL = 1.2
"""Focal length over half the diagonal of a phone's main camera, where the file does not say."""
SIGNS = 12
_HEIC = (b"ftypheic", b"ftypheix", b"ftyphevc", b"ftypmif1", b"ftypmsf1")
_RATIOS = (1.0, 5 / 4, 4 / 3, 3 / 2, 16 / 9, 2.0)
_SHAPE_OFF = 0.006

GET_OPENCV = (
    "reading photographs needs OpenCV, which is not installed: pip install opencv-python-headless"
)


@dataclass(frozen=True, slots=True)
class Photograph:
    """A photograph: grey, when it was taken if its file says so, and its focal length in pixels.

    `sign` is made of the file's bytes, by which a double is known. `whole` is false for a picture
    that was cropped.
    """

    grey: NDArray[np.uint8]
    sign: str
    taken: datetime | None
    focal_px: float
    whole: bool


def photograph(data: bytes) -> Photograph:
    """Return a photograph from a JPEG or PNG file's bytes.

    Raises InputError, without the file's name, for any other file, and where OpenCV is missing.
    """
    try:
        import cv2
    except ImportError:
        raise InputError(GET_OPENCV) from None
    if data[4:12] in _HEIC:
        raise InputError(
            "is a HEIC file, which is not read: set the phone's camera to JPEG (Most Compatible), "
            "or export the photograph as JPEG at full size"
        )
    grey = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_GRAYSCALE) if data else None
    if grey is None:
        raise InputError("is no JPEG or PNG picture that can be read: hand over the phone's JPEG")
    exif = dict(_exif(data))
    high, wide = grey.shape
    half = float(np.hypot(wide, high)) / 2.0
    focal = exif.get(_FOCAL_35MM)
    known = isinstance(focal, int) and 8 < focal < 400
    focal_px = 2.0 * half * float(focal) / _DIAGONAL_35MM if known else half * _USUAL_FOCAL  # type: ignore[arg-type]
    return Photograph(
        np.asarray(grey), hashlib.sha256(data).hexdigest()[:SIGNS], _taken(exif.get(_TAKEN)),
        focal_px, _is_whole((wide, high), (exif.get(_WIDE), exif.get(_HIGH))),
    )  # fmt: skip


def _exif(data: bytes) -> Iterator[tuple[int, Any]]:
    """Yield time of exposure, focal length and size; nothing else of the EXIF data is looked at."""
    from io import BytesIO

    from PIL import Image

    try:
        with Image.open(BytesIO(data)) as image:
            table = image.getexif().get_ifd(_EXIF_TABLE)
    except Exception:  # a damaged table is as good as none
        return
    for tag in (_TAKEN, _FOCAL_35MM, _WIDE, _HIGH):
        if tag in table:
            yield tag, table[tag]


def _taken(text: object) -> datetime | None:
    try:
        return datetime.strptime(str(text).strip("\0 "), "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return None


def _is_whole(size: tuple[int, int], noted: tuple[object, object]) -> bool:
    """Return whether a picture has a camera's shape, and that of its EXIF data if they have one."""
    shape = max(size) / min(size)
    if all(isinstance(side, int) and side > 0 for side in noted):
        wide, high = (int(side) for side in noted)  # type: ignore[call-overload]
        return bool(abs(shape / (max(wide, high) / min(wide, high)) - 1.0) < _SHAPE_OFF)
    return any(abs(shape / ratio - 1.0) < _SHAPE_OFF for ratio in _RATIOS)
