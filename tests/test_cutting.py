"""What a cutter and an editor find in the files: layers, outlines, a spot colour, no print."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET
from functools import cache
from pathlib import Path as FilePath
from typing import Any

import numpy as np
import pdfplumber
import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pdfminer.pdftypes import resolve1

from focuschart.chart.charts import build_charts
from focuschart.errors import PageError
from focuschart.kit.load import load_kit
from focuschart.layout.page import GROUPS, OPERATION_COLOUR, Page, Text, box, line
from focuschart.pages.pack import GLUE, LASER, Paper
from focuschart.renderers import RENDERERS
from focuschart.renderers.cutter import Cutter, cut_only
from focuschart.renderers.pdf import render_pdf
from focuschart.renderers.svg import render_svg
from tests.pieces import pack_pages
from tests.readback import pdf_content, pdf_paths, raster_pdf, svg_shapes
from tests.sheets import FACE, page_of, pdf_of, scene

SAMPLES = sorted((FilePath(__file__).parent.parent / "sample_kits").glob("*.toml"))
EDITOR = "{http://www.inkscape.org/namespaces/inkscape}"
SPOT = "cut-line"


@cache
def pack(path: FilePath) -> list[Page]:
    kit = load_kit(path.read_text(encoding="utf-8"), source=path.name)
    charts = list(build_charts(kit))
    documents = pack_pages(kit, charts, on=Paper())
    return [page for one in documents.values() for page in one.pages]


def catalog(data: bytes) -> dict[str, Any]:
    with pdfplumber.open(io.BytesIO(data)) as document:
        return {key: resolve1(value) for key, value in document.doc.catalog.items()}


def resources(data: bytes) -> list[dict[str, Any]]:
    with pdfplumber.open(io.BytesIO(data)) as document:
        return [
            {f"{key}": resolve1(value) for key, value in page.page_obj.resources.items()}
            for page in document.pages
        ]


# outlines


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_cut_paths_are_closed_unfilled_untransformed_in_one_colour(path: FilePath) -> None:
    pages = pack(path)
    assert any(page.in_group("cut") for page in pages)
    for page in pages:
        data = render_svg(page, face=FACE)
        assert b"transform" not in data
        for shape in svg_shapes(data):
            if shape.group == "print":
                continue
            assert shape.attributes["fill"] == "none"
            assert shape.attributes["stroke"] == OPERATION_COLOUR[shape.group]  # type: ignore[index]
            assert shape.group not in ("cut", "film") or (shape.tag, shape.closed) == ("path", True)


# layers


def test_every_group_is_a_layer_to_an_editor() -> None:
    root = ET.fromstring(render_svg(scene()[0], face=FACE))
    layers = [
        (g.get("id"), g.get(f"{EDITOR}groupmode"), g.get(f"{EDITOR}label"))
        for g in root.iterfind("{*}g")
    ]
    assert layers == [(group, "layer", group) for group in GROUPS]


def test_every_group_is_a_layer_of_the_pdf() -> None:
    """Optional content groups, ISO 32000-1, 8.11."""
    data = pdf_of(*scene())
    properties = catalog(data)["OCProperties"]
    groups = [resolve1(group) for group in resolve1(properties["OCGs"])]
    assert [(g["Type"].name, g["Name"].decode()) for g in groups] == [("OCG", g) for g in GROUPS]
    shown = resolve1(properties["D"])
    assert [ref.objid for ref in resolve1(shown["Order"])] == [
        ref.objid for ref in resolve1(properties["OCGs"])
    ]
    for found in resources(data):
        assert set(found["Properties"]) == set(GROUPS)


def test_a_layer_that_is_switched_off_is_not_drawn() -> None:
    """pdfium is the judge: with all layers off in the file, the page is bare."""
    data = render_pdf([scene()[0]], face=FACE, title="t")
    assert raster_pdf(data, 0, 96).any()
    hidden = data.replace(b"/ON [", b"/OFF[")
    assert not raster_pdf(hidden, 0, 96).any()


def test_what_stands_in_each_layer_of_the_pdf() -> None:
    page = page_of(box(10, 10, 50, 20, group="cut"), line((10, 15), (60, 15)),
                   line((12, 12), (50, 12), group="fold"))  # fmt: skip
    document = pypdfium2.PdfDocument(pdf_of(page))
    raw = document[0].get_objects()
    assert len(list(raw)) == 3
    code = pdf_content(pdf_of(page))
    parts = {group: code.split(f"/OC /{group} BDC")[1].split("EMC")[0] for group in GROUPS}
    strokes = {group: part.count("\nS") + part.count(" S\n") for group, part in parts.items()}
    assert {g: bool(n) for g, n in strokes.items()} == {
        "print": True, "fold": True, "crop": False, "cut": True, "film": False,
    }  # fmt: skip


# the spot colour


def separations(data: bytes) -> list[str]:
    found = [resolve1(space) for r in resources(data) for space in r.get("ColorSpace", {}).values()]
    assert all(space[0].name == "Separation" for space in found)
    return [space[1].name for space in found]


def test_the_cut_has_a_separation_of_the_name_given() -> None:
    data = render_pdf(scene(), face=FACE, title="t", spot=SPOT)
    assert set(separations(data)) == {SPOT}
    assert separations(pdf_of(*scene())) == []


@given(st.text(st.characters(min_codepoint=33, max_codepoint=126), min_size=1, max_size=127))
def test_any_plain_name_comes_back_as_given(name: str) -> None:
    if name.casefold() in ("all", "none", "cyan", "magenta", "yellow", "black"):
        return
    page = page_of(box(1, 1, 2, 2, group="cut"), size=(9.0, 9.0))
    ((_, data),) = RENDERERS["pdf"]([page], face=FACE, title="t", cutter=Cutter(spot=name))
    assert separations(data) == [name]


def test_only_the_cut_is_stroked_in_the_spot_and_it_looks_red() -> None:
    data = render_pdf([scene()[0]], face=FACE, title="t", spot=SPOT)
    (paths,) = pdf_paths(data)
    assert [path.closed for path in paths if path.stroke and np.size(path.stroke) == 1] == [True]
    assert (0, 0, 1) in [path.stroke for path in paths]
    image = pypdfium2.PdfDocument(data)[0].render(scale=4).to_pil().convert("RGB")
    colours = {colour for _, colour in image.getcolors(1 << 24)}
    assert (255, 0, 0) in colours


@pytest.mark.parametrize(
    ("name", "complaint"),
    [
        ("", "has no name"),
        ("   ", "has no name"),
        ("cut\nline", "outside plain ASCII"),
        ("cut\x00", "outside plain ASCII"),
        ("D\u00e9coupe", "outside plain ASCII"),
        ("\u5207\u65ad", "outside plain ASCII"),
        ("x" * 128, "is too long"),
        (" cut", "begins or ends with a space"),
        ("All", "kept for printing inks"),
        ("none", "kept for printing inks"),
        ("Black", "kept for printing inks"),
    ],
)
def test_a_name_that_a_cutter_may_not_find_is_refused(name: str, complaint: str) -> None:
    wanted = f"spot colour .*{complaint}: name it with 1 to 127"
    with pytest.raises(PageError, match=wanted) as told:
        Cutter(spot=name)
    assert str(told.value).isprintable()
    assert len(str(told.value)) < 250


# without print


def test_a_cut_only_page_keeps_every_operation_and_no_print() -> None:
    page = scene()[0]
    bare = cut_only(page)
    assert bare.in_group("print") == ()
    for group in GROUPS[1:]:
        assert bare.in_group(group) == page.in_group(group)
    assert (bare.width_mm, bare.height_mm, bare.title) == (
        page.width_mm, page.height_mm, page.title,
    )  # fmt: skip


def test_cut_only_documents_have_names_of_their_own_and_only_pages_that_are_cut() -> None:
    pages = [page_of(), scene()[0], page_of()]
    for renderer in RENDERERS.values():
        assert renderer([page_of()], face=FACE, title="t", cutter=Cutter(cut_only=True)) == []
    names = [
        [suffix for suffix, _ in RENDERERS[name](pages, face=FACE, title="t",
                                                 cutter=Cutter(cut_only=True))]
        for name in ("pdf", "svg")
    ]  # fmt: skip
    assert names == [["-cut.pdf"], ["-cut-2.svg"]]


def test_the_sheets_of_what_is_cut_say_what_no_laser_may_cut() -> None:
    kit = load_kit(SAMPLES[0].read_text(encoding="utf-8"), source=SAMPLES[0].name)
    charts = list(build_charts(kit))
    for cutter in (False, True):
        packed = pack_pages(kit, charts, on=Paper(cutter=cutter))
        for name, one in packed.items():
            for page in one.pages:
                said = " ".join(text.text for text in page.shapes if isinstance(text, Text))
                assert (LASER in said) == cutter
                assert (GLUE in said) == (name != "cards")


def test_a_cut_only_file_holds_the_same_cut_as_the_whole_one() -> None:
    whole = svg_shapes(render_svg(scene()[0], face=FACE))
    ((_, data),) = RENDERERS["svg"](scene()[:1], face=FACE, title="t", cutter=Cutter(cut_only=True))
    bare = svg_shapes(data)
    assert [(s.group, s.attributes) for s in bare] == [
        (s.group, s.attributes) for s in whole if s.group != "print"
    ]


@pytest.mark.parametrize("cutter", [Cutter(spot=SPOT), Cutter(spot=SPOT, cut_only=True)])
def test_finished_documents_are_the_same_bytes_twice(cutter: Cutter) -> None:
    for renderer in RENDERERS.values():
        first = renderer(scene(), face=FACE, title="t", cutter=cutter)
        assert renderer(scene(), face=FACE, title="t", cutter=cutter) == first
