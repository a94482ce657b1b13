"""What commands share: options, reading a kit, solving it, and reporting what is left out."""

from __future__ import annotations

import os
import sys
import time
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

import click

import focuschart
from focuschart.errors import InputError, UnitError, shown
from focuschart.typed import (
    typed_figure,
    typed_length,
    typed_offset,
    typed_seconds,
    typed_stop,
)

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart import Chart, Kit
    from focuschart.errors import LeftOut


if TYPE_CHECKING:
    _ParamType = click.ParamType[Any]
else:
    _ParamType = click.ParamType  # the oldest click allowed takes no type there

T = TypeVar("T")
Command = TypeVar("Command", bound=Callable[..., Any])

SHOWN_AFTER_S = 1.0
"""What takes longer shows a progress bar."""


class InOrder(click.Group):
    """A group whose commands are listed in the order in which they were added, unabridged."""

    def list_commands(self, _: click.Context) -> list[str]:
        """Return the names of all commands, in order."""
        return list(self.commands)

    def format_commands(self, _: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands, each with the first sentence of its help."""
        abouts = {name: (each.help or "").split("\n\n")[0] for name, each in self.commands.items()}
        with formatter.section("Commands"):
            formatter.write_dl(list(abouts.items()))


class FilePath(click.Path):
    """The type of a path option; pathlib is imported only when one is used, to keep --help fast."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return an option's value as a pathlib.Path."""
        from pathlib import Path

        return Path(os.fsdecode(super().convert(value, param, ctx)))


class Typed(_ParamType):
    """The type of an option that takes what people type, read by one of `focuschart.typed`.

    What that refuses is left to whoever checks the value, if `otherwise` makes one of it.
    """

    def __init__(
        self, read: Callable[[str], Any], name: str, *, otherwise: Callable[[str], Any]
    ) -> None:
        self.name = name
        self._read, self._otherwise = read, otherwise

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return what an option says; raises InputError with option, value and cure."""
        del ctx
        if not isinstance(value, str):
            return value
        try:
            return self._read(value)
        except UnitError as error:
            why = str(error)
        try:
            return self._otherwise(value)
        except ValueError:
            option = param.opts[0] if param else self.name
            raise InputError(f"{option} is {shown(value)}: {why}") from None


LENGTH = Typed(typed_length, "length", otherwise=str)
OFFSET = Typed(typed_offset, "length", otherwise=str)
STOP = Typed(typed_stop, "stop", otherwise=float)
FIGURE = Typed(typed_figure, "mm", otherwise=float)
SECONDS = Typed(typed_seconds, "seconds", otherwise=float)
kit_argument = click.argument("kit", type=FilePath())


def _rigs_begun(ctx: click.Context, _: click.Parameter, begun: str) -> list[str]:
    """Return the ids of the kit's rigs that begin so, for the Tab key; none of a faulty kit."""
    import tomllib
    from pathlib import Path

    # While the option's own value is missing click leaves the arguments unread.
    kits = [ctx.params.get("kit"), *ctx.args]
    try:
        text = Path(next(filter(None, kits))).read_text("utf-8")
        return [rig for rig in tomllib.loads(text)["rigs"] if rig.startswith(begun)]
    except (KeyError, OSError, StopIteration, TypeError, ValueError):
        return []


rig_option = click.option(
    "--rig", "rigs", multiple=True, metavar="ID", help="Only this rig; may be given again.",
    shell_complete=_rigs_begun,
)  # fmt: skip


out_option = click.option(
    "--out", type=FilePath(), default="output", show_default=True,
    help="The pack goes into a folder in here, named after the kit file.",
)  # fmt: skip
SHEET_HELP = 'A4, A3, Letter or a size, "210 x 330 mm".'
ANY_PAPER_HELP = (
    'A4, A3, Letter, "210 x 330 mm", "roll 100 mm", or labels: see "focuschart guide paper".'
)
paper_option = click.option("--paper", default="A4", show_default=True, help=SHEET_HELP)
any_paper_option = click.option("--paper", default="A4", show_default=True, help=ANY_PAPER_HELP)
lens_option = click.option(
    "--taking-lens", metavar="ID", help="Swap on the day: as if the rig carried this taking lens."
)
ring_option = click.option(
    "--ring", "rings", multiple=True, metavar="OLD=NEW",
    help='Swap on the day: a step ring or clamp for another, or for "none"; may be given again.',
)  # fmt: skip
font_option = click.option("--font", type=FilePath(), help="A TrueType file for all texts.")


def format_option(read: str, *, data: tuple[str, ...] = ("json",)) -> Callable[[Command], Command]:
    """Return the option `form`: text, which the help calls `read`, or one of the `data` formats."""
    return click.option(
        "--format", "form", type=click.Choice(["text", *data]), default="text", show_default=True,
        help=f"{read} to read, or the data for other programs.",
    )  # fmt: skip


def read_kit(path: Path, rigs: tuple[str, ...] = ()) -> Kit:
    """Return the kit in a file; raises FocusChartError, also if it lacks one of the rigs."""
    kit = focuschart.load(path)
    kit.require_rigs(rigs, option="--rig")
    return kit


def swap_options(command: Command) -> Command:
    """Add the options of a swap on the day: `taking_lens` and `rings`."""
    return lens_option(ring_option(command))


def read_swapped(
    path: Path, rigs: tuple[str, ...], taking_lens: str | None, rings: tuple[str, ...]
) -> tuple[Kit, tuple[str, ...]]:
    """Return a kit and the rigs asked for, after any swap of a lens or rings.

    The swap is reported on the terminal. Raises FocusChartError for a kit that cannot be used or a
    swap that is not possible.
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
    """Return the new part, or None to take it out, by old part; raises InputError."""
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
    """Return the length of an option in mm; raises InputError with option, value and cure."""
    from focuschart.store.drawing import length_mm

    return length_mm(option, text)


def advised(charts: Iterable[Chart]) -> Iterator[Chart]:
    """Yield the charts of swapped rigs, and report on the terminal how sure each still is."""
    from focuschart.report.fit import after_swap

    for chart in charts:
        yield chart
        for sentence in after_swap(chart):
            click.echo(f"Swap, {chart.rig.rig_id}: {sentence}", err=True)


def solved(kit: Kit, rigs: tuple[str, ...], *, label: str) -> tuple[Iterator[Chart], list[LeftOut]]:
    """Return the charts of the rigs asked for, and the list of what is left out.

    Charts are solved one by one as they are taken from the iterator; the list is complete only
    then. A progress bar is shown if there are many.
    """
    charts = focuschart.solving(kit, rigs=rigs)
    return progress(charts, len(rigs or kit.rigs), label), charts.left_out


def finish(
    kit: Kit, left_out: Sequence[LeftOut], *, made: bool, then: Sequence[object] = ()
) -> None:
    """Report what was left out; exit with status 1 if anything was, 2 if nothing was made.

    If anything was made, `then` is the next step to report, as `next_step` takes it.
    """
    say_left_out(left_out, source=kit.source)
    if made and then:
        next_step(*then)
    if left_out or not made:
        click.get_current_context().exit(1 if made else 2)


def say_left_out(left_out: Sequence[LeftOut], *, source: str) -> None:
    """Report on the terminal what was left out: the first ones, and the number of the others."""
    from focuschart.errors import MOST_LISTED

    distinct = list(dict.fromkeys(left_out))
    for each in distinct[:MOST_LISTED]:
        click.echo(f"focuschart: {plain(each.sentence(source))}", err=True)
    if len(distinct) > MOST_LISTED:
        click.echo(f"focuschart: and {len(distinct) - MOST_LISTED:,} more", err=True)


def plain(text: str) -> str:
    """Return a text with control characters escaped, which could steer the terminal."""
    return "".join(
        sign if sign == "\n" or unicodedata.category(sign)[0] != "C" else ascii(sign)[1:-1]
        for sign in text
    )


taped_again_option = click.option(
    "--taped-again", is_flag=True,
    help="The rulers, or strips, were taped on anew since the last reading of this rig.",
)  # fmt: skip
anyway_option = click.option(
    "--anyway", is_flag=True,
    help="Write also a figure that its ring cannot show, or that others contradict.",
)  # fmt: skip


def progress(items: Iterable[T], length: int, label: str, *, slow: bool = False) -> Iterator[T]:
    """Yield the items, with a progress bar on a terminal if they take longer than a moment.

    It is shown at once where they are known to be `slow`, else after the item with which a second
    has passed.
    """
    source, started = iter(items), time.monotonic()
    taken = 0
    if not (sys.stderr and sys.stderr.isatty()):
        yield from source
        return
    while not slow and time.monotonic() - started < SHOWN_AFTER_S:
        try:
            item = next(source)
        except StopIteration:
            return
        taken += 1
        yield item
    with click.progressbar(source, length=length, label=label, file=sys.stderr) as bar:
        bar.update(taken)
        yield from bar


def next_step(what: object, *command: object) -> None:
    """Report on the terminal the one next step: a sentence, and its command line to be copied."""
    click.echo(f"{what}:\n  {command_line('focuschart', *command)}")


def command_line(*words: object) -> str:
    """Return a command line as this system's shell reads it."""
    texts = [os.fsdecode(word) if isinstance(word, os.PathLike) else str(word) for word in words]
    if os.name == "nt":
        from subprocess import list2cmdline

        return list2cmdline(texts)
    import shlex

    return plain(shlex.join(texts))
