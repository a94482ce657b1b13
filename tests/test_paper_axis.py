"""Rulers and marker strips lie alike on the paper, so that the printer's scale cancels.

A printer's rollers and its carriage or drum err by different shares: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path as FilePath

import numpy as np
import pytest

from focuschart.chart.charts import build_charts
from focuschart.kit.load import load_kit
from focuschart.layout.page import Page, Path
from focuschart.layout.sheet.block import Block, cut_box
from focuschart.layout.sheet.finish import Finish
from focuschart.layout.sheet.look import with_look
from focuschart.layout.sheet.papers import Paper, parse_paper
from focuschart.layout.sheet.pieces import Item
from focuschart.layout.sheet.sheets import imposed
from focuschart.pages.print_jobs import drawn_items
from focuschart.pages.strips import rulers_of, strips_of
from tests.sheets import FACE

SAMPLES = sorted((FilePath(__file__).parent.parent / "sample_kits").glob("*.toml"))
LABELS = "labels 190 x 61 mm, 1 x 4 on A4, left 10 mm, top 20 mm"
UPRIGHT = "labels 61 x 190 mm, 3 x 1 on A4, left 10 mm, top 20 mm"
SHEETS = ["A4", "A3", "Letter", "148 x 210 mm", "300 x 300 mm", "500 x 120 mm"]
OTHERS = ["roll 62 mm", "roll 300 mm", "roll 100 mm, up to 170 mm", LABELS, UPRIGHT]


@cache
def strips(kit_path: FilePath) -> list[Item]:
    """Every ruler and every marker strip of a kit."""
    kit = load_kit(kit_path.read_text(encoding="utf-8"), source=kit_path.name)
    charts = list(build_charts(kit))
    jobs = [*rulers_of(charts, face=FACE)]
    jobs += [job for chart in charts for job in strips_of(chart, face=FACE)]
    return [item for item in drawn_items(jobs) if not item.key.endswith("index")]


def ways_of(page: Page) -> Iterator[str]:
    """Yield "x" or "y" for every piece that is cut on a page, by its outline's longest edge."""
    for shape in page.in_group("cut"):
        if isinstance(shape, Path) and shape.closed:
            points = np.array(shape.points)
            edges = np.abs(np.roll(points, -1, axis=0) - points)
            wide, high = edges[np.argmax(np.hypot(*edges.T))]
            yield "x" if wide > high else "y"


def along(paper: Paper, page: Page) -> str:
    """The longer side of a sheet or a label, the length of a roll."""
    if paper.kind == "roll":
        return "y"
    size = (page.width_mm, page.height_mm)
    if paper.labels is not None:
        size = (paper.labels.width_mm, paper.labels.height_mm)
    return "x" if size[0] >= size[1] else "y"


def assert_along(pages: Sequence[Page], paper: str) -> None:
    count = 0
    for page in pages:
        found = list(ways_of(page))
        assert set(found) == {along(parse_paper(paper), page)}, paper
        count += len(found)
    assert count >= 2


@pytest.mark.parametrize("kit", SAMPLES, ids=lambda path: path.stem)
@pytest.mark.parametrize("paper", [*SHEETS, *OTHERS])
def test_pieces_lie_along_the_paper(kit: FilePath, paper: str) -> None:
    for copies in (1, 3, 7):
        finish = Finish(copies=copies)
        pages = imposed(strips(kit), paper=paper, title="t", face=FACE, finish=finish).pages
        assert_along(pages, paper)


@pytest.mark.parametrize("paper", SHEETS[:4])
@pytest.mark.parametrize("way", ["landscape", "portrait"])
def test_however_the_sheet_is_turned(paper: str, way: str) -> None:
    finish = Finish(way=way, film_mm=2.0)  # type: ignore[arg-type]
    pages = imposed(strips(SAMPLES[-1]), paper=paper, title="t", face=FACE, finish=finish).pages
    assert_along(pages, paper)
    assert_along([with_look(page, "night") for page in pages], paper)


def test_it_costs_no_sheet_of_the_samples() -> None:
    """A piece is as long as the longer side has room for, whichever way the others lie."""
    for kit, paper in ((kit, paper) for kit in SAMPLES for paper in SHEETS[:4]):
        anyhow = [Item(each.key, each.heading, each.block) for each in strips(kit)]
        free = imposed(anyhow, paper=paper, title="t", face=FACE)
        assert len(imposed(strips(kit), paper=paper, title="t", face=FACE).pages) == len(free.pages)


def test_what_fits_only_across_lies_across() -> None:
    """As a strip of a strong cone does, which is nearly as high as long, and curved."""
    block = Block(150.0, 190.0, (), cut_box(150.0, 190.0))
    (page,) = imposed([Item("one", "", block, lengthwise=True)], paper="A4", title="t", face=FACE,
                      finish=Finish(way="landscape")).pages  # fmt: skip
    assert list(ways_of(page)) == ["x"]
