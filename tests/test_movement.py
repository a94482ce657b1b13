"""Pans and rolling shutter against the seven-second rule and a picture read row by row."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from focuschart.optics import movement, thin_lens
from focuschart.optics.arrays import Floats
from tests.test_frame import ray_transfer
from tests.thin_cases import CASES, Case

FOCAL = st.floats(20.0, 200.0)
WIDTH = st.floats(10.0, 60.0)
HEIGHT = st.floats(8.0, 40.0)
SQUEEZE = st.floats(1.0, 2.5)
READOUT = st.floats(0.002, 0.04)


def edge_rows(
    rate: float, *, focal: float, squeeze: float, height: float, readout: float, across: float = 0.0
) -> tuple[Floats, Floats]:
    """Where a desqueezed picture shows an upright edge, row by row: x and y, mm on the sensor.

    A pinhole camera whose attachment narrows tangents S times turns at a steady rate; a row at y
    is read y/height of the readout after the middle one, when the edge stands at `across` rad.
    """
    y = np.linspace(-0.5, 0.5, 201) * height
    angle = across + rate * y / height * readout
    recorded = focal / squeeze * np.tan(angle)
    return squeeze * recorded, y


def leaning(rate: float, *, across: float = 0.0, **rig: float) -> float:
    """The tangent of the lean seen in the middle rows."""
    x, y = edge_rows(rate, across=across, **rig)
    return float((x[101] - x[99]) / (y[101] - y[99]))


@given(focal=FOCAL, width=WIDTH, height=HEIGHT, squeeze=SQUEEZE, readout=READOUT)
def test_lean_is_that_of_a_picture_read_row_by_row(
    focal: float, width: float, height: float, squeeze: float, readout: float
) -> None:
    """The rig, and beside it the spherical lens of the same field, at all three rates."""
    pans = movement.pan_table(
        np.array([1.0, 2.0, 4.0]), picture_width_mm=width, picture_height_mm=height,
        swing_mm=focal, squeeze=squeeze, readout_s=readout,
    )  # fmt: skip
    for rate, lean, spherical in zip(
        pans.rate_rad_s, pans.lean_rad, pans.spherical_lean_rad, strict=True
    ):
        rig = leaning(rate, focal=focal, squeeze=squeeze, height=height, readout=readout)
        beside = leaning(rate, focal=focal / squeeze, squeeze=1.0, height=height, readout=readout)
        assert_allclose(math.tan(lean), rig, rtol=1e-6)
        assert_allclose(math.tan(spherical), beside, rtol=1e-6)
        assert_allclose(rig / beside, squeeze, rtol=1e-6)


@given(focal=FOCAL, squeeze=SQUEEZE, field=st.floats(0.05, 1.2))
def test_at_the_sides_edges_lean_more_by_the_tangent_squared(
    focal: float, squeeze: float, field: float
) -> None:
    rig = {"focal": focal, "squeeze": squeeze, "height": 24.0, "readout": 0.02}
    more = leaning(0.1, across=field / 2.0, **rig) / leaning(0.1, **rig)
    assert_allclose(more, 1.0 + math.tan(field / 2.0) ** 2, rtol=1e-3)


def test_lean_at_one_picture_width_in_seven_seconds() -> None:
    """Derived: picture widths of 16/9 heights, 20 ms: atan(16/9 · 0.020/7) = 0.291°.

    The picture's edge crosses at a steady rate only with a narrow field, hence the long lens.
    """
    pans = movement.pan_table(
        1.0, picture_width_mm=16.0, picture_height_mm=9.0,
        swing_mm=5000.0, squeeze=1.0, readout_s=0.020,
    )  # fmt: skip
    assert_allclose(np.degrees(pans.lean_rad), 0.291, atol=5e-4)


@given(focal=FOCAL, width=WIDTH, height=HEIGHT, squeeze=SQUEEZE, readout=READOUT)
def test_lean_of_the_rule_is_at_most_the_desqueezed_ratio_times_the_share_of_readout(
    focal: float, width: float, height: float, squeeze: float, readout: float
) -> None:
    """A wide field turns by less than its width over f, so its middle moves slower."""
    pans = movement.pan_table(
        1.0, picture_width_mm=width, picture_height_mm=height,
        swing_mm=focal, squeeze=squeeze, readout_s=readout,
    )  # fmt: skip
    bound = squeeze * width / height * readout / 7.0
    half = squeeze * width / (2.0 * focal)
    assert_allclose(np.tan(pans.lean_rad), bound * math.atan(half) / half, rtol=1e-9)
    assert np.tan(pans.lean_rad) <= bound * (1.0 + 1e-12)


@pytest.mark.parametrize(
    ("focal", "squeeze"),
    [(50.0, 1.0), (100.0, 2.0), (75.0, 1.5)],
)
def test_field_of_a_36_mm_picture(focal: float, squeeze: float) -> None:
    """50 mm on 36 × 24 mm: 39.6° (encyclopaedia, "Angle of view", from memory); an attachment

    sees S times the tangent, like a lens of f/S.
    """
    field = movement.horizontal_field_rad(picture_width_mm=36.0, swing_mm=focal, squeeze=squeeze)
    assert_allclose(np.degrees(field), 39.6, atol=0.05)
    # A camera maker's technical article: one picture width in 7 s. 39.6/7, by hand.
    assert_allclose(np.degrees(movement.pan_rate_rad_s(field)), 5.66, atol=0.01)


@given(lean=st.floats(1e-4, 0.5), focal=FOCAL, height=HEIGHT, readout=READOUT)
def test_fastest_pan_is_the_inverse_of_lean(
    lean: float, focal: float, height: float, readout: float
) -> None:
    rate = movement.fastest_pan_rad_s(
        lean, swing_mm=focal, readout_s=readout, picture_height_mm=height
    )
    back = movement.lean_rad(rate, swing_mm=focal, readout_s=readout, picture_height_mm=height)
    assert_allclose(back, lean, rtol=1e-12)


@given(focal=FOCAL, height=HEIGHT, readout=READOUT, share=st.floats(0.2, 1.0))
def test_a_crop_of_rows_leans_alike(
    focal: float, height: float, readout: float, share: float
) -> None:
    whole, part = (
        movement.lean_rad(0.1, swing_mm=focal, readout_s=readout * s, picture_height_mm=height * s)
        for s in (1.0, share)
    )
    assert_allclose(whole, part, rtol=1e-12)


def test_a_global_shutter_neither_leans_nor_limits() -> None:
    lean = movement.lean_rad(2.0, swing_mm=85.0, readout_s=0.0, picture_height_mm=24.0)
    assert lean == 0.0
    readouts = np.array([0.0, 0.02])
    rates = movement.fastest_pan_rad_s(
        0.01, swing_mm=85.0, readout_s=readouts, picture_height_mm=24.0
    )
    assert np.isinf(rates[0])
    assert np.isfinite(rates[1])


def test_the_table_broadcasts_and_its_multiples_scale_the_tangents() -> None:
    """An invented rig, 85 mm and 2x on 36 × 24 mm read in 20 ms, beside a 1.33x one."""
    pans = movement.pan_table(
        np.array([1.0, 2.0, 4.0]), picture_width_mm=36.0, picture_height_mm=24.0,
        swing_mm=85.0, squeeze=np.array([[2.0], [1.33]]), readout_s=0.020,
    )  # fmt: skip
    assert pans.rate_rad_s.shape == pans.lean_rad.shape == pans.spherical_lean_rad.shape == (2, 3)
    tangents = np.tan(pans.lean_rad)
    assert_allclose(tangents / tangents[:, :1], [[1.0, 2.0, 4.0]] * 2, rtol=1e-12)
    # By hand for 2x: field 2·atan(36/85) = 45.90°, in 7 s 6.557°/s = 0.11444 rad/s, and
    # 0.11444 · 85 · 0.020/24 = 0.008106, 0.4644°.
    assert_allclose(np.degrees(pans.rate_rad_s[0, 0]), 6.557, atol=0.005)
    assert_allclose(np.degrees(pans.lean_rad[0, 0]), 0.4644, atol=5e-4)


@given(case=CASES)
def test_a_near_subject_leans_as_if_the_lens_were_longer(case: Case) -> None:
    """A pan about the sensor carries a point at D sideways at rate·D; ray transfer images it."""
    rate, readout, height = 0.1, 0.02, 24.0
    imaged = -ray_transfer(case, "horizontal", subject_mm=case.distance_mm)[0, 0]
    leaning_by = case.squeeze * imaged * rate * case.distance_mm * readout / height
    m = thin_lens.magnification(case.distance_mm, focal_length_mm=case.focal_mm)
    swing = movement.swing_mm(case.distance_mm, magnification=m, image_mm=case.image_mm)
    assert swing > case.focal_mm
    for factor in (case.squeeze, float(case.match.squeeze)):
        found = movement.lean_rad(
            rate, swing_mm=swing, readout_s=readout, picture_height_mm=height,
            stretch=factor / case.match.squeeze,
        )  # fmt: skip
        expected = leaning_by * factor / case.squeeze
        assert_allclose(np.tan(found), expected, rtol=1e-6)


def test_a_distant_subject_swings_by_the_focal_length() -> None:
    swing = movement.swing_mm(
        np.array([np.inf, 1e9]), magnification=np.array([0.0, 85.0 / (1e9 - 170.0)]), image_mm=85.0
    )
    assert_allclose(swing, 85.0, rtol=1e-6)


@given(case=CASES, width=st.floats(10.0, 40.0))
def test_the_field_at_a_near_subject_is_the_angle_of_its_frame_from_the_sensor(
    case: Case, width: float
) -> None:
    """The frame there by ray transfer, seen from the pan's axis."""
    wide = width / -ray_transfer(case, "horizontal", subject_mm=case.distance_mm)[0, 0]
    m = thin_lens.magnification(case.distance_mm, focal_length_mm=case.focal_mm)
    found = movement.horizontal_field_rad(
        picture_width_mm=width,
        swing_mm=movement.swing_mm(case.distance_mm, magnification=m, image_mm=case.image_mm),
        squeeze=case.match.squeeze,
    )
    assert_allclose(found, 2.0 * math.atan(wide / 2.0 / case.distance_mm), rtol=1e-6)
