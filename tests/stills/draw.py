"""Frames of the squeeze card through an anamorphic rig, drawn ray by ray from its printed page.

Each pixel's chief ray is followed back to the card: through the vertical meridian's perspective
centre for its height, through the horizontal one's for its width, since a cylinder images each of
them apart. Nothing of the product draws here but the printed page itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.tracer import Array

DPI = 254.0
"""Ten pixels a millimetre: a page of whole millimetres is then one of whole pixels."""
SCENE_LIGHT = (0.04, 0.82)
"""Black and white of a print as shares of the light that falls on it (from memory)."""


@dataclass(frozen=True)
class Frame:
    """One frame: the rig, how the card stands, what the camera does. Lengths in mm, angles in rad.

    `squeeze` is that in the card's plane, `height_share` the share of the frame's height that the
    card takes. `u_by_u` and its like are the distortion at the corner, a share of the place.
    """

    squeeze: float
    width: int = 1920
    height: int = 1080
    height_share: float = 0.5
    far_v_mm: float = 1900.0
    far_h_mm: float = 2000.0
    tilt_x: float = 0.0
    tilt_y: float = 0.0
    roll: float = 0.0
    aside: tuple[float, float] = (0.0, 0.0)
    distortion: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    blur_px: tuple[float, float] = (0.8, 0.8)
    noise: float = 0.01
    gamma: float = 2.2
    printed: tuple[float, float] = (1.0, 1.0)
    bend_mm: float = 0.0


def page_light(pdf: Path, png: Path) -> NDArray[np.float32]:
    """Return a printed page's light, 0 to 1, at `DPI`, by a renderer that is not ours."""
    import subprocess

    subprocess.run(["pdftoppm", "-r", f"{DPI:g}", "-gray", "-singlefile", "-png", str(pdf),
                    str(png.with_suffix(""))], check=True)  # fmt: skip
    grey = cv2.imread(str(png), cv2.IMREAD_GRAYSCALE)
    assert grey is not None
    low, high = SCENE_LIGHT
    return np.asarray(low + (high - low) * (grey.astype(np.float32) / 255.0), np.float32)


def drawn(
    light: NDArray[np.float32], middle: tuple[float, float], how: Frame, rng: np.random.Generator
) -> NDArray[np.uint8]:
    """Return a frame; `middle` is the card's on the page, pixels, `light` the page's."""
    fine = 2
    wide, high = how.width * fine, how.height * fine
    scale = how.height * how.height_share / 165.0
    u, v = np.meshgrid(
        (np.arange(wide) + 0.5) / fine - how.width / 2.0,
        (np.arange(high) + 0.5) / fine - how.height / 2.0,
    )
    u, v = _undistorted(u, v, how)
    x, y = _on_card(u * how.squeeze / scale, -v / scale, how)
    px_per_mm = DPI / 25.4
    at_x = (middle[0] + x / how.printed[0] * px_per_mm).astype(np.float32)
    at_y = (middle[1] - y / how.printed[1] * px_per_mm).astype(np.float32)
    # The page is finer than the frame: shrink it first, so that nothing is left out.
    seen = cv2.remap(cv2.GaussianBlur(light, (0, 0), 0.4 * px_per_mm / (fine * scale)), at_x, at_y,
                     cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=0.3)  # type: ignore[call-overload]  # fmt: skip
    seen = cv2.resize(seen, (how.width, how.height), interpolation=cv2.INTER_AREA)
    seen = cv2.GaussianBlur(seen, (0, 0), sigmaX=how.blur_px[0], sigmaY=how.blur_px[1])
    seen = seen + how.noise * np.sqrt(seen) * rng.standard_normal(seen.shape, dtype=np.float32)
    return np.asarray(255.0 * np.clip(seen, 0.0, 1.0) ** (1.0 / how.gamma) + 0.5, np.uint8)


def _undistorted(u: Array, v: Array, how: Frame) -> tuple[Array, Array]:
    half = math.hypot(how.width, how.height) / 2.0
    a, b, c, d = how.distortion
    flat_u, flat_v = u, v
    for _ in range(8):
        across, up = np.square(flat_u / half), np.square(flat_v / half)
        flat_u, flat_v = u / (1.0 + a * across + b * up), v / (1.0 + c * across + d * up)
    return flat_u, flat_v


def _on_card(across: Array, up: Array, how: Frame) -> tuple[Array, Array]:
    """Return the card's points whose chief rays pass (across, up) in the plane of its middle."""
    turn = _turned(how)
    x0, y0 = how.aside
    # x₀ + X = across·(1 + δ/z_h), y₀ + Y = up·(1 + δ/z_v), with (X, Y, −δ) = turn·(x, y, 0).
    a = turn[0, 0] + across * turn[2, 0] / how.far_h_mm
    b = turn[0, 1] + across * turn[2, 1] / how.far_h_mm
    c = turn[1, 0] + up * turn[2, 0] / how.far_v_mm
    d = turn[1, 1] + up * turn[2, 1] / how.far_v_mm
    over = a * d - b * c
    x = (d * (across - x0) - b * (up - y0)) / over
    y = (a * (up - y0) - c * (across - x0)) / over
    if how.bend_mm:
        # Bent about its upright middle line by this much at its ends, away from the camera.
        away = how.bend_mm * np.square(x / 110.0)
        x = x + (across * away / how.far_h_mm)
        y = y + (up * away / how.far_v_mm)
    return x, y


def _turned(how: Frame) -> Array:
    """Return the card's rotation: rolled in its plane, then about the upright, then the level."""
    c, s = math.cos(how.roll), math.sin(how.roll)
    roll = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    c, s = math.cos(how.tilt_y), math.sin(how.tilt_y)
    about_y = np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])
    c, s = math.cos(how.tilt_x), math.sin(how.tilt_x)
    about_x = np.array([[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]])
    return np.asarray(about_x @ about_y @ roll)


def compressed(frame: NDArray[np.uint8], folder: Path, *, quality: int = 0) -> bytes:
    """Return a frame as a PNG of what video compression, or JPEG of a quality, leaves of it."""
    left: Any = frame
    if quality:
        done, data = cv2.imencode(".jpg", cv2.cvtColor(frame, cv2.COLOR_GRAY2BGR),
                                  [cv2.IMWRITE_JPEG_QUALITY, quality])  # fmt: skip
        assert done
        return bytes(data)
    path = folder / "still.mp4"
    size = (frame.shape[1], frame.shape[0])
    video = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"mp4v"), 24.0, size)
    for _ in range(3):
        video.write(cv2.cvtColor(frame, cv2.COLOR_GRAY2BGR))
    video.release()
    film = cv2.VideoCapture(str(path))
    for _ in range(3):
        good, left = film.read()
        assert good
    done, data = cv2.imencode(".png", cv2.cvtColor(left, cv2.COLOR_BGR2GRAY))
    assert done
    return bytes(data)
