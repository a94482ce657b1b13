"""Ring tolerances and inherited errors against small slips traced through the rig."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from focuschart.optics import attachment, thin_lens, tolerance
from focuschart.optics.attachment import MovingGroup
from focuschart.optics.depth_of_field import Aperture
from focuschart.optics.thin_lens import ThinLens
from tests.thin_cases import CASES, MOVING, Case

STEP_MM = 1e-4


def slope(blur_mm: Callable[[float], float]) -> float:
    """Derivative of a blur by a slip, at none."""
    return (blur_mm(STEP_MM) - blur_mm(-STEP_MM)) / (2.0 * STEP_MM)


def lens_tolerance(case: Case) -> float:
    return float(tolerance.taking_lens_travel_mm(case.aperture()))


def attachment_tolerance(case: Case) -> float:
    return float(
        tolerance.attachment_travel_mm(
            case.aperture(), case.match, squeeze=case.squeeze, lens_to_rear_mm=case.to_rear_mm
        )
    )


@given(case=CASES)
def test_a_lens_off_by_its_tolerance_blurs_one_criterion_upright(case: Case) -> None:
    rays = case.rays()
    per_mm = slope(
        lambda x: rays.lens_forward(x, carries=True).blur_mm(case.distance_mm, "vertical")
    )
    assert_allclose(abs(per_mm) * lens_tolerance(case), case.circle_mm, rtol=1e-5)


@given(case=CASES)
def test_the_same_slip_blurs_s_criteria_across(case: Case) -> None:
    """S(1 − m²/S(D)²)/(1 − m²) of them to first order, which is S unless the lens is at its end."""
    rays = case.rays()
    per_mm = slope(
        lambda x: rays.lens_forward(x, carries=True).blur_mm(case.distance_mm, "horizontal")
    )
    criteria = abs(per_mm) * lens_tolerance(case) / (case.circle_mm / case.squeeze)
    m = thin_lens.magnification(case.distance_mm, focal_length_mm=case.focal_mm)
    local = float(case.match.squeeze)
    exact = case.squeeze * (1.0 - (m / local) ** 2) / (1.0 - m**2)
    assert_allclose(criteria, exact, rtol=1e-5)
    assert case.squeeze <= criteria <= case.squeeze * (1.0 + 1.1 * m**2)


@given(case=CASES)
def test_an_attachment_off_by_its_tolerance_blurs_one_criterion_across(case: Case) -> None:
    rays = case.rays()
    per_mm = slope(
        lambda x: rays.closed(x, moving=case.moving).blur_mm(case.distance_mm, "horizontal")
    )
    criterion = case.circle_mm / case.squeeze
    assert_allclose(abs(per_mm) * attachment_tolerance(case), criterion, rtol=1e-5)


@given(case=CASES)
def test_an_attachment_off_never_blurs_upright(case: Case) -> None:
    shifted = case.rays().closed(1.0, moving=case.moving)
    assert abs(shifted.blur_mm(case.distance_mm, "vertical")) < 1e-9 * case.focal_mm


@given(case=CASES)
def test_attachment_inherits_the_slip_of_a_lens_that_carries_it(case: Case) -> None:
    """Closing the groups by it makes the horizontal meridian sharp again."""
    rays = case.rays()
    by_lens = slope(
        lambda x: rays.lens_forward(x, carries=True).blur_mm(case.distance_mm, "horizontal")
    )
    by_closing = slope(
        lambda x: rays.closed(x, moving=case.moving).blur_mm(case.distance_mm, "horizontal")
    )
    found = tolerance.inherited_travel(
        case.match, image_mm=case.image_mm, lens_to_rear_mm=case.to_rear_mm, front_moves=1.0
    )
    assert_allclose(found, -by_lens / by_closing, rtol=1e-5)


@given(case=CASES)
def test_attachment_inherits_the_slip_of_a_lens_that_slides_inside(case: Case) -> None:
    """W₁((u/v)² − 1)/leverage for a lens sliding behind a front that stands."""
    rays = case.rays()
    by_lens = slope(
        lambda x: rays.lens_forward(x, carries=False).blur_mm(case.distance_mm, "horizontal")
    )
    by_closing = slope(
        lambda x: rays.closed(x, moving=case.moving).blur_mm(case.distance_mm, "horizontal")
    )
    found = tolerance.inherited_travel(
        case.match, image_mm=case.image_mm, lens_to_rear_mm=case.to_rear_mm, front_moves=0.0
    )
    assert_allclose(found, -by_lens / by_closing, rtol=1e-5)


@given(case=CASES, errors=st.tuples(st.floats(-1.0, 1.0), st.floats(-1.0, 1.0)))
def test_pair_error_is_what_both_meridians_show(case: Case, errors: tuple[float, float]) -> None:
    """V = e_t/tol_V, H = e_a/tol_a − S·e_t/tol_V, positive toward nearer; traced to first order."""
    small = 1e-4
    taking, groups = (small * error for error in errors)
    rays = (
        case.rays()
        .lens_forward(taking * lens_tolerance(case), carries=True)
        .closed(groups * attachment_tolerance(case), moving=case.moving)
    )
    # A rig focused nearer than its subject blurs it negatively; H errs the other way, because an
    # extended lens asks the attachment for more.
    upright = -rays.blur_mm(case.distance_mm, "vertical") / case.circle_mm
    across = rays.blur_mm(case.distance_mm, "horizontal") * case.squeeze / case.circle_mm
    vertical, horizontal = taking, groups - case.squeeze * taking
    m = float(thin_lens.magnification(case.distance_mm, focal_length_mm=case.focal_mm))
    assert_allclose(upright, vertical, atol=small * 0.02)
    assert_allclose(across, horizontal, atol=small * (0.02 + case.squeeze * 1.1 * m**2))


@pytest.mark.parametrize("moving", MOVING)
@pytest.mark.parametrize("squeeze", [1.33, 1.5, 2.0])
def test_attachment_tolerance_at_infinity(squeeze: float, moving: MovingGroup) -> None:
    """c·N·F²/(S·f²); in arc c·N·S·K/((S² − 1)f²) with K = g·A²(S² − 1)."""
    front, focal, stop, circle, per_travel = 88.0, 85.0, 2.8, 0.03, 8.4
    found = attachment.match(np.inf, front_focal_mm=front, squeeze=squeeze, moving=moving)
    travel = tolerance.attachment_travel_mm(
        Aperture(focal, focal, stop, circle), found, squeeze=squeeze, lens_to_rear_mm=55.0
    )
    assert_allclose(travel, circle * stop * (front * squeeze) ** 2 / (squeeze * focal**2))
    k = per_travel * front**2 * (squeeze**2 - 1.0)
    arc = circle * stop * squeeze * k / ((squeeze**2 - 1.0) * focal**2)
    assert_allclose(per_travel * travel, arc)


@pytest.mark.parametrize("moving", MOVING)
def test_inherited_at_infinity(moving: MovingGroup) -> None:
    """(F/f)² of travel."""
    found = attachment.match(np.inf, front_focal_mm=88.0, squeeze=2.0, moving=moving)
    carried = tolerance.inherited_travel(
        found, image_mm=85.0, lens_to_rear_mm=55.0, front_moves=True
    )
    assert_allclose(carried, (176.0 / 85.0) ** 2)


def test_lens_tolerance_at_infinity() -> None:
    """c·N: the depth of focus."""
    assert_allclose(tolerance.taking_lens_travel_mm(Aperture(85.0, 85.0, 2.8, 0.03)), 0.03 * 2.8)


@given(case=CASES)
def test_tolerances_grow_with_stop_and_circle(case: Case) -> None:
    doubled = Case(**{**vars(case), "stop": 2.0 * case.stop, "circle_mm": 1.5 * case.circle_mm})
    assert_allclose(lens_tolerance(doubled), 3.0 * lens_tolerance(case), rtol=1e-12)
    assert_allclose(attachment_tolerance(doubled), 3.0 * attachment_tolerance(case), rtol=1e-12)


def test_a_target_as_good_as_infinity() -> None:
    """4f²/(cN)·S: 688 m for 85 mm at f/2.8, c 0.03 mm and 2x."""
    found = tolerance.infinity_target_mm(
        focal_length_mm=85.0, stop=2.8, circle_mm=0.03, squeeze=2.0
    )
    assert_allclose(found, 690_000.0, rtol=0.005)


@pytest.mark.parametrize("squeeze", [1.1, 1.33, 1.5, 2.0, 3.0])
def test_such_a_target_spoils_infinity_by_a_quarter_tolerance_at_most(squeeze: float) -> None:
    """Both rings read at it and called infinity: their errors in their own tolerances."""
    target = float(
        tolerance.infinity_target_mm(
            focal_length_mm=85.0, stop=2.8, circle_mm=0.03, squeeze=squeeze
        )
    )
    aperture = Aperture(85.0, 85.0, 2.8, 0.03)
    taking = ThinLens(85.0).extension_mm(target)
    ring_tolerance = tolerance.taking_lens_travel_mm(aperture) / squeeze
    assert_allclose(taking / ring_tolerance, 0.25, rtol=1e-2)
    far, read = (
        attachment.match(d, front_focal_mm=88.0, squeeze=squeeze, moving="rear")
        for d in (np.inf, target)
    )
    own = tolerance.attachment_travel_mm(aperture, far, squeeze=squeeze, lens_to_rear_mm=50.0)
    error = (far.separation_mm - read.separation_mm) / own
    assert 0.0 < error < 0.25
    assert_allclose(error, (squeeze**2 - 1.0) / (4.0 * squeeze**2), rtol=1e-2)


def test_arguments_broadcast() -> None:
    distances = np.array([1000.0, 2000.0, np.inf])
    stops = np.array([[2.8], [5.6]])
    image = ThinLens(85.0).image_mm(distances)
    aperture = Aperture(85.0, image, stops, 0.03)
    found = attachment.match(
        distances - image - 60.0, front_focal_mm=88.0, squeeze=2.0, moving="front"
    )
    table = tolerance.attachment_travel_mm(aperture, found, squeeze=2.0, lens_to_rear_mm=60.0)
    assert table.shape == tolerance.taking_lens_travel_mm(aperture).shape == (2, 3)
    assert_allclose(table[1, 1], attachment_tolerance(Case(2000.0, stop=5.6)), rtol=1e-12)
