"""The least-squares solver against certified fits and closed forms.

Certified values: US National Institute of Standards and Technology, Statistical Reference
Datasets, nonlinear regression; public domain. The files under tests/nist are unchanged from the
source distribution of lmfit 1.3.4.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from focuschart.errors import FitError
from focuschart.scale.leastsq import Solution, covariance, solve

Array = NDArray[np.float64]
Model = Callable[[Array, Array], tuple[Array, tuple[Array, ...]]]

SIX_DIGITS = 5e-7
PARAMETER = re.compile(r"^\s*b\d+ =((?:\s+[-+.\dE]+){4})\s*$")


@dataclass(frozen=True)
class Certified:
    """One dataset: two starts, parameters and standard deviations, and the data."""

    starts: tuple[Array, Array]
    parameters: Array
    deviations: Array
    sum_of_squares: float
    response: Array
    predictor: Array


def certified(name: str) -> Certified:
    """Read a dataset: certified values in lines 41 to 60, data from line 61."""
    lines = (Path(__file__).parent / "nist" / f"{name}.dat").read_text().splitlines()
    found = [PARAMETER.match(line) for line in lines[40:60]]
    table = np.array([[float(word) for word in match[1].split()] for match in found if match])
    squares = next(line for line in lines if line.startswith("Residual Sum of Squares"))
    data = np.array([[float(word) for word in line.split()] for line in lines[60:] if line.strip()])
    return Certified(
        starts=(table[:, 0], table[:, 1]),
        parameters=table[:, 2],
        deviations=table[:, 3],
        sum_of_squares=float(squares.split()[-1]),
        response=data[:, 0],
        predictor=data[:, 1],
    )


def misra1a(b: Array, x: Array) -> tuple[Array, tuple[Array, ...]]:
    """b1(1 − exp(−b2·x))."""
    fade = np.exp(-b[1] * x)
    return b[0] * (1.0 - fade), (1.0 - fade, b[0] * x * fade)


def chwirut2(b: Array, x: Array) -> tuple[Array, tuple[Array, ...]]:
    """exp(−b1·x)/(b2 + b3·x)."""
    below = b[1] + b[2] * x
    y = np.exp(-b[0] * x) / below
    return y, (-x * y, -y / below, -x * y / below)


def danwood(b: Array, x: Array) -> tuple[Array, tuple[Array, ...]]:
    """b1·x^b2."""
    power = x ** b[1]
    return b[0] * power, (power, b[0] * power * np.log(x))


def rat43(b: Array, x: Array) -> tuple[Array, tuple[Array, ...]]:
    """b1/(1 + exp(b2 − b3·x))^(1/b4)."""
    rise = np.exp(b[1] - b[2] * x)
    y = b[0] * (1.0 + rise) ** (-1.0 / b[3])
    by_b2 = -y * rise / (b[3] * (1.0 + rise))
    return y, (y / b[0], by_b2, -x * by_b2, y * np.log1p(rise) / b[3] ** 2)


def mgh09(b: Array, x: Array) -> tuple[Array, tuple[Array, ...]]:
    """b1(x² + x·b2)/(x² + x·b3 + b4)."""
    above, below = x * x + x * b[1], x * x + x * b[2] + b[3]
    y = b[0] * above / below
    return y, (above / below, b[0] * x / below, -y * x / below, -y / below)


def thurber(b: Array, x: Array) -> tuple[Array, tuple[Array, ...]]:
    """Cubic over cubic."""
    powers = (np.ones_like(x), x, x**2, x**3)
    above = sum(b[i] * powers[i] for i in range(4))
    below = 1.0 + sum(b[3 + i] * powers[i] for i in range(1, 4))
    y = np.asarray(above / below)
    by_above = tuple(power / below for power in powers)
    return y, (*by_above, *(-y * power / below for power in powers[1:]))


MODELS: dict[str, Model] = {
    "Misra1a": misra1a,
    "Chwirut2": chwirut2,
    "DanWood": danwood,
    "Rat43": rat43,
    "MGH09": mgh09,
    "Thurber": thurber,
}


def fit(model: Model, data: Certified, start: Array) -> Solution:
    """Fit with residuals as they are; the certified deviations are scaled by what remains."""
    return solve(
        lambda b: data.response - model(b, data.predictor)[0],
        lambda b: -np.stack(model(b, data.predictor)[1], axis=-1),
        start,
    )


@pytest.mark.parametrize("start", [0, 1])
@pytest.mark.parametrize("name", MODELS)
def test_certified_fits(name: str, start: int) -> None:
    data = certified(name)
    found = fit(MODELS[name], data, data.starts[start])
    assert found.converged
    assert found.residuals == len(data.response)
    assert_allclose(found.sum_of_squares, data.sum_of_squares, rtol=SIX_DIGITS)
    assert_allclose(found.parameters, data.parameters, rtol=SIX_DIGITS)
    freedom = len(data.response) - len(data.parameters)
    deviations = np.sqrt(np.diag(found.covariance) * found.sum_of_squares / freedom)
    assert_allclose(deviations, data.deviations, rtol=SIX_DIGITS)


@pytest.mark.parametrize("name", MODELS)
def test_derivatives_of_the_certified_models(name: str) -> None:
    """What the solver is given above is exact, so that it alone is judged."""
    data, model = certified(name), MODELS[name]
    exact = np.stack(model(data.parameters, data.predictor)[1], axis=-1)
    for i, step in enumerate(np.diag(1e-6 * data.parameters)):
        ahead, behind = (
            model(data.parameters + sign * step, data.predictor)[0] for sign in (1.0, -1.0)
        )
        numeric = (ahead - behind) / (2.0 * step[i])
        assert_allclose(exact[:, i], numeric, rtol=1e-6, atol=1e-6 * np.max(np.abs(numeric)))


def test_a_straight_line_has_its_closed_form() -> None:
    """Slope Σxy/Σx² about the means; its variance 1/Σx² for residuals of unit variance."""
    x = np.array([0.0, 1.0, 2.0, 4.0])
    y = np.array([1.0, 2.5, 2.0, 6.0])
    design = np.stack((np.ones_like(x), x), axis=-1)
    found = solve(lambda b: y - design @ b, lambda _: -design, np.zeros(2))
    spread = x - np.mean(x)
    slope = spread @ y / (spread @ spread)
    assert_allclose(found.parameters, (np.mean(y) - slope * np.mean(x), slope), rtol=1e-10)
    assert_allclose(found.covariance[1, 1], 1.0 / (spread @ spread), rtol=1e-10)
    assert_allclose(found.covariance, np.linalg.inv(design.T @ design), rtol=1e-10)


def test_covariance_keeps_constants_of_any_size_apart() -> None:
    """Columns nine orders of magnitude apart lose nothing."""
    design = np.random.default_rng(1).normal(size=(6, 3))
    size = np.array([1e-6, 1.0, 1e3])
    expected = np.linalg.inv(design.T @ design) / np.outer(size, size)
    assert_allclose(covariance(design * size), expected, rtol=1e-9)


def test_a_constant_without_effect_is_refused() -> None:
    jacobian = np.array([[1.0, 0.0], [1.0, 0.0], [1.0, 0.0]])
    with pytest.raises(FitError, match="say nothing about one of the constants"):
        covariance(jacobian)


def test_constants_that_act_alike_are_refused() -> None:
    ramp = np.array([1.0, 2.0, 3.0])
    with pytest.raises(FitError, match="cannot tell the constants apart"):
        covariance(np.stack((ramp, 2.0 * ramp), axis=-1))
    with pytest.raises(FitError, match="cannot tell the constants apart"):
        solve(
            lambda b: ramp - ramp * (b[0] + b[1]),
            lambda _: -np.stack((ramp, ramp), axis=-1),
            np.zeros(2),
        )
