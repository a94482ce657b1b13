"""What a maker's engraved scale reads at an arc."""

from __future__ import annotations

import math
from functools import partial

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from focuschart.chart.engraved import engraved_mm, engraved_text
from focuschart.kit.ring import EngravedMark
from focuschart.units import distance_label

METRIC = partial(distance_label, units="metric")
FEET = partial(distance_label, units="imperial")


def mark(distance: str, ruler: float) -> EngravedMark:
    return EngravedMark.model_validate({"distance": distance, "ruler": ruler})


RISING_FAR = (mark("1 m", 0.0), mark("2 m", 40.0), mark("4 m", 60.0), mark("inf", 80.0))
RISING_NEAR = (mark("1 m", 80.0), mark("2 m", 40.0), mark("4 m", 20.0), mark("inf", 0.0))


def test_each_figure_reads_itself() -> None:
    shown = engraved_mm(RISING_FAR, np.array([0.0, 40.0, 60.0, 80.0]))
    assert_allclose(shown, [1000.0, 2000.0, 4000.0, np.inf])


def test_between_figures_it_runs_in_one_over_distance() -> None:
    """Halfway between 1/2 and 1/4 per metre is 3/8; between 1/4 and none, 1/8."""
    assert_allclose(engraved_mm(RISING_FAR, np.array([50.0, 70.0])), [8000.0 / 3.0, 8000.0])


@given(arc=st.floats(0.0, 80.0))
def test_a_ring_that_runs_the_other_way_reads_the_same(arc: float) -> None:
    one, other = (
        engraved_mm(marks, np.array([at]))
        for marks, at in ((RISING_FAR, arc), (RISING_NEAR, 80.0 - arc))
    )
    assert_allclose(1.0 / one, 1.0 / other, atol=1e-12)


@given(arcs=st.tuples(st.floats(0.0, 80.0), st.floats(0.0, 80.0)))
def test_readings_keep_the_order_of_the_scale(arcs: tuple[float, float]) -> None:
    near, far = engraved_mm(RISING_FAR, np.sort(np.array(arcs)))
    assert near <= far


def test_order_of_the_list_does_not_matter() -> None:
    arcs = np.linspace(0.0, 80.0, 9)
    assert_allclose(engraved_mm(RISING_FAR[::-1], arcs), engraved_mm(RISING_FAR, arcs))


def test_just_beyond_the_ends_the_last_figure_is_read() -> None:
    """A millimetre, then nothing."""
    shown = engraved_mm(RISING_FAR, np.array([-1.0, -1.1, 81.0, 81.1]))
    assert_allclose(shown, [1000.0, np.nan, np.inf, np.nan])


@pytest.mark.parametrize("marks", [(), RISING_FAR[:1]])
def test_less_than_two_figures_make_no_scale(marks: tuple[EngravedMark, ...]) -> None:
    assert np.all(np.isnan(engraved_mm(marks, np.array([0.0, 10.0]))))
    assert engraved_text(marks, 0.0, label=METRIC) == ""


@pytest.mark.parametrize(
    ("arc_mm", "text"),
    [
        (0.0, "1 m"),
        (1.5, "1 m"),
        (6.0, "just past 1 m"),
        (20.0, "halfway from 1 m to 2 m"),
        (34.0, "just short of 2 m"),
        (39.0, "2 m"),
        (40.0, "2 m"),
        (43.0, "just past 2 m"),
        (50.0, "halfway from 2 m to 4 m"),
        (70.0, "halfway from 4 m to ∞"),
        (14.0, "a third of the way from 1 m to 2 m"),
        (29.0, "three quarters of the way from 1 m to 2 m"),
        (77.0, "just short of ∞"),
        (80.0, "∞"),
        (80.9, "∞"),
        (82.0, ""),
        (-0.9, "1 m"),
        (-1.5, ""),
    ],
)
def test_words_for_where_a_ring_stands(arc_mm: float, text: str) -> None:
    assert engraved_text(RISING_FAR, arc_mm, label=METRIC) == text
    assert engraved_text(RISING_NEAR, 80.0 - arc_mm, label=METRIC) == text


def test_words_in_feet() -> None:
    feet = (mark("4 ft", 0.0), mark("6 ft", 30.0))
    assert engraved_text(feet, 15.0, label=FEET) == "halfway from 4' to 6'"
    assert engraved_text(feet, 27.0, label=FEET) == "just short of 6'"


@given(arc=st.floats(-5.0, 85.0))
def test_words_and_number_agree(arc: float) -> None:
    """Words name a figure on the side where the number lies."""
    shown = float(engraved_mm(RISING_FAR, np.array([arc]))[0])
    text = engraved_text(RISING_FAR, arc, label=METRIC)
    assert (text == "") == math.isnan(shown)
    figures = {"1 m": 1000.0, "2 m": 2000.0, "4 m": 4000.0, "∞": math.inf}
    if text.startswith("just short of "):
        assert shown < figures[text.removeprefix("just short of ")]
    elif text.startswith("just past "):
        assert shown > figures[text.removeprefix("just past ")]
    elif " to " in text:
        near, far = (figures[part] for part in text.partition(" from ")[2].split(" to "))
        assert near < shown < far


@given(arc=st.floats(41.0, 59.0))
def test_a_share_of_the_way_is_that_of_the_ring(arc: float) -> None:
    """Set by the words alone a ring is off by no more than a tenth of the way."""
    shares = {"just past 2 m": 0.1, "a quarter": 0.25, "a third": 1 / 3, "halfway": 0.5,
              "two thirds": 2 / 3, "three quarters": 0.75, "just short of 4 m": 0.9,
              "2 m": 0.0, "4 m": 1.0}  # fmt: skip
    text = engraved_text(RISING_FAR, arc, label=METRIC).partition(" from ")[0]
    text = text.removesuffix(" of the way")
    assert abs(shares[text] - (arc - 40.0) / 20.0) <= 0.1
