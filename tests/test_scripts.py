"""Labels in other scripts, from the command line to the text that readers find in the files."""

from __future__ import annotations

import io
import re
from pathlib import Path as FilePath

import pytest
from click.testing import CliRunner, Result
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont

from focuschart.cli import main
from focuschart.layout.page import Text
from focuschart.renderers.fonts import default_font_path
from focuschart.renderers.glyphs import TypeFace
from tests.readback import pdf_texts, svg_shapes
from tests.sheets import page_of
from tests.test_glyphs import postscript_outlines, with_only
from tests.test_render_ink import assert_same_ink

SAMPLE = FilePath(__file__).parent.parent / "sample_kits" / "mild-street.toml"
SYSTEM = FilePath("/usr/share/fonts")

NAMES = {"cyrillic": "Улица мягко", "greek": "Δρόμος ήπιος", "japanese": "街角やわらか"}
ON_SYSTEMS = [
    ("cyrillic", "truetype/dejavu/DejaVuSans.ttf"),
    ("greek", "truetype/dejavu/DejaVuSans.ttf"),
    ("cyrillic", "truetype/liberation/LiberationSans-Regular.ttf"),
    ("japanese", "opentype/ipafont-gothic/ipag.ttf"),
]


def with_drawn(text: str) -> bytes:
    """Return the default font with a glyph of its own drawn for every character it lacks."""
    font = TTFont(io.BytesIO(default_font_path().read_bytes()))
    known = font.getBestCmap()
    for number, code in enumerate(sorted({ord(c) for c in text} - set(known))):
        name, pen = f"drawn{number}", TTGlyphPen(None)
        for low in range(0, 1200, 400 + 20 * number):
            corners = ((200, low), (200, low + 200), (1700 - 40 * number, low + 200))
            pen.moveTo(corners[0])
            for corner in corners[1:]:
                pen.lineTo(corner)
            pen.closePath()
        font.setGlyphOrder([*font.getGlyphOrder(), name])
        font["glyf"][name] = pen.glyph()
        font["hmtx"][name] = (2048, 200)
        for table in font["cmap"].tables:
            if table.isUnicode():
                table.cmap[code] = name
    file = io.BytesIO()
    font.save(file)
    return file.getvalue()


def kit_named(name: str, folder: FilePath) -> FilePath:
    """Write the sample kit with every printed part renamed; return its path."""
    path = folder / "street.toml"
    text = re.sub(r'^name = ".*"', f'name = "{name}"', SAMPLE.read_text("utf-8"), flags=re.M)
    path.write_text(text, encoding="utf-8")
    return path


def build(kit: FilePath, font: FilePath) -> Result:
    out = kit.parent / "out"
    return CliRunner().invoke(
        main, ["build", str(kit), "--font", str(font), "--out", str(out)], catch_exceptions=False
    )


def found_in_files(folder: FilePath, name: str) -> tuple[bool, bool]:
    """Return whether a PDF's text and an SVG's labels hold the name as it was written."""
    texts = [
        t for p in folder.rglob("strips.pdf") for page in pdf_texts(p.read_bytes()) for t in page
    ]
    labels = [
        shape.attributes.get("aria-label", "")
        for path in folder.rglob("strips-1.svg")
        for shape in svg_shapes(path.read_bytes())
    ]
    return any(name in t for t in texts), any(name in t for t in labels)


@pytest.mark.parametrize("script", NAMES)
def test_names_in_a_script_reach_the_files(script: str, tmp_path: FilePath) -> None:
    name = NAMES[script]
    font = tmp_path / "drawn.ttf"
    font.write_bytes(with_drawn(name))
    result = build(kit_named(name, tmp_path), font)
    assert result.exit_code == 0, result.output
    assert found_in_files(tmp_path / "out", name) == (True, True)


@pytest.mark.parametrize(("script", "file"), ON_SYSTEMS)
def test_fonts_of_this_machine_serve_their_scripts(
    script: str, file: str, tmp_path: FilePath
) -> None:
    if not (SYSTEM / file).exists():
        pytest.skip(f"{file} is not installed")
    result = build(kit_named(NAMES[script], tmp_path), SYSTEM / file)
    assert result.exit_code == 0, result.output
    assert found_in_files(tmp_path / "out", NAMES[script]) == (True, True)


@pytest.mark.parametrize("script", NAMES)
def test_scripts_are_the_same_ink_in_both_formats(script: str) -> None:
    face = TypeFace(with_drawn(NAMES[script]))
    page = page_of(Text(NAMES[script], 5, 5, 6), size=(101.6, 25.4))
    assert_same_ink(page, face=face)


@pytest.mark.parametrize(
    ("name", "complaint"),
    [
        ("\u05e2\u05d3\u05e9\u05d4", "written from right to left"),
        ("\u0639\u062f\u0633\u0629", "written from right to left"),
        ("e\u0301tude", "a combining character"),
        ("\u0915\u093f\u091f", "a combining character"),
        ("\u1112\u1161\u11ab", "a combining character"),
        ("\u8857", "no glyph for"),
    ],
)
def test_names_that_cannot_be_set_are_refused(
    name: str, complaint: str, tmp_path: FilePath
) -> None:
    refused(build(kit_named(name, tmp_path), default_font_path()), complaint, tmp_path)


@pytest.mark.parametrize(
    ("data", "complaint"),
    [
        (postscript_outlines(), "no TrueType outlines"),
        (with_only("ABC H "), "lacks '0'"),
        (b"ttcf\0\1\0\0", "collection of several fonts"),
        (b"", "is not a TrueType font"),
        (b"OTTO", "is not a TrueType font"),
    ],
)
def test_fonts_that_cannot_serve_are_refused(
    data: bytes, complaint: str, tmp_path: FilePath
) -> None:
    font = tmp_path / "font.ttf"
    font.write_bytes(data)
    refused(build(kit_named("Street", tmp_path), font), complaint, tmp_path)


def refused(result: Result, complaint: str, folder: FilePath) -> None:
    """Assert exit status 2, one sentence a line, and nothing written."""
    assert result.exit_code == 2
    assert complaint in result.output
    assert "Traceback" not in result.output
    assert not (folder / "out").exists()
