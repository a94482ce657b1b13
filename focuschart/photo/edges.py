"""The edges of tags measured across, in linear light, about where the model has them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from focuschart.photo.strips import Floats

POINTS = 12
"""Along each side of a tag."""
_STEPS = 33
_OUT, _IN = 0.4, 0.8
"""How far across an edge is looked at, in modules."""
_LEAST_CONTRAST = 0.04
_MOST_SPREAD = 2.0
"""In modules."""


class Edges(NamedTuple):
    """What was measured across edges: how far out of place (e, px along the normals), and width.

    `blur_px` is the standard deviation of the spread of each edge (e); `good` says which edges
    could be measured.
    """

    offset_px: Floats
    blur_px: Floats
    good: NDArray[np.bool_]


def linear_light(picture: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return a grey picture as linear light, 0 to 1, by the curve of sRGB (IEC 61966-2-1)."""
    value = np.arange(256) / 255.0
    table = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    return np.asarray(table.astype(np.float32)[picture])


def outward_normals(pixels: Floats, farther: Floats, *, by_mm: float) -> tuple[Floats, Floats]:
    """Return the unit normals of edges in the picture (e × 2), and pixels a millimetre across them.

    `pixels` are points along each edge (e × p × 2), `farther` the same once the edges lie `by_mm`
    farther out; the second of the two returned is e × p. A normal is across the edge as the picture
    has it, not along the outward direction, which is oblique.
    """
    along = pixels[:, -1] - pixels[:, 0]
    normal = np.stack((-along[:, 1], along[:, 0]), axis=-1)
    normal /= np.linalg.norm(normal, axis=-1, keepdims=True)
    across = np.sum(normal[:, np.newaxis] * (farther - pixels) / by_mm, axis=-1)
    return normal * np.sign(across.mean(axis=1))[:, np.newaxis], np.abs(across)


def measured(
    light: NDArray[np.float32], points: Floats, outward: Floats, module_px: Floats, white: Floats
) -> Edges:
    """Return how far edges are from points (e × p × 2, px), along unit normals (e × p × 2).

    `module_px` (e × p) is the size of a module along the normal, `white` (e) how much of what lies
    inside the tag's border, one module wide, is white. The profile across an edge is compared with
    the border and what lies on both of its sides, blurred as the edges are.
    """
    import cv2

    reach = np.linspace(-_IN, _OUT, _STEPS)
    at = points[:, :, np.newaxis] + (
        outward[:, :, np.newaxis] * (module_px[..., np.newaxis] * reach)[..., np.newaxis]
    )
    flat = at.reshape(len(points), -1, 2).astype(np.float32)
    profile = cv2.remap(light, flat[..., 0], flat[..., 1], cv2.INTER_LINEAR,
                        borderMode=cv2.BORDER_REPLICATE)  # fmt: skip
    rows = profile.reshape(len(points), points.shape[1], _STEPS).astype(float).mean(axis=1)
    module = module_px.mean(axis=1)
    # An edge that is hidden has no slope: without a limit it alone would tell the blur.
    spread = np.clip(_spread(rows, reach), 0.0, _MOST_SPREAD)
    blur = _blur_px(spread * module, outward[:, 0], module)
    return _located(rows, reach, module, blur, white)


def _spread(rows: Floats, reach: Floats) -> Floats:
    """Return the standard deviation of edges' spread in modules, from the steepest slope."""
    step = reach[1] - reach[0]
    dark = rows[:, reach < -0.45].min(axis=1)
    bright = rows[:, reach > 0.35].max(axis=1)
    slope = np.gradient(rows, step, axis=1)[:, np.abs(reach) < 0.45].max(axis=1)
    return np.asarray((bright - dark) / np.maximum(slope, 1e-9) / np.sqrt(2.0 * np.pi))


def _blur_px(spread_px: Floats, normal: Floats, module_px: Floats) -> Floats:
    """Return the blur along each normal (e) of one blur of the whole picture, longer one way.

    Its variance along a normal n is nᵀ C n; C is fitted to the spread of all edges, the widest
    modules most, since there the edges on both sides disturb least.
    """
    x, y = normal.T
    basis = np.column_stack((x * x, 2.0 * x * y, y * y))
    weight = module_px / module_px.max()
    square = np.square(spread_px)
    for _ in range(3):
        found = np.linalg.lstsq(basis * weight[:, np.newaxis], square * weight, rcond=None)[0]
        off = np.abs(basis @ found - square)
        weight = module_px / module_px.max() / (1.0 + off / max(float(np.median(off)), 1e-6))
    least = 0.2 * float(np.median(square))
    return np.asarray(np.sqrt(np.maximum(basis @ found, max(least, 0.01))))


def _located(
    rows: Floats, reach: Floats, module_px: Floats, blur_px: Floats, white: Floats
) -> Edges:
    """Return the edges in profiles (e × steps), which go from dark to bright."""
    from scipy.special import ndtr

    width = np.maximum(blur_px / module_px, 0.02)[:, np.newaxis]
    offset = np.zeros(len(rows))
    for _ in range(3):
        at = (reach - offset[:, np.newaxis]) / width
        inner = (reach + 1.0 - offset[:, np.newaxis]) / width
        meant = ndtr(at) + white[:, np.newaxis] * ndtr(-inner)
        slope = -(_bell(at) - white[:, np.newaxis] * _bell(inner)) / width
        basis = np.stack((np.ones_like(meant), meant, slope), axis=-1)
        normal = np.swapaxes(basis, 1, 2) @ basis + 1e-9 * np.eye(3)
        found = np.linalg.solve(normal, np.swapaxes(basis, 1, 2) @ rows[..., np.newaxis])[..., 0]
        contrast = np.maximum(found[:, 1], 1e-6)
        offset = np.clip(offset + np.clip(found[:, 2] / contrast, -0.2, 0.2), -0.6, 0.6)
    good = (found[:, 1] > _LEAST_CONTRAST) & (np.abs(offset) < 0.5)
    return Edges(offset * module_px, blur_px, good)


def _bell(value: Floats) -> Floats:
    return np.asarray(np.exp(-0.5 * np.square(value)) / np.sqrt(2.0 * np.pi))
