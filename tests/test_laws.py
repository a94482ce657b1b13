"""The laws of a ring: exact derivatives, limits at infinity, and the priors they start from."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from focuschart.errors import OpticsError
from focuschart.optics.attachment import MovingGroup
from focuschart.optics.depth_of_field import Aperture
from focuschart.optics.thin_lens import ThinLens
from focuschart.scale.cam import CamLaw
from focuschart.scale.laws import AttachmentLaw, ExtensionLaw, HyperbolaLaw, Law, TakingLaw
from tests.thin_cases import CASES, MOVING, Case

Array = NDArray[np.float64]

POSITIONS = np.array([650.0, 1200.0, 2000.0, 5000.0, 60_000.0, np.inf])


def attachment_law(moving: MovingGroup, squeeze: float = 2.0) -> AttachmentLaw:
    return AttachmentLaw(
        squeeze=squeeze, ruler_separation_mm=88.0, front_glass_mm=12.0, moving=moving
    )


LAWS: dict[str, tuple[Law, tuple[float, ...]]] = {
    "extension": (ExtensionLaw(85.0), (84.1, 9.0)),
    "hyperbola": (HyperbolaLaw(900.0), (-120.0,)),
    "cam": (CamLaw(900.0), (-120.0, 0.7, -0.4, 1.1, 0.2, -0.6, 0.3)),
    "front group": (attachment_law("front"), (83.0, 4.5, 1.96)),
    "rear group": (attachment_law("rear"), (83.0, 4.5, 1.96)),
}


def numeric_by_constant(law: Law, constants: Array, position: Array) -> Array:
    """Central differences of h by each constant."""
    columns = []
    for i in range(len(constants)):
        step = np.zeros_like(constants)
        step[i] = 1e-5 * max(abs(constants[i]), 1.0)
        ahead = law.travel(position, constants + step).value
        behind = law.travel(position, constants - step).value
        columns.append((ahead - behind) / (2.0 * step[i]))
    return np.stack(columns, axis=-1)


@pytest.mark.parametrize("name", LAWS)
def test_derivatives_by_the_constants(name: str) -> None:
    """Infinity included."""
    law, values = LAWS[name]
    constants = np.array(values)
    exact = law.travel(POSITIONS, constants).by_constant
    assert exact.shape == (len(POSITIONS), len(law.priors))
    numeric = numeric_by_constant(law, constants, POSITIONS)
    assert_allclose(exact, numeric, rtol=1e-6, atol=1e-8)


@pytest.mark.parametrize("name", LAWS)
def test_derivatives_by_the_position(name: str) -> None:
    law, values = LAWS[name]
    constants = np.array(values)
    near = POSITIONS[:-1]
    step = 1e-5 * near
    ahead, behind = (law.travel(near + side * step, constants).value for side in (1.0, -1.0))
    exact = law.travel(POSITIONS, constants).by_position
    assert_allclose(exact[:-1], (ahead - behind) / (2.0 * step), rtol=1e-6, atol=1e-11)
    assert exact[-1] == 0.0
    assert np.all(exact[:-1] < 0.0)


@pytest.mark.parametrize("name", LAWS)
def test_travel_starts_at_infinity_and_grows_nearer(name: str) -> None:
    law, values = LAWS[name]
    travel = law.travel(POSITIONS, np.array(values)).value
    assert abs(travel[-1]) < 1e-12
    assert np.all(np.diff(travel) < 0.0)
    # Far away every ring runs in 1/D.
    far = np.array([1e7, 2e7])
    beyond = law.travel(far, np.array(values)).value
    assert_allclose(beyond[0] / beyond[1], 2.0, rtol=1e-3)


SHARES = np.array([0.0, 0.002, 0.01, 0.03, 0.004, 0.02])


@pytest.mark.parametrize("moving", MOVING)
def test_derivatives_above_the_middle_of_the_picture(moving: MovingGroup) -> None:
    """Each position at a share of its own, infinity included."""
    law, constants = attachment_law(moving), np.array([83.0, 4.5, 1.96])
    exact = law.travel(POSITIONS, constants, power_share=SHARES)

    def value(at: Array = POSITIONS, values: Array = constants) -> Array:
        return law.travel(at, values, power_share=SHARES).value

    for i, step in enumerate(np.diag(1e-5 * constants)):
        numeric = (value(values=constants + step) - value(values=constants - step)) / 2.0
        assert_allclose(exact.by_constant[:, i], numeric / step[i], rtol=1e-6, atol=1e-8)
    step = 1e-5 * POSITIONS[:-1]
    ahead, behind = (
        law.travel(POSITIONS[:-1] + side * step, constants, power_share=SHARES[:-1]).value
        for side in (1.0, -1.0)
    )
    assert_allclose(exact.by_position[:-1], (ahead - behind) / (2.0 * step), rtol=1e-6, atol=1e-11)


@pytest.mark.parametrize("moving", MOVING)
def test_above_the_middle_infinity_lies_nearer(moving: MovingGroup) -> None:
    """There the groups are focal lengths (F − A)(1 − ε) apart: h = ε·A(S − 1)."""
    law, constants = attachment_law(moving), np.array([83.0, 4.5, 1.96])
    travel = law.travel(np.inf, constants, power_share=SHARES).value
    assert_allclose(travel, SHARES * 83.0 * 0.96, atol=1e-12)
    assert_allclose(
        law.travel(POSITIONS, constants, power_share=0.0).value,
        law.travel(POSITIONS, constants).value, rtol=0.0,
    )  # fmt: skip


@given(case=CASES)
def test_attachment_law_is_the_match_seen_from_the_front_glass(case: Case) -> None:
    """y from the middle of the front glass at infinity; the thin front group δ ahead of it."""
    offset = 3.7
    law = AttachmentLaw(
        squeeze=case.squeeze, ruler_separation_mm=80.0, front_glass_mm=10.0, moving=case.moving
    )
    afocal = case.front_focal_mm * (case.squeeze - 1.0)
    front_at_infinity = case.image_mm + case.lens_to_rear_mm + afocal
    position = case.distance_mm - front_at_infinity + offset
    travel = law.travel(position, np.array([case.front_focal_mm, offset, case.squeeze]))
    assert_allclose(travel.value, afocal - case.match.separation_mm, rtol=1e-9, atol=1e-9)


def test_extension_law_is_the_lens() -> None:
    """Smith, Modern Optical Engineering, 4th ed., p. 27, example 2.1: 2.5 in beyond the focus."""
    law = ExtensionLaw(250.0)
    travel = law.travel(62.5 * 25.4 + 7.0, np.array([254.0, 7.0]))
    assert_allclose(travel.value, 63.5, rtol=1e-12)


def priors(law: Law) -> Sequence[tuple[str, float, float]]:
    return [(prior.name, prior.centre, prior.sigma) for prior in law.priors]


def test_what_is_known_beforehand() -> None:
    """Judgement, no source: f ± 2 %, hiatus ± 30 mm; A ± 20 %, δ 0.18 glass ± 5 mm, S ± 3 %."""
    assert priors(ExtensionLaw(85.0)) == [
        ("focal_length_mm", 85.0, pytest.approx(1.7)),
        ("hiatus_mm", 0.0, 30.0),
    ]
    assert priors(attachment_law("front", squeeze=1.5)) == [
        ("front_focal_mm", pytest.approx(176.0), pytest.approx(35.2)),
        ("offset_mm", pytest.approx(2.16), 5.0),
        ("squeeze", 1.5, pytest.approx(0.045)),
    ]


@pytest.mark.parametrize("position_mm", [700.0, 1500.0, 20_000.0])
@pytest.mark.parametrize("name", ["hyperbola", "cam"])
def test_an_inner_focus_tolerance_is_the_ring_over_the_depth(name: str, position_mm: float) -> None:
    """h moved by it shifts the subject in focus to where the vertical blur is one criterion."""
    law, values = LAWS[name]
    assert isinstance(law, HyperbolaLaw | CamLaw)
    constants = np.array(values)
    focal, stop, circle = 85.0, 2.8, 1e-5
    image = float(ThinLens(focal).image_mm(position_mm))
    aperture = Aperture(focal, image, stop, circle)
    near, _ = aperture.subject_vergences()
    nearest_sharp = 1.0 / near + image
    moved = law.travel(nearest_sharp, constants).value - law.travel(position_mm, constants).value
    found = law.tolerance_travel(aperture, position_mm, constants)
    assert_allclose(found, moved, rtol=1e-3)


def test_hyperbola_tolerance_at_infinity() -> None:
    law = HyperbolaLaw(900.0)
    found = law.tolerance_travel(
        Aperture(85.0, 85.0, 2.8, 0.03), np.array([1e9, np.inf]), np.array([-60.0])
    )
    assert_allclose(found, 900.0 * 0.03 * 2.8 / 85.0**2, rtol=1e-6)


def test_extension_tolerance_is_the_lens_own() -> None:
    """c·N of travel at infinity, the depth of focus."""
    law: TakingLaw = ExtensionLaw(85.0)
    found = law.tolerance_travel(Aperture(85.0, 85.0, 2.8, 0.03), np.inf, np.array([85.0, 0.0]))
    assert_allclose(found, 0.03 * 2.8)


@pytest.mark.parametrize("name", LAWS)
def test_one_position_is_an_array_of_none(name: str) -> None:
    law, values = LAWS[name]
    alone = law.travel(2000.0, np.array(values))
    among = law.travel(POSITIONS, np.array(values))
    assert np.shape(alone.value) == np.shape(alone.by_position) == ()
    assert alone.by_constant.shape == (len(values),)
    assert_allclose(alone.by_constant, among.by_constant[2], rtol=1e-14, atol=1e-15)


@pytest.mark.parametrize("moving", MOVING)
def test_a_subject_behind_the_glass_has_no_travel(moving: MovingGroup) -> None:
    law, constants = attachment_law(moving), np.array([88.0, 2.0, 2.0])
    with pytest.raises(OpticsError, match="not in front of the attachment"):
        law.travel(np.array([1000.0, -90.0]), constants)


def test_a_subject_too_near_has_no_extension() -> None:
    with pytest.raises(OpticsError, match="four focal lengths"):
        ExtensionLaw(85.0).travel(345.0, np.array([85.0, 8.0]))


@given(share=st.floats(0.2, 5.0))
def test_hyperbola_is_scaled_to_its_reference(share: float) -> None:
    """h is 1 at the reference for Λ = 0, so that g is mm of arc between infinity and there."""
    reference = 900.0 * share
    assert_allclose(HyperbolaLaw(reference).travel(reference, np.zeros(1)).value, 1.0)
