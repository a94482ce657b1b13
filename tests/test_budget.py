"""The error budget: it adds up to what the fit states, and each share is what its source does."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from focuschart.scale.budget import SOURCES, error_budget
from focuschart.scale.laws import Law, Prior
from tests.fit_cases import RINGS, RULER_SIGMA_MM, Ring, arc_sigma_mm, attachment_ring, fitted_mm

Array = NDArray[np.float64]

MARKS = np.array([1200.0, 1700.0, 2500.0, 8000.0, np.inf])
DRAWS = 300


@pytest.mark.parametrize("lead", [True, False])
@pytest.mark.parametrize("name", RINGS)
def test_the_shares_add_up_to_the_variance_of_each_mark(name: str, lead: bool) -> None:
    ring = RINGS[name]()
    found = ring.fit(ring.nominal.exact() + np.array([0.3, -0.2, 0.1, 0.2, -0.4, 0.1]), lead=lead)
    position = ring.position_mm(MARKS)
    budget = error_budget(found, position)
    assert tuple(budget) == SOURCES
    assert all(np.all(variance >= 0.0) for variance in budget.values())
    assert_allclose(sum(budget.values()), arc_sigma_mm(found, position) ** 2, rtol=3e-3)


def test_readings_that_disagree_widen_every_share_alike() -> None:
    ring = RINGS["taking"]()
    arcs = ring.nominal.exact()
    calm, torn = ring.fit(arcs), ring.fit(arcs + np.array([3.0, -3.0, 3.0, -3.0, 3.0, -3.0]))
    assert torn.noise_factor > 2.0
    position = ring.position_mm(MARKS)
    assert_allclose(
        sum(error_budget(torn, position).values()), arc_sigma_mm(torn, position) ** 2, rtol=3e-3
    )
    assert calm.noise_factor == 1.0


def mark_errors(ring: Ring, source: str, rng: np.random.Generator) -> Array:
    """Errors of the marks when one source alone errs, drawn and fitted many times."""
    truth, position = ring.nominal, ring.position_mm(MARKS)
    exact, sharp = truth.exact(), truth.arc_mm(MARKS)
    focusing = np.abs(truth.slope * ring.noise.focusing_travel(truth.constants))
    errors = []
    for _ in range(DRAWS):
        arcs, fitted, lead = exact.copy(), ring, truth.slope
        if source == "ruler":
            arcs += rng.normal(size=len(arcs)) * RULER_SIGMA_MM
        elif source == "eye":
            arcs += rng.normal(size=len(arcs)) * focusing
        elif source == "tape":
            arcs = truth.arc_mm(ring.distance_mm + rng.normal(size=len(arcs)) * ring.sigma_mm)
        elif source == "lead":
            lead = truth.slope * (1.0 + 0.02 * rng.normal())
        else:
            fitted = with_prior_drawn(ring, source, rng)
        found = replace(fitted, arc_per_travel=lead).fit(arcs)
        errors.append(fitted_mm(found, position) - sharp)
    return np.array(errors)


def with_centres(law: Law, priors: tuple[Prior, ...]) -> Law:
    """The same law with other prior centres."""
    kind = type(law.__class__.__name__, (type(law),), {"priors": priors, "__slots__": ()})
    known = {field.name: getattr(law, field.name) for field in fields(law)}  # type: ignore[arg-type]
    return kind(**known)  # type: ignore[no-any-return]


def with_prior_drawn(ring: Ring, source: str, rng: np.random.Generator) -> Ring:
    drawn = tuple(
        replace(prior, centre=rng.normal(prior.centre, prior.sigma))
        if (prior.name == "squeeze") == (source == "squeeze")
        else prior
        for prior in ring.law.priors
    )
    return replace(ring, law=with_centres(ring.law, drawn))


@pytest.mark.parametrize(
    ("name", "source"),
    [
        *(("taking", source) for source in ("ruler", "eye", "tape", "lead", "geometry")),
        *(("front group", source) for source in SOURCES[:-2]),
        ("low squeeze", "squeeze"),
    ],
)
def test_each_share_is_what_its_source_alone_does(name: str, source: str) -> None:
    """Monte Carlo: the spread of the marks, and no bias, when only this source errs."""
    ring, rng = RINGS[name](), np.random.default_rng(5)
    position = ring.position_mm(MARKS)
    share = np.sqrt(error_budget(ring.fit(ring.nominal.exact()), position)[source])
    errors = mark_errors(ring, source, rng)
    spread = np.sqrt(np.mean(np.square(errors), axis=0))
    # A spread of 300 draws is known to 4 %; the law is a little curved over its priors.
    assert_allclose(spread, share, rtol=0.15, atol=0.01)


def test_a_mark_borrowed_from_another_lens_errs_by_the_shift() -> None:
    """Read on lens 0 alone: on lens 1 the shift between lenses comes on top."""
    ring = replace(attachment_ring("front"), pools=2)
    found = ring.fit(ring.nominal.exact())
    position = ring.position_mm(MARKS)
    own, borrowed = (error_budget(found, position, pool=pool)["other lens"] for pool in (0, 1))
    assert np.all(borrowed > 2.0 * own)
