"""Photographs drawn at random: scenes, and what a phone does to them, with their truth."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from focuschart.layout.strip.band import LEAD_IN_MM
from tests.photographs.scene import Light, Phone, Piece, Scene, Wrapped

THICKNESS_MM = 0.2
SIZE = (3264, 2448)


def ring_and_index(
    pieces: tuple[Piece, ...], index: tuple[Piece, ...], *, bare_mm: float, arc_mm: float,
    step_mm: float, gap_mm: float, skew: float, tilt: float, foot_mm: float = 0.0,
    eccentric_mm: tuple[float, float] = (0.0, 0.0),
) -> tuple[Wrapped, Wrapped]:  # fmt: skip
    """Return a strip and its index on a ring of a bare diameter, its figure `arc_mm`."""
    once = math.pi * (bare_mm + THICKNESS_MM)
    radius = bare_mm / 2.0 + THICKNESS_MM
    ring = Wrapped(pieces, once, radius, arc_mm + LEAD_IN_MM, foot_mm, skew, 0.0)
    outside, high = radius + step_mm, index[0].height_mm
    return ring, Wrapped(
        index, 2.0 * math.pi * (outside - THICKNESS_MM / 2.0), outside, index[0].width_mm / 2.0,
        foot_mm - gap_mm - high, tilt, high, eccentric_mm,
    )  # fmt: skip


@dataclass(frozen=True)
class Spoiled:
    """What a phone does: blur and smear in pixels, noise, brightness, and JPEG's quality.

    `shade` is by how much the picture's darker half is dimmed, `shade_turn` the way it darkens.
    `kept` are the shares of width and height between which the picture is cropped, `size` that to
    which it is made smaller.
    """

    blur_px: float = 0.8
    smear_px: float = 0.0
    smear_turn: float = 0.0
    noise: float = 0.01
    gain: float = 1.0
    quality: int = 85
    distortion: float = 0.0
    shade: float = 0.0
    shade_turn: float = 0.0
    kept: tuple[float, float, float, float] = (0.0, 1.0, 0.0, 1.0)
    size: float = 1.0


def spoiled(picture: NDArray[np.uint8], how: Spoiled, rng: np.random.Generator) -> bytes:
    """Return a rendered picture as the phone's JPEG."""
    linear: Any = _linear(picture)
    if how.distortion:
        linear = _distorted(linear, how.distortion)
    if how.smear_px > 0.3:
        linear = cv2.filter2D(linear, -1, _smear(how.smear_px, how.smear_turn))
    linear = cv2.GaussianBlur(linear, (0, 0), max(how.blur_px, 0.3)) * how.gain
    if how.shade:
        linear = linear * _shade(linear.shape, how)
    shot = np.sqrt(np.maximum(linear, 0.0) * 0.5 + 0.1) * how.noise
    linear = np.clip(linear + shot * rng.standard_normal(linear.shape, dtype=np.float32), 0.0, 1.0)
    done, data = cv2.imencode(
        ".jpg", _framed(_srgb(linear), how), [cv2.IMWRITE_JPEG_QUALITY, how.quality]
    )
    assert done
    return bytes(data)


def _shade(shape: tuple[int, ...], how: Spoiled) -> NDArray[np.float32]:
    high, wide = shape
    y, x = np.mgrid[0:high, 0:wide].astype(np.float32)
    along = (x - wide / 2) * math.cos(how.shade_turn) + (y - high / 2) * math.sin(how.shade_turn)
    edge = 1.0 / (1.0 + np.exp(-along / (0.02 * wide)))
    return np.asarray(1.0 - how.shade * edge, np.float32)


def _framed(picture: NDArray[np.uint8], how: Spoiled) -> NDArray[np.uint8]:
    """Return a picture cropped and made smaller."""
    high, wide = picture.shape
    left, right, top, bottom = np.array(how.kept) * (wide, wide, high, high)
    part = np.ascontiguousarray(picture[int(top) : int(bottom), int(left) : int(right)])
    if how.size == 1.0:
        return part
    small = cv2.resize(part, None, fx=how.size, fy=how.size, interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.uint8)


def _linear(picture: NDArray[np.uint8]) -> NDArray[np.float32]:
    value = np.arange(256) / 255.0
    table = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    return table.astype(np.float32)[picture]


def _srgb(linear: NDArray[np.float32]) -> NDArray[np.uint8]:
    value = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return np.asarray(np.round(255.0 * value), np.uint8)


def _smear(length: float, turn: float) -> NDArray[np.float32]:
    size = 2 * math.ceil(length) + 1
    kernel = np.zeros((size, size), np.float32)
    for share in np.linspace(-0.5, 0.5, 8 * size):
        x, y = (size // 2 + share * length * f for f in (math.cos(turn), math.sin(turn)))
        i, j = int(x), int(y)
        for di, dj in ((0, 0), (0, 1), (1, 0), (1, 1)):
            weight = (1 - abs(x - i - di)) * (1 - abs(y - j - dj))
            if 0 <= j + dj < size and 0 <= i + di < size:
                kernel[j + dj, i + di] += weight
    return np.asarray(kernel / kernel.sum(), np.float32)


def _distorted(linear: NDArray[np.float32], k1: float) -> NDArray[np.float32]:
    high, wide = linear.shape[:2]
    y, x = np.mgrid[0:high, 0:wide].astype(np.float32)
    cx, cy, half = (wide - 1) / 2.0, (high - 1) / 2.0, math.hypot(wide, high) / 2.0
    u, v = (x - cx) / half, (y - cy) / half
    # The picture's point at radius r shows what lay at r·(1 − k1·r²).
    share = 1.0 - k1 * (u * u + v * v)
    at = [(c + w * share * half).astype(np.float32) for c, w in ((cx, u), (cy, v))]
    moved = cv2.remap(linear, *at, cv2.INTER_CUBIC)
    return np.asarray(moved, np.float32)


def usual_light(rng: np.random.Generator) -> Light:
    """Draw the light of an ordinary photograph."""
    return Light(
        key=rng.uniform(0.3, 0.9), fill=rng.uniform(0.1, 0.5), ambient=rng.uniform(0.08, 0.25),
        shine=rng.choice([0.0, 0.0, 0.3]),
        key_at=(rng.uniform(-500, 500), rng.uniform(300, 600), rng.uniform(-400, 400)),
    )  # fmt: skip


def usual_spoiling(rng: np.random.Generator) -> Spoiled:
    """Draw what an ordinary phone and hand do to a photograph."""
    return Spoiled(
        blur_px=rng.uniform(0.7, 1.8), smear_px=rng.uniform(0.0, 2.0),
        smear_turn=rng.uniform(0.0, math.pi), noise=rng.uniform(0.005, 0.03),
        gain=rng.uniform(0.6, 1.1), quality=int(rng.integers(40, 91)),
        distortion=rng.normal(0.0, 0.01),
    )  # fmt: skip


def ordinary(
    kit_prints: Mapping[str, tuple[Piece, ...]], keys: tuple[str, str], bare_mm: float,
    rng: np.random.Generator,
) -> tuple[Scene, Spoiled, dict[str, Any]]:  # fmt: skip
    """Draw an ordinary photograph of one ring: its scene, its spoiling and its truth."""
    pieces, index = kit_prints[keys[0]], kit_prints[keys[1]]
    once = math.pi * (bare_mm + THICKNESS_MM)
    arc = rng.uniform(12.0, once - LEAD_IN_MM - 25.0)
    drawn: dict[str, Any] = {
        "arc_mm": arc, "step_mm": rng.uniform(-1.5, 1.5), "gap_mm": rng.uniform(0.3, 1.2),
        "skew": math.radians(rng.normal(0.0, 0.25)), "tilt": math.radians(rng.normal(0.0, 0.5)),
    }  # fmt: skip
    ring, beside = ring_and_index(pieces, index, bare_mm=bare_mm, **drawn)
    radius = bare_mm / 2.0
    focal = SIZE[0] * rng.uniform(0.66, 0.95)
    phone = Phone(
        SIZE, focal, rng.uniform(150.0, 250.0) * focal / (0.785 * SIZE[0]),
        around=math.radians(rng.normal(0.0, 8.0)), along=math.radians(rng.normal(0.0, 9.0)),
        roll=math.radians(rng.normal(0.0, 6.0)),
        at=(rng.normal(0.0, 8.0), radius, rng.normal(0.0, 8.0)),
    )  # fmt: skip
    light = usual_light(rng)
    barrels = ((radius, 0.0, 60.0), (radius + drawn["step_mm"], -70.0, 0.0))
    how = usual_spoiling(rng)
    truth = {**drawn, "bare_mm": bare_mm, "focal_px": focal, "ring": keys[0]}
    return Scene((ring, beside), barrels, phone, light), how, truth


def both(
    prints: Mapping[str, tuple[Piece, ...]], bare_mm: tuple[float, float], rng: np.random.Generator
) -> tuple[Scene, Spoiled, dict[str, Any]]:
    """Draw a photograph of both rings of a rig, the attachment's in front of the taking lens's."""
    strips: list[Wrapped] = []
    barrels, arcs = [], {}
    keys = {"taking": "taking/eighty-five", "attachment": "attachment/brass-double"}
    for (which, key), bare, foot in zip(keys.items(), bare_mm, (0.0, 48.0), strict=True):
        once = math.pi * (bare + THICKNESS_MM)
        arc = rng.uniform(12.0, once - LEAD_IN_MM - 25.0)
        arcs[which] = arc
        step = rng.uniform(-1.5, 1.5)
        strips += ring_and_index(
            prints[f"{key}/ruler"], prints[f"{key}/bench-index"], bare_mm=bare, arc_mm=arc,
            step_mm=step, gap_mm=rng.uniform(0.3, 1.2), skew=math.radians(rng.normal(0.0, 0.25)),
            tilt=math.radians(rng.normal(0.0, 0.5)), foot_mm=foot,
        )  # fmt: skip
        barrels += [(bare / 2.0, foot, foot + 30.0), (bare / 2.0 + step, foot - 20.0, foot)]
    _, how, _ = ordinary(prints, (f"{keys['taking']}/ruler", f"{keys['taking']}/bench-index"),
                         bare_mm[0], rng)  # fmt: skip
    focal = SIZE[0] * rng.uniform(0.66, 0.95)
    phone = Phone(
        SIZE, focal, rng.uniform(170.0, 250.0) * focal / (0.785 * SIZE[0]),
        around=math.radians(rng.normal(0.0, 8.0)), along=math.radians(rng.normal(0.0, 7.0)),
        roll=math.radians(rng.normal(0.0, 6.0)),
        at=(rng.normal(0.0, 6.0), max(bare_mm) / 2.0, 22.0 + rng.normal(0.0, 6.0)),
    )  # fmt: skip
    light = Light(key=rng.uniform(0.3, 0.9), fill=rng.uniform(0.1, 0.5))
    return Scene(tuple(strips), tuple(barrels), phone, light), how, {"arcs": arcs}
