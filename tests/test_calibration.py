"""The sheets a printer is measured by: bars, boxes, and verniers read against the light."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from focuschart.errors import PageError
from focuschart.layout.extent import ink_boxes
from focuschart.layout.page import Page, Path, Text
from focuschart.layout.printer.calibration import (
    EDGE_MM,
    INNER_MM,
    calibration_page,
    nominal_bars,
    paper_key,
)
from focuschart.layout.printer.correct import Offset, behind, registered
from focuschart.layout.printer.registration import STEP_MM, registration_pages
from focuschart.renderers.svg import render_svg
from tests.readback import pdf_lines, pdf_sizes, pdf_texts, svg_keyed
from tests.sheets import FACE, pdf_of

SHEETS = {
    "A4": (297.0, 210.0),  # ISO 216
    "A3": (420.0, 297.0),
    "Letter": (279.4, 215.9),  # 11 × 8.5 in
    "210 x 148 mm": (210.0, 148.0),
    "330 x 483 mm": (483.0, 330.0),
}


def texts(page: Page) -> dict[str, str]:
    return {shape.key: shape.text for shape in page.shapes if isinstance(shape, Text)}


def paths(page: Page) -> dict[str, np.ndarray[tuple[int, ...], np.dtype[np.float64]]]:
    return {shape.key: np.array(shape.points) for shape in page.shapes if isinstance(shape, Path)}


# --- bars ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("paper", SHEETS)
def test_bars_are_the_longest_that_are_printed(paper: str) -> None:
    bars = nominal_bars(paper)
    for bar, edge in zip(bars, SHEETS[paper], strict=True):
        assert 0 <= edge - 2 * EDGE_MM - bar < 1
        assert bar == int(bar)


@pytest.mark.parametrize("paper", SHEETS)
def test_both_formats_have_bars_of_the_length_they_name(paper: str) -> None:
    page, bars = calibration_page(paper, face=FACE), nominal_bars(paper)
    assert pdf_sizes(pdf_of(page))[0] * 25.4 / 72 == pytest.approx(SHEETS[paper], abs=1e-3)
    lines = pdf_lines(pdf_of(page))[0]
    spans = np.abs(lines[:, 2:4] - lines[:, :2]).max(axis=0)
    assert spans == pytest.approx(bars, abs=1e-4)
    drawn = svg_keyed(render_svg(page, face=FACE))
    for axis, (edge, bar) in enumerate(zip(("long", "short"), bars, strict=True)):
        ends = [drawn[f"bar:{edge}:{index}"].points.mean(axis=0) for index in (0, 1)]
        assert ends[1] - ends[0] == pytest.approx(bar * np.eye(2)[axis], abs=1e-4)
        inner = [drawn[f"inner:{edge}:{index}"].points.mean(axis=0)[axis] for index in (0, 1)]
        assert inner[1] - inner[0] == pytest.approx(bar - 2 * INNER_MM, abs=1e-4)
        assert f"{bar:g} mm" in texts(page)[f"says:{edge}"]


def test_the_sheet_says_how_to_measure_and_what_to_enter() -> None:
    words = " ".join(pdf_texts(pdf_of(calibration_page("A4", face=FACE)))[0])
    for part in ("steel rule", "“fit to page”", "284 mm", "197 mm", "add 30 mm",
                 'focuschart printer set "NAME" --paper "A4"'):  # fmt: skip
        assert part in words


@pytest.mark.parametrize("paper", SHEETS)
def test_words_boxes_and_bars_keep_apart(paper: str) -> None:
    page = calibration_page(paper, face=FACE)
    bars = [s for s in page.shapes if s.key.startswith(("bar", "inner", "says"))]
    rest = [s for s in page.shapes if s not in bars]
    low = ink_boxes(rest, face=FACE)[:, :2].min(axis=0)
    high = ink_boxes(rest, face=FACE)[:, 2:].max(axis=0)
    assert (low > 12.0 + 4.0).all()
    assert (high < np.array(SHEETS[paper]) - EDGE_MM).all()
    boxes = [s for s in page.shapes if s.key.startswith("box:") and isinstance(s, Path)]
    assert len(boxes) == 8
    steps = [s for s in page.shapes if s.key.startswith(("step", "title"))]
    under = ink_boxes(steps, face=FACE)[:, 1].min()
    assert ink_boxes(boxes, face=FACE)[:, 3].max() < under


# --- papers --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("asked", "key"),
    [
        ("A4", "A4"),
        ("210 x 297 mm", "A4"),
        ("297 x 210 mm", "A4"),
        ("148 x 210 mm", "210 x 148 mm"),
        ("labels 99.1 x 38.1 mm, 2 x 7 on A4, left 4.65 mm, top 15.15 mm", "A4"),
    ],
)
def test_a_paper_has_one_name(asked: str, key: str) -> None:
    assert paper_key(asked) == key
    assert paper_key(key) == key


@pytest.mark.parametrize(
    ("paper", "complaint"),
    [
        ("B9", "unknown paper"),
        ("200 x 200 mm", "is square"),
        ("100 x 70 mm", "too small"),
        ("roll 100 mm", "whole sheet"),
    ],
)
def test_papers_without_a_sheet(paper: str, complaint: str) -> None:
    with pytest.raises(PageError, match=complaint):
        calibration_page(paper, face=FACE)


@pytest.mark.parametrize(
    ("paper", "complaint"),
    [
        ("B9", "unknown paper"),
        ("120 x 100 mm", "too small"),
        ("297 x 110 mm", "too small"),
        ("roll 100 mm", "whole sheet"),
    ],
)
def test_papers_without_a_registration_sheet(paper: str, complaint: str) -> None:
    with pytest.raises(PageError, match=complaint):
        registration_pages(paper, face=FACE)


# --- registration --------------------------------------------------------------------------------


def read_against_the_light(front: Page, back: Page, name: str) -> float:
    """Return the figure at which a stroke of the front is met best by one of the back."""
    axis = 0 if name == "right" else 1
    marks = {key: points for key, points in paths(front).items() if key.startswith(f"front:{name}")}
    seen = [
        behind(tuple(points.mean(axis=0)), height_mm=back.height_mm)[axis]
        for key, points in paths(back).items()
        if key.startswith(f"back:{name}")
    ]
    gaps = {key: np.abs(p[:, axis].mean() - np.array(seen)).min() for key, p in marks.items()}
    count = int(min(gaps, key=lambda key: gaps[key]).split(":")[2])
    return _figure(front, name, count)


def _figure(front: Page, name: str, count: int) -> float:
    """Return what is printed at a stroke, or between its neighbours."""
    stroke = paths(front)[f"front:{name}:{count}"]
    axis = 0 if name == "right" else 1
    places, values = [], []
    for shape in front.shapes:
        if isinstance(shape, Text) and shape.key.startswith(f"figure:{name}"):
            places.append(shape.x if axis == 0 else shape.y + shape.cap_mm / 2)
            values.append(float(shape.text.replace("−", "-")))
    order = np.argsort(places)
    wanted = stroke[:, axis].mean()
    return float(np.interp(wanted, np.array(places)[order], np.array(values)[order]))


@given(right=st.integers(-10, 10), up=st.integers(-10, 10))
def test_the_scales_read_what_the_back_is_off(right: int, up: int) -> None:
    front, back = registration_pages("A4", face=FACE)
    off = Offset(right * STEP_MM, up * STEP_MM)
    # What a printer does that puts backs too far right and too high.
    printed = registered(back, Offset(-off.right_mm, -off.up_mm), face=FACE)
    read = Offset(*(read_against_the_light(front, printed, name) for name in ("right", "up")))
    assert (read.right_mm, read.up_mm) == pytest.approx((off.right_mm, off.up_mm))
    mended = registered(printed, read, face=FACE)
    for key, points in paths(mended).items():
        assert points == pytest.approx(paths(back)[key])


def test_true_backs_meet_at_zero_on_either_side_of_one_line() -> None:
    front, back = (paths(page) for page in registration_pages("Letter", face=FACE))
    for name in ("right", "up"):
        seen = [behind((x, y), height_mm=215.9) for x, y in back[f"back:{name}:0"]]
        ends = np.concatenate((front[f"front:{name}:0"], seen))
        across = 1 if name == "up" else 0
        assert np.ptp(ends[:, across]) == pytest.approx(0)
        assert np.ptp(ends[:, 1 - across]) == pytest.approx(18)  # two strokes of 9 mm, no gap
    crosses = [key for key in front if key.startswith("cross")]
    centres = {tuple(front[key].mean(axis=0).round(6)) for key in crosses}
    behind_them = {behind(tuple(back[key].mean(axis=0)), height_mm=215.9) for key in crosses}
    assert {(round(x, 6), round(y, 6)) for x, y in behind_them} == centres


@pytest.mark.parametrize("paper", SHEETS)
def test_nothing_on_the_registration_sheet_overlaps(paper: str) -> None:
    front, back = registration_pages(paper, face=FACE)
    written = [s for s in front.shapes if isinstance(s, Text)]
    boxes = ink_boxes(written, face=FACE)
    strokes = ink_boxes([s for s in front.shapes if isinstance(s, Path)], face=FACE)
    seen = ink_boxes(back.shapes, face=FACE)
    seen[:, [1, 3]] = back.height_mm - seen[:, [3, 1]]
    for number, own in enumerate(boxes):
        others = np.concatenate((np.delete(boxes, number, axis=0), strokes, seen))
        apart = (others[:, :2] >= own[2:]) | (others[:, 2:] <= own[:2])
        assert apart.any(axis=1).all(), written[number].text
    width, height = SHEETS[paper]
    everything = np.concatenate((boxes, strokes, seen))
    assert everything[:, :2].min() > EDGE_MM
    assert (everything[:, 2:] < (width - EDGE_MM, height - EDGE_MM)).all()
