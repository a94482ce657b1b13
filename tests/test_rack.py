"""Both rings along a rack, and how far apart their hands may be."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from focuschart.chart.model import Chart
from focuschart.chart.rack import Rack, positions, rack
from focuschart.chart.rack_words import rack_cautions, rack_rows, rack_summary, rack_way, slack_rows
from focuschart.errors import KitError
from focuschart.optics.arrays import Floats
from focuschart.optics.timing import smooth_share
from focuschart.report.locked import rack_json, rack_text
from tests.kits import charts, plain_kit

CHART = charts(plain_kit())["portrait"]
DISTANCES = st.one_of(st.floats(1000.0, 40_000.0), st.just(np.inf))


def racked(start_mm: float, end_mm: float, steps: int = 8, chart: Chart = CHART) -> Rack:
    return rack(chart, start_mm=start_mm, end_mm=end_mm, steps=steps)


def apart(start_mm: float, end_mm: float) -> bool:
    """Whether both rings turn by more than next to nothing."""
    return abs(1.0 / start_mm - 1.0 / end_mm) > 1e-4


def test_positions_at_the_marks_are_the_charts() -> None:
    found = positions(CHART, CHART.distances_mm, units="metric")
    assert CHART.taking is not None
    assert CHART.attachment is not None
    for here, there in ((found.taking, CHART.taking), (found.attachment, CHART.attachment)):
        assert here.arc_mm == pytest.approx(there.arc_mm, rel=1e-12)
        assert here.arc_95_mm == pytest.approx(there.arc_95_mm, rel=1e-12)
        assert here.tolerance_mm == pytest.approx(there.tolerance_mm, rel=1e-12)
        assert here.engraved_text == there.engraved_text
    assert found.pair_95 == pytest.approx(CHART.pair_95, rel=1e-12)
    assert found.squeeze == pytest.approx(CHART.squeeze, rel=1e-12)


@settings(max_examples=30, deadline=None)
@given(start=DISTANCES, end=DISTANCES, steps=st.integers(1, 40))
def test_steps_are_equal_on_the_taking_ring(start: float, end: float, steps: int) -> None:
    if not apart(start, end):
        return
    found = racked(start, end, steps)
    arc = found.at.taking.arc_mm
    assert len(arc) == steps + 1
    assert np.diff(arc) == pytest.approx((arc[-1] - arc[0]) / steps, abs=1e-6)
    assert (found.at.distances_mm[0], found.at.distances_mm[-1]) == (start, end)
    way = np.sign(end - start)
    assert np.all(way * np.diff(found.at.distances_mm) > 0.0)


@settings(max_examples=30, deadline=None)
@given(start=DISTANCES, end=DISTANCES, steps=st.integers(1, 40))
def test_there_and_back_are_the_same_positions(start: float, end: float, steps: int) -> None:
    if not apart(start, end):
        return
    there, back = racked(start, end, steps), racked(end, start, steps)
    for ring in ("taking", "attachment"):
        one, other = getattr(there.at, ring), getattr(back.at, ring)
        assert one.arc_mm == pytest.approx(other.arc_mm[::-1], abs=1e-6)
    assert there.time_share == pytest.approx(1.0 - back.time_share[::-1], abs=1e-9)
    assert there.slack.either == pytest.approx(back.slack.either, rel=0.01)


@settings(max_examples=20, deadline=None)
@given(start=st.floats(1000.0, 4000.0), end=DISTANCES)
def test_hands_have_more_time_stopped_down(start: float, end: float) -> None:
    if not apart(start, end):
        return
    slack = racked(start, end).slack
    for hand in (slack.taking, slack.attachment, slack.either):
        assert hand[1] > hand[0] or np.isinf(hand[0])
        assert np.all(hand >= slack.either)


def softest(chart: Chart, ends: tuple[float, float], late: tuple[float, float]) -> Floats:
    """The worst blur (m) of a rack whose hands are late by shares of the move; by pair errors.

    Distances are searched on a table of the rings, not by the program's own steps.
    """
    near = np.linspace(1.0 / ends[0], 1.0 / ends[1], 4001)
    table = positions(chart, 1.0 / near, units="metric", read=False)
    arc = table.taking.arc_mm
    share = (arc - arc[0]) / (arc[-1] - arc[0])
    times = np.linspace(0.0, 1.0, 2001)

    def stands(ring_arc: Floats, lag: float) -> Floats:
        return np.asarray(np.interp(smooth_share(times - lag), share, ring_arc))

    errors = []
    for ring, lag in ((table.taking, late[0]), (table.attachment, late[1])):
        allowed = np.stack(
            [np.interp(smooth_share(times), share, row) for row in ring.tolerance_mm]
        )
        errors.append((stands(ring.arc_mm, lag) - stands(ring.arc_mm, 0.0)) / allowed)
    # The chart's taking tolerance is divided by the squeeze already: S·e_t/tol_V is errors[0].
    blurs = errors[0] / chart.rig.attachment.squeeze, errors[1] - errors[0]
    return np.asarray(np.max(np.maximum(*map(np.abs, blurs)), axis=1))


@pytest.mark.parametrize("ends", [(1200.0, 3000.0), (5000.0, 1100.0), (1500.0, 60_000.0)])
def test_a_hand_as_late_as_allowed_is_one_criterion_off(ends: tuple[float, float]) -> None:
    found = racked(*ends)
    for j in range(len(CHART.stops)):
        taking, attachment = found.slack.taking[j], found.slack.attachment[j]
        by_taking = [softest(CHART, ends, (way * taking, 0.0))[j] for way in (-1.0, 1.0)]
        by_attachment = [softest(CHART, ends, (0.0, way * attachment))[j] for way in (-1.0, 1.0)]
        assert max(by_taking) == pytest.approx(1.0, rel=0.01)
        assert max(by_attachment) == pytest.approx(1.0, rel=0.01)


def test_a_late_taking_hand_is_the_worse_one() -> None:
    """It moves the picture's plane as well: S against S − 1/S of its own criteria, far away."""
    slack = racked(4000.0, 40_000.0).slack
    assert slack.attachment / slack.taking == pytest.approx(4.0 / 3.0, rel=0.05)


def test_rings_that_hardly_turn_are_refused() -> None:
    with pytest.raises(KitError, match="taking ring hardly turns"):
        racked(1e6, 1.1e6)


def test_an_unread_ring_has_no_rack() -> None:
    with pytest.raises(KitError, match="attachment ring has no readings"):
        racked(1200.0, 3000.0, chart=replace(CHART, attachment=None))


# --- words and data -------------------------------------------------------------------------------


def test_the_text_tells_steps_turns_and_time() -> None:
    found = racked(1200.0, np.inf, 4)
    text = rack_text(found, units="metric", seconds=3.0)
    assert "Rack from 1.2 m to ∞" in text
    assert "4 equal steps of the taking ring, in a smooth move of 3 s." in text
    assert "taking ring +44.1 farther, attachment ring" in text
    assert "expect the frame to go soft" in text.replace("\n", " ")
    assert max(map(len, text.splitlines())) <= 100


def test_one_step_is_a_start_and_an_end() -> None:
    found = racked(1200.0, 3000.0, 1)
    rows = list(rack_rows(found, units="metric", seconds=2.0))
    assert [row[:3] for row in rows[1:]] == [["0", "0.00", "1.2 m"], ["1", "2.00", "3 m"]]
    assert rack_way(found, seconds=2.0) == "One step of the taking ring, in a smooth move of 2 s"


def test_turns_are_the_rings_own_signs() -> None:
    """One ring's figures fall as it turns nearer, the other's rise."""
    assert "taking ring -" in rack_summary(racked(3000.0, 1200.0))
    assert "attachment ring +" in rack_summary(racked(3000.0, 1200.0))
    assert rack_summary(racked(3000.0, 1200.0)).count("nearer") == 2
    assert rack_summary(racked(1200.0, 3000.0)).count("farther") == 2


def test_time_is_the_share_of_the_duration() -> None:
    found = racked(1200.0, 3000.0)
    rows = list(slack_rows(found, seconds=10.0))
    assert rows[1][3] == f"{10.0 * found.slack.either[0]:.3f} s"
    assert rows[1][4] == f"{100.0 * found.slack.either[0]:.1f} %"


def test_slow_hands_need_no_warning() -> None:
    found = racked(1200.0, 3000.0)
    enough = 0.11 / float(found.slack.either[0])
    assert "go soft" in " ".join(rack_cautions(found, seconds=2.0))
    assert "go soft" not in " ".join(rack_cautions(found, seconds=enough))


def test_unsure_and_extrapolated_settings_are_said() -> None:
    kit = plain_kit()
    kit["readings"] = kit["readings"][1:]
    told = " ".join(rack_cautions(racked(1200.0, 3000.0, chart=charts(kit)["portrait"]), seconds=9))
    assert "Not all settings are sure" in told
    assert "Extrapolated settings lie nearer" in told


def test_engraved_scales_are_read_at_every_step() -> None:
    kit = plain_kit()
    kit["taking_lenses"]["long"]["ring"]["engraved"] = [
        {"distance": "1.2 m", "ruler": 45.9}, {"distance": "2 m", "ruler": 65.6},
    ]  # fmt: skip
    rows = list(
        rack_rows(racked(1200.0, 3000.0, chart=charts(kit)["portrait"]), units="metric", seconds=2)
    )
    assert rows[0][5] == "lens scale"
    assert rows[1][5] == "1.2"
    assert rows[-1][5] == "off scale"


def test_the_data_are_the_arrays() -> None:
    found = racked(1200.0, np.inf, 3)
    data = json.loads(rack_json(found, seconds=2.0))
    assert (data["format"], data["rig"], data["seconds"]) == (1, "portrait", 2.0)
    assert [each["step"] for each in data["positions"]] == [0, 1, 2, 3]
    last = data["positions"][-1]
    assert last["distance_mm"] is None
    assert last["time_s"] == 2.0
    assert last["taking"]["arc_mm"] == pytest.approx(found.at.taking.arc_mm[-1])
    assert last["pair_95"]["5.6"] == pytest.approx(found.at.pair_95[1, -1])
    hands = data["hands_apart"]["either"]
    assert hands["seconds"]["2.8"] == pytest.approx(2.0 * hands["share"]["2.8"], abs=2e-6)
    assert data["notes"] == list(rack_cautions(found, seconds=2.0))
