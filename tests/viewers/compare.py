"""Print how alike the viewers are: `python -m tests.viewers.compare [FONT.ttf]`.

Draws the sample kit's pack, plain and for the night, in every viewer on this machine; takes some
minutes.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

from focuschart.chart.charts import build_charts
from focuschart.kit.load import load_kit
from focuschart.layout.page import Page
from focuschart.layout.sheet.finish import Finish
from focuschart.layout.sheet.look import BLEED_MM, with_look
from focuschart.pages.pack import Paper
from focuschart.pages.rigs import rig_pages
from focuschart.renderers.glyphs import TypeFace
from focuschart.renderers.pdf import render_pdf
from focuschart.renderers.svg import render_svg
from tests.pieces import pack_pages
from tests.viewers.measure import ALLOWED_MM, apart_mm, astray_mm
from tests.viewers.viewers import OF_PDF, OF_SVG, PRINTS, Absent, Grey, printed

SAMPLE = Path(__file__).parent.parent.parent / "sample_kits" / "two-lenses.toml"


def sample_pages(face: TypeFace, look: str) -> list[Page]:
    """Return all pages of the sample's pack, sheets of rigs included, in a look."""
    kit = load_kit(SAMPLE.read_text(encoding="utf-8"), source=SAMPLE.name)
    charts = list(build_charts(kit))
    # As `build` lays out a dark look: no heading stands on its ground.
    on = Paper(finish=Finish(bleed_mm=BLEED_MM))
    packed = pack_pages(kit, charts, on=on)
    sheets = {name: one.pages for name, one in packed.items()}
    documents = {**sheets, **rig_pages(kit, charts, face=face, paper="A4")}
    return [with_look(page, look) for pages in documents.values() for page in pages]


def drawings(page: Page, face: TypeFace) -> Iterator[tuple[str, Grey]]:
    """Yield a page as each viewer at hand draws it."""
    pdf, svg = render_pdf([page], face=face, title="t"), render_svg(page, face=face)
    for name, of_pdf in OF_PDF.items():
        try:
            yield name, of_pdf(pdf, 0)
        except Absent as why:
            print(f"{name}: left out, {why}")
    for name, of_svg in OF_SVG.items():
        try:
            yield name, of_svg(svg)
        except Absent as why:
            print(f"{name}: left out, {why}")


def compare_ink(pages: list[Page], face: TypeFace) -> None:
    """Print for each pair of viewers the worst distance of unexplained ink over all pages."""
    worst: dict[tuple[str, str], float] = {}
    for page in pages:
        for pair, apart in apart_mm(dict(drawings(page, face))).items():
            worst[pair] = max(worst.get(pair, 0.0), apart)
    for (one, other), apart in worst.items():
        told = "more than allowed" if apart > ALLOWED_MM else ""
        print(f"  {one:<9} {other:<9} {apart:6.3f} mm  {told}")


def compare_marks(pages: list[Page], face: TypeFace) -> None:
    """Print how far the worst mark is astray in our PDF and in those that viewers print."""
    pdfs = {"focuschart": [render_pdf([page], face=face, title="t") for page in pages]}
    for name in PRINTS:
        try:
            pdfs[name] = [printed(render_svg(page, face=face), name) for page in pages]
        except Absent as why:
            print(f"{name}: left out, {why}")
    for name, files in pdfs.items():
        found = [astray_mm(page, pdf) for page, pdf in zip(pages, files, strict=True)]
        astray, scale = max(found)
        print(f"  {name:<11} worst mark {astray:.4f} mm from its place, scale {scale:.5f}")


def main(font: str | None) -> None:
    """Print both tables for each look."""
    face = TypeFace.load(Path(font) if font else None)
    for look in ("plain", "night"):
        pages = sample_pages(face, look)
        print(f"{look}, {len(pages)} pages at 600 dpi: ink unexplained by the other viewer")
        compare_ink(pages, face)
    print("marks of the printed PDFs")
    compare_marks(sample_pages(face, "plain"), face)


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else None)
