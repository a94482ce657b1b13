"""The packs of the sample kits, read back from the written files by other people's readers."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from focuschart.chart.charts import build_charts
from focuschart.chart.model import Chart
from focuschart.kit.load import load_kit
from focuschart.layout.page import Page
from focuschart.layout.strip.band import LEAD_IN_MM
from focuschart.layout.strip.ticks import HOLLOW_MM, TICK_STROKE_MM
from focuschart.pages.pack import Paper
from focuschart.renderers import RENDERERS
from tests import readback
from tests.pieces import pack_pages
from tests.sheets import FACE
from tests.test_render_ink import assert_same_ink

SAMPLES = sorted((Path(__file__).parent.parent / "sample_kits").glob("*.toml"))
PAPERS = (Paper("A4", "ID-1"), Paper("Letter", "A6"))


@cache
def pack(path: Path, on: Paper) -> tuple[list[Chart], dict[str, list[Page]]]:
    kit = load_kit(path.read_text(encoding="utf-8"), source=path.name)
    charts = list(build_charts(kit))
    packed = pack_pages(kit, charts, on=on)
    return charts, {name: list(one.pages) for name, one in packed.items()}


def svg_marks(pages: list[Page]) -> dict[str, float]:
    """Return for "rig/ring" and mark number the arc from the zero line, from the SVG alone.

    A split strip is put together again: each piece's left edge is the last one's right edge.
    """
    found: dict[str, float] = {}
    origin: dict[str, float] = {}
    reached: dict[str, float] = {}
    for _, data in RENDERERS["svg"](pages, face=FACE, title="t"):
        shapes = readback.svg_keyed(data)
        outlines = [key for key in shapes if key.endswith("outline") and "index" not in key]
        for outline in outlines:
            strip, piece = strip_of(outline), outline.removesuffix("outline")
            xs = xs_of(shapes[outline])
            offset = reached.get(strip, 0.0) - min(xs)
            reached[strip] = offset + max(xs)
            for key, shape in shapes.items():
                x = middle_of(shape) + offset if key.startswith(piece) else 0.0
                if key == f"{piece}zero":
                    origin[strip] = x
                elif key.startswith(f"{piece}mark:"):
                    found[f"{strip}#{key.rpartition(':')[2]}"] = x
    return {key: x - origin[key.partition("#")[0]] for key, x in found.items()}


def strip_of(key: str) -> str:
    return "/".join(key.split("/")[:2])


def middle_of(shape: readback.SvgShape) -> float:
    """Return the x of a tick, a line or a hollow one."""
    return (min(xs_of(shape)) + max(xs_of(shape))) / 2.0


def xs_of(shape: readback.SvgShape) -> list[float]:
    return [x for x, _ in shape.points]


def expected_marks(charts: list[Chart]) -> dict[str, float]:
    """Return the charts' arcs; a mark left of the lead-in is the same place one turn further."""
    expected = {}
    for chart in charts:
        for which, (ring, marks) in chart.rings().items():
            assert marks is not None
            for number, arc in enumerate(marks.arc_mm):
                turn = (float(arc) + LEAD_IN_MM) % ring.strip_length_mm - LEAD_IN_MM
                expected[f"{chart.rig.rig_id}/{which}#{number}"] = turn
    return expected


@pytest.mark.parametrize("on", PAPERS, ids=lambda on: on.paper)
@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_every_mark_in_the_svg_stands_at_the_charts_arc(path: Path, on: Paper) -> None:
    charts, documents = pack(path, on)
    found, expected = svg_marks(documents["strips"]), expected_marks(charts)
    assert found.keys() == expected.keys()
    assert max(abs(found[key] - expected[key]) for key in expected) < 0.01


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_every_mark_in_the_pdf_stands_where_the_svg_has_it(path: Path) -> None:
    """pdfplumber finds the ticks by their stroke; ElementTree finds them by data-key."""
    _, documents = pack(path, PAPERS[0])
    ((_, pdf),) = RENDERERS["pdf"](documents["strips"], face=FACE, title="t")
    svgs = RENDERERS["svg"](documents["strips"], face=FACE, title="t")
    for paths, (_, svg) in zip(readback.pdf_paths(pdf), svgs, strict=True):
        ticks = [
            float(np.ptp(path.points[:, 0]) / 2.0 + np.min(path.points[:, 0]))
            for path in paths
            if path.stroke and is_tick(path)
        ]
        ours = [
            middle_of(shape) for key, shape in readback.svg_keyed(svg).items() if "/mark:" in key
        ]
        assert np.sort(ticks) == pytest.approx(np.sort(ours), abs=0.01)


def is_tick(path: readback.PdfPath) -> bool:
    """Whether a path is a mark's tick: a stroke of that width, or the outline of a hollow one."""
    wide = float(np.ptp(path.points[:, 0]))
    solid = np.isclose(path.width_mm, TICK_STROKE_MM, atol=1e-3) and wide < 1e-3
    hollow = np.isclose(path.width_mm, 0.2, atol=1e-3) and np.isclose(wide, HOLLOW_MM, atol=1e-3)
    return bool(solid or hollow)


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_check_bars_are_as_long_as_stated_in_both_formats(path: Path) -> None:
    """The longest 50 mm that A4 has room for, lying (250 by 150) or upright (150 by 250)."""
    _, documents = pack(path, PAPERS[0])
    for pages in documents.values():
        ((_, pdf),) = RENDERERS["pdf"](pages, face=FACE, title="t")
        svgs = RENDERERS["svg"](pages, face=FACE, title="t")
        for page, lines, (_, svg) in zip(pages, readback.pdf_lines(pdf), svgs, strict=True):
            bars = (250.0, 150.0) if page.width_mm > page.height_mm else (150.0, 250.0)
            across = np.abs(lines[:, 2] - lines[:, 0])
            up = np.abs(lines[:, 3] - lines[:, 1])
            assert np.min(np.abs(across - bars[0])) < 1e-3
            assert np.min(np.abs(up - bars[1])) < 1e-3
            bar = readback.svg_keyed(svg)["check-across"].points
            assert bar[1][0] - bar[0][0] == pytest.approx(bars[0], abs=1e-3)


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_pdf_and_svg_are_the_same_ink(path: Path) -> None:
    """pdfium against resvg at 600 dpi: no ink further than a pixel, 0.042 mm, from the other's."""
    _, documents = pack(path, PAPERS[0])
    for page in (page for pages in documents.values() for page in pages):
        assert_same_ink(page)
