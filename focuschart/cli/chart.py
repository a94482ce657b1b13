"""focuschart chart: the marks as a table or as data."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import click

from focuschart.cli.common import (
    advised,
    finish,
    format_option,
    kit_argument,
    read_swapped,
    rig_option,
    solved,
    swap_options,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from focuschart import Chart

_KEPT_BYTES = 1_000_000
_COLOURS = {"good": "green", "marginal": "yellow", "re-measure": "red"}


@click.command()
@kit_argument
@rig_option
@swap_options
@format_option("A table", data=("json", "csv"))
def chart(
    kit: Path,
    *,
    rigs: tuple[str, ...],
    taking_lens: str | None,
    rings: tuple[str, ...],
    form: str,
) -> None:
    """Print both rings' settings, depth of field and how sure they are."""
    from focuschart.report.charts import text_parts
    from focuschart.report.data import csv_parts, json_parts

    bag, chosen = read_swapped(kit, rigs, taking_lens, rings)
    charts, left_out = solved(bag, chosen, label="Solving")
    if taking_lens or rings:
        charts = advised(bag, charts)
    made: list[str] = []
    named = _named(charts, made)
    if form == "text":
        _print_whole(map(coloured, text_parts(named, units=bag.units)))
    else:
        _print_whole(json_parts(named, left_out) if form == "json" else csv_parts(named))
    finish(bag, left_out, made=bool(made))


def _named(charts: Iterable[Chart], names: list[str]) -> Iterator[Chart]:
    """Yield the charts, and note the rigs of those that came."""
    for one in charts:
        names.append(one.rig.rig_id)
        yield one


def _print_whole(parts: Iterable[str]) -> None:
    """Print parts once the last is made: all or nothing, and a large bag is not kept in memory."""
    from tempfile import SpooledTemporaryFile

    with SpooledTemporaryFile(_KEPT_BYTES, "w+", encoding="utf-8", newline="") as spool:
        for part in parts:
            spool.write(part)
        spool.seek(0)
        while lines := spool.readlines(_KEPT_BYTES // 10):
            click.echo("".join(lines), nl=False)


def coloured(text: str) -> str:
    """Colour the verdicts; click takes the colour out again where there is no terminal."""
    return re.sub(
        rf"\b({'|'.join(_COLOURS)})\b(?=,|$)",
        lambda found: click.style(found[0], fg=_COLOURS[found[0]]),
        text,
        flags=re.MULTILINE,
    )
