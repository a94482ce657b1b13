"""Pages to PDF by reportlab: at true size, with an embedded font, the same bytes every time."""

from __future__ import annotations

import io
import struct
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont
from reportlab.pdfgen.canvas import FILL_NON_ZERO, Canvas

from focuschart.errors import GlyphError, PageError
from focuschart.layout.page import BLACK, GROUPS, Page, Path, Shape, Text, rgb
from focuschart.renderers.glyphs import TypeFace
from focuschart.renderers.layers import Layers
from focuschart.renderers.pen import Pen, baseline_of, pen_of

POINTS_PER_MM = 72 / 25.4
"""PDF's unit is 1/72 inch (ISO 32000-1, 8.3.2), the inch 25.4 mm (1959 yard agreement)."""

MAKER = "focuschart"

_BUTT_CAP = 0  # a round or square one would lengthen every line
_MITRED_JOIN, _ROUND_JOIN = 0, 1


def render_pdf(
    pages: Sequence[Page], *, face: TypeFace, title: str, spot: str | None = None
) -> bytes:
    """Return one PDF 1.6 document with all pages; it asks viewers to print it unscaled.

    Each group of a page is a layer; `spot` names the spot colour of cut lines, else they are plain
    red. Raises PageError without pages, GlyphError for a text that `face` cannot print.
    """
    if not pages:
        raise PageError("there is no page to draw")
    with _registered(face) as font:
        _require_characters(pages, face=face, font=font)
        canvas = _new_canvas(font.fontName, title=title)
        layers = Layers(canvas, spot=spot)
        for page in pages:
            _Sheet(canvas, layers, face=face, spot=spot is not None).draw(page)
        layers.close()
        return _document(canvas)


def _document(canvas: Canvas) -> bytes:
    """Return the document's bytes; reportlab reads the used glyphs, and may fail, only now."""
    try:
        return bytes(canvas.getpdfdata())
    except (TTFError, LookupError, ValueError, struct.error) as error:
        raise _unusable(error) from error


def _unusable(error: Exception | str) -> GlyphError:
    return GlyphError(f"the font cannot be put into a PDF ({error}); name another with --font")


@contextmanager
def _registered(face: TypeFace) -> Iterator[TTFont]:
    """Register the face with reportlab for one document, under a name of its own.

    reportlab would use the file of the first font for any later one of the same PostScript name,
    and a font's state belongs to one document: so the font is unregistered after it.
    """
    try:
        font = TTFont(
            f"face-{face.digest}", io.BytesIO(face.data), asciiReadable=True, shapable=False
        )
    except (TTFError, LookupError, ValueError, struct.error) as error:
        raise _unusable(error) from error
    except AttributeError as error:  # raised by reportlab for a font without a readable name
        raise _unusable("it states no English name of its own") from error
    font.face.charWidths.update({ord(c): width for c, width in face.advances.items()})
    font.unregister()
    pdfmetrics.registerFont(font)
    try:
        yield font
    finally:
        font.unregister()


def _require_characters(pages: Sequence[Page], *, face: TypeFace, font: TTFont) -> None:
    """Raise GlyphError for a text that cannot be printed.

    reportlab is asked too, since it may read another character map than fontTools.
    """
    for text in (s.text for page in pages for s in page.shapes if isinstance(s, Text)):
        face.check(text)
        for character in text:
            if not font.face.charToGlyph.get(ord(character)):
                raise GlyphError(
                    f"the font does not show U+{ord(character):04X} in a PDF, "
                    f"as text {text!r} needs; name another font with --font"
                )


def _new_canvas(font_name: str, *, title: str) -> Canvas:
    """Return a canvas without the time of day and without fonts that are not embedded."""
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


class _Sheet:
    """One page being drawn; it sets stroke and fill only when they change, for a smaller file."""

    def __init__(self, canvas: Canvas, layers: Layers, *, face: TypeFace, spot: bool) -> None:
        self._canvas, self._layers, self._face, self._spot = canvas, layers, face, spot
        self._stroke: tuple[object, ...] | None = None
        self._fill: str | None = None

    def draw(self, page: Page) -> None:
        """Draw a whole page, group by group."""
        canvas = self._canvas
        canvas.setPageSize(
            (float(page.width_mm * POINTS_PER_MM), float(page.height_mm * POINTS_PER_MM))
        )
        canvas.scale(POINTS_PER_MM, POINTS_PER_MM)
        if (page.scale_x, page.scale_y) != (1.0, 1.0):
            canvas.transform(page.scale_x, 0, 0, page.scale_y, *page.shift_mm)
        canvas.setLineCap(_BUTT_CAP)
        for group in GROUPS:
            with self._layers.drawing(group):
                for shape in page.in_group(group):
                    self._draw(shape)
        canvas.showPage()

    def _draw(self, shape: Shape) -> None:
        if isinstance(shape, Text):
            self._draw_text(shape)
        else:
            self._draw_path(shape)

    def _draw_path(self, path: Path) -> None:
        pen = pen_of(path)
        if pen.colour is not None:
            self._take_stroke(pen, spot=self._spot and path.group == "cut")
        if pen.fill is not None:
            self._take_fill(pen.fill)
        track = self._canvas.beginPath()
        track.moveTo(*path.points[0])
        for point in path.points[1:]:
            track.lineTo(*point)
        if path.closed:
            track.close()
        self._canvas.drawPath(
            track,
            stroke=int(pen.colour is not None),
            fill=int(pen.fill is not None),
            fillMode=FILL_NON_ZERO,
        )

    def _take_stroke(self, pen: Pen, *, spot: bool) -> None:
        wanted = (pen.colour, pen.width_mm, pen.dash_mm, pen.mitred, spot)
        if wanted == self._stroke:
            return
        self._stroke = wanted
        if spot:
            self._layers.stroke_spot()
        else:
            self._canvas.setStrokeColorRGB(*rgb(pen.colour or BLACK))
        self._canvas.setLineWidth(pen.width_mm)
        self._canvas.setDash(pen.dash_mm)
        self._canvas.setLineJoin(_MITRED_JOIN if pen.mitred else _ROUND_JOIN)

    def _take_fill(self, colour: str) -> None:
        if colour != self._fill:
            self._fill = colour
            self._canvas.setFillColorRGB(*rgb(colour))

    def _draw_text(self, text: Text) -> None:
        start = baseline_of(text, face=self._face)
        self._take_fill(text.colour)
        run = self._canvas.beginText()
        run.setFont(f"face-{self._face.digest}", self._face.em_mm(text.cap_mm))
        run.setTextTransform(*start.right, *start.up, start.x, start.y)
        run.textOut(text.text)
        self._canvas.drawText(run)
