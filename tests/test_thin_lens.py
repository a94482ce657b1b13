"""The taking lens against published examples and the conjugate equation."""

from __future__ import annotations

import numpy as np
import pytest
import sympy
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from sympy.physics.optics.gaussopt import FlatRefraction, FreeSpace

from focuschart.errors import OpticsError
from focuschart.optics import thin_lens
from focuschart.optics.thin_lens import ThinLens
from focuschart.units import MM_PER_INCH

FOCAL = st.floats(10.0, 300.0)
HIATUS = st.floats(-30.0, 30.0)
FOCAL_LENGTHS_AWAY = st.floats(4.01, 1e6)


def test_conjugates_of_the_textbook_example() -> None:
    """W. J. Smith, Modern Optical Engineering, 4th ed. (2008), p. 27, example 2.1.

    f 10 in, object 40 in before the front focus: image 2.5 in behind the rear focus.
    """
    object_to_image = (10.0 + 40.0) + (10.0 + 2.5)
    distance = object_to_image * MM_PER_INCH
    extension = ThinLens(10.0 * MM_PER_INCH).extension_mm(distance)
    assert_allclose(extension, 2.5 * MM_PER_INCH, rtol=1e-12)
    m = thin_lens.magnification(distance, focal_length_mm=10.0 * MM_PER_INCH)
    assert_allclose(m, 10.0 / 40.0, rtol=1e-12)


@given(focal=FOCAL, away=FOCAL_LENGTHS_AWAY, hiatus=HIATUS)
def test_object_and_image_are_conjugate(focal: float, away: float, hiatus: float) -> None:
    distance = focal * away + hiatus
    image = float(ThinLens(focal, hiatus).image_mm(distance))
    subject = distance - hiatus - image
    assert_allclose(1.0 / subject + 1.0 / image, 1.0 / focal, rtol=1e-9)
    assert subject >= image
    m = thin_lens.magnification(distance, focal_length_mm=focal, hiatus_mm=hiatus)
    assert_allclose(m, image / subject, rtol=1e-6)


@given(focal=FOCAL, away=st.tuples(st.floats(5.0, 1e4), st.floats(5.0, 1e4)))
def test_longitudinal_magnification_is_the_product_of_both(
    focal: float, away: tuple[float, float]
) -> None:
    """Smith, p. 27, eqs 2.5 to 2.9: between two conjugates m1·m2."""
    distances = np.array(away) * focal
    image = ThinLens(focal).image_mm(distances)
    m = thin_lens.magnification(distances, focal_length_mm=focal)
    subject = distances - image
    assert_allclose(
        image[1] - image[0], (subject[0] - subject[1]) * m[0] * m[1], atol=1e-11 * focal
    )


@given(focal=FOCAL, away=st.floats(5.0, 1e3))
def test_extension_slope_is_the_derivative(focal: float, away: float) -> None:
    step = 1e-4 * away
    beside = focal * np.array([away - step, away + step])
    x = ThinLens(focal).extension_mm(beside)
    m = thin_lens.magnification(focal * away, focal_length_mm=focal)
    numeric = (x[1] - x[0]) / (2.0 * focal * step)
    assert_allclose(thin_lens.extension_slope(m), numeric, rtol=1e-5)


def test_infinity_is_an_ordinary_distance() -> None:
    assert thin_lens.magnification(np.inf, focal_length_mm=85.0) == 0.0
    assert ThinLens(85.0).image_mm(np.inf) == 85.0
    assert thin_lens.extension_slope(0.0) == 0.0


@pytest.mark.parametrize("distance_mm", [1e7, 1e10, 1e14])
def test_far_subjects_lose_no_digits(distance_mm: float) -> None:
    """x (D − 2f − x) = f² exactly, Newton's form; D − v − v₀ loses every digit of x out here."""
    x = float(ThinLens(85.0).extension_mm(distance_mm))
    assert_allclose(x * (distance_mm - 2.0 * 85.0 - x), 85.0**2, rtol=1e-14)


def test_lens_extends_for_nearer_subjects() -> None:
    """Common practice, no source."""
    distances = np.array([400.0, 600.0, 1000.0, 3000.0, 1e5, np.inf])
    assert np.all(np.diff(ThinLens(85.0).extension_mm(distances)) < 0.0)


def test_four_focal_lengths_is_the_nearest_focus() -> None:
    assert_allclose(thin_lens.magnification(340.0, focal_length_mm=85.0), 1.0)
    with pytest.raises(OpticsError, match="nearer than four focal lengths"):
        thin_lens.magnification(339.9, focal_length_mm=85.0)
    with pytest.raises(OpticsError, match="nearer than four focal lengths"):
        thin_lens.magnification(345.0, focal_length_mm=85.0, hiatus_mm=6.0)


@pytest.mark.parametrize("distance_mm", [0.0, -500.0])
def test_a_subject_behind_the_sensor_has_no_focus(distance_mm: float) -> None:
    with pytest.raises(OpticsError, match="no sharp image"):
        thin_lens.magnification(distance_mm, focal_length_mm=85.0, hiatus_mm=1.0)


def test_one_bad_distance_among_good_ones_is_refused() -> None:
    with pytest.raises(OpticsError, match="no sharp image"):
        ThinLens(85.0).extension_mm(np.array([1000.0, 100.0]))


def test_arguments_broadcast() -> None:
    distances = np.array([1000.0, 2000.0, np.inf])
    focal = np.array([[50.0], [85.0]])
    table = thin_lens.magnification(distances, focal_length_mm=focal, hiatus_mm=5.0)
    assert table.shape == (2, 3)
    alone = thin_lens.magnification(2000.0, focal_length_mm=85.0, hiatus_mm=5.0)
    assert np.shape(alone) == ()
    assert table[1, 1] == alone


def test_plate_shift_is_that_of_plane_glass() -> None:
    """A plate of index n brings a subject t(1 − 1/n) nearer: ray transfer of sympy 1.14."""
    thickness = sympy.Integer(26)
    index = sympy.Rational(15625, 10000)
    before, after = sympy.Integer(1000), sympy.Integer(300)
    plate = FlatRefraction(index, 1) * FreeSpace(thickness) * FlatRefraction(1, index)
    through = FreeSpace(after) * plate * FreeSpace(before)
    nearer = before + thickness + after - through.B
    assert_allclose(thin_lens.PLATE_SHIFT * float(thickness), float(nearer), rtol=1e-12)


def test_reciprocal_turns_beyond_infinity_into_infinity() -> None:
    found = thin_lens.reciprocal_mm(np.array([0.002, 0.0, -1e-9]))
    assert found.tolist() == [500.0, np.inf, np.inf]
    assert thin_lens.reciprocal_mm(0.25) == 4.0
