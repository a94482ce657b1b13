"""The pair of rings: what both fits have in common, and that stated pairs hold the truth."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from focuschart.bench.shared import shared, worse_95
from focuschart.chart.charts import build_charts
from focuschart.chart.model import Chart
from focuschart.rig.ring import RINGS
from tests.benches import DISTANCES, Bench, with_readings
from tests.kits import loaded

SQUEEZE = 2.0


def chart_of(readings: list[dict[str, Any]]) -> Chart:
    (chart,) = build_charts(loaded(with_readings(readings)))
    return chart


def errors(bench: Bench, chart: Chart) -> tuple[np.ndarray, np.ndarray]:
    """Vertical and horizontal error of the pair in criteria, both positive where too near."""
    off = []
    for which in RINGS:
        _, marks = chart.ring(which)
        true = bench.arc_mm(which, list(chart.distances_mm))
        nearer = np.sign(bench.truth[which][1])
        off.append(nearer * (marks.arc_mm - true) / marks.tolerance_mm[0])
    lens, attachment = off
    return lens / SQUEEZE, attachment - lens


@pytest.mark.statistical
def test_the_stated_pair_holds_the_truth() -> None:
    """95 % in the worse meridian, the attachment's readings inheriting the lens's errors."""
    held, spread = [], []
    for seed in range(150):
        bench = Bench(np.random.default_rng(seed))
        chart = chart_of(bench.read())
        assert chart.bench_pair_95 is not None
        vertical, horizontal = errors(bench, chart)
        held.append(np.maximum(np.abs(vertical), np.abs(horizontal)) < chart.bench_pair_95[0])
        spread.append(horizontal / (chart.bench_pair_95[0] / 1.96))
    # These benches have no hiatus, of which 30 mm are allowed for.
    assert 0.925 < np.mean(held) < 0.985
    assert 0.85 < np.sqrt(np.mean(np.square(spread))) < 1.1


def test_what_both_rings_share_is_felt() -> None:
    """With the rings supposed independent the pair would be stated less sure, never surer."""
    chart = chart_of(Bench(np.random.default_rng(1)).read())
    (_, lens), (_, attachment) = chart.ring("taking"), chart.ring("attachment")
    apart = np.hypot(
        lens.bench_arc_95_mm / lens.tolerance_mm,
        attachment.bench_arc_95_mm / attachment.tolerance_mm,
    )
    assert chart.bench_pair_95 is not None
    assert np.all(chart.bench_pair_95 < apart)
    assert np.all(chart.bench_pair_95 > 0.5 * apart)


def test_rings_read_on_different_mornings_share_nothing() -> None:
    bench = Bench(np.random.default_rng(2))
    first, second = (
        bench.read(),
        bench.read([1.003 * distance for distance in DISTANCES], far=False),
    )
    lens = [{k: v for k, v in reading.items() if k != "attachment"} for reading in first]
    glass = [{k: v for k, v in reading.items() if k != "taking"} for reading in second]
    chart = chart_of([*lens, *glass])
    found = shared(chart.ring("taking")[1].measured, chart.ring("attachment")[1].measured)
    assert_allclose(found.covariance, 0.0, atol=1e-15)


@pytest.mark.parametrize(
    ("taking", "attachment", "common", "expected"),
    [
        (4.0, 9.0, 0.0, 13.0**0.5),
        (4.0, 4.0, 4.0, 1.0),  # a common error leaves the horizontal meridian sharp, not the other
        (4.0, 0.0, 0.0, 2.0),
    ],
)
def test_the_worse_meridian(
    taking: float, attachment: float, common: float, expected: float
) -> None:
    found = worse_95(np.array(taking), np.array(attachment), np.array(common), squeeze=SQUEEZE)
    assert found == pytest.approx(1.96 * expected)
