"""The gauge: the share of the picture's height that a head takes, at a mark and at its ends."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from focuschart.chart.charts import build_charts
from focuschart.chart.gauge import SEEN_SHARE, Gauge, gauge, seen
from focuschart.chart.model import Chart
from focuschart.errors import KitError
from focuschart.kit.load import load_kit
from focuschart.kit.schema import Kit
from focuschart.optics.frame import share_of_height
from focuschart.report.data import rig_data


@pytest.fixture(scope="module")
def chart() -> Chart:
    kit = load_kit(SAMPLE.read_text(encoding="utf-8"), source="bag.toml")
    return next(iter(build_charts(kit, only=["portrait-85"])))


SAMPLE = Path(__file__).parents[1] / "sample_kits" / "two-lenses.toml"


def test_a_published_field_of_view_is_filled_by_what_fills_it() -> None:
    """At 1:10 a sensor of 24 mm is filled by 240 mm, at any focal length (m = v/u)."""
    for focal in (35.0, 85.0):
        image, subject = 1.1 * focal, 11.0 * focal
        share = share_of_height(240.0, image_mm=image, subject_mm=subject, picture_height_mm=24.0)
        assert_allclose(share, 1.0)


@given(st.floats(20.0, 300.0), st.floats(1.0, 100.0), st.floats(10.0, 2000.0))
def test_twice_as_far_from_the_lens_is_half_as_high(f: float, far: float, size: float) -> None:
    subject = np.array([1.0, 2.0, np.inf]) * f * (1.0 + far)
    share = share_of_height(size, image_mm=f, subject_mm=subject, picture_height_mm=24.0)
    assert_allclose(share[1], share[0] / 2.0)
    assert share[2] == 0.0


def test_what_fills_the_frame_at_a_mark_is_its_height_there(chart: Chart) -> None:
    """Held to the frame at the subject, which another room computes from the magnification."""
    from focuschart.checks.picture import picture

    near = np.isfinite(chart.distances_mm)
    high = picture(chart).deliveries[0].frame.height_mm
    for i in np.flatnonzero(near):
        assert_allclose(gauge(chart, size_mm=float(high[i])).at[i], 1.0, rtol=1e-9)


def test_nearer_it_is_larger_and_the_ends_close_in_with_the_stop(chart: Chart) -> None:
    found = gauge(chart)
    assert np.all(np.diff(found.at) < 0.0)
    assert np.all(found.near > found.at)
    assert np.all((found.far < found.at) | (found.at == 0.0))
    assert np.all(np.diff(found.near, axis=0) >= 0.0)  # the kit's stops are widest first
    assert found.at[-1] == 0.0
    assert not seen(found)[:, -1].any()


def test_a_change_too_small_to_see_is_told_apart() -> None:
    def ends(share: float) -> Gauge:
        return Gauge(
            np.array([0.5]), np.array([[0.5 * (1 + share)]]), np.array([[0.5 * (1 - share)]])
        )

    assert seen(ends(1.01 * SEEN_SHARE)).all()
    assert not seen(ends(0.99 * SEEN_SHARE)).any()


def test_the_kit_says_what_is_framed_by(chart: Chart) -> None:
    text = SAMPLE.read_text(encoding="utf-8")

    def stated(size: str) -> Kit:
        return load_kit(
            text.replace("format = 1", f'format = 1\ngauge = "{size}"', 1), source="bag.toml"
        )

    assert stated("460 mm").gauge == 2.0 * chart.kit.gauge == 460.0
    with pytest.raises(KitError, match="between 10 mm and 10 m"):
        stated("1 mm")


def test_data_for_other_programs_has_it(chart: Chart) -> None:
    data, found = rig_data(chart), gauge(chart)
    assert data["gauge_mm"] == 230.0
    first = data["marks"][0]["gauge"]
    assert_allclose(first["at"], found.at[0], rtol=1e-6)
    assert_allclose(first["near"]["2.8"], found.near[0, 0], rtol=1e-6)
    assert data["marks"][-1]["gauge"]["at"] == 0.0
