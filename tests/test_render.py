"""Drawings read back from the written files by other people's readers."""

from __future__ import annotations

import math
import os
import subprocess
import sys
import xml.etree.ElementTree as ET
from io import BytesIO
from pathlib import Path as FilePath
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pdfminer.pdfdocument import PDFDocument
from pdfminer.pdfpage import PDFPage
from pdfminer.pdfparser import PDFParser
from pdfminer.pdftypes import resolve1

from focuschart.errors import PageError
from focuschart.layout.page import GROUPS, OPERATION_COLOUR, Page, Point, Text, line
from focuschart.renderers import RENDERERS
from focuschart.renderers.glyphs import TypeFace
from focuschart.renderers.pdf import render_pdf
from focuschart.renderers.svg import render_svg
from tests.readback import (
    pdf_lines,
    pdf_paths,
    pdf_sizes,
    pdf_texts,
    raster_svg,
    svg_keyed,
    svg_shapes,
)
from tests.sheets import A4, FACE, NASTY, digest, page_of, pdf_of, scene

COORDINATE = st.floats(min_value=0, max_value=297)
POINT = st.tuples(COORDINATE, COORDINATE)
LINES = st.lists(
    st.tuples(POINT, POINT).filter(lambda ends: math.dist(*ends) > 0.01), min_size=1, max_size=20
)
CLEAN = st.text(
    st.characters(min_codepoint=32, max_codepoint=0x2FF, exclude_categories=("C", "Z", "M")),
    min_size=1,
    max_size=12,
)


# lengths and sizes


@settings(deadline=None, max_examples=25)
@given(ends=LINES)
def test_every_line_comes_back_from_pdf(ends: list[tuple[Point, Point]]) -> None:
    page = page_of(*(line(a, b, stroke_mm=0.15) for a, b in ends), size=(300, 300))
    (found,) = pdf_lines(pdf_of(page))
    wanted = [[*a, *b, 0.15] for a, b in ends]
    assert found == pytest.approx(np.array(wanted), abs=1e-4)


@settings(deadline=None, max_examples=25)
@given(ends=LINES)
def test_every_line_comes_back_from_svg(ends: list[tuple[Point, Point]]) -> None:
    shapes = (line(a, b, key=str(i), stroke_mm=0.15) for i, (a, b) in enumerate(ends))
    found = svg_keyed(render_svg(page_of(*shapes, size=(300, 300)), face=FACE))
    for number, wanted in enumerate(ends):
        assert found[str(number)].points == pytest.approx(np.array(wanted), abs=1e-4)
        assert found[str(number)].attributes["stroke-width"] == "0.15"


def test_sheets_have_their_own_true_sizes() -> None:
    # 1/72 in (ISO 32000-1, 8.3.2), 25.4 mm (1959): 254 × 25.4 mm is 720 × 72 points.
    # Letter is 8.5 × 11 in (W3C css-page-3), ID-1 85.60 × 53.98 mm (ISO/IEC 7810).
    sizes = [(254.0, 25.4), (215.9, 279.4), A4, (85.60, 53.98)]
    found = pdf_sizes(pdf_of(*(page_of(size=size) for size in sizes)))
    assert found[:2] == pytest.approx(np.array([(720, 72), (612, 792)]), abs=1e-4)
    assert found * 25.4 / 72 == pytest.approx(np.array(sizes), abs=1e-4)


def test_an_inch_of_svg_is_96_css_pixels() -> None:
    # W3C CSS Values 4, 6.2
    data = render_svg(page_of(size=(25.4, 50.8)), face=FACE)
    assert raster_svg(data, 96).shape == (192, 96)
    root = ET.fromstring(data)
    assert (root.get("width"), root.get("height")) == ("25.4mm", "50.8mm")
    assert root.get("viewBox") == "0 0 25.4 50.8"
    assert b"@page{size:25.4mm 50.8mm;margin:0}" in data  # without it browsers add margins


@given(width=st.floats(20, 1000), height=st.floats(20, 1000))
def test_a_drawing_is_whole_css_pixels_within_its_sheet(width: float, height: float) -> None:
    """A browser stretches any other to whole pixels; the paper is told it in full."""
    root = ET.fromstring(render_svg(page_of(size=(width, height)), face=FACE))
    box = [float(number) for number in root.attrib["viewBox"].split()]
    assert box[:2] == [0, 0]
    for shown, paper, name in ((box[2], width, "width"), (box[3], height, "height")):
        pixels = shown * 96 / 25.4
        assert pixels == pytest.approx(round(pixels), abs=4e-4)
        assert paper - 25.4 / 96 - 1e-4 < shown <= paper + 1e-4
        assert root.attrib[name] == f"{shown:.10g}mm"
    assert f"@page{{size:{round(width, 4):.10g}mm " in (root.findtext(".//{*}style") or "")


# groups, colours, fills


def test_each_operation_has_its_own_stroke_in_pdf() -> None:
    (first, _) = pdf_paths(pdf_of(*scene()))
    card = next(path for path in first if path.stroke == (1, 0, 0))
    assert card.closed
    assert card.fill is None
    assert card.width_mm == pytest.approx(0.1, rel=1e-5)
    assert [path.stroke for path in first if path.stroke == (0, 0, 1)] == [(0, 0, 1)]
    arrow = next(path for path in first if path.stroke is None)
    assert arrow.fill == pytest.approx((0x30 / 255,) * 3, abs=1e-5)


def test_each_operation_has_its_own_group_and_stroke_in_svg() -> None:
    data = render_svg(scene()[0], face=FACE)
    shapes = svg_keyed(data)
    assert {key: shapes[key].group for key in ("bar", "fold", "crop", "card")} == {
        "bar": "print", "fold": "fold", "crop": "crop", "card": "cut",
    }  # fmt: skip
    assert (shapes["card"].closed, shapes["card"].attributes["fill"]) == (True, "none")
    for shape in svg_shapes(data):
        if shape.group != "print":
            assert shape.attributes["stroke"] == OPERATION_COLOUR[shape.group]  # type: ignore[index]
        else:
            assert shape.attributes.get("stroke") not in ("#ff0000", "#0000ff")


def test_svg_holds_only_what_every_cutter_reads() -> None:
    root = ET.fromstring(render_svg(scene()[0], face=FACE))
    assert [g.get("id") for g in root.iterfind("{*}g")] == list(GROUPS)
    tags = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert tags == {"svg", "title", "defs", "style", "g", "path", "line", "polyline"}
    names = {name for element in root.iter() for name in element.attrib}
    assert not names & {"transform", "style", "class", "clip-path"}


def test_a_coordinate_a_hair_below_zero_is_zero() -> None:
    data = render_svg(page_of(line((-1e-9, 297 + 1e-9), (10, 10))), face=FACE)
    assert b'x1="0"' in data
    assert b'y1="0"' in data


def test_an_empty_group_is_there_too() -> None:
    root = ET.fromstring(render_svg(page_of(), face=FACE))
    assert [(g.get("id"), len(g)) for g in root.iterfind("{*}g")] == [(g, 0) for g in GROUPS]


# what else is in the files


@settings(deadline=None, max_examples=30)
@given(label=CLEAN.filter(lambda text: not FACE.missing(text)))
def test_any_label_survives(label: str) -> None:
    page = page_of(Text(label, 10, 10, 3, key=label))
    (shape,) = svg_shapes(render_svg(page, face=FACE))
    assert (shape.attributes["aria-label"], shape.attributes["data-key"]) == (label, label)
    assert pdf_texts(pdf_of(page)) == [[label]]


def test_markup_in_labels_and_titles_stays_text() -> None:
    page = Page(*A4, NASTY, (Text(NASTY, 10, 10, 3, key=NASTY), Text("  ", 10, 20, 3, key="blank")))
    data = render_svg(page, face=FACE)
    assert svg_keyed(data)[NASTY].attributes["aria-label"] == NASTY
    assert svg_keyed(data)["blank"].attributes["aria-label"] == "  "
    assert ET.fromstring(data).findtext("{*}title") == NASTY
    pdf = render_pdf([page], face=FACE, title=NASTY)
    assert pdf_texts(pdf) == [[NASTY]]
    assert opened(pdf).info[0]["Title"] == NASTY.encode()


def opened(data: bytes) -> Any:
    return PDFDocument(PDFParser(BytesIO(data)))


def test_viewers_are_asked_to_print_pdf_unscaled() -> None:
    # PrintScaling None, since PDF 1.6 (PDF Association, Arlington model)
    data = pdf_of(*scene())
    assert data.startswith(b"%PDF-1.6")
    preferences = resolve1(opened(data).catalog["ViewerPreferences"])
    assert preferences["PrintScaling"].name == "None"


def test_pdf_tells_its_maker_and_no_time_of_day() -> None:
    info = opened(pdf_of(page_of())).info[0]
    assert info["Producer"] == info["Creator"] == b"focuschart"
    assert info["Author"] == b""
    assert info["CreationDate"].startswith(b"D:20000101")


def test_all_fonts_of_a_pdf_are_embedded() -> None:
    document = opened(pdf_of(*scene()))
    fonts = [
        resolve1(font)
        for page in PDFPage.create_pages(document)
        for font in resolve1(page.resources["Font"]).values()
    ]
    assert fonts
    for font in fonts:
        # Whole thousandths of an em, as some viewers drop the rest.
        assert all(isinstance(width, int) for width in font["Widths"][ord(" ") : ord("~") + 1])
        assert font["Subtype"].name == "TrueType"
        assert len(resolve1(resolve1(font["FontDescriptor"])["FontFile2"]).get_data()) > 1000


def test_two_renderings_are_the_same_bytes() -> None:
    for renderer in RENDERERS.values():
        first = renderer(scene(), face=FACE, title="t")
        assert renderer(scene(), face=TypeFace.load(), title="t") == first


@pytest.mark.parametrize("seed", ["1", "4242"])
def test_another_process_writes_the_same_bytes(seed: str) -> None:
    script = "from tests.sheets import digest; print(digest())"
    run = subprocess.run(
        [sys.executable, "-c", script],
        cwd=FilePath(__file__).parents[1],
        env=os.environ | {"PYTHONHASHSEED": seed, "TZ": "Asia/Tokyo"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert run.stdout.strip() == digest()


# the contract


@pytest.mark.parametrize("name", sorted(RENDERERS))
def test_a_document_without_pages_is_refused(name: str) -> None:
    with pytest.raises(PageError, match="there is no page to draw"):
        RENDERERS[name]((), face=FACE, title="t")


def test_renderers_name_their_documents() -> None:
    names = {
        name: [suffix for suffix, _ in renderer(scene(), face=FACE, title="t")]
        for name, renderer in RENDERERS.items()
    }
    assert names == {"pdf": [".pdf"], "svg": ["-1.svg", "-2.svg"]}


def test_choosing_a_renderer_imports_no_drawing_package() -> None:
    script = (
        "import sys, focuschart.renderers\n"
        "print(sorted({'reportlab', 'fontTools', 'numpy'} & set(sys.modules)))"
    )
    run = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"
