"""What commands share: reading a kit and its charts."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart.chart import RigChart
    from focuschart.kit.schema import Kit


T = TypeVar("T")

SHOWN_FROM_RIGS = 6


class FilePath(click.Path):
    """A path that arrives as pathlib.Path, imported only then: --help must feel instant."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the path."""
        from pathlib import Path

        return Path(os.fsdecode(super().convert(value, param, ctx)))


kit_argument = click.argument("kit", type=FilePath())
rig_option = click.option(
    "--rig", "rigs", multiple=True, metavar="ID", help="Only this rig; may be given again."
)


out_option = click.option(
    "--out", type=FilePath(), default="output", show_default=True,
    help="The pack goes into a folder in here, named after the kit file.",
)  # fmt: skip
paper_option = click.option("--paper", default="A4", show_default=True, help="A4, A3 or Letter.")
font_option = click.option("--font", type=FilePath(), help="A TrueType file for all texts.")


def read_kit(path: Path, rigs: tuple[str, ...] = ()) -> Kit:
    """Return a checked kit; raises FocusChartError, also for a rig that is not in it."""
    from focuschart.cli.files import read_text
    from focuschart.errors import KitError, Problem, shown
    from focuschart.kit.load import MAX_BYTES, load_kit

    kit = load_kit(read_text(path, limit_bytes=MAX_BYTES), source=str(path))
    unknown = [rig for rig in rigs if rig not in kit.rigs]
    if unknown:
        rule = f"no such rig; the kit has {', '.join(list(kit.rigs)[:8])}"
        raise KitError(str(path), [Problem("--rig", shown(rig), rule) for rig in unknown])
    return kit


def solved(kit: Kit, rigs: tuple[str, ...], *, source: str, label: str) -> Iterator[RigChart]:
    """Yield the chart of each rig asked for, with a bar where that takes more than a moment."""
    from focuschart.chart import build_charts

    charts = build_charts(kit, source=source, only=rigs)
    yield from progress(charts, len(rigs or kit.rigs), label)


def progress(items: Iterable[T], length: int, label: str, *, weight: int = 0) -> Iterator[T]:
    """Yield the items, with a bar on a terminal where there is more than a moment's work."""
    hidden = max(length, weight) < SHOWN_FROM_RIGS or not (sys.stderr and sys.stderr.isatty())
    with click.progressbar(
        items, length=length, label=label, file=sys.stderr, hidden=hidden
    ) as bar:
        yield from bar
