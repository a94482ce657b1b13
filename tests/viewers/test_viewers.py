"""One page of strips in every viewer on this machine; those that are not there are skipped."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest

from focuschart.layout.page import Page, Path, Shape, Text, box, line, rounded_box
from focuschart.renderers.pdf import render_pdf
from focuschart.renderers.svg import render_svg
from tests.sheets import FACE
from tests.viewers.measure import ALLOWED_MM, apart_mm, astray_mm
from tests.viewers.viewers import OF_PDF, OF_SVG, PRINTS, Absent, Grey, printed

SNAPPED_MM = 0.09
"""poppler moves fine strokes to whole pixels (automatic stroke adjustment, ISO 32000-1, 10.6.5)."""
ASTRAY_MM = 0.01


@cache
def sheet() -> Page:
    """An A4 sheet with marks over 280 mm, in every direction and size of text."""
    ticks = [line((8 + 10 * k, 20), (8 + 10 * k, 25), stroke_mm=0.13, key=f"t{k}")
             for k in range(29)]  # fmt: skip
    texts = [Text(f"{k} m ∞ ½", 10 + 30 * k, 40, 1.6 + 0.3 * k, rotation=0.3 * k) for k in range(8)]
    card = rounded_box(20, 100, 171.2, 53.98, radius=3.18, group="cut")
    fold = line((105.6, 100), (105.6, 153.98), group="fold")
    mirrored = Text("1.5 m", 60, 180, 3.0, mirrored=True)
    thick = box(200, 40, 30, 20, stroke_mm=0.8)
    star = Path(tuple((240 + 8 * math.cos(2.4 * k), 180 + 8 * math.sin(2.4 * k)) for k in range(9)),
                closed=True, stroke_mm=0.5, fill="#303030")  # fmt: skip
    shapes: tuple[Shape, ...] = (*ticks, *texts, card, fold, mirrored, thick, star)
    return Page(297.0, 210.0, "viewers", shapes)


@cache
def reference() -> Grey:
    return OF_PDF["pdfium"](render_pdf([sheet()], face=FACE, title="t"), 0)


def drawn(name: str) -> Grey:
    try:
        if name in OF_PDF:
            return OF_PDF[name](render_pdf([sheet()], face=FACE, title="t"), 0)
        return OF_SVG[name](render_svg(sheet(), face=FACE))
    except Absent as why:
        pytest.skip(str(why))


@pytest.mark.parametrize("name", [name for name in (*OF_PDF, *OF_SVG) if name != "pdfium"])
def test_a_viewer_shows_the_same_ink_as_pdfium(name: str) -> None:
    (apart,) = apart_mm({"pdfium": reference(), name: drawn(name)}).values()
    assert apart <= (SNAPPED_MM if name == "poppler" else ALLOWED_MM)


@pytest.mark.parametrize("name", PRINTS)
def test_what_a_viewer_prints_keeps_its_scale(name: str) -> None:
    try:
        pdf = printed(render_svg(sheet(), face=FACE), name)
    except Absent as why:
        pytest.skip(str(why))
    assert astray_mm(sheet(), pdf)[0] <= ASTRAY_MM


def test_a_shift_of_a_tenth_is_seen() -> None:
    """The measure itself: 0.1 mm aside is far more than is allowed."""
    shifted = np.roll(reference(), 3, axis=1)
    (apart,) = apart_mm({"here": reference(), "there": shifted}).values()
    assert apart > ALLOWED_MM
