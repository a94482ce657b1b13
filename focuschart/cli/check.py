"""focuschart check: whether rigs fit, cover and can be carried."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from focuschart.cli.common import (
    finish,
    format_option,
    kit_argument,
    read_swapped,
    rig_option,
    solved,
    swap_options,
)

if TYPE_CHECKING:
    from pathlib import Path


@click.command()
@kit_argument
@rig_option
@swap_options
@format_option("A report")
@click.pass_context
def check(
    ctx: click.Context,
    kit: Path,
    *,
    rigs: tuple[str, ...],
    taking_lens: str | None,
    rings: tuple[str, ...],
    form: str,
) -> None:
    """Say whether each rig fits together, covers the sensor and can be carried.

    Ends with exit status 1 when a rig cannot work.
    """
    from focuschart.chart.solve import WHOLE_RIG
    from focuschart.check.rig_check import check_rigs
    from focuschart.report.check import as_json, as_text
    from focuschart.rig.chain import shopping_list

    bag, chosen = read_swapped(kit, rigs, taking_lens, rings)
    charts, left_out = solved(bag, chosen, label="Checking")
    checks = list(check_rigs(bag, charts))
    shopping = shopping_list(bag, only=[found.rig.rig_id for found in checks])
    if form == "text":
        click.echo(as_text(checks, units=bag.units, shopping=shopping), nl=False)
    else:
        click.echo(as_json(checks, shopping=shopping), nl=False)
    finish([each for each in left_out if each.what == WHOLE_RIG], source=kit, made=bool(checks))
    if not all(found.works for found in checks):
        ctx.exit(1)
