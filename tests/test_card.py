"""The pocket card: what a tired person reads of it at arm's length, and that nothing is lost."""

from __future__ import annotations

import io
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image, ImageFilter

from focuschart.chart.charts import build_charts
from focuschart.chart.hyperfocal import hyperfocal_mm
from focuschart.chart.model import Chart
from focuschart.kit.load import load_kit
from focuschart.layout.page import Text
from focuschart.layout.sheet.block import Block
from focuschart.renderers.pdf import render_pdf
from tests.pieces import card_items
from tests.sheets import FACE

SAMPLES = Path(__file__).parents[1] / "sample_kits"
KITS = ("two-lenses", "mild-street", "feet-and-inches")


def solved(name: str, **changed: str) -> Chart:
    text = (SAMPLES / f"{name}.toml").read_text(encoding="utf-8")
    for key, value in changed.items():
        text, count = re.subn(rf"^{key} = .*$", f"{key} = {value}", text, count=1, flags=re.M)
        assert count == 1
    return next(build_charts(load_kit(text, source=name)))


def settings_blocks(chart: Chart, size: str) -> list[Block]:
    return [item.block for item in card_items(chart, size=size) if "/card/" in item.key]


def cells(block: Block, half: str) -> dict[tuple[int, int], Text]:
    """Return a side's table by row and column; row 0 has the headings."""
    found = {}
    for shape in block.shapes:
        match = re.fullmatch(rf"{half}:(\d+):(\d+)", shape.key)
        if match and isinstance(shape, Text):
            found[int(match[1]), int(match[2])] = shape
    return found


@pytest.mark.parametrize(("size", "least_mm"), [("ID-1", 2.2), ("A6", 3.5)])
def test_figures_of_eight_distances_are_large(size: str, least_mm: float) -> None:
    """Capitals of 2.2 mm are 12 minutes of arc at 60 cm."""
    chart = solved("two-lenses")
    assert len(chart.distances_mm) == 8
    front = cells(settings_blocks(chart, size)[0], "front")
    assert {text.cap_mm >= least_mm for text in front.values()} == {True}


@pytest.mark.parametrize("name", KITS)
@pytest.mark.parametrize("size", ["ID-1", "A7", "A6", "80 x 60 mm"])
def test_no_stop_is_dropped_and_no_half_is_blank(name: str, size: str) -> None:
    chart = solved(name, stops="[2.8, 4, 5.6, 8, 11]")
    shown: dict[str, int] = {}
    for block in settings_blocks(chart, size):
        for half in ("front", "back"):
            assert any(shape.key.startswith(f"{half}:") for shape in block.shapes)
            table = cells(block, half)
            rows = max((row for row, _ in table), default=0)
            for (row, column), text in table.items():
                if row == 0 and column and text.text.startswith("f/"):
                    last = table[rows, 0].text
                    shown[text.text] = shown.get(text.text, 0) + rows - (last == "from")
    assert shown == dict.fromkeys(("f/2.8", "f/4", "f/5.6", "f/8", "f/11"), len(chart.distances_mm))


def test_the_front_has_distances_zones_the_hyperfocal_and_the_nearest_focus_alone() -> None:
    chart = solved("two-lenses")
    block = settings_blocks(chart, "A6")[0]
    width = block.width_mm / 2.0
    texts = [s.text for s in block.shapes if isinstance(s, Text) and s.x < width]
    table = {text.text for text in cells(block, "front").values()}
    others = set(texts) - table
    assert others == {chart.rig.name, next(t for t in others if re.fullmatch(r"\w{5}-\w", t)),
                      "Nearest focus 0.9 m."}  # fmt: skip


@pytest.mark.parametrize("name", KITS)
def test_from_the_hyperfocal_it_is_sharp_to_infinity_and_a_little_nearer_not(name: str) -> None:
    from focuschart.chart.hyperfocal import _frame

    chart = solved(name)
    for j, distance in enumerate(hyperfocal_mm(chart).tolist()):
        far = _frame(chart, np.array([0.985 * distance, distance, 2.0 * distance])).far_mm[j]
        assert np.isfinite(far[0])
        assert np.isinf(far[1:]).all()


def test_the_hyperfocal_is_that_of_the_textbook() -> None:
    """H = f²/(N c) + f from the lens: S. F. Ray, Applied Photographic Optics, 3rd ed. (2002).

    The vertical meridian is the tighter; a fitted lens has its own focal length.
    """
    chart = solved("two-lenses")
    f = chart.rig.optic.focal_length_mm
    for stop, found in zip(chart.stops, hyperfocal_mm(chart), strict=True):
        textbook = f * f / (stop * chart.rig.circle_mm) + f
        assert found == pytest.approx(textbook + f, rel=0.02)


def test_marks_that_are_not_sure_are_starred_on_the_front() -> None:
    from focuschart.chart.verdict import verdicts

    chart = solved("two-lenses")
    front = cells(settings_blocks(chart, "A6")[0], "front")
    starred = [front[i + 1, 0].text.endswith("*") for i in range(len(chart.distances_mm))]
    assert starred == [word == "not" for word in verdicts(chart)]
    assert any(starred)


# --- as a camera sees it --------------------------------------------------------------------------

LENS_MM, AWAY_MM, PITCH_MM = 50.0, 600.0, 36.0 / 6000.0
"""A 50 mm lens at 60 cm on 24 × 36 mm and 6000 × 4000 pixels."""


@pytest.mark.skipif(shutil.which("tesseract") is None, reason="tesseract is not installed")
@pytest.mark.parametrize(("name", "size"), [("two-lenses", "ID-1"), ("mild-street", "ID-1")])
def test_every_figure_is_read_off_the_card_at_arms_length(
    name: str, size: str, tmp_path: Path
) -> None:
    """Read by tesseract: at m = v/u the card is 0.10 of its size on the sensor, and blurred."""
    chart = solved(name)
    (item, *_), (width_mm, height_mm) = card_items(chart, size=size), (85.6, 53.98)
    wanted = {at: text.text for at, text in cells(item.block, "front").items()}
    picture = seen_from_afar(item.block, width_mm, height_mm)
    picture.save(tmp_path / "seen.png")
    command = ["tesseract", str(tmp_path / "seen.png"), "-", "--psm", "4"]
    read = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    figures = re.findall(r"\d+(?:\.\d+)?", read)
    expected = [
        figure
        for (row, _), text in sorted(wanted.items())
        if row > 0
        for figure in re.findall(r"\d+(?:\.\d+)?", text)
    ]
    missing = [figure for figure in set(expected) if figures.count(figure) < expected.count(figure)]
    assert not missing, f"{missing}\n{read}"


def seen_from_afar(block: Block, width_mm: float, height_mm: float) -> Image.Image:
    """Return the front as a camera records it, its pixels as the sensor's, with a little blur."""
    from focuschart.layout.page import Page

    shapes = tuple(s for s in block.shapes if getattr(s, "x", 0.0) < width_mm)
    page = Page(2.0 * width_mm, height_mm, "card", shapes)
    pdf = pypdfium2.PdfDocument(io.BytesIO(render_pdf([page], face=FACE, title="card")))
    magnification = LENS_MM / (AWAY_MM - LENS_MM)
    pixels_per_mm = magnification / PITCH_MM
    large: Image.Image = (
        pdf[0].render(scale=4.0 * pixels_per_mm * 25.4 / 72.0).to_pil().convert("L")
    )
    blurred = large.filter(ImageFilter.GaussianBlur(4.0 * 0.7))
    small = blurred.resize((large.width // 4, large.height // 4), Image.Resampling.BOX)
    return small.crop((0, 0, small.width // 2, small.height))
