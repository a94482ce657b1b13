"""Pictures of pages: their size, their bytes, and that they show what the PDF shows."""

from __future__ import annotations

import io
import math
import struct

import numpy as np
import pytest
from PIL import Image

from focuschart.errors import PageError
from focuschart.renderers.preview import LEAST_DPI, MOST_DPI, render_preview
from tests import readback
from tests.sheets import page_of, pdf_of, scene


def chunks(png: bytes) -> list[bytes]:
    """Return the types of a PNG's chunks (ISO/IEC 15948, 5.3)."""
    found, place = [], 8
    while place < len(png):
        (length,) = struct.unpack(">I", png[place : place + 4])
        found.append(png[place + 4 : place + 8])
        place += length + 12
    return found


@pytest.mark.parametrize("dpi", [LEAST_DPI, 72, 110, 96.5, 200])
def test_a_picture_is_as_large_as_its_page(dpi: float) -> None:
    pages = scene()
    pictures = render_preview(pdf_of(*pages), dpi=dpi)
    assert [suffix for suffix, _ in pictures] == ["-1.png", "-2.png"]
    for page, (_, png) in zip(pages, pictures, strict=True):
        size = Image.open(io.BytesIO(png)).size
        true = np.array((page.width_mm, page.height_mm)) / 25.4 * dpi
        assert np.abs(np.array(size) - true).max() <= 1.0


def test_a_picture_says_how_large_it_is() -> None:
    ((_, png),) = render_preview(pdf_of(page_of()), dpi=150)
    assert Image.open(io.BytesIO(png)).info["dpi"] == pytest.approx((150, 150), abs=0.02)


def test_the_same_pages_give_the_same_bytes_and_no_clock() -> None:
    first, second = (render_preview(pdf_of(*scene())) for _ in range(2))
    assert first == second
    for _, png in first:
        assert not {b"tIME", b"tEXt", b"iTXt", b"zTXt", b"eXIf"} & set(chunks(png))


def test_a_picture_shows_what_is_printed() -> None:
    pages = scene()
    data = pdf_of(*pages)
    pictures = render_preview(data, dpi=150)
    for number, (_, png) in enumerate(pictures):
        grey = np.asarray(Image.open(io.BytesIO(png)).convert("L"))
        ink = readback.raster_pdf(data, number, 150)
        assert readback.ink_differs_by(grey < readback.HALF, ink, 1) == 0
        assert ink.any()


def test_colours_stay() -> None:
    ((_, png), _) = render_preview(pdf_of(*scene()))
    colours = Image.open(io.BytesIO(png)).convert("RGB").getcolors(1 << 20)
    assert colours is not None
    assert any(red > 200 and green < 60 for _, (red, green, _) in colours)  # type: ignore[misc]


@pytest.mark.parametrize("dpi", [0, -1, LEAST_DPI - 1, MOST_DPI + 1, math.inf, math.nan])
def test_a_resolution_out_of_range_is_refused(dpi: float) -> None:
    with pytest.raises(PageError, match=f"choose between {LEAST_DPI} and {MOST_DPI}"):
        render_preview(pdf_of(*scene()), dpi=dpi)
