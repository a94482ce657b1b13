"""Documents drawn and rendered for the Python face, with the same options as the commands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from focuschart.errors import InputError, UnitError, shown
from focuschart.typed import typed_length
from focuschart.units import parse_length

if TYPE_CHECKING:
    from focuschart.chart.model import Chart
    from focuschart.kit.schema import Kit
    from focuschart.layout.page import Page
    from focuschart.renderers.glyphs import TypeFace
    from focuschart.store.printing import Printing

DOCUMENTS = ("strips", "cards", "rulers", "rigs", "barrels", "bench")
FORMS = ("pdf", "svg")
_PRINTED = (
    "paper", "way", "copies", "bleed", "film", "card", "card_sides", "look", "printer", "font",
)  # fmt: skip
_BENCH = ("setups", "repeats")
_RENDERED = ("font", "title", "spot")


def draw(
    kit: Kit, charts: Sequence[Chart], document: str, options: Mapping[str, Any]
) -> list[Page]:
    """Return the pages of one document, corrected for the printer if one is named.

    Raises InputError for an unknown document, option or length, PageError where something does not
    fit.
    """
    from focuschart.layout.sheet.look import with_look
    from focuschart.pages.bench import Bench, bench_pages
    from focuschart.pages.pack import CARDS
    from focuschart.store.printers import for_setting

    _require("document", document, DOCUMENTS)
    allowed = (*_PRINTED, *(_BENCH if document == "bench" else ()))
    for name in options:
        _require("option", name, allowed)
    printing = printing_of({key: value for key, value in options.items() if key in _PRINTED})
    printing.require()
    face = printing.face()
    if document == "bench":
        wanted = Bench(printing.paper, **{key: options[key] for key in _BENCH if key in options})
        drawn = bench_pages(kit, charts, face=face, bench=wanted)
        pages = [page for each in drawn.values() for page in each]
    else:
        pages = _pages(kit, charts, document, printing, face)
    bleed = printing.finish.bleed_mm
    looked = {document: [with_look(page, printing.look, bleed_mm=bleed) for page in pages]}
    two = CARDS if printing.card_sides == "two" else ()
    sent = for_setting(looked, printing.setting, printer=printing.printer, face=face, two_sided=two)
    return sent[document]


def _pages(
    kit: Kit, charts: Sequence[Chart], document: str, printing: Printing, face: TypeFace
) -> list[Page]:
    from focuschart.layout.sheet.papers import whole_sheet
    from focuschart.pages.barrels import barrel_pages
    from focuschart.pages.pack import pack_document
    from focuschart.pages.rigs import rig_pages

    whole = whole_sheet(printing.paper)
    if document == "rigs":
        return rig_pages(kit, charts, face=face, paper=whole).get(document, [])
    if document == "barrels":
        return list(barrel_pages(kit, charts, face=face, paper=whole).get(document, []))
    packed = pack_document(document, kit, charts, face=face, on=printing.on)
    return [page for sheets in packed.values() for page in sheets.pages]


def printing_of(options: Mapping[str, Any]) -> Printing:
    """Return the settings of printing from the commands' options.

    Raises InputError, with the option, for a length, font or printer that cannot be used.
    """
    from focuschart.store.documents import font_bytes, font_name
    from focuschart.store.printers import setting_for
    from focuschart.store.printing import PAPER, Printing

    rest = dict(options)
    font = rest.pop("font", None)
    font = None if font is None else Path(font)
    lengths: dict[str, Any] = {
        f"{name}_mm": length_mm(f"--{name}", rest.pop(name))
        for name in ("bleed", "film")
        if name in rest
    }
    paper, printer = rest.pop("paper", PAPER), rest.pop("printer", None)
    return Printing(
        font=font_bytes(font),
        font_name=font_name(font),
        paper=paper,
        printer=printer,
        setting=setting_for(printer, paper),
        **lengths,
        **rest,
    )


def length_mm(option: str, value: float | str) -> float:
    """Return the length of an option in mm, given as a number of mm or as a text with its unit.

    Raises InputError, with option and value, for a text that is not a length.
    """
    if not isinstance(value, str):
        return float(value)
    try:
        return parse_length(typed_length(value))
    except UnitError as error:
        raise InputError(f"{option} is {shown(value)}: {error}") from None


def render(pages: Sequence[Page], form: str, options: Mapping[str, Any]) -> bytes | list[bytes]:
    """Return pages as one PDF, or as a list with one SVG per page.

    Raises InputError for an unknown form or option, PageError without pages or for a bad spot
    colour, GlyphError for a text that the font cannot print.
    """
    from focuschart.renderers import RENDERERS
    from focuschart.renderers.cutter import Cutter
    from focuschart.store.documents import load_face

    _require("form", form, FORMS)
    for name in options:
        _require("option", name, _RENDERED)
    font = options.get("font")
    face = load_face(None if font is None else Path(font))
    title = options.get("title") or (pages[0].title if pages else "")
    files = RENDERERS[form](pages, face=face, title=title, cutter=Cutter(spot=options.get("spot")))
    contents = [data for _, data in files]
    return contents[0] if form == "pdf" else contents


def _require(what: str, name: str, known: Sequence[str]) -> None:
    if name not in known:
        raise InputError(f"{what} {shown(name)} is unknown: choose {', '.join(known)}")
