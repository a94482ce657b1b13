"""Documents drawn and rendered on request, with the options that the commands have."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from focuschart.errors import InputError, UnitError, shown
from focuschart.units import parse_length

if TYPE_CHECKING:
    from focuschart.chart.model import RigChart
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
    kit: Kit, charts: Sequence[RigChart], document: str, options: Mapping[str, Any]
) -> list[Page]:
    """Return the pages of one document, as a printer is sent them.

    Raises InputError for an unknown document, option or length, PageError for what does not fit.
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
        made = bench_pages(kit, charts, face=face, bench=wanted)
        pages = [page for found in made.values() for page in found]
    else:
        pages = _pages(kit, charts, document, printing, face)
    bleed = printing.finish.bleed_mm
    seen = {document: [with_look(page, printing.look, bleed_mm=bleed) for page in pages]}
    two = CARDS if printing.card_sides == "two" else ()
    sent = for_setting(seen, printing.setting, printer=printing.printer, face=face, two_sided=two)
    return sent[document]


def _pages(
    kit: Kit, charts: Sequence[RigChart], document: str, printing: Printing, face: TypeFace
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
    return [page for one in packed.values() for page in one.pages]


def printing_of(options: Mapping[str, Any]) -> Printing:
    """Return how something is printed; raises InputError for what cannot be, naming the option."""
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
    """Return the mm that an option gives, as a number or with a unit; raises InputError."""
    if not isinstance(value, str):
        return float(value)
    try:
        return parse_length(value)
    except UnitError as error:
        raise InputError(f"{option} is {shown(value)}: {error}") from None


def render(pages: Sequence[Page], form: str, options: Mapping[str, Any]) -> bytes | list[bytes]:
    """Return pages as one PDF or as an SVG a page; raises as `draw` does, and GlyphError."""
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
    found = [data for _, data in files]
    return found[0] if form == "pdf" else found


def _require(what: str, said: str, known: Sequence[str]) -> None:
    if said not in known:
        raise InputError(f"{what} {shown(said)} is unknown: choose {', '.join(known)}")
