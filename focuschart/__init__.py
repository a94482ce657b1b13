"""focuschart: the focus marks a dual-focus anamorphic rig needs.

From a kit file to marks, pages and bytes; README.md has an example. Lengths are mm, arrays numpy's.
Nothing heavy is imported before it is called for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from focuschart.errors import (
    FitError,
    FocusChartError,
    GlyphError,
    InputError,
    KitError,
    LeftOut,
    OpticsError,
    OutputError,
    PageError,
    Problem,
    UnitError,
)
from focuschart.version import __version__ as __version__

if TYPE_CHECKING:
    import os
    from collections.abc import Collection, Mapping, Sequence

    from focuschart.chart.charts import Charts as Charts
    from focuschart.chart.charts import Solved as Solved
    from focuschart.chart.locked import LockedRing as LockedRing
    from focuschart.chart.model import RigChart
    from focuschart.chart.rack import Rack as Rack
    from focuschart.checks.rig_check import Checks as Checks
    from focuschart.kit.schema import Kit as Kit
    from focuschart.kit.swap import Swap as Swap
    from focuschart.layout.page import Page as Page
    from focuschart.store.prints import Compared as Compared

    Chart = RigChart

__all__ = [
    "FitError", "FocusChartError", "GlyphError", "InputError", "KitError", "LeftOut", "OpticsError",
    "OutputError", "PageError", "Problem", "UnitError", "check", "compare", "draw", "hold", "load",
    "rack", "render", "solve", "solving", "swap",
]  # fmt: skip


def load(path: str | os.PathLike[str]) -> Kit:
    """Return the kit in a file; raises KitError with every problem, InputError for no such file."""
    from pathlib import Path

    from focuschart.store.kits import load

    return load(Path(path))


def solve(kit: Kit, *, rigs: Collection[str] = ()) -> Solved:
    """Return the chart of every rig, or of some, as a list; its `left_out` says what has none.

    A chart's `taking` and `attachment` are None for a ring without a scale. Raises InputError for
    an unknown rig.
    """
    from focuschart.chart.charts import solve

    return solve(kit, rigs=rigs)


def solving(kit: Kit, *, rigs: Collection[str] = ()) -> Charts:
    """Return the same one by one, as they are solved: for more rigs than memory should hold."""
    from focuschart.chart import build_charts

    kit.require_rigs(rigs)
    return build_charts(kit, only=rigs)


def swap(
    kit: Kit,
    *,
    rigs: Sequence[str] = (),
    taking_lens: str | None = None,
    rings: Mapping[str, str | None] | None = None,
) -> Swap:
    """Return the kit with rigs added as they are with another taking lens, or other rings.

    `rings` has old part → new one, None for out; without `rigs`, all are swapped that have what is
    replaced. Raises KitError for what cannot be swapped.
    """
    from focuschart.kit.swap import Change, swapped

    return swapped(kit, rigs, Change(taking_lens, rings or {}))


def check(kit: Kit, *, rigs: Collection[str] = ()) -> Checks:
    """Return whether each rig fits together, covers the sensor and can be carried, as a list."""
    from focuschart.checks.rig_check import check

    return check(kit, solve(kit, rigs=rigs))


def hold(chart: Chart) -> LockedRing:
    """Return where a subject may move while the attachment is locked at each of a chart's marks.

    Raises KitError for a chart with a ring that has no scale.
    """
    from focuschart.chart.locked import locked_ring

    return locked_ring(chart)


def rack(
    chart: Chart,
    *,
    start_mm: float,
    end_mm: float,
    steps: int = 10,
    named: tuple[str, str] = ("start_mm", "end_mm"),
) -> Rack:
    """Return both rings along a move from one subject distance to another, and the hands' slack.

    `named` is what messages call the ends. Raises KitError for a chart with a ring that has no
    scale, or ends that cannot be set.
    """
    from focuschart.chart.rack import rack

    return rack(chart, start_mm=start_mm, end_mm=end_mm, steps=steps, named=named)


def compare(
    old: str | os.PathLike[str], new: str | os.PathLike[str], *, rigs: Sequence[str] = ()
) -> Compared:
    """Return which strips and cards of one kit or pack must be printed again for another.

    Each is a kit file, a pack's record or a folder of packs; `rigs` has pairs "OLD=NEW". Raises
    InputError and KitError for what cannot be used.
    """
    from pathlib import Path

    from focuschart.store.prints import compared

    return compared(Path(old), Path(new), rigs=rigs)


def draw(kit: Kit, charts: Sequence[Chart], document: str, **options: object) -> list[Page]:
    """Return the pages of "strips", "cards", "rulers", "rigs", "barrels" or "bench".

    Options are those of the commands, by the same names: paper, way, copies, bleed, film, card,
    card_sides, look, printer, font; setups and repeats for "bench". Raises PageError for what does
    not fit, InputError for what is no document or option.
    """
    from focuschart.store.drawing import draw

    return draw(kit, charts, document, options)


def render(pages: Sequence[Page], form: str, **options: object) -> bytes | list[bytes]:
    """Return pages as "pdf", the bytes of one file, or as "svg", those of a file a page.

    Options: font, title, spot. Raises PageError and GlyphError for what cannot be drawn.
    """
    from focuschart.store.drawing import render

    return render(pages, form, options)
