"""Exact ray tracer the tests are held to: it shares no code with the program it checks.

Light runs along +z. A surface is a plane or a circular cylinder whose axis is vertical, so that
its power lies in the horizontal meridian (x) only; the vertical meridian (y) sees plane plates.
A system is a sequence of surfaces; every position is measured from the current vertex. Lengths
are millimetres, indices are those of one wavelength.

Formulas: intersection after Welford, *Aberrations of Optical Systems* (1986), section 4.2,
reduced to a cylinder; reduced ray-transfer matrices as in Smith, *Modern Optical Engineering*,
chapter 4 (both from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import newton

Array = NDArray[np.float64]
Moving = Literal["front", "rear"]

PLANE = float("inf")
AIR = 1.0


class Surface(NamedTuple):
    """One surface; the radius is positive where its centre lies on the side light goes to."""

    radius_mm: float
    thickness_mm: float
    index_after: float


class Rays(NamedTuple):
    """Points (n, 3) in mm from the current vertex, and unit directions (n, 3)."""

    points_mm: Array
    directions: Array


@dataclass(frozen=True)
class ThickAttachment:
    """A front and a rear group, light from the subject; the last thickness of each must be 0."""

    front: tuple[Surface, ...]
    rear: tuple[Surface, ...]

    @property
    def front_glass_mm(self) -> float:
        """Vertex to vertex thickness of the front group."""
        return sum(surface.thickness_mm for surface in self.front)

    @property
    def rear_glass_mm(self) -> float:
        """Vertex to vertex thickness of the rear group."""
        return sum(surface.thickness_mm for surface in self.rear)

    def inward(self, gap_mm: float) -> tuple[Surface, ...]:
        """Surfaces in the order light from the subject meets them, with this air gap."""
        return (*self.front[:-1], self.front[-1]._replace(thickness_mm=gap_mm), *self.rear)

    def outward(self, gap_mm: float) -> tuple[Surface, ...]:
        """Surfaces in the order met by light sent from the taking lens to the subject."""
        return flipped(self.inward(gap_mm))

    def length_mm(self, gap_mm: float) -> float:
        """Front vertex to rear vertex."""
        return self.front_glass_mm + gap_mm + self.rear_glass_mm


def flipped(surfaces: Sequence[Surface]) -> tuple[Surface, ...]:
    """The same glass met from the other side; air outside, no thickness after the last."""
    back = list(reversed(surfaces))
    thicknesses = [surface.thickness_mm for surface in back[1:]] + [0.0]
    indices = [surface.index_after for surface in back[1:]] + [AIR]
    radii = [-surface.radius_mm for surface in back]
    return tuple(map(Surface, radii, thicknesses, indices))


# Real rays


def rays_from(x_mm: ArrayLike, y_mm: ArrayLike, slope_x: ArrayLike, slope_y: ArrayLike) -> Rays:
    """Rays through points of the plane z = 0 with slopes dx/dz and dy/dz (all broadcast)."""
    x, y, tx, ty = np.broadcast_arrays(*np.atleast_1d(x_mm, y_mm, slope_x, slope_y))
    points = np.stack([x, y, np.zeros(x.shape)], axis=-1)
    directions = np.stack([tx, ty, np.ones(x.shape)], axis=-1)
    return Rays(points, directions / np.linalg.norm(directions, axis=-1, keepdims=True))


def on_plane(rays: Rays, z_mm: float = 0.0) -> Rays:
    """The same rays, their points moved along them to the plane z."""
    steps = (z_mm - rays.points_mm[:, 2]) / rays.directions[:, 2]
    return Rays(rays.points_mm + steps[:, None] * rays.directions, rays.directions)


def cylinder_hit(rays: Rays, radius_mm: float) -> Array:
    """Points (n, 3) where rays meet a vertical cylinder or plane through the origin.

    Closed form, without cancellation and without a special case for the plane. Raises
    ValueError where a ray passes the cylinder by.
    """
    curvature = 1.0 / radius_mm
    start = on_plane(rays).points_mm
    x, (alpha, _, gamma) = start[:, 0], rays.directions.T
    linear = gamma - curvature * alpha * x
    inside = linear**2 - curvature**2 * x**2 * (alpha**2 + gamma**2)
    if np.any(inside < 0.0):
        raise ValueError(f"a ray misses the cylinder of radius {radius_mm} mm")
    steps = curvature * x**2 / (linear + np.sqrt(inside))
    hits: Array = start + steps[:, None] * rays.directions
    return hits


def refract(rays: Rays, radius_mm: float, index_before: float, index_after: float) -> Rays:
    """Rays after a surface, by the vector law n' r' = n r + (n' cos i' - n cos i) normal.

    Raises ValueError on total reflection.
    """
    points = cylinder_hit(rays, radius_mm)
    normals = np.zeros(points.shape)
    normals[:, 0] = -points[:, 0] / radius_mm
    normals[:, 2] = 1.0 - points[:, 2] / radius_mm
    ratio = index_before / index_after
    cos_in = np.sum(rays.directions * normals, axis=1)
    cos_out_squared = 1.0 - ratio**2 * (1.0 - cos_in**2)
    if np.any(cos_out_squared < 0.0):
        raise ValueError("total reflection")
    push = np.sqrt(cos_out_squared) - ratio * cos_in
    return Rays(points, ratio * rays.directions + push[:, None] * normals)


def trace(surfaces: Sequence[Surface], rays: Rays) -> Rays:
    """Rays after every surface; the origin ends at the last vertex plus its thickness.

    The first surface's vertex is the origin of the rays given; light starts in air.
    """
    index = AIR
    for surface in surfaces:
        rays = refract(rays, surface.radius_mm, index, surface.index_after)
        rays = Rays(rays.points_mm - [0.0, 0.0, surface.thickness_mm], rays.directions)
        index = surface.index_after
    return rays


# Paraxial


def matrix(surfaces: Sequence[Surface], *, powered: bool) -> Array:
    """Reduced (2, 2) matrix on (height, index x slope): powered horizontally, else plates."""
    total, index = np.eye(2), AIR
    for radius_mm, thickness_mm, index_after in surfaces:
        power = (index_after - index) / radius_mm if powered else 0.0
        refraction = np.array([[1.0, 0.0], [-power, 1.0]])
        transfer = np.array([[1.0, thickness_mm / index_after], [0.0, 1.0]])
        total, index = transfer @ refraction @ total, index_after
    return total


def focal_length_mm(surfaces: Sequence[Surface]) -> float:
    """Focal length in the horizontal meridian; negative where the group diverges."""
    return float(-1.0 / matrix(surfaces, powered=True)[1, 0])


def afocal_gap_mm(attachment: ThickAttachment) -> float:
    """Air gap at which the attachment is paraxially afocal (its power is linear in the gap)."""
    power_at_0, power_at_1 = (
        float(matrix(attachment.inward(gap_mm), powered=True)[1, 0]) for gap_mm in (0.0, 1.0)
    )
    return -power_at_0 / (power_at_1 - power_at_0)


def vergence(attachment: ThickAttachment, gap_mm: float, *, near: float, powered: bool) -> float:
    """Reduced ray slope per height at the rear vertex; `near` is 1 / subject distance.

    The distance is taken from the front vertex. Positive for a virtual image ahead.
    """
    ray = matrix(attachment.inward(gap_mm), powered=powered) @ np.array([1.0, near])
    return float(ray[1] / ray[0])


def angular_gain(
    attachment: ThickAttachment,
    gap_mm: float,
    *,
    distance_mm: float,
    pupil_to_rear_mm: float,
    powered: bool,
) -> float:
    """Field slope at the subject, seen from the front vertex, per chief ray slope at the pupil.

    `distance_mm` from the front vertex, infinity allowed.
    """
    chief = matrix(attachment.outward(gap_mm), powered=powered) @ [pupil_to_rear_mm, 1.0]
    return float(chief[0] / distance_mm + chief[1])


def squeeze(
    attachment: ThickAttachment, gap_mm: float, *, distance_mm: float, pupil_to_rear_mm: float
) -> float:
    """Ratio of the vertical to the horizontal magnification of a subject on the sensor.

    `distance_mm` from the front vertex. Where both meridians are sharp there, it does not
    depend on the pupil.
    """
    horizontal, vertical = (
        angular_gain(
            attachment,
            gap_mm,
            distance_mm=distance_mm,
            pupil_to_rear_mm=pupil_to_rear_mm,
            powered=powered,
        )
        for powered in (True, False)
    )
    return horizontal / vertical


def root(function: Callable[[float], float], start: float, *, step: float) -> float:
    """Secant root near `start`. Raises RuntimeError where it does not converge."""
    return float(newton(function, start, x1=start + step, tol=1e-13, rtol=1e-12, maxiter=60))


def matched_gap_mm(
    attachment: ThickAttachment, *, distance_mm: float, moving: Moving = "rear"
) -> float:
    """Air gap at which both meridians are paraxially sharp on one subject plane.

    `distance_mm` runs from the subject to the outer vertex of the group that stays: the front
    vertex where the rear group moves, the rear vertex where the front group moves.
    """

    def mismatch(gap_mm: float) -> float:
        ahead = attachment.length_mm(gap_mm) if moving == "front" else 0.0
        near = 1.0 / (distance_mm - ahead)
        horizontal, vertical = (
            vergence(attachment, gap_mm, near=near, powered=powered) for powered in (True, False)
        )
        return horizontal - vertical

    return root(mismatch, afocal_gap_mm(attachment), step=-0.1)
