"""The attachment locked and the taking lens pulled, against rays traced through the rig."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.optimize import minimize_scalar

from focuschart.optics.locked import Locked, Pulled, blurs, compromise_image_mm, pulled_zone
from tests.thin_cases import CASES, Case
from tests.thin_rays import ThinRig

CARRIED = st.sampled_from((0.0, 1.0))
LONGEST = 1.25
"""Of the focal length: where the lens of these cases ends."""


def locked(case: Case, carried: float) -> Locked:
    """The case's rig with its attachment where the match has it."""
    extension = case.image_mm - case.focal_mm
    return Locked(
        focal_length_mm=case.focal_mm,
        front_focal_mm=case.front_focal_mm,
        rear_focal_mm=case.front_focal_mm * case.squeeze,
        separation_mm=float(case.match.separation_mm),
        rear_mm=case.image_mm + case.to_rear_mm - carried * extension,
        carried=carried,
        plate_mm=0.0,
        squeeze=case.squeeze,
    )


def pulled(case: Case, carried: float) -> Pulled:
    return pulled_zone(
        locked(case, carried), case.image_mm, stop=case.stop, circle_mm=case.circle_mm,
        longest_image_mm=longest_mm(case),
    )  # fmt: skip


def longest_mm(case: Case) -> float:
    return max(LONGEST * case.focal_mm, case.image_mm)


def traced(case: Case, carried: float, distance_mm: float, image_mm: float) -> tuple[float, float]:
    """Both blurs in criteria, by rays through the rig with its lens at another image distance."""
    rig: ThinRig = case.rays().lens_forward(image_mm - case.image_mm, carries=carried == 1.0)
    across = rig.blur_mm(distance_mm, "horizontal") * case.squeeze / case.circle_mm
    return rig.blur_mm(distance_mm, "vertical") / case.circle_mm, across


def worst(case: Case, carried: float, distance_mm: float, image_mm: float) -> float:
    return max(map(abs, traced(case, carried, distance_mm, image_mm)))


@given(case=CASES, carried=CARRIED, subject=st.floats(550.0, 1e5), turn=st.floats(0.0, 0.2))
def test_blurs_are_the_traced_ones(case: Case, carried: float, subject: float, turn: float) -> None:
    image = case.focal_mm * (1.0 + turn)
    found = blurs(locked(case, carried), subject, image, stop=case.stop, circle_mm=case.circle_mm)
    assert_allclose(found, traced(case, carried, subject, image), rtol=1e-6, atol=1e-6)


@given(case=CASES, carried=CARRIED)
def test_the_zone_holds_the_mark_and_the_zone_at_rest(case: Case, carried: float) -> None:
    rest = locked(case, carried).limits(case.image_mm, stop=case.stop, circle_mm=case.circle_mm)
    zone = pulled(case, carried).zone
    assert rest.near_mm < case.distance_mm < rest.far_mm
    assert zone.near_mm <= rest.near_mm
    assert zone.far_mm >= rest.far_mm


@given(case=CASES)
def test_at_rest_it_is_the_depth_of_field(case: Case) -> None:
    rest = locked(case, 1.0).limits(case.image_mm, stop=case.stop, circle_mm=case.circle_mm)
    near = max(float(case.vertical().near_mm), float(case.horizontal().near_mm))
    assert_allclose(rest.near_mm, near, rtol=1e-9)


@given(case=CASES, carried=CARRIED)
def test_at_the_ends_both_meridians_are_blurred_by_one_criterion(
    case: Case, carried: float
) -> None:
    """Traced, and of opposite signs; unless the lens ends before, or infinity is sharp enough."""
    found = pulled(case, carried)
    near, far = float(found.zone.near_mm), float(found.zone.far_mm)
    image = float(found.near_image_mm)
    blurred = traced(case, carried, near, image)
    if image < longest_mm(case):
        assert_allclose(blurred, (1.0, -1.0), rtol=1e-6)
    else:
        assert max(map(abs, blurred)) == pytest.approx(1.0)
    if np.isfinite(far) and found.far_image_mm > case.focal_mm:
        assert_allclose(
            traced(case, carried, far, float(found.far_image_mm)), (-1.0, 1.0), rtol=1e-6
        )
    if np.isinf(far):
        assert worst(case, carried, np.inf, best(case, carried, np.inf)) <= 1.0 + 1e-6


def best(case: Case, carried: float, subject_mm: float) -> float:
    found = compromise_image_mm(
        locked(case, carried), subject_mm, longest_image_mm=longest_mm(case)
    )
    return float(found)


@given(case=CASES, carried=CARRIED, share=st.floats(-1.4, 1.4))
def test_inside_some_setting_is_sharp_and_outside_none_is(
    case: Case, carried: float, share: float
) -> None:
    """All settings of the lens tried, by rays, for a subject in or beyond the zone."""
    zone = pulled(case, carried).zone
    end = float(zone.far_mm if share > 0.0 else zone.near_mm)
    mark = 1.0 / case.distance_mm
    nearness = mark + abs(share) * (1.0 / end - mark)
    if nearness <= 0.0 or abs(abs(share) - 1.0) < 0.02:
        return
    assert (sharpest(case, carried, 1.0 / nearness) <= 1.0) == (abs(share) < 1.0)


def sharpest(case: Case, carried: float, subject_mm: float) -> float:
    """The least of the worse meridian's blur over the lens's way, by trying and closing in."""
    images = np.linspace(case.focal_mm, longest_mm(case), 101).tolist()
    tried = [worst(case, carried, subject_mm, image) for image in images]
    at = int(np.argmin(tried))
    span = images[max(at - 1, 0)], images[min(at + 1, 100)]
    closer = minimize_scalar(
        lambda image: worst(case, carried, subject_mm, image), bounds=span, method="bounded",
        options={"xatol": 1e-9},
    )  # fmt: skip
    return min(float(closer.fun), tried[at])


@given(case=CASES, carried=CARRIED, subject=st.floats(600.0, 1e5), other=st.floats(0.0, 0.25))
def test_no_setting_beats_the_compromise(
    case: Case, carried: float, subject: float, other: float
) -> None:
    at_best = worst(case, carried, subject, best(case, carried, subject))
    image = case.focal_mm + other * 4.0 * (longest_mm(case) - case.focal_mm)
    assert at_best <= worst(case, carried, subject, image) * (1.0 + 1e-9) + 1e-9


@given(case=CASES, carried=CARRIED)
def test_for_the_mark_itself_the_compromise_is_the_match(case: Case, carried: float) -> None:
    image = best(case, carried, case.distance_mm)
    assert_allclose(image, case.image_mm, rtol=1e-9)


@given(case=CASES, carried=CARRIED, subject=st.floats(600.0, 1e5))
def test_what_is_left_is_a_share_of_the_disagreement(
    case: Case, carried: float, subject: float
) -> None:
    """S/(1 + S) of k_V − k_H, unless the lens stands at an end of its way."""
    rig, image = locked(case, carried), best(case, carried, subject)
    upright, across = blurs(rig, subject, image, stop=case.stop, circle_mm=case.circle_mm)
    if case.focal_mm < image < longest_mm(case):
        assert_allclose(upright, -across, rtol=1e-6, atol=1e-6)
        k_upright, k_across = rig.vergences(subject, image)
        scale = image * case.focal_mm / (case.stop * case.circle_mm)
        left = case.squeeze / (1.0 + case.squeeze) * (k_upright - k_across) * scale
        assert_allclose(upright, left, rtol=1e-6, atol=1e-6)


@given(case=CASES, carried=CARRIED, wider=st.floats(1.1, 3.0))
def test_a_larger_f_number_never_narrows_the_zone(case: Case, carried: float, wider: float) -> None:
    narrow = pulled(case, carried).zone
    wide = pulled(replace(case, stop=wider * case.stop), carried).zone
    # Both may end at the glass, which the lens carries forward as it is pulled.
    glass = locked(case, carried).groups(longest_mm(case))
    assert wide.near_mm <= max(narrow.near_mm, glass.rear_datum_mm + glass.separation_mm)
    assert wide.far_mm >= narrow.far_mm


@pytest.mark.parametrize("squeeze", [1.33, 1.5, 2.0])
def test_one_hand_holds_s_over_s_less_one_times_the_depth_of_field(squeeze: float) -> None:
    """At a distance, to first order: the locked attachment's plane runs S² times as fast.

    From the longitudinal magnification (Smith, Modern Optical Engineering, p. 27, eq. 2.9): k_H
    changes by 1/S² of k_V, so that (1 + S)/S of a criterion covers 1 − 1/S² of the way.
    """
    case = Case(40_000.0, squeeze=squeeze, circle_mm=1e-4, lens_to_rear_mm=20.0)
    zone, rest = pulled(case, 1.0).zone, case.vertical()
    ratio = (zone.far_mm - zone.near_mm) / (rest.far_mm - rest.near_mm)
    assert_allclose(ratio, squeeze / (squeeze - 1.0), rtol=0.02)


def test_arguments_broadcast() -> None:
    cases = [Case(1500.0), Case(4000.0)]
    rigs = [locked(case, 1.0) for case in cases]
    both = replace(
        rigs[0],
        separation_mm=np.array([rig.separation_mm for rig in rigs]),
        rear_mm=np.array([rig.rear_mm for rig in rigs]),
    )
    images = np.array([case.image_mm for case in cases])
    found = pulled_zone(
        both, images, stop=np.array([[2.8], [5.6]]), circle_mm=0.03, longest_image_mm=106.25
    )
    assert found.zone.near_mm.shape == found.far_image_mm.shape == (2, 2)
    alone = pulled(replace(cases[1], stop=5.6), 1.0)
    assert_allclose(found.zone.near_mm[1, 1], alone.zone.near_mm, rtol=1e-9)
    assert_allclose(found.zone.far_mm[1, 1], alone.zone.far_mm, rtol=1e-9)


@given(case=CASES, carried=CARRIED)
def test_an_end_at_infinity_has_the_best_setting_for_infinity(case: Case, carried: float) -> None:
    found = pulled(case, carried)
    if np.isinf(found.zone.far_mm):
        image = float(found.far_image_mm)
        assert_allclose(image, best(case, carried, np.inf), rtol=1e-9)
        assert worst(case, carried, np.inf, image) <= 1.0 + 1e-6


@given(case=CASES, carried=CARRIED, behind=st.floats(0.0, 300.0))
def test_a_subject_at_or_behind_the_glass_has_a_blur(
    case: Case, carried: float, behind: float
) -> None:
    """A zone that is sharp up to the glass ends there: no division by zero, no warning."""
    rig = locked(case, carried)
    groups = rig.groups(case.image_mm)
    glass = float(groups.rear_datum_mm) + float(groups.separation_mm)
    both = blurs(rig, glass - behind, case.image_mm, stop=case.stop, circle_mm=case.circle_mm)
    assert np.all(np.isfinite(both))
