"""Readings that disagree with the rest of a ring's readings."""

from __future__ import annotations

import contextlib
from dataclasses import replace

import numpy as np
import pytest

from focuschart.errors import FitError
from tests.fit_cases import RINGS, Ring, attachment_ring, drawn

EIGHT = np.array([1200.0, 1350.0, 1600.0, 2000.0, 2600.0, 4000.0, 8000.0, 60_000.0])


def eight_targets(name: str) -> Ring:
    sigma = np.maximum(2.0, 0.001 * EIGHT)
    sigma[-1] = 3000.0
    count = len(EIGHT)
    return replace(
        RINGS[name](), distance_mm=EIGHT, sigma_mm=sigma, setup=tuple(range(count)),
        pool=(0,) * count,
    )  # fmt: skip


@pytest.mark.parametrize("lead", [True, False])
@pytest.mark.parametrize("name", ["taking", "internal", "front group", "rear group"])
def test_a_slip_of_four_millimetres_is_named(name: str, lead: bool) -> None:
    """In the middle of the scale, where the ring knows what to expect; none in a clean set."""
    ring, rng = eight_targets(name), np.random.default_rng(11)
    for index in (3, 4, 5):
        arcs = drawn(ring, rng).read(rng)
        assert ring.fit(arcs, lead=lead).disagreeing == ()
        arcs[index] += 4.0 * (-1.0) ** index
        assert index in ring.fit(arcs, lead=lead).disagreeing


@pytest.mark.parametrize("name", ["taking", "internal"])
@pytest.mark.parametrize("index", range(8))
def test_a_slip_of_the_taking_ring_is_named_anywhere(name: str, index: int) -> None:
    ring = eight_targets(name)
    arcs = ring.nominal.exact()
    arcs[index] -= 4.0
    assert index in ring.fit(arcs).disagreeing


@pytest.mark.parametrize("lead", [True, False])
@pytest.mark.parametrize("name", RINGS)
def test_clean_sets_are_believed(name: str, lead: bool) -> None:
    """3.5 standard deviations: one false alarm in 270 sets of eight."""
    ring, rng = eight_targets(name), np.random.default_rng(13)
    alarms = sum(
        bool(ring.fit(drawn(ring, rng).read(rng), lead=lead).disagreeing) for _ in range(20)
    )
    assert alarms <= 1


def test_a_front_group_keeps_its_sign() -> None:
    """A is 2.6 prior widths short; K is even in A, so a mirror minimum waits at −33 mm."""
    ring = attachment_ring("front")
    truth = replace(ring.nominal, slope=7.797, constants=np.array([41.577, 1.880, 2.0128]))
    slips_mm = np.array([-0.45, -0.02, 0.57, 0.20, -0.39, 0.90])
    found = ring.fit(truth.exact() + slips_mm)
    assert found.named()["front_focal_mm"][0] > 0.0


@pytest.mark.parametrize("slip_mm", [-100.0, 100.0])
def test_a_figure_misread_by_a_hundred_is_a_fault_of_the_readings(slip_mm: float) -> None:
    """It must be named or refused as a FitError, never blamed on the subject's distance."""
    ring = eight_targets("taking")
    arcs = ring.nominal.exact()
    arcs[0] += slip_mm
    with contextlib.suppress(FitError):
        assert 0 in ring.fit(arcs).disagreeing
