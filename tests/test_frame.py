"""Desqueezing, delivery crops and the frame at the subject: published apertures, and rays."""

from __future__ import annotations

from typing import Literal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from focuschart.kit.fields import parse_ratio
from focuschart.optics import frame, thin_lens
from focuschart.optics.arrays import Floats
from focuschart.optics.attachment import match
from focuschart.optics.frame import Frame
from focuschart.units import MM_PER_INCH
from tests.thin_cases import CASES, Case

RATIO = st.floats(1.0, 4.0)
SQUEEZE = st.floats(1.0, 2.5)
SIDE_PX = st.integers(500, 5000).map(lambda half: 2 * half)

# --- desqueezing ----------------------------------------------------------------------------------


def test_the_anamorphic_projection_aperture_is_2_39_to_1() -> None:
    """0.825 × 0.690 in, doubled in width: 2.391:1 (the 1993 revision of the standard aperture)."""
    ratio = frame.desqueezed_ratio(width=0.825, height=0.690, squeeze=2.0)
    assert_allclose(ratio, 2.391, atol=5e-4)
    width, height = 0.825 * MM_PER_INCH, 0.690 * MM_PER_INCH
    whole = frame.crop_on_sensor(ratio, width_mm=width, height_mm=height, squeeze=2.0)
    assert_allclose((whole.width_mm, whole.height_mm), (width, height), rtol=1e-12)


def test_two_to_one_from_four_to_three_is_2_667() -> None:
    """Super 35 camera aperture 0.980 × 0.735 in, exactly 4:3; doubled in width 8:3."""
    ratio = frame.desqueezed_ratio(width=0.980, height=0.735, squeeze=2.0)
    assert_allclose(ratio, 8.0 / 3.0, rtol=1e-12)


@given(width=SIDE_PX, squeeze=SQUEEZE)
def test_the_width_to_enter_is_the_nearest_even_one(width: int, squeeze: float) -> None:
    found = frame.desqueezed_width_px(width, squeeze=squeeze)
    assert found % 2 == 0
    assert abs(found - squeeze * width) <= 1.0
    assert frame.desqueezed_width_px(width, squeeze=1.0) == width


def test_pixel_sizes_of_each_mark_broadcast() -> None:
    """4096 × 1.5 and × 1.45, 3840 × 1.5 and × 1.45, by hand."""
    widths = np.array([[4096], [3840]])
    found = frame.desqueezed_width_px(widths, squeeze=np.array([1.5, 1.45]))
    assert found.tolist() == [[6144, 5940], [5760, 5568]]


# --- crops ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ratio", "size"),
    [
        # DCI, Digital Cinema System Specification: scope, flat and full container.
        (parse_ratio("scope"), (4096, 1716)),
        (parse_ratio("flat"), (3996, 2160)),
        (1.85, (3996, 2160)),
        (4096.0 / 2160.0, (4096, 2160)),
    ],
)
def test_digital_cinema_containers(ratio: float, size: tuple[int, int]) -> None:
    crop = frame.crop_in_pixels(ratio, width_px=4096, height_px=2160, squeeze=1.0)
    assert (int(crop.width_px), int(crop.height_px)) == size
    assert (int(crop.left_px), int(crop.top_px)) == ((4096 - size[0]) // 2, (2160 - size[1]) // 2)


def test_the_round_figure_for_scope_is_two_rows_short() -> None:
    crop = frame.crop_in_pixels(2.39, width_px=4096, height_px=2160, squeeze=1.0)
    assert (int(crop.width_px), int(crop.height_px)) == (4096, 1714)


@given(ratio=RATIO, width=SIDE_PX, height=SIDE_PX, squeeze=SQUEEZE)
def test_a_crop_is_the_largest_even_centred_one(
    ratio: float, width: int, height: int, squeeze: float
) -> None:
    wide = int(frame.desqueezed_width_px(width, squeeze=squeeze))
    crop = frame.crop_in_pixels(ratio, width_px=width, height_px=height, squeeze=squeeze)
    across, up = int(crop.width_px), int(crop.height_px)
    assert across % 2 == up % 2 == 0
    assert 2 * crop.left_px + across == wide
    assert 2 * crop.top_px + up == height
    assert across == wide or up == height
    assert abs(across - ratio * up) <= max(1.0, ratio) + 1e-6


@given(ratio=RATIO, width=st.floats(10.0, 60.0), height=st.floats(8.0, 40.0), squeeze=SQUEEZE)
def test_the_crop_on_the_sensor_has_the_ratio_and_touches_the_edges(
    ratio: float, width: float, height: float, squeeze: float
) -> None:
    crop = frame.crop_on_sensor(ratio, width_mm=width, height_mm=height, squeeze=squeeze)
    found = frame.desqueezed_ratio(width=crop.width_mm, height=crop.height_mm, squeeze=squeeze)
    assert_allclose(found, ratio, rtol=1e-9)
    assert_allclose(max(crop.width_mm / width, crop.height_mm / height), 1.0, rtol=1e-12)
    assert crop.width_mm <= width
    assert crop.height_mm <= height


@given(ratio=RATIO, width=SIDE_PX, height=SIDE_PX, squeeze=SQUEEZE)
def test_pixels_and_millimetres_are_the_same_crop(
    ratio: float, width: int, height: int, squeeze: float
) -> None:
    """A sensor of 5 µm pixels: both agree to the rounding of a pixel or two."""
    pixels = frame.crop_in_pixels(ratio, width_px=width, height_px=height, squeeze=squeeze)
    on_sensor = frame.crop_on_sensor(
        ratio, width_mm=0.005 * width, height_mm=0.005 * height, squeeze=squeeze
    )
    assert_allclose(on_sensor.width_mm / 0.005 * squeeze, pixels.width_px, atol=1.0 + ratio)
    assert_allclose(on_sensor.height_mm / 0.005, pixels.height_px, atol=2.0)


def test_a_picture_of_odd_height_loses_one_row() -> None:
    crop = frame.crop_in_pixels(1.5, width_px=2000, height_px=1025, squeeze=1.0)
    assert (int(crop.width_px), int(crop.height_px)) == (1538, 1024)


def test_ratios_broadcast() -> None:
    ratios = np.array([2.0, 2.39, 1.0])
    crop = frame.crop_in_pixels(ratios, width_px=4000, height_px=3000, squeeze=1.5)
    assert crop.width_px.tolist() == [6000, 6000, 3000]
    assert crop.height_px.tolist() == [3000, 2510, 3000]
    assert crop.left_px.tolist() == [0, 0, 1500]
    assert crop.top_px.tolist() == [0, 245, 0]


# --- at the subject -------------------------------------------------------------------------------


def _gap(length_mm: float) -> Floats:
    return np.array([[1.0, length_mm], [0.0, 1.0]])


def _lens(power_per_mm: float) -> Floats:
    return np.array([[1.0, 0.0], [-power_per_mm, 1.0]])


def front_group_mm(case: Case) -> float:
    """The front group of a matched rig from the sensor."""
    return case.image_mm + case.to_rear_mm + float(case.match.separation_mm)


def ray_transfer(
    case: Case, meridian: Literal["vertical", "horizontal"], *, subject_mm: float,
    power_per_mm: float = 0.0, before_front_mm: float = 0.0,
) -> Floats:  # fmt: skip
    """The matrix from a subject, `subject_mm` from the sensor, to the sensor of a matched rig.

    A close-up lens may stand before the front group.
    """
    bends = float(meridian == "horizontal")
    close_up = _lens(power_per_mm) @ _gap(subject_mm - front_group_mm(case) - before_front_mm)
    front = _lens(-bends / case.front_focal_mm) @ _gap(before_front_mm)
    rear = _lens(bends / (case.front_focal_mm * case.squeeze))
    taking = _gap(case.image_mm) @ _lens(1.0 / case.focal_mm) @ _gap(case.to_rear_mm)
    return np.asarray(taking @ rear @ _gap(float(case.match.separation_mm)) @ front @ close_up)


@given(case=CASES, width=st.floats(10.0, 60.0), height=st.floats(8.0, 40.0))
def test_the_frame_at_the_subject_is_imaged_to_the_crop(
    case: Case, width: float, height: float
) -> None:
    """By ray transfer through lens and groups, each meridian by its own elements."""
    found = frame.frame_at_subject(
        Frame(np.asarray(width), np.asarray(height)),
        magnification=thin_lens.magnification(case.distance_mm, focal_length_mm=case.focal_mm),
        squeeze=case.match.squeeze,
    )
    across = ray_transfer(case, "horizontal", subject_mm=case.distance_mm)
    up = ray_transfer(case, "vertical", subject_mm=case.distance_mm)
    assert_allclose((across[0, 1], up[0, 1]), 0.0, atol=1e-6 * case.distance_mm)
    assert_allclose(-across[0, 0] * found.width_mm, width, rtol=1e-6)
    assert_allclose(-up[0, 0] * found.height_mm, height, rtol=1e-6)


def test_the_frame_of_an_ordinary_case() -> None:
    """By hand: m = 1/20 of 36 × 24 mm is 720 × 480; the squeeze there, 1.8, widens it to 1296."""
    found = frame.frame_at_subject(
        Frame(np.asarray(36.0), np.asarray(24.0)), magnification=0.05, squeeze=1.8
    )
    assert_allclose((found.width_mm, found.height_mm), (1296.0, 480.0), rtol=1e-12)


def test_frames_over_ratios_and_marks_reach_infinity() -> None:
    distances = np.array([1000.0, 5000.0, np.inf])
    ratios = np.array([[2.0], [2.39]])
    crop = frame.crop_on_sensor(ratios, width_mm=36.0, height_mm=24.0, squeeze=1.5)
    found = frame.frame_at_subject(
        crop,
        magnification=thin_lens.magnification(distances, focal_length_mm=85.0),
        squeeze=np.array([1.4, 1.48, 1.5]),
    )
    assert found.width_mm.shape == found.height_mm.shape == (2, 3)
    assert np.all(np.isinf(found.width_mm[:, 2]) & np.isinf(found.height_mm[:, 2]))
    assert np.all(np.diff(found.width_mm[:, :2]) > 0.0)


@given(case=CASES, ratio=RATIO)
def test_desqueezed_by_the_true_squeeze_the_frame_has_the_delivery_ratio(
    case: Case, ratio: float
) -> None:
    """By the nominal one it is narrower at the subject by just the widening of a face."""
    shapes = []
    for factor in (float(case.match.squeeze), case.squeeze):
        crop = frame.crop_on_sensor(ratio, width_mm=1000.0, height_mm=24.0, squeeze=factor)
        at = frame.frame_at_subject(crop, magnification=0.05, squeeze=case.match.squeeze)
        shapes.append(float(at.width_mm / at.height_mm))
    assert_allclose(shapes[0], ratio, rtol=1e-9)
    wider = frame.widening_percent(entered_squeeze=case.squeeze, true_squeeze=case.match.squeeze)
    assert_allclose(shapes[0] / shapes[1], 1.0 + wider / 100.0, rtol=1e-9)


# --- the factor to enter --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("entered", "true", "wider_percent"),
    [
        # An old attachment of two cylinders: 2.50 beyond 30 ft, 1.80 at 5 ft (a cinematographers'
        # trade magazine, September 2003); 2.5/1.8 by hand.
        (2.50, 1.80, 38.9),
        # US patent 6,310,731 (2001), its front six surfaces as a public lens database has them:
        # ratio 1.92059, traced 1.7891 at 2 m; by hand.
        (1.92059, 1.7891, 7.35),
    ],
)
def test_faces_of_published_attachments(entered: float, true: float, wider_percent: float) -> None:
    found = frame.widening_percent(entered_squeeze=entered, true_squeeze=true)
    assert_allclose(found, wider_percent, atol=0.05)


@given(entered=st.floats(1.2, 2.5), true=st.floats(1.1, 2.5))
def test_an_error_of_the_factor_passes_through_whole(entered: float, true: float) -> None:
    wider = frame.widening_percent(entered_squeeze=entered, true_squeeze=true)
    assert_allclose(true * (1.0 + wider / 100.0), entered, rtol=1e-12)
    assert frame.widening_percent(entered_squeeze=true, true_squeeze=true) == 0.0


def test_faces_widen_toward_the_camera_and_not_at_infinity() -> None:
    matched = match(
        np.array([800.0, 1500.0, 4000.0, np.inf]), front_focal_mm=88.0, squeeze=2.0, moving="front"
    )
    wider = frame.widening_percent(entered_squeeze=2.0, true_squeeze=matched.squeeze)
    assert np.all(np.diff(wider) < 0.0)
    assert_allclose(wider[-1], 0.0, atol=1e-12)
