"""Pages made for a printer: what it errs by, sent through the correction, comes out true."""

from __future__ import annotations

import io
import re

import numpy as np
import pytest
import svgelements
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from focuschart.errors import PageError
from focuschart.layout.extent import ink_boxes
from focuschart.layout.page import Anchor, Page, Path, Point, Text, box, line
from focuschart.layout.printer.correct import (
    Correction,
    Offset,
    behind,
    corrected,
    factor,
    registered,
)
from focuschart.layout.sheet.furniture import furniture
from focuschart.renderers.svg import render_svg
from tests.readback import (
    ink_box_mm,
    pdf_content,
    pdf_lines,
    raster_pdf,
    svg_keyed,
    svg_shapes,
)
from tests.sheets import FACE, page_of, pdf_of

LYING, UPRIGHT = (297.0, 210.0), (210.0, 297.0)  # ISO 216, A4
ERROR = st.floats(min_value=-0.02, max_value=0.02)
INNER = st.tuples(st.floats(20, 190), st.floats(20, 190))
OFFSET_MM = st.floats(min_value=-5, max_value=5)
HALF_PERCENT = Correction("shop", 1.005, 0.995)


def factors(long_error: float, short_error: float) -> Correction:
    pairs = (284.0, long_error), (197.0, short_error)
    return Correction("p", *(factor(nominal_mm=n, measured_mm=n * (1 + e)) for n, e in pairs))


def sent(page: Page, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return where the renderers put points of a page on the sheet."""
    return np.array(points * (page.scale_x, page.scale_y) + page.shift_mm)


def printed(page: Page, points: NDArray[np.float64], errors: Point) -> NDArray[np.float64]:
    """Return where a printer puts them that errs by a share across and up, about any point."""
    return np.array(sent(page, points) * (1 + np.array(errors)) + (0.7, -0.4))


# --- size ----------------------------------------------------------------------------------------


@given(long=ERROR, short=ERROR, ends=st.tuples(INNER, INNER), lying=st.booleans())
def test_a_printer_that_errs_prints_true_lengths(
    long: float, short: float, ends: tuple[Point, Point], lying: bool
) -> None:
    page = Page(*(LYING if lying else UPRIGHT), "p", (line(*ends),))
    made = corrected(page, factors(long, short), face=FACE)
    errors = (long, short) if lying else (short, long)
    start, end = printed(made, np.array(ends), errors)
    assert end - start == pytest.approx(np.subtract(ends[1], ends[0]), abs=1e-9)


def test_the_centre_and_the_sheet_stay() -> None:
    made = corrected(page_of(line((20, 20), (30, 30)), size=LYING), HALF_PERCENT, face=FACE)
    assert (made.width_mm, made.height_mm) == LYING
    centre = np.array([[148.5, 105.0]])
    assert sent(made, centre) == pytest.approx(centre)


@pytest.mark.parametrize("size", [LYING, UPRIGHT], ids=["lying", "upright"])
def test_both_formats_draw_bars_scaled(size: Point) -> None:
    page = Page(*size, "p", tuple(furniture(*size, "p", 1, 1)))
    made = corrected(page, HALF_PERCENT, face=FACE)
    factors_xy = (1.005, 0.995) if size == LYING else (0.995, 1.005)
    before, after = (pdf_lines(pdf_of(p))[0] for p in (page, made))
    assert after[:, 2:4] - after[:, :2] == pytest.approx(
        (before[:, 2:4] - before[:, :2]) * factors_xy, abs=2e-4
    )
    before_svg, after_svg = (svg_keyed(render_svg(p, face=FACE)) for p in (page, made))
    for axis, way in enumerate(("across", "up")):
        bar_mm = np.ptp(before_svg[f"check-{way}"].points[:, axis])
        assert bar_mm >= 100
        found_mm = np.ptp(after_svg[f"check-{way}"].points[:, axis])
        assert found_mm == pytest.approx(bar_mm * factors_xy[axis], abs=2e-4)


def test_cut_paths_and_letters_are_scaled_without_a_transform() -> None:
    words = Text("HHHHHHHHHH", 20, 140, 10)
    page = page_of(box(20, 20, 200, 100, group="cut", key="card"), words, size=LYING)
    made = corrected(page, Correction("shop", 1.01, 0.99), face=FACE)
    data = render_svg(made, face=FACE)
    assert b"transform" not in data
    card = svg_keyed(data)["card"]
    assert np.ptp(card.points, axis=0) == pytest.approx((202.0, 99.0), abs=2e-4)
    letters = [raster_pdf(pdf_of(p), 0, 200)[500:900, :1200] for p in (page, made)]
    before, after = (np.array(ink_box_mm(ink, 200)) for ink in letters)
    assert after[2] - after[0] == pytest.approx((before[2] - before[0]) * 1.01, abs=0.15)


def test_other_peoples_reader_finds_the_svg_bars() -> None:
    page = page_of(line((20, 50), (220, 50), key="bar"), size=LYING)
    data = render_svg(corrected(page, HALF_PERCENT, face=FACE), face=FACE)
    drawing = svgelements.SVG.parse(io.BytesIO(data), ppi=25.4)  # one unit to the millimetre
    (bar,) = (e for e in drawing.elements() if e.values.get("data-key") == "bar")
    left, _, right, _ = bar.bbox()
    assert right - left == pytest.approx(201.0, abs=1e-3)


def test_a_page_for_no_printer_is_drawn_as_ever() -> None:
    page = page_of(line((20, 20), (30, 30)), Text("a", 50, 50, 3), size=LYING)
    matrices = re.findall(r"((?:\S+ ){6})cm", pdf_content(pdf_of(page)))
    scale = 72 / 25.4
    assert [[float(number) for number in matrix.split()] for matrix in matrices] == [
        [1, 0, 0, 1, 0, 0], pytest.approx([scale, 0, 0, scale, 0, 0], abs=1e-6),
    ]  # fmt: skip


# --- what it says --------------------------------------------------------------------------------


def test_a_corrected_page_says_so() -> None:
    made = corrected(page_of(line((20, 20), (30, 30)), size=LYING), HALF_PERCENT, face=FACE)
    says = "Corrected for printer shop: long edge × 1.0050, short edge × 0.9950"
    labels = [s.attributes.get("aria-label") for s in svg_shapes(render_svg(made, face=FACE))]
    assert says in labels


@pytest.mark.parametrize("name", ["s", "W" * 40])
@pytest.mark.parametrize("size", [LYING, UPRIGHT], ids=["lying", "upright"])
def test_the_line_covers_nothing(size: Point, name: str) -> None:
    page = Page(*size, "p", tuple(furniture(*size, "p", 1, 1)))
    made = corrected(page, Correction(name, 1.002, 0.998), face=FACE)
    (note,) = (s for s in made.shapes if s.key == "corrected")
    (own,) = ink_boxes((note,), face=FACE)
    others = ink_boxes(page.shapes, face=FACE)
    apart = (others[:, :2] > own[2:]) | (others[:, 2:] < own[:2])
    assert apart.any(axis=1).all()
    assert own[3] < 18.0


def test_a_long_name_is_shortened_to_the_sheet() -> None:
    made = corrected(page_of(line((20, 20), (30, 30)), size=(120.0, 90.0)),
                     Correction("W" * 40, 1.002, 0.998), face=FACE)  # fmt: skip
    (note,) = (s for s in made.shapes if isinstance(s, Text))
    assert "W…: long edge × 1.0020" in note.text


# --- refusals ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("page", "complaint"),
    [
        (page_of(line((5, 50), (50, 50)), size=(100.0, 100.0)), "is square"),
        (page_of(line((0.3, 50), (50, 50)), size=LYING), "crosses the edge of its sheet by 0.5 mm"),
        (page_of(Text("wide", 0.1, 50, 3), size=LYING), "crosses the edge"),
        (page_of(box(5, 4, 280, 200, fill="#202020"), size=LYING), "no room at foot or head"),
        (page_of(line((9, 50), (20, 50)), size=(60.0, 90.0)), "no room at foot or head"),
        (Page(*LYING, "p", (), 1.01, 1.0), "made for a printer already"),
    ],
)
def test_pages_that_cannot_be_corrected(page: Page, complaint: str) -> None:
    with pytest.raises(PageError, match=complaint):
        corrected(page, HALF_PERCENT, face=FACE)


@pytest.mark.parametrize("measured_mm", [0.0, -5.0, float("nan"), float("inf")])
def test_lengths_no_bar_has(measured_mm: float) -> None:
    with pytest.raises(PageError, match="cannot measure that"):
        factor(nominal_mm=284, measured_mm=measured_mm)


@pytest.mark.parametrize("share", [0.5, 0.97, 0.9799, 1.0201, 3.0])
def test_beyond_two_percent_the_dialogue_is_blamed(share: float) -> None:
    with pytest.raises(PageError, match=re.escape('"fit to page" is on in the print dialogue')):
        factor(nominal_mm=200, measured_mm=200 * share)


@pytest.mark.parametrize("share", [0.98, 1.02])
def test_two_percent_itself_is_a_printers(share: float) -> None:
    assert factor(nominal_mm=200, measured_mm=200 * share) == pytest.approx(1 / share)


@pytest.mark.parametrize("wrong", [0.0, 3.0, -1.0, float("nan"), 0.979, 1.021])
def test_no_correction_is_made_of_a_factor_no_printer_needs(wrong: float) -> None:
    with pytest.raises(PageError, match="beyond 2 %"):
        Correction("p", 1.0, wrong)


@pytest.mark.parametrize("wrong", [5.1, -6.0, float("nan"), float("inf")])
def test_no_offset_is_made_of_a_sheet_turned_wrongly(wrong: float) -> None:
    with pytest.raises(PageError, match="turned over the wrong edge"):
        Offset(0.0, wrong)


# --- backs ---------------------------------------------------------------------------------------


@given(right=OFFSET_MM, up=OFFSET_MM, point=INNER, long=ERROR, short=ERROR)
def test_a_registered_back_lies_behind_its_front(
    right: float, up: float, point: Point, long: float, short: float
) -> None:
    back_point = behind(point, height_mm=210.0)
    back = Page(*LYING, "p", (line(back_point, (150, 100), key="x"),))
    made = corrected(
        registered(back, Offset(right, up), face=FACE), factors(long, short), face=FACE
    )
    (path,) = (s for s in made.shapes if isinstance(s, Path) and s.key == "x")
    about = np.array(LYING) / 2  # the printer's own error is about the middle
    on_paper = (sent(made, np.array(path.points[:1])) - about) * (1 + long, 1 + short) + about
    assert on_paper[0] + (right, up) == pytest.approx(np.array(back_point), abs=1e-9)


@given(point=INNER)
def test_behind_what_is_behind_is_the_place_itself(point: Point) -> None:
    assert behind(behind(point, height_mm=210), height_mm=210) == pytest.approx(point)


def test_a_back_is_kept_on_its_sheet() -> None:
    back = page_of(line((2, 50), (50, 50)), size=LYING)
    with pytest.raises(PageError, match="crosses the edge"):
        registered(back, Offset(3.0, 0.0), face=FACE)
    with pytest.raises(PageError, match="is upright"):
        registered(page_of(size=UPRIGHT), Offset(1.0, 0.0), face=FACE)


# --- extents -------------------------------------------------------------------------------------


@pytest.mark.parametrize("turn", [0.0, 0.4, np.pi / 2, np.pi, -2.0])
@pytest.mark.parametrize("anchor", ["start", "middle", "end"])
@pytest.mark.parametrize("mirrored", [False, True])
def test_boxes_hold_all_ink_and_little_else(turn: float, anchor: Anchor, mirrored: bool) -> None:
    text = Text("Hgpj 1.2 mH", 60, 60, 5, anchor, turn, mirrored=mirrored)
    page = page_of(text, size=(120.0, 120.0))
    ink = np.array(ink_box_mm(raster_pdf(pdf_of(page), 0, 200), 200))
    (found,) = ink_boxes(page.shapes, face=FACE)
    outside = np.concatenate((found[:2] - ink[:2], ink[2:] - found[2:]))
    assert outside.max() < 0.2
    assert outside.min() > -3.0


def test_strokes_have_half_their_width_outside() -> None:
    (found,) = ink_boxes((line((20, 35), (40, 20), stroke_mm=2),), face=FACE)
    assert found == pytest.approx((19, 19, 41, 36))


def test_an_open_frame_leaves_its_middle_free() -> None:
    boxes = ink_boxes((box(10, 10, 100, 50, stroke_mm=0.2),), face=FACE)
    assert boxes.shape == (4, 4)
    assert ink_boxes((box(10, 10, 100, 50, fill="#202020"),), face=FACE).shape == (1, 4)
    assert ink_boxes((), face=FACE).shape == (0, 4)
