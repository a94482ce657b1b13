"""How a pack is printed: the options that say so, and pages taken to files accordingly."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import wraps
from typing import TYPE_CHECKING, Any, Literal, TypeVar

import click

from focuschart import __version__
from focuschart.cli.common import font_option, length_mm

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart.cli.printers import Setting
    from focuschart.layout.finish import Finish
    from focuschart.layout.page import Page
    from focuschart.layout.papers import Way
    from focuschart.pages.pack import Paper
    from focuschart.render.glyphs import TypeFace

Command = TypeVar("Command", bound=Callable[..., Any])

FUMES = "Never cut vinyl or PVC film with a laser: it gives off hydrogen chloride."
PAPER, CARD = "A4", "ID-1"
"""What is printed on, and the card's size, where nothing is said."""
PAPER_HELP = 'A4, A3, Letter, "210 x 297 mm", "roll 100 mm", or "labels …" as the README says.'


@dataclass(frozen=True, slots=True)
class Printing:
    """What is asked for on the command line, plain values only, so that it can be kept and sent."""

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
        """Whether paper or card are other than what is taken without a word."""
        return (self.paper, self.card) != (PAPER, CARD)

    @property
    def key(self) -> str:
        """All of it as text: what is printed otherwise has another."""
        from focuschart.cli.pack_files import digest

        return f"{__version__} {self!r} {digest(self.font)}"

    def face(self) -> TypeFace:
        """Return the typeface; raises GlyphError for a file that is none."""
        from focuschart.render.glyphs import TypeFace

        return TypeFace(self.font, source=self.font_name)

    def require(self) -> None:
        """Raise PageError for what cannot be printed, before anything is solved or drawn."""
        from focuschart.layout.card import card_size
        from focuschart.layout.look import look_named
        from focuschart.layout.papers import parse_paper
        from focuschart.render.cutter import Cutter

        look_named(self.look)
        Cutter(spot=self.spot)
        parse_paper(self.paper)
        card_size(self.card)
        _ = self.on

    @property
    def caution(self) -> str:
        """What to say of cutting, where a cutter or film is in play; else nothing."""
        return FUMES if self.spot or self.cut_files or self.film_mm else ""

    @property
    def on(self) -> Paper:
        """Paper and cards for the pages; raises PageError for what cannot be printed."""
        from focuschart.pages.pack import Paper

        return Paper(self.paper, self.card, self.finish, two_sided=self.card_sides == "two")

    @property
    def finish(self) -> Finish:
        """How pieces are cut; raises PageError for what cannot be printed."""
        from focuschart.layout.finish import Finish
        from focuschart.layout.look import BLEED_MM, look_named

        look = look_named(self.look)
        bleed = max(self.bleed_mm, BLEED_MM) if look and look.swap else self.bleed_mm
        return Finish(copies=self.copies, way=self.way, bleed_mm=bleed, film_mm=self.film_mm)


def printed_files(
    documents: Mapping[str, list[Page]], printing: Printing, *, face: TypeFace, title: str
) -> dict[str, bytes]:
    """Return the files of documents by name: PDF and SVG, and what else is asked for.

    Cut files and previews show pages as they are, without the printer's correction: a plotter
    does not share it. Raises PageError and GlyphError.
    """
    from focuschart.cli.documents import rendered
    from focuschart.cli.printers import for_setting
    from focuschart.layout.look import with_look
    from focuschart.pages.pack import CARDS
    from focuschart.render.cutter import Cutter

    look, bleed = printing.look, printing.finish.bleed_mm
    seen = {
        name: [with_look(page, look, bleed_mm=bleed) for page in pages]
        for name, pages in documents.items()
    }
    two = CARDS if printing.card_sides == "two" else ()
    sent = for_setting(seen, printing.setting, printer=printing.printer, face=face, two_sided=two)
    files = rendered(sent, face=face, title=title, cutter=Cutter(spot=printing.spot))
    if printing.cut_files:
        cut = Cutter(spot=printing.spot, cut_only=True)
        files |= rendered(seen, face=face, title=title, cutter=cut)
    return files | _previews(seen, face, title) if printing.preview else files


def _previews(documents: Mapping[str, list[Page]], face: TypeFace, title: str) -> dict[str, bytes]:
    from focuschart.render.preview import render_preview

    return {
        f"{name}{suffix}": data
        for name, pages in documents.items()
        for suffix, data in render_preview(pages, face=face, title=f"{title}: {name}")
    }


def printing_options(command: Command) -> Command:
    """Add every option of printing; the command is given them as one `printing`."""

    @wraps(command)
    def with_printing(*args: Any, **options: Any) -> Any:
        chosen = {name: options.pop(name) for name in _NAMES}
        return command(*args, printing=_printing(**chosen), **options)

    for option in reversed(_OPTIONS):
        with_printing = option(with_printing)
    return with_printing  # type: ignore[return-value]


_NAMES = (
    "paper", "way", "copies", "bleed", "film", "card", "card_sides", "look", "spot", "cut_files",
    "preview", "printer", "font",
)  # fmt: skip
_OPTIONS = (
    click.option("--paper", default=PAPER, show_default=True, help=PAPER_HELP),
    click.option(
        "--way", type=click.Choice(["auto", "landscape", "portrait"]), default="auto",
        show_default=True, help="Which way up sheets are used.",
    ),
    click.option(
        "--copies", type=int, default=1, show_default=True, help="Of every strip and card.",
    ),
    click.option("--bleed", default="0 mm", show_default=True, help="Ground beyond the cut."),
    click.option(
        "--film", default="0 mm", show_default=True,
        help=f'Laminate beyond the cut; "3 mm" is usual. {FUMES}',
    ),
    click.option("--card", default=CARD, show_default=True, help='ID-1, A7, A6, "90 x 60 mm".'),
    click.option(
        "--card-sides", type=click.Choice(["fold", "two"]), default="fold", show_default=True,
        help="Cards to fold, or printed on both sides of a sheet turned over its long edge.",
    ),
    click.option(
        "--look", default="plain", show_default=True,
        help="plain, night (light on dark), grey, or glow (for stock that glows or reflects).",
    ),
    click.option(
        "--spot", metavar="NAME", help=f"A spot colour in the PDFs for what is cut. {FUMES}"
    ),
    click.option(
        "--cut-files", is_flag=True, help=f"Also write files of the cut lines alone. {FUMES}"
    ),
    click.option("--preview", is_flag=True, help="Also write pictures of pages and barrels."),
    click.option("--printer", metavar="NAME", help='Correct pages for it, once measured.'),
    font_option,
)  # fmt: skip


def _printing(
    *, font: Path | None, bleed: str, film: str, printer: str | None, paper: str, **others: Any
) -> Printing:
    """Return the options; raises FocusChartError, in one sentence, for a bad one.

    What needs more than a moment to check is left to `finish` and to the pages.
    """
    from focuschart.cli.documents import font_bytes, font_name
    from focuschart.cli.printers import setting_for

    return Printing(
        font=font_bytes(font),
        font_name=font_name(font),
        bleed_mm=length_mm("--bleed", bleed),
        film_mm=length_mm("--film", film),
        printer=printer,
        setting=setting_for(printer, paper),
        paper=paper,
        **others,
    )
