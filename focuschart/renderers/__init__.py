"""Rendering: pages of shapes in, the bytes of documents out. Nothing here knows a lens.

A renderer takes the pages, the typeface of their texts, a title and a cutter, and returns its
documents as (suffix, bytes) pairs; a file name is the caller's stem followed by the suffix. To add
a renderer, write one such function and enter it in `RENDERERS`.

The packages that draw are imported when a renderer is called, not when this one is imported.
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
"""What follows the stem of the file's name, such as ".pdf" or "-2.svg", and what is in it."""


class Renderer(Protocol):
    """Draws pages; raises PageError without pages and GlyphError on a text it cannot set."""

    def __call__(
        self, pages: Sequence[Page], *, face: TypeFace, title: str, cutter: Cutter = PLAIN
    ) -> list[Document]:
        """Return the documents, the same bytes for the same arguments.

        Cut-only documents have "-cut" before the rest of the suffix and leave out pages on which
        nothing is cut; there may be none.
        """


def _as_pdf(
    pages: Sequence[Page], *, face: TypeFace, title: str, cutter: Cutter = PLAIN
) -> list[Document]:
    """One document holds all pages."""
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
    """One numbered document a page; it carries its page's own title instead of the common one."""
    from focuschart.renderers.svg import render_svg

    return [
        (f"{_mark(cutter)}-{number}.svg", render_svg(page, face=face))
        for number, page in _finished(pages, cutter)
    ]


def _finished(pages: Sequence[Page], cutter: Cutter) -> list[tuple[int, Page]]:
    """Return the pages to draw with their numbers, which stay those of the printed sheets."""
    if not pages:
        raise PageError("there is no page to draw")
    numbered = list(enumerate(pages, start=1))
    if not cutter.cut_only:
        return numbered
    return [(number, cut_only(page)) for number, page in numbered if page.in_group("cut")]


def _mark(cutter: Cutter) -> str:
    return "-cut" if cutter.cut_only else ""


RENDERERS: dict[str, Renderer] = {"pdf": _as_pdf, "svg": _as_svg}
