"""What commands share: options, and reading a kit and its charts."""

from __future__ import annotations

import os
import sys
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

import click

import focuschart

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart import Chart, Kit
    from focuschart.errors import LeftOut


T = TypeVar("T")
Command = TypeVar("Command", bound=Callable[..., Any])

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
lens_option = click.option(
    "--taking-lens", metavar="ID", help="Swap on the day: as if the rig carried this taking lens."
)
ring_option = click.option(
    "--ring", "rings", multiple=True, metavar="OLD=NEW",
    help='Swap on the day: a step ring or clamp for another, or for "none"; may be given again.',
)  # fmt: skip
font_option = click.option("--font", type=FilePath(), help="A TrueType file for all texts.")


def format_option(read: str, *, data: tuple[str, ...] = ("json",)) -> Callable[[Command], Command]:
    """Return the option `form`: text, of which `read` says what it is to a reader, or data."""
    return click.option(
        "--format", "form", type=click.Choice(["text", *data]), default="text", show_default=True,
        help=f"{read} to read, or the data for other programs.",
    )  # fmt: skip


def read_kit(path: Path, rigs: tuple[str, ...] = ()) -> Kit:
    """Return a kit; raises FocusChartError, also for rigs asked for that are not in it."""
    kit = focuschart.load(path)
    kit.require_rigs(rigs, option="--rig")
    return kit


def swap_options(command: Command) -> Command:
    """Add the options of a swap on the day: `taking_lens` and `rings`."""
    return lens_option(ring_option(command))


def read_swapped(
    path: Path, rigs: tuple[str, ...], taking_lens: str | None, rings: tuple[str, ...]
) -> tuple[Kit, tuple[str, ...]]:
    """Return a checked kit and the rigs asked for; with a swap, these as they are after it.

    What was swapped is said on the terminal. Raises FocusChartError, as `read_kit` and `swapped`.
    """
    from focuschart.kit.swap import swap_lines

    kit = read_kit(path, rigs)
    if taking_lens is None and not rings:
        return kit, rigs
    swap = focuschart.swap(kit, rigs=rigs, taking_lens=taking_lens, rings=_exchanges(rings))
    for sentence in swap_lines(swap):
        click.echo(f"Swap: {sentence}", err=True)
    return swap.kit, tuple(swap.rigs)


def _exchanges(rings: tuple[str, ...]) -> dict[str, str | None]:
    """Return old part → new one, None for out; raises InputError for what says neither."""
    from focuschart.errors import InputError, shown

    exchanges: dict[str, str | None] = {}
    for text in rings:
        old, _, new = text.partition("=")
        if not old or not new:
            raise InputError(f'--ring is {shown(text)}: write "old=new", or "old=none" to take out')
        if old in exchanges:
            raise InputError(f"--ring is {shown(text)}: {shown(old)} is swapped twice, keep one")
        exchanges[old] = None if new == "none" else new
    return exchanges


def length_mm(option: str, text: str) -> float:
    """Return the length that an option gives; raises InputError, naming option, value and cure."""
    from focuschart.store.drawing import length_mm

    return length_mm(option, text)


def advised(kit: Kit, charts: Iterable[Chart]) -> Iterator[Chart]:
    """Yield the charts of swapped rigs, and say on the terminal how sure they are now."""
    from focuschart.report.fit import after_swap

    for chart in charts:
        yield chart
        for sentence in after_swap(kit, chart):
            click.echo(f"Swap, {chart.rig.rig_id}: {sentence}", err=True)


def solved(kit: Kit, rigs: tuple[str, ...], *, label: str) -> tuple[Iterator[Chart], list[LeftOut]]:
    """Return the charts of the rigs asked for, and the list that fills with what is left out.

    A bar is shown where they take more than a moment.
    """
    charts = focuschart.solving(kit, rigs=rigs)
    return progress(charts, len(rigs or kit.rigs), label), charts.left_out


def finish(kit: Kit, left_out: Sequence[LeftOut], *, made: bool) -> None:
    """Say what was left out, if anything, and end: with status 1, or 2 where nothing was made."""
    say_left_out(left_out, source=kit.source)
    if left_out or not made:
        click.get_current_context().exit(1 if made else 2)


def say_left_out(left_out: Sequence[LeftOut], *, source: str) -> None:
    """Say on the terminal what was left out, each once, and of many how many more there are."""
    from focuschart.errors import MOST_LISTED

    once = list(dict.fromkeys(left_out))
    for each in once[:MOST_LISTED]:
        click.echo(f"focuschart: {plain(each.sentence(source))}", err=True)
    if len(once) > MOST_LISTED:
        click.echo(f"focuschart: and {len(once) - MOST_LISTED:,} more", err=True)


def plain(text: str) -> str:
    """Return a text whose lines hold nothing that steers a terminal, as a file's name may."""
    return "".join(
        sign if sign == "\n" or unicodedata.category(sign)[0] != "C" else ascii(sign)[1:-1]
        for sign in text
    )


def progress(items: Iterable[T], length: int, label: str) -> Iterator[T]:
    """Yield the items, with a bar on a terminal where there is more than a moment's work."""
    hidden = length < SHOWN_FROM_RIGS or not (sys.stderr and sys.stderr.isatty())
    with click.progressbar(
        items, length=length, label=label, file=sys.stderr, hidden=hidden
    ) as bar:
        yield from bar
