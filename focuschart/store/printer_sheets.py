"""The sheets by which a printer is measured: calibration and registration."""

from __future__ import annotations

from typing import TYPE_CHECKING

from focuschart.layout.printer.calibration import calibration_page, paper_key
from focuschart.layout.printer.registration import registration_pages
from focuschart.store.documents import load_face, rendered

if TYPE_CHECKING:
    from pathlib import Path


def printer_sheet(kind: str, paper: str, font: Path | None) -> tuple[str, dict[str, bytes]]:
    """Return the folder name and the files of a sheet, "calibration" or "registration".

    Raises PageError for a paper that it does not fit, GlyphError and InputError for the font.
    """
    face = load_face(font)
    if kind == "calibration":
        pages = [calibration_page(paper, face=face)]
    else:
        pages = registration_pages(paper, face=face)
    key = paper_key(paper)
    files = rendered({kind: pages}, face=face, title=f"Printer sheet, {key}")
    return f"{kind}-{key.replace(' ', '')}", files
