"""The fit to a photograph: its parts against what they stand for."""

from __future__ import annotations

import numpy as np
import pytest

from focuschart.photo.camera import NAMES, View, on_barrel
from focuschart.photo.priors import TRUE, without_prior
from focuschart.photo.robust import jackknife, without_outliers
from focuschart.photo.strips import Barrel


def test_the_jackknife_is_that_of_fits_without_each_group() -> None:
    """Least squares is linear here, so that leaving out to first order is exact."""
    rng = np.random.default_rng(5)
    slopes, groups = rng.normal(size=(24, 3)), np.repeat(np.arange(8), 3)
    meant = slopes @ (1.0, -2.0, 0.5) + rng.normal(0.0, 0.3, 24)

    def misfit(at: np.ndarray) -> np.ndarray:
        return np.asarray(slopes @ at - meant)

    solved = without_outliers(misfit, lambda _: np.empty(0), np.zeros(3), scales=np.ones(3))
    without = [
        np.linalg.lstsq(slopes[groups != group], meant[groups != group], rcond=None)[0][1]
        for group in range(8)
    ]
    moved = np.array(without) - solved.parameters[1]
    expected = np.sqrt(7.0 / 8.0 * np.sum(moved**2))
    found = jackknife(solved, misfit(solved.parameters), groups, of=1)
    assert found == pytest.approx(expected, rel=1e-5)


def test_an_estimate_without_its_prior_is_that_of_the_data_alone() -> None:
    """Precisions of independent Gaussian sources add: 1/0.002² of the prior, 1/0.001² of data."""
    parameters, covariance = np.zeros(len(NAMES)), np.zeros((len(NAMES), len(NAMES)))
    at, prior, data = NAMES.index("log_scale"), TRUE["log_scale"], 0.001
    variance = 1.0 / (1.0 / prior**2 + 1.0 / data**2)
    covariance[at, at], parameters[at] = variance, 0.03 * variance / data**2
    found = without_prior(parameters, covariance, "log_scale", sigma=prior)
    assert found == pytest.approx((0.03, data))
    covariance[at, at] = 0.99 * prior**2
    assert without_prior(parameters, covariance, "log_scale", sigma=prior) == (0.0, np.inf)


@pytest.mark.parametrize("name", ["lean", "roll"])
def test_an_index_that_leans_keeps_its_line_above_the_ring(name: str) -> None:
    view = View(4000, 3000, 3000.0, Barrel(250.0, 0.2), 1.0)
    parameters = np.zeros(len(NAMES))
    line = np.array([(0.0, 0.0), (0.0, -5.0)])
    parameters[NAMES.index(name)] = 0.1
    places = on_barrel(view, parameters, line, 0.0)
    assert places[:, 0] == pytest.approx((0.0, 0.0))
    assert places[0, 1] == pytest.approx(view.barrel.radius_mm)
    parameters[NAMES.index(name)] = 0.0
    aside = np.array([(-10.0, -5.0), (10.0, -5.0)])
    left, right = on_barrel(view, parameters, aside, 0.0)[:, 1]
    assert left == pytest.approx(right)
    parameters[NAMES.index("roll")] = 0.05
    left, right = on_barrel(view, parameters, aside, 0.0)[:, 1]
    assert left > right
