"""The typeface: sizes against the font's own tables, and every refusal."""

from __future__ import annotations

import io
from pathlib import Path as FilePath

import numpy as np
import pytest
from fontTools import subset
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.t2CharStringPen import T2CharStringPen
from fontTools.ttLib import TTCollection, TTFont
from fontTools.ttLib.tables._c_m_a_p import CmapSubtable
from hypothesis import given, settings
from hypothesis import strategies as st
from reportlab.pdfbase.ttfonts import TTFont as ReportlabFont

from focuschart.errors import GlyphError
from focuschart.layout.page import Page, Text
from focuschart.renderers.fonts import default_font_path
from focuschart.renderers.glyphs import TypeFace, check_text
from focuschart.renderers.pdf import render_pdf
from focuschart.renderers.svg import render_svg
from tests.readback import ink_box_mm, raster_pdf

FACE = TypeFace.load()
BYTES = default_font_path().read_bytes()


def saved(font: TTFont) -> bytes:
    file = io.BytesIO()
    font.save(file)
    return file.getvalue()


def with_only(text: str) -> bytes:
    font = TTFont(io.BytesIO(BYTES))
    subsetter = subset.Subsetter()
    subsetter.populate(text=text)
    subsetter.subset(font)
    return saved(font)


def with_wide_ones() -> bytes:
    """Return the default font under the same PostScript name, the figure 1 twice as wide."""
    font = TTFont(io.BytesIO(BYTES))
    advance, bearing = font["hmtx"]["one"]
    font["hmtx"]["one"] = (2 * advance, bearing)
    return saved(font)


def with_stated_capitals(units: int) -> bytes:
    font = TTFont(io.BytesIO(BYTES))
    font["OS/2"].version = 2
    font["OS/2"].sCapHeight = units
    for name in ("sxHeight", "usDefaultChar", "usBreakChar", "usMaxContext"):
        setattr(font["OS/2"], name, 0)
    font["OS/2"].ulCodePageRange1 = font["OS/2"].ulCodePageRange2 = 0
    return saved(font)


def with_arrow_as(name: str, *, in_all_maps: bool) -> bytes:
    """Return the default font with → mapped to a glyph, in every cmap or in one of its own."""
    font = TTFont(io.BytesIO(BYTES))
    tables = [table for table in font["cmap"].tables if table.isUnicode()]
    if not in_all_maps:
        wider = CmapSubtable.newSubtable(12)
        wider.platformID, wider.platEncID, wider.language = 0, 4, 0
        wider.cmap = dict(tables[0].cmap)
        font["cmap"].tables.insert(0, wider)
        tables = [wider]
    for table in tables:
        table.cmap[ord("→")] = name
    return saved(font)


def postscript_outlines() -> bytes:
    builder = FontBuilder(1000, isTTF=False)
    builder.setupGlyphOrder([".notdef"])
    builder.setupCharacterMap({})
    empty = T2CharStringPen(500, None).getCharString()
    builder.setupCFF("Test", {}, {".notdef": empty}, {})
    builder.setupHorizontalMetrics({".notdef": (500, 0)})
    builder.setupHorizontalHeader()
    builder.setupPost()
    return saved(builder.font)


# sizes


@given(text=st.text("0123456789 ½∞±Øm.", max_size=20), cap_mm=st.floats(0.5, 20))
def test_widths_are_those_of_another_reader(text: str, cap_mm: float) -> None:
    reader = ReportlabFont("reader", str(default_font_path()))
    em_mm = FACE.em_mm(cap_mm)
    rounded_mm = len(text) * 0.0005 * em_mm  # PDF widths are whole thousandths of an em
    wanted = reader.stringWidth(text, em_mm)
    assert FACE.width_mm(text, cap_mm=cap_mm) == pytest.approx(wanted, abs=rounded_mm + 1e-9)


def test_capitals_have_the_height_asked_for() -> None:
    _, points = FACE.outline("H", cap_mm=2.5)
    assert np.ptp(points[:, 1]) == pytest.approx(2.5)
    assert points[:, 1].min() == 0


def test_the_height_of_capitals_stated_by_the_font_comes_first() -> None:
    assert TypeFace(with_stated_capitals(1024)).cap_ratio == 0.5
    assert TypeFace(with_stated_capitals(0)).cap_ratio == FACE.cap_ratio == 1493 / 2048


@given(text=st.text("0123gQÅ½ ", max_size=10), cap_mm=st.floats(0.5, 20))
def test_outlines_scale_with_their_size(text: str, cap_mm: float) -> None:
    small, large = FACE.outline(text, cap_mm=1), FACE.outline(text, cap_mm=cap_mm)
    assert small.commands == large.commands
    assert large.points == pytest.approx(small.points * cap_mm)


@given(left=st.text("0123gQÅ½ ", max_size=6), right=st.text("0123gQÅ½ ", max_size=6))
def test_outlines_join_at_the_advance(left: str, right: str) -> None:
    whole = FACE.outline(left + right, cap_mm=2).points
    tail = FACE.outline(right, cap_mm=2).points
    shift = (FACE.width_mm(left, cap_mm=2), 0)
    assert whole[len(whole) - len(tail) :] == pytest.approx(tail + shift, abs=1e-9)


def test_blanks_have_a_width_and_no_outline() -> None:
    assert FACE.outline(" \N{NO-BREAK SPACE}", cap_mm=2).commands == ""
    plain, firm = (FACE.width_mm(c, cap_mm=2) for c in " \N{NO-BREAK SPACE}")
    assert plain == firm > 0.5


# refusals


def test_a_missing_file_is_named(tmp_path: FilePath) -> None:
    with pytest.raises(GlyphError, match=r"font .*none\.ttf cannot be read: No such file"):
        TypeFace.load(tmp_path / "none.ttf")


def test_a_file_that_is_no_font_is_refused(tmp_path: FilePath) -> None:
    path = tmp_path / "notes.ttf"
    path.write_text("not a font")
    with pytest.raises(GlyphError, match=r"notes\.ttf is not a TrueType font that can be read"):
        TypeFace.load(path)


def test_postscript_outlines_are_refused() -> None:
    with pytest.raises(GlyphError, match=r"no TrueType outlines .*--font"):
        TypeFace(postscript_outlines())


def test_a_collection_of_fonts_is_refused() -> None:
    collection = TTCollection()
    collection.fonts = [TTFont(io.BytesIO(BYTES)), TTFont(io.BytesIO(with_wide_ones()))]
    file = io.BytesIO()
    collection.save(file)
    with pytest.raises(GlyphError, match=r"collection of several fonts; save .* as a \.ttf"):
        TypeFace(file.getvalue())


def test_a_packed_web_font_is_refused() -> None:
    font = TTFont(io.BytesIO(BYTES))
    font.flavor = "woff"
    with pytest.raises(GlyphError, match=r"no TrueType outlines .*--font"):
        TypeFace(saved(font))


@pytest.mark.parametrize(
    ("kept", "lacked"), [("ABC H", r"'0' U\+0030, .*'9' U\+0039"), ("0123456789H", r"' ' U\+0020")]
)
def test_a_font_without_digits_or_space_is_refused(kept: str, lacked: str) -> None:
    with pytest.raises(GlyphError, match=f"lacks {lacked}.*every chart needs"):
        TypeFace(with_only(kept))


def test_a_font_that_hides_the_height_of_its_capitals_is_refused() -> None:
    with pytest.raises(GlyphError, match="height of its capitals nowhere"):
        TypeFace(with_only("0123456789 "))


@settings(deadline=None, max_examples=40)
@given(length=st.integers(0, len(BYTES) - 1000))
def test_a_truncated_font_is_refused(length: int) -> None:
    with pytest.raises(GlyphError, match="--font"):
        TypeFace(BYTES[:length])


def test_missing_characters_are_told_once_each() -> None:
    assert FACE.missing("2→3→5 漢") == "→漢"
    assert FACE.missing("12 ft 6 in ∞ ± Ø ≤ ½ ×") == ""


def test_a_character_mapped_to_the_blank_box_is_missing() -> None:
    assert TypeFace(with_arrow_as("one", in_all_maps=True)).missing("→") == ""
    assert TypeFace(with_arrow_as(".notdef", in_all_maps=False)).missing("→") == "→"


def test_a_character_that_would_be_a_blank_box_in_pdf_is_refused() -> None:
    face = TypeFace(with_arrow_as("one", in_all_maps=False))
    page = Page(50, 50, "p", (Text("1→2", 5, 5, 2),))
    with pytest.raises(GlyphError, match=r"does not show U\+2192 in a PDF.*--font"):
        render_pdf([page], face=face, title="t")


@pytest.mark.parametrize("use", [FACE.check, lambda t: FACE.outline(t, cap_mm=2)])
def test_a_missing_glyph_names_the_character_and_the_cure(use: object) -> None:
    with pytest.raises(GlyphError, match=r"no glyph for '→' U\+2192 in text '1→2'; .*--font"):
        use("1→2")  # type: ignore[operator]


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("12 \u05de", r"U\+05DE, which is written from right to left"),
        ("\u0645", r"U\+0645, which is written from right to left"),
        ("\u0661", r"U\+0661, which is written from right to left"),
        ("e\u0301", r"U\+0301, a combining character"),
        ("\u0915\u093f", r"U\+093F, a combining character"),
        ("\u1112\u1161\u11ab", r"U\+1112, a combining character"),
        ("\u30ab\u3099", r"U\+3099, a combining character"),
    ],
)
def test_writing_that_needs_shaping_is_refused(text: str, complaint: str) -> None:
    with pytest.raises(GlyphError, match=complaint):
        check_text(text)
    with pytest.raises(GlyphError, match=complaint):
        FACE.check(text)


@pytest.mark.parametrize("text", ["", "1.2 m", "≤ 3½ ft", "Ångström", "12′ 6″", "漢", "한", "ガ"])
def test_plain_writing_passes(text: str) -> None:
    check_text(text)


def test_renderers_refuse_a_missing_glyph() -> None:
    page = Page(50, 50, "p", (Text("1→2", 5, 5, 2),))
    with pytest.raises(GlyphError, match=r"U\+2192"):
        render_pdf([page], face=FACE, title="t")
    with pytest.raises(GlyphError, match=r"U\+2192"):
        render_svg(page, face=FACE)


# several faces in one process


@pytest.mark.parametrize("whole_table", [True, False], ids=["no table", "no names"])
def test_a_font_without_names_is_refused_in_one_sentence(whole_table: bool) -> None:
    font = TTFont(io.BytesIO(BYTES))
    if whole_table:
        del font["name"]
    else:
        font["name"].names = []
    face = TypeFace(saved(font))
    with pytest.raises(GlyphError, match=r"cannot be put into a PDF .*name another with --font"):
        render_pdf([Page(50, 50, "p", (Text("1", 5, 5, 2),))], face=face, title="t")


def test_two_faces_of_one_name_do_not_mix() -> None:
    page = Page(50.8, 25.4, "p", (Text("111H", 5, 5, 3),))
    wide = TypeFace(with_wide_ones())
    rights = [
        ink_box_mm(raster_pdf(render_pdf([page], face=face, title="t"), 0, 600), 600)[2]
        for face in (FACE, wide, FACE)
    ]
    grown = wide.width_mm("111", cap_mm=3) - FACE.width_mm("111", cap_mm=3)
    assert grown == pytest.approx(FACE.width_mm("111", cap_mm=3))
    assert rights == pytest.approx([rights[0], rights[0] + grown, rights[0]], abs=0.05)
