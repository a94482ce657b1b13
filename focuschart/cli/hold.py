"""focuschart hold: where the subject may move while the attachment is locked."""

from __future__ import annotations

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

    from focuschart.chart import RigChart
    from focuschart.errors import LeftOut


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
    from focuschart.chart.locked import locked_ring, unread
    from focuschart.report.locked import Held, hold_json, hold_text

    bag, wanted = read_kit(kit, rigs), [length_mm("--subject", text) for text in subjects]
    charts, left_out = solved(bag, rigs, label="Solving")
    held = []
    for chart in charts:
        missing = unread(chart)
        moved = None if missing or not wanted else _reached(chart, wanted, left_out)
        held.append(Held(chart, None if missing else locked_ring(chart), moved))
        left_out += [missing] if missing else []
    made = any(one.found and one.subjects_mm != () for one in held)
    if form == "json":
        click.echo(hold_json(held, left_out), nl=False)
    elif made:
        click.echo(hold_text(held, units=bag.units), nl=False)
    finish(left_out, source=kit, made=made)


def _reached(
    chart: RigChart, subjects_mm: list[float], left_out: list[LeftOut]
) -> tuple[float, ...]:
    """Return the subjects that a rig reaches; the others are left out of its table."""
    from focuschart.chart.locked import too_near
    from focuschart.units import format_length

    found = {
        subject: too_near(chart, subject, f"--subject {format_length(subject)}")
        for subject in subjects_mm
    }
    left_out += filter(None, found.values())
    return tuple(subject for subject, why in found.items() if why is None)
