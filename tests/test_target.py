"""The focus target: bars that image to the circle of confusion, and a page that keeps them so."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from focuschart.errors import OpticsError, PageError
from focuschart.layout.bench.target import SAYS, STEPS, WEDGE_SAYS, Target, has_room, target_page
from focuschart.layout.bench.target_bars import LEAST_BARS, PRINTABLE_MM
from focuschart.layout.page import BLACK, Page, Path, Shape, Text
from focuschart.layout.sheet.papers import PAPERS
from focuschart.layout.text.typeset import SMALLEST_CAP_MM
from focuschart.optics.arrays import Floats
from focuschart.optics.attachment import match
from focuschart.optics.target import horizontal_line_bar_mm, vertical_line_bar_mm
from focuschart.optics.thin_lens import magnification
from focuschart.renderers import RENDERERS
from tests import readback
from tests.sheets import FACE
from tests.test_render_ink import assert_same_ink

# --- optics ---------------------------------------------------------------------------------------

FOCAL = st.floats(28.0, 200.0)
AWAY = st.floats(5.0, 2000.0)
SQUEEZE = st.floats(1.2, 2.2)
CIRCLE_MM = 0.03


def test_bars_of_an_ordinary_case() -> None:
    """By hand: f 100, u 2000 − 100 = 1900, so 1/v = 1/100 − 1/1900 and v = 1900/18, u/v = 18."""
    position = 1900.0 + 1900.0 / 18.0
    across = horizontal_line_bar_mm(position, focal_length_mm=100.0, circle_mm=0.03)
    up = vertical_line_bar_mm(
        position, focal_length_mm=100.0, circle_mm=0.03, squeeze=2.0, true_squeeze=1.8
    )
    assert_allclose(across, 0.54, rtol=1e-12)  # 0.03 × 18
    assert_allclose(up, 0.486, rtol=1e-12)  # 0.015 × 18 × 1.8


def through(length_mm: float) -> Floats:
    return np.array([[1.0, length_mm], [0.0, 1.0]])


def lens(focal_mm: float) -> Floats:
    return np.array([[1.0, 0.0], [-1.0 / focal_mm, 1.0]])


@given(focal=FOCAL, away=AWAY, squeeze=SQUEEZE, front=st.floats(60.0, 200.0))
def test_one_bar_is_imaged_to_one_criterion_in_either_meridian(
    focal: float, away: float, squeeze: float, front: float
) -> None:
    """Ray transfer matrices from the target to the sensor, through the taking lens by itself and
    through both groups and the lens: heights at the sensor must be c and c/S, and sharp."""
    rear_distance, lens_to_rear = away * focal + 600.0, 30.0
    matched = match(rear_distance, front_focal_mm=front, squeeze=squeeze, moving="front")
    separation = float(matched.separation_mm)
    subject = rear_distance + lens_to_rear
    image = 1.0 / (1.0 / focal - 1.0 / subject)
    bare = through(image) @ lens(focal) @ through(subject)
    squeezed = (
        through(image) @ lens(focal) @ through(lens_to_rear) @ lens(front * squeeze)
        @ through(separation) @ lens(-front) @ through(rear_distance - separation)
    )  # fmt: skip
    across = horizontal_line_bar_mm(subject + image, focal_length_mm=focal, circle_mm=CIRCLE_MM)
    up = vertical_line_bar_mm(
        subject + image, focal_length_mm=focal, circle_mm=CIRCLE_MM, squeeze=squeeze,
        true_squeeze=float(matched.squeeze),
    )  # fmt: skip
    assert abs(bare[0, 1]) < 1e-6 * subject
    assert abs(squeezed[0, 1]) < 1e-6 * subject
    assert_allclose(-bare[0, 0] * across, CIRCLE_MM, rtol=1e-7)
    assert_allclose(-squeezed[0, 0] * up, CIRCLE_MM / squeeze, rtol=1e-7)


def test_a_blur_of_one_circle_leaves_the_bars_and_one_of_2_44_circles_does_not() -> None:
    """A disc of blur over a sine of the bars' period on the sensor, summed strip by strip."""
    position = 2500.0
    bar = horizontal_line_bar_mm(position, focal_length_mm=85.0, circle_mm=CIRCLE_MM)
    on_sensor = float(bar * magnification(position, focal_length_mm=85.0))
    angles = (np.arange(20000) + 0.5) / 20000 * math.pi
    places, chords = np.cos(angles) / 2.0, np.sin(angles) ** 2  # chord times strip width
    for blur, left in ((1.0, 0.72), (2.44, 0.0)):
        wave = np.cos(2.0 * math.pi * blur * CIRCLE_MM * places / (2.0 * on_sensor))
        assert np.average(wave, weights=chords) == pytest.approx(left, abs=0.005)


def test_far_away_both_kinds_of_line_have_the_bar_c_times_distance_over_f() -> None:
    distances = np.array([1e6, 1e8, 1e10])
    squeezes = match(distances, front_focal_mm=100.0, squeeze=2.0, moving="front").squeeze
    across = horizontal_line_bar_mm(distances, focal_length_mm=85.0, circle_mm=CIRCLE_MM)
    up = vertical_line_bar_mm(
        distances, focal_length_mm=85.0, circle_mm=CIRCLE_MM, squeeze=2.0, true_squeeze=squeezes
    )
    assert_allclose(across * 85.0 / (CIRCLE_MM * distances), 1.0, atol=2e-4)
    assert np.all(np.diff(np.abs(up / across - 1.0)) < 0.0)
    assert_allclose(up[-1] / across[-1], 1.0, atol=1e-6)


def test_infinity_needs_endless_bars_and_near_targets_fine_ones() -> None:
    assert horizontal_line_bar_mm(math.inf, focal_length_mm=85.0, circle_mm=CIRCLE_MM) == math.inf
    at = np.array([[800.0], [1600.0]])
    bars = vertical_line_bar_mm(
        at, focal_length_mm=np.array([50.0, 85.0, 100.0]), circle_mm=CIRCLE_MM, squeeze=2.0,
        true_squeeze=1.9,
    )  # fmt: skip
    assert bars.shape == (2, 3)
    assert np.all(bars[0] < bars[1])
    with pytest.raises(OpticsError, match="nearer than four focal lengths"):
        horizontal_line_bar_mm(300.0, focal_length_mm=85.0, circle_mm=CIRCLE_MM)


# --- the page -------------------------------------------------------------------------------------

NOTES = (
    "1 × is one circle of confusion of 0.029 mm on the finished frame.",
    "Set the lens to f/2.8 and look at the magnified picture in the middle of the frame.",
)
Box = tuple[float, float, float, float]


def target(across: float, up: float, notes: tuple[str, ...] = NOTES) -> Target:
    heading = "Hang at 2 m from the sensor mark"
    return Target("near", heading, "Portrait 85, invented 2x", across, up, notes)


def page_of(across: float, up: float, paper: str = "A4") -> Page:
    return target_page(target(across, up), paper=paper, face=FACE)


def paths(page: Page, start: str) -> list[Path]:
    return [s for s in page.shapes if isinstance(s, Path) and s.key.startswith(start)]


def texts(page: Page, start: str = "") -> list[Text]:
    return [s for s in page.shapes if isinstance(s, Text) and s.key.startswith(start)]


def box_of(shape: Shape) -> Box:
    """Return left, bottom, right and top of the ink, descenders of words included."""
    if isinstance(shape, Path):
        xs, ys = zip(*shape.points, strict=True)
        half = (shape.stroke_mm or 0.0) / 2.0
        return min(xs) - half, min(ys) - half, max(xs) + half, max(ys) + half
    width = FACE.width_mm(shape.text, cap_mm=shape.cap_mm)
    left = shape.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[shape.anchor] * width
    return left, shape.y - 0.3 * shape.cap_mm, left + width, shape.y + shape.cap_mm


def around(shapes: Iterable[Shape]) -> Box:
    lefts, lows, rights, tops = zip(*(box_of(shape) for shape in shapes), strict=True)
    return min(lefts), min(lows), max(rights), max(tops)


def apart(one: Box, other: Box) -> bool:
    return one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]


def groups(page: Page) -> dict[tuple[str, int], list[Path]]:
    """Return the bars of each group by way and factor, in their order."""
    found: dict[tuple[str, int], list[Path]] = {}
    for bar in (*paths(page, "h:"), *paths(page, "v:")):
        way, factor, index = bar.key.split(":")
        found.setdefault((way, int(factor)), []).append(bar)
        assert len(found[way, int(factor)]) == int(index) + 1
    return found


def edges_across(way: str, bar: Path) -> tuple[float, float]:
    """Return both edges of a bar, across its length."""
    box = box_of(bar)
    return (box[1], box[3]) if way == "h" else (box[0], box[2])


BARS = st.floats(math.log(0.02), math.log(20.0)).map(math.exp)
SHARES = st.floats(0.6, 1.0)
PAPER = st.sampled_from(sorted(PAPERS))


@given(BARS, SHARES, PAPER)
@settings(deadline=None, max_examples=60)
def test_bars_and_gaps_have_the_given_width_whole_times_over(
    across: float, share: float, paper: str
) -> None:
    page = page_of(across, across * share, paper)
    asked = {"h": across, "v": across * share}
    found = groups(page)
    multiples = {text.text.split()[0] for text in texts(page, "label:") if ":1:0" in text.key}
    (multiple,) = (int(text) for text in multiples)
    least = min(asked.values()) * multiple
    assert multiple == 1 or least - min(asked.values()) < PRINTABLE_MM
    assert least >= PRINTABLE_MM - 1e-9
    for (way, factor), bars in found.items():
        assert len(bars) >= LEAST_BARS
        edges = np.array([edges_across(way, bar) for bar in bars])
        width = factor * multiple * asked[way]
        assert_allclose(edges[:, 1] - edges[:, 0], width, rtol=0, atol=1e-9)
        assert_allclose(np.diff(edges[:, 0]), 2.0 * width, rtol=0, atol=1e-9)
        assert all(bar.closed and bar.stroke_mm is None and bar.fill == BLACK for bar in bars)


@given(BARS, SHARES, PAPER)
@settings(deadline=None, max_examples=60)
def test_nothing_meets_and_nothing_leaves_the_margins(
    across: float, share: float, paper: str
) -> None:
    page = page_of(across, across * share, paper)
    (frame,) = paths(page, "frame")
    left, low, right, top = box_of(frame)
    assert min(left - 15.5, page.width_mm - 7.5 - right, low - 17.5) >= 0.0
    words = texts(page)
    wedges = [around(paths(page, f"wedge:{way}:")) for way in "hv" if paths(page, f"wedge:{way}:")]
    blocks = [around(bars) for bars in groups(page).values()] + wedges
    lines = [box_of(path) for path in (*paths(page, "cross:"), *paths(page, "scale:"))]
    solid = [*blocks, *(box_of(text) for text in words)]
    for one, other in combinations(solid, 2):
        assert apart(one, other)
    assert all(apart(one, other) for one in solid for other in lines)
    heads = {"title", "heading", "rig", ""}
    inside = [*blocks, *(box_of(text) for text in words if text.key not in heads)]
    for box in inside:
        assert left < box[0]
        assert low < box[1]
        assert box[2] < right
        assert box[3] < top
    for text in words:
        assert text.cap_mm >= SMALLEST_CAP_MM
        if text.key in heads:
            box = box_of(text)
            assert apart(box, (left, low, right, top))
            assert 0.0 <= box[0] < box[2] <= page.width_mm - 8.0 + 1e-9
            assert 0.0 <= box[1] < box[3] <= page.height_mm - 7.0


@given(st.floats(0.02, 4.0), SHARES, PAPER)
@settings(deadline=None, max_examples=60)
def test_a_wedge_runs_linearly_and_its_scale_tells_where(
    across: float, share: float, paper: str
) -> None:
    page = page_of(across, across * share, paper)
    printed = {(way, f): bars for (way, f), bars in groups(page).items() if f == 1}
    for way in "hv":
        low, high = edges_across(way, printed[way, 1][0])
        bar = high - low
        along, over = (0, 1) if way == "h" else (1, 0)
        lines = np.array([path.points for path in paths(page, f"wedge:{way}:")])
        assert len(lines) >= LEAST_BARS
        wide, thin = (lines[:, 3, over] - lines[:, 0, over], lines[:, 2, over] - lines[:, 1, over])
        start, end = wide[0] / bar, thin[0] / bar
        assert_allclose(np.ptp(wide), 0.0, atol=1e-9)
        assert_allclose(np.ptp(thin), 0.0, atol=1e-9)
        assert_allclose(np.diff(lines[:, 0, over]), 2.0 * wide[0], atol=1e-9)
        assert_allclose(np.diff(lines[:, 1, over]), 2.0 * thin[0], atol=1e-9)
        broad, narrow = (lines[0, at, over] + lines[-1, 3 - at, over] for at in (0, 1))
        assert broad == pytest.approx(narrow)  # straight: both ends have one middle
        assert 2.0 <= start <= 4.0 + 1e-9
        assert end == pytest.approx(max(0.5, PRINTABLE_MM / bar))
        begins, ends = lines[0, 0, along], lines[0, 1, along]
        for tick in paths(page, f"scale:{way}:"):
            reached = (tick.points[0][along] - begins) / (ends - begins)
            told = float(tick.key.split(":")[2])
            assert start + (end - start) * reached == pytest.approx(told)


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_near_targets_have_three_groups_of_five_bars_and_whole_wedges(paper: str) -> None:
    page = page_of(1.1, 1.0, paper)
    found = groups(page)
    assert found.keys() == {(way, factor) for way in "hv" for factor in (1, 2, 4)}
    assert min(len(bars) for bars in found.values()) >= 5
    assert all(len(paths(page, f"wedge:{way}:")) >= 5 for way in "hv")
    assert {tick.key for tick in paths(page, "scale:h:")} == {
        f"scale:h:{tick}" for tick in ("4", "3", "2", "1", "0.5")
    }


def test_far_targets_keep_the_finest_group_when_coarse_ones_find_no_room() -> None:
    factors = [{factor for _, factor in groups(page_of(bar, bar))} for bar in (1.5, 4.0, 9.0, 20.0)]
    assert factors == [{1, 2, 4}, {1, 2}, {1, 2}, {1}]
    assert not paths(page_of(9.0, 9.0), "wedge:")
    spread = [groups(page_of(20.0, 20.0, paper))["v", 1] for paper in ("A4", "A3")]
    assert len(spread[0]) == LEAST_BARS < len(spread[1])


def words(page: Page, start: str) -> str:
    return " ".join(text.text for text in texts(page, start))


def test_bars_too_fine_to_print_are_shown_as_a_multiple_that_is_named() -> None:
    page = page_of(0.08, 0.07)
    assert words(page, "label:h:1:") == "3 × the circle of confusion"
    assert words(page, "label:v:4:") == "12 ×"
    low, high = edges_across("v", groups(page)["v", 1][0])
    assert high - low == pytest.approx(0.21, abs=1e-9)
    assert words(page_of(0.15, 0.15), "label:h:1:") == "1 × the circle of confusion"


def test_the_page_says_where_to_hang_it_for_what_and_which_ring_goes_with_which_lines() -> None:
    page = page_of(0.65, 0.6)
    given_target = target(0.65, 0.6)
    assert words(page, "heading") == given_target.heading
    assert words(page, "rig") == given_target.rig
    assert next(t.cap_mm for t in texts(page, "heading")) >= 5.0
    assert (words(page, "says:h"), words(page, "says:v")) == (SAYS["h"], SAYS["v"])
    assert words(page, "words:h:") == " ".join((*STEPS, WEDGE_SAYS))
    assert words(page, "words:v:") == " ".join(NOTES)
    for way in "hv":
        sides = [around(bars)[0] for (own, _), bars in groups(page).items() if own == way]
        assert all((left < page.width_mm / 2.0) == (way == "h") for left in sides)


@pytest.mark.parametrize("bar", [0.6, 10.0])
def test_long_lines_both_ways_show_the_level(bar: float) -> None:
    page = page_of(bar, bar)
    left, low, right, top = around(paths(page, "frame"))
    (up,) = paths(page, "cross:up")
    across = around(paths(page, "cross:across"))
    assert up.points[0][0] == up.points[1][0] == pytest.approx((left + right) / 2.0)
    assert (across[1] + across[3]) / 2.0 == pytest.approx((low + top) / 2.0)
    assert (across[0] + across[2]) / 2.0 == pytest.approx((left + right) / 2.0)
    assert right - left > 0.9 * page.width_mm
    assert top - low > 0.7 * page.height_mm


@pytest.mark.parametrize(
    ("across", "up", "complaint"),
    [
        (40.0, 40.0, r"near: A4 paper has no room for 3 bars of 40 mm: use larger paper or a dist"),
        (math.inf, math.inf, "near: bars without a width in mm: name a nearer distance"),
        (math.nan, 1.0, "near: bars without a width"),
        (1.0, 0.0, "near: bars without a width"),
    ],
)
def test_bars_that_cannot_be_shown_are_refused(across: float, up: float, complaint: str) -> None:
    with pytest.raises(PageError, match=complaint):
        page_of(across, up)


@pytest.mark.parametrize(("bar", "fits"), [(0.3, True), (15.0, True), (40.0, False)])
def test_whether_a_sheet_has_room_is_told_beforehand(bar: float, fits: bool) -> None:
    assert has_room(target(bar, bar), paper="A4", face=FACE) == fits
    with pytest.raises(PageError, match='unknown paper "A9"'):
        has_room(target(bar, bar), paper="A9", face=FACE)


def test_a_target_with_too_many_words_or_on_unknown_paper_is_refused() -> None:
    with pytest.raises(PageError, match="near: the notes find no room on the target: shorten"):
        target_page(target(1.0, 1.0, ("Look at the picture. " * 90,)), paper="A4", face=FACE)
    with pytest.raises(PageError, match='unknown paper "A9": choose A4, A3, Letter'):
        page_of(1.0, 1.0, "A9")


def test_long_names_keep_to_the_sheet_and_a_target_without_notes_is_whole() -> None:
    long = Target("far", "Hang it far away, " * 12, "A rig of many words " * 20, 1.0, 1.0)
    page = target_page(long, paper="Letter", face=FACE, number=2, count=3)
    assert all(box_of(text)[2] <= page.width_mm - 8.0 + 1e-9 for text in texts(page))
    assert "2 / 3" in [text.text for text in texts(page)]
    assert not texts(page, "words:v")


@pytest.mark.parametrize(("across", "up"), [(0.653, 0.612), (0.1, 0.095), (9.0, 8.9)])
@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_the_pdf_and_the_svg_hold_every_bar_at_its_place(
    across: float, up: float, paper: str
) -> None:
    """pdfplumber finds them by their filling, ElementTree by their data-key."""
    page = page_of(across, up, paper)
    ours = [bar for bars in groups(page).values() for bar in bars] + paths(page, "wedge:")
    expected = np.array([box_of(path) for path in ours])
    ((_, pdf),) = RENDERERS["pdf"]([page], face=FACE, title="t")
    filled = [path for path in readback.pdf_paths(pdf)[0] if path.fill and not path.stroke]
    found = np.array([[*p.points.min(axis=0), *p.points.max(axis=0)] for p in filled])
    assert len(found) == len(expected)
    off = np.abs(expected[:, None] - found).max(axis=2)
    assert off.min(axis=0).max() < 0.005
    assert off.min(axis=1).max() < 0.005
    ((_, svg),) = RENDERERS["svg"]([page], face=FACE, title="t")
    keyed = readback.svg_keyed(svg)
    for path, box in zip(ours, expected, strict=True):
        points = keyed[path.key].points
        assert_allclose([*points.min(axis=0), *points.max(axis=0)], box, rtol=0, atol=2e-4)


def test_pdf_and_svg_are_the_same_ink() -> None:
    assert_same_ink(page_of(0.653, 0.612))
