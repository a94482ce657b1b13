"""Random attachments of two cemented cylindrical doublets, and the 85 mm rigs they sit on.

All is invented, drawn in the ranges below, which are judgement, no source. The front group
diverges, the rear group converges; each is cemented from a crown and a flint in either order, the
powers shared about as in an achromat.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.designs.recorded import ATTACHMENT_ZERO_MM, FOCAL_MM, TAKING_ZERO_MM
from tests.rig_truth import ExtendingLens, RigTruth
from tests.sample_parts import Ring, doublet
from tests.tracer import PLANE, Moving, Surface, ThickAttachment, matched_gap_mm, matrix

LEAST_RADIUS_MM = 25.0
LEAST_GAP_MM = 2.0
LEAST_EDGE_MM = 0.5
EDGE_AT_MM = 18.0
REAR_MOVES_SHARE = 0.2
NEAREST_TO_REAR_MM = 800.0
"""Nearer to the rear vertex than any mark, so that the groups never touch."""


@dataclass(frozen=True)
class DrawnRig:
    """An attachment on its rig, and the rings of both."""

    truth: RigTruth
    taking_ring: Ring
    attachment_ring: Ring


def draw_rig(noise: np.random.Generator, *, squeeze: float) -> DrawnRig | None:
    """A random rig with this paraxial squeeze at infinity; None where the glass cannot be made."""
    front_focal_mm = noise.uniform(60.0, 110.0)
    attachment = ThickAttachment(
        front=_group(noise, -front_focal_mm), rear=_group(noise, squeeze * front_focal_mm)
    )
    if not (_can_be_made(attachment.front) and _can_be_made(attachment.rear)):
        return None
    moving: Moving = "rear" if noise.random() < REAR_MOVES_SHARE else "front"
    nearest_mm, far_mm = (
        matched_gap_mm(attachment, distance_mm=distance_mm, moving=moving)
        for distance_mm in (NEAREST_TO_REAR_MM, 1e12)
    )
    if nearest_mm < LEAST_GAP_MM:
        return None
    return _on_a_lens(noise, attachment, moving=moving, travel_mm=far_mm - nearest_mm)


def _on_a_lens(
    noise: np.random.Generator, attachment: ThickAttachment, *, moving: Moving, travel_mm: float
) -> DrawnRig:
    """The attachment on an 85 mm lens, its ring turning a third to most of a turn."""
    taking = Ring(float(noise.integers(62, 83)), float(noise.integers(24, 41)), _sign(noise))
    attached = Ring(
        float(noise.integers(76, 101)),
        round(travel_mm / noise.uniform(0.3, 0.85), 1),
        _sign(noise),
    )
    truth = RigTruth(
        lens=ExtendingLens(
            FOCAL_MM,
            round(noise.uniform(2.0, 8.0), 2),
            taking.arc_per_mm,
            zero_arc_mm=TAKING_ZERO_MM,
        ),
        attachment=attachment,
        moving=moving,
        rear_vertex_mm=round(noise.uniform(108.0, 148.0), 2),
        arc_per_mm=attached.arc_per_mm,
        zero_arc_mm=ATTACHMENT_ZERO_MM,
    )
    return DrawnRig(truth, taking, attached)


def _sign(noise: np.random.Generator) -> int:
    return int(noise.choice((-1, 1)))


def _group(noise: np.random.Generator, focal_mm: float) -> tuple[Surface, ...]:
    """A doublet of this focal length; the last radius brings it about."""
    power = 1.0 / focal_mm
    crown, flint = noise.uniform(1.5, 1.64), noise.uniform(1.65, 1.8)
    share = noise.uniform(1.2, 2.6)
    indices, powers = (crown, flint), (share * power, (1.0 - share) * power)
    if noise.random() < 0.5:
        indices, powers = indices[::-1], powers[::-1]
    thick = [
        noise.uniform(5.0, 11.0) if element > 0.0 else noise.uniform(2.5, 4.5) for element in powers
    ]
    first = noise.uniform(-1.5, 2.5) * power
    radii = (1.0 / first, 1.0 / (first - powers[0] / (indices[0] - 1.0)))
    thicknesses, glass = tuple(np.round(thick, 1)), tuple(np.round(indices, 3))
    flat = doublet((*np.round(radii, 2), PLANE), thicknesses, glass)
    remaining = power + matrix(flat, powered=True)[1, 0]
    height = matrix(flat, powered=True)[0, 0]
    last_mm = height * (1.0 - glass[1]) / remaining
    return doublet((*np.round(radii, 2), round(last_mm, 3)), thicknesses, glass)


def _can_be_made(group: tuple[Surface, ...]) -> bool:
    """Whether no surface curves too much and no element has a sharp edge."""
    radii = np.array([surface.radius_mm for surface in group])
    if np.min(np.abs(radii)) < LEAST_RADIUS_MM:
        return False
    sags = radii - np.sign(radii) * np.sqrt(radii**2 - EDGE_AT_MM**2)
    thicknesses = np.array([surface.thickness_mm for surface in group[:-1]])
    return bool(np.all(thicknesses + np.diff(sags) >= LEAST_EDGE_MM))
