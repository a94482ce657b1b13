"""focuschart chart: the marks as a table or as data."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import click

from focuschart.cli.common import kit_argument, read_kit, rig_option, solved

if TYPE_CHECKING:
    from pathlib import Path

_COLOURS = {"good": "green", "marginal": "yellow", "re-measure": "red"}


@click.command()
@kit_argument
@rig_option
@click.option(
    "--format", "form", type=click.Choice(["text", "json", "csv"]), default="text",
    show_default=True, help="A table to read, or the data for other programs.",
)  # fmt: skip
def chart(kit: Path, rigs: tuple[str, ...], form: str) -> None:
    """Print both rings' settings, depth of field and how sure they are."""
    from focuschart.report import as_csv, as_json, as_text

    bag = read_kit(kit, rigs)
    charts = solved(bag, rigs, source=str(kit), label="Solving")
    if form == "text":
        click.echo(coloured(as_text(charts, units=bag.units)), nl=False)
    else:
        click.echo(as_json(charts) if form == "json" else as_csv(charts), nl=False)


def coloured(text: str) -> str:
    """Colour the verdicts; click takes the colour out again where there is no terminal."""
    return re.sub(
        rf"\b({'|'.join(_COLOURS)})\b(?=,|$)",
        lambda found: click.style(found[0], fg=_COLOURS[found[0]]),
        text,
        flags=re.MULTILINE,
    )
