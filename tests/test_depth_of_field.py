"""Depth of field of the whole rig against rays traced through it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from focuschart.optics import attachment, depth_of_field
from focuschart.optics.attachment import MovingGroup
from focuschart.optics.depth_of_field import Aperture, Groups
from focuschart.optics.thin_lens import ThinLens
from tests.thin_cases import CASES, MOVING, Case


@given(case=CASES)
def test_at_the_limits_the_blur_is_one_criterion(case: Case) -> None:
    """Rays from both limits to the pupil's edge: c upright, c/S across, of opposite signs."""
    vertical, horizontal, rays = case.vertical(), case.horizontal(), case.rays()
    across = case.circle_mm / case.squeeze
    assert_allclose(rays.blur_mm(float(vertical.near_mm), "vertical"), case.circle_mm, rtol=1e-6)
    assert_allclose(rays.blur_mm(float(horizontal.near_mm), "horizontal"), across, rtol=1e-6)
    if np.isfinite(vertical.far_mm):
        far = rays.blur_mm(float(vertical.far_mm), "vertical")
        assert_allclose(far, -case.circle_mm, rtol=1e-6)
    if np.isfinite(horizontal.far_mm):
        far = rays.blur_mm(float(horizontal.far_mm), "horizontal")
        assert_allclose(far, -across, rtol=1e-6)


@given(case=CASES, opened=st.floats(-1.5, 1.5))
def test_limits_hold_for_a_ring_that_is_off(case: Case, opened: float) -> None:
    """The hold zone of an attachment locked at another mark."""
    horizontal, rays = case.horizontal(opened_mm=opened), case.rays(opened_mm=opened)
    across = case.circle_mm / case.squeeze
    near, far = float(horizontal.near_mm), float(horizontal.far_mm)
    if np.isfinite(near):
        assert_allclose(rays.blur_mm(near, "horizontal"), across, rtol=1e-6)
    if np.isfinite(far):
        assert_allclose(rays.blur_mm(far, "horizontal"), -across, rtol=1e-6)


@given(case=CASES)
def test_infinite_far_limits_are_sharp_at_infinity(case: Case) -> None:
    rays = case.rays()
    upright = -rays.blur_mm(np.inf, "vertical") / case.circle_mm
    across = -rays.blur_mm(np.inf, "horizontal") / (case.circle_mm / case.squeeze)
    for limits, criteria in ((case.vertical(), upright), (case.horizontal(), across)):
        if np.isinf(limits.far_mm):
            assert criteria <= 1.0 + 1e-9
        else:
            assert criteria > 1.0 - 1e-6


@given(case=CASES)
def test_frame_is_sharp_around_its_subject(case: Case) -> None:
    vertical, horizontal = case.vertical(), case.horizontal()
    frame = depth_of_field.frame_limits(vertical, horizontal)
    assert float(frame.near_mm) < case.distance_mm < float(frame.far_mm)
    for limits in (vertical, horizontal):
        assert float(limits.near_mm) <= float(frame.near_mm)
        assert float(limits.far_mm) >= float(frame.far_mm)
    assert float(frame.near_mm) in (float(vertical.near_mm), float(horizontal.near_mm))
    assert float(frame.far_mm) in (float(vertical.far_mm), float(horizontal.far_mm))


def test_meridians_that_nowhere_meet_leave_no_frame() -> None:
    case = Case(1500.0)
    frame = depth_of_field.frame_limits(case.vertical(), case.horizontal(opened_mm=4.0))
    assert frame.near_mm > frame.far_mm


@given(case=CASES)
def test_depth_grows_with_the_stop(case: Case) -> None:
    stops = case.stop * np.array([1.0, 1.4, 2.0])
    aperture = Aperture(case.focal_mm, case.image_mm, stops, case.circle_mm)
    limits = depth_of_field.vertical_limits(aperture, lens_datum_mm=case.image_mm)
    assert np.all(np.diff(limits.near_mm) < 0.0)
    assert np.all((limits.far_mm[1:] > limits.far_mm[:-1]) | np.isinf(limits.far_mm[1:]))


@given(case=CASES)
def test_depths_stand_as_the_squeeze_squared(case: Case) -> None:
    """H/V = S(D)²/S for a small criterion: the vertical meridian is the tighter one."""
    small = replace(case, stop=2.8, circle_mm=1e-6 * case.focal_mm)
    vertical, horizontal = small.vertical(), small.horizontal()
    ratio = (horizontal.far_mm - horizontal.near_mm) / (vertical.far_mm - vertical.near_mm)
    assert_allclose(ratio, small.match.squeeze**2 / small.squeeze, rtol=1e-3)


@pytest.mark.parametrize("moving", MOVING)
@pytest.mark.parametrize("squeeze", [1.33, 1.5, 2.0])
def test_highlights_are_ovals_of_the_squeeze_squared(squeeze: float, moving: MovingGroup) -> None:
    """Recorded S² times as tall as wide, S times after desqueezing; oval highlights are common

    practice, the square follows from the longitudinal magnification (Smith, p. 27, eq. 2.9).
    """
    case = Case(40_000.0, moving, squeeze, lens_to_rear_mm=0.0)
    rays, local = case.rays(), float(case.match.squeeze)
    for point in (39_900.0, 40_100.0):
        tall, wide = rays.blur_mm(point, "vertical"), rays.blur_mm(point, "horizontal")
        assert_allclose(tall / wide, local**2, rtol=1e-3)
        assert_allclose(tall / (wide * local), squeeze, rtol=0.02)


@pytest.mark.parametrize("moving", MOVING)
def test_without_squeeze_both_meridians_agree(moving: MovingGroup) -> None:
    case = Case(1500.0, moving, squeeze=1.0 + 1e-7)
    vertical, horizontal = case.vertical(), case.horizontal()
    assert_allclose(horizontal.near_mm, vertical.near_mm, rtol=1e-6)
    assert_allclose(horizontal.far_mm, vertical.far_mm, rtol=1e-6)


def test_the_plate_moves_the_vertical_limits_alone() -> None:
    case = Case(1500.0)
    plain = case.vertical()
    shifted = depth_of_field.vertical_limits(case.aperture(), lens_datum_mm=case.image_mm + 9.4)
    assert_allclose(shifted.near_mm - plain.near_mm, 9.4)
    assert_allclose(shifted.far_mm - plain.far_mm, 9.4)


def test_a_subject_at_infinity_has_the_hyperfocal_as_its_near_limit() -> None:
    """f²/(Nc) from the principal plane upright; S times the depth, so that over S, across."""
    aperture = Aperture(85.0, 85.0, 2.8, 0.03)
    vertical = depth_of_field.vertical_limits(aperture, lens_datum_mm=0.0)
    assert_allclose(vertical.near_mm, 85.0**2 / (2.8 * 0.03), rtol=1e-12)
    assert np.isinf(vertical.far_mm)
    horizontal = depth_of_field.horizontal_limits(
        aperture, Groups(88.0, 176.0, 88.0, 0.0, 0.0), squeeze=2.0
    )
    assert_allclose(horizontal.near_mm, vertical.near_mm / 2.0, rtol=0.01)
    assert np.isinf(horizontal.far_mm)


@given(share=st.floats(0.05, 1.0))
def test_a_share_of_the_blur_is_a_smaller_circle(share: float) -> None:
    whole = Aperture(85.0, 90.0, 2.8, 0.03 * share).subject_vergences()
    assert_allclose(Aperture(85.0, 90.0, 2.8, 0.03).subject_vergences(share), whole, rtol=1e-12)


def test_stops_and_distances_broadcast() -> None:
    distances = np.array([1000.0, 2000.0, np.inf])
    stops = np.array([[2.8], [5.6]])
    image = ThinLens(85.0).image_mm(distances)
    aperture = Aperture(85.0, image, stops, 0.03)
    vertical = depth_of_field.vertical_limits(aperture, lens_datum_mm=image)
    found = attachment.match(
        distances - image - 60.0, front_focal_mm=88.0, squeeze=2.0, moving="front"
    )
    groups = Groups(88.0, 176.0, found.separation_mm, 60.0, image + 60.0)
    horizontal = depth_of_field.horizontal_limits(aperture, groups, squeeze=2.0)
    frame = depth_of_field.frame_limits(vertical, horizontal)
    assert vertical.near_mm.shape == horizontal.far_mm.shape == frame.near_mm.shape == (2, 3)
    alone = Case(2000.0, stop=5.6)
    assert_allclose(vertical.far_mm[1, 1], alone.vertical().far_mm, rtol=1e-12)
    assert_allclose(horizontal.near_mm[1, 1], alone.horizontal().near_mm, rtol=1e-12)
    assert np.all(np.isinf(frame.far_mm[:, 2]))


def test_depth_that_reaches_behind_the_rear_group_ends_at_the_glass() -> None:
    """20 mm at f/64: the near plane falls behind the rear group, so all before it is sharp."""
    aperture = Aperture(20.0, 21.0, 64.0, 0.2)
    groups = Groups(88.0, 176.0, 80.0, 200.0, np.array([230.0]))
    limits = depth_of_field.horizontal_limits(aperture, groups, squeeze=2.0)
    assert_allclose(limits.near_mm, 310.0, atol=1e-6)
    assert np.all(np.isinf(limits.far_mm))
