"""Pages to PDF, by reportlab: true size, real embedded text, the same bytes every time."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont
from reportlab.pdfgen.canvas import FILL_NON_ZERO, Canvas

from focuschart.errors import GlyphError, PageError
from focuschart.layout.page import GROUPS, Page, Path, Text
from focuschart.render.glyphs import TypeFace
from focuschart.render.pen import baseline_of, pen_of

POINTS_PER_MM = 72 / 25.4
"""PDF's unit is 1/72 inch (ISO 32000-1, 8.3.2), the inch 25.4 mm (1959 yard agreement)."""

MAKER = "focuschart"

_BUTT_CAP = 0  # a round or square one would lengthen every line
_ROUND_JOIN = 1  # a mitred one would stick out of a sharp corner


def render_pdf(pages: Sequence[Page], *, face: TypeFace, title: str) -> bytes:
    """Return one PDF 1.6 document of all pages, which viewers are asked to print unscaled.

    Raises PageError if there is no page, and GlyphError if `face` cannot set a text.
    """
    if not pages:
        raise PageError("there is no page to draw")
    with _registered(face) as font:
        _require_characters(pages, face=face, font=font)
        canvas = _new_canvas(font.fontName, title=title)
        for page in pages:
            _draw_page(canvas, page, face=face)
        return bytes(canvas.getpdfdata())


@contextmanager
def _registered(face: TypeFace) -> Iterator[TTFont]:
    """Lend the face to reportlab, under a name of its own.

    reportlab gives any later font the file of the first one with the same PostScript name, and
    a font's state belongs to one document: so the font is made, and forgotten, with the document.
    """
    try:
        font = TTFont(
            f"face-{face.digest}", io.BytesIO(face.data), asciiReadable=True, shapable=False
        )
    except (TTFError, ValueError) as error:
        raise GlyphError(
            f"the font cannot be put into a PDF ({error}); name another with --font"
        ) from error
    font.face.charWidths.update({ord(c): width for c, width in face.advances.items()})
    font.unregister()
    pdfmetrics.registerFont(font)
    try:
        yield font
    finally:
        font.unregister()


def _require_characters(pages: Sequence[Page], *, face: TypeFace, font: TTFont) -> None:
    """Raise GlyphError if a text cannot be set; reportlab may read another cmap than fontTools."""
    for text in (s.text for page in pages for s in page.shapes if isinstance(s, Text)):
        face.check(text)
        for character in text:
            if not font.face.charToGlyph.get(ord(character)):
                raise GlyphError(
                    f"the font does not show U+{ord(character):04X} in a PDF, "
                    f"as text {text!r} needs; name another font with --font"
                )


def _new_canvas(font_name: str, *, title: str) -> Canvas:
    """Return a canvas free of clocks and of fonts that are not embedded."""
    canvas = Canvas(
        io.BytesIO(), initialFontName=font_name, invariant=1, pageCompression=1, pdfVersion=(1, 6)
    )
    canvas.setTitle(title)
    canvas.setAuthor("")
    canvas.setSubject("")
    canvas.setCreator(MAKER)
    canvas.setProducer(MAKER)
    canvas.setViewerPreference("PrintScaling", "None")
    return canvas


def _draw_page(canvas: Canvas, page: Page, *, face: TypeFace) -> None:
    canvas.setPageSize(
        (float(page.width_mm * POINTS_PER_MM), float(page.height_mm * POINTS_PER_MM))
    )
    canvas.scale(POINTS_PER_MM, POINTS_PER_MM)
    canvas.setLineCap(_BUTT_CAP)
    canvas.setLineJoin(_ROUND_JOIN)
    for shape in (shape for group in GROUPS for shape in page.in_group(group)):
        if isinstance(shape, Text):
            _draw_text(canvas, shape, face=face)
        else:
            _draw_path(canvas, shape)
    canvas.showPage()


def _draw_path(canvas: Canvas, path: Path) -> None:
    pen = pen_of(path)
    if pen.colour is not None:
        canvas.setStrokeColorRGB(*_rgb(pen.colour))
        canvas.setLineWidth(pen.width_mm)
        canvas.setDash(pen.dash_mm)
    if pen.fill is not None:
        canvas.setFillColorRGB(*_rgb(pen.fill))
    track = canvas.beginPath()
    track.moveTo(*path.points[0])
    for point in path.points[1:]:
        track.lineTo(*point)
    if path.closed:
        track.close()
    canvas.drawPath(
        track,
        stroke=int(pen.colour is not None),
        fill=int(pen.fill is not None),
        fillMode=FILL_NON_ZERO,
    )


def _draw_text(canvas: Canvas, text: Text, *, face: TypeFace) -> None:
    start = baseline_of(text, face=face)
    canvas.setFillColorRGB(*_rgb(text.colour))
    run = canvas.beginText()
    run.setFont(f"face-{face.digest}", face.em_mm(text.cap_mm))
    run.setTextTransform(start.cos, start.sin, -start.sin, start.cos, start.x, start.y)
    run.textOut(text.text)
    canvas.drawText(run)


def _rgb(colour: str) -> tuple[float, float, float]:
    red, green, blue = bytes.fromhex(colour.removeprefix("#"))
    return (red / 255, green / 255, blue / 255)
