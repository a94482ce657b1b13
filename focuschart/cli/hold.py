"""focuschart hold: where the subject may move while the attachment is locked."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import click

from focuschart.cli.common import (
    finish,
    format_option,
    kit_argument,
    length_mm,
    read_kit,
    rig_option,
    solved,
)

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart import Chart


@click.command()
@kit_argument
@rig_option
@click.option(
    "--subject", "subjects", multiple=True, metavar="DISTANCE",
    help='Where the subject moved to, "1.7 m"; may be given again. Else each mark\'s neighbours.',
)  # fmt: skip
@format_option("Tables")
def hold(kit: Path, rigs: tuple[str, ...], subjects: tuple[str, ...], form: str) -> None:
    """Say how far the subject may move while the attachment is locked at a mark.

    With both rings at rest, and with one hand that pulls the taking lens alone; and how much blur
    is left where a subject moved too far.
    """
    from focuschart.report.locked import held, hold_json, hold_text

    bag, wanted = read_kit(kit, rigs), [length_mm("--subject", text) for text in subjects]
    charts, left_out = solved(bag, rigs, label="Solving")
    holds, missing = held(charts, wanted)
    left_out += missing
    made = any(each.found and each.subjects_mm != () for each in holds)
    if form == "json":
        click.echo(hold_json(holds, left_out), nl=False)
    elif made:
        click.echo(hold_text(holds, units=bag.units), nl=False)
    then = _next(kit, next(each.chart for each in holds if each.found)) if made else ()
    finish(bag, left_out, made=made, then=then if form == "text" else ())


def _next(kit: Path, chart: Chart) -> tuple[object, ...]:
    """Return how to get the settings of a move between two marks of a rig."""
    from focuschart.units import format_length

    marks = [each for each in chart.distances_mm.tolist() if math.isfinite(each)]
    if len(marks) < 2:
        return ()
    first, last = (format_length(mark) for mark in (marks[0], marks[-1]))
    move = ("--rig", chart.rig.rig_id, "--from", first, "--to", last)
    return ("For a move from one mark to another", "rack", kit, *move)
