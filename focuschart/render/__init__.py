"""Rendering: pages of shapes in, the bytes of documents out. Nothing here knows a lens.

A renderer takes the pages, the typeface of their texts and a title, and returns its documents as
(suffix, bytes) pairs; a file name is the caller's stem followed by the suffix. To add a renderer,
write one such function and enter it in `RENDERERS`.

The packages that draw are imported when a renderer is called, not when this one is imported.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Protocol

from focuschart.errors import PageError
from focuschart.layout.page import Page

if TYPE_CHECKING:
    from focuschart.render.glyphs import TypeFace

Document = tuple[str, bytes]
"""What follows the stem of the file's name, such as ".pdf" or "-2.svg", and what is in it."""


class Renderer(Protocol):
    """Draws pages; raises PageError without pages and GlyphError on a text it cannot set."""

    def __call__(self, pages: Sequence[Page], *, face: TypeFace, title: str) -> list[Document]:
        """Return the documents, the same bytes for the same arguments."""


def _as_pdf(pages: Sequence[Page], *, face: TypeFace, title: str) -> list[Document]:
    """One document holds all pages."""
    from focuschart.render.pdf import render_pdf

    return [(".pdf", render_pdf(pages, face=face, title=title))]


def _as_svg(
    pages: Sequence[Page],
    *,
    face: TypeFace,
    title: str,  # noqa: ARG001
) -> list[Document]:
    """One numbered document a page; it carries its page's own title instead of the common one."""
    from focuschart.render.svg import render_svg

    if not pages:
        raise PageError("there is no page to draw")
    return [
        (f"-{number}.svg", render_svg(page, face=face))
        for number, page in enumerate(pages, start=1)
    ]


RENDERERS: dict[str, Renderer] = {"pdf": _as_pdf, "svg": _as_svg}
