"""The matched attachment against Galilean telescopes, ray transfer and its own limits."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import sympy
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from numpy.typing import ArrayLike
from sympy.physics.optics.gaussopt import FreeSpace, RayTransferMatrix, ThinLens

from focuschart.errors import OpticsError
from focuschart.optics import attachment, thin_lens
from focuschart.optics.arrays import Floats
from focuschart.optics.attachment import Match, MovingGroup
from focuschart.units import MM_PER_INCH

FRONT_FOCAL = st.floats(30.0, 250.0)
SQUEEZE = st.floats(1.05, 3.0)
SUBJECT = st.floats(200.0, 1e6)
MOVING: tuple[MovingGroup, ...] = ("front", "rear")

# Thin pair −100/+200 mm: subject to front group, separation, squeeze. Derived by hand from the
# conjugate equation and confirmed by `test_table_is_where_ray_transfer_focuses` below.
THIN_PAIR = (
    (10_000.0, 97.1055, 1.96172),
    (5_000.0, 94.4056, 1.92656),
    (3_000.0, 91.0717, 1.88388),
    (2_000.0, 87.2738, 1.83625),
    (1_500.0, 83.8263, 1.79390),
    (1_000.0, 77.7868, 1.72173),
)


def matched_at_front(
    subject_mm: float, *, front_focal_mm: float, squeeze: float, moving: MovingGroup
) -> Match:
    """Match a subject given from the front group, whichever group moves."""
    by_rear = attachment.match(
        subject_mm, front_focal_mm=front_focal_mm, squeeze=squeeze, moving="rear"
    )
    if moving == "rear":
        return by_rear
    return attachment.match(
        subject_mm + by_rear.separation_mm,
        front_focal_mm=front_focal_mm, squeeze=squeeze, moving="front",
    )  # fmt: skip


@pytest.mark.parametrize("moving", MOVING)
@pytest.mark.parametrize(("subject_mm", "separation_mm", "squeeze"), THIN_PAIR)
def test_thin_pair_table(
    subject_mm: float, separation_mm: float, squeeze: float, moving: MovingGroup
) -> None:
    fixed = subject_mm + separation_mm if moving == "front" else subject_mm
    found = attachment.match(fixed, front_focal_mm=100.0, squeeze=2.0, moving=moving)
    assert_allclose(found.separation_mm, separation_mm, atol=6e-5)
    assert_allclose(found.squeeze, squeeze, atol=6e-6)


@pytest.mark.parametrize(("subject_mm", "separation_mm", "squeeze"), THIN_PAIR)
def test_table_is_where_ray_transfer_focuses(
    subject_mm: float, separation_mm: float, squeeze: float
) -> None:
    """The table itself, derived once more: sympy 1.14, physics.optics.gaussopt."""
    d = sympy.Symbol("d")
    pair = ThinLens(200) * FreeSpace(d) * ThinLens(-100) * FreeSpace(subject_mm)
    # A plane plate would leave the subject at s + d: the pair must show it there too.
    virtual = sympy.simplify(pair.B / pair.D - (subject_mm + d))
    root = float(sympy.nsolve(virtual, d, separation_mm))
    assert_allclose(root, separation_mm, atol=5e-5)
    # Horizontal magnification of a virtual image, against 1 through the plate.
    magnified = float((pair.A - pair.B * pair.C / pair.D).subs(d, root))
    assert_allclose(1.0 / magnified, squeeze, atol=5e-6)


def test_afocal_pair_has_the_matrix_of_a_telescope() -> None:
    """Thin pair −100/+200 mm at 100 mm: [[2, 100], [0, 1/2]], by sympy 1.14 gaussopt."""
    found = attachment.match(np.inf, front_focal_mm=100.0, squeeze=2.0, moving="front")
    assert found.separation_mm == 100.0
    assert found.squeeze == 2.0
    afocal = ThinLens(200) * FreeSpace(int(found.separation_mm)) * ThinLens(-100)
    assert afocal == RayTransferMatrix(2, 100, 0, sympy.Rational(1, 2))


@pytest.mark.parametrize("moving", MOVING)
@pytest.mark.parametrize(
    ("front_in", "rear_in", "apart_in", "power"),
    [
        # W. J. Smith, Modern Optical Engineering, 4th ed. (2008), p. 289, example 13.1 with
        # eqs 13.1 to 13.4: power 4 in a length of 10 in.
        (10.0 / 3.0, 40.0 / 3.0, 10.0, 4.0),
        # UC Berkeley physics demonstrations E+30+50: +28 in and −5 in, 23 in apart, 5.6 times.
        (5.0, 28.0, 23.0, 5.6),
    ],
)
def test_galilean_telescopes(
    front_in: float, rear_in: float, apart_in: float, power: float, moving: MovingGroup
) -> None:
    found = attachment.match(
        np.inf, front_focal_mm=front_in * MM_PER_INCH, squeeze=rear_in / front_in, moving=moving
    )
    assert_allclose(found.separation_mm, apart_in * MM_PER_INCH, rtol=1e-9)
    assert_allclose(found.squeeze, power, rtol=1e-9)


@pytest.mark.parametrize("moving", MOVING)
@pytest.mark.parametrize("subject_mm", [800.0, 2000.0, 25_000.0])
def test_both_meridians_focus_on_one_plane(subject_mm: float, moving: MovingGroup) -> None:
    """Subject to sensor by ray transfer (sympy 1.14 gaussopt): B = 0 upright and across."""
    found = matched_at_front(subject_mm, front_focal_mm=71.0, squeeze=1.5, moving=moving)
    gap = float(found.separation_mm)
    to_rear, focal = 45.0, 85.0
    to_lens = subject_mm + gap + to_rear
    image = focal * to_lens / (to_lens - focal)
    shared = FreeSpace(image) * ThinLens(focal) * FreeSpace(to_rear)
    vertical = shared * FreeSpace(gap) * FreeSpace(subject_mm)
    horizontal = (
        shared * ThinLens(71.0 * 1.5) * FreeSpace(gap) * ThinLens(-71.0) * FreeSpace(subject_mm)
    )
    assert abs(float(vertical.B)) < 1e-9 * subject_mm
    assert abs(float(horizontal.B)) < 1e-9 * subject_mm
    assert_allclose(found.squeeze, float(vertical.A) / float(horizontal.A), rtol=1e-9)


def matched_front_distance_mm(
    separation_mm: ArrayLike, *, front_focal_mm: float, squeeze: float
) -> Floats:
    """Return s, subject to front group, for which a separation d is the match, solved by hand.

    s = d(2A + d + √(d² + 4AF)) / (2(F − A − d)); infinity at and beyond the afocal F − A.
    """
    d, front, rear = np.asarray(separation_mm, float), front_focal_mm, front_focal_mm * squeeze
    numerator = d * (2.0 * front + d + np.sqrt(d * d + 4.0 * front * rear))
    return thin_lens.reciprocal_mm(2.0 * (rear - front - d) / numerator)


@pytest.mark.parametrize("moving", MOVING)
@given(front=FRONT_FOCAL, squeeze=SQUEEZE, subject=SUBJECT)
def test_inverse_gives_the_subject_back(
    moving: MovingGroup, front: float, squeeze: float, subject: float
) -> None:
    found = matched_at_front(subject, front_focal_mm=front, squeeze=squeeze, moving=moving)
    back = matched_front_distance_mm(found.separation_mm, front_focal_mm=front, squeeze=squeeze)
    # Close to afocal the separation itself carries only so many digits of the subject.
    nearly_afocal = front * (squeeze - 1.0) - float(found.separation_mm)
    digits = 1e-9 + 4e-16 * float(found.separation_mm) * 8.0 / nearly_afocal
    assert_allclose(back, subject, rtol=digits)
    assert_allclose(1.0 / found.front_vergence, subject, rtol=1e-9)


@given(front=FRONT_FOCAL, squeeze=SQUEEZE, distance=SUBJECT)
def test_match_satisfies_the_conjugate_equation(
    front: float, squeeze: float, distance: float
) -> None:
    """A·s/(A + s) + d = F·w/(F + w), with w = L because both meridians share one plane."""
    rear = front * squeeze
    found = matched_at_front(distance, front_focal_mm=front, squeeze=squeeze, moving="front")
    d = float(found.separation_mm)
    left = front * distance / (front + distance) + d
    right = rear * (distance + d) / (rear + distance + d)
    assert_allclose(left, right, rtol=1e-12)
    virtual = rear * float(found.rear_object_mm) / (rear - float(found.rear_object_mm))
    assert_allclose(virtual, distance + d, rtol=1e-9)


@given(front=FRONT_FOCAL, squeeze=SQUEEZE, subject=SUBJECT)
def test_squeeze_is_the_ratio_of_magnifications(
    front: float, squeeze: float, subject: float
) -> None:
    """S(D) = (F/A)(A + s)/(F + L), the other way of writing it."""
    found = matched_at_front(subject, front_focal_mm=front, squeeze=squeeze, moving="rear")
    reach = front * squeeze + subject + float(found.separation_mm)
    assert_allclose(found.squeeze, squeeze * (front + subject) / reach, rtol=1e-12)
    assert 1.0 < float(found.squeeze) < squeeze


@pytest.mark.parametrize("moving", MOVING)
@given(front=FRONT_FOCAL, squeeze=SQUEEZE)
def test_groups_close_and_squeeze_falls_for_nearer_subjects(
    moving: MovingGroup, front: float, squeeze: float
) -> None:
    """Common practice; an adapter builder's page says the groups come closer."""
    distances = np.array([300.0, 500.0, 1200.0, 5000.0, 60_000.0, np.inf])
    found = attachment.match(distances, front_focal_mm=front, squeeze=squeeze, moving=moving)
    assert np.all(np.diff(found.separation_mm) > 0.0)
    assert np.all(np.diff(found.squeeze) > 0.0)


def test_squeeze_falls_as_published() -> None:
    """Two-cylinder attachment: 2.50 beyond 30 ft, 1.80 at 5 ft (trade magazine, September 2003).

    Its separation is not printed, so the direction alone can be held.
    """
    published = {30.0 * 304.8: 2.50, 5.0 * 304.8: 1.80}
    far, near = (
        float(attachment.match(s, front_focal_mm=100.0, squeeze=2.5, moving="rear").squeeze)
        for s in published
    )
    assert (far - near) * (published[9144.0] - published[1524.0]) > 0.0
    assert near < far < 2.5


@pytest.mark.parametrize("moving", MOVING)
def test_infinity_is_the_limit_of_far_subjects(moving: MovingGroup) -> None:
    distances = np.array([1e6, 1e8, np.inf])
    found = attachment.match(distances, front_focal_mm=88.0, squeeze=2.0, moving=moving)
    missing = 88.0 - found.separation_mm
    # d = A(S − 1) − A²(S² − 1)/D to first order in 1/D.
    assert_allclose(missing[:2] * distances[:2], 88.0**2 * 3.0, rtol=1e-3)
    assert missing[2] == 0.0
    assert found.leverage[2] == 1.0


@pytest.mark.parametrize("moving", MOVING)
def test_without_squeeze_the_attachment_vanishes(moving: MovingGroup) -> None:
    squeeze = 1.0 + np.array([1e-3, 1e-6])
    found = attachment.match(1500.0, front_focal_mm=90.0, squeeze=squeeze, moving=moving)
    assert np.all(found.separation_mm < 90.0 * (squeeze - 1.0))
    assert_allclose(found.squeeze, 1.0, atol=1e-3)
    assert abs(float(found.squeeze[1]) - 1.0) < 1e-6


@pytest.mark.parametrize("moving", MOVING)
@given(front=FRONT_FOCAL, squeeze=SQUEEZE, distance=st.floats(250.0, 5e4))
def test_separation_slopes_are_the_derivatives(
    moving: MovingGroup, front: float, squeeze: float, distance: float
) -> None:
    at = np.array([front, squeeze, distance])

    def separation(values: np.ndarray) -> float:
        return float(
            attachment.match(
                values[2], front_focal_mm=values[0], squeeze=values[1], moving=moving
            ).separation_mm
        )

    found = attachment.match(distance, front_focal_mm=front, squeeze=squeeze, moving=moving)
    slopes = attachment.separation_slopes(found, front_focal_mm=front, squeeze=squeeze)
    exact = (slopes.by_front_focal, slopes.by_squeeze, slopes.by_distance)
    for slope, step in zip(exact, np.diag(1e-5 * at), strict=True):
        numeric = (separation(at + step) - separation(at - step)) / (2.0 * np.max(step))
        noise = 1e-13 * front * squeeze / np.max(step)
        assert_allclose(slope, numeric, rtol=1e-6, atol=noise)


@pytest.mark.parametrize("moving", MOVING)
def test_separation_slopes_at_infinity(moving: MovingGroup) -> None:
    """d = A(S − 1) there."""
    found = attachment.match(np.inf, front_focal_mm=88.0, squeeze=2.1, moving=moving)
    slopes = attachment.separation_slopes(found, front_focal_mm=88.0, squeeze=2.1)
    assert_allclose(slopes.by_front_focal, 1.1)
    assert_allclose(slopes.by_squeeze, 88.0)
    assert slopes.by_distance == 0.0


@given(front=FRONT_FOCAL, squeeze=SQUEEZE, subject=st.floats(200.0, 5e4))
def test_slopes_of_both_groups_are_longitudinal_magnifications(
    front: float, squeeze: float, subject: float
) -> None:
    """q′ = m² of the front group, W₁ = 1/m² of the rear one (Smith, p. 27, eq. 2.9)."""
    found = matched_at_front(subject, front_focal_mm=front, squeeze=squeeze, moving="rear")
    reach = subject + float(found.separation_mm)
    assert_allclose(found.front_slope, (found.front_image_mm / subject) ** 2, rtol=1e-12)
    assert_allclose(found.rear_slope, (found.rear_object_mm / reach) ** 2, rtol=1e-12)
    assert_allclose(found.front_slope / found.rear_slope, found.squeeze**-2.0, rtol=1e-9)


@pytest.mark.parametrize("moving", MOVING)
@pytest.mark.parametrize("distance_mm", [0.0, -10.0])
def test_a_subject_behind_the_glass_is_refused(distance_mm: float, moving: MovingGroup) -> None:
    with pytest.raises(OpticsError, match="not in front of the attachment"):
        attachment.match(
            np.array([2000.0, distance_mm]), front_focal_mm=88.0, squeeze=2.0, moving=moving
        )


@pytest.mark.parametrize("moving", MOVING)
def test_arguments_broadcast(moving: MovingGroup) -> None:
    distances = np.array([1000.0, 3000.0, np.inf])
    squeeze = np.array([[1.33], [2.0]])
    table = attachment.match(distances, front_focal_mm=88.0, squeeze=squeeze, moving=moving)
    assert table.separation_mm.shape == table.squeeze.shape == (2, 3)
    alone = attachment.match(3000.0, front_focal_mm=88.0, squeeze=2.0, moving=moving)
    assert table.separation_mm[1, 1] == alone.separation_mm
    assert np.shape(alone.squeeze) == ()


def test_taking_lens_extends_while_the_groups_close() -> None:
    """Common practice: the two rings run against each other along the axis."""
    distances = (np.inf, 10_000.0, 2000.0, 1000.0)
    for far, near in pairwise(distances):
        farther, nearer = (
            matched_at_front(s, front_focal_mm=88.0, squeeze=2.0, moving="front")
            for s in (far, near)
        )
        assert nearer.separation_mm < farther.separation_mm
        extension = thin_lens.ThinLens(85.0).extension_mm(np.array([far, near]))
        assert extension[1] > extension[0]
