"""focuschart hold: where the subject may move while the attachment is locked."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from focuschart.cli.common import (
    format_option,
    kit_argument,
    length_mm,
    read_kit,
    require_reach,
    rig_option,
    solved,
)

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart.chart import RigChart


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
    from focuschart.report.locked import hold_json, hold_text

    bag = read_kit(kit, rigs)
    charts = list(solved(bag, rigs, source=str(kit), label="Solving"))
    _require_read(charts, str(kit), named=bool(rigs))
    told = [_subject(text, charts, str(kit)) for text in subjects]
    held = [(chart, None if unread(chart) else locked_ring(chart)) for chart in charts]
    if form == "text":
        click.echo(hold_text(held, units=bag.units, subjects_mm=told), nl=False)
    else:
        click.echo(hold_json(held, subjects_mm=told), nl=False)


def _require_read(charts: list[RigChart], source: str, *, named: bool) -> None:
    """Raise KitError for rigs asked for by name with a ring unread, and where all are."""
    from focuschart.chart.locked import unread
    from focuschart.errors import KitError, Problem

    reasons = {chart.rig.rig_id: unread(chart) for chart in charts}
    problems = [Problem(f"rigs.{rig}", "", why) for rig, why in reasons.items() if why]
    if problems and (named or len(problems) == len(charts)):
        raise KitError(source, problems)


def _subject(text: str, charts: list[RigChart], source: str) -> float:
    """Return a subject's distance; raises InputError if it is none, KitError if too near a rig."""
    distance = length_mm("--subject", text)
    for chart in charts:
        require_reach("--subject", distance, chart, source)
    return distance
