"""Marker and ruler strips of every barrel: what is legible, what gives way, what is numbered."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from itertools import combinations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from focuschart.errors import PageError
from focuschart.layout.page import Path, Text
from focuschart.layout.sheet.block import Block, split
from focuschart.layout.strip.band import LEAD_IN_MM, Reader, RingBand, Side
from focuschart.layout.strip.cone import mirrored
from focuschart.layout.strip.labels import LARGEST_CAP_MM, Mark
from focuschart.layout.strip.marker import MarkerStrip, marker_strip
from focuschart.layout.strip.ruler import ruler_strip
from focuschart.layout.strip.ticks import FINE_APART_MM, Between
from focuschart.layout.text.caption import Caption
from focuschart.layout.text.typeset import SMALLEST_CAP_MM
from focuschart.pages.fine import steps_mm
from focuschart.units import scale_label
from tests.lettering import closest_line_mm, closest_words_mm, ink_quad, texts
from tests.sheets import FACE

CODE = "K7QF3-S"
CAPTIONS = (
    Caption(CODE, needed=True),
    Caption("turn nearer", "left", needed=True),
    Caption("subject side", "up", needed=True),
)
DISTANCES = (0.9, 1.0, 1.2, 1.5, 2.0, 3.0, 5.0, 10.0, math.inf)


def engraved(
    throw_mm: float, *, start: float = 10.0, distances: Sequence[float] = DISTANCES
) -> tuple[Mark, ...]:
    """Return marks even in dioptres from infinity at `start`, as a lens that extends has them."""
    nearest = min(distances)
    return tuple(
        Mark(
            scale_label(1000.0 * distance, "metric"),
            arc := start + throw_mm * nearest / distance,
            arc - 0.6,
            arc + 0.7,
            0.3,
            -2 if math.isinf(distance) else -1 if distance == nearest else number,
        )
        for number, distance in enumerate(distances)
    )


def strip(marks: tuple[Mark, ...], band: RingBand, between: tuple[Between, ...] = ()) -> Block:
    whole = MarkerStrip("rig/taking", band, marks, CAPTIONS, between)
    return marker_strip(whole, face=FACE)


def paths(block: Block, start: str) -> dict[str, Path]:
    return {s.key: s for s in block.shapes if isinstance(s, Path) and s.key.startswith(start)}


def labels(block: Block) -> dict[str, Text]:
    return {text.key: text for text in texts(block.shapes) if text.key.startswith("label:")}


def assert_clear(block: Block) -> None:
    """Nothing leaves the strip, no word is too small, and no word touches a word or a line."""
    for text in texts(block.shapes):
        corners = ink_quad(text)
        assert text.cap_mm >= SMALLEST_CAP_MM
        assert corners.min() > 0.0
        assert (corners.max(axis=0) < (block.width_mm, block.height_mm)).all()
    assert closest_words_mm(block.shapes) > 0.3
    lines = ("mark:", "fine:", "zone:", "zero", "seam", "row:", "mm:", "leader:", "scale:")
    assert closest_line_mm(block.shapes, *lines) > 0.05


# --- every barrel -----------------------------------------------------------------------------


@given(
    diameter=st.floats(30.0, 160.0),
    throw=st.floats(20.0, 340.0),
    width=st.floats(4.0, 40.0),
    side=st.sampled_from(["camera", "subject"]),
)
@settings(deadline=None, max_examples=60)
@example(diameter=30.0, throw=20.0, width=4.0, side="camera")
@example(diameter=160.0, throw=340.0, width=40.0, side="subject")
def test_any_barrel_and_throw_gets_a_clear_strip(
    diameter: float, throw: float, width: float, side: Side
) -> None:
    around = math.pi * diameter
    marks = engraved(around * throw / 360.0, start=1.0)
    block = strip(marks, RingBand(around, width, "behind", side))
    assert_clear(block)
    assert {"label:0", f"label:{len(marks) - 1}"} <= labels(block).keys()
    zero = paths(block, "zero")["zero"].points[0][0]
    for key, tick in paths(block, "mark:").items():
        arc = marks[int(key.removeprefix("mark:"))].arc_mm
        off = math.remainder(tick.points[0][0] - zero - arc, around)
        assert off == pytest.approx(0.0, abs=1e-9)


@given(diameter=st.floats(30.0, 160.0), throw=st.floats(361.0, 720.0), width=st.floats(12.0, 40.0))
@settings(deadline=None, max_examples=40)
@example(diameter=30.0, throw=720.0, width=12.0)
def test_every_mark_of_some_turns_lies_in_the_row_of_its_turn(
    diameter: float, throw: float, width: float
) -> None:
    around = math.pi * diameter
    marks = engraved(around * throw / 360.0, start=0.0)
    turns = 2 if throw < 600.0 else 3
    block = strip(marks, RingBand(around, width, "behind", "camera", turns))
    assert_clear(block)
    row = width / turns
    for key, tick in paths(block, "mark:").items():
        arc = marks[int(key.removeprefix("mark:"))].arc_mm
        turn, x = divmod(arc + LEAD_IN_MM, around)
        assert tick.points[0] == pytest.approx((x, turn * row))
        assert turn * row < tick.points[1][1] < (turn + 1) * row
    for key, label in labels(block).items():
        turn = (marks[int(key.removeprefix("label:"))].arc_mm + LEAD_IN_MM) // around
        assert turn * row < label.y < (turn + 1) * row
    badges = [text for text in texts(block.shapes) if text.key.startswith("turn:")]
    numbers = {(text.text.removeprefix("turn "), text.y // row) for text in badges}
    assert numbers == {(f"{turn + 1}", turn) for turn in range(turns)}


def test_one_place_on_two_turns_gets_two_marks() -> None:
    band = RingBand(200.0, 12.0, "behind", "camera", 2)
    marks = tuple(
        Mark(label, arc, arc, arc, 0.1, rank)
        for rank, (label, arc) in enumerate((("2", 60.0), ("1", 260.0)), start=-2)
    )
    block = strip(marks, band)
    assert labels(block)["label:0"].x == labels(block)["label:1"].x
    assert_clear(block)


def test_a_zone_across_the_seam_goes_on_in_the_next_row() -> None:
    band = RingBand(200.0, 12.0, "behind", "camera", 2)
    block = strip((Mark("1", 190.0, 185.0, 199.0, 0.1, 0),), band)
    first, second = (paths(block, "zone:0")[f"zone:0.{part}"].points for part in (0, 1))
    assert [x for x, _ in first] == pytest.approx([193.0, 200.0])
    assert [x for x, _ in second] == pytest.approx([0.0, 7.0])
    assert first[0][1] < 6.0 < second[0][1]


@pytest.mark.parametrize(("arc", "turns"), [(400.0, 2), (-9.0, 2)])
def test_a_mark_outside_the_turns_is_named(arc: float, turns: int) -> None:
    band = RingBand(200.0, 12.0, "behind", "camera", turns)
    with pytest.raises(PageError, match=rf'the mark "1", {arc:.0f} mm from zero, lies outside'):
        strip((Mark("1", arc, arc, arc, 0.1, 0),), band)


# --- legibility -------------------------------------------------------------------------------


@pytest.mark.parametrize(("width", "cap"), [(4.0, 1.6), (8.0, 3.6), (12.0, 4.0), (30.0, 4.0)])
def test_labels_are_as_large_as_the_strip_allows(width: float, cap: float) -> None:
    block = strip(engraved(260.0), RingBand(400.0, width, "behind", "camera"))
    sizes = {label.cap_mm for label in labels(block).values()}
    assert len(sizes) == 1
    assert cap <= sizes.pop() <= LARGEST_CAP_MM


def test_larger_labels_never_cost_one() -> None:
    """Nine marks over 40 mm: at the smallest size all stand, so at the size chosen all do."""
    block = strip(engraved(60.0), RingBand(300.0, 12.0, "behind", "camera"))
    assert len(labels(block)) == len(DISTANCES)
    assert min(label.cap_mm for label in labels(block).values()) > SMALLEST_CAP_MM


@given(st.lists(st.floats(0.0, 60.0), min_size=3, max_size=40))
@example([0.0, 25.0, 14.0, 15.0])
@settings(deadline=None, max_examples=60)
def test_crowded_marks_keep_the_ends_and_the_round_ones(arcs: list[float]) -> None:
    """A label gives way only to one of better rank that is within reach of it."""
    marks = tuple(
        Mark(f"{n}.5", arc, arc - 0.2, arc + 0.2, 0.1, n - 2) for n, arc in enumerate(arcs)
    )
    block = strip(marks, RingBand(300.0, 12.0, "behind", "camera"))
    assert_clear(block)
    kept = {int(key.removeprefix("label:")): text.x for key, text in labels(block).items()}
    assert {0, 1} <= set(kept)
    cap = next(iter(labels(block).values())).cap_mm
    half = max(FACE.width_mm(mark.label, cap_mm=cap) for mark in marks) / 2.0
    for number in set(range(len(arcs))) - set(kept):
        x = arcs[number] + LEAD_IN_MM
        better = [abs(place - x) for other, place in kept.items() if other < number]
        beside_zero = arcs[number] < half + 1.2
        assert min(better) < 2.0 * half + 1.4 + (half + 1.2 if beside_zero else 0.0)


def test_a_mark_without_a_label_is_a_short_plain_tick() -> None:
    marks = tuple(Mark("10.5", 50.0 + n, 49.0 + n, 51.0 + n, 0.4, n - 2) for n in range(5))
    block = strip(marks, RingBand(300.0, 6.0, "behind", "camera"))
    kept = {key.removeprefix("label:") for key in labels(block)}
    ticks = {key.removeprefix("mark:"): tick for key, tick in paths(block, "mark:").items()}
    heights = {key: tick.points[1][1] for key, tick in ticks.items()}
    assert kept < ticks.keys()
    assert max(heights[key] for key in ticks.keys() - kept) < min(heights[key] for key in kept)
    assert {key.split(":")[1].split(".")[0] for key in paths(block, "zone:")} == kept


@pytest.mark.parametrize("side", ["camera", "subject"])
def test_a_mark_that_is_not_sure_has_a_hollow_tick_about_its_place(side: Side) -> None:
    marks = engraved(120.0)
    doubtful = (*marks[:2], marks[2]._replace(sure=False), *marks[3:])
    band = RingBand(250.0, 12.0, "behind", side)
    plain, hollow = (paths(strip(each, band), "mark:") for each in (marks, doubtful))
    assert [key for key, tick in hollow.items() if tick != plain[key]] == ["mark:2"]
    one, other = np.array(plain["mark:2"].points), np.array(hollow["mark:2"].points)
    assert (hollow["mark:2"].closed, hollow["mark:2"].fill) == (True, None)
    assert other.mean(axis=0) == pytest.approx(one.mean(axis=0))
    assert np.ptp(other[:, 1]) == pytest.approx(np.ptp(one[:, 1]))
    assert np.ptp(other[:, 0]) - (hollow["mark:2"].stroke_mm or 0.0) > 0.5
    assert_clear(strip(doubtful, band))


def test_a_strip_for_a_reader_at_the_side_names_the_label_that_is_too_long() -> None:
    marks = (*engraved(100.0), Mark("4'11.5\"", 120.0, 119.0, 121.0, 0.3, 5))
    for reader in ("left", "right"):
        with pytest.raises(
            PageError, match=r'label "4\'11\.5"", \d\.\d mm long .* room for 3\.\d mm'
        ):
            strip(marks, RingBand(300.0, 6.0, reader, "camera"))
        assert_clear(strip(marks, RingBand(300.0, 12.0, reader, "camera")))


def test_the_code_comes_before_the_least_round_labels() -> None:
    marks = engraved(280.0 / 360.0 * 94.2)
    block = strip(marks, RingBand(94.2, 4.0, "behind", "camera"))
    assert CODE in [text.text for text in texts(block.shapes)]
    kept = {int(key.removeprefix("label:")) for key in labels(block)}
    assert {0, 8} <= kept
    assert set(range(9)) - kept <= {5, 6, 7}
    assert_clear(block)


def test_a_code_without_room_is_named_with_the_widest_gap() -> None:
    marks = tuple(Mark("1", arc, arc, arc, 0.0, -1) for arc in range(-7, 18, 8))
    with pytest.raises(
        PageError, match=rf'"{CODE}" .* takes 9\.\d mm, the widest gap is [0-8]\.\d'
    ):
        strip(marks, RingBand(26.0, 4.0, "behind", "camera"))


def test_a_long_name_loses_its_end_and_not_its_place() -> None:
    name = Caption("A taking lens with a name that nobody could ever fit on it", name=True)
    whole = MarkerStrip(
        "s", RingBand(94.2, 8.0, "behind", "camera"), engraved(40.0), (*CAPTIONS, name)
    )
    block = marker_strip(whole, face=FACE)
    (found,) = (t.text for t in texts(block.shapes) if t.text.startswith("A taking"))
    assert found.endswith("…")
    assert_clear(block)


@given(st.floats(40.0, 330.0), st.floats(30.0, 160.0))
@settings(deadline=None, max_examples=30)
def test_labels_in_two_units_stand_farther_apart_than_their_units(
    throw: float, diameter: float
) -> None:
    around = math.pi * diameter
    marks = tuple(
        mark._replace(label=scale_label(1000.0 * distance, "both"))
        for mark, distance in zip(engraved(around * throw / 360.0), DISTANCES, strict=True)
    )
    found = labels(strip(marks, RingBand(around, 20.0, "behind", "camera"))).values()
    space = FACE.width_mm("1 1", cap_mm=1.0) - FACE.width_mm("11", cap_mm=1.0)
    for one, other in combinations(found, 2):
        if one.y == other.y:
            reach = sum(FACE.width_mm(t.text, cap_mm=t.cap_mm) for t in (one, other)) / 2.0
            assert abs(one.x - other.x) - reach > 2.0 * space * one.cap_mm


# --- the code on every piece --------------------------------------------------------------------


@given(st.floats(200.0, 500.0), st.floats(40.0, 330.0), st.sampled_from([210.0, 235.0, 273.0]))
@settings(deadline=None, max_examples=60)
def test_every_long_piece_of_a_split_strip_bears_the_code(
    around: float, throw: float, longest: float
) -> None:
    """Short ones too, where no millimetres take the room."""
    block = strip(engraved(around * throw / 360.0), RingBand(around, 12.0, "behind", "camera"))
    for piece in (*split(block, longest), *split(mirrored(block), longest)):
        # Less than the tab, the code and the room for a joint; and what millimetres may leave.
        bare = not any(text.key.startswith("scale-figure") for text in texts(piece.shapes))
        if piece.width_mm > (45.0 if bare else 155.0):
            assert CODE in [text.text for text in texts(piece.shapes)]


def test_a_short_strip_bears_the_code_once() -> None:
    block = strip(engraved(120.0), RingBand(180.0, 12.0, "behind", "camera"))
    assert [text.text for text in texts(block.shapes)].count(CODE) == 1


# --- fine ticks -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("near", "far", "found"),
    [
        (1000.0, 1200.0, [9, 3, 1]),
        (1500.0, 2000.0, [9, 4]),
        (5000.0, 10000.0, [9, 4]),
        (1270.0, 1300.0, [2]),
        (1273.0, 1300.0, []),
    ],
)
def test_fine_steps_are_round_and_meet_both_marks(
    near: float, far: float, found: list[int]
) -> None:
    ways = list(steps_mm(near, far, "metric"))
    assert [len(way) for way in ways] == found
    for way in ways:
        assert np.ptp(np.diff((near, *way, far))) == pytest.approx(0.0, abs=1e-6)


def test_fine_steps_in_feet_are_inches() -> None:
    foot = 304.8
    assert [len(way) for way in steps_mm(4 * foot, 5 * foot, "imperial")] == [11, 5, 3, 1]


def test_before_infinity_one_fine_tick_stands_half_way_in_dioptres() -> None:
    assert list(steps_mm(10_000.0, math.inf, "metric")) == [(20_000.0,)]


def test_fine_ticks_are_the_finest_with_room_and_unlabelled() -> None:
    marks = engraved(60.0, distances=(1.0, 2.0, math.inf))
    ways = (tuple(np.linspace(41.0, 69.0, 60)), (50.0, 55.0, 60.0), (55.0,))
    block = strip(marks, RingBand(250.0, 12.0, "behind", "camera"), (Between(0, 1, ways),))
    fine = paths(block, "fine:")
    zero = paths(block, "zero")["zero"].points[0][0]
    assert [tick.points[0][0] - zero for tick in fine.values()] == pytest.approx([50, 55, 60])
    heights = [tick.points[1][1] for tick in fine.values()]
    assert heights[0] == heights[2] < heights[1] < paths(block, "mark:")["mark:0"].points[1][1]
    assert all((tick.stroke_mm or 9.0) < 0.15 for tick in fine.values())
    assert_clear(block)


def test_fine_ticks_never_crowd_and_never_come_in_part() -> None:
    marks = engraved(60.0, distances=(1.0, 2.0, math.inf))
    near = marks[0].arc_mm - 0.8 * FINE_APART_MM
    for ways in (((50.0, near),), ((50.0, 50.5),), ((-0.5, 55.0),)):
        block = strip(marks, RingBand(250.0, 12.0, "behind", "camera"), (Between(0, 1, ways),))
        assert not paths(block, "fine:")


# --- the ruler's millimetres --------------------------------------------------------------------


@pytest.mark.parametrize("side", ["camera", "subject"])
@pytest.mark.parametrize("ruler_mm", [1.0, 1.004])
def test_a_figure_read_through_the_strip_is_a_ruler_figure(side: Side, ruler_mm: float) -> None:
    band = RingBand(250.0, 24.0, "behind", side, ruler_mm=ruler_mm)
    block = strip(engraved(120.0), band)
    ticks = {int(key.removeprefix("scale:")): t for key, t in paths(block, "scale:").items()}
    assert {0, 57, 100} <= ticks.keys()
    for arc, tick in ticks.items():
        assert tick.points[0][0] - LEAD_IN_MM == pytest.approx(arc * ruler_mm, abs=1e-9)
        assert tick.points[0][1] == (24.0 if side == "camera" else 0.0)
    for text in texts(block.shapes):
        if text.key.startswith("scale-figure:"):
            assert text.x == pytest.approx(ticks[int(text.text)].points[0][0], abs=1e-9)
    assert_clear(block)


@pytest.mark.parametrize(
    ("width", "ticks", "figures"),
    [(4.0, 0, 0), (6.0, 0, 0), (9.0, 250, 11), (12.0, 250, 23), (30.0, 250, 23)],
)
def test_millimetres_are_there_where_the_labels_leave_room(
    width: float, ticks: int, figures: int
) -> None:
    block = strip(engraved(200.0), RingBand(250.0, width, "behind", "camera"))
    assert len(paths(block, "scale:")) == ticks
    assert sum(text.key.startswith("scale-figure:") for text in texts(block.shapes)) == figures


@given(
    width=st.floats(7.0, 16.0), throw=st.floats(40.0, 330.0),
    reader=st.sampled_from(["behind", "left", "right"]),
    side=st.sampled_from(["camera", "subject"]),
)  # fmt: skip
@settings(deadline=None, max_examples=60)
def test_figures_stand_clear_of_all_words(
    width: float, throw: float, reader: Reader, side: Side
) -> None:
    """Where a row has no height for all of them, only those that are clear are written."""
    block = strip(engraved(250.0 * throw / 360.0), RingBand(250.0, width, reader, side))
    figures = [text for text in texts(block.shapes) if text.key.startswith("scale-figure:")]
    assert bool(paths(block, "scale:")) >= bool(figures)
    assert_clear(block)


@pytest.mark.parametrize("reader", ["left", "right"])
def test_labels_across_a_strip_of_usual_width_leave_room_for_millimetres(reader: Reader) -> None:
    """The ticks become shorter, never the labels."""
    marks = engraved(150.0, distances=(1.0, 1.2, 1.5, 2.5, 10.0, math.inf))
    block = strip(marks, RingBand(250.0, 12.0, reader, "camera"))
    assert paths(block, "scale:")
    tick = paths(block, "mark:")["mark:0"]
    assert 1.4 <= abs(tick.points[1][1] - tick.points[0][1]) < 2.88
    assert_clear(block)


@pytest.mark.parametrize("reader", ["behind", "left"])
@pytest.mark.parametrize("turns", [1, 2])
def test_millimetres_cost_no_label_and_no_size(
    reader: Reader, turns: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    band = RingBand(250.0, 20.0 * turns, reader, "camera", turns)
    block = strip(engraved(120.0), band)
    assert paths(block, "scale:")
    monkeypatch.setattr("focuschart.layout.strip.marker.heights_mm", lambda *_, **__: ())
    plain = strip(engraved(120.0), band)
    assert not paths(plain, "scale:")
    assert {(key, text.x, text.cap_mm) for key, text in labels(block).items()} == {
        (key, text.x, text.cap_mm) for key, text in labels(plain).items()
    }
    assert_clear(block)


# --- rulers -----------------------------------------------------------------------------------


@pytest.mark.parametrize("turns", [1, 2, 4])
@pytest.mark.parametrize("width", [4.0, 6.0, 12.0])
@pytest.mark.parametrize("side", ["camera", "subject"])
def test_a_ruler_counts_on_through_all_turns(turns: int, width: float, side: Side) -> None:
    around = 201.69
    band = RingBand(around, width * turns, "behind", side, turns)
    block = ruler_strip(band, CAPTIONS[:0], face=FACE)
    ticks = {int(key.removeprefix("mm:")): tick for key, tick in paths(block, "mm:").items()}
    first, last = math.ceil(-LEAD_IN_MM), math.ceil(turns * around - LEAD_IN_MM) - 1
    assert list(ticks) == list(range(first, last + 1))
    for arc, tick in ticks.items():
        turn, x = divmod(arc + LEAD_IN_MM, around)
        base = turn * width if side == "camera" else (turns - turn) * width
        assert tick.points[0] == pytest.approx((x, base), abs=1e-9)
    figures = [text for text in texts(block.shapes) if re.fullmatch(r"\d+", text.text)]
    assert {int(text.text) for text in figures} == set(range(10, last + 1, 10))
    zero, seam = LEAD_IN_MM, around
    for text in figures:
        place = ticks[int(text.text)].points[0][0]
        # A figure stands at its tick but where it would cross the zero line, an end or the seam.
        beside = min(abs(place - zero), place, seam - place) < 3.3
        assert abs(text.x - place) < (3.3 if beside else 1e-9)
    assert_clear(block)


@pytest.mark.parametrize("side", ["camera", "subject"])
@pytest.mark.parametrize(
    ("width", "turns", "words"),
    [(4.0, 1, 0), (8.0, 1, 0), (8.0, 2, 0), (16.0, 2, 0), (12.0, 1, 1), (24.0, 2, 1)],
)
def test_every_ruler_has_the_triangle_that_points_to_the_subject(
    side: Side, width: float, turns: int, words: int
) -> None:
    block = ruler_strip(RingBand(200.0, width, "behind", side, turns), CAPTIONS[2:], face=FACE)
    assert [text.text for text in texts(block.shapes)].count("subject side") == words
    (triangle,) = paths(block, "arrow:").values()
    left, right, tip = triangle.points
    assert left[1] == right[1] < tip[1]
    ends = np.array(triangle.points)
    assert np.all((ends > 0.0) & (ends < (200.0, width)))
    assert all(abs(text.x - tip[0]) > 3.0 or abs(text.y - left[1]) > 2.0
               for text in texts(block.shapes) if text.key.startswith("figure:"))  # fmt: skip
    ticks = paths(block, "mm:").values()
    assert not any(
        left[0] <= tick.points[0][0] <= right[0]
        and min(y for _, y in tick.points) < tip[1]
        and max(y for _, y in tick.points) > left[1]
        for tick in ticks
    )


@pytest.mark.parametrize(("width", "turns"), [(4.0, 1), (8.0, 2), (12.0, 2), (12.0, 3), (30.0, 2)])
@pytest.mark.parametrize("name", ["Brass 2x", "A lens with a long name 85 mm"])
def test_every_ruler_tells_its_ring_inside_the_cut(width: float, turns: int, name: str) -> None:
    band = RingBand(200.0, width, "behind", "camera", turns)
    captions = (Caption(f"{name}: ruler, mm"), Caption("subject side", "up"))
    block = ruler_strip(band, captions, face=FACE)
    words = " ".join(t.text for t in texts(block.shapes) if t.key.startswith(("caption", "tab-")))
    assert name[:3].split(" ", maxsplit=1)[0] in words
    assert_clear(block)


@pytest.mark.parametrize("turns", [2, 3, 4])
@pytest.mark.parametrize("room", [60.0, 83.0, 130.0])
def test_a_ruler_in_pieces_keeps_every_figure_clear_of_the_joins(turns: int, room: float) -> None:
    around = 201.69
    band = RingBand(around, 4.0 * turns, "behind", "camera", turns)
    whole = ruler_strip(band, CAPTIONS[:0], face=FACE)
    pieces = split(whole, room)
    found, start = set(), 0.0
    for piece in pieces:
        for text in texts(piece.shapes):
            quad = ink_quad(text)
            assert quad.min() > 0.0
            assert (quad.max(axis=0) < (piece.width_mm, piece.height_mm)).all()
            found.add(int(text.text))
            # Nearer to its own tick than to any other figure's.
            place = (int(text.text) + LEAD_IN_MM) % around
            assert abs(text.x + start - place) < 4.5
        start += piece.width_mm
        assert closest_words_mm(piece.shapes) > 0.3
    assert found == {int(text.text) for text in texts(whole.shapes)}


def test_a_ruler_too_low_for_its_turns_is_refused() -> None:
    with pytest.raises(PageError, match="no room for 3 turns: raise the ring's strip_width to 12"):
        ruler_strip(RingBand(200.0, 9.0, "behind", "camera", 3), CAPTIONS, face=FACE)


@pytest.mark.parametrize("reader", ["left", "right"])
@pytest.mark.parametrize("side", ["camera", "subject"])
@pytest.mark.parametrize("width", [10.0, 12.0, 16.0, 25.0])
def test_labels_across_a_strip_keep_off_the_cut(reader: Reader, side: Side, width: float) -> None:
    block = strip(engraved(150.0), RingBand(220.0, width, reader, side))
    for text in labels(block).values():
        corners = ink_quad(text)
        assert corners[:, 1].min() >= 1.5 - 1e-6
        assert corners[:, 1].max() <= width - 1.5 + 1e-6


READERS: tuple[Reader, ...] = ("behind", "left", "right")


@pytest.mark.parametrize("reader", READERS)
def test_labels_never_touch_for_any_reader(reader: Reader) -> None:
    assert_clear(strip(engraved(70.0), RingBand(250.0, 14.0, reader, "subject")))


@pytest.mark.parametrize("diameter", [30.0, 92.2, 160.2])
@pytest.mark.parametrize("turns", [1, 2, 3, 4])
def test_a_ruler_of_any_turns_can_be_joined_from_pieces(diameter: float, turns: int) -> None:
    band = RingBand(math.pi * diameter, 24.0, "behind", "camera", turns)
    block = ruler_strip(band, CAPTIONS, face=FACE)
    for room in (267.0, 80.0):
        pieces = split(block, room)
        assert sum(piece.width_mm for piece in pieces) == pytest.approx(block.width_mm)
        assert max(piece.width_mm for piece in pieces) <= room
