"""Print the ratios: `python -m tests.bench` from the repository's folder.

Each figure is the least of several runs, so that a busy machine harms it little; the aim stands
beside it. Nothing here fails a test.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from functools import partial

import numpy as np

from focuschart.optics import attachment, depth_of_field
from focuschart.optics.arrays import Floats
from focuschart.optics.depth_of_field import Aperture, Groups, Limits
from focuschart.optics.thin_lens import ThinLens
from tests.bench.commands import DRAW, show_commands
from tests.bench.drawing import drawing_runs, strip_runs
from tests.bench.measure import SAMPLE, least, peak_bytes, process, ratio_in_turn, show
from tests.bench.packing import packing_runs
from tests.bench.rigs import show_rigs

MOST_MEMORY = {"pdf": "<= 1.3", "svg": "<= 12"}
"""Of a renderer against reportlab; most of the SVG's is its text, which is not compressed."""


def solve(distance_mm: Floats) -> tuple[Floats, Floats, Limits, Limits]:
    """Match, squeeze and depth of field in both meridians, for one rig at every distance."""
    image = ThinLens(85.0).image_mm(distance_mm - 9.0)
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


def beside_click(*arguments: str) -> float:
    """Return the ratio of a process to a bare import of click."""
    return ratio_in_turn(process(*arguments), process("-c", "import click"), times=15)


def build_ratio() -> float:
    """Build of the two-lens sample against a process that imports the same libraries."""
    with tempfile.TemporaryDirectory() as out:
        run = process("-m", "focuschart", "build", str(SAMPLE), "--out", out)

        def from_nothing() -> object:
            shutil.rmtree(out)
            return run()

        return ratio_in_turn(from_nothing, process("-c", DRAW), times=7)


def million_ratios(run: Callable[[Floats], object]) -> tuple[float, float]:
    """A million distances against one square root over the same array: time, and memory."""
    distances = np.linspace(1000.0, 1e6, 1_000_000)
    time_ratio = least(lambda: run(distances), 7) / least(lambda: np.sqrt(distances), 21)
    return time_ratio, peak_bytes(lambda: run(distances)) / distances.nbytes


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


def show_drawing() -> None:
    """A hundred strips as PDF and as SVG against reportlab alone drawing the same shapes."""
    runs = drawing_runs(SAMPLE)
    floor, peak = least(runs["reportlab"], 7), peak_bytes(runs["reportlab"])
    for name in ("pdf", "svg"):
        show(f"a hundred strips as {name} / reportlab alone", least(runs[name], 7) / floor, "<= 3")
        show("their peak memory / reportlab's", peak_bytes(runs[name]) / peak, MOST_MEMORY[name])


def show_strips() -> None:
    """Laying out and drawing a strip among ten, among a hundred, and in ten packs of a hundred."""
    runs = strip_runs(SAMPLE)
    took = {count: least(run, 3) / count for count, run in runs.items()}
    peak = {count: peak_bytes(run) / min(count, 100) for count, run in runs.items()}
    for many, few in ((100, 10), (1000, 100)):
        show(f"a strip among {many} / among {few}", took[many] / took[few], "<= 1.2")
        show("their peak memory, a strip of one pack", peak[many] / peak[few], "<= 1.2")


def main() -> None:
    """Print all ratios."""
    show("focuschart --help / import click", beside_click("-m", "focuschart", "--help"), "<= 1.3")
    show("import focuschart / import click", beside_click("-c", "import focuschart"), "<= 1.3")
    show("build of the two-lens sample / importing its libraries", build_ratio(), "<= 1.8")
    show_commands()
    for how, run in (("in blocks", solve_in_blocks), ("at once", solve)):
        seconds, arrays = million_ratios(run)
        show(f"a million distances {how} / one square root over them", seconds, "<= 80")
        show("their peak memory / one such array", arrays, "<= 16")
    show_drawing()
    show_strips()
    show_rigs()
    thousand, tens = packing_runs()
    ratio = least(thousand, 3) / least(tens, 3)
    show("a strip laid on a sheet among a thousand / among ten", ratio, "<= 1.5")
    ratios = tracer_ratios()
    if ratios is None:
        print("one distance: optiland is not installed, see the extra 'oracle'")
    else:
        show("optiland's root find of a gap / our match", ratios[0], ">= 1000")
        show("the same / our match, depths and squeeze", ratios[1], "(no aim)")


main()
