"""Print the ratios: `python -m tests.bench` from the repository's folder.

Each figure is the least of several runs, so that a busy machine harms it little; the aim stands
beside it. Nothing here fails a test.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np

from focuschart.optics import attachment, depth_of_field, thin_lens
from focuschart.optics.arrays import Floats
from focuschart.optics.depth_of_field import Aperture, Groups, Limits

ROOT = Path(__file__).parent.parent.parent
SAMPLE = ROOT / "sample_kits" / "two-lenses.toml"
LIBRARIES = (
    "import click, pydantic, numpy, scipy.optimize, svgwrite, fontTools.ttLib, "
    "reportlab.pdfgen.canvas, reportlab.pdfbase.ttfonts"
)


def least(run: Callable[[], object], times: int) -> float:
    """Return the shortest of several runs, in seconds."""

    def once() -> float:
        start = time.perf_counter()
        run()
        return time.perf_counter() - start

    return min(once() for _ in range(times))


def process(*arguments: str) -> Callable[[], object]:
    """Return a run of a fresh Python process."""
    command = [sys.executable, *arguments]
    return lambda: subprocess.run(command, check=True, capture_output=True, cwd=ROOT)


def solve(distance_mm: Floats) -> tuple[Floats, Floats, Limits, Limits]:
    """Match, squeeze and depth of field in both meridians, for one rig at every distance."""
    image = thin_lens.image_distance_mm(distance_mm - 9.0, focal_length_mm=85.0)
    rear = image + 60.0
    matched = attachment.match(distance_mm - rear, front_focal_mm=88.0, squeeze=2.0, moving="front")
    aperture = Aperture(85.0, image, 2.8, 0.029)
    groups = Groups(88.0, 176.0, matched.separation_mm, 51.0, rear)
    vertical = depth_of_field.vertical_limits(aperture, lens_datum_mm=image + 9.0)
    horizontal = depth_of_field.horizontal_limits(aperture, groups, squeeze=2.0)
    return matched.separation_mm, matched.squeeze, vertical, horizontal


def solve_in_blocks(distance_mm: Floats, block: int = 16_384) -> Floats:
    """Solve in blocks whose temporaries stay in the processor's cache; one row a result."""
    found = np.empty((6, len(distance_mm)))
    for start in range(0, len(distance_mm), block):
        part = slice(start, start + block)
        separation, squeeze, vertical, horizontal = solve(distance_mm[part])
        limits = (vertical.near_mm, vertical.far_mm, horizontal.near_mm, horizontal.far_mm)
        for row, values in zip(found, (separation, squeeze, *limits), strict=True):
            row[part] = values
    return found


def show(what: str, ratio: float, aim: str) -> None:
    """Print one line."""
    print(f"{what:<62} {ratio:10.2f}   aim {aim}")


def help_ratio() -> float:
    """focuschart --help against a bare import of click."""
    code = "from focuschart.cli import main; main()"
    return least(process("-c", code, "--help"), 9) / least(process("-c", "import click"), 9)


def build_ratio() -> float:
    """Build of the two-lens sample against a process that imports the same libraries."""
    with tempfile.TemporaryDirectory() as out:
        run = process("-m", "focuschart", "build", str(SAMPLE), "--out", out)
        return least(run, 5) / least(process("-c", LIBRARIES), 5)


def million_ratios(run: Callable[[Floats], object]) -> tuple[float, float]:
    """A million distances against one square root over the same array: time, and memory."""
    distances = np.linspace(1000.0, 1e6, 1_000_000)
    time_ratio = least(lambda: run(distances), 7) / least(lambda: np.sqrt(distances), 21)
    tracemalloc.start()
    run(distances)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return time_ratio, peak / distances.nbytes


def tracer_ratios() -> tuple[float, float] | None:
    """A general ray tracer's root find of one matched gap against ours; None without optiland.

    Ours is the match alone, the question the tracer answers; then with both depths and squeeze.
    """
    try:
        from tests.oracle.record_optiland import time_one_solve
    except ImportError:
        return None
    time_one_solve()
    traced = least(time_one_solve, 3)
    match = partial(attachment.match, 2000.0, front_focal_mm=88.0, squeeze=2.0, moving="front")
    return traced / one_call(match), traced / one_call(partial(solve, np.array([2000.0])))


def one_call(run: Callable[[], object]) -> float:
    """Seconds one call takes, from a thousand of them."""
    return least(lambda: [run() for _ in range(1000)], 5) / 1000.0


def main() -> None:
    """Print all ratios."""
    show("focuschart --help / python -c 'import click'", help_ratio(), "<= 1.4")
    show("build of the two-lens sample / importing its libraries", build_ratio(), "<= 2")
    for how, run in (("in blocks", solve_in_blocks), ("at once", solve)):
        seconds, arrays = million_ratios(run)
        show(f"a million distances {how} / one square root over them", seconds, "<= 80")
        show("their peak memory / one such array", arrays, "<= 16")
    ratios = tracer_ratios()
    if ratios is None:
        print("one distance: optiland is not installed, see the extra 'oracle'")
    else:
        show("optiland's root find of a gap / our match", ratios[0], ">= 1000")
        show("the same / our match, depths and squeeze", ratios[1], "(no aim)")


main()
