"""focuschart check: whether rigs fit, cover and can be carried."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from focuschart.cli.common import kit_argument, read_kit, rig_option, solved

if TYPE_CHECKING:
    from pathlib import Path


@click.command()
@kit_argument
@rig_option
@click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True,
    help="A report to read, or the data for other programs.",
)  # fmt: skip
@click.pass_context
def check(ctx: click.Context, kit: Path, rigs: tuple[str, ...], form: str) -> None:
    """Say whether each rig fits together, covers the sensor and can be carried.

    Ends with exit status 1 when a rig cannot work.
    """
    from focuschart.check.model import check_rigs
    from focuschart.check_report import as_json, as_text
    from focuschart.rig.chain import shopping_list

    bag = read_kit(kit, rigs)
    checks = list(check_rigs(bag, solved(bag, rigs, source=str(kit), label="Checking")))
    shopping = shopping_list(bag, only=rigs)
    if form == "text":
        click.echo(as_text(checks, units=bag.units, shopping=shopping), nl=False)
    else:
        click.echo(as_json(checks, shopping=shopping), nl=False)
    if not all(found.works for found in checks):
        ctx.exit(1)
