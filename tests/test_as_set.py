"""Marks as set by hand: what is stated of them, against traced rigs with every error drawn.

The form of the budget is that of JCGM 100:2008 (GUM): independent terms add by their variances.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from numpy.testing import assert_allclose

from focuschart.chart.charts import solve
from focuschart.chart.model import Chart
from focuschart.chart.verdict import next_steps, strip_from, trusted_from, trusted_need
from focuschart.errors import KitError
from focuschart.kit.load import load_kit
from focuschart.scale.joint import largest_95
from tests.designs.bench import drawn_facts, noisy_readings
from tests.designs.kits import chart_of
from tests.designs.recorded import STOP, Design, load_designs
from tests.designs.trials import MARKS_MM, arc_errors, pair_errors
from tests.kits import charts, kit_text, plain_kit
from tests.sample_parts import metric
from tests.tracer import Array

SAMPLE = Path(__file__).parent.parent / "sample_kits" / "two-lenses.toml"
BENCH = (*map(metric, (1.0, 1.3, 2.0, 5.0)), metric(60.0, 3.0))
TAPING_MM, SETTING_MM, PLAY_MM, PRINT_SCALE = 0.2, 0.15, 0.3, 0.0007
"""The program's defaults, written here again."""
SETS = 100


class Rig(NamedTuple):
    """A traced rig with a chart from drawn readings, and its rings set by hand many times.

    `errors` are in criteria at the working stop: the worse meridian's, of sets × marks.
    """

    chart: Chart
    errors: Array


def as_set(design: Design, chart: Chart, noise: np.random.Generator) -> Array:
    """Tape both strips and indexes anew for each set, print anew, and set each mark once."""
    fitted = arc_errors(design, chart, design.truth(MARKS_MM, stop=STOP))
    scale = PRINT_SCALE * noise.normal(size=(SETS, 1))
    found = []
    for which, fit in zip(("taking", "attachment"), fitted, strict=True):
        _, marks = chart.ring(which)  # type: ignore[arg-type]
        tapings = TAPING_MM * noise.normal(size=(SETS, 2)).sum(axis=1, keepdims=True)
        play = PLAY_MM / 2.0 * noise.normal(size=(SETS, 1))
        setting = SETTING_MM * noise.normal(size=(SETS, len(MARKS_MM)))
        printed = marks.nearer_sign * scale * marks.arc_mm
        found.append(fit + tapings + play + setting + printed)
    vertical, horizontal = pair_errors(design, *found, stop=chart.working_stop)
    return np.asarray(np.maximum(np.abs(vertical), np.abs(horizontal)))


@cache
def rigs() -> list[Rig]:
    found = []
    for design in load_designs():
        noise = np.random.default_rng([13, design.number])
        chart = chart_of(design, noisy_readings(design, BENCH, noise), drawn_facts(noise))
        if chart.pair is not None and not chart.contradicted:
            found.append(Rig(chart, as_set(design, chart, noise)))
    return found


@pytest.mark.statistical
def test_the_stated_pair_holds_what_is_set() -> None:
    """On average 93 to 97 % of settings, and no mark below 90."""
    assert len(rigs()) > 120
    held = []
    for rig in rigs():
        assert rig.chart.pair_95 is not None
        held.append(np.mean(rig.errors <= rig.chart.pair_95[0], axis=0))
    assert 0.93 <= np.mean(held) <= 0.97
    assert np.all(np.mean(held, axis=0) >= 0.90)


@pytest.mark.statistical
def test_at_the_trusted_stop_all_marks_are_inside_together() -> None:
    """Of 93 to 97 % of rigs taped once, each mark set once, at the stop not yet rounded."""
    inside = []
    for rig in rigs():
        need = trusted_need(rig.chart)
        assert need is not None
        slower = need / rig.chart.working_stop
        inside.append(np.mean(np.all(rig.errors <= slower, axis=1)))
    assert 0.93 <= np.mean(inside) <= 0.97


def test_without_the_indexes_the_pair_would_be_too_sure() -> None:
    """The fit's own 95 % holds far less of what is set by hand."""
    held = []
    for rig in rigs():
        assert rig.chart.bench_pair_95 is not None
        held.append(np.mean(rig.errors <= rig.chart.bench_pair_95[0]))
    assert np.mean(held) < 0.8


def test_the_worst_marks_own_95_is_kinder_than_all_together() -> None:
    for rig in rigs()[:40]:
        assert rig.chart.pair_95 is not None
        need = trusted_need(rig.chart)
        assert need is not None
        alone = float(np.max(rig.chart.pair_95[0])) * rig.chart.working_stop
        assert 1.0 <= need / alone < 1.6


# --- the parts ------------------------------------------------------------------------------------


def test_variances_add() -> None:
    """GUM, example H.1: u_c² = 25² + 9.7² + 16.6² + …, here of our own terms at one mark."""
    chart = charts(plain_kit())["portrait"]
    for _, marks in chart.rings().values():
        assert marks is not None
        own = np.square(marks.bench_arc_95_mm / 1.96)
        terms = 2 * TAPING_MM**2 + (PLAY_MM / 2) ** 2 + SETTING_MM**2
        printed = np.square(PRINT_SCALE * marks.arc_mm)
        assert_allclose(np.square(marks.arc_95_mm / 1.96), own + terms + printed, rtol=1e-12)


def test_nothing_by_hand_leaves_the_fit() -> None:
    kit = plain_kit()
    kit["bench"] = {"taping_error": "0 mm", "setting_error": "0 mm", "print_scale": "0 %"}
    for part in (kit["taking_lenses"]["long"], kit["attachments"]["double"]):
        part["ring"]["backlash"] = "0 mm"
    chart, usual = charts(kit)["portrait"], charts(plain_kit())["portrait"]
    assert chart.pair_95 is not None
    assert chart.bench_pair_95 is not None
    assert usual.pair_95 is not None
    # A play that is given may still be a tenth of a millimetre off.
    assert np.all(chart.pair_95 >= chart.bench_pair_95)
    assert np.max(chart.pair_95 / chart.bench_pair_95) < 1.2
    assert np.all(usual.pair_95 > chart.pair_95)
    assert usual.bench_pair_95 is not None
    assert_allclose(usual.bench_pair_95, chart.bench_pair_95)


def test_an_index_set_by_focus_takes_out_what_is_off_alike() -> None:
    """As in the budget's form: at its own mark the taping and the eye are left, and the setting."""
    kit = plain_kit()
    kit["rigs"]["portrait"]["index_set_at"] = {"taking": "2 m"}
    chart, usual = charts(kit)["portrait"], charts(plain_kit())["portrait"]
    assert chart.taking is not None
    assert usual.taking is not None
    at = int(np.argmin(np.abs(chart.distances_mm - 2000.0)))
    eye = 0.15 * chart.taking.tolerance_mm[0, at] * chart.rig.attachment.squeeze
    left = TAPING_MM**2 + eye**2 + SETTING_MM**2
    assert chart.taking.arc_95_mm[at] == pytest.approx(1.96 * left**0.5, rel=1e-6)
    assert np.all(chart.taking.bench_arc_95_mm == usual.taking.bench_arc_95_mm)
    assert chart.attachment is not None
    assert usual.attachment is not None
    assert_allclose(chart.attachment.arc_95_mm, usual.attachment.arc_95_mm)
    before, after = trusted_need(usual), trusted_need(chart)
    assert before is not None
    assert after is not None
    assert after < before


def test_no_index_is_set_where_its_ring_does_not_reach() -> None:
    kit = plain_kit()
    kit["rigs"]["portrait"]["index_set_at"] = {"taking": "0.2 m"}
    with pytest.raises(KitError, match=r'index_set_at.taking is "200 mm": nearer than .* or more'):
        load_kit(kit_text(kit), source="kit.toml")


def test_strips_are_worth_more_than_a_setting_and_steps_gain() -> None:
    for rig in rigs()[:40]:
        alone, whole = trusted_need(rig.chart, setting=False), trusted_need(rig.chart)
        assert alone is not None
        assert whole is not None
        assert alone < whole
        strip, trusted = strip_from(rig.chart), trusted_from(rig.chart)
        assert strip is not None
        assert trusted is not None
        assert strip <= trusted
        steps = next_steps(rig.chart)
        assert set(steps) == {"index_by_focus", "camera_test", "photographs"}
        assert steps["camera_test"][0] > 0.0
        assert steps["photographs"][0] > 0.0


def test_photographs_gain_what_a_kit_with_their_errors_says() -> None:
    """Figures to 0.015 mm, and of tapings what those and half a tick of the comb leave."""
    kit = load_kit(SAMPLE.read_text("utf-8"), source="kit.toml")
    (chart,) = solve(kit, rigs=["portrait-85"])
    true = {
        which: marks.measured.arc_mm(chart.rig, np.array([each.distance for each in kit.readings]))
        for which, (_, marks) in chart.rings().items() if marks is not None
    }  # fmt: skip
    read = {"readings": [
        each.model_copy(update={which: float(arcs[k]) for which, arcs in true.items()})
        for k, each in enumerate(kit.readings) if each.rig == "portrait-85"
    ]}  # fmt: skip
    taping = float(np.hypot(0.015, 0.25 / np.sqrt(24.0)))
    finer = kit.bench.model_copy(update={"ruler_error": 0.015, "taping_error": taping})
    by_eye, by_photograph = (
        solve(kit.model_copy(update={**read, "bench": bench}), rigs=["portrait-85"])[0]
        for bench in (kit.bench, finer)
    )
    now, then = trusted_need(by_eye), trusted_need(by_photograph)
    assert now is not None
    assert then is not None
    gained = 2.0 * np.log2(now / then)
    assert next_steps(by_eye)["photographs"][0] == pytest.approx(gained, abs=0.05)
    assert gained > 1.0


@pytest.mark.parametrize("count", [1, 2, 9])
def test_the_largest_of_several_errors(count: int) -> None:
    """Independent ones: each within the (0.95^(1/k) + 1)/2 point of a Gaussian, exactly."""
    from statistics import NormalDist

    exact = NormalDist().inv_cdf((0.95 ** (1.0 / count) + 1.0) / 2.0)
    assert largest_95(np.eye(count)) == pytest.approx(exact, rel=0.01)
    assert largest_95(4.0 * np.eye(count)) == pytest.approx(2.0 * exact, rel=0.01)


def test_errors_that_are_one_count_once() -> None:
    assert largest_95(np.ones((7, 7))) == pytest.approx(1.96, rel=0.01)
    assert largest_95(np.zeros((3, 3))) == 0.0
