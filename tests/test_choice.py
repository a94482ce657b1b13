"""What one more reading would do, foretold: the law of updating, against refitting for real."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from focuschart.scale.choice import Options, mark_variances

Array = NDArray[np.float64]


def drawn(seed: int, options: int = 5) -> tuple[Array, Array, Options]:
    """A covariance of four parameters, three marks, and some readings to choose from."""
    rng = np.random.default_rng(seed)
    root = rng.normal(size=(4, 4))
    own, tape = rng.uniform(0.1, 2.0, size=(2, options))
    return (
        root @ root.T + 0.1 * np.eye(4),
        rng.normal(size=(3, 4)),
        Options(rng.normal(size=(options, 4)), own, tape),
    )


def by_information(covariance: Array, options: Options, chosen: list[int], repeats: int) -> Array:
    """The covariance from the sum of informations, the textbook's other form."""
    information = np.linalg.inv(covariance)
    for index in chosen:
        row = options.gradient[index]
        information += np.outer(row, row) / (options.own[index] / repeats + options.tape[index])
    return np.asarray(np.linalg.inv(information))


@given(seed=st.integers(0, 2**32 - 1), repeats=st.integers(1, 5))
def test_the_update_is_that_of_the_information(seed: int, repeats: int) -> None:
    covariance, marks, options = drawn(seed)
    foretold = mark_variances(covariance, marks, options, repeats=repeats)
    for index in range(5):
        expected = by_information(covariance, options, [index], repeats)
        assert_allclose(foretold[index], np.diag(marks @ expected @ marks.T), rtol=1e-6)


@given(seed=st.integers(0, 2**32 - 1))
def test_no_reading_ever_does_harm_and_repeats_help_to_the_tapes_limit(seed: int) -> None:
    covariance, marks, options = drawn(seed)
    before = np.diag(marks @ covariance @ marks.T)
    once, often = (mark_variances(covariance, marks, options, repeats=n) for n in (1, 10**9))
    assert np.all(once <= before * (1.0 + 1e-9))
    assert np.all(often <= once * (1.0 + 1e-9))
    exact = Options(options.gradient, np.zeros(5), options.tape)
    assert_allclose(often, mark_variances(covariance, marks, exact), rtol=1e-6)
