"""Pages to pictures: one PNG per page, drawn by PDFium from the same PDF that is printed."""

from __future__ import annotations

import io
from collections.abc import Iterator

from focuschart.errors import PageError

POINTS_PER_INCH = 72.0
LEAST_DPI = 30
MOST_DPI = 400
"""With less, no word can be read; with more, a sheet of A3 takes more than 100 MB to draw."""


def render_preview(pdf: bytes, *, dpi: float = 110) -> list[tuple[str, bytes]]:
    """Return suffix and bytes of one PNG for each page of a PDF, with `dpi` pixels per inch.

    Raises PageError for a `dpi` out of range.
    """
    if not LEAST_DPI <= dpi <= MOST_DPI:
        raise PageError(
            f"a preview of {dpi:g} dots per inch: choose between {LEAST_DPI} and {MOST_DPI}"
        )
    return [(f"-{number}.png", png) for number, png in enumerate(_pictures(pdf, dpi), start=1)]


def _pictures(pdf: bytes, dpi: float) -> Iterator[bytes]:
    import pypdfium2

    document = pypdfium2.PdfDocument(pdf)
    try:
        for page in document:
            image = page.render(scale=dpi / POINTS_PER_INCH).to_pil()
            file = io.BytesIO()
            image.save(file, format="PNG", dpi=(dpi, dpi))
            yield file.getvalue()
    finally:
        document.close()
