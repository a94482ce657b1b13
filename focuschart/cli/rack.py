"""focuschart rack: both rings along a move from one subject to another."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

import focuschart
from focuschart.cli.common import (
    SECONDS,
    FilePath,
    finish,
    font_option,
    format_option,
    kit_argument,
    length_mm,
    next_step,
    paper_option,
    read_kit,
)

if TYPE_CHECKING:
    from pathlib import Path


MOST_STEPS = 40
LONGEST_S = 3600.0


@click.command()
@kit_argument
@click.option("--rig", required=True, metavar="ID", help="The rig to rack.")
@click.option("--from", "start", required=True, metavar="DISTANCE", help='"1.2 m", or "inf".')
@click.option("--to", "end", required=True, metavar="DISTANCE", help="Likewise.")
@click.option(
    "--steps", type=int, default=8, show_default=True,
    help=f"Equal steps of the taking ring, 1 to {MOST_STEPS}.",
)  # fmt: skip
@click.option(
    "--seconds",
    type=SECONDS,
    default=2.0,
    show_default=True,
    help=f"How long the move takes, up to {LONGEST_S:g}.",
)
@format_option("Tables")
@click.option("--out", type=FilePath(), help="A folder in which to put the rack's sheet.")
@paper_option
@font_option
@click.option("--force", is_flag=True, help="Overwrite files that are not a former rack's.")
def rack(
    kit: Path,
    *,
    rig: str,
    start: str,
    end: str,
    steps: int,
    seconds: float,
    form: str,
    out: Path | None,
    paper: str,
    font: Path | None,
    force: bool,
) -> None:
    """Print both rings' settings along a rack, and how far apart two hands may be.

    With --out also a sheet to lay by the rig: the settings, both rings drawn over the move, and
    what the attachment locked at a mark can hold.
    """
    from focuschart.report.locked import rack_json, rack_text
    from focuschart.store.rack_files import rack_files, rack_folder
    from focuschart.store.record import write_pack

    bag = read_kit(kit, (rig,))
    _require_sensible(steps, seconds, str(kit))
    charts = focuschart.solve(bag, rigs=[rig])
    if not charts:
        finish(bag, charts.left_out, made=False)
    ends = {"start_mm": length_mm("--from", start), "end_mm": length_mm("--to", end)}
    move = focuschart.rack(charts[0], **ends, steps=steps, named=("--from", "--to"))
    if out is not None:
        sheet = rack_files(kit, move, seconds=seconds, paper=paper, font=font)
        folder = out / rack_folder(kit, move)
        write_pack(folder, sheet, kit=kit.name, force=force)
        click.echo(f"Written to {folder}: {', '.join(sheet)}", err=True)
    if form == "text":
        click.echo(rack_text(move, units=bag.units, seconds=seconds), nl=False)
        if out is None:
            asked = ("--rig", rig, "--from", start, "--to", end, "--steps", steps)
            _offer_sheet(kit, *asked, "--seconds", f"{seconds:g}")
    else:
        click.echo(rack_json(move, seconds=seconds), nl=False)


def _offer_sheet(kit: Path, *options: object) -> None:
    next_step("To have it as a sheet to lay by the rig", "rack", kit, *options, "--out", "output")


def _require_sensible(steps: int, seconds: float, source: str) -> None:
    """Raise KitError for a number of steps or a time out of range."""
    from focuschart.errors import KitError, Problem

    problems = []
    if not 1 <= steps <= MOST_STEPS:
        problems.append(Problem("--steps", f"{steps}", f"choose 1 to {MOST_STEPS} steps"))
    if not 0.0 < seconds <= LONGEST_S:
        rule = f"choose a time above 0 and up to {LONGEST_S:g} seconds"
        problems.append(Problem("--seconds", f"{seconds:g}", rule))
    if problems:
        raise KitError(source, problems)
