"""The charts against 128 ray-traced attachments: as good as the guide says, as sure as it says.

The record was traced by `tests.tracer`, which shares no code with the program; `tests/designs/`
says how. Every chart is made from the text of a kit. Bounds are those set beforehand unless a
comment says measured. Draws have fixed seeds.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tests.designs.bench import drawn_facts, exact_readings, noisy_readings
from tests.designs.kits import Stated, chart_of
from tests.designs.record import LEAST_SQUEEZE, MOST_BLUR_CIRCLES, MOST_SQUEEZE, inherited
from tests.designs.recorded import CIRCLE_MM, RECORD, SLOW_STOP, STOP, Design, load_designs
from tests.designs.trials import MARKS_MM, Trial, against, drawn_trials
from tests.rig_truth import tolerances, true_settings
from tests.sample_parts import Target, metric
from tests.tracer import Array

READ = tuple(map(metric, (1.0, 1.3, 2.0, 5.0)))
AT_INFINITY = (*READ, Target("inf", np.inf))
FAR_TARGET = (*READ, metric(60.0, 3.0))
GOOD = 0.25
DRAWS = 20


@cache
def designs() -> list[Design]:
    return load_designs()


@cache
def mornings() -> Trial:
    """One reading a distance at f/2.8, for work at f/16: five set-ups, both rings."""
    return drawn_trials(designs(), FAR_TARGET, draws=DRAWS, read_at=STOP, working_stop=SLOW_STOP)


def held(trials: Trial, ring: str) -> Array:
    """Whether each stated 95 % interval holds the truth, of all kits that got a chart."""
    off, stated = {
        "taking": (trials.taking_mm, trials.taking_95_mm),
        "attachment": (trials.attachment_mm, trials.attachment_95_mm),
    }[ring]
    return np.where(np.isnan(off), np.nan, np.abs(off) <= stated)


def test_the_record_is_what_it_says() -> None:
    assert RECORD.stat().st_size < 400_000
    assert len(designs()) >= 120
    squeezes = [design.squeeze for design in designs()]
    assert LEAST_SQUEEZE <= min(squeezes) < 1.35
    assert 1.98 < max(squeezes) <= MOST_SQUEEZE
    assert np.max(np.diff(np.sort(squeezes))) < 0.02
    assert max(design.blur_circles for design in designs()) <= MOST_BLUR_CIRCLES
    for design in designs():
        surfaces = (*design.attachment.front, *design.attachment.rear)
        assert min(abs(surface.radius_mm) for surface in surfaces) >= 25.0
    assert 0.6 < np.mean([design.moving == "front" for design in designs()]) < 0.95


@pytest.mark.parametrize("number", [0, 41, 83, 127])
def test_the_record_is_that_of_its_glass(number: int) -> None:
    """Traced anew between the distances recorded, where a spline must stand in for rays."""
    design, distances = designs()[number], np.array([985.0, 1430.0, 12_000.0, np.inf])
    found = design.truth(distances)
    for stop in (STOP, SLOW_STOP):
        traced = true_settings(design.rig, distances, stop=stop)
        at_stop = design.truth(distances, stop=stop)
        assert_allclose(at_stop.taking_arc_mm, traced.taking_arc_mm, atol=0.005)
        assert_allclose(at_stop.attachment_arc_mm, traced.attachment_arc_mm, atol=0.005)
    carried = [
        inherited(design.rig, *at) for at in zip(distances, found.taking_arc_mm, strict=True)
    ]
    assert_allclose(found.inherited, carried, atol=0.005)
    allowed = [
        tolerances(design.rig, d, stop=STOP, circle_mm=CIRCLE_MM, nominal_squeeze=design.squeeze)
        for d in distances
    ]
    rings = np.stack((found.taking_tolerance_mm, found.attachment_tolerance_mm), axis=-1)
    assert_allclose(rings, allowed, rtol=0.005)


def exact_trial(design: Design, targets: tuple[Target, ...]) -> Trial:
    """Readings without error, the squeeze 3 % off and the leads 2 %, in every combination."""
    signs = [1.0 if design.number >> bit & 1 else -1.0 for bit in range(3)]
    stated = Stated(0.03 * signs[0], 0.0, 0.02 * signs[1], 0.02 * signs[2])
    return against(design, chart_of(design, exact_readings(design, targets), stated))


@pytest.mark.parametrize("targets", [AT_INFINITY, FAR_TARGET], ids=["infinity", "far target"])
def test_five_exact_readings_find_both_scales(targets: tuple[Target, ...]) -> None:
    """The worst mark of each design, in the ring's own tolerance at f/2.8."""
    attachment, taking = [], []
    for design in designs():
        found, allowed = exact_trial(design, targets), design.truth(MARKS_MM)
        attachment.append(np.max(np.abs(found.attachment_mm) / allowed.attachment_tolerance_mm))
        taking_share = np.abs(found.taking_mm) / allowed.taking_tolerance_mm
        taking.append(np.max(taking_share) * design.squeeze)
    assert np.mean(np.array(attachment) <= 0.25) >= 0.95
    # Measured, 0.266 with the far target; the tolerance is already divided by S.
    assert np.max(taking) <= 0.28
    assert np.mean(np.array(taking) <= 0.25) >= 0.95


@pytest.mark.statistical
@pytest.mark.parametrize("ring", ["taking", "attachment"])
def test_intervals_hold_the_truth_as_often_as_they_say(ring: str) -> None:
    """On average, at each mark, and of nineteen designs in twenty.

    Measured on a quarter of them, 0.974 and 0.964: these lenses have a hiatus of 2 to 8 mm, where
    ± 30 is supposed; `test_further.py` has the others.
    """
    holds = held(mornings(), ring)
    assert 0.93 <= np.nanmean(holds) <= 0.98
    marks = np.nanmean(holds, axis=(0, 1))
    assert np.all((marks >= 0.91) & (marks <= 0.99))
    assert np.mean(np.nanmean(holds, axis=(1, 2)) > 0.87) >= 0.95


@pytest.mark.statistical
def test_the_squeeze_for_post_is_held_as_often_as_is_said() -> None:
    """Against the ratio of the traced magnifications at 1 m and 2 m, and at infinity."""
    ends = [0, 3, 7]
    holds = []
    for design in designs():
        noise = np.random.default_rng([96, design.number])
        chart = chart_of(design, noisy_readings(design, FAR_TARGET, noise), drawn_facts(noise))
        near = true_settings(design.rig, MARKS_MM[ends[:2]], stop=STOP).squeeze
        off = chart.squeeze[ends] - np.append(near, design.squeeze)
        holds.append(np.abs(off) <= chart.squeeze_95[ends])
    assert np.all((np.mean(holds, axis=0) >= 0.92) & (np.mean(holds, axis=0) <= 0.98))


@pytest.mark.statistical
def test_sound_readings_are_hardly_ever_refused() -> None:
    assert np.mean(mornings().refused) < 0.005


@pytest.mark.statistical
def test_the_stated_error_of_a_pair_holds_its_true_one() -> None:
    trials = mornings()
    assert np.mean((trials.pair <= trials.pair_95)[~trials.refused]) >= 0.95


@pytest.mark.statistical
def test_a_good_pair_is_good() -> None:
    """Read at f/2.8 and used at f/16: both meridians within a quarter of what is allowed there."""
    trials = mornings()
    assert np.mean(trials.good) > 0.5
    assert np.mean(trials.pair[trials.good] < GOOD) >= 0.95


@pytest.mark.statistical
def test_good_at_a_slower_stop_than_read_holds_for_well_corrected_glass_only() -> None:
    """Spherical aberration moves the focus from f/2.8 to f/16, of which no chart knows.

    Measured: right in 97 % where the glass blurs a point by less than 0.3 circles of confusion
    at f/2.8, but in 21 % of all designs recorded.
    """
    sharp = np.array([design.blur_circles < 0.3 for design in designs()])
    trials = mornings()
    right = trials.slow_pair < GOOD
    assert np.mean(right[sharp][trials.good[sharp]]) >= 0.93


@pytest.mark.statistical
def test_good_is_right_where_the_working_stop_itself_was_read() -> None:
    """Every target focused six times at f/16: no focus shift, and coarse focusing averaged out."""
    trials = drawn_trials(
        designs(), FAR_TARGET * 6, draws=1, read_at=SLOW_STOP, working_stop=SLOW_STOP
    )
    assert np.mean(trials.good) > 0.3
    assert np.mean(trials.slow_pair[trials.good] < GOOD) >= 0.95
