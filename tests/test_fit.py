"""The fit of a ring: recovers its constants, respects what readings share, refuses too few."""

from __future__ import annotations

import numpy as np
import pytest

from focuschart.errors import FitError
from focuschart.optics import thin_lens
from focuschart.optics.arrays import Floats
from focuschart.optics.depth_of_field import Aperture
from focuschart.scale.fit import Readings, RingScale, fit_ring
from focuschart.scale.laws import ExtensionLaw
from focuschart.scale.noise import TakingNoise

LAW = ExtensionLaw(85.0)
DISTANCES = np.array([1000.0, 1300.0, 2000.0, 4000.0, 10000.0, np.inf])
SLOPE = 7.6


def fit(
    distances: Floats, *, slip_mm: float = 0.0, setup: tuple[int, ...] | None = None
) -> RingScale:
    arc = 12.0 + SLOPE * thin_lens.extension_mm(distances, focal_length_mm=85.0)
    arc[0] += slip_mm
    image = thin_lens.image_distance_mm(distances, focal_length_mm=85.0)
    noise = TakingNoise(LAW, distances, Aperture(85.0, image, 2.8, 0.029))
    readings = Readings(
        arc_mm=arc,
        distance_mm=distances,
        position_mm=distances,
        position_slope=np.ones_like(distances),
        distance_sigma_mm=np.where(np.isinf(distances), 0.0, 2.0),
        setup=setup or tuple(range(len(distances))),
        pool=(0,) * len(distances),
    )
    return fit_ring(LAW, readings, noise, arc_per_travel=SLOPE)


def test_noise_free_readings_give_their_constants_back() -> None:
    scale = fit(DISTANCES)
    assert scale.converged
    assert scale.disagreeing == ()
    assert scale.parameters == pytest.approx([12.0, SLOPE, 85.0, 0.0], abs=1e-6)


def test_a_slipped_reading_is_named() -> None:
    """A gross slip drags its neighbour along, so that one may be named beside it."""
    named = fit(DISTANCES, slip_mm=4.0).disagreeing
    assert 0 in named
    assert len(named) <= 2


def test_two_distances_are_refused() -> None:
    with pytest.raises(FitError, match="2 different distances read, the fit needs 3"):
        fit(np.array([1000.0, 3000.0]))


def test_repeats_at_one_setup_share_the_tapes_error() -> None:
    distances = np.concatenate((DISTANCES, DISTANCES[:2]))
    shared = fit(distances, setup=(0, 1, 2, 3, 4, 5, 0, 1))
    taped_anew = fit(distances)
    at = np.array([1000.0])
    assert taped_anew.arc_sigma_mm(at)[0] < shared.arc_sigma_mm(at)[0]
    assert shared.arc_sigma_mm(at)[0] < fit(DISTANCES).arc_sigma_mm(at)[0]
