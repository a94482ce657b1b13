"""A bag of many rigs: charts and builds must cost the same for each, however many there are."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

from focuschart.chart.charts import build_charts
from focuschart.cli.common import read_kit
from focuschart.layout.page import Page
from focuschart.pages.pack import Paper
from focuschart.pages.rigs import rig_pages
from focuschart.renderers.glyphs import TypeFace
from tests.bench.commands import DRAW
from tests.bench.drawing import reportlab_alone
from tests.bench.measure import (
    SAMPLE,
    process,
    process_peak_mb,
    processor_seconds,
    ratio_in_turn,
    show,
    work,
)
from tests.kits import kit_text, plain_kit
from tests.pieces import pack_pages

READ_ONLY = (
    "import sys; from pathlib import Path; from focuschart.cli.common import read_kit; "
    "read_kit(Path(sys.argv[1]))"
)
MOST_MB = 200


def bag(folder: Path, rigs: int) -> Path:
    """Write a kit of some rigs that share lens and attachment, as most of a bag does.

    No two are alike in both clamp and marks, so that nothing of one can serve for another.
    """
    kit = plain_kit()
    kit["clamps"] |= {
        f"clamp-{n}": {"name": f"Clamp {n}", "thickness": f"{8.0 + 0.1 * n:.1f} mm"}
        for n in range(101)
    }
    for number in range(1, rigs):
        kit["rigs"][f"rig-{number}"] = {
            **kit["rigs"]["portrait"],
            "name": f"Rig {number}",
            "chain": [f"clamp-{number % 101}"],
            "distances": [f"{1.3 + 0.01 * (number % 103):.2f} m", "3 m", "5 m", "inf"],
        }
    path = folder / f"bag-{rigs}.toml"
    path.write_text(kit_text(kit), encoding="utf-8")
    return path


def show_charts(folder: Path) -> None:
    """One more rig among thousands against one among hundreds; start and fit cancel out."""
    took: dict[int, float] = {}
    for rigs in (10, 1000, 10_000):
        run = process("-m", "focuschart", "chart", str(bag(folder, rigs)), "--format", "csv")
        took[rigs] = min(processor_seconds(run) for _ in range(1 if rigs > 1000 else 3))
    many, few = (took[10_000] - took[1000]) / 9000, (took[1000] - took[10]) / 990
    show("chart: a rig among 10 000 / among 1000", many / few, "<= 1.2")
    for form in ("csv", "json"):
        arguments = ("chart", str(bag(folder, 10_000)), "--format", form)
        peak = process_peak_mb("-m", "focuschart", *arguments)
        show(f"chart of 10 000 rigs as {form}, peak memory / {MOST_MB} MB", peak / MOST_MB, "<= 1")


def documents(kit_file: Path, face: TypeFace) -> Iterator[Sequence[Page]]:
    """Yield every document of a build's packs, as pages."""
    kit = read_kit(kit_file)
    for one in build_charts(kit):
        packed = pack_pages(kit, [one], on=Paper("A4"))
        yield from (sheets.pages for sheets in packed.values())
        yield from rig_pages(kit, [one], face=face, paper="A4").values()


def show_build(kit_file: Path, name: str, *, times: int) -> None:
    """A build from nothing against importing its libraries and reportlab drawing its pages.

    The build reads, fits, solves, lays out, and draws every page as PDF and as SVG.
    """
    face = TypeFace.load()
    made = list(documents(kit_file, face))

    def alone() -> None:
        for pages in made:
            reportlab_alone(pages, face)

    def build() -> None:
        with tempfile.TemporaryDirectory() as out:
            process("-m", "focuschart", "build", str(kit_file), "--out", out)()

    imports = process("-c", DRAW)
    taken = [
        (processor_seconds(build), processor_seconds(imports), work(alone)) for _ in range(times)
    ]
    whole, imported, drawn = (min(each) for each in zip(*taken, strict=True))
    show(
        f"build of {name} / importing and reportlab alone drawing it",
        whole / (imported + drawn),
        "<= 2.5",
    )
    show(
        f"build of {name} less imports / reportlab alone drawing it",
        (whole - imported) / drawn,
        "<= 5",
    )


def show_again(kit_file: Path, name: str) -> None:
    """A build with nothing to do, which must touch nothing, against a process reading it."""
    with tempfile.TemporaryDirectory() as out:
        again = process("-m", "focuschart", "build", str(kit_file), "--out", out)
        read = process("-c", READ_ONLY, str(kit_file))
        ratio = ratio_in_turn(again, read, times=12)
    show(f"build of {name} with nothing to do / reading the kit", ratio, "<= 1.2")


def show_rigs() -> None:
    """Print every figure of charts and builds."""
    with tempfile.TemporaryDirectory() as home:
        folder = Path(home)
        kits = {"the sample": SAMPLE, **{f"{n} rigs": bag(folder, n) for n in (20, 100)}}
        for name, kit_file in kits.items():
            show_again(kit_file, name)
        for name in ("the sample", "20 rigs"):
            show_build(kits[name], name, times=3)
        show_charts(folder)
