"""The law of a taking lens driven by a cam of unknown shape: a smooth curve through its readings.

The curve is a hyperbola plus a departure from it: a Gaussian process in nearness 1/y, so that the
uncertainty between two readings is that of any smooth cam.
Source of the process: Rasmussen and Williams, Gaussian Processes for Machine Learning (2006),
ch. 2.2 (the kernel) and 8.3.1 (its approximation by a few nodes).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from focuschart.errors import OpticsError
from focuschart.optics.arrays import Floats, Numbers
from focuschart.optics.depth_of_field import Aperture
from focuschart.scale.laws import HyperbolaLaw, Prior, Travel, internal_tolerance_travel

DEPARTURE_SHARE = 0.15
"""One standard deviation of the process, as a share of the ring's whole travel. The departure is
the process less its value at infinity: its standard deviation is 0.13 of the travel half-way, 0.20
at the nearest distance."""
INTERNAL_SHARE = 0.06
"""The same for internal focusing, where the ring turns almost in proportion; judgement."""
SMOOTH_OVER = 0.5
"""The correlation length, as a share of the same range in nearness: cams are smooth."""
_NODES = np.linspace(0.0, 1.0, 6)
_JITTER = 1e-8


def internal_law(nearest_mm: float) -> CamLaw:
    """Return the law of a lens with internal focusing: a hyperbola plus a small departure.

    Three distances are enough; its priors determine the rest.
    """
    return CamLaw(nearest_mm, departure_share=INTERNAL_SHARE, least_distances=3)


class CamConstants(NamedTuple):
    """The constants φ of `CamLaw` by name: Λ of its hyperbola, and one weight per node."""

    hyperbola: Floats
    weights: Floats

    @classmethod
    def of(cls, constants: Numbers) -> CamConstants:
        """Return constants by name from the array that a law takes."""
        values = np.asarray(constants, float)
        return cls(values[: -len(_NODES)], values[-len(_NODES) :])


@dataclass(frozen=True, slots=True)
class CamLaw:
    """h = R/(y + Λ) + Σ wⱼBⱼ(R/y) with R the nearest distance; the wⱼ have unit priors."""

    nearest_mm: float
    departure_share: float = DEPARTURE_SHARE
    least_distances: int = 6

    @property
    def hyperbola(self) -> HyperbolaLaw:
        """The hyperbola without the departure."""
        return HyperbolaLaw(self.nearest_mm)

    @property
    def priors(self) -> tuple[Prior, ...]:
        """Λ of the hyperbola, and one weight per node."""
        weights = (Prior(f"departure_{j}", 0.0, 1.0) for j in range(1, len(_NODES) + 1))
        return (*self.hyperbola.priors, *weights)

    def travel(
        self, position_mm: Numbers, constants: Numbers, *, power_share: Numbers = 0.0
    ) -> Travel:
        """Return h and its derivatives."""
        del power_share
        named = CamConstants.of(constants)
        smooth = self.hyperbola.travel(position_mm, named.hyperbola)
        nearness = self.nearest_mm / np.asarray(position_mm, float)
        basis, slopes = self._basis(nearness)
        by_nearness = slopes @ named.weights
        by_position = smooth.by_position - by_nearness * np.square(nearness) / self.nearest_mm
        return Travel(
            smooth.value + basis @ named.weights,
            np.concatenate((smooth.by_constant, basis), axis=-1),
            by_position,
        )

    def tolerance_travel(
        self, aperture: Aperture, position_mm: Numbers, constants: Floats
    ) -> Floats:
        """Return the tolerance, which depends on the slope of the curve.

        Raises OpticsError for a curve that turns back between infinity and the nearest position.
        """
        nearness = self.nearest_mm / np.asarray(position_mm, float)
        samples = np.linspace(0.0, np.max(nearness, initial=0.0), 65)
        if np.min(self._rise(samples, constants)) <= 0.0:
            raise OpticsError("by these readings the ring would have to turn back half-way")
        rise = self.nearest_mm * self._rise(nearness, constants)
        return internal_tolerance_travel(aperture, position_mm, rise)

    def _rise(self, nearness: Floats, constants: Floats) -> Floats:
        """Return the derivative of h by nearness R/y."""
        (offset,), weights = CamConstants.of(constants)
        ratio = 1.0 + offset / self.nearest_mm * nearness
        return np.asarray(1.0 / np.square(ratio) + self._basis(nearness)[1] @ weights)

    def _basis(self, nearness: Floats) -> tuple[Floats, Floats]:
        basis, slopes = _unit_basis(nearness)
        return self.departure_share * basis, self.departure_share * slopes


def _unit_basis(nearness: Floats) -> tuple[Floats, Floats]:
    """Return the basis Bⱼ and its derivatives at nearness R/y (… × nodes); it is 0 at infinity."""
    off = (np.asarray(nearness)[..., np.newaxis] - _NODES) / SMOOTH_OVER
    bell = np.exp(-0.5 * np.square(off))
    slopes = -bell * off / SMOOTH_OVER
    return (bell - _AT_INFINITY) @ _MIXING, slopes @ _MIXING


def _mixing() -> Floats:
    """Return the matrix from the nodes' bells to a basis whose weights have unit variance."""
    apart = (_NODES[:, np.newaxis] - _NODES) / SMOOTH_OVER
    covariance = np.exp(-0.5 * np.square(apart)) + _JITTER * np.eye(len(_NODES))
    return np.asarray(np.linalg.inv(np.linalg.cholesky(covariance)).T)


_MIXING = _mixing()
_AT_INFINITY = np.exp(-0.5 * np.square(_NODES / SMOOTH_OVER))
