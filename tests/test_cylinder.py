"""A strip laid round a cylinder: held to points in space, and to its own laws."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from focuschart.layout.page import Path, Text, line
from focuschart.layout.rig.cylinder import ELEVATION, Cylinder, wrapped_round
from focuschart.layout.strip.band import Reader
from focuschart.renderers.glyphs import POINTS_OF
from tests import readback
from tests.sheets import FACE, page_of, pdf_of

Floats = NDArray[np.float64]

RADIUS = st.floats(10.0, 150.0)
READER = st.sampled_from(["behind", "left", "right"])
SHARE = st.floats(-3.0, 3.0)
"""Around the barrel in radii: radians."""
ALONG = st.floats(-40.0, 40.0)

SIN, COS = math.sin(ELEVATION), math.cos(ELEVATION)

# Space: to the camera's right, up, toward the subject. Where each reader's eye is, seen from the
# barrel; what is right and up in his picture; where on the barrel he looks, clockwise from its top.
EYE = {"behind": (0, SIN, -COS), "left": (-SIN, 0, -COS), "right": (SIN, 0, -COS)}
RIGHT = {"behind": (1, 0, 0), "left": (COS, 0, -SIN), "right": (COS, 0, SIN)}
UP = {"behind": (0, COS, SIN), "left": (0, 1, 0), "right": (0, 1, 0)}
LOOK = {"behind": 0.0, "left": -math.pi / 2, "right": math.pi / 2}


def in_space(around: float, along: float, radius: float, reader: str) -> Floats:
    clock = LOOK[reader] + around / radius
    return np.array((radius * math.sin(clock), radius * math.cos(clock), along))


def test_the_readers_see_the_subject_where_they_should() -> None:
    forward = np.array((0, 0, 1))
    assert np.dot(forward, UP["behind"]) > 0
    assert np.dot(forward, RIGHT["left"]) < 0  # at the camera's left side the lens points left
    assert np.dot(forward, RIGHT["right"]) > 0


def test_a_clockwise_turn_takes_the_top_to_the_right_and_the_left_side_up() -> None:
    for reader, way in (("behind", (1, 0)), ("left", (0, 1)), ("right", (0, -1))):
        cylinder = Cylinder(30.0, reader)  # type: ignore[arg-type]
        before, after = cylinder.picture(np.array((0.0, 0.5)), np.zeros(2))
        assert (after - before) @ np.array(way) == pytest.approx(0.5, rel=1e-3)


@given(radius=RADIUS, reader=READER, share=SHARE, along=ALONG)
def test_a_point_lies_where_a_picture_of_it_in_space_has_it(
    radius: float, reader: Reader, share: float, along: float
) -> None:
    place = in_space(share * radius, along, radius, reader)
    outward = place * (1, 1, 0)
    if np.dot(outward, EYE[reader]) < 1e-6 * radius:
        return
    (found,) = Cylinder(radius, reader).picture(np.array([share * radius]), np.array([along]))
    assert found == pytest.approx(
        [np.dot(place, RIGHT[reader]), np.dot(place, UP[reader])], abs=1e-9 * radius
    )


@given(radius=RADIUS, reader=READER, share=SHARE)
def test_what_faces_away_is_not_drawn(radius: float, reader: Reader, share: float) -> None:
    outward = in_space(share * radius, 0.0, radius, reader)
    faces = np.dot(outward, EYE[reader]) / radius
    if abs(faces) < 0.01:
        return
    tick = line((share * radius, 0.0), (share * radius, 3.0))
    assert bool(Cylinder(radius, reader).drawn(tick)) == (faces > 0)


@given(radius=RADIUS, share=st.floats(-1.5, 1.5))
def test_a_length_around_is_foreshortened_by_the_cosine(radius: float, share: float) -> None:
    step = 1e-4 * radius
    places = share * radius + np.array((-step, step)) / 2
    across = Cylinder(radius).picture(places, np.zeros(2))[:, 0]
    assert np.diff(across)[0] == pytest.approx(step * math.cos(share), rel=1e-5)


@given(
    radius=RADIUS,
    reader=READER,
    corners=st.lists(st.tuples(SHARE, ALONG), min_size=2, max_size=6, unique=True),
    closed=st.booleans(),
)
def test_nothing_is_drawn_outside_the_silhouette(
    radius: float, reader: Reader, corners: list[tuple[float, float]], closed: bool
) -> None:
    if len(corners) < 3:
        closed = False
    points = tuple((radius * share, along) for share, along in corners)
    cylinder = Cylinder(radius, reader)
    for piece in cylinder.drawn(Path(points, closed, key="k")):
        across = np.array(piece.points) @ np.array(cylinder.turned(1.0, 0.0))
        assert np.abs(across).max() <= radius * (1 + 1e-12)
        assert (piece.key, piece.closed) == ("k", closed)


@given(radius=RADIUS, ends=st.tuples(SHARE, SHARE))
def test_all_of_a_line_that_is_seen_is_drawn(radius: float, ends: tuple[float, float]) -> None:
    low, high = np.clip(sorted(ends), -math.pi / 2, math.pi / 2)
    if high - low < 1e-3:
        return
    (piece,) = Cylinder(radius).drawn(line((radius * ends[0], 5.0), (radius * ends[1], 5.0)))
    across = np.array(piece.points)[:, 0] / radius
    assert sorted((across[0], across[-1])) == pytest.approx([math.sin(low), math.sin(high)])
    assert np.hypot(*np.diff(piece.points, axis=0).T).max() < 0.06 * radius  # it bends


def test_a_line_round_the_back_is_seen_in_two_pieces() -> None:
    cylinder = Cylinder(30.0)
    path = Path(((0.0, 0.0), (100.0, 0.0), (100.0, 5.0), (0.0, 5.0)))
    pieces = cylinder.drawn(path)
    assert len(pieces) == 2
    assert pieces[0].points[0][0] == pieces[1].points[-1][0] == 0.0
    assert pieces[0].points[-1][0] == pieces[1].points[0][0] == pytest.approx(30.0)


@given(turns=st.integers(-1, 1), place=st.floats(0.0, 1.0), index=st.floats(0.0, 1.0))
def test_once_more_round_is_the_same_place(turns: int, place: float, index: float) -> None:
    length = 200.0
    tick = line((place * length, 0.0), (place * length, 3.0), key="tick")
    cylinder = Cylinder(length / math.tau)

    def seen(index_x_mm: float) -> list[Path]:
        return list(
            wrapped_round([tick], cylinder, index_x_mm=index_x_mm, length_mm=length, face=FACE)
        )

    around = math.remainder(place - index, 1.0)
    if abs(abs(around) - 0.25) < 1e-6:
        return
    assert len(seen(index * length)) == (abs(around) < 0.25)
    if abs(around) < 0.25:
        (found,) = seen(index * length)
        assert found.points[0][0] == pytest.approx(
            length / math.tau * math.sin(math.tau * around), abs=1e-9
        )
        if 0.0 <= index + turns <= 1.0:
            (again,) = seen((index + turns) * length)
            assert np.array(again.points) == pytest.approx(np.array(found.points), abs=1e-9)


def test_the_tab_goes_underneath() -> None:
    hatch, seam = line((203.0, 0.0), (205.0, 9.0)), line((200.0, 0.0), (200.0, 9.0), key="seam")
    found = list(
        wrapped_round([hatch, seam], Cylinder(200 / math.tau), index_x_mm=0.0, length_mm=200.0,
                      face=FACE)
    )  # fmt: skip
    assert [path.key for path in found] == ["seam"]


def area(points: Floats) -> float:
    x, y = points.T
    return 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


@pytest.mark.parametrize("rotation", [0.0, math.pi / 2, -math.pi / 2])
@pytest.mark.parametrize("words", ["O", "8B", "1.5 m", "∞ %"])
def test_letters_keep_their_shape_in_front_and_lose_width_at_the_side(
    words: str, rotation: float
) -> None:
    radius = 1000.0
    text = Text(words, 0.0, 0.0, 2.0, "middle", rotation, key="word")
    (flat,) = Cylinder(radius).lettered(text, face=FACE)
    (side,) = Cylinder(radius).lettered(text.moved(radius * math.pi / 3, 0.0), face=FACE)
    outline = FACE.outline(words, cap_mm=2.0)
    box = np.ptp(outline.points, axis=0)
    size = np.ptp(np.array(flat.points), axis=0)
    expected = (box[0], box[1] * SIN) if rotation == 0.0 else (box[1], box[0] * SIN)
    assert size == pytest.approx(expected, rel=0.02)
    # An area on the surface shrinks with the cosine to the eye, in both directions.
    assert area(np.array(side.points)) == pytest.approx(0.5 * area(np.array(flat.points)), rel=0.02)


@pytest.mark.parametrize("words", ["l", "OO", "8B%"])
def test_between_contours_nothing_is_filled(words: str) -> None:
    """The areas of straight-sided chords can be told from the font's own curves to 2 %."""
    (path,) = Cylinder(1000.0).lettered(Text(words, 0.0, 0.0, 2.0, "middle"), face=FACE)
    outline = FACE.outline(words, cap_mm=2.0)
    on_curve: list[Floats] = []
    place, areas = 0, 0.0
    for command in outline.commands:
        if command == "Z":
            areas += area(np.array(on_curve))
            on_curve = []
            continue
        if command == "Q":
            start, control, end = np.array(on_curve[-1]), *outline.points[place : place + 2]
            on_curve.append((start + 2 * control + end) / 4)
        place += POINTS_OF[command]
        on_curve.append(outline.points[place - 1])
    assert area(np.array(path.points)) == pytest.approx(areas * SIN, rel=0.02)


@pytest.mark.parametrize(
    ("rotation", "way"),
    [(0.0, (1.0, 0.0)), (math.pi / 2, (0.0, 1.0)), (-math.pi / 2, (0.0, -1.0))],
)
def test_a_turned_text_runs_the_way_it_should(rotation: float, way: tuple[float, float]) -> None:
    # Rotation is counter-clockwise, as on every page.
    cylinder = Cylinder(1000.0)
    (path,) = cylinder.lettered(Text("HH", 0.0, 0.0, 2.0, "start", rotation), face=FACE)
    ((_, foot),) = cylinder.picture(np.zeros(1), np.zeros(1))
    reach = (np.array(path.points) - (0.0, foot)) @ np.array(way)
    assert reach.min() > 0.0
    assert reach.max() > SIN * 2.0


def test_a_text_out_of_sight_or_blank_is_not_drawn() -> None:
    cylinder = Cylinder(30.0)
    assert cylinder.lettered(Text("far", 90.0, 0.0, 2.0), face=FACE) == []
    assert cylinder.lettered(Text(" ", 0.0, 0.0, 2.0), face=FACE) == []


def test_anchors_hold() -> None:
    cylinder = Cylinder(5000.0)
    edges = []
    for anchor in ("start", "middle", "end"):
        (path,) = cylinder.lettered(Text("HH", 0.0, 0.0, 2.0, anchor), face=FACE)
        xs = np.array(path.points)[:, 0]
        edges.append((xs.min(), xs.max()))
    (start, middle, end), width = edges, FACE.width_mm("HH", cap_mm=2.0)
    assert start[0] > 0.0
    assert end[1] < 0.0
    assert (middle[0], middle[1]) == pytest.approx((start[0] - width / 2, end[1] + width / 2))


def test_holes_of_letters_stay_open() -> None:
    """One path goes from contour to contour and back: between them nothing may be filled."""
    (path,) = Cylinder(500.0).lettered(Text("OO", 0.0, 0.0, 20.0, "middle"), face=FACE)
    placed = replace(path, points=tuple((x + 50, y - 180) for x, y in path.points))
    ink = readback.raster_pdf(pdf_of(page_of(placed, size=(100.0, 80.0))), 0, 100)
    rows = ink[ink.any(axis=1)]
    crossings = np.count_nonzero(np.diff(rows[len(rows) // 2].astype(int)) == 1)
    assert crossings == 4
    assert not ink[:, ink.shape[1] // 2].any()
