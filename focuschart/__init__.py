"""focuschart: the focus marks that a dual-focus anamorphic rig needs.

These functions lead from a kit file to charts, pages and files; README.md has an example. Lengths
are in mm, arrays are numpy's. Heavy packages are imported only by the functions that need them.
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
    from focuschart.chart.model import Chart as Chart
    from focuschart.chart.rack import Rack as Rack
    from focuschart.checks.rig_check import Checks as Checks
    from focuschart.kit.schema import Kit as Kit
    from focuschart.kit.swap import Swap as Swap
    from focuschart.layout.page import Page as Page
    from focuschart.store.prints import Compared as Compared


__all__ = [
    "FitError", "FocusChartError", "GlyphError", "InputError", "KitError", "LeftOut", "OpticsError",
    "OutputError", "PageError", "Problem", "UnitError", "check", "compare", "draw", "hold", "load",
    "rack", "render", "solve", "solving", "swap",
]  # fmt: skip


def load(path: str | os.PathLike[str]) -> Kit:
    """Return the kit in a file; raises KitError with all problems, InputError without a file."""
    from pathlib import Path

    from focuschart.store.kits import load

    return load(Path(path))


def solve(kit: Kit, *, rigs: Collection[str] = ()) -> Solved:
    """Return the charts of all rigs, or of some, as a list; its `left_out` says what is missing.

    A chart's `taking` or `attachment` is None for a ring without a scale. Raises InputError for an
    unknown rig.
    """
    from focuschart.chart.charts import solve

    return solve(kit, rigs=rigs)


def solving(kit: Kit, *, rigs: Collection[str] = ()) -> Charts:
    """Return the charts one by one, solved as they are taken: for many rigs, to save memory."""
    from focuschart.chart.charts import build_charts

    kit.require_rigs(rigs)
    return build_charts(kit, only=rigs)


def swap(
    kit: Kit,
    *,
    rigs: Sequence[str] = (),
    taking_lens: str | None = None,
    rings: Mapping[str, str | None] | None = None,
) -> Swap:
    """Return the kit with rigs added that have another taking lens, or other rings.

    `rings` has the new part, or None to take it out, by old part; without `rigs`, all rigs that
    have a replaced part are swapped. Raises KitError for a swap that is not possible.
    """
    from focuschart.kit.swap import Change, swapped

    return swapped(kit, rigs, Change(taking_lens, rings or {}))


def check(kit: Kit, *, rigs: Collection[str] = ()) -> Checks:
    """Return whether each rig fits together, covers the sensor and can be carried, as a list."""
    from focuschart.checks.rig_check import check

    return check(kit, solve(kit, rigs=rigs))


def hold(chart: Chart) -> LockedRing:
    """Return the zones in which a subject may move with the attachment locked at each mark.

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
    """Return both rings' settings along a move between two distances, and the hands' tolerances.

    `named` are the names of both ends in messages. Raises KitError for a chart with a ring that has
    no scale, or for an end that the rig cannot focus.
    """
    from focuschart.chart.rack import rack

    return rack(chart, start_mm=start_mm, end_mm=end_mm, steps=steps, named=named)


def compare(
    old: str | os.PathLike[str], new: str | os.PathLike[str], *, rigs: Sequence[str] = ()
) -> Compared:
    """Return which strips and cards of one kit or pack must be printed again for another.

    Each is a kit file, a pack's record or a folder of packs; `rigs` has pairs "OLD=NEW". Raises
    InputError or KitError if one of them cannot be used.
    """
    from pathlib import Path

    from focuschart.store.prints import compared

    return compared(Path(old), Path(new), rigs=rigs)


def draw(kit: Kit, charts: Sequence[Chart], document: str, **options: object) -> list[Page]:
    """Return the pages of "strips", "cards", "rulers", "rigs", "barrels" or "bench".

    Options are those of the commands, by the same names: paper, way, copies, bleed, film, card,
    card_sides, look, printer, font; setups and repeats for "bench". Raises PageError where
    something does not fit, InputError for an unknown document or option.
    """
    from focuschart.store.drawing import draw

    return draw(kit, charts, document, options)


def render(pages: Sequence[Page], form: str, **options: object) -> bytes | list[bytes]:
    """Return pages as the bytes of one "pdf" file, or as a list with those of one "svg" per page.

    Options: font, title, spot. Raises PageError without pages, GlyphError for a text that the font
    cannot print.
    """
    from focuschart.store.drawing import render

    return render(pages, form, options)
