"""The noise model's terms, each by hand from the rings' tolerances."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from focuschart.optics.depth_of_field import Aperture
from focuschart.scale.laws import AttachmentLaw, ExtensionLaw
from focuschart.scale.noise import AttachmentNoise, TakingNoise, scatter_range, tape_sigma_mm
from tests.thin_cases import CASES, Case

SHARE = 0.15  # of a tolerance, to which an eye focuses: judgement, no source
STEP_MM = 1e-4


def attachment_noise(case: Case, *, front_moves: bool) -> tuple[AttachmentNoise, np.ndarray]:
    """The noise of one reading in a thin rig, with the constants of its attachment."""
    law = AttachmentLaw(
        squeeze=case.squeeze,
        ruler_separation_mm=case.front_focal_mm * (case.squeeze - 1.0),
        front_glass_mm=10.0,
        moving=case.moving,
    )
    afocal = case.front_focal_mm * (case.squeeze - 1.0)
    position = case.distance_mm - case.image_mm - case.lens_to_rear_mm - afocal
    far = Aperture(np.array([case.focal_mm]), np.array([case.focal_mm]), case.stop, case.circle_mm)
    noise = AttachmentNoise(
        law=law,
        position_mm=np.array([position]),
        aperture=case.aperture(),
        lens_to_rear_mm=np.array([case.to_rear_mm]),
        front_moves=np.array([float(front_moves)]),
        pool_aperture=far,
    )
    return noise, np.array([case.front_focal_mm, 0.0, case.squeeze])


@given(case=CASES)
def test_an_attachment_is_focused_through_a_lens_that_errs(case: Case) -> None:
    """Both errors traced: the eye's own blur across, and refocusing after the lens's slip."""
    rays = case.rays()

    def across(closed_mm: float, slip_mm: float) -> float:
        moved = rays.lens_forward(slip_mm, carries=True).closed(closed_mm, moving=case.moving)
        return moved.blur_mm(case.distance_mm, "horizontal")

    by_closing = (across(STEP_MM, 0.0) - across(-STEP_MM, 0.0)) / (2.0 * STEP_MM)
    by_slip = (across(0.0, STEP_MM) - across(0.0, -STEP_MM)) / (2.0 * STEP_MM)
    ahead, behind = (
        rays.lens_forward(slip, carries=True).blur_mm(case.distance_mm, "vertical")
        for slip in (STEP_MM, -STEP_MM)
    )
    lens_slip = SHARE * case.circle_mm / abs((ahead - behind) / (2.0 * STEP_MM))
    own = SHARE * case.circle_mm / case.squeeze / by_closing
    noise, constants = attachment_noise(case, front_moves=True)
    found = noise.focusing_travel(constants)
    assert_allclose(found, np.hypot(own, by_slip / by_closing * lens_slip), rtol=1e-4)


@given(case=CASES)
def test_a_front_that_stands_inherits_hardly_less(case: Case) -> None:
    """W₁((u/v)² − 1) for W₁(u/v)² − q′, with q′ ≤ W₁: less by m² at most."""
    noise, constants = attachment_noise(case, front_moves=True)
    stood, _ = attachment_noise(case, front_moves=False)
    found, still = noise.focusing_travel(constants), stood.focusing_travel(constants)
    m = case.image_mm / (case.distance_mm - case.image_mm)
    assert np.all(still <= found * (1.0 + 1e-12))
    assert np.all(still >= found * (1.0 - m**2) * (1.0 - 1e-12))


def test_attachment_at_infinity() -> None:
    """0.15·c·N·(F/f)²·√(1 + 1/S²): inherited (F/f)² of c·N, its own c·N·F²/(S·f²)."""
    law = AttachmentLaw(squeeze=2.0, ruler_separation_mm=88.0, front_glass_mm=12.0, moving="front")
    aperture = Aperture(85.0, 85.0, 2.8, 0.03)
    noise = AttachmentNoise(
        law, np.array([np.inf]), aperture, np.array([60.0]), np.array([1.0]),
        Aperture(np.array([85.0, 50.0]), np.array([85.0, 50.0]), 2.8, 0.03),
    )  # fmt: skip
    constants = np.array([88.0, 2.16, 2.0])
    expected = SHARE * 0.03 * 2.8 * (176.0 / 85.0) ** 2 * np.sqrt(1.25)
    assert_allclose(noise.focusing_travel(constants), expected, rtol=1e-12)
    # From lens to lens 0.6/√2 of the attachment's tolerance on each (0.3 to 0.9 traced).
    own = 0.03 * 2.8 * 176.0**2 / (2.0 * np.array([85.0, 50.0]) ** 2)
    assert_allclose(noise.pool_travel(constants), 0.6 / np.sqrt(2.0) * own, rtol=0.02)


def test_taking_ring_by_its_own_meridian() -> None:
    """0.15·c·N at infinity, and no lens to be shifted by."""
    law = ExtensionLaw(85.0)
    noise = TakingNoise(law, np.array([np.inf]), Aperture(85.0, 85.0, 2.8, 0.03))
    constants = np.array([85.0, 0.0])
    assert_allclose(noise.focusing_travel(constants), SHARE * 0.03 * 2.8, rtol=1e-12)
    assert noise.pool_travel(constants).shape == (0,)


@given(distance=st.floats(100.0, 1e6))
def test_tape_is_two_millimetres_or_a_thousandth(distance: float) -> None:
    """Judgement, no source."""
    found = float(tape_sigma_mm(distance))
    assert found >= 2.0
    assert found in (2.0, 0.001 * distance)


def test_infinity_is_not_taped() -> None:
    assert tape_sigma_mm(np.array([np.inf, 1000.0])).tolist() == [0.0, 2.0]


def test_a_scatters_range_is_that_of_the_tables() -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4: chi-squared of freedom 10."""
    upper, lower = 20.483, 3.247
    expected = (np.sqrt(10.0 / upper), np.sqrt(10.0 / lower))
    assert_allclose(scatter_range(10), expected, rtol=2e-4)
