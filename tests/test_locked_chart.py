"""The locked attachment of whole rigs, and held to rays through thick glass."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest

from focuschart.chart.charts import build_charts
from focuschart.chart.locked import LockedRing, locked_ring, recentred, unread
from focuschart.chart.model import Chart
from focuschart.chart.rack import rack
from focuschart.chart.rack_words import turn_words
from focuschart.errors import KitError
from focuschart.prints.code import chart_code
from focuschart.report.locked import Held, hold_json, hold_text
from tests.kits import charts, loaded, plain_kit
from tests.real_focus import defocus
from tests.rig_truth import RigTruth, blur_scales, errors_at
from tests.test_traced_truth import CIRCLE_MM, STOP, noise_free_kit, published_rig
from tests.tracer import Moving


@pytest.fixture(scope="module")
def chart() -> Chart:
    return charts(plain_kit())["portrait"]


@pytest.fixture(scope="module")
def found(chart: Chart) -> LockedRing:
    return locked_ring(chart)


def unread_chart() -> Chart:
    kit = plain_kit()
    for reading in kit["readings"]:
        del reading["attachment"]
    return charts(kit)["portrait"]


def test_the_zone_at_rest_lies_within_that_of_one_hand(chart: Chart, found: LockedRing) -> None:
    assert np.all(found.zone.near_mm <= chart.frame.near_mm)
    assert np.all(found.zone.far_mm >= chart.frame.far_mm)
    assert np.all(found.zone.near_mm < chart.distances_mm)
    assert np.all(np.diff(found.zone.near_mm, axis=0) < 0.0)


def test_the_ring_turns_nearer_for_the_near_end(found: LockedRing) -> None:
    """This lens turns clockwise for nearer, so its figures fall."""
    near, far = (found.nearer_sign * turn for turn in found.turns_mm())
    assert found.nearer_sign == -1.0
    assert np.all(near > 0.0)
    assert np.all(far[:, :-1] < 0.0)
    assert np.all(far[:, -1] == 0.0)  # at infinity the lens stands at its end already


def test_a_mark_recentred_on_itself_stays(chart: Chart) -> None:
    moved = recentred(chart, chart.distances_mm)
    own = np.arange(len(chart.distances_mm))
    assert np.abs(moved.turn_mm[own, own]) == pytest.approx(0.0, abs=1e-6)
    assert np.abs(moved.vertical[:, own, own]) == pytest.approx(0.0, abs=1e-6)
    assert np.abs(moved.horizontal[:, own, own]) == pytest.approx(0.0, abs=1e-6)


def test_at_the_zones_ends_one_criterion_is_left(chart: Chart, found: LockedRing) -> None:
    """What one hand can hold, asked the other way round."""
    finite = len(chart.distances_mm) - 1
    for j in range(len(chart.stops)):
        for ends, arcs in (
            (found.zone.near_mm, found.near_arc_mm), (found.zone.far_mm, found.far_arc_mm),
        ):  # fmt: skip
            moved, own = recentred(chart, ends[j, :finite]), np.arange(finite)
            assert np.abs(moved.vertical[j, own, own]) == pytest.approx(1.0, rel=1e-6)
            assert np.abs(moved.horizontal[j, own, own]) == pytest.approx(1.0, rel=1e-6)
            assert moved.arc_mm[own, own] == pytest.approx(arcs[j, :finite], abs=1e-6)


def test_blur_halves_at_twice_the_f_number(chart: Chart) -> None:
    moved = recentred(chart, np.array([900.0, 1700.0, np.inf]))
    assert moved.vertical[0] == pytest.approx(2.0 * moved.vertical[1], rel=1e-9)
    assert moved.horizontal[0] == pytest.approx(2.0 * moved.horizontal[1], rel=1e-9)


def test_the_ring_stops_at_the_lenss_nearest() -> None:
    """Locked at the nearest mark the lens has no way left toward nearer."""
    kit = plain_kit()
    kit["taking_lenses"]["long"]["nearest"] = "1.2 m"
    chart = charts(kit)["portrait"]
    found = locked_ring(chart)
    assert np.abs(found.turns_mm()[0][:, 0]) == pytest.approx(0.0, abs=1e-9)
    assert found.zone.near_mm[:, 0] == pytest.approx(chart.frame.near_mm[:, 0], rel=1e-9)
    moved = recentred(chart, 1100.0)
    assert moved.turn_mm[0, 0] == pytest.approx(0.0, abs=1e-9)
    assert abs(moved.vertical[0, 0, 0]) != pytest.approx(abs(moved.horizontal[0, 0, 0]), rel=0.1)


@pytest.mark.parametrize("moving", ["front", "rear"])
def test_thick_glass_is_as_sharp_at_the_ends_as_we_say(moving: Moving) -> None:
    """Exact rays through the published attachment, both rings set by the chart's figures.

    At both ends of the zone the defocus is one criterion, the meridians' of opposite signs. The
    whole blur is up to a quarter more at 1 m, by the attachment's spherical aberration.
    """
    truth = published_rig(moving)
    (chart,) = build_charts(noise_free_kit(truth, squeeze=1.92059))
    found = locked_ring(chart)
    for i in range(len(chart.distances_mm) - 1):
        for sign, ends, arcs in (
            (1.0, found.zone.near_mm, found.near_arc_mm),
            (-1.0, found.zone.far_mm, found.far_arc_mm),
        ):
            across, upright = criteria(truth, found, i, float(ends[0, i]), float(arcs[0, i]))
            assert sign * upright == pytest.approx(1.0, abs=0.04)
            assert sign * across == pytest.approx(-1.0, abs=0.04)


def criteria(
    truth: RigTruth, found: LockedRing, mark: int, subject_mm: float, taking_mm: float
) -> tuple[float, float]:
    """Traced horizontal and vertical defocus of a subject, the attachment at a mark."""
    near = truth.lens.near_at(taking_mm)
    gap_mm = truth.gap_at(float(found.attachment.arc_mm[mark]))
    errors = errors_at(truth, near=near, gap_mm=gap_mm, distance_mm=subject_mm, stop=STOP)
    across, upright = blur_scales(truth, near=near, gap_mm=gap_mm, distance_mm=subject_mm)
    pupil, wide = truth.pupil(STOP), truth.lens.focal_mm / STOP / CIRCLE_MM
    squeeze = found.chart.rig.attachment.squeeze
    return (
        defocus(errors.horizontal, pupil.x_mm, pupil.weights) * wide * across * squeeze,
        defocus(errors.vertical, pupil.y_mm, pupil.weights) * wide * upright,
    )


# --- words and data -------------------------------------------------------------------------------


def test_a_turn_says_which_way() -> None:
    assert turn_words(1.23, 1.0) == "+1.2 nearer"
    assert turn_words(-1.23, 1.0) == "-1.2 farther"
    assert turn_words(-1.23, -1.0) == "-1.2 nearer"
    assert turn_words(0.01, 1.0) == "0.0 stays"


def test_rings_without_readings_are_named() -> None:
    kit = plain_kit()
    kit["readings"] = []
    assert unread(charts(plain_kit())["portrait"]) is None
    both, one = unread(charts(kit)["portrait"]), unread(unread_chart())
    assert both is not None
    assert both.why == "the taking and attachment rings have no readings"
    assert one is not None
    assert one.why == "the attachment ring has no readings"
    assert one.cure.startswith("tape on")


def test_a_rig_with_an_unread_ring_gets_a_sentence_instead() -> None:
    chart = unread_chart()
    text = hold_text([Held(chart, None)], units="metric")
    assert "No zones: the attachment ring has no readings" in text
    (rig,) = json.loads(hold_json([Held(chart, None)]))["rigs"]
    assert rig["marks"] == []
    assert "no readings" in rig["reason"]
    with pytest.raises(KitError, match="no readings"):
        locked_ring(chart)


def test_the_text_has_every_mark_at_every_stop(chart: Chart, found: LockedRing) -> None:
    text = hold_text([Held(chart, found)], units="metric")
    assert len(re.findall("^locked at .* one hand ", text, re.M)) == len(chart.stops)
    assert len(re.findall(r"^1\.2 m +\d", text, re.M)) == len(chart.stops) + 1
    assert re.search(r"\bnot\b", text)
    assert max(map(len, text.splitlines())) <= 110


def test_subjects_asked_for_are_told_for_every_mark(chart: Chart, found: LockedRing) -> None:
    text = hold_text([Held(chart, found, [1700.0])], units="metric")
    moved = text.partition("Subject moved")[2]
    assert moved.count(" 1.7 m ") == len(chart.distances_mm)


def test_the_data_are_the_arrays(chart: Chart, found: LockedRing) -> None:
    (rig,) = json.loads(hold_json([Held(chart, found, [1700.0])]))["rigs"]
    assert rig["reason"] is None
    assert rig["revision"] == chart_code(chart)
    mark = rig["marks"][1]
    zone = mark["zones"]["5.6"]
    assert zone["one_hand"] == pytest.approx([found.zone.near_mm[1, 1], found.zone.far_mm[1, 1]])
    assert zone["at_rest"] == pytest.approx([chart.frame.near_mm[1, 1], chart.frame.far_mm[1, 1]])
    assert zone["taking_turn_mm"][0] == pytest.approx(found.turns_mm()[0][1, 1])
    assert [subject["distance_mm"] for subject in mark["subjects"]] == [
        1200.0, 1700.0, 2000.0, 5000.0, None,
    ]  # fmt: skip
    assert mark["subjects"][0]["taking_turns"] == "nearer"
    assert mark["subjects"][-1]["taking_turns"] == "farther"
    assert rig["marks"][-1]["zones"]["2.8"]["one_hand"][1] is None


def test_the_sign_of_nearer_follows_the_ring(chart: Chart) -> None:
    assert chart.taking is not None
    assert chart.attachment is not None
    assert chart.taking.nearer_sign == -1.0
    assert chart.attachment.nearer_sign == 1.0


def test_a_kit_is_not_changed_by_it() -> None:
    kit = loaded(plain_kit())
    (before,) = build_charts(kit)
    recentred(before, 1500.0)
    (after,) = build_charts(kit)
    assert np.array_equal(before.frame.near_mm, after.frame.near_mm)


@pytest.mark.parametrize("group", ["front", "rear"])
@pytest.mark.parametrize("focusing", ["extends", "internal", "cam"])
def test_every_kind_of_rig_has_zones(focusing: str, group: str) -> None:
    kit = plain_kit()
    kit["taking_lenses"]["long"] |= {"focusing": focusing, "front_moves": focusing == "extends"}
    kit["attachments"]["double"]["moving_group"] = group
    chart = charts(kit)["portrait"]
    found = locked_ring(chart)
    assert np.all(found.zone.near_mm < chart.frame.near_mm)
    assert np.all(found.zone.far_mm >= chart.frame.far_mm)
    assert np.all(found.nearer_sign * found.turns_mm()[0] > 0.0)
    moved = rack(chart, start_mm=1200.0, end_mm=np.inf, steps=5)
    assert np.diff(moved.at.taking.arc_mm) == pytest.approx(
        moved.at.taking.arc_mm[1] - moved.at.taking.arc_mm[0], abs=1e-6
    )
