"""What ink each format puts where, in pictures made by other people's renderers."""

from __future__ import annotations

import math
import unicodedata

import numpy as np
import pytest

from focuschart.layout.page import Anchor, Page, Path, Text, box, line
from focuschart.renderers.glyphs import TypeFace
from focuschart.renderers.svg import render_svg
from tests.readback import (
    HALF,
    TRACE,
    Ink,
    grey_pdf,
    grey_svg,
    ink_box_mm,
    ink_differs_by,
    ink_outside,
    raster_pdf,
    raster_svg,
)
from tests.sheets import FACE, page_of, pdf_of, scene

DPI = 600
PIXEL_MM = 25.4 / DPI


def raster(page: Page, format_name: str) -> Ink:
    if format_name == "pdf":
        return raster_pdf(pdf_of(page), 0, DPI)
    return raster_svg(render_svg(page, face=FACE), DPI)


@pytest.mark.parametrize("stroke_mm", [0.1, 0.5, 2.0])
def test_a_stroke_ends_where_its_line_ends(stroke_mm: float) -> None:
    page = page_of(line((10, 20), (110, 20), stroke_mm=stroke_mm), size=(127, 50.8))
    wanted = (10, 20 - stroke_mm / 2, 110, 20 + stroke_mm / 2)
    for ink in (raster_pdf(pdf_of(page), 0, DPI), raster_svg(render_svg(page, face=FACE), DPI)):
        assert ink_box_mm(ink, DPI) == pytest.approx(wanted, abs=1.01 * PIXEL_MM)


@pytest.mark.parametrize("format_name", ["pdf", "svg"])
def test_no_stroke_sticks_out_of_a_sharp_corner(format_name: str) -> None:
    needle = Path(((10.0, 10.0), (40.0, 10.5), (10.0, 11.0)), stroke_mm=1.0)
    ink = raster(page_of(needle, size=(50.8, 25.4)), format_name)
    assert ink_box_mm(ink, DPI)[2] == pytest.approx(40.5, abs=1.01 * PIXEL_MM)


@pytest.mark.parametrize("format_name", ["pdf", "svg"])
def test_an_upright_box_has_square_corners(format_name: str) -> None:
    """Its corners are inked in full and it reaches half a stroke beyond its outline, no more."""
    page = page_of(box(10, 5, 20, 10, stroke_mm=2.0), size=(50.8, 25.4))
    ink = raster(page, format_name)
    assert ink_box_mm(ink, DPI) == pytest.approx((9, 4, 31, 16), abs=1.01 * PIXEL_MM)
    row, column = round((25.4 - 4.1) / PIXEL_MM), round(9.1 / PIXEL_MM)
    assert ink[row, column]


@pytest.mark.parametrize("format_name", ["pdf", "svg"])
def test_operations_are_drawn_after_print_whatever_their_order(format_name: str) -> None:
    cover = box(0, 0, 50.8, 25.4, stroke_mm=None, fill="#ffffff")
    page = page_of(line((10, 10), (40, 10), group="crop"), cover, size=(50.8, 25.4))
    assert raster(page, format_name).any()


@pytest.mark.parametrize("format_name", ["pdf", "svg"])
def test_a_fold_is_dashed(format_name: str) -> None:
    page = page_of(line((5, 10), (35, 10), group="fold"), size=(50.8, 25.4))
    row = raster(page, format_name).any(axis=0)
    starts = np.flatnonzero(np.diff(row.astype(int)) == 1) * PIXEL_MM
    assert np.diff(starts) == pytest.approx(np.full(9, 3.0), abs=1.01 * PIXEL_MM)
    assert row.sum() * PIXEL_MM == pytest.approx(20, abs=10 * PIXEL_MM)


def assert_same_ink(page: Page, face: TypeFace = FACE) -> None:
    """No pixel half inked in one format lies over a pixel (0.042 mm) from a trace in the other."""
    pdf, svg = grey_pdf(pdf_of(page, face=face), 0, DPI), grey_svg(render_svg(page, face=face), DPI)
    assert pdf.shape == pytest.approx(svg.shape, abs=8)  # pdfium rounds up, CSS pixels down
    assert (pdf < HALF).sum() > 1000
    assert ink_outside(pdf < HALF, svg < TRACE, 1) == 0
    assert ink_outside(svg < HALF, pdf < TRACE, 1) == 0


@pytest.mark.parametrize("number", [0, 1])
def test_pdf_and_svg_agree_over_the_whole_page(number: int) -> None:
    assert_same_ink(scene()[number])


def test_every_glyph_of_the_default_font_agrees() -> None:
    codes = [c for c in map(chr, range(33, 0x2600)) if not FACE.missing(c)]
    shown = [c for c in codes if unicodedata.category(c)[0] not in "CMZ"]
    assert len(shown) > 200
    rows = ["".join(shown[i : i + 24]) for i in range(0, len(shown), 24)]
    texts = (Text(row, 5, 5 + 6 * i, 3) for i, row in enumerate(rows))
    assert_same_ink(page_of(*texts, size=(101.6, 76.2)))


@pytest.mark.parametrize("turn", [0, 1, 2, 3, 0.37])
@pytest.mark.parametrize("anchor", ["start", "middle", "end"])
def test_texts_stand_alike_at_every_anchor_and_angle(anchor: Anchor, turn: float) -> None:
    text = Text("Hg 12½", 38.1, 38.1, 3, anchor=anchor, rotation=turn * math.pi / 2)
    page = page_of(text, size=(76.2, 76.2))
    of_pdf, of_svg = raster(page, "pdf"), raster(page, "svg")
    assert ink_box_mm(of_pdf, DPI) == pytest.approx(ink_box_mm(of_svg, DPI), abs=1.01 * PIXEL_MM)
    assert ink_differs_by(of_pdf, of_svg, 1) == 0


@pytest.mark.parametrize("format_name", ["pdf", "svg"])
@pytest.mark.parametrize(("anchor", "share"), [("start", 0.0), ("middle", 0.5), ("end", 1.0)])
def test_the_anchor_lies_on_the_baseline(anchor: Anchor, share: float, format_name: str) -> None:
    page = page_of(Text("HOH", 25.4, 10, 3, anchor=anchor), size=(50.8, 25.4))
    left, bottom, right, top = ink_box_mm(raster(page, format_name), DPI)
    assert top - bottom == pytest.approx(3 * 1.03, abs=0.1)  # O is a little taller than H
    assert (bottom + top) / 2 == pytest.approx(11.5, abs=0.05)
    # H stands evenly between its side bearings, so ink and advance share their middle.
    middle = 25.4 + (0.5 - share) * FACE.width_mm("HOH", cap_mm=3)
    assert (left + right) / 2 == pytest.approx(middle, abs=0.05)


@pytest.mark.parametrize("format_name", ["pdf", "svg"])
@pytest.mark.parametrize("quarter", [0, 1, 2, 3])
def test_positive_angles_turn_anticlockwise(quarter: int, format_name: str) -> None:
    text = Text("HHHH", 25.4, 25.4, 3, rotation=quarter * math.pi / 2)
    left, bottom, right, top = ink_box_mm(
        raster(page_of(text, size=(50.8, 50.8)), format_name), DPI
    )
    centre = complex((left + right) / 2 - 25.4, (bottom + top) / 2 - 25.4) / 1j**quarter
    assert centre.imag == pytest.approx(1.5, abs=0.05)  # half a capital above the baseline
    assert centre.real == pytest.approx(FACE.width_mm("HHHH", cap_mm=3) / 2, abs=0.05)
