"""The settings of printing, and the files of pages printed with them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from focuschart.version import __version__

if TYPE_CHECKING:
    from focuschart.layout.page import Page
    from focuschart.layout.sheet.finish import Finish
    from focuschart.layout.sheet.papers import Way
    from focuschart.pages.pack import Paper
    from focuschart.renderers.glyphs import TypeFace
    from focuschart.store.printers import Setting

FUMES = "Never cut vinyl or PVC film with a laser: it gives off hydrogen chloride."
PAPER, CARD = "A4", "ID-1"
"""The default paper and card size."""


@dataclass(frozen=True, slots=True)
class Printing:
    """The options of printing as given on the command line.

    They are plain values, so that they can be hashed, and sent to another process.
    """

    font: bytes = field(repr=False)
    font_name: str
    paper: str = PAPER
    way: Way = "auto"
    copies: int = 1
    bleed_mm: float = 0.0
    film_mm: float = 0.0
    card: str = CARD
    card_sides: Literal["fold", "two"] = "fold"
    look: str = "plain"
    spot: str | None = None
    cut_files: bool = False
    preview: bool = False
    printer: str | None = None
    setting: Setting | None = None

    @property
    def chosen(self) -> bool:
        """Whether paper or card is not the default."""
        return (self.paper, self.card) != (PAPER, CARD)

    @property
    def key(self) -> str:
        """All settings and the version as text, equal only for equal printing."""
        from focuschart.store.record import digest

        return f"{__version__} {self!r} {digest(self.font)}"

    def face(self) -> TypeFace:
        """Return the typeface; raises GlyphError for a file that is not a usable font."""
        from focuschart.renderers.glyphs import TypeFace

        return TypeFace(self.font, source=self.font_name)

    def require(self) -> None:
        """Raise PageError for invalid settings, before anything is solved or drawn."""
        from focuschart.layout.card.size import card_size
        from focuschart.layout.sheet.look import look_named
        from focuschart.layout.sheet.papers import parse_paper
        from focuschart.renderers.cutter import Cutter

        look_named(self.look)
        Cutter(spot=self.spot)
        parse_paper(self.paper)
        card_size(self.card)
        _ = self.on

    @property
    def cutter(self) -> bool:
        """Whether anything is cut by machine or laminated."""
        return bool(self.spot or self.cut_files or self.film_mm)

    @property
    def caution(self) -> str:
        """The caution about cutting film; empty if nothing is cut or laminated."""
        return FUMES if self.cutter else ""

    @property
    def on(self) -> Paper:
        """The same settings as `pages` takes them; raises PageError for invalid ones."""
        from focuschart.pages.pack import Paper

        two_sided = self.card_sides == "two"
        return Paper(self.paper, self.card, self.finish, two_sided=two_sided, cutter=self.cutter)

    @property
    def finish(self) -> Finish:
        """How pieces are cut; raises PageError for invalid settings."""
        from focuschart.layout.sheet.finish import Finish
        from focuschart.layout.sheet.look import BLEED_MM, look_named

        look = look_named(self.look)
        bleed = max(self.bleed_mm, BLEED_MM) if look and look.swap else self.bleed_mm
        return Finish(copies=self.copies, way=self.way, bleed_mm=bleed, film_mm=self.film_mm)


def printed_files(
    documents: Mapping[str, list[Page]], printing: Printing, *, face: TypeFace, title: str
) -> dict[str, bytes]:
    """Return the files of documents by name: PDF and SVG, cut files and previews if asked for.

    Cut files and previews do without the printer's correction: a plotter has other errors. Raises
    PageError and GlyphError.
    """
    from focuschart.layout.sheet.look import with_look
    from focuschart.pages.pack import CARDS
    from focuschart.renderers.cutter import Cutter
    from focuschart.store.documents import rendered
    from focuschart.store.printers import for_setting

    look, bleed = printing.look, printing.finish.bleed_mm
    looked = {
        name: [with_look(page, look, bleed_mm=bleed) for page in pages]
        for name, pages in documents.items()
    }
    two = CARDS if printing.card_sides == "two" else ()
    sent = for_setting(looked, printing.setting, printer=printing.printer, face=face, two_sided=two)
    files = rendered(sent, face=face, title=title, cutter=Cutter(spot=printing.spot))
    if printing.cut_files:
        cut = Cutter(spot=printing.spot, cut_only=True)
        files |= rendered(looked, face=face, title=title, cutter=cut)
    if not printing.preview:
        return files
    same = printing.spot is None and sent == looked
    printed = files if same else rendered(looked, face=face, title=title, only="pdf")
    return files | _previews(looked, printed)


def _previews(names: Iterable[str], printed: Mapping[str, bytes]) -> dict[str, bytes]:
    """Return pictures of the pages of the named documents, from their PDFs in `printed`."""
    from focuschart.renderers.preview import render_preview

    return {
        f"{name}{suffix}": data
        for name in names
        for suffix, data in render_preview(printed[f"{name}.pdf"])
    }
