"""What a thick attachment and its mounts let pass, ray by ray, and the limits found from that.

Rays leave an ideal taking lens's entrance pupil for the subject, as in `tests.real_focus`, and are
clipped by every glass, which is as wide throughout as its mount, and by rims in the air. Nothing
is shared with the program but the lengths that go in.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from tests.tracer import AIR, Array, Rays, Surface, ThickAttachment, on_plane, rays_from, refract


class Rim(NamedTuple):
    """A round opening in the air: mm ahead of a vertex (less than zero: behind), its diameter."""

    ahead_mm: float
    diameter_mm: float


@dataclass(frozen=True)
class Mounts:
    """What clips: glass diameters, rims behind the rear vertex and ahead of the front vertex."""

    rear_glass_mm: float
    front_glass_mm: float
    behind: tuple[Rim, ...] = ()
    ahead: tuple[Rim, ...] = ()


@dataclass(frozen=True)
class ThickRig:
    """Attachment, air gap, mounts, pupil to rear vertex, and 1/u the lens is focused for."""

    attachment: ThickAttachment
    gap_mm: float
    mounts: Mounts
    pupil_to_rear_mm: float
    near: float = 0.0


class Beam(NamedTuple):
    """An image point's beam: f, f-number and the point on the upright picture, mm."""

    focal_mm: float
    stop: float
    x_mm: float
    y_mm: float


def passes(rig: ThickRig, beam: Beam, points: Array) -> Array:
    """Which rays of a beam get out, for pupil points (n, 2) of a unit disc: booleans (n,)."""
    image_mm = beam.focal_mm / (1.0 - beam.focal_mm * rig.near)
    x, y = (points * beam.focal_mm / (2.0 * beam.stop)).T
    rays = rays_from(x, y, beam.x_mm / image_mm - rig.near * x, beam.y_mm / image_mm - rig.near * y)
    rays = Rays(rays.points_mm - [0.0, 0.0, rig.pupil_to_rear_mm], rays.directions)
    alive = np.ones(x.shape, dtype=bool)
    for rim in rig.mounts.behind:
        alive &= _inside(on_plane(rays, rim.ahead_mm), rim.diameter_mm)
    surfaces = rig.attachment.outward(rig.gap_mm)
    rays = _clipped(surfaces, rays, alive, rig)
    for rim in rig.mounts.ahead:
        alive[alive] = _inside(on_plane(Rays(*(part[alive] for part in rays)), rim.ahead_mm),
                               rim.diameter_mm)  # fmt: skip
    return alive


def _clipped(surfaces: Sequence[Surface], rays: Rays, alive: Array, rig: ThickRig) -> Rays:
    """Trace the rays still alive through the glass; `alive` loses those that meet its edge."""
    index, kept = AIR, Rays(rays.points_mm.copy(), rays.directions.copy())
    for number, surface in enumerate(surfaces):
        rear = number < len(rig.attachment.rear)
        edge_mm = rig.mounts.rear_glass_mm if rear else rig.mounts.front_glass_mm
        alive[alive] = _inside(on_plane(Rays(*(part[alive] for part in kept))), edge_mm)
        rays = Rays(*(part[alive] for part in kept))
        try:
            bent = refract(rays, surface.radius_mm, index, surface.index_after)
        except ValueError:  # seldom, so that rays are told apart only then
            refracted = _refracts(rays, surface, index)
            alive[alive] = refracted
            rays = Rays(*(part[refracted] for part in rays))
            bent = refract(rays, surface.radius_mm, index, surface.index_after)
        kept.points_mm[alive] = bent.points_mm - [0.0, 0.0, surface.thickness_mm]
        kept.directions[alive] = bent.directions
        index = surface.index_after
    return kept


def _refracts(rays: Rays, surface: Surface, index: float) -> Array:
    """Which rays meet the surface and are not totally reflected, tried one by one if need be."""
    try:
        refract(rays, surface.radius_mm, index, surface.index_after)
    except ValueError:
        if len(rays.points_mm) == 1:
            return np.zeros(1, dtype=bool)
        halves = zip(*(np.array_split(part, 2) for part in rays), strict=True)
        return np.concatenate([_refracts(Rays(*half), surface, index) for half in halves])
    return np.ones(len(rays.points_mm), dtype=bool)


def _inside(rays: Rays, diameter_mm: float) -> Array:
    inside: Array = np.hypot(*rays.points_mm[:, :2].T) <= diameter_mm / 2.0
    return inside


def rim_points(count: int = 180) -> Array:
    """Points round the unit disc's rim, shape (count, 2)."""
    angles = 2.0 * np.pi * np.arange(count) / count
    return np.stack([np.cos(angles), np.sin(angles)], axis=-1)


def disc_points(rings: int = 24, arms: int = 60) -> Array:
    """Points that each stand for the same area of the unit disc, shape (rings x arms, 2)."""
    radii = np.sqrt((np.arange(rings) + 0.5) / rings)
    return (radii[:, None, None] * rim_points(arms)).reshape(-1, 2)


CENTRE = np.zeros((1, 2))
TESTS: dict[str, Callable[[ThickRig, Beam], bool]] = {
    "full": lambda rig, beam: bool(np.all(passes(rig, beam, rim_points()))),
    "half": lambda rig, beam: bool(np.mean(passes(rig, beam, disc_points())) >= 0.5),
    "chief": lambda rig, beam: bool(np.all(passes(rig, beam, CENTRE))),
}


def traced_crop(rig: ThickRig, beam: Beam, kind: str) -> float:
    """Largest factor on the image point for which the beam still passes; 0 for none."""

    def clear(factor: float) -> bool:
        return TESTS[kind](rig, beam._replace(x_mm=factor * beam.x_mm, y_mm=factor * beam.y_mm))

    return halved(clear, good=0.0, bad=6.0) if clear(0.0) else 0.0


def traced_focal_mm(rig: ThickRig, beam: Beam, kind: str) -> float:
    """Shortest focal length at which the beam passes; infinity for none of a fine ladder."""
    ladder = np.geomspace(10.0, 400.0, 160)
    clear = (TESTS[kind](rig, beam._replace(focal_mm=float(f))) for f in ladder)
    first = next((number for number, good in enumerate(clear) if good), None)
    if first is None:
        return float("inf")
    return halved(
        lambda f: TESTS[kind](rig, beam._replace(focal_mm=f)),
        good=float(ladder[first]), bad=float(ladder[first - 1]),
    )  # fmt: skip


def halved(clear: Callable[[float], bool], *, good: float, bad: float) -> float:
    """The border between a value that is clear and one that is not, to a millionth of the gap."""
    for _ in range(20):
        middle = (good + bad) / 2.0
        good, bad = (middle, bad) if clear(middle) else (good, middle)
    return good
