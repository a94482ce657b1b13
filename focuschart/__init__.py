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
    from collections.abc import Collection, Sequence

    from focuschart.chart.model import RigChart as Chart
    from focuschart.chart.solve import Solved as Solved
    from focuschart.checks.rig_check import Checks as Checks
    from focuschart.kit.schema import Kit as Kit
    from focuschart.layout.page import Page as Page

__all__ = [
    "FitError", "FocusChartError", "GlyphError", "InputError", "KitError", "LeftOut", "OpticsError",
    "OutputError", "PageError", "Problem", "UnitError", "check", "draw", "load", "render", "solve",
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
    from focuschart.chart.solve import solve

    return solve(kit, rigs=rigs)


def check(kit: Kit, *, rigs: Collection[str] = ()) -> Checks:
    """Return whether each rig fits together, covers the sensor and can be carried, as a list."""
    from focuschart.checks.rig_check import check

    return check(kit, solve(kit, rigs=rigs))


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
