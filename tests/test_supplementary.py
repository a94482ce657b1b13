"""Close-up lenses against published tables, ray transfer and their own limits."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from focuschart.errors import OpticsError
from focuschart.optics import supplementary, thin_lens
from focuschart.optics.depth_of_field import Limits
from focuschart.optics.frame import Frame, frame_at_subject
from focuschart.optics.supplementary import Focused
from tests.test_frame import front_group_mm, ray_transfer
from tests.thin_cases import CASES, Case
from tests.thin_rays import ThinRig

POWER = st.floats(0.1, 10.0)
AHEAD = st.one_of(st.floats(50.0, 1e6), st.just(np.inf))
DATUM = st.floats(50.0, 400.0)


def subject(ahead: float, power: float, datum: float = 0.0) -> float:
    """The subject by distances from the close-up lens."""
    at = ahead + datum
    found = supplementary.subject_mm(at, power_dioptres=power, close_up_datum_mm=datum)
    return float(found) - datum


@pytest.mark.parametrize(
    ("ahead_mm", "power", "subject_mm"),
    [
        # Encyclopaedia, "Close-up filter": +3 on a lens set to 1.5 m, and lenses at infinity.
        (1500.0, 3.0, 273.0),
        (np.inf, 1.0, 1000.0),
        (np.inf, 2.0, 500.0),
        (np.inf, 4.0, 250.0),
    ],
)
def test_published_subject_distances(ahead_mm: float, power: float, subject_mm: float) -> None:
    assert_allclose(subject(ahead_mm, power), subject_mm, atol=0.5)


@given(ahead=AHEAD, power=POWER, datum=DATUM)
def test_conjugate_equation(ahead: float, power: float, datum: float) -> None:
    found = subject(ahead, power, datum)
    assert_allclose(1000.0 / found, power + 1000.0 / ahead, rtol=1e-9)
    assert found < min(ahead, 1000.0 / power * (1.0 + 1e-9))


@given(power=POWER, datum=DATUM)
def test_infinity_is_the_mark_of_the_close_up_lenss_own_focus(power: float, datum: float) -> None:
    focus = supplementary.subject_mm(np.inf, power_dioptres=power, close_up_datum_mm=datum)
    assert_allclose(focus - datum, 1000.0 / power, rtol=1e-9)


@given(ahead=AHEAD, datum=DATUM)
def test_no_power_is_no_lens(ahead: float, datum: float) -> None:
    assert_allclose(subject(ahead, 0.0, datum), ahead, rtol=1e-9)
    assert_allclose(subject(ahead, 1e-9, datum), min(ahead, 1e12), rtol=1e-5)
    m = supplementary.close_up_magnification(
        0.1, power_dioptres=0.0, image_mm=93.5, lens_to_close_up_mm=datum
    )
    assert m == 0.1


@given(ahead=AHEAD, first=POWER, second=POWER)
def test_powers_of_stacked_lenses_add(ahead: float, first: float, second: float) -> None:
    """Thin lenses in contact: the one shows its subject to the other."""
    assert_allclose(subject(subject(ahead, first), second), subject(ahead, first + second))


@given(case=CASES, power=st.floats(0.0, 5.0), gap=st.floats(0.0, 30.0))
def test_both_meridians_focus_on_the_nearer_subject_at_the_stated_magnification(
    case: Case, power: float, gap: float
) -> None:
    """Ray transfer through close-up lens, groups and taking lens, each meridian by itself."""
    datum = front_group_mm(case) + gap
    nearer = float(
        supplementary.subject_mm(case.distance_mm, power_dioptres=power, close_up_datum_mm=datum)
    )
    m = supplementary.close_up_magnification(
        thin_lens.magnification(case.distance_mm, focal_length_mm=case.focal_mm),
        power_dioptres=power,
        image_mm=case.image_mm,
        lens_to_close_up_mm=datum - case.image_mm,
    )
    up, across = (
        ray_transfer(
            case, meridian, subject_mm=nearer, power_per_mm=power / 1000.0, before_front_mm=gap
        )
        for meridian in ("vertical", "horizontal")
    )
    assert_allclose((up[0, 1], across[0, 1]), 0.0, atol=1e-6 * case.distance_mm)
    assert_allclose(-up[0, 0], m, rtol=1e-6)
    assert_allclose(-across[0, 0], m / case.match.squeeze, rtol=1e-6)


def test_at_infinity_the_magnification_is_the_ratio_of_focal_lengths() -> None:
    """f·P, and the frame finite: 100 mm and +2 (500 mm) give 1/5, so 36 mm takes in 180 mm."""
    m = supplementary.close_up_magnification(
        0.0, power_dioptres=2.0, image_mm=100.0, lens_to_close_up_mm=250.0
    )
    assert_allclose(m, 0.2, rtol=1e-12)
    seen = frame_at_subject(Frame(np.asarray(36.0), np.asarray(24.0)), magnification=m, squeeze=2.0)
    assert_allclose((seen.width_mm, seen.height_mm), (360.0, 120.0), rtol=1e-12)


def blurred(rays: ThinRig, ahead_mm: float, power: float) -> float:
    """The vertical blur of a point before the close-up lens, which stands at the front group."""
    vergence = 1.0 / ahead_mm - power / 1000.0
    return rays.blur_mm(1.0 / vergence + rays.front_mm, "vertical")


@given(case=CASES, power=st.floats(0.2, 5.0))
def test_at_the_limits_the_blur_is_still_one_circle(case: Case, power: float) -> None:
    """Both limits traced back through the close-up lens, a far one at infinity beside it."""
    datum = front_group_mm(case)
    plain = case.vertical()
    close = supplementary.close_up_limits(plain, power_dioptres=power, close_up_datum_mm=datum)
    for limit, before, sign in (
        (close.near_mm, plain.near_mm, 1.0),
        (close.far_mm, plain.far_mm, -1.0),
    ):
        if datum + 1.0 < before < 1e5:
            blur = blurred(case.rays(), float(limit) - datum, power)
            assert_allclose(blur, sign * case.circle_mm, rtol=1e-4)


@given(case=CASES, power=st.floats(0.2, 5.0))
def test_limits_embrace_the_subject_and_shrink(case: Case, power: float) -> None:
    datum = front_group_mm(case)
    plain = case.vertical()
    close = supplementary.close_up_limits(plain, power_dioptres=power, close_up_datum_mm=datum)
    at = supplementary.subject_mm(case.distance_mm, power_dioptres=power, close_up_datum_mm=datum)
    assert close.near_mm < at < close.far_mm
    assert close.far_mm <= datum + 1000.0 / power * (1.0 + 1e-12)
    assert close.far_mm - close.near_mm < plain.far_mm - plain.near_mm


def test_sharp_up_to_the_glass_stays_sharp_up_to_the_glass() -> None:
    limits = Limits(np.array([280.0, 300.0, 500.0]), np.array([1300.0, np.inf, np.inf]))
    close = supplementary.close_up_limits(limits, power_dioptres=1.0, close_up_datum_mm=300.0)
    assert_allclose(close.near_mm, [300.0, 300.0, 300.0 + 1000.0 / 6.0])
    assert_allclose(close.far_mm, [800.0, 1300.0, 1300.0])


def test_table_over_powers_and_marks() -> None:
    """A 100 mm lens at 1250 mm and infinity, +2 standing 300 mm from the sensor, by hand; all of it
    but the lens 9.4 mm farther for the glass it looks through."""
    plate = 9.4
    distances = np.array([1250.0, np.inf]) + plate
    m = thin_lens.magnification(distances - plate, focal_length_mm=100.0)
    image = 100.0 * (1.0 + m)
    limits = Limits(distances - 125.0, distances + 125.0)
    focused = Focused(distances, limits, m, image, image + plate, np.array([1.8, 2.0]))
    powers = np.array([[0.0], [2.0]])
    crop = Frame(np.asarray(30.0), np.asarray(24.0))
    table = supplementary.close_up_table(
        powers, focused, close_up_datum_mm=300.0 + plate, crop=crop
    )
    assert_allclose(table.subject_mm[0], distances)
    assert_allclose(table.subject_mm[1] - plate, [300.0 + 950.0 / 2.9, 800.0], rtol=1e-12)
    assert_allclose(table.limits.near_mm[1, 0] - plate, 300.0 + 825.0 / 2.65, rtol=1e-12)
    assert_allclose(table.limits.far_mm[1, 0] - plate, 300.0 + 1075.0 / 3.15, rtol=1e-12)
    # The plain frame shrinks as the distances do; at infinity 30/(100·0.002)·2 and 24/0.2.
    assert_allclose(table.frame.width_mm[1], [30.0 * 1.8 / m[0] / 2.9, 300.0], rtol=1e-12)
    assert_allclose(table.frame.height_mm[1], [24.0 / m[0] / 2.9, 120.0], rtol=1e-12)
    assert np.isinf(table.frame.width_mm[0, 1])


@pytest.mark.parametrize("distance_mm", [300.0, 100.0])
def test_a_mark_behind_the_close_up_lens_is_refused(distance_mm: float) -> None:
    with pytest.raises(OpticsError, match="not in front of the close-up lens"):
        supplementary.subject_mm(
            np.array([2000.0, distance_mm]), power_dioptres=0.1, close_up_datum_mm=300.0
        )
