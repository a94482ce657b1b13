"""A ring's fit: what goes in comes out, and its intervals mean what they say."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from focuschart.errors import FitError
from focuschart.scale.fit import arc_constant
from tests.fit_cases import (
    DISTANCES,
    RINGS,
    RULER_SIGMA_MM,
    Ring,
    arc_sigma_mm,
    attachment_ring,
    drawn,
    fitted_mm,
    taking_ring,
)

Array = NDArray[np.float64]

MARKS = np.array([1200.0, 1500.0, 2000.0, 3000.0, 5000.0, 10_000.0, np.inf])


@pytest.mark.parametrize("lead", [True, False])
@pytest.mark.parametrize("name", RINGS)
def test_a_ring_as_expected_is_found_exactly(name: str, lead: bool) -> None:
    """Constants at their priors' centres, readings without error: nothing moves."""
    ring = RINGS[name]()
    truth = ring.nominal
    found = ring.fit(truth.exact(), lead=lead)
    assert found.converged
    assert found.disagreeing == ()
    expected = (truth.infinity_mm, truth.slope, *truth.constants)
    assert_allclose(found.parameters, expected, rtol=1e-7, atol=1e-6)
    assert_allclose(fitted_mm(found, ring.position_mm(MARKS)), truth.arc_mm(MARKS), atol=1e-7)
    assert found.sum_of_squares < 1e-12
    assert found.problem.freedom == len(DISTANCES) - (1 if lead else 2)


@pytest.mark.parametrize("lead", [True, False])
@pytest.mark.parametrize("name", RINGS)
def test_an_unexpected_ring_is_followed_within_its_interval(name: str, lead: bool) -> None:
    """Readings without error of rings drawn from the priors: what the priors add stays small."""
    ring, rng = RINGS[name](), np.random.default_rng(5)
    for _ in range(5):
        truth = drawn(ring, rng)
        found = ring.fit(truth.exact(), lead=lead)
        position = ring.position_mm(MARKS)
        off = np.abs(fitted_mm(found, position) - truth.arc_mm(MARKS))
        assert np.all(off < arc_sigma_mm(found, position))
        assert np.max(off[MARKS < 6000.0]) < 1.5 * RULER_SIGMA_MM


@pytest.mark.parametrize("name", ["taking", "front group"])
def test_many_readings_outweigh_the_priors(name: str) -> None:
    """Twenty exact readings of each target: the arcs come back whatever the priors say."""
    ring, rng = RINGS[name](), np.random.default_rng(8)
    many = ring.at(list(range(5)) * 20)
    truth = replace(drawn(ring, rng), ring=many)
    found = many.fit(truth.exact(), lead=False)
    within = np.array([1300.0, 2500.0, 5000.0])
    assert_allclose(fitted_mm(found, many.position_mm(within)), truth.arc_mm(within), atol=0.06)


@pytest.mark.parametrize("lead", [True, False])
@pytest.mark.parametrize("name", RINGS)
def test_covariance_is_that_of_generalised_least_squares(name: str, lead: bool) -> None:
    """(JᵀC⁻¹J + priors)⁻¹ with J by differences and C by hand, two targets read twice."""
    ring = RINGS[name]()
    twice = replace(ring.at([0, 0, 1, 2, 2, 3, 4, 5]), setup=(0, 0, 2, 3, 3, 5, 6, 7))
    found = twice.fit(twice.nominal.exact(), lead=lead)

    def arcs(values: Array, shift_mm: float = 0.0) -> Array:
        distance = twice.distance_mm + shift_mm
        travel = twice.law.travel(twice.position_mm(distance), values[2:]).value
        return np.asarray(values[0] + values[1] * travel)

    steps = np.diag(1e-4 * np.maximum(np.abs(found.parameters), 1.0))
    jacobian = np.stack(
        [
            (arcs(found.parameters + step) - arcs(found.parameters - step)) / (2.0 * step.sum())
            for step in steps
        ],
        axis=-1,
    )
    per_mm = (arcs(found.parameters, 0.1) - arcs(found.parameters, -0.1)) / 0.2
    tape = per_mm * twice.sigma_mm
    focusing = found.parameters[1] * twice.noise.focusing_travel(found.constants)
    covariance = np.diag(RULER_SIGMA_MM**2 + focusing**2)
    for i, first in enumerate(twice.setup):
        for j, second in enumerate(twice.setup):
            covariance[i, j] += tape[i] * tape[j] if first == second else 0.0
    sigmas = [np.inf, 0.02 * abs(twice.arc_per_travel) if lead else np.inf]
    sigmas += [prior.sigma for prior in twice.law.priors]
    information = jacobian.T @ np.linalg.inv(covariance) @ jacobian + np.diag(
        1.0 / np.square(sigmas)
    )
    expected = np.linalg.inv(information)
    size = np.sqrt(np.diag(expected))
    assert_allclose(found.covariance / np.outer(size, size), expected / np.outer(size, size),
                    atol=1e-4)  # fmt: skip
    assert_allclose(found.standard_errors(), size, rtol=1e-4)


@pytest.mark.statistical
@pytest.mark.parametrize("lead", [True, False])
@pytest.mark.parametrize("name", ["taking", "internal", "front group", "rear group"])
def test_intervals_cover_the_truth(name: str, lead: bool) -> None:
    """95 % intervals of rings, tapes and eyes drawn as the noise model says."""
    ring, rng = RINGS[name](), np.random.default_rng(21)
    position = ring.position_mm(MARKS)
    draws = 300 if name == "taking" else 150
    held, squares = [], []
    for _ in range(draws):
        truth = drawn(ring, rng)
        found = ring.fit(truth.read(rng), lead=lead)
        off = np.abs(fitted_mm(found, position) - truth.arc_mm(MARKS))
        held.append(off < 1.96 * arc_sigma_mm(found, position))
        squares.append(found.sum_of_squares / found.problem.freedom)
    assert 0.92 < np.mean(held) < 0.985
    # χ² per degree of freedom, within four of its own standard errors.
    freedom = found.problem.freedom * draws
    assert abs(np.mean(squares) - 1.0) < 4.0 * np.sqrt(2.0 / freedom)


@pytest.mark.parametrize("name", RINGS)
def test_repeats_at_one_setup_share_their_tape(name: str) -> None:
    """Twenty readings of the nearest target: anew taped they beat the tape, else they cannot."""
    ring = RINGS[name]()
    targets = [0] * 20 + [2, 3, 4, 5]
    apart = ring.at(targets)
    apart = replace(apart, sigma_mm=np.where(apart.distance_mm < 1300.0, 20.0, apart.sigma_mm))
    shared = replace(apart, setup=(0,) * 20 + (20, 21, 22, 23))
    once = apart.at([0, 20, 21, 22, 23])
    near = ring.position_mm(MARKS[:1])
    free, tied, single = (
        float(arc_sigma_mm(each.fit(each.nominal.exact()), near)[0])
        for each in (apart, shared, once)
    )
    assert free < 0.75 * tied
    assert tied <= single


def two_lenses() -> Ring:
    """An attachment read on lens 0; lens 1 waits for it."""
    return replace(attachment_ring("front"), pools=2)


def test_a_lens_not_read_on_is_less_sure() -> None:
    """Both lenses lie about a mean, so the unread one adds both their spreads."""
    ring = two_lenses()
    found = ring.fit(ring.nominal.exact())
    position = ring.position_mm(MARKS)
    read = arc_sigma_mm(found, position, pool=0)
    unread = arc_sigma_mm(found, position, pool=1)
    spread = abs(ring.arc_per_travel) * ring.noise.pool_travel(found.constants)[0]
    assert_allclose(unread**2, read**2 + 2.0 * spread**2, rtol=1e-3)
    assert_allclose(
        fitted_mm(found, position, pool=1), fitted_mm(found, position, pool=0), atol=1e-6
    )


def test_an_unread_lens_leaves_the_read_one_alone() -> None:
    alone, pooled = attachment_ring("front"), two_lenses()
    arcs = drawn(alone, np.random.default_rng(2)).read(np.random.default_rng(3))
    position = alone.position_mm(MARKS)
    first, second = alone.fit(arcs), pooled.fit(arcs)
    assert_allclose(fitted_mm(second, position), fitted_mm(first, position), atol=1e-4)
    assert_allclose(arc_sigma_mm(second, position), arc_sigma_mm(first, position), rtol=1e-3)


def test_one_check_reading_brings_a_second_lens_near() -> None:
    ring = replace(two_lenses().at([0, 1, 2, 3, 4, 5, 2]), pool=(0,) * 6 + (1,))
    truth = replace(ring.nominal, shifts=np.array([0.0, 1.5]))
    found = ring.fit(truth.exact())
    position = ring.position_mm(MARKS)
    unread = two_lenses()
    before = arc_sigma_mm(unread.fit(unread.nominal.exact()), position, pool=1)
    assert np.all(arc_sigma_mm(found, position, pool=1) < before)
    apart = fitted_mm(found, position, pool=1) - fitted_mm(found, position, pool=0)
    assert np.all((apart > 0.4) & (apart < 1.5))


@pytest.mark.parametrize(("lead", "needed"), [(True, 3), (False, 4)])
@pytest.mark.parametrize("name", RINGS)
def test_too_few_distances_are_refused(name: str, lead: bool, needed: int) -> None:
    """Repeats do not count."""
    few = [0, 2, 4, 5][: needed - 1]
    ring = RINGS[name]().at([*few, few[0], few[0]])
    with pytest.raises(FitError, match=f"{needed - 1} different distances.* needs {needed}"):
        ring.fit(ring.nominal.exact(), lead=lead)
    enough = RINGS[name]().at([0, 2, 4, 5][:needed])
    assert enough.fit(enough.nominal.exact(), lead=lead).converged


@pytest.mark.parametrize("name", RINGS)
def test_readings_crowded_together_leave_the_ring_unsure(name: str) -> None:
    """Four targets within a hand's breadth at 20 m fix neither end of the ring's scale."""
    ring = RINGS[name]()
    crowd = replace(
        ring.at([0, 1, 2, 3]), distance_mm=np.array([20_000.0, 20_010.0, 20_020.0, 20_030.0])
    )
    position = ring.position_mm(MARKS)
    wide = arc_sigma_mm(ring.fit(ring.nominal.exact(), lead=False), position)
    found = crowd.fit(crowd.nominal.exact(), lead=False)
    assert np.max(arc_sigma_mm(found, position) / wide) > 20.0


def test_constants_by_name() -> None:
    found = taking_ring().fit(taking_ring().nominal.exact())
    named = found.named()
    assert list(named) == [
        "arc_infinity_mm", "arc_per_travel", "focal_length_mm", "hiatus_mm",
    ]  # fmt: skip
    assert_allclose([value for value, _ in named.values()], found.parameters)
    assert_allclose([error for _, error in named.values()], found.standard_errors())
    # The readings teach the focal length, and leave the hiatus almost as unknown as before.
    assert 0.3 < named["focal_length_mm"][1] < 1.7
    assert 15.0 < named["hiatus_mm"][1] < 30.0


@pytest.mark.parametrize("lead", [True, False])
def test_arc_constant_is_known_better_than_its_factors(lead: bool) -> None:
    """K = g·A²·(S² − 1), with its error by differences of the fitted parameters."""
    ring = attachment_ring("front")
    found = ring.fit(ring.nominal.exact(), lead=lead)
    value, error = arc_constant(found)
    assert_allclose(value, 8.4 * 88.0**2 * 3.0, rtol=1e-6)

    def constant(values: Array) -> float:
        return float(values[1] * values[2] ** 2 * (values[4] ** 2 - 1.0))

    steps = np.diag(1e-5 * np.abs(found.parameters))
    gradient = np.array([
        (constant(found.parameters + s) - constant(found.parameters - s)) / (2.0 * s.sum())
        for s in steps
    ])  # fmt: skip
    assert_allclose(error, np.sqrt(gradient @ found.covariance @ gradient), rtol=1e-5)
    share = found.standard_errors() / found.parameters
    assert error / value < share[2]


@pytest.mark.parametrize("name", RINGS)
def test_a_ring_that_falls_is_the_mirror_of_one_that_rises(name: str) -> None:
    ring = RINGS[name]()
    mirrored = replace(ring, arc_per_travel=-ring.arc_per_travel)
    arcs = drawn(ring, np.random.default_rng(4)).read(np.random.default_rng(5))
    position = ring.position_mm(MARKS)
    one, other = ring.fit(arcs), mirrored.fit(-arcs)
    assert_allclose(fitted_mm(other, position), -fitted_mm(one, position), atol=1e-5)
    assert_allclose(arc_sigma_mm(other, position), arc_sigma_mm(one, position), rtol=1e-5)


@pytest.mark.parametrize("name", RINGS)
def test_moving_the_rulers_zero_moves_the_infinity_mark_alone(name: str) -> None:
    ring = RINGS[name]()
    arcs = drawn(ring, np.random.default_rng(6)).read(np.random.default_rng(7))
    here, there = ring.fit(arcs), ring.fit(arcs - 300.0)
    assert_allclose(there.parameters[0], here.parameters[0] - 300.0, atol=1e-3)
    assert_allclose(there.constants, here.constants, rtol=1e-5)
    assert_allclose(there.standard_errors(), here.standard_errors(), rtol=1e-5)
