"""Sheets: everything on them once and at its true size, nothing touching, few sheets used."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import combinations
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from focuschart.errors import PageError
from focuschart.layout.card.size import card_size
from focuschart.layout.page import Page, Path, Shape, Text, box, line, rounded_box
from focuschart.layout.sheet.block import Block, cut_box, split, turned
from focuschart.layout.sheet.cut_marks import area_mm2
from focuschart.layout.sheet.finish import Finish
from focuschart.layout.sheet.pieces import Item
from focuschart.layout.sheet.sheets import imposed
from focuschart.layout.strip.band import RingBand, Side
from focuschart.layout.strip.cone import cone_of, developed, mirrored
from focuschart.layout.strip.index import Bracket, IndexStrip, index_strip
from focuschart.layout.strip.ruler import ruler_strip
from focuschart.pages.pack import GLUE, LASER
from tests.sheets import FACE, sheets

LABELS = "labels 99.1 x 38.1 mm, 2 x 7 on A4, left 4.65 mm, top 15.15 mm, pitch 101.6 x 38.1 mm"
ROOMY = "labels 80 x 60 mm, 2 x 4 on A4, left 20 mm, top 20 mm, pitch 85 x 62 mm"
PAPERS = ["A4", "A3", "Letter", "330 x 200 mm", "roll 100 mm", LABELS, ROOMY]
Box = tuple[float, float, float, float]


def flat(width: float, height: float, every: float = 10.0) -> Block:
    """Return a strip with a numbered tick and figure every so often, and a ground to its edge."""
    places = np.arange(5.0, width - 4.0, every).tolist()
    ticks = [line((x, 0.0), (x, 4.0), key=f"mark:{n}") for n, x in enumerate(places)]
    words = [Text(f"{n}", x, 5.0, 1.6, "middle", key=f"figure:{n}") for n, x in enumerate(places)]
    ground = box(0.0, 0.0, width, 1.0, stroke_mm=None, fill="#cccccc", key="ground")
    keep = tuple((x - 2.0, x + 2.0) for x in places)
    return Block(width, height, (ground, *ticks, *words), cut_box(width, height), keep)


def sector(radius: float, width: float, angle: float) -> Block:
    """Return an annular sector on its bounding box, its apex above."""
    turn = np.linspace(-angle / 2.0, angle / 2.0, 181)
    way = np.column_stack((np.sin(turn), -np.cos(turn)))
    points = np.vstack((radius * way, (radius - width) * way[::-1]))
    points -= points.min(axis=0)
    wide, high = points.max(axis=0).tolist()
    corners = tuple((x, y) for x, y in points.tolist())
    outline = Path(corners, closed=True, group="cut", key="outline")
    return Block(wide, high, (), (outline,))


def box_of(shape: Shape) -> Box:
    if isinstance(shape, Path):
        xs, ys = zip(*shape.points, strict=True)
        return min(xs), min(ys), max(xs), max(ys)
    width = FACE.width_mm(shape.text, cap_mm=shape.cap_mm)
    left = -{"start": 0.0, "middle": 0.5, "end": 1.0}[shape.anchor] * width
    cos, sin = math.cos(shape.rotation), math.sin(shape.rotation)
    corners = [
        (shape.x + u * cos - v * sin, shape.y + u * sin + v * cos)
        for u in (left, left + width) for v in (0.0, shape.cap_mm)
    ]  # fmt: skip
    xs, ys = zip(*corners, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def gap(one: Box, other: Box) -> float:
    """Return how far two upright rectangles are apart along one axis, below zero if they meet."""
    return max(one[0] - other[2], other[0] - one[2], one[1] - other[3], other[1] - one[3])


def grown_box(box: Box, by: float) -> Box:
    return box[0] - by, box[1] - by, box[2] + by, box[3] + by


def cuts(page: Page) -> dict[str, Path]:
    return {s.key.removesuffix("/outline"): s for s in page.in_group("cut") if isinstance(s, Path)}


def keyed(page: Page, pattern: str) -> list[Path]:
    return [s for s in page.shapes if isinstance(s, Path) and re.fullmatch(pattern, s.key)]


def plain_words(page: Page) -> list[Text]:
    """Return headings and furniture: the texts that no block brought."""
    return [s for s in page.shapes if isinstance(s, Text) and "/" not in s.key]


def assert_clear(page: Page, finish: Finish) -> None:
    """Nothing of one item meets another, the furniture or the sheet's edge."""
    cut = {key: box_of(path) for key, path in cuts(page).items()}
    around = {key: grown_box(edge, finish.reach_mm) for key, edge in cut.items()}
    bars = [box_of(bar) for bar in keyed(page, r"check-(across|up).*")]
    words = [box_of(text) for text in plain_words(page)]
    for one, other in combinations(around.values(), 2):
        assert gap(one, other) >= 1.0 - 1e-6
    for edge in around.values():
        assert min(edge[0], edge[1]) >= 5.0 - 1e-6
        assert max(edge[2] - page.width_mm, edge[3] - page.height_mm) <= -5.0 + 1e-6
        assert all(gap(edge, bar) > 0.0 for bar in bars)
    for shape in page.in_group("crop"):
        assert isinstance(shape, Path)
        mark = box_of(shape)
        near = [key for key, edge in around.items() if gap(mark, edge) < 0.0]
        assert len(near) == 1
        away = distances(shape.points, cuts(page)[near[0]])
        assert min(away) >= finish.bleed_mm + 1.0 - 1e-3
        assert all(gap(mark, word) > 0.0 for word in words)
    for shape in page.in_group("film"):
        assert min(gap(box_of(shape), bar) for bar in bars) > 0.0
        assert all(gap(box_of(shape), word) > 0.0 for word in words)
    for word in words:
        assert min(word) >= 3.0
        assert max(word[2] - page.width_mm, word[3] - page.height_mm) <= -5.0
        assert all(gap(word, edge) > finish.bleed_mm for edge in cut.values())
    assert all(gap(one, other) > 0.0 for one, other in combinations(words, 2))


STRIPS = st.builds(flat, st.floats(15.0, 420.0), st.floats(8.0, 20.0), st.floats(9.0, 14.0))
SECTORS = st.builds(sector, st.floats(150.0, 400.0), st.floats(8.0, 14.0), st.floats(0.1, 0.3))
FINISHES = st.builds(
    Finish,
    copies=st.integers(1, 3),
    bleed_mm=st.sampled_from([0.0, 2.0]),
    film_mm=st.sampled_from([0.0, 3.0, 5.0]),
)


def items_of(blocks: Iterable[Block], *stocks: str) -> list[Item]:
    names = stocks or ("",)
    return [
        Item(f"k{n}", f"Strip {n} of the invented bag", block, names[n % len(names)])
        for n, block in enumerate(blocks)
    ]


@given(st.lists(STRIPS | SECTORS, min_size=1, max_size=12), FINISHES, st.sampled_from(PAPERS[:4]))
@settings(deadline=None, max_examples=30)
def test_all_items_are_there_once_clear_of_each_other(
    blocks: list[Block], finish: Finish, paper: str
) -> None:
    found = imposed(items_of(blocks), paper=paper, title="Strips", face=FACE, finish=finish)
    assert len(found.pages) >= found.least >= 1
    areas: Counter[str] = Counter()
    for page in found.pages:
        assert_clear(page, finish)
        for key, path in cuts(page).items():
            name = key.split("/")[0] + "/" + key.partition("copy:")[2]
            areas[name] += area_mm2(path)  # type: ignore[assignment]
    copies = [""] if finish.copies == 1 else [str(n + 1) for n in range(finish.copies)]
    expected = {
        f"k{n}/{copy}": area_mm2(block.outline[0])
        for n, block in enumerate(blocks)
        for copy in copies
    }
    assert areas == pytest.approx(expected)
    every = [key for page in found.pages for key in cuts(page)]
    assert len(every) == len(set(every))


@pytest.mark.parametrize("way", ["landscape", "portrait"])
@pytest.mark.parametrize("paper", ["A4", "A3", "Letter"])
def test_either_way_up_is_as_asked_and_auto_takes_no_more_sheets(paper: str, way: Any) -> None:
    items = items_of([flat(190.0 + n, 12.0) for n in range(30)])
    pages = sheets(items, paper=paper, title="t", face=FACE, finish=Finish(way=way))
    assert {page.width_mm > page.height_mm for page in pages} == {way == "landscape"}
    for page in pages:
        assert_clear(page, Finish())
    assert len(sheets(items, paper=paper, title="t", face=FACE)) <= len(pages)


def test_typical_sets_come_near_the_bound() -> None:
    blocks = [flat(180.0 + 9.0 * (n % 11), 12.0) for n in range(60)]
    blocks += [flat(28.0, 19.0) for _ in range(40)]
    found = imposed(items_of(blocks), paper="A4", title="t", face=FACE)
    assert found.least <= len(found.pages) <= 1.25 * found.least


def test_equal_strips_fill_a_sheet_as_a_hand_would() -> None:
    """By hand: 12 + 2 × 3 mm of marks + 1 mm is 19 mm; (183 + 1) / 19 is 9 on A4 lying,
    (193 + 1) / 19 is 10 upright: two sheets hold 20, three lying would be needed."""
    items = items_of([flat(240.0, 12.0) for _ in range(20)])
    found = imposed(items, paper="A4", title="t", face=FACE)
    assert len(found.pages) == 2
    assert found.pages[0].width_mm == 210.0


def test_no_last_piece_is_too_short_to_handle() -> None:
    for width in np.arange(275.0, 330.0, 1.0).tolist():
        pages = sheets(items_of([flat(width, 12.0)]), paper="A4", title="t", face=FACE)
        boxes = [box_of(path) for page in pages for path in cuts(page).values()]
        assert len(boxes) == 2
        assert min(max(box[2] - box[0], box[3] - box[1]) for box in boxes) >= 25.0


# --- rigid motions --------------------------------------------------------------------------------


@given(STRIPS)
@settings(deadline=None, max_examples=20)
def test_four_quarter_turns_are_none(block: Block) -> None:
    once = turned(block)
    assert (once.width_mm, once.height_mm) == (block.height_mm, block.width_mm)
    back = turned(turned(turned(once)))
    for shape, other in zip(block.shapes, back.shapes, strict=True):
        assert box_of(shape) == pytest.approx(box_of(other), abs=1e-9)


@given(st.floats(210.0, 270.0))
@settings(deadline=None, max_examples=20)
def test_a_turned_strip_is_moved_rigidly(width: float) -> None:
    """A plane motion that keeps lengths and handedness maps z to a·z + b with |a| = 1."""
    block = flat(width, 12.0)
    (page,) = sheets([Item("k", "k", block)], paper="roll 100 mm", title="t", face=FACE)
    there = {s.key.removeprefix("k/"): s for s in page.shapes if s.key.startswith("k/")}
    before, after = [], []
    for shape in (*block.shapes, *block.outline):
        moved = there[shape.key]
        if isinstance(shape, Path):
            assert isinstance(moved, Path)
            before += [complex(*point) for point in shape.points]
            after += [complex(*point) for point in moved.points]
        else:
            assert isinstance(moved, Text)
            assert moved.rotation - shape.rotation == pytest.approx(math.pi / 2.0)
            before.append(complex(shape.x, shape.y))
            after.append(complex(moved.x, moved.y))
    steps, moved_steps = np.diff(before), np.diff(after)
    assert np.allclose(moved_steps, 1j * steps, rtol=0.0, atol=1e-9)


# --- pieces ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("paper", ["A4", LABELS, ROOMY])
def test_pieces_rejoin_to_the_strip(paper: str) -> None:
    block = flat(412.0, 12.0)
    pages = sheets([Item("k", "A strip", block)], paper=paper, title="t", face=FACE)
    edges = {int(key.split("/")[1]): path for page in pages for key, path in cuts(page).items()}
    assert len(edges) > 1
    reached, found = 0.0, {}
    for number in range(1, len(edges) + 1):
        left, low, right, top = box_of(edges[number])
        is_turned = top - low > right - left
        for page in pages:
            for tick in keyed(page, rf"k/{number}/mark:\d+"):
                (x, y) = tick.points[0]
                along = y - low if is_turned else x - left
                found[tick.key.rpartition("/")[2]] = reached + along
        reached += max(right - left, top - low)
    assert reached == pytest.approx(block.width_mm)
    expected = {s.key: box_of(s)[0] for s in block.shapes if s.key.startswith("mark:")}
    assert found == pytest.approx(expected)


def test_a_roll_splits_nothing_and_is_as_long_as_needed() -> None:
    items = items_of([flat(300.0 + n, 12.0) for n in range(9)])
    (page,) = sheets(items, paper="roll 100 mm", title="t", face=FACE)
    assert page.width_mm == 100.0
    assert len(cuts(page)) == 9
    assert_clear(page, Finish())
    lowest = min(box_of(path)[1] for path in cuts(page).values())
    assert lowest == pytest.approx(14.0 + 3.0)
    assert page.height_mm < 3 * 310.0 + 40.0
    pages = sheets(items, paper="roll 100 mm, up to 400 mm", title="t", face=FACE)
    assert len(pages) == 3
    assert all(page.height_mm <= 400.0 for page in pages)


@pytest.mark.parametrize("paper", [LABELS, ROOMY])
def test_items_lie_within_labels_and_bars_meet_none(paper: str) -> None:
    items = items_of([flat(60.0, 12.0) for _ in range(20)] + [flat(200.0, 12.0)])
    pages = sheets(items, paper=paper, title="Labels", face=FACE)
    size, pitch, corner, rows = (
        ((99.1, 38.1), (101.6, 38.1), (4.65, 15.15), 7)
        if paper == LABELS
        else ((80.0, 60.0), (85.0, 62.0), (20.0, 20.0), 4)
    )
    places = [
        (x, 297.0 - y - size[1], x + size[0], 297.0 - y)
        for x in (corner[0], corner[0] + pitch[0])
        for y in (corner[1] + row * pitch[1] for row in range(rows))
    ]
    for page in pages:
        assert (page.width_mm, page.height_mm) == (210.0, 297.0)
        assert_clear(page, Finish())
        for edge in (box_of(s) for group in ("cut", "crop") for s in page.in_group(group)):
            assert any(
                min(edge[0] - place[0], edge[1] - place[1]) >= 0.0
                and min(place[2] - edge[2], place[3] - edge[3]) >= 0.0
                for place in places
            )


# --- stocks, copies, words ------------------------------------------------------------------------


def test_each_stock_has_its_own_sheets_and_its_name_on_them() -> None:
    items = items_of([flat(100.0, 12.0) for _ in range(8)], "", "matt film")
    pages = sheets(items, paper="A4", title="Strips", face=FACE)
    assert [page.title for page in pages] == ["Strips", "Strips, on matt film"]
    found = [sorted(cuts(page)) for page in pages]
    assert found == [["k0", "k2", "k4", "k6"], ["k1", "k3", "k5", "k7"]]
    shown = [text.text for page in pages for text in plain_words(page)]
    assert {"Strips", "Strips, on matt film", "1 / 2", "2 / 2"} <= set(shown)


def test_copies_tell_which_they_are() -> None:
    items = items_of([flat(150.0, 12.0)])
    (page,) = sheets(items, paper="A4", title="t", face=FACE, finish=Finish(copies=4))
    said = {text.text for text in plain_words(page)}
    assert {f"Strip 0 of the invented bag, copy {n} of 4" for n in range(1, 5)} <= said


def test_a_heading_is_whole_where_it_has_room_and_else_keeps_which_piece_it_is() -> None:
    heading = "A heading of many words that says which ring a narrow strip is for"
    (page,) = sheets([Item("k", heading, flat(28.0, 12.0))], paper="A4", title="t", face=FACE)
    said = " ".join(text.text for text in plain_words(page))
    assert heading in said
    items = [Item(f"k{n}", heading, flat(300.0, 12.0)) for n in range(8)]
    pages = sheets(items, paper=LABELS, title="t", face=FACE)
    headings = [t.text for page in pages for t in plain_words(page) if t.text[-1:] == "4"]
    for n in range(1, 5):
        assert sum(text.endswith(f"piece {n} of 4") for text in headings) == 8


@pytest.mark.parametrize("paper", [*PAPERS, "roll 62 mm", "70 x 90 mm"])
def test_every_sheet_has_check_bars_of_the_length_it_states(paper: str) -> None:
    items = items_of([flat(180.0, 12.0) for _ in range(40)])
    pages = sheets(items, paper=paper, title="Strips", face=FACE)
    for number, page in enumerate(pages, start=1):
        assert_clear(page, Finish())
        across, up = keyed(page, "check-across") + keyed(page, "check-up")
        bars = [box_of(across)[2] - box_of(across)[0], box_of(up)[3] - box_of(up)[1]]
        said = " ".join(text.text for text in plain_words(page))
        assert f"{bars[0]:g} mm across, {bars[1]:g} mm up" in said
        assert "100 %" in said
        assert f"{number} / {len(pages)}" in said
        ends = [box_of(end) for end in keyed(page, "check-across:[01]")]
        assert ends[1][0] - ends[0][0] == pytest.approx(bars[0], abs=1e-9)
        for bar, room in zip(bars, (page.width_mm - 24.0, page.height_mm - 37.0), strict=True):
            if paper != LABELS and room >= 100.0:
                assert bar == min(250.0, 50.0 * (room // 50.0))
            else:
                assert bar >= 10.0
                assert bar / 10.0 == pytest.approx(round(bar / 10.0))


@pytest.mark.parametrize("paper", ["A4", "Letter", "330 x 200 mm", LABELS])
@pytest.mark.parametrize("film_mm", [0.0, 5.0])
def test_cautions_stand_whole_on_a_sheet_clear_of_all_else(paper: str, film_mm: float) -> None:
    said, finish = [GLUE, LASER], Finish(film_mm=film_mm)
    items = items_of([flat(75.0, 12.0)] * 30)
    pages = sheets(items, paper=paper, title="Strips", face=FACE, finish=finish, cautions=said)
    for page in pages:
        assert_clear(page, finish)
        assert ". ".join(said) in " ".join(text.text for text in plain_words(page))


@pytest.mark.parametrize("paper", ["roll 62 mm", "roll 100 mm"])
def test_a_caution_without_room_leaves_a_sheet_as_it_is(paper: str) -> None:
    items = items_of([flat(45.0, 12.0)] * 3)
    plain, told = (
        sheets(items, paper=paper, title="Strips", face=FACE, cautions=said)
        for said in ([], [GLUE])
    )
    assert plain == told


def test_the_smallest_label_holds_the_bars_and_their_words() -> None:
    paper = "labels 25 x 18 mm, 3 x 4 on 90 x 82 mm, left 5 mm, top 5 mm"
    pages = sheets(items_of([flat(15.0, 8.0)] * 12), paper=paper, title="Strips", face=FACE)
    assert len(pages) == 2
    for page in pages:
        assert_clear(page, Finish())
    told = sheets(items_of([flat(15.0, 8.0)] * 12), paper=paper, title="Strips", face=FACE,
                  cautions=[GLUE])  # fmt: skip
    assert told == pages  # no room for more


def test_labels_at_the_sheets_edge_are_not_printed_where_a_printer_leaves_it_blank() -> None:
    paper = "labels 70 x 37 mm, 3 x 8 on A4, left 0 mm, top 0.5 mm"
    for page in sheets(items_of([flat(40.0, 12.0)] * 30), paper=paper, title="t", face=FACE):
        assert_clear(page, Finish())


# --- bleed and film -------------------------------------------------------------------------------

FILM_MM = 3.0


def distances(points: Sequence[tuple[float, float]], outline: Path) -> np.ndarray:
    """Return how far each point is from an outline."""
    start = np.array(outline.points)
    step = np.roll(start, -1, axis=0) - start
    offset = np.array(points)[:, None, :] - start
    share = np.clip(np.sum(offset * step, axis=2) / np.sum(step * step, axis=1), 0.0, 1.0)
    found: np.ndarray = np.linalg.norm(offset - share[..., None] * step, axis=2).min(axis=1)
    return found


def card(size: str) -> Block:
    width, height = card_size(size)
    outline = rounded_box(0, 0, 2 * width, height, radius=3.18, group="cut", key="outline")
    return Block(2 * width, height, (), (outline,), ((0.0, 2 * width),))


@pytest.mark.parametrize(
    "block", [flat(120.0, 12.0), card("ID-1"), sector(200.0, 12.0, 0.8)]
)  # fmt: skip
@pytest.mark.parametrize("backward", [False, True])
def test_film_is_cut_everywhere_as_far_outside_the_paper(block: Block, backward: bool) -> None:
    (outline,) = block.outline
    if backward:
        outline = Path(outline.points[::-1], closed=True, group="cut", key="outline")
    shapes = Block(block.width_mm, block.height_mm, (), (outline,)).drawn(film_mm=FILM_MM)
    (film,) = [s for s in shapes if isinstance(s, Path) and s.group == "film"]
    assert film.closed
    assert distances(film.points, outline) == pytest.approx(FILM_MM, abs=5e-3)
    corners = np.array(film.points)
    middles = (corners + np.roll(corners, -1, axis=0)) / 2.0
    assert np.all(np.abs(distances(middles.tolist(), outline) - FILM_MM) < 0.01)
    left, low, right, top = box_of(film)
    assert right - left > block.width_mm
    assert top - low > block.height_mm


@pytest.mark.parametrize("bleed", [0.0, 2.0, 5.0])
@pytest.mark.parametrize("block", [flat(120.0, 12.0), sector(200.0, 12.0, 0.8)])
def test_crop_marks_begin_outside_the_bleed(block: Block, bleed: float) -> None:
    marks = [s for s in block.drawn(bleed_mm=bleed) if isinstance(s, Path) and s.group == "crop"]
    assert len(marks) == 8
    for mark in marks:
        away = distances(mark.points, block.outline[0])
        assert min(away) == pytest.approx(bleed + 1.0, rel=1e-5)
        assert max(away) == pytest.approx(bleed + 3.0, rel=1e-5)


def test_a_ground_runs_on_to_the_bleed_and_nothing_else_moves() -> None:
    block = flat(120.0, 12.0)
    shapes = block.drawn(bleed_mm=2.0)
    (ground,) = [s for s in shapes if s.key == "ground"]
    assert box_of(ground) == pytest.approx((-2.0, -2.0, 122.0, 1.0))
    kept = [s for s in shapes if s.key.startswith(("mark:", "figure:", "outline"))]
    assert kept == [s for s in (*block.shapes, *block.outline) if s.key != "ground"]


def test_a_ground_under_round_corners_and_on_a_sector_bleeds_too() -> None:
    whole = box(0.0, 0.0, 171.2, 53.98, stroke_mm=None, fill="#cccccc", key="ground")
    round_card = Block(171.2, 53.98, (whole,), card("ID-1").outline)
    (ground,) = [s for s in round_card.drawn(bleed_mm=2.0) if s.key == "ground"]
    assert box_of(ground) == pytest.approx((-2.0, -2.0, 173.2, 55.98))
    bent = sector(200.0, 12.0, 0.8)
    filled = Path(bent.outline[0].points, True, None, fill="#cccccc", key="ground")
    (ground,) = [
        s for s in Block(bent.width_mm, bent.height_mm, (filled,), bent.outline).drawn(bleed_mm=2.0)
        if isinstance(s, Path) and s.key == "ground"
    ]  # fmt: skip
    away = distances(ground.points, bent.outline[0])
    assert np.all((away > 2.0 - 1e-3) & (away < 2.0 * math.sqrt(2.0) + 0.01))


def test_a_pointers_head_at_the_edge_bleeds_and_keeps_its_slope_within_the_cut() -> None:
    head = Path(((8.8, 12.0), (11.2, 12.0), (10.0, 10.2)), True, None, fill="#000000", key="head")
    (bled,) = [
        s for s in Block(20.0, 12.0, (head,), cut_box(20.0, 12.0)).drawn(bleed_mm=2.0)
        if isinstance(s, Path) and s.key == "head"
    ]  # fmt: skip
    assert set(head.points) <= set(bled.points)
    assert set(bled.points) - set(head.points) == {(8.8, 14.0), (11.2, 14.0)}
    assert area_mm2(bled) == pytest.approx(area_mm2(head) + 2.4 * 2.0)


def test_film_is_flush_where_pieces_are_joined() -> None:
    finish = Finish(film_mm=3.0)
    items = [Item("k", "k", flat(500.0, 12.0))]
    pages = sheets(items, paper="A4", title="t", face=FACE, finish=finish)
    films = {s.key: box_of(s) for page in pages for s in page.in_group("film")}
    edges = {f"{key}/film": box_of(path) for page in pages for key, path in cuts(page).items()}
    spare = [
        tuple(round(abs(a - b), 6) for a, b in zip(films[key], edges[key], strict=True))
        for key in sorted(edges)
    ]
    assert len(spare) == 2
    assert spare == [(3.0, 3.0, 0.0, 3.0), (0.0, 3.0, 3.0, 3.0)]


@given(
    width=st.floats(10.0, 14.0),
    spare=st.sampled_from([0.0, 1.0, math.inf]),
    far=st.sampled_from([None, 190.0, 215.0]),
    side=st.sampled_from(["camera", "subject"]),
    flip=st.booleans(),
)
@settings(deadline=None, max_examples=40)
def test_film_stays_flush_with_the_index_edge_and_within_the_ring(
    width: float, spare: float, far: float | None, side: Side, flip: bool
) -> None:
    """On a cone the film's corners are measured from the apex, about which both edges are arcs."""
    band = RingBand(200.0, width, "behind", side, 1, far, spare)
    flat = ruler_strip(band, (), face=FACE)
    for piece in (part for whole in developed(flat, band, face=FACE) for part in
                  ([whole] if far else split(whole, 120.0))):  # fmt: skip
        block = mirrored(piece) if flip else piece
        (film,) = (s for s in block.drawn(film_mm=3.0) if s.group == "film")
        assert isinstance(film, Path)
        low, high = heights(np.array(film.points), block, band)
        most = min(spare, 3.0)
        wanted = (0.0, width + most) if side == "camera" else (-most, width)
        # Beyond the ends of an arc film runs straight on: 3² / 2R off the circle.
        assert (low, high) == pytest.approx(wanted, abs=6e-2 if far else 1e-9)


def heights(points: NDArray[np.float64], block: Block, band: RingBand) -> tuple[float, float]:
    """Return the least and the greatest height of points on the flat strip that a block was."""
    cone = cone_of(band)
    if cone is None:
        return float(points[:, 1].min()), float(points[:, 1].max())
    edge = np.array(block.limits[0].edge.points)  # an arc about the apex
    system = np.column_stack((2.0 * edge, np.ones(len(edge))))
    apex = np.linalg.lstsq(system, np.sum(edge**2, axis=1), rcond=None)[0][:2]
    radii = np.linalg.norm(points - apex, axis=1)
    found = abs(cone.radius_mm) - radii if cone.radius_mm > 0.0 else radii - abs(cone.radius_mm)
    return float(found.min()), float(found.max())


@pytest.mark.parametrize("side", ["camera", "subject"])
def test_film_on_an_index_strip_leaves_the_witness_line_at_the_ring(side: Side) -> None:
    block = index_strip(IndexStrip(side, (Bracket("f/2.8", 2.0, 3.0),), "2x", "CODE"), face=FACE)
    (film,) = (s for s in block.drawn(film_mm=3.0) if s.group == "film")
    assert isinstance(film, Path)
    _, low, _, high = box_of(film)
    wanted = (-3.0, block.height_mm) if side == "camera" else (0.0, block.height_mm + 3.0)
    assert (low, high) == pytest.approx(wanted)


def test_an_index_strip_is_never_split() -> None:
    """Lying it is too high for such a label, and upright too long: a join would cut its words."""
    brackets = tuple(Bracket(f"f/{stop:g}", 2.0, 3.0) for stop in (2, 2.8, 4, 5.6))
    block = index_strip(IndexStrip("camera", brackets, "2x", "CODE"), face=FACE)
    item = Item("rig/taking/index", "index", block)
    labels = "labels 75 x 25 mm, 2 x 10 on A4, left 20 mm, top 15 mm"
    with pytest.raises(PageError, match=r"does not fit labels 75 x 25 mm"):
        sheets([item], paper=labels, title="t", face=FACE)


def test_paper_and_film_are_two_lines() -> None:
    (page,) = sheets([Item("k", "k", card("ID-1"))], paper="A4", title="t", face=FACE,
                     finish=Finish(film_mm=3.0))  # fmt: skip
    assert [len(page.in_group(group)) for group in ("cut", "film")] == [1, 1]


# --- what is told, and what is refused ------------------------------------------------------------


def test_the_paper_that_it_takes_is_told() -> None:
    found = imposed([Item("k", "k", flat(100.0, 50.0))], paper="A4", title="t", face=FACE)
    assert found.summary() == "1 sheet of A4"
    found = imposed([Item("k", "k", flat(200.0, 50.0))], paper="roll 100 mm", title="t", face=FACE)
    assert found.summary() == "233 mm of roll 100 mm"


@pytest.mark.parametrize(
    ("block", "paper", "said"),
    [
        (card("ID-1"), "100 x 150 mm", "k: 171.2 x 54.0 mm with its crop marks does not fit"),
        (card("ID-1"), LABELS, "for 98.1 x 37.1 mm: choose larger paper or a smaller card$"),
        (card("ID-1"), "roll 70 mm", "does not fit roll 70 mm, which has room for 53.0 x 1973"),
        (Block(90.0, 90.0, (), cut_box(90.0, 90.0), ((0.0, 90.0),)), "roll 80 mm", "k: 90.0 x "),
        (sector(400.0, 12.0, 0.9), "A4", "does not fit A4.*choose larger paper$"),
        (Block(400.0, 12.0, (), cut_box(400.0, 12.0), ((1.0, 399.0),)), "A4",
         "k: its labels and marks leave no place to join pieces of at most 274 mm: choose larger"),
    ],
)  # fmt: skip
def test_what_does_not_fit_is_refused_in_one_sentence(block: Block, paper: str, said: str) -> None:
    with pytest.raises(PageError, match=said) as caught:
        sheets([Item("k", "k", block)], paper=paper, title="t", face=FACE)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("wish", "said"),
    [
        ({"copies": 0}, "copies are 0: give a whole number from 1 to 100"),
        ({"copies": -1}, "copies are -1: give a whole number from 1 to 100"),
        ({"copies": 10_000}, "copies are 10000: give a whole number from 1 to 100"),
        ({"copies": 10**5000}, "copies are a number of many digits"),
        ({"copies": 1.5}, "copies are 1.5: give a whole number"),
        ({"copies": True}, "copies are true: give a whole number"),
        ({"bleed_mm": -1.0}, "a bleed of -1 mm is not from 0 to 10 mm"),
        ({"bleed_mm": math.nan}, "a bleed of nan mm is not from 0 to 10 mm"),
        ({"film_mm": math.inf}, "a film margin of inf mm is not from 0 to 20 mm"),
    ],
)
def test_a_finish_that_cannot_be_is_refused(wish: dict[str, Any], said: str) -> None:
    with pytest.raises(PageError, match=said):
        Finish(**wish)


def test_too_many_pieces_are_refused_and_none_give_no_page() -> None:
    items = items_of([flat(30.0, 12.0)] * 60)
    with pytest.raises(PageError, match="6000 strips and cards are more than 5000: print fewer"):
        sheets(items, paper="A4", title="t", face=FACE, finish=Finish(copies=100))
    assert sheets([], paper="A4", title="t", face=FACE) == []
    with pytest.raises(PageError, match='unknown paper "A9"'):
        sheets([], paper="A9", title="t", face=FACE)


def test_one_label_without_margins_is_refused() -> None:
    paper = "labels 200 x 280 mm, 1 x 1 on A4, left 5 mm, top 8 mm"
    with pytest.raises(PageError, match="one label with narrow margins leaves no room"):
        sheets(items_of([flat(30.0, 12.0)]), paper=paper, title="t", face=FACE)
