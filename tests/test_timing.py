"""Smooth moves and hands that are late."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from focuschart.optics.halving import last_where
from focuschart.optics.timing import longest_lag, smooth_share, time_of_share

SHARES = st.floats(0.0, 1.0)


@given(share=SHARES)
def test_time_undoes_the_share(share: float) -> None:
    assert_allclose(smooth_share(time_of_share(share)), share, atol=1e-12)


@given(time=SHARES)
def test_a_move_looks_alike_from_both_ends(time: float) -> None:
    assert_allclose(smooth_share(1.0 - time), 1.0 - smooth_share(time), atol=1e-12)


def test_a_move_starts_and_ends_at_rest_without_a_jolt() -> None:
    """First and second derivative are nothing at both ends."""
    step = 1e-4
    for end in (0.0, 1.0):
        about = smooth_share(np.array([end - step, end, end + step]))
        assert np.max(np.abs(np.diff(about))) / step < 1e-6
        assert abs(about[0] - 2.0 * about[1] + about[2]) / step**2 < 2e-3
    assert smooth_share(np.array([-3.0, 0.0, 1.0, 4.0])).tolist() == [0.0, 0.0, 1.0, 1.0]


def test_a_smooth_move_is_at_most_15_8ths_as_fast_as_an_even_one() -> None:
    """Flash and Hogan (1985): the peak of the speed is 1.875 times its mean."""
    speed = np.gradient(smooth_share(np.linspace(0.0, 1.0, 10_001)), 1e-4)
    assert_allclose(np.max(speed), 1.875, rtol=1e-6)


@given(turn=st.floats(5.0, 200.0), tolerance=st.floats(0.01, 0.2), sign=st.sampled_from((-1, 1)))
def test_the_lag_of_a_small_tolerance(turn: float, tolerance: float, sign: int) -> None:
    """tolerance/(1.875·turn), by the fastest moment, where the tolerance is the same all along."""
    arc = sign * np.linspace(0.0, turn, 65)
    found = longest_lag(arc, tolerance_mm=np.full((1, 65), tolerance))
    assert_allclose(found, tolerance / (1.875 * turn), rtol=0.01)


@given(stop=st.floats(1.05, 8.0))
def test_more_tolerance_gives_more_time(stop: float) -> None:
    arc, allowed = np.linspace(0.0, 50.0, 33) ** 1.2, np.linspace(0.5, 1.5, 33)
    narrow, wide = longest_lag(arc, tolerance_mm=np.stack((allowed, stop * allowed)))
    assert wide > narrow


def test_a_ring_that_need_not_turn_may_stay_away() -> None:
    arc, allowed = np.linspace(10.0, 10.4, 9), np.full((2, 9), [[0.39], [0.41]])
    found = longest_lag(arc, tolerance_mm=allowed)
    assert np.isfinite(found[0])
    assert np.isinf(found[1])


def test_the_tightest_place_decides() -> None:
    """Where half-way the ring may be off a tenth as much, the hand has a tenth of the time."""
    arc = np.linspace(0.0, 100.0, 501)
    even, tight = np.full(501, 1.0), np.full(501, 1.0)
    tight[245:256] = 0.1
    one, other = longest_lag(arc, tolerance_mm=np.stack((even, tight)))
    assert_allclose(other / one, 0.1, rtol=0.02)


@given(edge=st.floats(-5.0, 5.0), start=st.floats(-20.0, -6.0), end=st.floats(6.0, 20.0))
def test_halving_finds_where_a_condition_ends(edge: float, start: float, end: float) -> None:
    assert_allclose(last_where(lambda x: np.asarray(x <= edge), start, end), edge, atol=1e-12)
    assert last_where(lambda x: np.asarray(x >= edge), end, start) >= edge - 1e-12


def test_halving_goes_to_the_end_where_the_condition_holds() -> None:
    found = last_where(lambda x: np.asarray(x < np.array([3.0, 9.0])), 0.0, np.array([5.0, 5.0]))
    assert_allclose(found, [3.0, 5.0])
    assert found[1] == 5.0
