"""Frames of the squeeze card as a camera records them: sampled, blurred, noisy, compressed."""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RectBivariateSpline

from tests.stills.optics import Eye, Stand
from tests.stills.print import PX_PER_MM, Print
from tests.tracer import Array

Light = NDArray[np.float32]
Picture = NDArray[np.uint8]
_WALL = 0.25
"""Light of what is behind the card."""
_KNOTS = 33


@dataclass(frozen=True)
class Camera:
    """What a camera does to a frame. Pixels, but for `pixel_mm`.

    `blur_px` are the half axes of an elliptical disc of confusion, across and up, `soft_px` the
    standard deviation of what sensor and filters add; `noise` is that of white; `off_px` where the
    optical axis is from the frame's middle, right and up; `crf` the quality of H.264, `jpeg` of a
    JPEG in 4:2:0 where not None.
    """

    width: int
    height: int
    pixel_mm: float
    off_px: tuple[float, float] = (0.0, 0.0)
    blur_px: tuple[float, float] = (0.5, 0.5)
    soft_px: float = 0.5
    noise: float = 0.005
    gamma: float = 2.2
    exposure: float = 0.9
    slope: tuple[float, float] = (0.0, 0.0)
    crf: int | None = None
    jpeg: int | None = None


def drawn(
    card: Print, stretched: Array, seen: tuple[Eye, Stand, Camera], noise: np.random.Generator
) -> Picture:
    """Return a grey frame; `stretched` (2) is by how much the printer stretched the card."""
    camera = seen[2]
    light = _sharp(card, stretched, *seen)
    light = cv2.filter2D(light, -1, _disc(*camera.blur_px), borderType=cv2.BORDER_REPLICATE)
    light = cv2.GaussianBlur(light, (0, 0), camera.soft_px)
    v, u = np.mgrid[-0.5 : 0.5 : camera.height * 1j, -0.5 : 0.5 : camera.width * 1j]
    lit = camera.exposure * light * (1.0 + camera.slope[0] * u + camera.slope[1] * v)
    lit += camera.noise * np.sqrt(np.maximum(lit, 0.0)) * noise.standard_normal(lit.shape)
    value = np.clip(lit, 0.0, 1.0) ** (1.0 / camera.gamma)
    return np.asarray(np.round(255.0 * value), np.uint8)


def handed_over(frame: Picture, camera: Camera) -> bytes:
    """Return the still's file: a PNG of what video compression leaves, or a JPEG."""
    if camera.crf is not None:
        frame = compressed(frame, camera.crf)
    colour = cv2.cvtColor(frame, cv2.COLOR_GRAY2BGR)
    if camera.jpeg is None:
        done, data = cv2.imencode(".png", frame)
    else:
        done, data = cv2.imencode(".jpg", colour, [cv2.IMWRITE_JPEG_QUALITY, camera.jpeg])
    assert done
    return bytes(data)


def compressed(frame: Picture, crf: int) -> Picture:
    """Return a frame after H.264 in 4:2:0, by ffmpeg, or MPEG-4 by OpenCV where that is missing."""
    with TemporaryDirectory() as folder:
        still, film = Path(folder, "still.png"), Path(folder, "film.mp4")
        cv2.imwrite(str(still), frame)
        if program := shutil.which("ffmpeg"):
            subprocess.run(
                [program, "-loglevel", "error", "-i", still, "-c:v", "libx264", "-threads", "1",
                 "-crf", str(crf), "-pix_fmt", "yuv420p", film],
                check=True,
            )  # fmt: skip
        else:
            size = (frame.shape[1], frame.shape[0])
            video = cv2.VideoWriter(str(film), cv2.VideoWriter.fourcc(*"mp4v"), 24.0, size)
            video.write(cv2.cvtColor(frame, cv2.COLOR_GRAY2BGR))
            video.release()
        _, seen = cv2.VideoCapture(str(film)).read()
    return np.asarray(cv2.cvtColor(seen, cv2.COLOR_BGR2GRAY), np.uint8)


def _sharp(card: Print, stretched: Array, eye: Eye, stand: Stand, camera: Camera) -> Light:
    """Return the frame as light, each pixel the mean over its square."""
    middle = np.array([(camera.width - 1) / 2.0, (camera.height - 1) / 2.0])
    middle += np.array(camera.off_px) * (1.0, -1.0)

    def looked_at(columns: Array, rows: Array) -> Array:
        """Return the card's points, mm (rows × columns × 2)."""
        u, v = np.meshgrid(columns - middle[0], middle[1] - rows)
        seen = eye.on_card(u.ravel() * camera.pixel_mm, v.ravel() * camera.pixel_mm, stand)
        return np.stack(seen, axis=-1).reshape(*u.shape, 2)

    columns = np.linspace(-1.0, camera.width, _KNOTS)
    rows = np.linspace(-1.0, camera.height, _KNOTS)
    knots = looked_at(columns, rows)
    on_print = knots / stretched * (PX_PER_MM, -PX_PER_MM) + card.middle
    splines = [RectBivariateSpline(rows, columns, on_print[..., k], kx=4, ky=4) for k in (0, 1)]
    left, top, right, bottom = _box(on_print, card, columns, rows, camera)
    frame = np.full((camera.height, camera.width), _WALL, np.float32)
    fine = 4 if camera.height < 1500 else 3
    part = (np.arange(fine) + 0.5) / fine - 0.5
    at_u = (np.arange(left, right)[:, np.newaxis] + part).ravel()
    per_px = float(np.median(np.abs(np.diff(splines[1](rows, [middle[0]])[:, 0]) / np.diff(rows))))
    page = cv2.GaussianBlur(card.light, (0, 0), max(0.35 * per_px / fine, 0.3))
    for first in range(top, bottom, 64):
        at_v = (np.arange(first, min(first + 64, bottom))[:, np.newaxis] + part).ravel()
        x, y = (spline(at_v, at_u).astype(np.float32) for spline in splines)
        seen = cv2.remap(page, x, y, cv2.INTER_LINEAR, borderValue=(_WALL,))
        whole = seen.reshape(len(at_v) // fine, fine, right - left, fine).mean(axis=(1, 3))
        frame[first : first + len(whole), left:right] = whole
    return frame


def _box(
    on_print: Array, card: Print, columns: Array, rows: Array, camera: Camera
) -> tuple[int, int, int, int]:
    """Return left, top, right and bottom of the part of the frame that shows the card."""
    high, wide = card.light.shape
    reach = 0.1 * wide
    within = np.all((on_print > -reach) & (on_print < np.array([wide, high]) + reach), axis=-1)
    seen_rows, seen_columns = np.nonzero(within)
    step_x, step_y = columns[1] - columns[0], rows[1] - rows[0]
    left = max(int(columns[seen_columns.min()] - step_x), 0)
    top = max(int(rows[seen_rows.min()] - step_y), 0)
    right = min(int(columns[seen_columns.max()] + step_x), camera.width)
    bottom = min(int(rows[seen_rows.max()] + step_y), camera.height)
    return left, top, right, bottom


def _disc(across: float, up: float) -> Light:
    """Return an even elliptical disc of these half axes, each pixel by 9 × 9 samples."""
    reach_x, reach_y = int(np.ceil(across + 0.5)), int(np.ceil(up + 0.5))
    x = np.arange(-reach_x * 9 - 4, reach_x * 9 + 5) / 9.0
    y = np.arange(-reach_y * 9 - 4, reach_y * 9 + 5) / 9.0
    inside = np.add.outer(np.square(y / max(up, 0.06)), np.square(x / max(across, 0.06))) <= 1.0
    disc = inside.reshape(2 * reach_y + 1, 9, 2 * reach_x + 1, 9).mean(axis=(1, 3))
    return np.asarray(disc / disc.sum(), np.float32)
