"""Rings of every kind in a kit: tapers, turns, narrow strips, stock and clear tape."""

from __future__ import annotations

import math
import re
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from focuschart.errors import KitError
from focuschart.kit.new_reading import RULER_BEGINS_MM
from focuschart.kit.ring import Ring
from focuschart.layout.page import Path
from focuschart.layout.sheet.pieces import Item
from focuschart.layout.strip.band import LEAD_IN_MM
from focuschart.pages.fine import between
from focuschart.pages.strips import marker_of
from focuschart.prints.facts import facts_of
from focuschart.prints.topics import Topic
from tests.kits import charts, loaded, plain_kit
from tests.lettering import texts
from tests.pieces import ruler_items, strip_items

TURN = {"nearer_turns": "clockwise"}


def ring(**keys: object) -> Ring:
    return Ring.model_validate({**TURN, **keys})


def with_ring(part: str, **keys: object) -> dict[str, Any]:
    """Return the plain kit with other facts of the lens's or the attachment's ring."""
    kit = plain_kit()
    section, name = {"lens": ("taking_lenses", "long"), "front": ("attachments", "double")}[part]
    found = kit[section][name]["ring"]
    if any(key.startswith(("front_", "rear_", "circumference")) for key in keys):
        found.pop("diameter")
    found.update(keys)
    return kit


def items(kit: dict[str, Any]) -> list[Item]:
    return strip_items(list(charts(kit).values()))


# --- sizes ------------------------------------------------------------------------------------


@given(st.floats(40.0, 120.0), st.floats(-0.4, 0.4), st.floats(10.0, 40.0), st.floats(0.0, 1.0))
@settings(deadline=None)
def test_a_tapers_edges_lie_on_its_cone(
    rear: float, sine: float, width: float, thick: float
) -> None:
    """The paper's middle lies half its thickness off the surface, square to it."""
    rear, width, thick = round(rear + 20.0, 4), round(width, 4), round(thick, 4)
    front = round(rear - 2.0 * sine * width, 4)
    sine = (rear - front) / (2.0 * width)
    sizes = {
        "rear_diameter": f"{rear} mm",
        "front_diameter": f"{front} mm",
        "width": f"{width} mm",
        "strip_thickness": f"{thick:.4f} mm",
    }
    out = math.pi * thick * math.sqrt(1.0 - sine**2)
    camera = ring(**sizes, strip_width=sizes["width"])
    subject = ring(**sizes, strip_width=sizes["width"], index_side="subject")
    assert camera.strip_length_mm == pytest.approx(math.pi * rear + out, abs=1e-6)
    assert camera.far_edge_mm == pytest.approx(math.pi * front + out, abs=1e-6)
    assert subject.strip_length_mm == pytest.approx(camera.far_edge_mm, abs=1e-6)
    assert subject.far_edge_mm == pytest.approx(camera.strip_length_mm, abs=1e-6)


def test_a_narrower_strip_ends_part_of_the_way_to_the_other_edge() -> None:
    part = ring(rear_circumference="240 mm", front_circumference="220 mm", width="20 mm",
                strip_width="5 mm")  # fmt: skip
    assert part.strip_length_mm - part.far_edge_mm == pytest.approx(5.0)


def test_a_cylinder_is_a_taper_of_two_equal_sizes() -> None:
    sizes = {"rear_diameter": "64 mm", "front_diameter": "64 mm", "width": "20 mm"}
    even, plain = ring(**sizes), ring(diameter="64 mm")
    assert not even.tapers
    assert even.strip_length_mm == plain.strip_length_mm == plain.far_edge_mm


PAIR = {"rear_diameter": "70 mm", "front_diameter": "66 mm"}


@pytest.mark.parametrize(
    ("keys", "complaint"),
    [
        ({}, "give either circumference or diameter"),
        ({**PAIR, "width": "20 mm", "diameter": "68 mm"}, "give one size: of a cylinder"),
        ({**PAIR, "width": "20 mm", "circumference": "214 mm"}, "give one size"),
        ({"front_diameter": "66 mm", "width": "20 mm"}, "front_diameter and rear_diameter"),
        ({"front_diameter": "66 mm", "rear_circumference": "214 mm"}, "give one size"),
        (PAIR, "a ring that tapers needs its width"),
        ({**PAIR, "width": "4 mm"}, None),
        ({"rear_diameter": "80 mm", "front_diameter": "60 mm", "width": "15 mm"},
         "tapers by more than 30° to its axis"),
        ({"diameter": "60 mm", "turns": 5}, "less than or equal to 4"),
        ({"diameter": "60 mm", "turns": 0}, "greater than or equal to 1"),
        ({"diameter": "60 mm", "strip_width": "3.9 mm"}, "between 4 mm and 40 mm"),
    ],
)  # fmt: skip
def test_sizes_that_contradict_each_other_are_refused(
    keys: dict[str, object], complaint: str | None
) -> None:
    if complaint is None:
        assert ring(**keys).tapers
        return
    with pytest.raises(ValidationError, match=complaint):
        ring(**keys)


@pytest.mark.parametrize(
    ("keys", "complaint"),
    [
        ({"width": "10 mm", "strip_width": "12 mm"},
         r'ring\.strip_width is "12 mm": the strip is wider than the ring, 10 mm'),
        ({"turns": 3, "strip_width": "11 mm"},
         r'ring\.strip_width is "11 mm": 3 turns need a strip of 12 mm'),
        ({"stock": " "}, "stock.* must not be blank"),
        ({"turns": "2"}, "turns"),
    ],
)  # fmt: skip
def test_a_ring_that_cannot_bear_its_strip_is_named(
    keys: dict[str, object], complaint: str
) -> None:
    with pytest.raises(KitError, match=complaint):
        loaded(with_ring("front", **keys))


def test_a_thousand_marks_are_refused_in_one_sentence() -> None:
    kit = {**plain_kit(), "distances": [f"{1200 + n} mm" for n in range(1000)]}
    with pytest.raises(KitError) as refused:
        loaded(kit)
    lines = str(refused.value).splitlines()
    assert len(lines) <= 2
    assert re.search(r"distances.* 40 ", str(refused.value))


# --- turns ------------------------------------------------------------------------------------


def turned_kit() -> dict[str, Any]:
    """Return the plain kit with the attachment's ring geared so that it turns twice round."""
    kit = with_ring("front", turns=2, lead="15.35 mm")
    for reading in kit["readings"]:
        reading["attachment"] = 5.0 + 2.0 * (reading["attachment"] - 15.0)
    return kit


def test_readings_beyond_one_turn_are_entered_as_the_ruler_counts_them() -> None:
    kit = turned_kit()
    (chart,) = charts(kit).values()
    part, marks = chart.ring("attachment")
    (plain,) = charts(plain_kit()).values()
    before = plain.ring("attachment")[1].arc_mm
    assert marks.arc_mm == pytest.approx(5.0 + 2.0 * (before - 15.0), abs=1.5)
    assert marks.arc_mm.max() > part.strip_length_mm
    strip = next(item for item in items(kit) if item.key == "portrait/attachment")
    ticks = {s.key: s for s in strip.block.shapes if s.key.startswith("mark:")}
    for number, arc in enumerate(marks.arc_mm.tolist()):
        turn, x = divmod(arc + LEAD_IN_MM, part.strip_length_mm)
        tick = np.array(ticks[f"mark:{number}"].points)  # type: ignore[union-attr]
        middle = (tick.min(axis=0)[0] + tick.max(axis=0)[0]) / 2.0
        assert (middle, tick.min(axis=0)[1]) == pytest.approx((x, 6.0 * turn))
    assert {"turn 1", "turn 2"} <= {text.text for text in texts(strip.block.shapes)}


def test_the_same_readings_on_a_ring_of_one_turn_say_what_to_do() -> None:
    kit = turned_kit()
    del kit["attachments"]["double"]["ring"]["turns"]
    with pytest.raises(
        KitError, match=r"readings span .* but one turn is 258\.2 mm: .* its turns if"
    ):
        loaded(kit)


def test_the_ruler_has_a_row_for_each_turn() -> None:
    kit = turned_kit()
    ruler = next(i for i in ruler_items(list(charts(kit).values())) if "double" in i.key)
    figures = {int(t.text) for t in texts(ruler.block.shapes) if t.text.isdigit()}
    second = {figure for figure in figures if figure > 250}
    assert {10, 240} <= figures
    assert (len(second) >= 18, max(second) >= 490) == (True, True)
    assert "2 turns" in ruler.heading


# --- thickness --------------------------------------------------------------------------------


@given(st.floats(25.0, 150.0), st.floats(0.0, 2.0), st.floats(0.0, 2.0))
def test_a_figure_is_printed_as_much_longer_as_the_strip_goes_round_farther_out(
    across: float, marker: float, ruler: float
) -> None:
    across, marker, ruler = (round(value, 3) for value in (across, marker, ruler))
    part = ring(diameter=f"{across} mm", strip_thickness=f"{marker} mm",
                ruler_thickness=f"{ruler} mm")  # fmt: skip
    assert part.ruler_mm == pytest.approx((across + marker) / (across + ruler), abs=1e-9)
    assert part.ruler_length_mm == pytest.approx(math.pi * (across + ruler), abs=1e-9)


def test_a_laminate_moves_a_figure_of_57_by_a_fifth_of_a_millimetre() -> None:
    part = ring(diameter="65 mm", strip_thickness="0.35 mm", ruler_thickness="0.1 mm")
    assert 57.0 * (part.ruler_mm - 1.0) == pytest.approx(0.219, abs=0.001)


TAPER = {"rear_diameter": "82 mm", "front_diameter": "76 mm", "width": "20 mm"}


@pytest.mark.parametrize("keys", [{}, {"turns": 2, "lead": "15.35 mm"}, TAPER])
@pytest.mark.parametrize("side", ["camera", "subject"])
def test_every_place_of_a_thicker_strip_turns_its_ring_as_the_ruler_says(
    keys: dict[str, object], side: str
) -> None:
    """An arc is the same share of once round on both strips, along the edge of the ticks."""
    kit = turned_kit() if "turns" in keys else plain_kit()
    part = kit["attachments"]["double"]["ring"]
    if keys is TAPER:
        del part["diameter"]
    part.update(keys, index_side=side, strip_thickness="0.6 mm", ruler_thickness="0.1 mm")
    (chart,) = charts(kit).values()
    measured, marks = chart.ring("attachment")
    band = marker_of(chart, "attachment").band
    shares = [band.turn(arc) + (band.x(arc) - LEAD_IN_MM) / band.length_mm for arc in marks.arc_mm]
    assert shares == pytest.approx(marks.arc_mm / measured.ruler_length_mm, abs=1e-12)
    assert max(marks.arc_mm) * (band.ruler_mm - 1.0) > 0.3
    ruler = next(item for item in ruler_items([chart]) if "double" in item.key)
    assert f"{measured.ruler_length_mm:.1f} mm round" in ruler.heading


def test_thickness_moves_what_is_printed_and_nothing_else() -> None:
    plain = charts(plain_kit())["portrait"]
    thick = charts(with_ring("front", strip_thickness="0.6 mm"))["portrait"]
    assert np.array_equal(plain.ring("attachment")[1].arc_mm, thick.ring("attachment")[1].arc_mm)
    widths = [
        np.ptp([x for x, _ in shape.points])
        for chart in (plain, thick)
        for item in strip_items([chart]) if item.key == "portrait/attachment/index"
        for shape in item.block.shapes if shape.key == "bracket:f/5.6" and isinstance(shape, Path)
    ]  # fmt: skip
    assert widths[1] / widths[0] == pytest.approx((82.0 + 0.6) / (82.0 + 0.2), rel=1e-9)


def test_equal_thicknesses_are_no_fact_of_a_print() -> None:
    alike = with_ring("front", strip_thickness="0.4 mm", ruler_thickness="0.4 mm")
    for kit, differs in ((alike, False), (with_ring("front", ruler_thickness="0.1 mm"), True)):
        facts = facts_of(charts(kit)["portrait"])
        for name in ("attachment", "attachment/index"):
            assert ("ruler millimetre" in facts[name][Topic.ATTACHMENT_RING]) is differs


# --- stock and clear tape -----------------------------------------------------------------------


def test_each_rings_strips_go_on_its_stock() -> None:
    kit = with_ring("front", stock="yellow")
    stocks = {item.key: item.stock for item in items(kit)}
    assert stocks == {
        "portrait/taking": "", "portrait/taking/index": "",
        "portrait/attachment": "yellow", "portrait/attachment/index": "yellow",
    }  # fmt: skip


def test_stock_changes_no_code_and_clear_tape_moves_no_mark() -> None:
    plain = charts(plain_kit())["portrait"]
    assert facts_of(charts(with_ring("front", stock="yellow"))["portrait"]) == facts_of(plain)
    dressed = charts(with_ring("front", stock="yellow", mirrored=True))["portrait"]
    assert np.array_equal(dressed.ring("attachment")[1].arc_mm, plain.ring("attachment")[1].arc_mm)


def test_strips_for_clear_tape_are_mirrored_and_say_so() -> None:
    for item in items(with_ring("front", mirrored=True)):
        backwards = {text.mirrored for text in texts(item.block.shapes)}
        assert backwards == {"attachment" in item.key}
        assert ("mirrored for the inside of clear tape" in item.heading) is (
            "attachment" in item.key
        )


# --- tapers and fine ticks in a pack ------------------------------------------------------------


def test_a_taper_moves_marks_by_the_index_edge_alone() -> None:
    """Figures are mm along the index edge: readings and marks are those of that cylinder."""
    around = 258.0
    edges = {
        "rear_circumference": f"{around} mm",
        "front_circumference": "236 mm",
        "width": "20 mm",
    }
    taper, plain = with_ring("front", **edges), with_ring("front", circumference=f"{around} mm")
    arcs = [charts(kit)["portrait"].ring("attachment")[1].arc_mm for kit in (taper, plain)]
    assert arcs[0] == pytest.approx(arcs[1], abs=0.02)
    found = [item for item in items(taper) if re.fullmatch(r"portrait/attachment(/\d)?", item.key)]
    assert sum(item.block.width_mm for item in found) < around
    assert all("at the index edge" in item.heading for item in found)


@pytest.mark.parametrize("which", ["taking", "attachment"])
def test_fine_ticks_stand_where_the_scale_has_their_distance(which: Any) -> None:
    chart = charts(plain_kit())["portrait"]
    marks = chart.ring(which)[1]
    assert marks.measured.arc_mm(chart.rig, chart.distances_mm) == pytest.approx(marks.arc_mm)
    for group in between(chart, which):
        ends = sorted((marks.arc_mm[group.after], marks.arc_mm[group.before]))
        for way in group.ways_mm:
            steps = np.diff([marks.arc_mm[group.after], *way, marks.arc_mm[group.before]])
            assert (np.sign(steps) == np.sign(steps[0])).all()
            assert ends[0] < min(way) <= max(way) < ends[1]


def test_a_new_reading_is_held_to_where_the_ruler_begins() -> None:
    assert RULER_BEGINS_MM == -LEAD_IN_MM
