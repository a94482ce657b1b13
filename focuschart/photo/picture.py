"""A photograph's file: its grey picture, and the two things of its EXIF data that are used."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from focuschart.errors import InputError

_EXIF_TABLE = 0x8769
_TAKEN, _PARTS_OF_SECOND, _FOCAL_35MM, _WIDE, _HIGH = 0x9003, 0x9291, 0xA405, 0xA002, 0xA003
_DIAGONAL_35MM = 43.27
_USUAL_FOCAL = 1.2
"""Focal length over half the diagonal of a phone's main camera, where the file does not say."""
SIGNS = 12
_HEIC = (b"ftypheic", b"ftypheix", b"ftyphevc", b"ftypmif1", b"ftypmsf1")
_MOST_PIXELS = 110_000_000
"""A phone's largest picture; a larger one would fill a small computer's memory."""
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


def require_opencv() -> None:
    """Raise InputError, with how to get it, where OpenCV is missing."""
    try:
        import cv2  # noqa: F401
    except ImportError:
        raise InputError(GET_OPENCV) from None


def sign_of(data: bytes) -> str:
    """Return the sign by which a file is known again, made of its bytes."""
    return hashlib.sha256(data).hexdigest()[:SIGNS]


def photograph(data: bytes) -> Photograph:
    """Return a photograph from a JPEG or PNG file's bytes.

    Raises InputError, without the file's name, for any other file and for one that is not whole.
    OpenCV must be there: see `require_opencv`.
    """
    import cv2

    _require_picture(data)
    grey = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_GRAYSCALE)
    if grey is None:
        raise InputError(_NO_PICTURE)
    exif = dict(_exif(data))
    high, wide = grey.shape
    half = float(np.hypot(wide, high)) / 2.0
    focal = exif.get(_FOCAL_35MM)
    known = isinstance(focal, int) and 8 < focal < 400
    focal_px = 2.0 * half * float(focal) / _DIAGONAL_35MM if known else half * _USUAL_FOCAL  # type: ignore[arg-type]
    return Photograph(
        np.asarray(grey), sign_of(data), _taken(exif.get(_TAKEN), exif.get(_PARTS_OF_SECOND)),
        focal_px, _is_whole((wide, high), (exif.get(_WIDE), exif.get(_HIGH))),
    )  # fmt: skip


_NO_PICTURE = "is no JPEG or PNG picture that can be read: hand over the phone's JPEG"


def _require_picture(data: bytes) -> None:
    """Raise InputError for a file that is no whole JPEG or PNG picture of a camera's size."""
    import warnings
    from io import BytesIO

    from PIL import Image

    if data[4:12] in _HEIC:
        raise InputError(
            "is a HEIC file, which is not read: set the phone's camera to JPEG (Most Compatible), "
            "or export the photograph as JPEG at full size"
        )
    try:
        with warnings.catch_warnings():
            # Of Pillow, which warns of large pictures: those too large are refused below.
            warnings.simplefilter("ignore")
            image = Image.open(BytesIO(data), formats=("JPEG", "PNG"))
        large = image.width * image.height > _MOST_PIXELS
    except Image.DecompressionBombError:
        large = True
    except Exception:  # Pillow raises many kinds for files that are no pictures
        raise InputError(_NO_PICTURE) from None
    if large:
        raise InputError(
            f"has more than {_MOST_PIXELS // 1_000_000} megapixels: hand over the phone's own "
            "photograph, at 12 to 50 megapixels"
        )
    if not _is_complete(image, data):
        raise InputError("is not whole, its end is missing: copy it from the phone again")


def _is_complete(image: Any, data: bytes) -> bool:
    if image.format == "PNG":
        return b"IEND" in data[-64:]
    try:
        image.draft("L", (1, 1))
        image.load()
    except Exception:  # as above
        return False
    return True


def _exif(data: bytes) -> Iterator[tuple[int, Any]]:
    """Yield time of exposure, focal length and size; nothing else of the EXIF data is looked at."""
    from io import BytesIO

    from PIL import Image

    try:
        with Image.open(BytesIO(data)) as image:
            table = image.getexif().get_ifd(_EXIF_TABLE)
    except Exception:  # a damaged table is as good as none
        return
    for tag in (_TAKEN, _PARTS_OF_SECOND, _FOCAL_35MM, _WIDE, _HIGH):
        if tag in table:
            yield tag, table[tag]


def _taken(text: object, parts: object) -> datetime | None:
    """Return a time of exposure, with the digits of its second that follow the point."""
    try:
        taken = datetime.strptime(str(text).strip("\0 "), "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return None
    digits = str(parts).strip("\0 ")
    second = float(f"0.{digits}") if digits.isdecimal() and digits.isascii() else 0.0
    return taken + timedelta(seconds=second)


def _is_whole(size: tuple[int, int], noted: tuple[object, object]) -> bool:
    """Return whether a picture has a camera's shape, and that of its EXIF data if they have one."""
    shape = max(size) / min(size)
    if all(isinstance(side, int) and side > 0 for side in noted):
        wide, high = (int(side) for side in noted)  # type: ignore[call-overload]
        return bool(abs(shape / (max(wide, high) / min(wide, high)) - 1.0) < _SHAPE_OFF)
    return any(abs(shape / ratio - 1.0) < _SHAPE_OFF for ratio in _RATIOS)
