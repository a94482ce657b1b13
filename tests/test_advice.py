"""What to read: no other set-ups of as many serve better, and the promise of one more is kept."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from focuschart.bench.advice import FAR_MM, Advice, bench_distances, prospects
from focuschart.chart.advice import next_reading
from focuschart.chart.charts import build_charts
from focuschart.chart.model import Chart
from focuschart.kit.load import load_kit
from focuschart.kit.schema import Kit
from tests.benches import Bench, bench_kit, with_readings
from tests.fit_cases import fitted_mm
from tests.kits import loaded

Array = NDArray[np.float64]

SAMPLES = sorted((Path(__file__).parent.parent / "sample_kits").glob("*.toml"))


def sample(path: Path) -> tuple[Kit, list[Chart]]:
    kit = load_kit(path.read_text(encoding="utf-8"), source=path.name)
    return kit, list(build_charts(kit))


def worst_after(kit: Kit, rig_chart: Chart, distances_mm: Array) -> float:
    """The worst mark, in tolerances, once both rings are read at these distances; by information.

    An account of its own: sums of informations, not the updates the choice is made with.
    """
    rig, stop = rig_chart.rig, min(kit.stops)
    total = np.zeros(len(rig.distances_mm))
    for prospect in prospects(rig, stop).values():
        options = prospect.options(rig, distances_mm, stop)
        information = np.linalg.inv(prospect.covariance)
        information += (options.gradient / options.variance()[:, np.newaxis]).T @ options.gradient
        spread = np.einsum(
            "np,pq,nq->n",
            prospect.mark_gradients,
            np.linalg.inv(information),
            prospect.mark_gradients,
        )
        total = total + prospect.in_criteria(spread)
    return float(np.sqrt(np.max(total)))


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_the_setups_are_as_good_as_any_of_that_number(path: Path) -> None:
    """Against two hundred random choices with the same ends, and against an even one."""
    kit, charts = sample(path)
    rng = np.random.default_rng(4)
    for chart in charts:
        chosen = bench_distances(kit, chart.rig, min(kit.stops))
        worst = worst_after(kit, chart, chosen)
        near = float(chosen[0])
        for _ in range(200):
            others = np.exp(rng.uniform(np.log(1.02 * near), np.log(10_000.0), size=3))
            rival = np.array([near, *np.sort(others), FAR_MM])
            # Rivals are not bound to distances easily taped.
            assert worst <= 1.05 * worst_after(kit, chart, rival)


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_the_ends_are_always_among_them(path: Path) -> None:
    kit, charts = sample(path)
    for chart in charts:
        rig = chart.rig
        chosen = bench_distances(kit, rig, min(kit.stops), count=6)
        reach = max(rig.lens.nearest, rig.attachment.nearest)
        assert len(set(chosen.tolist())) == 6
        assert reach - 1e-6 <= chosen[0] < reach + 30.0
        assert chosen[-1] == FAR_MM
        assert np.all(np.diff(chosen) > 0.0)


@pytest.mark.parametrize("count", [4, 5, 8, 12])
@pytest.mark.parametrize(("units", "step_mm"), [("metric", 50.0), ("imperial", 76.2)])
@pytest.mark.parametrize("nearest", ["0.4 m", "0.9 m", "1.13 m", "3 m", "10 m"])
def test_distances_are_round_and_none_within_a_tenth_of_another(
    nearest: str, units: str, step_mm: float, count: int
) -> None:
    """To 5 cm, or to three inches; beyond 2 m or 5 ft to half a metre, or a foot."""
    table = bench_kit() | {"units": units, "distances": ["30 m", "inf"]}
    table["taking_lenses"]["long"]["nearest"] = table["attachments"]["double"]["nearest"] = nearest
    kit = loaded(table | {"readings": []})
    (chart,) = build_charts(kit)
    chosen = bench_distances(kit, chart.rig, 2.8, count=count)
    assert len(chosen) == count
    assert np.all(chosen[1:] / chosen[:-1] > 1.1 - 1e-9)
    steps = np.where(chosen < 1524.0, 1.0, 4.0 if units == "imperial" else 2.0) * step_mm
    inner = chosen[1:-1] / steps[1:-1]
    assert np.allclose(inner, np.round(inner), atol=1e-6)
    assert chosen[0] / step_mm == pytest.approx(round(chosen[0] / step_mm))


def test_a_cam_gets_the_six_distances_it_needs() -> None:
    kit = bench_kit()
    kit["taking_lenses"]["long"]["focusing"] = "cam"
    bag = loaded(kit)
    (chart,) = build_charts(bag)
    assert len(bench_distances(bag, chart.rig, 2.8)) == 6


def advised(kit: dict[str, Any]) -> tuple[Advice, Chart]:
    bag = loaded(kit)
    (chart,) = build_charts(bag)
    return next_reading(chart), chart


def test_the_promise_is_kept() -> None:
    """The reading advised, made just where the scale foresees it, leaves what was foretold."""
    for seed in range(4):
        bench = Bench(np.random.default_rng(seed))
        readings = bench.read()
        advice, chart = advised(with_readings(readings))
        assert chart.pair_95 is not None
        assert advice.before == pytest.approx(float(np.max(chart.pair_95[0])))
        scale = chart.ring(advice.which)[1].measured.scale
        at = (
            bench.rig.lens_position_mm if advice.which == "taking" else bench.rig.glass_position_mm
        )(advice.distance_mm)
        far = {"distance_error": "3 m"} if advice.distance_mm == FAR_MM else {}
        more: dict[str, Any] = {
            "rig": bench.rig.rig_id, "distance": f"{advice.distance_mm!r} mm", "stop": 2.8,
            advice.which: float(fitted_mm(scale, at)), **far,
        }  # fmt: skip
        _, after = advised(with_readings([*readings, *[more] * advice.repeats]))
        assert after.pair_95 is not None
        assert float(np.max(after.pair_95[0])) == pytest.approx(advice.after, rel=0.03)
        assert advice.after < advice.before


def test_the_weak_ring_is_the_one_to_read() -> None:
    """An attachment read eight times over under a lens read once: read the lens."""
    bench = Bench(np.random.default_rng(1))
    once = bench.read()
    often = [
        {key: value for key, value in reading.items() if key != "taking"}
        for _ in range(7)
        for reading in bench.read()
    ]
    advice, _ = advised(with_readings([*once, *often]))
    assert advice.which == "taking"
