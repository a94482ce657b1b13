"""Best focus of real rays through a thick attachment, and the gap that matches the meridians.

The taking lens is ideal; rays leave the sensor's centre, pass its entrance pupil and the
attachment, and are judged at the subject. Conventions as in `tests.tracer`.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from tests.tracer import (
    Array,
    Moving,
    Rays,
    ThickAttachment,
    matched_gap_mm,
    on_plane,
    rays_from,
    root,
    trace,
)


class Pupil(NamedTuple):
    """Points of a circular entrance pupil and their quadrature weights, each of shape (n,)."""

    x_mm: Array
    y_mm: Array
    weights: Array


class FocusError(NamedTuple):
    """Angular ray errors at the subject, shape (n,), as seen from the front vertex."""

    horizontal: Array
    vertical: Array


@lru_cache(maxsize=32)
def pupil_points(radius_mm: float, *, rings: int = 8, arms: int = 8) -> Pupil:
    """Quadrature over one quarter of a disc (the rest is its mirror image on axis).

    Gauss nodes in the radius squared, evenly spread arms; the points of the rim are added with
    weight 0, so that they count for the width of a blur and not for its mean square.
    """
    nodes, weights = np.polynomial.legendre.leggauss(rings)
    radii = radius_mm * np.sqrt(np.append((nodes + 1.0) / 2.0, 1.0))
    angles = (np.arange(arms) + 0.5) * np.pi / 2.0 / arms
    share = np.append(weights / 2.0, 0.0) / arms
    x, y = np.outer(radii, np.cos(angles)), np.outer(radii, np.sin(angles))
    return Pupil(x.ravel(), y.ravel(), np.repeat(share, arms))


def focus_error(
    attachment: ThickAttachment,
    gap_mm: float,
    *,
    pupil: Pupil,
    pupil_to_rear_mm: float,
    lens_near: float,
    distance_mm: float,
) -> FocusError:
    """Where rays from the sensor's centre, sent out through the pupil, pass the subject plane.

    The ideal taking lens aims them at the axis 1 / `lens_near` ahead of its pupil; `distance_mm`
    runs from the front vertex. Height over distance, which at infinity is the slope.
    """
    rays = rays_from(pupil.x_mm, pupil.y_mm, -pupil.x_mm * lens_near, -pupil.y_mm * lens_near)
    moved = Rays(rays.points_mm - [0.0, 0.0, pupil_to_rear_mm], rays.directions)
    points, directions = on_plane(trace(attachment.outward(gap_mm), moved))
    errors = points[:, :2] / distance_mm + directions[:, :2] / directions[:, 2:]
    return FocusError(errors[:, 0], errors[:, 1])


def defocus(errors: Array, pupil_mm: Array, weights: Array) -> float:
    """Slope of the ray errors on the pupil coordinate, weighted least squares.

    Zero exactly where the rms blur is least against the position of the sensor, for a sensor
    that slips adds an error in proportion to the pupil coordinate.
    """
    return float(np.sum(weights * errors * pupil_mm) / np.sum(weights * pupil_mm**2))


def joint_focus(
    errors: Callable[[float, float], FocusError], pupil: Pupil, *, near: float, gap_mm: float
) -> tuple[float, float]:
    """Lens vergence (1/mm) and air gap (mm) that bring both meridians to their least rms blur.

    `errors` takes a lens vergence and a gap; `near` and `gap_mm` are where to start. The lens
    serves the vertical meridian, the gap the horizontal one.
    """

    def lens_for(gap_mm: float) -> float:
        def vertical(near: float) -> float:
            return defocus(errors(near, gap_mm).vertical, pupil.y_mm, pupil.weights)

        return root(vertical, near, step=1e-5)

    def horizontal(gap_mm: float) -> float:
        return defocus(errors(lens_for(gap_mm), gap_mm).horizontal, pupil.x_mm, pupil.weights)

    gap_mm = root(horizontal, gap_mm, step=-0.01)
    return lens_for(gap_mm), gap_mm


def real_matched_gap_mm(
    attachment: ThickAttachment,
    *,
    distance_mm: float,
    focal_mm: float,
    stop: float,
    pupil_to_rear_mm: float,
    moving: Moving = "rear",
) -> float:
    """Air gap at which real rays through the pupil of a lens f/N focus both meridians together.

    Least rms blur as in `defocus`, distance as in `matched_gap_mm`. The pupil, of radius
    f / 2N, keeps its distance to the rear vertex.
    """
    pupil = pupil_points(focal_mm / (2.0 * stop))

    def errors(lens_near: float, gap_mm: float) -> FocusError:
        ahead = attachment.length_mm(gap_mm) if moving == "front" else 0.0
        return focus_error(
            attachment,
            gap_mm,
            pupil=pupil,
            pupil_to_rear_mm=pupil_to_rear_mm,
            lens_near=lens_near,
            distance_mm=distance_mm - ahead,
        )

    start = matched_gap_mm(attachment, distance_mm=distance_mm, moving=moving)
    return joint_focus(errors, pupil, near=1.0 / distance_mm, gap_mm=start)[1]
