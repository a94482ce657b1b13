"""The laws of a focus ring: arc a = a∞ + g·h(y; φ), with exact derivatives.

y is the *position* of the subject for the ring (mm): its distance from the sensor, less the plate
shift for a taking lens, less the place of the front glass for an attachment. h is the travel of the
moving part in mm (for the hyperbola a number without a unit), φ the law's own constants.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy as np

from focuschart.errors import OpticsError
from focuschart.optics import attachment, thin_lens, tolerance
from focuschart.optics.arrays import Floats, Numbers
from focuschart.optics.depth_of_field import Aperture


@dataclass(frozen=True, slots=True)
class Prior:
    """What is known of a constant before any reading: its name, value and standard deviation."""

    name: str
    centre: float
    sigma: float


@dataclass(frozen=True, slots=True)
class Travel:
    """h and its derivatives at n positions: h (n), ∂h/∂φ (n × constants), ∂h/∂y (n)."""

    value: Floats
    by_constant: Floats
    by_position: Floats


class Law(Protocol):
    """The law of a ring; `priors` are those of φ, in the order that `travel` takes."""

    @property
    def priors(self) -> tuple[Prior, ...]:
        """The prior of each constant φ."""

    @property
    def least_distances(self) -> int:
        """The least number of different distances to read, with the slope g known."""

    def travel(
        self, position_mm: Numbers, constants: Numbers, *, power_share: Numbers = 0.0
    ) -> Travel:
        """Return h and its derivatives; raises OpticsError where no focus exists.

        `power_share` is ε of `optics.height` for the height in the picture, of the positions' shape
        or a scalar. It moves an attachment's h, always counted from the middle of the picture.
        """


def prior_centres(law: Law) -> Floats:
    """Return the constants φ that are assumed before any reading."""
    return np.array([prior.centre for prior in law.priors])


class ExtensionConstants(NamedTuple):
    """The constants φ of `ExtensionLaw` by name, in order: f and i, mm."""

    focal_length_mm: float
    hiatus_mm: float


class AttachmentConstants(NamedTuple):
    """The constants φ of `AttachmentLaw` by name, in order: A and δ, mm, and S."""

    front_focal_mm: float
    offset_mm: float
    squeeze: float

    @property
    def rear_focal_mm(self) -> float:
        """F = S·A."""
        return self.front_focal_mm * self.squeeze


FOCAL_LENGTH_SHARE = 0.02
HIATUS_SIGMA_MM = 30.0
"""Real lenses of six elements have a hiatus of −27 mm. With a prior width of 15 mm the stated 95 %
intervals of a whole chart held in 88 of 100 traced rigs, with 30 mm in 97."""
FRONT_FOCAL_SHARE = 0.20
UNKNOWN_FRONT_FOCAL_SHARE = 0.40
UNKNOWN_GLASS_SIGMA_MM = 4.0
"""Where the kit has no separation, and no thickness of the glass; judgement, no source."""
OFFSET_SHARE_OF_GLASS = 0.18
OFFSET_SIGMA_MM = 5.0
SQUEEZE_SHARE = 0.03
HYPERBOLA_OFFSET_SHARE = 0.3
_LARGEST_MAGNIFICATION = 0.999
_LEAST_LEVERAGE = 1e-6


class TakingLaw(Law, Protocol):
    """A law of a taking lens, which also gives the tolerance of the ring."""

    def tolerance_travel(
        self, aperture: Aperture, position_mm: Numbers, constants: Floats
    ) -> Floats:
        """Return the change of h that blurs the vertical meridian by one criterion."""


@dataclass(frozen=True, slots=True)
class ExtensionLaw:
    """A taking lens that moves forward as a whole: h = x(y) = v − f with u + v + i = y.

    `hiatus_mm` is the prior centre of i.
    """

    focal_length_mm: float
    hiatus_mm: float = 0.0
    least_distances: int = 3

    @property
    def priors(self) -> tuple[Prior, ...]:
        """f ± 2 % and the hiatus i ± 30 mm."""
        return (
            Prior("focal_length_mm", self.focal_length_mm,
                  FOCAL_LENGTH_SHARE * self.focal_length_mm),
            Prior("hiatus_mm", self.hiatus_mm, HIATUS_SIGMA_MM),
        )  # fmt: skip

    def travel(
        self, position_mm: Numbers, constants: Numbers, *, power_share: Numbers = 0.0
    ) -> Travel:
        """Return x, ∂x/∂f = 2m/(1 − m), ∂x/∂i = −∂x/∂y = m²/(1 − m²)."""
        del power_share
        named = ExtensionConstants(*np.asarray(constants, float).tolist())
        focal = named.focal_length_mm
        m = thin_lens.magnification(position_mm, focal_length_mm=focal, hiatus_mm=named.hiatus_mm)
        if m.max(initial=0.0) > _LARGEST_MAGNIFICATION:
            raise OpticsError("the subject is shown at life size, where extension has no law")
        slope = thin_lens.extension_slope(m)
        return Travel(focal * m, np.stack((2.0 * m / (1.0 - m), -slope), axis=-1), slope)

    def tolerance_travel(
        self, aperture: Aperture, position_mm: Numbers, constants: Floats
    ) -> Floats:
        """Return c·N·v/(f(1 − m²)), which does not depend on the constants."""
        del position_mm, constants
        return tolerance.taking_lens_travel_mm(aperture)


@dataclass(frozen=True, slots=True)
class HyperbolaLaw:
    """A hyperbola, h = R/(y + Λ) with R the reference distance; g is then the arc (mm) at h = 1."""

    reference_mm: float
    least_distances: int = 3

    @property
    def priors(self) -> tuple[Prior, ...]:
        """Λ = 0 ± 30 % of the reference distance."""
        return (Prior("offset_mm", 0.0, HYPERBOLA_OFFSET_SHARE * self.reference_mm),)

    def travel(
        self, position_mm: Numbers, constants: Numbers, *, power_share: Numbers = 0.0
    ) -> Travel:
        """Return h and its derivatives; ∂h/∂Λ = ∂h/∂y = −h/(y + Λ)."""
        del power_share
        (offset,) = np.asarray(constants, float)
        value = self.reference_mm / (np.asarray(position_mm, float) + offset)
        slope = -value * value / self.reference_mm
        return Travel(value, slope[..., np.newaxis], slope)

    def tolerance_travel(
        self, aperture: Aperture, position_mm: Numbers, constants: Floats
    ) -> Floats:
        """Return the tolerance for dh/d(1/y) = R/(1 + Λ/y)²."""
        (offset,) = constants
        ratio = 1.0 + offset / np.asarray(position_mm, float)
        return internal_tolerance_travel(aperture, position_mm, self.reference_mm / ratio**2)


def internal_tolerance_travel(aperture: Aperture, position_mm: Numbers, rise: Floats) -> Floats:
    """Return |h′|·u²·c·N/(f·v) with u = y − v − i, given `rise` = dh/d(1/y); holds at infinity."""
    nearness = 1.0 / np.asarray(position_mm, float)
    behind = np.asarray(aperture.image_mm, float) + aperture.hiatus_mm
    blur = np.asarray(aperture.circle_mm, float) * aperture.stop
    spread = blur / (np.asarray(aperture.focal_length_mm, float) * aperture.image_mm)
    return np.asarray(rise * np.square(1.0 - behind * nearness) * spread)


@dataclass(frozen=True, slots=True)
class AttachmentLaw:
    """An attachment: h = A(S − 1) − d, by how much its groups are nearer together than at infinity.

    The constant δ is the distance from the middle of the front glass to the thin front group.

    Unknown facts of the glass widen the priors. Without the separation, A is that of a usual
    attachment ± 40 %. Without its thickness t ± 4 mm, the front glass's middle, t/2 behind the
    measured vertex, and δ = 0.18·t are off together, by (0.5 − 0.18)·4 mm = 1.3 mm, which adds to
    the 5 mm of δ. The plate of both glasses is then off by 0.36·√2·4 mm = 2 mm for the taking
    lens, of which the prior of its hiatus, or of the hyperbola's offset, has more than enough.
    """

    squeeze: float
    ruler_separation_mm: float
    front_glass_mm: float
    moving: attachment.MovingGroup
    separation_known: bool = True
    glass_known: bool = True
    least_distances: int = 3

    @property
    def priors(self) -> tuple[Prior, ...]:
        """A = separation/(S − 1) ± 20 %, δ = 0.18·glass ± 5 mm and S as entered ± 3 %."""
        front = self.ruler_separation_mm / (self.squeeze - 1.0)
        share = FRONT_FOCAL_SHARE if self.separation_known else UNKNOWN_FRONT_FOCAL_SHARE
        glass_mm = 0.0 if self.glass_known else UNKNOWN_GLASS_SIGMA_MM
        offset_sigma_mm = math.hypot(OFFSET_SIGMA_MM, (0.5 - OFFSET_SHARE_OF_GLASS) * glass_mm)
        return (
            Prior("front_focal_mm", front, share * front),
            Prior("offset_mm", OFFSET_SHARE_OF_GLASS * self.front_glass_mm, offset_sigma_mm),
            Prior("squeeze", self.squeeze, SQUEEZE_SHARE * self.squeeze),
        )

    def matched(
        self, position_mm: Numbers, constants: Numbers, *, power_share: Numbers = 0.0
    ) -> attachment.Match:
        """Return the match for subjects at `position_mm` from the middle of the front glass.

        If the front group moves, the fixed rear group is A(S − 1) behind the front group's place at
        infinity. Both groups act with A(1 − ε) and F(1 − ε), ε the `power_share`. Raises
        OpticsError where no match exists.
        """
        named = AttachmentConstants(*np.asarray(constants, float).tolist())
        front, squeeze = named.front_focal_mm, named.squeeze
        if front <= 0.0 or squeeze <= 1.0:
            raise OpticsError("an attachment has A > 0 and squeezes more than once")
        fixed = front * (squeeze - 1.0) if self.moving == "front" else 0.0
        matched = attachment.match(
            np.asarray(position_mm, float) + fixed - named.offset_mm,
            front_focal_mm=front * (1.0 - power_share), squeeze=squeeze, moving=self.moving,
        )  # fmt: skip
        if matched.leverage.min(initial=1.0) < _LEAST_LEVERAGE:
            raise OpticsError("the subject is so near that the moving group has no effect")
        return matched

    def squeeze_at(self, position_mm: Numbers, constants: Numbers) -> tuple[Floats, Floats]:
        """Return the true squeeze S(D) at n positions, and its gradient by A, δ and S (n × 3)."""
        named = AttachmentConstants(*np.asarray(constants, float).tolist())
        front, squeeze = named.front_focal_mm, named.squeeze
        matched = self.matched(position_mm, constants)
        slopes = attachment.squeeze_slopes(
            matched,
            attachment.separation_slopes(matched, front_focal_mm=front, squeeze=squeeze),
            front_focal_mm=front, squeeze=squeeze,
        )  # fmt: skip
        fixed = slopes.by_distance if self.moving == "front" else np.zeros(slopes.by_distance.shape)
        by_constant = np.stack(
            (
                slopes.by_front_focal + (squeeze - 1.0) * fixed,
                -slopes.by_distance,
                slopes.by_squeeze + front * fixed,
            ),
            axis=-1,
        )
        return matched.squeeze, by_constant

    def travel(
        self, position_mm: Numbers, constants: Numbers, *, power_share: Numbers = 0.0
    ) -> Travel:
        """Return h and its derivatives by A, δ, S and y; A and S also shift a fixed rear group."""
        named = AttachmentConstants(*np.asarray(constants, float).tolist())
        front, squeeze = named.front_focal_mm, named.squeeze
        acting = np.asarray(1.0 - power_share)
        matched = self.matched(position_mm, constants, power_share=power_share)
        slopes = attachment.separation_slopes(
            matched, front_focal_mm=front * acting, squeeze=squeeze
        )
        carried = (
            slopes.by_distance if self.moving == "front" else np.zeros_like(slopes.by_distance)
        )
        by_constant = np.stack(
            (
                (squeeze - 1.0) * (1.0 - carried) - slopes.by_front_focal * acting,
                slopes.by_distance,
                front * (1.0 - carried) - slopes.by_squeeze,
            ),
            axis=-1,
        )
        value = front * (squeeze - 1.0) - matched.separation_mm
        return Travel(value, by_constant, -slopes.by_distance)
