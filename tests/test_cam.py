"""A ring driven by a cam: what a smooth curve through its readings makes of cams unlike its own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from focuschart.errors import FitError, OpticsError
from focuschart.scale.cam import DEPARTURE_SHARE, SMOOTH_OVER, CamLaw
from focuschart.scale.noise import ReadingErrors, tape_sigma_mm
from tests.fit_cases import (
    CIRCLE_MM,
    FOCAL_MM,
    PLATE_MM,
    STOP,
    Ring,
    arc_sigma_mm,
    bench_ring,
    fitted_mm,
    lens_aperture,
)

Array = NDArray[np.float64]

NEAREST_MM = 900.0
TURN_MM = 90.0
READ = np.append(1.0 / np.linspace(1.0 / 920.0, 1.0 / 8000.0, 5), 60_000.0)
MARKS = np.array([950.0, 1100.0, 1300.0, 1600.0, 2500.0, 5000.0, 15_000.0, 1e9])

# Share of the turn against nearness; invented shapes, none of them of our law.
CAMS: dict[str, Callable[[Array], Array]] = {
    "even in nearness": lambda t: t,
    "opening": lambda t: 0.6 * t + 0.4 * t * t,
    "closing": lambda t: 1.4 * t - 0.4 * t * t,
    "logarithmic": lambda t: np.asarray(np.log1p(3.0 * t) / np.log(4.0)),
    "power": lambda t: np.asarray(t * (0.3 + t) ** -0.2),
}


def cam_ring(distance_mm: Array = READ) -> Ring:
    sigma = tape_sigma_mm(distance_mm)
    sigma[distance_mm > 30_000.0] = 3000.0
    count = len(distance_mm)
    return replace(
        bench_ring(CamLaw(NEAREST_MM), -TURN_MM), distance_mm=distance_mm, sigma_mm=sigma,
        setup=tuple(range(count)), pool=(0,) * count,
    )  # fmt: skip


def arc_mm(cam: Callable[[Array], Array], distance_mm: Array) -> Array:
    return np.asarray(100.0 - TURN_MM * cam(NEAREST_MM / (distance_mm - PLATE_MM)))


def tolerance_mm(cam: Callable[[Array], Array], distance_mm: Array) -> Array:
    """The vertical tolerance by numeric differences of the cam itself."""
    nearness, step = NEAREST_MM / (distance_mm - PLATE_MM), 1e-5
    rise = NEAREST_MM * TURN_MM * (cam(nearness + step) - cam(nearness - step)) / (2.0 * step)
    image = lens_aperture(distance_mm).image_mm
    subject_share = (1.0 - image / (distance_mm - PLATE_MM)) ** 2
    return np.asarray(rise * subject_share * CIRCLE_MM * STOP / (FOCAL_MM * image))


@pytest.mark.parametrize("name", CAMS)
def test_noise_free_marks_lie_well_within_a_tolerance(name: str) -> None:
    cam, ring = CAMS[name], cam_ring()
    found = ring.fit(arc_mm(cam, READ), lead=False)
    off = np.abs(fitted_mm(found, ring.position_mm(MARKS)) - arc_mm(cam, MARKS))
    assert found.converged
    assert found.disagreeing == ()
    # A tolerance of the ring is the vertical one divided by the squeeze, here 2.
    assert np.max(off / tolerance_mm(cam, MARKS)) < 0.2
    slopes = found.law.travel(ring.position_mm(MARKS), found.constants).by_position
    assert np.all(slopes < 0.0)


@pytest.mark.parametrize("name", CAMS)
def test_the_curves_tolerance_is_that_of_the_cam(name: str) -> None:
    cam, ring = CAMS[name], cam_ring()
    found = ring.fit(arc_mm(cam, READ), lead=False)
    law = CamLaw(NEAREST_MM)
    travel = law.tolerance_travel(lens_aperture(MARKS), ring.position_mm(MARKS), found.constants)
    assert_allclose(abs(found.arc_per_travel) * travel, tolerance_mm(cam, MARKS), rtol=0.15)


def test_intervals_hold_cams_of_other_shapes() -> None:
    """95 % intervals, tape, eye and ruler drawn; averaged over the shapes and marks."""
    rng, ring, held = np.random.default_rng(3), cam_ring(), []
    position = ring.position_mm(MARKS)
    for cam in CAMS.values():
        for _ in range(40):
            tape = rng.normal(size=len(READ)) * ring.sigma_mm
            noise = np.hypot(ReadingErrors().ruler_mm, 0.15 * tolerance_mm(cam, READ))
            found = ring.fit(arc_mm(cam, READ + tape) + rng.normal(size=len(READ)) * noise,
                             lead=False)  # fmt: skip
            off = np.abs(fitted_mm(found, position) - arc_mm(cam, MARKS))
            held.append(off < 1.96 * arc_sigma_mm(found, position))
    assert 0.92 < np.mean(held) < 0.99


def test_the_nodes_hold_the_whole_process() -> None:
    """Rasmussen and Williams, eq. 2.16: the squared exponential, here taken from infinity on."""
    nearness = np.linspace(0.0, 1.0, 23)
    law, at_rest = CamLaw(NEAREST_MM), np.zeros(7)
    basis = law.travel(NEAREST_MM / np.maximum(nearness, 1e-12), at_rest).by_constant[:, 1:]
    apart = (nearness[:, np.newaxis] - nearness) / SMOOTH_OVER
    kernel = np.exp(-0.5 * apart**2)
    taken = kernel - kernel[:, :1] - kernel[:1] + kernel[0, 0]
    assert_allclose(basis @ basis.T, DEPARTURE_SHARE**2 * taken, atol=0.002 * DEPARTURE_SHARE**2)


def test_between_far_apart_readings_it_is_less_sure() -> None:
    gap = np.array([950.0, 1000.0, 1050.0, 8000.0, 20_000.0, 60_000.0])
    even, uneven = cam_ring(), cam_ring(gap)
    cam, middle = CAMS["opening"], np.array([1900.0])
    sigmas = [
        arc_sigma_mm(ring.fit(arc_mm(cam, ring.distance_mm), lead=False), ring.position_mm(middle))
        for ring in (even, uneven)
    ]
    assert sigmas[1][0] > 1.5 * sigmas[0][0]


def test_six_distances_are_needed() -> None:
    ring = cam_ring(READ[1:])
    with pytest.raises(FitError, match="5 different distances read, the fit needs 6"):
        ring.fit(arc_mm(CAMS["opening"], READ[1:]), lead=False)


def test_a_ring_that_turns_back_is_refused() -> None:
    """Judged from infinity to the nearest position asked for, not only at it."""
    law, weights = CamLaw(NEAREST_MM), np.array([0.0, 9.0, 0.0, 0.0, 0.0, 0.0, 0.0])
    position = np.array([870.0, 5e4])
    with pytest.raises(OpticsError, match="turn back"):
        law.tolerance_travel(lens_aperture(position), position, weights)
    assert np.all(law.tolerance_travel(lens_aperture(position[1:]), position[1:], weights) > 0.0)
