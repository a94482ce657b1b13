"""focuschart fit: how well the readings fit, and what to read next."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import click

from focuschart.cli.common import finish, kit_argument, read_kit, rig_option, solved

if TYPE_CHECKING:
    from pathlib import Path


@click.command()
@kit_argument
@rig_option
def fit(kit: Path, rigs: tuple[str, ...]) -> None:
    """Report how well the readings fit, how sure each mark is and why, and what to read next."""
    from focuschart.report.fit import fit_report, unsure

    bag = read_kit(kit, rigs)
    solving, left_out = solved(bag, rigs, label="Solving")
    charts = list(solving)
    left_out += unsure(charts)
    read = any(marks for chart in charts for _, marks in chart.rings().values())
    if read:
        click.echo(_coloured(fit_report(bag, charts)), nl=False)
    finish(bag, left_out, made=read, then=("Read more first, or print the strips", "build", kit))


def _coloured(report: str) -> str:
    """Return a report with the verdict after each mark's figure coloured."""
    from focuschart.cli.chart import coloured

    return re.sub(r"(?<=\.\d\d )[a-z-]+", lambda match: coloured(match[0]), report)
