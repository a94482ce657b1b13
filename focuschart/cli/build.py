"""focuschart build: write the packs of a kit, one folder per rig."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import partial
from typing import TYPE_CHECKING

import click

from focuschart.cli.common import (
    advised,
    finish,
    kit_argument,
    out_option,
    progress,
    read_swapped,
    rig_option,
    swap_options,
)
from focuschart.cli.options import printing_options

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart.store.build import Build
    from focuschart.store.printing import Printing


@click.command()
@kit_argument
@rig_option
@swap_options
@out_option
@click.option(
    "--only-stale", is_flag=True,
    help="Also put what must be printed again, and nothing else, on sheets of its own.",
)  # fmt: skip
@click.option("--force", is_flag=True, help="Overwrite files that are not a former build's.")
@printing_options
def build(
    kit: Path,
    *,
    rigs: tuple[str, ...],
    taking_lens: str | None,
    rings: tuple[str, ...],
    out: Path,
    only_stale: bool,
    force: bool,
    printing: Printing,
) -> None:
    """Write strips, index strips, rulers, pocket cards and charts of a kit, and sheets of rigs.

    Every rig has a folder of its own; each document is written as PDF and as SVG at true scale.
    Rings without readings get their ruler strip only, and a rig gets a sheet where its lengths,
    masses and centres are all given. Rigs of which nothing has changed since they were last built
    are left as they are, so that a build that was stopped goes on where it was.
    """
    from focuschart.store.folders import folder_name

    bag, asked = read_swapped(kit, rigs, taking_lens, rings)
    folder = out / folder_name(kit)
    click.echo(f"Strips and cards of {_few(asked or bag.rigs)} go into {folder}")
    from focuschart.store.build import Build
    from focuschart.store.files import exclusive

    swapped = bool(taking_lens or rings)
    run = Build(
        bag, kit, printing, folder, asked, swapped,
        shown=partial(progress, label="Building", slow=True),
        advised=advised if swapped else iter,
    )  # fmt: skip
    click.get_current_context().with_resource(exclusive(run.folder))
    for pack in run.write(only_stale=only_stale, force=force):
        click.echo("\n  ".join(pack.summary))
    for gone in run.remove_others():
        click.echo(f"{gone}  is no rig of this kit any more: its pack was taken away")
    for line in _report(run, only_stale=only_stale):
        click.echo(line)
    finish(bag, run.left_out, made=bool(run.made or run.current), then=_next(run))


def _report(run: Build, *, only_stale: bool) -> Iterator[str]:
    """Yield what was done, cautions, and which prints must be printed again."""
    if run.current:
        yield f"Nothing has changed of {_few(run.current)}: left as it was."
    if run.made:
        yield f"Written to {run.folder}, a folder a rig."
    if not only_stale:
        yield from _to_open(run)
    if run.current or run.made:
        yield "Print at 100 %, measure both check bars, and test every mark on camera."
    if run.printing.caution:
        yield run.printing.caution
    if only_stale:
        yield from _to_print(run)


def _to_open(run: Build) -> Iterator[str]:
    """Yield the files to open, in order, with what each is for."""
    from focuschart.store.contents import contents
    from focuschart.store.folders import rig_folder

    rigs = [*run.made, *run.current]
    files = list(contents(run.folder, rigs))
    if not files:
        return
    width = max(len(name) for name, _ in files)
    more = f", and likewise for {_few(rigs[1:])}" if rigs[1:] else ""
    yield f"Open, in this order, in {run.folder / rig_folder(rigs[0])}{more}"
    for name, purpose in files:
        yield f"  {name:<{width}}  {purpose}"
    for name in run.phone:
        yield f"and on the phone {run.folder / name}: both rings at any distance"


def _to_print(run: Build) -> Iterator[str]:
    """Yield which prints must be printed again, and the sheets that they are on."""
    from focuschart.report.compare import told

    yield from told(run.stale)
    if not run.to_print:
        yield "Every strip and card printed last is still good: nothing to print."
    elif run.sheets:
        names = " and ".join(f"{name}.pdf" for name in run.sheets)
        yield f"Print {names} in {run.folder}."
    else:
        yield "None of them can be printed."


def _next(run: Build) -> Sequence[object]:
    """Return what follows a build: the camera test, or readings where a ring has no marks."""
    if run.swapped:
        return ()
    if any(marks is None for chart in run.charts for _, marks in chart.rings().values()):
        return ("Tape the rulers on, and enter each reading as you take it", "read", run.source)
    return ("Once strips are taped on, print the page of the camera test", "test", run.source)


def _few(names: Iterable[str]) -> str:
    """Return the first six names, and the number of the others."""
    shown = list(names)
    more = f" and {len(shown) - 6} more" if len(shown) > 6 else ""
    return f"{', '.join(shown[:6])}{more}"
