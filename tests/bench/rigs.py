"""A bag of many rigs: charts and builds must cost the same for each, however many there are."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

from focuschart.chart import build_charts
from focuschart.cli.common import read_kit
from focuschart.layout.page import Page
from focuschart.pages.pack import Paper, pack_pages
from focuschart.pages.rigs import rig_pages
from focuschart.renderers.glyphs import TypeFace
from tests.bench.drawing import reportlab_alone
from tests.bench.measure import (
    SAMPLE,
    least,
    process,
    process_peak_mb,
    processor_seconds,
    show,
)
from tests.kits import kit_text, plain_kit

LIBRARIES = (
    "import click, pydantic, numpy, scipy.optimize, fontTools.ttLib, "
    "reportlab.pdfgen.canvas, reportlab.pdfbase.ttfonts"
)
READ_ONLY = (
    "import sys; from pathlib import Path; from focuschart.cli.common import read_kit; "
    "read_kit(Path(sys.argv[1]))"
)
MOST_MB = 200


def bag(folder: Path, rigs: int) -> Path:
    """Write a kit of some rigs that share lens and attachment, as most of a bag does."""
    kit = plain_kit()
    for number in range(1, rigs):
        kit["rigs"][f"rig-{number}"] = {**kit["rigs"]["portrait"], "name": f"Rig {number}"}
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
        packed = pack_pages(kit, [one], face=face, on=Paper("A4"))
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

    floor = least(process("-c", LIBRARIES), times) + least(alone, times)
    show(f"build of {name} / reportlab alone drawing it", least(build, times) / floor, "<= 2.5")


def show_again(kit_file: Path, name: str) -> None:
    """A build with nothing to do, which must touch nothing, against a process that reads the kit.

    Processors' time, taken in turn, since both are short.
    """
    with tempfile.TemporaryDirectory() as out:
        again = process("-m", "focuschart", "build", str(kit_file), "--out", out)
        read = process("-c", READ_ONLY, str(kit_file))
        again(), read()
        taken = [(processor_seconds(again), processor_seconds(read)) for _ in range(12)]
    ratio = min(one for one, _ in taken) / min(other for _, other in taken)
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
