"""focuschart rack: both rings along a move from one subject to another."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

import click

from focuschart.cli.common import (
    FilePath,
    finish,
    font_option,
    format_option,
    kit_argument,
    length_mm,
    paper_option,
    read_kit,
    solved,
)

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart.chart import RigChart
    from focuschart.chart.rack import Rack
    from focuschart.kit.schema import Kit

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
    "--seconds", type=float, default=2.0, show_default=True, help="How long the move takes."
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
    from focuschart.store.record import write_pack

    bag = read_kit(kit, (rig,))
    _require_plain(steps, seconds, str(kit))
    charts, left_out = solved(bag, (rig,), label="Solving")
    chart = next(charts, None)
    if chart is None:
        finish(left_out, source=kit, made=False)
    assert chart is not None
    found = _solved_rack(bag, chart, (start, end), steps, str(kit))
    if out is not None:
        sheet = _sheet(bag, kit, found, Wanted(seconds, paper, font))
        folder = out / _folder(kit, found)
        write_pack(folder, sheet, kit=kit.name, force=force)
        click.echo(f"Written to {folder}: {', '.join(sheet)}", err=True)
    if form == "text":
        click.echo(rack_text(found, units=bag.units, seconds=seconds), nl=False)
    else:
        click.echo(rack_json(found, seconds=seconds), nl=False)


def _require_plain(steps: int, seconds: float, source: str) -> None:
    from focuschart.errors import KitError, Problem

    problems = []
    if not 1 <= steps <= MOST_STEPS:
        problems.append(Problem("--steps", f"{steps}", f"choose 1 to {MOST_STEPS} steps"))
    if not 0.0 < seconds <= LONGEST_S:
        rule = f"choose a time above 0 and up to {LONGEST_S:g} seconds"
        problems.append(Problem("--seconds", f"{seconds:g}", rule))
    if problems:
        raise KitError(source, problems)


def _solved_rack(kit: Kit, chart: RigChart, ends: tuple[str, str], steps: int, source: str) -> Rack:
    """Return the rack; raises InputError and KitError, naming what is wrong with its ends."""
    from focuschart.chart.locked import too_near, unread
    from focuschart.chart.rack import rack as solve
    from focuschart.errors import KitError, OpticsError, Problem, shown
    from focuschart.units import format_length

    missing = unread(chart, "the rack")
    if missing:
        rule = f"{missing.why}: {missing.cure}"
        raise KitError(source, [*chart.refused.values(), Problem(f"rigs.{missing.rig}", "", rule)])
    start, end = length_mm("--from", ends[0]), length_mm("--to", ends[1])
    for name, distance in (("--from", start), ("--to", end)):
        near = too_near(chart, distance, name)
        if near:
            rule = f"{near.why}, {near.cure}"
            raise KitError(source, [Problem(name, format_length(distance), rule)])
    if start == end:
        raise KitError(
            source, [Problem("--to", shown(ends[1]), "the same as --from, choose another")]
        )
    try:
        return solve(chart, start_mm=start, end_mm=end, steps=steps, units=kit.units)
    except OpticsError as error:
        raise KitError(source, [Problem(f"rigs.{chart.rig.rig_id}", "", str(error))]) from None


# --- the sheet ------------------------------------------------------------------------------------


def _folder(kit: Path, found: Rack) -> str:
    """Return a name of its own for each move, so that one sheet never replaces another's."""
    from focuschart.store.documents import folder_name
    from focuschart.units import format_length

    ends = (format_length(float(found.at.distances_mm[k])).replace(" ", "") for k in (0, -1))
    named = f"{folder_name(kit)}-rack-{found.chart.rig.rig_id}-{'-to-'.join(ends)}"
    return re.sub(r"[^A-Za-z0-9_.-]+", "-", named)


class Wanted(NamedTuple):
    """How a sheet is wanted: the time of the move, the paper, and a font file."""

    seconds: float
    paper: str
    font: Path | None


def _sheet(bag: Kit, kit: Path, found: Rack, wanted: Wanted) -> dict[str, bytes]:
    """Return the files of the sheet; what does not fit or cannot be printed names the kit."""
    from focuschart.errors import GlyphError, KitError, PageError
    from focuschart.pages.rack import rack_pages
    from focuschart.store.documents import load_face, rendered, unprintable

    face = load_face(wanted.font)
    silent = unprintable(bag, [found.chart.rig.rig_id], face)
    if silent:
        raise KitError(str(kit), [problem for each in silent.values() for problem in each])
    try:
        pages = rack_pages(bag, found, seconds=wanted.seconds, face=face, paper=wanted.paper)
    except (PageError, GlyphError) as error:
        raise type(error)(f"{kit}: {error}") from None
    return rendered({"rack": pages}, face=face, title=bag.name)
