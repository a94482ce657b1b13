"""A hundred strips drawn by the renderers, against reportlab alone drawing the same shapes."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from pathlib import Path

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from focuschart.chart.charts import build_charts
from focuschart.kit.load import load_kit
from focuschart.layout.page import Page, Text
from focuschart.layout.sheet.pieces import Item
from focuschart.layout.sheet.sheets import imposed
from focuschart.pages.print_jobs import drawn_items
from focuschart.pages.strips import strips_of
from focuschart.renderers import RENDERERS
from focuschart.renderers.fonts import default_font_path
from focuschart.renderers.glyphs import TypeFace

STRIPS = 100
_FONT = "bench"


def strips(kit_file: Path, face: TypeFace, count: int) -> list[Item]:
    """Return some strips: those of a kit, over and over."""
    kit = load_kit(kit_file.read_text(encoding="utf-8"), source=kit_file.name)
    charts = build_charts(kit)
    items = drawn_items(one for chart in charts for one in strips_of(chart, face=face))
    return (items * (count // len(items) + 1))[:count]


def strip_pages(items: Sequence[Item], face: TypeFace) -> list[Page]:
    """Return strips on sheets."""
    return list(imposed(items, paper="A4", title=f"{len(items)} strips", face=face).pages)


def reportlab_alone(pages: Sequence[Page], face: TypeFace) -> bytes:
    """Draw the shapes by the plainest calls there are: black, no layers, nothing measured."""
    pdfmetrics.registerFont(TTFont(_FONT, str(default_font_path())))
    canvas = Canvas(io.BytesIO(), pageCompression=1)
    for page in pages:
        canvas.scale(72 / 25.4, 72 / 25.4)
        for shape in page.shapes:
            if isinstance(shape, Text):
                canvas.setFont(_FONT, face.em_mm(shape.cap_mm))
                canvas.drawString(shape.x, shape.y, shape.text)
                continue
            canvas.setLineWidth(shape.stroke_mm or 0.1)
            track = canvas.beginPath()
            track.moveTo(*shape.points[0])
            for point in shape.points[1:]:
                track.lineTo(*point)
            canvas.drawPath(track, stroke=1, fill=int(shape.fill is not None))
        canvas.showPage()
    return bytes(canvas.getpdfdata())


def drawing_runs(kit_file: Path) -> dict[str, Callable[[], object]]:
    """Return by name what is to be timed, the floor first."""
    face = TypeFace.load()
    pages = strip_pages(strips(kit_file, face, STRIPS), face)
    runs: dict[str, Callable[[], object]] = {"reportlab": lambda: reportlab_alone(pages, face)}
    for name, renderer in RENDERERS.items():
        runs[name] = lambda draw=renderer: draw(pages, face=face, title="t")  # type: ignore[misc]
    return runs


def strip_runs(kit_file: Path) -> dict[int, Callable[[], object]]:
    """Return by the number of strips what lays them out and draws them, a hundred at a time."""
    face = TypeFace.load()
    pack = strips(kit_file, face, STRIPS)

    def draw(items: Sequence[Item], packs: int) -> None:
        for _ in range(packs):
            pages = strip_pages(items, face)
            for renderer in RENDERERS.values():
                renderer(pages, face=face, title="t")

    return {
        10: lambda: draw(pack[:10], 1),
        100: lambda: draw(pack, 1),
        1000: lambda: draw(pack, 10),
    }
