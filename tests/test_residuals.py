"""How far readings lie from their scale, and how far apart repeats do."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from focuschart.bench.residuals import (
    Repeatability,
    Residuals,
    largest_departure_mm,
    repeatability,
    residuals,
)
from focuschart.bench.scales import MeasuredScale
from focuschart.chart.model import Chart
from focuschart.rig.ring import RINGS, Which
from tests.benches import Bench, bench_kit
from tests.kits import charts, plain_kit

Array = NDArray[np.float64]

RULER_MM = 0.3
EYE_SHARE = 0.15
TAPE_MM, TAPE_SHARE = 2.0, 0.001


def with_marks(*factors: float) -> dict[str, Any]:
    """The plain kit read also at infinity and at other stops, its marks about the readings."""
    kit = plain_kit()
    kit["readings"].append(
        {"rig": "portrait", "distance": "inf", "stop": 4.0, "taking": 90.1, "attachment": 12.4}
    )
    kit["readings"][1]["stop"] = 4.0
    kit["stops"] = [2.8, 4.0]
    millimetres = [1200.0, 1500.0, 2000.0, 3000.0, 6000.0, 60_000.0]
    kit["distances"] = [f"{d * f:.3f} mm" for d in millimetres for f in factors] + ["inf"]
    return kit


def solved(kit: dict[str, Any]) -> Chart:
    return charts(kit)["portrait"]


def measured(chart: Chart, which: Which) -> MeasuredScale:
    return chart.ring(which)[1].measured


def off(chart: Chart, which: Which) -> Residuals:
    return residuals(measured(chart, which))


AT_READINGS = solved(with_marks(1.0))


@pytest.mark.parametrize("which", RINGS)
def test_a_residual_is_the_figure_less_the_chart_s_mark(which: Which) -> None:
    figures = [row.figure_mm for row in measured(AT_READINGS, which).rows]
    expected = np.array(figures) - AT_READINGS.ring(which)[1].arc_mm
    assert_allclose(off(AT_READINGS, which).arc_mm, expected, atol=1e-9)


@pytest.mark.parametrize("which", RINGS)
def test_in_distance_it_goes_by_the_slope_of_the_scale(which: Which) -> None:
    """The numeric derivative of a chart's own marks, a thousandth to either side of each."""
    found = off(AT_READINGS, which)
    arcs = solved(with_marks(0.999, 1.001)).ring(which)[1].arc_mm[:-1].reshape(-1, 2)
    distances = np.array([row.reading.distance for row in measured(AT_READINGS, which).rows])
    slope = (arcs[:, 1] - arcs[:, 0]) / (0.002 * distances[:-1])
    assert_allclose(found.distance_mm[:-1], found.arc_mm[:-1] / slope, rtol=1e-5)
    assert np.isnan(found.distance_mm[-1])


@pytest.mark.parametrize("which", RINGS)
def test_a_positive_distance_is_a_ring_set_too_far(which: Which) -> None:
    """The figure of a farther subject, put down at a nearer one."""
    chart = solved(with_marks(1.0, 1.02))
    arcs = chart.ring(which)[1].arc_mm
    kit = with_marks(1.0)
    kit["readings"][2][which] = float(arcs[5])  # of 2.04 m, at 2 m
    found = off(solved(kit), which)
    assert 10.0 < found.distance_mm[2] < 40.0


@pytest.mark.parametrize("which", RINGS)
def test_in_tolerances_it_goes_by_the_chart_s_tolerance(which: Which) -> None:
    """That of the stop the reading was made at."""
    found = off(AT_READINGS, which)
    marks = AT_READINGS.ring(which)[1]
    stops = [int(row.reading.stop == 4.0) for row in marks.measured.rows]
    tolerance = marks.tolerance_mm[stops, range(len(stops))]
    # The noise places lens and attachment by their priors, the chart by the fit.
    assert_allclose(found.tolerance, found.arc_mm / tolerance, rtol=5e-3)


def test_a_taking_lens_on_two_attachments_has_two_tolerances() -> None:
    """The same slip blurs twice as much behind twice the squeeze."""
    kit = plain_kit()
    kit["attachments"]["mild"] = {**kit["attachments"]["double"], "squeeze": 1.5}
    kit["rigs"]["mild"] = {**kit["rigs"]["portrait"], "attachment": "mild"}
    kit["readings"].append(
        {"rig": "mild", "distance": "2 m", "stop": 2.8, "taking": kit["readings"][2]["taking"]}
    )
    found = residuals(charts(kit)["mild"].ring("taking")[1].measured)
    assert found.arc_mm[2] == pytest.approx(found.arc_mm[-1])
    assert found.tolerance[2] / found.tolerance[-1] == pytest.approx(2.0 / 1.5)


def test_what_is_expected_of_a_taking_ring_is_ruler_eye_and_tape() -> None:
    marks = AT_READINGS.ring("taking")[1]
    distances = np.array([row.reading.distance for row in marks.measured.rows])
    arcs = solved(with_marks(0.999, 1.001)).ring("taking")[1].arc_mm[:-1].reshape(-1, 2)
    slope = np.append((arcs[:, 1] - arcs[:, 0]) / (0.002 * distances[:-1]), 0.0)
    tape = np.where(np.isinf(distances), 0.0, np.maximum(TAPE_MM, TAPE_SHARE * distances))
    tape[5] = 3000.0  # as stated
    stops = [int(row.reading.stop == 4.0) for row in marks.measured.rows]
    own = 2.0 * marks.tolerance_mm[stops, range(len(stops))]  # S times the chart's
    variance = RULER_MM**2 + np.square(EYE_SHARE * own) + np.square(
        slope * np.where(np.isinf(tape), 0.0, tape)
    )  # fmt: skip
    assert_allclose(off(AT_READINGS, "taking").expected_mm, np.sqrt(variance), rtol=1e-4)


@pytest.mark.parametrize("which", RINGS)
def test_readings_stray_as_much_as_is_expected(which: Which) -> None:
    """A simulation: benches drawn as the noise model says; the fit takes up some of it."""
    pulls = []
    for seed in range(40):
        bench = Bench(np.random.default_rng(seed))
        chart = solved(bench_kit(readings=bench.read()))
        found = off(chart, which)
        pulls.append(found.arc_mm / found.expected_mm)
    spread = float(np.sqrt(np.mean(np.square(pulls))))
    assert 0.6 < spread < 1.0


# --- a cam ------------------------------------------------------------------------------------


def test_how_far_a_cam_leaves_its_hyperbola() -> None:
    kit = with_marks(1.0)
    kit["taking_lenses"]["long"]["focusing"] = "cam"
    chart = solved(kit)
    scale = measured(chart, "taking").scale
    infinity, slope, offset = scale.parameters[:3]
    position = chart.rig.lens_position_mm(chart.distances_mm[:-1])
    smooth = infinity + slope * chart.rig.lens.nearest / (position + offset)
    expected = np.max(np.abs(chart.ring("taking")[1].arc_mm[:-1] - smooth))
    assert largest_departure_mm(measured(chart, "taking")) == pytest.approx(expected)


# --- repeats ----------------------------------------------------------------------------------


def repeated(taking: dict[int, list[float]]) -> MeasuredScale:
    """The plain kit's taking ring with more figures at some of its set-ups."""
    kit = plain_kit()
    for number, figures in taking.items():
        first = {k: v for k, v in kit["readings"][number].items() if k != "attachment"}
        kit["readings"] += [{**first, "taking": figure} for figure in figures]
    return measured(solved(kit), "taking")


def found_in(scale: MeasuredScale) -> Repeatability:
    found = repeatability(scale)
    assert found is not None
    return found


def test_without_repeats_nothing_is_said_of_them() -> None:
    assert repeatability(measured(AT_READINGS, "taking")) is None


def test_one_repeat_scatters_by_its_difference_over_root_two() -> None:
    found = found_in(repeated({2: [65.2]}))  # beside 65.6
    assert found.freedom == 1
    assert found.sigma_mm == pytest.approx(0.4 / 2.0**0.5)


def test_repeats_are_pooled_over_set_ups() -> None:
    """Each set-up's own mean taken off, and one freedom for each."""
    found = found_in(repeated({1: [56.3, 56.1], 3: [73.5, 73.6, 74.2]}))
    groups = ([56.0, 56.3, 56.1], [73.9, 73.5, 73.6, 74.2])
    squares = sum(float(np.var(group)) * len(group) for group in groups)
    assert found.freedom == 5
    assert found.sigma_mm == pytest.approx((squares / 5) ** 0.5)


def test_one_distance_on_two_rigs_is_no_repeat() -> None:
    """Each rig is set up and taped anew."""
    kit = plain_kit()
    kit["rigs"]["other"] = {**kit["rigs"]["portrait"], "chain": ["idle"]}
    kit["readings"].append({**kit["readings"][2], "rig": "other"})
    assert repeatability(measured(solved(kit), "taking")) is None


def test_the_tape_is_no_part_of_what_repeats_should_scatter() -> None:
    """They share one tape: only the ruler and the eye, by the tolerance at their set-up."""
    scale = repeated({2: [65.4, 65.7], 4: [82.5]})
    chart = solved({**plain_kit(), "distances": ["2 m", "6 m"]})
    own = 2.0 * chart.ring("taking")[1].tolerance_mm[0]
    variance = RULER_MM**2 + np.square(EYE_SHARE * own)
    expected = (float(variance @ [2.0, 1.0]) / 3.0) ** 0.5
    assert found_in(scale).expected_mm == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(
    ("freedom", "low", "high"),
    [(1, 5.024, 0.00098), (4, 11.143, 0.484), (10, 20.483, 3.247), (99, 128.422, 73.361)],
)
def test_the_range_is_that_of_the_chi_square_tables(freedom: int, low: float, high: float) -> None:
    """Critical values of NIST/SEMATECH e-Handbook 1.3.6.7.4 and 1.3.5.8, from memory."""
    bottom, top = Repeatability(2.0, freedom, 1.0).range_95
    assert bottom == pytest.approx(2.0 * (freedom / low) ** 0.5, rel=1e-3)
    assert top == pytest.approx(2.0 * (freedom / high) ** 0.5, rel=3e-3)


@pytest.mark.parametrize("freedom", [1, 3, 12])
def test_the_range_holds_the_truth_nineteen_times_in_twenty(freedom: int) -> None:
    """A simulation of 4000 benches, in closed form by its sums of squares."""
    rng = np.random.default_rng(freedom)
    draws = rng.normal(size=(4000, freedom + 1)) * 0.37
    sigma = np.std(draws, axis=1, ddof=1)
    low, high = Repeatability(1.0, freedom, 1.0).range_95
    held = float(np.mean((sigma * low <= 0.37) & (sigma * high >= 0.37)))
    assert 0.94 < held < 0.96


def test_drawn_repeats_scatter_as_drawn() -> None:
    """Sixty figures at two set-ups, drawn with 0.25 mm, through kit, fit and all."""
    rng = np.random.default_rng(11)
    taking = {n: list(np.round(at + 0.25 * rng.normal(size=30), 3))
              for n, at in ((2, 65.6), (4, 82.4))}  # fmt: skip
    found = found_in(repeated({n: [float(x) for x in figures] for n, figures in taking.items()}))
    assert found.freedom == 60
    low, high = found.range_95
    assert low < 0.25 < high
    assert found.sigma_mm == pytest.approx(0.25, rel=0.2)
