"""What the invented rigs are put together from: targets, rings, glass, and the kit's facts."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import NamedTuple

from tests.rig_truth import ExtendingLens, RigTruth, TakingLens
from tests.tracer import AIR, Moving, Surface, ThickAttachment, afocal_gap_mm, squeeze

FOOT_MM = 304.8
INCH_MM = 25.4

# How well a tape finds a target; judgement, no source.
TAPE_NOISE_MM = 2.0
TAPE_NOISE_SHARE = 0.001


class Target(NamedTuple):
    """A bench target: as written in the kit, in mm, and the error stated for a paced one."""

    label: str
    distance_mm: float
    error_label: str | None = None
    error_mm: float | None = None

    @property
    def sigma_mm(self) -> float:
        """One standard deviation of its distance."""
        return self.error_mm or max(TAPE_NOISE_MM, TAPE_NOISE_SHARE * self.distance_mm)


@dataclass(frozen=True)
class Ring:
    """A focus ring; `lead_mm` per turn is None where the travel follows no helicoid."""

    diameter_mm: float
    lead_mm: float | None
    sign: int

    @property
    def arc_per_mm(self) -> float:
        """Signed mm of arc per mm of travel. Raises ValueError without a lead."""
        if self.lead_mm is None:
            raise ValueError("a ring without a lead has no arc per travel")
        return self.sign * pi * self.diameter_mm / self.lead_mm


@dataclass(frozen=True)
class KitFacts:
    """What the kit file states: nominal figures, as a maker's sheet and a tape would give them.

    `separation_mm`: middle of front glass to middle of rear glass, `front_vertex_mm`: from the
    sensor; both with both rings at infinity.
    """

    focal_mm: float
    nominal_squeeze: float
    true_squeeze: float
    separation_mm: float
    front_glass_mm: float
    rear_glass_mm: float
    front_vertex_mm: float
    sensor_mm: tuple[float, float]
    circle_mm: float
    flange_mm: float
    lens_length_mm: float
    spacer_mm: float
    taking_ring: Ring
    attachment_ring: Ring
    moving: Moving
    front_extends: bool


@dataclass(frozen=True)
class SampleRig:
    """A rig's truth, the facts its kit states, and what is read at the bench."""

    truth: RigTruth
    facts: KitFacts
    targets: tuple[Target, ...]
    stop: float
    seed: int


def metric(metres: float, error_m: float | None = None) -> Target:
    """A target in metres."""
    if error_m is None:
        return Target(f"{metres:g} m", 1000.0 * metres)
    return Target(f"{metres:g} m", 1000.0 * metres, f"{error_m:g} m", 1000.0 * error_m)


def imperial(feet: int, inches: int = 0, *, error_ft: int | None = None) -> Target:
    """A target in feet and inches."""
    label = f"{feet} ft {inches} in" if inches else f"{feet} ft"
    distance_mm = feet * FOOT_MM + inches * INCH_MM
    if error_ft is None:
        return Target(label, distance_mm)
    return Target(label, distance_mm, f"{error_ft} ft", error_ft * FOOT_MM)


def doublet(
    radii_mm: tuple[float, float, float],
    thicknesses_mm: tuple[float, float],
    indices: tuple[float, float],
) -> tuple[Surface, ...]:
    """A cemented cylindrical doublet in air."""
    return tuple(map(Surface, radii_mm, (*thicknesses_mm, 0.0), (*indices, AIR)))


def sample_rig(
    attachment: ThickAttachment,
    *,
    lens: TakingLens,
    nominal_squeeze: float,
    moving: Moving,
    attachment_ring: Ring,
    attachment_zero_mm: float,
    taking_ring: Ring,
    lens_length_mm: float,
    spacer_mm: float,
    sensor_mm: tuple[float, float],
    circle_mm: float,
    targets: tuple[Target, ...],
    stop: float,
    seed: int,
    flange_mm: float = 18.0,
) -> SampleRig:
    """Truth and kit facts of one rig; the rear vertex is flange + lens + spacer from the sensor."""
    truth = RigTruth(
        lens=lens,
        attachment=attachment,
        moving=moving,
        rear_vertex_mm=flange_mm + lens_length_mm + spacer_mm,
        arc_per_mm=attachment_ring.arc_per_mm,
        zero_arc_mm=attachment_zero_mm,
    )
    gap_mm = afocal_gap_mm(attachment)
    half_glass_mm = (attachment.front_glass_mm + attachment.rear_glass_mm) / 2.0
    facts = KitFacts(
        focal_mm=lens.focal_mm,
        nominal_squeeze=nominal_squeeze,
        true_squeeze=squeeze(attachment, gap_mm, distance_mm=float("inf"), pupil_to_rear_mm=0.0),
        separation_mm=round(gap_mm + half_glass_mm, 1),
        front_glass_mm=attachment.front_glass_mm,
        rear_glass_mm=attachment.rear_glass_mm,
        front_vertex_mm=float(round(truth.front_vertex_mm)),
        sensor_mm=sensor_mm,
        circle_mm=circle_mm,
        flange_mm=flange_mm,
        lens_length_mm=lens_length_mm,
        spacer_mm=spacer_mm,
        taking_ring=taking_ring,
        attachment_ring=attachment_ring,
        moving=moving,
        front_extends=isinstance(lens, ExtendingLens) and lens.front_moves,
    )
    return SampleRig(truth, facts, targets, stop, seed)
