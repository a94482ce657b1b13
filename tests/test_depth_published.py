"""The exact thin lens's depth of field against published worked examples.

The published tables use the simple form H = f²/(Nc), near = Hs/(H + s), far = Hs/(H − s). Ours
is the exact thin lens: it equals the simple form with H·s/(s − f) in place of H (see
`test_exact_form_is_the_simple_one_with_a_longer_hyperfocal`), so that the two part by f/s.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from focuschart.optics import depth_of_field
from focuschart.optics.depth_of_field import Aperture, Limits
from focuschart.optics.thin_lens import ThinLens
from focuschart.units import MM_PER_INCH

FOOT_MM = 304.8


def simple_limits(subject: float, hyperfocal: float) -> tuple[float, float]:
    """The published form; far is infinite from the hyperfocal distance on."""
    far = hyperfocal * subject / (hyperfocal - subject) if subject < hyperfocal else np.inf
    return hyperfocal * subject / (hyperfocal + subject), far


def exact_limits(
    subject_mm: float, *, focal_length_mm: float, stop: float, circle_mm: float
) -> Limits:
    """Our limits, all distances from the principal plane."""
    image = focal_length_mm * subject_mm / (subject_mm - focal_length_mm)
    aperture = Aperture(focal_length_mm, image, stop, circle_mm)
    return depth_of_field.vertical_limits(aperture, lens_datum_mm=0.0)


def hyperfocal_mm(*, focal_length_mm: float, stop: float, circle_mm: float) -> float:
    """The nearest focus, from the principal plane, that by our limits is sharp to infinity."""
    infinite, finite = 1e-10, 0.5 / focal_length_mm
    for _ in range(80):
        middle = (infinite + finite) / 2.0
        limits = exact_limits(
            1.0 / middle, focal_length_mm=focal_length_mm, stop=stop, circle_mm=circle_mm
        )
        infinite, finite = (middle, finite) if np.isinf(limits.far_mm) else (infinite, middle)
    return 1.0 / infinite


MIL_2_MM = 0.002 * MM_PER_INCH


@dataclass(frozen=True)
class Published:
    """A worked example of the simple form: lengths in mm, as its source prints them."""

    focal_mm: float
    stop: float
    circle_mm: float
    hyperfocal_mm: float
    within_mm: float


PUBLISHED = {
    # Encyclopaedia, "Hyperfocal distance": 50 mm, f/8, 0.03 mm; H − f printed as 10 417 mm.
    "encyclopaedia": Published(50.0, 8.0, 0.03, 10_417.0, 0.5),
    # US Army subcourse SS0507, Learning Event 10: 2 in, f/8, 0.002 in; 20.8 ft, truncated.
    "army 2 in": Published(2 * MM_PER_INCH, 8.0, MIL_2_MM, 20.8 * FOOT_MM, 0.1 * FOOT_MM),
    # The same, Learning Event 12: 3 in, f/8, 0.002 in; 46.8 ft, truncated.
    "army 3 in": Published(3 * MM_PER_INCH, 8.0, MIL_2_MM, 46.8 * FOOT_MM, 0.1 * FOOT_MM),
    # US Navy NAVEDTRA 14209, ch. 1: 6.1 in, f/2.8; 554 ft. Its c of 0.002 in is from memory.
    "navy 155 mm": Published(
        6.1 * MM_PER_INCH, 2.8, MIL_2_MM, 554.0 * FOOT_MM, 0.5 * FOOT_MM
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", PUBLISHED)
def test_hyperfocal_of_published_examples(name: str) -> None:
    """Their f²/(Nc) is ours from the front focus: one focal length less."""
    case = PUBLISHED[name]
    found = hyperfocal_mm(focal_length_mm=case.focal_mm, stop=case.stop, circle_mm=case.circle_mm)
    assert_allclose(found - case.focal_mm, case.hyperfocal_mm, atol=case.within_mm)


def test_hyperfocal_from_the_principal_plane() -> None:
    """Encyclopaedia, "Hyperfocal distance": H 10 467 mm, near limit 5 233 mm focused there."""
    found = float(hyperfocal_mm(focal_length_mm=50.0, stop=8.0, circle_mm=0.03))
    assert_allclose(found, 10_467.0, atol=0.5)
    limits = exact_limits(found, focal_length_mm=50.0, stop=8.0, circle_mm=0.03)
    assert_allclose(limits.near_mm, 5_233.0, atol=0.5)


def test_focused_at_half_the_hyperfocal() -> None:
    """3 494.5 to 10 416.7 mm, derived for the exact thin lens; the article prints 3 489, 10 467."""
    limits = exact_limits(10_466.67 / 2.0, focal_length_mm=50.0, stop=8.0, circle_mm=0.03)
    assert_allclose((limits.near_mm, limits.far_mm), (3_494.5, 10_416.7), atol=0.1)
    assert_allclose(simple_limits(5_233.33, 10_466.67), (3_489.0, 10_467.0), atol=0.5)


@pytest.mark.parametrize(
    ("name", "subject_ft", "near_ft", "far_ft"),
    [
        ("army 2 in", 20.8, 10.4, np.inf),  # SS0507, Learning Event 10
        ("army 3 in", 15.0, 11.3, 22.0),  # SS0507, Learning Event 12
        ("navy 155 mm", 10.0, 9.8, 10.2),  # NAVEDTRA 14209, ch. 1
    ],
)
def test_limits_of_published_examples(
    name: str, subject_ft: float, near_ft: float, far_ft: float
) -> None:
    """The table by its own simple form to 0.1 ft; ours within f/s of it."""
    case = PUBLISHED[name]
    subject = subject_ft * FOOT_MM
    simple = np.array(simple_limits(subject, case.hyperfocal_mm)) / FOOT_MM
    assert_allclose(simple, (near_ft, far_ft), atol=0.1)
    ours = exact_limits(
        subject, focal_length_mm=case.focal_mm, stop=case.stop, circle_mm=case.circle_mm
    )
    found = np.array((ours.near_mm, ours.far_mm)) / FOOT_MM
    # Simple depth shrinks by f/s of itself, and a little more on the far side; plus truncation.
    finite = np.isfinite(simple)
    apart = case.focal_mm / subject * np.abs(simple - subject_ft)[finite] * 1.6 + 0.1
    assert np.all(np.abs(found - simple)[finite] < apart)
    assert found[1] > simple[0]


@given(
    focal=st.floats(10.0, 300.0),
    away=st.floats(3.0, 1e4),
    stop=st.floats(1.0, 45.0),
    circle=st.floats(0.005, 0.05),
)
def test_exact_form_is_the_simple_one_with_a_longer_hyperfocal(
    focal: float, away: float, stop: float, circle: float
) -> None:
    subject = focal * away
    hyperfocal = focal**2 / (stop * circle) * subject / (subject - focal)
    assume(abs(subject / hyperfocal - 1.0) > 1e-3)
    ours = exact_limits(subject, focal_length_mm=focal, stop=stop, circle_mm=circle)
    assert_allclose((ours.near_mm, ours.far_mm), simple_limits(subject, hyperfocal), rtol=1e-8)


@given(focal=st.floats(10.0, 300.0), stop=st.floats(1.0, 22.0), circle=st.floats(0.01, 0.05))
def test_an_eighth_of_the_hyperfocal_gives_eight_ninths_and_eight_sevenths(
    focal: float, stop: float, circle: float
) -> None:
    """Jacobson, Photographic Lenses FAQ (1995), Q11; exact when H/8 is from the front focus."""
    hyperfocal = float(hyperfocal_mm(focal_length_mm=focal, stop=stop, circle_mm=circle))
    subject = (hyperfocal - focal) / 8.0 + focal
    limits = exact_limits(subject, focal_length_mm=focal, stop=stop, circle_mm=circle)
    shares = (limits.near_mm / subject, limits.far_mm / subject)
    assert_allclose(shares, (8.0 / 9.0, 8.0 / 7.0), rtol=1e-9)


def test_focus_for_two_limits_needs_no_lens() -> None:
    """s = 2·near·far/(near + far): NAVEDTRA 14209, 9.8 and 10.2 ft give 10 ft."""
    assert_allclose(2.0 * 9.8 * 10.2 / (9.8 + 10.2), 10.0, atol=0.05)
    limits = exact_limits(3048.0, focal_length_mm=155.0, stop=2.8, circle_mm=0.05)
    middle = 2.0 * limits.near_mm * limits.far_mm / (limits.near_mm + limits.far_mm)
    assert_allclose(middle, 3048.0, rtol=1e-12)


def test_limits_from_the_film_plane() -> None:
    """A camera maker's printed manual: f/16, 1/30 mm, 3 m from the film plane, 1.93 to 6.93 m.

    f is derived: 51.97 to 51.99 mm alone rounds to both figures, for a lens without hiatus.
    """
    image = ThinLens(51.98).image_mm(3000.0)
    aperture = Aperture(51.98, image, 16.0, 1.0 / 30.0)
    limits = depth_of_field.vertical_limits(aperture, lens_datum_mm=image)
    assert_allclose((limits.near_mm, limits.far_mm), (1930.0, 6930.0), atol=5.0)


@given(subject=st.floats(500.0, 1e4), stop=st.floats(1.4, 16.0))
def test_limits_by_aperture_and_blur(subject: float, stop: float) -> None:
    """D − near = D²β/(A + Dβ), β = c/v: W. J. Smith, Modern Optical Engineering, 4th ed., p. 187,

    eqs 9.7 to 9.11 (their wording from memory), A the aperture's diameter.
    """
    focal, circle = 85.0, 0.03
    beta = circle * (subject - focal) / (focal * subject)
    near_side = subject**2 * beta / (focal / stop + subject * beta)
    limits = exact_limits(subject, focal_length_mm=focal, stop=stop, circle_mm=circle)
    assert_allclose(subject - limits.near_mm, near_side, rtol=1e-9)
