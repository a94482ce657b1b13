"""The afocal attachment: two groups that bend light in the horizontal meridian only.

Source of the Galilean relations: W. J. Smith, Modern Optical Engineering, 4th ed. (2008), p. 289.
The match and its derivatives follow from the thin-group conjugate equation applied twice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from focuschart.errors import OpticsError
from focuschart.optics.arrays import Floats, Numbers

MovingGroup = Literal["front", "rear"]


@dataclass(frozen=True, slots=True)
class Match:
    """The attachment set so that both meridians are sharp on one subject plane.

    All arrays share the shape of the subject distances: separation d; q and W, where each group
    sees its subject (mm); and the reciprocal distance of the subject from the fixed group.
    """

    moving: MovingGroup
    separation_mm: Floats
    front_image_mm: Floats
    rear_object_mm: Floats
    fixed_vergence: Floats

    @property
    def front_vergence(self) -> Floats:
        """1/s, subject to front group, with s = L − d."""
        if self.moving == "rear":
            return self.fixed_vergence
        return self.fixed_vergence / (1.0 - self.separation_mm * self.fixed_vergence)

    @property
    def rear_vergence(self) -> Floats:
        """1/L, subject to rear group, with L = s + d."""
        if self.moving == "front":
            return self.fixed_vergence
        return self.fixed_vergence / (1.0 + self.separation_mm * self.fixed_vergence)

    @property
    def squeeze(self) -> Floats:
        """The true squeeze S(D) = (F/A)(A + s)/(F + L) = (s/L)(W/q), below the nominal one."""
        reach = 1.0 - self.separation_mm * self.rear_vergence
        return np.asarray(reach * self.rear_object_mm / self.front_image_mm)

    @property
    def front_slope(self) -> Floats:
        """The derivative q′ = dq/ds = (A/(A + s))² of the front group's image."""
        return np.square(self.front_image_mm * self.front_vergence)

    @property
    def rear_slope(self) -> Floats:
        """The derivative W₁ = dW/dL = (F/(F + L))² of the rear group's object."""
        return np.square(self.rear_object_mm * self.rear_vergence)

    @property
    def leverage(self) -> Floats:
        """How far the horizontal image moves per travel of the moving group: 1 − q′ or 1 − W₁."""
        return 1.0 - (self.front_slope if self.moving == "front" else self.rear_slope)


def match(
    distance_mm: Numbers, *, front_focal_mm: Numbers, squeeze: Numbers, moving: MovingGroup
) -> Match:
    """Return the matched attachment for a subject at `distance_mm` from its FIXED group.

    With the front group moving the distance is L, to the rear group; with the rear group moving
    it is s, to the front group. `front_focal_mm` is A, `squeeze` the nominal S. Shapes broadcast.
    Raises OpticsError for a subject at or behind the fixed group.
    """
    distance = np.asarray(distance_mm, float)
    if (distance <= 0.0).any():
        raise OpticsError("the subject is not in front of the attachment")
    front = np.asarray(front_focal_mm, float)
    solve = _front_moves if moving == "front" else _rear_moves
    return solve(1.0 / distance, front, front * squeeze)


def _front_moves(rear_vergence: Floats, front: Floats, rear: Floats) -> Match:
    """Solve A·s/(A + s) + d = F·L/(F + L) with s = L − d, by p = L²/(F + L) = s²/(A + s)."""
    stretch = 1.0 + rear * rear_vergence
    rear_object = rear / stretch
    stretch *= rear_vergence
    front_image = 2.0 * front / (1.0 + np.sqrt(1.0 + 4.0 * front * stretch))
    return Match("front", rear_object - front_image, front_image, rear_object, rear_vergence)


def _rear_moves(front_vergence: Floats, front: Floats, rear: Floats) -> Match:
    """Solve the same equation with s fixed, by e = s²/(A + s) = L²/(F + L)."""
    stretch = 1.0 + front * front_vergence
    front_image = front / stretch
    stretch *= front_vergence
    rear_object = 2.0 * rear / (1.0 + np.sqrt(1.0 + 4.0 * rear * stretch))
    return Match("rear", rear_object - front_image, front_image, rear_object, front_vergence)


@dataclass(frozen=True, slots=True)
class SeparationSlopes:
    """Derivatives of the matched separation, each shaped like the match."""

    by_front_focal: Floats
    by_squeeze: Floats
    by_distance: Floats


@dataclass(frozen=True, slots=True)
class SqueezeSlopes:
    """Derivatives of the true squeeze S(D), each shaped like the match."""

    by_front_focal: Floats
    by_squeeze: Floats
    by_distance: Floats


def separation_slopes(
    matched: Match, *, front_focal_mm: Numbers, squeeze: Numbers
) -> SeparationSlopes:
    """Return ∂d/∂A, ∂d/∂S and ∂d/∂(distance from the fixed group) of a match.

    Implicit differentiation of the match: with q_A = (q/A)² and W_F = (W/F)²,
    ∂d/∂A = (S·W_F − q_A)/leverage, ∂d/∂S = A·W_F/leverage, ∂d/∂D = (W₁ − q′)/leverage.
    """
    front = np.asarray(front_focal_mm, float)
    by_rear_focal = np.square(matched.rear_object_mm / (front * squeeze))
    by_front = np.square(matched.front_image_mm / front)
    leverage = matched.leverage
    return SeparationSlopes(
        np.asarray((squeeze * by_rear_focal - by_front) / leverage),
        np.asarray(front * by_rear_focal / leverage),
        np.asarray((matched.rear_slope - matched.front_slope) / leverage),
    )


def squeeze_slopes(
    matched: Match, slopes: SeparationSlopes, *, front_focal_mm: Numbers, squeeze: Numbers
) -> SqueezeSlopes:
    """Return ∂S(D)/∂A, ∂S(D)/∂S and ∂S(D)/∂(distance from the fixed group) of a match.

    S(D) = S(A + s)/(F + L), so dS(D)/S(D) = dS/S + (dA + ds)/(A + s) − (dF + dL)/(F + L), with
    F = S·A, L = s + d and one of s and L fixed. `slopes` are those of the separation.
    """
    front = np.asarray(front_focal_mm, float)
    by_front = matched.front_image_mm * matched.front_vergence / front
    by_rear = matched.rear_object_mm * matched.rear_vergence / (front * squeeze)
    # The group that moves takes its distance with it: ds = −dd for the front one, else dL = dd.
    moved = by_front if matched.moving == "front" else by_rear
    here = matched.squeeze
    return SqueezeSlopes(
        np.asarray(here * (by_front - squeeze * by_rear - moved * slopes.by_front_focal)),
        np.asarray(here * (1.0 / squeeze - front * by_rear - moved * slopes.by_squeeze)),
        np.asarray(here * (by_front - by_rear - moved * slopes.by_distance)),
    )
