"""Rendering: turns pages of shapes into the bytes of PDF and SVG files.

A renderer takes pages, the typeface of their texts, a title and a cutter, and returns its documents
as (suffix, bytes) pairs; the caller's file names are a stem of its own followed by the suffix. To
add a renderer, write one such function and enter it in `RENDERERS`.

Heavy drawing packages are imported when a renderer is called, not with this package.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Protocol

from focuschart.errors import PageError
from focuschart.layout.page import Page
from focuschart.renderers.cutter import PLAIN, Cutter, cut_only

if TYPE_CHECKING:
    from focuschart.renderers.glyphs import TypeFace

Document = tuple[str, bytes]
"""The end of a file's name, such as ".pdf" or "-2.svg", and the file's bytes."""


class Renderer(Protocol):
    """Draws pages; raises PageError without pages, GlyphError for a text it cannot print."""

    def __call__(
        self, pages: Sequence[Page], *, face: TypeFace, title: str, cutter: Cutter = PLAIN
    ) -> list[Document]:
        """Return the documents; the same arguments give the same bytes.

        The suffix of a cut-only document begins with "-cut". Such documents leave out pages on
        which nothing is cut, so there may be none.
        """


def _as_pdf(
    pages: Sequence[Page], *, face: TypeFace, title: str, cutter: Cutter = PLAIN
) -> list[Document]:
    """Return one PDF with all pages; none if no page is left."""
    from focuschart.renderers.pdf import render_pdf

    chosen = [page for _, page in _finished(pages, cutter)]
    if not chosen:
        return []
    return [(f"{_mark(cutter)}.pdf", render_pdf(chosen, face=face, title=title, spot=cutter.spot))]


def _as_svg(
    pages: Sequence[Page],
    *,
    face: TypeFace,
    title: str,  # noqa: ARG001
    cutter: Cutter = PLAIN,
) -> list[Document]:
    """Return one numbered SVG per page, with the page's own title instead of the common one."""
    from focuschart.renderers.svg import render_svg

    return [
        (f"{_mark(cutter)}-{number}.svg", render_svg(page, face=face))
        for number, page in _finished(pages, cutter)
    ]


def _finished(pages: Sequence[Page], cutter: Cutter) -> list[tuple[int, Page]]:
    """Return the pages to draw, each with its number among all pages, from 1."""
    if not pages:
        raise PageError("there is no page to draw")
    numbered = list(enumerate(pages, start=1))
    if not cutter.cut_only:
        return numbered
    return [(number, cut_only(page)) for number, page in numbered if page.in_group("cut")]


def _mark(cutter: Cutter) -> str:
    return "-cut" if cutter.cut_only else ""


RENDERERS: dict[str, Renderer] = {"pdf": _as_pdf, "svg": _as_svg}
