"""focuschart fit: what the readings are worth, and what to read next."""

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
    found, left_out = solved(bag, rigs, label="Solving")
    charts = list(found)
    left_out += unsure(charts)
    read = any(marks for chart in charts for _, marks in chart.rings().values())
    if read:
        click.echo(_coloured(fit_report(bag, charts)), nl=False)
    finish(bag, left_out, made=read)


def _coloured(report: str) -> str:
    """Colour the verdict behind every mark's figure; click takes it out without a terminal."""
    from focuschart.cli.chart import coloured

    return re.sub(r"(?<=\.\d\d )[a-z-]+", lambda found: coloured(found[0]), report)
