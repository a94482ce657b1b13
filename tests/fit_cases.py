"""Rings to fit: their laws, what is read at the bench, and drawing of truths and readings.

Everything is drawn as the noise model says: constants from their priors, each target's true
distance about its taped one, focusing and ruler errors on the ring. Positions are those of a
taking lens of 85 mm under an attachment whose front glass stands 250 mm from the sensor.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from focuschart.optics.attachment import MovingGroup
from focuschart.optics.depth_of_field import Aperture
from focuschart.optics.thin_lens import ThinLens
from focuschart.scale.cam import CamLaw
from focuschart.scale.fit import RingScale, fit_problem, slope_prior
from focuschart.scale.laws import AttachmentLaw, ExtensionLaw, HyperbolaLaw, Law
from focuschart.scale.noise import AttachmentNoise, Noise, TakingNoise, tape_sigma_mm
from focuschart.scale.problem import Readings, RingProblem

Array = NDArray[np.float64]

FOCAL_MM = 85.0
CIRCLE_MM = 0.03
STOP = 2.8
PLATE_MM = 9.4
FRONT_GLASS_MM = 250.0
RULER_SIGMA_MM = 0.3
LEAD_SHARE = 0.02
DISTANCES = np.array([1200.0, 1500.0, 2000.0, 3000.0, 6000.0, 60_000.0])
FAR_SIGMA_MM = 3000.0


def lens_aperture(distance_mm: Array, stop: float = STOP) -> Aperture:
    """The taking lens focused on each target."""
    image = ThinLens(FOCAL_MM).image_mm(distance_mm - PLATE_MM)
    return Aperture(FOCAL_MM, image, stop, CIRCLE_MM)


def carried_mm(distance_mm: Array) -> Array:
    """How far the lens carries the attachment forward."""
    return np.asarray(ThinLens(FOCAL_MM).extension_mm(distance_mm - PLATE_MM))


@dataclass(frozen=True)
class Ring:
    """A ring at the bench: its law, g, and the targets with their pools and setups."""

    law: Law
    arc_per_travel: float
    distance_mm: Array
    sigma_mm: Array
    setup: tuple[int, ...]
    pool: tuple[int, ...]
    pools: int = 1
    stop: float = STOP

    def position_mm(self, distance_mm: Array) -> Array:
        """y of the law."""
        if isinstance(self.law, AttachmentLaw):
            return np.asarray(distance_mm - FRONT_GLASS_MM - carried_mm(distance_mm))
        return np.asarray(distance_mm - PLATE_MM)

    @property
    def noise(self) -> Noise:
        """The noise model of the ring at its targets."""
        position, aperture = self.position_mm(self.distance_mm), self.aperture
        if isinstance(self.law, AttachmentLaw):
            return AttachmentNoise(
                law=self.law,
                position_mm=position,
                aperture=aperture,
                lens_to_rear_mm=np.full(len(position), 70.0),
                front_moves=np.ones(len(position)),
                pool_aperture=Aperture(
                    np.full(self.pools, FOCAL_MM), np.full(self.pools, FOCAL_MM), STOP, CIRCLE_MM
                ),
            )
        assert isinstance(self.law, ExtensionLaw | HyperbolaLaw | CamLaw)
        return TakingNoise(self.law, position, aperture)

    @property
    def aperture(self) -> Aperture:
        return lens_aperture(self.distance_mm, self.stop)

    def readings(self, arc_mm: Array) -> Readings:
        """Wrap arcs read at the targets."""
        step = 1e-3 * np.minimum(self.distance_mm, 1e6)
        finite = np.where(np.isinf(self.distance_mm), 1e9, self.distance_mm)
        ahead, behind = self.position_mm(finite + step), self.position_mm(finite - step)
        return Readings(
            arc_mm=arc_mm,
            distance_mm=self.distance_mm,
            position_mm=self.position_mm(self.distance_mm),
            position_slope=(ahead - behind) / (2.0 * step),
            distance_sigma_mm=self.sigma_mm,
            setup=self.setup,
            pool=self.pool,
            pools=self.pools,
        )

    def fit(self, arc_mm: Array, *, lead: bool = True) -> RingScale:
        """Fit the ring, with or without its lead known."""
        slope = self.arc_per_travel if lead else None
        return fit_problem(
            RingProblem(self.law, self.readings(arc_mm), self.noise, slope_prior(slope))
        )

    @property
    def nominal(self) -> Truth:
        """A ring exactly as its priors say."""
        constants = np.array([prior.centre for prior in self.law.priors])
        return Truth(self, 90.0, self.arc_per_travel, constants, np.zeros(self.pools))

    def at(self, targets: Sequence[int]) -> Ring:
        """The ring read at some of its targets only, each a setup of its own."""
        chosen = list(targets)
        return replace(
            self,
            distance_mm=self.distance_mm[chosen],
            sigma_mm=self.sigma_mm[chosen],
            setup=tuple(range(len(chosen))),
            pool=tuple(self.pool[i] for i in chosen),
        )


@dataclass(frozen=True)
class Truth:
    """What a ring really is."""

    ring: Ring
    infinity_mm: float
    slope: float
    constants: Array
    shifts: Array

    def arc_mm(self, distance_mm: Array, pool: Sequence[int] | int = 0) -> Array:
        """True arcs at true distances."""
        travel = self.ring.law.travel(self.ring.position_mm(distance_mm), self.constants)
        return np.asarray(self.infinity_mm + self.slope * travel.value + self.shifts[pool])

    def exact(self) -> Array:
        """Arcs read without any error."""
        return self.arc_mm(self.ring.distance_mm, list(self.ring.pool))

    def read(self, rng: np.random.Generator) -> Array:
        """Arcs read at the bench: tape, focusing and ruler errors drawn."""
        ring = self.ring
        tape = rng.normal(size=len(ring.distance_mm))[list(ring.setup)] * ring.sigma_mm
        arcs = self.arc_mm(ring.distance_mm + tape, list(ring.pool))
        focusing = self.slope * ring.noise.focusing_travel(self.constants)
        return np.asarray(arcs + rng.normal(size=len(arcs)) * np.hypot(focusing, RULER_SIGMA_MM))


def drawn(ring: Ring, rng: np.random.Generator) -> Truth:
    """Return a ring drawn from its priors."""
    constants = np.array([rng.normal(prior.centre, prior.sigma) for prior in ring.law.priors])
    slope = rng.normal(ring.arc_per_travel, LEAD_SHARE * abs(ring.arc_per_travel))
    shift = abs(slope) * ring.noise.pool_travel(constants)
    shifts = rng.normal(size=ring.pools) * (shift if ring.pools > 1 else 0.0)
    return Truth(ring, 90.0, slope, constants, shifts)


def bench_ring(law: Law, arc_per_travel: float) -> Ring:
    """A ring read once at six targets, the far one paced to 5 %."""
    sigma = tape_sigma_mm(DISTANCES)
    sigma[-1] = FAR_SIGMA_MM
    count = len(DISTANCES)
    return Ring(law, arc_per_travel, DISTANCES, sigma, tuple(range(count)), (0,) * count)


def taking_ring() -> Ring:
    """An 85 mm lens on a helicoid, 6.2 mm of arc per mm, rising toward infinity."""
    return bench_ring(ExtensionLaw(FOCAL_MM), -6.2)


def internal_ring() -> Ring:
    """A lens that focuses inside: 90 mm of arc between infinity and 0.9 m."""
    return bench_ring(HyperbolaLaw(900.0), -90.0)


def attachment_ring(moving: MovingGroup, squeeze: float = 2.0) -> Ring:
    """An attachment with 88 mm between its groups, 8.4 mm of arc per mm."""
    law = AttachmentLaw(
        squeeze=squeeze, ruler_separation_mm=88.0, front_glass_mm=12.0, moving=moving
    )
    return bench_ring(law, 8.4)


RINGS: dict[str, Callable[[], Ring]] = {
    "taking": taking_ring,
    "internal": internal_ring,
    "front group": lambda: attachment_ring("front"),
    "rear group": lambda: attachment_ring("rear"),
    "low squeeze": lambda: attachment_ring("front", 1.33),
}


def fitted_mm(scale: RingScale, position_mm: Array, *, pool: int = 0) -> Array:
    """The fitted arcs at subject positions."""
    return scale.modelled(position_mm, pool=pool)[0]


def arc_sigma_mm(scale: RingScale, position_mm: Array, *, pool: int = 0) -> Array:
    """One standard error of the fitted arcs at subject positions."""
    return scale.sigma_along(scale.modelled(position_mm, pool=pool)[1])
