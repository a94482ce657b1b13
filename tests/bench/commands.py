"""What each command works beside the bare imports of the libraries it uses."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path

from tests.bench.measure import SAMPLE, process, ratio_in_turn, show

KIT = "import click, pydantic, numpy"
FIT = f"{KIT}, scipy.optimize"
DRAW = f"{FIT}, fontTools.ttLib, svgwrite, reportlab.pdfgen.canvas, reportlab.pdfbase.ttfonts"
PICTURES = f"{DRAW}, pypdfium2, PIL.Image, PIL.PngImagePlugin"

Command = tuple[str, ...]


def _commands(folder: Path) -> dict[str, tuple[Command, str, str]]:
    """Return by name each command's arguments, the libraries it uses and its aim.

    `folder` holds a pack of the sample kit.
    """
    kit, pack = str(SAMPLE), folder / SAMPLE.stem
    record = json.loads(next(pack.glob("*/pack-record.json")).read_text(encoding="utf-8"))
    code = record["notes"]["prints"][0]["code"]
    return {
        "fit": (("fit", kit), FIT, "<= 2"),
        "check": (("check", kit), FIT, "<= 2"),
        "bench": (("bench", kit, "--force", "--out", str(folder / "bench")), DRAW, "<= 2"),
        "compare": (("compare", str(pack), kit), FIT, "<= 2"),
        "identify": (("identify", code, "--out", str(folder)), KIT, "<= 2"),
    }


def show_commands() -> None:
    """Print a line for each command, and one for pictures of pages."""
    with tempfile.TemporaryDirectory() as home:
        folder = Path(home)
        process("-m", "focuschart", "build", str(SAMPLE), "--out", home)()
        for name, (arguments, libraries, aim) in _commands(folder).items():
            run = process("-m", "focuschart", *arguments)
            ratio = ratio_in_turn(run, process("-c", libraries), times=7)
            show(f"{name} of the sample / importing its libraries", ratio, aim)
    show("build of the sample with pictures / importing its libraries", _preview(), "(no aim)")


def _preview() -> float:
    def run() -> None:
        with tempfile.TemporaryDirectory() as out:
            process("-m", "focuschart", "build", str(SAMPLE), "--preview", "--out", out)()

    return ratio_in_turn(run, process("-c", PICTURES), times=5)
