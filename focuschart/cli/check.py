"""focuschart check: whether rigs fit, cover and can be carried."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from focuschart.cli.common import kit_argument, progress, read_kit, rig_option

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
    from focuschart.chart import build_charts
    from focuschart.check.model import check_rigs
    from focuschart.check_report import as_json, as_text
    from focuschart.rig.chain import shopping_list

    bag = read_kit(kit, rigs)
    solved = build_charts(bag, source=str(kit), only=rigs)
    checks = list(check_rigs(bag, progress(solved, len(rigs or bag.rigs), "Checking")))
    wanted = {
        item: [rig for rig in wanting if not rigs or rig in rigs]
        for item, wanting in shopping_list(bag).items()
    }
    shopping = {item: wanting for item, wanting in wanted.items() if wanting}
    if form == "text":
        click.echo(as_text(checks, units=bag.units, shopping=shopping), nl=False)
    else:
        click.echo(as_json(checks, shopping=shopping), nl=False)
    if not all(found.works for found in checks):
        ctx.exit(1)
